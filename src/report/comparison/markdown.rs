//! The comparison for a comment on a change, or for a message to whoever made the new version.

use std::fmt::Write as _;
use std::io::{self, Write};

use super::{Comparison, Levels, Remark, Told, words};
use crate::report::contract::Level;
use crate::report::markdown::{LONGEST, text};
use crate::report::phrases;

/// Writes what is at least `from`; what still stands only where `all` is wanted.
pub(super) fn write(comparison: &Comparison, from: Level, all: bool, out: &mut dyn Write) -> io::Result<()> {
    let mut page = format!("{}\n", text(&words::totals(comparison, from)));
    let mut left_out = 0;
    for score in &comparison.scores {
        let told = Told::of(comparison, score, from);
        let bars = words::changes(score);
        let still: &[&Remark] = if all { &told.still_there } else { &[] };
        let nothing = told.new.is_empty() && told.gone.is_empty() && told.moves.is_empty() && bars.is_empty();
        if nothing && still.is_empty() && score.old.is_some() && score.new.is_some() {
            continue;
        }
        let mut lines = vec![match &score.title {
            Some(title) => format!("\n### {} ({})\n", text(title), text(score.path())),
            None => format!("\n### {}\n", text(score.path())),
        }];
        match (&score.old, &score.new) {
            (Some(old), Some(_)) => lines.push(format!("against {}\n", text(old))),
            (None, _) => lines.push("was not there before\n".to_owned()),
            (_, None) => lines.push("is not there any more\n".to_owned()),
        }
        for said in bars {
            lines.push(format!("{}\n", text(&phrases::sentence(&said))));
        }
        if !told.moves.is_empty() {
            lines.push("| moved | where | octaves | notes |\n|---|---|---|---|".to_owned());
            for moved in &told.moves {
                let [part, place, way] = words::moved(moved);
                let notes = words::notes(moved);
                lines.push(format!("| {} | {} | {} | {} |", text(&part), text(&place), way, text(&notes)));
            }
            lines.push(String::new());
        }
        for (what, remarks) in [("new", &told.new[..]), ("gone", &told.gone), ("still there", still)] {
            if remarks.is_empty() {
                continue;
            }
            lines.push(format!("| {what} | where | what |\n|---|---|---|"));
            for remark in remarks {
                let finding = &remark.finding;
                let (severity, rule) = (finding.severity.word(), &finding.rule);
                let place = text(&words::in_short(finding));
                let mut said = vec![phrases::fact(finding)];
                said.extend(words::asides(remark));
                let said = text(&said.join(" · "));
                lines.push(format!("| {severity} | {place} | {said} <br> `{rule}` |"));
            }
            lines.push(String::new());
        }
        for line in lines {
            if page.len() + line.len() > LONGEST {
                left_out += 1;
            } else {
                let _ = writeln!(page, "{line}");
            }
        }
    }
    if left_out > 0 {
        let _ = writeln!(page, "\n{} left out here.", phrases::counted(left_out, "more line"));
    }
    // They are for what still has to be done.
    let open = Levels::of(&comparison.new, from).all() > 0;
    for caution in comparison.cautions.iter().filter(|_| open) {
        let _ = writeln!(page, "\n{}", text(caution));
    }
    out.write_all(page.as_bytes())
}
