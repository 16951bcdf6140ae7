//! `instrument-change-too-quick`: too little rest to put one instrument down and pick up another.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::Desk;
use crate::profile::Profile;
use crate::score::{Line, Struck};

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
    at.desk
        .lines
        .iter()
        .flat_map(|line| changes(at.desk, line).into_iter().filter_map(|change| of_change(at, line, &change)))
        .collect()
}

/// A change of instruments as it is played.
struct Change<'d> {
    /// The note before which the new one is taken up.
    to: usize,
    /// Seconds of rest before it.
    rest: f64,
    old: &'d Profile,
    new: &'d Profile,
}

/// The changes of a line in the order of playing, each with the shortest rest of all times.
fn changes<'d>(desk: &'d Desk<'_>, line: &'d Line) -> Vec<Change<'d>> {
    let held = |struck: &Struck| -> Option<&'d Profile> {
        let played = line.played.get(struck.played)?;
        Some(desk.instrument_on(line, played.onset, struck.pass))
    };
    let mut changes: Vec<Change<'d>> = Vec::new();
    for pair in line.performed.windows(2) {
        let (Some(old), Some(new)) = (held(&pair[0]), held(&pair[1])) else { continue };
        if old.name == new.name {
            continue;
        }
        let rest = (pair[1].start - pair[0].start - pair[0].seconds).get().max(0.0);
        let to = pair[1].played;
        match changes.iter_mut().find(|change| change.to == to) {
            Some(known) if rest < known.rest => *known = Change { to, rest, old, new },
            Some(_) => {}
            None => changes.push(Change { to, rest, old, new }),
        }
    }
    changes.sort_by_key(|change| change.to);
    changes
}

fn of_change(at: &AtDesk<'_>, line: &Line, change: &Change<'_>) -> Option<Finding> {
    let Change { to, rest, old, new } = *change;
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
    let fault = Fault::of(to, severity, message)
        .asked(Measure::Seconds(rest))
        .limit(Measure::Seconds(safe.get()))
        .on(ground);
    engine::finding_about(at.section.score, at.desk, line, &RULE, &[to], to, fault)
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
