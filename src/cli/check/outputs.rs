//! Reports: which go where.

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use lowbrass::check::{Copies, Inputs, Replace, WriteError, may_write, write_whole};
use lowbrass::finding::Severity;
use lowbrass::report::{Format, Look, Report, write_moves, write_pages};
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
    pub(super) fn planned(
        args: &CheckArgs,
        settings: &Settings,
        copies: &Copies,
        inputs: &Inputs,
    ) -> Result<Outputs, Failure> {
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
        copies.named_files().for_each(|path| taken.add(path));
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
        Ok(Outputs {
            on_output: match on_output {
                _ if args.diff => Some(OnOutput::Moves),
                None if quiet || copies.are_handed_over() => None,
                format => Some(OnOutput::Report(format.unwrap_or(Format::Text))),
            },
            on_error: copies.are_handed_over() && !quiet,
            files,
            replace,
        })
    }

    /// Writes all reports; a file that cannot be written does not keep back the others.
    pub(super) fn write(
        &self,
        args: &CheckArgs,
        report: &Report,
        settings: &Settings,
        inputs: &Inputs,
        status: &mut Status,
    ) -> Result<(), Failure> {
        let min_level = min_level(args, settings);
        let fail_on = match super::fail_on(args, settings) {
            FailOn::Severity(severity) => Some(severity),
            FailOn::Never => None,
        };
        for (format, path) in &self.files {
            let look = Look { min_level, fail_on, all: args.all, let_stand: args.verbose, ..Look::default() };
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
        // Nothing but what the errors already say.
        let is_empty = report.scores.is_empty();
        let look = Look { min_level, fail_on, all: args.all, let_stand: args.verbose, ..terminal::look() };
        let out: Box<dyn Write> = match self.on_output {
            Some(OnOutput::Report(format)) if format != Format::Text => Box::new(std::io::stdout().lock()),
            // Styles, which a terminal may not want.
            _ => Box::new(anstream::stdout().lock()),
        };
        // Alone, standard output is written anew at each line.
        let mut out = BufWriter::new(out);
        match self.on_output {
            None | Some(OnOutput::Report(Format::Text) | OnOutput::Moves) if is_empty => Ok(()),
            None => Ok(()),
            Some(OnOutput::Report(format)) => format.write(report, &look, &mut out),
            Some(OnOutput::Moves) => write_moves(report, &look, &mut out),
        }
        .and_then(|()| out.flush())
        .map_err(Failure::Output)?;
        if self.on_error && !is_empty {
            // Where standard error is closed there is nobody left to tell.
            let _ = Format::Text.write(report, &look, &mut anstream::stderr().lock());
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
