//! A light tree of one measure, or of what stands around the music: what the reader walks.
//!
//! It is built from plain text at once, or from a parsed document where the text is not that plain. Plain text has
//! tags with attributes in double quotes and characters that mean themselves, and no more: no references, comments,
//! sections, instructions, prefixes. What reads as plain is the tree that a parser would make of it; the verdict on
//! anything else is the parser's. Elements of a foreign namespace and remarks of our own are no part of the score
//! and never in the tree.

use std::borrow::Cow;
use std::ops::Range;
use std::str::FromStr;

use memchr::memchr;

use super::slices::Doubt;
use super::{marks, xml};

/// Elements in document order, each with all that stands in it.
#[derive(Debug, Default)]
pub(super) struct Tree<'t> {
    elements: Vec<Element<'t>>,
    attributes: Vec<(&'t str, &'t str)>,
    /// While it is built: the elements that are not closed yet.
    open: Vec<u32>,
}

#[derive(Debug)]
struct Element<'t> {
    name: &'t str,
    start: usize,
    attributes: Range<u32>,
    /// Its own text, not that of elements in it.
    text: Cow<'t, str>,
    /// Where its text stands; empty when that is not one piece.
    text_at: Range<usize>,
    /// The index behind the last element in it.
    end: u32,
}

/// An element of a tree.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node<'a, 't> {
    tree: &'a Tree<'t>,
    index: u32,
}

impl<'t> Tree<'t> {
    /// Takes in one element from plain text; byte `offset` of the whole text is where the slice begins. What was in the
    /// tree before is gone.
    pub(super) fn read(&mut self, slice: &'t str, offset: usize) -> Result<Node<'_, 't>, Doubt> {
        self.elements.clear();
        self.attributes.clear();
        self.open.clear();
        let bytes = slice.as_bytes();
        if !mean_themselves(bytes) {
            return Err(Doubt);
        }
        let mut at = 0;
        while let Some(length) = memchr(b'<', &bytes[at..]) {
            let tag = at + length;
            self.plain_text(&slice[at..tag], offset + at)?;
            let is_end = bytes.get(tag + 1) == Some(&b'/');
            at = if is_end { self.end_tag(slice, tag)? } else { self.start_tag(slice, tag, offset)? };
        }
        self.plain_text(&slice[at..], offset + at)?;
        if self.open.is_empty() && !self.elements.is_empty() { Ok(self.root()) } else { Err(Doubt) }
    }

