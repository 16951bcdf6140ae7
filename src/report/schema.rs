//! The JSON Schema of the JSON report, made from the very types that are written.

use schemars::generate::SchemaSettings;

use super::contract::Report;

/// The schema of `--format json`, draft 2020-12.
pub fn schema() -> serde_json::Value {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = generator.into_root_schema_for::<Report>();
    schema.insert("title".to_owned(), "lowbrass report".into());
    schema.to_value()
}
