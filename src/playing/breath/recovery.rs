//! Rest: how much of the time a line sounds, and how long it goes on.

use super::air::pieces;
use super::{BusyWindow, Recovery, Run, RunKind};
use crate::music::{BreathShare, Dynamic, Seconds};
use crate::playing::{Desk, Section};
use crate::profile::RestLimits;
use crate::score::{Line, Played};

/// How much a line rests, by the performance.
pub fn recovery(line: &Line, desk: &Desk<'_>, section: &Section<'_>) -> Recovery {
    let limits = &section.limits.rest;
    // What each uses, and the share of its value that it sounds.
    let played: Vec<(f64, f64)> = line
        .played
        .iter()
        .map(|note| {
            let pieces = pieces(note, line, desk, section);
            let used = pieces.iter().map(|piece| piece.used(piece.seconds)).sum();
            let sounds: f64 = pieces.iter().map(|piece| piece.seconds).sum();
            let whole = note.seconds.get();
            (used, if whole > 0.0 { sounds / whole } else { 1.0 })
        })
        .collect();
    let heard: Vec<Heard<'_>> = line
        .performed
        .iter()
        .map(|struck| {
            let (from, note) = (struck.start.get(), &line.played[struck.played]);
            let (used, sounds) = played[struck.played];
            let whole = note.seconds.get();
            let seconds = struck.seconds.get() * sounds;
            let breath = if whole > 0.0 { used * struck.seconds.get() / whole } else { 0.0 };
            Heard { from, to: from + seconds, breath, note }
        })
        .collect();
    let sounding: f64 = heard.iter().map(|heard| heard.to - heard.from).sum();
    let whole = heard.last().map_or(0.0, |last| last.to);
    let gap = limits.gap.get();
    let full = |note: &Played| desk.instrument_at(line, note.onset).breath.full.0.get();
    let at_least = |note: &Played, level: Dynamic| note.dynamic.is_some_and(|here| here >= level);
    let runs_of = |counts: &dyn Fn(&Played) -> bool, kind| {
        runs(&heard, gap, counts).into_iter().map(move |(from, to)| (from, to, kind))
    };
    let tires = |note: &Played| at_least(note, limits.run.warning.1);
    let loud = |note: &Played| at_least(note, limits.loud_run.warning.1);
    let high = |note: &Played| note.sounding > desk.instrument_at(line, note.onset).range.usual.1;
    let mut found: Vec<Run> = runs_of(&|_| true, RunKind::Long)
        .chain(runs_of(&|_| true, RunKind::Airless))
        .chain(runs_of(&loud, RunKind::Loud))
        .chain(runs_of(&high, RunKind::High))
        .map(|(from, to, kind)| {
            let run = &heard[from..=to];
            let lasts = |heard: &Heard<'_>| heard.to - heard.from;
            let breaths: f64 = run.iter().map(|heard| heard.breath).sum();
            let breathing: f64 = run.iter().map(|heard| heard.breath * full(heard.note)).sum();
            let sounding: f64 = run.iter().map(lasts).sum();
            let tiring = run.iter().filter(|heard| tires(heard.note)).map(lasts).sum();
            Run {
                from,
                to,
                seconds: Seconds::new(run[run.len() - 1].to - run[0].from),
                tiring: Seconds::new(tiring),
                breaths: BreathShare::new(breaths),
                breathing: if sounding > 0.0 { breathing / (sounding + breathing) } else { 0.0 },
                kind,
            }
        })
        .filter(|run| match run.kind {
            RunKind::Long => run.seconds > *limits.run.note,
            RunKind::Loud => run.seconds > *limits.loud_run.note,
            RunKind::High => run.seconds > *limits.high_run,
            RunKind::Airless => {
                run.seconds > *limits.breathing.over && run.breathing > *limits.breathing.note
            }
        })
        .collect();
    found.sort_by_key(|run| (run.from, run.kind));
    Recovery {
        share: if whole > 0.0 { sounding / whole } else { 0.0 },
        windows: windows(&heard, limits),
        runs: found,
    }
}

