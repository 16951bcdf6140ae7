//! Scores read and judged one after the other, with what cannot be read put aside; each keeps its music.

use std::path::Path;
use std::sync::Arc;

use super::fault::caught;
use super::gather::{Gathered, Source};
use super::job::Job;
use super::room::Room;
use super::run::{NoSuchPart, ScoreError};
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
    /// Names of the parts of what was read, and whether one of those that were asked for is there.
    parts: Vec<String>,
    has_wanted_part: bool,
}

impl<'a> Reader<'a> {
    pub(super) fn new(orders: &'a Orders, today: Day, here: &'a Path) -> Reader<'a> {
        Reader { orders, today, here, unread: Vec::new(), parts: Vec::new(), has_wanted_part: false }
    }

    /// # Errors
    ///
    /// Parts were asked for, and nothing that was read has one.
    pub(super) fn found_parts(&self) -> Result<(), NoSuchPart> {
        if self.has_wanted_part || self.parts.is_empty() || self.orders.parts.is_empty() {
            return Ok(());
        }
        let wanted: Vec<String> = self.orders.parts.iter().map(|part| part.as_str().to_owned()).collect();
        Err(NoSuchPart::new(&wanted, self.parts.clone()))
    }

    /// A score in this room; waivers are those for the score that lies where `place` does. `None` for one that cannot be
    /// read, and for a marked copy that nobody named.
    pub(super) fn version(
        &mut self,
        gathered: &Gathered,
        source: &Source,
        place: &Source,
        room: &Arc<Room>,
    ) -> Option<Version> {
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
        let read = || -> Result<Option<Checked>, ScoreError> {
            let Some(bytes) = gathered.read(source)? else { return Ok(None) };
            Ok(Some(check(bytes, &paths, room, &task)?))
        };
        match caught(read).unwrap_or_else(|fault| Err(fault.into())) {
            Ok(checked) => {
                let checked = checked?;
                self.has_wanted_part |= checked.has_wanted_part;
                self.parts.extend(checked.part_names);
                Some(Version { report: checked.report, score: checked.score? })
            }
            Err(error) => {
                let message = printable(&error.to_string()).into_owned();
                self.unread.push(Unread { path: paths.shown, message });
                None
            }
        }
    }
}
