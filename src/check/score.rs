//! One score, from its bytes to its part of the report and its copies.

use std::collections::BTreeMap;

use thiserror::Error;

use super::baseline::{Accepted, Baseline, fingerprints};
use super::levels::weigh;
use super::room::Room;
use super::seating::{self, Orders};
use super::staves;
use super::waivers::{self, InForce};
use crate::copies::{self, VerifyError, leads_back, only_octaves_differ};
use crate::finding::{Finding, PartMove, Revision, Severity, Waived};
use crate::intake;
use crate::music::{Onset, Tempo, TempoChange, TempoMap};
use crate::musicxml::{Document, EditError, MarkError, ReadError};
use crate::octaves::{self, Reading};
use crate::playing::instruments::within_reach;
use crate::playing::{Desk, Section};
use crate::report::{self, Judged};
use crate::rules;
use crate::score::{Part, PartInfo, Score};
use crate::settings::Day;

/// What is asked of every score of a run.
#[derive(Clone, Debug)]
#[allow(clippy::struct_excessive_bools)] // Each asks for something of its own.
pub struct Task<'a> {
    /// How it is read.
    pub orders: &'a Orders,
    /// The day waivers are measured by.
    pub today: Day,
    /// Which findings are accepted.
    pub accepts: Accepts<'a>,
    /// Whether moves for review are made as well as safe ones.
    pub include_review: bool,
    /// Whether the revised copy is wanted.
    pub revise: bool,
    /// From which weight on findings stand in the marked copy; `None`: no marked copy is wanted.
    pub mark: Option<Severity>,
    /// Whether a format that draws is wanted.
    pub draw: bool,
    /// Whether the score is kept as it was read.
    pub keep_score: bool,
}

/// Which findings are accepted as they stand.
#[derive(Clone, Copy, Debug)]
pub enum Accepts<'a> {
    /// None.
    Nothing,
    /// Those of a baseline.
    Baseline(&'a Baseline),
    /// All of today's, to write a baseline of them.
    All,
}

/// A score's path in the spellings that are needed.
#[derive(Clone, Debug, Default)]
pub struct Paths {
    /// As reports show it.
    pub shown: String,
    /// From the settings' folder.
    pub from_settings: String,
    /// From the baseline's folder.
    pub from_baseline: String,
}

/// A score that was checked.
#[derive(Clone, Debug)]
pub struct Checked {
    /// Its part of the report.
    pub report: report::Score,
    /// What became of the entries of the settings.
    pub in_force: InForce,
    /// Its findings as a baseline would have them; what a waiver lets stand is not here.
    pub acceptable: Vec<Accepted>,
    /// How many accepted findings are no longer there.
    pub gone: usize,
    /// The revised copy, where it was wanted.
    pub revised: Option<RevisedCopy>,
    /// The marked copy, where it was wanted.
    pub marked: Option<Vec<u8>>,
    /// The score as it was read and judged, where it is to be kept.
    pub score: Option<Score>,
    /// Names of all parts, for those who asked for one that is not there.
    pub part_names: Vec<String>,
    /// Whether a part that was asked for is there (true where none was asked for).
    pub has_wanted_part: bool,
}

/// A revised copy that was read back and compared.
#[derive(Clone, Debug)]
pub struct RevisedCopy {
    /// The whole file.
    pub bytes: Vec<u8>,
    /// Which of the revision's moves it holds.
    pub made: Vec<bool>,
}

impl RevisedCopy {
    /// How many moves it holds.
    pub fn moves(&self) -> usize {
        self.made.iter().filter(|made| **made).count()
    }
}

