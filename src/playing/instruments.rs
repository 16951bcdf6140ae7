//! Which instrument suits which passage, where to change, and what to bring.
//!
//! In go a desk and the instruments within its player's reach; out come plain data for the reports, and for the rules
//! how well an instrument takes a note.

use std::sync::Arc;

use crate::music::{Onset, Seconds};
use crate::playing::loudness::asked;
use crate::playing::slide::playable;
use crate::playing::valves::fingering;
use crate::playing::{Desk, Section};
use crate::profile::{Mechanism, Profile, Profiles, SectionLimits, Zone};
use crate::score::{Line, Mute, Played};

/// How well an instrument takes a note: worse is greater.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// In its usual span and in tune.
    Suits,
    /// Beyond its usual span, or a little out of tune or of its loudness: worth a thought.
    Beyond,
    /// In an extreme zone or an effect, badly out of tune, or well beyond its loudness.
    Strained,
    /// It has no such note.
    Missing,
}

/// A stretch of a line on one instrument.
#[derive(Clone, Debug)]
pub struct InstrumentStretch {
    /// Index into [`Desk::lines`].
    pub line: usize,
    /// First played note.
    pub from: usize,
    /// Last played note, inclusive.
    pub to: usize,
    /// The instrument that suits best.
    pub instrument: Arc<Profile>,
    /// The worst it meets there.
    pub worst: Verdict,
    /// Notes of the stretch that are worse than [`Verdict::Suits`] on it.
    pub beyond: usize,
    /// The change to it; `None` for the first stretch.
    pub change: Option<InstrumentChange>,
}

/// A change from one instrument to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InstrumentChange {
    /// Where the last note before it ends, written order.
    pub from: Onset,
    /// Where the first note behind it begins.
    pub to: Onset,
    /// Seconds of rest for it by the performance: the shortest of all passes.
    pub seconds: Seconds,
    /// Seconds below which it is a risk, and below which it cannot be done.
    pub wanted: (Seconds, Seconds),
}

/// What the players of one desk bring for one score.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kit {
    /// Index into [`Section::desks`].
    pub desk: usize,
    /// Names and titles of the instruments, in order of first use.
    pub instruments: Vec<(String, String)>,
    /// Mutes with the name of the instrument they are for, in order of first use.
    pub mutes: Vec<(String, Mute)>,
}

/// How well an instrument takes a note's pitch: compass, mechanism, intonation. Its loudness is for [`takes`].
pub fn suits(profile: &Profile, played: &Played) -> Verdict {
    let pitch = played.sounding;
    let Some(zone) = profile.range.zone_at(pitch) else { return Verdict::Missing };
    let in_tune = match &profile.mechanism {
        Mechanism::Slide(slide) if !playable(slide, pitch) => return Verdict::Missing,
        Mechanism::Slide(_) | Mechanism::Keys { .. } => Verdict::Suits,
        Mechanism::Valves(valves) => match fingering(valves, pitch) {
            None => return Verdict::Missing,
            Some(_) if played.seconds < valves.held_for => Verdict::Suits,
            Some(found) if found.cents.abs() >= valves.sharp_warning => Verdict::Strained,
            Some(found) if found.cents.abs() >= valves.sharp_note => Verdict::Beyond,
            Some(_) => Verdict::Suits,
        },
    };
    let (lowest, highest) = profile.range.usual;
    let in_range = match zone {
        Zone::Comfortable if (lowest..=highest).contains(&pitch) => Verdict::Suits,
        Zone::Comfortable => Verdict::Beyond,
        Zone::Effect | Zone::ExtremeLow | Zone::ExtremeHigh => Verdict::Strained,
    };
    in_tune.max(in_range)
}

/// How well an instrument takes a note, its loudness counted in.
pub fn takes(profile: &Profile, played: &Played, limits: &SectionLimits) -> Verdict {
    let steps = asked(played, profile).map_or(0, |asked| asked.over.max(asked.under));
    let loud = match steps {
        steps if steps >= limits.loudness_steps.warning => Verdict::Strained,
        steps if steps >= limits.loudness_steps.note => Verdict::Beyond,
        _ => Verdict::Suits,
    };
    suits(profile, played).max(loud)
}

