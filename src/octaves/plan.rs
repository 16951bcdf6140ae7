//! From findings to moves: what is sought is tried, and only what the rules then confirm is kept.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::layout::to_redraw;
use super::prove::{Proved, Prover};
use super::region::Region;
use super::seek::{NoteOf, Wishes};
use super::trial::{
    Trial, Try, Verdict, Weigh, a_move_may_serve, asks_for_a_move, desk_of, judged_around, notes_around,
    shifts_of,
};
use super::words;
use crate::finding::{Finding, OctaveMove, PartMove, Place, Revision, Standing};
use crate::playing::Section;
use crate::rules::judge;

/// Rounds after which what is still in doubt is left for review.
const ROUNDS: usize = 16;

/// Plans the octave moves of a section: gives each range or loudness finding that a move cures its move,
/// and returns all moves, safe ones and those for review, by part and place.
///
/// `findings` are those of [`judge`] on the same section. A waived finding asks for no move, and its notes
/// stay where they are; a finding that is only a note asks for none either. One that asks and that no move
/// serves is given a [`Standing::Manual`] move of no octaves, which says what else would help.
///
/// A second plan of the section with the safe moves made has no safe move left.
pub fn plan(section: &Section<'_>, findings: &mut [Finding]) -> Revision {
    plan_weighed(section, findings, &|_| ())
}

/// The same for findings to which settings gave other weights or that they left out: `weigh` does so to those
/// of a moved section.
pub fn plan_weighed(
    section: &Section<'_>,
    findings: &mut [Finding],
    weigh: &dyn Fn(&mut Vec<Finding>),
) -> Revision {
    let wishes = wishes_of(section, findings);
    if wishes.asked.is_empty() {
        return Revision::default();
    }
    let proved = settle(section, findings, &wishes, weigh);
    write_down(section, findings, &proved)
}

/// Proves moves of which a second run makes no other. Where some were doubted, the second run is made: it comes to
/// another page, and need not doubt what this one did. What then brings it to a move is left for review.
fn settle(section: &Section<'_>, before: &[Finding], wishes: &Wishes, weigh: Weigh<'_>) -> Vec<Proved> {
    let mut held: BTreeSet<NoteOf> = BTreeSet::new();
    for _ in 0..ROUNDS {
        let (proved, any_doubt) = settle_without(section, before, wishes, weigh, &held);
        let safe = safe_ones(&proved);
        if safe.is_empty() || !any_doubt {
            return proved;
        }
        let moved = shifts_of(&safe).applied(section);
        let mut findings = judge(&moved);
        weigh(&mut findings);
        let next = wishes_of(&moved, &findings);
        let (again, _) = settle_without(&moved, &findings, &next, weigh, &BTreeSet::new());
        let again = safe_ones(&again);
        if again.is_empty() {
            return proved;
        }
        let all: BTreeSet<NoteOf> =
            proved.iter().filter(|known| known.is_safe()).flat_map(Proved::all_notes).collect();
        let near = notes_around(section, &again, &all);
        let near: Vec<&Proved> = proved
            .iter()
            .filter(|known| known.is_safe() && known.all_notes().any(|note| near.contains(&note)))
            .collect();
        held.extend(near.iter().flat_map(|known| known.all_notes()));
        if near.is_empty() {
            held.extend(all);
        }
    }
    settle_without(section, before, wishes, weigh, &wishes.asked).0
}

/// Proves moves until what a second run would add is added, what it would move again is left for review, and what brings
/// trouble beyond its own window goes. Moves of notes that are `held` are left for review. Also says whether any was.
fn settle_without(
    section: &Section<'_>,
    before: &[Finding],
    wishes: &Wishes,
    weigh: Weigh<'_>,
    held: &BTreeSet<NoteOf>,
) -> (Vec<Proved>, bool) {
    let mut proved = Prover::of(section, wishes, weigh).prove();
    let found: BTreeSet<NoteOf> = proved.iter().flat_map(Proved::all_notes).collect();
    // Notes of which a second run would think otherwise: their moves depend on others.
    let mut doubtful = held.clone();
    let (mut asked, mut made) = (wishes.asked.clone(), Vec::new());
    for _ in 0..ROUNDS {
        // What was found at once stays, to be looked at; what only a second run found was never there.
        proved.retain_mut(|known| {
            let doubted = known.is_safe() && known.all_notes().any(|note| doubtful.contains(&note));
            if doubted {
                known.doubt();
            }
            !doubted || known.all_notes().all(|note| found.contains(&note))
        });
        let safe = safe_ones(&proved);
        if safe.is_empty() {
            return (proved, !doubtful.is_empty());
        }
        let shifts = shifts_of(&safe);
        let moved = shifts.applied(section);
        ask_again(&moved, &differing(&made, &safe), weigh, &mut asked);
        asked.retain(|note| !wishes.meant.contains(note));
        made.clone_from(&safe);
        let next = Wishes { asked: asked.clone(), meant: wishes.meant.clone() };
        let mut again = if asked.is_empty() { Vec::new() } else { Prover::of(&moved, &next, weigh).prove() };
        again.retain(|new| new.is_safe() && !new.all_notes().any(|note| doubtful.contains(&note)));
        let at_once = |(desk, note): NoteOf| shifts.at(desk, note) != 0;
        let twice: BTreeSet<NoteOf> =
            again.iter().filter(|new| new.all_notes().any(at_once)).flat_map(Proved::all_notes).collect();
        if !twice.is_empty() {
            // Moved once and moved again: neither is an answer.
            let with_it = proved.iter().filter(|known| known.all_notes().any(|note| twice.contains(&note)));
            doubtful.extend(with_it.flat_map(Proved::all_notes).chain(twice.iter().copied()));
            continue;
        }
        if !again.is_empty() {
            let taken: BTreeSet<NoteOf> = again.iter().flat_map(Proved::all_notes).collect();
            proved.retain(|known| known.is_safe() || !known.all_notes().any(|note| taken.contains(&note)));
            proved.extend(again);
            continue;
        }
        let trial = Trial::whole(section, weigh, before, &safe);
        let mut verdicts = (0..safe.len()).map(|index| trial.verdict(index));
        let known = doubtful.len();
        proved.retain_mut(|known| {
            if !known.is_safe() {
                return true;
            }
            // A rule that hears far may be less content than it was with the window.
            if let Some(Verdict::Clears { clears, leaves, .. }) = verdicts.next() {
                (known.clears, known.leaves) = (clears, leaves);
                return true;
            }
            doubtful.extend(known.all_notes());
            false
        });
        if doubtful.len() == known {
            return (proved, !doubtful.is_empty());
        }
    }
    proved.iter_mut().filter(|known| known.is_safe()).for_each(Proved::doubt);
    (proved, true)
}

