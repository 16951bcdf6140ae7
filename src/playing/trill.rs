//! Trills and tremolos between two notes: what lip, slide and valves give.
//!
//! A trombone trills with the lip, between neighbouring partials of one slide position; what the page asks must lie on such a
//! pair. Valves trill any step.

use super::partials::natural;
use super::slide::{SlidePlace, places};
use crate::music::{Alter, Sounding, Step, Written};
use crate::profile::{Mechanism, Profile, Slide};

/// The note with which a written one is trilled: the next step of the scale as the key (in sharps, below
/// nothing flats) has it, or as an accidental beside the sign alters it.
pub fn step_above(written: Written, fifths: i8, alter: Option<i8>) -> Written {
    const STEPS: [Step; 7] = [Step::C, Step::D, Step::E, Step::F, Step::G, Step::A, Step::B];
    /// The steps in the order in which keys sharpen them; flats come from the other end.
    const SHARPENED: [Step; 7] = [Step::F, Step::C, Step::G, Step::D, Step::A, Step::E, Step::B];
    let own = STEPS.iter().position(|step| *step == written.step()).unwrap_or(0);
    let (step, octave) = (STEPS[(own + 1) % 7], written.octave() + i8::from(own == 6));
    let rank = SHARPENED.iter().position(|other| *other == step).unwrap_or(0) as i8;
    let in_key = i8::from(fifths > rank) - i8::from(-fifths > 6 - rank);
    let alter = Alter::cents(i16::from(alter.unwrap_or(in_key)) * 100);
    Written::new(step, alter, octave)
}

/// Whether an instrument can go to and fro between two pitches quickly: with valves or keys always, with a slide where both
/// lie on neighbouring partials of one position (or on one that a lip bends them to).
pub fn alternates(profile: &Profile, one: Sounding, other: Sounding) -> bool {
    match &profile.mechanism {
        Mechanism::Slide(slide) => lip_trill(slide, one.min(other), one.max(other)),
        Mechanism::Valves(_) | Mechanism::Keys { .. } => true,
    }
}

fn lip_trill(slide: &Slide, lower: Sounding, upper: Sounding) -> bool {
    let (below, above) = (places(slide, lower), places(slide, upper));
    // Positions count whole: the seventh partial is a third of a semitone flat, and is trilled all the same.
    let position = |place: &SlidePlace| place.position.round() as i32;
    let pair = |low: &SlidePlace, high: &SlidePlace| {
        low.attachment == high.attachment
            && high.partial == low.partial + 1
            && position(low) == position(high)
    };
    below.iter().any(|low| above.iter().any(|high| pair(low, high)))
}

/// Semitones from the partial that gives a pitch in the fewest metres of slide up to the next.
pub fn to_the_next_partial(slide: &Slide, pitch: Sounding) -> Option<f64> {
    let place = places(slide, pitch).into_iter().min_by(|a, b| a.metres.total_cmp(&b.metres))?;
    Some(natural(place.partial + 1) - natural(place.partial))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{instrument, pitch};

    #[test]
    fn the_note_above_is_that_of_the_key_or_of_the_accidental() {
        let above = |note: &str, fifths, alter| step_above(note.parse().unwrap(), fifths, alter).to_string();
        for (note, fifths, alter, upper) in [
            ("F3", 0, None, "G3"),
            ("E3", 0, None, "F3"),
            ("E3", 1, None, "F#3"),
            ("B2", 0, None, "C3"),
            ("A2", -1, None, "Bb2"),
            ("A2", 0, None, "B2"),
            ("A2", 0, Some(-1), "Bb2"),
            ("D3", -2, None, "Eb3"),
            ("D3", -2, Some(0), "E3"),
            ("Bb4", -2, None, "C5"),
            ("C3", 7, None, "D#3"),
        ] {
            assert_eq!(above(note, fifths, alter), upper, "{note} {fifths} {alter:?}");
        }
    }

    #[test]
    fn the_lip_trills_where_partials_are_a_tone_apart() {
        // Bb trombone, in 1st position: Ab4 or Bb4 with the note above (partials 7-8, 8-9); the lowest tone D4 in 7th position.
        // Below, partials lie a third and more apart (composerarranger.wordpress.com, 2013; ininet.org on lip trills; reckoned).
        let tenor = instrument("tenor-trombone");
        let trills = |low: &str, high: &str| alternates(&tenor, pitch(low), pitch(high));
        for (low, high, possible) in [
            ("Bb4", "C5", true),
            ("Ab4", "Bb4", true),
            ("D4", "E4", true),
            ("F3", "G3", false),
            ("Bb2", "C3", false),
            ("C4", "D4", false),
            ("A4", "Bb4", false),
            // The shake on a third.
            ("Bb3", "D4", true),
            ("D4", "F4", true),
        ] {
            assert_eq!(trills(low, high), possible, "{low} {high}");
        }
        let tuba = instrument("contrabass-tuba-c");
        assert!(alternates(&tuba, pitch("D3"), pitch("E3")) && alternates(&tuba, pitch("A1"), pitch("B1")));
    }
}
