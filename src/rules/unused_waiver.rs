//! `unused-waiver`: a waiver that lets nothing stand.

use super::{Family, Fault, Page, RULES, Rule, Scope, engine, present_name};
use crate::finding::{Finding, Place, Severity};
use crate::nearest;
use crate::score::{Direction, PartInfo, Score};
use crate::settings::{Pattern, Waiver};

pub(super) const RULE: Rule = Rule {
    name: "unused-waiver",
    family: Family::Housekeeping,
    severity: Severity::Note,
    scope: Scope::Settings,
    speaks_for: &[],
    page: Page {
        finds: "A waiver, in the settings or in the score, that lets no finding stand.",
        matters: "It may hide the next fault that turns up in its place, and it makes a reader think that something is meant there.",
        instead: "Take it out, or mend its rule, score, part or bars.",
        reads: &[],
        sources: &["common practice"],
    },
};

/// Why a waiver of the settings lets nothing stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Because<'a> {
    /// No score is called as it says; these are there.
    NoSuchScore(&'a [String]),
    /// No part is called as it says; these are there.
    NoSuchPart(&'a [String]),
    /// The rule finds nothing there.
    NothingFound,
}

/// Of a waiver of the settings.
pub fn in_settings(waiver: &Waiver, because: Because<'_>) -> Finding {
    let called = |kind: &str, pattern: Option<&Pattern>, there: &[String]| {
        let wanted = pattern.map_or("", Pattern::as_str);
        let hint = nearest::hint(wanted, there.iter().map(String::as_str));
        format!(": no {kind} is called '{wanted}'{hint}")
    };
    let why = match because {
        Because::NoSuchScore(there) => called("score", waiver.score.as_ref(), there),
        Because::NoSuchPart(there) => called("part", waiver.part.as_ref(), there),
        Because::NothingFound => String::new(),
    };
    let (rule, line) = (waiver.rule, waiver.line);
    let message = format!("the waiver of {rule} in line {line} of the settings lets nothing stand{why}");
    engine::finding_at(&RULE, None, Place::default(), Fault::of(0, Severity::Note, message))
}

/// Of the words `ok: rule` in a part, for one of the rules they name.
pub fn in_score(score: &Score, part: &PartInfo, words: &Direction, rule: &str) -> Finding {
    let place = Place { line: words.line, ..Place::at(score, words.bar, words.bar_onset) };
    let why = if present_name(rule).is_some() {
        format!("{rule} finds nothing in the passage there")
    } else {
        let hint = nearest::hint(rule, RULES.iter().map(|rule| rule.name));
        format!("no rule is called '{rule}'{hint}")
    };
    let message = format!("\"{}\" lets nothing stand: {why}", words.text.trim());
    engine::finding_at(&RULE, Some(part.index), place, Fault::of(0, Severity::Note, message))
}
