//! Two versions of a score, or of a folder of scores, held against each other: what is gone, what is new, what still
//! stands, and which octaves moved. The JSON contract and its formats; which remark is which, `check` knows.

mod markdown;
mod text;

use std::io::{self, Write};

use schemars::JsonSchema;
use serde::Serialize;

use super::Look;
use super::contract::{At, Finding, Level, SCHEMA_VERSION, Tool, Unread, Waived};
use crate::finding::Severity;

/// Two versions of one or more scores.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Comparison {
    /// Which contract this is: that of the report.
    pub schema_version: u32,
    /// What made it.
    pub tool: Tool,
    /// The scores, old and new beside each other, in order of the new path; those that only the old version has, last.
    pub scores: Vec<ScoreVersions>,
    /// Remarks on the old version that are not on the new one, in score order.
    pub gone: Vec<Remark>,
    /// Remarks on the new version that were not on the old one, in score order.
    pub new: Vec<Remark>,
    /// Remarks on both, as they are on the new version, in score order.
    pub still_there: Vec<Remark>,
    /// Passages that stand in another octave, in score order.
    pub moves: Vec<Moved>,
    /// What could not be read, in order of path.
    pub unread: Vec<Unread>,
    /// How many of each.
    pub summary: Totals,
    /// What to take care of where the remarks could be taken too far, one line each.
    pub cautions: Vec<String>,
}

/// A score in both versions.
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct ScoreVersions {
    /// Where the old version lies; `null` where there was none.
    pub old: Option<String>,
    /// Where the new version lies; `null` where there is none.
    pub new: Option<String>,
    /// Its title, the new one where it has both.
    pub title: Option<String>,
    /// Bars that only the new version has, by its numbers.
    pub bars_inserted: Vec<Bars>,
    /// Bars that only the old version has, by its numbers.
    pub bars_removed: Vec<Bars>,
    /// Bars of both in which a low-brass part plays other pitches or lengths, octaves left aside; by the new numbers.
    pub bars_changed: Vec<ChangedBars>,
    /// Names of low-brass parts that only the new version has.
    pub parts_added: Vec<String>,
    /// Names of low-brass parts that only the old version has.
    pub parts_removed: Vec<String>,
}

/// Bars that follow each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Bars {
    /// Printed number of the first.
    pub from: String,
    /// The same counted from 0.
    pub from_index: u32,
    /// Printed number of the last.
    pub to: String,
    /// The same counted from 0.
    pub to_index: u32,
}

/// Bars in which a part changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ChangedBars {
    /// Id of the part.
    pub part: String,
    /// Name of the part.
    pub part_name: String,
    /// The bars.
    #[serde(flatten)]
    pub bars: Bars,
}

/// A remark on one of the versions.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Remark {
    /// The score it is on; what is gone is on the old version.
    pub score: String,
    /// Where it was in the old version, for what is still there.
    pub was: Option<At>,
    /// How bad it was in the old version, for what is still there.
    pub was_severity: Option<Level>,
    /// For what is gone: why it is let stand in the new version, where that is why.
    pub let_stand: Option<Waived>,
    /// The remark.
    #[serde(flatten)]
    pub finding: Finding,
}

/// A passage in another octave than before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Moved {
    /// The new version of the score.
    pub score: String,
    /// Id of the part.
    pub part: String,
    /// Name of the part.
    pub part_name: String,
    /// Octaves up; negative: down.
    pub octaves: i32,
    /// Its first note, in the new version.
    pub from: At,
    /// Its last note, in the new version.
    pub to: At,
    /// Each written note that moved.
    pub notes: Vec<MovedNote>,
}

/// A written note in another octave than before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MovedNote {
    /// Where it stands in the new version.
    #[serde(flatten)]
    pub at: At,
    /// Printed number of its bar in the old version.
    pub old_bar: String,
    /// What it sounded.
    pub from: String,
    /// What it sounds.
    pub to: String,
    /// It only goes on from a tie before.
    pub continued: bool,
}

/// How many of each.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct Totals {
    /// Remarks that are gone.
    pub gone: Levels,
    /// Remarks that are new.
    pub new: Levels,
    /// Remarks that still stand.
    pub still_there: Levels,
    /// Passages in another octave.
    pub moves: u32,
    /// Pairs of scores that were compared.
    pub compared: u32,
    /// Scores that only the new version has.
    pub added: u32,
    /// Scores that only the old version has.
    pub removed: u32,
    /// Scores that could not be read.
    pub unread: u32,
}

/// How many of each severity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct Levels {
    /// Errors.
    pub error: u32,
    /// Warnings.
    pub warning: u32,
    /// Notes.
    pub note: u32,
}

/// A format a comparison is written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ComparisonFormat {
    /// For people at a terminal.
    Text,
    /// For scripts.
    Json,
    /// For a comment on a change, or a message to the copyist.
    Markdown,
}

