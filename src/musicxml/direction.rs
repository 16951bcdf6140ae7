//! `direction` and `sound`: dynamics, hairpins, words, tempo, octave lines, signs; `barline` with its marks.

use super::found::{Asked, At, OttavaMark, Shaping, ShapingKind};
use super::note;
use super::order::{BarMarks, MOST_TIMES, RepeatBack, ending_numbers};
use super::tempo::{self, TempoKind};
use super::time::Amount;
use super::tree::{Node, child, elements, name, says_yes, text};
use super::walk::{LONGEST, PartReader};
use super::words::{self, Jump, Meaning};
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
            line: self.line(direction),
        };
        let sound = child(direction, "sound");
        let sounds_tempo = sound.is_some_and(|sound| sound_tempo(sound).is_some());
        let mut phrase = String::new();
        for element in elements(direction).filter(|kind| name(*kind) == "direction-type").flat_map(elements) {
            if name(element) == "words" {
                // One text is often cut into several elements where its type face changes; the white space at
                // their ends parts them.
                phrase.push_str(element.raw_text());
                continue;
            }
            self.words(aim, &std::mem::take(&mut phrase));
            match name(element) {
                "dynamics" => self.dynamics(aim, element),
                "wedge" => self.wedge(aim, element),
                "dashes" if element.attribute("type") == Some("stop") => {
                    self.shape(aim, ShapingKind::DashesStop);
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
                        self.out.tempo.push((aim.at, kind));
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
        let aim = Aim { at: self.here(), staff: None, voice: None, line: self.line(sound) };
        self.sound_at(sound, child(sound, "offset"), aim);
    }

    /// `dynamics` among the `notations` of a note.
    pub(super) fn note_dynamics(&mut self, dynamics: Node<'_, '_>, place: Length, staff: u8, voice: u16) {
        let at = self.at(place);
        let aim = Aim { at, staff: Some(staff), voice: Some(voice), line: self.line(dynamics) };
        self.dynamics(aim, dynamics);
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
        if self.in_full {
            self.out.shapings.push(Shaping { at: aim.at, staff: aim.staff, voice: aim.voice, kind });
        }
    }

    /// Several elements of one `dynamics` are one mark ("s" + "fp"); `other-dynamics` may be anything.
    fn dynamics(&mut self, aim: Aim, dynamics: Node<'_, '_>) {
        if !self.in_full {
            return;
        }
        let (mut letters, mut others) = (String::new(), false);
        for element in elements(dynamics) {
            if name(element) == "other-dynamics" {
                others = true;
                letters.push_str(text(element));
            } else {
                letters.push_str(name(element));
            }
        }
        if letters == "n" {
            self.shape(aim, ShapingKind::Niente);
        } else if let Some(mark) = Mark::from_letters(&letters) {
            self.shape(aim, ShapingKind::Mark(mark));
        } else if others {
            self.words(aim, &letters);
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

    fn words(&mut self, aim: Aim, phrase: &str) {
        let phrase = phrase.trim();
        // A page of text above the staff asks nothing of the player in one word.
        if phrase.is_empty() || intake::PHRASE.admit(phrase.len() as u64).is_err() {
            return;
        }
        for meaning in words::read(phrase) {
            match meaning {
                Meaning::Dynamic(mark) => self.shape(aim, ShapingKind::Mark(mark)),
                Meaning::Relative { steps, named } => {
                    self.shape(aim, ShapingKind::Relative { steps, named });
                }
                Meaning::Qualifier(qualifier) => self.shape(aim, ShapingKind::Qualifier(qualifier)),
                Meaning::Hairpin { direction, to, niente } => {
                    self.shape(aim, ShapingKind::WordHairpin { direction, to, niente });
                }
                Meaning::Tempo(word) => {
                    let word = word.in_metre(self.nominal, self.beat);
                    self.out.tempo.push((aim.at, TempoKind::Words(word)));
                }
                Meaning::Asks(asks) => self.ask(aim, phrase, asks),
                Meaning::Jump(jump) => said_jump(&mut self.said, jump),
            }
        }
    }

    fn ask(&mut self, aim: Aim, phrase: &str, asks: Asks) {
        if self.in_full {
            let text = printable(phrase).split_whitespace().collect::<Vec<_>>().join(" ");
            let Aim { at, staff, voice, line } = aim;
            self.out.asked.push(Asked { at, staff, voice, text, asks, line });
        }
    }

    fn sound_at(&mut self, sound: Node<'_, '_>, offset: Option<Node<'_, '_>>, aim: Aim) {
        let aim = Aim { at: self.moved(offset), ..aim };
        let passes = note::passes(sound);
        // The page is judged as it is played the first time.
        let first_time = passes.has(1);
        if let Some(tempo) = sound_tempo(sound).filter(|_| first_time) {
            self.out.tempo.push((aim.at, TempoKind::Sound(tempo)));
        } else if let Some(tempo) = sound.attribute("tempo").filter(|_| first_time) {
            self.odd_number(sound, tempo, ("tempo of a sound", FORMER_TEMPO));
        }
        let passed_over = ("dynamics of a sound", "they are passed over");
        let dynamic = self.attribute(sound, "dynamics", 0.0..=1000.0, passed_over);
        let dynamic = dynamic.and_then(dynamic_of_percentage);
        if let Some(dynamic) = dynamic.filter(|_| first_time) {
            self.shape(aim, ShapingKind::Sound(dynamic));
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
        part.tempo.iter().map(|(at, _)| at.into.parts().0).collect()
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
        assert!(matches!(part.tempo[0].1, TempoKind::Sound(_)));
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
    fn percentages_become_the_nearest_usual_mark() {
        assert_eq!(dynamic_of_percentage(100.0), Some(Dynamic::F));
        assert_eq!(dynamic_of_percentage(54.44), Some(Dynamic::P));
        assert_eq!(dynamic_of_percentage(0.0), None);
        assert_eq!(dynamic_of_percentage(f64::NAN), None);
    }
}
