//! The moves that the rules confirm: what is sought is tried, what fails is barred and sought anew.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::candidates::{Barred, Candidates, NoteOf, Wishes};
use super::chords::rest_of_chords;
use super::confidence::{Opinion, Study};
use super::judged::{MoveJudge, Ruling, Shifts, Try, Weigh, shifts_of};
use super::other_voices::semitones;
use super::region::Region;
use super::shortest_path::OCTAVES;
use crate::playing::Section;

/// Rounds after which what still fails is dropped.
const ROUNDS: usize = 6;

/// Why a move is for review that is safe where another one is made that is not.
const ONLY_TOGETHER: &str = "it serves only together with another move";

/// A region that the rules confirm.
#[derive(Clone, Debug)]
pub(super) struct Confirmed {
    pub region: Region,
    pub notes: Vec<u32>,
    pub opinion: Opinion,
    pub clears: Vec<&'static str>,
    pub leaves: Vec<&'static str>,
}

impl Confirmed {
    pub(super) fn all_notes(&self) -> impl Iterator<Item = NoteOf> {
        self.notes.iter().map(|&note| (self.region.desk, note))
    }

    pub(super) fn is_safe(&self) -> bool {
        self.opinion.why_not_safe.is_none()
    }

    /// Leaves it for a person to look at, since it comes behind a move that is left to one.
    pub(super) fn depend(&mut self) {
        let why = self.opinion.why_not_safe.take();
        self.opinion.why_not_safe =
            Some(why.map_or_else(|| ONLY_TOGETHER.to_owned(), |why| format!("{why}; {ONLY_TOGETHER}")));
    }

    pub(super) fn as_try(&self) -> Try {
        (self.region.clone(), self.notes.clone())
    }
}

/// Seeks and tries the moves of one section.
pub(super) struct Confirmer<'s> {
    section: &'s Section<'s>,
    candidates: Candidates<'s>,
    move_judge: MoveJudge<'s>,
    barred: Barred,
    /// Notes meant as they stand.
    meant: BTreeSet<NoteOf>,
}

