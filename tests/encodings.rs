//! Copies in every encoding a score may come in: only octave digits differ, byte by byte, and fixing again changes nothing.

#![allow(clippy::unwrap_used, clippy::panic, clippy::expect_used)] // A test that cannot run has nothing to say.
#![allow(clippy::format_collect)] // A small score, made where it can be read.

use std::io::{Cursor, Write as _};
use std::sync::LazyLock;

use lowbrass::check::{Accepts, CheckError, Checked, Orders, Paths, Room, Task, check};
use lowbrass::finding::Severity;
use lowbrass::musicxml::Document;
use lowbrass::profile::Profiles;
use lowbrass::settings::Settings;

static ROOM: LazyLock<Room> = LazyLock::new(|| Room::new(Settings::none(), Profiles::embedded().unwrap()));

fn checked(bytes: Vec<u8>) -> Result<Checked, CheckError> {
    let orders = Orders::default();
    let task = Task {
        orders: &orders,
        today: "2026-12-01".parse().unwrap(),
        accepts: Accepts::Nothing,
        include_review: false,
        revise: true,
        mark: Some(Severity::Note),
        draw: true,
        keep_score: false,
    };
    check(bytes, &Paths::default(), &ROOM, &task)
}

/// A loud low note between others, with letters of a part's name that each encoding writes in its own way.
fn score(encoding: &str, prefix: &str) -> String {
    let declaration = if encoding.is_empty() {
        String::new()
    } else {
        format!("<?xml version=\"1.0\" encoding=\"{encoding}\"?>\r\n")
    };
    let note = |octave: u8| {
        format!(
            "<note><pitch><step>D</step><octave>{octave}</octave></pitch><duration>4</duration><type>whole</type></note>"
        )
    };
    let rest = "<note><rest/><duration>4</duration></note>";
    let bars: String = [note(2), rest.to_owned(), note(1), rest.to_owned(), note(2)]
        .iter()
        .enumerate()
        .map(|(index, bar)| {
            let start = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>\
                         <direction><direction-type><dynamics><ff/></dynamics></direction-type></direction>";
            format!("<measure number=\"{}\">{}{bar}</measure>\r\n", index + 1, if index == 0 { start } else { "" })
        })
        .collect();
    let body = format!(
        "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Tuba</part-name>\
         <part-abbreviation>T\u{fc}b\u{e9}</part-abbreviation></score-part></part-list>\r\n<part id=\"P1\">{bars}</part></score-partwise>\r\n"
    );
    if prefix.is_empty() {
        return declaration + &body;
    }
    let prefixed = body
        .replace("</", "\u{1}")
        .replace('<', &format!("<{prefix}:"))
        .replace('\u{1}', &format!("</{prefix}:"));
    declaration
        + &prefixed.replacen("score-partwise ", &format!("score-partwise xmlns:{prefix}=\"urn:x\" "), 1)
}

/// Every form: what it is called and its bytes.
fn forms() -> Vec<(String, Vec<u8>)> {
    let wide = |text: &str, mark: bool, big: bool| -> Vec<u8> {
        let units = mark.then_some(0xFEFF).into_iter().chain(text.encode_utf16());
        units.flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() }).collect()
    };
    let single = |text: &str| text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<u8>>();
    let mut forms = Vec::new();
    for prefix in ["", "m"] {
        let mut add = |name: &str, bytes: Vec<u8>| {
            forms.push((format!("{name}{}", if prefix.is_empty() { "" } else { ", prefixed" }), bytes));
        };
        add("UTF-8", score("UTF-8", prefix).into());
        add("UTF-8 that says nothing", score("", prefix).into());
        add("UTF-8 with a mark", [b"\xEF\xBB\xBF", score("UTF-8", prefix).as_bytes()].concat());
        for (big, name) in [(false, "little-endian"), (true, "big-endian")] {
            add(&format!("UTF-16 {name} with a mark"), wide(&score("UTF-16", prefix), true, big));
            add(&format!("UTF-16 {name} without"), wide(&score("UTF-16", prefix), false, big));
        }
        add("Latin-1", single(&score("ISO-8859-1", prefix)));
        add("windows-1252", {
            let mut bytes = single(&score("windows-1252", prefix));
            // The euro sign, which Latin-1 lacks.
            bytes.splice(bytes.len() - 2.., *b"<!-- \x80 -->\r\n");
            bytes
        });
        add("US-ASCII", single(&score("US-ASCII", prefix).replace('\u{fc}', "u").replace('\u{e9}', "e")));
    }
    let plain: Vec<(String, Vec<u8>)> = forms.clone();
    for (name, bytes) in plain {
        let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let options = zip::write::SimpleFileOptions::default();
        archive.start_file("META-INF/container.xml", options).unwrap();
        archive
            .write_all(b"<container><rootfiles><rootfile full-path='s.xml'/></rootfiles></container>")
            .unwrap();
        archive.start_file("s.xml", options).unwrap();
        archive.write_all(&bytes).unwrap();
        forms.push((format!("{name}, compressed"), archive.finish().unwrap().into_inner()));
    }
    forms
}

