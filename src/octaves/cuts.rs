//! Where a line may part: what lies between a note and the next.

use crate::score::{Articulation, Join, Line};

/// What binds even over a rest.
const BINDING: [Join; 2] = [Join::Tie, Join::Glissando];
/// What shows the beat, over rests too, and says nothing of the line.
const BEAT: [Join; 2] = [Join::Beam, Join::Tuplet];

/// What lies between a note and the next of its line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Between {
    /// A tie or glissando, a slur, beam or tuplet without a rest, or a grace note that leans on the next: the two stay
    /// together.
    Bound,
    /// Nothing: the line goes on.
    Nothing,
    /// A breath mark or a caesura.
    Breath,
    /// So many quarter notes of rest.
    Rest(f64),
    /// So many under one beam or one tuplet's bracket.
    RestInBeat(f64),
}

/// What lies behind each note but the last.
pub(super) fn between(line: &Line) -> Vec<Between> {
    line.played
        .windows(2)
        .map(|pair| {
            let (note, next) = (&pair[0], &pair[1]);
            let marked = |mark| note.articulations.has(mark);
            let rests = next.onset > note.end;
            // A slur drawn over a rest asks for a way of playing (portato, a long thought), not for one breath, and a
            // beam or a bracket over one shows the beat: the line stops there all the same.
            let bound = BINDING.into_iter().any(|join| note.joins.has(join));
            if note.grace || note.joins.any() && (!rests || bound) {
                Between::Bound
            } else if rests {
                let quarters = next.onset.since(note.end).in_quarters();
                if BEAT.into_iter().any(|join| note.joins.has(join)) {
                    Between::RestInBeat(quarters)
                } else {
                    Between::Rest(quarters)
                }
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
        if let Between::Rest(quarters) | Between::RestInBeat(quarters) = self { quarters } else { 0.0 }
    }

    /// Whether the line is silent there.
    pub(super) fn is_rest(self) -> bool {
        matches!(self, Between::Rest(_) | Between::RestInBeat(_))
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

    #[test]
    fn a_beam_or_a_bracket_over_a_rest_shows_the_beat_and_a_tie_still_binds() {
        for (join, expected) in [
            (Join::Beam, Between::RestInBeat(1.0)),
            (Join::Tuplet, Between::RestInBeat(1.0)),
            (Join::Slur, Between::Rest(1.0)),
            (Join::Glissando, Between::Bound),
            (Join::Tie, Between::Bound),
        ] {
            let mut line = music("C2 r D2").lines.remove(0);
            line.played[0].joins = line.played[0].joins.with(join);
            assert_eq!(between(&line), [expected], "{join:?}");
            let mut close = music("C2 D2").lines.remove(0);
            close.played[0].joins = close.played[0].joins.with(join);
            assert_eq!(between(&close), [Between::Bound], "{join:?}");
        }
    }
}
