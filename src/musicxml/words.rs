//! What words above the staff mean: dynamics, hairpins, tempo, mutes, instruments, players, effects, waivers.
//!
//! In goes the text of one direction, its marks in letters where they are printed; out come its meanings in the order they
//! stand. A word that asks
//! nothing of the reader (an expression mark, a sentence) yields nothing: a missed word costs less than one
//! read wrongly. So everyday words ("open", "solo", "slow", a lone "p") count only where the text says nothing
//! else of weight, and whatever is said of one time round only ("2nd time muted") is left to the player.

mod asks;
mod loud;
mod pace;
mod text;

use std::ops::Range;

use self::text::Text;
use super::glyphs;
use crate::music::{Dynamic, Hairpin, Length, Mark, Tempo};
use crate::score::Asks;

pub(super) use pace::vocabulary;

/// One thing that words say.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Meaning {
    /// A dynamic mark in letters or as a word ("subito p", "mezzo forte", "f" in brackets).
    Dynamic(Mark),
    /// Two marks for a passage that is played twice: the first time one, from the second on the other ("f-p").
    FirstAndAgain(Mark, Mark),
    /// Louder or softer by so many marks than the level in force ("più forte", "louder").
    Relative {
        /// Marks up the scale; negative: softer.
        steps: i8,
        /// The mark itself, for where no level is in force yet.
        named: Option<Dynamic>,
    },
    /// `n`: silence, where a hairpin leads or begins.
    Niente,
    /// Getting louder or softer from here to the next level.
    Hairpin {
        /// Which.
        direction: Hairpin,
        /// The level it names as its end ("cresc. al ff").
        to: Option<Dynamic>,
        /// It ends in silence ("dim. al niente", "morendo").
        niente: bool,
    },
    /// The tempo changes; the words that say so, as they stand.
    Tempo(TempoWord, String),
    /// The player is asked something.
    Asks(Asks),
    /// Where to play on ("D.C. al Fine"); counts only where no `sound` says so.
    Jump(Jump),
}

/// What a word does to the tempo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum TempoWord {
    /// A tempo written out in the text ("♩ = 96").
    Number(Tempo),
    /// Two note values made equal in the text ("♪ = ♩"): the tempo is this many times the old one.
    Modulation(f64),
    /// Words that are as exact as an equation ("doppio movimento"): this many times the old tempo.
    Multiple(f64),
    /// "L'istesso tempo": the beat goes on. Its length changes where the metre does, and the quarters with it by `factor`.
    Same {
        /// What the quarters a minute are multiplied with.
        factor: f64,
    },
    /// A word with a customary tempo ("Allegro").
    Customary {
        /// Its tempo.
        tempo: Tempo,
        /// The word may as well say how to play ("Broadly"): it yields to any number given before.
        soft: bool,
    },
    /// Slower at once, the new tempo being this share of the old ("meno mosso"); above 1: faster.
    AtOnce(f64),
    /// Slower or faster bit by bit, down or up to this share of the tempo unless the score names the goal.
    Gradual(f64),
    /// Back to the tempo before the last change.
    ATempo,
    /// Back to the first tempo of the piece.
    TempoPrimo,
}

impl TempoWord {
    /// The word in a metre, behind another. A customary tempo counts beats: a dotted quarter is one in 6/8, 9/8 and 12/8 (a
    /// dotted eighth in 6/16 …), a half is one in 2/2, the quarter elsewhere. "L'istesso tempo" keeps the beat where a
    /// compound metre and another follow each other.
    pub(super) fn in_metre(self, here: Metre, before: Metre) -> TempoWord {
        match self {
            TempoWord::Customary { tempo, soft } => {
                let beat = here.compound_beat().or(here.half_beat()).unwrap_or(1.0);
                let tempo = Tempo::quarters_a_minute(tempo.get() * beat).unwrap_or(tempo);
                TempoWord::Customary { tempo, soft }
            }
            TempoWord::Same { .. } => {
                let factor = match (before.compound_beat(), here.compound_beat()) {
                    (None, Some(beat)) if before.nominal.is_some() => beat,
                    (Some(beat), None) if here.nominal.is_some() => 1.0 / beat,
                    _ => 1.0,
                };
                TempoWord::Same { factor }
            }
            other => other,
        }
    }

    /// Whether it is a metronome mark in all but name.
    pub(super) fn is_in_figures(self) -> bool {
        matches!(self, TempoWord::Number(_) | TempoWord::Modulation(_))
    }
}

/// How a bar is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Metre {
    /// How long the time signature says; `None` without one.
    pub(super) nominal: Option<Length>,
    /// Its lower number, as a length.
    pub(super) unit: Length,
}

impl Metre {
    /// Before any time signature.
    pub(super) const NONE: Metre = Metre { nominal: None, unit: Length::QUARTER };

    fn is(self, units: i64) -> bool {
        self.nominal.is_some() && self.unit.times(units, 1) == self.nominal
    }

    /// The beat in quarters where three units are one.
    fn compound_beat(self) -> Option<f64> {
        let small = matches!(self.unit.parts(), (1, 2 | 4 | 8));
        (small && (self.is(6) || self.is(9) || self.is(12))).then(|| self.unit.in_quarters() * 3.0)
    }

    /// The beat in quarters of 2/2.
    fn half_beat(self) -> Option<f64> {
        (self.unit.parts() == (2, 1) && self.is(2)).then_some(2.0)
    }
}

/// A jump in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Jump {
    /// "D.C.", "da capo".
    DaCapo,
    /// "D.S.", "dal segno".
    DalSegno,
    /// "To Coda": jump to the coda when a da capo or dal segno has been taken.
    ToCoda,
    /// "Fine": stop here when a da capo or dal segno has been taken.
    Fine,
    /// "al Coda", "e poi la Coda": the da capo or dal segno beside it leads on to the coda.
    AlCoda,
    /// "Coda" alone: the coda begins here.
    Coda,
}

