//! From findings to moves: what is sought is tried, and only what the rules then confirm is kept.

use std::collections::{BTreeMap, BTreeSet};

use super::layout::to_redraw;
use super::search::OCTAVES;
use super::seek::{NoteOf, Region, Wishes, leaders, seek};
use super::standing::{Opinion, Study};
use super::strip::{moves_serve, shift};
use super::words;
use crate::finding::{Finding, OctaveMove, PartMove, Place, Revision, Severity, Standing};
use crate::playing::Section;
use crate::rules::{Family, Rule, judge};

/// Rounds after which what is still in doubt is dropped.
const ROUNDS: usize = 6;

/// Plans the octave moves of a section: gives each range or loudness finding that a move cures its move,
/// and returns all moves, safe ones and those for review, by part and place.
///
/// `findings` are those of [`judge`] on the same section. A waived finding asks for no move, and its notes
/// stay where they are; a finding that is only a note asks for none either. One that asks and that no move
/// serves is given a [`Standing::Manual`] move of no octaves, which says what else would help.
///
/// A second plan of the section with the safe moves made has no safe move left.
pub fn plan(section: &Section<'_>, findings: &mut [Finding]) -> Revision {
    let mut wishes = wishes(section, findings);
    if wishes.asked.is_empty() {
        return Revision::default();
    }
    let before = judge(section);
    let mut proved = prove(section, &before, &mut wishes);
    for _ in 0..ROUNDS {
        match what_follows(section, &proved, &wishes) {
            Follows::Nothing => break,
            // Moved once and moved again: neither is an answer.
            Follows::Again(notes) => {
                for note in notes {
                    *wishes.barred.entry(note).or_default() |= EVERY_MOVE;
                }
                proved = prove(section, &before, &mut wishes);
            }
            Follows::More(more) => {
                let taken: BTreeSet<NoteOf> = more.iter().flat_map(Proved::all_notes).collect();
                proved
                    .retain(|known| known.is_safe() || !known.all_notes().any(|note| taken.contains(&note)));
                proved.extend(more);
            }
        }
    }
    claim_no_more_than_holds(section, &before, &mut proved);
    write_down(section, findings, &proved)
}

/// What a safe move is said to clear must be gone when the safe moves alone are made: a rule that hears
/// several players may have been content only with the moves for review.
fn claim_no_more_than_holds(section: &Section<'_>, before: &[Finding], proved: &mut [Proved]) {
    let safe = proved.iter().filter(|proved| proved.is_safe());
    let alone: Vec<(Region, Vec<u32>)> =
        safe.map(|proved| (proved.region.clone(), proved.notes.clone())).collect();
    let trial = Trial::of(section, before, &alone);
    for proved in proved.iter_mut().filter(|proved| proved.is_safe()) {
        let about =
            proved.notes.iter().filter_map(|&note| trial.about_after.get(&(proved.region.desk, note)));
        let there: BTreeSet<&str> = about.flatten().map(|&index| trial.after[index].rule).collect();
        let (stays, goes) = proved.clears.iter().partition(|&rule| there.contains(rule));
        let stays: Vec<&'static str> = stays;
        proved.clears = goes;
        proved.leaves.extend(stays);
    }
}

/// The bits of all octaves but the written one.
const EVERY_MOVE: u8 = 0b1_1110;

/// A region that the rules confirm.
#[derive(Clone, Debug)]
struct Proved {
    region: Region,
    notes: Vec<u32>,
    opinion: Opinion,
    clears: Vec<&'static str>,
    leaves: Vec<&'static str>,
}

impl Proved {
    fn all_notes(&self) -> impl Iterator<Item = NoteOf> {
        self.notes.iter().map(|&note| (self.region.desk, note))
    }

    fn is_safe(&self) -> bool {
        self.opinion.why_not_safe.is_none()
    }
}

fn asks_for_a_move(finding: &Finding) -> bool {
    finding.severity >= Severity::Warning
        && Rule::named(finding.rule).is_some_and(|rule| moves_serve(rule.family))
}

fn wishes(section: &Section<'_>, findings: &[Finding]) -> Wishes {
    let mut wishes = Wishes::default();
    for finding in findings {
        let Some(desk) = desk_of(section, finding) else { continue };
        let notes = finding.notes.iter().map(|&note| (desk, note));
        if finding.waived.is_some() {
            if Rule::named(finding.rule).is_some_and(|rule| moves_serve(rule.family)) {
                wishes.meant.extend(notes);
            }
        } else if asks_for_a_move(finding) {
            wishes.asked.extend(notes);
        }
    }
    wishes
}

