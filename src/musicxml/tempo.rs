//! From tempo marks to seconds: numbers first, words only where no number stands.
//!
//! In come the tempo events of all parts; out comes one map of the written score. `sound tempo` rules over
//! `metronome`, `metronome` over words at the same place. Values for words stand in
//! `profiles/tempo-words.toml`.

use crate::music::{Length, Onset, Tempo, TempoChange, TempoMap};

use super::words::TempoWord;

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

/// The tempo of the whole score. `end` is where the last bar ends: a ritardando without a goal reaches that far.
pub(super) fn map(_events: &[TempoEvent], _end: Onset) -> TempoMap {
    let tempo = Tempo::quarters_a_minute(100.0).unwrap_or_else(|| unreachable!());
    TempoMap::new(TempoChange { at: Onset::START, tempo, glides_to: None, assumed: true }, [])
}

/// `tempo` of a `sound` element: quarter notes a minute; `None` for 0 and for what is no number.
pub(super) fn sound_tempo(text: &str) -> Option<Tempo> {
    text.trim().parse().ok().and_then(Tempo::quarters_a_minute)
}

/// What a `metronome` element says; `None` where it gives neither a number nor a usable equation.
pub(super) fn metronome(_element: roxmltree::Node<'_, '_>) -> Option<TempoKind> {
    None
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
