//! The rules: one file each, one table that lists them, and the engine that runs them.
//!
//! In goes a [`Section`], out come findings in a total order. A rule looks at one note, one passage, one
//! line, one desk or the section, and says what is wrong in its own words; the engine joins neighbouring
//! notes with the same trouble into one finding and lets the heavier of two rules speak where both would say
//! the same. No XML, no TOML, no printing here; pitch comes from [`Played`], never from the page.

use std::cell::OnceCell;

use crate::finding::{Finding, Ground, Measure, Severity};
use crate::music::{Seconds, Sounding};
use crate::playing::breath::{self, BreathPlan};
use crate::playing::{Desk, Section};
use crate::profile::Profile;
use crate::score::{Line, Played};

mod engine;
mod renames;
mod wording;

mod beyond_usual_register;
mod effect_register;
mod extreme_register;
mod no_such_note;
mod out_of_range;

mod hit_too_low;
mod no_dynamic_yet;
mod too_loud_for_register;
mod too_soft_for_register;

mod everyone_breathes_at_once;
mod no_rest_to_recover;
mod no_room_to_breathe;
mod note_longer_than_breath;
mod phrase_longer_than_breath;

mod leap_too_wide_at_speed;
mod too_fast_for_register;

mod glissando_breaks;
mod sharp_valve_combination;
mod slide_travel_too_fast;

mod instrument_change_too_quick;
mod mute_change_too_quick;
mod no_such_mute;

mod technique_not_there;
mod trill_not_playable;

mod interval_too_low;
mod loud_low_note_alone;
mod voices_crossed;

mod more_notes_than_players;
mod ottava_in_part;
mod too_many_ledger_lines;
mod unlikely_transposition;
mod unusual_clef;

mod instrument_not_recognised;
mod read_around;
mod tempo_assumed;

pub mod expired_waiver;
pub mod unused_waiver;

#[cfg(test)]
mod breath_tests;
#[cfg(test)]
pub(crate) mod engraving;
#[cfg(test)]
mod example_tests;
#[cfg(test)]
mod excerpt_tests;
#[cfg(test)]
mod notation_tests;
#[cfg(test)]
mod planted_page_tests;
#[cfg(test)]
mod planted_tests;
#[cfg(test)]
mod repertoire_tests;
#[cfg(test)]
mod standard_repertoire_tests;
#[cfg(test)]
pub(crate) mod testing;
#[cfg(test)]
mod worked_list_tests;
#[cfg(test)]
mod worked_tests;

pub use engine::{judge, judge_desk, judge_excerpt, note_faults_in, sort};
pub use renames::{first_name, present_name};

/// All rules, by family.
pub const RULES: &[Rule] = &[
    out_of_range::RULE,
    no_such_note::RULE,
    extreme_register::RULE,
    effect_register::RULE,
    beyond_usual_register::RULE,
    hit_too_low::RULE,
    too_loud_for_register::RULE,
    too_soft_for_register::RULE,
    no_dynamic_yet::RULE,
    note_longer_than_breath::RULE,
    phrase_longer_than_breath::RULE,
    no_room_to_breathe::RULE,
    no_rest_to_recover::RULE,
    everyone_breathes_at_once::RULE,
    too_fast_for_register::RULE,
    leap_too_wide_at_speed::RULE,
    slide_travel_too_fast::RULE,
    glissando_breaks::RULE,
    sharp_valve_combination::RULE,
    instrument_change_too_quick::RULE,
    mute_change_too_quick::RULE,
    no_such_mute::RULE,
    trill_not_playable::RULE,
    technique_not_there::RULE,
    interval_too_low::RULE,
    loud_low_note_alone::RULE,
    voices_crossed::RULE,
    more_notes_than_players::RULE,
    unlikely_transposition::RULE,
    too_many_ledger_lines::RULE,
    ottava_in_part::RULE,
    unusual_clef::RULE,
    instrument_not_recognised::RULE,
    tempo_assumed::RULE,
    read_around::RULE,
    unused_waiver::RULE,
    expired_waiver::RULE,
];

/// Whether a rule speaks of a single breath, which players who breathe in turns need not have together.
pub fn is_about_a_breath(rule: &str) -> bool {
    [
        note_longer_than_breath::RULE.name,
        phrase_longer_than_breath::RULE.name,
        no_room_to_breathe::RULE.name,
        everyone_breathes_at_once::RULE.name,
    ]
    .contains(&rule)
}

