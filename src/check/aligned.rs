//! Which part and which bar of one version of a score is which of another.
//!
//! In go two versions as they were read; out come their parts and bars in pairs, by what sounds in them. Octaves do
//! not count, so that a passage taken up an octave is the same passage; nor do bar numbers, so that bars put in before
//! leave the rest where it was; nor dynamics and words, which are for the remarks. Bars that are the same are found by
//! a difference of sequences; of what lies between, those are paired that have most in common.

use std::cmp::Ordering;
use std::collections::{BTreeSet, HashMap};

use similar::{Algorithm, DiffOp, capture_diff_slices};

use crate::music::{Length, Sounding};
use crate::score::{Note, PartInfo, Score};

/// Beyond so many pairs of bars that could be one another they are taken in their order.
const MOST_PAIRS: usize = 4_000_000;
/// The same, before those that are alike were sought.
const MOST_IN_ALL: usize = 1_000_000_000;

/// What two bars cost as one where they have nothing in common.
const UNLIKE: u32 = 100;
/// What a bar costs that is in one version only. Two of them cost more than any two bars taken as one, so that a bar
/// written anew counts as changed.
const ALONE: u32 = 51;

/// The parts and bars of two versions in pairs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Aligned {
    /// The parts that both have, as indices into [`Score::parts`]: old, new.
    pub(super) parts: Vec<(usize, usize)>,
    /// The bars that both have, in order, as indices: old, new.
    pub(super) bars: Vec<(usize, usize)>,
}

impl Aligned {
    /// Takes two versions for each other.
    pub(super) fn of(old: &Score, new: &Score) -> Aligned {
        let (old_parts, new_parts) = (heard(old), heard(new));
        let mut pairs = part_pairs(&old_parts, &new_parts);
        pairs.sort_unstable();
        let mut ids = Ids::default();
        let olds = pairs.iter().map(|(old, _)| &old_parts[*old]);
        let olds = bars(olds, old.bars.len(), &mut ids);
        let news = pairs.iter().map(|(_, new)| &new_parts[*new]);
        let news = bars(news, new.bars.len(), &mut ids);
        Aligned {
            bars: bar_pairs(&olds, &news),
            parts: pairs
                .into_iter()
                .filter(|(one, other)| *one < old.parts.len() && *other < new.parts.len())
                .collect(),
        }
    }
}

/// How much of the music two versions have in common, from 0 to 1: the share of sounding bars that are the same wherever
/// they stand, whatever the parts are called.
pub(super) fn in_common(old: &Score, new: &Score) -> f64 {
    let mut ids = Ids::default();
    let mut sounding = |score: &Score| -> Vec<Vec<u32>> {
        let mut parts = heard(score);
        for part in &mut parts {
            part.name.clear();
        }
        let mut bars = bars_of_nobody(&parts, score.bars.len(), &mut ids);
        bars.retain(|bar| !bar.is_empty());
        bars.sort_unstable();
        bars
    };
    let (old, new) = (sounding(old), sounding(new));
    common(&old, &new) as f64 / old.len().max(new.len()).max(1) as f64
}

/// Without its octave: cents above a C.
pub(super) fn pitch_class(sounding: Sounding) -> i32 {
    sounding.height().in_cents().rem_euclid(1200)
}

/// A part as it is compared.
struct Heard {
    name: String,
    judged: bool,
    sounds: Vec<SoundIn>,
}

/// What sounds somewhere in a bar.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct SoundIn {
    bar: usize,
    into: Length,
    length: Length,
    pitch_class: i32,
}

/// All parts of a score: first those that are read in full, then the others.
fn heard(score: &Score) -> Vec<Heard> {
    let name = |info: &PartInfo| info.name.trim().to_lowercase();
    let judged = score.parts.iter().map(|part| Heard {
        name: name(&part.info),
        judged: true,
        sounds: part
            .notes
            .iter()
            .filter(|note| note.is_played())
            .map(|note: &Note| SoundIn {
                bar: note.bar as usize,
                into: note.bar_onset,
                length: note.length,
                pitch_class: pitch_class(note.sounding),
            })
            .collect(),
    });
    let others = score.passed_over.iter().map(|part| Heard {
        name: name(&part.info),
        judged: false,
        sounds: part
            .sounds
            .iter()
            .map(|sound| {
                let bar = score.bars.partition_point(|bar| bar.start <= sound.onset).saturating_sub(1);
                let start = score.bars.get(bar).map_or(sound.onset, |bar| bar.start);
                SoundIn {
                    bar,
                    into: sound.onset.since(start),
                    length: sound.end.since(sound.onset),
                    pitch_class: pitch_class(sound.sounding),
                }
            })
            .collect(),
    });
    judged.chain(others).collect()
}

