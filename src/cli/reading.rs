//! From what was typed about reading to what the library takes.

use std::io::IsTerminal;
use std::sync::Arc;

use lowbrass::check::{
    Config, Gathered, NoSuchPart, Orders, Room, Rooms, Source, has_wanted, infos, read_players,
};
use lowbrass::intake::IntakeError;
use lowbrass::musicxml::{Document, ReadError};
use lowbrass::profile::Profiles;
use lowbrass::score::Score;
use lowbrass::settings::Pattern;

use super::args::ReadingArgs;
use super::{Failure, note};

/// A score that was read for a command that reads one.
pub(super) struct Read {
    pub(super) score: Score,
    pub(super) room: Arc<Room>,
    pub(super) orders: Orders,
}

/// Reads one score by the settings of its folder.
pub(super) fn score(args: &ReadingArgs, source: &Source) -> Result<Read, Failure> {
    of_parts(args, source, bytes(source)?, false, read_players)
}

/// Reads one of several scores; `None` for a marked copy that nobody named.
pub(super) fn score_of(
    gathered: &Gathered,
    args: &ReadingArgs,
    source: &Source,
) -> Result<Option<Read>, Failure> {
    let bytes = gathered.read(source).map_err(|error| unreadable(source, &error))?;
    bytes.map(|bytes| of_parts(args, source, bytes, false, read_players)).transpose()
}

/// Reads one score staff by staff as it is written; with `all_parts` the parts that are not low brass too.
pub(super) fn staves(args: &ReadingArgs, source: &Source, all_parts: bool) -> Result<Read, Failure> {
    of_parts(args, source, bytes(source)?, all_parts, lowbrass::check::read)
}

fn of_parts(
    args: &ReadingArgs,
    source: &Source,
    bytes: Vec<u8>,
    all_parts: bool,
    read: fn(&Document, &Room, &Orders) -> Result<Score, ReadError>,
) -> Result<Read, Failure> {
    let room = rooms(args).of_score(source).map_err(Failure::of)?;
    let orders = Orders { all_parts, ..orders(args, &room.profiles)? };
    let failed = |why: &dyn std::fmt::Display| Failure::of(format!("{source}: {why}"));
    let document = Document::open(bytes).map_err(|error| failed(&error))?;
    let score = read(&document, &room, &orders).map_err(|error| failed(&error))?;
    Ok(Read { score, room, orders })
}

/// A score's bytes. Who waits for standard input at a terminal is told so: nothing else would say why nothing happens.
pub(super) fn bytes(source: &Source) -> Result<Vec<u8>, Failure> {
    match source {
        Source::StandardInput => say_that_it_waits(),
        Source::File(path) if path.is_dir() => {
            return Err(Failure::of(format!("{source}: is a folder; name a score in it")));
        }
        Source::File(_) => {}
    }
    source.bytes().map_err(|error| unreadable(source, &error))
}

fn unreadable(source: &Source, why: &IntakeError) -> Failure {
    Failure::of(format!("{source}: cannot be read: {why}"))
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
pub(super) fn no_such_part(wanted: &[String], names: Vec<String>) -> Failure {
    Failure::of(NoSuchPart::new(wanted, names))
}

/// The rooms of a run.
pub(super) fn rooms(args: &ReadingArgs) -> Rooms {
    Rooms::new(config(args), args.profiles.clone())
}

/// Which settings hold.
pub(super) fn config(args: &ReadingArgs) -> Config {
    match (&args.config, args.no_config) {
        (Some(path), _) => Config::File(path.clone()),
        (None, true) => Config::None,
        (None, false) => Config::Nearest,
    }
}

/// What is asked of the reading of each score; `profiles` are those that `--as` may name.
pub(super) fn orders(args: &ReadingArgs, profiles: &Profiles) -> Result<Orders, Failure> {
    let instrument = args.instrument.as_deref().map(|name| profiles.named(name)).transpose();
    let instrument = instrument.map_err(Failure::of)?;
    Ok(Orders { instrument, parts: parts(args)?, tempo: args.tempo, all_parts: false })
}

/// The parts that are wanted.
pub(super) fn parts(args: &ReadingArgs) -> Result<Vec<Pattern>, Failure> {
    let pattern = |name: &String| {
        Pattern::new(name).map_err(|error| Failure::of(format!("--part {name}: {}", error.kind())))
    };
    args.parts.iter().map(pattern).collect()
}
