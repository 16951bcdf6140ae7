//! `lowbrass settings`: what is in force for a score, and where it comes from.

use std::path::{Path, PathBuf};

use anstyle::Style;
use lowbrass::check::{Config, Rooms, Source};
use lowbrass::report::write_table;
use lowbrass::settings::{BarSpan, Instrument, Settings, Waiver};

use super::args::SettingsArgs;
use super::{Failure, Outcome, print, terminal};

const STRONG: Style = Style::new().bold();

pub(super) fn run(args: &SettingsArgs) -> Outcome {
    let config = match (&args.config, args.no_config) {
        (Some(path), _) => Config::File(path.clone()),
        (None, true) => Config::None,
        (None, false) => Config::Nearest,
    };
    let mut rooms = Rooms::new(config, None);
    let score = args.score.clone().unwrap_or_else(|| PathBuf::from("."));
    let room = if score.is_dir() {
        rooms.of_folder(&score)
    } else if score == Path::new("-") {
        rooms.of_score(&Source::StandardInput)
    } else if score.exists() {
        rooms.of_score(&Source::File(score.clone()))
    } else {
        return Err(Failure::of(format!("{}: no such file or folder", score.display())));
    };
    print(&table(&room.map_err(Failure::of)?.settings))
}

/// A row: what, its value, whether the file says so.
type Row = (String, String, bool);

fn table(settings: &Settings) -> String {
    let file = settings.path.as_ref().map(|path| path.display().to_string());
    let text = match &file {
        Some(path) => format!("{STRONG}Settings from {path}{STRONG:#}\n\n"),
        None => format!("{STRONG}No lowbrass.toml here or above; what is built in holds{STRONG:#}\n\n"),
    };
    let from = |is_set: bool| if file.is_some() && !is_set { "built in" } else { "" };
    let rows =
        rows(settings).into_iter().map(|(name, value, is_set)| vec![name, value, from(is_set).to_owned()]);
    let mut listed = Vec::new();
    // Into memory, where it cannot fail.
    let _ = write_table(&["setting", "value", "from"], rows.collect(), terminal::width(), &mut listed);
    text + &String::from_utf8_lossy(&listed)
}

fn rows(settings: &Settings) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut row = |name: &str, value: Option<String>, usual: &str| {
        let is_set = value.is_some();
        rows.push((name.to_owned(), value.unwrap_or_else(|| usual.to_owned()), is_set));
    };
    let path = |path: &Option<PathBuf>| path.as_ref().map(|path| path.display().to_string());
    row("tempo", settings.tempo.map(|tempo| tempo.get().to_string()), "by the score's words, else assumed");
    let breath = settings
        .path
        .is_some()
        .then_some(settings.breath)
        .filter(|breath| (breath - 1.0).abs() > f64::EPSILON);
    row("breath", breath.map(|breath| breath.to_string()), "1");
    row("tuba", settings.tuba.clone(), "by the score");
    row("scores", (!settings.scores.is_empty()).then(|| settings.scores.join(", ")), "this folder");
    row("profiles", path(&settings.profiles), "those built in");
    row("baseline", path(&settings.baseline), "none");
    row("revised", path(&settings.revised), "beside the score");
    row(
        "min-level",
        settings.min_level.map(|level| level.word().to_owned()),
        "warning (text), note (others)",
    );
    row("fail-on", settings.fail_on.map(|level| level.word().to_owned()), "warning");
    for (format, place) in &settings.outputs {
        row(&format!("output.{format}"), Some(place.display().to_string()), "");
    }
    for (rule, level) in &settings.levels {
        row(&format!("levels.{rule}"), Some(level.word().to_owned()), "");
    }
    for part in &settings.parts {
        let mut said = Vec::new();
        match &part.instrument {
            Some(Instrument::Profile(profile)) => said.push(profile.clone()),
            Some(Instrument::None) => said.push("no low brass".to_owned()),
            None => {}
        }
        if !part.instruments.is_empty() {
            said.push(format!("instruments {}", part.instruments.join(" ")));
        }
        if let Some(mutes) = &part.mutes {
            let mutes: Vec<&str> = mutes.iter().map(|mute| mute.name()).collect();
            said.push(if mutes.is_empty() {
                "no mutes".to_owned()
            } else {
                format!("mutes {}", mutes.join(" "))
            });
        }
        if let Some(players) = part.players {
            said.push(format!("{players} players"));
        }
        if let Some(breath) = part.breath {
            said.push(format!("breath {breath}"));
        }
        row(&format!("part '{}'", part.name.as_str()), Some(said.join("; ")), "");
    }
    for waiver in &settings.waivers {
        row(&format!("waive, line {}", waiver.line), Some(waived(waiver)), "");
    }
    rows
}

fn waived(waiver: &Waiver) -> String {
    let mut said = vec![waiver.rule.to_owned()];
    said.extend(waiver.score.as_ref().map(|score| format!("in {}", score.as_str())));
    said.extend(waiver.part.as_ref().map(|part| format!("of '{}'", part.as_str())));
    if !waiver.bars.is_empty() {
        let bars: Vec<String> = waiver.bars.iter().map(BarSpan::to_string).collect();
        said.push(format!("bars {}", bars.join(", ")));
    }
    said.extend(waiver.until.map(|until| format!("until {until}")));
    format!("{}: {}", said.join(" "), waiver.because)
}
