//! `everyone-breathes-at-once`: held notes on which all who sound run out of air together.

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::Section;
use crate::playing::breath::{self, AllBreathe};

pub(super) const RULE: Rule = Rule {
    name: "everyone-breathes-at-once",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "Held notes longer than a breath in every part that sounds, so that nobody covers another's breath.",
        matters: "All breathe in the same place, and the chord has a hole there.",
        instead: "Let one part enter later or leave sooner, mark staggered breaths, or let another section carry the chord over.",
        reads: &["sustain", "breath"],
        sources: &["common practice", "when it counts: proposal"],
    },
};

fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    breath::all_breathe(section, at.plans).iter().filter_map(|all| finding(section, all)).collect()
}

fn finding(section: &Section<'_>, all: &AllBreathe) -> Option<Finding> {
    let &(desk, line, played) = all.holds.first()?;
    let desk = section.desks.get(desk)?;
    let line = desk.lines.get(line)?;
    let mut names: Vec<String> = all
        .holds
        .iter()
        .filter_map(|(desk, ..)| section.desks.get(*desk))
        .map(|desk| desk.part.info.name.clone())
        .collect();
    names.dedup();
    let seconds = section.score.tempo.at(all.to) - section.score.tempo.at(all.from);
    let message = format!(
        "{} hold together for {seconds}, longer than anyone's breath, and nothing else sounds",
        match names.as_slice() {
            [one] => format!("the players of {one}"),
            several => wording::listed(several),
        }
    );
    let fault = Fault::of(played, Severity::Warning, message).asked(Measure::Seconds(seconds.get()));
    engine::finding_about(section.score, desk, line, &RULE, &[played], played, fault)
}
