//! `no-such-note`: a note within the compass that no slide position or valve gives.

use super::{AtNote, Family, Fault, Page, Rule, Scope, who_has_it};
use crate::finding::{Measure, Severity};
use crate::playing::{slide, valves};
use crate::profile::Mechanism;

pub(super) const RULE: Rule = Rule {
    name: "no-such-note",
    family: Family::Range,
    severity: Severity::Error,
    scope: Scope::Note(check),
    speaks_for: &[
        "extreme-register",
        "effect-register",
        "beyond-usual-register",
        "hit-too-low",
        "too-loud-for-register",
        "too-soft-for-register",
        "too-fast-for-register",
        "sharp-valve-combination",
        "too-many-ledger-lines",
        "note-longer-than-breath",
        "leap-too-wide-at-speed",
        "slide-travel-too-fast",
        "interval-too-low",
        "loud-low-note-alone",
        "voices-crossed",
    ],
    page: Page {
        finds: "A note within the compass that no slide position or combination of valves gives.",
        matters: "Above the pedals most instruments have a gap: the player lips a neighbour note and hopes, or leaves it out.",
        instead: "Move the passage up an octave, or give it to an instrument with another valve and say so in the settings.",
        reads: &["mechanism"],
        sources: &[
            "lengths of slide and valves, reckoned",
            "R. W. Young (1967) on valve combinations",
            "trombone positions after K. Kennan, 1952",
        ],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let pitch = at.played.sounding;
    at.profile.range.zone_at(pitch)?; // None is for `out-of-range` to say.
    let (missing, ground) = match &at.profile.mechanism {
        Mechanism::Slide(instrument) if !slide::playable(instrument, pitch) => {
            ("slide position", &instrument.ground)
        }
        Mechanism::Valves(instrument) if valves::fingering(instrument, pitch).is_none() => {
            ("combination of valves", &instrument.ground)
        }
        _ => return None,
    };
    let message = format!("{pitch} lies in a gap of {}: no {missing} gives it", at.profile.a_title);
    Some(
        Fault::of(at.index, Severity::Error, message)
            .asked(Measure::Pitch(pitch))
            .on(ground)
            .or_else_by(who_has_it(at.profile, pitch)),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_trombone_with_one_valve_has_no_low_b() {
        check(
            &super::RULE,
            "tenor-bass-trombone",
            "
mf F2 B1 F2
      ^^ B1 lies in a gap of a tenor trombone with F valve: no slide position gives it
",
        );
    }
}
