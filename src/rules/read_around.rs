//! `read-around`: something in the file that is not as the standard has it, and what was made of it.

use std::collections::BTreeMap;

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Place, Severity, Span};
use crate::music::Length;
use crate::score::{Oddity, OddityKind, Score};

pub(super) const RULE: Rule = Rule {
    name: "read-around",
    family: Family::Reading,
    severity: Severity::Warning,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "A place where the file is not as the standard has it, and how it was read all the same.",
        matters: "What was left out is not judged, and where a bar is too long or too short the seconds after it may be off.",
        instead: "Open the bar in the score program, repair it and export again.",
        reads: &[],
        sources: &["MusicXML 4.0, W3C Community Group Report, 2021"],
    },
};

/// Kinds of one sort in one part become one finding.
fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    let score = section.score;
    let concerns = |oddity: &Oddity| match oddity.part {
        None => true,
        Some(part) => {
            section.desks.iter().any(|desk| desk.part.info.index == part)
                || section.unrecognised.iter().any(|unknown| unknown.part.index == part)
        }
    };
    let mut groups: BTreeMap<(Option<u32>, &'static str), Vec<&Oddity>> = BTreeMap::new();
    for oddity in &score.oddities {
        if concerns(oddity) {
            groups.entry((oddity.part, sort_of(&oddity.kind))).or_default().push(oddity);
        } else if matches!(oddity.kind, OddityKind::BarOverfull { .. }) {
            // A bar is as long as its longest part: an overfull flute moves everybody's seconds.
            groups.entry((None, "overfull elsewhere")).or_default().push(oddity);
        }
    }
    groups.into_iter().map(|((part, sort), all)| finding(score, part, sort, &all)).collect()
}

fn finding(score: &Score, part: Option<u32>, sort: &str, all: &[&Oddity]) -> Finding {
    let lost = all.iter().any(|oddity| loses_music(&oddity.kind));
    let severity = if lost { Severity::Warning } else { Severity::Note };
    let fault = Fault::of(0, severity, message(score, sort, all));
    let place = |oddity: Option<&&Oddity>| {
        let line = oddity.map_or(0, |oddity| oddity.line);
        let bar = oddity.and_then(|oddity| oddity.bar).unwrap_or(0);
        Place { line, ..Place::at(score, bar, Length::ZERO) }
    };
    let found = engine::finding_at(&RULE, part, place(all.first()), fault);
    Finding { span: Span { to: place(all.last()), notes: 0, sounds: 0 }, ..found }
}

/// Whether notes that stand on the page are not in what is judged, or stand where they were not meant to.
fn loses_music(kind: &OddityKind) -> bool {
    matches!(
        kind,
        OddityKind::NoteWithoutPitch
            | OddityKind::PitchUnusable(_)
            | OddityKind::TransposeInConcertScore
            | OddityKind::PartWithoutId
            | OddityKind::OrderUnusable
    ) || matches!(kind, OddityKind::NumberUnusable { of, .. } if MOVES_MUSIC.contains(of))
}

/// Numbers that move pitches, places or seconds.
const MOVES_MUSIC: &[&str] =
    &["duration", "beats", "beat-type", "per-minute", "tempo of a sound", "chromatic", "octave-change"];

fn sort_of(kind: &OddityKind) -> &'static str {
    match kind {
        OddityKind::BarOverfull { .. } => "overfull",
        OddityKind::BarUnderfull { .. } => "underfull",
        OddityKind::DivisionsMissing => "divisions missing",
        OddityKind::DivisionsUnusable(_) => "divisions unusable",
        OddityKind::NumberUnusable { of, .. } => of,
        OddityKind::BackupTooFar { .. } => "backup",
        OddityKind::NoteWithoutPitch => "no pitch",
        OddityKind::NoteWithoutDuration => "no duration",
        OddityKind::PitchUnusable(_) => "pitch unusable",
        OddityKind::TieLeftOpen { .. } => "tie open",
        OddityKind::TieFromNowhere { .. } => "tie from nowhere",
        OddityKind::PartNotListed { .. } => "part not listed",
        OddityKind::PartWithoutId => "part without id",
        OddityKind::PartWithoutMusic { .. } => "part without music",
        OddityKind::TransposeInConcertScore => "transposed concert score",
        OddityKind::BarCountDiffers { .. } => "bar count",
        OddityKind::OrderUnusable => "order",
        OddityKind::JumpInWords => "jump in words",
    }
}

