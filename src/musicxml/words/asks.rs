//! Words that ask something of the player: mutes, instruments, who plays, effects, waivers.

use std::ops::Range;

use super::text::Text;
use crate::score::{Asks, Mute, Players};

/// Words behind which everything stands for some other time round: read by a player, not by us.
const OTHER_TIMES: &[&str] =
    &["time", "times", "x", "volta", "volte", "mal", "male", "fois", "vez", "veces", "ending"];

/// A waiver: `ok: rule, rule`, the whole text.
pub(super) fn waiver(text: &str) -> Option<Asks> {
    let head = text.get(..2).filter(|head| head.eq_ignore_ascii_case("ok"))?;
    let rules = text[head.len()..].trim_start().strip_prefix(':')?;
    let named = rules.split([',', ';']).flat_map(str::split_whitespace).map(|rule| rule.trim_matches('.'));
    let named: Vec<String> = named.filter(|rule| !rule.is_empty()).map(str::to_lowercase).collect();
    (!named.is_empty()).then_some(Asks::Waive(named))
}

/// Whether the text speaks of a glissando of the lip.
pub(super) fn says_lip_glissando(text: &Text<'_>) -> bool {
    (0..text.tokens.len()).any(|at| LIP_GLISSANDO.iter().any(|phrase| text.stands(at, phrase)))
}

/// All that the text asks, each with the place of its first token.
pub(super) fn asked(text: &mut Text<'_>) -> Vec<(usize, Asks)> {
    let mut asked = Vec::new();
    if !text.has_any(OTHER_TIMES) {
        asked.extend(mutes(text));
        let instrument = instrument(text);
        let changes = instrument.is_some();
        asked.extend(instrument);
        // "2. muta in Tuba": the number says who changes, not who plays on.
        if !changes {
            asked.extend(players(text));
        }
    }
    asked.extend(manner(text, STAGGER).map(|at| (at, Asks::Stagger)));
    let flutter = manner(text, FLUTTER).map(|at| (at, Asks::Flutter(true)));
    let plain = if flutter.is_none() { manner_alone(text, PLAIN) } else { None };
    asked.extend(flutter.or(plain.map(|at| (at, Asks::Flutter(false)))));
    asked.extend(manner(text, LIP_GLISSANDO).map(|at| (at, Asks::LipGlissando)));
    asked.extend(sing(text));
    asked.extend(effect(text));
    asked
}

/// Breath taken in turns, or round; in English, German, French, Italian and Spanish.
const STAGGER: &[&[&str]] = &[
    &["stagger", "breathing"],
    &["stagger", "breath"],
    &["stagger", "breaths"],
    &["stagger", "breathe"],
    &["stagger", "the", "breath"],
    &["staggered", "breathing"],
    &["stag", "breathe"],
    &["stag", "breathing"],
    &["breathe", "ad", "lib"],
    &["breathe", "as", "needed"],
    &["breathe", "as", "necessary"],
    &["breathe", "where", "necessary"],
    &["sneak", "breaths"],
    &["circular", "breathing"],
    &["circular", "breathe"],
    &["chorisch", "atmen"],
    &["chorische", "atmung"],
    &["versetzt", "atmen"],
    &["abwechselnd", "atmen"],
    &["permanentatmung"],
    &["zirkularatmung"],
    &["zirkulare", "atmung"],
    &["respiration", "alternee"],
    &["respirations", "alternees"],
    &["respirations", "decalees"],
    &["respirer", "alternativement"],
    &["respirez", "alternativement"],
    &["respiration", "circulaire"],
    &["respirazione", "alternata"],
    &["respirare", "alternativamente"],
    &["respiri", "alternati"],
    &["respirazione", "circolare"],
    &["fiato", "continuo"],
    &["respiracion", "alternada"],
    &["respiracion", "escalonada"],
    &["respiracion", "circular"],
];
const FLUTTER: &[&[&str]] = &[
    &["flz"],
    &["fltz"],
    &["flatterz"],
    &["flatterzunge"],
    &["flutter"],
    &["flutter", "tongue"],
    &["flutter", "tonguing"],
    &["fluttertongue"],
    &["flt"],
    &["frull"],
    &["frullato"],
    &["frullando"],
    &["tremolo", "dental"],
];
/// Back to the usual manner, where nothing else of weight is said.
const PLAIN: &[&[&str]] = &[
    &["ord"],
    &["ordinario"],
    &["norm"],
    &["normal"],
    &["normale"],
    &["nat"],
    &["naturale"],
    &["gewohnlich"],
];

