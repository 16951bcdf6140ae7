//! What is wrong with a profile file, where, and what to write instead.

use std::ops::Range;
use std::path::PathBuf;

use thiserror::Error;

use super::Zone;
use crate::intake::IntakeError;
use crate::keys;
use crate::music::Dynamic;

/// Why profiles cannot be used.
#[derive(Debug, Error)]
pub enum ProfileError {
    /// Something in a file is not as it should be.
    #[error("{file}:{line}:{column}: {}{fault}", .key.as_ref().map(|key| format!("{key}: ")).unwrap_or_default())]
    At {
        /// The file as it was named.
        file: String,
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
        /// The keys that lead to the value, where it is a value's.
        key: Option<String>,
        /// What.
        fault: Box<ProfileFault>,
    },
    /// A folder or file of profiles cannot be read.
    #[error("cannot read profiles from {path}: {why}", path = .path.display())]
    Unreadable {
        /// The folder or file.
        path: PathBuf,
        /// Why.
        why: IntakeError,
    },
    /// A folder of profiles holds none.
    #[error("{path} holds no profile; a profile is a file such as my-tuba.toml", path = .path.display())]
    Empty {
        /// The folder.
        path: PathBuf,
    },
    /// No profile has this name.
    #[error("no profile is called '{name}'{hint} ('lowbrass profiles' lists them)")]
    Unknown {
        /// What was asked for.
        name: String,
        /// A near name, as a clause.
        hint: String,
    },
}

/// One fault in a profile file.
#[derive(Debug, Error)]
pub enum ProfileFault {
    /// Not TOML, an unknown or missing key, a value of the wrong kind, a pitch that is none.
    #[error("{0}")]
    Shape(String),
    /// The name is not the file's.
    #[error("the file is {stem}.toml, so write name = \"{stem}\"")]
    NameIsNotStem {
        /// The file name without `.toml`.
        stem: String,
    },
    /// A list that needs a row has none.
    #[error("expected at least one row")]
    NoRows,
    /// Rows must rise.
    #[error("{here} does not lie above {before} of the row before; write the rows from low to high")]
    NotRising {
        /// This row's pitch or number.
        here: String,
        /// The former row's.
        before: String,
    },
    /// A zone stands where it cannot.
    #[error(
        "zone '{here}' cannot stand above '{before}'; from low to high write effect, extreme, comfortable, extreme, each at most once"
    )]
    ZoneOrder {
        /// This zone.
        here: &'static str,
        /// The one below.
        before: &'static str,
    },
    /// No comfortable zone.
    #[error("no row has zone = \"comfortable\"; one must")]
    NothingComfortable,
    /// The top lies below the last row.
    #[error("the top {top} lies below the last row's {last}; write a top of at least {last}")]
    TopBelowRows {
        /// The top.
        top: String,
        /// Where the last row begins.
        last: String,
    },
    /// The usual span leaves the comfortable zone.
    #[error("the usual span must lie within the comfortable zone, {from} to {to}")]
    UsualOutsideComfortable {
        /// Lowest comfortable note.
        from: String,
        /// Highest comfortable note.
        to: String,
    },
    /// Two ends the wrong way round.
    #[error("{from} lies above {to}; write the lower one first")]
    UpsideDown {
        /// What stands first.
        from: String,
        /// What stands second.
        to: String,
    },
    /// The rows leave the bottom of the compass without a value.
    #[error(
        "nothing is said from {bottom}, where the range begins, to {first}; begin the first row at {bottom}"
    )]
    Hole {
        /// The lowest note of the range.
        bottom: String,
        /// Where the rows begin.
        first: String,
    },
    /// A row outside the compass.
    #[error("{here} lies outside the range, {bottom} to {top}")]
    OutsideRange {
        /// The row's pitch.
        here: String,
        /// The lowest note.
        bottom: String,
        /// The highest note.
        top: String,
    },
    /// Floor above ceiling.
    #[error("the floor {floor} is louder than the ceiling {ceiling}; the floor is the softest that speaks")]
    FloorAboveCeiling {
        /// The floor.
        floor: Dynamic,
        /// The ceiling.
        ceiling: Dynamic,
    },
    /// A breath that lasts longer at a louder mark.
    #[error(
        "{louder} lasts {longer} s, longer than {softer} with {shorter} s; louder playing takes more air"
    )]
    LouderLastsLonger {
        /// The louder dynamic.
        louder: Dynamic,
        /// Its seconds.
        longer: f64,
        /// The softer dynamic.
        softer: Dynamic,
        /// Its seconds.
        shorter: f64,
    },
    /// A number out of bounds.
    #[error("expected {expected}, not {found}")]
    Number {
        /// What is allowed.
        expected: &'static str,
        /// What stands there.
        found: f64,
    },
    /// A value that neither the profile nor what players have in common gives.
    #[error("nothing is said of {key}, here or in player.toml; write it in one of them")]
    Nowhere {
        /// The key.
        key: &'static str,
    },
    /// The warning begins before the note.
    #[error("the warning, below {warning} s, begins before the note, below {note} s")]
    WarningBeforeNote {
        /// Below so many seconds a note.
        note: f64,
        /// Below so many seconds a warning.
        warning: f64,
    },
    /// A key that the mechanism needs.
    #[error("kind = \"{kind}\" needs {key}")]
    MechanismNeeds {
        /// The kind.
        kind: &'static str,
        /// The missing key.
        key: &'static str,
    },
    /// A key that the mechanism cannot use.
    #[error("kind = \"{kind}\" has no {key}; take the line out")]
    MechanismHasNo {
        /// The kind.
        kind: &'static str,
        /// The key that stands there.
        key: &'static str,
    },
    /// A source key that is not explained.
    #[error(
        "source '{key}' is not in [sources]{}; explain it there, or write common-practice, proposal or from-memory",
        .near.as_ref().map(|near| format!(" (did you mean '{near}'?)")).unwrap_or_default()
    )]
    UnknownSource {
        /// The key.
        key: String,
        /// The nearest one in the file.
        near: Option<String>,
    },
    /// A source that no value names.
    #[error("no value names the source '{key}'; take it out, or name it where it belongs")]
    UnusedSource {
        /// The key.
        key: String,
    },
    /// A source key that stands for itself, explained again.
    #[error("'{key}' stands for itself; choose another key for a source of your own")]
    ReservedSource {
        /// The key.
        key: String,
    },
}

/// Line and column (in characters), from 1, of a byte of `text`.
pub(super) fn line_and_column(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
    (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
}

/// A fault with the bytes it is about.
#[derive(Debug)]
pub(super) struct Spotted {
    pub(super) span: Range<usize>,
    pub(super) fault: ProfileFault,
}

impl Spotted {
    pub(super) fn in_file(self, file: &str, text: &str) -> ProfileError {
        let (line, column) = line_and_column(text, self.span.start);
        let key = keys::at(text, &self.span);
        ProfileError::At { file: file.to_owned(), line, column, key, fault: Box::new(self.fault) }
    }
}

impl From<toml::de::Error> for Spotted {
    fn from(error: toml::de::Error) -> Spotted {
        let span = error.span().unwrap_or(0..0);
        Spotted { span, fault: ProfileFault::Shape(error.message().replace('\n', "; ")) }
    }
}

impl Zone {
    /// As it is written in a profile.
    pub const fn word(self) -> &'static str {
        match self {
            Zone::Effect => "effect",
            Zone::ExtremeLow | Zone::ExtremeHigh => "extreme",
            Zone::Comfortable => "comfortable",
        }
    }
}
