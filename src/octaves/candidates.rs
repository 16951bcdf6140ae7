//! Looks for the passages to move: line by line, around the notes that a finding asks about.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use rayon::prelude::*;

use super::cuts::{Between, between};
use super::evidence::{Home, Witnesses, gain_in_figures, gain_in_register, homes};
use super::figures::Figures;
use super::leaps::Leaps;
use super::other_voices::OtherVoices;
use super::region::Region;
use super::register::Register;
use super::shortest_path::{OCTAVES, Trellis, runs};
use super::trellis::{LineCosts, Loads, loads};
use crate::playing::{Desk, Section};
use crate::profile::MoveLimits;
use crate::score::{Line, Played};

/// A note of a desk, by its index into the part's notes.
pub(super) type NoteOf = (usize, u32);

/// What the search is told before it begins.
#[derive(Clone, Debug, Default)]
pub(super) struct Wishes {
    /// Notes that a finding asks to move.
    pub asked: BTreeSet<NoteOf>,
    /// Notes meant as they stand.
    pub meant: BTreeSet<NoteOf>,
}

/// Octaves that were tried and did not serve, as bits in the order of [`OCTAVES`].
pub(super) type Barred = BTreeMap<NoteOf, u8>;

/// Desks that carry the very same music as an earlier one: for each desk, which it follows.
pub(super) fn leaders(section: &Section<'_>) -> Vec<usize> {
    let same = |a: &Line, b: &Line| {
        a.played.len() == b.played.len()
            && a.played.iter().zip(&b.played).all(|(a, b)| {
                (a.onset, a.end, a.sounding, a.loudest, a.softest)
                    == (b.onset, b.end, b.sounding, b.loudest, b.softest)
            })
    };
    let desks = &section.desks;
    (0..desks.len())
        .map(|desk| {
            (0..desk)
                .find(|&earlier| {
                    let (a, b) = (&desks[earlier], &desks[desk]);
                    a.lines.len() == b.lines.len()
                        && a.lines.iter().any(|line| !line.played.is_empty())
                        && a.lines.iter().zip(&b.lines).all(|(a, b)| same(a, b))
                })
                .unwrap_or(desk)
        })
        .collect()
}

/// Looks for passages to move in one section, time and again as more octaves are barred; what does not change
/// is gathered once.
pub(super) struct Candidates<'s> {
    section: &'s Section<'s>,
    /// For each desk, which it follows ([`leaders`]).
    pub leaders: Vec<usize>,
    lines: BTreeMap<(usize, usize), LineAsked<'s>>,
}

/// A line with all that is known of it.
struct LineAsked<'s> {
    desk: &'s Desk<'s>,
    line: &'s Line,
    moves: &'s MoveLimits,
    /// Index of the desk and of the line in it.
    at: (usize, usize),
    between: Vec<Between>,
    leaps: Leaps,
    other_voices: OtherVoices<'s>,
    register: Register,
    figures: Figures,
    /// Notes that a finding asks to move, and notes meant as they stand.
    asked: Vec<bool>,
    meant: Vec<bool>,
    /// Octaves of the notes that an earlier line of the desk has too, as they were when the islands were found.
    follows: Vec<Option<i8>>,
    loads: Vec<[Loads; 5]>,
    homes: Vec<[Home; 5]>,
    islands: Vec<Island>,
}

/// Passages in which something may move, and what was found there last.
struct Island {
    passages: Range<usize>,
    barred: Vec<u8>,
    found: Option<Vec<Region>>,
}

impl<'s> Candidates<'s> {
    /// Gathers what is needed around the notes that are asked about.
    pub(super) fn of(section: &'s Section<'s>, wishes: &Wishes) -> Candidates<'s> {
        let leaders = leaders(section);
        let mut asked = Vec::new();
        for (index, desk) in section.desks.iter().enumerate().filter(|&(index, _)| leaders[index] == index) {
            // Who reads a note of another player follows that one.
            let shares = desk.lines.iter().any(|line| line.played.iter().any(|played| played.shared));
            let is_asked = |line: &Line| {
                let mut notes = line.played.iter().flat_map(|played| &played.chain);
                notes.any(|&note| wishes.asked.contains(&(index, note)))
            };
            if !desk.lines.iter().any(is_asked) {
                continue;
            }
            let wanted = desk.lines.iter().enumerate().filter(|(_, line)| shares || is_asked(line));
            asked.extend(wanted.map(|(line, _)| (index, line)));
        }
        let lines =
            asked.into_par_iter().map(|at| (at, LineAsked::of(section, at, &leaders, wishes))).collect();
        Candidates { section, leaders, lines }
    }

    /// The passages to move, by desk, line and place.
    pub(super) fn propose(&mut self, barred: &Barred) -> Vec<Region> {
        let mut found: Vec<Region> = Vec::new();
        for desk in 0..self.section.desks.len() {
            let leader = self.leaders[desk];
            if leader != desk {
                let same = found.iter().filter(|region| region.desk == leader);
                let same: Vec<Region> = same.map(|region| Region { desk, ..region.clone() }).collect();
                found.extend(same);
                continue;
            }
            let mut moved: BTreeMap<u32, i8> = BTreeMap::new();
            for asked_line in
                self.lines.range_mut((desk, 0)..=(desk, usize::MAX)).map(|(_, asked_line)| asked_line)
            {
                let regions = asked_line.propose(self.section, barred, &moved);
                for region in &regions {
                    for note in &asked_line.line.played[region.first..=region.last] {
                        moved.extend(note.chain.iter().map(|&index| (index, region.octaves)));
                    }
                }
                found.extend(regions);
            }
        }
        found
    }

    /// The other voices of a line, what lies between its notes, and its figures, where they were gathered.
    pub(super) fn other_voices(
        &self,
        desk: usize,
        line: usize,
    ) -> Option<(&OtherVoices<'s>, &[Between], &Figures)> {
        let asked_line = self.lines.get(&(desk, line))?;
        Some((&asked_line.other_voices, &asked_line.between, &asked_line.figures))
    }
}

