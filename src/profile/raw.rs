//! A profile file and `section.toml` as they are written: the shape alone, with the place of what is checked
//! later. The doc comments are the descriptions of the JSON Schema; `toml` and `section` do the checking.
#![allow(clippy::struct_field_names)] // `names` in a table of names is what a reader of the file expects.
#![allow(missing_docs)] // The units are in the names, the meaning in the checked types of `profile`.

use std::borrow::Cow;
use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer};

use super::{Family, Language};
use crate::finding::Basis;
use crate::music::{Dynamic, Sounding};
use crate::score::{Clef, ClefSign, Mute};

/// A value with its place in the file.
#[derive(Clone, Debug)]
pub struct At<T>(pub toml::Spanned<T>);

impl<T> At<T> {
    pub(super) fn get(&self) -> &T {
        self.0.get_ref()
    }

    pub(super) fn span(&self) -> std::ops::Range<usize> {
        self.0.span()
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for At<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        toml::Spanned::deserialize(deserializer).map(At)
    }
}

impl<T: JsonSchema> JsonSchema for At<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

macro_rules! written {
    ($(#[$doc:meta])* $name:ident, $inner:ty, $read:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Deserialize, JsonSchema)]
        #[serde(try_from = "String")]
        #[schemars(with = "String")]
        pub struct $name(pub $inner);

        impl TryFrom<String> for $name {
            type Error = String;
            fn try_from(text: String) -> Result<Self, String> {
                let read: fn(&str) -> Result<$inner, String> = $read;
                read(&text).map($name)
            }
        }
    };
}

written!(
    /// A sounding pitch: D1, Bb0, F#2 (C4 is middle C).
    Pitch, Sounding, |text| text.parse().map_err(|why: crate::music::PitchError| why.to_string())
);
written!(
    /// A dynamic: pppppp to ffffff.
    Level, Dynamic, |text| text.parse().map_err(|why: crate::music::DynamicError| why.to_string())
);
written!(
    /// A mute: straight, cup, harmon, plunger, bucket, solotone, derby, pixie, practice.
    MuteName, Mute, |text| Mute::ALL.into_iter().find(|mute| mute.name() == text).ok_or_else(|| {
        let all: Vec<_> = Mute::ALL.into_iter().map(Mute::name).collect();
        format!("expected a mute, one of {}, not '{text}'", all.join(", "))
    })
);
written!(
    /// A clef: bass, tenor, alto, treble.
    ClefName, Clef, |text| {
        let (sign, line) = match text {
            "bass" => (ClefSign::F, 4),
            "tenor" => (ClefSign::C, 4),
            "alto" => (ClefSign::C, 3),
            "treble" => (ClefSign::G, 2),
            _ => return Err(format!("expected a clef, one of bass, tenor, alto, treble, not '{text}'")),
        };
        Ok(Clef { sign, line, octaves: 0 })
    }
);

/// Where a value comes from: a key of `[sources]`, or common-practice, proposal, from-memory; or a list of them,
/// of which the first carries the figure and the others support it.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(untagged, expecting = "expected a source key such as \"proposal\", or a list of them")]
pub enum Cite {
    One(String),
    Several(Vec<String>),
}

macro_rules! table {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $kind:ty,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $($(#[$field_doc])* pub $field: $kind,)* }
    };
}

macro_rules! sourced {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $kind:ty,)* }) => {
        table!($(#[$doc])* $name {
            $($(#[$field_doc])* $field: $kind,)*
            /// Where the value comes from.
            source: Cite,
        });
    };
}

table!(
    /// One instrument: a file of `profiles/`.
    ProfileFile {
        /// The file's name without `.toml`.
        name: At<String>,
        /// For people: "Contrabass tuba in C".
        title: String,
        /// In mid-sentence, with its article: "a contrabass tuba in C".
        a_title: String,
        /// What it is and who plays it, a sentence or two.
        about: String,
        /// tuba, cimbasso, trombone, euphonium, wagner-tuba or trumpet.
        family: Family,
        /// How it is recognised in a score.
        recognise: RecogniseTable,
        /// What makes its notes.
        mechanism: MechanismTable,
        /// Its zones.
        range: RangeTable,
        /// Ceiling and floor by register.
        loudness: LoudnessTable,
        /// How long a full breath lasts, where it differs from what `player.toml` says.
        #[serde(default)]
        sustain: SustainTable,
        /// How a breath is taken, where it differs.
        #[serde(default)]
        breath: BreathTable,
        /// How fast it speaks and moves, where it differs.
        #[serde(default)]
        agility: AgilityTable,
        /// Mutes and pick-up times, where they differ.
        #[serde(default)]
        changes: ChangesTable,
        /// How its parts are written.
        notation: NotationTable,
        /// What the source keys stand for.
        #[serde(default)]
        sources: BTreeMap<String, SourceTable>,
    }
);
/// What a profile is called and how it is recognised: the head of [`ProfileFile`].
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct HeadFile {
    pub(super) name: At<String>,
    pub(super) title: String,
    pub(super) a_title: String,
    pub(super) about: String,
    pub(super) family: Family,
    pub(super) recognise: RecogniseTable,
}

table!(
    /// One source.
    SourceTable {
        /// published, measured, reported, computed, common-practice, proposal or from-memory.
        kind: Basis,
        /// Who wrote or measured it: a person, a body.
        author: Option<String>,
        /// What it is called; or the formula.
        title: String,
        /// When it came out.
        year: Option<u16>,
        /// Where it is to be found: a book or journal, a site.
        place: Option<String>,
    }
);

sourced!(Texts { /// The texts.
    texts: Vec<String>, });
sourced!(Programs { /// `midi-program`, 1 to 128.
    numbers: Vec<At<u8>>, });
sourced!(Names { /// The language.
    language: Language, /// Names, singular and plural, as scores write them.
    names: Vec<String>, });
table!(RecogniseTable {
    /// MusicXML sound ids that mean this instrument.
    sounds: Option<Texts>,
    /// Sound ids that say only the family; a name that says more wins.
    plain_sounds: Option<Texts>,
    /// MIDI programs; the last resort.
    midi_programs: Option<Programs>,
    /// Names that say only the family; the settings may choose another instrument for them.
    plain_names: Option<Texts>,
    /// Names that voices bear as well: taken only beside other brass.
    shared_names: Option<Texts>,
    /// It is taken for the lowest of so many players of its family, where none is named.
    lowest_of: Option<CountValue>,
    /// Names by language.
    names: Vec<Names>,
    /// Abbreviations.
    abbreviations: Option<Texts>,
});

sourced!(PitchValue { /// Sounding pitch.
    pitch: At<Pitch>, });
sourced!(SecondsValue { /// Seconds.
    seconds: At<f64>, });
sourced!(CentsValue {
    /// Cents.
    cents: At<f64>,
});
sourced!(CountValue { /// A count.
    count: At<u8>, });
sourced!(BarsValue { /// Bars.
    bars: At<u8>, });
sourced!(StepsValue { /// Steps of the dynamic scale.
    steps: At<i32>, });
sourced!(LevelValue {
    /// A dynamic.
    dynamic: Level,
});
sourced!(FactorValue { /// A factor.
    factor: At<f64>, });
sourced!(ShareValue { /// A share from 0 to 1.
    share: At<f64>, });
sourced!(SemitonesValue { /// Semitones.
    semitones: At<f64>, });
sourced!(LitresValue { /// Litres.
    litres: At<f64>, });
sourced!(SpeedValue { /// Metres a second.
    metres_per_second: At<f64>, });
sourced!(CyclesValue { /// Cycles of the pitch.
    cycles: At<f64>, });
sourced!(TwoSeconds { /// Below this a note.
    note: At<f64>, /// Below this a warning.
    warning: At<f64>, });
sourced!(Cents { /// From here a note.
    note: At<f64>, /// From here a warning.
    warning: At<f64>, /// Beyond this no note at all.
    missing: At<f64>, });
sourced!(Speeds { /// Above this a note.
    note: At<f64>, /// Where the note's limit comes from, if not from the source.
    note_source: Option<Cite>, /// Above this a warning.
    warning: At<f64>, /// Above this an error.
    error: At<f64>, });

/// What makes the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MechanismKind {
    /// A slide.
    Slide,
    /// Valves.
    Valves,
    /// Keys over holes.
    Keys,
}
table!(MechanismTable {
    /// slide, valves or keys.
    kind: At<MechanismKind>,
    /// First partial of the open instrument.
    fundamental: PitchValue,
    /// Highest partial that is played (slide, valves).
    highest_partial: Option<CountValue>,
    /// The open slide (slide).
    slide: Option<SlideValue>,
    /// Valves of a slide instrument, each or together (slide).
    attachments: Option<Vec<AttachmentRow>>,
    /// Slide speed in metres a second (slide).
    travel: Option<Speeds>,
    /// Speed of sound in the instrument (slide).
    sound_speed: Option<SpeedValue>,
    /// Cents a flat partial is lipped up where the slide is all in (slide).
    lip: Option<CentsValue>,
    /// The valves, first to last (valves).
    valves: Option<ValvesValue>,
    /// Cents away from pitch that are heard (valves).
    sharp: Option<Cents>,
    /// How long a note must be held before its pitch is judged (valves).
    held_for: Option<SecondsValue>,
});
sourced!(SlideValue {
    /// Positions.
    positions: At<u8>,
    /// The last position is long and unsteady.
    #[serde(default)]
    last_is_long: bool,
    /// A double slide: each centimetre lengthens four tubes instead of two.
    #[serde(default)]
    double: bool,
});
sourced!(AttachmentRow {
    /// Its name: "F".
    name: String,
    /// Its fundamental in first position.
    fundamental: At<Pitch>,
    /// Positions.
    positions: At<u8>,
    /// The last position is long and unsteady.
    #[serde(default)]
    last_is_long: bool,
});
sourced!(ValvesValue {
    /// Semitones each valve lowers the open instrument by, first valve first.
    semitones: Vec<At<f64>>,
    /// The fourth valve sends the air through a second set of loops.
    #[serde(default)]
    compensating: bool,
});

