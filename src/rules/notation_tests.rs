//! Worked examples of notation: what stands on the page, and what players expect to find there.

use super::testing::{Scene, scene};
use crate::music::{Length, Onset};
use crate::rules::judge_excerpt;
use crate::score::{Clef, ClefChange, ClefSign, Ottava, Part, TranspositionChange};

const BASS: Clef = Clef { sign: ClefSign::F, line: 4, octaves: 0 };
const TENOR: Clef = Clef { sign: ClefSign::C, line: 4, octaves: 0 };
const TREBLE: Clef = Clef { sign: ClefSign::G, line: 2, octaves: 0 };

fn in_clef(part: &mut Part, clef: Clef) {
    part.clefs.push(ClefChange { bar: 0, at: Onset::START, staff: 1, clef });
}

fn tuba(music: &str) -> Scene {
    scene("contrabass-tuba-c", music)
}

fn bass_clef(part: &mut Part) {
    in_clef(part, BASS);
}

#[test]
fn a_tubist_reads_five_lines_below_the_staff() {
    // D1 stands on 5 lines, B0 on 6; five are expected of contrabass instruments (proposal).
    tuba("mf D1").part(bass_clef).draws("D1", &[]);
    tuba("p B0").part(bass_clef).draws("B0", &["effect-register w", "too-many-ledger-lines n"]);
    // An 8vb line over E1: four lines at pitch.
    tuba("mf E1/4")
        .part(|part| {
            bass_clef(part);
            let to = Onset::START + Length::whole_quarters(4);
            part.ottavas.push(Ottava { bar: 0, from: Onset::START, to, staff: 1, octaves: -1 });
        })
        .draws("E1 under 8vb", &["ottava-in-part n"]);
}

#[test]
fn an_orchestral_tuba_part_is_in_bass_clef() {
    // F. Geib, 'Tuba' and 'Trombone', in Instruments of the Modern Symphony Orchestra.
    tuba("mf C3").part(|part| in_clef(part, TENOR)).draws("tenor clef", &["unusual-clef n"]);
    tuba("mf C4").part(|part| in_clef(part, TREBLE)).draws("treble clef", &["unusual-clef n"]);
    scene("tenor-trombone", "mf C4").part(|part| in_clef(part, TENOR)).draws("a trombone in tenor clef", &[]);
}

#[test]
fn a_band_part_without_its_transposition_is_told() {
    // British brass band, E-flat bass: 60 − 21 = 39 is Eb2, 79 − 21 = 58 is Bb3 (lowest open note as written C4).
    let written = "mf C4 D4 E4 F4 G4 A4 B4 C5 D5 E5 F5 G5";
    tuba(written)
        .part(|part| in_clef(part, TREBLE))
        .draws("C4 to G5 at pitch", &["unlikely-transposition w"]);
    // A few bars of a part do not tell how all of it is read.
    let excerpt = tuba(written).part(|part| in_clef(part, TREBLE)).judged(judge_excerpt);
    assert!(excerpt.iter().any(|finding| finding.rule == "out-of-range"), "{excerpt:?}");
    assert!(excerpt.iter().all(|finding| finding.rule != "unlikely-transposition"), "{excerpt:?}");
    let sounding = "mf Eb2 F2 G2 Ab2 Bb2 C3 D3 Eb3 F3 G3 Ab3 Bb3";
    let said = scene("bass-tuba-e-flat", sounding)
        .part(|part| {
            in_clef(part, TREBLE);
            let transposition = crate::music::Transposition {
                diatonic: Some(-5),
                chromatic_cents: -900,
                octaves: -1,
                double: None,
            };
            part.transpositions.push(TranspositionChange { at: Onset::START, staff: None, transposition });
        })
        .says();
    // The line's written notes are those it sounds, so that only the reading is asked for here.
    assert!(!said.iter().any(|rule| rule.starts_with("unlikely-transposition")), "{said:?}");
}
