//! `lowbrass init`: a commented `lowbrass.toml` for the scores of a folder, never over one that is there.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use lowbrass::check::{
    Inputs, Orders, Replace, Room, Source, WriteError, gather, read_players, seat, write_whole,
};
use lowbrass::musicxml::Document;
use lowbrass::profile::Profiles;
use lowbrass::settings::{FILE_NAME, Settings};

use super::args::InitArgs;
use super::{Failure, Outcome, Status, note};

pub(super) fn run(args: &InitArgs) -> Outcome {
    let folder = args.folder.clone().unwrap_or_else(|| PathBuf::from("."));
    if !folder.is_dir() {
        return Err(Failure::of(format!("{}: no such folder", folder.display())));
    }
    let place = if args.folder.is_some() { folder.join(FILE_NAME) } else { PathBuf::from(FILE_NAME) };
    if place.symlink_metadata().is_ok() {
        return Err(there(&place));
    }
    let seen = Seen::in_folder(&folder)?;
    let text = seen.settings();
    match write_whole(&place, text.as_bytes(), Replace::Nothing, &Inputs::none()) {
        Err(WriteError::AlreadyThere { path }) => return Err(there(&path)),
        other => other.map_err(Failure::of)?,
    }
    note(format!(
        "{}: written for {} {} with low brass under {} {}; look it through",
        place.display(),
        seen.scores,
        if seen.scores == 1 { "score" } else { "scores" },
        seen.parts.len(),
        if seen.parts.len() == 1 { "name" } else { "names" },
    ));
    Ok(Status::Clean)
}

fn there(place: &std::path::Path) -> Failure {
    Failure::of(format!("{}: is already there and stays as it is", place.display()))
}

/// What lies in the folder.
#[derive(Debug, Default)]
struct Seen {
    scores: usize,
    /// By the part's name, in alphabetical order: in how many scores it is read as which profile.
    parts: BTreeMap<String, BTreeMap<String, usize>>,
}

impl Seen {
    fn in_folder(folder: &std::path::Path) -> Result<Seen, Failure> {
        let room = Room::new(Settings::none(), Profiles::embedded().map_err(Failure::of)?);
        let orders = Orders::default();
        let mut seen = Seen::default();
        let gathered = gather(&[folder]);
        for source in &gathered.scores {
            let Source::File(path) = source else { continue };
            let bytes = match gathered.read(source).map_err(|error| error.to_string()) {
                Ok(None) => continue,
                Ok(Some(bytes)) => Ok(bytes),
                Err(message) => Err(message),
            };
            let score =
                bytes.and_then(|bytes| Document::open(bytes).map_err(|error| error.to_string())).and_then(
                    |document| read_players(&document, &room, &orders).map_err(|error| error.to_string()),
                );
            match score {
                Ok(score) => {
                    seen.scores += 1;
                    for desk in &seat(&score, &room, &orders).desks {
                        let name = desk.part.info.name.trim();
                        if let (false, Some(instrument)) = (name.is_empty(), desk.instruments.first()) {
                            let read_as = seen.parts.entry(name.to_owned()).or_default();
                            *read_as.entry(instrument.profile.name.clone()).or_default() += 1;
                        }
                    }
                }
                Err(why) => note(format!("{}: passed over: {why}", path.display())),
            }
        }
        Ok(seen)
    }

    fn settings(&self) -> String {
        let mut text = String::from(HEAD);
        for (name, read_as) in &self.parts {
            let name = quoted(name);
            let counted =
                |count: usize| if count == 1 { "1 part".to_owned() } else { format!("{count} parts") };
            match read_as.iter().next() {
                Some((profile, count)) if read_as.len() == 1 => {
                    let of = counted(*count);
                    let _ = write!(
                        text,
                        "\n# {of} of this name\n[[part]]\nname = {name}\nprofile = \"{profile}\"\n"
                    );
                }
                // What is one thing here and another there is for a person to say.
                _ => {
                    let each: Vec<String> = read_as
                        .iter()
                        .map(|(profile, count)| format!("{profile} in {}", counted(*count)))
                        .collect();
                    let _ = write!(text, "\n# Read as {}; left as it is.\n", each.join(", "));
                    for profile in read_as.keys() {
                        let _ = write!(text, "# [[part]]\n# name = {name}\n# profile = \"{profile}\"\n");
                    }
                }
            }
        }
        if self.parts.is_empty() {
            text.push_str("\n# [[part]]\n# name = \"Tuba*\"\n# profile = \"contrabass-tuba-c\"\n");
        }
        text.push_str(TAIL);
        text
    }
}

/// A TOML string; a name may hold quotes and line ends.
fn quoted(name: &str) -> String {
    let pattern: String = name
        .chars()
        .flat_map(|letter| {
            let is_special = matches!(letter, '*' | '?' | '[' | ']' | '{' | '}' | '\\');
            is_special.then_some('\\').into_iter().chain([letter])
        })
        .collect();
    toml::Value::String(pattern).to_string()
}

const HEAD: &str = "\
# Settings of lowbrass for the scores in this folder and below it. Everything may be left out.
# 'lowbrass settings' shows what is in force; 'lowbrass schema settings' describes this file.

# Quarter notes a minute where a score gives no tempo.
# tempo = 96

# A player's breath against the profile's; 1 is the profile's own. Ask the player.
# breath = 1.0

# What a part is read as that says only \"Tuba\".
# tuba = \"contrabass-tuba-c\"

# What 'lowbrass check' without a score checks.
# scores = [\"*.musicxml\", \"*.mxl\"]

# Findings accepted so far ('lowbrass check --write-baseline').
# baseline = \"lowbrass-baseline.json\"

# Where revised copies go; without it they stand beside their scores.
# revised = \"revised\"

# The least that is shown, and the least that makes a check fail: note, warning, error (fail-on: never).
# min-level = \"warning\"
# fail-on = \"warning\"

# Reports to write on each run.
# [output]
# json = \"lowbrass.json\"

# What a rule's findings weigh here: error, warning, note, off. 'lowbrass rules' lists the rules.
# [levels]
# unusual-clef = \"off\"

# The parts, by name (* and ? stand for any letters or one), and what is known of each: the instrument
# (\"none\" where it is no low brass), other instruments within reach, mutes at hand, players, breath. Of several
# entries that fit a part the first counts. 'lowbrass profiles' lists the instruments.
";

const TAIL: &str = "
# What more can be said of a part, in its entry:
# instruments = [\"bass-tuba-f\"]
# mutes = [\"straight\"]
# players = 2
# breath = 1.0

# \"I mean it\": findings that are let stand, each with its reason.
# [[waive]]
# rule = \"effect-register\"
# score = \"cue3.musicxml\"
# part = \"Tuba\"
# bars = \"40-44\"
# because = \"the pedal is the point of the cue; agreed with the player\"
# until = 2027-01-31
";
