//! Small questions to a parsed element, in the score's own vocabulary.
//!
//! A score is parsed in slices, each a document of its own, so that an element has to know where in the whole text its
//! document begins. Elements of a foreign namespace and remarks of our own are no part of the score and never seen here.

use std::borrow::Cow;
use std::ops::Range;
use std::str::FromStr;

use super::{marks, xml};

/// An element of the score.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node<'a, 'i> {
    parsed: roxmltree::Node<'a, 'i>,
    offset: usize,
}

impl<'a, 'i> Node<'a, 'i> {
    /// A parsed element; byte `offset` of the whole text is where its document begins.
    pub(super) fn of(parsed: roxmltree::Node<'a, 'i>, offset: usize) -> Node<'a, 'i> {
        Node { parsed, offset }
    }

    /// The byte of the whole text at which it begins.
    pub(super) fn start(self) -> usize {
        self.offset + self.parsed.range().start
    }

    /// The value of an attribute.
    pub(super) fn attribute(self, name: &str) -> Option<&'a str> {
        self.parsed.attribute(name)
    }

    /// Its own text as it stands, with the white space around it; comments and elements in it are passed over.
    pub(super) fn raw_text(self) -> Cow<'a, str> {
        let mut pieces =
            self.parsed.children().filter(roxmltree::Node::is_text).filter_map(|child| child.text());
        let Some(first) = pieces.next() else { return Cow::Borrowed("") };
        pieces.fold(Cow::Borrowed(first), |before, piece| before + piece)
    }

    /// The bytes of the whole text that its text stands at, when it holds nothing else.
    pub(super) fn text_at(self) -> Option<Range<usize>> {
        let only =
            self.parsed.first_child().filter(|child| child.is_text() && child.next_sibling().is_none())?;
        let Range { start, end } = only.range();
        Some(self.offset + start..self.offset + end)
    }
}

/// Child elements, in order.
pub(super) fn elements<'a, 'i>(node: Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    let is_remark = |child: roxmltree::Node<'_, '_>| xml::name(child) == "direction" && marks::is_mark(child);
    xml::elements(node.parsed)
        .filter(move |child| !is_remark(*child))
        .map(move |child| Node::of(child, node.offset))
}

/// The child elements of a name.
pub(super) fn children<'a, 'i>(node: Node<'a, 'i>, name: &str) -> impl Iterator<Item = Node<'a, 'i>> {
    elements(node).filter(move |child| xml::name(child.parsed) == name)
}

/// The first child element of a name.
pub(super) fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    children(node, name).next()
}

/// An element's name.
pub(super) fn name<'i>(node: Node<'_, 'i>) -> &'i str {
    xml::name(node.parsed)
}

/// An element's text without the white space around it.
pub(super) fn text<'a>(node: Node<'a, '_>) -> Cow<'a, str> {
    match node.raw_text() {
        Cow::Borrowed(text) => Cow::Borrowed(text.trim()),
        Cow::Owned(text) => Cow::Owned(text.trim().to_owned()),
    }
}

/// An element's text as a number; `None` when it is none.
pub(super) fn number<T: FromStr>(node: Node<'_, '_>) -> Option<T> {
    let text = text(node);
    text.strip_prefix('+').unwrap_or(&text).parse().ok()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_element_knows_its_place_in_the_whole_text() {
        let parsed = xml::parse("<m><octave>\u{a0} 2\n</octave></m>").unwrap();
        let octave = child(Node::of(parsed.root_element(), 70), "octave").unwrap();
        assert_eq!((octave.start(), octave.text_at(), number(octave)), (73, Some(81..86), Some(2)));
    }

    #[test]
    fn text_in_pieces_is_one_text_that_stands_nowhere_whole() {
        let parsed = xml::parse("<m> 1<!-- - --><![CDATA[2]]><y>9</y>3 </m>").unwrap();
        let node = Node::of(parsed.root_element(), 0);
        assert_eq!((text(node).as_ref(), node.raw_text().as_ref(), node.text_at()), ("123", " 123 ", None));
    }

    #[test]
    fn foreign_elements_and_marks_of_our_own_are_left_out() {
        let text = "<m xmlns:x='u'><x:a><b/></x:a><?lowbrass remark?><direction><c/></direction>\
                    <?lowbrass remark?><d/><direction/></m>";
        let parsed = xml::parse(text).unwrap();
        assert_eq!(
            elements(Node::of(parsed.root_element(), 0)).map(name).collect::<Vec<_>>(),
            ["d", "direction"]
        );
    }
}
