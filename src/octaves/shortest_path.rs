//! The cheapest octave for each note of a trellis of music: an exact shortest path, linear in its length.
//!
//! A state is an octave, and for an octave other than the written one whether the moved passage has cured
//! something yet (a passage that cures nothing may not move) and whether it began where the line goes on (a passage
//! that parts from its line at one end only costs more). Of equal plans the one that comes first in
//! [`OCTAVES`], read from the end, is taken, so that the answer is always the same.

use std::ops::Range;

use super::cost::Cost;

/// The octaves a note may move by, the preferred first.
pub(super) const OCTAVES: [i8; 5] = [0, 1, -1, 2, -2];

/// Neighbouring notes of one line with all that their moves cost.
#[derive(Clone, Debug, Default)]
pub(super) struct Trellis {
    /// In order.
    pub notes: Vec<Emission>,
    /// Between each note and the next: one fewer than notes.
    pub gaps: Vec<Transition>,
    /// Cost in shape of a moved passage that parts from its line at one end only, and at the other where the line is
    /// silent anyway.
    pub one_seam: i64,
    /// The same where it mends a leap there.
    pub one_mended: i64,
    /// Cost in shape of a passage that moves by two octaves.
    pub second_octave: i64,
}

/// One note at each of [`OCTAVES`].
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Emission {
    /// What it costs there; `None` where it may not go.
    pub costs: [Option<Cost>; 5],
    /// Whether it is cured of something there.
    pub cures: [bool; 5],
}

/// From a note to the next.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Transition {
    /// Cost in shape when the second moves by so many octaves more than the first: −4 at index 0 to +4.
    pub change: [i64; 9],
    /// Cost in shape of beginning or ending a moved passage here; `None` where the two may not part.
    pub cut: Option<i64>,
    /// Whether the line goes on there, so that such a cut leaves a seam.
    pub seam: bool,
    /// Whether such a cut leaves no seam: beside a suspect note whose leap becomes usual when the second moves by so many
    /// octaves more than the first.
    pub mends: [bool; 9],
    /// What it costs then.
    pub mended: i64,
    /// Cost in shape of a moved passage that goes on across here.
    pub across: i64,
}

/// Kinds of a moved passage at one octave: whether it has cured something, and how it began.
const KINDS: usize = 2 * End::ALL.len();
const STATES: usize = 1 + (OCTAVES.len() - 1) * KINDS;

/// How a moved passage begins or ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// Where the line is silent, begins or ends.
    Silent,
    /// Where it goes on, with a leap that nothing explains.
    Seam,
    /// Where it goes on, beside a suspect note whose leap becomes usual.
    Mended,
}

impl End {
    const ALL: [End; 3] = [End::Silent, End::Seam, End::Mended];
}

/// Where the search stands: how the note at hand moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct State {
    /// Index into [`OCTAVES`].
    octave: usize,
    /// Whether the moved passage has cured something so far.
    cured: bool,
    /// How the moved passage began.
    began: End,
}

impl State {
    /// The state of a note that begins a passage at some octave.
    const fn begun(octave: usize, cured: bool, began: End) -> State {
        let moves = octave > 0;
        State { octave, cured: moves && cured, began: if moves { began } else { End::Silent } }
    }

    const fn of(index: usize) -> State {
        match index.checked_sub(1) {
            None => State { octave: 0, cured: false, began: End::Silent },
            Some(rest) => State {
                octave: rest / KINDS + 1,
                cured: rest % KINDS >= End::ALL.len(),
                began: End::ALL[rest % End::ALL.len()],
            },
        }
    }

    const fn index(self) -> usize {
        match self.octave.checked_sub(1) {
            None => 0,
            Some(octave) => 1 + KINDS * octave + End::ALL.len() * self.cured as usize + self.began as usize,
        }
    }

    /// Whether a passage may end here.
    const fn settled(self) -> bool {
        self.octave == 0 || self.cured
    }
}

impl Transition {
    /// The cost of going from one octave to the other, both as indices into [`OCTAVES`].
    fn cost(&self, from: usize, to: usize) -> Option<Cost> {
        let change = self.change[usize::try_from(4 + OCTAVES[to] - OCTAVES[from]).unwrap_or(4)];
        let parting = self.parting(OCTAVES[from], OCTAVES[to])?;
        Some(Cost::of_shape(change + parting))
    }
}

impl Transition {
    /// The cost in shape of going on, or parting, between two octaves; `None` where the two may not part.
    pub(super) fn parting(&self, from: i8, to: i8) -> Option<i64> {
        match (from == to, from) {
            (true, 0) => Some(0),
            (true, _) => Some(self.across),
            (false, _) if self.mends(from, to) => self.cut.map(|cut| cut.min(self.mended)),
            (false, _) => self.cut,
        }
    }

