//! One page for people who do not use a terminal: self-contained, fit to print, light or dark.
//!
//! Everything is in the file: no script, no font, no picture from elsewhere. A strip for each part shows
//! where in the score the remarks lie; severity has a word and a shape beside its colour.

use std::io::{self, Write};

use askama::Template;

use super::contract::{Finding, Level, Move, Part, Report, Score, Unread};
use super::gathered::{Gathered, gather};
use super::{phrases, text};

/// Writes what is at least `from`; notes are on the page and shown when asked for.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    let several = report.scores.len() != 1;
    let page = Page {
        several,
        level: if several { 3 } else { 2 },
        version: &report.tool.version,
        totals: phrases::totals(&report.summary),
        scores: report.scores.iter().zip(1..).map(|(score, n)| Sheet::of(score, from, n)).collect(),
        unread: &report.unread,
        levels: [Level::Error, Level::Warning, Level::Note]
            .into_iter()
            .filter(|&level| level >= from)
            .collect(),
    };
    page.write_into(&mut &mut *out)?;
    writeln!(out)
}

#[derive(Template)]
#[template(config = "src/report/askama.toml", path = "page.html")]
struct Page<'a> {
    version: &'a str,
    totals: String,
    scores: Vec<Sheet<'a>>,
    unread: &'a [Unread],
    levels: Vec<Level>,
    several: bool,
    /// Of the headings of parts: no level is skipped under a single score.
    level: u8,
}

struct Sheet<'a> {
    anchor: String,
    title: String,
    path: &'a str,
    parts: Vec<Section>,
    quiet: Vec<String>,
    moves: Vec<Row>,
    copy: Option<&'a str>,
    bars: u32,
    closing: String,
    moves_said: Option<String>,
}

/// A part, or the whole score, with what is said of it.
struct Section {
    anchor: String,
    name: String,
    facts: String,
    remarks: Vec<Remark>,
    /// The severities it has, as a class: it goes when all of them are hidden.
    levels: String,
    /// What the strip shows, for those who cannot see it.
    strip: String,
}

/// What is said once of one place or several.
struct Remark {
    anchor: String,
    level: Level,
    rule: String,
    place: String,
    asked: String,
    fact: String,
    way_out: String,
    waived: Option<String>,
    signs: Vec<Sign>,
}

/// A remark on the strip: its place, where it begins and how far it goes in per cent of the score.
struct Sign {
    place: String,
    x: f64,
    width: f64,
}

struct Row {
    part: String,
    place: String,
    notes: u32,
    from: String,
    to: String,
    why: String,
}

impl<'a> Sheet<'a> {
    fn of(score: &'a Score, from: Level, number: usize) -> Sheet<'a> {
        let shown: Vec<&Finding> = score.findings.iter().filter(|finding| finding.severity >= from).collect();
        let anchor = format!("score-{number}");
        let about = |is_meant: &dyn Fn(&Finding) -> bool| -> Vec<&'a Finding> {
            shown.iter().copied().filter(|finding| is_meant(finding)).collect()
        };
        let mut parts = Vec::new();
        let mut quiet = Vec::new();
        let mut add = |name: &str, facts: String, findings: Vec<&'a Finding>| {
            let anchor = format!("{anchor}-part-{}", parts.len() + 1);
            parts.push(Section::of(score, &anchor, name, facts, &findings));
        };
        let whole = about(&|finding| finding.part.is_none());
        if !whole.is_empty() {
            add("The whole score", String::new(), whole);
        }
        for other in &score.passed_over {
            let findings = about(&|finding| finding.is_about(&other.id, &other.name));
            if !findings.is_empty() {
                let name = phrases::part_label(score, &other.id, &other.name);
                add(&name, "not judged".to_owned(), findings);
            }
        }
        for part in &score.parts {
            let findings = about(&|finding| finding.is_about(&part.id, &part.name));
            let name = phrases::part_label(score, &part.id, &part.name);
            if findings.is_empty() {
                quiet.push(format!("{name}, {}", facts(part)));
            } else {
                add(&name, facts(part), findings);
            }
        }
        let listed: Vec<&Finding> =
            shown.iter().copied().filter(|finding| finding.waived.is_none()).collect();
        let revision = score.revision.as_ref();
        Sheet {
            anchor,
            title: score.title.clone().unwrap_or_else(|| score.path.clone()),
            path: &score.path,
            parts,
            quiet,
            moves: revision.map(|made| made.moves.iter().map(Row::of).collect()).unwrap_or_default(),
            copy: revision.and_then(|made| made.path.as_deref()),
            bars: score.bars,
            closing: phrases::closing(score, from),
            moves_said: phrases::moves_said(score, &listed),
        }
    }
}

