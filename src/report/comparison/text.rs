//! The comparison for people at a terminal: what is new in full, what is gone in a line each, the rest counted.

use std::io::{self, Write};

use anstyle::Style;

use super::{Comparison, Levels, Remark, ScoreVersions, Told, words};
use crate::report::Look;
use crate::report::contract::{Finding, Level};
use crate::report::phrases;
use crate::report::text::{Page, STRONG};

/// Writes what is at least `from`.
pub(super) fn write(
    comparison: &Comparison,
    from: Level,
    look: &Look,
    out: &mut dyn Write,
) -> io::Result<()> {
    let mut page = Page::new(look, out);
    let mut first = true;
    let mut same = Vec::new();
    for score in &comparison.scores {
        let told = Told::of(comparison, score, from);
        if is_quiet(score, &told, look.all) {
            same.push(score.path());
            continue;
        }
        if !std::mem::take(&mut first) {
            page.blank()?;
        }
        write_score(score, &told, look.all, &mut page)?;
    }
    if !first {
        page.blank()?;
    }
    if comparison.scores.len() > 1 && !same.is_empty() {
        page.paragraph(0, Style::new(), &format!("Nothing new, gone or moved: {}", same.join(", ")))?;
    }
    page.paragraph(0, STRONG, &words::totals(comparison, from))?;
    // They are for what still has to be done.
    let open = Levels::of(&comparison.new, from).all() > 0;
    for caution in comparison.cautions.iter().filter(|_| open) {
        page.paragraph(0, Style::new(), caution)?;
    }
    Ok(())
}

fn is_quiet(score: &ScoreVersions, told: &Told<'_>, all: bool) -> bool {
    told.gone.is_empty()
        && told.new.is_empty()
        && told.moves.is_empty()
        && (!all || told.still_there.is_empty())
        && score.old.is_some()
        && score.new.is_some()
        && words::changes(score).is_empty()
}

fn write_score(score: &ScoreVersions, told: &Told<'_>, all: bool, page: &mut Page<'_>) -> io::Result<()> {
    page.title(score.path(), score.title.as_deref())?;
    match (&score.old, &score.new) {
        (Some(old), Some(_)) => page.paragraph(0, Style::new(), &format!("against {old}"))?,
        (None, _) => page.paragraph(0, Style::new(), "was not there before")?,
        (_, None) => page.paragraph(0, Style::new(), "is not there any more")?,
    }
    for said in words::changes(score) {
        page.paragraph(0, Style::new(), &phrases::sentence(&said))?;
    }
    if !told.moves.is_empty() {
        heading("Octaves moved", told.moves.len(), page)?;
        for moved in &told.moves {
            let [part, place, way] = words::moved(moved);
            page.item(&format!("{part} · {place} · {way}: {}", words::notes(moved)))?;
        }
    }
    if !told.new.is_empty() {
        heading("New", told.new.len(), page)?;
        // By part, as in the report, with the report's words.
        let mut parts: Vec<Option<&str>> = Vec::new();
        for remark in &told.new {
            let part = remark.finding.part_name.as_deref();
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        for (index, part) in parts.into_iter().enumerate() {
            if index > 0 {
                page.blank()?;
            }
            let own = told.new.iter().map(|remark| &remark.finding);
            let own: Vec<&Finding> = own.filter(|finding| finding.part_name.as_deref() == part).collect();
            page.paragraph(0, Style::new(), part.unwrap_or("The whole score"))?;
            page.remarks(&own)?;
        }
    }
    let renumbered = !score.bars_inserted.is_empty() || !score.bars_removed.is_empty();
    list(if renumbered { "Gone, by the old numbers" } else { "Gone" }, &told.gone, page)?;
    if all {
        list("Still there", &told.still_there, page)?;
    }
    Ok(())
}

fn heading(what: &str, count: usize, page: &mut Page<'_>) -> io::Result<()> {
    page.blank()?;
    page.paragraph(0, STRONG, &format!("{what} ({count})"))
}

fn list(what: &str, remarks: &[&Remark], page: &mut Page<'_>) -> io::Result<()> {
    if remarks.is_empty() {
        return Ok(());
    }
    heading(what, remarks.len(), page)?;
    for remark in remarks {
        let finding = &remark.finding;
        let mut said = vec![
            words::in_short(finding),
            format!("{} {}", finding.severity.word(), phrases::rule_said(finding)),
        ];
        said.extend(words::asides(remark));
        page.item(&said.join(" · "))?;
    }
    Ok(())
}
