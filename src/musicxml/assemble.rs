//! All parts together: how long each bar lasts, and from there where everything stands.

use rayon::prelude::*;

use super::header::Header;
use super::order::{self, BarMarks};
use super::tempo;
use super::walk::{At, BarRead, PartRead};
use crate::music::{Length, Onset};
use crate::score::{
    Bar, ClefChange, Note, Oddity, OddityKind, Part, PartInfo, PassedOver, Score, Sound, TranspositionChange,
};

/// Puts a score together; `read` holds each part's music with its index in the part list, in any order.
pub(super) fn assemble(header: Header, mut read: Vec<(usize, PartRead)>, in_full: &[bool]) -> Score {
    read.sort_by_key(|(index, _)| *index);
    let bars = bars(&read);
    let mut oddities = header.oddities;
    for (index, part) in &mut read {
        oddities.append(&mut part.oddities);
        lengths(*index, part, &bars, &mut oddities);
    }
    let end = bars.last().map_or(Onset::START, |bar| bar.start + bar.length);
    let (order, unusable) = order::play_out(&vec![BarMarks::default(); bars.len()]);
    if unusable {
        oddities.push(Oddity { part: None, bar: None, line: 1, kind: OddityKind::OrderUnusable });
    }
    let tempo = tempo::map(&[], end);

    let mut music: Vec<Option<PartRead>> = header.infos.iter().map(|_| None).collect();
    for (index, part) in read {
        music[index] = Some(part);
    }
    let places = Places { bars: &bars };
    let done: Vec<Done> = header
        .infos
        .into_par_iter()
        .zip(music)
        .map(|(info, music)| {
            let music = music.unwrap_or_default();
            if in_full.get(info.index as usize).copied().unwrap_or(false) {
                Done::InFull(places.part(info, music))
            } else {
                Done::PassedOver(places.passed_over(info, music))
            }
        })
        .collect();
    let (mut parts, mut passed_over) = (Vec::new(), Vec::new());
    for part in done {
        match part {
            Done::InFull(part) => parts.push(part),
            Done::PassedOver(part) => passed_over.push(part),
        }
    }
    oddities.sort_by_key(|oddity| (oddity.part, oddity.bar, oddity.line));
    Score { title: header.title, bars, parts, passed_over, tempo, order, oddities }
}

#[allow(clippy::large_enum_variant)] // Lives for a moment between two loops.
enum Done {
    InFull(Part),
    PassedOver(PassedOver),
}

/// The bars of the score: each lasts as long as its longest content in any part, an empty one as long as its
/// time signature says.
fn bars(read: &[(usize, PartRead)]) -> Vec<Bar> {
    let count = read.iter().map(|(_, part)| part.bars.len()).max().unwrap_or(0);
    let mut bars = Vec::with_capacity(count);
    let mut start = Onset::START;
    for index in 0..count {
        let here = || read.iter().filter_map(|(_, part)| part.bars.get(index));
        let content = here().map(|bar| bar.content).max().unwrap_or(Length::ZERO);
        let timed = here().find(|bar| bar.nominal.is_some());
        let nominal = timed.and_then(|bar| bar.nominal);
        let length = if content.is_zero() { nominal.unwrap_or(Length::ZERO) } else { content };
        let number = here().find(|bar| !bar.number.is_empty()).map(|bar| bar.number.clone());
        let beat = timed.or(here().next()).map_or(Length::QUARTER, |bar| bar.beat);
        bars.push(Bar { number: number.unwrap_or_default(), start, length, nominal, beat });
        start = start + length;
    }
    bars
}

