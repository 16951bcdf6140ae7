//! What an instrument can do: one checked profile for each, read from TOML.
//!
//! In come the files of `profiles/` (embedded in the binary) or of a folder; out come profiles whose rows
//! cover their compass without gap or overlap. Every number that judges a player stands in such a file
//! with its source, none in Rust. Nothing here knows XML or rules.

mod error;
mod library;
mod parts;
mod player;
mod raw;
mod recognise;
mod section;
mod toml;

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use crate::finding::{Basis, Ground, Sourced};
use crate::music::{BreathShare, Dynamic, Litres, Seconds, Sounding};
use crate::score::{Clef, Mute};

pub use error::{ProfileError, ProfileFault};
#[cfg(test)]
pub(crate) use library::shipped;
pub use library::{Profiles, embedded_names};
pub use player::Player;
pub use raw::{PlayerFile, ProfileFile, SectionFile};
pub use recognise::{Casting, Doubt, Named, PartCasting, RecognisedBy, Recogniser, Verdict};

/// A checked profile.
#[derive(Clone, Debug)]
pub struct Profile {
    /// File name without `.toml`; what `--as` takes.
    pub name: String,
    /// For people: "Contrabass tuba in C".
    pub title: String,
    /// The title in mid-sentence, with its article: "a contrabass tuba in C".
    pub a_title: String,
    /// What it is and who plays it, a sentence or two.
    pub about: String,
    /// Its family.
    pub family: Family,
    /// How it is recognised in a score.
    pub recognise: Recognise,
    /// All the rest, read when first asked for: most scores need a few profiles of many.
    ability: library::Ability,
}

/// What an instrument can do. A [`Profile`] gives it as its own: `profile.range`.
#[derive(Clone, Debug)]
pub struct Able {
    /// What makes its notes.
    pub mechanism: Mechanism,
    /// Its zones, low to high.
    pub range: Range,
    /// Ceiling and floor by register.
    pub loudness: Loudness,
    /// Seconds a full breath lasts, by pitch and dynamic.
    pub sustain: Sustain,
    /// How a breath is taken.
    pub breath: Breath,
    /// How fast it speaks and moves.
    pub agility: Agility,
    /// Mutes and pick-up times.
    pub changes: Changes,
    /// How its parts are written.
    pub notation: Notation,
    /// Source keys and what they stand for; the three that need no explaining are not here.
    pub sources: BTreeMap<String, Source>,
    /// Every value's place in the file (`range.rows[2]`, `agility.single_tongue`) with its source key, in file order.
    pub cited: Vec<(String, String)>,
    /// What every player has in common: where all values come from that the file does not give.
    pub player: Arc<Player>,
}

/// What stands behind a source key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// What kind of ground it is.
    pub kind: Basis,
    /// Who wrote or measured it: a person, a body.
    pub author: Option<String>,
    /// What it is called; or the formula.
    pub title: String,
    /// When it came out.
    pub year: Option<u16>,
    /// Where it is to be found: a book or journal, a site.
    pub place: Option<String>,
}

/// The family of an instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum Family {
    Tuba,
    Cimbasso,
    Trombone,
    Euphonium,
    WagnerTuba,
    Trumpet,
}

/// By what a part is known as this instrument.
#[derive(Clone, Debug, Default)]
pub struct Recognise {
    /// `MusicXML` sound ids that mean this instrument (`brass.trombone.bass`).
    pub sounds: Vec<String>,
    /// Sound ids that say only the family (`brass.tuba`).
    pub plain_sounds: Vec<String>,
    /// `midi-program`, 1 to 128; the last resort.
    pub midi_programs: Vec<u8>,
    /// Names as they are written, with their language.
    pub names: Vec<(Language, String)>,
    /// Names that say only the family ("Tuba"); settings may choose another instrument for them.
    pub plain_names: Vec<String>,
    /// Names that voices bear as well ("Baritone"): taken only beside other brass.
    pub shared_names: Vec<String>,
    /// It is taken for the lowest of so many players of its family, where none is named.
    pub lowest_of: Option<u8>,
    /// Abbreviations.
    pub abbreviations: Vec<String>,
}

/// The languages that names are kept in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs)]
pub enum Language {
    English,
    Italian,
    German,
    French,
    Spanish,
    Dutch,
    Danish,
    Norwegian,
    Swedish,
    Finnish,
    Polish,
    Czech,
    Russian,
    Japanese,
    Chinese,
    Korean,
}