/// The instruments each desk may choose from besides those in hand: those the settings or the part's name give it, or
/// else those that its player is ready to bring.
pub fn within_reach(section: &Section<'_>, profiles: &Profiles) -> Vec<Vec<Arc<Profile>>> {
    let of_desk = |desk: &Desk<'_>| {
        if !desk.also.is_empty() {
            return desk.also.clone();
        }
        let brings = desk.instruments.iter().flat_map(|hand| &hand.profile.changes.brings);
        brings.filter_map(|name| profiles.get(name)).collect()
    };
    section.desks.iter().map(of_desk).collect()
}

/// Seconds a change takes, below which it is a risk and below which it cannot be done: those of the slower of the two.
pub fn pick_up(one: &Profile, other: &Profile) -> (Seconds, Seconds) {
    let slower = |a: Seconds, b: Seconds| if a < b { b } else { a };
    let (one, other) = (one.changes.pick_up, other.changes.pick_up);
    (slower(one.0, other.0), slower(one.1, other.1))
}

/// The best instrument for each stretch of each line of a desk, out of those it has in hand and `others`. An
/// instrument is changed only between passages. Of all choices the one with the fewest missing notes, then changes
/// that cannot be done, then strained notes, then risky changes, then passages on another instrument than the score
/// asks, then changes, then notes beyond; of equal ones that with the instrument named first. Exact, linear in the
/// passages.
pub fn stretches(desk: &Desk<'_>, section: &Section<'_>, others: &[Arc<Profile>]) -> Vec<InstrumentStretch> {
    let mut instruments: Vec<Arc<Profile>> = Vec::new();
    for instrument in desk.instruments.iter().map(|hand| &hand.profile).chain(others) {
        if instruments.iter().all(|known| known.name != instrument.name) {
            instruments.push(Arc::clone(instrument));
        }
    }
    let lines = desk.lines.iter().enumerate();
    lines.flat_map(|(index, line)| line_stretches(desk, section, &instruments, index, line)).collect()
}

/// What each desk brings: the instruments the score asks by word, those its passages want out of `others` (given for
/// each desk, in order), and the mutes.
pub fn kits(section: &Section<'_>, others: &[Vec<Arc<Profile>>]) -> Vec<Kit> {
    let mut kits = Vec::new();
    for (index, desk) in section.desks.iter().enumerate() {
        let mut kit = Kit { desk: index, instruments: Vec::new(), mutes: Vec::new() };
        let within_reach = others.get(index).map_or(&[][..], Vec::as_slice);
        for stretch in stretches(desk, section, within_reach) {
            let line = &desk.lines[stretch.line];
            for note in &line.played[stretch.from..=stretch.to] {
                let asked = desk.instrument_at(note.onset);
                for instrument in [asked, &stretch.instrument] {
                    let named = (instrument.name.clone(), instrument.title.clone());
                    // The score's own instrument is brought only where the score itself names several.
                    if (instrument.name == stretch.instrument.name || desk.instruments.len() > 1)
                        && !kit.instruments.contains(&named)
                    {
                        kit.instruments.push(named);
                    }
                }
                if let Some(mute) = note.mute {
                    let own = (stretch.instrument.name.clone(), mute);
                    if !kit.mutes.contains(&own) {
                        kit.mutes.push(own);
                    }
                }
            }
        }
        kits.push(kit);
    }
    kits
}

/// What a choice costs, worst first; see [`stretches`].
type Cost = [usize; 7];

fn line_stretches(
    desk: &Desk<'_>,
    section: &Section<'_>,
    instruments: &[Arc<Profile>],
    index: usize,
    line: &Line,
) -> Vec<InstrumentStretch> {
    let chosen = cheapest(desk, section, instruments, line);
    let gaps = gaps(line);
    let mut stretches: Vec<InstrumentStretch> = Vec::new();
    for (passage, (range, &instrument)) in line.passages.iter().zip(&chosen).enumerate() {
        let verdicts = line.played[range.clone()]
            .iter()
            .map(|note| takes(&instruments[instrument], note, &section.limits));
        let (mut worst, mut beyond) = (Verdict::Suits, 0);
        for verdict in verdicts {
            worst = worst.max(verdict);
            beyond += usize::from(verdict > Verdict::Suits);
        }
        match stretches.last_mut() {
            Some(last) if passage > 0 && chosen[passage - 1] == instrument => {
                last.to = range.end - 1;
                last.worst = last.worst.max(worst);
                last.beyond += beyond;
            }
            before => {
                let change = before.map(|before| InstrumentChange {
                    from: line.played[before.to].end,
                    to: line.played[range.start].onset,
                    seconds: gaps[passage - 1],
                    wanted: pick_up(&before.instrument, &instruments[instrument]),
                });
                stretches.push(InstrumentStretch {
                    line: index,
                    from: range.start,
                    to: range.end - 1,
                    instrument: Arc::clone(&instruments[instrument]),
                    worst,
                    beyond,
                    change,
                });
            }
        }
    }
    stretches
}

