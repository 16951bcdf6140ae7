//! Remarks written above the bars of a copy, and taken out again.
//!
//! A remark is a text direction behind a processing instruction of our own, `<?lowbrass remark?>`. The
//! standard lets instructions stand anywhere, whatever version a score declares, and no other program reads
//! ours; by it a remark is known again and taken out with the white space that came with it. So that nobody takes it for music, it
//! stands in a box (`enclosure`) and begins with the program's name.

use roxmltree::Node;
use thiserror::Error;

use super::{Document, Edit, EditError, ReadError, xml};

/// Words to be written above a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// Where they go.
    pub place: MarkPlace,
    /// The staff of the part.
    pub staff: u8,
    /// The words, one line. A character that XML cannot hold is left out.
    pub words: String,
}

/// Where a mark goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MarkPlace {
    /// Above the note whose element holds this byte of the text (of a chord: above the chord).
    Note(usize),
    /// At the beginning of a bar.
    Bar {
        /// Position of the part in the part list, from 0; it counts when no part has the id.
        part: u32,
        /// `id` of the part.
        id: String,
        /// The measure, counted from 0.
        bar: u32,
    },
}

const TARGET: &str = "lowbrass";
const DATA: &str = "remark";

/// What stands in the bytes of every marked copy, plain or packed.
pub const MARK_TRACES: [&str; 2] = ["<?lowbrass remark?>", super::container::KEPT];

/// Why a marked copy cannot be written, or not be freed of its marks.
#[derive(Debug, Error)]
pub enum MarkError {
    /// The score's text is not well-formed.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The copy cannot be written in the file's own form.
    #[error(transparent)]
    Edit(#[from] EditError),
}

impl Document {
    /// The whole file with marks written into it. Marks that stand there already give way. A mark whose
    /// place is not found is left out. [`unmarked`](Self::unmarked) leads back.
    ///
    /// # Errors
    ///
    /// [`MarkError`].
    pub fn marked(&self, marks: &[Mark]) -> Result<Vec<u8>, MarkError> {
        let (marked, clean) = (self.edited(self.marking(marks)?)?, self.edited(self.unmarking()?)?);
        let source = self.unmarked()?;
        if marked == clean {
            return Ok(source);
        }
        Ok(self.packing.pack_with_source(&self.text, &marked, &source).map_err(EditError::from)?)
    }

    /// The whole file without its marks: the one that was marked, byte for byte, unless something else was
    /// changed since. In a `.mxl` that another program has written since, the score's text is what it was.
    ///
    /// # Errors
    ///
    /// [`MarkError`].
    pub fn unmarked(&self) -> Result<Vec<u8>, MarkError> {
        let clean = self.edited(self.unmarking()?)?;
        Ok(self.packing.back_to(&self.text, &clean).map_err(EditError::from)?)
    }

    /// The edits that write marks into the text.
    fn marking(&self, marks: &[Mark]) -> Result<Vec<Edit>, ReadError> {
        let tree = self.tree()?;
        let mut edits = self.taking_out(&tree);
        // The bars in document order, found by the byte a note stands at.
        let mut bars: Vec<Node<'_, '_>> = Vec::new();
        let outer = xml::elements(tree.root_element());
        let timewise = xml::name(tree.root_element()) == "score-timewise";
        for node in outer.filter(|node| ["part", "measure"].contains(&xml::name(*node))) {
            bars.extend(xml::children(node, if timewise { "part" } else { "measure" }));
        }
        let mut insertions: Vec<(usize, &Mark)> = Vec::new();
        for mark in marks {
            let found = match &mark.place {
                MarkPlace::Note(byte) => {
                    let bar = bars[..bars.partition_point(|bar| bar.range().start <= *byte)].last();
                    bar.and_then(|bar| chord_at(*bar, *byte))
                }
                MarkPlace::Bar { part, id, bar } => {
                    bar_of(tree.root_element(), timewise, *part, id, *bar).and_then(first_music)
                }
            };
            insertions.extend(found.map(|node| (node.range().start, mark)));
        }
        insertions.sort_by_key(|(at, _)| *at);
        for (at, mark) in insertions {
            // A mark that is taken out from here leaves its white space to the element behind it.
            let indent = white_before(self.text(), at);
            edits.push(Edit { range: at..at, with: direction(mark) + indent });
        }
        Ok(edits)
    }

