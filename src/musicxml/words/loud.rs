//! Words about loudness: marks in letters and in full, "più" and "meno", hairpins in words.

use std::ops::Range;

use super::text::Text;
use super::{Meaning, qualified};
use crate::music::{Dynamic, Hairpin, Mark};

/// Marks in letters that a text may hold; other strings of these letters are words.
const FORCED: &[&str] = &[
    "sf", "sff", "sfz", "sffz", "sfffz", "fz", "ffz", "rf", "rfz", "fp", "ffp", "fpp", "fffp", "sfp", "sfpp",
    "sffp", "sfzp", "sffzp", "pf", "sfmp",
];

/// Marks written out: the tokens, the mark, whether it counts only where nothing else of weight is said.
const IN_FULL: &[(&[&str], &str, bool)] = &[
    (&["mezzo", "forte"], "mf", false),
    (&["mezzoforte"], "mf", false),
    (&["mezzo", "piano"], "mp", false),
    (&["mezzopiano"], "mp", false),
    (&["mezzo", "f"], "mf", false),
    (&["mezzo", "p"], "mp", false),
    (&["fortissimo"], "ff", false),
    (&["pianissimo"], "pp", false),
    (&["fortississimo"], "fff", false),
    (&["pianississimo"], "ppp", false),
    (&["forte", "piano"], "fp", true),
    (&["fortepiano"], "fp", true),
    (&["sforzando"], "sfz", true),
    (&["sforzato"], "sfz", true),
    (&["forte"], "f", true),
    (&["piano"], "p", true),
];

/// Louder or softer than before, without a mark.
const COMPARED: &[(&[&str], i8)] = &[
    (&["louder"], 1),
    (&["softer"], -1),
    (&["quieter"], -1),
    (&["lauter"], 1),
    (&["leiser"], -1),
    (&["starker"], 1),
    (&["schwacher"], -1),
    (&["plus", "fort"], 1),
    (&["moins", "fort"], -1),
    (&["plus", "doux"], -1),
    (&["mas", "fuerte"], 1),
    (&["mas", "suave"], -1),
];

/// Getting louder or softer; the last column: into silence.
const HAIRPINS: &[(&[&str], Hairpin, bool)] = &[
    (&["getting", "louder"], Hairpin::Crescendo, false),
    (&["gradually", "louder"], Hairpin::Crescendo, false),
    (&["lauter", "werdend"], Hairpin::Crescendo, false),
    (&["getting", "softer"], Hairpin::Diminuendo, false),
    (&["gradually", "softer"], Hairpin::Diminuendo, false),
    (&["leiser", "werdend"], Hairpin::Diminuendo, false),
    (&["dying", "away"], Hairpin::Diminuendo, true),
    (&["fade", "out"], Hairpin::Diminuendo, true),
    (&["cresc"], Hairpin::Crescendo, false),
    (&["crescendo"], Hairpin::Crescendo, false),
    (&["creciendo"], Hairpin::Crescendo, false),
    (&["crec"], Hairpin::Crescendo, false),
    (&["anschwellend"], Hairpin::Crescendo, false),
    (&["zunehmend"], Hairpin::Crescendo, false),
    (&["steigernd"], Hairpin::Crescendo, false),
    (&["augmentez"], Hairpin::Crescendo, false),
    (&["augmenter"], Hairpin::Crescendo, false),
    (&["augmentant"], Hairpin::Crescendo, false),
    (&["dim"], Hairpin::Diminuendo, false),
    (&["dimin"], Hairpin::Diminuendo, false),
    (&["diminuendo"], Hairpin::Diminuendo, false),
    (&["decresc"], Hairpin::Diminuendo, false),
    (&["decrescendo"], Hairpin::Diminuendo, false),
    (&["disminuyendo"], Hairpin::Diminuendo, false),
    (&["abschwellend"], Hairpin::Diminuendo, false),
    (&["abnehmend"], Hairpin::Diminuendo, false),
    (&["diminuez"], Hairpin::Diminuendo, false),
    (&["diminuer"], Hairpin::Diminuendo, false),
    (&["diminuant"], Hairpin::Diminuendo, false),
    (&["calando"], Hairpin::Diminuendo, false),
    (&["mancando"], Hairpin::Diminuendo, false),
    (&["smorz"], Hairpin::Diminuendo, false),
    (&["smorzando"], Hairpin::Diminuendo, false),
    (&["morendo"], Hairpin::Diminuendo, true),
    (&["perdendosi"], Hairpin::Diminuendo, true),
    (&["perdendo"], Hairpin::Diminuendo, true),
    (&["estinguendo"], Hairpin::Diminuendo, true),
    (&["verklingend"], Hairpin::Diminuendo, true),
    (&["ersterbend"], Hairpin::Diminuendo, true),
    (&["verhallend"], Hairpin::Diminuendo, true),
    (&["mourant"], Hairpin::Diminuendo, true),
    (&["fading"], Hairpin::Diminuendo, true),
];

/// Words behind which a letter is the name of a place, a page or a string.
const NAMED_BY_LETTER: &[&str] =
    &["letter", "part", "section", "bar", "page", "string", "corde", "buchstabe", "key", "in"];
