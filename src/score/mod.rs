//! The score as music: parts, bars, notes, what is heard of them, and in which order.
//!
//! In comes what a reader understood; out goes what every floor above judges. Nothing here knows XML
//! bytes (only where a note's octave digits stand), profiles or rules.

mod bar;
mod chain;
mod direction;
mod line;
mod note;
mod oddity;
mod order;
mod part;
mod players;
mod sharing;
#[cfg(test)]
pub(crate) mod testing;

pub use bar::Bar;
pub use chain::sounds_until;
pub use direction::{Asks, Direction, Mute, Players};
pub use line::{Line, OnceMore, Played, Struck, lines};
pub use note::{
    Articulation, Articulations, Head, Join, Joins, Later, Note, Ornament, SourceRange, Stem, Tie,
};
pub use oddity::{Oddity, OddityKind};
pub use order::{Passes, PerformanceOrder, Stretch};
pub use part::{
    Clef, ClefChange, ClefSign, Instrument, KeyChange, Ottava, Part, PartInfo, PassedOver, Sound,
    TranspositionChange,
};
pub use sharing::{Share, Sharing};

use crate::music::{Onset, TempoMap};

/// A whole score, read.
#[derive(Clone, Debug)]
pub struct Score {
    /// Work and movement title as one line; `None` where the score has neither.
    pub title: Option<String>,
    /// One for each measure, in document order.
    pub bars: Vec<Bar>,
    /// The parts read in full, in score order.
    pub parts: Vec<Part>,
    /// The parts nobody asked for, in score order: only what sounds when.
    pub passed_over: Vec<PassedOver>,
    /// Quarter notes to seconds, by written place.
    pub tempo: TempoMap,
    /// Quarter notes of the performance to seconds, its bars one behind the other; `None` where that is as written.
    pub played_tempo: Option<TempoMap>,
    /// Repeats, endings and jumps played out.
    pub order: PerformanceOrder,
    /// Rehearsal marks in order of onset, one at a place; programs write them into one part, or into each.
    pub rehearsals: Vec<RehearsalMark>,
    /// How long a fermata holds.
    pub fermata: Fermata,
    /// What the reader had to read around.
    pub oddities: Vec<Oddity>,
}

/// A letter or number that a rehearsal begins from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RehearsalMark {
    /// Where it stands.
    pub at: Onset,
    /// As printed: "C", "42".
    pub text: String,
}

/// How often its value a note under a fermata is held. The beat of the score goes on as it is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fermata {
    /// As a rule.
    pub usual: f64,
    /// Where it is long.
    pub long: f64,
}
