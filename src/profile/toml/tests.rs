//! What the loader accepts, and what it says of what it refuses.

use super::super::shipped;
use super::*;

const GOOD: &str = include_str!("../../../profiles/contrabass-tuba-c.toml");

/// A profile as it is read beside the shipped `player.toml`.
fn profile(file: &str, text: &str) -> Result<Profile, ProfileError> {
    super::profile(file, text, shipped().player())
}

/// What is said of the built-in tuba with one text in it replaced by another.
#[track_caller]
fn with(there: &str, instead: &str) -> String {
    assert_eq!(GOOD.matches(there).count(), 1, "'{there}' must stand in the file once");
    profile("contrabass-tuba-c.toml", &GOOD.replace(there, instead)).unwrap_err().to_string()
}

/// The fault is at this text and says this.
#[track_caller]
fn says(there: &str, instead: &str, at: &str, words: &str) {
    let changed = GOOD.replace(there, instead);
    let (line, column) = super::super::error::line_and_column(&changed, changed.find(at).unwrap());
    assert_eq!(with(there, instead), format!("contrabass-tuba-c.toml:{line}:{column}: {words}"));
}

#[test]
fn the_name_must_be_the_files() {
    says(
        "name = \"contrabass-tuba-c\"",
        "name = \"tuba\"",
        "\"tuba\"\n",
        "name: the file is contrabass-tuba-c.toml, so write name = \"contrabass-tuba-c\"",
    );
}

#[test]
fn an_unknown_key_is_refused_with_its_place() {
    let error = with("a_title = ", "a_titel = ");
    assert!(
        error.starts_with("contrabass-tuba-c.toml:5:1: unknown field `a_titel`, expected one of"),
        "{error}"
    );
}

#[test]
fn a_value_without_a_source_is_refused() {
    let error = with("top = { pitch = \"F4\", source = \"johnstone\" }", "top = { pitch = \"F4\" }");
    assert!(error.ends_with("missing field `source`"), "{error}");
    let line = GOOD.lines().position(|line| line.starts_with("top = ")).unwrap() + 1;
    assert!(error.starts_with(&format!("contrabass-tuba-c.toml:{line}:")), "{error}");
}

#[test]
fn a_pitch_that_is_none_says_what_one_looks_like() {
    let error = with("pitch = \"F4\"", "pitch = \"H4\"");
    let line = GOOD.lines().position(|line| line.starts_with("top = ")).unwrap() + 1;
    let start = format!("contrabass-tuba-c.toml:{line}:");
    assert!(error.starts_with(&start), "{error}");
    assert!(error.ends_with("expected a pitch such as D1, Bb0 or F#2, not 'H4'"), "{error}");
}

#[test]
fn a_dynamic_that_is_none_says_so() {
    let error = with("floor = \"p\", ceiling = \"mp\"", "floor = \"p\", ceiling = \"loud\"");
    assert!(error.ends_with("expected a dynamic from pppppp to ffffff, not 'loud'"), "{error}");
}

#[test]
fn rows_rise() {
    says(
        "{ from = \"Eb4\", zone = \"extreme\"",
        "{ from = \"C1\", zone = \"extreme\"",
        "\"C1\", zone = \"extreme\"",
        "range.rows.from: C1 does not lie above D1 of the row before; write the rows from low to high",
    );
}

#[test]
fn zones_nest() {
    says(
        "{ from = \"Eb4\", zone = \"extreme\"",
        "{ from = \"Eb4\", zone = \"effect\"",
        "\"effect\", source = [\"common-practice\", \"contrabass-page\"]",
        "range.rows.zone: zone 'effect' cannot stand above 'comfortable'; from low to high write effect, extreme, comfortable, \
         extreme, each at most once",
    );
    says(
        "{ from = \"D1\", zone = \"comfortable\"",
        "{ from = \"D1\", zone = \"extreme\"",
        "\"extreme\", source = [\"common-practice\", \"contrabass-page\"]",
        "range.rows.zone: zone 'extreme' cannot stand above 'extreme'; from low to high write effect, extreme, comfortable, \
         extreme, each at most once",
    );
}