impl<'s> LineAsked<'s> {
    fn of(
        section: &'s Section<'s>,
        (desk, line): (usize, usize),
        leaders: &[usize],
        wishes: &Wishes,
    ) -> LineAsked<'s> {
        let here = &section.desks[desk].lines[line];
        let among = |set: &BTreeSet<NoteOf>| -> Vec<bool> {
            let held = |chain: &[u32]| chain.iter().any(|&note| set.contains(&(desk, note)));
            here.played.iter().map(|played| held(&played.chain)).collect()
        };
        let between = between(here);
        let other_voices =
            OtherVoices::of(section, desk, line, |other, _| other != desk && leaders[other] == leaders[desk]);
        let asked = among(&wishes.asked);
        let mut asked_line = LineAsked {
            desk: &section.desks[desk],
            line: here,
            moves: &section.limits.moves,
            at: (desk, line),
            leaps: Leaps::of(here, &between, &asked, &section.limits.moves.expected),
            between,
            other_voices,
            register: Register::of(here, &section.limits.moves.expected),
            figures: Figures::default(),
            asked,
            meant: among(&wishes.meant),
            follows: vec![None; here.played.len()],
            loads: Vec::new(),
            homes: Vec::new(),
            islands: Vec::new(),
        };
        asked_line.find_islands(section);
        asked_line
    }

    fn find_islands(&mut self, section: &Section<'_>) {
        let ranges = islands(self.moves, self.line, &self.between, |index| {
            self.asked[index] || self.follows[index].is_some()
        });
        let mut chosen = vec![false; self.line.passages.len()];
        for passages in &ranges {
            chosen[passages.clone()].fill(true);
        }
        self.loads = loads(section, self.at.0, self.line, &chosen);
        let mut witnesses = Witnesses::of(self.moves, &self.other_voices, &self.register);
        self.homes = homes(self.moves, self.line, &mut witnesses, &self.figures, &self.asked, &chosen);
        self.islands =
            ranges.into_iter().map(|passages| Island { passages, barred: Vec::new(), found: None }).collect();
    }

    fn propose(&mut self, section: &Section<'_>, barred: &Barred, moved: &BTreeMap<u32, i8>) -> Vec<Region> {
        let follow = |played: &Played| moved.get(&played.chain[0]).copied().filter(|_| played.shared);
        if self.line.played.iter().zip(&self.follows).any(|(played, known)| follow(played) != *known) {
            self.follows = self.line.played.iter().map(follow).collect();
            self.find_islands(section);
        }
        let settled = |index: usize| match (self.line.played[index].shared, self.meant[index]) {
            (true, _) => Some(self.follows[index].unwrap_or(0)),
            (false, true) => Some(0),
            (false, false) => None,
        };
        let settled: Vec<Option<i8>> = (0..self.line.played.len()).map(settled).collect();
        let bars = |played: &Played| {
            let of_chain = played.chain.iter().filter_map(|&note| barred.get(&(self.at.0, note)));
            of_chain.fold(0, |a, b| a | b)
        };
        let barred: Vec<u8> = self.line.played.iter().map(bars).collect();
        let mut found = Vec::new();
        let mut islands = std::mem::take(&mut self.islands);
        for island in &mut islands {
            let notes = self.line.passages[island.passages.start].start
                ..self.line.passages[island.passages.end - 1].end;
            let known = island.found.take().filter(|_| island.barred == barred[notes.clone()]);
            let regions = known.unwrap_or_else(|| self.propose_in(notes.clone(), &settled, &barred));
            island.barred = barred[notes].to_vec();
            found.extend_from_slice(&regions);
            island.found = Some(regions);
        }
        self.islands = islands;
        found
    }

    /// The regions of an island, by its notes.
    fn propose_in(&self, notes: Range<usize>, settled: &[Option<i8>], barred: &[u8]) -> Vec<Region> {
        let (here, between) = (self.line, &self.between);
        let (desk, line) = self.at;
        let ground = LineCosts {
            desk: self.desk,
            line: here,
            moves: self.moves,
            between,
            leaps: &self.leaps,
            other_voices: &self.other_voices,
            asked: &self.asked,
            settled,
            barred,
            loads: &self.loads,
        };
        let cheapest = |trellis: &Trellis, homes: &[[Home; 5]]| {
            let (mut plan, _) = trellis.cheapest()?;
            let is_other = ground.let_go(trellis, notes.start, homes, &mut plan);
            (!is_other || trellis.cost_of(&plan).is_some()).then_some(plan)
        };
        let homes = &self.homes[notes.clone()];
        let found = cheapest(&ground.trellis(notes.clone(), homes), homes);
        let Some(plan) = found.filter(|plan| plan.iter().any(|&octaves| octaves != 0)) else {
            return Vec::new();
        };
        let (homes, trellis) = self.look_again(&ground, &notes, &plan);
        let likelier = |shorter: &Vec<i8>| {
            let prices = trellis.cost_of(&plan).zip(trellis.cost_of(shorter));
            prices.is_some_and(|(all, some)| all.in_nats() - some.in_nats() >= self.moves.prices.shorter)
        };
        let plan = cheapest(&trellis, &homes).filter(likelier).unwrap_or(plan);
        let mut regions = Vec::new();
        for (first, last, octaves) in runs(&plan) {
            // Where no plan is allowed without it (a note read by two), there is nothing to gain or lose.
            let without = trellis.change(&plan, first..last + 1, 0);
            let odds = without.map_or(0, |(with, without)| without.shape - with.shape);
            let there = &homes[first..=last];
            let odds = odds - gain_in_figures(there, octaves);
            let gain = odds - gain_in_register(there, octaves);
            let (first, last) = (first + notes.start, last + notes.start);
            regions.push(Region { desk, line, first, last, octaves, gain, odds });
        }
        let cures = |index: usize, octaves: i8| {
            let which = OCTAVES.iter().position(|&known| known == octaves).unwrap_or(0);
            trellis.notes[index - notes.start].cures[which]
        };
        let pieces =
            regions.into_iter().flat_map(|region| parted(&region, between, self.moves.between, cures));
        pieces.collect()
    }

    /// The trellis of some notes once a plan says which went astray: all others are witnesses then, those of the same passage
    /// too. Nothing else may move, so that a passage can only be found shorter.
    fn look_again(
        &self,
        ground: &LineCosts<'_>,
        notes: &Range<usize>,
        plan: &[i8],
    ) -> (Vec<[Home; 5]>, Trellis) {
        let astray =
            runs(plan).into_iter().map(|(first, last, _)| first + notes.start..last + notes.start + 1);
        let astray: Vec<Range<usize>> = astray.collect();
        let mut homes = self.homes[notes.clone()].to_vec();
        let mut witnesses = Witnesses::other_than(self.moves, &self.other_voices, &self.register, &astray);
        for index in astray.into_iter().flatten() {
            witnesses.hear(index, self.asked[index], &mut homes[index - notes.start]);
        }
        let mut trellis = ground.trellis(notes.clone(), &homes);
        trellis.keep_to(plan);
        (homes, trellis)
    }
}

