//! From page to page, downhill: the notes at fault in the whole section are one number of the page as it stands. A step
//! makes the moves found on a page, where the whole section judged anew says that they lower that number; where none
//! does, the page is done.
//!
//! A step knows nothing of the pages before. So a copy that is fixed again does not change: its page is the one that the
//! descent ended on. It ends, since the number only falls.

use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::candidates::NoteOf;
use super::confirmed::{Confirmed, Confirmer};
use super::judged::{Ruling, Trial, Try, Weigh, is_served, shifts_of};
use super::plan::wishes_of;
use super::region::Region;
use crate::finding::{Finding, Severity};
use crate::playing::{Desk, Section};
use crate::score::Score;

/// How a page is read: the page as written, one with moves made, and the copy that holds them.
pub trait Reading {
    /// Who plays it.
    fn seat<'s>(&self, score: &'s Score) -> Section<'s>;
    /// What is said of it, weighed as settings say, and what of it is let stand.
    fn judge(&self, section: &Section<'_>) -> Vec<Finding>;
    /// Weighs what is said of a few bars as settings say.
    fn weigh(&self, findings: &mut Vec<Finding>);
}

/// The moves of a page, by the copies they are made in.
#[derive(Default)]
pub(super) struct Moves {
    /// In every copy.
    pub safe: Vec<Confirmed>,
    /// Once a person has looked, besides the safe ones.
    pub review: Vec<Confirmed>,
}

/// Goes downhill from a page to one that nothing betters: by safe moves as far as those lead, then by others too. What
/// becomes safe behind one that is for review depends on it.
pub(super) fn descend(section: &Section<'_>, before: &[Finding], reading: &dyn Reading) -> Moves {
    let mut score: Cow<'_, Score> = Cow::Borrowed(section.score);
    let mut findings: Cow<'_, [Finding]> = Cow::Borrowed(before);
    let (mut safe, mut review) = (MadeSoFar::default(), MadeSoFar::default());
    let mut with_safe: Option<Cow<'_, [Finding]>> = None;
    loop {
        let step = match &score {
            Cow::Borrowed(_) => Point { section, findings: &findings, reading }.step(),
            Cow::Owned(score) => Point { section: &reading.seat(score), findings: &findings, reading }.step(),
        };
        let Some(mut step) = step else { break };
        let is_first_for_review = with_safe.is_none() && !step.made.iter().all(Confirmed::is_safe);
        if with_safe.is_some() || is_first_for_review {
            let behind = step.made.iter_mut().filter(|made| !is_first_for_review || made.is_safe());
            behind.for_each(Confirmed::depend);
            review.take(step.made);
        } else {
            safe.take(step.made);
        }
        if is_first_for_review {
            with_safe = Some(findings);
        }
        (score, findings) = (Cow::Owned(step.score), Cow::Owned(step.findings));
    }
    let halfway = with_safe.as_deref().unwrap_or(&findings);
    let review = review.told(section, halfway, &findings);
    Moves { safe: safe.told(section, before, halfway), review }
}

/// A page with all that is said of it.
struct Point<'p> {
    section: &'p Section<'p>,
    findings: &'p [Finding],
    reading: &'p dyn Reading,
}

/// Moves that better a page, and the page they come to.
struct Step {
    made: Vec<Confirmed>,
    score: Score,
    findings: Vec<Finding>,
}

impl Point<'_> {
    /// The safe moves; where there are none, all; `None` where nothing betters the page.
    fn step(&self) -> Option<Step> {
        let wishes = wishes_of(self.section, self.findings);
        if wishes.asked.is_empty() {
            return None;
        }
        let weigh: Weigh<'_> = &|findings| self.reading.weigh(findings);
        let mut confirmer = Confirmer::of(self.section, &wishes, weigh);
        let found = confirmer.confirm();
        let safe: Vec<Confirmed> = found.iter().filter(|made| made.is_safe()).cloned().collect();
        let surest = self.surest(&safe, &confirmer);
        let (sure, safe_ones, all) = (surest.len(), safe.len(), found.len());
        self.bettered_by(surest, &confirmer)
            .or_else(|| if safe_ones > sure { self.bettered_by(safe, &confirmer) } else { None })
            .or_else(|| if all > safe_ones { self.bettered_by(found, &confirmer) } else { None })
    }

    /// Without those that begin or end where their line goes on, while a surer one moves in another part: once that one
    /// has moved it says better where they belong and how far they reach.
    fn surest(&self, safe: &[Confirmed], confirmer: &Confirmer<'_>) -> Vec<Confirmed> {
        let played = |made: &Confirmed| &self.section.desks[made.region.desk].lines[made.region.line].played;
        let time =
            |made: &Confirmed| (played(made)[made.region.first].onset, played(made)[made.region.last].end);
        let parts = |made: &Confirmed| {
            let (from, to) = time(made);
            made.region.first.checked_sub(1).is_some_and(|before| played(made)[before].end >= from)
                || played(made).get(made.region.last + 1).is_some_and(|next| next.onset <= to)
        };
        let mut in_order: Vec<&Confirmed> = safe.iter().collect();
        in_order.sort_by_key(|made| (parts(made), Reverse(made.region.odds)));
        let mut sure: Vec<&Confirmed> = Vec::new();
        for made in in_order {
            let (from, to) = time(made);
            let is_surer = |other: &&Confirmed| {
                let there = time(other);
                there.0 < to && from < there.1 && !confirmer.are_alike(other.region.desk, made.region.desk)
            };
            if !parts(made) || !sure.iter().any(is_surer) {
                sure.push(made);
            }
        }
        sure.into_iter().cloned().collect()
    }

    /// Makes those of some moves that better the page.
    fn bettered_by(&self, mut made: Vec<Confirmed>, confirmer: &Confirmer<'_>) -> Option<Step> {
        let are_safe = made.iter().all(Confirmed::is_safe);
        while !made.is_empty() {
            let tries: Vec<Try> = made.iter().map(Confirmed::as_try).collect();
            // They were safe with all the others; some of those are not made now.
            let how_many = made.len();
            let mut opinions = confirmer.opinions(&tries).into_iter();
            made.retain(|_| opinions.next().is_some_and(|now| !are_safe || now.why_not_safe.is_none()));
            if made.len() < how_many {
                continue;
            }
            let score = shifts_of(&tries).made(self.section);
            let findings = self.reading.judge(&self.reading.seat(&score));
            // A rule that hears far may be less content than it was with the moves' own bars.
            let trial = Trial::of(self.section, self.findings, &findings, &tries);
            let rulings: Vec<Ruling> = (0..tries.len()).map(|index| trial.ruling(index)).collect();
            let mut serve = confirmer.serve(&tries, &rulings).into_iter();
            made.retain(|_| serve.next().unwrap_or(false));
            if made.len() == how_many {
                let is_better = at_fault(&findings) < at_fault(self.findings);
                return is_better.then_some(Step { made, score, findings });
            }
        }
        None
    }
}

