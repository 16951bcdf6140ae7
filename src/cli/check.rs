//! `lowbrass check`: scores to a report and copies.

mod copies;
mod job;
mod outputs;
mod scores;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, SystemTime};

use lowbrass::check::{
    Accepted, Accepts, Baseline, Checked, Housekeeping, Inputs, Replace, Room, Rooms, Source, Task, gather,
    write_whole,
};
use lowbrass::finding::Severity;
use lowbrass::printable::printable;
use lowbrass::report::{Format, Level, Report, Unread};
use lowbrass::settings::{Day, FailOn, Settings};

use self::copies::Copies;
use self::job::Job;
use self::outputs::Outputs;
use super::args::{self, CheckArgs};
use super::{Failure, Outcome, Status, error, note, reading, usage};

pub(super) fn run(args: &CheckArgs) -> Outcome {
    usage::check(args)?;
    // Before the profiles are read, which is done on as many threads.
    let threads = threads(args);
    let mut rooms = reading::rooms(&args.reading);
    let typed = typed(args, &mut rooms)?;
    let gathered = gather(&typed);
    let mut status = Status::Clean;
    for missing in &gathered.missing {
        error(missing);
        status = Status::Failed;
    }
    if !args.quiet {
        for over in &gathered.passed_over {
            let sake = over.for_the_sake_of.display();
            note(format!("{}: passed over beside {sake}; name it to check it", over.path.display()));
        }
    }
    if gathered.scores.is_empty() {
        return Ok(status);
    }
    let here = std::env::current_dir().map_err(Failure::of)?;
    let jobs = jobs(gathered.scores, &mut rooms, &here)?;
    let settings = for_the_run(&jobs, &mut rooms)?;
    let orders = reading::orders(&args.reading, &settings.profiles)?;
    let inputs = inputs(&jobs);
    let accepted = Acceptance::planned(args, &settings.settings, &inputs)?;
    // The baseline may be written anew, but no report or copy may take its place.
    let mut taken = inputs.clone();
    accepted.path.iter().for_each(|path| taken.add(path));
    let copies = Copies::planned(args, &jobs)?;
    let outputs = Outputs::planned(args, &settings.settings, &copies, &taken)?;
    copies.may_be_written(&taken)?;
    let jobs: Vec<Job> = jobs.into_iter().map(|job| accepted.with_path(job, &here)).collect();
    let task = Task {
        orders: &orders,
        today: today(args)?,
        accepts: match &accepted.baseline {
            _ if args.write_baseline => Accepts::All,
            Some(baseline) => Accepts::Baseline(baseline),
            None => Accepts::Nothing,
        },
        include_review: args.include_review,
        revise: copies.revise,
        draw: outputs.draw(),
        mark: copies
            .marked
            .is_some()
            .then(|| outputs::min_level(args, &settings.settings).unwrap_or(Format::Text.usual_level())),
    };
    if args.verbose {
        tell_settings(&settings.settings, &accepted);
    }

    let done = scores::check_all(&jobs, &task, &copies, &taken, threads, !args.quiet);

    let mut checked: Vec<(usize, Checked)> = Vec::new();
    let mut unread = Vec::new();
    for (index, result) in done.into_iter().enumerate() {
        match result {
            Ok(done) => {
                for told in done.notes.iter().filter(|_| !args.quiet) {
                    note(told);
                }
                for failed in &done.failures {
                    error(failed);
                    status = Status::Failed;
                }
                checked.push((index, done.checked));
            }
            Err(failed) => {
                status = Status::Failed;
                error(format!("{}: {failed}", jobs[index].source));
                let message = printable(&failed.to_string()).into_owned();
                unread.push(Unread { path: jobs[index].paths.shown.clone(), message });
            }
        }
    }
    a_part_was_there(args, &checked)?;
    let gone: usize = checked.iter().map(|(_, checked)| checked.gone).sum();
    if gone > 0 && args.verbose {
        note(format!("{gone} accepted findings are no longer there; --write-baseline takes them out"));
    }
    if args.reading.parts.is_empty() {
        keep_house(args, &mut checked, &jobs);
    }
    if args.write_baseline {
        accepted.write(&checked, &jobs, &inputs)?;
    }
    let report = Report::new(checked.into_iter().map(|(_, checked)| checked.report).collect(), unread);
    let fails = fails(&report, fail_on(args, &settings.settings));
    outputs.write(args, &report, &settings.settings, &taken, &mut status)?;
    Ok(if fails { status.max(Status::Findings) } else { status })
}

