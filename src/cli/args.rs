//! What can be typed: one flat struct for each command, in the order of its help page.

use std::path::PathBuf;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, Parser, Subcommand, ValueEnum, ValueHint};
use clap_complete::Shell;
use lowbrass::finding::Severity;
use lowbrass::music::Tempo;
use lowbrass::report::{Format, Listing, Look, NoteFormat};
use lowbrass::settings::{Day, FailOn};

use super::{offered, terminal};

/// Reads an exported score (MusicXML) and says which low-brass notes will not come off, where, and which
/// octave would.
#[derive(Debug, Parser)]
#[command(
    name = "lowbrass",
    version,
    max_term_width = 100,
    after_help = "\
Begin with:
  lowbrass check cue.musicxml                # what will not come off
  lowbrass check cue.musicxml --diff         # the moves that cure it
  lowbrass check cue.musicxml --fix-octaves  # writes a revised copy

Exit status: 0 nothing to say, 1 findings, 2 it could not be done.
What a finding says of breath or of a register is no medical advice: players and teachers decide."
)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
    /// Colour of what is printed.
    #[arg(long, global = true, value_enum, value_name = "WHEN", default_value_t = clap::ColorChoice::Auto)]
    pub(crate) color: clap::ColorChoice,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Check scores, report, and write revised copies
    Check(Box<CheckArgs>),
    /// Compare two versions of a score or folder: what is gone, what is new, which octaves moved
    Compare(CompareArgs),
    /// A day's cues by player: minutes, loud and high, the hardest place, what to bring and to change
    Session(SessionArgs),
    /// Take the remarks of a marked copy out again
    Unmark(UnmarkArgs),
    /// List the notes as they were read
    Notes(NotesArgs),
    /// Show where each player breathes, and what is left
    Breaths(BreathsArgs),
    /// Which instrument for which passage, where to change, and what to bring
    #[command(alias = "horns")]
    Instruments(InstrumentsArgs),
    /// List the rules, or show one rule's page
    Rules(RulesArgs),
    /// List the instruments, or show one with its registers and sources
    Profiles(ProfilesArgs),
    /// Write a commented lowbrass.toml for the scores here
    Init(InitArgs),
    /// Show the settings in force and where they come from
    Settings(SettingsArgs),
    /// Print a JSON Schema
    Schema(SchemaArgs),
    /// Print the completions of a shell
    Completions(CompletionsArgs),
    /// Print the manual page, or write one for each command
    Man(ManArgs),
}

/// How a score is read; the same for all commands that read one.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "Reading the score")]
pub(crate) struct ReadingArgs {
    /// Read the parts named by --part as this instrument; without --part, the parts of its family
    #[arg(long = "as", value_name = "PROFILE", value_parser = offered::profiles(), hide_possible_values = true)]
    pub(crate) instrument: Option<String>,
    /// Only this part, by name or id (* and ? allowed); may be given several times
    #[arg(long = "part", value_name = "NAME")]
    pub(crate) parts: Vec<String>,
    /// Quarter notes a minute where the score gives no tempo
    #[arg(long, value_name = "BPM", value_parser = tempo)]
    pub(crate) tempo: Option<Tempo>,
    /// Use this settings file instead of the nearest lowbrass.toml above the score
    #[arg(long, value_name = "PATH", value_hint = ValueHint::FilePath)]
    pub(crate) config: Option<PathBuf>,
    /// Use no settings file
    #[arg(long, conflicts_with = "config")]
    pub(crate) no_config: bool,
    /// Use the profiles in this folder too; one of the same name replaces a built-in one
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    pub(crate) profiles: Option<PathBuf>,
}

/// Said here, where names of the environment need no marks of code.
const TODAY: &str = "The day waivers are measured by, as 2027-01-31 [default: LOWBRASS_TODAY or SOURCE_DATE_EPOCH \
    in the environment, else the clock]";

