//! The text of `lowbrass.toml`: its shape, its schema, and the way from text to checked settings.

use std::collections::BTreeMap;
use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;
use toml::value::Datetime;

use super::{
    BarSpan, Day, FailOn, Instrument, Level, PartSettings, Pattern, Settings, SettingsError, Waiver,
};
use crate::finding::Severity;
use crate::intake;
use crate::keys;
use crate::music::Tempo;
use crate::nearest;
use crate::score::Mute;

/// What a player's breath may be against the profile's: beyond that it is a slip of the keyboard.
const BREATHS: RangeInclusive<f64> = 0.1..=10.0;

/// What `profile` says of a part that is no low brass.
const NO_PROFILE: &str = "none";

/// Settings of lowbrass for the scores in a folder and below it.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
#[schemars(title = "lowbrass.toml")]
struct File {
    /// Quarter notes a minute where a score gives no tempo.
    #[schemars(with = "Option<f64>")]
    tempo: Option<Spanned<f64>>,
    /// A player's breath against the profile's; 1 is the profile's own.
    #[schemars(with = "Option<f64>")]
    breath: Option<Spanned<f64>>,
    /// The profile of a part that says only "Tuba".
    #[schemars(with = "Option<String>")]
    tuba: Option<Spanned<String>>,
    /// Scores, folders and globs that `lowbrass check` without a score checks.
    #[serde(default)]
    scores: Vec<String>,
    /// A folder of profiles besides those built in.
    profiles: Option<PathBuf>,
    /// Findings accepted so far, as `lowbrass check --write-baseline` writes them.
    baseline: Option<PathBuf>,
    /// The folder that takes revised copies; without it they stand beside their scores.
    revised: Option<PathBuf>,
    /// Reports to write on each run: a path for each format.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, String>")]
    output: BTreeMap<Spanned<String>, PathBuf>,
    /// The least severity that is shown.
    min_level: Option<SeverityWord>,
    /// The least severity that makes a check end with status 1.
    fail_on: Option<FailOnWord>,
    /// What a rule's findings weigh here.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, LevelWord>")]
    levels: BTreeMap<Spanned<String>, LevelWord>,
    /// What is known of a part.
    #[serde(default)]
    part: Vec<PartTable>,
    /// Findings that are let stand.
    #[serde(default)]
    waive: Vec<WaiveTable>,
}

/// What is known of a part; of several tables the first that fits a part counts.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct PartTable {
    /// The part's name; `*` and `?` stand for any letters or one.
    #[schemars(with = "String")]
    name: Spanned<String>,
    /// The instrument: a profile's name, or "none" where the part is no low brass.
    #[schemars(with = "Option<String>")]
    profile: Option<Spanned<String>>,
    /// Other instruments within the player's reach, by profile.
    #[serde(default, alias = "horns")]
    #[schemars(with = "Vec<String>")]
    instruments: Vec<Spanned<String>>,
    /// The mutes that are there.
    #[schemars(with = "Option<Vec<String>>")]
    mutes: Option<Vec<Spanned<String>>>,
    /// How many players read it.
    #[schemars(with = "Option<u8>")]
    players: Option<Spanned<u8>>,
    /// These players' breath against the profile's.
    #[schemars(with = "Option<f64>")]
    breath: Option<Spanned<f64>>,
}

/// Findings that are let stand, and why.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct WaiveTable {
    /// The rule.
    #[schemars(with = "String")]
    rule: Spanned<String>,
    /// The scores, by file name or by path from here; without it all.
    #[schemars(with = "Option<String>")]
    score: Option<Spanned<String>>,
    /// The part's name; without it all.
    #[schemars(with = "Option<String>")]
    part: Option<Spanned<String>>,
    /// Printed bar numbers: "12", "40-44", "12, 40-44"; without it all.
    #[schemars(with = "Option<String>")]
    bars: Option<Spanned<String>>,
    /// The reason.
    #[schemars(with = "String")]
    because: Spanned<String>,
    /// The last day it holds.
    #[schemars(with = "Option<String>", extend("format" = "date"))]
    until: Option<Spanned<Datetime>>,
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum SeverityWord {
    /// Worth knowing.
    Note,
    /// A risk at the stand.
    Warning,
    /// Cannot be played as written.
    Error,
}

