//! TOML to a checked [`Profile`]: in goes a file's text, out comes a profile whose rows rise, nest and leave no
//! hole, each value with a source that is explained, or the first fault with its place and the way out.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::ops::Range as Bytes;
use std::sync::Arc;

use serde::Deserialize;
use toml::de::{DeTable, DeValue};

use super::error::{ProfileError, ProfileFault as Fault, Spotted};
use super::parts::{AgilityPart, BreathPart, ChangesPart, LawPart, SlidePart, StrokesPart, ValvesPart};
use super::player::Player;
use super::raw::{
    AgilityTable, At, BreathTable, BreathValue, Cents, CentsValue, ChangesTable, Cite, HeadFile, HitValue,
    LoudnessTable, MechanismKind, MechanismTable, NotationTable, Pitch, ProfileFile, RangeTable,
    RecogniseTable, SecondsValue, SlideValue, SourceTable, SpeedValue, Speeds, StepsValue, SustainRowValue,
    SustainTable, TwoSeconds, ValvesValue, ZoneName,
};
use super::{
    Able, Attachment, Flow, FlowShare, HitLimits, LoudnessRow, Mechanism, Neighbours, Notation, Profile,
    Range, Recognise, Slide, Source, Sustain, SustainRow, Tradition, Valves, Zone, ZoneRow, library,
};
use crate::finding::{Basis, Ground, Sourced};
use crate::music::{BreathShare, Dynamic, Litres, Seconds, Sounding};
use crate::nearest;

/// A step of the check.
pub(super) type Checked<T> = Result<T, Spotted>;

/// Reads and checks one profile. `file` is only named in errors; its stem must be the profile's name.
pub(super) fn profile(file: &str, text: &str, player: &Arc<Player>) -> Result<Profile, ProfileError> {
    let read = || -> Checked<Profile> {
        let (raw, citations): (ProfileFile, Citations) = parse(text)?;
        let able = able_of(&raw, citations, text, player)?;
        let head = HeadFile {
            name: raw.name,
            title: raw.title,
            a_title: raw.a_title,
            about: raw.about,
            family: raw.family,
            recognise: raw.recognise,
        };
        head_of(file, &head, library::Ability::read(able))
    };
    read().map_err(|spotted| spotted.in_file(file, text))
}

/// Reads what a profile is called and how it is recognised; the rest is read when it is asked for. Of a file that is
/// part of the program, which keeps its names before its `[mechanism]`.
pub(super) fn built_in(
    file: &'static str,
    text: &'static str,
    player: &Arc<Player>,
) -> Result<Profile, ProfileError> {
    let head = text.find("\n[mechanism]").map_or(text, |end| &text[..end]);
    let read = || -> Checked<Profile> {
        let head = HeadFile::deserialize(toml::de::Deserializer::parse(head)?)?;
        head_of(file, &head, library::Ability::later(file, text, Arc::clone(player)))
    };
    read().map_err(|spotted| spotted.in_file(file, text))
}

/// Reads and checks what a profile says of its instrument.
pub(super) fn able(file: &str, text: &str, player: &Arc<Player>) -> Result<Able, ProfileError> {
    let read = || -> Checked<Able> {
        let (raw, citations): (ProfileFile, Citations) = parse(text)?;
        able_of(&raw, citations, text, player)
    };
    read().map_err(|spotted| spotted.in_file(file, text))
}

/// Deserializes a file and gathers its sources: every `source` key, with the place of the value it stands in.
pub(super) fn parse<'t, T: Deserialize<'t>>(text: &'t str) -> Checked<(T, Citations)> {
    let document = DeTable::parse(text)?;
    let mut citations = Citations { list: Vec::new() };
    citations.gather(&mut String::new(), document.get_ref());
    let file = T::deserialize(toml::de::Deserializer::from(document))?;
    Ok((file, citations))
}

fn head_of(file: &str, raw: &HeadFile, ability: library::Ability) -> Checked<Profile> {
    let stem = file.rsplit(['/', '\\']).next().unwrap_or(file);
    let stem = stem.strip_suffix(".toml").unwrap_or(stem);
    if raw.name.get() != stem {
        return fault(&raw.name, Fault::NameIsNotStem { stem: stem.to_owned() });
    }
    Ok(Profile {
        name: raw.name.get().clone(),
        title: raw.title.clone(),
        a_title: raw.a_title.clone(),
        about: raw.about.clone(),
        family: raw.family,
        recognise: recognise(&raw.recognise)?,
        ability,
    })
}

