//! What the standard repertoire asks of low brass, in music of our own made after what such writing is like: what must
//! not be called a risk, and what must.
//!
//! Tempos, marks and registers are from memory of how such passages look on the stand; no bar is anyone's.

use super::testing::{choir, no_risk, risky, scene, times, with_basses};

const CC: &str = "contrabass-tuba-c";
const TENOR: &str = "tenor-bass-trombone";
const BASS: &str = "bass-trombone";

#[test]
fn long_symphonies() {
    no_risk(&[
        (
            "a pedal point pp for a minute, tied in pairs of bars",
            with_basses(CC, &format!("=60 pp {}", times(8, "C2/4~ | C2/4 |"))),
        ),
        ("the same, struck every bar", with_basses(CC, &format!("=60 pp {}", times(15, "F1/4 |")))),
        ("the same ppp on low G", with_basses(CC, &format!("=66 ppp {}", times(12, "G1/4 |")))),
        (
            "a unison ff in long notes, half a minute without a rest",
            choir(
                "=76 ff",
                [
                    &times(3, "F3/3 C3/1 | F3/2 Eb3/2 | Db3/3 C3/1 | Bb2/2 C3/2 |"),
                    &times(3, "F3/3 C3/1 | F3/2 Eb3/2 | Db3/3 C3/1 | Bb2/2 C3/2 |"),
                    &times(3, "F2/3 C3/1 | F2/2 Eb2/2 | Db2/3 C2/1 | Bb1/2 C2/2 |"),
                    &times(3, "F2/3 C2/1 | F2/2 Eb2/2 | Db2/3 C2/1 | Bb1/2 C2/2 |"),
                ],
            ),
        ),
    ]);
    no_risk(&[
        (
            "fff half notes low in the tuba at 108, a rest in eight bars",
            with_basses(CC, &format!("=108 fff {}", times(4, "Bb1/2 F2 | C2 G1 | Bb1/2 F2 | C2 r |"))),
        ),
        (
            "a low chorale of trombones and tuba ppp, dying away",
            choir(
                "=50",
                [
                    "ppp F3/4 | F3/4 | E3/4 | ppp F3/4 | pppp F3/4~ | F3/2 r/2 |",
                    "ppp D3/4 | D3/4 | C3/4 | ppp D3/4 | pppp D3/4~ | D3/2 r/2 |",
                    "ppp A2/4 | Bb2/4 | A2/4 | ppp A2/4 | pppp A2/4~ | A2/2 r/2 |",
                    "ppp D2/4 | Bb1/4 | A1/4 | ppp D2/4 | pppp D2/4~ | D2/2 r/2 |",
                ],
            ),
        ),
        (
            "a final chord ff, four bars of it struck again each bar",
            choir(
                "=120 ff",
                [&times(4, "F4/4 |"), &times(4, "C4/4 |"), &times(4, "A3/4 |"), &times(4, "F2/4 |")],
            ),
        ),
        ("a last chord ff of four seconds", choir("=60 ff", ["C4/4 |", "G3/4 |", "E3/4 |", "C2/4 |"])),
        ("a last chord fff of three seconds", choir("=80 fff", ["C4/4 |", "G3/4 |", "E3/4 |", "C2/4 |"])),
        // At 80 the fermata alone asks for 4.5 s of a breath of 3.1 s, and is remarked.
        ("a last chord ff with a fermata", choir("=100 ff", ["C4/4@ |", "G3/4@ |", "E3/4@ |", "C2/4@ |"])),
    ]);
}

#[test]
fn chorales() {
    let chorale = |bars: usize| {
        [
            times(bars, "Bb3/2 C4/2 | D4/2 Bb3/2 | Eb4/2 D4/2 | C4/3 C4/1 |"),
            times(bars, "F3/2 F3/2 | F3/2 G3/2 | G3/2 F3/2 | A3/3 A3/1 |"),
            times(bars, "D3/2 C3/2 | Bb2/2 D3/2 | C3/2 Bb2/2 | C3/3 C3/1 |"),
            times(bars, "Bb2/2 A2/2 | Bb2/2 G2/2 | C3/2 D3/2 | F2/3 F2/1 |"),
        ]
    };
    let scenes = [
        ("a chorale ff for half a minute", "=72 ff", 2),
        ("a chorale ff for a minute less a breath", "=72 ff", 4),
        ("a chorale fff at 108 for half a minute", "=108 fff", 3),
        ("a chorale p for a minute", "=60 p", 4),
        ("a chorale pp for a minute and a half", "=48 pp", 4),
        ("a chorale mf for a minute and a half", "=72 mf", 6),
    ]
    .map(|(what, head, bars)| (what, choir(head, chorale(bars).each_ref().map(String::as_str))));
    no_risk(&scenes);
}

