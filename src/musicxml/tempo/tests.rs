//! Tempo marks and words, followed to a map.

use super::*;
use crate::musicxml::tree::Tree;

fn at(quarters: i64) -> Onset {
    Onset::START + Length::whole_quarters(quarters)
}

fn tempo(quarters: f64) -> Tempo {
    Tempo::quarters_a_minute(quarters).unwrap()
}

fn sound(quarters: f64) -> TempoKind {
    TempoKind::Sound(tempo(quarters))
}

fn words(text: &str) -> Vec<TempoKind> {
    let mut phrase = super::super::words::Phrase::default();
    phrase.push_words(text);
    let meanings = super::super::words::read(&phrase).into_iter();
    let words: Vec<TempoKind> = meanings
        .filter_map(|meaning| match meaning {
            super::super::words::Meaning::Tempo(word, _) => Some(TempoKind::Words(word)),
            _ => None,
        })
        .collect();
    assert!(!words.is_empty(), "{text} says nothing of tempo");
    words
}

/// The map as "place:tempo", an arrow for a glide and a question mark for what is assumed.
fn course(events: &[(i64, Vec<TempoKind>)], end: i64) -> String {
    let events: Vec<TempoEvent> = events
        .iter()
        .flat_map(|(place, kinds)| {
            kinds.iter().map(|&kind| TempoEvent { at: at(*place), part: 0, kind, words: None })
        })
        .collect();
    let map = map(&events, at(end));
    let show = |change: &TempoChange| {
        let glide = change.glides_to.map_or(String::new(), |goal| format!("→{}", goal.get().round()));
        let assumed = if change.assumed { "?" } else { "" };
        format!("{}:{}{glide}{assumed}", change.at, change.tempo.get().round())
    };
    map.changes().iter().map(show).collect::<Vec<_>>().join(" ")
}

fn of_metronome(inside: &str) -> Option<TempoKind> {
    let text = format!("<metronome>{inside}</metronome>");
    let mut tree = Tree::default();
    tree.read(&text, 0).unwrap();
    metronome(tree.root())
}

#[test]
fn nothing_given_is_the_assumed_tempo() {
    assert_eq!(course(&[], 16), "0:120?");
}

#[test]
fn sound_goes_before_metronome_and_metronome_before_words() {
    let metronome = TempoKind::Metronome(tempo(90.0));
    let mut kinds = words("Allegro");
    assert_eq!(course(&[(0, kinds.clone())], 16), "0:132?");
    kinds.push(metronome);
    assert_eq!(course(&[(0, kinds.clone())], 16), "0:90");
    assert_eq!(course(&[(0, vec![sound(88.0), metronome])], 16), "0:88");
    assert_eq!(course(&[(0, vec![metronome, sound(88.0)])], 16), "0:88");
    assert_eq!(course(&[(0, vec![sound(88.0), sound(89.0)])], 16), "0:89");
}

#[test]
fn the_first_tempo_counts_for_the_upbeat_before_it() {
    assert_eq!(course(&[(1, vec![sound(70.0)])], 16), "0:70 1:70");
    assert_eq!(course(&[(8, vec![sound(70.0)])], 16), "0:120? 8:70");
}

#[test]
fn a_ritardando_glides_to_the_tempo_it_leads_to() {
    assert_eq!(
        course(&[(0, vec![sound(120.0)]), (8, words("rit.")), (12, vec![sound(60.0)])], 16),
        "0:120 8:120→60? 12:60"
    );
}

#[test]
fn a_ritardando_before_a_tempo_slows_by_the_share_and_the_tempo_comes_back() {
    assert_eq!(
        course(&[(0, vec![sound(100.0)]), (8, words("rit.")), (12, words("a tempo"))], 16),
        "0:100 8:100→75? 12:100"
    );
    // A faster tempo is no goal of a ritardando.
    assert_eq!(
        course(&[(0, vec![sound(100.0)]), (8, words("rall.")), (12, vec![sound(140.0)])], 16),
        "0:100 8:100→75? 12:140"
    );
}

#[test]
fn a_ritardando_that_nothing_ends_goes_as_far_as_its_reach_and_the_last_one_to_the_end() {
    assert_eq!(course(&[(0, vec![sound(100.0)]), (8, words("rit."))], 40), "0:100 8:100→75? 16:75? 40:75?");
    assert_eq!(course(&[(0, vec![sound(100.0)]), (8, words("molto rit."))], 12), "0:100 8:100→60? 12:60?");
}

#[test]
fn the_same_word_in_two_parts_is_one_change() {
    let both = [words("accel."), words("accel.")].concat();
    assert_eq!(
        course(&[(0, vec![sound(100.0)]), (8, both), (9, words("accel.")), (12, words("a tempo"))], 16),
        "0:100 8:100→125? 12:100"
    );
}

