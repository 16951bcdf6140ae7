//! Which instrument a part is for: in go the part list, the profiles and what the settings say; out comes a
//! verdict for each part. Nothing is guessed silently: what looks like low brass and cannot be told is said.
//!
//! What decides, in this order: the settings; a sound id that means one instrument, unless the printed name says
//! another one; the printed name (the part's, its group's where the part has only a number, its instrument's where that
//! says more); a sound id that says only the family; the abbreviation; the MIDI program. Exporters often leave a sound of
//! the family's first member, so a name that says more always wins over such a plain sound. A sound id of another family,
//! lyrics, a voice's name or clef and another instrument's name veto what a program alone says; lyrics veto all but a name
//! that says brass. The words and names themselves stand in `profiles/`.

mod names;
mod plurals;
mod sharers;
mod words;

use std::collections::BTreeMap;
use std::sync::Arc;

use self::names::Reading;
use self::words::words;
use super::{Family, Profile, Profiles};
use crate::score::{ClefSign, Instrument, Mute, PartInfo};

/// How a part was recognised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum RecognisedBy {
    InstrumentSound,
    Name,
    Abbreviation,
    MidiProgram,
    /// By its place among its neighbours (the lowest of three trombones).
    Section,
    Settings,
    /// `--as`.
    CommandLine,
}

/// Why a part was not recognised.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// It may be low brass; nothing tells which instrument.
    NothingKnown,
    /// Several instruments fit alike and only a person can say which; their titles with their article.
    SeveralFit(Vec<String>),
}

/// What was made of a part.
#[derive(Clone, Debug)]
pub enum Verdict {
    /// Low brass.
    Instrument {
        /// The instrument in hand from the start.
        profile: Arc<Profile>,
        /// How it was known.
        by: RecognisedBy,
        /// Instruments that the same name brings along ("Tuba / Cimbasso"), or that one of its players has.
        also: Vec<Arc<Profile>>,
    },
    /// It may be low brass; only a person can say.
    Unrecognised(Doubt),
    /// Something else.
    PassedOver,
}

/// An instrument named by itself.
#[derive(Clone, Debug)]
pub struct Named {
    /// Which.
    pub profile: Arc<Profile>,
    /// The name is its whole family's ("Tuba").
    pub is_family: bool,
}

/// More players than this read no one part; a larger number in a name is no number of players.
const MOST_PLAYERS: u8 = 12;

/// What the settings and the command line say of the players.
#[derive(Clone, Debug, Default)]
pub struct Casting {
    /// By [`PartInfo::index`].
    pub parts: BTreeMap<u32, PartCasting>,
}

/// What the settings and the command line say of one part.
#[derive(Clone, Debug, Default)]
pub struct PartCasting {
    /// Read it as this, known by settings or by `--as`.
    pub profile: Option<(Arc<Profile>, RecognisedBy)>,
    /// Instruments within reach.
    pub instruments: Vec<Arc<Profile>>,
    /// Mutes at hand; `None`: those that exist for the instrument.
    pub mutes: Option<Vec<Mute>>,
    /// How many players read it.
    pub players: Option<u8>,
    /// A player's breath against the profile's; `None` is 1.
    pub breath: Option<f64>,
    /// Leave it out, whatever it is.
    pub pass_over: bool,
}

/// How many players a name speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum NamedPlayers {
    /// It names one instrument and no number.
    One,
    /// By its numbers.
    Counted(u8),
    /// By a bare plural.
    Several,
}

/// The names, sounds and programs of all profiles, ready to look up.
#[derive(Clone, Debug)]
pub struct Recogniser {
    entries: Vec<Entry>,
    profiles: Vec<Arc<Profile>>,
    tuba: Option<Arc<Profile>>,
}

/// A name that means an instrument.
#[derive(Clone, Debug)]
struct Entry {
    /// Its words, sorted.
    words: Vec<String>,
    key: Option<&'static str>,
    profile: Arc<Profile>,
    weight: Weight,
    /// It is an abbreviation.
    short: bool,
    /// It is the plural of another name.
    plural: bool,
}

/// How much a name says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Weight {
    /// The instrument.
    Full,
    /// The family.
    Plain,
    /// A voice bears it as well.
    Shared,
}

/// A name found in a reading.
#[derive(Clone, Debug)]
struct Found {
    profile: Arc<Profile>,
    weight: Weight,
    /// It was found by an abbreviation.
    short: bool,
    /// It was found by a plural.
    plural: bool,
    /// The words it stands on, as a range of [`Reading::words`].
    from: usize,
    to: usize,
}

