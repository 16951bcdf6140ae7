//! What the terminal is like.

use std::io::{self, IsTerminal};

use lowbrass::report::Look;

/// Columns where there is no terminal to ask.
const USUAL_WIDTH: usize = 80;
/// No page is made narrower.
const NARROWEST: usize = 40;

/// How a report looks on standard output.
pub(super) fn look() -> Look {
    Look { width: width(), unicode: speaks_unicode(), ..Look::default() }
}

/// Columns of standard output: those that `COLUMNS` asks for, as POSIX has it, else those of the terminal.
pub(super) fn width() -> usize {
    let asked = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let terminal = || {
        let (width, _) = terminal_size::terminal_size().filter(|_| io::stdout().is_terminal())?;
        Some(usize::from(width.0))
    };
    asked
        .or_else(terminal)
        .filter(|columns| *columns > 0)
        .map_or(USUAL_WIDTH, |columns| columns.max(NARROWEST))
}

/// Whether more than ASCII may be written: only a locale that names another encoding says no.
fn speaks_unicode() -> bool {
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|value| !value.is_empty());
    locale.is_none_or(|locale| {
        let locale = locale.to_lowercase();
        locale.contains("utf-8") || locale.contains("utf8")
    })
}

/// A paragraph as wide as the terminal, the first line behind `head`, the others indented by `indent`.
pub(super) fn wrapped(text: &str, head: &str, indent: usize) -> String {
    let indent = " ".repeat(indent);
    let options = textwrap::Options::new(width().min(100)).initial_indent(head).subsequent_indent(&indent);
    format!("{}\n", textwrap::fill(text, options))
}
