//! What sounds beside a line: how far it stands from the other players and from the voices that double it.

use std::ops::Range;

use super::witness::Stretches;
use crate::playing::Section;
use crate::profile::MoveExpected;
use crate::score::{Line, Played};

/// Semitones up to which the distance of two players is told apart.
const WIDEST: i32 = 48;
/// All distances that are told apart.
const DISTANCES: usize = 2 * WIDEST as usize + 1;

/// A voice beside the line.
#[derive(Clone, Debug)]
pub(super) struct Voice<'s> {
    /// The part's name.
    pub name: &'s str,
    /// The desk and line of a low-brass player; `None` for the rest of the orchestra.
    pub player: Option<(usize, usize)>,
}

/// A voice at one note of the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Beside {
    /// Index into [`OtherVoices::voices`].
    pub voice: usize,
    /// Index of the other player's note in that player's line.
    pub played: Option<usize>,
    /// Semitones by which the line stands above it.
    pub above: i32,
    /// Both are struck together on the same note of the scale, in whatever octave.
    pub doubles: bool,
}

/// All that sounds beside one line.
#[derive(Clone, Debug)]
pub(super) struct OtherVoices<'s> {
    /// The voices.
    pub voices: Vec<Voice<'s>>,
    /// How the line stands to each voice in all.
    pub tallies: Vec<Tally>,
    pub stretches: Stretches,
    /// By note of the line, then by voice: the players that sound with it, and whoever doubles it.
    beside: Vec<Beside>,
    /// Where in `beside` each note begins, and the end.
    begins: Vec<usize>,
    distances: Vec<Distances>,
    expected: MoveExpected,
}

/// How two voices stood while both sounded, note by note.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tally {
    pub both: u32,
    pub unison: u32,
    pub octaves: u32,
    pub above: u32,
    pub below: u32,
}

impl Tally {
    pub(super) fn without(self, part: Tally) -> Tally {
        Tally {
            both: self.both.saturating_sub(part.both),
            unison: self.unison.saturating_sub(part.unison),
            octaves: self.octaves.saturating_sub(part.octaves),
            above: self.above.saturating_sub(part.above),
            below: self.below.saturating_sub(part.below),
        }
    }

    pub(super) fn add(&mut self, above: i32) {
        self.both += 1;
        match above {
            0 => self.unison += 1,
            1.. => self.above += 1,
            _ => self.below += 1,
        }
        if above != 0 && above % 12 == 0 {
            self.octaves += 1;
        }
    }
}

/// How many notes stand so many semitones above a voice.
#[derive(Clone, Debug)]
struct Distances {
    counts: [u32; DISTANCES],
    total: u32,
}

impl Distances {
    const NONE: Distances = Distances { counts: [0; DISTANCES], total: 0 };

    fn count(&mut self, above: i32) {
        self.counts[index_of(above)] += 1;
        self.total += 1;
    }

    fn uncount(&mut self, above: i32) {
        self.counts[index_of(above)] -= 1;
        self.total -= 1;
    }

    /// None stands further off than the widest.
    fn at(&self, above: i32) -> u32 {
        if above.abs() > WIDEST { 0 } else { self.counts[index_of(above)] }
    }
}

fn index_of(above: i32) -> usize {
    usize::try_from(above.clamp(-WIDEST, WIDEST) + WIDEST).unwrap_or(0)
}

/// How far two pitches lie apart, when that is a whole number of semitones.
pub(super) fn semitones(low: &Played, high: &Played) -> i32 {
    (high.sounding.height().in_cents() - low.sounding.height().in_cents() + 50).div_euclid(100)
}

