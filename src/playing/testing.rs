//! Instruments and sections for tests: the built-in profiles, held by desks of one player for each part of the music.

use std::sync::Arc;

use super::{Desk, InstrumentInHand, RecognisedBy, Section};
use crate::music::{Onset, Sounding};
use crate::profile::{Mechanism, Profile, Slide, Valves, shipped};
use crate::score::testing::Music;

/// A pitch by name.
#[track_caller]
pub(crate) fn pitch(name: &str) -> Sounding {
    name.parse().expect("the name of a pitch")
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

/// A built-in profile.
#[track_caller]
pub(crate) fn instrument(name: &str) -> Profile {
    Profile::clone(&shipped().get(name).unwrap_or_else(|| panic!("no profile {name}")))
}

/// The slide of a built-in profile.
#[track_caller]
pub(crate) fn slide(name: &str) -> Slide {
    match instrument(name).mechanism.clone() {
        Mechanism::Slide(slide) => slide,
        other => panic!("{name} has no slide but {other:?}"),
    }
}

/// The valves of a built-in profile.
#[track_caller]
pub(crate) fn valves(name: &str) -> Valves {
    match instrument(name).mechanism.clone() {
        Mechanism::Valves(valves) => valves,
        other => panic!("{name} has no valves but {other:?}"),
    }
}

/// A section in which each part of the music is a desk of one player with the instrument named.
#[track_caller]
pub(crate) fn section<'m>(music: &'m Music, instruments: &[&str]) -> Section<'m> {
    let desks =
        music.score.parts.iter().zip(&music.lines).zip(instruments).map(|((part, line), name)| Desk {
            part,
            lines: vec![line.clone()],
            instruments: vec![InstrumentInHand { from: Onset::START, profile: Arc::new(instrument(name)) }],
            again: Vec::new(),
            also: Vec::new(),
            in_hand: Vec::new(),
            recognised_by: RecognisedBy::Name,
            players: 1,
            breath: 1.0,
            mutes: None,
        });
    Section {
        score: &music.score,
        desks: desks.collect(),
        limits: Arc::clone(shipped().section()),
        unrecognised: Vec::new(),
    }
}
