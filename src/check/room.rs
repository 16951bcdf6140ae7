//! What holds where a score lies: the settings of its folder, and the profiles at hand there.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use thiserror::Error;

use super::Source;
use crate::profile::{Family, ProfileError, Profiles, Recogniser};
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
    recogniser: OnceLock<Recogniser>,
}

impl Room {
    /// Settings and profiles that belong together.
    pub const fn new(settings: Settings, profiles: Profiles) -> Room {
        Room { settings, profiles, recogniser: OnceLock::new() }
    }

    /// Who tells what a part is, by these settings and profiles; made once for all scores of the room.
    pub fn recogniser(&self) -> &Recogniser {
        self.recogniser.get_or_init(|| {
            let tuba = self.settings.tuba.as_deref().and_then(|name| self.profiles.get(name));
            Recogniser::new(&self.profiles, tuba)
        })
    }
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
                no_tubas: profiles
                    .iter()
                    .filter(|profile| matches!(profile.family, Family::Trombone | Family::Trumpet))
                    .map(|profile| profile.name.as_str())
                    .collect(),
                formats: &formats,
            })?,
        };
        Ok(Room::new(settings, profiles))
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

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    /// A folder with settings above and below, and a profile of its own.
    fn folder() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir_all(at("cues/late")).unwrap();
        fs::create_dir_all(at("own")).unwrap();
        fs::create_dir_all(at("mine")).unwrap();
        fs::create_dir(at(".git")).unwrap();
        fs::write(at("lowbrass.toml"), "tempo = 60\n").unwrap();
        fs::write(at("cues/late/lowbrass.toml"), "tempo = 90\nprofiles = \"../../own\"\n").unwrap();
        let tuba = include_str!("../../profiles/contrabass-tuba-c.toml");
        let tuba =
            |title: &str| tuba.replace("title = \"Contrabass tuba in C\"", &format!("title = \"{title}\""));
        fs::write(at("own/contrabass-tuba-c.toml"), tuba("Ours")).unwrap();
        fs::write(at("mine/contrabass-tuba-c.toml"), tuba("Mine")).unwrap();
        folder
    }

    fn tempo(room: &Room) -> Option<f64> {
        room.settings.tempo.map(crate::music::Tempo::get)
    }

    fn title(room: &Room) -> String {
        room.profiles.named("contrabass-tuba-c").unwrap().title.clone()
    }

    #[test]
    fn the_nearest_settings_above_a_score_hold_and_each_file_is_read_once() {
        let folder = folder();
        let mut rooms = Rooms::new(Config::Nearest, None);
        let mut of = |path: &str| rooms.of_score(&Source::File(folder.path().join(path))).unwrap();
        let above = of("cues/a.musicxml");
        assert_eq!(tempo(&above), Some(60.0));
        assert!(Arc::ptr_eq(&above, &of("b.musicxml")));
        assert_eq!(tempo(&of("cues/late/c.musicxml")), Some(90.0));
        assert_eq!(tempo(&of("cues/late/../a.musicxml")), Some(60.0));
    }

    #[test]
    fn profiles_of_the_settings_replace_those_built_in_and_those_of_the_command_line_both() {
        let folder = folder();
        let of = |path: &str, own: Option<&str>| {
            let own = own.map(|own| folder.path().join(own));
            title(&Rooms::new(Config::Nearest, own).of_folder(&folder.path().join(path)).unwrap())
        };
        assert_eq!(of("cues", None), "Contrabass tuba in C");
        assert_eq!(of("cues/late", None), "Ours");
        assert_eq!(of("cues/late", Some("mine")), "Mine");
    }

    #[test]
    fn a_file_that_is_named_holds_everywhere_and_none_holds_nowhere() {
        let folder = folder();
        let late = folder.path().join("cues/late/lowbrass.toml");
        let mut named = Rooms::new(Config::File(late), None);
        assert_eq!(tempo(&named.of_folder(folder.path()).unwrap()), Some(90.0));
        let mut none = Rooms::new(Config::None, None);
        let room = none.of_folder(&folder.path().join("cues/late")).unwrap();
        assert_eq!((tempo(&room), room.settings.path.clone()), (None, None));
    }

    #[test]
    fn a_wrong_setting_and_a_folder_without_profiles_are_told() {
        let folder = folder();
        fs::write(folder.path().join("lowbrass.toml"), "tempos = 60\n").unwrap();
        let mut rooms = Rooms::new(Config::Nearest, None);
        assert!(matches!(rooms.of_folder(folder.path()), Err(RoomError::Settings(_))));
        let mut rooms = Rooms::new(Config::None, Some(folder.path().join("cues")));
        assert!(matches!(rooms.of_folder(folder.path()), Err(RoomError::Profile(_))));
    }
}
