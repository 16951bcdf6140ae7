//! Where the copies of a run go, and putting them there.

use std::collections::BTreeMap;
use std::fmt;
use std::path::{MAIN_SEPARATOR, Path, PathBuf};

use thiserror::Error;

use super::copy::{Inputs, Replace, WriteError, may_write, write_whole};
use super::gather::{Gathered, Source, named_like_a_score, shown};
use super::job::Job;
use super::score::{Checked, RevisedCopy};

/// The copies that are wanted of each score.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Copies {
    /// Revised ones, and where they go.
    pub revised: Option<Goal>,
    /// Marked ones, and where they go.
    pub marked: Option<Goal>,
    /// Whether moves for review are made as well as safe ones.
    pub include_review: bool,
    /// Whether files that are there are replaced; an input never is.
    pub force: bool,
}

/// Where a copy goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Goal {
    /// Beside the score as `NAME.revised.EXT`, or into the settings' folder for copies; only where something moves.
    Beside,
    /// Here: a file for one score that was named; for several, and for what is found in a folder or by a pattern, a folder
    /// (made where there is none), in which each lies as it does in its own, as `NAME.revised.EXT` or `NAME.marked.EXT`.
    Place(PathBuf),
    /// To whoever hears of the score ([`Finished::handed_over`](super::Finished)).
    HandOver,
}

/// Why copies cannot go where they should.
#[derive(Debug, Error)]
pub enum CopiesError {
    /// Standard output for many.
    #[error("standard output takes one copy, and there are {scores} scores; name a folder for {option}")]
    OneForMany {
        /// The option that names it.
        option: &'static str,
        /// How many there are.
        scores: usize,
    },
    /// A file for many.
    #[error(
        "{}: is the place of one copy, and there are {scores} scores; name a folder for {option}",
        .place.display()
    )]
    FileForMany {
        /// The option that names it.
        option: &'static str,
        /// The place.
        place: PathBuf,
        /// How many there are.
        scores: usize,
    },
    /// Two scores of one name that were named outright.
    #[error("{one} and {other} would have one copy, {}; check them one by one, or their folder", .place.display())]
    SamePlace {
        /// A score.
        one: Source,
        /// Another.
        other: Source,
        /// The place of both copies.
        place: PathBuf,
    },
    /// Copies of an earlier run.
    #[error("{}: is already there, and {more} more of the copies; --force replaces them", .place.display())]
    AlreadyThere {
        /// The first.
        place: PathBuf,
        /// How many more.
        more: usize,
    },
    /// Two copies in one place.
    #[error("standard output takes one copy; name a file for -o or --marked")]
    BothHandedOver,
    /// Nothing lies beside standard input.
    #[error("a score from standard input has no place beside it; name the copy with -o")]
    NothingBeside,
    /// Two copies in one file.
    #[error("-o and --marked name the same file")]
    SameFile,
    /// The place is taken.
    #[error(transparent)]
    Write(#[from] WriteError),
}

/// What became of a copy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Copied {
    /// A revised copy was written.
    Revised {
        /// Where.
        place: PathBuf,
        /// How many moves it holds.
        moves: usize,
        /// How many were left for a person to look at.
        left: usize,
    },
    /// No move is safe: no copy was written.
    NothingMoves {
        /// The score.
        score: Source,
        /// How many moves are for a person to look at.
        left: usize,
    },
    /// A marked copy was written.
    Marked {
        /// Where.
        place: PathBuf,
    },
}

/// As a note to whoever asked for it.
impl fmt::Display for Copied {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let look = |f: &mut fmt::Formatter<'_>, left: usize| match left {
            0 => Ok(()),
            more => write!(f, "; {more} more for a person to look at (--include-review)"),
        };
        match self {
            Copied::Revised { place, moves, left } => {
                let s = if *moves == 1 { "" } else { "s" };
                write!(f, "{}: revised copy, {moves} octave move{s}", place.display())?;
                look(f, *left)
            }
            Copied::NothingMoves { score, left } => {
                write!(f, "{score}: nothing moves, no copy is written")?;
                look(f, *left)
            }
            Copied::Marked { place } => {
                write!(f, "{}: marked copy; lowbrass unmark takes the remarks out", place.display())
            }
        }
    }
}

