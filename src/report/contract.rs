//! What scripts lean on: the JSON report, one type for output and schema.
//!
//! Changes are additive only; a field that is there stays, with its meaning. Fields are always written;
//! one that has nothing to say is `null`.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use super::picture::Picture;
use crate::finding::Basis;

/// The version of the whole contract: it changes when a field goes or changes its meaning.
pub const SCHEMA_VERSION: u32 = 1;

/// A report on one or more scores.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Report {
    /// Which contract this is.
    pub schema_version: u32,
    /// What made it.
    pub tool: Tool,
    /// One for each score that could be read, in order of path.
    pub scores: Vec<Score>,
    /// What could not be read, in order of path.
    pub unread: Vec<Unread>,
    /// Totals over all scores.
    pub summary: Summary,
}

/// What made the report.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Tool {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}

/// A score that was not read, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Unread {
    /// Where it lies.
    pub path: String,
    /// Why it could not be read.
    pub message: String,
}

/// What was found in one score.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Score {
    /// Where it lies, as it was given; `-` is standard input.
    pub path: String,
    /// Its title, where it has one.
    pub title: Option<String>,
    /// How many bars it has.
    pub bars: u32,
    /// The low-brass parts, in score order.
    pub parts: Vec<Part>,
    /// The parts that were not judged, in score order.
    pub passed_over: Vec<PassedOver>,
    /// How much was found.
    pub counts: Counts,
    /// What was found, in score order.
    pub findings: Vec<Finding>,
    /// What to take care of where its findings could be taken too far, one line each.
    pub cautions: Vec<String>,
    /// The octave moves that would be, or were, made; `null` where none was sought.
    pub revision: Option<Revision>,
    /// What formats that draw go by; no part of the contract.
    #[serde(skip)]
    pub picture: Option<Picture>,
}

/// A part that was judged.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Part {
    /// Its id in the score.
    pub id: String,
    /// Its name in the score.
    pub name: String,
    /// The profile it was judged by.
    pub profile: String,
    /// The instrument in mid-sentence: "a contrabass tuba in C".
    pub read_as: String,
    /// How the instrument was known: instrument-sound, name, abbreviation, midi-program, section, settings
    /// or option.
    pub recognised_by: String,
    /// How many written notes it plays.
    pub notes: u32,
    /// The lowest sounding pitch; `null` where it has no note.
    pub lowest: Option<String>,
    /// The highest sounding pitch.
    pub highest: Option<String>,
    /// How many seconds it sounds, in written order.
    #[serde(serialize_with = "milliseconds")]
    pub seconds: f64,
    /// The share of the score's time it sounds, from 0 to 1.
    #[serde(serialize_with = "milliseconds")]
    pub share: f64,
}

/// A part that was not judged.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct PassedOver {
    /// Its id in the score.
    pub id: String,
    /// Its name in the score.
    pub name: String,
}

