//! Words about tempo: the vocabulary of `profiles/tempo-words.toml`, and numbers written out in the text.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use std::sync::LazyLock;

use serde::Deserialize;

use super::TempoWord;
use super::text::Text;
use crate::music::{Length, Tempo};
use crate::musicxml::tempo::per_minute;

/// What tempo words mean.
#[derive(Debug)]
pub(in crate::musicxml) struct Vocabulary {
    /// Where the score says nothing at all.
    pub(in crate::musicxml) default: Tempo,
    /// How far a gradual change goes when the score names neither goal nor end.
    pub(in crate::musicxml) reach: Length,
    /// The next tempo mark is the goal of a gradual change only when no further away than this.
    pub(in crate::musicxml) goal: Length,
    /// How often its value a note under a fermata is held: usually, and where it is long.
    pub(in crate::musicxml) fermata: (f64, f64),
    poco: f64,
    molto: f64,
    /// By first word, the longest phrase first.
    phrases: HashMap<String, Vec<Phrase>>,
}

#[derive(Debug)]
struct Phrase {
    words: Vec<String>,
    /// `None`: the words are said to change nothing.
    means: Option<TempoWord>,
    place: Where,
}

/// When a phrase counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Where {
    #[default]
    Start,
    Anywhere,
    Whole,
}

/// The vocabulary embedded in the program.
pub(in crate::musicxml) fn vocabulary() -> &'static Vocabulary {
    static VOCABULARY: LazyLock<Vocabulary> = LazyLock::new(|| {
        Vocabulary::parse(include_str!("../../../profiles/tempo-words.toml")).unwrap_or_default()
    });
    &VOCABULARY
}

/// All that the text says about tempo, each with the place of its first token and its words as they stand.
pub(super) fn said(text: &mut Text<'_>) -> Vec<(usize, TempoWord, String)> {
    let mut said: Vec<(usize, TempoWord, String)> = Vec::new();
    let number = written_out(text.whole);
    let vocabulary = vocabulary();
    let mut at = 0;
    while at < text.tokens.len() {
        let Some((length, means)) = vocabulary.phrase_at(text, at) else {
            at += 1;
            continue;
        };
        text.understand(at..at + length);
        // A number beside a word is the tempo; the name of a tempo behind another word explains that one.
        match means.map(|word| vocabulary.weighed(word, text, at, length)) {
            Some(TempoWord::Customary { .. }) if number.is_some() || !said.is_empty() => {}
            Some(word) => said.push((at, word, text.quoted(with_weight(text, at, length)))),
            None => {}
        }
        at += length;
    }
    // Behind "rit." in the same text a number is where that leads; before it, where it begins.
    said.splice(0..0, number.map(|number| (0, number, text.whole.trim().to_owned())));
    said
}

impl Vocabulary {
    fn parse(text: &str) -> Result<Vocabulary, toml::de::Error> {
        let file: File = toml::from_str(text)?;
        file.sourced().map_err(serde::de::Error::custom)?;
        let mut phrases: HashMap<String, Vec<Phrase>> = HashMap::new();
        let mut add = |row: &Words, means: Option<TempoWord>| {
            for words in &row.words {
                let words: Vec<String> = words.split_whitespace().map(str::to_owned).collect();
                if let Some(first) = words.first().cloned() {
                    phrases.entry(first).or_default().push(Phrase { words, means, place: row.place });
                }
            }
        };
        for row in file.tempo.iter().flat_map(|group| &group.rows) {
            let soft = row.words.place == Where::Whole;
            let tempo = Tempo::quarters_a_minute(row.tempo);
            add(&row.words, tempo.map(|tempo| TempoWord::Customary { tempo, soft }));
        }
        for row in file.at_once.iter().flat_map(|group| &group.rows) {
            add(&row.words, Some(TempoWord::AtOnce(row.share)));
        }
        for row in file.gradual.iter().flat_map(|group| &group.rows) {
            add(&row.words, Some(TempoWord::Gradual(row.share)));
        }
        for row in file.multiple.iter().flat_map(|group| &group.rows) {
            add(&row.words, Some(TempoWord::Multiple(row.share)));
        }
        for (groups, means) in [
            (&file.a_tempo, Some(TempoWord::ATempo)),
            (&file.tempo_primo, Some(TempoWord::TempoPrimo)),
            (&file.same_beat, Some(TempoWord::Same { factor: 1.0 })),
            (&file.same, None),
        ] {
            groups.iter().flat_map(|group| &group.rows).for_each(|row| add(row, means));
        }
        for same_start in phrases.values_mut() {
            same_start.sort_by_key(|phrase| std::cmp::Reverse(phrase.words.len()));
        }
        let quarters = |length: &Quarters| Length::whole_quarters(length.quarters);
        Ok(Vocabulary {
            default: Tempo::quarters_a_minute(file.default.tempo).unwrap_or(Tempo::QUARTER_A_SECOND),
            reach: quarters(&file.gradual_change.reach),
            goal: quarters(&file.gradual_change.goal),
            fermata: (file.fermata.usual.times, file.fermata.long.times),
            poco: file.gradual_change.poco.share,
            molto: file.gradual_change.molto.share,
            phrases,
        })
    }

