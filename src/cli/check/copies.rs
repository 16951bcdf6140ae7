//! Revised and marked copies: where they go, and putting them there.

use std::path::{Path, PathBuf};

use lowbrass::check::{Inputs, Replace, Source, may_write, shown, write_whole};

use super::job::{Done, Job};
use crate::cli::args::CheckArgs;
use crate::cli::{Failure, to_standard_output};

/// The copies that are wanted.
#[derive(Debug)]
pub(super) struct Copies {
    /// Whether revised copies are wanted at all.
    pub(super) revise: bool,
    /// The place of the one revised copy that was named.
    pub(super) revised: Option<PathBuf>,
    /// The place of the one marked copy.
    pub(super) marked: Option<PathBuf>,
    replace: Replace,
}

impl Copies {
    pub(super) fn planned(args: &CheckArgs, jobs: &[Job]) -> Result<Copies, Failure> {
        for (option, place) in [("-o", &args.revised), ("--marked", &args.marked)] {
            if place.is_some() && jobs.len() > 1 {
                return Err(Failure::of(format!(
                    "{option} names one copy, and there are {} scores; --fix-octaves alone writes each beside its score",
                    jobs.len()
                )));
            }
        }
        let to_output = |place: &Option<PathBuf>| place.as_deref() == Some(Path::new("-"));
        if to_output(&args.revised) && to_output(&args.marked) {
            return Err(Failure::of("standard output takes one copy; name a file for -o or --marked"));
        }
        let from_input = jobs.iter().any(|job| job.source == Source::StandardInput);
        if args.fix_octaves && args.revised.is_none() && from_input {
            return Err(Failure::of(
                "a score from standard input has no place beside it; name the copy with -o",
            ));
        }
        if let (Some(revised), Some(marked)) = (&args.revised, &args.marked) {
            let mut one = Inputs::none();
            one.add(revised);
            if !to_output(&args.revised) && one.hold(marked) {
                return Err(Failure::of("-o and --marked name the same file"));
            }
        }
        Ok(Copies {
            revise: args.fix_octaves || args.revised.is_some(),
            revised: args.revised.clone(),
            marked: args.marked.clone(),
            replace: if args.force { Replace::Anything } else { Replace::Nothing },
        })
    }

    /// Asks before the work whether the named places are free.
    pub(super) fn may_be_written(&self, inputs: &Inputs) -> Result<(), Failure> {
        self.named_files().try_for_each(|path| may_write(path, self.replace, inputs).map_err(Failure::of))
    }

    /// The files that were named.
    pub(super) fn named_files(&self) -> impl Iterator<Item = &Path> {
        let named = self.revised.iter().chain(&self.marked).map(PathBuf::as_path);
        named.filter(|path| *path != Path::new("-"))
    }

    /// Whether standard output carries a copy, so that the report cannot go there.
    pub(super) fn take_standard_output(&self) -> bool {
        self.revised.iter().chain(&self.marked).any(|path| path == Path::new("-"))
    }

    /// Writes the copies of one score.
    pub(super) fn write(&self, job: &Job, done: &mut Done, inputs: &Inputs) {
        if let Some(revised) = done.checked.revised.take() {
            let moves = count(revised.moves(), "octave move");
            let left = match revised.made.len() - revised.moves() {
                0 => String::new(),
                more => format!("; {more} more for a person to look at (--include-review)"),
            };
            let place = match (&self.revised, &job.source) {
                (Some(named), _) => Some(named.clone()),
                (None, Source::File(score)) if revised.moves() > 0 => Some(beside(score, job)),
                (None, _) => None,
            };
            match place {
                None => done.notes.push(format!("{}: nothing moves, no copy is written{left}", job.source)),
                Some(place) => match self.put(&place, &revised.bytes, inputs) {
                    Ok(()) => {
                        if let Some(revision) = &mut done.checked.report.revision {
                            revision.path = Some(place_in_report(&place));
                            for (planned, made) in revision.moves.iter_mut().zip(&revised.made) {
                                planned.made = *made;
                            }
                        }
                        if place != Path::new("-") {
                            done.notes.push(format!("{}: revised copy, {moves}{left}", place.display()));
                        }
                    }
                    Err(failure) => done.failures.push(failure.to_string()),
                },
            }
        }
        if let (Some(marked), Some(place)) = (done.checked.marked.take(), &self.marked) {
            match self.put(place, &marked, inputs) {
                Ok(()) if place != Path::new("-") => {
                    done.notes.push(format!(
                        "{}: marked copy; lowbrass unmark takes the remarks out",
                        place.display()
                    ));
                }
                Ok(()) => {}
                Err(failure) => done.failures.push(failure.to_string()),
            }
        }
    }

    fn put(&self, place: &Path, bytes: &[u8], inputs: &Inputs) -> Result<(), Failure> {
        if place == Path::new("-") {
            return to_standard_output(bytes);
        }
        write_whole(place, bytes, self.replace, inputs).map_err(Failure::of)
    }
}

/// `NAME.revised.EXT`, beside the score or in the settings' folder for copies.
fn beside(score: &Path, job: &Job) -> PathBuf {
    let stem = score.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let name = match score.extension() {
        Some(ending) => format!("{stem}.revised.{}", ending.to_string_lossy()),
        None => format!("{stem}.revised"),
    };
    match &job.room.settings.revised {
        None => score.with_file_name(name),
        Some(folder) => {
            let within = Path::new(&job.paths.from_settings).parent().unwrap_or(Path::new(""));
            let within = if within.starts_with("..") { Path::new("") } else { within };
            folder.join(within).join(name)
        }
    }
}

fn place_in_report(place: &Path) -> String {
    if place == Path::new("-") {
        return "-".to_owned();
    }
    shown(place, &std::env::current_dir().unwrap_or_default())
}

fn count(number: usize, what: &str) -> String {
    if number == 1 { format!("1 {what}") } else { format!("{number} {what}s") }
}
