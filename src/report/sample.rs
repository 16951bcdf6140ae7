//! A report with every kind of finding, for the tests of the writers.

use super::{Desk, Judged, Report, Score, Unread, see};
use crate::finding::{
    Finding, Measure, OctaveMove, PartMove, Place, Revision, Severity, Span, Standing, Waived, Worst,
};
use crate::music::{Dynamic, Length, Onset, Seconds};
use crate::score::PartInfo;

/// A place so many quarters into a bar of 4/4; bar 0 is a pickup of one quarter.
fn place(bar: u32, eighths: i64, line: u32) -> Place {
    let into = Length::quarters(eighths, 2).unwrap();
    let start = if bar == 0 { 0 } else { 1 + 4 * i64::from(bar - 1) };
    Place {
        bar_index: bar,
        bar: bar.to_string(),
        beat: into + Length::QUARTER,
        beat_unit: 4,
        onset: Onset::START + Length::whole_quarters(start) + into,
        staff: 1,
        voice: "1".to_owned(),
        line,
    }
}

pub(super) fn finding(rule: &'static str, severity: Severity, part: Option<u32>, message: &str) -> Finding {
    Finding {
        rule,
        severity,
        part,
        profile: None,
        place: place(1, 0, 40),
        span: Span { to: place(1, 0, 40), notes: 1, sounds: 1 },
        worst: Worst { place: place(1, 0, 40), ..Worst::default() },
        asked: None,
        limit: None,
        message: message.to_owned(),
        instead: None,
        octave_move: None,
        notes: vec![0],
        pass: None,
        ground: crate::finding::Ground::common_practice(),
        waived: None,
    }
}

fn note(pitch: &str, dynamic: Option<Dynamic>, seconds: f64, at: Place) -> Worst {
    let written: crate::music::Written = pitch.parse().unwrap();
    Worst {
        place: at,
        written: Some(written),
        sounding: Some(pitch.parse().unwrap()),
        dynamic,
        marked_in: None,
        seconds: Some(Seconds::new(seconds)),
    }
}

fn up(octaves: i8, pitch: &str, from: Place, to: Place, clears: Vec<&'static str>) -> OctaveMove {
    OctaveMove {
        octaves,
        sounding: Some(pitch.parse().unwrap()),
        from,
        to,
        notes: vec![0, 1, 2, 3, 4, 5],
        standing: Standing::Safe,
        clears,
        leaves: vec![],
        why_not_safe: None,
        doubling: None,
        layout: None,
    }
}

pub(super) fn too_loud(bars: (u32, u32), line: u32) -> Finding {
    let (from, to) = (place(bars.0, 0, line), place(bars.1, 6, line + 90));
    Finding {
        profile: Some("contrabass-tuba-c".to_owned()),
        place: from.clone(),
        span: Span { to: to.clone(), notes: 6, sounds: 6 },
        worst: note("D1", Some(Dynamic::Ff), 2.0, from.clone()),
        asked: Some(Measure::Dynamic(Dynamic::Ff)),
        limit: Some(Measure::Dynamic(Dynamic::Mf)),
        octave_move: Some(OctaveMove {
            doubling: Some("keeps the octave with the basses".to_owned()),
            ..up(1, "D2", from, to, vec!["too-loud-for-register"])
        }),
        ..finding(
            "too-loud-for-register",
            Severity::Warning,
            Some(1),
            "D1 is marked ff; a contrabass tuba in C sounds mf there at most",
        )
    }
}

