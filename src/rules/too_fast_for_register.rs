//! `too-fast-for-register`: a tongued note shorter than its register speaks.

use super::{AtNote, Family, Fault, Page, Rule, Scope};
use crate::finding::{Measure, Severity};
use crate::playing::agility;

pub(super) const RULE: Rule = Rule {
    name: "too-fast-for-register",
    family: Family::Agility,
    severity: Severity::Warning,
    scope: Scope::Note(check),
    speaks_for: &[],
    page: Page {
        finds: "A run of six tongued notes or more that goes faster than its register speaks or the tongue gives. Ruffs, upbeats and grace notes are not judged.",
        matters: "A low note needs a few cycles before it is a pitch; repeated faster, the line is a rumble, and the tongue has its own limit.",
        instead: "Slur the notes in twos, thin the figure to every other note, or move it up, where the pipe answers sooner.",
        reads: &[
            "agility.single_tongue",
            "agility.double_tongue",
            "agility.response",
            "agility.slowness",
            "section:tonguing",
        ],
        sources: &[
            "contemporarytuba.com, 'Tonguing'",
            "M. Mathie on trombone single tonguing, 2021",
            "cycles a note needs: proposal",
        ],
    },
};

fn check(at: &AtNote<'_>) -> Option<Fault> {
    let short = agility::too_short(at.line, at.index, at.profile, *at.section.limits.tonguing_run)?;
    let pitch = at.played.sounding;
    let rate = |seconds: f64| 1.0 / seconds.max(f64::EPSILON);
    let (asked, given) = (rate(short.seconds.get()), rate(short.shortest.get()));
    let reason = if short.pipe { "it speaks at" } else { "the tongue gives" };
    let message = format!(
        "{pitch} is in a run of {asked:.1} notes a second; on {} {reason} {given:.1} at most",
        at.profile.a_title
    );
    Some(
        Fault::of(at.index, Severity::Warning, message)
            .by(asked / given)
            .asked(Measure::NotesPerSecond(asked))
            .limit(Measure::NotesPerSecond(given))
            .on(&short.shortest.ground),
    )
}

#[cfg(test)]
mod tests {
    use crate::rules::testing::check;

    #[test]
    fn a_low_d_is_too_slow_for_sixteenths() {
        check(
            &super::RULE,
            "contrabass-tuba-c",
            "
=120 mf D1/1/4 D1 D1 D1 D1 D1 E1/1
        ^^^^^^^^^^^^^^^^^^^^^ D1 is in a run of 8.0 notes a second; on a contrabass tuba in C it speaks at 7.3 at most
",
        );
    }
}
