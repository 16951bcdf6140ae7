//! `lowbrass.toml`: what a folder of scores says of itself.
//!
//! In goes the text of the nearest `lowbrass.toml` above a score, out come checked [`Settings`] or an
//! error with file, line and column. Where the file is looked for: the score's own folder, then its
//! parents, up to the first folder that holds `.git` (a repository's settings end with it) or the top of
//! the file system. Paths in it are relative to its own folder. Judging numbers are no settings: they
//! stand in profiles.

mod day;
mod file;

use std::path::{Path, PathBuf};

use globset::{GlobBuilder, GlobMatcher};
use thiserror::Error;

use crate::finding::Severity;
use crate::music::Tempo;
use crate::score::{Mute, PartInfo};

pub use day::{Day, DayError};
pub use file::{Draft, Names, schema};

/// The file's name.
pub const FILE_NAME: &str = "lowbrass.toml";

/// Checked settings.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The file they come from; `None` when none was found.
    pub path: Option<PathBuf>,
    /// The tempo where a score gives none.
    pub tempo: Option<Tempo>,
    /// A player's breath against the profile's: 1 is the profile's own.
    pub breath: f64,
    /// The profile of a part that says only "Tuba".
    pub tuba: Option<String>,
    /// What `lowbrass check` without a score checks: files, folders, globs, relative to the file.
    pub scores: Vec<String>,
    /// A folder of profiles besides those built in.
    pub profiles: Option<PathBuf>,
    /// The baseline.
    pub baseline: Option<PathBuf>,
    /// The folder that takes revised copies.
    pub revised: Option<PathBuf>,
    /// Reports to write on each run: format and path.
    pub outputs: Vec<(String, PathBuf)>,
    /// The least severity that is shown.
    pub min_level: Option<Severity>,
    /// The least severity that makes a check fail.
    pub fail_on: Option<FailOn>,
    /// Severities changed, by rule.
    pub levels: Vec<(&'static str, Level)>,
    /// Parts, in the file's order; the first that fits counts.
    pub parts: Vec<PartSettings>,
    /// Waivers, in the file's order.
    pub waivers: Vec<Waiver>,
}

/// From which severity on a check fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FailOn {
    /// From this one on.
    Severity(Severity),
    /// Findings do not make it fail.
    Never,
}

/// What a rule's findings weigh in this folder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Level {
    /// All of them this.
    Severity(Severity),
    /// They are not made.
    Off,
}

/// What is known of a part.
#[derive(Clone, Debug)]
pub struct PartSettings {
    /// The parts it is about, by name.
    pub name: Pattern,
    /// The instrument.
    pub instrument: Option<Instrument>,
    /// Other instruments within the player's reach, by profile.
    pub instruments: Vec<String>,
    /// The mutes that are there; `None` where nothing is said of them.
    pub mutes: Option<Vec<Mute>>,
    /// How many players read it.
    pub players: Option<u8>,
    /// These players' breath against the profile's.
    pub breath: Option<f64>,
    /// Its line in the file, from 1.
    pub line: usize,
}

/// What a part is, by the settings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Instrument {
    /// This profile.
    Profile(String),
    /// No low brass, whatever it is called (`profile = "none"`).
    None,
}

/// "I mean it": findings that are let stand.
#[derive(Clone, Debug)]
pub struct Waiver {
    /// The rule.
    pub rule: &'static str,
    /// The scores, by path relative to the settings or by file name; `None`: all.
    pub score: Option<Pattern>,
    /// The parts, by name; `None`: all.
    pub part: Option<Pattern>,
    /// The bars; empty: all.
    pub bars: Vec<BarSpan>,
    /// The reason.
    pub because: String,
    /// The last day it holds.
    pub until: Option<Day>,
    /// Its line in the file, from 1.
    pub line: usize,
}

/// Printed bar numbers, first and last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarSpan {
    /// The first bar.
    pub first: String,
    /// The last bar.
    pub last: String,
}

