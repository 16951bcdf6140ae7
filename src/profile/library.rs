//! All profiles at hand: those built in, and those of a folder, which take the place of built-in ones by name.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use super::error::ProfileError;
use super::player::{Player, player};
use super::{Able, Profile, SectionLimits, section, toml};
use crate::intake::{self, IntakeError};
use crate::nearest;

/// The profiles at hand, by name, and the limits of the section.
#[derive(Clone, Debug)]
pub struct Profiles {
    by_name: BTreeMap<String, Arc<Profile>>,
    player: Arc<Player>,
    section: Arc<SectionLimits>,
    files: Vec<PathBuf>,
}

const SECTION: &str = "section.toml";
const PLAYER: &str = "player.toml";

/// What a profile says of its instrument: read, or to be read when it is first asked for.
#[derive(Clone, Debug)]
pub(super) struct Ability {
    read: OnceLock<Able>,
    /// File name, text, and what it falls back on.
    later: Option<(&'static str, &'static str, Arc<Player>)>,
}

impl Ability {
    /// It is there.
    pub(super) fn read(able: Able) -> Ability {
        Ability { read: OnceLock::from(able), later: None }
    }

    /// It is read from a file that is part of the program.
    pub(super) fn later(file: &'static str, text: &'static str, player: Arc<Player>) -> Ability {
        Ability { read: OnceLock::new(), later: Some((file, text, player)) }
    }

    /// What it says.
    #[allow(clippy::panic)] // A built-in file that does not read is a fault of the program that its tests exclude.
    pub(super) fn get(&self) -> &Able {
        self.read.get_or_init(|| match &self.later {
            Some((file, text, player)) => {
                toml::able(file, text, player).unwrap_or_else(|error| panic!("{error}"))
            }
            None => unreachable!("it was read, or it is to be read later"),
        })
    }
}

macro_rules! embedded {
    ($($name:literal)*) => {
        &[$((concat!($name, ".toml"), include_str!(concat!("../../profiles/", $name, ".toml")))),*]
    };
}

/// Every profile of `profiles/`: file name and text.
const EMBEDDED: &[(&str, &str)] = embedded! {
    "alto-trombone"
    "baritone-horn"
    "bass-trombone"
    "bass-trumpet"
    "bass-tuba-e-flat"
    "bass-tuba-f"
    "cimbasso-b-flat"
    "cimbasso-e-flat"
    "cimbasso-f"
    "contrabass-trombone-b-flat"
    "contrabass-trombone-f"
    "contrabass-tuba-b-flat"
    "contrabass-tuba-c"
    "contrabass-tuba-c-4v"
    "euphonium"
    "french-tuba-c"
    "ophicleide-c"
    "sousaphone"
    "tenor-bass-trombone"
    "tenor-trombone"
    "tenor-tuba"
    "wagner-tuba-b-flat"
    "wagner-tuba-f"
};

/// The names of the built-in profiles, in order; they are not read for it.
pub fn embedded_names() -> impl Iterator<Item = &'static str> {
    EMBEDDED.iter().filter_map(|(file, _)| file.strip_suffix(".toml"))
}

impl Profiles {
    /// The built-in profiles. An error here is a fault of the program that its tests exclude. Of each only the names
    /// are read; what its instrument can do is read when a part turns out to be for it.
    pub fn embedded() -> Result<Profiles, ProfileError> {
        let limits = section::section(SECTION, include_str!("../../profiles/section.toml"))?;
        Profiles {
            by_name: BTreeMap::new(),
            player: Arc::new(player(PLAYER, include_str!("../../profiles/player.toml"))?),
            section: Arc::new(limits),
            files: Vec::new(),
        }
        .with_built_in()
    }

    fn with_built_in(mut self) -> Result<Profiles, ProfileError> {
        for (file, text) in EMBEDDED {
            let profile = toml::built_in(file, text, &self.player)?;
            self.by_name.insert(profile.name.clone(), Arc::new(profile));
        }
        Ok(self)
    }

