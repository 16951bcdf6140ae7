//! "Did you mean": the right name nearest to a wrong one.

/// The name a person probably meant: the nearest one, when no more than a third of its letters are
/// wrong; `None` when nothing is near.
///
/// ```
/// let rules = ["out-of-range", "hit-too-low"];
/// assert_eq!(lowbrass::nearest::name("out-off-range", rules), Some("out-of-range"));
/// assert_eq!(lowbrass::nearest::name("intonation", rules), None);
/// ```
pub fn name<'a>(wrong: &str, right: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wrong = wrong.to_lowercase();
    right
        .into_iter()
        .map(|candidate| (strsim::damerau_levenshtein(&wrong, &candidate.to_lowercase()), candidate))
        .filter(|(distance, candidate)| *distance <= candidate.chars().count().max(3) / 3)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// The end of an error sentence: `; did you mean 'x'?`, or nothing.
pub fn hint<'a>(wrong: &str, right: impl IntoIterator<Item = &'a str>) -> String {
    name(wrong, right).map_or_else(String::new, |right| format!("; did you mean '{right}'?"))
}

#[cfg(test)]
mod tests {
    use super::{hint, name};

    #[test]
    fn the_first_of_two_equally_near_names_is_offered() {
        assert_eq!(name("tubas", ["tuba1", "tuba2"]), Some("tuba1"));
    }

    #[test]
    fn a_hint_is_a_clause_or_nothing() {
        assert_eq!(hint("temp", ["tempo", "breath"]), "; did you mean 'tempo'?");
        assert_eq!(hint("xyz", ["tempo", "breath"]), "");
    }

    #[test]
    fn a_right_name_is_its_own_nearest() {
        assert_eq!(name("Tempo", ["tempos", "tempo"]), Some("tempo"));
    }
}
