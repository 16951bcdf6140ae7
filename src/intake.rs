//! What is let in: the most of everything that is read, in one place.
//!
//! Scores come from other people, and a file may be made to exhaust whoever opens it. Each limit lies well above what the
//! largest orchestral scores need. What a file says of its own size is not believed: bytes are counted as they come.

use std::fmt;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use thiserror::Error;

use crate::system::in_words;

/// The most of something that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// Its name, by which messages and the README call it.
    pub name: &'static str,
    /// The largest number that is let in.
    pub most: u64,
    /// What is counted, as it reads behind a number.
    pub of: &'static str,
}

/// Bytes of a score as it lies on the disk or comes through a pipe.
pub const FILE: Limit = Limit { name: "file", most: 256 << 20, of: "bytes in a file" };
/// Bytes of a score's text, out of its archive and decoded.
pub const TEXT: Limit = Limit { name: "text", most: 256 << 20, of: "bytes of text in a score" };
/// Members of an archive.
pub const MEMBERS: Limit = Limit { name: "members", most: 10_000, of: "members in an archive" };
/// Bytes of an archive's list of contents.
pub const CONTAINER: Limit =
    Limit { name: "container", most: 1 << 20, of: "bytes in META-INF/container.xml" };
/// Elements inside elements.
pub const NESTING: Limit = Limit { name: "nesting", most: 256, of: "elements inside each other" };
/// Attributes of one element.
pub const ATTRIBUTES: Limit = Limit { name: "attributes", most: 256, of: "attributes in one element" };
/// Declarations of namespaces in a score.
pub const NAMESPACES: Limit = Limit { name: "namespaces", most: 1000, of: "namespace declarations" };
/// Entities that a score declares.
pub const ENTITIES: Limit = Limit { name: "entities", most: 1000, of: "entities declared" };
/// Bytes that a score's own entities become where they are used.
pub const EXPANSION: Limit = Limit { name: "expansion", most: 1 << 20, of: "bytes out of entities" };
/// Tags of a score that has to be read whole.
pub const MARKUP: Limit =
    Limit { name: "markup", most: 5_000_000, of: "tags or attributes in what is read at once" };
/// Bytes of one piece of text, or of one attribute's value.
pub const PIECE: Limit = Limit { name: "piece", most: 1 << 20, of: "bytes in one text or attribute" };
/// Bytes of one name or phrase: a part's, an instrument's, words above the staff.
pub const PHRASE: Limit = Limit { name: "phrase", most: 4096, of: "bytes in one name or phrase" };
/// Parts of a score.
pub const PARTS: Limit = Limit { name: "parts", most: 1000, of: "parts" };
/// Instruments of a part, and groups it stands in.
pub const INSTRUMENTS: Limit =
    Limit { name: "instruments", most: 256, of: "instruments or groups of one part" };
/// Voices of a part.
pub const VOICES: Limit = Limit { name: "voices", most: 64, of: "voices in one part" };
/// Measures, counted once for each part.
pub const MEASURES: Limit = Limit { name: "measures", most: 1_000_000, of: "measures in all parts" };
/// Notes and directions of one part in one measure.
pub const CROWD: Limit =
    Limit { name: "crowd", most: 20_000, of: "notes, rests and directions in one measure" };
/// Dynamics, words or signs of one part at one place.
pub const PLACE: Limit =
    Limit { name: "place", most: 250, of: "dynamics, words or signs of one part at one place" };
/// Notes in all parts.
pub const NOTES: Limit = Limit { name: "notes", most: 2_000_000, of: "notes in all parts" };
/// Notes of low brass that sound together.
pub const TOGETHER: Limit = Limit { name: "together", most: 250, of: "notes of the low brass at once" };
/// Notes that are judged, and moved.
pub const JUDGED: Limit = Limit { name: "judged", most: 400_000, of: "notes of the low brass in one score" };
/// Bytes of settings, and of each profile.
pub const SETTINGS: Limit = Limit { name: "settings", most: 1 << 20, of: "bytes in settings or a profile" };
/// Profiles in a folder.
pub const PROFILES: Limit = Limit { name: "profiles", most: 1000, of: "profiles in a folder" };
/// Bytes of a baseline.
pub const BASELINE: Limit = Limit { name: "baseline", most: 64 << 20, of: "bytes in a baseline" };

