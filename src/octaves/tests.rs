//! Moves planned on one-line music, judged by the shipped rules and profiles.

use super::plan;
use crate::finding::{PartMove, Standing};
use crate::music::Onset;
use crate::profile::{MoveLimits, shipped};
use crate::rules::judge;
use crate::rules::testing::{Scene, scene};
use crate::score::{Clef, ClefChange, ClefSign};

const TUBA: &str = "contrabass-tuba-c";
const TROMBONE: &str = "tenor-bass-trombone";

/// What the shipped limits say of moves.
pub(super) fn limits() -> &'static MoveLimits {
    &shipped().section().moves
}

fn moves(scene: &Scene) -> Vec<PartMove> {
    scene.judged(|section| plan(section, &mut judge(section)).moves)
}

/// Each move as its octaves, first and last note and standing.
fn shown(scene: &Scene) -> Vec<String> {
    let show = |one: &PartMove| {
        let notes = &one.octave_move.notes;
        let standing = one.octave_move.standing.word();
        format!("{:+} {}-{} {standing}", one.octave_move.octaves, notes[0], notes[notes.len() - 1])
    };
    moves(scene).iter().map(show).collect()
}

#[test]
fn a_loud_low_d_belongs_an_octave_up() {
    // Common practice, no source.
    let hit = scene(TUBA, "ff D2/1 r/3 | D1/4 | r/4 | D2/1 r/3 |");
    assert_eq!(shown(&hit), ["+1 1-1 safe"]);
    let clears = &moves(&hit)[0].octave_move.clears;
    assert_eq!(clears, &["too-loud-for-register"]);
}

#[test]
fn a_worked_move_clears_what_it_is_for() {
    // D1 ff, a quarter at 60, and an accented D1 f, an eighth at 120: told, an octave up, and D2 draws nothing. Common
    // practice, no source; steps of loudness and the length of a hit: proposal.
    for (rule, low, high) in [
        ("too-loud-for-register", "ff D1/1 r/3 |", "ff D2/1 r/3 |"),
        ("hit-too-low", "=120 f D1/1/2> r/7/2 |", "=120 f D2/1/2> r/7/2 |"),
    ] {
        let told = scene(TUBA, low);
        assert_eq!(told.says(), [format!("{rule} w")]);
        let planned = moves(&told);
        assert_eq!((planned.len(), planned[0].octave_move.octaves), (1, 1), "{rule}");
        assert_eq!(planned[0].octave_move.clears, [rule]);
        scene(TUBA, high).draws(high, &[]);
    }
    scene(TUBA, "=120 f B1/1/2> r/7/2 |").draws("an accented B1 f", &[]);
    assert!(moves(&scene(TUBA, "=120 f B1/1/2> r/7/2 |")).is_empty());
}

#[test]
fn a_soft_low_d_and_a_loud_one_above_stay() {
    // Common practice, no source.
    assert!(moves(&scene(TUBA, "mp D1/4 | r/4 | ff D2/4 | r/4 | fff D2/4 |")).is_empty());
}

#[test]
fn a_phrase_between_rests_moves_whole() {
    let phrase = scene(TUBA, "mf F2 G2 A2 r | C2 D2 C2 r | E1 D1 C1 r | C2 D2 E2 r | F2 E2 D2 r");
    assert_eq!(shown(&phrase), ["+1 6-8 safe"]);
}

#[test]
fn a_stretch_dropped_within_a_line_comes_back_to_its_seams() {
    let line = "mf C3 B2 A2 B2 C3 D3 C3 B2 A2 B2 C3 B2 A2 G1 A1 B1 A1 B2 C3 D3 C3 B2 A2 B2 C3 B2 A2 B2";
    assert_eq!(shown(&scene(TROMBONE, line)), ["+1 13-16 safe"]);
}

#[test]
fn no_move_begins_inside_a_slur_or_a_tie() {
    let bound = scene(TUBA, "ff D2 r (D2 D1~ | D1 F2) r/2 | D2/4 |");
    for one in moves(&bound) {
        assert_eq!(one.octave_move.notes, [1, 2, 3, 4]);
    }
}

#[test]
fn a_rest_under_a_slur_still_parts_two_phrases() {
    // The slur over the rest is a way of playing; the first two notes stay.
    let portato = scene(TROMBONE, "mf C3 D3 r/2 | C3 (D3 r D2 | A1 C2 D2 C2) | r/4 | C3 D3 E3 D3 |");
    assert!(moves(&portato).iter().all(|one| one.octave_move.notes.iter().all(|&note| note >= 4)));
    assert_eq!(moves(&portato).len(), 1);
}

#[test]
fn the_nearest_octave_that_serves_is_taken() {
    // Over rests a leap from far above would be smoother by two octaves; one cures, so one it is.
    let alone = scene(TROMBONE, "mf C4 D4 E4 D4 | r E1 r/2 | C4 D4 E4 D4 | r/4 | D4 E4 F4 E4 |");
    let octaves: Vec<i8> = moves(&alone).iter().map(|one| one.octave_move.octaves).collect();
    assert_eq!(octaves, [1]);
}

