//! `beyond-usual-register`: a comfortable note beyond the span in which an orchestrator need not think again.

use super::{AtNote, Family, Fault, Page, Rule, Scope, who_has_it};
use crate::finding::{Measure, Severity};
use crate::profile::Zone;

pub(super) const RULE: Rule = Rule {
    name: "beyond-usual-register",
    family: Family::Range,
    severity: Severity::Note,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note that a good player has, beyond the span in which the instrument is usually written.",
        matters: "It is playable, but another instrument of the section often has it more easily or sounds more like what is meant.",
        instead: "Keep it when the colour is meant; otherwise give it to the neighbour who has it in the middle of the compass.",
        reads: &["range.usual"],
        sources: &["common practice", "each span with its own source in the instrument's profile"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let range = &at.profile.range;
    let pitch = at.played.sounding;
    if range.zone_at(pitch)? != Zone::Comfortable {
        return None; // Heavier rules speak there.
    }
    let (lowest, highest) = *range.usual;
    let (side, end, limit) = if pitch > highest {
        ("above", "top", highest)
    } else if pitch < lowest {
        ("below", "bottom", lowest)
    } else {
        return None;
    };
    let instrument = &at.profile.a_title;
    let message = format!("{pitch} is {side} the usual register of {instrument}, whose {end} is {limit}");
    let semitones = pitch.height().semitones_above(limit.height()).abs();
    let fault = Fault::of(at.index, Severity::Note, message)
        .by(semitones)
        .asked(Measure::Pitch(pitch))
        .limit(Measure::Pitch(limit))
        .on(&range.usual.ground);
    Some(fault.or_else_by(who_has_it(at.profile, pitch)))
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn the_neighbour_who_usually_takes_it_is_named() {
        check(
            &super::RULE,
            "cimbasso-f",
            "
f F2 C3 F2
     ^^ C3 is above the usual register of a cimbasso in F, whose top is Bb2
",
        );
    }
}
