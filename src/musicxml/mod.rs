//! Reading and editing `MusicXML`: bytes to a score, byte ranges to a copy.
//!
//! In go the bytes of a `.musicxml`, `.xml` or `.mxl` file; out come a [`Score`] and, later, a copy in which
//! only chosen bytes differ. The reader never fails on music, only on bytes that are not `MusicXML` or pass
//! a stated limit. No function here knows rules or profiles.

// In the order in which a file passes through them.
mod container;
mod encoding;
mod guard;
mod slices;
mod tree;
mod xml;

mod read;

mod header;
mod measure;

mod attributes;
mod direction;
mod glyphs;
mod note;

mod walk;

mod found;

mod lines;
mod time;

mod assemble;
mod dynamics;
mod joins;

mod marks;
mod order;
mod performance;
mod tempo;
mod words;

#[cfg(test)]
mod testing;

use std::ops::Range;

use thiserror::Error;

use self::container::{PackError, Packing};
pub use self::marks::{MARK_TRACES, Mark, MarkError, MarkPlace};
use crate::intake::Exceeded;
use crate::score::{PartInfo, Score};

/// An opened file: its decoded score text, and what is needed to write a copy of it.
#[derive(Debug)]
pub struct Document {
    text: String,
    packing: Packing,
}

/// Which parts are to be read in full: one answer for each part of the list, in order.
pub type Interest<'a> = &'a (dyn Fn(&[PartInfo]) -> Vec<bool> + Sync);

/// One replacement in the decoded text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// The bytes to replace; empty to insert.
    pub range: Range<usize>,
    /// What stands there instead.
    pub with: String,
}

