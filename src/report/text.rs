//! The text report: what a good colleague would write on a slip of paper and leave on the stand.
//!
//! A heading for each part, then place by place in a column of its own: what is asked there, what is wrong
//! with it, what to do. Like remarks in one part are gathered, and where a part has many, those of one rule
//! stand behind one that is spelled out. Styles only repeat what the words say.

use std::io::{self, Write};

use anstyle::{AnsiColor, Style};
use textwrap::{Options, WordSplitter};
use unicode_width::UnicodeWidthStr;

use super::contract::{Finding, Level, Part, Report, Score};
use super::gathered::{Gathered, folded, gather, said_once};
use super::{Format, Look, by_score, phrases};
use crate::rules::{Family, Rule};

pub(super) const STRONG: Style = Style::new().bold();
const QUIET: Style = Style::new().dimmed();
const DO: Style = Style::new().italic();

/// Lines are no easier to read beyond this.
const WIDEST: usize = 100;
/// The column of places is so wide.
const NARROWEST_PLACE: usize = 12;
const WIDEST_PLACE: usize = 20;
/// Beyond so many findings of a score it is told which rules they are of.
const LONG: usize = 40;
/// Below this the place stands on a line of its own.
const NARROW: usize = 56;

/// Writes what is at least `from`.
pub(super) fn write(report: &Report, from: Level, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    match report.scores.as_slice() {
        [only] if report.unread.is_empty() => Page::new(look, out).score(only, from, only.findings.iter()),
        scores => {
            for score in scores {
                remarks(score, from, look, out)?;
            }
            ending(report, from, look, out)
        }
    }
}

/// Writes the text report's remarks on one score of several; nothing where there are none. [`write_ending`] makes
/// the report whole.
pub fn write_remarks(score: &Score, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    remarks(score, usual(look), look, out)
}

/// Writes what stands below the remarks on several scores: what is to be said of the settings, a line a score, the totals.
pub fn write_ending(report: &Report, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    ending(report, usual(look), look, out)
}

fn usual(look: &Look) -> Level {
    look.min_level.unwrap_or(Format::Text.usual_level()).into()
}

fn remarks(score: &Score, from: Level, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    let own = || score.findings.iter().filter(|finding| !is_of_settings(finding));
    let is_let_stand = |finding: &Finding| look.verbose && finding.waived.is_some();
    let is_shown = |finding: &Finding| finding.waived.is_none() && finding.severity >= from;
    let are_others = look.verbose && phrases::not_judged(score).is_some();
    if !are_others && !own().any(|finding| is_let_stand(finding) || is_shown(finding)) {
        return Ok(());
    }
    let mut page = Page::new(look, out);
    page.score(score, from, own())?;
    page.blank()?;
    page.blank()
}

fn ending(report: &Report, from: Level, look: &Look, out: &mut dyn Write) -> io::Result<()> {
    let mut page = Page::new(look, out);
    let of_settings: Vec<&Finding> = report
        .scores
        .iter()
        .flat_map(|score| &score.findings)
        .filter(|finding| is_of_settings(finding) && finding.waived.is_none() && finding.severity >= from)
        .collect();
    if !of_settings.is_empty() {
        page.paragraph(0, STRONG, "The settings")?;
        page.remarks(&of_settings)?;
        page.blank()?;
        page.blank()?;
    }
    if !report.scores.is_empty() {
        by_score::write(report, from, look, page.out)?;
        page.blank()?;
    }
    // Why a score could not be read is said on standard error; here it is only counted.
    page.paragraph(0, STRONG, &phrases::totals(report))?;
    match phrases::moves_in_all(report) {
        Some(moves) => page.paragraph(0, Style::new(), &phrases::sentence(&moves)),
        None => Ok(()),
    }
}

/// Whether it is about no score but about the settings, and known only when all scores were checked.
fn is_of_settings(finding: &Finding) -> bool {
    let is_housekeeping = |finding: &Finding| {
        Rule::named(&finding.rule).is_some_and(|rule| rule.family == Family::Housekeeping)
    };
    finding.part.is_none() && is_housekeeping(finding)
}

/// Lines as wide as they may be, with what the report's pages have in common.
pub(super) struct Page<'a> {
    width: usize,
    unicode: bool,
    all: bool,
    verbose: bool,
    out: &'a mut dyn Write,
}

