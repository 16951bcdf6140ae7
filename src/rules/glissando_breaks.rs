//! `glissando-breaks`: a glissando that no slide makes without a break.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::slide;
use crate::profile::Mechanism;
use crate::score::{Articulation, Join};

pub(super) const RULE: Rule = Rule {
    name: "glissando-breaks",
    family: Family::Mechanism,
    severity: Severity::Warning,
    scope: Scope::Note(check),
    speaks_for: &["slide-travel-too-fast"],
    page: Page {
        finds: "A glissando whose two notes do not lie on one partial and one length of the slide, or on an instrument without a slide.",
        matters: "The slide glides only within one partial, a tritone at the widest and less with a valve; elsewhere the player breaks it and covers up.",
        instead: "Narrow it or move it to a place where both notes lie on one partial; for valved instruments, say what is wanted (half valves, lip).",
        reads: &["mechanism"],
        sources: &[
            "spans by partial and attachment, reckoned",
            "M. Clayville, 'Trombone Glissando', 2011",
            "common practice for valved instruments",
        ],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let passage = at.line.passages.get(at.line.passage_of(at.index))?;
    let next = at.line.played.get(at.index + 1).filter(|_| at.index + 1 < passage.end)?;
    if !at.played.joins.has(Join::Glissando) || at.played.articulations.has(Articulation::LipGlissando) {
        return None;
    }
    let (from, to) = (at.played.sounding, next.sounding);
    let instrument = &at.profile.a_title;
    let span = to.height().semitones_above(from.height()).abs();
    let fault = |message| Fault {
        about: (at.index, at.index + 1),
        ..Fault::of(at.index, Severity::Warning, message).by(span).asked(Measure::Semitones(span))
    };
    match &at.profile.mechanism {
        Mechanism::Slide(slide) => {
            let widest = slide::gliss_breaks(slide, from, to)?;
            let upper = from.max(to);
            let unit = if format!("{widest:.0}") == "1" { "semitone" } else { "semitones" };
            let message = format!(
                "the glissando {from} to {to} breaks on {instrument}: from {upper} the slide glides down {widest:.0} {unit} at most"
            );
            Some(fault(message).limit(Measure::Semitones(widest)).on(&slide.ground))
        }
        Mechanism::Valves(_) | Mechanism::Keys { .. } => {
            Some(fault(format!("{instrument} has no slide for the glissando {from} to {to}")))
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn seven_semitones_are_one_too_many() {
        check(
            &super::RULE,
            "tenor-trombone",
            "
mf F3% Bb2
   ^^^^^^^ the glissando F3 to Bb2 breaks on a tenor trombone without a valve: from F3 the slide glides down 6 semitones at most
",
        );
    }
}
