//! Every format on one report with every kind of finding, and what holds for all of them.

use std::path::PathBuf;
use std::process::Command;

use proptest::prelude::*;
use unicode_width::UnicodeWidthStr;

use super::*;
use crate::finding;
use crate::music::Dynamic;

pub(super) fn written(format: Format, report: &Report, look: &Look) -> String {
    let mut out = Vec::new();
    format.write(report, look, &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

/// Without its styles, as a pipe would get it.
pub(super) fn plain(text: &str) -> String {
    anstream::adapter::strip_str(text).to_string()
}

#[track_caller]
fn snapshot(name: &str, text: &str) {
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("../../tests/expected/report");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, text));
}

#[test]
fn each_format_says_all_there_is() {
    for format in Format::ALL {
        let look = Look::default();
        let text = plain(&written(format, &sample::report(), &look)).replace('\r', "");
        let text = if format == Format::Sarif { without_pages(&text) } else { text };
        snapshot(format.name(), &text);
    }
}

#[test]
fn every_format_with_room_for_it_lists_the_parts_that_were_not_judged() {
    let report = sample::report();
    let names: Vec<&str> = report.scores[0].passed_over.iter().map(|part| part.name.as_str()).collect();
    assert!(!names.is_empty());
    let look = Look { verbose: true, ..Look::default() };
    for format in Format::ALL {
        let text = plain(&written(format, &report, &look));
        let escapes =
            [("&lt;", "<"), ("&#60;", "<"), ("&gt;", ">"), ("&#62;", ">"), ("&#38;", "&"), ("&amp;", "&")];
        let text = escapes.iter().fold(text, |text, (escape, letter)| text.replace(escape, letter));
        // In CSV a row is a finding.
        let expected = format != Format::Csv;
        let listed = match format {
            Format::Json => text.contains("passed_over"),
            _ => text.contains("Not judged: "),
        };
        assert_eq!(listed, expected, "{}", format.name());
        assert!(!expected || names.iter().all(|name| text.contains(name)), "{}", format.name());
    }
    assert!(!plain(&written(Format::Text, &report, &Look::default())).contains("Not judged"));
}

/// A rule's words are its own: without them and their numbers, the snapshot stays when a rule is added.
fn without_pages(sarif: &str) -> String {
    let mut json: serde_json::Value = serde_json::from_str(sarif).unwrap();
    let run = &mut json["runs"][0];
    run["tool"]["driver"]["rules"] = "one for each rule".into();
    for result in run["results"].as_array_mut().unwrap() {
        result["ruleIndex"] = "its rule".into();
    }
    serde_json::to_string_pretty(&json).unwrap()
}

#[test]
fn the_very_same_remark_in_several_parts_is_said_once_and_names_them() {
    let of_part = |part: u32, bars| finding::Finding { part: Some(part), ..sample::too_loud(bars, 1893) };
    let same = vec![of_part(1, (12, 13)), of_part(2, (12, 13)), of_part(4, (12, 13)), of_part(4, (40, 41))];
    let report = Report::new(vec![sample::judged(None, "cue.musicxml", same, None)], vec![]);
    let text = plain(&written(Format::Text, &report, &Look::default()));
    assert_eq!(text.matches("D1 is marked ff").count(), 2, "Tuba 2 has one at other bars, too: {text}");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("Bassposaune ＢＰ too."), "{text}");
    assert!(text.contains("Bassposaune ＢＰ · read as bass trombone 212 notes, D1 to F3, plays 38 % of the time · nothing of its own to remark"), "{text}");
    let table = written(Format::Markdown, &report, &Look::default());
    assert!(table.contains("| Tuba, Bassposaune ＢＰ and Tuba 2, bars 12–13 |"), "{table}");
    let all = plain(&written(Format::Text, &report, &Look { all: true, ..Look::default() }));
    assert_eq!(all.matches("D1 is marked ff").count(), 3, "{all}");
}

