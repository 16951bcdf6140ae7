//! `lowbrass notes`: a row for each note, as it was read.

use std::io::BufWriter;

use lowbrass::check::{Source, seat};
use lowbrass::report::{note_rows, write_notes};

use super::args::NotesArgs;
use super::{Outcome, note, printed, reading};

pub(super) fn run(args: &NotesArgs) -> Outcome {
    let read = reading::staves(&args.reading, &Source::of(&args.score), args.all_parts)?;
    reading::wanted(&read).map_err(|names| reading::no_such_part(&args.reading.parts, names))?;
    let section = seat(&read.score, &read.room, &read.orders);
    if section.desks.is_empty() && !args.all_parts {
        let which = if args.reading.parts.is_empty() { "no part" } else { "none of these parts" };
        note(format!("{which} is read as low brass; --all-parts lists every part, --as says what one is"));
    }
    let rows = note_rows(&section, args.all);
    printed(|out| write_notes(rows, args.format.notes(), &mut BufWriter::new(out)))
}