/// Why a score was not checked.
#[derive(Debug, Error)]
pub enum CheckError {
    /// It cannot be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A copy cannot be made.
    #[error("no copy can be written: {0}")]
    Edit(#[from] EditError),
    /// A marked copy cannot be made.
    #[error("no marked copy can be written: {0}")]
    Mark(#[from] MarkError),
    /// A copy is not what it should be.
    #[error("no copy is written: {0}")]
    Verify(#[from] VerifyError),
}

impl Checked {
    /// Takes in what could be said only after other scores were checked ([`Housekeeping`](super::Housekeeping)).
    pub fn add(&mut self, findings: &[Finding]) {
        let prints = fingerprints(findings, &[]);
        for (finding, fingerprint) in findings.iter().zip(&prints) {
            self.report.add(finding, fingerprint);
        }
    }
}

/// Checks a score.
///
/// # Errors
///
/// Bytes that are no score; a copy that cannot be made or does not read back as it should. Music is no
/// error.
pub fn check(bytes: Vec<u8>, paths: &Paths, room: &Room, task: &Task<'_>) -> Result<Checked, CheckError> {
    let document = Document::open(bytes)?;
    let score = read_players(&document, room, task.orders)?;
    // The text is as large as all the rest: it is kept only for who needs it.
    let document = (task.revise || task.mark.is_some()).then_some(document);
    let section = seating::seat(&score, room, task.orders);
    let page = RoomReading { paths, room, task };
    let (mut findings, waivers) = page.said_of(&section);
    let in_force =
        InForce { waivers, parts: waivers::entries_that_fit(&room.settings, &seating::infos(&score)) };
    let prints = fingerprints(&findings, &score.parts);
    let acceptable = acceptable(&findings, &prints, &score, &paths.from_baseline);
    let gone = page.accept(&mut findings, &prints);
    let revision = octaves::plan_read(&section, &mut findings, &page);

    let to_revise = document.as_ref().filter(|_| task.revise);
    let revised = to_revise.map(|document| revise(document, &score, &revision, room, task)).transpose()?;
    let marked = match (&document, task.mark) {
        (Some(document), Some(from)) => {
            let heavy: Vec<Finding> =
                findings.iter().filter(|finding| finding.severity >= from).cloned().collect();
            Some(mark(document, &score, &heavy, revised.as_ref())?)
        }
        _ => None,
    };
    let mut report = report(&paths.shown, &section, findings, prints, &revision);
    if task.draw {
        report.picture = Some(report::see(&section, &within_reach(&section, &room.profiles), &revision));
    }
    Ok(Checked {
        report,
        in_force,
        acceptable,
        gone,
        revised: revised.map(|revised| revised.copy),
        marked,
        has_wanted_part: seating::has_wanted(&score, room, task.orders),
        part_names: seating::infos(&score).into_iter().map(|info| info.name).collect(),
        score: task.keep_score.then_some(score),
    })
}

/// How a score is read and judged here; so is one with some octaves moved.
struct RoomReading<'a> {
    paths: &'a Paths,
    room: &'a Room,
    task: &'a Task<'a>,
}

impl RoomReading<'_> {
    /// What is said, in order, with what the settings and the score let stand, and what became of the settings' waivers.
    fn said_of(&self, section: &Section<'_>) -> (Vec<Finding>, Vec<waivers::Outcome>) {
        let settings = &self.room.settings;
        let mut findings = rules::judge(section);
        weigh(&mut findings, settings);
        let path = &self.paths.from_settings;
        let outcomes = waivers::by_settings(&mut findings, section.score, path, settings, self.task.today);
        waivers::in_score(&mut findings, section);
        weigh(&mut findings, settings);
        rules::sort(&mut findings);
        (findings, outcomes)
    }

    /// Lets stand what was accepted earlier. Gives how many accepted findings are no longer there.
    fn accept(&self, findings: &mut [Finding], prints: &[String]) -> usize {
        match self.task.accepts {
            Accepts::Nothing => 0,
            Accepts::Baseline(baseline) => baseline.apply(&self.paths.from_baseline, findings, prints),
            Accepts::All => {
                for finding in findings {
                    finding.waived.get_or_insert(Waived::Baseline);
                }
                0
            }
        }
    }
}

impl Reading for RoomReading<'_> {
    fn seat<'s>(&self, score: &'s Score) -> Section<'s> {
        seating::seat(score, self.room, self.task.orders)
    }

    fn judge(&self, section: &Section<'_>) -> Vec<Finding> {
        let (mut findings, _) = self.said_of(section);
        let is_known = matches!(self.task.accepts, Accepts::Baseline(_));
        let prints = if is_known { fingerprints(&findings, &section.score.parts) } else { Vec::new() };
        self.accept(&mut findings, &prints);
        findings
    }

    fn weigh(&self, findings: &mut Vec<Finding>) {
        weigh(findings, &self.room.settings);
    }
}

/// Reads a score with the parts that matter here, in the tempo that holds where it gives none.
pub fn read(document: &Document, room: &Room, orders: &Orders) -> Result<Score, ReadError> {
    let score = document.read(&|parts| seating::interest(parts, room, orders))?;
    let mut score = seating::without_singers(score, room, orders);
    score.parts.iter().try_for_each(|part| intake::TOGETHER.admit(part.most_at_once() as u64))?;
    if let Some(tempo) = orders.tempo.or(room.settings.tempo) {
        score.tempo = opening_at(&score.tempo, tempo);
        score.played_tempo = score.played_tempo.map(|map| opening_at(&map, tempo));
    }
    Ok(score)
}

/// The same, with a part for each player of a staff that two instruments share: the score that is judged.
pub fn read_players(document: &Document, room: &Room, orders: &Orders) -> Result<Score, ReadError> {
    let score = read(document, room, orders)?;
    intake::JUDGED.admit(score.parts.iter().map(|part| part.notes.len()).sum::<usize>() as u64)?;
    // Whoever judges looks at every pair of notes that sound together.
    intake::TOGETHER.admit(score.parts.iter().map(Part::most_at_once).sum::<usize>() as u64)?;
    Ok(staves::written_out(score, room, orders))
}

