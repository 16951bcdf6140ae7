//! What a note uses of a breath, and what a breath brings.

use crate::music::{BreathShare, Dynamic, Seconds, Sounding};
use crate::playing::{Desk, Section};
use crate::profile::{Law, Profile, RestLimits, Sustain, SustainRow};
use crate::score::{Articulation, Join, Line, Note, Played};

/// Seconds that a full breath of the profile lasts at a pitch and dynamic: the usable air over the flow, which is a power
/// of the frequency; between the dynamics given it is geometric along the scale, beyond them the outermost holds. What was
/// measured on the instrument overrules that: where it was measured exactly, elsewhere in the proportion that the nearest
/// rows give. [`Sustain::ground_at`] says what they stand on.
pub fn sustain(profile: &Profile, pitch: Sounding, dynamic: Dynamic) -> Seconds {
    Seconds::new(lasting(&profile.sustain, pitch, f64::from(dynamic as i32)))
}

/// What a played note uses of this player's full breath: the time of its written notes over what a breath lasts, hairpins
/// followed along the scale. Before any mark [`Law::unmarked`](crate::profile::Law::unmarked) is taken.
pub fn use_of(played: &Played, line: &Line, desk: &Desk<'_>, section: &Section<'_>) -> BreathShare {
    let pieces = pieces(played, line, desk, section);
    BreathShare::new(pieces.iter().map(|piece| piece.used(piece.seconds)).sum())
}

/// What a breath of so many seconds brings: 0 below [`Breath::shortest`](crate::profile::Breath::shortest), else even
/// from nothing over the quick to the full breath.
pub fn refill(profile: &Profile, seconds: Seconds) -> BreathShare {
    let breath = &profile.breath;
    let time = seconds.get();
    // A gap is a difference of floats: one exactly as long as the shortest breath is long enough.
    if time < breath.shortest.get() - 1e-9 {
        return BreathShare::NONE;
    }
    let (quick, full) = (breath.quick.0.get(), breath.full.0.get());
    let (brings, all) = (breath.quick.1.get(), breath.full.1.get());
    BreathShare::new(if time <= quick {
        brings * time / quick
    } else if time < full {
        brings + (all - brings) * (time - quick) / (full - quick)
    } else {
        all
    })
}

/// One written note of a chain: how long, and how much of a breath a second it takes at its beginning and end.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// How long it sounds.
    pub(super) seconds: f64,
    /// Seconds into it and breaths a second there; in between the rate grows by a constant factor.
    rates: Vec<(f64, f64)>,
}

impl Piece {
    /// What its first so many seconds use.
    pub(super) fn used(&self, upto: f64) -> f64 {
        let upto = upto.min(self.seconds);
        let spent = |pair: &[(f64, f64)]| {
            let ((from, first), (to, last)) = (pair[0], pair[1]);
            let time = (upto - from).clamp(0.0, to - from);
            if time <= 0.0 {
                return 0.0;
            }
            let factor = (last / first).ln() / (to - from);
            // ∫ first · e^(factor·t) dt; where the factor is nothing it is a plain product.
            if (factor * time).abs() < 1e-9 {
                first * time
            } else {
                first * (factor * time).exp_m1() / factor
            }
        };
        self.rates.windows(2).map(spent).sum()
    }

    /// What so many seconds more use, held on as it ends.
    pub(super) fn held_on(&self, seconds: f64) -> f64 {
        self.rates.last().map_or(0.0, |(_, rate)| rate * seconds)
    }

    /// When so much is used, in seconds; all of its time where it uses less.
    pub(super) fn lasts(&self, share: f64) -> f64 {
        let (mut low, mut high) = (0.0, self.seconds);
        if self.used(high) <= share {
            return high;
        }
        // What is used only grows: halving 50 times is finer than any clock.
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if self.used(middle) < share { low = middle } else { high = middle }
        }
        low
    }
}

/// The written notes of a played one.
pub(super) fn pieces(played: &Played, line: &Line, desk: &Desk<'_>, section: &Section<'_>) -> Vec<Piece> {
    pieces_on(played, 1, line, desk, section)
}

