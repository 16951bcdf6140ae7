//! Looks for the passages to move: line by line, around the notes that a finding asks about.

use std::collections::BTreeMap;

use super::company::Company;
use super::cuts::{Between, between};
use super::leaps::Leaps;
use super::search::OCTAVES;
use super::strip::{Ground, loads};
use crate::playing::Section;
use crate::score::Line;

/// Passages that are looked at on each side of one that a finding asks about.
const PASSAGES_AROUND: usize = 6;
/// Quarter notes of rest that no moved passage reaches across.
const REST_APART: f64 = 16.0;
/// Quarter notes of rest that part two moves by the same octave.
const REST_BETWEEN_MOVES: f64 = 4.0;

/// Hundredths of a nat by which a moved passage that parts from its line at one end only has to be the likelier
/// for it: a line that leaps once by an octave may well mean to. Set on displaced passages of real parts
/// (`tests/displace.rs`).
const ONE_SEAM: i64 = 700;

/// A passage to be moved: neighbouring notes of one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Region {
    /// Index into [`Section::desks`].
    pub desk: usize,
    /// Index into the desk's lines.
    pub line: usize,
    /// First and last note: indices into the line's played notes, both moved.
    pub first: usize,
    pub last: usize,
    /// Octaves up.
    pub octaves: i8,
    /// How much less seldom the line is for it, in hundredths of a nat.
    pub gain: i64,
}

/// A note of a desk, by its index into the part's notes.
pub(super) type NoteOf = (usize, u32);

/// What the search is told before it begins.
#[derive(Clone, Debug, Default)]
pub(super) struct Wishes {
    /// Notes that a finding asks to move.
    pub asked: std::collections::BTreeSet<NoteOf>,
    /// Notes meant as they stand.
    pub meant: std::collections::BTreeSet<NoteOf>,
    /// Octaves that were tried and did not serve, as bits in the order of [`OCTAVES`].
    pub barred: BTreeMap<NoteOf, u8>,
}

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

/// The passages to move, by desk, line and place.
pub(super) fn seek(section: &Section<'_>, wishes: &Wishes) -> Vec<Region> {
    let leaders = leaders(section);
    let mut found: Vec<Region> = Vec::new();
    for desk in 0..section.desks.len() {
        if leaders[desk] != desk {
            let same = found.iter().filter(|region| region.desk == leaders[desk]);
            let same: Vec<Region> = same.map(|region| Region { desk, ..region.clone() }).collect();
            found.extend(same);
            continue;
        }
        let mut moved: BTreeMap<u32, i8> = BTreeMap::new();
        for line in 0..section.desks[desk].lines.len() {
            let regions = seek_in_line(section, desk, line, &leaders, wishes, &moved);
            let played = &section.desks[desk].lines[line].played;
            for region in &regions {
                for note in &played[region.first..=region.last] {
                    moved.extend(note.chain.iter().map(|&index| (index, region.octaves)));
                }
            }
            found.extend(regions);
        }
    }
    found
}

