//! One page for people who do not use a terminal: self-contained, fit to print, light or dark.
//!
//! Everything is in the file: no script, no font, no picture from elsewhere. A part is drawn ([`picture`](super::picture)) and
//! listed; each remark has a number in both, and leads from one to the other.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io::{self, Write};

use askama::Template;

use super::contract::{Finding, Level, Move, Part, Report, Score, Unread};
use super::gathered::{Gathered, gather};
use super::picture::draw::{Flag, draw, thicknesses};
use super::picture::glance::{clock, glance};
use super::picture::map::{Row as MapRow, map};
use super::picture::{Picture, PlayerSeen};
use super::{phrases, text};
use crate::finding::beat_said;

/// Writes what is at least `from`, on one page.
pub(super) fn write(report: &Report, from: Level, out: &mut dyn Write) -> io::Result<()> {
    let scores: Vec<&Score> = report.scores.iter().collect();
    let rules = Rules::of(&scores, from);
    let sheets: Vec<Sheet<'_>> = scores
        .iter()
        .zip(1..)
        .map(|(score, number)| Sheet::of(score, from, number, &rules, scores.len() > 1))
        .collect();
    let several = scores.len() != 1 || !report.unread.is_empty();
    Page {
        several,
        level: if several { 3 } else { 2 },
        totals: phrases::totals(report),
        players: if scores.len() > 1 { day_of_players(&report.scores) } else { Vec::new() },
        cues: worst_first(sheets.iter().map(|sheet| Cue::of(sheet, "")).collect()),
        unread: &report.unread,
        ..Page::of(report, from, &scores, rules, sheets)
    }
    .write(out)
}

/// A page for each score, and one that leads to them, worst first: file names and what is in them.
pub(super) fn pages(report: &Report, from: Level) -> io::Result<Vec<(String, Vec<u8>)>> {
    let mut written = Vec::new();
    let mut cues = Vec::new();
    for (score, name) in report.scores.iter().zip(names(&report.scores)) {
        let rules = Rules::of(&[score], from);
        let sheet = Sheet::of(score, from, 1, &rules, false);
        cues.push(Cue::of(&sheet, &name));
        let mut bytes = Vec::new();
        Page { home: Some(FIRST_PAGE), ..Page::of(report, from, &[score], rules, vec![sheet]) }
            .write(&mut bytes)?;
        written.push((name, bytes));
    }
    let index = Page {
        several: true,
        totals: phrases::totals(report),
        players: day_of_players(&report.scores),
        cues: worst_first(cues),
        unread: &report.unread,
        levels: Vec::new(),
        ..Page::of(report, from, &[], Rules::of(&[], from), Vec::new())
    };
    let mut bytes = Vec::new();
    index.write(&mut bytes)?;
    written.push((FIRST_PAGE.to_owned(), bytes));
    Ok(written)
}

/// The page that leads to the others.
pub const FIRST_PAGE: &str = "index.html";

/// Letters of a score's name in that of its page: with three bytes each they fit any file system.
const LONGEST_NAME: usize = 60;

/// A name for the page of each score, after its file; no two alike, in any case of letters.
fn names(scores: &[Score]) -> Vec<String> {
    let mut taken = BTreeSet::from(["index".to_owned()]);
    let name = |score: &Score| {
        let file = score.path.rsplit(['/', '\\']).next().unwrap_or_default();
        let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
        let plain: String = stem.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
        // Names of files end somewhere.
        let plain: String = plain.chars().take(LONGEST_NAME).collect();
        let plain = if plain.is_empty() { "score".to_owned() } else { plain };
        let mut other = std::iter::once(plain.clone()).chain((2..).map(|count| format!("{plain}-{count}")));
        let name = other.find(|name| taken.insert(name.to_lowercase())).unwrap_or(plain);
        format!("{name}.html")
    };
    scores.iter().map(name).collect()
}

/// What a day says of its cues: those of one title are told apart by their files.
fn worst_first(mut cues: Vec<Cue>) -> Vec<Cue> {
    let titles: Vec<String> = cues.iter().map(|cue| cue.title.clone()).collect();
    for cue in &mut cues {
        if titles.iter().filter(|title| **title == cue.title).count() < 2 {
            cue.path.clear();
        }
    }
    cues.sort_by_key(|cue| std::cmp::Reverse(cue.weight));
    cues
}

