//! The command line as a user meets it: commands, exit statuses, files written and left alone, pipes.

#![allow(clippy::unwrap_used, clippy::panic)] // A test that cannot run has nothing to say.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use assert_cmd::cargo::cargo_bin;
use serde_json::Value;

mod command;

use command::{BarText, Folder, Said, rules, score, sound, too_low};

// ---- two versions ----

#[test]
fn comparing_ends_with_1_for_what_is_new_and_only_for_that() {
    let folder = Folder::new();
    let better = too_low().replace("<octave>0</octave>", "<octave>1</octave>");
    folder.write("old.musicxml", &too_low()).write("new.musicxml", &better);
    let said = folder.run(&["compare", "old.musicxml", "new.musicxml"]).ends_with(0);
    assert!(said.out.contains("Tuba · bar 3, beat 1 · up an octave: F0 to F1"), "{}", said.out);
    assert!(said.out.contains("nothing new · 1 gone (1 error)"), "{}", said.out);
    let said = folder.run(&["compare", "new.musicxml", "old.musicxml"]).ends_with(1);
    assert!(said.out.contains("1 new (1 error)"), "{}", said.out);
    folder.run(&["compare", "new.musicxml", "old.musicxml", "--fail-on", "never"]).ends_with(0);
    // What stood before and stands now is not new, whatever the file is called.
    folder.write("again.musicxml", &too_low());
    let said = folder.run(&["compare", "old.musicxml", "again.musicxml", "--all"]).ends_with(0);
    assert!(said.out.contains("Still there (1)") && said.out.contains("out-of-range"), "{}", said.out);
}

#[test]
fn comparing_folders_goes_on_where_a_score_cannot_be_read() {
    let folder = Folder::new();
    folder.write("monday/1m1.musicxml", &sound()).write("tuesday/1m1.musicxml", &too_low());
    folder.write("monday/1m2.musicxml", "no score").write("tuesday/1m2.musicxml", &sound());
    let said = folder.run(&["compare", "monday", "tuesday", "--format", "json"]).ends_with(2);
    let compared: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(compared["summary"]["unread"], 1);
    let new = compared["new"].as_array().unwrap();
    assert!(new.iter().any(|new| new["rule"] == "out-of-range" && new["score"] == "tuesday/1m1.musicxml"));
    assert!(said.err.contains("monday/1m2.musicxml"), "{}", said.err);
    folder.run(&["compare", "monday", "wednesday"]).fails_with("wednesday: no such file or folder");
    folder.run(&["compare", "monday", "--format", "json"]).ends_with(2);
}

#[test]
fn both_versions_are_judged_by_the_settings_of_the_new_one() {
    let folder = Folder::new();
    let with_bass = too_low().replace("<part-name>Tuba", "<part-name>Low Thing");
    folder.write("archive/a.musicxml", &with_bass).write("today/a.musicxml", &with_bass);
    folder.write("today/lowbrass.toml", "[[part]]\nname = \"Low Thing\"\nprofile = \"contrabass-tuba-c\"\n");
    let said = folder.run(&["compare", "archive", "today"]).ends_with(0);
    assert!(said.out.contains("1 still there"), "{}", said.out);
}

// ---- while one works ----

/// A watching program, its words as they come.
struct Watching {
    child: std::process::Child,
    said: std::sync::mpsc::Receiver<String>,
}

impl Watching {
    fn begin(folder: &Folder, args: &[&str]) -> Watching {
        let mut child = folder.command(args).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let out = std::io::BufReader::new(child.stdout.take().unwrap());
        let (tell, said) = std::sync::mpsc::channel();
        std::thread::spawn(move || {
            use std::io::BufRead as _;
            for line in out.lines().map_while(Result::ok) {
                let _ = tell.send(line);
            }
        });
        Watching { child, said }
    }

    /// All lines up to the one that holds this. It may take its time, but not for ever.
    #[track_caller]
    fn up_to(&self, words: &str) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        while lines.last().is_none_or(|line| !line.contains(words)) {
            let line = self.said.recv_timeout(std::time::Duration::from_secs(120));
            lines.push(line.unwrap_or_else(|_| panic!("no {words:?} in {}", lines.join("\n"))));
        }
        lines
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn a_watched_folder_is_checked_again_with_what_is_new_on_top() {
    let folder = Folder::new();
    folder.write("cues/a.musicxml", &sound()).write("cues/b.musicxml", &sound());
    let watching = Watching::begin(&folder, &["check", "cues", "--watch"]);
    watching.up_to("2 scores");
    folder.write("cues/b.musicxml", &too_low());
    let again = watching.up_to("2 scores");
    let told: Vec<&String> = again.iter().filter(|line| !line.is_empty()).collect();
    assert_eq!(told[0], "Since the last time: 1 new, 0 gone", "{again:?}");
    assert!(told[1].contains("new") && told[1].contains("cues/b.musicxml"), "{again:?}");
    assert!(again.iter().any(|line| line.contains("out-of-range")), "{again:?}");
    // A score that comes, settings that come: both are seen.
    folder.write("cues/c.musicxml", &sound());
    watching.up_to("3 scores");
    folder.write("cues/lowbrass.toml", "[levels]\nout-of-range = \"off\"\n");
    let last = watching.up_to("3 scores");
    assert!(last.iter().any(|line| line == "Since the last time: 0 new, 1 gone"), "{last:?}");
}

#[test]
fn watching_and_showing_are_refused_where_they_cannot_be() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    folder.run(&["check", "-", "--watch"]).fails_with("standard input does not");
    folder.run(&["check", "a.musicxml", "--fix-octaves", "--watch"]).ends_with(2);
    folder.run(&["check", "gone.musicxml", "--watch"]).fails_with("no such file or folder");
    folder.run(&["check", "a.musicxml", "--open"]).fails_with("--output html=FILE --open");
}

#[cfg(all(unix, not(target_os = "macos")))]
#[test]
fn a_page_that_cannot_be_shown_is_written_and_told() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    let mut command = folder.command(&["check", "a.musicxml", "-q", "--output", "html=page.html", "--open"]);
    for name in ["DISPLAY", "WAYLAND_DISPLAY", "BROWSER", "WSL_DISTRO_NAME"] {
        command.env_remove(name);
    }
    let said =
        Said::of(&command.output().unwrap()).fails_with("page.html: was written, and cannot be shown here");
    assert_eq!(said.err.lines().count(), 1, "{}", said.err);
    assert!(folder.read("page.html").contains("</html>"));
}

// ---- the day, and tables ----

#[test]
fn the_day_of_a_folder_is_told_by_player_and_its_json_keeps_to_the_schema() {
    let folder = Folder::new();
    folder.write("cues/1m10.musicxml", &too_low()).write("cues/1m9.musicxml", &sound());
    let said = folder.run(&["session", "cues"]).ends_with(0);
    let order = [said.out.find("1m9 "), said.out.find("1m10 ")];
    assert!(order[0].is_some() && order[0] < order[1], "{}", said.out);
    assert!(said.out.contains("F0 mf, 2.0 s, out of") && said.out.contains("doctor"), "{}", said.out);
    let page = folder.run(&["session", "cues", "--format", "markdown"]).ends_with(0).out;
    assert!(page.contains("### Tuba") && page.contains("| 1m10 |"), "{page}");
    let json = folder.run(&["session", "cues", "--format", "json"]).ends_with(0).out;
    let json: Value = serde_json::from_str(&json).unwrap();
    let schema = folder.run(&["schema", "session"]).ends_with(0).out;
    jsonschema::validate(&serde_json::from_str(&schema).unwrap(), &json).unwrap();
    assert_eq!(json["players"][0]["cues"][1]["hardest"]["rule"], "out-of-range");
    // What cannot be read does not keep back the day.
    folder.write("cues/1m11.musicxml", "no score");
    let said = folder.run(&["session", "cues"]).ends_with(2);
    assert!(said.out.contains("1m10 ") && said.err.contains("cues/1m11.musicxml"), "{}", said.err);
    folder.run(&["session", "nowhere"]).fails_with("nowhere: no such file or folder");
}

