//! What players of low brass are asked at every audition, after the works that are out of copyright: none of it is
//! called a risk. From memory: the tempos, marks, registers and turns are as they are remembered, not copied from any
//! score, and no bar claims to be exact.

use super::testing::{choir, no_risk, risky, scene, times, with_basses};

const CC: &str = "contrabass-tuba-c";
const TENOR: &str = "tenor-bass-trombone";
const BASS: &str = "bass-trombone";
const ALTO: &str = "alto-trombone";

#[test]
fn solos() {
    no_risk(&[
        (
            "Mozart, Requiem: the trombone of the last judgement",
            scene(
                TENOR,
                "=60 f Bb3/2 F3/1 D4 | Bb3/2 r/1 F3/1/2 Bb3 | (C4/1 Eb4/1/2 D4) C4/1 Bb3/1/2 A3 | (Bb3/1 G3) F3 r | p (D4/1 Eb4 | C4 D4) | Bb3/1/2 A3 G3 F3 Eb3/1 r |",
            ),
        ),
        (
            "Mahler 3/i: the trombone's monologue",
            scene(
                TENOR,
                "=56 ff A3/3/2> D4/1/2 | F4/3> E4/1 | D4/2 C#4/1/2 D4 E4 F4 | fff Bb4/2> A4/1 G4 | F4/3> r/1 | ff D3/3/2 A2/1/2 | D3/3 r/1 |",
            ),
        ),
        (
            "Mahler 1/iii: the round on a tuba",
            scene(
                CC,
                "=72 p D3/1 E3 F3 D3 | D3 E3 F3 D3 | F3 G3 A3/2 | F3/1 G3 A3/2 | A3/3/4 Bb3/1/4 A3/1/2 G3 F3/1 D3 |",
            ),
        ),
        (
            "Wagner, Meistersinger: the tuba has the tune under everything",
            with_basses(
                CC,
                &format!(
                    "=100 f {}",
                    times(
                        3,
                        "C3/2 G2/3/2 G2/1/2 | E2/3/2 F2/1/2 G2/1 A2 | B2/1/2 C3 D3/1 E3/3/2 D3/1/2 | C3/1 B2 A2 G2 |"
                    )
                ),
            ),
        ),
        ("the same: two trills at its end", scene(CC, "=100 f C3/2 D3/2t | E3/1 r D3/2t | C3/2 r |")),
        (
            "Wagner, A Faust Overture: tuba and basses at the opening",
            with_basses(CC, "=54 p D2/3 F2/1/2 E2 | D2/2 C#2/1 D2 | A1/3 Bb1/1/2 A1 | G#1/2 A1/1 r |"),
        ),
        (
            "Berlioz, Symphonie fantastique v: the day of wrath on two tubas",
            with_basses(
                CC,
                "=104 f Eb3/3 | D3 | Eb3 | C3 | D3 | Bb2 | C3 | C3 | r/3 | Eb3/3/2 D3 | Eb3 C3 | D3 Bb2 | C3 C3 |",
            ),
        ),
        (
            "Rimsky-Korsakov, Russian Easter: the priest's recitative",
            scene(
                TENOR,
                "=76 mf D3/1/2 G3 A3/1 A3/1/2 A3 A3 G3 | Bb3/3/2 A3/1/2 G3/1 A3 | D3/2 r/2 | f G3/1/2 A3 Bb3 C4 D4/2 |",
            ),
        ),
        (
            "Strauss, Ein Heldenleben: two tubas in fifths",
            scene("euphonium", "=84 f Bb2/1 Bb2/1/2 Bb2 Bb2/2 | F3/1/2 Eb3 Bb2/1 r/2 |")
                .and("bass-tuba-f", "=84 f Eb2/1 Eb2/1/2 Eb2 Eb2/2 | Bb2/1/2 Ab2 Eb2/1 r/2 |"),
        ),
        (
            "Sibelius 7: the trombone above the whole",
            scene(TENOR, "=60 mf C4/4 | D4/1 C4/2 G3/1 | A3/3/2 B3/1/2 C4/2 | f D4/3 E4/1 | C4/4 |"),
        ),
    ]);
}

