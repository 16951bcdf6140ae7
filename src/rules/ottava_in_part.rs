//! `ottava-in-part`: an octave line over notes that players read at pitch.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::score::{Line, Ottava};

pub(super) const RULE: Rule = Rule {
    name: "ottava-in-part",
    family: Family::Notation,
    severity: Severity::Note,
    scope: Scope::Desk(check),
    speaks_for: &[],
    page: Page {
        finds: "An octave line (8vb, 8va) over notes that players of the instrument read at pitch.",
        matters: "Tubists read ledger lines every day; an octave line makes them stop and reckon.",
        instead: "Write the notes at pitch; keep 8vb for the few notes below them.",
        reads: &["notation.ottava_from", "notation.ledger_lines"],
        sources: &["common practice", "where an octave line begins to help: proposal"],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    let ottavas = || at.desk.part.ottavas.iter().filter(|ottava| ottava.octaves != 0);
    at.desk
        .lines
        .iter()
        .flat_map(|line| ottavas().filter_map(move |ottava| of_ottava(at, line, ottava)))
        .collect()
}

/// Speaks when every note under the line reads well without it.
fn of_ottava(at: &AtDesk<'_>, line: &Line, ottava: &Ottava) -> Option<Finding> {
    let part = at.desk.part;
    let under: Vec<usize> = (0..line.played.len())
        .filter(|&index| {
            let played = &line.played[index];
            played.onset >= ottava.from
                && played.onset < ottava.to
                && !played.shared
                && at.desk.first_note(played).staff == ottava.staff
        })
        .collect();
    let notation = &at.desk.instrument_at(line, ottava.from).notation;
    let reads_at_pitch = |index: &usize| {
        let played = &line.played[*index];
        if ottava.octaves < 0 {
            return played.sounding >= *notation.ottava_from;
        }
        part.clef_at(played.onset, ottava.staff)
            .and_then(|clef| clef.ledger_lines(played.written))
            .is_some_and(|lines| lines <= i32::from(*notation.ledger_lines_above))
    };
    if under.is_empty() || !under.iter().all(reads_at_pitch) {
        return None;
    }
    let lowest = under.iter().map(|&index| line.played[index].sounding).min()?;
    let (sign, message) = if ottava.octaves < 0 {
        let from = *notation.ottava_from;
        ("8vb", format!("an 8vb line stands over {lowest}; down to {from} it is read at pitch"))
    } else {
        ("8va", format!("an 8va line stands over {lowest}; at pitch it is still near the staff"))
    };
    let fault = Fault::of(under[0], Severity::Note, message)
        .asked(Measure::Word(sign.to_owned()))
        .on(&notation.ottava_from.ground);
    engine::finding_about(at.section.score, at.desk, line, &RULE, &under, under[0], fault)
}
