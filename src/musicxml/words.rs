//! What words above the staff mean: dynamics, hairpins, tempo, mutes, horns, players, effects, waivers.
//!
//! In goes the text of one `words` element; out come its meanings in the order they stand. A word that asks
//! nothing of the reader (an expression mark, a sentence) yields nothing: a missed word costs less than one
//! read wrongly.

use crate::music::{Dynamic, Hairpin, Mark, Tempo};
use crate::score::Asks;

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
    /// A word with a customary tempo ("Allegro").
    Customary(Tempo),
    /// Slower at once, the new tempo being this share of the old ("meno mosso"); above 1: faster.
    AtOnce(f64),
    /// Slower or faster bit by bit, down or up to this share of the tempo unless the score names the goal.
    Gradual(f64),
    /// Back to the tempo before the last gradual change.
    ATempo,
    /// Back to the first tempo of the piece or section.
    TempoPrimo,
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
}

/// The meanings of one `words` text, in order.
pub(super) fn read(_text: &str) -> Vec<Meaning> {
    Vec::new()
}

/// "più" or "meno" with a mark beside it: louder for "più f", softer for "più p", the other way for "meno".
pub(super) fn qualified(qualifier: i8, mark: Dynamic) -> Meaning {
    let towards = if mark >= Dynamic::Mf { 1 } else { -1 };
    Meaning::Relative { steps: qualifier * towards, named: Some(mark) }
}