/// The instrument chosen for each passage, as an index into `instruments`: a shortest path over passage × instrument.
fn cheapest(desk: &Desk<'_>, section: &Section<'_>, instruments: &[Arc<Profile>], line: &Line) -> Vec<usize> {
    let gaps = gaps(line);
    let mut reached: Vec<Cost> = vec![Cost::default(); instruments.len()];
    let mut came_from: Vec<Vec<usize>> = Vec::new();
    for (passage, range) in line.passages.iter().enumerate() {
        let notes = &line.played[range.clone()];
        if passage > 0 {
            let best = instruments.iter().enumerate().map(|(to, instrument)| {
                let ways = (0..instruments.len()).map(|from| {
                    let change = if from == to {
                        Cost::default()
                    } else {
                        change_cost(pick_up(&instruments[from], instrument), gaps[passage - 1])
                    };
                    (sum(reached[from], change), from != to, from)
                });
                ways.min().map_or((Cost::default(), 0), |(cost, _, from)| (cost, from))
            });
            let (costs, froms) = best.unzip();
            reached = costs;
            came_from.push(froms);
        }
        let asked = notes.first().map(|note| desk.instrument_at(note.onset));
        for (cost, instrument) in reached.iter_mut().zip(instruments) {
            let mut here = Cost::default();
            for note in notes {
                match takes(instrument, note, &section.limits) {
                    Verdict::Missing => here[0] += 1,
                    Verdict::Strained => here[2] += 1,
                    Verdict::Beyond => here[6] += 1,
                    Verdict::Suits => {}
                }
            }
            here[4] = usize::from(asked.is_some_and(|asked| asked.name != instrument.name));
            *cost = sum(*cost, here);
        }
    }
    let mut chosen =
        vec![(0..reached.len()).min_by_key(|&instrument| (reached[instrument], instrument)).unwrap_or(0)];
    for froms in came_from.iter().rev() {
        chosen.push(froms[chosen[chosen.len() - 1]]);
    }
    chosen.reverse();
    chosen
}

fn change_cost((risky, impossible): (Seconds, Seconds), gap: Seconds) -> Cost {
    let mut cost = Cost::default();
    cost[1] = usize::from(gap < impossible);
    cost[3] = usize::from(gap < risky);
    cost[5] = 1;
    cost
}

fn sum(a: Cost, b: Cost) -> Cost {
    std::array::from_fn(|place| a[place] + b[place])
}

