//! One written note, as the page has it.

use super::Passes;
use crate::music::{Dynamic, Hairpin, Length, Onset, Sounding, Written};

/// A written note with a pitch. Rests are the gaps between notes; unpitched notes are not here.
#[derive(Clone, Debug)]
#[allow(clippy::struct_excessive_bools)] // Independent facts of the page.
pub struct Note {
    /// Index into [`Score::bars`](super::Score::bars).
    pub bar: u32,
    /// Quarter notes from the start of the score, written order.
    pub onset: Onset,
    /// Quarter notes from the start of its bar.
    pub bar_onset: Length,
    /// Written duration; zero for a grace note.
    pub length: Length,
    /// What stands on the page.
    pub written: Written,
    /// What the instrument sounds.
    pub sounding: Sounding,
    /// Whether it is struck here or continued.
    pub tie: Tie,
    /// A grace note: it sounds, and takes its time from a neighbour.
    pub grace: bool,
    /// A cue: printed for orientation, not played.
    pub cue: bool,
    /// Printed at cue size: it is played, and words above it may say whose it is.
    pub small: bool,
    /// `print-object="no"`: not on the page, not played for us.
    pub hidden: bool,
    /// The times through a repeat on which it is played (`time-only`).
    pub passes: Passes,
    /// A further note of the chord before it in the document.
    pub chord: bool,
    /// Index into [`Part::voices`](super::Part::voices).
    pub voice: u16,
    /// Staff within the part, from 1.
    pub staff: u8,
    /// Stem direction where the score gives one (two players on one staff are told apart by it).
    pub stem: Option<Stem>,
    /// The level where it begins, hairpins counted in; `None` before any mark.
    pub dynamic: Option<Dynamic>,
    /// Index into [`Score::bars`](super::Score::bars) of the bar whose mark or words set that level; `None` where a hairpin
    /// led to it.
    pub marked_in: Option<u32>,
    /// The level where it ends, when a hairpin moves it.
    pub until: Option<Dynamic>,
    /// The loudness of its attack, where a mark (sfz, fp) asks for one of its own.
    pub attack: Option<Dynamic>,
    /// The hairpin (or its word) it stands under.
    pub hairpin: Option<Hairpin>,
    /// Marks on the note.
    pub articulations: Articulations,
    /// What its ornament asks, where it has one that is played note by note.
    pub ornament: Option<Ornament>,
    /// The head it has on the page.
    pub head: Head,
    /// What binds it to the next note of its voice.
    pub joins: Joins,
    /// The mute in, by the words so far.
    pub mute: Option<super::Mute>,
    /// Level, attack, hairpin and mute on a later time of its bar, where any of them is another than the first time; in order
    /// of the times. `None` for nearly every note.
    pub later: Option<Box<[Later]>>,
    /// Index into [`PartInfo::instruments`](super::PartInfo::instruments), where the note names one.
    pub instrument: Option<u16>,
    /// Line of its element in the source, from 1.
    pub line: u32,
    /// The digits inside its `octave` element, as bytes of the decoded text; `None` where they are not
    /// plain digits and so cannot be edited.
    pub octave_digits: Option<SourceRange>,
}

/// How a note is asked for on a later time of its bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Later {
    /// Which time its bar is played, from 2.
    pub pass: u32,
    /// As [`Note::dynamic`].
    pub dynamic: Option<Dynamic>,
    /// As [`Note::marked_in`].
    pub marked_in: Option<u32>,
    /// As [`Note::until`].
    pub until: Option<Dynamic>,
    /// As [`Note::attack`].
    pub attack: Option<Dynamic>,
    /// As [`Note::hairpin`].
    pub hairpin: Option<Hairpin>,
    /// As [`Note::mute`].
    pub mute: Option<super::Mute>,
}

/// Bytes of the decoded text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SourceRange {
    /// The first byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

/// How a note hangs together with the same pitch before and after it (`tie`, never `tied`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Tie {
    /// Struck here, ends here.
    #[default]
    None,
    /// Struck here, goes on.
    Start,
    /// Goes on from before and further.
    Continue,
    /// Goes on from before, ends here.
    Stop,
}

/// Stem direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Stem {
    Up,
    Down,
}

/// One mark on a note. The order is that of [`Articulations`]' bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Articulation {
    Accent,
    /// `strong-accent`.
    Marcato,
    Staccato,
    Staccatissimo,
    Tenuto,
    DetachedLegato,
    /// `stress` and soft accents: no attack of their own.
    Stress,
    /// A breath mark after the note.
    BreathMark,
    /// A caesura after the note.
    Caesura,
    Fermata,
    Tremolo,
    Trill,
    FlutterTongue,
    LetRing,
    /// Scoop, doit, falloff, plop.
    Bend,
    /// `stopped` ("+"): closed by hand, or by what is held before the bell.
    Stopped,
    /// The glissando behind it is the lip's or the half valves': it runs over the partials and needs no slide.
    LipGlissando,
}

