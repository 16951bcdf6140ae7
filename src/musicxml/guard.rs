//! A look at a text before a parser that trusts it: nothing may pass the limits of [`crate::intake`].
//!
//! The parser keeps every element and every attribute, compares each attribute of an element with each other one, looks
//! through all namespaces at each prefix and puts in an entity as often as it is named. This goes over the text once, keeps
//! nothing but counts and the lengths of entities, and says which limit is passed and where. It does not judge whether
//! the text is well-formed: where it can make nothing of it, the parser will stop at the same place.

use std::collections::HashMap;

use memchr::{memchr, memchr_iter, memmem};

use crate::intake::{self, Exceeded, Limit};

/// References inside references that the parser follows; what lies deeper it refuses itself.
const DEPTH: u32 = 10;

/// Makes sure that a text can be handed to the parser.
///
/// # Errors
///
/// [`Exceeded`]: the limit that is passed first, with its line.
pub(super) fn admit(text: &str) -> Result<(), Exceeded> {
    for mark in [b'<', b'='] {
        intake::MARKUP.admit(memchr_iter(mark, text.as_bytes()).count() as u64)?;
    }
    let mut guard = Guard { text, ..Guard::default() };
    guard.content(0..text.len(), Within::Document)
}

#[derive(Default)]
struct Guard<'t> {
    text: &'t str,
    namespaces: u64,
    entities: HashMap<&'t str, Entity<'t>>,
    declared: u64,
    expanded: u64,
}

/// An entity's text, and what it comes to with all that it names.
struct Entity<'t> {
    text: &'t str,
    whole: Option<u64>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Within {
    Document,
    /// The text of an entity, which may hold elements of its own.
    Entity,
}

impl<'t> Guard<'t> {
    fn content(&mut self, range: std::ops::Range<usize>, within: Within) -> Result<(), Exceeded> {
        let bytes = self.text.as_bytes();
        let (mut at, end) = (range.start, range.end);
        let mut depth = 0_u64;
        // How long the text is that is running, CDATA sections counted in.
        let mut running = 0;
        while at < end {
            let next = memchr(b'<', &bytes[at..end]).map_or(end, |found| at + found);
            running += next - at;
            self.piece(running, next)?;
            self.references(&self.text[at..next], next, within)?;
            let rest = &bytes[next..end];
            let skipped = |open: &[u8], close: &[u8]| {
                rest.starts_with(open)
                    .then(|| memmem::find(&rest[open.len()..], close).map(|to| open.len() + to + close.len()))
            };
            if let Some(length) = skipped(b"<![CDATA[", b"]]>") {
                let Some(length) = length else { return Ok(()) };
                running += length;
                self.piece(running, next)?;
                at = next + length;
                continue;
            }
            if let Some(length) = skipped(b"<!--", b"-->").or_else(|| skipped(b"<?", b"?>")) {
                let Some(length) = length else { return Ok(()) };
                at = next + length;
                continue;
            }
            running = 0;
            if rest.starts_with(b"<!DOCTYPE") {
                let Some(length) = self.doctype(next, end)? else { return Ok(()) };
                at = next + length;
            } else if rest.starts_with(b"</") {
                depth = depth.saturating_sub(1);
                at = next + 2;
            } else if next < end {
                let Some((length, is_empty)) = self.tag(next, end, within)? else { return Ok(()) };
                depth += u64::from(!is_empty);
                self.at(intake::NESTING, depth, next)?;
                at = next + length;
            } else {
                at = end;
            }
        }
        Ok(())
    }

    /// The length of a start tag and whether it is its own end; `None` where it does not end.
    fn tag(&mut self, start: usize, end: usize, within: Within) -> Result<Option<(usize, bool)>, Exceeded> {
        let bytes = &self.text.as_bytes()[start..end];
        let (mut at, mut attributes) = (1, 0);
        while let Some(found) = memchr::memchr3(b'>', b'"', b'\'', &bytes[at..]) {
            let here = at + found;
            if bytes[here] == b'>' {
                return Ok(Some((here + 1, bytes[here - 1] == b'/')));
            }
            attributes += 1;
            self.at(intake::ATTRIBUTES, attributes, start + here)?;
            let is_namespace = memmem::find(&bytes[at..here], b"xmlns").is_some();
            self.namespaces += u64::from(is_namespace);
            self.at(intake::NAMESPACES, self.namespaces, start + here)?;
            let Some(length) = memchr(bytes[here], &bytes[here + 1..]) else { return Ok(None) };
            self.piece(length, start + here)?;
            let value = start + here + 1;
            self.references(&self.text[value..value + length], value, within)?;
            at = here + length + 2;
        }
        Ok(None)
    }