#[derive(Template)]
#[template(config = "src/report/askama.toml", path = "page.html")]
struct Page<'a> {
    version: &'a str,
    totals: String,
    scores: Vec<Sheet<'a>>,
    /// The same, worst first.
    cues: Vec<Cue>,
    /// Who plays how much over all scores.
    players: Vec<Day>,
    unread: &'a [Unread],
    levels: Vec<Level>,
    rules: Vec<String>,
    /// Some part is written at another pitch than it sounds.
    transposes: bool,
    several: bool,
    /// The page that leads to this one.
    home: Option<&'a str>,
    /// Of the headings of parts: no level is skipped under a single score.
    level: u8,
    /// What the style sheet has to know of this report.
    style: String,
}

/// The rules that speak, with their class on the page.
struct Rules {
    names: Vec<String>,
}

struct Sheet<'a> {
    anchor: String,
    title: String,
    path: &'a str,
    parts: Vec<Section>,
    map: String,
    moves: Vec<Row>,
    copy: Option<&'a str>,
    closing: String,
    moves_said: Option<String>,
    not_judged: Option<String>,
    style: String,
    errors: usize,
    warnings: usize,
    seconds: f64,
}

/// A part, or the whole score, with what is said of it.
struct Section {
    anchor: String,
    name: String,
    facts: String,
    remarks: Vec<Remark>,
    /// Its players' pictures.
    pictures: Vec<Drawing>,
    /// Nobody looked at it.
    judged: bool,
}

/// A player's picture.
struct Drawing {
    /// Its class.
    name: String,
    label: String,
    glance: String,
    bars: String,
    patterns: String,
}

/// What is said once of one place or several.
struct Remark {
    anchor: String,
    number: usize,
    level: Level,
    rule: String,
    /// The rule, and that its number is an estimate where it is.
    rule_said: String,
    hardness: (Level, bool, u32),
    class: String,
    /// Its place in words, or several, each with the id of its flag.
    lead: String,
    places: Vec<Place>,
    asked: String,
    fact: String,
    way_out: String,
    waived: Option<String>,
}

struct Place {
    words: String,
    flag: Option<String>,
    comma: &'static str,
}

struct Row {
    part: String,
    place: String,
    notes: u32,
    from: String,
    to: String,
    standing: &'static str,
    why: String,
}

/// A score in the list of a day.
struct Cue {
    /// Where it is looked at; empty: nowhere.
    link: String,
    title: String,
    /// Its file, where another has its title.
    path: String,
    said: String,
    hardest: Vec<(String, String)>,
    lasts: String,
    /// Errors, then warnings.
    weight: (usize, usize),
}

/// A player's day.
struct Day {
    name: String,
    cues: usize,
    plays: String,
    loud: String,
    longest: String,
}

impl<'a> Page<'a> {
    /// A page on these scores, with nothing else on it.
    fn of(
        report: &'a Report,
        from: Level,
        scores: &[&'a Score],
        rules: Rules,
        mut sheets: Vec<Sheet<'a>>,
    ) -> Page<'a> {
        let own = sheets.iter_mut().map(|sheet| std::mem::take(&mut sheet.style)).collect::<String>();
        Page {
            several: false,
            home: None,
            level: 2,
            version: &report.tool.version,
            totals: String::new(),
            transposes: scores.iter().filter_map(|score| score.picture.as_ref()).any(Picture::transposes),
            players: Vec::new(),
            cues: Vec::new(),
            scores: sheets,
            unread: &[],
            levels: [Level::Error, Level::Warning, Level::Note]
                .into_iter()
                .filter(|&level| level >= from)
                .collect(),
            style: own + &rules.style() + &thicknesses(),
            rules: rules.names,
        }
    }

    fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        self.write_into(&mut &mut *out)?;
        writeln!(out)
    }
}

impl Rules {
    fn of(scores: &[&Score], from: Level) -> Rules {
        let spoken = scores.iter().flat_map(|score| &score.findings);
        let names: BTreeSet<&String> =
            spoken.filter(|finding| finding.severity >= from).map(|finding| &finding.rule).collect();
        Rules { names: names.into_iter().cloned().collect() }
    }

    fn class(&self, rule: &str) -> String {
        let index = self.names.iter().position(|name| name == rule).unwrap_or(self.names.len());
        format!("r{index}")
    }