/// An ornament that divides a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Ornament {
    /// A measured tremolo: the note struck over and over in eighths, 16ths, 32nds … for 1, 2, 3 … strokes.
    Repeated {
        /// The strokes through its stem.
        strokes: u8,
    },
    /// A tremolo between this note and the next.
    Alternating,
    /// A trill with the note above.
    Trill {
        /// Semitones that an accidental beside the sign alters the upper note by; `None`: as the key has it.
        alter: Option<i8>,
    },
}

/// What the head of a note says of its pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Head {
    /// It sounds as it is written.
    #[default]
    Plain,
    /// A slash: rhythm without pitch.
    Slash,
    /// A cross: air, key noise or speech, on a wind part no pitch.
    Cross,
    /// The player's own voice, sung into the instrument: no head says so but the words above.
    Sung,
    /// A diamond: a harmonic or half valve, which sounds another pitch.
    Diamond,
}

/// A set of [`Articulation`]s.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Articulations(u32);

/// What may bind a note to the next one of its voice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Join {
    Tie,
    Slur,
    Beam,
    Tuplet,
    Glissando,
}

/// A set of [`Join`]s: no octave move may begin behind a note that has one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Joins(u8);

impl Note {
    /// Where it ends.
    pub fn end(&self) -> Onset {
        self.onset + self.length
    }

    /// The note as it is asked for on a time of its bar, where that is another than the first.
    pub fn on(&self, pass: u32) -> Option<Note> {
        let later = self.later.as_deref()?.iter().find(|later| later.pass == pass)?;
        let Later { dynamic, marked_in, until, attack, hairpin, mute, .. } = *later;
        Some(Note { dynamic, marked_in, until, attack, hairpin, mute, later: None, ..self.clone() })
    }

    /// Notes down how it is asked for on a time of its bar.
    pub fn set_on(&mut self, asked: Later) {
        if asked.pass <= 1 {
            (self.dynamic, self.until, self.attack) = (asked.dynamic, asked.until, asked.attack);
            (self.hairpin, self.mute, self.marked_in) = (asked.hairpin, asked.mute, asked.marked_in);
            return;
        }
        let mut all = self.later.take().unwrap_or_default().into_vec();
        let place = all.partition_point(|later| later.pass < asked.pass);
        if let Some(own) = all.get_mut(place).filter(|own| own.pass == asked.pass) {
            *own = asked;
        } else {
            all.insert(place, asked);
        }
        self.later = Some(all.into_boxed_slice());
    }

    /// How it is asked for on a time of its bar.
    pub fn asked_on(&self, pass: u32) -> Later {
        let own = self.later.as_deref().and_then(|all| all.iter().find(|later| later.pass == pass));
        own.copied().unwrap_or(Later {
            pass,
            dynamic: self.dynamic,
            marked_in: self.marked_in,
            until: self.until,
            attack: self.attack,
            hairpin: self.hairpin,
            mute: self.mute,
        })
    }

    /// Whether a player plays it, at the pitch that is written: neither a cue nor hidden, and no head that says otherwise.
    pub fn is_played(&self) -> bool {
        !self.cue && !self.hidden && self.head == Head::Plain
    }
}

impl SourceRange {
    /// As a range to index text with.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

impl Tie {
    /// Struck here rather than continued.
    pub const fn is_struck(self) -> bool {
        matches!(self, Tie::None | Tie::Start)
    }

    /// Goes on into a later note.
    pub const fn goes_on(self) -> bool {
        matches!(self, Tie::Start | Tie::Continue)
    }
}

impl Articulations {
    /// With one more mark.
    #[must_use]
    pub const fn with(self, articulation: Articulation) -> Self {
        Self(self.0 | 1 << articulation as u16)
    }

    /// Whether it holds the mark.
    pub const fn has(self, articulation: Articulation) -> bool {
        self.0 & 1 << articulation as u16 != 0
    }

    /// Both sets.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// An accent or marcato: the attack stands out.
    pub const fn is_accented(self) -> bool {
        self.has(Articulation::Accent) || self.has(Articulation::Marcato)
    }
}

impl Joins {
    /// Nothing binds it.
    pub const NONE: Joins = Joins(0);

    /// With one more.
    #[must_use]
    pub const fn with(self, join: Join) -> Self {
        Self(self.0 | 1 << join as u8)
    }

    /// Whether it holds the join.
    pub const fn has(self, join: Join) -> bool {
        self.0 & 1 << join as u8 != 0
    }

    /// Whether anything binds the note to the next.
    pub const fn any(self) -> bool {
        self.0 != 0
    }
}
