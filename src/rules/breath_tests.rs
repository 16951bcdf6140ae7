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
    // 40 s, 20 s at ff (proposal); the longest run counted is 34.6 s at fff, Bruckner 5/i b. 497 (OpenScore, CC0): a note.
    // A trained trumpeter plays 30 to 60 s without lifting the mouthpiece (J. Freeman, 'Short endurance').
    let quarters = |number: usize, mark: &str| format!("{mark} {}", vec!["F2"; number].join(" "));
    let rests = |music: &str| -> Vec<String> {
        tuba(music).says().into_iter().filter(|said| said.starts_with("no-rest")).collect()
    };
    assert_eq!(rests(&quarters(45, "f")), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(34, "f")), [""; 0]);
    assert_eq!(rests(&quarters(25, "ff")), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(61, "ff")), ["no-rest-to-recover w"]);
    assert_eq!(rests(&quarters(119, "f")), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(121, "f")), ["no-rest-to-recover w"]);
    // Above the usual span 8 and 20 s; 70 per cent of three minutes at f or louder (proposals).
    let high = |number: usize| rests(&format!("mf {}", vec!["D4"; number].join(" ")));
    assert_eq!(high(9), ["no-rest-to-recover n"]);
    assert_eq!(high(21), ["no-rest-to-recover w"]);
    let busy =
        |mark: &str, rest: u32| rests(&format!("{mark} {}", vec![format!("F2/15 F2 r/{rest}"); 6].join(" ")));
    assert_eq!(busy("f", 10), ["no-rest-to-recover w"]);
    assert_eq!(busy("mf", 10), ["no-rest-to-recover n"]);
    assert_eq!(busy("f", 20), ["no-rest-to-recover n"]);
    assert_eq!(rests(&quarters(240, "mf")), ["no-rest-to-recover n"], "soft playing tires little");
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
