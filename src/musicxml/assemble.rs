//! All parts together: how long each bar lasts, and from there where everything stands.

use rayon::prelude::*;

use super::found::{Asked, At, BarRead, OttavaMark, PartRead};
use super::header::Header;
use super::order::{self, BarMarks};
use super::performance::Performance;
use super::tempo::{self, TempoMark};
use super::{dynamics, joins, words};
use crate::intake::{self, Exceeded};
use crate::music::{Length, Onset};
use crate::score::{
    Articulation, Asks, Bar, ClefChange, Direction, Fermata, Head, Join, KeyChange, Later, Mute, Note,
    Oddity, OddityKind, Ottava, Part, PartInfo, PassedOver, RehearsalMark, Score, Sound, TranspositionChange,
};

/// Puts a score together; `read` holds each part's music with its index in the part list, in any order.
///
/// # Errors
///
/// [`intake::PLACE`] is passed.
pub(super) fn assemble(
    header: Header,
    mut read: Vec<(usize, PartRead)>,
    in_full: &[bool],
) -> Result<Score, Exceeded> {
    read.sort_by_key(|(index, _)| *index);
    let bars = bars(&read);
    let mut oddities = header.oddities;
    for (index, part) in &mut read {
        oddities.append(&mut part.oddities);
        lengths(*index, part, &bars, &mut oddities);
    }
    let marks = marks(&mut read, bars.len());
    let order::Outcome { order, unusable, on_words } = order::play_out(&marks);
    if unusable {
        oddities.push(Oddity { part: None, bar: None, line: 1, kind: OddityKind::OrderUnusable });
    }
    for bar in on_words {
        let line = read.iter().find_map(|(_, part)| part.bars.get(bar)).map_or(1, |bar| bar.line);
        let bar = Some(bar as u32);
        oddities.push(Oddity { part: None, bar, line, kind: OddityKind::JumpInWords });
    }
    let performance = Performance::of(&order, &bars);
    let places = Places { bars: &bars, performance: &performance };
    let marks_of_tempo = tempo::for_everybody(tempo_marks(&mut read), &header.tops);
    let (tempo, played_tempo) = tempo::maps(&marks_of_tempo, &performance);
    let rehearsals = rehearsals(&mut read, places);
    let fresh = reached_by_jump(&marks, &bars);

    let mut music: Vec<Option<PartRead>> = header.infos.iter().map(|_| None).collect();
    for (index, part) in read {
        music[index] = Some(part);
    }
    let done: Vec<Result<Done, Exceeded>> = header
        .infos
        .into_par_iter()
        .zip(music)
        .map(|(info, music)| {
            let music = music.unwrap_or_default();
            if in_full.get(info.index as usize).copied().unwrap_or(false) {
                let (part, oddities) = places.part(info, music, &fresh)?;
                Ok(Done::InFull(part, oddities))
            } else {
                Ok(Done::PassedOver(places.passed_over(info, music)))
            }
        })
        .collect();
    let (mut parts, mut passed_over) = (Vec::new(), Vec::new());
    for part in done {
        match part? {
            Done::InFull(part, odd) => {
                parts.push(part);
                oddities.extend(odd);
            }
            Done::PassedOver(part) => passed_over.push(part),
        }
    }
    oddities.sort_by_key(|oddity| (oddity.part, oddity.bar, oddity.line));
    let (usual, long) = words::vocabulary().fermata;
    let fermata = Fermata { usual, long };
    Ok(Score {
        title: header.title,
        bars,
        parts,
        passed_over,
        tempo,
        played_tempo,
        order,
        fermata,
        rehearsals,
        oddities,
    })
}

/// Makes sure that few of what stands in order stand at one place: each is compared with those beside it.
fn spread_out<T>(sorted: &[T], at: impl Fn(&T) -> Onset) -> Result<(), Exceeded> {
    let apart = intake::PLACE.most as usize;
    let is_crowded = sorted.iter().zip(sorted.iter().skip(apart)).any(|(one, other)| at(one) == at(other));
    if is_crowded { Err(intake::PLACE.exceeded()) } else { Ok(()) }
}

