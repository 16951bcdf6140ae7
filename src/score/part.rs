//! A part: who it is, and its music.

use super::{Direction, Note};
use crate::music::{Onset, Sounding, Transposition};

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
    /// Transpositions in order of onset; without one it is in concert pitch.
    pub transpositions: Vec<TranspositionChange>,
    /// Octave-shift lines. They move what is printed, never what sounds.
    pub ottavas: Vec<Ottava>,
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
    /// `part-abbreviation`, empty where there is none.
    pub abbreviation: String,
    /// Its instruments, in order.
    pub instruments: Vec<Instrument>,
    /// Names of the groups it stands in, outermost first.
    pub groups: Vec<String>,
    /// How many players the part list says (`ensemble`, `players`, "2 Tubas" is for the name to say).
    pub players: Option<u8>,
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
