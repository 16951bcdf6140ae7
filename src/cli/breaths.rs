//! `lowbrass breaths`: where each player breathes, and what is left.

use lowbrass::check::{Source, seat};
use lowbrass::report::{breath_rows, write_breaths};

use super::args::BreathsArgs;
use super::{Failure, Outcome, printed, reading};

pub(super) fn run(args: &BreathsArgs) -> Outcome {
    let source = Source::of(&args.score);
    let read = reading::score(&args.reading, &source)?;
    reading::wanted(&read).map_err(|names| reading::no_such_part(&args.reading.parts, names))?;
    let section = seat(&read.score, &read.room, &read.orders);
    if section.desks.is_empty() {
        return Err(Failure::of(format!(
            "{}: no low-brass part is recognised; --as says what a part is",
            args.score.display()
        )));
    }
    let listing = args.format.listing();
    // What a script reads is whole.
    let (rows, left_out) = breath_rows(&section, args.all || !listing.is_table());
    printed(|out| write_breaths(&rows, left_out, listing, out))
}
