//! Cutting a partwise text at its parts and measures: small pieces, and a skeleton of all that stands around them.
//!
//! A slice that begins where markup may begin, ends at the first closing tag and is a well-formed document is
//! the very element that a parser of the whole text would see there. Whatever is not that plain (entities
//! of the document's own, prefixes declared outside, stray text, any error) is a [`Doubt`], and then the whole
//! text goes to the parser, whose verdict and positions count.

use std::ops::Range;

use memchr::arch::all::packedpair::HeuristicFrequencyRank;
use memchr::memmem::FinderBuilder;
use memchr::{memchr, memmem};

/// The text is not plain enough to be cut; nothing is said of whether it is well-formed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Doubt;

/// A text cut at its parts.
#[derive(Debug)]
pub(super) struct Cut {
    /// The whole document with every part empty.
    pub(super) skeleton: String,
    /// What stands between the tags of each part, in order.
    pub(super) parts: Vec<Range<usize>>,
}

/// Cuts a text at `<part …>…</part>`.
pub(super) fn cut(text: &str) -> Result<Cut, Doubt> {
    let bytes = text.as_bytes();
    let first = start_tag(bytes, 0, b"<part").ok_or(Doubt)?;
    if memmem::find(&bytes[..first], b"<score-timewise").is_some() {
        return Err(Doubt);
    }
    let mut skeleton = text[..first].to_owned();
    let mut parts = Vec::new();
    let mut at = first;
    loop {
        let tag_end = at + memchr(b'>', &bytes[at..]).ok_or(Doubt)?;
        if bytes[tag_end - 1] == b'/' {
            skeleton.push_str(&text[at..=tag_end]);
            parts.push(tag_end + 1..tag_end + 1);
            at = tag_end + 1;
        } else {
            skeleton.push_str(&text[at..tag_end]);
            skeleton.push_str("/>");
            let end = end_tag(bytes, tag_end + 1, b"</part")?;
            parts.push(tag_end + 1..end.start);
            at = end.end;
        }
        let next = past_gap(bytes, at)?;
        if start_tag(&bytes[..bytes.len().min(next + 6)], next, b"<part") == Some(next) {
            skeleton.push_str(&text[at..next]);
            at = next;
        } else {
            skeleton.push_str(&text[at..]);
            return Ok(Cut { skeleton, parts });
        }
    }
}

/// Where the next measure begins in what is left of a part; `None` where there is none left.
pub(super) fn next_measure(text: &str, part: Range<usize>) -> Result<Option<usize>, Doubt> {
    let bytes = &text.as_bytes()[..part.end];
    let start = past_gap(bytes, part.start)?;
    let is_measure = || start_tag(&bytes[..bytes.len().min(start + 9)], start, b"<measure") == Some(start);
    if start == bytes.len() {
        Ok(None)
    } else if is_measure() {
        Ok(Some(start))
    } else {
        Err(Doubt)
    }
}

/// The whole of the measure with which a range begins.
pub(super) fn measure(text: &str, part: Range<usize>) -> Result<Range<usize>, Doubt> {
    let (bytes, start) = (&text.as_bytes()[..part.end], part.start);
    let tag_end = start + memchr(b'>', &bytes[start..]).ok_or(Doubt)?;
    if bytes[tag_end - 1] == b'/' {
        return Ok(start..tag_end + 1);
    }
    Ok(start..end_tag(bytes, tag_end + 1, b"</measure")?.end)
}

/// How common bytes are in a score: brackets and slashes, rare in other texts, stand everywhere, and of the letters of
/// `part` the first two hardly ever side by side. A search looks for the rarest first.
struct InScores;

impl HeuristicFrequencyRank for InScores {
    fn rank(&self, byte: u8) -> u8 {
        match byte {
            b'p' | b'a' => 0,
            b'<' | b'>' | b'/' => u8::MAX,
            _ => 1,
        }
    }
}

/// Where the first start tag of a name begins, not of a longer name.
fn start_tag(bytes: &[u8], from: usize, tag: &[u8]) -> Option<usize> {
    let finder = FinderBuilder::new().build_forward_with_ranker(InScores, tag);
    finder.find_iter(&bytes[from..]).map(|found| from + found).find(|found| {
        matches!(bytes.get(found + tag.len()), Some(b' ' | b'\t' | b'\r' | b'\n' | b'>' | b'/'))
    })
}

