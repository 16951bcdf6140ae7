//! Words about loudness: marks in letters and in full, "più" and "meno", hairpins in words.

use std::ops::Range;

use super::Meaning;
use super::text::Text;
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
    (&["m", "f"], "mf", false),
    (&["m", "p"], "mp", false),
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
/// Words that stand beside a mark.
const BESIDE_MARKS: &[&str] = &[
    "sempre", "sub", "subito", "toujours", "stets", "immer", "always", "piu", "meno", "poco", "molto",
    "quasi",
];
const NEGATIONS: &[&str] = &["non", "no", "not", "senza", "sans", "ohne", "nicht", "sin", "without"];
/// Little words between "cresc." and the mark it leads to.
const LEADS_TO: &[&str] = &["al", "a", "to", "till", "bis", "zum", "fino", "until", "au", "hasta", "in"];

/// All that the text says about loudness, each with the place of its first token.
pub(super) fn said(text: &mut Text<'_>) -> Vec<(usize, Meaning)> {
    let mut said = Vec::new();
    let hairpin = hairpin(text);
    let mut level = None;
    let mut attack: Option<(usize, Dynamic)> = None;
    let mut goal = None;
    for at in 0..text.tokens.len() {
        if text.is_understood(at) {
            continue;
        }
        let Some((tokens, mark)) = mark_at(text, at) else { continue };
        let leads = hairpin.as_ref().is_some_and(|(from, ..)| *from < at) && is_goal(text, at);
        if let (true, Some(reached)) = (leads, mark.level) {
            goal = goal.or(Some(reached));
            text.understand(tokens);
        } else if mark.level.is_none() {
            attack = attack.or(mark.attack.map(|attack| (at, attack)));
            text.understand(tokens);
        } else if level.is_none() && goal.is_none() {
            let meaning = match again(text, tokens.end) {
                Some((end, then)) => {
                    text.understand(at..end);
                    Meaning::FirstAndAgain(mark, then)
                }
                None => beside(text, tokens.clone(), mark),
            };
            text.understand(tokens);
            level = Some((at, meaning));
        } else if text.tokens[at].is_mark {
            text.understand(tokens);
        }
    }
    let named = level.is_some();
    match (level, attack) {
        // "mf sfz": the level, and an attack on its first note.
        (Some((at, Meaning::Dynamic(Mark { attack: None, level }))), Some((_, attack))) => {
            said.push((at, Meaning::Dynamic(Mark { attack: Some(attack), level })));
        }
        (level, attack) => {
            said.extend(level);
            let mark = |attack| Meaning::Dynamic(Mark { attack: Some(attack), level: None });
            said.extend(attack.map(|(at, attack)| (at, mark(attack))));
        }
    }
    if let Some((at, direction, niente)) = hairpin {
        said.push((at, Meaning::Hairpin { direction, to: goal, niente }));
    } else if !named {
        said.extend(compared(text));
        said.extend(niente(text));
    }
    said
}

/// Whether a mark behind "cresc." is where that leads. One that the page sets beside the word says so ("al"), or it is
/// the level from here.
fn is_goal(text: &Text<'_>, at: usize) -> bool {
    !text.tokens[at].is_mark || at.checked_sub(1).is_some_and(|before| LEADS_TO.contains(&text.at(before)))
}

/// The mark behind a stroke ("f-p", "p / f"): a repeated passage has two, and one for each time.
fn again(text: &Text<'_>, from: usize) -> Option<(usize, Mark)> {
    let (before, next) = (text.tokens.get(from.checked_sub(1)?)?, text.tokens.get(from)?);
    let between = text.whole.get(before.range.end..next.range.start)?.trim();
    if !matches!(between, "-" | "–" | "—" | "/" | ":") {
        return None;
    }
    let (tokens, mark) = mark_at(text, from)?;
    Some((tokens.end, mark)).filter(|(_, mark)| mark.level.is_some())
}

