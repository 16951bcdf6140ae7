//! A staff that two instruments' players share, by its name: "Trombone 3 / Tuba", "Bassposaune und Tuba".

use std::sync::Arc;

use super::names;
use super::words::words;
use super::{Family, NamedPlayers, Profile, Recogniser, Verdict};
use crate::score::{PartInfo, Share};

impl Recogniser {
    /// The shares of a staff whose name has two instruments, the tuba's last as on the page; empty where it is one
    /// instrument's or one player's, or where the name may mean anything else.
    pub fn sharers(&self, name: &str) -> Vec<Share> {
        let mut shares: Vec<(Option<Family>, String)> = Vec::new();
        let mut begins_anew = true;
        for word in parted(name) {
            let Some(word) = word else {
                begins_anew = true;
                continue;
            };
            let family = self.family_named(word);
            match shares.last_mut() {
                Some((named, text)) if !begins_anew => {
                    text.push(' ');
                    text.push_str(word);
                    *named = named.or(family);
                }
                // Numbers and voices behind a comma go on with what stands before it ("Trombone 2, 3").
                Some((Some(_), text)) if family.is_none() && names::read(word).words.is_empty() => {
                    text.push_str(", ");
                    text.push_str(word);
                }
                _ => shares.push((family, word.to_owned())),
            }
            begins_anew = false;
        }
        let [(Some(first), one), (Some(second), other)] = &shares[..] else { return Vec::new() };
        let same = self.alone(one).zip(self.alone(other)).is_none_or(|(one, other)| one.name == other.name);
        // Without "and" it may be one player who changes; a trombonist does not change to the tuba.
        let apart = |a: Family, b: Family| (a, b) == (Family::Trombone, Family::Tuba);
        if same || !(names::read(name).joined || apart(*first, *second) || apart(*second, *first)) {
            return Vec::new();
        }
        let share = |name: &String| Share {
            name: name.clone(),
            numbers: names::read(name).numbers,
            players: match self.players_in(name) {
                NamedPlayers::One => Some(1),
                NamedPlayers::Counted(count) => Some(count),
                NamedPlayers::Several => None,
            },
        };
        // From the top of the staff down: the tuba is below, whatever the name begins with.
        if *first == Family::Tuba && *second != Family::Tuba {
            return vec![share(other), share(one)];
        }
        vec![share(one), share(other)]
    }

    /// Whether two names mean the same players: the same instrument and numbers, no other beside it.
    pub fn is_same_desk(&self, one: &str, other: &str) -> bool {
        let instrument = |name: &str| self.alone(name).filter(|_| self.sharers(name).is_empty());
        let (Some(first), Some(second)) = (instrument(one), instrument(other)) else { return false };
        first.name == second.name && names::read(one).numbers == names::read(other).numbers
    }

    /// Whether the name joins its instruments with "and": then they are two players', never one who changes.
    pub fn says_and(name: &str) -> bool {
        names::read(name).joined
    }

    fn family_named(&self, word: &str) -> Option<Family> {
        self.alone(word).map(|profile| profile.family)
    }

    fn alone(&self, name: &str) -> Option<Arc<Profile>> {
        let part = PartInfo { name: name.to_owned(), ..PartInfo::default() };
        match self.part(&part, &[names::read(name)], 0).0 {
            Verdict::Instrument { profile, .. } => Some(profile),
            _ => None,
        }
    }
}

/// The words of a name; `None` where a joiner or a mark stands between two of them.
fn parted(name: &str) -> impl Iterator<Item = Option<&str>> {
    const MARKS: [char; 6] = ['/', '&', '+', ',', ';', '\n'];
    name.split_inclusive(MARKS).flat_map(|stretch| {
        let (text, mark) = match stretch.strip_suffix(MARKS) {
            Some(text) => (text, true),
            None => (stretch, false),
        };
        let word = |word| {
            let bare: String = names::fold(word).trim_end_matches('.').to_owned();
            (!words().is_joiner(&bare)).then_some(word)
        };
        text.split_whitespace().map(word).chain(mark.then_some(None))
    })
}
