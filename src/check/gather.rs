//! Which scores are meant: files, folders and globs as typed, to a sorted list of files.
//!
//! A file named outright is always taken. In folders, files that `.gitignore` or `.lowbrassignore` leave
//! out are left out, and so are copies that this program wrote and a score that lies there a second time as `.mxl`; both
//! are told. A copy is known by its name and its score, which lies in the same folder or is found with it; a marked
//! one under any name by what stands in it, as soon as it is read ([`Gathered::read`]).

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

use globset::{GlobBuilder, GlobMatcher};
use ignore::WalkBuilder;
use thiserror::Error;

use crate::copies::is_marked;
use crate::intake::{self, IntakeError};
use crate::nearest;
use crate::printable::printable;
use crate::system::in_words;

/// Files in this format and encoding are looked for.
const ENDINGS: [&str; 3] = ["musicxml", "xml", "mxl"];

/// A file of patterns, like `.gitignore`, for lowbrass alone.
const IGNORE_FILE: &str = ".lowbrassignore";

/// The ends of a copy's stem. A marked one that needs no mark is known by nothing else.
const COPIES: [&str; 2] = [".revised", ".marked"];

/// How many bytes of an `.xml` file tell whether it is a score.
const HEAD: u64 = 64 * 1024;

/// Where a score comes from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// Standard input.
    StandardInput,
    /// A file.
    File(PathBuf),
}

impl Source {
    /// What a path means where one score is wanted: `-` is standard input.
    pub fn of(typed: &Path) -> Source {
        if typed == Path::new("-") { Source::StandardInput } else { Source::File(typed.to_owned()) }
    }

    /// All of its bytes.
    ///
    /// # Errors
    ///
    /// The system's, or that there are more than are read.
    pub fn bytes(&self) -> Result<Vec<u8>, IntakeError> {
        match self {
            Source::StandardInput => intake::bytes(io::stdin().lock(), intake::FILE),
            Source::File(path) => intake::file(path, intake::FILE),
        }
    }
}

/// As it was typed.
impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Source::StandardInput => f.write_str("standard input"),
            Source::File(path) => path.display().fmt(f),
        }
    }
}

/// The scores that are meant.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gathered {
    /// In order of their paths, each once.
    pub scores: Vec<Source>,
    /// What lay there and was passed over, in order of paths.
    pub passed_over: Vec<PassedOver>,
    /// What was named and cannot be had; the other scores stand all the same.
    pub missing: Vec<GatherError>,
    /// Marked copies that were left before anything was read for its music.
    pub marked_copies: Vec<PathBuf>,
    /// The folder that a score was found in by looking through it; none for one that was named outright.
    found_in: BTreeMap<PathBuf, PathBuf>,
}

impl Gathered {
    /// All bytes of a score; `None` for a marked copy that nobody named: it is no score of its own.
    ///
    /// # Errors
    ///
    /// As [`Source::bytes`].
    pub fn read(&self, score: &Source) -> Result<Option<Vec<u8>>, IntakeError> {
        let bytes = score.bytes()?;
        Ok((self.is_named(score) || !is_marked(&bytes)).then_some(bytes))
    }

    /// Leaves the marked copies that nobody named. One that cannot be read stays, to be told.
    pub(super) fn leave_marked_copies(&mut self) {
        let scores = std::mem::take(&mut self.scores);
        for score in scores {
            match (self.read(&score), &score) {
                (Ok(None), Source::File(path)) => self.marked_copies.push(path.clone()),
                _ => self.scores.push(score),
            }
        }
    }

    /// Whether a score was named outright.
    fn is_named(&self, score: &Source) -> bool {
        self.found_in(score).is_none()
    }

    /// The folder that was looked through when a score was found.
    pub(super) fn found_in(&self, score: &Source) -> Option<&Path> {
        match score {
            Source::StandardInput => None,
            Source::File(path) => self.found_in.get(path).map(PathBuf::as_path),
        }
    }

