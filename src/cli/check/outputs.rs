//! Reports: which go where.

use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use lowbrass::check::{Copies, Inputs, Replace, Run, WriteError, may_write, write_whole};
use lowbrass::finding::Severity;
use lowbrass::report::{
    FIRST_PAGE, Format, Look, Report, Score, write_changes, write_ending, write_moves, write_pages,
    write_remarks,
};
use lowbrass::settings::{FailOn, Settings};

use crate::cli::args::CheckArgs;
use crate::cli::{Failure, Status, error, terminal};

/// The reports of a run.
#[derive(Debug)]
pub(super) struct Outputs {
    /// On standard output.
    on_output: Option<OnOutput>,
    /// On standard error, where standard output carries a copy.
    on_error: bool,
    /// Whether the text report is printed as it goes: of several scores nobody waits for the last to read of the first.
    goes: bool,
    /// How the report on standard output looks.
    look: Look,
    files: Vec<(Format, PathBuf)>,
    replace: Replace,
}

/// What standard output carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum OnOutput {
    Report(Format),
    /// `--diff`
    Moves,
}

impl Outputs {
    pub(super) fn planned(args: &CheckArgs, run: &Run, copies: &Copies) -> Result<Outputs, Failure> {
        let (settings, inputs, scores) = (run.settings(), run.taken(), run.gathered.scores.len());
        let mut on_output = args.format;
        let mut files: Vec<(Format, PathBuf)> = Vec::new();
        for (format, path) in &args.output {
            if path == Path::new("-") {
                if on_output.is_some_and(|other| other != *format) {
                    return Err(Failure::of("standard output takes one report; name files for the others"));
                }
                on_output = Some(*format);
            } else {
                files.push((*format, path.clone()));
            }
        }
        for (name, path) in &settings.outputs {
            let format = Format::ALL.into_iter().find(|format| format.name() == name);
            let is_typed = |format: Format| files.iter().any(|(other, _)| *other == format);
            if let Some(format) = format.filter(|format| !is_typed(*format)) {
                files.push((format, path.clone()));
            }
        }
        if copies.are_handed_over() && on_output.is_some() {
            return Err(Failure::of(
                "standard output carries the copy; send the report to a file with --output",
            ));
        }
        let replace = if args.force { Replace::Anything } else { Replace::AnythingButScores };
        let mut taken = Inputs::none();
        run.places().for_each(|path| taken.add(path));
        for (format, path) in &files {
            if taken.hold(path) {
                return Err(Failure::of(format!(
                    "{}: is named twice; each output needs a place of its own",
                    path.display()
                )));
            }
            taken.add(path);
            if !takes_pages(*format, path) {
                may_write(path, replace, inputs).map_err(Failure::of)?;
            }
        }
        let quiet = args.quiet && args.format.is_none();
        let on_output = match on_output {
            _ if args.diff => Some(OnOutput::Moves),
            None if quiet || copies.are_handed_over() => None,
            format => Some(OnOutput::Report(format.unwrap_or(Format::Text))),
        };
        Ok(Outputs {
            on_output,
            on_error: copies.are_handed_over() && !quiet,
            goes: scores > 1 && on_output == Some(OnOutput::Report(Format::Text)),
            look: Look {
                min_level: min_level(args, settings),
                fail_on: match super::fail_on(args, settings) {
                    FailOn::Severity(severity) => Some(severity),
                    FailOn::Never => None,
                },
                all: args.all,
                verbose: args.verbose,
                ..terminal::look()
            },
            files,
            replace,
        })
    }

    /// The same, with nothing printed before all is known.
    pub(super) fn at_the_end(self) -> Outputs {
        Outputs { goes: false, ..self }
    }

    /// Whether files are written, so that a run has an end even where nobody reads on.
    pub(super) fn have_files(&self) -> bool {
        !self.files.is_empty()
    }

    /// Prints the remarks on one score of several, where the report is printed as it goes.
    pub(super) fn tell(&self, score: &Score) -> io::Result<()> {
        if !self.goes {
            return Ok(());
        }
        styled(|out| write_remarks(score, &self.look, out))
    }

    /// The page that is written to a file; of several the one that leads to the others.
    pub(super) fn page(&self) -> Option<PathBuf> {
        let (format, path) = self.files.iter().find(|(format, _)| *format == Format::Html)?;
        Some(if takes_pages(*format, path) { path.join(FIRST_PAGE) } else { path.clone() })
    }

