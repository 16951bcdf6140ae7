//! `--watch`: the check again whenever something it depends on changes, with what is new on top.

use std::io::{IsTerminal, Write};
use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

use lowbrass::printable::printable;
use lowbrass::report::Report;

use super::{Pass, once};
use crate::cli::args::CheckArgs;
use crate::cli::{Failure, Outcome, Status, error, note};

/// How often the files are looked at.
const PAUSE: Duration = Duration::from_millis(300);

/// Checks, waits for a change, and checks again; ends only with what was wrong from the start, or when nobody reads any more.
pub(super) fn run(args: &CheckArgs, threads: usize) -> Outcome {
    if args.scores.iter().any(|score| score == Path::new("-")) {
        return Err(Failure::of("--watch waits for files to change; standard input does not"));
    }
    let Pass { mut report, watched, page, .. } = once(args, threads, None)?;
    let Some(mut watched) = watched.filter(|watched| watched.scores() > 0) else { return Ok(Status::Failed) };
    super::show(args, page.as_deref());
    loop {
        if !args.quiet {
            note(format!("watching {} and what they depend on; Ctrl-C ends", scores(watched.scores())));
        }
        let mut changed = loop {
            sleep(PAUSE);
            let changed = watched.changed();
            if !changed.is_empty() {
                break changed;
            }
        };
        // Whoever exports a score may not have written all of it yet.
        loop {
            sleep(PAUSE);
            let more = watched.changed();
            if more.is_empty() {
                break;
            }
            changed.extend(more);
        }
        changed.sort();
        changed.dedup();
        clear().map_err(Failure::Output)?;
        if !args.quiet {
            let names: Vec<String> =
                changed.iter().map(|path| printable(&path.display().to_string()).into_owned()).collect();
            note(format!("changed: {}", names.join(", ")));
        }
        match once(args, threads, Some(&report)) {
            Ok(pass) => {
                watched = pass.watched.unwrap_or(watched);
                // A score that is taken away and written anew leaves nothing for a moment.
                if pass.report.scores.is_empty() && pass.report.unread.is_empty() {
                    continue;
                }
                // What could not be read this time is held against what it was before.
                report = with_what_was_unread(pass.report, report);
            }
            Err(Failure::Output(error)) => return Err(Failure::Output(error)),
            // Settings that are just being written: what comes next may be right.
            Err(failure) => error(failure),
        }
    }
}

fn with_what_was_unread(mut now: Report, before: Report) -> Report {
    let missed = |path: &str| now.unread.iter().any(|unread| unread.path == path);
    let kept: Vec<_> = before.scores.into_iter().filter(|score| missed(&score.path)).collect();
    now.scores.extend(kept);
    now
}

fn scores(count: usize) -> String {
    if count == 1 { "1 score".to_owned() } else { format!("{count} scores") }
}

/// A terminal is cleared, so that the report begins where one looks; what goes elsewhere is parted by a line.
fn clear() -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    if out.is_terminal() {
        // Control Sequences "erase in page" and "cursor position" (ECMA-48).
        out.write_all(b"\x1b[2J\x1b[H")?;
    } else {
        out.write_all(b"\n")?;
    }
    out.flush()
}
