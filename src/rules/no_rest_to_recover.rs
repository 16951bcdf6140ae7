//! `no-rest-to-recover`: a player who plays on and on without rest for lip and breath.

use super::{AtLine, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::breath::{self, BusyWindow, Run, RunKind};

pub(super) const RULE: Rule = Rule {
    name: "no-rest-to-recover",
    family: Family::Breath,
    severity: Severity::Warning,
    scope: Scope::Line(check),
    speaks_for: &[],
    page: Page {
        finds: "A player who plays too long without rest, or for too great a share of the time. Loud and much too long is a warning; soft playing, and what orchestras are seen to play, is no more than a note.",
        matters: "The lip swells and stiffens: pitch sags, attacks fail, and the next loud passage is lost. Whoever feels pain or dizziness stops; a teacher or doctor knows more than this figure.",
        instead: "Give bars to a neighbour, take the tuba out where the basses carry the line, or set the loud stretches apart.",
        reads: &["section:rest"],
        sources: &[
            "D. Wilken, advice on resting as long as one plays",
            "J. Freeman, 'Short endurance': 30 to 60 s without lifting the mouthpiece",
            "limits in seconds and shares: proposal, set beside the longest runs of ten symphonic movements",
        ],
    },
};

fn check(at: &AtLine<'_>) -> Vec<Fault> {
    let recovery = breath::recovery(at.line, at.desk, &at.section.limits.rest);
    let runs = recovery.runs.iter().filter_map(|run| of_run(at, run));
    // A busy window that is one long run has been told already.
    let told = |window: &&BusyWindow| {
        !recovery.runs.iter().any(|run| run.from <= window.from && window.to <= run.to)
    };
    runs.chain(recovery.windows.iter().filter(told).filter_map(|window| of_window(at, window))).collect()
}

fn of_run(at: &AtLine<'_>, run: &Run) -> Option<Fault> {
    let limits = &at.section.limits.rest;
    let how = match run.kind {
        RunKind::Long => String::new(),
        RunKind::Loud => format!(" at {} or louder", limits.loud_from),
        RunKind::High => " above the usual register".to_owned(),
    };
    let (severity, limit) = if run.tiring > run.limits.warning {
        (Severity::Warning, run.limits.warning)
    } else {
        (Severity::Note, run.limits.note)
    };
    let (seconds, limit) = (run.seconds.get(), limit.get());
    let message =
        format!("the part goes on for {seconds:.0} s{how} without a rest; beyond {limit:.0} s the lip tires");
    let fault = over(at, run.from, run.to, severity, message)?;
    Some(fault.by(seconds / limit).asked(Measure::Seconds(seconds)).limit(Measure::Seconds(limit)))
}

fn of_window(at: &AtLine<'_>, window: &BusyWindow) -> Option<Fault> {
    let limits = &at.section.limits.rest;
    let (severity, share, limit, how) = if window.tiring > *limits.share_warning {
        let how = format!(" at {} or louder", limits.tires_from);
        (Severity::Warning, window.tiring, *limits.share_warning, how)
    } else {
        (Severity::Note, window.share, *limits.share_note, String::new())
    };
    let message = format!(
        "the part plays {:.0} % of {:.0} s{how}; beyond {:.0} % the lip hardly recovers",
        share * 100.0,
        limits.window.get(),
        limit * 100.0
    );
    let fault = over(at, window.from, window.to, severity, message)?;
    Some(fault.by(share / limit).asked(Measure::Share(share)).limit(Measure::Share(limit)))
}

fn over(at: &AtLine<'_>, from: usize, to: usize, severity: Severity, message: String) -> Option<Fault> {
    let (first, last) = (at.line.performed.get(from)?, at.line.performed.get(to)?);
    let about = (first.played.min(last.played), first.played.max(last.played));
    Some(Fault { about, pass: Some(first.pass), ..Fault::of(about.0, severity, message) })
}
