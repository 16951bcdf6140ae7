//! From what `check` knows to the report's own structs.

use std::collections::{BTreeMap, BTreeSet};

use super::contract::{
    At, Counts, Finding, Level, Measure, Move, OctaveMove, Part, PassedOver, Report, Revision,
    SCHEMA_VERSION, Score, SpanTo, Standing, Summary, Tool, Unread, Waived, rounded,
};
use crate::finding;
use crate::music::Sounding;
use crate::rules::{Family, Rule};
use crate::score::PartInfo;

/// All that is known of one checked score.
#[derive(Clone, Copy, Debug)]
pub struct Judged<'a> {
    /// Where it lies, as it was given.
    pub path: &'a str,
    /// Its title.
    pub title: Option<&'a str>,
    /// How many bars it has.
    pub bars: u32,
    /// The desks, in score order.
    pub desks: &'a [Desk<'a>],
    /// The other parts, in score order.
    pub passed_over: &'a [&'a PartInfo],
    /// What was found, each with its fingerprint.
    pub findings: &'a [(finding::Finding, String)],
    /// The moves, where they were sought; none is made until a copy is written.
    pub revision: Option<&'a finding::Revision>,
}

/// What is told of a desk.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'a> {
    /// The part.
    pub part: &'a PartInfo,
    /// [`Profile::name`](crate::profile::Profile::name) of the first instrument.
    pub profile: &'a str,
    /// [`Profile::a_title`](crate::profile::Profile::a_title) of the first instrument.
    pub read_as: &'a str,
    /// [`RecognisedBy::word`](crate::playing::RecognisedBy::word).
    pub recognised_by: &'a str,
    /// Written notes it plays.
    pub notes: u32,
    /// Its lowest note.
    pub lowest: Option<Sounding>,
    /// Its highest note.
    pub highest: Option<Sounding>,
    /// Seconds it sounds, in written order.
    pub seconds: f64,
    /// The share of the score's time it sounds, from 0 to 1.
    pub share: f64,
}

impl Report {
    /// A report on these scores, totals added up.
    pub fn new(scores: Vec<Score>, unread: Vec<Unread>) -> Report {
        let mut summary =
            Summary { scores: count(scores.len()), unread: count(unread.len()), ..Summary::default() };
        for Score { counts, .. } in &scores {
            summary.error += counts.error;
            summary.warning += counts.warning;
            summary.note += counts.note;
            summary.waived += counts.waived;
            summary.accepted += counts.accepted;
            summary.octave_moves += counts.octave_moves;
        }
        Report {
            schema_version: SCHEMA_VERSION,
            tool: Tool { name: "lowbrass".to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() },
            scores,
            unread,
            summary,
        }
    }
}

impl Counts {
    fn count(&mut self, finding: &Finding) {
        let total = match (&finding.waived, finding.severity) {
            (Some(_), _) => &mut self.waived,
            (None, Level::Error) => &mut self.error,
            (None, Level::Warning) => &mut self.warning,
            (None, Level::Note) => &mut self.note,
        };
        *total += 1;
        self.accepted += u32::from(finding.waived.as_ref().is_some_and(Waived::is_accepted));
    }
}

impl Score {
    /// The report's form of a checked score.
    pub fn new(judged: &Judged<'_>) -> Score {
        let parts: BTreeMap<u32, &PartInfo> = judged
            .desks
            .iter()
            .map(|desk| desk.part)
            .chain(judged.passed_over.iter().copied())
            .map(|part| (part.index, part))
            .collect();
        let mut score = Score {
            path: judged.path.to_owned(),
            title: judged.title.map(str::to_owned),
            bars: judged.bars,
            parts: judged.desks.iter().map(Part::of).collect(),
            passed_over: judged.passed_over.iter().map(|part| PassedOver::of(part)).collect(),
            counts: Counts::default(),
            findings: judged
                .findings
                .iter()
                .map(|(finding, fingerprint)| Finding::of(finding, fingerprint, &parts))
                .collect(),
            cautions: cautions(judged.findings),
            revision: judged.revision.map(|revision| Revision {
                path: None,
                moves: revision.moves.iter().map(|made| Move::of(made, &parts)).collect(),
            }),
            picture: None,
        };
        let mut counts = Counts { octave_moves: score.moves_offered(), ..Counts::default() };
        score.findings.iter().for_each(|finding| counts.count(finding));
        score.counts = counts;
        score
    }

