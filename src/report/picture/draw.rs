//! A player's part as systems of bars that wrap with the page.
//!
//! Each bar is a small drawing of its own, as wide as its music asks, all of one height; the page sets them side by
//! side and breaks the line where it ends. The names of the octaves stand to the left of every bar and are covered by
//! the bar before it, so that they show where a line begins, however wide the page is.

use std::collections::BTreeMap;
use std::fmt::Write as _;

mod breath;
mod footing;
mod notes;
mod signs;

use super::paper::{Path, escaped, px, tenths, text};
use super::{Air, Ghost, Picture, PlayerSeen, ground};
use crate::report::contract::Level;

/// A remark as it is drawn: a flag above its first note, and a line above what it is about.
#[derive(Clone, Debug)]
pub(in crate::report) struct Flag {
    /// Its number in the list.
    pub(in crate::report) number: usize,
    /// Id of the flag.
    pub(in crate::report) id: String,
    /// Id of the remark in the list.
    pub(in crate::report) remark: String,
    pub(in crate::report) level: Level,
    /// Class of its rule, for the filter.
    pub(in crate::report) rule: String,
    /// It is let stand.
    pub(in crate::report) waived: bool,
    /// Quarter of its first note.
    pub(in crate::report) from: f64,
    /// Quarter of its last note.
    pub(in crate::report) to: f64,
    /// Sounding pitch of its first note, where that is the one it speaks of.
    pub(in crate::report) midi: Option<f64>,
    /// What it is called: "bar 12, beat 3: too-loud-for-register".
    pub(in crate::report) label: String,
}

/// A drawn part: its bars, and what the style sheet has to know of it.
#[derive(Clone, Debug, Default)]
pub(in crate::report) struct Drawn {
    /// The bars, as elements.
    pub(in crate::report) bars: String,
    /// Patterns of the ground.
    pub(in crate::report) patterns: String,
    /// Rules for this part alone.
    pub(in crate::report) style: String,
}

/// Pixels of a quarter note, at least.
const QUARTER: f64 = 7.5;
/// Pixels of a semitone, at least.
const SEMITONE: f64 = 2.8;
/// A short part is drawn larger, up to so many times, until it takes so many pixels in all; no bar takes more than that.
const LARGEST: f64 = 1.8;
const ROOM: f64 = 2200.0;
const WIDEST: f64 = 260.0;
/// A system shows at least so many semitones.
const LEAST_SEMITONES: i32 = 21;
/// The narrowest bar, the width of a closed rest and of the bell that begins a part.
const NARROWEST: f64 = 20.0;
const REST: f64 = 44.0;
const BELL: f64 = 46.0;
/// Pixels that a note begins at least after the one before.
const STEP: f64 = 5.5;
/// Heights: signs for all parts, a row of flags, what is in hand, bar numbers, dynamics, breath.
const SIGNS: f64 = 13.0;
const FLAGS: f64 = 19.0;
const HAND: f64 = 12.0;
const NUMBERS: f64 = 11.0;
const LETTERS: f64 = 12.0;
const BREATH: f64 = 20.0;
const BELOW: f64 = 7.0;
/// Pixels of a note without air that are worth a word.
const LEAST_OUT: f64 = 10.0;
/// Seconds from which a note's length is written at it.
const HOLD: f64 = 3.0;
/// Pixels by which a line may be off to be drawn straight.
const STRAIGHT: f64 = 0.35;
/// Bars without a note that are closed up: so many at least.
const CLOSED: usize = 2;

pub(in crate::report) use footing::{depth, hatch};
pub(in crate::report) use notes::{letters, thick, thicknesses};

/// Draws a part. `name` is unlike that of any other on the page and fit for a class.
pub(in crate::report) fn draw(picture: &Picture, player: &PlayerSeen, flags: &[Flag], name: &str) -> Drawn {
    let mut plan = Plan::of(picture, player, flags, name);
    plan.usual_width = plan.most_usual_width();
    let plan = plan;
    let mut drawn = Drawn { patterns: plan.patterns(), style: plan.style(), bars: String::new() };
    let mut standing = None;
    for item in plan.items() {
        let start = match item {
            Item::Bar(bar) | Item::Rest(bar, _) => picture.bars[bar].start,
        };
        let now = player.stands_on.iter().rev().find(|(from, _)| *from <= start + 1e-9).map(|(_, on)| *on);
        if now != standing && now.is_some() {
            standing = now;
            plan.bell(now.unwrap_or_default(), &mut drawn.bars);
        }
        match item {
            Item::Bar(bar) => plan.bar(bar, now, &mut drawn.bars),
            Item::Rest(from, to) => plan.rest(from, to, &mut drawn.bars),
        }
    }
    drawn
}