/// `lowbrass check`
#[derive(Debug, Default, Args)]
#[command(after_long_help = "\
Examples, by what you want to do:

  Look at one score
    lowbrass check cue3.musicxml
    lowbrass check cue3.musicxml --part 'Tuba*' --as bass-tuba-f
    lowbrass check cue3.musicxml -v  # notes, and what is let stand
    lowbrass check cue3.musicxml --min-level error
    cat cue3.musicxml | lowbrass check -

  See it on a page, or again whenever a score is exported anew
    lowbrass check cues --output html=low.html --open
    lowbrass check cues --watch

  Move octaves
    lowbrass check cue3.musicxml --diff         # a table; writes nothing
    lowbrass check cue3.musicxml --fix-octaves  # cue3.revised.musicxml
    lowbrass check cue3.musicxml --fix-octaves -o out.musicxml
    lowbrass check cue3.musicxml --marked look.musicxml
    lowbrass unmark look.musicxml -o clean.musicxml

  Check a whole folder
    lowbrass check cues  # ends with a line a score, the hardest first
    lowbrass check cues --fix-octaves -o out  # out/cue3.revised.musicxml
    lowbrass check cues --marked out

  In a build
    lowbrass check cues --output sarif=low.sarif
    lowbrass check cues --output junit=low.xml --output html=low.html
    lowbrass check cues --output html=pages/  # a page for each score
    lowbrass check cues --format github --fail-on error

  Accept what stands, hear of what is new
    lowbrass check cues --baseline accepted.json --write-baseline
    lowbrass check cues --baseline accepted.json

Exit status:
  0  nothing at or above --fail-on (warning, unless told otherwise)
  1  something is
  2  it could not be done: usage, settings, a score that cannot be read,
     a write that failed")]
#[allow(clippy::struct_excessive_bools)] // Each is an option that is given or not.
pub(crate) struct CheckArgs {
    /// Scores (.musicxml, .xml, .mxl), folders, globs, or - for standard input; without one, the
    /// settings' scores or else this folder
    #[arg(value_name = "SCORE|FOLDER", value_hint = ValueHint::AnyPath)]
    pub(crate) scores: Vec<PathBuf>,

    #[command(flatten)]
    pub(crate) reading: ReadingArgs,

    /// Write a revised copy with the safe octave moves made
    #[arg(long, help_heading = "Octaves")]
    pub(crate) fix_octaves: bool,
    /// With --fix-octaves: where the copy goes (- for standard output; a folder for several scores);
    /// without it NAME.revised.EXT beside the score
    #[arg(short = 'o', long, value_name = "PATH", value_hint = ValueHint::FilePath, help_heading = "Octaves")]
    pub(crate) revised: Option<PathBuf>,
    /// Show the moves as a table and write nothing
    #[arg(long, conflicts_with_all = ["fix_octaves", "revised", "marked", "format", "output"], help_heading = "Octaves")]
    pub(crate) diff: bool,
    /// Make the moves a person should look at, too
    #[arg(long, help_heading = "Octaves")]
    pub(crate) include_review: bool,
    /// Write a copy with each remark the text report shows above its bar (a folder for several scores)
    #[arg(long, value_name = "PATH", value_hint = ValueHint::FilePath, help_heading = "Octaves")]
    pub(crate) marked: Option<PathBuf>,
    /// Once an option, now a command.
    #[arg(long, hide = true)]
    pub(crate) unmark: bool,
    /// Replace files that are there; never an input
    #[arg(long, help_heading = "Octaves")]
    pub(crate) force: bool,

    /// The report on standard output
    #[arg(long, value_parser = formats(), value_name = "FORMAT", help_heading = "Reports")]
    pub(crate) format: Option<Format>,
    /// Write a report to a file as well; may be given several times
    #[arg(long, value_name = "FORMAT=PATH", value_parser = output, help_heading = "Reports")]
    pub(crate) output: Vec<(Format, PathBuf)>,
    /// The least that is shown (text: warning; other formats: note)
    #[arg(long, value_enum, value_name = "LEVEL", help_heading = "Reports")]
    pub(crate) min_level: Option<Level>,
    /// Spell out every remark of the text report, however many are alike
    #[arg(long, help_heading = "Reports")]
    pub(crate) all: bool,
    /// The least that gives exit status 1 [default: warning]
    #[arg(long, value_enum, value_name = "LEVEL", help_heading = "Reports")]
    pub(crate) fail_on: Option<FailLevel>,

