//! Dynamics as an ordered scale, and the marks that set them.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// How loud, from pppppp to ffffff. One step of the scale is one dynamic mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Dynamic {
    Pppppp,
    Ppppp,
    Pppp,
    Ppp,
    Pp,
    P,
    Mp,
    Mf,
    F,
    Ff,
    Fff,
    Ffff,
    Fffff,
    Ffffff,
}

/// What a dynamic mark asks: a level from here on, an attack on this note alone, or both (fp: attack f, then p).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Mark {
    /// How loud the note under the mark begins, where that differs from the level after it.
    pub attack: Option<Dynamic>,
    /// The level from here on; `None` leaves the level as it was (sfz).
    pub level: Option<Dynamic>,
}

/// The direction of a hairpin, or of its word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Hairpin {
    /// Getting louder (`wedge type="crescendo"`, "cresc.").
    Crescendo,
    /// Getting softer (`wedge type="diminuendo"`, "dim.").
    Diminuendo,
}

/// Why a text is no dynamic level.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("expected a dynamic from pppppp to ffffff, not '{0}'")]
pub struct DynamicError(pub String);

impl Dynamic {
    /// The whole scale, soft to loud.
    pub const ALL: [Dynamic; 14] = [
        Dynamic::Pppppp,
        Dynamic::Ppppp,
        Dynamic::Pppp,
        Dynamic::Ppp,
        Dynamic::Pp,
        Dynamic::P,
        Dynamic::Mp,
        Dynamic::Mf,
        Dynamic::F,
        Dynamic::Ff,
        Dynamic::Fff,
        Dynamic::Ffff,
        Dynamic::Fffff,
        Dynamic::Ffffff,
    ];

    /// Steps of the scale that this lies above `other` (negative: below).
    pub const fn steps_above(self, other: Dynamic) -> i32 {
        self as i32 - other as i32
    }

    /// The dynamic `steps` louder (negative: softer), held at the ends of the scale.
    #[must_use]
    pub fn louder_by(self, steps: i32) -> Dynamic {
        let last = Dynamic::ALL.len() as i32 - 1;
        let index = (self as i32 + steps).clamp(0, last);
        Dynamic::ALL[usize::try_from(index).unwrap_or(0)]
    }

    /// As letters.
    pub const fn letters(self) -> &'static str {
        match self {
            Dynamic::Pppppp => "pppppp",
            Dynamic::Ppppp => "ppppp",
            Dynamic::Pppp => "pppp",
            Dynamic::Ppp => "ppp",
            Dynamic::Pp => "pp",
            Dynamic::P => "p",
            Dynamic::Mp => "mp",
            Dynamic::Mf => "mf",
            Dynamic::F => "f",
            Dynamic::Ff => "ff",
            Dynamic::Fff => "fff",
            Dynamic::Ffff => "ffff",
            Dynamic::Fffff => "fffff",
            Dynamic::Ffffff => "ffffff",
        }
    }
}

impl fmt::Display for Dynamic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.letters())
    }
}

impl FromStr for Dynamic {
    type Err = DynamicError;

    fn from_str(text: &str) -> Result<Self, DynamicError> {
        Dynamic::ALL
            .into_iter()
            .find(|dynamic| dynamic.letters() == text)
            .ok_or_else(|| DynamicError(text.to_owned()))
    }
}

impl Mark {
    /// Reads the letters of a mark as `MusicXML` names its elements (`f`, `sfz`, `fp`, `sffz` …); several
    /// elements of one `dynamics` are read joined (`s` + `fp`). `None` for letters that set nothing.
    ///
    /// sf, sfz, fz, rf, rfz, sffz are an attack and the level goes on; fp, sfp, sfzp, sfpp begin loud and go
    /// on soft; pf goes on f. An attack's own loudness is the number of its f's.
    pub fn from_letters(letters: &str) -> Option<Mark> {
        if let Ok(level) = letters.parse() {
            return Some(Mark { attack: None, level: Some(level) });
        }
        if letters == "pf" {
            return Some(Mark { attack: None, level: Some(Dynamic::F) });
        }
        let forced = letters.strip_prefix(['s', 'r']);
        let loud = forced.unwrap_or(letters);
        let (attack, rest) = loud.split_at(loud.len() - loud.trim_start_matches('f').len());
        let after = rest.strip_prefix('z');
        let attack = Some(attack.parse().ok()?);
        match after.unwrap_or(rest) {
            "" if forced.is_some() || after.is_some() => Some(Mark { attack, level: None }),
            level => Some(Mark { attack, level: Some(level.parse().ok()?) }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(letters: &str) -> (Option<&'static str>, Option<&'static str>) {
        let mark = Mark::from_letters(letters).unwrap();
        (mark.attack.map(Dynamic::letters), mark.level.map(Dynamic::letters))
    }

    #[test]
    fn a_forced_accent_leaves_the_level_as_it_was() {
        for letters in ["sf", "sfz", "fz", "rf", "rfz"] {
            assert_eq!(mark(letters), (Some("f"), None), "{letters}");
        }
        assert_eq!(mark("sffz"), (Some("ff"), None));
    }

    #[test]
    fn fp_begins_loud_and_goes_on_soft() {
        for letters in ["fp", "sfp", "sfzp"] {
            assert_eq!(mark(letters), (Some("f"), Some("p")), "{letters}");
        }
        assert_eq!(mark("sfpp"), (Some("f"), Some("pp")));
        assert_eq!(mark("sfmp"), (Some("f"), Some("mp")));
        assert_eq!(mark("pf"), (None, Some("f")));
    }

    #[test]
    fn letters_that_set_nothing_are_no_mark() {
        assert_eq!(Mark::from_letters("n"), None);
        assert_eq!(Mark::from_letters("xyz"), None);
        assert_eq!(Mark::from_letters(""), None);
        for two_marks in ["ffsf", "mfsfz", "psf", "zf", "fs"] {
            assert_eq!(Mark::from_letters(two_marks), None, "{two_marks}");
        }
    }

    #[test]
    fn the_scale_is_in_order() {
        assert!(Dynamic::Mp < Dynamic::Mf);
        assert_eq!(Dynamic::Ff.steps_above(Dynamic::Mf), 2);
        assert_eq!(Dynamic::Ffffff.louder_by(3), Dynamic::Ffffff);
    }
}
