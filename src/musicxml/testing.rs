//! A score in a few lines of XML, for tests.

use super::{Document, ReadError};
use crate::score::{Part, Score};

/// Reads a file with every part in full.
pub(super) fn read(text: impl AsRef<[u8]>) -> Result<Score, ReadError> {
    Document::open(text.as_ref().to_vec())?.read(&|infos| vec![true; infos.len()])
}

/// A score of one part with these measures.
#[track_caller]
pub(super) fn score(measures: &str) -> Score {
    read(format!(
        "<score-partwise><part-list><score-part id='P1'><part-name>Tuba</part-name>
        <score-instrument id='I1'><instrument-name>Tuba</instrument-name></score-instrument>
        <score-instrument id='I2'><instrument-name>Cimbasso</instrument-name></score-instrument>
        </score-part></part-list><part id='P1'>{measures}</part></score-partwise>"
    ))
    .unwrap()
}

/// The part of a score of one bar with this content, four divisions a quarter note, 4/4.
#[track_caller]
pub(super) fn bar(content: &str) -> Part {
    bars(&[content])
}

/// The part of a score with a bar for each of these contents, four divisions a quarter note, 4/4.
#[track_caller]
pub(super) fn bars(contents: &[&str]) -> Part {
    let attributes = "<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
    let measure = |(number, content): (usize, &&str)| {
        let attributes = if number == 0 { attributes } else { "" };
        format!("<measure number='{}'>{attributes}{content}</measure>", number + 1)
    };
    score(&contents.iter().enumerate().map(measure).collect::<String>()).parts.remove(0)
}

/// A note of so many divisions, with more inside.
pub(super) fn note(pitch: &str, duration: u32, inside: &str) -> String {
    let (step, octave) = pitch.split_at(1);
    format!(
        "<note>{}<pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>{duration}</duration>{}</note>",
        if inside.contains("<chord/>") { "<chord/>" } else { "" },
        inside.replace("<chord/>", ""),
    )
}

/// A direction with this inside its `direction-type`.
pub(super) fn direction(kind: &str) -> String {
    format!("<direction><direction-type>{kind}</direction-type></direction>")
}

/// Each note as "pitch@place+length" with what a closure adds.
pub(super) fn rows(part: &Part, more: impl Fn(&crate::score::Note) -> String) -> Vec<String> {
    let row = |note: &crate::score::Note| {
        let more = more(note);
        format!("{}@{}+{}{more}", note.sounding, note.onset, note.length)
    };
    part.notes.iter().map(row).collect()
}

/// Each note without more.
pub(super) fn plain(part: &Part) -> Vec<String> {
    rows(part, |_| String::new())
}
