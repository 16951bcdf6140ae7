//! The revision as a table of moves: part, place, from, to, reason. For `--diff`, and for a code review.

use std::io::{self, Write};

use anstyle::Style;
use textwrap::WordSplitter;
use unicode_width::UnicodeWidthStr;

use super::contract::{Move, Report, Score};
use super::text::say;
use super::{Look, phrases};

const STRONG: Style = Style::new().bold();
const QUIET: Style = Style::new().dimmed();
const HEADER: [&str; 6] = ["part", "where", "notes", "from", "to", "why"];
/// The columns before the reason are at most so wide.
const WIDEST_NAME: usize = 24;
/// A column of reasons narrower than this is hard to read.
const NARROWEST_REASON: usize = 36;
/// Where a reason below its move begins.
const BELOW: usize = 6;

/// Writes the moves of every score. Where the reason does not fit behind its move it goes on in its column,
/// or, where that is too narrow to read, below.
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
    let before: usize = widths[..5].iter().map(|width| width + 2).sum();
    let fits = before + 2 + widths[5] <= look.width;
    let room = look.width.saturating_sub(before + 2);
    let below = !fits && room < NARROWEST_REASON;
    let (indent, room) =
        if below { (BELOW, look.width.saturating_sub(BELOW).max(20)) } else { (before + 2, room) };
    let mut header = HEADER.map(str::to_owned);
    if below {
        header[5].clear();
    }
    line(&header, &widths, QUIET, out)?;
    for mut row in rows {
        let reason = std::mem::take(&mut row[5]);
        let options =
            textwrap::Options::new(room).break_words(false).word_splitter(WordSplitter::NoHyphenation);
        let mut lines = textwrap::wrap(&reason, options).into_iter();
        if !below {
            row[5] = lines.next().unwrap_or_default().into_owned();
        }
        line(&row, &widths, Style::new(), out)?;
        for rest in lines {
            writeln!(out, "{:indent$}{rest}", "")?;
        }
    }
    Ok(())
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
