//! A score that can be read: every octave digit changed, written, read again; only what was meant has moved, and
//! changing back gives the very bytes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use lowbrass::musicxml::{Document, Edit};
use lowbrass::score::Score;

fuzz_target!(|bytes: &[u8]| {
    let Some((document, score)) = opened(bytes.to_vec()) else { return };
    let moved = |octave: i8| if octave >= 9 { 8 } else { octave + 1 };
    let edits = |document: &Document, score: &Score, new: &dyn Fn(usize, i8) -> String| {
        let notes = score.parts.iter().flat_map(|part| &part.notes);
        let mut index = 0;
        let mut edits = Vec::new();
        for note in notes {
            if let Some(digits) = note.octave_digits {
                let stands = &document.text()[digits.range()];
                assert!(stands.bytes().all(|byte| byte.is_ascii_digit()));
                assert_eq!(stands.parse(), Ok(note.written.octave()));
                edits.push(Edit { range: digits.range(), with: new(index, note.written.octave()) });
                index += 1;
            }
        }
        edits
    };
    let old: Vec<String> = edits(&document, &score, &|_, octave| octave.to_string())
        .iter()
        .map(|edit| document.text()[edit.range.clone()].to_owned())
        .collect();
    let there = edits(&document, &score, &|_, octave| moved(octave).to_string());
    // Bytes of an encoding with several spellings cannot be written; that is said, not risked.
    let Ok(copy) = document.with_edits(there) else { return };
    let (again, read) = opened(copy).expect("a copy can be read as its source was");
    for (before, after) in score.parts.iter().zip(&read.parts) {
        assert_eq!(before.notes.len(), after.notes.len());
        for (before, after) in before.notes.iter().zip(&after.notes) {
            let expected = match before.octave_digits {
                Some(_) => moved(before.written.octave()),
                None => before.written.octave(),
            };
            assert_eq!(after.written.octave(), expected);
            assert_eq!((before.onset, before.length, before.tie), (after.onset, after.length, after.tie));
        }
    }
    let back = edits(&again, &read, &|index, _| old[index].clone());
    let back = again.with_edits(back).expect("what was written can be written");
    if !bytes.starts_with(b"PK") {
        assert_eq!(back, bytes);
    }
});

fn opened(bytes: Vec<u8>) -> Option<(Document, Score)> {
    let document = Document::open(bytes).ok()?;
    let score = document.read(&|infos| vec![true; infos.len()]).ok()?;
    Some((document, score))
}
