//! `lowbrass check`: what was typed becomes one checked run; what comes of it is printed.

pub(super) mod meant;
mod open;
mod outputs;
mod watch;

use std::io::ErrorKind;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use lowbrass::check::{Finished, Run, Source, Tally, Watched};
use lowbrass::finding::Severity;
use lowbrass::report::{Level, Report};
use lowbrass::settings::{FailOn, Settings};

use self::outputs::Outputs;
use super::args::CheckArgs;
use super::{Failure, Outcome, Status, error, note, progress, reading, to_standard_output, usage};

/// Said where nothing else lies in a folder.
const ONLY_MARKED_COPIES: &str = "nothing but marked copies here; name one to check it";

/// So many files are named one by one.
const FEW: usize = 3;

pub(super) fn run(args: &CheckArgs) -> Outcome {
    usage::check(args)?;
    // Before the profiles are read, which is done on as many threads.
    let threads = threads(args);
    if args.watch {
        return watch::run(args, threads);
    }
    let Pass { status, page, .. } = once(args, threads, None)?;
    Ok(if show(args, page.as_deref()) { status } else { Status::Failed })
}

/// What came of one check.
struct Pass {
    status: Status,
    report: Report,
    /// The page that was written, where one was.
    page: Option<PathBuf>,
    /// What it depended on, as it was before it was read, where that is to be watched.
    watched: Option<Watched>,
}