/// One rule.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// kebab-case; names the fault; the file's name with `-` for `_`.
    pub name: &'static str,
    /// Its family.
    pub family: Family,
    /// The heaviest it says.
    pub severity: Severity,
    /// What it looks at, with the function that looks.
    pub scope: Scope,
    /// Rules that are silent about a note of which this one speaks, since they would say the same trouble twice.
    pub speaks_for: &'static [&'static str],
    /// Its page.
    pub page: Page,
}

/// Families of rules, in the order of the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Family {
    Range,
    Loudness,
    Breath,
    Agility,
    Mechanism,
    Changes,
    Technique,
    Section,
    Notation,
    Reading,
    Housekeeping,
}

impl Family {
    /// Whether its rules reckon in seconds.
    const fn is_timed(self) -> bool {
        matches!(self, Family::Breath | Family::Agility | Family::Changes)
    }
}

/// What a rule looks at.
#[derive(Clone, Copy, Debug)]
pub enum Scope {
    /// One played note. The engine joins neighbours of one passage into one finding.
    Note(fn(&AtNote<'_>) -> Option<Fault>),
    /// One passage of one line.
    Passage(fn(&AtPassage<'_>) -> Vec<Fault>),
    /// One player's whole line, in the order it is performed.
    Line(fn(&AtLine<'_>) -> Vec<Fault>),
    /// One desk.
    Desk(fn(&AtDesk<'_>) -> Vec<Finding>),
    /// All desks together, or the score.
    Section(fn(&AtSection<'_>) -> Vec<Finding>),
    /// The waivers of settings and score, which `check` applies; the rule itself has its page and its words.
    Settings,
}

/// What a rule's page says; every field is required, so that no page has a hole.
#[derive(Clone, Copy, Debug)]
pub struct Page {
    /// What it finds, one sentence.
    pub finds: &'static str,
    /// Why it matters at the stand.
    pub matters: &'static str,
    /// What to do.
    pub instead: &'static str,
    /// The keys it reads in a profile (`loudness.rows`) or, after `section:`, in the section's limits.
    pub reads: &'static [&'static str],
    /// Sources, or "common practice".
    pub sources: &'static [&'static str],
}

/// A played note with all that surrounds it.
#[derive(Clone, Copy)]
pub struct AtNote<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    /// The desk.
    pub desk: &'a Desk<'a>,
    /// The player's line.
    pub line: &'a Line,
    /// Index into [`Line::played`].
    pub index: usize,
    /// The note.
    pub played: &'a Played,
    /// The instrument it is judged on: the one in hand, or one within reach that suits the passage better.
    pub profile: &'a Profile,
}

/// A passage with all that surrounds it.
#[derive(Clone, Copy)]
pub struct AtPassage<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    /// The desk.
    pub desk: &'a Desk<'a>,
    /// The player's line.
    pub line: &'a Line,
    /// Index into [`Line::passages`].
    pub index: usize,
    /// The instrument it is judged on, as in [`AtNote::profile`], at its start.
    pub profile: &'a Profile,
}

/// A player's line with all that surrounds it.
pub struct AtLine<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    /// The desk.
    pub desk: &'a Desk<'a>,
    /// The player's line.
    pub line: &'a Line,
    /// Where the player breathes: planned once, for the first rule that asks.
    plan: OnceCell<BreathPlan>,
}

/// A desk within its section.
#[derive(Clone, Copy)]
pub struct AtDesk<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    /// The desk.
    pub desk: &'a Desk<'a>,
}

/// A section whose desks were judged.
#[derive(Clone, Copy)]
pub struct AtSection<'a> {
    /// The section.
    pub section: &'a Section<'a>,
    spoken_for: &'a engine::SpokenFor,
    /// Where the players breathe, for each desk and line.
    plans: &'a [Vec<BreathPlan>],
}

/// What a rule says of one note or passage, before it has a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// How bad.
    pub severity: Severity,
    /// How far beyond the limit, in the rule's own measure: of joined notes the one with the most is the worst.
    pub excess: f64,
    /// What the score asks.
    pub asked: Option<Measure>,
    /// What is given.
    pub limit: Option<Measure>,
    /// The fact and the limit.
    pub message: String,
    /// The way out in words.
    pub instead: Option<String>,
    /// First and last played note it is about, as indices into [`Line::played`] (inclusive). A note rule
    /// gives its own index twice.
    pub about: (usize, usize),
    /// In which pass of a repeat, when not the first.
    pub pass: Option<u32>,
    /// What the number stands on that decided; `None` where no number did, but the custom of the trade.
    pub ground: Option<Ground>,
}

impl<'a> AtLine<'a> {
    /// A line with nothing planned yet.
    fn new(section: &'a Section<'a>, desk: &'a Desk<'a>, line: &'a Line) -> AtLine<'a> {
        AtLine { section, desk, line, plan: OnceCell::new() }
    }

    /// Where the player breathes, and where that does not suffice.
    fn breath_plan(&self) -> &BreathPlan {
        self.plan.get_or_init(|| breath::plan(self.line, self.desk, self.section))
    }

    /// The same, for others to ask.
    fn into_breath_plan(self) -> BreathPlan {
        self.breath_plan();
        self.plan.into_inner().unwrap_or_default()
    }

    /// How much a want of air weighs: what only this player has not air enough for is a note.
    fn want_of_air(for_anyone: bool) -> Severity {
        if for_anyone { Severity::Warning } else { Severity::Note }
    }

    /// Whether players who take turns can hold a note for as long as they like: so much of the time goes into breathing.
    fn can_be_staggered(&self, played: &Played, lasts: Seconds) -> bool {
        let full = self.desk.instrument_at(self.line, played.onset).breath.full.0.get();
        full / (lasts.get() + full) <= *self.section.limits.rest.breathing.warning
    }

    /// Who else holds the same note at the same time and can stagger the breath: another player of the desk, or
    /// another part at the unison.
    fn someone_with_the_same(&self, played: &Played) -> Option<String> {
        let here = self.desk.part.info.index;
        for desk in &self.section.desks {
            let own = desk.part.info.index == here;
            for line in desk.lines.iter().filter(|line| !(own && line.player == self.line.player)) {
                let after = line.played.partition_point(|other| other.onset <= played.onset);
                let Some(other) = after.checked_sub(1).and_then(|index| line.played.get(index)) else {
                    continue;
                };
                if other.sounding == played.sounding && other.onset <= played.onset && other.end >= played.end
                {
                    return Some(if own {
                        "the other player of the part".to_owned()
                    } else {
                        desk.part.info.name.clone()
                    });
                }
            }
        }
        None
    }
}

/// Who usually takes a pitch beyond the usual register, where the profile says: "up there a bass tuba usually takes it".
fn who_has_it(instrument: &Profile, pitch: Sounding) -> Option<String> {
    let range = &instrument.range;
    let (there, neighbour) = if pitch > range.usual.1 {
        ("up there", &range.beyond_usual.above)
    } else if pitch < range.usual.0 {
        ("down there", &range.beyond_usual.below)
    } else {
        return None;
    };
    neighbour.as_ref().map(|neighbour| format!("{there} {neighbour} usually takes it"))
}

impl AtSection<'_> {
    /// Whether a rule has nothing to add about a note (by its desk, line and index), since one that speaks for it was
    /// heard there.
    fn is_spoken_for(&self, rule: &Rule, note: (usize, usize, usize)) -> bool {
        self.section.played(note).is_some_and(|(desk, played)| {
            self.spoken_for.covers(rule, Some(desk.part.info.index), &played.chain)
        })
    }
}

impl Rule {
    /// A rule by its present name.
    pub fn named(name: &str) -> Option<&'static Rule> {
        RULES.iter().find(|rule| rule.name == name)
    }
}

impl Family {
    /// All families, in the order of the reference.
    pub const ALL: &[Family] = &[
        Family::Range,
        Family::Loudness,
        Family::Breath,
        Family::Agility,
        Family::Mechanism,
        Family::Changes,
        Family::Technique,
        Family::Section,
        Family::Notation,
        Family::Reading,
        Family::Housekeeping,
    ];

