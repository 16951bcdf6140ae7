//! From quarter notes to seconds.

use std::ops::RangeInclusive;
use std::sync::Arc;

use super::time::{Length, Onset, Seconds};

/// A tempo in quarter notes a minute; always within [`Tempo::BOUNDS`].
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Tempo(f64);

/// Words from which a tempo was reckoned, where the score gives no number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reckoned {
    /// As they stand.
    pub words: String,
    /// Where they stand.
    pub at: Onset,
}

/// A tempo that begins at a place and holds, or glides, up to the next change.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoChange {
    /// Where it begins.
    pub at: Onset,
    /// The tempo there.
    pub tempo: Tempo,
    /// The tempo it reaches evenly at the next change (rit., accel.), which may set another; `None`: it holds.
    pub glides_to: Option<Tempo>,
    /// Whether the score gives no number here and the value is the customary one for a word, or a default.
    pub assumed: bool,
    /// The words it was reckoned from, where it was.
    pub reckoned: Option<Arc<Reckoned>>,
}

/// The tempo of the whole score by written place. Holds at least one change, at the start.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoMap {
    changes: Vec<TempoChange>,
    /// Seconds from the start to each change.
    reached: Vec<f64>,
}

impl Tempo {
    /// Sixty quarter notes a minute.
    pub const QUARTER_A_SECOND: Tempo = Tempo(60.0);

    /// In quarter notes a minute: slower no beat is felt as one, faster none is told from a tone. No judgement hangs on
    /// them; they keep seconds within what can be added and printed.
    pub const BOUNDS: RangeInclusive<f64> = 1.0..=2000.0;

    /// A tempo; `None` beyond the slowest and fastest that anyone beats ([`Tempo::BOUNDS`]), and when it is no number.
    pub fn quarters_a_minute(tempo: f64) -> Option<Tempo> {
        Tempo::BOUNDS.contains(&tempo).then_some(Tempo(tempo))
    }

    /// What is said where a number is no tempo.
    pub fn expected(found: f64) -> String {
        let (least, most) = (Tempo::BOUNDS.start(), Tempo::BOUNDS.end());
        format!("expected quarter notes a minute from {least} to {most}, not {found}")
    }

    /// In quarter notes a minute.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl TempoMap {
    /// A map from changes in any order; of several at one place the last given wins. Before the first
    /// change `start` holds (an assumed one when the score gives none).
    pub fn new(start: TempoChange, changes: impl IntoIterator<Item = TempoChange>) -> TempoMap {
        let mut sorted = vec![TempoChange { at: Onset::START, ..start }];
        sorted.extend(changes);
        sorted.sort_by_key(|change| change.at);
        let mut kept: Vec<TempoChange> = Vec::with_capacity(sorted.len());
        for change in sorted {
            match kept.last_mut() {
                Some(last) if last.at == change.at => *last = change,
                _ => kept.push(change),
            }
        }
        let mut reached = vec![0.0];
        for pair in kept.windows(2) {
            let spent = reached.last().copied().unwrap_or(0.0) + spent(&pair[0], Some(&pair[1]), pair[1].at);
            reached.push(spent);
        }
        TempoMap { changes: kept, reached }
    }

    /// Seconds from the start of the score to a written place.
    pub fn at(&self, place: Onset) -> Seconds {
        let index = self.index(place);
        Seconds::new(self.reached[index] + spent(&self.changes[index], self.changes.get(index + 1), place))
    }

    /// Seconds that a length lasts from a written place on.
    pub fn lasting(&self, from: Onset, length: Length) -> Seconds {
        self.at(from + length) - self.at(from)
    }

    /// The change in force at a place.
    pub fn change_at(&self, place: Onset) -> &TempoChange {
        &self.changes[self.index(place)]
    }

    /// The words from which the tempo in some stretch was reckoned, and the tempos they were given: the first that sounds in it.
    pub fn reckoned_in(&self, from: Onset, to: Onset) -> Option<&TempoChange> {
        let first = self.index(from);
        let after = self.changes.partition_point(|change| change.at < to).max(first + 1);
        self.changes[first..after].iter().find(|change| change.reckoned.is_some())
    }

    /// What happens from one place to another, moved so that it begins at `moved_to`: the tempo in force, and each change.
    pub fn excerpt(&self, from: Onset, to: Onset, moved_to: Onset) -> Vec<TempoChange> {
        let first = self.index(from);
        let mut excerpt = Vec::new();
        for (index, change) in self.changes.iter().enumerate().skip(first).take_while(|(_, it)| it.at < to) {
            let begins = change.at.max(from);
            let next = self.changes.get(index + 1);
            let ends = next.map_or(to, |next| next.at.min(to));
            let reached = |place| tempo_at(change, next, place);
            excerpt.push(TempoChange {
                at: moved_to + begins.since(from),
                tempo: reached(begins),
                glides_to: change.glides_to.map(|_| reached(ends)),
                ..change.clone()
            });
        }
        excerpt
    }

