//! `technique-not-there`: a manner of playing that the instrument does not have.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::Severity;
use crate::playing::trill;
use crate::profile::Mechanism;
use crate::score::{Articulation, Ornament};

pub(super) const RULE: Rule = Rule {
    name: "technique-not-there",
    family: Family::Technique,
    severity: Severity::Note,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note marked stopped (+) where nothing is held before the bell, or a tremolo between two notes that a slide cannot go to and fro between.",
        matters: "The hand stops the French horn alone; on other brass the sign means a plunger or hat, and the player looks for the word. A slide has no tremolo but that of the lip, on neighbouring partials.",
        instead: "Write 'plunger' (or 'hat') before the signs, or mute the passage; make the tremolo two parts of repeated notes.",
        reads: &["mechanism", "changes.mutes"],
        sources: &["common practice", "composerstubaguide.blog on lip and valve trills"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    stopped(at).or_else(|| alternating(at))
}

fn stopped(at: &AtNote<'_>) -> Option<Fault> {
    if !at.played.articulations.has(Articulation::Stopped) || at.played.mute.is_some() {
        return None;
    }
    let message = format!(
        "{} is marked stopped; stopping by hand is the French horn's, and nothing is held before the bell of {}",
        at.played.sounding, at.profile.a_title
    );
    Some(Fault::of(at.index, Severity::Note, message))
}

fn alternating(at: &AtNote<'_>) -> Option<Fault> {
    let passage = at.line.passages.get(at.line.passage_of(at.index))?;
    let next = at.line.played.get(at.index + 1).filter(|_| at.index + 1 < passage.end)?;
    let is_slide = matches!(at.profile.mechanism, Mechanism::Slide(_));
    if at.played.ornament != Some(Ornament::Alternating) || !is_slide {
        return None;
    }
    let (one, other) = (at.played.sounding, next.sounding);
    if trill::alternates(at.profile, one, other) {
        return None;
    }
    let message = format!(
        "the tremolo {one} to {other} is none of the lip on {}; the slide would go to and fro",
        at.profile.a_title
    );
    Some(Fault { about: (at.index, at.index + 1), ..Fault::of(at.index, Severity::Note, message) })
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_stopped_note_wants_a_plunger() {
        check(
            &super::RULE,
            "tenor-trombone",
            "
mf D3+ [plunger] D3+
   ^^^ D3 is marked stopped; stopping by hand is the French horn's, and nothing is held before the bell of a tenor trombone without a valve
",
        );
    }

    #[test]
    fn a_slide_has_no_tremolo_between_notes_but_the_lips() {
        check(
            &super::RULE,
            "tenor-trombone",
            "
mf C3& E3 r Bb3& D4
   ^^^^^^ the tremolo C3 to E3 is none of the lip on a tenor trombone without a valve; the slide would go to and fro
",
        );
    }
}