    /// Where what it asks for can hurt someone: one line, and who knows more.
    pub const fn caution(self) -> Option<&'static str> {
        match self {
            Family::Range => Some(
                "Forcing the highest and lowest notes can hurt the lip: ask the player, who asks a teacher or doctor.",
            ),
            Family::Loudness => Some(
                "Loud brass can harm hearing, the player's and the neighbours': local rules for noise at work decide.",
            ),
            Family::Breath => Some(
                "Breath is reckoned for a rested adult; nobody should hold out or force it. Dizziness is for a doctor.",
            ),
            _ => None,
        }
    }

    /// As a word.
    pub const fn word(self) -> &'static str {
        match self {
            Family::Range => "range",
            Family::Loudness => "loudness",
            Family::Breath => "breath",
            Family::Agility => "agility",
            Family::Mechanism => "mechanism",
            Family::Changes => "changes",
            Family::Technique => "technique",
            Family::Section => "section",
            Family::Notation => "notation",
            Family::Reading => "reading",
            Family::Housekeeping => "housekeeping",
        }
    }
}

impl Fault {
    /// A fault of one played note; its `about` may be widened to several.
    fn of(index: usize, severity: Severity, message: String) -> Fault {
        Fault {
            severity,
            excess: 0.0,
            asked: None,
            limit: None,
            message,
            instead: None,
            about: (index, index),
            pass: None,
            ground: None,
        }
    }

