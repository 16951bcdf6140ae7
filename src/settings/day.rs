//! A day of the calendar: the last one of a waiver, and today.

use std::fmt;
use std::str::FromStr;
use std::time::{Duration, SystemTime};

use thiserror::Error;
use toml::value::Datetime;

/// A day, ordered by time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Day {
    year: u16,
    month: u8,
    of_month: u8,
}

/// Not a day.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("expected a day such as 2027-01-31, not '{0}'")]
pub struct DayError(String);

impl Day {
    /// The day a TOML date stands for; `None` for a time of day.
    pub fn of(datetime: &Datetime) -> Option<Day> {
        let date = datetime.date?;
        datetime.time.is_none().then_some(Day { year: date.year, month: date.month, of_month: date.day })
    }

    /// The day of a moment, by universal time.
    pub fn at(moment: SystemTime) -> Day {
        let since = moment.duration_since(SystemTime::UNIX_EPOCH).unwrap_or(Duration::ZERO);
        // Days to a date of the Gregorian calendar: years are taken to begin in March, so that the
        // leap day is a year's last; 1 March 2000 begins a cycle of 400 years (146,097 days).
        let days = since.as_secs() / 86_400 + 719_468;
        let (cycle, day_of_cycle) = (days / 146_097, days % 146_097);
        let year_of_cycle =
            (day_of_cycle - day_of_cycle / 1_460 + day_of_cycle / 36_524 - day_of_cycle / 146_096) / 365;
        let day_of_year = day_of_cycle - (365 * year_of_cycle + year_of_cycle / 4 - year_of_cycle / 100);
        let from_march = (5 * day_of_year + 2) / 153;
        let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
        let year = cycle * 400 + year_of_cycle + u64::from(month <= 2);
        Day {
            year: year as u16,
            month: month as u8,
            of_month: (day_of_year - (153 * from_march + 2) / 5 + 1) as u8,
        }
    }
}

impl FromStr for Day {
    type Err = DayError;

    fn from_str(text: &str) -> Result<Day, DayError> {
        let datetime: Datetime = text.trim().parse().map_err(|_| DayError(text.to_owned()))?;
        Day::of(&datetime).ok_or_else(|| DayError(text.to_owned()))
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.of_month)
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, SystemTime};

    use super::Day;

    #[track_caller]
    fn at(seconds: u64, day: &str) {
        assert_eq!(Day::at(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds)).to_string(), day);
    }

    #[test]
    fn a_moment_falls_on_its_day() {
        // The well-known moments of Unix time, from memory; the leap days by the calendar's own rule.
        at(0, "1970-01-01");
        at(86_399, "1970-01-01");
        at(951_782_400, "2000-02-29");
        at(1_000_000_000, "2001-09-09");
        at(1_709_164_800, "2024-02-29");
        at(2_147_483_647, "2038-01-19");
        at(4_107_542_400, "2100-03-01");
    }

    #[test]
    fn a_day_is_read_as_it_is_printed_and_in_order() {
        let day: Day = "2027-01-31".parse().unwrap();
        assert_eq!(day.to_string(), "2027-01-31");
        assert!(day < "2027-02-01".parse().unwrap());
        assert!("2027-02-30".parse::<Day>().is_err());
        assert!("2027-01-31T10:00:00".parse::<Day>().is_err());
        assert_eq!(
            "soon".parse::<Day>().unwrap_err().to_string(),
            "expected a day such as 2027-01-31, not 'soon'"
        );
    }
}
