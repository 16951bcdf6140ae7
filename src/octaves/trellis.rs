//! A stretch of a line as a trellis: what each note costs at each octave, and each step to the next.

use std::ops::Range;

use super::cost::Cost;
use super::cuts::Between;
use super::evidence::Home;
use super::leaps::Leaps;
use super::other_voices::{OtherVoices, semitones};
use super::shortest_path::{Emission, OCTAVES, Transition, Trellis, runs};
use crate::finding::Severity;
use crate::playing::{Desk, Section};
use crate::profile::MoveLimits;
use crate::rules::{Family, note_faults_in};
use crate::score::{Line, Note, Played};

/// A line with what the trellises cut from it have in common.
pub(super) struct LineCosts<'a> {
    pub desk: &'a Desk<'a>,
    pub line: &'a Line,
    pub moves: &'a MoveLimits,
    pub between: &'a [Between],
    pub leaps: &'a Leaps,
    pub other_voices: &'a OtherVoices<'a>,
    /// Notes that a finding asks to move.
    pub asked: &'a [bool],
    /// Notes that are settled: by another player who reads them too, or because they are meant as written.
    pub settled: &'a [Option<i8>],
    /// Notes that may not move by these octaves (bits in the order of [`OCTAVES`]): tried, and it did not serve.
    pub barred: &'a [u8],
    /// What the rules say of each note at each of [`OCTAVES`].
    pub loads: &'a [[Loads; 5]],
}

/// What the rules say of one note at one octave: those of the families a move is made for, and the others.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Loads {
    mended: Load,
    other: Load,
}

/// What the rules say of one note at one octave.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Load {
    errors: u32,
    warnings: u32,
    remarks: u32,
}

impl Load {
    fn add(&mut self, severity: Severity) {
        match severity {
            Severity::Error => self.errors += 1,
            Severity::Warning => self.warnings += 1,
            Severity::Note => self.remarks += 1,
        }
    }

    fn weighs(self) -> (u32, u32) {
        (self.errors, self.warnings)
    }
}

/// Takes a played note up by octaves.
pub(super) fn shift(played: &mut Played, octaves: i8) {
    played.sounding = played.sounding.up_octaves(octaves);
    played.written = played.written.up_octaves(octaves);
}

/// Asks the rules on single notes about the chosen passages of a line, at each octave.
pub(super) fn loads(section: &Section<'_>, desk: usize, line: &Line, chosen: &[bool]) -> Vec<[Loads; 5]> {
    let mut loads = vec![[Loads::default(); 5]; line.played.len()];
    let (mut there, mut is_at) = (line.clone(), 0);
    for (which, octaves) in OCTAVES.into_iter().enumerate() {
        there.played.iter_mut().for_each(|played| shift(played, octaves - is_at));
        is_at = octaves;
        for passage in (0..line.passages.len()).filter(|&passage| chosen[passage]) {
            for (rule, fault) in note_faults_in(section, desk, &there, passage) {
                let Some(at) = loads.get_mut(fault.about.0) else { continue };
                let load =
                    if moves_serve(rule.family) { &mut at[which].mended } else { &mut at[which].other };
                load.add(fault.severity);
            }
        }
    }
    loads
}