    /// Findings accepted so far: they are counted, not shown
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, help_heading = "Accepting what stands")]
    pub(crate) baseline: Option<PathBuf>,
    /// Accept today's findings: write them to the baseline
    #[arg(long, help_heading = "Accepting what stands")]
    pub(crate) write_baseline: bool,
    /// The day waivers are measured by.
    #[arg(long, value_name = "DAY", help_heading = "Accepting what stands", help = TODAY)]
    pub(crate) today: Option<Day>,

    /// Check again whenever a score, a profile or the settings change, with what is new on top
    #[arg(long, conflicts_with_all = ["fix_octaves", "marked", "write_baseline"], help_heading = "How it runs")]
    pub(crate) watch: bool,
    /// Show the page of --output html=FILE in the browser
    #[arg(long, help_heading = "How it runs")]
    pub(crate) open: bool,
    /// Scores checked at once [default: as many as there are cores]
    #[arg(short = 'j', long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256), help_heading = "How it runs")]
    pub(crate) jobs: Option<u16>,
    /// No text report and no notes: errors, files and the exit status only
    #[arg(short, long, conflicts_with = "verbose", help_heading = "How it runs")]
    pub(crate) quiet: bool,
    /// Notes too, and what is let stand; settings and baseline in use on standard error
    #[arg(short, long, help_heading = "How it runs")]
    pub(crate) verbose: bool,
}

/// `lowbrass compare`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass compare cue3.musicxml cue3-v2.musicxml
  lowbrass compare monday tuesday  # two folders, cue by cue
  lowbrass compare monday tuesday --format markdown > changes.md
  lowbrass compare cue3.musicxml cue3.revised.musicxml  # a fix

Bars are known by their music, whatever their numbers; both versions are judged by the new one's settings.

Exit status:
  0  nothing new at or above --fail-on (warning, unless told otherwise)
  1  something is
  2  it could not be done")]
pub(crate) struct CompareArgs {
    /// The score or folder as it was
    #[arg(value_name = "OLD", value_hint = ValueHint::AnyPath)]
    pub(crate) old: PathBuf,
    /// The score or folder as it is now
    #[arg(value_name = "NEW", value_hint = ValueHint::AnyPath)]
    pub(crate) new: PathBuf,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// How it is written
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = PagesFormat::Text)]
    pub(crate) format: PagesFormat,
    /// The least that is shown (json: note; others: warning)
    #[arg(long, value_enum, value_name = "LEVEL")]
    pub(crate) min_level: Option<Level>,
    /// List what is still there, too, and spell out what is alike
    #[arg(long)]
    pub(crate) all: bool,
    /// The least that is new and gives exit status 1 [default: warning]
    #[arg(long, value_enum, value_name = "LEVEL")]
    pub(crate) fail_on: Option<FailLevel>,
    /// The day waivers are measured by.
    #[arg(long, value_name = "DAY", help = TODAY)]
    pub(crate) today: Option<Day>,
}

/// How what is told of several scores is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PagesFormat {
    /// For people at a terminal
    Text,
    /// One JSON document
    Json,
    /// For a page, a message or a comment
    Markdown,
}

/// `lowbrass session`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass session cues                                # a day's cues
  lowbrass session cues --part 'Tuba*'                 # the tubas' day
  lowbrass session cues --format markdown > call-sheet.md

Cues stand in the order of their file names, 1m9 before 1m10. A player is known by the part's name.
These are facts of the parts for whoever plans the day, and no advice on playing or health.")]
pub(crate) struct SessionArgs {
    /// The day's scores: folders, scores or globs
    #[arg(value_name = "FOLDER", required = true, value_hint = ValueHint::AnyPath)]
    pub(crate) places: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// How it is written
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = PagesFormat::Text)]
    pub(crate) format: PagesFormat,
    /// The day waivers are measured by.
    #[arg(long, value_name = "DAY", help = TODAY)]
    pub(crate) today: Option<Day>,
}

/// `lowbrass unmark`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass unmark look.musicxml -o clean.musicxml
  lowbrass unmark look.musicxml -o - > clean.musicxml")]
pub(crate) struct UnmarkArgs {
    /// The marked copy, or - for standard input
    #[arg(value_name = "SCORE", value_hint = ValueHint::FilePath)]
    pub(crate) score: PathBuf,
    /// Where the score without remarks goes (- for standard output)
    #[arg(short = 'o', long = "output", value_name = "PATH", required = true, value_hint = ValueHint::FilePath)]
    pub(crate) place: Option<PathBuf>,
    /// Replace a file that is there; never an input
    #[arg(long)]
    pub(crate) force: bool,
}

/// `lowbrass notes`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass notes cue3.musicxml
  lowbrass notes cue3.musicxml --part Tuba --format csv > tuba.csv
  lowbrass notes cue3.musicxml --all-parts --format jsonl")]