fn able_of(raw: &ProfileFile, citations: Citations, text: &str, player: &Arc<Player>) -> Checked<Able> {
    let grounds = Grounds { sources: citations.check(text, &raw.sources)? };
    let below = player.below(raw.family);
    let left = |key| Spotted { span: raw.name.span(), fault: Fault::Nowhere { key } };
    let range = range(&raw.range, &grounds)?;
    let breath = breath(&raw.breath, &grounds)?.or(&below.breath).complete().map_err(left)?;
    if breath.full.0 < breath.quick.0 {
        let (from, to) = ("a quick breath".to_owned(), "a full one".to_owned());
        return fault(&raw.name, Fault::UpsideDown { from, to });
    }
    let strokes = strokes(raw.loudness.hit.as_ref(), raw.loudness.muted.as_ref(), &grounds)?;
    let strokes = strokes.or(&below.strokes).complete().map_err(left)?;
    let changes = ChangesPart {
        brings: Some(
            raw.changes
                .brings
                .iter()
                .flat_map(|brings| &brings.profiles)
                .map(|at| at.get().clone())
                .collect(),
        ),
        ..changes(&raw.changes, &grounds)?
    };
    Ok(Able {
        mechanism: mechanism(&raw.mechanism, &grounds, &below.slide, &below.valves)?,
        loudness: strokes.with(loudness(&raw.loudness, &range, &grounds)?),
        sustain: Sustain {
            law: law(&raw.sustain, &grounds)?.or(&below.law).complete().map_err(left)?,
            rows: sustain_rows(&raw.sustain, &range, &grounds)?,
        },
        range,
        breath,
        agility: agility(&raw.agility, &grounds)?.or(&below.agility).complete().map_err(left)?,
        changes: changes.or(&below.changes).complete().map_err(left)?,
        notation: notation(&raw.notation, &grounds),
        sources: grounds.sources,
        cited: citations.places(),
        player: Arc::clone(player),
    })
}

/// The source keys of a file.
pub(super) struct Citations {
    /// Place, key, bytes of the key; in file order.
    list: Vec<(String, String, Bytes<usize>)>,
}

impl Citations {
    fn gather(&mut self, place: &mut String, table: &DeTable<'_>) {
        let mut entries: Vec<_> = table.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        for (key, value) in entries {
            let key = key.get_ref();
            if key == "source" {
                self.keys(place, value);
            } else if let Some(of) = key.strip_suffix("_source") {
                self.keys(&format!("{place}.{of}"), value);
            } else if !(place.is_empty() && key == "sources") {
                let length = place.len();
                if length > 0 {
                    place.push('.');
                }
                place.push_str(key);
                self.descend(place, value.get_ref());
                place.truncate(length);
            }
        }
    }

    fn descend(&mut self, place: &mut String, value: &DeValue<'_>) {
        match value {
            DeValue::Table(table) => self.gather(place, table),
            DeValue::Array(rows) => {
                let rows = rows.iter().map(toml::Spanned::get_ref).enumerate();
                for (index, row) in rows.filter(|(_, row)| row.is_table() || row.is_array()) {
                    let length = place.len();
                    // Writing to a text cannot fail.
                    let _ = write!(place, "[{index}]");
                    self.descend(place, row);
                    place.truncate(length);
                }
            }
            _ => {}
        }
    }

    fn keys(&mut self, place: &str, value: &toml::Spanned<DeValue<'_>>) {
        match value.get_ref() {
            DeValue::String(key) => self.list.push((place.to_owned(), key.to_string(), value.span())),
            DeValue::Array(several) => several.iter().for_each(|one| self.keys(place, one)),
            _ => {} // Refused with its place by the shape.
        }
    }

    /// Holds that each key is explained, or stands for itself, and that each explanation is used.
    pub(super) fn check(
        &self,
        text: &str,
        explained: &BTreeMap<String, SourceTable>,
    ) -> Checked<BTreeMap<String, Source>> {
        for (_, key, span) in &self.list {
            if plain(key).is_none() && !explained.contains_key(key) {
                let near = nearest::name(key, explained.keys().map(String::as_str)).map(str::to_owned);
                let fault = Fault::UnknownSource { key: key.clone(), near };
                return Err(Spotted { span: span.clone(), fault });
            }
        }
        let used: BTreeSet<&str> = self.list.iter().map(|(_, key, _)| key.as_str()).collect();
        for key in explained.keys() {
            let reserved = plain(key).is_some();
            if reserved || !used.contains(key.as_str()) {
                let key = key.clone();
                let span = key_in_sources(text, &key);
                let fault =
                    if reserved { Fault::ReservedSource { key } } else { Fault::UnusedSource { key } };
                return Err(Spotted { span, fault });
            }
        }
        let source = |table: &SourceTable| Source {
            kind: table.kind,
            author: table.author.clone(),
            title: table.title.clone(),
            year: table.year,
            place: table.place.clone(),
        };
        Ok(explained.iter().map(|(key, table)| (key.clone(), source(table))).collect())
    }

