//! A whole run: scores and folders as they were named, with settings, waivers and baseline, to one report and all copies.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::accepting::Accepting;
use super::baseline::BaselineError;
use super::copy::{Inputs, WriteError};
use super::fault::Fault;
use super::gather::{Gathered, Source, gather};
use super::job::Job;
use super::places::{Copied, Copies, CopiesError, Places, Put};
use super::room::{Config, Room, RoomError, Rooms};
use super::score::{CheckError, Checked, Task, check};
use super::seating::Orders;
use super::watched::Watched;
use super::{at_once, house};
use crate::finding::Severity;
use crate::intake::IntakeError;
use crate::music::Tempo;
use crate::nearest;
use crate::printable::printable;
use crate::profile::ProfileError;
use crate::report::{self, Format, Report, Unread};
use crate::settings::{Day, Pattern, Settings};

/// Of a score's parts so many are named where one was asked for that is not there.
const MOST_NAMES: usize = 16;

/// What is asked of a run.
#[derive(Clone, Debug)]
pub struct Request {
    /// Scores, folders, patterns, or `-` for standard input; empty: the settings' scores, or else this folder.
    pub scores: Vec<PathBuf>,
    /// Which settings hold.
    pub config: Config,
    /// A folder of profiles besides those built in and those of the settings.
    pub profiles: Option<PathBuf>,
    /// The profile that the wanted parts are read as, by name.
    pub instrument: Option<String>,
    /// The wanted parts, by name or id; empty: all.
    pub parts: Vec<Pattern>,
    /// The tempo where a score gives none.
    pub tempo: Option<Tempo>,
    /// The day waivers are measured by.
    pub today: Day,
    /// Findings accepted so far; `None`: as the settings have it.
    pub baseline: Option<PathBuf>,
    /// Whether all that is found is accepted and written there.
    pub write_baseline: bool,
    /// The copies that are wanted.
    pub copies: Copies,
    /// From which weight on findings stand in marked copies; `None`: as the settings have it, or what the text report shows.
    pub mark_from: Option<Severity>,
    /// Whether a format that draws is wanted, besides what the settings name.
    pub draw: bool,
    /// How many scores are in flight at once.
    pub threads: usize,
}

impl Request {
    /// A check of these scores, by the settings of their folders: no copies, and nothing accepted but what the settings accept.
    pub fn of(scores: impl IntoIterator<Item = impl Into<PathBuf>>, today: Day) -> Request {
        Request {
            scores: scores.into_iter().map(Into::into).collect(),
            config: Config::Nearest,
            profiles: None,
            instrument: None,
            parts: Vec::new(),
            tempo: None,
            today,
            baseline: None,
            write_baseline: false,
            copies: Copies::default(),
            mark_from: None,
            draw: false,
            threads: rayon::current_num_threads(),
        }
    }
}

/// A run that was planned: its scores are known, its settings are read, its places are free.
///
/// ```
/// use std::ops::ControlFlow;
///
/// use lowbrass::check::{Request, Run};
/// use lowbrass::report::{Format, Look};
///
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let run = Run::plan(Request::of(["examples/rules/out-of-range"], "2027-01-31".parse()?))?;
/// let done = run.check(|score| {
///     if let Ok(checked) = &score.result {
///         println!("{}: {} remarks", score.path, checked.findings.len());
///     }
///     ControlFlow::Continue(())
/// })?;
/// assert!(done.report.summary.error > 0);
/// let mut page = Vec::new();
/// Format::Markdown.write(&done.report, &Look::default(), &mut page)?;
/// # Ok(())
/// # }
/// ```
#[derive(Debug)]
pub struct Run {
    /// What was found where the scores were named.
    pub gathered: Gathered,
    /// The settings and profiles that hold for the run as a whole.
    pub room: Arc<Room>,
    /// Where the scores were sought.
    meant: Vec<PathBuf>,
    request: Request,
    jobs: Vec<Job>,
    orders: Orders,
    accepting: Accepting,
    places: Places,
    /// What is read in this run: no file that is written may take its place.
    inputs: Inputs,
    /// The same with the baseline, which may be written anew, but by nothing else.
    taken: Inputs,
}

