//! Agility: how short a tongued note may be where it lies, and how wide a leap in so little time.

use crate::finding::Sourced;
use crate::music::{Seconds, Sounding};
use crate::profile::Profile;
use crate::score::{Join, Line, Ornament, Played};

/// A tongued note shorter than its register allows.
#[derive(Clone, Debug, PartialEq)]
pub struct TooShort {
    /// Seconds from its onset to the next.
    pub seconds: Seconds,
    /// The shortest that speaks there.
    pub shortest: Sourced<Seconds>,
    /// Cycles of its pitch that fit.
    pub cycles: f64,
    /// The pipe answers too late; otherwise the tongue is too slow.
    pub pipe: bool,
}

/// A leap too wide for its time.
#[derive(Clone, Debug, PartialEq)]
pub struct Leap {
    /// Semitones, up or down.
    pub semitones: f64,
    /// Seconds from onset to onset.
    pub seconds: Seconds,
    /// The widest that fits so little time.
    pub widest: Sourced<f64>,
}

/// The shortest tongued note at a pitch: the tongue's limit (double where that is usual) or the cycles the pitch needs to be
/// heard, whichever is longer, times the instrument's slowness.
pub fn shortest(profile: &Profile, pitch: Sounding) -> Sourced<Seconds> {
    let agility = &profile.agility;
    let tongue = agility.tongue().map(|seconds| seconds.get());
    let pipe = agility.cycles.map(|cycles| cycles / pitch.hertz());
    let longer = if *pipe > *tongue { pipe } else { tongue };
    let slowness = &agility.slowness;
    let ground = if (**slowness - 1.0).abs() < f64::EPSILON {
        longer.ground
    } else {
        longer.ground.and(&slowness.ground)
    };
    Sourced { value: Seconds::new(longer.value * **slowness), ground }
}

