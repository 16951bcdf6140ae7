//! Horns and desks made by hand, so that the computations are tested apart from the profiles' files.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::{Desk, HornInHand, RecognisedBy, Section};
use crate::music::{BreathShare, Dynamic, Litres, Onset, Seconds, Sounding};
use crate::profile::{
    Agility, Attachment, Breath, Changes, Family, Loudness, LoudnessRow, LoudnessSteps, Mechanism, Notation,
    Profile, Range, Recognise, RestLimits, SectionLimits, Slide, Sustain, SustainRow, Valves, Zone, ZoneRow,
};
use crate::score::Mute;
use crate::score::testing::Music;

/// A pitch by name.
#[track_caller]
pub(crate) fn pitch(name: &str) -> Sounding {
    name.parse().expect("the name of a pitch")
}

/// A contrabass tuba in C with five valves.
pub(crate) fn tuba() -> Profile {
    use Zone::{Comfortable, Effect, ExtremeHigh};
    Profile {
        name: "contrabass-tuba-c".into(),
        title: "Contrabass tuba in C".into(),
        a_title: "a contrabass tuba in C".into(),
        family: Family::Tuba,
        recognise: Recognise::default(),
        mechanism: Mechanism::Valves(valves("C1", &[2.0, 1.0, 3.0, 5.0, 2.62], false)),
        range: range(&[("G0", Effect), ("D1", Comfortable), ("Eb4", ExtremeHigh)], "F4", ("D1", "C4")),
        loudness: loudness(&[
            ("G0", "p", "mp"),
            ("D1", "p", "mf"),
            ("E1", "p", "f"),
            ("G1", "pp", "ff"),
            ("D2", "pp", "fff"),
            ("C#4", "mp", "ff"),
        ]),
        sustain: sustain(),
        breath: Breath {
            quick: (Seconds::new(0.5), BreathShare::new(0.53)),
            full: (Seconds::new(0.94), BreathShare::FULL),
            shortest: Seconds::new(0.15),
            stolen: Seconds::new(0.3),
            stolen_share: 0.75,
            long_note: 4.0,
        },
        agility: Agility {
            single_tongue: Seconds::new(0.105),
            double_tongue: Some(Seconds::new(0.083)),
            cycles: 5.0,
            slowness: 1.0,
            leaps: vec![(12.0, Seconds::new(0.2)), (24.0, Seconds::new(0.4))],
        },
        changes: Changes {
            mutes: vec![(Mute::Straight, false), (Mute::Cup, true), (Mute::Bucket, true)],
            mute_in: (Seconds::new(10.0), Seconds::new(6.0)),
            mute_out: (Seconds::new(8.0), Seconds::new(5.0)),
            pick_up: (Seconds::new(12.0), Seconds::new(6.0)),
        },
        notation: Notation {
            clefs: Vec::new(),
            traditions: Vec::new(),
            ledger_lines_below: 5,
            ledger_lines_above: 3,
            ottava_from: pitch("D1"),
        },
        sources: BTreeMap::new(),
        cited: Vec::new(),
    }
}

/// A bass tuba in F.
pub(crate) fn f_tuba() -> Profile {
    use Zone::{Comfortable, Effect, ExtremeHigh, ExtremeLow};
    Profile {
        name: "bass-tuba-f".into(),
        title: "Bass tuba in F".into(),
        a_title: "a bass tuba in F".into(),
        mechanism: Mechanism::Valves(valves("F1", &[2.0, 1.0, 3.0, 5.0, 2.62, 1.32], false)),
        range: range(
            &[("A0", Effect), ("F#1", ExtremeLow), ("Bb1", Comfortable), ("F#4", ExtremeHigh)],
            "Ab4",
            ("C2", "F4"),
        ),
        loudness: loudness(&[
            ("A0", "p", "mp"),
            ("F#1", "p", "mf"),
            ("A1", "pp", "ff"),
            ("F#2", "pp", "fff"),
            ("E4", "mp", "ff"),
        ]),
        ..tuba()
    }
}

/// A trombone with the attachments named, of those a bass trombone has.
pub(crate) fn trombone(attachments: &[&str]) -> Profile {
    use Zone::{Comfortable, Effect, ExtremeHigh};
    Profile {
        name: "trombone".into(),
        title: "Trombone".into(),
        a_title: "a trombone".into(),
        family: Family::Trombone,
        mechanism: Mechanism::Slide(slide("Bb1", attachments)),
        range: range(&[("Bb0", Effect), ("E2", Comfortable), ("B4", ExtremeHigh)], "F5", ("A2", "Bb4")),
        loudness: loudness(&[
            ("Bb0", "mf", "f"),
            ("E2", "pp", "ff"),
            ("G2", "pp", "fff"),
            ("B4", "mp", "ff"),
        ]),
        ..tuba()
    }
}

