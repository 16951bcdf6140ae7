//! Where the copies of a run go, and putting them there.

use std::fmt;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::copy::{Inputs, Replace, WriteError, may_write, write_whole};
use super::gather::{Source, shown};
use super::job::Job;
use super::score::Checked;

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
    /// Here.
    File(PathBuf),
    /// To whoever hears of the score ([`Finished::handed_over`](super::Finished)).
    HandOver,
}

/// Why copies cannot go where they should.
#[derive(Debug, Error)]
pub enum CopiesError {
    /// One place for many.
    #[error(
        "{option} names one copy, and there are {scores} scores; --fix-octaves alone writes each beside its score"
    )]
    OneForMany {
        /// The option that names it.
        option: &'static str,
        /// How many there are.
        scores: usize,
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

    /// Whether these copies can be made of these scores, apart from what lies at their places.
    pub(super) fn fit(&self, scores: &[Source]) -> Result<(), CopiesError> {
        for (option, goal) in [("-o", &self.revised), ("--marked", &self.marked)] {
            if scores.len() > 1 && goal.as_ref().is_some_and(|goal| *goal != Goal::Beside) {
                return Err(CopiesError::OneForMany { option, scores: scores.len() });
            }
        }
        match (&self.revised, &self.marked) {
            (Some(Goal::HandOver), Some(Goal::HandOver)) => return Err(CopiesError::BothHandedOver),
            (Some(Goal::Beside), _) | (_, Some(Goal::Beside)) if scores.contains(&Source::StandardInput) => {
                return Err(CopiesError::NothingBeside);
            }
            (Some(Goal::File(revised)), Some(Goal::File(marked))) => {
                let mut one = Inputs::none();
                one.add(revised);
                if one.hold(marked) {
                    return Err(CopiesError::SameFile);
                }
            }
            _ => {}
        }
        Ok(())
    }

    /// Asks before the work whether the named places are free.
    pub(super) fn may_be_written(&self, taken: &Inputs) -> Result<(), CopiesError> {
        Ok(self.named_files().try_for_each(|path| may_write(path, self.replace(), taken))?)
    }

    /// The files that were named.
    pub fn named_files(&self) -> impl Iterator<Item = &Path> {
        self.revised.iter().chain(&self.marked).filter_map(|goal| match goal {
            Goal::File(path) => Some(path.as_path()),
            _ => None,
        })
    }

    /// Whether one is handed over.
    pub fn are_handed_over(&self) -> bool {
        self.revised == Some(Goal::HandOver) || self.marked == Some(Goal::HandOver)
    }

    const fn replace(&self) -> Replace {
        if self.force { Replace::Anything } else { Replace::Nothing }
    }

    /// Puts the copies of one score where they go.
    pub(super) fn put(&self, job: &Job, checked: &mut Checked, taken: &Inputs) -> Put {
        let mut put = Put::default();
        self.put_revised(job, checked, taken, &mut put);
        if let (Some(marked), Some(goal)) = (checked.marked.take(), &self.marked) {
            match place(goal, job, "marked") {
                None => put.handed_over = Some(marked),
                Some(place) => match write_whole(&place, &marked, self.replace(), taken) {
                    Ok(()) => put.copied.push(Copied::Marked { place }),
                    Err(failure) => put.failures.push(failure),
                },
            }
        }
        put
    }

    fn put_revised(&self, job: &Job, checked: &mut Checked, taken: &Inputs, put: &mut Put) {
        let (Some(revised), Some(goal)) = (checked.revised.take(), &self.revised) else { return };
        let moves = revised.moves();
        let left = revised.made.len() - moves;
        if moves == 0 && *goal == Goal::Beside {
            put.copied.push(Copied::NothingMoves { score: job.source.clone(), left });
            return;
        }
        let path = match place(goal, job, "revised") {
            None => {
                put.handed_over = Some(revised.bytes);
                "-".to_owned()
            }
            Some(place) => {
                if let Err(failure) = write_whole(&place, &revised.bytes, self.replace(), taken) {
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
}

/// The copies of one score, put where they go.
#[derive(Debug, Default)]
pub(super) struct Put {
    pub(super) copied: Vec<Copied>,
    pub(super) failures: Vec<WriteError>,
    pub(super) handed_over: Option<Vec<u8>>,
}

/// `None`: it is handed over.
fn place(goal: &Goal, job: &Job, kind: &str) -> Option<PathBuf> {
    match (goal, &job.source) {
        (Goal::File(path), _) => Some(path.clone()),
        (Goal::Beside, Source::File(score)) => Some(beside(score, job, kind)),
        (Goal::Beside, Source::StandardInput) | (Goal::HandOver, _) => None,
    }
}

/// `NAME.revised.EXT`, beside the score or in the settings' folder for copies.
fn beside(score: &Path, job: &Job, kind: &str) -> PathBuf {
    let name = named(score, kind);
    match &job.room.settings.revised {
        None => score.with_file_name(name),
        Some(folder) => {
            let within = Path::new(&job.paths.from_settings).parent().unwrap_or(Path::new(""));
            let within = if within.starts_with("..") { Path::new("") } else { within };
            folder.join(within).join(name)
        }
    }
}

/// `NAME.KIND.EXT`
fn named(score: &Path, kind: &str) -> String {
    let stem = score.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    match score.extension() {
        Some(ending) => format!("{stem}.{kind}.{}", ending.to_string_lossy()),
        None => format!("{stem}.{kind}"),
    }
}