impl Copies {
    /// Whether any is wanted.
    pub fn are_wanted(&self) -> bool {
        self.revised.is_some() || self.marked.is_some()
    }

    /// Whether one is handed over.
    pub fn are_handed_over(&self) -> bool {
        self.revised == Some(Goal::HandOver) || self.marked == Some(Goal::HandOver)
    }

    const fn replace(&self) -> Replace {
        if self.force { Replace::Anything } else { Replace::Nothing }
    }
}

/// The kinds of copies, as their names say.
const REVISED: &str = "revised";
const MARKED: &str = "marked";

/// Where each copy of a run goes: asked and answered before the work.
#[derive(Debug)]
pub(super) struct Places {
    revised: Option<Goal>,
    marked: Option<Goal>,
    replace: Replace,
    /// Of each score, where a place was named.
    of_scores: BTreeMap<Source, OfScore>,
    /// Whether a folder was named: it is made, and in it those that the scores lie in.
    makes_folders: bool,
}

#[derive(Clone, Debug, Default)]
struct OfScore {
    revised: Option<PathBuf>,
    marked: Option<PathBuf>,
}

impl Places {
    /// The places of the copies of these scores, which must all be free.
    pub(super) fn planned(
        copies: &Copies,
        gathered: &Gathered,
        taken: &Inputs,
    ) -> Result<Places, CopiesError> {
        if copies.revised == Some(Goal::HandOver) && copies.marked == Some(Goal::HandOver) {
            return Err(CopiesError::BothHandedOver);
        }
        let beside =
            [&copies.revised, &copies.marked].into_iter().flatten().any(|goal| *goal == Goal::Beside);
        if beside && gathered.scores.contains(&Source::StandardInput) {
            return Err(CopiesError::NothingBeside);
        }
        let mut places = Places {
            revised: copies.revised.clone(),
            marked: copies.marked.clone(),
            replace: copies.replace(),
            of_scores: BTreeMap::new(),
            makes_folders: false,
        };
        let revised = Named::of("-o", copies.revised.as_ref(), REVISED, gathered)?;
        let marked = Named::of("--marked", copies.marked.as_ref(), MARKED, gathered)?;
        if let ([(_, one)], [(_, other)]) = (revised.places.as_slice(), marked.places.as_slice()) {
            let mut same = Inputs::none();
            same.add(one);
            if same.hold(other) {
                return Err(CopiesError::SameFile);
            }
        }
        places.makes_folders = revised.in_folder || marked.in_folder;
        for (score, place) in revised.places {
            places.of_scores.entry(score).or_default().revised = Some(place);
        }
        for (score, place) in marked.places {
            places.of_scores.entry(score).or_default().marked = Some(place);
        }
        places.are_free(taken)?;
        Ok(places)
    }

    /// Whether all places that were named are free; asked before the work.
    fn are_free(&self, taken: &Inputs) -> Result<(), CopiesError> {
        let mut already = Vec::new();
        for place in self.all() {
            match may_write(place, self.replace, taken) {
                Err(WriteError::AlreadyThere { path }) => already.push(path),
                Err(WriteError::NoFolder { .. }) if self.makes_folders => {}
                result => result?,
            }
        }
        match already.as_slice() {
            [] => Ok(()),
            [path] => Err(WriteError::AlreadyThere { path: path.clone() }.into()),
            [first, rest @ ..] => Err(CopiesError::AlreadyThere { place: first.clone(), more: rest.len() }),
        }
    }

    /// All places that were named.
    pub(super) fn all(&self) -> impl Iterator<Item = &Path> {
        self.of_scores.values().flat_map(|of| of.revised.iter().chain(&of.marked)).map(PathBuf::as_path)
    }

