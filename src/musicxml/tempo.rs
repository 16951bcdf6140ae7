//! From tempo marks to seconds: numbers first, words only where no number stands.
//!
//! In come the tempo events of all parts; out comes one map of the written score. `sound tempo` rules over
//! `metronome`, `metronome` over words at the same place. Values for words stand in
//! `profiles/tempo-words.toml`; whatever they decide is marked as assumed.

use super::tree::{self, Node, child, children, elements, name, text};
use super::words::{TempoWord, vocabulary};
use crate::music::{Length, Onset, Tempo, TempoChange, TempoMap};

/// Something that says how fast, at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TempoEvent {
    /// Where it takes hold.
    pub(super) at: Onset,
    /// What it says.
    pub(super) kind: TempoKind,
}

/// The ways to say it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum TempoKind {
    /// `sound tempo`.
    Sound(Tempo),
    /// A `metronome` mark with a number.
    Metronome(Tempo),
    /// A metric modulation: the new tempo is the old one times this.
    Modulation(f64),
    /// Words.
    Words(TempoWord),
}

/// The tempo of the whole score. `end` is where the last bar ends: a ritardando without a goal goes no further.
///
/// Of several numbers at one place the last of the strongest kind counts, and words there are passed over. A
/// gradual change leads to the next tempo where that lies near and on its way; else by the share that the
/// vocabulary gives, after which the reached tempo holds. Where the first tempo stands within the first bar of
/// 4/4, it counts from the start.
pub(super) fn map(events: &[TempoEvent], end: Onset) -> TempoMap {
    let mut sorted: Vec<&TempoEvent> = events.iter().collect();
    sorted.sort_by_key(|event| event.at);
    let mut course = Course::new(end);
    for place in sorted.chunk_by(|a, b| a.at == b.at) {
        let at = place[0].at;
        // Of equals the last is taken.
        let number = place.iter().filter_map(|event| Number::of(event.kind)).max_by_key(|number| number.rank);
        match number {
            Some(Number { value: Value::Given(tempo), .. }) => course.set(at, tempo, false),
            Some(Number { value: Value::Times(factor), .. }) => course.modulate(at, factor),
            None => {
                let mut said: Vec<TempoWord> = Vec::new();
                for event in place {
                    // The same words stand in several parts.
                    if let TempoKind::Words(word) = event.kind
                        && !said.contains(&word)
                    {
                        said.push(word);
                        course.word(at, word);
                    }
                }
            }
        }
    }
    course.map()
}

/// `tempo` of a `sound` element: quarter notes a minute; `None` for 0 and for what is no number.
pub(super) fn sound_tempo(text: &str) -> Option<Tempo> {
    tree::parsed(text).and_then(Tempo::quarters_a_minute)
}

/// What a `metronome` element says; `None` where it gives neither a number nor a usable equation.
///
/// "♩. = 72" is a number; "♪ = ♩" (two `beat-unit`s, or `metronome-note`s with a `metronome-relation`) says that
/// the former value lasts as long as the new one: a metric modulation. Swing ("two eighths = a triplet") has equal
/// lengths on both sides and so changes nothing.
pub(super) fn metronome(element: Node<'_, '_>) -> Option<TempoKind> {
    let mut sides = [Length::ZERO, Length::ZERO];
    let mut side = 0;
    let mut unit: Option<(String, u32)> = None;
    let mut figures = None;
    let close = |unit: &mut Option<(String, u32)>, total: &mut Length| {
        if let Some(length) = unit.take().and_then(|(name, dots)| note_value(&name, dots)) {
            *total += length;
        }
    };
    for child in elements(element) {
        match name(child) {
            "beat-unit" => {
                if unit.is_some() || !sides[side].is_zero() {
                    close(&mut unit, &mut sides[side]);
                    side = 1;
                }
                unit = Some((text(child).to_owned(), 0));
            }
            "beat-unit-dot" => {
                if let Some((_, dots)) = &mut unit {
                    *dots += 1;
                }
            }
            "beat-unit-tied" => {
                close(&mut unit, &mut sides[side]);
                sides[side] += value_inside(child, "beat-unit", "beat-unit-dot")?;
            }
            "per-minute" => {
                close(&mut unit, &mut sides[side]);
                figures = per_minute(text(child));
            }
            "metronome-note" => sides[side] += metronome_note(child)?,
            "metronome-relation" => side = 1,
            _ => {}
        }
    }
    close(&mut unit, &mut sides[side]);
    let [old, new] = sides.map(Length::in_quarters);
    if let Some(figures) = figures {
        return Tempo::quarters_a_minute(old * figures).map(TempoKind::Metronome);
    }
    let factor = new / old;
    (factor.is_finite() && factor > 0.0).then_some(TempoKind::Modulation(factor))
}