/// A glissando over the partials, in English, German, French, Italian and Spanish.
const LIP_GLISSANDO: &[&[&str]] = &[
    &["lip", "gliss"],
    &["lip", "glissando"],
    &["lip", "slide"],
    &["lip", "rip"],
    &["half", "valve"],
    &["half", "valves"],
    &["lippengliss"],
    &["lippenglissando"],
    &["halbventil"],
    &["gliss", "des", "levres"],
    &["glissando", "des", "levres"],
    &["demi", "pistons"],
    &["gliss", "di", "labbro"],
    &["glissando", "di", "labbro"],
    &["mezzi", "pistoni"],
    &["glissando", "de", "labio"],
];
/// Two notes at once, one of them sung, in English, German, French, Italian and Spanish.
const MULTIPHONIC: &[&[&str]] = &[
    &["multiphonic"],
    &["multiphonics"],
    &["multiph"],
    &["mehrklang"],
    &["mehrklange"],
    &["multiphonique"],
    &["multiphoniques"],
    &["multifonico"],
    &["multifonici"],
    &["multifonicos"],
    &["sing", "and", "play"],
    &["sing", "while", "playing"],
    &["play", "and", "sing"],
    &["singen", "und", "spielen"],
    &["chanter", "et", "jouer"],
];
/// The voice, where nothing else of weight is said: "singend" and "cantando" are ways to play.
const SING: &[&[&str]] = &[
    &["sing"],
    &["sung"],
    &["voice"],
    &["hum"],
    &["singen"],
    &["gesungen"],
    &["stimme"],
    &["chanter"],
    &["chante"],
    &["voix"],
    &["cantato"],
    &["cantar"],
    &["voz"],
];
const PLAY: &[&[&str]] = &[&["play"], &["played"], &["spielen"], &["jouer"], &["suonare"], &["tocar"]];

fn sing(text: &mut Text<'_>) -> Option<(usize, Asks)> {
    let sings = manner(text, MULTIPHONIC).or_else(|| manner_alone(text, SING));
    let plays = if sings.is_none() { manner_alone(text, PLAY) } else { None };
    sings.map(|at| (at, Asks::Sing(true))).or(plays.map(|at| (at, Asks::Sing(false))))
}

/// Where one of these stands and is not denied.
fn manner(text: &mut Text<'_>, phrases: &[&[&str]]) -> Option<usize> {
    const DENIALS: &[&str] =
        &["no", "not", "non", "senza", "sans", "ohne", "nicht", "kein", "keine", "sin", "dont"];
    for at in 0..text.tokens.len() {
        let standing = phrases.iter().filter(|phrase| text.stands(at, phrase)).map(|phrase| phrase.len());
        if let Some(length) = standing.max()
            && !(at > 0 && DENIALS.contains(&text.at(at - 1)))
        {
            text.understand(at..at + length);
            return Some(at);
        }
    }
    None
}

fn manner_alone(text: &mut Text<'_>, phrases: &[&[&str]]) -> Option<usize> {
    let at = (0..text.tokens.len()).find(|&at| phrases.iter().any(|phrase| text.stands(at, phrase)))?;
    text.is_only(at..at + 1).then(|| {
        text.understand(at..at + 1);
        at
    })
}