#[test]
fn unisons() {
    let together = |music: &str, low: &str| {
        scene(TENOR, music).and(TENOR, music).and(BASS, music).and(CC, low).beside("Double Bass", low)
    };
    no_risk(&[
        (
            "Wagner, Ride of the Valkyries",
            {
                let tune = "F#3/3/4 B3/1/4 F#3/1/2 B3/3/2 D4/3/2 | B3/3/4 D4/1/4 B3/1/2 D4/3/2 F#4/3/2 | D4/3/4 F#4/1/4 D4/1/2 F#4/3/2 A4/3/2 | A3/3/4 D4/1/4 A3/1/2 D4/3/2 F#4/3/2 |";
                let head = "=132 ff";
                scene(TENOR, &format!("{head} {tune} {tune}"))
                    .and(TENOR, &format!("{head} {tune} {tune}"))
                    .and(BASS, &format!("{head} {tune} {tune}").replace("F#4", "F#3").replace("A4", "A3"))
            },
        ),
        (
            "Wagner, Tannhäuser: the pilgrims at full strength",
            scene(
                TENOR,
                &format!(
                    "=63 ff {}",
                    times(3, "B3/1 | E4/2 E4/1 | D#4/3/2 C#4/1/2 B3/1 | C#4/2 G#3/1 | A3/3/2 B3/1/2 C#4/1 | F#4/2 E4/1 | B3/2 r/1 |")
                ),
            ),
        ),
        (
            "Wagner, Lohengrin, third prelude",
            together(
                "=176 ff D3/1 | G3/3/2 G3/1/2 B3/1 D4 | G4/2 D4/1/3 C4 B3 A3/1 | B3/3/2 C4/1/2 D4/1 B3 | A3/2 r/2 |",
                "=176 ff D2/1 | G2/3/2 G2/1/2 B2/1 D3 | G2/2 D3/1/3 C3 B2 A2/1 | B2/3/2 C3/1/2 D3/1 B2 | A2/2 r/2 |",
            ),
        ),
        (
            "Berlioz, Hungarian March",
            together(
                "=176 ff A3/1 E3/1/2 A3 C#4/1 A3 | E4/3/2 D4/1/2 C#4/1 B3 | A3/1/2 B3 C#4 D4 E4 D4 C#4 B3 | A3/1 r/3 |",
                "=176 ff A2/1 E2/1/2 A2 C#3/1 A2 | E2/3/2 D2/1/2 C#2/1 B1 | A1/1/2 B1 C#2 D2 E2 D2 C#2 B1 | A1/1 r/3 |",
            ),
        ),
        (
            "Bruckner 7/iv: all in unison",
            together(
                "=112 fff A3/7/4 A3/1/4 C4/7/4 A3/1/4 | E4/7/4 C4/1/4 A3/2 | F3/7/4 F3/1/4 A3/7/4 F3/1/4 | D4/4 | E4/4 |",
                "=112 fff A1/7/4 A1/1/4 C2/7/4 A1/1/4 | E2/7/4 C2/1/4 A1/2 | F2/7/4 F2/1/4 A2/7/4 F2/1/4 | D2/4 | E2/4 |",
            ),
        ),
        (
            "Bruckner 8/iv: brass over galloping strings",
            choir(
                "=138 ff",
                [
                    "F#4/4 | F#4/3 F#4/3/4 F#4/1/4 | A4/4~ | A4/2 r/2 |",
                    "C#4/4 | D4/3 D4/3/4 D4/1/4 | D4/4~ | D4/2 r/2 |",
                    "A3/4 | A3/3 A3/3/4 A3/1/4 | F#3/4~ | F#3/2 r/2 |",
                    "F#2/4 | D2/3 D2/3/4 D2/1/4 | D2/4~ | D2/2 r/2 |",
                ],
            ),
        ),
        (
            "Tchaikovsky 4/i: the fanfare, taken up by trombones and tuba",
            together(
                "=104 ff Ab3/3/2 Ab3/1/6 Ab3 Ab3 | Ab3/1/2 Ab3/1/6 Ab3 Ab3 Ab3/1/2 Ab3/1/6 Ab3 Ab3 Ab3/1 | Ab3/3 | G3/3/2 F3/1/2 Eb3/1 |",
                "=104 ff Ab2/3/2 Ab2/1/6 Ab2 Ab2 | Ab2/1/2 Ab2/1/6 Ab2 Ab2 Ab2/1/2 Ab2/1/6 Ab2 Ab2 Ab2/1 | Ab2/3 | G2/3/2 F2/1/2 Eb2/1 |",
            ),
        ),
        (
            "Tchaikovsky, 1812: scales in the low brass",
            together(
                "=144 fff Eb3/1/2 D3 C3 Bb2 Ab2 G2 F2 Eb2 | F2 G2 Ab2 Bb2 C3 D3 Eb3 F3 | G3/1 r Eb3 r |",
                "=144 fff Eb2/1/2 D2 C2 Bb1 Ab1 G1 Ab1 Bb1 | C2 D2 Eb2 F2 G2 Ab2 Bb2 C3 | Eb2/1 r Eb2 r |",
            ),
        ),
        (
            "Schubert 9/i: trombones alone, pp",
            scene(TENOR, "=132 pp Ab3/3 Bb3/1 | Cb4/2 Bb3/1 Ab3 | Gb3/2 Ab3/1 r | Ab3/3 Bb3/1 | Cb4/2 Db4/1 Eb4 | Cb4/2 r/2 |")
                .and(TENOR, "=132 pp Ab3/3 Bb3/1 | Cb4/2 Bb3/1 Ab3 | Gb3/2 Ab3/1 r | Ab3/3 Bb3/1 | Cb4/2 Db4/1 Eb4 | Cb4/2 r/2 |"),
        ),
        (
            "Beethoven 9/iv: bass trombone with the men's voices",
            scene(BASS, "=72 ff G3/3 B3/3/2 A3/1/2 G3/1 F#3 | G3/2 E3/1 D3/2 r/1 | E3/3 C3/3 | G2/3 r |"),
        ),
        (
            "Mussorgsky, Night on a bare mountain",
            together(
                "=184 ff A2/3/2 Bb2/1/2 A2/1 F3 | E3/3/2 D3/1/2 A2/2 | D3/1/2> r C#3> r D3/2> | r/4 |",
                "=184 ff A1/3/2 Bb1/1/2 A1/1 F2 | E2/3/2 D2/1/2 A1/2 | D2/1/2> r C#2> r D2/2> | r/4 |",
            ),
        ),
    ]);
}

