//! Repeats, endings and jumps played out, with a bound that no score can pass.
//!
//! In come the marks of each written bar, gathered over all parts; out comes the order of performance.
//! Everything counts by whole bars: a jump in mid-bar acts at the bar's end, a sign at the bar's start.

use crate::score::PerformanceOrder;

/// What stands in or at the lines of one written bar and bears on the order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)] // Independent marks of the page.
pub(super) struct BarMarks {
    /// A repeat begins here: `repeat direction="forward"` at its left line, or `sound forward-repeat="yes"`.
    pub(super) repeat_from: bool,
    /// `repeat direction="backward"` at its right line.
    pub(super) repeat_back: Option<RepeatBack>,
    /// `ending type="start"`: the numbers of the ending that begins here.
    pub(super) ending_start: Option<Vec<u32>>,
    /// `ending type="stop"` or `"discontinue"` at its right line.
    pub(super) ending_stop: bool,
    /// Names of segno signs here (`sound segno`, or a sign without a name: "").
    pub(super) segno: Vec<String>,
    /// Names of coda signs here.
    pub(super) coda: Vec<String>,
    /// `sound fine`, or "Fine" in words.
    pub(super) fine: bool,
    /// `sound dacapo`, or "D.C.".
    pub(super) dacapo: bool,
    /// `sound dalsegno` with its name, or "D.S.".
    pub(super) dalsegno: Option<String>,
    /// `sound tocoda` with its name, or "To Coda".
    pub(super) tocoda: Option<String>,
}

/// A backward repeat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct RepeatBack {
    /// How often the passage is played in all (`times`; 2 where it is not given).
    pub(super) times: u32,
    /// Whether it is taken again after a da capo or dal segno.
    pub(super) after_jump: bool,
}

/// The numbers of an `ending`: "1", "1, 2", "1-3", "1.2."; empty where the text holds none.
pub(super) fn ending_numbers(_text: &str) -> Vec<u32> {
    Vec::new()
}

/// The order in which the bars are played, and whether the marks could not be followed (then it is straight
/// through: [`OddityKind::OrderUnusable`](crate::score::OddityKind::OrderUnusable)).
pub(super) fn play_out(bars: &[BarMarks]) -> (PerformanceOrder, bool) {
    (PerformanceOrder::straight(u32::try_from(bars.len()).unwrap_or(u32::MAX)), false)
}