#[test]
fn meno_mosso_is_slower_at_once_and_a_tempo_within_it_goes_back_to_it() {
    let events = [
        (0, vec![sound(100.0)]),
        (4, words("Meno mosso")),
        (8, words("rit.")),
        (12, words("a tempo")),
        (16, words("Tempo I")),
    ];
    assert_eq!(course(&events, 20), "0:100 4:85? 8:85→64? 12:85? 16:100");
    let events = [(0, vec![sound(100.0)]), (4, words("ritenuto")), (8, words("a tempo"))];
    assert_eq!(course(&events, 12), "0:100 4:88? 8:100");
}

#[test]
fn a_metric_modulation_multiplies_the_tempo() {
    let events = [(0, vec![sound(60.0)]), (4, vec![TempoKind::Modulation(1.5)])];
    assert_eq!(course(&events, 8), "0:60 4:90");
}

#[test]
fn soft_words_yield_to_a_number_given_before() {
    assert_eq!(course(&[(0, vec![sound(60.0)]), (4, words("Broadly"))], 8), "0:60");
    assert_eq!(course(&[(0, words("Lively"))], 8), "0:138?");
}

#[test]
fn metronome_marks_of_all_forms_are_read() {
    let given = |quarters: f64| Some(TempoKind::Metronome(tempo(quarters)));
    let table = [
        ("<beat-unit>quarter</beat-unit><per-minute>96</per-minute>", given(96.0)),
        ("<beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>80</per-minute>", given(120.0)),
        ("<beat-unit>half</beat-unit><per-minute>c. 60</per-minute>", given(120.0)),
        ("<beat-unit>eighth</beat-unit><per-minute>112-116</per-minute>", given(57.0)),
        ("<beat-unit>quarter</beat-unit><per-minute>72,5</per-minute>", given(72.5)),
        ("<beat-unit>quarter</beat-unit><per-minute>0</per-minute>", None),
        ("<beat-unit>quarter</beat-unit><per-minute>fast</per-minute>", None),
        ("<beat-unit>fish</beat-unit><per-minute>90</per-minute>", None),
        (
            "<beat-unit>half</beat-unit><beat-unit-tied><beat-unit>eighth</beat-unit></beat-unit-tied>\
             <per-minute>40</per-minute>",
            given(100.0),
        ),
        // The former eighth lasts as long as the new quarter: twice as many quarters a minute.
        ("<beat-unit>eighth</beat-unit><beat-unit>quarter</beat-unit>", Some(TempoKind::Modulation(2.0))),
        (
            "<beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit><beat-unit-dot/>",
            Some(TempoKind::Modulation(1.5)),
        ),
        ("", None),
    ];
    for (inside, expected) in table {
        assert_eq!(of_metronome(inside), expected, "{inside}");
    }
}

#[test]
fn swing_is_left_alone() {
    let triplet = "<metronome-tuplet type=\"start\"><actual-notes>3</actual-notes>\
                   <normal-notes>2</normal-notes></metronome-tuplet>";
    let note = |value: &str, tuplet: &str| {
        format!("<metronome-note><metronome-type>{value}</metronome-type>{tuplet}</metronome-note>")
    };
    let inside = format!(
        "{0}{0}<metronome-relation>equals</metronome-relation>{1}{2}",
        note("eighth", ""),
        note("quarter", triplet),
        note("eighth", triplet)
    );
    assert_eq!(of_metronome(&inside), Some(TempoKind::Modulation(1.0)));
}

#[test]
fn a_sound_tempo_of_nothing_is_none() {
    assert_eq!(sound_tempo("0"), None);
    assert_eq!(sound_tempo("-4"), None);
    assert_eq!(sound_tempo(" 92.5 "), Some(tempo(92.5)));
}

#[test]
fn a_tempo_goes_back_behind_a_number_that_the_ritardando_came_to() {
    let events =
        [(0, vec![sound(120.0)]), (8, words("rit.")), (12, vec![sound(80.0)]), (16, words("a tempo"))];
    assert_eq!(course(&events, 20), "0:120 8:120→80? 12:80 16:120");
    // Programs write the steps of their playback.
    let events = [
        (0, vec![sound(120.0)]),
        (8, words("rit.")),
        (9, vec![sound(110.0)]),
        (10, vec![sound(100.0)]),
        (11, vec![sound(90.0)]),
        (12, words("a tempo")),
    ];
    assert_eq!(course(&events, 20), "0:120 8:120→110? 9:110 10:100 11:90 12:120");
    // A new tempo that no ritardando led to is the one to go back to.
    let events = [(0, vec![sound(120.0)]), (8, vec![sound(80.0)]), (12, words("a tempo"))];
    assert_eq!(course(&events, 20), "0:120 8:80");
    let events =
        [(0, vec![sound(120.0)]), (8, vec![sound(80.0)]), (12, words("rit.")), (16, words("a tempo"))];
    assert_eq!(course(&events, 20), "0:120 8:80 12:80→60? 16:80");
    let events =
        [(0, vec![sound(120.0)]), (4, words("Meno mosso")), (8, words("rit.")), (12, words("Tempo I"))];
    assert_eq!(course(&events, 20), "0:120 4:102? 8:102→77? 12:120");
}

