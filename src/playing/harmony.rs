//! Whether a part agrees with the harmony of the others: a part read by the wrong transposition does not.

use crate::playing::Section;
use crate::score::{Played, Sound};

/// So many notes, evenly spaced, tell as much as all.
const SAMPLE: usize = 200;

/// A chord has no more notes than this in one part: so far back may a sound stand that began before a note.
const LOOK_BACK: usize = 16;

/// Of notes that sound with others, the share whose pitch class is sounded by a part of the rest of the orchestra for
/// the share of their length that counts, once as they are and once for each number of semitones they are taken up.
///
/// Low brass is not asked: its parts may all have been exported alike. `None` where the rest of the orchestra sounds
/// with less than half of the notes.
pub fn agreement(section: &Section<'_>, notes: &[&Played], semitones: &[i32]) -> Option<(f64, Vec<f64>)> {
    let sample: Vec<&Played> = notes.iter().step_by(notes.len() / SAMPLE + 1).copied().collect();
    let with: Vec<(i32, Vec<(i32, f64)>)> =
        sample.iter().map(|played| (played.sounding.height().in_cents(), around(section, played))).collect();
    let accompanied: Vec<_> = with.iter().filter(|(_, around)| !around.is_empty()).collect();
    if accompanied.is_empty() || accompanied.len() * 2 < sample.len() {
        return None;
    }
    let share = |up: i32| {
        let agrees = |(height, around): &&&(i32, Vec<(i32, f64)>)| {
            let class = (height + up * 100).rem_euclid(1200);
            around
                .iter()
                .any(|(other, share)| *other == class && *share >= *section.limits.transposition.together)
        };
        accompanied.iter().filter(agrees).count() as f64 / accompanied.len() as f64
    };
    Some((share(0), semitones.iter().map(|&up| share(up)).collect()))
}

/// The pitch classes (cents) that the rest of the orchestra sounds with a note, each with the longest share of the
/// note's length in which one part does.
fn around(section: &Section<'_>, played: &Played) -> Vec<(i32, f64)> {
    let (from, to) = (played.onset.quarters(), played.end.quarters());
    let mut found: Vec<(i32, f64)> = Vec::new();
    for part in &section.score.passed_over {
        let mut here: Vec<(i32, f64)> = Vec::new();
        let after = part.sounds.partition_point(|sound| sound.onset < played.end);
        let before = part.sounds.partition_point(|sound| sound.onset < played.onset);
        let overlap = |sound: &Sound| sound.end.quarters().min(to) - sound.onset.quarters().max(from);
        for sound in &part.sounds[before.saturating_sub(LOOK_BACK)..after] {
            let share = overlap(sound) / (to - from);
            if share > 0.0 {
                let class = sound.sounding.height().in_cents().rem_euclid(1200);
                match here.iter_mut().find(|(other, _)| *other == class) {
                    // A repeated note sounds on.
                    Some((_, sum)) => *sum += share,
                    None => here.push((class, share)),
                }
            }
        }
        found.extend(here);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::section;
    use crate::score::testing::section as parts;
    use crate::score::{PartInfo, PassedOver};

    /// The first part is asked, the others are the orchestra.
    fn agreed(texts: &[&str], semitones: &[i32]) -> Option<(f64, Vec<f64>)> {
        let named: Vec<(&str, &str)> = texts.iter().map(|text| ("Part", *text)).collect();
        let mut music = parts(&named);
        let others = music.score.parts.split_off(1);
        music.score.passed_over = others
            .into_iter()
            .map(|part| PassedOver {
                info: PartInfo::default(),
                sounds: part
                    .notes
                    .iter()
                    .map(|note| Sound { onset: note.onset, end: note.end(), sounding: note.sounding })
                    .collect(),
            })
            .collect();
        let section = section(&music, &["contrabass-tuba-c"]);
        let notes: Vec<&Played> = section.desks[0].lines[0].played.iter().collect();
        agreement(&section, &notes, semitones)
    }

    #[test]
    fn a_part_a_ninth_too_low_agrees_a_ninth_higher() {
        let tuba = "mf Bb0/1 C1 D1 F1/1";
        let (as_read, others) = agreed(&[tuba, "C3/1 D3 E3 G3/1", "E4/2 G4/2"], &[14, 2, 9]).unwrap();
        assert!(as_read.abs() < f64::EPSILON);
        assert_eq!(others[..2], [1.0, 1.0]);
        assert!(others[2] < 0.5);
    }

    #[test]
    fn half_of_a_note_is_enough_and_less_is_not() {
        assert!(agreed(&["mf C2/4", "C4/2 D4/2"], &[]).unwrap().0 > 0.99);
        assert!(agreed(&["mf C2/4", "C4/1 D4/3"], &[]).unwrap().0 < 0.01);
        assert!(agreed(&["mf C2/4", "C4/1 C4/1 D4/2"], &[]).unwrap().0 > 0.99);
    }

    #[test]
    fn a_part_that_plays_alone_is_not_judged_by_its_harmony() {
        assert_eq!(agreed(&["mf C2/1 D2 E2 F2/1", "r/3 F4/1"], &[2]), None);
    }
}
