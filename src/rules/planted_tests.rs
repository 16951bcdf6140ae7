//! One fault planted in clean music, at a place drawn at random: its rule finds it there, and nothing else is called a
//! risk anywhere.
//!
//! The clean music is our own: steps in the middle of an instrument's usual span, mezzo-forte, a rest in each bar.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::testing::{Scene, instrument, scene};
use crate::finding::Severity;
use crate::music::{Dynamic, Sounding};
use crate::playing::testing::{at, pitch};
use crate::profile::{Profile, Zone, shipped};

const CC: &str = "contrabass-tuba-c";

/// A fault in one-line music, whole bars.
#[derive(Clone, Debug, Default)]
pub(super) struct Fault {
    pub(super) rule: &'static str,
    pub(super) instrument: &'static str,
    pub(super) bars: String,
    /// A lower part that plays with it: instrument and bars.
    pub(super) below: Option<(&'static str, &'static str)>,
    /// What a part that is not judged plays with it.
    pub(super) beside: Option<&'static str>,
    /// Another instrument from so many quarters into the fault.
    pub(super) change: Option<(i64, &'static str)>,
    /// Other rules that rightly speak of the same notes.
    pub(super) too: &'static [&'static str],
}

fn fault(rule: &'static str, instrument: &'static str, bars: &str) -> Fault {
    Fault { rule, instrument, bars: bars.to_owned(), ..Fault::default() }
}

/// The faults of all rules about sound, with the instruments on which they are told apart.
pub(super) fn faults() -> Vec<Fault> {
    const EXTREME: &[&str] = &["extreme-register"];
    let pair =
        |rule, upper: &str, lower| Fault { below: Some((CC, lower)), ..fault(rule, "bass-trombone", upper) };
    let also = |fault: Fault, too: &'static [&'static str]| Fault { too, ..fault };
    let quarters =
        |mark: &str, count: usize| format!("=60 {mark} {}", vec!["F2/1 F2 F2 F2 |"; count].join(" "));
    vec![
        fault("no-such-note", "tenor-trombone", "f D2/1 r/3 |"),
        fault("no-such-note", "tenor-bass-trombone", "f B1/1 r/3 |"),
        fault("no-such-note", "alto-trombone", "mf F2/1 r/3 |"),
        fault("no-such-note", "contrabass-tuba-c-4v", "mp Db1/1 r/3 |"),
        fault("no-such-note", "contrabass-tuba-b-flat", "mp B0/1 r/3 |"),
        fault("no-such-note", "sousaphone", "mp Eb1/1 r/3 |"),
        fault("no-such-note", "tenor-tuba", "mf B1/1 r/3 |"),
        fault("too-loud-for-register", CC, "=60 ff D1/1 r/3 |"),
        fault("too-loud-for-register", "cimbasso-f", "=60 fff D1/1 r/3 |"),
        fault("too-loud-for-register", "contrabass-tuba-b-flat", "=60 ff D1/1 r/3 |"),
        also(fault("too-loud-for-register", "tenor-bass-trombone", "=60 fff C2/1 r/3 |"), EXTREME),
        also(fault("too-soft-for-register", "bass-trombone", "=60 pp E1/1 r/3 |"), EXTREME),
        also(fault("too-soft-for-register", "tenor-trombone", "=60 pp E1/1 r/3 |"), &["effect-register"]),
        fault("hit-too-low", CC, "=120 f D1/1/2> r/1/2 r/3 |"),
        fault("hit-too-low", "contrabass-tuba-b-flat", "=120 f Eb1/1/2^ r/1/2 r/3 |"),
        fault("note-longer-than-breath", CC, "=60 ff F2/4~ | F2/4~ | F2/4~ | F2/2 r/2 |"),
        fault(
            "note-longer-than-breath",
            "bass-trombone",
            "=60 ff Bb2/4~ | F2/4~ | Bb2/2 r/2 |".replace('F', "Bb").as_str(),
        ),
        fault("note-longer-than-breath", "euphonium", "=60 ff F3/4~ | F3/4~ | F3/2 r/2 |"),
        fault("phrase-longer-than-breath", CC, "=60 f (F2/1 G2 A2 G2 | F2 G2 A2 G2 | F2 G2 A2) r |"),
        fault(
            "phrase-longer-than-breath",
            "tenor-trombone",
            "=60 ff (F3/1 G3 A3 G3 | F3 G3 A3 G3 | F3 G3 A3) r |",
        ),
        fault("no-room-to-breathe", CC, "=120 f Bb1/7 r/1/2 Bb1/7 r/3/2 |"),
        fault("no-rest-to-recover", CC, &quarters("f", 11)),
        fault("no-rest-to-recover", "bass-trombone", &quarters("ff", 6)),
        fault("no-rest-to-recover", CC, &"=120 fff D2/1/2 D2 D2 D2 D2 D2 D2 D2 | ".repeat(21)),
        fault("too-fast-for-register", CC, "=120 mf D1/1/4 D1 D1 D1 D1 D1 D1 D1 r/2 |"),
        fault(
            "too-fast-for-register",
            "contrabass-trombone-b-flat",
            "=160 mf Bb1/1/4 Bb1 Bb1 Bb1 Bb1 Bb1 Bb1 Bb1 r/2 |",
        ),
        fault("leap-too-wide-at-speed", CC, "=120 mf F1/1/4 A2 F1 A2 r/3 |"),
        fault("leap-too-wide-at-speed", "euphonium", "=120 mf F2/1/4 A3 F2 A3 r/3 |"),
        fault("slide-travel-too-fast", "tenor-trombone", "=120 f Bb2/1/4 B2 r/1/2 r/3 |"),
        fault("glissando-breaks", "tenor-trombone", "mf F3/1% Bb2 r/2 |"),
        fault("glissando-breaks", "bass-trombone", "mf B1/1% F2 r/2 |"),
        fault("glissando-breaks", CC, "mf F2/1% C2 r/2 |"),
        fault("glissando-breaks", "cimbasso-f", "mf F2/1% C2 r/2 |"),
        fault("trill-not-playable", "tenor-trombone", "mf F3/2t r/2 |"),
        fault("trill-not-playable", "bass-trombone", "mf C3/2t r/2 |"),
        fault("technique-not-there", "tenor-trombone", "mf D3/2+ r/2 |"),
        fault("technique-not-there", CC, "mf D2/2+ r/2 |"),
        fault("sharp-valve-combination", "contrabass-tuba-c-4v", "=60 mf D1/1 r/3 |"),
        also(fault("sharp-valve-combination", "sousaphone", "=60 mf E1/1 r/3 |"), EXTREME),
        also(fault("sharp-valve-combination", "euphonium", "=60 mf B1/1 r/3 |"), EXTREME),
        Fault {
            change: Some((3, "bass-tuba-f")),
            ..fault("instrument-change-too-quick", CC, "=60 mf C2/1 r/2 C3/1 |")
        },
        Fault {
            change: Some((3, "bass-trombone")),
            ..fault("instrument-change-too-quick", "tenor-trombone", "=60 mf Bb3/1 r/2 F3/1 |")
        },
        fault(
            "mute-change-too-quick",
            CC,
            "=60 mf F2/2 r/2 | [straight] F2/2 r/2 | r/4 | r | r | r | [open] F2/1 r/3 |",
        ),
        fault(
            "mute-change-too-quick",
            "tenor-trombone",
            "=60 mf F3/2 r/2 | r/4 | [straight] F3/2 r/2 | [open] F3/1 r/3 |",
        ),
        fault(
            "no-such-mute",
            CC,
            "=60 r/4 | r | r | r | [harmon] F2/1 r/3 | r/4 | r | r | r | [open] F2/1 r/3 |",
        ),
        pair("interval-too-low", "mf Eb2/2 r/2 |", "mf C2/2 r/2 |"),
        pair("interval-too-low", "mf C2/2 r/2 |", "mf F1/2 r/2 |"),
        pair("voices-crossed", "mf F2/2 r/2 |", "mf C3/2 r/2 |"),
        also(
            pair("everyone-breathes-at-once", "=60 ff G2/12 r/4 |", "ff G1/12 r/4 |"),
            &["note-longer-than-breath"],
        ),
        Fault { beside: Some("f E6/2 r/2 |"), ..fault("loud-low-note-alone", CC, "=60 f E1/2 r/2 |") },
    ]
}

