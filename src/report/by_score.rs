//! Many scores at a glance: a line a score, the hardest first.

use std::cmp::Reverse;
use std::fmt::Write as _;
use std::io::{self, Write};

use anstyle::Style;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::contract::{Finding, Level, Report, Score};
use super::text::say;
use super::{Look, phrases};

const STRONG: Style = Style::new().bold();
const QUIET: Style = Style::new().dimmed();

/// Lines are no easier to read beyond this.
const WIDEST: usize = 160;
/// Names are cut to no less, and to no more where the rest does not fit.
const NARROWEST_NAME: usize = 12;
/// So much is kept for the place, where it needs so much.
const PLACE: usize = 28;
/// Between columns.
const GAP: usize = 2;

struct Line {
    name: String,
    /// Errors, warnings, moves; `None` for a score that could not be read.
    counts: Option<[u32; 3]>,
    said: Said,
}

/// What stands at the end of a line.
enum Said {
    /// The hardest place: part, bars, rule.
    Hardest([String; 3]),
    Words(String),
}

/// Writes a line for each score; what is at least `from` can be the hardest place.
pub(super) fn write(report: &Report, from: Level, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    let width = look.width.clamp(40, WIDEST);
    let common = Common::of(report);
    let are_made = report.scores.iter().any(is_revised);
    let lines = lines(report, from, &common, are_made, look.unicode);
    let heading = ["errors", "warnings", if are_made { "moved" } else { "moves" }];
    let columns: usize = heading.iter().map(|word| word.len() + GAP).sum();
    let above = if common.folder.is_empty() { "score".to_owned() } else { say(&common.folder, look.unicode) };
    let names = lines.iter().map(|line| &line.name).chain([&above]);
    let longest = names.map(|name| name.width()).max().unwrap_or(0);
    let wanted = lines.iter().map(|line| line.said.narrowest()).max().unwrap_or(0);
    let room = width.saturating_sub(columns + GAP + wanted.clamp("hardest place".len(), PLACE));
    let name_width = longest.min(room.max(NARROWEST_NAME));
    let place_width = width.saturating_sub(name_width + columns + GAP);

    let above = ends_of(&above, name_width, look.unicode);
    let mut head = format!("{above}{:pad$}", "", pad = name_width.saturating_sub(above.width()));
    for word in heading {
        let _ = write!(head, "{:GAP$}{word}", "");
    }
    writeln!(out, "{QUIET}{head}{:GAP$}hardest place{QUIET:#}", "")?;
    for line in lines {
        let name = ends_of(&line.name, name_width, look.unicode);
        write!(out, "{STRONG}{name}{STRONG:#}{:pad$}", "", pad = name_width.saturating_sub(name.width()))?;
        let mut text = String::new();
        for (column, word) in heading.iter().enumerate() {
            let number = match line.counts.map(|counts| counts[column]) {
                None | Some(0) => say("·", look.unicode),
                Some(count) => count.to_string(),
            };
            let _ = write!(text, "{:GAP$}{number:>wide$}", "", wide = word.len());
        }
        let said = line.said.within(place_width, look.unicode);
        writeln!(out, "{}", format!("{text}{:GAP$}{said}", "").trim_end())?;
    }
    Ok(())
}

/// What the paths of all scores have in common, and no line need say.
struct Common {
    /// With its stroke; empty where there is none.
    folder: String,
    /// With its point; empty where there is none.
    ending: String,
}

impl Common {
    fn of(report: &Report) -> Common {
        let read = report.scores.iter().map(|score| score.path.as_str());
        let paths: Vec<&str> = read.chain(report.unread.iter().map(|unread| unread.path.as_str())).collect();
        let folder = |path: &str| path.rfind('/').map_or(0, |at| at + 1);
        let Some(first) = paths.first() else {
            return Common { folder: String::new(), ending: String::new() };
        };
        let mut common = &first[..folder(first)];
        let ending = &first[first.rfind('.').unwrap_or(first.len())..];
        for path in &paths {
            while !path.starts_with(common) {
                common = &common[..folder(common.trim_end_matches('/'))];
            }
        }
        let have_it = !ending.contains('/') && paths.iter().all(|path| path.ends_with(ending));
        Common { folder: common.to_owned(), ending: if have_it { ending.to_owned() } else { String::new() } }
    }

    fn without<'p>(&self, path: &'p str) -> &'p str {
        let path = path.strip_prefix(&self.folder).unwrap_or(path);
        path.strip_suffix(&self.ending).filter(|name| !name.is_empty()).unwrap_or(path)
    }
}