/// The first number of a text such as "120", "c. 96", "ca. 72,5"; of a range ("112-116") its middle.
pub(super) fn per_minute(text: &str) -> Option<f64> {
    let (first, rest) = number(text)?;
    let range = rest.trim_start().strip_prefix(['-', '–', '—', '~', '…']);
    let range = range
        .or_else(|| rest.trim_start().strip_prefix("to "))
        .or_else(|| rest.trim_start().strip_prefix("bis "));
    let second = range.and_then(|rest| {
        let rest = rest.trim_start();
        rest.starts_with(|c: char| c.is_ascii_digit()).then(|| number(rest)).flatten()
    });
    let tempo = second.map_or(first, |(second, _)| f64::midpoint(first, second));
    (tempo.is_finite() && tempo > 0.0).then_some(tempo)
}

/// The first number in a text, and what stands behind it.
fn number(text: &str) -> Option<(f64, &str)> {
    let start = text.find(|c: char| c.is_ascii_digit())?;
    let text = &text[start..];
    let whole = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let fraction = text[whole..]
        .strip_prefix(['.', ','])
        .map_or(0, |digits| digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len()));
    let end = if fraction > 0 { whole + 1 + fraction } else { whole };
    let value = text[..end].replace(',', ".").parse().ok()?;
    Some((value, &text[end..]))
}

/// A `metronome-note`: its value with dots and tuplet.
fn metronome_note(note: Node<'_, '_>) -> Option<Length> {
    let length = value_inside(note, "metronome-type", "metronome-dot")?;
    let count = |name: &str| {
        let count = child(child(note, "metronome-tuplet")?, name)?;
        text(count).parse::<i64>().ok().filter(|count| *count > 0)
    };
    match (count("normal-notes"), count("actual-notes")) {
        (Some(normal), Some(actual)) => length.times(normal, actual),
        _ => Some(length),
    }
}

fn value_inside(node: Node<'_, '_>, value: &str, dot: &str) -> Option<Length> {
    let dots = u32::try_from(children(node, dot).count()).unwrap_or(0);
    note_value(text(child(node, value)?), dots)
}

/// The length of a note value in quarter notes by its MusicXML name ("eighth"), with dots; `None` for any
/// other text.
pub(super) fn note_value(name: &str, dots: u32) -> Option<Length> {
    let (numerator, denominator) = match name {
        "maxima" => (32, 1),
        "long" => (16, 1),
        "breve" => (8, 1),
        "whole" => (4, 1),
        "half" => (2, 1),
        "quarter" => (1, 1),
        "eighth" => (1, 2),
        "16th" => (1, 4),
        "32nd" => (1, 8),
        "64th" => (1, 16),
        "128th" => (1, 32),
        "256th" => (1, 64),
        "512th" => (1, 128),
        "1024th" => (1, 256),
        _ => return None,
    };
    let dots = dots.min(8);
    Length::quarters(numerator * ((1 << (dots + 1)) - 1), denominator * (1 << dots))
}

/// An event that needs no vocabulary.
struct Number {
    /// `sound` before `metronome` and figures in words.
    rank: u8,
    value: Value,
}

enum Value {
    Given(Tempo),
    Times(f64),
}

impl Number {
    fn of(kind: TempoKind) -> Option<Number> {
        let (rank, value) = match kind {
            TempoKind::Sound(tempo) => (2, Value::Given(tempo)),
            TempoKind::Metronome(tempo) | TempoKind::Words(TempoWord::Number(tempo)) => {
                (1, Value::Given(tempo))
            }
            TempoKind::Modulation(factor) | TempoKind::Words(TempoWord::Modulation(factor)) => {
                (0, Value::Times(factor))
            }
            TempoKind::Words(_) => return None,
        };
        Some(Number { rank, value })
    }
}

/// The tempo as it goes along.
struct Course {
    changes: Vec<TempoChange>,
    end: Onset,
    /// The tempo in force, gradual changes not counted, and whether it is assumed.
    now: (Tempo, bool),
    /// What "a tempo" goes back to.
    before: Option<(Tempo, bool)>,
    /// What "Tempo I" goes back to.
    first: Option<(Tempo, bool)>,
    glide: Option<Glide>,
}