impl Found {
    const fn by(&self) -> RecognisedBy {
        if self.short { RecognisedBy::Abbreviation } else { RecognisedBy::Name }
    }
}

impl Recogniser {
    /// From the profiles at hand. `tuba` is the instrument for a part that only says "Tuba".
    pub fn new(profiles: &Profiles, tuba: Option<Arc<Profile>>) -> Recogniser {
        let mut entries = Vec::new();
        let mut in_order: Vec<&Arc<Profile>> = profiles.iter().collect();
        // Of profiles with the same name ("Kontrabasstuba" in C or in B flat) the settings' tuba wins, then the one that
        // a plain name means.
        in_order.sort_by_key(|profile| {
            let is_tuba = tuba.as_ref().is_some_and(|tuba| tuba.name == profile.name);
            std::cmp::Reverse((is_tuba, !profile.recognise.plain_names.is_empty()))
        });
        for profile in in_order {
            let recognise = &profile.recognise;
            let full = recognise.names.iter().map(|(_, name)| (name, Weight::Full));
            let plain = recognise.plain_names.iter().map(|name| (name, Weight::Plain));
            let shared = recognise.shared_names.iter().map(|name| (name, Weight::Shared));
            let plurals = plurals::of(&recognise.names);
            for (name, weight) in full.chain(plain).chain(shared) {
                let plural = weight == Weight::Full && plurals.contains(name.as_str());
                let Reading { mut words, key, .. } = names::read(name);
                words.sort_unstable();
                let profile = Arc::clone(profile);
                entries.push(Entry { words, key, profile, weight, short: false, plural });
            }
            for text in &recognise.abbreviations {
                let Reading { mut words, key, .. } = names::read(text);
                // Of two letters alone ("Tb.") it is for the whole name to say.
                if words.first().is_some_and(|word| word.chars().count() > 2 || words.len() > 1) {
                    let of_family = words.len() == 1 && !recognise.plain_names.is_empty();
                    let weight = if of_family { Weight::Plain } else { Weight::Full };
                    words.sort_unstable();
                    // Of a family's word what is printed tells whether it is short.
                    let short = words.iter().all(|word| self::words::words().family(word).is_none());
                    let profile = Arc::clone(profile);
                    entries.push(Entry { words, key, profile, weight, short, plural: false });
                }
            }
        }
        Recogniser { entries, profiles: profiles.iter().cloned().collect(), tuba }
    }

    /// A verdict for each part of the list, in order.
    pub fn recognise_all(&self, parts: &[PartInfo], casting: &Casting) -> Vec<Verdict> {
        let readings: Vec<Reading> = parts.iter().map(|part| self.reading(part)).collect();
        let mut verdicts: Vec<(Verdict, bool)> = Vec::new();
        for (index, part) in parts.iter().enumerate() {
            verdicts.push(match casting.parts.get(&part.index) {
                Some(told) if told.pass_over => (Verdict::PassedOver, false),
                Some(PartCasting { profile: Some((profile, by)), .. }) => {
                    (Verdict::Instrument { profile: Arc::clone(profile), by: *by, also: Vec::new() }, false)
                }
                told => {
                    match (self.part(part, &readings, index), told.and_then(|told| told.instruments.first()))
                    {
                        ((Verdict::Instrument { profile, by, also }, plain), _) => {
                            (Verdict::Instrument { profile, by, also }, plain)
                        }
                        // The settings name only the instruments in reach: the first is in hand.
                        (_, Some(instrument)) => {
                            let (profile, by) = (Arc::clone(instrument), RecognisedBy::Settings);
                            (Verdict::Instrument { profile, by, also: Vec::new() }, false)
                        }
                        (verdict, None) => verdict,
                    }
                }
            });
        }
        self.wagner_tubas(&readings, &mut verdicts);
        self.lowest_of_its_family(&readings, &mut verdicts);
        verdicts.into_iter().map(|(verdict, _)| verdict).collect()
    }

