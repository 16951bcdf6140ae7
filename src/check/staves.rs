//! Staves that two instruments' players share, written out: a part for each, so that each is judged by its own
//! instrument.

use std::sync::Arc;

use super::room::Room;
use super::seating::{self, Orders};
use crate::profile::{Casting, Profile, RecognisedBy, Recogniser, Verdict};
use crate::score::{Note, Part, PartInfo, Score, Share, Sharing};

/// The score with every shared staff written out. One on which a single player may change instruments ("Bass Trombone /
/// Tuba", one note at a time) is left as it is, and so is one that the settings or `--as` give an instrument.
pub(super) fn written_out(mut score: Score, room: &Room, orders: &Orders) -> Score {
    let recogniser = room.recogniser();
    let casting = seating::casting(&seating::infos(&score), recogniser, room, orders);
    let shares: Vec<Vec<Share>> = score
        .parts
        .iter()
        .map(|part| {
            let told = casting.parts.get(&part.info.index);
            let is_told = told.is_some_and(|told| {
                let by = told.profile.as_ref().map(|(_, by)| *by);
                told.pass_over || matches!(by, Some(RecognisedBy::Settings | RecognisedBy::CommandLine))
            });
            if is_told { Vec::new() } else { shares_of(part, &score, recogniser) }
        })
        .collect();
    if shares.iter().all(Vec::is_empty) {
        return score;
    }
    let profiles = profiles_of(&score, &shares, recogniser);
    let mut parts = Vec::new();
    for (mut part, (shares, profiles)) in score.parts.into_iter().zip(shares.iter().zip(profiles)) {
        if let [only] = &shares[..] {
            let staff_name = Some(std::mem::replace(&mut part.info.name, only.name.clone()));
            part.info =
                PartInfo { staff_name, displayed: String::new(), abbreviation: String::new(), ..part.info };
            parts.push(part);
        } else if shares.is_empty() {
            parts.push(part);
        } else {
            parts.extend(part.written_out(shares, &Seated { recogniser, profiles }));
        }
    }
    score.parts = parts;
    renumber(&mut score);
    score
}

/// Who shares a part's staff. A label that stands across two staves names what is on the other one, too: who has a part of
/// their own there does not read this one.
fn shares_of(part: &Part, score: &Score, recogniser: &Recogniser) -> Vec<Share> {
    let name = part.info.name_in_lines();
    let together = part.sounds_together();
    if together {
        return recogniser.sharers(name);
    }
    let others = seating::infos(score).into_iter().filter(|other| other.index != part.info.index);
    let others: Vec<PartInfo> = others.collect();
    let mut shares = recogniser.sharers(name);
    let all = shares.len();
    shares.retain(|share| !others.iter().any(|other| recogniser.is_same_desk(&share.name, &other.name)));
    match shares.len() {
        0 => recogniser.sharers(name),
        fewer if fewer < all => shares,
        _ if Recogniser::says_and(name) => shares,
        _ => Vec::new(),
    }
}

/// The instrument of each share, told as the part list would read with all of them in it.
fn profiles_of(score: &Score, shares: &[Vec<Share>], recogniser: &Recogniser) -> Vec<Vec<Arc<Profile>>> {
    let mut list: Vec<PartInfo> = Vec::new();
    let mut places: Vec<Vec<usize>> = Vec::new();
    for (part, shares) in score.parts.iter().zip(shares) {
        let from = list.len();
        if shares.is_empty() {
            list.push(part.info.clone());
        }
        list.extend(shares.iter().map(|share| PartInfo { name: share.name.clone(), ..PartInfo::default() }));
        places.push(if shares.is_empty() { Vec::new() } else { (from..list.len()).collect() });
    }
    let verdicts = recogniser.recognise_all(&list, &Casting::default());
    let instrument = |place: &usize| match &verdicts[*place] {
        Verdict::Instrument { profile, .. } => Some(Arc::clone(profile)),
        _ => None,
    };
    places.iter().map(|places| places.iter().filter_map(instrument).collect()).collect()
}