#[test]
fn soft_choirs() {
    no_risk(&[
        (
            "Dvořák 9/ii: the opening chords",
            choir(
                "=52",
                [
                    "pp E3/2 F3 | < Ab3/2 F3 | mf Ab3/2 > Bb3 | pp Ab3/4@ |",
                    "pp B2/2 Db3 | < Db3/2 Db3 | mf F3/2 > Eb3 | pp F3/4@ |",
                    "pp G#2/2 Ab2 | < Ab2/2 Bb2 | mf Db3/2 > Gb2 | pp Db3/4@ |",
                    "pp E2/2 Db2 | < F2/2 Bb1 | mf F2/2 > Eb2 | pp Db2/4@ |",
                ],
            ),
        ),
        (
            "Tchaikovsky 6/iv: trombones and tuba alone after the gong",
            choir(
                "=54",
                [
                    "p F#3/2 E3 | D3/2 E3 | > pp C#3/2 D3 | ppp C#3/2 B2 | pppp B2/4 |",
                    "p D3/2 C#3 | B2/2 B2 | > pp A#2/2 B2 | ppp A#2/2 B2 | pppp B2/4 |",
                    "p B2/2 A#2 | F#2/2 G2 | > pp E2/2 F#2 | ppp E2/2 F#2 | pppp F#2/4 |",
                    "p B1/2 F#2 | B1/2 E2 | > pp F#1/2 B1 | ppp F#1/2 B1 | pppp B1/4 |",
                ],
            ),
        ),
        (
            "Mahler 2/v: the chorale of the dead",
            choir(
                "=46 pp",
                [
                    "C4/2 Bb3 | C4/2 Ab3 | Bb3/2 G3 | Ab3/4 |",
                    "Ab3/2 F3 | Ab3/2 F3 | F3/2 E3 | F3/4 |",
                    "F3/2 Db3 | Eb3/2 C3 | Db3/2 C3 | C3/4 |",
                    "F1/2 Bb1 | Ab1/2 F1 | Bb1/2 C2 | F1/4 |",
                ],
            ),
        ),
        (
            "Bruckner 7/ii: four Wagner tubas and contrabass tuba",
            scene("wagner-tuba-b-flat", "=46 p E4/3 D#4/1 | C#4/2 B3 | < C#4/2 D#4 | f E4/4 |")
                .and("wagner-tuba-b-flat", "=46 p G#3/3 A3/1 | G#3/2 F#3 | < G#3/2 B3 | f G#3/4 |")
                .and("wagner-tuba-f", "=46 p C#3/3 D#3/1 | E3/2 D#3 | < E3/2 F#3 | f C#3/4 |")
                .and("wagner-tuba-f", "=46 p C#3/3 B2/1 | C#3/2 B2 | < C#3/2 B2 | f G#2/4 |")
                .and(CC, "=46 p C#2/3 F#2/1 | C#2/2 B1 | < C#2/2 B1 | f C#2/4 |"),
        ),
        (
            "Brahms, Tragic Overture: trombones and tuba, p",
            choir(
                "=92 p",
                [
                    "A3/4 | G3/4 | F3/2 E3 | D3/4 |",
                    "F3/4 | D3/4 | D3/2 C#3 | D3/4 |",
                    "D3/4 | Bb2/4 | A2/2 A2 | A2/4 |",
                    "D2/4 | G1/4 | A1/2 A1 | D2/4 |",
                ],
            ),
        ),
        (
            "Saint-Saëns 3: trombones with strings and organ",
            scene(TENOR, "=56 p Db4/2 C4/1 Db4 | Eb4/2 Db4 | Ab3/2 Bb3/1 C4 | Db4/4 |")
                .and(TENOR, "=56 p Ab3/2 Ab3/1 Ab3 | Bb3/2 Ab3 | F3/2 F3/1 Ab3 | Ab3/4 |")
                .and(BASS, "=56 p F3/2 Gb3/1 F3 | Gb3/2 F3 | Db3/2 Db3/1 Eb3 | F3/4 |"),
        ),
        (
            "Schumann 3/iv: the alto trombone enters on the Rhine",
            scene(ALTO, "=54 pp Bb4/1 Eb5/3 | D5/1 C5/2 Bb4/1 | < Ab4/2 Bb4 | mf Eb4/4 |")
                .and(TENOR, "=54 pp G3/1 C4/3 | Bb3/1 Ab3/2 Bb3/1 | < Eb4/2 D4 | mf Bb3/4 |")
                .and(BASS, "=54 pp Eb3/1 C3/3 | G3/1 Ab3/2 G3/1 | < F3/2 Bb2 | mf Eb3/4 |"),
        ),
        (
            "a chorale with the third in the bass, and thirds that pass low down",
            choir(
                "=72 mf",
                [
                    "D4/2 D4 | E4/1 D4 C4 B3 | D4/4 |",
                    "G3/2 B3 | G3/1 A3 A3 G3 | A3/4 |",
                    "B2/2 G2 | E3/1 D2 C3 D3 | F#2/4 |",
                    "G1/2 B1 | C2/1 B1 A1 G1 | D2/4 |",
                ],
            ),
        ),
        (
            "Holst, Saturn: trombones in procession",
            choir(
                "=66",
                [
                    "p B3/2 A3 | G3/2 A3 | B3/2 D4 | < C4/2 B3 | f E4/4 |",
                    "p G3/2 F3 | E3/2 F3 | G3/2 B3 | < A3/2 G3 | f C4/4 |",
                    "p E3/2 D3 | C3/2 D3 | E3/2 G3 | < F3/2 E3 | f G3/4 |",
                    "p E2/2 D2 | C2/2 D2 | E2/2 G2 | < F2/2 E2 | f C2/4 |",
                ],
            ),
        ),
    ]);
}

