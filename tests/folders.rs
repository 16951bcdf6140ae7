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

// ---- copies ----

/// The files in a folder of copies, with `/`.
fn below(folder: &Folder, name: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![folder.at(name)];
    while let Some(place) = folders.pop() {
        for entry in place.read_dir().unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let within = path.strip_prefix(folder.at(name)).unwrap();
                found.push(within.to_string_lossy().replace('\\', "/"));
            }
        }
    }
    found.sort();
    found
}

#[test]
fn copies_of_a_folder_go_into_a_folder_and_lie_there_as_their_scores_do() {
    let folder = three();
    folder.write("cues/late/1m2.musicxml", &sound());
    let said = folder
        .run(&["check", "cues", "--fix-octaves", "-o", "out", "--marked", "look/at", "-q"])
        .ends_with(1);
    assert_eq!(said.err, "");
    let kind =
        |kind: &str| ["1m1", "1m2", "late/1m2", "late/1m3"].map(|name| format!("{name}.{kind}.musicxml"));
    assert_eq!(below(&folder, "out"), kind("revised"));
    // What needs no remark is as it was, and there all the same: a set is whole.
    assert_eq!(below(&folder, "look/at"), kind("marked"));
    assert_eq!(folder.read("out/1m1.revised.musicxml"), sound());
    assert_eq!(
        folder.read("out/1m2.revised.musicxml"),
        too_low().replace("<octave>0</octave>", "<octave>1</octave>")
    );
    assert!(folder.read("look/at/1m2.marked.musicxml").contains("<?lowbrass remark?>"));
    assert_eq!(folder.read("cues/1m2.musicxml"), too_low());
}

#[test]
fn many_copies_are_told_in_one_line() {
    let folder = three();
    folder.write("cues/1m4.musicxml", &sound());
    let said = folder.run(&["check", "cues", "--fix-octaves", "-o", "out"]).ends_with(1);
    assert_eq!(said.err, "note: 4 revised copies, 3 octave moves in 2 of them\n");
    assert!(said.out.contains("errors  warnings  moved"), "{}", said.out);
    let beside = folder.run(&["check", "cues", "--fix-octaves"]).ends_with(1);
    assert_eq!(beside.err, "note: 2 revised copies, 3 octave moves; in 2 scores nothing moves\n");
}

#[test]
fn copies_never_lie_over_a_score_nor_over_each_other_nor_unasked_over_a_file() {
    let folder = three();
    folder.write("cues/late/1m1.musicxml", &sound());
    // Two of one name, named outright, have nothing that tells their copies apart.
    folder
        .run(&["check", "cues/1m1.musicxml", "cues/late/1m1.musicxml", "--fix-octaves", "-o", "out"])
        .fails_with("would have one copy, out/1m1.revised.musicxml");
    folder.run(&["check", "cues", "--fix-octaves", "-o", "out", "-q"]).ends_with(1);
    folder.run(&["check", "cues", "--fix-octaves", "-o", "out"]).fails_with(
        "out/1m1.revised.musicxml: is already there, and 3 more of the copies; --force replaces them",
    );
    folder.run(&["check", "cues", "--fix-octaves", "-o", "out", "-q", "--force"]).ends_with(1);
    // A copy that was named as a score is an input, whatever else is asked for.
    let args = ["check", "cues", "out/1m1.revised.musicxml", "--fix-octaves", "-o", "out", "--force"];
    folder.run(&args).fails_with("out/1m1.revised.musicxml: is one of the files that are read");
    folder
        .run(&["check", "cues", "--fix-octaves", "-o", "cues/1m1.musicxml"])
        .fails_with("name a folder for -o");
    assert_eq!(folder.read("cues/1m1.musicxml"), sound());
}

#[test]
fn what_the_program_wrote_is_no_further_score() {
    let folder = three();
    folder.run(&["check", ".", "--fix-octaves", "-o", "out", "--marked", "look", "-q"]).ends_with(1);
    // Under whatever name.
    folder.write("seen.musicxml", &folder.read("look/cues/1m2.marked.musicxml"));
    let said = folder.run(&["check", "."]).ends_with(1);
    assert!(said.out.contains("\n3 scores · 2 errors"), "{}", said.out);
    assert!(said.err.contains("6 files passed over beside their scores"), "{}", said.err);
    assert!(said.err.contains("seen.musicxml: a marked copy, passed over"), "{}", said.err);
    // Whoever looks into the folder of revised copies alone wants to know how they stand now.
    let revised = folder.run(&["check", "out"]).ends_with(0);
    assert!(revised.out.contains("\n3 scores · "), "{}", revised.out);
    // A marked copy that is named is checked; this one is marked on the revised copy.
    folder.run(&["check", "look/cues/1m2.marked.musicxml"]).ends_with(0);
    let kits = folder.run(&["instruments", "."]).ends_with(0);
    assert!(!kits.out.contains("marked"), "{}", kits.out);
}