    /// Whether a folder or a pattern gave scores.
    pub(super) fn is_of_folders(&self) -> bool {
        !self.found_in.is_empty()
    }
}

/// A file in a folder that is not checked.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PassedOver {
    /// The file.
    pub path: PathBuf,
    /// The file that is checked in its place.
    pub for_the_sake_of: PathBuf,
}

/// Why something named gives no score.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum GatherError {
    /// Nothing is there.
    #[error("{path}: no such file or folder{hint}")]
    NotThere {
        /// As typed.
        path: String,
        /// A near name, as a clause.
        hint: String,
    },
    /// A folder without scores.
    #[error("{path}: no score in this folder (.musicxml, .xml or .mxl)")]
    EmptyFolder {
        /// As typed.
        path: String,
    },
    /// A folder whose scores are all to be left out.
    #[error("{path}: {} left out by an ignore file (.gitignore or {IGNORE_FILE})", if *.count == 1 { "1 score".to_owned() } else { format!("{} scores", .count) })]
    LeftOut {
        /// As typed.
        path: String,
        /// How many there are.
        count: usize,
    },
    /// A pattern that fits no score.
    #[error("{pattern}: no score fits this pattern")]
    NothingFits {
        /// As typed.
        pattern: String,
    },
    /// A pattern that is none.
    #[error("{pattern}: {reason}")]
    Pattern {
        /// As typed.
        pattern: String,
        /// What is wrong with it.
        reason: String,
    },
    /// A folder that cannot be walked.
    #[error("{path}: cannot be read: {reason}; what lies there is not checked")]
    Closed {
        /// The folder.
        path: String,
        /// The system's words.
        reason: String,
    },
    /// Something else in the way.
    #[error("{0}")]
    Walk(String),
}

/// Finds the scores that are meant by what was typed.
pub fn gather<P: AsRef<Path>>(typed: &[P]) -> Gathered {
    let mut gathered = Gathered::default();
    // By what they are and not by how they are spelled.
    let mut seen: BTreeMap<Source, Source> = BTreeMap::new();
    for typed in typed {
        let typed = typed.as_ref();
        match meant(typed, &mut gathered.passed_over, &mut gathered.missing) {
            Ok(Meant { scores, folder }) => {
                for score in scores {
                    let identity = identity(&score);
                    let known = seen.get(&identity);
                    match (known.unwrap_or(&score), &folder) {
                        (Source::File(path), Some(folder)) if known.is_none() => {
                            // As the walk has it.
                            let folder = folder.strip_prefix(".").unwrap_or(folder);
                            gathered.found_in.insert(path.clone(), folder.to_owned());
                        }
                        // Named outright, and perhaps found in a folder before.
                        (Source::File(path), None) => {
                            gathered.found_in.remove(path);
                        }
                        _ => {}
                    }
                    if known.is_none() {
                        seen.insert(identity, score.clone());
                        gathered.scores.push(score);
                    }
                }
            }
            Err(error) => gathered.missing.push(error),
        }
    }
    gathered.scores.sort();
    // What another argument named outright is not passed over.
    let Gathered { scores, passed_over, .. } = &mut gathered;
    passed_over.retain(|over| scores.binary_search(&Source::File(over.path.clone())).is_err());
    passed_over.sort();
    passed_over.dedup();
    gathered
}

/// A path as reports show it: relative to the folder one is in, with `/`, whatever was typed.
pub fn shown(path: &Path, here: &Path) -> String {
    let relative = if path.is_absolute() { relative_to(path, here) } else { path.to_owned() };
    let mut parts: Vec<String> = Vec::new();
    for component in relative.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir if parts.last().is_some_and(|last| last != "..") => {
                parts.pop();
            }
            Component::RootDir => parts.push(String::new()),
            component => parts.push(component.as_os_str().to_string_lossy().into_owned()),
        }
    }
    printable(&parts.join("/")).into_owned()
}