/// What a note off the everyday zone draws.
pub(super) const RULES_OF_ZONES: [&str; 4] =
    ["beyond-usual-register", "effect-register", "extreme-register", "out-of-range"];

/// A short note in each zone that asks for a remark, and beyond both ends; on every instrument.
fn in_every_zone(draw: &mut Draw) -> Vec<Fault> {
    let mut all = Vec::new();
    for profile in shipped().iter() {
        let name: &'static str = Box::leak(profile.name.clone().into_boxed_str());
        let mut add = |rule, pitch: Sounding| {
            let mark = fitting(profile, pitch);
            let too: &[&str] = &["no-such-note"];
            all.push(Fault { too, ..fault(rule, name, &format!("=120 {mark} {pitch}/1/2 r/7/2 |")) });
        };
        let range = &profile.range;
        let (low, high) = (range.bottom().height().in_cents() / 100, range.top.height().in_cents() / 100);
        add("out-of-range", at((low - 2 - draw.below(2)) * 100));
        add("out-of-range", at((high + 2 + draw.below(3)) * 100));
        for (zone, rule) in [
            (Zone::Effect, "effect-register"),
            (Zone::ExtremeLow, "extreme-register"),
            (Zone::ExtremeHigh, "extreme-register"),
        ] {
            let there: Vec<i32> =
                (low..=high).filter(|&note| range.zone_at(at(note * 100)) == Some(zone)).collect();
            if let Some(&note) = there.get(draw.index(there.len())) {
                add(rule, at(note * 100));
            }
        }
        let above = at(range.usual.1.height().in_cents() + 100);
        if range.zone_at(above) == Some(Zone::Comfortable) {
            add("beyond-usual-register", above);
        }
    }
    all
}

