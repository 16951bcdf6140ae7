//! Rest: how much of the time a line sounds, and how long it goes on.

use super::{BusyWindow, Recovery, Run, RunKind};
use crate::music::Seconds;
use crate::playing::Desk;
use crate::profile::{RestLimits, RunLimits};
use crate::score::{Articulation, Line, Played};

/// How much a line rests, by the performance.
pub fn recovery(line: &Line, desk: &Desk<'_>, limits: &RestLimits) -> Recovery {
    let heard: Vec<Heard<'_>> = line
        .performed
        .iter()
        .map(|struck| {
            let (from, note) = (struck.start.get(), &line.played[struck.played]);
            let marks = note.articulations;
            let short = marks.has(Articulation::Staccato) || marks.has(Articulation::Staccatissimo);
            // With a tenuto line as well it is held, and only parted from the next.
            let detached = short && !marks.has(Articulation::Tenuto);
            let sounds = if detached { *limits.staccato } else { 1.0 };
            Heard { from, to: from + struck.seconds.get() * sounds, note }
        })
        .collect();
    let sounding: f64 = heard.iter().map(|heard| heard.to - heard.from).sum();
    let whole = heard.last().map_or(0.0, |last| last.to);
    let mut runs = Vec::new();
    let gap = limits.gap.get();
    let tires = |note: &Played| tires(note, limits);
    runs.extend(runs_of(&heard, gap, *limits.run, RunKind::Long, |_| true, tires));
    let loud = |note: &Played| note.dynamic.is_some_and(|level| level >= *limits.loud_from);
    runs.extend(runs_of(&heard, gap, *limits.loud_run, RunKind::Loud, loud, |_| true));
    let high = |note: &Played| note.sounding > desk.instrument_at(line, note.onset).range.usual.1;
    runs.extend(runs_of(&heard, gap, *limits.high_run, RunKind::High, high, |_| true));
    runs.sort_by_key(|run| (run.from, run.kind));
    Recovery {
        share: if whole > 0.0 { sounding / whole } else { 0.0 },
        windows: windows(&heard, limits),
        runs,
    }
}

/// A note before any mark is taken as soft: `no-dynamic-yet` tells that nobody knows.
fn tires(note: &Played, limits: &RestLimits) -> bool {
    note.dynamic.is_some_and(|level| level >= *limits.tires_from)
}

struct Heard<'a> {
    from: f64,
    to: f64,
    note: &'a Played,
}

/// Runs of notes of one kind, without a gap, longer than the lower limit.
fn runs_of(
    heard: &[Heard<'_>],
    gap: f64,
    limits: RunLimits,
    kind: RunKind,
    counts: impl Fn(&Played) -> bool,
    tires: impl Fn(&Played) -> bool,
) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut from = None;
    let mut tiring = 0.0;
    for at in 0..heard.len() {
        if !counts(heard[at].note) {
            from = None;
            continue;
        }
        let goes_on = from.is_some() && {
            let (before, rests) = (&heard[at - 1], heard[at].from - heard[at - 1].to);
            rests < gap.min(before.to - before.from)
        };
        let first = match from {
            Some(first) if goes_on => first,
            _ => {
                tiring = 0.0;
                at
            }
        };
        from = Some(first);
        if tires(heard[at].note) {
            tiring += heard[at].to - heard[at].from;
        }
        let seconds = heard[at].to - heard[first].from;
        if seconds > limits.note.get() {
            let (seconds, tiring) = (Seconds::new(seconds), Seconds::new(tiring));
            let run = Run { from: first, to: at, seconds, tiring, limits, kind };
            match runs.last_mut() {
                Some(last) if last.from == first => *last = run,
                _ => runs.push(run),
            }
        }
    }
    runs
}