/// A gradual change on its way.
struct Glide {
    from: Onset,
    start: Tempo,
    share: f64,
}

impl Course {
    fn new(end: Onset) -> Course {
        let now = (vocabulary().default, true);
        Course { changes: Vec::new(), end, now, before: None, first: None, glide: None }
    }

    /// A tempo from here on.
    fn set(&mut self, at: Onset, tempo: Tempo, assumed: bool) {
        self.land(at, Some(tempo));
        self.go_on(at, tempo, assumed);
        self.before = None;
        self.first = self.first.or(Some(self.now));
    }

    fn modulate(&mut self, at: Onset, factor: f64) {
        let (tempo, assumed) = self.now;
        if let Some(tempo) = Tempo::quarters_a_minute(tempo.get() * factor) {
            self.set(at, tempo, assumed);
        }
    }

    fn word(&mut self, at: Onset, word: TempoWord) {
        match word {
            TempoWord::Number(tempo) => self.set(at, tempo, false),
            TempoWord::Modulation(factor) => self.modulate(at, factor),
            TempoWord::Customary { soft: true, .. } if !self.now.1 => {}
            TempoWord::Customary { tempo, .. } => self.set(at, tempo, true),
            TempoWord::AtOnce(share) => {
                let old = self.now;
                if let Some(tempo) = Tempo::quarters_a_minute(old.0.get() * share) {
                    self.land(at, None);
                    self.go_on(at, tempo, true);
                    self.before = Some(old);
                }
            }
            // The same word in another part, a little later: the change is under way already.
            TempoWord::Gradual(share)
                if self.glide.as_ref().is_some_and(|glide| {
                    (glide.share - share).abs() < 1e-9 && at.since(glide.from) < vocabulary().reach
                }) => {}
            TempoWord::Gradual(share) => {
                let reached = self.land(at, None);
                self.before =
                    if self.before.is_some() && reached.is_some() { self.before } else { Some(self.now) };
                let start = reached.unwrap_or(self.now.0);
                self.first = self.first.or(Some(self.now));
                self.glide = Some(Glide { from: at, start, share });
            }
            TempoWord::ATempo => {
                if let Some((tempo, assumed)) = self.before.take() {
                    self.land(at, None);
                    self.go_on(at, tempo, assumed);
                }
            }
            TempoWord::TempoPrimo => {
                if let Some((tempo, assumed)) = self.first {
                    self.land(at, Some(tempo));
                    self.go_on(at, tempo, assumed);
                    self.before = None;
                }
            }
        }
    }

    fn go_on(&mut self, at: Onset, tempo: Tempo, assumed: bool) {
        self.now = (tempo, assumed);
        self.changes.push(TempoChange { at, tempo, glides_to: None, assumed });
    }

    /// Ends the gradual change under way at `at`, where the tempo `next` begins. The tempo it reached.
    fn land(&mut self, at: Onset, next: Option<Tempo>) -> Option<Tempo> {
        let glide = self.glide.take()?;
        let vocabulary = vocabulary();
        let length = at.since(glide.from);
        let own = Tempo::quarters_a_minute(glide.start.get() * glide.share).unwrap_or(glide.start);
        let on_its_way = next.filter(|next| {
            (*next < glide.start) == (glide.share < 1.0) && *next != glide.start && length <= vocabulary.goal
        });
        let goal = on_its_way.unwrap_or(own);
        let gliding =
            TempoChange { at: glide.from, tempo: glide.start, glides_to: Some(goal), assumed: true };
        self.changes.push(gliding);
        // Without a goal it goes no further than its reach, and the tempo it reached holds.
        if on_its_way.is_none() && length > vocabulary.reach {
            let there = glide.from + vocabulary.reach;
            self.changes.push(TempoChange { at: there, tempo: goal, glides_to: None, assumed: true });
        }
        Some(goal)
    }

