//! What each note is heard by: how seldom it stands as it does, at each octave, among the other voices, beside like
//! figures and in the register of its line.

use std::borrow::Cow;
use std::ops::Range;

use super::figures::{Figures, Likes};
use super::other_voices::{Elsewhere, OtherVoices};
use super::register::Register;
use super::shortest_path::OCTAVES;
use crate::profile::{MoveEvidence, MoveLimits};
use crate::score::Line;

/// How seldom a note stands as it does at one octave, in hundredths of a nat.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Home {
    /// Among the voices beside it.
    voices: i64,
    /// Beside like figures of its line.
    figures: i64,
    /// In the register of its line.
    register: i64,
    /// Astray: what is written is usually meant.
    moved: i64,
}

impl Home {
    pub(super) fn heard(self) -> i64 {
        self.voices + self.register
    }

    pub(super) fn whole(self) -> i64 {
        self.heard() + self.figures + self.moved
    }
}

/// How seldom each note of the chosen passages stands as it does, at each octave.
pub(super) fn homes(
    moves: &MoveLimits,
    line: &Line,
    witnesses: &mut Witnesses<'_>,
    figures: &Figures,
    asked: &[bool],
    chosen: &[bool],
) -> Vec<[Home; 5]> {
    let mut homes = vec![[Home::default(); 5]; line.played.len()];
    for passage in (0..line.passages.len()).filter(|&passage| chosen[passage]) {
        let notes = line.passages[passage].clone();
        // Like music at another octave is a reason where a note has to move anyway; nothing moves for that alone.
        let likes = if asked[notes.clone()].contains(&true) {
            figures.likes_of(line, &notes, &witnesses.other_voices.stretches)
        } else {
            vec![Likes::default(); notes.len()]
        };
        for (index, likes) in notes.zip(likes) {
            for (home, octaves) in homes[index].iter_mut().zip(OCTAVES) {
                let figures = likes.rarity(octaves, moves.expected.figure_doubt);
                home.figures = (moves.evidence.figures * figures).round() as i64;
                home.moved = if octaves == 0 || asked[index] { 0 } else { moves.prices.moved };
            }
            witnesses.hear(index, asked[index], &mut homes[index]);
        }
    }
    homes
}

/// Who says where a note belongs: the voices beside the line and the register of the line, but for the notes that may
/// have gone astray with it.
pub(super) struct Witnesses<'c> {
    evidence: MoveEvidence,
    other_voices: &'c OtherVoices<'c>,
    elsewhere: Elsewhere<'c>,
    register: Cow<'c, Register>,
    /// Whether the notes that are no witnesses are left out already.
    without: bool,
}

impl<'c> Witnesses<'c> {
    /// For notes of which nothing is known yet: what lies around one is no witness for it.
    pub(super) fn of(
        moves: &MoveLimits,
        other_voices: &'c OtherVoices<'c>,
        register: &'c Register,
    ) -> Witnesses<'c> {
        Witnesses {
            evidence: moves.evidence,
            other_voices,
            elsewhere: other_voices.elsewhere(),
            register: Cow::Borrowed(register),
            without: false,
        }
    }

    /// For some notes that are said to have gone astray: all the others are witnesses.
    pub(super) fn other_than(
        moves: &MoveLimits,
        other_voices: &'c OtherVoices<'c>,
        register: &Register,
        astray: &[Range<usize>],
    ) -> Witnesses<'c> {
        Witnesses {
            evidence: moves.evidence,
            other_voices,
            elsewhere: other_voices.elsewhere_than(astray),
            register: Cow::Owned(register.without(astray)),
            without: true,
        }
    }

    /// Says how seldom a note stands as it does at each octave; `asked`: a finding asks to move it.
    pub(super) fn hear(&mut self, index: usize, asked: bool, home: &mut [Home; 5]) {
        let own = if self.without { 0..0 } else { self.other_voices.stretches.around(index) };
        let as_written = self.register.rarity(index, 0, &own);
        for (home, octaves) in home.iter_mut().zip(OCTAVES) {
            let mut usual = self.register.rarity(index, octaves, &own);
            // Where nothing is the matter with a note, that its line lies elsewhere is no reason to move it.
            if !asked {
                usual = usual.max(as_written);
            }
            home.voices = self.among_voices(index, octaves);
            home.register = (self.evidence.register * usual).round() as i64;
        }
    }

    fn among_voices(&mut self, index: usize, octaves: i8) -> i64 {
        let beside = self.other_voices.beside(index);
        if beside.is_empty() {
            return 0;
        }
        let up = 12 * i32::from(octaves);
        let rarities =
            beside.iter().map(|beside| self.elsewhere.rarity(index, beside.voice, beside.above + up));
        let total: f64 = rarities.sum();
        let known = (self.evidence.voices / beside.len() as f64).min(1.0);
        (self.evidence.distance * total * known).round() as i64
    }
}

/// What their register says for moving some notes by octaves, less what is said against moving any.
pub(super) fn gain_in_register(homes: &[[Home; 5]], octaves: i8) -> i64 {
    gain(homes, octaves, |home| home.register + home.moved)
}

/// What like figures say for it.
pub(super) fn gain_in_figures(homes: &[[Home; 5]], octaves: i8) -> i64 {
    gain(homes, octaves, |home| home.figures)
}

fn gain(homes: &[[Home; 5]], octaves: i8, of: impl Fn(&Home) -> i64) -> i64 {
    let which = OCTAVES.iter().position(|&known| known == octaves).unwrap_or(0);
    homes.iter().map(|home| of(&home[0]) - of(&home[which])).sum()
}
