//! Who sounds with whom: doublings at the unison and the octave, and pairs that sound together.
//!
//! Built once for a section (low brass and all other parts), asked for any note, moved or not. An answer costs what
//! sounds near the note, not what the score holds.

use std::collections::{BTreeMap, HashMap};

use crate::music::{Onset, Seconds};
use crate::playing::Section;
use crate::score::Played;

/// All that sounds, to be asked who doubles a note.
#[derive(Debug, Default)]
pub struct Doublings {
    /// By pitch class in cents.
    classes: BTreeMap<i32, Sounds>,
}

/// A part that sounds a note's pitch with it, at the unison or in octaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubler {
    /// [`PartInfo::index`](crate::score::PartInfo::index).
    pub part: u32,
    /// Octaves it sounds above the note; 0 for the unison, negative: below.
    pub octaves: i8,
    /// Share of the note's written length in which it sounds with it, from above 0 to 1.
    pub share: f64,
}

/// Two played notes of low brass that sound together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Together {
    /// The lower one (of a unison that of the earlier desk and line): indices into [`Section::desks`],
    /// [`Desk::lines`](crate::playing::Desk::lines), [`Line::played`](crate::score::Line::played).
    pub lower: (usize, usize, usize),
    /// The higher one.
    pub upper: (usize, usize, usize),
    /// From here.
    pub from: Onset,
    /// To here.
    pub to: Onset,
    /// Seconds they sound together.
    pub seconds: Seconds,
}

impl Doublings {
    /// Takes in all that sounds in a score.
    pub fn new(section: &Section<'_>) -> Doublings {
        let mut classes: BTreeMap<i32, Sounds> = BTreeMap::new();
        each_sound(section, |sound| {
            classes.entry(sound.height.rem_euclid(1200)).or_default().all.push(sound);
        });
        classes.values_mut().for_each(Sounds::put_in_order);
        Doublings { classes }
    }

    /// The parts that double a note at the unison or in octaves, its own part (by its
    /// [`PartInfo::index`](crate::score::PartInfo::index)) left out: those that sound longest with it first, then the
    /// nearest octave, then in score order. One entry for each part and octave.
    pub fn of(&self, part: u32, played: &Played) -> Vec<Doubler> {
        let mut with: HashMap<(u32, i8), Vec<(f64, f64)>> = HashMap::new();
        let height = played.sounding.height().in_cents();
        self.each(played, |sound, from, to| {
            if sound.part != part {
                let octaves = i8::try_from((sound.height - height) / 1200).unwrap_or(i8::MAX);
                with.entry((sound.part, octaves)).or_default().push((from, to));
            }
        });
        let length = played.length().in_quarters();
        let mut doublers: Vec<Doubler> = with
            .into_iter()
            .map(|((part, octaves), spans)| Doubler { part, octaves, share: covered(spans) / length })
            .collect();
        doublers.sort_by(|a, b| {
            let nearest = |doubler: &Doubler| (doubler.octaves.unsigned_abs(), doubler.octaves, doubler.part);
            b.share.total_cmp(&a.share).then(nearest(a).cmp(&nearest(b)))
        });
        doublers
    }

    /// The share of a note's length in which other parts sound it at the unison or an octave up or down, one after the
    /// other or together: what carries it.
    pub fn carried(&self, part: u32, played: &Played) -> f64 {
        let height = played.sounding.height().in_cents();
        let mut spans = Vec::new();
        self.each(played, |sound, from, to| {
            if sound.part != part && (sound.height - height).abs() <= 1200 {
                spans.push((from, to));
            }
        });
        let length = played.length().in_quarters();
        if length > 0.0 { covered(spans) / length } else { 0.0 }
    }

    /// The share of the time between two places in which anything sounds in parts other than those named.
    pub fn others(&self, from: Onset, to: Onset, parts: &[u32]) -> f64 {
        let (from, to) = (from.quarters(), to.quarters());
        let mut spans = Vec::new();
        for sounds in self.classes.values() {
            sounds.each(from, to, |sound, from, to| {
                if !parts.contains(&sound.part) {
                    spans.push((from, to));
                }
            });
        }
        if to > from { covered(spans) / (to - from) } else { 0.0 }
    }

    fn each(&self, played: &Played, found: impl FnMut(&Sounding, f64, f64)) {
        let class = played.sounding.height().in_cents().rem_euclid(1200);
        if let Some(sounds) = self.classes.get(&class) {
            sounds.each(played.onset.quarters(), played.end.quarters(), found);
        }
    }
}