impl LineCosts<'_> {
    /// The trellis of some neighbouring notes, of which `homes` says how seldom each stands so at each of [`OCTAVES`]. Those
    /// around them stay where they are.
    pub(super) fn trellis(&self, notes: Range<usize>, homes: &[[Home; 5]]) -> Trellis {
        let gaps = (notes.start..notes.end.saturating_sub(1)).map(|index| self.gap(index)).collect();
        let mut trellis = Trellis {
            notes: notes.clone().zip(homes).map(|(index, home)| self.note(index, home)).collect(),
            gaps,
            one_seam: self.moves.prices.one_seam,
            one_mended: self.moves.prices.one_mended,
            second_octave: self.moves.prices.second_octave,
        };
        // The leap in from the note before and out to the note behind belong to the first and last note.
        let rim = |trellis: &mut Trellis, at: usize, gap: &Transition, outward: i8| {
            let Some(note) = trellis.notes.get_mut(at) else { return };
            for (cost, octaves) in note.costs.iter_mut().zip(OCTAVES) {
                let change = gap.change[usize::try_from(4 + outward * octaves).unwrap_or(4)];
                let parting = gap.parting(0, octaves);
                *cost = (*cost).zip(parting).map(|(cost, cut)| cost + Cost::of_shape(change + cut));
            }
        };
        if let Some(before) = notes.start.checked_sub(1) {
            rim(&mut trellis, 0, &self.gap(before), 1);
        }
        if notes.end < self.line.played.len() && !notes.is_empty() {
            rim(&mut trellis, notes.len() - 1, &self.gap(notes.end - 1), -1);
        }
        trellis
    }

    fn note(&self, index: usize, home: &[Home; 5]) -> Emission {
        let mut at = Emission::default();
        let Loads { mended, other } = self.loads[index][0];
        for (which, octaves) in OCTAVES.into_iter().enumerate() {
            if !self.may_go(index, which) {
                continue;
            }
            let Loads { mended: mended_there, other: other_there } = self.loads[index][which];
            // Trouble of families that no move is made for counts only where a move brings it.
            let more = |there: u32, here: u32| there.saturating_sub(here);
            let is_new = u32::from(mended.weighs() == (0, 0) && mended_there.weighs() != (0, 0))
                + u32::from(other_there.weighs() > other.weighs());
            let warnings = mended_there.warnings + more(other_there.warnings, other.warnings);
            let cost = Cost {
                errors: mended_there.errors + more(other_there.errors, other.errors),
                risks: self.moves.prices.risk * i64::from(warnings + is_new),
                shape: home[which].whole(),
                remarks: mended_there.remarks + more(other_there.remarks, other.remarks),
                moved: u32::from(octaves.unsigned_abs()),
            };
            at.costs[which] = Some(cost);
            at.cures[which] = octaves != 0 && self.asked[index] && mended_there.weighs() < mended.weighs()
                || octaves != 0 && self.settled[index] == Some(octaves);
        }
        at
    }

    /// Takes from the ends of each moved run the passages, parted by rests, that nothing is cured in and that are no
    /// more at home for it among the other voices: a smooth leap over a rest is no reason.
    /// Whether any was taken.
    pub(super) fn let_go(
        &self,
        trellis: &Trellis,
        start: usize,
        homes: &[[Home; 5]],
        plan: &mut [i8],
    ) -> bool {
        let mut any = false;
        for (first, last, octaves) in runs(plan) {
            let which = OCTAVES.iter().position(|&known| known == octaves).unwrap_or(0);
            let stays = |piece: &Range<usize>| {
                let own = homes[piece.clone()].iter().map(|home| home[0].heard() - home[which].heard());
                trellis.notes[piece.clone()].iter().any(|note| note.cures[which]) || own.sum::<i64>() > 0
            };
            let rests = (first..last).filter(|&gap| self.between[gap + start].is_rest());
            let ends: Vec<usize> = rests.map(|gap| gap + 1).chain([last + 1]).collect();
            let starts = std::iter::once(first).chain(ends.iter().copied());
            let pieces: Vec<Range<usize>> =
                starts.zip(ends.iter().copied()).map(|(from, to)| from..to).collect();
            let (Some(from), Some(to)) = (pieces.iter().position(stays), pieces.iter().rposition(stays))
            else {
                continue;
            };
            for piece in pieces[..from].iter().chain(&pieces[to + 1..]) {
                plan[piece.clone()].fill(0);
                any = true;
            }
        }
        any
    }

    fn may_go(&self, index: usize, which: usize) -> bool {
        let octaves = OCTAVES[which];
        if let Some(settled) = self.settled[index] {
            return settled == octaves;
        }
        if octaves == 0 {
            return true;
        }
        let mut notes =
            self.line.played[index].chain.iter().map(|&note| &self.desk.part.notes[note as usize]);
        let there = |note: &Note| i32::from(note.written.octave()) + i32::from(octaves);
        self.barred[index] & 1 << which == 0
            && notes.all(|note| note.octave_digits.is_some() && (0..=9).contains(&there(note)))
    }

    fn gap(&self, index: usize) -> Transition {
        let between = self.between[index];
        let (note, next) = (&self.line.played[index], &self.line.played[index + 1]);
        let leap = semitones(note, next);
        let doubled = self.other_voices.doubled(index);
        let MoveLimits { prices, evidence, .. } = self.moves;
        let suspect = self.asked[index] || self.asked[index + 1];
        let counted = (!suspect).then_some(leap);
        let mut change = [0; 9];
        let mut mends = [false; 9];
        for (octaves, mends) in (-4..=4).zip(&mut mends) {
            let there = leap + 12 * octaves;
            *mends = suspect && leap.abs() >= prices.seam_from && there.abs() < prices.seam_from;
        }
        for (octaves, cost) in (-4..=4).zip(&mut change) {
            let kept = |(here, there): &(i32, i32)| there + 12 * octaves == *here;
            let broken = doubled.iter().filter(|ways| !ways.iter().any(kept)).count();
            let broken = (broken as f64).min(evidence.voices) as i64;
            *cost = self.leaps.rarity(counted, leap + 12 * octaves, between) + prices.broken * broken;
        }
        let cut = match between {
            Between::Bound => None,
            Between::Nothing => (leap.abs() >= prices.seam_from).then_some(prices.seam),
            Between::Breath => Some(prices.breath),
            Between::Rest(_) => Some(0),
            Between::RestInBeat(_) => Some(prices.beat),
        };
        let both_at_fault = self.asked[index] && self.asked[index + 1];
        let across = if let (Between::Rest(quarters), false) = (between, both_at_fault) {
            let longer = quarters.min(prices.across_longest);
            (prices.across as f64 + prices.across_quarter as f64 * longer) as i64
        } else {
            0
        };
        Transition { change, cut, mends, mended: prices.mended, seam: between == Between::Nothing, across }
    }
}

/// Whether an octave move is an answer to findings of a family.
pub(super) fn moves_serve(family: Family) -> bool {
    matches!(family, Family::Range | Family::Loudness)
}