#[test]
fn music_drama() {
    no_risk(&[
        (
            "a slow tuba solo low down, creeping",
            scene(
                CC,
                "=50 p F1/3 Gb1/1 | F1/2 r/2 | p F1/3 B1/1 | Bb1/2 r/2 | < C2/2 Gb2/2 | f F2/2 r/2 | mf E1/2 F1/2 | p F1/2 r/2 |",
            ),
        ),
        (
            "a motive of power in low unison, tuba and contrabass trombone",
            scene(
                "contrabass-trombone-f",
                "=66 ff E2/3 C2/1/2 A1 | F1/2 E1/1 r | E2/3 C2/1/2 A1 | F1/2 E1/1 r |",
            )
            .and(CC, "=66 ff E2/3 C2/1/2 A1 | F1/2 E1/1 r | E2/3 C2/1/2 A1 | F1/2 E1/1 r |"),
        ),
        (
            "two pairs of Wagner tubas and contrabass tuba, mf",
            scene("wagner-tuba-b-flat", "=56 mf Db4/3 Ab3/1 | F4/3/2 Db4/1/2 Ab3/2 | Db4/4 | r/4 |")
                .and("wagner-tuba-b-flat", "=56 mf Ab3/3 F3/1 | Ab3/3/2 F3/1/2 F3/2 | Ab3/4 | r/4 |")
                .and("wagner-tuba-f", "=56 mf F3/3 Db3/1 | F3/3/2 Db3/1/2 Db3/2 | F3/4 | r/4 |")
                .and("wagner-tuba-f", "=56 mf Db3/3 Ab2/1 | Db3/3/2 Ab2/1/2 Ab2/2 | Db3/4 | r/4 |")
                .and(CC, "=56 mf Db2/4 | Db2/4 | Db2/4 | r/4 |"),
        ),
        (
            "fanfares of two tenor tubas, ff",
            scene(
                "euphonium",
                &format!("=92 ff {}", times(4, "Bb3/1/2 F3 Bb3 C4 Db4/1 Bb3 | Db4/1/2 Bb3 C4 Ab3 Bb3/2 |")),
            )
            .and(
                "euphonium",
                &format!("=92 ff {}", times(4, "F3/1/2 Db3 F3 Gb3 Ab3/1 F3 | Ab3/1/2 F3 Gb3 Eb3 F3/2 |")),
            ),
        ),
    ]);
}

#[test]
fn marches_and_bands() {
    no_risk(&[
        (
            "a march, on the beat, three minutes of it",
            scene(CC, &format!("=120 f {}", times(180, "Bb1/1/2 r F2 r |"))),
        ),
        (
            "quarters on every beat, mf, three minutes, a rest at the end of each strain",
            scene(
                CC,
                &format!(
                    "=120 mf {}",
                    times(6, &format!("{} Bb1/1 F2 Bb1 r |", times(14, "Bb1/1 F2 Bb1 F2 |")))
                ),
            ),
        ),
        (
            "quarters on every beat, detached, f, three minutes",
            scene(CC, &format!("=112 f {}", times(84, "Bb1/1. F2. Bb1. F2. |"))),
        ),
        ("afterbeats for the trombones", scene(TENOR, &format!("=132 f {}", times(200, "r/1/2 D4 r D4 |")))),
        ("a waltz, five minutes", scene(CC, &format!("=180 mf {}", times(300, "F2/1 r/2 |")))),
        (
            "two in a bar, f, cut time",
            scene("sousaphone", &format!("=200 f {}", times(150, "Bb1/1 r F2 r |"))),
        ),
        (
            "four in a bar on a sousaphone",
            scene(
                "sousaphone",
                &format!(
                    "=160 mf {}",
                    times(5, &format!("{} Bb1/1 D2 F2 r |", times(15, "Bb1/1 D2 F2 G2 |")))
                ),
            ),
        ),
        (
            "brass-band basses in octaves, f",
            scene(
                "bass-tuba-e-flat",
                &format!("=112 f {}", times(6, "Eb2/1 G2 Bb2 G2 | Ab2/1 Bb2 Eb2/1 r |")),
            )
            .and(
                "contrabass-tuba-b-flat",
                &format!("=112 f {}", times(6, "Eb1/1 G1 Bb1 G1 | Ab1/1 Bb1 Eb1/1 r |")),
            ),
        ),
        (
            "a hymn tune for basses, p to f, two minutes",
            scene(
                "bass-tuba-e-flat",
                &format!(
                    "=80 {}",
                    times(
                        5,
                        "p Eb2/2 Bb2/2 | Ab2/2 G2/2 | mf C3/2 Ab2/2 | Bb2/3 r/1 | f Eb3/2 C3/2 | Ab2/2 F2/2 | p Bb2/2 Bb1/2 | Eb2/3 r/1 |"
                    )
                ),
            ),
        ),
        (
            "bass-drum and tuba hits, ff",
            with_basses(CC, &format!("=100 ff {}", times(8, "G1/1^ r A1^ r | Bb1/1^ r C2^ r |"))),
        ),
        ("heavy steps on low F and E, f", with_basses(CC, &format!("=88 f {}", times(8, "F1/1> r E1> r |")))),
    ]);
}

