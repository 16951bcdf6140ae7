//! The cheapest set of places to breathe: an exact shortest path, apart from any music.
//!
//! In goes a chain of units (what is played without a place to breathe) with the air each needs and the breaths that
//! may follow it; out comes one choice for each. Air is counted in whole parts of a breath, so that equal plans are
//! equal on every machine.

/// A full breath.
pub(super) const FULL: i64 = 1_000_000;

/// What is played without a place to breathe, and the place behind it.
#[derive(Clone, Debug, Default)]
pub(super) struct Unit {
    /// Air it needs in full.
    pub(super) needs: i64,
    /// It needs more than a breath: the player breaks it somewhere, whatever is planned.
    pub(super) broken: bool,
    /// What is left behind a broken unit at least.
    pub(super) left: i64,
    /// Air that comes in behind it without taking anything away.
    pub(super) free: i64,
    /// What may be stolen behind it.
    pub(super) theft: Option<Theft>,
}

/// A breath stolen from the end of a unit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Theft {
    /// Air the unit then needs less.
    pub(super) saves: i64,
    /// Air that comes in, instead of [`Unit::free`].
    pub(super) brings: i64,
    /// How bad the place is; above 0.
    pub(super) weight: i64,
}

/// What is left at a place, and what it cost to come there: first the air that was missing, then the weight of the thefts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct State {
    pub(super) missing: i64,
    pub(super) weight: i64,
    pub(super) air: i64,
}

impl State {
    /// Full lungs, nothing paid.
    pub(super) const START: State = State { missing: 0, weight: 0, air: FULL };

    fn cost(self) -> (i64, i64) {
        (self.missing, self.weight)
    }
}

/// Plays a unit: what is left at its end, before any breath, and how much was missing. More air before never leaves less behind:
/// this is what makes the search exact.
pub(super) fn play(unit: &Unit, air: i64, stolen: bool) -> (i64, i64) {
    let needs = unit.needs - if stolen { unit.theft.map_or(0, |theft| theft.saves) } else { 0 };
    if unit.broken {
        return ((air - needs).max(unit.left), 0);
    }
    ((air - needs).max(0), (needs - air).max(0))
}

/// Plays a unit and breathes behind it.
pub(super) fn step(unit: &Unit, state: State, stolen: bool) -> State {
    let (left, missing) = play(unit, state.air, stolen);
    let theft = unit.theft.filter(|_| stolen);
    State {
        missing: state.missing + missing,
        weight: state.weight + theft.map_or(0, |theft| theft.weight),
        air: (left + theft.map_or(unit.free, |theft| theft.brings)).min(FULL),
    }
}

/// Whether to steal behind each unit: of all choices the one with the least air missing, then the least weight, then the most air
/// at the end.
pub(super) fn cheapest(units: &[Unit]) -> Vec<bool> {
    // For each unit the states worth keeping: dearer ones only with more air. Each knows the state it came from.
    let mut reached: Vec<Vec<(State, usize, bool)>> = vec![vec![(State::START, 0, false)]];
    for unit in units {
        let mut next: Vec<(State, usize, bool)> = Vec::new();
        for (from, &(state, ..)) in reached[reached.len() - 1].iter().enumerate() {
            next.push((step(unit, state, false), from, false));
            if unit.theft.is_some() {
                next.push((step(unit, state, true), from, true));
            }
        }
        next.sort_by(|(a, ..), (b, ..)| a.cost().cmp(&b.cost()).then(b.air.cmp(&a.air)));
        let mut most = -1;
        next.retain(|(state, ..)| {
            let better = state.air > most;
            most = most.max(state.air);
            better
        });
        reached.push(next);
    }
    // The first state of the last front is the cheapest.
    let mut at = 0;
    let mut chosen = Vec::with_capacity(units.len());
    for front in reached[1..].iter().rev() {
        let (_, from, stolen) = front[at];
        chosen.push(stolen);
        at = from;
    }
    chosen.reverse();
    chosen
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn total(units: &[Unit], chosen: &[bool]) -> State {
        units.iter().zip(chosen).fold(State::START, |state, (unit, &stolen)| step(unit, state, stolen))
    }

    fn unit() -> impl Strategy<Value = Unit> {
        let theft = (0_i64..200_000, 100_000_i64..600_000, 1_i64..6)
            .prop_map(|(saves, brings, weight)| Theft { saves, brings, weight });
        let free = prop_oneof![Just(0_i64), 100_000_i64..1_000_000];
        (10_000_i64..900_000, any::<bool>(), free, proptest::option::of(theft)).prop_map(
            |(needs, broken, free, theft)| Unit {
                needs,
                broken: broken && needs > 700_000,
                left: 530_000,
                free,
                theft: theft.map(|theft| Theft { saves: theft.saves.min(needs), ..theft }),
            },
        )
    }

    proptest! {
        #[test]
        fn no_set_of_places_is_cheaper_than_the_one_found(units in proptest::collection::vec(unit(), 0..11)) {
            let found = total(&units, &cheapest(&units));
            let every = (0_u32..1 << units.len()).map(|set| {
                let chosen: Vec<bool> = units
                    .iter()
                    .enumerate()
                    .map(|(at, unit)| set & 1 << at != 0 && unit.theft.is_some())
                    .collect();
                total(&units, &chosen)
            });
            let least = every.map(|state| (state.cost(), -state.air)).min().unwrap();
            prop_assert_eq!((found.cost(), -found.air), least);
        }
    }

    #[test]
    fn a_long_line_keeps_few_states() {
        // A hundred thousand eighths without a rest: time grows with the line, not with its square.
        let theft = Theft { saves: 30_000, brings: 200_000, weight: 4 };
        let unit = Unit { needs: 47_000, theft: Some(theft), ..Unit::default() };
        let units = vec![unit; 100_000];
        let chosen = cheapest(&units);
        assert_eq!(total(&units, &chosen).missing, 0);
        let thefts = chosen.iter().filter(|&&stolen| stolen).count();
        assert!((15_000..25_000).contains(&thefts), "{thefts}");
    }
}
