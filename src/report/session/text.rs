//! The day for people at a terminal: a table for each player.

use std::io::{self, Write};

use anstyle::Style;

use super::{Session, words};
use crate::report::Look;
use crate::report::listing::{Grid, table};
use crate::report::text::{Page, STRONG, say};

/// Writes it.
pub(super) fn write(session: &Session, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    Page::new(look, out).paragraph(0, STRONG, &words::title(session))?;
    for day in &session.players {
        let mut page = Page::new(look, out);
        page.blank()?;
        page.paragraph(0, STRONG, &day.name)?;
        page.paragraph(0, Style::new(), &words::facts(session, day))?;
        page.paragraph(0, Style::new(), &words::bring(day))?;
        page.blank()?;
        let rows = day
            .cues
            .iter()
            .map(|cue| words::cells(session, cue).map(|cell| say(&cell, look.unicode)).to_vec());
        let grid = Grid { heading: &words::HEADING, rows: rows.collect(), plain: &[], indent: 2 };
        table(&grid, look.width, out)?;
        if !day.hard_in_a_row.is_empty() {
            let mut page = Page::new(look, out);
            page.blank()?;
            for pair in &day.hard_in_a_row {
                page.item(&words::pair(session, pair))?;
            }
        }
    }
    let mut page = Page::new(look, out);
    page.blank()?;
    if session.players.iter().any(|day| !day.hard_in_a_row.is_empty()) {
        page.paragraph(0, Style::new(), &words::measures(session))?;
    }
    for caution in &session.cautions {
        page.paragraph(0, Style::new(), caution)?;
    }
    Ok(())
}
