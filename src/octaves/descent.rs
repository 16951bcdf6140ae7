//! From page to page, downhill: the notes at fault in the whole section are one number of the page as it stands. A step
//! makes the moves found on a page, where the whole section judged anew says that they lower that number; where none
//! does, the page is done.
//!
//! A step knows nothing of the pages before. So a copy that is fixed again does not change: its page is the one that the
//! descent ended on. It ends, since the number only falls.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use super::plan::wishes_of;
use super::prove::{Proved, Prover};
use super::region::Region;
use super::seek::NoteOf;
use super::trial::{Trial, Try, Verdict, Weigh, is_served, shifts_of};
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
    pub safe: Vec<Proved>,
    /// Once a person has looked, besides the safe ones.
    pub review: Vec<Proved>,
}

/// Goes downhill from a page to one that nothing betters: by safe moves as far as those lead, then by others too. What
/// becomes safe behind one that is for review depends on it.
pub(super) fn descend(section: &Section<'_>, before: &[Finding], reading: &dyn Reading) -> Moves {
    let mut score: Cow<'_, Score> = Cow::Borrowed(section.score);
    let mut findings: Cow<'_, [Finding]> = Cow::Borrowed(before);
    let (mut safe, mut review) = (Course::default(), Course::default());
    let mut with_safe: Option<Cow<'_, [Finding]>> = None;
    loop {
        let step = match &score {
            Cow::Borrowed(_) => Page { section, findings: &findings, reading }.step(),
            Cow::Owned(score) => Page { section: &reading.seat(score), findings: &findings, reading }.step(),
        };
        let Some(step) = step else { break };
        if with_safe.is_none() && !step.made.iter().all(Proved::is_safe) {
            with_safe = Some(findings);
        }
        if with_safe.is_some() { &mut review } else { &mut safe }.take(step.made);
        (score, findings) = (Cow::Owned(step.score), Cow::Owned(step.findings));
    }
    let halfway = with_safe.as_deref().unwrap_or(&findings);
    let mut review = review.told(section, halfway, &findings);
    for made in &mut review {
        made.depend();
    }
    Moves { safe: safe.told(section, before, halfway), review }
}

/// A page with all that is said of it.
struct Page<'p> {
    section: &'p Section<'p>,
    findings: &'p [Finding],
    reading: &'p dyn Reading,
}

/// Moves that better a page, and the page they come to.
struct Step {
    made: Vec<Proved>,
    score: Score,
    findings: Vec<Finding>,
}

impl Page<'_> {
    /// The safe moves; where there are none, all; `None` where nothing betters the page.
    fn step(&self) -> Option<Step> {
        let wishes = wishes_of(self.section, self.findings);
        if wishes.asked.is_empty() {
            return None;
        }
        let weigh: Weigh<'_> = &|findings| self.reading.weigh(findings);
        let mut prover = Prover::of(self.section, &wishes, weigh);
        let found = prover.prove();
        let safe: Vec<Proved> = found.iter().filter(|made| made.is_safe()).cloned().collect();
        let all_are_safe = safe.len() == found.len();
        let step = self.bettered_by(safe, &prover);
        if step.is_some() || all_are_safe { step } else { self.bettered_by(found, &prover) }
    }

    /// Makes those of some moves that better the page.
    fn bettered_by(&self, mut made: Vec<Proved>, prover: &Prover<'_>) -> Option<Step> {
        while !made.is_empty() {
            let tries: Vec<Try> = made.iter().map(Proved::as_try).collect();
            let score = shifts_of(&tries).made(self.section);
            let findings = self.reading.judge(&self.reading.seat(&score));
            // A rule that hears far may be less content than it was with the moves' own bars.
            let trial = Trial::of(self.section, self.findings, &findings, &tries);
            let verdicts: Vec<Verdict> = (0..tries.len()).map(|index| trial.verdict(index)).collect();
            let mut serve = prover.serve(&tries, &verdicts).into_iter();
            let how_many = made.len();
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
struct Course {
    made: Vec<Proved>,
    octaves: BTreeMap<NoteOf, i8>,
}

impl Course {
    fn take(&mut self, made: Vec<Proved>) {
        for new in made {
            new.all_notes().for_each(|note| *self.octaves.entry(note).or_default() += new.region.octaves);
            self.made.push(new);
        }
    }

    /// The moves as one who reads the page they began from would make them at once: each note by all its octaves.
    /// `before` and `after` is what is said of the page they began from, and of the one they came to.
    fn told(self, section: &Section<'_>, before: &[Finding], after: &[Finding]) -> Vec<Proved> {
        let mut told: Vec<Proved> = Vec::new();
        let mut left: BTreeSet<NoteOf> = self.octaves.keys().copied().collect();
        // What was made last knows best, where a note was moved more than once.
        for made in self.made.into_iter().rev() {
            let desk = made.region.desk;
            let own = made.notes.iter().copied().filter(|&note| left.remove(&(desk, note))).collect();
            let regions = regions(&section.desks[desk], desk, &own, &self.octaves);
            told.extend(regions.into_iter().map(|(region, notes)| Proved { region, notes, ..made.clone() }));
        }
        let tries: Vec<Try> = told.iter().map(Proved::as_try).collect();
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
