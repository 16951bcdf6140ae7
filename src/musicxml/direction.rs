//! `direction` and `sound`: dynamics, hairpins, words, tempo, octave lines, signs; `barline` with its marks.

use std::borrow::Cow;
use std::sync::Arc;

use super::found::{Asked, At, OttavaMark, Shaping, ShapingKind};
use super::glyphs;
use super::note;
use super::order::{BarMarks, MOST_TIMES, RepeatBack, ending_numbers};
use super::tempo::{self, Stands, TempoKind, TempoMark};
use super::time::Amount;
use super::tree::{self, Node, child, elements, name, says_yes, text};
use super::walk::{LONGEST, PartReader};
use super::words::{self, Jump, Meaning, Phrase};
use crate::intake;
use crate::music::{Dynamic, Hairpin, Length, Mark};
use crate::printable::printable;
use crate::score::{Asks, Mute, Passes};

/// Where a direction points: its place, and for whom.
#[derive(Clone, Copy)]
struct Aim {
    at: At,
    staff: Option<u8>,
    voice: Option<u16>,
    /// Whom a tempo speaks to here.
    stands: Stands,
    line: u32,
}

/// What is taken instead of a tempo that is none.
const FORMER_TEMPO: &str = "the tempo before goes on";

impl PartReader<'_> {
    pub(super) fn direction(&mut self, direction: Node<'_, '_>) {
        let offset = child(direction, "offset");
        let at = self.moved(offset);
        let aim = Aim {
            at,
            staff: child(direction, "staff")
                .and_then(|staff| self.number(staff, 1..=u8::MAX, ("staff", "it is read for all staves"))),
            voice: child(direction, "voice").map(|voice| self.voice(Some(text(voice)))),
            stands: stands(direction),
            line: self.line(direction),
        };
        let sound = child(direction, "sound");
        let sounds_tempo = sound.is_some_and(|sound| sound_tempo(sound).is_some());
        let mut phrase = Phrase::default();
        let mut dashes_are_others = false;
        for element in elements(direction).filter(|kind| name(*kind) == "direction-type").flat_map(elements) {
            match name(element) {
                "words" => {
                    phrase.push_words(element.raw_text());
                    continue;
                }
                "dynamics" => {
                    push_marks(&mut phrase, element);
                    continue;
                }
                "symbol" => {
                    if let Some(letters) = glyphs::letters_of(text(element)) {
                        phrase.push_mark(letters);
                    }
                    continue;
                }
                _ => {}
            }
            let said = std::mem::take(&mut phrase);
            // Dashes behind "rit." are none of a "cresc." before it.
            dashes_are_others = !self.words(aim, &said) && (dashes_are_others || !said.is_empty());
            match name(element) {
                "wedge" => self.wedge(aim, element),
                "dashes" if !dashes_are_others || element.attribute("type") == Some("stop") => {
                    self.dashes(aim, element);
                }
                "rehearsal" => {
                    let mark = text(element).split_whitespace().collect::<Vec<_>>().join(" ");
                    if !mark.is_empty() {
                        self.out.rehearsals.push((aim.at, mark));
                    }
                }
                "octave-shift" => self.octave_shift(aim, element),
                "metronome" if !sounds_tempo => {
                    if let Some(kind) = tempo::metronome(element) {
                        self.tempo_mark(aim, kind, None);
                    } else if let Some(figures) = child(element, "per-minute") {
                        self.odd_number(figures, text(figures), ("per-minute", FORMER_TEMPO));
                    }
                }
                "segno" if sound.is_none_or(|sound| sound.attribute("segno").is_none()) => {
                    self.marks.segno.push(String::new());
                }
                "coda" if sound.is_none_or(|sound| sound.attribute("coda").is_none()) => {
                    self.marks.coda.push(String::new());
                    self.marks.coda_late |= at.into > Length::ZERO;
                }
                _ => {}
            }
        }
        self.words(aim, &phrase);
        if let Some(sound) = sound {
            // The sound stays where the direction stands, unless the offset is said to move it too.
            let moves = offset.filter(|offset| says_yes(*offset, "sound"));
            self.sound_at(sound, child(sound, "offset").or(moves), aim);
        }
    }

    /// A `sound` that stands by itself in the measure.
    pub(super) fn sound(&mut self, sound: Node<'_, '_>) {
        let (at, line) = (self.here(), self.line(sound));
        let aim = Aim { at, staff: None, voice: None, stands: Stands::Above, line };
        self.sound_at(sound, child(sound, "offset"), aim);
    }

    /// `dynamics` among the `notations` of a note.
    pub(super) fn note_dynamics(&mut self, dynamics: Node<'_, '_>, place: Length, staff: u8, voice: u16) {
        let at = self.at(place);
        let (stands, line) = (Stands::Within, self.line(dynamics));
        let aim = Aim { at, staff: Some(staff), voice: Some(voice), stands, line };
        let mut phrase = Phrase::default();
        push_marks(&mut phrase, dynamics);
        self.words(aim, &phrase);
    }

    /// `barline`: repeats, endings, signs.
    pub(super) fn barline(&mut self, barline: Node<'_, '_>) {
        for sign in ["segno", "coda"] {
            let named = barline.attribute(sign);
            if named.is_some() || child(barline, sign).is_some() {
                let list = if sign == "segno" { &mut self.marks.segno } else { &mut self.marks.coda };
                list.push(named.unwrap_or_default().trim().to_owned());
            }
        }
        for element in elements(barline) {
            match (name(element), element.attribute("type"), element.attribute("direction")) {
                ("repeat", _, Some("forward")) => self.marks.repeat_from = true,
                ("repeat", _, Some("backward")) => {
                    let twice = ("times of a repeat", "it is played twice");
                    self.marks.repeat_back = Some(RepeatBack {
                        times: self.attribute(element, "times", 1..=MOST_TIMES, twice).unwrap_or(2),
                        after_jump: says_yes(element, "after-jump"),
                    });
                }
                ("ending", Some("start"), _) => {
                    let numbers = element.attribute("number").map(ending_numbers);
                    self.marks.ending_start = Some(numbers.unwrap_or_default());
                }
                ("ending", Some("stop" | "discontinue"), _) => self.marks.ending_stop = true,
                _ => {}
            }
        }
    }

    /// Here, moved by an `offset`.
    fn moved(&mut self, offset: Option<Node<'_, '_>>) -> At {
        let here = self.here();
        let Some(offset) = offset else { return here };
        let moved = Amount::read(text(offset)).map(|amount| here.into + self.cursor.length_of(amount));
        // Nothing stands before the start of the score or hours behind its place.
        if let Some(into) = moved.filter(|into| Length::ZERO - LONGEST <= *into && *into <= LONGEST) {
            return At { into, ..here };
        }
        self.odd_number(offset, text(offset), ("offset", "it is read as 0"));
        here
    }

    fn shape(&mut self, aim: Aim, kind: ShapingKind) {
        self.shape_on(aim, Passes::EVERY, kind);
    }

    fn shape_on(&mut self, aim: Aim, passes: Passes, kind: ShapingKind) {
        if self.in_full {
            let Aim { at, staff, voice, .. } = aim;
            self.out.shapings.push(Shaping { at, staff, voice, passes, kind });
        }
    }

    /// Dashes behind a word of loudness; "continue" is for a line that goes on in the next system.
    fn dashes(&mut self, aim: Aim, dashes: Node<'_, '_>) {
        let one = ("number of dashes", "it is read as 1");
        let number = self.attribute(dashes, "number", 1..=u8::MAX, one).unwrap_or(1);
        match dashes.attribute("type") {
            Some("start") => self.shape(aim, ShapingKind::DashesStart { number }),
            Some("stop") => self.shape(aim, ShapingKind::DashesStop { number }),
            _ => {}
        }
    }

    fn wedge(&mut self, aim: Aim, wedge: Node<'_, '_>) {
        let one = ("number of a wedge", "it is read as 1");
        let number = self.attribute(wedge, "number", 1..=u8::MAX, one).unwrap_or(1);
        let niente = says_yes(wedge, "niente");
        let start = |direction| ShapingKind::WedgeStart { direction, number, niente };
        match wedge.attribute("type") {
            Some("crescendo") => self.shape(aim, start(Hairpin::Crescendo)),
            Some("diminuendo") => self.shape(aim, start(Hairpin::Diminuendo)),
            Some("stop") => self.shape(aim, ShapingKind::WedgeStop { number, niente }),
            // "continue" is for a line that goes on in the next system.
            _ => {}
        }
    }

    /// `type="down"` is 8va: the notes are printed lower than they sound.
    fn octave_shift(&mut self, aim: Aim, shift: Node<'_, '_>) {
        if !self.in_full {
            return;
        }
        let eight = ("size of an octave-shift", "it is read as 8");
        let steps: u8 = self.attribute(shift, "size", 1..=50, eight).unwrap_or(8);
        let octaves = i8::try_from(steps / 7).unwrap_or(1);
        let octaves = match shift.attribute("type") {
            Some("down") => Some(octaves),
            Some("up") => Some(-octaves),
            Some("stop") => None,
            _ => return,
        };
        let one = ("number of an octave-shift", "it is read as 1");
        let number = self.attribute(shift, "number", 1..=u8::MAX, one).unwrap_or(1);
        self.out.ottavas.push(OttavaMark { at: aim.at, staff: aim.staff.unwrap_or(1), number, octaves });
    }

    /// Takes in what stands together; whether it says to get louder or softer.
    fn words(&mut self, aim: Aim, phrase: &Phrase) -> bool {
        let mut swells = false;
        // A page of text above the staff asks nothing of the player in one word.
        if intake::PHRASE.admit(phrase.bytes()).is_err() {
            return swells;
        }
        for meaning in words::read(phrase) {
            swells |= matches!(meaning, Meaning::Hairpin { .. });
            match meaning {
                Meaning::Dynamic(mark) => self.shape(aim, ShapingKind::Mark(mark)),
                Meaning::FirstAndAgain(first, again) => {
                    self.shape_on(aim, Passes::only([1]), ShapingKind::Mark(first));
                    self.shape_on(aim, Passes::only(2..=64), ShapingKind::Mark(again));
                }
                Meaning::Relative { steps, named } => {
                    self.shape(aim, ShapingKind::Relative { steps, named });
                }
                Meaning::Niente => self.shape(aim, ShapingKind::Niente),
                Meaning::Hairpin { direction, to, niente } => {
                    self.shape(aim, ShapingKind::WordHairpin { direction, to, niente });
                }
                Meaning::Tempo(word, quote) => {
                    let word = word.in_metre(self.metre(), self.metre_before);
                    self.tempo_mark(aim, TempoKind::Words(word), Some(quote.into()));
                }
                Meaning::Asks(asks) => self.ask(aim, &phrase.words(), asks),
                Meaning::Jump(jump) => said_jump(&mut self.said, jump),
            }
        }
        swells
    }

    fn tempo_mark(&mut self, aim: Aim, kind: TempoKind, words: Option<Arc<str>>) {
        let Aim { at, stands, .. } = aim;
        self.out.tempo.push(TempoMark { at, passes: Passes::EVERY, kind, words, stands });
    }

    fn ask(&mut self, aim: Aim, phrase: &str, asks: Asks) {
        if self.in_full {
            let text = printable(phrase).split_whitespace().collect::<Vec<_>>().join(" ");
            let Aim { at, staff, voice, line, .. } = aim;
            self.out.asked.push(Asked { at, staff, voice, text, asks, line });
        }
    }

    fn sound_at(&mut self, sound: Node<'_, '_>, offset: Option<Node<'_, '_>>, aim: Aim) {
        let aim = Aim { at: self.moved(offset), ..aim };
        let passes = note::passes(sound);
        if let Some(tempo) = sound_tempo(sound) {
            let (kind, stands) = (TempoKind::Sound(tempo), aim.stands);
            self.out.tempo.push(TempoMark { at: aim.at, passes, kind, words: None, stands });
        } else if let Some(tempo) = sound.attribute("tempo") {
            self.odd_number(sound, tempo, ("tempo of a sound", FORMER_TEMPO));
        }
        let passed_over = ("dynamics of a sound", "they are passed over");
        let dynamic = self.attribute(sound, "dynamics", 0.0..=1000.0, passed_over);
        if let Some(dynamic) = dynamic.and_then(dynamic_of_percentage) {
            self.shape_on(aim, passes, ShapingKind::Sound(dynamic));
        }
        let named = |sign| sound.attribute(sign).map(|name| name.trim().to_owned());
        self.marks.segno.extend(named("segno"));
        self.marks.coda.extend(named("coda"));
        self.marks.dacapo |= says_yes(sound, "dacapo");
        self.marks.repeat_from |= says_yes(sound, "forward-repeat");
        // `fine` holds "yes" or a length; only "no" would deny it.
        self.marks.fine |= sound.attribute("fine").is_some_and(|fine| fine.trim() != "no");
        self.marks.dalsegno = named("dalsegno").or(self.marks.dalsegno.take());
        self.marks.tocoda = named("tocoda").or(self.marks.tocoda.take());
        // "The time that jumps occur can be changed by using the time-only attribute" (MusicXML 4.0, `sound`).
        if passes != Passes::EVERY {
            if says_yes(sound, "dacapo") || sound.attribute("dalsegno").is_some() {
                self.marks.jump_on = Some(passes);
            }
            if sound.attribute("tocoda").is_some() {
                self.marks.coda_on = Some(passes);
            }
        }
        for element in elements(sound) {
            match name(element) {
                "instrument-change" => self.instrument_change(aim, element),
                "play" => self.play(aim, element),
                _ => {}
            }
        }
    }

    fn instrument_change(&mut self, aim: Aim, change: Node<'_, '_>) {
        let Some(id) = change.attribute("id") else { return };
        let Some(index) = self.instruments.iter().position(|instrument| instrument.id == id.trim()) else {
            return;
        };
        self.instrument = u16::try_from(index).ok();
        let name = self.instruments[index].name.clone();
        if !name.is_empty() {
            self.ask(aim, &name.clone(), Asks::Instrument(name));
        }
    }

    /// `mute` inside `play`: "on", "off" or the kind.
    fn play(&mut self, aim: Aim, play: Node<'_, '_>) {
        let Some(mute) = child(play, "mute") else { return };
        let kind = text(mute);
        let asks = match kind {
            "off" | "open" => None,
            "on" | "straight" => Some(Mute::Straight),
            "cup" => Some(Mute::Cup),
            "harmon-no-stem" | "harmon-stem" => Some(Mute::Harmon),
            "bucket" => Some(Mute::Bucket),
            "plunger" => Some(Mute::Plunger),
            "solotone" => Some(Mute::Solotone),
            "practice" => Some(Mute::Practice),
            _ => return,
        };
        self.ask(aim, kind, Asks::Mute(asks));
    }
}

