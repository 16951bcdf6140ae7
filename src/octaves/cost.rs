//! What a plan costs, in strict order: the first line that differs decides.

use std::ops::{Add, AddAssign};

/// The cost of a plan, or of one note's or one gap's share of it. Comparing compares field by field.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cost {
    /// Notes that cannot be played.
    pub errors: u32,
    /// Notes that are a risk.
    pub warnings: u32,
    /// Notes with trouble that they did not have.
    pub new: u32,
    /// Notes moved by two octaves. The nearest octave that serves is the one an orchestrator takes: colour
    /// matters more than a smooth leap.
    pub far: u32,
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
    /// What decides before shape: trouble and far moves.
    pub(super) const fn trouble(&self) -> (u32, u32, u32, u32) {
        (self.errors, self.warnings, self.new, self.far)
    }

    /// Of shape alone.
    pub(super) const fn of_shape(shape: i64) -> Cost {
        Cost { errors: 0, warnings: 0, new: 0, far: 0, shape, remarks: 0, moved: 0 }
    }
}

impl Add for Cost {
    type Output = Cost;
    fn add(self, other: Cost) -> Cost {
        Cost {
            errors: self.errors + other.errors,
            warnings: self.warnings + other.warnings,
            new: self.new + other.new,
            far: self.far + other.far,
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