/// A mark that a register gives: mezzo-forte where it does.
fn fitting(profile: &Profile, pitch: Sounding) -> Dynamic {
    let mf: Dynamic = Dynamic::Mf;
    profile.loudness.at(pitch).map_or(mf, |row| mf.max(*row.floor).min(*row.ceiling))
}

/// Numbers drawn from a seed.
pub(super) struct Draw(pub(super) u64);

impl Draw {
    pub(super) fn index(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).expect("31 bits") % count.max(1)
    }

    fn below(&mut self, limit: i32) -> i32 {
        let limit = usize::try_from(limit).expect("not below 0");
        i32::try_from(self.index(limit)).expect("below the limit")
    }
}

/// So many bars of steps in the middle of the usual span.
pub(super) fn clean(name: &str, bars: usize, draw: &mut Draw) -> String {
    let (low, high) = *instrument(name).range.usual;
    let (low, high) = (low.height().in_cents() / 100, high.height().in_cents() / 100);
    let (low, high) = (low + (high - low) / 3, high - (high - low) / 3);
    let mut note = low + draw.below(high - low + 1);
    let mut step = || {
        note = (note + draw.below(5) - 2).clamp(low, high);
        at(note * 100).to_string()
    };
    let bar = |_| format!("{}/1 {} {} r/1 |", step(), step(), step());
    (0..bars).map(bar).collect::<Vec<_>>().join(" ")
}

pub(super) fn planted(fault: &Fault, draw: &mut Draw) -> (Scene, std::ops::Range<u32>) {
    let before = 1 + draw.index(6);
    let rests = vec!["r/4 |"; before].join(" ");
    let music = format!(
        "=100 mf {} r/4 | {} =100 mf r/4 | {}",
        clean(fault.instrument, before - 1, draw),
        fault.bars,
        if fault.change.is_some() { String::new() } else { clean(fault.instrument, 3, draw) }
    );
    let mut made = scene(fault.instrument, &music);
    if let Some((quarters, to)) = fault.change {
        made = made.change(before as i64 * 4 + quarters, to);
    }
    if let Some((instrument, bars)) = fault.below {
        made = made.and(instrument, &format!("{rests} {bars} r/4 |"));
    }
    if let Some(bars) = fault.beside {
        made = made.beside("Flute", &format!("{rests} {bars}"));
    }
    let from = before as u32;
    (made, from..from + fault.bars.matches('|').count() as u32)
}

/// What is wrong with what is said of a planted fault.
fn wrong(fault: &Fault, draw: &mut Draw) -> Option<String> {
    let (scene, there) = planted(fault, draw);
    let found = scene.findings();
    let inside = |bar: u32| there.contains(&bar);
    let is_it = |rule: &str| rule == fault.rule || fault.too.contains(&rule);
    let spoke = found.iter().any(|said| inside(said.place.bar_index) && is_it(said.rule));
    let own = found.iter().any(|said| said.rule == fault.rule) || fault.too.contains(&"no-such-note");
    let astray: Vec<String> = found
        .iter()
        .filter(|said| said.severity > Severity::Note || said.rule == fault.rule)
        .filter(|said| !(inside(said.place.bar_index) && is_it(said.rule)))
        .map(|said| format!("{} bar {}: {}", said.rule, said.place.bar, said.message))
        .collect();
    let all: Vec<&str> = found.iter().map(|said| said.rule).collect();
    (!spoke || !own || !astray.is_empty()).then(|| {
        format!(
            "{} on {}: {}\nin {there:?}: {all:?}\nastray: {astray:?}",
            fault.rule, fault.instrument, fault.bars
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn a_planted_fault_is_found_where_it_is_and_nothing_else(seed in any::<u64>()) {
        let mut draw = Draw(seed);
        let told: Vec<String> = faults().iter().filter_map(|fault| wrong(fault, &mut draw)).collect();
        prop_assert!(told.is_empty(), "{}", told.join("\n\n"));
    }

    #[test]
    fn a_note_outside_the_everyday_is_found_on_every_instrument(seed in any::<u64>()) {
        let mut draw = Draw(seed);
        let told: Vec<String> = in_every_zone(&mut draw).iter().filter_map(|fault| wrong(fault, &mut draw)).collect();
        prop_assert!(told.is_empty(), "{}", told.join("\n\n"));
    }

    #[test]
    fn clean_music_draws_no_remark_on_any_instrument(seed in any::<u64>()) {
        let mut draw = Draw(seed);
        for profile in shipped().iter() {
            let music = format!("=100 mf {}", clean(&profile.name, 12, &mut draw));
            let said = scene(&profile.name, &music).says();
            prop_assert!(said.is_empty(), "{}: {said:?}\n{music}", profile.name);
        }
    }
}

#[test]
fn a_note_is_planted_in_every_zone() {
    let planted: BTreeSet<&str> = in_every_zone(&mut Draw(1)).iter().map(|fault| fault.rule).collect();
    assert_eq!(planted, RULES_OF_ZONES.into());
    assert_eq!(pitch("C4").height().in_cents(), 6000, "pitches are drawn in semitones of 100 cents");
}
