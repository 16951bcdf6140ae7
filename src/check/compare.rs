//! Two versions of a score or of a folder of scores: which remarks are gone, new or still there, and which octaves moved.
//!
//! In go two places as they were named; out comes the report's [`Comparison`]. Both versions are read and judged as the new
//! one is, by the settings that hold there, so that only the music makes a difference. Cues of two folders belong
//! together by their names, else by their titles, else by their music; what became of a pair, [`pair`](super::pair) says.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::aligned::in_common;
use super::gather::{GatherError, Gathered, Source, gather, without_ending};
use super::pair::{compare_pair, only};
use super::reader::{Reader, Version};
use super::room::{RoomError, Rooms};
use super::run::NoSuchPart;
use super::seating::Orders;
use crate::report::{Comparison, Remark, ScoreVersions, Unread};
use crate::settings::Day;

/// Cues are taken for one another by their music where they share at least so much of it.
const SAME_MUSIC: f64 = 0.5;

/// Two versions, compared.
#[derive(Clone, Debug)]
pub struct Compared {
    /// What came of it.
    pub comparison: Comparison,
    /// What lay in the folders and cannot be had; the rest was compared all the same.
    pub missing: Vec<GatherError>,
}

/// Why two versions cannot be compared.
#[derive(Debug, Error)]
pub enum CompareError {
    /// Nothing is there.
    #[error(transparent)]
    Gather(#[from] GatherError),
    /// The settings that hold for the new version cannot be had.
    #[error(transparent)]
    Room(#[from] RoomError),
    /// Parts were asked for that are in none of the scores.
    #[error(transparent)]
    NoSuchPart(#[from] NoSuchPart),
    /// A score and a folder in which nothing belongs to it.
    #[error("{folder}: no score in this folder is another version of {score}; name the one that is")]
    NoOther {
        /// The folder.
        folder: String,
        /// The score.
        score: String,
    },
}

/// Compares two versions of a score or folder.
///
/// # Errors
///
/// A place where no score is; settings that cannot be read; parts that were asked for and are in no score. A score that cannot be read is told in the comparison, and
/// the others go on.
pub fn compare(
    (old, new): (&Path, &Path),
    rooms: &mut Rooms,
    orders: &Orders,
    today: Day,
) -> Result<Compared, CompareError> {
    let here = std::env::current_dir().map_err(RoomError::Here)?;
    let (in_old, in_new) = (scores_at(old)?, scores_at(new)?);
    let (mut olds, mut news) = (in_old.scores.clone(), in_new.scores.clone());
    // A version that is kept in a folder of the other is no part of it.
    news.retain(|source| !lies_in(source, old, new));
    olds.retain(|source| !lies_in(source, new, old));
    let new_folder = if new.is_dir() { new } else { new.parent().unwrap_or(Path::new("")) };
    let of_the_new = rooms.of_folder(new_folder)?;
    let folders: Vec<&Path> = [old, new].into_iter().filter(|place| place.is_dir()).collect();
    let (pairs, mut lone_olds, mut lone_news) = by_name((&in_old, olds), (&in_new, news), folders.is_empty());
    if folders.len() == 1 && !pairs.is_empty() {
        // A single score was looked for and is found; what else lies in the folder is not asked about.
        lone_olds.clear();
        lone_news.clear();
    }

    let mut reader = Reader::new(orders, today, &here);
    let mut versions = Vec::new();
    for (old, new) in pairs {
        let room = rooms.of_score(&new)?;
        let pair = (reader.version(&in_old, &old, &new, &room), reader.version(&in_new, &new, &new, &room));
        // Against one that cannot be read all would be new, or gone.
        if let (Some(old), Some(new)) = pair {
            versions.push((Some(old), Some(new)));
        }
    }
    let mut left = Vec::new();
    for old in &lone_olds {
        left.push(reader.version(&in_old, old, old, &of_the_new));
    }
    let mut right = Vec::new();
    for new in &lone_news {
        let room = rooms.of_score(new)?;
        right.push(reader.version(&in_new, new, new, &room));
    }
    for (old, new) in by_music(&left, &right) {
        versions.push((left[old].take(), right[new].take()));
    }
    reader.found_parts()?;
    if let [folder] = folders[..] {
        if versions.is_empty() && reader.unread.is_empty() {
            let score = if folder == old { new } else { old };
            let said = |path: &Path| path.display().to_string();
            return Err(CompareError::NoOther { folder: said(folder), score: said(score) });
        }
    } else {
        versions.extend(right.into_iter().flatten().map(|new| (None, Some(new))));
        versions.extend(left.into_iter().flatten().map(|old| (Some(old), None)));
    }
    versions.sort_by_cached_key(|(old, new)| {
        let path = |version: &Option<Version>| version.as_ref().map(|version| version.report.path.clone());
        (new.is_none(), path(new), path(old))
    });
    let mut unread = reader.unread;
    unread.sort_by(|one, other| one.path.cmp(&other.path));
    let missing = in_old.missing.into_iter().chain(in_new.missing).collect();
    Ok(Compared { comparison: comparison(&versions, unread), missing })
}

fn comparison(versions: &[(Option<Version>, Option<Version>)], unread: Vec<Unread>) -> Comparison {
    let mut scores: Vec<ScoreVersions> = Vec::new();
    let mut remarks: [Vec<Remark>; 3] = Default::default();
    let mut moves = Vec::new();
    let mut cautions: Vec<String> = Vec::new();
    for (old, new) in versions {
        let told = match (old, new) {
            (Some(old), Some(new)) => compare_pair(old, new),
            (old, new) => only(old.as_ref(), new.as_ref()),
        };
        scores.push(told.versions);
        for (all, own) in remarks.iter_mut().zip(told.remarks) {
            all.extend(own);
        }
        moves.extend(told.moves);
        let now = new.as_ref().map(|new| new.report.cautions.as_slice()).unwrap_or_default();
        for caution in now {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
    }
    Comparison::new(scores, remarks, moves, unread, cautions)
}

fn scores_at(place: &Path) -> Result<Gathered, GatherError> {
    let mut gathered = gather(&[place]);
    if gathered.scores.is_empty() {
        let empty = GatherError::EmptyFolder { path: place.display().to_string() };
        return Err(gathered.missing.pop().unwrap_or(empty));
    }
    Ok(gathered)
}

type Scores<'a> = (&'a Gathered, Vec<Source>);
type Pairs = (Vec<(Source, Source)>, Vec<Source>, Vec<Source>);

/// Whether a score that was found in one place belongs to another, which lies in that place.
fn lies_in(source: &Source, inner: &Path, place: &Path) -> bool {
    let Source::File(path) = source else { return false };
    let (Ok(path), Ok(inner), Ok(place)) = (path.canonicalize(), inner.canonicalize(), place.canonicalize())
    else {
        return false;
    };
    inner != place && inner.starts_with(&place) && path.starts_with(&inner)
}

/// Those that are called alike: two single scores always; in folders by their way from there, then by their own name where
/// only one on each side has it. The endings, and that one is a revised copy, do not matter.
fn by_name((old, mut olds): Scores<'_>, (new, mut news): Scores<'_>, are_single: bool) -> Pairs {
    if let ([one], [other], true) = (&olds[..], &news[..], are_single) {
        return (vec![(one.clone(), other.clone())], Vec::new(), Vec::new());
    }
    let way = |found: &Gathered, source: &Source| match source {
        Source::StandardInput => PathBuf::from("-"),
        Source::File(path) => {
            let inside = match found.found_in(source) {
                Some(root) => path.strip_prefix(root).ok(),
                None => path.file_name().map(Path::new),
            };
            without_ending(inside.unwrap_or(path))
        }
    };
    let mut pairs = Vec::new();
    let mut pair =
        |olds: &mut Vec<Source>, news: &mut Vec<Source>, name: &dyn Fn(&Gathered, &Source) -> PathBuf| {
            let named = |found: &Gathered, scores: &[Source]| {
                let mut named: BTreeMap<PathBuf, Vec<Source>> = BTreeMap::new();
                for score in scores {
                    named.entry(name(found, score)).or_default().push(score.clone());
                }
                named
            };
            let others = named(new, news);
            for (name, scores) in named(old, olds) {
                if let ([one], Some([other])) = (&scores[..], others.get(&name).map(Vec::as_slice)) {
                    pairs.push((one.clone(), other.clone()));
                    olds.retain(|score| score != one);
                    news.retain(|score| score != other);
                }
            }
        };
    pair(&mut olds, &mut news, &way);
    let own_name =
        |found: &Gathered, source: &Source| way(found, source).file_name().unwrap_or_default().into();
    pair(&mut olds, &mut news, &own_name);
    (pairs, olds, news)
}

/// Those that have one title, then those that have most music in common. Indices.
fn by_music(old: &[Option<Version>], new: &[Option<Version>]) -> Vec<(usize, usize)> {
    let title = |version: &Option<Version>| -> Option<String> {
        let title = version.as_ref()?.report.title.as_deref()?.trim().to_lowercase();
        (!title.is_empty()).then_some(title)
    };
    let only_one = |versions: &[Option<Version>], wanted: &str| -> Option<usize> {
        let mut found =
            (0..versions.len()).filter(|index| title(&versions[*index]).as_deref() == Some(wanted));
        found.next().filter(|_| found.next().is_none())
    };
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for index in 0..old.len() {
        let Some(title) = title(&old[index]) else { continue };
        if let (Some(_), Some(other)) = (only_one(old, &title), only_one(new, &title)) {
            pairs.push((index, other));
        }
    }
    let (mut olds, mut news): (BTreeSet<usize>, BTreeSet<usize>) =
        ((0..old.len()).collect(), (0..new.len()).collect());
    for (one, other) in &pairs {
        olds.remove(one);
        news.remove(other);
    }
    let mut shares: Vec<(f64, usize, usize)> = Vec::new();
    for &one in &olds {
        for &other in &news {
            if let (Some(old), Some(new)) = (&old[one], &new[other]) {
                shares.push((in_common(&old.score, &new.score), one, other));
            }
        }
    }
    shares.retain(|(share, ..)| *share >= SAME_MUSIC);
    shares.sort_by(|one, other| other.0.total_cmp(&one.0).then((one.1, one.2).cmp(&(other.1, other.2))));
    for (_, one, other) in shares {
        if olds.contains(&one) && news.contains(&other) {
            olds.remove(&one);
            news.remove(&other);
            pairs.push((one, other));
        }
    }
    pairs
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::check::room::Config;
    use crate::check::testing::score;
    use crate::finding::Severity;

    /// Two folders with these scores, compared.
    #[track_caller]
    fn compared(old: &[(&str, String)], new: &[(&str, String)]) -> Comparison {
        let folder = tempfile::tempdir().unwrap();
        for (name, scores) in [("old", old), ("new", new)] {
            for (path, text) in scores {
                let path = folder.path().join(name).join(path);
                fs::create_dir_all(path.parent().unwrap()).unwrap();
                fs::write(path, text).unwrap();
            }
        }
        let place = |name: &str, scores: &[(&str, String)]| match scores {
            [(only, _)] => folder.path().join(name).join(only),
            _ => folder.path().join(name),
        };
        let mut rooms = Rooms::new(Config::None, None);
        let today = "2026-11-25".parse().unwrap();
        let places = (place("old", old), place("new", new));
        compare((&places.0, &places.1), &mut rooms, &Orders::default(), today).unwrap().comparison
    }

    fn tuba(bars: &[&str]) -> String {
        score(&[("Tuba", bars)])
    }

    fn titled(title: &str, bars: &[&str]) -> String {
        tuba(bars).replace("<part-list>", &format!("<movement-title>{title}</movement-title><part-list>"))
    }

    fn said(remarks: &[Remark]) -> Vec<String> {
        let warnings = remarks.iter().filter(|remark| remark.finding.severity > crate::report::Level::Note);
        warnings.map(|remark| format!("{} {}", remark.finding.bar, remark.finding.rule)).collect()
    }

    fn paired(comparison: &Comparison) -> Vec<(Option<String>, Option<String>)> {
        // The folder they lie in is another in each run.
        let name = |path: &Option<String>| -> Option<String> {
            let path = path.as_deref()?;
            Some(path[path.find("/old/").or(path.find("/new/"))? + 5..].to_owned())
        };
        comparison.scores.iter().map(|score| (name(&score.old), name(&score.new))).collect()
    }

    fn named(old: &str, new: &str) -> (Option<String>, Option<String>) {
        let name = |name: &str| (name != "-").then(|| name.to_owned());
        (name(old), name(new))
    }

    #[test]
    fn a_remark_is_gone_new_or_still_there_and_its_octave_told_note_by_note() {
        let old = tuba(&["F1", "F0", "r", "C0", "r", "F1"]);
        let new = tuba(&["F1", "F1", "r", "C0", "r", "F5"]);
        let comparison = compared(&[("cue.musicxml", old)], &[("cue v2.musicxml", new)]);
        assert_eq!(said(&comparison.gone), ["2 out-of-range"]);
        assert_eq!(said(&comparison.new), ["6 out-of-range"]);
        assert_eq!(said(&comparison.still_there), ["4 out-of-range"]);
        let moved: Vec<(i32, &str, &str, &str)> = comparison
            .moves
            .iter()
            .flat_map(|moved| {
                moved
                    .notes
                    .iter()
                    .map(|note| (moved.octaves, note.at.bar.as_str(), note.from.as_str(), note.to.as_str()))
            })
            .collect();
        assert_eq!(moved, [(1, "2", "F0", "F1"), (4, "6", "F1", "F5")]);
        assert!(comparison.is_worse(Severity::Error));
    }

    #[test]
    fn bars_put_in_make_nothing_new() {
        let old = tuba(&["F1", "F0", "r", "F0", "A1"]);
        let new = tuba(&["G1", "A1", "F1", "F0", "r", "B1", "F0", "A1"]);
        let comparison = compared(&[("a.musicxml", old)], &[("a.musicxml", new)]);
        assert_eq!((said(&comparison.gone), said(&comparison.new)), (vec![], vec![]));
        assert_eq!(said(&comparison.still_there), ["4 out-of-range", "7 out-of-range"]);
        let was: Vec<&str> = comparison
            .still_there
            .iter()
            .filter_map(|remark| remark.was.as_ref())
            .map(|was| &*was.bar)
            .collect();
        assert!(was.contains(&"2") && was.contains(&"4"), "{was:?}");
        let put_in: Vec<(&str, &str)> =
            comparison.scores[0].bars_inserted.iter().map(|bars| (&*bars.from, &*bars.to)).collect();
        assert_eq!(put_in, [("1", "2"), ("6", "6")]);
        assert!(!comparison.is_worse(Severity::Note));
    }

    #[test]
    fn a_like_bar_put_in_before_is_the_new_one_and_no_other() {
        let old = tuba(&["F1", "F0", "r", "F1"]);
        let new = tuba(&["F0", "r", "F1", "F0", "r", "F1"]);
        let comparison = compared(&[("a.musicxml", old)], &[("a.musicxml", new)]);
        assert_eq!(said(&comparison.new), ["1 out-of-range"]);
        assert_eq!(said(&comparison.still_there), ["4 out-of-range"]);
    }

    #[test]
    fn a_fault_cured_here_and_made_there_is_gone_and_new() {
        let old = tuba(&["F1", "r", "A1", "r", "F0", "r", "B1"]);
        let new = tuba(&["F0", "r", "A1", "r", "F1", "r", "B1"]);
        let comparison = compared(&[("a.musicxml", old)], &[("a.musicxml", new)]);
        assert_eq!(said(&comparison.gone), ["5 out-of-range"]);
        assert_eq!(said(&comparison.new), ["1 out-of-range"]);
    }

    #[test]
    fn a_passage_cut_out_and_put_in_elsewhere_takes_its_remark_along() {
        let old = tuba(&["F0", "G1", "A1", "B1", "C2", "D2", "E2"]);
        let new = tuba(&["G1", "A1", "B1", "C2", "D2", "E2", "F0"]);
        let comparison = compared(&[("a.musicxml", old)], &[("a.musicxml", new)]);
        assert_eq!((said(&comparison.gone), said(&comparison.new)), (vec![], vec![]));
        assert_eq!(said(&comparison.still_there), ["7 out-of-range"]);
    }

    #[test]
    fn cues_of_folders_are_paired_by_name_then_title_then_music() {
        let old = [
            ("1m1.musicxml", tuba(&["F1", "F0"])),
            ("reel 2/2m1.musicxml", tuba(&["G1", "F0"])),
            ("third.musicxml", titled("Slack Water", &["A1", "B1"])),
            ("fourth.musicxml", tuba(&["C2", "D2", "E2", "F2"])),
            ("dropped.musicxml", tuba(&["G2", "G2", "r", "A2"])),
        ];
        let new = [
            ("1m1.revised.xml", tuba(&["F1", "F1"])),
            ("2m1.musicxml", tuba(&["G1", "F0"])),
            ("3m1.musicxml", titled("Slack water", &["D3", "E3"])),
            ("4m1.musicxml", tuba(&["C2", "D2", "E2", "A2"])),
            ("added.musicxml", tuba(&["B2", "C0"])),
        ];
        let comparison = compared(&old, &new);
        assert_eq!(
            paired(&comparison),
            [
                named("1m1.musicxml", "1m1.revised.xml"),
                named("reel 2/2m1.musicxml", "2m1.musicxml"),
                named("third.musicxml", "3m1.musicxml"),
                named("fourth.musicxml", "4m1.musicxml"),
                named("-", "added.musicxml"),
                named("dropped.musicxml", "-"),
            ]
        );
        assert_eq!(said(&comparison.new), ["2 out-of-range"]);
        let summary = comparison.summary;
        assert_eq!((summary.compared, summary.added, summary.removed), (4, 1, 1));
    }

    #[test]
    fn a_score_is_found_in_a_folder_and_nothing_else_there_is_asked_about() {
        let new = [("a.musicxml", tuba(&["F1"])), ("b.musicxml", tuba(&["F0"]))];
        let comparison = compared(&[("a.musicxml", tuba(&["F1"]))], &new);
        assert_eq!(paired(&comparison), [named("a.musicxml", "a.musicxml")]);
        assert!(comparison.new.is_empty());
    }

    #[test]
    fn a_version_kept_inside_the_other_is_no_part_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("monday")).unwrap();
        fs::write(at("a.musicxml"), tuba(&["F0"])).unwrap();
        fs::write(at("monday/a.musicxml"), tuba(&["F1"])).unwrap();
        let of = |old: &Path, new: &Path| {
            let today = "2026-11-25".parse().unwrap();
            let mut rooms = Rooms::new(Config::None, None);
            let compared = compare((old, new), &mut rooms, &Orders::default(), today).unwrap().comparison;
            (said(&compared.new), said(&compared.gone), compared.scores.len())
        };
        let low = vec!["1 out-of-range".to_owned()];
        assert_eq!(of(&at("monday"), folder.path()), (low.clone(), vec![], 1));
        assert_eq!(of(folder.path(), &at("monday")), (vec![], low, 1));
    }

    #[test]
    fn a_score_that_cannot_be_read_is_told_and_the_others_go_on() {
        let old = [("a.musicxml", tuba(&["F0"])), ("b.musicxml", "tuba".to_owned())];
        let new = [("a.musicxml", tuba(&["F1"])), ("b.musicxml", tuba(&["F0"]))];
        let comparison = compared(&old, &new);
        assert_eq!(said(&comparison.gone), ["1 out-of-range"]);
        assert!(comparison.new.is_empty());
        assert_eq!(comparison.unread.len(), 1);
        assert!(comparison.unread[0].path.ends_with("old/b.musicxml"));
    }
}
