//! Figures: a few notes of a line that come back, in whatever place.

use std::cell::OnceCell;
use std::collections::HashMap;
use std::ops::Range;

use super::other_voices::semitones;
use super::witness::Stretches;
use crate::score::Line;

/// Notes from which a figure can be known again.
const FIGURE: usize = 3;
/// Notes beyond which a figure needs no more to be known again.
const LONG_FIGURE: usize = 6;
/// Like figures that are looked at on each side.
const FIGURES_AROUND: usize = 32;

/// The notes of a figure by which a passage of so many notes is known again; `None` where it is too short.
pub(super) fn length(notes: usize) -> Option<usize> {
    (notes >= FIGURE).then_some(notes.min(LONG_FIGURE))
}

/// Octaves away, either way, at which like figures are looked for.
const OCTAVES_AWAY: i32 = 2;

/// How many figures like those of a note stand so many octaves above it, elsewhere in the line.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Likes {
    above: [f64; 2 * OCTAVES_AWAY as usize + 1],
}

impl Likes {
    /// How seldom they stand where the note would some octaves higher, in hundredths of a nat. What is not known weighs as
    /// much as so many of them as `doubt` says.
    pub(super) fn rarity(&self, octaves: i8, doubt: f64) -> f64 {
        let all: f64 = self.above.iter().sum();
        let there = place(i32::from(octaves)).map_or(0.0, |place| self.above[place]);
        let places = self.above.len() as f64;
        -100.0 * ((there + doubt / places) / (all + doubt)).ln()
    }
}

/// Where so many octaves up are counted.
fn place(octaves: i32) -> Option<usize> {
    usize::try_from(octaves + OCTAVES_AWAY).ok().filter(|&place| place < Likes::default().above.len())
}

/// Where each figure of a line stands: for each number of notes from [`FIGURE`] to [`LONG_FIGURE`], gathered when first asked.
#[derive(Default)]
pub(super) struct Figures {
    steps: OnceCell<Vec<u32>>,
    known: [OnceCell<Vec<(Figure, usize)>>; LONG_FIGURE - FIGURE + 1],
}

/// The steps from note to note, wherever they stand; a figure of fewer notes ends in zeros.
type Figure = [u32; LONG_FIGURE - 1];

impl Figures {
    /// A number for what lies between each note and the next, semitones up and time: the same number for the same.
    fn steps(&self, line: &Line) -> &[u32] {
        self.steps.get_or_init(|| {
            let mut known: HashMap<(i32, (i64, i64)), u32> = HashMap::new();
            let pairs = line.played.windows(2).map(|pair| {
                let step = (semitones(&pair[0], &pair[1]), pair[1].onset.since(pair[0].onset).parts());
                let new = u32::try_from(known.len()).unwrap_or(u32::MAX);
                *known.entry(step).or_insert(new)
            });
            pairs.collect()
        })
    }

    /// Where else the figure of so many notes from a note on stands: the nearest on each side.
    pub(super) fn like(&self, line: &Line, at: usize, length: usize) -> impl Iterator<Item = usize> {
        let known = self.of_length(line, length).unwrap_or_default();
        let figure = self.at(line, at, length);
        let from = known.partition_point(|(other, _)| *other < figure);
        let places = &known[from..];
        let places = &places[..places.partition_point(|(other, _)| *other == figure)];
        let here = places.partition_point(|&(_, other)| other < at);
        let near = here.saturating_sub(FIGURES_AROUND)..(here + FIGURES_AROUND).min(places.len());
        places[near].iter().map(|&(_, other)| other).filter(move |&other| other != at)
    }

    /// For each note of a passage how its figures stand elsewhere on the same notes of the scale. What lies around a
    /// note may have gone astray with it, and is no witness; nor is a note that is only repeated.
    pub(super) fn likes_of(&self, line: &Line, passage: &Range<usize>, stretches: &Stretches) -> Vec<Likes> {
        let mut likes = vec![Likes::default(); passage.len()];
        let Some(length) = length(passage.len()).filter(|&length| length == LONG_FIGURE) else {
            return likes;
        };
        for at in passage.start..=passage.end - length {
            let notes = &line.played[at..at + length];
            if notes.windows(2).all(|pair| semitones(&pair[0], &pair[1]) % 12 == 0) {
                continue;
            }
            let around = stretches.around(at);
            for other in self.like(line, at, length).filter(|other| !around.contains(other)) {
                let away = semitones(&line.played[at], &line.played[other]);
                let Some(which) = place(away / 12).filter(|_| away % 12 == 0) else { continue };
                for note in &mut likes[at - passage.start..at + length - passage.start] {
                    note.above[which] += 1.0 / length as f64;
                }
            }
        }
        likes
    }

    fn at(&self, line: &Line, first: usize, length: usize) -> Figure {
        let mut figure = Figure::default();
        figure
            .iter_mut()
            .zip(&self.steps(line)[first..first + length - 1])
            .for_each(|(to, step)| *to = *step);
        figure
    }

    /// All figures of so many notes with where each begins, like figures together in order of place; `None` for fewer
    /// notes than make a figure, or more than are looked at.
    fn of_length(&self, line: &Line, length: usize) -> Option<&[(Figure, usize)]> {
        let known = self.known.get(length.checked_sub(FIGURE)?)?;
        Some(known.get_or_init(|| {
            let of = |passage: &Range<usize>| {
                passage.start..(passage.end + 1).saturating_sub(length).max(passage.start)
            };
            let mut known: Vec<(Figure, usize)> =
                line.passages.iter().flat_map(of).map(|at| (self.at(line, at, length), at)).collect();
            known.sort_unstable();
            known
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::octaves::tests::limits;
    use crate::score::testing::music;

    fn likes(text: &str, passage: usize) -> Vec<Likes> {
        let line = music(text).lines.remove(0);
        Figures::default().likes_of(&line, &line.passages[passage], &Stretches::of(&line, limits().stretch))
    }

    #[test]
    fn a_figure_that_comes_back_on_the_same_notes_tells_in_which_octave_it_belongs() {
        let there = "C3 D3 F3 E3 D3 C3 r/2 G3 A3 r/2";
        for likes in likes(&format!("{there} {there} C2 D2 F2 E2 D2 C2 r/2 {there}"), 4) {
            assert!(likes.rarity(1, 1.0) + 50.0 < likes.rarity(0, 1.0), "{likes:?}");
            assert!((likes.rarity(0, 1.0) - likes.rarity(-1, 1.0)).abs() < 1e-9);
        }
    }

    #[test]
    fn other_notes_a_repeated_note_and_the_passage_itself_tell_nothing() {
        for text in [
            "D3 E3 G3 F3 E3 D3 r/2 C2 D2 F2 E2 D2 C2",
            "C3 C3 C3 C3 C3 C3 r/2 C2 C2 C2 C2 C2 C2",
            "G3 A3 r/2 C3 D3 F3 E3 D3 C3 C2 D2 F2 E2 D2 C2",
        ] {
            for likes in likes(text, 1) {
                assert!((likes.rarity(1, 1.0) - likes.rarity(0, 1.0)).abs() < 1e-9, "{text}");
            }
        }
    }
}