/// The way from a folder to a file, both absolute, up with `..` where it must be.
pub fn relative_to(path: &Path, folder: &Path) -> PathBuf {
    let shared = path.components().zip(folder.components()).take_while(|(a, b)| a == b).count();
    let up = folder.components().skip(shared).map(|_| Component::ParentDir);
    up.chain(path.components().skip(shared)).collect()
}

/// A score's path without its ending, and without what the name of a revised copy says of it.
pub(super) fn without_ending(path: &Path) -> PathBuf {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(COPIES.iter().find_map(|kind| stem.strip_suffix(kind)).unwrap_or(&stem))
}

/// Whether a file is called as scores are.
pub fn named_like_a_score(path: &Path) -> bool {
    ending(path).is_some()
}

/// Whether these first bytes of a file are those of a score, in any encoding that keeps ASCII readable.
pub fn looks_like_a_score(head: &[u8]) -> bool {
    // UTF-16 has a zero beside each ASCII letter.
    let letters: Vec<u8> = head.iter().copied().filter(|byte| *byte != 0).collect();
    [&b"<score-partwise"[..], b"<score-timewise", b"<!DOCTYPE score-"]
        .iter()
        .any(|word| memchr::memmem::find(&letters, word).is_some())
}

/// What is meant by one thing typed.
struct Meant {
    scores: Vec<Source>,
    /// The folder that was looked through.
    folder: Option<PathBuf>,
}

fn meant(
    typed: &Path,
    passed_over: &mut Vec<PassedOver>,
    missing: &mut Vec<GatherError>,
) -> Result<Meant, GatherError> {
    let named = |source| Meant { scores: vec![source], folder: None };
    if typed == Path::new("-") {
        return Ok(named(Source::StandardInput));
    }
    let as_typed = typed.to_string_lossy();
    if typed.is_dir() {
        let closed = missing.len();
        let found = walk(typed, None, passed_over, missing);
        if found.is_empty() && missing.len() == closed {
            let path = as_typed.into_owned();
            return Err(match files(typed, None, Ignoring::Nothing, &mut Vec::new()).len() {
                0 => GatherError::EmptyFolder { path },
                count => GatherError::LeftOut { path, count },
            });
        }
        return Ok(Meant { scores: found, folder: Some(typed.to_owned()) });
    }
    if typed.symlink_metadata().is_ok() || !as_typed.contains(['*', '?', '[', '{']) {
        return if typed.symlink_metadata().is_ok() {
            Ok(named(Source::File(typed.to_owned())))
        } else {
            Err(GatherError::NotThere { path: as_typed.clone().into_owned(), hint: near(typed) })
        };
    }
    let glob = GlobBuilder::new(&as_typed).literal_separator(true).build().map_err(|error| {
        GatherError::Pattern { pattern: as_typed.clone().into_owned(), reason: error.kind().to_string() }
    })?;
    let folder = without_pattern(typed);
    let scores = walk(&folder, Some(&glob.compile_matcher()), passed_over, missing);
    if scores.is_empty() {
        return Err(GatherError::NothingFits { pattern: as_typed.into_owned() });
    }
    Ok(Meant { scores, folder: Some(folder) })
}

/// The folder in front of the first part of a path that holds a pattern.
fn without_pattern(typed: &Path) -> PathBuf {
    typed
        .components()
        .take_while(|part| !part.as_os_str().to_string_lossy().contains(['*', '?', '[', '{']))
        .collect()
}

/// The scores below a folder, without copies of others; what of it cannot be walked is told, and the rest stands.
fn walk(
    folder: &Path,
    only: Option<&GlobMatcher>,
    passed_over: &mut Vec<PassedOver>,
    missing: &mut Vec<GatherError>,
) -> Vec<Source> {
    let files = files(folder, only, Ignoring::AsWritten, missing);
    let all: BTreeSet<&PathBuf> = files.iter().collect();
    let mut taken = Vec::new();
    for path in &files {
        match instead_of(path, &all) {
            Some(for_the_sake_of) => passed_over.push(PassedOver { path: path.clone(), for_the_sake_of }),
            None => taken.push(Source::File(path.clone())),
        }
    }
    taken
}