/// The same map with this tempo at the start, where nothing but a guess stands there.
fn opening_at(map: &TempoMap, tempo: Tempo) -> TempoMap {
    match map.changes() {
        [first, rest @ ..] if first.assumed => {
            let opening = TempoChange { tempo, assumed: false, reckoned: None, ..first.clone() };
            TempoMap::new(opening, rest.iter().cloned())
        }
        _ => map.clone(),
    }
}

fn acceptable(findings: &[Finding], prints: &[String], score: &Score, path: &str) -> Vec<Accepted> {
    let names: BTreeMap<u32, String> =
        seating::infos(score).into_iter().map(|info| (info.index, info.name)).collect();
    findings
        .iter()
        .zip(prints)
        .filter(|(finding, _)| finding.waived.is_none())
        .map(|(finding, fingerprint)| Accepted {
            score: path.to_owned(),
            part: finding.part.and_then(|part| names.get(&part)).cloned().unwrap_or_default(),
            rule: finding.rule.to_owned(),
            fingerprint: fingerprint.clone(),
        })
        .collect()
}

/// A revised copy with what it reads as.
struct Reread {
    copy: RevisedCopy,
    document: Document,
    score: Score,
    applied: Vec<PartMove>,
}

fn revise(
    document: &Document,
    score: &Score,
    revision: &Revision,
    room: &Room,
    task: &Task<'_>,
) -> Result<Reread, CheckError> {
    let revised = copies::revise(document, score, revision, task.include_review)?;
    let copy = Document::open(revised.bytes.clone())?;
    let reread = read_players(&copy, room, task.orders)?;
    only_octaves_differ((document, score), (&copy, &reread), &revised.applied)?;
    let made = revision.moves.iter().map(|planned| revised.applied.contains(planned)).collect();
    Ok(Reread {
        copy: RevisedCopy { made, bytes: revised.bytes },
        document: copy,
        score: reread,
        applied: revised.applied,
    })
}

/// Marks the score, or its revised copy where there is one.
fn mark(
    document: &Document,
    score: &Score,
    findings: &[Finding],
    revised: Option<&Reread>,
) -> Result<Vec<u8>, CheckError> {
    let (document, marked) = match revised {
        Some(copy) => {
            let marked = copies::marked_revision(&copy.document, &copy.score, findings, &copy.applied)?;
            (&copy.document, marked)
        }
        None => (document, copies::marked(document, score, findings)?),
    };
    leads_back(&marked, &document.unmarked()?)?;
    Ok(marked)
}

fn report(
    path: &str,
    section: &Section<'_>,
    findings: Vec<Finding>,
    prints: Vec<String>,
    revision: &Revision,
) -> report::Score {
    let desks: Vec<report::Desk<'_>> = section.desks.iter().map(|desk| told(desk, section.score)).collect();
    let passed_over: Vec<&PartInfo> = section.score.passed_over.iter().map(|part| &part.info).collect();
    let findings: Vec<(Finding, String)> = findings.into_iter().zip(prints).collect();
    report::Score::new(&Judged {
        path,
        title: section.score.title.as_deref(),
        bars: u32::try_from(section.score.bars.len()).unwrap_or(u32::MAX),
        desks: &desks,
        passed_over: &passed_over,
        findings: &findings,
        revision: Some(revision),
    })
}

