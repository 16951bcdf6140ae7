//! `note`: pitch, time, ties and the marks on it.

use std::ops::Range;

use super::attributes::FIRST_STAFF;
use super::found::{RawNote, SpanMark};
use super::time::Amount;
use super::tree::{self, Node, attribute, child, elements, name, says_no, text};
use super::walk::{PartReader, cut_short};
use super::words;
use crate::music::{Alter, Length, Onset, Step, Transposition, Written};
use crate::score::{
    Articulation, Articulations, Head, Join, Joins, Note, OddityKind, Ornament, Passes, SourceRange, Stem,
    Tie,
};

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
    voice: Option<&'a str>,
    staff: Option<Node<'a, 'i>>,
    stem: Option<Stem>,
    instrument: Option<&'a str>,
    beamed_on: bool,
    modified: bool,
    small: bool,
    head: Head,
    lyric: bool,
    marks: Marks<'a, 'i>,
}

/// What `notations` hold.
#[derive(Default)]
struct Marks<'a, 'i> {
    articulations: Articulations,
    ornament: Option<Ornament>,
    spans: Vec<SpanMark>,
    dynamics: Vec<Node<'a, 'i>>,
}

impl PartReader<'_> {
    pub(super) fn note(&mut self, note: Node<'_, '_>) {
        let found = find(note, self.in_full);
        self.out.has_lyrics |= found.lyric;
        let voice = self.voice(found.voice);
        let (place, length) = self.take_time(note, &found);
        let Some(pitch) = found.pitch else {
            if !found.rest && !found.unpitched {
                self.odd(note, OddityKind::NoteWithoutPitch);
            }
            return;
        };
        let staff = found.staff.and_then(|staff| self.number(staff, 1..=u8::MAX, ("staff", FIRST_STAFF)));
        let staff = staff.unwrap_or(1);
        if self.in_full {
            for dynamics in found.marks.dynamics {
                self.note_dynamics(dynamics, place, staff, voice);
            }
        }
        let hidden = says_no(note, "print-object");
        if !self.in_full && (found.grace || found.cue || hidden) {
            return;
        }
        let written = match written(pitch) {
            Ok(written) => written,
            Err(words) => return self.odd(pitch, OddityKind::PitchUnusable(cut_short(&words))),
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
            small: found.small,
            hidden,
            passes: passes(note),
            chord: found.chord,
            voice,
            staff,
            stem: found.stem,
            dynamic: None,
            marked_in: None,
            until: None,
            attack: None,
            hairpin: None,
            articulations: found.marks.articulations,
            ornament: found.marks.ornament,
            head: found.head,
            joins: Joins::NONE,
            mute: None,
            later: None,
            instrument: found
                .instrument
                .and_then(|id| self.instruments.iter().position(|instrument| instrument.id == id))
                .and_then(|index| u16::try_from(index).ok())
                .or(self.instrument),
            line: if self.in_full { self.line(note) } else { 0 },
            octave_digits: self.octave_digits(pitch).filter(|_| self.in_full),
        };
        let (spans, beamed_on, modified) = (found.marks.spans, found.beamed_on, found.modified);
        self.out.notes.push(RawNote { note, spans, beamed_on, modified });
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
        let Range { start, end } = octave.text_at()?;
        if start < self.source.music_from {
            return None;
        }
        let stands = self.source.text.get(start..end)?;
        let digits = stands.trim_ascii();
        if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        let start = start + stands.len() - stands.trim_ascii_start().len();
        let end = u32::try_from(start + digits.len()).ok()?;
        Some(SourceRange { start: u32::try_from(start).ok()?, end })
    }
}

/// `time-only`: a list of times through the repeat ("1, 3"); text that is none denies nothing.
pub(super) fn passes(element: Node<'_, '_>) -> Passes {
    let times = element.attribute("time-only").unwrap_or_default().split(',');
    let times: Option<Vec<u32>> =
        times.map(|time| time.trim().parse().ok().filter(|time| *time > 0)).collect();
    times.map_or(Passes::EVERY, Passes::only)
}

fn find<'a, 'i>(note: Node<'a, 'i>, in_full: bool) -> Found<'a, 'i> {
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
                Some("let-ring") => {
                    found.marks.articulations = found.marks.articulations.with(Articulation::LetRing);
                }
                _ => {}
            },
            "voice" => found.voice = Some(text(element)),
            "staff" => found.staff = Some(element),
            "stem" => {
                found.stem = match text(element) {
                    "up" => Some(Stem::Up),
                    "down" => Some(Stem::Down),
                    _ => None,
                }
            }
            "instrument" => found.instrument = element.attribute("id"),
            "beam" if attribute(element, "number").unwrap_or(1) == 1 => {
                found.beamed_on = matches!(text(element), "begin" | "continue");
            }
            "time-modification" => found.modified = true,
            "type" => found.small = element.attribute("size") == Some("cue"),
            "notehead" => found.head = head(element),
            "lyric" => found.lyric = true,
            "notations" if in_full => notations(element, &mut found.marks),
            _ => {}
        }
    }
    found
}