    /// All changes in order; the first is at the start.
    pub fn changes(&self) -> &[TempoChange] {
        &self.changes
    }

    fn index(&self, place: Onset) -> usize {
        self.changes.partition_point(|change| change.at <= place).saturating_sub(1)
    }
}

/// The tempo at a place up to the next change, along a glide.
fn tempo_at(change: &TempoChange, next: Option<&TempoChange>, place: Onset) -> Tempo {
    match (change.glides_to, next) {
        (Some(Tempo(goal)), Some(next)) if next.at > change.at => {
            let share = place.since(change.at).in_quarters() / next.at.since(change.at).in_quarters();
            Tempo(change.tempo.0 + (goal - change.tempo.0) * share.clamp(0.0, 1.0))
        }
        _ => change.tempo,
    }
}

/// Seconds from `change` to `to`, which lies before the next change.
fn spent(change: &TempoChange, next: Option<&TempoChange>, to: Onset) -> f64 {
    let quarters = to.since(change.at).in_quarters();
    let start = change.tempo.get();
    match (change.glides_to, next) {
        (Some(goal), Some(next)) if next.at > change.at && (goal.get() - start).abs() > 1e-9 => {
            // The tempo moves evenly along the page: v(q) = start + slope q, seconds = ∫ 60 / v dq.
            let slope = (goal.get() - start) / next.at.since(change.at).in_quarters();
            60.0 / slope * ((start + slope * quarters) / start).ln()
        }
        _ => quarters * 60.0 / start,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(at: i64, tempo: f64, goal: Option<f64>) -> TempoChange {
        TempoChange {
            at: Onset::START + Length::whole_quarters(at),
            tempo: Tempo::quarters_a_minute(tempo).unwrap(),
            glides_to: goal.and_then(Tempo::quarters_a_minute),
            assumed: false,
            reckoned: None,
        }
    }

    #[test]
    fn an_excerpt_lasts_as_long_as_what_it_was_taken_from() {
        let map =
            TempoMap::new(change(0, 120.0, None), [change(4, 120.0, Some(60.0)), change(8, 90.0, None)]);
        let place = |quarters| Onset::START + Length::whole_quarters(quarters);
        let moved = map.excerpt(place(2), place(6), place(20));
        let [first, ..] = moved.as_slice() else { panic!("nothing in it") };
        let again = TempoMap::new(first.clone(), moved.iter().cloned().chain([change(24, 90.0, None)]));
        let whole = |map: &TempoMap, from, to| (map.at(place(to)) - map.at(place(from))).get();
        assert!((whole(&again, 20, 24) - whole(&map, 2, 6)).abs() < 1e-9);
        assert!((again.change_at(place(23)).tempo.get() - 120.0).abs() < 1e-9);
    }

    #[test]
    fn each_change_counts_from_its_own_place() {
        let map = TempoMap::new(change(0, 60.0, None), [change(4, 120.0, None)]);
        let place = Onset::START + Length::whole_quarters(6);
        assert!((map.at(place).get() - 5.0).abs() < 1e-9);
    }

    #[test]
    fn a_ritardando_lasts_longer_than_its_first_tempo_and_less_than_its_last() {
        let map = TempoMap::new(change(0, 120.0, Some(60.0)), [change(4, 60.0, None)]);
        let seconds = map.lasting(Onset::START, Length::whole_quarters(4)).get();
        // ∫ 60 / (120 − 15 q) dq from 0 to 4 = 4 ln 2, by hand.
        assert!((seconds - 4.0 * std::f64::consts::LN_2).abs() < 1e-9);
    }

    #[test]
    fn after_a_ritardando_the_old_tempo_may_come_back_at_once() {
        let map = TempoMap::new(change(0, 120.0, Some(60.0)), [change(4, 120.0, None)]);
        let last_bar = map.lasting(Onset::START + Length::whole_quarters(4), Length::whole_quarters(4)).get();
        assert!((last_bar - 2.0).abs() < 1e-9);
    }

    #[test]
    fn a_tempo_of_zero_is_no_tempo() {
        assert_eq!(Tempo::quarters_a_minute(0.0), None);
        assert_eq!(Tempo::quarters_a_minute(f64::NAN), None);
    }
}