/// The busiest window of each stretch in which windows are too busy. A window ends where a note ends.
fn windows(heard: &[Heard<'_>], limits: &RestLimits) -> Vec<BusyWindow> {
    let width = limits.window.get();
    let mut windows: Vec<(BusyWindow, f64)> = Vec::new();
    let (mut first, mut sounding, mut tiring) = (0, 0.0, 0.0);
    let tires = |heard: &Heard<'_>| tires(heard.note, limits);
    for (at, last) in heard.iter().enumerate() {
        sounding += last.to - last.from;
        if tires(last) {
            tiring += last.to - last.from;
        }
        let begin = last.to - width;
        while heard[first].to <= begin {
            sounding -= heard[first].to - heard[first].from;
            if tires(&heard[first]) {
                tiring -= heard[first].to - heard[first].from;
            }
            first += 1;
        }
        let cut = (begin - heard[first].from).max(0.0);
        let share = (sounding - cut) / width;
        let tiring = (tiring - if tires(&heard[first]) { cut } else { 0.0 }) / width;
        if share <= *limits.share_note {
            continue;
        }
        let window = BusyWindow { from: first, to: at, share, tiring };
        match windows.last_mut() {
            // It begins before the one before has ended: one busy stretch.
            Some((busiest, end)) if begin < *end => {
                if (tiring, share) > (busiest.tiring, busiest.share) {
                    *busiest = window;
                }
                *end = last.to;
            }
            _ => windows.push((window, last.to)),
        }
    }
    windows.into_iter().map(|(window, _)| window).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::section;
    use crate::score::testing::music;

    #[track_caller]
    fn rests(text: &str) -> Recovery {
        let music = music(text);
        let section = section(&music, &["contrabass-tuba-c"]);
        recovery(&music.lines[0], &section.desks[0], &section.limits.rest)
    }

    fn kinds(text: &str) -> Vec<RunKind> {
        rests(text).runs.iter().map(|run| run.kind).collect()
    }

    #[test]
    fn runs_without_rest_have_their_limits() {
        // Limits 40 s, and 20 s at ff, are proposals; 34.6 s is the longest run of a tuba in a count over orchestral movements.
        assert_eq!(kinds("f F2/15 F2 F2"), [RunKind::Long]);
        assert_eq!(kinds("f F2/15 F2 F2/4"), []);
        assert_eq!(kinds("ff F2/5 F2 F2 F2 F2"), [RunKind::Loud]);
        assert_eq!(kinds("f F2/15 F2 r/1/2 F2/15"), []);
        assert_eq!(kinds("f F2/15 F2 r/1/4 F2/15"), [RunKind::Long], "a quarter of a second is no rest");
        let on_the_beat = |note: &str| format!("=120 f {}", vec![note; 100].join(" "));
        assert_eq!(kinds(&on_the_beat("F2/1/2 r")), [], "rest as long as the note is rest");
        assert_eq!(kinds(&on_the_beat("F2/1.")), [], "and a staccato note sounds half its value");
        assert_eq!(kinds(&on_the_beat("F2/1")), [RunKind::Long]);
        assert_eq!(kinds("mf D4/5 D4/5"), [RunKind::High]);
        assert_eq!(kinds("ff F2/15 f F2/1 ff F2/15"), [], "loud runs are counted apart");
    }

    #[test]
    fn a_run_says_where_it_is_and_how_long() {
        let run = rests("f F2/4 r/2 F2/20 F2 F2/5").runs[0];
        assert_eq!(
            (run.from, run.to, run.seconds, run.limits.note),
            (1, 3, Seconds::new(45.0), Seconds::new(40.0))
        );
    }

    #[test]
    fn the_busiest_three_minutes_are_measured() {
        // 30 s of rest after each 30 s of playing are a half: not more than the limit.
        let even = "f F2/30 r/30 F2 r F2 r F2 r F2 r";
        assert!(rests(even).windows.is_empty());
        let busy = rests("f F2/30 r/10 F2/30 r/10 F2/30 r/10 F2/30 r/10 F2/30 r/200 F2/1");
        assert_eq!(busy.windows.len(), 1);
        // Within 180 s: at best 140 s of the 150 that sound, by hand.
        assert!((busy.windows[0].share - 140.0 / 180.0).abs() < 1e-9, "{:?}", busy.windows);
        assert!((busy.share - 151.0 / 391.0).abs() < 1e-9);
    }
}
