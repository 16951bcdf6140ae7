//! A day's cues by player: every score of a folder read and judged, in the order in which a person would name them.

use std::cmp::Ordering;
use std::path::PathBuf;
use std::sync::Arc;

use thiserror::Error;

use super::gather::{GatherError, Gathered, gather};
use super::reader::Reader;
use super::room::{Room, RoomError, Rooms};
use super::run::{NoSuchPart, for_the_run};
use super::seating::{self, Orders};
use crate::playing::instruments::within_reach;
use crate::report::{CueLoad, Session};
use crate::settings::Day;

/// A day, and what of it cannot be had.
#[derive(Clone, Debug)]
pub struct SessionOfCues {
    /// The day.
    pub session: Session,
    /// What was named and cannot be had; the other cues are there all the same.
    pub missing: Vec<GatherError>,
}

/// Why a day cannot be told.
#[derive(Debug, Error)]
pub enum SessionError {
    /// Settings or profiles that cannot be had.
    #[error(transparent)]
    Room(#[from] RoomError),
    /// Parts were asked for that are in none of the scores.
    #[error(transparent)]
    NoSuchPart(#[from] NoSuchPart),
}

/// The settings and profiles that hold for these scores and folders as a whole.
///
/// # Errors
///
/// Settings or profiles that cannot be had.
pub fn room_of(places: &[PathBuf], rooms: &mut Rooms) -> Result<Arc<Room>, RoomError> {
    let of_scores = rooms_of(&gather(places), rooms)?;
    for_the_run(&of_scores, rooms)
}

fn rooms_of(gathered: &Gathered, rooms: &mut Rooms) -> Result<Vec<Arc<Room>>, RoomError> {
    gathered.scores.iter().map(|source| rooms.of_score(source)).collect()
}

/// The day of these scores and folders: cues in the natural order of their paths, 1m9 before 1m10.
///
/// # Errors
///
/// Settings or profiles that cannot be had; parts that were asked for and are in no score. A score that cannot be read is told
/// in the session, and the others go on.
pub fn session(
    places: &[PathBuf],
    rooms: &mut Rooms,
    orders: &Orders,
    today: Day,
) -> Result<SessionOfCues, SessionError> {
    let here = std::env::current_dir().map_err(RoomError::Here)?;
    let gathered = gather(places);
    let mut reader = Reader::new(orders, today, &here);
    let mut cues = Vec::new();
    let of_scores = rooms_of(&gathered, rooms)?;
    let limits = Arc::clone(for_the_run(&of_scores, rooms)?.profiles.section());
    for (source, room) in gathered.scores.iter().zip(&of_scores) {
        let Some(version) = reader.version(&gathered, source, source, room) else { continue };
        let section = seating::seat(&version.score, room, orders);
        let others = within_reach(&section, &room.profiles);
        cues.push(CueLoad::of(&section, &others, &version.report));
    }
    reader.found_parts()?;
    cues.sort_by(|one, other| natural(&one.cue.path, &other.cue.path));
    Ok(SessionOfCues { session: Session::new(cues, &limits, reader.unread), missing: gathered.missing })
}

/// As a person sorts names: numbers in them by their size, letters whatever their case. What is then alike is told apart
/// letter by letter.
fn natural(one: &str, other: &str) -> Ordering {
    let pieces = |name: &str| -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut rest = name;
        while let Some(first) = rest.chars().next() {
            let digits = first.is_ascii_digit();
            let end = rest.find(|letter: char| letter.is_ascii_digit() != digits).unwrap_or(rest.len());
            let (piece, behind) = rest.split_at(end);
            rest = behind;
            pieces.push(if digits {
                let number = piece.trim_start_matches('0');
                // Of two numbers the longer is the greater.
                Piece::Number(number.len(), number.to_owned())
            } else {
                Piece::Word(piece.to_lowercase())
            });
        }
        pieces
    };
    pieces(one).cmp(&pieces(other)).then_with(|| one.cmp(other))
}

/// Digits or anything else.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Piece {
    Number(usize, String),
    Word(String),
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::check::room::Config;
    use crate::check::testing::score;

