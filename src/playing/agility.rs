//! Agility: how short a tongued note may be where it lies, and how wide a leap in so little time.

use crate::finding::Sourced;
use crate::music::{Seconds, Sounding};
use crate::profile::Profile;
use crate::score::{Join, Line, Ornament, Played};

/// A tongued note of a run that goes faster than its register allows.
#[derive(Clone, Debug, PartialEq)]
pub struct TooShort {
    /// Mean seconds from attack to attack over the run of which it is one.
    pub seconds: Seconds,
    /// The shortest that speaks at this note.
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

/// Whether a note of a line belongs to a run that goes too fast for its register: of `run` attacks in a row, of which it is
/// not the last, the mean time from one to the next is less than the mean of what [`shortest`] allows them. A rate is a
/// matter of a run: the few quick notes of a ruff or an upbeat are not judged by it, nor notes that are slurred on, nor
/// grace notes.
pub fn too_short(line: &Line, index: usize, profile: &Profile, run: usize) -> Option<TooShort> {
    let note = line.played.get(index).filter(|_| is_attack(line, index))?;
    if let Some(seconds) = struck_every(note) {
        return struck_too_soon(note, seconds, profile);
    }
    let passage = line.passages.get(line.passage_of(index))?.clone();
    let gaps = run.checked_sub(1).filter(|&gaps| gaps > 0)?;
    let attack = |&at: &usize| is_attack(line, at);
    let before: Vec<usize> = (passage.start..index).rev().filter(attack).take(gaps - 1).collect();
    let behind: Vec<usize> = (index..passage.end).filter(attack).take(run).collect();
    let seconds = |from: usize, to: usize| (line.played[to].start - line.played[from].start).get();
    let limit = shortest(profile, note.sounding);
    if !too_soon(seconds(index, *behind.get(1)?), limit.get()) {
        return None;
    }
    let attacks: Vec<usize> = before.into_iter().rev().chain(behind).collect();
    let means = attacks.windows(run).map(|attacks| {
        let allowed = attacks[..gaps].iter().map(|&at| shortest(profile, line.played[at].sounding).get());
        (seconds(attacks[0], attacks[gaps]) / gaps as f64, allowed.sum::<f64>() / gaps as f64)
    });
    let (mean, _) =
        means.filter(|&(mean, allowed)| too_soon(mean, allowed)).min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(too_short_by(note, Seconds::new(mean), limit, profile))
}

/// A measured tremolo is a run of its own, on one note.
fn struck_too_soon(note: &Played, seconds: Seconds, profile: &Profile) -> Option<TooShort> {
    let limit = shortest(profile, note.sounding);
    too_soon(seconds.get(), limit.get()).then(|| too_short_by(note, seconds, limit, profile))
}

fn too_short_by(note: &Played, seconds: Seconds, shortest: Sourced<Seconds>, profile: &Profile) -> TooShort {
    TooShort {
        seconds,
        shortest,
        cycles: note.sounding.hertz() * seconds.get(),
        pipe: *profile.agility.cycles / note.sounding.hertz() > profile.agility.tongue().get(),
    }
}

/// Whether a gap is shorter than its limit. Onsets in seconds are sums of floats: a note exactly as long as its limit is
/// long enough.
fn too_soon(gap: f64, limit: f64) -> bool {
    gap < limit - 1e-9
}

/// Whether the tongue strikes a note: it is no grace note and no slur leads to it.
fn is_attack(line: &Line, index: usize) -> bool {
    let slurred_to = index.checked_sub(1).is_some_and(|before| line.played[before].joins.has(Join::Slur));
    !line.played[index].grace && !slurred_to
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
        (0..line.played.len()).filter(|&index| too_short(line, index, profile, 6).is_some()).collect()
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
        assert_eq!(short(&instrument(TUBA), "=120 mf D1/1/4 D1 D1 D1 D1 D1 D1"), [0, 1, 2, 3, 4, 5]);
        assert!(short(&instrument(TUBA), "=120 mf E1/1/4 E1 E1 E1 E1 E1 E1").is_empty());
    }

