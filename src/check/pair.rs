//! One score in two versions: remark by remark, octave by octave, bar by bar.

use std::collections::BTreeMap;

use super::aligned::{Aligned, pitch_class};
use super::reader::Version;
use crate::finding::Place;
use crate::music::{Length, Sounding};
use crate::report::{At, Bars, ChangedBars, Finding, Moved, MovedNote, Remark, ScoreVersions};
use crate::score::{Note, Part, Score, Tie};

/// What became of a score.
pub(super) struct Told {
    pub(super) versions: ScoreVersions,
    /// Gone, new, still there.
    pub(super) remarks: [Vec<Remark>; 3],
    pub(super) moves: Vec<Moved>,
}

/// Two versions of one score.
pub(super) fn compare_pair(old: &Version, new: &Version) -> Told {
    let aligned = Aligned::of(&old.score, &new.score);
    let by_old: BTreeMap<usize, usize> = aligned.bars.iter().copied().collect();
    let by_new: BTreeMap<usize, usize> = aligned.bars.iter().map(|&(old, new)| (new, old)).collect();
    let lone = |score: &Score, has_other: &BTreeMap<usize, usize>| {
        bars(score, (0..score.bars.len()).filter(|bar| !has_other.contains_key(bar)))
    };
    let names = |score: &Score, of: &dyn Fn(usize) -> bool| {
        (0..score.parts.len())
            .filter(|part| of(*part))
            .map(|part| score.parts[part].info.name.clone())
            .collect()
    };
    let (moves, bars_changed) = music(old, new, &aligned);
    Told {
        versions: ScoreVersions {
            old: Some(old.report.path.clone()),
            new: Some(new.report.path.clone()),
            title: new.report.title.clone().or(old.report.title.clone()),
            bars_inserted: lone(&new.score, &by_new),
            bars_removed: lone(&old.score, &by_old),
            bars_changed,
            parts_added: names(&new.score, &|part| aligned.parts.iter().all(|pair| pair.1 != part)),
            parts_removed: names(&old.score, &|part| aligned.parts.iter().all(|pair| pair.0 != part)),
        },
        remarks: remarks(old, new, &aligned, &by_new),
        moves,
    }
}

/// A score that is in one version alone: all its remarks are gone, or new.
pub(super) fn only(old: Option<&Version>, new: Option<&Version>) -> Told {
    let all = |version: Option<&Version>| -> Vec<Remark> {
        let Some(version) = version else { return Vec::new() };
        let standing = version.report.findings.iter().filter(|finding| finding.waived.is_none());
        standing.map(|finding| remark(version, finding)).collect()
    };
    Told {
        versions: ScoreVersions {
            old: old.map(|old| old.report.path.clone()),
            new: new.map(|new| new.report.path.clone()),
            title: new.or(old).and_then(|version| version.report.title.clone()),
            ..ScoreVersions::default()
        },
        remarks: [all(old), all(new), Vec::new()],
        moves: Vec::new(),
    }
}

fn remark(version: &Version, finding: &Finding) -> Remark {
    Remark {
        score: version.report.path.clone(),
        was: None,
        was_severity: None,
        let_stand: None,
        finding: finding.clone(),
    }
}

/// Who a remark is about, named as in the old version.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum About<'a> {
    Part(usize),
    Other(Option<&'a str>),
}

/// Whether a remark on the old version and one on the new, of one rule and about the same part, are the same.
type SameRemark<'a> = dyn Fn(&Finding, &Finding) -> bool + 'a;

