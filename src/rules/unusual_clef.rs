//! `unusual-clef`: a clef that players of the instrument do not expect.

use std::collections::BTreeMap;

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::score::Line;

pub(super) const RULE: Rule = Rule {
    name: "unusual-clef",
    family: Family::Notation,
    severity: Severity::Note,
    scope: Scope::Desk(check),
    speaks_for: &["too-many-ledger-lines"],
    page: Page {
        finds: "A clef in which parts for the instrument are not written.",
        matters: "An orchestral tubist reads bass clef; a treble clef means a transposed part to one player and a concert one to the next.",
        instead: "Write bass clef with ledger lines (for trombone also tenor or alto clef), or give the part the transposition that goes with the clef.",
        reads: &["notation.clefs", "notation.traditions"],
        sources: &["F. Geib, 'Tuba', Instruments of the Modern Symphony Orchestra", "common practice"],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    at.desk.lines.iter().flat_map(|line| of_line(at, line)).collect()
}

/// One finding for each unexpected clef of a line.
fn of_line(at: &AtDesk<'_>, line: &Line) -> Vec<Finding> {
    let part = at.desk.part;
    let mut by_clef: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (index, played) in line.played.iter().enumerate().filter(|(_, played)| !played.shared) {
        let staff = at.desk.first_note(played).staff;
        let Some(clef) = part.clef_at(played.onset, staff) else { continue };
        let notation = &at.desk.instrument_at(line, played.onset).notation;
        let above = -part.transposition_at(played.onset, staff).semitones().round() as i32;
        let at_pitch = above.rem_euclid(12) == 0 && notation.clefs.contains(&clef);
        let by_tradition = notation
            .traditions
            .iter()
            .any(|tradition| tradition.clef == clef && tradition.written_above == above);
        if !at_pitch && !by_tradition {
            by_clef.entry(clef.to_string()).or_default().push(index);
        }
    }
    let said = by_clef.into_iter().filter_map(|(clef, notes)| {
        let first = *notes.first()?;
        let profile = at.desk.instrument_at(line, line.played.get(first)?.onset);
        let (instrument, ground) = (&profile.a_title, &profile.notation.clefs.ground);
        let message = format!("parts for {instrument} are not written in {clef} at this transposition");
        let fault = Fault::of(first, Severity::Note, message).asked(Measure::Word(clef)).on(ground);
        engine::finding_about(at.section.score, at.desk, line, &RULE, &notes, first, fault)
    });
    said.collect()
}
