//! "I mean it": waivers of the settings and `ok: rule` in the score, applied to findings.
//!
//! A waiver of the settings covers a finding when its rule, score, part and bars do; of a passage the bar
//! of the worst note counts. `ok: rule` at a note covers what that rule finds in the passage it stands in,
//! or, standing in a rest, in the next passage that begins in its bar. "Stagger breathing" and its like cover there what is
//! said of a breath.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use super::levels::weigh;
use crate::finding::{Finding, Waived};
use crate::nearest;
use crate::playing::{Desk, Section};
use crate::rules::unused_waiver::Because;
use crate::rules::{expired_waiver, is_about_a_breath, present_name, unused_waiver};
use crate::score::{Asks, Bar, Direction, Line, PartInfo, Score};
use crate::settings::{BarSpan, Day, PartSettings, Pattern, Settings, Waiver};

/// What became of a waiver of the settings in one score.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// It is about other scores.
    OtherScores,
    /// It is about this score, and about none of its parts.
    OtherParts,
    /// It is about a part of this score and let nothing stand.
    Unused,
    /// It let something stand.
    Used,
    /// Its last day is over.
    Expired,
}

/// What the entries of one settings file came to over all scores of a run.
#[derive(Clone, Debug, Default)]
pub struct Housekeeping {
    outcomes: Vec<Outcome>,
    /// Of the entries on parts: whether a part fits.
    fitting: Vec<bool>,
    scores: Vec<String>,
    parts: Vec<String>,
}

/// What the entries of the settings came to in one score.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InForce {
    /// Of each waiver, in order.
    pub waivers: Vec<Outcome>,
    /// Of each entry on a part, in order: whether a part of the score fits.
    pub parts: Vec<bool>,
}

impl Housekeeping {
    /// Adds what they came to in a further score, which lies at `path` and has these parts.
    pub fn add(&mut self, in_force: &InForce, path: &str, parts: &[String]) {
        let (waivers, fitting) = (&in_force.waivers, &in_force.parts);
        self.outcomes.resize(waivers.len().max(self.outcomes.len()), Outcome::OtherScores);
        for (whole, here) in self.outcomes.iter_mut().zip(waivers) {
            *whole = (*whole).max(*here);
        }
        self.fitting.resize(fitting.len().max(self.fitting.len()), false);
        for (whole, here) in self.fitting.iter_mut().zip(fitting) {
            *whole |= *here;
        }
        self.scores.push(path.rsplit('/').next().unwrap_or(path).to_owned());
        self.parts.extend(parts.iter().filter(|name| !name.trim().is_empty()).cloned());
        self.parts.sort_unstable();
        self.parts.dedup();
    }

    /// Whether an entry came to nothing in all scores it was tried on.
    pub fn has_unused(&self) -> bool {
        self.outcomes.iter().any(|outcome| *outcome <= Outcome::Unused) || self.fitting.contains(&false)
    }

    /// What is to be said of the waivers. That one is unused can be said only when every score it might be
    /// for was checked whole (`saw_all`).
    pub fn findings(&self, settings: &Settings, saw_all: bool) -> Vec<Finding> {
        let mut findings: Vec<Finding> = settings
            .waivers
            .iter()
            .zip(&self.outcomes)
            .filter_map(|(waiver, outcome)| {
                let because = match outcome {
                    Outcome::Expired => return expired_waiver::of(waiver),
                    Outcome::OtherScores => Because::NoSuchScore(&self.scores),
                    Outcome::OtherParts => Because::NoSuchPart(&self.parts),
                    Outcome::Unused => Because::NothingFound,
                    Outcome::Used => return None,
                };
                saw_all.then(|| unused_waiver::in_settings(waiver, because))
            })
            .collect();
        weigh(&mut findings, settings);
        findings
    }

    /// The entries on parts that fit none, each with the name that was probably meant; to be told only when
    /// every score was checked.
    pub fn parts_not_there(&self, settings: &Settings) -> Vec<String> {
        let entries = settings.parts.iter().zip(&self.fitting).filter(|(_, fits)| !**fits);
        entries
            .map(|(entry, _)| {
                let wanted = entry.name.as_str();
                let hint = nearest::hint(wanted, self.parts.iter().map(String::as_str));
                format!("{}: no part of the scores here is called '{wanted}'{hint}", entry.line)
            })
            .collect()
    }
}

