//! From scores to a finished report: reading, judging, moves, waivers, baseline.

mod copy;
mod gather;

pub use copy::{Inputs, Replace, WriteError, may_write, write_whole};
pub use gather::{GatherError, Gathered, PassedOver, Source, gather, looks_like_a_score, relative_to, shown};