/// Of many places only the first eight are named: two parts whose first eight are alike are not the same for it.
#[test]
fn parts_that_part_only_after_the_bars_that_are_named_are_told_apart() {
    let of_part = |part: u32, last: u32| {
        let bars = (1..=8).map(|bar| 2 * bar).chain([last, last + 2]);
        bars.map(move |bar| finding::Finding { part: Some(part), ..sample::too_loud((bar, bar), 1893) })
    };
    let found = of_part(1, 20).chain(of_part(4, 30)).collect();
    let report = Report::new(vec![sample::judged(None, "cue.musicxml", found, None)], vec![]);
    let text = plain(&written(Format::Text, &report, &Look::default()));
    assert_eq!(text.matches("D1 is marked ff").count(), 2, "{text}");
}

/// Under `--watch`: a score that is just being written is none whose remarks are gone.
#[test]
fn of_a_score_that_cannot_be_read_nothing_is_new_and_nothing_gone() {
    let found = || vec![sample::too_loud((12, 13), 1893)];
    let read = Report::new(vec![sample::judged(None, "cue.musicxml", found(), None)], vec![]);
    let path = read.scores[0].path.clone();
    let unread = Report::new(vec![], vec![Unread { path, message: "cut".to_owned() }]);
    for (before, now) in [(&read, &unread), (&unread, &read)] {
        let mut out = Vec::new();
        write_changes(before, now, &Look::default(), &mut out).unwrap();
        let text = plain(&String::from_utf8(out).unwrap());
        assert!(text.contains("nothing new, nothing gone"), "{text}");
    }
}

#[test]
fn a_folder_is_told_score_by_score() {
    for format in [Format::Text, Format::Github, Format::Markdown, Format::Junit] {
        let text = plain(&written(format, &sample::folder(), &Look::default()));
        snapshot(&format!("folder-{}", format.name()), &text);
    }
}

#[test]
fn text_suits_its_terminal() {
    let wide = Look { width: 200, min_level: Some(Severity::Note), ..Look::default() };
    snapshot("text-wide-from-note", &plain(&written(Format::Text, &sample::report(), &wide)));
    let poor = Look { width: 44, unicode: false, ..Look::default() };
    let text = plain(&written(Format::Text, &sample::report(), &poor));
    assert!(text.is_ascii(), "{text}");
    snapshot("text-narrow-ascii", &text);
}

#[test]
fn the_moves_make_a_table() {
    let mut out = Vec::new();
    write_moves(&sample::report(), &Look::default(), &mut out).unwrap();
    write_moves(&sample::folder(), &Look::default(), &mut out).unwrap();
    snapshot("moves", &plain(&String::from_utf8(out).unwrap()));
}

#[test]
fn parts_of_one_name_or_none_are_told_apart() {
    let mut report = sample::report();
    report.scores[0].parts[1].name = "Tuba".to_owned();
    report.scores[0].parts[2].name = String::new();
    let text = plain(&written(Format::Text, &report, &Look::default()));
    for heading in ["Tuba (P7) · ", "Tuba (P8) · ", "part P10 · "] {
        assert!(text.contains(heading), "{heading}: {text}");
    }
}

#[test]
fn a_move_is_spelled_out_once_for_all_that_it_cures() {
    let loud = sample::too_loud((12, 13), 1893);
    let late = finding::Finding { rule: "hit-too-low", ..loud.clone() };
    let report = Report::new(vec![sample::judged(None, "a.xml", vec![loud, late], None)], vec![]);
    let text = plain(&written(Format::Text, &report, &Look::default()));
    assert_eq!(text.matches("Take bars 12–13 up an octave").count(), 1, "{text}");
    assert_eq!(text.matches("The same move clears it.").count(), 1, "{text}");
}

