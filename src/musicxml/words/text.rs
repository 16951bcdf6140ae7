//! A text cut into folded tokens, and the record of what has been understood of it.

use std::ops::Range;

use crate::music::Dynamic;

/// One word, number or sign.
#[derive(Debug, Clone)]
pub(super) struct Token<'t> {
    /// As it stands.
    pub(super) raw: &'t str,
    /// Small letters without accents ("Dämpfer" is "dampfer").
    pub(super) folded: String,
    /// Where it stands in the text, in bytes.
    pub(super) range: Range<usize>,
    /// A full stop or a degree sign follows at once.
    pub(super) dotted: bool,
    /// It stands in a `dynamics` element.
    pub(super) is_mark: bool,
}

/// A text while it is read: its tokens, and which of them mean something already.
#[derive(Debug)]
pub(super) struct Text<'t> {
    /// The whole text.
    pub(super) whole: &'t str,
    /// Its tokens in order.
    pub(super) tokens: Vec<Token<'t>>,
    understood: Vec<bool>,
}

impl<'t> Text<'t> {
    /// Cuts a text; `marks` are the bytes that stand in `dynamics` elements.
    pub(super) fn new(whole: &'t str, marks: &[Range<usize>]) -> Text<'t> {
        let mut tokens = Vec::new();
        let mut chars = whole.char_indices().peekable();
        while let Some((start, c)) = chars.next() {
            let mut end = start + c.len_utf8();
            if is_letter(c) {
                while let Some(&(at, next)) = chars.peek()
                    && is_letter(next)
                {
                    end = at + next.len_utf8();
                    chars.next();
                }
            } else if !is_sign(c) {
                continue;
            }
            let raw = &whole[start..end];
            let dotted = whole[end..].starts_with(['.', '°', 'º', 'ª']);
            let is_mark = marks.iter().any(|mark| mark.contains(&start));
            tokens.push(Token { raw, folded: fold(raw), range: start..end, dotted, is_mark });
        }
        let understood = vec![false; tokens.len()];
        Text { whole, tokens, understood }
    }

    /// The folded token at a place; empty beyond the ends.
    pub(super) fn at(&self, index: usize) -> &str {
        self.tokens.get(index).map_or("", |token| token.folded.as_str())
    }

    /// Whether the tokens from `index` on are these.
    pub(super) fn stands(&self, index: usize, phrase: &[&str]) -> bool {
        phrase.iter().enumerate().all(|(offset, word)| self.at(index + offset) == *word)
    }

    /// Whether any token is one of these.
    pub(super) fn has_any(&self, words: &[&str]) -> bool {
        self.tokens.iter().any(|token| words.contains(&token.folded.as_str()))
    }

    /// Some tokens as they stand, with the full stop behind them.
    pub(super) fn quoted(&self, tokens: Range<usize>) -> String {
        let own = self.tokens.get(tokens).unwrap_or_default();
        let (Some(first), Some(last)) = (own.first(), own.last()) else { return String::new() };
        let end = last.range.end + usize::from(self.whole[last.range.end..].starts_with('.'));
        self.whole[first.range.start..end].split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Records that these tokens mean something.
    pub(super) fn understand(&mut self, tokens: Range<usize>) {
        for understood in self.understood.get_mut(tokens).unwrap_or_default() {
            *understood = true;
        }
    }

    pub(super) fn is_understood(&self, index: usize) -> bool {
        self.understood.get(index).copied().unwrap_or(false)
    }

    /// Whether every token outside `but` is understood or says nothing that changes a meaning.
    pub(super) fn is_only(&self, but: Range<usize>) -> bool {
        (0..self.tokens.len()).all(|index| but.contains(&index) || self.is_harmless(index))
    }

    /// Whether every token before `index` is understood or harmless.
    pub(super) fn opens_with(&self, index: usize) -> bool {
        (0..index).all(|index| self.is_harmless(index))
    }

    fn is_harmless(&self, index: usize) -> bool {
        // Letters of a mark are a dynamic, whoever reads them.
        let mark = self.tokens.get(index).is_some_and(|token| token.is_mark || is_level(token.raw));
        self.is_understood(index) || mark || COMPANIONS.contains(&self.at(index))
    }
}

/// Whether this is a level in letters, as marks are printed.
fn is_level(raw: &str) -> bool {
    raw.parse::<Dynamic>().is_ok()
}

fn is_letter(c: char) -> bool {
    (c.is_alphanumeric() && !matches!(c, 'º' | 'ª')) || is_combining(c)
}

fn is_combining(c: char) -> bool {
    ('\u{300}'..='\u{36f}').contains(&c)
}

/// Signs that are words of their own: note values, segno, coda, the equals sign.
fn is_sign(c: char) -> bool {
    matches!(c, '=' | '♩' | '♪' | '\u{1d10b}' | '\u{1d10c}' | '\u{e047}' | '\u{e048}')
}

fn fold(raw: &str) -> String {
    let mut folded = String::with_capacity(raw.len());
    for c in raw.chars().flat_map(char::to_lowercase) {
        match c {
            'à' | 'á' | 'â' | 'ä' | 'ã' | 'å' => folded.push('a'),
            'è' | 'é' | 'ê' | 'ë' => folded.push('e'),
            'ì' | 'í' | 'î' | 'ï' => folded.push('i'),
            'ò' | 'ó' | 'ô' | 'ö' | 'õ' | 'ø' => folded.push('o'),
            'ù' | 'ú' | 'û' | 'ü' => folded.push('u'),
            'ç' => folded.push('c'),
            'ñ' => folded.push('n'),
            'ß' => folded.push_str("ss"),
            'œ' => folded.push_str("oe"),
            '\u{1d10b}' | '\u{e047}' => folded.push_str("segno"),
            '\u{1d10c}' | '\u{e048}' => folded.push_str("coda"),
            c if is_combining(c) => {}
            c => folded.push(c),
        }
    }
    folded
}

/// Words that stand beside others without changing what those ask of the reader.
const COMPANIONS: &[&str] = &[
    // Little words.
    "a",
    "al",
    "all",
    "alla",
    "and",
    "bien",
    "con",
    "das",
    "de",
    "der",
    "die",
    "e",
    "ed",
    "el",
    "en",
    "et",
    "il",
    "in",
    "la",
    "le",
    "les",
    "lo",
    "ma",
    "mit",
    "avec",
    "non",
    "nicht",
    "pas",
    "the",
    "trop",
    "troppo",
    "u",
    "un",
    "und",
    "with",
    "y",
    "your",
    // How much.
    "assai",
    "etwas",
    "meno",
    "molto",
    "more",
    "piu",
    "plus",
    "poco",
    "possibile",
    "quasi",
    "sehr",
    "sempre",
    "sim",
    "simile",
    "still",
    "stets",
    "sub",
    "subito",
    "suddenly",
    "toujours",
    "tres",
    "un",
    "always",
    "immer",
    "peu",
    "very",
    // How it sounds.
    "agitato",
    "ausdrucksvoll",
    "bold",
    "brillante",
    "brio",
    "cant",
    "cantabile",
    "dehors",
    "dolce",
    "dolciss",
    "dolcissimo",
    "doux",
    "dramatic",
    "eroico",
    "espr",
    "espress",
    "espressivo",
    "expr",
    "expressif",
    "expressive",
    "feroce",
    "fuoco",
    "furioso",
    "giocoso",
    "grandioso",
    "hervortretend",
    "heavy",
    "heavily",
    "intense",
    "leg",
    "legato",
    "legg",
    "leggero",
    "leggiero",
    "light",
    "lightly",
    "lontano",
    "maestoso",
    "marc",
    "marcatissimo",
    "marcato",
    "marked",
    "misterioso",
    "mysterioso",
    "nobile",
    "nobilmente",
    "pes",
    "pesante",
    "playful",
    "rubato",
    "semplice",
    "smooth",
    "smoothly",
    "sonore",
    "sonoro",
    "sost",
    "sostenuto",
    "sotto",
    "stacc",
    "staccato",
    "ten",
    "tenuto",
    "tranq",
    "tranquillo",
    "vib",
    "vibrato",
    "voce",
    "warm",
    "weich",
    "zart",
];
