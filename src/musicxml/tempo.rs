//! From tempo marks to seconds: numbers first, words only where no number stands.
//!
//! In come the tempo events of all parts; out comes one map of the written score. `sound tempo` rules over
//! `metronome`, `metronome` over words at the same place. Values for words stand in
//! `profiles/tempo-words.toml`; whatever they decide is marked as assumed and keeps the words. Not every word is for
//! everybody: an expression in one part colours that part.

use std::sync::Arc;

use super::found::At;
use super::performance::{Performance, Visit, of_bars};
use super::tree::{self, Node, child, children, elements, name, text};
use super::words::{TempoWord, vocabulary};
use crate::music::{Length, Onset, Reckoned, Tempo, TempoChange, TempoMap};
use crate::score::Passes;

/// Something that says how fast, as a part has it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct TempoMark {
    /// Where.
    pub(super) at: At,
    /// The times through a repeat for which it counts.
    pub(super) passes: Passes,
    /// What it says.
    pub(super) kind: TempoKind,
    /// The words as they stand, where it says so in words.
    pub(super) words: Option<Arc<str>>,
    /// Whom its place speaks to.
    pub(super) stands: Stands,
}

/// Whom a tempo mark speaks to by the place where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stands {
    /// It is said to be the system's (`system="only-top"`, `"also-top"`).
    ForAll,
    /// Above the first staff of its part: where all read it, if the part is the top of the score or of a group.
    Above,
    /// Below the staff, or at a lower one: to the part alone.
    Within,
}

/// Something that says how fast, at a place; it counts for everybody.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct TempoEvent {
    /// Where it takes hold.
    pub(super) at: Onset,
    /// The index of the part that says so.
    pub(super) part: u32,
    /// What it says.
    pub(super) kind: TempoKind,
    /// The words as they stand, where it says so in words.
    pub(super) words: Option<Arc<str>>,
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

/// Of the marks of all parts, by the index of their part, those that time everybody, in order of their bars. Numbers do wherever they stand;
/// words do at the top of the score or of a group (`tops`), where they are said to be the system's, or where two parts have them at one
/// place. Any other word colours its part.
pub(super) fn for_everybody(marks: Vec<(u32, TempoMark)>, tops: &[bool]) -> Vec<(u32, TempoMark)> {
    let speaks = |stands: Stands, part: u32| match stands {
        Stands::ForAll => true,
        Stands::Above => part == 0 || tops.get(part as usize).copied().unwrap_or(false),
        Stands::Within => false,
    };
    let mut sorted = marks;
    sorted.sort_by_key(|(_, mark)| mark.at);
    let mut kept = vec![false; sorted.len()];
    let mut from = 0;
    for place in sorted.chunk_by(|(_, a), (_, b)| a.at == b.at) {
        // Each thing said here, by whom first, and whether by others too.
        let mut said: Vec<(TempoKind, u32, bool)> = Vec::new();
        for (part, mark) in place {
            match said.iter_mut().find(|(kind, ..)| *kind == mark.kind) {
                Some((_, first, by_others)) => *by_others |= first != part,
                None => said.push((mark.kind, *part, false)),
            }
        }
        for (offset, (part, mark)) in place.iter().enumerate() {
            let in_figures = !matches!(mark.kind, TempoKind::Words(word) if !word.is_in_figures());
            let by_several = said.iter().any(|(kind, _, by_others)| *kind == mark.kind && *by_others);
            kept[from + offset] = in_figures || speaks(mark.stands, *part) || by_several;
        }
        from += place.len();
    }
    let mut kept = kept.into_iter();
    sorted.retain(|_| kept.next().unwrap_or(false));
    sorted
}

