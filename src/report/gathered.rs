//! Like remarks put together: said once, with all the places they hold for.

use super::contract::{At, Finding, OctaveMove, Standing};
use super::phrases;

/// Of gathered remarks so many bars are listed.
const MOST_BARS: usize = 8;

/// Findings of one part that say the same, in score order.
pub(super) struct Gathered<'a> {
    /// One at least.
    pub(super) findings: Vec<&'a Finding>,
}

impl Gathered<'_> {
    /// The one its words are taken from: of like ones the longest. What it says of a doubling or of the page
    /// is kept only where all say it.
    pub(super) fn spokesman(&self) -> Finding {
        let length = |finding: &Finding| finding.seconds.map(|seconds| (seconds * 1000.0) as i64);
        let mut worst = self.findings[0];
        for finding in &self.findings {
            if length(finding) > length(worst) {
                worst = finding;
            }
        }
        let mut worst = worst.clone();
        if let Some(offered) = &mut worst.octave_move {
            let all = |alike: &dyn Fn(&OctaveMove) -> bool| {
                self.findings.iter().all(|other| other.octave_move.as_ref().is_some_and(alike))
            };
            if !all(&|other| other.doubling == offered.doubling) {
                offered.doubling = None;
            }
            if !all(&|other| other.layout == offered.layout) {
                offered.layout = None;
            }
        }
        worst
    }

    /// Whether these are cured by the very moves of those, in place and way.
    pub(super) fn moves_as(&self, other: &Gathered<'_>) -> bool {
        let moves = |like: &Gathered<'_>| -> Vec<Option<(At, At, i32, Standing)>> {
            let of = |offered: &OctaveMove| {
                (offered.from.clone(), offered.to.clone(), offered.octaves, offered.standing)
            };
            like.findings.iter().map(|finding| finding.octave_move.as_ref().map(of)).collect()
        };
        let (mine, theirs) = (moves(self), moves(other));
        mine == theirs
            && mine.iter().flatten().any(|(_, _, _, standing)| *standing != Standing::Manual)
            && self.places() == other.places()
    }

    /// "bar 12, beat 3" of one; "bars 12–13, 40 and 3 more" of several.
    pub(super) fn places(&self) -> String {
        if let [one] = self.findings.as_slice() {
            return phrases::where_it_stands(one);
        }
        let mut bars: Vec<String> =
            self.findings.iter().map(|finding| phrases::bars_alone(finding)).collect();
        bars.dedup();
        let more = bars.len().saturating_sub(MOST_BARS);
        if more > 1 {
            return format!("bars {} and {more} more", bars[..MOST_BARS].join(", "));
        }
        match bars.as_slice() {
            [one] if !one.contains('–') => format!("bar {one}, {}", phrases::times(self.findings.len())),
            bars => {
                format!("bars {}", phrases::listed(&bars.iter().map(String::as_str).collect::<Vec<_>>()))
            }
        }
    }
}

/// Puts together what says the same of the same note, asked the same way, with the same cure.
pub(super) fn gather<'a>(findings: &[&'a Finding]) -> Vec<Gathered<'a>> {
    let mut gathered: Vec<Gathered<'a>> = Vec::new();
    for &finding in findings {
        match gathered.iter_mut().find(|like| is_like(like.findings[0], finding)) {
            Some(like) => like.findings.push(finding),
            None => gathered.push(Gathered { findings: vec![finding] }),
        }
    }
    gathered
}

fn is_like(one: &Finding, other: &Finding) -> bool {
    let cure = |finding: &Finding| {
        finding.octave_move.as_ref().map(|offered| {
            (offered.octaves, offered.standing, offered.leaves.clone(), offered.why_not_safe.clone())
        })
    };
    one.rule == other.rule
        && one.severity == other.severity
        && one.sounding.is_some()
        && one.sounding == other.sounding
        && one.dynamic == other.dynamic
        && one.pass == other.pass
        && one.waived == other.waived
        && phrases::has_place(one)
        && phrases::has_place(other)
        && cure(one) == cure(other)
}