fn notations<'a, 'i>(notations: Node<'a, 'i>, marks: &mut Marks<'a, 'i>) {
    for element in elements(notations) {
        match name(element) {
            "articulations" | "ornaments" | "technical" => {
                marks.ornament = marks.ornament.or(ornament(element));
                for mark in elements(element) {
                    if let Some(articulation) = articulation(mark) {
                        marks.articulations = marks.articulations.with(articulation);
                    }
                }
            }
            "fermata" => marks.articulations = marks.articulations.with(Articulation::Fermata),
            "tied" if element.attribute("type") == Some("let-ring") => {
                marks.articulations = marks.articulations.with(Articulation::LetRing);
            }
            "dynamics" => marks.dynamics.push(element),
            "slur" => marks.spans.extend(span(element, Join::Slur, 0)),
            "tuplet" => marks.spans.extend(span(element, Join::Tuplet, 0)),
            "glissando" | "slide" => {
                let numbers_from = if name(element) == "slide" { 1000 } else { 0 };
                marks.spans.extend(span(element, Join::Glissando, numbers_from));
                if element.attribute("type") == Some("start") && words::says_lip_glissando(text(element)) {
                    marks.articulations = marks.articulations.with(Articulation::LipGlissando);
                }
            }
            _ => {}
        }
    }
}

/// What a head says. Other shapes (`slashed`, shape notes, `x` on a drum) say nothing of pitch or do not stand on it.
fn head(head: Node<'_, '_>) -> Head {
    match text(head) {
        "slash" => Head::Slash,
        "x" | "cross" | "circle-x" => Head::Cross,
        "diamond" => Head::Diamond,
        _ => Head::Plain,
    }
}

/// The ornament that divides the note. Three strokes and more are no measured tremolo on a wind instrument: nobody tongues
/// 32nds for long, and the sign is that of the flutter tongue (common practice, no source).
fn ornament(ornaments: Node<'_, '_>) -> Option<Ornament> {
    let mut found = None;
    for mark in elements(ornaments) {
        match (name(mark), mark.attribute("type").unwrap_or("single")) {
            ("tremolo", "single") => {
                let strokes = tree::number(mark).unwrap_or(3);
                found = (1..FLUTTER_STROKES).contains(&strokes).then_some(Ornament::Repeated { strokes });
            }
            ("tremolo", "start") => found = Some(Ornament::Alternating),
            ("trill-mark", _) => found = Some(Ornament::Trill { alter: None }),
            // "The accidental-mark element can be used ... within the ornaments" of the trill before it.
            ("accidental-mark", _) => {
                let alter = match text(mark) {
                    "flat" => Some(-1),
                    "natural" => Some(0),
                    "sharp" => Some(1),
                    "flat-flat" | "double-flat" => Some(-2),
                    "double-sharp" | "sharp-sharp" => Some(2),
                    _ => None,
                };
                if let Some(Ornament::Trill { alter: own }) = &mut found {
                    *own = alter.or(*own);
                }
            }
            _ => {}
        }
    }
    found
}

/// Strokes from which a tremolo on one note is a flutter tongue.
const FLUTTER_STROKES: u8 = 3;

/// "continue" is for a line that goes on in the next system.
fn span(line: Node<'_, '_>, join: Join, numbers_from: u16) -> Option<SpanMark> {
    let starts = match line.attribute("type")? {
        "start" => true,
        "stop" => false,
        _ => return None,
    };
    Some(SpanMark {
        join,
        number: numbers_from + attribute::<u8>(line, "number").map_or(1, u16::from),
        starts,
    })
}

fn articulation(mark: Node<'_, '_>) -> Option<Articulation> {
    Some(match name(mark) {
        "accent" => Articulation::Accent,
        "strong-accent" => Articulation::Marcato,
        "staccato" => Articulation::Staccato,
        "staccatissimo" | "spiccato" => Articulation::Staccatissimo,
        "tenuto" => Articulation::Tenuto,
        "detached-legato" => Articulation::DetachedLegato,
        "stress" | "soft-accent" => Articulation::Stress,
        "breath-mark" => Articulation::BreathMark,
        "caesura" => Articulation::Caesura,
        "tremolo" if is_flutter(mark) => Articulation::FlutterTongue,
        "tremolo" => Articulation::Tremolo,
        "stopped" => Articulation::Stopped,
        "trill-mark" => Articulation::Trill,
        "scoop" | "plop" | "doit" | "falloff" | "bend" => Articulation::Bend,
        _ => return None,
    })
}

