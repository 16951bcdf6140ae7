//! A part with the players who read it and the horns in their hands; all of them are the section.

use std::sync::Arc;

use crate::music::Onset;
use crate::profile::{Profile, SectionLimits};
use crate::score::{Line, Note, Part, PartInfo, Played, Score};

/// A part, who plays it and on what.
#[derive(Clone, Debug)]
pub struct Desk<'s> {
    /// The part.
    pub part: &'s Part,
    /// One for each player who reads notes of their own.
    pub lines: Vec<Line>,
    /// The horn in hand from each place on, in order; the first is there from the start.
    pub horns: Vec<HornInHand>,
    /// Other horns within reach (settings): a passage that suits one of them draws no remark about range.
    pub also: Vec<Arc<Profile>>,
    /// How the first horn was known.
    pub recognised_by: RecognisedBy,
    /// How many players read the part.
    pub players: u8,
    /// A player's breath against the profile's; 1 is the profile's own.
    pub breath: f64,
}

/// A horn from a place on.
#[derive(Clone, Debug)]
pub struct HornInHand {
    /// From here.
    pub from: Onset,
    /// This horn.
    pub profile: Arc<Profile>,
}

/// How a part was recognised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum RecognisedBy {
    InstrumentSound,
    Name,
    Abbreviation,
    MidiProgram,
    /// By its place among its neighbours (the lowest of three trombones).
    Section,
    Settings,
    /// `--as`.
    CommandLine,
}

/// All low brass of a score, with the rest of the orchestra around it.
#[derive(Clone, Debug)]
pub struct Section<'s> {
    /// The score.
    pub score: &'s Score,
    /// The low-brass desks, in score order.
    pub desks: Vec<Desk<'s>>,
    /// Parts that may be low brass and could not be told for sure, in score order; they are not judged.
    pub unrecognised: Vec<Unrecognised>,
    /// Limits that belong to no one horn.
    pub limits: Arc<SectionLimits>,
}

/// A part that may be low brass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unrecognised {
    /// The part.
    pub part: PartInfo,
    /// What is not known of it.
    pub doubt: Doubt,
}

/// Why a part was not recognised.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// It may be low brass; nothing tells which instrument.
    NothingKnown,
    /// Several instruments fit alike and only a person can say which; their titles with their article.
    SeveralFit(Vec<String>),
}

impl Desk<'_> {
    /// The horn in hand at a place.
    pub fn horn_at(&self, place: Onset) -> &Arc<Profile> {
        let index = self.horns.partition_point(|horn| horn.from <= place).saturating_sub(1);
        &self.horns[index].profile
    }

    /// The written note a played one begins with.
    pub fn first_note(&self, played: &Played) -> &Note {
        &self.part.notes[played.chain[0] as usize]
    }
}

impl RecognisedBy {
    /// As the JSON contract names it.
    pub const fn word(self) -> &'static str {
        match self {
            RecognisedBy::InstrumentSound => "instrument-sound",
            RecognisedBy::Name => "name",
            RecognisedBy::Abbreviation => "abbreviation",
            RecognisedBy::MidiProgram => "midi-program",
            RecognisedBy::Section => "section",
            RecognisedBy::Settings => "settings",
            RecognisedBy::CommandLine => "option",
        }
    }
}
