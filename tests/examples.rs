//! The demonstration repository run as people and builds run it; the README's commands and what they print.
//!
//! Expected output and the pages generated from it are committed. `LOWBRASS_BLESS=1 cargo test` writes them anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // A test that cannot run has nothing to say.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use assert_cmd::cargo::cargo_bin;

const DEMO: &str = "examples/lighthouse-survey";
const BASELINE: &str = "lowbrass-baseline.json";

struct Said {
    out: String,
    status: i32,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn lowbrass(folder: &Path, args: &[&str]) -> Said {
    let done = Command::new(cargo_bin!("lowbrass"))
        .current_dir(folder)
        .args(args)
        .env("LOWBRASS_TODAY", "2026-11-25")
        .env_remove("CLICOLOR_FORCE")
        .env_remove("COLUMNS")
        .output()
        .expect("the program runs");
    let err = String::from_utf8_lossy(&done.stderr).into_owned();
    let status = done.status.code().unwrap_or(-1);
    assert!(status != 2, "{args:?}: {err}");
    Said { out: String::from_utf8(done.stdout).expect("output is text"), status }
}

/// Compares with a committed file, or writes it when asked to.
#[track_caller]
fn held(path: &str, text: &str) {
    let file = root().join(path);
    if std::env::var_os("LOWBRASS_BLESS").is_some() {
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(&file, text).unwrap();
        return;
    }
    let committed = fs::read_to_string(&file).unwrap_or_default();
    assert!(
        committed == text,
        "{path} is not what the program says now; LOWBRASS_BLESS=1 cargo test writes it anew.\n{}",
        first_difference(&committed, text)
    );
}

fn first_difference(committed: &str, now: &str) -> String {
    let pair = committed.lines().zip(now.lines()).enumerate().find(|(_, (was, is))| was != is);
    pair.map_or_else(
        || "one is the beginning of the other".to_owned(),
        |(line, (was, is))| format!("line {}:\n  committed: {was}\n  now:       {is}", line + 1),
    )
}

/// A copy of the demonstration repository that a test may write to.
fn copy_of_the_demo() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join(".git")).unwrap();
    for entry in fs::read_dir(root().join(DEMO)).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
    }
    if std::env::var_os("LOWBRASS_BLESS").is_some() {
        lowbrass(folder.path(), &["check", ".", "--baseline", BASELINE, "--write-baseline"]);
        fs::copy(folder.path().join(BASELINE), root().join(DEMO).join(BASELINE)).unwrap();
    }
    folder
}

#[test]
fn the_readme_shows_what_its_first_command_prints() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let command = readme.lines().find(|line| line.starts_with("cargo run")).expect("the first command");
    let (_, args) = command.split_once(" -- ").expect("cargo run … -- arguments");
    let said = lowbrass(root(), &args.split_whitespace().collect::<Vec<_>>());
    assert_eq!(said.status, 1, "the demonstration has faults");
    let sample = format!("```text\n{}```\n", said.out);
    let (before, rest) = readme.split_once("<!-- sample: begin -->\n").expect("a place for the sample");
    let (_, after) = rest.split_once("<!-- sample: end -->").expect("the sample's end");
    held("README.md", &format!("{before}<!-- sample: begin -->\n{sample}<!-- sample: end -->{after}"));
}

#[test]
fn every_report_of_the_demonstration_is_as_committed() {
    for (format, ending) in [
        ("text", "txt"),
        ("json", "json"),
        ("sarif", "sarif"),
        ("junit", "xml"),
        ("github", "txt"),
        ("markdown", "md"),
        ("csv", "csv"),
    ] {
        let said = lowbrass(&root().join(DEMO), &["check", ".", "--format", format]);
        assert_eq!(said.status, 1, "{format}");
        let version = env!("CARGO_PKG_VERSION");
        held(
            &format!("tests/expected/lighthouse-survey/{format}.{ending}"),
            &said.out.replace(&format!("\"{version}\""), "\"VERSION\""),
        );
    }
}

/// What is on the page is for `src/report/tests.rs` and for the browser (`tests/reference/check_page.py`) to say.
#[test]
fn the_page_is_the_same_byte_for_byte_on_any_number_of_threads() {
    let page = |threads: &str| {
        let said = lowbrass(&root().join(DEMO), &["check", ".", "--format", "html", "-j", threads]);
        assert_eq!(said.status, 1);
        said.out
    };
    let page = [page("1"), page("2")];
    assert!(page[0] == page[1]);
    assert!(page[0].contains("class=\"picture "));
}