pub(super) fn findings() -> Vec<Finding> {
    let breath_at = place(21, 1, 900);
    let low_at = place(0, 0, 31);
    let mut findings = vec![
        Finding {
            place: place(0, 0, 20),
            span: Span { to: place(0, 0, 20), notes: 1, sounds: 1 },
            instead: Some("give the tempo in the score, or with --tempo".to_owned()),
            limit: Some(Measure::Tempo(120.0)),
            ..finding(
                "tempo-assumed",
                Severity::Note,
                None,
                "no tempo is given; 120 quarters a minute is assumed",
            )
        },
        Finding {
            instead: Some("name the instrument: --as, or [[part]] in lowbrass.toml".to_owned()),
            ..finding(
                "instrument-not-recognised",
                Severity::Warning,
                Some(3),
                "no profile answers to \"Brass <low> & \u{1}more\"",
            )
        },
        Finding {
            profile: Some("contrabass-tuba-c".to_owned()),
            place: low_at.clone(),
            span: Span { to: low_at.clone(), notes: 1, sounds: 1 },
            worst: note("F0", None, 0.5, low_at.clone()),
            asked: Some(Measure::Pitch("F0".parse().unwrap())),
            limit: Some(Measure::Pitch("G0".parse().unwrap())),
            octave_move: Some(OctaveMove {
                standing: Standing::Review,
                notes: vec![0],
                leaves: vec!["beyond-usual-register"],
                why_not_safe: Some("the leap from the pickup becomes a thirteenth".to_owned()),
                ..up(2, "F2", low_at.clone(), low_at.clone(), vec!["out-of-range", "effect-register"])
            }),
            ..finding(
                "out-of-range",
                Severity::Error,
                Some(1),
                "F0 lies below a contrabass tuba in C, which ends at G0",
            )
        },
        too_loud((12, 13), 1893),
        Finding {
            profile: Some("contrabass-tuba-c".to_owned()),
            place: breath_at.clone(),
            span: Span { to: place(24, 6, 990), notes: 14, sounds: 14 },
            worst: note("Bb1", Some(Dynamic::F), 1.25, breath_at.clone()),
            asked: Some(Measure::Breaths(1.734_567)),
            limit: Some(Measure::Breaths(1.0)),
            instead: Some("breathe behind bar 22, beat 4, or stagger with Tuba 2".to_owned()),
            pass: Some(2),
            ..finding(
                "phrase-longer-than-breath",
                Severity::Warning,
                Some(1),
                "14 notes without a rest ask 1.7 breaths at f",
            )
        },
        too_loud((40, 41), 2893),
        too_loud((52, 53), 3893),
        too_loud((60, 61), 4893),
        too_loud((70, 71), 5893),
        Finding {
            profile: Some("bass-trombone".to_owned()),
            place: place(30, 3, 7000),
            span: Span { to: place(30, 6, 7010), notes: 2, sounds: 2 },
            worst: note("B0", Some(Dynamic::Pp), 0.75, place(30, 6, 7010)),
            asked: Some(Measure::MetresPerSecond(2.5)),
            limit: Some(Measure::MetresPerSecond(2.0)),
            octave_move: Some(OctaveMove {
                standing: Standing::Manual,
                sounding: None,
                why_not_safe: Some(
                    "no octave serves the passage: give it to an instrument at home in that register"
                        .to_owned(),
                ),
                ..up(0, "B0", place(30, 3, 7000), place(30, 6, 7010), vec![])
            }),
            ..finding(
                "slide-travel-too-fast",
                Severity::Error,
                Some(2),
                "the slide would travel at 2.5 m/s from 1st to 7th",
            )
        },
    ];
    findings.push(Finding {
        profile: Some("bass-trombone".to_owned()),
        place: place(33, 0, 7100),
        span: Span { to: place(33, 0, 7100), notes: 1, sounds: 1 },
        asked: Some(Measure::Word("harmon".to_owned())),
        waived: Some(Waived::Settings { because: "the player owns one; asked on Tuesday".to_owned() }),
        ..finding("no-such-mute", Severity::Warning, Some(2), "a harmon mute for bass trombone is rare")
    });
    findings.push(Finding {
        place: place(34, 0, 7120),
        span: Span { to: place(34, 0, 7120), notes: 1, sounds: 1 },
        asked: Some(Measure::Share(0.9)),
        limit: Some(Measure::Seconds(12.0)),
        waived: Some(Waived::InScore { text: "ok: no-rest-to-recover".to_owned() }),
        ..finding("no-rest-to-recover", Severity::Note, Some(2), "plays 90 % of two minutes")
    });
    findings.push(Finding {
        place: place(35, 0, 7130),
        span: Span { to: place(35, 0, 7130), notes: 1, sounds: 1 },
        asked: Some(Measure::Count(3)),
        limit: Some(Measure::Count(1)),
        waived: Some(Waived::Baseline),
        ..finding("more-notes-than-players", Severity::Error, Some(2), "3 notes together for 1 player")
    });
    findings.push(Finding {
        place: Place::default(),
        span: Span::default(),
        worst: Worst::default(),
        notes: vec![],
        ..finding(
            "expired-waiver",
            Severity::Warning,
            None,
            "the waiver of too-loud-for-register in line 12 of the settings ended on 2026-01-31",
        )
    });
    for (measure, limit) in [
        (Measure::NotesPerSecond(12.0), Measure::NotesPerSecond(9.0)),
        (Measure::Semitones(19.0), Measure::Semitones(12.0)),
        (Measure::Cents(42.0), Measure::Cents(30.0)),
    ] {
        findings.push(Finding {
            place: place(36, 0, 7140),
            span: Span { to: place(36, 0, 7140), notes: 1, sounds: 1 },
            asked: Some(measure),
            limit: Some(limit),
            ..finding("leap-too-wide-at-speed", Severity::Note, Some(2), "a leap of a twelfth in 0.2 s")
        });
    }
    findings
}

