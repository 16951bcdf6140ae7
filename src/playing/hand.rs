//! Which instrument a player has in hand at each note: the one place that decides it.
//!
//! The score says by words and changes of instrument what it asks for. Where the settings or the part's name put others
//! within reach, the player takes up another for a passage that lies badly, if the rest before and behind it gives time
//! to change. Checks, planner and reports ask [`Desk::instrument_at`] and nothing else.

use std::sync::Arc;

use super::Desk;
use super::loudness::asked;
use super::slide::playable;
use super::valves::fingering;
use crate::music::{Onset, Seconds};
use crate::profile::{Mechanism, Profile, SectionLimits, Zone};
use crate::score::{Line, Played};

/// An instrument from a place on.
#[derive(Clone, Debug)]
pub struct InstrumentInHand {
    /// From here.
    pub from: Onset,
    /// This instrument.
    pub profile: Arc<Profile>,
}

/// How well an instrument takes a note: worse is greater.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// In its usual span and in tune.
    Suits,
    /// Beyond its usual span, or a little out of tune or of its loudness: worth a thought.
    Beyond,
    /// In an extreme zone or an effect, badly out of tune, or well beyond its loudness.
    Strained,
    /// It has no such note.
    Missing,
}

/// The instrument in hand at a place, of a list in order whose first is there from the start.
pub fn at(hand: &[InstrumentInHand], place: Onset) -> &Arc<Profile> {
    let index = hand.partition_point(|instrument| instrument.from <= place).saturating_sub(1);
    &hand[index].profile
}

/// What a line's player has in hand from each place on, out of what the score asks for and `others`. An instrument
/// other than the score's is taken up and put down only between passages. Of all choices the one with the fewest
/// missing notes, then changes that cannot be done, then strained notes, then risky changes, then passages on another
/// instrument than the score asks, then changes, then notes beyond; of equal ones the score's, then that named first.
/// Changes that the score itself asks for cost nothing: they have to be done. Exact, linear in the passages.
pub fn in_hand(
    desk: &Desk<'_>,
    line: &Line,
    others: &[Arc<Profile>],
    limits: &SectionLimits,
) -> Vec<InstrumentInHand> {
    let mut hand: Vec<InstrumentInHand> = Vec::new();
    let mut take = |from: Onset, profile: &Arc<Profile>| {
        if hand.last().is_none_or(|last| last.profile.name != profile.name) {
            // What is there at the first note was there from the start.
            let from = if hand.is_empty() { Onset::START } else { from };
            hand.push(InstrumentInHand { from, profile: Arc::clone(profile) });
        }
    };
    let choices = Choices { asked: &desk.instruments, others };
    for (range, chosen) in line.passages.iter().zip(cheapest(&choices, line, limits)) {
        for note in &line.played[range.clone()] {
            take(note.onset, choices.instrument(chosen, note));
        }
    }
    if hand.is_empty() { desk.instruments.clone() } else { hand }
}

/// How well an instrument takes a note's pitch: compass, mechanism, intonation. Its loudness is for [`takes`].
pub fn suits(profile: &Profile, played: &Played) -> Verdict {
    let pitch = played.sounding;
    let Some(zone) = profile.range.zone_at(pitch) else { return Verdict::Missing };
    let in_tune = match &profile.mechanism {
        Mechanism::Slide(slide) if !playable(slide, pitch) => return Verdict::Missing,
        Mechanism::Slide(_) | Mechanism::Keys { .. } => Verdict::Suits,
        Mechanism::Valves(valves) => match fingering(valves, pitch) {
            None => return Verdict::Missing,
            Some(_) if played.seconds < *valves.limits.held_for => Verdict::Suits,
            Some(found) if found.cents.abs() >= *valves.limits.sharp_warning => Verdict::Strained,
            Some(found) if found.cents.abs() >= *valves.limits.sharp_note => Verdict::Beyond,
            Some(_) => Verdict::Suits,
        },
    };
    let (lowest, highest) = *profile.range.usual;
    let in_range = match zone {
        Zone::Comfortable if (lowest..=highest).contains(&pitch) => Verdict::Suits,
        Zone::Comfortable => Verdict::Beyond,
        Zone::Effect | Zone::ExtremeLow | Zone::ExtremeHigh => Verdict::Strained,
    };
    in_tune.max(in_range)
}

