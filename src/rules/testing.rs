//! Rules tried on one-line music: a caret line under the notes a finding is about, with its words.
//!
//! A [`Scene`] is a section made of one-line music and the shipped profiles; what it says is compared as text. The
//! music is that of [`score::testing`](crate::score::testing).

use std::sync::Arc;

use super::engraving::{Engraving, Staff};
use super::{Rule, judge};
use crate::finding::{Finding, Severity};
use crate::music::{Length, Onset};
use crate::musicxml::Document;
use crate::playing::{Desk, InstrumentInHand, RecognisedBy, Section, seat};
use crate::profile::{Casting, PartCasting, Profile, Recogniser, Verdict, shipped};
use crate::score::testing::{Music, section};
use crate::score::{Asks, Direction, Part, PartInfo, PassedOver, Sound};

/// Low brass and what sounds around it.
#[derive(Clone, Default)]
pub(crate) struct Scene {
    desks: Vec<SceneDesk>,
    around: Vec<(String, String)>,
    breath: Option<f64>,
}

#[derive(Clone)]
struct SceneDesk {
    name: String,
    instrument: String,
    music: String,
    players: u8,
    also: Vec<String>,
    changes: Vec<(i64, String)>,
    tweak: Option<fn(&mut Part)>,
}

/// A shipped profile.
#[track_caller]
pub(crate) fn instrument(name: &str) -> Arc<Profile> {
    shipped().named(name).unwrap_or_else(|error| panic!("{error}"))
}

/// A scene of one part.
pub(crate) fn scene(instrument: &str, music: &str) -> Scene {
    Scene::default().and(instrument, music)
}

impl Scene {
    /// With one more low-brass part below the others.
    pub(crate) fn and(mut self, instrument: &str, music: &str) -> Scene {
        self.desks.push(SceneDesk {
            name: format!("Part {}", self.desks.len() + 1),
            instrument: instrument.to_owned(),
            music: music.to_owned(),
            players: 1,
            also: Vec::new(),
            changes: Vec::new(),
            tweak: None,
        });
        self
    }

    /// With another part of the orchestra, which is not judged.
    pub(crate) fn beside(mut self, name: &str, music: &str) -> Scene {
        self.around.push((name.to_owned(), music.to_owned()));
        self
    }

    /// With another part of the orchestra that plays what the first part plays.
    pub(crate) fn doubled_by(self, name: &str) -> Scene {
        let music = self.desks.first().map_or_else(String::new, |desk| desk.music.clone());
        self.beside(name, &music)
    }

    /// With a breath of so many litres, against the profile's.
    pub(crate) fn litres(mut self, litres: f64) -> Scene {
        self.breath = Some(litres);
        self
    }

    /// The last part has another instrument within reach.
    pub(crate) fn also(self, instrument: &str) -> Scene {
        self.last(|desk| desk.also.push(instrument.to_owned()))
    }

    /// The last part changes instruments so many quarter notes into the music.
    pub(crate) fn change(self, at: i64, instrument: &str) -> Scene {
        self.last(|desk| desk.changes.push((at, instrument.to_owned())))
    }

    /// The last part has been altered after it was read.
    pub(crate) fn part(self, tweak: fn(&mut Part)) -> Scene {
        self.last(|desk| desk.tweak = Some(tweak))
    }

    fn last(mut self, alter: impl FnOnce(&mut SceneDesk)) -> Scene {
        alter(self.desks.last_mut().expect("a part"));
        self
    }

    /// What all rules find.
    #[track_caller]
    pub(crate) fn findings(&self) -> Vec<Finding> {
        self.judged(judge)
    }

    /// How its parts are commonly written.
    pub(crate) fn engraving(&self) -> Engraving {
        let of_desk = |desk: &SceneDesk| {
            let clef = instrument(&desk.instrument).notation.clefs[0];
            Staff::new(&desk.name, clef)
        };
        let others = self.around.iter().map(|(name, _)| Staff::new(name, Staff::BASS));
        Engraving { staves: self.desks.iter().map(of_desk).chain(others).collect(), ..Engraving::default() }
    }