#[allow(clippy::large_enum_variant)] // Lives for a moment between two loops.
enum Done {
    InFull(Part, Vec<Oddity>),
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

/// The marks of each bar, gathered over all parts: programs write them into one part, or into each.
fn marks(read: &mut [(usize, PartRead)], count: usize) -> Vec<BarMarks> {
    let mut bars = vec![BarMarks::default(); count];
    for bar in read.iter_mut().flat_map(|(_, part)| part.bars.iter_mut().enumerate()) {
        let (index, Some(own)) = (bar.0, bar.1.marks.take()) else { continue };
        let all = &mut bars[index];
        all.repeat_from |= own.repeat_from;
        all.repeat_back = all.repeat_back.or(own.repeat_back);
        all.ending_start = all.ending_start.take().or(own.ending_start);
        all.ending_stop |= own.ending_stop;
        all.fine |= own.fine;
        all.dacapo |= own.dacapo;
        all.dalsegno = all.dalsegno.take().or(own.dalsegno);
        all.tocoda = all.tocoda.take().or(own.tocoda);
        all.jump_on = all.jump_on.or(own.jump_on);
        all.coda_on = all.coda_on.or(own.coda_on);
        all.jump_said |= own.jump_said;
        all.al_coda |= own.al_coda;
        all.coda_said |= own.coda_said;
        all.coda_late |= own.coda_late;
        for (names, own) in [(&mut all.segno, own.segno), (&mut all.coda, own.coda)] {
            for name in own {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        }
    }
    bars
}

/// The tempo marks of all parts with the index of each.
fn tempo_marks(read: &mut [(usize, PartRead)]) -> Vec<(u32, TempoMark)> {
    let marks = read.iter_mut().flat_map(|(index, part)| {
        let index = *index as u32;
        part.tempo.drain(..).map(move |mark| (index, mark))
    });
    marks.collect()
}

fn rehearsals(read: &mut [(usize, PartRead)], places: Places<'_>) -> Vec<RehearsalMark> {
    let said = read.iter_mut().flat_map(|(_, part)| part.rehearsals.drain(..));
    let mut marks: Vec<RehearsalMark> =
        said.map(|(at, text)| RehearsalMark { at: places.onset(at), text }).collect();
    marks.sort_by_key(|mark| mark.at);
    marks.dedup_by_key(|mark| mark.at);
    marks
}

/// Where a jump, a repeat or an ending may arrive or leave: a tie may come from elsewhere, or go elsewhere.
fn reached_by_jump(marks: &[BarMarks], bars: &[Bar]) -> Vec<Onset> {
    let mut places: Vec<Onset> = Vec::new();
    for (marks, bar) in marks.iter().zip(bars) {
        let arrives = marks.repeat_from
            || marks.ending_start.is_some()
            || !marks.segno.is_empty()
            || !marks.coda.is_empty();
        let leaves = marks.repeat_back.is_some()
            || marks.ending_stop
            || marks.dacapo
            || marks.fine
            || marks.dalsegno.is_some()
            || marks.tocoda.is_some();
        places.extend(arrives.then_some(bar.start));
        places.extend(leaves.then_some(bar.start + bar.length));
    }
    places.sort_unstable();
    places.dedup();
    places
}

/// Puts mutes in and takes them out, in the order in which the bars are played.
fn mute(notes: &mut [Note], directions: &[Direction], performance: &Performance<'_>) {
    let changes: Vec<(&Direction, Option<Mute>)> = directions
        .iter()
        .filter_map(|direction| match direction.asks {
            Asks::Mute(mute) => Some((direction, mute)),
            _ => None,
        })
        .collect();
    if changes.is_empty() {
        return;
    }
    let mut met: Vec<(Onset, &Direction, Option<Mute>)> = Vec::new();
    for visit in &performance.visits {
        let here = changes.iter().filter(|(direction, _)| visit.bars.contains(&direction.bar));
        met.extend(here.map(|(direction, mute)| {
            let at = At { bar: direction.bar, into: direction.bar_onset };
            (performance.met(visit, at), *direction, *mute)
        }));
    }
    met.sort_by_key(|(at, ..)| *at);
    for visit in &performance.visits {
        let from = notes.partition_point(|note| note.bar < visit.bars.start);
        let to = notes.partition_point(|note| note.bar < visit.bars.end);
        for note in &mut notes[from..to] {
            let onset = performance.met(visit, At::of(note));
            let begun = met.partition_point(|(at, ..)| *at <= onset);
            let own = met[..begun].iter().rev().find(|(_, direction, _)| {
                direction.staff.is_none_or(|staff| staff == note.staff)
                    && direction.voice.is_none_or(|voice| voice == note.voice)
            });
            let mute = own.and_then(|(.., mute)| *mute);
            if visit.pass == 1 {
                note.mute = mute;
            } else if note.later.is_some() || mute != note.mute {
                note.set_on(Later { mute, ..note.asked_on(visit.pass) });
            }
        }
    }
}

/// Marks the notes that words ask to be flutter-tongued.
fn flutter(notes: &mut [Note], directions: &[Direction]) {
    let changes: Vec<(&Direction, bool)> = directions
        .iter()
        .filter_map(|direction| match direction.asks {
            Asks::Flutter(on) => Some((direction, on)),
            _ => None,
        })
        .collect();
    if changes.is_empty() {
        return;
    }
    for note in notes {
        let begun = changes.partition_point(|(direction, _)| direction.onset <= note.onset);
        let own = changes[..begun].iter().rev().find(|(direction, _)| {
            direction.staff.is_none_or(|staff| staff == note.staff)
                && direction.voice.is_none_or(|voice| voice == note.voice)
        });
        if own.is_some_and(|(_, on)| *on) {
            note.articulations = note.articulations.with(Articulation::FlutterTongue);
        }
    }
}

/// Marks the notes whose glissando words give to the lip.
fn lip_glissando(notes: &mut [Note], directions: &[Direction]) {
    for direction in directions.iter().filter(|direction| direction.asks == Asks::LipGlissando) {
        let from = notes.partition_point(|note| note.onset < direction.onset);
        let here = notes[from..].iter_mut().take_while(|note| note.onset == direction.onset);
        for note in here.filter(|note| note.joins.has(Join::Glissando)) {
            note.articulations = note.articulations.with(Articulation::LipGlissando);
        }
    }
}

/// Finds the notes that words call sung: of two that sound together on a staff the voice that the words stand at, else the
/// upper one, as a player sings above the note that is played (common practice, no source).
fn sung(notes: &mut [Note], directions: &[Direction]) {
    let changes: Vec<(&Direction, bool)> = directions
        .iter()
        .filter_map(|direction| match direction.asks {
            Asks::Sing(on) | Asks::Flutter(on) => {
                Some((direction, on && matches!(direction.asks, Asks::Sing(_))))
            }
            _ => None,
        })
        .collect();
    if changes.iter().all(|(_, on)| !on) {
        return;
    }
    let said = |note: &Note| {
        let begun = changes.partition_point(|(direction, _)| direction.onset <= note.onset);
        let for_staff =
            |(direction, _): &&(&Direction, bool)| direction.staff.is_none_or(|staff| staff == note.staff);
        changes[..begun].iter().rev().find(for_staff).filter(|(_, on)| *on).map(|(direction, _)| *direction)
    };
    let mut sung: Vec<usize> = Vec::new();
    for (index, note) in notes.iter().enumerate().filter(|(_, note)| note.is_played() && !note.grace) {
        let Some(direction) = said(note) else { continue };
        let end = note.end();
        let behind = notes.iter().enumerate().skip(index + 1).take_while(|(_, other)| other.onset < end);
        for (at, other) in
            behind.filter(|(_, other)| other.is_played() && !other.grace && other.staff == note.staff)
        {
            let of_voice = |voice: u16| direction.voice == Some(voice) && note.voice != other.voice;
            let is_first = of_voice(note.voice) || (!of_voice(other.voice) && note.sounding > other.sounding);
            sung.push(if is_first { index } else { at });
        }
    }
    for index in sung {
        notes[index].head = Head::Sung;
    }
}

/// Turns places counted from the start of bars into places in the score.
#[derive(Clone, Copy)]
struct Places<'b> {
    bars: &'b [Bar],
    performance: &'b Performance<'b>,
}

impl Places<'_> {
    fn onset(self, at: At) -> Onset {
        self.bars.get(at.bar as usize).map_or(Onset::START, |bar| bar.start) + at.into
    }

