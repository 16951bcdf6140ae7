//! The marked copy: each finding as boxed words above its bar, and above a revised copy what was moved.

use crate::finding::{Finding, Measure, OctaveMove, PartMove, Place, Standing};
use crate::musicxml::{Document, Mark, MarkError, MarkPlace};
use crate::score::{PartInfo, Score};

/// Writes a copy of the score with each finding (waived ones left out; like ones in a bar once) above its bar as boxed words:
/// what is wrong in few words with what is asked and what there is, and the move that cures it, said once however many
/// findings it cures. A finding about the whole score stands in its first part. Marks of an earlier run are replaced; nothing else
/// is touched. [`Document::unmarked`] leads back to the source, byte for byte.
///
/// # Errors
///
/// [`MarkError`].
pub fn marked(document: &Document, score: &Score, findings: &[Finding]) -> Result<Vec<u8>, MarkError> {
    document.marked(&in_order(remarks(score, findings)))
}

/// The same of a revised copy: its moves, each where it begins and where it ends, and what of the source's `findings` they leave.
/// `document` and `score` are the copy's, whose notes are those of the source an octave or more away.
///
/// # Errors
///
/// [`MarkError`].
pub fn marked_revision(
    document: &Document,
    score: &Score,
    findings: &[Finding],
    made: &[PartMove],
) -> Result<Vec<u8>, MarkError> {
    let left: Vec<Finding> = findings.iter().filter_map(|finding| left_by(made, finding)).collect();
    let mut marks = remarks(score, &left);
    for one in made {
        marks.extend(ends(score, one, findings));
    }
    document.marked(&in_order(marks))
}

/// Marks in the order in which they are to be read from the top.
///
/// Words that come later in the document are drawn nearer to or farther from the staff as a program likes; taken to be drawn
/// farther, so that what is to be read first comes last.
fn in_order(mut marks: Vec<Mark>) -> Vec<Mark> {
    marks.reverse();
    marks
}

/// What is wrong and the way out stand one above the other, since one line of both would run off the page.
fn remarks(score: &Score, findings: &[Finding]) -> Vec<Mark> {
    let mut gathered: Vec<(&Finding, usize)> = Vec::new();
    for finding in findings.iter().filter(|finding| finding.waived.is_none()) {
        match gathered.iter_mut().find(|(like, _)| is_like(like, finding)) {
            Some((_, times)) => *times += 1,
            None => gathered.push((finding, 1)),
        }
    }
    // Said once, behind the last of the findings that it cures.
    let cures_a_later_one = |at: usize| {
        let (finding, _) = gathered[at];
        gathered[at + 1..].iter().any(|(other, _)| {
            finding.part == other.part
                && finding.place.bar_index == other.place.bar_index
                && is_one_move(finding.octave_move.as_ref(), other.octave_move.as_ref())
        })
    };
    let mut marks = Vec::new();
    for (at, &(finding, times)) in gathered.iter().enumerate() {
        let place = place(score, finding.part, finding.notes.first().copied(), &finding.place);
        let mark = |words| Mark { place: place.clone(), staff: finding.place.staff.max(1), words };
        marks.push(mark(words(finding, times)));
        if let Some(offered) = finding.octave_move.as_ref().filter(|_| !cures_a_later_one(at)) {
            marks.push(mark(way_out(offered, &finding.place)));
        }
    }
    marks
}

fn is_one_move(one: Option<&OctaveMove>, other: Option<&OctaveMove>) -> bool {
    let key = |offered: &OctaveMove| (offered.octaves, offered.standing, offered.notes.clone());
    one.map(key).is_some_and(|one| Some(one) == other.map(key))
}

/// Whether two findings in a bar would be the same words with the same way out: said once, above the first.
fn is_like(one: &Finding, other: &Finding) -> bool {
    let within = |finding: &Finding| (finding.place.bar_index, finding.span.to.bar_index);
    let way = |finding: &Finding| {
        finding.octave_move.as_ref().map(|made| (made.octaves, made.standing, made.notes.clone()))
    };
    one.rule == other.rule
        && (one.part, one.place.staff, &one.place.voice)
            == (other.part, other.place.staff, &other.place.voice)
        && within(one) == within(other)
        && (one.worst.sounding, one.worst.dynamic) == (other.worst.sounding, other.worst.dynamic)
        && (way(one) == way(other) || is_manual(one) && is_manual(other))
}