impl<'a> Page<'a> {
    pub(super) fn new(look: &Look, out: &'a mut dyn Write) -> Page<'a> {
        let width = look.width.clamp(20, WIDEST);
        Page { width, unicode: look.unicode, all: look.all, verbose: look.verbose, out }
    }
}

impl Page<'_> {
    /// A score with these of its findings.
    fn score<'f>(
        &mut self,
        score: &Score,
        from: Level,
        findings: impl Iterator<Item = &'f Finding>,
    ) -> io::Result<()> {
        let findings: Vec<&Finding> = findings.collect();
        let that = |are_wanted: &dyn Fn(&Finding) -> bool| -> Vec<&Finding> {
            findings.iter().copied().filter(|finding| are_wanted(finding)).collect()
        };
        let shown = that(&|finding| finding.waived.is_none() && finding.severity >= from);
        let waived = that(&|finding| self.verbose && finding.waived.is_some());
        self.title(&score.path, score.title.as_deref())?;
        if let Some(by_part) = phrases::by_part(score, &shown) {
            self.paragraph(0, Style::new(), &by_part)?;
        }
        let whole: Vec<&Finding> = shown.iter().copied().filter(|finding| finding.part.is_none()).collect();
        if !whole.is_empty() {
            self.blank()?;
            self.paragraph(0, STRONG, "The whole score")?;
            self.remarks(&whole)?;
        }
        for other in &score.passed_over {
            let about: Vec<&Finding> =
                shown.iter().copied().filter(|finding| finding.is_about(&other.id, &other.name)).collect();
            if !about.is_empty() {
                self.blank()?;
                self.paragraph(0, STRONG, &phrases::part_label(score, &other.id, &other.name))?;
                self.remarks(&about)?;
            }
        }
        let of_parts: Vec<(String, Vec<Gathered<'_>>)> = score
            .parts
            .iter()
            .map(|part| {
                let own = shown.iter().copied().filter(|finding| finding.is_about(&part.id, &part.name));
                let label = phrases::part_label(score, &part.id, &part.name);
                (label, gather(&own.collect::<Vec<_>>()))
            })
            .collect();
        let silent: Vec<bool> = of_parts.iter().map(|(_, remarks)| remarks.is_empty()).collect();
        let of_parts = if self.all {
            of_parts.into_iter().map(|(_, remarks)| remarks).collect()
        } else {
            said_once(of_parts)
        };
        let mut quiet = Vec::new();
        for ((part, remarks), silent) in score.parts.iter().zip(of_parts).zip(silent) {
            if remarks.is_empty() {
                quiet.push((part, if silent { "nothing to remark" } else { "nothing of its own to remark" }));
                continue;
            }
            self.blank()?;
            self.part(score, part, None)?;
            self.gathered(remarks)?;
        }
        if !quiet.is_empty() {
            self.blank()?;
            for (part, verdict) in quiet {
                self.part(score, part, Some(verdict))?;
            }
        }
        self.let_stand(score, &waived)?;
        self.not_judged(score)?;
        self.blank()?;
        self.paragraph(0, Style::new(), &phrases::closing(score, &findings, from))?;
        if shown.len() > LONG {
            let errors = shown.iter().filter(|finding| finding.severity == Level::Error).count();
            let alone = match errors {
                0 => String::new(),
                _ if errors == shown.len() => String::new(),
                errors => format!(" (--min-level error shows the {errors} errors alone)"),
            };
            self.paragraph(0, Style::new(), &format!("{}{alone}", phrases::by_rule(&shown)))?;
        }
        if let Some(moves) = phrases::moves_said(score, &shown) {
            self.paragraph(0, Style::new(), &phrases::sentence(&moves))?;
        }
        if shown.iter().any(|finding| is_on_breath(finding)) {
            self.paragraph(0, Style::new(), phrases::ON_BREATH)?;
        }
        Ok(())
    }

    fn not_judged(&mut self, score: &Score) -> io::Result<()> {
        match phrases::not_judged(score).filter(|_| self.verbose) {
            Some(said) => {
                self.blank()?;
                self.paragraph(0, QUIET, &said)
            }
            None => Ok(()),
        }
    }

    /// What is let stand: each with its reason; the baseline, which gives none, only counted.
    fn let_stand(&mut self, score: &Score, waived: &[&Finding]) -> io::Result<()> {
        if waived.is_empty() {
            return Ok(());
        }
        self.blank()?;
        self.paragraph(0, STRONG, "Let stand")?;
        let mut accepted = 0;
        for finding in waived {
            match finding.waived.as_ref().filter(|waived| waived.because.is_some()) {
                Some(waived) => {
                    let place = phrases::part_and_place(score, finding);
                    let why = phrases::why_waived(waived);
                    let line = self.say(&format!("{place} · {} · {why}", finding.rule));
                    self.styled(2, 4, &line)?;
                }
                None => accepted += 1,
            }
        }
        if accepted > 0 {
            self.paragraph(2, Style::new(), &format!("{accepted} in the baseline"))?;
        }
        Ok(())
    }

    /// Title and path, on one line where they fit.
    pub(super) fn title(&mut self, path: &str, title: Option<&str>) -> io::Result<()> {
        let path = self.say(path);
        let Some(title) = title.map(|title| self.say(title)).filter(|title| !title.is_empty()) else {
            return writeln!(self.out, "{STRONG}{path}{STRONG:#}");
        };
        let (title_width, path_width) = (title.width(), path.width());
        if title_width + path_width + 3 > self.width {
            self.paragraph(0, STRONG, &title)?;
            return writeln!(self.out, "{QUIET}{path}{QUIET:#}");
        }
        let gap = self.width - title_width - path_width;
        writeln!(self.out, "{STRONG}{title}{STRONG:#}{:gap$}{QUIET}{path}{QUIET:#}", "")
    }

    /// The heading of a part, on one line where it fits. A part with nothing to remark has only this.
    fn part(&mut self, score: &Score, part: &Part, verdict: Option<&str>) -> io::Result<()> {
        let (style, rest) = if verdict.is_some() { (QUIET, QUIET) } else { (STRONG, Style::new()) };
        let name = self.say(&phrases::part_label(score, &part.id, &part.name));
        let dot = self.say("·");
        let (read_as, plays) = (self.say(&phrases::read_as(part)), self.say(&phrases::plays(part)));
        let verdict = verdict.map(|verdict| format!(" {dot} {verdict}")).unwrap_or_default();
        let one_line = format!("{name} {dot} {read_as} {dot} {plays}{verdict}");
        if one_line.width() <= self.width {
            return writeln!(self.out, "{style}{name}{style:#}{rest}{}{rest:#}", &one_line[name.len()..]);
        }
        self.styled(0, 2, &format!("{style}{name}{style:#}{rest} {dot} {read_as}{rest:#}"))?;
        self.styled(2, 2, &format!("{rest}{plays}{verdict}{rest:#}"))
    }

    /// Remarks on one part, each at its place.
    pub(super) fn remarks(&mut self, findings: &[&Finding]) -> io::Result<()> {
        self.gathered(gather(findings))
    }

    fn gathered(&mut self, mut gathered: Vec<Gathered<'_>>) -> io::Result<()> {
        if !self.all {
            gathered = folded(gathered);
        }
        let places: Vec<String> = gathered.iter().map(|like| self.say(&like.places())).collect();
        // A long place stands on a line of its own, rather than take the page from the words.
        let fitting = places.iter().map(|place| place.width()).filter(|&width| width <= WIDEST_PLACE);
        let column = fitting.max().unwrap_or(NARROWEST_PLACE).max(NARROWEST_PLACE);
        let mut before: Option<&Gathered<'_>> = None;
        for (like, place) in gathered.iter().zip(&places) {
            let known = before.is_some_and(|before| before.moves_as(like));
            self.blank()?;
            self.remark(like, place, column, known)?;
            before = Some(like);
        }
        Ok(())
    }

    fn remark(&mut self, like: &Gathered<'_>, place: &str, column: usize, known: bool) -> io::Result<()> {
        let finding = &like.spokesman();
        let weight = weight(finding.severity);
        let word = finding.severity.word();
        let rule = &finding.rule;
        let mut head = format!("{weight}{word}{weight:#}");
        if let Some(asked) = phrases::asked(finding) {
            head = format!("{}{} {head}", self.say(&asked), self.say(" ·"));
        }
        head = format!("{head} {QUIET}{rule}{QUIET:#}");
        let fits = self.width >= NARROW && place.width() <= column;
        let indent = match place {
            "" => 2,
            _ if self.width >= NARROW => column + 5,
            _ => 4,
        };
        if place.is_empty() {
            self.styled(2, 2, &head)?;
        } else if fits {
            let gap = column + 3 - place.width();
            self.styled_after(&format!("  {STRONG}{place}{STRONG:#}{:gap$}", ""), indent, &head)?;
        } else {
            self.styled(2, 2, &format!("{STRONG}{place}{STRONG:#}"))?;
            self.styled(indent, indent, &head)?;
        }
        self.paragraph(indent, Style::new(), &phrases::fact(finding))?;
        if known {
            self.paragraph(indent, DO, phrases::THE_SAME_MOVE)?;
        } else if let Some(way_out) = phrases::what_to_do(finding, like.findings.len() > 1) {
            self.paragraph(indent, DO, &way_out)?;
        }
        if !like.too.is_empty() {
            let too: Vec<&str> = like.too.iter().map(String::as_str).collect();
            self.paragraph(indent, Style::new(), &format!("{} too.", phrases::listed(&too)))?;
        }
        if let Some(more) = like.more() {
            self.paragraph(indent, QUIET, &more)?;
        }
        Ok(())
    }

    pub(super) fn blank(&mut self) -> io::Result<()> {
        writeln!(self.out)
    }

    /// Text in one style, wrapped.
    pub(super) fn paragraph(&mut self, indent: usize, style: Style, text: &str) -> io::Result<()> {
        let text = self.say(text);
        for line in textwrap::wrap(&text, self.wrapping(indent, indent)) {
            let words = line.trim_start();
            writeln!(self.out, "{:indent$}{style}{words}{style:#}", "")?;
        }
        Ok(())
    }

    /// An item of a list.
    pub(super) fn item(&mut self, text: &str) -> io::Result<()> {
        let text = self.say(text);
        self.styled(2, 4, &text)
    }

    /// Text that was said and styled already, wrapped.
    fn styled(&mut self, first: usize, rest: usize, text: &str) -> io::Result<()> {
        self.styled_after(&" ".repeat(first), rest, text)
    }

    fn styled_after(&mut self, head: &str, rest: usize, text: &str) -> io::Result<()> {
        let hanging = " ".repeat(rest);
        let options = Options::new(self.width)
            .initial_indent(head)
            .subsequent_indent(&hanging)
            .break_words(false)
            .word_splitter(WordSplitter::NoHyphenation);
        for line in textwrap::wrap(text, options) {
            writeln!(self.out, "{line}")?;
        }
        Ok(())
    }

    fn wrapping(&self, first: usize, rest: usize) -> Options<'static> {
        let room = self.width.saturating_sub(first.max(rest)).max(8);
        Options::new(room).break_words(false).word_splitter(WordSplitter::NoHyphenation)
    }

    fn say(&self, text: &str) -> String {
        say(text, self.unicode)
    }
}