fn seek_in_line(
    section: &Section<'_>,
    desk: usize,
    line: usize,
    leaders: &[usize],
    wishes: &Wishes,
    moved: &BTreeMap<u32, i8>,
) -> Vec<Region> {
    let here = &section.desks[desk].lines[line];
    let among = |set: &std::collections::BTreeSet<NoteOf>| -> Vec<bool> {
        let held = |chain: &[u32]| chain.iter().any(|&note| set.contains(&(desk, note)));
        here.played.iter().map(|played| held(&played.chain)).collect()
    };
    let asked = among(&wishes.asked);
    let follows =
        |index: usize| here.played[index].shared && moved.contains_key(&here.played[index].chain[0]);
    if !(0..here.played.len()).any(|index| asked[index] || follows(index)) {
        return Vec::new();
    }
    let meant = among(&wishes.meant);
    let settled: Vec<Option<i8>> = here
        .played
        .iter()
        .zip(&meant)
        .map(|(played, &meant)| match (played.shared, meant) {
            (true, _) => Some(moved.get(&played.chain[0]).copied().unwrap_or(0)),
            (false, true) => Some(0),
            (false, false) => None,
        })
        .collect();
    let barred: Vec<u8> = here
        .played
        .iter()
        .map(|played| {
            played.chain.iter().filter_map(|&note| wishes.barred.get(&(desk, note))).fold(0, |a, b| a | b)
        })
        .collect();
    let between = between(here);
    let islands = islands(here, &between, |index| asked[index] || follows(index));
    let mut chosen = vec![false; here.passages.len()];
    for island in &islands {
        chosen[island.clone()].fill(true);
    }
    let loads = loads(section, desk, here, &chosen);
    let leaps = Leaps::of(here, &between);
    let company =
        Company::of(section, desk, line, |other, _| other != desk && leaders[other] == leaders[desk]);
    let mut whole = vec![false; here.played.len()];
    let mut found = Vec::new();
    for island in islands {
        let notes = here.passages[island.start].start..here.passages[island.end - 1].end;
        // Each round keeps at least one passage more whole, so this ends.
        loop {
            let ground = Ground {
                desk: &section.desks[desk],
                line: here,
                between: &between,
                leaps: &leaps,
                company: &company,
                asked: &asked,
                settled: &settled,
                barred: &barred,
                whole: &whole,
                loads: &loads,
            };
            let strip = ground.strip(notes.clone());
            let Some((mut plan, mut cost)) = strip.cheapest() else { break };
            if ground.let_go(&strip, notes.start, &mut plan) {
                let Some(without) = strip.cost_of(&plan) else { break };
                cost = without;
            }
            let mut regions = Vec::new();
            let mut unfounded = false;
            for (first, last, octaves) in runs(&plan) {
                let mut without = plan.clone();
                without[first..=last].fill(0);
                // Where no plan is allowed without it (a note read by two), there is nothing to gain or lose.
                let gain = strip.cost_of(&without).map_or(0, |there| there.shape - cost.shape);
                let (first, last) = (first + notes.start, last + notes.start);
                let seam_in = first.checked_sub(1).is_some_and(|gap| between[gap] == Between::Nothing);
                let seam_out = between.get(last) == Some(&Between::Nothing);
                if (seam_in || seam_out) && gain <= 0 {
                    for (index, seam) in [(first, seam_in), (last, seam_out)] {
                        let passage = here.passages[here.passage_of(index)].clone();
                        unfounded |= seam && whole[passage.clone()].iter().any(|whole| !whole);
                        if seam {
                            whole[passage].fill(true);
                        }
                    }
                }
                if seam_in != seam_out {
                    let passage = here.passages[here.passage_of(if seam_in { first } else { last })].clone();
                    let mut entire = plan.clone();
                    let from = passage.start.max(notes.start) - notes.start;
                    entire[from..passage.end.min(notes.end) - notes.start].fill(octaves);
                    let as_good = strip.cost_of(&entire).is_some_and(|there| {
                        there.trouble() <= cost.trouble() && there.shape - cost.shape < ONE_SEAM
                    });
                    if as_good && whole[passage.clone()].iter().any(|whole| !whole) {
                        unfounded = true;
                        whole[passage].fill(true);
                    }
                }
                regions.push(Region { desk, line, first, last, octaves, gain });
            }
            if !unfounded {
                let cures = |index: usize, octaves: i8| {
                    let which = OCTAVES.iter().position(|&known| known == octaves).unwrap_or(0);
                    strip.notes[index - notes.start].cures[which]
                };
                found.extend(regions.into_iter().flat_map(|region| parted(&region, &between, cures)));
                break;
            }
        }
    }
    found
}

/// Ranges of passages around those that are asked about.
fn islands(line: &Line, between: &[Between], asked: impl Fn(usize) -> bool) -> Vec<std::ops::Range<usize>> {
    let mut islands: Vec<std::ops::Range<usize>> = Vec::new();
    let apart = |passage: usize| {
        // Whether nothing moves across the rest behind a passage.
        let gap = line.passages[passage].end - 1;
        between.get(gap).is_none_or(|between| between.rest() >= REST_APART)
    };
    for passage in 0..line.passages.len() {
        if !line.passages[passage].clone().any(&asked) {
            continue;
        }
        let (mut from, mut to) = (passage, passage + 1);
        while from > 0 && passage - from < PASSAGES_AROUND && !apart(from - 1) {
            from -= 1;
        }
        while to < line.passages.len() && to - passage <= PASSAGES_AROUND && !apart(to - 1) {
            to += 1;
        }
        match islands.last_mut() {
            Some(last) if last.end >= from => last.end = last.end.max(to),
            _ => islands.push(from..to),
        }
    }
    islands
}

/// Runs of one octave other than the written one: first, last, octave.
pub(super) fn runs(plan: &[i8]) -> Vec<(usize, usize, i8)> {
    let mut runs = Vec::new();
    let mut from = 0;
    for to in 1..=plan.len() {
        if to == plan.len() || plan[to] != plan[from] {
            if plan[from] != 0 {
                runs.push((from, to - 1, plan[from]));
            }
            from = to;
        }
    }
    runs
}

/// A region in pieces at the longer rests, where each piece cures something of its own.
fn parted(region: &Region, between: &[Between], cures: impl Fn(usize, i8) -> bool) -> Vec<Region> {
    let mut pieces: Vec<(usize, usize)> = Vec::new();
    let mut from = region.first;
    for last in region.first..=region.last {
        let rest = between.get(last).map_or(0.0, |between| between.rest());
        let ends = last == region.last || rest >= REST_BETWEEN_MOVES;
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