/// A slide of seven positions.
pub(crate) fn slide(fundamental: &str, attachments: &[&str]) -> Slide {
    let attachments = attachments.iter().map(|name| {
        let (fundamental, positions) = match *name {
            "F" => ("F1", 6),
            "Gb" => ("Gb1", 6),
            "D" => ("D1", 5),
            other => panic!("no attachment {other}"),
        };
        Attachment {
            name: (*name).to_owned(),
            fundamental: pitch(fundamental),
            positions,
            last_is_long: positions == 6,
        }
    });
    Slide {
        fundamental: pitch(fundamental),
        positions: 7,
        attachments: attachments.collect(),
        highest_partial: 12,
        travel_warning: 2.5,
        travel_error: 5.0,
        sound_speed: 345.0,
        lip: 20.0,
    }
}

/// Valves on a horn.
pub(crate) fn valves(fundamental: &str, semitones: &[f64], compensating: bool) -> Valves {
    Valves {
        fundamental: pitch(fundamental),
        semitones: semitones.to_vec(),
        compensating,
        highest_partial: 12,
        sharp_note: 30.0,
        sharp_warning: 50.0,
        sharp_missing: 100.0,
        held_for: Seconds::new(0.5),
    }
}

/// Limits of a section.
pub(crate) fn limits() -> SectionLimits {
    SectionLimits {
        loudness_steps: LoudnessSteps { note: 1, warning: 2, error_in_effect: 3 },
        low_intervals: Vec::new(),
        interval_shortest: Seconds::new(0.25),
        rest: RestLimits {
            window: Seconds::new(180.0),
            share_note: 0.5,
            share_warning: 0.7,
            gap: Seconds::new(0.3),
            run: Seconds::new(40.0),
            loud_run: Seconds::new(20.0),
            loud_from: Dynamic::Ff,
            high_run: Seconds::new(8.0),
        },
        doubling_share: 0.5,
        alone_from: Dynamic::F,
        alone_below: pitch("C2"),
        alone_longest: Seconds::new(1.0),
        move_leap: 12.0,
        change_bars: 1,
        sources: BTreeMap::new(),
        cited: Vec::new(),
    }
}

/// A section in which each part of the music is a desk of one player with the horn given.
pub(crate) fn section<'m>(music: &'m Music, horns: &[Profile]) -> Section<'m> {
    let desks = music.score.parts.iter().zip(&music.lines).zip(horns).map(|((part, line), horn)| Desk {
        part,
        lines: vec![line.clone()],
        horns: vec![HornInHand { from: Onset::START, profile: Arc::new(horn.clone()) }],
        also: Vec::new(),
        recognised_by: RecognisedBy::Name,
        players: 1,
        breath: 1.0,
    });
    Section {
        score: &music.score,
        desks: desks.collect(),
        limits: Arc::new(limits()),
        unrecognised: Vec::new(),
    }
}

fn range(rows: &[(&str, Zone)], top: &str, usual: (&str, &str)) -> Range {
    Range {
        rows: rows.iter().map(|&(from, zone)| ZoneRow { from: pitch(from), zone }).collect(),
        top: pitch(top),
        usual: (pitch(usual.0), pitch(usual.1)),
        beyond_usual: None,
    }
}

fn loudness(rows: &[(&str, &str, &str)]) -> Loudness {
    let level = |text: &str| text.parse().expect("a dynamic");
    Loudness {
        rows: rows
            .iter()
            .map(|&(from, floor, ceiling)| LoudnessRow {
                from: pitch(from),
                floor: level(floor),
                ceiling: level(ceiling),
            })
            .collect(),
        hit_longest: Seconds::new(0.5),
        hit_from: Dynamic::F,
        hit_ceiling: Dynamic::F,
        muted_steps: 1,
    }
}

/// Flow 2.5 L/s × (f / 43.65)^−0.74 × k, held below 2.7 L/s, against 4.0 L: a proposal after figures of A. Jacobs
/// (Chicago, 1959/60) and of Fréour, Causse and Cossette (2010).
fn sustain() -> Sustain {
    let at = |name: &str| {
        let flow = 2.5 * (pitch(name).hertz() / 43.653_528_929_125_49).powf(-0.74);
        let seconds = [0.12, 0.22, 0.35, 0.5, 0.7, 1.0].map(|k| 4.0 / f64::min(flow * k, 2.7));
        SustainRow { at: pitch(name), seconds: seconds.to_vec() }
    };
    Sustain {
        rows: ["Bb0", "C1", "F1", "Bb1", "C2", "F2", "Bb2", "F3", "Bb3"].map(at).into(),
        dynamics: vec![Dynamic::Pp, Dynamic::P, Dynamic::Mf, Dynamic::F, Dynamic::Ff, Dynamic::Fff],
        usable: Litres::new(4.0),
        unmarked: Dynamic::Mf,
    }
}

/// The pitch so many cents above MIDI note 0, spelled with sharps.
pub(crate) fn at(cents: i32) -> Sounding {
    use crate::music::{Alter, Step};
    let places = [0, 0, 1, 1, 2, 3, 3, 4, 4, 5, 5, 6];
    let step = Step::ALL[places[usize::try_from(cents.div_euclid(100).rem_euclid(12)).expect("below 12")]];
    let octave = i8::try_from(cents.div_euclid(1200) - 1).expect("a low octave");
    let natural = Sounding::new(step, Alter::NATURAL, octave);
    let alter = cents - natural.height().in_cents();
    Sounding::new(step, Alter::cents(i16::try_from(alter).expect("an alteration")), octave)
}