pub(crate) struct NotesArgs {
    /// The score, or - for standard input
    #[arg(value_name = "SCORE", value_hint = ValueHint::FilePath)]
    pub(crate) score: PathBuf,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// Every part of the score, not only low brass
    #[arg(long)]
    pub(crate) all_parts: bool,
    /// Cue notes and hidden notes too
    #[arg(long)]
    pub(crate) all: bool,
    /// How the rows are written
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = RowFormat::Table)]
    pub(crate) format: RowFormat,
}

/// `lowbrass breaths`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass breaths cue3.musicxml
  lowbrass breaths cue3.musicxml --part Tuba --format csv

A plan for planning's sake: the player breathes as the music and the body ask.")]
pub(crate) struct BreathsArgs {
    /// The score, or - for standard input
    #[arg(value_name = "SCORE", value_hint = ValueHint::FilePath)]
    pub(crate) score: PathBuf,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// Every breath; a table otherwise leaves out easy ones in rests
    #[arg(long)]
    pub(crate) all: bool,
    /// How the plan is written
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = PlanFormat::Table)]
    pub(crate) format: PlanFormat,
}

/// `lowbrass instruments`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass instruments cue3.musicxml  # which one for which passage
  lowbrass instruments cues           # what to bring for all")]
pub(crate) struct InstrumentsArgs {
    /// Scores, folders or globs, or - for standard input
    #[arg(value_name = "SCORE|FOLDER", required = true, value_hint = ValueHint::AnyPath)]
    pub(crate) scores: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// How it is written
    #[arg(long, value_enum, value_name = "FORMAT", default_value_t = PlanFormat::Table)]
    pub(crate) format: PlanFormat,
}

/// `lowbrass rules`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass rules                        # all rules, by family
  lowbrass rules too-loud-for-register  # what it finds, what to do")]
pub(crate) struct RulesArgs {
    /// The rule whose page is shown
    #[arg(value_name = "RULE", value_parser = offered::rules(), hide_possible_values = true)]
    pub(crate) rule: Option<String>,
}

/// `lowbrass profiles`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass profiles                    # all instruments, by family
  lowbrass profiles contrabass-tuba-c  # its registers, with sources
  lowbrass profiles > instruments.txt
  lowbrass profiles bass-trombone --format html > bass-trombone.html")]
pub(crate) struct ProfilesArgs {
    /// The profile that is shown
    #[arg(value_name = "PROFILE", value_parser = offered::profiles(), hide_possible_values = true)]
    pub(crate) profile: Option<String>,
    /// Use the profiles in this folder too
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    pub(crate) profiles: Option<PathBuf>,
    /// How the profile is shown
    #[arg(long, value_enum, default_value = "text", requires = "profile")]
    pub(crate) format: ProfileFormat,
}

/// How a profile is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ProfileFormat {
    /// For people at a terminal
    Text,
    /// A page for the browser, each semitone drawn
    Html,
}

/// `lowbrass init`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass init       # for the scores here and below
  lowbrass init cues  # writes cues/lowbrass.toml

A file that is there stays as it is.")]
pub(crate) struct InitArgs {
    /// The folder that gets the file [default: this one]
    #[arg(value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub(crate) folder: Option<PathBuf>,
}

/// `lowbrass settings`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass settings                     # what holds in this folder
  lowbrass settings cues/cue3.musicxml  # what holds for this score")]
pub(crate) struct SettingsArgs {
    /// The score (or folder) whose settings are shown [default: this folder]
    #[arg(value_name = "SCORE", value_hint = ValueHint::AnyPath)]
    pub(crate) score: Option<PathBuf>,
    /// Use this settings file
    #[arg(long, value_name = "PATH", value_hint = ValueHint::FilePath)]
    pub(crate) config: Option<PathBuf>,
    /// Use no settings file
    #[arg(long, conflicts_with = "config")]
    pub(crate) no_config: bool,
}

/// `lowbrass schema`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass schema settings > settings.json  # for editors to check by
  lowbrass schema profile > profile.json
  lowbrass schema report > report.json      # of check --format json")]
pub(crate) struct SchemaArgs {
    /// Of what
    #[arg(value_enum, value_name = "WHAT")]
    pub(crate) what: SchemaOf,
}

