//! "Did you mean": the right name nearest to a wrong one.

/// The name a person probably meant: the nearest one, when no more than a third of its letters are
/// wrong; `None` when nothing is near. A number at the end ("Tuba 1") may have been left out.
///
/// ```
/// let rules = ["out-of-range", "hit-too-low"];
/// assert_eq!(lowbrass::nearest::name("out-off-range", rules), Some("out-of-range"));
/// assert_eq!(lowbrass::nearest::name("intonation", rules), None);
/// ```
pub fn name<'a>(wrong: &str, right: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wrong = wrong.to_lowercase();
    let has_number = wrong.ends_with(|last: char| last.is_ascii_digit());
    right
        .into_iter()
        .filter_map(|candidate| {
            let without_number = candidate.trim_end_matches(|last: char| last.is_ascii_digit()).trim_end();
            [candidate, without_number]
                .into_iter()
                .filter(|meant| *meant == candidate || !(has_number || meant.is_empty()))
                .map(|meant| (strsim::damerau_levenshtein(&wrong, &meant.to_lowercase()), meant))
                .filter(|(distance, meant)| *distance <= meant.chars().count().max(3) / 3)
                .map(|(distance, _)| (distance, candidate))
                .min()
        })
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
    fn a_number_may_be_left_out_and_counts_where_it_is_given() {
        let parts = ["Trombone 1", "Trombone 2", "Tuba 1"];
        assert_eq!(name("Tbua", parts), Some("Tuba 1"));
        assert_eq!(name("tuba", parts), Some("Tuba 1"));
        assert_eq!(name("Trombnoe 2", parts), Some("Trombone 2"));
        assert_eq!(name("a", ["12"]), None);
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