    /// A parsed element with all that stands in it; byte `offset` of the whole text is where its document begins.
    pub(super) fn of(root: roxmltree::Node<'t, '_>, offset: usize) -> Tree<'t> {
        let mut tree = Tree::default();
        tree.add(root, offset);
        tree
    }

    /// The root of a parsed score without the music in its parts and measures.
    pub(super) fn around_music(root: roxmltree::Node<'t, '_>) -> Tree<'t> {
        let mut tree = Tree::default();
        tree.open_parsed(root, 0);
        for element in xml::elements(root) {
            if ["part", "measure"].contains(&xml::name(element)) {
                tree.open_parsed(element, 0);
                tree.close();
            } else {
                tree.add(element, 0);
            }
        }
        tree.close();
        tree
    }

    /// An element alone, without what stands in it.
    pub(super) fn shell(element: roxmltree::Node<'t, '_>) -> Tree<'t> {
        let mut tree = Tree::default();
        tree.open_parsed(element, 0);
        tree.close();
        tree
    }

    /// The outermost element.
    pub(super) fn root(&self) -> Node<'_, 't> {
        Node { tree: self, index: 0 }
    }

    fn add(&mut self, root: roxmltree::Node<'t, '_>, offset: usize) {
        let mut node = root;
        loop {
            let is_remark = || xml::name(node) == "direction" && marks::is_mark(node);
            if node.is_element() && (node == root || !(xml::is_foreign(node) || is_remark())) {
                self.open_parsed(node, offset);
                if let Some(first) = node.first_child() {
                    node = first;
                    continue;
                }
                self.close();
            } else if let Some(text) = node.text().filter(|_| node.is_text()) {
                let only = node.prev_sibling().is_none() && node.next_sibling().is_none();
                let Range { start, end } = if only { node.range() } else { 0..0 };
                self.text(text, offset + start..offset + end);
            }
            while node != root && node.next_sibling().is_none() {
                let Some(parent) = node.parent() else { return };
                self.close();
                node = parent;
            }
            match node.next_sibling() {
                Some(next) if node != root => node = next,
                _ => return,
            }
        }
    }

    fn open_parsed(&mut self, element: roxmltree::Node<'t, '_>, offset: usize) {
        let from = self.attributes.len();
        let own = element.attributes().filter(|attribute| attribute.namespace().is_none());
        self.attributes.extend(own.map(|attribute| (attribute.name(), attribute.value())));
        self.open(xml::name(element), offset + element.range().start, from);
    }

    /// Opens the element whose tag begins at a byte; gives the byte behind the tag.
    fn start_tag(&mut self, slice: &'t str, tag: usize, offset: usize) -> Result<usize, Doubt> {
        let bytes = slice.as_bytes();
        let is_second_root = self.open.is_empty() && !self.elements.is_empty();
        let mut at = name_end(bytes, tag + 1)?;
        let (name, attributes_from) = (&slice[tag + 1..at], self.attributes.len());
        loop {
            match bytes[at..] {
                _ if is_second_root => return Err(Doubt),
                [b'>', ..] => {
                    self.open(name, offset + tag, attributes_from);
                    return Ok(at + 1);
                }
                [b'/', b'>', ..] => {
                    self.open(name, offset + tag, attributes_from);
                    self.close();
                    return Ok(at + 2);
                }
                [b' ', b'>' | b'/', ..] => at += 1,
                [b' ', ..] => {
                    let name = at + 1..name_end(bytes, at + 1)?;
                    let value = name.end + 2;
                    let length = bytes[name.end..].strip_prefix(b"=\"").ok_or(Doubt)?;
                    let length = length.iter().position(|byte| matches!(byte, b'"' | b'<' | ..b' '));
                    at = value + length.filter(|length| bytes[value + length] == b'"').ok_or(Doubt)? + 1;
                    let (name, value) = (&slice[name], &slice[value..at - 1]);
                    let is_twice = self.attributes[attributes_from..].iter().any(|(other, _)| *other == name);
                    if is_twice || name == "xmlns" {
                        return Err(Doubt);
                    }
                    self.attributes.push((name, value));
                }
                _ => return Err(Doubt),
            }
        }
    }

    /// Closes the element whose end tag begins at a byte; gives the byte behind the tag.
    fn end_tag(&mut self, slice: &str, tag: usize) -> Result<usize, Doubt> {
        let inside = self.open.last().and_then(|index| self.elements.get(*index as usize)).ok_or(Doubt)?;
        let rest = slice[tag + 2..].strip_prefix(inside.name).ok_or(Doubt)?;
        let rest = rest.trim_ascii_start().strip_prefix('>').ok_or(Doubt)?;
        self.close();
        Ok(slice.len() - rest.len())
    }

    fn open(&mut self, name: &'t str, start: usize, attributes_from: usize) {
        let index = self.elements.len() as u32;
        let attributes = attributes_from as u32..self.attributes.len() as u32;
        let text = Cow::Borrowed("");
        self.elements.push(Element { name, start, attributes, text, text_at: 0..0, end: index + 1 });
        self.open.push(index);
    }

    fn close(&mut self) {
        let end = self.elements.len() as u32;
        if let Some(element) = self.open.pop().and_then(|index| self.elements.get_mut(index as usize)) {
            element.end = end;
        }
    }

    fn plain_text(&mut self, text: &'t str, start: usize) -> Result<(), Doubt> {
        let is_blank = text.trim_ascii().is_empty();
        let inside = self.open.last().and_then(|index| self.elements.get(*index as usize));
        // Line ends in mid-text may have to become others, text may come in pieces: rare, and left to the parser.
        let is_plain = inside.is_some_and(|element| element.text.is_empty()) && !text.contains('\r');
        if is_plain || is_blank {
            self.text(text, start..start + text.len());
            return Ok(());
        }
        Err(Doubt)
    }

    /// White space between elements is layout and no text.
    fn text(&mut self, text: &'t str, at: Range<usize>) {
        let count = self.elements.len();
        let Some(index) = self.open.last().map(|index| *index as usize) else { return };
        let Some(element) = self.elements.get_mut(index) else { return };
        let holds_elements = count > index + 1;
        if element.text.is_empty() {
            if !(holds_elements && text.trim().is_empty()) {
                (element.text, element.text_at) = (Cow::Borrowed(text), at);
            }
        } else if !(holds_elements && text.trim().is_empty()) {
            element.text.to_mut().push_str(text);
            element.text_at = 0..0;
        }
    }
}

