//! `no-such-mute`: a mute that is not made, or seldom owned, for the instrument.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::score::{Line, Mute};

pub(super) const RULE: Rule = Rule {
    name: "no-such-mute",
    family: Family::Changes,
    severity: Severity::Error,
    scope: Scope::Desk(check),
    speaks_for: &["mute-change-too-quick"],
    page: Page {
        finds: "A mute that is not made for the instrument, or that few players own.",
        matters: "The player turns up without it, and the colour the passage was written for is not there.",
        instead: "Ask for the straight mute, tell the player ahead, or give the passage to a trombone, which has them all.",
        reads: &["changes.mutes"],
        sources: &["Bandestration, 'Euphonium'", "contemporarytuba.com, 'Extra hardware'", "common practice"],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    at.desk.lines.iter().flat_map(|line| of_line(at, line)).collect()
}

/// One finding for each stretch under one mute, whatever rests lie in it.
fn of_line(at: &AtDesk<'_>, line: &Line) -> Vec<Finding> {
    let mut stretches: Vec<(Mute, Vec<usize>)> = Vec::new();
    let mut before = None;
    for (index, played) in line.played.iter().enumerate().filter(|(_, played)| !played.shared) {
        if let Some(mute) = played.mute {
            match stretches.last_mut() {
                Some((last, notes)) if before == Some(mute) && *last == mute => notes.push(index),
                _ => stretches.push((mute, vec![index])),
            }
        }
        before = played.mute;
    }
    stretches.into_iter().filter_map(|(mute, notes)| of_stretch(at, line, mute, &notes)).collect()
}

fn of_stretch(at: &AtDesk<'_>, line: &Line, mute: Mute, notes: &[usize]) -> Option<Finding> {
    let first = *notes.first()?;
    let instrument = at.desk.instrument_at(line, line.played.get(first)?.onset);
    let name = mute.name();
    let known = instrument.changes.mutes.iter().find(|made| made.0 == mute);
    let made = known.map(|made| made.value);
    let (severity, message) = match (&at.desk.mutes, made) {
        (Some(own), _) if own.contains(&mute) => return None,
        (Some(_), _) => {
            (Severity::Error, format!("a {name} mute is asked for; the player has none (settings)"))
        }
        (None, Some((_, false))) => return None,
        (None, Some((_, true))) => (
            Severity::Note,
            format!("a {name} mute is asked for; few players of {} own one", instrument.a_title),
        ),
        (None, None) => {
            (Severity::Error, format!("a {name} mute is asked for; there is none for {}", instrument.a_title))
        }
    };
    let fault = Fault::of(first, severity, message).asked(Measure::Word(name.to_owned()));
    // Of a mute that is not there the other mutes' sources tell.
    let fault = match known.or_else(|| instrument.changes.mutes.first()) {
        Some(made) if at.desk.mutes.is_none() => fault.on(&made.ground),
        _ => fault,
    };
    engine::finding_about(at.section.score, at.desk, line, &RULE, notes, first, fault)
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn it_is_said_once_for_the_whole_stretch() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
mf [harmon] F2/2 r G2 [straight] r/20 C2
            ^^^^^^^^^ a harmon mute is asked for; there is none for a contrabass tuba in C
",
        );
    }
}
