//! Faults planted on the page: the same faults in MusicXML under every circumstance that a file brings, and the
//! faults of the page itself. The rule finds its fault where it is, once for each, and nothing else is said at all.

use std::collections::BTreeSet;
use std::ops::Range;

use super::engraving::{Engraving, Staff};
use super::planted_tests::{Draw, RULES_OF_ZONES, clean, faults, planted};
use super::testing::{Scene, instrument, scene};
use super::{RULES, Scope};
use crate::finding::Finding;

/// What stands around a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Around {
    Nothing,
    KeySignature,
    PickupBar,
    Repeat,
    CompoundMetre,
    Transposition,
    TwoPlayers,
    Doubling,
}

const AROUND: &[Around] = &[
    Around::Nothing,
    Around::KeySignature,
    Around::PickupBar,
    Around::Repeat,
    Around::CompoundMetre,
    Around::Transposition,
    Around::TwoPlayers,
    Around::Doubling,
];

/// A fault in its scene and on its page; the bars where it is.
struct Case {
    rule: &'static str,
    too: &'static [&'static str],
    scene: Scene,
    page: Engraving,
    there: Range<u32>,
}

/// The same under other circumstances; `None` where they cannot be or the fault is none there.
fn under(around: Around, name: &str, mut case: Case) -> Option<Case> {
    match around {
        Around::Nothing => {}
        Around::KeySignature => case.page.fifths = -5,
        Around::PickupBar => {
            case.page.pickup = true;
            // What is said of the whole score is said of its first bar.
            if !["tempo-assumed", "instrument-not-recognised"].contains(&case.rule) {
                case.there = case.there.start + 1..case.there.end + 1;
            }
        }
        Around::Repeat => case.page.repeated = case.there.start as usize,
        Around::CompoundMetre => case.page.compound = true,
        Around::Transposition => {
            let notation = &instrument(name).notation;
            let other = notation.traditions.iter().find(|tradition| tradition.written_above % 12 != 0)?;
            case.page.staves[0].clef = other.clef;
            case.page.staves[0].above = other.written_above;
        }
        Around::TwoPlayers => {
            // The other player doubles every note.
            if case.rule == "loud-low-note-alone" {
                return None;
            }
            case.scene = case.scene.players(2);
            // Both read the same notes: where one runs out of breath, so does the other, and nothing else sounds.
            if case.rule.ends_with("-longer-than-breath") {
                case.too = &["everyone-breathes-at-once"];
            }
        }
        Around::Doubling => {
            // Whoever is doubled is not alone, and does not breathe with everybody.
            if ["loud-low-note-alone", "everyone-breathes-at-once"].contains(&case.rule) {
                return None;
            }
            case.scene = case.scene.doubled_by("Double Bass");
            case.page.staves.push(Staff::new("Double Bass", Staff::BASS));
        }
    }
    Some(case)
}

fn told(found: &[Finding]) -> String {
    let lines = found.iter().map(|said| format!("  {} bar {}: {}", said.rule, said.place.bar, said.message));
    lines.collect::<Vec<_>>().join("\n")
}

/// What is wrong with what is said of a case.
fn wrong(case: &Case) -> Option<String> {
    let found = case.scene.found_on(&case.page);
    // Where a pedal stands on the page is a remark of its own.
    let of_it = |rule: &str| rule == case.rule || case.too.contains(&rule) || rule == "too-many-ledger-lines";
    let right = |said: &&Finding| case.there.contains(&said.place.bar_index) && of_it(said.rule);
    let own = found.iter().any(|said| said.rule == case.rule);
    let astray = found.iter().filter(|said| !right(said)).count();
    (!own || astray > 0)
        .then(|| format!("{} in {:?}, {astray} astray:\n{}", case.rule, case.there, told(&found)))
}

#[test]
fn a_planted_fault_is_found_whatever_stands_around_it() {
    let mut wrongs = Vec::new();
    for around in AROUND {
        let mut draw = Draw(7);
        for fault in faults().iter().filter(|fault| fault.change.is_none()) {
            let (scene, there) = planted(fault, &mut draw);
            let page = scene.engraving();
            let case = Case { rule: fault.rule, too: fault.too, scene, page, there };
            let Some(case) = under(*around, fault.instrument, case) else { continue };
            wrongs.extend(wrong(&case).map(|wrong| format!("{around:?}, {}: {wrong}", fault.instrument)));
        }
    }
    assert!(wrongs.is_empty(), "{}", wrongs.join("\n"));
}

