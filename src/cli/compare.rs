//! `lowbrass compare`: two versions of a score or folder.

use lowbrass::check::{Source, compare};
use lowbrass::finding::Severity;
use lowbrass::report::{ComparisonFormat, Look};
use lowbrass::settings::FailOn;

use super::args::{CompareArgs, PagesFormat};
use super::{Failure, Outcome, Status, check, error, printed, reading, terminal};

pub(super) fn run(args: &CompareArgs) -> Outcome {
    let mut rooms = reading::rooms(&args.reading);
    // By the settings of the new one, a folder's own among them.
    let room =
        if args.new.is_dir() { rooms.of_folder(&args.new) } else { rooms.of_score(&Source::of(&args.new)) };
    let room = room.map_err(Failure::of)?;
    let orders = reading::orders(&args.reading, &room.profiles)?;
    let today = check::meant::today(args.today)?;
    let compared = compare((&args.old, &args.new), &mut rooms, &orders, today).map_err(Failure::of)?;
    let comparison = compared.comparison;
    let mut status = Status::Clean;
    for missing in &compared.missing {
        error(missing);
        status = Status::Failed;
    }
    for unread in &comparison.unread {
        error(format!("{}: {}", unread.path, unread.message));
        status = Status::Failed;
    }
    let min_level = args.min_level.map(Severity::from).or(room.settings.min_level);
    let look = Look { min_level, all: args.all, ..terminal::look() };
    printed(|out| comparison.write(args.format.into(), &look, out))?;
    let fail_on = args.fail_on.map(FailOn::from).or(room.settings.fail_on);
    let is_worse = match fail_on.unwrap_or(FailOn::Severity(Severity::Warning)) {
        FailOn::Severity(least) => comparison.is_worse(least),
        FailOn::Never => false,
    };
    Ok(if is_worse { status.max(Status::Findings) } else { status })
}

impl From<PagesFormat> for ComparisonFormat {
    fn from(format: PagesFormat) -> ComparisonFormat {
        match format {
            PagesFormat::Text => ComparisonFormat::Text,
            PagesFormat::Json => ComparisonFormat::Json,
            PagesFormat::Markdown => ComparisonFormat::Markdown,
        }
    }
}