#[test]
fn a_folder_whose_scores_are_all_ignored_is_told_as_such() {
    let folder = three();
    folder.write("cues/.lowbrassignore", "*.musicxml\n");
    folder
        .run(&["check", "cues"])
        .fails_with("cues: 3 scores left out by an ignore file (.gitignore or .lowbrassignore)");
}

/// One score and a marked copy of it under a name of its own.
fn one_and_its_marked_copy() -> Folder {
    let folder = Folder::new();
    folder.write("cues/a.musicxml", &too_low());
    folder.run(&["check", "cues/a.musicxml", "--marked", "cues/look.musicxml", "-q"]).ends_with(1);
    folder
}

#[test]
fn a_marked_copy_is_no_cue_of_the_day_and_no_version() {
    let folder = one_and_its_marked_copy();
    let day = folder.run(&["session", "cues"]).ends_with(0);
    assert!(day.out.starts_with("1 cue,"), "{}", day.out);
    folder.write("new/a.musicxml", &too_low());
    let compared = folder.run(&["compare", "cues", "new", "--format", "json"]).ends_with(0);
    let compared: serde_json::Value = serde_json::from_str(&compared.out).unwrap();
    assert_eq!((&compared["summary"]["removed"], &compared["summary"]["compared"]), (&0.into(), &1.into()));
}

#[test]
fn a_marked_copy_may_be_written_again_and_alone_is_nothing_to_check() {
    let folder = one_and_its_marked_copy();
    folder.run(&["check", "cues", "--marked", "cues/look.musicxml", "--force"]).ends_with(1);
    fs::remove_file(folder.at("cues/a.musicxml")).unwrap();
    folder.run(&["check", "cues"]).fails_with("nothing but marked copies here");
}

#[test]
fn a_score_that_is_not_there_is_what_is_told() {
    let folder = Folder::new();
    for option in ["-o", "--marked"] {
        let fix: &[&str] = if option == "-o" { &["--fix-octaves"] } else { &[] };
        let args = [&["check", "gone.musicxml", option, "new.musicxml"], fix].concat();
        folder.run(&args).fails_with("gone.musicxml: no such file or folder");
    }
}

#[test]
fn two_copies_in_the_settings_folder_are_not_written_over_each_other() {
    let folder = Folder::new();
    folder.write("x/1.musicxml", &too_low()).write("y/1.musicxml", &too_low());
    folder.write("here/lowbrass.toml", "revised = \"out\"\n");
    let args = ["check", "x/1.musicxml", "y/1.musicxml", "--config", "here/lowbrass.toml", "--fix-octaves"];
    folder.run(&[&args[..], &["--force"]].concat()).fails_with("would have one copy");
    assert!(!folder.at("here/out").exists());
}

#[test]
fn versions_are_judged_by_the_new_folders_settings_and_paired_by_their_way_in_it() {
    let folder = Folder::new();
    let names = ["reel1/1.musicxml", "reel2/1.musicxml"];
    for name in names {
        folder.write(&format!("monday/{name}"), &sound()).write(&format!("tuesday/{name}"), &too_low());
    }
    // By their music alone the two could not be told apart.
    let said = folder.run(&["compare", "./monday", "./tuesday", "--format", "json"]).ends_with(1);
    let said: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    for (index, name) in names.iter().enumerate() {
        assert_eq!(said["scores"][index]["old"], format!("monday/{name}"));
        assert_eq!(said["scores"][index]["new"], format!("tuesday/{name}"));
    }
    folder.write("tuesday/lowbrass.toml", "fail-on = \"never\"\n");
    folder.run(&["compare", "monday", "tuesday"]).ends_with(0);
    folder.run(&["compare", "monday", "tuesday", "--part", "Tubaa"]).fails_with("Tubaa");
    folder.run(&["session", "tuesday", "--part", "Tubaa"]).fails_with("Tubaa");
}

#[test]
fn a_single_score_is_compared_with_its_like_and_no_other_is_read() {
    let folder = Folder::new();
    folder
        .write("a.musicxml", &sound())
        .write("new/a.musicxml", &sound())
        .write("new/b.musicxml", "no score");
    folder.run(&["compare", "a.musicxml", "new"]).ends_with(0);
}

#[cfg(target_os = "linux")]
#[test]
fn a_file_that_could_not_be_written_counts_though_nobody_reads_on() {
    let folder = three();
    // A device that is always full.
    let args = ["check", "cues", "--output", "json=/dev/full"];
    let mut child = folder.command(&args).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(2));
}
