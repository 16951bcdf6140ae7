//! `out-of-range`: a note that lies outside the compass of its instrument.

use super::{AtNote, Family, Fault, Page, Rule, Scope, who_has_it};
use crate::finding::{Measure, Severity};

pub(super) const RULE: Rule = Rule {
    name: "out-of-range",
    family: Family::Range,
    severity: Severity::Error,
    scope: Scope::Note(check),
    speaks_for: &[
        "too-loud-for-register",
        "too-soft-for-register",
        "hit-too-low",
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
        finds: "A note that lies outside the compass of its instrument.",
        matters: "The player cannot play it: it is left out, or put into another octave at the stand, differently by each player.",
        instead: "Move the passage by octaves, give it to another instrument, or name the larger or smaller instrument in the settings if one is there.",
        reads: &["range.rows", "range.top"],
        sources: &["each compass with its own source in the instrument's profile"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let range = &at.profile.range;
    let pitch = at.played.sounding;
    if range.zone_at(pitch).is_some() {
        return None;
    }
    let (side, end, limit) =
        if pitch > *range.top { ("above", "top", *range.top) } else { ("below", "bottom", range.bottom()) };
    let instrument = &at.profile.a_title;
    let message = format!("{pitch} lies {side} the compass of {instrument}, whose {end} note is {limit}");
    let semitones = pitch.height().semitones_above(limit.height()).abs();
    Some(
        Fault::of(at.index, Severity::Error, message)
            .by(semitones)
            .asked(Measure::Pitch(pitch))
            .limit(Measure::Pitch(limit))
            .on(range.end_ground(pitch))
            .or_else_by(who_has_it(at.profile, pitch)),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_note_below_the_compass_is_named_with_the_lowest_one() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
mp C2 F0 F2
      ^^ F0 lies below the compass of a contrabass tuba in C, whose bottom note is G0
",
        );
    }
}
