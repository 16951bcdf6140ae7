//! TOML to a checked [`Profile`]: in goes a file's text, out comes a profile whose rows rise, nest and leave no
//! hole, each value with a source that is explained, or the first fault with its place and the way out.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::ops::Range as Bytes;

use serde::Deserialize;
use toml::de::{DeTable, DeValue};

use super::error::{ProfileError, ProfileFault as Fault, Spotted};
use super::raw::{
    AgilityTable, At, BreathTable, BreathValue, ChangesTable, Cite, LoudnessTable, MechanismKind,
    MechanismTable, NotationTable, Pitch, ProfileFile, RangeTable, RecogniseTable, SlideValue, SourceTable,
    SustainRowValue, SustainTable, TwoSeconds, ValvesValue, ZoneName,
};
use super::{
    Agility, Attachment, Breath, Changes, Loudness, LoudnessRow, Mechanism, Neighbours, Notation, Profile,
    Range, Recognise, Slide, Source, Sustain, SustainRow, Tradition, Valves, Zone, ZoneRow,
};
use crate::finding::{Basis, Ground, Sourced};
use crate::music::{BreathShare, Dynamic, Litres, Seconds, Sounding};
use crate::nearest;

/// A step of the check.
pub(super) type Checked<T> = Result<T, Spotted>;

/// Reads and checks one profile. `file` is only named in errors; its stem must be the profile's name.
pub(super) fn profile(file: &str, text: &str) -> Result<Profile, ProfileError> {
    read(file, text).map_err(|spotted| spotted.in_file(file, text))
}

/// Deserializes a file and gathers its sources: every `source` key, with the place of the value it stands in.
pub(super) fn parse<'t, T: Deserialize<'t>>(text: &'t str) -> Checked<(T, Citations)> {
    let document = DeTable::parse(text)?;
    let mut citations = Citations { list: Vec::new() };
    citations.gather(&mut String::new(), document.get_ref());
    let file = T::deserialize(toml::de::Deserializer::from(document))?;
    Ok((file, citations))
}

