//! Old names of rules, which go on working in waivers, levels and baselines.

use super::RULES;

/// Old name, present name. A rule that is renamed gets a line here and keeps it for good.
const RENAMES: &[(&str, &str)] = &[("horn-change-too-quick", "instrument-change-too-quick")];

/// The present name of a rule known by its present or an old name; `None` where there was never such a rule.
pub fn present_name(name: &str) -> Option<&'static str> {
    present_in(RENAMES, name)
}

/// The first name a rule ever had: what fingerprints are made of, so that a renamed rule finds its old ones.
pub fn first_name(name: &str) -> &str {
    first_in(RENAMES, name)
}

fn first_in<'n>(renames: &'n [(&'n str, &'n str)], name: &'n str) -> &'n str {
    renames.iter().find(|(_, now)| *now == name).map_or(name, |(old, _)| old)
}

fn present_in(renames: &'static [(&str, &str)], name: &str) -> Option<&'static str> {
    let now = renames.iter().find(|(old, _)| *old == name).map_or(name, |(_, now)| now);
    RULES.iter().find(|rule| rule.name == now).map(|rule| rule.name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_old_name_leads_to_the_present_one() {
        const TABLE: &[(&str, &str)] = &[("tuba-too-low", "out-of-range")];
        assert_eq!(present_in(TABLE, "tuba-too-low"), Some("out-of-range"));
        assert_eq!(present_in(TABLE, "out-of-range"), Some("out-of-range"));
        assert_eq!(present_in(TABLE, "tuba-too-high"), None);
        assert_eq!(first_in(TABLE, "out-of-range"), "tuba-too-low");
        assert_eq!(first_in(TABLE, "hit-too-low"), "hit-too-low");
    }

    #[test]
    fn every_rename_leads_to_a_rule_and_hides_none() {
        for (old, now) in RENAMES {
            assert!(RULES.iter().any(|rule| rule.name == *now), "{old} leads to {now}, which is no rule");
            assert!(RULES.iter().all(|rule| rule.name != *old), "{old} is a rule and an old name at once");
        }
    }
}