/// `lowbrass completions`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass completions bash > ~/.lowbrass.bash   # to be sourced
  lowbrass completions zsh > ~/.zfunc/_lowbrass  # that is in fpath
  lowbrass completions fish > ~/.config/fish/completions/lowbrass.fish")]
pub(crate) struct CompletionsArgs {
    /// For which shell
    #[arg(value_enum, value_name = "SHELL")]
    pub(crate) shell: Shell,
}

/// `lowbrass man`
#[derive(Debug, Args)]
#[command(after_long_help = "\
Examples:
  lowbrass man > lowbrass.1                   # of the program
  lowbrass man --dir ~/.local/share/man/man1  # of each command")]
pub(crate) struct ManArgs {
    /// Write a page for each command into this folder
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    pub(crate) dir: Option<PathBuf>,
}

/// How rows are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum RowFormat {
    /// Columns for people
    Table,
    /// Comma-separated values
    Csv,
    /// A JSON object on each line
    Jsonl,
}

/// How a plan is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PlanFormat {
    /// Columns for people
    Table,
    /// Comma-separated values
    Csv,
    /// One JSON document
    Json,
}

/// A severity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Level {
    /// Worth knowing
    Note,
    /// A risk at the stand
    Warning,
    /// Cannot be played as written
    Error,
}

/// A severity, or never.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailLevel {
    /// From notes on
    Note,
    /// From warnings on
    Warning,
    /// Only for errors
    Error,
    /// Findings do not change the status
    Never,
}

/// What a schema is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SchemaOf {
    /// lowbrass.toml
    Settings,
    /// A profile
    Profile,
    /// player.toml
    Player,
    /// The JSON report
    Report,
    /// compare --format json
    Comparison,
    /// session --format json
    Session,
}

impl From<Level> for Severity {
    fn from(level: Level) -> Severity {
        match level {
            Level::Note => Severity::Note,
            Level::Warning => Severity::Warning,
            Level::Error => Severity::Error,
        }
    }
}

impl From<FailLevel> for FailOn {
    fn from(level: FailLevel) -> FailOn {
        match level {
            FailLevel::Note => FailOn::Severity(Severity::Note),
            FailLevel::Warning => FailOn::Severity(Severity::Warning),
            FailLevel::Error => FailOn::Severity(Severity::Error),
            FailLevel::Never => FailOn::Never,
        }
    }
}

impl RowFormat {
    /// What it means here: a table is as wide as the terminal.
    pub(crate) fn notes(self) -> NoteFormat {
        match self {
            RowFormat::Table => {
                let Look { width, unicode, .. } = terminal::look();
                NoteFormat::Table { width, unicode }
            }
            RowFormat::Csv => NoteFormat::Csv,
            RowFormat::Jsonl => NoteFormat::Jsonl,
        }
    }
}

impl PlanFormat {
    /// What it means here: a table is as wide as the terminal.
    pub(crate) fn listing(self) -> Listing {
        match self {
            PlanFormat::Table => {
                let Look { width, unicode, .. } = terminal::look();
                Listing::Table { width, unicode }
            }
            PlanFormat::Csv => Listing::Csv,
            PlanFormat::Json => Listing::Json,
        }
    }
}

fn tempo(text: &str) -> Result<Tempo, String> {
    let number: f64 = text.trim().parse().map_err(|_| "expected quarter notes a minute, as 96")?;
    Tempo::quarters_a_minute(number).ok_or_else(|| Tempo::expected(number))
}

fn formats() -> impl TypedValueParser<Value = Format> {
    PossibleValuesParser::new(Format::ALL.map(Format::name))
        .try_map(|name| format_named(&name).ok_or("no report format is called this"))
}

fn format_named(name: &str) -> Option<Format> {
    Format::ALL.into_iter().find(|format| format.name() == name)
}

fn output(text: &str) -> Result<(Format, PathBuf), String> {
    let (format, path) = text.split_once('=').ok_or("expected FORMAT=PATH, as in json=report.json")?;
    let format = format_named(format).ok_or_else(|| {
        let names = Format::ALL.map(Format::name);
        let hint = lowbrass::nearest::hint(format, names);
        format!("no report format is called '{format}'{hint} (there are {})", names.join(", "))
    })?;
    if path.is_empty() {
        return Err("expected a path behind the '='".to_owned());
    }
    Ok((format, PathBuf::from(path)))
}