#[test]
fn tables_keep_to_the_width_they_are_given() {
    let folder = Folder::new();
    let name = "Tuba in the balcony behind the great organ and the bells";
    folder.write(
        "cues/a long name of a cue that goes on.musicxml",
        &too_low().replace(">Tuba<", &format!(">{name}<")),
    );
    folder.write("cues/b.musicxml", &sound());
    folder.write("lowbrass.toml", &format!("[[part]]\nname = \"{name}\"\nprofile = \"contrabass-tuba-c\"\n"));
    let cue = "cues/a long name of a cue that goes on.musicxml";
    for args in [
        &["notes", cue][..],
        &["breaths", cue, "--all"],
        &["instruments", cue],
        &["instruments", "cues"],
        &["session", "cues"],
        &["settings", "cues"],
    ] {
        let lines = |columns: &str| -> Vec<String> {
            let output = folder.command(args).env("COLUMNS", columns).output().unwrap();
            Said::of(&output).ends_with(0).out.lines().map(str::to_owned).collect()
        };
        for columns in [64, 80, 200] {
            let wide = lines(&columns.to_string());
            let longest = wide.iter().map(|line| line.chars().count()).max().unwrap();
            assert!(longest <= columns, "{args:?} at {columns}: {}", wide.join("\n"));
        }
        // Nothing is lost.
        let words =
            |columns: &str| lines(columns).concat().chars().filter(|letter| letter.is_alphanumeric()).count();
        assert_eq!(words("64"), words("200"), "{args:?}");
    }
}

// ---- exit statuses ----

#[test]
fn a_clean_score_ends_with_0_and_a_faulty_one_with_1() {
    let folder = Folder::new();
    folder.write("clean.musicxml", &sound()).write("faulty.musicxml", &too_low());
    folder.run(&["check", "clean.musicxml"]).ends_with(0);
    let said = folder.run(&["check", "faulty.musicxml"]).ends_with(1);
    assert!(said.out.contains("F0"), "{}", said.out);
    assert_eq!(said.err, "");
}

#[test]
fn fail_on_decides_what_ends_with_1() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    folder.run(&["check", "a.musicxml", "--fail-on", "error"]).ends_with(1);
    folder.run(&["check", "a.musicxml", "--fail-on", "never"]).ends_with(0);
    folder.write("lowbrass.toml", "fail-on = 'never'\n");
    folder.run(&["check", "a.musicxml"]).ends_with(0);
    folder.run(&["check", "a.musicxml", "--fail-on", "note"]).ends_with(1);
}

#[test]
fn one_unreadable_score_does_not_stop_the_others_and_ends_with_2() {
    let folder = Folder::new();
    folder
        .write("a.musicxml", &too_low())
        .write("b.musicxml", "<score-partwise><part-list>")
        .write("c.musicxml", &sound());
    let said = folder.run(&["check", "--format", "json", "."]).ends_with(2);
    let report: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(report["summary"]["scores"], 2);
    assert_eq!(report["summary"]["unread"], 1);
    assert_eq!(report["unread"][0]["path"], "b.musicxml");
    assert!(said.err.starts_with("error: b.musicxml: "), "{}", said.err);
    // People are told once why.
    let text = folder.run(&["check", "."]).ends_with(2);
    let why = text.err.split_once("b.musicxml: ").unwrap().1.trim();
    assert!(!why.is_empty() && !text.out.contains(why), "{}", text.out);
    assert!(text.out.contains("1 could not be read"), "{}", text.out);
}

// ---- bad input ----

#[test]
fn what_is_no_score_is_told_in_one_message_and_nothing_is_written() {
    let folder = Folder::new();
    folder.write("text.musicxml", "Dear player,\n");
    folder.write("page.xml", "<html><body/></html>");
    folder.write("cut.musicxml", &too_low()[..400]);
    folder.write("empty.musicxml", "");
    folder.write("zip.mxl", "PK\u{3}\u{4}no archive");
    let before = folder.names();
    for name in ["text.musicxml", "page.xml", "cut.musicxml", "empty.musicxml", "zip.mxl"] {
        let said = folder.run(&["check", name, "--fix-octaves", "-o", "out.musicxml"]).fails_with(name);
        assert_eq!(said.err.lines().count(), 1, "{}", said.err);
    }
    assert_eq!(folder.names(), before);
}

#[test]
fn what_is_not_there_is_told_with_the_nearest_name() {
    let folder = Folder::new();
    folder.write("cue1.musicxml", &sound());
    folder
        .run(&["check", "cue1.musicxm"])
        .fails_with("no such file or folder; did you mean 'cue1.musicxml'?");
    fs::create_dir(folder.at("empty")).unwrap();
    folder.run(&["check", "empty"]).fails_with("empty: no score in this folder");
    folder.run(&["check", "cue1.musicxml", "--as", "bass-tuba-g"]).fails_with("bass-tuba-f");
    folder.run(&["check", "cue1.musicxml", "--part", "Tubo"]).fails_with("did you mean 'Tuba'?");
    folder.run(&["rules", "out-of-rang"]).fails_with("did you mean 'out-of-range'?");
    folder.run(&["profiles", "euphonum"]).fails_with("did you mean 'euphonium'?");
    folder.run(&["check", "cue1.musicxml", "--fix-octave"]).fails_with("--fix-octaves");
    folder.run(&["check", "cue1.musicxml", "--format", "jsn"]).fails_with("json");
    folder.run(&["check", "cue1.musicxml", "--output", "jsn=x"]).fails_with("did you mean 'json'?");
    folder.run(&["chekc"]).fails_with("check");
    folder.run(&["check", "cue1.musicxml", "--tempo", "0"]).fails_with("--tempo");
    folder.run(&["check", "cue1.musicxml", "--profiles", "nowhere"]).fails_with("nowhere");
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    fs::set_permissions(folder.at("a.musicxml"), fs::Permissions::from_mode(0o000)).unwrap();
    if fs::read(folder.at("a.musicxml")).is_ok() {
        return; // A superuser reads everything.
    }
    folder.run(&["check", "a.musicxml"]).fails_with("a.musicxml: cannot be read");
}

// ---- input and output ----

#[test]
fn a_score_comes_from_standard_input() {
    let folder = Folder::new();
    let said = folder.run_with_input(&["check", "-", "--format", "json"], too_low().as_bytes()).ends_with(1);
    let report: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(report["scores"][0]["path"], "-");
}

#[test]
fn the_copy_goes_to_standard_output_and_the_report_aside() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    let said = folder.run(&["check", "a.musicxml", "--fix-octaves", "-o", "-"]).ends_with(1);
    assert!(said.out.starts_with("<?xml") && said.out.ends_with("</score-partwise>\n"));
    assert!(said.err.contains("Tuba"), "{}", said.err);
    folder
        .run(&["check", "a.musicxml", "--fix-octaves", "-o", "-", "--format", "json"])
        .fails_with("standard output carries the copy");
}