/// From which severity on a check ends with status 1.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum FailOnWord {
    /// From notes on.
    Note,
    /// From warnings on.
    Warning,
    /// Only for errors.
    Error,
    /// Findings do not change the status.
    Never,
}

/// What a rule's findings weigh.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum LevelWord {
    /// The rule is not asked.
    Off,
    /// Worth knowing.
    Note,
    /// A risk at the stand.
    Warning,
    /// Cannot be played as written.
    Error,
}

/// The right names, which the floors above know.
#[derive(Clone, Debug)]
pub struct Names<'a> {
    /// Rules.
    pub rules: Vec<&'static str>,
    /// The present name of a rule by its present or an old one.
    pub present_rule: fn(&str) -> Option<&'static str>,
    /// Profiles, those of the settings' own folder among them.
    pub profiles: Vec<&'a str>,
    /// Those of them that nobody takes up for a part that says only "Tuba".
    pub no_tubas: Vec<&'a str>,
    /// Report formats.
    pub formats: &'a [&'a str],
}

/// Settings that are well formed, before their names are checked: the profiles' folder must be known first.
#[derive(Debug)]
pub struct Draft {
    path: PathBuf,
    shown: String,
    text: String,
    file: File,
}

/// The JSON Schema of `lowbrass.toml`.
pub fn schema() -> schemars::Schema {
    schemars::schema_for!(File)
}

impl Draft {
    /// Reads a file.
    pub fn read(path: &Path) -> Result<Draft, SettingsError> {
        let text = intake::text(path, intake::SETTINGS).map_err(|error| SettingsError::Unreadable {
            path: path.display().to_string(),
            reason: error.to_string(),
        })?;
        Draft::parse(path, text)
    }

    /// Takes the text of a file that lies (or would lie) at `path`.
    pub fn parse(path: &Path, text: String) -> Result<Draft, SettingsError> {
        let shown = path.display().to_string();
        let file = toml::from_str(&text).map_err(|error| {
            wrong(&shown, &text, error.span().unwrap_or_default(), &in_words(error.message().trim_end()))
        })?;
        Ok(Draft { path: path.to_owned(), shown, text, file })
    }

    /// The folder of profiles it names.
    pub fn profiles(&self) -> Option<PathBuf> {
        self.file.profiles.as_deref().map(|folder| self.beside(folder))
    }

    /// Checks every value, names against the right ones.
    pub fn check(self, names: &Names<'_>) -> Result<Settings, SettingsError> {
        let file = &self.file;
        Ok(Settings {
            tempo: file.tempo.as_ref().map(|tempo| self.tempo(tempo)).transpose()?,
            breath: file.breath.as_ref().map_or(Ok(1.0), |breath| self.breath(breath))?,
            tuba: file.tuba.as_ref().map(|name| self.tuba(name, names)).transpose()?,
            scores: file.scores.clone(),
            profiles: self.profiles(),
            baseline: file.baseline.as_deref().map(|path| self.beside(path)),
            revised: file.revised.as_deref().map(|path| self.beside(path)),
            outputs: self.outputs(names)?,
            min_level: file.min_level.map(severity),
            fail_on: file.fail_on.map(fail_on),
            levels: self.levels(names)?,
            parts: file.part.iter().map(|part| self.part(part, names)).collect::<Result<_, _>>()?,
            waivers: file.waive.iter().map(|waiver| self.waiver(waiver, names)).collect::<Result<_, _>>()?,
            path: Some(self.path.clone()),
        })
    }

    fn tempo(&self, tempo: &Spanned<f64>) -> Result<Tempo, SettingsError> {
        let value = *tempo.get_ref();
        Tempo::quarters_a_minute(value).ok_or_else(|| self.wrong(tempo.span(), Tempo::expected(value)))
    }

    fn breath(&self, breath: &Spanned<f64>) -> Result<f64, SettingsError> {
        let value = *breath.get_ref();
        let (least, most) = (BREATHS.start(), BREATHS.end());
        if BREATHS.contains(&value) {
            return Ok(value);
        }
        let message =
            format!("expected a number from {least} to {most}, not {value}; 1 is the profile's own breath");
        Err(self.wrong(breath.span(), message))
    }