impl<'a, 't> Node<'a, 't> {
    fn element(self) -> &'a Element<'t> {
        &self.tree.elements[self.index as usize]
    }

    /// The byte of the whole text at which it begins.
    pub(super) fn start(self) -> usize {
        self.element().start
    }

    /// The value of an attribute.
    pub(super) fn attribute(self, name: &str) -> Option<&'a str> {
        let Range { start, end } = self.element().attributes;
        let own = &self.tree.attributes[start as usize..end as usize];
        own.iter().find(|(other, _)| *other == name).map(|(_, value)| *value)
    }

    /// Its text as it stands, with the white space around it.
    pub(super) fn raw_text(self) -> &'a str {
        &self.element().text
    }

    /// The bytes of the whole text that its text stands at, when it holds nothing else.
    pub(super) fn text_at(self) -> Option<Range<usize>> {
        let element = self.element();
        (element.end == self.index + 1 && !element.text_at.is_empty()).then(|| element.text_at.clone())
    }
}

/// Child elements, in order.
pub(super) fn elements<'a, 't>(node: Node<'a, 't>) -> impl Iterator<Item = Node<'a, 't>> {
    let (tree, end) = (node.tree, node.element().end);
    let mut next = node.index + 1;
    std::iter::from_fn(move || {
        let here = Node { tree, index: next };
        (next < end).then(|| {
            next = here.element().end;
            here
        })
    })
}

/// The child elements of a name.
pub(super) fn children<'a, 't>(node: Node<'a, 't>, name: &str) -> impl Iterator<Item = Node<'a, 't>> {
    elements(node).filter(move |child| child.element().name == name)
}

/// The first child element of a name.
pub(super) fn child<'a, 't>(node: Node<'a, 't>, name: &str) -> Option<Node<'a, 't>> {
    children(node, name).next()
}

/// An element's name.
pub(super) fn name<'t>(node: Node<'_, 't>) -> &'t str {
    node.element().name
}

/// An element's text without the white space around it.
pub(super) fn text<'a>(node: Node<'a, '_>) -> &'a str {
    node.raw_text().trim()
}

/// An element's text as a number; `None` when it is none.
pub(super) fn number<T: FromStr>(node: Node<'_, '_>) -> Option<T> {
    let text = text(node);
    text.strip_prefix('+').unwrap_or(text).parse().ok()
}

/// An attribute's value as a number.
pub(super) fn attribute<T: FromStr>(node: Node<'_, '_>, name: &str) -> Option<T> {
    node.attribute(name).and_then(|value| value.trim().parse().ok())
}

/// Whether an attribute says "yes".
pub(super) fn says_yes(node: Node<'_, '_>, name: &str) -> bool {
    node.attribute(name).is_some_and(|value| value.trim() == "yes")
}

/// Whether an attribute says "no".
pub(super) fn says_no(node: Node<'_, '_>, name: &str) -> bool {
    node.attribute(name).is_some_and(|value| value.trim() == "no")
}

/// Whether all bytes are themselves wherever they stand. Of what begins a reference, may end a CDATA section or
/// be no character of XML at all, the parser is to judge.
#[allow(clippy::needless_bitwise_bool)] // Without branches it is done many bytes at a time.
fn mean_themselves(bytes: &[u8]) -> bool {
    let mut plain = true;
    for &byte in bytes {
        let is_control = (byte < b' ') & (byte != b'\t') & (byte != b'\n') & (byte != b'\r');
        plain &= !is_control & (byte != b'&') & (byte != b']') & (byte != 0xEF);
    }
    plain
}

