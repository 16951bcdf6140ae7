//! The house stays in order: a module uses only the floors below it, and each floor keeps to what it may know.
//!
//! Read as text, without the code of tests: `use` lines and paths that begin with `crate::`.

#![allow(clippy::expect_used)] // A test that cannot read the sources has nothing to say.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Top-level modules by floor, ground first. Modules on one floor do not use each other.
const FLOORS: &[&[&str]] = &[
    &["system"],
    &["music", "nearest", "intake", "keys", "printable"],
    &["score"],
    &["finding"],
    &["musicxml", "profile", "settings"],
    &["playing"],
    &["rules"],
    &["octaves", "copies"],
    &["report"],
    &["check"],
    &["cli"],
];

#[test]
fn a_module_uses_only_the_floors_below_it() {
    let floor_of: BTreeMap<&str, usize> = FLOORS
        .iter()
        .enumerate()
        .flat_map(|(floor, names)| names.iter().map(move |name| (*name, floor)))
        .collect();
    let mut wrong = Vec::new();
    for (path, code) in sources() {
        let Some(here) = module_of(&path) else { continue };
        let Some(&floor) = floor_of.get(here.as_str()) else {
            wrong.push(format!("{} belongs to no floor", path.display()));
            continue;
        };
        for used in crate_paths(&code) {
            match floor_of.get(used.as_str()) {
                Some(&below) if below < floor || used == here => {}
                Some(_) => wrong.push(format!("{} ({here}) uses {used}", path.display())),
                None => {}
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_function_knows_both_xml_and_rules() {
    refuse(
        &["rules", "playing", "octaves", "copies", "score", "music", "finding"],
        &["roxmltree", "quick_xml", "zip::"],
    );
    refuse(&["musicxml"], &["crate::rules", "crate::profile", "crate::playing"]);
}

#[test]
fn only_the_reading_floor_parses_toml() {
    refuse(
        &["music", "score", "finding", "playing", "rules", "octaves", "copies", "report"],
        &["toml::from", "toml::de"],
    );
}

#[test]
fn the_library_prints_nothing() {
    let below_the_command_line: Vec<&str> =
        FLOORS.iter().flat_map(|names| names.iter().copied()).filter(|name| *name != "cli").collect();
    refuse(&below_the_command_line, &["println!", "eprintln!", "print!(", "eprint!("]);
}

#[test]
fn no_report_shows_a_clock() {
    refuse(&["report", "rules", "octaves", "playing", "finding"], &["SystemTime", "Instant::now"]);
}

/// No number that judges a player or a page stands in Rust: in rules, in what players do and in what moves only numbers of
/// arithmetic are written out (a semitone's cents, an octave's semitones, a minute's seconds, per cent), and what is listed here.
#[test]
fn no_trade_number_stands_in_a_rule() {
    const ARITHMETIC: &[&str] =
        &["0", "1", "2", "3", "12", "60", "100", "1200", "0.0", "1.0", "2.0", "12.0", "60.0", "100.0"];
    // Tolerances of floats, places in an order of costs, fine units that make equal costs equal, a bound of a search; in
    // what moves the five octaves and the nine ways between them, sizes of tables and halves of smoothing.
    const COUNTED: &[(&str, &[&str])] = &[
        ("octaves/candidates.rs", &["5"]),
        ("octaves/chords.rs", &["9"]),
        ("octaves/confidence.rs", &["4"]),
        ("octaves/confirmed.rs", &["6"]),
        ("octaves/evidence.rs", &["5"]),
        ("octaves/figures.rs", &["6", "32"]),
        ("octaves/leaps.rs", &["0.25", "0.5", "36"]),
        ("octaves/other_voices.rs", &["0.25", "0.5", "48", "50"]),
        ("octaves/register.rs", &["160"]),
        ("octaves/shortest_path.rs", &["4", "5", "9"]),
        ("octaves/trellis.rs", &["4", "5", "9"]),
        ("playing/agility.rs", &["1e", "9"]),
        ("playing/breath/air.rs", &["1e", "9", "50"]),
        ("playing/breath/cheapest.rs", &["1000000"]),
        ("playing/breath/planner.rs", &["1e", "9"]),
        ("playing/harmony.rs", &["16", "200"]),
        ("playing/slide.rs", &["0.5", "0.0f64", "100000.0"]),
        ("playing/trill.rs", &["6", "7"]), // steps of a scale
        ("playing/valves.rs", &["0.01", "0.01f64", "1200.0", "1u16", "4", "8"]),
    ];
    let mut wrong = Vec::new();
    for (path, code) in sources() {
        if !matches!(module_of(&path).as_deref(), Some("rules" | "playing" | "octaves")) {
            continue;
        }
        let counted =
            COUNTED.iter().find(|(file, _)| path == Path::new(file)).map_or(&[][..], |(_, all)| all);
        for (number, line) in code.lines().enumerate() {
            let bare = without_words(line);
            for literal in numbers(&bare) {
                if !ARITHMETIC.contains(&literal.as_str()) && !counted.contains(&literal.as_str()) {
                    wrong.push(format!("{}:{}: {literal} in {}", path.display(), number + 1, line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn refuse(modules: &[&str], words: &[&str]) {
    let mut wrong = Vec::new();
    for (path, code) in sources() {
        let Some(here) = module_of(&path) else { continue };
        if !modules.contains(&here.as_str()) {
            continue;
        }
        let code: String =
            code.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n");
        for word in words {
            if code.contains(word) {
                wrong.push(format!("{} holds {word}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every source file with the code that ships: test modules and files of test helpers are left out.
fn sources() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("src is readable") {
            let path = entry.expect("src is readable").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let name = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
                if matches!(name, "testing" | "tests" | "engraving") || name.ends_with("_tests") {
                    continue;
                }
                let text = fs::read_to_string(&path).expect("source is text");
                let shipped = text.split("\n#[cfg(test)]\nmod ").next().unwrap_or_default().to_owned();
                found.push((path.strip_prefix(&root).expect("below src").to_owned(), shipped));
            }
        }
    }
    found.sort();
    assert!(found.len() > 20, "the walk found the sources");
    found
}

/// The top-level module of a file; `None` for the crate root and the binary.
fn module_of(path: &Path) -> Option<String> {
    let first = path.iter().next()?.to_str()?;
    let name = first.strip_suffix(".rs").unwrap_or(first);
    (!matches!(name, "lib" | "main")).then(|| name.to_owned())
}

fn crate_paths(code: &str) -> Vec<String> {
    let mut used = Vec::new();
    for line in code.lines().filter(|line| !line.trim_start().starts_with("//")) {
        for (at, found) in line.match_indices("crate::") {
            let rest = &line[at + found.len()..];
            let names: Vec<&str> = match rest.strip_prefix('{') {
                Some(group) => {
                    group.split(',').map(|name| name.trim().split("::").next().unwrap_or_default()).collect()
                }
                None => vec![rest],
            };
            for name in names {
                let end = name.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(name.len());
                used.push(name[..end].to_owned());
            }
        }
    }
    used
}

/// The line without string literals and comments.
fn without_words(line: &str) -> String {
    let mut bare = String::new();
    let mut inside = false;
    let mut before = ' ';
    for c in line.chars() {
        if c == '"' && before != '\\' {
            inside = !inside;
        } else if !inside {
            bare.push(c);
        }
        before = c;
    }
    bare.split("//").next().unwrap_or_default().to_owned()
}

fn numbers(code: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut word = String::new();
    let mut chars = code.chars().chain(" ".chars()).peekable();
    while let Some(c) = chars.next() {
        // A point belongs to a number only before a further digit: `0.5`, not `0..n` nor `pair.1.name`.
        let digits = word.starts_with(|d: char| d.is_ascii_digit()) && !word.contains('.');
        let point = c == '.' && digits && chars.peek().is_some_and(char::is_ascii_digit);
        if c.is_alphanumeric() || c == '_' || point {
            word.push(c);
        } else {
            if word.starts_with(|d: char| d.is_ascii_digit()) {
                found.push(word.trim_end_matches('.').replace('_', ""));
            }
            word.clear();
        }
    }
    found
}

#[test]
fn the_reading_of_this_test_itself_works() {
    assert_eq!(numbers("let a = 0.25 * x1 + 12;"), ["0.25", "12"]);
    assert_eq!(numbers("(0..rows.len()) pair.1.name"), ["0", "1"]);
    assert_eq!(without_words("say(\"at 85 dB\", 3) // 7"), "say(, 3) ");
    assert_eq!(crate_paths("use crate::{music::Pitch, score::Note};"), ["music", "score"]);
    assert_eq!(crate_paths("    let x = crate::rules::judge(s);"), ["rules"]);
}
