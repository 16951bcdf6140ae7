//! Runs the rules over a section and gives what they say a place.
//!
//! Note faults of one rule within a passage are joined while no more than a bar lies between them: an
//! ostinato with one low note a bar is one remark, two low notes sixteen bars apart are two; what a rule of the section says
//! of a pattern is joined across its rests as well. A joined
//! finding is as heavy as its heaviest note and speaks of its worst. A note that two players read is judged
//! once, in the first line that has it; a repeat does not say a thing twice.

use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};

use rayon::prelude::*;

use super::{
    AtDesk, AtLine, AtNote, AtPassage, AtSection, Fault, RULES, Rule, Scope, unlikely_transposition, wording,
};
use crate::finding::{Finding, Ground, MarkedIn, Measure, Place, Span, Worst};
use crate::playing::breath::BreathPlan;
use crate::playing::{Desk, Section};
use crate::score::{Line, Part, Played, Score};

/// Rules by their place in [`RULES`], as bits.
type RuleSet = u64;
const _: () = assert!(RULES.len() <= RuleSet::BITS as usize);

/// Judges a section by all rules: findings in score order, then by part, then by rule.
pub fn judge(section: &Section<'_>) -> Vec<Finding> {
    judge_by(section, |_| true)
}

/// Judges some bars cut out of a section, by all rules but those that make up their mind about a part from all of it:
/// of a few bars they would know nothing, and silence others. Same order as [`judge`].
pub fn judge_excerpt(section: &Section<'_>) -> Vec<Finding> {
    judge_by(section, |rule| rule.name != unlikely_transposition::RULE.name)
}

fn judge_by(section: &Section<'_>, asks: impl Fn(&Rule) -> bool + Sync) -> Vec<Finding> {
    let judged: Vec<(Vec<Finding>, Vec<BreathPlan>)> =
        section.desks.par_iter().map(|desk| judge_alone(section, desk, &asks)).collect();
    let (findings, plans): (Vec<_>, Vec<_>) = judged.into_iter().unzip();
    let mut findings: Vec<Finding> = findings.into_iter().flatten().collect();
    let spoken_for = SpokenFor::by(&findings);
    let at = AtSection { section, spoken_for: &spoken_for, plans: &plans };
    let said: Vec<Vec<Finding>> = RULES
        .par_iter()
        .filter(|rule| asks(rule))
        .filter_map(|rule| match rule.scope {
            Scope::Section(look) => Some((rule, look(&at))),
            _ => None,
        })
        .map(|(rule, mut said)| {
            said.retain(|said| !spoken_for.covers(rule, said.part, &said.notes));
            said
        })
        .collect();
    findings.extend(said.into_iter().flatten());
    sort(&mut findings);
    findings
}

/// By part and note the rules that speak for others there.
pub(super) struct SpokenFor(HashMap<(u32, u32), RuleSet>);

impl SpokenFor {
    fn by(findings: &[Finding]) -> SpokenFor {
        let mut rules: HashMap<(u32, u32), RuleSet> = HashMap::new();
        for finding in findings {
            let number = RULES.iter().position(|rule| rule.name == finding.rule);
            let (Some(part), Some(number)) = (finding.part, number) else { continue };
            if !RULES[number].speaks_for.is_empty() {
                for &note in &finding.notes {
                    *rules.entry((part, note)).or_default() |= 1 << number;
                }
            }
        }
        SpokenFor(rules)
    }

    /// Whether a rule is silent about some of these notes.
    pub(super) fn covers(&self, rule: &Rule, part: Option<u32>, notes: &[u32]) -> bool {
        let Some(part) = part else { return false };
        let speakers =
            notes.iter().filter_map(|&note| self.0.get(&(part, note))).fold(0, |all, rules| all | rules);
        is_silenced(rule.name, speakers)
    }
}

/// Whether one of these rules speaks for the one with this name.
fn is_silenced(name: &str, speakers: RuleSet) -> bool {
    speakers != 0
        && RULES
            .iter()
            .enumerate()
            .any(|(number, other)| speakers & 1 << number != 0 && other.speaks_for.contains(&name))
}