struct Heard<'a> {
    from: f64,
    to: f64,
    /// What it uses of a full breath.
    breath: f64,
    note: &'a Played,
}

/// First and last of the notes that count and follow each other without a rest: a gap of so many seconds is one, and so is a
/// gap as long as the note before it.
fn runs(heard: &[Heard<'_>], gap: f64, counts: impl Fn(&Played) -> bool) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for at in (0..heard.len()).filter(|&at| counts(heard[at].note)) {
        let goes_on = at.checked_sub(1).is_some_and(|before| {
            let (before, rests) = (&heard[before], heard[at].from - heard[before].to);
            rests < gap.min(before.to - before.from)
        });
        match runs.last_mut() {
            Some((_, last)) if goes_on && *last + 1 == at => *last = at,
            _ => runs.push((at, at)),
        }
    }
    runs
}

/// The busiest window of each stretch in which windows are too busy. A window ends where a note ends.
fn windows(heard: &[Heard<'_>], limits: &RestLimits) -> Vec<BusyWindow> {
    let width = limits.window.get();
    let mut windows: Vec<(BusyWindow, f64)> = Vec::new();
    let (mut first, mut sounding) = (0, 0.0);
    for (at, last) in heard.iter().enumerate() {
        sounding += last.to - last.from;
        let begin = last.to - width;
        while heard[first].to <= begin {
            sounding -= heard[first].to - heard[first].from;
            first += 1;
        }
        let share = (sounding - (begin - heard[first].from).max(0.0)) / width;
        if share <= *limits.share {
            continue;
        }
        let window = BusyWindow { from: first, to: at, share };
        match windows.last_mut() {
            // It begins before the one before has ended: one busy stretch.
            Some((busiest, end)) if begin < *end => {
                if share > busiest.share {
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
        recovery(&music.lines[0], &section.desks[0], &section)
    }

    /// Kinds of what is too long; what runs short of breath is told for itself.
    fn kinds(text: &str) -> Vec<RunKind> {
        rests(text).runs.iter().map(|run| run.kind).filter(|kind| *kind != RunKind::Airless).collect()
    }

    #[test]
    fn runs_without_rest_have_their_limits() {
        // Limits 40 s, and 20 s at ff, are proposals for a note; 34.6 s is the longest run of a tuba in a count over orchestral movements.
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
        assert_eq!((run.from, run.to, run.seconds, run.kind), (1, 3, Seconds::new(45.0), RunKind::Long));
        assert_eq!(rests("p F2/20 mf F2/25").runs[0].tiring, Seconds::new(25.0), "from mf on it tires");
    }

    #[test]
    fn the_share_of_time_for_breath_is_that_of_the_flow() {
        // Q / (Q + 4.3 L/s), 4.3 being what a forced inspiration brings (G. J. Tammeling, 1961): F1 ff 0.29, Bb1 fff 0.32,
        // F2 ff 0.20, D1 mf 0.19.
        let share = |text: &str| {
            let music = music(text);
            let section = section(&music, &["contrabass-tuba-c"]);
            let recovery = recovery(&music.lines[0], &section.desks[0], &section);
            recovery.runs.iter().find(|run| run.kind == RunKind::Airless).map(|run| run.breathing)
        };
        let quarters = |mark: &str, name: &str| format!("{mark} {}", vec![name; 30].join(" "));
        for (mark, name, expected) in [("ff", "F1", 0.29), ("fff", "Bb1", 0.32), ("ff", "C2", 0.23)] {
            let found = share(&quarters(mark, name)).unwrap();
            assert!((found - expected).abs() < 0.006, "{name} {mark}: {found}");
        }
        for (mark, name) in [("ff", "F2"), ("mf", "D1"), ("ff", "Bb2")] {
            assert_eq!(share(&quarters(mark, name)), None, "{name} {mark}");
        }
        assert_eq!(share(&format!("ff {}", vec!["F1"; 19].join(" "))), None, "19 s");
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
