//! Where each of the trade's worked checks is held: 74 of them, the test that holds it with its sources beside it, and what it
//! must hold. Three that need a page to be read from stand here.

use std::path::Path;

use super::testing::scene;

/// Number, what is played or read, the test, and what it holds: each rule it draws with its weight; no entry stands for
/// a scene that draws nothing.
const CHECKS: &[(u32, &str, &str, &[&str])] = &[
    (1, "C tuba, a scale D1 to C4 mf", "the_everyday_compass_of_a_contrabass_tuba_draws_no_remark", &[]),
    (2, "C tuba, D1 mp for 4 s", "the_everyday_compass_of_a_contrabass_tuba_draws_no_remark", &[]),
    (
        3,
        "C tuba, D1 ff: told, and cleared an octave up",
        "a_worked_move_clears_what_it_is_for",
        &["too-loud-for-register"],
    ),
    (4, "C tuba, D2 fff", "the_lower_a_tuba_goes_the_less_it_gives", &[]),
    (5, "C tuba, D1 f", "the_lower_a_tuba_goes_the_less_it_gives", &["too-loud-for-register n"]),
    (
        6,
        "C tuba, accented D1 and B1 f: told and cleared an octave up",
        "a_worked_move_clears_what_it_is_for",
        &["hit-too-low"],
    ),
    (
        7,
        "C tuba, C1 p, with and without the word",
        "the_lowest_octave_is_an_effect_unless_it_is_asked_for",
        &["effect-register w"],
    ),
    (
        8,
        "C tuba, A0 and F0 mp",
        "the_lowest_octave_is_an_effect_unless_it_is_asked_for",
        &["effect-register w", "out-of-range e"],
    ),
    (9, "C tuba, soft eighths F1 to C4", "the_everyday_compass_of_a_contrabass_tuba_draws_no_remark", &[]),
    (
        10,
        "C tuba, D1 and E1 in sixteenths at 120",
        "a_low_note_needs_time_to_speak",
        &["too-fast-for-register n"],
    ),
    (
        11,
        "C tuba, F1 and C1 in sixteenths",
        "a_low_note_needs_time_to_speak",
        &["too-fast-for-register n", "effect-register w"],
    ),
    (
        12,
        "Bb1 in sixteenths at 160, tuba and contrabass trombone",
        "a_low_note_needs_time_to_speak",
        &["too-fast-for-register n"],
    ),
    (
        13,
        "C tuba, F1 to A2 in sixteenths",
        "a_leap_of_more_than_an_octave_needs_time",
        &["leap-too-wide-at-speed n"],
    ),
    (
        14,
        "C tuba, C#4 to F4, with an F tuba at hand",
        "the_top_of_a_tuba_is_reached_by_degrees",
        &["beyond-usual-register n", "extreme-register w"],
    ),
    (15, "C tuba, F#4", "the_top_of_a_tuba_is_reached_by_degrees", &["out-of-range e"]),
    (
        16,
        "G#4 on four instruments",
        "the_same_note_is_another_matter_on_another_instrument",
        &["out-of-range e", "extreme-register w", "beyond-usual-register n"],
    ),
    (
        17,
        "D2 and F4, euphonium and C tuba",
        "the_same_note_is_another_matter_on_another_instrument",
        &["beyond-usual-register n", "extreme-register w"],
    ),
    (18, "C tuba, D4 and Eb1", "the_top_of_a_tuba_is_reached_by_degrees", &["beyond-usual-register n"]),
    (
        19,
        "plain tuba, F1, F4, E1",
        "the_everyday_compass_of_a_contrabass_tuba_draws_no_remark",
        &["extreme-register w"],
    ),
    (
        20,
        "Db1 on four and five valves",
        "valves_leave_gaps_and_sharp_notes",
        &["no-such-note e", "effect-register w"],
    ),
    (21, "D1 on four valves", "valves_leave_gaps_and_sharp_notes", &["sharp-valve-combination w"]),
    (
        22,
        "B flat tuba, B0, C1, D1",
        "valves_leave_gaps_and_sharp_notes",
        &["no-such-note e", "effect-register w", "sharp-valve-combination w"],
    ),
    (
        23,
        "sousaphone, Eb1 and E1",
        "valves_leave_gaps_and_sharp_notes",
        &["no-such-note e", "extreme-register w", "sharp-valve-combination w"],
    ),
    (
        24,
        "B1, euphonium and tenor tuba",
        "valves_leave_gaps_and_sharp_notes",
        &["extreme-register w", "sharp-valve-combination w", "no-such-note e"],
    ),
    (
        25,
        "E flat tuba, E1, compensating or not",
        "what_is_missing_lies_a_semitone_above_the_fundamental",
        &[r#"("Eb1", "E1")"#],
    ),
    (
        26,
        "D2 on three trombones",
        "a_trombone_has_a_gap_above_its_pedals",
        &["no-such-note e", "beyond-usual-register n"],
    ),
    (27, "B1 on two trombones", "a_trombone_has_a_gap_above_its_pedals", &["no-such-note e"]),
    (
        28,
        "C2 p and ff on three trombones",
        "a_trombone_has_a_gap_above_its_pedals",
        &["no-such-note e", "extreme-register w"],
    ),
    (
        29,
        "bass trombone, E1 pp and ff",
        "trombone_pedals_and_tops_are_named",
        &["extreme-register w", "too-soft-for-register n"],
    ),
    (30, "bass trombone, E2 p for 8 s", "trombone_pedals_and_tops_are_named", &[]),
    (31, "tenor, four glissandi", "a_glissando_stays_on_one_partial_and_one_length", &["glissando-breaks w"]),
    (32, "glissando B1 to F2", "a_glissando_stays_on_one_partial_and_one_length", &["glissando-breaks w"]),
    (
        33,
        "glissandi C3 to G2 and C3 to F2",
        "a_glissando_stays_on_one_partial_and_one_length",
        &["glissando-breaks w"],
    ),
    (34, "glissando on valves", "a_glissando_stays_on_one_partial_and_one_length", &["glissando-breaks w"]),
    (35, "Bb2 to B2 in sixteenths at 120", "the_slide_takes_its_time", &["slide-travel-too-fast w"]),
    (36, "E2 to Bb2 in eighths at 100", "the_slide_takes_its_time", &["beyond-usual-register n"]),
    (37, "Bb2 to B2 in thirty-seconds at 76", "the_slide_takes_its_time", &["slide-travel-too-fast e"]),
    (38, "C tuba, F2 ff for 16 s", "a_note_lasts_no_longer_than_a_breath", &["note-longer-than-breath w"]),
    (
        39,
        "C tuba, F2 ff for 3.5 s, two players",
        "a_note_lasts_no_longer_than_a_breath",
        &["note-longer-than-breath w"],
    ),
    (40, "F#2 ff for 10.9 s", "a_note_lasts_no_longer_than_a_breath", &["note-longer-than-breath w"]),
    (41, "B1 p for 6.7 s", "a_note_lasts_no_longer_than_a_breath", &[]),
    (42, "A1 pp for 5 s", "a_note_lasts_no_longer_than_a_breath", &[]),
    (
        43,
        "C2 ff over ten and two bars",
        "a_note_lasts_no_longer_than_a_breath",
        &["note-longer-than-breath w"],
    ),
    (44, "C3 mf, a whole at 30", "a_note_lasts_no_longer_than_a_breath", &[]),
    (45, "Bb1 f with an eighth rest", "a_breath_needs_room", &["no-room-to-breathe n"]),
    (46, "Bb1 f with a half rest", "a_breath_needs_room", &[]),
    (47, "24 s of eighths, slurred or not", "a_breath_needs_room", &["phrase-longer-than-breath w"]),
    (
        48,
        "tuba and bass trombone hold together",
        "two_who_hold_too_long_breathe_together",
        &["everyone-breathes-at-once w", "note-longer-than-breath w"],
    ),
    (49, "no gap for 45, 34 and 25 s", "lips_need_rest", &["no-rest-to-recover n"]),
    (50, "A1 ff for 0.4 s", "the_lower_a_tuba_goes_the_less_it_gives", &[]),
    (51, "Bb3 f and F1 mf", "the_everyday_compass_of_a_contrabass_tuba_draws_no_remark", &[]),
    (52, "A1 fff on C and F tuba", "the_lower_a_tuba_goes_the_less_it_gives", &["too-loud-for-register n"]),
    (
        53,
        "cimbasso, D1 to A4",
        "a_cimbasso_gives_its_top_to_a_trombone",
        &["beyond-usual-register n", "out-of-range e"],
    ),
    (54, "contrabass trombone, C1 f", "trombone_pedals_and_tops_are_named", &["extreme-register w"]),
    (
        55,
        "alto, F2 and A2",
        "a_trombone_has_a_gap_above_its_pedals",
        &["no-such-note e", "beyond-usual-register n", "extreme-register w"],
    ),
    (
        56,
        "tenor, Eb5 and E1",
        "trombone_pedals_and_tops_are_named",
        &["extreme-register w", "effect-register w", "too-soft-for-register n"],
    ),
    (57, "tuba, mute in", "a_mute_takes_time", &["mute-change-too-quick e", "mute-change-too-quick n"]),
    (
        58,
        "trombone, mute in and out",
        "a_mute_takes_time",
        &["mute-change-too-quick n", "mute-change-too-quick w"],
    ),
    (59, "harmon and cup", "not_every_instrument_has_every_mute", &["no-such-mute e", "no-such-mute n"]),
    (
        60,
        "C to F tuba",
        "an_instrument_change_takes_time",
        &["instrument-change-too-quick w", "instrument-change-too-quick n"],
    ),
    (
        61,
        "tenor to bass trombone",
        "a_change_of_instruments_asked_for_in_words_takes_its_time",
        &["instrument-change-too-quick w"],
    ),
    (62, "four low pairs", "low_intervals_growl", &["interval-too-low w", "interval-too-low n"]),
    (63, "two tubas", "low_intervals_growl", &["interval-too-low w", "interval-too-low n"]),
    (64, "E1 alone and carried", "a_loud_low_note_wants_company", &["loud-low-note-alone n"]),
    (65, "tuba above bass trombone", "a_tuba_does_not_lie_above_the_bass_trombone", &["voices-crossed n"]),
    (
        66,
        "a chord in one tuba's part and in two tubas'",
        "one_part_s_chord_wants_the_players_its_name_gives",
        &["more-notes-than-players w"],
    ),
    (
        67,
        "treble clef without its transposition",
        "a_band_part_without_its_transposition_is_told",
        &["unlikely-transposition w"],
    ),
    (
        68,
        "ledger lines and an 8vb",
        "a_tubist_reads_five_lines_below_the_staff",
        &["too-many-ledger-lines n", "effect-register w", "ottava-in-part n"],
    ),
    (69, "a tuba in tenor and treble clef", "an_orchestral_tuba_part_is_in_bass_clef", &["unusual-clef n"]),
    (
        70,
        "no dynamic, no tempo",
        "a_score_without_a_mark_says_so_once",
        &["no-dynamic-yet n", "tempo-assumed n"],
    ),
    (71, "frequencies", "frequencies_follow_iso_16", &[r#"("Bb0", 29.135)"#, r#"("E1", 41.203)"#]),
    (
        72,
        "a range that no one could read is nobody's source",
        "no_profile_leans_on_a_range_that_was_not_read",
        &["Rimsky"],
    ),
    (73, "a part that cannot be told", "low_brass_that_cannot_be_told_is_said", &["Brass low => ?"]),
    (74, "names that say little", "four_tubas_beside_eight_horns_are_wagner_tubas", &["Tuba 4 => {doubt}"]),
    (
        75,
        "F tuba, F1 to B1 and below",
        "a_bass_tuba_is_at_home_from_its_fundamental_up",
        &["too-loud-for-register n", "extreme-register w", "effect-register w"],
    ),
    (
        76,
        "soft and low; tenor Wagner tuba from E2",
        "soft_playing_speaks_and_the_tenor_wagner_tuba_is_free_from_e2",
        &["extreme-register w"],
    ),
    (77, "runs and ruffs", "a_rate_of_tonguing_is_a_matter_of_six_attacks", &["too-fast-for-register w"]),
    (78, "air that nothing lets in", "air_that_cannot_be_taken_in_is_told", &["no-rest-to-recover w"]),
    (
        79,
        "F2 ff under a fermata",
        "a_fermata_is_reckoned_at_its_usual_and_its_long_value",
        &["Severity::Note", "Severity::Warning"],
    ),
    (80, "F2 ff, flutter-tongued", "a_fluttered_note_takes_more_air", &["note-longer-than-breath n"]),
    (
        81,
        "trills of slide and valves",
        "a_tone_on_the_third_partial_is_no_lip_trill",
        &["F3 is trilled with G3"],
    ),
];

/// The text of all Rust files under a folder.
fn read(folder: &Path, text: &mut String) {
    for entry in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        if entry.is_dir() {
            read(&entry, text);
        } else if entry.extension().is_some_and(|ending| ending == "rs") {
            text.push_str(&std::fs::read_to_string(entry).unwrap());
        }
    }
}

/// A test function up to the next one.
fn body_of<'t>(source: &'t str, test: &str) -> Option<&'t str> {
    let from = &source[source.find(&format!("fn {test}()"))?..];
    Some(from.split("#[test]").next().unwrap_or(from))
}

