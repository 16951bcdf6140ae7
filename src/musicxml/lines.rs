//! Line numbers of byte positions, from a table made once.

/// Bytes between two entries of the table: small enough to count through, large enough to be no burden.
const STRIDE: usize = 1024;

/// Where the lines of a text begin.
#[derive(Debug)]
pub(super) struct Lines<'t> {
    text: &'t [u8],
    /// Newlines before each multiple of [`STRIDE`].
    before: Vec<u32>,
}

impl<'t> Lines<'t> {
    /// The table of a text.
    pub(super) fn of(text: &'t str) -> Lines<'t> {
        let mut count = 0;
        let before = text
            .as_bytes()
            .chunks(STRIDE)
            .map(|chunk| {
                let here = count;
                count += newlines(chunk);
                here
            })
            .collect();
        Lines { text: text.as_bytes(), before }
    }

    /// The line of a byte, from 1.
    pub(super) fn at(&self, position: usize) -> u32 {
        let block = (position / STRIDE).min(self.before.len().saturating_sub(1));
        let start = block * STRIDE;
        let within = self.text.get(start..position.min(self.text.len())).unwrap_or_default();
        1 + self.before.get(block).copied().unwrap_or(0) + newlines(within)
    }
}

fn newlines(bytes: &[u8]) -> u32 {
    memchr::memchr_iter(b'\n', bytes).count() as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_has_the_line_that_counting_gives() {
        let text = "a\nbb\n\nccc".repeat(700);
        let lines = Lines::of(&text);
        for position in (0..text.len()).step_by(7).chain([text.len()]) {
            let counted = 1 + text[..position].matches('\n').count();
            assert_eq!(lines.at(position) as usize, counted, "{position}");
        }
        assert_eq!(Lines::of("").at(0), 1);
    }
}