/// Whether files of patterns leave anything out.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ignoring {
    AsWritten,
    Nothing,
}

/// The files below a folder that are scores by name and head, in order.
fn files(
    folder: &Path,
    only: Option<&GlobMatcher>,
    ignoring: Ignoring,
    missing: &mut Vec<GatherError>,
) -> Vec<PathBuf> {
    let from = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let mut builder = WalkBuilder::new(from);
    if ignoring == Ignoring::Nothing {
        // What is hidden stays so: nobody means it.
        builder.standard_filters(false).hidden(true);
    } else {
        builder.require_git(false).add_custom_ignore_filename(IGNORE_FILE);
    }
    let mut files = Vec::new();
    for entry in builder.build() {
        let path = match entry {
            Ok(entry) => entry.into_path(),
            Err(error) => {
                missing.push(not_walked(&error));
                continue;
            }
        };
        let path = path.strip_prefix("./").map(Path::to_owned).unwrap_or(path);
        let fits = only.is_none_or(|glob| glob.is_match(&path));
        // A link to nowhere is a score that cannot be read, and no reason to pass over it.
        if fits && ending(&path).is_some() && !path.is_dir() && is_a_score(&path) {
            files.push(path);
        }
    }
    files.sort();
    files
}

fn not_walked(error: &ignore::Error) -> GatherError {
    match error {
        ignore::Error::WithDepth { err, .. } => not_walked(err),
        ignore::Error::WithPath { path, err } if err.io_error().is_some() => {
            // Without the whole sentence, which would name the path again.
            let reason = err.io_error().map(|reason| in_words(&reason.kind().into()));
            let path = path.strip_prefix("./").unwrap_or(path).display().to_string();
            GatherError::Closed { path, reason: reason.unwrap_or_default() }
        }
        other => GatherError::Walk(other.to_string()),
    }
}

/// The score that is checked in place of this one: its plain text for a `.mxl`, its source for a revised copy.
fn instead_of(path: &Path, all: &BTreeSet<&PathBuf>) -> Option<PathBuf> {
    let stem = path.file_stem()?.to_str()?;
    if let Some(of) = COPIES.iter().find_map(|kind| stem.strip_suffix(kind)) {
        let beside = ENDINGS.iter().map(|ending| path.with_file_name(format!("{of}.{ending}")));
        let is_source = |other: &&&PathBuf| other.file_stem().is_some_and(|stem| stem == of);
        return beside
            .into_iter()
            .find(|source| source.is_file())
            .or_else(|| all.iter().find(is_source).map(|source| (**source).clone()));
    }
    if ending(path) == Some("mxl") {
        return ["musicxml", "xml"]
            .iter()
            .map(|ending| path.with_extension(ending))
            .find(|plain| all.contains(plain));
    }
    None
}

fn ending(path: &Path) -> Option<&'static str> {
    let ending = path.extension()?.to_str()?;
    ENDINGS.into_iter().find(|known| known.eq_ignore_ascii_case(ending))
}

/// In a folder an `.xml` file may be anything; one that cannot be read is for the reader to report.
fn is_a_score(path: &Path) -> bool {
    if ending(path) != Some("xml") {
        return true;
    }
    let mut head = Vec::new();
    match File::open(path).and_then(|file| file.take(HEAD).read_to_end(&mut head)) {
        Ok(_) => looks_like_a_score(&head),
        Err(_) => true,
    }
}

fn identity(source: &Source) -> Source {
    match source {
        Source::StandardInput => Source::StandardInput,
        Source::File(path) => Source::File(path.canonicalize().unwrap_or_else(|_| path.clone())),
    }
}