pub(super) fn judged(
    title: Option<&str>,
    path: &str,
    findings: Vec<Finding>,
    revised: Option<&str>,
) -> Score {
    let info = |index: u32, id: &str, name: &str| PartInfo {
        index,
        id: id.to_owned(),
        name: name.to_owned(),
        ..PartInfo::default()
    };
    let parts = [
        info(0, "P1", "Flute"),
        info(1, "P7", "Tuba"),
        info(2, "P8", "Bassposaune ＢＰ"),
        info(3, "P9", "Brass <low> & more"),
    ];
    let tuba_2 = info(4, "P10", "Tuba 2");
    let desk = |part, profile, read_as, recognised_by| Desk {
        part,
        profile,
        read_as,
        recognised_by,
        notes: 212,
        lowest: Some("D1".parse().unwrap()),
        highest: Some("F3".parse().unwrap()),
        seconds: 83.25,
        share: 0.384,
    };
    let desks = [
        desk(&parts[1], "contrabass-tuba-c", "a contrabass tuba in C", "name"),
        desk(&parts[2], "bass-trombone", "a bass trombone", "section"),
        Desk {
            notes: 0,
            lowest: None,
            highest: None,
            seconds: 0.0,
            share: 0.0,
            ..desk(&tuba_2, "bass-tuba-f", "a bass tuba in F", "option")
        },
    ];
    let moves = findings
        .iter()
        .filter(|finding| finding.waived.is_none())
        .filter_map(|finding| {
            let octave_move = finding.octave_move.clone()?;
            (octave_move.standing != Standing::Manual)
                .then_some(PartMove { part: finding.part?, octave_move })
        })
        .collect();
    let findings: Vec<(Finding, String)> =
        findings.into_iter().zip(0..).map(|(finding, n)| (finding, format!("{n:016x}"))).collect();
    let mut score = Score::new(&Judged {
        path,
        title,
        bars: 80,
        desks: &desks,
        passed_over: &[&parts[0], &parts[3]],
        findings: &findings,
        revision: Some(&Revision { moves }),
    });
    if let (Some(revised), Some(revision)) = (revised, &mut score.revision) {
        revision.path = Some(revised.to_owned());
        for planned in &mut revision.moves {
            planned.made = planned.standing == super::Standing::Safe;
        }
    }
    score
}

/// Every kind of finding, in one score.
pub(super) fn report() -> Report {
    Report::new(
        vec![judged(Some("Harbour at Night, cue 3"), "cues/cue 3.musicxml", findings(), None)],
        vec![],
    )
}

/// Three scores, of which one is clean and one cannot be read.
pub(super) fn folder() -> Report {
    let clean = judged(None, "cues/cue4.musicxml", vec![], None);
    let moved =
        judged(Some("Cue 5"), "cues/cue5.mxl", vec![too_loud((12, 13), 1893)], Some("cues/cue5.revised.mxl"));
    let unread = Unread {
        path: "cues/cue6.xml".to_owned(),
        message: "not well-formed XML: expected a closing tag at 12:31".to_owned(),
    };
    Report::new(vec![clean, moved], vec![unread])
}

/// The same with a picture: 80 bars and a pickup for each part.
pub(super) fn drawn() -> Report {
    let mut report = report();
    let line = |bar: &str| format!("ff r/1 | {}", vec![bar; 80].join(" | "));
    let (tuba, trombone) = (line("D1/2 F1/2"), line("r/2 F2/2"));
    let music = crate::score::testing::section(&[("Tuba", &tuba), ("Trombone", &trombone)]);
    let section = crate::playing::testing::section(&music, &["contrabass-tuba-c", "bass-trombone"]);
    let mut picture = see(&section, &[], &Revision::default());
    for (player, part) in picture.players.iter_mut().zip(&report.scores[0].parts) {
        (player.part, player.part_name) = (part.id.clone(), part.name.clone());
    }
    report.scores[0].picture = Some(picture);
    report
}