#[test]
fn a_closed_pipe_ends_quietly() {
    let folder = Folder::new();
    let bars: Vec<BarText<'_>> =
        (0..600).map(|bar| if bar % 2 == 0 { ("F0", "mf") } else { ("r", "") }).collect();
    folder.write("long.musicxml", &score(&[("Tuba", &bars)]));
    let commands: [&[&str]; 9] = [
        &["notes", "long.musicxml", "--format", "jsonl"],
        &["notes", "long.musicxml"],
        &["check", "long.musicxml"],
        &["check", "long.musicxml", "--format", "json"],
        &["check", "long.musicxml", "--fix-octaves", "-o", "-"],
        &["rules"],
        &["completions", "bash"],
        &["man"],
        &["schema", "report"],
    ];
    for args in commands {
        let mut child = folder.command(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let ended = child.wait_with_output().unwrap();
        let err = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert!(!err.contains("panicked") && !err.contains("error:"), "{args:?}: {err}");
        assert!(ended.status.code().is_some_and(|code| code < 2), "{args:?}: {}", ended.status);
    }
}

#[test]
fn reports_go_to_files_in_several_formats_in_one_run() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    let args = ["check", "a.musicxml", "-q", "--output", "json=r.json", "--output", "text=r.txt"];
    let said = folder.run(&args).ends_with(1);
    assert_eq!((said.out.as_str(), said.err.as_str()), ("", ""));
    assert!(folder.read("r.txt").contains("F0") && !folder.read("r.txt").contains('\u{1b}'));
    serde_json::from_str::<Value>(&folder.read("r.json")).unwrap();
    // The next run writes them again.
    folder.run(&args).ends_with(1);
}

#[test]
fn a_report_never_replaces_a_score() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("b.musicxml", &sound());
    folder
        .run(&["check", "a.musicxml", "--output", "json=a.musicxml"])
        .fails_with("one of the files that are read");
    folder
        .run(&["check", "a.musicxml", "--output", "json=./a.musicxml", "--force"])
        .fails_with("files that are read");
    folder.run(&["check", "a.musicxml", "--output", "json=b.musicxml"]).fails_with("holds a score");
    folder
        .run(&["check", "a.musicxml", "--output", "json=x", "--output", "csv=./x"])
        .fails_with("named twice");
    let tuba = include_str!("../profiles/contrabass-tuba-c.toml");
    folder.write("own/contrabass-tuba-c.toml", tuba);
    folder
        .run(&[
            "check",
            "a.musicxml",
            "--profiles",
            "own",
            "--output",
            "json=own/contrabass-tuba-c.toml",
            "--force",
        ])
        .fails_with("one of the files that are read");
    assert_eq!(folder.read("own/contrabass-tuba-c.toml"), tuba);
    assert_eq!(folder.read("a.musicxml"), too_low());
    assert_eq!(folder.read("b.musicxml"), sound());
}

#[test]
fn colour_is_for_terminals_unless_it_is_asked_for() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    assert!(!folder.run(&["check", "a.musicxml"]).out.contains('\u{1b}'));
    let coloured = folder.run(&["check", "a.musicxml", "--color", "always"]).out;
    assert!(coloured.contains('\u{1b}'));
    assert_eq!(anstream::adapter::strip_str(&coloured).to_string(), folder.run(&["check", "a.musicxml"]).out);
}

// ---- copies ----

#[test]
fn the_revised_copy_stands_beside_its_score_and_differs_in_octaves_only() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    let said = folder.run(&["check", "a.musicxml", "--fix-octaves"]);
    assert!(said.err.contains("a.revised.musicxml: revised copy"), "{}{}", said.out, said.err);
    let (source, copy) = (too_low(), folder.read("a.revised.musicxml"));
    assert_eq!(folder.read("a.musicxml"), source);
    let differing: Vec<(&str, &str)> =
        source.lines().zip(copy.lines()).filter(|(before, after)| before != after).collect();
    assert_eq!(differing.len(), 1, "{differing:?}");
    assert!(differing[0].0.contains("<octave>0</octave>"));
    assert_eq!(source.len(), copy.len());
    // Checked again, the finding is gone, and fixing it again moves nothing.
    assert!(!rules(&folder.report(&["a.revised.musicxml"])).contains(&"out-of-range"));
    let again = folder.run(&["check", "a.revised.musicxml", "--fix-octaves"]);
    assert!(again.err.contains("nothing moves"), "{}", again.err);
    assert_eq!(folder.names(), ["a.musicxml", "a.revised.musicxml"]);
}

#[test]
fn with_o_the_copy_is_written_though_nothing_moves() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    folder.run(&["check", "a.musicxml", "--fix-octaves"]).ends_with(0);
    assert_eq!(folder.names(), ["a.musicxml"]);
    folder.run(&["check", "a.musicxml", "--fix-octaves", "-o", "copy.musicxml"]).ends_with(0);
    assert_eq!(folder.read("copy.musicxml"), sound());
}

#[test]
fn a_file_that_is_there_is_replaced_only_by_force() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("out.musicxml", "mine");
    folder
        .run(&["check", "a.musicxml", "--fix-octaves", "-o", "out.musicxml"])
        .fails_with("already there; --force replaces it");
    folder.run(&["check", "a.musicxml", "--marked", "out.musicxml"]).fails_with("--force");
    assert_eq!(folder.read("out.musicxml"), "mine");
    folder.run(&["check", "a.musicxml", "--fix-octaves", "-o", "out.musicxml", "--force"]).ends_with(1);
    assert!(folder.read("out.musicxml").starts_with("<?xml"));
    folder.write("a.revised.musicxml", "mine");
    let said = folder.run(&["check", "a.musicxml", "--fix-octaves"]).ends_with(2);
    assert!(said.err.contains("a.revised.musicxml: is already there"), "{}", said.err);
    assert_eq!(folder.read("a.revised.musicxml"), "mine");
}

#[cfg(unix)]
#[test]
fn an_input_is_never_written_to_by_any_spelling_or_link() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("sub/x", "");
    std::os::unix::fs::symlink("a.musicxml", folder.at("link.musicxml")).unwrap();
    fs::hard_link(folder.at("a.musicxml"), folder.at("twin.musicxml")).unwrap();
    let whole = folder.at("a.musicxml").to_string_lossy().into_owned();
    for place in ["a.musicxml", "./a.musicxml", "sub/../a.musicxml", "link.musicxml", "twin.musicxml", &whole]
    {
        for option in ["-o", "--marked"] {
            folder
                .run(&["check", "a.musicxml", "--fix-octaves", option, place, "--force"])
                .fails_with("one of the files that are read");
        }
        let output = format!("json={place}");
        folder
            .run(&["check", "a.musicxml", "--output", &output, "--force"])
            .fails_with("files that are read");
        folder.run(&["check", "a.musicxml", "--baseline", place, "--write-baseline", "--force"]).ends_with(2);
    }
    folder
        .run(&["check", "link.musicxml", "--fix-octaves", "-o", "twin.musicxml", "--force"])
        .fails_with("files that are read");
    folder.run(&["unmark", "a.musicxml", "-o", "link.musicxml", "--force"]).fails_with("files that are read");
    assert_eq!(folder.read("a.musicxml"), too_low());
}

#[test]
fn one_copy_cannot_take_several_scores() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("b.musicxml", &sound());
    folder
        .run(&["check", ".", "--fix-octaves", "-o", "x.musicxml"])
        .fails_with("x.musicxml: is the place of one copy, and there are 2 scores; name a folder for -o");
    folder.run(&["check", ".", "--marked", "x.musicxml"]).fails_with("name a folder for --marked");
    folder.run(&["check", ".", "--marked", "-"]).fails_with("standard output takes one copy");
    folder
        .run(&["check", "a.musicxml", "--fix-octaves", "-o", "x", "--marked", "./x"])
        .fails_with("name the same file");
    let said = folder.run_with_input(&["check", "-", "--fix-octaves"], too_low().as_bytes());
    said.fails_with("name the copy with -o");
    assert_eq!(folder.names(), ["a.musicxml", "b.musicxml"]);
}