    /// The length of a document type declaration; `None` where it does not end.
    fn doctype(&mut self, start: usize, end: usize) -> Result<Option<usize>, Exceeded> {
        let text = self.text;
        let bytes = &text.as_bytes()[start..end];
        let (mut at, mut is_inside) = (1, false);
        while let Some(&byte) = bytes.get(at) {
            let rest = &bytes[at..];
            at += 1;
            match byte {
                b'[' => is_inside = true,
                b']' => is_inside = false,
                b'>' if !is_inside => return Ok(Some(at)),
                b'"' | b'\'' => {
                    let Some(length) = memchr(byte, &rest[1..]) else { return Ok(None) };
                    at += length + 1;
                }
                b'<' if rest.starts_with(b"<!--") => {
                    let Some(length) = memmem::find(&rest[4..], b"-->") else { return Ok(None) };
                    at += length + 6;
                }
                b'<' if rest.starts_with(b"<?") => {
                    let Some(length) = memmem::find(&rest[2..], b"?>") else { return Ok(None) };
                    at += length + 3;
                }
                b'<' if rest.starts_with(b"<!ENTITY") => {
                    self.declared += 1;
                    self.at(intake::ENTITIES, self.declared, start + at)?;
                    let Some(quote) = memchr::memchr3(b'"', b'\'', b'>', rest) else { return Ok(None) };
                    if rest[quote] == b'>' {
                        continue;
                    }
                    let Some(length) = memchr(rest[quote], &rest[quote + 1..]) else { return Ok(None) };
                    let value = start + at - 1 + quote + 1;
                    let head = &text[start + at - 1 + "<!ENTITY".len()..value - 1];
                    if let Some(name) = head.split_whitespace().next() {
                        let entity = Entity { text: &text[value..value + length], whole: None };
                        // Of several the first counts.
                        self.entities.entry(name).or_insert(entity);
                    }
                    self.content(value..value + length, Within::Entity)?;
                    at += quote + length + 1;
                }
                _ => {}
            }
        }
        Ok(None)
    }

    /// Adds up what the entities come to that a text names. In the text of an entity they count where that is named.
    fn references(&mut self, text: &'t str, at: usize, within: Within) -> Result<(), Exceeded> {
        if within == Within::Entity || self.entities.is_empty() {
            return Ok(());
        }
        for name in names(text) {
            self.expanded = self.expanded.saturating_add(self.whole(name, DEPTH));
            self.at(intake::EXPANSION, self.expanded, at)?;
        }
        Ok(())
    }

    fn whole(&mut self, name: &'t str, depth: u32) -> u64 {
        let Some(entity) = self.entities.get(name) else { return 0 };
        if let Some(whole) = entity.whole {
            return whole;
        }
        let text = entity.text;
        let mut whole = text.len() as u64;
        if depth > 0 {
            for inner in names(text) {
                whole = whole.saturating_add(self.whole(inner, depth - 1));
            }
        }
        if let Some(entity) = self.entities.get_mut(name) {
            entity.whole = Some(whole);
        }
        whole
    }

    fn piece(&self, length: usize, at: usize) -> Result<(), Exceeded> {
        self.at(intake::PIECE, length as u64, at)
    }

    fn at(&self, limit: Limit, count: u64, byte: usize) -> Result<(), Exceeded> {
        limit.admit(count).map_err(|exceeded| {
            let before = &self.text.as_bytes()[..byte.min(self.text.len())];
            Exceeded { line: Some(1 + memchr_iter(b'\n', before).count() as u32), ..exceeded }
        })
    }
}