    #[test]
    fn cues_stand_as_a_person_sorts_them() {
        let mut names = ["reel 10/1m1", "1m10", "2m1", "1m9", "1M2", "reel 9/1m1", "1m02", "1m9a", "1m9-b"];
        names.sort_by(|one, other| natural(one, other));
        assert_eq!(
            names,
            ["1M2", "1m02", "1m9", "1m9-b", "1m9a", "1m10", "2m1", "reel 9/1m1", "reel 10/1m1"]
        );
    }

    /// The day of these cues, and of nothing else.
    fn day(cues: &[(&str, String)]) -> Session {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in cues {
            fs::write(folder.path().join(name), text).unwrap();
        }
        let mut rooms = Rooms::new(Config::None, None);
        let today = "2026-11-25".parse().unwrap();
        let places = [folder.path().to_owned()];
        let mut session = session(&places, &mut rooms, &Orders::default(), today).unwrap().session;
        let name = |path: &str| path.rsplit('/').next().unwrap_or_default().to_owned();
        for day in &mut session.players {
            for cue in &mut day.cues {
                cue.cue = name(&cue.cue);
            }
            for pair in &mut day.hard_in_a_row {
                (pair.first, pair.then) = (name(&pair.first), name(&pair.then));
            }
        }
        session
    }

    fn loud(bars: &[&str]) -> String {
        score(&[("Tuba", bars), ("Bass Trombone", &["r"])]).replace("<mf/>", "<ff/>")
    }

    #[test]
    fn minutes_add_up_and_a_cue_without_a_note_is_none_of_the_players() {
        let session = day(&[
            ("1m9.musicxml", score(&[("Tuba", &["F2", "r", "G2"]), ("Bass Trombone", &["r", "r", "r"])])),
            ("1m10.musicxml", loud(&["D2", "r", "C3"])),
            ("1m11.musicxml", score(&[("Tuba", &["r"]), ("Bass Trombone", &["F2"])])),
        ]);
        let names: Vec<&str> = session.players.iter().map(|day| &*day.name).collect();
        assert_eq!(names, ["Tuba", "Bass Trombone"]);
        let tuba = &session.players[0];
        // A bar lasts two seconds.
        assert!((tuba.plays - 8.0).abs() < 1e-9 && (tuba.loud - 4.0).abs() < 1e-9);
        let cues: Vec<&str> = tuba.cues.iter().map(|cue| &*cue.cue).collect();
        assert_eq!(cues, ["1m9.musicxml", "1m10.musicxml"]);
        assert_eq!((tuba.lowest.as_deref(), tuba.highest.as_deref()), (Some("D2"), Some("C3")));
        assert_eq!(session.players[1].cues.len(), 1);
    }

    #[test]
    fn two_loud_cues_that_follow_each_other_are_told_and_a_cue_between_them_parts_them() {
        let bars = |count: usize| vec!["F2"; count];
        let hard = |count: usize| loud(&bars(count));
        let pairs = |session: &Session| -> Vec<String> {
            let pairs = session.players[0].hard_in_a_row.iter();
            pairs.map(|pair| format!("{} {}", pair.first, pair.then)).collect()
        };
        // Eleven bars are 22 s, more than the 20 s of the section file; nine are less.
        let follow = day(&[("1.musicxml", hard(11)), ("2.musicxml", hard(11)), ("3.musicxml", hard(9))]);
        assert_eq!(pairs(&follow), ["1.musicxml 2.musicxml"]);
        let silent = score(&[("Tuba", &["r"])]);
        let apart = day(&[("1.musicxml", hard(11)), ("2.musicxml", silent), ("3.musicxml", hard(11))]);
        assert!(pairs(&apart).is_empty());
    }

    #[test]
    fn the_hardest_place_is_the_gravest_remark() {
        let session = day(&[("1.musicxml", score(&[("Tuba", &["F2", "r", "F0", "r", "C0"])]))]);
        let hardest = session.players[0].cues[0].hardest.as_ref().unwrap();
        assert_eq!((hardest.rule.as_str(), hardest.bar.as_str()), ("out-of-range", "3"));
        assert!(!session.cautions.is_empty());
    }

    #[test]
    fn what_cannot_be_read_is_told_and_the_rest_of_the_day_stands() {
        let session = day(&[("1.musicxml", "no score".to_owned()), ("2.musicxml", loud(&["F2"]))]);
        assert_eq!((session.unread.len(), session.cues.len()), (1, 1));
    }
}
