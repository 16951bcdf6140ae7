//! `interval-too-low`: two notes of the low brass too close together for so low a place.

use std::collections::BTreeMap;

use super::{Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::Section;
use crate::playing::doublings::{Together, together};

pub(super) const RULE: Rule = Rule {
    name: "interval-too-low",
    family: Family::Section,
    severity: Severity::Warning,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "Two notes of the low brass that sound together, closer than so low a place bears.",
        matters: "Low down, close intervals beat and growl: nobody hears the chord, and the two players fight over the tuning.",
        instead: "Open the spacing: an octave between the lowest two, close positions higher up.",
        reads: &["section:intervals"],
        sources: &[
            "published low-interval-limit charts",
            "common fundamental at A0 or higher, rec.music.theory",
            "N. Rimsky-Korsakov, Principles of Orchestration, 1922",
        ],
    },
};

/// One fault a lower note, of its worst neighbour above.
fn check(section: &Section<'_>) -> Vec<Finding> {
    let mut worst: BTreeMap<(usize, usize, usize), Fault> = BTreeMap::new();
    for pair in together(section) {
        let Some(fault) = of_pair(section, &pair) else { continue };
        let heavier = worst
            .get(&pair.lower)
            .is_none_or(|said| (said.severity, said.excess) < (fault.severity, fault.excess));
        if heavier {
            worst.insert(pair.lower, fault);
        }
    }
    let mut faults: BTreeMap<(usize, usize), Vec<Fault>> = BTreeMap::new();
    for ((desk, line, _), fault) in worst {
        faults.entry((desk, line)).or_default().push(fault);
    }
    engine::joined(section, &RULE, faults)
}

fn of_pair(section: &Section<'_>, pair: &Together) -> Option<Fault> {
    let limits = &section.limits;
    let (lower_desk, lower) = section.played(pair.lower)?;
    let (upper_desk, upper) = section.played(pair.upper)?;
    let semitones = upper.sounding.height().semitones_above(lower.sounding.height());
    let limit =
        limits.low_intervals.iter().find(|low| i32::from(low.semitones) == semitones.round() as i32)?;
    if pair.seconds < limits.interval_shortest || lower.sounding >= limit.clear_from {
        return None;
    }
    let below = limit.clear_from.height().semitones_above(lower.sounding.height());
    let growls =
        below >= limits.interval_weighs && limit.rooted_from.is_some_and(|from| lower.sounding < from);
    let severity = if growls { Severity::Warning } else { Severity::Note };
    let with = if lower_desk.part.info.index == upper_desk.part.info.index {
        String::new()
    } else {
        format!(" ({})", upper_desk.part.info.name)
    };
    let message = format!(
        "{} and {}{with} sound together, {}; it is clear from {} up",
        lower.sounding,
        upper.sounding,
        wording::interval(limit.semitones),
        limit.clear_from
    );
    Some(
        Fault::of(pair.lower.2, severity, message)
            .by(below)
            .asked(Measure::Pitch(lower.sounding))
            .limit(Measure::Pitch(limit.clear_from)),
    )
}