fn remarks(
    old: &Version,
    new: &Version,
    aligned: &Aligned,
    to_old: &BTreeMap<usize, usize>,
) -> [Vec<Remark>; 3] {
    let in_score = |score: &Score, finding: &Finding| {
        let (id, name) = (finding.part.as_ref()?, finding.part_name.as_ref()?);
        score.parts.iter().position(|part| part.info.id == *id && part.info.name == *name)
    };
    let about_old = |index: usize| {
        let finding = &old.report.findings[index];
        in_score(&old.score, finding).map_or(About::Other(finding.part_name.as_deref()), About::Part)
    };
    let about_new = |index: usize| {
        let finding = &new.report.findings[index];
        let part = in_score(&new.score, finding);
        let part = part.and_then(|part| aligned.parts.iter().find(|pair| pair.1 == part));
        part.map_or(About::Other(finding.part_name.as_deref()), |pair| About::Part(pair.0))
    };
    let (olds, news) = (&old.report.findings, &new.report.findings);
    let old_bar = |bar: u32| to_old.get(&(bar as usize)).map(|bar| *bar as u32);
    let same_bar = |old: &Finding, new: &Finding| old_bar(new.worst.bar_index) == Some(old.worst.bar_index);
    let overlap = |old: &Finding, new: &Finding| {
        let mut bars = (new.bar_index..=new.span.to_bar_index).filter_map(old_bar);
        bars.any(|bar| (old.bar_index..=old.span.to_bar_index).contains(&bar))
    };
    // From the surest to the least sure: each remark has one other at most.
    let ways: [&SameRemark<'_>; 5] = [
        &|old, new| old.fingerprint == new.fingerprint && same_bar(old, new),
        &|old, new| old.pass == new.pass && old.worst.beat == new.worst.beat && same_bar(old, new),
        &|old, new| same_bar(old, new),
        &|old, new| overlap(old, new),
        // A passage that was cut out here and put in there; one whose bar is still where it was is no such.
        &|old, new| {
            let stayed = aligned.bars.iter().any(|pair| pair.0 == old.worst.bar_index as usize);
            old.fingerprint == new.fingerprint && !stayed && old_bar(new.worst.bar_index).is_none()
        },
    ];
    let mut other: Vec<Option<usize>> = vec![None; news.len()];
    let mut taken = vec![false; olds.len()];
    for is_same in ways {
        for (index, finding) in
            news.iter().enumerate().filter(|(index, _)| other[*index].is_none()).collect::<Vec<_>>()
        {
            let found = (0..olds.len()).find(|&one| {
                let before = &olds[one];
                !taken[one]
                    && before.rule == finding.rule
                    && about_old(one) == about_new(index)
                    && is_same(before, finding)
            });
            if let Some(one) = found {
                taken[one] = true;
                other[index] = Some(one);
            }
        }
    }
    let mut gone: Vec<(usize, Remark)> = Vec::new();
    let (mut fresh, mut still) = (Vec::new(), Vec::new());
    for (finding, other) in news.iter().zip(&other) {
        let before = other.map(|one| (one, &olds[one])).filter(|(_, before)| before.waived.is_none());
        match (before, &finding.waived) {
            (Some((_, before)), None) => {
                let place = At {
                    bar: before.bar.clone(),
                    bar_index: before.bar_index,
                    beat: before.beat.clone(),
                    beat_unit: before.beat_unit,
                };
                let was_severity = Some(before.severity);
                still.push(Remark { was: Some(place), was_severity, ..remark(new, finding) });
            }
            (Some((one, before)), Some(waived)) => {
                gone.push((one, Remark { let_stand: Some(waived.clone()), ..remark(old, before) }));
            }
            (None, None) => fresh.push(remark(new, finding)),
            (None, Some(_)) => {}
        }
    }
    let lone = (0..olds.len()).filter(|&one| !taken[one] && olds[one].waived.is_none());
    gone.extend(lone.map(|one| (one, remark(old, &olds[one]))));
    gone.sort_by_key(|(one, _)| *one);
    [gone.into_iter().map(|(_, remark)| remark).collect(), fresh, still]
}

/// What of a written note is the same in every octave.
type Shape = (Length, Length, i32, bool);

fn shape(note: &Note) -> Shape {
    (note.bar_onset, note.length, pitch_class(note.sounding), note.grace)
}

/// Passages in another octave, and bars in which a part plays something else.
fn music(old: &Version, new: &Version, aligned: &Aligned) -> (Vec<Moved>, Vec<ChangedBars>) {
    let (mut moves, mut changes) = (Vec::new(), Vec::new());
    for &(one, other) in &aligned.parts {
        let (before, now) = (&old.score.parts[one], &new.score.parts[other]);
        // What each note of the new part was, where it is there in the old one.
        let mut was: Vec<Option<&Note>> = vec![None; now.notes.len()];
        let mut rewritten = Vec::new();
        for &(old_bar, new_bar) in &aligned.bars {
            let mut olds = shapes(before, old_bar);
            let mut news = shapes(now, new_bar);
            let alike = olds.len() == news.len()
                && olds
                    .iter()
                    .all(|(shape, notes)| news.get(shape).is_some_and(|other| other.len() == notes.len()));
            if !alike {
                rewritten.push(new_bar);
            }
            for (shape, news) in &mut news {
                let Some(olds) = olds.get_mut(shape) else { continue };
                if olds.len() != news.len() {
                    pair_what_stayed(before, now, olds, news, &mut was);
                }
                for (old, new) in olds.iter().zip(news.iter()) {
                    was[*new] = Some(&before.notes[*old]);
                }
            }
        }
        changes.extend(bars(&new.score, rewritten.into_iter()).into_iter().map(|bars| ChangedBars {
            part: now.info.id.clone(),
            part_name: now.info.name.clone(),
            bars,
        }));
        moves.extend(passages((old, new), now, &was));
    }
    (moves, changes)
}

