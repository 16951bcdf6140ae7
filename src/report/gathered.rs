//! Like remarks put together: said once, with all the places they hold for.

use super::contract::{At, Finding, OctaveMove, Standing};
use super::phrases;

/// Of gathered remarks so many bars are listed, of folded ones so many.
const MOST_BARS: usize = 8;
const MOST_FOLDED_BARS: usize = 24;

/// A part with more remarks has those of one rule folded where they are more than `FEW`.
const MANY: usize = 12;
const FEW: usize = 3;

/// Findings of one part that say the same, in score order.
#[derive(Clone)]
pub(super) struct Gathered<'a> {
    /// One at least.
    pub(super) findings: Vec<&'a Finding>,
    /// Findings of the same rule and weight that are not spelled out, in score order.
    pub(super) folded: Vec<&'a Finding>,
    /// Other parts of which the very same is to be said, at the same places.
    pub(super) too: Vec<String>,
}

impl Gathered<'_> {
    /// What is not spelled out: "21 more like it, A#0 to F2: bars 3, 6–7 and 9."
    pub(super) fn more(&self) -> Option<String> {
        if self.folded.is_empty() {
            return None;
        }
        let sounding =
            self.folded.iter().filter_map(|finding| Some((finding.midi?, finding.sounding.as_ref()?)));
        let mut sounding: Vec<(f64, &String)> = sounding.collect();
        sounding.sort_by(|(one, _), (other, _)| one.total_cmp(other));
        let pitches = match (sounding.first(), sounding.last()) {
            (Some((_, lowest)), Some((_, highest))) if lowest == highest => format!(", {lowest}"),
            (Some((_, lowest)), Some((_, highest))) => format!(", {lowest} to {highest}"),
            _ => String::new(),
        };
        let bars = bars_of(&self.folded);
        let bars = match bars.len().saturating_sub(MOST_FOLDED_BARS) {
            0 | 1 => phrases::listed(&bars.iter().map(String::as_str).collect::<Vec<_>>()),
            more => format!("{} and {more} more places", bars[..MOST_FOLDED_BARS].join(", ")),
        };
        let movable = self.folded.iter().filter_map(|finding| finding.octave_move.as_ref());
        let movable = movable.filter(|offered| offered.standing != Standing::Manual).count();
        let moves = match movable {
            0 => String::new(),
            1 => " One of them has an octave move (--diff).".to_owned(),
            movable => format!(" {movable} of them have octave moves (--diff)."),
        };
        Some(format!(
            "{} more like it{pitches}: bars {bars}.{moves} --all spells them out.",
            self.folded.len()
        ))
    }

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

    /// Whether these are the very same words about the same places as those, of another part.
    fn says_the_same_as(&self, other: &Gathered<'_>) -> bool {
        let (one, another) = (self.findings[0], other.findings[0]);
        is_like(one, another)
            && self.findings.len() == other.findings.len()
            // Not by their words, which name the first bars alone.
            && self.findings.iter().zip(&other.findings).all(|(a, b)| phrases::ends(a) == phrases::ends(b))
            && phrases::what_to_do(&self.spokesman(), false) == phrases::what_to_do(&other.spokesman(), false)
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
        let bars = bars_of(&self.findings);
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

fn bars_of(findings: &[&Finding]) -> Vec<String> {
    let mut bars: Vec<String> = findings.iter().map(|finding| phrases::bars_alone(finding)).collect();
    bars.dedup();
    bars
}

/// Of the many remarks of a part, one of each rule and weight is left to be spelled out, the one that holds
/// for most places and notes; it takes the others with it. A few stay as they are.
pub(super) fn folded(gathered: Vec<Gathered<'_>>) -> Vec<Gathered<'_>> {
    if gathered.len() <= MANY {
        return gathered;
    }
    let is_of = |one: &Gathered<'_>, other: &Gathered<'_>| {
        let alike = one.too == other.too;
        let (one, other) = (one.findings[0], other.findings[0]);
        alike && one.rule == other.rule && one.severity == other.severity && one.waived == other.waived
    };
    let size = |like: &Gathered<'_>| {
        (like.findings.len(), like.findings.iter().map(|finding| finding.span.notes).sum::<u32>())
    };
    let mut kept: Vec<Gathered<'_>> = Vec::new();
    for like in &gathered {
        if kept.iter().any(|known| is_of(known, like)) {
            continue;
        }
        let kind: Vec<&Gathered<'_>> = gathered.iter().filter(|other| is_of(other, like)).collect();
        if kind.len() <= FEW || !kind.iter().all(|like| phrases::has_place(like.findings[0])) {
            kept.extend(kind.into_iter().cloned());
            continue;
        }
        // Of equals the first.
        let Some(speaks) = kind.iter().rev().max_by_key(|like| size(like)) else { continue };
        let mut rest: Vec<&Finding> = kind
            .iter()
            .filter(|other| !std::ptr::eq(**other, *speaks))
            .flat_map(|other| other.findings.iter().copied())
            .collect();
        rest.sort_by_key(|finding| finding.bar_index);
        kept.push(Gathered { findings: speaks.findings.clone(), folded: rest, too: speaks.too.clone() });
    }
    let first = |like: &Gathered<'_>| {
        gathered.iter().position(|other| std::ptr::eq(other.findings[0], like.findings[0]))
    };
    kept.sort_by_key(first);
    kept
}

/// Puts together what says the same of the same note, asked the same way, with the same cure.
pub(super) fn gather<'a>(findings: &[&'a Finding]) -> Vec<Gathered<'a>> {
    let mut gathered: Vec<Gathered<'a>> = Vec::new();
    for &finding in findings {
        match gathered.iter_mut().find(|like| is_like(like.findings[0], finding)) {
            Some(like) => like.findings.push(finding),
            None => gathered.push(Gathered { findings: vec![finding], folded: Vec::new(), too: Vec::new() }),
        }
    }
    gathered
}

/// Of several parts, each with its name, what is said of more than one in the very same words at the same places is left with
/// the first, which names the others.
pub(super) fn said_once<'a>(parts: Vec<(String, Vec<Gathered<'a>>)>) -> Vec<Vec<Gathered<'a>>> {
    let mut kept: Vec<Vec<Gathered<'a>>> = Vec::with_capacity(parts.len());
    for (name, remarks) in parts {
        let mut own = Vec::new();
        for like in remarks {
            match kept.iter_mut().flatten().find(|known| known.says_the_same_as(&like)) {
                Some(known) => known.too.push(name.clone()),
                None => own.push(like),
            }
        }
        kept.push(own);
    }
    kept
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
        // Only the very same sentence is said once for several places.
        && phrases::fact(one) == phrases::fact(other)
        && one.instead == other.instead
        && phrases::asked(one) == phrases::asked(other)
        && phrases::has_place(one)
        && phrases::has_place(other)
        && cure(one) == cure(other)
}