#[test]
fn many_like_remarks_stand_behind_one_and_all_of_them_are_told_when_asked_for() {
    let loud: Vec<finding::Finding> = (0..13)
        .map(|n| {
            // Each sounds for another time, so that none is quite like another.
            let mut loud = sample::too_loud((10 + n, 10 + n), 1893);
            loud.worst.dynamic = [None, Some(Dynamic::Ff), Some(Dynamic::Fff)][n as usize % 3];
            loud.octave_move.as_mut().unwrap().why_not_safe = Some(format!("reason {n}"));
            loud
        })
        .chain((0..3).map(|_| sample::finding("hit-too-low", Severity::Warning, Some(6), "a hit")))
        .collect();
    let report = Report::new(vec![sample::judged(None, "a.xml", loud, None)], vec![]);
    let text = |all| {
        let text = plain(&written(Format::Text, &report, &Look { all, ..Look::default() }));
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let folded = text(false);
    assert_eq!(folded.matches("warning too-loud-for-register").count(), 1, "{folded}");
    assert_eq!(folded.matches("warning hit-too-low").count(), 3, "a few are spelled out: {folded}");
    let more = "12 more like it, D1: bars 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21 and 22. \
        12 of them have octave moves (--diff). --all spells them out.";
    assert!(folded.contains(more), "{folded}");
    let all = text(true);
    assert_eq!(all.matches("warning too-loud-for-register").count(), 13, "{all}");
    assert!(!all.contains("more like it"));
}

#[test]
fn a_long_report_ends_with_what_it_is_made_of() {
    let many = |count: usize, severity| -> Vec<finding::Finding> {
        (0..count).map(|_| sample::finding("out-of-range", severity, Some(6), "too low")).collect()
    };
    let text = |findings: Vec<finding::Finding>| {
        let report = Report::new(vec![sample::judged(None, "a.xml", findings, None)], vec![]);
        plain(&written(Format::Text, &report, &Look::default()))
    };
    let mut mixed = many(2, Severity::Error);
    mixed.extend(many(39, Severity::Warning));
    let long = text(mixed);
    assert!(long.contains("41 out-of-range (--min-level error shows the 2 errors alone)"), "{long}");
    assert!(!text(many(41, Severity::Error)).contains("alone"));
    assert!(!text(many(40, Severity::Error)).contains("40 out-of-range"));
}

#[test]
fn styles_only_repeat_what_the_words_say() {
    let styled = written(Format::Text, &sample::report(), &Look::default());
    let bare = plain(&styled);
    assert_ne!(styled, bare);
    for word in ["error", "warning"] {
        assert!(bare.contains(word), "{word}");
    }
}

#[test]
fn the_level_decides_what_is_shown_and_the_totals_count_everything() {
    let look = Look { min_level: Some(Severity::Error), ..Look::default() };
    let json: serde_json::Value =
        serde_json::from_str(&written(Format::Json, &sample::report(), &look)).unwrap();
    let findings = json["scores"][0]["findings"].as_array().unwrap();
    assert!(!findings.is_empty() && findings.iter().all(|finding| finding["severity"] == "error"));
    assert_eq!(json["summary"]["warning"], 8);
    let text = plain(&written(Format::Text, &sample::report(), &look));
    assert!(text.contains(" lesser remarks not shown (--min-level note)"), "{text}");
}

#[test]
fn the_json_report_keeps_to_its_own_schema() {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    for report in [sample::report(), sample::folder(), Report::new(vec![], vec![])] {
        let json: serde_json::Value =
            serde_json::from_str(&written(Format::Json, &report, &Look::default())).unwrap();
        let errors: Vec<String> = validator.iter_errors(&json).map(|error| error.to_string()).collect();
        assert!(errors.is_empty(), "{errors:#?}");
    }
}

#[test]
fn the_schema_misses_no_field_and_refuses_what_is_no_report() {
    let mut strict = schema();
    close(&mut strict);
    let validator = jsonschema::draft202012::new(&strict).unwrap();
    let mut json: serde_json::Value =
        serde_json::from_str(&written(Format::Json, &sample::report(), &Look::default())).unwrap();
    assert!(validator.is_valid(&json), "a field is written that the schema does not know");
    json["scores"][0]["findings"][0]["severity"] = "fatal".into();
    assert!(!validator.is_valid(&json));
    json["scores"][0]["findings"][0].as_object_mut().unwrap().remove("severity");
    assert!(!validator.is_valid(&json));
}

/// Allows no property that the schema does not name.
fn close(schema: &mut serde_json::Value) {
    if let Some(object) = schema.as_object_mut() {
        if object.contains_key("properties") {
            object.insert("additionalProperties".to_owned(), false.into());
        }
        object.values_mut().for_each(close);
    } else if let Some(list) = schema.as_array_mut() {
        list.iter_mut().for_each(close);
    }
}

#[test]
fn sarif_keeps_to_the_published_schema() {
    let text = std::fs::read_to_string(sarif_schema()).unwrap();
    let mut schema: serde_json::Value = serde_json::from_str(&text).unwrap();
    for definition in ["run", "toolComponent"] {
        // Its regular expression is none by the rules of JSON Schema (an open bracket too few).
        schema["definitions"][definition]["properties"]["language"]
            .as_object_mut()
            .unwrap()
            .remove("pattern");
    }
    let validator = jsonschema::draft7::new(&schema).unwrap();
    for report in [sample::report(), sample::folder(), Report::new(vec![], vec![])] {
        let sarif = written(Format::Sarif, &report, &Look::default());
        let json: serde_json::Value = serde_json::from_str(&sarif).unwrap();
        let errors: Vec<String> = validator.iter_errors(&json).map(|error| error.to_string()).collect();
        assert!(errors.is_empty(), "{errors:#?}");
        let read: serde_sarif::sarif::Sarif = serde_json::from_str(&sarif).unwrap();
        let found: usize = report.scores.iter().map(|score| score.findings.len()).sum();
        assert_eq!(read.runs[0].results.as_ref().unwrap().len(), found);
    }
}

/// The OASIS schema (SARIF 2.1.0), which the crate `serde-sarif` carries.
fn sarif_schema() -> PathBuf {
    let said = |command: &mut Command| String::from_utf8(command.output().unwrap().stdout).unwrap();
    let version = said(Command::new("rustc").arg("-vV"));
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let metadata = said(
        Command::new(env!("CARGO"))
            .args(["metadata", "--format-version", "1", "--offline", "--locked", "--filter-platform", host])
            .current_dir(env!("CARGO_MANIFEST_DIR")),
    );
    let metadata: serde_json::Value = serde_json::from_str(&metadata).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    let package = packages.iter().find(|package| package["name"] == "serde-sarif").unwrap();
    let manifest = PathBuf::from(package["manifest_path"].as_str().unwrap());
    manifest.with_file_name("src").join("schema.json")
}

#[test]
fn every_sarif_rule_and_result_has_what_a_host_asks_for() {
    let json: serde_json::Value =
        serde_json::from_str(&written(Format::Sarif, &sample::report(), &Look::default())).unwrap();
    let run = &json["runs"][0];
    let rules = run["tool"]["driver"]["rules"].as_array().unwrap();
    assert!(rules.len() >= crate::rules::RULES.len());
    for rule in rules {
        for field in ["shortDescription", "fullDescription", "help"] {
            let text = rule[field]["text"].as_str().unwrap();
            assert!(!text.is_empty() && text.chars().count() <= 4_096, "{}: {field}", rule["id"]);
        }
    }
    let mut last = 4;
    for result in run["results"].as_array().unwrap() {
        assert_eq!(rules[result["ruleIndex"].as_u64().unwrap() as usize]["id"], result["ruleId"]);
        let region = &result["locations"][0]["physicalLocation"]["region"];
        for number in ["startLine", "startColumn", "endLine", "endColumn"] {
            assert!(region[number].as_u64().unwrap() >= 1);
        }
        assert!(result["partialFingerprints"]["primaryLocationLineHash"].is_string());
        let weight = match (result.get("suppressions"), result["level"].as_str().unwrap()) {
            (Some(_), _) => 0,
            (None, "error") => 3,
            (None, "warning") => 2,
            (None, _) => 1,
        };
        assert!(weight <= last, "the worst come first");
        last = weight.max(1);
    }
}

#[test]
fn a_junit_case_fails_where_the_exit_status_would() {
    let failures = |fail_on| {
        let look = Look { fail_on, ..Look::default() };
        written(Format::Junit, &sample::report(), &look).matches("<failure").count()
    };
    assert_eq!(failures(None), 0);
    assert_eq!(failures(Some(Severity::Error)), 2);
    assert_eq!(failures(Some(Severity::Warning)), 10);
    assert_eq!(failures(Some(Severity::Note)), 14);
}

#[test]
fn on_the_page_no_sign_hides_a_graver_one() {
    let page = written(Format::Html, &sample::drawn(), &Look::default());
    let mut errors = 0;
    for row in page.split("<div class=\"row\">").skip(1).map(|rest| rest.split("</div>").next().unwrap()) {
        let drawn = |level: &str| -> Vec<usize> {
            let class = format!("class=\"sign {level} ");
            row.match_indices(&class).map(|(at, _)| at).collect()
        };
        let last_light = drawn("note").into_iter().chain(drawn("warning")).max();
        let first_error = drawn("error").into_iter().min();
        assert!(first_error.is_none() || last_light < first_error, "{row}");
        errors += drawn("error").len();
    }
    assert!(errors > 0);
}

#[test]
fn every_remark_and_each_of_its_bars_stands_on_the_page_and_leads_to_the_picture_and_back() {
    let report = sample::drawn();
    let page = written(Format::Html, &report, &Look::default());
    let of = |what: &str| -> Vec<String> {
        page.split(what).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
    };
    let (ids, targets) = (of(" id=\""), of(" href=\"#"));
    for target in &targets {
        assert!(ids.contains(target), "#{target} leads nowhere");
    }
    let mut once = ids.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id stands twice");
    let placed = report.scores[0]
        .findings
        .iter()
        .filter(|finding| {
            finding.beat != "0"
                && report.scores[0].parts.iter().any(|part| finding.is_about(&part.id, &part.name))
        })
        .count();
    assert_eq!(page.matches("<a class=\"flag ").count(), placed);
    for part in &report.scores[0].parts {
        let heading = format!("-title\">{}</h2>", part.name);
        assert!(page.contains(&heading), "{heading}");
    }
}

#[test]
fn the_page_stands_alone() {
    let page = written(Format::Html, &sample::report(), &Look::default());
    for outside in ["<script", "http://", "https://", "<link", "@import", "<img"] {
        assert!(!page.contains(outside), "{outside}");
    }
    let drawn = written(Format::Html, &sample::drawn(), &Look::default());
    assert_eq!(drawn.matches("url(").count(), drawn.matches("url(#").count());
    assert!(page.contains("Brass &#60;low&#62; &#38;"), "names are escaped");
    assert!(!page.contains('\u{1}'));
}

proptest! {
    #[test]
    fn text_of_any_width_stays_within_it_where_its_words_allow(
        width in 0_usize..220,
        unicode: bool,
        name in "\\PC{0,40}",
        message in "(\\PC{1,9} ){1,30}",
        title in proptest::option::of(".{0,60}"),
    ) {
        let mut report = sample::report();
        report.scores[0].title = title;
        report.scores[0].parts[0].name.clone_from(&name);
        report.scores[0].findings[3].message = message;
        let look = Look { width, unicode, ..Look::default() };
        let text = plain(&written(Format::Text, &report, &look));
        let width = width.clamp(20, 100);
        for line in text.lines() {
            let longest = line.split(' ').map(UnicodeWidthStr::width).max().unwrap_or(0);
            let indent = line.len() - line.trim_start().len();
            prop_assert!(
                line.width() <= width.max(indent + longest),
                "{} > {}: {:?}", line.width(), width, line
            );
            prop_assert!(unicode || line.is_ascii());
            prop_assert!(!line.contains(char::is_control));
        }
    }

    #[test]
    fn no_words_of_a_score_break_a_machine_format(words in ".{0,60}", name in "\\PC{0,20}") {
        let mut report = sample::report();
        for finding in &mut report.scores[0].findings {
            finding.message.clone_from(&words);
            finding.part_name = Some(name.clone());
        }
        report.scores[0].title = Some(words.clone());
        let look = Look::default();
        let junit = written(Format::Junit, &report, &look);
        prop_assert!(roxmltree::Document::parse(&junit).is_ok(), "{junit}");
        let github = written(Format::Github, &report, &look);
        let commands = github.lines().filter(|line| line.starts_with("::")).count();
        let told = github.lines().filter(|line| line.starts_with("lowbrass: ")).count();
        prop_assert_eq!(commands + told, github.lines().count());
        let csv = written(Format::Csv, &report, &look);
        let mut rows = ::csv::Reader::from_reader(csv.as_bytes());
        for row in rows.records() {
            for cell in &row.unwrap() {
                prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']));
            }
        }
        let markdown = written(Format::Markdown, &report, &look);
        let rows = markdown.lines().filter(|line| line.starts_with("| ")).count();
        prop_assert_eq!(rows, 1 + report.scores[0].findings.iter().filter(|f| f.waived.is_none()).count());
    }
}
