//! Many scores at once: what is printed of them, and when.

#![allow(clippy::unwrap_used)] // A test that cannot run has nothing to say.

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};

mod command;

use command::{Folder, score, sound, too_low};

/// Three scores in a folder: one that any tubist plays, one far too low, one too loud for the register.
fn three() -> Folder {
    let folder = Folder::new();
    let loud =
        score(&[("Tuba", &[("r", ""), ("D1", "fff"), ("r", ""), ("F0", ""), ("r", ""), ("F2", "mf")])]);
    folder.write("cues/1m1.musicxml", &sound());
    folder.write("cues/1m2.musicxml", &too_low());
    folder.write("cues/late/1m3.musicxml", &loud);
    folder
}

/// The lines of the table at the end, without its heading.
fn table(text: &str) -> Vec<String> {
    let lines = text.lines().skip_while(|line| !line.contains("hardest place")).skip(1);
    lines.take_while(|line| !line.is_empty()).map(str::to_owned).collect()
}

#[test]
fn one_table_ends_the_report_with_the_hardest_score_on_top() {
    let said = three().run(&["check", "cues"]).ends_with(1);
    let table = table(&said.out);
    let names: Vec<&str> = table.iter().map(|line| line.split_whitespace().next().unwrap()).collect();
    assert_eq!(names, ["late/1m3", "1m2", "1m1"], "{}", said.out);
    assert!(table[1].contains("Tuba, bar 3") && table[1].ends_with("out-of-range"), "{}", said.out);
    assert_eq!(table[2].split_whitespace().collect::<Vec<_>>(), ["1m1", "·", "·", "·"]);
    assert!(said.out.contains("\n3 scores · 2 errors · "), "{}", said.out);
    assert!(
        said.out.ends_with("3 octave moves offered (--fix-octaves makes the safe ones).\n"),
        "{}",
        said.out
    );
    // What is clean has no page of its own above the table.
    assert!(!said.out.contains("1m1.musicxml"), "{}", said.out);
}

#[test]
fn the_counts_of_each_score_stand_in_json_and_add_up() {
    let folder = three();
    let report = folder.report(&["cues"]);
    for word in ["error", "warning", "note", "waived", "accepted", "octave_moves"] {
        let of = |score: &serde_json::Value| score["counts"][word].as_u64().unwrap();
        let sum: u64 = report["scores"].as_array().unwrap().iter().map(of).sum();
        assert_eq!(report["summary"][word].as_u64(), Some(sum), "{word}");
    }
    assert_eq!(report["scores"][1]["counts"]["error"], 1);
}

#[test]
fn a_file_gets_the_very_report_that_is_printed_as_it_goes() {
    let folder = three();
    folder.write("lowbrass.toml", "[[waive]]\nrule = \"hit-too-low\"\npart = \"Tubax\"\nbecause = \"x\"\n");
    let said = folder.run(&["check", ".", "--min-level", "note", "--output", "text=report.txt"]).ends_with(1);
    assert_eq!(folder.read("report.txt"), said.out);
    assert!(said.out.contains("The settings\n"), "{}", said.out);
    assert!(said.out.contains("unused-waiver"), "{}", said.out);
}

#[cfg(unix)]
#[test]
fn what_is_found_is_printed_before_the_last_score_is_read() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    // The last score is a pipe that nobody writes to before the first has been told.
    assert!(Command::new("mkfifo").arg(folder.at("z.musicxml")).status().unwrap().success());
    let mut command = folder.command(&["check", "-j", "1", "a.musicxml", "z.musicxml"]);
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert_eq!(lines.next().unwrap().unwrap(), "a.musicxml");
    fs::write(folder.at("z.musicxml"), sound()).unwrap();
    let rest: Vec<String> = lines.map(Result::unwrap).collect();
    assert!(rest.iter().any(|line| line.starts_with("2 scores")), "{rest:?}");
    child.wait().unwrap();
}

#[test]
fn what_was_accepted_earlier_is_counted_with_its_errors() {
    let folder = three();
    folder.run(&["check", "cues", "--baseline", "b.json", "--write-baseline", "-q"]).ends_with(0);
    let said = folder.run(&["check", "cues", "--baseline", "b.json"]).ends_with(0);
    let last = said.out.lines().last().unwrap();
    assert!(last.starts_with("3 scores · nothing new · "), "{last}");
    assert!(last.contains(" accepted earlier (2 errors)"), "{last}");
    assert!(!said.out.contains("nothing to remark"), "{}", said.out);
    let alone = folder.run(&["check", "cues/1m2.musicxml", "--baseline", "b.json"]).ends_with(0);
    assert!(alone.out.contains("Nothing new: 1 part, 3 notes"), "{}", alone.out);
    assert!(alone.out.contains(" accepted earlier (1 error)"), "{}", alone.out);
}
