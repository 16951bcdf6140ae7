//! `unused-waiver`: a waiver that lets nothing stand.

use super::{Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Place, Severity};
use crate::score::{Direction, PartInfo, Score};
use crate::settings::Waiver;

pub(super) const RULE: Rule = Rule {
    name: "unused-waiver",
    family: Family::Housekeeping,
    severity: Severity::Note,
    scope: Scope::Settings,
    speaks_for: &[],
    page: Page {
        finds: "A waiver, in the settings or in the score, that lets no finding stand.",
        matters: "It may hide the next fault that turns up in its place, and it makes a reader think that something is meant there.",
        instead: "Take it out, or mend its rule, part or bars.",
        reads: &[],
        sources: &["common practice"],
    },
};

/// Of a waiver of the settings.
pub fn in_settings(waiver: &Waiver) -> Finding {
    let message =
        format!("the waiver of {} in line {} of the settings lets nothing stand", waiver.rule, waiver.line);
    engine::finding_at(&RULE, None, Place::default(), Fault::of(0, Severity::Note, message))
}

/// Of the words `ok: rule` in a part, for one of the rules they name.
pub fn in_score(score: &Score, part: &PartInfo, words: &Direction, rule: &str) -> Finding {
    let place = Place { line: words.line, ..Place::at(score, words.bar, words.bar_onset) };
    let message =
        format!("\"{}\" lets nothing stand: {rule} finds nothing in the passage there", words.text.trim());
    engine::finding_at(&RULE, Some(part.index), place, Fault::of(0, Severity::Note, message))
}
