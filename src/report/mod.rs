//! Reports: what was found, told to people and to machines.
//!
//! In goes a [`Report`], built once by `check` from findings; out comes text in one of nine formats. The
//! report has structs of its own, so that the model can change and what scripts lean on does not. A writer
//! here knows no score, no profile and no rule but its page; colour is written always and taken out by the
//! stream where it is not wanted.

mod build;
mod contract;
mod json;
mod phrases;
mod schema;
mod text;

pub use build::{Desk, Judged};
pub use contract::{
    At, Finding, Level, Measure, Move, OctaveMove, Part, PassedOver, Report, Revision, SCHEMA_VERSION, Score,
    SpanTo, Standing, Summary, Tool, Unread, Waived,
};
pub use schema::schema;

use std::io::{self, Write};

use crate::finding::Severity;

/// A format a report is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Format {
    /// For people at a terminal.
    Text,
    /// The contract that scripts lean on.
    Json,
}

/// How a report is to look; each format takes what concerns it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// What is less than this is counted, not shown; `None`: [`Format::usual_level`].
    pub min_level: Option<Severity>,
    /// Columns of the terminal.
    pub width: usize,
    /// Dashes, dots and arrows beyond ASCII may be used.
    pub unicode: bool,
}

impl Default for Look {
    fn default() -> Look {
        Look { min_level: None, width: 80, unicode: true }
    }
}

impl Format {
    /// All of them, in the order of the help text.
    pub const ALL: [Format; 2] = [Format::Text, Format::Json];

    /// As `--format` takes it.
    pub const fn name(self) -> &'static str {
        match self {
            Format::Text => "text",
            Format::Json => "json",
        }
    }

    /// The least severity it shows unless told otherwise: a person is busy, a machine is not.
    pub const fn usual_level(self) -> Severity {
        match self {
            Format::Text => Severity::Warning,
            Format::Json => Severity::Note,
        }
    }

    /// Writes a whole report.
    pub fn write(self, report: &Report, look: &Look, out: &mut dyn Write) -> io::Result<()> {
        let from = look.min_level.unwrap_or(self.usual_level()).into();
        match self {
            Format::Text => text::write(report, from, look, out),
            Format::Json => json::write(report, from, out),
        }
    }
}

#[cfg(test)]
mod sample;
#[cfg(test)]
mod tests;