/// What makes the notes.
#[derive(Clone, Debug)]
pub enum Mechanism {
    /// A slide, with attachments that lower the open instrument.
    Slide(Slide),
    /// Valves that lower the open instrument.
    Valves(Valves),
    /// Keys over holes: every note of the compass, no travel, no valve errors.
    Keys {
        /// Lowest note with all holes closed.
        fundamental: Sounding,
    },
}

/// A slide.
#[derive(Clone, Debug)]
pub struct Slide {
    /// First partial of the open instrument in first position.
    pub fundamental: Sounding,
    /// Positions of the open instrument.
    pub positions: u8,
    /// The open instrument's last position is long and unsteady.
    pub last_is_long: bool,
    /// Tubes of tubing that each centimetre of travel lengthens: 2, or 4 on a double slide.
    pub tubes: u8,
    /// Attachments, each a valve or a combination of valves; the open instrument is not listed.
    pub attachments: Vec<Attachment>,
    /// Highest partial that is played.
    pub highest_partial: u8,
    /// What the notes stand on that it gives, and those that it does not.
    pub ground: Ground,
    /// What slides have in common.
    pub limits: SlideLimits,
}

/// What slides have in common.
#[derive(Clone, Debug)]
pub struct SlideLimits {
    /// Slide travel that is worth a note, metres a second.
    pub travel_note: Sourced<f64>,
    /// Slide travel that asks for a warning, metres a second.
    pub travel_warning: Sourced<f64>,
    /// Slide travel that cannot be done, metres a second.
    pub travel_error: Sourced<f64>,
    /// Speed of sound in the instrument, metres a second (for the slide's lengths).
    pub sound_speed: f64,
    /// Cents that a player lips a flat partial up where the slide is all in: the fifth is, the seventh is not.
    pub lip: f64,
}

/// A valve, or valves together, of a slide instrument.
#[derive(Clone, Debug)]
pub struct Attachment {
    /// Its name: "F", "Gb", "D".
    pub name: String,
    /// Fundamental in first position.
    pub fundamental: Sounding,
    /// Positions it has.
    pub positions: u8,
    /// The last position is long and unsteady.
    pub last_is_long: bool,
}

/// Valves.
#[derive(Clone, Debug)]
pub struct Valves {
    /// First partial of the open instrument.
    pub fundamental: Sounding,
    /// Semitones each valve lowers the open instrument by, first valve first.
    pub semitones: Vec<f64>,
    /// Whether the fourth valve sends the air through a second set of loops.
    pub compensating: bool,
    /// Highest partial that is played.
    pub highest_partial: u8,
    /// What the notes stand on that it gives, and those that it does not.
    pub ground: Ground,
    /// What valves have in common.
    pub limits: ValveLimits,
}

/// What valves have in common.
#[derive(Clone, Debug)]
pub struct ValveLimits {
    /// Cents sharp from which it is a note.
    pub sharp_note: Sourced<f64>,
    /// Cents sharp from which it is a warning.
    pub sharp_warning: Sourced<f64>,
    /// Cents away from pitch beyond which a combination gives no note.
    pub sharp_missing: Sourced<f64>,
    /// Seconds a note must last before its pitch is judged.
    pub held_for: Sourced<Seconds>,
}

/// How much more air a fluttered note takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlutterAir {
    /// So many times as much.
    pub factor: f64,
    /// From this mark up.
    pub from: Dynamic,
}

/// Zones low to high. Each row holds up to the next, the last up to [`Range::top`].
#[derive(Clone, Debug)]
pub struct Range {
    /// Rows in rising order of pitch; never empty.
    pub rows: Vec<ZoneRow>,
    /// The highest note.
    pub top: Sourced<Sounding>,
    /// Within it an orchestrator need not think again: lowest and highest.
    pub usual: Sourced<(Sounding, Sounding)>,
    /// What usually takes a note beyond the usual span; said by `beyond-usual-register`.
    pub beyond_usual: Neighbours,
}

/// Instruments that usually take what lies beyond a usual span, with their article: "a trombone".
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Neighbours {
    /// Above it.
    pub above: Option<String>,
    /// Below it.
    pub below: Option<String>,
}