#[test]
fn the_clean_cue_is_clean_down_to_the_notes() {
    let said = lowbrass(
        root(),
        &["check", &format!("{DEMO}/1m5-slack-water.musicxml"), "--no-config", "--fail-on", "note"],
    );
    assert_eq!(said.status, 0, "{}", said.out);
}

/// The build's own line: nothing new beside the committed baseline, and the reports it writes.
#[test]
fn the_build_passes_on_its_baseline() {
    let demo = copy_of_the_demo();
    let workflow = fs::read_to_string(demo.path().join("workflow.yml")).unwrap();
    let line = workflow.lines().find_map(|line| line.trim().strip_prefix("- run: lowbrass ")).unwrap();
    let said = lowbrass(demo.path(), &line.split_whitespace().collect::<Vec<_>>());
    assert_eq!(said.status, 0, "{}", said.out);
    for written in ["lowbrass.sarif", "lowbrass-junit.xml"] {
        assert!(fs::metadata(demo.path().join(written)).unwrap().len() > 100, "{written}");
    }
    let faulty = demo.path().join("1m3-fog-signal.musicxml");
    let spoiled = fs::read_to_string(&faulty).unwrap().replacen("<ff/>", "<ppp/>", 3);
    fs::write(&faulty, spoiled.replace("<octave>4</octave>", "<octave>6</octave>")).unwrap();
    let said = lowbrass(demo.path(), &line.split_whitespace().collect::<Vec<_>>());
    assert_eq!(said.status, 1, "a new fault is not covered by the baseline");
}

#[test]
fn a_revised_cue_no_longer_shows_what_its_moves_clear() {
    let demo = copy_of_the_demo();
    let fix = ["check", "1m3-fog-signal.musicxml", "--fix-octaves", "--format", "json"];
    let before: serde_json::Value = serde_json::from_str(&lowbrass(demo.path(), &fix).out).unwrap();
    let revised = demo.path().join("1m3-fog-signal.revised.musicxml");
    let after: serde_json::Value = serde_json::from_str(
        &lowbrass(demo.path(), &["check", "1m3-fog-signal.revised.musicxml", "--format", "json"]).out,
    )
    .unwrap();
    let rules_at = |report: &serde_json::Value| -> Vec<(String, String, u64)> {
        let findings = report["scores"][0]["findings"].as_array().unwrap().clone();
        findings
            .iter()
            .map(|one| {
                let text = |key: &str| one[key].as_str().unwrap_or_default().to_owned();
                (text("rule"), text("part"), one["bar_index"].as_u64().unwrap_or(u64::MAX))
            })
            .collect()
    };
    let later = rules_at(&after);
    let mut cleared = 0;
    for finding in before["scores"][0]["findings"].as_array().unwrap() {
        if finding["octave_move"]["standing"] != "safe" {
            continue;
        }
        let key = (
            finding["rule"].as_str().unwrap().to_owned(),
            finding["part"].as_str().unwrap().to_owned(),
            finding["bar_index"].as_u64().unwrap(),
        );
        assert!(!later.contains(&key), "{key:?} is still there");
        cleared += 1;
    }
    assert!(cleared >= 4, "the demonstration has moves to show, not {cleared}");
    let once = fs::read(&revised).unwrap();
    lowbrass(
        demo.path(),
        &["check", "1m3-fog-signal.revised.musicxml", "--fix-octaves", "-o", "again.musicxml"],
    );
    assert!(once == fs::read(demo.path().join("again.musicxml")).unwrap(), "fixing twice is fixing once");
}

/// The demonstration as it stood before: a bar fewer, a passage in another octave. Returns the folder's name.
fn monday(demo: &Path) -> String {
    let folder = demo.join("monday");
    fs::create_dir(&folder).unwrap();
    for entry in fs::read_dir(demo).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|ending| ending == "musicxml") {
            fs::copy(&path, folder.join(path.file_name().unwrap())).unwrap();
        }
    }
    let cue = folder.join("2m1-gale-warning.musicxml");
    let text = fs::read_to_string(&cue).unwrap();
    let mut parts: Vec<String> = text.split_inclusive("</part>").map(str::to_owned).collect();
    for (index, part) in parts.iter_mut().take(3).enumerate() {
        let bars = |part: &str, number: u32| {
            let from = part.find(&format!("    <measure number=\"{number}\">")).unwrap();
            let to = from + part[from..].find("</measure>\n").unwrap() + "</measure>\n".len();
            from..to
        };
        if index == 1 {
            let ninth = bars(part, 9);
            let higher = part[ninth.clone()].replace("<octave>1<", "<octave>2<");
            part.replace_range(ninth, &higher);
            for number in [14, 15] {
                let bar = bars(part, number);
                let lower =
                    part[bar.clone()].replace("<octave>1<", "<octave>0<").replace("<octave>2<", "<octave>1<");
                part.replace_range(bar, &lower);
            }
        }
        let fifth = bars(part, 5);
        part.replace_range(fifth, "");
        for number in 6..=16 {
            *part = part.replace(
                &format!("<measure number=\"{number}\">"),
                &format!("<measure number=\"{}\">", number - 1),
            );
        }
    }
    fs::write(&cue, parts.concat()).unwrap();
    "monday".to_owned()
}