/// One check; where there was one before, what is new since then stands on top of the report.
fn once(args: &CheckArgs, threads: usize, before: Option<&Report>) -> Result<Pass, Failure> {
    let request = meant::request(args, threads)?;
    let copies = request.copies.clone();
    let run = Run::plan(request).map_err(Failure::of)?;
    let watched = args.watch.then(|| run.watched());
    tell_what_was_gathered(args, &run);
    if run.gathered.scores.is_empty() {
        if !run.gathered.marked_copies.is_empty() {
            error(ONLY_MARKED_COPIES);
        }
        let report = Report::new(Vec::new(), Vec::new());
        return Ok(Pass { status: Status::Failed, report, page: None, watched });
    }
    let mut outputs = Outputs::planned(args, &run, &copies)?;
    if before.is_some() {
        outputs = outputs.at_the_end();
    }
    if args.open && outputs.page().is_none() {
        return Err(Failure::of("--open shows the page; say where it goes:\n  --output html=FILE --open"));
    }
    if args.verbose {
        tell_settings(&run);
    }
    if run.gathered.scores.contains(&Source::StandardInput) {
        reading::say_that_it_waits();
    }
    let several = run.gathered.scores.len() > FEW;
    let mut tally = Tally::default();
    let mut handed_over = Ok(());
    let mut printed = Ok(());
    let done = progress::shown(run.gathered.scores.len(), !args.quiet, |bar| {
        run.check(|score| {
            bar.suspend(|| {
                if several {
                    score.copied.iter().for_each(|copied| tally.add(copied));
                } else {
                    score.copied.iter().filter(|_| !args.quiet).for_each(note);
                }
                tell(score);
                if let (Ok(report), true, Ok(())) = (score.result, score.has_wanted_part, &printed) {
                    printed = outputs.tell(report);
                }
            });
            if let Some(copy) = score.handed_over {
                handed_over = to_standard_output(copy);
            }
            bar.inc(1);
            // Who closed the pipe has had enough; files are written all the same.
            let goes_on =
                printed.is_ok() || copies.are_wanted() || outputs.have_files() || args.write_baseline;
            if goes_on { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
        })
    });
    handed_over?;
    let done = done.map_err(Failure::of)?;
    let mut status = if done.has_failed { Status::Failed } else { Status::Clean };
    if done.gone > 0 && args.verbose {
        note(format!("{} accepted findings are no longer there; --write-baseline takes them out", done.gone));
    }
    if !args.quiet {
        tally.said().iter().for_each(note);
        tell_marked_copies(&done.marked_copies);
    }
    if done.report.scores.is_empty() && done.report.unread.is_empty() && !done.marked_copies.is_empty() {
        error(ONLY_MARKED_COPIES);
        status = Status::Failed;
    }
    done.parts_not_there.iter().filter(|_| !args.quiet).for_each(note);
    if let (Some(count), Some(baseline)) = (done.accepted, run.baseline()) {
        note(format!("{}: {count} findings accepted", baseline.display()));
    }
    outputs.write_files(&done.report, run.taken(), &mut status);
    let printed = printed.map_err(Failure::Output).and_then(|()| {
        before.map_or(Ok(()), |before| outputs.print_changes(before, &done.report))?;
        outputs.print(&done.report)
    });
    match printed {
        // Nobody reads on; what became of the files counts all the same.
        Err(Failure::Output(closed)) if closed.kind() == ErrorKind::BrokenPipe => {
            return Ok(Pass { status, report: done.report, page: None, watched });
        }
        printed => printed?,
    }
    if fails(&done.report, fail_on(args, run.settings())) {
        status = status.max(Status::Findings);
    }
    Ok(Pass { status, report: done.report, page: outputs.page(), watched })
}

/// Shows the page where that is asked for; whether all went well.
fn show(args: &CheckArgs, page: Option<&Path>) -> bool {
    let shown = match page.filter(|_| args.open) {
        Some(page) => open::page(page),
        None => Ok(()),
    };
    shown.map_err(error).is_ok()
}

/// On standard error, what was named and is not there, and what is there and is not checked.
fn tell_what_was_gathered(args: &CheckArgs, run: &Run) {
    run.gathered.missing.iter().for_each(error);
    if args.quiet {
        return;
    }
    match run.gathered.passed_over.as_slice() {
        few if few.len() <= FEW => {
            for over in few {
                let sake = over.for_the_sake_of.display();
                note(format!("{}: passed over beside {sake}; name it to check it", over.path.display()));
            }
        }
        many => note(format!(
            "{} files passed over beside their scores, {} the first; name one to check it",
            many.len(),
            many[0].path.display()
        )),
    }
}

/// On standard error, why a score was not checked, or has no copy.
fn tell(score: &Finished<'_>) {
    score.failures.iter().for_each(error);
    if let Err(failed) = score.result {
        error(format!("{}: {failed}", score.source));
    }
}

fn tell_marked_copies(copies: &[PathBuf]) {
    match copies {
        few if few.len() <= FEW => {
            for copy in few {
                note(format!("{}: a marked copy, passed over; name it to check it", copy.display()));
            }
        }
        many => note(format!(
            "{} marked copies passed over, {} the first; name one to check it",
            many.len(),
            many[0].display()
        )),
    }
}

fn tell_settings(run: &Run) {
    match &run.settings().path {
        Some(path) => note(format!("settings from {}", path.display())),
        None => note("no settings file"),
    }
    if let Some(path) = run.baseline() {
        note(format!("baseline {}", path.display()));
    }
}

pub(super) fn fail_on(args: &CheckArgs, settings: &Settings) -> FailOn {
    args.fail_on.map(FailOn::from).or(settings.fail_on).unwrap_or(FailOn::Severity(Severity::Warning))
}

fn fails(report: &Report, fail_on: FailOn) -> bool {
    let FailOn::Severity(least) = fail_on else { return false };
    let least = Level::from(least);
    report
        .scores
        .iter()
        .flat_map(|score| &score.findings)
        .any(|finding| finding.waived.is_none() && finding.severity >= least)
}

fn threads(args: &CheckArgs) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let threads = args.jobs.map_or(cores, usize::from);
    // A pool that was made before stays as it is; there is only this one call. More threads than cores would
    // only take memory.
    let _ = rayon::ThreadPoolBuilder::new().num_threads(threads.min(cores)).build_global();
    threads
}