fn read(file: &str, text: &str) -> Checked<Profile> {
    let (raw, citations): (ProfileFile, Citations) = parse(text)?;
    let stem = file.rsplit(['/', '\\']).next().unwrap_or(file);
    let stem = stem.strip_suffix(".toml").unwrap_or(stem);
    if raw.name.get() != stem {
        return fault(&raw.name, Fault::NameIsNotStem { stem: stem.to_owned() });
    }
    let grounds = Grounds { sources: citations.check(text, &raw.sources)? };
    let range = range(&raw.range, &grounds)?;
    let profile = Profile {
        name: raw.name.get().clone(),
        title: raw.title,
        a_title: raw.a_title,
        about: raw.about,
        family: raw.family,
        recognise: recognise(&raw.recognise)?,
        mechanism: mechanism(&raw.mechanism, &grounds)?,
        loudness: loudness(&raw.loudness, &range, &grounds)?,
        sustain: sustain(&raw.sustain, &range, &grounds)?,
        range,
        breath: breath(&raw.breath, &grounds)?,
        agility: agility(&raw.agility, &grounds)?,
        changes: changes(&raw.changes, &grounds)?,
        notation: notation(&raw.notation, &grounds),
        sources: grounds.sources,
        cited: citations.places(),
    };
    Ok(profile)
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

fn mechanism(raw: &MechanismTable, grounds: &Grounds) -> Checked<Mechanism> {
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
        ("travel", raw.travel.is_some(), slide_only, slide_only),
        ("sound_speed", raw.sound_speed.is_some(), slide_only, slide_only),
        ("lip", raw.lip.is_some(), slide_only, slide_only),
        ("attachments", raw.attachments.is_some(), slide_only, false),
        ("valves", raw.valves.is_some(), valves_only, valves_only),
        ("sharp", raw.sharp.is_some(), valves_only, valves_only),
        ("held_for", raw.held_for.is_some(), valves_only, valves_only),
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
    if let (Some(slide), Some(travel), Some(speed), Some(lip)) =
        (&raw.slide, &raw.travel, &raw.sound_speed, &raw.lip)
    {
        let travel_warning = above_zero(&travel.warning)?;
        let travel_error = above_zero(&travel.error)?;
        if travel_error < travel_warning {
            let (error, warning) = (travel_error, travel_warning);
            return fault(&travel.error, Fault::ErrorBeforeWarning { error, warning, than: "below" });
        }
        let SlideValue { positions, last_is_long, double, .. } = slide;
        return Ok(Mechanism::Slide(Slide {
            fundamental,
            positions: at_least_one(positions)?,
            last_is_long: *last_is_long,
            tubes: if *double { 4 } else { 2 },
            attachments: attachments(raw, fundamental)?,
            highest_partial,
            ground: grounds.of(&slide.source),
            travel_warning: grounds.on(travel_warning, &travel.source),
            travel_error: grounds.on(travel_error, &travel.source),
            lip: within(&lip.cents, 0.0..=100.0, "cents from 0 to 100")?,
            sound_speed: within(
                &speed.metres_per_second,
                300.0..=400.0,
                "a speed of sound from 300 to 400 m/s",
            )?,
        }));
    }
    if let (Some(valves), Some(sharp), Some(held)) = (&raw.valves, &raw.sharp, &raw.held_for) {
        return valve_set(valves, sharp, held, (fundamental, highest_partial), grounds)
            .map(Mechanism::Valves);
    }
    Ok(Mechanism::Keys { fundamental })
}

fn valve_set(
    valves: &ValvesValue,
    sharp: &super::raw::Cents,
    held: &super::raw::SecondsValue,
    (fundamental, highest_partial): (Sounding, u8),
    grounds: &Grounds,
) -> Checked<Valves> {
    let mut semitones = Vec::new();
    for valve in &valves.semitones {
        semitones.push(within(valve, 0.5..=12.0, "a valve of half a semitone to an octave")?);
    }
    let cents = |at: &At<f64>| within(at, 0.0..=1200.0, "cents from 0 to 1200");
    let (sharp_note, sharp_warning) = (cents(&sharp.note)?, cents(&sharp.warning)?);
    let sharp_missing = cents(&sharp.missing)?;
    for (at, here, before) in
        [(&sharp.warning, sharp_warning, sharp_note), (&sharp.missing, sharp_missing, sharp_warning)]
    {
        if here < before {
            let (here, before) = (format!("{here} cents"), format!("{before} cents"));
            return fault(at, Fault::NotRising { here, before });
        }
    }
    Ok(Valves {
        fundamental,
        semitones,
        compensating: valves.compensating,
        highest_partial,
        ground: grounds.of(&valves.source),
        sharp_note: grounds.on(sharp_note, &sharp.source),
        sharp_warning: grounds.on(sharp_warning, &sharp.source),
        sharp_missing: grounds.on(sharp_missing, &sharp.source),
        held_for: grounds.on(seconds(&held.seconds)?, &held.source),
    })
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

fn loudness(raw: &LoudnessTable, range: &Range, grounds: &Grounds) -> Checked<Loudness> {
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
    let steps = *raw.muted.steps.get();
    if !(0..=13).contains(&steps) {
        let expected = "steps from 0 to 13";
        return fault(&raw.muted.steps, Fault::Number { expected, found: f64::from(steps) });
    }
    Ok(Loudness {
        rows,
        hit_longest: grounds.on(seconds(&raw.hit.longest)?, &raw.hit.source),
        hit_from: grounds.on(raw.hit.from.0, &raw.hit.source),
        hit_ceiling: grounds.on(raw.hit.ceiling.0, &raw.hit.source),
        muted_steps: grounds.on(steps, &raw.muted.source),
    })
}

fn sustain(raw: &SustainTable, range: &Range, grounds: &Grounds) -> Checked<Sustain> {
    rising(&raw.rows, |row| pitch_of(&row.at))?;
    let mut rows = Vec::new();
    let mut dynamics: Vec<Dynamic> = Vec::new();
    for (index, row) in raw.rows.get().iter().enumerate() {
        let here = columns(row);
        let given: Vec<Dynamic> = here.iter().map(|(dynamic, _)| *dynamic).collect();
        if index == 0 {
            over_the_compass(&row.at, &[], range)?;
            if given.is_empty() {
                return fault(&row.at, Fault::NoRows);
            }
            dynamics.clone_from(&given);
        } else if given != dynamics {
            let [here, first] = [&given, &dynamics]
                .map(|list| list.iter().map(|d| d.letters()).collect::<Vec<_>>().join(", "));
            return fault(&row.at, Fault::OtherDynamics { here, first });
        }
        let mut figures = Vec::new();
        for (dynamic, at) in here {
            let longer = above_zero(at)?;
            if let Some((&shorter, &softer)) = figures.last().zip(given.get(figures.len().wrapping_sub(1)))
                && longer > shorter
            {
                return fault(at, Fault::LouderLastsLonger { louder: dynamic, longer, softer, shorter });
            }
            figures.push(longer);
        }
        rows.push(SustainRow { at: row.at.get().0, seconds: figures, ground: grounds.of(&row.source) });
    }
    let litres = within(&raw.usable.litres, 0.5..=10.0, "litres from 0.5 to 10")?;
    Ok(Sustain {
        rows,
        dynamics,
        usable: grounds.on(Litres::new(litres), &raw.usable.source),
        unmarked: grounds.on(raw.unmarked.dynamic.0, &raw.unmarked.source),
    })
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

fn breath(raw: &BreathTable, grounds: &Grounds) -> Checked<Breath> {
    let one = |value: &BreathValue| -> Checked<_> {
        let share = within(&value.refills, 0.0..=1.0, "a share from 0 to 1")?;
        Ok(grounds.on((seconds(&value.seconds)?, BreathShare::new(share)), &value.source))
    };
    let share = |value: &super::raw::ShareValue| -> Checked<_> {
        Ok(grounds.on(within(&value.share, 0.0..=1.0, "a share from 0 to 1")?, &value.source))
    };
    let (quick, full) = (one(&raw.quick)?, one(&raw.full)?);
    if full.0 < quick.0 {
        let (from, to) = ("a quick breath".to_owned(), "a full one".to_owned());
        return fault(&raw.full.seconds, Fault::UpsideDown { from, to });
    }
    Ok(Breath {
        quick,
        full,
        shortest: grounds.on(seconds(&raw.shortest.seconds)?, &raw.shortest.source),
        stolen: grounds.on(seconds(&raw.stolen.seconds)?, &raw.stolen.source),
        stolen_share: share(&raw.stolen_share)?,
        stolen_long: share(&raw.stolen_long)?,
        long_note: grounds.on(above_zero(&raw.long_note.factor)?, &raw.long_note.source),
    })
}

fn agility(raw: &AgilityTable, grounds: &Grounds) -> Checked<Agility> {
    let tongue = |value: &super::raw::SecondsValue| -> Checked<_> {
        Ok(grounds.on(seconds(&value.seconds)?, &value.source))
    };
    let double_tongue = raw.double_tongue.as_ref().map(tongue).transpose()?;
    let mut leaps = Vec::new();
    for row in &raw.leaps {
        leaps.push(grounds.on((above_zero(&row.semitones)?, seconds(&row.seconds)?), &row.source));
    }
    Ok(Agility {
        single_tongue: tongue(&raw.single_tongue)?,
        double_tongue,
        cycles: grounds
            .on(within(&raw.response.cycles, 0.0..=100.0, "cycles from 0 to 100")?, &raw.response.source),
        slowness: grounds.on(above_zero(&raw.slowness.factor)?, &raw.slowness.source),
        leaps,
    })
}

fn changes(raw: &ChangesTable, grounds: &Grounds) -> Checked<Changes> {
    let pair = |value: &TwoSeconds| -> Checked<_> {
        let (safe, least) = (seconds(&value.note)?, seconds(&value.warning)?);
        if least > safe {
            let (note, warning) = (safe.get(), least.get());
            return fault(&value.warning, Fault::WarningBeforeNote { note, warning });
        }
        Ok(grounds.on((safe, least), &value.source))
    };
    Ok(Changes {
        mutes: raw.mutes.iter().map(|row| grounds.on((row.mute.0, row.rare), &row.source)).collect(),
        mute_in: pair(&raw.mute_in)?,
        mute_out: pair(&raw.mute_out)?,
        pick_up: pair(&raw.pick_up)?,
        brings: raw
            .brings
            .iter()
            .flat_map(|brings| &brings.profiles)
            .map(|profile| profile.get().clone())
            .collect(),
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
