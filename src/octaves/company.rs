//! What sounds beside a line: how far it stands from the other players and from the voices that double it.

use std::collections::BTreeMap;

use super::witness::Stretches;
use crate::playing::Section;
use crate::score::{Line, Played};

/// Semitones up to which the distance of two players is told apart.
const WIDEST: i32 = 48;

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
    /// Index into [`Company::voices`].
    pub voice: usize,
    /// Index of the other player's note in that player's line.
    pub played: Option<usize>,
    /// Semitones by which the line stands above it.
    pub above: i32,
    /// Both are struck together on the same note of the scale, in whatever octave.
    pub doubles: bool,
}

impl Beside {
    fn clamped(&self) -> i32 {
        self.above.clamp(-WIDEST, WIDEST)
    }
}

/// All that sounds beside one line.
#[derive(Clone, Debug)]
pub(super) struct Company<'s> {
    /// The voices.
    pub voices: Vec<Voice<'s>>,
    /// For each played note of the line: the players that sound with it, and whoever doubles it.
    pub beside: Vec<Vec<Beside>>,
    /// For each voice: how many notes stand so many semitones above it.
    distances: Vec<BTreeMap<i32, u32>>,
    /// For each voice: how many notes in all.
    totals: Vec<u32>,
    /// The same for what lies around each stretch of the line.
    around: Vec<BTreeMap<(usize, i32), u32>>,
    around_totals: Vec<BTreeMap<usize, u32>>,
    pub stretches: Stretches,
}

/// How far two pitches lie apart, when that is a whole number of semitones.
pub(super) fn semitones(low: &Played, high: &Played) -> i32 {
    (high.sounding.height().in_cents() - low.sounding.height().in_cents() + 50).div_euclid(100)
}

impl<'s> Company<'s> {
    /// Listens to what sounds beside a line; players for whom `leave_out` holds are not heard.
    pub(super) fn of(
        section: &'s Section<'_>,
        desk: usize,
        line: usize,
        leave_out: impl Fn(usize, usize) -> bool,
    ) -> Company<'s> {
        let here = &section.desks[desk].lines[line];
        let mut company = Company {
            voices: Vec::new(),
            beside: vec![Vec::new(); here.played.len()],
            distances: Vec::new(),
            totals: Vec::new(),
            around: Vec::new(),
            around_totals: Vec::new(),
            stretches: Stretches::of(here),
        };
        for (other_desk, desk_there) in section.desks.iter().enumerate() {
            for (other_line, line_there) in desk_there.lines.iter().enumerate() {
                if (other_desk, other_line) == (desk, line) || leave_out(other_desk, other_line) {
                    continue;
                }
                let voice = company.voices.len();
                let name = &desk_there.part.info.name;
                company.voices.push(Voice { name, player: Some((other_desk, other_line)) });
                company.hear_player(voice, here, line_there, other_desk == desk);
            }
        }
        for part in &section.score.passed_over {
            let voice = company.voices.len();
            company.voices.push(Voice { name: &part.info.name, player: None });
            for (index, note) in here.played.iter().enumerate().filter(|(_, note)| !note.grace) {
                let from = part.sounds.partition_point(|sound| sound.onset < note.onset);
                let together = part.sounds[from..].iter().take_while(|sound| sound.onset == note.onset);
                let mut heard: Vec<i32> = together
                    .filter_map(|sound| {
                        let cents = note.sounding.height().in_cents() - sound.sounding.height().in_cents();
                        (cents % 1200 == 0).then_some(cents / 100)
                    })
                    .collect();
                heard.sort_unstable();
                heard.dedup();
                company.beside[index].extend(heard.into_iter().map(|above| Beside {
                    voice,
                    played: None,
                    above,
                    doubles: true,
                }));
            }
        }
        company.count();
        company
    }

    /// The voices that double a note and the next: for each, how far the line stands above it at the one and
    /// at the other, in all the ways there are where it has several notes.
    pub(super) fn doubled(&self, note: usize) -> Vec<Vec<(i32, i32)>> {
        let doubling = |note: usize| self.beside[note].iter().filter(|beside| beside.doubles);
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

    fn hear_player(&mut self, voice: usize, here: &Line, there: &Line, same_desk: bool) {
        for (index, note) in here.played.iter().enumerate().filter(|(_, note)| !note.grace) {
            let after = there.played.partition_point(|other| other.onset <= note.onset);
            let Some(played) = after.checked_sub(1) else { continue };
            let other = &there.played[played];
            // One note that both read is no second voice.
            if other.end <= note.onset || other.grace || same_desk && other.chain == note.chain {
                continue;
            }
            let above = semitones(other, note);
            let doubles = other.onset == note.onset && above % 12 == 0;
            self.beside[index].push(Beside { voice, played: Some(played), above, doubles });
        }
    }

    fn count(&mut self) {
        self.distances = vec![BTreeMap::new(); self.voices.len()];
        self.totals = vec![0; self.voices.len()];
        for beside in self.beside.iter().flatten() {
            *self.distances[beside.voice].entry(beside.clamped()).or_default() += 1;
            self.totals[beside.voice] += 1;
        }
        for range in &self.stretches.around {
            let (mut distances, mut totals) = (BTreeMap::new(), BTreeMap::new());
            for beside in self.beside[range.clone()].iter().flatten() {
                *distances.entry((beside.voice, beside.clamped())).or_default() += 1;
                *totals.entry(beside.voice).or_default() += 1;
            }
            self.around.push(distances);
            self.around_totals.push(totals);
        }
    }

    /// How seldom the line stands so far above a voice elsewhere than around a note, in hundredths of a nat: what
    /// lies around it may have gone astray with it, and is no witness.
    pub(super) fn rarity(&self, note: usize, voice: usize, above: i32) -> f64 {
        let stretch = self.stretches.of_note[note];
        let own = &self.around[stretch];
        let count = |map: Option<&u32>| map.copied().unwrap_or(0);
        let at = |above: i32| {
            f64::from(count(self.distances[voice].get(&above)) - count(own.get(&(voice, above))))
        };
        let total = self.totals[voice] - count(self.around_totals[stretch].get(&voice));
        let above = above.clamp(-WIDEST, WIDEST);
        // Voices that only double are told apart by octaves; players by semitones, neighbours counting half.
        let (near, kinds) = if self.voices[voice].player.is_some() {
            (0.5 * at(above) + 0.25 * (at(above - 1) + at(above + 1)), 40.0)
        } else {
            (at(above), 5.0)
        };
        let doubt = 4.0;
        -100.0 * ((near + doubt / kinds) / (f64::from(total) + doubt)).ln()
    }
}