impl<'s> OtherVoices<'s> {
    /// Listens to what sounds beside a line; players for whom `leave_out` holds are not heard.
    pub(super) fn of(
        section: &'s Section<'_>,
        desk: usize,
        line: usize,
        leave_out: impl Fn(usize, usize) -> bool,
    ) -> OtherVoices<'s> {
        let here = &section.desks[desk].lines[line];
        let players = nearest_players(section, (desk, line), leave_out);
        let parts = &section.score.passed_over;
        let heard = players.iter().map(|&(desk, line)| Voice {
            name: &section.desks[desk].part.info.name,
            player: Some((desk, line)),
        });
        let others = parts.iter().map(|part| Voice { name: &part.info.name, player: None });
        let voices: Vec<Voice<'s>> = heard.chain(others).collect();
        let mut other_voices = OtherVoices {
            tallies: vec![Tally::default(); voices.len()],
            distances: vec![Distances::NONE; voices.len()],
            voices,
            stretches: Stretches::of(here, section.limits.moves.stretch),
            expected: section.limits.moves.expected,
            beside: Vec::new(),
            begins: Vec::with_capacity(here.played.len() + 1),
        };
        // Where each voice has got to: the line and the voices are gone through once, together.
        let mut reached = vec![0; other_voices.voices.len()];
        for note in &here.played {
            other_voices.begins.push(other_voices.beside.len());
            if note.grace {
                continue;
            }
            for (voice, &(other_desk, other_line)) in players.iter().enumerate() {
                let there = &section.desks[other_desk].lines[other_line];
                let beside = hear_player(note, there, &mut reached[voice], other_desk == desk);
                other_voices.beside.extend(beside.map(|beside| Beside { voice, ..beside }));
            }
            for (part, voice) in parts.iter().zip(players.len()..) {
                let reached = &mut reached[voice];
                *reached +=
                    part.sounds[*reached..].iter().take_while(|sound| sound.onset < note.onset).count();
                let together = part.sounds[*reached..].iter().take_while(|sound| sound.onset == note.onset);
                let mut heard: Vec<i32> = together
                    .filter_map(|sound| {
                        let cents = note.sounding.height().in_cents() - sound.sounding.height().in_cents();
                        (cents % 1200 == 0).then_some(cents / 100)
                    })
                    .collect();
                heard.sort_unstable();
                heard.dedup();
                other_voices.beside.extend(heard.into_iter().map(|above| Beside {
                    voice,
                    played: None,
                    above,
                    doubles: true,
                }));
            }
        }
        other_voices.begins.push(other_voices.beside.len());
        for beside in &other_voices.beside {
            other_voices.tallies[beside.voice].add(beside.above);
            other_voices.distances[beside.voice].count(beside.above);
        }
        other_voices
    }

    /// What sounds beside a note of the line, voice by voice.
    pub(super) fn beside(&self, note: usize) -> &[Beside] {
        &self.beside[self.begins[note]..self.begins[note + 1]]
    }

    /// The voices that double a note and the next: for each, how far the line stands above it at the one and
    /// at the other, in all the ways there are where it has several notes.
    pub(super) fn doubled(&self, note: usize) -> Vec<Vec<(i32, i32)>> {
        let doubling = |note: usize| self.beside(note).iter().filter(|beside| beside.doubles);
        let mut voices: Vec<usize> = doubling(note).map(|beside| beside.voice).collect();
        voices.dedup();
        voices
            .into_iter()
            .map(|voice| {
                let of_it = |note: usize| doubling(note).filter(move |beside| beside.voice == voice);
                of_it(note)
                    .flat_map(|here| of_it(note + 1).map(|there| (here.above, there.above)))
                    .collect::<Vec<_>>()
            })
            .filter(|ways| !ways.is_empty())
            .collect()
    }

    /// Begins to ask how seldom the line stands as it does.
    pub(super) fn elsewhere(&self) -> Elsewhere<'_> {
        let own = vec![Distances::NONE; self.voices.len()];
        Elsewhere { other_voices: self, around: None, own, of_all: false }
    }

    /// The same beside some notes of the line, of which none is a witness for any other.
    pub(super) fn elsewhere_than(&self, notes: &[Range<usize>]) -> Elsewhere<'_> {
        let mut own = vec![Distances::NONE; self.voices.len()];
        let heard =
            notes.iter().flat_map(|notes| &self.beside[self.begins[notes.start]..self.begins[notes.end]]);
        heard.for_each(|beside| own[beside.voice].count(beside.above));
        Elsewhere { other_voices: self, around: None, own, of_all: true }
    }
}

