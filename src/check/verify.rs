//! A revised copy against its source: only octaves may differ, and only those that were to be moved.

use std::collections::BTreeMap;
use std::ops::Range;

use thiserror::Error;

use crate::finding::PartMove;
use crate::musicxml::Document;
use crate::score::{Note, Part, Score, SourceRange};

/// How a copy is not what it should be.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum VerifyError {
    /// Text outside the moved notes' octave digits differs.
    #[error("the copy would differ outside octaves, near line {line}")]
    Text {
        /// Line of the source, from 1.
        line: usize,
    },
    /// The copy reads as other music.
    #[error("the copy would read as other music in {part}, near line {line}")]
    Music {
        /// The part's name.
        part: String,
        /// Line of the source, from 1.
        line: u32,
    },
    /// The copy has other parts or another number of notes.
    #[error("the copy would read with other parts or notes")]
    Shape,
}

/// Makes sure that a copy is its source with these moves and nothing else: in its text byte by byte, and
/// as it is read note by note.
pub(super) fn only_octaves_differ(
    source: (&Document, &Score),
    copy: (&Document, &Score),
    moves: &[PartMove],
) -> Result<(), VerifyError> {
    let octaves = octaves_by_note(moves);
    same_text(source, copy.0, &octaves)?;
    same_music(source.1, copy.1, &octaves)
}

/// Octaves by part and note.
type Moved = BTreeMap<(u32, u32), i8>;

fn octaves_by_note(moves: &[PartMove]) -> Moved {
    moves
        .iter()
        .flat_map(|made| {
            let octaves = made.octave_move.octaves;
            made.octave_move.notes.iter().map(move |&note| ((made.part, note), octaves))
        })
        .collect()
}

fn same_text(source: (&Document, &Score), copy: &Document, moved: &Moved) -> Result<(), VerifyError> {
    let (document, score) = source;
    let (text, copied) = (document.text(), copy.text());
    let mut digits: Vec<Range<usize>> = moved
        .keys()
        .filter_map(|&(part, note)| note_of(score, part, note)?.octave_digits.map(SourceRange::range))
        .collect();
    digits.sort_by_key(|range| range.start);
    let differs = |at: usize| VerifyError::Text { line: text[..at].matches('\n').count() + 1 };
    let (mut here, mut there) = (0, 0);
    for range in digits {
        let kept = text.get(here..range.start).ok_or_else(|| differs(here))?;
        if !copied.get(there..).is_some_and(|rest| rest.starts_with(kept)) {
            return Err(differs(here));
        }
        there += kept.len();
        let written = copied.get(there..).unwrap_or_default();
        there += written.bytes().take_while(u8::is_ascii_digit).count();
        here = range.end;
    }
    if text.get(here..) == copied.get(there..) { Ok(()) } else { Err(differs(here)) }
}

fn same_music(source: &Score, copy: &Score, moved: &Moved) -> Result<(), VerifyError> {
    if source.parts.len() != copy.parts.len() || source.bars != copy.bars {
        return Err(VerifyError::Shape);
    }
    for (part, copied) in source.parts.iter().zip(&copy.parts) {
        if part.info != copied.info || part.notes.len() != copied.notes.len() {
            return Err(VerifyError::Shape);
        }
        for (index, (note, now)) in (0_u32..).zip(part.notes.iter().zip(&copied.notes)) {
            let octaves = moved.get(&(part.info.index, index)).copied().unwrap_or(0);
            if !is_moved_so_far(note, now, octaves) {
                return Err(VerifyError::Music { part: part.info.name.clone(), line: note.line });
            }
        }
    }
    Ok(())
}

/// Whether a note is the same an octave or more away, in all that a player would notice.
fn is_moved_so_far(note: &Note, now: &Note, octaves: i8) -> bool {
    note.written.up_octaves(octaves) == now.written
        && note.sounding.up_octaves(octaves) == now.sounding
        && (note.bar, note.onset, note.length, note.tie) == (now.bar, now.onset, now.length, now.tie)
        && (note.voice, note.staff, note.grace, note.cue) == (now.voice, now.staff, now.grace, now.cue)
        && (note.hidden, note.chord, note.dynamic) == (now.hidden, now.chord, now.dynamic)
        && (note.articulations, note.joins, note.mute) == (now.articulations, now.joins, now.mute)
}

fn note_of(score: &Score, part: u32, note: u32) -> Option<&Note> {
    let part: &Part = score.parts.iter().find(|read| read.info.index == part)?;
    part.notes.get(note as usize)
}