const PUT_IN: &[&str] = &[
    "add",
    "auf",
    "aufsetzen",
    "avec",
    "c",
    "con",
    "in",
    "insert",
    "metta",
    "mettere",
    "mettete",
    "mettez",
    "mettre",
    "metti",
    "mit",
    "nehmen",
    "nimmt",
    "on",
    "pon",
    "poner",
    "ponga",
    "prend",
    "prendere",
    "prendre",
    "prenez",
    "put",
    "take",
    "to",
    "use",
    "w",
    "with",
];
const TAKE_OUT: &[&str] = &[
    "ab", "away", "enlever", "enlevez", "enleve", "fort", "fuori", "leva", "levare", "levate", "no", "off",
    "ohne", "ote", "oter", "otez", "out", "quita", "quitar", "quite", "remove", "retirez", "s", "sans",
    "senza", "sin", "togli", "togliere", "via", "w/o", "weg", "without",
];
const ARTICLES: &[&str] =
    &["the", "your", "la", "le", "les", "il", "i", "die", "den", "el", "las", "los", "l", "o"];
const MUTE_NOUNS: &[&str] = &[
    "mute",
    "mutes",
    "sord",
    "sords",
    "sordino",
    "sordini",
    "sordina",
    "sordine",
    "sordinas",
    "sourd",
    "sourdine",
    "sourdines",
    "dampfer",
    "dampfern",
    "daempfer",
    "daempfern",
    "dpf",
];
/// Names of mutes: the tokens, the mute, whether the name alone says mute (else a noun or "in", "to" must
/// stand beside it: "straight" alone is a way to play eighths).
const MUTES: &[(&[&str], Mute, bool)] = &[
    (&["straight"], Mute::Straight, false),
    (&["str"], Mute::Straight, false),
    (&["st"], Mute::Straight, false),
    (&["metal"], Mute::Straight, false),
    (&["fiber"], Mute::Straight, false),
    (&["fibre"], Mute::Straight, false),
    (&["cup"], Mute::Cup, true),
    (&["harmon"], Mute::Harmon, true),
    (&["wah", "wah"], Mute::Harmon, false),
    (&["wa", "wa"], Mute::Harmon, false),
    (&["wawa"], Mute::Harmon, false),
    (&["plunger"], Mute::Plunger, true),
    (&["bucket"], Mute::Bucket, true),
    (&["velvet", "tone"], Mute::Bucket, false),
    (&["solotone"], Mute::Solotone, true),
    (&["solo", "tone"], Mute::Solotone, true),
    (&["cleartone"], Mute::Solotone, true),
    (&["clear", "tone"], Mute::Solotone, false),
    (&["derby"], Mute::Derby, true),
    (&["hat"], Mute::Derby, false),
    (&["bowler"], Mute::Derby, true),
    (&["pixie"], Mute::Pixie, true),
    (&["practice"], Mute::Practice, false),
    (&["practise"], Mute::Practice, false),
    (&["silent"], Mute::Practice, false),
    (&["ubedampfer"], Mute::Practice, true),
    (&["uebedaempfer"], Mute::Practice, true),
];
/// Open again, when nothing else of weight is said.
const OPEN: &[&str] = &["open", "offen", "ouvert", "aperto", "abierto", "unmuted"];
/// Muted, when nothing else of weight is said.
const MUTED: &[&str] = &["muted", "gedampft", "gedaempft"];
const NOT_YET: &[&str] = &[
    "prepare",
    "prep",
    "prepared",
    "ready",
    "preparare",
    "preparez",
    "vorbereiten",
    "bereit",
    "bereithalten",
    "get",
];

/// Mutes in and out. A named mute counts before a plain "muted" in the same text.
fn mutes(text: &mut Text<'_>) -> Option<(usize, Asks)> {
    if text.has_any(NOT_YET) {
        return None;
    }
    let mut named: Option<(usize, Mute)> = None;
    let mut plain: Option<usize> = None;
    let mut last_out: Option<usize> = None;
    let mut index = 0;
    while index < text.tokens.len() {
        let Some((name, mute, alone)) = mute_name(text, index) else {
            index += 1;
            continue;
        };
        let (around, action) = action_around(text, name.clone());
        let whole = text.is_only(around.clone());
        let means = match action {
            Some(_) => mute.is_none() || alone || whole,
            None => (alone && name.len() > 1) || whole,
        };
        if means {
            text.understand(around.clone());
            match (action, mute) {
                (Some(Action::Out), _) => last_out = Some(around.start),
                (_, Some(mute)) => named = Some((around.start, mute)),
                _ => plain = Some(around.start),
            }
        }
        index = around.end.max(name.end);
    }
    let asked = |(at, mute): (usize, Option<Mute>)| (at, Asks::Mute(mute));
    let found = named
        .map(|(at, mute)| (at, Some(mute)))
        .or(plain.map(|at| (at, Some(Mute::Straight))))
        .filter(|(at, _)| last_out.is_none_or(|out| out < *at))
        .or(last_out.map(|at| (at, None)));
    found.map(asked).or_else(|| adjective(text))
}

