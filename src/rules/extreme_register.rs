//! `extreme-register`: a note that only a player who is ready for it brings off.

use super::{AtNote, Family, Fault, Page, Rule, Scope, who_has_it};
use crate::finding::{Measure, Severity};
use crate::profile::Zone;

pub(super) const RULE: Rule = Rule {
    name: "extreme-register",
    family: Family::Range,
    severity: Severity::Warning,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note within the compass, but so high or low that only a player who is ready for it brings it off.",
        matters: "It costs lip and rehearsal time, it may crack, and it tires the player for what follows.",
        instead: "Move the passage by an octave, or let the player know ahead; where another instrument is at hand, name it in the settings.",
        reads: &["range.rows", "range.top"],
        sources: &["each zone with its own source in the instrument's profile"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let range = &at.profile.range;
    let pitch = at.played.sounding;
    let zone = range.zone_at(pitch)?; // None is for `out-of-range` to say.
    let (side, limit) = match zone {
        Zone::ExtremeLow => ("low", range.rows.iter().find(|row| row.from > pitch)?.from),
        Zone::ExtremeHigh => ("high", range.rows.iter().find(|row| row.zone == Zone::ExtremeHigh)?.from),
        Zone::Effect | Zone::Comfortable => return None,
    };
    let instrument = &at.profile.a_title;
    let message = if zone == Zone::ExtremeLow {
        format!(
            "{pitch} is in the extreme {side} register of {instrument}, which is comfortable from {limit} up"
        )
    } else {
        let begins = if pitch == limit { "there".to_owned() } else { format!("at {limit}") };
        format!("{pitch} is in the extreme {side} register of {instrument}, which begins {begins}")
    };
    let semitones = pitch.height().semitones_above(limit.height()).abs();
    Some(
        Fault::of(at.index, Severity::Warning, message)
            .by(semitones)
            .asked(Measure::Pitch(pitch))
            .limit(Measure::Pitch(limit))
            .on(&range.row_at(pitch)?.ground)
            .or_else_by(who_has_it(at.profile, pitch)),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn neighbours_in_one_register_are_one_finding() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
f G3 Eb4 E4 C4
     ^^^^^^ E4 is in the extreme high register of a contrabass tuba in C, which begins at Eb4
",
        );
    }
}
