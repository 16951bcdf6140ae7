//! What a note asks against what its register gives.
//!
//! In go a played note and a profile; out comes how many steps of the dynamic scale it is asked beyond the
//! ceiling or below the floor. How much of that is too much is for the rules.

use crate::music::{Dynamic, Seconds};
use crate::profile::Profile;
use crate::score::Played;

/// What a note asks, beside what the horn gives at its pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The loudest that is asked anywhere in the note: level, attack, or where a hairpin leads.
    pub loudest: Dynamic,
    /// The softest that is asked anywhere in it.
    pub softest: Dynamic,
    /// The loudest mark that sounds as marked here, the mute counted in.
    pub ceiling: Dynamic,
    /// The softest mark that speaks reliably here.
    pub floor: Dynamic,
    /// Steps of the scale from the ceiling up to the loudest; 0 where it is not above.
    pub over: i32,
    /// Steps of the scale from the softest up to the floor; 0 where it is not below.
    pub under: i32,
}

/// A short or accented loud note where the pipe answers late.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowHit {
    /// The loudest that is asked.
    pub asked: Dynamic,
    /// The ceiling at its pitch.
    pub ceiling: Dynamic,
    /// How long it sounds.
    pub seconds: Seconds,
    /// It has an accent, a marcato or an attack of its own; otherwise it is only short.
    pub accented: bool,
}

/// What a note asks and gets. `None` before any dynamic mark and outside the rows of the profile.
pub fn asked(played: &Played, profile: &Profile) -> Option<Asked> {
    let row = profile.loudness.at(played.sounding)?;
    let (loudest, softest) = (played.loudest?, played.softest?);
    let ceiling = match played.mute {
        Some(_) => row.ceiling.louder_by(-profile.loudness.muted_steps),
        None => row.ceiling,
    };
    Some(Asked {
        loudest,
        softest,
        ceiling,
        floor: row.floor,
        over: loudest.steps_above(ceiling).max(0),
        under: row.floor.steps_above(softest).max(0),
    })
}

/// Whether a note is a hit too low for the pipe to answer in time: accented or short, loud, and where the
/// register's own ceiling is low. The lengths and levels that count stand in the profile.
pub fn low_hit(played: &Played, profile: &Profile) -> Option<LowHit> {
    let limits = &profile.loudness;
    let ceiling = limits.at(played.sounding)?.ceiling;
    let asked = played.loudest?;
    let accented = played.articulations.is_accented() || played.attack.is_some();
    let short = !played.grace && played.seconds <= limits.hit_longest;
    ((accented || short) && asked >= limits.hit_from && ceiling <= limits.hit_ceiling).then_some(LowHit {
        asked,
        ceiling,
        seconds: played.seconds,
        accented,
    })
}
