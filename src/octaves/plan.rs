//! From findings to moves: what is sought is tried, and only what the rules then confirm is kept.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::candidates::{NoteOf, Wishes};
use super::confirmed::Confirmed;
use super::descent::{Moves, Reading, descend};
use super::judged::{Try, a_move_may_serve, asks_for_a_move, desk_of, shifts_of};
use super::layout::{to_redraw, to_turn};
use super::words;
use crate::finding::{Finding, OctaveMove, PartMove, Place, Revision, Standing};
use crate::playing::Section;
use crate::rules::judge;
use crate::score::{Played, Score};

/// Plans the octave moves of a section: gives each range or loudness finding that a move cures its move,
/// and returns all moves, safe ones and those for review, by part and place.
///
/// `findings` are those of [`judge`] on the same section. A waived finding asks for no move, and its notes
/// stay where they are; a finding that is only a note asks for none either. One that asks and that no move
/// serves is given a [`Standing::Manual`] move of no octaves, which says what else would help.
///
/// A second plan of the section with the safe moves made has no safe move left.
pub fn plan(section: &Section<'_>, findings: &mut [Finding]) -> Revision {
    plan_read(section, findings, &AsSeated(section))
}

/// The same for findings that settings weigh or let stand: `reading` is how the page was read, and how one with moves
/// made is.
pub fn plan_read(section: &Section<'_>, findings: &mut [Finding], reading: &dyn Reading) -> Revision {
    let Moves { safe, review } = descend(section, findings, reading);
    // Of two moves of one note its findings tell of the safe one.
    let confirmed: Vec<Confirmed> = review.into_iter().chain(safe).collect();
    write_down(section, findings, &confirmed)
}

/// By the same players on the same instruments, with nothing let stand.
struct AsSeated<'a>(&'a Section<'a>);

impl Reading for AsSeated<'_> {
    fn seat<'s>(&self, score: &'s Score) -> Section<'s> {
        let Section { desks, unrecognised, limits, .. } = self.0;
        let desks = desks.iter().filter_map(|desk| {
            let part = score.parts.iter().find(|part| part.info.index == desk.part.info.index)?;
            let mut lines = desk.lines.clone();
            for played in lines.iter_mut().flat_map(|line| &mut line.played) {
                let now = part.notes.get(played.chain[0] as usize)?;
                (played.written, played.sounding) = (now.written, now.sounding);
            }
            let mut there = desk.with_music(part, lines);
            there.take_up(limits);
            Some(there)
        });
        Section {
            score,
            desks: desks.collect(),
            unrecognised: unrecognised.clone(),
            limits: Arc::clone(limits),
        }
    }

    fn judge(&self, section: &Section<'_>) -> Vec<Finding> {
        judge(section)
    }

    fn weigh(&self, _: &mut Vec<Finding>) {}
}

/// What findings ask of the search.
pub(super) fn wishes_of(section: &Section<'_>, findings: &[Finding]) -> Wishes {
    let mut wishes = Wishes::default();
    for finding in findings {
        let Some(desk) = desk_of(section, finding) else { continue };
        let notes = finding.notes.iter().map(|&note| (desk, note));
        if finding.waived.is_some() {
            if a_move_may_serve(finding) {
                wishes.meant.extend(notes);
            }
        } else if asks_for_a_move(finding) {
            wishes.asked.extend(notes);
        }
    }
    wishes
}

/// The moves as a revision, and each finding with the move that concerns it.
fn write_down(section: &Section<'_>, findings: &mut [Finding], confirmed: &[Confirmed]) -> Revision {
    // Those for review are made on the page with the safe ones made.
    let safe = confirmed.iter().filter(|made| made.is_safe());
    let safe: Vec<Try> = safe.map(Confirmed::as_try).collect();
    let safe = shifts_of(&safe);
    let moves: Vec<PartMove> = confirmed
        .iter()
        .map(|made| {
            let desk = made.region.desk;
            part_move(section, made, |note| if made.is_safe() { 0 } else { safe.at(desk, note) })
        })
        .collect();
    let mut of_note: BTreeMap<NoteOf, usize> = BTreeMap::new();
    for (index, confirmed) in confirmed.iter().enumerate() {
        of_note.extend(confirmed.notes.iter().map(|&note| ((confirmed.region.desk, note), index)));
    }
    for finding in findings.iter_mut().filter(|finding| finding.waived.is_none()) {
        let Some(desk) = desk_of(section, finding) else { continue };
        if !a_move_may_serve(finding) {
            continue;
        }
        let worst = finding.notes.iter().copied().find(|&note| {
            section.desks[desk].part.notes[note as usize].onset == finding.worst.place.onset
                && section.desks[desk].part.notes[note as usize].line == finding.worst.place.line
        });
        let helped = worst.into_iter().chain(finding.notes.iter().copied());
        let by = helped.filter_map(|note| of_note.get(&(desk, note))).map(|&index| &moves[index].octave_move);
        let serves = by.clone().find(|octave_move| octave_move.clears.contains(&finding.rule));
        finding.octave_move = match serves {
            Some(octave_move) => Some(OctaveMove {
                sounding: finding.worst.sounding.map(|pitch| pitch.up_octaves(octave_move.octaves)),
                ..octave_move.clone()
            }),
            None if asks_for_a_move(finding) => Some(words::manual(&section.desks[desk], finding)),
            None => None,
        };
    }
    let mut moves = moves;
    // Stems are for whoever makes the move, not for who hears of it.
    for (made, of) in moves.iter_mut().zip(confirmed) {
        let region = &of.region;
        let desk = &section.desks[region.desk];
        let played = &desk.lines[region.line].played[region.first..=region.last];
        let layout = &mut made.octave_move.layout;
        *layout = layout.take().or_else(|| to_turn(desk, played, region.octaves));
    }
    moves.sort_by_key(|one| (one.part, one.octave_move.from.onset, one.octave_move.notes.clone()));
    Revision { moves }
}

/// `moved` is by how many octaves a note stands higher on the page that the move is made on.
fn part_move(section: &Section<'_>, confirmed: &Confirmed, moved: impl Fn(u32) -> i8) -> PartMove {
    let Confirmed { region, notes, opinion, clears, leaves } = confirmed;
    let part = section.desks[region.desk].part;
    let place = |note: Option<&u32>| {
        let note = note.and_then(|&note| part.notes.get(note as usize));
        note.map_or_else(Place::default, |note| {
            let voice = part.voices.get(usize::from(note.voice)).map_or("1", String::as_str);
            Place::of_note(section.score, note, voice)
        })
    };
    let line = &section.desks[region.desk].lines[region.line];
    let stands = |played: &Played| played.sounding.up_octaves(moved(played.chain[0]));
    let lowest = line.played[region.first..=region.last].iter().map(stands).min();
    let octave_move = OctaveMove {
        octaves: region.octaves,
        sounding: lowest.map(|pitch| pitch.up_octaves(region.octaves)),
        from: place(notes.first()),
        to: place(notes.last()),
        notes: notes.clone(),
        standing: if confirmed.is_safe() { Standing::Safe } else { Standing::Review },
        clears: clears.clone(),
        leaves: leaves.clone(),
        why_not_safe: opinion.why_not_safe.clone(),
        doubling: opinion.doubling.clone(),
        layout: to_redraw(
            &section.desks[region.desk],
            line,
            &line.played[region.first..=region.last],
            region.octaves,
        ),
    };
    PartMove { part: part.info.index, octave_move }
}
