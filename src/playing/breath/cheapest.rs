//! The cheapest set of places to breathe: an exact shortest path, apart from any music.
//!
//! In goes a chain of units (what is played without a place to breathe) with the air each needs and the breaths that
//! may follow it; out comes one choice for each. A long breath is not stolen twice running: a player lets a note go early now
//! and then, not one after the other. Air is counted in whole parts of a breath, so that equal plans are equal on every
//! machine.

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
    /// The quick breath that may be stolen behind it.
    pub(super) theft: Option<Theft>,
    /// The long one, for which a long note is let go early.
    pub(super) long_theft: Option<Theft>,
}

/// How one breathes behind a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Choice {
    /// Nothing is stolen.
    Nothing,
    /// [`Unit::theft`].
    Quick,
    /// [`Unit::long_theft`].
    Long,
}

impl Unit {
    /// What is stolen by a choice.
    pub(super) fn stolen(&self, choice: Choice) -> Option<Theft> {
        match choice {
            Choice::Nothing => None,
            Choice::Quick => self.theft,
            Choice::Long => self.long_theft,
        }
    }
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
    /// A long breath was stolen here.
    pub(super) long: bool,
}

impl State {
    /// Full lungs, nothing paid.
    pub(super) const START: State = State { missing: 0, weight: 0, air: FULL, long: false };

    fn cost(self) -> (i64, i64) {
        (self.missing, self.weight)
    }
}

/// Plays a unit: what is left at its end, before any breath, and how much was missing. More air before never leaves less behind:
/// this is what makes the search exact.
pub(super) fn play(unit: &Unit, air: i64, choice: Choice) -> (i64, i64) {
    let needs = unit.needs - unit.stolen(choice).map_or(0, |theft| theft.saves);
    if unit.broken {
        return ((air - needs).max(unit.left), 0);
    }
    ((air - needs).max(0), (needs - air).max(0))
}

/// Plays a unit and breathes behind it.
pub(super) fn step(unit: &Unit, state: State, choice: Choice) -> State {
    let (left, missing) = play(unit, state.air, choice);
    let theft = unit.stolen(choice);
    State {
        missing: state.missing + missing,
        weight: state.weight + theft.map_or(0, |theft| theft.weight),
        air: (left + theft.map_or(unit.free, |theft| theft.brings)).min(FULL),
        long: theft.is_some() && choice == Choice::Long,
    }
}

/// The choices there are behind a unit.
fn choices(unit: &Unit, state: State) -> impl Iterator<Item = Choice> {
    let quick = unit.theft.map(|_| Choice::Quick);
    let long = unit.long_theft.filter(|_| !state.long).map(|_| Choice::Long);
    [Some(Choice::Nothing), quick, long].into_iter().flatten()
}

/// What to steal behind each unit: of all choices the one with the least air missing, then the least weight, then the most air
/// at the end.
pub(super) fn cheapest(units: &[Unit]) -> Vec<Choice> {
    // For each unit the states worth keeping: dearer ones only with more air. Each knows the state it came from.
    let mut reached: Vec<Vec<(State, usize, Choice)>> = vec![vec![(State::START, 0, Choice::Nothing)]];
    for unit in units {
        let mut next: Vec<(State, usize, Choice)> = Vec::new();
        for (from, &(state, ..)) in reached[reached.len() - 1].iter().enumerate() {
            next.extend(choices(unit, state).map(|choice| (step(unit, state, choice), from, choice)));
        }
        next.sort_by(|(a, ..), (b, ..)| {
            a.cost().cmp(&b.cost()).then(b.air.cmp(&a.air)).then(a.long.cmp(&b.long))
        });
        // Behind a long breath there are fewer choices: such a state is kept apart, and keeps no other out.
        let (mut most, mut most_behind_long) = (-1, -1);
        next.retain(|(state, ..)| {
            if state.long {
                let better = state.air > most.max(most_behind_long);
                most_behind_long = most_behind_long.max(state.air);
                better
            } else {
                let better = state.air > most;
                most = most.max(state.air);
                better
            }
        });
        reached.push(next);
    }
    // The first state of the last front is the cheapest.
    let mut at = 0;
    let mut chosen = Vec::with_capacity(units.len());
    for front in reached[1..].iter().rev() {
        let (_, from, choice) = front[at];
        chosen.push(choice);
        at = from;
    }
    chosen.reverse();
    chosen
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn total(units: &[Unit], chosen: &[Choice]) -> State {
        units.iter().zip(chosen).fold(State::START, |state, (unit, &choice)| step(unit, state, choice))
    }

    /// Every way to breathe behind some units.
    fn every(units: &[Unit]) -> Vec<Vec<Choice>> {
        units.iter().fold(vec![Vec::new()], |ways, unit| {
            let further = |way: Vec<Choice>| {
                let behind = State { long: way.last() == Some(&Choice::Long), ..State::START };
                choices(unit, behind)
                    .map(move |choice| [way.clone(), vec![choice]].concat())
                    .collect::<Vec<_>>()
            };
            ways.into_iter().flat_map(further).collect()
        })
    }

    fn unit() -> impl Strategy<Value = Unit> {
        let theft = (0_i64..200_000, 100_000_i64..600_000, 1_i64..6)
            .prop_map(|(saves, brings, weight)| Theft { saves, brings, weight });
        let free = prop_oneof![Just(0_i64), 100_000_i64..1_000_000];
        (10_000_i64..900_000, any::<bool>(), free, proptest::option::of(theft), any::<bool>()).prop_map(
            |(needs, broken, free, theft, long)| {
                let theft = theft.map(|theft| Theft { saves: theft.saves.min(needs), ..theft });
                let longer =
                    |theft: Theft| Theft { brings: theft.brings * 2, weight: theft.weight + 1, ..theft };
                Unit {
                    needs,
                    broken: broken && needs > 700_000,
                    left: 530_000,
                    free,
                    theft,
                    long_theft: theft.filter(|_| long).map(longer),
                }
            },
        )
    }

    proptest! {
        #[test]
        fn no_set_of_places_is_cheaper_than_the_one_found(units in proptest::collection::vec(unit(), 0..9)) {
            let found = total(&units, &cheapest(&units));
            let every = every(&units).into_iter().map(|chosen| total(&units, &chosen));
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
        let thefts = chosen.iter().filter(|&&choice| choice != Choice::Nothing).count();
        assert!((15_000..25_000).contains(&thefts), "{thefts}");
    }

    #[test]
    fn a_long_breath_is_not_stolen_twice_running() {
        let theft = Theft { saves: 80_000, brings: 320_000, weight: 2 };
        let long = Theft { saves: 240_000, brings: 1_000_000, weight: 3 };
        let unit = Unit { needs: 900_000, theft: Some(theft), long_theft: Some(long), ..Unit::default() };
        let chosen = cheapest(&vec![unit; 12]);
        assert!(chosen.windows(2).all(|pair| pair != [Choice::Long, Choice::Long]), "{chosen:?}");
        assert!(chosen.contains(&Choice::Long));
    }
}