impl Section {
    fn of(score: &Score, anchor: &str, name: &str, facts: String, findings: &[&Finding]) -> Section {
        let gathered = gather(findings);
        let before = std::iter::once(None).chain(gathered.iter().map(Some));
        let remarks: Vec<Remark> = gathered
            .iter()
            .zip(before)
            .zip(1..)
            .map(|((like, before), n)| {
                let remark = Remark::of(score, like, format!("{anchor}-{n}"));
                match before {
                    // Only where both are shown together.
                    Some(before)
                        if before.moves_as(like)
                            && before.findings[0].severity == like.findings[0].severity =>
                    {
                        Remark { way_out: phrases::THE_SAME_MOVE.to_owned(), ..remark }
                    }
                    _ => remark,
                }
            })
            .collect();
        let placed = findings.iter().filter(|finding| phrases::has_place(finding));
        let mut bars: Vec<String> = placed.map(|finding| phrases::bars_alone(finding)).collect();
        bars.dedup();
        let bars: Vec<&str> = bars.iter().map(String::as_str).collect();
        let levels = [Level::Error, Level::Warning, Level::Note]
            .into_iter()
            .filter(|&level| remarks.iter().any(|remark| remark.level == level))
            .fold("only".to_owned(), |class, level| format!("{class}-{}", level.word()));
        Section {
            anchor: anchor.to_owned(),
            name: name.to_owned(),
            facts,
            levels,
            remarks,
            strip: format!("{name}: remarks in bars {}", phrases::listed(&bars)),
        }
    }
}

impl Remark {
    fn of(score: &Score, like: &Gathered<'_>, anchor: String) -> Remark {
        let finding = like.spokesman();
        Remark {
            anchor,
            level: finding.severity,
            place: like.places(),
            asked: phrases::asked(&finding).unwrap_or_default(),
            fact: phrases::fact(&finding),
            way_out: phrases::what_to_do(&finding, like.findings.len() > 1).unwrap_or_default(),
            waived: finding.waived.as_ref().map(phrases::why_waived),
            signs: like.findings.iter().map(|finding| Sign::of(score, finding)).collect(),
            rule: finding.rule,
        }
    }
}

impl Sign {
    fn of(score: &Score, finding: &Finding) -> Sign {
        let bars = f64::from(score.bars.max(finding.span.to_bar_index + 1).max(1));
        let from = f64::from(finding.bar_index) * 100.0 / bars;
        let to = f64::from(finding.span.to_bar_index + 1) * 100.0 / bars;
        Sign {
            place: phrases::where_it_stands(finding),
            x: hundredths(from),
            width: hundredths((to - from).max(0.0)),
        }
    }
}

impl Row {
    fn of(made: &Move) -> Row {
        let (from, to) = phrases::from_to(made);
        Row {
            part: made.part_name.clone(),
            place: phrases::stretch(&made.from, &made.to),
            notes: made.notes,
            from,
            to,
            why: phrases::what_a_move_does(made),
        }
    }
}

fn facts(part: &Part) -> String {
    format!("{} · {}", phrases::read_as(part), phrases::plays(part))
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Text for a page: what no document may hold is left out, the rest is escaped by the template.
fn clean(plain: &str) -> String {
    text::say(plain, true)
}