    /// The edits that take all marks out again.
    fn unmarking(&self) -> Result<Vec<Edit>, ReadError> {
        Ok(self.taking_out(&self.tree()?))
    }

    fn tree(&self) -> Result<roxmltree::Document<'_>, ReadError> {
        xml::parse(self.text()).map_err(|error| xml::refused(error, self.text()))
    }

    fn taking_out(&self, tree: &roxmltree::Document<'_>) -> Vec<Edit> {
        let text = self.text();
        tree.root()
            .descendants()
            .filter(opens_mark)
            .filter_map(|instruction| {
                let direction = instruction.next_sibling()?;
                if xml::name(direction) != "direction" {
                    return None;
                }
                let start = instruction.range().start;
                let before = white_before(text, start);
                let end = direction.range().end;
                let end = if text[end..].starts_with(before) { end + before.len() } else { end };
                Some(Edit { range: start..end, with: String::new() })
            })
            .collect()
    }
}

/// The note that stands at a byte of a bar, or the first of its chord.
fn chord_at<'a, 'i>(bar: Node<'a, 'i>, byte: usize) -> Option<Node<'a, 'i>> {
    let mut first = None;
    for note in xml::children(bar, "note") {
        if xml::child(note, "chord").is_none() {
            first = Some(note);
        }
        if note.range().contains(&byte) {
            return first.or(Some(note));
        }
    }
    None
}

/// A bar by its part and number.
fn bar_of<'a, 'i>(root: Node<'a, 'i>, timewise: bool, part: u32, id: &str, bar: u32) -> Option<Node<'a, 'i>> {
    let of_part = |parent: Node<'a, 'i>| {
        let by_id = xml::children(parent, "part").find(|node| node.attribute("id") == Some(id));
        by_id.or_else(|| xml::children(parent, "part").nth(part as usize))
    };
    if timewise {
        of_part(xml::children(root, "measure").nth(bar as usize)?)
    } else {
        xml::children(of_part(root)?, "measure").nth(bar as usize)
    }
}

/// The first element of a bar that stands in its time: what comes before sets the bar up.
fn first_music<'a, 'i>(bar: Node<'a, 'i>) -> Option<Node<'a, 'i>> {
    let sets_up = ["attributes", "print", "barline", "sound"];
    xml::elements(bar).find(|node| !sets_up.contains(&xml::name(*node)) && !is_mark(*node))
}

/// Whether an element is such a remark: it is no part of the music.
pub(super) fn is_mark(node: Node<'_, '_>) -> bool {
    node.prev_sibling().is_some_and(|before| opens_mark(&before))
}

/// Whether a node is the instruction that stands before a mark.
fn opens_mark(node: &Node<'_, '_>) -> bool {
    node.pi().is_some_and(|pi| pi.target == TARGET && pi.value.is_some_and(|value| value.trim() == DATA))
}

/// The white space before a byte.
fn white_before(text: &str, byte: usize) -> &str {
    &text[text[..byte].trim_end_matches([' ', '\t', '\r', '\n']).len()..byte]
}