fn is_on_breath(finding: &Finding) -> bool {
    Rule::named(&finding.rule).is_some_and(|rule| rule.family == Family::Breath)
}

/// Magenta can be read on white and on black (contrasts of 4.7 and 4.5 in the usual palette, by WCAG 2's formula; cyan has
/// 2.0 on white, red 3.6 on black); the word says the rest.
fn weight(level: Level) -> Style {
    let coloured = Style::new().fg_color(Some(AnsiColor::Magenta.into()));
    match level {
        Level::Error => coloured.bold(),
        Level::Warning => coloured,
        Level::Note => QUIET,
    }
}

/// Fit for a terminal: no control characters, one line, and plain letters where it has no others.
pub(super) fn say(text: &str, unicode: bool) -> String {
    let mut said = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            ' ' => said.push(' '),
            letter if letter.is_whitespace() || letter.is_control() => {
                if !said.is_empty() && !said.ends_with(' ') {
                    said.push(' ');
                }
            }
            // Marks that turn the direction of the text would reorder the line around them.
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {}
            letter if unicode || letter.is_ascii() => said.push(letter),
            letter => said.push_str(in_ascii(letter)),
        }
    }
    said
}

fn in_ascii(letter: char) -> &'static str {
    match letter {
        '·' | '–' | '—' | '−' => "-",
        '→' => "->",
        '…' => "...",
        '½' => " 1/2",
        '⅓' => " 1/3",
        '⅔' => " 2/3",
        '¼' => " 1/4",
        '¾' => " 3/4",
        '×' => "x",
        '≤' => "<=",
        '≥' => ">=",
        '’' | '‘' => "'",
        '“' | '”' => "\"",
        '♭' => "b",
        '♯' => "#",
        _ => "?",
    }
}
