//! Counting through a bar: durations in `divisions`, exact places out.
//!
//! Integers while the divisions stay the same; a change of divisions or a decimal duration moves the base.

use crate::music::Length;

/// The most `divisions` a quarter note may have; beyond it no sum of fractions could be exact.
const MOST_DIVISIONS: i64 = 1_000_000_000;
/// The longest duration in divisions that is believed.
const MOST_TICKS: i64 = 1_000_000_000_000;

/// A number as the schema's `divisions` has it: a decimal, as mantissa over a power of ten.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Amount {
    mantissa: i64,
    scale: i64,
}

/// How long one division is: `numerator / denominator` quarter notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Divisions {
    numerator: i64,
    denominator: i64,
}

/// A place in the bar that moves with each note.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cursor {
    base: Length,
    ticks: i64,
    divisions: Divisions,
}

impl Amount {
    pub(super) const ZERO: Amount = Amount { mantissa: 0, scale: 1 };

    /// Reads a decimal; `None` for anything else and for numbers that no score needs.
    pub(super) fn read(text: &str) -> Option<Amount> {
        if let Ok(whole) = text.parse::<i64>() {
            return (whole.abs() <= MOST_TICKS).then_some(Amount { mantissa: whole, scale: 1 });
        }
        let (whole, decimals) = text.split_once('.')?;
        let (negative, whole) = match whole.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, whole.strip_prefix('+').unwrap_or(whole)),
        };
        let decimals = decimals.trim_end_matches('0');
        let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        if decimals.len() > 6 || whole.len() > 9 || !digits(whole) || !digits(decimals) {
            return None;
        }
        let scale = 10_i64.pow(decimals.len() as u32);
        let value = |text: &str| if text.is_empty() { Some(0) } else { text.parse::<i64>().ok() };
        let mantissa = value(whole)? * scale + value(decimals)?;
        Some(Amount { mantissa: if negative { -mantissa } else { mantissa }, scale })
    }

    pub(super) fn is_negative(self) -> bool {
        self.mantissa < 0
    }
}

impl Divisions {
    /// One division a quarter.
    pub(super) const ONE: Divisions = Divisions { numerator: 1, denominator: 1 };

    /// So many divisions a quarter note; `None` when that is no positive number.
    pub(super) fn per_quarter(amount: Amount) -> Option<Divisions> {
        (amount.mantissa > 0 && amount.mantissa <= MOST_DIVISIONS)
            .then_some(Divisions { numerator: amount.scale, denominator: amount.mantissa })
    }

    fn length(self, ticks: i64) -> Length {
        let exact = ticks.checked_mul(self.numerator).and_then(|n| Length::quarters(n, self.denominator));
        // Past 64 bits no score is meant to be read; the place only has to stay in order.
        exact.unwrap_or_else(|| {
            Length::whole_quarters((ticks / self.denominator).saturating_mul(self.numerator))
        })
    }
}

impl Cursor {
    /// At the start of a bar.
    pub(super) fn at_start(divisions: Divisions) -> Cursor {
        Cursor { base: Length::ZERO, ticks: 0, divisions }
    }

    /// Where it stands, from the start of the bar.
    pub(super) fn place(self) -> Length {
        let moved = self.divisions.length(self.ticks);
        if self.base.is_zero() { moved } else { self.base + moved }
    }

    /// How long an amount lasts here.
    pub(super) fn length_of(self, amount: Amount) -> Length {
        if amount.scale == 1 {
            return self.divisions.length(amount.mantissa);
        }
        self.divisions.length(amount.mantissa).times(1, amount.scale).unwrap_or(Length::ZERO)
    }

    /// Moves on.
    pub(super) fn forward(&mut self, amount: Amount) {
        if amount.scale == 1 {
            self.ticks = self.ticks.saturating_add(amount.mantissa);
        } else {
            self.base += self.length_of(amount);
        }
    }

    /// Moves back; held at the bar's start. Returns by how much it would have passed it.
    pub(super) fn back(&mut self, amount: Amount) -> Option<Length> {
        self.forward(Amount { mantissa: -amount.mantissa, ..amount });
        let place = self.place();
        if place >= Length::ZERO {
            return None;
        }
        (self.base, self.ticks) = (Length::ZERO, 0);
        Some(Length::ZERO - place)
    }

    /// Counts in other divisions from here on.
    pub(super) fn count_in(&mut self, divisions: Divisions) {
        if divisions != self.divisions {
            (self.base, self.ticks) = (self.place(), 0);
            self.divisions = divisions;
        }
    }

    pub(super) fn divisions(self) -> Divisions {
        self.divisions
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn amount(text: &str) -> Amount {
        Amount::read(text).unwrap()
    }

    fn divisions(text: &str) -> Divisions {
        Divisions::per_quarter(amount(text)).unwrap()
    }

    #[test]
    fn a_change_of_divisions_keeps_the_place() {
        let mut cursor = Cursor::at_start(divisions("3"));
        cursor.forward(amount("2"));
        cursor.count_in(divisions("4"));
        cursor.forward(amount("1"));
        assert_eq!(cursor.place(), Length::quarters(11, 12).unwrap());
        assert_eq!(cursor.back(amount("1")), None);
        assert_eq!(cursor.place(), Length::quarters(2, 3).unwrap());
    }

    #[test]
    fn a_backup_past_the_start_is_held_there() {
        let mut cursor = Cursor::at_start(divisions("2"));
        cursor.forward(amount("3"));
        assert_eq!(cursor.back(amount("100")), Length::quarters(97, 2));
        assert_eq!(cursor.place(), Length::ZERO);
    }

    #[test]
    fn decimals_are_exact() {
        let mut cursor = Cursor::at_start(divisions("0.5"));
        cursor.forward(amount("1.25"));
        assert_eq!(cursor.place(), Length::quarters(5, 2).unwrap());
        assert_eq!(amount("4.000"), Amount { mantissa: 4, scale: 1 });
        assert_eq!(amount("-1.5"), Amount { mantissa: -15, scale: 10 });
        assert_eq!(amount(".5"), Amount { mantissa: 5, scale: 10 });
    }

    #[test]
    fn numbers_that_no_score_needs_are_refused() {
        for text in ["", ".", "x", "1e9", "99999999999999", "1.23456789", "--1", "1.-5"] {
            assert!(Amount::read(text).is_none_or(|amount| amount == Amount::ZERO), "{text}");
        }
        assert_eq!(Divisions::per_quarter(Amount::ZERO), None);
        assert_eq!(Divisions::per_quarter(amount("-4")), None);
    }
}
