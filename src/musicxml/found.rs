//! What a part's music holds, as it is found: places are counted from the start of their bars, and what only the
//! neighbours or the other parts can make plain is still open.

use super::order::BarMarks;
use super::tempo::TempoMark;
use crate::music::{Dynamic, Hairpin, Length, Mark, Sounding, Transposition};
use crate::score::{Asks, Clef, Join, Note, Oddity, Passes, Tie};

/// What a part's music holds, places counted from the start of their bars.
#[derive(Debug, Default)]
pub(super) struct PartRead {
    pub(super) bars: Vec<BarRead>,
    /// In order of place; of several at one place, in document order. Of a part that is passed over, none.
    pub(super) notes: Vec<RawNote>,
    /// What sounds in a part that is passed over, in the same order.
    pub(super) heard: Vec<Heard>,
    pub(super) staves: u8,
    /// A note has lyrics.
    pub(super) has_lyrics: bool,
    pub(super) voices: Vec<String>,
    pub(super) clefs: Vec<(At, u8, Clef)>,
    /// Sharps, or flats below nothing; of several staves the first one's.
    pub(super) keys: Vec<(At, i8)>,
    /// In document order; kept of every part, as a rehearsal mark is for all.
    pub(super) rehearsals: Vec<(At, String)>,
    pub(super) transpositions: Vec<(At, Option<u8>, Transposition)>,
    /// In document order.
    pub(super) shapings: Vec<Shaping>,
    /// In document order.
    pub(super) asked: Vec<Asked>,
    /// In document order.
    pub(super) ottavas: Vec<OttavaMark>,
    /// In document order; kept of every part, as a tempo is for all.
    pub(super) tempo: Vec<TempoMark>,
    pub(super) oddities: Vec<Oddity>,
}

/// All that is kept of a note of a part that is passed over: those parts are most of a score.
#[derive(Clone, Copy, Debug)]
pub(super) struct Heard {
    pub(super) at: At,
    pub(super) length: Length,
    pub(super) sounding: Sounding,
    pub(super) tie: Tie,
}

/// A place: so far into a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct At {
    pub(super) bar: u32,
    pub(super) into: Length,
}

impl At {
    /// Where a note begins.
    pub(super) fn of(note: &Note) -> At {
        At { bar: note.bar, into: note.bar_onset }
    }
}

/// One measure of one part.
#[derive(Debug)]
pub(super) struct BarRead {
    pub(super) number: String,
    pub(super) implicit: bool,
    /// How far its content reaches.
    pub(super) content: Length,
    pub(super) nominal: Option<Length>,
    pub(super) beat: Length,
    /// Repeats, endings, jumps and signs; `None` where there are none.
    pub(super) marks: Option<Box<BarMarks>>,
    pub(super) line: u32,
}

/// A note as its element has it, with what only its neighbours can make plain.
#[derive(Debug)]
pub(super) struct RawNote {
    /// Everything that is known by itself; `onset` is still to come.
    pub(super) note: Note,
    /// Lines that begin or end on it.
    pub(super) spans: Vec<SpanMark>,
    /// Its first beam goes on to the next note.
    pub(super) beamed_on: bool,
    /// `time-modification`: part of a tuplet.
    pub(super) modified: bool,
}

/// An end of a line that binds notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct SpanMark {
    /// [`Join::Slur`], [`Join::Tuplet`] or [`Join::Glissando`].
    pub(super) join: Join,
    /// Tells lines apart that are open at once. A slide is no glissando: its numbers are its own.
    pub(super) number: u16,
    pub(super) starts: bool,
}

/// Something that bears on how loud the part is, at its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shaping {
    pub(super) at: At,
    /// `None`: all staves of the part.
    pub(super) staff: Option<u8>,
    /// The voice it was written with; by itself that does not make it that voice's own.
    pub(super) voice: Option<u16>,
    /// The times through a repeat for which it counts.
    pub(super) passes: Passes,
    pub(super) kind: ShapingKind,
}

/// The ways to shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum ShapingKind {
    /// A mark in letters or words.
    Mark(Mark),
    /// Louder or softer by marks.
    Relative { steps: i8, named: Option<Dynamic> },
    /// A hairpin opens.
    WedgeStart { direction: Hairpin, number: u8, niente: bool },
    /// A hairpin ends.
    WedgeStop { number: u8, niente: bool },
    /// "cresc." or "dim.".
    WordHairpin { direction: Hairpin, to: Option<Dynamic>, niente: bool },
    /// Dashes behind such a word begin …
    DashesStart { number: u8 },
    /// … and end.
    DashesStop { number: u8 },
    /// `n`: silence, where a hairpin leads or begins.
    Niente,
    /// `sound dynamics`: counts only where no mark rules.
    Sound(Dynamic),
}

/// What words ask of the player, at their place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Asked {
    pub(super) at: At,
    pub(super) staff: Option<u8>,
    pub(super) voice: Option<u16>,
    pub(super) text: String,
    pub(super) asks: Asks,
    pub(super) line: u32,
}

/// An end of an octave line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct OttavaMark {
    pub(super) at: At,
    pub(super) staff: u8,
    pub(super) number: u8,
    /// Octaves up from where it stands to where it sounds; `None` ends the line.
    pub(super) octaves: Option<i8>,
}

/// The transpositions in force: one for all staves, and those of single staves.
#[derive(Clone, Debug, Default)]
pub(super) struct Transposing {
    all: Transposition,
    staves: Vec<(u8, Transposition)>,
}

impl Transposing {
    pub(super) fn of_staff(&self, staff: u8) -> Transposition {
        self.staves.iter().find(|(own, _)| *own == staff).map_or(self.all, |(_, own)| *own)
    }

    /// The newest replaces all of the older; for all staves it clears those of single staves.
    pub(super) fn change(&mut self, staff: Option<u8>, transposition: Transposition) {
        match staff {
            None => *self = Transposing { all: transposition, staves: Vec::new() },
            Some(staff) => {
                self.staves.retain(|(own, _)| *own != staff);
                self.staves.push((staff, transposition));
            }
        }
    }
}
