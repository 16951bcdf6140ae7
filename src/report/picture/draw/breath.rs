//! The breath under the notes: what is left, where it is taken, where it runs out.

use super::super::Room;
use super::super::paper::{Path, text};
use super::{BELOW, BREATH, LEAST_OUT, Layout, Plan, STRAIGHT};

impl Plan<'_> {
    pub(super) fn breath(&self, bar: usize, layout: &Layout, into: &mut String) {
        let seen = &self.picture.bars[bar];
        let (start, end) = (seen.start, seen.start + seen.quarters);
        let (full, empty) = (self.full(), self.empty());
        let y = |share: f64| empty - share.clamp(0.0, 1.0) * BREATH;
        let (mut air, mut missing, mut marks) = (Path::default(), Path::default(), Path::default());
        let mut torn = Path::default();
        let lungs = |air: &mut Path, run: &[(f64, f64)]| {
            if let (Some((first, _)), Some((last, _))) = (run.first(), run.last()) {
                air.polygon(&[&[(*first, empty)], &straightened(run)[..], &[(*last, empty)]].concat());
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

/// A line without the points that lie on it, as near as an eye can tell.
fn straightened(line: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (Some(&first), Some(&last)) = (line.first(), line.last()) else { return Vec::new() };
    let off = |(x, y): (f64, f64)| {
        let share = if last.0 > first.0 { (x - first.0) / (last.0 - first.0) } else { 0.0 };
        (y - (first.1 + (last.1 - first.1) * share)).abs()
    };
    let inner = 1..line.len().saturating_sub(1);
    match inner.max_by(|a, b| off(line[*a]).total_cmp(&off(line[*b]))) {
        Some(far) if off(line[far]) > STRAIGHT => {
            let mut both = straightened(&line[..=far]);
            both.extend(&straightened(&line[far..])[1..]);
            both
        }
        _ => vec![first, last],
    }
}
