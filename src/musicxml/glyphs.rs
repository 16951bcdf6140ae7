//! Dynamic letters that are drawn as glyphs: `SMuFL` names and code points, and Unicode's musical symbols.
//!
//! Source of names and code points: `SMuFL`, "Dynamics (U+E520 to U+E54F)", table of the specification (w3c/smufl,
//! `markdown/tables/dynamics.md`), which gives the Unicode points beside its own.

use std::borrow::Cow;

/// `SMuFL` name, code point, letters. What separates letters ("f-p") is itself; hairpins and brackets are no letters.
const GLYPHS: [(&str, char, &str); 34] = [
    ("dynamicPiano", '\u{e520}', "p"),
    ("dynamicMezzo", '\u{e521}', "m"),
    ("dynamicForte", '\u{e522}', "f"),
    ("dynamicRinforzando", '\u{e523}', "r"),
    ("dynamicSforzando", '\u{e524}', "s"),
    ("dynamicZ", '\u{e525}', "z"),
    ("dynamicNiente", '\u{e526}', "n"),
    ("dynamicPPPPPP", '\u{e527}', "pppppp"),
    ("dynamicPPPPP", '\u{e528}', "ppppp"),
    ("dynamicPPPP", '\u{e529}', "pppp"),
    ("dynamicPPP", '\u{e52a}', "ppp"),
    ("dynamicPP", '\u{e52b}', "pp"),
    ("dynamicMP", '\u{e52c}', "mp"),
    ("dynamicMF", '\u{e52d}', "mf"),
    ("dynamicPF", '\u{e52e}', "pf"),
    ("dynamicFF", '\u{e52f}', "ff"),
    ("dynamicFFF", '\u{e530}', "fff"),
    ("dynamicFFFF", '\u{e531}', "ffff"),
    ("dynamicFFFFF", '\u{e532}', "fffff"),
    ("dynamicFFFFFF", '\u{e533}', "ffffff"),
    ("dynamicFortePiano", '\u{e534}', "fp"),
    ("dynamicForzando", '\u{e535}', "fz"),
    ("dynamicSforzando1", '\u{e536}', "sf"),
    ("dynamicSforzandoPiano", '\u{e537}', "sfp"),
    ("dynamicSforzandoPianissimo", '\u{e538}', "sfpp"),
    ("dynamicSforzato", '\u{e539}', "sfz"),
    ("dynamicSforzatoPiano", '\u{e53a}', "sfzp"),
    ("dynamicSforzatoFF", '\u{e53b}', "sffz"),
    ("dynamicRinforzando1", '\u{e53c}', "rf"),
    ("dynamicRinforzando2", '\u{e53d}', "rfz"),
    ("dynamicCombinedSeparatorColon", '\u{e546}', ":"),
    ("dynamicCombinedSeparatorHyphen", '\u{e547}', "-"),
    ("dynamicCombinedSeparatorSpace", '\u{e548}', " "),
    ("dynamicCombinedSeparatorSlash", '\u{e549}', "/"),
];

/// The letters of a glyph by its `SMuFL` name, in any of its stylistic alternates; `None` for what is no dynamic letter.
pub(super) fn letters_of(name: &str) -> Option<&'static str> {
    let name = name.trim();
    let name = name.strip_suffix("Small").unwrap_or(name);
    GLYPHS.iter().find(|(own, ..)| *own == name).map(|(.., letters)| *letters)
}

/// A text with every dynamic glyph in it written as its letters.
pub(super) fn in_letters(text: &str) -> Cow<'_, str> {
    if text.is_ascii() || !text.contains(is_glyph) {
        return Cow::Borrowed(text);
    }
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match letters(c) {
            Some(letters) => plain.push_str(letters),
            None => plain.push(c),
        }
    }
    Cow::Owned(plain)
}

fn is_glyph(c: char) -> bool {
    letters(c).is_some()
}

fn letters(c: char) -> Option<&'static str> {
    let smufl = match c {
        '\u{1d18c}' => '\u{e523}',
        '\u{1d18d}' => '\u{e524}',
        '\u{1d18e}' => '\u{e525}',
        '\u{1d18f}' => '\u{e520}',
        '\u{1d190}' => '\u{e521}',
        '\u{1d191}' => '\u{e522}',
        '\u{e520}'..='\u{e549}' => c,
        _ => return None,
    };
    GLYPHS.iter().find(|(_, own, _)| *own == smufl).map(|(.., letters)| *letters)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::Mark;

    #[test]
    fn glyphs_stand_for_their_letters() {
        assert_eq!(in_letters("\u{e521}\u{e522} dolce"), "mf dolce");
        assert_eq!(in_letters("(\u{1d18f}\u{1d18f})"), "(pp)");
        assert_eq!(in_letters("sempre ff"), "sempre ff");
        assert_eq!(in_letters("\u{e522}\u{e547}\u{e520}"), "f-p");
        assert_eq!(letters_of("dynamicForteSmall"), Some("f"));
        assert_eq!(letters_of("dynamicCrescendoHairpin"), None);
    }

    #[test]
    fn every_glyph_of_more_than_a_letter_is_a_mark() {
        for (name, _, letters) in GLYPHS.iter().filter(|(.., letters)| letters.len() > 1) {
            assert!(Mark::from_letters(letters).is_some(), "{name}");
        }
    }
}