#[test]
fn a_marked_copy_is_unmarked_byte_for_byte() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    folder.run(&["check", "a.musicxml", "--marked", "look.musicxml"]).ends_with(1);
    assert_ne!(folder.read("look.musicxml"), too_low());
    folder.run(&["unmark", "look.musicxml", "-o", "clean.musicxml"]).ends_with(0);
    assert_eq!(folder.read("clean.musicxml"), too_low());
    let said = folder.run(&["unmark", "look.musicxml", "-o", "-"]).ends_with(0);
    assert_eq!(said.out, too_low());
}

#[test]
fn a_marked_copy_shows_what_the_text_report_shows() {
    let folder = Folder::new();
    let example = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/rules/beyond-usual-register/fault.musicxml");
    folder.write("a.musicxml", &std::fs::read_to_string(example).unwrap());
    folder.run(&["check", "a.musicxml", "--marked", "usual.musicxml"]).ends_with(0);
    assert_eq!(folder.read("usual.musicxml"), folder.read("a.musicxml"));
    folder.run(&["check", "a.musicxml", "--marked", "all.musicxml", "--min-level", "note"]).ends_with(0);
    assert!(
        folder
            .read("all.musicxml")
            .contains("<words enclosure=\"rectangle\">lowbrass: beyond usual register")
    );
}

/// A day of cues is a page each, with one that leads to them: a page of forty would be too long to open on a telephone.
#[test]
fn the_pages_of_a_folder_lead_to_one_another() {
    let folder = Folder::new();
    folder.write("cues/1m1 sea.musicxml", &too_low()).write("cues/index.musicxml", &sound());
    folder.run(&["check", "cues", "--output", "html=pages/"]).ends_with(1);
    let mut names: Vec<String> = fs::read_dir(folder.at("pages"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names, ["1m1-sea.html", "index-2.html", "index.html"]);
    let index = folder.read("pages/index.html");
    let remark = index.split("href=\"1m1-sea.html#").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
    assert!(index.contains("href=\"index-2.html\""), "{index}");
    let cue = folder.read("pages/1m1-sea.html");
    assert!(cue.contains(&format!("id=\"{remark}\"")) && cue.contains("href=\"index.html\""), "{cue}");
    // Again over what it wrote; into a folder that is there without the stroke; never over a score.
    folder.run(&["check", "cues", "--output", "html=pages"]).ends_with(1);
    folder.write("pages/index.html", &sound());
    folder.run(&["check", "cues", "--output", "html=pages"]).ends_with(2);
    assert_eq!(folder.read("pages/index.html"), sound());
}

#[test]
fn diff_shows_the_moves_and_writes_nothing() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    let said = folder.run(&["check", "a.musicxml", "--diff"]).ends_with(1);
    assert!(said.out.contains("F0") && said.out.contains("Tuba"), "{}", said.out);
    assert_eq!(folder.names(), ["a.musicxml"]);
}

/// What to type, said in a few lines with the command itself.
#[test]
fn what_means_nothing_is_answered_with_what_to_type() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("my cue.musicxml", &too_low());
    for (typed, answer) in [
        (&["a.musicxml"][..], "lowbrass check a.musicxml"),
        (&["my cue.musicxml", "--diff"], "lowbrass check 'my cue.musicxml' --diff"),
        (&["gone.mxl"], "lowbrass check gone.mxl"),
        (&["check", "a.musicxml", "-o", "report.html"], "--output html=report.html"),
        (&["check", "a.musicxml", "-o", "report.md"], "--output markdown=report.md"),
        (&["check", "a.musicxml", "-o", "new.xml"], "--fix-octaves -o new.xml"),
        (&["check", "a.musicxml", "-o", "new cue.musicxml"], "--fix-octaves -o 'new cue.musicxml'"),
        (&["check", "a.musicxml", "--html"], "--output html=report.html"),
        (&["check", "a.musicxml", "--json"], "--format json"),
        (&["check", "a.musicxml", "--include-review"], "--fix-octaves --include-review"),
        (&["check", "a.musicxml", "--unmark", "-o", "b.musicxml"], "lowbrass unmark"),
        (&["check", "a.musicxml", "--tempo", "fast"], "expected quarter notes a minute"),
    ] {
        let said = folder.run(typed).fails_with(answer);
        assert!(!said.err.contains("invalid float"), "{}", said.err);
    }
    assert_eq!(folder.names(), ["a.musicxml", "my cue.musicxml"]);
    let said = folder.run(&["help"]).ends_with(0);
    assert!(said.out.contains("lowbrass check cue.musicxml"), "{}", said.out);
    assert!(folder.run(&["help", "unmark"]).ends_with(0).out.contains("lowbrass unmark look.musicxml"));
}

#[test]
fn no_message_speaks_in_the_numbers_of_the_system() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    fs::create_dir(folder.at("folder.musicxml")).unwrap();
    for typed in [
        &["check", "a.musicxml", "--baseline", "gone.json"][..],
        &["check", "a.musicxml", "--config", "gone.toml"],
        &["check", "a.musicxml", "--profiles", "gone"],
        &["unmark", "gone.musicxml", "-o", "b.musicxml"],
        &["unmark", "folder.musicxml", "-o", "b.musicxml"],
        &["notes", "gone.musicxml"],
    ] {
        let said = folder.run(typed).ends_with(2);
        assert!(!said.err.contains("os error"), "{typed:?}: {}", said.err);
        assert!(said.err.contains("no such file or folder") || said.err.contains("folder"), "{}", said.err);
    }
}

/// What was moved is said above the revised copy where it begins and ends, in boxes that nobody takes for music, and taken out
/// again byte for byte.
#[test]
fn marks_on_the_revised_copy_say_what_was_moved() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    let fix = ["check", "a.musicxml", "--fix-octaves", "--marked", "look.musicxml"];
    folder.run(&fix).ends_with(1);
    let look = folder.read("look.musicxml");
    let marks: Vec<&str> =
        look.split("<words").skip(1).filter_map(|rest| rest.split("</words>").next()).collect();
    assert!(!marks.is_empty());
    for mark in &marks {
        assert!(mark.starts_with(" enclosure=\"rectangle\">lowbrass: "), "{mark}");
    }
    let moved: Vec<&&str> = marks.iter().filter(|mark| mark.contains("moved up an octave")).collect();
    assert_eq!(moved.len(), 1, "one move, told once: {marks:?}");
    assert!(moved[0].ends_with("F0 to F1; was out of range"), "{moved:?}");
    assert!(!marks.iter().any(|mark| mark.contains("lowbrass: out of range")), "{marks:?}");
    folder.run(&["unmark", "look.musicxml", "-o", "clean.musicxml"]).ends_with(0);
    assert_eq!(folder.read("clean.musicxml"), folder.read("a.revised.musicxml"));
}

// ---- many scores ----

#[test]
fn the_report_is_the_same_at_any_number_of_threads() {
    let folder = Folder::new();
    for cue in 0..12 {
        let text = if cue % 3 == 0 { sound() } else { too_low() };
        folder.write(&format!("cue{cue:02}.musicxml"), &text);
    }
    folder.write("cue05.musicxml", "broken").write("cue07.mxl", "passed over");
    let run = |threads: &str, format: &str| {
        let said = folder.run(&["check", ".", "-j", threads, "--format", format]).ends_with(2);
        (said.out, said.err)
    };
    for format in ["text", "json"] {
        let alone = run("1", format);
        for _ in 0..10 {
            assert_eq!(run("2", format), alone);
        }
        assert_eq!(run("7", format), alone);
    }
}

