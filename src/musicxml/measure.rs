//! One measure: its elements in document order, and what can be said once it is over.

use super::found::{At, BarRead, Heard, RawNote};
use super::order::BarMarks;
use super::time::{Amount, Cursor};
use super::tree::{Node, child, elements, name, says_yes};
use super::walk::{PartReader, cut_short};
use crate::intake::{self, Exceeded};
use crate::music::Length;
use crate::score::OddityKind;

impl PartReader<'_> {
    /// Reads the next measure. `attributes_of` is its `measure` element, `content` what holds its music (the same
    /// element, or a `part` within it).
    ///
    /// # Errors
    ///
    /// A limit of [`intake`] is passed.
    pub(super) fn measure(
        &mut self,
        attributes_of: Node<'_, '_>,
        content: Option<Node<'_, '_>>,
    ) -> Result<(), Exceeded> {
        self.cursor = Cursor::at_start(self.cursor.divisions());
        self.chord_place = Length::ZERO;
        self.reach = Length::ZERO;
        self.metre_before = self.metre();
        self.first_note = self.out.notes.len();
        let mut crowd = 0;
        for element in content.into_iter().flat_map(elements) {
            crowd += 1;
            let signs = self.marks.segno.len() + self.marks.coda.len();
            let counts = [
                (intake::CROWD, crowd),
                (intake::VOICES, self.out.voices.len() as u64),
                (intake::PLACE, signs as u64),
            ];
            if let Some(exceeded) = counts.iter().find_map(|(limit, count)| limit.admit(*count).err()) {
                return Err(Exceeded { line: Some(self.line(element)), ..exceeded });
            }
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
        self.source.counts.measure(crowd)?;
        self.close(attributes_of);
        Ok(())
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
        let marks = std::mem::take(&mut self.marks).with_said(&std::mem::take(&mut self.said));
        let implicit = says_yes(measure, "implicit");
        let number = measure.attribute("number").unwrap_or_default().trim();
        let printed = measure.attribute("text").map(str::trim).filter(|text| !text.is_empty() && !implicit);
        self.out.bars.push(BarRead {
            number: cut_short(printed.unwrap_or(number)),
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
        let mut in_time: Vec<usize> = (0..notes.len()).collect();
        in_time.sort_by_key(|index| notes[*index].note.bar_onset);
        let mut changes = changes.into_iter().peekable();
        for index in in_time {
            let note = &mut notes[index].note;
            while let Some((_, staff, transposition)) =
                changes.next_if(|(place, ..)| *place <= note.bar_onset)
            {
                self.transposing.change(staff, transposition);
            }
            note.sounding = self.transposing.of_staff(note.staff).sound(note.written);
        }
        for (_, staff, transposition) in changes {
            self.transposing.change(staff, transposition);
        }
    }
}