    /// What all rules find when it is set on a page and read from there.
    #[track_caller]
    pub(crate) fn found_on(&self, page: &Engraving) -> Vec<Finding> {
        let own = self.desks.iter().map(|desk| (desk.name.as_str(), desk.music.as_str()));
        let others = self.around.iter().map(|(name, music)| (name.as_str(), music.as_str()));
        let text = page.text(&section(&own.chain(others).collect::<Vec<_>>()));
        let mut casting = Casting::default();
        for (index, desk) in (0..).zip(&self.desks).filter(|(_, desk)| !desk.instrument.is_empty()) {
            let profile = Some((instrument(&desk.instrument), RecognisedBy::Settings));
            let players = (desk.players > 1).then_some(desk.players);
            casting.parts.insert(index, PartCasting { profile, players, ..PartCasting::default() });
        }
        let recogniser = Recogniser::new(shipped(), None);
        let document = Document::open(text.into_bytes()).expect("what was engraved can be read");
        let interest = |parts: &[PartInfo]| {
            let verdicts = recogniser.recognise_all(parts, &casting);
            verdicts.iter().map(|verdict| !matches!(verdict, Verdict::PassedOver)).collect()
        };
        let score = document.read(&interest).expect("what was engraved can be read");
        judge(&seat(&score, &recogniser, &casting, shipped().section()))
    }

    /// So many players read the last part.
    pub(crate) fn players(self, players: u8) -> Scene {
        self.last(|desk| desk.players = players)
    }

