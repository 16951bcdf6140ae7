//! What one player plays: tie chains as single sounds, in passages between rests.

use std::ops::Range;

use super::{Articulations, Joins, Mute, Part, Score};
use crate::music::{Dynamic, Length, Onset, Seconds, Sounding, Written};

/// One player's notes, one after the other.
#[derive(Clone, Debug)]
pub struct Line {
    /// Which player of the part, from 1.
    pub player: u8,
    /// What is struck, in order of onset; never two that sound together.
    pub played: Vec<Played>,
    /// Notes between rests: ranges of [`Line::played`], in order, covering all of it.
    pub passages: Vec<Range<usize>>,
    /// The same notes in the order they are performed, repeats played out.
    pub performed: Vec<Struck>,
}

/// A tie chain as it is heard: struck once, sounding until its last note ends.
#[derive(Clone, Debug)]
pub struct Played {
    /// Indices into [`Part::notes`] of its notes, first to last; never empty.
    pub chain: Vec<u32>,
    /// Index into [`Score::bars`] of its first note.
    pub bar: u32,
    /// Where it is struck.
    pub onset: Onset,
    /// Where it ends.
    pub end: Onset,
    /// What it sounds.
    pub sounding: Sounding,
    /// What stands on the page.
    pub written: Written,
    /// A grace note.
    pub grace: bool,
    /// The level where it begins; `None` before any mark.
    pub dynamic: Option<Dynamic>,
    /// The loudest that is asked anywhere in it: level, attack, or where a hairpin leads.
    pub loudest: Option<Dynamic>,
    /// The softest that is asked anywhere in it.
    pub softest: Option<Dynamic>,
    /// The loudness of its attack, where a mark asks for one of its own.
    pub attack: Option<Dynamic>,
    /// Marks of all its notes.
    pub articulations: Articulations,
    /// What binds its last note to the next.
    pub joins: Joins,
    /// The mute in.
    pub mute: Option<Mute>,
    /// Where it is struck, in seconds of the written order.
    pub start: Seconds,
    /// How long it sounds, in seconds (fermatas not counted).
    pub seconds: Seconds,
    /// Another player of the part reads the same note.
    pub shared: bool,
}

/// A played note in the performance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// Index into [`Line::played`].
    pub played: usize,
    /// Which time its bar is played, from 1.
    pub pass: u32,
    /// When, in seconds from the start of the performance.
    pub start: Seconds,
}

impl Played {
    /// Its written length, ties joined.
    pub fn length(&self) -> Length {
        self.end.since(self.onset)
    }
}

impl Line {
    /// The passage that holds a played note, by its index into [`Line::passages`].
    pub fn passage_of(&self, played: usize) -> usize {
        self.passages.partition_point(|passage| passage.end <= played)
    }

    /// Seconds of silence behind a played note, up to the next one in written order; `None` behind the last.
    pub fn rest_after(&self, played: usize) -> Option<Seconds> {
        let here = self.played.get(played)?;
        let next = self.played.get(played + 1)?;
        Some(Seconds::new((next.start.get() - here.start.get() - here.seconds.get()).max(0.0)))
    }
}

/// Splits a part into its players' lines: by voices where two sound together, by chord notes from the top
/// where one voice holds chords, by the words that say who plays. A note that all read is in every line,
/// flagged as shared in all but the first.
pub fn lines(_part: &Part, _score: &Score) -> Vec<Line> {
    Vec::new()
}
