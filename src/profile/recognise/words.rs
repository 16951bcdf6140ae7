//! Words in names of parts, out of `profiles/part-words.toml`: what stands around an instrument's name, what says that a part
//! is none of ours, what says that it may be.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::LazyLock;

use serde::Deserialize;

/// The words embedded in the program.
pub(super) fn words() -> &'static PartWords {
    static WORDS: LazyLock<PartWords> = LazyLock::new(|| {
        let file: Option<File> = toml::from_str(include_str!("../../../profiles/part-words.toml")).ok();
        file.map(PartWords::from).unwrap_or_default()
    });
    &WORDS
}

/// What the words of part names mean.
#[derive(Debug, Default)]
pub(super) struct PartWords {
    fillers: HashSet<String>,
    joiners: HashSet<String>,
    ordinals: HashSet<String>,
    /// The word that stands for a family or kind, by each word for it.
    families: HashMap<String, String>,
    family_abbreviations: HashMap<String, String>,
    kinds: HashMap<String, String>,
    others: Vec<String>,
    others_whole: HashSet<String>,
    titles: HashSet<String>,
    plurals: HashSet<String>,
    voices: HashSet<String>,
    leaning: HashSet<String>,
    hints: Vec<String>,
    hints_whole: HashSet<String>,
    hints_within: Vec<String>,
    replacements: Vec<String>,
    sections: Vec<String>,
    doubtful_sounds: Vec<String>,
    sound_families: HashSet<String>,
    hint_programs: HashSet<u8>,
}

impl PartWords {
    /// Whether a word says nothing about the instrument.
    pub(super) fn is_filler(&self, word: &str) -> bool {
        self.fillers.contains(word)
    }

    /// Whether a word joins the names of two players.
    pub(super) fn is_joiner(&self, word: &str) -> bool {
        self.joiners.contains(word)
    }

    /// Whether these letters make a number before them an ordinal.
    pub(super) fn is_ordinal(&self, ending: &str) -> bool {
        self.ordinals.contains(ending)
    }

    /// The word that stands for a family ("posaune", "tbn": "trombone").
    pub(super) fn family(&self, word: &str) -> Option<&str> {
        self.families.get(word).or_else(|| self.family_abbreviations.get(word)).map(String::as_str)
    }

    /// Whether a word abbreviates a family's name.
    pub(super) fn is_abbreviation(&self, word: &str) -> bool {
        self.family_abbreviations.contains_key(word) && !self.families.contains_key(word)
    }

    /// The word that stands for a kind of a family ("basso", "bs": "bass").
    pub(super) fn kind(&self, word: &str) -> Option<&str> {
        self.kinds.get(word).map(String::as_str)
    }

    /// A kind and an abbreviated family that are written as one ("btbn", "basspos").
    pub(super) fn parted<'w>(&self, word: &'w str) -> Option<(&'w str, &'w str)> {
        let cuts = word.char_indices().skip(1).map(|(at, _)| word.split_at(at));
        let mut fits =
            cuts.filter(|(kind, family)| self.kind(kind).is_some() && self.is_abbreviation(family));
        fits.next()
    }

    /// Whether a word, accents folded, is another instrument's, a voice's or a reduction's.
    pub(super) fn is_of_another(&self, word: &str) -> bool {
        self.others_whole.contains(word) || self.others.iter().any(|other| word.starts_with(other.as_str()))
    }

    /// Whether a name of ours names something else beside this word.
    pub(super) fn is_title(&self, word: &str) -> bool {
        self.titles.contains(word)
    }

    /// Whether a word is a family's plural.
    pub(super) fn is_plural(&self, word: &str) -> bool {
        self.plurals.contains(word)
    }

    /// Whether a word is a voice when it stands alone.
    pub(super) fn is_voice(&self, word: &str) -> bool {
        self.voices.contains(word)
    }

    /// Whether a word names a tuba only by the key beside it.
    pub(super) fn leans(&self, word: &str) -> bool {
        self.leaning.contains(word)
    }

    /// Whether a word speaks of low brass without saying which.
    pub(super) fn hints(&self, word: &str) -> bool {
        self.hints_whole.contains(word)
            || self.family(word).is_some()
            || self.hints.iter().any(|hint| word.starts_with(hint.as_str()))
            || self.hints_within.iter().any(|hint| word.contains(hint.as_str()))
    }

    /// Whether a word is the whole brass.
    pub(super) fn is_brass(&self, word: &str) -> bool {
        self.hints_whole.contains(word)
    }

    /// Whether a word says that a keyboard or a reduction stands for the players.
    pub(super) fn replaces_players(&self, word: &str) -> bool {
        self.replacements.iter().any(|start| word.starts_with(start.as_str()))
    }

    /// Whether a word is another whole section.
    pub(super) fn is_section(&self, word: &str) -> bool {
        self.sections.iter().any(|start| word.starts_with(start.as_str()))
    }

    /// Whether a sound id is low brass that has no profile, or may be.
    pub(super) fn is_doubtful_sound(&self, id: &str) -> bool {
        self.doubtful_sounds.iter().any(|start| id.starts_with(start.as_str()))
    }

    /// Whether a sound id is one of the standard's: it tells what a part is.
    pub(super) fn is_of_standard(&self, id: &str) -> bool {
        id.split_once('.').is_some_and(|(family, _)| self.sound_families.contains(family))
    }

    /// Whether a program is an ensemble's in which low brass plays.
    pub(super) fn hints_by_program(&self, program: u8) -> bool {
        self.hint_programs.contains(&program)
    }
}

