//! Rows under a heading: as a table for people, as csv for a spreadsheet, as json for scripts.

use std::io::{self, Write};

use serde::Serialize;
use textwrap::{Options, WordSplitter};
use unicode_width::UnicodeWidthStr;

use super::csv::{inert, written};
use super::text::say;

/// How a listing is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Listing {
    /// Columns for people, on so many columns of a terminal.
    Table {
        /// Columns of the terminal.
        width: usize,
        /// Dashes and fractions beyond ASCII may be used.
        unicode: bool,
    },
    /// For a spreadsheet; no cell begins a formula.
    Csv,
    /// One array of objects.
    Json,
}

impl Listing {
    /// Whether people read it.
    pub const fn is_table(self) -> bool {
        matches!(self, Listing::Table { .. })
    }
}

/// One row of a listing.
pub(super) trait Row: Serialize {
    /// The heading of its columns.
    const HEADING: &'static [&'static str];

    /// Its cells, one for each column.
    fn cells(&self) -> Vec<String>;

    /// The heading of the table for people.
    const TABLE: &'static [&'static str] = Self::HEADING;

    /// What a cell of the table says that says nothing, by heading: a column with nothing else is left out, as an
    /// empty one is.
    const PLAIN: &'static [(&'static str, &'static str)] = &[];

    /// The cells of that table.
    fn table_cells(&self) -> Vec<String> {
        self.cells()
    }
}

/// Writes rows in the way asked.
pub(super) fn write<R: Row>(rows: &[R], listing: Listing, out: &mut dyn Write) -> io::Result<()> {
    match listing {
        Listing::Table { width, unicode } => {
            let said = |row: &R| row.table_cells().iter().map(|cell| say(cell, unicode)).collect();
            let rows = rows.iter().map(said).collect();
            table(&Grid { heading: R::TABLE, rows, plain: R::PLAIN, indent: 0 }, width, out)
        }
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

/// A sentence for people below a table, as wide as it; nothing below what scripts read.
pub(super) fn said_below(sentence: &str, listing: Listing, out: &mut dyn Write) -> io::Result<()> {
    if let Listing::Table { width, .. } = listing {
        let options = Options::new(width).word_splitter(WordSplitter::NoHyphenation);
        writeln!(out, "{}", textwrap::fill(sentence, options))?;
    }
    Ok(())
}

/// Writes a table for people: columns that are empty are left out, and cells are broken so that no line is wider than `width`
/// where that can be. Each row has a cell for each heading.
pub fn write_table(
    heading: &[&str],
    rows: Vec<Vec<String>>,
    width: usize,
    out: &mut dyn Write,
) -> io::Result<()> {
    table(&Grid { heading, rows, plain: &[], indent: 0 }, width, out)
}

/// A table as it stands.
pub(super) struct Grid<'a> {
    /// The heading of its columns.
    pub(super) heading: &'a [&'a str],
    /// Its rows, each with a cell for each column.
    pub(super) rows: Vec<Vec<String>>,
    /// As [`Row::PLAIN`].
    pub(super) plain: &'a [(&'a str, &'a str)],
    /// Blanks before each line.
    pub(super) indent: usize,
}

/// Between two columns.
const GAP: usize = 2;
/// Where words have to be broken no column is made narrower than this.
const NARROWEST: usize = 8;

/// Writes a table in lines no wider than `width`: columns that say nothing are left out, and the widest are
/// broken into lines until it fits. One that cannot be made to fit stays as narrow as it can be read.
pub(super) fn table(grid: &Grid<'_>, width: usize, out: &mut dyn Write) -> io::Result<()> {
    let columns = told_columns(grid.heading, &grid.rows, grid.plain);
    let heading: Vec<&str> = columns.iter().map(|&column| grid.heading[column]).collect();
    let rows: Vec<Vec<&str>> =
        grid.rows.iter().map(|row| columns.iter().map(|&column| row[column].as_str()).collect()).collect();
    let widths = widths(&heading, &rows, width.saturating_sub(grid.indent));
    for row in std::iter::once(&heading).chain(&rows) {
        let cells: Vec<Vec<String>> =
            row.iter().zip(&widths).map(|(cell, width)| broken(cell, *width)).collect();
        for line in 0..cells.iter().map(Vec::len).max().unwrap_or(0) {
            let mut text = " ".repeat(grid.indent);
            for (cell, width) in cells.iter().zip(&widths) {
                let piece = cell.get(line).map_or("", String::as_str);
                text.push_str(piece);
                text.push_str(&" ".repeat((width + GAP).saturating_sub(piece.width())));
            }
            writeln!(out, "{}", text.trim_end())?;
        }
    }
    Ok(())
}

