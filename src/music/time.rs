//! Time on the page as exact fractions of a quarter note, and time in the room as seconds.
//!
//! An [`Onset`] is a place, a [`Length`] a distance: an onset plus a length is an onset, two onsets do
//! not add. Only a [`TempoMap`](super::TempoMap) turns either into [`Seconds`].

use std::cmp::Ordering;
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub};

use num_rational::Ratio;

/// A place in the written score, in quarter notes from its start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Onset(Ratio<i64>);

/// A distance in the written score, in quarter notes. Never negative where it stands for a duration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Length(Ratio<i64>);

/// Time in the room, in seconds.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Seconds(f64);

impl Onset {
    /// The start of the score.
    pub const START: Onset = Onset(Ratio::new_raw(0, 1));

    /// The distance from `earlier` to here (negative when `earlier` is later).
    pub fn since(self, earlier: Onset) -> Length {
        Length(sub(self.0, earlier.0))
    }

    /// The place as a length from the start of the score.
    pub fn from_start(self) -> Length {
        Length(self.0)
    }

    /// In quarter notes, rounded as a float does.
    pub fn quarters(self) -> f64 {
        float(self.0)
    }
}

impl Length {
    /// No time at all.
    pub const ZERO: Length = Length(Ratio::new_raw(0, 1));
    /// A quarter note.
    pub const QUARTER: Length = Length(Ratio::new_raw(1, 1));

    /// `numerator / denominator` quarter notes; `None` when the denominator is 0.
    pub fn quarters(numerator: i64, denominator: i64) -> Option<Length> {
        (denominator != 0 && denominator != i64::MIN && numerator != i64::MIN)
            .then(|| Length(Ratio::new(numerator, denominator)))
    }

    /// Whole quarter notes.
    pub const fn whole_quarters(quarters: i64) -> Length {
        Length(Ratio::new_raw(quarters, 1))
    }

    /// In quarter notes, rounded as a float does.
    pub fn in_quarters(self) -> f64 {
        float(self.0)
    }

    /// Numerator and denominator of the reduced fraction.
    pub fn parts(self) -> (i64, i64) {
        (*self.0.numer(), *self.0.denom())
    }

    /// Whether it is exactly nothing.
    pub fn is_zero(self) -> bool {
        self == Length::ZERO
    }

    /// How many `unit`s fit, as an exact length counted in units (used for beats); `None` for a unit of 0.
    pub fn in_units_of(self, unit: Length) -> Option<Length> {
        if unit.is_zero() {
            return None;
        }
        let exact = num_checked_div(self.0, unit.0);
        Some(Length(exact.unwrap_or_else(|| approximate(float(self.0) / float(unit.0)))))
    }

    /// This length taken `numerator / denominator` times; `None` when the denominator is 0.
    pub fn times(self, numerator: i64, denominator: i64) -> Option<Length> {
        let factor = Length::quarters(numerator, denominator)?;
        let exact = num_checked_mul(self.0, factor.0);
        Some(Length(exact.unwrap_or_else(|| approximate(float(self.0) * float(factor.0)))))
    }
}

impl Seconds {
    /// From a number of seconds.
    pub const fn new(seconds: f64) -> Seconds {
        Seconds(seconds)
    }

    /// No time at all.
    pub const ZERO: Seconds = Seconds(0.0);

    /// As a number.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl Ord for Onset {
    fn cmp(&self, other: &Onset) -> Ordering {
        compare(self.0, other.0)
    }
}