    /// The instrument that words such as "Basstuba", "bass trombone" or "F" tell a player to take up, from the one in
    /// hand. `None` where they name none.
    pub fn recognise_words(&self, text: &str, in_hand: Option<&Profile>) -> Option<Arc<Profile>> {
        let reading = names::read(text);
        if let Some(found) = self.find(&reading).first() {
            return (!has_other(&reading, &self.find(&reading))).then(|| self.settle(found));
        }
        let in_hand = in_hand?;
        if reading.words.is_empty() {
            let key = reading.key?;
            let of_key = |entry: &&Entry| entry.key == Some(key) && entry.profile.family == in_hand.family;
            return self.entries.iter().filter(of_key).map(|entry| Arc::clone(&entry.profile)).next();
        }
        // "muta in basso" on a trombone: the family goes without saying.
        let family = if in_hand.family == Family::Trombone { "trombone" } else { "tuba" };
        let mut said = names::read(&format!("{} {family}", reading.printed.join(" ")));
        said.key = reading.key;
        let found = self.find(&said);
        found
            .first()
            .filter(|found| found.to - found.from == said.words.len())
            .map(|found| self.settle(found))
    }

    /// The instrument that a text names which says nothing else: "Contrabass Tuba", "Tuba in F"; `None` for abbreviations,
    /// numbered desks, voices and all that says more.
    pub fn recognise_name(&self, text: &str) -> Option<Named> {
        let reading = names::read(text);
        let [found] = &self.find(&reading)[..] else { return None };
        let is_all = (found.from, found.to) == (0, reading.words.len());
        let is_bare = reading.numbers.is_empty() && reading.count.is_none() && !names::has_filler(text);
        let is_family = found.weight == Weight::Plain && reading.key.is_none();
        (is_all && is_bare && !found.short && found.weight != Weight::Shared)
            .then(|| Named { profile: self.settle(found), is_family })
    }

    /// How many players a part's name speaks of; `None` where it names one instrument and no number.
    ///
    /// "2 Tubas", "Tuba 1, 2" and "Trombones a2" are two, "Trombones 1-3" three, "Tubas" at least two; "Tuba 2", "2nd
    /// Trombone" and "2. Posaune" are one.
    pub fn players_named(&self, part: &PartInfo) -> Option<u8> {
        let name = if part.name.trim().is_empty() { &part.abbreviation } else { &part.name };
        match self.players_in(name) {
            NamedPlayers::One => None,
            NamedPlayers::Counted(count) => Some(count),
            NamedPlayers::Several => Some(2),
        }
    }

    fn players_in(&self, name: &str) -> NamedPlayers {
        let reading = names::read(name);
        let may_count = |number: &u8| (1..=MOST_PLAYERS).contains(number);
        if let Some(count) = reading.count.filter(may_count) {
            return NamedPlayers::Counted(count);
        }
        let numbers = reading.numbers.iter().copied().filter(may_count).count();
        if numbers > 0 {
            return NamedPlayers::Counted(u8::try_from(numbers).unwrap_or(MOST_PLAYERS));
        }
        let plural = reading.printed.iter().any(|word| words().is_plural(word))
            || self.find(&reading).iter().any(|found| found.plural);
        if plural { NamedPlayers::Several } else { NamedPlayers::One }
    }

    /// The profile of one of a part's `score-instrument`s, from the one in hand; `None` where it says no other. One
    /// that says only the family of the profile in hand (a muted trombone) is no other.
    pub fn recognise_instrument(&self, instrument: &Instrument, in_hand: &Profile) -> Option<Arc<Profile>> {
        let reading = names::read(&instrument.name);
        let found = self.find(&reading);
        if has_other(&reading, &found) {
            return None;
        }
        if let Some(found) = found.first() {
            let says_more = found.weight == Weight::Full || found.profile.family != in_hand.family;
            return says_more.then(|| self.settle(found));
        }
        match self.sound(instrument.sound.as_deref()?) {
            Sound::One(profile) => Some(profile),
            Sound::Plain(profile) if profile.family != in_hand.family => Some(profile),
            _ => None,
        }
    }

    /// A part's name; its innermost group's words where it has none of its own.
    fn reading(&self, part: &PartInfo) -> Reading {
        let mut reading = self.name(&part.name);
        // What is printed instead of a generic name.
        if !part.displayed.is_empty() && !self.says_an_instrument(&reading) {
            let displayed = self.name(&part.displayed);
            if !self.find(&displayed).is_empty()
                || displayed.printed.iter().any(|word| words().is_of_another(word))
            {
                reading = displayed;
            }
        }
        if reading.words.is_empty()
            && let Some(group) = part.groups.last()
        {
            let group = names::read(group);
            if !self.find(&group).is_empty() {
                (reading.words, reading.printed) = (group.words, group.printed);
                reading.key = reading.key.or(group.key);
            }
        }
        if part.name.trim().is_empty() {
            reading.numbers = names::read(&part.abbreviation).numbers;
        }
        reading
    }