/// How well an instrument takes a note, its loudness counted in.
pub fn takes(profile: &Profile, played: &Played, limits: &SectionLimits) -> Verdict {
    let steps = asked(played, profile).map_or(0, |asked| asked.over.max(asked.under));
    let loud = match steps {
        steps if steps >= limits.loudness_steps.warning => Verdict::Strained,
        steps if steps >= limits.loudness_steps.note => Verdict::Beyond,
        _ => Verdict::Suits,
    };
    suits(profile, played).max(loud)
}

/// Seconds a change takes, below which it is a risk and below which it cannot be done: those of the slower of the two.
pub fn pick_up(one: &Profile, other: &Profile) -> (Seconds, Seconds) {
    let slower = |a: Seconds, b: Seconds| if a < b { b } else { a };
    let (one, other) = (*one.changes.pick_up, *other.changes.pick_up);
    (slower(one.0, other.0), slower(one.1, other.1))
}

/// What a choice costs, worst first; see [`in_hand`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Cost {
    missing: usize,
    impossible_changes: usize,
    strained: usize,
    risky_changes: usize,
    not_as_asked: usize,
    changes: usize,
    beyond: usize,
}

/// What a passage can be played on: choice 0 is what the score asks for at each note, the further ones are the others.
struct Choices<'c> {
    asked: &'c [InstrumentInHand],
    others: &'c [Arc<Profile>],
}

impl<'c> Choices<'c> {
    fn count(&self) -> usize {
        1 + self.others.len()
    }

    fn instrument(&self, choice: usize, note: &Played) -> &'c Arc<Profile> {
        choice.checked_sub(1).and_then(|other| self.others.get(other)).unwrap_or(at(self.asked, note.onset))
    }

    fn passage(&self, choice: usize, notes: &[Played], limits: &SectionLimits) -> Cost {
        let mut cost = Cost::default();
        let mut is_asked = true;
        for note in notes {
            let instrument = self.instrument(choice, note);
            is_asked &= choice == 0 || instrument.name == at(self.asked, note.onset).name;
            match takes(instrument, note, limits) {
                Verdict::Missing => cost.missing += 1,
                Verdict::Strained => cost.strained += 1,
                Verdict::Beyond => cost.beyond += 1,
                Verdict::Suits => {}
            }
        }
        cost.not_as_asked = usize::from(!is_asked);
        cost
    }

    fn change(&self, (from, held): (usize, &Played), (to, next): (usize, &Played), gap: Seconds) -> Cost {
        let (old, new) = (self.instrument(from, held), self.instrument(to, next));
        if (from, to) == (0, 0) || old.name == new.name {
            return Cost::default();
        }
        change_cost(pick_up(old, new), gap)
    }
}

/// The choice for each passage: a shortest path over passage × choice.
fn cheapest(choices: &Choices<'_>, line: &Line, limits: &SectionLimits) -> Vec<usize> {
    if choices.count() == 1 {
        return vec![0; line.passages.len()];
    }
    let gaps = gaps(line);
    let mut reached: Vec<Cost> = vec![Cost::default(); choices.count()];
    let mut came_from: Vec<Vec<usize>> = Vec::new();
    for (passage, range) in line.passages.iter().enumerate() {
        if let Some(before) = passage.checked_sub(1) {
            let (held, next) = (&line.played[range.start - 1], &line.played[range.start]);
            let best = (0..choices.count()).map(|to| {
                let ways = (0..choices.count()).map(|from| {
                    let change = choices.change((from, held), (to, next), gaps[before]);
                    (sum(reached[from], change), from != to, from)
                });
                ways.min().map_or((Cost::default(), 0), |(cost, _, from)| (cost, from))
            });
            let (costs, froms) = best.unzip();
            reached = costs;
            came_from.push(froms);
        }
        for (choice, cost) in reached.iter_mut().enumerate() {
            *cost = sum(*cost, choices.passage(choice, &line.played[range.clone()], limits));
        }
    }
    let mut chosen = vec![(0..reached.len()).min_by_key(|&choice| (reached[choice], choice)).unwrap_or(0)];
    for froms in came_from.iter().rev() {
        chosen.push(froms[chosen[chosen.len() - 1]]);
    }
    chosen.reverse();
    chosen
}

