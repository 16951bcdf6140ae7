//! `lowbrass unmark`: a marked copy without its remarks, byte for byte the score it was made of.

use std::path::Path;

use lowbrass::check::{Inputs, Replace, Source, write_whole};
use lowbrass::copies::unmarked;

use super::args::UnmarkArgs;
use super::{Failure, Outcome, Status, note, reading, to_standard_output};

pub(super) fn run(args: &UnmarkArgs) -> Outcome {
    let source = Source::of(&args.score);
    let failed = |why: &dyn std::fmt::Display| Failure::of(format!("{source}: {why}"));
    let bytes = reading::bytes(&source)?;
    let clean = unmarked(&bytes).map_err(|error| failed(&error))?;
    let Some(place) = args.place.as_deref().filter(|place| *place != Path::new("-")) else {
        to_standard_output(&clean.bytes)?;
        return Ok(Status::Clean);
    };
    let mut inputs = Inputs::none();
    if let Source::File(path) = &source {
        inputs.add(path);
    }
    let replace = if args.force { Replace::Anything } else { Replace::Nothing };
    write_whole(place, &clean.bytes, replace, &inputs).map_err(Failure::of)?;
    if !clean.was_marked {
        note(format!("{source}: has no remarks of lowbrass; {} is the same", place.display()));
    }
    Ok(Status::Clean)
}
