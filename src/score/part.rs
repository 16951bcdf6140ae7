//! A part: who it is, and its music.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::fmt;

use super::chain::chains;
use super::{Direction, Note};
use crate::music::{Onset, Sounding, Transposition, Written};

/// A part read in full.
#[derive(Clone, Debug)]
pub struct Part {
    /// Who it is.
    pub info: PartInfo,
    /// How many staves it has.
    pub staves: u8,
    /// Voice names as the score has them; "1" where it has none.
    pub voices: Vec<String>,
    /// Every written note in order of onset; of several at one onset, in document order. Cue and hidden
    /// notes are here too, flagged.
    pub notes: Vec<Note>,
    /// What its words ask, in order of onset.
    pub directions: Vec<Direction>,
    /// Clefs in order of onset.
    pub clefs: Vec<ClefChange>,
    /// Key signatures as written in this part, in order of onset.
    pub keys: Vec<KeyChange>,
    /// Transpositions in order of onset; without one it is in concert pitch.
    pub transpositions: Vec<TranspositionChange>,
    /// Octave-shift lines. They move what is printed, never what sounds.
    pub ottavas: Vec<Ottava>,
}

impl Part {
    /// What sounds of it, as of a part that nobody asked for.
    pub fn passed_over(self) -> PassedOver {
        let sound = |chain: &Vec<u32>| {
            let (first, last) = (self.notes.get(*chain.first()? as usize)?, *chain.last()?);
            let end = self.notes.get(last as usize)?.end();
            (!first.grace).then_some(Sound { onset: first.onset, end, sounding: first.sounding })
        };
        let sounds = chains(&self.notes).iter().filter_map(sound).collect();
        PassedOver { info: self.info, sounds }
    }
}

/// What the part list says of a part.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct PartInfo {
    /// Position in the score, from 0.
    pub index: u32,
    /// `id` of `score-part`.
    pub id: String,
    /// `part-name`.
    pub name: String,
    /// What is printed in place of the name: `part-name-display`, or the name in several lines; empty where that is the
    /// name.
    pub displayed: String,
    /// It has lyrics; known of parts that are read in full.
    pub has_lyrics: bool,
    /// Its first clef; known of parts that are read in full.
    pub clef: Option<Clef>,
    /// `part-abbreviation`, empty where there is none.
    pub abbreviation: String,
    /// Its instruments, in order.
    pub instruments: Vec<Instrument>,
    /// Names of the groups it stands in, outermost first.
    pub groups: Vec<String>,
    /// How many players the part list says (`ensemble`, `players`, "2 Tubas" is for the name to say).
    pub players: Option<u8>,
    /// The name of the staff as printed, where this part is one of several that share it ("Trombone 3 / Tuba");
    /// [`PartInfo::name`] is then its own share of that name.
    pub staff_name: Option<String>,
}

impl PartInfo {
    /// Its name in the lines in which it is printed.
    pub fn name_in_lines(&self) -> &str {
        if self.displayed.contains('\n') { &self.displayed } else { &self.name }
    }

    /// Whether a person would call it so: by its name, or by that of the staff it stands on.
    pub fn is_called(&self, is_meant: impl Fn(&str) -> bool) -> bool {
        is_meant(self.name.trim()) || self.staff_name.as_deref().is_some_and(|name| is_meant(name.trim()))
    }
}

/// A `score-instrument` with its `midi-instrument`.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Instrument {
    /// `id`.
    pub id: String,
    /// `instrument-name`.
    pub name: String,
    /// `instrument-sound`.
    pub sound: Option<String>,
    /// `midi-program`, 1 to 128.
    pub midi_program: Option<u8>,
}

/// A part that nobody asked for: only what sounds when.
#[derive(Clone, Debug)]
pub struct PassedOver {
    /// Who it is.
    pub info: PartInfo,
    /// What sounds, ties joined, in order of onset. Cue, hidden and grace notes are not here.
    pub sounds: Vec<Sound>,
}

/// A pitch that sounds from a place to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sound {
    /// Where it begins.
    pub onset: Onset,
    /// Where it ends.
    pub end: Onset,
    /// The pitch.
    pub sounding: Sounding,
}

/// A clef from a place on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClefChange {
    /// Index into [`Score::bars`](super::Score::bars).
    pub bar: u32,
    /// Where it takes hold.
    pub at: Onset,
    /// The staff it is for.
    pub staff: u8,
    /// The clef.
    pub clef: Clef,
}

/// A clef: sign, line counted from the bottom, octaves it is read higher.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Clef {
    /// Its sign.
    pub sign: ClefSign,
    /// The staff line it sits on, from the bottom.
    pub line: u8,
    /// `clef-octave-change`.
    pub octaves: i8,
}

/// The sign of a clef.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum ClefSign {
    G,
    F,
    C,
    /// Percussion, tablature, none.
    Other,
}

/// A key signature from a place on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeyChange {
    /// Where it begins.
    pub at: Onset,
    /// Sharps; negative: flats.
    pub fifths: i8,
}

/// A transposition from a place on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TranspositionChange {
    /// Where it takes hold.
    pub at: Onset,
    /// The staff it is for; `None`: all.
    pub staff: Option<u8>,
    /// The transposition.
    pub transposition: Transposition,
}

/// An octave-shift line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ottava {
    /// Index into [`Score::bars`](super::Score::bars) where it begins.
    pub bar: u32,
    /// Where it begins.
    pub from: Onset,
    /// Where it ends.
    pub to: Onset,
    /// The staff.
    pub staff: u8,
    /// Octaves that the printed notes sound away from where they stand: 1 for 8va, −1 for 8vb.
    pub octaves: i8,
}

