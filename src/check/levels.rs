//! What the settings say of the weight of a rule's findings, applied to findings.

use crate::finding::Finding;
use crate::settings::{Level, Settings};

/// Gives findings the weight that the settings give their rules.
pub(super) fn weigh(findings: &mut Vec<Finding>, settings: &Settings) {
    findings.retain_mut(|finding| match settings.level(finding.rule) {
        Some(Level::Off) => false,
        Some(Level::Severity(severity)) => {
            finding.severity = severity;
            true
        }
        None => true,
    });
}
