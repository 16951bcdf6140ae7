//! Reading a part's name: its words, the key it names, its numbers. Accents, case, dots, numerals and the words
//! around them fall away, so that "2. Posaune in B♭", "Posaune II" and "POSAUNE" have the same words.

use super::words::words;

/// A name, read.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub(super) struct Reading {
    /// What is left when numbers and keys are out, in order, without accents. Families and their kinds stand in the one
    /// word for all: "Basso Trb." is "bass trombone".
    pub(super) words: Vec<String>,
    /// The same as printed.
    pub(super) printed: Vec<String>,
    /// The key it names, as a letter with "b" for a flat: "bb", "f".
    pub(super) key: Option<&'static str>,
    /// Which players it is for, in rising order: 1 and 2 in "Tuba 1-2".
    pub(super) numbers: Vec<u8>,
    /// How many it says there are ("3 Trombones").
    pub(super) count: Option<u8>,
    /// Places in the words at which another name begins, behind "and" or a stroke.
    parts_at: Vec<usize>,
    /// It joins two names with "and".
    pub(super) joined: bool,
}

/// Keys as they are named behind "in" or "en" (one word).
const KEYS_BEHIND_IN: [(&str, &str); 21] = [
    ("c", "c"),
    ("do", "c"),
    ("ut", "ut"), // A tuba "en ut" is the small French one, a tuba in C the contrabass.
    ("d", "d"),
    ("re", "d"),
    ("eb", "eb"),
    ("es", "eb"),
    ("mib", "eb"),
    ("e", "e"),
    ("mi", "e"),
    ("f", "f"),
    ("fa", "f"),
    ("g", "g"),
    ("sol", "g"),
    ("b", "bb"),
    ("bb", "bb"),
    ("bbb", "bb"),
    ("sib", "bb"),
    ("eeb", "eb"),
    ("cc", "c"),
    ("ab", "ab"),
];

/// Keys that stand alone beside an instrument.
const KEYS_ALONE: [(&str, &str); 12] = [
    ("bb", "bb"),
    ("bbb", "bb"),
    ("sib", "bb"),
    ("eb", "eb"),
    ("eeb", "eb"),
    ("es", "eb"),
    ("mib", "eb"),
    ("cc", "c"),
    ("c", "c"),
    ("f", "f"),
    ("g", "g"),
    ("d", "d"),
];

/// A piece of a name with what stands around it.
struct Piece {
    text: String,
    /// The marks and spaces before it.
    marks_before: String,
    /// The mark or space directly behind it.
    mark_behind: Option<char>,
}

impl Piece {
    fn behind_dash(&self) -> bool {
        self.marks_before.contains(['-', '–', '—'])
    }

    fn behind_stroke(&self) -> bool {
        self.marks_before.contains(['/', '\n'])
    }

    fn before_dash(&self) -> bool {
        self.mark_behind == Some('-')
    }

    fn before_dot(&self) -> bool {
        self.mark_behind == Some('.')
    }
}

