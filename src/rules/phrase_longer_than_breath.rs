//! `phrase-longer-than-breath`: notes bound by slurs that last longer than one breath.

use super::{AtLine, Family, Fault, Page, Rule, Scope, wording};
use crate::finding::{Measure, Severity};
use crate::playing::breath::TooLong;

pub(super) const RULE: Rule = Rule {
    name: "phrase-longer-than-breath",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Line(check),
    speaks_for: &["no-room-to-breathe"],
    page: Page {
        finds: "Notes under slurs, without a place to breathe, that ask for more air than a player has. A note where the largest players have the air, or where another plays them too and they can take turns; else a warning.",
        matters: "The player breaks the slur wherever the air gives out, each time in another place.",
        instead: "Open the slur where a breath does least harm, or mark the breath yourself.",
        reads: &["sustain", "breath", "section:air"],
        sources: &[
            "A. Jacobs's air flows (Chicago, 1959/60) after B. Frederiksen, Song and Wind",
            "Fréour, Causse, Cossette, CFA 2010",
            "the curve through them: proposal",
        ],
    },
};

fn check(at: &AtLine<'_>) -> Vec<Fault> {
    at.breath_plan().phrases_too_long.iter().filter_map(|long| of_phrase(at, long)).collect()
}

fn of_phrase(at: &AtLine<'_>, long: &TooLong) -> Option<Fault> {
    let first = at.line.played.get(long.from)?;
    let last = at.line.played.get(long.to)?;
    let instrument = at.desk.instrument_at(at.line, first.onset);
    let message = format!(
        "{} to {}, slurred throughout, lasts {} and takes {:.1} breaths on {}",
        first.sounding,
        last.sounding,
        long.seconds,
        long.needs.get(),
        instrument.a_title
    );
    let partner = at
        .someone_with_the_same(first)
        .filter(|_| at.someone_with_the_same(last).is_some() && at.can_be_staggered(first, long.lasts));
    let weighs = AtLine::want_of_air(long.for_anyone);
    let severity = if partner.is_some() { Severity::Note } else { weighs };
    let fault = Fault::of(long.from, severity, message)
        .by(long.needs.get())
        .asked(Measure::Breaths(long.needs.get()))
        .limit(Measure::Breaths(1.0))
        .on(&instrument.sustain.ground_at(first.sounding));
    let fault = Fault { about: (long.from, long.to), ..fault };
    let places = || {
        let notes = long.least_bad.iter().filter_map(|&after| at.line.played.get(after));
        let said = notes
            .map(|note| format!("the {} at {}", note.sounding, wording::place(at.section.score, note.onset)));
        wording::listed(&said.collect::<Vec<_>>())
    };
    Some(match (partner, long.least_bad.len()) {
        (Some(partner), _) => fault.instead(format!("Stagger the breath with {partner}")),
        (None, 0) => fault.instead("Shorten it, or let a second player take over"),
        (None, 1) => {
            fault.instead(format!("Part the slur after {}: there a breath does least harm", places()))
        }
        (None, _) => fault.instead(format!("Part the slur after {}: there breaths do least harm", places())),
    })
}
