//! One part, bar by bar in document order: state in, notes and marks out.
//!
//! A [`PartReader`] is given one measure after the other and keeps what goes on from bar to bar. Places are
//! counted from the start of their bar, since how long a bar lasts only all parts together can tell.

use super::attributes::Transposing;
use super::direction::{Asked, OttavaMark, Shaping, with_said};
use super::lines::Lines;
use super::note::RawNote;
use super::order::BarMarks;
use super::tempo::TempoKind;
use super::time::{Amount, Cursor, Divisions};
use super::tree::{Node, child, elements, name, says_yes, text};
use crate::music::{Length, Sounding, Transposition};
use crate::score::{Clef, Instrument, Oddity, OddityKind, Tie};

/// What a part's music holds, places counted from the start of their bars.
#[derive(Debug, Default)]
pub(super) struct PartRead {
    pub(super) bars: Vec<BarRead>,
    /// In order of place; of several at one place, in document order. Of a part that is passed over, none.
    pub(super) notes: Vec<RawNote>,
    /// What sounds in a part that is passed over, in the same order.
    pub(super) heard: Vec<Heard>,
    pub(super) staves: u8,
    pub(super) voices: Vec<String>,
    pub(super) clefs: Vec<(At, u8, Clef)>,
    pub(super) transpositions: Vec<(At, Option<u8>, Transposition)>,
    /// In document order.
    pub(super) shapings: Vec<Shaping>,
    /// In document order.
    pub(super) asked: Vec<Asked>,
    /// In document order.
    pub(super) ottavas: Vec<OttavaMark>,
    /// In document order; kept of every part, as a tempo is for all.
    pub(super) tempo: Vec<(At, TempoKind)>,
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

/// What all parts of a score share while they are read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'t> {
    pub(super) text: &'t str,
    pub(super) lines: &'t Lines<'t>,
    /// The score says that it is in concert pitch.
    pub(super) concert: bool,
    /// Where the root element begins: what stands before it belongs to an entity, not to the music.
    pub(super) music_from: usize,
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
    first_note: usize,
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

    /// Reads the next measure. `attributes_of` is its `measure` element, `content` what holds its music (the same
    /// element, or a `part` within it).
    pub(super) fn measure(&mut self, attributes_of: Node<'_, '_>, content: Option<Node<'_, '_>>) {
        self.cursor = Cursor::at_start(self.cursor.divisions());
        self.chord_place = Length::ZERO;
        self.reach = Length::ZERO;
        self.first_note = self.out.notes.len();
        for element in content.into_iter().flat_map(elements) {
            match name(element) {
                "note" => self.note(element),
                "backup" => self.backup(element),
                "forward" => self.forward(element),
                "attributes" => self.attributes(element),
                "direction" => self.direction(element),
                "sound" => self.sound(element),
                "barline" => self.barline(element),
                _ => {}
            }
            self.reach = self.reach.max(self.cursor.place());
        }
        self.close(attributes_of);
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

    fn backup(&mut self, backup: Node<'_, '_>) {
        let amount = self.duration(backup, child(backup, "duration")).unwrap_or(Amount::ZERO);
        if let Some(by) = self.cursor.back(amount) {
            self.odd(backup, OddityKind::BackupTooFar { by });
        }
    }

    fn forward(&mut self, forward: Node<'_, '_>) {
        let amount = self.duration(forward, child(forward, "duration")).unwrap_or(Amount::ZERO);
        self.cursor.forward(amount);
    }

    fn close(&mut self, measure: Node<'_, '_>) {
        self.sound_notes();
        self.out.notes[self.first_note..].sort_by_key(|raw| raw.note.bar_onset);
        if !self.in_full {
            let heard = self.out.notes.drain(..).map(|RawNote { note, .. }| Heard {
                at: At { bar: note.bar, into: note.bar_onset },
                length: note.length,
                sounding: note.sounding,
                tie: note.tie,
            });
            self.out.heard.extend(heard);
        }
        let marks = with_said(std::mem::take(&mut self.marks), &std::mem::take(&mut self.said));
        let implicit = says_yes(measure, "implicit");
        let number = measure.attribute("number").unwrap_or_default().trim();
        let printed = measure.attribute("text").map(str::trim).filter(|text| !text.is_empty() && !implicit);
        self.out.bars.push(BarRead {
            number: printed.unwrap_or(number).to_owned(),
            implicit,
            content: self.reach,
            nominal: self.nominal,
            beat: self.beat,
            marks: (marks != BarMarks::default()).then(|| Box::new(marks)),
            line: self.line(measure),
        });
    }

    /// Gives this bar's notes the pitch they sound: a transposition acts on notes from its place on, whatever
    /// the order in the document.
    fn sound_notes(&mut self) {
        let notes = &mut self.out.notes[self.first_note..];
        if self.retransposed.is_empty() {
            for raw in notes {
                raw.note.sounding = self.transposing.of_staff(raw.note.staff).sound(raw.note.written);
            }
            return;
        }
        let mut changes = std::mem::take(&mut self.retransposed);
        changes.sort_by_key(|(place, ..)| *place);
        for raw in notes {
            let mut here = self.transposing.clone();
            for (_, staff, transposition) in
                changes.iter().take_while(|(place, ..)| *place <= raw.note.bar_onset)
            {
                here.change(*staff, *transposition);
            }
            raw.note.sounding = here.of_staff(raw.note.staff).sound(raw.note.written);
        }
        for (_, staff, transposition) in changes {
            self.transposing.change(staff, transposition);
        }
    }
}
