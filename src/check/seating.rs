//! Who plays what: the settings and the command line as a casting of a score's parts.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::room::Room;
use crate::music::Tempo;
use crate::playing::{self, Section};
use crate::profile::{Casting, PartCasting, Profile, RecognisedBy, Recogniser, Verdict};
use crate::score::{Part, PartInfo, Score};
use crate::settings::{Instrument, Pattern};

/// What the command line says of the reading of a score.
#[derive(Clone, Debug, Default)]
pub struct Orders {
    /// Read the wanted parts as this profile; where none is named, those of its family.
    pub instrument: Option<Arc<Profile>>,
    /// The wanted parts, by name or id; empty: all.
    pub parts: Vec<Pattern>,
    /// The tempo where a score gives none.
    pub tempo: Option<Tempo>,
    /// Read the other wanted parts in full too, not only low brass.
    pub all_parts: bool,
}

impl Orders {
    /// Whether a part is wanted by name or id, or none was named.
    pub fn wants(&self, part: &PartInfo) -> bool {
        self.parts.is_empty() || self.names(part)
    }

    /// Whether one of those who share a staff is wanted by name.
    fn wants_a_share(&self, part: &PartInfo, recogniser: &Recogniser) -> bool {
        let is_named = |name: &str| self.parts.iter().any(|pattern| pattern.fits(name));
        part.staff_name.is_none()
            && recogniser.sharers(part.name_in_lines()).iter().any(|share| is_named(&share.name))
    }

    fn names(&self, part: &PartInfo) -> bool {
        self.parts.iter().any(|pattern| part.is_called(|name| pattern.fits(name)) || pattern.fits(&part.id))
    }
}

/// Which parts are to be read in full.
pub(super) fn interest(parts: &[PartInfo], room: &Room, orders: &Orders) -> Vec<bool> {
    let recogniser = room.recogniser();
    let casting = casting(parts, recogniser, room, orders);
    let verdicts = recogniser.recognise_all(parts, &casting);
    let is_read = |(part, verdict): (&PartInfo, &Verdict)| {
        verdict.is_instrument() || orders.all_parts && orders.wants(part)
    };
    parts.iter().zip(&verdicts).map(is_read).collect()
}

/// The score without the parts that turn out to be none of ours once their music is known: a singer's whose program is
/// a trombone's. What they sing is heard all the same.
pub(super) fn without_singers(mut score: Score, room: &Room, orders: &Orders) -> Score {
    if orders.all_parts || score.parts.iter().all(|part| !part.info.has_lyrics && part.info.clef.is_none()) {
        return score;
    }
    let infos = infos(&score);
    let recogniser = room.recogniser();
    let verdicts = recogniser.recognise_all(&infos, &casting(&infos, recogniser, room, orders));
    let singers: BTreeSet<u32> = infos
        .iter()
        .zip(&verdicts)
        .filter(|(_, verdict)| !verdict.is_instrument())
        .map(|(info, _)| info.index)
        .collect();
    let (others, parts) = score.parts.into_iter().partition(|part| singers.contains(&part.info.index));
    score.parts = parts;
    let others: Vec<Part> = others;
    score.passed_over.extend(others.into_iter().map(Part::passed_over));
    score.passed_over.sort_by_key(|part| part.info.index);
    score
}

/// The players of a score with their instruments.
pub fn seat<'s>(score: &'s Score, room: &Room, orders: &Orders) -> Section<'s> {
    let recogniser = room.recogniser();
    let parts = infos(score);
    let casting = casting(&parts, recogniser, room, orders);
    playing::seat(score, recogniser, &casting, room.profiles.section())
}

/// What the part list says of all parts, in score order.
pub fn infos(score: &Score) -> Vec<PartInfo> {
    let read = score.parts.iter().map(|part| &part.info);
    let mut infos: Vec<PartInfo> =
        read.chain(score.passed_over.iter().map(|part| &part.info)).cloned().collect();
    infos.sort_by_key(|info| info.index);
    infos
}

/// Whether what was asked for is there: a part of that name, or one that may be read as that instrument.
pub fn has_wanted(score: &Score, room: &Room, orders: &Orders) -> bool {
    let parts = &infos(score);
    if !orders.parts.is_empty() {
        return parts.iter().any(|part| orders.names(part));
    }
    orders.instrument.is_none()
        || casting(parts, room.recogniser(), room, orders)
            .parts
            .values()
            .any(|part| matches!(part.profile, Some((_, RecognisedBy::CommandLine))))
}