/// Where a zone begins.
#[derive(Clone, Debug)]
pub struct ZoneRow {
    /// Its lowest note.
    pub from: Sounding,
    /// The zone.
    pub zone: Zone,
    /// What both stand on.
    pub ground: Ground,
}

/// A zone of the compass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Zone {
    /// Only as an effect.
    Effect,
    /// Below the comfortable zone, for a player who is ready for it.
    ExtremeLow,
    /// Everyday.
    Comfortable,
    /// Above the comfortable zone.
    ExtremeHigh,
}

/// Ceiling and floor by register; rows as in [`Range`].
#[derive(Clone, Debug)]
pub struct Loudness {
    /// Rows in rising order of pitch.
    pub rows: Vec<LoudnessRow>,
    /// Which notes are hits, and where they come too late.
    pub hit: Sourced<HitLimits>,
    /// How many steps softer a mute makes the ceiling.
    pub muted_steps: Sourced<i32>,
}

/// Which notes are hits, and where the instrument answers too late for one.
#[derive(Clone, Copy, Debug)]
pub struct HitLimits {
    /// The longest note that counts as a hit.
    pub longest: Seconds,
    /// The softest mark at which a hit is judged.
    pub from: Dynamic,
    /// The highest ceiling at which the pipe answers too late for a hit.
    pub ceiling: Dynamic,
}

/// What a register gives.
#[derive(Clone, Debug)]
pub struct LoudnessRow {
    /// Its lowest note.
    pub from: Sounding,
    /// The softest mark that speaks reliably.
    pub floor: Sourced<Dynamic>,
    /// The loudest mark that sounds as marked.
    pub ceiling: Sourced<Dynamic>,
}

/// How long a full breath lasts: by the law of flow, and by what was measured on this very instrument.
#[derive(Clone, Debug)]
pub struct Sustain {
    /// The law.
    pub law: Law,
    /// What was measured, in rising order of pitch; mostly nothing.
    pub rows: Vec<SustainRow>,
}

/// The law of flow: the air of a full breath over what a second takes.
#[derive(Clone, Debug)]
pub struct Law {
    /// The air of a full breath that is played with.
    pub usable: Sourced<Litres>,
    /// What the loudest takes, by pitch.
    pub flow: Sourced<Flow>,
    /// What share of it softer playing takes, in rising order of dynamic; never empty.
    pub shares: Vec<Sourced<FlowShare>>,
    /// The dynamic at which a note before any mark is reckoned.
    pub unmarked: Sourced<Dynamic>,
}

/// Flow at the loudest: a power of the frequency.
#[derive(Clone, Copy, Debug)]
pub struct Flow {
    /// The pitch at which it is [`Flow::litres_a_second`].
    pub at: Sounding,
    /// Litres a second there.
    pub litres_a_second: f64,
    /// The power of the frequency.
    pub exponent: f64,
    /// Litres a second that no player exceeds.
    pub most: f64,
}

/// The share of the flow at the loudest that a dynamic takes.
#[derive(Clone, Copy, Debug)]
pub struct FlowShare {
    /// The dynamic.
    pub dynamic: Dynamic,
    /// Its share, above 0.
    pub share: f64,
}

/// Seconds a full breath lasts at one pitch, as measured.
#[derive(Clone, Debug)]
pub struct SustainRow {
    /// The pitch.
    pub at: Sounding,
    /// Dynamics in rising order with the seconds of each; never empty.
    pub seconds: Vec<(Dynamic, f64)>,
    /// What they stand on.
    pub ground: Ground,
}

/// How a breath is taken.
#[derive(Clone, Debug)]
pub struct Breath {
    /// A quick breath: seconds it takes, share it refills.
    pub quick: Sourced<(Seconds, BreathShare)>,
    /// A full breath.
    pub full: Sourced<(Seconds, BreathShare)>,
    /// A gap shorter than this is no breath.
    pub shortest: Sourced<Seconds>,
    /// The longest breath a player steals from the end of a note where no rest is written.
    pub stolen: Sourced<Seconds>,
    /// The greatest share of a note that is stolen from it.
    pub stolen_share: Sourced<f64>,
    /// The share of a re-struck note that is stolen where that is more than [`Breath::stolen`], a full breath at most.
    pub stolen_long: Sourced<f64>,
    /// A note that lasts this many times what is stolen from it is long: its end is a good place to breathe.
    pub long_note: Sourced<f64>,
}