    /// Says what the number stands on that decided.
    fn on(self, ground: &Ground) -> Fault {
        Fault { ground: Some(ground.clone()), ..self }
    }

    fn by(self, excess: f64) -> Fault {
        Fault { excess, ..self }
    }

    fn asked(self, asked: Measure) -> Fault {
        Fault { asked: Some(asked), ..self }
    }

    fn limit(self, limit: Measure) -> Fault {
        Fault { limit: Some(limit), ..self }
    }

    fn instead(self, instead: impl Into<String>) -> Fault {
        Fault { instead: Some(instead.into()), ..self }
    }

    /// Names who would serve, where anyone does.
    fn or_else_by(self, who: Option<String>) -> Fault {
        Fault { instead: self.instead.or(who), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_rule_file_holds_the_rule_of_its_name_and_stands_in_the_table() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules");
        let mut stems: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().path().file_stem().unwrap().to_str().unwrap().replace('_', "-"))
            .filter(|stem| {
                !["mod", "engine", "renames", "wording", "testing", "engraving"].contains(&stem.as_str())
                    && !stem.ends_with("-tests")
            })
            .collect();
        stems.sort();
        let mut names: Vec<String> = RULES.iter().map(|rule| rule.name.to_owned()).collect();
        names.sort();
        assert_eq!(names, stems);
        for rule in RULES {
            let file = format!("{}.rs", rule.name.replace('-', "_"));
            let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules").join(&file);
            let text = std::fs::read_to_string(path).unwrap();
            assert!(
                text.starts_with(&format!("//! `{}`: ", rule.name)),
                "{file} does not open with its name"
            );
            assert!(text.contains(&format!("name: \"{}\"", rule.name)), "{file} holds another rule");
        }
    }

    #[test]
    fn a_name_says_the_fault_and_not_the_advice() {
        for rule in RULES {
            for advice in ["avoid-", "use-", "do-not-", "prefer-"] {
                assert!(!rule.name.starts_with(advice), "{}", rule.name);
            }
            assert!(rule.name.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{}", rule.name);
        }
    }

    #[test]
    fn the_table_is_in_order_of_families() {
        assert!(RULES.windows(2).all(|pair| pair[0].family <= pair[1].family));
    }

    #[test]
    fn a_rule_speaks_only_for_rules_that_exist() {
        for rule in RULES {
            for silent in rule.speaks_for {
                assert!(Rule::named(silent).is_some(), "{} speaks for {silent}", rule.name);
                assert_ne!(*silent, rule.name);
            }
        }
    }

    #[test]
    fn no_page_has_a_hole_and_its_sentences_end_in_a_full_stop() {
        for rule in RULES {
            let page = rule.page;
            for text in [page.finds, page.matters, page.instead] {
                assert!(text.ends_with('.') && text.len() > 20, "{}: {text}", rule.name);
                assert!(!text.contains("should"), "{}: {text}", rule.name);
            }
            assert!(!page.sources.is_empty(), "{} names no source", rule.name);
        }
    }
}
