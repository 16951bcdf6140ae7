//! Written and sounding pitch: two types, so that a page can never be judged as if it were a sound.
//!
//! A pitch keeps its spelling (step, alteration, octave); two pitches compare by height, so that
//! D-flat and C-sharp are equal. Names are scientific: C4 is middle C, A4 is 440 Hz (ISO 16).

use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::str::FromStr;

use thiserror::Error;

/// What the instrument sounds. Profiles, ranges and rules speak only of this.
#[derive(Clone, Copy, Debug)]
pub struct Sounding(Pitch);

/// What stands on the page. Only a [`Transposition`](super::Transposition) turns it into a [`Sounding`] pitch.
#[derive(Clone, Copy, Debug)]
pub struct Written(Pitch);

/// A letter of the scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Step {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

/// An alteration in cents (hundredths of a semitone): −100 flat, +100 sharp, ±50 a quarter-tone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Alter(i16);

/// How high a pitch is, in cents above MIDI note 0 (C−1). The common measure of both kinds of pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Height(i32);

/// Why a text is not the name of a pitch.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PitchError {
    /// The text is empty or does not begin with a letter from A to G.
    #[error("expected a pitch such as D1, Bb0 or F#2, not '{0}'")]
    Step(String),
    /// The sign after the letter is none of b, bb, #, ## and their quarter-tones.
    #[error("expected b, bb, # or ## after the letter, not '{sign}' in '{text}'")]
    Sign {
        /// The whole text.
        text: String,
        /// What stood between letter and octave.
        sign: String,
    },
    /// The octave is missing or no whole number from −2 to 12.
    #[error("expected an octave number after the letter in '{0}', as in D1")]
    Octave(String),
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Pitch {
    pub(super) step: Step,
    pub(super) alter: Alter,
    pub(super) octave: i8,
}

macro_rules! kind_of_pitch {
    ($kind:ident) => {
        impl $kind {
            /// A pitch from its spelling. `octave` is the scientific one: 4 begins at middle C.
            pub const fn new(step: Step, alter: Alter, octave: i8) -> Self {
                Self(Pitch { step, alter, octave })
            }

            /// The letter it is spelled with.
            pub const fn step(self) -> Step {
                self.0.step
            }

            /// The alteration it is spelled with.
            pub const fn alter(self) -> Alter {
                self.0.alter
            }

            /// The octave number of its spelling (C-flat 4 sounds as B 3).
            pub const fn octave(self) -> i8 {
                self.0.octave
            }

            /// How high it is; what comparing two pitches compares.
            pub const fn height(self) -> Height {
                self.0.height()
            }

            /// The same note `octaves` higher (negative: lower), spelled alike.
            #[must_use]
            pub const fn up_octaves(self, octaves: i8) -> Self {
                Self(Pitch { octave: self.0.octave.saturating_add(octaves), ..self.0 })
            }
        }

        impl PartialEq for $kind {
            fn eq(&self, other: &Self) -> bool {
                self.height() == other.height()
            }
        }
        impl Eq for $kind {}
        impl Hash for $kind {
            fn hash<H: Hasher>(&self, state: &mut H) {
                self.height().hash(state);
            }
        }
        impl PartialOrd for $kind {
            fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
                Some(self.cmp(other))
            }
        }
        impl Ord for $kind {
            fn cmp(&self, other: &Self) -> Ordering {
                self.height().cmp(&other.height())
            }
        }
        impl fmt::Display for $kind {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
        impl FromStr for $kind {
            type Err = PitchError;
            fn from_str(text: &str) -> Result<Self, PitchError> {
                text.parse().map(Self)
            }
        }
    };
}

kind_of_pitch!(Sounding);
kind_of_pitch!(Written);

impl Sounding {
    /// MIDI note number; quarter-tones give halves (60 is middle C).
    pub fn midi(self) -> f64 {
        self.height().midi()
    }

    /// Frequency of the fundamental in hertz: 440 × 2^((midi − 69) / 12) (ISO 16).
    pub fn hertz(self) -> f64 {
        self.height().hertz()
    }

    pub(super) const fn pitch(self) -> Pitch {
        self.0
    }
}

impl Written {
    pub(super) const fn pitch(self) -> Pitch {
        self.0
    }
}

impl From<Pitch> for Sounding {
    fn from(pitch: Pitch) -> Self {
        Self(pitch)
    }
}

impl From<Pitch> for Written {
    fn from(pitch: Pitch) -> Self {
        Self(pitch)
    }
}

impl Height {
    /// From cents above MIDI note 0.
    pub const fn cents(cents: i32) -> Self {
        Self(cents)
    }

    /// Cents above MIDI note 0.
    pub const fn in_cents(self) -> i32 {
        self.0
    }

    /// MIDI note number, with a fraction for quarter-tones.
    pub fn midi(self) -> f64 {
        f64::from(self.0) / 100.0
    }

    /// Frequency in hertz at A4 = 440 Hz.
    pub fn hertz(self) -> f64 {
        440.0 * ((self.midi() - 69.0) / 12.0).exp2()
    }

    /// Semitones from `lower` up to this height (negative when this one is lower).
    pub fn semitones_above(self, lower: Height) -> f64 {
        f64::from(self.0 - lower.0) / 100.0
    }
}

impl Step {
    /// All letters, from C up.
    pub const ALL: [Step; 7] = [Step::C, Step::D, Step::E, Step::F, Step::G, Step::A, Step::B];

