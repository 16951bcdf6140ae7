//! What stands before the music: titles, the part list, whether the score is in concert pitch.

use std::collections::HashMap;

use super::tree::{self, Node, child, children, elements, number, text};
use crate::intake::{self, Exceeded};
use crate::printable::printable;
use crate::score::{Instrument, Oddity, OddityKind, PartInfo};

/// The score's own data and its parts, whether the list names them or not.
#[derive(Debug, Default)]
pub(super) struct Header {
    pub(super) title: Option<String>,
    /// In score order; those that the list does not name come last.
    pub(super) infos: Vec<PartInfo>,
    /// For each `part` with music, in document order: its index in `infos`.
    pub(super) of_music: Vec<usize>,
    /// For each of the list whether it is the top of the score or of a group: what stands above it is for all to read.
    pub(super) tops: Vec<bool>,
    /// `concert-score`.
    pub(super) concert: bool,
    pub(super) oddities: Vec<Oddity>,
}

/// A `part` element with music: its id, where it has one, and its line.
pub(super) struct Music {
    pub(super) id: Option<String>,
    pub(super) line: u32,
}

impl Header {
    /// Reads all that stands around the music and finds each part with music its place in the list.
    ///
    /// # Errors
    ///
    /// A limit of [`intake`] is passed.
    pub(super) fn read(root: Node<'_, '_>, music: &[Music]) -> Result<Header, Exceeded> {
        let list = child(root, "part-list");
        let mut header = Header {
            title: title(root),
            infos: list.map(part_list).transpose()?.unwrap_or_default(),
            tops: list.map(tops).unwrap_or_default(),
            concert: child(root, "defaults").and_then(|defaults| child(defaults, "concert-score")).is_some(),
            ..Header::default()
        };
        header.place(music);
        intake::PARTS.admit(header.infos.len() as u64)?;
        header.phrases().try_for_each(|phrase| intake::PHRASE.admit(phrase.len() as u64))?;
        Ok(header)
    }

    /// All names that others read on in.
    fn phrases(&self) -> impl Iterator<Item = &String> {
        self.title.iter().chain(self.infos.iter().flat_map(|info| {
            let instruments = info.instruments.iter().flat_map(|one| [Some(&one.name), one.sound.as_ref()]);
            let own = [&info.id, &info.name, &info.abbreviation];
            own.into_iter().chain(instruments.flatten()).chain(&info.groups)
        }))
    }

    fn place(&mut self, music: &[Music]) {
        let by_id: HashMap<String, usize> =
            self.infos.iter().enumerate().rev().map(|(index, info)| (info.id.clone(), index)).collect();
        let listed = self.infos.len();
        let mut taken = vec![false; listed];
        for (position, part) in music.iter().enumerate() {
            let known = match &part.id {
                Some(id) => by_id.get(printable(id).as_ref()).copied(),
                None => (position < listed).then_some(position),
            };
            let index = if let Some(index) = known.filter(|index| !taken[*index]) {
                taken[index] = true;
                index
            } else {
                let id = part.id.as_deref().map(printable).unwrap_or_default().into_owned();
                self.infos.push(PartInfo { index: self.infos.len() as u32, id, ..PartInfo::default() });
                self.infos.len() - 1
            };
            if part.id.is_none() {
                self.odd(index, part.line, OddityKind::PartWithoutId);
            }
            if index >= listed {
                let id = self.infos[index].id.clone();
                self.odd(index, part.line, OddityKind::PartNotListed { id });
            }
            self.of_music.push(index);
        }
        for (index, _) in taken.iter().enumerate().filter(|(_, taken)| !**taken) {
            let id = self.infos[index].id.clone();
            self.odd(index, 1, OddityKind::PartWithoutMusic { id });
        }
    }

    fn odd(&mut self, part: usize, line: u32, kind: OddityKind) {
        self.oddities.push(Oddity { part: Some(part as u32), bar: None, line, kind });
    }
}

/// Work and movement title as one line; a score that has neither may print one as a credit.
fn title(root: Node<'_, '_>) -> Option<String> {
    let said = |node: Option<Node<'_, '_>>| {
        let words = one_line(text(node?));
        (!words.is_empty()).then_some(words)
    };
    let work = said(child(root, "work").and_then(|work| child(work, "work-title")));
    let number = said(child(root, "movement-number"));
    let movement = said(child(root, "movement-title")).filter(|movement| Some(movement) != work.as_ref());
    let movement = match (number, movement) {
        (Some(number), Some(movement)) if !movement.starts_with(&number) => {
            Some(format!("{number}. {movement}"))
        }
        (Some(number), None) if work.is_some() => Some(format!("no. {number}")),
        (_, movement) => movement,
    };
    match (work, movement) {
        (Some(work), Some(movement)) => Some(format!("{work}: {movement}")),
        (Some(title), None) | (None, Some(title)) => Some(title),
        (None, None) => children(root, "credit")
            .find(|credit| children(*credit, "credit-type").any(|kind| text(kind) == "title"))
            .and_then(|credit| said(child(credit, "credit-words"))),
    }
}

