//! A small tree of one measure, or of what stands around the music: what the reader walks.
//!
//! It is filled from `quick-xml`'s events where the text is plain, and from a document that `roxmltree` parsed where it is
//! not. The one is quick and lenient, the other strict; plain is what both must see alike: tags with attributes, and
//! characters that mean themselves; no references, comments, sections, instructions or prefixes. Whatever else comes, and
//! whatever the event reader lets pass unchecked, is a [`Doubt`], and the verdict is the parser's. Elements of a foreign
//! namespace and remarks of our own are no part of the score and never in the tree.

use std::borrow::Cow;
use std::ops::Range;
use std::str::FromStr;

use quick_xml::events::Event;
use quick_xml::events::attributes::Attributes;
use quick_xml::reader::Reader;

use super::slices::Doubt;
use super::{marks, xml};
use crate::intake;

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
    /// Takes in the element with which a plain text begins, and gives the bytes it takes up; byte `offset` of the whole
    /// text is where it begins. What was in the tree before is gone.
    pub(super) fn read(&mut self, text: &'t str, offset: usize) -> Result<usize, Doubt> {
        self.elements.clear();
        self.attributes.clear();
        self.open.clear();
        let mut events = Reader::from_str(text);
        // No event comes for white space alone, which is layout nearly everywhere.
        events.config_mut().trim_text_start = true;
        let mut at = 0;
        loop {
            let event = events.read_event().map_err(|_| Doubt)?;
            let before = at;
            at = events.buffer_position() as usize;
            match event {
                Event::Start(tag) => self.start_tag(text, at - 1 - tag.len()..at - 1, offset)?,
                Event::Empty(tag) => {
                    self.start_tag(text, at - 2 - tag.len()..at - 2, offset)?;
                    self.close();
                }
                Event::End(_) => self.end_tag(&text[before..at], offset + before),
                Event::Text(_) => self.plain_text(&text[before..at], offset + before)?,
                _ => return Err(Doubt),
            }
            let is_crowded = self.elements.len() as u64 > intake::MARKUP.most / 4;
            if is_crowded || self.open.len() as u64 > intake::NESTING.most {
                return Err(Doubt);
            }
            if self.open.is_empty() {
                return Ok(at);
            }
        }
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

    /// Opens the element of a tag, which stands in a text without its brackets. The event reader leaves it to its caller
    /// whether names are names, attributes stand apart and once, and values are plain.
    fn start_tag(&mut self, text: &'t str, range: Range<usize>, offset: usize) -> Result<(), Doubt> {
        let (tag, start) = (&text[range.clone()], offset + range.start - 1);
        let name = &tag[..name_length(tag)];
        let from = self.attributes.len();
        let mut rest = &tag[name.len()..];
        if name.is_empty() {
            return Err(Doubt);
        }
        for attribute in Attributes::new(tag, name.len()).with_checks(false) {
            let attribute = attribute.map_err(|_| Doubt)?;
            let Cow::Borrowed(value) = attribute.value else { return Err(Doubt) };
            let value_at = range_in(tag, value);
            let name = tag.get(range_in(tag, attribute.key.0)).ok_or(Doubt)?;
            let value = tag.get(value_at.clone()).ok_or(Doubt)?;
            let is_apart = rest.bytes().next().is_some_and(|byte| is(byte, BLANK));
            let is_once = self.attributes[from..].iter().all(|(other, _)| *other != name);
            let is_name = name_length(name) == name.len() && name != "xmlns";
            if self.attributes.len() - from >= intake::ATTRIBUTES.most as usize
                || value.len() as u64 > intake::PIECE.most
            {
                // Each is compared with those before it; the parser's guard says what is wrong.
                return Err(Doubt);
            }
            if !(is_apart && is_once && is_name && value.bytes().all(|byte| is(byte, VALUE))) {
                return Err(Doubt);
            }
            rest = &tag[value_at.end + 1..];
            self.attributes.push((name, value));
        }
        if !rest.bytes().all(|byte| is(byte, BLANK)) {
            return Err(Doubt);
        }
        self.open(name, start, from);
        Ok(())
    }

    /// Closes an element; what stands before its end tag, if anything does, is white space.
    fn end_tag(&mut self, text: &'t str, start: usize) {
        if let Some(&inside) = self.open.last().filter(|_| !text.starts_with('<')) {
            let blank = text.find('<').unwrap_or_default();
            let is_leaf = self.elements.len() == inside as usize + 1;
            let element = &mut self.elements[inside as usize];
            if is_leaf && element.text.is_empty() {
                (element.text, element.text_at) = (Cow::Borrowed(&text[..blank]), start..start + blank);
            }
        }
        self.close();
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

    /// Takes in text that is more than white space. Line ends in it may have to become others, and it may stand in pieces or
    /// between elements: rare, and left to the parser.
    fn plain_text(&mut self, text: &'t str, start: usize) -> Result<(), Doubt> {
        let inside = *self.open.last().ok_or(Doubt)?;
        let is_alone = self.elements.len() == inside as usize + 1;
        let element = &mut self.elements[inside as usize];
        let is_long = text.len() as u64 > intake::PIECE.most;
        if is_long || !is_alone || !element.text.is_empty() || !text.bytes().all(|byte| is(byte, TEXT)) {
            return Err(Doubt);
        }
        (element.text, element.text_at) = (Cow::Borrowed(text), start..start + text.len());
        Ok(())
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
    parsed(text(node))
}

/// A number as the schema writes it, digits with a point at most: neither an exponent nor "NaN" nor "inf".
pub(super) fn parsed<T: FromStr>(text: &str) -> Option<T> {
    let text = text.trim();
    let text = text.strip_prefix('+').filter(|rest| !rest.starts_with(['+', '-'])).unwrap_or(text);
    let is_plain = text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+'));
    if is_plain { text.parse().ok() } else { None }
}

/// An attribute's value as a number.
pub(super) fn attribute<T: FromStr>(node: Node<'_, '_>, name: &str) -> Option<T> {
    node.attribute(name).and_then(parsed)
}

/// Whether an attribute says "yes".
pub(super) fn says_yes(node: Node<'_, '_>, name: &str) -> bool {
    node.attribute(name).is_some_and(|value| value.trim() == "yes")
}

/// Whether an attribute says "no".
pub(super) fn says_no(node: Node<'_, '_>, name: &str) -> bool {
    node.attribute(name).is_some_and(|value| value.trim() == "no")
}

/// The bytes of a tag that a piece of it takes up.
fn range_in(tag: &str, piece: &[u8]) -> Range<usize> {
    let start = piece.as_ptr().addr() - tag.as_ptr().addr();
    start..start + piece.len()
}

/// How many bytes at the start of a tag are a name without prefix and accents.
fn name_length(tag: &str) -> usize {
    match tag.as_bytes() {
        [first, rest @ ..] if is(*first, NAME_START) => {
            1 + rest.iter().position(|byte| !is(*byte, NAME)).unwrap_or(rest.len())
        }
        _ => 0,
    }
}

/// Whether a byte may stand where only one kind may.
fn is(byte: u8, kind: u8) -> bool {
    KINDS[usize::from(byte)] & kind != 0
}

/// White space of XML.
const BLANK: u8 = 1;
/// What a name without prefix and accents may begin with, and what may follow.
const NAME_START: u8 = 2;
const NAME: u8 = 4;
/// What is itself in an attribute's value.
const VALUE: u8 = 8;
/// What is itself in text. Of what begins a reference, may end a CDATA section, may be a line end of two bytes or no
/// character of XML at all, the parser is to judge.
const TEXT: u8 = 16;

/// The kinds of each byte.
const KINDS: [u8; 256] = {
    let mut kinds = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let this = byte as u8;
        kinds[byte] = match this {
            b' ' => BLANK | VALUE | TEXT,
            b'\t' | b'\n' => BLANK | TEXT,
            b'\r' => BLANK,
            ..b' ' | b'&' | b'<' | b']' | 0xEF => 0,
            b'a'..=b'z' | b'A'..=b'Z' | b'_' => NAME_START | NAME | VALUE | TEXT,
            b'0'..=b'9' | b'-' | b'.' => NAME | VALUE | TEXT,
            _ => VALUE | TEXT,
        };
        byte += 1;
    }
    kinds
};

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
        let length = tree.read(text, 0).ok()?;
        let plain = shown(tree.root());
        let text = &text[..length];
        let parsed = xml::parse(text).unwrap_or_else(|error| panic!("{text:?} passed for plain: {error:?}"));
        assert_eq!(plain, shown(Tree::of(parsed.root_element(), 0).root()), "{text:?}");
        Some(plain)
    }

    const MEASURE: &str = "<measure number=\"1\" width=\"90.25\">\r\n  <note default-x=\"3\" print-object=\"no\" >\n\t<rest/><chord />\
        <pitch><step>C</step><octave> 2\n</octave ></pitch><lyric><text>fröh -> lich</text></lyric></note>\n</measure>";

    #[test]
    fn plain_text_makes_the_tree_a_parser_makes() {
        for text in [
            MEASURE,
            "<m/>",
            "<m></m>",
            "<m />",
            "<m a=\"'\"> x </m>",
            "<m>\u{a0}<a/> <b>c</b></m>",
            "<m a='b'  c\n=\t\"d\"\r\n/>",
            "<m> <a>\r\n</a> </m>",
            "<m/>x<",
            "<m><a/></m></m>",
        ] {
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
            "<y a=\"b\"c=\"d\"/>",
            "<y a=\"b\" a=\"c\"/>",
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
            "a<y/>b",
            "a\r\nb",
            "a<",
        ] {
            assert_eq!(plain(&format!("<m>{inside}</m>")), None, "{inside}");
        }
        for text in ["", " ", "x", " x", "x<m/>", "<m", "<m a=\"", "<m a=\"b", "<m a=\"b\"", "<m>", "</m>"] {
            assert_eq!(plain(text), None, "{text}");
        }
    }

    #[test]
    fn a_tree_is_used_again_for_the_next_measure() {
        let mut tree = Tree::default();
        assert_eq!(tree.read(MEASURE, 0), Ok(MEASURE.len()));
        assert_eq!(tree.read("<m a=\"b\"> 3 </m> <m>", 70), Ok(16));
        assert_eq!(shown(tree.root()), "(m@70 [(\"a\", \"b\")] \" 3 \"@Some(79..82))");
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
