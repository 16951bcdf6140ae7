//! The revised copy: the moves as edits of the digits inside `octave` elements, and nothing else.

use std::collections::BTreeMap;

use crate::finding::{PartMove, Revision, Standing};
use crate::musicxml::{Document, Edit, EditError};
use crate::score::{Note, Score};

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
/// A move is made whole or not at all: it is passed over when one of its notes has no plain digit to edit, or would leave
/// the octaves 0 to 9 that `MusicXML` can write, or stands in another part, too, that moved it. A note of several moves goes by all
/// their octaves.
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
    // By where a note's digits stand: whose it is, by how many octaves, and the edit.
    let mut edits: BTreeMap<usize, (u32, i8, Edit)> = BTreeMap::new();
    let mut applied = Vec::new();
    let is_safe = |made: &PartMove| made.octave_move.standing == Standing::Safe;
    let is_wanted =
        |made: &PartMove| is_safe(made) || include_review && made.octave_move.standing == Standing::Review;
    let mut wanted: Vec<(usize, &PartMove)> =
        revision.moves.iter().enumerate().filter(|(_, made)| is_wanted(made)).collect();
    // The safe ones first: those for review may stand on them.
    wanted.sort_by_key(|(_, made)| !is_safe(made));
    for (index, made) in wanted {
        let Some(part) = score.parts.iter().find(|part| part.info.index == made.part) else { continue };
        let of_this = made.octave_move.notes.iter().map(|&note| {
            let note = part.notes.get(note as usize)?;
            let at = note.octave_digits?.range().start;
            let so_far = match edits.get(&at) {
                None => 0,
                Some(&(of_part, octaves, _)) => (of_part == made.part).then_some(octaves)?,
            };
            let octaves = so_far + made.octave_move.octaves;
            let (range, with) = digits_after(note, octaves)?;
            Some((at, (made.part, octaves, Edit { range, with })))
        });
        let Some(of_this) = of_this.collect::<Option<Vec<_>>>() else { continue };
        edits.extend(of_this);
        applied.push((index, made.clone()));
    }
    applied.sort_by_key(|(index, _)| *index);
    let edits = edits.into_values().map(|(_, _, edit)| edit).collect();
    let applied = applied.into_iter().map(|(_, made)| made).collect();
    Ok(Revised { bytes: document.with_edits(edits)?, applied })
}

/// The digits a note would have `octaves` higher; `None` where they cannot be written.
fn digits_after(note: &Note, octaves: i8) -> Option<(std::ops::Range<usize>, String)> {
    let octave = note.written.octave().checked_add(octaves).filter(|octave| (0..=9).contains(octave))?;
    Some((note.octave_digits?.range(), octave.to_string()))
}
