//! `lowbrass man`: the manual page, or one page for each command.

use std::io::{self, Write};

use clap::{Command, CommandFactory};
use clap_mangen::Man;

use super::args::{Cli, ManArgs};
use super::{Failure, Outcome, Status, print};

/// Where the examples of a help text end.
const STATUS: &str = "Exit status:";

pub(super) fn run(args: &ManArgs) -> Outcome {
    let mut command = Cli::command();
    command.build();
    let Some(folder) = &args.dir else {
        return print(&String::from_utf8_lossy(&page(&command).map_err(Failure::Output)?));
    };
    let written = std::fs::create_dir_all(folder).and_then(|()| {
        for command in std::iter::once(&command).chain(command.get_subcommands()) {
            let name = command.get_display_name().unwrap_or_else(|| command.get_name());
            std::fs::write(folder.join(format!("{name}.1")), page(command)?)?;
        }
        Ok(())
    });
    written.map_err(|error| Failure::of(format!("{}: cannot be written: {error}", folder.display())))?;
    Ok(Status::Clean)
}

/// A command's page; its examples stand as they were typed, which the library's own section does not keep.
fn page(command: &Command) -> io::Result<Vec<u8>> {
    let mut out = Vec::new();
    let man = Man::new(command.clone());
    man.render_title(&mut out)?;
    man.render_name_section(&mut out)?;
    man.render_synopsis_section(&mut out)?;
    man.render_description_section(&mut out)?;
    man.render_options_section(&mut out)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut out)?;
    }
    let more = command.get_after_long_help().or_else(|| command.get_after_help());
    let more = more.map(ToString::to_string).unwrap_or_default();
    let (examples, status) = more.split_once(STATUS).unwrap_or((&more, ""));
    as_typed("EXAMPLES", examples, &mut out)?;
    as_typed("EXIT STATUS", status, &mut out)?;
    Ok(out)
}

fn as_typed(heading: &str, text: &str, out: &mut Vec<u8>) -> io::Result<()> {
    if text.trim().is_empty() {
        return Ok(());
    }
    writeln!(out, ".SH \"{heading}\"\n.nf")?;
    for line in text.trim_matches('\n').lines() {
        // A leading dot or quote would be a request; what looks like a hyphen is a minus to be typed.
        let line = line.replace('\\', "\\e").replace('-', "\\-").replace('\'', "\\(aq");
        let guard = if line.starts_with('.') { "\\&" } else { "" };
        writeln!(out, "{guard}{line}")?;
    }
    writeln!(out, ".fi")
}
