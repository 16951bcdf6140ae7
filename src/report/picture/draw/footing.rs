//! What a part stands on: how deep and how sure each pitch of the instrument is, and the bell that begins a line.

use std::fmt::Write as _;

use super::super::paper::{Path, px, text};
use super::super::{Footing, Ground, Rung};
use super::{BELL, Plan, letters};
use crate::music::Dynamic;

impl Plan<'_> {
    pub(super) fn grounds(&self) -> Vec<usize> {
        let mut grounds: Vec<usize> = Vec::new();
        for (_, ground) in &self.player.stands_on {
            if !grounds.contains(ground) {
                grounds.push(*ground);
            }
        }
        grounds
    }

    pub(super) fn patterns(&self) -> String {
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
    pub(super) fn column(&self, ground: &Ground, width: f64, into: &mut String) {
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
    pub(super) fn bell(&self, ground: usize, into: &mut String) {
        let Some(ground) = self.picture.grounds.get(ground) else { return };
        self.open(BELL, "bell", into);
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
    pub(super) fn paper(&self, width: f64, into: &mut String) {
        let mut paper = Path::default();
        paper.block(0.0, self.top(), width, self.music());
        paper.drawn("paper", into);
    }
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
