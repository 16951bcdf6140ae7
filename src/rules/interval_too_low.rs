//! `interval-too-low`: two notes of the low brass too close together for so low a place.

use std::collections::BTreeMap;

use super::{AtSection, Family, Fault, Page, Rule, Scope, engine, wording};
use crate::finding::{Finding, Ground, Measure, Severity};
use crate::music::{Length, Sounding};
use crate::playing::Section;
use crate::playing::doublings::{Together, together};
use crate::profile::LowInterval;
use crate::score::Played;

pub(super) const RULE: Rule = Rule {
    name: "interval-too-low",
    family: Family::Section,
    severity: Severity::Warning,
    scope: Scope::Section(check),
    speaks_for: &[],
    page: Page {
        finds: "Two held notes of the low brass that sound together, closer than so low a place bears; an octave stands anywhere. A note, and a warning only where they are held and have no root that could be heard as a pitch. A pattern that goes on is one remark.",
        matters: "Low down, close intervals beat and growl: nobody hears the chord, and the two players fight over the tuning.",
        instead: "Open the spacing: an octave between the lowest two, close positions higher up.",
        reads: &["section:intervals"],
        sources: &[
            "published low-interval-limit charts",
            "common fundamental, rec.music.theory",
            "N. Rimsky-Korsakov, Principles of Orchestration, 1922",
        ],
    },
};

/// One fault a sounding pair: of each lower note its worst neighbour above, and where several parts share the lower
/// note, one finding at the gravest or longest, which names the others.
fn check(at: &AtSection<'_>) -> Vec<Finding> {
    let section = at.section;
    let mut worst: BTreeMap<(usize, usize, usize), Growl> = BTreeMap::new();
    // Most pairs lie above all that could blur, and are asked no more.
    let clear = section.limits.low_intervals.iter().map(|low| low.clear_from).max();
    let blurs = |(_, lower): (usize, &Played), (_, upper): (usize, &Played)| {
        clear.is_some_and(|clear| lower.sounding < clear)
            && limit_of(section, lower.sounding, upper.sounding)
                .is_some_and(|limit| lower.sounding < limit.clear_from)
    };
    for pair in together(section, blurs) {
        if at.is_spoken_for(&RULE, pair.lower) || at.is_spoken_for(&RULE, pair.upper) {
            continue;
        }
        let Some(growl) = of_pair(section, pair) else { continue };
        if worst.get(&pair.lower).is_none_or(|said| said.weight() < growl.weight()) {
            worst.insert(pair.lower, growl);
        }
    }
    // The gravest first, then the longest, which takes shorter ones with it; of equals the first by the part's name,
    // so that the same part tells of it in whatever order the score has them.
    let name = |desk: usize| section.desks.get(desk).map_or("", |desk| desk.part.info.name.as_str());
    let mut growls: Vec<Growl> = worst.into_values().collect();
    growls.sort_by(|one, other| {
        let graver = other.severity.cmp(&one.severity).then(other.below.total_cmp(&one.below));
        let longer = other.length().cmp(&one.length());
        let by_name = name(one.pair.lower.0).cmp(name(other.pair.lower.0));
        graver.then(longer).then(by_name).then(one.pair.lower.cmp(&other.pair.lower))
    });
    let mut first: BTreeMap<Sounding, BTreeMap<(usize, usize), Vec<Growl>>> = BTreeMap::new();
    for growl in growls {
        let (desk, line, _) = growl.pair.lower;
        let said = first.entry(growl.lower).or_default();
        let told = said.values_mut().find_map(|of_line| {
            let from = of_line.partition_point(|said| said.pair.to <= growl.pair.from);
            let mut near = of_line[from..].iter_mut().take_while(|said| said.pair.from < growl.pair.to);
            near.find(|said| said.overlaps(&growl))
        });
        if let Some(said) = told {
            said.shared_with(section, desk);
            continue;
        }
        let of_line = said.entry((desk, line)).or_default();
        let at = of_line.partition_point(|said| said.pair.from < growl.pair.from);
        of_line.insert(at, growl);
    }
    let mut faults: BTreeMap<(usize, usize), Vec<Fault>> = BTreeMap::new();
    for growl in first.into_values().flat_map(BTreeMap::into_values).flatten() {
        let (desk, line, _) = growl.pair.lower;
        faults.entry((desk, line)).or_default().push(growl.fault(section));
    }
    for of_line in faults.values_mut() {
        of_line.sort_by_key(|fault| fault.about);
    }
    engine::joined(section, &RULE, faults)
}