fn adjective(text: &mut Text<'_>) -> Option<(usize, Asks)> {
    let at =
        (0..text.tokens.len()).find(|&at| OPEN.contains(&text.at(at)) || MUTED.contains(&text.at(at)))?;
    let opens = OPEN.contains(&text.at(at));
    // "Open solo" is a solo of open length.
    if !text.is_only(at..at + 1) || (opens && text.has_any(&["solo", "solos"])) {
        return None;
    }
    text.understand(at..at + 1);
    let negated = at > 0 && matches!(text.at(at - 1), "not" | "nicht" | "non");
    Some((at, Asks::Mute((!opens && !negated).then_some(Mute::Straight))))
}

/// The mute named at a place: its tokens, which one (`None` where the text says no more than "mute"), and
/// whether it stands for a mute without further words.
fn mute_name(text: &Text<'_>, index: usize) -> Option<(Range<usize>, Option<Mute>, bool)> {
    if MUTE_NOUNS.contains(&text.at(index)) {
        // "sord. cup", "sourdine wah-wah".
        let behind = kind_at(text, index + 1).filter(|(_, _, alone)| *alone);
        return Some(match behind {
            Some((kind, mute, _)) => (index..kind.end, Some(mute), true),
            None => (index..index + 1, None, false),
        });
    }
    let (kind, mute, alone) = kind_at(text, index)?;
    if MUTE_NOUNS.contains(&text.at(kind.end)) {
        return Some((kind.start..kind.end + 1, Some(mute), true));
    }
    if alone {
        return Some((kind, Some(mute), true));
    }
    // "in hat", "to straight": only with such a word, and only as the whole text.
    let before = index.checked_sub(1).map(|before| text.at(before));
    matches!(before, Some("in" | "to")).then_some((kind, Some(mute), false))
}