    /// Whether no two copies go to one place beside their scores, or in the settings' folder for copies.
    pub(super) fn are_apart(&self, jobs: &[Job]) -> Result<(), CopiesError> {
        let goals = [(&self.revised, REVISED), (&self.marked, MARKED)];
        let mut places: BTreeMap<PathBuf, &Source> = BTreeMap::new();
        for (goal, kind) in goals.into_iter().filter_map(|(goal, kind)| Some((goal.as_ref()?, kind))) {
            for job in jobs {
                let Some(place) = beside(goal, job, kind) else { continue };
                if let Some(other) = places.insert(place.clone(), &job.source) {
                    let (one, other) = (other.clone(), job.source.clone());
                    return Err(CopiesError::SamePlace { one, other, place });
                }
            }
        }
        Ok(())
    }

    /// Puts the copies of one score where they go.
    pub(super) fn put(&self, job: &Job, checked: &mut Checked, taken: &Inputs) -> Put {
        let mut put = Put::default();
        let of = self.of_scores.get(&job.source).cloned().unwrap_or_default();
        if let (Some(revised), Some(goal)) = (checked.revised.take(), &self.revised) {
            self.put_revised(job, checked, &revised, (goal, of.revised), taken, &mut put);
        }
        if let (Some(bytes), Some(goal)) = (checked.marked.take(), &self.marked) {
            match of.marked.or_else(|| beside(goal, job, MARKED)) {
                None => put.handed_over = Some(bytes),
                Some(place) => match self.write(&place, &bytes, taken) {
                    Ok(()) => put.copied.push(Copied::Marked { place }),
                    Err(failure) => put.failures.push(failure),
                },
            }
        }
        put
    }

    fn put_revised(
        &self,
        job: &Job,
        checked: &mut Checked,
        revised: &RevisedCopy,
        (goal, named): (&Goal, Option<PathBuf>),
        taken: &Inputs,
        put: &mut Put,
    ) {
        let moves = revised.moves();
        let left = revised.made.len() - moves;
        if moves == 0 && *goal == Goal::Beside {
            put.copied.push(Copied::NothingMoves { score: job.source.clone(), left });
            return;
        }
        let path = match named.or_else(|| beside(goal, job, REVISED)) {
            None => {
                put.handed_over = Some(revised.bytes.clone());
                "-".to_owned()
            }
            Some(place) => {
                if let Err(failure) = self.write(&place, &revised.bytes, taken) {
                    put.failures.push(failure);
                    return;
                }
                let path = shown(&place, &std::env::current_dir().unwrap_or_default());
                put.copied.push(Copied::Revised { place, moves, left });
                path
            }
        };
        if let Some(revision) = &mut checked.report.revision {
            revision.path = Some(path);
            for (planned, made) in revision.moves.iter_mut().zip(&revised.made) {
                planned.made = *made;
            }
        }
    }

    fn write(&self, place: &Path, bytes: &[u8], taken: &Inputs) -> Result<(), WriteError> {
        if self.makes_folders
            && let Some(folder) = place.parent()
        {
            std::fs::create_dir_all(folder)
                .map_err(|reason| WriteError::System { path: folder.to_owned(), reason })?;
        }
        write_whole(place, bytes, self.replace, taken)
    }
}

/// The place of each score's copy where one was named.
#[derive(Default)]
struct Named {
    places: Vec<(Source, PathBuf)>,
    /// Whether it is a folder that was named.
    in_folder: bool,
}

impl Named {
    fn of(
        option: &'static str,
        goal: Option<&Goal>,
        kind: &str,
        gathered: &Gathered,
    ) -> Result<Named, CopiesError> {
        let scores = &gathered.scores;
        let place = match goal {
            Some(Goal::HandOver) if scores.len() > 1 => {
                return Err(CopiesError::OneForMany { option, scores: scores.len() });
            }
            // What is missing is told by itself.
            Some(Goal::Place(place)) if !scores.is_empty() => place,
            _ => return Ok(Named::default()),
        };
        let is_a_folder =
            place.is_dir() || place.as_os_str().to_string_lossy().ends_with(['/', MAIN_SEPARATOR]);
        let is_a_file = !is_a_folder && (named_like_a_score(place) || place.symlink_metadata().is_ok());
        let means_a_folder = is_a_folder || scores.len() > 1 || gathered.is_of_folders();
        match scores.as_slice() {
            [one] if is_a_file || !means_a_folder => {
                Ok(Named { places: vec![(one.clone(), place.clone())], in_folder: false })
            }
            _ if is_a_file => {
                Err(CopiesError::FileForMany { option, place: place.clone(), scores: scores.len() })
            }
            _ => Named::in_folder(place, kind, gathered),
        }
    }