fn is_manual(finding: &Finding) -> bool {
    finding.octave_move.as_ref().is_some_and(|made| made.standing == Standing::Manual)
}

/// A finding as it stands when these moves are made; `None` for one that they clear.
fn left_by(made: &[PartMove], finding: &Finding) -> Option<Finding> {
    let carries = |one: &&PartMove, note: u32| {
        Some(one.part) == finding.part && one.octave_move.notes.binary_search(&note).is_ok()
    };
    let moved = |note: &u32| made.iter().any(|one| carries(&one, *note));
    let Some(note) = finding.notes.iter().copied().find(moved) else { return Some(finding.clone()) };
    // A note may move once safely and once more for review.
    let of_it = || made.iter().filter(|one| carries(one, note)).map(|one| &one.octave_move);
    if of_it().any(|one| one.clears.contains(&finding.rule)) {
        return None;
    }
    let octaves: i8 = of_it().map(|one| one.octaves).sum();
    let mut left = finding.clone();
    left.worst.sounding = left.worst.sounding.map(|pitch| pitch.up_octaves(octaves));
    left.worst.written = left.worst.written.map(|pitch| pitch.up_octaves(octaves));
    // It is made.
    left.octave_move = None;
    Some(left)
}

/// Where a move that was made begins, and where it ends.
fn ends(score: &Score, made: &PartMove, findings: &[Finding]) -> Vec<Mark> {
    let octave_move = &made.octave_move;
    let note_at = |note: Option<&u32>, place_of: &Place, words: String| {
        let place = place(score, Some(made.part), note.copied(), place_of);
        Mark { place, staff: place_of.staff.max(1), words }
    };
    let way = way(octave_move.octaves);
    let from_to = octave_move.sounding.map(|to| {
        let from = to.up_octaves(octave_move.octaves.saturating_neg());
        format!(": {from} to {to}")
    });
    let from_to = from_to.unwrap_or_default();
    let why = |joined: &str| {
        let of_it = findings.iter().find(|finding| {
            Some(made.part) == finding.part && is_one_move(finding.octave_move.as_ref(), Some(octave_move))
        });
        let cleared: Vec<String> = octave_move.clears.iter().map(|rule| rule.replace('-', " ")).collect();
        match (cleared.is_empty(), of_it) {
            (false, _) => format!("{joined}{}", cleared.join(", ")),
            (true, Some(finding)) => format!("{joined}{}", finding.rule.replace('-', " ")),
            (true, None) => format!("{joined}goes with what is moved around it"),
        }
    };
    let was = why("; was ");
    if octave_move.notes.len() <= 1 {
        return vec![note_at(
            octave_move.notes.first(),
            &octave_move.from,
            format!("moved {way}{from_to}{was}"),
        )];
    }
    let here_to = format!("bar {} {}", octave_move.to.bar, octave_move.to.beat_said());
    let back_to = format!("bar {} {}", octave_move.from.bar, octave_move.from.beat_said());
    vec![
        note_at(
            octave_move.notes.first(),
            &octave_move.from,
            format!("moved {way} from here to {here_to}{from_to}{was}"),
        ),
        note_at(octave_move.notes.last(), &octave_move.to, format!("last note moved {way}, from {back_to}")),
    ]
}

fn place(score: &Score, part: Option<u32>, note: Option<u32>, place: &Place) -> MarkPlace {
    let read = score.parts.iter().find(|read| Some(read.info.index) == part);
    let note = note.and_then(|note| read?.notes.get(note as usize));
    if let Some(digits) = note.and_then(|note| note.octave_digits) {
        return MarkPlace::Note(digits.range().start);
    }
    let infos = || {
        let passed_over = score.passed_over.iter().map(|part| &part.info);
        score.parts.iter().map(|part| &part.info).chain(passed_over)
    };
    let info: Option<&PartInfo> = match part {
        Some(index) => infos().find(|info| info.index == index),
        None => infos().min_by_key(|info| info.index),
    };
    MarkPlace::Bar {
        part: info.map_or(0, |info| info.index),
        id: info.map_or_else(String::new, |info| info.id.clone()),
        bar: place.bar_index,
    }
}

