//! What a person may do where no octave move serves.

use crate::finding::{Finding, OctaveMove, Standing};

/// A move of no octaves that says what else would help.
pub(super) fn manual(finding: &Finding) -> OctaveMove {
    OctaveMove {
        octaves: 0,
        sounding: None,
        from: finding.place.clone(),
        to: finding.span.to.clone(),
        notes: finding.notes.clone(),
        standing: Standing::Manual,
        clears: Vec::new(),
        leaves: vec![finding.rule],
        why_not_safe: Some(what_else(finding.rule).to_owned()),
        doubling: None,
        layout: None,
    }
}

fn what_else(rule: &str) -> &'static str {
    match rule {
        "too-loud-for-register" | "hit-too-low" => {
            "no octave serves the passage: mark it softer, or let another instrument double it an octave above"
        }
        "too-soft-for-register" => {
            "no octave serves the passage: mark it louder, or give it to an instrument at home in that register"
        }
        _ => {
            "no octave serves the passage: give it to an instrument at home in that register, or let it rest there"
        }
    }
}
