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
    /// The marks do not come out again.
    #[error("the marked copy would not lead back to the score")]
    NoWayBack,
}

/// Makes sure that a copy is its source with these moves and nothing else: in its text byte by byte, and
/// as it is read note by note.
///
/// # Errors
///
/// [`VerifyError`], with the first place that is otherwise.
pub fn only_octaves_differ(
    source: (&Document, &Score),
    copy: (&Document, &Score),
    moves: &[PartMove],
) -> Result<(), VerifyError> {
    let octaves = octaves_by_note(moves);
    same_text(source, copy.0, &octaves)?;
    same_music(source.1, copy.1, &octaves)
}

/// Makes sure that a marked copy without its marks is the file that was marked, byte for byte.
///
/// # Errors
///
/// [`VerifyError::NoWayBack`].
pub fn leads_back(marked: &[u8], source: &[u8]) -> Result<(), VerifyError> {
    let back = Document::open(marked.to_vec()).ok().and_then(|copy| copy.unmarked().ok());
    if back.as_deref() == Some(source) { Ok(()) } else { Err(VerifyError::NoWayBack) }
}

/// Octaves by part and note.
type Moved = BTreeMap<(u32, u32), i8>;

fn octaves_by_note(moves: &[PartMove]) -> Moved {
    let mut octaves = Moved::new();
    for made in moves {
        for &note in &made.octave_move.notes {
            *octaves.entry((made.part, note)).or_default() += made.octave_move.octaves;
        }
    }
    octaves
}

fn same_text(source: (&Document, &Score), copy: &Document, moved: &Moved) -> Result<(), VerifyError> {
    let (document, score) = source;
    let (text, copied) = (document.text(), copy.text());
    let mut digits: Vec<Range<usize>> = moved
        .keys()
        .filter_map(|&(part, note)| note_of(score, part, note)?.octave_digits.map(SourceRange::range))
        .collect();
    digits.sort_by_key(|range| range.start);
    // The first byte that differs, from two places at which both are still the same.
    let differs = |here: usize, there: usize| {
        let (kept, written) = (&text.as_bytes()[here..], copied.as_bytes().get(there..).unwrap_or_default());
        let same = kept.iter().zip(written).take_while(|(kept, written)| kept == written).count();
        VerifyError::Text { line: text.as_bytes()[..here + same].split(|byte| *byte == b'\n').count() }
    };
    let (mut here, mut there) = (0, 0);
    for range in digits {
        let kept = text.get(here..range.start).ok_or_else(|| differs(here, there))?;
        if !copied.get(there..).is_some_and(|rest| rest.starts_with(kept)) {
            return Err(differs(here, there));
        }
        there += kept.len();
        let written = copied.get(there..).unwrap_or_default();
        there += written.bytes().take_while(u8::is_ascii_digit).count();
        here = range.end;
    }
    if text.get(here..) == copied.get(there..) { Ok(()) } else { Err(differs(here, there)) }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::testing::{room, score};
    use crate::check::{Orders, read};
    use crate::finding::{OctaveMove, Place, Standing};

    fn source() -> String {
        score(&[("Tuba", &["F2", "F0", "E2"])])
    }

    fn opened(text: &str) -> (Document, Score) {
        let document = Document::open(text.as_bytes().to_vec()).unwrap();
        let score = read(&document, &room(), &Orders::default()).unwrap();
        (document, score)
    }

    /// The source with one text in it replaced, judged as a copy that moves the second note up an octave.
    #[track_caller]
    fn copied(changes: &[(&str, &str)]) -> Result<(), VerifyError> {
        let (document, score) = opened(&source());
        let place = Place::of_note(&score, &score.parts[0].notes[1], "1");
        let octave_move = OctaveMove {
            octaves: 1,
            sounding: None,
            from: place.clone(),
            to: place,
            notes: vec![1],
            standing: Standing::Safe,
            clears: Vec::new(),
            leaves: Vec::new(),
            why_not_safe: None,
            doubling: None,
            layout: None,
        };
        let mut copy = source();
        for (from, to) in changes {
            assert!(copy.contains(from), "{from} is not in the source");
            copy = copy.replacen(from, to, 1);
        }
        let (copy, reread) = opened(&copy);
        only_octaves_differ((&document, &score), (&copy, &reread), &[PartMove { part: 0, octave_move }])
    }

    const MOVED: (&str, &str) = ("<octave>0</octave>", "<octave>1</octave>");

    #[test]
    fn a_copy_with_the_move_and_nothing_else_is_good() {
        assert_eq!(copied(&[MOVED]), Ok(()));
    }

    #[test]
    fn a_note_that_is_not_moved_so_far_is_told() {
        let told = |copy: Result<(), VerifyError>| match copy {
            Err(VerifyError::Music { part, line }) => (part, line),
            other => panic!("{other:?}"),
        };
        let line = source().lines().position(|line| line.contains("<octave>0")).unwrap() + 1;
        let expected = ("Tuba".to_owned(), u32::try_from(line).unwrap());
        assert_eq!(told(copied(&[])), expected);
        assert_eq!(told(copied(&[("<octave>0</octave>", "<octave>2</octave>")])), expected);
    }

    #[test]
    fn a_spoiled_copy_is_refused() {
        // Another note's octave, a step, a length, a mark, a blank, an element: whatever it is.
        let spoiled = [
            ("<octave>2</octave>", "<octave>3</octave>"),
            ("<step>E</step>", "<step>D</step>"),
            ("<duration>4</duration>", "<duration>2</duration>"),
            ("<mf/>", "<ff/>"),
            ("</part-list>", "</part-list> "),
            ("<voice>1</voice></note>", "<voice>1</voice><stem>up</stem></note>"),
            ("tempo=\"120\"", "tempo=\"12\""),
            ("</score-partwise>\n", "</score-partwise>"),
        ];
        for change in spoiled {
            let refused = copied(&[MOVED, change]);
            assert!(matches!(refused, Err(VerifyError::Text { .. })), "{change:?}: {refused:?}");
        }
    }

    #[test]
    fn where_the_text_differs_is_told_by_its_line() {
        let line = source().lines().position(|line| line.contains("</part-list>")).unwrap() + 1;
        let refused = copied(&[MOVED, ("</part-list>", "</part-list><!-- x -->")]);
        assert!(matches!(refused, Err(VerifyError::Text { line: told }) if told == line), "{refused:?}");
    }

    #[test]
    fn music_that_reads_otherwise_is_refused_even_where_the_text_is_not_looked_at() {
        let (_, score) = opened(&source());
        let moved = Moved::new();
        let other = |text: &str| same_music(&score, &opened(text).1, &moved);
        assert_eq!(other(&source()), Ok(()));
        let softer = other(&source().replace("<mf/>", "<pp/>"));
        assert!(matches!(softer, Err(VerifyError::Music { .. })));
        let shorter = self::score(&[("Tuba", &["F2", "F0"])]);
        assert_eq!(other(&shorter), Err(VerifyError::Shape));
        let renamed = source().replace("Tuba", "Tuba 1");
        assert_eq!(other(&renamed), Err(VerifyError::Shape));
    }
}