/// A zone of the compass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ZoneName {
    /// Only as an effect.
    Effect,
    /// Below or above the comfortable zone.
    Extreme,
    /// Everyday.
    Comfortable,
}
sourced!(ZoneRowValue { /// Its lowest note.
    from: At<Pitch>, /// effect, extreme or comfortable.
    zone: At<ZoneName>, });
sourced!(SpanValue { /// Lowest.
    from: At<Pitch>, /// Highest.
    to: At<Pitch>, });
sourced!(NeighboursValue { /// Above it: "a trombone".
    above: Option<String>, /// Below it.
    below: Option<String>, });
table!(RangeTable {
    /// Zones from low to high; each holds up to the next, the last up to `top`.
    rows: At<Vec<ZoneRowValue>>,
    /// The highest note.
    top: PitchValue,
    /// Within it nobody thinks twice.
    usual: SpanValue,
    /// What usually takes a note beyond it.
    beyond_usual: Option<NeighboursValue>,
});

sourced!(LoudnessRowValue { /// Its lowest note.
    from: At<Pitch>, /// The softest mark that speaks reliably.
    floor: At<Level>, /// Where the floor comes from, if not from the row's source.
    floor_source: Option<Cite>, /// The loudest mark that sounds as marked.
    ceiling: At<Level>, });