/// A file of a near name in the same folder, as a clause.
fn near(typed: &Path) -> String {
    let folder = typed.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let (Some(name), Ok(entries)) = (typed.file_name().and_then(|name| name.to_str()), folder.read_dir())
    else {
        return String::new();
    };
    let mut names: Vec<String> =
        entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    nearest::hint(name, names.iter().map(String::as_str))
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::{Path, PathBuf};

    use super::{GatherError, Gathered, Source, gather, looks_like_a_score, relative_to, shown};

    struct Folder(tempfile::TempDir);

    impl Folder {
        fn with(files: &[&str]) -> Folder {
            let folder = Folder(tempfile::tempdir().unwrap());
            for file in files {
                let path = folder.0.path().join(file);
                fs::create_dir_all(path.parent().unwrap()).unwrap();
                fs::write(path, "<score-partwise/>").unwrap();
            }
            folder
        }

        fn write(&self, file: &str, text: &str) {
            fs::write(self.0.path().join(file), text).unwrap();
        }

        fn gather(&self, typed: &[&str]) -> Gathered {
            gather(&typed.iter().map(|typed| self.0.path().join(typed)).collect::<Vec<_>>())
        }

        #[track_caller]
        fn finds(&self, typed: &[&str], expected: &[&str]) {
            let scores: Vec<String> = self
                .gather(typed)
                .scores
                .iter()
                .map(|source| match source {
                    Source::StandardInput => "-".to_owned(),
                    Source::File(path) => shown(path.strip_prefix(self.0.path()).unwrap(), Path::new("/")),
                })
                .collect();
            assert_eq!(scores, expected);
        }
    }

    #[test]
    fn a_folder_gives_its_scores_in_order_and_nothing_else() {
        let folder = Folder::with(&["b.musicxml", "a/x.MXL", "a/y.xml", "notes.txt", ".hidden/z.musicxml"]);
        folder.write("report.xml", "<testsuites/>");
        folder.finds(&[""], &["a/x.MXL", "a/y.xml", "b.musicxml"]);
    }

    #[test]
    fn ignore_files_leave_scores_out_unless_they_are_named_outright() {
        let folder = Folder::with(&["a.musicxml", "b.musicxml", "old/c.musicxml"]);
        folder.write(".gitignore", "old/\n");
        folder.write(".lowbrassignore", "b.*\n");
        folder.finds(&[""], &["a.musicxml"]);
        folder.finds(&["", "b.musicxml"], &["a.musicxml", "b.musicxml"]);
        folder.write("old/.lowbrassignore", "*\n");
        let left_out = folder.gather(&["old"]).missing;
        assert!(matches!(left_out.as_slice(), [GatherError::LeftOut { count: 1, .. }]), "{left_out:?}");
    }

    #[test]
    fn the_same_score_twice_is_checked_once_and_told() {
        let folder = Folder::with(&["a.musicxml", "a.mxl", "b.mxl", "a.revised.musicxml"]);
        folder.finds(&[""], &["a.musicxml", "b.mxl"]);
        let over: Vec<PathBuf> = folder.gather(&[""]).passed_over.into_iter().map(|over| over.path).collect();
        assert_eq!(over, [folder.0.path().join("a.mxl"), folder.0.path().join("a.revised.musicxml")]);
        folder.finds(&["", "a.mxl"], &["a.musicxml", "a.mxl", "b.mxl"]);
        assert_eq!(folder.gather(&["", "a.mxl"]).passed_over.len(), 1);
    }

    #[test]
    fn a_revised_copy_in_a_folder_of_its_own_is_no_further_score_where_its_source_is_found_too() {
        let folder = Folder::with(&["cues/a.musicxml", "out/a.revised.musicxml", "out/z.revised.musicxml"]);
        folder.finds(&[""], &["cues/a.musicxml", "out/z.revised.musicxml"]);
        // Who looks into the folder of copies alone means them.
        folder.finds(&["out"], &["out/a.revised.musicxml", "out/z.revised.musicxml"]);
    }

    #[test]
    fn a_marked_copy_that_nobody_named_is_no_score() {
        let folder = Folder::with(&["a.musicxml", "look.musicxml"]);
        folder.write("look.musicxml", "<score-partwise><?lowbrass remark?></score-partwise>");
        let read = |typed: &[&str]| -> Vec<bool> {
            let gathered = folder.gather(typed);
            gathered.scores.iter().map(|score| gathered.read(score).unwrap().is_some()).collect()
        };
        assert_eq!(read(&[""]), [true, false]);
        assert_eq!(read(&["look.musicxml"]), [true]);
        assert_eq!(read(&["look.musicxml", ""]), [true, true]);
    }

    #[test]
    fn a_score_typed_twice_is_checked_once() {
        let folder = Folder::with(&["a/x.musicxml"]);
        folder.finds(&["a/x.musicxml", "a/../a/x.musicxml", "a"], &["a/x.musicxml"]);
    }

    #[test]
    fn a_pattern_is_looked_up_where_the_shell_did_not() {
        let folder = Folder::with(&["cue1.musicxml", "cue2.mxl", "sub/cue3.musicxml", "overture.musicxml"]);
        folder.finds(&["cue*"], &["cue1.musicxml", "cue2.mxl"]);
        folder.finds(&["**/cue*.musicxml"], &["cue1.musicxml", "sub/cue3.musicxml"]);
    }

    #[test]
    fn what_is_not_there_is_said_and_the_rest_stands() {
        let folder = Folder::with(&["cue1.musicxml"]);
        fs::create_dir(folder.0.path().join("empty")).unwrap();
        let gathered = folder.gather(&["cue1.musicxm", "empty", "x*", "cue1.musicxml"]);
        assert_eq!(gathered.scores.len(), 1);
        let said: Vec<String> = gathered
            .missing
            .iter()
            .map(|error| error.to_string().replace(&*folder.0.path().to_string_lossy(), "@"))
            .collect();
        assert_eq!(
            said,
            [
                "@/cue1.musicxm: no such file or folder; did you mean 'cue1.musicxml'?",
                "@/empty: no score in this folder (.musicxml, .xml or .mxl)",
                "@/x*: no score fits this pattern",
            ]
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_closed_folder_is_told_and_the_rest_stands() {
        use std::os::unix::fs::PermissionsExt;
        let folder = Folder::with(&["a.musicxml", "closed/b.musicxml"]);
        let closed = folder.0.path().join("closed");
        fs::set_permissions(&closed, fs::Permissions::from_mode(0o000)).unwrap();
        let gathered = folder.gather(&[""]);
        if fs::read_dir(&closed).is_ok() {
            // Nothing is closed to the superuser.
            assert_eq!(gathered.scores.len(), 2);
        } else {
            assert_eq!(gathered.scores.len(), 1);
            let said = gathered.missing[0].to_string();
            assert!(
                said.ends_with("closed: cannot be read: permission denied; what lies there is not checked"),
                "{said}"
            );
        }
        fs::set_permissions(&closed, fs::Permissions::from_mode(0o755)).unwrap();
    }

    #[test]
    fn a_shown_path_is_relative_and_plain() {
        assert_eq!(shown(Path::new("./a/../b/c.mxl"), Path::new("/home")), "b/c.mxl");
        assert_eq!(shown(Path::new("/home/ann/a.mxl"), Path::new("/home/ann")), "a.mxl");
        assert_eq!(shown(Path::new("/srv/a.mxl"), Path::new("/home/ann")), "../../srv/a.mxl");
        assert_eq!(shown(Path::new("../a.mxl"), Path::new("/home/ann")), "../a.mxl");
        assert_eq!(relative_to(Path::new("/a/b/c"), Path::new("/a/d")), Path::new("../b/c"));
    }

    #[test]
    fn a_score_is_known_by_its_head_in_wide_letters_too() {
        let wide: Vec<u8> = "<score-timewise>".encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert!(looks_like_a_score(&wide));
        assert!(looks_like_a_score(b"<?xml version='1.0'?><!DOCTYPE score-partwise>"));
        assert!(!looks_like_a_score(b"<testsuites/>"));
    }
}
