//! `no-room-to-breathe`: rests too short to take in what the next notes ask for.

use super::{AtLine, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::breath::Shortfall;

pub(super) const RULE: Rule = Rule {
    name: "no-room-to-breathe",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Line(check),
    speaks_for: &[],
    page: Page {
        finds: "Notes that fit one breath each, with too little time between them to take it. A note where the largest players come through, else a warning.",
        matters: "Each short gasp brings less than the last phrase took: after a few the player runs dry.",
        instead: "Lengthen the rest, shorten the note before it, or let two players take turns.",
        reads: &["sustain", "breath", "section:air"],
        sources: &[
            "G. J. Tammeling (1961) on forced inspiration",
            "A. Jacobs's air flows (Chicago, 1959/60) after B. Frederiksen, Song and Wind",
            "the curve through them: proposal",
        ],
    },
};

fn check(at: &AtLine<'_>) -> Vec<Fault> {
    at.breath_plan().shortfalls.iter().filter_map(|short| of_shortfall(at, short)).collect()
}

fn of_shortfall(at: &AtLine<'_>, short: &Shortfall) -> Option<Fault> {
    let first = at.line.played.get(short.from)?;
    let instrument = at.desk.instrument_at(at.line, first.onset);
    let message = format!(
        "{:.1} s to breathe before {} fill the lungs to {}; up to the next breath {} takes {}",
        short.room.get(),
        first.sounding,
        short.has,
        instrument.a_title,
        short.needs
    );
    let fault = Fault::of(short.from, AtLine::want_of_air(short.for_anyone), message)
        .by(short.needs.get() - short.has.get())
        .asked(Measure::Breaths(short.needs.get()))
        .limit(Measure::Breaths(short.has.get()))
        .on(&instrument.sustain.ground_at(first.sounding));
    Some(Fault { about: (short.from, short.to), pass: Some(short.pass), ..fault })
}