#[test]
fn half_and_double_time_are_exact() {
    for (text, expected) in [
        ("Half time", "0:100 4:50"),
        ("twice as slow", "0:100 4:50"),
        ("doppio movimento", "0:100 4:200"),
        ("doppelt so langsam", "0:100 4:50"),
        ("♩ = ♪", "0:100 4:50"),
    ] {
        assert_eq!(course(&[(0, vec![sound(100.0)]), (4, words(text))], 8), expected, "{text}");
    }
}

/// Marks of parts at one place: the part, where it stands, the words.
#[track_caller]
fn everybody(marks: &[(u32, Stands, &str)]) -> Vec<u32> {
    let tops = [true, false, false, true, false];
    let mark = |(part, stands, text): &(u32, Stands, &str)| {
        let kind = text.strip_prefix("sound").map_or_else(|| words(text)[0], |_| sound(90.0));
        let mark = TempoMark {
            at: At::default(),
            passes: Passes::EVERY,
            kind,
            words: Some((*text).into()),
            stands: *stands,
        };
        (*part, mark)
    };
    let kept = for_everybody(marks.iter().map(mark).collect(), &tops);
    kept.into_iter().map(|(part, _)| part).collect()
}

#[test]
fn who_times_everybody() {
    use Stands::{Above, ForAll, Within};
    // The top of the score or of a group; not a part within.
    assert_eq!(everybody(&[(0, Above, "rit.")]), [0]);
    assert_eq!(everybody(&[(3, Above, "Largamente")]), [3]);
    assert_eq!(everybody(&[(1, Above, "largamente")]), [0_u32; 0]);
    assert_eq!(everybody(&[(4, Above, "rit.")]), [0_u32; 0]);
    // An expression below the staff of the leading part is its own.
    assert_eq!(everybody(&[(3, Within, "largamente")]), [0_u32; 0]);
    // Said to be the system's; in two parts at one place; in figures.
    assert_eq!(everybody(&[(4, ForAll, "rit.")]), [4]);
    assert_eq!(everybody(&[(1, Above, "rit."), (4, Above, "rit.")]), [1, 4]);
    assert_eq!(everybody(&[(1, Above, "rit."), (4, Above, "accel.")]), [0_u32; 0]);
    assert_eq!(everybody(&[(1, Within, "calando"), (4, Within, "calando")]), [1, 4]);
    assert_eq!(everybody(&[(4, Within, "sound")]), [4]);
    assert_eq!(everybody(&[(4, Above, "♩ = 96")]), [4]);
}

#[test]
fn a_word_acts_once_however_many_parts_print_it() {
    let event = |place: i64, part: u32, text: &str| TempoEvent {
        at: at(place),
        part,
        kind: words(text)[0],
        words: Some(text.into()),
    };
    let first = TempoEvent { at: at(0), part: 0, kind: sound(100.0), words: None };
    let tempos = |events: &[TempoEvent]| -> Vec<f64> {
        map(events, at(20)).changes().iter().map(|change| change.tempo.get().round()).collect()
    };
    let both =
        [first.clone(), event(4, 0, "Meno mosso"), event(4, 3, "Meno mosso"), event(6, 5, "meno mosso")];
    assert_eq!(tempos(&both), [100.0, 85.0]);
    // The same part says it again: slower still.
    assert_eq!(tempos(&[first, event(4, 0, "Meno mosso"), event(6, 0, "meno mosso")]), [100.0, 85.0, 72.0]);
}

#[test]
fn what_was_reckoned_from_words_keeps_them() {
    let event = |place: i64, text: &str| TempoEvent {
        at: at(place),
        part: 0,
        kind: words(text)[0],
        words: Some(text.into()),
    };
    let map = map(&[event(0, "Allegro"), event(8, "rit.")], at(20));
    let said: Vec<Option<&str>> = map
        .changes()
        .iter()
        .map(|change| change.reckoned.as_ref().map(|reckoned| reckoned.words.as_str()))
        .collect();
    assert_eq!(said, [Some("Allegro"), Some("rit."), Some("rit."), Some("rit.")]);
    let found = map.reckoned_in(at(9), at(10)).and_then(|change| change.reckoned.clone()).unwrap();
    assert_eq!((found.words.as_str(), found.at), ("rit.", at(8)));
}
