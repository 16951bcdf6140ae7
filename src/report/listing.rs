//! Rows under a heading: as a table for people, as csv for a spreadsheet, as json for scripts.

use std::io::{self, Write};

use serde::Serialize;
use unicode_width::UnicodeWidthStr;

use super::csv::{inert, written};

/// How a listing is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Listing {
    /// Columns for people.
    Table,
    /// For a spreadsheet; no cell begins a formula.
    Csv,
    /// One array of objects.
    Json,
}

/// One row of a listing.
pub(super) trait Row: Serialize {
    /// The heading of its columns.
    const HEADING: &'static [&'static str];

    /// Its cells, one for each column.
    fn cells(&self) -> Vec<String>;

    /// The heading of the table for people.
    const TABLE: &'static [&'static str] = Self::HEADING;

    /// The cells of that table.
    fn table_cells(&self) -> Vec<String> {
        self.cells()
    }
}

/// Writes rows in the way asked.
pub(super) fn write<R: Row>(rows: &[R], listing: Listing, out: &mut dyn Write) -> io::Result<()> {
    match listing {
        Listing::Table => table(rows, out),
        Listing::Csv => {
            let mut csv = csv::Writer::from_writer(out);
            csv.write_record(R::HEADING).map_err(written)?;
            for row in rows {
                csv.write_record(row.cells().iter().map(|cell| inert(cell))).map_err(written)?;
            }
            csv.flush()
        }
        Listing::Json => {
            serde_json::to_writer_pretty(&mut *out, rows)?;
            writeln!(out)
        }
    }
}

fn table<R: Row>(rows: &[R], out: &mut dyn Write) -> io::Result<()> {
    let heading: Vec<String> = R::TABLE.iter().map(|name| (*name).to_owned()).collect();
    let cells: Vec<Vec<String>> = std::iter::once(heading).chain(rows.iter().map(Row::table_cells)).collect();
    let widths: Vec<usize> = (0..R::TABLE.len())
        .map(|column| cells.iter().map(|row| row[column].width()).max().unwrap_or(0))
        .collect();
    for row in &cells {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            line.push_str(cell);
            line.push_str(&" ".repeat(width - cell.width() + 2));
        }
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
