//! Markdown for a comment on a change: a table for each score, and nothing in it that could link, mention,
//! or break the table.

use std::fmt::Write as _;
use std::io::{self, Write};

use super::contract::{Finding, Level, Report, Score};
use super::phrases;

/// Hosts refuse a comment beyond 65,536 characters; some are left for the closing lines.
pub(super) const LONGEST: usize = 60_000;

/// Writes what is at least `from`.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    let mut page = String::new();
    let mut left_out = 0;
    for score in &report.scores {
        section(score, from, &mut page, &mut left_out);
    }
    for unread in &report.unread {
        let line = format!("**{}** could not be read: {}\n\n", text(&unread.path), text(&unread.message));
        if page.len() + line.len() > LONGEST {
            left_out += 1;
        } else {
            page.push_str(&line);
        }
    }
    if left_out > 0 {
        let _ = writeln!(page, "{left_out} more left out here.\n");
    }
    let _ = writeln!(page, "{}", text(&phrases::totals(report)));
    out.write_all(page.as_bytes())
}

fn section(score: &Score, from: Level, page: &mut String, left_out: &mut usize) {
    let mut shown: Vec<&Finding> = score
        .findings
        .iter()
        .filter(|finding| finding.waived.is_none() && finding.severity >= from)
        .collect();
    if shown.is_empty() {
        let said =
            phrases::not_judged(score).map(|said| format!("{}: {}\n\n", text(&score.path), text(&said)));
        page.push_str(&said.filter(|said| page.len() + said.len() <= LONGEST).unwrap_or_default());
        return;
    }
    shown.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    let head = match &score.title {
        Some(title) => format!("### {} ({})\n\n", text(title), text(&score.path)),
        None => format!("### {}\n\n", text(&score.path)),
    };
    if page.len() + head.len() > LONGEST {
        *left_out += shown.len();
        return;
    }
    page.push_str(&head);
    page.push_str("| | where | what | what to do |\n|---|---|---|---|\n");
    let said = |finding: &Finding| {
        (
            finding.severity,
            phrases::where_it_stands(finding),
            phrases::fact(finding),
            finding.rule.clone(),
            phrases::what_to_do(finding, false).unwrap_or_default(),
        )
    };
    // The very same of several parts is one row.
    let mut rows: Vec<(_, Vec<&Finding>)> = Vec::new();
    for finding in shown {
        let words = said(finding);
        match rows.iter_mut().find(|(known, of)| {
            *known == words && finding.part.is_some() && of.iter().all(|other| other.part != finding.part)
        }) {
            Some((_, of)) => of.push(finding),
            None => rows.push((words, vec![finding])),
        }
    }
    for ((severity, _, fact, rule, way_out), of) in rows {
        let row = format!(
            "| {} | {} | {} <br> `{rule}` | {} |\n",
            severity.word(),
            text(&phrases::parts_and_place(score, &of)),
            text(&fact),
            text(&way_out),
        );
        if page.len() + row.len() > LONGEST {
            *left_out += of.len();
        } else {
            page.push_str(&row);
        }
    }
    page.push('\n');
    for said in score.cautions.iter().cloned().chain(phrases::not_judged(score)) {
        let line = format!("{}\n\n", text(&said));
        if page.len() + line.len() <= LONGEST {
            page.push_str(&line);
        }
    }
}

/// Text as text: markup, mentions, references and line ends have no meaning.
pub(super) fn text(plain: &str) -> String {
    let mut safe = String::with_capacity(plain.len());
    for letter in plain.chars() {
        match letter {
            letter if letter.is_control() => safe.push(' '),
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            // An empty comment behind it: the host then sees neither a mention nor a number of an issue.
            '@' => safe.push_str("@<!-- -->"),
            '#' => safe.push_str("\\#<!-- -->"),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '|' | '~' | '$' | '!' | '^' => {
                safe.push('\\');
                safe.push(letter);
            }
            ':' if safe.ends_with("http") || safe.ends_with("https") => safe.push_str(":<!-- -->"),
            letter => safe.push(letter),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_break_the_table_or_call_anyone() {
        assert_eq!(text("a|b\n@section #12 <b>"), r"a\|b @<!-- -->section \#<!-- -->12 &lt;b&gt;");
        assert_eq!(text("[x](https://y)"), r"\[x\](https:<!-- -->//y)");
    }
}