/// Of each entry of the settings on a part: whether one of these parts fits.
pub(super) fn entries_that_fit(settings: &Settings, infos: &[PartInfo]) -> Vec<bool> {
    let fits = |entry: &PartSettings| infos.iter().any(|info| info.is_called(|name| entry.name.fits(name)));
    settings.parts.iter().map(fits).collect()
}

/// Applies the settings' waivers: one outcome for each, in order. `path` is the score's, relative to the
/// settings.
pub(super) fn by_settings(
    findings: &mut [Finding],
    score: &Score,
    path: &str,
    settings: &Settings,
    today: Day,
) -> Vec<Outcome> {
    settings.waivers.iter().map(|waiver| apply(waiver, findings, score, path, today)).collect()
}

/// Applies what the score itself says, and tells of words that let nothing stand.
pub(super) fn in_score(findings: &mut Vec<Finding>, section: &Section<'_>) {
    let mut unused = Vec::new();
    for desk in &section.desks {
        for words in &desk.part.directions {
            if words.asks == Asks::Stagger {
                let passage = Passage::meant_by(words, desk);
                let own = findings.iter_mut().filter(|finding| {
                    is_about_a_breath(finding.rule)
                        && finding.part == Some(desk.part.info.index)
                        && passage.as_ref().is_some_and(|passage| passage.holds(finding))
                });
                for finding in own {
                    finding.waived.get_or_insert_with(|| Waived::InScore { text: words.text.clone() });
                }
                continue;
            }
            let Asks::Waive(rules) = &words.asks else { continue };
            let passage = Passage::meant_by(words, desk);
            for rule in rules {
                let covered = findings.iter_mut().filter(|finding| {
                    present_name(rule) == Some(finding.rule)
                        && finding.part == Some(desk.part.info.index)
                        && passage.as_ref().is_some_and(|passage| passage.holds(finding))
                });
                let mut used = false;
                for finding in covered {
                    used = true;
                    finding.waived.get_or_insert_with(|| Waived::InScore { text: words.text.clone() });
                }
                if !used {
                    unused.push(unused_waiver::in_score(section.score, &desk.part.info, words, rule));
                }
            }
        }
    }
    findings.extend(unused);
}

/// Notes between rests, of one player or of several who rest together.
struct Passage {
    notes: BTreeSet<u32>,
    bars: RangeInclusive<u32>,
}

impl Passage {
    fn meant_by(words: &Direction, desk: &Desk<'_>) -> Option<Passage> {
        let mut notes = BTreeSet::new();
        let mut bars: Option<(u32, u32)> = None;
        for line in &desk.lines {
            let Some(passage) = passage_at(words, line, desk) else { continue };
            for played in &line.played[passage] {
                notes.extend(&played.chain);
                let last = played.chain.last().and_then(|&note| desk.part.notes.get(note as usize));
                let last = last.map_or(played.bar, |note| note.bar);
                bars =
                    Some(bars.map_or((played.bar, last), |(from, to)| (from.min(played.bar), to.max(last))));
            }
        }
        bars.map(|(from, to)| Passage { notes, bars: from..=to })
    }

    fn holds(&self, finding: &Finding) -> bool {
        if finding.notes.is_empty() {
            return self.bars.contains(&finding.worst.place.bar_index);
        }
        finding.notes.iter().any(|note| self.notes.contains(note))
    }
}

fn passage_at(words: &Direction, line: &Line, desk: &Desk<'_>) -> Option<std::ops::Range<usize>> {
    let here = |passage: &&std::ops::Range<usize>| {
        line.played.get(passage.start).is_some_and(|first| {
            let note = desk.first_note(first);
            words.staff.is_none_or(|staff| staff == note.staff)
                && words.voice.is_none_or(|voice| voice == note.voice)
        })
    };
    let passages = || line.passages.iter().filter(here);
    let sounding = passages().find(|passage| {
        let played = line.played.get((*passage).clone()).unwrap_or_default();
        let from = played.first().map(|first| first.onset);
        let to = played.iter().map(|played| played.end).max();
        from.is_some_and(|from| from <= words.onset) && to.is_some_and(|to| words.onset < to)
    });
    let next = || {
        passages().find(|passage| {
            let first = line.played.get(passage.start);
            first.is_some_and(|first| first.onset >= words.onset && first.bar == words.bar)
        })
    };
    sounding.or_else(next).cloned()
}