    fn mends(&self, from: i8, to: i8) -> bool {
        self.mends[usize::try_from(4 + to - from).unwrap_or(4)]
    }

    /// How a passage that parts from the next here ends, and the next begins.
    fn end(&self, from: i8, to: i8) -> End {
        match (self.seam, self.mends(from, to)) {
            (false, _) => End::Silent,
            (true, false) => End::Seam,
            (true, true) => End::Mended,
        }
    }
}

impl Trellis {
    /// Leaves each note only the octave of a plan, and where it is.
    pub(super) fn keep_to(&mut self, plan: &[i8]) {
        for (note, &planned) in self.notes.iter_mut().zip(plan) {
            for (which, octaves) in OCTAVES.into_iter().enumerate() {
                if octaves != 0 && octaves != planned {
                    note.costs[which] = None;
                }
            }
        }
    }

    /// The cheapest plan: octaves to move each note by, and what that costs. `None` when no plan is allowed.
    pub(super) fn cheapest(&self) -> Option<(Vec<i8>, Cost)> {
        let first = self.notes.first()?;
        let mut reached: [Option<Cost>; STATES] = [None; STATES];
        for (octave, cost) in first.costs.iter().enumerate() {
            reached[State::begun(octave, first.cures[octave], End::Silent).index()] = *cost;
        }
        let mut came_from: Vec<[u8; STATES]> = vec![[0; STATES]; self.notes.len()];
        for (index, (gap, note)) in self.gaps.iter().zip(&self.notes[1..]).enumerate() {
            let mut next: [Option<Cost>; STATES] = [None; STATES];
            for (place, so_far) in reached.iter().enumerate() {
                let Some(so_far) = *so_far else { continue };
                let from = State::of(place);
                for (to, there) in OCTAVES.into_iter().enumerate() {
                    let goes_on = from.octave == to;
                    if !goes_on && !from.settled() {
                        continue;
                    }
                    let (Some(here), Some(step)) = (note.costs[to], gap.cost(from.octave, to)) else {
                        continue;
                    };
                    let (there, end) = if goes_on {
                        (State::begun(to, from.cured || note.cures[to], from.began), Cost::default())
                    } else {
                        let end = gap.end(OCTAVES[from.octave], there);
                        (State::begun(to, note.cures[to], end), self.ends(from, end))
                    };
                    let (there, cost) = (there.index(), so_far + step + here + end);
                    if next[there].is_none_or(|best| cost < best) {
                        next[there] = Some(cost);
                        came_from[index + 1][there] = u8::try_from(place).unwrap_or(0);
                    }
                }
            }
            reached = next;
        }
        let ends = (0..STATES).filter(|&place| State::of(place).settled());
        let (cost, _, mut here) = ends
            .filter_map(|place| {
                let state = State::of(place);
                Some((reached[place]? + self.ends(state, End::Silent), state.octave, place))
            })
            .min()?;
        let mut plan = vec![0; self.notes.len()];
        for index in (0..plan.len()).rev() {
            plan[index] = OCTAVES[State::of(here).octave];
            here = usize::from(came_from[index][here]);
        }
        Some((plan, cost))
    }

    /// The cost of ending what is moved.
    fn ends(&self, state: State, end: End) -> Cost {
        if state.octave == 0 {
            return Cost::default();
        }
        let lopsided = match (state.began, end) {
            (End::Silent, End::Seam) | (End::Seam, End::Silent) => self.one_seam,
            (End::Silent, End::Mended) | (End::Mended, End::Silent) => self.one_mended,
            _ => 0,
        };
        let far = if OCTAVES[state.octave].abs() > 1 { self.second_octave } else { 0 };
        Cost::of_shape(lopsided + far)
    }

    /// What a plan costs; `None` when it is not allowed. One octave for each note.
    pub(super) fn cost_of(&self, plan: &[i8]) -> Option<Cost> {
        let octaves: Vec<usize> = plan
            .iter()
            .map(|octave| OCTAVES.iter().position(|known| known == octave))
            .collect::<Option<_>>()?;
        let mut total = Cost::default();
        for (note, &octave) in self.notes.iter().zip(&octaves) {
            total += note.costs[octave]?;
        }
        for (gap, pair) in self.gaps.iter().zip(octaves.windows(2)) {
            total += gap.cost(pair[0], pair[1])?;
        }
        let mut from = 0;
        for to in 1..=octaves.len() {
            if to == octaves.len() || octaves[to] != octaves[from] {
                let cures = (from..to).any(|index| self.notes[index].cures[octaves[index]]);
                if octaves[from] != 0 && !cures {
                    return None;
                }
                let end = |gap: Option<usize>| {
                    let gap = gap.filter(|&gap| gap + 1 < octaves.len());
                    gap.map_or(End::Silent, |at| {
                        self.gaps[at].end(OCTAVES[octaves[at]], OCTAVES[octaves[at + 1]])
                    })
                };
                let state = State::begun(octaves[from], cures, end(from.checked_sub(1)));
                total += self.ends(state, end(Some(to - 1)));
                from = to;
            }
        }
        Some(total)
    }
}

