//! Any text as settings: taken, or refused with a line and words; what is taken judges a score.
#![no_main]

use std::path::Path;
use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use lowbrass::profile::Profiles;
use lowbrass::rules::{RULES, present_name};
use lowbrass::settings::{Draft, Names};

static PROFILES: LazyLock<Vec<String>> = LazyLock::new(|| {
    let profiles = Profiles::embedded().expect("the built-in profiles are sound");
    profiles.iter().map(|profile| profile.name.clone()).collect()
});

fuzz_target!(|text: &str| {
    let names = Names {
        rules: RULES.iter().map(|rule| rule.name).collect(),
        present_rule: present_name,
        profiles: PROFILES.iter().map(String::as_str).collect(),
        no_tubas: Vec::new(),
        formats: &["text", "json"],
    };
    let settings = Draft::parse(Path::new("lowbrass.toml"), text.to_owned()).and_then(|draft| draft.check(&names));
    match settings {
        Ok(settings) => {
            assert!(settings.breath.is_finite() && settings.breath > 0.0);
            assert!(settings.tempo.is_none_or(|tempo| tempo.get().is_finite() && tempo.get() > 0.0));
        }
        Err(error) => assert!(error.to_string().starts_with("lowbrass.toml:")),
    }
});
