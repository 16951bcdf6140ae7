//! How seldom a line makes a leap: counted from the line itself.

use super::company::semitones;
use super::cuts::Between;
use crate::score::Line;

/// Semitones beyond which leaps are not told apart.
const WIDEST: usize = 36;

/// How seldom each leap is, in hundredths of a nat.
#[derive(Clone, Debug)]
pub(super) struct Leaps {
    in_line: Vec<i64>,
    over_rest: Vec<i64>,
}

impl Leaps {
    /// Counts the leaps of a line.
    pub(super) fn of(line: &Line, between: &[Between]) -> Leaps {
        let mut in_line = [0_u32; WIDEST + 1];
        let mut over_rest = [0_u32; WIDEST + 1];
        for (pair, between) in line.played.windows(2).zip(between) {
            let size = size(semitones(&pair[0], &pair[1]));
            if between.is_rest() {
                over_rest[size] += 1;
            } else {
                in_line[size] += 1;
            }
        }
        // Before anything is counted a leap is the rarer the wider it is; behind a rest less so.
        Leaps { in_line: rarities(&in_line, 3.5), over_rest: rarities(&over_rest, 7.0) }
    }

    /// How seldom the line leaps so far (either way) between two notes.
    pub(super) fn rarity(&self, leap: i32, between: Between) -> i64 {
        let table = if between.is_rest() { &self.over_rest } else { &self.in_line };
        table[size(leap)]
    }
}

fn size(leap: i32) -> usize {
    (leap.unsigned_abs() as usize).min(WIDEST)
}

/// −100 ln of each size's share. What was counted is smoothed over neighbouring sizes and mixed with an
/// exponential of the given scale that weighs as much as eight leaps.
fn rarities(counted: &[u32], scale: f64) -> Vec<i64> {
    let expected: Vec<f64> = (0..counted.len()).map(|size| (-(size as f64) / scale).exp()).collect();
    let whole: f64 = expected.iter().sum();
    let total: u32 = counted.iter().sum();
    (0..counted.len())
        .map(|size| {
            let at = |size: usize| f64::from(counted.get(size).copied().unwrap_or(0));
            let beside = at(size + 1) + if size > 0 { at(size - 1) } else { at(size) };
            let seen = 0.5 * at(size) + 0.25 * beside;
            let share = (seen + 8.0 * expected[size] / whole) / (f64::from(total) + 8.0);
            (-100.0 * share.ln()).round() as i64
        })
        .collect()
}
