//! `sharp-valve-combination`: a held note whose only valves are well out of tune.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::valves;
use crate::profile::Mechanism;

pub(super) const RULE: Rule = Rule {
    name: "sharp-valve-combination",
    family: Family::Mechanism,
    severity: Severity::Warning,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A held note whose best combination of valves lies well off its pitch.",
        matters: "Valve lengths add up short: the player lips the note down or pulls a slide, which takes a hand and a moment.",
        instead: "Keep such a note short, cover it with a well-tuned neighbour, or name an instrument with more valves in the settings.",
        reads: &["mechanism"],
        sources: &["lengths of valves, reckoned", "R. W. Young (1967)", "cents that weigh: proposal"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let Mechanism::Valves(instrument) = &at.profile.mechanism else { return None };
    if at.played.seconds < *instrument.limits.held_for {
        return None;
    }
    let best = valves::fingering(instrument, at.played.sounding)?; // None is for `no-such-note` to say.
    let (severity, limit) = if best.cents >= *instrument.limits.sharp_warning {
        (Severity::Warning, &instrument.limits.sharp_warning)
    } else if best.cents.abs() >= *instrument.limits.sharp_note {
        (Severity::Note, &instrument.limits.sharp_note)
    } else {
        return None;
    };
    let side = if best.cents > 0.0 { "sharp" } else { "flat" };
    let fingers: Vec<String> = best.valves.iter().map(ToString::to_string).collect();
    let message = format!(
        "{} is {:.0} cents {side} on {} with valves {}, the best for it",
        at.played.sounding,
        best.cents.abs(),
        at.profile.a_title,
        fingers.join("-")
    );
    Some(
        Fault::of(at.index, severity, message)
            .by(best.cents.abs())
            .asked(Measure::Cents(best.cents))
            .limit(Measure::Cents(**limit))
            .on(&limit.ground),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn three_valves_down_are_sharp() {
        check(
            &super::RULE,
            "baritone-horn",
            "
mf A2 E2/2 A2
      ^^^^ E2 is 54 cents sharp on a baritone horn with valves 1-2-3, the best for it
",
        );
    }
}
