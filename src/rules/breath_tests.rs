//! Worked examples of breath and rest, each with the figures it follows from and where they come from.
//!
//! One player with a breath of 4.0 litres unless it says otherwise. Seconds = 4.0 L / (2.5 L/s x (f / 43.65 Hz)^-0.74 x
//! k), k fff 1, ff .70, f .50, mf .35, p .22, pp .12, anchored on A. Jacobs's flows (B. Frederiksen, Song and Wind) and
//! Freour, Causse, Cossette, 2010; the curve itself is a proposal.

use super::testing::{Scene, scene};

const CC: &str = "contrabass-tuba-c";

fn tuba(music: &str) -> Scene {
    scene(CC, music)
}

#[test]
fn a_note_lasts_no_longer_than_a_breath() {
    // Seconds = 4.0 L / (2.5 L/s x (f / 43.65)^-0.74 x k), k ff .70, f .50, mf .35, p .22, pp .12; anchored on A. Jacobs's
    // flows (B. Frederiksen, Song and Wind) and Freour, Causse, Cossette, 2010; curve: proposal.
    let long: &[&str] = &["note-longer-than-breath w"];
    tuba("ff F2/4~ | F2~ | F2~ | F2").draws("F2 ff, four tied wholes at 60: 16 s > 3.8 s", long);
    tuba("ff F2/7/2").draws("F2 ff 3.5 s < 3.8 s", &[]);
    tuba("ff F2/7/2").litres(2.5).draws("the same with 2.5 litres: 2.4 s", long);
    // Bruckner 5/i b. 205, Beach op. 32/iii b. 117, Brahms op. 73/i b. 274 (OpenScore, CC0).
    tuba("ff F#2/109/10").draws("F#2 ff 10.9 s > 4.0 s", long);
    tuba("p B1/67/10").draws("B1 p 6.7 s < 9.4 s", &[]);
    tuba("pp A1/5").draws("A1 pp 5.0 s < 15.8 s", &[]);
    // Strauss, Also sprach Zarathustra: C2 over two bars, overlapped in the score (orchestrationonline.com, 'Tuba breathing').
    tuba("ff C2/8").draws("C2 ff 8 s > 3.1 s", long);
    tuba("ff C2/40").draws("C2 ff 40 s", &["no-rest-to-recover n", "note-longer-than-breath w"]);
    tuba("=160 ff C2/8").draws("C2 ff, two bars at 160: 3.0 s", &[]);
    tuba("=30 mf C3/4").draws("C3 mf, a whole at 30: 8.0 s < 10.3 s", &[]);
    scene("cimbasso-f", "pp Bb2/3").draws("Bb2 pp 3 s on a cimbasso", &[]);
}

#[test]
fn a_breath_needs_room() {
    // Bb1 f 3.5 s uses 3.53 L; 0.25 s brings 1.07 L, 1.0 s the whole (after G. J. Tammeling, 1961).
    tuba("=120 f Bb1/7 r/1/2 Bb1/7").draws("an eighth rest between", &["no-room-to-breathe n"]);
    tuba("=120 f Bb1/7 r/2 Bb1/7").draws("a half rest between", &[]);
    // 24 s at 0.75 L/s = 18 L under one slur; unslurred the player breathes between tongued notes.
    let eighths = |open: &str, close: &str| {
        let inner = vec!["F2"; 94].join(" ");
        format!("=120 f {open}F2/1/2 {inner} F2{close}")
    };
    tuba(&eighths("(", ")")).draws("24 s of eighths under one slur", &["phrase-longer-than-breath w"]);
    let unslurred = tuba(&eighths("", "")).says();
    assert!(unslurred.iter().all(|said| said.ends_with(" n")), "{unslurred:?}");
}

#[test]
fn two_who_hold_too_long_breathe_together() {
    // 12 s against 2.5 s and 4.2 s; no third voice covers (proposal).
    scene("bass-trombone", "ff G2/12").and(CC, "ff G1/12").draws(
        "G2 and G1 ff for 12 s",
        &["everyone-breathes-at-once w", "note-longer-than-breath w", "note-longer-than-breath w"],
    );
}

#[test]
fn lips_need_rest() {
    // Notes: 40 s, 20 s at ff, 8 s above the usual span, half of three minutes (proposals). Warnings: 90 s at mf or louder and
    // 60 s at ff, more than one and a half times the longest runs counted (34.6 s and 38.9 s; OpenScore, CC0).
    // A trained trumpeter plays 30 to 60 s without lifting the mouthpiece (J. Freeman, 'Short endurance').
    let quarters = |number: usize, mark: &str, name: &str| format!("{mark} {}", vec![name; number].join(" "));
    let rests = |music: &str| -> Vec<String> {
        tuba(music).says().into_iter().filter(|said| said.starts_with("no-rest")).collect()
    };
    assert_eq!(rests(&quarters(45, "f", "F2")), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(34, "f", "F2")), [""; 0]);
    assert_eq!(rests(&quarters(95, "f", "F2")), ["no-rest-to-recover w"]);
    assert_eq!(rests(&quarters(25, "ff", "Bb2")), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(65, "ff", "Bb2")), ["no-rest-to-recover w"]);
    assert_eq!(rests(&quarters(95, "p", "F2")), ["no-rest-to-recover n"], "soft playing tires little");
    assert_eq!(rests(&quarters(9, "mf", "D4")), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(21, "mf", "D4")), ["no-rest-to-recover n"]);
    let busy =
        |mark: &str, rest: u32| rests(&format!("{mark} {}", vec![format!("F2/15 F2 r/{rest}"); 6].join(" ")));
    assert_eq!(busy("f", 10), ["no-rest-to-recover n"]);
    assert_eq!(busy("mf", 20), ["no-rest-to-recover n"]);
}

