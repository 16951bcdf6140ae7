//! A part with the players who read it and the instruments in their hands; all of them are the section.

use std::sync::Arc;

use crate::music::Onset;
use crate::profile::{Doubt, Profile, RecognisedBy, SectionLimits};
use crate::score::{Line, Mute, Note, Part, PartInfo, Played, Score};

/// A part, who plays it and on what.
#[derive(Clone, Debug)]
pub struct Desk<'s> {
    /// The part.
    pub part: &'s Part,
    /// One for each player who reads notes of their own.
    pub lines: Vec<Line>,
    /// The instrument in hand from each place on, in order; the first is there from the start.
    pub instruments: Vec<InstrumentInHand>,
    /// Other instruments within reach (settings): a passage that suits one of them draws no remark about range.
    pub also: Vec<Arc<Profile>>,
    /// How the first instrument was known.
    pub recognised_by: RecognisedBy,
    /// How many players read the part.
    pub players: u8,
    /// A player's breath against the profile's; 1 is the profile's own.
    pub breath: f64,
    /// The mutes the player has (settings); `None`: those that exist for the instrument.
    pub mutes: Option<Vec<Mute>>,
}

/// An instrument from a place on.
#[derive(Clone, Debug)]
pub struct InstrumentInHand {
    /// From here.
    pub from: Onset,
    /// This instrument.
    pub profile: Arc<Profile>,
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
    /// Limits that belong to no one instrument.
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

impl Desk<'_> {
    /// The instrument in hand at a place.
    pub fn instrument_at(&self, place: Onset) -> &Arc<Profile> {
        let index = self.instruments.partition_point(|instrument| instrument.from <= place).saturating_sub(1);
        &self.instruments[index].profile
    }

    /// The written note a played one begins with.
    pub fn first_note(&self, played: &Played) -> &Note {
        &self.part.notes[played.chain[0] as usize]
    }
}

impl<'s> Section<'s> {
    /// A played note by its desk, line and index, with its desk; `None` where there is none.
    pub fn played(&self, (desk, line, index): (usize, usize, usize)) -> Option<(&Desk<'s>, &Played)> {
        let desk = self.desks.get(desk)?;
        Some((desk, desk.lines.get(line)?.played.get(index)?))
    }
}