/// Whether a note of a line is too short for its register: struck by the tongue, not slurred on, and followed sooner
/// than [`shortest`] allows. Slurred notes and grace notes are free.
pub fn too_short(line: &Line, index: usize, profile: &Profile) -> Option<TooShort> {
    let note = line.played.get(index)?;
    let tongued = index.checked_sub(1).is_none_or(|before| !line.played[before].joins.has(Join::Slur));
    if note.grace || !tongued || note.joins.has(Join::Slur) {
        return None;
    }
    let seconds = struck_every(note).or_else(|| to_next(line, index))?;
    let limit = shortest(profile, note.sounding);
    // Onsets in seconds are sums of floats: a note exactly as long as its limit is long enough.
    (seconds.get() < limit.get() - 1e-9).then(|| TooShort {
        seconds,
        shortest: limit,
        cycles: note.sounding.hertz() * seconds.get(),
        pipe: *profile.agility.cycles / note.sounding.hertz() > profile.agility.tongue().get(),
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
    let passed = |leap: &&Sourced<(f64, Seconds)>| {
        let (wide, within) = leap.value;
        semitones > wide && seconds.get() < within.get() - 1e-9
    };
    let narrowest = profile.agility.leaps.iter().filter(passed).min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(Leap { semitones, seconds, widest: narrowest.map(|(wide, _)| *wide) })
}

/// Seconds from stroke to stroke of a measured tremolo: an eighth for one stroke, a 16th for two (common practice, no source).
fn struck_every(note: &Played) -> Option<Seconds> {
    let Some(Ornament::Repeated { strokes }) = note.ornament else { return None };
    let struck = note.length().in_quarters() * f64::from(strokes).exp2();
    // A note shorter than its strokes is struck once.
    (struck > 1.0).then(|| Seconds::new(note.seconds.get() / struck))
}

/// Seconds from the onset of a note to that of the next that is no grace note; `None` behind the last.
fn to_next(line: &Line, index: usize) -> Option<Seconds> {
    let next = line.played[index + 1..].iter().find(|next| !next.grace)?;
    Some(next.start - line.played[index].start)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{instrument, pitch};
    use crate::score::testing::music;

    const TUBA: &str = "contrabass-tuba-c";

    /// Which notes of a line are too short for an instrument.
    fn short(profile: &Profile, text: &str) -> Vec<usize> {
        let music = music(text);
        let line = &music.lines[0];
        (0..line.played.len()).filter(|&index| too_short(line, index, profile).is_some()).collect()
    }

    #[test]
    fn the_shortest_tongued_note_grows_longer_downwards() {
        // Five cycles of the pitch or the double tongue (12 a second: a university tuba studio's page on tonguing), a proposal.
        for (name, milliseconds) in [
            ("G0", 204.0),
            ("C1", 153.0),
            ("D1", 136.0),
            ("E1", 121.0),
            ("F1", 115.0),
            ("G1", 102.0),
            ("A1", 91.0),
            ("Bb1", 86.0),
            ("F3", 83.0),
        ] {
            let found = shortest(&instrument(TUBA), pitch(name)).get() * 1000.0;
            assert!((found - milliseconds).abs() < 0.6, "{name}: {found:.1} ms");
        }
    }

    #[test]
    fn sixteenths_at_120_are_too_fast_on_d1_and_not_on_e1() {
        // 125 ms against 5 / 36.71 Hz = 136 ms and 5 / 41.20 Hz = 121 ms.
        assert_eq!(short(&instrument(TUBA), "=120 mf D1/1/4 D1 D1 D1"), [0, 1, 2]);
        assert!(short(&instrument(TUBA), "=120 mf E1/1/4 E1 E1 E1").is_empty());
    }

    #[test]
    fn f1_speaks_in_sixteenths_at_120_and_no_longer_at_132() {
        // 125 ms ≥ 114.5 ms > 113.6 ms; C1 needs 153 ms: in 125 ms it has 4.1 cycles.
        assert!(short(&instrument(TUBA), "=120 mf F1/1/4 F1 F1").is_empty());
        assert_eq!(short(&instrument(TUBA), "=132 mf F1/1/4 F1 F1"), [0, 1]);
        let music = music("=120 mp C1/1/4 C1");
        let found = too_short(&music.lines[0], 0, &instrument(TUBA)).unwrap();
        assert!(found.pipe && (found.cycles - 4.1).abs() < 0.05);
    }

    #[test]
    fn a_contrabass_slide_is_half_as_fast_again() {
        // Sixteenths of Bb1 at 160: 94 ms against 86 ms, and 129 ms where all takes half as long again.
        let text = "=160 mf Bb1/1/4 Bb1 Bb1";
        assert!(short(&instrument(TUBA), text).is_empty());
        assert_eq!(short(&instrument("contrabass-trombone-b-flat"), text), [0, 1]);
    }

    #[test]
    fn slurred_notes_and_the_last_of_a_run_are_free() {
        assert!(short(&instrument(TUBA), "=120 mf (D1/1/4 E1 D1 E1) r/2 D1/1/4").is_empty());
        assert_eq!(short(&instrument(TUBA), "=120 mf (D1/1/4 E1) D1 D1"), [2]);
    }

    #[test]
    fn light_eighths_over_the_whole_compass_are_free() {
        // Common practice, no source: soft light lines are playable over the whole range.
        assert!(short(&instrument(TUBA), "=120 p F1/1/2 A1 C2 F2 A2 C3 F3 A3 C4").is_empty());
    }

    #[test]
    fn a_tenth_in_sixteenths_is_too_wide_and_an_octave_is_not() {
        let leaps = |text: &str| {
            let music = music(text);
            (0..3).filter_map(|index| leap(&music.lines[0], index, &instrument(TUBA))).collect::<Vec<_>>()
        };
        let wide = leaps("=120 mf F1/1/4 A2 F1 A2");
        assert_eq!(wide.len(), 3);
        assert!((wide[0].semitones - 16.0).abs() < 1e-9 && (*wide[0].widest - 12.0).abs() < 1e-9);
        assert!(leaps("=120 mf D2/1/4 D3 D2 D3").is_empty());
        assert!(leaps("=120 mf F1/1/2 A2 F1 A2").is_empty());
    }

    #[test]
    fn a_measured_tremolo_is_tongued_as_fast_as_its_strokes() {
        // Two strokes at 120 are 16ths of 125 ms: too fast on D1 (136 ms), not on F1 (115 ms). One stroke is eighths.
        assert_eq!(short(&instrument(TUBA), "=120 mf D1/4=="), [0]);
        assert!(short(&instrument(TUBA), "=120 mf F1/4== D1/4=").is_empty());
        let music = music("=120 mf D1/4==");
        let found = too_short(&music.lines[0], 0, &instrument(TUBA)).unwrap();
        assert!((found.seconds.get() - 0.125).abs() < 1e-9);
    }
}