fn told<'s>(desk: &'s Desk<'s>, score: &Score) -> report::Desk<'s> {
    let played = || desk.part.notes.iter().filter(|note| note.is_played());
    let mut sounding: Vec<(Onset, Onset)> = played().map(|note| (note.onset, note.end())).collect();
    sounding.sort();
    let mut seconds = 0.0;
    let mut until = Onset::START;
    for (from, to) in sounding {
        let from = from.max(until);
        if to > from {
            seconds += score.tempo.lasting(from, to.since(from)).get();
            until = to;
        }
    }
    let end = score.bars.last().map_or(Onset::START, |bar| bar.start + bar.length);
    let whole = score.tempo.lasting(Onset::START, end.since(Onset::START)).get();
    let first_instrument = &desk.instruments[0].profile;
    report::Desk {
        part: &desk.part.info,
        profile: &first_instrument.name,
        read_as: &first_instrument.a_title,
        recognised_by: desk.recognised_by.word(),
        notes: u32::try_from(played().count()).unwrap_or(u32::MAX),
        lowest: played().map(|note| note.sounding).min(),
        highest: played().map(|note| note.sounding).max(),
        seconds,
        share: if whole > 0.0 { seconds / whole } else { 0.0 },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::testing::{room, score, task};
    use crate::settings::Level;

    fn checked(text: &str, room: &Room, more: impl FnOnce(&mut Task<'_>)) -> Result<Checked, CheckError> {
        let orders = Orders::default();
        let mut task = task(&orders);
        more(&mut task);
        check(
            text.as_bytes().to_vec(),
            &Paths { shown: "a.musicxml".to_owned(), ..Paths::default() },
            room,
            &task,
        )
    }

    fn too_low() -> String {
        score(&[("Flute", &["F5", "r", "r"]), ("Tuba", &["F1", "r", "F0"])])
    }

    #[test]
    fn a_finding_stands_in_the_report_with_its_parts() {
        let report = checked(&too_low(), &room(), |_| {}).unwrap().report;
        assert_eq!(report.path, "a.musicxml");
        assert_eq!(report.parts.iter().map(|part| part.name.as_str()).collect::<Vec<_>>(), ["Tuba"]);
        assert_eq!(report.passed_over.iter().map(|part| part.name.as_str()).collect::<Vec<_>>(), ["Flute"]);
        assert!(report.findings.iter().any(|finding| finding.rule == "out-of-range" && finding.bar == "3"));
    }

    #[test]
    fn breath_taken_in_turns_lets_what_is_said_of_it_stand_and_is_named() {
        let slow = score(&[("Tuba", &["F1", "r", "F1"])]).replace("tempo=\"120\"", "tempo=\"30\"");
        let words = "<mf/></dynamics></direction-type><direction-type><words>stagger breathing</words>";
        let with_words = slow.replace("<mf/></dynamics>", words);
        let waived = |text: &str| -> Vec<(String, bool)> {
            let report = checked(text, &room(), |_| {}).unwrap().report;
            let own = report.findings.iter().filter(|finding| finding.rule == "note-longer-than-breath");
            own.map(|finding| (finding.bar.clone(), finding.waived.is_some())).collect()
        };
        let of = |bar: &str, waived| (bar.to_owned(), waived);
        assert_eq!(waived(&slow), [of("1", false), of("3", false)]);
        // The words are for the passage they stand in.
        assert_eq!(waived(&with_words), [of("1", true), of("3", false)]);
    }

    #[test]
    fn a_revised_copy_is_made_only_when_asked_for_and_checks_clean() {
        assert!(checked(&too_low(), &room(), |_| {}).unwrap().revised.is_none());
        let copy = checked(&too_low(), &room(), |task| task.revise = true).unwrap().revised.unwrap();
        assert_eq!(copy.moves(), 1);
        let text = String::from_utf8(copy.bytes).unwrap();
        assert_eq!(text, too_low().replace("<octave>0</octave>", "<octave>1</octave>"));
        let again = checked(&text, &room(), |task| task.revise = true).unwrap();
        assert!(again.report.findings.iter().all(|finding| finding.rule != "out-of-range"));
        assert_eq!(again.revised.unwrap().bytes, text.into_bytes());
    }

    #[test]
    fn a_rule_weighs_what_the_settings_say() {
        let mut room = room();
        room.settings.levels = vec![("out-of-range", Level::Severity(crate::finding::Severity::Note))];
        let report = checked(&too_low(), &room, |_| {}).unwrap().report;
        let finding = report.findings.iter().find(|finding| finding.rule == "out-of-range").unwrap();
        assert_eq!(finding.severity, report::Level::Note);
        room.settings.levels = vec![("out-of-range", Level::Off)];
        let report = checked(&too_low(), &room, |_| {}).unwrap().report;
        assert!(report.findings.iter().all(|finding| finding.rule != "out-of-range"));
    }

    #[test]
    fn accepting_all_lets_all_stand_and_moves_nothing() {
        let done = checked(&too_low(), &room(), |task| {
            task.accepts = Accepts::All;
            task.revise = true;
        })
        .unwrap();
        assert!(!done.acceptable.is_empty());
        assert!(done.report.findings.iter().all(|finding| finding.waived.is_some()));
        assert_eq!(done.revised.unwrap().bytes, too_low().into_bytes());
    }

    #[test]
    fn a_tempo_is_taken_only_where_the_score_gives_none() {
        let opening = |text: &str, tempo: f64| {
            let orders = Orders { tempo: Tempo::quarters_a_minute(tempo), ..Orders::default() };
            let document = Document::open(text.as_bytes().to_vec()).unwrap();
            let score = read(&document, &room(), &orders).unwrap();
            let bar = score.bars[0].length;
            score.tempo.lasting(Onset::START, bar).get()
        };
        assert!((opening(&too_low(), 60.0) - 2.0).abs() < 1e-9);
        let without = too_low().replace("<sound tempo=\"120\"/>", "");
        assert!((opening(&without, 60.0) - 4.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_score_is_an_error() {
        assert!(matches!(checked("tuba", &room(), |_| {}), Err(CheckError::Read(_))));
    }
}
