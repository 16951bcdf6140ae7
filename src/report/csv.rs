//! CSV by RFC 4180 with a header: a row for each finding, for a spreadsheet.
//!
//! A row a finding leaves no room for the parts that were not judged; every other format lists them.
//!
//! A cell never begins a formula: one that would gets an apostrophe before it.

use std::io::{self, Write};

use super::contract::{Finding, Level, OctaveMove, Report, Score};
use super::phrases;

const HEADER: [&str; 28] = [
    "path",
    "title",
    "severity",
    "rule",
    "part",
    "part_name",
    "profile",
    "bar",
    "beat",
    "to_bar",
    "to_beat",
    "notes",
    "worst_bar",
    "worst_beat",
    "written",
    "sounding",
    "midi",
    "dynamic",
    "seconds",
    "message",
    "instead",
    "octave_move",
    "standing",
    "waived",
    "line",
    "fingerprint",
    "basis",
    "sources",
];

/// Writes what is at least `from`; what is waived is there and says so.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    table.write_record(HEADER).map_err(written)?;
    for score in &report.scores {
        for finding in score.findings.iter().filter(|finding| finding.severity >= from) {
            table.write_record(row(score, finding).map(|cell| inert(&cell))).map_err(written)?;
        }
    }
    table.flush()
}

fn row(score: &Score, finding: &Finding) -> [String; HEADER.len()] {
    let offered = finding.octave_move.as_ref();
    let or_empty = |text: &Option<String>| text.clone().unwrap_or_default();
    [
        score.path.clone(),
        or_empty(&score.title),
        finding.severity.word().to_owned(),
        finding.rule.clone(),
        or_empty(&finding.part),
        or_empty(&finding.part_name),
        or_empty(&finding.profile),
        finding.bar.clone(),
        finding.beat.clone(),
        finding.span.to_bar.clone(),
        finding.span.to_beat.clone(),
        finding.span.notes.to_string(),
        finding.worst.bar.clone(),
        finding.worst.beat.clone(),
        or_empty(&finding.written),
        or_empty(&finding.sounding),
        finding.midi.map(|midi| midi.to_string()).unwrap_or_default(),
        or_empty(&finding.dynamic),
        finding.seconds.map(|seconds| super::contract::rounded(seconds).to_string()).unwrap_or_default(),
        finding.message.clone(),
        or_empty(&finding.instead),
        offered.map(moved).unwrap_or_default(),
        offered.map(|offered| offered.standing.word().to_owned()).unwrap_or_default(),
        finding.waived.as_ref().map(phrases::why_waived).unwrap_or_default(),
        finding.line.to_string(),
        finding.fingerprint.clone(),
        finding.basis.word().to_owned(),
        finding.sources.join("; "),
    ]
}

fn moved(offered: &OctaveMove) -> String {
    if offered.octaves == 0 {
        return String::new();
    }
    format!("{}: {}", phrases::stretch(&offered.from, &offered.to), phrases::by_octaves(offered.octaves))
}

/// The error of the writer below, kept as it is: a closed pipe must be known for one.
pub(super) fn written(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}

/// A cell that no spreadsheet takes for a formula.
pub(super) fn inert(cell: &str) -> String {
    let begins = cell.trim_start_matches([' ', '\u{a0}', '\u{feff}']).chars().next();
    match begins {
        Some('=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '|' | '＝' | '＋' | '－' | '＠') => {
            format!("'{cell}")
        }
        _ => cell.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_closed_pipe_is_told_as_one() {
        struct Closed;
        impl Write for Closed {
            fn write(&mut self, _: &[u8]) -> io::Result<usize> {
                Err(io::ErrorKind::BrokenPipe.into())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        let mut table = csv::WriterBuilder::new().buffer_capacity(1).from_writer(Closed);
        let error = table.write_record(["long enough"]).map_err(written).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::BrokenPipe);
    }

    #[test]
    fn no_cell_begins_a_formula() {
        for cell in ["=1+1", "+1", "-1", "@x", " =1", "\t=1", "＝1"] {
            assert_eq!(inert(cell), format!("'{cell}"));
        }
        assert_eq!(inert("D1 = 36.7 Hz"), "D1 = 36.7 Hz");
        assert_eq!(inert(""), "");
    }
}
