//! From what was typed to what is asked of the run.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use lowbrass::check::{Copies, Goal, Request};
use lowbrass::report::Format;
use lowbrass::settings::Day;

use super::outputs;
use crate::cli::args::CheckArgs;
use crate::cli::{Failure, reading};

/// What is asked of the run.
pub(super) fn request(args: &CheckArgs, threads: usize) -> Result<Request, Failure> {
    let goal = |place: &PathBuf| match place {
        place if place == Path::new("-") => Goal::HandOver,
        place => Goal::Place(place.clone()),
    };
    Ok(Request {
        scores: args.scores.clone(),
        config: reading::config(&args.reading),
        profiles: args.reading.profiles.clone(),
        instrument: args.reading.instrument.clone(),
        parts: reading::parts(&args.reading)?,
        tempo: args.reading.tempo,
        today: today(args.today)?,
        baseline: args.baseline.clone(),
        write_baseline: args.write_baseline,
        copies: Copies {
            revised: args.fix_octaves.then(|| args.revised.as_ref().map_or(Goal::Beside, goal)),
            marked: args.marked.as_ref().map(goal),
            include_review: args.include_review,
            force: args.force,
        },
        mark_from: outputs::typed_level(args),
        draw: outputs::typed(args).any(|format| format == Format::Html),
        threads,
    })
}

/// The day waivers are measured by: as typed, else as the environment says, else by the clock. An empty
/// variable says nothing: builds set some that way.
pub(in crate::cli) fn today(typed: Option<Day>) -> Result<Day, Failure> {
    let said = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    if let Some(day) = typed {
        return Ok(day);
    }
    if let Some(day) = said("LOWBRASS_TODAY") {
        return day.parse().map_err(|error| Failure::of(format!("LOWBRASS_TODAY: {error}")));
    }
    // The moment of reproducible builds: https://reproducible-builds.org/specs/source-date-epoch/
    let Some(seconds) = said("SOURCE_DATE_EPOCH") else { return Ok(Day::at(SystemTime::now())) };
    let moment = seconds
        .parse()
        .ok()
        .and_then(|seconds| SystemTime::UNIX_EPOCH.checked_add(Duration::from_secs(seconds)));
    moment.map(Day::at).ok_or_else(|| {
        Failure::of(format!("SOURCE_DATE_EPOCH: expected seconds since 1970, not '{seconds}'"))
    })
}
