//! The score as it is played: what goes on until something else is said (a level, a mute, a tempo) is what was last met on
//! the way there.
//!
//! A second ending follows what stood before the first, a coda what stood before the jump. So whatever lasts is followed
//! over a timeline on which the bars stand as often as they are played, one behind the other; where nothing is repeated
//! that is the written score itself.

use std::ops::Range;

use super::found::At;
use crate::music::{Length, Onset};
use crate::score::{Bar, PerformanceOrder};

/// Bars that are played through once.
#[derive(Clone, Debug)]
pub(super) struct Visit {
    pub(super) bars: Range<u32>,
    /// Which time these bars are played, from 1.
    pub(super) pass: u32,
    /// Which time through their repeat.
    pub(super) time: u32,
    /// Where they begin on the page.
    pub(super) written: Onset,
    /// Where they begin on the timeline.
    pub(super) played: Onset,
    /// How long they last.
    pub(super) length: Length,
}

/// The bars in the order of performance.
#[derive(Debug)]
pub(super) struct Performance<'b> {
    bars: &'b [Bar],
    pub(super) visits: Vec<Visit>,
}

impl<'b> Performance<'b> {
    /// Bars that are never played are put behind all that are, as if they came next.
    pub(super) fn of(order: &PerformanceOrder, bars: &'b [Bar]) -> Performance<'b> {
        let mut performance = Performance { bars, visits: Vec::new() };
        let mut unplayed = vec![true; bars.len()];
        for stretch in &order.stretches {
            performance.visit(stretch.bars.clone(), stretch.pass, stretch.time);
            for bar in stretch.bars.clone() {
                if let Some(unplayed) = unplayed.get_mut(bar as usize) {
                    *unplayed = false;
                }
            }
        }
        for bar in (0..bars.len()).filter(|&bar| unplayed[bar]) {
            performance.visit(bar as u32..bar as u32 + 1, 1, 1);
        }
        performance
    }

    fn visit(&mut self, bars: Range<u32>, pass: u32, time: u32) {
        let (Some(first), Some(last)) =
            (self.bars.get(bars.start as usize), self.bars.get((bars.end as usize).wrapping_sub(1)))
        else {
            return;
        };
        let (written, length) = (first.start, (last.start + last.length).since(first.start));
        let played = self.end();
        self.visits.push(Visit { bars, pass, time, written, played, length });
    }

    /// Where the last bar played ends on the timeline.
    pub(super) fn end(&self) -> Onset {
        self.visits.last().map_or(Onset::START, |visit| visit.played + visit.length)
    }

    /// Whether the bars are played once, as they are written.
    pub(super) fn is_straight(&self) -> bool {
        matches!(self.visits.as_slice(), [] | [_])
    }

    /// Where a place of the page is met on a visit to its bar.
    pub(super) fn met(&self, visit: &Visit, at: At) -> Onset {
        let bar = self.bars.get(at.bar as usize).map_or(visit.written, |bar| bar.start);
        visit.played + bar.since(visit.written) + at.into
    }
}

/// Of things in order of their bars, those of some bars.
pub(super) fn of_bars<'a, T>(things: &'a [T], bars: &Range<u32>, bar: impl Fn(&T) -> u32) -> &'a [T] {
    let from = things.partition_point(|thing| bar(thing) < bars.start);
    let to = things.partition_point(|thing| bar(thing) < bars.end);
    &things[from..to]
}

#[cfg(test)]
mod tests {
    use crate::musicxml::testing::{note, score};
    use crate::score::{Note, Score};

    const ONE_OF_TWO: &str = "<barline location='left'><ending number='1' type='start'/></barline>";
    const BACK: &str = "<barline><ending number='1' type='stop'/><repeat direction='backward'/></barline>";
    const TWO_OF_TWO: &str = "<barline location='left'><ending number='2' type='start'/></barline>";

    fn mark(letters: &str) -> String {
        format!("<direction><direction-type><dynamics><{letters}/></dynamics></direction-type></direction>")
    }

    fn words(text: &str) -> String {
        format!("<direction><direction-type><words>{text}</words></direction-type></direction>")
    }

    /// Bars of a whole note each, with this before and behind it.
    fn bars(bars: &[(String, &str)]) -> Score {
        let attributes = "<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
        let bar = |(index, (before, behind)): (usize, &(String, &str))| {
            let attributes = if index == 0 { attributes } else { "" };
            format!("<measure>{attributes}{before}{}{behind}</measure>", note("C2", 16, ""))
        };
        score(&bars.iter().enumerate().map(bar).collect::<String>())
    }

