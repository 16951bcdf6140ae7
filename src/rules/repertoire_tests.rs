//! What orchestras play every week, in the manner of the nineteenth century and of our own invention: no warning.
//!
//! The figures behind each scene are those of counted orchestral parts (CC0, counted for this): the busiest second
//! of a tuba has 7 onsets, of a trombone 7; the longest run without a gap is 34.6 s; fff at A1 and B1 is written.

use super::testing::{Scene, choir, no_risk, scene, times};

const CC: &str = "contrabass-tuba-c";
const TENOR: &str = "tenor-bass-trombone";
const BASS: &str = "bass-trombone";

#[track_caller]
fn no_warning(what: &str, scene: &Scene) {
    no_risk(&[(what, scene.clone())]);
}

#[test]
fn a_soft_chorale_of_trombones_and_tuba() {
    let bars = |music: &str| times(4, music);
    let voices = [
        bars("D4/2 C4/1 Bb3 | C4/2 D4 | Eb4/2 D4/1 C4 | Bb3/3 r/1 |"),
        bars("Bb3/2 A3/1 G3 | A3/2 Bb3 | C4/2 Bb3/1 A3 | Bb3/3 r/1 |"),
        bars("F3/2 F3/1 D3 | F3/2 F3 | G3/2 F3/1 F3 | D3/3 r/1 |"),
        bars("Bb1/2 F2/1 G2 | F2/2 Bb1 | C2/2 D2/1 F2 | Bb1/3 r/1 |"),
    ];
    for head in ["=66 p", "=66 pp", "=60 mf", "=80 f"] {
        no_warning(head, &choir(head, voices.each_ref().map(String::as_str)));
    }
}

#[test]
fn a_loud_chorale_in_half_notes_without_a_rest() {
    let bars = |music: &str| times(2, music);
    let voices = [
        bars("D4/2 D4 | Eb4 D4 | C4 C4 | D4 D4 |"),
        bars("Bb3/2 Bb3 | Bb3 Bb3 | A3 A3 | Bb3 Bb3 |"),
        bars("F3/2 F3 | G3 F3 | F3 F3 | F3 F3 |"),
        bars("Bb1/2 Bb1 | Eb2 Bb1 | F2 F2 | Bb1 Bb1 |"),
    ];
    for head in ["=120 ff", "=100 ff", "=72 f", "=60 f", "=120 fff", "=132 fff"] {
        no_warning(head, &choir(head, voices.each_ref().map(String::as_str)));
    }
}

#[test]
fn repeated_notes_soft_and_fast() {
    for instrument in [TENOR, BASS] {
        no_warning(instrument, &scene(instrument, &format!("=100 pp {}", times(24, "F3/1/4 F3 F3 F3 |"))));
        no_warning(instrument, &scene(instrument, &format!("=132 pp {}", times(24, "Bb2/1/3 Bb2 Bb2 |"))));
    }
    no_warning(
        "tuba eighths",
        &scene(CC, &format!("=144 pp {}", times(24, "F2/1/2 F2 F2 F2 F2 F2 F2 F2 |"))),
    );
    no_warning("tuba sixteenths", &scene(CC, &format!("=100 pp {}", times(24, "Bb1/1/4 Bb1 Bb1 Bb1 |"))));
}

#[test]
fn a_pedal_point_beside_drums_and_basses() {
    let held = |head: &str, music: &str| {
        scene(CC, &format!("{head} {music}")).beside("Double Bass", &format!("{head} {music}"))
    };
    no_warning("tied pairs of bars, p", &held("=120 p", &times(8, "C2/4~ | C2/4 |")));
    no_warning("tied pairs of bars, pp", &held("=80 pp", &times(6, "F1/4~ | F1/4 |")));
    no_warning("re-struck quarters, f", &held("=92 f", &times(8, "D2/1 D2 D2 D2 |")));
    no_warning("re-struck quarters, ff", &held("=120 ff", &times(8, "C2/1 C2 C2 C2 |")));
    no_warning("hits with the drums, ff", &held("=108 ff", &times(8, "G1/1/2> r/1/2 C2> r r/2 |")));
    no_warning("a swell", &held("=96 p", "< C2/4 | C2/4 | C2/4 | ff C2/4 | r/4 |"));
}

#[test]
fn everyone_very_loud_in_octaves_and_thirds() {
    let voices = [
        times(4, "Bb4/2 Bb4/1 A4 | G4/2 F4 | Eb4/1 D4 C4 Bb3 | F4/3 r/1 |"),
        times(4, "D4/2 D4/1 C4 | Eb4/2 D4 | C4/1 Bb3 A3 Bb3 | C4/3 r/1 |"),
        times(4, "Bb2/2 Bb2/1 A2 | G2/2 F2 | Eb2/1 D2 C2 Bb1 | F2/3 r/1 |"),
        times(4, "Bb1/2 Bb1/1 A1 | G1/2 F2 | Eb2/1 D2 C2 Bb1 | F2/3 r/1 |"),
    ];
    for head in ["=126 ff", "=108 ff", "=144 fff", "=120 fff"] {
        no_warning(head, &choir(head, voices.each_ref().map(String::as_str)));
    }
}

#[test]
fn scales_in_unison_at_eight_notes_a_second() {
    let up = |notes: &str| format!("=120 ff {}", times(2, &format!("{notes} | r/4 |")));
    let tenor = up("F2/1/4 G2 A2 Bb2 C3 D3 E3 F3 G3 F3 E3 D3 C3 Bb2 A2 G2");
    no_warning("tenor", &scene(TENOR, &tenor));
    no_warning("bass", &scene(BASS, &tenor));
    let tuba = up("C2/1/4 D2 E2 F2 G2 A2 B2 C3 D3 C3 B2 A2 G2 F2 E2 D2");
    no_warning("tuba", &scene(CC, &tuba));
    let across = up("Bb2/1/4 B2 C3 B2 Bb2 B2 C3 B2 A2 Bb2 B2 C3 C#3 D3 Eb3 E3");
    no_warning("a chromatic run over the break", &scene(TENOR, &across));
    no_warning("the same on a bass trombone", &scene(BASS, &across));
    let arpeggio = up("F2/1/4 A2 C3 F3 A3 F3 C3 A2 F2 A2 C3 F3 A3 F3 C3 A2");
    no_warning("a broken chord", &scene(TENOR, &arpeggio));
}

#[test]
fn half_a_minute_without_a_rest() {
    // 34.6 s without a gap stand in a symphony's first movement, 31.7 s and 27.3 s in others.
    no_warning("quarters, f", &scene(CC, &format!("=112 f {}", times(16, "F2/1 G2 A2 Bb2 |"))));
    no_warning("halves, mf", &scene(BASS, &format!("=100 mf {}", times(7, "F3/2 Eb3 | D3 C3 |"))));
}