    fn style(&self) -> String {
        (0..self.names.len()).fold(String::new(), |mut style, index| {
            let _ = write!(style, "body:has(#rule-{index}:not(:checked)) .r{index}{{display:none}}");
            style
        })
    }
}

impl<'a> Sheet<'a> {
    fn of(score: &'a Score, from: Level, number: usize, rules: &Rules, several: bool) -> Sheet<'a> {
        let shown: Vec<&Finding> = score.findings.iter().filter(|finding| finding.severity >= from).collect();
        let anchor = format!("s{number}");
        let about = |is_meant: &dyn Fn(&Finding) -> bool| -> Vec<&'a Finding> {
            shown.iter().copied().filter(|finding| is_meant(finding)).collect()
        };
        let none = Picture::default();
        let picture = score.picture.as_ref().unwrap_or(&none);
        let mut style = String::new();
        let mut rows: Vec<MapRow<'_>> = Vec::new();
        let mut parts = Vec::new();
        for part in &score.parts {
            let findings = about(&|finding| finding.is_about(&part.id, &part.name));
            let name = phrases::part_label(score, &part.id, &part.name);
            let anchor = format!("{anchor}p{}", parts.len() + 1);
            let players: Vec<&PlayerSeen> = picture
                .players
                .iter()
                .filter(|player| player.part == part.id && player.part_name == part.name)
                .collect();
            let (remarks, flags) = remarks(&findings, &anchor, rules, picture);
            let mut pictures = Vec::new();
            for (index, player) in players.iter().enumerate() {
                let own: Vec<Flag> =
                    flags.iter().filter(|flag| owner(flag, &players) == index).cloned().collect();
                let class = format!("{anchor}-{}", index + 1);
                let drawn = draw(picture, player, &own, &class);
                style.push_str(&drawn.style);
                let which = player.player.map(|number| format!(", player {number}")).unwrap_or_default();
                pictures.push(Drawing {
                    label: format!("{name}{which}"),
                    glance: glance(picture, player),
                    bars: drawn.bars,
                    patterns: drawn.patterns,
                    name: class,
                });
            }
            rows.push(MapRow { name: name.clone(), anchor: anchor.clone(), players, flags });
            parts.push(Section { anchor, name, facts: facts(part), remarks, pictures, judged: true });
        }
        let mut others = Vec::new();
        let whole = about(&|finding| finding.part.is_none());
        if !whole.is_empty() {
            others.push(("The whole score".to_owned(), String::new(), whole));
        }
        for other in &score.passed_over {
            let findings = about(&|finding| finding.is_about(&other.id, &other.name));
            if !findings.is_empty() {
                let name = phrases::part_label(score, &other.id, &other.name);
                others.push((name, "not judged".to_owned(), findings));
            }
        }
        // Before the parts, which begin a sheet each: what holds for all, and who was not looked at.
        for (place, (name, facts, findings)) in others.into_iter().enumerate() {
            let anchor = format!("{anchor}p{}", parts.len() + 1);
            let (remarks, _) = remarks(&findings, &anchor, rules, &none);
            let section = Section { anchor, name, facts, remarks, pictures: Vec::new(), judged: false };
            parts.insert(place, section);
        }
        let listed: Vec<&Finding> =
            shown.iter().copied().filter(|finding| finding.waived.is_none()).collect();
        let count = |level| listed.iter().filter(|finding| finding.severity == level).count();
        let revision = score.revision.as_ref();
        let is_drawn = rows.iter().any(|row| !row.players.is_empty()) && picture.seconds > 0.0;
        Sheet {
            title: score.title.clone().unwrap_or_else(|| score.path.clone()),
            path: &score.path,
            map: if is_drawn && (rows.len() > 1 || several) { map(picture, &rows) } else { String::new() },
            moves: revision.map(|made| made.moves.iter().map(Row::of).collect()).unwrap_or_default(),
            copy: revision.and_then(|made| made.path.as_deref()),
            closing: phrases::closing(score, &score.findings.iter().collect::<Vec<_>>(), from),
            moves_said: phrases::moves_said(score, &listed),
            not_judged: phrases::not_judged(score),
            errors: count(Level::Error),
            warnings: count(Level::Warning),
            seconds: picture.seconds,
            anchor,
            parts,
            style,
        }
    }
}

