//! The built-in profiles against what the trade and its books say, and their reference page.

#![allow(clippy::unwrap_used)] // Helpers stand outside of the test functions.

use std::path::Path;
use std::sync::LazyLock;

use lowbrass::finding::Basis;
use lowbrass::music::{Dynamic, Sounding};
use lowbrass::playing::breath::sustain;
use lowbrass::playing::{slide, valves};
use lowbrass::profile::{Mechanism, PlayerFile, Profile, ProfileFile, Profiles, SectionFile, Zone};

static PROFILES: LazyLock<Profiles> = LazyLock::new(|| Profiles::embedded().unwrap());

fn profile(name: &str) -> std::sync::Arc<Profile> {
    PROFILES.named(name).unwrap()
}

fn pitch(name: &str) -> Sounding {
    name.parse().unwrap()
}

fn midi(pitch: Sounding) -> i32 {
    pitch.height().in_cents() / 100
}

fn at(number: i32) -> Sounding {
    let names = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    let name = names[usize::try_from(number.rem_euclid(12)).unwrap()];
    pitch(&format!("{name}{}", number.div_euclid(12) - 1))
}

/// What a note draws: free, note, extreme, effect, missing; outside the compass.
fn band(profile: &Profile, pitch: Sounding) -> &'static str {
    let Some(zone) = profile.range.zone_at(pitch) else { return "outside" };
    let there = match &profile.mechanism {
        Mechanism::Slide(slide) => slide::playable(slide, pitch),
        Mechanism::Valves(valves) => valves::fingering(valves, pitch).is_some(),
        Mechanism::Keys { .. } => true,
    };
    let (from, to) = *profile.range.usual;
    match zone {
        _ if !there => "missing",
        Zone::Effect => "effect",
        Zone::ExtremeLow | Zone::ExtremeHigh => "extreme",
        Zone::Comfortable if (from..=to).contains(&pitch) => "free",
        Zone::Comfortable => "note",
    }
}

