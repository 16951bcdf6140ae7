//! Every rule over its two example scores, and all rules over the scores that orchestras play.

use std::path::{Path, PathBuf};

use super::{RULES, Rule, Scope, judge};
use crate::finding::{Finding, Severity};
use crate::musicxml::Document;
use crate::playing::{Section, seat};
use crate::profile::{Casting, Recogniser, Verdict, shipped};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Reads a score as the shipped profiles see it and looks at its section.
#[track_caller]
fn with_section<T>(path: &Path, look: impl FnOnce(&Section<'_>) -> T) -> T {
    let bytes = std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let profiles = shipped();
    let casting = Casting::default();
    let recogniser = Recogniser::new(profiles, None);
    let document = Document::open(bytes).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let score = document
        .read(&|parts| {
            let verdicts = recogniser.recognise_all(parts, &casting);
            verdicts.iter().map(|verdict| !matches!(verdict, Verdict::PassedOver)).collect()
        })
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    look(&seat(&score, &recogniser, &casting, profiles.section()))
}

fn example(rule: &Rule, which: &str) -> PathBuf {
    root().join("examples/rules").join(rule.name).join(which)
}

/// Rules that look at music; those of waivers are tried where waivers are applied.
fn of_music() -> impl Iterator<Item = &'static Rule> {
    RULES.iter().filter(|rule| !matches!(rule.scope, Scope::Settings))
}

fn told(findings: &[Finding]) -> String {
    let lines = findings.iter().map(|found| {
        format!("{} {} bar {}: {}", found.severity.word(), found.rule, found.place.bar, found.message)
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[test]
fn every_rule_speaks_once_over_its_fault() {
    let wrong: Vec<String> = of_music()
        .filter_map(|rule| {
            let path = example(rule, "fault.musicxml");
            let found = with_section(&path, judge);
            let own = found.iter().filter(|finding| finding.rule == rule.name).count();
            (own != 1).then(|| format!("{}\n{}", path.display(), told(&found)))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn nothing_is_said_over_what_only_comes_near() {
    let wrong: Vec<String> = of_music()
        .filter_map(|rule| {
            let path = example(rule, "sound.musicxml");
            let found = with_section(&path, judge);
            let heard =
                found.iter().any(|finding| finding.rule == rule.name || finding.severity > Severity::Note);
            heard.then(|| format!("{}\n{}", path.display(), told(&found)))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

#[test]
fn what_a_rule_says_is_one_plain_sentence() {
    for rule in of_music() {
        for finding in with_section(&example(rule, "fault.musicxml"), judge) {
            for said in std::iter::once(&finding.message).chain(&finding.instead) {
                assert!(!said.ends_with(['.', '!', ' ']) && !said.contains("  "), "{}: {said}", finding.rule);
                assert!(!said.contains("should") && !said.contains(". "), "{}: {said}", finding.rule);
                assert!(said.chars().count() < 180, "{}: too long: {said}", finding.rule);
            }
        }
    }
}

#[test]
fn a_rule_reads_only_keys_that_stand_in_a_profile() {
    let profiles = shipped();
    let known: Vec<&str> =
        profiles.iter().flat_map(|profile| &profile.cited).map(|(key, _)| key.as_str()).collect();
    let common = profiles.player().cited.iter().map(|(key, _)| match key.split_once('.') {
        Some(("slide" | "valves", rest)) => format!("mechanism.{rest}"),
        _ => key.clone(),
    });
    let common: Vec<String> = common.collect();
    let known: Vec<&str> = known.into_iter().chain(common.iter().map(String::as_str)).collect();
    let of_section: Vec<&str> = profiles.section().cited.iter().map(|(key, _)| key.as_str()).collect();
    for rule in RULES {
        for reads in rule.page.reads {
            let (keys, reads) = match reads.strip_prefix("section:") {
                Some(reads) => (&of_section, reads),
                None => (&known, *reads),
            };
            let stands = |key: &&str| {
                key.strip_prefix(reads).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
            };
            assert!(keys.iter().any(stands), "{} reads {reads}, which no profile has", rule.name);
        }
    }
}

/// Movements that orchestras play, where they lie beside the checkout; without them there is nothing to look at.
#[test]
fn on_what_orchestras_play_nothing_is_called_impossible_and_little_is_called_a_risk() {
    let Ok(folder) = std::fs::read_dir(root().join("../shared/scores")) else { return };
    let (mut notes, mut warnings) = (0, Vec::new());
    let scores = folder.map(|entry| entry.unwrap().path());
    for path in scores.filter(|path| path.extension().is_some_and(|ending| ending == "mxl")) {
        with_section(&path, |section| {
            let lines = section.desks.iter().flat_map(|desk| &desk.lines);
            notes += lines.flat_map(|line| &line.played).filter(|played| !played.shared).count();
            let found = judge(section);
            let errors: Vec<Finding> =
                found.iter().filter(|finding| finding.severity == Severity::Error).cloned().collect();
            assert!(errors.is_empty(), "{}\n{}", path.display(), told(&errors));
            warnings.extend(found.into_iter().filter(|finding| finding.severity == Severity::Warning));
        });
    }
    assert!(
        warnings.len() * 1000 <= notes * 8,
        "{} warnings on {notes} notes\n{}",
        warnings.len(),
        told(&warnings)
    );
}
