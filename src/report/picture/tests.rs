//! What is drawn of a few bars, and that none of it is lost.

use std::sync::Arc;

use super::draw::{Drawn, Flag, draw};
use super::*;
use crate::finding::{OctaveMove, PartMove, Place, Revision};
use crate::playing::testing::{instrument, section};
use crate::report::contract::Level;
use crate::score::testing::music;

fn seen(text: &str, revision: &Revision) -> Picture {
    let music = music(text);
    let section = section(&music, &["contrabass-tuba-c"]);
    see(&section, &[vec![Arc::new(instrument("bass-tuba-f"))]], revision)
}

fn picture(text: &str) -> Picture {
    seen(text, &Revision::default())
}

fn drawn(picture: &Picture, flags: &[Flag]) -> Drawn {
    draw(picture, &picture.players[0], flags, "t")
}

fn bars(text: &str) -> String {
    drawn(&picture(text), &[]).bars
}

fn paths(bars: &str, class: &str) -> usize {
    bars.matches(&format!("class={class} ")).count() + bars.matches(&format!("class=\"{class}\"")).count()
}

#[test]
fn what_is_asked_beyond_the_register_is_an_empty_rim() {
    // Common practice, no source: D1 ff does not come, D2 ff does.
    assert_eq!(paths(&bars("ff D1/4"), "rim"), 1);
    assert_eq!(paths(&bars("ff D2/4"), "rim"), 0);
    assert_eq!(paths(&bars("mf < D1/4 ff D2/4"), "rim"), 1, "where a hairpin leads beyond it");
    assert_eq!(paths(&bars("pp C#4/4"), "rim floor"), 1, "and nothing so soft speaks up there");
}

#[test]
fn rests_are_closed_up_with_their_bars_and_seconds_and_parted_at_rehearsal_marks() {
    let rests = "=60 mf D2/4 | r/4 | r/4 | r/4 | D2/4";
    let bars_of_rest = bars(rests);
    assert!(bars_of_rest.contains(">3</text>") && bars_of_rest.contains(">12 s</text>"), "{bars_of_rest}");
    let mut marked = picture(rests);
    marked.bars[2].rehearsal = Some("B".to_owned());
    let parted = drawn(&marked, &[]).bars;
    assert!(parted.contains(">2</text>") && !parted.contains(">3</text></svg>"), "{parted}");
    assert!(parted.contains(">B</text>"));
}

#[test]
fn a_line_is_as_thick_as_it_is_loud_and_swells_with_its_hairpin() {
    let picture = picture("p < D2/4 f D2/4");
    let levels = &picture.players[0].notes[0].levels;
    assert_eq!(levels.len(), 1);
    let (_, from, to) = levels[0];
    assert!(draw::thick(from) < draw::thick(to));
    assert_eq!((draw::letters(from as i32), draw::letters(to as i32)), ("p", "f"));
}

#[test]
fn holds_hits_and_slurs_are_seen_as_such() {
    let notes = picture("=120 f B1/1/2^ r/1/2 (D2/1 E2) r | f D2/8 | D2/2>").players.remove(0).notes;
    let strokes: Vec<Stroke> = notes.iter().map(|note| note.stroke).collect();
    assert_eq!(strokes, [Stroke::Hit, Stroke::Plain, Stroke::Plain, Stroke::Plain, Stroke::Accented]);
    let bound: Vec<bool> = notes.iter().map(|note| note.bound).collect();
    assert_eq!(bound, [false, true, false, false, false]);
    assert!(bars("=60 f D2/4").contains("4.0 s"), "a hold says how long it is");
    assert!(!bars("=60 f D2/2").contains("2.0 s"));
}

#[test]
fn the_breath_falls_is_taken_and_runs_out() {
    // By the profile's own figures F2 f lasts some seconds, never 30.
    let picture = picture("=60 f F2/2 r/2 | F2/30");
    let player = &picture.players[0];
    assert_eq!(player.breaths.len(), 1);
    assert!(player.breaths[0].room == Room::Written && (player.breaths[0].at - 2.0).abs() < 1e-9);
    assert!((player.air[0].has - 1.0).abs() < 1e-9 && player.air[0].left > 0.0);
    assert!(player.air[1].left < 0.0);
    let bars = drawn(&picture, &[]).bars;
    assert_eq!((paths(&bars, "out"), paths(&bars, "breath")), (1, 1));
}

#[test]
fn a_move_is_a_ghost_where_it_would_go_and_says_how_sure_it_is() {
    let made = |standing| Revision {
        moves: vec![PartMove {
            part: 0,
            octave_move: OctaveMove {
                octaves: 1,
                sounding: None,
                from: Place::default(),
                to: Place::default(),
                notes: vec![1, 2],
                standing,
                clears: vec![],
                leaves: vec![],
                why_not_safe: None,
                doubling: None,
                layout: None,
            },
        }],
    };
    let text = "ff D2/4 | D1/2 E1/2 | D2/4";
    let safe = seen(text, &made(Standing::Safe));
    assert_eq!(safe.players[0].ghosts.iter().map(|ghost| ghost.note).collect::<Vec<_>>(), [1, 2]);
    let bars = drawn(&safe, &[]).bars;
    assert_eq!((paths(&bars, "ghost"), paths(&bars, "ghost look")), (1, 0));
    assert!(bars.contains(">8</text>"), "{bars}");
    let bars = drawn(&seen(text, &made(Standing::Review)), &[]).bars;
    assert_eq!((paths(&bars, "ghost"), paths(&bars, "ghost look")), (0, 1));
    assert!(bars.contains(">8?</text>"));
}

