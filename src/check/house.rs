//! What can be said of the settings only when all scores were checked.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::copy::Inputs;
use super::gather::{Source, gather};
use super::job::Job;
use super::room::Room;
use super::score::Checked;
use super::waivers::Housekeeping;

/// Adds the remarks on waivers, each to the first score that its settings are for. Returns the entries on parts that fit no
/// part, a message each. Of `copies` nothing is asked.
pub(super) fn keep(checked: &mut [(&Job, Checked)], copies: &[PathBuf]) -> Vec<String> {
    let mut not_there = Vec::new();
    let mut seen: Vec<Arc<Room>> = Vec::new();
    for index in 0..checked.len() {
        let room = &checked[index].0.room;
        let settings = &room.settings;
        let is_bare = settings.waivers.is_empty() && settings.parts.is_empty();
        if is_bare || seen.iter().any(|other| Arc::ptr_eq(other, room)) {
            continue;
        }
        seen.push(Arc::clone(room));
        let mut house = Housekeeping::default();
        for (job, checked) in checked.iter().filter(|(job, _)| Arc::ptr_eq(&job.room, room)) {
            house.add(&checked.in_force, &job.paths.shown, &checked.part_names);
        }
        let saw_all = house.has_unused() && saw_all(room, checked, copies);
        if let (true, Some(path)) = (saw_all, &settings.path) {
            let told = house.parts_not_there(settings).into_iter();
            not_there.extend(told.map(|told| format!("{}:{told}", path.display())));
        }
        let findings = house.findings(settings, saw_all);
        checked[index].1.add(&findings);
    }
    not_there
}

/// Whether every score in the settings' folder was checked.
fn saw_all(room: &Room, checked: &[(&Job, Checked)], copies: &[PathBuf]) -> bool {
    let mut read = Inputs::none();
    for copy in copies {
        read.add(copy);
    }
    for (job, _) in checked {
        if let Source::File(path) = &job.source {
            read.add(path);
        }
    }
    let Some(folder) = room.settings.folder() else { return false };
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    gather(&[folder]).scores.iter().all(|source| match source {
        Source::StandardInput => true,
        Source::File(path) => read.hold(path),
    })
}