/// Judges one desk, by its index into [`Section::desks`], by all rules but those that need the whole section.
/// Same order as [`judge`]. An index beyond the desks gives nothing.
pub fn judge_desk(section: &Section<'_>, desk: usize) -> Vec<Finding> {
    section.desks.get(desk).map(|desk| judge_alone(section, desk, &|_| true).0).unwrap_or_default()
}

/// The findings of one desk, and where its players breathe.
fn judge_alone(
    section: &Section<'_>,
    desk: &Desk<'_>,
    asks: &(impl Fn(&Rule) -> bool + Sync),
) -> (Vec<Finding>, Vec<BreathPlan>) {
    let mut findings = Vec::new();
    let mut plans = Vec::with_capacity(desk.lines.len());
    for line in &desk.lines {
        let mut faults = (0..line.passages.len())
            .into_par_iter()
            .fold(Vec::new, |mut faults, passage| {
                look_at_passage(section, desk, line, passage, asks, &mut faults);
                faults
            })
            .reduce(Vec::new, |mut faults, mut more| {
                faults.append(&mut more);
                faults
            });
        let at = AtLine::new(section, desk, line);
        for (index, rule) in RULES.iter().enumerate().filter(|(_, rule)| asks(rule)) {
            if let Scope::Line(look) = rule.scope {
                faults.extend(look(&at).into_iter().map(|fault| (index, borne(fault))));
            }
        }
        fold(&mut faults);
        plans.push(at.into_breath_plan());
        findings.extend(placed(section.score, desk, line, faults));
    }
    for rule in RULES.iter().filter(|rule| asks(rule)) {
        if let Scope::Desk(look) = rule.scope {
            findings.extend(look(&AtDesk { section, desk }));
        }
    }
    // A rule of desks speaks for others by the notes that both are about.
    let speakers: Vec<(&Rule, Finding)> = findings
        .iter()
        .filter_map(|finding| Some((Rule::named(finding.rule)?, finding)))
        .filter(|(rule, _)| matches!(rule.scope, Scope::Desk(_)) && !rule.speaks_for.is_empty())
        .map(|(rule, finding)| (rule, finding.clone()))
        .collect();
    for (rule, said) in &speakers {
        findings.retain(|other| !(rule.speaks_for.contains(&other.rule) && share_a_note(said, other)));
    }
    sort(&mut findings);
    (findings, plans)
}

/// What the note rules say of one passage of a line that belongs to the desk or stands in for one of its lines
/// (with other pitches, say). One entry a note, not joined; a note that another line already has is left
/// out. For trying things out: no places are made.
pub fn note_faults_in(
    section: &Section<'_>,
    desk: usize,
    line: &Line,
    passage: usize,
) -> Vec<(&'static Rule, Fault)> {
    let Some(desk) = section.desks.get(desk) else { return Vec::new() };
    let mut faults = Vec::new();
    look_at_passage(section, desk, line, passage, |rule| matches!(rule.scope, Scope::Note(_)), &mut faults);
    fold(&mut faults);
    faults.into_iter().map(|(rule, fault)| (&RULES[rule], fault)).collect()
}

