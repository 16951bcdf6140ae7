//! The slide: where a pitch lies, the cheapest way through a passage, and what glides.
//!
//! A position is reckoned from the length of the instrument: lowering an instrument of length L = c / 2f by s
//! semitones takes L (2^(s/12) − 1) / 2 of slide (a double slide half of that). Partials lie where nature puts them:
//! a flat one is played with the slide drawn in, and where it is in already only as far as a lip bends
//! ([`SlideLimits::lip`](crate::profile::SlideLimits::lip)).

use crate::music::{Seconds, Sounding};
use crate::playing::partials::{natural, tempered};
use crate::profile::Slide;
use crate::score::{Join, Played};

/// One way to play a pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlidePlace {
    /// Index into [`Slide::attachments`]; `None` for the open instrument.
    pub attachment: Option<usize>,
    /// Its partial, 1 for a pedal.
    pub partial: u8,
    /// The position, 1 for all in; quarter-tones lie between.
    pub position: f64,
    /// Metres the slide is out.
    pub metres: f64,
    /// The last, long and unsteady position of an attachment.
    pub long: bool,
}

/// The slide's way from one note to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlideMove {
    /// Index, of the notes given, of the note it comes from.
    pub from: usize,
    /// Index of the note it leads to.
    pub to: usize,
    /// Metres it travels.
    pub metres: f64,
    /// Seconds from onset to onset.
    pub seconds: Seconds,
    /// Metres a second.
    pub speed: f64,
    /// Where it comes from.
    pub left: SlidePlace,
    /// Where it arrives.
    pub reached: SlidePlace,
}

/// All ways to play a pitch, the open instrument first, by partial from below.
pub fn places(slide: &Slide, pitch: Sounding) -> Vec<SlidePlace> {
    let mut all = Vec::new();
    for side in sides(slide) {
        let above = pitch.height().semitones_above(side.fundamental.height());
        let last = f64::from(side.positions) - 1.0;
        let lip = slide.limits.lip / 100.0;
        for partial in 1..=slide.highest_partial {
            let lowered = natural(partial) - above;
            if lowered < -lip || lowered > last + lip {
                continue;
            }
            let lowered = lowered.clamp(0.0, last);
            all.push(SlidePlace {
                attachment: side.attachment,
                partial,
                position: lowered + 1.0,
                metres: travel(slide, side.fundamental, lowered),
                long: side.last_is_long && lowered > last - 0.5,
            });
        }
    }
    all
}

/// Whether any position gives the pitch.
pub fn playable(slide: &Slide, pitch: Sounding) -> bool {
    !places(slide, pitch).is_empty()
}

/// Metres the slide is out when an instrument of this fundamental is lowered by so many semitones.
pub fn travel(slide: &Slide, fundamental: Sounding, semitones: f64) -> f64 {
    let length = slide.limits.sound_speed / (2.0 * fundamental.hertz());
    length * ((semitones / 12.0).exp2() - 1.0) / f64::from(slide.tubes)
}

/// The slide's moves through neighbouring notes (of one line, in order), by the best choice of positions: as few
/// moves beyond [`SlideLimits::travel_error`](crate::profile::SlideLimits::travel_error) as can be, then as few beyond [`SlideLimits::travel_warning`](crate::profile::SlideLimits::travel_warning), then the least travel.
/// Grace notes and notes without any position are left out; a glissando keeps its partial and attachment where any
/// does.
pub fn moves(slide: &Slide, notes: &[Played]) -> Vec<SlideMove> {
    let stops: Vec<Stop> = notes
        .iter()
        .enumerate()
        .filter(|(_, note)| !note.grace)
        .map(|(index, note)| Stop {
            index,
            start: note.start,
            glides: note.joins.has(Join::Glissando),
            places: places(slide, note.sounding),
        })
        .filter(|stop| !stop.places.is_empty())
        .collect();
    let chosen = cheapest(slide, &stops);
    let pairs = stops.windows(2).zip(chosen.windows(2));
    pairs.map(|(stops, at)| way(&stops[0], at[0], &stops[1], at[1])).collect()
}