/// How fast it speaks and moves.
#[derive(Clone, Debug)]
pub struct Agility {
    /// Seconds of the shortest single-tongued note.
    pub single_tongue: Sourced<Seconds>,
    /// Seconds of the shortest double-tongued note; `None` where double tonguing is not usual.
    pub double_tongue: Sourced<Option<Seconds>>,
    /// Cycles of the pitch a note needs to be heard as one.
    pub cycles: Sourced<f64>,
    /// All of these times this (long slides, slow valves).
    pub slowness: Sourced<f64>,
    /// Leaps too wide at speed: more semitones than this in less than that.
    pub leaps: Vec<Sourced<(f64, Seconds)>>,
}

/// Mutes and pick-up times.
#[derive(Clone, Debug)]
pub struct Changes {
    /// Mutes that exist for it; `true`: rare, ask first.
    pub mutes: Vec<Sourced<(Mute, bool)>>,
    /// Seconds of rest to put one in: a note below the first, a warning below the second.
    pub mute_in: Sourced<(Seconds, Seconds)>,
    /// Seconds to take it out.
    pub mute_out: Sourced<(Seconds, Seconds)>,
    /// Seconds of rest to pick this instrument up in place of another; of the two instruments the slower one counts.
    pub pick_up: Sourced<(Seconds, Seconds)>,
    /// Names of the instruments its player is ready to bring as well; where no settings say more, a passage that does not
    /// lie on this one may go to them.
    pub brings: Vec<String>,
}

/// How its parts are written.
#[derive(Clone, Debug)]
pub struct Notation {
    /// Clefs a player expects.
    pub clefs: Sourced<Vec<Clef>>,
    /// Ways it is written.
    pub traditions: Vec<Tradition>,
    /// Ledger lines below the staff a player reads without complaint.
    pub ledger_lines_below: Sourced<u8>,
    /// Ledger lines above the staff a player reads without complaint.
    pub ledger_lines_above: Sourced<u8>,
    /// Down to this sounding pitch an 8vb line is not wanted.
    pub ottava_from: Sourced<Sounding>,
}

/// A way its parts are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tradition {
    /// "orchestra", "British brass band" …
    pub name: String,
    /// The clef that goes with it.
    pub clef: Clef,
    /// Semitones written above sounding.
    pub written_above: i32,
}

/// Limits that belong to no one instrument (`profiles/section.toml`).
#[derive(Clone, Debug)]
pub struct SectionLimits {
    /// Steps over a ceiling or under a floor for a note, a warning, and an error in the effect zone.
    pub loudness_steps: Sourced<LoudnessSteps>,
    /// A softer mark asks for no less.
    pub softest: Dynamic,
    /// A louder mark asks for no more.
    pub loudest: Dynamic,
    /// Share of a breath: with less left a breath is worth showing.
    pub air_low: Sourced<f64>,
    /// More air than there is by up to this factor is to be had by playing one dynamic softer.
    pub eased: Sourced<f64>,
    /// What flutter tongue costs.
    pub flutter: Sourced<FlutterAir>,
    /// How bad it is to steal a breath at each kind of place.
    pub steals: StealWeights,
    /// A rate of tonguing is the mean over so many attacks in a row.
    pub tonguing_run: Sourced<usize>,
    /// Lowest lower notes of intervals.
    pub low_intervals: Vec<LowInterval>,
    /// Notes that sound together for less than this are no interval.
    pub interval_shortest: Sourced<Seconds>,
    /// What sounds together for less than this is a note at most.
    pub interval_held: Sourced<Seconds>,
    /// Share of the shorter of two notes that sounds with the longer one, from which they are harmony.
    pub interval_harmony: Sourced<f64>,
    /// Rest a player needs.
    pub rest: RestLimits,
    /// From where on a cue counts as hard on a player over a day.
    pub session: SessionLimits,
    /// Share of a note's time that another must sound with it to carry it.
    pub doubling_share: Sourced<f64>,
    /// A low note carried by nobody: from this dynamic on.
    pub alone_from: Sourced<Dynamic>,
    /// A low note carried by nobody: below this pitch.
    pub alone_below: Sourced<Sounding>,
    /// A low note carried by nobody: held at least this long.
    pub alone_longest: Sourced<Seconds>,
    /// When a passage moves, and how far.
    pub moves: MoveLimits,
    /// A shorter rest is none: no instrument or mute is changed in it.
    pub change_none: Sourced<Seconds>,
    /// At a change of instrument or mute at least so many bars are wanted.
    pub change_bars: Sourced<u32>,
    /// Parts that were exported without their transposition.
    pub transposition: TranspositionLimits,
    /// Sources, as in a profile.
    pub sources: BTreeMap<String, Source>,
    /// As in a profile.
    pub cited: Vec<(String, String)>,
}

