//! Many scores at once: as many in flight as there are threads, results in the order of the scores.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;

use lowbrass::check::{Inputs, Task, check};
use rayon::ThreadPoolBuilder;

use super::copies::Copies;
use super::job::{Done, Job, JobError};
use crate::cli::{fault, progress};

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
    all(jobs, threads, progress, |job| one(job, task, copies, inputs))
}

/// What comes of every job, in their order; one at which the program itself fails keeps back no other.
fn all<J: Sync, D: Send>(
    jobs: &[J],
    threads: usize,
    progress: bool,
    one: impl Fn(&J) -> Result<D, JobError> + Sync,
) -> Vec<Result<D, JobError>> {
    let one = |job: &J| fault::caught(|| one(job)).unwrap_or_else(|fault| Err(fault.into()));
    // Each thread hands over one score at a time and waits for it, so that no more are in flight. While others wait, a
    // score has one thread to itself, which saves passing its many small pieces of work around; the last ones share
    // all threads.
    let next = AtomicUsize::new(0);
    let results: Vec<Mutex<Option<Result<D, JobError>>>> = jobs.iter().map(|_| Mutex::new(None)).collect();
    progress::shown(jobs.len(), progress, |bar| {
        thread::scope(|scope| {
            for _ in 0..threads.min(jobs.len()) {
                scope.spawn(|| {
                    let some_will_wait = jobs.len() > threads;
                    let alone = some_will_wait.then(|| ThreadPoolBuilder::new().num_threads(1).build());
                    loop {
                        let index = next.fetch_add(1, Ordering::Relaxed);
                        let Some(job) = jobs.get(index) else { break };
                        let others_wait = jobs.len() - index > threads;
                        // Entered once: a pool is slow to enter for each piece.
                        let result = match &alone {
                            Some(Ok(alone)) if others_wait => alone.install(|| one(job)),
                            _ => rayon::scope(|_| one(job)),
                        };
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_the_program_fails_at_one_score_the_others_go_on() {
        let jobs: Vec<u32> = (0..40).collect();
        for threads in [1, 2, 7] {
            let done = all(&jobs, threads, false, |job| {
                assert!(job % 10 != 3, "{job} is too much");
                Ok(*job)
            });
            for (job, result) in jobs.iter().zip(done) {
                match result {
                    Ok(done) => assert_eq!(done, *job),
                    Err(failed) => {
                        assert_eq!(job % 10, 3);
                        assert!(failed.to_string().contains("please report it"), "{failed}");
                    }
                }
            }
        }
    }
}