impl<'s> Confirmer<'s> {
    pub(super) fn of(section: &'s Section<'s>, wishes: &Wishes, weigh: Weigh<'s>) -> Confirmer<'s> {
        let candidates = Candidates::of(section, wishes);
        let meant = wishes.meant.clone();
        Confirmer {
            section,
            candidates,
            move_judge: MoveJudge::of(section, weigh),
            barred: BTreeMap::new(),
            meant,
        }
    }

    /// Bars the octave of a region from those of its notes that are to blame, or from all where none is named. A
    /// desk that follows another is helped where that one is.
    fn bar(&mut self, region: &Region, culprits: &[u32]) {
        let which = OCTAVES.iter().position(|&octaves| octaves == region.octaves).unwrap_or(0);
        let is_culprit = |chain: &[u32]| chain.iter().any(|note| culprits.binary_search(note).is_ok());
        // The rest of a chord has no octave of its own to bar.
        let own = &self.section.desks[region.desk].lines[region.line].played[region.first..=region.last];
        let is_own = own.iter().any(|played| is_culprit(&played.chain));
        self.bar_octaves(region, 1 << which, |chain| !is_own || is_culprit(chain));
    }

    fn bar_octaves(&mut self, region: &Region, octaves: u8, is_guilty: impl Fn(&[u32]) -> bool) {
        let leader = self.candidates.leaders[region.desk];
        let line = |desk: usize| &self.section.desks[desk].lines[region.line].played;
        let (from, to) = (line(region.desk), line(leader));
        for index in region.first..=region.last {
            if is_guilty(&from[index].chain) {
                for &note in &to[index].chain {
                    *self.barred.entry((leader, note)).or_default() |= octaves;
                }
            }
        }
    }

    /// Seeks regions and tries them until the rules confirm all that are left.
    pub(super) fn confirm(&mut self) -> Vec<Confirmed> {
        let mut tries = Vec::new();
        for _ in 0..ROUNDS {
            tries = self.propose();
            let rulings = self.move_judge.rulings(&tries);
            let mut all_well = true;
            for ((region, _), ruling) in tries.iter().zip(&rulings) {
                let Ruling::Fails(culprits) = ruling else { continue };
                all_well = false;
                self.bar(region, culprits);
            }
            if all_well {
                let far: Vec<Region> = (0..tries.len())
                    .filter(|&index| self.nearer_octave_serves(&tries, index))
                    .map(|index| tries[index].0.clone())
                    .collect();
                for region in &far {
                    self.bar(region, &[]);
                }
                if far.is_empty() {
                    break;
                }
            }
        }
        // What still fails goes; that may unsettle others, so until nothing does.
        let rulings = loop {
            let rulings = self.move_judge.rulings(&tries);
            let well = self.serve(&tries, &rulings);
            if well.iter().all(|well| *well) {
                break rulings;
            }
            let mut well = well.into_iter();
            tries.retain(|_| well.next().unwrap_or(false));
        };
        let opinions = self.opinions(&tries);
        let mut confirmed: Vec<Confirmed> = Vec::new();
        for ((opinion, ruling), (region, notes)) in opinions.into_iter().zip(rulings).zip(tries) {
            let Ruling::Clears { clears, leaves, playable, strains } = ruling else { continue };
            let mut opinion = opinion;
            let whole = region.last + 1 - region.first
                == self.section.desks[region.desk].lines[region.line].played.len();
            if playable && opinion.why_not_safe.is_none() {
                let unfounded = || "nothing around it says that it belongs elsewhere".to_owned();
                opinion.why_not_safe =
                    opinion.meant.take().or_else(|| ((strains || whole) && !opinion.founded).then(unfounded));
            }
            confirmed.push(Confirmed { region, notes, opinion, clears, leaves });
        }
        self.confirm_safe_ones_alone(&mut confirmed);
        confirmed
    }

    /// Whether one octave serves as well as the two of a try: among the others it clears and leaves nothing, and at some
    /// end of the region the line leaps no wider for it. A note that came two octaves astray would leave a wider leap at
    /// each.
    fn nearer_octave_serves(&mut self, tries: &[Try], index: usize) -> bool {
        let (region, _) = &tries[index];
        if region.octaves.abs() < 2 {
            return false;
        }
        let nearer = Region { octaves: region.octaves.signum(), ..region.clone() };
        let shifts = shifts_of(tries);
        let line = &self.section.desks[region.desk].lines[region.line];
        let leap = |gap: usize, own: i8| {
            let octaves = |note: usize| {
                let moves_along = (region.first..=region.last).contains(&note);
                if moves_along { own } else { shifts.at(region.desk, line.played[note].chain[0]) }
            };
            let by = 12 * i32::from(octaves(gap + 1) - octaves(gap));
            (semitones(&line.played[gap], &line.played[gap + 1]) + by).abs()
        };
        let behind = Some(region.last).filter(|last| last + 1 < line.played.len());
        let mut ends = region.first.checked_sub(1).into_iter().chain(behind);
        let is_asked_for = ends.clone().next().is_some()
            && ends.all(|gap| leap(gap, region.octaves) < leap(gap, nearer.octaves));
        if is_asked_for {
            return false;
        }
        let mut instead = tries.to_vec();
        instead[index] = (nearer.clone(), notes_of(self.section, &nearer));
        let along = self.rest_of_chords(&nearer, &shifts_of(&instead));
        instead[index].1.extend(along);
        instead[index].1.sort_unstable();
        let rulings = self.move_judge.rulings(&instead);
        matches!(&rulings[index], Ruling::Clears { leaves, .. } if leaves.is_empty())
    }

    /// Which notes struck together with those of a region move along.
    fn rest_of_chords(&self, region: &Region, shifts: &Shifts) -> Vec<u32> {
        let may_move =
            |note: u32| shifts.at(region.desk, note) == 0 && !self.meant.contains(&(region.desk, note));
        rest_of_chords(&self.section.desks[region.desk], region, may_move)
    }

    /// The safe moves have to hold without the others, since only they are made by themselves.
    fn confirm_safe_ones_alone(&mut self, confirmed: &mut [Confirmed]) {
        loop {
            let safe: Vec<usize> = (0..confirmed.len()).filter(|&index| confirmed[index].is_safe()).collect();
            if safe.len() == confirmed.len() || safe.is_empty() {
                return;
            }
            let alone: Vec<Try> = safe.iter().map(|&index| confirmed[index].as_try()).collect();
            let rulings = self.move_judge.rulings(&alone);
            let opinions = self.opinions(&alone);
            let mut all_well = true;
            for ((serves, opinion), &index) in
                self.serve(&alone, &rulings).into_iter().zip(opinions).zip(&safe)
            {
                let why = if serves { opinion.why_not_safe } else { Some(ONLY_TOGETHER.to_owned()) };
                all_well &= why.is_none();
                confirmed[index].opinion.why_not_safe = why;
            }
            if all_well {
                return;
            }
        }
    }

    fn propose(&mut self) -> Vec<Try> {
        let regions = self.candidates.propose(&self.barred).into_iter();
        let tries = regions.map(|region| {
            let notes = notes_of(self.section, &region);
            (region, notes)
        });
        let mut tries: Vec<Try> = tries.filter(|(_, notes)| !notes.is_empty()).collect();
        let shifts = shifts_of(&tries);
        for (region, notes) in &mut tries {
            notes.extend(self.rest_of_chords(region, &shifts));
            notes.sort_unstable();
        }
        tries
    }

    /// Whether two desks carry the very same music.
    pub(super) fn are_alike(&self, one: usize, other: usize) -> bool {
        self.candidates.leaders[one] == self.candidates.leaders[other]
    }

    /// A region as it stands in the desk that its own desk follows.
    fn of_leader(&self, region: &Region) -> Region {
        Region { desk: self.candidates.leaders[region.desk], ..region.clone() }
    }

    /// Which tries serve. Desks with the very same music move together or not at all.
    pub(super) fn serve(&self, tries: &[Try], rulings: &[Ruling]) -> Vec<bool> {
        let mut serves: HashMap<Region, bool> = HashMap::new();
        for ((region, _), ruling) in tries.iter().zip(rulings) {
            *serves.entry(self.of_leader(region)).or_insert(true) &= matches!(ruling, Ruling::Clears { .. });
        }
        tries
            .iter()
            .map(|(region, _)| serves.get(&self.of_leader(region)).copied().unwrap_or(false))
            .collect()
    }

    /// What to think of some moves, where no others are made.
    pub(super) fn opinions(&self, tries: &[Try]) -> Vec<Opinion> {
        let shifts = shifts_of(tries);
        let octaves_of = |desk: usize, line: usize, played: usize| {
            shifts.at(desk, self.section.desks[desk].lines[line].played[played].chain[0])
        };
        let mut study: Option<((usize, usize), Study<'_>)> = None;
        // Who follows another has the same music among the same voices.
        let mut known: HashMap<Region, Opinion> = HashMap::new();
        let mut opinions: Vec<Opinion> = Vec::new();
        for (region, _) in tries {
            let of_leader = self.of_leader(region);
            if let Some(known) = known.get(&of_leader) {
                opinions.push(known.clone());
                continue;
            }
            let at = (of_leader.desk, of_leader.line);
            if study.as_ref().is_none_or(|(of, _)| *of != at) {
                study = self.candidates.other_voices(at.0, at.1).map(|(other_voices, between, figures)| {
                    (at, Study::of(self.section, at.0, at.1, other_voices, between, figures))
                });
            }
            let opinion = study
                .as_ref()
                .map_or_else(Opinion::default, |(_, study)| study.opinion(&of_leader, &octaves_of));
            known.insert(of_leader, opinion.clone());
            opinions.push(opinion);
        }
        opinions
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
