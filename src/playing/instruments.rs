//! Which instrument is in hand for which passage, where it changes, and what to bring.
//!
//! In go a desk and the instruments within its player's reach; out come plain data for the reports. What is in hand is
//! decided in [`hand`](super::hand).

use std::sync::Arc;

use crate::music::{Onset, Seconds};
use crate::playing::hand::{Verdict, at, gaps, in_hand, pick_up, takes};
use crate::playing::{Desk, InstrumentInHand, Section};
use crate::profile::{Profile, Profiles};
use crate::score::{Line, Mute};

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

/// The stretches of each line of a desk on one instrument: those in hand, or, where nobody lists what is within reach,
/// those its player would choose out of `others`.
pub fn stretches(desk: &Desk<'_>, section: &Section<'_>, others: &[Arc<Profile>]) -> Vec<InstrumentStretch> {
    let of_line = |(index, line): (usize, &Line)| {
        let hand = if desk.also.is_empty() {
            in_hand(desk, line, others, &section.limits)
        } else {
            desk.hand_of(line).to_vec()
        };
        line_stretches(&hand, section, index, line)
    };
    desk.lines.iter().enumerate().flat_map(of_line).collect()
}

/// What each desk brings: the instruments the score asks by word, those its passages want out of `others` (given for
/// each desk, in order), and the mutes.
pub fn kits(section: &Section<'_>, others: &[Vec<Arc<Profile>>]) -> Vec<Kit> {
    let of_desk = |index: usize| {
        let within_reach = others.get(index).map_or(&[][..], Vec::as_slice);
        let mut all = Kit { desk: index, instruments: Vec::new(), mutes: Vec::new() };
        for kit in line_kits(index, section, within_reach) {
            add_new(&mut all.instruments, kit.instruments);
            add_new(&mut all.mutes, kit.mutes);
        }
        all
    };
    (0..section.desks.len()).map(of_desk).collect()
}

/// The same for each line of one desk, in order; `others` are the instruments within its reach.
pub fn line_kits(index: usize, section: &Section<'_>, others: &[Arc<Profile>]) -> Vec<Kit> {
    let Some(desk) = section.desks.get(index) else { return Vec::new() };
    let stretches = stretches(desk, section, others);
    let mut kits = Vec::new();
    for (position, line) in desk.lines.iter().enumerate() {
        let mut kit = Kit { desk: index, instruments: Vec::new(), mutes: Vec::new() };
        for stretch in stretches.iter().filter(|stretch| stretch.line == position) {
            for note in &line.played[stretch.from..=stretch.to] {
                let asked = at(&desk.instruments, note.onset);
                for instrument in [asked, &stretch.instrument] {
                    // The score's own instrument is brought only where the score itself names several.
                    if instrument.name == stretch.instrument.name || desk.instruments.len() > 1 {
                        add_new(&mut kit.instruments, [(instrument.name.clone(), instrument.title.clone())]);
                    }
                }
                let mute = note.mute.map(|mute| (stretch.instrument.name.clone(), mute));
                add_new(&mut kit.mutes, mute);
            }
        }
        kits.push(kit);
    }
    kits
}

fn add_new<T: PartialEq>(all: &mut Vec<T>, more: impl IntoIterator<Item = T>) {
    for item in more {
        if !all.contains(&item) {
            all.push(item);
        }
    }
}

fn line_stretches(
    hand: &[InstrumentInHand],
    section: &Section<'_>,
    index: usize,
    line: &Line,
) -> Vec<InstrumentStretch> {
    let gaps = gaps(line);
    let mut stretches: Vec<InstrumentStretch> = Vec::new();
    for (place, note) in line.played.iter().enumerate() {
        let instrument = at(hand, note.onset);
        let verdict = takes(instrument, note, &section.limits);
        if stretches.last().is_none_or(|last| last.instrument.name != instrument.name) {
            let change = stretches.last().map(|before| InstrumentChange {
                from: line.played[before.to].end,
                to: note.onset,
                seconds: match line.passage_of(place) {
                    passage if line.passages[passage].start == place => gaps[passage - 1],
                    _ => Seconds::ZERO,
                },
                wanted: pick_up(&before.instrument, instrument),
            });
            let instrument = Arc::clone(instrument);
            let worst = Verdict::Suits;
            let (from, to) = (place, place);
            stretches.push(InstrumentStretch { line: index, from, to, instrument, worst, beyond: 0, change });
        }
        if let Some(stretch) = stretches.last_mut() {
            stretch.to = place;
            stretch.worst = stretch.worst.max(verdict);
            stretch.beyond += usize::from(verdict > Verdict::Suits);
        }
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::hand::suits;
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