    /// Takes in a finding about the whole score that was made after the others.
    pub fn add(&mut self, finding: &finding::Finding, fingerprint: &str) {
        let finding = Finding::of(finding, fingerprint, &BTreeMap::new());
        self.counts.count(&finding);
        self.findings.push(finding);
    }

    /// How many different moves its findings offer, those for a person to look at included.
    fn moves_offered(&self) -> u32 {
        let offered: BTreeSet<_> = self
            .findings
            .iter()
            .filter(|finding| finding.waived.is_none())
            .filter_map(|finding| Some(((&finding.part, &finding.part_name), finding.octave_move.as_ref()?)))
            .filter(|(_, offered)| offered.standing != Standing::Manual)
            .map(|(part, offered)| {
                (
                    part,
                    offered.octaves,
                    offered.from.bar_index,
                    &offered.from.beat,
                    offered.to.bar_index,
                    &offered.to.beat,
                )
            })
            .collect();
        count(offered.len())
    }
}

/// The cautions that belong to the findings that are not let stand, in the order of families.
fn cautions(findings: &[(finding::Finding, String)]) -> Vec<String> {
    let family = |rule: &str| Rule::named(rule).map(|rule| rule.family);
    let speaks = |wanted: &Family| {
        findings.iter().any(|(found, _)| found.waived.is_none() && family(found.rule) == Some(*wanted))
    };
    Family::ALL
        .iter()
        .filter(|family| speaks(family))
        .filter_map(|family| family.caution())
        .map(str::to_owned)
        .collect()
}

impl Part {
    fn of(desk: &Desk<'_>) -> Part {
        Part {
            id: desk.part.id.clone(),
            name: desk.part.name.clone(),
            profile: desk.profile.to_owned(),
            read_as: desk.read_as.to_owned(),
            recognised_by: desk.recognised_by.to_owned(),
            notes: desk.notes,
            lowest: desk.lowest.map(|pitch| pitch.to_string()),
            highest: desk.highest.map(|pitch| pitch.to_string()),
            seconds: desk.seconds,
            share: desk.share,
        }
    }
}

impl Finding {
    /// Whether it is about this part: of several players' parts on one staff, which have its id, the one it names.
    pub(super) fn is_about(&self, id: &str, name: &str) -> bool {
        self.part.as_deref() == Some(id) && self.part_name.as_deref() == Some(name)
    }
}

impl PassedOver {
    fn of(part: &PartInfo) -> PassedOver {
        PassedOver { id: part.id.clone(), name: part.name.clone() }
    }
}

impl Finding {
    fn of(from: &finding::Finding, fingerprint: &str, parts: &BTreeMap<u32, &PartInfo>) -> Finding {
        let part = from.part.and_then(|index| parts.get(&index));
        let worst = &from.worst;
        Finding {
            rule: from.rule.to_owned(),
            severity: from.severity.into(),
            fingerprint: fingerprint.to_owned(),
            part: part.map(|part| part.id.clone()),
            part_name: part.map(|part| part.name.clone()),
            profile: from.profile.clone(),
            bar: from.place.bar.clone(),
            bar_index: from.place.bar_index,
            beat: from.place.beat.to_string(),
            beat_unit: from.place.beat_unit,
            onset: from.place.onset.to_string(),
            staff: u32::from(from.place.staff),
            voice: from.place.voice.clone(),
            line: from.place.line,
            span: SpanTo {
                to_bar: from.span.to.bar.clone(),
                to_bar_index: from.span.to.bar_index,
                to_beat: from.span.to.beat.to_string(),
                to_beat_unit: from.span.to.beat_unit,
                notes: from.span.notes,
                sounds: from.span.sounds,
            },
            worst: At::of(&worst.place),
            written: worst.written.map(|pitch| pitch.to_string()),
            sounding: worst.sounding.map(|pitch| pitch.to_string()),
            midi: worst.sounding.map(Sounding::midi),
            dynamic: worst.dynamic.map(|dynamic| dynamic.to_string()),
            dynamic_bar: worst.marked_in.as_ref().map(|marked| marked.bar.clone()),
            dynamic_bar_index: worst.marked_in.as_ref().map(|marked| marked.bar_index),
            seconds: worst.seconds.map(crate::music::Seconds::get),
            asked: from.asked.as_ref().map(Measure::of),
            limit: from.limit.as_ref().map(Measure::of),
            message: from.message.clone(),
            instead: from.instead.clone(),
            octave_move: from.octave_move.as_ref().map(OctaveMove::of),
            basis: from.ground.basis,
            sources: from.ground.sources.to_vec(),
            pass: from.pass,
            waived: from.waived.as_ref().map(Waived::of),
        }
    }
}

