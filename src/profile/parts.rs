//! What a file says of a player, each value present or left out; what is left out is taken from further down: a profile's
//! from its family's, that from what every player has in common.

use super::{Agility, Breath, Changes, HitLimits, Law, SlideLimits, ValveLimits};
use super::{Flow, FlowShare, Loudness};
use crate::finding::Sourced;
use crate::music::{BreathShare, Dynamic, Litres, Seconds};
use crate::score::Mute;

/// The key of a value that no file gives.
pub(super) type Left = &'static str;

macro_rules! part {
    ($(#[$doc:meta])* $part:ident makes $whole:ident { $($field:ident: $kind:ty = $key:literal,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, Default)]
        pub(super) struct $part { $(pub(super) $field: Option<$kind>,)* }

        impl $part {
            /// What is said here, and what is left out as it is said below.
            pub(super) fn or(self, below: &$part) -> $part {
                $part { $($field: self.$field.or_else(|| below.$field.clone()),)* }
            }

            /// The whole, or the first key that is left out.
            pub(super) fn complete(self) -> Result<$whole, Left> {
                Ok($whole { $($field: self.$field.ok_or($key)?,)* })
            }
        }
    };
}

/// What a profile adds to its rows of loudness.
#[derive(Clone, Debug)]
pub(super) struct Strokes {
    pub(super) hit: Sourced<HitLimits>,
    pub(super) muted_steps: Sourced<i32>,
}

impl Strokes {
    pub(super) fn with(self, rows: Vec<super::LoudnessRow>) -> Loudness {
        Loudness { rows, hit: self.hit, muted_steps: self.muted_steps }
    }
}

part!(
    /// How long a breath lasts.
    LawPart makes Law {
        usable: Sourced<Litres> = "sustain.usable",
        flow: Sourced<Flow> = "sustain.flow",
        shares: Vec<Sourced<FlowShare>> = "sustain.shares",
        unmarked: Sourced<Dynamic> = "sustain.unmarked",
    }
);
part!(
    /// How it is taken.
    BreathPart makes Breath {
        quick: Sourced<(Seconds, BreathShare)> = "breath.quick",
        full: Sourced<(Seconds, BreathShare)> = "breath.full",
        shortest: Sourced<Seconds> = "breath.shortest",
        stolen: Sourced<Seconds> = "breath.stolen",
        stolen_share: Sourced<f64> = "breath.stolen_share",
        stolen_long: Sourced<f64> = "breath.stolen_long",
        long_note: Sourced<f64> = "breath.long_note",
    }
);
part!(
    /// How fast an instrument speaks and moves.
    AgilityPart makes Agility {
        single_tongue: Sourced<Seconds> = "agility.single_tongue",
        double_tongue: Sourced<Option<Seconds>> = "agility.double_tongue",
        cycles: Sourced<f64> = "agility.response",
        slowness: Sourced<f64> = "agility.slowness",
        leaps: Vec<Sourced<(f64, Seconds)>> = "agility.leaps",
    }
);
part!(
    /// Mutes and pick-up times.
    ChangesPart makes Changes {
        mutes: Vec<Sourced<(Mute, bool)>> = "changes.mutes",
        mute_in: Sourced<(Seconds, Seconds)> = "changes.mute_in",
        mute_out: Sourced<(Seconds, Seconds)> = "changes.mute_out",
        pick_up: Sourced<(Seconds, Seconds)> = "changes.pick_up",
        brings: Vec<String> = "changes.brings",
    }
);
part!(
    /// Hits, and what a mute takes.
    StrokesPart makes Strokes {
        hit: Sourced<HitLimits> = "loudness.hit",
        muted_steps: Sourced<i32> = "loudness.muted",
    }
);
part!(
    /// What slides have in common.
    SlidePart makes SlideLimits {
        travel_note: Sourced<f64> = "mechanism.travel",
        travel_warning: Sourced<f64> = "mechanism.travel",
        travel_error: Sourced<f64> = "mechanism.travel",
        sound_speed: f64 = "mechanism.sound_speed",
        lip: f64 = "mechanism.lip",
    }
);
part!(
    /// What valves have in common.
    ValvesPart makes ValveLimits {
        sharp_note: Sourced<f64> = "mechanism.sharp",
        sharp_warning: Sourced<f64> = "mechanism.sharp",
        sharp_missing: Sourced<f64> = "mechanism.sharp",
        held_for: Sourced<Seconds> = "mechanism.held_for",
    }
);