fn desk_of(section: &Section<'_>, finding: &Finding) -> Option<usize> {
    section.desks.iter().position(|desk| Some(desk.part.info.index) == finding.part)
}

/// Octaves that notes move by.
#[derive(Clone, Debug, Default)]
struct Shifts(BTreeMap<NoteOf, i8>);

impl Shifts {
    fn of<'p>(regions: impl IntoIterator<Item = (&'p Region, &'p [u32])>) -> Shifts {
        let each = regions
            .into_iter()
            .flat_map(|(region, notes)| notes.iter().map(move |&note| ((region.desk, note), region.octaves)));
        Shifts(each.collect())
    }

    fn at(&self, desk: usize, note: u32) -> i8 {
        self.0.get(&(desk, note)).copied().unwrap_or(0)
    }

    /// The section with the moves made.
    fn applied<'s>(&self, section: &Section<'s>) -> Section<'s> {
        let mut moved = section.clone();
        for (desk, there) in moved.desks.iter_mut().enumerate() {
            for played in there.lines.iter_mut().flat_map(|line| &mut line.played) {
                shift(played, self.at(desk, played.chain[0]));
            }
        }
        moved
    }
}

/// The notes of a region; those that an earlier line has already are left to it.
fn notes_of(section: &Section<'_>, region: &Region) -> Vec<u32> {
    let line = &section.desks[region.desk].lines[region.line];
    let own = line.played[region.first..=region.last].iter().filter(|played| !played.shared);
    let mut notes: Vec<u32> = own.flat_map(|played| played.chain.iter().copied()).collect();
    notes.sort_unstable();
    notes
}

/// Seeks regions and tries them until the rules confirm all that are left.
fn prove(section: &Section<'_>, before: &[Finding], wishes: &mut Wishes) -> Vec<Proved> {
    let leaders = leaders(section);
    let mut regions = Vec::new();
    for _ in 0..ROUNDS {
        regions = sought(section, wishes);
        let trial = Trial::of(section, before, &regions);
        let mut all_well = true;
        for (index, (region, notes)) in regions.iter().enumerate() {
            let Verdict::Fails(culprits) = trial.verdict(index) else { continue };
            all_well = false;
            // A desk that follows another is helped where that one is.
            let leader = leaders[region.desk];
            let (from, to) =
                (&section.desks[region.desk].lines[region.line], &section.desks[leader].lines[region.line]);
            let which = OCTAVES.iter().position(|&octaves| octaves == region.octaves).unwrap_or(0);
            let guilty = |chain: &[u32]| {
                let any = |among: &[u32]| chain.iter().any(|note| among.binary_search(note).is_ok());
                any(&culprits) || culprits.is_empty() && any(notes)
            };
            for index in region.first..=region.last {
                if guilty(&from.played[index].chain) {
                    for &note in &to.played[index].chain {
                        *wishes.barred.entry((leader, note)).or_default() |= 1 << which;
                    }
                }
            }
        }
        if all_well {
            break;
        }
    }
    // What still fails goes; that may unsettle others, so until nothing does.
    let mut trial = Trial::of(section, before, &regions);
    loop {
        let well: Vec<bool> =
            (0..regions.len()).map(|index| !matches!(trial.verdict(index), Verdict::Fails(_))).collect();
        if well.iter().all(|well| *well) {
            break;
        }
        let mut well = well.into_iter();
        regions.retain(|_| well.next().unwrap_or(false));
        trial = Trial::of(section, before, &regions);
    }
    let opinions = opinions(section, &regions, &leaders);
    let mut proved: Vec<Proved> = Vec::new();
    for (index, (opinion, (region, notes))) in opinions.into_iter().zip(&regions).enumerate() {
        let Verdict::Clears { clears, leaves } = trial.verdict(index) else { continue };
        proved.push(Proved { region: region.clone(), notes: notes.clone(), opinion, clears, leaves });
    }
    prove_safe_ones_alone(section, before, &leaders, &mut proved);
    proved
}

/// The safe moves have to hold without the others, since only they are made by themselves.
fn prove_safe_ones_alone(
    section: &Section<'_>,
    before: &[Finding],
    leaders: &[usize],
    proved: &mut [Proved],
) {
    loop {
        let safe: Vec<usize> = (0..proved.len()).filter(|&index| proved[index].is_safe()).collect();
        if safe.len() == proved.len() || safe.is_empty() {
            return;
        }
        let alone: Vec<(Region, Vec<u32>)> =
            safe.iter().map(|&index| (proved[index].region.clone(), proved[index].notes.clone())).collect();
        let trial = Trial::of(section, before, &alone);
        let mut all_well = true;
        for ((at, opinion), &index) in opinions(section, &alone, leaders).into_iter().enumerate().zip(&safe) {
            let why = match trial.verdict(at) {
                Verdict::Fails(_) => Some("it serves only together with another move".to_owned()),
                Verdict::Clears { .. } => opinion.why_not_safe,
            };
            all_well &= why.is_none();
            proved[index].opinion.why_not_safe = why;
        }
        if all_well {
            return;
        }
    }
}

