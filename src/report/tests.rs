//! Every format on one report with every kind of finding, and what holds for all of them.

use super::*;

fn written(format: Format, report: &Report, look: &Look) -> String {
    let mut out = Vec::new();
    format.write(report, look, &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

/// Without its styles, as a pipe would get it.
fn plain(text: &str) -> String {
    anstream::adapter::strip_str(text).to_string()
}

fn snapshot(name: &str, text: &str) {
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("../../tests/expected/report");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!(name, text));
}

#[test]
fn text_at_80_columns() {
    snapshot("text-80", &plain(&written(Format::Text, &sample::report(), &Look::default())));
}

#[test]
fn text_of_a_folder() {
    snapshot("text-folder", &plain(&written(Format::Text, &sample::folder(), &Look::default())));
}

#[test]
fn the_json_report_keeps_to_its_own_schema() {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    for report in [sample::report(), sample::folder()] {
        let json = written(Format::Json, &report, &Look::default());
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        let errors: Vec<String> = validator.iter_errors(&json).map(|error| error.to_string()).collect();
        assert!(errors.is_empty(), "{errors:#?}");
    }
}