/// Lowest note, highest note, what a note there draws.
type Band = (&'static str, &'static str, &'static str);

/// The bands of each profile, from low to high; what lies between them is outside.
const BANDS: [(&str, &[Band]); 23] = [
    // Common practice in studio and pit work, over A. E. Johnstone, 1917 (top F4), and Bandestration, 'Contrabass tuba'.
    (
        "contrabass-tuba-c",
        &[("G0", "Db1", "effect"), ("D1", "C4", "free"), ("C#4", "D4", "note"), ("Eb4", "F4", "extreme")],
    ),
    // The same; the missing semitone follows from four valves.
    (
        "contrabass-tuba-c-4v",
        &[
            ("G0", "C1", "effect"),
            ("Db1", "Db1", "missing"),
            ("D1", "C4", "free"),
            ("C#4", "D4", "note"),
            ("Eb4", "F4", "extreme"),
        ],
    ),
    // An encyclopedia's 'Tuba'; D. Stauffer, 'Tuba Pedal Tones', 2009; common practice for C1 and D1.
    (
        "contrabass-tuba-b-flat",
        &[
            ("G0", "Bb0", "effect"),
            ("B0", "B0", "missing"),
            ("C1", "C1", "effect"),
            ("Db1", "Db1", "extreme"),
            ("D1", "Bb3", "free"),
            ("B3", "C4", "note"),
            ("C#4", "F4", "extreme"),
        ],
    ),
    // D. Stauffer 2009; a reference page on the sousaphone; edges a proposal.
    (
        "sousaphone",
        &[
            ("G0", "Bb0", "effect"),
            ("B0", "Eb1", "missing"),
            ("E1", "E1", "extreme"),
            ("F1", "F3", "free"),
            ("F#3", "Bb3", "note"),
            ("B3", "C4", "extreme"),
        ],
    ),
    // H. Riemann, Musik-Lexikon, 1882 (A0 to Ab4); common practice for F4.
    (
        "bass-tuba-f",
        &[("A0", "Db1", "effect"), ("D1", "E1", "extreme"), ("F1", "F4", "free"), ("F#4", "Ab4", "extreme")],
    ),
    // An encyclopedia's 'Tuba' (E1 on four valves).
    (
        "bass-tuba-e-flat",
        &[
            ("A0", "Db1", "effect"),
            ("D1", "Eb1", "extreme"),
            ("E1", "D4", "free"),
            ("Eb4", "Eb4", "note"),
            ("E4", "G4", "extreme"),
        ],
    ),
    // Oxford Index; a French six-valve tuba's fingerings; 'Bydlo'; edges a proposal.
    (
        "french-tuba-c",
        &[
            ("A0", "D1", "effect"),
            ("Eb1", "B1", "extreme"),
            ("C2", "F4", "free"),
            ("F#4", "A4", "note"),
            ("Bb4", "C5", "extreme"),
        ],
    ),
    // Encyclopaedia Britannica 1911, 'Euphonium' (Bb0 to Bb4).
    (
        "euphonium",
        &[
            ("Bb0", "Bb1", "effect"),
            ("B1", "Db2", "extreme"),
            ("D2", "E2", "note"),
            ("F2", "Bb4", "free"),
            ("B4", "C5", "extreme"),
        ],
    ),
    (
        "tenor-tuba",
        &[
            ("E1", "Bb1", "effect"),
            ("B1", "B1", "missing"),
            ("C2", "Db2", "extreme"),
            ("D2", "E2", "note"),
            ("F2", "Bb4", "free"),
            ("B4", "C5", "extreme"),
        ],
    ),
    // An encyclopedia's 'Baritone horn' (E2 to Bb4); pedals from memory.
    (
        "baritone-horn",
        &[
            ("E1", "Bb1", "effect"),
            ("B1", "Eb2", "missing"),
            ("E2", "E2", "note"),
            ("F2", "F4", "free"),
            ("F#4", "G4", "note"),
            ("Ab4", "Bb4", "extreme"),
        ],
    ),
    // An encyclopedia's 'Wagner tuba'; a reference site's range.
    (
        "wagner-tuba-b-flat",
        &[
            ("E1", "Bb1", "effect"),
            ("B1", "B1", "missing"),
            ("C2", "Eb2", "extreme"),
            ("E2", "Bb4", "free"),
            ("B4", "D5", "note"),
            ("Eb5", "F5", "extreme"),
        ],
    ),
    (
        "wagner-tuba-f",
        &[
            ("B0", "F1", "effect"),
            ("F#1", "F#1", "missing"),
            ("G1", "A1", "extreme"),
            ("Bb1", "C4", "free"),
            ("C#4", "E4", "note"),
            ("F4", "G4", "extreme"),
        ],
    ),
    // A reference site on the ophicleide (B1 to F4 sure, Bb4 at most).
    (
        "ophicleide-c",
        &[("B1", "B1", "extreme"), ("C2", "F4", "free"), ("F#4", "Bb4", "note"), ("B4", "C5", "extreme")],
    ),
    // An encyclopedia's 'Alto trombone' (A2 to Eb5, G5 possible).
    (
        "alto-trombone",
        &[
            ("A1", "Eb2", "effect"),
            ("E2", "Ab2", "missing"),
            ("A2", "B2", "note"),
            ("C3", "D5", "free"),
            ("Eb5", "Eb5", "note"),
            ("E5", "G5", "extreme"),
        ],
    ),
    // 'Trombone', in Instruments of the Modern Symphony Orchestra; M. Clayville, 2011 (F5 reliable).
    (
        "tenor-trombone",
        &[
            ("E1", "Bb1", "effect"),
            ("B1", "Eb2", "missing"),
            ("E2", "Ab2", "note"),
            ("A2", "Bb4", "free"),
            ("B4", "C5", "note"),
            ("C#5", "F5", "extreme"),
        ],
    ),
    // An encyclopedia's 'Trombone', 2024.
    (
        "tenor-bass-trombone",
        &[
            ("C1", "Bb1", "effect"),
            ("B1", "B1", "missing"),
            ("C2", "C2", "extreme"),
            ("Db2", "Eb2", "note"),
            ("E2", "Bb4", "free"),
            ("B4", "C5", "note"),
            ("C#5", "F5", "extreme"),
        ],
    ),
    // An encyclopedia's 'Bass trombone'; C2 p and ff stand in Brahms, Symphony op. 68.
    (
        "bass-trombone",
        &[
            ("Bb0", "Eb1", "effect"),
            ("E1", "F#1", "extreme"),
            ("G1", "A1", "note"), // pedals are called hard below G1: an encyclopedia, "Trombone", 2024
            ("Bb1", "F4", "free"),
            ("F#4", "G4", "note"),
            ("Ab4", "Bb4", "extreme"),
        ],
    ),
    // An encyclopedia's 'Contrabass trombone'; Bandestration 2015.
    (
        "contrabass-trombone-f",
        &[
            ("F#0", "B0", "effect"),
            ("C1", "Eb1", "extreme"),
            ("E1", "Bb3", "free"),
            ("B3", "D4", "note"),
            ("Eb4", "F4", "extreme"),
        ],
    ),
    (
        "contrabass-trombone-b-flat",
        &[
            ("F#0", "Bb0", "effect"),
            ("B0", "B0", "missing"),
            ("C1", "Eb1", "extreme"),
            ("E1", "F3", "free"),
            ("F#3", "Bb3", "note"),
            ("B3", "D4", "extreme"),
        ],
    ),
    // Common practice in studio work (D1 to about Bb2, then a trombone); an encyclopedia's 'Cimbasso' (G4).
    (
        "cimbasso-f",
        &[("Bb0", "Db1", "effect"), ("D1", "Bb2", "free"), ("B2", "D4", "note"), ("Eb4", "G4", "extreme")],
    ),
    (
        "cimbasso-e-flat",
        &[
            ("Ab0", "C1", "effect"),
            ("Db1", "Db1", "extreme"),
            ("D1", "Bb2", "free"),
            ("B2", "C4", "note"),
            ("C#4", "F4", "extreme"),
        ],
    ),
    (
        "cimbasso-b-flat",
        &[
            ("G0", "Bb0", "effect"),
            ("B0", "B0", "missing"),
            ("C1", "C1", "effect"),
            ("Db1", "Db1", "extreme"),
            ("D1", "Bb2", "free"),
            ("B2", "Bb3", "note"),
            ("B3", "D4", "extreme"),
        ],
    ),
    // C. Forsyth, Orchestration, 1914 (G2 to Gb5).
    (
        "bass-trumpet",
        &[
            ("E2", "F#2", "extreme"),
            ("G2", "B2", "note"),
            ("C3", "G4", "free"),
            ("Ab4", "D5", "note"),
            ("Eb5", "Gb5", "extreme"),
        ],
    ),
];

#[test]
fn every_semitone_of_every_profile_lies_in_its_band() {
    let names: Vec<&str> = PROFILES.iter().map(|profile| profile.name.as_str()).collect();
    let mut listed: Vec<&str> = BANDS.iter().map(|(name, _)| *name).collect();
    listed.sort_unstable();
    assert_eq!(names, listed);
    for (name, bands) in BANDS {
        let profile = profile(name);
        for number in midi(pitch("C0"))..=midi(pitch("C6")) {
            let here = at(number);
            let expected = bands
                .iter()
                .find(|(low, high, _)| (pitch(low)..=pitch(high)).contains(&here))
                .map_or("outside", |(_, _, band)| band);
            assert_eq!(band(&profile, here), expected, "{name}, {here}");
        }
    }
}

/// Common practice in studio and pit work, no source: the facts about zones and ceilings.
#[test]
fn common_practice_about_zones_and_ceilings_holds() {
    let free = |name: &str, notes: &[&str]| {
        for note in notes {
            assert_eq!(band(&profile(name), pitch(note)), "free", "{name} {note}");
        }
    };
    let ceiling = |name: &str, note: &str| *profile(name).loudness.at(pitch(note)).unwrap().ceiling;
    let floor = |name: &str, note: &str| *profile(name).loudness.at(pitch(note)).unwrap().floor;

    // The everyday compass of a contrabass tuba reaches from D1 to C4; D1 is ordinary, what lies below an effect.
    free("contrabass-tuba-c", &["D1", "F1", "C2", "C3", "C4"]);
    for note in ["C1", "Bb0", "A0"] {
        assert_eq!(band(&profile("contrabass-tuba-c"), pitch(note)), "effect", "{note}");
    }
    // The loudness a tuba reaches falls with pitch; a loud D1 belongs an octave up, where fff sounds.
    let tuba = profile("contrabass-tuba-c");
    let up_to_the_middle: Vec<Dynamic> =
        tuba.loudness.rows.iter().filter(|row| row.from <= pitch("C4")).map(|row| *row.ceiling).collect();
    assert!(up_to_the_middle.windows(2).all(|pair| pair[0] <= pair[1]), "{up_to_the_middle:?}");
    assert!(ceiling("contrabass-tuba-c", "D1") < Dynamic::Ff);
    assert_eq!(ceiling("contrabass-tuba-c", "D2"), Dynamic::Fff);
    // Soft playing is safe over the whole range.
    for number in midi(pitch("D1"))..=midi(pitch("C4")) {
        assert!(floor("contrabass-tuba-c", &at(number).to_string()) <= Dynamic::P);
    }
    // Solos are safe to about D4; an F tuba takes the player to F4.
    assert_eq!(band(&tuba, pitch("D4")), "note");
    assert_eq!(band(&tuba, pitch("F4")), "extreme");
    free("bass-tuba-f", &["F4"]);
    // Cimbasso: D1 to about B flat 2 at f, above that a trombone usually takes it; soft playing is free.
    for name in ["cimbasso-f", "cimbasso-e-flat", "cimbasso-b-flat"] {
        free(name, &["D1", "Bb2"]);
        assert_eq!(band(&profile(name), pitch("C3")), "note");
        assert!(ceiling(name, "D1") >= Dynamic::F && ceiling(name, "Bb2") >= Dynamic::F);
        assert_eq!(floor(name, "Bb2"), Dynamic::Ppp);
        assert_eq!(profile(name).range.beyond_usual.above.as_deref(), Some("a trombone"));
    }
}

/// Seconds a full breath of 4.0 L lasts, by the flow model of the profiles, worked out by hand to a tenth: anchored on
/// B. Frederiksen, Arnold Jacobs: Song and Wind, and on Freour, Causse, Cossette, 2010.
#[test]
fn a_breath_lasts_as_the_flow_model_says() {
    let table = [
        ("Bb0", [1.5, 1.7, 2.4, 3.4, 5.4, 9.9]),
        ("C1", [1.5, 1.8, 2.6, 3.7, 5.9, 10.8]),
        ("F1", [1.6, 2.3, 3.2, 4.6, 7.3, 13.3]),
        ("Bb1", [2.0, 2.8, 4.0, 5.7, 9.0, 16.5]),
        ("C2", [2.2, 3.1, 4.3, 6.2, 9.8, 18.0]),
        ("F2", [2.7, 3.8, 5.3, 7.6, 12.1, 22.3]),
        ("Bb2", [3.3, 4.7, 6.6, 9.5, 15.0, 27.6]),
        ("F3", [4.5, 6.4, 8.9, 12.8, 20.3, 37.2]),
        ("Bb3", [5.5, 7.9, 11.1, 15.8, 25.1, 46.1]),
    ];
    let dynamics = [Dynamic::Fff, Dynamic::Ff, Dynamic::F, Dynamic::Mf, Dynamic::P, Dynamic::Pp];
    let tuba = profile("contrabass-tuba-c");
    for (note, seconds) in table {
        for (dynamic, expected) in dynamics.into_iter().zip(seconds) {
            let lasts = sustain(&tuba, pitch(note), dynamic).get();
            // The hand table rounds the flow to a hundredth first.
            assert!((lasts - expected).abs() <= 0.06, "{note} {dynamic}: {lasts}");
        }
    }
}

/// Low intervals as a published chart has them, and a common fundamental of 13.75 Hz, an octave below A0, worked out from
/// each ratio: below it is no pitch.
#[test]
fn low_intervals_warn_where_their_root_is_an_octave_below_what_is_a_pitch() {
    // A0, 27.5 Hz, is asked for in a discussion among music theorists; an octave below, 13.75 Hz, is none.
    let limits = PROFILES.section();
    // A minor sixth, 5:8, is a chord with its third in the bass and no more than a note.
    let ratios = [(3, 5.0), (4, 4.0), (5, 3.0), (7, 2.0), (9, 3.0)];
    for (semitones, number) in ratios {
        let row = limits.low_intervals.iter().find(|row| row.semitones == semitones).unwrap();
        let lowest = row.rooted_from.unwrap();
        assert!(lowest.hertz() / number >= 13.75 - 0.15, "{semitones}: {lowest}");
        assert!(at(midi(lowest) - 1).hertz() / number < 13.75, "{semitones}: {lowest}");
    }
    let clear =
        |semitones| limits.low_intervals.iter().find(|row| row.semitones == semitones).unwrap().clear_from;
    assert_eq!((clear(3), clear(7)), (pitch("C3"), pitch("C#2")));
    assert!(limits.low_intervals.iter().all(|row| row.semitones != 12), "an octave stands anywhere");
}

#[test]
fn every_value_of_every_profile_names_its_ground() {
    for profile in PROFILES.iter() {
        assert!(profile.cited.len() > 20, "{}", profile.name);
        for (place, key) in &profile.cited {
            assert!(profile.basis_of(key).is_some(), "{}: {place}", profile.name);
        }
    }
}

#[test]
fn the_reference_of_profiles_is_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/README.md");
    let made = lowbrass::report::profile_reference(&PROFILES);
    if std::env::var_os("LOWBRASS_BLESS").is_some() {
        std::fs::write(&path, &made).unwrap();
    }
    let there = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        there == made,
        "profiles/README.md is old: run this test with LOWBRASS_BLESS=1 and read the diff"
    );
}