    #[test]
    fn f1_speaks_in_sixteenths_at_120_and_no_longer_at_132() {
        // 125 ms ≥ 114.5 ms > 113.6 ms; C1 needs 153 ms: in 125 ms it has 4.1 cycles.
        assert!(short(&instrument(TUBA), "=120 mf F1/1/4 F1 F1 F1 F1 F1").is_empty());
        assert_eq!(short(&instrument(TUBA), "=132 mf F1/1/4 F1 F1 F1 F1 F1"), [0, 1, 2, 3, 4]);
        let music = music("=120 mp C1/1/4 C1 C1 C1 C1 C1");
        let found = too_short(&music.lines[0], 0, &instrument(TUBA), 6).unwrap();
        assert!(found.pipe && (found.cycles - 4.1).abs() < 0.05);
    }

    #[test]
    fn a_contrabass_slide_is_half_as_fast_again() {
        // Sixteenths of Bb1 at 160: 94 ms against 86 ms, and 129 ms where all takes half as long again.
        let text = "=160 mf Bb1/1/4 Bb1 Bb1 Bb1 Bb1 Bb1";
        assert!(short(&instrument(TUBA), text).is_empty());
        assert_eq!(short(&instrument("contrabass-trombone-b-flat"), text), [0, 1, 2, 3, 4]);
    }

    #[test]
    fn a_rate_is_a_matter_of_six_attacks() {
        // Of 9,881 gaps counted in orchestral parts 316 are shorter than 0.125 s, all in ruffs of two notes (OpenScore, CC0);
        // a trombonist finds 120 hard only in runs longer than about eight notes. Two 32nds at 144: 52 ms each.
        let trombone = instrument("tenor-bass-trombone");
        assert!(short(&trombone, "=144 f F3/1/8 F3 F3/2").is_empty());
        assert!(short(&trombone, "=200 f F3/1/4 F3 F3 F3 F3/2").is_empty());
        assert!(short(&trombone, "=200 f F3/1/4 F3 F3 F3 F3 r/1/4 F3/2").is_empty());
        assert_eq!(short(&trombone, "=200 f F3/1/4 F3 F3 F3 F3 F3/2"), [0, 1, 2, 3, 4]);
        // Three ruffs in a row have time between them.
        assert!(short(&trombone, "=144 f F3/1/8 F3 F3/1 F3/1/8 F3 F3/1 F3/1/8 F3 F3/1").is_empty());
    }

    #[test]
    fn the_tongue_has_its_own_limit_up_high() {
        // Sixteenths at 200: 75 ms, less than 12 notes a second (a tubist's page on tonguing: 83 ms).
        let music = music("=200 f F3/1/4 F3 F3 F3 F3 F3 F3 F3");
        let found = too_short(&music.lines[0], 2, &instrument(TUBA), 6).unwrap();
        assert!(!found.pipe && (found.seconds.get() - 0.075).abs() < 1e-9);
    }

    #[test]
    fn slurred_notes_and_the_last_of_a_run_are_free() {
        assert!(short(&instrument(TUBA), "=120 mf (D1/1/4 E1 D1 E1 D1 E1) r/2 D1/1/4").is_empty());
        assert!(
            short(&instrument(TUBA), "=120 mf (D1/1/4 E1) (D1 E1) (D1 E1) (D1 E1) (D1 E1) (D1 E1)")
                .is_empty()
        );
        assert_eq!(short(&instrument(TUBA), "=120 mf (D1/1/4 E1) D1 D1 D1 D1 D1 D1"), [2, 3, 4, 5, 6]);
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
        let found = too_short(&music.lines[0], 0, &instrument(TUBA), 6).unwrap();
        assert!((found.seconds.get() - 0.125).abs() < 1e-9);
    }
}