    /// Place and key of every value.
    pub(super) fn places(self) -> Vec<(String, String)> {
        self.list.into_iter().map(|(place, key, _)| (place, key)).collect()
    }
}

/// The keys that stand for themselves: their kind, and what is said of them.
const PLAIN: [(Basis, &str); 3] = [
    (Basis::CommonPractice, "common practice"),
    (Basis::Proposal, "our estimate"),
    (Basis::FromMemory, "from memory"),
];

/// The kind of a key that stands for itself (`common-practice`, `proposal`, `from-memory`), and what is said of it.
pub(super) fn plain(key: &str) -> Option<(Basis, &'static str)> {
    PLAIN.into_iter().find(|(basis, _)| basis.word() == key)
}

/// The explained sources of a file, to stand values on.
pub(super) struct Grounds {
    pub(super) sources: BTreeMap<String, Source>,
}

impl Grounds {
    /// What a citation stands for. The first key carries the figure: its kind is the basis.
    pub(super) fn of(&self, cite: &Cite) -> Ground {
        let keys = match cite {
            Cite::One(key) => std::slice::from_ref(key),
            Cite::Several(keys) => keys,
        };
        let explained = |key: &String| match self.sources.get(key) {
            Some(source) => (source.kind, source.in_words()),
            None => plain(key)
                .map_or((Basis::FromMemory, key.clone()), |(basis, words)| (basis, words.to_owned())),
        };
        let all: Vec<(Basis, String)> = keys.iter().map(explained).collect();
        let basis = all.first().map_or(Basis::FromMemory, |(basis, _)| *basis);
        Ground { basis, sources: all.into_iter().map(|(_, words)| words).collect() }
    }

    /// A value on the ground that is cited for it.
    pub(super) fn on<T>(&self, value: T, cite: &Cite) -> Sourced<T> {
        Sourced { value, ground: self.of(cite) }
    }
}

fn key_in_sources(text: &str, key: &str) -> Bytes<usize> {
    let span = DeTable::parse(text).ok().and_then(|document| {
        let sources = document.get_ref().get("sources")?.get_ref().as_table()?;
        sources.keys().find(|candidate| candidate.get_ref() == key).map(toml::Spanned::span)
    });
    span.unwrap_or(0..0)
}

fn fault<T, V>(at: &At<V>, fault: Fault) -> Checked<T> {
    Err(Spotted { span: at.span(), fault })
}

