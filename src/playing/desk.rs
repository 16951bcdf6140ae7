//! A part with the players who read it and the instruments in their hands; all of them are the section.

use std::sync::Arc;

use super::asked::HeldAgain;
use super::hand::{self, InstrumentInHand};
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
    /// What the score asks for from each place on, in order; the first is there from the start.
    pub instruments: Vec<InstrumentInHand>,
    /// Where the score asks for another on a later time through some bars.
    pub again: Vec<HeldAgain>,
    /// Other instruments within reach, by the settings or the part's name.
    pub also: Vec<Arc<Profile>>,
    /// What each line's player has in hand, in order of lines, where there is a choice (see [`Desk::take_up`]); else
    /// empty: it is what the score asks for.
    pub in_hand: Vec<Vec<InstrumentInHand>>,
    /// How the first instrument was known.
    pub recognised_by: RecognisedBy,
    /// How many players read the part.
    pub players: u8,
    /// A player's breath against the profile's; 1 is the profile's own.
    pub breath: f64,
    /// The mutes the player has (settings); `None`: those that exist for the instrument.
    pub mutes: Option<Vec<Mute>>,
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
    /// The same players with what they have in hand, before other music.
    pub fn with_music<'p>(&self, part: &'p Part, lines: Vec<Line>) -> Desk<'p> {
        Desk {
            part,
            lines,
            instruments: self.instruments.clone(),
            again: self.again.clone(),
            also: self.also.clone(),
            in_hand: self.in_hand.clone(),
            recognised_by: self.recognised_by,
            players: self.players,
            breath: self.breath,
            mutes: self.mutes.clone(),
        }
    }

    /// Decides what each player takes up where, out of what the score asks for and what is within reach.
    pub fn take_up(&mut self, limits: &SectionLimits) {
        if !self.also.is_empty() {
            self.in_hand =
                self.lines.iter().map(|line| hand::in_hand(self, line, &self.also, limits)).collect();
        }
    }

    /// What the player of a line has in hand from each place on; the first is there from the start.
    pub fn hand_of(&self, line: &Line) -> &[InstrumentInHand] {
        let own = usize::from(line.player).checked_sub(1).and_then(|index| self.in_hand.get(index));
        own.unwrap_or(&self.instruments)
    }

    /// What the player of a line has in hand at a place, the first time through.
    pub fn instrument_at(&self, line: &Line, place: Onset) -> &Arc<Profile> {
        hand::at(self.hand_of(line), place)
    }

    /// The same on any time through, counted from 1.
    pub fn instrument_on(&self, line: &Line, place: Onset, pass: u32) -> &Arc<Profile> {
        let here = self.again.iter().find(|held| held.is_at(place, pass));
        let again = here.filter(|_| self.in_hand.is_empty());
        again.map_or_else(|| self.instrument_at(line, place), |held| &held.profile)
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
