//! SARIF 2.1.0, as code-scanning hosts read it: rules with their pages, results with places, fingerprints
//! and suppressions, the worst first.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, Write};

use serde::Serialize;

use super::contract::{Finding, Level, Report, Score};
use super::{phrases, worst_first};
use crate::finding::Basis;
use crate::rules::{RULES, Rule};

/// A host refuses a file with more, and shows the first 5,000.
const MOST_RESULTS: usize = 25_000;
/// A host cuts descriptions at so many characters.
const LONGEST_DESCRIPTION: usize = 1_024;
/// The base that hosts take for the root of the repository.
const SOURCE_ROOT: &str = "%SRCROOT%";
/// The suppression of a baseline has no words of its own.
const IN_BASELINE: &str = "stands in the baseline";

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Log<'a> {
    #[serde(rename = "$schema")]
    schema: &'a str,
    version: &'a str,
    runs: [Run<'a>; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Run<'a> {
    tool: Tool<'a>,
    invocations: [Invocation; 1],
    original_uri_base_ids: BTreeMap<&'a str, Base<'a>>,
    column_kind: &'a str,
    results: Vec<Result<'a>>,
}

#[derive(Serialize)]
struct Tool<'a> {
    driver: Driver<'a>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Driver<'a> {
    name: &'a str,
    semantic_version: &'a str,
    rules: Vec<Descriptor>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Descriptor {
    id: String,
    name: String,
    short_description: Text,
    full_description: Text,
    help: Text,
    default_configuration: Configuration,
    properties: Tags,
}

#[derive(Serialize)]
struct Configuration {
    level: Level,
}

#[derive(Serialize)]
struct Tags {
    tags: Vec<String>,
}

#[derive(Serialize)]
struct Text {
    text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    markdown: Option<String>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Invocation {
    execution_successful: bool,
    tool_execution_notifications: Vec<Notification>,
}

#[derive(Serialize)]
struct Notification {
    level: Level,
    message: Text,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    locations: Vec<Location>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Result<'a> {
    rule_id: &'a str,
    rule_index: usize,
    level: Level,
    message: Text,
    locations: [Location; 1],
    partial_fingerprints: BTreeMap<&'a str, &'a str>,
    properties: Grounds<'a>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    suppressions: Vec<Suppression<'a>>,
}

/// What the number stands on that decided.
#[derive(Serialize)]
struct Grounds<'a> {
    basis: Basis,
    sources: &'a [String],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Location {
    physical_location: PhysicalLocation,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    logical_locations: Vec<LogicalLocation>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct PhysicalLocation {
    artifact_location: ArtifactLocation,
    region: Region,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct ArtifactLocation {
    uri: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    uri_base_id: Option<&'static str>,
}

/// What relative addresses start from. Where that is, the reader of the file knows: no absolute path of this
/// machine goes into a report.
#[derive(Serialize)]
struct Base<'a> {
    description: Message<'a>,
}

#[derive(Serialize)]
struct Message<'a> {
    text: &'a str,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct LogicalLocation {
    name: String,
    fully_qualified_name: String,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Region {
    start_line: u32,
    start_column: u32,
    end_line: u32,
    end_column: u32,
}

#[derive(Serialize)]
struct Suppression<'a> {
    kind: &'a str,
    justification: &'a str,
}

/// Writes what is at least `from`.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    let all = worst_first(report, from, true);
    let mut rules: Vec<Descriptor> = RULES.iter().map(Descriptor::of).collect();
    let mut results = Vec::with_capacity(all.len().min(MOST_RESULTS));
    for &(score, finding) in all.iter().take(MOST_RESULTS) {
        let rule_index = rules.iter().position(|rule| rule.id == finding.rule).unwrap_or_else(|| {
            rules.push(Descriptor::bare(finding));
            rules.len() - 1
        });
        results.push(Result::of(score, finding, rule_index));
    }
    let log = Log {
        schema: "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
        version: "2.1.0",
        runs: [Run {
            tool: Tool {
                driver: Driver { name: &report.tool.name, semantic_version: &report.tool.version, rules },
            },
            invocations: [Invocation {
                execution_successful: report.unread.is_empty(),
                tool_execution_notifications: notifications(report, all.len()),
            }],
            original_uri_base_ids: BTreeMap::from([(
                SOURCE_ROOT,
                Base { description: Message { text: "the folder the check was started in" } },
            )]),
            column_kind: "unicodeCodePoints",
            results,
        }],
    };
    serde_json::to_writer_pretty(&mut *out, &log)?;
    writeln!(out)
}

/// What could not be read, and the totals.
fn notifications(report: &Report, found: usize) -> Vec<Notification> {
    let mut notifications: Vec<Notification> = report
        .unread
        .iter()
        .map(|unread| Notification {
            level: Level::Error,
            message: Text::plain(format!("could not be read: {}", unread.message)),
            locations: vec![Location::of(&unread.path, 1, vec![])],
        })
        .collect();
    let left_out = match found.saturating_sub(MOST_RESULTS) {
        0 => String::new(),
        left_out => format!("; the {left_out} least are left out"),
    };
    let totals = phrases::totals(report);
    notifications.push(Notification {
        level: Level::Note,
        message: Text::plain(format!("{totals}{left_out}")),
        locations: vec![],
    });
    let not_judged = report.scores.iter().filter_map(|score| {
        Some(Notification {
            level: Level::Note,
            message: Text::plain(phrases::not_judged(score)?),
            locations: vec![Location::of(&score.path, 1, vec![])],
        })
    });
    notifications.extend(not_judged);
    notifications
}

impl Descriptor {
    fn of(rule: &Rule) -> Descriptor {
        let page = &rule.page;
        let sources = page.sources.join("; ");
        let meant = format!(
            "Is it meant as it stands? Write the words \"ok: {}\" at the note, or waive it in lowbrass.toml.",
            rule.name
        );
        Descriptor {
            id: rule.name.to_owned(),
            name: rule.name.split('-').map(capital).collect(),
            short_description: Text::plain(phrases::cut(page.finds, LONGEST_DESCRIPTION)),
            full_description: Text::plain(phrases::cut(
                &format!("{} {}", page.finds, page.matters),
                LONGEST_DESCRIPTION,
            )),
            help: Text {
                text: format!(
                    "{}\n\n{}\n\nWhat to do: {}\n\n{meant}\n\nSources: {sources}",
                    page.finds, page.matters, page.instead
                ),
                markdown: Some(format!(
                    "{}\n\n{}\n\n**What to do.** {}\n\n{}\n\n**Sources.** {sources}",
                    page.finds,
                    page.matters,
                    page.instead,
                    meant.replace(&format!("\"ok: {}\"", rule.name), &format!("`ok: {}`", rule.name)),
                )),
            },
            default_configuration: Configuration { level: rule.severity.into() },
            properties: Tags { tags: vec![format!("{:?}", rule.family).to_lowercase()] },
        }
    }

    /// For a rule without a page: its name is all there is to say.
    fn bare(finding: &Finding) -> Descriptor {
        let words = finding.rule.replace('-', " ");
        Descriptor {
            id: finding.rule.clone(),
            name: finding.rule.split('-').map(capital).collect(),
            short_description: Text::plain(phrases::sentence(&words)),
            full_description: Text::plain(phrases::sentence(&words)),
            help: Text::plain(phrases::sentence(&words)),
            default_configuration: Configuration { level: finding.severity },
            properties: Tags { tags: vec![] },
        }
    }
}

impl<'a> Result<'a> {
    fn of(score: &Score, finding: &'a Finding, rule_index: usize) -> Result<'a> {
        let place = LogicalLocation {
            name: finding.part_name.clone().unwrap_or_else(|| "the whole score".to_owned()),
            fully_qualified_name: phrases::part_and_place(score, finding),
        };
        Result {
            rule_id: &finding.rule,
            rule_index,
            level: finding.severity,
            message: Text::plain(phrases::in_one_line(score, finding)),
            locations: [Location::of(&score.path, finding.line, vec![place])],
            // Hosts read the first name only; the second is ours and says what it was made from.
            partial_fingerprints: BTreeMap::from([
                ("primaryLocationLineHash", finding.fingerprint.as_str()),
                ("lowbrassFinding/v1", finding.fingerprint.as_str()),
            ]),
            properties: Grounds { basis: finding.basis, sources: &finding.sources },
            suppressions: finding
                .waived
                .as_ref()
                .map(|waived| Suppression {
                    kind: if waived.by == "score" { "inSource" } else { "external" },
                    justification: waived.because.as_deref().unwrap_or(IN_BASELINE),
                })
                .into_iter()
                .collect(),
        }
    }
}

impl Location {
    fn of(path: &str, line: u32, logical_locations: Vec<LogicalLocation>) -> Location {
        // Inside a compressed score a line means nothing to a host: point at the file.
        let line = if super::is_compressed(path) { 1 } else { line.max(1) };
        let uri = uri(path);
        let uri_base_id = (!uri.starts_with("file:")).then_some(SOURCE_ROOT);
        Location {
            physical_location: PhysicalLocation {
                artifact_location: ArtifactLocation { uri, uri_base_id },
                region: Region { start_line: line, start_column: 1, end_line: line, end_column: 2 },
            },
            logical_locations,
        }
    }
}

impl Text {
    fn plain(text: String) -> Text {
        Text { text, markdown: None }
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_ascii_uppercase().to_string() + letters.as_str()).unwrap_or_default()
}

/// A path as a relative reference (RFC 3986): bytes that are not unreserved are percent-encoded, so that no
/// first segment can pass for a scheme.
fn uri(path: &str) -> String {
    let path = path.replace('\\', "/");
    let path = path.strip_prefix("./").unwrap_or(&path);
    let mut uri = String::with_capacity(path.len());
    if path.starts_with('/') {
        uri.push_str("file://");
    }
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~' | b'/') {
            uri.push(char::from(byte));
        } else {
            let _ = write!(uri, "%{byte:02X}");
        }
    }
    uri
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_becomes_a_relative_reference() {
        assert_eq!(uri("./cues/cue 3.musicxml"), "cues/cue%203.musicxml");
        assert_eq!(uri(r"cues\Überfahrt.mxl"), "cues/%C3%9Cberfahrt.mxl");
        assert_eq!(uri("c:3.xml"), "c%3A3.xml");
        assert_eq!(uri("/scores/a.xml"), "file:///scores/a.xml");
    }
}