#[test]
fn the_usual_span_lies_within_the_comfortable_zone() {
    says(
        "to = \"C4\"",
        "to = \"E4\"",
        "\"E4\"",
        "range.usual.to: the usual span must lie within the comfortable zone, D1 to below Eb4",
    );
    says(
        "usual = { from = \"D1\"",
        "usual = { from = \"D4\"",
        "\"D4\", to",
        "range.usual.from: D4 lies above C4; write the lower one first",
    );
}

#[test]
fn the_top_lies_above_the_rows() {
    says(
        "pitch = \"F4\"",
        "pitch = \"D4\"",
        "\"D4\", source",
        "range.top.pitch: the top D4 lies below the last row's Eb4; write a top of at least Eb4",
    );
}

#[test]
fn loudness_leaves_no_hole_and_stays_in_the_compass() {
    says(
        "{ from = \"G0\", floor",
        "{ from = \"A0\", floor",
        "\"A0\", floor",
        "loudness.rows.from: nothing is said from G0, where the range begins, to A0; begin the first row at G0",
    );
    says(
        "{ from = \"C#4\", floor",
        "{ from = \"C5\", floor",
        "\"C5\", floor",
        "loudness.rows.from: C5 lies outside the range, G0 to F4",
    );
    says(
        "floor = \"p\", ceiling = \"mp\"",
        "floor = \"ff\", ceiling = \"mp\"",
        "\"ff\", ceiling = \"mp\"",
        "loudness.rows.floor: the floor ff is louder than the ceiling mp; the floor is the softest that speaks",
    );
}

/// What is said of the built-in tuba with these lines of its own before its `[changes]`.
#[track_caller]
fn and_says(lines: &str) -> String {
    let more = GOOD.replace("[changes]", &format!("{lines}\n[changes]"));
    profile("contrabass-tuba-c.toml", &more).unwrap_err().to_string()
}

#[test]
fn a_breath_lasts_no_longer_when_it_is_louder() {
    let line = GOOD.lines().position(|line| line.starts_with("[changes]")).unwrap() + 2;
    let error = and_says("[sustain]\nrows = [{ at = \"F1\", mf = 4.57, f = 9.2, source = \"proposal\" }]");
    assert!(error.starts_with(&format!("contrabass-tuba-c.toml:{line}:")), "{error}");
    assert!(
        error.ends_with("f lasts 9.2 s, longer than mf with 4.57 s; louder playing takes more air"),
        "{error}"
    );
    let error = and_says("[sustain]\nrows = [{ at = \"F1\", source = \"proposal\" }]");
    assert!(error.ends_with("expected at least one row"), "{error}");
    let error = and_says("[sustain]\nrows = [{ at = \"C6\", mf = 4.0, source = \"proposal\" }]");
    assert!(error.ends_with("C6 lies outside the range, G0 to F4"), "{error}");
}

#[test]
fn a_profile_may_overrule_what_players_have_in_common() {
    let more = GOOD.replace(
        "[changes]",
        "[sustain]\nusable = { litres = 3.3, source = \"from-memory\" }\n\n[agility]\ndouble_tongue = { usual = \
         false, source = \"common-practice\" }\n\n[changes]",
    );
    let own = profile("contrabass-tuba-c.toml", &more).unwrap();
    let common = profile("contrabass-tuba-c.toml", GOOD).unwrap();
    assert!((own.sustain.law.usable.get() - 3.3).abs() < 1e-9);
    assert_eq!(own.sustain.law.usable.ground.basis, Basis::FromMemory);
    assert_eq!(
        (common.sustain.law.usable.get(), common.sustain.law.usable.ground.basis),
        (4.0, Basis::Computed)
    );
    assert_eq!(own.agility.tongue().value, common.agility.single_tongue.value);
    assert_eq!(own.agility.double_tongue.ground.basis, Basis::CommonPractice);
}