/// Holds that a list rises, and that it has a row.
pub(super) fn rising<'r, R: 'r, V: PartialOrd>(
    rows: &'r At<Vec<R>>,
    of: impl Fn(&'r R) -> (Bytes<usize>, V, String),
) -> Checked<()> {
    if rows.get().is_empty() {
        return fault(rows, Fault::NoRows);
    }
    for pair in rows.get().windows(2) {
        let ((_, before, before_name), (span, here, here_name)) = (of(&pair[0]), of(&pair[1]));
        if here <= before {
            return Err(Spotted { span, fault: Fault::NotRising { here: here_name, before: before_name } });
        }
    }
    Ok(())
}

fn pitch_of(at: &At<Pitch>) -> (Bytes<usize>, Sounding, String) {
    (at.span(), at.get().0, at.get().0.to_string())
}

/// A number within bounds.
pub(super) fn within(
    at: &At<f64>,
    bounds: std::ops::RangeInclusive<f64>,
    expected: &'static str,
) -> Checked<f64> {
    let found = *at.get();
    if bounds.contains(&found) { Ok(found) } else { fault(at, Fault::Number { expected, found }) }
}

/// Seconds that can be waited for.
pub(super) fn seconds(at: &At<f64>) -> Checked<Seconds> {
    within(at, 0.0..=3600.0, "seconds from 0 to 3600").map(Seconds::new)
}

pub(super) fn above_zero(at: &At<f64>) -> Checked<f64> {
    within(at, 1e-9..=1e6, "a number above 0, up to a million")
}

fn recognise(raw: &RecogniseTable) -> Checked<Recognise> {
    let mut midi_programs = Vec::new();
    for number in raw.midi_programs.iter().flat_map(|programs| &programs.numbers) {
        let program = *number.get();
        if !(1..=128).contains(&program) {
            let found = f64::from(program);
            return fault(number, Fault::Number { expected: "a MIDI program from 1 to 128", found });
        }
        midi_programs.push(program);
    }
    let texts =
        |list: &Option<super::raw::Texts>| list.iter().flat_map(|texts| texts.texts.clone()).collect();
    let named = |row: &super::raw::Names| {
        let language = row.language;
        row.names.iter().map(move |name| (language, name.clone())).collect::<Vec<_>>()
    };
    Ok(Recognise {
        sounds: texts(&raw.sounds),
        plain_sounds: texts(&raw.plain_sounds),
        plain_names: texts(&raw.plain_names),
        shared_names: texts(&raw.shared_names),
        lowest_of: raw.lowest_of.as_ref().map(|value| *value.count.get()),
        midi_programs,
        names: raw.names.iter().flat_map(named).collect(),
        abbreviations: texts(&raw.abbreviations),
    })
}

fn mechanism(
    raw: &MechanismTable,
    grounds: &Grounds,
    slides: &SlidePart,
    valves: &ValvesPart,
) -> Checked<Mechanism> {
    let left = |key| Spotted { span: raw.kind.span(), fault: Fault::Nowhere { key } };
    let kind = *raw.kind.get();
    let word = match kind {
        MechanismKind::Slide => "slide",
        MechanismKind::Valves => "valves",
        MechanismKind::Keys => "keys",
    };
    // Whether each key is there, and which kinds have it.
    let slide_only = kind == MechanismKind::Slide;
    let valves_only = kind == MechanismKind::Valves;
    let keys = [
        ("slide", raw.slide.is_some(), slide_only, slide_only),
        ("travel", raw.travel.is_some(), slide_only, false),
        ("sound_speed", raw.sound_speed.is_some(), slide_only, false),
        ("lip", raw.lip.is_some(), slide_only, false),
        ("attachments", raw.attachments.is_some(), slide_only, false),
        ("valves", raw.valves.is_some(), valves_only, valves_only),
        ("sharp", raw.sharp.is_some(), valves_only, false),
        ("held_for", raw.held_for.is_some(), valves_only, false),
        (
            "highest_partial",
            raw.highest_partial.is_some(),
            slide_only || valves_only,
            slide_only || valves_only,
        ),
    ];
    for (key, is_there, may, must) in keys {
        if is_there && !may {
            return fault(&raw.kind, Fault::MechanismHasNo { kind: word, key });
        }
        if must && !is_there {
            return fault(&raw.kind, Fault::MechanismNeeds { kind: word, key });
        }
    }
    let fundamental = raw.fundamental.pitch.get().0;
    let highest_partial = raw.highest_partial.as_ref().map_or(0, |value| *value.count.get());
    if let Some(value) = &raw.highest_partial
        && highest_partial == 0
    {
        return fault(&value.count, Fault::Number { expected: "a partial from 1", found: 0.0 });
    }
    if let Some(SlideValue { positions, last_is_long, double, source }) = &raw.slide {
        let limits = slide_part(raw.travel.as_ref(), raw.sound_speed.as_ref(), raw.lip.as_ref(), grounds)?;
        return Ok(Mechanism::Slide(Slide {
            fundamental,
            positions: at_least_one(positions)?,
            last_is_long: *last_is_long,
            tubes: if *double { 4 } else { 2 },
            attachments: attachments(raw, fundamental)?,
            highest_partial,
            ground: grounds.of(source),
            limits: limits.or(slides).complete().map_err(left)?,
        }));
    }
    if let Some(ValvesValue { semitones, compensating, source }) = &raw.valves {
        let limits = valves_part(raw.sharp.as_ref(), raw.held_for.as_ref(), grounds)?;
        let mut lowered = Vec::new();
        for valve in semitones {
            lowered.push(within(valve, 0.5..=12.0, "a valve of half a semitone to an octave")?);
        }
        return Ok(Mechanism::Valves(Valves {
            fundamental,
            semitones: lowered,
            compensating: *compensating,
            highest_partial,
            ground: grounds.of(source),
            limits: limits.or(valves).complete().map_err(left)?,
        }));
    }
    Ok(Mechanism::Keys { fundamental })
}

/// What is said of slides.
pub(super) fn slide_part(
    travel: Option<&Speeds>,
    speed: Option<&SpeedValue>,
    lip: Option<&CentsValue>,
    grounds: &Grounds,
) -> Checked<SlidePart> {
    let mut part = SlidePart::default();
    if let Some(travel) = travel {
        let speeds = [&travel.note, &travel.warning, &travel.error];
        let [note, warning, error] = speeds;
        for pair in speeds.windows(2) {
            let (before, here) = (above_zero(pair[0])?, above_zero(pair[1])?);
            if here < before {
                let (here, before) = (format!("{here} m/s"), format!("{before} m/s"));
                return fault(pair[1], Fault::NotRising { here, before });
            }
        }
        let of_note = travel.note_source.as_ref().unwrap_or(&travel.source);
        part.travel_note = Some(grounds.on(*note.get(), of_note));
        part.travel_warning = Some(grounds.on(*warning.get(), &travel.source));
        part.travel_error = Some(grounds.on(*error.get(), &travel.source));
    }
    if let Some(speed) = speed {
        let of = &speed.metres_per_second;
        part.sound_speed = Some(within(of, 300.0..=400.0, "a speed of sound from 300 to 400 m/s")?);
    }
    if let Some(lip) = lip {
        part.lip = Some(within(&lip.cents, 0.0..=100.0, "cents from 0 to 100")?);
    }
    Ok(part)
}

/// What is said of valves.
pub(super) fn valves_part(
    sharp: Option<&Cents>,
    held: Option<&SecondsValue>,
    grounds: &Grounds,
) -> Checked<ValvesPart> {
    let mut part = ValvesPart::default();
    if let Some(sharp) = sharp {
        let cents = [&sharp.note, &sharp.warning, &sharp.missing];
        for at in cents {
            within(at, 0.0..=1200.0, "cents from 0 to 1200")?;
        }
        for pair in cents.windows(2) {
            let (before, here) = (*pair[0].get(), *pair[1].get());
            if here < before {
                let (here, before) = (format!("{here} cents"), format!("{before} cents"));
                return fault(pair[1], Fault::NotRising { here, before });
            }
        }
        let [note, warning, missing] = cents.map(|at| Some(grounds.on(*at.get(), &sharp.source)));
        (part.sharp_note, part.sharp_warning, part.sharp_missing) = (note, warning, missing);
    }
    if let Some(held) = held {
        part.held_for = Some(grounds.on(seconds(&held.seconds)?, &held.source));
    }
    Ok(part)
}

fn attachments(raw: &MechanismTable, open: Sounding) -> Checked<Vec<Attachment>> {
    let mut attachments = Vec::new();
    for row in raw.attachments.iter().flatten() {
        let fundamental = row.fundamental.get().0;
        if fundamental >= open {
            let (from, to) = (fundamental.to_string(), format!("the open instrument's {open}"));
            return fault(&row.fundamental, Fault::UpsideDown { from, to });
        }
        attachments.push(Attachment {
            name: row.name.clone(),
            fundamental,
            positions: at_least_one(&row.positions)?,
            last_is_long: row.last_is_long,
        });
    }
    Ok(attachments)
}

/// A count of one or more.
pub(super) fn at_least_one<N: Copy + Into<u16>>(at: &At<N>) -> Checked<N> {
    let count = *at.get();
    if count.into() > 0 { Ok(count) } else { fault(at, Fault::Number { expected: "at least 1", found: 0.0 }) }
}

fn range(raw: &RangeTable, grounds: &Grounds) -> Checked<Range> {
    rising(&raw.rows, |row| pitch_of(&row.from))?;
    let top = raw.top.pitch.get().0;
    let mut rows: Vec<ZoneRow> = Vec::new();
    for row in raw.rows.get() {
        let before = rows.last().map(|row| row.zone);
        let zone = match (row.zone.get(), before) {
            (ZoneName::Effect, None) => Zone::Effect,
            (ZoneName::Extreme, None | Some(Zone::Effect)) => Zone::ExtremeLow,
            (ZoneName::Comfortable, None | Some(Zone::Effect | Zone::ExtremeLow)) => Zone::Comfortable,
            (ZoneName::Extreme, Some(Zone::Comfortable)) => Zone::ExtremeHigh,
            (here, before) => {
                let here = match here {
                    ZoneName::Effect => "effect",
                    ZoneName::Extreme => "extreme",
                    ZoneName::Comfortable => "comfortable",
                };
                return fault(&row.zone, Fault::ZoneOrder { here, before: before.map_or("", Zone::word) });
            }
        };
        rows.push(ZoneRow { from: row.from.get().0, zone, ground: grounds.of(&row.source) });
    }
    let last = rows.last().map_or(top, |row| row.from);
    if top < last {
        let fault_here = Fault::TopBelowRows { top: top.to_string(), last: last.to_string() };
        return fault(&raw.top.pitch, fault_here);
    }
    let Some(comfortable) = rows.iter().position(|row| row.zone == Zone::Comfortable) else {
        return fault(&raw.rows, Fault::NothingComfortable);
    };
    let (from, to) = (raw.usual.from.get().0, raw.usual.to.get().0);
    if from > to {
        return fault(&raw.usual.from, Fault::UpsideDown { from: from.to_string(), to: to.to_string() });
    }
    let lowest = rows[comfortable].from;
    let beyond = rows.get(comfortable + 1).map(|row| row.from);
    for (at, pitch) in [(&raw.usual.from, from), (&raw.usual.to, to)] {
        let too_high = beyond.map_or(pitch > top, |beyond| pitch >= beyond);
        if pitch < lowest || too_high {
            let to = beyond.map_or_else(|| top.to_string(), |beyond| format!("below {beyond}"));
            return fault(at, Fault::UsualOutsideComfortable { from: lowest.to_string(), to });
        }
    }
    let beyond_usual = raw.beyond_usual.as_ref().map_or_else(Neighbours::default, |value| Neighbours {
        above: value.above.clone(),
        below: value.below.clone(),
    });
    let top = grounds.on(top, &raw.top.source);
    Ok(Range { rows, top, usual: grounds.on((from, to), &raw.usual.source), beyond_usual })
}

/// Holds that rows begin where the range begins and stay within it.
fn over_the_compass(first: &At<Pitch>, all: &[&At<Pitch>], range: &Range) -> Checked<()> {
    let bottom = range.bottom();
    if first.get().0 > bottom {
        let (bottom, first_name) = (bottom.to_string(), first.get().0.to_string());
        return fault(first, Fault::Hole { bottom, first: first_name });
    }
    for at in all {
        let here = at.get().0;
        if here < bottom || here > *range.top {
            let [here, bottom, top] = [here, bottom, *range.top].map(|pitch| pitch.to_string());
            return fault(at, Fault::OutsideRange { here, bottom, top });
        }
    }
    Ok(())
}

fn loudness(raw: &LoudnessTable, range: &Range, grounds: &Grounds) -> Checked<Vec<LoudnessRow>> {
    rising(&raw.rows, |row| pitch_of(&row.from))?;
    let places: Vec<_> = raw.rows.get().iter().map(|row| &row.from).collect();
    if let Some(first) = places.first() {
        over_the_compass(first, &places, range)?;
    }
    let mut rows = Vec::new();
    for row in raw.rows.get() {
        let (floor, ceiling) = (row.floor.get().0, row.ceiling.get().0);
        if floor > ceiling {
            return fault(&row.floor, Fault::FloorAboveCeiling { floor, ceiling });
        }
        rows.push(LoudnessRow {
            from: row.from.get().0,
            floor: grounds.on(floor, row.floor_source.as_ref().unwrap_or(&row.source)),
            ceiling: grounds.on(ceiling, &row.source),
        });
    }
    Ok(rows)
}

/// What is said of hits and mutes.
pub(super) fn strokes(
    hit: Option<&HitValue>,
    muted: Option<&StepsValue>,
    grounds: &Grounds,
) -> Checked<StrokesPart> {
    let mut part = StrokesPart::default();
    if let Some(hit) = hit {
        let limits = HitLimits { longest: seconds(&hit.longest)?, from: hit.from.0, ceiling: hit.ceiling.0 };
        part.hit = Some(grounds.on(limits, &hit.source));
    }
    if let Some(muted) = muted {
        let steps = *muted.steps.get();
        if !(0..=13).contains(&steps) {
            let expected = "steps from 0 to 13";
            return fault(&muted.steps, Fault::Number { expected, found: f64::from(steps) });
        }
        part.muted_steps = Some(grounds.on(steps, &muted.source));
    }
    Ok(part)
}

/// What is said of the law of flow.
pub(super) fn law(raw: &SustainTable, grounds: &Grounds) -> Checked<LawPart> {
    let mut part = LawPart::default();
    if let Some(usable) = &raw.usable {
        let litres = within(&usable.litres, 0.5..=10.0, "litres from 0.5 to 10")?;
        part.usable = Some(grounds.on(Litres::new(litres), &usable.source));
    }
    if let Some(flow) = &raw.flow {
        let law = Flow {
            at: flow.at.0,
            litres_a_second: within(&flow.litres_per_second, 0.01..=10.0, "litres a second from 0.01 to 10")?,
            exponent: within(
                &flow.exponent,
                -2.0..=0.0,
                "a power from -2 to 0: higher notes take no more air",
            )?,
            most: within(&flow.most, 0.01..=10.0, "litres a second from 0.01 to 10")?,
        };
        part.flow = Some(grounds.on(law, &flow.source));
    }
    if let Some(shares) = &raw.shares {
        rising(shares, |row| {
            let dynamic = row.dynamic.get().0;
            (row.dynamic.span(), dynamic, dynamic.to_string())
        })?;
        let mut list: Vec<Sourced<FlowShare>> = Vec::new();
        for row in shares.get() {
            let share = within(&row.share, 0.001..=1.0, "a share from 0.001 to 1")?;
            if let Some(before) = list.last().filter(|before| before.share > share) {
                let (here, before) = (share.to_string(), before.share.to_string());
                return fault(&row.share, Fault::NotRising { here, before });
            }
            list.push(grounds.on(FlowShare { dynamic: row.dynamic.get().0, share }, &row.source));
        }
        part.shares = Some(list);
    }
    part.unmarked = raw.unmarked.as_ref().map(|level| grounds.on(level.dynamic.0, &level.source));
    Ok(part)
}

/// What was measured on the instrument itself.
fn sustain_rows(raw: &SustainTable, range: &Range, grounds: &Grounds) -> Checked<Vec<SustainRow>> {
    let Some(rows) = &raw.rows else { return Ok(Vec::new()) };
    rising(rows, |row| pitch_of(&row.at))?;
    let mut measured = Vec::new();
    for row in rows.get() {
        let here = row.at.get().0;
        if here < range.bottom() || here > *range.top {
            let [here, bottom, top] = [here, range.bottom(), *range.top].map(|pitch| pitch.to_string());
            return fault(&row.at, Fault::OutsideRange { here, bottom, top });
        }
        let mut figures: Vec<(Dynamic, f64)> = Vec::new();
        for (dynamic, at) in columns(row) {
            let longer = above_zero(at)?;
            if let Some(&(softer, shorter)) = figures.last()
                && longer > shorter
            {
                return fault(at, Fault::LouderLastsLonger { louder: dynamic, longer, softer, shorter });
            }
            figures.push((dynamic, longer));
        }
        if figures.is_empty() {
            return fault(&row.at, Fault::NoRows);
        }
        measured.push(SustainRow { at: here, seconds: figures, ground: grounds.of(&row.source) });
    }
    Ok(measured)
}

fn columns(row: &SustainRowValue) -> Vec<(Dynamic, &At<f64>)> {
    [
        (Dynamic::Pppp, &row.pppp),
        (Dynamic::Ppp, &row.ppp),
        (Dynamic::Pp, &row.pp),
        (Dynamic::P, &row.p),
        (Dynamic::Mp, &row.mp),
        (Dynamic::Mf, &row.mf),
        (Dynamic::F, &row.f),
        (Dynamic::Ff, &row.ff),
        (Dynamic::Fff, &row.fff),
        (Dynamic::Ffff, &row.ffff),
    ]
    .into_iter()
    .filter_map(|(dynamic, at)| at.as_ref().map(|at| (dynamic, at)))
    .collect()
}

/// What is said of how a breath is taken.
pub(super) fn breath(raw: &BreathTable, grounds: &Grounds) -> Checked<BreathPart> {
    let one = |value: &BreathValue| -> Checked<_> {
        let share = within(&value.refills, 0.0..=1.0, "a share from 0 to 1")?;
        Ok(grounds.on((seconds(&value.seconds)?, BreathShare::new(share)), &value.source))
    };
    let share = |value: &super::raw::ShareValue| -> Checked<_> {
        Ok(grounds.on(within(&value.share, 0.0..=1.0, "a share from 0 to 1")?, &value.source))
    };
    let time = |value: &SecondsValue| of_seconds(value, grounds);
    let long_note = |value: &super::raw::FactorValue| -> Checked<_> {
        Ok(grounds.on(above_zero(&value.factor)?, &value.source))
    };
    Ok(BreathPart {
        quick: raw.quick.as_ref().map(one).transpose()?,
        full: raw.full.as_ref().map(one).transpose()?,
        shortest: raw.shortest.as_ref().map(time).transpose()?,
        stolen: raw.stolen.as_ref().map(time).transpose()?,
        stolen_share: raw.stolen_share.as_ref().map(share).transpose()?,
        stolen_long: raw.stolen_long.as_ref().map(share).transpose()?,
        long_note: raw.long_note.as_ref().map(long_note).transpose()?,
    })
}

fn of_seconds(value: &SecondsValue, grounds: &Grounds) -> Checked<Sourced<Seconds>> {
    Ok(grounds.on(seconds(&value.seconds)?, &value.source))
}

/// What is said of how fast an instrument speaks and moves.
pub(super) fn agility(raw: &AgilityTable, grounds: &Grounds) -> Checked<AgilityPart> {
    let single_tongue = raw.single_tongue.as_ref().map(|value| of_seconds(value, grounds)).transpose()?;
    let mut part = AgilityPart { single_tongue, ..AgilityPart::default() };
    if let Some(double) = &raw.double_tongue {
        let usual = double.usual.as_ref().is_none_or(|usual| *usual.get());
        let time = match (&double.seconds, &double.usual) {
            (Some(at), _) if usual => Some(seconds(at)?),
            (None, Some(_)) if !usual => None,
            (Some(_), Some(at)) => {
                return fault(at, Fault::Shape("write either seconds, or usual = false".to_owned()));
            }
            (_, at) => {
                let span = at.as_ref().map_or(0..0, At::span);
                let shape = "double_tongue needs seconds, or usual = false".to_owned();
                return Err(Spotted { span, fault: Fault::Shape(shape) });
            }
        };
        part.double_tongue = Some(grounds.on(time, &double.source));
    }
    if let Some(response) = &raw.response {
        let cycles = within(&response.cycles, 0.0..=100.0, "cycles from 0 to 100")?;
        part.cycles = Some(grounds.on(cycles, &response.source));
    }
    if let Some(slowness) = &raw.slowness {
        part.slowness = Some(grounds.on(above_zero(&slowness.factor)?, &slowness.source));
    }
    if let Some(leaps) = &raw.leaps {
        let mut list = Vec::new();
        for row in leaps {
            list.push(grounds.on((above_zero(&row.semitones)?, seconds(&row.seconds)?), &row.source));
        }
        part.leaps = Some(list);
    }
    Ok(part)
}

/// What is said of mutes and pick-up times; which instruments a player brings only a profile says.
pub(super) fn changes(raw: &ChangesTable, grounds: &Grounds) -> Checked<ChangesPart> {
    let rest = |value: &TwoSeconds| -> Checked<_> {
        let (note, warning) = (seconds(&value.note)?, seconds(&value.warning)?);
        if warning > note {
            let (note, warning) = (note.get(), warning.get());
            return fault(&value.warning, Fault::WarningBeforeNote { note, warning });
        }
        Ok(grounds.on((note, warning), &value.source))
    };
    let mutes = |rows: &Vec<super::raw::MuteRow>| {
        rows.iter().map(|row| grounds.on((row.mute.0, row.rare), &row.source)).collect()
    };
    Ok(ChangesPart {
        mutes: raw.mutes.as_ref().map(mutes),
        mute_in: raw.mute_in.as_ref().map(rest).transpose()?,
        mute_out: raw.mute_out.as_ref().map(rest).transpose()?,
        pick_up: raw.pick_up.as_ref().map(rest).transpose()?,
        brings: None,
    })
}

/// A way of writing, as it stands in the file.
pub(super) fn tradition(row: &super::raw::TraditionRow) -> Tradition {
    Tradition { name: row.name.clone(), clef: row.clef.0, written_above: row.written_above }
}

fn notation(raw: &NotationTable, grounds: &Grounds) -> Notation {
    let lines = &raw.ledger_lines;
    Notation {
        clefs: grounds.on(raw.clefs.clefs.iter().map(|clef| clef.0).collect(), &raw.clefs.source),
        traditions: raw.traditions.iter().map(tradition).collect(),
        ledger_lines_below: grounds.on(lines.below, &lines.source),
        ledger_lines_above: grounds.on(lines.above, &lines.source),
        ottava_from: grounds.on(raw.ottava_from.pitch.get().0, &raw.ottava_from.source),
    }
}

#[cfg(test)]
mod tests;
