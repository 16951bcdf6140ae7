//! The measure of the octave planner: passages of real parts are taken an octave away, where that breaks a
//! limit, and the planner has to put them back: those notes, no others, and no byte but octave digits.
//!
//! Three classes: a passage *between rests*; a stretch *within a line* without rests, with a leap at both
//! ends; and a passage between rests of which only *a few notes* break a limit. The real scores are read
//! where they lie beside the checkout; without them this test has nothing to measure.
//!
//! `cargo test --release --test displace -- --nocapture` prints the table; `DISPLACE_FROM=201 DISPLACE_SEEDS=20` takes other seeds and
//! more of them, `DISPLACE_FOLDER` other scores: those that `tests/reference/give_to_low_brass.py` writes are the material on
//! which the prices in `profiles/section.toml` were found.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // A test that cannot read has nothing to say, and its table is for reading.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;

use lowbrass::copies::revise;
use lowbrass::finding::{Finding, Revision, Severity, Standing};
use lowbrass::music::Sounding;
use lowbrass::musicxml::{Document, Edit};
use lowbrass::octaves::plan;
use lowbrass::playing::{Desk, InstrumentInHand, RecognisedBy, Section};
use lowbrass::profile::Profiles;
use lowbrass::rules::{Family, Rule, judge, note_faults_in};
use lowbrass::score::{Line, Part, Played, Score, lines};

/// What a trial takes an octave away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Class {
    BetweenRests,
    WithinALine,
    AFewNotes,
    TwoTogether,
}

/// Some notes of one part.
#[derive(Clone, Debug)]
struct Phrase {
    class: Class,
    part: usize,
    octaves: i8,
    notes: Vec<u32>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    phrases: usize,
    restored: usize,
    notes: usize,
    notes_restored: usize,
    collateral: usize,
    for_review: usize,
}

/// A small generator, so that a seed gives the same trials everywhere.
struct Random(u64);

impl Random {
    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from((self.0 >> 33) % bound.max(1) as u64).unwrap()
    }
}

fn read(bytes: &[u8]) -> (Document, Score) {
    let document = Document::open(bytes.to_vec()).unwrap();
    let score = document
        .read(&|parts| parts.iter().map(|part| profile_of(&part.name, &part.id).is_some()).collect())
        .unwrap();
    (document, score)
}

/// Recognition is not under test here: names of the three scores and of the made part.
fn profile_of(name: &str, _id: &str) -> Option<&'static str> {
    let name = name.to_lowercase();
    let bass = ["bass trombone", "trombone 3", "3rd trombone", "trombone iii", "basso", "bassposaune"];
    if name.contains("tuba") {
        Some("contrabass-tuba-c")
    } else if !name.contains("trombon") && !name.contains("posaun") {
        None
    } else if bass.iter().any(|bass| name.contains(bass)) {
        Some("bass-trombone")
    } else {
        Some("tenor-bass-trombone")
    }
}

fn section<'s>(score: &'s Score, profiles: &Profiles) -> Section<'s> {
    let desks = score.parts.iter().map(|part| {
        let profile = profiles.named(profile_of(&part.info.name, &part.info.id).unwrap()).unwrap();
        Desk {
            again: Vec::new(),
            part,
            lines: lines(part, score, 1),
            instruments: vec![InstrumentInHand { from: lowbrass::music::Onset::START, profile }],
            also: Vec::new(),
            in_hand: Vec::new(),
            recognised_by: RecognisedBy::Name,
            players: 1,
            breath: 1.0,
            mutes: None,
        }
    });
    Section { score, desks: desks.collect(), unrecognised: Vec::new(), limits: profiles.section().clone() }
}

fn breaks(finding: &Finding) -> bool {
    let family = Rule::named(finding.rule).unwrap().family;
    finding.severity >= Severity::Warning && matches!(family, Family::Range | Family::Loudness)
}

fn cents(played: &Played) -> i32 {
    played.sounding.height().in_cents()
}