/// Whether a glissando breaks between two pitches: `None` when one partial and attachment holds it, else the most
/// semitones that a glissando goes down from the higher of the two on any (0 where none does). Partials count as
/// their tempered pitch: a glissando may start a shade flat.
pub fn gliss_breaks(slide: &Slide, from: Sounding, to: Sounding) -> Option<f64> {
    let (high, low) = (from.max(to), from.min(to));
    let mut widest = 0.0_f64;
    for side in sides(slide) {
        let above = high.height().semitones_above(side.fundamental.height());
        for partial in 1..=slide.highest_partial {
            let lowered = tempered(partial) - above;
            if lowered >= 0.0 {
                widest = widest.max(f64::from(side.positions) - 1.0 - lowered);
            }
        }
    }
    (high.height().semitones_above(low.height()) > widest).then_some(widest)
}

/// The open instrument or one of its attachments.
struct Side {
    attachment: Option<usize>,
    fundamental: Sounding,
    positions: u8,
    last_is_long: bool,
}

fn sides(slide: &Slide) -> impl Iterator<Item = Side> {
    let open = Side {
        attachment: None,
        fundamental: slide.fundamental,
        positions: slide.positions,
        last_is_long: slide.last_is_long,
    };
    let attached = slide.attachments.iter().enumerate().map(|(index, attachment)| Side {
        attachment: Some(index),
        fundamental: attachment.fundamental,
        positions: attachment.positions,
        last_is_long: attachment.last_is_long,
    });
    std::iter::once(open).chain(attached)
}

/// A note with its positions; never without one.
struct Stop {
    index: usize,
    start: Seconds,
    glides: bool,
    places: Vec<SlidePlace>,
}

/// What a way costs, worst first: glissandos that break though they need not, moves beyond what can be done, moves
/// to warn of, travel in hundredths of a millimetre (whole numbers, so that equal ways are equal).
type Cost = (u32, u32, u32, i64);

fn way(from: &Stop, left: usize, to: &Stop, reached: usize) -> SlideMove {
    let (left, reached) = (from.places[left], to.places[reached]);
    let metres = (left.metres - reached.metres).abs();
    let seconds = to.start - from.start;
    let speed = if metres > 0.0 { metres / seconds.get().max(f64::MIN_POSITIVE) } else { 0.0 };
    SlideMove { from: from.index, to: to.index, metres, seconds, speed, left, reached }
}

fn cost(slide: &Slide, from: &Stop, left: usize, to: &Stop, reached: usize) -> Cost {
    let way = way(from, left, to, reached);
    let kept = (way.left.attachment, way.left.partial) == (way.reached.attachment, way.reached.partial);
    (
        u32::from(from.glides && !kept),
        u32::from(way.speed > *slide.limits.travel_error),
        u32::from(way.speed > *slide.limits.travel_warning),
        (way.metres * 100_000.0).round() as i64,
    )
}

fn sum(a: Cost, b: Cost) -> Cost {
    (a.0 + b.0, a.1 + b.1, a.2 + b.2, a.3 + b.3)
}