/// By name, the first of a name with the first; then, where a part was renamed, by what it plays.
fn part_pairs(old: &[Heard], new: &[Heard]) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    let mut free: BTreeSet<usize> = (0..new.len()).collect();
    let mut left = Vec::new();
    for (index, part) in old.iter().enumerate() {
        let is_it = |other: &&usize| new[**other].name == part.name && new[**other].judged == part.judged;
        match free.iter().find(is_it).copied() {
            Some(other) => {
                free.remove(&other);
                pairs.push((index, other));
            }
            None => left.push(index),
        }
    }
    // Bars may have been put in: what counts is what sounds where in its bar, not in which.
    let music = |part: &Heard| -> Vec<(Length, Length, i32)> {
        let mut music: Vec<_> =
            part.sounds.iter().map(|sound| (sound.into, sound.length, sound.pitch_class)).collect();
        music.sort_unstable();
        music
    };
    for index in left {
        let own = music(&old[index]);
        let like = |other: &usize| {
            let others = music(&new[*other]);
            let shared = common(&own, &others);
            let same = new[*other].judged == old[index].judged && 2 * shared >= own.len().max(others.len());
            (same && shared > 0).then_some((shared, std::cmp::Reverse(*other)))
        };
        if let Some((_, std::cmp::Reverse(other))) = free.iter().filter_map(like).max() {
            free.remove(&other);
            pairs.push((index, other));
        }
    }
    pairs
}

/// Numbers for what sounds: equal for what is equal.
#[derive(Default)]
struct Ids(HashMap<(usize, Length, Length, Option<i32>), u32>);

impl Ids {
    fn of(&mut self, what: (usize, Length, Length, Option<i32>)) -> u32 {
        let next = u32::try_from(self.0.len()).unwrap_or(u32::MAX);
        *self.0.entry(what).or_insert(next)
    }
}

/// A bar of all parts: what sounds, and the rhythm alone. Both sorted.
#[derive(Clone, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Content {
    sounds: Vec<u32>,
    rhythm: Vec<u32>,
}

fn bars<'a>(parts: impl Iterator<Item = &'a Heard>, count: usize, ids: &mut Ids) -> Vec<Content> {
    let mut bars = vec![Content::default(); count];
    for (index, part) in parts.enumerate() {
        for sound in &part.sounds {
            let Some(bar) = bars.get_mut(sound.bar) else { continue };
            bar.sounds.push(ids.of((index, sound.into, sound.length, Some(sound.pitch_class))));
            bar.rhythm.push(ids.of((index, sound.into, sound.length, None)));
        }
    }
    for bar in &mut bars {
        bar.sounds.sort_unstable();
        bar.rhythm.sort_unstable();
    }
    bars
}

/// The same as if all were one part.
fn bars_of_nobody(parts: &[Heard], count: usize, ids: &mut Ids) -> Vec<Vec<u32>> {
    let mut bars = vec![Vec::new(); count];
    for sound in parts.iter().flat_map(|part| &part.sounds) {
        let Some(bar) = bars.get_mut(sound.bar) else { continue };
        bar.push(ids.of((0, sound.into, sound.length, Some(sound.pitch_class))));
    }
    for bar in &mut bars {
        bar.sort_unstable();
    }
    bars
}

fn bar_pairs(old: &[Content], new: &[Content]) -> Vec<(usize, usize)> {
    if old.len().saturating_mul(new.len()) > MOST_IN_ALL {
        return in_order(0, 0, old.len().min(new.len())).collect();
    }
    let mut pairs = Vec::new();
    for step in capture_diff_slices(Algorithm::Patience, old, new) {
        match step {
            DiffOp::Equal { old_index, new_index, len } => pairs.extend(in_order(old_index, new_index, len)),
            DiffOp::Replace { old_index, old_len, new_index, new_len } => {
                let gap = (&old[old_index..old_index + old_len], &new[new_index..new_index + new_len]);
                pairs.extend(likest(gap.0, gap.1).into_iter().map(|(o, n)| (old_index + o, new_index + n)));
            }
            DiffOp::Delete { .. } | DiffOp::Insert { .. } => {}
        }
    }
    pairs
}

