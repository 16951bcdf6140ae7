//! Which horn suits which passage, where to change, and what to bring.
//!
//! In go a desk and the profiles within its player's reach; out come plain data for the reports and an answer
//! for the range rules: whether another horn takes a note without a remark.

use std::sync::Arc;

use crate::music::{Onset, Seconds};
use crate::playing::{Desk, Section};
use crate::profile::Profile;
use crate::score::{Mute, Played};

/// How well a horn takes a note: worse is greater.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// In its usual span, at a dynamic it gives.
    Suits,
    /// Beyond its usual span, or a step beyond its loudness: worth a thought.
    Beyond,
    /// In an extreme zone or an effect, two steps or more beyond its loudness, or badly in tune.
    Strained,
    /// It has no such note.
    Missing,
}

/// A stretch of a line on one horn.
#[derive(Clone, Debug)]
pub struct HornStretch {
    /// Index into [`Desk::lines`].
    pub line: usize,
    /// First played note.
    pub from: usize,
    /// Last played note, inclusive.
    pub to: usize,
    /// The horn that suits best.
    pub horn: Arc<Profile>,
    /// The worst it meets there.
    pub worst: Verdict,
    /// Notes of the stretch that are worse than [`Verdict::Suits`] on it.
    pub beyond: usize,
    /// The change to it; `None` for the first stretch.
    pub change: Option<HornChange>,
}

/// A change from one horn to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HornChange {
    /// Where the last note before it ends, written order.
    pub from: Onset,
    /// Where the first note behind it begins.
    pub to: Onset,
    /// Seconds of rest for it, by the performance: the shortest of all passes.
    pub seconds: Seconds,
    /// Seconds below which it is a risk, and below which it cannot be done.
    pub wanted: (Seconds, Seconds),
}

/// What a player brings for one score.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Kit {
    /// Index into [`Section::desks`].
    pub desk: usize,
    /// Names of the profiles of the horns, in order of first use.
    pub horns: Vec<String>,
    /// Mutes with the name of the profile they are for, in order of first use.
    pub mutes: Vec<(String, Mute)>,
}

/// How well a horn takes a note.
pub fn suits(_profile: &Profile, _played: &Played) -> Verdict {
    Verdict::Suits
}

/// Whether one of the desk's other horns ([`Desk::also`]) takes a note without any remark.
pub fn another_suits(desk: &Desk<'_>, played: &Played) -> bool {
    desk.also.iter().any(|horn| suits(horn, played) == Verdict::Suits)
}

/// The best horn for each stretch of each line of a desk, out of the one in hand and [`Desk::also`]: as few notes
/// as can be that strain, then as few changes.
pub fn stretches(_desk: &Desk<'_>, _section: &Section<'_>) -> Vec<HornStretch> {
    Vec::new()
}

/// What each desk brings: the horns the score asks by word or the passages by their best choice, and the mutes.
pub fn kits(_section: &Section<'_>) -> Vec<Kit> {
    Vec::new()
}