/// A name or path with `*`, `?`, `[…]`, `{…}`; capitals and small letters are alike.
#[derive(Clone, Debug)]
pub struct Pattern {
    matcher: GlobMatcher,
}

/// Why settings cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SettingsError {
    /// The file is there and cannot be read.
    #[error("{path}: cannot be read: {reason}")]
    Unreadable {
        /// The file.
        path: String,
        /// The system's words.
        reason: String,
    },
    /// Something in it is wrong.
    #[error("{path}:{line}:{column}: {message}")]
    Wrong {
        /// The file.
        path: String,
        /// From 1.
        line: usize,
        /// In characters, from 1.
        column: usize,
        /// What, and what to write instead.
        message: String,
    },
}

/// The nearest settings file for what lies in `folder`; `None` when there is none.
pub fn find(folder: &Path) -> Option<PathBuf> {
    for place in folder.ancestors() {
        let file = place.join(FILE_NAME);
        // A broken link or a folder of this name is for the reader to report: settings that are passed over
        // in silence do more harm.
        if file.symlink_metadata().is_ok() {
            return Some(file);
        }
        if place.join(".git").exists() {
            return None;
        }
    }
    None
}

impl Settings {
    /// What holds without a settings file.
    pub fn none() -> Settings {
        Settings {
            path: None,
            tempo: None,
            breath: 1.0,
            tuba: None,
            scores: Vec::new(),
            profiles: None,
            baseline: None,
            revised: None,
            outputs: Vec::new(),
            min_level: None,
            fail_on: None,
            levels: Vec::new(),
            parts: Vec::new(),
            waivers: Vec::new(),
        }
    }

    /// What is said of a part; the first entry that fits.
    pub fn part(&self, info: &PartInfo) -> Option<&PartSettings> {
        self.parts.iter().find(|part| info.is_called(|name| part.name.fits(name)))
    }

    /// What is said of a rule's weight.
    pub fn level(&self, rule: &str) -> Option<Level> {
        self.levels.iter().find(|(name, _)| *name == rule).map(|(_, level)| *level)
    }

    /// The folder the settings are for; `None` without a file.
    pub fn folder(&self) -> Option<&Path> {
        self.path.as_deref().and_then(Path::parent)
    }
}

impl Pattern {
    /// From a pattern; the error says what is wrong with it.
    pub fn new(pattern: &str) -> Result<Pattern, globset::Error> {
        let glob = GlobBuilder::new(pattern).case_insensitive(true).build()?;
        Ok(Pattern { matcher: glob.compile_matcher() })
    }

    /// Whether a name or path fits; one that is spelled the same always does, whatever signs it holds.
    pub fn fits(&self, name: &str) -> bool {
        self.matcher.is_match(name) || self.as_str().eq_ignore_ascii_case(name)
    }

    /// As it was written.
    pub fn as_str(&self) -> &str {
        self.matcher.glob().glob()
    }
}

impl Level {
    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            Level::Severity(severity) => severity.word(),
            Level::Off => "off",
        }
    }
}

impl FailOn {
    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            FailOn::Severity(severity) => severity.word(),
            FailOn::Never => "never",
        }
    }
}

impl std::fmt::Display for BarSpan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.first == self.last {
            f.write_str(&self.first)
        } else {
            write!(f, "{}-{}", self.first, self.last)
        }
    }
}

impl BarSpan {
    /// Whether the first number is above the last.
    pub fn runs_backwards(&self) -> bool {
        match (self.first.parse::<u32>(), self.last.parse::<u32>()) {
            (Ok(first), Ok(last)) => first > last,
            _ => false,
        }
    }

    /// Bars from a text such as `12`, `40-44` or `12, 40-44`; `None` where it is none.
    pub fn list(text: &str) -> Option<Vec<BarSpan>> {
        text.split(',')
            .map(|span| {
                let (first, last) = span.split_once(['-', '–']).unwrap_or((span, span));
                let (first, last) = (first.trim().to_owned(), last.trim().to_owned());
                (!first.is_empty() && !last.is_empty()).then_some(BarSpan { first, last })
            })
            .collect()
    }
}