/// One remark on one passage.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Finding {
    /// The rule that speaks.
    pub rule: String,
    /// How bad.
    pub severity: Level,
    /// The same for the same finding in a later state of the score.
    pub fingerprint: String,
    /// Id of the part; `null` for the whole score.
    pub part: Option<String>,
    /// Name of the part.
    pub part_name: Option<String>,
    /// The profile it was judged by.
    pub profile: Option<String>,
    /// Printed number of the bar of its first note.
    pub bar: String,
    /// The same bar counted from 0.
    pub bar_index: u32,
    /// The beat, from 1, in units of the time signature's lower number: "3", "5/2".
    pub beat: String,
    /// The note that counts as one beat: the time signature's lower number.
    pub beat_unit: u32,
    /// Quarter notes from the start of the score, written order.
    pub onset: String,
    /// Staff within the part, from 1.
    pub staff: u32,
    /// Voice as the score names it.
    pub voice: String,
    /// Line in the source, from 1; 0 where there is none.
    pub line: u32,
    /// Where it ends.
    pub span: SpanTo,
    /// Where its worst note stands, which the following are about.
    pub worst: At,
    /// What stands on the page.
    pub written: Option<String>,
    /// What it sounds.
    pub sounding: Option<String>,
    /// The same as a MIDI note number; a fraction for quarter-tones.
    #[serde(serialize_with = "whole_where_it_is")]
    pub midi: Option<f64>,
    /// The level asked.
    pub dynamic: Option<String>,
    /// The bar whose mark or words set that level, by its printed number; `null` where an attack or a hairpin did.
    pub dynamic_bar: Option<String>,
    /// The same bar counted from 0.
    pub dynamic_bar_index: Option<u32>,
    /// How long it sounds.
    #[serde(serialize_with = "milliseconds_if_any")]
    pub seconds: Option<f64>,
    /// What the score asks.
    pub asked: Option<Measure>,
    /// What the instrument or player gives.
    pub limit: Option<Measure>,
    /// The fact and the limit, one sentence without a full stop.
    pub message: String,
    /// The way out, where it is no octave move.
    pub instead: Option<String>,
    /// The octave move that cures it.
    pub octave_move: Option<OctaveMove>,
    /// What the number stands on that decided: the kind of its source.
    pub basis: Basis,
    /// The sources in words, the one first that carries the number.
    pub sources: Vec<String>,
    /// In which pass of a repeat, when not the first.
    pub pass: Option<u32>,
    /// Why it is let stand, if it is.
    pub waived: Option<Waived>,
}

/// How bad a finding is, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Worth knowing.
    Note,
    /// A risk at the stand.
    Warning,
    /// Cannot be played as written.
    Error,
}

impl Level {
    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            Level::Note => "note",
            Level::Warning => "warning",
            Level::Error => "error",
        }
    }
}

/// Where a finding ends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct SpanTo {
    /// Printed number of the bar of its last note.
    pub to_bar: String,
    /// The same bar counted from 0.
    pub to_bar_index: u32,
    /// The beat of its last note.
    pub to_beat: String,
    /// The note that counts as one beat there.
    pub to_beat_unit: u32,
    /// How many written notes it has.
    pub notes: u32,
    /// How many notes are heard: tied ones are one.
    pub sounds: u32,
}

/// A place by bar and beat.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, JsonSchema)]
pub struct At {
    /// Printed number of the bar.
    pub bar: String,
    /// The same bar counted from 0.
    pub bar_index: u32,
    /// The beat, from 1.
    pub beat: String,
    /// The note that counts as one beat: the time signature's lower number.
    pub beat_unit: u32,
}

/// A typed fact: what is asked or given, with its unit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "unit", content = "value", rename_all = "kebab-case")]
pub enum Measure {
    /// A dynamic mark.
    Dynamic(String),
    /// A sounding pitch.
    Pitch(String),
    /// Seconds.
    Seconds(f64),
    /// Notes a second.
    NotesPerSecond(f64),
    /// Semitones.
    Semitones(f64),
    /// Cents.
    Cents(f64),
    /// Metres a second.
    MetresPerSecond(f64),
    /// Full breaths.
    Breaths(f64),
    /// A share from 0 to 1.
    Share(f64),
    /// A count.
    Count(u32),
    /// Quarter notes a minute.
    Tempo(f64),
    /// A word: a clef, a mute.
    Word(String),
}

/// A passage taken up or down by octaves, as the cure of a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OctaveMove {
    /// Octaves up; negative: down.
    pub octaves: i32,
    /// What the finding's worst note then sounds.
    pub sounding: Option<String>,
    /// Its first note.
    pub from: At,
    /// Its last note.
    pub to: At,
    /// How many written notes move.
    pub notes: u32,
    /// How sure it is.
    pub standing: Standing,
    /// Rules whose findings here go away.
    pub clears: Vec<String>,
    /// Rules whose findings here stay.
    pub leaves: Vec<String>,
    /// Why a person should look first; `null` when it is safe.
    pub why_not_safe: Option<String>,
    /// What it does to a part that doubles it, one clause.
    pub doubling: Option<String>,
    /// What is to be looked at on the page afterwards, one clause; `null` where it reads as before.
    pub layout: Option<String>,
}

