//! Texts that come from elsewhere, as they may be shown: nothing in them steers a terminal or turns a line around.

use std::borrow::Cow;

/// A text without control characters, those of C1 included, and without marks that override the direction of writing.
/// White space among them becomes a space.
///
/// ```
/// assert_eq!(lowbrass::printable::printable("Tu\u{202e}ba\n\u{9b}31m"), "Tuba 31m");
/// ```
pub fn printable(text: &str) -> Cow<'_, str> {
    if text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) || !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(
        text.chars()
            .filter_map(|c| match c {
                '\t' | '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}' => Some(' '),
                c if steers(c) => None,
                c => Some(c),
            })
            .collect(),
    )
}

/// Whether a character does something to the text around it instead of being shown.
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_steers_is_left() {
        let every: String = (0..=0x0010_FFFF).filter_map(char::from_u32).filter(|c| steers(*c)).collect();
        assert!(every.chars().count() > 65 + 20);
        assert!(!printable(&every).contains(steers));
    }

    #[test]
    fn letters_and_accidentals_of_any_script_stay() {
        for text in ["Tuba in B♭", "Басовая туба", "チューバ", "טובה", "𝄢 Tuba\u{301}", ""]
        {
            assert_eq!(printable(text), text);
        }
    }
}
