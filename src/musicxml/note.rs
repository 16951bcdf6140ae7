//! `note`: pitch, time, ties and the marks on it.

use std::borrow::Cow;

use roxmltree::Node;

use super::time::Amount;
use super::walk::PartReader;
use super::xml::{child, elements, name, number, says_no, text};
use crate::music::{Alter, Length, Onset, Step, Transposition, Written};
use crate::score::{Articulations, Joins, Note, OddityKind, SourceRange, Stem, Tie};

/// A note as its element has it, with what only its neighbours can make plain.
#[derive(Debug)]
pub(super) struct RawNote {
    /// Everything that is known by itself; `onset` is still to come.
    pub(super) note: Note,
}

/// The elements of a note, as far as they matter.
#[derive(Default)]
#[allow(clippy::struct_excessive_bools)] // One for each empty element.
struct Found<'a, 'i> {
    grace: bool,
    cue: bool,
    chord: bool,
    rest: bool,
    pitch: Option<Node<'a, 'i>>,
    unpitched: bool,
    duration: Option<Node<'a, 'i>>,
    tie_start: bool,
    tie_stop: bool,
    voice: Option<Cow<'a, str>>,
    staff: Option<u8>,
    stem: Option<Stem>,
    instrument: Option<&'a str>,
}

impl PartReader<'_> {
    pub(super) fn note(&mut self, note: Node<'_, '_>) {
        let found = find(note);
        let voice = self.voice(found.voice.as_deref());
        let (place, length) = self.take_time(note, &found);
        let Some(pitch) = found.pitch else {
            if !found.rest && !found.unpitched {
                self.odd(note, OddityKind::NoteWithoutPitch);
            }
            return;
        };
        let hidden = says_no(note, "print-object");
        if !self.in_full && (found.grace || found.cue || hidden) {
            return;
        }
        let written = match written(pitch) {
            Ok(written) => written,
            Err(words) => return self.odd(pitch, OddityKind::PitchUnusable(words)),
        };
        let note = Note {
            bar: self.out.bars.len() as u32,
            onset: Onset::START,
            bar_onset: place,
            length,
            written,
            sounding: Transposition::CONCERT.sound(written),
            tie: tie(found.tie_start, found.tie_stop),
            grace: found.grace,
            cue: found.cue,
            hidden,
            chord: found.chord,
            voice,
            staff: found.staff.unwrap_or(1),
            stem: found.stem,
            dynamic: None,
            until: None,
            attack: None,
            hairpin: None,
            articulations: Articulations::default(),
            joins: Joins::NONE,
            mute: None,
            instrument: found.instrument.and_then(|id| {
                let index = self.instruments.iter().position(|instrument| instrument.id == id)?;
                u16::try_from(index).ok()
            }),
            line: self.line(note),
            octave_digits: self.octave_digits(pitch),
        };
        self.out.notes.push(RawNote { note });
    }

    /// Where a note stands and how long it lasts; moves on behind it. A chord note stands where the note before it
    /// does and moves nothing, a grace note takes no time.
    fn take_time(&mut self, note: Node<'_, '_>, found: &Found<'_, '_>) -> (Length, Length) {
        let place = if found.chord { self.chord_place } else { self.cursor.place() };
        self.chord_place = place;
        if found.grace {
            return (place, Length::ZERO);
        }
        let amount = self.duration(note, found.duration);
        if amount.is_none() && (found.pitch.is_some() || found.rest || found.unpitched) {
            self.odd(note, OddityKind::NoteWithoutDuration);
        }
        let amount = amount.unwrap_or(Amount::ZERO);
        let length = self.cursor.length_of(amount);
        if found.chord {
            self.reach = self.reach.max(place + length);
        } else {
            self.cursor.forward(amount);
        }
        (place, length)
    }

    /// The digits inside `octave`, where they stand in the text as plain digits.
    fn octave_digits(&self, pitch: Node<'_, '_>) -> Option<SourceRange> {
        let octave = child(pitch, "octave")?;
        let only = octave.first_child().filter(|child| child.is_text() && child.next_sibling().is_none())?;
        let within = only.range();
        let start = self.offset + within.start;
        let stands = self.source.text.get(start..self.offset + within.end)?;
        let digits = stands.trim_ascii();
        if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        let start = start + stands.len() - stands.trim_ascii_start().len();
        let end = u32::try_from(start + digits.len()).ok()?;
        Some(SourceRange { start: u32::try_from(start).ok()?, end })
    }
}

fn find<'a, 'i>(note: Node<'a, 'i>) -> Found<'a, 'i> {
    let mut found = Found::default();
    for element in elements(note) {
        match name(element) {
            "grace" => found.grace = true,
            "cue" => found.cue = true,
            "chord" => found.chord = true,
            "rest" => found.rest = true,
            "pitch" => found.pitch = Some(element),
            "unpitched" => found.unpitched = true,
            "duration" => found.duration = Some(element),
            "tie" => match element.attribute("type") {
                Some("start") => found.tie_start = true,
                Some("stop") => found.tie_stop = true,
                _ => {}
            },
            "voice" => found.voice = Some(text(element)),
            "staff" => found.staff = number(element).filter(|staff| *staff > 0),
            "stem" => {
                found.stem = match text(element).as_ref() {
                    "up" => Some(Stem::Up),
                    "down" => Some(Stem::Down),
                    _ => None,
                }
            }
            "instrument" => found.instrument = element.attribute("id"),
            _ => {}
        }
    }
    found
}

/// Start and stop may come in either order.
fn tie(start: bool, stop: bool) -> Tie {
    match (start, stop) {
        (false, false) => Tie::None,
        (true, false) => Tie::Start,
        (false, true) => Tie::Stop,
        (true, true) => Tie::Continue,
    }
}

/// The written pitch, or the words that are none.
fn written(pitch: Node<'_, '_>) -> Result<Written, String> {
    let part = |name| child(pitch, name).map(text).unwrap_or_default();
    let (step, alter, octave) = (part("step"), part("alter"), part("octave"));
    let read = || {
        let mut letters = step.chars();
        let step = letters.next().and_then(Step::from_letter).filter(|_| letters.next().is_none())?;
        let alter = match alter.as_ref() {
            "" => Alter::NATURAL,
            semitones => {
                let cents = semitones.trim_start_matches('+').parse::<f64>().ok()? * 100.0;
                Alter::cents((cents.abs() <= 1200.0).then_some(cents.round() as i16)?)
            }
        };
        let octave =
            octave.trim_start_matches('+').parse().ok().filter(|octave| (-2..=12).contains(octave))?;
        Some(Written::new(step, alter, octave))
    };
    read().ok_or_else(|| [step.as_ref(), alter.as_ref(), octave.as_ref()].join(" ").trim().to_owned())
}
