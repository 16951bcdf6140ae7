//! The program run in a folder of its own, and small scores to run it on.

#![allow(clippy::unwrap_used, dead_code)] // A test that cannot run has nothing to say; not every test needs all of it.

use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

use assert_cmd::cargo::cargo_bin;
use serde_json::Value;

/// A folder of its own for each test; it ends the search for settings.
pub(crate) struct Folder(pub(crate) tempfile::TempDir);

/// What a run said.
pub(crate) struct Said {
    pub(crate) out: String,
    pub(crate) err: String,
    pub(crate) status: i32,
}

impl Folder {
    pub(crate) fn new() -> Folder {
        let folder = Folder(tempfile::tempdir().unwrap());
        fs::create_dir(folder.at(".git")).unwrap();
        folder
    }

    pub(crate) fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) -> &Folder {
        let path = self.at(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
        self
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.at(name)).unwrap()
    }

    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = self
            .0
            .path()
            .read_dir()
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .filter(|name| name != ".git")
            .collect();
        names.sort();
        names
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(cargo_bin!("lowbrass"));
        command.args(args).current_dir(self.0.path()).stdin(Stdio::null());
        for name in [
            "NO_COLOR",
            "CLICOLOR_FORCE",
            "LOWBRASS_TODAY",
            "SOURCE_DATE_EPOCH",
            "LC_ALL",
            "LC_CTYPE",
            "LANG",
            "COLUMNS",
        ] {
            command.env_remove(name);
        }
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Said {
        Said::of(&self.command(args).output().unwrap())
    }

    pub(crate) fn run_with_input(&self, args: &[&str], input: &[u8]) -> Said {
        let mut command = self.command(args);
        let mut child =
            command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(input).unwrap();
        Said::of(&child.wait_with_output().unwrap())
    }

    /// The JSON report of a check; nothing else may go wrong.
    #[track_caller]
    pub(crate) fn report(&self, args: &[&str]) -> Value {
        let said = self.run(&[&["check", "--format", "json"], args].concat());
        assert!(said.status < 2, "{}", said.err);
        serde_json::from_str(&said.out).unwrap()
    }
}

impl Said {
    pub(crate) fn of(output: &Output) -> Said {
        Said {
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
            status: output.status.code().unwrap_or(-1),
        }
    }

    #[track_caller]
    pub(crate) fn ends_with(self, status: i32) -> Said {
        assert_eq!(self.status, status, "out: {}\nerr: {}", self.out, self.err);
        self
    }

    #[track_caller]
    pub(crate) fn fails_with(self, message: &str) -> Said {
        assert_eq!((self.status, self.out.as_str()), (2, ""), "{}", self.err);
        assert!(self.err.contains(message), "expected {message:?} in {:?}", self.err);
        assert!(self.err.lines().count() <= 8, "a short message, not {}", self.err);
        self
    }
}

/// One bar of a part: pitch (step and octave) and the mark above it.
pub(crate) type BarText<'a> = (&'a str, &'a str);

/// A score of one-note bars in 4/4 at 60 for parts with names.
pub(crate) fn score(parts: &[(&str, &[BarText<'_>])]) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-partwise version=\"4.0\">\n  <part-list>\n",
    );
    for (index, (name, _)) in parts.iter().enumerate() {
        let id = index + 1;
        let _ = writeln!(text, "    <score-part id=\"P{id}\"><part-name>{name}</part-name></score-part>");
    }
    text.push_str("  </part-list>\n");
    for (index, (_, bars)) in parts.iter().enumerate() {
        let _ = writeln!(text, "  <part id=\"P{}\">", index + 1);
        for (number, (pitch, mark)) in bars.iter().enumerate() {
            let number = number + 1;
            let _ = writeln!(text, "    <measure number=\"{number}\">");
            if number == 1 {
                text.push_str("      <attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>F</sign><line>4</line></clef></attributes>\n");
                text.push_str("      <direction><sound tempo=\"120\"/></direction>\n");
            }
            if let Some(words) = mark.strip_prefix('"') {
                let _ = writeln!(
                    text,
                    "      <direction><direction-type><words>{words}</words></direction-type></direction>"
                );
            } else if !mark.is_empty() {
                let _ = writeln!(
                    text,
                    "      <direction><direction-type><dynamics><{mark}/></dynamics></direction-type></direction>"
                );
            }
            match pitch.split_at_checked(1) {
                Some((step, octave)) if !octave.is_empty() => {
                    let _ = writeln!(
                        text,
                        "      <note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>4</duration><voice>1</voice><type>whole</type></note>"
                    );
                }
                _ => text.push_str(
                    "      <note><rest measure=\"yes\"/><duration>4</duration><voice>1</voice></note>\n",
                ),
            }
            text.push_str("    </measure>\n");
        }
        text.push_str("  </part>\n");
    }
    text.push_str("</score-partwise>\n");
    text
}

/// A tuba part with one passage far below any tuba, between rests.
pub(crate) fn too_low() -> String {
    score(&[("Tuba", &[("F1", "mf"), ("r", ""), ("F0", ""), ("r", ""), ("F1", ""), ("r", "")])])
}

/// A tuba part that any tubist plays.
pub(crate) fn sound() -> String {
    score(&[("Tuba", &[("F2", "mf"), ("r", ""), ("E2", "")])])
}

pub(crate) fn rules(report: &Value) -> Vec<&str> {
    let scores = report["scores"].as_array().unwrap();
    let findings = scores.iter().flat_map(|score| score["findings"].as_array().unwrap());
    findings
        .filter(|finding| finding["waived"].is_null())
        .map(|finding| finding["rule"].as_str().unwrap())
        .collect()
}