/// The written notes of a played one as they are asked for on a time of their bar.
pub(super) fn pieces_on(
    played: &Played,
    pass: u32,
    line: &Line,
    desk: &Desk<'_>,
    section: &Section<'_>,
) -> Vec<Piece> {
    let sustain = &desk.instrument_at(line, played.onset).sustain;
    let tempo = &section.score.tempo;
    let notes = played.chain.iter().filter_map(|&index| desk.part.notes.get(index as usize));
    let pieces = notes.map(|note| {
        let asked = note.asked_on(pass);
        let level = f64::from(asked.dynamic.unwrap_or(*sustain.law.unmarked) as i32);
        let until = asked.until.map_or(level, |until| f64::from(until as i32));
        let written = tempo.lasting(note.onset, note.length).get();
        let seconds = written * sounding_share(note, &section.limits.rest);
        // The levels at which figures stand, and that at which the flow can grow no more, break the way.
        let mut levels = vec![level, until];
        let between = |&given: &f64| (given - level) * (given - until) < 0.0;
        levels.extend(breaks(sustain, played.sounding).filter(between));
        levels.sort_by(|a, b| if level <= until { a.total_cmp(b) } else { b.total_cmp(a) });
        let flutter = *section.limits.flutter;
        let flutters = note.articulations.has(Articulation::FlutterTongue);
        let more =
            |at: f64| if flutters && at >= f64::from(flutter.from as i32) { flutter.factor } else { 1.0 };
        let rate = |at: f64| more(at) / (lasting(sustain, played.sounding, at) * desk.breath);
        let into = |at: f64| seconds * (at - level) / (until - level);
        let rates = if (until - level).abs() < 1e-9 {
            vec![(0.0, rate(level)), (seconds, rate(level))]
        } else {
            levels.into_iter().map(|at| (into(at), rate(at))).collect()
        };
        Piece { seconds, rates }
    });
    pieces.collect()
}

/// The share of its value that a note sounds, by its marks: nothing cuts short one that is tied on, and with a line beside
/// the dot, or under a slur, it is only parted from the next.
fn sounding_share(note: &Note, limits: &RestLimits) -> f64 {
    let has = |mark| note.articulations.has(mark);
    let short = has(Articulation::Staccato) || has(Articulation::Staccatissimo);
    let parted = has(Articulation::Tenuto) || note.joins.has(Join::Slur);
    if note.tie.goes_on() {
        1.0
    } else if has(Articulation::DetachedLegato) || (short && parted) {
        *limits.detached
    } else if has(Articulation::Staccatissimo) {
        *limits.staccatissimo
    } else if short {
        *limits.staccato
    } else {
        1.0
    }
}

/// Seconds a breath lasts at a place on the dynamic scale, which may lie between two marks.
fn lasting(sustain: &Sustain, pitch: Sounding, level: f64) -> f64 {
    let by_law = by_law(&sustain.law, pitch, level);
    let above = sustain.rows.partition_point(|row| row.at <= pitch);
    // How much longer than by the law it was measured to last.
    let proportion = |row: &SustainRow| {
        let figures = row.seconds.iter().map(|&(dynamic, seconds)| {
            let at = f64::from(dynamic as i32);
            (at, seconds / self::by_law(&sustain.law, row.at, at))
        });
        between(&figures.collect::<Vec<_>>(), level)
    };
    by_law
        * match (above.checked_sub(1).map(|below| &sustain.rows[below]), sustain.rows.get(above)) {
            (Some(below), Some(above)) => {
                let height = |row: &SustainRow| row.at.height();
                let part = pitch.height().semitones_above(height(below))
                    / height(above).semitones_above(height(below));
                geometric(proportion(below), proportion(above), part)
            }
            (Some(row), None) | (None, Some(row)) => proportion(row),
            (None, None) => 1.0,
        }
}

/// Seconds by the law alone.
fn by_law(law: &Law, pitch: Sounding, level: f64) -> f64 {
    let flow = loudest(law, pitch) * between(&shares(law), level);
    law.usable.get() / flow.min(law.flow.most)
}

