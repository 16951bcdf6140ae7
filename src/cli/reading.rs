//! From what was typed about reading to what the library takes.

use lowbrass::check::{Config, Orders, Rooms};
use lowbrass::music::Tempo;
use lowbrass::profile::Profiles;
use lowbrass::settings::Pattern;

use super::Failure;
use super::args::ReadingArgs;

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
    let tempo = args
        .tempo
        .map(|tempo| {
            Tempo::quarters_a_minute(tempo).ok_or_else(|| {
                Failure::of(format!("--tempo {tempo}: expected quarter notes a minute above 0"))
            })
        })
        .transpose()?;
    Ok(Orders { instrument: instrument.map_err(Failure::of)?, parts, tempo })
}