    fn name(&self, name: &str) -> Reading {
        self.without_remark(name).unwrap_or_else(|| names::read(name))
    }

    /// Whether a name says an instrument and not only its family.
    fn says_an_instrument(&self, reading: &Reading) -> bool {
        self.find(reading).iter().any(|found| found.weight == Weight::Full)
    }

    /// A name up to the remark behind its colon or in its parentheses, where that speaks of other instruments ("Tuba:
    /// left to the instrument", "Trombone (cues in bassoon)"); `None` where it does not: then it may say more of this
    /// one ("Trombone 4 (Bass)", "Brass: Tuba").
    fn without_remark(&self, name: &str) -> Option<Reading> {
        let (head, rest) = name.split_at(name.find([':', '('])?);
        let (head, rest) = (names::read(head), names::read(rest));
        let named = self.find(&head).iter().any(|found| found.weight != Weight::Shared);
        let of_another = rest.printed.iter().any(|word| words().is_of_another(word));
        (named && of_another && self.find(&rest).is_empty()).then_some(head)
    }

    /// The verdict on a part by itself, and whether it only says its family: the one place where the evidence meets.
    fn part(&self, part: &PartInfo, readings: &[Reading], index: usize) -> (Verdict, bool) {
        let reading = &readings[index];
        let mut found = self.find(reading);
        let shared = found.iter().any(|found| found.weight == Weight::Shared);
        let among = self.company(part, readings, index);
        found.retain(|found| found.weight != Weight::Shared || (among == Company::Brass && !part.has_lyrics));
        if found.is_empty() && part.has_lyrics {
            return (Verdict::PassedOver, false);
        }
        if reading.printed.iter().any(|word| words().is_title(word)) {
            return (Verdict::PassedOver, false);
        }
        let wagner = reading.words.iter().any(|word| word.starts_with("wagner"));
        if wagner && found.iter().all(|found| found.profile.family != Family::WagnerTuba) {
            return (self.several_of(Family::WagnerTuba), false);
        }
        if has_other(reading, &found) {
            let Some(first) = found.first() else {
                let asks = has_brass_beside_a_section(reading)
                    && !sings_by_clef(part)
                    && !self.sounds_otherwise(part);
                let asked = Verdict::Unrecognised(Doubt::NothingKnown);
                return (if asks { asked } else { Verdict::PassedOver }, false);
            };
            let titles = vec![first.profile.a_title.clone(), "another instrument".to_owned()];
            return (Verdict::Unrecognised(Doubt::SeveralFit(titles)), false);
        }
        let differ = found.iter().any(|f| f.profile.name != found[0].profile.name);
        if reading.joined && differ && self.sharers(part.name_in_lines()).is_empty() {
            let titles = found.iter().map(|found| found.profile.a_title.clone()).collect();
            return (Verdict::Unrecognised(Doubt::SeveralFit(titles)), false);
        }
        let voice = matches!(&reading.words[..], [one] if words().is_voice(one)) && reading.key.is_none();
        if found.is_empty() && (voice || shared) {
            return (self.voice(part, among), false);
        }
        let instrument = part.instruments.first();
        let sound = instrument.and_then(|i| i.sound.as_deref()).map_or(Sound::Unknown, |id| self.sound(id));
        let by_instrument = self.instrument_name(part, reading);
        let named = match (found.first().cloned(), by_instrument) {
            // The instrument's own name says more than "Trombone"; "Tenor Trombone" is what exporters call any.
            (Some(vague), Some(exact))
                if vague.weight == Weight::Plain
                    && exact.weight == Weight::Full
                    && exact.profile.family == vague.profile.family
                    && exact.profile.name != vague.profile.name =>
            {
                Some(exact)
            }
            (named, by_instrument) => named.or(by_instrument),
        };
        let also: Vec<_> = found.iter().skip(1).map(|found| self.settle(found)).collect();
        let is_elsewhere = matches!(sound, Sound::Other);
        // A number in a name that says nothing is no desk's number.
        let is_desk = named.is_some();
        match self.weigh(named, sound, &also) {
            Some((verdict, plain)) => (verdict, plain && is_desk),
            None => self.last_resorts(part, reading, is_elsewhere),
        }
    }

    /// Whether its sound id is another family's.
    fn sounds_otherwise(&self, part: &PartInfo) -> bool {
        let sound = part.instruments.first().and_then(|instrument| instrument.sound.as_deref());
        sound.is_some_and(|id| matches!(self.sound(id), Sound::Other))
    }

