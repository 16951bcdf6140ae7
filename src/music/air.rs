//! Air: litres, and shares of one full breath.

use std::fmt;
use std::ops::{Add, Sub};

/// A volume of air in litres.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Litres(f64);

/// A share of one full breath: 0 is nothing, 1 is all that a player can use.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct BreathShare(f64);

impl Litres {
    /// From a number of litres.
    pub const fn new(litres: f64) -> Litres {
        Litres(litres)
    }

    /// As a number.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl BreathShare {
    /// No air.
    pub const NONE: BreathShare = BreathShare(0.0);
    /// All the air a player can use.
    pub const FULL: BreathShare = BreathShare(1.0);

    /// From a share; 1 is a full breath, more than 1 is more than a player has.
    pub const fn new(share: f64) -> BreathShare {
        BreathShare(share)
    }

    /// As a number.
    pub const fn get(self) -> f64 {
        self.0
    }

    /// Held between nothing and a full breath: what is in the lungs after breathing in.
    #[must_use]
    pub fn held(self) -> BreathShare {
        BreathShare(self.0.clamp(0.0, 1.0))
    }
}

impl Add for BreathShare {
    type Output = BreathShare;
    fn add(self, other: BreathShare) -> BreathShare {
        BreathShare(self.0 + other.0)
    }
}

impl Sub for BreathShare {
    type Output = BreathShare;
    fn sub(self, other: BreathShare) -> BreathShare {
        BreathShare(self.0 - other.0)
    }
}

impl fmt::Display for BreathShare {
    /// In whole per cent.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} %", self.0 * 100.0)
    }
}