/// "too loud for register: D1 ff, limit mf (bars 12-13)".
fn words(finding: &Finding, times: usize) -> String {
    let mut words = finding.rule.replace('-', " ");
    if times > 1 {
        words = format!("{words} ({times} times)");
    }
    let asked = [
        finding.worst.sounding.map(|pitch| pitch.to_string()),
        finding.worst.dynamic.map(|dynamic| dynamic.to_string()),
        finding.asked.as_ref().and_then(figure),
    ];
    let mut said: Vec<String> = asked.into_iter().flatten().collect();
    said.dedup();
    let asked = said.join(" ");
    if !asked.is_empty() {
        words = format!("{words}: {asked}");
    }
    if let Some(limit) = finding.limit.as_ref().and_then(figure) {
        words = format!("{words}, limit {limit}");
    }
    if let Some(bars) = bars(&finding.place, &finding.span.to) {
        words = format!("{words} ({bars})");
    }
    words
}

/// A figure with its unit; `None` for what is a word and stands in the rule's name already.
fn figure(measure: &Measure) -> Option<String> {
    Some(match measure {
        Measure::Dynamic(dynamic) => dynamic.to_string(),
        Measure::Pitch(pitch) => pitch.to_string(),
        Measure::Seconds(seconds) => format!("{seconds:.1} s"),
        Measure::NotesPerSecond(notes) => format!("{notes:.1} notes/s"),
        Measure::Semitones(semitones) => format!("{semitones:.0} semitones"),
        Measure::Cents(cents) => format!("{cents:.0} cents"),
        Measure::MetresPerSecond(speed) => format!("{speed:.1} m/s"),
        Measure::Breaths(breaths) => format!("{breaths:.1} breaths"),
        Measure::Share(share) => format!("{:.0} %", share * 100.0),
        Measure::Tempo(tempo) => format!("{tempo:.0} quarters/min"),
        Measure::Count(count) => count.to_string(),
        Measure::Word(_) => return None,
    })
}

fn way_out(offered: &OctaveMove, place: &Place) -> String {
    if offered.standing == Standing::Manual {
        return offered.leaves.first().map_or_else(String::new, |rule| no_octave_serves(rule).to_owned());
    }
    let to = offered.sounding.map_or_else(String::new, |pitch| format!(": {pitch}"));
    let from = (offered.from.onset != place.onset).then(|| {
        if offered.from.bar_index == place.bar_index {
            format!(" from {}", offered.from.beat_said())
        } else {
            format!(" from bar {} {}", offered.from.bar, offered.from.beat_said())
        }
    });
    let until = (offered.to.bar_index != place.bar_index).then(|| format!(" to bar {}", offered.to.bar));
    let look = if offered.standing == Standing::Review { ", listen first" } else { "" };
    format!(
        "take {}{}{}{to}{look}",
        way(offered.octaves),
        from.unwrap_or_default(),
        until.unwrap_or_default()
    )
}

fn way(octaves: i8) -> String {
    let way = if octaves < 0 { "down" } else { "up" };
    match octaves.unsigned_abs() {
        1 => format!("{way} an octave"),
        2 => format!("{way} two octaves"),
        many => format!("{way} {many} octaves"),
    }
}

/// What a person may do where no octave move serves, in few words.
fn no_octave_serves(rule: &str) -> &'static str {
    match rule {
        "too-loud-for-register" | "hit-too-low" => "no octave serves: softer, or double it above",
        "too-soft-for-register" => "no octave serves: louder, or another instrument",
        _ => "no octave serves: another instrument, or a rest",
    }
}

fn bars(from: &Place, to: &Place) -> Option<String> {
    (from.bar_index != to.bar_index).then(|| format!("bars {}-{}", from.bar, to.bar))
}