/// The finding of a desk's or section's rule about some notes of one line, which need not be neighbours.
/// `about` is in order and not empty; `worst` is one of them.
pub(super) fn finding_about(
    score: &Score,
    desk: &Desk<'_>,
    line: &Line,
    rule: &Rule,
    about: &[usize],
    worst: usize,
    fault: Fault,
) -> Option<Finding> {
    let fault = borne(fault);
    let first = line.played.get(*about.first()?)?;
    let last = line.played.get(*about.last()?)?;
    let worst = line.played.get(worst)?;
    let mut notes: Vec<u32> = about
        .iter()
        .filter_map(|&index| line.played.get(index))
        .flat_map(|played| played.chain.clone())
        .collect();
    notes.sort_unstable();
    notes.dedup();
    // Played again in a repeat it is the same note on the page.
    let mut sounds: Vec<u32> =
        about.iter().filter_map(|&index| line.played.get(index)?.chain.first().copied()).collect();
    sounds.sort_unstable();
    sounds.dedup();
    // What is reckoned in seconds stands and falls with the tempo.
    let message = match wording::reckoned(score, first.onset, last.end).filter(|_| rule.family.is_timed()) {
        Some(tempo) => format!("{}; {tempo}", fault.message),
        None => fault.message,
    };
    let dynamic = match fault.asked {
        Some(Measure::Dynamic(asked)) => Some(asked),
        _ => worst.dynamic,
    };
    Some(Finding {
        rule: rule.name,
        severity: fault.severity,
        part: Some(desk.part.info.index),
        profile: Some(desk.instrument_at(line, first.onset).name.clone()),
        place: place_of(score, desk.part, first.chain.first()),
        span: Span {
            to: place_of(score, desk.part, last.chain.last()),
            notes: u32::try_from(notes.len()).unwrap_or(u32::MAX),
            sounds: u32::try_from(sounds.len()).unwrap_or(u32::MAX),
        },
        worst: Worst {
            place: place_of(score, desk.part, worst.chain.first()),
            written: Some(worst.written),
            sounding: Some(worst.sounding),
            dynamic,
            marked_in: worst.marked_in.filter(|_| dynamic == worst.dynamic).and_then(|bar_index| {
                let bar = score.bars.get(bar_index as usize)?.number.clone();
                Some(MarkedIn { bar_index, bar })
            }),
            seconds: Some(worst.seconds),
        },
        asked: fault.asked,
        limit: fault.limit,
        message,
        instead: fault.instead,
        octave_move: None,
        notes,
        pass: fault.pass.filter(|&pass| pass > 1),
        ground: fault.ground.unwrap_or_else(Ground::common_practice),
        waived: None,
    })
}

/// The finding of a rule that is about a place and no note.
pub(super) fn finding_at(rule: &Rule, part: Option<u32>, place: Place, fault: Fault) -> Finding {
    let fault = borne(fault);
    Finding {
        rule: rule.name,
        severity: fault.severity,
        part,
        profile: None,
        span: Span { to: place.clone(), notes: 0, sounds: 0 },
        worst: Worst { place: place.clone(), ..Worst::default() },
        place,
        asked: fault.asked,
        limit: fault.limit,
        message: fault.message,
        instead: fault.instead,
        octave_move: None,
        notes: Vec::new(),
        pass: fault.pass,
        ground: fault.ground.unwrap_or_else(Ground::common_practice),
        waived: None,
    }
}

/// The findings of a section's rule: its faults by desk and line, neighbours joined as for note rules.
pub(super) fn joined(
    section: &Section<'_>,
    rule: &Rule,
    faults: BTreeMap<(usize, usize), Vec<Fault>>,
) -> Vec<Finding> {
    let Some(number) = RULES.iter().position(|known| known.name == rule.name) else { return Vec::new() };
    faults
        .into_iter()
        .filter_map(|((desk, line), faults)| {
            let desk = section.desks.get(desk)?;
            let faults = faults.into_iter().map(|fault| (number, borne(fault))).collect();
            Some(placed(section.score, desk, desk.lines.get(line)?, faults))
        })
        .flatten()
        .collect()
}

