//! `mute-change-too-quick`: too little rest to put a mute in or take it out.

use super::{AtLine, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity, Sourced};
use crate::music::Seconds;
use crate::profile::Changes;
use crate::score::Mute;

pub(super) const RULE: Rule = Rule {
    name: "mute-change-too-quick",
    family: Family::Changes,
    severity: Severity::Error,
    scope: Scope::Line(check),
    speaks_for: &[],
    page: Page {
        finds: "Too little rest between open and muted notes to put the mute in or take it out.",
        matters: "A tuba mute is large: the instrument is set down or held by a neighbour. A hurried mute is heard, and it falls.",
        instead: "Give the passage before or after it to another player, leave out a bar, or leave the mute out.",
        reads: &["changes.mute_in", "changes.mute_out", "section:changes.least"],
        sources: &[
            "M. Clayville, 'Mutes: what not to do'",
            "Composer's Tuba Guide, 'Mutes'",
            "seconds for each instrument: proposal",
        ],
    },
};

fn check(at: &AtLine<'_>) -> Vec<Fault> {
    let line = at.line;
    line.performed
        .windows(2)
        .filter_map(|pair| {
            let [before, after] = pair else { return None };
            let (held, next) = (line.played.get(before.played)?, line.played.get(after.played)?);
            if held.mute == next.mute || is_held_before_the_bell(held.mute, next.mute) {
                return None;
            }
            let instrument = at.desk.instrument_at(line, next.onset);
            let rest = after.start.get() - before.start.get() - held.seconds.get();
            let rest = rest.max(0.0);
            let (action, change) = action(&instrument.changes, held.mute, next.mute);
            let (safe, least) = *change;
            let none = &at.section.limits.change_none;
            let bar = at.section.score.bars.get(next.bar as usize)?;
            let bar_seconds = at.section.score.tempo.lasting(bar.start, bar.length).get();
            let wanted_bars = f64::from(*at.section.limits.change_bars) * bar_seconds;
            let (severity, ground) = if rest < none.get() {
                (Severity::Error, &none.ground)
            } else if rest < least.get() {
                (Severity::Warning, &change.ground)
            } else if rest < safe.get() {
                (Severity::Note, &change.ground)
            } else if rest < wanted_bars {
                (Severity::Note, &at.section.limits.change_bars.ground)
            } else {
                return None;
            };
            let wanted = if rest < safe.get() { safe.get() } else { wanted_bars };
            let message = format!(
                "{rest:.1} s of rest to {action}; with {} it takes {wanted:.0} s to be safe",
                instrument.a_title
            );
            let fault = Fault::of(after.played, severity, message)
                .by(wanted - rest)
                .asked(Measure::Seconds(rest))
                .limit(Measure::Seconds(wanted))
                .on(ground);
            Some(Fault { pass: Some(after.pass), ..fault })
        })
        .collect()
}

/// A plunger or a hat is held before the bell: it opens and closes at once.
fn is_held_before_the_bell(from: Option<Mute>, to: Option<Mute>) -> bool {
    matches!(
        (from, to),
        (Some(Mute::Plunger | Mute::Derby), None) | (None, Some(Mute::Plunger | Mute::Derby))
    )
}

/// What the hands do, and the seconds below which it is a note and a warning.
fn action(changes: &Changes, from: Option<Mute>, to: Option<Mute>) -> (String, Sourced<(Seconds, Seconds)>) {
    let (put, take) = (&changes.mute_in, &changes.mute_out);
    match (from, to) {
        (Some(out), Some(into)) => (
            format!("change the {} mute for the {}", out.name(), into.name()),
            Sourced { value: (put.0 + take.0, put.1 + take.1), ground: put.ground.and(&take.ground) },
        ),
        (Some(out), None) => (format!("take the {} mute out", out.name()), take.clone()),
        (None, Some(into)) => (format!("put the {} mute in", into.name()), put.clone()),
        (None, None) => ("change nothing".to_owned(), put.map(|_| (Seconds::ZERO, Seconds::ZERO))),
    }
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn what_is_held_before_the_bell_opens_at_once() {
        let said = |music: &str| {
            let found = crate::rules::testing::scene("tenor-trombone", music).findings();
            found.iter().filter(|finding| finding.rule == "mute-change-too-quick").count()
        };
        assert_eq!(said("=120 mf [plunger] F3 [open] F3 [plunger] F3 [open] F3"), 0);
        assert_eq!(said("=120 mf [derby] F3 [open] F3"), 0);
        assert_ne!(said("=120 mf [cup] F3 [open] F3"), 0);
    }

    #[test]
    fn two_seconds_are_no_time_for_a_tuba_mute() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
mf F2/2 r/2 | [straight] F2/4
                         ^^^^ 2.0 s of rest to put the straight mute in; with a contrabass tuba in C it takes 10 s to be safe
",
        );
    }
}