/// Litres a second that the loudest would take without a limit.
fn loudest(law: &Law, pitch: Sounding) -> f64 {
    law.flow.litres_a_second * (pitch.hertz() / law.flow.at.hertz()).powf(law.flow.exponent)
}

fn shares(law: &Law) -> Vec<(f64, f64)> {
    law.shares.iter().map(|share| (f64::from(share.dynamic as i32), share.share)).collect()
}

/// Places on the dynamic scale between which the flow at a pitch changes by a constant factor.
fn breaks(sustain: &Sustain, pitch: Sounding) -> impl Iterator<Item = f64> {
    let shares = shares(&sustain.law);
    let most = sustain.law.flow.most / loudest(&sustain.law, pitch);
    let limits = shares.windows(2).filter(|pair| pair[0].1 < most && most < pair[1].1).map(|pair| {
        let ((from, soft), (to, loud)) = (pair[0], pair[1]);
        from + (to - from) * (most / soft).ln() / (loud / soft).ln()
    });
    let limits: Vec<f64> = limits.collect();
    let measured = sustain.rows.iter().flat_map(|row| &row.seconds).map(|&(at, _)| f64::from(at as i32));
    let measured: Vec<f64> = measured.collect();
    shares.into_iter().map(|(at, _)| at).chain(limits).chain(measured)
}

/// The figure at a place on the scale: geometric between those given, beyond them the outermost.
fn between(given: &[(f64, f64)], level: f64) -> f64 {
    let louder = given.partition_point(|(at, _)| *at <= level);
    match (louder.checked_sub(1).map(|softer| given[softer]), given.get(louder)) {
        (Some((from, soft)), Some(&(to, loud))) => geometric(soft, loud, (level - from) / (to - from)),
        (Some((_, only)), None) | (None, Some(&(_, only))) => only,
        (None, None) => 1.0,
    }
}

