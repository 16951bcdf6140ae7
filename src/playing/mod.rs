//! What players can do with a part: loudness, breath, slide, valves, agility, instrument choice, doublings.
//!
//! In go a score and profiles, out come answers; every function is pure and none knows rules or words.

pub mod agility;
mod asked;
pub mod breath;
mod desk;
pub mod doublings;
pub mod hand;
pub mod harmony;
pub mod instruments;
pub mod load;
pub mod loudness;
mod partials;
mod seat;
pub mod slide;
#[cfg(test)]
pub(crate) mod testing;
pub mod trill;
pub mod valves;

pub use crate::profile::{Doubt, RecognisedBy};
pub use asked::HeldAgain;
pub use desk::{Desk, Section, Unrecognised};
pub use hand::InstrumentInHand;
pub use seat::seat;
