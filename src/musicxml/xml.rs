//! Small questions to a parsed XML tree, in the score's own vocabulary.
//!
//! Elements of a foreign namespace are no part of the score and are never seen here.

use roxmltree::{Document, Error, Node, ParsingOptions};

/// The most nodes of one tree: enough for the largest text that is read at all.
const MOST_NODES: u32 = 400_000_000;

/// Parses a text; scores carry a DOCTYPE, and may define entities of their own.
pub(super) fn parse(text: &str) -> Result<Document<'_>, Error> {
    let options = ParsingOptions { allow_dtd: true, nodes_limit: MOST_NODES, entity_resolver: None };
    Document::parse_with_options(text, options)
}

/// The parser's words with line and column, in our manner.
pub(super) fn message(error: &Error, text: &str) -> String {
    match error {
        Error::UnclosedRootNode | Error::UnexpectedEndOfStream => {
            let line = 1 + memchr::memchr_iter(b'\n', text.as_bytes()).count();
            format!("the file ends too early, at line {line}")
        }
        Error::NoRootNode => "no element in it".to_owned(),
        other => other.to_string(),
    }
}

/// Child elements of the score's own vocabulary.
pub(super) fn elements<'a, 'i>(node: Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children().filter(|child| child.is_element() && !is_foreign(*child))
}

/// The first child element of a name.
pub(super) fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    elements(node).find(|child| child.tag_name().name() == name)
}

/// The child elements of a name.
pub(super) fn children<'a, 'i>(node: Node<'a, 'i>, name: &'static str) -> impl Iterator<Item = Node<'a, 'i>> {
    elements(node).filter(move |child| child.tag_name().name() == name)
}

/// An element's name.
pub(super) fn name<'i>(node: Node<'_, 'i>) -> &'i str {
    node.tag_name().name()
}

/// An element counts when it stands in no namespace or in that of the root element.
pub(super) fn is_foreign(node: Node<'_, '_>) -> bool {
    node.tag_name()
        .namespace()
        .is_some_and(|namespace| node.document().root_element().tag_name().namespace() != Some(namespace))
}
