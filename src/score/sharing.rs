//! A staff that players of two instruments share (third trombone and tuba), written out as a part for each.

use std::collections::{BTreeMap, BTreeSet};

use super::chain::chains;
use super::players::shared_out;
use super::{Asks, Note, Part, PartInfo, Players};

/// One instrument's share of a staff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// Its share of the staff's name: "Trombone 3" of "Trombone 3 / Tuba".
    pub name: String,
    /// The numbers its players have in that name.
    pub numbers: Vec<u8>,
    /// How many players it says; `None` for a bare plural.
    pub players: Option<u8>,
}

/// Who of those that share a staff is meant, as an index into the shares.
pub trait Sharing {
    /// Whom words such as "Tuba" call on; `None` where they name none of them.
    fn called_on(&self, words: &str) -> Option<usize>;
    /// How many semitones a note lies off the register that is comfortable on the share's instrument.
    fn off(&self, share: usize, note: &Note) -> f64;
}

impl Part {
    /// Whether two of its notes ever sound together.
    pub fn sounds_together(&self) -> bool {
        let played = || self.notes.iter().filter(|note| note.is_played() && !note.grace);
        played().zip(played().skip(1)).any(|(note, next)| next.onset < note.end())
    }

    /// The parts a copyist would write out, `shares` named from the top of the staff down: chords and voices go to
    /// them in that order, a single line to those whom the words call on, else to those for whom it lies best.
    ///
    /// A note that several read stands in the part of each, and is in none of them to be moved alone.
    pub fn written_out(&self, shares: &[Share], sharing: &dyn Sharing) -> Vec<Part> {
        let mut staff = self.clone();
        let named: Vec<Option<u8>> = shares.iter().map(|share| share.players).collect();
        let mut seats: Vec<u8> = named.iter().map(|players| players.unwrap_or(1)).collect();
        let calls = |seats: &[u8]| {
            let directions = self.directions.iter().map(|direction| {
                let asks = match &direction.asks {
                    Asks::Instrument(words) | Asks::Named(words) | Asks::InstrumentOfOne(_, words) => {
                        sharing.called_on(words).map(|share| (share, 0))
                    }
                    Asks::Players(Players::Only(number)) => Share::numbered(shares, *number),
                    _ => None,
                };
                let asks = asks.map_or_else(
                    || direction.asks.clone(),
                    |(share, place)| {
                        let before: u8 = seats[..share].iter().sum();
                        Asks::Players(Players::Only(before + place + 1))
                    },
                );
                super::Direction { asks, ..direction.clone() }
            });
            directions.collect::<Vec<_>>()
        };
        let chains = chains(&self.notes);
        let mut given = Vec::new();
        // Twice where a bare plural ("Trombones & Tuba") has more players than two.
        for _ in 0..2 {
            staff.directions = calls(&seats);
            given = shared_out(&staff, &chains, seats.iter().sum());
            let missing = given.len().saturating_sub(seats.iter().map(|&seat| usize::from(seat)).sum());
            match named.iter().position(Option::is_none) {
                Some(plural) if missing > 0 => seats[plural] += u8::try_from(missing).unwrap_or(0),
                _ => break,
            }
        }
        let mut readers: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for (player, line) in given.iter().enumerate() {
            for note in line {
                readers.entry(note.chain).or_default().insert(share_of(player, &seats));
            }
        }
        let mut read_by: Vec<BTreeSet<usize>> = vec![(0..shares.len()).collect(); self.notes.len()];
        for (chain, mut by) in readers {
            let first = chains[chain].first().and_then(|&note| self.notes.get(note as usize));
            if let (Some(first), true) = (first, by.len() > 1) {
                let least = by.iter().map(|&share| sharing.off(share, first)).fold(f64::MAX, f64::min);
                by.retain(|&share| sharing.off(share, first) <= least);
            }
            for &note in &chains[chain] {
                read_by[note as usize].clone_from(&by);
            }
        }
        let parts = shares.iter().enumerate().map(|(index, share)| Part {
            info: PartInfo {
                name: share.name.clone(),
                staff_name: Some(self.info.name.clone()),
                players: (seats[index] > 1).then_some(seats[index]),
                abbreviation: String::new(),
                instruments: Vec::new(),
                ..self.info.clone()
            },
            notes: self.notes_of(index, &read_by),
            directions: staff
                .directions
                .iter()
                .filter(|direction| !matches!(direction.asks, Asks::Players(_)))
                .cloned()
                .collect(),
            ..self.clone()
        });
        parts.collect()
    }

    /// The notes one share reads.
    fn notes_of(&self, share: usize, read_by: &[BTreeSet<usize>]) -> Vec<Note> {
        let mut notes: Vec<Note> = Vec::new();
        let mut chord_has_begun = false;
        for (note, by) in self.notes.iter().zip(read_by) {
            chord_has_begun &= note.chord;
            if !by.contains(&share) {
                continue;
            }
            let mut own = note.clone();
            own.chord = chord_has_begun;
            own.instrument = None;
            if by.len() > 1 {
                own.octave_digits = None;
            }
            chord_has_begun = true;
            notes.push(own);
        }
        notes
    }
}

