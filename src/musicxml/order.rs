//! Repeats, endings and jumps played out, with a bound that no score can pass.
//!
//! In come the marks of each written bar, gathered over all parts; out comes the order of performance.
//! Everything counts by whole bars: a jump in mid-bar acts at the bar's end, a sign at the bar's start.

use std::ops::Range;

use crate::score::{Passes, PerformanceOrder, Stretch};

/// What stands in or at the lines of one written bar and bears on the order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)] // Independent marks of the page.
pub(super) struct BarMarks {
    /// A repeat begins here: `repeat direction="forward"` at its left line, or `sound forward-repeat="yes"`.
    pub(super) repeat_from: bool,
    /// `repeat direction="backward"` at its right line.
    pub(super) repeat_back: Option<RepeatBack>,
    /// `ending type="start"`: the numbers of the ending that begins here.
    pub(super) ending_start: Option<Vec<u32>>,
    /// `ending type="stop"` or `"discontinue"` at its right line.
    pub(super) ending_stop: bool,
    /// Names of segno signs here (`sound segno`, or a sign without a name: "").
    pub(super) segno: Vec<String>,
    /// Names of coda signs here.
    pub(super) coda: Vec<String>,
    /// `sound fine`, or "Fine" in words.
    pub(super) fine: bool,
    /// `sound dacapo`, or "D.C.".
    pub(super) dacapo: bool,
    /// `sound dalsegno` with its name, or "D.S.".
    pub(super) dalsegno: Option<String>,
    /// `sound tocoda` with its name, or "To Coda".
    pub(super) tocoda: Option<String>,
    /// `time-only` of these: the times on which a da capo or dal segno is taken (else the first) …
    pub(super) jump_on: Option<Passes>,
    /// … and on which the way to the coda is (else after a jump).
    pub(super) coda_on: Option<Passes>,
    /// A da capo or dal segno that stands in words alone …
    pub(super) jump_said: bool,
    /// … and says "al Coda".
    pub(super) al_coda: bool,
    /// The word "Coda" alone.
    pub(super) coda_said: bool,
    /// A coda sign behind the bar's first note or rest.
    pub(super) coda_late: bool,
}

impl BarMarks {
    /// Jumps in words count only where no `sound` of the same bar says so.
    pub(super) fn with_said(mut self, said: &BarMarks) -> BarMarks {
        self.jump_said = !self.dacapo && self.dalsegno.is_none() && (said.dacapo || said.dalsegno.is_some());
        self.al_coda = said.al_coda;
        self.coda_said = said.coda_said;
        self.dacapo |= said.dacapo && self.dalsegno.is_none();
        self.fine |= said.fine;
        if !self.dacapo {
            self.dalsegno = self.dalsegno.or(said.dalsegno.clone());
        }
        self.tocoda = self.tocoda.or(said.tocoda.clone());
        self
    }
}

/// A backward repeat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct RepeatBack {
    /// How often the passage is played in all (`times`; 2 where it is not given).
    pub(super) times: u32,
    /// Whether it is taken again after a da capo or dal segno.
    pub(super) after_jump: bool,
}

/// A repeat or ending beyond this is no number of times that anyone plays.
pub(super) const MOST_TIMES: u32 = 999;

/// The numbers of an `ending`: "1", "1, 2", "1-3", "1.2."; empty where the text holds none.
pub(super) fn ending_numbers(text: &str) -> Vec<u32> {
    let mut numbers: Vec<u32> = Vec::new();
    let mut range = false;
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit() || matches!(c, '-' | '–')) {
        rest = &rest[at..];
        let length = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        if length == 0 {
            range = !numbers.is_empty();
            rest = rest.trim_start_matches(['-', '–']);
            continue;
        }
        if let Some(number) = rest[..length].parse().ok().filter(|number| (1..=MOST_TIMES).contains(number)) {
            let from = if range { numbers.last().map_or(number, |last| last + 1) } else { number };
            numbers.extend(from..number);
            numbers.push(number);
        }
        range = false;
        rest = &rest[length..];
    }
    numbers.sort_unstable();
    numbers.dedup();
    numbers
}

