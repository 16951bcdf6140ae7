//! A player's part as systems of bars that wrap with the page.
//!
//! Each bar is a small drawing of its own, as wide as its music asks, all of one height; the page sets them side by
//! side and breaks the line where it ends. The names of the octaves stand to the left of every bar and are covered by
//! the bar before it, so that they show where a line begins, however wide the page is.

use std::fmt::Write as _;

use super::paper::{Path, escaped, px, text};
use super::{Air, Footing, Ghost, Ground, NoteSeen, Picture, PlayerSeen, Room, Rung, Stroke, ground};
use crate::finding::Standing;
use crate::music::Dynamic;
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
/// Bars without a note that are closed up: so many at least.
const CLOSED: usize = 2;

/// Draws a part. `name` is unlike that of any other on the page and fit for a class.
pub(in crate::report) fn draw(picture: &Picture, player: &PlayerSeen, flags: &[Flag], name: &str) -> Drawn {
    let plan = Plan::of(picture, player, flags, name);
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
            let end = ends(player, flag) - 1e-6;
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
        }
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
            ".{name} .bar{{height:{h}px}}.{name} rect{{y:{top}px;height:{music}px;fill:url(#{name}-0)}}\
             .{name} .bar::after{{top:{top}px;height:{line}px}}.{name} b{{top:{number}px}}\
             .{name} .bar::before{{content:\"{}\";top:{}px;line-height:{}px}}",
            labels(0),
            px(first - 6.0 * self.semitone),
            px(12.0 * self.semitone),
            h = px(self.height()),
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

    fn grounds(&self) -> Vec<usize> {
        let mut grounds: Vec<usize> = Vec::new();
        for (_, ground) in &self.player.stands_on {
            if !grounds.contains(ground) {
                grounds.push(*ground);
            }
        }
        grounds
    }

    fn patterns(&self) -> String {
        let mut patterns = String::new();
        for (index, ground) in self.grounds().iter().enumerate() {
            let Some(ground) = self.picture.grounds.get(*ground) else { continue };
            let _ = write!(
                patterns,
                "<pattern id=\"{}-{index}\" width=\"8\" height=\"{}\" patternUnits=\"userSpaceOnUse\">",
                self.name,
                px(self.height())
            );
            self.column(ground, 8.0, &mut patterns);
            patterns.push_str("</pattern>");
        }
        patterns
    }

    /// A column of the ground, its width a multiple of four.
    fn column(&self, ground: &Ground, width: f64, into: &mut String) {
        let (top, bottom) = (self.top(), self.letters());
        let mut paper = Path::default();
        paper.block(0.0, top, width, bottom - top);
        paper.drawn("paper", into);
        let row =
            |midi: i32| (self.y(f64::from(midi) + 0.5).max(top), self.y(f64::from(midi) - 0.5).min(bottom));
        for (from, to, rung) in bands(ground) {
            let (above, below) = (row(to).0, row(from).1);
            if below <= above {
                continue;
            }
            let mut band = Path::default();
            band.block(0.0, above, width, below - above);
            band.drawn(depth(rung.ceiling), into);
            hatch(rung.footing, above, below, width, into);
        }
        // Beyond the compass there is no ground to stand on.
        let ends = (ground.rungs.first().map(|rung| rung.midi), ground.rungs.last().map(|rung| rung.midi));
        if let (Some(lowest), Some(highest)) = ends {
            let mut off = Path::default();
            let (first, last) = (row(highest).0, row(lowest).1);
            if first > top {
                off.block(0.0, top, width, first - top);
            }
            if last < bottom {
                off.block(0.0, last, width, bottom - last);
            }
            off.drawn("off", into);
        }
        let mut octaves = Path::default();
        for midi in (self.lowest..=self.highest).filter(|midi| midi.rem_euclid(12) == 0) {
            octaves.line(&[(0.0, self.y(f64::from(midi))), (width, self.y(f64::from(midi)))]);
        }
        octaves.drawn("octave", into);
        let mut lungs = Path::default();
        lungs.line(&[(0.0, self.full()), (width, self.full())]);
        lungs.line(&[(0.0, self.empty()), (width, self.empty())]);
        lungs.drawn("frame", into);
    }

    /// The bell: how loud the instrument goes at each pitch, with its name. A part begins with it, and what comes after a
    /// change of instrument.
    fn bell(&self, ground: usize, into: &mut String) {
        let Some(ground) = self.picture.grounds.get(ground) else { return };
        open(into, BELL, "bell");
        let mut body = String::new();
        self.paper(BELL, &mut body);
        let inside = |rung: &&Rung| (self.lowest..=self.highest).contains(&rung.midi);
        let rungs: Vec<&Rung> = ground.rungs.iter().filter(inside).collect();
        let mut shape = vec![];
        let wide = |ceiling: i32| 6.0 + f64::from((ceiling - Dynamic::Pp as i32).max(0)) * 5.0;
        for rung in rungs.iter().filter(|rung| rung.footing != Footing::Missing) {
            let midi = f64::from(rung.midi);
            shape.push((wide(rung.ceiling), self.y(midi - 0.5).min(self.letters())));
            shape.push((wide(rung.ceiling), self.y(midi + 0.5).max(self.top())));
        }
        if let (Some(first), Some(last)) = (shape.first().copied(), shape.last().copied()) {
            shape.insert(0, (0.0, first.1));
            shape.push((0.0, last.1));
            let mut path = Path::default();
            path.polygon(&shape);
            path.drawn("shape", &mut body);
        }
        let mut from = 0;
        while from < rungs.len() {
            let mut to = from;
            while to + 1 < rungs.len() && rungs[to + 1].ceiling == rungs[from].ceiling {
                to += 1;
            }
            let height = f64::from(rungs[to].midi - rungs[from].midi + 1) * self.semitone;
            if height >= 9.0 {
                let middle = f64::from(rungs[from].midi + rungs[to].midi) / 2.0;
                text(&mut body, "give", 3.0, self.y(middle) + 3.5, letters(rungs[from].ceiling));
            }
            from = to + 1;
        }
        let _ = write!(into, "{body}</svg></span>");
    }

    /// Covers the names of the octaves, which stand under every bar but the first of a line.
    fn paper(&self, width: f64, into: &mut String) {
        let mut paper = Path::default();
        paper.block(0.0, self.top(), width, self.music());
        paper.drawn("paper", into);
    }

    /// A rest of several bars, closed up with its count and its seconds.
    fn rest(&self, from: usize, to: usize, into: &mut String) {
        let (first, last) = (&self.picture.bars[from], &self.picture.bars[to]);
        let end = self.picture.bars.get(to + 1).map_or(self.picture.seconds, |bar| bar.begins);
        let signs = self.signs_of(from, to);
        let width = REST.max(signs.width());
        open(into, width, "");
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
        open(into, layout.width, "");
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

    fn signs_of(&self, from: usize, to: usize) -> Signs {
        let bars = &self.picture.bars[from..=to];
        let end = self.picture.bars.get(to + 1).map_or(f64::INFINITY, |bar| bar.start);
        let key = self.player.keys.iter().find(|(at, _)| *at >= bars[0].start - 1e-9 && *at < end - 1e-9);
        let mut beside = Vec::new();
        beside.extend(bars.iter().rev().find_map(|bar| bar.metre.clone()));
        beside.extend(key.map(|(_, fifths)| in_key(*fifths)));
        Signs {
            rehearsal: bars[0].rehearsal.clone(),
            tempo: bars.iter().rev().find_map(|bar| bar.tempo.clone()),
            beside: beside.join(" "),
            number: bars[0].number.chars().count(),
        }
    }

    /// The number of a bar, outside its drawing: thousands of them are shorter so.
    fn number(&self, bar: usize, into: &mut String) {
        let _ = write!(into, "<b>{}</b>", escaped(&self.picture.bars[bar].number));
    }

    /// The instruments and mutes that are taken up here.
    fn hands_between(&self, from: f64, to: f64, into: &mut String) {
        let here = |at: f64| at >= from - 1e-9 && at < to - 1e-9;
        let y = self.numbers() - 3.0;
        let mut said = Vec::new();
        for (index, hand) in self.player.hands.iter().enumerate().filter(|(_, hand)| here(hand.at)) {
            let Some(ground) = self.picture.grounds.get(hand.ground) else { continue };
            let title = ground.title.clone();
            let mut words = match (hand.asked, index) {
                (true, 0) => title,
                (true, _) => format!("take {title}"),
                (false, _) => format!("lies better on {title}"),
            };
            if let Some((there_are, wanted)) = hand.change {
                let _ = write!(words, ": {there_are:.0} s, wants {wanted:.0}");
            }
            said.push(words);
        }
        for mute in self.player.mutes.iter().filter(|mute| here(mute.at)) {
            let time = mute.there_are.map(|seconds| format!(": {seconds:.1} s")).unwrap_or_default();
            said.push(format!("{}{time}", mute.what));
        }
        if !said.is_empty() {
            text(into, "hand", 1.5, y, &said.join(" · "));
        }
    }

    /// The line of each remark above what it is about.
    fn reaches(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let end = seen.start + seen.quarters;
        for flag in self.reaches_of[bar].iter().map(|flag| &self.flags[*flag]) {
            let to = ends(self.player, flag).min(end);
            let (from, to) = (layout.x(flag.from.max(seen.start)), layout.x(to));
            let y = SIGNS + FLAGS * self.rows as f64 - 1.0;
            let mut path = Path::default();
            path.line(&[(from, y), (to.max(from + 2.0), y)]);
            if let Some((_, x, _)) =
                layout.flags.iter().find(|(own, ..)| std::ptr::eq(&raw const self.flags[*own], flag))
            {
                // The pole, down to its first note.
                let at = self.player.notes.partition_point(|note| note.from < flag.from - 1e-6);
                let note = self.player.notes.get(at).filter(|note| note.from <= flag.from + 1e-6);
                let foot = note.map_or(self.top(), |note| self.y(note.midi) - 3.0);
                path.line(&[(x + 1.0, y - 3.0), (from + 1.0, y + 2.0), (from + 1.0, foot)]);
            }
            path.drawn(&format!("reach {} {}", flag.level.word(), flag.rule), into);
        }
    }

    fn flag(flag: &Flag, x: f64, row: usize, into: &mut String) {
        let waived = if flag.waived { " waived" } else { "" };
        let _ = write!(
            into,
            "<a class=\"flag {} {}{waived}\" id=\"{}\" href=\"#{}\" style=\"left:{}px;top:{}px\" aria-label=\"{}\">{}</a>",
            flag.level.word(),
            flag.rule,
            flag.id,
            flag.remark,
            px(x),
            px(SIGNS + FLAGS * row as f64),
            escaped(&flag.label),
            flag.number
        );
    }

    fn notes(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let (start, end) = (seen.start, seen.start + seen.quarters);
        let (mut solid, mut rim, mut floor, mut unmarked) =
            (Path::default(), Path::default(), Path::default(), Path::default());
        let mut words = String::new();
        for &index in &self.notes[bar] {
            let note = &self.player.notes[index];
            let y = self.y(note.midi);
            let next = self.player.notes.get(index + 1);
            let runs_on = note.to > end + 1e-6;
            let bound = next.filter(|next| (note.bound || note.glides) && next.from <= note.to + 1e-6);
            let left = layout.x(note.from.max(start));
            let mut right = layout.x(note.to.min(end));
            if !runs_on && bound.is_none() {
                right -= if note.stroke == Stroke::Short { (right - left) * 0.45 } else { 1.3 };
            }
            let right = right.max(left + 1.4);
            if note.grace {
                solid.polygon(&[(left - 3.0, y - 2.5), (left, y), (left - 3.0, y + 0.5)]);
                continue;
            }
            let begins = note.from >= start - 1e-9;
            if note.levels.is_empty() {
                Body::even(thick(f64::from(Dynamic::Mf as i32))).outline(left, right, y, &mut unmarked);
            }
            for piece in pieces(note, start, end) {
                let (x0, x1) = (layout.x(piece.from).max(left), layout.x(piece.to).min(right));
                if x1 <= x0 {
                    continue;
                }
                let front = begins && (piece.from - note.from).abs() < 1e-9;
                let stroke = if front { note.stroke } else { Stroke::Plain };
                let gives = |level: f64| note.ceiling.map_or(level, |ceiling| level.min(ceiling));
                let attack = note.attack.filter(|_| front);
                let body = Body {
                    from: thick(gives(piece.level)),
                    to: thick(gives(piece.until)),
                    front: attack.map(|attack| thick(gives(attack))),
                    stroke,
                };
                body.outline(x0, x1, y, &mut solid);
                let loudest = piece.level.max(piece.until).max(attack.unwrap_or(0.0));
                if note.ceiling.is_some_and(|ceiling| loudest > ceiling) {
                    let asked = Body {
                        from: thick(piece.level),
                        to: thick(piece.until),
                        front: attack.map(thick),
                        stroke,
                    };
                    asked.outline(x0, x1, y, &mut rim);
                }
                if let Some(speaks) = note.floor.filter(|floor| piece.level.min(piece.until) < *floor) {
                    Body::even(thick(speaks)).outline(x0, x1, y, &mut floor);
                }
            }
            if let Some(next) = bound {
                let from = (layout.x(note.to.min(end)), y);
                let there = self.y(next.midi);
                if note.glides {
                    solid.polygon(&[
                        (from.0 - 2.0, y - 1.2),
                        (from.0, there - 1.2),
                        (from.0, there + 1.2),
                        (from.0 - 2.0, y + 1.2),
                    ]);
                } else if !runs_on {
                    solid.polygon(&[
                        (from.0 - 0.6, y),
                        (from.0 + 0.4, y),
                        (from.0 + 0.4, there),
                        (from.0 - 0.6, there),
                    ]);
                }
            }
            if begins && note.seconds >= HOLD {
                let above = y - thick(note.levels.first().map_or(7.0, |(_, level, _)| *level)) - 2.0;
                text(
                    &mut words,
                    "hold",
                    left + 1.0,
                    above.max(self.top() + 7.0),
                    &format!("{:.1} s", note.seconds),
                );
            }
        }
        unmarked.drawn("rim unmarked", into);
        rim.drawn("rim", into);
        floor.drawn("rim floor", into);
        solid.drawn("tone", into);
        into.push_str(&words);
        self.levels(bar, layout, into);
    }

    /// Dynamics where they are new.
    fn levels(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let mut free = f64::NEG_INFINITY;
        for &index in &self.notes[bar] {
            let note = &self.player.notes[index];
            let before = index.checked_sub(1).map(|before| &self.player.notes[before]);
            let known = before.and_then(|before| before.levels.last()).map(|(_, level, _)| *level);
            let Some((_, level, _)) = note.levels.first().filter(|_| note.from >= seen.start - 1e-9) else {
                continue;
            };
            let x = layout.x(note.from);
            if known != Some(*level) && x >= free {
                let said = letters(*level as i32);
                text(into, "level", x, self.letters() + 9.0, said);
                free = x + 6.8 * said.len() as f64 + 2.0;
            }
        }
    }

    fn ghosts(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let (start, end) = (seen.start, seen.start + seen.quarters);
        let (mut safe, mut look) = (Path::default(), Path::default());
        let mut signs = String::new();
        for ghost in self.notes[bar].iter().flat_map(|note| &self.ghosts_of[*note]) {
            let note = &self.player.notes[ghost.note];
            let y = self.y(note.midi + 12.0 * f64::from(ghost.octaves));
            let (left, right) = (layout.x(note.from.max(start)), layout.x(note.to.min(end)) - 1.0);
            let half = thick(note.levels.first().map_or(7.0, |(_, level, _)| *level)).max(1.8);
            let path = if ghost.standing == Standing::Safe { &mut safe } else { &mut look };
            path.block(left, y - half, (right - left).max(2.0), 2.0 * half);
            if ghost.first && note.from >= start - 1e-9 {
                let from = self.y(note.midi);
                let (way, x) = (if y < from { -1.0 } else { 1.0 }, left + 1.5);
                let tip = y - way * (half + 1.0);
                path.line(&[(x, from + way * 4.0), (x, tip)]);
                path.line(&[(x - 2.5, tip - way * 4.0), (x, tip), (x + 2.5, tip - way * 4.0)]);
                let sign = match ghost.standing {
                    Standing::Safe => format!("{}", ghost.octaves.unsigned_abs() * 7 + 1),
                    _ => format!("{}?", ghost.octaves.unsigned_abs() * 7 + 1),
                };
                text(&mut signs, "octaves", x + 3.5, f64::midpoint(from, y) + 3.0, &sign);
            }
        }
        safe.drawn("ghost", into);
        look.drawn("ghost look", into);
        into.push_str(&signs);
    }

    fn breath(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let (start, end) = (seen.start, seen.start + seen.quarters);
        let (full, empty) = (self.full(), self.empty());
        let y = |share: f64| empty - share.clamp(0.0, 1.0) * BREATH;
        let (mut air, mut missing, mut marks) = (Path::default(), Path::default(), Path::default());
        let mut torn = Path::default();
        let lungs = |air: &mut Path, run: &[(f64, f64)]| {
            if let (Some((first, _)), Some((last, _))) = (run.first(), run.last()) {
                air.polygon(&[&[(*first, empty)], run, &[(*last, empty)]].concat());
            }
        };
        let mut run: Vec<(f64, f64)> = Vec::new();
        let mut words = String::new();
        for piece in self.notes[bar].iter().filter_map(|note| self.air_of[*note]) {
            let at = |quarter: f64| {
                piece.has
                    + (piece.left - piece.has) * (quarter - piece.from) / (piece.to - piece.from).max(1e-9)
            };
            let (from, to) = (piece.from.max(start), piece.to.min(end));
            let (x0, x1) = (layout.x(from), layout.x(to));
            let (has, left) = (at(from), at(to));
            // What goes on without a breath is one shape.
            match run.last() {
                Some((x, level)) if (x - x0).abs() < 0.05 && (level - y(has)).abs() < 0.05 => {
                    run.push((x1, y(left)));
                }
                _ => {
                    lungs(&mut air, &run);
                    run = vec![(x0, y(has)), (x1, y(left))];
                }
            }
            if left < -1e-6 {
                // Where the air gives out, below the line.
                let out = if has > 0.0 { x0 + (x1 - x0) * has / (has - left) } else { x0 };
                if has > 0.0 && x1 - out > LEAST_OUT && layout.width - out > 26.0 {
                    text(&mut words, "wait ends", out + 2.0, empty - 4.0, "no air");
                }
                let depth = |share: f64| (-share * BREATH).clamp(0.0, BELOW - 1.0);
                missing.polygon(&[
                    (out, empty),
                    (x1, empty),
                    (x1, empty + depth(left)),
                    (out, empty + depth(has)),
                ]);
            }
        }
        for breath in self.breaths_of[bar].iter().map(|breath| &self.player.breaths[*breath]) {
            let x = layout.x(breath.at);
            // Wide open where a rest is written, on a stalk between two notes, broken where there is no place.
            let (wide, deep) = if breath.room == Room::Written { (3.0, 5.0) } else { (2.6, 7.0) };
            let marks = if breath.room == Room::Torn { &mut torn } else { &mut marks };
            marks.line(&[(x - wide, full - 1.0), (x, full + deep - 1.0), (x + wide, full - 1.0)]);
            if breath.room != Room::Written {
                marks.line(&[(x, full + deep - 1.0), (x, empty)]);
            }
        }
        lungs(&mut air, &run);
        air.drawn("air", into);
        missing.drawn("out", into);
        marks.drawn("breath", into);
        torn.drawn("breath torn", into);
        into.push_str(&words);
    }
}

