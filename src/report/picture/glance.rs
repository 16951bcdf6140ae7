//! The part at a glance: how much there is to play, in which register how loud, when, and where it stands in the section.

use std::fmt::Write as _;

use super::draw::letters;
use super::paper::{Path, escaped, px};
use super::{Load, Picture, PlayerSeen, ground};
use crate::music::Dynamic;
use crate::report::phrases;

/// Columns of the table-picture: what is softer or louder stands in the outermost.
const SOFTEST: i32 = Dynamic::Pp as i32;
const LOUDEST: i32 = Dynamic::Ff as i32;
/// Pixels of its cells.
const CELL: f64 = 26.0;
const ROW: f64 = 22.0;

/// Draws it.
pub(in crate::report) fn glance(picture: &Picture, player: &PlayerSeen) -> String {
    let load = &player.load;
    if player.notes.is_empty() {
        return String::new();
    }
    let mut out = String::from("<div class=\"glance\"><dl>");
    let mut fact = |what: &str, value: &str| {
        let _ = write!(out, "<div><dt>{what}</dt><dd>{value}</dd></div>");
    };
    fact("plays", &format!("{} of {}", clock(load.plays), clock(load.whole)));
    fact(&format!("{} and louder", load.loud_from), &clock(load.loud));
    if load.high > 0.0 {
        fact("above the usual span", &clock(load.high));
    }
    if let Some((seconds, from, to)) = load.longest {
        let bar = |index: usize| picture.bars.get(index).map_or("", |bar| bar.number.as_str());
        let bars = phrases::bars(bar(from), bar(to));
        fact("longest without a rest", &format!("{}, {}", clock(seconds), escaped(&bars)));
    }
    out.push_str("</dl>");
    registers(load, &mut out);
    times(load, &mut out);
    section(picture, player, &mut out);
    out.push_str("</div>");
    out
}