#[test]
fn loud_choirs_and_hits() {
    no_risk(&[
        (
            "Sibelius, Finlandia: the opening",
            choir(
                "=60",
                [
                    "fp Ab3/2 < Ab3/2 | ff C4/2 Bb3/1 r | fp Ab3/2 < Ab3/2 | ff Db4/2 C4/1 r |",
                    "fp F3/2 < F3/2 | ff F3/2 E3/1 r | fp F3/2 < F3/2 | ff Gb3/2 F3/1 r |",
                    "fp C3/2 < C3/2 | ff Ab2/2 Bb2/1 r | fp C3/2 < C3/2 | ff Bb2/2 Ab2/1 r |",
                    "fp F2/2 < F2/2 | ff F1/2 G1/1 r | fp F2/2 < F2/2 | ff Gb1/2 Ab1/1 r |",
                ],
            ),
        ),
        (
            "Mussorgsky, The great gate",
            choir(
                "=168 ff",
                [
                    &times(3, "G4/2 F4 | Bb4/2 G4/1 Ab4 | G4/2 F4 | Bb4/4 |"),
                    &times(3, "Eb4/2 D4 | Eb4/2 Eb4/1 F4 | Eb4/2 D4 | Eb4/4 |"),
                    &times(3, "Bb3/2 Bb3 | G3/2 C4/1 C4 | Bb3/2 Bb3 | G3/4 |"),
                    &times(3, "Eb2/2 Bb1 | Eb2/2 C2/1 F2 | Eb2/2 Bb1 | Eb2/4 |"),
                ],
            ),
        ),
        (
            "Verdi, Requiem: the wrath, off the beat",
            choir(
                "=160 ff",
                [
                    &times(4, "G4/1/2^ r G4/1^ r/2 | r/1/2 G4/1/2^ F#4/1 r/2 |"),
                    &times(4, "D4/1/2^ r D4/1^ r/2 | r/1/2 D4/1/2^ D4/1 r/2 |"),
                    &times(4, "Bb3/1/2^ r Bb3/1^ r/2 | r/1/2 Bb3/1/2^ A3/1 r/2 |"),
                    &times(4, "G2/1/2^ r G2/1^ r/2 | r/1/2 G2/1/2^ D2/1 r/2 |"),
                ],
            ),
        ),
        (
            "Wagner, Götterdämmerung: the funeral march",
            with_basses(
                CC,
                "=56 ff C2/1/4> C2/1/4> r/1/2 r/1 C2/1/4> C2/1/4> r/1/2 r/1 | p C2/1/4 D2 Eb2 F2 G2/1 < Ab2/1 G2 | ff C2/1/4> C2 r/1/2 r/3 |",
            ),
        ),
        (
            "Grieg, In the hall of the mountain king: the last pages",
            with_basses(
                CC,
                &format!(
                    "=184 ff {} B1/1^ r/3 | r/3 B1/1^ | B1/1^ r/3 |",
                    times(6, "B1/1/2. C#2. D2. E2. F#2. D2. F#2/1 | F2/1/2. C#2. F2/1 E2/1/2. C2. E2/1 |")
                ),
            ),
        ),
        (
            "Holst, Uranus: the four notes",
            scene("euphonium", "=208 fff G3/3~ | G3 | Eb3~ | Eb3 | A3~ | A3 | B3~ | B3 | r/3 |")
                .and("bass-tuba-f", "=208 fff G2/3~ | G2 | Eb2~ | Eb2 | A2~ | A2 | B2~ | B2 | r/3 |"),
        ),
        (
            "Mahler 6/i: the march",
            with_basses(
                CC,
                &format!("=112 ff {}", times(6, "A1/1> r A1> r | A1/1/2 A1/1/4 A1 A1/1 E2/1 r |")),
            ),
        ),
        (
            "Brahms 2/iv: the close in D major, top to bottom",
            choir(
                "=152 ff",
                [
                    "F#4/2 F#4/1 F#4 | D4/4 | A4/1 F#4 D4 A3 | D4/4@ |",
                    "D4/2 D4/1 D4 | A3/4 | F#4/1 D4 A3 F#3 | A3/4@ |",
                    "A3/2 A3/1 A3 | F#3/4 | D4/1 A3 F#3 D3 | F#3/4@ |",
                    "D3/2 D3/1 D3 | D2/4 | D3/1 A2 F#2 D2 | D2/4@ |",
                ],
            ),
        ),
        (
            "Rossini, La gazza ladra: ruffs and runs of the trombone",
            scene(
                TENOR,
                "=112 f E3/1/4 F#3 G#3 A3 B3/1/2> r/1 B3> r | E4/1/2 D#4 E4 F#4 G#4/1 r | E3/1/2 G#3 B3 E4 G#4/1> r |",
            ),
        ),
        (
            "two-note ruffs before every hit, ff",
            choir(
                "=96 ff",
                [
                    &times(4, "F3/1/8 F3 r/3/4 F3/1> r/2 |"),
                    &times(4, "D3/1/8 D3 r/3/4 D3/1> r/2 |"),
                    &times(4, "Bb2/1/8 Bb2 r/3/4 Bb2/1> r/2 |"),
                    &times(4, "Bb1/1/8 Bb1 r/3/4 Bb1/1> r/2 |"),
                ],
            ),
        ),
        (
            "Sousa: the strain in which trombones lead",
            scene(
                TENOR,
                &format!("=240 ff {}", times(4, "Eb4/1 D4 Db4 C4 | B3 Bb3 A3 Ab3 | G3/2 Eb3 | Bb3/2 r |")),
            ),
        ),
    ]);
}

