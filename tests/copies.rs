//! The revised and the marked copy in every form a score may come in: partwise and timewise, LF and CRLF,
//! UTF-8 and UTF-16, plain and compressed.

#![allow(clippy::unwrap_used)] // A test that cannot read has nothing to say.

use std::io::{Cursor, Read, Write};

use lowbrass::finding::{Finding, Revision};
use lowbrass::music::Onset;
use lowbrass::musicxml::{Document, Edit};
use lowbrass::octaves::{marked, plan, revise};
use lowbrass::playing::{Desk, HornInHand, RecognisedBy, Section};
use lowbrass::profile::Profiles;
use lowbrass::rules::judge;
use lowbrass::score::{Score, lines};

const HEAD: &str =
    "<part-list>\n <score-part id=\"P1\"><part-name>Tuba</part-name></score-part>\n</part-list>\n";

/// A loud low hold between whole notes that are at home.
fn bars(wrap: impl Fn(usize, &str) -> String) -> String {
    let note = |octave: u8| {
        format!(
            "  <note><pitch><step>D</step><octave>{octave}</octave></pitch><duration>4</duration><type>whole</type></note>\n"
        )
    };
    let rest = "  <note><rest/><duration>4</duration></note>\n".to_owned();
    let start = "  <attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>\n  <direction><direction-type><dynamics><ff/></dynamics></direction-type></direction>\n";
    [start.to_owned() + &note(2), rest.clone(), note(1), rest, note(2)]
        .iter()
        .enumerate()
        .map(|(index, bar)| wrap(index + 1, bar))
        .collect()
}

fn partwise() -> String {
    let bars = bars(|number, bar| format!(" <measure number=\"{number}\">\n{bar} </measure>\n"));
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-partwise version=\"4.0\">\n{HEAD}<part id=\"P1\">\n{bars}</part>\n</score-partwise>\n"
    )
}

fn timewise() -> String {
    let bars = bars(|number, bar| {
        format!(" <measure number=\"{number}\"><part id=\"P1\">\n{bar} </part></measure>\n")
    });
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-timewise version=\"4.0\">\n{HEAD}{bars}</score-timewise>\n"
    )
}

fn utf_16(text: &str) -> Vec<u8> {
    let text = text.replace("UTF-8", "UTF-16");
    [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
}

fn compressed(text: &str) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    let container = "<container><rootfiles><rootfile full-path=\"score.xml\"/></rootfiles></container>";
    for (name, content) in [("META-INF/container.xml", container), ("score.xml", text), ("other.txt", "kept")]
    {
        archive.start_file(name, options).unwrap();
        archive.write_all(content.as_bytes()).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

fn members(archive: &[u8]) -> Vec<String> {
    let archive = zip::ZipArchive::new(Cursor::new(archive)).unwrap();
    archive.file_names().map(|name| name.unwrap().into_owned()).collect()
}

fn forms() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("partwise", partwise().into()),
        ("timewise", timewise().into()),
        ("CRLF", partwise().replace('\n', "\r\n").into()),
        ("UTF-16", utf_16(&partwise())),
        ("one line", partwise().replace('\n', "").into()),
        ("compressed", compressed(&partwise())),
    ]
}

fn planned(bytes: &[u8]) -> (Document, Score, Vec<Finding>, Revision) {
    let profiles = Profiles::embedded().unwrap();
    let document = Document::open(bytes.to_vec()).unwrap();
    let score = document.read(&|parts| vec![true; parts.len()]).unwrap();
    let (findings, revision) = {
        let horn = HornInHand { from: Onset::START, profile: profiles.named("contrabass-tuba-c").unwrap() };
        let desk = Desk {
            part: &score.parts[0],
            lines: lines(&score.parts[0], &score),
            horns: vec![horn],
            also: Vec::new(),
            recognised_by: RecognisedBy::Name,
            players: 1,
            breath: 1.0,
            mutes: None,
        };
        let limits = profiles.section().clone();
        let section = Section { score: &score, desks: vec![desk], unrecognised: Vec::new(), limits };
        let mut findings = judge(&section);
        let revision = plan(&section, &mut findings);
        (findings, revision)
    };
    (document, score, findings, revision)
}