fn is_flutter(tremolo: Node<'_, '_>) -> bool {
    match tremolo.attribute("type").unwrap_or("single") {
        "single" => tree::number(tremolo).is_some_and(|strokes: u8| strokes >= FLUTTER_STROKES),
        kind => kind == "unmeasured",
    }
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
        let alter = match alter {
            "" => Alter::NATURAL,
            semitones => {
                let cents = tree::parsed::<f64>(semitones)? * 100.0;
                Alter::cents((cents.abs() <= 1200.0).then_some(cents.round() as i16)?)
            }
        };
        let octave = tree::parsed(octave).filter(|octave| (-2..=12).contains(octave))?;
        Some(Written::new(step, alter, octave))
    };
    read().ok_or_else(|| [step, alter, octave].join(" ").trim().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::musicxml::Document;
    use crate::musicxml::testing::{bar, direction, note, plain, rows, score};

    #[test]
    fn a_chord_note_stands_with_the_note_before_it_and_moves_nothing() {
        let part = bar(&[
            note("C2", 8, "").as_str(),
            "<direction/>",
            &note("G2", 4, "<chord/>"),
            &note("E3", 8, ""),
        ]
        .concat());
        assert_eq!(plain(&part), ["C2@0+2", "G2@0+1", "E3@2+2"]);
        assert_eq!(part.notes.iter().map(|note| note.chord).collect::<Vec<_>>(), [false, true, false]);
    }

    #[test]
    fn voices_and_staves_have_their_defaults_and_backup_goes_back() {
        let part = bar(&[
            note("C3", 8, "").as_str(),
            "<backup><duration>8</duration></backup><forward><duration>2</duration></forward>",
            &note("C2", 8, "<voice>low</voice><stem>down</stem><staff>2</staff>"),
        ]
        .concat());
        assert_eq!(part.voices, ["1", "low"]);
        assert_eq!(plain(&part), ["C3@0+2", "C2@1/2+2"]);
        let low = &part.notes[1];
        assert_eq!((low.voice, low.staff, low.stem), (1, 2, Some(Stem::Down)));
    }

    #[test]
    fn grace_cue_and_hidden_notes_are_set_apart() {
        let part = bar(&[
            "<note><grace slash='yes'/><pitch><step>B</step><octave>1</octave></pitch></note>",
            &note("C2", 4, ""),
            "<note><cue/><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note>",
            &note("D2", 4, "<type size='cue'>quarter</type>"),
            "<note print-object='no'><pitch><step>E</step><octave>2</octave></pitch><duration>4</duration></note>",
            "<note><grace/><pitch><step>F</step><octave>2</octave></pitch></note>",
        ]
        .concat());
        let flags = |note: &Note| {
            format!(
                "{}{}{}{}",
                if note.small { " small" } else { "" },
                if note.grace { " grace" } else { "" },
                if note.cue { " cue" } else { "" },
                if note.hidden { " hidden" } else { "" }
            )
        };
        assert_eq!(
            rows(&part, flags),
            ["B1@0+0 grace", "C2@0+1", "C5@1+1 cue", "D2@2+1 small", "E2@3+1 hidden", "F2@4+0 grace"]
        );
    }

    #[test]
    fn tie_counts_and_tied_does_not_and_the_order_is_free() {
        let part = bar(&[
            note("C2", 4, "<tie type='start'/>").as_str(),
            &note("C2", 4, "<tie type='start'/><tie type='stop'/>"),
            &note("C2", 4, "<tie type='stop'/><notations><tied type='start'/></notations>"),
        ]
        .concat());
        assert_eq!(
            part.notes.iter().map(|note| note.tie).collect::<Vec<_>>(),
            [Tie::Start, Tie::Continue, Tie::Stop]
        );
    }

    #[test]
    fn quarter_tones_and_decimals_are_read() {
        let part = bar("<note><pitch><step>E</step><alter>-0.5</alter><octave>2</octave></pitch><duration>1.5</duration></note>
             <note><pitch><step>F</step><alter>+1</alter><octave>+2</octave></pitch><duration>2.0</duration></note>");
        assert_eq!(plain(&part), ["Ed2@0+3/8", "F#2@3/8+1/2"]);
    }

    #[test]
    fn what_is_no_note_is_said_and_time_goes_on() {
        let score = score(
            "<measure><attributes><divisions>1</divisions></attributes>
             <note><duration>1</duration></note>
             <note><pitch><step>H</step><octave>2</octave></pitch><duration>1</duration></note>
             <note><unpitched/><duration>1</duration></note>
             <note><rest/><duration>1</duration></note>
             <note><pitch><step>C</step><octave>2</octave></pitch></note></measure>",
        );
        assert_eq!(plain(&score.parts[0]), ["C2@4+0"]);
        let kinds: Vec<_> = score.oddities.iter().map(|oddity| oddity.kind.clone()).collect();
        assert_eq!(
            kinds,
            [
                OddityKind::NoteWithoutPitch,
                OddityKind::PitchUnusable("H  2".into()),
                OddityKind::NoteWithoutDuration
            ]
        );
    }

    #[test]
    fn octave_digits_are_bytes_of_the_text_or_not_given() {
        let octave = |inside: &str| {
            let text = format!(
                "<score-partwise><part-list/><part><measure><note><pitch><step>C</step><octave>{inside}</octave></pitch>\
                 <duration>1</duration></note></measure></part></score-partwise>"
            );
            let document = Document::open(text.clone().into_bytes()).unwrap();
            let score = document.read(&|infos| vec![true; infos.len()]).unwrap();
            let note = &score.parts[0].notes[0];
            assert_eq!(note.written.octave(), 3, "{inside}");
            note.octave_digits.map(|digits| text[digits.range()].to_owned())
        };
        assert_eq!(octave("3").as_deref(), Some("3"));
        assert_eq!(octave(" \n3\t").as_deref(), Some("3"));
        assert_eq!(octave("03").as_deref(), Some("03"));
        assert_eq!(octave("<!-- low -->3"), None);
        assert_eq!(octave("&#51;"), None);
        assert_eq!(octave("+3"), None);
    }

    #[test]
    fn marks_on_the_note_are_read() {
        let part = bar(&note(
            "C2",
            4,
            "<instrument id='I2'/><notations><articulations><strong-accent/><breath-mark/></articulations>
             <fermata/><ornaments><tremolo>2</tremolo></ornaments></notations>
             <notations><articulations><soft-accent/></articulations><tied type='let-ring'/></notations>",
        ));
        let marks = part.notes[0].articulations;
        for mark in [
            Articulation::Marcato,
            Articulation::BreathMark,
            Articulation::Fermata,
            Articulation::Tremolo,
            Articulation::Stress,
            Articulation::LetRing,
        ] {
            assert!(marks.has(mark), "{mark:?}");
        }
        assert!(!marks.has(Articulation::Accent));
        assert_eq!(part.notes[0].instrument, Some(1));
    }

    #[test]
    fn heads_that_have_no_pitch_are_not_played_at_one() {
        let content = ["slash", "x", "diamond", "normal", "triangle"]
            .map(|head| note("C2", 4, &format!("<notehead>{head}</notehead>")));
        let part = bar(&content.concat());
        let heads: Vec<Head> = part.notes.iter().map(|note| note.head).collect();
        assert_eq!(heads, [Head::Slash, Head::Cross, Head::Diamond, Head::Plain, Head::Plain]);
        assert_eq!(
            part.notes.iter().map(Note::is_played).collect::<Vec<_>>(),
            [false, false, false, true, true]
        );
    }

    #[test]
    fn trills_tremolos_and_stopped_notes_are_read() {
        let ornament = |inside: &str| {
            let part =
                bar(&note("C2", 4, &format!("<notations><ornaments>{inside}</ornaments></notations>")));
            part.notes[0].ornament
        };
        let trill = |alter| Some(Ornament::Trill { alter });
        for (inside, expected) in [
            ("<trill-mark/>", trill(None)),
            ("<trill-mark/><accidental-mark>flat</accidental-mark>", trill(Some(-1))),
            ("<trill-mark/><accidental-mark>natural</accidental-mark>", trill(Some(0))),
            ("<tremolo>1</tremolo>", Some(Ornament::Repeated { strokes: 1 })),
            ("<tremolo type='single'>2</tremolo>", Some(Ornament::Repeated { strokes: 2 })),
            ("<tremolo>3</tremolo>", None),
            ("<tremolo type='start'>3</tremolo>", Some(Ornament::Alternating)),
            ("<tremolo type='stop'>3</tremolo>", None),
            ("<mordent/>", None),
        ] {
            assert_eq!(ornament(inside), expected, "{inside}");
        }
        let marks = |inside: &str| bar(&note("C2", 4, inside)).notes[0].articulations;
        let flutter = "<notations><ornaments><tremolo>3</tremolo></ornaments></notations>";
        assert!(marks(flutter).has(Articulation::FlutterTongue));
        assert!(marks("<notations><technical><stopped/></technical></notations>").has(Articulation::Stopped));
        let words = |text: &str| direction(&format!("<words>{text}</words>"));
        let part = bar(&[words("Flz."), note("C2", 4, ""), words("ord."), note("C2", 4, "")].concat());
        let fluttered: Vec<bool> =
            part.notes.iter().map(|note| note.articulations.has(Articulation::FlutterTongue)).collect();
        assert_eq!(fluttered, [true, false]);
    }
}