/// The notes at fault that a move may help: how many cannot be played, how many are a risk.
fn at_fault(findings: &[Finding]) -> (usize, usize) {
    let served = findings.iter().filter(|finding| finding.waived.is_none() && is_served(finding.rule));
    served.fold((0, 0), |(errors, risks), finding| match finding.severity {
        Severity::Error => (errors + finding.notes.len(), risks),
        Severity::Warning => (errors, risks + finding.notes.len()),
        Severity::Note => (errors, risks),
    })
}

/// Moves made one behind the other.
#[derive(Default)]
struct MadeSoFar {
    made: Vec<Confirmed>,
    octaves: BTreeMap<NoteOf, i8>,
}

impl MadeSoFar {
    fn take(&mut self, made: Vec<Confirmed>) {
        for new in made {
            new.all_notes().for_each(|note| *self.octaves.entry(note).or_default() += new.region.octaves);
            self.made.push(new);
        }
    }

    /// The moves as one who reads the page they began from would make them at once: each note by all its octaves.
    /// `before` and `after` is what is said of the page they began from, and of the one they came to.
    fn told(self, section: &Section<'_>, before: &[Finding], after: &[Finding]) -> Vec<Confirmed> {
        let mut told: Vec<Confirmed> = Vec::new();
        let mut left: BTreeSet<NoteOf> = self.octaves.keys().copied().collect();
        // What was made last knows best, where a note was moved more than once.
        for made in self.made.into_iter().rev() {
            let desk = made.region.desk;
            let own: BTreeSet<u32> =
                made.notes.iter().copied().filter(|&note| left.remove(&(desk, note))).collect();
            let regions = regions(&section.desks[desk], desk, &own, &self.octaves);
            // A note that came back in the end is in no passage.
            let by = |note: &u32| self.octaves.get(&(desk, *note)).copied().unwrap_or(0);
            let is_as_made =
                own.len() == made.notes.len() && own.iter().all(|note| by(note) == made.region.octaves);
            let own_line = regions.iter().find(|(region, _)| region.line == made.region.line);
            match own_line.filter(|_| is_as_made) {
                // With the rest of its chords, which are of other lines.
                Some((region, _)) => told.push(Confirmed { region: region.clone(), ..made }),
                None => told.extend(regions.into_iter().map(|(region, notes)| Confirmed {
                    region,
                    notes,
                    ..made.clone()
                })),
            }
        }
        let tries: Vec<Try> = told.iter().map(Confirmed::as_try).collect();
        let trial = Trial::of(section, before, after, &tries);
        for (index, made) in told.iter_mut().enumerate() {
            (made.clears, made.leaves) = trial.outcome(index);
        }
        told
    }
}

/// Some notes of a desk as passages of neighbours that move by the same octaves.
fn regions(there: &Desk<'_>, desk: usize, notes: &BTreeSet<u32>, octaves: &BTreeMap<NoteOf, i8>) -> Vec<Try> {
    let mut found: Vec<Try> = Vec::new();
    for (line, there) in there.lines.iter().enumerate() {
        let mut open: Option<Try> = None;
        for (index, played) in there.played.iter().enumerate().filter(|(_, played)| !played.shared) {
            let first = played.chain[0];
            let by =
                if notes.contains(&first) { octaves.get(&(desk, first)).copied().unwrap_or(0) } else { 0 };
            match &mut open {
                Some((region, notes)) if region.octaves == by => {
                    region.last = index;
                    notes.extend(&played.chain);
                }
                _ => {
                    found.extend(open.take());
                    open = (by != 0).then(|| {
                        let region =
                            Region { desk, line, first: index, last: index, octaves: by, gain: 0, odds: 0 };
                        (region, played.chain.clone())
                    });
                }
            }
        }
        found.extend(open);
    }
    for (_, notes) in &mut found {
        notes.sort_unstable();
    }
    found
}