sourced!(HitValue { /// The longest note that counts as a hit, seconds.
    longest: At<f64>, /// The softest mark at which a hit is judged.
    from: Level, /// The highest ceiling at which the pipe answers too late.
    ceiling: Level, });
table!(LoudnessTable {
    /// From low to high over the whole range.
    rows: At<Vec<LoudnessRowValue>>,
    /// Short accented loud notes.
    hit: Option<HitValue>,
    /// Steps a mute takes off the ceiling.
    muted: Option<StepsValue>,
});

sourced!(SustainRowValue {
    /// The pitch.
    at: At<Pitch>,
    /// Seconds at pppp.
    pppp: Option<At<f64>>,
    /// Seconds at ppp.
    ppp: Option<At<f64>>,
    /// Seconds at pp.
    pp: Option<At<f64>>,
    /// Seconds at p.
    p: Option<At<f64>>,
    /// Seconds at mp.
    mp: Option<At<f64>>,
    /// Seconds at mf.
    mf: Option<At<f64>>,
    /// Seconds at f.
    f: Option<At<f64>>,
    /// Seconds at ff.
    ff: Option<At<f64>>,
    /// Seconds at fff.
    fff: Option<At<f64>>,
    /// Seconds at ffff.
    ffff: Option<At<f64>>,
});
sourced!(FlowValue { /// The pitch at which it is given.
    at: Pitch, /// Litres a second there at the loudest.
    litres_per_second: At<f64>, /// The power of the frequency by which it goes.
    exponent: At<f64>, /// Litres a second that no player exceeds.
    most: At<f64>, });