/// All limits, as the README lists them.
pub const LIMITS: &[Limit] = &[
    FILE,
    TEXT,
    MEMBERS,
    CONTAINER,
    NESTING,
    ATTRIBUTES,
    NAMESPACES,
    ENTITIES,
    EXPANSION,
    MARKUP,
    PIECE,
    PHRASE,
    PARTS,
    INSTRUMENTS,
    VOICES,
    MEASURES,
    CROWD,
    PLACE,
    NOTES,
    TOGETHER,
    JUDGED,
    SETTINGS,
    PROFILES,
    BASELINE,
];

/// A limit was passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("more than {limit}{}, the most that is read (limit '{}')", .line.map(|line| format!(", at line {line}")).unwrap_or_default(), .limit.name)]
pub struct Exceeded {
    /// Which.
    pub limit: Limit,
    /// The line, from 1, where it can be told.
    pub line: Option<u32>,
}

/// Why the bytes of a file are not to be had.
#[derive(Debug, Error)]
pub enum IntakeError {
    /// The system says no.
    #[error("{}", in_words(.0))]
    System(#[from] io::Error),
    /// There are too many.
    #[error(transparent)]
    Exceeded(#[from] Exceeded),
    /// Text that is none.
    #[error("it is not UTF-8 text")]
    NotText,
}

impl Limit {
    /// Whether a number is within it.
    ///
    /// # Errors
    ///
    /// [`Exceeded`], without a line.
    pub const fn admit(self, count: u64) -> Result<(), Exceeded> {
        if count > self.most { Err(self.exceeded()) } else { Ok(()) }
    }

    /// That it was passed.
    pub const fn exceeded(self) -> Exceeded {
        Exceeded { limit: self, line: None }
    }
}

impl fmt::Display for Limit {
    /// "1 MiB in one text", "256 voices in one part".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.of.strip_prefix("bytes ") {
            Some(of) if self.most >= 1 << 20 => write!(f, "{} MiB {of}", self.most >> 20),
            _ => write!(f, "{} {}", self.most, self.of),
        }
    }
}

/// All bytes that come from a reader, as long as a limit lets them in.
///
/// # Errors
///
/// What the reader says; [`Exceeded`] as soon as one byte too many has come.
pub fn bytes(from: impl Read, limit: Limit) -> Result<Vec<u8>, IntakeError> {
    let mut bytes = Vec::new();
    from.take(limit.most + 1).read_to_end(&mut bytes)?;
    limit.admit(bytes.len() as u64)?;
    Ok(bytes)
}

/// The bytes of a file.
///
/// # Errors
///
/// As [`bytes`].
pub fn file(path: &Path, limit: Limit) -> Result<Vec<u8>, IntakeError> {
    bytes(File::open(path)?, limit)
}

/// The text of a file.
///
/// # Errors
///
/// As [`bytes`]; text that is not UTF-8.
pub fn text(path: &Path, limit: Limit) -> Result<String, IntakeError> {
    String::from_utf8(file(path, limit)?).map_err(|_| IntakeError::NotText)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_that_never_ends_is_stopped_at_the_limit() {
        let few = Limit { name: "few", most: 10, of: "bytes in a test" };
        let stopped = bytes(io::repeat(b' '), few).unwrap_err();
        assert_eq!(stopped.to_string(), "more than 10 bytes in a test, the most that is read (limit 'few')");
        assert_eq!(bytes(&b"0123456789"[..], few).unwrap().len(), 10);
    }

    #[test]
    fn each_limit_is_listed_once_and_stands_in_the_readme() {
        let readme = include_str!("../README.md");
        for (index, limit) in LIMITS.iter().enumerate() {
            assert!(LIMITS[..index].iter().all(|other| other.name != limit.name), "{} twice", limit.name);
            let line = format!("| {} | {limit} |", limit.name);
            assert!(readme.contains(&line), "README.md lacks the line: {line}");
        }
        let declared = include_str!("intake.rs").matches(": Limit =").count();
        // One of them is the test's own, and this line's.
        assert_eq!(declared, LIMITS.len() + 1);
    }
}
