//! `profiles/section.toml`: limits that belong to no one horn, checked like a profile.

use super::error::{ProfileError, ProfileFault as Fault, Spotted};
use super::raw::SectionFile;
use super::toml::{Checked, parse, rising, seconds, tradition, within};
use super::{LoudnessSteps, LowInterval, RestLimits, SectionLimits, TranspositionLimits};

/// Reads and checks the section's limits; `file` is only named in errors.
pub(super) fn section(file: &str, text: &str) -> Result<SectionLimits, ProfileError> {
    read(text).map_err(|spotted| spotted.in_file(file, text))
}

fn read(text: &str) -> Checked<SectionLimits> {
    let (raw, citations) = parse::<SectionFile>(text)?;
    let steps = &raw.loudness.steps;
    for (at, before) in [(&steps.warning, &steps.note), (&steps.error_in_effect, &steps.warning)] {
        if at.get() < before.get() {
            let (here, before) = (format!("{} steps", at.get()), format!("{} steps", before.get()));
            return Err(Spotted { span: at.span(), fault: Fault::NotRising { here, before } });
        }
    }
    rising(&raw.intervals.rows, |row| {
        (row.semitones.span(), *row.semitones.get(), format!("{} semitones", row.semitones.get()))
    })?;
    let share = |at| within(at, 0.0..=1.0, "a share from 0 to 1");
    let rest = &raw.rest;
    let interval = |row: &super::raw::IntervalRow| LowInterval {
        semitones: *row.semitones.get(),
        clear_from: row.clear_from.0,
        rooted_from: row.rooted_from.map(|pitch| pitch.0),
    };
    Ok(SectionLimits {
        loudness_steps: LoudnessSteps {
            note: *steps.note.get(),
            warning: *steps.warning.get(),
            error_in_effect: *steps.error_in_effect.get(),
        },
        low_intervals: raw.intervals.rows.get().iter().map(interval).collect(),
        interval_weighs: within(&raw.intervals.weighs.semitones, 0.0..=48.0, "semitones from 0 to 48")?,
        interval_shortest: seconds(&raw.intervals.shortest.seconds)?,
        rest: RestLimits {
            window: seconds(&rest.window.seconds)?,
            share_note: share(&rest.share.note)?,
            share_warning: share(&rest.share.warning)?,
            gap: seconds(&rest.gap.seconds)?,
            run: seconds(&rest.run.seconds)?,
            loud_run: seconds(&rest.loud_run.seconds)?,
            loud_from: rest.loud_run.from.0,
            high_run: seconds(&rest.high_run.seconds)?,
        },
        doubling_share: share(&raw.alone.share.share)?,
        alone_from: raw.alone.from.dynamic.0,
        alone_below: raw.alone.below.pitch.get().0,
        alone_longest: seconds(&raw.alone.longest.seconds)?,
        move_leap: within(&raw.moves.leap.semitones, 0.0..=48.0, "semitones from 0 to 48")?,
        change_bars: u32::from(*raw.changes.least.bars.get()),
        transposition: TranspositionLimits {
            notes: u32::from(*raw.transposition.least.notes.get()),
            off: share(&raw.transposition.off.share)?,
            on: share(&raw.transposition.on.share)?,
            traditions: raw.transposition.traditions.iter().map(tradition).collect(),
        },
        sources: citations.check(text, &raw.sources)?,
        cited: citations.places(),
    })
}