    fn levels(score: &Score) -> Vec<String> {
        let show = |note: &Note| {
            let level = |level: Option<crate::music::Dynamic>| level.map_or("?", |level| level.letters());
            let later =
                note.later.iter().flatten().map(|later| format!(" {}:{}", later.pass, level(later.dynamic)));
            format!("{}{}", level(note.dynamic), later.collect::<String>())
        };
        score.parts[0].notes.iter().map(show).collect()
    }

    #[test]
    fn a_second_ending_follows_what_stood_before_the_first() {
        let score = bars(&[
            (mark("p"), ""),
            (String::new(), ""),
            (format!("{ONE_OF_TWO}{}", mark("ff")), BACK),
            (TWO_OF_TWO.to_owned(), ""),
        ]);
        assert_eq!(levels(&score), ["p", "p", "ff", "p"]);
    }

    #[test]
    fn a_repeat_without_a_mark_at_its_head_comes_back_as_it_was_left() {
        let score = bars(&[
            (mark("p"), ""),
            ("<barline location='left'><repeat direction='forward'/></barline>".to_owned(), ""),
            (mark("ff"), "<barline><repeat direction='backward'/></barline>"),
        ]);
        assert_eq!(levels(&score), ["p", "p 2:ff", "ff"]);
    }

    #[test]
    fn two_marks_with_a_stroke_are_for_the_first_and_the_second_time() {
        let other = "<direction><direction-type><dynamics><other-dynamics>f-p</other-dynamics></dynamics></direction-type></direction>";
        let score = bars(&[(other.to_owned(), "<barline><repeat direction='backward'/></barline>")]);
        assert_eq!(levels(&score), ["f 2:p"]);
        assert_eq!(levels(&bars(&[(other.replace("f-p", "p / ff"), "")])), ["p"]);
    }

    #[test]
    fn a_coda_follows_what_stood_before_the_jump() {
        let score = bars(&[
            (mark("p"), "<sound tocoda='c'/>"),
            (mark("ff"), "<sound dacapo='yes'/>"),
            ("<sound coda='c'/>".to_owned(), ""),
        ]);
        // Played 1 2 1 3.
        assert_eq!(levels(&score), ["p", "ff", "p"]);
    }

    #[test]
    fn mutes_go_by_what_was_played_last() {
        let score = bars(&[
            (String::new(), ""),
            (format!("{ONE_OF_TWO}{}", words("con sord.")), BACK),
            (format!("{TWO_OF_TWO}{}", words("senza sord.")), ""),
        ]);
        let notes = &score.parts[0].notes;
        assert_eq!(notes.iter().map(|note| note.mute.is_some()).collect::<Vec<_>>(), [false, true, false]);
        assert!(notes[0].asked_on(2).mute.is_some(), "the second time it is still in");
    }

    #[test]
    fn a_ritardando_in_the_first_ending_is_over_in_the_second() {
        let tempo = "<sound tempo='60'/>".to_owned();
        let score = bars(&[
            (tempo, ""),
            (format!("{ONE_OF_TWO}{}", words("meno mosso")), BACK),
            (TWO_OF_TWO.to_owned(), ""),
        ]);
        let tempos: Vec<f64> =
            score.bars.iter().map(|bar| score.tempo.change_at(bar.start).tempo.get().round()).collect();
        assert_eq!(tempos, [60.0, 51.0, 60.0]);
        let line = &crate::score::lines(&score.parts[0], &score, 1)[0];
        let seconds: Vec<f64> =
            line.performed.iter().map(|struck| (struck.seconds.get() * 100.0).round() / 100.0).collect();
        assert_eq!(seconds, [4.0, 4.71, 4.0, 4.0]);
    }

    #[test]
    fn a_repeat_goes_on_at_the_tempo_it_was_left_with() {
        let score = bars(&[
            ("<sound tempo='60'/>".to_owned(), ""),
            ("<barline location='left'><repeat direction='forward'/></barline>".to_owned(), ""),
            ("<sound tempo='30'/>".to_owned(), "<barline><repeat direction='backward'/></barline>"),
        ]);
        let line = &crate::score::lines(&score.parts[0], &score, 1)[0];
        let seconds: Vec<f64> = line.performed.iter().map(|struck| struck.seconds.get()).collect();
        assert_eq!(seconds, [4.0, 4.0, 8.0, 8.0, 8.0]);
        assert_eq!(line.later.len(), 1);
    }

    #[test]
    fn a_bar_that_is_never_played_is_read_all_the_same() {
        let score = bars(&[
            (mark("p"), ""),
            (mark("f"), "<sound dacapo='yes'/>"),
            (String::new(), "<sound fine='yes'/>"),
        ]);
        assert_eq!(score.parts[0].notes.len(), 3);
        assert!(score.parts[0].notes.iter().all(|note| note.dynamic.is_some()));
    }
}
