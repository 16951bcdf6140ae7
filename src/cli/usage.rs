//! What was probably meant where what was typed means nothing: one message with what to type.

use std::ffi::OsString;
use std::path::Path;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use lowbrass::check::named_like_a_score;
use lowbrass::report::Format;

use super::Failure;
use super::args::CheckArgs;

/// What to say in place of the parser's own words; `None` where they serve.
pub(super) fn meant(error: &clap::Error, typed: &[OsString]) -> Option<Failure> {
    let Some(ContextValue::String(told)) =
        error.get(ContextKind::InvalidArg).or(error.get(ContextKind::InvalidSubcommand))
    else {
        return None;
    };
    match error.kind() {
        ErrorKind::InvalidSubcommand | ErrorKind::UnknownArgument if is_a_score(told) => {
            let rest: Vec<_> = typed.iter().skip(1).map(|word| quoted(&word.to_string_lossy())).collect();
            Some(Failure::of(format!(
                "'{told}' is no command; to check it:\n  lowbrass check {}",
                rest.join(" ")
            )))
        }
        ErrorKind::UnknownArgument => {
            let format = Format::ALL.into_iter().find(|format| told.trim_start_matches('-') == format.name());
            let name = format.filter(|_| told.starts_with("--"))?.name();
            let ending = ending_of(name);
            Some(Failure::of(format!(
                "there is no '{told}'; a report as {name}:\n  --output {name}=report.{ending}   into a file\n  \
                 --format {name}             on standard output"
            )))
        }
        _ => None,
    }
}

/// What the parser cannot know: options that say nothing without another.
pub(super) fn check(args: &CheckArgs) -> Result<(), Failure> {
    if args.unmark {
        return Err(Failure::of("--unmark is a command now:\n  lowbrass unmark SCORE -o PATH"));
    }
    if let (Some(place), false) = (&args.revised, args.fix_octaves) {
        let place = place.to_string_lossy();
        let ending = place.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
        let format = Format::ALL
            .into_iter()
            .find(|format| ending == format.name() || ending != "xml" && ending == ending_of(format.name()));
        return Err(Failure::of(match format {
            Some(format) => format!(
                "-o is the place of a revised copy; for a report:\n  --output {}={}",
                format.name(),
                quoted(&place)
            ),
            None => format!(
                "-o is the place of a revised copy, which --fix-octaves asks for:\n  --fix-octaves -o {}",
                quoted(&place)
            ),
        }));
    }
    if args.include_review && !args.fix_octaves && !args.diff {
        return Err(Failure::of(
            "--include-review says which moves a revised copy has:\n  --fix-octaves --include-review",
        ));
    }
    Ok(())
}

fn is_a_score(told: &str) -> bool {
    told == "-" || Path::new(told).exists() || named_like_a_score(Path::new(told)) || told.contains('*')
}

/// The usual ending of a report's file.
const fn ending_of(format: &str) -> &str {
    match format.as_bytes() {
        b"text" => "txt",
        b"junit" => "xml",
        b"markdown" => "md",
        _ => format,
    }
}

/// As a shell takes it for one word.
fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_alphanumeric() || "-_./=:,+@%".contains(letter);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}
