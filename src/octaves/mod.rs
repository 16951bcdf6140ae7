//! Octave moves: which passages are better an octave away.
//!
//! In goes a judged section, out comes a [`Revision`](crate::finding::Revision): the moves. They are judged by the
//! rules themselves; nothing here has a limit of its own for what an instrument can do. The copies that carry them are
//! made in `copies`.

mod descent;
mod plan;
mod prove;
mod seek;
mod trial;

mod company;
mod cost;
mod cuts;
mod figures;
mod layout;
mod leaps;
mod region;
mod register;
mod search;
mod standing;
mod strip;
mod witness;
mod words;

#[cfg(test)]
mod tests;

pub use descent::Reading;
pub use plan::{plan, plan_read};