fn in_order(old: usize, new: usize, count: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..count).map(move |by| (old + by, new + by))
}

/// What stands last in the cheapest way to a place.
#[derive(Clone, Copy)]
enum Last {
    Pair,
    Old,
    New,
}

/// The pairs, in order on both sides, that cost least (Needleman and Wunsch, 1970): the unlikeness of each, and [`ALONE`] for
/// each bar without another.
fn likest(old: &[Content], new: &[Content]) -> Vec<(usize, usize)> {
    if old.len().saturating_mul(new.len()) > MOST_PAIRS {
        return in_order(0, 0, old.len().min(new.len())).collect();
    }
    let wide = new.len() + 1;
    let mut last = vec![Last::New; (old.len() + 1) * wide];
    let mut costs: Vec<u32> = (0..wide).map(|count| count as u32 * ALONE).collect();
    for (row, one) in old.iter().enumerate() {
        let mut corner = costs[0];
        costs[0] += ALONE;
        last[(row + 1) * wide] = Last::Old;
        for (column, other) in new.iter().enumerate() {
            let ways = [
                (corner + unlikeness(one, other), Last::Pair),
                (costs[column + 1] + ALONE, Last::Old),
                (costs[column] + ALONE, Last::New),
            ];
            // Of equals the first.
            let (cost, way) = ways.into_iter().min_by_key(|(cost, _)| *cost).unwrap_or(ways[0]);
            corner = costs[column + 1];
            costs[column + 1] = cost;
            last[(row + 1) * wide + column + 1] = way;
        }
    }
    let (mut row, mut column) = (old.len(), new.len());
    let mut pairs = Vec::new();
    while row > 0 || column > 0 {
        match last[row * wide + column] {
            Last::Pair => {
                (row, column) = (row - 1, column - 1);
                pairs.push((row, column));
            }
            Last::Old => row -= 1,
            Last::New => column -= 1,
        }
    }
    pairs.reverse();
    pairs
}

/// From 0 for the same bar to [`UNLIKE`]: what sounds counts double, rhythm alone once.
fn unlikeness(one: &Content, other: &Content) -> u32 {
    if one.sounds == other.sounds {
        return 0;
    }
    let most = one.sounds.len().max(other.sounds.len()).max(1);
    let shared = 2 * common(&one.sounds, &other.sounds) + common(&one.rhythm, &other.rhythm);
    UNLIKE - (UNLIKE as usize * shared / (3 * most)).min(UNLIKE as usize - 1) as u32
}

