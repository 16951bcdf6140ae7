//! Seating the section: in go a score, who each part is for and what the settings say of the players; out comes a
//! desk for each low-brass part, with the instruments in hand from place to place.

use std::sync::Arc;

use super::asked::{AskedInstruments, Asker};
use super::{Desk, InstrumentInHand, Section, Unrecognised};
use crate::profile::{Casting, Family, PartCasting, Profile, Recogniser, SectionLimits, Verdict};
use crate::score::{Asks, Part, PartInfo, Score, lines};

/// Seats the players of a score. Parts that were passed over when it was read have no desk, whatever they are.
pub fn seat<'s>(
    score: &'s Score,
    recogniser: &Recogniser,
    casting: &Casting,
    limits: &Arc<SectionLimits>,
) -> Section<'s> {
    let of_parts = score.parts.iter().map(|part| (&part.info, Some(part)));
    let of_others = score.passed_over.iter().map(|other| (&other.info, None));
    let mut all: Vec<(&PartInfo, Option<&'s Part>)> = of_parts.chain(of_others).collect();
    all.sort_by_key(|(info, _)| info.index);
    let infos: Vec<PartInfo> = all.iter().map(|(info, _)| (*info).clone()).collect();
    let verdicts = recogniser.recognise_all(&infos, casting);
    let family = |(info, verdict): (&PartInfo, &Verdict)| match verdict {
        Verdict::Instrument { profile, .. } => Some((info.index, profile.family)),
        _ => None,
    };
    let families: Vec<(u32, Family)> = infos.iter().zip(&verdicts).filter_map(family).collect();
    let nothing_said = PartCasting::default();
    let mut desks = Vec::new();
    let mut unrecognised = Vec::new();
    for ((info, part), verdict) in all.into_iter().zip(verdicts) {
        let told = casting.parts.get(&info.index).unwrap_or(&nothing_said);
        match (verdict, part) {
            (Verdict::Instrument { profile, by, also }, Some(part)) => {
                let named = || info.players.or_else(|| recogniser.players_named(info));
                let players = told.players.or_else(named).unwrap_or_else(|| part.players_in_words()).max(1);
                let elsewhere =
                    families.iter().filter(|(index, _)| *index != info.index).map(|(_, family)| *family);
                let (elsewhere, reach) =
                    (elsewhere.collect(), told.instruments.iter().chain(&also).cloned().collect());
                let first = &profile;
                let asker = Asker { part, score, players, first, reach, elsewhere, recogniser };
                let AskedInstruments { first_time: instruments, again } = asker.asked();
                let of_one = if players > 1 { of_one_player(part, &profile, recogniser) } else { Vec::new() };
                let also = within_reach(&instruments, told.instruments.iter().chain(&also).chain(&of_one));
                let mut lines = lines(part, score, players);
                // Where the player chooses, what is chosen holds every time.
                for line in lines.iter_mut().filter(|_| also.is_empty()) {
                    line.hear_again(|played, pass| again.iter().any(|held| held.is_at(played.onset, pass)));
                }
                let mut desk = Desk {
                    part,
                    lines,
                    again,
                    also,
                    instruments,
                    recognised_by: by,
                    players,
                    breath: told.breath.unwrap_or(1.0),
                    mutes: told.mutes.clone(),
                    in_hand: Vec::new(),
                };
                desk.take_up(limits);
                desks.push(desk);
            }
            (Verdict::Unrecognised(doubt), _) => {
                unrecognised.push(Unrecognised { part: info.clone(), doubt });
            }
            (Verdict::Instrument { .. } | Verdict::PassedOver, _) => {}
        }
    }
    Section { score, desks, unrecognised, limits: Arc::clone(limits) }
}

/// The instruments that words give to one player of a desk of several ("2. muta in …"): within reach, as no line is
/// certain to be that player's from there on.
fn of_one_player(part: &Part, first: &Arc<Profile>, recogniser: &Recogniser) -> Vec<Arc<Profile>> {
    let named = part.directions.iter().filter_map(|direction| match &direction.asks {
        Asks::InstrumentOfOne(_, words) => recogniser.recognise_words(words, Some(first)),
        _ => None,
    });
    named.collect()
}