/// Bars of an instrument at home with a fault of the page among them.
fn page_faults() -> Vec<(Case, &'static str)> {
    const CC: &str = "contrabass-tuba-c";
    const TENOR: &str = "tenor-bass-trombone";
    let (before, bar) = (3, 3);
    let with = |rule, instrument: &'static str, fault: &str, alter: &dyn Fn(&mut Engraving)| {
        let mut draw = Draw(11);
        let (first, last) = (clean(instrument, before, &mut draw), clean(instrument, 3, &mut draw));
        let scene = scene(instrument, &format!("=100 mf {first} {fault} {last}"));
        let mut page = scene.engraving();
        alter(&mut page);
        (Case { rule, too: &[], scene, page, there: 3..4 }, instrument)
    };
    let of_whole = |(mut case, instrument): (Case, &'static str)| {
        case.there = 0..1;
        (case, instrument)
    };
    let mut all = vec![
        with("too-many-ledger-lines", TENOR, "Bb4/1 r/3 |", &|_| ()),
        with("too-many-ledger-lines", "euphonium", "Bb4/1 r/3 |", &|_| ()),
        with("ottava-in-part", CC, "E1/2 r/2 |", &|page| page.staves[0].under_ottava = Some(bar)),
        with("ottava-in-part", "bass-trombone", "C2/2 r/2 |", &|page| {
            page.staves[0].under_ottava = Some(bar);
        }),
        with("unusual-clef", CC, "C3/1 D3 C3 r |", &|page| {
            page.staves[0].other_clef = Some((bar..bar + 1, Staff::TENOR));
        }),
        with("unusual-clef", "cimbasso-f", "C2/1 D2 C2 r |", &|page| {
            page.staves[0].other_clef = Some((bar..bar + 1, Staff::TREBLE));
        }),
        with("read-around", CC, "C3/1 D3 C3 r |", &|page| page.overfull = Some(bar)),
        of_whole(with("no-dynamic-yet", CC, "C3/1 D3 C3 r |", &|page| {
            page.staves[0].unmarked_to = Some(bar);
        })),
        of_whole(with("no-dynamic-yet", TENOR, "C3/1 D3 C3 r |", &|page| {
            page.staves[0].unmarked_to = Some(0);
        })),
        of_whole(with("tempo-assumed", CC, "C3/1 D3 C3 r |", &|page| page.untimed = true)),
    ];
    for (instrument, low) in [(CC, "C2"), (TENOR, "Bb2"), ("bass-trombone", "Bb2"), ("euphonium", "Bb2")] {
        all.push(with("more-notes-than-players", instrument, &format!("{low}/1 r/3 |"), &|page| {
            page.staves[0].doubled = Some(bar);
        }));
    }
    // As an E-flat bass of a British brass band is written, with nothing that says so.
    let scale = "C2/1 D2 E2 F2 | G2 A2 B2 C3 | D3 C3 B2 A2 |";
    let lost = scene("bass-tuba-e-flat", &format!("=100 mf {scale}"));
    let mut page = lost.engraving();
    page.staves[0] = Staff { above: 21, says_so: false, ..Staff::new(&page.staves[0].name, Staff::TREBLE) };
    let case = Case { rule: "unlikely-transposition", too: &[], scene: lost, page, there: 0..1 };
    all.push((case, "bass-tuba-e-flat"));
    // Low brass by its name, and nobody knows which.
    let nobody = scene("", &format!("=100 mf {scale}"));
    let page = Engraving { staves: vec![Staff::new("Brass low", Staff::BASS)], ..Engraving::default() };
    all.push((Case { rule: "instrument-not-recognised", too: &[], scene: nobody, page, there: 0..1 }, ""));
    all
}

#[test]
fn a_fault_of_the_page_is_found_whatever_stands_around_it() {
    let mut wrongs = Vec::new();
    for around in AROUND {
        for (case, instrument) in page_faults() {
            let is_one_of = |rules: &[&str]| rules.contains(&case.rule);
            let none_there = match around {
                // Two players read two notes, and a player is told of by name only where there is an instrument.
                Around::TwoPlayers => is_one_of(&["more-notes-than-players", "instrument-not-recognised"]),
                // Under another clef and transposition these are other faults.
                Around::Transposition => is_one_of(&[
                    "unusual-clef",
                    "ottava-in-part",
                    "too-many-ledger-lines",
                    "unlikely-transposition",
                    "instrument-not-recognised",
                ]),
                _ => false,
            };
            if none_there {
                continue;
            }
            let Some(case) = under(*around, instrument, case) else { continue };
            wrongs.extend(wrong(&case).map(|wrong| format!("{around:?}, {instrument}: {wrong}")));
        }
    }
    assert!(wrongs.is_empty(), "{}", wrongs.join("\n"));
}

#[test]
fn two_notes_at_once_are_no_fault_where_two_players_read_the_part() {
    let doubled = |(case, _): &(Case, &str)| case.rule == "more-notes-than-players";
    for (case, instrument) in page_faults().into_iter().filter(doubled) {
        let case = under(Around::TwoPlayers, instrument, case).expect("two players");
        let found = case.scene.found_on(&case.page);
        assert!(found.is_empty(), "{instrument}\n{}", told(&found));
    }
}

#[test]
fn clean_music_on_the_page_draws_no_remark_whatever_stands_around_it() {
    for around in AROUND {
        let mut draw = Draw(3);
        for instrument in
            ["contrabass-tuba-c", "tenor-trombone", "bass-trombone", "euphonium", "bass-tuba-e-flat"]
        {
            let scene = scene(instrument, &format!("=100 mf {}", clean(instrument, 8, &mut draw)));
            let page = scene.engraving();
            let case = Case { rule: "", too: &[], scene, page, there: 2..3 };
            let Some(case) = under(*around, instrument, case) else { continue };
            let found = case.scene.found_on(&case.page);
            assert!(found.is_empty(), "{around:?}, {instrument}\n{}", told(&found));
        }
    }
}

#[test]
fn every_rule_of_music_is_planted() {
    let mut planted: BTreeSet<&str> = faults().iter().map(|fault| fault.rule).collect();
    planted.extend(page_faults().iter().map(|(case, _)| case.rule));
    planted.extend(RULES_OF_ZONES);
    let of_music = RULES.iter().filter(|rule| !matches!(rule.scope, Scope::Settings)).map(|rule| rule.name);
    let missing: Vec<&str> = of_music.filter(|name| !planted.contains(name)).collect();
    assert_eq!(missing, [""; 0]);
}
