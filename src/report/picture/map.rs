//! The cue as a map: all low-brass parts under each other on one axis of time.

use std::fmt::Write as _;

use super::draw::{Flag, thick};
use super::paper::{Path, escaped, px};
use super::see::whole_number;
use super::{Picture, PlayerSeen};
use crate::report::contract::Level;

/// A row of the map.
pub(in crate::report) struct Row<'a> {
    /// What it is called.
    pub(in crate::report) name: String,
    /// Where a click on it leads.
    pub(in crate::report) anchor: String,
    /// Its players; several stand in one row.
    pub(in crate::report) players: Vec<&'a PlayerSeen>,
    pub(in crate::report) flags: Vec<Flag>,
}

/// Pixels of a row.
const HEIGHT: f64 = 34.0;
/// Pieces that the time is cut into.
const PIECES: usize = 180;
/// Signs of a row: so many places are told apart.
const PLACES: f64 = 60.0;

/// Pixels of height that nobody tells apart.
const ALIKE: f64 = 0.3;

/// Draws the map.
pub(in crate::report) fn map(picture: &Picture, rows: &[Row<'_>]) -> String {
    let mut out = String::new();
    let whole = picture.seconds.max(1e-6);
    let per_cent = |seconds: f64| px((seconds / whole).clamp(0.0, 1.0) * 1000.0 / 10.0);
    let _ = write!(
        out,
        "<div class=\"row axis\"><span></span><svg height=\"28\" width=\"100%\" aria-hidden=\"true\">"
    );
    axis(picture, whole, &per_cent, &mut out);
    out.push_str("</svg></div>");
    let heights =
        rows.iter().flat_map(|row| &row.players).flat_map(|player| &player.notes).map(|note| note.midi);
    let (lowest, highest) =
        heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), midi| (low.min(midi), high.max(midi)));
    for row in rows {
        let _ = write!(
            out,
            "<div class=\"row\"><a href=\"#{}\">{}</a><svg height=\"{HEIGHT}\" width=\"100%\" role=\"group\" \
             aria-label=\"{}\"><svg viewBox=\"0 0 {PIECES} {HEIGHT}\" preserveAspectRatio=\"none\" \
             width=\"100%\" height=\"{HEIGHT}\" aria-hidden=\"true\">",
            row.anchor,
            escaped(&row.name),
            escaped(&format!("{}: where its remarks are", row.name)),
        );
        let mut body = Path::default();
        for player in &row.players {
            shape(picture, player, whole, (lowest, highest), &mut body);
        }
        let mut ground = Path::default();
        ground.line(&[(0.0, HEIGHT - 0.5), (PIECES as f64, HEIGHT - 0.5)]);
        ground.drawn("frame", &mut out);
        body.drawn("tone", &mut out);
        out.push_str("</svg>");
        signs(picture, row, whole, &per_cent, &mut out);
        out.push_str("</svg></div>");
    }
    out
}

/// A player's notes as one body: high and low, loud and soft.
fn shape(picture: &Picture, player: &PlayerSeen, whole: f64, (lowest, highest): (f64, f64), body: &mut Path) {
    #[derive(Clone, Copy, Default)]
    struct Piece {
        sounds: f64,
        height: f64,
        level: f64,
    }
    let mut pieces = vec![Piece::default(); PIECES];
    let wide = whole / PIECES as f64;
    for note in &player.notes {
        let (start, end) = (seconds_at(picture, note.from), seconds_at(picture, note.to));
        let level = note.levels.iter().map(|(_, level, until)| level.max(*until)).fold(0.0, f64::max);
        let (first, last) = (whole_number(start / wide), whole_number((end - 1e-9) / wide));
        for (index, piece) in pieces.iter_mut().enumerate().take(last + 1).skip(first) {
            let (from, to) = (index as f64 * wide, (index + 1) as f64 * wide);
            let sounds = (end.min(to) - start.max(from)).max(0.0);
            piece.sounds += sounds;
            piece.height += sounds * note.midi;
            piece.level = piece.level.max(if level > 0.0 { level } else { 7.0 });
        }
    }
    // Neighbours that look alike are one block.
    let mut drawn: Option<(f64, f64, f64, f64)> = None;
    for (index, piece) in pieces.iter().enumerate().filter(|(_, piece)| piece.sounds > 0.0) {
        let height = (piece.height / piece.sounds - lowest) / (highest - lowest).max(1.0);
        let y = HEIGHT - 8.0 - height * (HEIGHT - 16.0);
        let half = thick(piece.level);
        let (x, width) = (index as f64, (piece.sounds / wide).clamp(0.3, 1.0));
        match &mut drawn {
            Some((from, long, top, thickness))
                if (*from + *long - x).abs() < 1e-9
                    && (*top - (y - half)).abs() < ALIKE
                    && (*thickness - 2.0 * half).abs() < ALIKE =>
            {
                *long += width;
            }
            _ => {
                if let Some((x, y, width, height)) = drawn.replace((x, y - half, width, 2.0 * half)) {
                    body.block(x, y, width, height);
                }
            }
        }
    }
    if let Some((x, y, width, height)) = drawn {
        body.block(x, y, width, height);
    }
}

