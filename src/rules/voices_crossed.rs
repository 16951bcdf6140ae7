//! `voices-crossed`: a lower instrument above a higher one.

use std::collections::BTreeMap;

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::Section;
use crate::playing::doublings::{Together, together};
use crate::score::Played;

pub(super) const RULE: Rule = Rule {
    name: "voices-crossed",
    family: Family::Section,
    severity: Severity::Note,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "A lower instrument of the section that lies above a higher one moving with it.",
        matters: "The chord then has its bottom in the lighter instrument, and the two players take it for a copying fault.",
        instead: "Exchange the two notes, or move one part by an octave; keep it where each line sings better so.",
        reads: &["range.usual", "section:intervals.shortest"],
        sources: &["common practice"],
    },
};

fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    let mut worst: BTreeMap<(usize, usize, usize), Fault> = BTreeMap::new();
    let same_time = |low: &Played, high: &Played| (high.onset, high.end) == (low.onset, low.end);
    for pair in together(section, same_time) {
        if at.is_spoken_for(&RULE, pair.lower) || at.is_spoken_for(&RULE, pair.upper) {
            continue;
        }
        let Some(fault) = of_pair(section, &pair) else { continue };
        if worst.get(&pair.upper).is_none_or(|said| said.excess < fault.excess) {
            worst.insert(pair.upper, fault);
        }
    }
    let mut faults: BTreeMap<(usize, usize), Vec<Fault>> = BTreeMap::new();
    for ((desk, line, _), fault) in worst {
        faults.entry((desk, line)).or_default().push(fault);
    }
    engine::joined(section, &RULE, faults)
}

/// Of a pair with one rhythm whose upper note is in the lower instrument, further down the page.
fn of_pair(section: &Section<'_>, pair: &Together) -> Option<Fault> {
    let (low_desk, low) = section.played(pair.lower)?;
    let (high_desk, high) = section.played(pair.upper)?;
    let reaches = |desk: &crate::playing::Desk<'_>| desk.horn_at(low.onset).range.usual.0;
    let crossed = high_desk.part.info.index > low_desk.part.info.index
        && reaches(high_desk) < reaches(low_desk)
        && high.sounding > low.sounding
        && pair.seconds >= section.limits.interval_shortest;
    if !crossed {
        return None;
    }
    let message = format!(
        "{} lies above {} of {}, the higher instrument",
        high.sounding, low.sounding, low_desk.part.info.name
    );
    Some(
        Fault::of(pair.upper.2, Severity::Note, message)
            .by(high.sounding.height().semitones_above(low.sounding.height()))
            .asked(Measure::Pitch(high.sounding))
            .limit(Measure::Pitch(low.sounding)),
    )
}