/// Adds the marks of a `dynamics` element as they are printed; `other-dynamics` holds letters, a glyph by name, or words.
fn push_marks(phrase: &mut Phrase, dynamics: Node<'_, '_>) {
    let mut run: Vec<Cow<'_, str>> = Vec::new();
    for element in elements(dynamics) {
        let piece = match (name(element), element.attribute("smufl").and_then(glyphs::letters_of)) {
            ("other-dynamics", None) => glyphs::in_letters(text(element)),
            (_, Some(letters)) | (letters, None) => Cow::Borrowed(letters),
        };
        if piece.bytes().all(|byte| b"mpfszrn".contains(&byte)) {
            run.push(piece);
        } else {
            push_run(phrase, &std::mem::take(&mut run));
            phrase.push_mark(&piece);
        }
    }
    push_run(phrase, &run);
}

/// Neighbouring letters: one mark where all together are one ("sf" + "mp"), else each for itself ("mf", "sfz").
fn push_run(phrase: &mut Phrase, run: &[Cow<'_, str>]) {
    let joined = run.concat();
    if Mark::from_letters(&joined).is_some() {
        phrase.push_mark(&joined);
    } else {
        for letters in run {
            phrase.push_mark(letters);
        }
    }
}

/// Whom a direction speaks to by its place: tempo words stand above the first staff, what stands below a staff is its own.
fn stands(direction: Node<'_, '_>) -> Stands {
    let first_staff = child(direction, "staff").and_then(tree::number::<u8>).is_none_or(|staff| staff <= 1);
    match (direction.attribute("system"), direction.attribute("placement")) {
        (Some("only-top" | "also-top"), _) => Stands::ForAll,
        (_, Some("below")) => Stands::Within,
        _ if first_staff => Stands::Above,
        _ => Stands::Within,
    }
}

fn said_jump(said: &mut BarMarks, jump: Jump) {
    match jump {
        Jump::DaCapo => said.dacapo = true,
        Jump::DalSegno => said.dalsegno = Some(String::new()),
        Jump::ToCoda => said.tocoda = Some(String::new()),
        Jump::Fine => said.fine = true,
        Jump::AlCoda => said.al_coda = true,
        Jump::Coda => said.coda_said = true,
    }
}

fn sound_tempo(sound: Node<'_, '_>) -> Option<crate::music::Tempo> {
    sound.attribute("tempo").and_then(tempo::sound_tempo)
}

/// `sound dynamics` counts in per cent of the default forte, MIDI velocity 90 (MusicXML 4.0, `sound`). Which mark
/// that is, it does not say: the nearest of the velocities that notation programs usually write.
fn dynamic_of_percentage(percentage: f64) -> Option<Dynamic> {
    const USUAL: [(f64, Dynamic); 8] = [
        (16.0, Dynamic::Ppp),
        (33.0, Dynamic::Pp),
        (49.0, Dynamic::P),
        (64.0, Dynamic::Mp),
        (80.0, Dynamic::Mf),
        (96.0, Dynamic::F),
        (112.0, Dynamic::Ff),
        (126.0, Dynamic::Fff),
    ];
    let velocity = percentage * 0.9;
    let apart = |(usual, _): &(f64, Dynamic)| (usual - velocity).abs();
    if !velocity.is_finite() || velocity <= 0.0 {
        return None;
    }
    USUAL.into_iter().min_by(|a, b| apart(a).total_cmp(&apart(b))).map(|(_, dynamic)| dynamic)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::Onset;
    use crate::musicxml::testing::{bar, direction, note, score};
    use crate::score::{Articulation, Join};

    /// Tempo events of the first bar, by quarter notes from the start.
    fn tempos(content: &str) -> Vec<(f64, f64)> {
        let attributes = "<attributes><divisions>4</divisions></attributes>";
        let score = score(&format!("<measure>{attributes}{content}{}</measure>", note("C2", 16, "")));
        let given = score.tempo.changes().iter().filter(|change| !change.assumed);
        given.map(|change| (change.at.quarters(), change.tempo.get())).collect()
    }

    #[test]
    fn sound_follows_an_offset_only_where_it_is_told_to() {
        let with = |offset: &str, inside: &str| {
            format!(
                "<direction><direction-type><words/></direction-type>{offset}<sound tempo='90'>{inside}</sound></direction>"
            )
        };
        // Where a tempo lies tells where its sound lies; the one at 0 wins over the assumed start.
        assert_eq!(places(&with("<offset>8</offset>", "")), [0]);
        assert_eq!(places(&with("<offset sound='yes'>8</offset>", "")), [2]);
        assert_eq!(places(&with("<offset sound='yes'>8</offset>", "<offset>4</offset>")), [1]);
        assert_eq!(places("<sound tempo='90'><offset>4</offset></sound>"), [1]);
        assert!(tempos("<sound tempo='0'/>").is_empty());
    }

    /// In which whole quarter of the bar the reader puts tempo events.
    fn places(content: &str) -> Vec<i64> {
        let text = format!("<m><attributes><divisions>4</divisions></attributes>{content}</m>");
        let part = walked(&text);
        part.tempo.iter().map(|mark| mark.at.into.parts().0).collect()
    }

    fn walked(measure: &str) -> crate::musicxml::found::PartRead {
        let document = roxmltree::Document::parse(measure).unwrap();
        let tree = crate::musicxml::tree::Tree::of(document.root_element(), 0);
        let lines = crate::musicxml::lines::Lines::of(measure);
        let counts = crate::musicxml::walk::Counts::default();
        let source = crate::musicxml::walk::Source {
            text: measure,
            lines: &lines,
            concert: false,
            music_from: 0,
            counts: &counts,
        };
        let mut reader = PartReader::new(source, 0, &[], true);
        reader.measure(tree.root(), Some(tree.root())).unwrap();
        reader.finish()
    }

    #[test]
    fn sound_tempo_silences_the_metronome_beside_it() {
        let part = walked(
            "<m><direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>60</per-minute>
             </metronome></direction-type><sound tempo='66'/></direction></m>",
        );
        assert_eq!(part.tempo.len(), 1);
        assert!(matches!(part.tempo[0].kind, TempoKind::Sound(_)));
    }

    #[test]
    fn octave_lines_are_kept_and_move_nothing() {
        let content = [
            direction("<octave-shift type='down' size='8'/>"),
            note("C4", 4, ""),
            direction("<octave-shift type='stop' size='8'/>"),
            direction("<octave-shift type='up' size='15' number='2'/>"),
            note("C2", 4, ""),
        ];
        let part = bar(&content.concat());
        let lines: Vec<_> = part
            .ottavas
            .iter()
            .map(|line| (line.from.quarters(), line.to.quarters(), line.octaves))
            .collect();
        assert_eq!(lines, [(0.0, 1.0, 1), (1.0, 2.0, -2)]);
        assert_eq!(part.notes[0].sounding.to_string(), "C4");
    }

    #[test]
    fn the_lines_and_sounds_of_a_bar_are_gathered() {
        let part = walked(
            "<m><barline location='left'><segno/><ending number='1, 2' type='start'/><repeat direction='forward'/></barline>
             <direction><direction-type><coda/></direction-type><sound coda='x' dalsegno='s'/></direction>
             <barline><ending number='1, 2' type='discontinue'/><repeat direction='backward' times='3' after-jump='yes'/></barline></m>",
        );
        let marks = part.bars[0].marks.clone().unwrap();
        assert!(marks.repeat_from && marks.ending_stop && marks.ending_start.is_some());
        assert_eq!(marks.repeat_back, Some(RepeatBack { times: 3, after_jump: true }));
        assert_eq!((marks.segno, marks.coda), (vec![String::new()], vec!["x".to_owned()]));
        assert_eq!(marks.dalsegno.as_deref(), Some("s"));
    }

    #[test]
    fn rehearsal_marks_of_all_parts_are_those_of_the_score() {
        let mark = |text: &str| direction(&format!("<rehearsal>{text}</rehearsal>"));
        let part = |id: &str, marks: [&str; 2]| {
            let [first, second] = marks.map(mark);
            format!(
                "<part id='{id}'><measure><attributes><divisions>4</divisions></attributes>{first}{}{second}</measure></part>",
                note("C2", 16, "")
            )
        };
        let text = format!(
            "<score-partwise><part-list><score-part id='P1'><part-name>Flute</part-name></score-part>
             <score-part id='P2'><part-name>Tuba</part-name></score-part></part-list>{}{}</score-partwise>",
            part("P1", [" A\n1 ", ""]),
            part("P2", ["A", "B"])
        );
        for in_full in [[true, true], [false, true]] {
            let document = crate::musicxml::Document::open(text.clone().into_bytes()).unwrap();
            let score = document.read(&|_| in_full.to_vec()).unwrap();
            let marks: Vec<_> =
                score.rehearsals.iter().map(|mark| (mark.at.quarters(), mark.text.as_str())).collect();
            assert_eq!(marks, [(0.0, "A 1"), (4.0, "B")]);
        }
    }

    #[test]
    fn a_mute_in_play_mutes_from_its_place_on() {
        let content = [
            note("C2", 4, ""),
            "<sound><play><mute>cup</mute></play></sound>".to_owned(),
            note("C2", 4, ""),
            "<sound><play><mute>off</mute></play></sound>".to_owned(),
            note("C2", 4, ""),
        ];
        let part = bar(&content.concat());
        let mutes: Vec<_> = part.notes.iter().map(|note| note.mute).collect();
        assert_eq!(mutes, [None, Some(Mute::Cup), None]);
        assert_eq!(part.directions.len(), 2);
    }

    #[test]
    fn an_instrument_change_names_the_instrument_and_its_notes() {
        let content =
            [note("C2", 4, ""), "<sound><instrument-change id='I2'/></sound>".to_owned(), note("C2", 4, "")];
        let part = bar(&content.concat());
        assert_eq!(part.notes[1].instrument, Some(1));
        assert_eq!(part.directions[0].asks, Asks::Instrument("Cimbasso".into()));
        assert_eq!(part.directions[0].onset, Onset::START + Length::QUARTER);
    }

    #[test]
    fn words_that_ask_nothing_may_be_a_name() {
        let words = |text: &str| {
            let part = bar(&format!(
                "<direction><direction-type><words>{text}</words></direction-type></direction>{}",
                note("C2", 4, "")
            ));
            part.directions.iter().map(|direction| direction.asks.clone()).collect::<Vec<_>>()
        };
        assert_eq!(words("Contrabass Tuba"), [Asks::Named("Contrabass Tuba".into())]);
        assert_eq!(words("to Euph."), [Asks::Instrument("Euph.".into())]);
        for text in ["cantabile", "Allegro", "con sord.", "Tuba 2", "the whole of the second tuba part"] {
            assert!(!words(text).iter().any(|asks| matches!(asks, Asks::Named(_))), "{text}");
        }
    }

    #[test]
    fn of_two_notes_at_once_the_one_that_is_sung_is_not_played() {
        let said = |text: &str| direction(&format!("<words>{text}</words>"));
        let chord = [note("E2", 4, ""), note("B2", 4, "<chord/>")].concat();
        let played = |content: &str| {
            let part = bar(content);
            let played = part.notes.iter().filter(|note| note.is_played());
            played.map(|note| note.sounding.to_string()).collect::<Vec<_>>().join(" ")
        };
        for word in ["multiphonic", "(sing and play)", "voice", "singen", "chanter"] {
            assert_eq!(played(&format!("{}{chord}", said(word))), "E2", "{word}");
        }
        for word in ["singend", "cantabile", "sotto voce", "no multiphonics"] {
            assert_eq!(played(&format!("{}{chord}", said(word))), "E2 B2", "{word}");
        }
        let ends = format!("{}{}{chord}{}{chord}", said("sing"), note("C2", 4, ""), said("ord."));
        assert_eq!(played(&ends), "C2 E2 E2 B2");
        // The words stand at the voice that is sung, though it lies below.
        let voices = format!(
            "{}{}<backup><duration>4</duration></backup><direction><direction-type><words>sing</words></direction-type><voice>2</voice></direction>{}",
            note("E3", 4, "<voice>1</voice>"),
            "",
            note("A2", 4, "<voice>2</voice>")
        );
        assert_eq!(played(&voices), "E3");
    }

    #[test]
    fn a_glissando_of_the_lip_is_told_from_a_slides() {
        let glides = |before: &str, line: &str| {
            let start = format!("<notations><slide type='start' number='1'>{line}</slide></notations>");
            let stop = "<notations><slide type='stop' number='1'/></notations>";
            let part = bar(&format!("{before}{}{}", note("F3", 4, &start), note("C4", 4, stop)));
            let first = &part.notes[0];
            (first.joins.has(Join::Glissando), first.articulations.has(Articulation::LipGlissando))
        };
        assert_eq!(glides("", ""), (true, false));
        assert_eq!(glides("", "gliss."), (true, false));
        assert_eq!(glides("", "lip gliss."), (true, true));
        assert_eq!(glides(&direction("<words>half valve</words>"), ""), (true, true));
        assert_eq!(glides(&direction("<words>no lip gliss.</words>"), ""), (true, false));
    }

    #[test]
    fn percentages_become_the_nearest_usual_mark() {
        assert_eq!(dynamic_of_percentage(100.0), Some(Dynamic::F));
        assert_eq!(dynamic_of_percentage(54.44), Some(Dynamic::P));
        assert_eq!(dynamic_of_percentage(0.0), None);
        assert_eq!(dynamic_of_percentage(f64::NAN), None);
    }
}