/// What the search for octave moves goes by.
#[derive(Clone, Copy, Debug)]
pub struct MoveLimits {
    /// Semitones beyond which a leap that a move makes is for a person to look at.
    pub leap: f64,
    /// Players that are listened to beside a line that may move: those nearest on the page.
    pub beside: usize,
    /// Passages that are looked at on each side of one that asks for a move.
    pub around: usize,
    /// Quarter notes of rest that no moved passage reaches across.
    pub apart: f64,
    /// Quarter notes of rest that part two moves by the same octave.
    pub between: f64,
    /// Quarter notes that are heard on each side of the passages in which a move is tried.
    pub heard: i64,
    /// A rest of this hides a leap.
    pub hides: Seconds,
    /// Notes of about the longest thought that goes astray alone.
    pub stretch: usize,
    /// Semitones within which the next figure of a sequence stands.
    pub sequence: i32,
    /// Times from which a leap between the same two notes is meant.
    pub recurs: usize,
    /// Share of the notes that both sound from which two voices are said to go together.
    pub mostly: f64,
    /// Share of them from which two players are said to be in each other's way.
    pub often: f64,
    /// What each thing costs in a plan.
    pub prices: MovePrices,
    /// What a note is heard by.
    pub evidence: MoveEvidence,
    /// What is taken for likely before anything is counted.
    pub expected: MoveExpected,
}

/// What each thing costs in a plan, in hundredths of a nat: one nat makes a thing e times less likely to be meant.
#[derive(Clone, Copy, Debug)]
pub struct MovePrices {
    /// A note that stays a risk or becomes one.
    pub risk: i64,
    /// A note that is moved though nothing ails it.
    pub moved: i64,
    /// A moved passage that begins or ends where the line goes on.
    pub seam: i64,
    /// The narrowest leap, in semitones, that such a seam shows as.
    pub seam_from: i32,
    /// A moved passage that has a seam at one end only, and at the other neither that nor a leap that it mends.
    pub one_seam: i64,
    /// A moved passage that begins or ends beside a suspect note whose leap becomes usual.
    pub mended: i64,
    /// More where it does so at one end only, and the line is silent at the other.
    pub one_mended: i64,
    /// A passage that moves by two octaves: of two answers equally likely the nearer is meant.
    pub second_octave: i64,
    /// A moved passage that begins or ends at a breath mark.
    pub breath: i64,
    /// A moved passage that begins or ends at a rest under a beam or a tuplet's bracket.
    pub beat: i64,
    /// A moved passage that goes on across a rest.
    pub across: i64,
    /// The same, more for each quarter of the rest.
    pub across_quarter: i64,
    /// Quarters of rest beyond which it costs no more.
    pub across_longest: f64,
    /// A doubling whose octave changes from one note to the next.
    pub broken: i64,
    /// By which a shorter passage is likelier, once all other notes of its line are witnesses, before that one moves instead.
    pub shorter: i64,
    /// By which a passage is more at home as written before a person has to look first.
    pub at_home: i64,
}

/// How much each witness counts beside the leaps of a line, as shares.
#[derive(Clone, Copy, Debug)]
pub struct MoveEvidence {
    /// A note's distance to the other voices.
    pub distance: f64,
    /// Voices beyond this many tell nothing new.
    pub voices: f64,
    /// The register of its line.
    pub register: f64,
    /// Like figures.
    pub figures: f64,
}

/// What is taken for likely before anything is counted.
#[derive(Clone, Copy, Debug)]
pub struct MoveExpected {
    /// Leaps in a line.
    pub in_line: LeapsExpected,
    /// Leaps over a rest.
    pub over_rest: LeapsExpected,
    /// Semitones within which two notes lie in the same place.
    pub near: i32,
    /// Semitones over which a line of which nothing is known may lie.
    pub span: f64,
    /// What a line of which nothing is known is taken for, as a count of its notes.
    pub span_doubt: f64,
    /// Distances to another player that are alike likely, in semitones.
    pub distances: f64,
    /// Distances to a voice that doubles that are alike likely, in octaves.
    pub doublings: f64,
    /// What a voice of which nothing is known is taken for, as a count of notes beside it.
    pub distance_doubt: f64,
    /// What is not known of like figures, as a count of them.
    pub figure_doubt: f64,
}

