//! `note-longer-than-breath`: one note that lasts longer than one breath.

use super::{AtLine, Family, Fault, Page, Rule, Scope, wording};
use crate::finding::{Measure, Severity};
use crate::playing::breath::{Held, TooLong};
use crate::score::{Join, Played};

pub(super) const RULE: Rule = Rule {
    name: "note-longer-than-breath",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Line(check),
    speaks_for: &["phrase-longer-than-breath", "no-room-to-breathe"],
    page: Page {
        finds: "A held note that asks for more air than a player has at that pitch and dynamic. A note where the largest players have the air, or where another holds it too and they can take turns; else a warning.",
        matters: "It breaks off somewhere. Low and loud takes most: players grow dizzy on such notes, and nobody is to be asked to hold one past comfort; a player, teacher or doctor decides, not this figure.",
        instead: "Take the note off sooner, let it fade, or have two players stagger it.",
        reads: &["sustain", "breath", "section:air"],
        sources: &[
            "A. Jacobs's air flows (Chicago, 1959/60) after B. Frederiksen, Song and Wind",
            "Fréour, Causse, Cossette, CFA 2010",
            "the curve through them: proposal",
        ],
    },
};

/// Notes that follow each other without a rest are one remark, about the worst of them.
fn check(at: &AtLine<'_>) -> Vec<Fault> {
    let mut runs: Vec<Vec<(&TooLong, Fault)>> = Vec::new();
    let passage = |note: usize| at.line.passage_of(note);
    let follow =
        |last: &TooLong, next: &TooLong| last.to + 1 == next.from && passage(last.to) == passage(next.from);
    for long in &at.breath_plan().notes_too_long {
        let Some(fault) = of_note(at, long) else { continue };
        match runs.last_mut() {
            Some(run) if run.last().is_some_and(|(last, _)| follow(last, long)) => {
                run.push((long, fault));
            }
            _ => runs.push(vec![(long, fault)]),
        }
    }
    runs.into_iter().filter_map(|run| one_fault(at, run)).collect()
}

fn one_fault(at: &AtLine<'_>, run: Vec<(&TooLong, Fault)>) -> Option<Fault> {
    let (first, last, notes) = (run.first()?.0.from, run.last()?.0.to, run.len());
    let severity = run.iter().map(|(_, fault)| fault.severity).max()?;
    let heaviest = |a: &Fault, b: &Fault| a.severity.cmp(&b.severity).then(a.excess.total_cmp(&b.excess));
    let (_, worst) = run.into_iter().rev().max_by(|(_, a), (_, b)| heaviest(a, b))?;
    if notes == 1 {
        return Some(worst);
    }
    let message = format!("{}; {notes} such notes follow each other", worst.message);
    let instead = if severity > Severity::Note {
        let rest = if at.desk.lines.len() > 1 {
            "Let the players take turns"
        } else {
            "Write rests between them, or let two players take turns"
        };
        Some(rest.to_owned())
    } else {
        worst.instead.clone()
    };
    Some(Fault { severity, message, instead, about: (first, last), ..worst })
}

/// Whether a note stands inside a slur or a glissando, where it cannot be struck again.
fn is_bound(at: &AtLine<'_>, index: usize) -> bool {
    let bound = |note: Option<&Played>| {
        note.is_some_and(|note| note.joins.has(Join::Slur) || note.joins.has(Join::Glissando))
    };
    let before =
        index.checked_sub(1).filter(|&before| at.line.passage_of(before) == at.line.passage_of(index));
    bound(at.line.played.get(index)) || bound(before.and_then(|before| at.line.played.get(before)))
}

fn of_note(at: &AtLine<'_>, long: &TooLong) -> Option<Fault> {
    let played = at.line.played.get(long.from)?;
    let instrument = at.desk.instrument_at(at.line, played.onset);
    let marked = match wording::marked_before(at.section.score, played) {
        Some(bar) if played.dynamic == played.loudest => format!(" (of bar {bar})"),
        _ => String::new(),
    };
    let level = played.loudest.map(|level| format!(" {level}{marked}")).unwrap_or_default();
    let held = match long.fermata {
        Some(Held { usual, long }) => format!("under a fermata is held for {} to {}", usual.0, long.0),
        None => format!("is held for {}", long.seconds),
    };
    let message = format!(
        "{}{level} {held}; on {} one breath lasts {}",
        played.sounding, instrument.a_title, long.lasts
    );
    // Two who run dry at once have no turns to take.
    let partner = at.someone_with_the_same(played).filter(|_| at.can_be_staggered(played, long.lasts));
    // A warning is for what is too long even as fermatas usually are.
    let as_usual = |held: Held| held.usual.1.get() > *at.section.limits.eased;
    let weighs = AtLine::want_of_air(long.fermata.map_or(long.for_anyone, as_usual));
    let severity = if partner.is_some() { Severity::Note } else { weighs };
    let instead = match (partner, long.joints.as_slice()) {
        (Some(partner), _) => format!("Stagger the breath with {partner}"),
        (None, _) if weighs == Severity::Note => "Let it fade a little, or take it off sooner".to_owned(),
        (None, _) if is_bound(at, long.from) => "Let it fade, or let a second player take over".to_owned(),
        (None, [joint]) => {
            let place = wording::place(at.section.score, *joint);
            format!("Re-strike it at {place}, the least bad place to breathe")
        }
        (None, joints @ [_, ..]) => {
            let places = wording::places(at.section.score, joints);
            format!("Re-strike it at {places}, the least bad places to breathe")
        }
        (None, []) => "Take it off sooner, or let a second player take over".to_owned(),
    };
    let fault = Fault::of(long.from, severity, message)
        .by(long.needs.get())
        .asked(Measure::Seconds(long.fermata.map_or(long.seconds, |held| held.long.0).get()))
        .limit(Measure::Seconds(long.lasts.get()))
        .on(&instrument.sustain.ground_at(played.sounding))
        .instead(instead);
    Some(Fault { about: (long.from, long.to), ..fault })
}
