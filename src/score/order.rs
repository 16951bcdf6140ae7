//! The order in which the bars are played: repeats, endings and jumps played out.

use std::ops::Range;

/// The written bars in playing order. Always covers at least one stretch when the score has a bar.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct PerformanceOrder {
    /// Stretches of neighbouring bars, one after the other.
    pub stretches: Vec<Stretch>,
}

/// Neighbouring bars played through once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Indices into [`Score::bars`](super::Score::bars).
    pub bars: Range<u32>,
    /// Which time these bars are played, from 1.
    pub pass: u32,
}

impl PerformanceOrder {
    /// All bars once, from first to last.
    pub fn straight(bars: u32) -> PerformanceOrder {
        PerformanceOrder { stretches: vec![Stretch { bars: 0..bars, pass: 1 }] }
    }
}
