//! From text to score: in slices where the text is plain, whole where there is any doubt.

use std::collections::HashMap;

use rayon::prelude::*;
use roxmltree::Node;

use super::header::{Header, Music, part_id};
use super::lines::Lines;
use super::slices::{self, Cut, Doubt};
use super::walk::{PartReader, Source};
use super::{Interest, ReadError, assemble, xml};
use crate::score::Score;

/// Reads a score.
pub(super) fn read(text: &str, interest: Interest<'_>) -> Result<Score, ReadError> {
    let lines = Lines::of(text);
    match in_slices(text, &lines, interest) {
        Ok(score) => Ok(score),
        Err(Doubt) => whole(text, &lines, interest),
    }
}

fn in_slices(text: &str, lines: &Lines<'_>, interest: Interest<'_>) -> Result<Score, Doubt> {
    let Cut { skeleton, parts } = slices::cut(text)?;
    let document = xml::parse(&skeleton).map_err(|_| Doubt)?;
    let root = document.root_element();
    if xml::name(root) != "score-partwise" {
        return Err(Doubt);
    }
    let music: Vec<Music> = xml::children(root, "part")
        .zip(&parts)
        .map(|(part, range)| Music { id: part_id(part), line: lines.at(range.start) })
        .collect();
    if music.len() != parts.len() {
        return Err(Doubt);
    }
    let header = Header::read(root, &music);
    let in_full = interest(&header.infos);
    let read = header
        .of_music
        .par_iter()
        .zip(parts)
        .map(|(&index, range)| {
            let mut reader = reader(&header, index, &in_full, text, lines);
            for measure in slices::measures(text, range) {
                let measure = measure?;
                let tree = xml::parse(&text[measure.clone()]).map_err(|_| Doubt)?;
                reader.measure(tree.root_element(), Some(tree.root_element()), measure.start);
            }
            Ok((index, reader.finish()))
        })
        .collect::<Result<Vec<_>, Doubt>>()?;
    Ok(assemble::assemble(header, read, &in_full))
}

fn whole(text: &str, lines: &Lines<'_>, interest: Interest<'_>) -> Result<Score, ReadError> {
    if !text.trim_start().starts_with('<') {
        return Err(ReadError::NotXml);
    }
    let document = xml::parse(text).map_err(|error| ReadError::Xml(xml::message(&error, text)))?;
    let root = document.root_element();
    let parts = match xml::name(root) {
        "score-partwise" => partwise(root),
        "score-timewise" => timewise(root),
        other => return Err(ReadError::NotAScore(other.to_owned())),
    };
    let music: Vec<Music> =
        parts.iter().map(|part| Music { id: part.id.clone(), line: lines.at(part.position) }).collect();
    let header = Header::read(root, &music);
    let in_full = interest(&header.infos);
    let read = header
        .of_music
        .par_iter()
        .zip(parts)
        .map(|(&index, part)| {
            let mut reader = reader(&header, index, &in_full, text, lines);
            for (measure, content) in part.measures {
                reader.measure(measure, content, 0);
            }
            (index, reader.finish())
        })
        .collect();
    Ok(assemble::assemble(header, read, &in_full))
}

fn reader<'t>(
    header: &'t Header,
    index: usize,
    in_full: &[bool],
    text: &'t str,
    lines: &'t Lines<'t>,
) -> PartReader<'t> {
    let source = Source { text, lines, concert: header.concert };
    let in_full = in_full.get(index).copied().unwrap_or(false);
    PartReader::new(source, index as u32, &header.infos[index].instruments, in_full)
}

/// A part of a whole tree: for each measure its element and what holds the part's music there.
struct WholePart<'a, 'i> {
    id: Option<String>,
    position: usize,
    measures: Vec<(Node<'a, 'i>, Option<Node<'a, 'i>>)>,
}

fn partwise<'a, 'i>(root: Node<'a, 'i>) -> Vec<WholePart<'a, 'i>> {
    xml::children(root, "part")
        .map(|part| WholePart {
            id: part_id(part),
            position: part.range().start,
            measures: xml::children(part, "measure").map(|measure| (measure, Some(measure))).collect(),
        })
        .collect()
}

/// Regroups measures of parts as parts of measures. A part without an id is known by its position in the measure.
fn timewise<'a, 'i>(root: Node<'a, 'i>) -> Vec<WholePart<'a, 'i>> {
    let measures: Vec<Node<'a, 'i>> = xml::children(root, "measure").collect();
    let mut parts: Vec<WholePart<'a, 'i>> = Vec::new();
    let mut known: HashMap<(Option<String>, usize), usize> = HashMap::new();
    for (bar, &measure) in measures.iter().enumerate() {
        for (position, content) in xml::children(measure, "part").enumerate() {
            let id = part_id(content);
            let key = (id.clone(), if id.is_some() { 0 } else { position });
            let index = *known.entry(key).or_insert_with(|| {
                let measures = measures.iter().map(|measure| (*measure, None)).collect();
                parts.push(WholePart { id, position: content.range().start, measures });
                parts.len() - 1
            });
            parts[index].measures[bar].1 = Some(content);
        }
    }
    parts
}