fn sought(section: &Section<'_>, wishes: &Wishes) -> Vec<(Region, Vec<u32>)> {
    seek(section, wishes)
        .into_iter()
        .map(|region| {
            let notes = notes_of(section, &region);
            (region, notes)
        })
        .filter(|(_, notes)| !notes.is_empty())
        .collect()
}

fn opinions(section: &Section<'_>, regions: &[(Region, Vec<u32>)], leaders: &[usize]) -> Vec<Opinion> {
    let shifts = Shifts::of(regions.iter().map(|(region, notes)| (region, notes.as_slice())));
    let octaves_of = |desk: usize, line: usize, played: usize| {
        shifts.at(desk, section.desks[desk].lines[line].played[played].chain[0])
    };
    let mut study: Option<((usize, usize), Study<'_>)> = None;
    regions
        .iter()
        .map(|(region, _)| {
            let at = (region.desk, region.line);
            if study.as_ref().is_none_or(|(of, _)| *of != at) {
                let same = |desk: usize, _| desk != at.0 && leaders[desk] == leaders[at.0];
                study = Some((at, Study::of(section, at.0, at.1, same)));
            }
            study.as_ref().map_or_else(Opinion::default, |(_, study)| study.opinion(region, &octaves_of))
        })
        .collect()
}

/// What the rules say once some regions are moved.
struct Trial<'t> {
    section: &'t Section<'t>,
    regions: &'t [(Region, Vec<u32>)],
    before: &'t [Finding],
    after: Vec<Finding>,
    /// The findings about each note, by index.
    about_before: BTreeMap<NoteOf, Vec<usize>>,
    about_after: BTreeMap<NoteOf, Vec<usize>>,
    /// New findings that are about no moved note.
    elsewhere: Vec<usize>,
}

enum Verdict {
    Clears {
        clears: Vec<&'static str>,
        leaves: Vec<&'static str>,
    },
    /// With the notes that bring new trouble; none when the move clears nothing.
    Fails(Vec<u32>),
}

