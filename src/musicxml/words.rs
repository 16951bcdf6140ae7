//! What words above the staff mean: dynamics, hairpins, tempo, mutes, instruments, players, effects, waivers.
//!
//! In goes the text of one `words` element; out come its meanings in the order they stand. A word that asks
//! nothing of the reader (an expression mark, a sentence) yields nothing: a missed word costs less than one
//! read wrongly. So everyday words ("open", "solo", "slow", a lone "p") count only where the text says nothing
//! else of weight, and whatever is said of one time round only ("2nd time muted") is left to the player.

mod asks;
mod loud;
mod pace;
mod text;

use self::text::Text;
use crate::music::{Dynamic, Hairpin, Length, Mark, Tempo};
use crate::score::Asks;

pub(super) use pace::vocabulary;

/// One thing that words say.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Meaning {
    /// A dynamic mark in letters or as a word ("subito p", "mezzo forte", "f" in brackets).
    Dynamic(Mark),
    /// Louder or softer by so many marks than the level in force ("più f", "meno forte").
    Relative {
        /// Marks up the scale; negative: softer.
        steps: i8,
        /// The mark itself, for where no level is in force yet.
        named: Option<Dynamic>,
    },
    /// "più" (1) or "meno" (−1) alone: it qualifies the `dynamics` beside it, as in [`qualified`].
    Qualifier(i8),
    /// Getting louder or softer from here to the next level.
    Hairpin {
        /// Which.
        direction: Hairpin,
        /// The level it names as its end ("cresc. al ff").
        to: Option<Dynamic>,
        /// It ends in silence ("dim. al niente", "morendo").
        niente: bool,
    },
    /// The tempo changes.
    Tempo(TempoWord),
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
    /// The word where the bar is `nominal` long, counted in `unit`s. A customary tempo counts beats: a dotted quarter
    /// is one in 6/8, 9/8 and 12/8 (a dotted eighth in 6/16 …), a half is one in 2/2, the quarter elsewhere.
    pub(super) fn in_metre(self, nominal: Option<Length>, unit: Length) -> TempoWord {
        let (TempoWord::Customary { tempo, soft }, Some(bar)) = (self, nominal) else { return self };
        let is = |units: i64| unit.times(units, 1) == Some(bar);
        let beat = match unit.parts() {
            (1, 2 | 4 | 8) if is(6) || is(9) || is(12) => unit.in_quarters() * 3.0,
            (2, 1) if is(2) => 2.0,
            _ => return self,
        };
        let tempo = Tempo::quarters_a_minute(tempo.get() * beat).unwrap_or(tempo);
        TempoWord::Customary { tempo, soft }
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

/// The meanings of one `words` text, in order.
pub(super) fn read(text: &str) -> Vec<Meaning> {
    if let Some(waiver) = asks::waiver(text.trim()) {
        return vec![Meaning::Asks(waiver)];
    }
    let mut text = Text::new(text);
    // A text of that length is a note to the reader.
    if text.tokens.len() > 40 {
        return Vec::new();
    }
    let mut meanings: Vec<(usize, Meaning)> = Vec::new();
    meanings.extend(jumps(&mut text).into_iter().map(|(at, jump)| (at, Meaning::Jump(jump))));
    meanings.extend(pace::said(&mut text).into_iter().map(|(at, word)| (at, Meaning::Tempo(word))));
    meanings.extend(loud::said(&mut text));
    meanings.extend(asks::asked(&mut text).into_iter().map(|(at, asks)| (at, Meaning::Asks(asks))));
    meanings.sort_by_key(|(at, _)| *at);
    meanings.into_iter().map(|(_, meaning)| meaning).collect()
}

/// "più" or "meno" with a mark beside it: louder for "più f", softer for "più p", the other way for "meno"; by
/// one mark of the scale from the level in force. The words compare with what went before: after p, "più f" is
/// not yet f, after f it is more than f.
pub(super) fn qualified(qualifier: i8, mark: Dynamic) -> Meaning {
    let towards = if mark >= Dynamic::Mf { 1 } else { -1 };
    Meaning::Relative { steps: qualifier * towards, named: Some(mark) }
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
