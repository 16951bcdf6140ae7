//! From scores to a finished report: reading, judging, moves, waivers, baseline.
//!
//! [`Run`] is the whole of it: in go files and folders as they were named and what is asked of them ([`Request`]); out come
//! the report and copies that were read back and compared. [`check`] does one score from its bytes. Files are written here,
//! whole or not at all; nothing is printed.

mod run;

mod at_once;
mod fault;
mod gather;
mod job;
mod room;
mod seating;
mod staves;

mod aligned;
mod compare;
mod pair;

mod reader;
mod session;
mod watched;

mod score;

mod accepting;
mod baseline;
mod house;
mod levels;
mod waivers;

mod copy;
mod places;

pub use baseline::{Accepted, Baseline, BaselineError};
pub use compare::{CompareError, Compared, compare};
pub use copy::{Inputs, Replace, WriteError, may_write, write_whole};
pub use fault::{Fault, caught, keep_quiet};
pub use gather::{
    GatherError, Gathered, PassedOver, Source, gather, looks_like_a_score, named_like_a_score, relative_to,
    shown,
};
pub use places::{Copied, Copies, CopiesError, Goal, Tally};
pub use room::{Config, Room, RoomError, Rooms};
pub use run::{Done, Finished, NoSuchPart, Request, Run, RunError, ScoreError};
pub use score::{Accepts, CheckError, Checked, Paths, RevisedCopy, Task, check, read, read_players};
pub use seating::{Orders, has_wanted, infos, seat};
pub use session::{SessionError, SessionOfCues, room_of, session};
pub use waivers::{Housekeeping, InForce, Outcome};
pub use watched::Watched;

#[cfg(test)]
pub(crate) mod testing;
