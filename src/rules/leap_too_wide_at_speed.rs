//! `leap-too-wide-at-speed`: a leap wider than the lip resets in the time there is.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::agility;

pub(super) const RULE: Rule = Rule {
    name: "leap-too-wide-at-speed",
    family: Family::Agility,
    severity: Severity::Warning,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A leap to the next note that is wider than the lip resets in the time there is.",
        matters: "Lip and air are set anew for each register; at speed the far note splits or comes late.",
        instead: "Keep the figure within an octave, share it between two players, or give it more time.",
        reads: &["agility.leaps"],
        sources: &["widths and times: proposal"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let leap = agility::leap(at.line, at.index, at.profile)?;
    let next = at.line.played.get(at.index + 1)?;
    let message = format!(
        "{} to {} is a leap of {:.0} semitones in {:.2} s; so fast {} takes {:.0} at most",
        at.played.sounding,
        next.sounding,
        leap.semitones,
        leap.seconds.get(),
        at.profile.a_title,
        leap.widest
    );
    let fault = Fault::of(at.index, Severity::Warning, message)
        .by(leap.semitones / *leap.widest)
        .asked(Measure::Semitones(leap.semitones))
        .limit(Measure::Semitones(*leap.widest))
        .on(&leap.widest.ground);
    Some(Fault { about: (at.index, at.index + 1), ..fault })
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_tenth_in_sixteenths_is_too_wide() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
=120 mf F1/1/4 A2 F1/1
        ^^^^^^^^^^^^^^ F1 to A2 is a leap of 16 semitones in 0.12 s; so fast a contrabass tuba in C takes 12 at most
",
        );
    }
}
