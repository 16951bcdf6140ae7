//! Where a part is read: what goes on from bar to bar.
//!
//! A [`PartReader`] is given one measure after the other (`measure`), whose elements are read by the modules of their
//! names. Places are counted from the start of their bar, since how long a bar lasts only all parts together can tell.

use std::sync::atomic::{AtomicU64, Ordering};

use super::found::{At, PartRead, Transposing};
use super::lines::Lines;
use super::order::BarMarks;
use super::time::{Amount, Cursor, Divisions};
use super::tree::{Node, text};
use crate::intake::{self, Exceeded};
use crate::music::{Length, Transposition};
use crate::score::{Instrument, Oddity, OddityKind};

/// What all parts of a score share while they are read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'t> {
    pub(super) text: &'t str,
    pub(super) lines: &'t Lines<'t>,
    /// The score says that it is in concert pitch.
    pub(super) concert: bool,
    /// Where the root element begins: what stands before it belongs to an entity, not to the music.
    pub(super) music_from: usize,
    pub(super) counts: &'t Counts,
}

/// What is counted over all parts, which may be read at once.
#[derive(Debug, Default)]
pub(super) struct Counts {
    measures: AtomicU64,
    notes: AtomicU64,
}

impl Counts {
    /// One measure more, with so many notes and rests.
    pub(super) fn measure(&self, notes: u64) -> Result<(), Exceeded> {
        let before = self.measures.fetch_add(1, Ordering::Relaxed);
        intake::MEASURES.admit(before + 1)?;
        let before = self.notes.fetch_add(notes, Ordering::Relaxed);
        intake::NOTES.admit(before + notes)
    }
}

/// Reads one part.
#[derive(Debug)]
pub(super) struct PartReader<'t> {
    pub(super) source: Source<'t>,
    pub(super) part: u32,
    pub(super) instruments: &'t [Instrument],
    /// Whether everything is kept, or only what sounds.
    pub(super) in_full: bool,
    pub(super) out: PartRead,
    pub(super) cursor: Cursor,
    pub(super) divisions_given: bool,
    pub(super) nominal: Option<Length>,
    pub(super) beat: Length,
    pub(super) transposing: Transposing,
    /// Transpositions that begin in this bar.
    pub(super) retransposed: Vec<(Length, Option<u8>, Transposition)>,
    /// Where the note before began: a chord note begins there too.
    pub(super) chord_place: Length,
    /// How far this bar's content reaches so far.
    pub(super) reach: Length,
    /// The instrument in hand by `instrument-change`.
    pub(super) instrument: Option<u16>,
    /// What this bar's lines and `sound`s say of the order.
    pub(super) marks: BarMarks,
    /// What this bar's words say of it.
    pub(super) said: BarMarks,
    /// Where this bar's notes begin.
    pub(super) first_note: usize,
}

impl<'t> PartReader<'t> {
    pub(super) fn new(source: Source<'t>, part: u32, instruments: &'t [Instrument], in_full: bool) -> Self {
        PartReader {
            source,
            part,
            instruments,
            in_full,
            out: PartRead { staves: 1, ..PartRead::default() },
            cursor: Cursor::at_start(Divisions::ONE),
            divisions_given: false,
            nominal: None,
            beat: Length::QUARTER,
            transposing: Transposing::default(),
            retransposed: Vec::new(),
            chord_place: Length::ZERO,
            reach: Length::ZERO,
            instrument: None,
            marks: BarMarks::default(),
            said: BarMarks::default(),
            first_note: 0,
        }
    }

    /// All that was read, when there are no more measures.
    pub(super) fn finish(self) -> PartRead {
        self.out
    }

    /// Where it reads now.
    pub(super) fn here(&self) -> At {
        self.at(self.cursor.place())
    }

    /// A place in this bar.
    pub(super) fn at(&self, into: Length) -> At {
        At { bar: self.out.bars.len() as u32, into }
    }

    /// The line of an element.
    pub(super) fn line(&self, node: Node<'_, '_>) -> u32 {
        self.source.lines.at(node.start())
    }

    /// Notes down something that was read around.
    pub(super) fn odd(&mut self, node: Node<'_, '_>, kind: OddityKind) {
        let (part, bar, line) = (Some(self.part), Some(self.out.bars.len() as u32), self.line(node));
        self.out.oddities.push(Oddity { part, bar, line, kind });
    }

    /// The index of a voice by its name; without one it is voice 1.
    pub(super) fn voice(&mut self, name: Option<&str>) -> u16 {
        let name = name.filter(|name| !name.is_empty()).unwrap_or("1");
        let known = self.out.voices.iter().position(|voice| voice == name);
        let index = known.unwrap_or_else(|| {
            self.out.voices.push(name.to_owned());
            self.out.voices.len() - 1
        });
        u16::try_from(index).unwrap_or(u16::MAX)
    }

    /// A duration; says so, once, when nobody has said what it counts in.
    pub(super) fn duration(
        &mut self,
        holder: Node<'_, '_>,
        duration: Option<Node<'_, '_>>,
    ) -> Option<Amount> {
        let amount = Amount::read(text(duration?)).filter(|amount| !amount.is_negative())?;
        if !self.divisions_given {
            self.divisions_given = true;
            self.odd(holder, OddityKind::DivisionsMissing);
        }
        Some(amount)
    }
}