/// A mark at a place, with its tokens.
fn mark_at(text: &Text<'_>, at: usize) -> Option<(Range<usize>, Mark)> {
    let token = &text.tokens[at];
    let full = IN_FULL.iter().find(|(words, _, _)| text.stands(at, words));
    if let Some((words, letters, alone)) = full {
        let here = at..at + words.len();
        // "Piano" with a capital names the instrument.
        let instrument = words[0] == "piano" && !token.is_mark && token.raw != "piano";
        let counts = token.is_mark || (!instrument && (!alone || text.is_only(here.clone())));
        return counts.then(|| Mark::from_letters(letters)).flatten().map(|mark| (here, mark));
    }
    let mark = Mark::from_letters(&token.folded).map(|mark| (at..at + 1, mark))?;
    if token.is_mark {
        return Some(mark);
    }
    let known = token.folded.parse::<Dynamic>().is_ok() || FORCED.contains(&token.folded.as_str());
    // "Pf." is a piano; other marks may stand in capitals.
    let spelled = token.raw == token.folded || (token.raw.len() > 1 && token.folded != "pf");
    if !known || text.has_any(&["time", "times", "x", "volta", "mal", "fois", "vez"]) {
        return None;
    }
    let before = at.checked_sub(1).map_or("", |before| text.at(before));
    if token.raw.len() == 1 {
        let figure = text.at(at + 1).starts_with(|c: char| c.is_ascii_digit());
        // One of several initials ("c. o. p.") is none.
        let initial = at.checked_sub(1).map(|before| &text.tokens[before]);
        let is_small = |raw: &str| raw.len() == 1 && raw.bytes().all(|byte| byte.is_ascii_lowercase());
        let initial = initial.is_some_and(|before| before.dotted && is_small(before.raw));
        let count = text.tokens.len();
        let short = !initial && ((at == 0 && count <= 8) || (at + 1 == count && count <= 4));
        if NAMED_BY_LETTER.contains(&before) || figure || !(short || text.is_only(at..at + 1)) {
            return None;
        }
    }
    // A capital alone is a rehearsal letter or a key, beside "sempre" or "sub." it is a mark.
    let meant = text.is_only(at..at + 1) && text.has_any(BESIDE_MARKS);
    (spelled || meant).then_some(mark)
}

/// What a mark means by the word before it: the letters count ("più f" is f), words compare ("più forte" is one more).
fn beside(text: &Text<'_>, mark_at: Range<usize>, mark: Mark) -> Meaning {
    let Some(level) = mark.level.filter(|_| mark.attack.is_none()) else { return Meaning::Dynamic(mark) };
    let word = |back: usize| mark_at.start.checked_sub(back).map_or("", |at| text.at(at));
    let in_letters = text.at(mark_at.start).parse::<Dynamic>().is_ok();
    // "il più forte possibile" is as loud as can be, not louder than before.
    let possible = text.has_any(&["possibile", "possible", "moglich"]);
    let towards = if level >= Dynamic::Mf { 1 } else { -1 };
    let than_before = |steps: i8| Meaning::Relative { steps: steps * towards, named: Some(level) };
    match word(1) {
        "piu" | "plus" | "mehr" | "mas" if word(2) == "sempre" => {
            let direction = if level >= Dynamic::Mf { Hairpin::Crescendo } else { Hairpin::Diminuendo };
            Meaning::Hairpin { direction, to: Some(level), niente: false }
        }
        "piu" | "plus" | "mehr" | "mas" if !in_letters && !possible => than_before(1),
        "meno" | "moins" | "weniger" | "menos" if !in_letters => than_before(-1),
        _ => Meaning::Dynamic(mark),
    }
}

/// `n` in a `dynamics` element, or "niente" alone.
fn niente(text: &mut Text<'_>) -> Option<(usize, Meaning)> {
    let at = (0..text.tokens.len()).find(|&at| {
        let is_letter = text.at(at) == "n" && text.tokens[at].is_mark;
        is_letter || (text.at(at) == "niente" && text.is_only(at..at + 1))
    })?;
    text.understand(at..at + 1);
    Some((at, Meaning::Niente))
}

/// Louder or softer without a mark ("louder").
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
    None
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
