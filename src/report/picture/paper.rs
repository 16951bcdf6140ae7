//! Ink for the drawings: numbers, paths and text as short as SVG lets them be, the same on every machine.

use std::fmt::Write as _;

use crate::report::html::clean;

/// A length for SVG: tenths of a pixel are finer than any screen.
pub(in crate::report) fn px(value: f64) -> String {
    number(tenths(value))
}

/// Tenths of a pixel.
pub(super) fn tenths(value: f64) -> i64 {
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
#[derive(Clone, Debug, Default)]
pub(in crate::report) struct Path {
    data: String,
    /// The command that the last numbers follow: one alike need not be named again.
    command: Option<char>,
}

impl Path {
    pub(in crate::report) fn is_empty(&self) -> bool {
        self.data.is_empty()
    }

    /// A polygon through these points.
    pub(in crate::report) fn polygon(&mut self, points: &[(f64, f64)]) {
        self.line(points);
        self.close();
    }

    /// A line through these points.
    pub(in crate::report) fn line(&mut self, points: &[(f64, f64)]) {
        let Some(((x, y), rest)) = points.split_first() else { return };
        let (mut x, mut y) = (tenths(*x), tenths(*y));
        self.step('M', &[x, y]);
        for (to_x, to_y) in rest.iter().map(|(x, y)| (tenths(*x), tenths(*y))) {
            // Steps are shorter than places; counted in tenths, they never drift.
            match (to_x - x, to_y - y) {
                (0, 0) => {}
                (across, 0) => self.step('h', &[across]),
                (0, down) => self.step('v', &[down]),
                (across, down) => self.step('l', &[across, down]),
            }
            (x, y) = (to_x, to_y);
        }
    }

    /// A rectangle.
    pub(in crate::report) fn block(&mut self, x: f64, y: f64, width: f64, height: f64) {
        let (width, height) = (tenths(width), tenths(height));
        self.step('M', &[tenths(x), tenths(y)]);
        self.step('h', &[width]);
        self.step('v', &[height]);
        self.step('h', &[-width]);
        self.close();
    }

    fn close(&mut self) {
        self.data.push('z');
        self.command = None;
    }

    /// A command with its numbers in tenths, by the path grammar of SVG: no zero before the point, nothing between numbers
    /// that cannot be read as one.
    fn step(&mut self, command: char, numbers: &[i64]) {
        // A second pair after `M` would be a line.
        if command == 'M' || self.command != Some(command) {
            self.data.push(command);
        }
        self.command = Some(command);
        for tenths in numbers {
            let number = number(*tenths).replacen("0.", ".", usize::from(tenths.abs() < 10));
            let before = self.data.rfind(|c: char| !c.is_ascii_digit() && c != '.').map_or(0, |at| at + 1);
            let before = &self.data[before..];
            let runs_on = match number.chars().next() {
                Some('-') | None => false,
                Some('.') => !before.is_empty() && !before.contains('.'),
                Some(_) => !before.is_empty(),
            };
            if runs_on {
                self.data.push(' ');
            }
            self.data.push_str(&number);
        }
    }

    /// The element, where there is something to draw.
    pub(in crate::report) fn drawn(&self, class: &str, into: &mut String) {
        if !self.is_empty() {
            let _ = write!(into, "<path class={} d=\"{}\"/>", attribute(class), self.data);
        }
    }
}

/// The value of a `class` attribute: HTML asks for quotes only around more than one word.
fn attribute(class: &str) -> String {
    if class.contains(' ') { format!("\"{class}\"") } else { class.to_owned() }
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
    fn steps_are_as_short_as_the_grammar_of_paths_lets_them_be() {
        // By hand, after "The grammar for path data" of SVG 2 (W3C): numbers part where a sign or a second point begins one.
        let mut path = Path::default();
        path.line(&[(0.5, 0.5), (1.0, 0.7), (1.5, 1.2), (3.5, 3.2), (4.0, 2.7), (14.0, 2.7)]);
        path.line(&[(5.0, 0.5), (5.0, 2.0)]);
        let mut out = String::new();
        path.drawn("n", &mut out);
        assert_eq!(out, "<path class=n d=\"M.5.5l.5.2.5.5 2 2 .5-.5h10M5 .5v1.5\"/>");
    }

    #[test]
    fn no_text_of_a_score_becomes_markup() {
        assert_eq!(escaped("<a href='x'>&\u{1}"), "&lt;a href=&apos;x&apos;&gt;&amp; ");
    }
}