/// How often a line leaps, before its leaps are counted.
#[derive(Clone, Copy, Debug)]
pub struct LeapsExpected {
    /// Semitones by which a leap is wider and e times rarer.
    pub scale: f64,
    /// Share of leaps that are octaves, which come far oftener than their size would let expect.
    pub octaves: f64,
    /// Counted leaps that this weighs as much as.
    pub doubt: f64,
}

/// Steps of the dynamic scale that weigh.
#[derive(Clone, Copy, Debug)]
pub struct LoudnessSteps {
    /// From here a note.
    pub note: i32,
    /// From here a warning.
    pub warning: i32,
    /// From here an error, in the effect zone.
    pub error_in_effect: i32,
}

/// How bad it is to steal a breath: of plans that miss equally little air the least sum is taken.
#[derive(Clone, Copy, Debug)]
pub struct StealWeights {
    /// Before a written rest.
    pub before_rest: u8,
    /// The end of a long note at a bar line or a slur's end.
    pub long_note: u8,
    /// A slur's end or a bar line.
    pub slur_end: u8,
    /// Between re-struck notes, behind a long one.
    pub inside_long: u8,
    /// Between re-struck notes.
    pub inside: u8,
}

/// The lowest places of one interval.
#[derive(Clone, Debug)]
pub struct LowInterval {
    /// Semitones.
    pub semitones: u8,
    /// Lower note below this: worth a note.
    pub clear_from: Sounding,
    /// Lower note below this as well: a warning. `None`: never.
    pub rooted_from: Option<Sounding>,
    /// What they stand on.
    pub ground: Ground,
}

/// When a part makes sense only by another transposition.
#[derive(Clone, Debug)]
pub struct TranspositionLimits {
    /// Of fewer notes nothing is said.
    pub notes: Sourced<u32>,
    /// Share of notes off the comfortable zone as they are read.
    pub off: Sourced<f64>,
    /// Share of notes on it by another reading.
    pub on: Sourced<f64>,
    /// Another part agrees with a note when it sounds its pitch class for this share of it.
    pub together: Sourced<f64>,
    /// No more than this share of notes agrees with the harmony as they are read.
    pub astray: Sourced<f64>,
    /// At least this share agrees by another reading.
    pub agrees: Sourced<f64>,
    /// Ways in which low brass is written away from concert pitch.
    pub traditions: Vec<Tradition>,
}

/// Rest a player needs.
#[derive(Clone, Debug)]
pub struct RestLimits {
    /// The window in which the sounding share is measured.
    pub window: Sourced<Seconds>,
    /// Sounding share beyond which it is a note.
    pub share: Sourced<f64>,
    /// A gap at least this long is rest; so is one as long as the note before it.
    pub gap: Sourced<Seconds>,
    /// Share of its value that a staccato note sounds.
    pub staccato: Sourced<f64>,
    /// The same of a staccatissimo.
    pub staccatissimo: Sourced<f64>,
    /// The same of a note with a dot and a line, or a dot under a slur.
    pub detached: Sourced<f64>,
    /// Runs without rest.
    pub run: RunLimits,
    /// Loud runs without rest.
    pub loud_run: RunLimits,
    /// Seconds above the usual span beyond which it is a note.
    pub high_run: Sourced<Seconds>,
    /// The share of time that goes into breathing.
    pub breathing: BreathingLimits,
}

/// How much of it makes a cue hard on a player, so that two that follow each other are told.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionLimits {
    /// Loud playing.
    pub loud: Sourced<Seconds>,
    /// Playing above the usual span.
    pub high: Sourced<Seconds>,
    /// Playing without a rest.
    pub unbroken: Sourced<Seconds>,
}

/// Seconds without rest that weigh.
#[derive(Clone, Debug, PartialEq)]
pub struct RunLimits {
    /// Beyond them a note.
    pub note: Sourced<Seconds>,
    /// Beyond them a warning, for what is at least so loud.
    pub warning: Sourced<(Seconds, Dynamic)>,
}

