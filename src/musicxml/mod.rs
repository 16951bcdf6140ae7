//! Reading and editing `MusicXML`: bytes to a score, byte ranges to a copy.
//!
//! In go the bytes of a `.musicxml`, `.xml` or `.mxl` file; out come a [`Score`] and, later, a copy in which
//! only chosen bytes differ. The reader never fails on music, only on bytes that are not `MusicXML` or pass
//! a stated limit. No function here knows rules or profiles.

#[allow(dead_code)] // Until the walk calls it.
mod order;
#[allow(dead_code)] // Until the walk calls it.
mod tempo;
#[allow(dead_code)] // Until the walk calls it.
mod words;

use std::ops::Range;

use thiserror::Error;

use crate::score::{PartInfo, Score};

/// An opened file: its decoded score text, and what is needed to write a copy of it.
#[derive(Debug)]
pub struct Document {
    text: String,
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
    /// Not XML; the parser's words with line and column.
    #[error("not well-formed XML: {0}")]
    Xml(String),
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
}

impl Document {
    /// Opens the bytes of a file: unpacks a `.mxl`, decodes the text.
    pub fn open(_bytes: Vec<u8>) -> Result<Document, ReadError> {
        Ok(Document { text: String::new() })
    }

    /// The decoded text; every byte range of a score refers to it.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Reads the score.
    pub fn read(&self, _interest: Interest<'_>) -> Result<Score, ReadError> {
        Err(ReadError::NotAScore(String::new()))
    }

    /// The whole file again with the edits made: the same encoding, line ends and container, every byte
    /// outside the edits the same. The edits are sorted here; none may overlap.
    pub fn with_edits(&self, _edits: Vec<Edit>) -> Result<Vec<u8>, EditError> {
        Err(EditError::Overlap(0))
    }
}
