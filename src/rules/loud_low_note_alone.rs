//! `loud-low-note-alone`: a loud low note that no other instrument carries at the unison or octave.

use std::collections::BTreeMap;

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::playing::doublings::Doublings;

pub(super) const RULE: Rule = Rule {
    name: "loud-low-note-alone",
    family: Family::Section,
    severity: Severity::Warning,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "A loud, low, held note in an orchestral score that no other part carries at the unison or an octave.",
        matters: "The lowest octave carries little by itself, and it costs one player most of a breath in a moment.",
        instead: "Double it with basses or contrabassoon, or an octave above with a bass trombone.",
        reads: &["section:alone"],
        sources: &["common practice", "K. Schlesinger, 'Bombardon', Encyclopaedia Britannica, 1911"],
    },
};

fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    // Chamber music and extracts of the low brass alone do not show who else could carry a note.
    if section.score.passed_over.is_empty() {
        return Vec::new();
    }
    let limits = &section.limits;
    let doublings = Doublings::new(section);
    let mut faults: BTreeMap<(usize, usize), Vec<Fault>> = BTreeMap::new();
    for (d, desk) in section.desks.iter().enumerate() {
        for (l, line) in desk.lines.iter().enumerate() {
            for (index, played) in line.played.iter().enumerate().filter(|(_, played)| !played.shared) {
                let Some(level) = played.loudest.filter(|level| *level >= *limits.alone_from) else {
                    continue;
                };
                if played.sounding >= *limits.alone_below
                    || played.seconds < *limits.alone_longest
                    || desk
                        .lines
                        .iter()
                        .flat_map(|line| &line.played)
                        .any(|other| other.shared && other.chain == played.chain)
                    || doublings.carried(desk.part.info.index, played) >= *limits.doubling_share
                {
                    continue;
                }
                let message = format!(
                    "{} is held {level} for {} and no other part has it at the unison or an octave",
                    played.sounding, played.seconds
                );
                let fault = Fault::of(index, Severity::Warning, message)
                    .by(played.seconds.get())
                    .asked(Measure::Dynamic(level))
                    .on(&limits.alone_below.ground)
                    .instead("Double it with basses or another low part, at pitch or an octave above");
                faults.entry((d, l)).or_default().push(fault);
            }
        }
    }
    engine::joined(section, &RULE, faults)
}
