//! What words above the staff ask of the player.

use crate::music::{Length, Onset};

/// A text direction that asks something, at its place. Dynamics and tempo words are not here: they are
/// already in the notes and the tempo map.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Direction {
    /// Index into [`Score::bars`](super::Score::bars).
    pub bar: u32,
    /// Where it takes hold.
    pub onset: Onset,
    /// The same from the start of its bar.
    pub bar_onset: Length,
    /// The staff it is for; `None`: all staves of the part.
    pub staff: Option<u8>,
    /// Index into [`Part::voices`](super::Part::voices); `None`: all voices.
    pub voice: Option<u16>,
    /// The words as they stand.
    pub text: String,
    /// What they ask.
    pub asks: Asks,
    /// Line in the source, from 1.
    pub line: u32,
}

/// What a direction asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asks {
    /// Put a mute in, or take it out (`None`).
    Mute(Option<Mute>),
    /// Take up another instrument; its name as it stands behind "muta in", "take", "to", "nimmt", "change en" …
    /// Only a recogniser can tell whether it is one.
    Instrument(String),
    /// Words that stand by themselves and ask nothing else: they may be the bare name of an instrument that is to be taken up,
    /// or a label over a cue. Only a recogniser can tell.
    Named(String),
    /// One player of the desk, counted from 1, takes up another instrument ("2. muta in …"); the others keep theirs.
    InstrumentOfOne(u8, String),
    /// Who of the desk plays from here on.
    Players(Players),
    /// Flutter tongue from here on, or no longer.
    Flutter(bool),
    /// The glissando that begins here is the lip's or the half valves'.
    LipGlissando,
    /// Sing into the instrument from here on, or no longer: of notes that sound together one is the player's voice.
    Sing(bool),
    /// The players take their breath in turns, or breathe in while they play ("stagger breathing"): no breath of theirs need
    /// be heard.
    Stagger,
    /// The low note is meant as an effect ("effect", "pedal", "pedal tone" …).
    Effect,
    /// `ok: rule, rule`: the passage here is meant as it stands.
    Waive(Vec<String>),
}

/// A mute, by the trade's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Mute {
    /// Also what "muted" alone means in an orchestral part.
    Straight,
    Cup,
    Harmon,
    Plunger,
    Bucket,
    Solotone,
    Derby,
    Pixie,
    /// A practice or silent mute.
    Practice,
}

/// Who of a desk of several players plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Players {
    /// All of them on the same notes (a2, unis., tutti, "zu 2").
    All,
    /// One of them, counted from 1 ("1.", "2.", solo is the first).
    Only(u8),
    /// Each on notes of their own (div., "1. 2." on two voices).
    Divided,
}

impl Mute {
    /// All mutes.
    pub const ALL: [Mute; 9] = [
        Mute::Straight,
        Mute::Cup,
        Mute::Harmon,
        Mute::Plunger,
        Mute::Bucket,
        Mute::Solotone,
        Mute::Derby,
        Mute::Pixie,
        Mute::Practice,
    ];

    /// Its name in English, small letters.
    pub const fn name(self) -> &'static str {
        match self {
            Mute::Straight => "straight",
            Mute::Cup => "cup",
            Mute::Harmon => "harmon",
            Mute::Plunger => "plunger",
            Mute::Bucket => "bucket",
            Mute::Solotone => "solotone",
            Mute::Derby => "derby",
            Mute::Pixie => "pixie",
            Mute::Practice => "practice",
        }
    }
}