#[test]
fn air_that_cannot_be_taken_in_is_told() {
    // Share of the time that breathing costs, flow / (flow + 4.3 L/s): over 0.25 a warning. Bruckner 5/i b. 497, Bb1 fff 34.6 s:
    // 2.02 / (2.02 + 4.3) = 0.32 (OpenScore, CC0; the tuba there is in F). F1 ff: 1.75 / (1.75 + 4.3) = 0.29.
    let eighths = |mark: &str, name: &str, seconds: usize| {
        format!("=120 {mark} {name}/1/2 {}", vec![name; seconds * 4 - 1].join(" "))
    };
    let rests = |horn: &str, music: &str| -> Vec<String> {
        scene(horn, music).says().into_iter().filter(|said| said.starts_with("no-r")).collect()
    };
    assert_eq!(rests("bass-tuba-f", &eighths("fff", "Bb1", 35)), ["no-rest-to-recover w"]);
    assert_eq!(rests(CC, &eighths("ff", "F1", 41)), ["no-rest-to-recover w"]);
    assert_eq!(rests(CC, &format!("=60 mf {}", vec!["D1"; 144].join(" "))), ["no-rest-to-recover w"]);
    // C2 ff: 1.30 / (1.30 + 4.3) = 0.23, a note (proposal).
    assert_eq!(rests(CC, &eighths("ff", "C2", 25)), ["no-rest-to-recover n"]);
}

#[test]
fn nobody_lets_go_of_every_note() {
    // Twelve whole notes at 60, ff: C2 takes 5.2 L of 4.0, and of 5.6 L, the largest player named, each leaves 0.4; a quick
    // breath of 0.3 s brings 0.32 of one (G. J. Tammeling, 1961). F2 takes 4.2 L.
    let wholes = |mark: &str, name: &str| format!("=60 {mark} {}", vec![format!("{name}/4"); 12].join(" | "));
    let weighs = |music: &str| -> Vec<String> {
        tuba(music).says().into_iter().filter(|said| said.ends_with('w')).collect()
    };
    assert_eq!(weighs(&wholes("ff", "C2")), ["note-longer-than-breath w"]);
    assert_eq!(weighs(&wholes("ff", "F2")), [""; 0]);
    assert_eq!(weighs(&wholes("f", "C2")), [""; 0]);
    assert_eq!(weighs(&wholes("mf", "C2")), [""; 0]);
}

#[test]
fn two_who_run_dry_at_once_cannot_take_turns() {
    // C1 fff: 2.7 L/s, 1.5 s to a breath; each of two would breathe 39 per cent of the time. C2 f for 8 s: 18 per cent.
    let two = |music: &str| scene(CC, music).and(CC, music).beside("Horn", "f C4/8");
    let says = |music: &str| -> Vec<String> {
        two(music).says().into_iter().filter(|said| said.starts_with("note-longer")).collect()
    };
    assert_eq!(says("fff D1/8"), ["note-longer-than-breath w", "note-longer-than-breath w"]);
    assert_eq!(says("f C2/8"), ["note-longer-than-breath n", "note-longer-than-breath n"]);
}

/// Rows 79: a fermata holds a note for half of its value more as a rule, for twice its value where it is long
/// (Wikipedia, 'Fermata'; common practice). F2 ff: a breath lasts 3.8 s.
#[test]
fn a_fermata_is_reckoned_at_its_usual_and_its_long_value() {
    use crate::rules::testing::scene;
    let said = |music: &str| -> Vec<(crate::finding::Severity, String)> {
        let found = scene("contrabass-tuba-c", music).findings();
        let own = found.into_iter().filter(|finding| finding.rule == "note-longer-than-breath");
        own.map(|finding| (finding.severity, finding.message)).collect()
    };
    assert!(said("=60 ff F2/2 r/2").is_empty());
    let half = said("=60 ff F2/2@ r/2");
    assert_eq!(half.len(), 1);
    assert_eq!(half[0].0, crate::finding::Severity::Note);
    assert_eq!(
        half[0].1,
        "F2 ff under a fermata is held for 3.0 s to 4.0 s; on a contrabass tuba in C one breath lasts 3.8 s"
    );
    assert_eq!(said("=60 ff F2/4@")[0].0, crate::finding::Severity::Warning);
    assert!(said("=60 p F3/2@").is_empty());
}

/// Row 80: flutter tongue empties the player quickly when loud (contemporarytuba.com); air x 1.3 from f: a proposal.
#[test]
fn a_fluttered_note_takes_more_air() {
    // F2 ff for 3.2 s of 3.8 s; times 1.3 it would take 4.2 s.
    tuba("=60 ff F2/16/5 r/4/5").draws("F2 ff, 3.2 s", &[]);
    tuba("=60 ff F2/16/5$ r/4/5").draws("the same, flutter-tongued", &["note-longer-than-breath n"]);
    tuba("=60 mf F2/16/5$ r/4/5").draws("the same at mf", &[]);
}
