//! How seldom a line makes a leap: counted from the line itself.

use super::cuts::Between;
use super::other_voices::semitones;
use crate::profile::{LeapsExpected, MoveExpected};
use crate::score::Line;

/// Semitones beyond which leaps are not told apart.
const WIDEST: usize = 36;

/// How seldom each leap is.
#[derive(Clone, Debug)]
pub(super) struct Leaps {
    in_line: Counted,
    over_rest: Counted,
}

/// Leaps by size.
#[derive(Clone, Debug)]
struct Counted {
    seen: [u32; WIDEST + 1],
    total: u32,
    /// Shares before anything is counted, and what they weigh as much as.
    expected: [f64; WIDEST + 1],
    doubt: f64,
}

impl Leaps {
    /// Counts the leaps of a line but for those of suspect notes: the two beside a note that went astray would vouch for
    /// each other.
    pub(super) fn of(line: &Line, between: &[Between], suspect: &[bool], expected: &MoveExpected) -> Leaps {
        let mut leaps = Leaps {
            in_line: Counted::none(&expected.in_line),
            over_rest: Counted::none(&expected.over_rest),
        };
        for ((pair, between), suspect) in line.played.windows(2).zip(between).zip(suspect.windows(2)) {
            if suspect.contains(&true) {
                continue;
            }
            let table = if between.is_rest() { &mut leaps.over_rest } else { &mut leaps.in_line };
            table.seen[size(semitones(&pair[0], &pair[1]))] += 1;
            table.total += 1;
        }
        leaps
    }

    /// How seldom the line leaps so far (either way), in hundredths of a nat. A leap that was counted where it is
    /// written may be the one that is wrong, and is no witness there.
    pub(super) fn rarity(&self, counted: Option<i32>, leap: i32, between: Between) -> i64 {
        let table = if between.is_rest() { &self.over_rest } else { &self.in_line };
        table.rarity(counted.map(size), size(leap))
    }
}

fn size(leap: i32) -> usize {
    (leap.unsigned_abs() as usize).min(WIDEST)
}

/// An octave is not heard as a narrow ninth or a wide seventh.
fn is_octave(size: usize) -> bool {
    size > 0 && size.is_multiple_of(12)
}

impl Counted {
    /// A leap is the rarer the wider it is, but for octaves.
    fn none(leaps: &LeapsExpected) -> Counted {
        let &LeapsExpected { scale, octaves, doubt } = leaps;
        let mut expected: [f64; WIDEST + 1] = std::array::from_fn(|size| (-(size as f64) / scale).exp());
        let whole: f64 = expected.iter().sum();
        for share in &mut expected {
            *share /= whole;
        }
        expected[12] += octaves;
        Counted { seen: [0; WIDEST + 1], total: 0, expected, doubt }
    }

    /// −100 ln of a size's share without the leap that is asked about. What was counted is smoothed over neighbouring
    /// sizes and mixed with what is expected.
    fn rarity(&self, counted: Option<usize>, size: usize) -> i64 {
        let at = |size: usize| {
            let seen = self.seen.get(size).copied().unwrap_or(0);
            f64::from(seen - u32::from(Some(size) == counted && seen > 0))
        };
        let near = |other: usize| if is_octave(size) || is_octave(other) { at(size) } else { at(other) };
        let below = size.checked_sub(1).map_or(at(size), near);
        let seen = 0.5 * at(size) + 0.25 * (below + near(size + 1));
        let others = self.total.saturating_sub(u32::from(counted.is_some()));
        let share = (seen + self.doubt * self.expected[size]) / (f64::from(others) + self.doubt);
        (-100.0 * share.ln()).round() as i64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::octaves::cuts::between;
    use crate::octaves::tests::limits;
    use crate::score::testing::music;

    fn leaps(text: &str) -> Leaps {
        let line = music(text).lines.remove(0);
        Leaps::of(&line, &between(&line), &vec![false; line.played.len()], &limits().expected)
    }

    #[test]
    fn a_leap_that_comes_once_does_not_vouch_for_itself() {
        let once = leaps("C3 D3 E3 D3 F4 E4 F4 D4 C4 D4");
        let never = leaps("C3 D3 E3 D3 E3 D3 E3 D3 C3 D3");
        let seldom = |leaps: &Leaps, written| leaps.rarity(Some(written), 15, Between::Nothing);
        assert_eq!(seldom(&once, 15), seldom(&never, 2));
        assert!(seldom(&once, 2) < seldom(&once, 15));
    }

    #[test]
    fn octaves_are_commoner_than_their_neighbours_and_do_not_vouch_for_them() {
        let plain = leaps("C3 D3 E3 D3 C3 D3 E3 D3 C3 D3");
        let many = leaps("C3 C4 C3 C4 C3 C4 C3 C4 C3 C4");
        for other in [11, 13] {
            let seldom = |leaps: &Leaps, leap| leaps.rarity(Some(2), leap, Between::Nothing);
            assert!(seldom(&plain, 12) < seldom(&plain, other));
            assert!(seldom(&many, other) >= seldom(&plain, other) - 1);
        }
    }
}
