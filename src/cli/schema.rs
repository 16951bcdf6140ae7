//! `lowbrass schema`: the JSON Schemas of what lowbrass reads and writes.

use lowbrass::{profile, report, settings};

use super::args::{SchemaArgs, SchemaOf};
use super::{Failure, Outcome, print};

pub(super) fn run(args: &SchemaArgs) -> Outcome {
    let text = match args.what {
        SchemaOf::Settings => serde_json::to_string_pretty(&settings::schema()),
        SchemaOf::Profile => serde_json::to_string_pretty(&schemars::schema_for!(profile::ProfileFile)),
        SchemaOf::Player => serde_json::to_string_pretty(&schemars::schema_for!(profile::PlayerFile)),
        SchemaOf::Report => serde_json::to_string_pretty(&report::schema()),
        SchemaOf::Comparison => serde_json::to_string_pretty(&report::comparison_schema()),
        SchemaOf::Session => serde_json::to_string_pretty(&report::session_schema()),
    };
    print(&format!("{}\n", text.map_err(Failure::of)?))
}
