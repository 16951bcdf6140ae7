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
    let of_line = |line| {
        at.desk
            .hand_of(line)
            .windows(2)
            .filter_map(move |pair| of_change(at, line, &pair[0].profile, &pair[1]))
    };
    at.desk.lines.iter().flat_map(of_line).collect()
}

fn of_change(at: &AtDesk<'_>, line: &Line, old: &Profile, change: &InstrumentInHand) -> Option<Finding> {
    let after = line.played.partition_point(|played| played.onset < change.from);
    let (held, next) = (line.played.get(after.checked_sub(1)?)?, line.played.get(after)?);
    let rest = (next.start.get() - held.start.get() - held.seconds.get()).max(0.0);
    let new = &change.profile;
    // Between families the slower of the two counts: both instruments have to find a place.
    let pick_up = if new.family == old.family || new.changes.pick_up.0 >= old.changes.pick_up.0 {
        &new.changes.pick_up
    } else {
        &old.changes.pick_up
    };
    let (safe, least) = **pick_up;
    let none = &at.section.limits.change_none;
    let (severity, ground) = if rest < none.get() {
        (Severity::Error, &none.ground)
    } else if rest < least.get() {
        (Severity::Warning, &pick_up.ground)
    } else if rest < safe.get() {
        (Severity::Note, &pick_up.ground)
    } else {
        return None;
    };
    let message = format!(
        "{rest:.1} s of rest to change from {} to {}; it takes {:.0} s to be safe",
        old.a_title,
        new.a_title,
        safe.get()
    );
    let fault = Fault::of(after, severity, message)
        .asked(Measure::Seconds(rest))
        .limit(Measure::Seconds(safe.get()))
        .on(ground);
    engine::finding_about(at.section.score, at.desk, line, &RULE, &[after], after, fault)
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::scene;

    /// Both ask which instrument is in hand: what one stays on the other judges by.
    #[test]
    fn an_instrument_within_reach_is_taken_up_only_where_there_is_time_for_it() {
        let played = |rest: &str| {
            scene("contrabass-tuba-c", &format!("=60 mf D1/4 E1 {rest} E4/4 F4")).also("bass-tuba-f")
        };
        played("r/1/2").draws("half a second", &["extreme-register w"]);
        played("r/14").draws("14 s", &[]);
    }
}