    /// What comes of the section.
    #[track_caller]
    pub(crate) fn judged<T>(&self, look: impl FnOnce(&Section<'_>) -> T) -> T {
        let own = self.desks.iter().map(|desk| (desk.name.as_str(), desk.music.as_str()));
        let others = self.around.iter().map(|(name, music)| (name.as_str(), music.as_str()));
        let Music { mut score, lines } = section(&own.chain(others).collect::<Vec<_>>());
        for part in score.parts.split_off(self.desks.len()) {
            let sound = |note: &crate::score::Note| Sound {
                onset: note.onset,
                end: note.end(),
                sounding: note.sounding,
            };
            score
                .passed_over
                .push(PassedOver { info: part.info.clone(), sounds: part.notes.iter().map(sound).collect() });
        }
        for (part, desk) in score.parts.iter_mut().zip(&self.desks) {
            if let Some(tweak) = desk.tweak {
                tweak(part);
            }
        }
        let desks = score.parts.iter().zip(&self.desks).zip(lines).map(|((part, desk), line)| {
            let first = InstrumentInHand { from: Onset::START, profile: instrument(&desk.instrument) };
            let later = desk.changes.iter().map(|(at, name)| InstrumentInHand {
                from: Onset::START + Length::whole_quarters(*at),
                profile: instrument(name),
            });
            let usable = first.profile.sustain.law.usable.get();
            let mut seated = Desk {
                part,
                lines: vec![line],
                instruments: std::iter::once(first).chain(later).collect(),
                again: Vec::new(),
                also: desk.also.iter().map(|name| instrument(name)).collect(),
                in_hand: Vec::new(),
                recognised_by: RecognisedBy::Name,
                players: desk.players,
                breath: self.breath.map_or(1.0, |litres| litres / usable),
                mutes: None,
            };
            seated.take_up(shipped().section());
            seated
        });
        let section = Section {
            score: &score,
            desks: desks.collect(),
            unrecognised: Vec::new(),
            limits: Arc::clone(shipped().section()),
        };
        look(&section)
    }

    /// Each finding as its rule with the first letter of its weight: `too-loud-for-register w`.
    #[track_caller]
    pub(crate) fn says(&self) -> Vec<String> {
        let letter = |severity| match severity {
            Severity::Note => "n",
            Severity::Warning => "w",
            Severity::Error => "e",
        };
        let mut said: Vec<String> = self
            .findings()
            .iter()
            .map(|finding| format!("{} {}", finding.rule, letter(finding.severity)))
            .collect();
        said.sort();
        said
    }

    /// Asserts that just these findings are there; `what` says what is played.
    #[track_caller]
    pub(crate) fn draws(&self, what: &str, expected: &[&str]) {
        let mut expected: Vec<&str> = expected.to_vec();
        expected.sort_unstable();
        let messages: Vec<String> = self
            .findings()
            .into_iter()
            .map(|finding| format!("{}: {}", finding.rule, finding.message))
            .collect();
        assert_eq!(self.says(), expected, "{what}\n{}", messages.join("\n"));
    }
}

/// A phrase so many times over.
pub(crate) fn times(count: usize, phrase: &str) -> String {
    vec![phrase; count].join(" ")
}

/// A desk alone, with the string basses at the unison so that nothing low stands bare.
pub(crate) fn with_basses(instrument: &str, music: &str) -> Scene {
    scene(instrument, music).beside("Double Bass", music)
}

/// Three trombones and tuba, each from the same head, with string basses under them.
pub(crate) fn choir(head: &str, voices: [&str; 4]) -> Scene {
    let part = |music: &str| format!("{head} {music}");
    scene("tenor-bass-trombone", &part(voices[0]))
        .and("tenor-bass-trombone", &part(voices[1]))
        .and("bass-trombone", &part(voices[2]))
        .and("contrabass-tuba-c", &part(voices[3]))
        .beside("Double Bass", &part(voices[3]))
}

/// Asserts that nothing in these scenes is called a risk.
#[track_caller]
pub(crate) fn no_risk(scenes: &[(&str, Scene)]) {
    let told: Vec<String> = scenes
        .iter()
        .filter_map(|(what, scene)| {
            let said = risks(scene);
            (!said.is_empty()).then(|| format!("{what}\n  {}", said.join("\n  ")))
        })
        .collect();
    assert!(told.is_empty(), "{} of {}\n{}", told.len(), scenes.len(), told.join("\n"));
}

/// Asserts that just these rules call a scene a risk (`rule w`) or impossible (`rule e`).
#[track_caller]
pub(crate) fn risky(what: &str, scene: &Scene, expected: &[&str]) {
    let said = scene.says().into_iter().filter(|said| !said.ends_with(" n")).collect::<Vec<_>>();
    assert_eq!(said, expected, "{what}\n{}", risks(scene).join("\n"));
}

/// What is called a risk or impossible, in words.
fn risks(scene: &Scene) -> Vec<String> {
    scene
        .findings()
        .iter()
        .filter(|found| found.severity > Severity::Note)
        .map(|found| {
            format!("{} {} bar {}: {}", found.severity.word(), found.rule, found.place.bar, found.message)
        })
        .collect()
}

/// Words at the start of the part that ask something.
pub(crate) fn words(part: &mut Part, text: &str, asks: Asks) {
    part.directions.push(Direction {
        bar: 0,
        onset: Onset::START,
        bar_onset: Length::ZERO,
        staff: None,
        voice: None,
        text: text.to_owned(),
        asks,
        line: 1,
    });
}

/// Runs all rules over one-line music on an instrument and compares what `rule` finds with the caret lines: under the
/// first to the last note of each finding, followed by its words.
#[track_caller]
pub(crate) fn check(rule: &Rule, instrument: &str, text: &str) {
    let mut lines = text.lines().filter(|line| !line.trim().is_empty());
    let music = lines.next().expect("a line of music");
    let notes: Vec<(usize, usize)> = tokens(music)
        .into_iter()
        .filter(|&(start, end)| {
            let letter = music[start..end].trim_start_matches(['(', '*']).chars().next();
            letter.is_some_and(|letter| ('A'..='G').contains(&letter))
        })
        .collect();
    let marks = |first: u32, last: u32| {
        let (start, end) = (notes[first as usize].0, notes[last as usize].1);
        format!("{}{}", " ".repeat(start), "^".repeat(end - start))
    };
    let found: Vec<String> = scene(instrument, music)
        .findings()
        .iter()
        .filter(|finding| finding.rule == rule.name)
        .map(|finding| {
            let (first, last) = (finding.notes.first().expect("notes"), finding.notes.last().expect("notes"));
            format!("{} {}", marks(*first, *last), finding.message)
        })
        .collect();
    let expected: Vec<&str> = lines.map(str::trim_end).collect();
    assert_eq!(found, expected, "\n{music}\n{}\n", found.join("\n"));
}

fn tokens(music: &str) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut at = 0;
    for token in music.split(' ') {
        if !token.is_empty() {
            found.push((at, at + token.len()));
        }
        at += token.len() + 1;
    }
    found
}