#[test]
fn fast_passages() {
    no_risk(&[
        (
            "triplets in the tuba at 132",
            scene(CC, &format!("=132 f {}", times(4, "C2/1/3 D2 E2 F2 E2 D2 C2 G1 C2 E2 D2 C2 | r/4 |"))),
        ),
        (
            "a tuba scherzo, sixteenths at 126",
            scene(
                CC,
                &format!("=126 mf {}", times(3, "C3/1/4 B2 A2 G2 F2 E2 D2 C2 B1 C2 D2 E2 F2/1 | r/4 |")),
            ),
        ),
        (
            "tuba arpeggios in eighths at 160",
            scene(CC, &format!("=160 f {}", times(4, "F1/1/2 C2 F2 A2 C3 A2 F2 C2 | r/4 |"))),
        ),
        (
            "tenths in quarters at 144",
            scene(CC, &format!("=144 f {}", times(4, "F1/1 A2 Bb1 D3 | C2 E3 F1/1 r |"))),
        ),
        (
            "a storm in the trombones, chromatic eighths at 216",
            scene(
                TENOR,
                &format!(
                    "=216 ff {}",
                    times(4, "B3/1/2 C4 C#4 D4 D#4 E4 F4 F#4 | G4 F#4 F4 E4 D#4 D4 C#4 C4 | B3/1 r/3 |")
                ),
            ),
        ),
        (
            "double-tongued sixteenths at 144",
            scene(
                TENOR,
                &format!(
                    "=144 f {}",
                    times(4, "Bb3/1/4 Bb3 Bb3 Bb3 Bb3/1/2 F3 Bb3/1/4 Bb3 Bb3 Bb3 D4/1 | r/4 |")
                ),
            ),
        ),
        (
            "fast low cimbasso, eighths at 168",
            with_basses(
                "cimbasso-f",
                &format!("=168 f {}", times(4, "C2/1/2 B1 Bb1 A1 Ab1 G1 F#1 F1 | E1/1 E1 F1/1 r |")),
            ),
        ),
        (
            "cimbasso in four-part harmony, ff",
            scene(TENOR, "=120 ff E4/2 F4 | E4/4 |")
                .and(TENOR, "=120 ff C4/2 C4 | C4/4 |")
                .and(BASS, "=120 ff G3/2 A3 | G3/4 |")
                .and("cimbasso-f", "=120 ff C2/2 F1 | C2/4 |"),
        ),
    ]);
}

#[test]
fn high_and_low() {
    no_risk(&[
        (
            "an ox cart: a solo to G#4 on a small French tuba",
            scene(
                "french-tuba-c",
                "=50 p D#3/1 G#3 G#3/1/2 A#3 B3/1 | C#4 B3/1/2 A#3 G#3/1 r | < B3/1 D#4 E4 F#4 | f G#4/2 F#4/1 E4 | D#4/1 C#4 B3 r |",
            ),
        ),
        ("an F tuba on the same up to F4", scene("bass-tuba-f", "=60 mf C4/2 D4 | E4 F4 | D4 C4 | r/4 |")),
        (
            "a euphonium solo, lyrical and then quick",
            scene(
                "euphonium",
                "=66 mf (Bb3/1 D4 F4/3/2 Eb4/1/2 | D4/2 C4/1) r | (F3/1/2 G3 A3 Bb3 C4 D4 Eb4 F4 | G4/2 Bb4/1) r | f =120 Bb2/1/4 C3 D3 Eb3 F3 G3 A3 Bb3 C4 D4 Eb4 F4 Bb4/1 |",
            ),
        ),
        ("bass trombone pedals ff", scene(BASS, "=80 ff Bb1/2 A1 | Ab1 G1 | Bb1/4 | r/4 |")),
        ("bass trombone on low C and B, ff", scene(BASS, "=100 ff C2/2 B1 | Bb1/4 | C2/1 r/3 |")),
        ("a tuba up to Db4 in a symphony", scene(CC, "=100 f G3/2 A3 | Bb3 C4 | C#4/1 C4 r/2 |")),
    ]);
}

