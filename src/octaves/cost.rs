//! What a plan costs, in strict order: the first line that differs decides.

use std::cmp::Ordering;
use std::ops::{Add, AddAssign};

/// The cost of a plan, or of one note's or one gap's share of it. Compared line by line, risks and shape as one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Cost {
    /// Notes that cannot be played.
    pub errors: u32,
    /// Notes that are a risk, once more each that was none, and notes moved by two octaves, each at its price in hundredths
    /// of a nat: the nearest octave that serves is the one an orchestrator takes, since colour matters more than a
    /// smooth leap, but nobody moves a page that is sound for one note.
    pub risks: i64,
    /// How seldom such a line is: the leaps it makes and where it stands to the other voices, in hundredths
    /// of a nat (100 × −ln of a share). Seams and broken octaves with other voices weigh together here, for
    /// each alone misplaces the end of a passage that the other shows plainly.
    pub shape: i64,
    /// Notes with something worth knowing.
    pub remarks: u32,
    /// Notes moved, times octaves.
    pub moved: u32,
}

impl Cost {
    /// Of shape alone.
    pub(super) const fn of_shape(shape: i64) -> Cost {
        Cost { errors: 0, risks: 0, shape, remarks: 0, moved: 0 }
    }

    /// What stands in one sum, in hundredths of a nat.
    pub(super) fn in_nats(self) -> i64 {
        self.shape + self.risks
    }

    fn in_order(&self) -> (u32, i64, u32, u32) {
        (self.errors, self.in_nats(), self.remarks, self.moved)
    }
}

impl PartialOrd for Cost {
    fn partial_cmp(&self, other: &Cost) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Cost {
    fn cmp(&self, other: &Cost) -> Ordering {
        self.in_order().cmp(&other.in_order())
    }
}

impl Add for Cost {
    type Output = Cost;
    fn add(self, other: Cost) -> Cost {
        Cost {
            errors: self.errors + other.errors,
            risks: self.risks + other.risks,
            shape: self.shape + other.shape,
            remarks: self.remarks + other.remarks,
            moved: self.moved + other.moved,
        }
    }
}

impl AddAssign for Cost {
    fn add_assign(&mut self, other: Cost) {
        *self = *self + other;
    }
}
