//! A bar of the score: its number, where it starts, how it is counted.

use crate::music::{Length, Onset};

/// One measure, the same for all parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bar {
    /// The printed bar number (`text` where given and not implicit, else `number`).
    pub number: String,
    /// Where it starts, in quarter notes from the start of the score.
    pub start: Onset,
    /// How long it lasts: the longest content in any part.
    pub length: Length,
    /// How long its time signature says; `None` under senza misura or before any signature.
    pub nominal: Option<Length>,
    /// The unit its beats are counted in: the time signature's lower number, as a length.
    pub beat: Length,
}

impl Bar {
    /// The note that counts as one beat, as a time signature's lower number says it: 4 for a quarter.
    pub fn beat_unit(&self) -> u32 {
        let units = Length::whole_quarters(4).in_units_of(self.beat).map_or(4.0, Length::in_quarters);
        u32::try_from(units.round() as i64).ok().filter(|&units| units > 0).unwrap_or(4)
    }

    /// The beat of a place so far into this bar: 1 at its start, counted in [`Bar::beat`].
    pub fn beat_at(&self, into: Length) -> Length {
        into.in_units_of(self.beat).unwrap_or(into) + Length::QUARTER
    }
}
