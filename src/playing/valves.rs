//! Valves: which of them give a pitch, and how far out of tune.
//!
//! The lengths of valves add, not their semitones: with r = 2^(s/12) − 1 for each valve down, the instrument is
//! 1 + Σ r times as long, and the more valves, the sharper. On a compensating instrument the fourth valve makes
//! the loops of the first three longer by its own ratio. Partials count where nature puts them.

use crate::music::Sounding;
use crate::profile::Valves;

/// One way to play a pitch.
#[derive(Clone, Debug, PartialEq)]
pub struct Fingering {
    /// The valves down, from 1, in order; empty for the open instrument.
    pub valves: Vec<u8>,
    /// Its partial, 1 for a pedal.
    pub partial: u8,
    /// Cents the combination sounds sharp (negative: flat).
    pub cents: f64,
}

/// The best combination for a pitch: the one least out of tune, of equal ones the one with fewer valves. `None`
/// where none comes within [`ValveLimits::sharp_missing`](crate::profile::ValveLimits::sharp_missing).
pub fn fingering(valves: &Valves, pitch: Sounding) -> Option<Fingering> {
    let above = pitch.height().semitones_above(valves.fundamental.height());
    let frequency = (above / 12.0).exp2();
    let ratios = ratios(&valves.semitones);
    // A hundredth of a cent is no difference: the shorter combination comes first and stays.
    let no_difference = (-0.01_f64 / 1200.0).exp2();
    let mut best: Option<(u8, u8, f64, f64)> = None;
    for down in combinations(valves.semitones.len()) {
        // The partial that would be in tune; it is compared as a ratio, which takes no logarithm.
        let wanted = frequency * length(valves.compensating, &ratios, down);
        for partial in partials_around(wanted, valves.highest_partial) {
            let sharp = f64::from(partial) / wanted;
            let off = sharp.max(sharp.recip());
            if best.is_none_or(|(.., best)| off < best * no_difference) {
                best = Some((down, partial, sharp, off));
            }
        }
    }
    let (down, partial, sharp, _) = best?;
    let cents = 1200.0 * sharp.log2();
    (cents.abs() < *valves.limits.sharp_missing).then(|| Fingering {
        valves: (1..=MOST_VALVES as u8).filter(|valve| is_down(down, usize::from(valve - 1))).collect(),
        partial,
        cents,
    })
}

/// No instrument has more.
const MOST_VALVES: usize = 8;

/// All sets of valves, as bits, the first valve the highest: those with fewer valves first, then by the valves' numbers.
const SETS: [u8; 1 << MOST_VALVES] = {
    let mut sets = [0; 1 << MOST_VALVES];
    let (mut at, mut count) = (0, 0);
    while count <= MOST_VALVES as u32 {
        let mut set = u8::MAX;
        loop {
            if set.count_ones() == count {
                sets[at] = set;
                at += 1;
            }
            if set == 0 {
                break;
            }
            set -= 1;
        }
        count += 1;
    }
    sets
};

/// All combinations of so many valves, in the order of [`SETS`].
fn combinations(count: usize) -> impl Iterator<Item = u8> {
    let beyond = u8::MAX.checked_shr(count as u32).unwrap_or(0);
    SETS.into_iter().filter(move |set| set & beyond == 0)
}

/// Whether a combination has a valve, counted from 0.
fn is_down(set: u8, valve: usize) -> bool {
    set << valve & 1 << (MOST_VALVES - 1) != 0
}

/// How many times as long as the open instrument each valve alone makes it; valves that are not there change nothing.
fn ratios(semitones: &[f64]) -> [f64; MOST_VALVES] {
    let mut ratios = [1.0; MOST_VALVES];
    for (ratio, semitones) in ratios.iter_mut().zip(semitones) {
        *ratio = (semitones / 12.0).exp2();
    }
    ratios
}

/// How many times as long as the open instrument a combination makes it. `ratios` are the valves' own.
fn length(compensating: bool, ratios: &[f64; MOST_VALVES], down: u8) -> f64 {
    const FOURTH: usize = 3;
    let longer = if compensating && is_down(down, FOURTH) { ratios[FOURTH] } else { 1.0 };
    let mut length = 1.0;
    for (valve, ratio) in ratios.iter().enumerate() {
        let added = (ratio - 1.0) * if valve < FOURTH { longer } else { 1.0 };
        length += if is_down(down, valve) { added } else { 0.0 };
    }
    length
}

