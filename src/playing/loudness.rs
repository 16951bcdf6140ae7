//! What a note asks against what its register gives.
//!
//! In go a played note and a profile; out comes how many steps of the dynamic scale it is asked beyond the
//! ceiling or below the floor. How much of that is too much is for the rules.

use crate::finding::Sourced;
use crate::music::{Dynamic, Seconds};
use crate::profile::Profile;
use crate::score::{Articulation, Line, Played};

/// What a note asks, beside what the instrument gives at its pitch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The loudest that is asked anywhere in the note: level, attack, or where a hairpin leads.
    pub loudest: Dynamic,
    /// The softest that is asked anywhere in it.
    pub softest: Dynamic,
    /// The loudest mark that sounds as marked here, the mute counted in.
    pub ceiling: Sourced<Dynamic>,
    /// The softest mark that speaks reliably here.
    pub floor: Sourced<Dynamic>,
    /// Steps of the scale from the ceiling up to the loudest; 0 where it is not above.
    pub over: i32,
    /// Steps of the scale from the softest up to the floor; 0 where it is not below.
    pub under: i32,
}

/// A short loud note, accented or on its own, where the pipe answers late.
#[derive(Clone, Debug, PartialEq)]
pub struct LowHit {
    /// The loudest that is asked.
    pub asked: Dynamic,
    /// The ceiling at its pitch.
    pub ceiling: Sourced<Dynamic>,
    /// How long it sounds.
    pub seconds: Seconds,
    /// It has an accent, a marcato, a staccatissimo or an attack of its own; otherwise it stands alone.
    pub accented: bool,
}

/// What a note asks and gets. `None` before any dynamic mark and outside the rows of the profile.
pub fn asked(played: &Played, profile: &Profile) -> Option<Asked> {
    let row = profile.loudness.at(played.sounding)?;
    let (loudest, softest) = (played.loudest?, played.softest?);
    let ceiling = match played.mute {
        Some(_) => Sourced {
            value: row.ceiling.louder_by(-*profile.loudness.muted_steps),
            ground: row.ceiling.ground.and(&profile.loudness.muted_steps.ground),
        },
        None => row.ceiling.clone(),
    };
    Some(Asked {
        loudest,
        softest,
        over: loudest.steps_above(*ceiling).max(0),
        under: row.floor.steps_above(softest).max(0),
        ceiling,
        floor: row.floor.clone(),
    })
}

/// Whether a note of a line is a hit too low for the pipe to answer in time: short and loud, marked as a hit or with rests at
/// least as long as itself on both sides, where the register's own ceiling is low and a higher register's is not. A plain
/// short note of a running line is no hit. The lengths and levels that count stand in the profile.
pub fn low_hit(line: &Line, index: usize, profile: &Profile) -> Option<LowHit> {
    let played = line.played.get(index)?;
    let limits = &profile.loudness;
    let ceiling = &limits.at(played.sounding)?.ceiling;
    let asked = played.loudest?;
    // At the top of the compass the ceiling is low again, but nothing answers late there.
    let gives_more_above =
        limits.rows.iter().any(|row| row.from > played.sounding && *row.ceiling > **ceiling);
    let short = !played.grace && played.seconds <= limits.hit.longest;
    if !(short && asked >= limits.hit.from && **ceiling <= limits.hit.ceiling && gives_more_above) {
        return None;
    }
    let marks = played.articulations;
    let accented = marks.is_accented() || marks.has(Articulation::Staccatissimo) || played.attack.is_some();
    let rests = |after: Option<usize>| {
        after.is_none_or(|after| line.rest_after(after).is_none_or(|rest| rest >= played.seconds))
    };
    (accented || (rests(index.checked_sub(1)) && rests(Some(index)))).then(|| LowHit {
        asked,
        ceiling: ceiling.clone(),
        seconds: played.seconds,
        accented,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::instrument;
    use crate::score::testing::music;

    /// Steps over the ceiling and under the floor of the first note.
    fn steps(text: &str) -> (i32, i32) {
        let music = music(text);
        asked(&music.lines[0].played[0], &instrument("contrabass-tuba-c"))
            .map(|asked| (asked.over, asked.under))
            .unwrap()
    }

    #[test]
    fn a_loud_low_d_is_as_loud_as_marked_an_octave_higher() {
        // Common practice, no source: a loud D1 belongs an octave up; D2 at ff or fff is nothing to remark on.
        assert_eq!(steps("ff D1"), (2, 0));
        assert_eq!(steps("f D1"), (1, 0));
        assert_eq!(steps("mf D1"), (0, 0));
        assert_eq!(steps("fff D2"), (0, 0));
    }

    #[test]
    fn soft_playing_is_free_over_the_whole_compass() {
        // Common practice, no source.
        for name in ["D1", "F1", "C2", "F2", "C3", "C4"] {
            assert_eq!(steps(&format!("p {name}")), (0, 0), "{name}");
        }
    }

    #[test]
    fn a_hairpin_and_an_attack_ask_as_loud_as_they_lead() {
        assert_eq!(steps("mf < D1/4 fff D2"), (3, 0));
        assert_eq!(steps("p sffz D1"), (2, 0));
        assert_eq!(steps("mf > C#4/4 pp D2"), (0, 1));
    }

    #[test]
    fn a_mute_takes_loudness_away() {
        assert_eq!(steps("[straight] ff G1"), (1, 0));
    }

    #[test]
    fn before_any_mark_nothing_is_asked() {
        let music = music("D1");
        assert_eq!(asked(&music.lines[0].played[0], &instrument("contrabass-tuba-c")), None);
    }

    #[test]
    fn a_short_loud_accent_answers_too_late_where_the_ceiling_is_low() {
        let hit = |text: &str| {
            let music = music(text);
            low_hit(&music.lines[0], 0, &instrument("contrabass-tuba-c"))
        };
        // Common practice: short accented tutti hits. D1 gives mf, B1 gives ff.
        let found = hit("=120 f D1/1/2>").unwrap();
        assert!(found.accented && *found.ceiling == Dynamic::Mf && found.seconds == Seconds::new(0.25));
        assert_eq!(hit("=120 f B1/1/2>"), None);
        assert_eq!(hit("=60 f D1/1"), None);
        assert_eq!(hit("=120 mf D1/1/2>"), None);
        assert!(hit("=120 p sfz E1/1/2").is_some());
        assert_eq!(hit("=60 f D1/1>"), None, "a second is no hit, however marked");
    }

    #[test]
    fn a_short_note_without_a_mark_is_a_hit_where_it_stands_alone() {
        // Rest at least as long on both sides. Common practice, no source.
        let hits = |text: &str| -> Vec<usize> {
            let music = music(text);
            let line = &music.lines[0];
            (0..line.played.len())
                .filter(|&at| low_hit(line, at, &instrument("contrabass-tuba-c")).is_some())
                .collect()
        };
        assert_eq!(hits("=120 f D1/1/2 r D1 D1 r"), [0]);
        assert_eq!(hits("=120 f D1/1/2 r/1/4 D1/1/2 r/1/4 D1/1/2"), [0_usize; 0]);
        assert_eq!(hits("=120 f D1/1/2 D1 D1 D1"), [0_usize; 0], "of a line");
    }

    #[test]
    fn at_the_top_of_the_compass_nothing_answers_late() {
        let music = music("=120 ff Bb4/1/4>");
        for name in ["baritone-horn", "ophicleide-c", "contrabass-tuba-c", "bass-trombone"] {
            assert_eq!(low_hit(&music.lines[0], 0, &instrument(name)), None, "{name}");
        }
    }
}