#[test]
fn two_octaves_are_taken_only_where_both_neighbours_ask_for_them() {
    // G#1 was meant: from B1 it is a third, and a leap of an octave follows, as tubas have them under a tutti.
    let one = scene(TUBA, "ff B2 B1/2 F#2 | F#2 B1 r/2 | G#0/2 G#2 B#1 | D#2 G#2 r G#2 | C#2/2 C#2 C2 |");
    assert_eq!(shown(&one), ["+1 5-5 safe"]);
    let two = scene(TUBA, "mf F2 G2 A2 G2 | F2 E2 D0 E2 | F2 G2 A2 G2 | F2 E2 D2 r |");
    assert_eq!(shown(&two), ["+2 6-6 safe"]);
}

#[test]
fn a_neighbour_over_a_rest_stays_where_nothing_ails_it() {
    let pair = scene(TUBA, "mf F2 G2 A2 r | C2 D2 r/2 | E1 D1 C1 r | D2 C2 r/2 | F2 E2 D2 r");
    assert_eq!(shown(&pair), ["+1 5-7 safe"]);
}

#[test]
fn an_octave_between_two_tubas_is_not_closed_without_a_look() {
    let top = "ff D2/4 | r/4 | F2/4 | r/4 | G2/4 | r/4 | A2/4 |";
    let bottom = "ff D1/4 | r/4 | F1/4 | r/4 | G1/4 | r/4 | A1/4 |";
    let moves = moves(&scene(TUBA, top).and(TUBA, bottom));
    assert_eq!(moves.len(), 1);
    assert_eq!(moves[0].octave_move.standing, Standing::Review);
    let why = moves[0].octave_move.why_not_safe.as_deref();
    assert!(why.is_some_and(|why| why.contains("the octave with Part 1 becomes a unison")), "{why:?}");
}

#[test]
fn where_nothing_else_tells_the_part_lower_on_the_page_lies_lower() {
    // The whole second part is an octave too high; taken down it goes below the first, where it belongs.
    let both =
        scene(TROMBONE, "mf E4 F4 G4 F4 | E4 D4 E4 F4 |").and(TROMBONE, "mf C5 D5 E5 D5 | C5 B4 C5 D5 |");
    let moves = moves(&both);
    assert_eq!(moves.len(), 1);
    assert_eq!(moves[0].octave_move.octaves, -1);
    let why = moves[0].octave_move.why_not_safe.clone().unwrap_or_default();
    assert!(!why.contains("crosses"), "{why}");
}

#[test]
fn a_line_that_climbs_into_the_extreme_register_by_itself_is_for_a_person_to_look_at() {
    // Nothing leaps, nobody doubles it, no like music lies elsewhere: only its height speaks for a move.
    let climbs = scene(TROMBONE, "mf F3 A3 C4 F4 | A4 C5 D5 E5 | D5 C5 A4 F4 | C4 A3 F3/2 |");
    let moves = moves(&climbs);
    assert_eq!(moves.len(), 1);
    assert_eq!(
        moves[0].octave_move.why_not_safe.as_deref(),
        Some("nothing around it says that it belongs elsewhere")
    );
}

#[test]
fn two_parts_with_the_very_same_music_move_together() {
    let music = "ff D2/1 r/3 | D1/4 | r/4 | D2/1 r/3 |";
    let moves = moves(&scene(TUBA, music).and(TUBA, music));
    let parts: Vec<u32> = moves.iter().map(|one| one.part).collect();
    assert_eq!(parts, [0, 1]);
    assert!(moves.iter().all(|one| one.octave_move.standing == Standing::Safe), "{moves:?}");
}

#[test]
fn the_doubling_is_named() {
    let doubled = scene(TUBA, "ff D2/1 r/3 | D1/4 | r/4 | D2/1 r/3 |")
        .beside("Double Basses", "ff D2/1 r/3 | D1/4 | r/4 | D2/1 r/3 |");
    let doubling = moves(&doubled)[0].octave_move.doubling.clone();
    assert_eq!(doubling.as_deref(), Some("comes to an octave above Double Basses, from the unison"));
}

#[test]
fn where_no_octave_serves_the_finding_says_what_else() {
    // From C-sharp 1 to F4 in one slur: every octave is beyond the instrument at one end or the other.
    let wide = scene(TUBA, "ff (C1 C2 C3 C4 F4) |");
    wide.judged(|section| {
        let mut findings = judge(section);
        let revision = plan(section, &mut findings);
        assert!(revision.moves.is_empty());
        let heavy = findings.iter().filter_map(|finding| finding.octave_move.as_ref());
        let heavy: Vec<_> = heavy.collect();
        assert!(!heavy.is_empty());
        assert!(heavy.iter().all(|one| one.standing == Standing::Manual && one.why_not_safe.is_some()));
    });
}

