//! What the rules say once some passages are moved.
//!
//! A move is judged alone, in a window of time around it, as written and moved: what a rule says at the rim of a
//! window it says both times. Moves whose windows touch are judged together. What a move does beyond its window
//! (breath, rest) shows when the whole section is judged, once, with all its moves made ([`Trial::of`]).

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;

use super::candidates::NoteOf;
use super::region::Region;
use super::trellis::{moves_serve, shift};
use crate::finding::{Finding, Severity};
use crate::music::{Length, Onset};
use crate::playing::Section;
use crate::rules::{Family, RULES, Rule, judge_excerpt};
use crate::score::{Line, OnceMore, Played, Score, Struck};

/// A region with the notes it moves.
pub(super) type Try = (Region, Vec<u32>);

/// Gives findings the weight that the caller gives them.
pub(super) type Weigh<'a> = &'a dyn Fn(&mut Vec<Finding>);

/// What the rules say of a region that is moved.
#[derive(Clone, Debug)]
pub(super) enum Ruling {
    Clears {
        clears: Vec<&'static str>,
        leaves: Vec<&'static str>,
        /// All it clears can be played as it stands.
        playable: bool,
        /// By a player who is ready for its register.
        strains: bool,
    },
    /// With the notes that bring new trouble; none when the move clears nothing.
    Fails(Vec<u32>),
}

/// Octaves that notes move by.
#[derive(Clone, Debug, Default)]
pub(super) struct Shifts(BTreeMap<NoteOf, i8>);

impl Shifts {
    pub(super) fn of<'p>(regions: impl IntoIterator<Item = (&'p Region, &'p [u32])>) -> Shifts {
        let each = regions
            .into_iter()
            .flat_map(|(region, notes)| notes.iter().map(move |&note| ((region.desk, note), region.octaves)));
        Shifts(each.collect())
    }

    pub(super) fn at(&self, desk: usize, note: u32) -> i8 {
        self.0.get(&(desk, note)).copied().unwrap_or(0)
    }

    /// The score of a section with the moves made, as if it had been read so.
    pub(super) fn made(&self, section: &Section<'_>) -> Score {
        let mut score = section.score.clone();
        for (&(desk, note), &octaves) in &self.0 {
            let index = section.desks[desk].part.info.index;
            let part = score.parts.iter_mut().find(|part| part.info.index == index);
            let Some(note) = part.and_then(|part| part.notes.get_mut(note as usize)) else { continue };
            note.written = note.written.up_octaves(octaves);
            note.sounding = note.sounding.up_octaves(octaves);
        }
        score
    }

    /// The section with the moves made, as its lines are played.
    pub(super) fn applied<'s>(&self, section: &Section<'s>) -> Section<'s> {
        let mut moved = section.clone();
        for (desk, there) in moved.desks.iter_mut().enumerate() {
            if self.0.range((desk, 0)..=(desk, u32::MAX)).next().is_none() {
                continue;
            }
            for played in there.lines.iter_mut().flat_map(|line| &mut line.played) {
                shift(played, self.at(desk, played.chain[0]));
            }
        }
        moved
    }
}

fn is_of_section(finding: &Finding) -> bool {
    finding.severity < Severity::Error
        && Rule::named(finding.rule).is_some_and(|rule| rule.family == Family::Section)
}

/// The judge of the regions of one section, who remembers what was tried.
pub(super) struct MoveJudge<'s> {
    section: &'s Section<'s>,
    weigh: Weigh<'s>,
    known: HashMap<Vec<Region>, Vec<Ruling>>,
    /// What was said last of some spans as written: where one try of many fails, the next are tried in the same.
    before: (Spans, Vec<Finding>),
}

type Spans = Vec<(Onset, Onset)>;

