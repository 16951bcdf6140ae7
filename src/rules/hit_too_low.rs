//! `hit-too-low`: a loud accented or short note where the pipe answers too late and too weakly for a hit.

use super::too_loud_for_register::overshoot;
use super::{AtNote, Family, Fault, Page, Rule, Scope, wording};
use crate::finding::{Measure, Severity};
use crate::playing::loudness;

pub(super) const RULE: Rule = Rule {
    name: "hit-too-low",
    family: Family::Loudness,
    severity: Severity::Error,
    scope: Scope::Note(check),
    speaks_for: &["too-loud-for-register"],
    page: Page {
        finds: "A loud hit (a short note with sforzato, accent, marcato or staccatissimo, or on its own between rests) low down, in a register that gives little. A note where it sounds as loud as marked and is only late, else a warning.",
        matters: "A long low pipe takes several cycles to speak: the hit sounds after drums and basses, with more air in it than tone.",
        instead: "Write the hit an octave higher, where it has an edge; drums and basses already give the bottom.",
        reads: &["loudness.rows", "loudness.hit"],
        sources: &["common practice", "lengths and marks that make a hit: proposal"],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let hit = loudness::low_hit(at.line, at.index, at.profile)?;
    let (asked, ceiling) = (hit.asked, &hit.ceiling);
    let pitch = at.played.sounding;
    let instrument = &at.profile.a_title;
    // Where the register gives the loudness asked, the hit is only late.
    let marked = match wording::marked_before(at.section.score, at.played) {
        Some(bar) if at.played.dynamic == Some(asked) => format!(" (of bar {bar})"),
        _ => String::new(),
    };
    let hit = format!("{pitch} is a hit at {asked}{marked}; so low {instrument} answers late");
    let (heavier, message) = match overshoot(at) {
        Some((severity, ..)) => {
            (severity.max(Severity::Warning), format!("{hit} and sounds {ceiling} at most"))
        }
        None => (Severity::Note, hit),
    };
    Some(
        Fault::of(at.index, heavier, message)
            .by(f64::from(asked.steps_above(**ceiling)))
            .asked(Measure::Dynamic(asked))
            .limit(Measure::Dynamic(**ceiling))
            .on(&ceiling.ground),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn an_accent_on_a_low_d_is_a_hit_too_low() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
=120 f D1/1/2> r D2> r
       ^^^^^^^ D1 is a hit at f; so low a contrabass tuba in C answers late and sounds mf at most
",
        );
    }
}
