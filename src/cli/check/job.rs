//! A score of a run: where it lies, the settings that hold there, and what came of it.

use std::path::Path;
use std::sync::Arc;

use lowbrass::check::{CheckError, Checked, Paths, Room, Source, relative_to, shown};
use lowbrass::intake::IntakeError;
use thiserror::Error;

use crate::cli::fault::Fault;

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
    Unreadable(#[from] IntakeError),
    #[error(transparent)]
    Check(#[from] CheckError),
    #[error(transparent)]
    Fault(#[from] Fault),
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
