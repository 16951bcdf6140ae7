//! `profiles/section.toml`: limits that belong to no one instrument, checked like a profile.

use super::error::{ProfileError, ProfileFault as Fault, Spotted};
use super::raw::{At, SectionFile, SectionMoves};
use super::toml::{Checked, above_zero, at_least_one, parse, rising, seconds, tradition, within};
use super::{
    LeapsExpected, LoudnessSteps, LowInterval, MoveEvidence, MoveExpected, MoveLimits, MovePrices,
    RestLimits, RunLimits, SectionLimits, StealWeights, TranspositionLimits,
};

/// Reads and checks the section's limits; `file` is only named in errors.
pub(super) fn section(file: &str, text: &str) -> Result<SectionLimits, ProfileError> {
    read(text).map_err(|spotted| spotted.in_file(file, text))
}

fn share(at: &At<f64>) -> Checked<f64> {
    within(at, 0.0..=1.0, "a share from 0 to 1")
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
        moves: moves(&raw.moves)?,
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

fn moves(raw: &SectionMoves) -> Checked<MoveLimits> {
    let quarters = |at: &At<f64>| within(at, 0.0..=1000.0, "quarters from 0 to 1000");
    let hundredths = |at: &At<f64>| -> Checked<i64> {
        Ok((100.0 * within(at, 0.0..=1000.0, "nats from 0 to 1000")?).round() as i64)
    };
    let (prices, evidence, expected) = (&raw.prices, &raw.evidence, &raw.expected);
    let doubt = |at: &At<u16>| at_least_one(at).map(f64::from);
    let leaps = |scale: &At<f64>, octaves: &At<f64>| -> Checked<LeapsExpected> {
        Ok(LeapsExpected {
            scale: above_zero(scale)?,
            octaves: share(octaves)?,
            doubt: doubt(&expected.doubt.leaps)?,
        })
    };
    Ok(MoveLimits {
        leap: within(&raw.leap.semitones, 0.0..=48.0, "semitones from 0 to 48")?,
        beside: usize::from(*raw.beside.count.get()),
        around: usize::from(*raw.around.passages.get()),
        apart: quarters(&raw.apart.quarters)?,
        between: quarters(&raw.between.quarters)?,
        heard: i64::from(*raw.heard.quarters.get()),
        hides: seconds(&raw.hides.seconds)?,
        stretch: usize::from(at_least_one(&raw.stretch.notes)?),
        sequence: i32::from(*raw.sequence.semitones.get()),
        mostly: share(&raw.mostly.share)?,
        often: share(&raw.often.share)?,
        prices: MovePrices {
            risk: hundredths(&prices.risk)?,
            moved: hundredths(&prices.moved)?,
            seam: hundredths(&prices.seam.nats)?,
            seam_from: i32::from(*prices.seam.from.get()),
            one_seam: hundredths(&prices.one_seam)?,
            breath: hundredths(&prices.breath)?,
            beat: hundredths(&prices.beat)?,
            across: hundredths(&prices.across.nats)?,
            across_quarter: hundredths(&prices.across.each_quarter)?,
            across_longest: quarters(&prices.across.longest)?,
            broken: hundredths(&prices.broken)?,
            shorter: hundredths(&prices.shorter)?,
            at_home: hundredths(&prices.at_home)?,
        },
        evidence: MoveEvidence {
            distance: share(&evidence.distance)?,
            voices: f64::from(*evidence.voices.get()),
            register: share(&evidence.register)?,
            figures: share(&evidence.figures)?,
        },
        expected: MoveExpected {
            in_line: leaps(&expected.leaps.in_line, &expected.octaves.in_line)?,
            over_rest: leaps(&expected.leaps.over_rest, &expected.octaves.over_rest)?,
            near: i32::from(*expected.register.near.get()),
            span: f64::from(at_least_one(&expected.register.span)?),
            span_doubt: doubt(&expected.doubt.register)?,
            distances: f64::from(at_least_one(&expected.distances.players)?),
            doublings: f64::from(at_least_one(&expected.distances.doublings)?),
            distance_doubt: doubt(&expected.doubt.distances)?,
            figure_doubt: doubt(&expected.doubt.figures)?,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = include_str!("../../profiles/section.toml");

    #[test]
    fn what_the_search_cannot_go_by_is_refused_with_its_place() {
        for (there, instead, words) in [
            ("stretch = { notes = 24", "stretch = { notes = 0", "at least 1"),
            ("risk = 8.0", "risk = -8.0", "nats from 0 to 1000"),
            ("register = 0.6", "register = 1.5", "a share from 0 to 1"),
            ("leaps = { in_line = 3.5", "leaps = { in_line = 0.0", "a number above 0"),
        ] {
            assert_eq!(GOOD.matches(there).count(), 1, "'{there}' must stand in the file once");
            let changed = GOOD.replace(there, instead);
            let line = 1 + changed[..changed.find(instead).unwrap()].matches('\n').count();
            let said = section("section.toml", &changed).unwrap_err().to_string();
            assert!(said.starts_with(&format!("section.toml:{line}:")) && said.contains(words), "{said}");
        }
    }
}
