//! `instrument-change-too-quick`: too little rest to put one instrument down and pick up another.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::InstrumentInHand;
use crate::profile::Profile;
use crate::score::Line;

pub(super) const RULE: Rule = Rule {
    name: "instrument-change-too-quick",
    family: Family::Changes,
    severity: Severity::Error,
    scope: Scope::Desk(check),
    speaks_for: &[],
    page: Page {
        finds: "Too little rest to put one instrument down and pick up another.",
        matters: "A tuba needs a place to stand and a cold instrument plays flat; a change in a hurry is heard, and it leaves dents.",
        instead: "Move the change to a longer rest, stay on one instrument, or share the two between players.",
        reads: &["changes.pick_up", "section:changes.least"],
        sources: &["seconds for each instrument: proposal; no figures for low brass were found"],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    let changes =
        || at.desk.instruments.windows(2).filter(|pair| pair[0].profile.name != pair[1].profile.name);
    at.desk
        .lines
        .iter()
        .flat_map(|line| changes().filter_map(move |pair| of_change(at, line, &pair[0].profile, &pair[1])))
        .collect()
}

fn of_change(at: &AtDesk<'_>, line: &Line, old: &Profile, change: &InstrumentInHand) -> Option<Finding> {
    let after = line.played.partition_point(|played| played.onset < change.from);
    let (held, next) = (line.played.get(after.checked_sub(1)?)?, line.played.get(after)?);
    let rest = (next.start.get() - held.start.get() - held.seconds.get()).max(0.0);
    let new = &change.profile;
    // Between families the slower of the two counts: both instruments have to find a place.
    let (warning, error) = if new.family == old.family || new.changes.pick_up.0 >= old.changes.pick_up.0 {
        new.changes.pick_up
    } else {
        old.changes.pick_up
    };
    let severity = if rest < error.get() {
        Severity::Error
    } else if rest < warning.get() {
        Severity::Warning
    } else {
        return None;
    };
    let message = format!(
        "{rest:.1} s of rest to change from {} to {}; it takes {:.0} s to be safe",
        old.a_title,
        new.a_title,
        warning.get()
    );
    let fault = Fault::of(after, severity, message)
        .asked(Measure::Seconds(rest))
        .limit(Measure::Seconds(warning.get()));
    engine::finding_about(at.section.score, at.desk, line, &RULE, &[after], after, fault)
}