#[test]
fn each_worked_check_is_held_by_a_test_that_exists() {
    let mut text = String::new();
    for folder in ["src", "tests"] {
        read(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), &mut text);
    }
    for (number, what, test, holds) in CHECKS {
        let row = format!("{number} ({what})");
        let body = body_of(&text, test).unwrap_or_else(|| panic!("{row}: no test {test}"));
        for held in *holds {
            assert!(body.contains(held), "{row}: {test} does not hold {held}");
        }
        if holds.is_empty() {
            assert!(body.contains("&[])"), "{row}: {test} holds nothing that draws nothing");
        }
        assert!(body.contains("// "), "{row}: {test} names no source");
    }
    let numbers: Vec<u32> = CHECKS.iter().map(|check| check.0).collect();
    assert_eq!(numbers, (1..=81).collect::<Vec<u32>>());
}

#[test]
fn no_profile_leans_on_a_range_that_was_not_read() {
    // The handbook of 1913 by N. Rimsky-Korsakov gives a tuba's range in a table that no copy at hand showed: its prose
    // on spacing is read, a range of it is not invented.
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles");
    for path in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        let is_instrument =
            path.extension().is_some_and(|ending| ending == "toml") && !path.ends_with("section.toml");
        assert!(
            !is_instrument || !std::fs::read_to_string(&path).unwrap().contains("Rimsky"),
            "{}",
            path.display()
        );
    }
}