sourced!(FlowShare { /// The dynamic.
    dynamic: At<Level>, /// Share of the flow at the loudest.
    share: At<f64>, });
table!(
    #[derive(Default)]
    SustainTable {
        /// The air of a full breath that is played with.
        usable: Option<LitresValue>,
        /// The flow at the loudest, by pitch.
        flow: Option<FlowValue>,
        /// What share of it other dynamics take, from soft to loud.
        shares: Option<At<Vec<FlowShare>>>,
        /// Seconds a full breath lasts as measured on this instrument, from low to high: they overrule the flow.
        rows: Option<At<Vec<SustainRowValue>>>,
        /// The dynamic at which a note before any mark is reckoned.
        unmarked: Option<LevelValue>,
    }
);
sourced!(BreathValue { /// Seconds it takes.
    seconds: At<f64>, /// Share of a full breath it brings.
    refills: At<f64>, });
table!(
    #[derive(Default)]
    BreathTable {
        /// A quick breath.
        quick: Option<BreathValue>,
        /// A full breath.
        full: Option<BreathValue>,
        /// A gap shorter than this is no breath.
        shortest: Option<SecondsValue>,
        /// The longest breath stolen from the end of a note where no rest is written.
        stolen: Option<SecondsValue>,
        /// The greatest share of a note that is stolen from it.
        stolen_share: Option<ShareValue>,
        /// The share of a long re-struck note that is stolen, where that is more.
        stolen_long: Option<ShareValue>,
        /// A note that lasts this many times what is stolen from it is long.
        long_note: Option<FactorValue>,
    }
);
sourced!(LeapRow { /// More semitones than this
    semitones: At<f64>, /// in less than that many seconds is too wide.
    seconds: At<f64>, });
sourced!(DoubleTongueValue {
    /// The shortest double-tongued note, seconds.
    seconds: Option<At<f64>>,
    /// false: double tonguing is not usual.
    usual: Option<At<bool>>,
});
table!(
    #[derive(Default)]
    AgilityTable {
        /// The shortest single-tongued note.
        single_tongue: Option<SecondsValue>,
        /// The shortest double-tongued note, or `usual = false`.
        double_tongue: Option<DoubleTongueValue>,
        /// Cycles of its pitch a note needs to be heard as one.
        response: Option<CyclesValue>,
        /// All these times by this factor.
        slowness: Option<FactorValue>,
        /// Leaps too wide at speed.
        leaps: Option<Vec<LeapRow>>,
    }
);
sourced!(MuteRow {
    /// The mute.
    mute: MuteName,
    /// Ask first.
    #[serde(default)]
    rare: bool,
});
table!(
    #[derive(Default)]
    ChangesTable {
        /// Mutes that exist for it.
        mutes: Option<Vec<MuteRow>>,
        /// Seconds to put a mute in.
        mute_in: Option<TwoSeconds>,
        /// Seconds to take it out.
        mute_out: Option<TwoSeconds>,
        /// Seconds to pick this instrument up in place of another; of two instruments the slower counts.
        pick_up: Option<TwoSeconds>,
        /// Instruments its player is ready to bring as well, for passages that do not lie on this one.
        brings: Option<ProfilesValue>,
    }
);
sourced!(ProfilesValue { /// Names of profiles.
    profiles: Vec<At<String>>, });
sourced!(TraditionRow {
    /// Who writes it so.
    name: String,
    /// The clef.
    clef: ClefName,
    /// Semitones written above sounding.
    written_above: i32,
});
sourced!(ClefsValue { /// The clefs.
    clefs: Vec<ClefName>, });
sourced!(LedgerValue {
    /// Below the staff.
    below: u8,
    /// Above the staff.
    above: u8,
});
table!(NotationTable {
    /// Clefs a player expects.
    clefs: ClefsValue,
    /// Ways its parts are written.
    traditions: Vec<TraditionRow>,
    /// Ledger lines a player reads without complaint.
    ledger_lines: LedgerValue,
    /// Down to this pitch an 8vb line is not wanted.
    ottava_from: PitchValue,
});

