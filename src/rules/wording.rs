//! Turns of phrase that several rules share, so that they read alike.

use crate::finding::Place;
use crate::music::{Dynamic, Onset, TempoChange};
use crate::score::{Played, Score};

/// The fact of a loudness: "D1 is marked ff", "D1 is under the ff of bar 7", "D1 grows to ff", "D1 is struck ff".
pub(super) fn marked(score: &Score, played: &Played, asked: Dynamic) -> String {
    let pitch = played.sounding;
    match (played.dynamic, played.attack) {
        (Some(level), _) if level == asked => match marked_before(score, played) {
            Some(bar) => format!("{pitch} is under the {asked} of bar {bar}"),
            None => format!("{pitch} is marked {asked}"),
        },
        (_, Some(attack)) if attack == asked => format!("{pitch} is struck {asked}"),
        (Some(level), _) if level < asked => format!("{pitch} grows to {asked}"),
        (Some(level), _) if level > asked => format!("{pitch} fades to {asked}"),
        _ => format!("{pitch} is marked {asked}"),
    }
}

/// The number of the bar whose mark sets the level in which a note begins, where that is another bar than its own.
pub(super) fn marked_before<'s>(score: &'s Score, played: &Played) -> Option<&'s str> {
    let bar = played.marked_in.filter(|bar| *bar != played.bar)?;
    score.bars.get(bar as usize).map(|bar| bar.number.as_str()).filter(|number| !number.is_empty())
}

/// "bar 12, beat 3".
pub(super) fn place(score: &Score, onset: Onset) -> String {
    let index = score.bars.partition_point(|bar| bar.start <= onset).saturating_sub(1);
    score.bars.get(index).map_or_else(String::new, |bar| {
        let place = Place::at(score, u32::try_from(index).unwrap_or(u32::MAX), onset.since(bar.start));
        format!("bar {}, {}", bar.number, place.beat_said())
    })
}

/// "bars 14, 15 and 16, beat 1" where they share their beat, else "bar 14, beat 1 and bar 15, beat 3".
pub(super) fn places(score: &Score, onsets: &[Onset]) -> String {
    let said: Vec<String> = onsets.iter().map(|onset| place(score, *onset)).collect();
    let split: Option<Vec<(&str, &str)>> =
        said.iter().map(|place| place.strip_prefix("bar ")?.split_once(", ")).collect();
    match split {
        Some(split) if split.len() > 1 && split.iter().all(|(_, beat)| *beat == split[0].1) => {
            let bars: Vec<String> = split.iter().map(|(bar, _)| (*bar).to_owned()).collect();
            format!("bars {}, {}", listed(&bars), split[0].1)
        }
        _ => listed(&said),
    }
}

/// The words from which a tempo was reckoned somewhere in a stretch: "'rit.' at bar 70 is reckoned as 96 to 72 quarter notes a
/// minute"; `None` where the score gives numbers, or nothing at all.
pub(super) fn reckoned(score: &Score, from: Onset, to: Onset) -> Option<String> {
    reckoned_as(score, score.tempo.reckoned_in(from, to)?)
}

/// The same of one change of tempo.
pub(super) fn reckoned_as(score: &Score, change: &TempoChange) -> Option<String> {
    let said = change.reckoned.as_deref()?;
    let bar = score.bars.partition_point(|bar| bar.start <= said.at).saturating_sub(1);
    let bar = score.bars.get(bar).map_or("", |bar| bar.number.as_str());
    let tempo = change.tempo.get();
    let tempos = match change.glides_to {
        Some(goal) => format!("{tempo:.0} to {:.0}", goal.get()),
        None => format!("{tempo:.0}"),
    };
    Some(format!("'{}' at bar {bar} is reckoned as {tempos} quarter notes a minute", said.words))
}

/// An interval of less than an octave by its semitones: "a minor third".
pub(super) fn interval(semitones: u8) -> &'static str {
    const NAMES: &[&str] = &[
        "a unison",
        "a semitone",
        "a whole tone",
        "a minor third",
        "a major third",
        "a fourth",
        "a tritone",
        "a fifth",
        "a minor sixth",
        "a major sixth",
        "a minor seventh",
        "a major seventh",
        "an octave",
    ];
    NAMES.get(usize::from(semitones)).copied().unwrap_or("a wide interval")
}

/// "1 note", "3 notes".
pub(super) fn count(number: usize, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {one}s") }
}

/// "a, b or c".
pub(super) fn either(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        all => format!("{} or {}", all[..all.len() - 1].join(", "), all[all.len() - 1]),
    }
}

/// "12", "12 and 13", "12, 13 and 40"; of many only the first few and how many more.
pub(super) fn listed(items: &[String]) -> String {
    const SHOWN: usize = 12;
    match items {
        [] => String::new(),
        [one] => one.clone(),
        all if all.len() <= SHOWN => {
            format!("{} and {}", all[..all.len() - 1].join(", "), all[all.len() - 1])
        }
        all => format!("{} and {} more", all[..SHOWN - 1].join(", "), all.len() - SHOWN + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_reads_as_one_says_it() {
        let bars = |n: usize| (1..=n).map(|bar| bar.to_string()).collect::<Vec<_>>();
        assert_eq!(listed(&bars(1)), "1");
        assert_eq!(listed(&bars(3)), "1, 2 and 3");
        assert_eq!(listed(&bars(15)), "1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 4 more");
        assert_eq!(count(1, "note"), "1 note");
        assert_eq!(count(2, "note"), "2 notes");
    }
}