/// Which of a part's players a remark is about: the one who plays its first note.
fn owner(flag: &Flag, players: &[&PlayerSeen]) -> usize {
    let begins = |player: &&PlayerSeen| {
        player.notes.iter().any(|note| {
            (note.from - flag.from).abs() < 1e-6
                && flag.midi.is_none_or(|midi| (note.midi - midi).abs() < 0.01)
        })
    };
    players.iter().position(begins).unwrap_or(0)
}

/// The remarks of a part, numbered in order, and the flags they have in its picture.
fn remarks(
    findings: &[&Finding],
    anchor: &str,
    rules: &Rules,
    picture: &Picture,
) -> (Vec<Remark>, Vec<Flag>) {
    let gathered = gather(findings);
    let mut flags = Vec::new();
    let before = std::iter::once(None).chain(gathered.iter().map(Some));
    let remarks = gathered.iter().zip(before).zip(1..).map(|((like, before), number)| {
        let anchor = format!("{anchor}r{number}");
        let mut own = Vec::new();
        for (finding, place) in like.findings.iter().zip(1..) {
            let flag = phrases::has_place(finding)
                .then(|| Flag::of(finding, picture, number, format!("{anchor}-{place}"), &anchor, rules))
                .flatten();
            own.push(flag.as_ref().map(|flag| flag.id.clone()));
            flags.extend(flag);
        }
        let remark = Remark::of(like, anchor, number, own, rules);
        match before {
            // Only where both are shown together.
            Some(before)
                if before.moves_as(like)
                    && before.findings[0].severity == like.findings[0].severity
                    && before.findings[0].rule == like.findings[0].rule =>
            {
                Remark { way_out: phrases::THE_SAME_MOVE.to_owned(), ..remark }
            }
            _ => remark,
        }
    });
    let remarks: Vec<Remark> = remarks.collect();
    flags.sort_by(|one, other| one.from.total_cmp(&other.from).then(one.number.cmp(&other.number)));
    (remarks, flags)
}

impl Flag {
    /// `None` where the bar is not in the picture.
    fn of(
        finding: &Finding,
        picture: &Picture,
        number: usize,
        id: String,
        remark: &str,
        rules: &Rules,
    ) -> Option<Flag> {
        let bar = picture.bars.get(finding.bar_index as usize)?;
        let to_bar = picture.bars.get(finding.span.to_bar_index as usize)?;
        let from = quarters(&finding.onset).unwrap_or(bar.start);
        let into = quarters(&finding.span.to_beat).map_or(0.0, |beat| (beat - 1.0) * to_bar.beat);
        let place = phrases::where_it_stands(finding);
        Some(Flag {
            number,
            id,
            remark: remark.to_owned(),
            level: finding.severity,
            rule: rules.class(&finding.rule),
            waived: finding.waived.is_some(),
            from,
            to: (to_bar.start + into).max(from),
            midi: finding.midi.filter(|_| {
                finding.worst.bar_index == finding.bar_index && finding.worst.beat == finding.beat
            }),
            label: format!("{number}, {}: {place}", finding.severity.word()),
        })
    }
}

/// "44", "89/2".
fn quarters(fraction: &str) -> Option<f64> {
    let (numerator, denominator) = fraction.split_once('/').unwrap_or((fraction, "1"));
    let (numerator, denominator): (f64, f64) = (numerator.parse().ok()?, denominator.parse().ok()?);
    (denominator > 0.0).then(|| numerator / denominator)
}

impl Remark {
    fn of(
        like: &Gathered<'_>,
        anchor: String,
        number: usize,
        flags: Vec<Option<String>>,
        rules: &Rules,
    ) -> Remark {
        let finding = like.spokesman();
        let (lead, words) = match like.findings.as_slice() {
            [one] => (String::new(), vec![phrases::where_it_stands(one)]),
            several => {
                let bars: Vec<String> = several.iter().map(|finding| phrases::bars_alone(finding)).collect();
                let words = several.iter().zip(&bars).map(|(finding, bar)| {
                    let again = bars.iter().filter(|other| *other == bar).count() > 1;
                    let beat = beat_said(&finding.beat, finding.beat_unit);
                    if again { format!("{bar} ({beat})") } else { bar.clone() }
                });
                ("bars ".to_owned(), words.collect())
            }
        };
        let last = words.len().saturating_sub(1);
        let places = words.into_iter().zip(flags).enumerate().filter(|(_, (words, _))| !words.is_empty());
        Remark {
            anchor,
            number,
            level: finding.severity,
            rule_said: phrases::rule_said(&finding),
            hardness: phrases::hardness(&finding),
            class: rules.class(&finding.rule),
            lead,
            places: places
                .map(|(index, (words, flag))| Place {
                    words,
                    flag,
                    comma: if index < last { ", " } else { "" },
                })
                .collect(),
            asked: phrases::asked(&finding).unwrap_or_default(),
            fact: phrases::fact(&finding),
            way_out: phrases::what_to_do(&finding, like.findings.len() > 1).unwrap_or_default(),
            waived: finding.waived.as_ref().map(phrases::why_waived),
            rule: finding.rule,
        }
    }
}

