//! The reader against the standard's text: one small score for each construct, with the rows it must yield beside it.
//!
//! The rows were set down by hand from the MusicXML 4.0 text, not from the program's output. `README.md` in
//! `tests/reference` says which file shows which construct.

#![allow(clippy::unwrap_used, clippy::panic, clippy::expect_used)] // A test that cannot run has nothing to say.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use lowbrass::musicxml::Document;
use lowbrass::playing::seat;
use lowbrass::profile::{Casting, Profiles, Recogniser};
use lowbrass::report::{NoteFormat, note_rows, write_notes};
use lowbrass::score::{Articulation, Asks, OddityKind, Score, lines};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/reader")
}

fn fixtures() -> Vec<PathBuf> {
    let files = fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path());
    let mut scores: Vec<PathBuf> =
        files.filter(|path| path.extension().is_some_and(|end| end != "jsonl")).collect();
    scores.sort();
    scores
}

fn read(path: &Path) -> Score {
    let document =
        Document::open(fs::read(path).unwrap()).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    document
        .read(&|parts| vec![true; parts.len()])
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The fixture whose name begins so.
#[track_caller]
fn fixture(start: &str) -> Score {
    let found =
        fixtures().into_iter().find(|path| path.file_name().unwrap().to_string_lossy().starts_with(start));
    read(&found.unwrap_or_else(|| panic!("no fixture {start}")))
}

fn rows(score: &Score) -> String {
    let profiles = Profiles::embedded().unwrap();
    let recogniser = Recogniser::new(&profiles, None);
    let section = seat(score, &recogniser, &Casting::default(), profiles.section());
    let mut out = Vec::new();
    write_notes(note_rows(&section, true), NoteFormat::Jsonl, &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

#[test]
fn every_construct_yields_the_rows_that_the_standard_says() {
    let mut wrong = String::new();
    for path in fixtures() {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let expected = fs::read_to_string(path.with_extension("jsonl"))
            .unwrap_or_else(|_| panic!("{name} has no expected rows beside it"));
        let read = rows(&read(&path));
        for line in difference(&expected, &read) {
            writeln!(wrong, "{name}: {line}").unwrap();
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Lines that only one of two texts has, in order.
fn difference(expected: &str, read: &str) -> Vec<String> {
    let count = expected.lines().count().max(read.lines().count());
    let line = |text: &str, at: usize| text.lines().nth(at).unwrap_or("(nothing)").to_owned();
    (0..count)
        .filter(|&at| line(expected, at) != line(read, at))
        .map(|at| format!("row {}\n  expected {}\n  read     {}", at + 1, line(expected, at), line(read, at)))
        .collect()
}

#[test]
fn no_expected_rows_are_left_without_their_score() {
    let files = fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path());
    let orphans: Vec<PathBuf> = files
        .filter(|path| path.extension().is_some_and(|end| end == "jsonl"))
        .filter(|path| !path.with_extension("musicxml").exists() && !path.with_extension("mxl").exists())
        .collect();
    assert!(orphans.is_empty(), "{orphans:?}");
}

/// Bar numbers in the order of performance.
fn performed(score: &Score) -> String {
    let bars = score.order.stretches.iter().flat_map(|stretch| stretch.bars.clone());
    bars.map(|bar| score.bars[bar as usize].number.clone()).collect::<Vec<_>>().join(" ")
}

#[test]
fn repeats_and_jumps_are_performed_as_they_are_marked() {
    for (start, order) in [
        ("01", "1"),
        ("A0", "1 2 1 3"),
        ("A1", "1 1 1 2"),
        ("A2", "1 1 2 3 1 2"),
        ("A3", "1 2 3 2 4"),
        ("A4", "1 1 2 1 1 2"),
        ("A5", "1 2 1"),
        ("A6", "1 1 2 3 2 3 1 2 3"),
        ("A7", "1 2 3 2 4"),
        ("A8", "1 2 3 1 2 4"),
        ("A9", "1 2 3 4 1 2 3 6"),
        ("AA", "1 2 3 4 3 4 1 2"),
        ("AB", "1 2 3 2 3"),
        ("AC", "1 2 3 2 3 2 4 5 6"),
        ("AD", "1 2 3 1 2 1 2 3 4"),
        ("AE", "1 2 3 1 2 5"),
    ] {
        assert_eq!(performed(&fixture(start)), order, "{start}");
    }
}

#[test]
fn a_tie_into_the_first_ending_is_cut_off_at_the_repeat() {
    let score = fixture("A0");
    let line = &lines(&score.parts[0], &score, 1)[0];
    let heard: Vec<(String, u32, f64)> = line
        .performed
        .iter()
        .map(|struck| (line.played[struck.played].sounding.to_string(), struck.pass, struck.seconds.get()))
        .collect();
    let expected = [("D2", 1, 8.0), ("D2", 2, 4.0), ("E2", 1, 4.0)]
        .map(|(note, pass, seconds)| (note.to_owned(), pass, seconds));
    assert_eq!(heard, expected);
}

#[test]
fn bars_last_as_their_time_signatures_say() {
    let nominal = |start: &str| -> Vec<Option<String>> {
        fixture(start).bars.iter().map(|bar| bar.nominal.map(|length| length.to_string())).collect()
    };
    let bar = |length: &str| Some(length.to_owned());
    assert_eq!(nominal("27")[0], bar("5/2")); // 3+2 eighths
    assert_eq!(nominal("28")[0], bar("3")); // 6/8, or 3/4: the same length
    assert_eq!(nominal("29")[0], bar("7/2")); // 2/4 and 3/8
    assert_eq!(nominal("46")[0], bar("2")); // 2/4 for one staff, 4/8 for the other
    assert_eq!(nominal("4A"), [bar("4"), None, None]);
    let starts: Vec<String> = fixture("25").bars.iter().map(|bar| bar.start.to_string()).collect();
    assert_eq!(starts, ["0", "4", "8"]);
}

#[test]
fn marks_on_notes_are_kept_with_them() {
    let marks = |start: &str, mark: Articulation| -> Vec<bool> {
        fixture(start).parts[0].notes.iter().map(|note| note.articulations.has(mark)).collect()
    };
    assert_eq!(marks("58", Articulation::LetRing), [true]);
    assert_eq!(marks("59", Articulation::LetRing), [true, false]);
    assert_eq!(marks("95", Articulation::Fermata), [true, false]);
    assert_eq!(marks("B3", Articulation::Accent), [true, false]);
    assert_eq!(marks("B3", Articulation::Marcato), [false, true]);
}

#[test]
fn forced_marks_ask_for_an_attack_of_their_note_alone() {
    let score = fixture("84");
    let attacks: Vec<String> = score.parts[0]
        .notes
        .iter()
        .map(|note| note.attack.map_or_else(|| "-".to_owned(), |attack| attack.to_string()))
        .collect();
    // p, sfz, none, fp | pf (soft, then f), sf before mp, s before fp, ffff
    assert_eq!(attacks.join(" "), "- f - f - f f -");
}

#[test]
fn a_doubling_at_the_octave_is_kept_beside_the_transposition() {
    let score = fixture("68");
    assert!(score.parts[0].transpositions[0].transposition.double.is_some());
}

/// MusicXML 4.0, `time-only`: the times through the repeated section on which an element applies. After the da capo
/// the repeat is left out, and it is the last time that is played.
#[test]
fn notes_for_some_times_through_a_repeat_are_heard_on_those() {
    let score = fixture("A6");
    let mut heard: Vec<(f64, String)> = Vec::new();
    for line in lines(&score.parts[0], &score, 1) {
        let sounding = |played: usize| line.played[played].sounding.to_string();
        heard.extend(line.performed.iter().map(|struck| (struck.start.get(), sounding(struck.played))));
    }
    heard.sort_by(|a, b| a.0.total_cmp(&b.0));
    let notes: Vec<&str> = heard.iter().map(|(_, note)| note.as_str()).collect();
    assert_eq!(notes, ["C2", "D2", "E2", "F2", "E2", "F2", "D2", "E2", "F2"]);
}

#[test]
fn two_players_on_one_staff_read_what_voices_and_words_give_them() {
    let score = fixture("B0");
    let players: Vec<Vec<String>> = lines(&score.parts[0], &score, 2)
        .iter()
        .map(|line| line.played.iter().map(|note| note.sounding.to_string()).collect())
        .collect();
    assert_eq!(players, [vec!["D3", "E2", "B2"], vec!["D2", "E2", "F2", "G2"]]);
}

#[test]
fn two_players_whom_the_part_list_names_read_a_staff_together() {
    let score = fixture("B5");
    assert_eq!(score.parts[0].info.players, Some(2));
    assert_eq!(lines(&score.parts[0], &score, 2).len(), 2);
}

#[test]
fn another_instrument_is_asked_for_by_element_and_by_words() {
    let score = fixture("B2");
    let asked: Vec<(u32, Asks)> =
        score.parts[0].directions.iter().map(|direction| (direction.bar, direction.asks.clone())).collect();
    assert_eq!(
        asked,
        [(1, Asks::Instrument("Cimbasso".to_owned())), (2, Asks::Instrument("Tuba".to_owned()))]
    );
}

#[test]
fn where_one_of_two_players_changes_instruments_the_desk_keeps_its_own() {
    let score = fixture("B4");
    let profiles = Profiles::embedded().unwrap();
    let recogniser = Recogniser::new(&profiles, None);
    let section = seat(&score, &recogniser, &Casting::default(), profiles.section());
    let desk = &section.desks[0];
    let names = |instruments: Vec<&str>| instruments.join(" ");
    assert_eq!(
        names(desk.instruments.iter().map(|instrument| instrument.profile.name.as_str()).collect()),
        "contrabass-tuba-c"
    );
    assert_eq!(names(desk.also.iter().map(|instrument| instrument.name.as_str()).collect()), "cimbasso-f");
}

#[test]
fn what_is_not_as_the_standard_has_it_is_said() {
    let said = |start: &str| -> Vec<OddityKind> {
        fixture(start).oddities.into_iter().map(|odd| odd.kind).collect()
    };
    assert!(matches!(said("22")[..], [OddityKind::BackupTooFar { .. }, ..]), "{:?}", said("22"));
    assert!(said("31").iter().any(|kind| matches!(kind, OddityKind::BarOverfull { .. })));
    assert!(
        said("42").contains(&OddityKind::NoteWithoutDuration)
            && said("42").contains(&OddityKind::NoteWithoutPitch)
    );
    assert!(said("43").contains(&OddityKind::PartWithoutId));
    assert!(said("43").contains(&OddityKind::PartNotListed { id: "P9".to_owned() }));
    assert!(said("56").iter().any(|kind| matches!(kind, OddityKind::TieLeftOpen { .. })));
    // What a score may do without a word of ours.
    for start in ["26", "48", "49", "4A", "4B", "4C", "59", "72", "75"] {
        assert!(said(start).is_empty(), "{start}: {:?}", said(start));
    }
    assert!(said("69").contains(&OddityKind::TransposeInConcertScore));
    for start in ["A5", "A7", "A8"] {
        assert_eq!(said(start), [OddityKind::JumpInWords], "{start}");
    }
    for start in ["01", "02", "23", "30", "50", "60", "A0"] {
        assert!(said(start).is_empty(), "{start}: {:?}", said(start));
    }
}

#[test]
fn an_assumed_tempo_says_so() {
    let assumed = |start: &str| fixture(start).tempo.changes()[0].assumed;
    assert!(assumed("93") && assumed("96"));
    assert!(!assumed("90") && !assumed("91"));
}

/// Eighty staves of two thousand bars, each a tied whole note: what nobody means to be read.
#[test]
fn a_score_of_eighty_staves_and_two_thousand_bars_is_read() {
    let mut text = String::from("<score-partwise version='4.0'><part-list>");
    for part in 1..=80 {
        write!(text, "<score-part id='P{part}'><part-name>Tuba {part}</part-name></score-part>").unwrap();
    }
    text.push_str("</part-list>");
    for part in 1..=80 {
        write!(text, "<part id='P{part}'>").unwrap();
        for bar in 1..=2000 {
            let attributes = if bar == 1 { "<attributes><divisions>1</divisions></attributes>" } else { "" };
            write!(
                text,
                "<measure number='{bar}'>{attributes}<note><pitch><step>D</step><octave>2</octave></pitch>\
                 <duration>4</duration><tie type='start'/><tie type='stop'/></note></measure>"
            )
            .unwrap();
        }
        text.push_str("</part>");
    }
    text.push_str("</score-partwise>");
    let score = Document::open(text.into_bytes()).unwrap().read(&|parts| vec![true; parts.len()]).unwrap();
    assert_eq!((score.parts.len(), score.bars.len()), (80, 2000));
    assert_eq!(score.parts.iter().map(|part| part.notes.len()).sum::<usize>(), 160_000);
    let line = &lines(&score.parts[79], &score, 1)[0];
    assert_eq!((line.played.len(), line.played[0].length().to_string()), (1, "8000".to_owned()));
}

#[test]
fn a_piano_album_a_lone_drum_part_and_an_empty_score_have_a_sensible_answer() {
    let part = |name: &str, music: &str| {
        format!(
            "<score-partwise><part-list><score-part id='P1'><part-name>{name}</part-name></score-part></part-list>\
             <part id='P1'>{music}</part></score-partwise>"
        )
    };
    let read = |text: String| {
        Document::open(text.into_bytes()).unwrap().read(&|parts| vec![true; parts.len()]).unwrap()
    };
    let chord = |chord: &str, octave: u8, staff: u8| {
        format!(
            "<note>{chord}<pitch><step>C</step><octave>{octave}</octave></pitch><duration>4</duration>\
             <voice>{staff}</voice><staff>{staff}</staff></note>"
        )
    };
    let hands = format!(
        "<measure number='1'><attributes><divisions>1</divisions><staves>2</staves></attributes>{}{}\
         <backup><duration>4</duration></backup>{}</measure>",
        chord("", 4, 1),
        chord("<chord/>", 5, 1),
        chord("", 2, 2)
    );
    let piano = read(part("Piano", &hands));
    let hands: Vec<String> =
        lines(&piano.parts[0], &piano, 1).iter().map(|line| line.played[0].sounding.to_string()).collect();
    assert_eq!(hands, ["C5", "C4", "C2"]);
    assert!(!rows(&piano).contains("\"profile\":\""));

    let drum = "<measure number='1'><note><unpitched/><duration>1</duration></note></measure>";
    let drums = read(part("Drums", drum));
    assert_eq!((drums.bars.len(), rows(&drums).len()), (1, 0));

    for empty in [
        part("Tuba", ""),
        "<score-partwise/>".to_owned(),
        "<score-timewise><part-list/></score-timewise>".to_owned(),
    ] {
        let score = read(empty);
        assert_eq!(rows(&score), "");
        assert!(score.parts.iter().all(|part| lines(part, &score, 1).is_empty()));
    }
}
