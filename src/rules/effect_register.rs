//! `effect-register`: a note so low that it is an effect, in a score that does not ask for one.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::music::Onset;
use crate::profile::Zone;
use crate::score::Asks;

pub(super) const RULE: Rule = Rule {
    name: "effect-register",
    family: Family::Range,
    severity: Severity::Warning,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note in the pedal or sub-register, where no word in the score asks for an effect.",
        matters: "So low a note rattles more than it sounds: no chord stands on it, and it may not speak in time.",
        instead: "Move the passage up an octave; where the effect is meant, write \"effect\" or \"pedal\" at the note.",
        reads: &["range.rows"],
        sources: &["common practice", "each zone with its own source in the instrument's profile"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let range = &at.profile.range;
    let pitch = at.played.sounding;
    if range.zone_at(pitch)? != Zone::Effect || is_asked_for(at) {
        return None;
    }
    let everyday = range.rows.iter().find(|row| row.from > pitch && row.zone != Zone::Effect)?.from;
    let instrument = &at.profile.a_title;
    let message = format!("{pitch} is an effect on {instrument}, whose ordinary notes begin at {everyday}");
    let semitones = everyday.height().semitones_above(pitch.height());
    Some(
        Fault::of(at.index, Severity::Warning, message)
            .by(semitones)
            .asked(Measure::Pitch(pitch))
            .limit(Measure::Pitch(everyday))
            .on(&range.row_at(pitch)?.ground),
    )
}

/// The words stand at the note, or before it in its passage or in the rest that leads to it.
fn is_asked_for(at: &AtNote<'_>) -> bool {
    let passage = at.line.passage_of(at.index);
    let since = passage
        .checked_sub(1)
        .and_then(|before| at.line.passages.get(before))
        .and_then(|before| at.line.played.get(before.end.checked_sub(1)?))
        .map_or(Onset::START, |last| last.end);
    let staff = at.desk.first_note(at.played).staff;
    at.desk.part.directions.iter().any(|direction| {
        direction.asks == Asks::Effect
            && direction.onset >= since
            && direction.onset < at.played.end
            && direction.staff.is_none_or(|its| its == staff)
    })
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_pedal_nobody_asked_for_is_an_effect() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
p G1/2 C1 Bb0 | G1
       ^^^^^^ Bb0 is an effect on a contrabass tuba in C, whose ordinary notes begin at D1
",
        );
    }
}