    /// A part that bears a voice's name, by its sound, its program and its company.
    fn voice(&self, part: &PartInfo, among: Company) -> Verdict {
        let instrument = part.instruments.first();
        let sound = instrument.and_then(|instrument| instrument.sound.as_deref());
        let is_low_brass = match sound.map(|id| self.sound(id)) {
            Some(Sound::One(profile)) => {
                return Verdict::Instrument { profile, by: RecognisedBy::InstrumentSound, also: Vec::new() };
            }
            Some(sound) => !matches!(sound, Sound::Other | Sound::Unknown),
            None => instrument.and_then(|instrument| instrument.midi_program).is_some_and(|program| {
                self.profiles.iter().any(|profile| profile.recognise.midi_programs.contains(&program))
            }),
        };
        if is_low_brass && among != Company::Voices && !sings_by_clef(part) {
            return Verdict::Unrecognised(Doubt::NothingKnown);
        }
        Verdict::PassedOver
    }

    /// Among whom a part with a voice's name stands: by its sound, or by its neighbours.
    fn company(&self, part: &PartInfo, readings: &[Reading], index: usize) -> Company {
        if let Some(sound) = part.instruments.first().and_then(|instrument| instrument.sound.as_deref()) {
            return if sound.starts_with("brass.") { Company::Brass } else { Company::Others };
        }
        let from = index.saturating_sub(2);
        let near =
            || readings.iter().enumerate().skip(from).take(index + 3 - from).filter(|(at, _)| *at != index);
        let voice = |(_, reading): (usize, &Reading)| {
            matches!(&reading.words[..], [one] if words().is_voice(one)) && reading.key.is_none()
        };
        let brass = |(_, reading): (usize, &Reading)| {
            self.find(reading).iter().any(|found| found.weight != Weight::Shared)
                || reading.words.iter().any(|word| word.starts_with("cornet") || word.starts_with("flugel"))
        };
        if near().any(voice) {
            Company::Voices
        } else if near().any(brass) {
            Company::Brass
        } else {
            Company::Others
        }
    }

    /// Name against sound; `None` where neither says anything.
    fn weigh(&self, named: Option<Found>, sound: Sound, also: &[Arc<Profile>]) -> Option<(Verdict, bool)> {
        let instrument = |profile: Arc<Profile>, by, plain| {
            let also = also.iter().filter(|instrument| instrument.name != profile.name).cloned().collect();
            Some((Verdict::Instrument { profile, by, also }, plain))
        };
        match (named, sound) {
            (Some(named), Sound::One(profile)) => {
                let slide = |profile: &Profile| matches!(profile.family, Family::Trombone | Family::Trumpet);
                if named.profile.name == profile.name
                    || (named.weight == Weight::Plain && slide(&named.profile) == slide(&profile))
                {
                    return instrument(profile, RecognisedBy::InstrumentSound, false);
                }
                instrument(self.settle(&named), named.by(), named.weight == Weight::Plain)
            }
            (Some(named), sound) => {
                let plain = named.weight == Weight::Plain;
                let agree = matches!(&sound, Sound::Plain(profile) if profile.name == named.profile.name);
                let by = if agree { RecognisedBy::InstrumentSound } else { named.by() };
                if let (true, Sound::Several(profiles)) = (plain, sound) {
                    return Some((several(&profiles), false));
                }
                instrument(self.settle(&named), by, plain)
            }
            (None, Sound::One(profile)) => instrument(profile, RecognisedBy::InstrumentSound, false),
            (None, Sound::Plain(profile)) => {
                instrument(self.plain(&profile), RecognisedBy::InstrumentSound, true)
            }
            (None, Sound::Several(profiles)) => Some((several(&profiles), false)),
            (None, Sound::Doubtful) => Some((Verdict::Unrecognised(Doubt::NothingKnown), false)),
            (None, Sound::Unknown | Sound::Other) => None,
        }
    }

    /// What the instrument's own name says where the part's name says nothing, or only the family.
    fn instrument_name(&self, part: &PartInfo, reading: &Reading) -> Option<Found> {
        let shared = self.entries.iter().any(|e| e.weight == Weight::Shared && e.words == reading.words);
        let voice = reading.words.len() == 1 && words().is_voice(&reading.words[0]);
        if shared || voice {
            return None;
        }
        let instrument = names::read(&part.instruments.first()?.name);
        let found = self.find(&instrument);
        if has_other(&instrument, &found) {
            return None;
        }
        found.into_iter().next().filter(|found| found.weight != Weight::Shared)
    }