/// Where the last note of a remark ends.
fn ends(player: &PlayerSeen, flag: &Flag) -> f64 {
    let last = player.notes.partition_point(|note| note.from <= flag.to + 1e-6);
    last.checked_sub(1).map_or(flag.to, |last| player.notes[last].to.max(flag.to))
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

/// What stands above a bar for all.
struct Signs {
    rehearsal: Option<String>,
    tempo: Option<String>,
    beside: String,
    number: usize,
}

impl Signs {
    fn width(&self) -> f64 {
        let mark =
            self.rehearsal.as_ref().map_or(0.0, |mark| 8.0 + 6.5 * mark.chars().count().min(12) as f64);
        let tempo = self.tempo.as_ref().map_or(0.0, |tempo| 6.0 * tempo.chars().count() as f64);
        let beside = 6.0 + 5.0 * self.number as f64 + 5.0 * self.beside.chars().count() as f64;
        (mark + tempo + 2.0).max(beside)
    }

    fn draw(&self, plan: &Plan<'_>, into: &mut String) {
        let mut x = 1.5;
        if let Some(mark) = &self.rehearsal {
            let mark: String = mark.chars().take(12).collect();
            let width = 5.0 + 6.5 * mark.chars().count() as f64;
            let mut frame = Path::default();
            frame.block(0.5, 0.5, width, 11.5);
            frame.drawn("box", into);
            text(into, "mark", 3.0, 10.0, &mark);
            x = width + 4.0;
        }
        if let Some(tempo) = &self.tempo {
            text(into, "tempo", x, 10.0, tempo);
        }
        if !self.beside.is_empty() {
            text(into, "beside", 4.5 + 5.0 * self.number as f64, plan.top() - 2.0, &self.beside);
        }
    }
}

/// A stretch of a note within a bar that swells evenly.
struct Piece {
    from: f64,
    to: f64,
    level: f64,
    until: f64,
}

fn pieces(note: &NoteSeen, start: f64, end: f64) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (index, (from, level, until)) in note.levels.iter().enumerate() {
        let to = note.levels.get(index + 1).map_or(note.to, |(next, ..)| *next);
        let at = |quarter: f64| level + (until - level) * (quarter - from) / (to - from).max(1e-9);
        let (first, last) = (from.max(start), to.min(end));
        if last > first + 1e-9 {
            pieces.push(Piece { from: first, to: last, level: at(first), until: at(last) });
        }
    }
    pieces
}