const NEGATIONS: &[&str] = &["non", "no", "not", "senza", "sans", "ohne", "nicht", "sin", "without"];
/// All that the text says about loudness, each with the place of its first token.
pub(super) fn said(text: &mut Text<'_>) -> Vec<(usize, Meaning)> {
    let mut said = Vec::new();
    let hairpin = hairpin(text);
    let mut level = None;
    let mut goal = None;
    for at in 0..text.tokens.len() {
        if text.is_understood(at) {
            continue;
        }
        let Some((tokens, mark)) = mark_at(text, at) else { continue };
        // Behind "cresc." a level is where that leads.
        if let (Some((from, _, _)), Some(reached)) = (&hairpin, mark.level)
            && *from < at
        {
            goal = goal.or(Some(reached));
            text.understand(tokens);
        } else if level.is_none() && goal.is_none() {
            let meaning = beside(text, tokens.clone(), mark);
            text.understand(tokens);
            level = Some((at, meaning));
        }
    }
    let named = level.is_some();
    said.extend(level);
    if let Some((at, direction, niente)) = hairpin {
        said.push((at, Meaning::Hairpin { direction, to: goal, niente }));
    } else if !named {
        said.extend(compared(text));
    }
    said
}

/// A mark at a place, with its tokens.
fn mark_at(text: &Text<'_>, at: usize) -> Option<(Range<usize>, Mark)> {
    let full = IN_FULL.iter().find(|(words, _, _)| text.stands(at, words));
    if let Some((words, letters, alone)) = full {
        let here = at..at + words.len();
        // "Piano" with a capital names the instrument.
        let instrument = words[0] == "piano" && text.tokens[at].raw != "piano";
        let counts = !instrument && (!alone || text.is_only(here.clone()));
        return counts.then(|| Mark::from_letters(letters)).flatten().map(|mark| (here, mark));
    }
    let token = &text.tokens[at];
    let letters = token.raw;
    let known = letters.parse::<Dynamic>().is_ok() || FORCED.contains(&letters);
    if !known || text.has_any(&["time", "times", "x", "volta", "mal", "fois", "vez"]) {
        return None;
    }
    if letters.len() == 1 {
        let before = at.checked_sub(1).map_or("", |before| text.at(before));
        let figure = text.at(at + 1).starts_with(|c: char| c.is_ascii_digit());
        let at_an_end = at == 0 || at + 1 == text.tokens.len();
        let short = at_an_end && text.tokens.len() <= 4;
        if NAMED_BY_LETTER.contains(&before) || figure || !(short || text.is_only(at..at + 1)) {
            return None;
        }
    }
    Mark::from_letters(letters).map(|mark| (at..at + 1, mark))
}

/// What a mark means by the word before it.
fn beside(text: &Text<'_>, mark_at: Range<usize>, mark: Mark) -> Meaning {
    let Some(level) = mark.level.filter(|_| mark.attack.is_none()) else { return Meaning::Dynamic(mark) };
    let word = |back: usize| mark_at.start.checked_sub(back).map_or("", |at| text.at(at));
    // "il più f possibile" is as loud as can be, not louder than before.
    let possible = text.has_any(&["possibile", "possible", "moglich"]);
    match word(1) {
        "piu" | "plus" | "mehr" | "mas" if word(2) == "sempre" => {
            let direction = if level >= Dynamic::Mf { Hairpin::Crescendo } else { Hairpin::Diminuendo };
            Meaning::Hairpin { direction, to: None, niente: false }
        }
        "piu" | "plus" | "mehr" | "mas" if !possible => qualified(1, level),
        "meno" | "moins" | "weniger" | "menos" => qualified(-1, level),
        "poco" | "quasi" | "mezzo" if level == Dynamic::F => {
            Meaning::Dynamic(Mark { attack: None, level: Some(Dynamic::Mf) })
        }
        _ => Meaning::Dynamic(mark),
    }
}

/// Louder or softer without a mark: "louder", or "più" and "meno" that qualify the marks beside the text.
fn compared(text: &mut Text<'_>) -> Option<(usize, Meaning)> {
    for at in 0..text.tokens.len() {
        let Some((words, steps)) = COMPARED.iter().find(|(words, _)| text.stands(at, words)) else {
            continue;
        };
        let here = at..at + words.len();
        if text.is_only(here.clone()) {
            text.understand(here);
            return Some((at, Meaning::Relative { steps: *steps, named: None }));
        }
    }
    let qualifier = match text.tokens.as_slice() {
        [.., only] if text.tokens.len() == 1 || (text.tokens.len() == 2 && text.at(0) == "poco") => {
            match only.folded.as_str() {
                "piu" => 1,
                "meno" => -1,
                _ => return None,
            }
        }
        _ => return None,
    };
    Some((0, Meaning::Qualifier(qualifier)))
}

/// The hairpin in words, with its place.
fn hairpin(text: &mut Text<'_>) -> Option<(usize, Hairpin, bool)> {
    for at in 0..text.tokens.len() {
        let Some((words, direction, silence)) = HAIRPINS.iter().find(|(words, _, _)| text.stands(at, words))
        else {
            continue;
        };
        if at > 0 && NEGATIONS.contains(&text.at(at - 1)) {
            continue;
        }
        text.understand(at..at + words.len());
        let niente = silence | text.has_any(&["niente", "nothing", "nichts", "rien", "nada"]);
        return Some((at, *direction, niente && *direction == Hairpin::Diminuendo));
    }
    None
}
