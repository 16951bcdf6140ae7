//! The baseline: findings accepted so far, known again by fingerprints.
//!
//! A fingerprint is made of the rule, the part's name, the pitches and lengths of the bar where the worst
//! note stands, and which one of its kind it is. Bars put in before, another title, a renumbered part or
//! another wording leave it as it is; music changed in the bar makes it new.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::finding::{Finding, Waived};
use crate::intake::{self, IntakeError};
use crate::rules::first_name;
use crate::score::Part;

const SCHEMA_VERSION: u32 = 1;

/// How many bytes of the digest are kept.
const KEPT: usize = 16;

/// Findings accepted so far.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Baseline {
    findings: Vec<Accepted>,
}

/// A finding as the baseline's file has it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Accepted {
    /// The score, by its path from the baseline's folder.
    pub score: String,
    /// The part's name; empty for the whole score. For people.
    pub part: String,
    /// The rule. For people.
    pub rule: String,
    /// What it is known by.
    pub fingerprint: String,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    schema_version: u32,
    findings: Vec<Accepted>,
}

/// Why a baseline cannot be used.
#[derive(Debug, Error)]
pub enum BaselineError {
    /// It cannot be read.
    #[error("{path}: cannot be read as a baseline: {reason}; --write-baseline makes one")]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The system's words.
        reason: IntakeError,
    },
    /// It is no baseline.
    #[error("{path}:{line}:{column}: no baseline of lowbrass: {reason}")]
    Wrong {
        /// The file.
        path: PathBuf,
        /// From 1.
        line: usize,
        /// From 1.
        column: usize,
        /// The parser's words.
        reason: String,
    },
    /// It is of a later version.
    #[error(
        "{path}: written by a later version of lowbrass (schema_version {version}); this one reads {SCHEMA_VERSION}"
    )]
    Version {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: u32,
    },
}

impl Baseline {
    /// Reads a baseline.
    pub fn read(path: &Path) -> Result<Baseline, BaselineError> {
        let text = intake::text(path, intake::BASELINE)
            .map_err(|reason| BaselineError::Unreadable { path: path.to_owned(), reason })?;
        let file: File = serde_json::from_str(&text).map_err(|error| BaselineError::Wrong {
            path: path.to_owned(),
            line: error.line(),
            column: error.column(),
            reason: error.to_string(),
        })?;
        if file.schema_version != SCHEMA_VERSION {
            return Err(BaselineError::Version { path: path.to_owned(), version: file.schema_version });
        }
        Ok(Baseline { findings: file.findings })
    }

    /// What it accepts in the scores that `keep` says, by their path from the baseline's folder.
    pub fn of_scores(&self, keep: impl Fn(&str) -> bool) -> Vec<Accepted> {
        self.findings.iter().filter(|finding| keep(&finding.score)).cloned().collect()
    }

    /// The file of these findings: sorted, one line each.
    pub fn write(mut findings: Vec<Accepted>) -> String {
        findings.sort();
        let mut text = format!("{{\n  \"schema_version\": {SCHEMA_VERSION},\n  \"findings\": [");
        for (index, finding) in findings.iter().enumerate() {
            let comma = if index == 0 { "" } else { "," };
            // A map of strings always serialises.
            let line = serde_json::to_string(finding).unwrap_or_default();
            let _ = write!(text, "{comma}\n    {line}");
        }
        text.push_str(if findings.is_empty() { "]\n}\n" } else { "\n  ]\n}\n" });
        text
    }

    /// Marks what was accepted in the score of this path. Returns how many accepted findings are no longer
    /// there.
    pub(super) fn apply(&self, score: &str, findings: &mut [Finding], fingerprints: &[String]) -> usize {
        let mut left: BTreeMap<&str, usize> = BTreeMap::new();
        for accepted in self.findings.iter().filter(|accepted| accepted.score == score) {
            *left.entry(&accepted.fingerprint).or_default() += 1;
        }
        for (finding, fingerprint) in findings.iter_mut().zip(fingerprints) {
            if let Some(count) = left.get_mut(fingerprint.as_str()).filter(|count| **count > 0) {
                *count -= 1;
                finding.waived.get_or_insert(Waived::Baseline);
            }
        }
        left.values().sum()
    }
}

/// A fingerprint for each finding of a score with these parts, in their order.
pub(super) fn fingerprints(findings: &[Finding], parts: &[Part]) -> Vec<String> {
    let mut seen: BTreeMap<[u8; KEPT], u32> = BTreeMap::new();
    findings
        .iter()
        .map(|finding| {
            let kind = kind(finding, parts);
            let nth = seen.entry(kind).or_default();
            *nth += 1;
            let digest = digest(|hasher| {
                hasher.update(kind);
                hasher.update(nth.to_be_bytes());
            });
            digest.iter().fold(String::with_capacity(2 * KEPT), |mut hex, byte| {
                let _ = write!(hex, "{byte:02x}");
                hex
            })
        })
        .collect()
}

fn kind(finding: &Finding, parts: &[Part]) -> [u8; KEPT] {
    let part = parts.iter().find(|part| Some(part.info.index) == finding.part);
    digest(|hasher| {
        hasher.update(first_name(finding.rule));
        hasher.update([0]);
        hasher.update(part.map_or("", |part| part.info.name.trim()));
        hasher.update([0]);
        if let Some(part) = part.filter(|_| !finding.notes.is_empty()) {
            hasher.update(music_of_bar(part, finding.worst.place.bar_index));
        }
    })
}