/// The instruments that may be taken up besides those the score asks for.
fn within_reach<'p>(
    in_hand: &[InstrumentInHand],
    others: impl Iterator<Item = &'p Arc<Profile>>,
) -> Vec<Arc<Profile>> {
    let mut also: Vec<Arc<Profile>> = Vec::new();
    for instrument in others {
        let is_first = in_hand.first().is_some_and(|first| first.profile.name == instrument.name);
        if !is_first && also.iter().all(|other| other.name != instrument.name) {
            also.push(Arc::clone(instrument));
        }
    }
    also
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::{Length, Onset};
    use crate::profile::shipped;
    use crate::score::testing::section as music;
    use crate::score::{Direction, Instrument};

    fn seated<'s>(score: &'s Score, casting: &Casting) -> Section<'s> {
        let profiles = shipped();
        seat(score, &Recogniser::new(profiles, None), casting, profiles.section())
    }

    fn in_hand(desk: &Desk<'_>) -> Vec<(f64, String)> {
        desk.instruments
            .iter()
            .map(|instrument| (instrument.from.quarters(), instrument.profile.name.clone()))
            .collect()
    }

    fn takes(quarters: i64, words: &str) -> Direction {
        Direction {
            bar: 0,
            onset: Onset::START + Length::whole_quarters(quarters),
            bar_onset: Length::ZERO,
            staff: None,
            voice: None,
            text: words.to_owned(),
            asks: Asks::Instrument(words.to_owned()),
            line: 1,
        }
    }

    #[test]
    fn each_low_brass_part_has_a_desk_and_the_others_none() {
        let music = music(&[
            ("Flute", "C5/4"),
            ("Trombone 1-2", "F3/4"),
            ("Trombone 3", "F2/4"),
            ("2 Tubas", "F1/4"),
            ("Brass low", "F1/4"),
        ]);
        let section = seated(&music.score, &Casting::default());
        let desks: Vec<_> = section
            .desks
            .iter()
            .map(|desk| (desk.instruments[0].profile.name.as_str(), desk.players, desk.recognised_by.word()))
            .collect();
        let expected = [
            ("tenor-bass-trombone", 2, "name"),
            ("bass-trombone", 1, "section"),
            ("contrabass-tuba-c", 2, "name"),
        ];
        assert_eq!(desks, expected);
        let doubts: Vec<_> = section.unrecognised.iter().map(|unknown| unknown.part.name.as_str()).collect();
        assert_eq!(doubts, ["Brass low"]);
    }

    #[test]
    fn words_change_the_instrument_in_hand() {
        let mut music = music(&[("Tuba", "F1/4 F1 F1 F1")]);
        music.score.parts[0].directions =
            vec![takes(4, "Cimbasso"), takes(8, "the second part"), takes(12, "Tuba")];
        let section = seated(&music.score, &Casting::default());
        let expected = [(0.0, "contrabass-tuba-c"), (4.0, "cimbasso-f"), (12.0, "contrabass-tuba-c")]
            .map(|(at, name)| (at, name.to_owned()));
        assert_eq!(in_hand(&section.desks[0]), expected);
    }

    #[test]
    fn an_instrument_that_only_ends_a_mute_changes_no_instrument() {
        let mut music = music(&[("Bass Trombone", "F2/4 F2 F2 F2")]);
        let part = &mut music.score.parts[0];
        let instrument = |name: &str| Instrument { name: name.to_owned(), ..Instrument::default() };
        part.info.instruments =
            vec![instrument("Trombone"), instrument("Muted Trombone"), instrument("Contrabass Trombone")];
        for (note, instrument) in part.notes.iter_mut().zip([0, 1, 2, 0]) {
            note.instrument = Some(instrument);
        }
        let section = seated(&music.score, &Casting::default());
        let expected = [(0.0, "bass-trombone"), (8.0, "contrabass-trombone-f"), (12.0, "bass-trombone")]
            .map(|(at, name)| (at, name.to_owned()));
        assert_eq!(in_hand(&section.desks[0]), expected);
    }

    #[test]
    fn the_settings_give_instruments_players_mutes_and_breath() {
        let music = music(&[("Tuba", "F1/4")]);
        let profiles = shipped();
        let told = PartCasting {
            instruments: vec![
                profiles.get("contrabass-tuba-c").unwrap(),
                profiles.get("bass-tuba-f").unwrap(),
            ],
            players: Some(2),
            mutes: Some(Vec::new()),
            breath: Some(0.7),
            ..PartCasting::default()
        };
        let casting = Casting { parts: [(0, told)].into() };
        let section = seated(&music.score, &casting);
        let desk = &section.desks[0];
        assert_eq!(
            desk.also.iter().map(|instrument| instrument.name.as_str()).collect::<Vec<_>>(),
            ["bass-tuba-f"]
        );
        assert_eq!((desk.players, desk.mutes.as_deref()), (2, Some(&[][..])));
        assert!((desk.breath - 0.7).abs() < f64::EPSILON);
    }
}
