//! The day for a call sheet: a table for each player, without the columns that are empty.

use std::fmt::Write as _;
use std::io::{self, Write};

use super::{Session, words};
use crate::report::listing::told_columns;
use crate::report::markdown::text;

/// Writes it.
pub(super) fn write(session: &Session, out: &mut dyn Write) -> io::Result<()> {
    let mut page = format!("## {}\n", text(&words::title(session)));
    for day in &session.players {
        let _ = write!(page, "\n### {}\n\n", text(&day.name));
        let _ = write!(page, "{}\n\n{}\n\n", text(&words::facts(session, day)), text(&words::bring(day)));
        let rows: Vec<Vec<String>> =
            day.cues.iter().map(|cue| words::cells(session, cue).map(|cell| text(&cell)).to_vec()).collect();
        let columns = told_columns(&words::HEADING, &rows, &[]);
        let line = |cells: &mut dyn Iterator<Item = &str>| {
            cells.fold("|".to_owned(), |line, cell| format!("{line} {cell} |")) + "\n"
        };
        page.push_str(&line(&mut columns.iter().map(|&column| words::HEADING[column])));
        page.push_str(&line(&mut columns.iter().map(|_| "---")));
        for row in &rows {
            page.push_str(&line(&mut columns.iter().map(|&column| row[column].as_str())));
        }
        if !day.hard_in_a_row.is_empty() {
            page.push('\n');
        }
        for pair in &day.hard_in_a_row {
            let _ = writeln!(page, "- {}", text(&words::pair(session, pair)));
        }
    }
    page.push('\n');
    if session.players.iter().any(|day| !day.hard_in_a_row.is_empty()) {
        let _ = write!(page, "{}\n\n", text(&words::measures(session)));
    }
    for caution in &session.cautions {
        let _ = writeln!(page, "{}", text(caution));
    }
    out.write_all(page.as_bytes())
}
