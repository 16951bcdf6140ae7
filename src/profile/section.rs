//! `profiles/section.toml`: limits that belong to no one horn, checked like a profile.

use super::error::{ProfileError, ProfileFault as Fault, Spotted};
use super::raw::{At, SectionFile};
use super::toml::{Checked, parse, rising, seconds, tradition, within};
use super::{
    LoudnessSteps, LowInterval, RestLimits, RunLimits, SectionLimits, StealWeights, TranspositionLimits,
};

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
    let steals = &raw.steals.weights;
    let run = |note: &At<f64>, warning: &At<f64>| -> Checked<RunLimits> {
        let limits = RunLimits { note: seconds(note)?, warning: seconds(warning)? };
        if limits.warning < limits.note {
            let (here, before) = (format!("{} s", warning.get()), format!("{} s", note.get()));
            return Err(Spotted { span: warning.span(), fault: Fault::NotRising { here, before } });
        }
        Ok(limits)
    };
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
        softest: raw.loudness.softest.dynamic.0,
        loudest: raw.loudness.loudest.dynamic.0,
        air_low: share(&raw.air.low.share)?,
        eased: within(&raw.air.eased.factor, 1.0..=10.0, "a factor from 1 to 10")?,
        steals: StealWeights {
            before_rest: *steals.before_rest.get(),
            long_note: *steals.long_note.get(),
            slur_end: *steals.slur_end.get(),
            inside_long: *steals.inside_long.get(),
            inside: *steals.inside.get(),
        },
        low_intervals: raw.intervals.rows.get().iter().map(interval).collect(),
        interval_weighs: within(&raw.intervals.weighs.semitones, 0.0..=48.0, "semitones from 0 to 48")?,
        interval_shortest: seconds(&raw.intervals.shortest.seconds)?,
        rest: RestLimits {
            window: seconds(&rest.window.seconds)?,
            share_note: share(&rest.share.note)?,
            share_warning: share(&rest.share.warning)?,
            gap: seconds(&rest.gap.seconds)?,
            staccato: share(&rest.staccato.share)?,
            tires_from: rest.tires_from.dynamic.0,
            run: run(&rest.run.note, &rest.run.warning)?,
            loud_run: run(&rest.loud_run.note, &rest.loud_run.warning)?,
            loud_from: rest.loud_run.from.0,
            high_run: run(&rest.high_run.note, &rest.high_run.warning)?,
        },
        doubling_share: share(&raw.alone.share.share)?,
        alone_from: raw.alone.from.dynamic.0,
        alone_below: raw.alone.below.pitch.get().0,
        alone_longest: seconds(&raw.alone.longest.seconds)?,
        move_leap: within(&raw.moves.leap.semitones, 0.0..=48.0, "semitones from 0 to 48")?,
        move_beside: usize::from(*raw.moves.beside.count.get()),
        change_bars: u32::from(*raw.changes.least.bars.get()),
        transposition: TranspositionLimits {
            notes: u32::from(*raw.transposition.least.notes.get()),
            off: share(&raw.transposition.off.share)?,
            on: share(&raw.transposition.on.share)?,
            together: share(&raw.transposition.together.share)?,
            astray: share(&raw.transposition.astray.share)?,
            agrees: share(&raw.transposition.agrees.share)?,
            traditions: raw.transposition.traditions.iter().map(tradition).collect(),
        },
        sources: citations.check(text, &raw.sources)?,
        cited: citations.places(),
    })
}
