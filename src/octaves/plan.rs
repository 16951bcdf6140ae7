//! From findings to moves.

use crate::finding::{Finding, Revision};
use crate::playing::Section;

/// Plans the octave moves of a section: gives each range or loudness finding that a move cures its move,
/// and returns all moves, safe ones and those for review, by part and place.
///
/// `findings` are those of [`judge`](crate::rules::judge) on the same section. A waived finding asks for no
/// move.
pub fn plan(_section: &Section<'_>, _findings: &mut [Finding]) -> Revision {
    Revision::default()
}