/// All stretches of a line that the classes allow.
fn stretches(line: &Line) -> Vec<(Class, std::ops::Range<usize>)> {
    let mut found = Vec::new();
    for passage in &line.passages {
        if (2..=32).contains(&passage.len()) {
            found.push((Class::BetweenRests, passage.clone()));
        }
        for from in passage.start + 2..passage.end {
            for to in from + 3..(from + 17).min(passage.end.saturating_sub(1)) {
                let parts = |index: usize| !line.played[index].joins.any() && !line.played[index].grace;
                if parts(from - 1) && parts(to - 1) {
                    found.push((Class::WithinALine, from..to));
                }
            }
        }
    }
    found.retain(|(_, range)| line.played[range.clone()].iter().all(|played| !played.shared));
    found
}

/// Whether a stretch moved within its line leaves a leap at both ends that is far wider than the line makes
/// around it: a sixth at least, and twice the usual leap.
fn leaps_out(line: &Line, range: &std::ops::Range<usize>, octaves: i8) -> bool {
    let passage = line.passages[line.passage_of(range.start)].clone();
    let around = passage.start.max(range.start.saturating_sub(12))..passage.end.min(range.end + 12);
    let leap = |index: usize| cents(&line.played[index]) - cents(&line.played[index - 1]);
    let mut usual: Vec<i32> = (around.start + 1..around.end).map(|index| leap(index).abs()).collect();
    usual.sort_unstable();
    let usual = usual[usual.len() / 2];
    let shift = 1200 * i32::from(octaves);
    [leap(range.start) + shift, leap(range.end) - shift]
        .into_iter()
        .all(|leap| leap.abs() >= 800 && leap.abs() > 2 * usual)
}

/// A stretch of a line: part, line, notes.
type Stretch = (usize, usize, std::ops::Range<usize>);

/// All stretches of the lines, and those of two parts that begin and end a passage together, by class.
fn all_stretches(section: &Section<'_>) -> [Vec<(Class, Vec<Stretch>)>; 3] {
    let mut all = [Vec::new(), Vec::new(), Vec::new()];
    let lines = || {
        let desks = section.desks.iter().enumerate();
        desks.flat_map(|(part, desk)| desk.lines.iter().enumerate().map(move |(at, line)| (part, at, line)))
    };
    for (part, at, line) in lines() {
        for (class, range) in stretches(line) {
            all[usize::from(class == Class::WithinALine)].push((class, vec![(part, at, range.clone())]));
            if class != Class::BetweenRests {
                continue;
            }
            let (from, to) = (line.played[range.start].onset, line.played[range.end - 1].end);
            for (other_part, other_at, other) in lines().filter(|&(other, ..)| other > part) {
                let first = other.played.partition_point(|played| played.onset < from);
                let Some(passage) = other.passages.iter().find(|passage| passage.start == first) else {
                    continue;
                };
                if (2..=32).contains(&passage.len())
                    && other.played[first].onset == from
                    && other.played[passage.end - 1].end == to
                    && other.played[passage.clone()].iter().all(|played| !played.shared)
                {
                    let both = vec![(part, at, range.clone()), (other_part, other_at, passage.clone())];
                    all[2].push((Class::TwoTogether, both));
                }
            }
        }
    }
    all
}

