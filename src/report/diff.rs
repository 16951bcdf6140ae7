//! The revision as a table of moves: part, place, from, to, reason. For `--diff`, and for a code review.

use std::io::{self, Write};

use anstyle::Style;
use unicode_width::UnicodeWidthStr;

use super::contract::{Move, Report, Score};
use super::text::say;
use super::{Look, phrases};

const STRONG: Style = Style::new().bold();
const QUIET: Style = Style::new().dimmed();
const HEADER: [&str; 6] = ["part", "where", "notes", "from", "to", "why"];
/// The columns before the reason are at most so wide.
const WIDEST_NAME: usize = 24;

/// Writes the moves of every score. The reason goes to the end of the line and is never cut: a review tool
/// wraps it, and a script finds one move on one line.
pub fn write_moves(report: &Report, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    for (index, score) in report.scores.iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        score_moves(score, look, out)?;
    }
    Ok(())
}

fn score_moves(score: &Score, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    let path = say(&score.path, look.unicode);
    let moves = score.revision.as_ref().map(|revision| revision.moves.as_slice()).unwrap_or_default();
    if moves.is_empty() {
        return writeln!(out, "{STRONG}{path}{STRONG:#}: no octave to move");
    }
    writeln!(out, "{STRONG}{path}{STRONG:#}: {}", phrases::counted(moves.len() as u32, "move"))?;
    let rows: Vec<[String; 6]> = moves.iter().map(|made| row(made, look.unicode)).collect();
    let mut widths = HEADER.map(UnicodeWidthStr::width);
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.width());
        }
    }
    line(&HEADER.map(str::to_owned), &widths, QUIET, out)?;
    rows.iter().try_for_each(|row| line(row, &widths, Style::new(), out))
}

fn line(cells: &[String; 6], widths: &[usize; 6], style: Style, out: &mut dyn Write) -> io::Result<()> {
    let mut text = String::new();
    for (column, (cell, width)) in cells.iter().zip(widths).enumerate() {
        let gap = if column + 1 == cells.len() { 0 } else { width.saturating_sub(cell.width()) + 2 };
        // Numbers stand at the right of their column.
        if column == 2 {
            text = format!("{text}{:pad$}{cell}  ", "", pad = gap.saturating_sub(2));
        } else {
            text = format!("{text}{cell}{:gap$}", "");
        }
    }
    writeln!(out, "  {style}{}{style:#}", text.trim_end())
}

fn row(made: &Move, unicode: bool) -> [String; 6] {
    let name: String = made.part_name.chars().take(WIDEST_NAME).collect();
    let (from, to) = phrases::from_to(made);
    let place = phrases::stretch(&made.from, &made.to);
    [name, place, made.notes.to_string(), from, to, phrases::what_a_move_does(made)]
        .map(|cell| say(&cell, unicode))
}
