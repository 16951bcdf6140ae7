//! Ink for the drawings: numbers, paths and text as short as SVG lets them be, the same on every machine.

use std::fmt::Write as _;

use crate::report::html::clean;

/// A length for SVG: tenths of a pixel are finer than any screen.
pub(in crate::report) fn px(value: f64) -> String {
    number(tenths(value))
}

fn tenths(value: f64) -> i64 {
    (value * 10.0).round() as i64
}

fn number(tenths: i64) -> String {
    match tenths % 10 {
        0 => (tenths / 10).to_string(),
        tenth => {
            let sign = if tenths < 0 { "-" } else { "" };
            format!("{sign}{}.{}", (tenths / 10).abs(), tenth.abs())
        }
    }
}

/// Text of a score as text of the page, and nothing else.
pub(in crate::report) fn escaped(text: &str) -> String {
    quick_xml::escape::escape(clean(text)).into_owned()
}

/// A path, drawn in steps.
#[derive(Debug, Default)]
pub(in crate::report) struct Path(String);

impl Path {
    pub(in crate::report) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// A polygon through these points.
    pub(in crate::report) fn polygon(&mut self, points: &[(f64, f64)]) {
        self.line(points);
        self.0.push('z');
    }

    /// A line through these points.
    pub(in crate::report) fn line(&mut self, points: &[(f64, f64)]) {
        let Some(((x, y), rest)) = points.split_first() else { return };
        let _ = write!(self.0, "M{}", pair(*x, *y));
        let (mut x, mut y) = (tenths(*x), tenths(*y));
        for (to_x, to_y) in rest.iter().map(|(x, y)| (tenths(*x), tenths(*y))) {
            // Steps are shorter than places; counted in tenths, they never drift.
            let step = match (to_x - x, to_y - y) {
                (0, 0) => String::new(),
                (across, 0) => format!("h{}", number(across)),
                (0, down) => format!("v{}", number(down)),
                (across, down) => format!("l{}", joined(&number(across), &number(down))),
            };
            self.0.push_str(&step);
            (x, y) = (to_x, to_y);
        }
    }

    /// A rectangle.
    pub(in crate::report) fn block(&mut self, x: f64, y: f64, width: f64, height: f64) {
        let (width, height) = (px(width), px(height));
        let _ = write!(self.0, "M{}h{width}v{height}h{}z", pair(x, y), negative(&width));
    }

    /// The element, where there is something to draw.
    pub(in crate::report) fn drawn(&self, class: &str, into: &mut String) {
        if !self.is_empty() {
            let _ = write!(into, "<path class={} d=\"{}\"/>", attribute(class), self.0);
        }
    }
}

/// The value of a `class` attribute: HTML asks for quotes only around more than one word.
fn attribute(class: &str) -> String {
    if class.contains(' ') { format!("\"{class}\"") } else { class.to_owned() }
}

fn pair(x: f64, y: f64) -> String {
    joined(&px(x), &px(y))
}

fn joined(x: &str, y: &str) -> String {
    if y.starts_with('-') { format!("{x}{y}") } else { format!("{x},{y}") }
}

fn negative(number: &str) -> String {
    number.strip_prefix('-').map_or_else(|| format!("-{number}"), str::to_owned)
}

/// Text at a place.
pub(super) fn text(into: &mut String, class: &str, x: f64, y: f64, words: &str) {
    let _ =
        write!(into, "<text class={} x={} y={}>{}</text>", attribute(class), px(x), px(y), escaped(words));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_minus_nothing() {
        let cases = [(0.0, "0"), (-0.04, "0"), (2.0, "2"), (-2.25, "-2.3"), (-0.5, "-0.5"), (12.34, "12.3")];
        for (value, said) in cases {
            assert_eq!(px(value), said);
        }
    }

    #[test]
    fn a_block_is_drawn_in_steps() {
        let mut path = Path::default();
        path.block(1.0, -2.0, 3.5, 4.0);
        let mut out = String::new();
        path.drawn("n", &mut out);
        assert_eq!(out, "<path class=n d=\"M1-2h3.5v4h-3.5z\"/>");
    }

    #[test]
    fn no_text_of_a_score_becomes_markup() {
        assert_eq!(escaped("<a href='x'>&\u{1}"), "&lt;a href=&apos;x&apos;&gt;&amp; ");
    }
}