fn look_at_passage(
    section: &Section<'_>,
    desk: &Desk<'_>,
    line: &Line,
    passage: usize,
    asks: impl Fn(&Rule) -> bool,
    faults: &mut Vec<(usize, Fault)>,
) {
    let Some(range) = line.passages.get(passage).cloned() else { return };
    let Some(notes) = line.played.get(range.clone()) else { return };
    let Some(first) = notes.first() else { return };
    let instrument = |played: &Played| &**desk.instrument_at(line, played.onset);
    for (number, rule) in RULES.iter().enumerate().filter(|(_, rule)| asks(rule)) {
        match rule.scope {
            Scope::Note(look) => {
                for (offset, played) in notes.iter().enumerate().filter(|(_, played)| !played.shared) {
                    let index = range.start + offset;
                    let at = AtNote { section, desk, line, index, played, profile: instrument(played) };
                    faults.extend(look(&at).map(|fault| (number, borne(fault))));
                }
                for later in line.later.iter().filter(|later| range.contains(&later.index)) {
                    let (index, written) = (later.index, &line.played[later.index]);
                    if written.shared {
                        continue;
                    }
                    // Its pitch is the line's: it may have been moved since.
                    let (sounding, on_page) = (written.sounding, written.written);
                    let played = &Played { sounding, written: on_page, ..later.played.clone() };
                    let profile = desk.instrument_on(line, played.onset, later.pass);
                    let at = AtNote { section, desk, line, index, played, profile };
                    let said = look(&at).map(|fault| Fault { pass: Some(later.pass), ..fault });
                    faults.extend(said.map(|fault| (number, fault)));
                }
            }
            Scope::Passage(look) if !notes.iter().all(|played| played.shared) => {
                let at = AtPassage { section, desk, line, index: passage, profile: instrument(first) };
                faults.extend(look(&at).into_iter().map(|fault| (number, borne(fault))));
            }
            _ => {}
        }
    }
}

/// A fault no heavier than its ground bears: what rests on our own estimate is a note at most, whatever its rule says.
fn borne(fault: Fault) -> Fault {
    let severity = fault.ground.as_ref().map_or(fault.severity, |ground| ground.bears(fault.severity));
    Fault { severity, ..fault }
}

/// Takes away what a heavier rule already says of the same notes.
fn fold(faults: &mut Vec<(usize, Fault)>) {
    let mut said: BTreeMap<usize, RuleSet> = BTreeMap::new();
    for (rule, fault) in faults.iter().filter(|(rule, _)| !RULES[*rule].speaks_for.is_empty()) {
        for index in fault.about.0..=fault.about.1 {
            *said.entry(index).or_default() |= 1 << rule;
        }
    }
    if said.is_empty() {
        return;
    }
    faults.retain(|(rule, fault)| {
        let name = RULES[*rule].name;
        let speakers = said.range(fault.about.0..=fault.about.1).fold(0, |all, (_, rules)| all | rules);
        !is_silenced(name, speakers)
    });
}

/// Joins the faults of one line and gives them their places.
fn placed(score: &Score, desk: &Desk<'_>, line: &Line, mut faults: Vec<(usize, Fault)>) -> Vec<Finding> {
    faults.sort_by(|(a, one), (b, other)| {
        a.cmp(b)
            .then(one.about.cmp(&other.about))
            .then(worse_first(one, other))
            .then(one.pass.cmp(&other.pass))
    });
    // Of one rule about the same notes in several passes, the worst speaks.
    faults.dedup_by(|later, kept| later.0 == kept.0 && later.1.about == kept.1.about);
    let mut runs: Vec<(usize, Vec<Fault>)> = Vec::new();
    for (rule, fault) in faults {
        match runs.last_mut() {
            Some((last, run)) if *last == rule && joins(line, &RULES[rule], run, &fault) => run.push(fault),
            _ => runs.push((rule, vec![fault])),
        }
    }
    runs.into_iter().filter_map(|(rule, run)| one_finding(score, desk, line, &RULES[rule], run)).collect()
}

fn one_finding(score: &Score, desk: &Desk<'_>, line: &Line, rule: &Rule, run: Vec<Fault>) -> Option<Finding> {
    let mut about: Vec<usize> = run.iter().flat_map(|fault| fault.about.0..=fault.about.1).collect();
    about.sort_unstable();
    about.dedup();
    about.retain(|&index| line.played.get(index).is_some_and(|played| !played.shared));
    let severity = run.iter().map(|fault| fault.severity).max()?;
    let worst = run.into_iter().min_by(worse_first)?;
    let at = worst.about.0;
    finding_about(score, desk, line, rule, &about, at, Fault { severity, ..worst })
}

