//! What the readers of our reports take and no more: each limit with where it is published.

use super::tests::written;
use super::*;
use crate::finding;

fn many(count: usize, rule: &'static str, severity: Severity) -> Vec<finding::Finding> {
    (0..count).map(|_| sample::finding(rule, severity, Some(1), "F0 lies below the compass")).collect()
}

fn report_of(findings: Vec<finding::Finding>) -> Report {
    Report::new(vec![sample::judged(None, "cues/1m3 Überfahrt.xml", findings, None)], vec![])
}

/// GitHub's page "SARIF results exceed limits" (docs.github.com, code-security/code-scanning/
/// troubleshooting-sarif-uploads/results-exceed-limit): 20 runs a file, 25,000 results a run of which the gravest
/// 5,000 are shown, 25,000 rules a run, 1,000 locations a result of which 100 are shown, 20 tags a rule of which
/// 10 are shown.
#[test]
fn sarif_keeps_to_the_limits_of_a_code_scanning_host_and_leaves_out_the_least() {
    let mut findings = many(25_100, "hit-too-low", Severity::Warning);
    findings.extend(many(10, "out-of-range", Severity::Error));
    let sarif = written(Format::Sarif, &report_of(findings), &Look::default());
    let json: serde_json::Value = serde_json::from_str(&sarif).unwrap();
    let runs = json["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 1);
    let results = runs[0]["results"].as_array().unwrap();
    assert_eq!(results.len(), 25_000);
    assert!(results[..10].iter().all(|result| result["level"] == "error"));
    for result in results {
        assert_eq!(result["locations"].as_array().unwrap().len(), 1);
    }
    for rule in runs[0]["tool"]["driver"]["rules"].as_array().unwrap() {
        assert!(rule["properties"]["tags"].as_array().unwrap().len() <= 10);
    }
    let told = &runs[0]["invocations"][0]["toolExecutionNotifications"];
    assert!(told[0]["message"]["text"].as_str().unwrap().ends_with("the 110 least are left out"), "{told}");
}

/// SARIF 2.1.0 (OASIS), 3.4.4 and 3.14.14: a relative address names its base, and the base's own address may be
/// left to the reader. GitHub's page "SARIF support for code scanning" takes addresses relative to the root of the
/// repository. RFC 3986 for the address itself.
#[test]
fn sarif_places_are_relative_to_the_source_root() {
    let json: serde_json::Value = serde_json::from_str(&written(
        Format::Sarif,
        &report_of(many(1, "out-of-range", Severity::Error)),
        &Look::default(),
    ))
    .unwrap();
    let run = &json["runs"][0];
    let place = &run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"];
    assert_eq!(place["uri"], "cues/1m3%20%C3%9Cberfahrt.xml");
    assert_eq!(place["uriBaseId"], "%SRCROOT%");
    let base = &run["originalUriBaseIds"]["%SRCROOT%"];
    assert!(base["description"]["text"].is_string() && base.get("uri").is_none(), "{base}");
}

/// GitHub's description of its REST API (github/rest-api-description, checks/create): 10 warning and 10 error
/// annotations for a step. From memory: a title of 255 characters, a message of 64 KB.
#[test]
fn annotations_stop_at_ten_of_a_kind_and_say_so() {
    let mut findings = many(25, "out-of-range", Severity::Error);
    findings.extend(many(12, "hit-too-low", Severity::Warning));
    let text = written(Format::Github, &report_of(findings), &Look::default());
    assert_eq!(text.lines().filter(|line| line.starts_with("::error ")).count(), 10);
    assert_eq!(text.lines().filter(|line| line.starts_with("::warning ")).count(), 10);
    assert!(
        text.ends_with("25 errors · 12 warnings; 17 more than a step can show are left out here\n"),
        "{text}"
    );
}

#[test]
fn the_title_of_an_annotation_stays_within_what_a_host_shows() {
    let mut report = report_of(many(1, "out-of-range", Severity::Error));
    report.scores[0].findings[0].part_name = Some("Ü".repeat(400));
    let text = written(Format::Github, &report, &Look::default());
    let title = text.split("title=").nth(1).unwrap().split("::").next().unwrap();
    assert_eq!(title.chars().count(), 255);
    assert!(title.ends_with('…'));
}

/// What GitHub's API answers to a longer comment: "Body is too long (maximum is 65536 characters)", quoted in
/// telia-oss/github-pr-resource, issue 259.
#[test]
fn a_comment_stays_within_what_a_host_takes() {
    let text =
        written(Format::Markdown, &report_of(many(2_000, "out-of-range", Severity::Error)), &Look::default());
    assert!(text.len() < 65_536);
    assert!(text.contains("more left out here"));
}

/// RFC 4180: lines end with CRLF (2.1), all have the same number of fields (2.4), a field with a comma, a quote or a
/// line end stands in quotes (2.6), a quote in it is doubled (2.7).
#[test]
fn csv_is_as_its_specification_has_it() {
    let mut report = report_of(many(2, "out-of-range", Severity::Error));
    report.scores[0].findings[0].message = "a \"hold\", then\nmore".to_owned();
    let text = written(Format::Csv, &report, &Look::default());
    assert!(text.ends_with("\r\n"));
    assert!(text.contains(",\"a \"\"hold\"\", then\nmore\","), "{text}");
    let mut quoted = false;
    let mut fields = vec![1];
    for (at, letter) in text.char_indices() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => *fields.last_mut().unwrap() += 1,
            '\n' if !quoted => {
                assert!(text[..at].ends_with('\r'));
                fields.push(1);
            }
            _ => {}
        }
    }
    assert_eq!(fields.pop(), Some(1), "the last line is ended");
    assert_eq!(fields.len(), 3);
    assert!(fields.iter().all(|count| *count == fields[0] && *count > 10), "{fields:?}");
}
