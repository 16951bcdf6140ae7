//! `tempo-assumed`: music whose tempo the score does not give in numbers.

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Measure, Place, Severity};
use crate::music::{Length, Onset, TempoChange};
use crate::playing::Section;

pub(super) const RULE: Rule = Rule {
    name: "tempo-assumed",
    family: Family::Reading,
    severity: Severity::Note,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "Music for low brass whose tempo the score gives in no numbers, so that a customary one was taken.",
        matters: "Air, tonguing, slide and changes are reckoned in seconds: a wrong tempo makes every such remark wrong.",
        instead: "Write a metronome mark, or name the tempo with `--tempo` or `tempo` in the settings.",
        reads: &[],
        sources: &["common practice"],
    },
};

fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    let score = section.score;
    let changes = score.tempo.changes();
    let assumed: Vec<&TempoChange> = changes
        .iter()
        .enumerate()
        .filter(|(index, change)| change.assumed && is_played_in(section, change.at, changes.get(index + 1)))
        .map(|(_, change)| change)
        .collect();
    let Some(first) = assumed.first() else { return Vec::new() };
    let bar = score.bars.partition_point(|bar| bar.start <= first.at).saturating_sub(1);
    let into = score.bars.get(bar).map_or(Length::ZERO, |bar| first.at.since(bar.start));
    let place = Place::at(score, u32::try_from(bar).unwrap_or(0), into);
    let tempo = first.tempo.get();
    let more = match assumed.len() - 1 {
        0 => String::new(),
        further => format!(", and others at {}", wording::count(further, "more place")),
    };
    let assumed = match wording::reckoned_as(score, first) {
        Some(from_words) => from_words,
        None if changes.len() == 1 => {
            format!("the score gives no tempo; {tempo:.0} quarter notes a minute are assumed")
        }
        None => format!(
            "no tempo is given in numbers at bar {}; {tempo:.0} quarter notes a minute are assumed",
            place.bar
        ),
    };
    let message = format!("{assumed}{more}");
    let fault = Fault::of(0, Severity::Note, message)
        .limit(Measure::Tempo(tempo))
        .instead("Name the tempo with --tempo or in the settings");
    vec![engine::finding_at(&RULE, None, place, fault)]
}

fn is_played_in(section: &Section<'_>, from: Onset, next: Option<&TempoChange>) -> bool {
    let lines = section.desks.iter().flat_map(|desk| &desk.lines);
    lines
        .flat_map(|line| &line.played)
        .any(|played| played.end > from && next.is_none_or(|next| played.onset < next.at))
}