/// Chooses phrases that lie well apart, displaces each, and keeps those that truly break a limit.
fn displaced(score: &Score, profiles: &Profiles, random: &mut Random, how_many: usize) -> Vec<Phrase> {
    let original = section(score, profiles);
    let mut all = all_stretches(&original);
    let mut taken: Vec<Phrase> = Vec::new();
    let mut busy: Vec<(i64, i64)> = Vec::new();
    let mut wanted: BTreeMap<Class, usize> = BTreeMap::new();
    for attempt in 0..4000 {
        let of_class = &mut all[attempt % 3];
        if of_class.is_empty() {
            continue;
        }
        let (mut class, stretches) = of_class.swap_remove(random.below(of_class.len()));
        let octaves = [-1, 1][random.below(2)];
        let mut phrases = Vec::new();
        let mut bars = (i64::MAX, 0);
        for (part, line_index, range) in &stretches {
            let (part, line) = (*part, &original.desks[*part].lines[*line_index]);
            let notes: Vec<u32> =
                line.played[range.clone()].iter().flat_map(|played| played.chain.iter().copied()).collect();
            bars.0 = bars.0.min(i64::from(line.played[range.start].bar));
            bars.1 = bars.1.max(i64::from(line.played[range.end - 1].bar));
            let written = &original.desks[part].part.notes;
            let writable = notes.iter().all(|&note| {
                let note = &written[note as usize];
                note.octave_digits.is_some() && (0..=9).contains(&(note.written.octave() + octaves))
            });
            if !writable || class == Class::WithinALine && !leaps_out(line, range, octaves) {
                continue;
            }
            let mut moved = line.clone();
            for played in &mut moved.played[range.clone()] {
                played.sounding = played.sounding.up_octaves(octaves);
                played.written = played.written.up_octaves(octaves);
            }
            let broken = |line: &Line| -> usize {
                let faults = note_faults_in(&original, part, line, line.passage_of(range.start));
                let heavy = faults.iter().filter(|(rule, fault)| {
                    fault.severity >= Severity::Warning
                        && matches!(rule.family, Family::Range | Family::Loudness)
                });
                let hit: BTreeSet<usize> = heavy.map(|(_, fault)| fault.about.0).collect();
                range.clone().filter(|index| hit.contains(index)).count()
            };
            let (was, is) = (broken(line), broken(&moved));
            if was > 0 || is == 0 {
                continue;
            }
            if class == Class::BetweenRests && is * 3 <= notes.len() {
                class = Class::AFewNotes;
            }
            phrases.push((part, notes));
        }
        let near = busy.iter().any(|&(from, to)| bars.0 <= to + 8 && bars.1 + 8 >= from);
        let so_far = wanted.entry(class).or_default();
        if near || phrases.len() < stretches.len() || *so_far > how_many / 3 {
            continue;
        }
        *so_far += 1;
        busy.push(bars);
        taken.extend(phrases.into_iter().map(|(part, notes)| Phrase { class, part, octaves, notes }));
    }
    taken
}

/// The copy with the phrases displaced.
fn displace(document: &Document, score: &Score, phrases: &[Phrase]) -> Vec<u8> {
    let edits = phrases.iter().flat_map(|phrase| {
        phrase.notes.iter().map(|&note| {
            let note = &score.parts[phrase.part].notes[note as usize];
            let octave = note.written.octave() + phrase.octaves;
            Edit { range: note.octave_digits.unwrap().range(), with: octave.to_string() }
        })
    });
    document.with_edits(edits.collect()).unwrap()
}

/// Bytes of the text that differ outside the digits of `octave` elements.
fn differ_elsewhere(one: &str, other: &str) -> usize {
    let masked = |text: &str| {
        let mut out = String::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once("<octave>") {
            out.push_str(before);
            rest = after.trim_start_matches(|c: char| c.is_ascii_digit());
        }
        out + rest
    };
    let (one, other) = (masked(one), masked(other));
    one.bytes().zip(other.bytes()).filter(|(a, b)| a != b).count() + one.len().abs_diff(other.len())
}

/// The score with notes of its parts moved, as if it had been read so.
fn moved(score: &Score, moves: impl IntoIterator<Item = (usize, u32, i8)>) -> Score {
    let mut there = score.clone();
    for (part, note, octaves) in moves {
        let note = &mut there.parts[part].notes[note as usize];
        note.written = note.written.up_octaves(octaves);
        note.sounding = note.sounding.up_octaves(octaves);
    }
    there
}

/// The score with the moves of a revision made.
fn revised(score: &Score, revision: &Revision, include_review: bool) -> Score {
    let made = revision.moves.iter().filter(|one| {
        one.octave_move.standing == Standing::Safe
            || include_review && one.octave_move.standing == Standing::Review
    });
    let notes = made.flat_map(|one| {
        let part = score.parts.iter().position(|part| part.info.index == one.part).unwrap();
        one.octave_move.notes.iter().map(move |&note| (part, note, one.octave_move.octaves))
    });
    moved(score, notes)
}

