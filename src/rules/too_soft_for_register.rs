//! `too-soft-for-register`: a note marked softer than it speaks reliably in that register.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};

pub(super) const RULE: Rule = Rule {
    name: "too-soft-for-register",
    family: Family::Loudness,
    severity: Severity::Note,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note that begins softer than it speaks reliably in that register. Never more than a note: brass plays softly over the whole compass, and a player who is warned helps himself. A mark below ppp asks for as soft as can be, not for less.",
        matters: "Very high and pedal notes need some force before the lip locks in; softer, they come late, crack or stay away.",
        instead: "Mark it a step or two louder, move it towards the middle of the compass, or let a softer instrument have it.",
        reads: &["loudness.rows", "section:loudness"],
        sources: &[
            "HAL 04281802 (2023) on pedal regimes",
            "floors by register and steps that weigh: proposal",
        ],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    // The floor is about the start of the note: once it sounds, a player can let it fade below.
    let begins = at.played.attack.or(at.played.dynamic)?;
    let floor = &at.profile.loudness.at(at.played.sounding)?.floor;
    let limits = at.section.limits.loudness_steps.value;
    // A mark below the scale asks for as soft as can be.
    let steps = floor.steps_above(begins.max(at.section.limits.softest));
    if steps < limits.note {
        return None;
    }
    let pitch = at.played.sounding;
    let message =
        format!("{pitch} begins {begins}; {} speaks reliably there from {floor} up", at.profile.a_title);
    Some(
        Fault::of(at.index, Severity::Note, message)
            .by(f64::from(steps))
            .asked(Measure::Dynamic(begins))
            .limit(Measure::Dynamic(**floor))
            .on(&floor.ground),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_soft_start_low_on_a_trombone_may_not_speak() {
        check(
            &super::RULE,
            "bass-trombone",
            "
ppp F2/2 Bb1
         ^^^ Bb1 begins ppp; a bass trombone speaks reliably there from pp up
",
        );
    }
}