/// The partials on either side of a multiple of the first, as far as they are played.
fn partials_around(multiple: f64, highest: u8) -> std::ops::RangeInclusive<u8> {
    let below = u8::try_from(multiple.clamp(1.0, f64::from(highest)) as i32).unwrap_or(1);
    below..=below.saturating_add(1).min(highest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{at, pitch, valves};

    const FOUR: &str = "contrabass-tuba-c-4v";

    /// Best errors in whole cents for notes 4 to 11 semitones below the open second partial.
    fn errors(instrument: &str) -> Vec<Option<i32>> {
        let valves = Valves { highest_partial: 2, ..valves(instrument) };
        let second = valves.fundamental.up_octaves(1);
        (4..=11)
            .map(|below| {
                let cents = second.height().in_cents() - 100 * below;
                let pitch = at(cents);
                let found = fingering(&valves, pitch)?;
                assert_eq!(found.partial, 2, "{below} below");
                Some(found.cents.round() as i32)
            })
            .collect()
    }

    #[test]
    fn combinations_of_plain_valves_are_as_sharp_as_the_sum_of_lengths() {
        // R. W. Young's sum of lengths (1967): cents sharp of the combinations of valves 2 1 3 5 semitones long.
        let ratios = ratios(&valves(FOUR).semitones);
        let expected: [(&[u8], f64, f64); 11] = [
            (&[1, 2], 3.0, 11.0),
            (&[2, 3], 4.0, 16.0),
            (&[1, 3], 5.0, 30.0),
            (&[2, 4], 6.0, 25.0),
            (&[1, 4], 7.0, 48.0),
            (&[1, 2, 3], 6.0, 54.0),
            (&[3, 4], 8.0, 71.0),
            (&[1, 2, 4], 8.0, 79.0),
            (&[2, 3, 4], 9.0, 104.0),
            (&[1, 3, 4], 10.0, 137.0),
            (&[1, 2, 3, 4], 11.0, 175.0),
        ];
        for (down, nominal, sharp) in expected {
            let set = down.iter().fold(0, |set, valve| set | 1 << (8 - valve));
            let cents = 100.0 * (nominal - 12.0 * length(false, &ratios, set).log2());
            assert!((cents - sharp).abs() < 1.0, "{down:?} is {cents:.1} cents sharp, not {sharp}");
        }
    }

    #[test]
    fn each_kind_of_valves_misses_and_bends_what_the_sum_of_lengths_says() {
        // The same formula, best combination for 4 to 11 semitones below the open second partial.
        let row = |cells: [i32; 8]| cells.map(Some).to_vec();
        let mut three = row([16, 30, 54, 0, 0, 0, 0, 0]);
        three[3..].fill(None);
        assert_eq!(errors("sousaphone"), three);
        let mut four = row([16, 0, 25, -21, 4, -25, 75, 0]);
        four[7] = None;
        assert_eq!(errors(FOUR), four);
        assert_eq!(errors("euphonium"), row([16, 0, 0, 0, 0, 16, 30, 54]));
        assert_eq!(errors("contrabass-tuba-c"), row([16, 0, 3, 0, 4, 2, -27, 17]));
        // The last of each by hand. Six valves, 1-3-4-5-6, the fifth and sixth a whole and a half step below the fourth:
        // 0.12246 + 0.18921 + 0.33484 + 0.16347 + 0.07937 = 0.88935; 12 log2 1.88935 = 11.0147, 1.5 cents flat.
        // French, 2-4-6, the sixth a fifth: 0.05946 + 0.33484 + 0.49831 = 0.89261; 11.0445, 4.5 cents flat.
        assert_eq!(errors("bass-tuba-f"), row([-2, 0, 0, 0, 4, 2, -3, -1]));
        assert_eq!(errors("french-tuba-c"), row([0, 0, 0, 0, -8, 2, 5, -4]));
    }

    #[test]
    fn the_fifth_valve_goes_down_with_the_fourth_a_fifth_below() {
        // 7 semitones below the second partial of a C tuba: F1 is 4-5.
        let found = fingering(&valves("contrabass-tuba-c"), pitch("F1")).unwrap();
        assert_eq!(found.valves, [4, 5]);
    }

    #[test]
    fn a_four_valve_tuba_in_c_has_a_sharp_d1_and_no_d_flat_1() {
        let four = valves(FOUR);
        let d = fingering(&four, pitch("D1")).unwrap();
        assert_eq!((d.valves.as_slice(), d.cents.round() as i32), (&[1, 2, 3, 4][..], 75));
        assert_eq!(fingering(&four, pitch("Db1")), None);
        // Pedals: the first partial, open and with valve 2.
        assert_eq!(fingering(&four, pitch("C1")).map(|f| (f.valves, f.partial)), Some((vec![], 1)));
        assert_eq!(fingering(&four, pitch("B0")).map(|f| (f.valves, f.partial)), Some((vec![2], 1)));
    }

    #[test]
    fn what_is_missing_lies_a_semitone_above_the_fundamental() {
        // A four-valve instrument loses the semitone above its fundamental; three valves lose all from a tritone below.
        for (fundamental, lost) in [("Bb0", "B0"), ("Eb1", "E1"), ("F1", "F#1"), ("Bb1", "B1")] {
            let plain = Valves { fundamental: pitch(fundamental), ..valves(FOUR) };
            assert_eq!(fingering(&plain, pitch(lost)), None, "{lost}");
            let compensating = Valves { compensating: true, ..plain };
            assert!(fingering(&compensating, pitch(lost)).is_some(), "{lost} compensated");
        }
        let sousaphone = valves("sousaphone");
        assert_eq!(fingering(&sousaphone, pitch("Eb1")), None);
        assert_eq!(fingering(&sousaphone, pitch("E1")).map(|f| f.cents.round() as i32), Some(54));
    }
}
