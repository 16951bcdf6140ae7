//! `trill-not-playable`: a trill that the slide does not give.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::trill;
use crate::profile::Mechanism;
use crate::score::Ornament;

pub(super) const RULE: Rule = Rule {
    name: "trill-not-playable",
    family: Family::Technique,
    severity: Severity::Note,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A trill on a slide instrument between two notes that do not lie on neighbouring partials of one position.",
        matters: "A trombone trills with the lip, from one partial to the next: whole tones high up, thirds below, semitones nowhere. Elsewhere the slide or the valve has to shake, and it is slow.",
        instead: "Move the trill up to where the partials lie a tone apart, give it to a valved instrument, or write a tremolo of the tongue.",
        reads: &["mechanism"],
        sources: &[
            "composerarranger.wordpress.com, 2013, and ininet.org on lip trills",
            "composerstubaguide.blog on lip and valve trills",
            "distances of partials, reckoned",
        ],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let Some(Ornament::Trill { alter }) = at.played.ornament else { return None };
    let Mechanism::Slide(slide) = &at.profile.mechanism else { return None };
    let keys = &at.desk.part.keys;
    let fifths = keys.iter().rev().find(|key| key.at <= at.played.onset).map_or(0, |key| key.fifths);
    let staff = at.desk.first_note(at.played).staff;
    let transposition = at.desk.part.transposition_at(at.played.onset, staff);
    let lower = at.played.sounding;
    let upper = transposition.sound(trill::step_above(at.played.written, fifths, alter));
    let semitones = upper.height().semitones_above(lower.height());
    if trill::alternates(at.profile, lower, upper) {
        return None;
    }
    // A note that is not there has no trill either: `no-such-note` says so.
    let apart = trill::to_the_next_partial(slide, lower)?;
    let message = format!(
        "{lower} is trilled with {upper}; on {} the next partial there lies {apart:.0} semitones above",
        at.profile.a_title
    );
    let fault = Fault::of(at.index, Severity::Note, message).by((apart - semitones).abs());
    Some(fault.asked(Measure::Semitones(semitones)).limit(Measure::Semitones(apart)))
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::{check, scene};

    #[test]
    fn a_tone_on_the_third_partial_is_no_lip_trill() {
        // From the third partial to the fourth is a fourth; from the eighth to the ninth a tone (reckoned; lip trills as
        // composerarranger.wordpress.com has them, 2013).
        check(
            &super::RULE,
            "tenor-trombone",
            "
mf F3/2t Bb4t
   ^^^^^ F3 is trilled with G3; on a tenor trombone without a valve the next partial there lies 5 semitones above
",
        );
    }

    #[test]
    fn valves_trill_everywhere() {
        let found = scene("contrabass-tuba-c", "mf D3/2t").findings();
        assert!(found.iter().all(|finding| finding.rule != "trill-not-playable"));
    }
}