table!(PlayerLoudness { /// Short accented loud notes.
    hit: Option<HitValue>, /// Steps a mute takes off the ceiling.
    muted: Option<StepsValue>, });
table!(SlideTable { /// Slide speed in metres a second.
    travel: Option<Speeds>, /// Speed of sound in the instrument.
    sound_speed: Option<SpeedValue>, /// Cents a flat partial is lipped up where the slide is all in.
    lip: Option<CentsValue>, });
table!(ValvesTable { /// Cents away from pitch that are heard.
    sharp: Option<Cents>, /// How long a note must be held before its pitch is judged.
    held_for: Option<SecondsValue>, });
table!(
    #[derive(Default)]
    FamilyTable {
        /// How a breath is taken.
        #[serde(default)]
        breath: BreathTable,
        /// How fast it speaks and moves.
        #[serde(default)]
        agility: AgilityTable,
        /// Mutes and pick-up times.
        #[serde(default)]
        changes: ChangesTable,
    }
);
table!(
    /// What every player has in common, whatever the instrument, and what a family has: `profiles/player.toml`. A
    /// profile says only what differs.
    PlayerFile {
        /// How long a full breath lasts.
        #[serde(default)]
        sustain: SustainTable,
        /// How a breath is taken.
        #[serde(default)]
        breath: BreathTable,
        /// Hits, and what a mute takes.
        loudness: Option<PlayerLoudness>,
        /// How fast an instrument speaks and moves.
        #[serde(default)]
        agility: AgilityTable,
        /// Pick-up times.
        #[serde(default)]
        changes: ChangesTable,
        /// What every slide has in common.
        slide: Option<SlideTable>,
        /// What every set of valves has in common.
        valves: Option<ValvesTable>,
        /// What differs for all instruments of a family.
        #[serde(default)]
        families: BTreeMap<Family, FamilyTable>,
        /// What the source keys stand for.
        #[serde(default)]
        sources: BTreeMap<String, SourceTable>,
    }
);
table!(
    /// Limits that belong to no one instrument: `profiles/section.toml`.
    SectionFile {
        /// Loudness.
        loudness: SectionLoudness,
        /// Air.
        air: SectionAir,
        /// Stolen breaths.
        steals: SectionSteals,
        /// Tonguing.
        tonguing: SectionTonguing,
        /// Low intervals.
        intervals: SectionIntervals,
        /// Rest.
        rest: SectionRest,
        /// A day of cues.
        session: SectionSession,
        /// A low note that nobody carries.
        alone: SectionAlone,
        /// Octave moves.
        moves: SectionMoves,
        /// Changes of instrument and mute.
        changes: SectionChanges,
        /// Parts that were exported without their transposition.
        transposition: SectionTransposition,
        /// What the source keys stand for.
        #[serde(default)]
        sources: BTreeMap<String, SourceTable>,
    }
);
sourced!(SectionSteps { /// From here a note.
    note: At<i32>, /// From here a warning.
    warning: At<i32>, /// From here an error in the effect zone.
    error_in_effect: At<i32>, });
table!(SectionLoudness {
    /// Steps over a ceiling or under a floor.
    steps: SectionSteps,
    /// A softer mark asks for no less.
    softest: LevelValue,
    /// A louder mark asks for no more.
    loudest: LevelValue,
});
sourced!(StealsValue { /// Before a written rest.
    before_rest: At<u8>, /// The end of a long note at a bar line or a slur's end.
    long_note: At<u8>, /// A slur's end or a bar line.
    slur_end: At<u8>, /// Between re-struck notes, behind a long one.
    inside_long: At<u8>, /// Between re-struck notes.
    inside: At<u8>, });
table!(SectionSteals {
    /// How bad each place is.
    weights: StealsValue,
});
table!(SectionAir {
    /// With less than this left a breath is worth showing.
    low: ShareValue,
    /// More air than there is by up to this factor is to be had by playing softer.
    eased: FactorValue,
    /// What flutter tongue costs.
    flutter: FlutterValue,
});
sourced!(FlutterValue { /// So many times the air.
    factor: At<f64>, /// From this mark up.
    from: Level, });
