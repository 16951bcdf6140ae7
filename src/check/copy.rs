//! Putting files where they were asked for: whole or not at all, and never over an input.

use std::fs::{self, File, Metadata};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::gather::looks_like_a_score;
use crate::system::in_words;

/// The files that are read in this run, by what they are and not by how they are spelled.
#[derive(Clone, Debug, Default)]
pub struct Inputs {
    files: Vec<Identity>,
}

/// What may be replaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Replace {
    /// Nothing that is there.
    Nothing,
    /// Anything but a score: a report or a baseline of an earlier run.
    AnythingButScores,
    /// Anything.
    Anything,
}

/// Why a file was not written.
#[derive(Debug, Error)]
pub enum WriteError {
    /// The place is one of the inputs.
    #[error("{path}: is one of the files that are read; choose another place")]
    IsAnInput {
        /// The place.
        path: PathBuf,
    },
    /// A file is there.
    #[error("{path}: is already there; --force replaces it")]
    AlreadyThere {
        /// The place.
        path: PathBuf,
    },
    /// A score is there.
    #[error("{path}: holds a score; --force replaces it")]
    HoldsAScore {
        /// The place.
        path: PathBuf,
    },
    /// A folder is there.
    #[error("{path}: is a folder; name a file")]
    IsAFolder {
        /// The place.
        path: PathBuf,
    },
    /// The folder it should lie in is not there.
    #[error("{path}: cannot be written: there is no folder {folder}")]
    NoFolder {
        /// The place.
        path: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// What was written reads back otherwise.
    #[error("{path}: not written, since what was written did not read back the same")]
    ReadsBackOtherwise {
        /// The place.
        path: PathBuf,
    },
    /// The system says no.
    #[error("{}: cannot be written: {}", .path.display(), in_words(.reason))]
    System {
        /// The place.
        path: PathBuf,
        /// The system's words.
        reason: io::Error,
    },
}

#[derive(Clone, Debug, PartialEq, Eq)]
struct Identity {
    path: PathBuf,
    /// What the system knows the file by; `None` where there is none, or no plain file.
    number: Option<Number>,
}

/// Device and inode: to ask for them takes no right to read the file, and opens no pipe.
#[cfg(unix)]
type Number = (u64, u64);

/// Volume and index as the system gives them, in one number.
#[cfg(not(unix))]
type Number = u64;

impl Inputs {
    /// No inputs yet.
    pub fn none() -> Inputs {
        Inputs::default()
    }

    /// Takes a file among the inputs.
    pub fn add(&mut self, path: &Path) {
        self.files.push(Identity::of(path));
    }

    /// Whether a place is one of the inputs, by any spelling or link.
    pub fn hold(&self, path: &Path) -> bool {
        let wanted = Identity::of(path);
        self.files.iter().any(|file| file.is_same(&wanted))
    }
}

/// Writes a file whole or not at all: beside its place first, read back, then moved there.
///
/// # Errors
///
/// An input is never replaced; what else may be is for `replace` to say. After an error the place is as
/// it was.
pub fn write_whole(path: &Path, bytes: &[u8], replace: Replace, inputs: &Inputs) -> Result<(), WriteError> {
    may_write(path, replace, inputs)?;
    let system = |reason| WriteError::System { path: path.to_owned(), reason };
    if fs::metadata(path).is_ok_and(|there| !there.is_file()) {
        // A device or a pipe (/dev/stdout, /dev/null) takes bytes; nothing can be put in its place.
        return fs::OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut device| device.write_all(bytes))
            .map_err(system);
    }
    // Behind a link stands the file that is meant.
    let place = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let folder = place.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".lowbrass-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    // Without the name of the file in between, which nobody asked for.
    let bare = |reason: io::Error| system(reason.kind().into());
    let mut file = builder.tempfile_in(folder).map_err(bare)?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(system)?;
    let mut back = Vec::with_capacity(bytes.len());
    File::open(file.path()).and_then(|mut file| file.read_to_end(&mut back)).map_err(system)?;
    if back != bytes {
        return Err(WriteError::ReadsBackOtherwise { path: path.to_owned() });
    }
    if replace == Replace::Nothing {
        file.persist_noclobber(&place).map_err(|error| match error.error.kind() {
            io::ErrorKind::AlreadyExists => WriteError::AlreadyThere { path: path.to_owned() },
            _ => system(error.error),
        })?;
    } else {
        #[cfg(unix)]
        if let Ok(there) = fs::metadata(&place) {
            fs::set_permissions(file.path(), there.permissions()).map_err(system)?;
        }
        file.persist(&place).map_err(|error| system(error.error))?;
    }
    synced(folder).map_err(system)
}

/// Makes sure that a name that was put into a folder outlives a power cut, where the system has a way to.
#[cfg(unix)]
fn synced(folder: &Path) -> io::Result<()> {
    // A folder may take files and let nobody look into it.
    let Ok(folder) = File::open(folder) else { return Ok(()) };
    match folder.sync_all() {
        Err(error) if matches!(error.kind(), io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported) => {
            Ok(())
        }
        result => result,
    }
}

#[cfg(not(unix))]
fn synced(_: &Path) -> io::Result<()> {
    Ok(())
}

