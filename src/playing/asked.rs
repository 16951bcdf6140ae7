//! Which instrument the score asks for at each place, by its words and its changes of instrument, in the order of playing:
//! behind a first ending or a jump the player holds what was taken up last on the way there.

use std::sync::Arc;

use super::InstrumentInHand;
use super::hand::at;
use crate::music::Onset;
use crate::profile::{Family, Named, Profile, Recogniser};
use crate::score::{Asks, Direction, Note, Part, Score, Stretch};

/// What the score asks the players of a part to hold.
#[derive(Clone, Debug)]
pub(super) struct AskedInstruments {
    /// From each place on, the first time through; the first is there from the start.
    pub(super) first_time: Vec<InstrumentInHand>,
    /// Where a later time asks for another than the first.
    pub(super) again: Vec<HeldAgain>,
}

/// An instrument that is in hand on a later time through some bars and was not on the first.
#[derive(Clone, Debug)]
pub struct HeldAgain {
    /// Which time the bars are played, from 2.
    pub pass: u32,
    /// From here …
    pub from: Onset,
    /// … up to here.
    pub until: Onset,
    /// This instrument.
    pub profile: Arc<Profile>,
}

impl HeldAgain {
    /// Whether it is in hand at a place on a time through.
    pub fn is_at(&self, place: Onset, pass: u32) -> bool {
        self.pass == pass && self.from <= place && place < self.until
    }
}

/// A part and who may take up what there.
pub(super) struct Asker<'a> {
    pub(super) part: &'a Part,
    pub(super) score: &'a Score,
    /// How many players read it.
    pub(super) players: u8,
    /// In hand from the start.
    pub(super) first: &'a Arc<Profile>,
    /// Within reach by the settings or the part's name.
    pub(super) reach: Vec<Arc<Profile>>,
    /// The families of the other parts' instruments.
    pub(super) elsewhere: Vec<Family>,
    pub(super) recogniser: &'a Recogniser,
}

enum Change<'p> {
    Words(&'p Direction),
    /// The note's [`Note::instrument`].
    Note(&'p Note, u16),
}

impl Change<'_> {
    fn place(&self) -> (u32, Onset) {
        match self {
            Change::Words(direction) => (direction.bar, direction.onset),
            Change::Note(note, _) => (note.bar, note.onset),
        }
    }
}