impl Comparison {
    /// One whose scores, remarks and moves stand in order; totals are counted here.
    pub fn new(
        scores: Vec<ScoreVersions>,
        [gone, new, still_there]: [Vec<Remark>; 3],
        moves: Vec<Moved>,
        unread: Vec<Unread>,
        cautions: Vec<String>,
    ) -> Comparison {
        let count =
            |wanted: fn(&ScoreVersions) -> bool| scores.iter().filter(|&score| wanted(score)).count() as u32;
        let summary = Totals {
            gone: Levels::of(&gone, Level::Note),
            new: Levels::of(&new, Level::Note),
            still_there: Levels::of(&still_there, Level::Note),
            moves: moves.len() as u32,
            compared: count(|score| score.old.is_some() && score.new.is_some()),
            added: count(|score| score.old.is_none()),
            removed: count(|score| score.new.is_none()),
            unread: unread.len() as u32,
        };
        let tool = Tool { name: "lowbrass".to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() };
        let schema_version = SCHEMA_VERSION;
        Comparison { schema_version, tool, scores, gone, new, still_there, moves, unread, summary, cautions }
    }

    /// Whether something is new at this weight or above, or weighs that much only now.
    pub fn is_worse(&self, least: Severity) -> bool {
        let least = Level::from(least);
        let rose = |remark: &Remark| {
            remark.finding.severity >= least && remark.was_severity.is_some_and(|was| was < least)
        };
        self.new.iter().any(|remark| remark.finding.severity >= least) || self.still_there.iter().any(rose)
    }

    /// Writes it; what is less than `look` asks is counted, not shown.
    pub fn write(&self, format: ComparisonFormat, look: &Look, out: &mut dyn Write) -> io::Result<()> {
        let usual = match format {
            ComparisonFormat::Json => Severity::Note,
            ComparisonFormat::Text | ComparisonFormat::Markdown => Severity::Warning,
        };
        let from = look.min_level.unwrap_or(usual).into();
        match format {
            ComparisonFormat::Text => text::write(self, from, look, out),
            ComparisonFormat::Markdown => markdown::write(self, from, look.all, out),
            ComparisonFormat::Json => {
                let mut shown = self.clone();
                for remarks in [&mut shown.gone, &mut shown.new, &mut shown.still_there] {
                    remarks.retain(|remark| remark.finding.severity >= from);
                }
                serde_json::to_writer_pretty(&mut *out, &shown)?;
                writeln!(out)
            }
        }
    }
}

impl Levels {
    fn of(remarks: &[Remark], from: Level) -> Levels {
        let count = |level: Level| {
            remarks.iter().filter(|remark| remark.finding.severity == level && level >= from).count() as u32
        };
        Levels { error: count(Level::Error), warning: count(Level::Warning), note: count(Level::Note) }
    }

    fn all(self) -> u32 {
        self.error + self.warning + self.note
    }
}

impl ScoreVersions {
    /// What it is called: the new path, or else the old one.
    fn path(&self) -> &str {
        self.new.as_deref().or(self.old.as_deref()).unwrap_or_default()
    }

    /// Whether a remark or move is of this score; what is gone names the old path.
    fn has_new(&self, path: &str) -> bool {
        self.new.as_deref() == Some(path)
    }

    fn has_old(&self, path: &str) -> bool {
        self.old.as_deref() == Some(path)
    }
}

/// What is told of one score, at or above a level.
struct Told<'a> {
    gone: Vec<&'a Remark>,
    new: Vec<&'a Remark>,
    still_there: Vec<&'a Remark>,
    moves: Vec<&'a Moved>,
}

impl<'a> Told<'a> {
    fn of(comparison: &'a Comparison, score: &ScoreVersions, from: Level) -> Told<'a> {
        let shown = |remark: &&Remark| remark.finding.severity >= from;
        Told {
            gone: comparison.gone.iter().filter(|gone| score.has_old(&gone.score)).filter(shown).collect(),
            new: comparison.new.iter().filter(|new| score.has_new(&new.score)).filter(shown).collect(),
            still_there: comparison
                .still_there
                .iter()
                .filter(|still| score.has_new(&still.score))
                .filter(shown)
                .collect(),
            moves: comparison.moves.iter().filter(|moved| score.has_new(&moved.score)).collect(),
        }
    }
}

/// How the formats for people put it.
mod words {
    use super::super::phrases::{by_octaves, counted, listed, stretch};
    use super::{Bars, Comparison, Levels, Moved, Remark, ScoreVersions};
    use crate::report::contract::{Finding, Level};
    use crate::report::phrases;

    /// Of so many notes of a passage each is named.
    const MOST_NAMED: usize = 6;

    /// "2 new (1 error, 1 warning)"; what is less than `from` is not told.
    pub(super) fn count(what: &str, levels: Levels) -> String {
        let each = [
            (levels.error, "error", "errors"),
            (levels.warning, "warning", "warnings"),
            (levels.note, "note", "notes"),
        ];
        let each: Vec<String> = each
            .into_iter()
            .filter(|(count, ..)| *count > 0)
            .map(|(count, one, many)| format!("{count} {}", if count == 1 { one } else { many }))
            .collect();
        match levels.all() {
            0 => format!("nothing {what}"),
            all => format!("{all} {what} ({})", each.join(", ")),
        }
    }