/// Seconds at a quarter, even within its bar.
pub(super) fn seconds_at(picture: &Picture, quarter: f64) -> f64 {
    let Some(bar) = picture.bars.get(picture.bar_at(quarter)) else { return 0.0 };
    let end = picture.bars.get(picture.bar_at(quarter) + 1).map_or(picture.seconds, |next| next.begins);
    let share = ((quarter - bar.start) / bar.quarters.max(1e-9)).clamp(0.0, 1.0);
    bar.begins + (end - bar.begins) * share
}

fn axis(picture: &Picture, whole: f64, per_cent: &dyn Fn(f64) -> String, out: &mut String) {
    let mut free = f64::NEG_INFINITY;
    for bar in picture.bars.iter().filter(|bar| bar.rehearsal.is_some()) {
        let mark = bar.rehearsal.as_deref().unwrap_or_default();
        if bar.begins < free {
            continue;
        }
        free = bar.begins + whole * 0.012 * (mark.chars().count() as f64 + 1.5);
        let _ = write!(
            out,
            "<text class=\"mark\" x=\"{}%\" y=\"11\">{}</text>",
            per_cent(bar.begins),
            escaped(mark)
        );
    }
    // About ten numbers, at round bars.
    let step = [1, 2, 4, 5, 8, 10, 16, 20, 25, 40, 50, 100, 200, 500];
    let step = step.into_iter().find(|step| picture.bars.len() / step <= 12).unwrap_or(1000);
    let mut free = f64::NEG_INFINITY;
    for (index, bar) in picture.bars.iter().enumerate() {
        let is_round = bar.number.parse::<usize>().is_ok_and(|number| number % step == 0 || index == 0);
        if is_round && bar.begins >= free && bar.begins < whole * 0.97 {
            free = bar.begins + whole * 0.06;
            let _ = write!(
                out,
                "<text class=\"no\" x=\"{}%\" y=\"25\">{}</text>",
                per_cent(bar.begins),
                escaped(&bar.number)
            );
        }
    }
}

/// One sign for the worst remark of each place.
fn signs(picture: &Picture, row: &Row<'_>, whole: f64, per_cent: &dyn Fn(f64) -> String, out: &mut String) {
    let place = |flag: &Flag| (seconds_at(picture, flag.from) / whole * PLACES) as i64;
    let mut worst: Vec<&Flag> = Vec::new();
    for flag in row.flags.iter().filter(|flag| !flag.waived) {
        match worst.iter_mut().find(|known| place(known) == place(flag)) {
            Some(known) if known.level < flag.level => *known = flag,
            Some(_) => {}
            None => worst.push(flag),
        }
    }
    worst.sort_by_key(|flag| flag.level);
    for flag in worst {
        let sign = match flag.level {
            Level::Error => "<path d=\"M-5-5h10v10h-10z\"/>",
            Level::Warning => "<path d=\"M0-6l6 11h-12z\"/>",
            Level::Note => "<circle r=\"3.5\"/>",
        };
        let _ = write!(
            out,
            "<a href=\"#{}\" class=\"sign {} {}\" tabindex=\"-1\" aria-label=\"{}\"><svg x=\"{}%\" y=\"8\" \
             overflow=\"visible\">{sign}</svg></a>",
            flag.id,
            flag.level.word(),
            flag.rule,
            escaped(&flag.label),
            per_cent(seconds_at(picture, flag.from)),
        );
    }
}