/// The pairs of low-brass notes that sound together, of one part or of two, for whose lower and higher note `counts`
/// holds, each with the index of its desk: in order of place, then of desk and line. A note that two players share is
/// one note.
pub fn together(
    section: &Section<'_>,
    counts: impl Fn((usize, &Played), (usize, &Played)) -> bool,
) -> Vec<Together> {
    let mut notes: Vec<(&Played, (usize, usize, usize))> = Vec::new();
    for (d, desk) in section.desks.iter().enumerate() {
        for (l, line) in desk.lines.iter().enumerate() {
            let own = line.played.iter().enumerate().filter(|(_, note)| !note.shared && !note.grace);
            notes.extend(own.map(|(n, note)| (note, (d, l, n))));
        }
    }
    notes.sort_by_key(|&(note, at)| (note.onset, at));
    let tempo = &section.score.tempo;
    let mut sounding: Vec<(&Played, (usize, usize, usize))> = Vec::new();
    let mut pairs = Vec::new();
    for (note, at) in notes {
        sounding.retain(|(held, _)| held.end > note.onset);
        for &(held, held_at) in &sounding {
            let held_below = (held.sounding, held_at) <= (note.sounding, at);
            let ((low, lower), (high, upper)) =
                if held_below { ((held, held_at), (note, at)) } else { ((note, at), (held, held_at)) };
            if !counts((lower.0, low), (upper.0, high)) {
                continue;
            }
            let to = held.end.min(note.end);
            let seconds = tempo.at(to) - tempo.at(note.onset);
            pairs.push(Together { lower, upper, from: note.onset, to, seconds });
        }
        sounding.push((note, at));
    }
    pairs
}

/// Something that sounds, in quarter notes from the start of the score.
#[derive(Clone, Copy, Debug)]
struct Sounding {
    height: i32,
    from: f64,
    to: f64,
    part: u32,
}

/// What sounds of one pitch class, by its beginning; each with the latest end of all up to it.
#[derive(Debug, Default)]
struct Sounds {
    all: Vec<Sounding>,
    latest: Vec<f64>,
}

impl Sounds {
    fn put_in_order(&mut self) {
        self.all
            .sort_by(|a, b| (a.from.total_cmp(&b.from)).then((a.part, a.height).cmp(&(b.part, b.height))));
        let mut latest = f64::NEG_INFINITY;
        self.latest.extend(self.all.iter().map(|sound| {
            latest = latest.max(sound.to);
            latest
        }));
    }

    /// Hands on what sounds between two places, cut to them.
    fn each(&self, from: f64, to: f64, mut found: impl FnMut(&Sounding, f64, f64)) {
        let first = self.latest.partition_point(|&end| end <= from);
        for sound in self.all[first..].iter().take_while(|sound| sound.from < to) {
            if sound.to > from {
                found(sound, sound.from.max(from), sound.to.min(to));
            }
        }
    }
}

/// Hands on everything that sounds in a score: the low brass as it is played, the parts read but not judged as they are
/// written, all others as the reader has them.
fn each_sound(section: &Section<'_>, mut found: impl FnMut(Sounding)) {
    let mut one = |part: u32, height: crate::music::Height, from: Onset, to: Onset| {
        if to > from {
            found(Sounding { height: height.in_cents(), from: from.quarters(), to: to.quarters(), part });
        }
    };
    for desk in &section.desks {
        for played in desk.lines.iter().flat_map(|line| &line.played).filter(|played| !played.shared) {
            one(desk.part.info.index, played.sounding.height(), played.onset, played.end);
        }
    }
    let judged = |part: u32| section.desks.iter().any(|desk| desk.part.info.index == part);
    for part in section.score.parts.iter().filter(|part| !judged(part.info.index)) {
        for note in part.notes.iter().filter(|note| note.is_played()) {
            one(part.info.index, note.sounding.height(), note.onset, note.end());
        }
    }
    for part in &section.score.passed_over {
        for sound in &part.sounds {
            one(part.info.index, sound.sounding.height(), sound.onset, sound.end);
        }
    }
}

