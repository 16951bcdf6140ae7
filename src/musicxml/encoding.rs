//! Text encodings: bytes to text, and text back to the very same bytes.
//!
//! A byte-order mark decides; then the shape of the first bytes; then the XML declaration; else UTF-8.
//! Malformed bytes are an error: a replaced character could never be written back.

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE};

use super::ReadError;

/// How a text is stored as bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Coding {
    pub(super) encoding: &'static Encoding,
    pub(super) bom: bool,
}

impl Coding {
    /// How these bytes are to be read.
    pub(super) fn of(bytes: &[u8]) -> Result<Coding, ReadError> {
        if bytes.starts_with(&[0xFF, 0xFE, 0, 0]) || bytes.starts_with(&[0, 0, 0xFE, 0xFF]) {
            return Err(ReadError::UnknownEncoding("UTF-32".to_owned()));
        }
        if let Some((encoding, _)) = Encoding::for_bom(bytes) {
            return Ok(Coding { encoding, bom: true });
        }
        match bytes {
            [b'<', 0, ..] => return Ok(Coding { encoding: UTF_16LE, bom: false }),
            [0, b'<', ..] => return Ok(Coding { encoding: UTF_16BE, bom: false }),
            _ => {}
        }
        let encoding = match declared(bytes) {
            None => UTF_8,
            Some(label) => Encoding::for_label(&label)
                .ok_or_else(|| ReadError::UnknownEncoding(String::from_utf8_lossy(&label).into_owned()))?,
        };
        // A declaration that was readable byte by byte is no UTF-16, whatever it says: the text was
        // re-encoded on its way and the declaration left alone.
        let encoding = if encoding == UTF_16LE || encoding == UTF_16BE { UTF_8 } else { encoding };
        Ok(Coding { encoding, bom: false })
    }

    /// Whether the first character that is no white space is '<', as in every XML text.
    pub(super) fn begins_with_markup(self, bytes: &[u8]) -> bool {
        let head = &bytes[self.mark().len()..bytes.len().min(4096)];
        let wide = self.encoding == UTF_16LE || self.encoding == UTF_16BE;
        head.iter().find(|byte| !(byte.is_ascii_whitespace() || wide && **byte == 0)) == Some(&b'<')
    }

    /// The text of these bytes, without the byte-order mark.
    pub(super) fn decode(self, mut bytes: Vec<u8>) -> Result<String, ReadError> {
        let mark = self.mark().len();
        if self.encoding == UTF_8 {
            if mark > 0 {
                bytes.drain(..mark);
            }
            return String::from_utf8(bytes).map_err(|error| {
                let valid = error.utf8_error().valid_up_to();
                let line = 1 + memchr::memchr_iter(b'\n', &error.as_bytes()[..valid]).count();
                ReadError::Malformed { encoding: "UTF-8", line: Some(line) }
            });
        }
        self.encoding
            .decode_without_bom_handling_and_without_replacement(&bytes[mark..])
            .map(std::borrow::Cow::into_owned)
            .ok_or(ReadError::Malformed { encoding: self.encoding.name(), line: None })
    }

    /// The bytes of a text, with the byte-order mark; `None` when a character does not exist in the encoding.
    pub(super) fn encode(self, text: &str) -> Option<Vec<u8>> {
        let mut bytes = self.mark().to_vec();
        if self.encoding == UTF_16LE {
            bytes.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
        } else if self.encoding == UTF_16BE {
            bytes.extend(text.encode_utf16().flat_map(u16::to_be_bytes));
        } else {
            let (encoded, _, unmappable) = self.encoding.encode(text);
            if unmappable {
                return None;
            }
            bytes.extend_from_slice(&encoded);
        }
        Some(bytes)
    }

    fn mark(self) -> &'static [u8] {
        match self.encoding {
            _ if !self.bom => &[],
            encoding if encoding == UTF_16LE => &[0xFF, 0xFE],
            encoding if encoding == UTF_16BE => &[0xFE, 0xFF],
            _ => &[0xEF, 0xBB, 0xBF],
        }
    }
}

/// The encoding that an XML declaration names.
fn declared(bytes: &[u8]) -> Option<Vec<u8>> {
    let head = bytes.strip_prefix(b"<?xml")?;
    let head = &head[..memchr::memchr(b'>', head)?.min(500)];
    let behind = &head[memchr::memmem::find(head, b"encoding")? + "encoding".len()..];
    let behind = behind.trim_ascii_start().strip_prefix(b"=")?.trim_ascii_start();
    let (&quote, label) = behind.split_first()?;
    if quote != b'"' && quote != b'\'' {
        return None;
    }
    Some(label[..memchr::memchr(quote, label)?].to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn there_and_back(bytes: &[u8], text: &str, name: &str) {
        let coding = Coding::of(bytes).unwrap();
        assert_eq!(coding.encoding.name(), name);
        assert_eq!(coding.decode(bytes.to_vec()).unwrap(), text);
        assert_eq!(coding.encode(text).unwrap(), bytes);
    }

    #[test]
    fn every_encoding_comes_back_as_the_bytes_it_was() {
        there_and_back("<é/>".as_bytes(), "<é/>", "UTF-8");
        there_and_back(b"\xEF\xBB\xBF<a/>", "<a/>", "UTF-8");
        there_and_back(b"\xFF\xFE<\0\xE9\0", "<é", "UTF-16LE");
        there_and_back(b"\xFE\xFF\0<\0\xE9", "<é", "UTF-16BE");
        there_and_back(b"<\0\xE9\0", "<é", "UTF-16LE");
        there_and_back(b"\0<\0\xE9", "<é", "UTF-16BE");
        let latin = "<?xml version='1.0' encoding='ISO-8859-1'?>";
        there_and_back(&[latin.as_bytes(), b"\xE9"].concat(), &format!("{latin}é"), "windows-1252");
        let japanese = "<?xml version=\"1.0\" encoding = \"Shift_JIS\"?>";
        there_and_back(&[japanese.as_bytes(), b"\x83\x89"].concat(), &format!("{japanese}ラ"), "Shift_JIS");
    }

    #[test]
    fn a_declaration_that_can_be_read_is_not_utf_16() {
        let bytes = b"<?xml version='1.0' encoding='UTF-16'?><a/>";
        assert_eq!(Coding::of(bytes).unwrap().encoding.name(), "UTF-8");
    }

    #[test]
    fn malformed_bytes_and_unknown_names_are_said() {
        let broken = Coding::of(b"<a>\n\xFF</a>").unwrap().decode(b"<a>\n\xFF</a>".to_vec());
        assert!(matches!(broken, Err(ReadError::Malformed { line: Some(2), .. })));
        let unknown = Coding::of(b"<?xml version='1.0' encoding='klingon-7'?>");
        assert!(matches!(unknown, Err(ReadError::UnknownEncoding(name)) if name == "klingon-7"));
        assert!(matches!(Coding::of(b"\xFF\xFE\0\0"), Err(ReadError::UnknownEncoding(_))));
    }
}