/// Minutes and seconds: "2:05".
pub(in crate::report) fn clock(seconds: f64) -> String {
    let seconds = seconds.round() as i64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// Register by dynamic: a square for each, as large as its share of the playing time.
fn registers(load: &Load, out: &mut String) {
    let octaves: Vec<i32> = load.cells.iter().map(|(octave, ..)| *octave).collect();
    let (Some(lowest), Some(highest)) = (octaves.iter().min(), octaves.iter().max()) else { return };
    let columns = SOFTEST..=LOUDEST;
    let share = |octave: i32, column: i32| -> f64 {
        let held = |level: i32| if level < 0 { Dynamic::Mf as i32 } else { level.clamp(SOFTEST, LOUDEST) };
        let own = load.cells.iter().filter(|(own, level, _)| *own == octave && held(*level) == column);
        own.map(|(.., seconds)| seconds).sum::<f64>() / load.plays.max(1e-9)
    };
    let rows = f64::from(highest - lowest + 1);
    let (width, height) = (30.0 + CELL * columns.clone().count() as f64, ROW * rows + 14.0);
    let mut said = Vec::new();
    let mut body = String::new();
    let (mut squares, mut grid) = (Path::default(), Path::default());
    for octave in *lowest..=*highest {
        let top = f64::from(highest - octave) * ROW;
        let name = format!("{}–{}", ground::name(12 * (octave + 1)), ground::name(12 * (octave + 1) + 11));
        let _ = write!(
            body,
            "<text class=\"no\" x=\"0\" y=\"{}\">{}</text>",
            px(top + 14.0),
            ground::name(12 * (octave + 1))
        );
        for (index, column) in columns.clone().enumerate() {
            let share = share(octave, column);
            let x = 30.0 + CELL * index as f64;
            grid.block(x, top, CELL, ROW);
            if share > 0.0 {
                let side = (share.sqrt() * (ROW - 2.0)).max(1.5);
                squares.block(x + (CELL - side) / 2.0, top + (ROW - side) / 2.0, side, side);
            }
            if share >= 0.01 {
                said.push(format!("{name} {}: {:.0} %", letters(column), share * 100.0));
            }
        }
    }
    for (index, column) in columns.enumerate() {
        let x = 30.0 + CELL * (index as f64 + 0.5);
        let _ = write!(
            body,
            "<text class=\"level\" text-anchor=\"middle\" x=\"{}\" y=\"{}\">{}</text>",
            px(x),
            px(height - 2.0),
            letters(column)
        );
    }
    grid.drawn("grid", &mut body);
    squares.drawn("tone", &mut body);
    figure("Register by loudness", &said.join(", "), width, height, &body, out);
}

/// How the work lies in time: what sounds, and of it what is loud.
fn times(load: &Load, out: &mut String) {
    if load.stretches.is_empty() {
        return;
    }
    let (wide, high) = (6.0, 44.0);
    let (mut whole, mut dark, mut grid) = (Path::default(), Path::default(), Path::default());
    for (index, (plays, is_loud)) in load.stretches.iter().enumerate() {
        let x = index as f64 * wide;
        let of = |seconds: f64| (seconds / load.stretch).min(1.0) * high;
        whole.block(x + 0.5, high - of(*plays), wide - 1.0, of(*plays));
        if *is_loud > 0.0 {
            dark.block(x + 0.5, high - of(*is_loud), wide - 1.0, of(*is_loud));
        }
    }
    let width = (load.stretches.len() as f64 * wide).max(90.0);
    grid.line(&[(0.0, high), (width, high)]);
    grid.line(&[(0.0, 0.0), (width, 0.0)]);
    let mut body = String::new();
    whole.drawn("plays", &mut body);
    dark.drawn("tone", &mut body);
    grid.drawn("frame", &mut body);
    let said = format!(
        "in the busiest {:.0} s it sounds {:.0} %",
        load.stretch,
        load.stretches.iter().map(|(plays, _)| plays / load.stretch * 100.0).fold(0.0, f64::max).min(100.0)
    );
    let title = format!("In time: a column is {:.0} s, dark is {} and louder", load.stretch, load.loud_from);
    figure(&title, &said, width, high + 2.0, &body, out);
}

/// Its compass among the others, lowest to highest and where half of its time lies.
fn section(picture: &Picture, player: &PlayerSeen, out: &mut String) {
    let players: Vec<&PlayerSeen> = picture.players.iter().filter(|other| !other.notes.is_empty()).collect();
    if players.len() < 2 {
        return;
    }
    let spans: Vec<(f64, f64, f64, f64)> = players.iter().map(|player| span(player)).collect();
    let lowest = spans.iter().map(|span| span.0).fold(f64::INFINITY, f64::min);
    let highest = spans.iter().map(|span| span.3).fold(f64::NEG_INFINITY, f64::max);
    let (width, wide) = (150.0, 150.0 / (highest - lowest).max(1.0));
    let x = |midi: f64| (midi - lowest) * wide;
    let (mut own, mut others, mut grid) = (Path::default(), Path::default(), Path::default());
    let height = players.len() as f64 * 8.0 + 12.0;
    for (index, (other, (low, quarter, three, high))) in players.iter().zip(&spans).enumerate() {
        let y = index as f64 * 8.0 + 4.0;
        let path = if std::ptr::eq(*other, player) { &mut own } else { &mut others };
        path.block(x(*low), y - 0.6, (x(*high) - x(*low)).max(1.0), 1.2);
        path.block(x(*quarter), y - 2.6, (x(*three) - x(*quarter)).max(1.5), 5.2);
    }
    let mut body = String::new();
    for midi in (lowest as i32..=highest as i32).filter(|midi| midi % 12 == 0) {
        grid.line(&[(x(f64::from(midi)), 0.0), (x(f64::from(midi)), height - 12.0)]);
        let _ = write!(
            body,
            "<text class=\"no\" text-anchor=\"middle\" x=\"{}\" y=\"{}\">{}</text>",
            px(x(f64::from(midi)).clamp(6.0, width - 6.0)),
            px(height - 2.0),
            ground::name(midi)
        );
    }
    grid.drawn("octave", &mut body);
    others.drawn("plays", &mut body);
    own.drawn("tone", &mut body);
    let place = 1 + spans
        .iter()
        .filter(|span| {
            span.1 + span.2 < spans[index_of(&players, player)].1 + spans[index_of(&players, player)].2
        })
        .count();
    let said = format!("number {place} of {} from below", players.len());
    figure("In the section: compass, and where half of its time lies", &said, width, height, &body, out);
}

fn index_of(players: &[&PlayerSeen], player: &PlayerSeen) -> usize {
    players.iter().position(|other| std::ptr::eq(*other, player)).unwrap_or(0)
}

/// Lowest note, the quarter and three quarters of its time, highest note.
fn span(player: &PlayerSeen) -> (f64, f64, f64, f64) {
    let mut notes: Vec<(f64, f64)> = player.notes.iter().map(|note| (note.midi, note.seconds)).collect();
    notes.sort_by(|one, other| one.0.total_cmp(&other.0));
    let whole: f64 = notes.iter().map(|(_, seconds)| seconds).sum();
    let at = |share: f64| {
        let mut before = 0.0;
        let found = notes.iter().find(|(_, seconds)| {
            before += seconds;
            before >= whole * share
        });
        found.or(notes.last()).map_or(0.0, |(midi, _)| *midi)
    };
    (at(0.0), at(0.25), at(0.75), notes.last().map_or(0.0, |(midi, _)| *midi))
}

fn figure(title: &str, said: &str, width: f64, height: f64, body: &str, out: &mut String) {
    let _ = write!(
        out,
        "<figure><svg role=\"img\" aria-label=\"{}\" viewBox=\"-2 -2 {w} {h}\" width=\"{w}\" height=\"{h}\">{body}</svg>\
         <figcaption>{}</figcaption></figure>",
        escaped(&format!("{title}: {said}")),
        escaped(title),
        w = px(width + 4.0),
        h = px(height + 4.0),
    );
}
