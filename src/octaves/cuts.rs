//! Where a line may part: what lies between a note and the next.

use crate::score::{Articulation, Join, Line};

/// What binds even over a rest.
const BINDING: [Join; 4] = [Join::Tie, Join::Beam, Join::Tuplet, Join::Glissando];

/// What lies between a note and the next of its line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Between {
    /// A tie, a slur without a rest, a beam, tuplet or glissando, or a grace note that leans on the next: the two stay together.
    Bound,
    /// Nothing: the line goes on.
    Nothing,
    /// A breath mark or a caesura.
    Breath,
    /// So many quarter notes of rest.
    Rest(f64),
}

/// What lies behind each note but the last.
pub(super) fn between(line: &Line) -> Vec<Between> {
    line.played
        .windows(2)
        .map(|pair| {
            let (note, next) = (&pair[0], &pair[1]);
            let marked = |mark| note.articulations.has(mark);
            let rests = next.onset > note.end;
            // A slur drawn over a rest asks for a way of playing (portato, a long thought), not for one breath:
            // the line stops there all the same.
            let only_slurred = BINDING.into_iter().all(|join| !note.joins.has(join));
            if note.grace || note.joins.any() && !(rests && only_slurred) {
                Between::Bound
            } else if rests {
                Between::Rest(next.onset.since(note.end).in_quarters())
            } else if marked(Articulation::BreathMark) || marked(Articulation::Caesura) {
                Between::Breath
            } else {
                Between::Nothing
            }
        })
        .collect()
}

impl Between {
    /// Quarter notes of rest.
    pub(super) fn rest(self) -> f64 {
        if let Between::Rest(quarters) = self { quarters } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::testing::music;

    #[test]
    fn slurs_bind_and_rests_and_breaths_part() {
        let music = music("(C2 D2) E2, F2 G2 r/2 A2/1 *B2 C3");
        assert_eq!(
            between(&music.lines[0]),
            [
                Between::Bound,
                Between::Nothing,
                Between::Breath,
                Between::Nothing,
                Between::Rest(2.0),
                Between::Nothing,
                Between::Bound,
            ]
        );
    }
}
