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
    /// Which time through their repeat that is, from 1; after a da capo or dal segno, where repeats are left out, the last.
    pub time: u32,
}

/// The times through a repeat on which something counts (`time-only`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Passes(u64);

impl PerformanceOrder {
    /// All bars once, from first to last.
    pub fn straight(bars: u32) -> PerformanceOrder {
        PerformanceOrder { stretches: vec![Stretch { bars: 0..bars, pass: 1, time: 1 }] }
    }
}

impl Passes {
    /// Every time.
    pub const EVERY: Passes = Passes(u64::MAX);

    /// These times only, counted from 1; all beyond the 64th are as the 64th.
    pub fn only(times: impl IntoIterator<Item = u32>) -> Passes {
        Passes(times.into_iter().fold(0, |passes, time| passes | Passes::bit(time)))
    }

    /// Whether this time is one of them.
    pub fn has(self, time: u32) -> bool {
        self.0 & Passes::bit(time) != 0
    }

    fn bit(time: u32) -> u64 {
        1 << (time.clamp(1, 64) - 1)
    }
}

impl Default for Passes {
    fn default() -> Passes {
        Passes::EVERY
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passes_hold_the_times_they_were_given() {
        let passes = Passes::only([1, 3, 400]);
        let held: Vec<u32> = (1..=70).filter(|&time| passes.has(time)).collect();
        assert_eq!(held, [1, 3, 64, 65, 66, 67, 68, 69, 70]);
        assert!(Passes::EVERY.has(1) && Passes::EVERY.has(999));
    }
}
