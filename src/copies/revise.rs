//! The revised copy: the moves as edits of the digits inside `octave` elements, and nothing else.

use std::collections::BTreeSet;

use crate::finding::{PartMove, Revision, Standing};
use crate::musicxml::{Document, Edit, EditError};
use crate::score::{Note, Part, Score};

/// A revised copy.
#[derive(Clone, Debug)]
pub struct Revised {
    /// The whole file, in the encoding and container of the source.
    pub bytes: Vec<u8>,
    /// The moves that were made, in the order of the revision.
    pub applied: Vec<PartMove>,
}

/// Writes the copy with the safe moves made, and with those for review when `include_review`.
///
/// A move is made whole or not at all: it is passed over when one of its notes has no plain digit to edit,
/// would leave the octaves 0 to 9 that `MusicXML` can write, or was already moved.
///
/// # Errors
///
/// Those of [`Document::with_edits`].
pub fn revise(
    document: &Document,
    score: &Score,
    revision: &Revision,
    include_review: bool,
) -> Result<Revised, EditError> {
    let mut moved = BTreeSet::new();
    let mut edits = Vec::new();
    let mut applied = Vec::new();
    for part_move in &revision.moves {
        let wanted = match part_move.octave_move.standing {
            Standing::Safe => true,
            Standing::Review => include_review,
            Standing::Manual => false,
        };
        let part = score.parts.iter().find(|part| part.info.index == part_move.part);
        let (true, Some(part)) = (wanted, part) else { continue };
        let Some(of_this) = edits_of(part, part_move) else { continue };
        if of_this.iter().any(|edit| moved.contains(&edit.range.start)) {
            continue;
        }
        moved.extend(of_this.iter().map(|edit| edit.range.start));
        edits.extend(of_this);
        applied.push(part_move.clone());
    }
    Ok(Revised { bytes: document.with_edits(edits)?, applied })
}

/// The digits a note would have `octaves` higher; `None` where they cannot be written.
fn digits_after(note: &Note, octaves: i8) -> Option<(std::ops::Range<usize>, String)> {
    let octave = note.written.octave().checked_add(octaves).filter(|octave| (0..=9).contains(octave))?;
    Some((note.octave_digits?.range(), octave.to_string()))
}

fn edits_of(part: &Part, part_move: &PartMove) -> Option<Vec<Edit>> {
    let notes = &part_move.octave_move.notes;
    notes
        .iter()
        .map(|&index| {
            let note = part.notes.get(index as usize)?;
            let (range, with) = digits_after(note, part_move.octave_move.octaves)?;
            Some(Edit { range, with })
        })
        .collect()
}
