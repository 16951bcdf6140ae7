//! Agility: how short a tongued note may be where it lies, and how wide a leap in so little time.

use crate::music::{Seconds, Sounding};
use crate::profile::Profile;
use crate::score::{Join, Line};

/// A tongued note shorter than its register allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TooShort {
    /// Seconds from its onset to the next.
    pub seconds: Seconds,
    /// The shortest that speaks there.
    pub shortest: Seconds,
    /// Cycles of its pitch that fit.
    pub cycles: f64,
    /// The pipe answers too late; otherwise the tongue is too slow.
    pub pipe: bool,
}

/// A leap too wide for its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leap {
    /// Semitones, up or down.
    pub semitones: f64,
    /// Seconds from onset to onset.
    pub seconds: Seconds,
    /// The widest that fits so little time.
    pub widest: f64,
}

/// The shortest tongued note at a pitch: the tongue's limit (double where that is usual) or the cycles the pitch needs to be
/// heard, whichever is longer, times the horn's slowness.
pub fn shortest(profile: &Profile, pitch: Sounding) -> Seconds {
    let agility = &profile.agility;
    let tongue = agility.double_tongue.unwrap_or(agility.single_tongue).get();
    Seconds::new(tongue.max(agility.cycles / pitch.hertz()) * agility.slowness)
}

/// Whether a note of a line is too short for its register: struck by the tongue, not slurred on, and followed sooner
/// than [`shortest`] allows. Slurred notes and grace notes are free.
pub fn too_short(line: &Line, index: usize, profile: &Profile) -> Option<TooShort> {
    let note = line.played.get(index)?;
    let tongued = index.checked_sub(1).is_none_or(|before| !line.played[before].joins.has(Join::Slur));
    if note.grace || !tongued || note.joins.has(Join::Slur) {
        return None;
    }
    let seconds = to_next(line, index)?;
    let limit = shortest(profile, note.sounding);
    // Onsets in seconds are sums of floats: a note exactly as long as its limit is long enough.
    (seconds.get() < limit.get() - 1e-9).then(|| TooShort {
        seconds,
        shortest: limit,
        cycles: note.sounding.hertz() * seconds.get(),
        pipe: profile.agility.cycles / note.sounding.hertz()
            > profile.agility.double_tongue.unwrap_or(profile.agility.single_tongue).get(),
    })
}

/// The leap from a note of a line to the next, where it is too wide for the time between their onsets. Grace notes are
/// free.
pub fn leap(line: &Line, index: usize, profile: &Profile) -> Option<Leap> {
    let (note, next) = (line.played.get(index)?, line.played.get(index + 1)?);
    if note.grace || next.grace {
        return None;
    }
    let seconds = to_next(line, index)?;
    let semitones = next.sounding.height().semitones_above(note.sounding.height()).abs();
    let passed = |&&(wide, within): &&(f64, Seconds)| semitones > wide && seconds.get() < within.get() - 1e-9;
    let widest = profile.agility.leaps.iter().filter(passed).map(|&(wide, _)| wide).reduce(f64::min)?;
    Some(Leap { semitones, seconds, widest })
}

/// Seconds from the onset of a note to that of the next that is no grace note; `None` behind the last.
fn to_next(line: &Line, index: usize) -> Option<Seconds> {
    let next = line.played[index + 1..].iter().find(|next| !next.grace)?;
    Some(next.start - line.played[index].start)
}