/// Where a name ends that begins at a byte, when it is one without prefix and accents.
fn name_end(bytes: &[u8], start: usize) -> Result<usize, Doubt> {
    let is_first = |byte: &u8| byte.is_ascii_alphabetic() || *byte == b'_';
    let is_inner = |byte: &u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.');
    bytes.get(start).filter(|first| is_first(first)).ok_or(Doubt)?;
    let length = bytes[start..].iter().position(|byte| !is_inner(byte)).ok_or(Doubt)?;
    Ok(start + length)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// A tree in words, with every place in the text. White space alone may have any line ends.
    fn shown(node: Node<'_, '_>) -> String {
        let Range { start, end } = node.element().attributes;
        let attributes = &node.tree.attributes[start as usize..end as usize];
        let inside: String = elements(node).map(shown).collect();
        let (name, start, text) = (name(node), node.start(), node.raw_text());
        let text = if text.trim().is_empty() { "" } else { text };
        format!("({name}@{start} {attributes:?} {text:?}@{:?}{inside})", node.text_at())
    }

    /// The text read as plain, or `None` where it is left to the parser. What is read is what the parser has.
    #[track_caller]
    fn plain(text: &str) -> Option<String> {
        let mut tree = Tree::default();
        let plain = shown(tree.read(text, 0).ok()?);
        let parsed = xml::parse(text).unwrap_or_else(|error| panic!("{text:?} passed for plain: {error}"));
        assert_eq!(plain, shown(Tree::of(parsed.root_element(), 0).root()), "{text:?}");
        Some(plain)
    }

    const MEASURE: &str = "<measure number=\"1\" width=\"90.25\">\r\n  <note default-x=\"3\" print-object=\"no\" >\n\t<rest/><chord />\
        <pitch><step>C</step><octave> 2\n</octave ></pitch><lyric><text>fröh -> lich</text></lyric></note>\n</measure>";

    #[test]
    fn plain_text_makes_the_tree_a_parser_makes() {
        for text in [MEASURE, "<m/>", "<m></m>", "<m />", "<m a=\"'\"> x </m>", "<m>\u{a0}<a/> <b>c</b></m>"]
        {
            assert!(plain(text).is_some(), "{text}");
        }
    }

    #[test]
    fn what_is_not_plain_is_left_to_the_parser() {
        for inside in [
            "&amp;",
            "&#51;",
            "<!-- - -->",
            "<![CDATA[x]]>",
            "]]>",
            "<?go?>",
            "<x:y/>",
            "<y xmlns=\"u\"/>",
            "<é/>",
            "\u{1}",
            "\u{FFFF}",
            "<y a='b'/>",
            "<y a=\"b\"c=\"d\"/>",
            "<y  a=\"b\"/>",
            "<y a=\"b\" a=\"c\"/>",
            "<y a = \"b\"/>",
            "<y a=\"<\"/>",
            "<y a=\"\t\"/>",
            "<y a>",
            "<y a/>",
            "<y/ >",
            "< y/>",
            "<1/>",
            "<>",
            "</>",
            "<",
            "</m",
            "<y>",
            "</y>",
            "<y></z>",
            "<y></yy>",
            "</m><m>",
            "a<y/>b",
            "a\r\nb",
            "a<",
        ] {
            assert_eq!(plain(&format!("<m>{inside}</m>")), None, "{inside}");
        }
        for text in
            ["", " ", "x", "<m/>x", "x<m/>", "<m/><m/>", "<m", "<m a=\"", "<m a=\"b", "<m a=\"b\"", "<m>"]
        {
            assert_eq!(plain(text), None, "{text}");
        }
    }

    #[test]
    fn a_tree_is_used_again_for_the_next_measure() {
        let mut tree = Tree::default();
        tree.read(MEASURE, 0).unwrap();
        assert_eq!(
            shown(tree.read("<m a=\"b\"> 3 </m>", 70).unwrap()),
            "(m@70 [(\"a\", \"b\")] \" 3 \"@Some(79..82))"
        );
        assert_eq!(tree.read("<m>", 0).err(), Some(Doubt));
    }

    #[test]
    fn foreign_elements_and_marks_of_our_own_are_left_out() {
        let text = "<m xmlns:x='u'><x:a><b/></x:a><?lowbrass remark?><direction><c/></direction>\
                    <?lowbrass remark?><d/><direction/></m>";
        let parsed = xml::parse(text).unwrap();
        let tree = Tree::of(parsed.root_element(), 0);
        assert_eq!(elements(tree.root()).map(name).collect::<Vec<_>>(), ["d", "direction"]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]
        /// Whatever is done to a measure: what is taken for plain is well-formed, and the parser sees the same.
        #[test]
        fn a_mangled_measure_is_what_the_parser_says(
            cuts in prop::collection::vec((any::<prop::sample::Index>(), 0_usize..12, "[<>/&;a-b: \"'=\\-!?\\[\\]\r\n\t\u{1}é\u{FFFE}]{0,4}"), 1..4)
        ) {
            let mut text = MEASURE.to_owned();
            for (at, length, with) in cuts {
                let boundary = |at: usize| (at..=text.len()).find(|at| text.is_char_boundary(*at)).unwrap_or(text.len());
                let start = boundary(at.index(text.len()));
                let end = boundary((start + length).min(text.len()));
                text.replace_range(start..end, &with);
            }
            let _ = plain(&text);
        }
    }
}