    fn in_folder(folder: &Path, kind: &str, gathered: &Gathered) -> Result<Named, CopiesError> {
        let mut places: BTreeMap<PathBuf, &Source> = BTreeMap::new();
        for score in &gathered.scores {
            let place = match score {
                Source::StandardInput => folder.join(format!("standard-input.{kind}.musicxml")),
                Source::File(path) => {
                    let found_in = gathered.found_in(score);
                    let within = found_in.and_then(|found_in| path.strip_prefix(found_in).ok()?.parent());
                    folder.join(within.unwrap_or(Path::new(""))).join(name(path, kind))
                }
            };
            if let Some(other) = places.insert(place.clone(), score) {
                return Err(CopiesError::SamePlace { one: other.clone(), other: score.clone(), place });
            }
        }
        let places = places.into_iter().map(|(place, score)| (score.clone(), place)).collect();
        Ok(Named { places, in_folder: true })
    }
}

/// The copies of one score, put where they go.
#[derive(Debug, Default)]
pub(super) struct Put {
    pub(super) copied: Vec<Copied>,
    pub(super) failures: Vec<WriteError>,
    pub(super) handed_over: Option<Vec<u8>>,
}

/// `NAME.revised.EXT`, beside the score or in the settings' folder for copies; `None`: it is handed over.
fn beside(goal: &Goal, job: &Job, kind: &str) -> Option<PathBuf> {
    let (Goal::Beside, Source::File(score)) = (goal, &job.source) else { return None };
    let name = name(score, kind);
    Some(match &job.room.settings.revised {
        None => score.with_file_name(name),
        Some(folder) => {
            let within = Path::new(&job.paths.from_settings).parent().unwrap_or(Path::new(""));
            let within = if within.starts_with("..") { Path::new("") } else { within };
            folder.join(within).join(name)
        }
    })
}

/// `NAME.KIND.EXT`
fn name(score: &Path, kind: &str) -> String {
    let stem = score.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    match score.extension() {
        Some(ending) => format!("{stem}.{kind}.{}", ending.to_string_lossy()),
        None => format!("{stem}.{kind}"),
    }
}

/// The copies of several scores, counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    revised: usize,
    marked: usize,
    moves: usize,
    with_moves: usize,
    nothing_moves: usize,
    to_look_at: usize,
}

impl Tally {
    /// Counts a further copy.
    pub fn add(&mut self, copied: &Copied) {
        match copied {
            Copied::Revised { moves, left, .. } => {
                self.revised += 1;
                self.moves += moves;
                self.with_moves += usize::from(*moves > 0);
                self.to_look_at += left;
            }
            Copied::NothingMoves { left, .. } => {
                self.nothing_moves += 1;
                self.to_look_at += left;
            }
            Copied::Marked { .. } => self.marked += 1,
        }
    }

    /// What is to be said of them, a line for each kind.
    pub fn said(&self) -> Vec<String> {
        let counted = |count: usize, thing: &str, things: &str| {
            if count == 1 { format!("1 {thing}") } else { format!("{count} {things}") }
        };
        let mut said = Vec::new();
        if self.revised + self.nothing_moves > 0 {
            let revised = counted(self.revised, "revised copy", "revised copies");
            let mut line = format!("{revised}, {}", counted(self.moves, "octave move", "octave moves"));
            if self.with_moves < self.revised {
                line = format!("{line} in {} of them", self.with_moves);
            }
            if self.nothing_moves > 0 {
                let scores = counted(self.nothing_moves, "score", "scores");
                line = format!("{line}; in {scores} nothing moves");
            }
            if self.to_look_at > 0 {
                line = format!("{line}; {} more for a person to look at (--include-review)", self.to_look_at);
            }
            said.push(line);
        }
        if self.marked > 0 {
            let marked = counted(self.marked, "marked copy", "marked copies");
            said.push(format!("{marked}; lowbrass unmark takes the remarks out of one"));
        }
        said
    }
}
