//! `profiles/section.toml`: limits that belong to no one instrument, checked like a profile.

use super::error::{ProfileError, ProfileFault as Fault, Spotted};
use super::raw::{At, RunLimitValues, SectionFile, SectionMoves};
use super::toml::{Checked, Grounds, above_zero, at_least_one, parse, rising, seconds, tradition, within};
use super::{
    BreathingLimits, FlutterAir, LeapsExpected, LoudnessSteps, LowInterval, MoveEvidence, MoveExpected,
    MoveLimits, MovePrices, RestLimits, RunLimits, SectionLimits, SessionLimits, StealWeights,
    TranspositionLimits,
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
    let grounds = Grounds { sources: citations.check(text, &raw.sources)? };
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
    let run = |raw: &RunLimitValues| -> Checked<RunLimits> {
        let (note, warning) = (&raw.note.seconds, &raw.warning.seconds);
        let limits = RunLimits {
            note: grounds.on(seconds(note)?, &raw.note.source),
            warning: grounds.on((seconds(warning)?, raw.warning.from.0), &raw.warning.source),
        };
        if limits.warning.0 < *limits.note {
            let (here, before) = (format!("{} s", warning.get()), format!("{} s", note.get()));
            return Err(Spotted { span: warning.span(), fault: Fault::NotRising { here, before } });
        }
        Ok(limits)
    };
    let interval = |row: &super::raw::IntervalRow| LowInterval {
        semitones: *row.semitones.get(),
        clear_from: row.clear_from.0,
        rooted_from: row.rooted_from.map(|pitch| pitch.0),
        ground: grounds.of(&row.source),
    };
    Ok(SectionLimits {
        loudness_steps: grounds.on(
            LoudnessSteps {
                note: *steps.note.get(),
                warning: *steps.warning.get(),
                error_in_effect: *steps.error_in_effect.get(),
            },
            &steps.source,
        ),
        softest: raw.loudness.softest.dynamic.0,
        loudest: raw.loudness.loudest.dynamic.0,
        air_low: grounds.on(share(&raw.air.low.share)?, &raw.air.low.source),
        eased: grounds
            .on(within(&raw.air.eased.factor, 1.0..=10.0, "a factor from 1 to 10")?, &raw.air.eased.source),
        flutter: grounds.on(
            FlutterAir {
                factor: within(&raw.air.flutter.factor, 1.0..=10.0, "a factor from 1 to 10")?,
                from: raw.air.flutter.from.0,
            },
            &raw.air.flutter.source,
        ),
        steals: StealWeights {
            before_rest: *steals.before_rest.get(),
            long_note: *steals.long_note.get(),
            slur_end: *steals.slur_end.get(),
            inside_long: *steals.inside_long.get(),
            inside: *steals.inside.get(),
        },
        tonguing_run: grounds
            .on(usize::from(at_least_one(&raw.tonguing.run.attacks)?), &raw.tonguing.run.source),
        low_intervals: raw.intervals.rows.get().iter().map(interval).collect(),
        interval_harmony: grounds.on(share(&raw.intervals.harmony.share)?, &raw.intervals.harmony.source),
        interval_held: grounds.on(seconds(&raw.intervals.held.seconds)?, &raw.intervals.held.source),
        interval_shortest: grounds
            .on(seconds(&raw.intervals.shortest.seconds)?, &raw.intervals.shortest.source),
        rest: RestLimits {
            window: grounds.on(seconds(&rest.window.seconds)?, &rest.window.source),
            share: grounds.on(share(&rest.share.share)?, &rest.share.source),
            gap: grounds.on(seconds(&rest.gap.seconds)?, &rest.gap.source),
            staccato: grounds.on(share(&rest.staccato.share)?, &rest.staccato.source),
            staccatissimo: grounds.on(share(&rest.staccatissimo.share)?, &rest.staccatissimo.source),
            detached: grounds.on(share(&rest.detached.share)?, &rest.detached.source),
            run: run(&rest.run)?,
            loud_run: run(&rest.loud_run)?,
            high_run: grounds.on(seconds(&rest.high_run.note.seconds)?, &rest.high_run.note.source),
            breathing: BreathingLimits {
                over: grounds.on(seconds(&rest.breathing.over.seconds)?, &rest.breathing.over.source),
                note: grounds.on(share(&rest.breathing.note.share)?, &rest.breathing.note.source),
                warning: grounds.on(share(&rest.breathing.warning.share)?, &rest.breathing.warning.source),
            },
        },
        session: SessionLimits {
            loud: grounds.on(seconds(&raw.session.loud.seconds)?, &raw.session.loud.source),
            high: grounds.on(seconds(&raw.session.high.seconds)?, &raw.session.high.source),
            unbroken: grounds.on(seconds(&raw.session.unbroken.seconds)?, &raw.session.unbroken.source),
        },
        doubling_share: grounds.on(share(&raw.alone.share.share)?, &raw.alone.share.source),
        alone_from: grounds.on(raw.alone.from.dynamic.0, &raw.alone.from.source),
        alone_below: grounds.on(raw.alone.below.pitch.get().0, &raw.alone.below.source),
        alone_longest: grounds.on(seconds(&raw.alone.longest.seconds)?, &raw.alone.longest.source),
        moves: moves(&raw.moves)?,
        change_none: grounds.on(seconds(&raw.changes.none.seconds)?, &raw.changes.none.source),
        change_bars: grounds.on(u32::from(*raw.changes.least.bars.get()), &raw.changes.least.source),
        transposition: TranspositionLimits {
            notes: grounds
                .on(u32::from(*raw.transposition.least.notes.get()), &raw.transposition.least.source),
            off: grounds.on(share(&raw.transposition.off.share)?, &raw.transposition.off.source),
            on: grounds.on(share(&raw.transposition.on.share)?, &raw.transposition.on.source),
            together: grounds
                .on(share(&raw.transposition.together.share)?, &raw.transposition.together.source),
            astray: grounds.on(share(&raw.transposition.astray.share)?, &raw.transposition.astray.source),
            agrees: grounds.on(share(&raw.transposition.agrees.share)?, &raw.transposition.agrees.source),
            traditions: raw.transposition.traditions.iter().map(tradition).collect(),
        },
        sources: grounds.sources,
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
        recurs: usize::from(at_least_one(&raw.recurs.times)?),
        sequence: i32::from(*raw.sequence.semitones.get()),
        mostly: share(&raw.mostly.share)?,
        often: share(&raw.often.share)?,
        prices: MovePrices {
            risk: hundredths(&prices.risk)?,
            moved: hundredths(&prices.moved)?,
            seam: hundredths(&prices.seam.nats)?,
            seam_from: i32::from(*prices.seam.from.get()),
            one_seam: hundredths(&prices.one_seam)?,
            mended: hundredths(&prices.mended)?,
            one_mended: hundredths(&prices.one_mended)?,
            second_octave: hundredths(&prices.second_octave)?,
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
            ("leaps = { in_line = 3.5", "leaps = { in_line = 0.0", "a number above 0, up to a million"),
        ] {
            assert_eq!(GOOD.matches(there).count(), 1, "'{there}' must stand in the file once");
            let changed = GOOD.replace(there, instead);
            let line = 1 + changed[..changed.find(instead).unwrap()].matches('\n').count();
            let said = section("section.toml", &changed).unwrap_err().to_string();
            assert!(said.starts_with(&format!("section.toml:{line}:")) && said.contains(words), "{said}");
        }
    }
}