/// The same way through bytes: the displaced file is written and read, revised, written and read again.
fn through_bytes(bytes: &[u8], profiles: &Profiles) {
    let (document, score) = read(bytes);
    let phrases = displaced(&score, profiles, &mut Random(1), 9);
    let spoilt = displace(&document, &score, &phrases);
    let (spoilt_document, spoilt_score) = read(&spoilt);
    let spoilt_section = section(&spoilt_score, profiles);
    let mut findings = judge(&spoilt_section);
    let revision = plan(&spoilt_section, &mut findings);
    let copy = revise(&spoilt_document, &spoilt_score, &revision, false).unwrap();
    let (copy_document, copy_score) = read(&copy.bytes);
    assert_eq!(differ_elsewhere(spoilt_document.text(), copy_document.text()), 0);
    let expected = revised(&spoilt_score, &revision, false);
    for (expected, read) in expected.parts.iter().zip(&copy_score.parts) {
        let pitches =
            |part: &Part| -> Vec<Sounding> { part.notes.iter().map(|note| note.sounding).collect() };
        assert_eq!(pitches(expected), pitches(read));
    }
    // Fixing twice is fixing once.
    let copy_section = section(&copy_score, profiles);
    let again = plan(&copy_section, &mut judge(&copy_section));
    assert!(again.moves.iter().all(|one| one.octave_move.standing != Standing::Safe), "{again:?}");
}

/// One score, one seed: displaces, plans, revises, compares.
fn trial(
    score: &Score,
    seed: u64,
    how_many: usize,
    profiles: &Profiles,
    tallies: &mut BTreeMap<Class, Tally>,
    log: &mut String,
) {
    let mut random = Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    let phrases = displaced(score, profiles, &mut random, how_many);
    let spoilt = moved(
        score,
        phrases
            .iter()
            .flat_map(|phrase| phrase.notes.iter().map(|&note| (phrase.part, note, phrase.octaves))),
    );
    let spoilt_section = section(&spoilt, profiles);
    let revision = plan(&spoilt_section, &mut judge(&spoilt_section));
    let after = revised(&spoilt, &revision, false);
    let with_review = revised(&spoilt, &revision, true);

    let pitch = |score: &Score, part: usize, note: u32| score.parts[part].notes[note as usize].sounding;
    let mut ours: Vec<Vec<bool>> = score.parts.iter().map(|part| vec![false; part.notes.len()]).collect();
    for phrase in &phrases {
        let tally = tallies.entry(phrase.class).or_default();
        let back = |score_after: &Score| {
            let same =
                |&&note: &&u32| pitch(score_after, phrase.part, note) == pitch(score, phrase.part, note);
            phrase.notes.iter().filter(same).count()
        };
        phrase.notes.iter().for_each(|&note| ours[phrase.part][note as usize] = true);
        tally.phrases += 1;
        tally.notes += phrase.notes.len();
        tally.notes_restored += back(&after);
        tally.for_review += usize::from(back(&with_review) == phrase.notes.len());
        let first = &score.parts[phrase.part].notes[phrase.notes[0] as usize];
        let moves: Vec<String> = revision
            .moves
            .iter()
            .filter(|one| {
                one.part == score.parts[phrase.part].info.index
                    && one
                        .octave_move
                        .notes
                        .iter()
                        .any(|note| phrase.notes.iter().any(|mine| mine.abs_diff(*note) < 12))
            })
            .map(|one| {
                let notes = &one.octave_move.notes;
                format!(
                    "{:+} {}..{} {:?} {:?}",
                    one.octave_move.octaves,
                    notes[0],
                    notes[notes.len() - 1],
                    one.octave_move.standing,
                    one.octave_move.why_not_safe
                )
            })
            .collect();
        let beyond = revision.moves.iter().any(|one| {
            one.part == score.parts[phrase.part].info.index
                && one.octave_move.notes.iter().any(|note| phrase.notes.contains(note))
                && one.octave_move.notes.iter().any(|note| !phrase.notes.contains(note))
        });
        let whole = back(&after) == phrase.notes.len();
        tally.restored += usize::from(whole);
        if !whole || beyond {
            let _ = writeln!(
                log,
                "  seed {seed} {:?} {:+} {} bar {} notes {}..{}: {moves:?}",
                phrase.class,
                phrase.octaves,
                score.parts[phrase.part].info.name,
                score.bars[first.bar as usize].number,
                phrase.notes[0],
                phrase.notes[phrase.notes.len() - 1],
            );
        }
    }
    for (part, there) in score.parts.iter().enumerate() {
        for note in (0..there.notes.len()).filter(|&note| !ours[part][note]) {
            let index = u32::try_from(note).unwrap();
            if pitch(&after, part, index) != pitch(score, part, index) {
                let nearest = phrases
                    .iter()
                    .min_by_key(|phrase| (phrase.part != part, phrase.notes[0].abs_diff(index)));
                tallies.entry(nearest.unwrap().class).or_default().collateral += 1;
            }
        }
    }
}