impl Part {
    /// How many of its notes sound together where most do; grace notes are not counted.
    pub fn most_at_once(&self) -> usize {
        // The end and the onset of what sounds, the first to end on top.
        let mut sounding: BinaryHeap<Reverse<(Onset, Onset)>> = BinaryHeap::new();
        let mut most = 0;
        for note in self.notes.iter().filter(|note| !note.grace) {
            let is_over = |(end, onset): (Onset, Onset)| end <= note.onset && onset < note.onset;
            while sounding.peek().is_some_and(|Reverse(ends)| is_over(*ends)) {
                sounding.pop();
            }
            sounding.push(Reverse((note.onset + note.length, note.onset)));
            most = most.max(sounding.len());
        }
        most
    }

    /// The clef in force on a staff at a place; `None` before the first.
    pub fn clef_at(&self, place: Onset, staff: u8) -> Option<Clef> {
        self.clefs
            .iter()
            .rev()
            .find(|change| change.staff == staff && change.at <= place)
            .map(|change| change.clef)
    }

    /// The transposition in force on a staff at a place; without one the part is in concert pitch.
    pub fn transposition_at(&self, place: Onset, staff: u8) -> Transposition {
        self.transpositions
            .iter()
            .rev()
            .find(|change| change.at <= place && change.staff.is_none_or(|its| its == staff))
            .map_or(Transposition::CONCERT, |change| change.transposition)
    }

    /// Octaves that a note at a place sounds away from where it is printed, by the octave lines over it.
    pub fn ottava_at(&self, place: Onset, staff: u8) -> i8 {
        self.ottavas
            .iter()
            .filter(|ottava| ottava.staff == staff && ottava.from <= place && place < ottava.to)
            .map(|ottava| ottava.octaves)
            .sum()
    }
}

impl Clef {
    /// Where a printed note stands: lines and spaces above the middle line, negative below it; `None` for a clef
    /// without pitch.
    pub fn place(self, printed: Written) -> Option<i32> {
        // The note on the clef's own line, in steps of the scale above C0.
        let own = match self.sign {
            ClefSign::G => 4 * 7 + 4,
            ClefSign::F => 3 * 7 + 3,
            ClefSign::C => 4 * 7,
            ClefSign::Other => return None,
        };
        let middle = own + 7 * i32::from(self.octaves) - 2 * (i32::from(self.line) - MIDDLE_LINE);
        Some(i32::from(printed.octave()) * 7 + printed.step() as i32 - middle)
    }

    /// Ledger lines a printed note stands on: above the staff positive, below it negative, 0 on it; `None` for a
    /// clef without pitch.
    pub fn ledger_lines(self, printed: Written) -> Option<i32> {
        /// From the middle line to the outer ones: two lines and two spaces.
        const HALF_STAFF: i32 = 4;
        let place = self.place(printed)?;
        Some(place.signum() * (place.abs() - HALF_STAFF).max(0) / 2)
    }
}

/// The third of the staff's five lines.
const MIDDLE_LINE: i32 = 3;

impl fmt::Display for Clef {
    /// "bass clef", "tenor clef", "treble clef, sounding an octave lower".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.sign, self.line) {
            (ClefSign::G, 2) => f.write_str("treble clef")?,
            (ClefSign::F, 4) => f.write_str("bass clef")?,
            (ClefSign::C, 3) => f.write_str("alto clef")?,
            (ClefSign::C, 4) => f.write_str("tenor clef")?,
            (ClefSign::G, line) => write!(f, "G clef on line {line}")?,
            (ClefSign::F, line) => write!(f, "F clef on line {line}")?,
            (ClefSign::C, line) => write!(f, "C clef on line {line}")?,
            (ClefSign::Other, _) => f.write_str("a clef without pitch")?,
        }
        match self.octaves {
            0 => Ok(()),
            -1 => f.write_str(", sounding an octave lower"),
            1 => f.write_str(", sounding an octave higher"),
            octaves => write!(f, ", sounding {octaves:+} octaves"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ledger_lines_below_the_bass_staff_are_those_of_the_handbook() {
        // E2 1, C2 2, A1 3, F1 4, D1 5, B0 6, G0 7; E1 hangs under the 4th, C1 under the 5th (common practice, no source).
        let bass = Clef { sign: ClefSign::F, line: 4, octaves: 0 };
        let table = [
            ("E2", -1),
            ("C2", -2),
            ("A1", -3),
            ("F1", -4),
            ("E1", -4),
            ("D1", -5),
            ("C1", -5),
            ("B0", -6),
            ("G0", -7),
            ("G2", 0),
            ("F2", 0),
            ("A3", 0),
            ("B3", 0),
            ("C4", 1),
            ("G4", 3),
        ];
        for (name, lines) in table {
            assert_eq!(bass.ledger_lines(name.parse().unwrap()), Some(lines), "{name}");
        }
        assert_eq!(
            ["D3", "C3", "G3"].map(|name| bass.place(name.parse().unwrap())),
            [Some(0), Some(-1), Some(3)]
        );
        let tenor = Clef { sign: ClefSign::C, line: 4, octaves: 0 };
        assert_eq!(tenor.ledger_lines("E4".parse().unwrap()), Some(0));
        assert_eq!(tenor.ledger_lines("G4".parse().unwrap()), Some(1));
    }

    #[test]
    fn a_clef_is_named_as_players_name_it() {
        assert_eq!(Clef { sign: ClefSign::C, line: 4, octaves: 0 }.to_string(), "tenor clef");
        let low = Clef { sign: ClefSign::G, line: 2, octaves: -1 };
        assert_eq!(low.to_string(), "treble clef, sounding an octave lower");
    }
}
