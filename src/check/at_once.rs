//! Many scores at once: as many in flight as there are threads, each told in the order of the scores as soon as it and all
//! before it are done.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;

use rayon::ThreadPoolBuilder;

use super::fault::{self, Fault};

/// Does every job, `threads` at a time, and hands over what comes of each in their order; one at which the program itself
/// fails keeps back no other. Where `told` breaks off, no further job is begun.
///
/// The memory in use is that of the jobs in flight and of what waits for one before it.
pub(super) fn each<J: Sync, D: Send>(
    jobs: &[J],
    threads: usize,
    one: impl Fn(&J) -> D + Sync,
    told: impl FnMut(usize, Result<D, Fault>) -> ControlFlow<()> + Send,
) {
    let one = |job: &J| fault::caught(|| one(job));
    // Each thread hands over one score at a time and waits for it, so that no more are in flight. While others wait, a
    // score has one thread to itself, which saves passing its many small pieces of work around; the last ones share
    // all threads.
    let next = AtomicUsize::new(0);
    let line = Mutex::new(Line { told, turn: 0, waiting: BTreeMap::new() });
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
                    let mut line = line.lock().unwrap_or_else(PoisonError::into_inner);
                    if line.done(index, result).is_break() {
                        next.store(jobs.len(), Ordering::Relaxed);
                    }
                }
            });
        }
    });
}

/// Results that wait for their turn.
struct Line<D, T> {
    told: T,
    turn: usize,
    waiting: BTreeMap<usize, Result<D, Fault>>,
}

impl<D, T: FnMut(usize, Result<D, Fault>) -> ControlFlow<()>> Line<D, T> {
    fn done(&mut self, index: usize, result: Result<D, Fault>) -> ControlFlow<()> {
        self.waiting.insert(index, result);
        while let Some(result) = self.waiting.remove(&self.turn) {
            let told = (self.told)(self.turn, result);
            self.turn += 1;
            if told.is_break() {
                // What is still in flight has no turn any more.
                self.turn = usize::MAX;
                return told;
            }
        }
        ControlFlow::Continue(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_the_program_fails_at_one_score_the_others_go_on_in_order() {
        let jobs: Vec<usize> = (0..40).collect();
        for threads in [1, 2, 7] {
            let mut turns = Vec::new();
            let one = |job: &usize| {
                assert!(job % 10 != 3, "{job} is too much");
                *job
            };
            each(&jobs, threads, one, |turn, result| {
                match result {
                    Ok(done) => assert_eq!(done, turn),
                    Err(fault) => {
                        assert_eq!(turn % 10, 3);
                        assert!(fault.to_string().contains("please report it"), "{fault}");
                    }
                }
                turns.push(turn);
                ControlFlow::Continue(())
            });
            assert_eq!(turns, jobs);
        }
    }

    #[test]
    fn who_has_heard_enough_hears_no_more() {
        let jobs: Vec<usize> = (0..1000).collect();
        for threads in [1, 2] {
            let begun = AtomicUsize::new(0);
            let mut heard = 0;
            let one = |_: &usize| begun.fetch_add(1, Ordering::Relaxed);
            each(&jobs, threads, one, |_, _| {
                heard += 1;
                if heard == 3 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            });
            assert_eq!(heard, 3);
            // One thread alone begins nothing ahead.
            assert!(threads > 1 || begun.into_inner() == 3);
        }
    }
}