impl<'t> Trial<'t> {
    fn of(section: &'t Section<'t>, before: &'t [Finding], regions: &'t [(Region, Vec<u32>)]) -> Trial<'t> {
        let shifts = Shifts::of(regions.iter().map(|(region, notes)| (region, notes.as_slice())));
        let after = if regions.is_empty() { Vec::new() } else { judge(&shifts.applied(section)) };
        let about = |findings: &[Finding]| {
            let mut about: BTreeMap<NoteOf, Vec<usize>> = BTreeMap::new();
            for (index, finding) in findings.iter().enumerate() {
                let Some(desk) = desk_of(section, finding) else { continue };
                for &note in &finding.notes {
                    about.entry((desk, note)).or_default().push(index);
                }
            }
            about
        };
        let (about_before, about_after) = (about(before), about(&after));
        let mut trial =
            Trial { section, regions, before, after, about_before, about_after, elsewhere: Vec::new() };
        trial.elsewhere = (0..trial.after.len())
            .filter(|&index| {
                let finding = &trial.after[index];
                let desk = desk_of(section, finding);
                let moved = |&note: &u32| desk.is_some_and(|desk| shifts.at(desk, note) != 0);
                !finding.notes.iter().any(moved) && trial.is_new(finding)
            })
            .collect();
        trial
    }

    /// Whether nothing as heavy was said by the same rule of any of its notes before.
    fn is_new(&self, finding: &Finding) -> bool {
        let said = |earlier: &Finding| earlier.rule == finding.rule && earlier.severity >= finding.severity;
        match desk_of(self.section, finding) {
            Some(desk) if !finding.notes.is_empty() => !finding.notes.iter().any(|&note| {
                let earlier = self.about_before.get(&(desk, note)).into_iter().flatten();
                earlier.into_iter().any(|&index| said(&self.before[index]))
            }),
            _ => !self.before.iter().any(|earlier| said(earlier) && earlier.part == finding.part),
        }
    }

    fn verdict(&self, index: usize) -> Verdict {
        let (region, notes) = &self.regions[index];
        let about = |about: &BTreeMap<NoteOf, Vec<usize>>| -> BTreeSet<usize> {
            notes.iter().filter_map(|&note| about.get(&(region.desk, note))).flatten().copied().collect()
        };
        let (before, after) = (about(&self.about_before), about(&self.about_after));
        let still = |finding: &Finding| {
            after.iter().any(|&index| {
                let later = &self.after[index];
                let here = |note: &u32| notes.binary_search(note).is_ok() && later.notes.contains(note);
                later.rule == finding.rule && finding.notes.iter().any(here)
            })
        };
        let (mut clears, mut leaves, mut weight) = (Vec::new(), Vec::new(), None);
        for finding in before.iter().map(|&index| &self.before[index]) {
            if still(finding) {
                leaves.push(finding.rule);
            } else {
                clears.push(finding.rule);
                if asks_for_a_move(finding) {
                    weight = weight.max(Some(finding.severity));
                }
            }
        }
        let Some(weight) = weight else { return Verdict::Fails(Vec::new()) };
        // How players stand to each other as they do elsewhere in the score is what the score means.
        let bears = |finding: &Finding| {
            region.gain > 0
                && finding.severity < Severity::Error
                && Rule::named(finding.rule).is_some_and(|rule| rule.family == Family::Section)
        };
        let mut culprits = BTreeSet::new();
        for finding in after.iter().map(|&index| &self.after[index]) {
            if finding.severity >= weight && !bears(finding) && self.is_new(finding) {
                let own = finding.notes.iter().filter(|note| notes.binary_search(note).is_ok());
                culprits.extend(own.copied());
            }
        }
        for finding in self.elsewhere.iter().map(|&index| &self.after[index]) {
            let line = &self.section.desks[region.desk].lines[region.line];
            let while_it_sounds = |note: &&crate::score::Played| {
                note.onset <= finding.span.to.onset && note.end > finding.place.onset
            };
            if finding.severity >= weight && !bears(finding) {
                let together = line.played[region.first..=region.last].iter().filter(while_it_sounds);
                culprits.extend(together.flat_map(|played| played.chain.iter().copied()));
            }
        }
        if !culprits.is_empty() {
            return Verdict::Fails(culprits.into_iter().collect());
        }
        leaves.retain(|rule| !clears.contains(rule) || still_anywhere(rule, &before, self.before, &still));
        // What is said of other notes of the passage afterwards is not cleared either.
        leaves.extend(after.iter().map(|&index| self.after[index].rule).filter(|rule| clears.contains(rule)));
        clears.retain(|rule| !leaves.contains(rule));
        for rules in [&mut clears, &mut leaves] {
            rules.sort_by_key(|name| crate::rules::RULES.iter().position(|rule| rule.name == *name));
            rules.dedup();
        }
        if clears.is_empty() { Verdict::Fails(Vec::new()) } else { Verdict::Clears { clears, leaves } }
    }
}

fn still_anywhere(
    rule: &str,
    about: &BTreeSet<usize>,
    before: &[Finding],
    still: &impl Fn(&Finding) -> bool,
) -> bool {
    about.iter().any(|&index| before[index].rule == rule && still(&before[index]))
}

/// What a second run would do with the safe moves made.
enum Follows {
    Nothing,
    /// It would make these moves as well.
    More(Vec<Proved>),
    /// It would move these again.
    Again(BTreeSet<NoteOf>),
}

fn what_follows(section: &Section<'_>, proved: &[Proved], wishes: &Wishes) -> Follows {
    let safe = proved.iter().filter(|proved| proved.is_safe());
    let shifts = Shifts::of(safe.map(|proved| (&proved.region, proved.notes.as_slice())));
    if shifts.0.is_empty() {
        return Follows::Nothing;
    }
    let moved = shifts.applied(section);
    let after = judge(&moved);
    let mut next = self::wishes(&moved, &after);
    next.meant.clone_from(&wishes.meant);
    next.asked.retain(|note| !next.meant.contains(note));
    if next.asked.is_empty() {
        return Follows::Nothing;
    }
    let mut again = prove(&moved, &after, &mut next);
    again.retain(Proved::is_safe);
    let twice = |proved: &&Proved| proved.all_notes().any(|(desk, note)| shifts.at(desk, note) != 0);
    let moved_again: BTreeSet<NoteOf> = again.iter().filter(twice).flat_map(Proved::all_notes).collect();
    if again.is_empty() {
        Follows::Nothing
    } else if moved_again.is_empty() {
        Follows::More(again)
    } else {
        Follows::Again(moved_again)
    }
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
        if !Rule::named(finding.rule).is_some_and(|rule| moves_serve(rule.family)) {
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
