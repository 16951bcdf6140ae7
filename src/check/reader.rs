//! Scores read and judged one after the other, with what cannot be read put aside; each keeps its music.

use std::path::Path;
use std::sync::Arc;

use super::fault::caught;
use super::gather::Source;
use super::job::Job;
use super::room::Room;
use super::run::ScoreError;
use super::score::{Accepts, Checked, Paths, Task, check};
use super::seating::Orders;
use crate::printable::printable;
use crate::report::{self, Unread};
use crate::score::Score;
use crate::settings::Day;

/// A score, read and judged.
pub(super) struct Version {
    pub(super) report: report::Score,
    pub(super) score: Score,
}

/// Reads and judges versions of scores, and keeps those that cannot be read.
pub(super) struct Reader<'a> {
    pub(super) orders: &'a Orders,
    pub(super) today: Day,
    pub(super) here: &'a Path,
    pub(super) unread: Vec<Unread>,
}

impl Reader<'_> {
    /// A score in this room; waivers are those for the score that lies where `place` does.
    pub(super) fn version(&mut self, source: &Source, place: &Source, room: &Arc<Room>) -> Option<Version> {
        let own = |source: &Source| Job::new(source.clone(), Arc::clone(room), self.here, None).paths;
        let paths = Paths { from_settings: own(place).from_settings, ..own(source) };
        let task = Task {
            orders: self.orders,
            today: self.today,
            accepts: Accepts::Nothing,
            include_review: false,
            revise: false,
            mark: None,
            draw: false,
            keep_score: true,
        };
        let read = || -> Result<Checked, ScoreError> { Ok(check(source.bytes()?, &paths, room, &task)?) };
        match caught(read).unwrap_or_else(|fault| Err(fault.into())) {
            Ok(checked) => Some(Version { report: checked.report, score: checked.score? }),
            Err(error) => {
                let message = printable(&error.to_string()).into_owned();
                self.unread.push(Unread { path: paths.shown, message });
                None
            }
        }
    }
}