/// The notes of a bar that are played, as indices, by shape; of one shape from below.
fn shapes(part: &Part, bar: usize) -> BTreeMap<Shape, Vec<usize>> {
    let from = part.notes.partition_point(|note| (note.bar as usize) < bar);
    let own = part.notes[from..].iter().enumerate().take_while(|(_, note)| note.bar as usize == bar);
    let mut shapes: BTreeMap<Shape, Vec<usize>> = BTreeMap::new();
    for (index, note) in own.filter(|(_, note)| note.is_played()) {
        shapes.entry(shape(note)).or_default().push(from + index);
    }
    for notes in shapes.values_mut() {
        notes.sort_by_key(|&index| part.notes[index].sounding);
    }
    shapes
}

/// Where a part has more notes of one shape in one version: those in the same octave are the same.
fn pair_what_stayed<'a>(
    before: &'a Part,
    now: &Part,
    olds: &mut Vec<usize>,
    news: &mut Vec<usize>,
    was: &mut [Option<&'a Note>],
) {
    news.retain(|&new| {
        let same = olds.iter().position(|&old| before.notes[old].sounding == now.notes[new].sounding);
        let Some(place) = same else { return true };
        was[new] = Some(&before.notes[olds.remove(place)]);
        false
    });
}

/// Notes of a voice that moved by as many octaves, one behind the other, as passages.
fn passages((old, new): (&Version, &Version), part: &Part, was: &[Option<&Note>]) -> Vec<Moved> {
    let octaves =
        |from: Sounding, to: Sounding| (to.height().in_cents() - from.height().in_cents()).div_euclid(1200);
    let mut passages: Vec<Moved> = Vec::new();
    let mut open: BTreeMap<(u8, u16), usize> = BTreeMap::new();
    for (note, was) in part.notes.iter().zip(was).filter(|(note, _)| note.is_played()) {
        let voice = (note.staff, note.voice);
        let moved = was.map_or(0, |was| octaves(was.sounding, note.sounding));
        let Some(was) = was.filter(|_| moved != 0) else {
            open.remove(&voice);
            continue;
        };
        let at = at(&new.score, note);
        let own = MovedNote {
            at: at.clone(),
            old_bar: old.score.bars.get(was.bar as usize).map(|bar| bar.number.clone()).unwrap_or_default(),
            from: was.sounding.to_string(),
            to: note.sounding.to_string(),
            continued: matches!(note.tie, Tie::Continue | Tie::Stop),
        };
        let goes_on = open.get(&voice).filter(|open| passages[**open].octaves == moved);
        if let Some(&open) = goes_on {
            passages[open].to = at;
            passages[open].notes.push(own);
        } else {
            open.insert(voice, passages.len());
            passages.push(Moved {
                score: new.report.path.clone(),
                part: part.info.id.clone(),
                part_name: part.info.name.clone(),
                octaves: moved,
                from: at.clone(),
                to: at,
                notes: vec![own],
            });
        }
    }
    passages
}

fn at(score: &Score, note: &Note) -> At {
    let place = Place::at(score, note.bar, note.bar_onset);
    At {
        bar: place.bar,
        bar_index: place.bar_index,
        beat: place.beat.to_string(),
        beat_unit: place.beat_unit,
    }
}

/// Bars that follow each other, as stretches.
fn bars(score: &Score, indices: impl Iterator<Item = usize>) -> Vec<Bars> {
    let mut stretches: Vec<Bars> = Vec::new();
    for index in indices {
        let number = score.bars.get(index).map(|bar| bar.number.clone()).unwrap_or_default();
        match stretches.last_mut().filter(|last| last.to_index as usize + 1 == index) {
            Some(last) => (last.to, last.to_index) = (number, index as u32),
            None => stretches.push(Bars {
                from: number.clone(),
                from_index: index as u32,
                to: number,
                to_index: index as u32,
            }),
        }
    }
    stretches
}