/// Ranges of passages around those that are asked about.
fn islands(
    moves: &MoveLimits,
    line: &Line,
    between: &[Between],
    asked: impl Fn(usize) -> bool,
) -> Vec<Range<usize>> {
    let mut islands: Vec<Range<usize>> = Vec::new();
    let apart = |passage: usize| {
        // Whether nothing moves across the rest behind a passage.
        let gap = line.passages[passage].end - 1;
        between.get(gap).is_none_or(|between| between.rest() >= moves.apart)
    };
    for passage in 0..line.passages.len() {
        if !line.passages[passage].clone().any(&asked) {
            continue;
        }
        let (mut from, mut to) = (passage, passage + 1);
        while from > 0 && passage - from < moves.around && !apart(from - 1) {
            from -= 1;
        }
        while to < line.passages.len() && to - passage <= moves.around && !apart(to - 1) {
            to += 1;
        }
        match islands.last_mut() {
            Some(last) if last.end >= from => last.end = last.end.max(to),
            _ => islands.push(from..to),
        }
    }
    islands
}

/// A region in pieces at rests of so many quarters, where each piece cures something of its own.
fn parted(
    region: &Region,
    between: &[Between],
    longest: f64,
    cures: impl Fn(usize, i8) -> bool,
) -> Vec<Region> {
    let mut pieces: Vec<(usize, usize)> = Vec::new();
    let mut from = region.first;
    for last in region.first..=region.last {
        let rest = between.get(last).map_or(0.0, |between| between.rest());
        let ends = last == region.last || rest >= longest;
        if !ends {
            continue;
        }
        let serves = (from..=last).any(|index| cures(index, region.octaves));
        match pieces.last_mut() {
            Some(piece) if !serves => piece.1 = last,
            _ => pieces.push((from, last)),
        }
        from = last + 1;
    }
    // A first piece that cures nothing goes with the second.
    if pieces.len() > 1 && !(pieces[0].0..=pieces[0].1).any(|index| cures(index, region.octaves)) {
        pieces[1].0 = pieces[0].0;
        pieces.remove(0);
    }
    pieces.into_iter().map(|(first, last)| Region { first, last, ..region.clone() }).collect()
}