pub(super) fn casting(parts: &[PartInfo], recogniser: &Recogniser, room: &Room, orders: &Orders) -> Casting {
    let mut casting = Casting::default();
    for part in parts {
        let mut told = by_settings(part, room);
        // With nothing else said a player's breath is that of the whole folder.
        told.breath = told.breath.or(Some(room.settings.breath));
        casting.parts.insert(part.index, told);
    }
    if orders.parts.is_empty() && orders.instrument.is_none() {
        return casting;
    }
    // A part's neighbours tell what it is, so all are looked at before some are left out.
    let verdicts = recogniser.recognise_all(parts, &casting);
    let meant = meant(parts, &verdicts, orders);
    for ((part, verdict), is_meant) in parts.iter().zip(verdicts).zip(meant) {
        let Some(told) = casting.parts.get_mut(&part.index) else { continue };
        if let Verdict::Instrument { profile, by, also } = verdict {
            told.profile = Some((profile, by));
            told.instruments.extend(also);
        }
        match &orders.instrument {
            Some(profile) if is_meant => {
                told.profile = Some((Arc::clone(profile), RecognisedBy::CommandLine));
                told.pass_over = false;
            }
            _ => {}
        }
        if !orders.wants(part) && !orders.wants_a_share(part, recogniser) {
            told.pass_over = true;
        }
    }
    casting
}

/// Which parts `--as` is for: those named; else those of the instrument's family; else those that nobody
/// recognised; else a lone part.
fn meant(parts: &[PartInfo], verdicts: &[Verdict], orders: &Orders) -> Vec<bool> {
    if !orders.parts.is_empty() {
        return parts.iter().map(|part| orders.names(part)).collect();
    }
    let Some(wanted) = &orders.instrument else { return vec![false; parts.len()] };
    let of = |is_meant: &dyn Fn(&Verdict) -> bool| verdicts.iter().map(is_meant).collect::<Vec<bool>>();
    let of_family = of(
        &|verdict| matches!(verdict, Verdict::Instrument { profile, .. } if profile.family == wanted.family),
    );
    if of_family.contains(&true) {
        return of_family;
    }
    let unrecognised = of(&|verdict| matches!(verdict, Verdict::Unrecognised(_)));
    if unrecognised.contains(&true) {
        return unrecognised;
    }
    vec![parts.len() == 1; parts.len()]
}

