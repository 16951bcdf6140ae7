//! Quantities with types: pitch, interval, time, tempo, dynamic, air.
//!
//! The ground floor. Nothing here knows a file format, a profile or a rule; a value that exists is
//! a valid one, and only the arithmetic that means something in music is defined.

mod air;
mod dynamic;
mod interval;
mod pitch;
mod tempo;
mod time;

pub use air::{BreathShare, Litres};
pub use dynamic::{Dynamic, DynamicError, Hairpin, Mark};
pub use interval::{Doubling, Transposition};
pub use pitch::{Alter, Height, PitchError, Sounding, Step, Written};
pub use tempo::{Reckoned, Tempo, TempoChange, TempoMap};
pub use time::{Length, Onset, Seconds};
