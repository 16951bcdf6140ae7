//! The copies that go out: the revised one, in which only digits inside `octave` elements differ, and the marked one, in
//! which remarks and moves stand above their bars.
//!
//! In go the document, the score that was read from it, moves and findings; out come the bytes of a whole file. Each copy
//! is read back and compared before anyone gets it.

mod mark;
mod revise;
mod unmark;
mod verify;

pub use mark::{marked, marked_revision};
pub use revise::{Revised, revise};
pub use unmark::{Unmarked, is_marked, unmarked};
pub use verify::{VerifyError, leads_back, only_octaves_differ};
