//! `too-many-ledger-lines`: a note further off the staff than its players read at sight.

use super::{AtNote, Family, Fault, Page, Rule, Scope, wording};
use crate::finding::{Measure, Severity};

pub(super) const RULE: Rule = Rule {
    name: "too-many-ledger-lines",
    family: Family::Notation,
    severity: Severity::Note,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note that stands on more ledger lines than players of the instrument expect.",
        matters: "It is misread by a third in the first take.",
        instead: "Use an 8vb line far below the staff, a tenor clef far above it, or write the note's name beside it.",
        reads: &["notation.ledger_lines"],
        sources: &["common practice", "lines a player expects: proposal"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let notation = &at.profile.notation;
    let staff = at.desk.first_note(at.played).staff;
    let clef = at.desk.part.clef_at(at.played.onset, staff)?;
    let lifted = at.desk.part.ottava_at(at.played.onset, staff);
    let printed = at.played.written.up_octaves(-lifted);
    let lines = clef.ledger_lines(printed)?;
    let (side, expected) = if lines < 0 {
        ("below", &notation.ledger_lines_below)
    } else {
        ("above", &notation.ledger_lines_above)
    };
    let drawn = lines.unsigned_abs();
    if drawn <= u32::from(**expected) {
        return None;
    }
    let message = format!(
        "{printed} stands on {} {side} the staff; players of {} expect {expected} at most",
        wording::count(drawn as usize, "ledger line"),
        at.profile.a_title
    );
    Some(
        Fault::of(at.index, Severity::Note, message)
            .by(f64::from(drawn))
            .asked(Measure::Count(drawn))
            .limit(Measure::Count(u32::from(**expected)))
            .on(&expected.ground),
    )
}