/// Why a file cannot be read as a score.
#[derive(Debug, Error)]
pub enum ReadError {
    /// No bytes at all.
    #[error("the file is empty")]
    Empty,
    /// A limit is passed.
    #[error(transparent)]
    Exceeded(#[from] Exceeded),
    /// An encoding that nobody here knows.
    #[error("the text's encoding '{0}' is not known; export the score as UTF-8")]
    UnknownEncoding(String),
    /// Bytes that do not exist in the encoding that is declared.
    #[error("not {encoding} as declared{}; export the score as UTF-8", line.map(|line| format!(", at line {line}")).unwrap_or_default())]
    Malformed {
        /// The encoding declared, or the usual one.
        encoding: &'static str,
        /// Where, if it can be told.
        line: Option<usize>,
    },
    /// A zip archive that cannot be unpacked.
    #[error("the archive cannot be unpacked: {0}")]
    Archive(String),
    /// A zip archive that is no compressed score.
    #[error("the archive is no compressed MusicXML: it holds no META-INF/container.xml")]
    NoContainer,
    /// The archive's list of contents is not well-formed.
    #[error("META-INF/container.xml in the archive is not well-formed XML: {0}")]
    Container(String),
    /// The archive's list of contents names no score.
    #[error("META-INF/container.xml in the archive names no score (rootfile)")]
    NoRootfile,
    /// The archive does not hold the score it names.
    #[error("the archive does not hold '{0}', which META-INF/container.xml names as the score")]
    NoMember(String),
    /// Not XML at all: a program's own format, a picture, plain text.
    #[error("not XML; export the score as MusicXML")]
    NotXml,
    /// Not well-formed XML; the parser's words with line and column.
    #[error("not well-formed XML: {0}")]
    Xml(String),
    /// An opus: MusicXML, but without music of its own.
    #[error("an opus, which only lists scores; check the scores it names")]
    Opus,
    /// XML, but no MusicXML score.
    #[error("expected score-partwise or score-timewise, found '{0}'")]
    NotAScore(String),
}

/// Why a copy cannot be written.
#[derive(Debug, Error)]
pub enum EditError {
    /// Two edits overlap.
    #[error("two edits overlap at byte {0}")]
    Overlap(usize),
    /// An edit reaches past the text, or begins inside a character.
    #[error("an edit does not fit the text at byte {0}")]
    OutOfText(usize),
    /// The file's own bytes would not come out as they were.
    #[error("the file cannot be written as it was read: its {0} text has more than one spelling")]
    NotReversible(&'static str),
    /// An edit holds a character that the file's encoding lacks.
    #[error("the file's encoding {0} lacks a character that is to be written")]
    NoSuchCharacter(&'static str),
    /// The archive cannot be written.
    #[error("the archive cannot be written again: {0}")]
    Archive(String),
}

impl Document {
    /// Opens the bytes of a file: unpacks a `.mxl`, decodes the text.
    pub fn open(bytes: Vec<u8>) -> Result<Document, ReadError> {
        let opened = container::open(bytes)?;
        Ok(Document { text: opened.text, packing: opened.packing })
    }

    /// The decoded text; every byte range of a score refers to it.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Reads the score.
    pub fn read(&self, interest: Interest<'_>) -> Result<Score, ReadError> {
        read::read(&self.text, interest)
    }

    /// The whole file again with the edits made: the same encoding, line ends and container, every byte
    /// outside the edits the same. The edits are sorted here; none may overlap. Without any change it is
    /// the very file that was opened.
    pub fn with_edits(&self, edits: Vec<Edit>) -> Result<Vec<u8>, EditError> {
        Ok(self.packing.pack(&self.text, &self.edited(edits)?)?)
    }

    /// The text with the edits made.
    fn edited(&self, mut edits: Vec<Edit>) -> Result<String, EditError> {
        edits.sort_by_key(|edit| (edit.range.start, edit.range.end));
        let mut edited = String::with_capacity(self.text.len() + edits.len() * 8);
        let mut done = 0;
        for edit in &edits {
            if edit.range.start < done {
                return Err(EditError::Overlap(edit.range.start));
            }
            let kept = self.text.get(done..edit.range.start);
            // The range itself must be whole characters too.
            let (Some(kept), Some(_)) = (kept, self.text.get(edit.range.clone())) else {
                return Err(EditError::OutOfText(edit.range.start));
            };
            edited.push_str(kept);
            edited.push_str(&edit.with);
            done = edit.range.end;
        }
        edited.push_str(&self.text[done..]);
        Ok(edited)
    }
}

impl From<PackError> for EditError {
    fn from(error: PackError) -> EditError {
        match error {
            PackError::NotReversible(encoding) => EditError::NotReversible(encoding),
            PackError::NoSuchCharacter(encoding) => EditError::NoSuchCharacter(encoding),
            PackError::Archive(words) => EditError::Archive(words),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edit(range: Range<usize>, with: &str) -> Edit {
        Edit { range, with: with.to_owned() }
    }

    #[test]
    fn edits_change_their_bytes_and_no_others() {
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?>\r\n<a>\xE9 3 </a>";
        let document = Document::open(latin.to_vec()).unwrap();
        let at = document.text().find('3').unwrap();
        let copy = document.with_edits(vec![edit(at..at + 1, "12"), edit(0..0, "")]).unwrap();
        assert_eq!(copy, b"<?xml version='1.0' encoding='ISO-8859-1'?>\r\n<a>\xE9 12 </a>");
        assert!(matches!(document.with_edits(vec![edit(at..at, "♭")]), Err(EditError::NoSuchCharacter(_))));
    }

    #[test]
    fn edits_that_overlap_or_do_not_fit_are_refused() {
        let document = Document::open("<a>é</a>".into()).unwrap();
        let overlap = document.with_edits(vec![edit(2..4, ""), edit(0..3, "")]);
        assert!(matches!(overlap, Err(EditError::OutOfText(2) | EditError::Overlap(2))));
        assert!(matches!(document.with_edits(vec![edit(4..5, "")]), Err(EditError::OutOfText(4))));
        assert!(matches!(document.with_edits(vec![edit(90..91, "")]), Err(EditError::OutOfText(90))));
        #[allow(clippy::reversed_empty_ranges)]
        let reversed = document.with_edits(vec![edit(3..1, "")]);
        assert!(reversed.is_err());
    }
}