/// Reads a name.
pub(super) fn read(name: &str) -> Reading {
    let pieces = pieces(&fold(name));
    let mut reading = Reading::default();
    let mut at = 0;
    while let Some(piece) = pieces.get(at) {
        let next = |ahead: usize| pieces.get(at + ahead).map(|piece| piece.text.as_str());
        let text = piece.text.as_str();
        let words = words();
        if piece.behind_stroke() || words.is_joiner(text) {
            reading.part();
        }
        // "A. Tbn." is an alto, "a 3" says how many.
        let kind = |text: &str| {
            text.len() == 1
                && words.kind(text).is_some()
                && next(1).is_some_and(|word| words.family(word).is_some())
        };
        if text == "a"
            && reading.numbers.is_empty()
            && !reading.printed.is_empty()
            && next(1).is_some_and(is_digits)
        {
            reading.count = next(1).and_then(number);
            at += 1;
        } else if kind(text) && piece.before_dot() {
            reading.printed.push(piece.text.clone());
        } else if let Some((kind, family)) = words.parted(text) {
            reading.printed.extend([kind, family].map(str::to_owned));
        } else if matches!(text, "in" | "en" | "em") {
            let flat = matches!(next(2), Some("flat" | "bemol" | "bemolle")) || next(2) == Some("b");
            match (next(1), flat) {
                (Some("b" | "si"), true) => (reading.key, at) = (Some("bb"), at + 2),
                (Some("e" | "mi"), true) => (reading.key, at) = (Some("eb"), at + 2),
                (Some(word), _) => {
                    if let Some((_, key)) = KEYS_BEHIND_IN.iter().find(|(name, _)| *name == word) {
                        reading.key = Some(key);
                        at += 1;
                    }
                }
                (None, _) => {}
            }
        } else if let (true, Some("flat" | "bemol" | "bemolle")) =
            (matches!(text, "b" | "si" | "e" | "mi"), next(1))
        {
            reading.key = Some(if matches!(text, "b" | "si") { "bb" } else { "eb" });
            at += 1;
        } else if let (true, Some("b")) = (matches!(text, "si" | "mi"), next(1)) {
            reading.key = Some(if text == "si" { "bb" } else { "eb" });
            at += 1;
        } else if let Some(number) = number(text) {
            let first = reading.printed.is_empty() && reading.numbers.is_empty();
            let plural = next(1).is_some_and(|word| {
                word.ends_with(['s', 'i'])
                    || word.ends_with('n') && !words.is_abbreviation(word)
                    || word == "tube"
            }) || (1..=3).any(|ahead| next(ahead).is_some_and(|word| words.is_plural(word)));
            let arabic = text.starts_with(|c: char| c.is_ascii_digit());
            if first && arabic && number > 1 && !piece.before_dot() && plural {
                reading.count = Some(number);
            } else {
                reading.add(number, piece.behind_dash());
            }
        } else if let (true, Some("c")) = (matches!(text, "t" | "b"), next(1)) {
            reading.printed.push(format!("{text}c")); // T.C. and B.C. are clefs.
            at += 1;
        } else if piece.before_dash() && text == "b" {
            reading.key = Some("bb"); // "B-Tuba" is in B flat, "B. Tuba" is a bass tuba.
        } else if let Some((_, key)) = KEYS_ALONE.iter().find(|(name, _)| *name == text) {
            reading.key = Some(key);
        } else if words.is_joiner(text) {
            reading.joined |= !reading.printed.is_empty();
        } else if !words.is_filler(text) {
            reading.printed.push(piece.text.clone());
        }
        at += 1;
    }
    reading.words = composed(&reading.printed);
    reading.joined &= reading.words.len() > 1;
    reading.numbers.sort_unstable();
    reading.numbers.dedup();
    reading
}

impl Reading {
    /// Another name begins here, if one with a family is complete: "Tenor/Bass Trombone" is one.
    fn part(&mut self) {
        let from = self.parts_at.last().copied().unwrap_or(0);
        if self.printed[from..].iter().any(|word| words().family(word).is_some()) {
            self.parts_at.push(self.printed.len());
        }
    }

    /// Whether another name begins between two places in the words.
    pub(super) fn parts_within(&self, from: usize, to: usize) -> bool {
        self.parts_at.iter().any(|at| from < *at && *at < to)
    }

    fn add(&mut self, number: u8, through: bool) {
        match self.numbers.last() {
            Some(&from) if through && from < number => self.numbers.extend(from + 1..=number),
            _ => self.numbers.push(number),
        }
    }

    /// How many players the name is for; `None` where it does not say.
    pub(super) fn players(&self) -> Option<u8> {
        self.count.or_else(|| u8::try_from(self.numbers.len()).ok().filter(|&count| count > 0))
    }
}

/// Families and, beside them, their kinds in the one word for all.
fn composed(printed: &[String]) -> Vec<String> {
    let words = words();
    if printed.iter().all(|word| words.family(word).is_none()) {
        return printed.to_vec();
    }
    let is_family = |at: usize| printed.get(at).is_some_and(|word| words.family(word).is_some());
    let one = |(at, word): (usize, &String)| {
        let kind = words.kind(word).filter(|_| word.chars().count() > 1 || is_family(at + 1));
        words.family(word).or(kind).unwrap_or(word).to_owned()
    };
    printed.iter().enumerate().map(one).collect()
}

/// Whether a text has words that say nothing about the instrument ("Tuba solo").
pub(super) fn has_filler(text: &str) -> bool {
    pieces(&fold(text)).iter().any(|piece| words().is_filler(&piece.text))
}

fn is_digits(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

/// The words of an abbreviation, numbers out and keys kept as words: "B. Tbn. 3" is "b tbn".
pub(super) fn abbreviation(text: &str) -> Vec<String> {
    pieces(&fold(text)).into_iter().map(|piece| piece.text).filter(|word| number(word).is_none()).collect()
}

/// Small letters without accents; flats and sharps as letters.
pub(super) fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len());
    for c in name.chars().flat_map(char::to_lowercase) {
        match c {
            'ä' | 'á' | 'à' | 'â' | 'ã' => folded.push('a'),
            'é' | 'è' | 'ê' | 'ë' => folded.push('e'),
            'í' | 'ì' | 'î' | 'ï' => folded.push('i'),
            'ö' | 'ó' | 'ò' | 'ô' | 'õ' => folded.push('o'),
            'ü' | 'ú' | 'ù' | 'û' => folded.push('u'),
            'ñ' => folded.push('n'),
            'ç' => folded.push('c'),
            'ß' => folded.push_str("ss"),
            '♭' => folded.push('b'),
            '♯' => folded.push('#'),
            'ř' => folded.push('r'),
            'ý' => folded.push('y'),
            'ё' => folded.push('е'),
            '０'..='９' => folded.extend(char::from_u32(u32::from(c) - u32::from('０') + u32::from('0'))),
            // What has no width is no letter: soft hyphens, joiners, marks of direction.
            'º'
            | '°'
            | 'ª'
            | '\u{ad}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2060}'
            | '\u{feff}'
            | '\u{300}'..='\u{36f}' => {}
            _ => folded.push(c),
        }
    }
    folded
}