/// What is set side by side.
#[derive(Clone, Copy)]
enum Item {
    Bar(usize),
    /// Bars without a note, to the last.
    Rest(usize, usize),
}

/// How a part is laid out.
struct Plan<'a> {
    picture: &'a Picture,
    player: &'a PlayerSeen,
    flags: &'a [Flag],
    name: &'a str,
    /// Semitones shown.
    lowest: i32,
    highest: i32,
    /// Rows of flags.
    rows: usize,
    /// Notes that sound in each bar: from, to (exclusive); a note held longer is in each.
    notes: Vec<Vec<usize>>,
    /// Flags that stand in each bar, and remarks that reach into it.
    flags_of: Vec<Vec<usize>>,
    reaches_of: Vec<Vec<usize>>,
    /// Breaths that are taken in each bar.
    breaths_of: Vec<Vec<usize>>,
    /// Of each note its air, and the octave moves that take it elsewhere.
    air_of: Vec<Option<Air>>,
    ghosts_of: Vec<Vec<Ghost>>,
    /// Pixels of a quarter note, at least, and of a semitone.
    quarter: f64,
    semitone: f64,
    /// Tenths of a pixel that most bars are wide: told once, in the style sheet.
    usual_width: i64,
}

impl<'a> Plan<'a> {
    fn of(picture: &'a Picture, player: &'a PlayerSeen, flags: &'a [Flag], name: &'a str) -> Plan<'a> {
        let mut notes = vec![Vec::new(); picture.bars.len()];
        for (index, note) in player.notes.iter().enumerate() {
            let first = picture.bar_at(note.from);
            let last = picture.bar_at((note.to - 1e-6).max(note.from));
            for bar in notes.iter_mut().take(last + 1).skip(first) {
                bar.push(index);
            }
        }
        let mut flags_of = vec![Vec::new(); picture.bars.len()];
        let mut reaches_of = flags_of.clone();
        for (index, flag) in flags.iter().enumerate() {
            let first = picture.bar_at(flag.from);
            if let Some(bar) = flags_of.get_mut(first) {
                bar.push(index);
            }
            let end = signs::ends(player, flag) - 1e-6;
            for bar in reaches_of.iter_mut().take(picture.bar_at(end) + 1).skip(first) {
                bar.push(index);
            }
        }
        let mut breaths_of = vec![Vec::new(); picture.bars.len()];
        for (index, breath) in player.breaths.iter().enumerate() {
            if let Some(bar) = breaths_of.get_mut(picture.bar_at(breath.at - 1e-6)) {
                bar.push(index);
            }
        }
        let mut air_of = vec![None; player.notes.len()];
        for air in &player.air {
            air_of[air.note] = Some(*air);
        }
        let mut ghosts_of = vec![Vec::new(); player.notes.len()];
        for ghost in &player.ghosts {
            ghosts_of[ghost.note].push(*ghost);
        }
        let plays = picture.bars.iter().zip(&notes).filter(|(_, notes)| !notes.is_empty());
        let natural: f64 = plays.map(|(bar, _)| bar.quarters * QUARTER).sum();
        let larger = (ROOM / natural.max(1.0)).clamp(1.0, LARGEST);
        let most = flags_of.iter().map(Vec::len).max().unwrap_or(0);
        let heights = player.notes.iter().map(|note| note.midi.round() as i32);
        let ghosts = player
            .ghosts
            .iter()
            .filter_map(|ghost| Some(player.notes.get(ghost.note)?.midi.round() as i32 + 12 * ghost.octaves));
        let (mut lowest, mut highest) = (i32::MAX, i32::MIN);
        for height in heights.chain(ghosts) {
            (lowest, highest) = (lowest.min(height), highest.max(height));
        }
        if lowest > highest {
            (lowest, highest) = (36, 48);
        }
        (lowest, highest) = (lowest - 3, highest + 3);
        let missing = (LEAST_SEMITONES - (highest - lowest)).max(0);
        (lowest, highest) = (lowest - missing / 2, highest + (missing - missing / 2));
        Plan {
            picture,
            player,
            flags,
            name,
            lowest,
            highest,
            rows: most.clamp(0, 2),
            notes,
            flags_of,
            reaches_of,
            breaths_of,
            air_of,
            ghosts_of,
            quarter: QUARTER * larger,
            semitone: SEMITONE * (1.0 + (larger - 1.0) / 2.0),
            usual_width: 0,
        }
    }

    fn most_usual_width(&self) -> i64 {
        let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
        for item in self.items() {
            if let Item::Bar(bar) = item {
                *counts.entry(tenths(self.layout(bar).width)).or_default() += 1;
            }
        }
        counts.into_iter().max_by_key(|(width, count)| (*count, -width)).map_or(0, |(width, _)| width)
    }

    /// Opens the drawing of a bar, as wide as it is.
    fn open(&self, width: f64, class: &str, into: &mut String) {
        let class = if class.is_empty() { "bar".to_owned() } else { format!("\"bar {class}\"") };
        let style = if tenths(width) == self.usual_width {
            String::new()
        } else {
            format!(" style=width:{}px", px(width))
        };
        let _ = write!(into, "<span class={class}{style}><svg aria-hidden=true>");
    }

    // Where things stand, from the top.

    fn numbers(&self) -> f64 {
        SIGNS + FLAGS * self.rows as f64 + HAND
    }

    fn top(&self) -> f64 {
        self.numbers() + NUMBERS
    }

    fn music(&self) -> f64 {
        f64::from(self.highest - self.lowest) * self.semitone
    }

    fn letters(&self) -> f64 {
        self.top() + self.music()
    }

    fn full(&self) -> f64 {
        self.letters() + LETTERS
    }

    fn empty(&self) -> f64 {
        self.full() + BREATH
    }

    fn height(&self) -> f64 {
        self.empty() + BELOW
    }

    fn y(&self, midi: f64) -> f64 {
        self.top() + (f64::from(self.highest) - midi) * self.semitone
    }

    /// Bars, and rests closed up: parted at rehearsal marks, as in a player's part, and where a remark stands.
    fn items(&self) -> Vec<Item> {
        let mut items = Vec::new();
        let rests = |bar: usize| self.notes[bar].is_empty() && self.flags_of[bar].is_empty();
        let mut bar = 0;
        while bar < self.picture.bars.len() {
            let parts = |next: usize| self.picture.bars[next].rehearsal.is_some();
            let mut to = bar;
            while rests(bar) && to + 1 < self.picture.bars.len() && rests(to + 1) && !parts(to + 1) {
                to += 1;
            }
            let is_closed = rests(bar) && to + 1 - bar >= CLOSED;
            items.push(if is_closed { Item::Rest(bar, to) } else { Item::Bar(bar) });
            bar = if is_closed { to + 1 } else { bar + 1 };
        }
        items
    }

    fn style(&self) -> String {
        let name = self.name;
        // Names stand well within the ground, which covers them.
        let octaves = (self.lowest + 3..=self.highest - 3).rev().filter(|midi| midi.rem_euclid(12) == 0);
        let octaves: Vec<i32> = octaves.collect();
        let labels = |above: i32| {
            let names: Vec<String> = octaves.iter().map(|midi| ground::name(midi + above)).collect();
            names.join("\\a ")
        };
        let first = octaves.first().map_or(0.0, |midi| self.y(f64::from(*midi)));
        let mut style = format!(
            ".{name} .bar{{height:{h}px;width:{usual}px}}.{name} rect{{y:{top}px;height:{music}px;fill:url(#{name}-0)}}\
             .{name} .bar::after{{top:{top}px;height:{line}px}}.{name} b{{top:{number}px}}\
             .{name} .bar::before{{content:\"{}\";top:{}px;line-height:{}px}}",
            labels(0),
            px(first - 6.0 * self.semitone),
            px(12.0 * self.semitone),
            h = px(self.height()),
            usual = px(self.usual_width as f64 / 10.0),
            top = px(self.top()),
            music = px(self.empty() - self.top() + 1.0),
            line = px(self.empty() - self.top()),
            number = px(self.top() - NUMBERS),
        );
        for index in 1..self.grounds().len() {
            let _ = write!(style, ".{name} .g{index}{{fill:url(#{name}-{index})}}");
        }
        if self.player.written_above != 0 {
            let _ = write!(
                style,
                "body:has(#written:checked) .{name} .bar::before{{content:\"{}\"}}",
                labels(self.player.written_above)
            );
        }
        style
    }

    /// A rest of several bars, closed up with its count and its seconds.
    fn rest(&self, from: usize, to: usize, into: &mut String) {
        let (first, last) = (&self.picture.bars[from], &self.picture.bars[to]);
        let end = self.picture.bars.get(to + 1).map_or(self.picture.seconds, |bar| bar.begins);
        let signs = self.signs_of(from, to);
        let width = REST.max(signs.width());
        self.open(width, "", into);
        let mut body = String::new();
        self.paper(width, &mut body);
        signs.draw(self, &mut body);
        let middle = self.top() + self.music() / 2.0;
        let count = (to + 1 - from).to_string();
        text(&mut body, "count", width / 2.0, middle + 2.0, &count);
        text(
            &mut body,
            "wait",
            width / 2.0,
            middle + 14.0,
            &format!("{:.0} s", (end - first.begins).max(0.0)),
        );
        let mut lines = Path::default();
        lines.line(&[(5.0, middle - 18.0), (width - 5.0, middle - 18.0)]);
        lines.line(&[(5.0, middle + 20.0), (width - 5.0, middle + 20.0)]);
        lines.drawn("line", &mut body);
        self.hands_between(first.start, last.start + last.quarters, &mut body);
        let _ = write!(into, "{body}</svg>");
        self.number(from, into);
        into.push_str("</span>");
    }

    fn bar(&self, bar: usize, standing: Option<usize>, into: &mut String) {
        let layout = self.layout(bar);
        self.open(layout.width, "", into);
        let seen = &self.picture.bars[bar];
        let mut body = String::new();
        let index = standing.and_then(|now| self.grounds().iter().position(|ground| *ground == now));
        match index {
            Some(index) if index > 0 => {
                let _ = write!(body, "<rect class=\"g{index}\"/>");
            }
            _ => body.push_str("<rect/>"),
        }
        self.signs_of(bar, bar).draw(self, &mut body);
        self.reaches(bar, &layout, &mut body);
        self.ghosts(bar, &layout, &mut body);
        self.notes(bar, &layout, &mut body);
        self.breath(bar, &layout, &mut body);
        self.hands_between(seen.start, seen.start + seen.quarters, &mut body);
        let _ = write!(into, "{body}</svg>");
        self.number(bar, into);
        for (flag, x, row) in &layout.flags {
            Plan::flag(&self.flags[*flag], *x, *row, into);
        }
        into.push_str("</span>");
    }

    fn layout(&self, bar: usize) -> Layout {
        let seen = &self.picture.bars[bar];
        let onsets =
            self.notes[bar].iter().filter(|note| self.player.notes[**note].from >= seen.start - 1e-9);
        let own: Vec<&Flag> = self.flags_of[bar].iter().map(|flag| &self.flags[*flag]).collect();
        let wide = |flag: &&Flag| 12.5 + 6.5 * flag.number.to_string().len() as f64;
        let rows = self.rows.max(1);
        let widest = own.iter().map(wide).fold(0.0, f64::max);
        let flags = widest * own.len().div_ceil(rows) as f64 + 1.0;
        let width = (seen.quarters * self.quarter)
            .clamp(NARROWEST, WIDEST)
            .max((onsets.count() as f64 * STEP + 3.0).min(2.0 * WIDEST))
            .max(flags)
            .max(self.signs_of(bar, bar).width());
        let mut layout =
            Layout { start: seen.start, quarters: seen.quarters.max(1e-6), width, flags: vec![] };
        let mut ends = vec![0.0_f64; rows];
        for (index, flag) in self.flags_of[bar].iter().zip(&own) {
            let row = (0..rows).min_by(|a, b| ends[*a].total_cmp(&ends[*b])).unwrap_or(0);
            let x = layout.x(flag.from).max(ends[row]).min(width - wide(flag)).max(0.0);
            ends[row] = x + wide(flag);
            layout.flags.push((*index, x, row));
        }
        // What is too far to the right moves back, the last first.
        for row in 0..rows {
            let mut limit = width;
            for (index, x, _) in layout.flags.iter_mut().rev().filter(|(.., own)| *own == row) {
                let wide = wide(&&self.flags[*index]);
                *x = x.min(limit - wide).max(0.0);
                limit = *x;
            }
        }
        layout
    }

    /// The number of a bar, outside its drawing: thousands of them are shorter so.
    fn number(&self, bar: usize, into: &mut String) {
        let _ = write!(into, "<b>{}</b>", escaped(&self.picture.bars[bar].number));
    }
}

/// Where things of one bar stand.
struct Layout {
    start: f64,
    quarters: f64,
    width: f64,
    /// Index, place and row of its flags.
    flags: Vec<(usize, f64, usize)>,
}

impl Layout {
    fn x(&self, quarter: f64) -> f64 {
        ((quarter - self.start) / self.quarters).clamp(0.0, 1.0) * (self.width - 3.0) + 2.0
    }
}
