//! What is wrong, where, how badly, and what would cure it.
//!
//! A finding's words are written in its rule and nowhere else; the typed facts travel beside them.

use std::fmt;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::music::{Dynamic, Length, Onset, Seconds, Sounding, Written};
use crate::score::{Note, Score};

/// What kind of ground a number stands on, strongest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    /// A figure in a book, a paper, a standard or a reference page.
    #[serde(alias = "printed")]
    Published,
    /// Measured on instruments, players or scores.
    Measured,
    /// A player or teacher says so.
    Reported,
    /// Follows from a stated formula.
    Computed,
    /// What every player of the trade takes for granted; no source.
    CommonPractice,
    /// A figure of ours, tunable.
    Proposal,
    /// From memory, unverified.
    FromMemory,
}

/// On what ground a number stands: its kind, and the sources that are cited for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ground {
    /// The kind of the source that carries the number, which is the one cited first.
    pub basis: Basis,
    /// Each source in words (author, title, year), the one that carries the number first; "common practice", "our
    /// estimate" and "from memory" where there is none.
    pub sources: Arc<[String]>,
}

/// A number that judges a player, with its ground.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sourced<T> {
    /// The number.
    pub value: T,
    /// What it stands on.
    pub ground: Ground,
}

/// How bad: in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// A risk at the stand.
    Warning,
    /// Cannot be played as written.
    Error,
}

/// One remark on one passage.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The rule that speaks.
    pub rule: &'static str,
    /// How bad.
    pub severity: Severity,
    /// [`PartInfo::index`](crate::score::PartInfo::index) of the part; `None` for the whole score.
    pub part: Option<u32>,
    /// Name of the profile it was judged by; `None` where none was.
    pub profile: Option<String>,
    /// Its first note, or the place it is about.
    pub place: Place,
    /// Where it ends and how many notes it has.
    pub span: Span,
    /// The worst note, which the words are about.
    pub worst: Worst,
    /// What the score asks.
    pub asked: Option<Measure>,
    /// What the instrument or player gives.
    pub limit: Option<Measure>,
    /// The fact and the limit, one sentence without a full stop.
    pub message: String,
    /// The way out in words, one sentence, where it is no octave move.
    pub instead: Option<String>,
    /// The octave move that cures it.
    pub octave_move: Option<OctaveMove>,
    /// The notes it is about: indices into [`Part::notes`](crate::score::Part::notes), in order.
    pub notes: Vec<u32>,
    /// In which pass of a repeat, when not the first.
    pub pass: Option<u32>,
    /// What the number stands on that decided.
    pub ground: Ground,
    /// Why it is let stand, if it is.
    pub waived: Option<Waived>,
}

/// A place in the written score.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Place {
    /// Index into [`Score::bars`].
    pub bar_index: u32,
    /// The printed bar number.
    pub bar: String,
    /// Counted from 1 in units of the time signature's lower number.
    pub beat: Length,
    /// The time signature's lower number: which note counts as one beat.
    pub beat_unit: u32,
    /// Quarter notes from the start of the score.
    pub onset: Onset,
    /// Staff within the part, from 1.
    pub staff: u8,
    /// Voice as the score names it.
    pub voice: String,
    /// Line in the source, from 1.
    pub line: u32,
}

/// Where a finding ends.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Span {
    /// The last note's place.
    pub to: Place,
    /// How many written notes (a tied note counts each).
    pub notes: u32,
    /// How many notes are heard: tied ones are one.
    pub sounds: u32,
}

/// The worst note of a finding.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Worst {
    /// Its place.
    pub place: Place,
    /// What stands on the page.
    pub written: Option<Written>,
    /// What it sounds.
    pub sounding: Option<Sounding>,
    /// The level asked.
    pub dynamic: Option<Dynamic>,
    /// The bar whose mark or words set that level; `None` where an attack or a hairpin did.
    pub marked_in: Option<MarkedIn>,
    /// How long it sounds.
    pub seconds: Option<Seconds>,
}

/// A bar in which a level is marked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkedIn {
    /// Index into [`Score::bars`].
    pub bar_index: u32,
    /// The printed bar number.
    pub bar: String,
}

/// A typed fact: what is asked or what is given, with its unit.
#[derive(Clone, Debug, PartialEq)]
pub enum Measure {
    /// A dynamic mark.
    Dynamic(Dynamic),
    /// A sounding pitch.
    Pitch(Sounding),
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
    /// Shares of one full breath.
    Breaths(f64),
    /// A share from 0 to 1.
    Share(f64),
    /// A count of notes, lines, players.
    Count(u32),
    /// Quarter notes a minute.
    Tempo(f64),
    /// Anything that is only a word (a clef, a mute).
    Word(String),
}

