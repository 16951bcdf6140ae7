//! What a run depends on, looked at again and again: whether a score, a profile or the settings changed.
//!
//! By asking for times and sizes, not by asking the system to tell: that works on folders of other machines and in containers,
//! where messages get lost, and needs no library.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::gather::{Source, gather};
use crate::settings;

/// The files of a run as they were when they were last looked at.
#[derive(Clone, Debug)]
pub struct Watched {
    /// Scores and folders as they were named.
    places: Vec<PathBuf>,
    /// Settings, profiles and baseline, whether they are there or not.
    others: Vec<PathBuf>,
    /// Whether the nearest settings hold.
    nearest: bool,
    seen: BTreeMap<PathBuf, Option<(SystemTime, u64)>>,
}

impl Watched {
    /// What these places and files are now. `nearest`: the settings are the nearest above each score, where others may come
    /// to lie.
    pub fn new(places: Vec<PathBuf>, others: Vec<PathBuf>, nearest: bool) -> Watched {
        let mut watched = Watched { places, others, nearest, seen: BTreeMap::new() };
        watched.seen = watched.look();
        watched
    }

    /// How many scores there are.
    pub fn scores(&self) -> usize {
        gather(&self.places).scores.len()
    }

    /// The files that came, went or changed since this was last asked, in order.
    pub fn changed(&mut self) -> Vec<PathBuf> {
        let now = self.look();
        let before = std::mem::replace(&mut self.seen, now);
        let mut changed: Vec<PathBuf> = before
            .iter()
            .filter(|(path, state)| self.seen.get(*path) != Some(*state))
            .map(|(path, _)| path.clone())
            .collect();
        changed.extend(self.seen.keys().filter(|path| !before.contains_key(*path)).cloned());
        changed.sort();
        changed
    }

    fn look(&self) -> BTreeMap<PathBuf, Option<(SystemTime, u64)>> {
        // Of a folder the files that a profile may come to lie in: what else is written there changes nothing.
        let mut files: Vec<PathBuf> = Vec::new();
        for place in &self.others {
            match fs::read_dir(place) {
                Ok(entries) => files.extend(
                    entries
                        .flatten()
                        .map(|entry| entry.path())
                        .filter(|path| path.extension().is_some_and(|ending| ending == "toml")),
                ),
                Err(_) => files.push(place.clone()),
            }
        }
        for source in gather(&self.places).scores {
            let Source::File(path) = source else { continue };
            let folder = path.parent().unwrap_or(Path::new(""));
            let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
            if let (true, Ok(folder)) = (self.nearest, std::path::absolute(folder)) {
                files.extend(settings::find(&folder));
            }
            files.push(path);
        }
        let state = |path: &PathBuf| {
            let data = fs::metadata(path).ok()?;
            Some((data.modified().ok()?, data.len()))
        };
        files.into_iter().map(|path| (path.clone(), state(&path))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::testing::score;

    #[test]
    fn a_score_that_comes_changes_or_goes_is_told_once_and_so_are_settings() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at(".git")).unwrap();
        fs::write(at("a.musicxml"), score(&[("Tuba", &["F2"])])).unwrap();
        let profile = at("bass.toml");
        let mut watched = Watched::new(vec![folder.path().to_owned()], vec![profile.clone()], true);
        assert_eq!(watched.scores(), 1);
        assert!(watched.changed().is_empty());
        fs::write(at("a.musicxml"), score(&[("Tuba", &["F2", "r"])])).unwrap();
        assert_eq!(watched.changed(), [at("a.musicxml")]);
        assert!(watched.changed().is_empty());
        fs::write(at("b.musicxml"), score(&[("Tuba", &["F2"])])).unwrap();
        fs::write(&profile, "").unwrap();
        assert_eq!(watched.changed(), [at("b.musicxml"), profile]);
        fs::write(at("lowbrass.toml"), "").unwrap();
        fs::remove_file(at("a.musicxml")).unwrap();
        assert_eq!(watched.changed(), [at("a.musicxml"), at("lowbrass.toml")]);
        fs::write(at("notes.txt"), "").unwrap();
        assert!(watched.changed().is_empty());
    }

    #[test]
    fn of_a_folder_of_profiles_only_profiles_count() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let mut watched = Watched::new(Vec::new(), vec![folder.path().to_owned()], false);
        // A report that the run itself writes there would set it off again, and again.
        fs::write(at("low.html"), "").unwrap();
        assert!(watched.changed().is_empty());
        fs::write(at("bass.toml"), "").unwrap();
        assert_eq!(watched.changed(), [at("bass.toml")]);
    }
}