fn geometric(from: f64, to: f64, part: f64) -> f64 {
    from * (to / from).powf(part)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Basis, Ground};
    use crate::playing::testing::{instrument, pitch, section};
    use crate::score::testing::music;

    const TUBA: &str = "contrabass-tuba-c";

    /// Litres a second of a player of 4.0 L, the profile's own.
    fn flow(name: &str, dynamic: Dynamic) -> f64 {
        let profile = instrument(TUBA);
        profile.sustain.law.usable.get() / sustain(&profile, pitch(name), dynamic).get()
    }

    #[track_caller]
    fn uses(text: &str) -> f64 {
        let music = music(text);
        let section = section(&music, &[TUBA]);
        use_of(&music.lines[0].played[0], &music.lines[0], &section.desks[0], &section).get()
    }

    #[test]
    fn the_flow_is_what_was_measured_on_players() {
        // A. Jacobs, Chicago tests of 1959/60 (B. Frederiksen, Arnold Jacobs: Song and Wind): a tuba's softest flow 7 L/min
        // = 0.12 L/s; loud and low 140 to 160 L/min = 2.3 to 2.7 L/s.
        assert!((2.3..=2.7).contains(&flow("F1", Dynamic::Fff)), "{}", flow("F1", Dynamic::Fff));
        assert!((0.07..=0.13).contains(&flow("F3", Dynamic::Pp)), "{}", flow("F3", Dynamic::Pp));
        // V. Fréour, R. Caussé, D. Cossette (2010): the trumpet's peak 0.95 L/s at low ff, mean 0.18 to 0.63 L/s.
        assert!((0.85..=0.95).contains(&flow("F3", Dynamic::Fff)));
        assert!((0.18..=0.63).contains(&flow("F3", Dynamic::Mf)));
    }

    #[test]
    fn a_breath_lasts_as_long_as_the_flow_lets_it() {
        // 7 L at 0.25 L/s = 28 s, 7 L at 140 L/min = 3 s: Jacobs, in print and in his teaching.
        let lasts = |litres: f64, flow: f64| litres / flow;
        assert!((lasts(7.0, 0.25) - 28.0).abs() < 1e-9);
        let profile = instrument(TUBA);
        let loud =
            sustain(&profile, pitch("F1"), Dynamic::Fff).get() * 7.0 / profile.sustain.law.usable.get();
        assert!((2.5..3.1).contains(&loud), "{loud}");
        let soft =
            7.0 / profile.sustain.law.usable.get() * sustain(&profile, pitch("Bb3"), Dynamic::Mf).get();
        assert!((soft - 28.0).abs() < 1.0, "0.25 L/s is Bb3 mf: {soft}");
    }

    #[test]
    fn the_power_law_is_met_exactly() {
        // Q = 2.5 L/s (f / 43.65)^−0.74 k, the profile's own model.
        let expected = |name: &str, k: f64| 2.5 * (pitch(name).hertz() / 43.65).powf(-0.74) * k;
        for name in ["G1", "B1", "D2", "G2", "D3", "A3"] {
            for (dynamic, k) in [(Dynamic::Pp, 0.12), (Dynamic::Mf, 0.35), (Dynamic::Ff, 0.7)] {
                let off = flow(name, dynamic) / expected(name, k) - 1.0;
                assert!(off.abs() < 0.001, "{name} {dynamic}: off by {off}");
            }
        }
    }

    #[test]
    fn a_note_uses_its_time_over_what_a_breath_lasts() {
        // F2 ff: 1.05 L/s; 3.5 s are 3.7 of 4.0 L.
        assert!((uses("ff F2/7/2") - 3.5 * 1.05 / 4.0).abs() < 0.01);
        assert!((uses("=60 mf D1/4") - uses("=120 mf D1/8")).abs() < 1e-9);
        assert!((uses("F2/4") - uses("mf F2/4")).abs() < 1e-12, "before any mark as mf");
        assert!((uses("mf F2/2~ F2/2") - uses("mf F2/4")).abs() < 1e-12);
    }

    #[test]
    fn a_hairpin_is_integrated_along_the_scale() {
        let between = uses("p < F2/4 ff F2");
        assert!(uses("p F2/4") < between && between < uses("ff F2/4"));
        // By hand, in 20,000 steps of one ten-thousandth of the note each, figures of the profile in between.
        let profile = instrument(TUBA);
        let steps = 20_000;
        let (from, to) = (f64::from(Dynamic::P as i32), f64::from(Dynamic::Ff as i32));
        let slice = |step: i32| {
            let level = from + (to - from) * (f64::from(step) + 0.5) / f64::from(steps);
            4.0 / f64::from(steps) / lasting(&profile.sustain, pitch("F2"), level)
        };
        let by_hand: f64 = (0..steps).map(slice).sum();
        assert!((between - by_hand).abs() < 1e-6, "{between} {by_hand}");
        assert!((uses("ff > F2/4 p F2") - by_hand).abs() < 1e-6, "the way back uses the same");
    }

    #[test]
    fn a_breath_refills_by_its_seconds() {
        // 0.8 of the vital capacity in the first second (G. J. Tammeling, 1961) is 1.07 of the usable air a second: 0.15 s bring
        // 0.16, 0.3 s 0.32, 0.5 s 0.53, 0.94 s all.
        let profile = instrument(TUBA);
        let brings = |seconds: f64| refill(&profile, Seconds::new(seconds)).get();
        for (seconds, share) in [(0.1, 0.0), (0.15, 0.16), (0.3, 0.32), (0.5, 0.53), (0.94, 1.0), (9.0, 1.0)]
        {
            assert!((brings(seconds) - share).abs() < 0.005, "{seconds} s");
        }
    }

    #[test]
    fn a_hairpin_up_to_the_greatest_flow_is_integrated_too() {
        // Bb0 grows from ff to 2.7 L/s and no further, on the way to fff.
        let profile = instrument(TUBA);
        let steps = 20_000;
        let (from, to) = (f64::from(Dynamic::Ff as i32), f64::from(Dynamic::Fff as i32));
        let slice = |step: i32| {
            let level = from + (to - from) * (f64::from(step) + 0.5) / f64::from(steps);
            1.0 / f64::from(steps) / lasting(&profile.sustain, pitch("Bb0"), level)
        };
        let by_hand: f64 = (0..steps).map(slice).sum();
        let found = uses("ff < Bb0/1 fff C1");
        assert!((found - by_hand).abs() < 1e-6, "{found} {by_hand}");
    }

    #[test]
    fn what_was_measured_overrules_the_law() {
        let law = instrument(TUBA);
        let row = SustainRow {
            at: pitch("F1"),
            seconds: vec![(Dynamic::Mf, 6.0)],
            ground: Ground { basis: Basis::Measured, sources: ["a player".to_owned()].into() },
        };
        let measured = Sustain { rows: vec![row], ..law.sustain.clone() };
        let at = |name: &str, dynamic: Dynamic| lasting(&measured, pitch(name), f64::from(dynamic as i32));
        let by_law = |name: &str, dynamic: Dynamic| sustain(&law, pitch(name), dynamic).get();
        assert!((at("F1", Dynamic::Mf) - 6.0).abs() < 1e-9);
        // Elsewhere in the same proportion.
        let more = 6.0 / by_law("F1", Dynamic::Mf);
        assert!((at("F2", Dynamic::Ff) / by_law("F2", Dynamic::Ff) - more).abs() < 1e-9);
        assert_eq!(law.sustain.ground_at(pitch("F1")).basis, Basis::Computed);
        assert_eq!(measured.ground_at(pitch("F1")).basis, Basis::Measured);
        assert_eq!(measured.ground_at(pitch("F2")).basis, Basis::Computed);
    }

    #[test]
    fn a_breath_is_used_up_where_the_integral_says() {
        let music = music("ff F2/8");
        let section = section(&music, &[TUBA]);
        let pieces = pieces(&music.lines[0].played[0], &music.lines[0], &section.desks[0], &section);
        assert!(
            (pieces[0].lasts(1.0) - sustain(&instrument(TUBA), pitch("F2"), Dynamic::Ff).get()).abs() < 1e-9
        );
        assert!((pieces[0].lasts(9.0) - 8.0).abs() < 1e-9);
    }

    #[test]
    fn a_smaller_player_has_less() {
        let music = music("ff F2/7/2");
        let mut section = section(&music, &[TUBA]);
        let used = |section: &Section<'_>| {
            use_of(&music.lines[0].played[0], &music.lines[0], &section.desks[0], section).get()
        };
        let strong = used(&section);
        section.desks[0].breath = 2.5 / 4.0;
        // 3.5 s of F2 ff fit 4.0 L and not 2.5 L.
        assert!(strong < 1.0 && used(&section) > 1.0);
    }

    #[test]
    fn a_note_sounds_as_long_as_its_marks_let_it() {
        // Half of the value with a dot, a quarter with a wedge, three quarters with dot and line (primers of notation, from
        // memory); MusicXML 4.0, `detached-legato`: "the combination of a tenuto and staccato symbol".
        use crate::score::{Articulation as A, Articulations};
        let uses = |marks: &[A], slurred: bool| {
            let mut music = music("=60 mf F2/2 F2");
            let note = &mut music.score.parts[0].notes[0];
            note.articulations = marks.iter().fold(Articulations::default(), |all, mark| all.with(*mark));
            if slurred {
                note.joins = note.joins.with(Join::Slur);
            }
            let section = section(&music, &[TUBA]);
            let used = use_of(&music.lines[0].played[0], &music.lines[0], &section.desks[0], &section).get();
            let whole = use_of(&music.lines[0].played[1], &music.lines[0], &section.desks[0], &section).get();
            (used / whole * 100.0).round() / 100.0
        };
        let share =
            |expected: f64, marks: &[A]| assert!((uses(marks, false) - expected).abs() < 1e-9, "{marks:?}");
        share(1.0, &[]);
        share(1.0, &[A::Tenuto]);
        share(0.5, &[A::Staccato]);
        share(0.25, &[A::Staccatissimo]);
        share(0.75, &[A::DetachedLegato]);
        share(0.75, &[A::Tenuto, A::Staccato]);
        assert!((uses(&[A::Staccato], true) - 0.75).abs() < 1e-9);
    }
}