fn message(score: &Score, sort: &str, all: &[&Oddity]) -> String {
    let bars = bars(score, all);
    let one = bars.len() == 1;
    let verb = |single: &'static str, many: &'static str| if one { single } else { many };
    let at = format!("{} {}", if one { "bar" } else { "bars" }, wording::listed(&bars));
    let times = wording::count(all.len(), "note");
    let Some(first) = all.first() else { return String::new() };
    match &first.kind {
        OddityKind::BarOverfull { .. } if sort == "overfull elsewhere" => {
            format!("{at} {} more than the time signature in parts outside the low brass; all is read and moves what follows", verb("holds", "hold"))
        }
        OddityKind::BarOverfull { by } if one => {
            format!("{at} holds {} more than its time signature; all of it is read", quarters(*by))
        }
        OddityKind::BarOverfull { .. } => format!("{at} hold more than their time signature; all of it is read"),
        OddityKind::BarUnderfull { by } if one => {
            format!("{at} holds {} less than its time signature; the rest is read as silence", quarters(*by))
        }
        OddityKind::BarUnderfull { .. } => {
            format!("{at} hold less than their time signature; the rest is read as silence")
        }
        OddityKind::DivisionsMissing => {
            format!("durations in {at} stand before any divisions; they are read as one to the quarter note")
        }
        OddityKind::DivisionsUnusable(text) => {
            format!("divisions \"{text}\" in {at} are no number above 0; the former ones go on")
        }
        OddityKind::NumberUnusable { of, text, instead } => {
            let more = match all.len() {
                1 => format!("in {at} (line {})", first.line),
                more => format!("and {} more in {at} (from line {})", more - 1, first.line),
            };
            format!("{of} \"{text}\" {more}: no number that can be used; {instead}")
        }
        OddityKind::BackupTooFar { .. } => {
            format!("a backup in {at} leads before the start of the bar; it is held at the start")
        }
        OddityKind::NoteWithoutPitch => {
            format!("{times} in {at} {} neither pitch nor rest; left out", if all.len() == 1 { "has" } else { "have" })
        }
        OddityKind::NoteWithoutDuration => {
            format!("{times} in {at} {} no duration; read as taking no time", if all.len() == 1 { "has" } else { "have" })
        }
        OddityKind::PitchUnusable(text) => {
            format!("{times} in {at} {} no pitch that can be read (\"{text}\"); left out", if all.len() == 1 { "has" } else { "have" })
        }
        OddityKind::TieLeftOpen { pitch } if all.len() == 1 => {
            format!("a tie from {pitch} in {at} leads nowhere; the note ends where it is written")
        }
        OddityKind::TieLeftOpen { .. } => {
            format!("{} in {at} lead nowhere; the notes end where they are written", wording::count(all.len(), "tie"))
        }
        OddityKind::TieFromNowhere { pitch } if all.len() == 1 => {
            format!("a tie to {pitch} in {at} comes from nowhere; the note is read as struck")
        }
        OddityKind::TieFromNowhere { .. } => {
            format!("{} in {at} come from nowhere; the notes are read as struck", wording::count(all.len(), "tie"))
        }
        OddityKind::PartNotListed { id } => {
            format!("part \"{id}\" is not in the part list; it is read without a name")
        }
        OddityKind::PartWithoutId => "a part has no id; it is taken by its place in the part list".to_owned(),
        OddityKind::PartWithoutMusic { .. } => {
            let ids: Vec<String> = all
                .iter()
                .filter_map(|oddity| match &oddity.kind {
                    OddityKind::PartWithoutMusic { id } => Some(format!("\"{id}\"")),
                    _ => None,
                })
                .collect();
            format!("the part list names {}, of which the score holds no music", wording::listed(&ids))
        }
        OddityKind::TransposeInConcertScore => {
            "the score says it is in concert pitch and transposes this part all the same; only octaves are applied"
                .to_owned()
        }
        OddityKind::BarCountDiffers { here, score } => {
            format!("this part has {} and the score {score}", wording::count(*here as usize, "bar"))
        }
        OddityKind::OrderUnusable => {
            "repeats and jumps lead to no end; the score is read straight through".to_owned()
        }
        OddityKind::JumpInWords => {
            format!("{at} {} back in words alone; the words are followed", verb("leads", "lead"))
        }
    }
}

/// Their printed numbers, each once, in order.
fn bars(score: &Score, all: &[&Oddity]) -> Vec<String> {
    let mut indices: Vec<u32> = all.iter().map(|oddity| oddity.bar.unwrap_or(0)).collect();
    indices.sort_unstable();
    indices.dedup();
    indices.iter().filter_map(|&bar| score.bars.get(bar as usize)).map(|bar| bar.number.clone()).collect()
}

fn quarters(length: Length) -> String {
    if length == Length::QUARTER { "1 quarter note".to_owned() } else { format!("{length} quarter notes") }
}
