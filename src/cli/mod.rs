//! The command line: what was typed to what is done, and how it ended.
//!
//! Standard output carries what was asked for, standard error everything else. A reader that closes the
//! pipe has had enough and is no error.

mod args;
mod breaths;
mod check;
mod compare;
mod completions;
mod init;
mod instruments;
mod man;
mod notes;
mod offered;
mod profiles;
mod progress;
mod reading;
mod rules;
mod schema;
mod session;
mod settings;
mod terminal;
mod unmark;
mod usage;

use std::ffi::OsString;
use std::fmt::Display;
use std::io::{self, BufWriter, Write};
use std::process::ExitCode;

use anstyle::{AnsiColor, Style};
use clap::Parser;
use lowbrass::check::{caught, keep_quiet};
use lowbrass::printable::printable;

use args::{Cli, Command};

/// How it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Status {
    /// Nothing to say.
    Clean,
    /// Findings at or above the level that was asked for.
    Findings,
    /// It could not be done.
    Failed,
}

/// Why it could not be done, as one message.
#[derive(Debug)]
pub(crate) enum Failure {
    /// In words.
    Message(String),
    /// Standard output cannot be written.
    Output(io::Error),
}

type Outcome = Result<Status, Failure>;

/// Parses, runs, tells.
pub(crate) fn run() -> ExitCode {
    let typed: Vec<OsString> = std::env::args_os().collect();
    let cli = match Cli::try_parse_from(&typed) {
        Ok(cli) => cli,
        Err(told) => {
            if let Some(failure) = usage::meant(&told, &typed) {
                error(&failure);
                return Status::Failed.code();
            }
            // Help and version are no errors; when nobody reads them there is nothing to do about it.
            let _ = told.print();
            return ExitCode::from(u8::try_from(told.exit_code()).unwrap_or(2));
        }
    };
    colour(cli.color).write_global();
    keep_quiet();
    let run = || match &cli.command {
        Command::Check(args) => check::run(args),
        Command::Compare(args) => compare::run(args),
        Command::Session(args) => session::run(args),
        Command::Unmark(args) => unmark::run(args),
        Command::Notes(args) => notes::run(args),
        Command::Breaths(args) => breaths::run(args),
        Command::Instruments(args) => instruments::run(args),
        Command::Rules(args) => rules::run(args),
        Command::Profiles(args) => profiles::run(args),
        Command::Init(args) => init::run(args),
        Command::Settings(args) => settings::run(args),
        Command::Schema(args) => schema::run(args),
        Command::Completions(args) => completions::run(args),
        Command::Man(args) => man::run(args),
    };
    let outcome = caught(run).unwrap_or_else(|fault| {
        // Of many scores each has its own; here it is what was typed.
        let typed: Vec<String> = std::env::args().skip(1).collect();
        Err(Failure::of(format!("{}: {fault}", typed.join(" "))))
    });
    match outcome {
        Ok(status) => status.code(),
        Err(Failure::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => Status::Clean.code(),
        Err(failure) => {
            error(&failure);
            Status::Failed.code()
        }
    }
}

/// Says on standard error what went wrong.
pub(crate) fn error(message: impl Display) {
    say("error", Style::new().bold().fg_color(Some(AnsiColor::Magenta.into())), message);
}

/// Says on standard error what is good to know.
pub(crate) fn note(message: impl Display) {
    say("note", Style::new().bold(), message);
}

/// Writes what was asked for to standard output; styles are taken out where they are not wanted.
pub(crate) fn print(text: &str) -> Outcome {
    printed(|out| out.write_all(text.as_bytes()))
}

/// The same from a writer.
pub(crate) fn printed(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Outcome {
    let mut out = BufWriter::new(anstream::stdout().lock());
    write(&mut out).and_then(|()| out.flush()).map_err(Failure::Output)?;
    Ok(Status::Clean)
}

/// Writes bytes as they are: no stream looks at them.
pub(crate) fn to_standard_output(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(Failure::Output(error)),
        // Who closed the pipe has had enough.
        _ => Ok(()),
    }
}

fn say(kind: &str, style: Style, message: impl Display) {
    // A file's name, or what stands in it, may hold what steers a terminal.
    let message = message.to_string();
    let message = message.lines().map(printable).collect::<Vec<_>>().join("\n");
    let stderr = io::stderr();
    let mut told = anstream::AutoStream::new(Vec::new(), anstream::AutoStream::choice(&stderr));
    // Into memory, where it cannot fail.
    let _ = writeln!(told, "{style}{kind}:{style:#} {message}");
    let told = told.into_inner();
    // In one piece and, since an error that nobody sees is worse than one told twice, again where that fails. Where standard
    // error is closed there is nobody left to tell.
    let mut stderr = stderr.lock();
    let _ = stderr.write_all(&told).or_else(|_| stderr.write_all(&told));
}

fn colour(choice: clap::ColorChoice) -> anstream::ColorChoice {
    match choice {
        clap::ColorChoice::Auto => anstream::ColorChoice::Auto,
        clap::ColorChoice::Always => anstream::ColorChoice::Always,
        clap::ColorChoice::Never => anstream::ColorChoice::Never,
    }
}

impl Status {
    fn code(self) -> ExitCode {
        ExitCode::from(match self {
            Status::Clean => 0,
            Status::Findings => 1,
            Status::Failed => 2,
        })
    }
}

impl Failure {
    /// From any error's words.
    pub(crate) fn of(error: impl Display) -> Failure {
        Failure::Message(error.to_string())
    }
}

impl Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Failure::Message(message) => f.write_str(message),
            Failure::Output(error) => write!(f, "standard output cannot be written: {error}"),
        }
    }
}