/// The tempo of the whole score as written, with what holds the first time each bar is played, and, where the performance
/// is not the page from first to last bar, that of the performance.
pub(super) fn maps(
    marks: &[(u32, TempoMark)],
    performance: &Performance<'_>,
) -> (TempoMap, Option<TempoMap>) {
    let mut events: Vec<TempoEvent> = Vec::new();
    for visit in &performance.visits {
        for (part, mark) in of_bars(marks, &visit.bars, |(_, mark)| mark.at.bar) {
            if mark.passes.has(visit.time) {
                let at = performance.met(visit, mark.at);
                events.push(TempoEvent { at, part: *part, kind: mark.kind, words: mark.words.clone() });
            }
        }
    }
    let played = map(&events, performance.end());
    if performance.is_straight() {
        return (played, None);
    }
    let mut changes: Vec<TempoChange> = Vec::new();
    let mut first_times: Vec<&Visit> = performance.visits.iter().filter(|visit| visit.pass == 1).collect();
    first_times.sort_by_key(|visit| visit.written);
    for visit in first_times {
        for change in played.excerpt(visit.played, visit.played + visit.length, visit.written) {
            // Where one stretch ends and the next begins nothing need change.
            let same = changes.last().is_some_and(|last| {
                let goes_on = last.glides_to.is_none() && change.glides_to.is_none();
                goes_on && last.tempo == change.tempo && last.reckoned == change.reckoned
            });
            if !same {
                changes.push(change);
            }
        }
    }
    let start = changes.first().cloned().unwrap_or_else(|| played.changes()[0].clone());
    (TempoMap::new(start, changes), Some(played))
}

