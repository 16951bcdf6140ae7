//! A progress bar on a terminal, once it takes more than a second.

use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::terminal;

/// How long one waits without asking what is going on.
const PATIENCE: Duration = Duration::from_secs(1);

/// Does the work and shows how far it is: `work` gets a bar to advance by one for each score.
pub(super) fn shown<T>(scores: usize, wanted: bool, work: impl FnOnce(&ProgressBar) -> T) -> T {
    let bar = ProgressBar::with_draw_target(Some(scores as u64), ProgressDrawTarget::hidden());
    if !wanted {
        return work(&bar);
    }
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} scores, {elapsed}") {
        bar.set_style(if terminal::look().unicode { style } else { style.progress_chars("##-") });
    }
    thread::scope(|scope| {
        let (done, is_done) = mpsc::channel::<()>();
        let bar = &bar;
        scope.spawn(move || {
            if is_done.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                // Nothing is drawn where standard error is no terminal.
                bar.set_draw_target(ProgressDrawTarget::stderr());
                while is_done.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                    bar.tick();
                }
            }
        });
        let result = work(bar);
        drop(done);
        bar.finish_and_clear();
        result
    })
}