    /// Semitones above C within the octave.
    pub const fn semitones(self) -> i32 {
        match self {
            Step::C => 0,
            Step::D => 2,
            Step::E => 4,
            Step::F => 5,
            Step::G => 7,
            Step::A => 9,
            Step::B => 11,
        }
    }

    /// The letter as a capital.
    pub const fn letter(self) -> char {
        match self {
            Step::C => 'C',
            Step::D => 'D',
            Step::E => 'E',
            Step::F => 'F',
            Step::G => 'G',
            Step::A => 'A',
            Step::B => 'B',
        }
    }

    /// The step of a letter, capital or small; `None` for anything but A to G.
    pub const fn from_letter(letter: char) -> Option<Step> {
        Some(match letter.to_ascii_uppercase() {
            'C' => Step::C,
            'D' => Step::D,
            'E' => Step::E,
            'F' => Step::F,
            'G' => Step::G,
            'A' => Step::A,
            'B' => Step::B,
            _ => return None,
        })
    }
}

impl Alter {
    /// No alteration.
    pub const NATURAL: Alter = Alter(0);
    /// One semitone down.
    pub const FLAT: Alter = Alter(-100);
    /// One semitone up.
    pub const SHARP: Alter = Alter(100);

    /// From cents; the sign is up.
    pub const fn cents(cents: i16) -> Self {
        Self(cents)
    }

    /// In cents.
    pub const fn in_cents(self) -> i16 {
        self.0
    }
}

impl fmt::Display for Alter {
    /// `b`, `bb`, `#`, `##`, with a `d` (half flat) or `+` (half sharp) for a quarter-tone; nothing for a
    /// natural; any other size as signed cents in brackets.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            0 => Ok(()),
            -50 => f.write_str("d"),
            50 => f.write_str("+"),
            -150 => f.write_str("bd"),
            150 => f.write_str("#+"),
            whole if whole % 100 == 0 && whole.abs() <= 300 => {
                let sign = if whole < 0 { "b" } else { "#" };
                f.write_str(&sign.repeat(usize::from(whole.unsigned_abs() / 100)))
            }
            cents => write!(f, "({cents:+})"),
        }
    }
}

impl Pitch {
    pub(super) const fn height(self) -> Height {
        let semitones = (self.octave as i32 + 1) * 12 + self.step.semitones();
        Height(semitones * 100 + self.alter.0 as i32)
    }
}

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}", self.step.letter(), self.alter, self.octave)
    }
}

impl FromStr for Pitch {
    type Err = PitchError;

    fn from_str(text: &str) -> Result<Self, PitchError> {
        let mut rest = text.chars();
        let step =
            rest.next().and_then(Step::from_letter).ok_or_else(|| PitchError::Step(text.to_owned()))?;
        let rest = rest.as_str();
        let number = rest.find(|c: char| c.is_ascii_digit() || c == '-').unwrap_or(rest.len());
        let (sign, octave) = rest.split_at(number);
        let alter = match sign {
            "" => 0,
            "b" | "♭" => -100,
            "bb" | "♭♭" | "𝄫" => -200,
            "bbb" => -300,
            "#" | "♯" => 100,
            "##" | "♯♯" | "x" | "𝄪" => 200,
            "###" => 300,
            "d" => -50,
            "+" => 50,
            "bd" => -150,
            "#+" => 150,
            _ => return Err(PitchError::Sign { text: text.to_owned(), sign: sign.to_owned() }),
        };
        let octave = octave
            .parse::<i8>()
            .ok()
            .filter(|octave| (-2..=12).contains(octave))
            .ok_or_else(|| PitchError::Octave(text.to_owned()))?;
        Ok(Pitch { step, alter: Alter(alter), octave })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sounding(name: &str) -> Sounding {
        name.parse().unwrap()
    }

    #[test]
    fn frequencies_follow_iso_16() {
        // ISO 16 (A4 = 440 Hz) with equal temperament; worked out apart from this code, to 0.001 Hz.
        let table = [
            ("A4", 440.0),
            ("Bb0", 29.135),
            ("C1", 32.703),
            ("D1", 36.708),
            ("Eb1", 38.891),
            ("E1", 41.203),
            ("F1", 43.654),
            ("Bb1", 58.270),
            ("E2", 82.407),
        ];
        for (name, hertz) in table {
            assert!((sounding(name).hertz() - hertz).abs() < 0.001, "{name}: {}", sounding(name).hertz());
        }
    }

    #[test]
    fn names_come_back_as_they_were_read() {
        for name in ["D1", "Bb0", "F#2", "Gbb3", "C##4", "Ed4", "F+3", "Bbd2", "C#+1", "C-1"] {
            assert_eq!(sounding(name).to_string(), name);
        }
    }

    #[test]
    fn enharmonic_spellings_are_the_same_height() {
        assert_eq!(sounding("C#2"), sounding("Db2"));
        assert_eq!(sounding("Cb4"), sounding("B3"));
        assert!(sounding("B#3") > sounding("B3"));
    }

    #[test]
    fn a_wrong_name_says_what_was_expected() {
        assert_eq!(
            "H1".parse::<Sounding>().unwrap_err().to_string(),
            "expected a pitch such as D1, Bb0 or F#2, not 'H1'"
        );
        assert!(matches!("Dq1".parse::<Sounding>(), Err(PitchError::Sign { .. })));
        assert!(matches!("D".parse::<Sounding>(), Err(PitchError::Octave(_))));
        assert!(matches!("D99".parse::<Sounding>(), Err(PitchError::Octave(_))));
    }
}