/// The names of the entities that a text refers to; those of characters are none.
fn names(text: &str) -> impl Iterator<Item = &str> {
    memchr_iter(b'&', text.as_bytes()).filter_map(|at| {
        let rest = &text[at + 1..];
        let name = &rest[..memchr(b';', rest.as_bytes())?];
        (!name.starts_with('#')).then_some(name)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn each(numbers: std::ops::Range<u32>, one: impl FnMut(u32) -> String) -> String {
        numbers.map(one).collect::<Vec<_>>().concat()
    }

    #[track_caller]
    fn refused(text: &str) -> (&'static str, u32) {
        let exceeded = admit(text).expect_err("is let in");
        (exceeded.limit.name, exceeded.line.unwrap_or_default())
    }

    #[test]
    fn plain_scores_and_broken_ones_are_the_parsers() {
        for text in [
            "<?xml version='1.0'?><!DOCTYPE a [<!ENTITY e 'x'> <!ENTITY f SYSTEM \"y\"> %p; <!-- ] > -->]><a b='&e;'>&e;</a>",
            "<a",
            "<a b='",
            "<!DOCTYPE",
            "<!DOCTYPE a [",
            "<![CDATA[",
            "<!--",
            "<?",
            "<",
            "&",
            "&;",
            "",
            "<!DOCTYPE a [<!ENTITY",
            "<!DOCTYPE a [<!ENTITY e",
            "<!DOCTYPE a [<!ENTITY e '",
            "<a/><b",
            "</a></a>",
            "<!DOCTYPE a [<!ENTITY e '&e;'>]><a>&e;</a>",
        ] {
            assert_eq!(admit(text), Ok(()), "{text}");
        }
    }

    #[test]
    fn each_limit_is_named_with_its_line() {
        let attributes = each(0..257, |index| format!(" a{index}=''"));
        assert_eq!(refused(&format!("<a>\n<b{attributes}/></a>")), ("attributes", 2));
        let prefixes = each(0..1001, |index| format!("<b xmlns:p{index}='u'/>\n"));
        assert_eq!(refused(&format!("<a>{prefixes}</a>")), ("namespaces", 1001));
        assert_eq!(refused(&"<a>\n".repeat(257)), ("nesting", 257));
        let long = "x".repeat((1 << 20) + 1);
        assert_eq!(refused(&format!("<a>\n{long}</a>")), ("piece", 2));
        assert_eq!(refused(&format!("<a\nb='{long}'/>")), ("piece", 2));
        let sections = format!("<![CDATA[{}]]>", &long[..1 << 19]);
        assert_eq!(refused(&format!("<a>{sections}{sections}</a>")), ("piece", 1));
        let declared = each(0..1001, |index| format!("<!ENTITY e{index} ''>"));
        assert_eq!(refused(&format!("<!DOCTYPE a [{declared}]><a/>")), ("entities", 1));
        assert_eq!(refused(&"<".repeat(5_000_001)), ("markup", 0));
    }

    #[test]
    fn entities_count_as_often_as_they_are_named() {
        let long = "x".repeat(1 << 19);
        let score = |inside: &str| format!("<!DOCTYPE a [<!ENTITY big '{long}'>]>\n<a>{inside}</a>");
        assert_eq!(admit(&score("&big;&big;")), Ok(()));
        assert_eq!(refused(&score("&big;&big;&big;")), ("expansion", 2));
        assert_eq!(refused(&score("<b c='&big;'/><b c='&big;'/>\n<b c='&big;'/>")), ("expansion", 3));
        // Each names the one before ten times.
        let laughs =
            each(1..9, |index| format!("<!ENTITY e{index} '{}'>", format!("&e{};", index - 1).repeat(10)));
        assert_eq!(
            refused(&format!("<!DOCTYPE a [<!ENTITY e0 'ha'>{laughs}]><a>&e8;</a>")),
            ("expansion", 1)
        );
    }

    #[test]
    fn elements_inside_entities_keep_to_the_limits_too() {
        let attributes = each(0..257, |index| format!(" a{index}=\"\""));
        assert_eq!(
            refused(&format!("<!DOCTYPE a [<!ENTITY e '<b{attributes}/>'>]><a>&e;</a>")),
            ("attributes", 1)
        );
    }
}
