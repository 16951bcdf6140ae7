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
    /// How long it sounds.
    pub seconds: Option<Seconds>,
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
            onset: there.start + into,
            staff: 1,
            voice: String::new(),
            line: 0,
        }
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
/// A beat as musicians read it: "3", "2½", "4 2/7".
pub fn beat_as_read(beat: &str) -> String {
    let Some((numerator, denominator)) = beat.split_once('/') else { return beat.to_owned() };
    let (Ok(numerator), Ok(denominator)) = (numerator.parse::<i64>(), denominator.parse::<i64>()) else {
        return beat.to_owned();
    };
    if denominator <= 0 {
        return beat.to_owned();
    }
    let (whole, part) = (numerator.div_euclid(denominator), numerator.rem_euclid(denominator));
    match (part, denominator) {
        (1, 2) => format!("{whole}½"),
        (1, 3) => format!("{whole}⅓"),
        (2, 3) => format!("{whole}⅔"),
        (1, 4) => format!("{whole}¼"),
        (3, 4) => format!("{whole}¾"),
        _ => format!("{whole} {part}/{denominator}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground(basis: Basis, sources: &[&str]) -> Ground {
        Ground { basis, sources: sources.iter().map(|source| (*source).to_owned()).collect() }
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