/// The body of a note: half its thickness where it begins and ends.
struct Body {
    from: f64,
    to: f64,
    front: Option<f64>,
    stroke: Stroke,
}

impl Body {
    fn even(half: f64) -> Body {
        Body { from: half, to: half, front: None, stroke: Stroke::Plain }
    }

    fn outline(&self, x0: f64, x1: f64, y: f64, into: &mut Path) {
        let (from, to) = (self.from, self.to);
        let front = self.front.unwrap_or(from).max(from);
        match self.stroke {
            // Struck and gone: a wedge.
            Stroke::Hit => into.polygon(&[
                (x0, y - front - 1.5),
                (x1.max(x0 + 4.0), y - 0.5),
                (x1.max(x0 + 4.0), y + 0.5),
                (x0, y + front + 1.5),
            ]),
            // A broad front, then the body.
            Stroke::Accented => {
                let neck = (x0 + 3.5).min(x1);
                into.polygon(&[
                    (x0, y - front - 2.0),
                    (neck, y - from),
                    (x1, y - to),
                    (x1, y + to),
                    (neck, y + from),
                    (x0, y + front + 2.0),
                ]);
            }
            Stroke::Plain | Stroke::Short if (from - to).abs() < 1e-9 && self.front.is_none() => {
                into.block(x0, y - from, x1 - x0, 2.0 * from);
            }
            Stroke::Plain | Stroke::Short => {
                into.polygon(&[(x0, y - front), (x1, y - to), (x1, y + to), (x0, y + front)]);
            }
        }
    }
}