/// The tries that only one of the two has.
fn differing(some: &[Try], others: &[Try]) -> Vec<Try> {
    let regions =
        |tries: &[Try]| -> HashSet<Region> { tries.iter().map(|(region, _)| region.clone()).collect() };
    let (in_some, in_others) = (regions(some), regions(others));
    let gone = some.iter().filter(|(region, _)| !in_others.contains(region));
    let new = others.iter().filter(|(region, _)| !in_some.contains(region));
    gone.chain(new).cloned().collect()
}

fn safe_ones(proved: &[Proved]) -> Vec<Try> {
    proved.iter().filter(|proved| proved.is_safe()).map(Proved::as_try).collect()
}

/// Brings up to date which notes ask for a move, once the tries given are made: only the passages that they
/// touch are heard again.
fn ask_again(moved: &Section<'_>, tries: &[Try], weigh: Weigh<'_>, asked: &mut BTreeSet<NoteOf>) {
    let findings = judged_around(moved, tries, weigh);
    let now = wishes_of(moved, &findings).asked;
    for (region, notes) in tries {
        let line = &moved.desks[region.desk].lines[region.line];
        let passages = line.passage_of(region.first)..=line.passage_of(region.last);
        let touched = line.passages[passages].iter().flat_map(|passage| &line.played[passage.clone()]);
        for &note in touched.flat_map(|played| &played.chain).chain(notes) {
            let note = (region.desk, note);
            if now.contains(&note) {
                asked.insert(note);
            } else {
                asked.remove(&note);
            }
        }
    }
}

/// What findings ask of the search.
fn wishes_of(section: &Section<'_>, findings: &[Finding]) -> Wishes {
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
fn write_down(section: &Section<'_>, findings: &mut [Finding], proved: &[Proved]) -> Revision {
    let moves: Vec<PartMove> = proved.iter().map(|proved| part_move(section, proved)).collect();
    let mut of_note: BTreeMap<NoteOf, usize> = BTreeMap::new();
    for (index, proved) in proved.iter().enumerate() {
        of_note.extend(proved.notes.iter().map(|&note| ((proved.region.desk, note), index)));
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
            None if asks_for_a_move(finding) => Some(words::manual(finding)),
            None => None,
        };
    }
    let mut moves = moves;
    moves.sort_by_key(|one| (one.part, one.octave_move.from.onset, one.octave_move.notes.clone()));
    Revision { moves }
}

fn part_move(section: &Section<'_>, proved: &Proved) -> PartMove {
    let Proved { region, notes, opinion, clears, leaves } = proved;
    let part = section.desks[region.desk].part;
    let place = |note: Option<&u32>| {
        let note = note.and_then(|&note| part.notes.get(note as usize));
        note.map_or_else(Place::default, |note| {
            let voice = part.voices.get(usize::from(note.voice)).map_or("1", String::as_str);
            Place::of_note(section.score, note, voice)
        })
    };
    let line = &section.desks[region.desk].lines[region.line];
    let lowest = line.played[region.first..=region.last].iter().map(|played| played.sounding).min();
    let octave_move = OctaveMove {
        octaves: region.octaves,
        sounding: lowest.map(|pitch| pitch.up_octaves(region.octaves)),
        from: place(notes.first()),
        to: place(notes.last()),
        notes: notes.clone(),
        standing: if proved.is_safe() { Standing::Safe } else { Standing::Review },
        clears: clears.clone(),
        leaves: leaves.clone(),
        why_not_safe: opinion.why_not_safe.clone(),
        doubling: opinion.doubling.clone(),
        layout: to_redraw(
            &section.desks[region.desk],
            &line.played[region.first..=region.last],
            region.octaves,
        ),
    };
    PartMove { part: part.info.index, octave_move }
}