sourced!(AttacksValue {
    /// How many.
    attacks: At<u8>,
});
table!(SectionTonguing {
    /// A rate is the mean over so many attacks in a row.
    run: AttacksValue,
});
sourced!(IntervalRow { /// Its size.
    semitones: At<u8>, /// Its name, for people.
    name: String, /// A lower note below this blurs: a note.
    clear_from: Pitch, /// A lower note below this as well has no audible root: a warning.
    rooted_from: Option<Pitch>, });
table!(SectionIntervals { /// Notes that sound together for less are no interval.
    shortest: SecondsValue, /// What sounds together for less is a note at most.
    held: SecondsValue, /// Of the shorter note at least so much sounds with the longer one.
    harmony: ShareValue, /// Narrow to wide.
    rows: At<Vec<IntervalRow>>, });
sourced!(LoudSeconds { /// Seconds.
    seconds: At<f64>, /// So loud or louder.
    from: Level, });
table!(RunLimitValues {
    /// Beyond them a note.
    note: SecondsValue,
    /// Beyond them a warning.
    warning: LoudSeconds,
});
table!(HighRunValue {
    /// Beyond them a note.
    note: SecondsValue,
});
table!(BreathingValues {
    /// In runs longer than this.
    over: SecondsValue,
    /// Beyond this share a note.
    note: ShareValue,
    /// Beyond this share a warning.
    warning: ShareValue,
});
table!(SectionRest {
    /// The window in which the sounding share is measured.
    window: SecondsValue,
    /// Sounding share beyond which it is a note.
    share: ShareValue,
    /// A gap at least this long is rest.
    gap: SecondsValue,
    /// Share of its value that a staccato note sounds.
    staccato: ShareValue,
    /// The same of a staccatissimo.
    staccatissimo: ShareValue,
    /// The same of a note with a dot and a line, or a dot under a slur.
    detached: ShareValue,
    /// Runs without rest.
    run: RunLimitValues,
    /// Loud runs without rest.
    loud_run: RunLimitValues,
    /// Runs above the usual span.
    high_run: HighRunValue,
    /// Share of the time that goes into breathing.
    breathing: BreathingValues,
});
table!(SectionSession {
    /// Loud playing in a cue.
    loud: SecondsValue,
    /// Playing above the usual span in a cue.
    high: SecondsValue,
    /// Playing without a rest in a cue.
    unbroken: SecondsValue,
});
table!(SectionAlone {
    /// Share of a note's time that another must sound with it.
    share: ShareValue,
    /// From this dynamic on.
    from: LevelValue,
    /// Below this pitch.
    below: PitchValue,
    /// Held at least this long.
    longest: SecondsValue,
});
table!(SectionMoves {
    /// A leap beyond this, made by a move, is for a person to look at.
    leap: SemitonesValue,
    /// Players that are listened to beside a line.
    beside: CountValue,
    /// Passages that are looked at on each side of one that asks for a move.
    around: PassagesValue,
    /// Across so long a rest nothing moves as one.
    apart: QuartersValue,
    /// So long a rest parts two moves by the same octave.
    between: QuartersValue,
    /// What is heard on each side of a move that is tried.
    heard: WholeQuartersValue,
    /// So long a rest hides a leap.
    hides: SecondsValue,
    /// About the longest thought that goes astray alone.
    stretch: NotesValue,
    /// Times a leap between the same two notes comes back that is meant.
    recurs: TimesValue,
    /// How far away the next figure of a sequence may stand.
    sequence: WholeSemitonesValue,
    /// Share of notes from which two voices go together.
    mostly: ShareValue,
    /// Share of notes from which two players are in each other's way.
    often: ShareValue,
    /// What each thing costs in a plan.
    prices: MovePrices,
    /// What a note is heard by.
    evidence: MoveEvidence,
    /// What is taken for likely before anything is counted.
    expected: MoveExpected,
});
sourced!(TimesValue {
    /// How often.
    times: At<u16>,
});
sourced!(PassagesValue {
    /// A count of passages.
    passages: At<u16>,
});
sourced!(QuartersValue {
    /// Quarter notes.
    quarters: At<f64>,
});
sourced!(WholeQuartersValue {
    /// Quarter notes.
    quarters: At<u16>,
});
sourced!(WholeSemitonesValue {
    /// Semitones.
    semitones: At<u8>,
});
sourced!(
    /// In nats: what costs one nat is e times less likely to be meant.
    MovePrices {
        /// A note that stays a risk or becomes one.
        risk: At<f64>,
        /// A moved note.
        moved: At<f64>,
        /// A moved passage that begins or ends where the line goes on.
        seam: SeamPrice,
        /// A moved passage that does so at one end only.
        one_seam: At<f64>,
        /// A moved passage that begins or ends beside a suspect note whose leap becomes usual.
        mended: At<f64>,
        /// More where it does so at one end only.
        one_mended: At<f64>,
        /// A passage that moves by two octaves.
        second_octave: At<f64>,
        /// A moved passage that begins or ends at a breath mark.
        breath: At<f64>,
        /// A moved passage that begins or ends at a rest under a beam or a tuplet's bracket.
        beat: At<f64>,
        /// A moved passage that goes on across a rest.
        across: AcrossPrice,
        /// A doubling whose octave changes from one note to the next.
        broken: At<f64>,
        /// By which a shorter passage is likelier once all other notes of its line are heard.
        shorter: At<f64>,
        /// By which a passage is more at home as written before a person looks first.
        at_home: At<f64>,
    }
);
table!(SeamPrice {
    /// Nats.
    nats: At<f64>,
    /// Semitones of the narrowest leap it shows as.
    from: At<u8>,
});
table!(AcrossPrice {
    /// Nats.
    nats: At<f64>,
    /// More for each quarter of the rest.
    each_quarter: At<f64>,
    /// Quarters beyond which a rest costs no more.
    longest: At<f64>,
});
sourced!(
    /// How much what a note is heard by counts beside its leaps.
    MoveEvidence {
        /// Its distance to the other voices, a share.
        distance: At<f64>,
        /// Voices beyond this many tell nothing new.
        voices: At<u16>,
        /// The register of its line, a share.
        register: At<f64>,
        /// Like figures, a share.
        figures: At<f64>,
    }
);
table!(MoveExpected {
    /// How steeply leaps become rarer with their size.
    leaps: LeapsExpected,
    /// Share of leaps that are octaves.
    octaves: OctavesExpected,
    /// Where a line may lie.
    register: RegisterExpected,
    /// How many distances to other voices are alike likely.
    distances: DistancesExpected,
    /// Counts that what is expected weighs as much as.
    doubt: DoubtExpected,
});
sourced!(LeapsExpected { /// Semitones for a factor of e, in a line.
    in_line: At<f64>, /// Behind a rest.
    over_rest: At<f64>, });
