//! The part as a picture: what is drawn of a score, and its drawing in SVG.
//!
//! In go the players with their notes, breath and instruments, once for a score; out comes a [`Picture`], plain data
//! on quarter notes, seconds and semitones, which [`draw`], [`map`] and [`glance`] turn into SVG for the page. The
//! picture is made of three things a brass player knows. *Air*: a note is a body as thick as it is loud, and the
//! breath is drawn under it. *Metal*: what the instrument gives is full, what is asked beyond it is an empty rim.
//! *Depth*: the ground is darker where the instrument gives less, and hatched where it is not at home.

pub(super) mod draw;
pub(super) mod glance;
pub(super) mod ground;
pub(super) mod map;
pub(super) mod paper;
mod see;
#[cfg(test)]
mod tests;

use crate::finding::Standing;

pub use see::see;

/// All that is drawn of a score.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Picture {
    /// Its bars, in written order.
    pub bars: Vec<BarSeen>,
    /// Seconds from its first bar to its last, in written order.
    pub seconds: f64,
    /// The instruments that are in hand somewhere, each once.
    pub grounds: Vec<Ground>,
    /// The players, in order of desks.
    pub players: Vec<PlayerSeen>,
}

/// A bar and what stands above it for all parts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BarSeen {
    /// Its printed number.
    pub number: String,
    /// Quarter notes from the start of the score.
    pub start: f64,
    /// Quarter notes it lasts.
    pub quarters: f64,
    /// Quarter notes of a beat.
    pub beat: f64,
    /// Seconds from the start of the score, in written order.
    pub begins: f64,
    /// The rehearsal mark in it.
    pub rehearsal: Option<String>,
    /// The tempo that begins in it: "♩ = 96".
    pub tempo: Option<String>,
    /// Its time signature's length in beats and the beat's part of a whole note, where that is new: "3/4".
    pub metre: Option<String>,
}

/// The ground that notes stand on: one instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// [`Profile::name`](crate::profile::Profile::name).
    pub name: String,
    /// Its title.
    pub title: String,
    /// One for each semitone of its compass, low to high.
    pub rungs: Vec<Rung>,
}

/// One semitone of an instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rung {
    /// MIDI note number.
    pub midi: i32,
    /// How it lies.
    pub footing: Footing,
    /// The softest mark that speaks reliably, on the scale of [`Dynamic`](crate::music::Dynamic).
    pub floor: i32,
    /// The loudest mark that sounds as marked.
    pub ceiling: i32,
}

/// How a pitch lies on an instrument, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Footing {
    /// Within its usual span.
    Usual,
    /// Comfortable, but beyond the usual span.
    Beyond,
    /// In an extreme zone.
    Extreme,
    /// Only an effect.
    Effect,
    /// Its mechanism does not give it.
    Missing,
}

/// A player's part.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayerSeen {
    /// Id of the part.
    pub part: String,
    /// Name of the part.
    pub part_name: String,
    /// Which player of the part, from 1; `None` where it has one line.
    pub player: Option<u8>,
    /// Semitones that it is written above its sound, where it transposes by other than octaves or by some.
    pub written_above: i32,
    /// Key signatures as written, by quarter: sharps, or flats below nothing.
    pub keys: Vec<(f64, i8)>,
    /// Its notes, in written order.
    pub notes: Vec<NoteSeen>,
    /// The instruments in hand, from the first.
    pub hands: Vec<Hand>,
    /// The instruments it is judged on, each from its quarter on, as indices into [`Picture::grounds`].
    pub stands_on: Vec<(f64, usize)>,
    /// Mutes put in and taken out.
    pub mutes: Vec<MuteSeen>,
    /// How the air goes, in written order, the first time through.
    pub air: Vec<Air>,
    /// Where breath is taken, in the order in which it is.
    pub breaths: Vec<BreathSeen>,
    /// Passages that octave moves would take elsewhere.
    pub ghosts: Vec<Ghost>,
    /// How much there is to play.
    pub load: Load,
}