    /// Abbreviation, program, and what only hints at low brass. `is_another` by its sound id: then no program speaks.
    fn last_resorts(&self, part: &PartInfo, reading: &Reading, is_another: bool) -> (Verdict, bool) {
        let low_brass = |profile, by| Verdict::Instrument { profile, by, also: Vec::new() };
        // Some scores print the abbreviation as the name.
        let is_nameless = part.name.trim().is_empty();
        for (text, is_name) in [(&part.name, true), (&part.abbreviation, is_nameless)] {
            let short = names::abbreviation(text);
            let bears = |profile: &&Arc<Profile>| {
                profile.recognise.abbreviations.iter().any(|text| names::abbreviation(text) == short)
            };
            let whole = self.profiles.iter().find(bears).filter(|_| !short.is_empty());
            let read = names::read(text);
            let found = self.find(&read).into_iter().find(|found| found.weight != Weight::Shared);
            let (profile, is_plain) = match (found, whole) {
                (Some(found), _) if !has_other(&read, std::slice::from_ref(&found)) => {
                    (Arc::clone(&found.profile), found.weight == Weight::Plain)
                }
                (None, Some(profile)) => (Arc::clone(profile), !profile.recognise.plain_names.is_empty()),
                _ => continue,
            };
            let profile = if is_plain { self.plain(&profile) } else { profile };
            // A number in a name that says nothing is no desk's number.
            return (low_brass(profile, RecognisedBy::Abbreviation), is_plain && is_name);
        }
        let instrument = part.instruments.first();
        let instrument_name = instrument.map(|instrument| names::read(&instrument.name)).unwrap_or_default();
        let is_another = is_another || has_other(&instrument_name, &[]) || sings_by_clef(part);
        let program = instrument.and_then(|instrument| instrument.midi_program).filter(|_| !is_another);
        let plays = |profile: &&Arc<Profile>| {
            program.is_some_and(|program| profile.recognise.midi_programs.contains(&program))
        };
        if let Some(profile) = self.profiles.iter().find(plays) {
            return (low_brass(self.plain(profile), RecognisedBy::MidiProgram), false);
        }
        let short = names::read(&part.abbreviation);
        let group = part.groups.last().filter(|_| reading.words.is_empty()).map(|group| names::read(group));
        let said = [Some(reading), Some(&instrument_name), Some(&short), group.as_ref()];
        let hints = |reading: &Reading| {
            !has_other(reading, &[]) && reading.printed.iter().any(|word| words().hints(word))
        };
        let by_program = program.is_some_and(|program| words().hints_by_program(program));
        if !sings_by_clef(part) && (by_program || said.into_iter().flatten().any(hints)) {
            return (Verdict::Unrecognised(Doubt::NothingKnown), false);
        }
        (Verdict::PassedOver, false)
    }

    fn several_of(&self, family: Family) -> Verdict {
        let of_family = |profile: &&Arc<Profile>| profile.family == family;
        several(&self.profiles.iter().filter(of_family).cloned().collect::<Vec<_>>())
    }

    /// The names in a reading, in order of place; of overlapping ones the longest.
    fn find(&self, reading: &Reading) -> Vec<Found> {
        let mut all: Vec<(usize, bool, Found)> = Vec::new();
        for entry in &self.entries {
            let length = entry.words.len();
            // "E♭ Bass" is a tuba, an E♭ bass clarinet none: a word that others bear must stand alone.
            let leans = entry.weight == Weight::Shared || entry.words.iter().all(|word| words().leans(word));
            if length == 0
                || (entry.key.is_some() && entry.key != reading.key)
                || (leans && reading.words.len() > length)
            {
                continue;
            }
            let windows = reading.words.windows(length).enumerate();
            for (from, window) in windows.filter(|(from, _)| !reading.parts_within(*from, from + length)) {
                let mut sorted = window.to_vec();
                sorted.sort_unstable();
                if sorted == entry.words {
                    let (profile, weight) = (Arc::clone(&entry.profile), entry.weight);
                    let to = from + length;
                    let short = entry.short
                        || reading
                            .printed
                            .get(from..to)
                            .is_some_and(|printed| printed.iter().any(|word| words().is_abbreviation(word)));
                    let plural = entry.plural;
                    let found = Found { profile, weight, short, plural, from, to };
                    all.push((length, entry.key.is_some(), found));
                }
            }
        }
        // Stable: of names that say as much, the first profile's.
        all.sort_by_key(|(length, keyed, found)| {
            std::cmp::Reverse((*length, *keyed, found.weight == Weight::Full))
        });
        let mut kept: Vec<Found> = Vec::new();
        for (_, _, found) in all {
            if kept.iter().all(|other| found.to <= other.from || other.to <= found.from) {
                kept.push(found);
            }
        }
        kept.sort_by_key(|found| found.from);
        kept
    }

