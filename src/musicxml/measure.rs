//! One measure: its elements in document order, and what can be said once it is over.

use super::found::{At, BarRead, Heard, RawNote};
use super::order::BarMarks;
use super::time::{Amount, Cursor};
use super::tree::{Node, child, elements, name, says_yes};
use super::walk::{PartReader, cut_short};
use crate::intake::{self, Exceeded};
use crate::music::Length;
use crate::score::{Note, OddityKind};

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
        if let Some(bars) = self.bars_repeated {
            self.repeat_bars(bars, measure);
        }
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

    /// A bar under a sign of repetition that holds no notes of its own sounds as the one so many bars before. Its notes are no
    /// notes of the page: none can be edited.
    fn repeat_bars(&mut self, bars: u32, measure: Node<'_, '_>) {
        let here = self.out.bars.len() as u32;
        let Some(from) = here.checked_sub(bars) else { return };
        if self.out.notes.len() > self.first_note {
            return;
        }
        let line = self.line(measure);
        if !self.in_full {
            let first = self.out.heard.partition_point(|heard| heard.at.bar < from);
            let own = self.out.heard[first..].iter().take_while(|heard| heard.at.bar == from);
            let again: Vec<Heard> =
                own.map(|heard| Heard { at: At { bar: here, ..heard.at }, ..*heard }).collect();
            self.out.heard.extend(again);
            return;
        }
        let first = self.out.notes.partition_point(|raw| raw.note.bar < from);
        let own = self.out.notes[first..].iter().take_while(|raw| raw.note.bar == from);
        let again: Vec<RawNote> = own
            .map(|RawNote { note, spans, beamed_on, modified }| RawNote {
                note: Note { bar: here, line, octave_digits: None, ..note.clone() },
                spans: spans.clone(),
                beamed_on: *beamed_on,
                modified: *modified,
            })
            .collect();
        self.reach =
            again.iter().map(|raw| raw.note.bar_onset + raw.note.length).fold(self.reach, Length::max);
        self.out.notes.extend(again);
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

#[cfg(test)]
mod tests {
    use crate::musicxml::testing::{note, plain, score};

    #[test]
    fn bars_under_a_sign_of_repetition_sound_as_the_ones_before() {
        let style = |kind: &str, bars: &str| {
            format!(
                "<attributes><measure-style><measure-repeat type='{kind}'>{bars}</measure-repeat></measure-style></attributes>"
            )
        };
        let rest = "<note><rest measure='yes'/><duration>4</duration></note>";
        let bar = |inside: &str| format!("<measure>{inside}</measure>");
        let head = "<attributes><divisions>1</divisions></attributes>";
        let one = [
            bar(&format!("{head}{}{}", note("C2", 1, ""), note("D2", 3, ""))),
            bar(&format!("{}{rest}", style("start", "1"))),
            bar(rest),
            bar(&format!("{}{rest}", style("stop", ""))),
        ];
        let part = score(&one.concat()).parts.remove(0);
        assert_eq!(plain(&part), ["C2@0+1", "D2@1+3", "C2@4+1", "D2@5+3", "C2@8+1", "D2@9+3"]);
        assert!(part.notes[2..].iter().all(|note| note.octave_digits.is_none()));
        let two = [
            bar(&format!("{head}{}", note("C2", 4, ""))),
            bar(&note("D2", 4, "")),
            bar(&format!("{}{rest}", style("start", "2"))),
            bar(rest),
            // What stands on the page counts.
            bar(&note("E2", 4, "")),
        ];
        assert_eq!(
            plain(&score(&two.concat()).parts[0]),
            ["C2@0+4", "D2@4+4", "C2@8+4", "D2@12+4", "E2@16+4"]
        );
    }
}
