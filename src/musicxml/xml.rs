//! Small questions to a parsed XML tree, in the score's own vocabulary.
//!
//! Elements of a foreign namespace are no part of the score and are never seen here.

use roxmltree::{Document, Error, Node, ParsingOptions};

use super::{ReadError, guard};
use crate::intake::{self, Exceeded};

/// Why a text is not parsed.
#[derive(Debug)]
pub(super) enum ParseError {
    /// It passes a limit.
    Exceeded(Exceeded),
    /// It is not well-formed.
    Malformed(Error),
}

/// Parses a text that keeps to the limits; scores carry a DOCTYPE, and may define entities of their own, but nothing
/// outside the text is ever fetched.
pub(super) fn parse(text: &str) -> Result<Document<'_>, ParseError> {
    guard::admit(text).map_err(ParseError::Exceeded)?;
    // A text node may stand behind each tag.
    let nodes_limit = u32::try_from(2 * intake::MARKUP.most).unwrap_or(u32::MAX);
    let options = ParsingOptions { allow_dtd: true, nodes_limit, entity_resolver: None };
    Document::parse_with_options(text, options).map_err(|error| match error {
        Error::NodesLimitReached => ParseError::Exceeded(intake::MARKUP.exceeded()),
        error => ParseError::Malformed(error),
    })
}

/// That a score is not parsed.
pub(super) fn refused(error: ParseError, text: &str) -> ReadError {
    match error {
        ParseError::Exceeded(exceeded) => exceeded.into(),
        ParseError::Malformed(error) => ReadError::Xml(message(&error, text)),
    }
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