    fn part(
        self,
        mut info: PartInfo,
        mut music: PartRead,
        fresh: &[Onset],
    ) -> Result<(Part, Vec<Oddity>), Exceeded> {
        for raw in &mut music.notes {
            raw.note.onset = self.onset(At { bar: raw.note.bar, into: raw.note.bar_onset });
        }
        let mut notes = joins::join(music.notes);
        let oddities = joins::open_ties(&notes, info.index, fresh);
        let mut places: Vec<_> = music.shapings.iter().map(|shaping| self.onset(shaping.at)).collect();
        places.sort_unstable();
        spread_out(&places, |at| *at)?;
        dynamics::apply(&mut notes, &music.shapings, self.performance);
        let directions = self.directions(music.asked)?;
        sung(&mut notes, &directions);
        lip_glissando(&mut notes, &directions);
        mute(&mut notes, &directions, self.performance);
        flutter(&mut notes, &directions);
        let mut clefs: Vec<ClefChange> = music
            .clefs
            .into_iter()
            .map(|(at, staff, clef)| ClefChange { bar: at.bar, at: self.onset(at), staff, clef })
            .collect();
        clefs.sort_by_key(|clef| clef.at);
        info.has_lyrics = music.has_lyrics;
        info.clef = clefs.first().map(|first| first.clef);
        let mut keys: Vec<KeyChange> =
            music.keys.into_iter().map(|(at, fifths)| KeyChange { at: self.onset(at), fifths }).collect();
        keys.sort_by_key(|key| key.at);
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
        let ottavas = self.ottavas(&music.ottavas);
        let (staves, voices) = (music.staves.max(1), music.voices);
        Ok((Part { info, staves, voices, notes, directions, clefs, keys, transpositions, ottavas }, oddities))
    }