/// `profiles/part-words.toml` as it is written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    fillers: Texts,
    joiners: Texts,
    ordinals: Texts,
    families: Rows,
    family_abbreviations: Rows,
    kinds: Rows,
    others: Texts,
    others_whole: Texts,
    titles: Texts,
    plurals: Texts,
    voices: Texts,
    leaning: Texts,
    hints: Texts,
    hints_whole: Texts,
    hints_within: Texts,
    replacements: Texts,
    sections: Texts,
    doubtful_sounds: Texts,
    sound_families: Texts,
    hint_programs: Programs,
    #[allow(dead_code)]
    sources: BTreeMap<String, BTreeMap<String, String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Texts {
    texts: Vec<String>,
    #[allow(dead_code)] // Read so that no row is without one.
    source: Sources,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rows {
    rows: Vec<Vec<String>>,
    #[allow(dead_code)] // Read so that no row is without one.
    source: Sources,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Programs {
    numbers: Vec<u8>,
    #[allow(dead_code)] // Read so that no row is without one.
    source: Sources,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
#[allow(dead_code)] // Read so that every row has one, and by the test.
enum Sources {
    One(String),
    Several(Vec<String>),
}

impl From<File> for PartWords {
    fn from(file: File) -> PartWords {
        let set = |texts: Texts| texts.texts.into_iter().collect();
        PartWords {
            fillers: set(file.fillers),
            joiners: set(file.joiners),
            ordinals: set(file.ordinals),
            families: file.families.by_word(),
            family_abbreviations: file.family_abbreviations.by_word(),
            kinds: file.kinds.by_word(),
            others: file.others.texts,
            others_whole: set(file.others_whole),
            titles: set(file.titles),
            plurals: set(file.plurals),
            voices: set(file.voices),
            leaning: set(file.leaning),
            hints: file.hints.texts,
            hints_whole: set(file.hints_whole),
            hints_within: file.hints_within.texts,
            replacements: file.replacements.texts,
            sections: file.sections.texts,
            doubtful_sounds: file.doubtful_sounds.texts,
            sound_families: set(file.sound_families),
            hint_programs: file.hint_programs.numbers.into_iter().collect(),
        }
    }
}

impl Rows {
    fn by_word(self) -> HashMap<String, String> {
        let of_row = |row: Vec<String>| {
            let first = row.first().cloned().unwrap_or_default();
            row.into_iter().map(move |word| (word, first.clone()))
        };
        self.rows.into_iter().flat_map(of_row).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::names::fold;
    use super::*;

    #[test]
    fn the_words_are_read_and_stand_as_names_are_folded() {
        let text = include_str!("../../../profiles/part-words.toml");
        let file: File = toml::from_str(text).unwrap();
        let rows = [&file.families, &file.family_abbreviations, &file.kinds];
        let lists = [&file.others, &file.others_whole, &file.voices, &file.hints, &file.hints_whole];
        let all = rows.iter().flat_map(|rows| rows.rows.iter().flatten());
        for word in all.chain(lists.iter().flat_map(|list| &list.texts)) {
            assert_eq!(&fold(word), word);
        }
        let sources = |source: &Sources| match source {
            Sources::One(one) => vec![one.clone()],
            Sources::Several(several) => several.clone(),
        };
        let named = lists.iter().flat_map(|list| sources(&list.source));
        for source in named.chain(rows.iter().flat_map(|rows| sources(&rows.source))) {
            let free = ["common-practice", "from-memory"].contains(&source.as_str());
            assert!(free || file.sources.contains_key(&source), "{source}");
        }
        assert_eq!(words().parted("btbn"), Some(("b", "tbn")));
        assert_eq!(words().family("posaunen"), Some("trombone"));
    }
}
