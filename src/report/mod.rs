//! Reports: what was found, told to people and to machines.
//!
//! In goes a [`Report`], built once by `check` from findings; out comes text in one of eight formats. The
//! report has structs of its own, so that the model can change and what scripts lean on does not. A writer
//! here knows no score, no profile and no rule but its page; colour is written always and taken out by the
//! stream where it is not wanted.

mod breaths;
mod build;
mod by_score;
mod changes;
mod comparison;
mod contract;
mod csv;
mod diff;
mod gathered;
mod github;
mod html;
mod instrument_page;
mod instruments;
mod json;
mod junit;
mod listing;
mod markdown;
mod notes;
mod phrases;
mod picture;
mod profile_page;
mod rule_page;
mod sarif;
mod schema;
mod session;
mod text;

pub use breaths::{BreathRow, breath_rows, write_breaths};
pub use build::{Desk, Judged};
pub use changes::write_changes;
pub use comparison::{
    Bars, ChangedBars, Comparison, ComparisonFormat, Levels, Moved, MovedNote, Remark, ScoreVersions, Totals,
};
pub use contract::{
    At, Counts, Finding, Level, Measure, Move, OctaveMove, Part, PassedOver, Report, Revision,
    SCHEMA_VERSION, Score, SpanTo, Standing, Summary, Tool, Unread, Waived,
};
pub use diff::write_moves;
pub use html::FIRST_PAGE;
pub use instrument_page::write_instrument_page;
pub use instruments::{
    InstrumentRow, KitRow, instrument_rows, kit_rows, kit_totals, write_instruments, write_kits,
};
pub use listing::{Listing, write_table};
pub use notes::{NoteFormat, NoteRow, note_rows, write_notes};
pub use picture::{Picture, see};
pub use profile_page::{Fact, ProfilePage, Register, SourceLine, profile_page, profile_reference};
pub use rule_page::{EXAMPLES, reference, rule_page};
pub use schema::{comparison_schema, schema, session_schema};
pub use session::{
    Cue, CueLoad, HardPair, HardPlace, Measured, Measures, PlayerCue, PlayerDay, Playing, Session,
    SessionFormat, Stretch,
};
pub use text::{write_ending, write_remarks};

use std::cmp::Reverse;
use std::io::{self, Write};

use crate::finding::Severity;

/// A format a report is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Format {
    /// For people at a terminal.
    Text,
    /// The contract that scripts lean on.
    Json,
    /// SARIF 2.1.0, for code-scanning hosts.
    Sarif,
    /// JUnit XML, for build servers.
    Junit,
    /// Workflow commands that annotate a change.
    Github,
    /// For a comment on a change.
    Markdown,
    /// For a spreadsheet.
    Csv,
    /// One self-contained page.
    Html,
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
    /// Text: every remark is spelled out, however many say the same.
    pub all: bool,
    /// Text: what is let stand is listed with its reasons, not only counted, and the parts that were not judged by name.
    pub verbose: bool,
    /// From here on a finding fails a build; `None`: never.
    pub fail_on: Option<Severity>,
}

impl Default for Look {
    fn default() -> Look {
        Look {
            min_level: None,
            width: 80,
            unicode: true,
            all: false,
            verbose: false,
            fail_on: Some(Severity::Warning),
        }
    }
}

impl Format {
    /// All of them, in the order of the help text.
    pub const ALL: [Format; 8] = [
        Format::Text,
        Format::Json,
        Format::Sarif,
        Format::Junit,
        Format::Github,
        Format::Markdown,
        Format::Csv,
        Format::Html,
    ];

    /// As `--format` takes it.
    pub const fn name(self) -> &'static str {
        match self {
            Format::Text => "text",
            Format::Json => "json",
            Format::Sarif => "sarif",
            Format::Junit => "junit",
            Format::Github => "github",
            Format::Markdown => "markdown",
            Format::Csv => "csv",
            Format::Html => "html",
        }
    }

    /// The least severity it shows unless told otherwise: a person is busy, a machine is not.
    pub const fn usual_level(self) -> Severity {
        match self {
            Format::Text => Severity::Warning,
            _ => Severity::Note,
        }
    }

    /// Writes a whole report.
    pub fn write(self, report: &Report, look: &Look, out: &mut dyn Write) -> io::Result<()> {
        let from = look.min_level.unwrap_or(self.usual_level()).into();
        match self {
            Format::Text => text::write(report, from, look, out),
            Format::Json => json::write(report, from, out),
            Format::Sarif => sarif::write(report, from, out),
            Format::Junit => junit::write(report, from, look.fail_on.map(Level::from), out),
            Format::Github => github::write(report, from, out),
            Format::Markdown => markdown::write(report, from, out),
            Format::Csv => csv::write(report, from, out),
            Format::Html => html::write(report, from, out),
        }
    }
}

/// Writes a page for the browser for each score, and `index.html`, which leads to them, worst first: file names and what
/// goes into them.
pub fn write_pages(report: &Report, look: &Look) -> io::Result<Vec<(String, Vec<u8>)>> {
    html::pages(report, look.min_level.unwrap_or(Format::Html.usual_level()).into())
}

/// Findings of at least `from`, the gravest first, then in order of score and place; what is waived, where
/// it is wanted at all, goes last.
fn worst_first(report: &Report, from: Level, waived_too: bool) -> Vec<(&Score, &Finding)> {
    let mut found: Vec<(&Score, &Finding)> = report
        .scores
        .iter()
        .flat_map(|score| score.findings.iter().map(move |finding| (score, finding)))
        .filter(|(_, finding)| finding.severity >= from && (waived_too || finding.waived.is_none()))
        .collect();
    found.sort_by_key(|(_, finding)| (finding.waived.is_some(), Reverse(finding.severity)));
    found
}

/// Whether lines of the score's text mean nothing to someone who looks at the file.
fn is_compressed(path: &str) -> bool {
    path.to_ascii_lowercase().ends_with(".mxl")
}

#[cfg(test)]
mod limits_tests;
#[cfg(test)]
mod sample;
#[cfg(test)]
mod tests;
