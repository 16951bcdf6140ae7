//! Many scores at once: as many in flight as there are threads, results in the order of the scores.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

use lowbrass::check::{CheckError, Checked, Inputs, Paths, Room, Source, Task, check, relative_to, shown};
use thiserror::Error;

use super::copies::Copies;
use crate::cli::progress;

/// A score to check.
#[derive(Clone, Debug)]
pub(super) struct Job {
    pub(super) source: Source,
    pub(super) room: Arc<Room>,
    pub(super) paths: Paths,
}

/// A score that was checked, with what is to be said of its copies.
pub(super) struct Done {
    pub(super) checked: Checked,
    pub(super) notes: Vec<String>,
    pub(super) failures: Vec<String>,
}

/// Why a score was not checked.
#[derive(Debug, Error)]
pub(super) enum JobError {
    #[error("cannot be read: {0}")]
    Unreadable(#[from] std::io::Error),
    #[error(transparent)]
    Check(#[from] CheckError),
}

impl Job {
    pub(super) fn new(source: Source, room: Arc<Room>, here: &Path) -> Job {
        let paths = match &source {
            Source::StandardInput => {
                Paths { shown: "-".to_owned(), from_settings: "-".to_owned(), from_baseline: "-".to_owned() }
            }
            Source::File(path) => {
                let shown = shown(path, here);
                let from_settings =
                    match room.settings.folder().map(|folder| here.join(folder).canonicalize()) {
                        Some(Ok(folder)) => relative(path, &folder),
                        _ => shown.clone(),
                    };
                Paths { from_baseline: shown.clone(), from_settings, shown }
            }
        };
        Job { source, room, paths }
    }
}

/// The way from a folder (resolved) to a file, with `/`.
pub(super) fn relative(path: &Path, folder: &Path) -> String {
    let whole = path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    match (whole.canonicalize(), path.file_name()) {
        (Ok(whole), Some(name)) => {
            let parts: Vec<String> = relative_to(&whole.join(name), folder)
                .components()
                .map(|part| part.as_os_str().to_string_lossy().into_owned())
                .collect();
            parts.join("/")
        }
        _ => path.display().to_string(),
    }
}

/// Checks all scores, `threads` at a time, and writes their copies. The memory in use is that of the scores
/// in flight: a score's bytes and music are gone when its report is made.
pub(super) fn check_all(
    jobs: &[Job],
    task: &Task<'_>,
    copies: &Copies,
    inputs: &Inputs,
    threads: usize,
    progress: bool,
) -> Vec<Result<Done, JobError>> {
    // Threads of their own and not the pool's: a pool thread that waits for the parts of one score would
    // take up the next score meanwhile, and memory with it.
    let next = AtomicUsize::new(0);
    let results: Vec<Mutex<Option<Result<Done, JobError>>>> = jobs.iter().map(|_| Mutex::new(None)).collect();
    progress::shown(jobs.len(), progress, |bar| {
        thread::scope(|scope| {
            for _ in 0..threads.min(jobs.len()) {
                scope.spawn(|| {
                    loop {
                        let index = next.fetch_add(1, Ordering::Relaxed);
                        let Some(job) = jobs.get(index) else { break };
                        let result = one(job, task, copies, inputs);
                        *results[index].lock().unwrap_or_else(PoisonError::into_inner) = Some(result);
                        bar.inc(1);
                    }
                });
            }
        });
    });
    results.into_iter().filter_map(|slot| slot.into_inner().unwrap_or_else(PoisonError::into_inner)).collect()
}

fn one(job: &Job, task: &Task<'_>, copies: &Copies, inputs: &Inputs) -> Result<Done, JobError> {
    let checked = check(job.source.bytes()?, &job.paths, &job.room, task)?;
    let mut done = Done { checked, notes: Vec::new(), failures: Vec::new() };
    copies.write(job, &mut done, inputs);
    Ok(done)
}
