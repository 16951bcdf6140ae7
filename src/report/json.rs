//! The JSON report: the contract as it stands, indented, with a final line end.

use std::io::{self, Write};

use super::contract::{Level, Report};

/// Writes what is at least `from`; the summary counts everything.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    if from == Level::Note {
        return whole(report, out);
    }
    let mut shown = report.clone();
    for score in &mut shown.scores {
        score.findings.retain(|finding| finding.severity >= from);
    }
    whole(&shown, out)
}

fn whole(report: &Report, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, report)?;
    writeln!(out)
}