/// The players nearest to a line on the page, in the order of the page; no more than the limits say.
fn nearest_players(
    section: &Section<'_>,
    own: (usize, usize),
    leave_out: impl Fn(usize, usize) -> bool,
) -> Vec<(usize, usize)> {
    let lines = section.desks.iter().enumerate();
    let all = lines.flat_map(|(desk, there)| (0..there.lines.len()).map(move |line| (desk, line)));
    let all: Vec<(usize, usize)> = all.filter(|&at| at == own || !leave_out(at.0, at.1)).collect();
    let here = all.iter().position(|&at| at == own).unwrap_or(0);
    let mut nearest: Vec<usize> = (0..all.len()).filter(|&at| at != here).collect();
    nearest.sort_by_key(|&at| at.abs_diff(here));
    nearest.truncate(section.limits.moves.beside);
    nearest.sort_unstable();
    nearest.into_iter().map(|at| all[at]).collect()
}

/// What a player sounds with a note; its voice is left to be filled in. `reached` is the first of the player's notes
/// that is struck after the note before.
fn hear_player(note: &Played, there: &Line, reached: &mut usize, same_desk: bool) -> Option<Beside> {
    *reached += there.played[*reached..].iter().take_while(|other| other.onset <= note.onset).count();
    let played = reached.checked_sub(1)?;
    let other = &there.played[played];
    // One note that both read is no second voice.
    if other.end <= note.onset || other.grace || same_desk && other.chain == note.chain {
        return None;
    }
    let above = semitones(other, note);
    let doubles = other.onset == note.onset && above % 12 == 0;
    Some(Beside { voice: 0, played: Some(played), above, doubles })
}

/// How a line stands to its voices elsewhere than around a note: what lies around it may have gone astray with it, and
/// is no witness.
pub(super) struct Elsewhere<'c> {
    other_voices: &'c OtherVoices<'c>,
    /// The stretch that is left out, and what is heard around it.
    around: Option<usize>,
    own: Vec<Distances>,
    /// Whether that is the same for all notes.
    of_all: bool,
}

impl Elsewhere<'_> {
    /// How seldom the line stands so far above a voice elsewhere than around a note, in hundredths of a nat. Cheapest
    /// when notes are asked about in order.
    pub(super) fn rarity(&mut self, note: usize, voice: usize, above: i32) -> f64 {
        let stretch = self.other_voices.stretches.of_note[note];
        if !self.of_all && self.around != Some(stretch) {
            self.leave_out(stretch);
        }
        let (all, own) = (&self.other_voices.distances[voice], &self.own[voice]);
        let at = |above: i32| f64::from(all.at(above) - own.at(above));
        let total = all.total - own.total;
        let above = above.clamp(-WIDEST, WIDEST);
        let MoveExpected { distances, doublings, distance_doubt: doubt, .. } = self.other_voices.expected;
        // Voices that only double are told apart by octaves; players by semitones, neighbours counting half.
        let (near, kinds) = if self.other_voices.voices[voice].player.is_some() {
            (0.5 * at(above) + 0.25 * (at(above - 1) + at(above + 1)), distances)
        } else {
            (at(above), doublings)
        };
        -100.0 * ((near + doubt / kinds) / (f64::from(total) + doubt)).ln()
    }

    fn leave_out(&mut self, stretch: usize) {
        let heard = |stretch: usize| {
            let notes = self.other_voices.stretches.around[stretch].clone();
            &self.other_voices.beside
                [self.other_voices.begins[notes.start]..self.other_voices.begins[notes.end]]
        };
        for beside in self.around.into_iter().flat_map(heard) {
            self.own[beside.voice].uncount(beside.above);
        }
        for beside in heard(stretch) {
            self.own[beside.voice].count(beside.above);
        }
        self.around = Some(stretch);
    }
}