#[test]
fn a_folder_of_ones_own_replaces_profiles_by_name() {
    let folder = tempfile::tempdir().unwrap();
    let built_in = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/contrabass-tuba-c.toml"),
    )
    .unwrap();
    let mine = built_in.replace("title = \"Contrabass tuba in C\"", "title = \"My tuba\"");
    std::fs::write(folder.path().join("contrabass-tuba-c.toml"), &mine).unwrap();
    std::fs::write(folder.path().join("my-tuba.toml"), mine.replace("\"contrabass-tuba-c\"", "\"my-tuba\""))
        .unwrap();
    std::fs::write(folder.path().join("notes.txt"), "not a profile").unwrap();
    let profiles = Profiles::embedded().unwrap().with_folder(folder.path()).unwrap();
    assert_eq!(profiles.iter().count(), 24);
    assert_eq!(profiles.named("contrabass-tuba-c").unwrap().title, "My tuba");
    assert_eq!(profiles.named("my-tuba").unwrap().title, "My tuba");

    std::fs::write(folder.path().join("bad.toml"), "name = \"bad\"\nfamly = \"tuba\"\n").unwrap();
    let error = Profiles::embedded().unwrap().with_folder(folder.path()).unwrap_err().to_string();
    assert!(error.contains("bad.toml:2:1: unknown field `famly`"), "{error}");

    let empty = tempfile::tempdir().unwrap();
    assert!(
        Profiles::embedded()
            .unwrap()
            .with_folder(empty.path())
            .unwrap_err()
            .to_string()
            .contains("holds no profile")
    );
    let gone = empty.path().join("gone");
    assert!(
        Profiles::embedded()
            .unwrap()
            .with_folder(&gone)
            .unwrap_err()
            .to_string()
            .contains("cannot read profiles")
    );
}

