//! `slide-travel-too-fast`: the slide has to travel further than an arm moves it in the time there is.

use super::{AtPassage, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::slide;
use crate::profile::Mechanism;

pub(super) const RULE: Rule = Rule {
    name: "slide-travel-too-fast",
    family: Family::Mechanism,
    severity: Severity::Error,
    scope: Scope::Passage(check),
    speaks_for: &[],
    page: Page {
        finds: "Notes between which the slide travels faster than an arm moves it, on the best way through the passage.",
        matters: "The note is smeared, late or missed, and the instrument is shaken off the lip.",
        instead: "Change one note, slow the figure, or ask for a trombone with a valve, which shortens just these shifts.",
        reads: &["mechanism"],
        sources: &[
            "lengths of the slide, reckoned",
            "Lammers, Kruger, Stoner, Fuller, Allyn (1996)",
            "speeds that weigh: proposal",
        ],
    },
};

fn check(at: &AtPassage<'_>) -> Vec<Fault> {
    let Mechanism::Slide(instrument) = &at.profile.mechanism else { return Vec::new() };
    let Some(range) = at.line.passages.get(at.index) else { return Vec::new() };
    let Some(notes) = at.line.played.get(range.clone()) else { return Vec::new() };
    let of_move = |way: slide::SlideMove| {
        let (severity, limit) = if way.speed > *instrument.limits.travel_error {
            (Severity::Error, &instrument.limits.travel_error)
        } else if way.speed > *instrument.limits.travel_warning {
            (Severity::Warning, &instrument.limits.travel_warning)
        } else if way.speed > *instrument.limits.travel_note {
            (Severity::Note, &instrument.limits.travel_note)
        } else {
            return None;
        };
        let to = range.start + way.to;
        let from = to.checked_sub(1)?;
        let message = format!(
            "{} to {} takes the slide {:.0} cm in {:.2} s, {:.1} m a second; an arm does {:.1}",
            at.line.played.get(from)?.sounding,
            at.line.played.get(to)?.sounding,
            way.metres * 100.0,
            way.seconds.get(),
            way.speed,
            instrument.limits.travel_warning
        );
        let fault = Fault::of(from, severity, message)
            .by(way.speed)
            .asked(Measure::MetresPerSecond(way.speed))
            .limit(Measure::MetresPerSecond(**limit))
            .on(&limit.ground);
        Some(Fault { about: (from, to), ..fault })
    };
    slide::moves(instrument, notes).into_iter().filter_map(of_move).collect()
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn first_to_seventh_position_in_a_sixteenth_is_too_far() {
        check(
            &super::RULE,
            "tenor-trombone",
            "
=120 f Bb2/1/4 B2 r/1/2
       ^^^^^^^^^^ Bb2 to B2 takes the slide 61 cm in 0.12 s, 4.9 m a second; an arm does 3.5
",
        );
    }
}