    fn map(mut self) -> TempoMap {
        let end = self.end;
        if self.glide.as_ref().is_some_and(|glide| glide.from < end)
            && let Some(reached) = self.land(end, None)
        {
            self.changes.push(TempoChange { at: end, tempo: reached, glides_to: None, assumed: true });
        }
        let upbeat = Onset::START + Length::whole_quarters(4);
        let start = match self.changes.first() {
            Some(first) if first.at <= upbeat && first.glides_to.is_none() => *first,
            _ => {
                TempoChange { at: Onset::START, tempo: vocabulary().default, glides_to: None, assumed: true }
            }
        };
        TempoMap::new(start, self.changes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::musicxml::tree::Tree;

    fn at(quarters: i64) -> Onset {
        Onset::START + Length::whole_quarters(quarters)
    }

    fn tempo(quarters: f64) -> Tempo {
        Tempo::quarters_a_minute(quarters).unwrap()
    }

    fn sound(quarters: f64) -> TempoKind {
        TempoKind::Sound(tempo(quarters))
    }

    fn words(text: &str) -> Vec<TempoKind> {
        let meanings = super::super::words::read(text).into_iter();
        let words: Vec<TempoKind> = meanings
            .filter_map(|meaning| match meaning {
                super::super::words::Meaning::Tempo(word) => Some(TempoKind::Words(word)),
                _ => None,
            })
            .collect();
        assert!(!words.is_empty(), "{text} says nothing of tempo");
        words
    }

    /// The map as "place:tempo", an arrow for a glide and a question mark for what is assumed.
    fn course(events: &[(i64, Vec<TempoKind>)], end: i64) -> String {
        let events: Vec<TempoEvent> = events
            .iter()
            .flat_map(|(place, kinds)| kinds.iter().map(|&kind| TempoEvent { at: at(*place), kind }))
            .collect();
        let map = map(&events, at(end));
        let show = |change: &TempoChange| {
            let glide = change.glides_to.map_or(String::new(), |goal| format!("→{}", goal.get().round()));
            let assumed = if change.assumed { "?" } else { "" };
            format!("{}:{}{glide}{assumed}", change.at, change.tempo.get().round())
        };
        map.changes().iter().map(show).collect::<Vec<_>>().join(" ")
    }

    fn of_metronome(inside: &str) -> Option<TempoKind> {
        let text = format!("<metronome>{inside}</metronome>");
        let mut tree = Tree::default();
        tree.read(&text, 0).unwrap();
        metronome(tree.root())
    }

    #[test]
    fn nothing_given_is_the_assumed_tempo() {
        assert_eq!(course(&[], 16), "0:120?");
    }

    #[test]
    fn sound_goes_before_metronome_and_metronome_before_words() {
        let metronome = TempoKind::Metronome(tempo(90.0));
        let mut kinds = words("Allegro");
        assert_eq!(course(&[(0, kinds.clone())], 16), "0:132?");
        kinds.push(metronome);
        assert_eq!(course(&[(0, kinds.clone())], 16), "0:90");
        assert_eq!(course(&[(0, vec![sound(88.0), metronome])], 16), "0:88");
        assert_eq!(course(&[(0, vec![metronome, sound(88.0)])], 16), "0:88");
        assert_eq!(course(&[(0, vec![sound(88.0), sound(89.0)])], 16), "0:89");
    }

    #[test]
    fn the_first_tempo_counts_for_the_upbeat_before_it() {
        assert_eq!(course(&[(1, vec![sound(70.0)])], 16), "0:70 1:70");
        assert_eq!(course(&[(8, vec![sound(70.0)])], 16), "0:120? 8:70");
    }

    #[test]
    fn a_ritardando_glides_to_the_tempo_it_leads_to() {
        assert_eq!(
            course(&[(0, vec![sound(120.0)]), (8, words("rit.")), (12, vec![sound(60.0)])], 16),
            "0:120 8:120→60? 12:60"
        );
    }

    #[test]
    fn a_ritardando_before_a_tempo_slows_by_the_share_and_the_tempo_comes_back() {
        assert_eq!(
            course(&[(0, vec![sound(100.0)]), (8, words("rit.")), (12, words("a tempo"))], 16),
            "0:100 8:100→75? 12:100"
        );
        // A faster tempo is no goal of a ritardando.
        assert_eq!(
            course(&[(0, vec![sound(100.0)]), (8, words("rall.")), (12, vec![sound(140.0)])], 16),
            "0:100 8:100→75? 12:140"
        );
    }

    #[test]
    fn a_ritardando_that_nothing_ends_goes_as_far_as_its_reach_and_the_last_one_to_the_end() {
        assert_eq!(
            course(&[(0, vec![sound(100.0)]), (8, words("rit."))], 40),
            "0:100 8:100→75? 16:75? 40:75?"
        );
        assert_eq!(
            course(&[(0, vec![sound(100.0)]), (8, words("molto rit."))], 12),
            "0:100 8:100→60? 12:60?"
        );
    }

    #[test]
    fn the_same_word_in_two_parts_is_one_change() {
        let both = [words("accel."), words("accel.")].concat();
        assert_eq!(
            course(&[(0, vec![sound(100.0)]), (8, both), (9, words("accel.")), (12, words("a tempo"))], 16),
            "0:100 8:100→125? 12:100"
        );
    }

    #[test]
    fn meno_mosso_is_slower_at_once_and_a_tempo_within_it_goes_back_to_it() {
        let events = [
            (0, vec![sound(100.0)]),
            (4, words("Meno mosso")),
            (8, words("rit.")),
            (12, words("a tempo")),
            (16, words("Tempo I")),
        ];
        assert_eq!(course(&events, 20), "0:100 4:85? 8:85→64? 12:85? 16:100");
        let events = [(0, vec![sound(100.0)]), (4, words("ritenuto")), (8, words("a tempo"))];
        assert_eq!(course(&events, 12), "0:100 4:88? 8:100");
    }

    #[test]
    fn a_metric_modulation_multiplies_the_tempo() {
        let events = [(0, vec![sound(60.0)]), (4, vec![TempoKind::Modulation(1.5)])];
        assert_eq!(course(&events, 8), "0:60 4:90");
    }

    #[test]
    fn soft_words_yield_to_a_number_given_before() {
        assert_eq!(course(&[(0, vec![sound(60.0)]), (4, words("Broadly"))], 8), "0:60");
        assert_eq!(course(&[(0, words("Lively"))], 8), "0:138?");
    }

    #[test]
    fn metronome_marks_of_all_forms_are_read() {
        let given = |quarters: f64| Some(TempoKind::Metronome(tempo(quarters)));
        let table = [
            ("<beat-unit>quarter</beat-unit><per-minute>96</per-minute>", given(96.0)),
            ("<beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>80</per-minute>", given(120.0)),
            ("<beat-unit>half</beat-unit><per-minute>c. 60</per-minute>", given(120.0)),
            ("<beat-unit>eighth</beat-unit><per-minute>112-116</per-minute>", given(57.0)),
            ("<beat-unit>quarter</beat-unit><per-minute>72,5</per-minute>", given(72.5)),
            ("<beat-unit>quarter</beat-unit><per-minute>0</per-minute>", None),
            ("<beat-unit>quarter</beat-unit><per-minute>fast</per-minute>", None),
            ("<beat-unit>fish</beat-unit><per-minute>90</per-minute>", None),
            (
                "<beat-unit>half</beat-unit><beat-unit-tied><beat-unit>eighth</beat-unit></beat-unit-tied>\
                 <per-minute>40</per-minute>",
                given(100.0),
            ),
            // The former eighth lasts as long as the new quarter: twice as many quarters a minute.
            ("<beat-unit>eighth</beat-unit><beat-unit>quarter</beat-unit>", Some(TempoKind::Modulation(2.0))),
            (
                "<beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit><beat-unit-dot/>",
                Some(TempoKind::Modulation(1.5)),
            ),
            ("", None),
        ];
        for (inside, expected) in table {
            assert_eq!(of_metronome(inside), expected, "{inside}");
        }
    }

    #[test]
    fn swing_is_left_alone() {
        let triplet = "<metronome-tuplet type=\"start\"><actual-notes>3</actual-notes>\
                       <normal-notes>2</normal-notes></metronome-tuplet>";
        let note = |value: &str, tuplet: &str| {
            format!("<metronome-note><metronome-type>{value}</metronome-type>{tuplet}</metronome-note>")
        };
        let inside = format!(
            "{0}{0}<metronome-relation>equals</metronome-relation>{1}{2}",
            note("eighth", ""),
            note("quarter", triplet),
            note("eighth", triplet)
        );
        assert_eq!(of_metronome(&inside), Some(TempoKind::Modulation(1.0)));
    }

    #[test]
    fn a_sound_tempo_of_nothing_is_none() {
        assert_eq!(sound_tempo("0"), None);
        assert_eq!(sound_tempo("-4"), None);
        assert_eq!(sound_tempo(" 92.5 "), Some(tempo(92.5)));
    }
}
