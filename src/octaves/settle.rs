//! Which of the moves that the rules confirm are made: those that a second run would leave as they are.

use std::collections::{BTreeSet, HashSet};

use super::plan::wishes_of;
use super::prove::{Proved, Prover};
use super::region::Region;
use super::seek::{NoteOf, Wishes};
use super::trial::{Trial, Try, Verdict, Weigh, is_served, judged_around, shifts_of};
use crate::finding::Finding;
use crate::playing::Section;
use crate::rules::judge;

/// Rounds after which what is still in doubt is left for review.
const ROUNDS: usize = 16;

/// Proves moves of which a second run makes no other. Where some were doubted, the second run is made: it comes to
/// another page, and need not doubt what this one did. What it adds is added; what it would move again is left for
/// review, and all is settled anew.
pub(super) fn settle(
    section: &Section<'_>,
    before: &[Finding],
    wishes: &Wishes,
    weigh: Weigh<'_>,
) -> Vec<Proved> {
    let first = Prover::of(section, wishes, weigh).prove();
    let page = Page { section, before, wishes, weigh };
    let mut held: BTreeSet<NoteOf> = BTreeSet::new();
    for _ in 0..ROUNDS {
        let (proved, any_doubt) = page.settle_without(first.clone(), &held);
        if !any_doubt {
            return proved;
        }
        match page.run_on(proved) {
            Ok(proved) => return proved,
            Err(troubled) => held.extend(troubled),
        }
    }
    page.settle_without(first, &wishes.asked).0
}

/// A section as written, what is said of it, and what is wished.
struct Page<'p> {
    section: &'p Section<'p>,
    before: &'p [Finding],
    wishes: &'p Wishes,
    weigh: Weigh<'p>,
}

impl Page<'_> {
    /// Adds what further runs would add, until one adds nothing; or gives the notes of the moves that had better not be
    /// made.
    fn run_on(&self, mut proved: Vec<Proved>) -> Result<Vec<Proved>, BTreeSet<NoteOf>> {
        for _ in 0..ROUNDS {
            let again = self.run_again(&proved);
            if again.is_empty() {
                return Ok(proved);
            }
            proved = self.join(proved, again)?;
        }
        Err(proved.iter().filter(|known| known.is_safe()).flat_map(Proved::all_notes).collect())
    }

    /// The safe moves of a run on the page with the safe ones of these made.
    fn run_again(&self, proved: &[Proved]) -> Vec<Proved> {
        let safe = safe_ones(proved);
        if safe.is_empty() {
            return Vec::new();
        }
        let moved = shifts_of(&safe).applied(self.section);
        let mut findings = judge(&moved);
        (self.weigh)(&mut findings);
        let wishes = wishes_of(&moved, &findings);
        let first = Prover::of(&moved, &wishes, self.weigh).prove();
        let page = Page { section: &moved, before: &findings, wishes: &wishes, weigh: self.weigh };
        let (mut again, _) = page.settle_without(first, &BTreeSet::new());
        again.retain(Proved::is_safe);
        again
    }

    /// Adds what a run found on the page with the safe moves made, or gives the notes of the moves that it would move again
    /// or that then serve for nothing.
    fn join(&self, mut proved: Vec<Proved>, again: Vec<Proved>) -> Result<Vec<Proved>, BTreeSet<NoteOf>> {
        let new: BTreeSet<NoteOf> = again.iter().flat_map(Proved::all_notes).collect();
        let is_moved_again = |known: &Proved| known.all_notes().any(|note| new.contains(&note));
        let safe = proved.iter().filter(|known| known.is_safe());
        let mut idle: BTreeSet<NoteOf> =
            safe.filter(|known| is_moved_again(known)).flat_map(Proved::all_notes).collect();
        if idle.is_empty() {
            take_in(&mut proved, again);
            let safe = safe_ones(&proved);
            let trial = Trial::whole(self.section, self.weigh, self.before, &safe);
            let safe = proved.iter_mut().filter(|known| known.is_safe());
            for (index, known) in safe.enumerate() {
                (known.clears, known.leaves) = trial.outcome(index);
                if !known.clears.iter().any(|rule| is_served(rule)) {
                    idle.extend(known.all_notes());
                }
            }
        }
        if idle.is_empty() { Ok(proved) } else { Err(idle) }
    }

    /// Takes out what does not serve once all safe moves are made.
    fn hear_whole(&self, proved: &mut Vec<Proved>) -> Vec<Proved> {
        let safe = safe_ones(proved);
        let trial = Trial::whole(self.section, self.weigh, self.before, &safe);
        let mut verdicts = (0..safe.len()).map(|index| trial.verdict(index));
        let mut fails = Vec::new();
        proved.retain_mut(|known| {
            if !known.is_safe() {
                return true;
            }
            // A rule that hears far may be less content than it was with the window.
            if let Some(Verdict::Clears { clears, leaves, .. }) = verdicts.next() {
                (known.clears, known.leaves) = (clears, leaves);
                return true;
            }
            fails.push(known.clone());
            false
        });
        fails
    }

    /// Proves moves until what a second run would add is added, what it would move again is left for review, and what
    /// brings trouble beyond its own window goes. Moves of notes that are `held` are left for review. Also says whether
    /// any was. `first` is what is found on the page as written.
    fn settle_without(&self, first: Vec<Proved>, held: &BTreeSet<NoteOf>) -> (Vec<Proved>, bool) {
        let mut proved = first;
        let found: BTreeSet<NoteOf> = proved.iter().flat_map(Proved::all_notes).collect();
        // Notes of which a second run would think otherwise: their moves depend on others.
        let mut doubtful = held.clone();
        let (mut asked, mut made) = (self.wishes.asked.clone(), Vec::new());
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
            let moved = shifts.applied(self.section);
            ask_again(&moved, &differing(&made, &safe), self.weigh, &mut asked);
            asked.retain(|note| !self.wishes.meant.contains(note));
            made.clone_from(&safe);
            let next = Wishes { asked: asked.clone(), meant: self.wishes.meant.clone() };
            let mut again =
                if asked.is_empty() { Vec::new() } else { Prover::of(&moved, &next, self.weigh).prove() };
            again.retain(|new| new.is_safe() && !new.all_notes().any(|note| doubtful.contains(&note)));
            let at_once = |(desk, note): NoteOf| shifts.at(desk, note) != 0;
            let twice: BTreeSet<NoteOf> =
                again.iter().filter(|new| new.all_notes().any(at_once)).flat_map(Proved::all_notes).collect();
            if !twice.is_empty() {
                // Moved once and moved again: neither is an answer.
                let with_it =
                    proved.iter().filter(|known| known.all_notes().any(|note| twice.contains(&note)));
                doubtful.extend(with_it.flat_map(Proved::all_notes).chain(twice.iter().copied()));
                continue;
            }
            if !again.is_empty() {
                take_in(&mut proved, again);
                continue;
            }
            let fails = self.hear_whole(&mut proved);
            if fails.is_empty() {
                return (proved, !doubtful.is_empty());
            }
            doubtful.extend(fails.iter().flat_map(Proved::all_notes));
        }
        proved.iter_mut().filter(|known| known.is_safe()).for_each(Proved::doubt);
        (proved, true)
    }
}

/// Adds some moves in the place of those for review that move the same notes.
fn take_in(proved: &mut Vec<Proved>, new: Vec<Proved>) {
    let taken: BTreeSet<NoteOf> = new.iter().flat_map(Proved::all_notes).collect();
    proved.retain(|known| known.is_safe() || !known.all_notes().any(|note| taken.contains(&note)));
    proved.extend(new);
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