    /// What else there is to a remark: where and how grave it was, and why it is let stand now.
    pub(super) fn asides(remark: &Remark) -> Vec<String> {
        let finding = &remark.finding;
        let was = remark.was.as_ref().filter(|was| was.bar != finding.bar);
        let grave = remark.was_severity.filter(|was| *was != finding.severity);
        let let_stand = remark.let_stand.as_ref();
        [
            was.map(|was| format!("was {}", phrases::bar(&was.bar, was.bar_index))),
            grave.map(|was| format!("was {}", was.word())),
            let_stand.map(|why| format!("let stand now: {}", phrases::why_waived(why))),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// The last line.
    pub(super) fn totals(comparison: &Comparison, from: Level) -> String {
        let levels = |remarks| Levels::of(remarks, from);
        let mut said = vec![
            count("new", levels(&comparison.new)),
            count("gone", levels(&comparison.gone)),
            count("still there", levels(&comparison.still_there)),
        ];
        said.push(match comparison.moves.len() as u32 {
            0 => "no octave moved".to_owned(),
            moves => format!("{} in another octave", counted(moves, "passage")),
        });
        let summary = &comparison.summary;
        if summary.compared + summary.added + summary.removed + summary.unread > 1 {
            said.insert(0, format!("{} compared", counted(summary.compared, "score")));
        }
        if summary.unread > 0 {
            said.push(format!("{} could not be read", counted(summary.unread, "score")));
        }
        let lesser = [&comparison.new, &comparison.gone, &comparison.still_there];
        let lesser: u32 =
            lesser.into_iter().map(|all| Levels::of(all, Level::Note).all() - levels(all).all()).sum();
        if lesser > 0 {
            said.push(format!("{} not counted (--min-level note)", counted(lesser, "lesser remark")));
        }
        said.join(" · ")
    }

    /// "bars 5–6 put in", "bar 9 taken out"; what changed in which part; nothing where all is as before.
    pub(super) fn changes(score: &ScoreVersions) -> Vec<String> {
        let list = |bars: &[Bars]| {
            let stretches: Vec<String> = bars.iter().map(range).collect();
            let several = bars.len() > 1 || bars.first().is_some_and(|bars| bars.from_index != bars.to_index);
            let names: Vec<&str> = stretches.iter().map(String::as_str).collect();
            format!("{} {}", if several { "bars" } else { "bar" }, listed(&names))
        };
        let mut said = Vec::new();
        if !score.bars_inserted.is_empty() {
            said.push(format!("{} put in", list(&score.bars_inserted)));
        }
        if !score.bars_removed.is_empty() {
            said.push(format!("{} of the old version taken out", list(&score.bars_removed)));
        }
        let names = |names: &[String]| listed(&names.iter().map(String::as_str).collect::<Vec<_>>());
        if !score.parts_added.is_empty() {
            said.push(format!("{} came in", names(&score.parts_added)));
        }
        if !score.parts_removed.is_empty() {
            said.push(format!("{} left out", names(&score.parts_removed)));
        }
        let mut parts: Vec<(&str, &str)> = Vec::new();
        for changed in &score.bars_changed {
            let part = (changed.part.as_str(), changed.part_name.as_str());
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        for (id, name) in parts {
            let own = score
                .bars_changed
                .iter()
                .filter(|changed| (changed.part.as_str(), changed.part_name.as_str()) == (id, name));
            let bars: Vec<Bars> = own.map(|changed| changed.bars.clone()).collect();
            said.push(format!("{name} plays something else in {}", list(&bars)));
        }
        said
    }

    fn range(bars: &Bars) -> String {
        let number = |number: &str, index: u32| match number {
            "" => format!("in place {}", index + 1),
            number => number.to_owned(),
        };
        let from = number(&bars.from, bars.from_index);
        if bars.from_index == bars.to_index {
            return from;
        }
        format!("{from}–{}", number(&bars.to, bars.to_index))
    }

    /// "D1 to D2, E1 to E2": note by note, tied notes once.
    pub(super) fn notes(moved: &Moved) -> String {
        let struck: Vec<String> = moved
            .notes
            .iter()
            .filter(|note| !note.continued)
            .map(|note| format!("{} to {}", note.from, note.to))
            .collect();
        // All of them may go on from a tie across bars that were put in.
        match struck.len() {
            0 => moved.notes.first().map(|note| format!("{} to {}", note.from, note.to)).unwrap_or_default(),
            count if count > MOST_NAMED => {
                format!("{} and {} more", struck[..MOST_NAMED].join(", "), count - MOST_NAMED)
            }
            _ => struck.join(", "),
        }
    }

    /// "Tuba 1", "bars 12–13", "up an octave".
    pub(super) fn moved(moved: &Moved) -> [String; 3] {
        [moved.part_name.clone(), stretch(&moved.from, &moved.to), by_octaves(moved.octaves)]
    }

    /// A remark in a line: part, place, what is asked.
    pub(super) fn in_short(finding: &Finding) -> String {
        let place = Some(phrases::where_it_stands(finding)).filter(|place| !place.is_empty());
        let said = [finding.part_name.clone(), place, phrases::asked(finding)];
        said.into_iter().flatten().collect::<Vec<_>>().join(" · ")
    }
}