/// The parts of the list counted anew; what names a part by its place follows.
fn renumber(score: &mut Score) {
    let mut of_read: Vec<(u32, &mut u32)> =
        score.parts.iter_mut().map(|part| &mut part.info.index).map(|index| (*index, index)).collect();
    of_read
        .extend(score.passed_over.iter_mut().map(|part| &mut part.info.index).map(|index| (*index, index)));
    // Stable: the shares of one staff keep their order.
    of_read.sort_by_key(|(before, _)| *before);
    let mut first_at = std::collections::BTreeMap::new();
    for (after, (before, index)) in (0..).zip(of_read) {
        first_at.entry(before).or_insert(after);
        *index = after;
    }
    for oddity in &mut score.oddities {
        oddity.part = oddity.part.map(|part| first_at.get(&part).copied().unwrap_or(part));
    }
}

struct Seated<'r> {
    recogniser: &'r Recogniser,
    profiles: Vec<Arc<Profile>>,
}

impl Sharing for Seated<'_> {
    fn called_on(&self, words: &str) -> Option<usize> {
        let instrument = self.recogniser.recognise_words(words, None)?;
        let mut of_family =
            (0..self.profiles.len()).filter(|&share| self.profiles[share].family == instrument.family);
        let is_it = |profile: &Arc<Profile>| profile.name == instrument.name;
        // "Trombone" between two trombones calls on neither.
        let alone = of_family.next().filter(|_| of_family.next().is_none());
        self.profiles.iter().position(is_it).or(alone)
    }

    fn off(&self, share: usize, note: &Note) -> f64 {
        self.profiles.get(share).map_or(f64::MAX, |profile| profile.range.off_comfortable(note.sounding))
    }
}

#[cfg(test)]
mod tests {
    use crate::check::testing::{room, score, task};
    use crate::check::{Orders, Paths, Task, check, read_players, seat};
    use crate::musicxml::Document;
    use crate::score::Score;
    use crate::settings::{Instrument, PartSettings, Pattern};