/// The first end tag of a name; one of a longer name is a doubt, as no such name is known.
fn end_tag(bytes: &[u8], from: usize, tag: &[u8]) -> Result<Range<usize>, Doubt> {
    let finder = FinderBuilder::new().build_forward_with_ranker(InScores, tag);
    let mut search = from;
    loop {
        let start = search + finder.find(&bytes[search..]).ok_or(Doubt)?;
        let mut end = start + tag.len();
        if matches!(bytes.get(end), Some(b'-')) {
            // `</part-symbol>` and the like stand inside attributes.
            search = end;
            continue;
        }
        while matches!(bytes.get(end), Some(b' ' | b'\t' | b'\r' | b'\n')) {
            end += 1;
        }
        return if bytes.get(end) == Some(&b'>') { Ok(start..end + 1) } else { Err(Doubt) };
    }
}

/// Past white space and comments; anything else is where it stops.
fn past_gap(bytes: &[u8], mut at: usize) -> Result<usize, Doubt> {
    loop {
        while matches!(bytes.get(at), Some(b' ' | b'\t' | b'\r' | b'\n')) {
            at += 1;
        }
        match bytes.get(at) {
            None => return Ok(at),
            Some(b'<') if bytes[at..].starts_with(b"<!--") => {
                let inside = at + 4;
                let length = memmem::find(&bytes[inside..], b"--").ok_or(Doubt)?;
                let plain = bytes[inside..inside + length]
                    .iter()
                    .all(|byte| *byte >= b' ' || byte.is_ascii_whitespace());
                if !plain || bytes.get(inside + length + 2) != Some(&b'>') {
                    return Err(Doubt);
                }
                at = inside + length + 3;
            }
            Some(b'<') if !bytes[at..].starts_with(b"<!") && !bytes[at..].starts_with(b"<?") => {
                return Ok(at);
            }
            Some(_) => return Err(Doubt),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measures(text: &str, mut part: Range<usize>) -> Result<Vec<&str>, Doubt> {
        let mut measures = Vec::new();
        while let Some(start) = next_measure(text, part.clone())? {
            let range = measure(text, start..part.end)?;
            part.start = range.end;
            measures.push(&text[range]);
        }
        Ok(measures)
    }

    fn cut_up(text: &str) -> Result<(String, Vec<Vec<&str>>), Doubt> {
        let cut = cut(text)?;
        let parts = cut.parts.iter().map(|part| measures(text, part.clone())).collect::<Result<_, _>>()?;
        Ok((cut.skeleton, parts))
    }

    #[test]
    fn parts_and_measures_come_out_whole() {
        let text = "<?xml?>\n<s><part-list/><!-- = -->\n<part id='a'>\n <measure n='1'><x/></measure ><!-- - -->\
                    <measure/></part >\n<part id='b'/>\n</s>\n";
        let (skeleton, parts) = cut_up(text).unwrap();
        assert_eq!(skeleton, "<?xml?>\n<s><part-list/><!-- = -->\n<part id='a'/>\n<part id='b'/>\n</s>\n");
        assert_eq!(parts, [vec!["<measure n='1'><x/></measure >", "<measure/>"], vec![]]);
    }

    #[test]
    fn what_is_not_plain_is_a_doubt() {
        for text in [
            "<s/>",
            "<s><part>",
            "<s><part>stray<measure/></part></s>",
            "<s><part><measure/>&amp;</part></s>",
            "<s><part><?go?><measure/></part></s>",
            "<s><part><![CDATA[<measure/>]]></part></s>",
            "<s><part><measure><!-- </part> --></measure></part></s>",
            "<s><!-- <part><measure/></part> --></s>",
            "<s><part><!-- a -- b --><measure/></part></s>",
            "<score-timewise><measure><part/></measure></score-timewise>",
        ] {
            assert_eq!(cut_up(text).err(), Some(Doubt), "{text}");
        }
    }

    #[test]
    fn elements_whose_names_go_on_are_not_parts() {
        let text = "<s><part-list><part-name/></part-list><part><measure><part-symbol>x</part-symbol></measure></part></s>";
        let (_, parts) = cut_up(text).unwrap();
        assert_eq!(parts, [vec!["<measure><part-symbol>x</part-symbol></measure>"]]);
    }
}
