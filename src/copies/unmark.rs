//! Marked copies known again, and freed of their marks.

use crate::musicxml::{Document, MARK_TRACES, MarkError};

/// A score without marks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unmarked {
    /// The whole file.
    pub bytes: Vec<u8>,
    /// Whether there were any.
    pub was_marked: bool,
}

/// Takes the marks out of a copy: what is left is the file that was marked, byte for byte.
///
/// # Errors
///
/// [`MarkError`], for bytes that are no score.
pub fn unmarked(bytes: &[u8]) -> Result<Unmarked, MarkError> {
    let document = Document::open(bytes.to_vec())?;
    document.read(&|parts| vec![false; parts.len()])?;
    let clean = document.unmarked()?;
    Ok(Unmarked { was_marked: clean != bytes, bytes: clean })
}

/// Whether a file's bytes, packed or in any encoding, carry marks of this program.
pub fn is_marked(bytes: &[u8]) -> bool {
    MARK_TRACES.iter().any(|trace| {
        let wide: Vec<u8> = trace.bytes().flat_map(|byte| [byte, 0]).collect();
        // Of wide letters the last zero may belong to the next one.
        let wide = &wide[..wide.len() - 1];
        memchr::memmem::find(bytes, trace.as_bytes()).is_some() || memchr::memmem::find(bytes, wide).is_some()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_is_seen_in_narrow_and_in_wide_letters_and_in_an_archive() {
        let text = "<a><?lowbrass remark?><direction/></a>";
        assert!(is_marked(text.as_bytes()));
        for wide in [u16::to_le_bytes, u16::to_be_bytes] {
            assert!(is_marked(&text.encode_utf16().flat_map(wide).collect::<Vec<u8>>()));
        }
        assert!(is_marked(b"PK..META-INF/lowbrass-source.."));
        assert!(!is_marked(b"<a><!-- lowbrass remark --><direction/></a>"));
    }
}
