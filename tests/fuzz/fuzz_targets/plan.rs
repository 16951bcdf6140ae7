//! A score and what the program makes of it: judged, moved, written, read back and compared; a copy that is fixed again is
//! the same bytes, and a marked copy leads back to its source.
//!
//! Bytes that begin with '<' or "PK" are a score as it stands; of others each pair is a note of two tubas and a trombone.
#![no_main]

use std::fmt::Write as _;
use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use lowbrass::check::{Accepts, Checked, Orders, Paths, Room, Task, check};
use lowbrass::finding::Severity;
use lowbrass::musicxml::Document;
use lowbrass::profile::Profiles;
use lowbrass::settings::Settings;

static ROOM: LazyLock<Room> = LazyLock::new(|| Room::new(Settings::none(), Profiles::embedded().expect("the built-in profiles are sound")));

fuzz_target!(|bytes: &[u8]| {
    let score = match bytes {
        [b'<', ..] | [b'P', b'K', ..] => bytes.to_vec(),
        _ => made(bytes).into_bytes(),
    };
    let Ok(checked) = checked(score.clone()) else { return };
    let revised = checked.revised.expect("a revised copy is wanted").bytes;
    let fixed = checked_anew(revised.clone()).revised.expect("a revised copy is wanted");
    assert!(fixed.bytes == revised, "a copy that is fixed again changes: {}", String::from_utf8_lossy(&score));
    if let Some(copy) = checked.marked {
        let marked = Document::open(copy).expect("a marked copy can be read");
        // Marks that stood there before are taken out as well.
        if !bytes.starts_with(b"<") && !bytes.starts_with(b"PK") {
            // The marks stand in the revised copy.
            assert!(marked.unmarked().expect("its marks can be taken out") == revised);
        }
    }
});

fn checked_anew(bytes: Vec<u8>) -> Checked {
    checked(bytes).unwrap_or_else(|error| panic!("a copy cannot be checked: {error}"))
}

fn checked(bytes: Vec<u8>) -> Result<Checked, lowbrass::check::CheckError> {
    let orders = Orders::default();
    let task = Task {
        orders: &orders,
        today: "2026-12-01".parse().expect("a day"),
        accepts: Accepts::Nothing,
        include_review: false,
        revise: true,
        mark: Some(Severity::Warning),
        draw: true,
        keep_score: false,
    };
    check(bytes, &Paths::default(), &ROOM, &task)
}

/// A score of three parts, whose bars fill up with notes as the bytes say.
fn made(bytes: &[u8]) -> String {
    let names = ["Tuba 1", "Tuba 2", "Bass Trombone"];
    let mut parts = [String::new(), String::new(), String::new()];
    for (index, pair) in bytes.chunks(2).take(300).enumerate() {
        let (first, second) = (pair[0], pair.get(1).copied().unwrap_or(0));
        let music = &mut parts[index % 3];
        let step = char::from(b'A' + first % 7);
        let octave = (first / 7) % 6;
        let duration = [1, 2, 4, 8, 16][usize::from(second % 5)];
        let loud = ["pp", "p", "mf", "f", "ff", "fff"].get(usize::from(second / 5 % 16));
        if first < 250 {
            if let Some(loud) = loud {
                let _ = write!(music, "<direction><direction-type><dynamics><{loud}/></dynamics></direction-type></direction>");
            }
            let slur = match second >> 6 {
                1 => "<notations><slur type=\"start\"/></notations>",
                2 => "<notations><slur type=\"stop\"/></notations>",
                _ => "",
            };
            let _ = write!(
                music,
                "<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>{duration}</duration>{slur}</note>"
            );
        } else {
            let _ = write!(music, "<note><rest/><duration>{duration}</duration></note>");
        }
        if second & 32 != 0 {
            music.push_str("</measure><measure>");
        }
    }
    let mut list = String::new();
    let mut whole = String::new();
    for (index, (name, music)) in names.iter().zip(parts).enumerate() {
        let _ = write!(list, "<score-part id=\"P{index}\"><part-name>{name}</part-name></score-part>");
        let _ = write!(whole, "<part id=\"P{index}\"><measure><attributes><divisions>4</divisions></attributes>{music}</measure></part>");
    }
    format!("<score-partwise><part-list>{list}</part-list>{whole}</score-partwise>")
}