impl At {
    fn of(place: &finding::Place) -> At {
        At {
            bar: place.bar.clone(),
            bar_index: place.bar_index,
            beat: place.beat.to_string(),
            beat_unit: place.beat_unit,
        }
    }
}

impl Measure {
    fn of(measure: &finding::Measure) -> Measure {
        use finding::Measure as From;
        match measure {
            From::Dynamic(dynamic) => Measure::Dynamic(dynamic.to_string()),
            From::Pitch(pitch) => Measure::Pitch(pitch.to_string()),
            From::Seconds(value) => Measure::Seconds(rounded(*value)),
            From::NotesPerSecond(value) => Measure::NotesPerSecond(rounded(*value)),
            From::Semitones(value) => Measure::Semitones(rounded(*value)),
            From::Cents(value) => Measure::Cents(rounded(*value)),
            From::MetresPerSecond(value) => Measure::MetresPerSecond(rounded(*value)),
            From::Breaths(value) => Measure::Breaths(rounded(*value)),
            From::Share(value) => Measure::Share(rounded(*value)),
            From::Count(value) => Measure::Count(*value),
            From::Tempo(value) => Measure::Tempo(rounded(*value)),
            From::Word(word) => Measure::Word(word.clone()),
        }
    }
}

impl OctaveMove {
    fn of(from: &finding::OctaveMove) -> OctaveMove {
        OctaveMove {
            octaves: i32::from(from.octaves),
            sounding: from.sounding.map(|pitch| pitch.to_string()),
            from: At::of(&from.from),
            to: At::of(&from.to),
            notes: count(from.notes.len()),
            standing: from.standing.into(),
            clears: from.clears.iter().map(|&rule| rule.to_owned()).collect(),
            leaves: from.leaves.iter().map(|&rule| rule.to_owned()).collect(),
            why_not_safe: from.why_not_safe.clone(),
            doubling: from.doubling.clone(),
            layout: from.layout.clone(),
        }
    }
}

impl Move {
    fn of(made: &finding::PartMove, parts: &BTreeMap<u32, &PartInfo>) -> Move {
        let part = parts.get(&made.part);
        let before =
            made.octave_move.sounding.map(|to| to.up_octaves(made.octave_move.octaves.saturating_neg()));
        let OctaveMove {
            octaves,
            sounding,
            from,
            to,
            notes,
            standing,
            clears,
            leaves,
            why_not_safe,
            doubling,
            layout,
        } = OctaveMove::of(&made.octave_move);
        Move {
            part: part.map(|part| part.id.clone()).unwrap_or_default(),
            part_name: part.map(|part| part.name.clone()).unwrap_or_default(),
            octaves,
            from,
            to,
            notes,
            standing,
            made: false,
            before: before.map(|pitch| pitch.to_string()),
            sounding,
            clears,
            leaves,
            why_not_safe,
            doubling,
            layout,
        }
    }
}

impl Waived {
    fn of(waived: &finding::Waived) -> Waived {
        let (by, because) = match waived {
            finding::Waived::Settings { because } => ("settings", Some(because.clone())),
            finding::Waived::InScore { text } => ("score", Some(text.clone())),
            finding::Waived::Baseline => ("baseline", None),
        };
        Waived { by: by.to_owned(), because }
    }
}

impl From<finding::Severity> for Level {
    fn from(severity: finding::Severity) -> Level {
        match severity {
            finding::Severity::Note => Level::Note,
            finding::Severity::Warning => Level::Warning,
            finding::Severity::Error => Level::Error,
        }
    }
}

impl From<finding::Standing> for Standing {
    fn from(standing: finding::Standing) -> Standing {
        match standing {
            finding::Standing::Safe => Standing::Safe,
            finding::Standing::Review => Standing::Review,
            finding::Standing::Manual => Standing::Manual,
        }
    }
}

fn count(items: usize) -> u32 {
    u32::try_from(items).unwrap_or(u32::MAX)
}