/// How a score is performed.
#[derive(Debug)]
pub(super) struct Outcome {
    pub(super) order: PerformanceOrder,
    /// The marks could not be followed: it is straight through.
    pub(super) unusable: bool,
    /// The bars with a jump that was taken on the word of their words alone.
    pub(super) on_words: Vec<usize>,
}

/// The order in which the bars are played.
///
/// A repeat goes back to the last sign of a repeat's beginning, or to the end of the repeat before it. An ending
/// is played in the passes it names; one that names none, in the pass of its place. After a da capo or dal segno
/// what was heard before is not repeated (unless `after-jump="yes"`) and the last ending is taken; `fine` and
/// `tocoda` count only then, or when `time-only` says. Each jump is taken once.
pub(super) fn play_out(bars: &[BarMarks]) -> Outcome {
    let bars = &with_coda_in_words(bars);
    let straight = || PerformanceOrder::straight(u32::try_from(bars.len()).unwrap_or(u32::MAX));
    let mut play = Play::of(bars);
    // A player follows a few repeats and a jump or two; the rest is a mistake in the file.
    let bound = bars.len() * 8 + 1_000;
    while play.at < bars.len() {
        if play.played.len() >= bound {
            return Outcome { order: straight(), unusable: true, on_words: Vec::new() };
        }
        if !play.enter() {
            continue;
        }
        play.played.push((play.at, play.time()));
        play.visits[play.at] += 1;
        if play.leave() {
            break;
        }
    }
    let on_words = (0..bars.len()).filter(|&bar| play.taken[bar] && bars[bar].jump_said).collect();
    Outcome { order: PerformanceOrder { stretches: stretches(&play.played) }, unusable: false, on_words }
}

/// Two things that a page says without a `sound`, read where only one reading is left. Where a jump says "al Coda" and
/// nothing says where to leave for it, and there are two codas on the page (signs, or the second as a word), the first
/// is where to leave, if it stands behind the music of its bar. Where there is no sign for the coda, its word is one.
fn with_coda_in_words(bars: &[BarMarks]) -> Vec<BarMarks> {
    let mut bars = bars.to_vec();
    let codas: Vec<usize> =
        (0..bars.len()).filter(|&bar| !bars[bar].coda.is_empty() || bars[bar].coda_said).collect();
    if let [leave, arrive] = *codas.as_slice()
        && bars[leave].coda_late
        && bars.iter().any(|marks| marks.al_coda)
        && bars.iter().all(|marks| marks.tocoda.is_none())
    {
        bars[leave].tocoda = Some(String::new());
        bars[leave].coda.clear();
        bars[arrive].coda.push(String::new());
    }
    let signs = bars.iter().rposition(|marks| !marks.coda.is_empty());
    let mut words = (0..bars.len()).filter(|&bar| bars[bar].coda_said);
    if let (Some(word), None) = (words.next(), words.next())
        && signs.is_none_or(|sign| sign < word)
    {
        bars[word].coda.push(String::new());
    }
    bars
}

/// The bars as they were played, in stretches of neighbours of one pass.
fn stretches(played: &[(usize, u32)]) -> Vec<Stretch> {
    let mut visits = vec![0_u32; played.iter().map(|(bar, _)| bar + 1).max().unwrap_or(0)];
    let mut stretches: Vec<Stretch> = Vec::new();
    for &(bar, time) in played {
        visits[bar] += 1;
        let (bar, pass) = (u32::try_from(bar).unwrap_or(u32::MAX), visits[bar]);
        match stretches.last_mut() {
            Some(last) if last.bars.end == bar && (last.pass, last.time) == (pass, time) => {
                last.bars.end = bar + 1;
            }
            _ => stretches.push(Stretch { bars: bar..bar + 1, pass, time }),
        }
    }
    stretches
}