#[test]
fn a_change_of_instruments_asked_for_in_words_takes_its_time() {
    // Tenor to bass trombone, 10/5 s (proposal: no figures for low brass were found), by the words of the page.
    let change = |quarters: i64| {
        let scene = scene("tenor-trombone", &format!("=60 mf Bb3/4 | r/{quarters} | F3/4 |"));
        let mut page = scene.engraving();
        page.staves[0].words = Some((2, "to bass trombone"));
        let found = scene.found_on(&page);
        found.iter().map(|said| format!("{} {}", said.rule, &said.severity.word()[..1])).collect::<Vec<_>>()
    };
    assert_eq!(change(12), [""; 0], "12 s");
    assert_eq!(change(4), ["instrument-change-too-quick w"], "4 s");
}

#[test]
fn one_part_s_chord_wants_the_players_its_name_gives() {
    // C2 and G2 in a part called Tuba, then in one called 2 Tubas. Common practice.
    let called = |name: &str| {
        let scene = scene("contrabass-tuba-c", "=60 mf C3/4 | r/4 |");
        let mut page = scene.engraving();
        name.clone_into(&mut page.staves[0].name);
        page.staves[0].doubled = Some(0);
        let found = scene.found_on(&page);
        found.iter().map(|said| format!("{} {}", said.rule, &said.severity.word()[..1])).collect::<Vec<_>>()
    };
    assert_eq!(called("Tuba"), ["more-notes-than-players w"]);
    assert_eq!(called("2 Tubas"), [""; 0]);
}

#[test]
fn a_score_without_a_mark_says_so_once() {
    // No dynamic before the first note, no tempo anywhere. Common practice.
    let scene = scene("contrabass-tuba-c", "mf C3/2 D3 | C3/4 |");
    let mut page = scene.engraving();
    page.untimed = true;
    page.staves[0].unmarked_to = Some(1);
    let said: Vec<String> = scene
        .found_on(&page)
        .iter()
        .map(|said| format!("{} {}", said.rule, &said.severity.word()[..1]))
        .collect();
    assert_eq!(said, ["tempo-assumed n", "no-dynamic-yet n"]);
}
