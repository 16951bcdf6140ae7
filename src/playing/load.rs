//! How much a player has to do in a cue: how long it sounds, how loud, how high, how long without a rest.
//!
//! By the performance, repeats played out; each time of a repeat as it is heard then.

use super::{Desk, Section};
use crate::music::{Dynamic, Seconds, Sounding};
use crate::profile::SectionLimits;
use crate::score::{Line, Played, Struck};

/// What a line asks of its player.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Load {
    /// How long it sounds.
    pub plays: Seconds,
    /// How long of it at [`loud_from`] or louder.
    pub loud: Seconds,
    /// How long of it above the usual span of the instrument in hand.
    pub high: Seconds,
    /// The longest playing without a rest.
    pub longest: Option<Unbroken>,
    /// The lowest note.
    pub lowest: Option<Sounding>,
    /// The highest note.
    pub highest: Option<Sounding>,
}

/// Playing without a rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unbroken {
    /// How long, from the first note's beginning to the last one's end.
    pub seconds: Seconds,
    /// The bar in which it begins, an index into [`Score::bars`](crate::score::Score::bars).
    pub from: usize,
    /// The bar in which it ends.
    pub to: usize,
}

/// The level from which playing counts as loud.
pub fn loud_from(limits: &SectionLimits) -> Dynamic {
    limits.rest.loud_run.warning.1
}

/// Whether a note counts as loud.
pub fn is_loud(note: &Played, limits: &SectionLimits) -> bool {
    note.dynamic.is_some_and(|level| level >= loud_from(limits))
}

/// What a line asks.
pub fn load(line: &Line, desk: &Desk<'_>, section: &Section<'_>) -> Load {
    let limits = &section.limits;
    let (mut plays, mut loud, mut high) = (0.0, 0.0, 0.0);
    let mut longest: Option<Unbroken> = None;
    // The run that goes on: when it began, with which note, until when.
    let (mut began, mut from, mut until) = (0.0, 0, f64::NEG_INFINITY);
    for (struck, note) in heard(line) {
        let (start, seconds) = (struck.start.get(), struck.seconds.get());
        plays += seconds;
        if is_loud(note, limits) {
            loud += seconds;
        }
        if note.sounding > desk.instrument_at(line, note.onset).range.usual.1 {
            high += seconds;
        }
        if start - until >= limits.rest.gap.get() {
            (began, from) = (start, note.bar as usize);
        }
        until = start + seconds;
        if longest.is_none_or(|longest| until - began > longest.seconds.get()) {
            // What ends with a bar ends in it.
            let to = section.score.bars.partition_point(|bar| bar.start < note.end).saturating_sub(1);
            longest = Some(Unbroken { seconds: Seconds::new(until - began), from, to });
        }
    }
    let pitches = || line.played.iter().map(|note| note.sounding);
    Load {
        plays: Seconds::new(plays),
        loud: Seconds::new(loud),
        high: Seconds::new(high),
        longest,
        lowest: pitches().min(),
        highest: pitches().max(),
    }
}

/// What is struck, in the order of the performance, each as it is heard that time.
pub fn heard(line: &Line) -> impl Iterator<Item = (&Struck, &Played)> {
    line.performed.iter().filter_map(|struck| Some((struck, line.heard(struck)?)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::section;
    use crate::score::testing::music;

    /// Seconds: plays, loud, high, longest without a rest; at 60 a quarter is a second.
    #[track_caller]
    fn check(text: &str, expected: [f64; 4]) {
        let music = music(text);
        let section = section(&music, &["contrabass-tuba-c"]);
        let load = load(&section.desks[0].lines[0], &section.desks[0], &section);
        let longest = load.longest.map_or(0.0, |run| run.seconds.get());
        let found = [load.plays.get(), load.loud.get(), load.high.get(), longest];
        assert!(found.iter().zip(expected).all(|(one, other)| (one - other).abs() < 1e-9), "{found:?}");
    }

    #[test]
    fn minutes_are_of_what_sounds() {
        check("mf D2/4 | r/4 | D2/2 r/2", [6.0, 0.0, 0.0, 4.0]);
    }

    #[test]
    fn loud_is_from_the_level_of_the_section_file_on() {
        check("f D2/4 | ff D2/4 | fff D2/4 | p D2/4", [16.0, 8.0, 0.0, 16.0]);
    }

    #[test]
    fn high_is_above_the_usual_span() {
        check("mf D2/4 | E4/2 r/2", [6.0, 0.0, 2.0, 6.0]);
    }

    #[test]
    fn a_gap_shorter_than_a_rest_goes_on() {
        check("mf D2/2 r/1/4 D2/7/4 | r/4 | D2/3 r/1", [6.75, 0.0, 0.0, 4.0]);
    }
}