impl PartialOrd for Onset {
    fn partial_cmp(&self, other: &Onset) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Length {
    fn cmp(&self, other: &Length) -> Ordering {
        compare(self.0, other.0)
    }
}

impl PartialOrd for Length {
    fn partial_cmp(&self, other: &Length) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Add<Length> for Onset {
    type Output = Onset;
    fn add(self, length: Length) -> Onset {
        Onset(add(self.0, length.0))
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(add(self.0, other.0))
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        *self = *self + other;
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(sub(self.0, other.0))
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(lengths: I) -> Length {
        lengths.fold(Length::ZERO, Add::add)
    }
}

impl Add for Seconds {
    type Output = Seconds;
    fn add(self, other: Seconds) -> Seconds {
        Seconds(self.0 + other.0)
    }
}

impl AddAssign for Seconds {
    fn add_assign(&mut self, other: Seconds) {
        self.0 += other.0;
    }
}

impl Sub for Seconds {
    type Output = Seconds;
    fn sub(self, other: Seconds) -> Seconds {
        Seconds(self.0 - other.0)
    }
}

impl Sum for Seconds {
    fn sum<I: Iterator<Item = Seconds>>(seconds: I) -> Seconds {
        seconds.fold(Seconds::ZERO, Add::add)
    }
}

impl fmt::Display for Onset {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for Length {
    /// An exact fraction: `2`, `1/3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for Seconds {
    /// One decimal and the unit: `2.5 s`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} s", self.0)
    }
}

/// Exact, without the divisions that [`Ratio`] makes of it: places are compared more than anything else. Denominators
/// are positive.
fn compare(a: Ratio<i64>, b: Ratio<i64>) -> Ordering {
    if a.denom() == b.denom() {
        return a.numer().cmp(b.numer());
    }
    let product = |numerator: i64, denominator: i64| i128::from(numerator) * i128::from(denominator);
    product(*a.numer(), *b.denom()).cmp(&product(*b.numer(), *a.denom()))
}

fn float(ratio: Ratio<i64>) -> f64 {
    *ratio.numer() as f64 / *ratio.denom() as f64
}

/// The nearest fraction over a million: what a sum becomes when it does not fit in 64 bits, which takes a
/// score with absurd divisions.
fn approximate(value: f64) -> Ratio<i64> {
    const GRAIN: i64 = 1_000_000;
    let bounded = value.clamp(-4.0e12, 4.0e12);
    Ratio::new((bounded * GRAIN as f64).round() as i64, GRAIN)
}

fn add(a: Ratio<i64>, b: Ratio<i64>) -> Ratio<i64> {
    if a.denom() == b.denom()
        && let Some(numerator) = a.numer().checked_add(*b.numer())
    {
        return Ratio::new(numerator, *a.denom());
    }
    num_checked_add(a, b).unwrap_or_else(|| approximate(float(a) + float(b)))
}

fn sub(a: Ratio<i64>, b: Ratio<i64>) -> Ratio<i64> {
    add(a, Ratio::new_raw(b.numer().saturating_neg(), *b.denom()))
}

// num-rational's checked operators come as traits of a crate of their own; these three lines spare it.
fn num_checked_add(a: Ratio<i64>, b: Ratio<i64>) -> Option<Ratio<i64>> {
    let left = a.numer().checked_mul(*b.denom())?;
    let right = b.numer().checked_mul(*a.denom())?;
    let denominator = a.denom().checked_mul(*b.denom())?;
    Some(Ratio::new(left.checked_add(right)?, denominator))
}

fn num_checked_mul(a: Ratio<i64>, b: Ratio<i64>) -> Option<Ratio<i64>> {
    Some(Ratio::new(a.numer().checked_mul(*b.numer())?, a.denom().checked_mul(*b.denom())?))
}

fn num_checked_div(a: Ratio<i64>, b: Ratio<i64>) -> Option<Ratio<i64>> {
    Some(Ratio::new(a.numer().checked_mul(*b.denom())?, a.denom().checked_mul(*b.numer())?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_triplets_are_exactly_one_quarter() {
        let third = Length::quarters(1, 3).unwrap();
        assert_eq!(third + third + third, Length::QUARTER);
        assert_eq!(third.to_string(), "1/3");
    }

    #[test]
    fn places_are_ordered_as_fractions_are() {
        let halves_to_sevenths =
            [(-3, 2), (-4, 3), (0, 1), (1, 7), (1, 3), (i64::MAX - 1, i64::MAX), (1, 1), (i64::MAX, 1)];
        let lengths: Vec<Length> =
            halves_to_sevenths.iter().map(|&(n, d)| Length::quarters(n, d).unwrap()).collect();
        assert!(lengths.is_sorted_by(|a, b| a < b && a != b));
        assert_eq!(Length::quarters(-2, -6).cmp(&Length::quarters(1, 3)), Ordering::Equal);
    }

    #[test]
    fn beats_count_in_the_lower_number_of_the_time_signature() {
        let eighth = Length::quarters(1, 2).unwrap();
        assert_eq!(Length::whole_quarters(1).in_units_of(eighth), Some(Length::whole_quarters(2)));
        assert_eq!(Length::QUARTER.in_units_of(Length::ZERO), None);
    }

    #[test]
    fn a_sum_that_does_not_fit_is_rounded_and_does_not_panic() {
        let absurd = Length::quarters(1, i64::MAX - 24).unwrap();
        let other = Length::quarters(1, i64::MAX - 56).unwrap();
        assert!((absurd + other).in_quarters() < 0.001);
    }
}