/// A score of a run.
#[derive(Debug)]
pub struct Finished<'a> {
    /// Where it comes from.
    pub source: &'a Source,
    /// Its path as reports show it.
    pub path: &'a str,
    /// Its part of the report, or why there is none. What can be said only when all scores were checked is not in it yet.
    pub result: Result<&'a report::Score, &'a ScoreError>,
    /// Whether a part that was asked for is in it (true where none was asked for).
    pub has_wanted_part: bool,
    /// The copies that were written of it.
    pub copied: &'a [Copied],
    /// Those that could not be.
    pub failures: &'a [WriteError],
    /// The copy that was to be handed over.
    pub handed_over: Option<&'a [u8]>,
}

/// Why a score was not checked.
#[derive(Debug, Error)]
pub enum ScoreError {
    /// Its bytes are not to be had.
    #[error("cannot be read: {0}")]
    Unreadable(#[from] IntakeError),
    /// It is no score, or no copy of it can be made.
    #[error(transparent)]
    Check(#[from] CheckError),
    /// The program failed at it.
    #[error(transparent)]
    Fault(#[from] Fault),
}

/// A run that is over.
#[derive(Debug)]
pub struct Done {
    /// All that was found.
    pub report: Report,
    /// Whether something that was named could not be read or written; each has been told.
    pub has_failed: bool,
    /// Marked copies that were found in folders: no scores of their own.
    pub marked_copies: Vec<PathBuf>,
    /// How many accepted findings are no longer there.
    pub gone: usize,
    /// The settings' entries on parts that fit no part, a message each.
    pub parts_not_there: Vec<String>,
    /// How many findings the baseline that was written accepts.
    pub accepted: Option<usize>,
}

/// Why there is no run, or no report of it.
#[derive(Debug, Error)]
pub enum RunError {
    /// Settings or profiles.
    #[error(transparent)]
    Room(#[from] RoomError),
    /// The instrument that was named.
    #[error(transparent)]
    Profile(#[from] ProfileError),
    /// The baseline.
    #[error(transparent)]
    Baseline(#[from] BaselineError),
    /// A baseline without a place.
    #[error("--write-baseline needs a place: --baseline FILE, or baseline = … in the settings")]
    NoPlaceForBaseline,
    /// Copies.
    #[error(transparent)]
    Copies(#[from] CopiesError),
    /// A place that cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// No score has a part that was asked for.
    #[error(transparent)]
    NoSuchPart(#[from] NoSuchPart),
}

/// No part is called as was asked for.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("no part is called '{}'{hint} (parts: {there})", .wanted.join("' or '"))]
pub struct NoSuchPart {
    wanted: Vec<String>,
    hint: String,
    there: String,
}

impl NoSuchPart {
    /// None of these is there, but these are.
    pub fn new(wanted: &[String], mut names: Vec<String>) -> NoSuchPart {
        names.sort_unstable();
        names.dedup();
        let hint = nearest::hint(&wanted.join("' or '"), names.iter().map(String::as_str));
        let there = match names.len() {
            0 => "it has none".to_owned(),
            count if count > MOST_NAMES => {
                format!("{} and {} more", names[..MOST_NAMES].join(", "), count - MOST_NAMES)
            }
            _ => names.join(", "),
        };
        NoSuchPart { wanted: wanted.to_vec(), hint, there }
    }
}

impl Run {
    /// Finds the scores, reads settings, profiles and baseline, and makes sure that all that is to be written can be.
    /// What was named and is not there is told in [`Gathered::missing`] and keeps back nothing else.
    ///
    /// # Errors
    ///
    /// [`RunError`], before any score is read.
    pub fn plan(request: Request) -> Result<Run, RunError> {
        let mut rooms = Rooms::new(request.config.clone(), request.profiles.clone());
        let meant = meant(&request.scores, &mut rooms)?;
        let mut gathered = gather(&meant);
        if request.copies.are_wanted() {
            // A copy is made of scores alone, and may take the place of an earlier one.
            gathered.leave_marked_copies();
        }
        let here = std::env::current_dir().map_err(RoomError::Here)?;
        let rooms_of: Vec<Arc<Room>> =
            gathered.scores.iter().map(|source| rooms.of_score(source)).collect::<Result<_, _>>()?;
        let room = for_the_run(&rooms_of, &mut rooms)?;
        let named = request.instrument.as_deref();
        let orders = Orders {
            instrument: named.map(|name| room.profiles.named(name)).transpose()?,
            parts: request.parts.clone(),
            tempo: request.tempo,
            all_parts: false,
        };
        let inputs = inputs(&gathered.scores, &rooms_of);
        let baseline = request.baseline.clone().or_else(|| room.settings.baseline.clone());
        let accepting = Accepting::planned(baseline, request.write_baseline, &inputs)?;
        let mut taken = inputs.clone();
        accepting.path.iter().for_each(|path| taken.add(path));
        let places = Places::planned(&request.copies, &gathered, &taken)?;
        let from = accepting.folder(&here);
        let jobs: Vec<Job> = gathered
            .scores
            .iter()
            .zip(rooms_of)
            .map(|(source, room)| Job::new(source.clone(), room, &here, from.as_deref()))
            .collect();
        places.are_apart(&jobs)?;
        Ok(Run { gathered, room, meant, request, jobs, orders, accepting, places, inputs, taken })
    }

    /// The settings that hold for the run as a whole.
    pub fn settings(&self) -> &Settings {
        &self.room.settings
    }

    /// The place of the baseline, where there is one.
    pub fn baseline(&self) -> Option<&Path> {
        self.accepting.path.as_deref()
    }

    /// The places of copies that were named.
    pub fn places(&self) -> impl Iterator<Item = &Path> {
        self.places.all()
    }

    /// The scores, settings, profiles and baseline it depends on, as they are now.
    pub fn watched(&self) -> Watched {
        let mut others: Vec<PathBuf> = Vec::new();
        for room in self.jobs.iter().map(|job| &job.room).chain([&self.room]) {
            others.extend(room.settings.path.iter().cloned());
            // The folder as well: a profile may come to lie in it.
            for file in room.profiles.files() {
                others
                    .extend([Some(file.as_path()), file.parent()].into_iter().flatten().map(Path::to_owned));
            }
        }
        others.extend(self.request.profiles.iter().cloned());
        others.extend(self.accepting.path.iter().cloned());
        Watched::new(self.meant.clone(), others, self.request.config == Config::Nearest)
    }

    /// The files that no output may take the place of: scores, settings, profiles, baseline.
    pub fn taken(&self) -> &Inputs {
        &self.taken
    }

    /// Checks all scores, several at once, and writes their copies. `told` hears of each as soon as it and all before it are
    /// done, in their order; where it breaks off, no further score is begun and the report holds those before.
    ///
    /// # Errors
    ///
    /// A part that was asked for and is in none of the scores; a baseline that cannot be written. A score that cannot be read is no error: it is told, and stands in the report as unread.
    pub fn check(
        &self,
        mut told: impl FnMut(&Finished<'_>) -> ControlFlow<()> + Send,
    ) -> Result<Done, RunError> {
        let task = self.task();
        let one = |job: &Job| -> Result<Option<(Checked, Put)>, ScoreError> {
            let Some(bytes) = self.gathered.read(&job.source)? else { return Ok(None) };
            let mut checked = check(bytes, &job.paths, &job.room, &task)?;
            let put = self.places.put(job, &mut checked, &self.taken);
            Ok(Some((checked, put)))
        };
        let mut outcome = Outcome::default();
        at_once::each(&self.jobs, self.request.threads, one, |turn, result| {
            let result = result.unwrap_or_else(|fault| Err(fault.into()));
            outcome.take(&self.jobs[turn], result, &mut told)
        });
        let Outcome { mut checked, unread, mut marked_copies, has_failed } = outcome;
        marked_copies.extend(self.gathered.marked_copies.iter().cloned());
        if !checked.is_empty() && checked.iter().all(|(_, checked)| !checked.has_wanted_part) {
            let names = checked.iter().flat_map(|(_, checked)| checked.part_names.iter().cloned());
            let wanted: Vec<String> = self.orders.parts.iter().map(|part| part.as_str().to_owned()).collect();
            return Err(NoSuchPart::new(&wanted, names.collect()).into());
        }
        // Of a part that was named alone nobody knows what else the settings mean.
        let parts_not_there =
            if self.orders.parts.is_empty() { house::keep(&mut checked, &marked_copies) } else { Vec::new() };
        let accepted = self.accepting.write(&checked, &self.jobs, &self.inputs)?;
        Ok(Done {
            gone: checked.iter().map(|(_, checked)| checked.gone).sum(),
            report: Report::new(checked.into_iter().map(|(_, checked)| checked.report).collect(), unread),
            has_failed: has_failed || !self.gathered.missing.is_empty(),
            marked_copies,
            parts_not_there,
            accepted,
        })
    }

    fn task(&self) -> Task<'_> {
        let draws = |(name, _): &(String, PathBuf)| name == Format::Html.name();
        let usual = self.settings().min_level.unwrap_or(Format::Text.usual_level());
        let copies = &self.request.copies;
        Task {
            orders: &self.orders,
            today: self.request.today,
            accepts: self.accepting.accepts(),
            include_review: copies.include_review,
            revise: copies.revised.is_some(),
            mark: copies.marked.is_some().then(|| self.request.mark_from.unwrap_or(usual)),
            draw: self.request.draw || self.settings().outputs.iter().any(draws),
            keep_score: false,
        }
    }
}

/// What has come of a run so far.
#[derive(Default)]
struct Outcome<'r> {
    checked: Vec<(&'r Job, Checked)>,
    unread: Vec<Unread>,
    marked_copies: Vec<PathBuf>,
    has_failed: bool,
}

impl<'r> Outcome<'r> {
    fn take(
        &mut self,
        job: &'r Job,
        result: Result<Option<(Checked, Put)>, ScoreError>,
        told: &mut impl FnMut(&Finished<'_>) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        let (source, path) = (&job.source, job.paths.shown.as_str());
        match result {
            Ok(None) => {
                if let Source::File(path) = source {
                    self.marked_copies.push(path.clone());
                }
                ControlFlow::Continue(())
            }
            Ok(Some((checked, put))) => {
                self.has_failed |= !put.failures.is_empty();
                let heard = told(&Finished {
                    source,
                    path,
                    result: Ok(&checked.report),
                    has_wanted_part: checked.has_wanted_part,
                    copied: &put.copied,
                    failures: &put.failures,
                    handed_over: put.handed_over.as_deref(),
                });
                self.checked.push((job, checked));
                heard
            }
            Err(failed) => {
                self.has_failed = true;
                let message = printable(&failed.to_string()).into_owned();
                self.unread.push(Unread { path: path.to_owned(), message });
                told(&Finished {
                    source,
                    path,
                    result: Err(&failed),
                    has_wanted_part: false,
                    copied: &[],
                    failures: &[],
                    handed_over: None,
                })
            }
        }
    }
}

/// What is to be checked: as asked, or as the settings here say, or this folder.
fn meant(asked: &[PathBuf], rooms: &mut Rooms) -> Result<Vec<PathBuf>, RoomError> {
    if !asked.is_empty() {
        return Ok(asked.to_vec());
    }
    let room = rooms.of_folder(Path::new("."))?;
    if room.settings.scores.is_empty() {
        return Ok(vec![PathBuf::from(".")]);
    }
    let folder = room.settings.folder().unwrap_or(Path::new(""));
    Ok(room.settings.scores.iter().map(|score| folder.join(score)).collect())
}

/// The room of all scores, or, where they differ, that of the folder one is in.
pub(super) fn for_the_run(of_scores: &[Arc<Room>], rooms: &mut Rooms) -> Result<Arc<Room>, RoomError> {
    match of_scores {
        [first, rest @ ..] if rest.iter().all(|room| Arc::ptr_eq(room, first)) => Ok(Arc::clone(first)),
        _ => rooms.of_folder(Path::new(".")),
    }
}

fn inputs(scores: &[Source], rooms: &[Arc<Room>]) -> Inputs {
    let mut inputs = Inputs::none();
    for (score, room) in scores.iter().zip(rooms) {
        if let Source::File(path) = score {
            inputs.add(path);
        }
        if let Some(path) = &room.settings.path {
            inputs.add(path);
        }
        room.profiles.files().iter().for_each(|profile| inputs.add(profile));
    }
    inputs
}