/// Half the thickness of a note: each mark a third thicker than the one below, so that steps look alike.
pub(in crate::report) fn thick(level: f64) -> f64 {
    0.7 * 1.34_f64.powf(level - f64::from(Dynamic::Ppp as i32))
}

/// The letters of a level on the scale.
pub(in crate::report) fn letters(level: i32) -> &'static str {
    usize::try_from(level)
        .ok()
        .and_then(|level| Dynamic::ALL.get(level))
        .map_or("", |dynamic| dynamic.letters())
}

/// Stretches of a ground that are alike: lowest, highest, what they are.
fn bands(ground: &Ground) -> Vec<(i32, i32, Rung)> {
    let mut bands: Vec<(i32, i32, Rung)> = Vec::new();
    for rung in &ground.rungs {
        match bands.last_mut() {
            Some((_, to, like)) if (like.footing, like.ceiling) == (rung.footing, rung.ceiling) => {
                *to = rung.midi;
            }
            _ => bands.push((rung.midi, rung.midi, *rung)),
        }
    }
    bands
}

/// The deeper, the less it gives.
pub(in crate::report) fn depth(ceiling: i32) -> &'static str {
    match ceiling - Dynamic::Mf as i32 {
        3.. => "d0",
        2 => "d1",
        1 => "d2",
        0 => "d3",
        _ => "d4",
    }
}