impl Share {
    /// The share and place of the player who has a number in the staff's name.
    fn numbered(shares: &[Share], number: u8) -> Option<(usize, u8)> {
        shares.iter().enumerate().find_map(|(index, share)| {
            let place = share.numbers.iter().position(|own| *own == number)?;
            Some((index, u8::try_from(place).ok()?))
        })
    }
}

/// The share a player counted from the top belongs to; the last one's for those beyond.
fn share_of(player: usize, seats: &[u8]) -> usize {
    let mut before = 0;
    for (share, &seat) in seats.iter().enumerate() {
        before += usize::from(seat);
        if player < before {
            return share;
        }
    }
    seats.len().saturating_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::testing::music;
    use crate::score::{Direction, SourceRange};

    /// Third trombone from E2 up, tuba up to C4.
    struct TromboneAndTuba;

    impl Sharing for TromboneAndTuba {
        fn called_on(&self, words: &str) -> Option<usize> {
            ["Trombone", "Tuba"].iter().position(|name| *name == words)
        }

        fn off(&self, share: usize, note: &Note) -> f64 {
            let (e2, c4) = (40.0, 60.0); // MIDI
            let off = if share == 0 { e2 - note.sounding.midi() } else { note.sounding.midi() - c4 };
            off.max(0.0)
        }
    }

    /// Each share's notes; those that others read too in parentheses.
    #[track_caller]
    fn shared(names: &[(&str, &[u8])], voices: &[&str], words: &[(i64, Asks)]) -> Vec<String> {
        let mut part = music(voices[0]).score.parts.remove(0);
        "Trombone 3 / Tuba".clone_into(&mut part.info.name);
        for (voice, text) in (1..).zip(&voices[1..]) {
            let notes = music(text).score.parts.remove(0).notes;
            part.notes.extend(notes.into_iter().map(|note| Note { voice, ..note }));
        }
        part.notes.sort_by_key(|note| (note.onset, note.voice));
        for note in &mut part.notes {
            note.octave_digits = Some(SourceRange { start: 0, end: 1 });
        }
        part.voices = (1..=voices.len()).map(|number| number.to_string()).collect();
        let direction = |(quarter, asks): &(i64, Asks)| Direction {
            bar: 0,
            onset: crate::music::Onset::START + crate::music::Length::whole_quarters(*quarter),
            bar_onset: crate::music::Length::ZERO,
            staff: None,
            voice: None,
            text: String::new(),
            asks: asks.clone(),
            line: 1,
        };
        part.directions = words.iter().map(direction).collect();
        let share = |(name, numbers): &(&str, &[u8])| Share {
            name: (*name).to_owned(),
            numbers: numbers.to_vec(),
            players: (!name.ends_with('s')).then_some(numbers.len().max(1) as u8),
        };
        let shares: Vec<Share> = names.iter().map(share).collect();
        let show = |note: &Note| match note.octave_digits {
            Some(_) => note.sounding.to_string(),
            None => format!("({})", note.sounding),
        };
        let parts = part.written_out(&shares, &TromboneAndTuba);
        parts.iter().map(|part| part.notes.iter().map(show).collect::<Vec<_>>().join(" ")).collect()
    }

    const BOTH: &[(&str, &[u8])] = &[("Trombone 3", &[3]), ("Tuba", &[])];

    #[test]
    fn two_voices_are_given_out_from_the_top() {
        assert_eq!(shared(BOTH, &["A2 B2", "A1 B1"], &[]), ["A2 B2", "A1 B1"]);
    }

    #[test]
    fn a_single_line_goes_to_those_for_whom_it_lies_best() {
        assert_eq!(shared(BOTH, &["F2 D1 E4"], &[]), ["(F2) E4", "(F2) D1"]);
    }

    #[test]
    fn words_and_numbers_say_whose_a_line_is() {
        let takes = |words: &str| Asks::Instrument(words.to_owned());
        let words = [(0, takes("Tuba")), (2, takes("Trombone")), (3, Asks::Players(Players::All))];
        assert_eq!(shared(BOTH, &["F2 G2 A2 B2"], &words), ["A2 (B2)", "F2 G2 (B2)"]);
        let third = [(0, Asks::Players(Players::Only(3)))];
        assert_eq!(shared(BOTH, &["F2 G2"], &third), ["F2 G2", ""]);
        let bare = [(0, Asks::Named("Tuba".to_owned())), (1, Asks::Named("Flute".to_owned()))];
        assert_eq!(shared(BOTH, &["F2 G2"], &bare), ["", "F2 G2"]);
    }

    #[test]
    fn the_tuba_has_the_lowest_note_under_any_number_of_trombones() {
        let plural: &[(&str, &[u8])] = &[("Trombones", &[]), ("Tuba", &[])];
        let voices = ["D4", "B3", "G3", "G1"];
        assert_eq!(shared(plural, &voices, &[]), ["D4 B3 G3", "G1"]);
        let numbered: &[(&str, &[u8])] = &[("Trombone 2, 3", &[2, 3]), ("Tuba", &[])];
        assert_eq!(shared(numbered, &voices[1..], &[]), ["B3 G3", "G1"]);
    }

    #[test]
    fn a_staff_with_one_note_at_a_time_has_nothing_together() {
        assert!(!music("F2 G2 r A2").score.parts[0].sounds_together());
        let mut part = music("F2/4").score.parts.remove(0);
        part.notes.extend(music("F1/4").score.parts.remove(0).notes);
        assert!(part.sounds_together());
    }
}