fn kind_at(text: &Text<'_>, index: usize) -> Option<(Range<usize>, Mute, bool)> {
    let found = MUTES.iter().find(|(name, _, _)| text.stands(index, name))?;
    Some((index..index + found.0.len(), found.1, found.2))
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Action {
    In,
    Out,
}

/// What is to be done with the mute named at `name`, with the tokens that say so.
fn action_around(text: &Text<'_>, name: Range<usize>) -> (Range<usize>, Option<Action>) {
    let mut around = name.clone();
    let mut action = None;
    for before in (name.start.saturating_sub(3)..name.start).rev() {
        let word = text.at(before);
        if text.is_understood(before) || MUTE_NOUNS.contains(&word) {
            break;
        }
        if TAKE_OUT.contains(&word) {
            action = Some(Action::Out);
        } else if PUT_IN.contains(&word) {
            action = action.or(Some(Action::In));
        } else if !ARTICLES.contains(&word) {
            break;
        }
        if action.is_some() {
            around.start = before;
        }
    }
    let behind = text.at(name.end);
    if matches!(behind, "out" | "off" | "away" | "weg" | "ab" | "fuori" | "fort" | "via") {
        action = Some(Action::Out);
        around.end = name.end + 1;
    } else if action.is_none() && matches!(behind, "on" | "auf" | "in") && text.tokens.len() == name.end + 1 {
        action = Some(Action::In);
        around.end = name.end + 1;
    }
    (around, action)
}

/// Verbs before the name of another instrument; those that are also everyday words count only at the head of
/// the text.
const CHANGES: &[(&[&str], bool)] = &[
    (&["muta", "in"], false),
    (&["mutano", "in"], false),
    (&["mutare", "in"], false),
    (&["cambia", "in"], false),
    (&["cambiano", "in"], false),
    (&["cambia", "a"], false),
    (&["cambiar", "a"], false),
    (&["cambio", "a"], false),
    (&["muda", "a"], false),
    (&["prende"], false),
    (&["prendere"], false),
    (&["prendono"], false),
    (&["prend"], false),
    (&["prends"], false),
    (&["prendre"], false),
    (&["prenez"], false),
    (&["prennent"], false),
    (&["change", "en"], false),
    (&["changez", "en"], false),
    (&["changer", "en"], false),
    (&["changent", "en"], false),
    (&["change", "pour"], false),
    (&["nimmt"], false),
    (&["nehmen"], false),
    (&["wechselt", "zu"], false),
    (&["wechselt", "zur"], false),
    (&["wechselt", "zum"], false),
    (&["wechselt", "in"], false),
    (&["wechseln", "zu"], false),
    (&["wechseln", "zur"], false),
    (&["wechseln", "in"], false),
    (&["wechsel", "zu"], false),
    (&["wechsel", "zur"], false),
    (&["wechsel", "in"], false),
    (&["change", "to"], false),
    (&["changes", "to"], false),
    (&["changing", "to"], false),
    (&["switch", "to"], false),
    (&["switches", "to"], false),
    (&["takes"], true),
    (&["take"], true),
    (&["toma"], true),
    (&["tomar"], true),
    (&["to"], true),
];
/// No instrument's name begins with these.
const NO_INSTRUMENT: &[&str] = &[
    "a", "all", "as", "bar", "be", "beat", "break", "breath", "care", "coda", "cue", "down", "each", "end",
    "ending", "fermata", "fine", "finish", "it", "lead", "letter", "match", "next", "niente", "no", "off",
    "open", "opt", "out", "over", "pause", "play", "repeat", "repeats", "rit", "segno", "solo", "start",
    "stop", "tempo", "time", "tutti", "unis",
];

fn instrument(text: &mut Text<'_>) -> Option<(usize, Asks)> {
    if text.has_any(NOT_YET) {
        return None;
    }
    for at in 0..text.tokens.len() {
        let Some((verb, everyday)) = CHANGES.iter().find(|(verb, _)| text.stands(at, verb)) else { continue };
        let numbered = |index: usize| text.tokens[index].raw.chars().all(|c| c.is_ascii_digit());
        if *everyday && !(0..at).all(numbered) {
            continue;
        }
        let mut first = at + verb.len();
        while ARTICLES.contains(&text.at(first)) || matches!(text.at(first), "das" | "up") {
            first += 1;
        }
        let (Some(begin), Some(verb_end)) = (text.tokens.get(first), text.tokens.get(at + verb.len() - 1))
        else {
            continue;
        };
        // A name stands right behind its verb, and only till the next mark.
        let stop = |c: char| matches!(c, ',' | ';' | ':' | '(' | ')' | '[' | ']' | '\n' | '"' | '“' | '”');
        if text.whole[verb_end.range.end..begin.range.start].contains(stop) {
            continue;
        }
        let behind = &text.whole[begin.range.start..];
        let name = behind[..behind.find(stop).unwrap_or(behind.len())].trim();
        let tokens = text.tokens[first..]
            .iter()
            .take_while(|t| t.range.start < begin.range.start + name.len())
            .count();
        let is_mute = (first..first + tokens)
            .any(|index| text.is_understood(index) || MUTE_NOUNS.contains(&text.at(index)));
        if is_mute || tokens > 5 || NO_INSTRUMENT.contains(&text.at(first)) {
            continue;
        }
        let asks = match sole_player(text, at) {
            Some(player) => Asks::InstrumentOfOne(player, name.to_owned()),
            None => Asks::Instrument(name.to_owned()),
        };
        text.understand(at..first + tokens);
        return Some((at, asks));
    }
    None
}

/// The most words an instrument's name has.
const LONGEST_NAME: usize = 4;

/// A text that may be nothing but an instrument's name.
pub(super) fn name(text: &Text<'_>) -> Option<Asks> {
    let is_word =
        |token: &super::text::Token<'_>| !token.is_mark && token.raw.chars().all(char::is_alphabetic);
    let may_be = (1..=LONGEST_NAME).contains(&text.tokens.len())
        && text.tokens.iter().all(is_word)
        && !text.is_only(0..0);
    may_be.then(|| Asks::Named(text.whole.trim().to_owned()))
}

/// The one player who is named before the place: "2. muta in …", "2nd player take …"; `None` for "1. 2. mutano in".
fn sole_player(text: &Text<'_>, before: usize) -> Option<u8> {
    let mut named = (0..before).filter(|&at| !BESIDE_NUMBERS.contains(&text.at(at)));
    match (named.next(), named.next()) {
        (Some(only), None) => player_number(text, only),
        _ => None,
    }
}

const ALL: &[&[&str]] = &[
    &["a2"],
    &["a3"],
    &["a4"],
    &["a", "due"],
    &["a", "tre"],
    &["a", "deux"],
    &["a", "trois"],
    &["a", "dos"],
    &["a", "tres"],
    &["zu", "2"],
    &["zu", "3"],
    &["zu", "4"],
    &["zu2"],
    &["zu3"],
    &["zu", "zweit"],
    &["zu", "zweien"],
    &["zu", "dritt"],
    &["zu", "dreien"],
    &["unis"],
    &["unisono"],
    &["unison"],
    &["unissoni"],
    &["unisson"],
    &["l", "unisson"],
    &["soli"],
];
/// Everyone, where nothing else of weight is said.
const ALL_ALONE: &[&[&str]] = &[
    &["a", "2"],
    &["a", "3"],
    &["a", "4"],
    &["tutti"],
    &["tous"],
    &["toutes"],
    &["todos"],
    &["alle"],
    &["beide"],
    &["both"],
    &["both", "players"],
    &["all"],
    &["all", "players"],
    &["tutte"],
    &["ambos"],
];
const DIVIDED: &[&[&str]] = &[
    &["div"],
    &["divisi"],
    &["divise"],
    &["divises"],
    &["divided"],
    &["divide"],
    &["geteilt"],
    &["getheilt"],
    &["geth"],
    &["dividido"],
    &["divididos"],
];
/// The first, second, third and fourth player.
const NUMBERS: [&[&str]; 4] = [
    &["1", "i", "1st", "1er", "1mo", "imo", "1o", "primo", "first", "erster"],
    &["2", "ii", "2nd", "2do", "iido", "2o", "secondo", "second", "zweiter", "2e", "2eme"],
    &["3", "iii", "3rd", "3zo", "3o", "terzo", "third", "dritter", "3e", "3eme"],
    &["4", "iv", "4th", "4to", "4o", "quarto", "fourth", "vierter", "4e"],
];
const BESIDE_NUMBERS: &[&str] =
    &["solo", "sola", "only", "alone", "allein", "seul", "player", "players", "spieler", "pl"];

/// Who plays from here on.
fn players(text: &mut Text<'_>) -> Option<(usize, Asks)> {
    let (tokens, players) = who_plays(text)?;
    text.understand(tokens.clone());
    Some((tokens.start, Asks::Players(players)))
}

fn who_plays(text: &Text<'_>) -> Option<(Range<usize>, Players)> {
    if text.has_any(&["tacet", "end", "fine", "until"]) {
        return None;
    }
    let longest = |phrases: &[&[&str]], at: usize| {
        let standing = phrases.iter().filter(|phrase| text.stands(at, phrase));
        standing.map(|phrase| at..at + phrase.len()).max_by_key(Range::len)
    };
    let places = || 0..text.tokens.len();
    if let Some(found) = places().find_map(|at| longest(DIVIDED, at)) {
        return Some((found, Players::Divided));
    }
    if let Some(found) = places().find_map(|at| longest(ALL, at)) {
        return Some((found, Players::All));
    }
    if let Some(found) = places().find_map(|at| longest(ALL_ALONE, at)).filter(|at| text.is_only(at.clone()))
    {
        return Some((found, Players::All));
    }
    let (span, numbers, marked) = player_numbers(text)?;
    match *numbers.as_slice() {
        [] if text.has_any(&["solo", "sola"]) => Some((span, Players::Only(1))),
        [only] if marked || text.has_any(&["solo", "sola"]) => Some((span, Players::Only(only))),
        [1, 2] | [1, 2, 3] | [1, 2, 3, 4] => Some((span, Players::All)),
        _ => None,
    }
}

/// The player whom a token numbers.
fn player_number(text: &Text<'_>, at: usize) -> Option<u8> {
    let token = &text.tokens[at];
    let place = NUMBERS.iter().position(|names| names.contains(&token.folded.as_str()))?;
    // A small "i" is a word or a letter.
    let small = token.folded.starts_with('i') && !token.raw.starts_with('I');
    u8::try_from(place + 1).ok().filter(|_| !small && !text.is_understood(at))
}

/// The player numbers of a text that says nothing else of weight, and whether they are marked as such ("1.",
/// "2nd"): a bare figure may be a fingering.
fn player_numbers(text: &Text<'_>) -> Option<(Range<usize>, Vec<u8>, bool)> {
    let number = |at: usize| player_number(text, at);
    let beside = |at: usize| BESIDE_NUMBERS.contains(&text.at(at)) && !text.is_understood(at);
    let mut places = (0..text.tokens.len()).filter(|&at| number(at).is_some() || beside(at));
    let first = places.next()?;
    let last = places.next_back().unwrap_or(first);
    let span = first..last + 1;
    let between = |at: usize| matches!(text.at(at), "e" | "u" | "und" | "and" | "et" | "y");
    if !span.clone().all(|at| number(at).is_some() || beside(at) || between(at))
        || !text.is_only(span.clone())
    {
        return None;
    }
    let is_marked = |at: usize| {
        let token = &text.tokens[at];
        let figure = token.folded.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'i' | b'v'));
        token.dotted || !figure && text.at(at) != "solo"
    };
    let numbers = span.clone().filter_map(number).collect();
    let marked = span.clone().any(is_marked);
    Some((span, numbers, marked))
}