/// Hatching by how a pitch lies: nothing where it is at home.
pub(in crate::report) fn hatch(footing: Footing, top: f64, bottom: f64, width: f64, into: &mut String) {
    let mut lines = Path::default();
    match footing {
        Footing::Usual => {}
        Footing::Beyond => {
            // Dots, wide apart.
            let mut y = top + 3.0;
            while y < bottom {
                lines.line(&[(1.0, y), (2.0, y)]);
                y += 6.0;
            }
        }
        Footing::Extreme => slanted(top, bottom, width, 8.0, &mut lines),
        Footing::Effect => slanted(top, bottom, width, 4.0, &mut lines),
        Footing::Missing => {
            lines.line(&[(0.0, f64::midpoint(top, bottom)), (width, f64::midpoint(top, bottom))]);
        }
    }
    let class = if footing == Footing::Missing { "gap" } else { "hatch" };
    lines.drawn(class, into);
}

/// Lines that rise to the right, cut at top and bottom.
fn slanted(top: f64, bottom: f64, width: f64, apart: f64, lines: &mut Path) {
    let mut at = bottom + width;
    while at > top {
        // From (0, at) up to (width, at − width), within the band.
        let (from, to) = ((at - bottom).max(0.0), (at - top).min(width));
        if to > from {
            lines.line(&[(from, at - from), (to, at - to)]);
        }
        at -= apart;
    }
}

fn in_key(fifths: i8) -> String {
    match fifths {
        0 => "♮".to_owned(),
        sharps if sharps > 0 => format!("{sharps}♯"),
        flats => format!("{}♭", -i32::from(flats)),
    }
}

fn open(into: &mut String, width: f64, class: &str) {
    let class = if class.is_empty() { "bar".to_owned() } else { format!("bar {class}") };
    let _ = write!(into, "<span class=\"{class}\" style=width:{}px><svg aria-hidden=true>", px(width));
}
