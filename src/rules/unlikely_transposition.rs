//! `unlikely-transposition`: a part that makes sense only if its transposition was exported wrongly.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine};
use crate::finding::{Finding, Measure, Severity};
use crate::music::Height;
use crate::profile::{Profile, Zone};
use crate::score::Line;

pub(super) const RULE: Rule = Rule {
    name: "unlikely-transposition",
    family: Family::Notation,
    severity: Severity::Warning,
    scope: Scope::Desk(check),
    speaks_for: &[
        "out-of-range",
        "no-such-note",
        "extreme-register",
        "effect-register",
        "beyond-usual-register",
        "hit-too-low",
        "too-loud-for-register",
        "too-soft-for-register",
        "note-longer-than-breath",
        "phrase-longer-than-breath",
        "no-room-to-breathe",
        "no-rest-to-recover",
        "too-fast-for-register",
        "sharp-valve-combination",
        "unusual-clef",
    ],
    page: Page {
        finds: "A part that lies mostly off its instrument as it is read, and on it when read by a transposition its players know.",
        matters: "Every pitch of the part is wrong for the player, and every other remark about it would be noise.",
        instead: "Give the part its transposition in the score program and export again; brass-band basses and baritones in treble clef are the usual case.",
        reads: &["notation.traditions", "section:transposition"],
        sources: &[
            "J. Newbiggin on brass-band transpositions",
            "common practice",
            "shares of notes that decide: proposal",
        ],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    at.desk.lines.first().and_then(|line| of_line(at, line)).into_iter().collect()
}

/// Of the first player's line: a transposition is a matter of the part.
fn of_line(at: &AtDesk<'_>, line: &Line) -> Option<Finding> {
    let limits = &at.section.limits.transposition;
    let notes: Vec<usize> = (0..line.played.len()).filter(|&index| !line.played[index].shared).collect();
    let first = line.played.get(*notes.first()?)?;
    let staff = at.desk.first_note(first).staff;
    let clef = at.desk.part.clef_at(first.onset, staff)?;
    let written_above = -at.desk.part.transposition_at(first.onset, staff).semitones();
    let horn = at.desk.horn_at(first.onset);
    if u32::try_from(notes.len()).unwrap_or(u32::MAX) < limits.notes
        || share_on(horn, line, &notes, 0) > 1.0 - limits.off
    {
        return None;
    }
    // Only what goes with the clef, and the reading that fits best: of equal ones the nearest.
    let (semitones, tradition, _) = horn
        .notation
        .traditions
        .iter()
        .chain(&limits.traditions)
        .filter(|tradition| (tradition.clef.sign, tradition.clef.line) == (clef.sign, clef.line))
        .map(|tradition| (written_above.round() as i32 - tradition.written_above, tradition))
        .filter(|(semitones, _)| *semitones != 0)
        .map(|(semitones, tradition)| (semitones, tradition, share_on(horn, line, &notes, semitones)))
        .filter(|(.., share)| *share >= limits.on)
        .max_by(|(far, _, one), (near, _, other)| one.total_cmp(other).then(near.abs().cmp(&far.abs())))?;
    let lowest = notes.iter().map(|&index| line.played[index].sounding).min()?;
    let highest = notes.iter().map(|&index| line.played[index].sounding).max()?;
    let message = format!(
        "as it is read the part goes from {lowest} to {highest}, mostly off {}; {} semitones {}, as {} reads, it fits",
        horn.a_title,
        semitones.abs(),
        if semitones < 0 { "lower" } else { "higher" },
        tradition.name
    );
    let fault =
        Fault::of(notes[0], Severity::Warning, message).limit(Measure::Semitones(f64::from(semitones)));
    engine::finding_about(at.section.score, at.desk, line, &RULE, &notes, notes[0], fault)
}

/// The share of notes that lie in the comfortable zone when all are taken so many semitones up.
fn share_on(horn: &Profile, line: &Line, notes: &[usize], semitones: i32) -> f64 {
    let lies_on = |index: &&usize| {
        let height = line.played[**index].sounding.height().in_cents() + semitones * 100;
        zone_at(horn, Height::cents(height)) == Some(Zone::Comfortable)
    };
    notes.iter().filter(lies_on).count() as f64 / notes.len() as f64
}

fn zone_at(horn: &Profile, height: Height) -> Option<Zone> {
    if height > horn.range.top.height() {
        return None;
    }
    horn.range.rows.iter().rev().find(|row| row.from.height() <= height).map(|row| row.zone)
}
