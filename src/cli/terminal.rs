//! What the terminal is like.

use std::io::{self, IsTerminal};

use lowbrass::report::Look;

/// Columns where there is no terminal to ask.
const USUAL_WIDTH: usize = 80;

/// How a report looks on standard output.
pub(super) fn look() -> Look {
    Look { width: width(), unicode: speaks_unicode(), ..Look::default() }
}

/// Columns of standard output.
pub(super) fn width() -> usize {
    if !io::stdout().is_terminal() {
        return USUAL_WIDTH;
    }
    terminal_size::terminal_size().map_or(USUAL_WIDTH, |(width, _)| usize::from(width.0).max(40))
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