fn table(tallies: &BTreeMap<Class, Tally>) -> String {
    let mut table =
        String::from("class          phrases  restored  with review  notes restored  collateral notes\n");
    for (class, tally) in tallies {
        let share = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
        let _ = writeln!(
            table,
            "{:<14} {:>7} {:>8.1}% {:>11.1}% {:>14.1}% {:>17}",
            format!("{class:?}"),
            tally.phrases,
            share(tally.restored, tally.phrases),
            share(tally.for_review, tally.phrases),
            share(tally.notes_restored, tally.notes),
            tally.collateral
        );
    }
    table
}

/// How the bars of a made part go.
#[derive(Clone, Copy)]
enum Manner {
    /// Halves by step, all parts together.
    Chorale,
    /// One bar that comes back, a step higher or lower each time.
    Ostinato,
    /// Quarters by step and third, with a leap now and then.
    Melody,
}

/// A score of our own: three trombones and a tuba, each in its usual register, phrases of two to four bars
/// with half a bar of rest behind each.
fn made(manner: Manner, bars: usize) -> Vec<u8> {
    // Name, and lowest and highest step counted from C0: A2 to G4, F2 to D4, C2 to A3, C2 to C3.
    let parts = [("Trombone 1", 19, 32), ("Trombone 2", 17, 29), ("Bass Trombone", 14, 26), ("Tuba", 14, 21)];
    let mut text = String::from("<score-partwise version=\"4.0\"><part-list>");
    for (id, (name, ..)) in parts.iter().enumerate() {
        let _ = write!(text, "<score-part id=\"P{id}\"><part-name>{name}</part-name></score-part>");
    }
    text.push_str("</part-list>");
    for (id, &(_, low, high)) in parts.iter().enumerate() {
        let mut random = Random(0x9E37_79B9 + id as u64);
        let mut ends = Random(77);
        let (mut step, mut left, mut figure) = (i32::midpoint(low, high), 2, Vec::new());
        let _ = write!(text, "<part id=\"P{id}\">");
        for bar in 0..bars {
            let _ = write!(text, "<measure number=\"{}\">", bar + 1);
            if bar == 0 {
                text.push_str(
                    "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type>",
                );
                text.push_str("</time></attributes><direction><direction-type><dynamics><mf/></dynamics>");
                text.push_str("</direction-type><sound tempo=\"96\"/></direction>");
            }
            left -= 1;
            let rests = left == 0;
            if rests {
                left = 2 + ends.below(3);
            }
            let lengths: &[u32] = match (manner, rests) {
                (Manner::Chorale, true) => &[2],
                (Manner::Chorale, false) => &[2, 2],
                (_, true) => &[1, 1],
                (_, false) => &[1, 1, 1, 1],
            };
            if figure.is_empty() {
                figure = (0..4).map(|_| random.below(5) as i32 - 2).collect();
            }
            for (at, length) in lengths.iter().enumerate() {
                step += match manner {
                    Manner::Chorale => [-1, 1, -1, 1, 0, -3, 3][random.below(7)],
                    Manner::Ostinato if at == 0 => [-1, 1][random.below(2)],
                    Manner::Ostinato => figure[at],
                    Manner::Melody => [-1, 1, -1, 1, -2, 2, -1, 1, -4, 4][random.below(10)],
                };
                if step < low {
                    step = 2 * low - step;
                } else if step > high {
                    step = 2 * high - step;
                }
                let kind = if *length == 2 { "half" } else { "quarter" };
                let _ = write!(
                    text,
                    "<note><pitch><step>{}</step><octave>{}</octave></pitch><duration>{length}</duration>\
                     <voice>1</voice><type>{kind}</type></note>",
                    ["C", "D", "E", "F", "G", "A", "B"][usize::try_from(step % 7).unwrap()],
                    step / 7
                );
            }
            if rests {
                text.push_str("<note><rest/><duration>2</duration><voice>1</voice><type>half</type></note>");
            }
            text.push_str("</measure>");
        }
        text.push_str("</part>");
    }
    text.push_str("</score-partwise>");
    text.into_bytes()
}