fn lines(report: &Report, from: Level, common: &Common, are_made: bool, unicode: bool) -> Vec<Line> {
    let name = |path: &str| say(common.without(path), unicode);
    let unread = report.unread.iter().map(|unread| Line {
        name: name(&unread.path),
        counts: None,
        said: Said::Words("could not be read".to_owned()),
    });
    let mut scores: Vec<&Score> = report.scores.iter().collect();
    scores.sort_by_key(|score| {
        let counts = &score.counts;
        (
            Reverse((counts.error, counts.warning, counts.octave_moves)),
            !score.parts.is_empty(),
            Reverse(counts.note),
        )
    });
    let read = scores.into_iter().map(|score| {
        let made = |score: &Score| {
            let moves = score.revision.iter().flat_map(|revision| &revision.moves);
            moves.filter(|planned| planned.made).count() as u32
        };
        let counts = &score.counts;
        let moves = if are_made { made(score) } else { counts.octave_moves };
        Line {
            name: name(&score.path),
            counts: Some([counts.error, counts.warning, moves]),
            said: said(score, from, unicode),
        }
    });
    unread.chain(read).collect()
}

fn is_revised(score: &Score) -> bool {
    score.revision.as_ref().is_some_and(|revision| revision.path.is_some())
}

/// The hardest place; where nothing is shown of the score, why.
fn said(score: &Score, from: Level, unicode: bool) -> Said {
    if let Some(hardest) = hardest(score, from) {
        let part = phrases::part_it_is_about(score, hardest).unwrap_or_default();
        let bars = phrases::bars_it_stands_in(hardest).unwrap_or_default();
        return Said::Hardest([part, bars, phrases::rule_said(hardest)].map(|words| say(&words, unicode)));
    }
    if score.parts.is_empty() {
        return Said::Words("no low brass recognised".to_owned());
    }
    let lesser = score.counts.error + score.counts.warning + score.counts.note;
    let lesser = (lesser > 0).then(|| phrases::counted(lesser, "lesser remark"));
    let let_stand = phrases::let_stand_in_short(score.findings.iter());
    let all: Vec<String> = lesser.into_iter().chain(let_stand).collect();
    Said::Words(say(&all.join(", "), unicode))
}

impl Said {
    /// Columns it takes without the rule.
    fn narrowest(&self) -> usize {
        match self {
            Said::Words(words) => words.width(),
            Said::Hardest([part, bars, _]) => part.width() + bars.width() + 2,
        }
    }

    /// In so many columns: the rule is left out first, then as much of the part's name as must be.
    fn within(self, width: usize, unicode: bool) -> String {
        let [part, bars, rule] = match self {
            Said::Words(words) => return first_of(&words, width, unicode),
            Said::Hardest(hardest) => hardest,
        };
        let comma = if part.is_empty() || bars.is_empty() { "" } else { ", " };
        let place = format!("{part}{comma}{bars}");
        let whole = if place.is_empty() { rule } else { format!("{place}: {rule}") };
        if whole.width() <= width {
            return whole;
        }
        let room = width.saturating_sub(comma.len() + bars.width());
        first_of(&format!("{}{comma}{bars}", first_of(&part, room, unicode)), width, unicode)
    }
}

/// The hardest remark, of equals the first.
fn hardest(score: &Score, from: Level) -> Option<&Finding> {
    let shown = score.findings.iter().filter(|finding| finding.waived.is_none() && finding.severity >= from);
    shown.rev().max_by_key(|finding| phrases::hardness(finding))
}

/// What of a name fits, with its middle left out: what tells names apart is at either end, the end above all.
fn ends_of(name: &str, width: usize, unicode: bool) -> String {
    if name.width() <= width {
        return name.to_owned();
    }
    let mark = say("…", unicode);
    let room = width.saturating_sub(mark.width());
    let head = within(name.chars(), room / 3);
    let tail = within(name.chars().rev(), room - head.iter().collect::<String>().width());
    head.into_iter().chain(mark.chars()).chain(tail.into_iter().rev()).collect()
}

fn first_of(text: &str, width: usize, unicode: bool) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let mark = say("…", unicode);
    within(text.chars(), width.saturating_sub(mark.width())).into_iter().collect::<String>() + &mark
}

/// As many letters as fit.
fn within(letters: impl Iterator<Item = char>, mut room: usize) -> Vec<char> {
    let fits = |letter: &char| {
        let width = letter.width().unwrap_or(0);
        let fits = width <= room;
        room = room.saturating_sub(width);
        fits
    };
    letters.take_while(fits).collect()
}