#[test]
fn glissandi_on_one_slide() {
    no_risk(&[
        ("glissandi of a tritone", scene(TENOR, "=72 f Bb3/2% E3/2 | F4/2% B3/2 | F3/2% B2/2 |")),
        ("a smear up a fourth on the valve", scene(TENOR, "=72 mf G2/2% C3/2 | r/4 |")),
    ]);
}

#[test]
fn war_and_cinema() {
    no_risk(&[
        (
            "a march of war, ff, five in a bar for a minute",
            scene(TENOR, &format!("=160 ff {}", times(32, "G3/2 D4/2 C#4/1 |")))
                .and(BASS, &format!("=160 ff {}", times(32, "G2/2 D3/2 C#3/1 |")))
                .and(CC, &format!("=160 ff {}", times(32, "G2/2 D2/2 C#2/1 |"))),
        ),
        (
            "a quick finale, ff quarters with the basses for fifty seconds",
            with_basses(CC, &format!("=176 ff {}", times(36, "D2/1 E2 F2 G2 |"))),
        ),
        (
            "a quick finale, ff eighths, forty seconds",
            with_basses(CC, &format!("=144 ff {}", times(24, "D2/1/2 D2 D2 D2 D2 E2 F2 G2 |"))),
        ),
        (
            "blows of two seconds fff that fade",
            choir(
                "=60",
                [
                    "< C3/2 fff C3/2 > | p C3/2 r |",
                    "< G2/2 fff G2/2 > | p G2/2 r |",
                    "< C2/2 fff C2/2 > | p C2/2 r |",
                    "< C2/2 fff C2/2 > | p C2/2 r |",
                ],
            ),
        ),
        ("a low D at mf under strings, four seconds", with_basses(CC, "=60 mf D1/4 | r/4 |")),
    ]);
}

#[test]
fn what_a_player_would_point_at() {
    let breath: &[&str] = &["note-longer-than-breath w"];
    let basses = |music: &str| with_basses(CC, music);
    risky(
        "a loud low D under everything, four seconds",
        &basses("=60 ff D1/4 | r/4 |"),
        &["note-longer-than-breath w", "too-loud-for-register w"],
    );
    risky(
        "a blow fff on low C, four seconds",
        &basses("=60 fff C1/4 | r/4 |"),
        &["effect-register w", "note-longer-than-breath w", "too-loud-for-register e"],
    );
    risky("a low F ff tied for twelve seconds", &basses("=60 ff F1/4~ | F1/4~ | F1/4 |"), breath);
    risky(
        "a pedal pp tied for thirty-two seconds",
        &basses(&format!("=60 pp {}", ["C2/4"; 8].join("~ | "))),
        breath,
    );
    risky(
        "hits ff on low F and E",
        &basses("=132 ff F1/1^ r/3 | E1/1^ r/3 |"),
        &["hit-too-low w", "hit-too-low w"],
    );
    risky(
        "two minutes ff without a rest",
        &basses(&format!("=120 ff {}", times(60, "D2/1 E2 F2 G2 |"))),
        &["no-rest-to-recover w"],
    );
    risky("the ox cart on a C tuba", &scene(CC, "=50 mf G#3/1 r/3 | G#4/1 r/3 |"), &["out-of-range e"]);
    risky("a Wagner tuba on E5", &scene("wagner-tuba-b-flat", "=60 mf E5/1 r/3 |"), &["extreme-register w"]);
    risky("a straight tenor on D2", &scene("tenor-trombone", "=80 f D2/2 r/2 |"), &["no-such-note e"]);
    risky("a smear over an octave", &scene(TENOR, "=72 f Bb3/2% Bb2/2 |"), &["glissando-breaks w"]);
    risky("a smear from B1 to F2 on two valves", &scene(BASS, "=72 f B1/2% F2/2 |"), &["glissando-breaks w"]);
    risky("a smear on a tuba", &scene(CC, "=72 f Bb2/2% F2/2 |"), &["glissando-breaks w"]);
    risky(
        "a tuba mute in one bar",
        &scene(CC, "=100 mf F2/4 | r/4 | [straight] F2/4 |"),
        &["mute-change-too-quick w"],
    );
    risky(
        "tuba and bass trombone in a low minor third",
        &scene(BASS, "=60 mf Eb2/4 |").and(CC, "=60 mf C2/4 |"),
        &["interval-too-low w"],
    );
}