#[test]
fn a_long_phrase_astray_is_not_taken_for_a_part_read_wrongly() {
    // Thirteen notes an octave too high would, on their own, look like a part in an octave transposition.
    let home = "C4 D4 E4 F4 | G4 F4 E4 D4 | C4 D4 E4 D4 | C4/3 r |";
    let away = "C5 D5 E5 F5 | G5 F5 E5 D5 | C5 D5 E5 D5 | C5/3 r |";
    let around = scene(TROMBONE, &format!("mf {home} r/4 | r/4 | {away} r/4 | r/4 | {home}")).part(|part| {
        let clef = Clef { sign: ClefSign::F, line: 4, octaves: 0 };
        part.clefs.push(ClefChange { bar: 0, at: Onset::START, staff: 1, clef });
    });
    let moves = moves(&around);
    let found: Vec<(i8, usize)> =
        moves.iter().map(|one| (one.octave_move.octaves, one.octave_move.notes.len())).collect();
    assert_eq!(found, [(-1, 13)], "{moves:?}");
}

#[test]
fn a_phrase_answered_a_fourth_away_is_not_held_back_by_the_answer() {
    // The same figure a fifth lower, an octave astray: a fourth higher then, which answers no better.
    let figure = "F3 G3 Ab3 F3 G3 Ab3";
    let answer = "Bb3 C4 Db4 Bb3 C4 Db4";
    let away = "Bb4 C5 Db5 Bb4 C5 Db5";
    let around = format!("mf {figure} r/2 | F3 Eb3 C3 Eb3 r/4 | {away} r/2 | F3 Eb3 C3/2 | r/4 | {figure}");
    assert_eq!(shown(&scene(TROMBONE, &around)), ["-1 10-15 safe"]);
    assert!(moves(&scene(TROMBONE, &around.replace(away, answer))).is_empty());
}

#[test]
fn two_stretches_astray_do_not_take_along_the_line_between_them_for_one_risk_in_it() {
    // One high note in the line between is written so; thirty sound notes do not move to spare it.
    let home = "G3 A3 G3 F3 | G3 A3 B3 A3 |";
    let climbs = "C4 E4 G4 A4 | C5 E5 C5 A4 | G4 E4 D4 C4 |";
    let stays = "C4 D4 E4 D4 | C4 E4 D4 C4 |";
    let away = "C5 D5 E5 D5 |";
    let line = format!("mf {home} {away} {stays} {stays} {climbs} {stays} {away} {home}");
    assert_eq!(shown(&scene(TROMBONE, &line)), ["-1 8-11 safe", "-1 48-51 safe"]);
    assert!(!scene(TROMBONE, &line.replace(away, stays)).says().is_empty());
}

#[test]
fn a_high_passage_stays_where_it_lies_when_only_its_end_went_astray() {
    // Where the part seldom lies, but well: no reason to take it down with the four notes behind it.
    let low = "Eb2 Ab2 Eb2 C3 | Bb2 Bb2 C3 Ab2 | Ab2 Eb3 Ab2 C3 | Bb2 Eb2 Ab2 r";
    let high = "Ab3 Bb3 Ab3 Bb3 | C4 Ab3 Bb3 Ab3 | Bb3 C4 Bb3 Ab3 | Ab3 Bb3 C4 Bb3 | Ab3 Ab3";
    let astray = "Ab4 Eb4 F4 G4 | Ab4 Eb4";
    let home = "Ab3 Eb3 F3 G3 | Ab3 Eb3";
    let back = "C3 Bb2 | Ab2 Ab2 r/2";
    let music = |end: &str| format!("mf {low} | {low} | {high} {end} {back} | {low} | {low}");
    let found = moves(&scene(TUBA, &music(astray)));
    let found: Vec<_> =
        found.iter().map(|one| (one.octave_move.octaves, one.octave_move.notes.len())).collect();
    assert_eq!(found, [(-1, 6)]);
    assert!(moves(&scene(TUBA, &music(home))).is_empty());
}

#[test]
fn sound_notes_between_a_leap_and_a_stretch_astray_stay_above_their_neighbour() {
    // The line leaps up a tenth by itself, well above its neighbour; four notes later it went astray. With those the
    // four would come down smoothly, below the neighbour, where the line never lies elsewhere.
    let before = "C4 D4 E4 D4 | C4 D4 E4 F4 | E4 D4 C4 B3 | A3 G3 F3 D3 |";
    let astray = "E5 F5 E5 D5 | E5 D5 C5 D5 |";
    let top = format!("mf {before} F4 E4 D4 C4 | {astray} E4 D4 C4 D4 | E4 D4 C4 D4 |");
    let below = "A3 B3 C4 B3 | A3 B3 C4 D4 | C4 B3 A3 G3 | F3 E3 D3 B2 |";
    let goes_on = "D4 C4 B3 A3 | C4 D4 C4 B3 | C4 B3 A3 B3 | C4 B3 A3 B3 | C4 B3 A3 B3 |";
    let both = scene(TROMBONE, &top).and(TROMBONE, &format!("mf {below} {goes_on}"));
    assert_eq!(shown(&both), ["-1 20-27 safe"]);
}