/// Whether [`write_whole`] would be allowed to put a file there; to be asked before the work.
///
/// # Errors
///
/// As [`write_whole`], without writing.
pub fn may_write(path: &Path, replace: Replace, inputs: &Inputs) -> Result<(), WriteError> {
    let path = path.to_owned();
    if inputs.hold(&path) {
        return Err(WriteError::IsAnInput { path });
    }
    let Ok(there) = fs::symlink_metadata(&path) else {
        return match path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            Some(folder) if !folder.is_dir() => Err(WriteError::NoFolder { folder: folder.to_owned(), path }),
            _ => Ok(()),
        };
    };
    let behind: Metadata = fs::metadata(&path).unwrap_or(there);
    if behind.is_dir() {
        return Err(WriteError::IsAFolder { path });
    }
    if !behind.is_file() && !behind.is_symlink() {
        return Ok(());
    }
    match replace {
        Replace::Nothing => Err(WriteError::AlreadyThere { path }),
        Replace::AnythingButScores if holds_a_score(&path) => Err(WriteError::HoldsAScore { path }),
        Replace::AnythingButScores | Replace::Anything => Ok(()),
    }
}

fn holds_a_score(path: &Path) -> bool {
    let mut head = Vec::new();
    let read = File::open(path).and_then(|file| file.take(64 * 1024).read_to_end(&mut head));
    let is_compressed_score =
        path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("mxl")) && head.starts_with(b"PK");
    read.is_ok() && (is_compressed_score || looks_like_a_score(&head))
}

impl Identity {
    fn of(path: &Path) -> Identity {
        let canonical = path.canonicalize().or_else(|_| {
            // Nothing is there yet: its folder tells where it would be.
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
            let folder = folder.unwrap_or(Path::new(".")).canonicalize()?;
            Ok::<_, io::Error>(path.file_name().map_or(folder.clone(), |name| folder.join(name)))
        });
        Identity { path: canonical.unwrap_or_else(|_| path.to_owned()), number: number(path) }
    }

    fn is_same(&self, other: &Identity) -> bool {
        self.path == other.path || self.number.is_some() && self.number == other.number
    }
}

#[cfg(unix)]
fn number(path: &Path) -> Option<Number> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(path).ok().map(|there| (there.dev(), there.ino()))
}

#[cfg(not(unix))]
fn number(path: &Path) -> Option<Number> {
    use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};
    let handle =
        fs::metadata(path).is_ok_and(|there| there.is_file()).then(|| same_file::Handle::from_path(path));
    handle?.ok().map(|handle| BuildHasherDefault::<DefaultHasher>::default().hash_one(handle))
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::{Inputs, Replace, WriteError, write_whole};

    #[test]
    fn a_new_file_holds_the_bytes_and_nothing_is_left_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("copy.musicxml");
        write_whole(&path, b"abc", Replace::Nothing, &Inputs::none()).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"abc");
        assert_eq!(folder.path().read_dir().unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn a_new_file_can_be_read_by_others_as_any_file_can() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let plain = folder.path().join("plain");
        fs::write(&plain, "").unwrap();
        let path = folder.path().join("copy");
        write_whole(&path, b"abc", Replace::Nothing, &Inputs::none()).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&path), mode(&plain));
    }

    #[test]
    fn what_is_there_stays_unless_it_may_be_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out");
        fs::write(&path, "old").unwrap();
        let refused = write_whole(&path, b"new", Replace::Nothing, &Inputs::none()).unwrap_err();
        assert!(matches!(refused, WriteError::AlreadyThere { .. }));
        assert_eq!(fs::read(&path).unwrap(), b"old");
        write_whole(&path, b"new", Replace::AnythingButScores, &Inputs::none()).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        fs::write(&path, "<score-partwise/>").unwrap();
        let refused = write_whole(&path, b"new", Replace::AnythingButScores, &Inputs::none()).unwrap_err();
        assert!(matches!(refused, WriteError::HoldsAScore { .. }));
        write_whole(&path, b"new", Replace::Anything, &Inputs::none()).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
    }

    #[cfg(unix)]
    #[test]
    fn an_input_is_never_replaced_by_any_spelling_or_link() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("sub")).unwrap();
        fs::write(at("score"), "music").unwrap();
        std::os::unix::fs::symlink(at("score"), at("link")).unwrap();
        std::os::unix::fs::symlink(folder.path(), at("door")).unwrap();
        fs::hard_link(at("score"), at("twin")).unwrap();
        let mut inputs = Inputs::none();
        inputs.add(&at("score"));
        for spelling in ["score", "link", "twin", "sub/../score", "door/score", "./score"] {
            let refused = write_whole(&at(spelling), b"new", Replace::Anything, &inputs).unwrap_err();
            assert!(matches!(refused, WriteError::IsAnInput { .. }), "{spelling}");
        }
        assert_eq!(fs::read(at("score")).unwrap(), b"music");
        // The score read through a link is the same score.
        let mut inputs = Inputs::none();
        inputs.add(&at("link"));
        assert!(inputs.hold(&at("twin")));
    }

    #[cfg(unix)]
    #[test]
    fn behind_a_link_the_file_is_replaced_and_the_link_stays() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("old"), "old").unwrap();
        std::os::unix::fs::symlink(at("old"), at("link")).unwrap();
        write_whole(&at("link"), b"new", Replace::Anything, &Inputs::none()).unwrap();
        assert_eq!(fs::read(at("old")).unwrap(), b"new");
        assert!(fs::symlink_metadata(at("link")).unwrap().is_symlink());
    }

    #[cfg(unix)]
    #[test]
    fn a_device_takes_the_bytes() {
        write_whole(Path::new("/dev/null"), b"x", Replace::Nothing, &Inputs::none()).unwrap();
    }

    #[test]
    fn a_folder_is_no_file() {
        let folder = tempfile::tempdir().unwrap();
        let refused = write_whole(folder.path(), b"x", Replace::Anything, &Inputs::none()).unwrap_err();
        assert!(matches!(refused, WriteError::IsAFolder { .. }));
    }
}
