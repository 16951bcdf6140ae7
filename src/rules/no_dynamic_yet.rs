//! `no-dynamic-yet`: a part that plays before any dynamic mark.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Severity};

pub(super) const RULE: Rule = Rule {
    name: "no-dynamic-yet",
    family: Family::Loudness,
    severity: Severity::Note,
    scope: Scope::Desk(check),
    speaks_for: &[],
    page: Page {
        finds: "A part that begins to play before its first dynamic mark.",
        matters: "The player asks how loud, and until a mark stands loudness is not judged here.",
        instead: "Write a dynamic at the first entry; an exporter may have left it in another staff or as plain text.",
        reads: &["sustain.unmarked"],
        sources: &["common practice"],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    let unmarked = |line: &crate::score::Line| -> Vec<usize> {
        let until = line.played.iter().position(|played| played.loudest.is_some());
        (0..until.unwrap_or(line.played.len())).filter(|&index| !line.played[index].shared).collect()
    };
    // Said once a part, of the line that plays first without a mark.
    let earliest = at
        .desk
        .lines
        .iter()
        .map(|line| (line, unmarked(line)))
        .filter(|(_, notes)| !notes.is_empty())
        .min_by_key(|(line, notes)| line.played[notes[0]].onset);
    let Some((line, notes)) = earliest else { return Vec::new() };
    let message = if notes.len() == line.played.len() {
        let unmarked = *at.desk.instrument_at(line, line.played[notes[0]].onset).sustain.law.unmarked;
        format!(
            "the part has no dynamic mark at all; air is reckoned as for {unmarked}, loudness is not judged"
        )
    } else {
        format!("the part plays {} before its first dynamic mark", wording::count(notes.len(), "note"))
    };
    let fault = Fault::of(notes[0], Severity::Note, message);
    engine::finding_about(at.section.score, at.desk, line, &RULE, &notes, notes[0], fault)
        .into_iter()
        .collect()
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn it_is_said_once_of_the_first_notes() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
F2 G2 mf A2
^^^^^ the part plays 2 notes before its first dynamic mark
",
        );
    }
}
