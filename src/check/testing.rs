//! Small scores as bytes and rooms to read them in, for tests of the assembly.

use std::fmt::Write as _;

use super::{Accepts, Orders, Room, Task};
use crate::profile::shipped;
use crate::settings::{Day, Settings};

/// A score of one-note bars, one part for each name: pitches such as `F2`, `r` for a rest. 4/4, 120, mf.
pub(crate) fn score(parts: &[(&str, &[&str])]) -> String {
    let mut text = String::from("<score-partwise version=\"4.0\">\n<part-list>\n");
    for (index, (name, _)) in parts.iter().enumerate() {
        let _ = writeln!(text, "<score-part id=\"P{index}\"><part-name>{name}</part-name></score-part>");
    }
    text.push_str("</part-list>\n");
    for (index, (_, bars)) in parts.iter().enumerate() {
        let _ = writeln!(text, "<part id=\"P{index}\">");
        for (bar, pitch) in bars.iter().enumerate() {
            let _ = writeln!(text, "<measure number=\"{}\">", bar + 1);
            if bar == 0 {
                text.push_str("<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>\n");
                text.push_str("<direction><direction-type><dynamics><mf/></dynamics></direction-type><sound tempo=\"120\"/></direction>\n");
            }
            let what = match pitch.split_at(1) {
                ("r", _) => "<rest/>".to_owned(),
                (step, octave) => {
                    format!("<pitch><step>{step}</step><octave>{octave}</octave></pitch>")
                }
            };
            let _ = writeln!(text, "<note>{what}<duration>4</duration><voice>1</voice></note>\n</measure>");
        }
        text.push_str("</part>\n");
    }
    text + "</score-partwise>\n"
}

/// The built-in profiles and no settings.
pub(crate) fn room() -> Room {
    Room::new(Settings::none(), shipped().clone())
}

/// A check that writes nothing and accepts nothing.
pub(super) fn task(orders: &Orders) -> Task<'_> {
    Task {
        orders,
        today: "2026-11-25".parse::<Day>().unwrap(),
        accepts: Accepts::Nothing,
        include_review: false,
        revise: false,
        mark: None,
        draw: false,
        keep_score: false,
    }
}