/// How sure a move is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Clears what it says and harms nothing.
    Safe,
    /// Cures, but changes something a person should hear first.
    Review,
    /// No move serves.
    Manual,
}

impl Standing {
    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            Standing::Safe => "safe",
            Standing::Review => "review",
            Standing::Manual => "manual",
        }
    }
}

/// All the moves of one score.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Revision {
    /// Where the revised copy was written; `null` when none was.
    pub path: Option<String>,
    /// Its moves, by part and place.
    pub moves: Vec<Move>,
}

/// One move of a revision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Move {
    /// Id of the part.
    pub part: String,
    /// Name of the part.
    pub part_name: String,
    /// Octaves up; negative: down.
    pub octaves: i32,
    /// Its first note.
    pub from: At,
    /// Its last note.
    pub to: At,
    /// How many written notes move.
    pub notes: u32,
    /// How sure it is.
    pub standing: Standing,
    /// Whether the revised copy has it.
    pub made: bool,
    /// What its worst note sounds now.
    pub before: Option<String>,
    /// What its worst note then sounds.
    pub sounding: Option<String>,
    /// Rules whose findings here go away.
    pub clears: Vec<String>,
    /// Rules whose findings here stay.
    pub leaves: Vec<String>,
    /// Why a person should look first; `null` when it is safe.
    pub why_not_safe: Option<String>,
    /// What it does to a part that doubles it, one clause.
    pub doubling: Option<String>,
    /// What is to be looked at on the page afterwards, one clause; `null` where it reads as before.
    pub layout: Option<String>,
}

/// Why a finding is let stand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Waived {
    /// `settings`, `score` or `baseline`.
    pub by: String,
    /// The reason in the settings or the words in the score; `null` for a baseline.
    pub because: Option<String>,
}

impl Waived {
    /// Whether it stands in the baseline.
    pub fn is_accepted(&self) -> bool {
        self.by == "baseline"
    }
}

/// How much was found in one score, shown or not. What is waived counts only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct Counts {
    /// Errors.
    pub error: u32,
    /// Warnings.
    pub warning: u32,
    /// Notes.
    pub note: u32,
    /// Findings let stand by a waiver or a baseline.
    pub waived: u32,
    /// Of those, the ones that stand in the baseline.
    pub accepted: u32,
    /// Octave moves offered, each counted once however many findings it cures.
    pub octave_moves: u32,
}

/// Totals. What is waived counts only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, JsonSchema)]
pub struct Summary {
    /// Errors.
    pub error: u32,
    /// Warnings.
    pub warning: u32,
    /// Notes.
    pub note: u32,
    /// Findings let stand by a waiver or a baseline.
    pub waived: u32,
    /// Of those, the ones that stand in the baseline.
    pub accepted: u32,
    /// Octave moves offered, each counted once however many findings it cures.
    pub octave_moves: u32,
    /// Scores read.
    pub scores: u32,
    /// Scores that could not be read.
    pub unread: u32,
}

/// Thousandths are plenty, and the same on every machine.
pub(super) fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde's signature.
pub(super) fn milliseconds<S: Serializer>(value: &f64, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_f64(rounded(*value))
}

#[allow(clippy::ref_option, clippy::trivially_copy_pass_by_ref)] // serde's signature.
fn milliseconds_if_any<S: Serializer>(value: &Option<f64>, to: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => milliseconds(value, to),
        None => to.serialize_none(),
    }
}

#[allow(clippy::ref_option, clippy::trivially_copy_pass_by_ref)] // serde's signature.
fn whole_where_it_is<S: Serializer>(value: &Option<f64>, to: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(midi) if midi.fract() == 0.0 => to.serialize_i64(*midi as i64),
        Some(midi) => to.serialize_f64(*midi),
        None => to.serialize_none(),
    }
}