    /// The profile that a name leads to: for a plain "Tuba" the settings may have another.
    fn settle(&self, found: &Found) -> Arc<Profile> {
        if found.weight == Weight::Plain { self.plain(&found.profile) } else { Arc::clone(&found.profile) }
    }

    fn plain(&self, profile: &Arc<Profile>) -> Arc<Profile> {
        match &self.tuba {
            Some(tuba) if profile.family == Family::Tuba => Arc::clone(tuba),
            _ => Arc::clone(profile),
        }
    }

    fn sound(&self, id: &str) -> Sound {
        let mut of_id = self.profiles.iter().filter(|p| p.recognise.sounds.iter().any(|sound| sound == id));
        if let Some(first) = of_id.next() {
            let rest: Vec<_> = of_id.cloned().collect();
            if rest.is_empty() {
                return Sound::One(Arc::clone(first));
            }
            return Sound::Several(std::iter::once(Arc::clone(first)).chain(rest).collect());
        }
        let plain = |p: &&Arc<Profile>| p.recognise.plain_sounds.iter().any(|sound| sound == id);
        if let Some(profile) = self.profiles.iter().find(plain) {
            return Sound::Plain(Arc::clone(profile));
        }
        if words().is_doubtful_sound(id) {
            return Sound::Doubtful;
        }
        if words().is_of_standard(id) { Sound::Other } else { Sound::Unknown }
    }

    /// Four tubas beside eight horns, or tenor and bass tubas in pairs, are Wagner tubas, whose keys only a person
    /// can tell.
    fn wagner_tubas(&self, readings: &[Reading], verdicts: &mut [(Verdict, bool)]) {
        let says = |reading: &Reading, start: &str| {
            let text = reading.words.concat();
            text.starts_with(start) && (text.contains("tuba") || text.contains("tuben"))
        };
        let named = |(verdict, _): &(Verdict, bool)| {
            !matches!(
                verdict,
                Verdict::Instrument { by: RecognisedBy::Settings | RecognisedBy::CommandLine, .. }
                    | Verdict::PassedOver
            )
        };
        let players = |start: &str| -> u32 {
            let of_name =
                readings.iter().zip(verdicts.iter()).filter(|(reading, v)| says(reading, start) && named(v));
            of_name.map(|(reading, _)| u32::from(reading.players().unwrap_or(1).max(1))).sum()
        };
        let eight_horns = readings.iter().any(|reading| {
            let horn = |word: &String| {
                ["horn", "corno", "corni", "cor", "cors", "trompa"].iter().any(|h| word.starts_with(h))
            };
            reading.words.iter().any(horn)
                && (reading.numbers.iter().any(|&number| number >= 5)
                    || reading.count.is_some_and(|count| count >= 8))
        });
        let pairs = players("tenor") >= 2 && players("bass") >= 2;
        let four = eight_horns && players("tub") >= 4;
        let numbered = readings.iter().any(|reading| says(reading, "tub") && !reading.numbers.is_empty());
        for (index, reading) in readings.iter().enumerate() {
            let in_pair = pairs && (says(reading, "tenor") || says(reading, "bass"));
            let one_of_four = four
                && says(reading, "tub")
                && (!numbered
                    || reading.numbers.iter().any(|&number| number <= 4)
                    || reading.count.is_some());
            if (in_pair || one_of_four) && named(&verdicts[index]) {
                verdicts[index] = (self.several_of(Family::WagnerTuba), false);
            }
        }
    }

