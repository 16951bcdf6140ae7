//! Any words, as a tempo, as what a player is asked for, and as a part's name: read in a score and judged, never a panic.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use lowbrass::check::{Orders, Room, read_players, seat};
use lowbrass::musicxml::Document;
use lowbrass::printable::steers;
use lowbrass::profile::Profiles;
use lowbrass::rules::judge;
use lowbrass::settings::Settings;

static ROOM: LazyLock<Room> = LazyLock::new(|| Room::new(Settings::none(), Profiles::embedded().expect("the built-in profiles are sound")));

fuzz_target!(|text: &str| {
    let words: String = text
        .chars()
        .map(|c| match c {
            '&' => "&amp;".to_owned(),
            '<' => "&lt;".to_owned(),
            '>' => "&gt;".to_owned(),
            c => c.to_string(),
        })
        .collect();
    let (name, words) = words.split_once('\n').unwrap_or(("Tuba", &words));
    let note = |octave: u8| {
        format!("<note><pitch><step>D</step><octave>{octave}</octave></pitch><duration>4</duration></note>")
    };
    let direction = format!("<direction><direction-type><words>{words}</words></direction-type></direction>");
    let score = format!(
        "<score-partwise><part-list><score-part id='P1'><part-name>{name}</part-name></score-part>\
         <score-part id='P2'><part-name>Bass Trombone</part-name></score-part></part-list>\
         <part id='P1'><measure><attributes><divisions>4</divisions></attributes>{direction}{}{direction}{}</measure></part>\
         <part id='P2'><measure>{direction}{}</measure><measure>{}</measure></part></score-partwise>",
        note(1),
        note(2),
        note(2),
        note(3)
    );
    let Ok(document) = Document::open(score.into_bytes()) else { return };
    let orders = Orders::default();
    let Ok(score) = read_players(&document, &ROOM, &orders) else { return };
    let findings = judge(&seat(&score, &ROOM, &orders));
    assert!(findings.iter().all(|finding| !finding.message.contains(steers)));
    assert!(score.parts.iter().all(|part| !part.info.name.contains(steers)));
});
