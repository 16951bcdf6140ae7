//! Valves: which of them give a pitch, and how far out of tune.
//!
//! The lengths of valves add, not their semitones: with r = 2^(s/12) − 1 for each valve down, the horn is
//! 1 + Σ r times as long, and the more valves, the sharper. On a compensating horn the fourth valve makes
//! the loops of the first three longer by its own ratio. Partials count as their tempered pitch.

use crate::music::Sounding;
use crate::profile::Valves;

/// One way to play a pitch.
#[derive(Clone, Debug, PartialEq)]
pub struct Fingering {
    /// The valves down, from 1, in order; empty for the open horn.
    pub valves: Vec<u8>,
    /// Its partial, 1 for a pedal.
    pub partial: u8,
    /// Cents the combination sounds sharp (negative: flat).
    pub cents: f64,
}

/// The best combination for a pitch: the one least out of tune, of equal ones the one with fewer valves. `None` where none
/// comes within [`Valves::sharp_missing`].
pub fn fingering(_valves: &Valves, _pitch: Sounding) -> Option<Fingering> {
    None
}
