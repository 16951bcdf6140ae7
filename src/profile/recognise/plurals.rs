//! Which of an instrument's names are plurals of others: those of the same language that differ by the endings of a plural.

use std::collections::HashSet;

use super::names::fold;
use crate::profile::Language;

/// The names that are plurals of others.
pub(super) fn of(names: &[(Language, String)]) -> HashSet<&str> {
    let folded: Vec<(Language, String)> =
        names.iter().map(|(language, name)| (*language, fold(name))).collect();
    let is_plural = |(language, name): &(Language, String)| {
        folded.iter().any(|(other, singular)| other == language && is_plural_of(name, singular))
    };
    let found = names.iter().zip(&folded).filter(|(_, folded)| is_plural(folded));
    found.map(|((_, name), _)| name.as_str()).collect()
}

/// Whether each word is the same or the plural, and one is.
fn is_plural_of(plural: &str, singular: &str) -> bool {
    let (ours, theirs): (Vec<&str>, Vec<&str>) = (words(plural), words(singular));
    let alike = |(many, one): (&&str, &&str)| many == one || is_plural_word(many, one);
    ours != theirs && ours.len() == theirs.len() && ours.iter().zip(&theirs).all(alike)
}

fn words(name: &str) -> Vec<&str> {
    name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect()
}

fn is_plural_word(plural: &str, singular: &str) -> bool {
    // "trombones", "Posaunen", "Tenorhörner", "Sousaphone"; the accents are gone.
    let longer = plural
        .strip_prefix(singular)
        .is_some_and(|ending| matches!(ending, "s" | "es" | "n" | "en" | "e" | "er"));
    // "tromboni", "Tuben", "Euphonien", "tube".
    let stem = singular.strip_suffix("um").or_else(|| singular.strip_suffix(['a', 'e', 'o']));
    let ending = stem.and_then(|stem| plural.strip_prefix(stem)).unwrap_or_default();
    longer || matches!(ending, "i" | "en") || (ending == "e" && singular.ends_with('a'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::shipped;

    #[test]
    fn the_plurals_of_the_profiles_are_told_from_their_singulars() {
        let mut all: Vec<&str> = shipped().iter().flat_map(|profile| of(&profile.recognise.names)).collect();
        all.sort_unstable();
        all.dedup();
        // Every one of them is a plural; "Sousaphone" is the German one.
        let expected = [
            "Altposaunen",
            "BBb basses",
            "Bassposaunen",
            "Basstrompeten",
            "Basstuben",
            "Bb basses",
            "Eb basses",
            "Euphonien",
            "Kontrabassposaunen",
            "Kontrabasstuben",
            "Ophikleiden",
            "Sousaphone",
            "Tenorhörner",
            "Tenorposaunen",
            "Tenortuben",
            "alto trombones",
            "baritone horns",
            "bass trombones",
            "bass trumpets",
            "bass tubas",
            "cimbassi",
            "contrabass trombones",
            "contrabass tubas",
            "euphoniums",
            "oficleidi",
            "ophicleides",
            "ophicléides",
            "sousaphones",
            "tenor trombones",
            "tenor tubas",
            "trombones bajos",
            "trombones basses",
            "trombones tenores",
            "trombones ténors",
            "tromboni bassi",
            "tromboni contrabbassi",
            "tromboni tenori",
            "tubas contrebasse",
            "tube contrabbasse",
        ];
        assert_eq!(all, expected);
    }
}