/// The columns in which some row says something. Without rows all: what would stand there is told.
pub(super) fn told_columns(heading: &[&str], rows: &[Vec<String>], plain: &[(&str, &str)]) -> Vec<usize> {
    let says_something = |&column: &usize| {
        let of = |name: &&(&str, &str)| name.0 == heading[column];
        let nothing = plain.iter().find(of).map_or("", |(_, nothing)| nothing);
        rows.is_empty() || rows.iter().any(|row| !row[column].is_empty() && row[column] != nothing)
    };
    (0..heading.len()).filter(says_something).collect()
}

/// As wide as the widest cell; where that is too wide in all, the widest column narrower and narrower: first down to its
/// longest word, then, if need be, through words.
fn widths(heading: &[&str], rows: &[Vec<&str>], room: usize) -> Vec<usize> {
    let natural = |column: usize| rows.iter().map(|row| row[column].width()).max().unwrap_or(0);
    let mut widths: Vec<usize> =
        (0..heading.len()).map(|column| natural(column).max(heading[column].width())).collect();
    let gaps = GAP * heading.len().saturating_sub(1);
    let longest_word = |column: usize| {
        let cells = rows.iter().map(|row| row[column]).chain([heading[column]]);
        cells.flat_map(|cell| cell.split(' ')).map(UnicodeWidthStr::width).max().unwrap_or(0)
    };
    for least in [&longest_word as &dyn Fn(usize) -> usize, &|_| NARROWEST] {
        let least: Vec<usize> = (0..heading.len()).map(least).collect();
        while widths.iter().sum::<usize>() + gaps > room {
            let wide = (0..widths.len()).filter(|&column| widths[column] > least[column]);
            let Some(widest) = wide.max_by_key(|&column| widths[column]) else { break };
            widths[widest] -= 1;
        }
    }
    widths
}

/// A cell in lines.
fn broken(cell: &str, width: usize) -> Vec<String> {
    if cell.width() <= width {
        return vec![cell.to_owned()];
    }
    // A word that is longer than its column is broken; nothing of it is lost.
    let options = Options::new(width.max(1)).word_splitter(WordSplitter::NoHyphenation);
    textwrap::wrap(cell, options).into_iter().map(std::borrow::Cow::into_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(rows: &[[&str; 4]], width: usize, expected: &str) {
        let heading = ["part", "player", "bars", "what is to be said of it"];
        let rows = rows.iter().map(|row| row.map(str::to_owned).to_vec()).collect();
        let grid = Grid { heading: &heading, rows, plain: &[("player", "1")], indent: 2 };
        let mut out = Vec::new();
        table(&grid, width, &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), expected);
    }

    #[test]
    fn columns_that_say_nothing_are_left_out() {
        check(
            &[["Tuba", "1", "", "well"], ["Cimbasso", "1", "", "ill"]],
            80,
            "  part      what is to be said of it\n  Tuba      well\n  Cimbasso  ill\n",
        );
        check(&[["Tuba", "1", "", ""], ["Tuba", "2", "", ""]], 80, "  part  player\n  Tuba  1\n  Tuba  2\n");
    }

    #[test]
    fn the_widest_column_is_broken_until_it_fits() {
        let long = "three notes are not at ease, and one of them is not on the instrument";
        check(
            &[["Tuba", "2", "1–24", long]],
            50,
            "  part  player  bars  what is to be said of it\n  \
             Tuba  2       1–24  three notes are not at ease,\n                      and one of them is not on\n                      \
             the instrument\n",
        );
    }

    #[test]
    fn no_line_is_wider_than_the_terminal_and_nothing_is_lost() {
        let words = ["ease", "instrument", "well-tempered", "donaudampfschifffahrtskapitaen"];
        for width in [40, 60, 80, 200] {
            let cell = words.join(" ").repeat(3);
            let grid = Grid {
                heading: &["cue", "what"],
                rows: vec![vec!["1m3-fog-signal".repeat(4), cell.clone()]],
                plain: &[],
                indent: 0,
            };
            let mut out = Vec::new();
            table(&grid, width, &mut out).unwrap();
            let text = String::from_utf8(out).unwrap();
            assert!(text.lines().all(|line| line.width() <= width), "{text}");
            let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).count();
            assert_eq!(letters(&text), letters(&cell) + 14 * 4 + "cuewhat".len());
        }
    }
}
