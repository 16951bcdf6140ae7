//! Octave moves: which passages are better an octave away, and the copies that carry them.
//!
//! In go a judged section and the document it was read from; out come a [`Revision`](crate::finding::Revision)
//! (the moves), the revised copy, in which only digits inside `octave` elements differ, and the marked copy,
//! in which each finding stands above its bar. Moves are judged by the rules themselves; nothing here has a
//! limit of its own for what an instrument can do.

mod plan;
mod prove;
mod seek;
mod settle;
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

mod mark;
mod revise;

#[cfg(test)]
mod tests;

pub use mark::marked;
pub use plan::{plan, plan_weighed};
pub use revise::{Revised, revise};