#[test]
fn the_instrument_in_hand_says_how_long_there_is_to_take_it() {
    // As in `playing::instruments`: 14 s are enough for the F tuba.
    let bars = bars("mf D1/4 | r/14 | F4/2");
    assert!(bars.contains("Contrabass tuba in C") && bars.contains("Bass tuba in F: 14 s"), "{bars}");
}

#[test]
fn a_mute_says_how_long_there_is_for_it() {
    let picture = picture("=60 mf D2/2 r/2 | [straight] D2/2 r/2 | [open] D2/4");
    let mutes: Vec<(String, Option<f64>)> =
        picture.players[0].mutes.iter().map(|mute| (mute.what.clone(), mute.there_are)).collect();
    assert_eq!(mutes, [("straight mute".to_owned(), Some(2.0)), ("open".to_owned(), Some(2.0))]);
}

fn flag(number: usize, from: f64) -> Flag {
    Flag {
        number,
        id: format!("r{number}-1"),
        remark: format!("r{number}"),
        level: Level::Warning,
        rule: "r0".to_owned(),
        waived: false,
        from,
        midi: None,
        to: from,
        label: format!("{number}, warning"),
    }
}

#[test]
fn every_remark_has_its_flag_and_none_covers_another() {
    let picture = picture("ff D1/1 E1 F1 G1 | A1/4");
    let flags: Vec<Flag> = (1..=9).map(|number| flag(number, f64::from((number - 1) as u8 / 3))).collect();
    let bars = drawn(&picture, &flags).bars;
    let mut places: Vec<(f64, f64)> = Vec::new();
    for flag in &flags {
        let own = bars.split("<a ").find(|link| link.contains(&format!("id=\"{}\"", flag.id))).unwrap();
        assert!(own.contains(&format!("href=\"#{}\"", flag.remark)));
        let pixels = |what: &str| -> f64 {
            own.split(what).nth(1).unwrap().split("px").next().unwrap().parse().unwrap()
        };
        places.push((pixels("left:"), pixels("top:")));
    }
    for (index, one) in places.iter().enumerate() {
        for other in &places[..index] {
            assert!((one.1 - other.1).abs() > 1.0 || (one.0 - other.0).abs() >= 17.0, "{one:?} {other:?}");
        }
    }
}

#[test]
fn how_much_there_is_to_do_is_counted_by_the_performance() {
    // Loud is what the section's limits say: ff. By hand: 4 s of 10 sound, 2 of them loud, 4 at a stretch.
    let load = picture("=60 mf D2/2 ff D2/2 r/6").players.remove(0).load;
    assert!((load.plays - 4.0).abs() < 1e-9 && (load.loud - 2.0).abs() < 1e-9, "{load:?}");
    assert!((load.whole - 10.0).abs() < 1e-9);
    assert_eq!(load.longest.map(|(seconds, ..)| seconds), Some(4.0));
    let cells: f64 = load.cells.iter().map(|(.., seconds)| seconds).sum();
    let stretches: f64 = load.stretches.iter().map(|(plays, _)| plays).sum();
    assert!((cells - 4.0).abs() < 1e-9 && (stretches - 4.0).abs() < 1e-9);
}

/// A movement of 600 bars and four parts takes at most 400 kB. Here every second stretch of eight bars is played,
/// which is more than low brass has in all but a few movements.
#[test]
fn a_long_movement_stays_small() {
    let plays =
        "=96 mf D2/1 E2 f F2 G2 | D2/2 E2 | p < D2/4 | ff D2/4 | (D2/1 E2 F2) G2 | D2/4 | mf E2/3 r/1 | D2/4";
    let rests = ["r/4"; 8].join(" | ");
    let text = vec![format!("{plays} | {rests}"); 600 / 16].join(" | ");
    let bars = drawn(&picture(&text), &[]).bars.len();
    assert!(4 * bars < 400_000, "{bars} bytes a part");
}

#[test]
fn a_note_held_over_the_bar_is_one_body_and_round_only_at_its_ends() {
    // At mf a line is half as thick as its round end is long; the bar is 54 pixels wide, its music begins at 2.
    let bars = bars("=60 mf D2/4~ | D2/4 | r/4 |");
    let lines: Vec<&str> =
        bars.split("<path class=t7 d=\"").skip(1).map(|d| d.split('"').next().unwrap()).collect();
    let [first, second] = lines[..] else { panic!("{bars}") };
    let places = |line: &str| -> (f64, f64) {
        let (from, rest) = line[1..].split_once(' ').unwrap();
        let across = rest.split_once('h').unwrap().1;
        (from.parse().unwrap(), across.parse().unwrap())
    };
    let ((begins, long), (goes_on, to_its_end)) = (places(first), places(second));
    assert!(begins > 2.0 && (goes_on - 2.0).abs() < 1e-9, "{first} {second}");
    assert!((begins + long - 53.0).abs() < 0.1 && goes_on + to_its_end < 53.0, "{first} {second}");
}

#[test]
fn a_drawing_is_the_same_each_time() {
    insta::assert_snapshot!(bars("=96 mf D2/1> (E2 F2) r | r/4 | r/4 | ff < D1/4 fff D2/4,"));
}
