//! What is new and what is gone since an earlier report on the same scores, in a line each: for whoever keeps a check running.

use std::collections::BTreeMap;
use std::io::{self, Write};

use anstyle::Style;

use super::contract::{Finding, Level, Report, Score};
use super::text::{Page, STRONG};
use super::{Format, Look, phrases};

/// Writes what is new and what is gone; a remark is known again by its fingerprint.
pub fn write_changes(before: &Report, now: &Report, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    let from = look.min_level.unwrap_or(Format::Text.usual_level()).into();
    let new = only_in(now, before, from);
    let gone = only_in(before, now, from);
    let mut page = Page::new(look, out);
    if new.is_empty() && gone.is_empty() {
        return page.paragraph(0, STRONG, "Since the last time: nothing new, nothing gone");
    }
    page.paragraph(0, STRONG, &format!("Since the last time: {} new, {} gone", new.len(), gone.len()))?;
    let several = now.scores.len() > 1 || before.scores.len() > 1;
    for (word, remarks) in [("new", &new), ("gone", &gone)] {
        for (score, finding) in remarks {
            let path = several.then_some(score.path.as_str());
            let place = phrases::part_and_place(score, finding);
            let asked = phrases::asked(finding);
            let rule = format!("{} {}", finding.severity.word(), phrases::rule_said(finding));
            let said = [path, Some(&place), asked.as_deref(), Some(&rule)];
            let said: Vec<&str> = said.into_iter().flatten().filter(|said| !said.is_empty()).collect();
            page.item(&format!("{word:4} {}", said.join(" · ")))?;
        }
    }
    page.paragraph(0, Style::new(), "")
}

/// The remarks of a report that another does not have, in its order.
fn only_in<'a>(report: &'a Report, other: &Report, from: Level) -> Vec<(&'a Score, &'a Finding)> {
    let mut known: BTreeMap<(String, String), usize> = BTreeMap::new();
    for (score, finding) in standing(other, Level::Note) {
        *known.entry(key(score, finding)).or_default() += 1;
    }
    let mut is_known = |score: &Score, finding: &Finding| {
        let left = known.get_mut(&key(score, finding)).filter(|left| **left > 0);
        left.map(|left| *left -= 1).is_some()
    };
    // Of a score that could not be read the other time nothing is new, and nothing gone.
    let read = |path: &str| other.scores.iter().any(|score| score.path == path);
    let unread = |path: &str| other.unread.iter().any(|unread| unread.path == path) && !read(path);
    standing(report, from)
        .filter(|(score, finding)| !unread(&score.path) && !is_known(score, finding))
        .collect()
}

fn key(score: &Score, finding: &Finding) -> (String, String) {
    (score.path.clone(), finding.fingerprint.clone())
}

fn standing(report: &Report, from: Level) -> impl Iterator<Item = (&Score, &Finding)> {
    let all =
        report.scores.iter().flat_map(|score| score.findings.iter().map(move |finding| (score, finding)));
    all.filter(move |(_, finding)| finding.waived.is_none() && finding.severity >= from)
}