impl Row {
    fn of(made: &Move) -> Row {
        let (from, to) = phrases::from_to(made);
        Row {
            part: made.part_name.clone(),
            place: phrases::stretch(&made.from, &made.to),
            notes: made.notes,
            from,
            to,
            standing: made.standing.word(),
            why: phrases::what_a_move_does(made),
        }
    }
}

impl Cue {
    /// `page` is where its sheet is; empty: on the same.
    fn of(sheet: &Sheet<'_>, page: &str) -> Cue {
        let of_parts =
            sheet.parts.iter().flat_map(|part| part.remarks.iter().map(move |remark| (part, remark)));
        let mut worst: Vec<(&Section, &Remark)> =
            of_parts.filter(|(_, remark)| remark.waived.is_none() && remark.level > Level::Note).collect();
        worst.sort_by_key(|(_, remark)| std::cmp::Reverse(remark.hardness));
        let hardest = worst.iter().take(HARDEST).map(|(part, remark)| {
            let place = remark.places.first().map(|place| format!("{}{}", remark.lead, place.words));
            let said = [Some(part.name.clone()), place, Some(remark.rule_said.replace('-', " "))];
            (format!("{page}#{}", remark.anchor), said.into_iter().flatten().collect::<Vec<_>>().join(", "))
        });
        Cue {
            link: match (page, sheet.parts.is_empty()) {
                ("", true) => String::new(),
                ("", false) => format!("#{}", sheet.anchor),
                (page, _) => page.to_owned(),
            },
            title: sheet.title.clone(),
            path: sheet.path.to_owned(),
            said: sheet.closing.clone(),
            hardest: hardest.collect(),
            lasts: if sheet.seconds > 0.0 { clock(sheet.seconds) } else { String::new() },
            weight: (sheet.errors, sheet.warnings),
        }
    }
}

/// So many of the hardest places of a cue are named in the day.
const HARDEST: usize = 3;

/// What each player has to do in all scores, by part name in order of first appearance.
fn day_of_players(scores: &[Score]) -> Vec<Day> {
    struct Sum<'a> {
        name: String,
        cues: usize,
        plays: f64,
        loud: f64,
        longest: Option<(f64, &'a Score)>,
    }
    let mut sums: Vec<Sum<'_>> = Vec::new();
    for score in scores {
        for player in score.picture.iter().flat_map(|picture| &picture.players) {
            let which = player.player.map(|number| format!(", player {number}")).unwrap_or_default();
            let name = format!("{}{which}", player.part_name);
            let at = sums.iter().position(|sum| sum.name == name).unwrap_or_else(|| {
                sums.push(Sum { name, cues: 0, plays: 0.0, loud: 0.0, longest: None });
                sums.len() - 1
            });
            let sum = &mut sums[at];
            sum.cues += usize::from(!player.notes.is_empty());
            sum.plays += player.load.plays;
            sum.loud += player.load.loud;
            let run = player.load.longest.map_or(0.0, |(seconds, ..)| seconds);
            if run > sum.longest.map_or(0.0, |(longest, _)| longest) {
                sum.longest = Some((run, score));
            }
        }
    }
    let day = |sum: Sum<'_>| Day {
        name: sum.name,
        cues: sum.cues,
        plays: clock(sum.plays),
        loud: clock(sum.loud),
        longest: sum.longest.map_or(String::new(), |(seconds, score)| {
            format!("{} in {}", clock(seconds), score.title.as_deref().unwrap_or(&score.path))
        }),
    };
    sums.into_iter().map(day).collect()
}

fn facts(part: &Part) -> String {
    format!("{} · {}", phrases::read_as(part), phrases::plays(part))
}

/// Text for a page: what no document may hold is left out, the rest is escaped by the template.
pub(super) fn clean(plain: &str) -> String {
    text::say(plain, true)
}
