//! From scores to a finished report: reading, judging, moves, waivers, baseline.
//!
//! In go files as they were named and what is asked of them; out come the report's structs and copies that
//! were read back and compared. Files are written here, whole or not at all; nothing is printed.

mod gather;
mod room;
mod seating;
mod staves;

mod score;

mod baseline;
mod levels;
mod waivers;

mod copy;

pub use baseline::{Accepted, Baseline, BaselineError};
pub use copy::{Inputs, Replace, WriteError, may_write, write_whole};
pub use gather::{
    GatherError, Gathered, PassedOver, Source, gather, looks_like_a_score, named_like_a_score, relative_to,
    shown,
};
pub use room::{Config, Room, RoomError, Rooms};
pub use score::{Accepts, CheckError, Checked, Paths, RevisedCopy, Task, check, read, read_players};
pub use seating::{Orders, has_wanted, infos, seat};
pub use waivers::{Housekeeping, InForce, Outcome};

#[cfg(test)]
pub(crate) mod testing;