#[test]
fn the_walk_through_the_examples_shows_real_output() {
    let demo = copy_of_the_demo();
    let mut page = String::from(
        "<!-- Written by `LOWBRASS_BLESS=1 cargo test`; do not edit by hand. -->\n\
         # Examples\n\n\
         [lighthouse-survey](lighthouse-survey) is a small repository of cues as an orchestrator keeps one: a day of four cues of \
         *The Lighthouse Survey*, a film that does not exist, with their settings, a baseline and a workflow. *Fog Signal* has \
         faults among its honest holds and hits; *Slack Water* is clean; *Gale Warning* and *The Lamp Relit* are short and loud. [rules](rules/README.md) has two small scores for each \
         rule: one that shows it, one that only comes near.\n\n\
         All that follows is what the program prints, run in `examples/lighthouse-survey`.\n",
    );
    let mut step = |words: &str, args: &[&str], status: i32| {
        let said = lowbrass(demo.path(), args);
        assert_eq!(said.status, status, "{args:?}: {}", said.out);
        write!(page, "\n{words}\n\n```console\n$ lowbrass {}\n{}```\n", args.join(" "), said.out).unwrap();
    };
    step(
        "## Read the cue that will be on the stands\n\nThe waived remark is the one that `lowbrass.toml` lets stand, with \
         its reason.",
        &["check", "1m3-fog-signal.musicxml"],
        1,
    );
    step(
        "## See what would move\n\nNothing is written yet.",
        &["check", "1m3-fog-signal.musicxml", "--diff"],
        1,
    );
    step(
        "## Write the revised copy\n\nOnly errors are shown here. The copy `1m3-fog-signal.revised.musicxml` stands beside the \
         score and differs from it in octave digits alone.",
        &["check", "1m3-fog-signal.musicxml", "--fix-octaves", "--min-level", "error"],
        1,
    );
    step(
        "## Read the copy again\n\nWhat the moves cleared is gone; what wants a person is still there.",
        &["check", "1m3-fog-signal.revised.musicxml"],
        1,
    );
    fs::remove_file(demo.path().join("1m3-fog-signal.revised.musicxml")).unwrap();
    step("## The clean cue", &["check", "1m5-slack-water.musicxml"], 0);
    step("## Where a player breathes", &["breaths", "1m5-slack-water.musicxml", "--part", "P5"], 0);
    step("## What to bring", &["instruments", "."], 0);
    step(
        "## The day, by player\n\nFacts for whoever plans it. *Gale Warning* and *The Lamp Relit* follow each other, and the \
         trombone and the tuba are loud in both.",
        &["session", "."],
        0,
    );
    step(
        "## The tubas' day, for the call sheet",
        &["session", ".", "--part", "Tuba*", "--format", "markdown"],
        0,
    );
    let monday = monday(demo.path());
    step(
        "## Compare with Monday's version\n\nIn the folder `monday` lie the cues as they were: *Gale Warning* without its fifth bar, \
         its tuba an octave \
         higher in the ninth and lower in the last two.",
        &["compare", &monday, "."],
        1,
    );
    fs::remove_dir_all(demo.path().join(&monday)).unwrap();
    step(
        "## In a build\n\nThe line of [workflow.yml](lighthouse-survey/workflow.yml). What stood when the baseline was made is \
         accepted; only what is new fails.",
        &["check", ".", "--baseline", "lowbrass-baseline.json"],
        0,
    );
    held("examples/README.md", &page);
}

/// Pages link to files that are there.
#[test]
fn links_in_the_pages_lead_somewhere() {
    for page in
        ["README.md", "DEVELOPERS.md", "examples/README.md", "profiles/README.md", "examples/rules/README.md"]
    {
        let text = fs::read_to_string(root().join(page)).unwrap();
        let folder: PathBuf = root().join(page).parent().unwrap().to_owned();
        for link in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            let target = link.split('#').next().unwrap_or_default();
            if !target.is_empty() && !target.contains("://") {
                assert!(folder.join(target).exists(), "{page} links to {target}");
            }
        }
    }
}
