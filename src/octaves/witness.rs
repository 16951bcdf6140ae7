//! Which notes may be asked where a note belongs: not those that may have gone astray with it.

use std::ops::Range;

use crate::score::Line;

/// A line in stretches: short passages, and pieces of long ones.
#[derive(Clone, Debug)]
pub(super) struct Stretches {
    /// For each stretch the notes that may stand or fall together with its own: it and its neighbours in the
    /// same passage.
    pub around: Vec<Range<usize>>,
    /// The stretch of each note.
    pub of_note: Vec<usize>,
}

impl Stretches {
    /// Stretches of no more than `notes` notes: what is heard apart from the rest of its passage.
    pub(super) fn of(line: &Line, notes: usize) -> Stretches {
        let mut stretches = Stretches { around: Vec::new(), of_note: vec![0; line.played.len()] };
        for passage in &line.passages {
            for from in passage.clone().step_by(notes) {
                let to = (from + notes).min(passage.end);
                stretches.of_note[from..to].fill(stretches.around.len());
                let before = from.saturating_sub(notes).max(passage.start);
                stretches.around.push(before..(to + notes).min(passage.end));
            }
        }
        stretches
    }

    /// The notes that are no witnesses for a note.
    pub(super) fn around(&self, note: usize) -> Range<usize> {
        self.around[self.of_note[note]].clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::testing::music;

    #[test]
    fn a_short_passage_is_no_witness_for_itself_and_a_long_one_is_beyond_its_next_stretches() {
        let long = "C3 ".repeat(100);
        let music = music(&format!("C3 D3 r/2 | {long}"));
        let stretches = Stretches::of(&music.lines[0], 24);
        assert_eq!(stretches.around(1), 0..2);
        assert_eq!(stretches.around(2), 2..2 + 48);
        assert_eq!(stretches.around(2 + 24), 2..2 + 72);
        assert_eq!(stretches.around(101), 2 + 72..102);
    }
}
