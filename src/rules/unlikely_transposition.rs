//! `unlikely-transposition`: a part that makes sense only if its transposition was exported wrongly.

use super::{AtDesk, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Measure, Severity};
use crate::music::Height;
use crate::playing::harmony;
use crate::profile::{Profile, Tradition, TranspositionLimits, Zone};
use crate::score::{Line, Played};

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
        "leap-too-wide-at-speed",
        "slide-travel-too-fast",
        "interval-too-low",
        "loud-low-note-alone",
        "voices-crossed",
    ],
    page: Page {
        finds: "A part that lies mostly off its instrument as it is read, or mostly outside the harmony of the other parts, and on it or in it when read by a transposition its players know.",
        matters: "Every pitch of the part is wrong for the player, and no other remark about it would mean anything.",
        instead: "Give the part its transposition in the score program and export again; brass-band basses and baritones in treble clef are the usual case.",
        reads: &["notation.traditions", "section:transposition"],
        sources: &[
            "J. Newbiggin on brass-band transpositions",
            "common practice",
            "shares of notes that decide: counted in three movements, and proposal",
        ],
    },
};

fn check(at: &AtDesk<'_>) -> Vec<Finding> {
    at.desk.lines.first().and_then(|line| of_line(at, line)).into_iter().collect()
}

/// Of the first player's line: a transposition is a matter of the part.
fn of_line(at: &AtDesk<'_>, line: &Line) -> Option<Finding> {
    let notes: Vec<usize> = (0..line.played.len()).filter(|&index| !line.played[index].shared).collect();
    let first = line.played.get(*notes.first()?)?;
    let staff = at.desk.first_note(first).staff;
    let clef = at.desk.part.clef_at(first.onset, staff)?;
    let written_above = -at.desk.part.transposition_at(first.onset, staff).semitones();
    let instrument = at.desk.instrument_at(line, first.onset);
    let limits = &at.section.limits.transposition;
    if u32::try_from(notes.len()).unwrap_or(u32::MAX) < *limits.notes {
        return None;
    }
    // Only what goes with the clef.
    let readings: Vec<(i32, &Tradition)> = instrument
        .notation
        .traditions
        .iter()
        .chain(&limits.traditions)
        .filter(|tradition| (tradition.clef.sign, tradition.clef.line) == (clef.sign, clef.line))
        .map(|tradition| (written_above.round() as i32 - tradition.written_above, tradition))
        .filter(|(semitones, _)| *semitones != 0)
        .collect();
    let (semitones, message) = off_the_instrument(limits, instrument, line, &notes, &readings)
        .or_else(|| off_the_harmony(at, line, &notes, &readings))?;
    let fault =
        Fault::of(notes[0], Severity::Warning, message).limit(Measure::Semitones(f64::from(semitones)));
    engine::finding_about(at.section.score, at.desk, line, &RULE, &notes, notes[0], fault)
}

/// By the register: most notes lie off the instrument, and on it by another reading.
fn off_the_instrument(
    limits: &TranspositionLimits,
    instrument: &Profile,
    line: &Line,
    notes: &[usize],
    readings: &[(i32, &Tradition)],
) -> Option<(i32, String)> {
    if share_on(instrument, line, notes, 0) > 1.0 - *limits.off {
        return None;
    }
    let shares = readings.iter().map(|(semitones, _)| share_on(instrument, line, notes, *semitones));
    let (semitones, tradition) = best(readings, shares, *limits.on)?;
    let lowest = notes.iter().map(|&index| line.played[index].sounding).min()?;
    let highest = notes.iter().map(|&index| line.played[index].sounding).max()?;
    let message = format!(
        "as it is read the part goes from {lowest} to {highest}, mostly off {}; {}, as {} reads, it fits",
        instrument.a_title,
        moved(semitones),
        tradition.name
    );
    Some((semitones, message))
}

/// By the harmony: most notes are in no chord that the orchestra plays, and in one by another reading.
fn off_the_harmony(
    at: &AtDesk<'_>,
    line: &Line,
    notes: &[usize],
    readings: &[(i32, &Tradition)],
) -> Option<(i32, String)> {
    let limits = &at.section.limits.transposition;
    let notes: Vec<&Played> =
        notes.iter().map(|&index| &line.played[index]).filter(|played| !played.grace).collect();
    let semitones: Vec<i32> = readings.iter().map(|(semitones, _)| *semitones).collect();
    let (as_read, shares) = harmony::agreement(at.section, &notes, &semitones)?;
    if as_read > *limits.astray {
        return None;
    }
    let (semitones, tradition) = best(readings, shares.iter().copied(), *limits.agrees)?;
    let message = format!(
        "as it is read, {:.0} % of the part's notes are in the harmony of the other parts; {}, as {} reads, most are",
        as_read * 100.0,
        moved(semitones),
        tradition.name
    );
    Some((semitones, message))
}

/// The reading with the largest share, if it is large enough: of equal ones the nearest.
fn best<'t>(
    readings: &[(i32, &'t Tradition)],
    shares: impl Iterator<Item = f64>,
    least: f64,
) -> Option<(i32, &'t Tradition)> {
    readings
        .iter()
        .zip(shares)
        .filter(|(_, share)| *share >= least)
        .max_by(|((far, _), one), ((near, _), other)| one.total_cmp(other).then(near.abs().cmp(&far.abs())))
        .map(|(reading, _)| *reading)
}

fn moved(semitones: i32) -> String {
    let way = if semitones < 0 { "lower" } else { "higher" };
    format!("{} {way}", wording::count(semitones.unsigned_abs() as usize, "semitone"))
}

/// The share of notes that lie in the comfortable zone when all are taken so many semitones up.
fn share_on(instrument: &Profile, line: &Line, notes: &[usize], semitones: i32) -> f64 {
    let lies_on = |index: &&usize| {
        let height = line.played[**index].sounding.height().in_cents() + semitones * 100;
        zone_at(instrument, Height::cents(height)) == Some(Zone::Comfortable)
    };
    notes.iter().filter(lies_on).count() as f64 / notes.len() as f64
}

fn zone_at(instrument: &Profile, height: Height) -> Option<Zone> {
    if height > instrument.range.top.height() {
        return None;
    }
    instrument.range.rows.iter().rev().find(|row| row.from.height() <= height).map(|row| row.zone)
}