#[test]
fn the_same_score_twice_in_a_folder_is_told() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound()).write("a.mxl", "whatever");
    let said = folder.run(&["check", "."]).ends_with(0);
    assert!(said.err.contains("a.mxl: passed over beside a.musicxml"), "{}", said.err);
    assert_eq!(folder.run(&["check", ".", "-q"]).ends_with(0).err, "");
}

#[test]
fn without_a_score_the_settings_scores_are_checked_or_this_folder() {
    let folder = Folder::new();
    folder.write("cues/a.musicxml", &too_low()).write("drafts/b.musicxml", &too_low());
    assert_eq!(folder.report(&[])["summary"]["scores"], 2);
    folder.write("lowbrass.toml", "scores = ['cues/*.musicxml']\n");
    let report = folder.report(&[]);
    assert_eq!(report["summary"]["scores"], 1);
    assert_eq!(report["scores"][0]["path"], "cues/a.musicxml");
}

#[test]
fn a_link_to_nowhere_among_the_scores_is_told_and_does_not_stop_the_others() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("gone.musicxml", folder.at("b.musicxml")).unwrap();
        let said = folder.run(&["check", "."]).ends_with(2);
        assert!(said.err.contains("b.musicxml: cannot be read"), "{}", said.err);
        assert!(said.out.contains("1 could not be read"), "{}", said.out);
        std::os::unix::fs::symlink("gone.toml", folder.at("lowbrass.toml")).unwrap();
        folder.run(&["check", "a.musicxml"]).fails_with("lowbrass.toml: cannot be read");
    }
}

#[test]
fn a_place_that_cannot_take_a_report_is_told_before_the_work() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    folder
        .run(&["check", "a.musicxml", "--output", "json=gone/a.json"])
        .fails_with("gone/a.json: cannot be written: there is no folder gone");
    folder.run(&["notes", "."]).fails_with(".: is a folder; name a score in it");
    folder.run(&["check", "a.musicxml", "-j", "999"]).fails_with("1..=256");
}

// ---- settings ----

#[test]
fn settings_are_found_above_the_score_and_errors_name_their_place() {
    let folder = Folder::new();
    folder.write("lowbrass.toml", "[levels]\nout-of-range = 'note'\n").write("cues/a.musicxml", &too_low());
    let report = folder.report(&["cues/a.musicxml"]);
    let findings = report["scores"][0]["findings"].as_array().unwrap();
    let found = findings.iter().find(|finding| finding["rule"] == "out-of-range").unwrap();
    assert_eq!(found["severity"], "note");
    assert!(rules(&folder.report(&["cues/a.musicxml", "--no-config"])).contains(&"out-of-range"));
    folder.write("lowbrass.toml", "[levels]\nout-of-rang = 'note'\n");
    folder
        .run(&["check", "cues/a.musicxml"])
        .fails_with("lowbrass.toml:2:1: no rule is called 'out-of-rang'; did you mean 'out-of-range'?");
    folder.run(&["settings", "cues/a.musicxml"]).fails_with("lowbrass.toml:2:1: ");
    folder.write("cues/other.toml", "tempo = 'fast'\n");
    folder
        .run(&["check", "cues/a.musicxml", "--config", "cues/other.toml"])
        .fails_with("cues/other.toml:1:9: ");
    folder
        .run(&["check", "cues/a.musicxml", "--config", "none.toml"])
        .fails_with("none.toml: cannot be read");
}

#[test]
fn a_part_is_what_the_settings_say() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    folder.write("lowbrass.toml", "[[part]]\nname = 'tuba'\nprofile = 'bass-tuba-f'\n");
    let part = folder.report(&["a.musicxml"])["scores"][0]["parts"][0].clone();
    assert_eq!((&part["profile"], &part["recognised_by"]), (&"bass-tuba-f".into(), &"settings".into()));
    let part =
        folder.report(&["a.musicxml", "--as", "contrabass-tuba-b-flat"])["scores"][0]["parts"][0].clone();
    assert_eq!(
        (&part["profile"], &part["recognised_by"]),
        (&"contrabass-tuba-b-flat".into(), &"option".into())
    );
    folder.write("lowbrass.toml", "[[part]]\nname = 'Tuba'\nprofile = 'none'\n");
    let report = folder.report(&["a.musicxml"]);
    assert_eq!(report["scores"][0]["parts"].as_array().unwrap().len(), 0);
    assert_eq!(report["scores"][0]["passed_over"][0]["name"], "Tuba");
    folder.write("lowbrass.toml", "tuba = 'bass-tuba-f'\n");
    assert_eq!(folder.report(&["a.musicxml"])["scores"][0]["parts"][0]["profile"], "bass-tuba-f");
}

#[test]
fn settings_show_what_is_in_force_and_from_where() {
    let folder = Folder::new();
    let said = folder.run(&["settings"]).ends_with(0);
    assert!(said.out.contains("No lowbrass.toml here or above") && said.out.contains("built in"));
    folder.write("lowbrass.toml", "tempo = 96\nbreath = 0.8\n");
    let said = folder.run(&["settings"]).ends_with(0);
    let tempo = said.out.lines().find(|line| line.starts_with("tempo")).unwrap();
    assert!(said.out.contains("Settings from lowbrass.toml") && tempo.ends_with("96"), "{tempo}");
    let tuba = said.out.lines().find(|line| line.starts_with("tuba")).unwrap();
    assert!(tuba.ends_with("built in"), "{tuba}");
}

#[test]
fn init_writes_settings_that_work_and_never_over_a_file() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound()).write("b.musicxml", "broken");
    let said = folder.run(&["init"]).ends_with(0);
    assert!(said.err.contains("1 score with low brass under 1 name"), "{}", said.err);
    let text = folder.read("lowbrass.toml");
    assert!(text.contains("name = \"Tuba\"") && text.contains("profile = \"contrabass-tuba-c\""), "{text}");
    folder.run(&["check", "a.musicxml"]).ends_with(0);
    folder.run(&["init"]).fails_with("lowbrass.toml: is already there and stays as it is");
    assert_eq!(folder.read("lowbrass.toml"), text);
}

#[test]
fn what_init_writes_changes_no_finding_and_leaves_open_what_differs() {
    let folder = Folder::new();
    let bars: &[BarText<'_>] = &[("F2", "mf"), ("r", ""), ("F0", ""), ("r", "")];
    folder.write("a.musicxml", &score(&[("Tuba", bars), ("Trombone 3", bars)]));
    let sound = "<score-instrument id=\"P1-I1\"><instrument-name>x</instrument-name>\
        <instrument-sound>brass.trombone.bass</instrument-sound></score-instrument></score-part>";
    folder.write("b.musicxml", &score(&[("Tuba", bars)]));
    folder.write("c.musicxml", &score(&[("Trombone 3", bars)]).replacen("</score-part>", sound, 1));
    folder.write(
        "d.musicxml",
        &score(&[("Trombone 3", bars)]).replacen("</score-part>", &sound.replace(".bass", ".alto"), 1),
    );
    let findings = |report: &Value| -> Vec<Value> {
        report["scores"].as_array().unwrap().iter().map(|score| score["findings"].clone()).collect()
    };
    let before = findings(&folder.report(&["."]));
    folder.run(&["init"]).ends_with(0);
    let text = folder.read("lowbrass.toml");
    assert!(text.contains("# 2 parts of this name\n[[part]]\nname = \"Tuba\""), "{text}");
    assert!(
        text.contains("# Read as alto-trombone in 1 part, bass-trombone in 2 parts; left as it is."),
        "{text}"
    );
    assert_eq!(findings(&folder.report(&["."])), before);
}

#[test]
fn every_line_that_init_comments_out_works_when_it_is_let_in() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    folder.run(&["init"]).ends_with(0);
    let let_in: String = folder
        .read("lowbrass.toml")
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.contains(" = ") && !rest.contains("'lowbrass") || rest.starts_with('[') => {
                format!("{rest}\n")
            }
            _ => format!("{line}\n"),
        })
        .collect();
    folder.write("lowbrass.toml", &let_in);
    let said = folder.run(&["settings"]).ends_with(0);
    assert!(said.out.contains("96"), "{}", said.out);
}