/// Whether a fault goes into one finding with those before it. What a rule of lines says is whole already.
fn joins(line: &Line, rule: &Rule, run: &[Fault], next: &Fault) -> bool {
    let Some(last) = run.last() else { return false };
    let (Some(before), Some(after)) = (line.played.get(last.about.1), line.played.get(next.about.0)) else {
        return false;
    };
    let near = after.bar.saturating_sub(before.bar) <= 1;
    match rule.scope {
        Scope::Line(_) => false,
        // What two parts do together goes on across rests: a chord on each off-beat is one pattern.
        Scope::Section(_) => near,
        _ => near && line.passage_of(last.about.1) == line.passage_of(next.about.0),
    }
}

/// Heavier first, then what lies further beyond the limit.
fn worse_first(one: &Fault, other: &Fault) -> Ordering {
    other.severity.cmp(&one.severity).then(other.excess.total_cmp(&one.excess))
}

fn place_of(score: &Score, part: &Part, note: Option<&u32>) -> Place {
    let Some(note) = note.and_then(|&index| part.notes.get(index as usize)) else { return Place::default() };
    let voice = part.voices.get(usize::from(note.voice)).map_or("1", String::as_str);
    Place::of_note(score, note, voice)
}

fn share_a_note(one: &Finding, other: &Finding) -> bool {
    one.part == other.part && other.notes.iter().any(|note| one.notes.binary_search(note).is_ok())
}

