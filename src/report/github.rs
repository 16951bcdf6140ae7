//! Workflow commands: each finding an annotation at its line of the score.
//!
//! A step shows at most ten errors, ten warnings and ten notices; the worst of each go first, the last
//! line says how many there are.

use std::collections::BTreeMap;
use std::io::{self, Write};

use super::contract::{Finding, Level, Report, Score};
use super::{phrases, worst_first};

/// So many of one kind are shown for a step.
const MOST_OF_A_KIND: usize = 10;

/// A host takes no longer title, in characters.
const LONGEST_TITLE: usize = 255;

/// Writes what is at least `from`.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    let mut written: BTreeMap<Level, usize> = BTreeMap::new();
    let mut left_out = 0;
    for unread in &report.unread {
        let so_far = written.entry(Level::Error).or_default();
        *so_far += 1;
        if *so_far > MOST_OF_A_KIND {
            left_out += 1;
            continue;
        }
        let file = property(&unread.path);
        writeln!(out, "::error file={file},title=could not be read::{}", message(&unread.message))?;
    }
    for (score, finding) in worst_first(report, from, false) {
        let so_far = written.entry(finding.severity).or_default();
        *so_far += 1;
        if *so_far > MOST_OF_A_KIND {
            left_out += 1;
            continue;
        }
        annotation(score, finding, out)?;
    }
    // A line of the log, no annotation: a step shows but few of those.
    for score in &report.scores {
        if let Some(said) = phrases::not_judged(score) {
            writeln!(out, "lowbrass: {}: {}", message(&score.path), message(&said))?;
        }
    }
    let shown = match left_out {
        0 => String::new(),
        left_out => format!("; {left_out} more than a step can show are left out here"),
    };
    writeln!(out, "lowbrass: {}{shown}", phrases::totals(report))
}

fn annotation(score: &Score, finding: &Finding, out: &mut dyn Write) -> io::Result<()> {
    let kind = match finding.severity {
        Level::Error => "error",
        Level::Warning => "warning",
        Level::Note => "notice",
    };
    let file = property(&score.path);
    let line = if finding.line == 0 || super::is_compressed(&score.path) {
        String::new()
    } else {
        format!(",line={}", finding.line)
    };
    let title = format!("{}: {}", phrases::part_and_place(score, finding), finding.rule);
    let title = property(&phrases::cut(&title, LONGEST_TITLE));
    let said = message(&phrases::fact_and_way_out(finding));
    writeln!(out, "::{kind} file={file}{line},title={title}::{said}")
}

/// The escapes of a command's message.
fn message(text: &str) -> String {
    text.replace('%', "%25").replace('\r', "%0D").replace('\n', "%0A")
}

/// The escapes of a command's property.
fn property(text: &str) -> String {
    message(text).replace(':', "%3A").replace(',', "%2C")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_title_can_end_a_command_or_begin_another() {
        assert_eq!(property("50 %: a,b\n::error::"), "50 %25%3A a%2Cb%0A%3A%3Aerror%3A%3A");
        assert_eq!(message("a: b, c\r\n::error::x"), "a: b, c%0D%0A::error::x");
    }
}
