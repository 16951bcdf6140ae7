//! From text to score: in slices where the text is plain, whole where there is any doubt.

use std::collections::HashMap;

use rayon::prelude::*;
use roxmltree::Node;

use super::found::PartRead;
use super::header::{Header, Music};
use super::lines::Lines;
use super::slices::{self, Cut, Doubt};
use super::tree::Tree;
use super::walk::{Counts, PartReader, Source};
use super::{Interest, ReadError, assemble, xml};
use crate::intake::{self, Exceeded};
use crate::score::Score;

/// Reads a score.
pub(super) fn read(text: &str, interest: Interest<'_>) -> Result<Score, ReadError> {
    let (lines, cut) = rayon::join(|| Lines::of(text), || slices::cut(text));
    match cut.and_then(|cut| in_slices(text, cut, &lines, interest)) {
        Ok(Ok(score)) => Ok(score),
        Ok(Err(exceeded)) => Err(exceeded.into()),
        Err(Doubt) => whole(text, &lines, interest),
    }
}

/// A part as it was read, or the limit at which reading it was given up.
type PartResult = Result<(usize, PartRead), Exceeded>;

fn in_slices(
    text: &str,
    cut: Cut,
    lines: &Lines<'_>,
    interest: Interest<'_>,
) -> Result<Result<Score, Exceeded>, Doubt> {
    let Cut { skeleton, parts } = cut;
    if let Err(exceeded) = intake::PARTS.admit(parts.len() as u64) {
        return Ok(Err(exceeded));
    }
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
    let header = match Header::read(Tree::around_music(root).root(), &music) {
        Ok(header) => header,
        Err(exceeded) => return Ok(Err(exceeded)),
    };
    let in_full = interest(&header.infos);
    let counts = Counts::default();
    let source = Source { text, lines, concert: header.concert, music_from: 0, counts: &counts };
    let read = header
        .of_music
        .par_iter()
        .zip(parts)
        .map(|(&index, mut rest)| {
            let mut reader = reader(&header, index, &in_full, source);
            let mut tree = Tree::default();
            while let Some(start) = slices::next_measure(text, rest.clone())? {
                let measured = if let Ok(length) = tree.read(&text[start..rest.end], start) {
                    rest.start = start + length;
                    reader.measure(tree.root(), Some(tree.root()))
                } else {
                    let range = slices::measure(text, start..rest.end)?;
                    let parsed = xml::parse(&text[range.clone()]).map_err(|_| Doubt)?;
                    let tree = Tree::of(parsed.root_element(), start);
                    rest.start = range.end;
                    reader.measure(tree.root(), Some(tree.root()))
                };
                if let Err(exceeded) = measured {
                    return Ok(Err(exceeded));
                }
            }
            Ok(Ok((index, reader.finish())))
        })
        .collect::<Result<Vec<PartResult>, Doubt>>()?;
    let read: Result<Vec<_>, Exceeded> = read.into_iter().collect();
    Ok(read.and_then(|read| assemble::assemble(header, read, &in_full)))
}

fn whole(text: &str, lines: &Lines<'_>, interest: Interest<'_>) -> Result<Score, ReadError> {
    if !text.trim_start().starts_with('<') {
        return Err(ReadError::NotXml);
    }
    let document = xml::parse(text).map_err(|error| xml::refused(error, text))?;
    let root = document.root_element();
    let parts = match xml::name(root) {
        "score-partwise" => partwise(root),
        "score-timewise" => timewise(root)?,
        "opus" => return Err(ReadError::Opus),
        other => return Err(ReadError::NotAScore(other.to_owned())),
    };
    let music: Vec<Music> =
        parts.iter().map(|part| Music { id: part.id.clone(), line: lines.at(part.position) }).collect();
    let header = Header::read(Tree::around_music(root).root(), &music)?;
    let in_full = interest(&header.infos);
    let counts = Counts::default();
    let music_from = root.range().start;
    let source = Source { text, lines, concert: header.concert, music_from, counts: &counts };
    let read = header
        .of_music
        .par_iter()
        .zip(parts)
        .map(|(&index, part)| {
            let mut reader = reader(&header, index, &in_full, source);
            for (measure, content) in part.measures {
                let measure = Tree::shell(measure);
                let content = content.map(|content| Tree::of(content, 0));
                reader.measure(measure.root(), content.as_ref().map(Tree::root))?;
            }
            Ok((index, reader.finish()))
        })
        .collect::<Vec<PartResult>>();
    let read = read.into_iter().collect::<Result<Vec<_>, Exceeded>>()?;
    Ok(assemble::assemble(header, read, &in_full)?)
}