// ---- waivers and baseline ----

const WAIVER: &str = "[[waive]]\nrule = 'out-of-range'\npart = 'Tuba'\nbars = '3'\nbecause = 'asked for'\n";

#[test]
fn a_waiver_lets_its_finding_stand_and_no_octave_moves() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("lowbrass.toml", WAIVER);
    let said = folder.run(&["check", "a.musicxml", "-v"]).ends_with(0);
    assert!(
        said.out.contains("Let stand\n  Tuba, bar 3, beat 1 · out-of-range · waived: asked for\n"),
        "{}",
        said.out
    );
    assert!(!folder.run(&["check", "a.musicxml"]).ends_with(0).out.contains("Let stand"));
    let report = folder.report(&["a.musicxml"]);
    let findings = report["scores"][0]["findings"].as_array().unwrap();
    let waived = findings.iter().find(|finding| finding["rule"] == "out-of-range").unwrap();
    assert_eq!(waived["waived"]["by"], "settings");
    assert_eq!(waived["waived"]["because"], "asked for");
    assert!(report["summary"]["waived"].as_u64().unwrap() >= 1);
    folder.run(&["check", "a.musicxml", "--fix-octaves"]);
    assert_eq!(folder.names(), ["a.musicxml", "lowbrass.toml"]);
}

#[test]
fn a_waiver_for_other_bars_or_parts_lets_nothing_stand_and_is_said_to_be_unused() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    for other in [WAIVER.replace("'3'", "'4-6'"), WAIVER.replace("'Tuba'", "'Trombone*'")] {
        folder.write("lowbrass.toml", &other);
        let found = folder.report(&["a.musicxml"]);
        assert!(
            rules(&found).contains(&"out-of-range") && rules(&found).contains(&"unused-waiver"),
            "{other}"
        );
    }
    // Where another score might need it, nothing is said.
    folder.write("b.musicxml", &sound());
    assert!(!rules(&folder.report(&["a.musicxml"])).contains(&"unused-waiver"));
    assert!(rules(&folder.report(&["."])).contains(&"unused-waiver"));
    // A waiver for one score is used by that one alone.
    folder.write("lowbrass.toml", &format!("{WAIVER}score = 'a.*'\n"));
    assert_eq!(
        folder.report(&["."])["summary"]["waived"],
        folder.report(&["a.musicxml"])["summary"]["waived"]
    );
}

#[test]
fn a_waiver_or_a_part_of_the_settings_that_fits_nothing_is_told_with_the_nearest_name() {
    let folder = Folder::new();
    folder.write("cue1.musicxml", &too_low());
    let said = |settings: &str| {
        folder.write("lowbrass.toml", settings);
        let report = folder.report(&["cue1.musicxml"]);
        let findings = report["scores"][0]["findings"].as_array().unwrap().clone();
        let unused = findings.into_iter().find(|finding| finding["rule"] == "unused-waiver").unwrap();
        unused["message"].as_str().unwrap().to_owned()
    };
    let of_part = said(&WAIVER.replace("'Tuba'", "'Tubba'"));
    assert!(of_part.ends_with("no part is called 'Tubba'; did you mean 'Tuba'?"), "{of_part}");
    let of_score = said(&format!("{WAIVER}score = 'cue2.musicxml'\n"));
    assert!(
        of_score.ends_with("no score is called 'cue2.musicxml'; did you mean 'cue1.musicxml'?"),
        "{of_score}"
    );
    folder.write("lowbrass.toml", "tempo = 90\n[[part]]\nname = 'Tubba'\n[[part]]\nname = 'T*'\n");
    let told = "lowbrass.toml:3: no part of the scores here is called 'Tubba'; did you mean 'Tuba'?";
    let noted = folder.run(&["check", "."]).ends_with(1).err;
    assert_eq!(noted.lines().collect::<Vec<_>>(), [format!("note: {told}")]);
    // Where another score might have it, and where quiet was asked for, nothing is said.
    folder.write("cue2.musicxml", &sound());
    assert_eq!(folder.run(&["check", "cue1.musicxml"]).ends_with(1).err, "");
    assert_eq!(folder.run(&["check", ".", "-q"]).ends_with(1).err, "");
}

#[test]
fn a_waiver_ends_with_its_day() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("lowbrass.toml", &format!("{WAIVER}until = 2027-01-31\n"));
    let on = |day: &str| folder.report(&["a.musicxml", "--today", day]);
    assert!(!rules(&on("2027-01-31")).contains(&"out-of-range"));
    let over = on("2027-02-01");
    assert!(rules(&over).contains(&"out-of-range") && rules(&over).contains(&"expired-waiver"));
    let by_environment = |variables: &[(&str, &str)]| {
        let mut command = folder.command(&["check", "a.musicxml", "--format", "json"]);
        Said::of(&command.envs(variables.iter().copied()).output().unwrap())
    };
    // 1801483200 is noon of 2027-02-01; the variable is that of https://reproducible-builds.org/specs/source-date-epoch/
    for variables in [
        &[("LOWBRASS_TODAY", "2027-02-01"), ("SOURCE_DATE_EPOCH", "0")][..],
        &[("LOWBRASS_TODAY", ""), ("SOURCE_DATE_EPOCH", "1801483200")],
    ] {
        let said = by_environment(variables);
        assert_eq!(serde_json::from_str::<Value>(&said.out).unwrap(), over);
    }
    by_environment(&[("LOWBRASS_TODAY", "soon")]).fails_with("LOWBRASS_TODAY: expected a day");
    by_environment(&[("SOURCE_DATE_EPOCH", "soon")]).fails_with("SOURCE_DATE_EPOCH: expected seconds");
    folder.run(&["check", "a.musicxml", "--today", "tomorrow"]).fails_with("2027-01-31");
}

#[test]
fn words_in_the_score_let_a_finding_of_their_passage_stand() {
    let folder = Folder::new();
    let with = |words: &str| {
        score(&[("Tuba", &[("F2", "mf"), ("r", ""), ("F0", words), ("r", ""), ("F0", ""), ("r", "")])])
    };
    folder.write("a.musicxml", &with("\"ok: out-of-range"));
    let report = folder.report(&["a.musicxml"]);
    let findings: Vec<&Value> = report["scores"][0]["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|finding| finding["rule"] == "out-of-range")
        .collect();
    let by_bar: Vec<(&str, bool)> = findings
        .iter()
        .map(|finding| (finding["bar"].as_str().unwrap(), finding["waived"]["by"] == "score"))
        .collect();
    assert_eq!(by_bar, [("3", true), ("5", false)]);
    folder.write("a.musicxml", &with("\"ok: hit-too-low"));
    assert!(rules(&folder.report(&["a.musicxml"])).contains(&"unused-waiver"));
    folder.write("a.musicxml", &with("\"ok: out-of-rnage"));
    let said = folder.run(&["check", "a.musicxml", "-v"]).ends_with(1);
    let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("no rule is called 'out-of-rnage'; did you mean 'out-of-range'?"), "{words}");
}