fn direction(mark: &Mark) -> String {
    let mut words = String::new();
    for c in mark.words.chars() {
        match c {
            '&' => words.push_str("&amp;"),
            '<' => words.push_str("&lt;"),
            '>' => words.push_str("&gt;"),
            ' '..='~' => words.push(c),
            '\t' | '\n' | '\r' => words.push(' '),
            // By number, since the file's encoding may lack it.
            c if !c.is_control() && !['\u{FFFE}', '\u{FFFF}'].contains(&c) => {
                words.extend(["&#", &u32::from(c).to_string(), ";"]);
            }
            _ => {}
        }
    }
    let staff = if mark.staff > 1 { format!("<staff>{}</staff>", mark.staff) } else { String::new() };
    format!(
        "<?{TARGET} {DATA}?><direction placement=\"above\"><direction-type><words enclosure=\"rectangle\">{TARGET}: {words}</words></direction-type>{staff}</direction>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str =
        "<part-list><score-part id=\"P1\"><part-name>Tuba</part-name></score-part></part-list>";

    fn note(octave: u8) -> String {
        format!("<note><pitch><step>D</step><octave>{octave}</octave></pitch><duration>1</duration></note>")
    }

    fn written(document: &Document, marks: &[Mark]) -> String {
        String::from_utf8(document.marked(marks).unwrap()).unwrap()
    }

    fn above(document: &Document, what: &str, words: &str) -> Mark {
        let byte = document.text().find(what).unwrap();
        Mark { place: MarkPlace::Note(byte), staff: 1, words: words.to_owned() }
    }

    #[track_caller]
    fn comes_back(text: &str, marks: impl Fn(&Document) -> Vec<Mark>) -> String {
        let document = Document::open(text.into()).unwrap();
        let marked = written(&document, &marks(&document));
        assert_ne!(marked, text);
        let copy = Document::open(marked.clone().into()).unwrap();
        assert_eq!(String::from_utf8(copy.unmarked().unwrap()).unwrap(), text);
        // Marked again, the earlier marks give way.
        assert_eq!(written(&copy, &marks(&copy)), marked);
        marked
    }

    #[test]
    fn a_mark_stands_before_its_note_with_the_same_indent() {
        let text = format!(
            "<score-partwise>{HEAD}<part id=\"P1\">\r\n <measure number=\"1\">\r\n\t{}\r\n\t{}</measure></part></score-partwise>",
            note(2),
            note(1)
        );
        let marked = comes_back(&text, |document| {
            vec![above(document, "1</octave>", "too low < D2 & ♭"), above(document, "1</octave>", "again")]
        });
        assert!(marked.contains(
            "</note>\r\n\t<?lowbrass remark?><direction placement=\"above\"><direction-type>\
             <words enclosure=\"rectangle\">lowbrass: too low &lt; D2 &amp; &#9837;</words></direction-type></direction>\r\n\t<?lowbrass remark?>"
        ));
    }

    #[test]
    fn a_mark_on_a_chord_note_stands_before_the_chord() {
        let chord = note(1).replace("<note>", "<note><chord/>");
        let text = format!(
            "<score-timewise>{HEAD}<measure number=\"1\"><part id=\"P1\"><attributes/>{}<!-- c -->{chord}</part></measure></score-timewise>",
            note(2)
        );
        let marked = comes_back(&text, |document| vec![above(document, "1</octave>", "low")]);
        assert!(marked.contains("<attributes/><?lowbrass remark?><direction"));
    }

    #[test]
    fn a_mark_on_a_bar_stands_behind_what_sets_the_bar_up() {
        let text = format!(
            "<score-partwise>{HEAD}<part id=\"P1\"><measure number=\"1\"/><measure number=\"2\"><print/><attributes/>\n{}</measure></part></score-partwise>",
            note(2)
        );
        let place = |bar| MarkPlace::Bar { part: 0, id: "P1".to_owned(), bar };
        let mark = |bar| Mark { place: place(bar), staff: 2, words: "tempo".to_owned() };
        // The first bar is empty and takes no mark.
        let marked = comes_back(&text, |_| vec![mark(0), mark(1)]);
        assert_eq!(marked.matches("<?lowbrass").count(), 1);
        assert!(marked.contains("<attributes/>\n<?lowbrass"));
        assert!(marked.contains("</direction-type><staff>2</staff></direction>\n<note>"));
    }
}