    /// The longest phrase that counts at a place: how many tokens it has, and what it means.
    fn phrase_at(&self, text: &Text<'_>, at: usize) -> Option<(usize, Option<TempoWord>)> {
        let stands = |phrase: &&Phrase| {
            let length = phrase.words.len();
            let same = (0..length).all(|offset| text.at(at + offset) == phrase.words[offset]);
            let placed = match phrase.place {
                Where::Anywhere => true,
                Where::Start => text.opens_with(at),
                Where::Whole => text.is_only(at..at + length) || only_a_number_besides(text, at + length),
            };
            // The name of a tempo begins with a capital: in small letters it says how a part is to sound.
            let named = !matches!(phrase.means, Some(TempoWord::Customary { .. }))
                || text.whole.chars().find(|c| c.is_alphabetic()).is_some_and(char::is_uppercase);
            same && placed && named
        };
        let phrase = self.phrases.get(text.at(at))?.iter().find(stands)?;
        Some((phrase.words.len(), phrase.means))
    }

    /// A change weighed by the "poco" or "molto" beside it.
    fn weighed(&self, word: TempoWord, text: &Text<'_>, at: usize, length: usize) -> TempoWord {
        let before = at.checked_sub(1).map_or("", |before| text.at(before));
        let before_that = at.checked_sub(2).map_or("", |before| text.at(before));
        let behind = text.at(at + length);
        let weight = match (before, behind) {
            // "poco a poco rit." says how slowly, not how much.
            ("poco" | "peu" | "etwas" | "slightly", _) if before_that != "a" && before_that != "peu" => {
                self.poco
            }
            ("molto" | "tres" | "beaucoup" | "sehr" | "viel" | "much", _)
            | (_, "molto" | "assai" | "beaucoup") => self.molto,
            _ => return word,
        };
        let weigh = |share: f64| (1.0 + (share - 1.0) * weight).max(0.1);
        match word {
            TempoWord::AtOnce(share) => TempoWord::AtOnce(weigh(share)),
            TempoWord::Gradual(share) => TempoWord::Gradual(weigh(share)),
            other => other,
        }
    }
}

impl Default for Vocabulary {
    fn default() -> Self {
        Vocabulary {
            default: Tempo::QUARTER_A_SECOND,
            reach: Length::ZERO,
            goal: Length::ZERO,
            fermata: (1.0, 1.0),
            poco: 1.0,
            molto: 1.0,
            phrases: HashMap::new(),
        }
    }
}

/// The tokens of a phrase with the "poco" or "molto" beside it.
fn with_weight(text: &Text<'_>, at: usize, length: usize) -> Range<usize> {
    const WEIGHTS: &[&str] =
        &["poco", "peu", "etwas", "slightly", "molto", "tres", "beaucoup", "sehr", "viel", "much", "assai"];
    let before = at > 0 && WEIGHTS.contains(&text.at(at - 1));
    let behind = WEIGHTS.contains(&text.at(at + length));
    at - usize::from(before)..at + length + usize::from(behind)
}

fn only_a_number_besides(text: &Text<'_>, from: usize) -> bool {
    from > 0 && text.opens_with(0) && written_out(text.whole).is_some()
}

/// A tempo in figures, or an equation of two note values: "♩ = 96", "(dotted quarter = c. 72)", "120 bpm", "♪ = ♩".
fn written_out(text: &str) -> Option<TempoWord> {
    if let Some((left, right)) = text.split_once('=') {
        let old = note_value(left.trim_end(), true)?;
        if let Some(tempo) = per_minute(right) {
            return Tempo::quarters_a_minute(old.in_quarters() * tempo).map(TempoWord::Number);
        }
        let new = note_value(right.trim_start(), false)?;
        return Some(TempoWord::Modulation(new.in_quarters() / old.in_quarters()));
    }
    let small = text.to_lowercase();
    let figures = small.split("bpm").next().filter(|figures| figures.len() < small.len())?;
    let figures =
        figures.rsplit(|c: char| !(c.is_ascii_digit() || c == '.')).find(|part| !part.is_empty())?;
    per_minute(figures).and_then(Tempo::quarters_a_minute).map(TempoWord::Number)
}