/// Seconds of rest behind each passage but the last, up to the next in written order: the shortest of all passes.
/// Where the performance never goes straight on (a jump lies between), it is the rest as written.
fn gaps(line: &Line) -> Vec<Seconds> {
    let mut gaps: Vec<Option<f64>> = vec![None; line.passages.len().saturating_sub(1)];
    for pair in line.performed.windows(2) {
        let passage = line.passage_of(pair[0].played);
        if pair[1].played == pair[0].played + 1 && line.passage_of(pair[1].played) == passage + 1 {
            let gap = (pair[1].start - pair[0].start - pair[0].seconds).get().max(0.0);
            gaps[passage] = Some(gaps[passage].map_or(gap, |known| known.min(gap)));
        }
    }
    let written = |passage: usize| line.rest_after(line.passages[passage].end - 1).unwrap_or(Seconds::ZERO);
    let or_written =
        |(passage, gap): (usize, Option<f64>)| gap.map_or_else(|| written(passage), Seconds::new);
    gaps.into_iter().enumerate().map(or_written).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{instrument, section};
    use crate::profile::shipped;
    use crate::score::testing::music;

    fn verdict(profile: &Profile, text: &str) -> Verdict {
        suits(profile, &music(text).lines[0].played[0])
    }

    /// Instrument and first and last note of each stretch, an F tuba beside the C tuba.
    fn chosen(text: &str) -> Vec<(String, usize, usize)> {
        let music = music(text);
        let section = section(&music, &["contrabass-tuba-c"]);
        let stretches = stretches(&section.desks[0], &section, &[Arc::new(instrument("bass-tuba-f"))]);
        stretches
            .into_iter()
            .map(|stretch| (stretch.instrument.name.clone(), stretch.from, stretch.to))
            .collect()
    }

    #[test]
    fn an_f_tuba_takes_the_player_to_f4() {
        // Common practice, no source.
        assert_eq!(verdict(&instrument("contrabass-tuba-c"), "mf F4"), Verdict::Strained);
        assert_eq!(verdict(&instrument("bass-tuba-f"), "mf F4"), Verdict::Suits);
        assert_eq!(verdict(&instrument("contrabass-tuba-c"), "mf D4"), Verdict::Beyond);
    }

    #[test]
    fn a_player_brings_what_the_profile_says_and_the_settings_overrule_it() {
        // Common practice: an orchestral tubist owns a contrabass and a bass tuba; nobody brings a contrabass
        // trombone for a note.
        let profiles = shipped();
        let music = music("mf F4");
        let reach = |section: &Section<'_>| -> Vec<String> {
            within_reach(section, profiles)[0].iter().map(|instrument| instrument.name.clone()).collect()
        };
        let mut section = section(&music, &["contrabass-tuba-c"]);
        assert_eq!(reach(&section), ["bass-tuba-f"]);
        section.desks[0].also = vec![Arc::new(instrument("cimbasso-f"))];
        assert_eq!(reach(&section), ["cimbasso-f"]);
        for profile in profiles.iter() {
            for name in &profile.changes.brings {
                assert!(profiles.get(name).is_some(), "{} brings an unknown {name}", profile.name);
                assert!(!name.starts_with("contrabass-trombone"), "{}", profile.name);
            }
        }
    }

    #[test]
    fn a_note_without_a_position_is_missing() {
        assert_eq!(verdict(&instrument("tenor-bass-trombone"), "f B1"), Verdict::Missing);
        assert_eq!(verdict(&instrument("bass-trombone"), "f E3"), Verdict::Suits);
        assert_eq!(verdict(&instrument("contrabass-tuba-c"), "f F0"), Verdict::Missing);
    }

    #[test]
    fn the_high_passage_goes_to_the_f_tuba_when_there_is_time_to_take_it() {
        let change = [("contrabass-tuba-c".into(), 0, 1), ("bass-tuba-f".into(), 2, 3)];
        assert_eq!(chosen("mf D1/4 E1 r/14 E4/2 F4"), change);
        // Four seconds: below the six in which it cannot be done.
        assert_eq!(chosen("mf D1/4 E1 r/4 E4/2 F4").len(), 1);
        // What suits both is not changed for.
        assert_eq!(chosen("mf C2/4 r/20 E3/4 r/20 C2/4"), [("contrabass-tuba-c".into(), 0, 2)]);
    }

    #[test]
    fn the_change_says_how_long_there_is() {
        let music = music("mf D1/4 r/14 F4/2");
        let section = section(&music, &["contrabass-tuba-c"]);
        let stretches = stretches(&section.desks[0], &section, &[Arc::new(instrument("bass-tuba-f"))]);
        assert_eq!(stretches[0].change, None);
        assert!((stretches[1].change.unwrap().seconds.get() - 14.0).abs() < 1e-9);
    }

    #[test]
    fn the_kit_holds_the_instruments_and_mutes_that_are_used() {
        let music = music("mf D1/4 r/14 [straight] F4/2");
        let section = section(&music, &["contrabass-tuba-c"]);
        let kits = kits(&section, &[vec![Arc::new(instrument("bass-tuba-f"))]]);
        let names: Vec<&str> = kits[0].instruments.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["contrabass-tuba-c", "bass-tuba-f"]);
        assert_eq!(kits[0].mutes, [("bass-tuba-f".to_owned(), Mute::Straight)]);
    }
}
