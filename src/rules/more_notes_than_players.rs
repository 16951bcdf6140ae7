//! `more-notes-than-players`: more notes at once than there are players to play them.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Measure, Severity};

pub(super) const RULE: Rule = Rule {
    name: "more-notes-than-players",
    family: Family::Notation,
    severity: Severity::Warning,
    scope: Scope::Desk(check),
    speaks_for: &[],
    page: Page {
        finds: "More notes at once in a part than players who read it.",
        matters: "A brass player has one note at a time: one of the notes is left out, and nobody knows which.",
        instead: "Write who plays which (1., 2., a2, div.), split the staff, or name the number of players in the settings.",
        reads: &[],
        sources: &["common practice"],
    },
};

/// Said once a part, of the first line that has no player.
fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    let players = at.desk.players;
    let Some(line) = at.desk.lines.iter().find(|line| line.player > players) else { return Vec::new() };
    let notes: Vec<usize> = (0..line.played.len()).filter(|&index| !line.played[index].shared).collect();
    let Some(&first) = notes.first() else { return Vec::new() };
    let most = at.desk.lines.iter().map(|line| line.player).max().unwrap_or(players);
    let message = format!(
        "the part has up to {} at once and {} to play them",
        wording::count(usize::from(most), "note"),
        wording::count(usize::from(players), "player")
    );
    let fault = Fault::of(first, Severity::Warning, message)
        .instead("Say in the part's name how many read it, or give the notes to another part")
        .asked(Measure::Count(u32::from(most)))
        .limit(Measure::Count(u32::from(players)));
    engine::finding_about(at.section.score, at.desk, line, &RULE, &notes, first, fault).into_iter().collect()
}