#[test]
fn accompaniments() {
    no_risk(&[
        ("a polka: tuba on the beat, p", scene(CC, &format!("=112 p {}", times(60, "F2/1/2 r C2 r |")))),
        (
            "a foxtrot: tuba in two with pick-ups, mf",
            scene("sousaphone", &format!("=176 mf {}", times(16, "Bb1/1 r F2 r | Bb1 r F2 G2/1/2 A2 |"))),
        ),
        (
            "Verdi: cimbasso and trombones under a cabaletta, p",
            scene(TENOR, &format!("=138 p {}", times(24, "r/1 F3 F3 |")))
                .and(BASS, &format!("=138 p {}", times(24, "r/1 D3 D3 |")))
                .and("cimbasso-f", &format!("=138 p {}", times(24, "Bb1/1 r/2 |"))),
        ),
        (
            "an anthem: bass trombone and tuba in octaves, mf",
            scene(BASS, "=66 mf Bb2/2 F2 | G2/2 D3 | Eb3/2 F3 | Bb2/3 r/1 |")
                .and(CC, "=66 mf Bb1/2 F1 | G1/2 D2 | Eb2/2 F2 | Bb1/3 r/1 |"),
        ),
        (
            "a big band's bass trombone: pedals under saxophones, f, four beats each",
            scene(BASS, "=132 f Bb1/4 | Ab1/4 | G1/4 | C2/2 F2/2 |"),
        ),
        (
            "smears of a circus march",
            scene(TENOR, "=120 ff F3/1/2% Bb3/1/2 r/1 E3/1/2% A3/1/2 r/1 | E3/1% Bb3/1 r/2 |"),
        ),
    ]);
}