fn by_settings(part: &PartInfo, room: &Room) -> PartCasting {
    let Some(said) = room.settings.part(part) else { return PartCasting::default() };
    let known = |name: &String| room.profiles.get(name);
    PartCasting {
        profile: match &said.instrument {
            Some(Instrument::Profile(name)) => known(name).map(|profile| (profile, RecognisedBy::Settings)),
            _ => None,
        },
        instruments: said.instruments.iter().filter_map(known).collect(),
        mutes: said.mutes.clone(),
        players: said.players,
        breath: said.breath,
        pass_over: said.instrument == Some(Instrument::None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::testing::{room, score};
    use crate::musicxml::Document;
    use crate::settings::PartSettings;

    const BARS: &[&str] = &["F2"];

    fn read(room: &Room, orders: &Orders) -> Score {
        let parts = [("Flute", BARS), ("Trombone 1", BARS), ("Tuba 1", BARS), ("Tuba 2", BARS)];
        let document = Document::open(score(&parts).into_bytes()).unwrap();
        crate::check::read(&document, room, orders).unwrap()
    }

    /// Each desk as "name: profile, by".
    fn seated(room: &Room, orders: &Orders) -> Vec<String> {
        let score = read(room, orders);
        let section = seat(&score, room, orders);
        let desks = section.desks.iter();
        desks
            .map(|desk| {
                let instrument = &desk.instruments[0].profile.name;
                format!("{}: {instrument}, {}", desk.part.info.name, desk.recognised_by.word())
            })
            .collect()
    }

    fn orders(room: &Room, instrument: Option<&str>, parts: &[&str]) -> Orders {
        Orders {
            instrument: instrument.map(|name| room.profiles.named(name).unwrap()),
            parts: parts.iter().map(|part| Pattern::new(part).unwrap()).collect(),
            ..Orders::default()
        }
    }

    #[test]
    fn without_a_word_each_low_brass_part_is_what_its_name_says() {
        assert_eq!(
            seated(&room(), &Orders::default()),
            [
                "Trombone 1: tenor-bass-trombone, name",
                "Tuba 1: contrabass-tuba-c, name",
                "Tuba 2: contrabass-tuba-c, name"
            ]
        );
    }

    #[test]
    fn part_leaves_the_others_out_by_name_pattern_or_id() {
        let room = room();
        let names = |part: &str| seated(&room, &orders(&room, None, &[part]));
        assert_eq!(names("Tuba 2"), ["Tuba 2: contrabass-tuba-c, name"]);
        assert_eq!(names("Tuba*").len(), 2);
        assert_eq!(names("P1"), ["Trombone 1: tenor-bass-trombone, name"]);
        assert!(names("Flute").is_empty());
    }

    #[test]
    fn as_is_for_the_parts_named_or_else_for_those_of_its_family() {
        let room = room();
        let tuba = "Tuba 1: bass-tuba-f, option";
        assert_eq!(seated(&room, &orders(&room, Some("bass-tuba-f"), &["Tuba 1"])), [tuba]);
        let all = seated(&room, &orders(&room, Some("bass-tuba-f"), &[]));
        assert_eq!(all, ["Trombone 1: tenor-bass-trombone, name", tuba, "Tuba 2: bass-tuba-f, option"]);
        // What no name would say may be said.
        assert_eq!(
            seated(&room, &orders(&room, Some("bass-tuba-f"), &["Flute"])),
            ["Flute: bass-tuba-f, option"]
        );
    }

    #[test]
    fn every_part_is_read_only_when_all_are_asked_for_and_only_low_brass_is_seated() {
        let room = room();
        let all = Orders { all_parts: true, ..Orders::default() };
        assert_eq!(read(&room, &Orders::default()).parts.len(), 3);
        assert_eq!(read(&room, &all).parts.len(), 4);
        assert_eq!(seated(&room, &all), seated(&room, &Orders::default()));
        let flute = Orders { all_parts: true, ..orders(&room, None, &["Flute"]) };
        let names: Vec<String> = read(&room, &flute).parts.into_iter().map(|part| part.info.name).collect();
        assert_eq!(names, ["Flute"]);
    }

    #[test]
    fn a_singer_whose_program_is_a_trombones_is_no_trombone_and_is_heard() {
        let room = room();
        let program = "<part-name>Part 7</part-name><midi-instrument id='I'><midi-program>58</midi-program></midi-instrument>";
        let text = score(&[("Part 7", BARS)]).replace("<part-name>Part 7</part-name>", program);
        let read = |text: String| {
            let document = Document::open(text.into_bytes()).unwrap();
            crate::check::read(&document, &room, &Orders::default()).unwrap()
        };
        assert_eq!(seat(&read(text.clone()), &room, &Orders::default()).desks.len(), 1);
        let sung = read(text.replace("</note>", "<lyric><text>la</text></lyric></note>"));
        assert!(seat(&sung, &room, &Orders::default()).desks.is_empty());
        assert_eq!(sung.passed_over.len(), 1);
        assert_eq!(sung.passed_over[0].sounds.len(), 1);
    }

    #[test]
    fn a_part_that_is_not_there_is_missed() {
        let room = room();
        let is_there = |orders: &Orders| has_wanted(&read(&room, orders), &room, orders);
        assert!(is_there(&Orders::default()));
        assert!(is_there(&orders(&room, None, &["Flute"])));
        assert!(!is_there(&orders(&room, None, &["Tbua"])));
        assert!(!is_there(&orders(&room, Some("cimbasso-f"), &[])));
    }

    #[test]
    fn the_settings_say_what_a_part_is_and_who_plays_it() {
        let mut room = room();
        room.settings.tuba = Some("contrabass-tuba-b-flat".to_owned());
        room.settings.breath = 0.8;
        room.settings.parts = vec![PartSettings {
            name: Pattern::new("Tuba 2").unwrap(),
            instrument: Some(Instrument::Profile("cimbasso-f".to_owned())),
            instruments: vec!["bass-tuba-f".to_owned()],
            mutes: None,
            players: Some(2),
            breath: Some(1.2),
            line: 1,
        }];
        let orders = Orders::default();
        assert_eq!(
            seated(&room, &orders)[1..],
            ["Tuba 1: contrabass-tuba-b-flat, name", "Tuba 2: cimbasso-f, settings"]
        );
        let score = read(&room, &orders);
        let section = seat(&score, &room, &orders);
        let [_, first, second] = &section.desks[..] else { panic!("three desks") };
        assert_eq!((first.players, second.players), (1, 2));
        assert!((first.breath - 0.8).abs() < 1e-9 && (second.breath - 1.2).abs() < 1e-9);
        assert_eq!(second.also[0].name, "bass-tuba-f");
        // Both players of the second read its line.
        assert_eq!((first.lines.len(), second.lines.len()), (1, 2));
    }
}
