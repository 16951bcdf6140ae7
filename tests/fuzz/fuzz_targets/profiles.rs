//! Any text as a profile: taken, or refused with its line and words.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use lowbrass::profile::Profiles;

static FOLDER: LazyLock<tempfile::TempDir> = LazyLock::new(|| tempfile::tempdir().expect("a folder"));

fuzz_target!(|text: &str| {
    let file = FOLDER.path().join("contrabass-tuba-c.toml");
    std::fs::write(&file, text).expect("a file");
    let profiles = Profiles::embedded().expect("the built-in profiles are sound");
    if let Err(error) = profiles.with_folder(FOLDER.path()) {
        let told = error.to_string();
        assert!(told.contains("contrabass-tuba-c.toml"), "{told}");
    }
});
