//! A staff that two instruments' players share, by its name: "Trombone 3 / Tuba", "Bassposaune und Tuba".

use super::names::{self, JOINERS};
use super::{Family, Recogniser, Verdict};
use crate::score::{PartInfo, Share};

impl Recogniser {
    /// The shares of a staff whose name has trombones and tubas, the trombones first as on the page; empty where it
    /// is one instrument's, or where the name may mean anything else.
    pub fn sharers(&self, name: &str) -> Vec<Share> {
        let mut shares: Vec<(Option<Family>, String)> = Vec::new();
        let mut begins_anew = true;
        for word in words(name) {
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
        let of = |family: Family| shares.iter().filter(move |(named, _)| *named == Some(family));
        let one_of_each = of(Family::Trombone).count() == 1 && of(Family::Tuba).count() == 1;
        if shares.len() != 2 || !one_of_each {
            return Vec::new();
        }
        let share = |(_, name): &(Option<Family>, String)| Share {
            name: name.clone(),
            numbers: names::read(name).numbers,
        };
        of(Family::Trombone).chain(of(Family::Tuba)).map(share).collect()
    }

    /// Whether the name joins its instruments with "and": then they are two players', never one who changes.
    pub fn says_and(name: &str) -> bool {
        names::read(name).joined
    }

    fn family_named(&self, word: &str) -> Option<Family> {
        let part = PartInfo { name: word.to_owned(), ..PartInfo::default() };
        match self.part(&part, &[names::read(word)], 0).0 {
            Verdict::Instrument { profile, .. } => Some(profile.family),
            _ => None,
        }
    }
}

/// The words of a name; `None` where a joiner or a mark stands between two of them.
fn words(name: &str) -> impl Iterator<Item = Option<&str>> {
    const MARKS: [char; 6] = ['/', '&', '+', ',', ';', '\n'];
    name.split_inclusive(MARKS).flat_map(|stretch| {
        let (text, mark) = match stretch.strip_suffix(MARKS) {
            Some(text) => (text, true),
            None => (stretch, false),
        };
        let word = |word| {
            let bare: String = names::fold(word).trim_end_matches('.').to_owned();
            (!JOINERS.contains(&bare.as_str())).then_some(word)
        };
        text.split_whitespace().map(word).chain(mark.then_some(None))
    })
}
