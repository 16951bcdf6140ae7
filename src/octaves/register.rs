//! Where a line usually lies, heard from the rest of it.

use std::ops::Range;
use std::sync::Arc;

use super::other_voices::semitones;
use crate::profile::MoveExpected;
use crate::score::Line;

/// Semitones by which heights are told apart, either way from a line's first note: all that `MusicXML` can write.
const FARTHEST: usize = 160;

/// How often a line stands at each height.
#[derive(Clone, Debug)]
pub(super) struct Register {
    heights: Arc<[i32]>,
    near: Vec<u32>,
    /// Notes that are counted.
    counted: usize,
    expected: MoveExpected,
}

impl Register {
    /// Counts the heights of a line.
    pub(super) fn of(line: &Line, expected: &MoveExpected) -> Register {
        let within = expected.near;
        let first = line.played.first();
        let heights: Arc<[i32]> =
            line.played.iter().map(|note| first.map_or(0, |first| semitones(first, note))).collect();
        let mut near = vec![0; 2 * FARTHEST];
        for &height in &*heights {
            for there in height - within..=height + within {
                if let Some(count) = at(there).and_then(|at| near.get_mut(at)) {
                    *count += weight(within, there - height);
                }
            }
        }
        Register { counted: heights.len(), heights, near, expected: *expected }
    }

    /// The same without some notes.
    pub(super) fn without(&self, notes: &[Range<usize>]) -> Register {
        let mut rest = self.clone();
        let within = self.expected.near;
        for &height in notes.iter().flat_map(|notes| &self.heights[notes.clone()]) {
            for there in height - within..=height + within {
                if let Some(count) = at(there).and_then(|at| rest.near.get_mut(at)) {
                    *count -= weight(within, there - height);
                }
            }
            rest.counted -= 1;
        }
        rest
    }

    /// How seldom the line lies where a note would stand some octaves higher, in hundredths of a nat. Notes in
    /// `own` may have gone astray with it, and are no witnesses.
    pub(super) fn rarity(&self, note: usize, octaves: i8, own: &Range<usize>) -> f64 {
        let MoveExpected { near, span, span_doubt, .. } = self.expected;
        let height = self.heights[note] + 12 * i32::from(octaves);
        let all = at(height).and_then(|at| self.near.get(at)).copied().unwrap_or(0);
        let here: u32 = self.heights[own.clone()].iter().map(|other| weight(near, height - other)).sum();
        let whole =
            f64::from((0..=near).map(|away| weight(near, away) * if away == 0 { 1 } else { 2 }).sum::<u32>());
        let others = (self.counted - own.len()) as f64;
        let share = (f64::from(all.saturating_sub(here)) / whole + span_doubt / span) / (others + span_doubt);
        -100.0 * share.ln()
    }
}

fn weight(near: i32, away: i32) -> u32 {
    u32::try_from(near + 1 - away.abs()).unwrap_or(0)
}

fn at(height: i32) -> Option<usize> {
    usize::try_from(height + FARTHEST as i32).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::octaves::tests::limits;
    use crate::score::testing::music;

    #[test]
    fn a_line_is_at_home_where_the_rest_of_it_lies() {
        let music = music("C3 D3 E3 D3 | r/4 | E2 D2 C2 D2 | r/4 | E3 D3 C3 D3 | r/4 | D3 E3 D3 C3 |");
        let register = Register::of(&music.lines[0], &limits().expected);
        let rarity = |octaves| register.rarity(4, octaves, &(4..8));
        assert!(rarity(1) + 100.0 < rarity(0), "{} {}", rarity(1), rarity(0));
        assert!(rarity(0) < rarity(-1) + 1e-9);
    }

    #[test]
    fn where_nothing_else_is_heard_no_height_is_likelier() {
        let music = music("C3 D3 E3 D3 | E2 D2 C2 D2 |");
        let register = Register::of(&music.lines[0], &limits().expected);
        let rarities = [-1, 0, 1].map(|octaves| register.rarity(4, octaves, &(0..8)));
        assert!(rarities.iter().all(|rarity| (rarity - rarities[0]).abs() < 1e-9), "{rarities:?}");
    }
}