/// The day waivers are measured by: as typed, else as the environment says, else by the clock. An empty
/// variable says nothing: builds set some that way.
fn today(args: &CheckArgs) -> Result<Day, Failure> {
    let said = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    if let Some(day) = args.today {
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

/// What is to be checked: as typed, or as the settings here say, or this folder.
fn typed(args: &CheckArgs, rooms: &mut Rooms) -> Result<Vec<PathBuf>, Failure> {
    if !args.scores.is_empty() {
        return Ok(args.scores.clone());
    }
    let room = rooms.of_folder(Path::new(".")).map_err(Failure::of)?;
    if room.settings.scores.is_empty() {
        return Ok(vec![PathBuf::from(".")]);
    }
    let folder = room.settings.folder().unwrap_or(Path::new(""));
    Ok(room.settings.scores.iter().map(|score| folder.join(score)).collect())
}

fn jobs(sources: Vec<Source>, rooms: &mut Rooms, here: &Path) -> Result<Vec<Job>, Failure> {
    sources
        .into_iter()
        .map(|source| {
            let room = rooms.of_score(&source).map_err(Failure::of)?;
            Ok(Job::new(source, room, here))
        })
        .collect()
}

/// The settings that hold for the run as a whole: those of all scores, or, where they differ, those of the
/// folder one is in.
fn for_the_run(jobs: &[Job], rooms: &mut Rooms) -> Result<Arc<Room>, Failure> {
    if let Some(first) = jobs.first()
        && jobs.iter().all(|job| Arc::ptr_eq(&job.room, &first.room))
    {
        return Ok(Arc::clone(&first.room));
    }
    rooms.of_folder(Path::new(".")).map_err(Failure::of)
}

fn inputs(jobs: &[Job]) -> Inputs {
    let mut inputs = Inputs::none();
    for job in jobs {
        if let Source::File(path) = &job.source {
            inputs.add(path);
        }
        if let Some(path) = &job.room.settings.path {
            inputs.add(path);
        }
        job.room.profiles.files().iter().for_each(|profile| inputs.add(profile));
    }
    inputs
}

fn threads(args: &CheckArgs) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let threads = args.jobs.map_or(cores, usize::from);
    // A pool that was made before stays as it is; there is only this one call. More threads than cores would
    // only take memory.
    let _ = rayon::ThreadPoolBuilder::new().num_threads(threads.min(cores)).build_global();
    threads
}

pub(super) fn fail_on(args: &CheckArgs, settings: &Settings) -> FailOn {
    let typed = args.fail_on.map(|level| match level {
        args::FailLevel::Note => FailOn::Severity(Severity::Note),
        args::FailLevel::Warning => FailOn::Severity(Severity::Warning),
        args::FailLevel::Error => FailOn::Severity(Severity::Error),
        args::FailLevel::Never => FailOn::Never,
    });
    typed.or(settings.fail_on).unwrap_or(FailOn::Severity(Severity::Warning))
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

/// A part that no score has is a slip of the keyboard; that some have none is not.
fn a_part_was_there(args: &CheckArgs, checked: &[(usize, Checked)]) -> Result<(), Failure> {
    if checked.is_empty() || checked.iter().any(|(_, checked)| checked.has_wanted_part) {
        return Ok(());
    }
    let names = checked.iter().flat_map(|(_, checked)| checked.part_names.iter().cloned()).collect();
    Err(reading::no_such_part(&args.reading.parts, names))
}

/// Remarks on waivers go to the first score that their settings are for; that a part is not there is told.
fn keep_house(args: &CheckArgs, checked: &mut [(usize, Checked)], jobs: &[Job]) {
    let mut seen: Vec<&Arc<Room>> = Vec::new();
    for index in 0..checked.len() {
        let room = &jobs[checked[index].0].room;
        let settings = &room.settings;
        let is_bare = settings.waivers.is_empty() && settings.parts.is_empty();
        if is_bare || seen.iter().any(|other| Arc::ptr_eq(other, room)) {
            continue;
        }
        seen.push(room);
        let mut house = Housekeeping::default();
        for (job, checked) in checked.iter().filter(|(job, _)| Arc::ptr_eq(&jobs[*job].room, room)) {
            house.add(&checked.in_force, &jobs[*job].paths.shown, &checked.part_names);
        }
        let saw_all = house.has_unused() && saw_all(room, checked, jobs);
        if let (true, false, Some(path)) = (saw_all, args.quiet, &settings.path) {
            for told in house.parts_not_there(settings) {
                note(format!("{}:{told}", path.display()));
            }
        }
        let findings = house.findings(settings, saw_all);
        checked[index].1.add(&findings);
    }
}

/// Whether every score in the settings' folder was checked.
fn saw_all(room: &Room, checked: &[(usize, Checked)], jobs: &[Job]) -> bool {
    let mut read = Inputs::none();
    for (job, _) in checked {
        if let Source::File(path) = &jobs[*job].source {
            read.add(path);
        }
    }
    let Some(folder) = room.settings.folder() else { return false };
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    gather(&[folder]).scores.iter().all(|source| match source {
        Source::StandardInput => true,
        Source::File(path) => read.hold(path),
    })
}

/// The baseline of a run.
struct Acceptance {
    path: Option<PathBuf>,
    baseline: Option<Baseline>,
    writes: bool,
}

impl Acceptance {
    fn planned(args: &CheckArgs, settings: &Settings, inputs: &Inputs) -> Result<Acceptance, Failure> {
        let path = args.baseline.clone().or_else(|| settings.baseline.clone());
        let Some(path) = path else {
            if args.write_baseline {
                return Err(Failure::of(
                    "--write-baseline needs a place: --baseline FILE, or baseline = … in the settings",
                ));
            }
            return Ok(Acceptance { path: None, baseline: None, writes: false });
        };
        let is_there = path.symlink_metadata().is_ok();
        let baseline = if args.write_baseline && !is_there {
            None
        } else {
            Some(Baseline::read(&path).map_err(Failure::of)?)
        };
        if args.write_baseline {
            lowbrass::check::may_write(&path, Replace::AnythingButScores, inputs).map_err(Failure::of)?;
        }
        Ok(Acceptance { path: Some(path), baseline, writes: args.write_baseline })
    }

    fn folder(&self, here: &Path) -> Option<PathBuf> {
        let path = here.join(self.path.as_deref()?);
        Some(path.parent()?.canonicalize().unwrap_or_else(|_| path.clone()))
    }

    fn with_path(&self, mut job: Job, here: &Path) -> Job {
        job.paths.from_baseline = match (&job.source, self.folder(here)) {
            (Source::File(path), Some(folder)) => job::relative(path, &folder),
            _ => job.paths.shown.clone(),
        };
        job
    }

    fn write(&self, checked: &[(usize, Checked)], jobs: &[Job], inputs: &Inputs) -> Result<(), Failure> {
        let Some(path) = self.path.as_deref().filter(|_| self.writes) else { return Ok(()) };
        let folder = path.parent().unwrap_or(Path::new(""));
        // Scores that were not checked this time keep what was accepted, as long as they are there.
        let is_kept = |score: &str| {
            jobs.iter().all(|job| job.paths.from_baseline != score) && folder.join(score).is_file()
        };
        let kept = self.baseline.as_ref().map_or_else(Vec::new, |baseline| baseline.of_scores(is_kept));
        let new = checked.iter().flat_map(|(_, checked)| checked.acceptable.iter().cloned());
        let all: Vec<Accepted> = kept.into_iter().chain(new).collect();
        let count = all.len();
        let text = Baseline::write(all);
        write_whole(path, text.as_bytes(), Replace::AnythingButScores, inputs).map_err(Failure::of)?;
        note(format!("{}: {count} findings accepted", path.display()));
        Ok(())
    }
}

fn tell_settings(settings: &Settings, accepted: &Acceptance) {
    match &settings.path {
        Some(path) => note(format!("settings from {}", path.display())),
        None => note("no settings file"),
    }
    if let Some(path) = &accepted.path {
        note(format!("baseline {}", path.display()));
    }
}