    /// Directions in order. Words are for all voices of their staff, unless words with different voices stand at one
    /// place: then for their own.
    fn directions(self, asked: Vec<Asked>) -> Result<Vec<Direction>, Exceeded> {
        let mut directions: Vec<Direction> = asked
            .into_iter()
            .map(|Asked { at, staff, voice, text, asks, line }| {
                let onset = self.onset(at);
                Direction { bar: at.bar, onset, bar_onset: at.into, staff, voice, text, asks, line }
            })
            .collect();
        directions.sort_by_key(|direction| direction.onset);
        spread_out(&directions, |direction| direction.onset)?;
        let several: Vec<bool> = directions
            .iter()
            .map(|direction| {
                let first = directions.partition_point(|other| other.onset < direction.onset);
                directions[first..].iter().take_while(|other| other.onset == direction.onset).any(|other| {
                    other.staff == direction.staff && other.voice.is_some() && other.voice != direction.voice
                })
            })
            .collect();
        for (direction, several) in directions.iter_mut().zip(several) {
            let is_sung = matches!(direction.asks, Asks::Sing(_));
            direction.voice = direction.voice.filter(|_| several || is_sung);
        }
        Ok(directions)
    }

    /// Octave lines from their ends; one that never ends is held to the end of its bar.
    fn ottavas(self, marks: &[OttavaMark]) -> Vec<Ottava> {
        let mut open: Vec<(OttavaMark, i8)> = Vec::new();
        let mut lines = Vec::new();
        for mark in marks {
            if let Some(octaves) = mark.octaves {
                open.push((*mark, octaves));
                continue;
            }
            let like = |(start, _): &(OttavaMark, i8)| start.number == mark.number;
            let own = open.iter().rposition(|start| like(start) && start.0.staff == mark.staff);
            if let Some(position) = own.or_else(|| open.iter().rposition(like)) {
                lines.push((open.remove(position), self.onset(mark.at)));
            }
        }
        lines.extend(open.into_iter().map(|start| {
            let bar = self.bars.get(start.0.at.bar as usize);
            let end = bar.map_or(Onset::START, |bar| bar.start + bar.length);
            (start, end)
        }));
        let mut ottavas: Vec<Ottava> = lines
            .into_iter()
            .map(|((start, octaves), to)| {
                let OttavaMark { at, staff, .. } = start;
                Ottava { bar: at.bar, from: self.onset(at), to, staff, octaves }
            })
            .collect();
        ottavas.sort_by_key(|ottava| ottava.from);
        ottavas
    }

    /// Only what sounds when, ties joined.
    fn passed_over(self, info: PartInfo, music: PartRead) -> PassedOver {
        let mut sounds: Vec<Sound> = Vec::with_capacity(music.heard.len());
        // Sounds that are tied on, by their index.
        let mut open: Vec<usize> = Vec::new();
        for note in music.heard {
            let onset = self.onset(note.at);
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