/// What stands together in a direction, piece by piece as it is printed.
#[derive(Clone, Debug, Default)]
pub(super) struct Phrase {
    text: String,
    /// Where pieces of `dynamics` stand, in bytes: letters mean marks there, whatever stands beside them.
    marks: Vec<Range<usize>>,
}

impl Phrase {
    /// Adds the text of `words`. One text is often cut into several elements where its type face changes; the white space
    /// at their ends parts them.
    pub(super) fn push_words(&mut self, text: &str) {
        if self.marks.last().is_some_and(|mark| mark.end == self.text.len()) {
            self.text.push(' ');
        }
        self.text.push_str(&glyphs::in_letters(text));
    }

    /// Adds letters of `dynamics`, parted from what stands before them.
    pub(super) fn push_mark(&mut self, letters: &str) {
        if !self.text.is_empty() && !self.text.ends_with(char::is_whitespace) {
            self.text.push(' ');
        }
        let start = self.text.len();
        self.text.push_str(&glyphs::in_letters(letters));
        self.marks.push(start..self.text.len());
    }

    /// How long it is.
    pub(super) fn bytes(&self) -> u64 {
        self.text.len() as u64
    }

    pub(super) fn is_empty(&self) -> bool {
        self.text.trim().is_empty()
    }

    /// The words without the marks, white space folded.
    pub(super) fn words(&self) -> String {
        let mut words = String::with_capacity(self.text.len());
        let mut from = 0;
        for mark in &self.marks {
            words.push_str(&self.text[from..mark.start]);
            from = mark.end;
        }
        words.push_str(&self.text[from..]);
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// The mark, where there is nothing else.
    fn lone_mark(&self) -> Option<Mark> {
        match self.marks.as_slice() {
            [only] if *only == (0..self.text.len()) => Mark::from_letters(&self.text),
            _ => None,
        }
    }
}

/// The meanings of what stands together, in order.
pub(super) fn read(phrase: &Phrase) -> Vec<Meaning> {
    if phrase.is_empty() {
        return Vec::new();
    }
    if let Some(mark) = phrase.lone_mark() {
        return vec![Meaning::Dynamic(mark)];
    }
    if let Some(waiver) = asks::waiver(&phrase.words()) {
        return vec![Meaning::Asks(waiver)];
    }
    let mut text = Text::new(&phrase.text, &phrase.marks);
    let mut meanings: Vec<(usize, Meaning)> = Vec::new();
    // A text of that length is a note to the reader.
    if text.tokens.len() > 40 {
        text.tokens.retain(|token| token.is_mark);
    }
    meanings.extend(jumps(&mut text).into_iter().map(|(at, jump)| (at, Meaning::Jump(jump))));
    let pace = pace::said(&mut text).into_iter();
    meanings.extend(pace.map(|(at, word, quote)| (at, Meaning::Tempo(word, quote))));
    meanings.extend(loud::said(&mut text));
    meanings.extend(asks::asked(&mut text).into_iter().map(|(at, asks)| (at, Meaning::Asks(asks))));
    if meanings.is_empty() {
        meanings.extend(asks::name(&text).map(|asks| (0, Meaning::Asks(asks))));
    }
    meanings.sort_by_key(|(at, _)| *at);
    meanings.into_iter().map(|(_, meaning)| meaning).collect()
}

/// Whether the text on a glissando's line gives it to the lip.
pub(super) fn says_lip_glissando(text: &str) -> bool {
    !text.is_empty() && asks::says_lip_glissando(&Text::new(text, &[]))
}

/// Jumps: the whole text speaks of nothing else. "al Fine", "al Coda" belong to the jump before them.
fn jumps(text: &mut Text<'_>) -> Vec<(usize, Jump)> {
    const JUMPS: &[(&[&str], Jump)] = &[
        (&["d", "c"], Jump::DaCapo),
        (&["dc"], Jump::DaCapo),
        (&["da", "capo"], Jump::DaCapo),
        (&["dacapo"], Jump::DaCapo),
        (&["d", "s"], Jump::DalSegno),
        (&["ds"], Jump::DalSegno),
        (&["dal", "segno"], Jump::DalSegno),
        (&["d", "segno"], Jump::DalSegno),
        (&["to", "coda"], Jump::ToCoda),
        (&["to", "the", "coda"], Jump::ToCoda),
        (&["alla", "coda"], Jump::ToCoda),
        (&["zur", "coda"], Jump::ToCoda),
    ];
    for at in 0..text.tokens.len() {
        let Some((words, jump)) = JUMPS.iter().find(|(words, _)| text.stands(at, words)) else { continue };
        // "D" and "C" are also notes: the letters of a jump have full stops, or stand close.
        if words.len() == 2 && words[0] == "d" && !text.tokens[at].dotted {
            continue;
        }
        text.understand(0..text.tokens.len());
        let back = matches!(jump, Jump::DaCapo | Jump::DalSegno);
        let coda = (at..text.tokens.len()).find(|&behind| back && text.at(behind) == "coda");
        return [Some((at, *jump)), coda.map(|at| (at, Jump::AlCoda))].into_iter().flatten().collect();
    }
    let alone = match text.tokens.as_slice() {
        [only] if only.folded == "fine" => Jump::Fine,
        [only] if only.folded == "coda" => Jump::Coda,
        _ => return Vec::new(),
    };
    text.understand(0..1);
    vec![(0, alone)]
}

#[cfg(test)]
mod tests;