#[test]
fn every_file_satisfies_the_published_schema_and_a_wrong_one_does_not() {
    let schemas = [
        schemars::schema_for!(ProfileFile),
        schemars::schema_for!(SectionFile),
        schemars::schema_for!(PlayerFile),
    ];
    let checkers = schemas.map(|schema| jsonschema::validator_for(schema.as_value()).unwrap());
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles");
    let mut names: Vec<String> = PROFILES.iter().map(|profile| profile.name.clone()).collect();
    names.extend(["section".to_owned(), "player".to_owned()]);
    for name in names {
        let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).unwrap();
        let mut value: serde_json::Value = toml::from_str(&text).unwrap();
        let checker = &checkers[match name.as_str() {
            "section" => 1,
            "player" => 2,
            _ => 0,
        }];
        if let Some(error) = checker.iter_errors(&value).next() {
            panic!("{name}: {error} at {}", error.instance_path());
        }
        value["loudness"]["surprise"] = serde_json::Value::from(1);
        assert!(!checker.is_valid(&value), "{name}: an unknown key is let through");
    }
}

/// A `player.toml` in a folder of one's own counts for the built-in profiles, and says no more than it must.
#[test]
fn a_folder_may_say_what_all_players_have_in_common() {
    let folder = tempfile::tempdir().unwrap();
    let mine = "[sustain]\nusable = { litres = 2.9, source = \"spirometer\" }\n\n[sources]\nspirometer = { kind = \
                \"measured\", title = \"my own\", year = 2026 }\n";
    std::fs::write(folder.path().join("player.toml"), mine).unwrap();
    let profiles = Profiles::embedded().unwrap().with_folder(folder.path()).unwrap();
    let tuba = profiles.named("contrabass-tuba-c").unwrap();
    let built_in = profile("contrabass-tuba-c");
    let usable = &tuba.sustain.law.usable;
    assert_eq!((usable.get(), usable.ground.basis), (2.9, Basis::Measured));
    assert_eq!(usable.ground.sources[0], "my own, 2026");
    assert_eq!(tuba.agility.single_tongue, built_in.agility.single_tongue);
    let lasts = |profile: &Profile| sustain(profile, pitch("F2"), Dynamic::Ff).get();
    assert!((lasts(&tuba) / lasts(&built_in) - 2.9 / 4.0).abs() < 1e-9);

    std::fs::write(folder.path().join("player.toml"), mine.replace("2.9", "29.0")).unwrap();
    let error = Profiles::embedded().unwrap().with_folder(folder.path()).unwrap_err().to_string();
    assert!(error.contains("player.toml:2:") && error.contains("litres from 0.5 to 10"), "{error}");
}

