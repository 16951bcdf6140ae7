//! Transposition: the only bridge from a written to a sounding pitch, and back.

use super::pitch::{Alter, Pitch, Sounding, Step, Written};

/// How far a part sounds from where it is written (`MusicXML` `transpose`): sounding = written +
/// chromatic + 12 × octaves. `diatonic` only chooses the spelling.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Transposition {
    /// Steps of the staff, for the spelling; `None` where the score does not say.
    pub diatonic: Option<i32>,
    /// Cents (the element `chromatic`, in semitones, times 100).
    pub chromatic_cents: i32,
    /// Whole octaves (`octave-change`).
    pub octaves: i32,
    /// A second voice an octave away (`double`).
    pub double: Option<Doubling>,
}

/// Where the octave doubling of a part sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubling {
    /// An octave below (`double` as the standard has it by default).
    Below,
    /// An octave above (`above="yes"`).
    Above,
}

impl Transposition {
    /// Sounding as written.
    pub const CONCERT: Transposition =
        Transposition { diatonic: None, chromatic_cents: 0, octaves: 0, double: None };

    /// Semitones from written up to sounding (negative: sounds lower), octaves included.
    pub fn semitones(self) -> f64 {
        f64::from(self.chromatic_cents) / 100.0 + 12.0 * f64::from(self.octaves)
    }

    /// What a written note sounds.
    pub fn sound(self, written: Written) -> Sounding {
        self.shift(written.pitch(), 1).into()
    }

    /// How a sounding note is written.
    pub fn write(self, sounding: Sounding) -> Written {
        self.shift(sounding.pitch(), -1).into()
    }

    fn shift(self, from: Pitch, sign: i32) -> Pitch {
        let target = from.height().in_cents() + sign * (self.chromatic_cents + 1200 * self.octaves);
        if self.chromatic_cents == 0 && self.diatonic.unwrap_or(0) == 0 {
            let octave = i32::from(from.octave) + sign * self.octaves;
            return Pitch { octave: clamp_octave(octave), ..from };
        }
        let steps =
            sign * (self.diatonic.unwrap_or_else(|| usual_steps(self.chromatic_cents)) + 7 * self.octaves);
        let place = i32::from(from.octave) * 7 + from.step as i32 + steps;
        let spelled = spell(place, target);
        // A spelling with more than a double sign is no use to a reader: take the nearest plain one.
        if spelled.alter.in_cents().abs() <= 200 { spelled } else { plain(target) }
    }
}

fn clamp_octave(octave: i32) -> i8 {
    i8::try_from(octave.clamp(-100, 100)).unwrap_or(0)
}

fn spell(place: i32, target_cents: i32) -> Pitch {
    let step = Step::ALL[usize::try_from(place.rem_euclid(7)).unwrap_or(0)];
    let octave = clamp_octave(place.div_euclid(7));
    let natural = Pitch { step, alter: Alter::NATURAL, octave };
    let alter = (target_cents - natural.height().in_cents()).clamp(-30_000, 30_000);
    Pitch { alter: Alter::cents(i16::try_from(alter).unwrap_or(0)), ..natural }
}

/// The spelling a brass player expects where the score gives none: flats, but F sharp.
fn plain(target_cents: i32) -> Pitch {
    let semitone = target_cents.div_euclid(100);
    let places = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
    let within = usize::try_from(semitone.rem_euclid(12)).unwrap_or(0);
    spell(7 * (semitone.div_euclid(12) - 1) + places[within], target_cents)
}

/// The staff steps that usually go with an interval of so many cents.
fn usual_steps(cents: i32) -> i32 {
    let steps = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
    let semitones = (f64::from(cents.abs()) / 100.0).round() as i32;
    let within = usize::try_from(semitones % 12).unwrap_or(0);
    cents.signum() * (7 * (semitones / 12) + steps[within])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn transposed(written: &str, diatonic: i32, chromatic: i32, octaves: i32) -> String {
        let transposition = Transposition {
            diatonic: Some(diatonic),
            chromatic_cents: chromatic * 100,
            octaves,
            double: None,
        };
        let written: Written = written.parse().unwrap();
        let sounding = transposition.sound(written);
        assert_eq!(transposition.write(sounding), written);
        sounding.to_string()
    }

    #[test]
    fn brass_band_basses_sound_where_the_handbook_says() {
        // British brass band, treble clef: E-flat bass +21 semitones, B-flat bass +26 (J. Newbiggin on brass-band scoring).
        assert_eq!(transposed("C4", -5, -9, -1), "Eb2");
        assert_eq!(transposed("C4", -1, -2, -2), "Bb1");
        // B-flat euphonium in treble clef: a major ninth.
        assert_eq!(transposed("D4", -1, -2, -1), "C3");
    }

    #[test]
    fn an_octave_change_alone_keeps_the_spelling() {
        assert_eq!(transposed("Cb3", 0, 0, -1), "Cb2");
    }

    #[test]
    fn a_missing_diatonic_is_spelled_as_the_interval_usually_is() {
        let horn = Transposition { diatonic: None, chromatic_cents: -700, octaves: 0, double: None };
        assert_eq!(horn.sound("Bb3".parse().unwrap()).to_string(), "Eb3");
    }
}