#[test]
fn a_baseline_accepts_what_is_there_and_reports_what_is_new() {
    let folder = Folder::new();
    folder.write("cues/a.musicxml", &too_low()).write("cues/b.musicxml", &sound());
    let said = folder.run(&["check", "cues", "--baseline", "accepted.json", "--write-baseline"]).ends_with(0);
    assert!(said.err.contains("accepted.json: "), "{}", said.err);
    folder.run(&["check", "cues", "--baseline", "accepted.json"]).ends_with(0);
    let all = folder.run(&["check", "cues", "--baseline", "accepted.json", "-v"]).ends_with(0);
    assert!(all.out.contains("Let stand\n  ") && all.out.contains(" in the baseline\n"), "{}", all.out);
    folder
        .run(&["check", "cues", "--baseline", "accepted.json", "--output", "json=accepted.json"])
        .fails_with("one of the files that are read");
    // Three bars before, another title, another id: still accepted.
    let bars: [BarText<'_>; 9] = [
        ("r", "mf"),
        ("E2", ""),
        ("r", ""),
        ("F2", ""),
        ("r", ""),
        ("F0", ""),
        ("r", ""),
        ("F2", ""),
        ("r", ""),
    ];
    let later = score(&[("Flute", &[("r", ""); 9]), ("Tuba", &bars)])
        .replace("  <part-list>", "  <movement-title>Renamed</movement-title>\n  <part-list>");
    folder.write("cues/a.musicxml", &later);
    folder.run(&["check", "cues", "--baseline", "accepted.json"]).ends_with(0);
    // Another order of the parts: still accepted.
    let turned = score(&[("Tuba", &bars), ("Flute", &[("r", ""); 9])]);
    folder.write("cues/a.musicxml", &turned);
    folder.run(&["check", "cues", "--baseline", "accepted.json"]).ends_with(0);
    // One more low note is new.
    folder.write("cues/a.musicxml", &later.replace("<octave>2</octave>", "<octave>0</octave>"));
    folder.run(&["check", "cues", "--baseline", "accepted.json"]).ends_with(1);
    // Checking one score keeps what was accepted in the others.
    let before = folder.read("accepted.json");
    folder.write("cues/a.musicxml", &too_low());
    folder.run(&["check", "cues/b.musicxml", "--baseline", "accepted.json", "--write-baseline"]).ends_with(0);
    assert_eq!(folder.read("accepted.json"), before);
}

#[test]
fn a_baseline_that_is_none_is_told() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low()).write("b.json", "[]");
    folder.run(&["check", "a.musicxml", "--baseline", "gone.json"]).fails_with("--write-baseline makes one");
    folder.run(&["check", "a.musicxml", "--baseline", "b.json"]).fails_with("b.json:1:");
    folder.run(&["check", "a.musicxml", "--write-baseline"]).fails_with("--baseline FILE");
}

// ---- the other commands ----

#[test]
fn breaths_and_instruments_are_listed_for_people_and_scripts() {
    let folder = Folder::new();
    folder
        .write("a.musicxml", &sound())
        .write("b.musicxml", &sound())
        .write("flute.musicxml", &score(&[("Flute", &[("F5", "")])]));
    for command in ["breaths", "instruments"] {
        let all: &[&str] = if command == "breaths" { &["--all"] } else { &[] };
        let table = folder.run(&[&[command, "a.musicxml"], all].concat()).ends_with(0).out;
        assert!(table.contains("Tuba"), "{table}");
        let json = folder.run(&[command, "a.musicxml", "--format", "json"]).ends_with(0).out;
        let rows: Value = serde_json::from_str(&json).unwrap();
        assert_eq!(rows[0]["part_name"], "Tuba");
        assert!(folder.run(&[command, "a.musicxml", "--format", "csv"]).ends_with(0).out.contains("Tuba"));
        folder.run(&[command, "gone.musicxml"]).ends_with(2);
    }
    let easy = folder.run(&["breaths", "a.musicxml"]).ends_with(0).out;
    assert!(
        easy.starts_with("1 easy breath in rests not shown (--all)\n") && easy.contains("force"),
        "{easy}"
    );
    let bring = folder.run(&["instruments", "a.musicxml", "b.musicxml"]).ends_with(0).out;
    assert!(bring.contains("\nall of 2 cues  Tuba"), "{bring}");
    folder.run(&["breaths", "flute.musicxml"]).fails_with("no low-brass part is recognised");
    let kits = folder.run(&["instruments", ".", "--format", "json"]).ends_with(0).out;
    let kits: Value = serde_json::from_str(&kits).unwrap();
    assert_eq!((&kits[0]["cue"], &kits[1]["cue"]), (&"a.musicxml".into(), &"b.musicxml".into()));
}

#[test]
fn old_names_of_command_rule_and_setting_go_on_working() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound()).write(
        "lowbrass.toml",
        "[levels]\nhorn-change-too-quick = 'off'\n[[part]]\nname = 'Tuba'\nhorns = ['bass-tuba-f']\n",
    );
    let now = folder.run(&["instruments", "a.musicxml"]).ends_with(0).out;
    assert_eq!(folder.run(&["horns", "a.musicxml"]).ends_with(0).out, now);
    assert!(!folder.run(&["--help"]).ends_with(0).out.contains("horns"));
    let settings = folder.run(&["settings"]).ends_with(0).out;
    assert!(settings.contains("instruments bass-tuba-f"), "{settings}");
    assert!(folder.run(&["rules", "horn-change-too-quick"]).out.contains("instrument-change-too-quick"));
}

#[test]
fn notes_are_listed_as_they_were_read() {
    let folder = Folder::new();
    folder.write("a.musicxml", &score(&[("Flute", &[("F5", "p")]), ("Tuba", &[("F2", "mf"), ("E2", "")])]));
    let rows = |more: &[&str]| -> Vec<Value> {
        let args = [&["notes", "a.musicxml", "--format", "jsonl"], more].concat();
        let said = folder.run(&args).ends_with(0);
        said.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    };
    let tuba = rows(&[]);
    assert_eq!(tuba.len(), 2);
    assert_eq!(
        (&tuba[1]["sounding"], &tuba[1]["bar"], &tuba[1]["dynamic"]),
        (&"E2".into(), &"2".into(), &"mf".into())
    );
    assert_eq!(tuba[0]["profile"], "contrabass-tuba-c");
    let all = rows(&["--all-parts"]);
    assert_eq!((all.len(), &all[0]["sounding"], &all[0]["profile"]), (3, &"F5".into(), &Value::Null));
    assert_eq!(rows(&["--all-parts", "--part", "Flute"]).len(), 1);
    let csv = folder.run(&["notes", "a.musicxml", "--format", "csv"]).ends_with(0).out;
    assert_eq!(csv.lines().count(), 3);
    let none = folder.run(&["notes", "a.musicxml", "--part", "Flute"]).ends_with(0);
    assert!(none.err.contains("none of these parts is read as low brass; --all-parts"), "{}", none.err);
}

#[test]
fn a_part_that_is_not_there_is_told_with_the_nearest_name_by_every_command() {
    let folder = Folder::new();
    folder.write("a.musicxml", &sound());
    for command in ["check", "notes", "breaths", "instruments"] {
        folder
            .run(&[command, "a.musicxml", "--part", "Tbua"])
            .fails_with("no part is called 'Tbua'; did you mean 'Tuba'?");
    }
}