fn apply(waiver: &Waiver, findings: &mut [Finding], score: &Score, path: &str, today: Day) -> Outcome {
    let name = path.rsplit('/').next().unwrap_or(path);
    if waiver.score.as_ref().is_some_and(|pattern| !pattern.fits(path) && !pattern.fits(name)) {
        return Outcome::OtherScores;
    }
    if waiver.until.is_some_and(|until| until < today) {
        return Outcome::Expired;
    }
    let mut outcome = if has_part(waiver, score) { Outcome::Unused } else { Outcome::OtherParts };
    for finding in findings.iter_mut() {
        if covers(waiver, finding, score) {
            outcome = Outcome::Used;
            let because = waiver.because.clone();
            finding.waived.get_or_insert(Waived::Settings { because });
        }
    }
    outcome
}

fn covers(waiver: &Waiver, finding: &Finding, score: &Score) -> bool {
    waiver.rule == finding.rule
        && waiver.part.as_ref().is_none_or(|part| {
            infos(score).any(|info| Some(info.index) == finding.part && is_meant(part, info))
        })
        && (waiver.bars.is_empty()
            || waiver
                .bars
                .iter()
                .filter_map(|span| indices(&score.bars, span))
                .any(|bars| bars.contains(&finding.worst.place.bar_index)))
}

fn is_meant(part: &Pattern, info: &PartInfo) -> bool {
    info.is_called(|name| part.fits(name)) || part.fits(&info.id)
}

fn has_part(waiver: &Waiver, score: &Score) -> bool {
    waiver.part.as_ref().is_none_or(|part| infos(score).any(|info| is_meant(part, info)))
}

fn infos(score: &Score) -> impl Iterator<Item = &PartInfo> {
    let read = score.parts.iter().map(|part| &part.info);
    read.chain(score.passed_over.iter().map(|part| &part.info))
}

/// The bars between two printed numbers, both included: the first of the one to the last of the other
/// behind it.
fn indices(bars: &[Bar], span: &BarSpan) -> Option<RangeInclusive<u32>> {
    let first = bars.iter().position(|bar| bar.number == span.first)?;
    let last = first + bars[first..].iter().rposition(|bar| bar.number == span.last)?;
    Some(u32::try_from(first).ok()?..=u32::try_from(last).ok()?)
}

#[cfg(test)]
mod tests {
    use super::indices;
    use crate::music::{Length, Onset};
    use crate::score::Bar;
    use crate::settings::BarSpan;

    fn bars(numbers: &[&str]) -> Vec<Bar> {
        let bar = |number: &&str| Bar {
            number: (*number).to_owned(),
            start: Onset::START,
            length: Length::whole_quarters(4),
            nominal: None,
            beat: Length::QUARTER,
        };
        numbers.iter().map(bar).collect()
    }

    #[track_caller]
    fn cover(numbers: &[&str], span: &str, expected: Option<(u32, u32)>) {
        let span = BarSpan::list(span).unwrap();
        let found = indices(&bars(numbers), &span[0]).map(|range| (*range.start(), *range.end()));
        assert_eq!(found, expected);
    }

    #[test]
    fn bars_are_meant_by_their_printed_numbers() {
        cover(&["0", "1", "2", "3", "4"], "2-3", Some((2, 3)));
        cover(&["0", "1", "2"], "2", Some((2, 2)));
        cover(&["1", "2a", "2b", "3"], "2b-3", Some((2, 3)));
        cover(&["1", "2"], "7", None);
        cover(&["1", "2"], "1-7", None);
    }

    #[test]
    fn a_bar_printed_on_both_sides_of_a_split_is_meant_whole() {
        cover(&["1", "2", "2", "3"], "2", Some((1, 2)));
    }
}