    /// These and the `.toml` files of a folder; one of the same name takes the place of the one before. A
    /// `section.toml` there takes the place of the section's limits. A `player.toml` there says of all players, those of
    /// the built-in profiles too, what it says; what it leaves out is as built in.
    pub fn with_folder(mut self, folder: &Path) -> Result<Profiles, ProfileError> {
        fn unreadable<E: Into<IntakeError>>(path: &Path) -> impl FnOnce(E) -> ProfileError {
            let path = path.to_owned();
            move |why| ProfileError::Unreadable { path, why: why.into() }
        }
        let mut files = Vec::new();
        for entry in std::fs::read_dir(folder).map_err(unreadable(folder))? {
            let path = entry.map_err(unreadable(folder))?.path();
            if path.extension().is_some_and(|extension| extension == "toml") {
                files.push(path);
            }
        }
        intake::PROFILES.admit(files.len() as u64).map_err(unreadable(folder))?;
        if files.is_empty() {
            return Err(ProfileError::Empty { path: folder.to_owned() });
        }
        // What all fall back on comes first.
        files.sort_by_key(|path| (!path.ends_with(PLAYER), path.clone()));
        for path in files {
            let text = intake::text(&path, intake::SETTINGS).map_err(unreadable(&path))?;
            let file = path.to_string_lossy();
            if path.ends_with(PLAYER) {
                self.player = Arc::new(player(&file, &text)?.or(&self.player));
                self = self.with_built_in()?;
                for (file, text) in EMBEDDED {
                    toml::able(file, text, &self.player)?;
                }
            } else if path.ends_with(SECTION) {
                self.section = Arc::new(section::section(&file, &text)?);
            } else {
                let profile = toml::profile(&file, &text, &self.player)?;
                self.by_name.insert(profile.name.clone(), Arc::new(profile));
            }
            self.files.push(path);
        }
        Ok(self)
    }

    /// The profile of a name, or an error that names the nearest.
    pub fn named(&self, name: &str) -> Result<Arc<Profile>, ProfileError> {
        self.get(name).ok_or_else(|| {
            let hint = nearest::hint(name, self.by_name.keys().map(String::as_str));
            ProfileError::Unknown { name: name.to_owned(), hint }
        })
    }

    /// The profile of a name.
    pub fn get(&self, name: &str) -> Option<Arc<Profile>> {
        self.by_name.get(name).cloned()
    }

    /// All of them, by name.
    pub fn iter(&self) -> impl Iterator<Item = &Arc<Profile>> {
        self.by_name.values()
    }

    /// What every player has in common.
    pub fn player(&self) -> &Arc<Player> {
        &self.player
    }

    /// The limits that belong to no one instrument.
    pub fn section(&self) -> &Arc<SectionLimits> {
        &self.section
    }

    /// The files that were read beside those built in.
    pub fn files(&self) -> &[PathBuf] {
        &self.files
    }
}

/// The built-in profiles, read once for all tests.
#[cfg(test)]
pub(crate) fn shipped() -> &'static Profiles {
    static SHIPPED: std::sync::LazyLock<Profiles> =
        std::sync::LazyLock::new(|| Profiles::embedded().expect("the built-in profiles are sound"));
    &SHIPPED
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_folder_is_built_in_and_every_built_in_profile_reads() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles");
        let mut files: Vec<String> = std::fs::read_dir(&folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| Path::new(name).extension().is_some_and(|extension| extension == "toml"))
            .collect();
        files.sort();
        // Files that other modules embed themselves.
        files.retain(|name| {
            !["player.toml", "section.toml", "tempo-words.toml", "part-words.toml"].contains(&name.as_str())
        });
        let mut embedded: Vec<&str> = EMBEDDED.iter().map(|(file, _)| *file).collect();
        embedded.sort_unstable();
        assert_eq!(files, embedded);
        match Profiles::embedded() {
            Ok(profiles) => {
                assert_eq!(profiles.iter().count(), embedded.len());
                for (file, text) in EMBEDDED {
                    let whole =
                        toml::profile(file, text, profiles.player()).unwrap_or_else(|e| panic!("{e}"));
                    let head = profiles.named(&whole.name).unwrap();
                    // What is read first and what is read whole say the same.
                    assert_eq!(format!("{:?}", head.recognise), format!("{:?}", whole.recognise));
                    assert_eq!(format!("{:?}", **head), format!("{:?}", *whole));
                }
            }
            Err(error) => panic!("{error}"),
        }
    }

    #[test]
    fn an_unknown_name_offers_the_nearest() {
        let profiles = shipped();
        let error = profiles.named("bass-trombne").unwrap_err().to_string();
        assert_eq!(
            error,
            "no profile is called 'bass-trombne'; did you mean 'bass-trombone'? ('lowbrass profiles' lists them)"
        );
        let error = profiles.named("kazoo").unwrap_err().to_string();
        assert_eq!(error, "no profile is called 'kazoo' ('lowbrass profiles' lists them)");
    }
}
