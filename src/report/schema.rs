//! The JSON Schemas of what is written as JSON, made from the very types that are written.

use schemars::generate::SchemaSettings;

use super::comparison::Comparison;
use super::contract::Report;
use super::session::Session;

/// The schema of `check --format json`, draft 2020-12.
pub fn schema() -> serde_json::Value {
    named::<Report>("lowbrass report")
}

/// The schema of `compare --format json`.
pub fn comparison_schema() -> serde_json::Value {
    named::<Comparison>("lowbrass comparison")
}

/// The schema of `session --format json`.
pub fn session_schema() -> serde_json::Value {
    named::<Session>("lowbrass session")
}

fn named<T: schemars::JsonSchema>(title: &str) -> serde_json::Value {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = generator.into_root_schema_for::<T>();
    schema.insert("title".to_owned(), title.into());
    schema.to_value()
}
