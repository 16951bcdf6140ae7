//! `voices-crossed`: a lower instrument above a higher one.

use std::collections::BTreeMap;

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::doublings::{Together, together};
use crate::playing::hand::at as in_hand_at;
use crate::playing::{Desk, Section};
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
    let mut worst: BTreeMap<(usize, usize, usize), (Together, f64)> = BTreeMap::new();
    for pair in together(section, |low, high| cross(section, low, high)) {
        let (Some((_, low)), Some((_, high))) = (section.played(pair.lower), section.played(pair.upper))
        else {
            continue;
        };
        let by = high.sounding.height().semitones_above(low.sounding.height());
        if pair.seconds < *section.limits.interval_shortest
            || worst.get(&pair.upper).is_some_and(|&(_, said)| said >= by)
            || at.is_spoken_for(&RULE, pair.lower)
            || at.is_spoken_for(&RULE, pair.upper)
        {
            continue;
        }
        worst.insert(pair.upper, (pair, by));
    }
    let mut faults: BTreeMap<(usize, usize), Vec<Fault>> = BTreeMap::new();
    for ((desk, line, _), (pair, by)) in worst {
        faults.entry((desk, line)).or_default().extend(fault(section, pair, by));
    }
    engine::joined(section, &RULE, faults)
}

/// Whether two notes, each with its desk, have one rhythm and the upper one is in the lower instrument, further down
/// the page.
fn cross(
    section: &Section<'_>,
    (low_desk, low): (usize, &Played),
    (high_desk, high): (usize, &Played),
) -> bool {
    if high_desk == low_desk || (high.onset, high.end) != (low.onset, low.end) {
        return false;
    }
    let (Some(above), Some(below)) = (section.desks.get(low_desk), section.desks.get(high_desk)) else {
        return false;
    };
    let reaches = |desk: &Desk<'_>| in_hand_at(&desk.instruments, low.onset).range.usual.0;
    below.part.info.index > above.part.info.index
        && high.sounding > low.sounding
        && reaches(below) < reaches(above)
}

fn fault(section: &Section<'_>, pair: Together, by: f64) -> Option<Fault> {
    let (low_desk, low) = section.played(pair.lower)?;
    let (_, high) = section.played(pair.upper)?;
    let message = format!(
        "{} lies above {} of {}, the higher instrument",
        high.sounding, low.sounding, low_desk.part.info.name
    );
    Some(
        Fault::of(pair.upper.2, Severity::Note, message)
            .by(by)
            .asked(Measure::Pitch(high.sounding))
            .limit(Measure::Pitch(low.sounding)),
    )
}