/// The tempo by place. `end` is where the last bar ends: a ritardando without a goal goes no further.
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
            Some(Number { value: Value::Given(tempo), .. }) => course.number(at, tempo),
            Some(Number { value: Value::Times(factor), .. }) => course.modulate(at, factor),
            None => {
                let mut said: Vec<TempoWord> = Vec::new();
                for event in place {
                    // The same words stand in several parts.
                    if let TempoKind::Words(word) = event.kind
                        && !said.contains(&word)
                    {
                        said.push(word);
                        course.word(event, word);
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

/// A tempo and its ground.
#[derive(Clone, Debug)]
struct InForce {
    tempo: Tempo,
    assumed: bool,
    reckoned: Option<Arc<Reckoned>>,
}

/// The tempo as it goes along.
struct Course {
    changes: Vec<TempoChange>,
    end: Onset,
    /// The tempo in force, gradual changes not counted.
    now: InForce,
    /// What "a tempo" goes back to.
    before: Option<InForce>,
    /// What "Tempo I" goes back to.
    first: Option<InForce>,
    glide: Option<Glide>,
    /// Where a gradual change came to a number, and whether that was slower: further numbers of its kind are steps on the
    /// way that it goes.
    easing: Option<(Onset, bool)>,
    /// The last change at once: where, by which part, by how much.
    at_once: Option<(Onset, u32, f64)>,
}

/// A gradual change on its way.
struct Glide {
    from: Onset,
    start: Tempo,
    share: f64,
    reckoned: Option<Arc<Reckoned>>,
}

impl Course {
    fn new(end: Onset) -> Course {
        let now = InForce { tempo: vocabulary().default, assumed: true, reckoned: None };
        Course {
            changes: Vec::new(),
            end,
            now,
            before: None,
            first: None,
            glide: None,
            easing: None,
            at_once: None,
        }
    }

    /// A tempo in figures from here on. One that a ritardando comes to leaves "a tempo" what it was.
    fn number(&mut self, at: Onset, tempo: Tempo) {
        let (old, glided) = (self.now.tempo, self.glide.is_some());
        let before = self.before.take();
        let landed = self.land(at, Some(tempo)) == Some(tempo);
        let slower = tempo < old;
        let steps_on = self.easing.is_some_and(|(from, was_slower)| {
            was_slower == slower && tempo != old && at.since(from) <= vocabulary().goal
        });
        self.easing = if glided && landed { Some((at, slower)) } else { self.easing.filter(|_| steps_on) };
        self.go_on(at, InForce { tempo, assumed: false, reckoned: None });
        self.before = before.filter(|_| landed || steps_on);
    }

    /// A tempo by its customary value, or the old one times an exact share.
    fn set(&mut self, at: Onset, tempo: InForce) {
        self.land(at, Some(tempo.tempo));
        self.go_on(at, tempo);
        (self.before, self.easing) = (None, None);
    }

    fn modulate(&mut self, at: Onset, factor: f64) {
        if let Some(tempo) = Tempo::quarters_a_minute(self.now.tempo.get() * factor) {
            let tempo = InForce { tempo, ..self.now.clone() };
            self.set(at, tempo);
        }
    }

    fn word(&mut self, event: &TempoEvent, word: TempoWord) {
        let at = event.at;
        let said = event.words.as_deref().map(|words| Reckoned { words: words.to_owned(), at });
        let reckoned = said.map(Arc::new);
        match word {
            TempoWord::Number(tempo) => self.number(at, tempo),
            TempoWord::Modulation(factor) | TempoWord::Multiple(factor) => self.modulate(at, factor),
            TempoWord::Same { factor } if (factor - 1.0).abs() > 1e-9 => self.modulate(at, factor),
            TempoWord::Same { .. } => {}
            TempoWord::Customary { soft: true, .. } if !self.now.assumed => {}
            TempoWord::Customary { tempo, .. } => {
                self.set(at, InForce { tempo, assumed: true, reckoned });
            }
            // The same word in another part, a little later: it has acted.
            TempoWord::AtOnce(share)
                if self.at_once.is_some_and(|(from, part, before)| {
                    part != event.part && (share - before).abs() < 1e-9 && at.since(from) < vocabulary().reach
                }) => {}
            TempoWord::AtOnce(share) => {
                let old = self.now.clone();
                if let Some(tempo) = Tempo::quarters_a_minute(old.tempo.get() * share) {
                    self.land(at, None);
                    self.go_on(at, InForce { tempo, assumed: true, reckoned });
                    (self.before, self.easing) = (Some(old), None);
                    self.at_once = Some((at, event.part, share));
                }
            }
            TempoWord::Gradual(share)
                if self.glide.as_ref().is_some_and(|glide| {
                    (glide.share - share).abs() < 1e-9 && at.since(glide.from) < vocabulary().reach
                }) => {}
            TempoWord::Gradual(share) => {
                let reached = self.land(at, None);
                let goes_further = self.before.is_some() && (reached.is_some() || self.easing.is_some());
                self.before = if goes_further { self.before.take() } else { Some(self.now.clone()) };
                let start = reached.unwrap_or(self.now.tempo);
                self.first.get_or_insert_with(|| self.now.clone());
                self.glide = Some(Glide { from: at, start, share, reckoned });
            }
            TempoWord::ATempo => {
                if let Some(before) = self.before.take() {
                    self.land(at, None);
                    self.go_on(at, before);
                    self.easing = None;
                }
            }
            TempoWord::TempoPrimo => {
                if let Some(first) = self.first.clone() {
                    self.land(at, Some(first.tempo));
                    self.go_on(at, first);
                    (self.before, self.easing) = (None, None);
                }
            }
        }
    }

    fn go_on(&mut self, at: Onset, tempo: InForce) {
        self.first.get_or_insert_with(|| tempo.clone());
        let InForce { tempo: new, assumed, reckoned } = tempo.clone();
        self.now = tempo;
        self.changes.push(TempoChange { at, tempo: new, glides_to: None, assumed, reckoned });
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
        let reckoned = glide.reckoned;
        let change = |at, tempo, glides_to| TempoChange {
            at,
            tempo,
            glides_to,
            assumed: true,
            reckoned: reckoned.clone(),
        };
        self.changes.push(change(glide.from, glide.start, Some(goal)));
        // Without a goal it goes no further than its reach, and the tempo it reached holds.
        if on_its_way.is_none() && length > vocabulary.reach {
            self.changes.push(change(glide.from + vocabulary.reach, goal, None));
        }
        Some(goal)
    }

    fn map(mut self) -> TempoMap {
        let end = self.end;
        if let Some(from) = self.glide.as_ref().map(|glide| glide.from).filter(|from| *from < end)
            && let Some(reached) = self.land(end, None)
        {
            let last = self.changes.iter().rfind(|change| change.at == from);
            let reckoned = last.and_then(|change| change.reckoned.clone());
            let change = TempoChange { at: end, tempo: reached, glides_to: None, assumed: true, reckoned };
            self.changes.push(change);
        }
        let upbeat = Onset::START + Length::whole_quarters(4);
        let start = match self.changes.first() {
            Some(first) if first.at <= upbeat && first.glides_to.is_none() => first.clone(),
            _ => TempoChange {
                at: Onset::START,
                tempo: vocabulary().default,
                glides_to: None,
                assumed: true,
                reckoned: None,
            },
        };
        TempoMap::new(start, self.changes)
    }
}

#[cfg(test)]
mod tests;
