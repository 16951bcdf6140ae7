//! What an instrument is as ground: each semitone of its compass with how it lies and how loud it goes.

use super::{Footing, Ground, Rung};
use crate::music::Sounding;
use crate::playing::{slide, valves};
use crate::profile::{Mechanism, Profile, Zone};

/// The ground of an instrument.
pub(in crate::report) fn ground(profile: &Profile) -> Ground {
    let rungs = semitones(profile.range.bottom(), *profile.range.top).filter_map(|pitch| {
        let row = profile.loudness.at(pitch)?;
        Some(Rung {
            midi: midi(pitch),
            footing: footing(profile, pitch)?,
            floor: *row.floor as i32,
            ceiling: *row.ceiling as i32,
        })
    });
    Ground { name: profile.name.clone(), title: profile.title.clone(), rungs: rungs.collect() }
}

/// How a pitch lies on an instrument; `None` outside its compass.
pub(in crate::report) fn footing(profile: &Profile, pitch: Sounding) -> Option<Footing> {
    let (lowest, highest) = *profile.range.usual;
    Some(match profile.range.zone_at(pitch)? {
        _ if !gives(&profile.mechanism, pitch) => Footing::Missing,
        Zone::Comfortable if (lowest..=highest).contains(&pitch) => Footing::Usual,
        Zone::Comfortable => Footing::Beyond,
        Zone::ExtremeLow | Zone::ExtremeHigh => Footing::Extreme,
        Zone::Effect => Footing::Effect,
    })
}

/// All semitones of a compass, with sharps and flats as brass players write them.
pub(in crate::report) fn semitones(bottom: Sounding, top: Sounding) -> impl Iterator<Item = Sounding> {
    (midi(bottom)..=midi(top)).filter_map(|number| name(number).parse().ok())
}

/// A MIDI note number as brass players name it: "Bb0", "F#2".
pub(in crate::report) fn name(midi: i32) -> String {
    const NAMES: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    let name = NAMES[usize::try_from(midi.rem_euclid(12)).unwrap_or(0)];
    format!("{name}{}", midi.div_euclid(12) - 1)
}

fn midi(pitch: Sounding) -> i32 {
    pitch.height().in_cents().div_euclid(100)
}

fn gives(mechanism: &Mechanism, pitch: Sounding) -> bool {
    match mechanism {
        Mechanism::Slide(slide) => slide::playable(slide, pitch),
        Mechanism::Valves(valves) => valves::fingering(valves, pitch).is_some(),
        Mechanism::Keys { .. } => true,
    }
}