#[test]
fn the_revised_copy_differs_in_one_octave_digit_and_asks_for_no_more() {
    for (form, bytes) in forms() {
        let (document, score, _, revision) = planned(&bytes);
        assert_eq!(revision.moves.len(), 1, "{form}");
        let copy = revise(&document, &score, &revision, false).unwrap();
        assert_eq!(copy.applied, revision.moves, "{form}");
        let there = Document::open(copy.bytes.clone()).unwrap();
        let expected = document.text().replace("<octave>1<", "<octave>2<");
        assert_eq!(there.text(), expected, "{form}");
        if form != "compressed" {
            assert_eq!(copy.bytes.len(), bytes.len(), "{form}");
            assert_eq!(copy.bytes.iter().zip(&bytes).filter(|(a, b)| a != b).count(), 1, "{form}");
        }
        let (.., again) = planned(&copy.bytes);
        assert!(again.moves.is_empty(), "{form}");
    }
}

#[test]
fn a_marked_copy_without_its_marks_is_the_source() {
    for (form, bytes) in forms() {
        let (document, score, findings, _) = planned(&bytes);
        let copy = marked(&document, &score, &findings).unwrap();
        let there = Document::open(copy.clone()).unwrap();
        let words = "<words>too loud for register: D1 ff. Up an octave: D2</words>";
        assert!(there.text().contains(words), "{form}: {}", there.text());
        assert_eq!(there.unmarked().unwrap(), bytes, "{form}");
        // What is written is music that reads the same.
        let (_, marked_score, ..) = planned(&copy);
        assert_eq!(marked_score.parts[0].notes.len(), score.parts[0].notes.len(), "{form}");
    }
}

#[test]
fn other_members_of_a_compressed_score_stay() {
    let bytes = compressed(&partwise());
    let (document, score, _, revision) = planned(&bytes);
    let copy = revise(&document, &score, &revision, false).unwrap();
    assert_eq!(members(&copy.bytes), ["META-INF/container.xml", "score.xml", "other.txt"]);
    let mut archive = zip::ZipArchive::new(Cursor::new(copy.bytes)).unwrap();
    let mut kept = String::new();
    archive.by_name("other.txt").unwrap().read_to_string(&mut kept).unwrap();
    assert_eq!(kept, "kept");
}

#[test]
fn a_copy_in_which_nothing_moves_is_the_source() {
    for (form, bytes) in forms() {
        let (document, score, findings, _) = planned(&bytes);
        assert_eq!(revise(&document, &score, &Revision::default(), true).unwrap().bytes, bytes, "{form}");
        assert_eq!(marked(&document, &score, &[]).unwrap(), bytes, "{form}");
        // Marked twice is marked once.
        let copy = marked(&document, &score, &findings).unwrap();
        let there = Document::open(copy.clone()).unwrap();
        let there_score = there.read(&|parts| vec![true; parts.len()]).unwrap();
        assert_eq!(marked(&there, &there_score, &[]).unwrap(), bytes, "{form}");
    }
}

#[test]
fn a_marked_archive_that_was_changed_since_keeps_the_change() {
    let bytes = compressed(&partwise());
    let (document, score, findings, _) = planned(&bytes);
    let copy = Document::open(marked(&document, &score, &findings).unwrap()).unwrap();
    let at = copy.text().find("<octave>1<").unwrap() + "<octave>".len();
    let changed = copy.with_edits(vec![Edit { range: at..at + 1, with: "3".to_owned() }]).unwrap();
    let back = Document::open(changed).unwrap().unmarked().unwrap();
    assert_eq!(members(&back), ["META-INF/container.xml", "score.xml", "other.txt"]);
    let expected = document.text().replace("<octave>1<", "<octave>3<");
    assert_eq!(Document::open(back).unwrap().text(), expected);
}