fn one_line(words: &str) -> String {
    printable(words).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The first part of the list, and each that a group begins with.
fn tops(list: Node<'_, '_>) -> Vec<bool> {
    let mut tops = Vec::new();
    let mut is_top = true;
    for element in elements(list) {
        match tree::name(element) {
            "part-group" => is_top |= element.attribute("type") == Some("start"),
            "score-part" => tops.push(std::mem::take(&mut is_top)),
            _ => {}
        }
    }
    tops
}

fn part_list(list: Node<'_, '_>) -> Result<Vec<PartInfo>, Exceeded> {
    let mut infos = Vec::new();
    let mut groups: Vec<(String, String)> = Vec::new();
    for element in elements(list) {
        match tree::name(element) {
            "part-group" => {
                let number = element.attribute("number").unwrap_or("1").trim().to_owned();
                groups.retain(|(open, _)| *open != number);
                if element.attribute("type") == Some("start") {
                    intake::INSTRUMENTS.admit(groups.len() as u64 + 1)?;
                    groups.push((number, named(element, "group-name")));
                }
            }
            "score-part" => {
                let names = groups.iter().map(|(_, name)| name.clone()).filter(|name| !name.is_empty());
                infos.push(score_part(element, infos.len(), names.collect())?);
                intake::PARTS.admit(infos.len() as u64)?;
            }
            _ => {}
        }
    }
    Ok(infos)
}

fn score_part(part: Node<'_, '_>, index: usize, groups: Vec<String>) -> Result<PartInfo, Exceeded> {
    for list in ["score-instrument", "midi-instrument"] {
        intake::INSTRUMENTS.admit(children(part, list).count() as u64)?;
    }
    let mut instruments: Vec<Instrument> = children(part, "score-instrument")
        .map(|instrument| Instrument {
            id: instrument.attribute("id").unwrap_or_default().trim().to_owned(),
            name: child(instrument, "instrument-name").map(|name| one_line(text(name))).unwrap_or_default(),
            sound: child(instrument, "instrument-sound")
                .map(|sound| printable(text(sound)).into_owned())
                .filter(|sound| !sound.is_empty()),
            midi_program: None,
        })
        .collect();
    for midi in children(part, "midi-instrument") {
        let program =
            child(midi, "midi-program").and_then(number::<u8>).filter(|program| (1..=128).contains(program));
        let id = midi.attribute("id").unwrap_or_default().trim();
        match instruments.iter_mut().find(|instrument| instrument.id == id) {
            Some(instrument) => instrument.midi_program = program,
            // Some programs write the MIDI instrument without the score instrument it belongs to.
            None => instruments.push(Instrument {
                id: id.to_owned(),
                midi_program: program,
                ..Instrument::default()
            }),
        }
    }
    let players = children(part, "player").count();
    let ensemble = children(part, "score-instrument")
        .find_map(|instrument| child(instrument, "ensemble"))
        .and_then(number::<u8>);
    Ok(PartInfo {
        index: index as u32,
        id: printable(part.attribute("id").unwrap_or_default().trim()).into_owned(),
        name: named(part, "part-name"),
        displayed: displayed_otherwise(part),
        has_lyrics: false,
        clef: None,
        abbreviation: named(part, "part-abbreviation"),
        instruments,
        groups,
        players: ensemble.or_else(|| u8::try_from(players).ok()).filter(|players| *players > 0),
        staff_name: None,
    })
}

/// A name as its element gives it, or, where that is empty, as its `-display` sibling shows it.
fn named(node: Node<'_, '_>, name: &str) -> String {
    let plain = child(node, name).map(|plain| one_line(text(plain))).unwrap_or_default();
    if plain.is_empty() { one_line(&display(node, name)) } else { plain }
}

/// What is printed, where it is not the name in one line: another name, or the name in several lines.
fn displayed_otherwise(part: Node<'_, '_>) -> String {
    let name = child(part, "part-name").map(text).unwrap_or_default();
    let printed = display(part, "part-name");
    let printed = if one_line(&printed).is_empty() { name } else { &printed };
    let lines: Vec<String> = printed.lines().map(one_line).filter(|line| !line.is_empty()).collect();
    let printed = lines.join("\n");
    if printed == one_line(name) { String::new() } else { printed }
}

/// What a `-display` element shows. An accidental belongs to the letter before it.
fn display(node: Node<'_, '_>, name: &str) -> String {
    let mut shown = String::new();
    for piece in child(node, &format!("{name}-display")).into_iter().flat_map(elements) {
        match tree::name(piece) {
            "display-text" if shown.is_empty() => shown.push_str(text(piece)),
            "display-text" => {
                shown.push(' ');
                shown.push_str(text(piece));
            }
            "accidental-text" => {
                shown.truncate(shown.trim_end().len());
                shown.push_str(accidental(text(piece)));
            }
            _ => {}
        }
    }
    shown
}

fn accidental(name: &str) -> &'static str {
    match name {
        "flat" => "♭",
        "sharp" => "♯",
        "natural" => "♮",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::musicxml::tree::Tree;

    fn header(xml: &str, ids: &[Option<&str>]) -> Header {
        let document = roxmltree::Document::parse(xml).unwrap();
        let music: Vec<_> = ids.iter().map(|id| Music { id: id.map(str::to_owned), line: 7 }).collect();
        Header::read(Tree::of(document.root_element(), 0).root(), &music).unwrap()
    }

    #[test]
    fn work_and_movement_become_one_title() {
        let title = |inside: &str| header(&format!("<s>{inside}</s>"), &[]).title;
        assert_eq!(
            title(
                "<work><work-title>Harbour\n Music</work-title></work><movement-number>2</movement-number><movement-title>Fog</movement-title>"
            ),
            Some("Harbour Music: 2. Fog".to_owned())
        );
        assert_eq!(
            title("<work><work-title>Tide</work-title></work><movement-title>Tide</movement-title>"),
            Some("Tide".to_owned())
        );
        assert_eq!(
            title("<credit><credit-type>title</credit-type><credit-words>Quay</credit-words></credit>"),
            Some("Quay".to_owned())
        );
        assert_eq!(title("<work><work-title> </work-title></work>"), None);
    }

    #[test]
    fn the_part_list_says_who_plays() {
        let list = "<s><part-list>
            <part-group type='start' number='1'><group-name>Brass</group-name></part-group>
            <part-group type='start' number='2'/>
            <score-part id='P1'><part-name>Tuba</part-name><part-abbreviation>Tba.</part-abbreviation>
              <score-instrument id='I1'><instrument-name>Tuba in C</instrument-name>
                <instrument-sound>brass.tuba</instrument-sound><ensemble>2</ensemble></score-instrument>
              <midi-instrument id='I1'><midi-program>59</midi-program></midi-instrument></score-part>
            <part-group type='stop' number='1'/>
            <score-part id='P2'><part-name/><part-name-display><display-text>Bass in B</display-text>
              <accidental-text>flat</accidental-text></part-name-display></score-part>
            </part-list></s>";
        let header = header(list, &[Some("P1"), Some("P2")]);
        let tuba = &header.infos[0];
        assert_eq!((tuba.name.as_str(), tuba.abbreviation.as_str(), tuba.players), ("Tuba", "Tba.", Some(2)));
        assert_eq!(tuba.groups, ["Brass"]);
        assert_eq!(tuba.instruments[0].midi_program, Some(59));
        assert_eq!(tuba.instruments[0].sound.as_deref(), Some("brass.tuba"));
        assert_eq!(header.infos[1].name, "Bass in B♭");
        assert!(header.infos[1].groups.is_empty());
        assert!(header.oddities.is_empty());
    }

    #[test]
    fn what_is_printed_in_place_of_the_name_is_kept_beside_it() {
        let list = "<s><part-list><score-part id='P1'><part-name>Part 7</part-name><part-name-display>
            <display-text>Tuba in B </display-text><accidental-text>flat</accidental-text></part-name-display></score-part>
            <score-part id='P2'><part-name>Trombone 3\nTuba</part-name></score-part>
            <score-part id='P3'><part-name>Tuba</part-name><part-name-display><display-text>Tuba</display-text>
            </part-name-display></score-part></part-list></s>";
        let header = header(list, &[Some("P1"), Some("P2"), Some("P3")]);
        let names: Vec<_> =
            header.infos.iter().map(|info| (info.name.as_str(), info.displayed.as_str())).collect();
        let expected = [("Part 7", "Tuba in B♭"), ("Trombone 3 Tuba", "Trombone 3\nTuba"), ("Tuba", "")];
        assert_eq!(names, expected);
    }

    #[test]
    fn parts_find_their_place_or_it_is_said() {
        let list =
            "<s><part-list><score-part id='A'/><score-part id='B'/><score-part id='C'/></part-list></s>";
        let header = header(list, &[Some("B"), None, Some("X")]);
        assert_eq!(header.of_music, [1, 3, 4]);
        let kinds: Vec<_> = header.oddities.iter().map(|oddity| &oddity.kind).collect();
        assert!(kinds.contains(&&OddityKind::PartWithoutId));
        assert!(kinds.contains(&&OddityKind::PartNotListed { id: "X".into() }));
        assert!(kinds.contains(&&OddityKind::PartWithoutMusic { id: "C".into() }));
    }
}