/// Note values as signs and as English words.
const VALUES: [(&str, (i64, i64)); 28] = [
    ("\u{1d15d}", (4, 1)),
    ("\u{1d157}\u{1d165}", (2, 1)),
    ("\u{1d15e}", (2, 1)),
    ("\u{1d158}\u{1d165}", (1, 1)),
    ("\u{1d15f}", (1, 1)),
    ("\u{1d160}", (1, 2)),
    ("\u{1d161}", (1, 4)),
    ("♩", (1, 1)),
    ("♪", (1, 2)),
    ("\u{eca2}", (4, 1)),
    ("\u{eca3}", (2, 1)),
    ("\u{eca4}", (2, 1)),
    ("\u{eca5}", (1, 1)),
    ("\u{eca6}", (1, 1)),
    ("\u{eca7}", (1, 2)),
    ("\u{eca8}", (1, 2)),
    ("\u{eca9}", (1, 4)),
    ("\u{ecaa}", (1, 4)),
    ("whole note", (4, 1)),
    ("half note", (2, 1)),
    ("quarter note", (1, 1)),
    ("eighth note", (1, 2)),
    ("whole", (4, 1)),
    ("half", (2, 1)),
    ("quarter", (1, 1)),
    ("eighth", (1, 2)),
    ("q", (1, 1)),
    ("h", (2, 1)),
];

/// The note value at the end (or the beginning) of a text, with its dot; `None` where none stands there.
fn note_value(text: &str, at_end: bool) -> Option<Length> {
    const DOTS: [char; 4] = ['.', '·', '\u{ecb7}', '\u{1d16d}'];
    let text = text.to_lowercase();
    let trimmed =
        if at_end { text.trim_end_matches(['(', ' ']) } else { text.trim_start_matches(['(', ' ']) };
    let bare = trimmed.trim_end_matches(DOTS).trim_end();
    let is_letter = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    let found = VALUES.iter().find_map(|(name, value)| {
        let rest = if at_end { bare.strip_suffix(name)? } else { trimmed.strip_prefix(name)? };
        let beside = if at_end { rest.chars().next_back() } else { rest.chars().next() };
        (!is_letter(beside)).then_some((rest, *value))
    });
    let (rest, (numerator, denominator)) = found?;
    let dotted = if at_end {
        bare.len() < trimmed.len() || rest.trim_end().ends_with("dotted")
    } else {
        rest.starts_with(DOTS)
    };
    let value = Length::quarters(numerator, denominator)?;
    if dotted { value.times(3, 2) } else { Some(value) }
}

/// `profiles/tempo-words.toml` as it is written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct File {
    default: DefaultTempo,
    tempo: Vec<Group<TempoRow>>,
    at_once: Vec<Group<ShareRow>>,
    multiple: Vec<Group<ShareRow>>,
    gradual: Vec<Group<ShareRow>>,
    a_tempo: Vec<Group<Words>>,
    tempo_primo: Vec<Group<Words>>,
    same_beat: Vec<Group<Words>>,
    same: Vec<Group<Words>>,
    fermata: Fermata,
    gradual_change: GradualChange,
    sources: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
struct DefaultTempo {
    tempo: f64,
    source: String,
}

#[derive(Debug, Deserialize)]
struct Group<Row> {
    rows: Vec<Row>,
    source: String,
}

#[derive(Debug, Deserialize)]
struct Words {
    words: Vec<String>,
    #[serde(default, rename = "where")]
    place: Where,
}

#[derive(Debug, Deserialize)]
struct TempoRow {
    #[serde(flatten)]
    words: Words,
    tempo: f64,
}

#[derive(Debug, Deserialize)]
struct ShareRow {
    #[serde(flatten)]
    words: Words,
    share: f64,
}

#[derive(Debug, Deserialize)]
struct Fermata {
    usual: Times,
    long: Times,
}

#[derive(Debug, Deserialize)]
struct Times {
    times: f64,
    source: String,
}

#[derive(Debug, Deserialize)]
struct GradualChange {
    reach: Quarters,
    goal: Quarters,
    poco: Share,
    molto: Share,
}

#[derive(Debug, Deserialize)]
struct Quarters {
    quarters: i64,
    source: String,
}

#[derive(Debug, Deserialize)]
struct Share {
    share: f64,
    source: String,
}

impl File {
    /// Every place names a known source, and every source is named in some place.
    fn sourced(&self) -> Result<(), String> {
        let change = &self.gradual_change;
        let mut named: Vec<&str> = vec![&self.default.source, &change.reach.source, &change.goal.source];
        named.extend([change.poco.source.as_str(), &change.molto.source]);
        named.extend([self.fermata.usual.source.as_str(), &self.fermata.long.source]);
        named.extend(self.tempo.iter().map(|group| group.source.as_str()));
        let shares = self.at_once.iter().chain(&self.multiple).chain(&self.gradual);
        named.extend(shares.map(|group| group.source.as_str()));
        let words = self.a_tempo.iter().chain(&self.tempo_primo).chain(&self.same_beat).chain(&self.same);
        named.extend(words.map(|group| group.source.as_str()));
        if let Some(unknown) = named.iter().find(|source| !self.sources.contains_key(**source)) {
            return Err(format!("no source '{unknown}'"));
        }
        match self.sources.keys().find(|key| !named.contains(&key.as_str())) {
            Some(unused) => Err(format!("source '{unused}' is not used")),
            None => Ok(()),
        }
    }
}

/// Whether the file can be read and names its sources.
#[cfg(test)]
pub(super) fn check(text: &str) -> Result<(), String> {
    Vocabulary::parse(text).map(drop).map_err(|error| error.to_string())
}