#[test]
fn a_warning_limit_lies_below_its_notes() {
    let error = GOOD
        .replace("mutes = [", "pick_up = { note = 10.0, warning = 16.0, source = \"proposal\" }\nmutes = [");
    let error = profile("contrabass-tuba-c.toml", &error).unwrap_err().to_string();
    assert!(error.ends_with("the warning, below 16 s, begins before the note, below 10 s"), "{error}");
}

#[test]
fn double_tonguing_has_its_seconds_or_is_not_usual() {
    for (value, words) in [
        ("seconds = 0.08, usual = false", "write either seconds, or usual = false"),
        ("usual = true", "double_tongue needs seconds, or usual = false"),
    ] {
        let error = and_says(&format!("[agility]\ndouble_tongue = {{ {value}, source = \"proposal\" }}"));
        assert!(error.ends_with(words), "{error}");
    }
}

#[test]
fn what_no_file_says_is_asked_for() {
    let alone = super::profile("contrabass-tuba-c.toml", GOOD, &Arc::new(Player::default()));
    let error = alone.unwrap_err().to_string();
    assert!(
        error.ends_with("nothing is said of breath.quick, here or in player.toml; write it in one of them"),
        "{error}"
    );
}

#[test]
fn a_mechanism_has_its_own_keys() {
    says(
        "kind = \"valves\"",
        "kind = \"slide\"",
        "\"slide\"",
        "mechanism.kind: kind = \"slide\" needs slide",
    );
    says(
        "kind = \"valves\"",
        "kind = \"keys\"",
        "\"keys\"",
        "mechanism.kind: kind = \"keys\" has no valves; take the line out",
    );
}

#[test]
fn each_source_key_is_explained_and_each_explanation_used() {
    says(
        "top = { pitch = \"F4\", source = \"johnstone\" }",
        "top = { pitch = \"F4\", source = \"jonstone\" }",
        "\"jonstone\"",
        "range.top.source: source 'jonstone' is not in [sources] (did you mean 'johnstone'?); explain it there, or write common-practice, \
         proposal or from-memory",
    );
    says(
        "source = [\"proposal\", \"orchestral-parts\"]",
        "source = \"proposal\"",
        "orchestral-parts = {",
        "no value names the source 'orchestral-parts'; take it out, or name it where it belongs",
    );
    says(
        "[sources]\n",
        "[sources]\nproposal = { kind = \"published\", title = \"mine\" }\n",
        "proposal = {",
        "'proposal' stands for itself; choose another key for a source of your own",
    );
}

#[test]
fn what_is_no_toml_is_told_with_its_place() {
    let error = with("[range]", "[range");
    assert!(error.starts_with("contrabass-tuba-c.toml:"), "{error}");
    assert!(!error.contains('\n'), "{error}");
}

#[test]
fn sources_are_cited_in_the_order_of_the_file() {
    let profile = profile("contrabass-tuba-c.toml", GOOD).unwrap();
    let places: Vec<&str> = profile.cited.iter().map(|(place, _)| place.as_str()).collect();
    let at = |place: &str| places.iter().position(|here| *here == place).unwrap();
    assert!(at("mechanism.valves") < at("range.rows[0]"));
    assert!(at("range.rows[0]") < at("range.top"));
    assert!(at("range.top") < at("changes.mutes[0]"));
}

/// The built-in tuba with its first loudness row cited in another way.
fn cited(source: &str) -> Profile {
    let row = "ceiling = \"mp\", source = \"common-practice\", floor_source = \"proposal\"";
    assert_eq!(GOOD.matches(row).count(), 1);
    profile("contrabass-tuba-c.toml", &GOOD.replace(row, &format!("ceiling = \"mp\", {source}"))).unwrap()
}