/// A note as it is heard, ties joined.
#[derive(Clone, Debug, PartialEq)]
pub struct NoteSeen {
    /// Quarter notes from the start of the score.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// How long it sounds.
    pub seconds: f64,
    /// Sounding pitch as a MIDI note number.
    pub midi: f64,
    /// Its name: "D1".
    pub name: String,
    /// How loud from where to where: quarter, level at its beginning, level at its end, on the scale of
    /// [`Dynamic`](crate::music::Dynamic). Empty before any mark.
    pub levels: Vec<(f64, f64, f64)>,
    /// The level of its attack, where that is another.
    pub attack: Option<f64>,
    /// The loudest its register sounds as marked, the mute counted in; `None` off the instrument.
    pub ceiling: Option<f64>,
    /// The softest that speaks reliably there.
    pub floor: Option<f64>,
    /// Short and loud or accented.
    pub stroke: Stroke,
    /// It is bound to the next.
    pub bound: bool,
    /// It glides to the next.
    pub glides: bool,
    /// A grace note.
    pub grace: bool,
}

/// How a note is begun and left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// Tongued and held for its value.
    Plain,
    /// Accented.
    Accented,
    /// Accented or loud, and short.
    Hit,
    /// Detached.
    Short,
}

/// An instrument or mute taken up.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    /// Where the first note on it begins.
    pub at: f64,
    /// Index into [`Picture::grounds`].
    pub ground: usize,
    /// The score has it in hand there too; otherwise the passage only lies better on it.
    pub asked: bool,
    /// Seconds there are to take it up, and seconds wanted.
    pub change: Option<(f64, f64)>,
}

/// A mute put in or taken out.
#[derive(Clone, Debug, PartialEq)]
pub struct MuteSeen {
    /// Where the first note with it, or without, begins.
    pub at: f64,
    /// "straight mute", "open".
    pub what: String,
    /// Seconds of rest for it; `None` at the start.
    pub there_are: Option<f64>,
}

/// What is left of a breath over a stretch of playing, as shares of a full one; below nothing it is missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Index into [`PlayerSeen::notes`]; each stands here once, in the order in which they are first played.
    pub note: usize,
    /// Quarter.
    pub from: f64,
    /// Quarter.
    pub to: f64,
    /// Left at its beginning.
    pub has: f64,
    /// Left at its end.
    pub left: f64,
}

/// A breath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BreathSeen {
    /// The end of the note it is taken behind.
    pub at: f64,
    /// What makes room for it.
    pub room: Room,
}

/// What makes room for a breath.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Room {
    /// A written rest, or a breath mark.
    Written,
    /// The end of a note that gives it away.
    Note,
    /// Nothing: it is the least bad place in a note or slur that is longer than a breath.
    Torn,
}

/// A note at the place an octave move would take it to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ghost {
    /// Index into [`PlayerSeen::notes`].
    pub note: usize,
    /// Octaves up; negative: down.
    pub octaves: i32,
    /// How sure the move is.
    pub standing: Standing,
    /// The first note of its move.
    pub first: bool,
}

/// How much a player has to do, by the performance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Load {
    /// Seconds from the first bar to the last, repeats played.
    pub whole: f64,
    /// Seconds it sounds.
    pub plays: f64,
    /// Seconds of it that are loud.
    pub loud: f64,
    /// The mark from which playing counts as loud.
    pub loud_from: &'static str,
    /// Seconds of it above the usual span.
    pub high: f64,
    /// The longest run without a rest, in seconds, with the bars in which it begins and ends.
    pub longest: Option<(f64, usize, usize)>,
    /// Seconds by octave (the number in C1, C2 …) and by level.
    pub cells: Vec<(i32, i32, f64)>,
    /// Seconds that sound and seconds that are loud, in each stretch of [`Load::stretch`] seconds.
    pub stretches: Vec<(f64, f64)>,
    /// Seconds of one such stretch.
    pub stretch: f64,
}

impl Picture {
    /// Whether some part is written at another pitch than it sounds, octaves apart.
    pub(super) fn transposes(&self) -> bool {
        self.players.iter().any(|player| player.written_above % 12 != 0)
    }

    /// Which bar a quarter lies in.
    pub(super) fn bar_at(&self, quarter: f64) -> usize {
        self.bars.partition_point(|bar| bar.start <= quarter + 1e-9).saturating_sub(1)
    }
}