#[test]
fn in_every_encoding_only_octave_digits_differ_and_fixing_again_changes_nothing() {
    let forms = forms();
    assert_eq!(forms.len(), 40);
    for (form, bytes) in forms {
        let source = Document::open(bytes.clone()).unwrap();
        let copy = checked(bytes.clone()).unwrap_or_else(|error| panic!("{form}: {error}")).revised.unwrap();
        assert_eq!(copy.moves(), 1, "{form}: a move is made, or there is nothing to compare");
        let there = Document::open(copy.bytes.clone()).unwrap();
        let expected = source.text().replace("octave>1<", "octave>2<");
        assert!(there.text() == expected, "{form}");
        if !form.ends_with("compressed") {
            assert_eq!(copy.bytes.len(), bytes.len(), "{form}");
            assert_eq!(copy.bytes.iter().zip(&bytes).filter(|(new, old)| new != old).count(), 1, "{form}");
        }
        let again = checked(copy.bytes.clone()).unwrap();
        assert!(again.revised.unwrap().bytes == copy.bytes, "{form}: fixed again it changes");
    }
}

#[test]
fn in_every_encoding_a_marked_copy_leads_back_to_what_was_marked() {
    for (form, bytes) in forms() {
        let copies = checked(bytes).unwrap();
        // With octaves moved, the marks stand in the revised copy.
        let (revised, marked) = (copies.revised.unwrap().bytes, copies.marked.unwrap());
        assert!(marked != revised, "{form}: nothing is marked");
        assert!(Document::open(marked).unwrap().unmarked().unwrap() == revised, "{form}");
    }
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(96))]

    /// Numbers of any size and sign, and words, wherever a score has a number: read, judged, moved and written, or refused; and a
    /// copy can be checked as its source was.
    #[test]
    fn no_number_of_a_score_overflows_anything(
        numbers in proptest::collection::vec(
            proptest::prop_oneof![
                proptest::strategy::Strategy::prop_map(proptest::num::i64::ANY, |number| number.to_string()),
                proptest::strategy::Strategy::prop_map(-20_i64..2000, |number| number.to_string()),
                proptest::strategy::Strategy::prop_map(1_i64..17, |number| number.to_string()),
                proptest::strategy::Strategy::prop_map(proptest::num::f64::ANY, |number| number.to_string()),
                proptest::strategy::Strategy::prop_map(0.0_f64..300.0, |number| format!("{number:.3}")),
                proptest::strategy::Strategy::prop_map(0_u32..25, |places| format!("0.{}1", "0".repeat(places as usize))),
                "[0-9+.eE-]{0,6}",
            ],
            23..=23,
        ),
        octaves in proptest::collection::vec(-3_i8..14, 6..=6),
    ) {
        const PLACES: &str = "<measure number='1'><attributes><divisions>{}</divisions><key><fifths>{}</fifths></key>\
            <time><beats>{}</beats><beat-type>{}</beat-type></time><staves>{}</staves><clef><sign>F</sign><line>{}</line></clef>\
            <transpose><diatonic>{}</diatonic><chromatic>{}</chromatic><octave-change>{}</octave-change></transpose></attributes>\
            <direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>{}</per-minute></metronome></direction-type>\
            <offset>{}</offset></direction><direction><direction-type><words>rit.</words></direction-type></direction>\
            <note><pitch><step>D</step><alter>{}</alter><octave>@</octave></pitch><duration>{}</duration></note>\
            <note><pitch><step>E</step><octave>@</octave></pitch><duration>{}</duration><staff>{}</staff></note>\
            <backup><duration>{}</duration></backup><forward><duration>{}</duration></forward><sound tempo='{}' dynamics='{}'/>\
            <note><chord/><pitch><step>F</step><octave>@</octave></pitch><duration>{}</duration></note>\
            <note><grace/><pitch><step>F</step><octave>@</octave></pitch></note></measure>\
            <measure number='2'><attributes><divisions>{}</divisions></attributes><direction><direction-type><octave-shift type='up' \
            size='{}'/></direction-type></direction><note><pitch><step>D</step><octave>@</octave></pitch><duration>8</duration></note>\
            <note><pitch><step>D</step><octave>@</octave></pitch><duration>4</duration></note>\
            <barline><repeat direction='backward' times='{}'/></barline></measure>";
        let mut text = String::new();
        let mut numbers = numbers.iter();
        let mut octaves = octaves.iter();
        for piece in PLACES.split_inclusive(['}', '@']) {
            if let Some(before) = piece.strip_suffix("{}") {
                text.push_str(before);
                text.push_str(numbers.next().map_or("", String::as_str));
            } else if let Some(before) = piece.strip_suffix('@') {
                text.push_str(before);
                text.push_str(&octaves.next().map_or_else(String::new, ToString::to_string));
            } else {
                text.push_str(piece);
            }
        }
        let text = format!(
            "<score-partwise><part-list><score-part id='P1'><part-name>Tuba</part-name></score-part></part-list><part id='P1'>{text}\
             </part></score-partwise>"
        );
        if let Ok(done) = checked(text.clone().into_bytes()) {
            let copy = done.revised.expect("it was asked for");
            proptest::prop_assert!(checked(copy.bytes).is_ok(), "a copy cannot be checked: {}", text);
        }
    }
}