/// A passage taken up or down by octaves.
#[derive(Clone, Debug, PartialEq)]
pub struct OctaveMove {
    /// Octaves up; negative: down.
    pub octaves: i8,
    /// What the worst note then sounds.
    pub sounding: Option<Sounding>,
    /// The first note's place.
    pub from: Place,
    /// The last note's place.
    pub to: Place,
    /// The notes that move: indices into [`Part::notes`](crate::score::Part::notes), in order.
    pub notes: Vec<u32>,
    /// How sure it is.
    pub standing: Standing,
    /// Rules whose findings here go away.
    pub clears: Vec<&'static str>,
    /// Rules whose findings here stay.
    pub leaves: Vec<&'static str>,
    /// Why a person should look first; `None` when it is safe.
    pub why_not_safe: Option<String>,
    /// What it does to a part that doubles it: "keeps the octave with the basses". One clause.
    pub doubling: Option<String>,
    /// What is to be looked at on the page afterwards: "an 8vb line stands over it". One clause.
    pub layout: Option<String>,
}

/// How sure a move is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Standing {
    /// Clears what it says and harms nothing.
    Safe,
    /// Cures, but changes something a person should hear first.
    Review,
    /// No move serves.
    Manual,
}

/// All the moves of one score.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Revision {
    /// By part and place.
    pub moves: Vec<PartMove>,
}

/// One move with its part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartMove {
    /// [`PartInfo::index`](crate::score::PartInfo::index).
    pub part: u32,
    /// The move.
    pub octave_move: OctaveMove,
}

/// Why a finding is let stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Waived {
    /// By a waiver of the settings, with its reason.
    Settings {
        /// `because`.
        because: String,
    },
    /// By `ok: rule` in the score.
    InScore {
        /// The words there.
        text: String,
    },
    /// It stood in the baseline.
    Baseline,
}

impl Place {
    /// The place of a note; `voice` is its name in the score.
    pub fn of_note(score: &Score, note: &Note, voice: &str) -> Place {
        Place {
            staff: note.staff,
            voice: voice.to_owned(),
            line: note.line,
            ..Place::at(score, note.bar, note.bar_onset)
        }
    }

    /// A place so far into a bar, for no note in particular.
    pub fn at(score: &Score, bar: u32, into: Length) -> Place {
        let Some(there) = score.bars.get(bar as usize) else {
            return Place { staff: 1, ..Place::default() };
        };
        Place {
            bar_index: bar,
            bar: there.number.clone(),
            beat: there.beat_at(into),
            beat_unit: there.beat_unit(),
            onset: there.start + into,
            staff: 1,
            voice: String::new(),
            line: 0,
        }
    }
}

impl Place {
    /// The place within its bar, as players say it.
    pub fn beat_said(&self) -> String {
        beat_said(&self.beat.to_string(), self.beat_unit)
    }
}

impl Basis {
    /// As it is written in a profile and in reports.
    pub const fn word(self) -> &'static str {
        match self {
            Basis::Published => "published",
            Basis::Measured => "measured",
            Basis::Reported => "reported",
            Basis::Computed => "computed",
            Basis::CommonPractice => "common-practice",
            Basis::Proposal => "proposal",
            Basis::FromMemory => "from-memory",
        }
    }

    /// Whether it is no more than our estimate: what rests on it alone is a note at most.
    pub const fn is_estimate(self) -> bool {
        matches!(self, Basis::Proposal | Basis::FromMemory)
    }
}

impl Ground {
    /// Of what is the custom of the trade and no number.
    pub fn common_practice() -> Ground {
        Ground { basis: Basis::CommonPractice, sources: Arc::new(["common practice".to_owned()]) }
    }

    /// A finding of this severity, or the heaviest that this ground bears: a note for an estimate.
    pub fn bears(&self, severity: Severity) -> Severity {
        if self.basis.is_estimate() { severity.min(Severity::Note) } else { severity }
    }
}

impl Ground {
    /// What a number stands on that is made of two: on the weaker of both, and on the sources of both.
    #[must_use]
    pub fn and(&self, other: &Ground) -> Ground {
        let (first, second) = if other.basis > self.basis { (other, self) } else { (self, other) };
        let more = second.sources.iter().filter(|source| !first.sources.contains(source));
        Ground { basis: first.basis, sources: first.sources.iter().chain(more).cloned().collect() }
    }
}

