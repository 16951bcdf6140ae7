//! The rules: one file each, one table that lists them, and the engine that runs them.
//!
//! In goes a [`Section`], out come findings in a total order. A rule looks at one note, one passage, one
//! desk, the section or the score, and says what is wrong in its own words; the engine joins neighbouring
//! notes with the same trouble into one finding. No XML, no TOML, no printing here.

use crate::finding::{Finding, Measure, Severity};
use crate::playing::{Desk, Section};
use crate::profile::Profile;
use crate::score::{Line, Played};

/// One rule.
#[derive(Clone, Copy)]
pub struct Rule {
    /// kebab-case; names the fault; the file's name with `-` for `_`.
    pub name: &'static str,
    /// Its family.
    pub family: Family,
    /// The heaviest it says.
    pub severity: Severity,
    /// What it looks at, with the function that looks.
    pub scope: Scope,
    /// Its page.
    pub page: Page,
}

/// Families of rules, in the order of the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Family {
    Range,
    Loudness,
    Breath,
    Agility,
    Mechanism,
    Changes,
    Section,
    Notation,
    Reading,
    Housekeeping,
}

/// What a rule looks at.
#[derive(Clone, Copy)]
pub enum Scope {
    /// One played note. The engine joins neighbours of one passage into one finding.
    Note(fn(&AtNote<'_>) -> Option<Fault>),
    /// One passage of one line.
    Passage(fn(&AtPassage<'_>) -> Vec<Fault>),
    /// One desk.
    Desk(fn(&Desk<'_>, &Section<'_>) -> Vec<Finding>),
    /// All desks together.
    Section(fn(&Section<'_>) -> Vec<Finding>),
    /// The waivers of settings and score, which `check` applies; the rule itself only has its page.
    Settings,
}

/// What a rule's page says; every field is required, so that no page has a hole.
#[derive(Clone, Copy)]
pub struct Page {
    /// What it finds, one sentence.
    pub finds: &'static str,
    /// Why it matters at the stand.
    pub matters: &'static str,
    /// What to do.
    pub instead: &'static str,
    /// The profile keys it reads (`loudness.rows`, `breath.quick`).
    pub reads: &'static [&'static str],
    /// Sources, or "common practice".
    pub sources: &'static [&'static str],
}

/// A played note with all that surrounds it.
#[derive(Clone, Copy)]
pub struct AtNote<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    /// The desk.
    pub desk: &'a Desk<'a>,
    /// The player's line.
    pub line: &'a Line,
    /// Index into [`Line::played`].
    pub index: usize,
    /// The note.
    pub played: &'a Played,
    /// The horn in hand.
    pub profile: &'a Profile,
}

/// A passage with all that surrounds it.
#[derive(Clone, Copy)]
pub struct AtPassage<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    /// The desk.
    pub desk: &'a Desk<'a>,
    /// The player's line.
    pub line: &'a Line,
    /// Index into [`Line::passages`].
    pub index: usize,
    /// The horn in hand at its start.
    pub profile: &'a Profile,
}

/// What a rule says of one note or passage, before it has a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// How bad.
    pub severity: Severity,
    /// How far beyond the limit, in the rule's own measure: of joined notes the one with the most is the worst.
    pub excess: f64,
    /// What the score asks.
    pub asked: Option<Measure>,
    /// What is given.
    pub limit: Option<Measure>,
    /// The fact and the limit.
    pub message: String,
    /// The way out in words.
    pub instead: Option<String>,
    /// First and last played note it is about, as indices into [`Line::played`] (inclusive). A note rule
    /// gives its own index twice.
    pub about: (usize, usize),
}

/// All rules, by family.
pub const RULES: &[Rule] = &[];

/// Judges a section by all rules: findings in score order, then by part, then by rule.
pub fn judge(_section: &Section<'_>) -> Vec<Finding> {
    Vec::new()
}