/// Shares of the time that goes into breathing, in a run without rest, that weigh.
#[derive(Clone, Debug, PartialEq)]
pub struct BreathingLimits {
    /// In runs longer than this.
    pub over: Sourced<Seconds>,
    /// Beyond this share a note.
    pub note: Sourced<f64>,
    /// Beyond this share a warning.
    pub warning: Sourced<f64>,
}

impl Range {
    /// The lowest note.
    pub fn bottom(&self) -> Sounding {
        self.rows.first().map_or(*self.top, |row| row.from)
    }

    /// How many semitones a pitch lies below or above the comfortable zone; 0 inside it.
    pub fn off_comfortable(&self, pitch: Sounding) -> f64 {
        if self.zone_at(pitch) == Some(Zone::Comfortable) {
            return 0.0;
        }
        let of = |zone: Zone| self.rows.iter().find(|row| row.zone == zone).map(|row| row.from);
        let lowest = of(Zone::Comfortable).unwrap_or(*self.top);
        let above = of(Zone::ExtremeHigh).unwrap_or(*self.top);
        let edge = if pitch < lowest { lowest } else { above };
        pitch.height().semitones_above(edge.height()).abs()
    }

    /// The row of a pitch; `None` outside the compass.
    pub fn row_at(&self, pitch: Sounding) -> Option<&ZoneRow> {
        if pitch > *self.top {
            return None;
        }
        self.rows.iter().rev().find(|row| row.from <= pitch)
    }

    /// The zone of a pitch; `None` outside the compass.
    pub fn zone_at(&self, pitch: Sounding) -> Option<Zone> {
        self.row_at(pitch).map(|row| row.zone)
    }

    /// What the nearer end of the compass stands on, for a pitch outside of it.
    pub fn end_ground(&self, pitch: Sounding) -> &Ground {
        match self.rows.first() {
            Some(lowest) if pitch <= lowest.from => &lowest.ground,
            _ => &self.top.ground,
        }
    }
}

impl Sustain {
    /// What the seconds stand on that a breath lasts at a pitch: the law, or what was measured there; elsewhere the law and
    /// the nearest that was measured.
    pub fn ground_at(&self, pitch: Sounding) -> Ground {
        let law = &self.law.flow.ground;
        let away = |row: &&SustainRow| row.at.height().semitones_above(pitch.height()).abs();
        match self.rows.iter().min_by(|a, b| away(a).total_cmp(&away(b))) {
            None => law.clone(),
            Some(row) if row.at == pitch => row.ground.clone(),
            Some(row) => law.and(&row.ground),
        }
    }
}

impl Agility {
    /// The shortest tongued note: double-tongued where that is usual.
    pub fn tongue(&self) -> Sourced<Seconds> {
        match *self.double_tongue {
            Some(double) => self.double_tongue.map(|_| double),
            None => self.single_tongue.clone(),
        }
    }
}

impl Loudness {
    /// What a pitch gives; `None` below the first row.
    pub fn at(&self, pitch: Sounding) -> Option<&LoudnessRow> {
        self.rows.iter().rev().find(|row| row.from <= pitch)
    }
}

impl Profile {
    /// The kind of a source key that this profile's values name.
    pub fn basis_of(&self, key: &str) -> Option<Basis> {
        basis_of(key, &self.sources)
    }
}

/// The kind of a source key: one of these, or one that stands for itself.
pub(crate) fn basis_of(key: &str, sources: &BTreeMap<String, Source>) -> Option<Basis> {
    sources.get(key).map(|source| source.kind).or_else(|| toml::plain(key).map(|(basis, _)| basis))
}

impl std::ops::Deref for Profile {
    type Target = Able;

    fn deref(&self) -> &Able {
        self.ability.get()
    }
}

impl Source {
    /// In one line: author, title, place, year.
    pub fn in_words(&self) -> String {
        let year = self.year.map(|year| year.to_string());
        let parts = [self.author.as_ref(), Some(&self.title), self.place.as_ref(), year.as_ref()];
        parts.into_iter().flatten().map(String::as_str).collect::<Vec<_>>().join(", ")
    }
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Family::Tuba => "tuba",
            Family::Cimbasso => "cimbasso",
            Family::Trombone => "trombone",
            Family::Euphonium => "euphonium",
            Family::WagnerTuba => "wagner-tuba",
            Family::Trumpet => "trumpet",
        })
    }
}
