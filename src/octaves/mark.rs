//! The marked copy: each finding as words above its bar.

use super::words::in_short;
use crate::finding::{Finding, OctaveMove, Place, Standing};
use crate::musicxml::{Document, Mark, MarkError, MarkPlace};
use crate::score::{PartInfo, Score};

/// Writes a copy of the score with each finding (waived ones left out; like ones in a bar once) above its bar as a text direction:
/// what is wrong in few words, and the move that cures it. A finding about the whole score stands in its
/// first part. Marks of an earlier run are replaced; nothing else is touched. [`Document::unmarked`] leads
/// back to the source, byte for byte.
///
/// # Errors
///
/// [`MarkError`].
pub fn marked(document: &Document, score: &Score, findings: &[Finding]) -> Result<Vec<u8>, MarkError> {
    let mut gathered: Vec<(&Finding, usize)> = Vec::new();
    for finding in findings.iter().filter(|finding| finding.waived.is_none()) {
        match gathered.iter_mut().find(|(like, _)| is_like(like, finding)) {
            Some((_, times)) => *times += 1,
            None => gathered.push((finding, 1)),
        }
    }
    // What is wrong and the way out stand one above the other, since one line of both would run off the page. Words
    // that come later in the document are drawn farther from the staff: what is to be read first comes last.
    let mut marks: Vec<Mark> = Vec::new();
    for (finding, times) in gathered {
        let mark = |words| Mark { place: place(score, finding), staff: finding.place.staff.max(1), words };
        let what = mark(words(finding, times));
        let way = finding.octave_move.as_ref().map(|made| mark(move_words(made, &finding.place)));
        // Two remarks with one way out: it is said once, behind both.
        if way.is_some() && marks.last() == way.as_ref() {
            marks.pop();
        }
        marks.push(what);
        marks.extend(way);
    }
    marks.reverse();
    document.marked(&marks)
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

fn place(score: &Score, finding: &Finding) -> MarkPlace {
    let part = score.parts.iter().find(|part| Some(part.info.index) == finding.part);
    let note = finding.notes.first().and_then(|&note| part?.notes.get(note as usize));
    if let Some(digits) = note.and_then(|note| note.octave_digits) {
        return MarkPlace::Note(digits.range().start);
    }
    let infos = || {
        let passed_over = score.passed_over.iter().map(|part| &part.info);
        score.parts.iter().map(|part| &part.info).chain(passed_over)
    };
    let info: Option<&PartInfo> = match finding.part {
        Some(index) => infos().find(|info| info.index == index),
        None => infos().min_by_key(|info| info.index),
    };
    MarkPlace::Bar {
        part: info.map_or(0, |info| info.index),
        id: info.map_or_else(String::new, |info| info.id.clone()),
        bar: finding.place.bar_index,
    }
}

/// "too loud for register: D1 ff (bars 12-13)".
fn words(finding: &Finding, times: usize) -> String {
    let mut words = finding.rule.replace('-', " ");
    if times > 1 {
        words = format!("{words} ({times} times)");
    }
    let asked = [
        finding.worst.sounding.map(|pitch| pitch.to_string()),
        finding.worst.dynamic.map(|dynamic| dynamic.to_string()),
    ];
    let asked: Vec<String> = asked.into_iter().flatten().collect();
    if !asked.is_empty() {
        words = format!("{words}: {}", asked.join(" "));
    }
    if let Some(bars) = bars(&finding.place, &finding.span.to) {
        words = format!("{words} ({bars})");
    }
    words
}

fn move_words(octave_move: &OctaveMove, place: &Place) -> String {
    if octave_move.standing == Standing::Manual {
        return octave_move.leaves.first().map_or_else(String::new, |rule| in_short(rule).to_owned());
    }
    let way = match octave_move.octaves {
        1 => "Up an octave".to_owned(),
        -1 => "Down an octave".to_owned(),
        // The planner seeks no move beyond two.
        2.. => "Up two octaves".to_owned(),
        _ => "Down two octaves".to_owned(),
    };
    let to = octave_move.sounding.map_or_else(String::new, |pitch| format!(": {pitch}"));
    let from = (octave_move.from.onset != place.onset).then(|| {
        if octave_move.from.bar_index == place.bar_index {
            format!(" from beat {}", octave_move.from.beat)
        } else {
            format!(" from bar {} beat {}", octave_move.from.bar, octave_move.from.beat)
        }
    });
    let look = if octave_move.standing == Standing::Review { ", look first" } else { "" };
    format!("{way}{}{to}{look}", from.unwrap_or_default())
}

fn bars(from: &Place, to: &Place) -> Option<String> {
    (from.bar_index != to.bar_index).then(|| format!("bars {}-{}", from.bar, to.bar))
}