#[test]
fn rules_and_profiles_are_listed_and_shown() {
    let folder = Folder::new();
    let list = folder.run(&["rules"]).ends_with(0).out;
    for rule in lowbrass::rules::RULES {
        assert!(list.contains(rule.name), "{}", rule.name);
        let page = folder.run(&["rules", rule.name]).ends_with(0).out;
        assert!(page.contains(rule.name), "{page}");
    }
    let list = folder.run(&["profiles"]).ends_with(0).out;
    assert!(list.contains("contrabass-tuba-c") && list.contains("bass-trombone"));
    assert!(folder.run(&["profiles", "bass-tuba-f"]).ends_with(0).out.contains("bass-tuba-f"));
}

#[test]
fn schemas_are_json_and_hold_what_is_written() {
    let folder = Folder::new();
    folder.write("a.musicxml", &too_low());
    let schema =
        |of: &str| -> Value { serde_json::from_str(&folder.run(&["schema", of]).ends_with(0).out).unwrap() };
    jsonschema::validate(&schema("report"), &folder.report(&["a.musicxml"])).unwrap();
    folder.write("b.musicxml", &too_low().replace("<octave>0</octave>", "<octave>1</octave>"));
    let compared = folder.run(&["compare", "a.musicxml", "b.musicxml", "--format", "json"]).ends_with(0).out;
    jsonschema::validate(&schema("comparison"), &serde_json::from_str(&compared).unwrap()).unwrap();
    jsonschema::meta::validate(&schema("profile")).unwrap();
    let settings = schema("settings");
    folder.run(&["init"]).ends_with(0);
    let written: toml::Table = toml::from_str(&folder.read("lowbrass.toml")).unwrap();
    jsonschema::validate(&settings, &serde_json::to_value(written).unwrap()).unwrap();
    let wrong = serde_json::json!({"tempos": 96});
    assert!(jsonschema::validate(&settings, &wrong).is_err());
}

#[test]
fn completions_and_manual_pages_come_from_the_same_definitions() {
    let folder = Folder::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        assert!(folder.run(&["completions", shell]).ends_with(0).out.contains("fix-octaves"), "{shell}");
    }
    // Names of rules and profiles too; others, which a folder of one's own may have, are taken all the same.
    for shell in ["bash", "zsh", "fish"] {
        let script = folder.run(&["completions", shell]).ends_with(0).out;
        assert!(script.contains("contrabass-tuba-c"), "{shell}");
        // The generator for fish offers nothing for what stands without an option.
        assert!(shell == "fish" || script.contains("too-loud-for-register"), "{shell}");
    }
    folder.run(&["rules", "horn-change-too-quick"]).ends_with(0);
    assert!(
        !folder.run(&["rules", "--help"]).ends_with(0).out.contains("voices-crossed"),
        "a help page, not a list"
    );
    assert!(folder.run(&["man"]).ends_with(0).out.contains("lowbrass"));
    folder.run(&["man", "--dir", "man"]).ends_with(0);
    let page = folder.read("man/lowbrass-check.1");
    assert!(page.contains("include\\-review") && Path::new(&folder.at("man/lowbrass-rules.1")).is_file());
}

#[test]
fn help_shows_examples_and_version_is_told() {
    let folder = Folder::new();
    assert!(folder.run(&["--version"]).ends_with(0).out.starts_with("lowbrass "));
    let help = folder.run(&["check", "--help"]).ends_with(0).out;
    assert!(help.contains("Move octaves") && help.contains("Exit status"));
    folder.run(&[]).ends_with(2);
}

/// The lines of a help text that show a command; what is said of it stands behind a #, as a shell has it.
fn examples_in(help: &str) -> Vec<String> {
    let after = help.split("xamples").nth(1).or_else(|| help.split("Begin with:").nth(1)).unwrap_or_default();
    after
        .lines()
        .map(str::trim)
        .filter(|line| line.starts_with("lowbrass ") || line.contains("| lowbrass "))
        .map(str::to_owned)
        .collect()
}

#[cfg(unix)]
#[test]
fn every_example_of_the_help_texts_runs() {
    let program = Path::new(cargo_bin!("lowbrass"));
    let path = format!("{}:{}", program.parent().unwrap().display(), std::env::var("PATH").unwrap());
    let commands = "check compare session unmark notes breaths instruments rules profiles init settings schema completions man";
    for command in std::iter::once("").chain(commands.split(' ')) {
        let folder = Folder::new();
        let scores = ["cue", "cue3", "cues/cue3", "cue3-v2", "monday/cue3", "tuesday/cue3", "cue3.revised"];
        // A revised copy would be in the way of the one that an example writes.
        for name in &scores[..if command == "compare" { 7 } else { 3 }] {
            folder.write(&format!("{name}.musicxml"), &too_low());
        }
        if command == "unmark" {
            folder.run(&["check", "cue3.musicxml", "--marked", "look.musicxml"]).ends_with(1);
        }
        for home in [".zfunc", ".config/fish/completions"] {
            fs::create_dir_all(folder.at(home)).unwrap();
        }
        let page = folder.run(&["man", "--dir", "pages"]).ends_with(0);
        assert_eq!((page.out.as_str(), page.err.as_str()), ("", ""));
        let help =
            folder.run(&[command, "--help"].into_iter().filter(|arg| !arg.is_empty()).collect::<Vec<_>>());
        let examples = examples_in(&help.ends_with(0).out);
        assert!(examples.len() >= 2, "{command}: {examples:?}");
        let page = if command.is_empty() { "lowbrass".to_owned() } else { format!("lowbrass-{command}") };
        let page = folder.read(&format!("pages/{page}.1")).replace("\\-", "-").replace("\\(aq", "'");
        for example in &examples {
            assert!(example.chars().count() <= 69, "wider than a manual page of 80 columns: {example}");
            assert!(page.lines().any(|line| line.trim() == example), "{example}: not in {page}");
        }
        // Of the others one waits for changes and one wants a screen.
        for example in
            examples.iter().filter(|example| !example.ends_with(" --watch") && !example.ends_with(" --open"))
        {
            let mut shell = Command::new("sh");
            shell
                .args(["-c", example])
                .current_dir(folder.at(""))
                .env("PATH", &path)
                .env("HOME", folder.at(""));
            let said = shell.output().unwrap();
            let status = said.status.code().unwrap();
            assert!(matches!(status, 0 | 1), "{example}: {}", String::from_utf8_lossy(&said.stderr));
        }
    }
}

#[test]
fn the_example_scores_of_waivers_show_their_rules() {
    let folder = Folder::new();
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/rules");
    let says = |rule: &str, which: &str| {
        let of_rule = examples.join(rule);
        let settings = of_rule.join(format!("{which}.toml"));
        fs::copy(of_rule.join(format!("{which}.musicxml")), folder.at("score.musicxml")).unwrap();
        let mut args = vec!["check", "score.musicxml", "--format", "json", "--min-level", "note"];
        let config = settings.to_string_lossy().into_owned();
        args.extend(if settings.exists() { vec!["--config", &config] } else { vec!["--no-config"] });
        folder.run(&args).out.contains(&format!("\"{rule}\""))
    };
    for rule in ["unused-waiver", "expired-waiver"] {
        assert!(says(rule, "fault"), "{rule}: fault.musicxml does not show it");
        assert!(!says(rule, "sound"), "{rule}: sound.musicxml shows it");
    }
}
