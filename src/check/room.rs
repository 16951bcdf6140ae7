//! What holds where a score lies: the settings of its folder, and the profiles at hand there.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::Source;
use crate::profile::{ProfileError, Profiles};
use crate::report::Format;
use crate::rules::{RULES, present_name};
use crate::settings::{self, Draft, Names, Settings, SettingsError};

/// Settings and profiles.
#[derive(Clone, Debug)]
pub struct Room {
    /// The settings.
    pub settings: Settings,
    /// The profiles built in, those of the settings' folder and those of the command line.
    pub profiles: Profiles,
}

/// Which settings are asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Config {
    /// The nearest file above each score.
    Nearest,
    /// This file for all scores.
    File(PathBuf),
    /// None.
    None,
}

/// The rooms of a run: one for each settings file.
#[derive(Debug)]
pub struct Rooms {
    config: Config,
    profiles: Option<PathBuf>,
    built: BTreeMap<Option<PathBuf>, Arc<Room>>,
}

/// Why there is no room.
#[derive(Debug, Error)]
pub enum RoomError {
    /// The settings are wrong.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// A profile is wrong.
    #[error(transparent)]
    Profile(#[from] ProfileError),
    /// The folder one is in cannot be told.
    #[error("the folder one is in cannot be told: {0}")]
    Here(std::io::Error),
}

impl Rooms {
    /// Rooms with these settings, and with the profiles of a folder besides those built in.
    pub fn new(config: Config, profiles: Option<PathBuf>) -> Rooms {
        Rooms { config, profiles, built: BTreeMap::new() }
    }

    /// The room of a score; standard input lies in the folder one is in.
    pub fn of_score(&mut self, source: &Source) -> Result<Arc<Room>, RoomError> {
        match source {
            Source::StandardInput => self.of_folder(Path::new(".")),
            Source::File(path) => self.of_folder(path.parent().unwrap_or(Path::new(""))),
        }
    }

    /// The room of what lies in a folder.
    pub fn of_folder(&mut self, folder: &Path) -> Result<Arc<Room>, RoomError> {
        let file = match &self.config {
            Config::None => None,
            Config::File(path) => Some(path.clone()),
            Config::Nearest => {
                let here = std::env::current_dir().map_err(RoomError::Here)?;
                // The folders above are those on the way there, not those of a link's goal.
                settings::find(&plain(&here.join(folder)))
                    .map(|found| found.strip_prefix(&here).map(Path::to_owned).unwrap_or(found))
            }
        };
        if let Some(room) = self.built.get(&file) {
            return Ok(Arc::clone(room));
        }
        let room = Arc::new(self.build(file.as_deref())?);
        self.built.insert(file, Arc::clone(&room));
        Ok(room)
    }

    fn build(&self, file: Option<&Path>) -> Result<Room, RoomError> {
        let draft = file.map(Draft::read).transpose()?;
        let mut profiles = Profiles::embedded()?;
        if let Some(folder) = draft.as_ref().and_then(Draft::profiles) {
            profiles = profiles.with_folder(&folder)?;
        }
        if let Some(folder) = &self.profiles {
            profiles = profiles.with_folder(folder)?;
        }
        let formats = Format::ALL.map(Format::name);
        let settings = match draft {
            None => Settings::none(),
            Some(draft) => draft.check(&Names {
                rules: RULES.iter().map(|rule| rule.name).collect(),
                present_rule: present_name,
                profiles: profiles.iter().map(|profile| profile.name.as_str()).collect(),
                formats: &formats,
            })?,
        };
        Ok(Room { settings, profiles })
    }
}

/// Without `.` and with `..` taken back, by spelling alone.
fn plain(path: &Path) -> PathBuf {
    use std::path::Component;
    let mut plain = PathBuf::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            component => plain.push(component),
        }
    }
    plain
}