fn change_cost((risky, impossible): (Seconds, Seconds), gap: Seconds) -> Cost {
    Cost {
        impossible_changes: usize::from(gap < impossible),
        risky_changes: usize::from(gap < risky),
        changes: 1,
        ..Cost::default()
    }
}

fn sum(a: Cost, b: Cost) -> Cost {
    Cost {
        missing: a.missing + b.missing,
        impossible_changes: a.impossible_changes + b.impossible_changes,
        strained: a.strained + b.strained,
        risky_changes: a.risky_changes + b.risky_changes,
        not_as_asked: a.not_as_asked + b.not_as_asked,
        changes: a.changes + b.changes,
        beyond: a.beyond + b.beyond,
    }
}

/// Seconds of rest behind each passage but the last, up to the next in written order: the shortest of all passes.
/// Where the performance never goes straight on (a jump lies between), it is the rest as written.
pub(super) fn gaps(line: &Line) -> Vec<Seconds> {
    let mut gaps: Vec<Option<f64>> = vec![None; line.passages.len().saturating_sub(1)];
    for pair in line.performed.windows(2) {
        let passage = line.passage_of(pair[0].played);
        if pair[1].played == pair[0].played + 1 && line.passage_of(pair[1].played) == passage + 1 {
            let gap = (pair[1].start - pair[0].start - pair[0].seconds).get().max(0.0);
            gaps[passage] = Some(gaps[passage].map_or(gap, |known| known.min(gap)));
        }
    }
    let written = |passage: usize| line.rest_after(line.passages[passage].end - 1).unwrap_or(Seconds::ZERO);
    let or_written =
        |(passage, gap): (usize, Option<f64>)| gap.map_or_else(|| written(passage), Seconds::new);
    gaps.into_iter().enumerate().map(or_written).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{instrument, section};
    use crate::score::testing::music;

    /// What is in hand at each note, an F tuba within reach of a C tuba.
    fn held(text: &str) -> Vec<String> {
        let music = music(text);
        let mut section = section(&music, &["contrabass-tuba-c"]);
        let limits = Arc::clone(&section.limits);
        let desk = &mut section.desks[0];
        desk.also = vec![Arc::new(instrument("bass-tuba-f"))];
        desk.take_up(&limits);
        let line = &desk.lines[0];
        line.played.iter().map(|note| desk.instrument_at(line, note.onset).name.clone()).collect()
    }

    #[test]
    fn nobody_changes_tubas_over_half_a_second_of_rest() {
        // Common practice: a change from C to F tuba wants 12 s to be safe and cannot be done in less than 5.
        assert_eq!(held("=60 mf D1/4 E1/4 r/1/2 E4/2 F4"), ["contrabass-tuba-c"; 4]);
        let swapped = ["contrabass-tuba-c", "contrabass-tuba-c", "bass-tuba-f", "bass-tuba-f"];
        assert_eq!(held("=60 mf D1/4 E1/4 r/14 E4/2 F4"), swapped);
    }

    #[test]
    fn a_note_that_the_one_in_hand_does_not_have_is_reason_enough() {
        assert_eq!(held("=60 mf Ab4/4 r/1 D1/4").first().map(String::as_str), Some("bass-tuba-f"));
    }

    #[test]
    fn what_the_score_asks_for_is_in_hand_where_nothing_is_within_reach() {
        let music = music("=60 mf D1/4 r/1/2 F4/4");
        let mut section = section(&music, &["contrabass-tuba-c"]);
        section.desks[0].instruments.push(InstrumentInHand {
            from: music.lines[0].played[1].onset,
            profile: Arc::new(instrument("bass-tuba-f")),
        });
        let desk = &section.desks[0];
        let line = &desk.lines[0];
        assert_eq!(desk.instrument_at(line, line.played[0].onset).name, "contrabass-tuba-c");
        assert_eq!(desk.instrument_at(line, line.played[1].onset).name, "bass-tuba-f");
        // Nobody chose it, so nobody can leave it: that the rest is too short is for a rule to say.
        let stretches = crate::playing::instruments::stretches(desk, &section, &[]);
        assert_eq!(stretches.iter().map(|stretch| stretch.from).collect::<Vec<_>>(), [0, 1]);
    }
}
