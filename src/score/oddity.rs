//! What a reader had to read around: typed facts with their places. A rule puts them into words.

use crate::music::Length;

/// One thing in the file that is not as the standard has it, and what was made of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Oddity {
    /// Index of the part in the score's part list; `None` where it belongs to no part.
    pub part: Option<u32>,
    /// Index into [`Score::bars`](super::Score::bars), where it has one.
    pub bar: Option<u32>,
    /// Line in the source, from 1.
    pub line: u32,
    /// What it is.
    pub kind: OddityKind,
}

/// The kinds of oddity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OddityKind {
    /// The bar holds more than its time signature says.
    BarOverfull {
        /// By so many quarter notes.
        by: Length,
    },
    /// The bar holds less than its time signature says and is not marked as a pickup.
    BarUnderfull {
        /// By so many quarter notes.
        by: Length,
    },
    /// Durations before any `divisions`; read as 1 a quarter.
    DivisionsMissing,
    /// `divisions` that are no positive number; the former ones go on.
    DivisionsUnusable(String),
    /// A number that is none, or that no score needs.
    NumberUnusable {
        /// The element or attribute.
        of: &'static str,
        /// Its text, cut short where it is long.
        text: String,
        /// What is taken instead, as a clause.
        instead: &'static str,
    },
    /// A `backup` before the bar's start; held at the start.
    BackupTooFar {
        /// By so many quarter notes.
        by: Length,
    },
    /// A `note` with neither pitch, rest nor unpitched; passed over.
    NoteWithoutPitch,
    /// A note without a duration; read as no time.
    NoteWithoutDuration,
    /// A pitch that cannot be one (step, octave or alter); the note is passed over.
    PitchUnusable(String),
    /// A tie that starts and finds no end; the note ends where it is written.
    TieLeftOpen {
        /// The sounding pitch.
        pitch: String,
    },
    /// A tie that stops and has no start; the note is read as struck.
    TieFromNowhere {
        /// The sounding pitch.
        pitch: String,
    },
    /// A `part` that the part list does not name.
    PartNotListed {
        /// Its id.
        id: String,
    },
    /// A `part` without an id; taken by its position.
    PartWithoutId,
    /// A part of the list that the score does not hold.
    PartWithoutMusic {
        /// Its id.
        id: String,
    },
    /// A `transpose` in a score that says it is in concert pitch; only its octaves count.
    TransposeInConcertScore,
    /// A part has fewer or more bars than the others.
    BarCountDiffers {
        /// Bars in this part.
        here: u32,
        /// Bars in the score.
        score: u32,
    },
    /// Repeats or jumps that have no end, or more than any player would follow; played straight through.
    OrderUnusable,
    /// A da capo or dal segno that stands in words alone, and was taken on their word.
    JumpInWords,
}