impl<'s> MoveJudge<'s> {
    pub(super) fn of(section: &'s Section<'s>, weigh: Weigh<'s>) -> MoveJudge<'s> {
        MoveJudge { section, weigh, known: HashMap::new(), before: Default::default() }
    }

    /// A verdict for each region, all of them moved.
    pub(super) fn rulings(&mut self, tries: &[Try]) -> Vec<Ruling> {
        let windows = windows(self.section, tries);
        let key = |window: &Window| -> Vec<Region> {
            window.tries.iter().map(|&index| tries[index].0.clone()).collect()
        };
        let new: Vec<&Window> =
            windows.iter().filter(|window| !self.known.contains_key(&key(window))).collect();
        if !new.is_empty() {
            let of_new: Vec<Try> =
                new.iter().flat_map(|window| &window.tries).map(|&index| tries[index].clone()).collect();
            let spans = spans(new.iter().copied());
            let here = within(self.section, &new);
            if self.before.0 != spans {
                let mut before = judge_excerpt(&here);
                (self.weigh)(&mut before);
                self.before = (spans, before);
            }
            let trial = Trial::around(self, &here, &of_new, &new);
            let rulings: Vec<Ruling> = (0..of_new.len()).map(|index| trial.ruling(index)).collect();
            let mut rulings = rulings.into_iter();
            for window in new {
                self.known.insert(key(window), rulings.by_ref().take(window.tries.len()).collect());
            }
        }
        let mut rulings = vec![Ruling::Fails(Vec::new()); tries.len()];
        for window in &windows {
            for (&index, ruling) in
                window.tries.iter().zip(self.known.get(&key(window)).into_iter().flatten())
            {
                rulings[index] = ruling.clone();
            }
        }
        rulings
    }
}

/// A span of time with the regions that are moved in it.
struct Window {
    from: Onset,
    to: Onset,
    /// By index.
    tries: Vec<usize>,
}

/// The windows around some regions, in order of time; none touches another.
fn windows(section: &Section<'_>, tries: &[Try]) -> Vec<Window> {
    let heard = section.limits.moves.heard;
    let (before, behind) = (Length::whole_quarters(-heard), Length::whole_quarters(heard));
    let mut single: Vec<Window> = tries
        .iter()
        .enumerate()
        .map(|(index, (region, _))| {
            let line = &section.desks[region.desk].lines[region.line];
            let first = line.passages[line.passage_of(region.first)].start;
            let last = line.passages[line.passage_of(region.last)].end - 1;
            Window {
                from: line.played[first].onset + before,
                to: line.played[last].end + behind,
                tries: vec![index],
            }
        })
        .collect();
    single.sort_by_key(|window| (window.from, window.tries[0]));
    let mut windows: Vec<Window> = Vec::new();
    for window in single {
        match windows.last_mut() {
            Some(last) if window.from <= last.to => {
                last.to = last.to.max(window.to);
                last.tries.extend(window.tries);
            }
            _ => windows.push(window),
        }
    }
    windows
}

fn spans<'w>(windows: impl IntoIterator<Item = &'w Window>) -> Spans {
    windows.into_iter().map(|window| (window.from, window.to)).collect()
}

/// The section in some spans of time, in order: what sounds there, and nothing else.
fn within<'s>(section: &Section<'s>, windows: &[&Window]) -> Section<'s> {
    let desks = section
        .desks
        .iter()
        .map(|desk| desk.with_music(desk.part, desk.lines.iter().map(|line| cut(line, windows)).collect()));
    let desks = desks.collect();
    Section { score: section.score, desks, unrecognised: Vec::new(), limits: section.limits.clone() }
}

fn cut(line: &Line, windows: &[&Window]) -> Line {
    let mut kept: Vec<Range<usize>> = Vec::new();
    for window in windows {
        let mut from = line.played.partition_point(|played| played.onset < window.from);
        if from > 0 && line.played[from - 1].end > window.from {
            from -= 1;
        }
        let to = line.played.partition_point(|played| played.onset <= window.to);
        match kept.last_mut() {
            Some(last) if from <= last.end => last.end = last.end.max(to),
            _ if from < to => kept.push(from..to),
            _ => {}
        }
    }
    let mut played: Vec<Played> = Vec::new();
    let mut passages: Vec<Range<usize>> = Vec::new();
    // Where each kept stretch begins, in the line and here.
    let mut begins: Vec<(usize, usize)> = Vec::new();
    for range in &kept {
        begins.push((range.start, played.len()));
        let here = |index: usize| index.clamp(range.start, range.end) - range.start;
        let first = line.passage_of(range.start);
        let those = line.passages[first..].iter().take_while(|passage| passage.start < range.end);
        passages.extend(
            those.map(|passage| here(passage.start) + played.len()..here(passage.end) + played.len()),
        );
        played.extend_from_slice(&line.played[range.clone()]);
    }
    let cut = |index: usize| {
        let stretch = kept.partition_point(|range| range.end <= index);
        let (there, here) = *begins.get(stretch)?;
        Some(index.checked_sub(there)? + here)
    };
    let struck = |struck: &Struck| Some(Struck { played: cut(struck.played)?, ..*struck });
    let once_more = |later: &OnceMore| Some(OnceMore { index: cut(later.index)?, ..later.clone() });
    Line {
        player: line.player,
        performed: line.performed.iter().filter_map(struck).collect(),
        later: line.later.iter().filter_map(once_more).collect(),
        played,
        passages,
    }
}

