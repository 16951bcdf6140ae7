//! Valves: which of them give a pitch, and how far out of tune.
//!
//! The lengths of valves add, not their semitones: with r = 2^(s/12) − 1 for each valve down, the horn is
//! 1 + Σ r times as long, and the more valves, the sharper. On a compensating horn the fourth valve makes
//! the loops of the first three longer by its own ratio. Partials count where nature puts them.

use crate::music::Sounding;
use crate::playing::partials::natural;
use crate::profile::Valves;

/// One way to play a pitch.
#[derive(Clone, Debug, PartialEq)]
pub struct Fingering {
    /// The valves down, from 1, in order; empty for the open horn.
    pub valves: Vec<u8>,
    /// Its partial, 1 for a pedal.
    pub partial: u8,
    /// Cents the combination sounds sharp (negative: flat).
    pub cents: f64,
}

/// The best combination for a pitch: the one least out of tune, of equal ones the one with fewer valves. `None`
/// where none comes within [`Valves::sharp_missing`].
pub fn fingering(valves: &Valves, pitch: Sounding) -> Option<Fingering> {
    let above = pitch.height().semitones_above(valves.fundamental.height());
    let mut best: Option<Fingering> = None;
    for down in combinations(valves) {
        let open = -lowered(valves, &down);
        for partial in 1..=valves.highest_partial {
            let cents = 100.0 * (open + natural(partial) - above);
            // A hundredth of a cent is no difference: the shorter combination comes first and stays.
            if best.as_ref().is_none_or(|best| cents.abs() < best.cents.abs() - 0.01) {
                best = Some(Fingering { valves: down.clone(), partial, cents });
            }
        }
    }
    best.filter(|best| best.cents.abs() < valves.sharp_missing)
}

/// All combinations, those with fewer valves first, then by the valves' numbers.
fn combinations(valves: &Valves) -> Vec<Vec<u8>> {
    let count = u8::try_from(valves.semitones.len()).unwrap_or(u8::MAX).min(8);
    let mut all: Vec<Vec<u8>> = (0..1_u16 << count)
        .map(|set| (1..=count).filter(|valve| set & 1 << (valve - 1) != 0).collect())
        .collect();
    all.sort_by_key(|down: &Vec<u8>| (down.len(), down.clone()));
    all
}

/// Semitones that a combination really lowers the open horn by.
fn lowered(valves: &Valves, down: &[u8]) -> f64 {
    let ratio = |valve: u8| (valves.semitones[usize::from(valve) - 1] / 12.0).exp2();
    let longer = if valves.compensating && down.contains(&4) { ratio(4) } else { 1.0 };
    let added = |&valve: &u8| (ratio(valve) - 1.0) * if valve < 4 { longer } else { 1.0 };
    12.0 * (1.0 + down.iter().map(added).sum::<f64>()).log2()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{at, pitch, valves};

    const FOUR: &str = "contrabass-tuba-c-4v";

    /// Best errors in whole cents for notes 4 to 11 semitones below the open second partial.
    fn errors(horn: &str) -> Vec<Option<i32>> {
        let valves = Valves { highest_partial: 2, ..valves(horn) };
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
        let valves = valves(FOUR);
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
            let cents = 100.0 * (nominal - lowered(&valves, down));
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
        // A four-valve horn loses the semitone above its fundamental; three valves lose all from a tritone below.
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
