//! A fault of this program, where one shows in spite of everything: said with its file, and the rest of the run goes on.

use std::any::Any;
use std::panic::{self, AssertUnwindSafe};
use std::sync::{Mutex, PoisonError};

use thiserror::Error;

/// Where and how the last one happened. Work is shared among threads: who catches it is not who saw it.
static LAST: Mutex<Option<String>> = Mutex::new(None);

/// The program failed at something, through no fault of whoever runs it.
#[derive(Debug, Error)]
#[error(
    "lowbrass failed here ({0}). That is a fault of lowbrass and not of the file: please report it, with these words and, if you may, the file"
)]
pub struct Fault(String);

/// From here on a panic is kept for [`caught`] to tell, instead of being printed with the inside of the program.
pub fn keep_quiet() {
    panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(|at| format!("{}:{}: ", at.file(), at.line())).unwrap_or_default();
        let said = place + words(panic.payload());
        LAST.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(said);
    }));
}

/// What a piece of work comes to, or that it failed.
pub fn caught<T>(work: impl FnOnce() -> T) -> Result<T, Fault> {
    // What it worked on is given up with it.
    panic::catch_unwind(AssertUnwindSafe(work)).map_err(|payload| {
        let seen = LAST.lock().unwrap_or_else(PoisonError::into_inner).take();
        Fault(seen.unwrap_or_else(|| words(payload.as_ref()).to_owned()))
    })
}

fn words(payload: &dyn Any) -> &str {
    let written = payload.downcast_ref::<String>().map(String::as_str);
    written.or_else(|| payload.downcast_ref::<&str>().copied()).unwrap_or("no words")
}

#[cfg(test)]
mod tests {
    use rayon::prelude::*;

    use super::*;

    #[test]
    #[allow(clippy::panic)]
    fn a_fault_in_any_thread_is_told_with_its_words() {
        let failed = caught(|| {
            (0..100).into_par_iter().for_each(|number| assert!(number != 57, "57 is too many"));
        });
        let told = failed.unwrap_err().to_string();
        assert!(told.contains("57 is too many") && told.contains("please report it"), "{told}");
        assert_eq!(caught(|| 3).unwrap(), 3);
        assert!(caught(|| panic!("plain")).unwrap_err().to_string().contains("plain"));
    }
}