/// Two notes too close for their place.
struct Growl {
    pair: Together,
    lower: Sounding,
    upper: Sounding,
    semitones: u8,
    clear_from: Sounding,
    /// Semitones below the limit.
    below: f64,
    severity: Severity,
    ground: Ground,
    /// Desks that sound the lower note too, the pair's own left out.
    sharers: Vec<usize>,
}

impl Growl {
    fn weight(&self) -> (Severity, f64) {
        (self.severity, self.below)
    }

    /// Whether the other, on the same lower note, is the same trouble at the same time.
    fn overlaps(&self, other: &Growl) -> bool {
        self.pair.from < other.pair.to && other.pair.from < self.pair.to
    }

    fn length(&self) -> Length {
        self.pair.to.since(self.pair.from)
    }

    fn shared_with(&mut self, section: &Section<'_>, desk: usize) {
        let part = |desk: usize| section.desks.get(desk).map(|desk| desk.part.info.index);
        let known = std::iter::once(&self.pair.lower.0).chain(&self.sharers);
        if known.copied().all(|known| part(known) != part(desk)) {
            self.sharers.push(desk);
        }
    }

    fn fault(&self, section: &Section<'_>) -> Fault {
        let name = |desk: usize| section.desks.get(desk).map_or("", |desk| desk.part.info.name.as_str());
        let shared: Vec<&str> = self.sharers.iter().map(|&desk| name(desk)).collect();
        let too = if shared.is_empty() { String::new() } else { format!(" ({} too)", shared.join(", ")) };
        let (own, other) = (name(self.pair.lower.0), name(self.pair.upper.0));
        let with = if own == other { String::new() } else { format!(" ({other})") };
        let message = format!(
            "{}{too} and {}{with} sound {} together; below {} it blurs",
            self.lower,
            self.upper,
            wording::interval(self.semitones),
            self.clear_from
        );
        Fault::of(self.pair.lower.2, self.severity, message)
            .by(self.below)
            .asked(Measure::Pitch(self.lower))
            .limit(Measure::Pitch(self.clear_from))
            .on(&self.ground)
    }
}

/// The limit for the interval of two pitches.
fn limit_of<'s>(section: &'s Section<'_>, lower: Sounding, upper: Sounding) -> Option<&'s LowInterval> {
    let semitones = upper.height().semitones_above(lower.height()).round() as i32;
    section.limits.low_intervals.iter().find(|low| i32::from(low.semitones) == semitones)
}

fn of_pair(section: &Section<'_>, pair: Together) -> Option<Growl> {
    let limits = &section.limits;
    let (_, lower) = section.played(pair.lower)?;
    let (_, upper) = section.played(pair.upper)?;
    let (lower, upper) = (lower.sounding, upper.sounding);
    let limit = limit_of(section, lower, upper)?;
    if pair.seconds < *limits.interval_shortest || lower >= limit.clear_from || !is_harmony(section, pair) {
        return None;
    }
    let below = limit.clear_from.height().semitones_above(lower.height());
    let growls = pair.seconds >= *limits.interval_held && limit.rooted_from.is_some_and(|from| lower < from);
    let severity = if growls { Severity::Warning } else { Severity::Note };
    let (semitones, clear_from) = (limit.semitones, limit.clear_from);
    let ground = limit.ground.clone();
    Some(Growl { pair, lower, upper, semitones, clear_from, below, severity, ground, sharers: Vec::new() })
}

/// Whether two notes stand with each other, rather than one passing while the other ends or begins.
fn is_harmony(section: &Section<'_>, pair: Together) -> bool {
    let length = |at| section.played(at).map_or(Length::ZERO, |(_, played)| played.length());
    let shorter = length(pair.lower).min(length(pair.upper));
    pair.to.since(pair.from).in_quarters() >= shorter.in_quarters() * *section.limits.interval_harmony
}