/// Findings before and after some regions are moved.
pub(super) struct Trial<'t> {
    section: &'t Section<'t>,
    tries: &'t [Try],
    before: &'t [Finding],
    after: Cow<'t, [Finding]>,
    /// The findings about each note, by index.
    about_before: BTreeMap<NoteOf, Vec<usize>>,
    about_after: BTreeMap<NoteOf, Vec<usize>>,
    /// New findings that are about no moved note: by window, and the window of each region.
    elsewhere: Vec<Vec<usize>>,
    window_of: Vec<usize>,
}

impl<'t> Trial<'t> {
    /// Judges some windows of the section, cut out of it in `here`. `windows` are those of `tries`, in the same order,
    /// and those of which the judge of moves knows what is said as written.
    fn around(
        move_judge: &'t MoveJudge<'_>,
        here: &Section<'_>,
        tries: &'t [Try],
        windows: &[&Window],
    ) -> Trial<'t> {
        let mut after = judge_excerpt(&shifts_of(tries).applied(here));
        (move_judge.weigh)(&mut after);
        let mut window_of = Vec::new();
        for (index, window) in windows.iter().enumerate() {
            window_of.extend(window.tries.iter().map(|_| index));
        }
        let (spans, before) = &move_judge.before;
        Trial::new(move_judge.section, tries, before, Cow::Owned(after), spans, window_of)
    }

    /// Of a whole page, from what is said of it as it stands and with all these regions moved.
    pub(super) fn of(
        section: &'t Section<'t>,
        before: &'t [Finding],
        after: &'t [Finding],
        tries: &'t [Try],
    ) -> Trial<'t> {
        let windows = windows(section, tries);
        let spans = spans(&windows);
        let mut window_of = vec![0; tries.len()];
        for (index, window) in windows.iter().enumerate() {
            window.tries.iter().for_each(|&of| window_of[of] = index);
        }
        Trial::new(section, tries, before, Cow::Borrowed(after), &spans, window_of)
    }

    fn new(
        section: &'t Section<'t>,
        tries: &'t [Try],
        before: &'t [Finding],
        after: Cow<'t, [Finding]>,
        spans: &[(Onset, Onset)],
        window_of: Vec<usize>,
    ) -> Trial<'t> {
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
        let elsewhere = vec![Vec::new(); spans.len()];
        let mut trial =
            Trial { section, tries, before, after, about_before, about_after, elsewhere, window_of };
        let shifts = shifts_of(tries);
        for (index, finding) in trial.after.iter().enumerate() {
            let desk = desk_of(section, finding);
            let moved = |&note: &u32| desk.is_some_and(|desk| shifts.at(desk, note) != 0);
            if finding.notes.iter().any(moved) || !trial.is_new(finding) {
                continue;
            }
            let first = spans.partition_point(|&(_, to)| to < finding.place.onset);
            let those = (first..spans.len()).take_while(|&span| spans[span].0 <= finding.span.to.onset);
            those.for_each(|span| trial.elsewhere[span].push(index));
        }
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

    /// What is said of a region, by its index.
    pub(super) fn ruling(&self, index: usize) -> Ruling {
        let (region, notes) = &self.tries[index];
        let (before, after) = self.said_of(index);
        let asked =
            before.iter().map(|&index| &self.before[index]).filter(|finding| asks_for_a_move(finding));
        let mut cured = asked.filter(|finding| !self.is_still_said(finding, notes, &after)).peekable();
        if cured.peek().is_none() {
            return Ruling::Fails(Vec::new());
        }
        let (mut weight, mut strains) = (Severity::Note, true);
        let mut playable = true;
        for finding in cured {
            weight = weight.max(finding.severity);
            playable &= finding.severity < Severity::Error;
            strains &= Rule::named(finding.rule).is_some_and(|rule| rule.family == Family::Range);
        }
        // Where the line is likelier for it, how players then stand to each other is what the score means.
        let bears = |finding: &Finding| is_of_section(finding) && region.gain > 0;
        // A rule that hears more than one note may speak of other notes of the passage now, for what was the matter
        // with it before.
        let notes_of = |said: &BTreeSet<usize>, findings: &[Finding], by: &Finding| -> usize {
            let same = said.iter().map(|&index| &findings[index]);
            let same = same.filter(|other| other.rule == by.rule && other.severity >= by.severity);
            same.map(|other| other.notes.len()).sum()
        };
        let had_as_much = |finding: &Finding| {
            !Rule::named(finding.rule).is_some_and(|rule| moves_serve(rule.family))
                && notes_of(&after, &self.after, finding) <= notes_of(&before, self.before, finding)
        };
        let mut culprits = BTreeSet::new();
        for finding in after.iter().map(|&index| &self.after[index]) {
            if finding.severity >= weight && !bears(finding) && self.is_new(finding) && !had_as_much(finding)
            {
                let own = finding.notes.iter().filter(|note| notes.binary_search(note).is_ok());
                culprits.extend(own.copied());
            }
        }
        for finding in self.elsewhere[self.window_of[index]].iter().map(|&index| &self.after[index]) {
            let line = &self.section.desks[region.desk].lines[region.line];
            let while_it_sounds =
                |note: &&Played| note.onset <= finding.span.to.onset && note.end > finding.place.onset;
            if finding.severity >= weight && !bears(finding) {
                let together = line.played[region.first..=region.last].iter().filter(while_it_sounds);
                culprits.extend(together.flat_map(|played| played.chain.iter().copied()));
            }
        }
        if !culprits.is_empty() {
            return Ruling::Fails(culprits.into_iter().collect());
        }
        let (clears, leaves) = self.outcome(index);
        if clears.is_empty() {
            Ruling::Fails(Vec::new())
        } else {
            Ruling::Clears { clears, leaves, playable, strains: strains && playable }
        }
    }

    /// What was said of a region and no longer is, and what is still, by the names of the rules.
    pub(super) fn outcome(&self, index: usize) -> (Vec<&'static str>, Vec<&'static str>) {
        let (before, after) = self.said_of(index);
        let notes = &self.tries[index].1;
        let before = before.into_iter().map(|index| &self.before[index]);
        let (still, cleared): (Vec<&Finding>, Vec<&Finding>) =
            before.partition(|finding| self.is_still_said(finding, notes, &after));
        let names = |findings: Vec<&Finding>| -> Vec<&'static str> {
            findings.into_iter().map(|finding| finding.rule).collect()
        };
        let (mut clears, mut leaves) = (names(cleared), names(still));
        // What is said of other notes of the passage afterwards is not cleared either.
        leaves.extend(after.iter().map(|&index| self.after[index].rule).filter(|rule| clears.contains(rule)));
        clears.retain(|rule| !leaves.contains(rule));
        for rules in [&mut clears, &mut leaves] {
            rules.sort_by_key(|name| RULES.iter().position(|rule| rule.name == *name));
            rules.dedup();
        }
        (clears, leaves)
    }

    /// What is said of a region before and after, by index.
    fn said_of(&self, index: usize) -> (BTreeSet<usize>, BTreeSet<usize>) {
        let (region, notes) = &self.tries[index];
        let about = |about: &BTreeMap<NoteOf, Vec<usize>>| -> BTreeSet<usize> {
            notes.iter().filter_map(|&note| about.get(&(region.desk, note))).flatten().copied().collect()
        };
        (about(&self.about_before), about(&self.about_after))
    }

    /// Whether the rule of a finding about some of these notes says the same of one of them `after`.
    fn is_still_said(&self, finding: &Finding, notes: &[u32], after: &BTreeSet<usize>) -> bool {
        let same = after.iter().map(|&index| &self.after[index]).filter(|later| later.rule == finding.rule);
        let here = |later: &Finding, note: &u32| {
            notes.binary_search(note).is_ok() && later.notes.binary_search(note).is_ok()
        };
        same.into_iter().any(|later| finding.notes.iter().any(|note| here(later, note)))
    }
}

/// The octaves that some tries move by.
pub(super) fn shifts_of(tries: &[Try]) -> Shifts {
    Shifts::of(tries.iter().map(|(region, notes)| (region, notes.as_slice())))
}

/// Whether an octave move is sought for a finding.
pub(super) fn asks_for_a_move(finding: &Finding) -> bool {
    finding.severity >= Severity::Warning && a_move_may_serve(finding)
}

/// Whether its family is one that octave moves are made for.
pub(super) fn a_move_may_serve(finding: &Finding) -> bool {
    is_served(finding.rule)
}

/// Whether octave moves are made for a rule.
pub(super) fn is_served(rule: &str) -> bool {
    Rule::named(rule).is_some_and(|rule| moves_serve(rule.family))
}

/// The desk that a finding is about, by index.
pub(super) fn desk_of(section: &Section<'_>, finding: &Finding) -> Option<usize> {
    section.desks.iter().position(|desk| Some(desk.part.info.index) == finding.part)
}