impl Trellis {
    /// What some notes of a plan cost with the gaps around them: as planned, and all moved by `octaves` instead.
    /// `None` where one of the two is not allowed.
    pub(super) fn change(&self, plan: &[i8], notes: Range<usize>, octaves: i8) -> Option<(Cost, Cost)> {
        let by_index = |octaves: i8| OCTAVES.iter().position(|&known| known == octaves);
        let cost = |octaves_at: &dyn Fn(usize) -> i8| {
            let mut total = Cost::default();
            for index in notes.clone() {
                total += self.notes[index].costs[by_index(octaves_at(index))?]?;
            }
            for gap in notes.start.saturating_sub(1)..notes.end.min(self.gaps.len()) {
                total += self.gaps[gap].cost(by_index(octaves_at(gap))?, by_index(octaves_at(gap + 1))?)?;
            }
            Some(total)
        };
        let there = |index: usize| if notes.contains(&index) { octaves } else { plan[index] };
        Some((cost(&|index| plan[index])?, cost(&there)?))
    }
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn any_cost() -> impl Strategy<Value = Option<Cost>> {
        // Small ranges, so that the earlier fields often tie and the later ones decide.
        let fields = (0..2u32, 0..2i64, -3..4i64, 0..2u32, 0..3u32);
        let cost = fields.prop_map(|(errors, risks, shape, remarks, moved)| Cost {
            errors,
            risks: 800 * risks,
            shape: 500 * shape,
            remarks,
            moved,
        });
        proptest::option::weighted(0.85, cost)
    }

    fn any_note() -> impl Strategy<Value = Emission> {
        (proptest::array::uniform5(any_cost()), proptest::array::uniform4(proptest::bool::weighted(0.3)))
            .prop_map(|(costs, [a, b, c, d])| Emission { costs, cures: [false, a, b, c, d] })
    }

    fn any_transition() -> impl Strategy<Value = Transition> {
        let mends = proptest::array::uniform9(proptest::bool::weighted(0.3));
        let cut = proptest::option::weighted(0.7, 0..3i64);
        (proptest::array::uniform9(0..6i64), cut, any::<bool>(), mends, 0..2i64, 0..3i64).prop_map(
            |(change, cut, seam, mends, mended, across)| Transition {
                change,
                cut,
                seam,
                mends,
                mended,
                across,
            },
        )
    }

    fn any_trellis() -> impl Strategy<Value = Trellis> {
        (1..6usize).prop_flat_map(|notes| {
            let gaps = proptest::collection::vec(any_transition(), notes - 1);
            (proptest::collection::vec(any_note(), notes), gaps, 0..5i64, 0..3i64, 0..3i64).prop_map(
                |(notes, gaps, one_seam, one_mended, second_octave)| Trellis {
                    notes,
                    gaps,
                    one_seam,
                    one_mended,
                    second_octave,
                },
            )
        })
    }

    fn by_brute_force(trellis: &Trellis) -> Option<Cost> {
        let notes = u32::try_from(trellis.notes.len()).unwrap();
        (0..5usize.pow(notes))
            .filter_map(|number| {
                let plan: Vec<i8> = (0..notes).map(|digit| OCTAVES[number / 5usize.pow(digit) % 5]).collect();
                trellis.cost_of(&plan)
            })
            .min()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]
        #[test]
        fn the_shortest_path_is_the_best_of_all_plans(trellis in any_trellis()) {
            let found = trellis.cheapest();
            prop_assert_eq!(found.as_ref().map(|(_, cost)| *cost), by_brute_force(&trellis));
            if let Some((plan, cost)) = found {
                prop_assert_eq!(trellis.cost_of(&plan), Some(cost));
            }
        }
    }

    #[test]
    fn of_equal_plans_the_one_nearer_the_page_is_taken() {
        let free = Emission { costs: [Some(Cost::default()); 5], cures: [false, true, true, true, true] };
        let gap = Transition { cut: Some(0), ..Transition::default() };
        let trellis = Trellis { notes: vec![free; 3], gaps: vec![gap; 2], ..Trellis::default() };
        assert_eq!(trellis.cheapest(), Some((vec![0; 3], Cost::default())));
    }

    #[test]
    fn an_empty_strip_has_no_plan() {
        assert_eq!(Trellis::default().cheapest(), None);
    }
}