/// The total order of findings: by place, part, rule.
pub fn sort(findings: &mut [Finding]) {
    let number = |finding: &Finding| RULES.iter().position(|rule| rule.name == finding.rule);
    findings.sort_by(|a, b| {
        (a.place.onset, a.part, number(a), a.place.staff, &a.place.voice, &a.notes, &a.message).cmp(&(
            b.place.onset,
            b.part,
            number(b),
            b.place.staff,
            &b.place.voice,
            &b.notes,
            &b.message,
        ))
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Severity;
    use crate::rules::testing::scene;

    #[track_caller]
    fn spans(music: &str, rule: &str) -> Vec<(String, String, u32)> {
        scene("contrabass-tuba-c", music)
            .findings()
            .into_iter()
            .filter(|finding| finding.rule == rule)
            .map(|finding| (finding.place.bar, finding.span.to.bar, finding.span.notes))
            .collect()
    }

    fn span(from: &str, to: &str, notes: u32) -> (String, String, u32) {
        (from.to_owned(), to.to_owned(), notes)
    }

    #[test]
    fn one_low_note_a_bar_is_one_finding() {
        let music = "ff D1 D2/3 | D1/1 D2/3 | D1/1 D2/3";
        assert_eq!(spans(music, "too-loud-for-register"), [span("1", "3", 3)]);
    }

    #[test]
    fn a_rest_or_a_bar_between_parts_two_findings() {
        let rest = "ff D1 r D2 D1 | D2/4";
        assert_eq!(spans(rest, "too-loud-for-register"), [span("1", "1", 1), span("1", "1", 1)]);
        let apart = "ff D1 D2/3 | D2/2 D2 | D1/1 D2/3";
        assert_eq!(spans(apart, "too-loud-for-register"), [span("1", "1", 1), span("3", "3", 1)]);
    }

    #[test]
    fn a_joined_finding_is_as_heavy_as_its_heaviest_note_and_speaks_of_it() {
        let found = scene("contrabass-tuba-c", "f D1 ff D1 f E1 D1").findings();
        let loud: Vec<&Finding> =
            found.iter().filter(|finding| finding.rule == "too-loud-for-register").collect();
        assert_eq!(loud.len(), 1);
        assert_eq!(loud[0].severity, crate::finding::Severity::Warning);
        assert_eq!(loud[0].worst.place.beat.to_string(), "2");
        assert!(loud[0].message.starts_with("D1 is marked ff"), "{}", loud[0].message);
    }

    #[test]
    fn a_tied_note_counts_each_written_note_and_is_one_sound() {
        let music = "ff D1/2~ | D1 D1 D2";
        assert_eq!(spans(music, "too-loud-for-register"), [span("1", "2", 3)]);
        let found = scene("contrabass-tuba-c", music).findings();
        let loud = found.iter().find(|finding| finding.rule == "too-loud-for-register");
        assert_eq!(loud.map(|finding| finding.span.sounds), Some(2));
    }

    #[test]
    fn findings_stand_in_score_order_whatever_the_rule() {
        let found =
            scene("bass-trombone", "mf F2 r G5 r/5 F6").and("contrabass-tuba-c", "mf F0 r/4 G5").findings();
        let order: Vec<(String, Option<u32>)> =
            found.iter().map(|finding| (finding.place.onset.to_string(), finding.part)).collect();
        let mut sorted = order.clone();
        sorted.sort();
        assert_eq!(order, sorted);
        assert!(order.len() >= 3, "{order:?}");
    }

    #[test]
    fn a_note_that_is_not_there_draws_one_remark_and_its_neighbours_none_on_its_account() {
        let rules_on = |instrument: &str, music: &str, above: &str| -> Vec<&str> {
            let scene = scene(instrument, music).and(instrument, above);
            let found = scene.findings();
            found.iter().filter(|finding| finding.severity > Severity::Note).map(|f| f.rule).collect()
        };
        let rules = |music: &str, above: &str| rules_on("tenor-bass-trombone", music, above);
        // F0 in a run: no leap, no blur with the third above it; B1: no blur.
        assert_eq!(
            rules("=144 mf C3/1/2 F0/1/2 C3/1", "mf r/1/2 A0/1/2 r/1"),
            ["out-of-range", "out-of-range"]
        );
        assert_eq!(rules("=60 mf C3 B1/2 C3", "mf C3 D#2/2 C3"), ["no-such-note"]);
        assert_eq!(rules_on("bass-trombone", "=60 mf C3 C2/2 C3", "mf C3 Eb2/2 C3"), ["interval-too-low"]);
    }

    #[test]
    fn a_moved_line_is_judged_by_its_new_pitch() {
        scene("contrabass-tuba-c", "ff D1 D1 r D2").judged(|section| {
            let desk = &section.desks[0];
            let names = |line: &Line| -> Vec<&str> {
                note_faults_in(section, 0, line, 0).into_iter().map(|(rule, _)| rule.name).collect()
            };
            assert_eq!(names(&desk.lines[0]), ["too-loud-for-register", "too-loud-for-register"]);
            let mut moved = desk.lines[0].clone();
            for played in &mut moved.played[0..2] {
                played.sounding = played.sounding.up_octaves(1);
                played.written = played.written.up_octaves(1);
            }
            assert_eq!(names(&moved), [""; 0]);
            assert!(
                note_faults_in(section, 9, &moved, 0).is_empty()
                    && note_faults_in(section, 0, &moved, 9).is_empty()
            );
        });
    }

    #[test]
    fn what_only_the_second_time_asks_is_said_of_the_second_time() {
        scene("contrabass-tuba-c", "p D1/4 D2").judged(|section| {
            let mut twice = section.clone();
            let line = &mut twice.desks[0].lines[0];
            let loud = Some(crate::music::Dynamic::Ff);
            let played = Played { dynamic: loud, loudest: loud, ..line.played[0].clone() };
            line.later.push(crate::score::OnceMore { index: 0, pass: 2, played });
            let found = judge(&twice);
            let said: Vec<(&str, Option<u32>)> =
                found.iter().map(|finding| (finding.rule, finding.pass)).collect();
            assert!(said.contains(&("too-loud-for-register", Some(2))), "{said:?}");
            assert!(judge(section).iter().all(|finding| finding.rule != "too-loud-for-register"));
        });
    }

    #[test]
    fn a_note_that_two_players_read_is_said_once() {
        scene("contrabass-tuba-c", "ff D1 D1").judged(|section| {
            let mut both = section.clone();
            let mut second = both.desks[0].lines[0].clone();
            second.player = 2;
            second.played.iter_mut().for_each(|played| played.shared = true);
            both.desks[0].lines.push(second);
            both.desks[0].players = 2;
            assert_eq!(judge(&both), judge(section));
        });
    }
}