/// Cuts a folded name at everything that is no letter or digit, and between letters and digits.
fn pieces(folded: &str) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut marks_before = String::new();
    let mut open = false;
    for c in folded.chars() {
        if c.is_alphanumeric() {
            let digit = c.is_ascii_digit();
            match pieces.last_mut() {
                Some(last) if open && last.text.ends_with(|l: char| l.is_ascii_digit()) == digit => {
                    last.text.push(c);
                }
                _ => pieces.push(Piece {
                    text: c.to_string(),
                    marks_before: std::mem::take(&mut marks_before),
                    mark_behind: None,
                }),
            }
            open = true;
        } else {
            if let (Some(last), true) = (pieces.last_mut(), open) {
                last.mark_behind = Some(c);
            }
            if matches!(c, '&' | '+') {
                pieces.push(Piece { text: c.to_string(), marks_before: String::new(), mark_behind: None });
            }
            marks_before.push(c);
            open = false;
        }
    }
    // The ending of an ordinal belongs to its number.
    let mut index = 1;
    while index < pieces.len() {
        let ordinal = words().is_ordinal(&pieces[index].text)
            && pieces[index - 1].text.starts_with(|c: char| c.is_ascii_digit())
            && folded.contains(&format!("{}{}", pieces[index - 1].text, pieces[index].text));
        if ordinal {
            pieces.remove(index);
            pieces[index - 1].mark_behind = Some('.');
        } else {
            index += 1;
        }
    }
    pieces
}

/// A number in digits or small roman numerals up to viii.
fn number(text: &str) -> Option<u8> {
    let roman = ["i", "ii", "iii", "iv", "v", "vi", "vii", "viii"];
    match roman.iter().position(|numeral| *numeral == text) {
        Some(index) => u8::try_from(index + 1).ok(),
        None => text.parse().ok().filter(|&number: &u8| (1..=99).contains(&number)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(name: &str, words: &str, key: Option<&str>, numbers: &[u8]) {
        let reading = read(name);
        assert_eq!(reading.printed.join(" "), words, "{name}");
        assert_eq!(reading.key, key, "{name}");
        assert_eq!(reading.numbers, numbers, "{name}");
    }

    #[test]
    fn numbers_in_any_dress_are_numbers() {
        for name in
            ["Posaune II", "2. Posaune", "POSAUNE 2", "Posaune2", "2nd Posaune", "2ª Posaune", "Posaune 2."]
        {
            reads(name, "posaune", None, &[2]);
        }
        reads("Posaune I.II", "posaune", None, &[1, 2]);
        reads("Trombone 1-3", "trombone", None, &[1, 2, 3]);
        reads("Trombone 1.2", "trombone", None, &[1, 2]);
        reads("1. und 2. Posaune", "posaune", None, &[1, 2]);
    }

    #[test]
    fn a_number_before_a_plural_counts_players() {
        assert_eq!(read("2 Tubas").count, Some(2));
        assert_eq!(read("3 Posaunen").count, Some(3));
        assert_eq!(read("3. Posaune").count, None);
        assert_eq!(read("2 Tuba").count, None);
    }

    #[test]
    fn keys_are_read_in_five_languages() {
        for name in [
            "Tuba in Bb",
            "Tuba in B♭",
            "B♭ Tuba",
            "BB♭ Tuba",
            "Tuba in B",
            "B-Tuba",
            "Tuba in B flat",
            "Tuba en si♭",
            "Tuba en si bémol",
            "Tuba in sib",
        ] {
            reads(name, "tuba", Some("bb"), &[]);
        }
        for name in ["Tuba en mi b", "Es-Tuba", "Tuba in Es", "E-flat Tuba", "E♭ Tuba", "EE♭ Tuba"] {
            reads(name, "tuba", Some("eb"), &[]);
        }
        reads("Tuba en ut", "tuba", Some("ut"), &[]);
        reads("Tuba (F)", "tuba", Some("f"), &[]);
        reads("B. Tuba", "b tuba", None, &[]);
    }
}