/// How many items two sorted lists share, each as often as both have it.
fn common<T: Ord>(one: &[T], other: &[T]) -> usize {
    let (mut one, mut other) = (one.iter().peekable(), other.iter().peekable());
    let mut shared = 0;
    while let (Some(left), Some(right)) = (one.peek(), other.peek()) {
        match left.cmp(right) {
            Ordering::Less => drop(one.next()),
            Ordering::Greater => drop(other.next()),
            Ordering::Equal => {
                shared += 1;
                one.next();
                other.next();
            }
        }
    }
    shared
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::testing::{music, section};

    /// Bars of the one beside bars of the other, numbered from 1; `-` where there is none.
    #[track_caller]
    fn check(old: &str, new: &str, expected: &str) {
        let (old, new) = (music(old).score, music(new).score);
        assert_eq!(said(&Aligned::of(&old, &new), &old, &new), expected);
    }

    fn said(aligned: &Aligned, old: &Score, new: &Score) -> String {
        let (mut row, mut column) = (0, 0);
        let mut said = Vec::new();
        let ends = [(old.bars.len(), new.bars.len())];
        for (one, other) in aligned.bars.iter().chain(&ends) {
            said.extend((row..*one).map(|bar| format!("{}/-", bar + 1)));
            said.extend((column..*other).map(|bar| format!("-/{}", bar + 1)));
            if (*one, *other) != ends[0] {
                said.push(format!("{}/{}", one + 1, other + 1));
            }
            (row, column) = (one + 1, other + 1);
        }
        said.join(" ")
    }

    #[test]
    fn bars_put_in_or_taken_out_leave_the_others_where_they_were() {
        check("C2/4 | D2/4 | E2/4", "C2/4 | G2/2 A2 | D2/4 | E2/4", "1/1 -/2 2/3 3/4");
        check("C2/4 | G2/2 A2 | D2/4 | E2/4", "C2/4 | D2/4 | E2/4", "1/1 2/- 3/2 4/3");
        check("C2/4 | D2/4", "F2/4 | r/4 | C2/4 | D2/4", "-/1 -/2 1/3 2/4");
    }

    #[test]
    fn octaves_make_no_other_bar() {
        check("C2/4 | D1/4 | E2/4", "G2/4 | C2/4 | D2/4 | E2/4", "-/1 1/2 2/3 3/4");
    }

    #[test]
    fn a_bar_written_anew_is_that_bar_changed() {
        check("C2/4 | D2/4 | E2/4", "C2/4 | G2/2 A2 | E2/4", "1/1 2/2 3/3");
        // Of two bars in the place of one the likelier is it.
        check("C2/4 | D2/2 E2 | E2/4", "C2/4 | F2/4 | D2/2 F2 | E2/4", "1/1 -/2 2/3 3/4");
    }

    #[test]
    fn everything_transposed_keeps_its_bars() {
        check("C2/4 | D2/2 E2 | r/4 | E2/4", "D2/4 | E2/2 F#2 | r/4 | F#2/4", "1/1 2/2 3/3 4/4");
    }

    #[test]
    fn parts_are_known_by_name_and_renamed_ones_by_what_they_play() {
        let old = section(&[("Tuba", "C2/4 | D2/4"), ("Cimbasso", "E2/4 | F2/4")]).score;
        let new = section(&[
            ("Cimbasso", "E2/4 | G2/4"),
            ("Bass Trombone", "A2/4 | A2/4"),
            ("Tuba 1", "C1/4 | D2/4"),
        ])
        .score;
        let mut aligned = Aligned::of(&old, &new);
        assert_eq!(aligned.parts, [(0, 2), (1, 0)]);
        // A part of another name and with other music is another part.
        let new = section(&[("Cimbasso", "E2/4 | F2/4"), ("Tuba 1", "A2/4 | A2/4")]).score;
        aligned = Aligned::of(&old, &new);
        assert_eq!(aligned.parts, [(1, 0)]);
    }

    #[test]
    fn two_parts_of_one_name_keep_their_order() {
        let old = section(&[("Trombone", "C2/4"), ("Trombone", "D2/4")]).score;
        let new = section(&[("Trombone", "E2/4"), ("Trombone", "F2/4"), ("Trombone", "C2/4")]).score;
        assert_eq!(Aligned::of(&old, &new).parts, [(0, 0), (1, 1)]);
    }

    #[test]
    fn what_two_versions_have_in_common_is_a_share_of_the_longer() {
        let of = |old: &str, new: &str| in_common(&music(old).score, &music(new).score);
        assert!((of("C2/4 | D2/4 | r/4", "C1/4 | E2/4 | r/4 | r/4") - 0.5).abs() < 1e-9);
        assert!((of("C2/4", "C2/4 | D2/4 | E2/4 | F2/4") - 0.25).abs() < 1e-9);
        assert!(of("r/4", "r/4").abs() < 1e-9);
    }

    proptest::proptest! {
            #[test]
        fn pairs_are_in_order_and_each_bar_has_one(
            old in proptest::collection::vec(0_usize..6, 1..40),
            new in proptest::collection::vec(0_usize..6, 1..40),
        ) {
            let bars = ["C2/4", "D2/2 E2", "E2/4", "r/4", "F2/1 r/3", "D1/2 E1"];
            let written = |chosen: &[usize]| chosen.iter().map(|&bar| bars[bar]).collect::<Vec<_>>().join(" | ");
            let (one, other) = (music(&written(&old)).score, music(&written(&new)).score);
            let aligned = Aligned::of(&one, &other);
            proptest::prop_assert!(aligned.bars.windows(2).all(|two| two[0].0 < two[1].0 && two[0].1 < two[1].1));
            let same = Aligned::of(&one, &one);
            proptest::prop_assert!(same.bars.iter().all(|(a, b)| a == b) && same.bars.len() == one.bars.len());
        }
    }
}