impl Asker<'_> {
    pub(super) fn asked(&self) -> AskedInstruments {
        let changes = self.changes();
        let mut first_time = vec![InstrumentInHand { from: Onset::START, profile: Arc::clone(self.first) }];
        let mut again = Vec::new();
        if changes.is_empty() {
            return AskedInstruments { first_time, again };
        }
        let mut in_hand = Arc::clone(self.first);
        let mut index = None;
        for stretch in self.stretches() {
            let (Some(start), Some(end)) =
                (self.start_of(stretch.bars.start), self.start_of(stretch.bars.end))
            else {
                continue;
            };
            let mut from = start;
            let from_bar = changes.partition_point(|change| change.place().0 < stretch.bars.start);
            let to_bar = changes.partition_point(|change| change.place().0 < stretch.bars.end);
            let mut held = |from: Onset, until: Onset, profile: &Arc<Profile>| {
                if stretch.pass == 1 {
                    first_time.push(InstrumentInHand { from, profile: Arc::clone(profile) });
                } else {
                    again.push(HeldAgain { pass: stretch.pass, from, until, profile: Arc::clone(profile) });
                }
            };
            for change in &changes[from_bar..to_bar] {
                let next = match change {
                    Change::Words(direction) => self.by_words(direction, &in_hand),
                    Change::Note(_, own) if index == Some(*own) => None,
                    Change::Note(_, own) => {
                        let before = index.replace(*own);
                        self.by_note(usize::from(*own), before, &in_hand)
                    }
                };
                if let Some(next) = next.filter(|next| next.name != in_hand.name) {
                    let here = change.place().1.max(from);
                    held(from, here, &in_hand);
                    (from, in_hand) = (here, next);
                }
            }
            held(from, end, &in_hand);
        }
        first_time.sort_by_key(|hand| hand.from);
        // Of several at one place the last holds.
        let mut kept: Vec<InstrumentInHand> = Vec::new();
        for hand in first_time {
            if kept.last().is_some_and(|last| last.from == hand.from) {
                kept.pop();
            }
            if kept.last().is_none_or(|last| last.profile.name != hand.profile.name) {
                kept.push(hand);
            }
        }
        again.retain(|held| {
            let within = |hand: &&InstrumentInHand| held.from < hand.from && hand.from < held.until;
            let first_time = std::iter::once(at(&kept, held.from))
                .chain(kept.iter().filter(within).map(|hand| &hand.profile));
            first_time.into_iter().any(|profile| profile.name != held.profile.name)
        });
        AskedInstruments { first_time: kept, again }
    }

    /// The bars as they are played; those that never are come behind them.
    fn stretches(&self) -> Vec<Stretch> {
        let mut stretches = self.score.order.stretches.clone();
        let played = |bar: u32| self.score.order.stretches.iter().any(|stretch| stretch.bars.contains(&bar));
        if let [only] = &stretches[..]
            && only.bars.len() == self.score.bars.len()
        {
            return stretches;
        }
        let bars = u32::try_from(self.score.bars.len()).unwrap_or(u32::MAX);
        let unplayed = (0..bars).filter(|bar| !played(*bar));
        stretches.extend(unplayed.map(|bar| Stretch { bars: bar..bar + 1, pass: 1, time: 1 }));
        stretches
    }

    fn start_of(&self, bar: u32) -> Option<Onset> {
        let bars = &self.score.bars;
        bars.get(bar as usize)
            .map(|bar| bar.start)
            .or_else(|| bars.last().map(|last| last.start + last.length))
    }

    /// In order of bars and places; of words and a note at one place the words stand first and the note has the last say.
    fn changes(&self) -> Vec<Change<'_>> {
        let words = self.part.directions.iter().filter(|direction| {
            matches!(direction.asks, Asks::Instrument(_) | Asks::InstrumentOfOne(..) | Asks::Named(_))
        });
        let mut changes: Vec<Change<'_>> = words.map(Change::Words).collect();
        let notes = self.part.notes.iter().filter_map(|note| Some(Change::Note(note, note.instrument?)));
        changes.extend(notes);
        changes.sort_by_key(Change::place);
        changes
    }

    fn by_words(&self, direction: &Direction, in_hand: &Arc<Profile>) -> Option<Arc<Profile>> {
        match &direction.asks {
            Asks::Instrument(words) => self.recogniser.recognise_words(words, Some(in_hand)),
            // Where one player reads the part, the number is the part's own.
            Asks::InstrumentOfOne(_, words) if self.players < 2 => {
                self.recogniser.recognise_words(words, Some(in_hand))
            }
            Asks::Named(words) if self.players < 2 && !self.labels_a_cue(direction) => {
                self.recogniser.recognise_name(words).and_then(|named| self.by_name(named, in_hand))
            }
            _ => None,
        }
    }

    /// A bare name tells a player to take the instrument up where it is of the family in hand, within reach, or nobody
    /// else's. A family's own name ("Tuba") brings back the first instrument. Over a trombone "Tuba" says whom to
    /// listen to, and the other way round: nobody plays both unless the part says so.
    fn by_name(&self, named: Named, in_hand: &Arc<Profile>) -> Option<Arc<Profile>> {
        let Named { profile, is_family } = named;
        if is_family && profile.family == in_hand.family {
            return None;
        }
        let own = if is_family && profile.family == self.first.family { self.first } else { &profile };
        let family = own.family;
        let is_within_reach = own.name == self.first.name
            || family == in_hand.family
            || self.reach.iter().any(|other| other.family == family);
        let apart = |one, other| (one, other) == (Family::Trombone, Family::Tuba);
        let may_be = !self.elsewhere.contains(&family)
            && !apart(family, in_hand.family)
            && !apart(in_hand.family, family);
        (is_within_reach || may_be).then(|| Arc::clone(own))
    }

    /// Whether the next note of its bar is a cue or small: then the words say whose it is.
    fn labels_a_cue(&self, direction: &Direction) -> bool {
        let from = self.part.notes.partition_point(|note| note.onset < direction.onset);
        let behind = &self.part.notes[from..];
        let of_staff = |note: &&Note| direction.staff.is_none_or(|staff| staff == note.staff);
        let Some(next) = behind.iter().find(of_staff).filter(|note| note.bar == direction.bar) else {
            return false;
        };
        let together = behind.iter().filter(of_staff).take_while(|note| note.onset == next.onset);
        together.into_iter().any(|note| (note.cue || note.small) && !note.grace)
    }

    fn by_note(&self, index: usize, before: Option<u16>, in_hand: &Arc<Profile>) -> Option<Arc<Profile>> {
        match (index, before) {
            // The part's first instrument is the one the part was recognised as.
            (0, None) => None,
            (0, Some(_)) => self.back_to_the_first(in_hand),
            _ => {
                let instrument = self.part.info.instruments.get(index)?;
                self.recogniser.recognise_instrument(instrument, in_hand)
            }
        }
    }

    /// A change back to the first `score-instrument` takes up the profile the part began with, unless it only ends a mute
    /// or an articulation that the exporter keeps as an instrument of its own.
    fn back_to_the_first(&self, in_hand: &Profile) -> Option<Arc<Profile>> {
        let others = self.part.info.instruments.iter().skip(1);
        let brought_by_change = others
            .filter_map(|instrument| self.recogniser.recognise_instrument(instrument, self.first))
            .any(|profile| profile.name == in_hand.name);
        brought_by_change.then(|| Arc::clone(self.first))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::Length;
    use crate::playing::{Section, seat};
    use crate::profile::{Casting, shipped};
    use crate::score::PerformanceOrder;
    use crate::score::testing::{Music, section as music};

    fn words(bar: u32, quarter: i64, text: &str) -> Direction {
        let asks = match text.strip_prefix("to ") {
            Some(name) => Asks::Instrument(name.to_owned()),
            None => Asks::Named(text.to_owned()),
        };
        Direction {
            bar,
            onset: Onset::START + Length::whole_quarters(quarter),
            bar_onset: Length::ZERO,
            staff: None,
            voice: None,
            text: text.to_owned(),
            asks,
            line: 1,
        }
    }

    fn seated(music: &Music) -> Section<'_> {
        let profiles = shipped();
        seat(&music.score, &Recogniser::new(profiles, None), &Casting::default(), profiles.section())
    }

    /// What the first part of these, four bars of a note each, has in hand at its notes, with bare words at the bars.
    fn held(parts: &[&str], said: &[(u32, &str)]) -> String {
        let parts: Vec<(&str, &str)> = parts.iter().map(|name| (*name, "F2/4 | F2 | F2 | F2")).collect();
        let mut music = music(&parts);
        music.score.parts[0].directions =
            said.iter().map(|&(bar, text)| words(bar, i64::from(bar) * 4, text)).collect();
        at_notes(&seated(&music))
    }

    /// The instruments of the first desk at its notes; those of a later time in brackets.
    fn at_notes(section: &Section<'_>) -> String {
        let desk = &section.desks[0];
        let line = &desk.lines[0];
        let own = |(index, note): (usize, &crate::score::Played)| {
            let first = &desk.instrument_at(line, note.onset).name;
            let later = line.later.iter().filter(|later| later.index == index).map(|later| {
                format!(" ({}: {})", later.pass, desk.instrument_on(line, note.onset, later.pass).name)
            });
            format!("{first}{}", later.collect::<String>())
        };
        line.played.iter().enumerate().map(own).collect::<Vec<_>>().join(", ")
    }

    const C: &str = "contrabass-tuba-c";
    const F: &str = "bass-tuba-f";

    #[test]
    fn a_bare_name_is_taken_up_where_it_can_be_the_players() {
        let (c, f) = (C, F);
        assert_eq!(
            held(&["Bass Tuba"], &[(1, "Contrabass Tuba"), (3, "Bass Tuba")]),
            format!("{f}, {c}, {c}, {f}")
        );
        assert_eq!(held(&["Bass Tuba"], &[(1, "(Contrabass Tuba)")]), format!("{f}, {c}, {c}, {c}"));
        assert_eq!(held(&["Tuba"], &[(2, "Cimbasso"), (3, "Tuba")]), format!("{c}, {c}, cimbasso-f, {c}"));
        assert_eq!(held(&["Tuba"], &[(1, "to Euph.")]), format!("{c}, euphonium, euphonium, euphonium"));
        assert_eq!(held(&["Tuba"], &[(1, "Tuba in F")]), format!("{c}, {f}, {f}, {f}"));
        // A family's own name brings back what the part began with.
        assert_eq!(
            held(&["Tuba in F"], &[(1, "Euphonium"), (2, "Tuba")]),
            format!("{f}, euphonium, {f}, {f}")
        );
    }

    #[test]
    fn what_may_be_a_label_changes_nothing() {
        let stays = [C; 4].join(", ");
        for label in [
            "Bsn.",
            "Bassoon",
            "Euph.",
            "Tuba 2",
            "Tuba solo",
            "Tuba, Cimbasso",
            "with Cimbasso",
            "Trombone",
            "Bass",
            "F",
        ] {
            assert_eq!(held(&["Tuba"], &[(1, label)]), stays, "{label}");
        }
        // A trombonist does not change to the tuba, nor to what stands in the score as a part of its own.
        let trombone = ["bass-trombone"; 4].join(", ");
        assert_eq!(held(&["Bass Trombone"], &[(1, "Tuba")]), trombone);
        assert_eq!(held(&["Bass Trombone", "Cimbasso"], &[(1, "Cimbasso")]), trombone);
        assert!(held(&["Bass Trombone / Tuba"], &[(1, "Tuba")]).ends_with(C));
        // On a staff of several players it says who plays.
        assert!(!held(&["3 Trombones"], &[(1, "Bass Trombone")]).starts_with("bass"));
    }

    #[test]
    fn over_notes_of_cue_size_a_name_says_whose_they_are() {
        let mut music = music(&[("Tuba", "F2/4 | F2 | F2 | F2")]);
        let part = &mut music.score.parts[0];
        part.directions = vec![words(1, 4, "Cimbasso")];
        part.notes[1].small = true;
        assert_eq!(at_notes(&seated(&music)), [C; 4].join(", "));
        music.score.parts[0].notes[1].small = false;
        music.score.parts[0].notes[1].cue = true;
        assert_eq!(at_notes(&seated(&music)), [C; 3].join(", "));
    }

    fn played(stretches: &[(u32, u32, u32)]) -> PerformanceOrder {
        let stretch = |&(from, to, pass): &(u32, u32, u32)| Stretch { bars: from..to, pass, time: pass };
        PerformanceOrder { stretches: stretches.iter().map(stretch).collect() }
    }

    fn held_in_order(order: &[(u32, u32, u32)], said: &[(u32, &str)]) -> String {
        let mut music = music(&[("Tuba", "F2/4 | F2 | F2 | F2")]);
        music.score.parts[0].directions =
            said.iter().map(|&(bar, text)| words(bar, i64::from(bar) * 4, text)).collect();
        music.score.order = played(order);
        at_notes(&seated(&music))
    }

    #[test]
    fn a_second_ending_follows_what_was_played_before_it() {
        // 1 2 3 (first ending), 1 2, 4 (second ending): the change in the first ending lasts until bar 1 says otherwise.
        let order = [(0, 3, 1), (0, 2, 2), (3, 4, 1)];
        let kept = format!("{C} (2: cimbasso-f), {C} (2: cimbasso-f), cimbasso-f, cimbasso-f");
        assert_eq!(held_in_order(&order, &[(2, "to Cimbasso")]), kept);
        let back = format!("{C}, {C}, cimbasso-f, {C}");
        assert_eq!(held_in_order(&order, &[(0, "to Tuba"), (2, "to Cimbasso")]), back);
    }

    #[test]
    fn a_jump_takes_the_instrument_along() {
        // D.S. from the end to bar 2, then a coda is left out: bar 4 was played before the jump.
        let order = [(0, 4, 1), (1, 2, 2)];
        let expected = format!("{C}, {C} (2: bass-tuba-f), {C}, bass-tuba-f");
        assert_eq!(held_in_order(&order, &[(3, "Bass Tuba")]), expected);
    }
}
