//! The notes: as high as they sound, as thick as they are loud, with where a move would take them.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::super::paper::{Path, px, text};
use super::super::{NoteSeen, Stroke};
use super::{HOLD, Layout, Plan};
use crate::finding::Standing;
use crate::music::Dynamic;

impl Plan<'_> {
    pub(super) fn notes(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let (start, end) = (seen.start, seen.start + seen.quarters);
        let (mut solid, mut rim, mut floor, mut unmarked) =
            (Path::default(), Path::default(), Path::default(), Path::default());
        // Most notes are as loud as one mark from end to end: lines, as thick as that.
        let mut even: BTreeMap<i32, Path> = BTreeMap::new();
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
                match piece
                    .mark()
                    .filter(|_| matches!(stroke, Stroke::Plain | Stroke::Short) && attack.is_none())
                {
                    Some(mark) if note.ceiling.is_none_or(|ceiling| f64::from(mark) <= ceiling) => {
                        // Round where the note begins and ends, and nowhere between.
                        let round = (thick(f64::from(mark)) + 0.3).min((x1 - x0) / 2.0 - 0.1).max(0.0);
                        let ends = !runs_on && bound.is_none() && (piece.to - note.to).abs() < 1e-9;
                        let x0 = if front { x0 + round } else { x0 };
                        let x1 = if ends { x1 - round } else { x1 };
                        even.entry(mark).or_default().line(&[(x0, y), (x1, y)]);
                    }
                    _ => body.outline(x0, x1, y, &mut solid),
                }
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
        for (mark, notes) in even {
            notes.drawn(&format!("t{mark}"), into);
        }
        into.push_str(&words);
        self.levels(bar, layout, into);
    }

    /// Dynamics where they are new.
    pub(super) fn levels(&self, bar: usize, layout: &Layout, into: &mut String) {
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

    pub(super) fn ghosts(&self, bar: usize, layout: &Layout, into: &mut String) {
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
}

/// A stretch of a note within a bar that swells evenly.
struct Piece {
    from: f64,
    to: f64,
    level: f64,
    until: f64,
}

impl Piece {
    /// The mark on the scale of dynamics that it has from end to end.
    fn mark(&self) -> Option<i32> {
        let mark = self.level.round();
        let is_even = (self.level - mark).abs() < 1e-9 && (self.until - mark).abs() < 1e-9;
        let mark = mark as i32;
        (is_even && !letters(mark).is_empty()).then_some(mark)
    }
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

/// What the style sheet has to know of lines as thick as a dynamic.
pub(in crate::report) fn thicknesses() -> String {
    (0..Dynamic::ALL.len() as i32).fold(String::new(), |mut style, mark| {
        // As thick as the outline of a note with its rim.
        let width = px(2.0 * thick(f64::from(mark)) + 0.6);
        let _ = write!(
            style,
            ".t{mark}{{stroke:var(--metal);stroke-width:{width}px!important;stroke-linecap:round}}"
        );
        style
    })
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
