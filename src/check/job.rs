//! A score of a run: where it lies, and the settings that hold there.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::gather::{Source, relative_to, shown};
use super::room::Room;
use super::score::Paths;

/// A score to check.
#[derive(Clone, Debug)]
pub(super) struct Job {
    pub(super) source: Source,
    pub(super) room: Arc<Room>,
    pub(super) paths: Paths,
}

impl Job {
    /// `baseline` is the folder of the baseline, resolved, where there is one.
    pub(super) fn new(source: Source, room: Arc<Room>, here: &Path, baseline: Option<&Path>) -> Job {
        let paths = match &source {
            Source::StandardInput => {
                Paths { shown: "-".to_owned(), from_settings: "-".to_owned(), from_baseline: "-".to_owned() }
            }
            Source::File(path) => {
                let shown = shown(path, here);
                let from = |folder: Option<PathBuf>| {
                    folder.map_or_else(|| shown.clone(), |folder| relative(path, &folder))
                };
                let settings =
                    room.settings.folder().and_then(|folder| here.join(folder).canonicalize().ok());
                Paths {
                    from_settings: from(settings),
                    from_baseline: from(baseline.map(Path::to_owned)),
                    shown,
                }
            }
        };
        Job { source, room, paths }
    }
}

/// The way from a folder (resolved) to a file, with `/`.
fn relative(path: &Path, folder: &Path) -> String {
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
