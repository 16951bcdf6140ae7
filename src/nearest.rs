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

/// Of names that hold what was typed so many are offered; from so many letters on it says enough.
const MOST_OFFERED: usize = 9;
const LEAST_LETTERS: usize = 3;

/// The end of an error sentence: `; did you mean 'x'?`, or nothing. Where no name is near, those that hold
/// what was typed are offered, if they are few.
pub fn hint<'a>(wrong: &str, right: impl IntoIterator<Item = &'a str>) -> String {
    let right: Vec<&str> = right.into_iter().collect();
    if let Some(near) = name(wrong, right.iter().copied()) {
        return format!("; did you mean '{near}'?");
    }
    let wrong = wrong.to_lowercase();
    let mut holding: Vec<String> = right
        .iter()
        .filter(|name| wrong.chars().count() >= LEAST_LETTERS && name.to_lowercase().contains(&wrong))
        .map(|name| format!("'{name}'"))
        .collect();
    match (holding.len(), holding.pop()) {
        (2..=MOST_OFFERED, Some(last)) => format!("; did you mean {} or {last}?", holding.join(", ")),
        (1, Some(only)) => format!("; did you mean {only}?"),
        _ => String::new(),
    }
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
        let profiles = ["contrabass-tuba-c", "bass-tuba-f", "cimbasso-f"];
        assert_eq!(hint("contrabass", profiles), "; did you mean 'contrabass-tuba-c'?");
        assert_eq!(hint("Tuba", profiles), "; did you mean 'contrabass-tuba-c' or 'bass-tuba-f'?");
        assert_eq!(hint("a", profiles), "");
    }

    #[test]
    fn a_right_name_is_its_own_nearest() {
        assert_eq!(name("Tempo", ["tempos", "tempo"]), Some("tempo"));
    }
}