fn reader<'t>(header: &'t Header, index: usize, in_full: &[bool], source: Source<'t>) -> PartReader<'t> {
    let in_full = in_full.get(index).copied().unwrap_or(false);
    PartReader::new(source, index as u32, &header.infos[index].instruments, in_full)
}

/// The id of a `part` element, where it has one.
fn part_id(part: Node<'_, '_>) -> Option<String> {
    part.attribute("id").map(|id| id.trim().to_owned()).filter(|id| !id.is_empty())
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
fn timewise<'a, 'i>(root: Node<'a, 'i>) -> Result<Vec<WholePart<'a, 'i>>, Exceeded> {
    let measures: Vec<Node<'a, 'i>> = xml::children(root, "measure").collect();
    let mut parts: Vec<WholePart<'a, 'i>> = Vec::new();
    let mut known: HashMap<(Option<String>, usize), usize> = HashMap::new();
    for (bar, &measure) in measures.iter().enumerate() {
        for (position, content) in xml::children(measure, "part").enumerate() {
            let id = part_id(content);
            let key = (id.clone(), if id.is_some() { 0 } else { position });
            let index = known.get(&key).copied().unwrap_or(parts.len());
            if index == parts.len() {
                // Every part gets every measure.
                intake::PARTS.admit(index as u64 + 1)?;
                intake::MEASURES.admit((index as u64 + 1) * measures.len() as u64)?;
                let measures = measures.iter().map(|measure| (*measure, None)).collect();
                parts.push(WholePart { id, position: content.range().start, measures });
                known.insert(key, index);
            }
            parts[index].measures[bar].1 = Some(content);
        }
    }
    Ok(parts)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use proptest::prelude::*;

    use super::*;
    use crate::musicxml::Document;
    use crate::musicxml::testing::{note, plain, read};
    use crate::score::OddityKind;

    const FULL: fn(&[crate::score::PartInfo]) -> Vec<bool> = |infos| vec![true; infos.len()];

    /// What the slices and the whole tree make of a text. The slices may doubt, never differ.
    #[track_caller]
    fn agree(text: &str, interest: Interest<'_>) -> bool {
        let lines = Lines::of(text);
        let sliced = slices::cut(text).and_then(|cut| in_slices(text, cut, &lines, interest));
        let Ok(sliced) = sliced else { return false };
        let sliced = sliced.expect("no limit is passed");
        let whole = whole(text, &lines, interest).expect("slices read what is not well-formed");
        assert!(format!("{sliced:?}") == format!("{whole:?}"), "slices differ from the whole");
        true
    }

    /// A small score with something of everything.
    fn varied() -> String {
        let direction = |inside: &str| {
            format!("<direction><direction-type>{inside}</direction-type><staff>1</staff></direction>\n")
        };
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE score-partwise PUBLIC \"-//X//DTD\" \"http://x/p.dtd\">\n\
             <score-partwise version=\"4.0\"><work><work-title>Quay &amp; Tide</work-title></work><part-list>\n\
             <part-group type=\"start\" number=\"1\"/><score-part id=\"P1\"><part-name>Tuba</part-name></score-part>\
             <score-part id=\"P2\"><part-name>Bass</part-name></score-part></part-list>\n\
             <!-- ===== --><part id=\"P1\">\n<measure number=\"1\"><attributes><divisions>4</divisions><time><beats>4</beats>\
             <beat-type>4</beat-type></time><transpose><chromatic>-2</chromatic></transpose></attributes>\n{}{}{}{}{}\
             <backup><duration>8</duration></backup>{}<!-- </measure> --></measure>\n<!-- - -->\
             <measure number=\"2\"><barline><repeat direction=\"backward\"/></barline>{}</measure></part>\n\
             <part id=\"P2\"><measure number=\"1\"/><measure number=\"2\"><sound tempo=\"90\"/>{}</measure></part>\
             </score-partwise>\n",
            direction("<dynamics><sf/><p/></dynamics><words>cresc.</words>"),
            note("C2", 8, "<tie type=\"start\"/><notations><slur type=\"start\"/></notations>"),
            direction("<wedge type=\"crescendo\"/>"),
            note("G2", 8, "<chord/>"),
            note("C2", 8, "<tie type=\"stop\"/><notations><slur type=\"stop\"/></notations>"),
            note("E3", 8, "<voice>2</voice><beam>begin</beam>"),
            note("D2", 16, "<dot/><![CDATA[ ]]>"),
            note("A1", 16, ""),
        )
        .replace("<!-- </measure> -->", "")
    }

    #[test]
    fn slices_and_the_whole_are_read_alike() {
        assert!(agree(&varied(), &FULL));
        assert!(agree(&varied().replace('\n', "\r\n"), &FULL));
        assert!(agree(&varied(), &|infos| vec![false; infos.len()]));
    }

    #[test]
    #[allow(clippy::print_stderr)]
    fn real_scores_are_read_alike_in_slices_and_whole() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/scores");
        // One will do: the others only take longer.
        let Ok(bytes) = std::fs::read(folder.join("Beach_Op.32_3.mxl")) else {
            // The made score above is the ground; this one only lies beside some checkouts.
            return eprintln!("NOT LOOKED AT: no scores lie beside this checkout");
        };
        let document = Document::open(bytes).unwrap();
        let brass: Interest<'_> = &|infos| infos.iter().map(|info| info.name.contains("Tuba")).collect();
        assert!(agree(document.text(), brass));
    }

    #[test]
    fn doubt_reads_the_whole_and_finds_the_same() {
        let plain_text = varied();
        let expected = read(&plain_text).unwrap();
        let entity = plain_text
            .replace("<octave>2</octave>", "&low;")
            .replace("\"http://x/p.dtd\">", "\"http://x/p.dtd\" [<!ENTITY low \"<octave>2</octave>\">]>");
        let prefix = plain_text.replace("version=\"4.0\"", "xmlns:x=\"urn:x\" version=\"4.0\"");
        let prefix = prefix.replace("<dot/>", "<x:pitch/>");
        for doubtful in [entity, prefix] {
            let lines = Lines::of(&doubtful);
            let sliced = slices::cut(&doubtful).and_then(|cut| in_slices(&doubtful, cut, &lines, &FULL));
            assert_eq!(sliced.map(drop), Err(Doubt));
            let score = read(&doubtful).unwrap();
            assert_eq!(plain(&score.parts[0]), plain(&expected.parts[0]));
            // Digits inside an entity stand for many notes and must not be edited.
            let editable = |note: &&crate::score::Note| note.octave_digits.is_some();
            let own = if doubtful.contains("&low;") { 1 } else { 5 };
            assert_eq!(score.parts[0].notes.iter().filter(editable).count(), own);
        }
    }

    #[test]
    fn malformed_xml_is_an_error_with_its_place_even_in_a_part_that_is_passed_over() {
        let broken = varied().replace("<sound tempo=\"90\"/>", "<sound tempo=90/>");
        let document = Document::open(broken.clone().into_bytes()).unwrap();
        let error = document.read(&|infos| vec![false; infos.len()]).unwrap_err().to_string();
        let line = broken[..broken.find("tempo=90").unwrap()].matches('\n').count() + 1;
        assert!(error.contains(&format!("at {line}:")), "{error}");
        let cut_short = &broken[..broken.len() / 2];
        assert!(read(cut_short).unwrap_err().to_string().contains("ends too early"), "{cut_short}");
    }

    #[test]
    fn what_is_no_score_is_refused_with_a_reason() {
        let message = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
        assert_eq!(message(b""), "the file is empty");
        assert_eq!(message(b"ENIGMA BINARY FILE\x00\xFF"), "not XML; export the score as MusicXML");
        assert_eq!(
            message(b"<html><body/></html>"),
            "expected score-partwise or score-timewise, found 'html'"
        );
        assert_eq!(message(b"<opus/>"), "an opus, which only lists scores; check the scores it names");
        assert!(
            message(b"<score-partwise><part-list></score-partwise>").starts_with("not well-formed XML: ")
        );
    }

    #[test]
    fn a_timewise_score_is_regrouped_by_part() {
        let (low, high) = (note("C2", 1, ""), note("C4", 1, ""));
        let score = read(format!(
            "<score-timewise><part-list><score-part id='A'/><score-part id='B'/></part-list>
             <measure number='1'><part id='A'>{low}</part><part id='B'>{high}</part></measure>
             <measure number='2'><part id='B'>{high}</part></measure>
             <measure number='3'><part id='A'>{low}</part><part id='B'>{high}</part></measure></score-timewise>"
        ))
        .unwrap();
        assert_eq!(plain(&score.parts[0]), ["C2@0+1", "C2@2+1"]);
        assert_eq!(plain(&score.parts[1]), ["C4@0+1", "C4@1+1", "C4@2+1"]);
        let numbers: Vec<_> = score.bars.iter().map(|bar| bar.number.as_str()).collect();
        assert_eq!(numbers, ["1", "2", "3"]);
    }

    #[test]
    fn an_empty_score_is_a_score() {
        let score = read("<score-partwise><part-list/></score-partwise>").unwrap();
        assert!(score.bars.is_empty() && score.parts.is_empty());
        let score = read(
            "<score-partwise><part-list><score-part id='P'/></part-list><part id='P'/></score-partwise>",
        );
        assert!(score.unwrap().parts[0].notes.is_empty());
    }

    #[test]
    fn bars_last_as_long_as_their_longest_content_and_what_is_odd_is_said() {
        let time = "<attributes><divisions>1</divisions><time><beats>2</beats><beat-type>4</beat-type></time></attributes>";
        let score = read(format!(
            "<score-partwise><part-list><score-part id='A'/><score-part id='B'/></part-list>
             <part id='A'><measure number='0' implicit='yes'>{time}{}</measure><measure number='1' text='1a'>{}</measure>
             <measure number='2'/><measure number='3'>{}<backup><duration>9</duration></backup></measure></part>
             <part id='B'><measure number='0' implicit='yes'>{time}{}</measure><measure number='1'>{}</measure>
             <measure number='2'/></part></score-partwise>",
            note("C2", 1, ""),
            note("C2", 1, ""),
            note("C2", 2, ""),
            note("C3", 1, ""),
            note("C3", 3, ""),
        ))
        .unwrap();
        let bars: Vec<_> =
            score.bars.iter().map(|bar| format!("{} {} {}", bar.number, bar.start, bar.length)).collect();
        assert_eq!(bars, ["0 0 1", "1a 1 3", "2 4 2", "3 6 2"]);
        let one = crate::music::Length::QUARTER;
        let kinds: Vec<_> = score.oddities.iter().map(|oddity| oddity.kind.clone()).collect();
        assert_eq!(
            kinds,
            [
                OddityKind::BarUnderfull { by: one },
                OddityKind::BackupTooFar { by: crate::music::Length::whole_quarters(7) },
                OddityKind::BarCountDiffers { here: 3, score: 4 },
                OddityKind::BarOverfull { by: one },
            ]
        );
    }

    proptest! {
        /// Whatever is done to a score, nothing panics, and slices never read what the parser of the whole refuses.
        #[test]
        fn a_mangled_score_is_read_or_refused(
            cuts in prop::collection::vec((any::<prop::sample::Index>(), 0_usize..40, "[<>/&;a-z0-9 \"=\\-!\\[\\]]{0,6}"), 1..4)
        ) {
            let mut text = varied();
            for (at, length, with) in cuts {
                let start = at.index(text.len());
                text.replace_range(start..(start + length).min(text.len()), &with);
            }
            agree(&text, &FULL);
            let _ = read(&text);
        }

        /// The same for bytes that may be no text.
        #[test]
        fn mangled_bytes_are_read_or_refused(at in any::<prop::sample::Index>(), byte in any::<u8>(), end in any::<prop::sample::Index>()) {
            let mut bytes = varied().into_bytes();
            let index = at.index(bytes.len());
            bytes[index] = byte;
            bytes.truncate(end.index(bytes.len()) + 1);
            let _ = read(&bytes);
        }
    }
}
