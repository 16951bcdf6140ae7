//! Breath: what a note uses, where a player breathes, what is left, and where it does not suffice.
//!
//! In go a desk and one of its lines; out comes the cheapest set of places to breathe over the performance:
//! rests, marked breaths, ends of long notes before a bar line, slur ends, and, where nothing else is left, a
//! breath stolen from the end of a re-struck note; never inside a slur or a tie. All amounts are shares of one full
//! breath of this player ([`Desk::breath`](crate::playing::Desk::breath) scales the profile's).

mod air;
mod cheapest;
mod everyone;
mod planner;
mod recovery;

use crate::music::{BreathShare, Onset, Seconds};

pub use air::{refill, sustain, use_of};
pub use everyone::all_breathe;
pub use planner::plan;
pub use recovery::recovery;

/// Where a player breathes, in the order of performance, and where that does not suffice.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BreathPlan {
    /// The breaths, in the order of performance.
    pub places: Vec<BreathPlace>,
    /// Notes that alone need more than one breath (`note-longer-than-breath`), once each, in written order.
    pub notes_too_long: Vec<TooLong>,
    /// Slurred runs, none of whose notes is too long alone, that need more than one breath and leave no place
    /// (`phrase-longer-than-breath`), once each, in written order.
    pub phrases_too_long: Vec<TooLong>,
    /// Where the air gives out although each phrase alone would fit one breath: the rests and gaps before it
    /// are too short to refill (`no-room-to-breathe`), once each, in written order.
    pub shortfalls: Vec<Shortfall>,
}

/// One breath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BreathPlace {
    /// Index into [`Line::performed`](crate::score::Line::performed) of the note it is taken behind.
    pub after: usize,
    /// What makes room for it.
    pub kind: BreathKind,
    /// Seconds it takes, what is stolen from the note included.
    pub seconds: Seconds,
    /// Seconds of it that are stolen from the end of the note.
    pub stolen: Seconds,
    /// What was left before it.
    pub before: BreathShare,
    /// What is in the lungs behind it.
    pub behind: BreathShare,
}

/// What makes room for a breath, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum BreathKind {
    /// A written rest; the gap a staccato leaves is none.
    Rest,
    /// A breath mark or a caesura.
    Marked,
    /// The end of a long note before a bar line, or at a slur's end.
    LongNote,
    /// The end of a slur, or a bar line.
    SlurEnd,
    /// Between two re-struck notes.
    Stolen,
}

/// A note or a slurred run that needs more than one breath.
#[derive(Clone, Debug, PartialEq)]
pub struct TooLong {
    /// First note, as an index into [`Line::played`](crate::score::Line::played).
    pub from: usize,
    /// Last note, inclusive; the same for a single note.
    pub to: usize,
    /// What it needs; more than 1.
    pub needs: BreathShare,
    /// Seconds it sounds.
    pub seconds: Seconds,
    /// Seconds that one full breath lasts from its start.
    pub lasts: Seconds,
    /// The played notes behind whose ends breaths do least harm, as many as are needed, where these suffice (for a run; none
    /// for a single note).
    pub least_bad: Vec<usize>,
    /// For a single note under a fermata: how long that may be held, and what it takes.
    pub fermata: Option<Held>,
    /// For a single tied note: the places inside where breaths do least harm, each the last bar line or written joint that one
    /// breath reaches. None where they do not suffice.
    pub joints: Vec<Onset>,
    /// A player of so much more air as the section's limits have it does not come through either.
    pub for_anyone: bool,
}

/// A note under a fermata: seconds and air as a rule and where it is long ([`Fermata`](crate::score::Fermata)).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// As a rule.
    pub usual: (Seconds, BreathShare),
    /// Where it is long.
    pub long: (Seconds, BreathShare),
}

/// A run for which there is not air enough left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shortfall {
    /// First note behind the last breath, as an index into [`Line::played`](crate::score::Line::played).
    pub from: usize,
    /// The note on which the air gives out, inclusive.
    pub to: usize,
    /// What `from` up to `to` need.
    pub needs: BreathShare,
    /// What was in the lungs at `from`.
    pub has: BreathShare,
    /// Seconds of the breath before `from`; 0 where there was none.
    pub room: Seconds,
    /// In which pass of a repeat, from 1.
    pub pass: u32,
    /// A player of so much more air as the section's limits have it does not come through either.
    pub for_anyone: bool,
}

impl BreathPlan {
    /// First and last note of what fails.
    fn troubles(&self) -> impl Iterator<Item = (usize, usize)> {
        let long = self.notes_too_long.iter().chain(&self.phrases_too_long).map(|long| (long.from, long.to));
        long.chain(self.shortfalls.iter().map(|short| (short.from, short.to)))
    }

    /// Whether there is air enough for everything.
    fn suffices(&self) -> bool {
        self.troubles().next().is_none()
    }
}

/// How much of the time a line sounds, and how long it goes on without rest (`no-rest-to-recover`).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Recovery {
    /// Share of the whole performance in which it sounds.
    pub share: f64,
    /// The windows ([`RestLimits::window`](crate::profile::RestLimits::window)) in which it sounds more than [`RestLimits::share`](crate::profile::RestLimits::share), one for each
    /// busy stretch, in order of performance: the busiest of each.
    pub windows: Vec<BusyWindow>,
    /// Runs without a gap of [`RestLimits::gap`](crate::profile::RestLimits::gap) that pass their limit, in order of performance.
    pub runs: Vec<Run>,
}

/// A window in which a line hardly rests. Indices into [`Line::performed`](crate::score::Line::performed), `to` inclusive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BusyWindow {
    /// First note in it.
    pub from: usize,
    /// Last note in it.
    pub to: usize,
    /// Share of the window that sounds.
    pub share: f64,
}

/// A run without rest. Indices into [`Line::performed`](crate::score::Line::performed), `to` inclusive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Its first note.
    pub from: usize,
    /// Its last note.
    pub to: usize,
    /// How long it is.
    pub seconds: Seconds,
    /// How long of it sounds loud enough to tire ([`RunLimits::warning`](crate::profile::RunLimits::warning) of long runs).
    pub tiring: Seconds,
    /// What it needs of full breaths.
    pub breaths: BreathShare,
    /// The share of the time that taking them in would cost.
    pub breathing: f64,
    /// What kind.
    pub kind: RunKind,
}

/// What is too much in a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum RunKind {
    /// Its length alone.
    Long,
    /// Its loudness.
    Loud,
    /// Its height above the usual span.
    High,
    /// The air that it takes.
    Airless,
}

/// A stretch in which everybody who sounds needs a breath inside a held note and nobody covers.
#[derive(Clone, Debug, PartialEq)]
pub struct AllBreathe {
    /// Where all of them hold, written order.
    pub from: Onset,
    /// Up to here.
    pub to: Onset,
    /// Who: index into [`Section::desks`](crate::playing::Section::desks), into [`Desk::lines`](crate::playing::Desk::lines), into [`Line::played`](crate::score::Line::played); at least two.
    pub holds: Vec<(usize, usize, usize)>,
}