#[test]
fn what_a_player_would_nod_at() {
    let held: &[&str] = &["note-longer-than-breath w"];
    let basses = |music: &str| with_basses(CC, music);
    risky(
        "a low D ff for six seconds under the whole brass",
        &basses("=60 ff D1/4~ | D1/2 r/2 |"),
        &["note-longer-than-breath w", "too-loud-for-register w"],
    );
    risky(
        "a low C f for four seconds",
        &basses("=60 f C1/4 | r/4 |"),
        &["effect-register w", "note-longer-than-breath w", "too-loud-for-register w"],
    );
    risky("the climax of an adagio: C#2 ff for five seconds", &basses("=46 ff C#2/4 | r/4 |"), held);
    risky(
        "twelve bars of whole notes ff at 60, nothing between them",
        &basses(&format!("=60 ff {}", times(6, "F1/4 | Bb1/4 |"))),
        &["no-rest-to-recover w", "note-longer-than-breath w"],
    );
    risky(
        "low F in eighths ff for 41 seconds",
        &basses(&format!("=120 ff {}", times(20, "F1/1/2 F1 F1 F1 F1 F1 F1 F1 | F1/1/2"))),
        &["no-rest-to-recover w"],
    );
    risky(
        "quarters on the bottom D for 144 seconds, mf",
        &basses(&format!("=60 mf {}", times(36, "D1/1 D1 D1 D1 |"))),
        &["no-rest-to-recover w"],
    );
    risky(
        "a pedal fff for eight seconds and two to take turns",
        &with_basses(CC, "=60 fff F1/4~ | F1/4 |").players(2),
        &["note-longer-than-breath w", "too-loud-for-register w"],
    );
    risky(
        "two unison tubas ff on low F for ten seconds",
        &scene(CC, "=72 ff F1/4~ | F1/4~ | F1/4 |").and(CC, "=72 ff F1/4~ | F1/4~ | F1/4 |"),
        &["everyone-breathes-at-once w", "note-longer-than-breath w", "note-longer-than-breath w"],
    );
    risky("a hit ff on the bottom D", &basses("=100 ff D1/1/2^ r/3/2 r/2 |"), &["hit-too-low w"]);
    risky(
        "the low B of a trombone with one valve",
        &scene(TENOR, "=80 f C3/1 B1 C3 r |"),
        &["no-such-note e"],
    );
    risky("a glissando for cimbasso", &scene("cimbasso-f", "=80 f F2/2% C2 |"), &["glissando-breaks w"]);
    risky(
        "tongued sixteenths at 200 for two bars",
        &scene(
            TENOR,
            &format!("=200 f {} F3/1 r/3 |", times(2, &format!("{} |", times(4, "F3/1/4 F3 F3 F3")))),
        ),
        &["too-fast-for-register w"],
    );
    risky(
        "an F above the staff for a C tuba",
        &scene(CC, "=80 f D4/2 F4 | C4/2 r |"),
        &["extreme-register w"],
    );
    risky(
        "Ravel's high D flat",
        &scene(TENOR, "=72 mf Bb4/1 Db5/2 C5/1 | Bb4/2 r |"),
        &["extreme-register w"],
    );
    risky(
        "a slur of twelve seconds f",
        &basses("=60 f (F2/2 G2 | A2 Bb2 | C3 Bb2 | A2) r |"),
        &["phrase-longer-than-breath w"],
    );
    risky(
        "a straight mute for a trombone between two beats",
        &scene(TENOR, "=132 f F3/2 r/1 [straight] F3/1 |"),
        &["mute-change-too-quick e"],
    );
}