#[test]
fn displaced_phrases_of_made_parts_are_put_back() {
    let profiles = Profiles::embedded().unwrap();
    let mut tallies = BTreeMap::new();
    let mut log = String::new();
    for manner in [Manner::Chorale, Manner::Ostinato, Manner::Melody] {
        let (_, score) = read(&made(manner, 240));
        let whole = section(&score, &profiles);
        let revision = plan(&whole, &mut judge(&whole));
        assert!(revision.moves.is_empty(), "as written nothing is to be moved: {revision:?}");
        for seed in number("DISPLACE_FROM", 1)..number("DISPLACE_FROM", 1) + number("DISPLACE_SEEDS", 4) {
            trial(&score, seed, 15, &profiles, &mut tallies, &mut log);
        }
    }
    print!("{log}{}", table(&tallies));
    let phrases: usize = tallies.values().map(|tally| tally.phrases).sum();
    assert!(phrases >= 60, "too few to tell: {phrases}");
    for (class, tally) in &tallies {
        assert!(100 * tally.restored >= 90 * tally.phrases, "{class:?}: {tally:?}\n{log}");
    }
}

/// A number from the environment.
fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|number| number.parse().ok()).unwrap_or(otherwise)
}

#[test]
fn displaced_phrases_of_real_parts_are_put_back() {
    let folder = std::env::var_os("DISPLACE_FOLDER").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/scores"),
        std::path::PathBuf::from,
    );
    let Ok(files) = std::fs::read_dir(folder) else { return };
    let mut files: Vec<_> = files.map(|file| file.unwrap().path()).collect();
    files.retain(|file| file.extension().is_some_and(|ending| ending == "mxl" || ending == "musicxml"));
    files.sort();
    let (first_seed, seeds) = (number("DISPLACE_FROM", 1), number("DISPLACE_SEEDS", 1));
    let profiles = Profiles::embedded().unwrap();
    let mut tallies = BTreeMap::new();
    for file in &files {
        let bytes = std::fs::read(file).unwrap();
        let (_, score) = read(&bytes);
        let whole = section(&score, &profiles);
        let mut findings = judge(&whole);
        let revision = plan(&whole, &mut findings);
        let safe = revision.moves.iter().filter(|one| one.octave_move.standing == Standing::Safe).count();
        println!(
            "{}: {} warnings and errors of range and loudness, {} moves, {safe} safe, unaltered",
            file.file_name().unwrap().to_string_lossy(),
            findings.iter().filter(|finding| breaks(finding)).count(),
            revision.moves.len(),
        );
        let mut log = String::new();
        for seed in first_seed..first_seed + seeds {
            trial(&score, seed, 9, &profiles, &mut tallies, &mut log);
        }
        print!("{log}");
        if std::env::var_os("DISPLACE_BYTES").is_some() {
            through_bytes(&bytes, &profiles);
        }
    }
    print!("{}", table(&tallies));
    // Held below what is reached, so that a step back shows; the table says what is.
    for (class, tally) in &tallies {
        assert!(100 * tally.restored >= 90 * tally.phrases, "{class:?}: {tally:?}");
    }
}
