//! `no-rest-to-recover`: a player who plays on and on without rest for lip and breath.

use super::{AtLine, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::music::Seconds;
use crate::playing::breath::{self, BusyWindow, Run, RunKind};
use crate::profile::RunLimits;

pub(super) const RULE: Rule = Rule {
    name: "no-rest-to-recover",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Line(check),
    speaks_for: &[],
    page: Page {
        finds: "A player who plays too long without rest, for too great a share of the time, or with more air than there is time to take in. A warning is far longer than what orchestras are seen to play, or takes more than a quarter of the time for breath; less is a note.",
        matters: "The lip swells and stiffens: pitch sags, attacks fail, and the next loud passage is lost. Whoever feels pain or dizziness stops; a teacher or doctor knows more than this figure.",
        instead: "Give bars to a neighbour, take the tuba out where the basses carry the line, or set the loud stretches apart.",
        reads: &["section:rest"],
        sources: &[
            "D. Wilken, advice on resting as long as one plays",
            "J. Freeman, 'Short endurance': 30 to 60 s without lifting the mouthpiece",
            "G. J. Tammeling (1961) on forced inspiration",
            "warnings: one and a half times the longest runs counted in orchestral movements; notes: proposal",
        ],
    },
};

fn check(at: &AtLine<'_>) -> Vec<Fault> {
    let recovery = breath::recovery(at.line, at.desk, at.section);
    let runs = recovery.runs.iter().filter_map(|run| of_run(at, run));
    // A busy window that is one long run has been told already.
    let told = |window: &&BusyWindow| {
        !recovery.runs.iter().any(|run| run.from <= window.from && window.to <= run.to)
    };
    runs.chain(recovery.windows.iter().filter(told).filter_map(|window| of_window(at, window))).collect()
}

fn of_run(at: &AtLine<'_>, run: &Run) -> Option<Fault> {
    let limits = &at.section.limits.rest;
    let seconds = run.seconds.get();
    let of = |limits: &RunLimits, tiring: Seconds, always: bool| {
        let (most, level) = *limits.warning;
        let level = format!(" at {level} or louder");
        if tiring > most {
            (Severity::Warning, most, limits.warning.ground.clone(), level)
        } else {
            (
                Severity::Note,
                *limits.note,
                limits.note.ground.clone(),
                if always { level } else { String::new() },
            )
        }
    };
    let (severity, limit, ground, how) = match run.kind {
        RunKind::Long => of(&limits.run, run.tiring, false),
        RunKind::Loud => of(&limits.loud_run, run.seconds, true),
        RunKind::High => {
            let how = " above the usual register".to_owned();
            (Severity::Note, *limits.high_run, limits.high_run.ground.clone(), how)
        }
        RunKind::Airless => return out_of_breath(at, run),
    };
    let limit = limit.get();
    let message =
        format!("the part goes on for {seconds:.0} s{how} without a rest; beyond {limit:.0} s the lip tires");
    let fault = over(at, run.from, run.to, severity, message)?.on(&ground);
    Some(fault.by(seconds / limit).asked(Measure::Seconds(seconds)).limit(Measure::Seconds(limit)))
}

/// Of a run that takes more air than there is time to take in.
fn out_of_breath(at: &AtLine<'_>, run: &Run) -> Option<Fault> {
    let limits = &at.section.limits.rest.breathing;
    let (severity, limit) = if run.breathing > *limits.warning {
        (Severity::Warning, &limits.warning)
    } else {
        (Severity::Note, &limits.note)
    };
    let message = format!(
        "{:.0} s without a rest take {:.0} full breaths; drawing them leaves out {:.0} % of the time, and {:.0} % is much",
        run.seconds.get(),
        run.breaths.get(),
        run.breathing * 100.0,
        **limit * 100.0
    );
    let fault = over(at, run.from, run.to, severity, message)?.on(&limit.ground);
    Some(
        fault.by(run.breathing / **limit).asked(Measure::Share(run.breathing)).limit(Measure::Share(**limit)),
    )
}

fn of_window(at: &AtLine<'_>, window: &BusyWindow) -> Option<Fault> {
    let limits = &at.section.limits.rest;
    let (share, limit) = (window.share, *limits.share);
    let message = format!(
        "the part plays {:.0} % of {:.0} s; beyond {:.0} % the lip hardly recovers",
        share * 100.0,
        limits.window.get(),
        limit * 100.0
    );
    let fault = over(at, window.from, window.to, Severity::Note, message)?.on(&limits.share.ground);
    Some(fault.by(share / limit).asked(Measure::Share(share)).limit(Measure::Share(limit)))
}

fn over(at: &AtLine<'_>, from: usize, to: usize, severity: Severity, message: String) -> Option<Fault> {
    let (first, last) = (at.line.performed.get(from)?, at.line.performed.get(to)?);
    let about = (first.played.min(last.played), first.played.max(last.played));
    Some(Fault { about, pass: Some(first.pass), ..Fault::of(about.0, severity, message) })
}