/// How much of a line is covered by spans that may overlap.
fn covered(mut spans: Vec<(f64, f64)>) -> f64 {
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut total, mut reached) = (0.0, f64::NEG_INFINITY);
    for (from, to) in spans {
        total += (to - from.max(reached)).max(0.0);
        reached = reached.max(to);
    }
    total
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::playing::testing::section;
    use crate::score::testing::section as parts;
    use crate::score::{PartInfo, PassedOver, Sound};

    const TUBA: &str = "contrabass-tuba-c";
    const TROMBONE: &str = "bass-trombone";

    #[test]
    fn a_doubling_is_found_at_the_unison_and_in_octaves_with_its_share() {
        let music =
            parts(&[("Tuba", "f E1/4"), ("Trombone", "f E2/3 F2/1"), ("Bass Trombone", "f r/2 E1/2")]);
        let section = section(&music, &[TUBA, TROMBONE, TROMBONE]);
        let doublings = Doublings::new(&section);
        let note = &music.lines[0].played[0];
        assert_eq!(
            doublings.of(0, note),
            [Doubler { part: 1, octaves: 1, share: 0.75 }, Doubler { part: 2, octaves: 0, share: 0.5 }]
        );
        assert!((doublings.carried(0, note) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn basses_that_nobody_judges_carry_a_note_and_a_piccolo_does_not() {
        let mut music = parts(&[("Tuba", "f E1/4")]);
        let note = music.lines[0].played[0].clone();
        let above = |octaves: i8| Sound {
            onset: note.onset,
            end: note.end,
            sounding: note.sounding.up_octaves(octaves),
        };
        let passed_over = |index: u32, octaves: i8| PassedOver {
            info: PartInfo { index, ..PartInfo::default() },
            sounds: vec![above(octaves)],
        };
        music.score.passed_over = vec![passed_over(7, 5)];
        assert!(Doublings::new(&section(&music, &[TUBA])).carried(0, &note) < 1e-9);
        music.score.passed_over.push(passed_over(9, 0));
        let section = section(&music, &[TUBA]);
        let doublings = Doublings::new(&section);
        assert!((doublings.carried(0, &note) - 1.0).abs() < 1e-9);
        assert_eq!(
            doublings.of(0, &note).iter().map(|d| (d.part, d.octaves)).collect::<Vec<_>>(),
            [(9, 0), (7, 5)]
        );
        assert!(doublings.others(note.onset, note.end, &[0]) > 0.99);
        assert!(doublings.others(note.onset, note.end, &[0, 7, 9]) < 1e-9);
    }

    #[test]
    fn a_moved_note_is_asked_at_its_new_pitch() {
        let music = parts(&[("Tuba", "f E1/4"), ("Trombone", "f E2/4")]);
        let section = section(&music, &[TUBA, TROMBONE]);
        let mut moved = music.lines[0].played[0].clone();
        moved.sounding = moved.sounding.up_octaves(1);
        assert_eq!(Doublings::new(&section).of(0, &moved)[0].octaves, 0);
    }

    #[test]
    fn notes_that_sound_together_are_pairs_of_a_lower_and_a_higher_one() {
        let music = parts(&[("Bass Trombone", "f F2/4"), ("Tuba", "f r/1 C3/2 r/1")]);
        let section = section(&music, &[TROMBONE, TUBA]);
        let pairs = together(&section, |_, _| true);
        assert_eq!(pairs.len(), 1);
        assert_eq!((pairs[0].lower, pairs[0].upper), ((0, 0, 0), (1, 0, 0)));
        assert!((pairs[0].seconds.get() - 2.0).abs() < 1e-9);
    }

    proptest! {
        #[test]
        fn the_index_finds_what_a_look_at_every_sound_finds(
            sounds in proptest::collection::vec((0_i32..40, 1_i32..30), 0..40),
            from in 0_i32..50,
            length in 1_i32..20,
        ) {
            let sounds: Vec<_> = sounds.iter().map(|&(at, long)| (f64::from(at), f64::from(at + long))).collect();
            let mut index = Sounds::default();
            index.all.extend(sounds.iter().map(|&(from, to)| Sounding { height: 0, from, to, part: 0 }));
            index.put_in_order();
            let (from, to) = (f64::from(from), f64::from(from + length));
            let mut found = Vec::new();
            index.each(from, to, |_, from, to| found.push((from, to)));
            let mut expected: Vec<_> = sounds
                .iter()
                .map(|&(start, end)| (start.max(from), end.min(to)))
                .filter(|(start, end)| end > start)
                .collect();
            found.sort_by(|a, b| a.partial_cmp(b).unwrap());
            expected.sort_by(|a, b| a.partial_cmp(b).unwrap());
            // Every tenth of the time is sounding or silent: the cover is what a count of them says.
            let tenths = |spans: &[(f64, f64)]| (0..500).filter(|tenth| {
                let at = f64::from(*tenth) / 10.0 + 0.05;
                spans.iter().any(|&(from, to)| from <= at && at < to)
            }).count();
            prop_assert!((covered(found.clone()) * 10.0 - tenths(&expected) as f64).abs() < 1e-6 || to > 50.0);
            prop_assert_eq!(found, expected);
        }
    }
}
