//! Octave moves: which passages are better an octave away.
//!
//! In goes a judged section, out comes a [`Revision`](crate::finding::Revision): the moves. They are judged by the
//! rules themselves; nothing here has a limit of its own for what an instrument can do. The copies that carry them are
//! made in `copies`.

mod plan;

mod descent;

mod candidates;
mod shortest_path;
mod trellis;

mod cost;
mod cuts;
mod evidence;
mod figures;
mod leaps;
mod other_voices;
mod region;
mod register;
mod witness;

mod chords;
mod confidence;
mod confirmed;
mod judged;

mod layout;
mod words;

#[cfg(test)]
mod tests;

pub use descent::Reading;
pub use plan::{plan, plan_read};