    /// Prints what is new since an earlier check, where standard output carries the text report.
    pub(super) fn print_changes(&self, before: &Report, now: &Report) -> Result<(), Failure> {
        if self.on_output != Some(OnOutput::Report(Format::Text)) {
            return Ok(());
        }
        styled(|out| write_changes(before, now, &self.look, out)).map_err(Failure::Output)
    }

    /// Writes the reports that go to files; one that cannot be written does not keep back the others.
    pub(super) fn write_files(&self, report: &Report, inputs: &Inputs, status: &mut Status) {
        for (format, path) in &self.files {
            // As wide as everywhere, whatever the terminal is.
            let Look { width, unicode, .. } = Look::default();
            let look = Look { width, unicode, ..self.look };
            let written = if takes_pages(*format, path) {
                self.write_pages(path, report, &look, inputs)
            } else {
                self.write_file(*format, path, report, &look, inputs)
            };
            if let Err(failure) = written {
                error(failure);
                *status = Status::Failed;
            }
        }
    }

    /// Prints the report, or what of it has not been printed as it went.
    pub(super) fn print(&self, report: &Report) -> Result<(), Failure> {
        // Nothing but what the errors already say.
        let is_empty = report.scores.is_empty();
        match self.on_output {
            None | Some(OnOutput::Report(Format::Text) | OnOutput::Moves) if is_empty => Ok(()),
            None => Ok(()),
            Some(OnOutput::Report(Format::Text)) if self.goes => {
                styled(|out| write_ending(report, &self.look, out))
            }
            Some(OnOutput::Report(Format::Text)) => styled(|out| Format::Text.write(report, &self.look, out)),
            Some(OnOutput::Moves) => styled(|out| write_moves(report, &self.look, out)),
            Some(OnOutput::Report(format)) => {
                let mut out = BufWriter::new(io::stdout().lock());
                format.write(report, &self.look, &mut out).and_then(|()| out.flush())
            }
        }
        .map_err(Failure::Output)?;
        if self.on_error && !is_empty {
            // Where standard error is closed there is nobody left to tell.
            let _ = Format::Text.write(report, &self.look, &mut anstream::stderr().lock());
        }
        Ok(())
    }

    fn write_file(
        &self,
        format: Format,
        path: &Path,
        report: &Report,
        look: &Look,
        inputs: &Inputs,
    ) -> Result<(), Failure> {
        let mut bytes = Vec::new();
        match format {
            Format::Text => format.write(report, look, &mut anstream::StripStream::new(&mut bytes)),
            _ => format.write(report, look, &mut bytes),
        }
        .map_err(Failure::of)?;
        write_whole(path, &bytes, self.replace, inputs).map_err(Failure::of)
    }

    /// A page for each score, and the one that leads to them last: it never leads to what is not there.
    fn write_pages(
        &self,
        folder: &Path,
        report: &Report,
        look: &Look,
        inputs: &Inputs,
    ) -> Result<(), Failure> {
        let pages = write_pages(report, look).map_err(Failure::of)?;
        if !folder.is_dir() {
            std::fs::create_dir(folder)
                .map_err(|reason| WriteError::System { path: folder.to_owned(), reason })
                .map_err(Failure::of)?;
        }
        for (name, bytes) in pages {
            write_whole(&folder.join(name), &bytes, self.replace, inputs).map_err(Failure::of)?;
        }
        Ok(())
    }
}

/// Whether a report goes to a folder, as a page for each score.
fn takes_pages(format: Format, path: &Path) -> bool {
    let is_folder = path.as_os_str().to_string_lossy().ends_with(std::path::is_separator) || path.is_dir();
    format == Format::Html && is_folder
}

/// On standard output, with styles that a terminal may not want.
fn styled(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    // Alone, standard output is written anew at each line.
    let mut out = BufWriter::new(anstream::stdout().lock());
    write(&mut out).and_then(|()| out.flush())
}

/// The formats that were asked for.
pub(super) fn typed(args: &CheckArgs) -> impl Iterator<Item = Format> {
    args.format.into_iter().chain(args.output.iter().map(|(format, _)| *format))
}

/// The least that is shown, as typed.
pub(super) fn typed_level(args: &CheckArgs) -> Option<Severity> {
    args.min_level.map(Severity::from).or(args.verbose.then_some(Severity::Note))
}

/// What is less is not shown; `None`: as each format has it.
fn min_level(args: &CheckArgs, settings: &Settings) -> Option<Severity> {
    typed_level(args).or(settings.min_level)
}
