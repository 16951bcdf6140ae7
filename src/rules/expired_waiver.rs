//! `expired-waiver`: a waiver of the settings whose last day is over.

use super::{Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Place, Severity};
use crate::settings::Waiver;

pub(super) const RULE: Rule = Rule {
    name: "expired-waiver",
    family: Family::Housekeeping,
    severity: Severity::Warning,
    scope: Scope::Settings,
    speaks_for: &[],
    page: Page {
        finds: "A waiver of the settings whose last day, `until`, is over.",
        matters: "It no longer lets anything stand; what it let stand is a finding again.",
        instead: "Look at the passage again: mend it, or give the waiver a later day or none.",
        reads: &[],
        sources: &["common practice"],
    },
};

/// Of a waiver whose last day lies before today; `None` where it has no last day.
pub fn of(waiver: &Waiver) -> Option<Finding> {
    let until = waiver.until?;
    let message = format!(
        "the waiver of {} in line {} of the settings ended on {until} (\"{}\")",
        waiver.rule, waiver.line, waiver.because
    );
    Some(engine::finding_at(&RULE, None, Place::default(), Fault::of(0, Severity::Warning, message)))
}
