//! `too-loud-for-register`: a note marked louder than the instrument sounds in that register.

use super::{AtNote, Family, Fault, Page, Rule, Scope, wording};
use crate::finding::{Measure, Severity, Sourced};
use crate::music::Dynamic;
use crate::playing::loudness;
use crate::profile::Zone;

pub(super) const RULE: Rule = Rule {
    name: "too-loud-for-register",
    family: Family::Loudness,
    severity: Severity::Error,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A note marked louder than its instrument sounds in that register. One step over is a note, two a warning; an effect three steps over will not sound: an error. A mark beyond fff asks for all there is, not for more.",
        matters: "The lower a brass instrument goes, the less it gives; forced, a very low note cracks or does not speak at all.",
        instead: "Write it an octave higher, where the instrument gives what is marked, or leave it low at a softer mark and double it an octave above.",
        reads: &["loudness.rows", "loudness.muted", "section:loudness"],
        sources: &[
            "common practice",
            "K. Schlesinger, 'Bombardon', Encyclopaedia Britannica, 1911",
            "steps that weigh: proposal",
        ],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let (severity, steps, asked, ceiling) = overshoot(at)?;
    let instrument = &at.profile.a_title;
    let fact = wording::marked(at.section.score, at.played, asked);
    let message = match at.played.mute {
        Some(_) => format!("{fact}; muted, {instrument} sounds {ceiling} there at most"),
        None => format!("{fact}; {instrument} sounds {ceiling} there at most"),
    };
    Some(
        Fault::of(at.index, severity, message)
            .by(f64::from(steps))
            .asked(Measure::Dynamic(asked))
            .limit(Measure::Dynamic(*ceiling))
            .on(&ceiling.ground),
    )
}

/// How far the note is marked over its ceiling: the weight, the steps, what is asked and the ceiling.
pub(super) fn overshoot(at: &AtNote<'_>) -> Option<(Severity, i32, Dynamic, Sourced<Dynamic>)> {
    let asked = loudness::asked(at.played, at.profile)?; // None is for `no-dynamic-yet` or `out-of-range` to say.
    let limits = at.section.limits.loudness_steps.value;
    // A mark beyond the scale asks for all there is, not for more.
    let over = asked.loudest.min(at.section.limits.loudest).steps_above(*asked.ceiling);
    let in_effect = at.profile.range.zone_at(at.played.sounding) == Some(Zone::Effect);
    let severity = if in_effect && over >= limits.error_in_effect {
        Severity::Error
    } else if over >= limits.warning {
        Severity::Warning
    } else if over >= limits.note {
        Severity::Note
    } else {
        return None;
    };
    Some((severity, over, asked.loudest, asked.ceiling))
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_mark_in_another_bar_is_named() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
=60 ff D2/4 | D2/2 D1/2
                   ^^^^ D1 is under the ff of bar 1; a contrabass tuba in C sounds mf there at most
",
        );
    }

    #[test]
    fn a_loud_low_d_is_as_loud_as_marked_an_octave_higher() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
ff D1 D2 fff D2
   ^^ D1 is marked ff; a contrabass tuba in C sounds mf there at most
",
        );
    }
}