    /// The lowest of three trombones is a bass trombone where none is named.
    fn lowest_of_its_family(&self, readings: &[Reading], verdicts: &mut [(Verdict, bool)]) {
        for bass in &self.profiles {
            let Some(least) = bass.recognise.lowest_of else { continue };
            let mut seated = 0u32;
            let mut plain: Vec<usize> = Vec::new();
            let mut is_there = false;
            for (index, (verdict, says_family)) in verdicts.iter().enumerate() {
                let Verdict::Instrument { profile, also, .. } = verdict else { continue };
                is_there |= also.iter().any(|other| other.name == bass.name);
                if profile.family != bass.family {
                    continue;
                }
                is_there |= profile.name == bass.name;
                seated += u32::from(readings[index].players().unwrap_or(1).max(1));
                if *says_family {
                    plain.push(index);
                }
            }
            if is_there {
                continue;
            }
            // Chairs of an ensemble ("I. Trumpet" … "IV. Trombone") are no desks of trombones.
            let is_desk = !numbered_through(readings);
            let highest =
                |index: &usize| readings[*index].numbers.last().copied().filter(|_| is_desk).unwrap_or(0);
            let top = plain.iter().map(highest).max().unwrap_or(0);
            let lowest: Vec<usize> = if top >= least {
                plain.iter().copied().filter(|index| highest(index) == top).collect()
            } else if seated >= u32::from(least) {
                plain.last().copied().into_iter().collect()
            } else if let [alone] = plain[..] {
                // "Trombones" for an unknown number of players.
                let several = readings[alone].numbers.is_empty()
                    && readings[alone].count.is_none()
                    && readings[alone].printed.iter().any(|word| words().is_plural(word));
                if several { vec![alone] } else { Vec::new() }
            } else {
                Vec::new()
            };
            for index in lowest {
                let shared =
                    readings[index].players().map_or(top < least && seated < u32::from(least), |n| n > 1);
                if let (Verdict::Instrument { profile, by, also }, _) = &mut verdicts[index] {
                    if shared {
                        also.push(Arc::clone(bass));
                    } else {
                        (*profile, *by) = (Arc::clone(bass), RecognisedBy::Section);
                    }
                }
            }
        }
    }
}

/// Among whom a part stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Company {
    Brass,
    Voices,
    Others,
}

/// Whether its clef is one that only voices read: treble, an octave lower.
fn sings_by_clef(part: &PartInfo) -> bool {
    part.clef.is_some_and(|clef| clef.sign == ClefSign::G && clef.octaves == -1)
}

/// What a sound id says.
enum Sound {
    /// One instrument.
    One(Arc<Profile>),
    /// Several alike.
    Several(Vec<Arc<Profile>>),
    /// A family, here by the profile that bears the plain sound.
    Plain(Arc<Profile>),
    /// Low brass without a profile.
    Doubtful,
    /// Another instrument.
    Other,
    /// Nothing that the standard knows.
    Unknown,
}

fn several(profiles: &[Arc<Profile>]) -> Verdict {
    let titles = profiles.iter().map(|profile| profile.a_title.clone()).collect();
    Verdict::Unrecognised(Doubt::SeveralFit(titles))
}

/// Whether the numbers run through parts of several names, each number once.
fn numbered_through(readings: &[Reading]) -> bool {
    let mut names: BTreeMap<u8, &[String]> = BTreeMap::new();
    for reading in readings {
        if let [number] = reading.numbers[..]
            && names.insert(number, &reading.words).is_some()
        {
            return false;
        }
    }
    let counted = (1..).zip(names.keys()).all(|(place, number)| place == *number);
    let differ = names.values().any(|name| Some(name) != names.values().next());
    counted && differ && names.len() > 2
}

/// Whether the brass shares a part with another section ("Brass & Strings"): its lower staff may be low brass. A keyboard's
/// sound or a reduction is none.
fn has_brass_beside_a_section(reading: &Reading) -> bool {
    let says = |is: &dyn Fn(&str) -> bool| reading.printed.iter().any(|word| is(word));
    says(&|word| words().is_brass(word))
        && says(&|word| words().is_section(word))
        && !says(&|word| words().replaces_players(word))
}

/// Whether a word that belongs to none of the names found is another instrument's.
fn has_other(reading: &Reading, found: &[Found]) -> bool {
    reading.words.iter().enumerate().any(|(index, word)| {
        let free = found.iter().all(|found| !(found.from..found.to).contains(&index));
        free && words().is_of_another(word)
    })
}

impl Verdict {
    /// Whether the part is to be read in full.
    pub const fn is_instrument(&self) -> bool {
        matches!(self, Verdict::Instrument { .. })
    }
}

impl RecognisedBy {
    /// As the JSON contract names it.
    pub const fn word(self) -> &'static str {
        match self {
            RecognisedBy::InstrumentSound => "instrument-sound",
            RecognisedBy::Name => "name",
            RecognisedBy::Abbreviation => "abbreviation",
            RecognisedBy::MidiProgram => "midi-program",
            RecognisedBy::Section => "section",
            RecognisedBy::Settings => "settings",
            RecognisedBy::CommandLine => "option",
        }
    }
}

#[cfg(test)]
mod tests;