#[test]
fn the_source_named_first_carries_the_figure() {
    let ceiling = |source: &str| cited(source).loudness.rows[0].ceiling.clone();
    let book = "A. E. Johnstone, 'Tuba' and 'Trombone', Instruments of the Modern Symphony Orchestra, 1917";
    let supported = ceiling("source = [\"proposal\", \"johnstone\"]");
    assert_eq!(supported.ground.basis, Basis::Proposal);
    assert_eq!(*supported.ground.sources, ["our estimate".to_owned(), book.to_owned()]);
    assert_eq!(ceiling("source = [\"johnstone\", \"proposal\"]").ground.basis, Basis::Published);
    assert_eq!(ceiling("source = \"from-memory\"").ground.basis, Basis::FromMemory);
}

#[test]
fn a_floor_may_stand_on_ground_of_its_own() {
    let row = cited("source = \"common-practice\", floor_source = \"proposal\"").loudness.rows[0].clone();
    assert_eq!((row.ceiling.ground.basis, row.floor.ground.basis), (Basis::CommonPractice, Basis::Proposal));
    says(
        "ceiling = \"mp\", source = \"common-practice\", floor_source = \"proposal\"",
        "ceiling = \"mp\", source = \"proposal\", floor_source = \"jonstone\"",
        "\"jonstone\"",
        "loudness.rows.floor_source: source 'jonstone' is not in [sources] (did you mean 'johnstone'?); explain it there, or write \
         common-practice, proposal or from-memory",
    );
}

#[test]
fn a_source_says_who_what_where_and_when() {
    let explained = "johnstone = { kind = \"measured\", author = \"A. Body\", title = \"Bores\", place = \"a \
                     journal 1:2\", year = 1911 }\n";
    let line = GOOD.lines().find(|line| line.starts_with("johnstone = ")).unwrap();
    let profile = profile("contrabass-tuba-c.toml", &GOOD.replace(line, explained.trim_end())).unwrap();
    assert_eq!(profile.sources["johnstone"].in_words(), "A. Body, Bores, a journal 1:2, 1911");
    assert_eq!(profile.basis_of("johnstone"), Some(Basis::Measured));
}

/// Each number of a text, by its bytes.
fn numbers(text: &str) -> Vec<std::ops::Range<usize>> {
    fn gather(value: &toml::Spanned<DeValue<'_>>, found: &mut Vec<std::ops::Range<usize>>) {
        match value.get_ref() {
            DeValue::Integer(_) | DeValue::Float(_) => found.push(value.span()),
            DeValue::Array(rows) => rows.iter().for_each(|row| gather(row, found)),
            DeValue::Table(table) => table.values().for_each(|value| gather(value, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    DeTable::parse(text).unwrap().get_ref().values().for_each(|value| gather(value, &mut found));
    found
}

#[test]
fn no_number_of_a_profile_may_be_none_or_absurd_and_the_message_names_its_key() {
    let trombone = include_str!("../../../profiles/tenor-trombone.toml");
    let section = include_str!("../../../profiles/section.toml");
    let player = include_str!("../../../profiles/player.toml");
    let files =
        [("contrabass-tuba-c", GOOD), ("tenor-trombone", trombone), ("section", section), ("player", player)];
    for (file, text) in files {
        let numbers = numbers(text);
        assert!(numbers.len() > 5, "{file} has {} numbers", numbers.len());
        for span in numbers {
            for absurd in ["nan", "-inf", "1e300", "99999999999999999999999"] {
                let mut changed = text.to_owned();
                changed.replace_range(span.clone(), absurd);
                let name = format!("{file}.toml");
                let refused = match file {
                    "section" => super::super::section::section(&name, &changed).err(),
                    "player" => super::super::player::player(&name, &changed).err(),
                    _ => profile(&name, &changed).err(),
                };
                let line = text[..span.start].matches('\n').count() + 1;
                let key = crate::keys::at(&changed, &(span.start..span.start + absurd.len()));
                let refused = refused.unwrap_or_else(|| panic!("{name}:{line}: {key:?} = {absurd} is taken"));
                let told = refused.to_string();
                assert!(told.starts_with(&format!("{name}:{line}:")), "{told}");
                // A number beyond 64 bits is no TOML, and has no key yet.
                if let Some(key) = key {
                    assert!(told.contains(&format!(": {key}: ")), "{told}, not {key}");
                }
            }
        }
    }
}