impl<T> Sourced<T> {
    /// What is made of it, on the same ground.
    pub fn map<U>(&self, make: impl FnOnce(&T) -> U) -> Sourced<U> {
        Sourced { value: make(&self.value), ground: self.ground.clone() }
    }
}

impl<T: fmt::Display> fmt::Display for Sourced<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.value.fmt(f)
    }
}

impl<T> std::ops::Deref for Sourced<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}

impl Severity {
    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }
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

/// A place within a bar as players say it: "beat 3", "beat 2½", "last 32nd of beat 1", "2nd of 3 in beat 2". The beat is
/// counted from 1, as "15/8"; the unit is the note that counts as one (the time signature's lower number).
pub fn beat_said(beat: &str, unit: u32) -> String {
    let Some((whole, part, of)) = split_beat(beat) else { return format!("beat {beat}") };
    let (nth, every) = (part + 1, i64::from(unit) * of);
    match (part, of) {
        (0, _) => format!("beat {whole}"),
        (1, 2) => format!("beat {whole}½"),
        // What was never set to a grid has no name in the beat.
        _ if of > FINEST_NAMED => format!("within beat {whole}"),
        _ if of.count_ones() == 1 && nth == of => format!("last {} of beat {whole}", ordinal(every)),
        _ if of.count_ones() == 1 => format!("{} {} of beat {whole}", ordinal(nth), ordinal(every)),
        _ if nth == of => format!("last of {of} in beat {whole}"),
        _ => format!("{} of {of} in beat {whole}", ordinal(nth)),
    }
}

/// Beats are divided into so many at most that anyone counts.
const FINEST_NAMED: i64 = 16;

/// The beat that a place lies in and how far into it: "15/8" is beat 1, 7 of 8.
fn split_beat(beat: &str) -> Option<(i64, i64, i64)> {
    let (numerator, denominator) = beat.split_once('/').unwrap_or((beat, "1"));
    let (numerator, denominator): (i64, i64) = (numerator.parse().ok()?, denominator.parse().ok()?);
    (denominator > 0)
        .then(|| (numerator.div_euclid(denominator), numerator.rem_euclid(denominator), denominator))
}

/// The beat that a place lies in: 2 for "5/2".
pub fn beat_number(beat: &str) -> Option<i64> {
    split_beat(beat).map(|(whole, ..)| whole)
}

/// "1st", "2nd", "3rd", "16th", "32nd".
pub fn ordinal(number: i64) -> String {
    let ending = match (number % 100, number % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground(basis: Basis, sources: &[&str]) -> Ground {
        Ground { basis, sources: sources.iter().map(|source| (*source).to_owned()).collect() }
    }

    #[test]
    fn beats_are_said_as_at_the_stand() {
        for (beat, unit, said) in [
            ("3", 4, "beat 3"),
            ("5/2", 4, "beat 2½"),
            ("15/8", 4, "last 32nd of beat 1"),
            ("11/4", 4, "last 16th of beat 2"),
            ("9/4", 4, "2nd 16th of beat 2"),
            ("19/8", 4, "4th 32nd of beat 2"),
            ("7/4", 8, "last 32nd of beat 1"),
            ("7/3", 4, "2nd of 3 in beat 2"),
            ("8/3", 4, "last of 3 in beat 2"),
            ("13/6", 2, "2nd of 6 in beat 2"),
            ("967/480", 4, "within beat 2"),
        ] {
            assert_eq!(beat_said(beat, unit), said);
        }
    }

    #[test]
    fn an_estimate_bears_no_more_than_a_note() {
        for basis in [Basis::Proposal, Basis::FromMemory] {
            assert_eq!(ground(basis, &[]).bears(Severity::Error), Severity::Note);
        }
        for basis in
            [Basis::Published, Basis::Measured, Basis::Reported, Basis::Computed, Basis::CommonPractice]
        {
            assert_eq!(ground(basis, &[]).bears(Severity::Error), Severity::Error);
            assert_eq!(ground(basis, &[]).bears(Severity::Note), Severity::Note);
        }
    }

    #[test]
    fn what_is_made_of_two_numbers_stands_on_the_weaker() {
        let book = ground(Basis::Published, &["a book", "a player"]);
        let ours = ground(Basis::Proposal, &["our estimate", "a player"]);
        let both = ground(Basis::Proposal, &["our estimate", "a player", "a book"]);
        assert_eq!((book.and(&ours), ours.and(&book)), (both.clone(), both));
    }
}