/// What is played in a bar: where from its start, how long, what sounds.
fn music_of_bar(part: &Part, bar: u32) -> String {
    let from = part.notes.partition_point(|note| note.bar < bar);
    let notes = part.notes[from..].iter().take_while(|note| note.bar == bar);
    notes.filter(|note| note.is_played()).fold(String::new(), |mut music, note| {
        let _ = write!(music, "{} {} {};", note.bar_onset, note.length, note.sounding);
        music
    })
}

fn digest(feed: impl FnOnce(&mut Sha256)) -> [u8; KEPT] {
    let mut hasher = Sha256::new();
    feed(&mut hasher);
    let mut kept = [0; KEPT];
    kept.copy_from_slice(&hasher.finalize()[..KEPT]);
    kept
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::{Accepted, Baseline, fingerprints};
    use crate::finding::{Finding, Place, Severity, Span, Waived, Worst};
    use crate::score::Score;
    use crate::score::testing::music;

    fn finding(score: &Score, note: u32) -> Finding {
        let place = Place::of_note(score, &score.parts[0].notes[note as usize], "1");
        Finding {
            rule: "out-of-range",
            severity: Severity::Error,
            part: Some(score.parts[0].info.index),
            profile: None,
            span: Span { to: place.clone(), notes: 1, sounds: 1 },
            worst: Worst { place: place.clone(), ..Worst::default() },
            place,
            asked: None,
            limit: None,
            message: String::new(),
            instead: None,
            octave_move: None,
            notes: vec![note],
            pass: None,
            ground: crate::finding::Ground::common_practice(),
            waived: None,
        }
    }

    fn prints(text: &str, notes: &[u32]) -> Vec<String> {
        let music = music(text);
        let findings: Vec<Finding> = notes.iter().map(|note| finding(&music.score, *note)).collect();
        fingerprints(&findings, &music.score.parts)
    }

    #[test]
    fn bars_put_in_before_leave_a_fingerprint_as_it_is() {
        assert_eq!(prints("C1/4 | D1/4", &[1]), prints("r/4 | F1/4 | r/4 | C1/4 | D1/4", &[2]));
    }

    #[test]
    fn other_music_in_the_bar_makes_it_new() {
        assert_ne!(prints("C1/4 | D1/4", &[1]), prints("C1/4 | E1/4", &[1]));
        assert_ne!(prints("C1/4 | D1/4", &[1]), prints("C1/4 | D1/3 r", &[1]));
    }

    #[test]
    fn like_findings_in_like_bars_are_told_apart_by_their_order() {
        let prints = prints("C1/4 | C1/4 | C1/4", &[0, 1, 2]);
        assert!(prints[0] != prints[1] && prints[1] != prints[2]);
        assert_eq!(prints[0].len(), 32);
    }

    #[test]
    fn a_renamed_id_and_place_in_the_part_list_change_nothing() {
        let mut music = music("C1/4");
        let before = fingerprints(&[finding(&music.score, 0)], &music.score.parts);
        music.score.parts[0].info.index = 7;
        music.score.parts[0].info.id = "P8".to_owned();
        assert_eq!(fingerprints(&[finding(&music.score, 0)], &music.score.parts), before);
        music.score.parts[0].info.name = "Tuba 2".to_owned();
        assert_ne!(fingerprints(&[finding(&music.score, 0)], &music.score.parts), before);
    }

    #[test]
    fn what_was_accepted_is_marked_as_often_as_it_was_accepted() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("accepted.json");
        let accepted = |fingerprint: &str| Accepted {
            score: "cue.musicxml".to_owned(),
            part: "Tuba".to_owned(),
            rule: "out-of-range".to_owned(),
            fingerprint: fingerprint.to_owned(),
        };
        fs::write(&path, Baseline::write(vec![accepted("b"), accepted("a"), accepted("gone")])).unwrap();
        let baseline = Baseline::read(&path).unwrap();
        let music = music("C1/4");
        let mut findings = vec![finding(&music.score, 0); 4];
        let prints = ["a", "a", "b", "new"].map(str::to_owned);
        assert_eq!(baseline.apply("cue.musicxml", &mut findings, &prints), 1);
        let marked: Vec<bool> =
            findings.iter().map(|finding| finding.waived == Some(Waived::Baseline)).collect();
        assert_eq!(marked, [true, false, true, false]);
        assert_eq!(baseline.apply("other.musicxml", &mut findings, &prints), 0);
    }

    #[test]
    fn a_file_that_is_no_baseline_is_refused_with_its_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("accepted.json");
        let message = |text: &str| {
            fs::write(&path, text).unwrap();
            let error = Baseline::read(&path).unwrap_err().to_string();
            error.replace(&*path.to_string_lossy(), "@")
        };
        assert!(message("<score-partwise/>").starts_with("@:1:1: no baseline of lowbrass: "));
        assert_eq!(
            message("{\"schema_version\": 2, \"findings\": []}"),
            "@: written by a later version of lowbrass (schema_version 2); this one reads 1"
        );
        assert_eq!(Baseline::read(&path).unwrap_err().to_string().matches("schema_version").count(), 1);
        fs::write(&path, Baseline::write(Vec::new())).unwrap();
        assert_eq!(Baseline::read(&path).unwrap(), Baseline::default());
    }
}