    fn desks(score: &Score, orders: &Orders) -> Vec<String> {
        let section = seat(score, &room(), orders);
        let show = |desk: &crate::playing::Desk<'_>| {
            let notes: Vec<String> = desk.part.notes.iter().map(|note| note.sounding.to_string()).collect();
            format!("{} {}: {}", desk.part.info.name, desk.instruments[0].profile.name, notes.join(" "))
        };
        section.desks.iter().map(show).collect()
    }

    #[track_caller]
    fn read(parts: &[(&str, &[&str])]) -> Score {
        let document = Document::open(score(parts).into_bytes()).unwrap();
        read_players(&document, &room(), &Orders::default()).unwrap()
    }

    #[test]
    fn a_staff_for_trombone_and_tuba_is_two_parts() {
        let names =
            [("Trombone 1", &["F3"][..]), ("Trombone 2", &["D3"]), ("Trombone 3 e Tuba", &["F2", "F1"])];
        let score = read(&names);
        assert_eq!(
            desks(&score, &Orders::default()),
            [
                "Trombone 1 tenor-bass-trombone: F3",
                "Trombone 2 tenor-bass-trombone: D3",
                "Trombone 3 bass-trombone: F2",
                "Tuba contrabass-tuba-c: F2 F1"
            ]
        );
        let indices: Vec<u32> = score.parts.iter().map(|part| part.info.index).collect();
        assert_eq!(indices, [0, 1, 2, 3]);
    }

    #[test]
    fn either_player_may_be_asked_for_by_name_and_both_by_the_staffs() {
        let names = [("Trombone 3 und Tuba", &["F2", "F1"][..])];
        let asked = |part: &str| {
            let orders = Orders { parts: vec![Pattern::new(part).unwrap()], ..Orders::default() };
            let document = Document::open(score(&names).into_bytes()).unwrap();
            desks(&read_players(&document, &room(), &orders).unwrap(), &orders)
        };
        let (trombone, tuba) = ("Trombone 3 bass-trombone: F2", "Tuba contrabass-tuba-c: F2 F1");
        assert_eq!(asked("Tuba"), [tuba]);
        assert_eq!(asked("Trombone 3 und Tuba"), [trombone, tuba]);
        assert!(asked("Flute").is_empty());
    }

    #[test]
    fn a_staff_that_the_settings_give_to_one_instrument_stays_one_part() {
        let mut room = room();
        room.settings.parts = vec![PartSettings {
            name: Pattern::new("Trombone 3*").unwrap(),
            instrument: Some(Instrument::Profile("contrabass-tuba-c".to_owned())),
            instruments: Vec::new(),
            mutes: None,
            players: None,
            breath: None,
            line: 1,
        }];
        let document = Document::open(score(&[("Trombone 3 und Tuba", &["F2", "F1"])]).into_bytes()).unwrap();
        let read = read_players(&document, &room, &Orders::default()).unwrap();
        assert_eq!(read.parts.len(), 1);
    }

    #[test]
    fn a_note_too_low_for_both_is_the_tubas_and_can_be_moved() {
        let text = score(&[("Trombone 3 und Tuba", &["F2", "r", "F0"])]);
        let orders = Orders::default();
        let task = Task { revise: true, ..task(&orders) };
        let checked = check(text.clone().into_bytes(), &Paths::default(), &room(), &task).unwrap();
        let revised = String::from_utf8(checked.revised.unwrap().bytes).unwrap();
        assert_eq!(revised, text.replace("<octave>0</octave>", "<octave>1</octave>"));
    }

    #[test]
    fn a_staff_for_two_trombones_or_one_named_in_two_lines_is_two_parts() {
        let two = read(&[("Trombone 3 &amp; Bass Trombone", &["E4", "C2"])]);
        assert_eq!(
            desks(&two, &Orders::default()),
            ["Trombone 3 tenor-bass-trombone: E4", "Bass Trombone bass-trombone: E4 C2"]
        );
        let lines = read(&[("Tbn. 3\nTuba", &["F2"])]);
        assert_eq!(lines.parts[0].info.name_in_lines(), "Tbn. 3\nTuba");
    }

    #[test]
    fn a_label_across_two_staves_invents_no_part() {
        // "Trombone 3" and "Tuba" beside a brace: the second stands below as a part of its own.
        let score = read(&[
            ("Trombone 1", &["F3"]),
            ("Trombone 2", &["D3"]),
            ("Trombone 3\nTuba", &["F2"]),
            ("Tuba", &["F1"]),
        ]);
        let three = [
            "Trombone 1 tenor-bass-trombone: F3",
            "Trombone 2 tenor-bass-trombone: D3",
            "Trombone 3 bass-trombone: F2",
            "Tuba contrabass-tuba-c: F1",
        ];
        assert_eq!(desks(&score, &Orders::default()), three);
        let score = read(&[("Trombone 3 &amp; Tuba", &["F2"]), ("Tuba", &["F1"])]);
        assert_eq!(
            desks(&score, &Orders::default()),
            ["Trombone 3 bass-trombone: F2", "Tuba contrabass-tuba-c: F1"]
        );
        // Where no part is the second one's, both read the staff.
        let score = read(&[("Trombone 3 &amp; Tuba 1", &["F2"]), ("Tuba 2", &["F1"])]);
        assert_eq!(desks(&score, &Orders::default()).len(), 3);
    }

    #[test]
    fn one_player_who_may_change_instruments_is_one_part() {
        let score = read(&[("Bass Trombone / Tuba", &["F2", "F1"])]);
        assert_eq!(desks(&score, &Orders::default()), ["Bass Trombone / Tuba bass-trombone: F2 F1"]);
    }
}