const EFFECTS: &[(&[&str], bool)] = &[
    (&["pedal", "tone"], false),
    (&["pedal", "tones"], false),
    (&["pedal", "note"], false),
    (&["pedal", "notes"], false),
    (&["pedalton"], false),
    (&["pedaltone"], false),
    (&["pedaltones"], false),
    (&["note", "pedale"], false),
    (&["notes", "pedales"], false),
    (&["nota", "pedale"], false),
    (&["nota", "pedal"], false),
    (&["notas", "pedales"], false),
    (&["as", "an", "effect"], false),
    (&["as", "effect"], false),
    (&["for", "effect"], false),
    (&["sound", "effect"], false),
    (&["comme", "un", "effet"], false),
    (&["come", "effetto"], false),
    (&["als", "effekt"], false),
    (&["como", "efecto"], false),
    (&["effect"], true),
    (&["effetto"], true),
    (&["effet"], true),
    (&["effekt"], true),
    (&["efecto"], true),
    (&["pedal"], true),
    (&["pedals"], true),
    (&["pedale"], true),
];

/// A low note meant as an effect. "pedal" and "effect" count only where nothing else of weight is said.
fn effect(text: &mut Text<'_>) -> Option<(usize, Asks)> {
    for at in 0..text.tokens.len() {
        for (phrase, alone) in EFFECTS {
            let here = at..at + phrase.len();
            let negated = at > 0
                && matches!(text.at(at - 1), "no" | "not" | "without" | "sans" | "senza" | "ohne" | "sin");
            if text.stands(at, phrase) && !negated && (!alone || text.is_only(here.clone())) {
                text.understand(here);
                return Some((at, Asks::Effect));
            }
        }
    }
    None
}
