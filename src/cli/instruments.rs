//! `lowbrass instruments`: which instrument for which passage; of several scores also what to bring.

use lowbrass::check::{gather, seat};
use lowbrass::playing::instruments::within_reach;
use lowbrass::report::{instrument_rows, kit_rows, kit_totals, write_instruments, write_kits};

use super::args::InstrumentsArgs;
use super::{Outcome, Status, error, printed, reading};

pub(super) fn run(args: &InstrumentsArgs) -> Outcome {
    let gathered = gather(&args.scores);
    let mut status = Status::Clean;
    for missing in &gathered.missing {
        error(missing);
        status = Status::Failed;
    }
    let mut a_part_was_there = args.reading.parts.is_empty();
    let mut names: Vec<String> = Vec::new();
    let several = gathered.scores.len() > 1;
    let mut instruments = Vec::new();
    let mut kits = Vec::new();
    for source in &gathered.scores {
        let read = match reading::score_of(&gathered, &args.reading, source) {
            Ok(Some(read)) => read,
            // A marked copy.
            Ok(None) => continue,
            Err(failure) if several => {
                error(failure);
                status = Status::Failed;
                continue;
            }
            Err(failure) => return Err(failure),
        };
        match reading::wanted(&read) {
            Ok(()) => a_part_was_there = true,
            Err(others) => names.extend(others),
        }
        let section = seat(&read.score, &read.room, &read.orders);
        let others = within_reach(&section, &read.room.profiles);
        instruments.extend(instrument_rows(&section, &others));
        kits.extend(kit_rows(&source.to_string(), &section, &others));
    }
    if !a_part_was_there && status == Status::Clean {
        return Err(reading::no_such_part(&args.reading.parts, names));
    }
    let listing = args.format.listing();
    if !gathered.scores.is_empty() {
        // Of several scores a script gets one table: what to bring, by cue.
        printed(|out| {
            if several {
                write_kits(&kits, listing, out)?;
                if listing.is_table() {
                    writeln!(out)?;
                    write_kits(&kit_totals(&kits), listing, out)?;
                }
                return Ok(());
            }
            write_instruments(&instruments, listing, out)?;
            if listing.is_table() {
                writeln!(out)?;
                write_kits(&kits, listing, out)?;
            }
            Ok(())
        })?;
    }
    Ok(status)
}