/// The position chosen for each stop: a shortest path, exact; of equal ways the one with the earlier positions.
fn cheapest(slide: &Slide, stops: &[Stop]) -> Vec<usize> {
    let Some(first) = stops.first() else { return Vec::new() };
    let mut reached: Vec<Cost> = vec![Cost::default(); first.places.len()];
    let mut came_from: Vec<Vec<usize>> = Vec::with_capacity(stops.len());
    for pair in stops.windows(2) {
        let best = (0..pair[1].places.len()).map(|to| {
            let ways = (0..pair[0].places.len())
                .map(|from| (sum(reached[from], cost(slide, &pair[0], from, &pair[1], to)), from));
            ways.min().unwrap_or_default()
        });
        let (costs, froms) = best.unzip();
        reached = costs;
        came_from.push(froms);
    }
    let last = (0..reached.len()).min_by_key(|&at| (reached[at], at)).unwrap_or(0);
    let mut chosen = vec![last];
    for froms in came_from.iter().rev() {
        chosen.push(froms[chosen[chosen.len() - 1]]);
    }
    chosen.reverse();
    chosen
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::playing::testing::{at, pitch, slide};
    use crate::score::testing::music;

    const TENOR: &str = "tenor-trombone";
    const TENOR_BASS: &str = "tenor-bass-trombone";
    const BASS: &str = "bass-trombone";

    /// Ways to play a pitch, as "F3": attachment and position.
    fn ways(slide: &Slide, name: &str, partial: u8) -> Vec<String> {
        let named = |place: SlidePlace| {
            let valve = place.attachment.map_or("", |index| slide.attachments[index].name.as_str());
            format!("{valve}{:.0}", place.position)
        };
        places(slide, pitch(name)).into_iter().filter(|place| place.partial == partial).map(named).collect()
    }

    fn fastest(slide: &Slide, text: &str) -> f64 {
        let music = music(text);
        let moves = moves(slide, &music.lines[0].played);
        moves.iter().map(|way| way.speed).fold(0.0, f64::max)
    }

    #[test]
    fn the_slide_is_out_as_far_as_half_the_length_added() {
        // L = 345 / 2f, travel = L (2^(s/12) − 1) / 2; seven positions, wider on the valve.
        let expected: [(&str, &[f64]); 6] = [
            ("Bb1", &[0.0, 8.8, 18.1, 28.0, 38.5, 49.6, 61.3]),
            ("Eb2", &[0.0, 6.6, 13.6, 21.0, 28.8, 37.1, 45.9]),
            ("F1", &[0.0, 11.7, 24.2, 37.4, 51.4, 66.2]),
            ("Gb1", &[0.0, 11.1, 22.8, 35.3, 48.5, 62.4]),
            ("D1", &[0.0, 14.0, 28.8, 44.5, 61.1]),
            ("Bb0", &[0.0, 17.6, 36.3, 56.0]),
        ];
        let slide = slide(TENOR);
        for (fundamental, centimetres) in expected {
            for (semitones, wanted) in centimetres.iter().enumerate() {
                let metres = travel(&slide, pitch(fundamental), semitones as f64);
                assert!(
                    (metres * 100.0 - wanted).abs() < 0.06,
                    "{fundamental} position {}: {metres}",
                    semitones + 1
                );
            }
        }
    }

    #[test]
    fn the_lowest_octave_lies_where_the_valves_put_it() {
        // Note = fundamental × partial, lowered by (position − 1) semitones.
        let bass = slide(BASS);
        for (name, expected) in [
            ("F2", &["6", "F1", "Gb2"][..]),
            ("E2", &["7", "F2", "Gb3"]),
            ("Eb2", &["F3", "Gb4"]),
            ("D2", &["F4", "Gb5", "F+Gb1"]),
            ("Db2", &["F5", "Gb6", "F+Gb2"]),
            ("C2", &["F6", "F+Gb3"]),
            ("B1", &["F+Gb4"]),
            ("Bb1", &["F+Gb5"]),
        ] {
            assert_eq!(ways(&bass, name, 2), expected, "{name}");
        }
        for (name, expected) in [
            ("Bb1", &["1"][..]),
            ("F1", &["6", "F1", "Gb2"]),
            ("E1", &["7", "F2", "Gb3"]),
            ("C1", &["F6", "F+Gb3"]),
            ("B0", &["F+Gb4"]),
            ("Bb0", &["F+Gb5"]),
        ] {
            assert_eq!(ways(&bass, name, 1), expected, "pedal {name}");
        }
        let long = places(&bass, pitch("C2")).into_iter().filter(|place| place.long);
        assert_eq!(long.map(|place| place.attachment).collect::<Vec<_>>(), [Some(0)]);
    }

    #[test]
    fn a_straight_tenor_has_a_gap_and_one_valve_leaves_a_note_out() {
        let (straight, valved) = (slide(TENOR), slide(TENOR_BASS));
        for name in ["B1", "C2", "Db2", "D2", "Eb2"] {
            assert!(!playable(&straight, pitch(name)), "{name}");
            assert_eq!(playable(&valved, pitch(name)), name != "B1", "{name}");
        }
        assert!(playable(&straight, pitch("E2")) && playable(&straight, pitch("Bb1")));
        assert!(playable(&slide(BASS), pitch("B1")));
        // Alto trombone in E flat: gap from E2 to A flat 2 (Kennan's chart ends at A2).
        let alto = slide("alto-trombone");
        assert!(!playable(&alto, pitch("F2")) && playable(&alto, pitch("A2")));
    }

    #[test]
    fn the_seventh_partial_is_drawn_in_and_never_in_first() {
        let tenor = slide(TENOR);
        assert_eq!(ways(&tenor, "Ab4", 7), Vec::<String>::new());
        let g: Vec<_> = places(&tenor, pitch("G4")).into_iter().filter(|place| place.partial == 7).collect();
        assert!((g[0].position - 1.69).abs() < 0.01, "second drawn in by 31 cents");
        // The fifth, 14 cents flat, is lipped up in first.
        assert_eq!(ways(&tenor, "D4", 5), ["1"]);
    }

    #[test]
    fn a_glissando_spans_as_many_semitones_as_its_side_has_positions_less_one() {
        let tenor = slide(TENOR);
        let holds =
            |slide: &Slide, from: &str, to: &str| gliss_breaks(slide, pitch(from), pitch(to)).is_none();
        // The usual table of glissandos: seven positions a tritone, six a fourth, five a major third.
        for (high, low) in [
            ("Bb1", "E1"),
            ("Bb2", "E2"),
            ("F3", "B2"),
            ("Bb3", "E3"),
            ("D4", "Ab3"),
            ("F4", "B3"),
            ("Ab4", "D4"),
            ("Bb4", "E4"),
            ("C5", "F#4"),
            ("D5", "Ab4"),
        ] {
            assert!(holds(&tenor, high, low) && holds(&tenor, low, high), "{high} to {low}");
        }
        assert!(!holds(&tenor, "Bb2", "Eb2") && !holds(&tenor, "F3", "Bb2"));
        let (valved, bass) = (slide(TENOR_BASS), slide(BASS));
        // Bartók, Concerto for Orchestra iv: B1 to F2 glides only on a bass trombone in F with seven positions.
        assert!(!holds(&valved, "B1", "F2") && !holds(&bass, "B1", "F2"));
        let f_trombone = Slide { fundamental: pitch("F1"), ..slide(TENOR) };
        assert!(holds(&f_trombone, "B1", "F2"));
        assert!(holds(&valved, "C3", "G2") && !holds(&tenor, "C3", "G2"));
        assert!(!holds(&valved, "C3", "F2") && !holds(&bass, "C3", "F2"));
        assert_eq!(gliss_breaks(&tenor, pitch("F3"), pitch("Bb2")), Some(6.0));
    }

    #[test]
    fn the_shift_from_first_to_seventh_is_what_the_valve_is_for() {
        // Bb2 to B2 in sixteenths at 120: 61.3 cm in 0.125 s, 4.9 m/s; on the F side 11.7 cm, 0.94 m/s.
        let text = "=120 f Bb2/1/4 B2";
        assert!((fastest(&slide(TENOR), text) - 4.9).abs() < 0.02);
        assert!(
            (fastest(&slide(TENOR_BASS), text) - 0.94).abs() < 0.02,
            "the third partial is 2 cents sharp"
        );
    }

    #[test]
    fn the_time_is_that_between_the_onsets() {
        // E2 to Bb2 in eighths at 100: 0.613 m in 0.3 s; in thirty-seconds at 76 the first shift: 6.2 m/s.
        assert!((fastest(&slide(TENOR), "=100 f E2/1/2 Bb2") - 2.04).abs() < 0.01);
        assert!((fastest(&slide(TENOR), "=76 f Bb2/1/8 B2") - 6.2).abs() < 0.03);
        assert!(fastest(&slide(TENOR), "=100 f E2/1/2 r/2 Bb2/1/2") < 0.5);
    }

    #[test]
    fn a_glissando_keeps_its_partial() {
        let music = music("=60 f F3/1% B2/1");
        let found = moves(&slide(TENOR_BASS), &music.lines[0].played);
        assert_eq!((found[0].left.partial, found[0].reached.partial), (3, 3));
        assert_eq!(found[0].left.attachment, found[0].reached.attachment);
    }

    proptest! {
        #[test]
        fn no_choice_of_positions_is_cheaper_than_the_one_found(
            semitones in proptest::collection::vec(40_i32..72, 1..5),
            steps in proptest::collection::vec(1_u32..6, 5),
            glides in proptest::collection::vec(any::<bool>(), 5),
        ) {
            let slide = slide(BASS);
            let mut start = 0.0;
            let stops: Vec<Stop> = semitones.iter().enumerate().map(|(index, semitone)| {
                start += f64::from(steps[index]) * 0.06;
                let places = places(&slide, at(semitone * 100));
                Stop { index, start: Seconds::new(start), glides: glides[index], places }
            }).collect();
            let total = |chosen: &[usize]| {
                stops.windows(2).zip(chosen.windows(2)).fold(Cost::default(), |total, (stops, at)| {
                    sum(total, cost(&slide, &stops[0], at[0], &stops[1], at[1]))
                })
            };
            // Every choice there is, counted through like the digits of a number.
            let mut all = vec![Vec::new()];
            for stop in &stops {
                all = all.into_iter().flat_map(|chosen: Vec<usize>| {
                    (0..stop.places.len()).map(move |next| [chosen.as_slice(), &[next]].concat())
                }).collect();
            }
            let least = all.iter().map(|chosen| total(chosen)).min().unwrap();
            prop_assert_eq!(total(&cheapest(&slide, &stops)), least);
        }
    }
}
