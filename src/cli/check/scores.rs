//! Many scores at once: as many in flight as there are threads, results in the order of the scores.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;

use lowbrass::check::{Inputs, Task, check};

use super::copies::Copies;
use super::job::{Done, Job, JobError};
use crate::cli::progress;

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