sourced!(OctavesExpected { /// In a line, a share.
    in_line: At<f64>, /// Behind a rest, a share.
    over_rest: At<f64>, });
sourced!(RegisterExpected { /// Semitones within which two notes lie in the same place.
    near: At<u8>, /// Semitones over which a line may lie.
    span: At<u8>, });
sourced!(DistancesExpected { /// Of players, in semitones.
    players: At<u8>, /// Of voices that double, in octaves.
    doublings: At<u8>, });
sourced!(DoubtExpected { /// Leaps.
    leaps: At<u16>, /// Notes beside other voices.
    distances: At<u16>, /// Notes of the line.
    register: At<u16>, /// Like figures.
    figures: At<u16>, });
sourced!(NotesValue {
    /// A count of notes.
    notes: At<u16>,
});
table!(SectionTransposition {
    /// Of fewer notes nothing is said.
    least: NotesValue,
    /// Share of notes off the comfortable zone as they are read.
    off: ShareValue,
    /// Share of notes on it by another reading.
    on: ShareValue,
    /// Another part agrees with a note when it sounds its pitch class for this share of it.
    together: ShareValue,
    /// No more than this share of notes agrees with the harmony of the orchestra as they are read.
    astray: ShareValue,
    /// At least this share agrees by another reading.
    agrees: ShareValue,
    /// Ways in which low brass is written away from concert pitch.
    traditions: Vec<TraditionRow>,
});
table!(SectionChanges {
    /// A shorter rest is none.
    none: SecondsValue,
    /// At least so many bars.
    least: BarsValue,
});