    fn profile(&self, name: &Spanned<String>, names: &Names<'_>) -> Result<String, SettingsError> {
        let wanted = name.get_ref();
        if names.profiles.contains(&wanted.as_str()) {
            return Ok(wanted.clone());
        }
        let hint = nearest::hint(wanted, names.profiles.iter().copied());
        Err(self.wrong(name.span(), format!("no profile is called '{wanted}'{hint}")))
    }

    /// The instrument of a part that says only "Tuba".
    fn tuba(&self, name: &Spanned<String>, names: &Names<'_>) -> Result<String, SettingsError> {
        let instrument = self.profile(name, names)?;
        if names.no_tubas.contains(&instrument.as_str()) {
            let words = format!(
                "'{instrument}' is no instrument for a part that says \"Tuba\"; name it under [[part]]"
            );
            return Err(self.wrong(name.span(), words));
        }
        Ok(instrument)
    }

    fn rule(&self, name: &Spanned<String>, names: &Names<'_>) -> Result<&'static str, SettingsError> {
        let wanted = name.get_ref().as_str();
        (names.present_rule)(wanted).ok_or_else(|| {
            let hint = nearest::hint(wanted, names.rules.iter().copied());
            self.wrong(name.span(), format!("no rule is called '{wanted}'{hint}"))
        })
    }

    fn outputs(&self, names: &Names<'_>) -> Result<Vec<(String, PathBuf)>, SettingsError> {
        self.file
            .output
            .iter()
            .map(|(format, path)| {
                let name = format.get_ref();
                if names.formats.contains(&name.as_str()) {
                    return Ok((name.clone(), self.beside(path)));
                }
                let hint = nearest::hint(name, names.formats.iter().copied());
                let known = names.formats.join(", ");
                Err(self.wrong(
                    format.span(),
                    format!("no report format is called '{name}'{hint} (there are {known})"),
                ))
            })
            .collect()
    }

    fn levels(&self, names: &Names<'_>) -> Result<Vec<(&'static str, Level)>, SettingsError> {
        self.file.levels.iter().map(|(rule, word)| Ok((self.rule(rule, names)?, level(*word)))).collect()
    }

    fn part(&self, part: &PartTable, names: &Names<'_>) -> Result<PartSettings, SettingsError> {
        let instrument = match &part.profile {
            None => None,
            Some(name) if name.get_ref() == NO_PROFILE => Some(Instrument::None),
            Some(name) => Some(Instrument::Profile(self.profile(name, names)?)),
        };
        let mutes = part.mutes.as_ref().map(|mutes| mutes.iter().map(|mute| self.mute(mute)).collect());
        let players = match &part.players {
            Some(players) if *players.get_ref() == 0 => {
                return Err(self.wrong(players.span(), "expected at least 1 player"));
            }
            players => players.as_ref().map(|players| *players.get_ref()),
        };
        Ok(PartSettings {
            name: self.pattern(&part.name)?,
            line: self.line(part.name.span()),
            instrument,
            instruments: part
                .instruments
                .iter()
                .map(|instrument| self.profile(instrument, names))
                .collect::<Result<_, _>>()?,
            mutes: mutes.transpose()?,
            players,
            breath: part.breath.as_ref().map(|breath| self.breath(breath)).transpose()?,
        })
    }

    fn mute(&self, name: &Spanned<String>) -> Result<Mute, SettingsError> {
        Mute::ALL.into_iter().find(|mute| mute.name() == name.get_ref()).ok_or_else(|| {
            let all = Mute::ALL.map(Mute::name);
            let hint = nearest::hint(name.get_ref(), all);
            let message =
                format!("no mute is called '{}'{hint} (there are {})", name.get_ref(), all.join(", "));
            self.wrong(name.span(), message)
        })
    }

    fn waiver(&self, waiver: &WaiveTable, names: &Names<'_>) -> Result<Waiver, SettingsError> {
        let because = waiver.because.get_ref().trim();
        if because.is_empty() {
            return Err(self.wrong(waiver.because.span(), "expected the reason why the finding is let stand"));
        }
        let bars = match &waiver.bars {
            None => Vec::new(),
            Some(bars) => BarSpan::list(bars.get_ref()).ok_or_else(|| {
                let message = format!("expected bars such as \"12\" or \"40-44\", not '{}'", bars.get_ref());
                self.wrong(bars.span(), message)
            })?,
        };
        if let (Some(span), Some(text)) = (bars.iter().find(|span| span.runs_backwards()), &waiver.bars) {
            return Err(
                self.wrong(text.span(), format!("bars {span} run backwards; the lower number goes first"))
            );
        }
        let until = match &waiver.until {
            None => None,
            Some(until) => Some(Day::of(until.get_ref()).ok_or_else(|| {
                self.wrong(until.span(), "expected a day such as 2027-01-31, without a time")
            })?),
        };
        Ok(Waiver {
            rule: self.rule(&waiver.rule, names)?,
            score: waiver.score.as_ref().map(|score| self.pattern(score)).transpose()?,
            part: waiver.part.as_ref().map(|part| self.pattern(part)).transpose()?,
            bars,
            because: because.to_owned(),
            until,
            line: self.line(waiver.rule.span()),
        })
    }

    fn pattern(&self, pattern: &Spanned<String>) -> Result<Pattern, SettingsError> {
        Pattern::new(pattern.get_ref()).map_err(|error| self.wrong(pattern.span(), error.kind().to_string()))
    }

    fn beside(&self, path: &Path) -> PathBuf {
        self.path.parent().unwrap_or(Path::new("")).join(path)
    }

    fn line(&self, span: Range<usize>) -> usize {
        place(&self.text, span.start).0
    }

    fn wrong(&self, span: Range<usize>, message: impl Into<String>) -> SettingsError {
        wrong(&self.shown, &self.text, span, &message.into())
    }
}

/// What is wrong with the value of a key, by its name.
fn wrong(path: &str, text: &str, span: Range<usize>, message: &str) -> SettingsError {
    let (line, column) = place(text, span.start);
    let message = match keys::at(text, &span) {
        Some(key) => format!("{key}: {message}"),
        None => message.to_owned(),
    };
    SettingsError::Wrong { path: path.to_owned(), line, column, message }
}

/// Line and column (in characters) of a byte, from 1.
fn place(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
    (line, column)
}

/// Names that keys had: still read, offered to nobody.
const OLD_KEYS: &[&str] = &["horns"];

/// The parser's sentence in the words of someone who writes settings, with the nearest right name. It puts names
/// between backticks: the wrong one, then those that would be right.
fn in_words(message: &str) -> String {
    let names = message.split('`').skip(1).step_by(2).filter(|name| !OLD_KEYS.contains(name));
    let names: Vec<&str> = names.collect();
    let (wrong, right) = names.split_first().map_or(("", &[][..]), |(wrong, right)| (*wrong, right));
    let hint = nearest::hint(wrong, right.iter().copied());
    if message.starts_with("unknown field") {
        let there =
            if hint.is_empty() { format!(" (there are {})", right.join(", ")) } else { String::new() };
        return format!("no setting is called '{wrong}'{hint}{there}");
    }
    if message.starts_with("unknown variant") {
        return format!("expected one of {}, not '{wrong}'{hint}", right.join(", "));
    }
    if message.starts_with("missing field") {
        return format!("'{wrong}' is missing here");
    }
    let unfit = message.strip_prefix("invalid type: ").or_else(|| message.strip_prefix("invalid value: "));
    match unfit.and_then(|unfit| unfit.rsplit_once(", expected ")) {
        Some((there, wanted)) => format!("expected {}, not {}", thing(wanted), thing(there)),
        None => message.replace('`', "'"),
    }
}

/// What the parser calls a kind of value, as people do.
fn thing(of_the_parser: &str) -> String {
    let value = |kind: &str| of_the_parser.strip_prefix(kind).map(|value| value.replace('`', ""));
    let named = match of_the_parser {
        "f64" => "a number",
        "u8" => "a whole number up to 255",
        "a string" | "string" | "path string" => "text in quotes",
        "a sequence" => "a list",
        "sequence" => "a list in brackets",
        "a TOML datetime" => "a day such as 2027-01-31, without quotes",
        "datetime" => "a day",
        "map" => "a table",
        "a map" => "a table such as [levels]",
        word if word.starts_with("struct ") => "a table",
        word => {
            let bare = ["string ", "integer ", "floating point ", "boolean "].into_iter().find_map(value);
            return bare.unwrap_or_else(|| word.replace('`', "'"));
        }
    };
    named.to_owned()
}

fn severity(word: SeverityWord) -> Severity {
    match word {
        SeverityWord::Note => Severity::Note,
        SeverityWord::Warning => Severity::Warning,
        SeverityWord::Error => Severity::Error,
    }
}

fn fail_on(word: FailOnWord) -> FailOn {
    match word {
        FailOnWord::Note => FailOn::Severity(Severity::Note),
        FailOnWord::Warning => FailOn::Severity(Severity::Warning),
        FailOnWord::Error => FailOn::Severity(Severity::Error),
        FailOnWord::Never => FailOn::Never,
    }
}

fn level(word: LevelWord) -> Level {
    match word {
        LevelWord::Off => Level::Off,
        LevelWord::Note => Level::Severity(Severity::Note),
        LevelWord::Warning => Level::Severity(Severity::Warning),
        LevelWord::Error => Level::Severity(Severity::Error),
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::{Draft, Names};
    use crate::finding::Severity;
    use crate::score::PartInfo;
    use crate::settings::{Instrument, Level, Settings};

    fn called(name: &str) -> PartInfo {
        PartInfo { name: name.to_owned(), ..PartInfo::default() }
    }

    fn read(text: &str) -> Result<Settings, String> {
        let names = Names {
            rules: vec!["too-loud-for-register", "out-of-range"],
            present_rule: |name| match name {
                "too-loud" | "too-loud-for-register" => Some("too-loud-for-register"),
                "out-of-range" => Some("out-of-range"),
                _ => None,
            },
            profiles: vec!["contrabass-tuba-c", "bass-tuba-f", "tenor-trombone"],
            no_tubas: vec!["tenor-trombone"],
            formats: &["text", "json"],
        };
        Draft::parse(Path::new("cues/lowbrass.toml"), text.to_owned())
            .and_then(|draft| draft.check(&names))
            .map_err(|error| error.to_string())
    }

    #[track_caller]
    fn refused(text: &str, message: &str) {
        assert_eq!(read(text).unwrap_err(), format!("cues/lowbrass.toml:{message}"));
    }

    #[test]
    fn a_full_file_is_read() {
        let settings = read(
            "
tempo = 96
breath = 0.9
tuba = 'bass-tuba-f'
scores = ['cue*.musicxml']
baseline = 'accepted.json'
fail-on = 'never'
[output]
json = 'out/report.json'
[levels]
out-of-range = 'note'
too-loud = 'off'
[[part]]
name = 'Tuba*'
profile = 'contrabass-tuba-c'
instruments = ['bass-tuba-f']
mutes = ['straight']
players = 2
[[part]]
name = 'Baritone'
profile = 'none'
[[waive]]
rule = 'out-of-range'
part = 'tuba ?'
bars = '12, 40–44'
because = 'asked for'
until = 2027-01-31
",
        )
        .unwrap();
        assert_eq!(settings.baseline.as_deref(), Some(Path::new("cues/accepted.json")));
        assert_eq!(settings.level("out-of-range"), Some(Level::Severity(Severity::Note)));
        assert_eq!(settings.level("too-loud-for-register"), Some(Level::Off), "by its old name");
        assert_eq!(settings.part(&called("TUBA 1")).unwrap().players, Some(2));
        assert_eq!(settings.part(&called("Baritone")).unwrap().instrument, Some(Instrument::None));
        let waiver = &settings.waivers[0];
        assert!(waiver.part.as_ref().unwrap().fits("Tuba 2"));
        assert_eq!(waiver.bars.len(), 2);
        assert_eq!(waiver.bars[1].last, "44");
        assert_eq!(waiver.until.unwrap().to_string(), "2027-01-31");
        assert_eq!(waiver.line, 23);
    }

    #[test]
    fn an_old_key_is_still_read() {
        let settings = read("[[part]]\nname = 'Tuba'\nhorns = ['bass-tuba-f']").unwrap();
        assert_eq!(settings.parts[0].instruments, ["bass-tuba-f"]);
    }

    #[test]
    fn an_error_says_where_and_offers_the_nearest_right_name() {
        refused("tempos = 96", "1:1: no setting is called 'tempos'; did you mean 'tempo'?");
        refused(
            "[[part]]\nname = 'T'\ncolour = 1",
            "3:1: no setting is called 'colour' (there are name, profile, instruments, mutes, players, breath)",
        );
        refused(
            "[levels]\nout-of-rang = 'off'",
            "2:1: no rule is called 'out-of-rang'; did you mean 'out-of-range'?",
        );
        refused(
            "[levels]\nout-of-range = 'wraning'",
            "2:16: levels.out-of-range: expected one of off, note, warning, error, not 'wraning'; did you mean 'warning'?",
        );
        refused(
            "tuba = 'bass-tuba-g'",
            "1:8: tuba: no profile is called 'bass-tuba-g'; did you mean 'bass-tuba-f'?",
        );
        refused(
            "tuba = 'tenor-trombone'",
            "1:8: tuba: 'tenor-trombone' is no instrument for a part that says \"Tuba\"; name it under [[part]]",
        );
        refused(
            "[[part]]\nname = 'T'\nmutes = ['cupp']",
            "3:10: part.mutes: no mute is called 'cupp'; did you mean 'cup'? (there are straight, cup, harmon, plunger, bucket, solotone, derby, pixie, practice)",
        );
        refused(
            "[output]\njsn = 'x'",
            "2:1: no report format is called 'jsn'; did you mean 'json'? (there are text, json)",
        );
    }

    #[test]
    fn values_that_cannot_be_are_refused() {
        refused("tempo = 0", "1:9: tempo: expected quarter notes a minute from 1 to 2000, not 0");
        refused(
            "breath = -1",
            "1:10: breath: expected a number from 0.1 to 10, not -1; 1 is the profile's own breath",
        );
        refused("[[part]]\nname = 'T'\nplayers = 0", "3:11: part.players: expected at least 1 player");
        refused(
            "[[waive]]\nrule = 'out-of-range'\nbecause = ' '",
            "3:11: waive.because: expected the reason why the finding is let stand",
        );
        refused("[[waive]]\nrule = 'out-of-range'", "1:1: waive: 'because' is missing here");
        refused(
            "[[waive]]\nrule = 'out-of-range'\nbecause = 'x'\nbars = '12-'",
            "4:8: waive.bars: expected bars such as \"12\" or \"40-44\", not '12-'",
        );
        refused(
            "[[waive]]\nrule = 'out-of-range'\nbecause = 'x'\nbars = '3, 44-40'",
            "4:8: waive.bars: bars 44-40 run backwards; the lower number goes first",
        );
        refused(
            "[[waive]]\nrule = 'out-of-range'\nbecause = 'x'\nuntil = 2027-01-31T10:00:00",
            "4:9: waive.until: expected a day such as 2027-01-31, without a time",
        );
    }

    #[test]
    fn a_value_of_the_wrong_kind_is_told_in_plain_words() {
        refused("tempo = 'fast'", "1:9: tempo: expected a number, not \"fast\"");
        refused("tuba = true", "1:8: tuba: expected text in quotes, not true");
        refused("scores = 'a.musicxml'", "1:10: scores: expected a list, not \"a.musicxml\"");
        refused(
            "[[part]]\nname = 'T'\nplayers = 300",
            "3:11: part.players: expected a whole number up to 255, not 300",
        );
        refused("[part]\nname = 'T'", "1:1: part: expected a list, not a table");
        refused("levels = 'off'", "1:10: levels: expected a table such as [levels], not \"off\"");
        refused(
            "[[waive]]\nrule = 'out-of-range'\nbecause = 'x'\nuntil = '2027-01-31'",
            "4:9: waive.until: expected a day such as 2027-01-31, without quotes, not \"2027-01-31\"",
        );
    }

    #[test]
    fn an_empty_file_is_no_settings() {
        let settings = read("").unwrap();
        assert!(settings.parts.is_empty() && settings.tempo.is_none());
        assert!((settings.breath - 1.0).abs() < f64::EPSILON);
    }
}
