//! From what was typed about reading to what the library takes.

use std::io::IsTerminal;
use std::sync::Arc;

use lowbrass::check::{Config, Orders, Room, Rooms, Source, has_wanted, infos, read_players};
use lowbrass::musicxml::{Document, ReadError};
use lowbrass::nearest;
use lowbrass::profile::Profiles;
use lowbrass::score::Score;
use lowbrass::settings::Pattern;

use super::args::ReadingArgs;
use super::{Failure, note};

/// Of a score's parts so many are named where one was asked for that is not there.
const MOST_NAMES: usize = 16;

/// A score that was read for a command that reads one.
pub(super) struct Read {
    pub(super) score: Score,
    pub(super) room: Arc<Room>,
    pub(super) orders: Orders,
}

/// Reads one score by the settings of its folder.
pub(super) fn score(args: &ReadingArgs, source: &Source) -> Result<Read, Failure> {
    of_parts(args, source, false, read_players)
}

/// Reads one score staff by staff as it is written; with `all_parts` the parts that are not low brass too.
pub(super) fn staves(args: &ReadingArgs, source: &Source, all_parts: bool) -> Result<Read, Failure> {
    of_parts(args, source, all_parts, lowbrass::check::read)
}

fn of_parts(
    args: &ReadingArgs,
    source: &Source,
    all_parts: bool,
    read: fn(&Document, &Room, &Orders) -> Result<Score, ReadError>,
) -> Result<Read, Failure> {
    if let Source::File(path) = source
        && path.is_dir()
    {
        return Err(Failure::of(format!("{source}: is a folder; name a score in it")));
    }
    let room = rooms(args).of_score(source).map_err(Failure::of)?;
    let orders = Orders { all_parts, ..orders(args, &room.profiles)? };
    let failed = |why: &dyn std::fmt::Display| Failure::of(format!("{source}: {why}"));
    let bytes = bytes(source)?;
    let document = Document::open(bytes).map_err(|error| failed(&error))?;
    let score = read(&document, &room, &orders).map_err(|error| failed(&error))?;
    Ok(Read { score, room, orders })
}

/// A score's bytes. Who waits for standard input at a terminal is told so: nothing else would say why nothing happens.
pub(super) fn bytes(source: &Source) -> Result<Vec<u8>, Failure> {
    if *source == Source::StandardInput {
        say_that_it_waits();
    }
    source.bytes().map_err(|error| Failure::of(format!("{source}: cannot be read: {error}")))
}

/// Where standard input is a terminal, that a score is waited for there.
pub(super) fn say_that_it_waits() {
    if std::io::stdin().is_terminal() {
        note("reading a score from this terminal; paste it and end with Ctrl-D, or name a file instead of -");
    }
}

/// Whether what was asked for is in the score; else the names of its parts.
pub(super) fn wanted(read: &Read) -> Result<(), Vec<String>> {
    if has_wanted(&read.score, &read.room, &read.orders) {
        return Ok(());
    }
    Err(infos(&read.score).into_iter().map(|info| info.name).collect())
}

/// That none of the parts is there, with the name that was probably meant.
pub(super) fn no_such_part(wanted: &[String], mut names: Vec<String>) -> Failure {
    names.sort_unstable();
    names.dedup();
    let wanted = wanted.join("' or '");
    let hint = nearest::hint(&wanted, names.iter().map(String::as_str));
    let there = match names.len() {
        0 => "it has none".to_owned(),
        count if count > MOST_NAMES => {
            format!("{} and {} more", names[..MOST_NAMES].join(", "), count - MOST_NAMES)
        }
        _ => names.join(", "),
    };
    Failure::of(format!("no part is called '{wanted}'{hint} (parts: {there})"))
}

/// The rooms of a run.
pub(super) fn rooms(args: &ReadingArgs) -> Rooms {
    let config = match (&args.config, args.no_config) {
        (Some(path), _) => Config::File(path.clone()),
        (None, true) => Config::None,
        (None, false) => Config::Nearest,
    };
    Rooms::new(config, args.profiles.clone())
}

/// What is asked of the reading of each score; `profiles` are those that `--as` may name.
pub(super) fn orders(args: &ReadingArgs, profiles: &Profiles) -> Result<Orders, Failure> {
    let instrument = args.instrument.as_deref().map(|name| profiles.named(name)).transpose();
    let parts = args
        .parts
        .iter()
        .map(|name| {
            Pattern::new(name).map_err(|error| Failure::of(format!("--part {name}: {}", error.kind())))
        })
        .collect::<Result<_, _>>()?;
    Ok(Orders { instrument: instrument.map_err(Failure::of)?, parts, tempo: args.tempo, all_parts: false })
}