/// The severities that the facts of the trade allow: a row bears a warning only where practice, a book, a measurement
/// or the mechanism stands behind it.
#[test]
fn what_only_we_propose_weighs_a_note() {
    let loud = |name: &str, note: &str| {
        profile(name).loudness.at(pitch(note)).unwrap().ceiling.ground.basis.is_estimate()
    };
    // A loud D1 on a contrabass tuba, a cimbasso below D1: common practice. All the rest: our estimate.
    assert!(
        !loud("contrabass-tuba-c", "D1") && !loud("contrabass-tuba-c", "G1") && !loud("cimbasso-f", "C1")
    );
    assert!(loud("bass-tuba-f", "F1") && loud("cimbasso-f", "D1") && loud("bass-trombone", "E1"));
    for profile in PROFILES.iter() {
        assert!(
            profile.loudness.rows.iter().all(|row| row.floor.ground.basis.is_estimate()),
            "{}",
            profile.name
        );
        let carries = |zone: Zone| profile.range.rows.iter().find(|row| row.zone == zone);
        // A border that is ours alone: the bass trumpet's top, the bass trombone's above A flat 4.
        let ours = ["bass-trumpet", "bass-trombone"].contains(&profile.name.as_str());
        if let Some(row) = carries(Zone::ExtremeHigh)
            && ours
        {
            assert!(row.ground.basis.is_estimate(), "{}", profile.name);
        }
    }
}