/// Says which bars of a part hold more or less than their time signature.
fn lengths(index: usize, part: &PartRead, bars: &[Bar], oddities: &mut Vec<Oddity>) {
    let odd = |bar: Option<u32>, line, kind| Oddity { part: Some(index as u32), bar, line, kind };
    if part.bars.len() != bars.len() {
        let line = part.bars.last().map_or(1, |bar| bar.line);
        let (here, score) = (part.bars.len() as u32, bars.len() as u32);
        oddities.push(odd(None, line, OddityKind::BarCountDiffers { here, score }));
    }
    for (position, here) in part.bars.iter().enumerate() {
        let Some(nominal) = here.nominal.filter(|nominal| *nominal != here.content) else { continue };
        if here.content > nominal {
            let by = here.content - nominal;
            oddities.push(odd(Some(position as u32), here.line, OddityKind::BarOverfull { by }));
        } else if !here.content.is_zero() && !is_meant_short(part, position, bars, here) {
            let by = nominal - here.content;
            oddities.push(odd(Some(position as u32), here.line, OddityKind::BarUnderfull { by }));
        }
    }
}

/// A pickup, a bar cut in two, or a last bar that makes up for a pickup: as long as in every other part, and
/// said to be so or completed by a neighbour.
fn is_meant_short(part: &PartRead, position: usize, bars: &[Bar], here: &BarRead) -> bool {
    if here.content != bars[position].length {
        return false;
    }
    let completed = |neighbour: Option<&BarRead>| {
        neighbour.is_some_and(|neighbour| Some(neighbour.content + here.content) == here.nominal)
    };
    here.implicit
        || position == 0
        || position + 1 == part.bars.len()
        || completed(part.bars.get(position - 1))
        || completed(part.bars.get(position + 1))
}

/// Turns places counted from the start of bars into places in the score.
#[derive(Clone, Copy)]
struct Places<'b> {
    bars: &'b [Bar],
}

impl Places<'_> {
    fn onset(self, at: At) -> Onset {
        self.bars.get(at.bar as usize).map_or(Onset::START, |bar| bar.start) + at.into
    }

    fn part(self, info: PartInfo, music: PartRead) -> Part {
        let mut notes: Vec<Note> = Vec::with_capacity(music.notes.len());
        for raw in music.notes {
            let mut note = raw.note;
            note.onset = self.onset(At { bar: note.bar, into: note.bar_onset });
            notes.push(note);
        }
        let mut clefs: Vec<ClefChange> = music
            .clefs
            .into_iter()
            .map(|(at, staff, clef)| ClefChange { bar: at.bar, at: self.onset(at), staff, clef })
            .collect();
        clefs.sort_by_key(|clef| clef.at);
        let mut transpositions: Vec<TranspositionChange> = music
            .transpositions
            .into_iter()
            .map(|(at, staff, transposition)| TranspositionChange {
                at: self.onset(at),
                staff,
                transposition,
            })
            .collect();
        transpositions.sort_by_key(|change| change.at);
        Part {
            info,
            staves: music.staves.max(1),
            voices: music.voices,
            notes,
            directions: Vec::new(),
            clefs,
            transpositions,
            ottavas: Vec::new(),
        }
    }

    /// Only what sounds when, ties joined.
    fn passed_over(self, info: PartInfo, music: PartRead) -> PassedOver {
        let mut sounds: Vec<Sound> = Vec::with_capacity(music.notes.len());
        // Sounds that are tied on, by their index.
        let mut open: Vec<usize> = Vec::new();
        for raw in music.notes {
            let note = raw.note;
            if !note.is_played() || note.grace {
                continue;
            }
            let onset = self.onset(At { bar: note.bar, into: note.bar_onset });
            let end = onset + note.length;
            let before = if note.tie.is_struck() {
                None
            } else {
                open.iter().position(|index| {
                    let sound: &Sound = &sounds[*index];
                    sound.sounding == note.sounding && sound.end == onset
                })
            };
            let index = if let Some(position) = before {
                let index = open.swap_remove(position);
                sounds[index].end = end;
                index
            } else {
                sounds.push(Sound { onset, end, sounding: note.sounding });
                sounds.len() - 1
            };
            if note.tie.goes_on() {
                open.retain(|index| sounds[*index].end >= onset);
                open.push(index);
            }
        }
        sounds.shrink_to_fit();
        PassedOver { info, sounds }
    }
}