/// An ending: its bars and passes.
struct Ending {
    bars: Range<usize>,
    numbers: Vec<u32>,
    /// One past the last bar of the last ending beside it.
    group_end: usize,
    /// The highest pass that an ending beside it names.
    last_pass: u32,
}

/// A performer with a finger on the page.
struct Play<'m> {
    bars: &'m [BarMarks],
    endings: Vec<Ending>,
    /// For each bar the ending it stands in.
    ending_of: Vec<Option<usize>>,
    at: usize,
    /// Where a backward repeat goes.
    repeat_from: usize,
    /// Which time the repeated passage is played.
    pass: u32,
    jumped: bool,
    /// Jumps taken, by bar.
    taken: Vec<bool>,
    visits: Vec<u32>,
    /// How often each bar was heard before the jump.
    heard: Vec<u32>,
    /// Each bar played, with the time through its repeat.
    played: Vec<(usize, u32)>,
}

impl<'m> Play<'m> {
    fn of(bars: &'m [BarMarks]) -> Play<'m> {
        let endings = endings(bars);
        let mut ending_of = vec![None; bars.len()];
        for (index, ending) in endings.iter().enumerate() {
            ending_of[ending.bars.clone()].fill(Some(index));
        }
        Play {
            bars,
            endings,
            ending_of,
            at: 0,
            repeat_from: 0,
            pass: 1,
            jumped: false,
            taken: vec![false; bars.len()],
            visits: vec![0; bars.len()],
            heard: vec![0; bars.len()],
            played: Vec::new(),
        }
    }

    /// Comes to a bar; `false` when it is passed over and another one is at hand.
    fn enter(&mut self) -> bool {
        if self.bars[self.at].repeat_from && self.at != self.repeat_from {
            self.begin_section(self.at);
        }
        let Some(ending) = self.ending_of[self.at].map(|index| &self.endings[index]) else { return true };
        if self.at != ending.bars.start {
            return true;
        }
        let pass = if self.leaves_out_repeats(ending.bars.clone()) { ending.last_pass } else { self.pass };
        let group = self.endings.iter().filter(|other| other.group_end == ending.group_end);
        // No ending for this pass: the page is wrong, and what stands there is played.
        let nowhere = !group.clone().any(|other| other.numbers.contains(&pass));
        if ending.numbers.contains(&pass) || nowhere {
            return true;
        }
        self.at = ending.bars.end;
        false
    }

    /// Leaves a bar that was played; `true` when the piece is over.
    fn leave(&mut self) -> bool {
        let at = self.at;
        let marks = &self.bars[at];
        let ending = self.ending_of[at].map(|index| &self.endings[index]);
        if let Some(repeat) = marks.repeat_back {
            let heard = self.jumped && self.heard[at] > 0 && !repeat.after_jump;
            let again = !heard
                && match ending {
                    Some(ending) => ending.last_pass > self.pass,
                    None => self.pass < repeat.times.min(MOST_TIMES),
                };
            if again {
                self.at = self.repeat_from;
                self.pass += 1;
                return false;
            }
        }
        if self.jumped && marks.fine {
            return true;
        }
        if marks.coda_on.map_or(self.jumped, |times| times.has(self.visits[at]))
            && let Some(name) = &marks.tocoda
            && let Some(coda) = self.coda_behind(name)
        {
            self.begin_section(coda);
            self.at = coda;
            return false;
        }
        if let Some(to) = self.jump_from(at) {
            self.taken[at] = true;
            self.jumped = true;
            self.heard.clone_from(&self.visits);
            self.begin_section(to);
            self.at = to;
            return false;
        }
        // Behind an ending that is not repeated the others beside it are passed over.
        let next =
            ending.filter(|ending| at + 1 == ending.bars.end).map_or(at + 1, |ending| ending.group_end);
        if marks.repeat_back.is_some()
            || next > at + 1
            || ending.is_some_and(|ending| ending.group_end == at + 1)
        {
            self.begin_section(next);
        }
        self.at = next;
        false
    }

    /// Which time through its repeat the bar at hand is played.
    fn time(&self) -> u32 {
        // Heard before the jump: without its repeats, as the last time.
        self.pass.max(self.heard[self.at])
    }

    fn begin_section(&mut self, at: usize) {
        self.repeat_from = at;
        self.pass = 1;
    }

    /// Whether the repeats that end in these bars are left out because they were heard before the jump.
    fn leaves_out_repeats(&self, bars: Range<usize>) -> bool {
        let last = self
            .endings
            .iter()
            .filter(|ending| ending.bars.start >= bars.start)
            .map(|ending| ending.group_end);
        let group = bars.start..last.min().unwrap_or(bars.end);
        self.jumped
            && self.heard[bars.start] > 0
            && !self.bars[group].iter().any(|marks| marks.repeat_back.is_some_and(|repeat| repeat.after_jump))
    }

    fn coda_behind(&self, name: &str) -> Option<usize> {
        let behind = self.at + 1..self.bars.len();
        let named = |bar: &usize| self.bars[*bar].coda.iter().any(|coda| coda == name);
        let any = |bar: &usize| !self.bars[*bar].coda.is_empty();
        behind.clone().find(named).or_else(|| behind.clone().find(any))
    }

    /// Where a da capo or dal segno at this bar leads, unless it was taken already or has no goal.
    fn jump_from(&self, at: usize) -> Option<usize> {
        let on_time = self.bars[at].jump_on.is_none_or(|times| times.has(self.visits[at]));
        if self.taken[at] || !on_time {
            return None;
        }
        if self.bars[at].dacapo {
            return Some(0);
        }
        let name = self.bars[at].dalsegno.as_ref()?;
        let named = |bar: &usize| self.bars[*bar].segno.iter().any(|segno| segno == name);
        let any = |bar: &usize| !self.bars[*bar].segno.is_empty();
        (0..=at).rev().find(named).or_else(|| (0..=at).rev().find(any))
    }
}

/// The endings of the score. One that is not closed lasts up to the next repeat sign or ending, else one bar.
fn endings(bars: &[BarMarks]) -> Vec<Ending> {
    let mut endings: Vec<Ending> = Vec::new();
    for (start, marks) in bars.iter().enumerate() {
        let Some(numbers) = &marks.ending_start else { continue };
        let closes = |bar: &usize| {
            bars[*bar].ending_stop
                || bars[*bar].repeat_back.is_some()
                || bars.get(bar + 1).is_some_and(|next| next.ending_start.is_some())
        };
        let end = (start..bars.len()).find(closes).unwrap_or(start) + 1;
        let place = match endings.last() {
            Some(last) if last.bars.end == start => last.numbers.last().map_or(1, |number| number + 1),
            _ => 1,
        };
        let numbers = if numbers.is_empty() { vec![place] } else { numbers.clone() };
        endings.push(Ending { bars: start..end, numbers, group_end: end, last_pass: 0 });
    }
    let mut last_pass = 0;
    for index in (0..endings.len()).rev() {
        let own = endings[index].numbers.iter().copied().max().unwrap_or(1);
        let beside = endings.get(index + 1).filter(|next| next.bars.start == endings[index].bars.end);
        let group_end = beside.map_or(endings[index].bars.end, |next| next.group_end);
        last_pass = if beside.is_some() { own.max(last_pass) } else { own };
        endings[index].group_end = group_end;
        endings[index].last_pass = last_pass;
    }
    for index in 1..endings.len() {
        if endings[index].group_end == endings[index - 1].group_end {
            endings[index].last_pass = endings[index - 1].last_pass;
        }
    }
    endings
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars parted by blanks: `|:` and `:|` (`:|3` three times, `:|!` after a jump too), `[1` and `]` for
    /// endings, `S` segno, `C` coda, `DC`, `DS`, `TC` to coda, `Fine`.
    #[track_caller]
    fn performed(page: &str) -> String {
        let bars: Vec<BarMarks> = page.split_whitespace().map(bar).collect();
        let played = play_out(&bars);
        assert!(!played.unusable, "{page} could not be followed");
        let bars = played.order.stretches.iter().flat_map(|stretch| stretch.bars.clone());
        bars.map(|bar| (bar + 1).to_string()).collect::<Vec<_>>().join(" ")
    }

    fn bar(signs: &str) -> BarMarks {
        let mut marks = BarMarks::default();
        for sign in signs.split(',') {
            match sign {
                "" | "-" => {}
                "|:" => marks.repeat_from = true,
                "]" => marks.ending_stop = true,
                "S" => marks.segno.push("s".to_owned()),
                "C" => marks.coda.push("c".to_owned()),
                "DC" => marks.dacapo = true,
                "DS" => marks.dalsegno = Some("s".to_owned()),
                "TC" => marks.tocoda = Some("c".to_owned()),
                "Fine" => marks.fine = true,
                "SaidDCalC" => (marks.dacapo, marks.jump_said, marks.al_coda) = (true, true, true),
                "SaidC" => marks.coda_said = true,
                "LateC" => (marks.coda, marks.coda_late) = (vec![String::new()], true),
                "DC2" => (marks.dacapo, marks.jump_on) = (true, Some(Passes::only([2]))),
                "TC1" => (marks.tocoda, marks.coda_on) = (Some("c".to_owned()), Some(Passes::only([1]))),
                _ if sign.starts_with(":|") => {
                    let times = sign.trim_matches([':', '|', '!']).parse().unwrap_or(2);
                    marks.repeat_back = Some(RepeatBack { times, after_jump: sign.ends_with('!') });
                }
                _ => marks.ending_start = Some(ending_numbers(sign.strip_prefix('[').expect("a known sign"))),
            }
        }
        marks
    }

    #[test]
    fn repeats_go_back_to_their_sign_or_to_the_start() {
        assert_eq!(performed("- - -"), "1 2 3");
        assert_eq!(performed("- :| -"), "1 2 1 2 3");
        assert_eq!(performed("- |: :| -"), "1 2 3 2 3 4");
        assert_eq!(performed("- :| - :|"), "1 2 1 2 3 4 3 4");
        assert_eq!(performed("|:,:|3 -"), "1 1 1 2");
        assert_eq!(performed(":|1 -"), "1 2");
    }

    #[test]
    fn endings_are_played_in_the_passes_they_name() {
        assert_eq!(performed("|: [1,:|,] [2,] -"), "1 2 1 3 4");
        assert_eq!(performed("|: [1,] -"), "1 2 3");
        assert_eq!(performed("- [1-2,:|,] [3,] -"), "1 2 1 2 1 3 4");
        assert_eq!(performed("- [1,:|,] [2,:|,] [3,] -"), "1 2 1 3 1 4 5");
        assert_eq!(performed("- [,:|,] [,] -"), "1 2 1 3 4");
        // Two bars each, and a second repeat behind them.
        assert_eq!(performed("- [1 :|,] [2 ] - :|"), "1 2 3 1 4 5 6 7 6 7");
    }

    #[test]
    fn after_a_jump_what_was_heard_is_not_repeated_and_the_last_ending_is_taken() {
        assert_eq!(performed("- :| Fine - DC"), "1 2 1 2 3 4 5 1 2 3");
        assert_eq!(performed("|: [1,:|,] [2,],Fine - DC"), "1 2 1 3 4 5 1 3");
        assert_eq!(performed("- :|! Fine DC"), "1 2 1 2 3 4 1 2 1 2 3");
    }

    #[test]
    fn segno_and_coda_are_followed_and_fine_counts_only_after_a_jump() {
        assert_eq!(performed("- S TC - DS C -"), "1 2 3 4 5 2 3 6 7");
        assert_eq!(performed("TC Fine DC C"), "1 2 3 1 4");
        assert_eq!(performed("Fine - DC"), "1 2 3 1");
        // What is new in the coda is repeated.
        assert_eq!(performed("TC DC C,|:,:|"), "1 2 1 3 3");
        // No segno on the page: the word leads nowhere.
        assert_eq!(performed("- DS -"), "1 2 3");
        // D.C. without Fine plays to the end once more, and only once.
        assert_eq!(performed("- DC -"), "1 2 1 2 3");
    }

    #[test]
    fn a_coda_in_words_is_one_where_no_other_reading_is_left() {
        assert_eq!(performed("- TC SaidDCalC SaidC"), "1 2 3 1 2 4");
        // Two signs and "al Coda": the first is where to leave.
        assert_eq!(performed("- LateC SaidDCalC C"), "1 2 3 1 2 4");
        assert_eq!(performed("- LateC SaidDCalC SaidC"), "1 2 3 1 2 4");
        // Before the music of its bar it might as well belong to the bar before; a third coda leaves two readings.
        assert_eq!(performed("- C SaidDCalC C"), "1 2 3 1 2 3 4");
        assert_eq!(performed("- LateC LateC SaidDCalC C"), "1 2 3 4 1 2 3 4 5");
        // A sign behind the word goes before it.
        assert_eq!(performed("TC SaidDCalC SaidC C"), "1 2 1 4");
    }

    #[test]
    fn a_jump_in_words_is_remembered_where_it_was_taken() {
        assert_eq!(play_out(&[bar("-"), bar("SaidDCalC")]).on_words, [1]);
        assert!(play_out(&[bar("-"), bar("DC")]).on_words.is_empty());
    }

    #[test]
    fn time_only_says_when_a_jump_is_taken() {
        assert_eq!(performed("- DC2 - DC"), "1 2 3 4 1 2 1 2 3 4");
        assert_eq!(performed("TC1 - C"), "1 3");
    }

    #[test]
    fn a_repeat_left_out_after_a_jump_is_its_last_time() {
        let played = play_out(&[bar(":|"), bar("DC")]);
        let times: Vec<u32> = played.order.stretches.iter().map(|stretch| stretch.time).collect();
        assert_eq!(times, [1, 2, 1, 2, 1]);
    }

    #[test]
    fn each_time_a_bar_is_played_counts_as_a_pass() {
        let played = play_out(&[bar("-"), bar(":|"), bar("-")]);
        let shown: Vec<(Range<u32>, u32)> =
            played.order.stretches.into_iter().map(|stretch| (stretch.bars, stretch.pass)).collect();
        assert_eq!(shown, [(0..2, 1), (0..2, 2), (2..3, 1)]);
    }

    #[test]
    fn no_page_makes_the_performance_explode() {
        let bars = vec![bar("|:,:|999"); 200];
        let played = play_out(&bars);
        assert!(played.unusable);
        assert_eq!(played.order, PerformanceOrder::straight(200));
        let empty = play_out(&[]);
        assert!(empty.order.stretches.is_empty() && !empty.unusable);
    }

    #[test]
    fn ending_numbers_are_read_in_every_spelling() {
        let table: [(&str, &[u32]); 9] = [
            ("1", &[1]),
            ("1, 2", &[1, 2]),
            ("1,2,3", &[1, 2, 3]),
            ("1-3", &[1, 2, 3]),
            ("1.2.", &[1, 2]),
            ("1.–3.", &[1, 2, 3]),
            ("", &[]),
            ("x", &[]),
            ("99999999999", &[]),
        ];
        for (text, numbers) in table {
            assert_eq!(ending_numbers(text), numbers, "{text}");
        }
    }
}
