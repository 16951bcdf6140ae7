//! Dynamics in force: from marks, hairpins and words to a level at each note's begin and end.
//!
//! The standard does not define them, so what follows was decided. A mark without a staff is for all staves of
//! the part; a lone mark is for all voices of its staff; marks with different voices at one place are for their
//! own voices. A hairpin leads to the mark at its end, or, where there is none, one mark up or down. A word
//! ("cresc.") reaches to the next mark or hairpin, and no further than the end of its dashes or a long rest.

use std::cmp::Ordering;

use super::found::{At, Shaping, ShapingKind};
use super::performance::{Performance, of_bars};
use crate::music::{Dynamic, Hairpin, Length, Onset};
use crate::score::{Later, Note};

/// A rest of so many quarter notes ends what words began, and parts a hairpin from the mark behind the rest.
const LONG_REST: Length = Length::whole_quarters(4);

/// Silence ("niente") is no dynamic mark: a player asked to fade into it, or out of it, is asked for this.
const NIENTE: Dynamic = Dynamic::Ppp;

/// A shaping at its place in the performance.
type Placed = (Onset, Shaping);

/// Sets the level, attack and hairpin of every note, for each time its bar is played. Both are in order of their bars;
/// what lasts is followed in the order in which the bars are played.
pub(super) fn apply(notes: &mut [Note], shapings: &[Shaping], performance: &Performance<'_>) {
    let mut lanes: Vec<(u8, u16)> = notes.iter().map(|note| (note.staff, note.voice)).collect();
    lanes.sort_unstable();
    lanes.dedup();
    let placed: Vec<Placed> = performance
        .visits
        .iter()
        .flat_map(|visit| {
            let mut met: Vec<Placed> = of_bars(shapings, &visit.bars, |shaping| shaping.at.bar)
                .iter()
                .filter(|shaping| shaping.passes.has(visit.time))
                .map(|shaping| (performance.met(visit, shaping.at), *shaping))
                .collect();
            met.sort_by_key(|(at, _)| *at);
            met
        })
        .collect();
    for (staff, voice) in lanes {
        let own: Vec<Placed> =
            placed.iter().filter(|shaping| is_for(shaping, &placed, staff, voice)).copied().collect();
        let is_own = |note: &Note| (note.staff, note.voice) == (staff, voice);
        let mut sounding: Vec<(Onset, Onset)> = Vec::new();
        for visit in &performance.visits {
            let here = of_bars(notes, &visit.bars, |note| note.bar).iter();
            sounding.extend(here.filter(|note| is_own(note) && note.is_played()).map(|note| {
                let onset = performance.met(visit, At::of(note));
                (onset, onset + note.length)
            }));
        }
        let curve = Curve::of(&own, &sounding);
        for visit in &performance.visits {
            let from = notes.partition_point(|note| note.bar < visit.bars.start);
            let to = notes.partition_point(|note| note.bar < visit.bars.end);
            for note in notes[from..to].iter_mut().filter(|note| is_own(note)) {
                let onset = performance.met(visit, At::of(note));
                let asked = curve.asked(note, onset, visit.pass);
                let is_new = |asked: &Later| {
                    // Where the same level was marked is nothing new.
                    let (mute, marked_in) = (note.mute, asked.marked_in);
                    let first = Later { mute, marked_in, pass: asked.pass, ..note.asked_on(1) };
                    *asked != first
                };
                if visit.pass == 1 || is_new(&asked) {
                    note.set_on(asked);
                }
            }
        }
    }
}

/// Whether a shaping is for a voice of a staff.
fn is_for((at, shaping): &Placed, all: &[Placed], staff: u8, voice: u16) -> bool {
    if shaping.staff.is_some_and(|own| own != staff) {
        return false;
    }
    let Some(own) = shaping.voice.filter(|own| *own != voice) else { return true };
    // Written with another voice: that voice's own only where marks of several voices stand at this place.
    let first = all.partition_point(|(place, _)| place < at);
    !all[first..].iter().take_while(|(place, _)| place == at).any(|(_, other)| {
        let same_staff = other.staff.is_none() || shaping.staff.is_none() || other.staff == shaping.staff;
        same_staff
            && other.voice.is_some_and(|voice| voice != own)
            && sets_level(other)
            && sets_level(shaping)
    })
}

fn sets_level(shaping: &Shaping) -> bool {
    matches!(shaping.kind, ShapingKind::Mark(_) | ShapingKind::Relative { .. })
}

/// A level from a place on, which a hairpin may move.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Segment {
    from: Onset,
    level: Option<Dynamic>,
    slope: Option<Slope>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Slope {
    to: Onset,
    /// `None`: the level is not known, only the direction.
    goal: Option<Dynamic>,
    direction: Hairpin,
}

/// The loudness of one voice over the whole score.
#[derive(Debug, Default)]
struct Curve {
    /// In order; never two at one place.
    segments: Vec<Segment>,
    attacks: Vec<(Onset, Dynamic)>,
    /// Where a mark or words set a level: the place in the performance, the bar it is written in, the level.
    marked: Vec<(Onset, u32, Dynamic)>,
}

/// What sets a level at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Setting {
    To(Dynamic),
    By { steps: i8, named: Option<Dynamic> },
}

impl Setting {
    fn from(self, level: Option<Dynamic>) -> Option<Dynamic> {
        match self {
            Setting::To(level) => Some(level),
            Setting::By { steps, named } => match level {
                Some(level) => Some(level.louder_by(i32::from(steps))),
                None => named,
            },
        }
    }
}

/// A hairpin or its word, from a place to a place.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Swell {
    from: Onset,
    to: Onset,
    direction: Hairpin,
    goal: Option<Dynamic>,
    niente: bool,
}

/// A swell whose end may still be to come.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Open {
    swell: Swell,
    sign: Sign,
    ended: bool,
}

/// What a swell is written with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sign {
    /// A wedge by its number.
    Wedge(u8),
    /// A word, with the number of its dashes where it has any.
    Word { dashes: Option<u8> },
}

/// Ends the last swell of a sign that is still open.
fn end(swells: &mut [Open], at: Onset, sign: Sign, niente: bool) {
    if let Some(open) = swells.iter_mut().rev().find(|open| !open.ended && open.sign == sign) {
        (open.swell.to, open.ended) = (at, true);
        open.swell.niente |= niente;
    }
}

impl Curve {
    fn of(own: &[Placed], sounding: &[(Onset, Onset)]) -> Curve {
        let mut curve = Curve::default();
        let (settings, swells) = curve.sort_out(own);
        let swells = bounded(swells, &settings, sounding);
        curve.follow(&settings, &swells, sounding);
        let set = own.iter().filter(|(_, shaping)| sets_level(shaping));
        curve.marked =
            set.filter_map(|(at, shaping)| Some((*at, shaping.at.bar, curve.level_at(*at)?))).collect();
        curve
    }

    /// Parts settings from swells; takes down attacks.
    fn sort_out(&mut self, own: &[Placed]) -> (Vec<(Onset, Setting)>, Vec<Open>) {
        let mut settings: Vec<(Onset, Setting)> = Vec::new();
        let mut swells: Vec<Open> = Vec::new();
        let mut silences: Vec<Onset> = Vec::new();
        let mut ruled = false;
        for &(at, shaping) in own {
            let open = |direction, goal, niente, sign| Open {
                swell: Swell { from: at, to: at, direction, goal, niente },
                sign,
                ended: false,
            };
            match shaping.kind {
                ShapingKind::Mark(mark) => {
                    ruled |= mark.level.is_some();
                    self.attacks.extend(mark.attack.map(|attack| (at, attack)));
                    settings.extend(mark.level.map(|level| (at, Setting::To(level))));
                }
                ShapingKind::Relative { steps, named } => {
                    ruled = true;
                    settings.push((at, Setting::By { steps, named }));
                }
                ShapingKind::Sound(level) if !ruled => settings.push((at, Setting::To(level))),
                ShapingKind::WedgeStart { direction, number, niente } => {
                    swells.push(open(direction, None, niente, Sign::Wedge(number)));
                }
                ShapingKind::WordHairpin { direction, to: goal, niente } => {
                    swells.push(open(direction, goal, niente, Sign::Word { dashes: None }));
                }
                ShapingKind::WedgeStop { number, niente } => {
                    end(&mut swells, at, Sign::Wedge(number), niente);
                }
                ShapingKind::DashesStart { number } => {
                    // Programs set the dashes a little behind their word.
                    let word = swells.iter_mut().rev().find(|open| matches!(open.sign, Sign::Word { .. }));
                    let near = word.filter(|open| at.since(open.swell.from) < LONG_REST && !open.ended);
                    if let Some(Open { sign: Sign::Word { dashes: dashes @ None }, .. }) = near {
                        *dashes = Some(number);
                    }
                }
                ShapingKind::DashesStop { number } => {
                    end(&mut swells, at, Sign::Word { dashes: Some(number) }, false);
                }
                ShapingKind::Niente => silences.push(at),
                ShapingKind::Sound(_) => {}
            }
        }
        for silence in silences {
            for Open { swell, ended, .. } in &mut swells {
                match swell.direction {
                    Hairpin::Crescendo => swell.niente |= swell.from == silence,
                    Hairpin::Diminuendo if *ended => swell.niente |= swell.to == silence,
                    Hairpin::Diminuendo if swell.from < silence => {
                        (swell.to, swell.niente, *ended) = (silence, true, true);
                    }
                    Hairpin::Diminuendo => {}
                }
            }
        }
        (settings, swells)
    }

    /// Goes through all places where something begins or ends.
    fn follow(&mut self, settings: &[(Onset, Setting)], swells: &[Swell], sounding: &[(Onset, Onset)]) {
        let mut places: Vec<Onset> = settings.iter().map(|(at, _)| *at).collect();
        places.extend(swells.iter().flat_map(|swell| [swell.from, swell.to]));
        places.sort_unstable();
        places.dedup();
        // The level before a hairpin into silence: it comes back where no mark says otherwise.
        let mut before_niente = None;
        for (index, &at) in places.iter().enumerate() {
            let arrived = self.level_up_to(at);
            // Swells are in order and do not overlap: the one before this place may end here.
            let begun = swells.partition_point(|swell| swell.from <= at);
            let swell = swells[..begun].last().filter(|swell| swell.to > at);
            let before = swells.partition_point(|swell| swell.from < at);
            let ended = swells[..before].last().is_some_and(|swell| swell.to == at && swell.niente);
            let mut level = if ended { before_niente.take().or(arrived) } else { arrived };
            for (_, setting) in at_place(settings, at) {
                level = setting.from(level);
            }
            let slope = swell.and_then(|swell| {
                let to = places[index + 1..].iter().copied().find(|place| *place > at)?;
                if swell.niente && swell.direction == Hairpin::Crescendo && swell.from == at {
                    level = Some(NIENTE);
                }
                if swell.niente && swell.direction == Hairpin::Diminuendo && swell.from == at {
                    before_niente = level;
                }
                // A setting within a hairpin cuts it in two; each piece has a goal of its own.
                let goal = goal(swell, level, to, settings, sounding);
                Some(Slope { to, goal, direction: swell.direction })
            });
            self.segments.push(Segment { from: at, level, slope });
        }
    }

    /// The level that a place is reached with, before anything at the place itself.
    fn level_up_to(&self, at: Onset) -> Option<Dynamic> {
        let index = self.segments.partition_point(|segment| segment.from < at).checked_sub(1)?;
        self.segments[index].level_at(at)
    }

    fn level_at(&self, at: Onset) -> Option<Dynamic> {
        let index = self.segments.partition_point(|segment| segment.from <= at).checked_sub(1)?;
        self.segments[index].level_at(at)
    }

    /// What is asked of a note that begins here.
    fn asked(&self, note: &Note, onset: Onset, pass: u32) -> Later {
        let end = onset + note.length;
        let mut asked = Later {
            pass,
            dynamic: self.level_at(onset),
            marked_in: None,
            until: None,
            attack: None,
            hairpin: None,
            mute: note.mute,
        };
        let marked = self.marked.partition_point(|(at, ..)| *at <= onset).checked_sub(1);
        let marked = marked.map(|last| self.marked[last]).filter(|(.., level)| Some(*level) == asked.dynamic);
        asked.marked_in = marked.map(|(_, bar, _)| bar);
        let first = self.segments.partition_point(|segment| segment.from <= onset).saturating_sub(1);
        let under = self.segments[first.min(self.segments.len())..]
            .iter()
            .take_while(|segment| segment.from < end || segment.from <= onset)
            .find_map(|segment| segment.slope.filter(|slope| slope.to > onset));
        if let Some(slope) = under {
            asked.hairpin = Some(slope.direction);
            if end > onset {
                asked.until = self.level_up_to(end).filter(|until| Some(*until) != asked.dynamic);
            }
        }
        if !note.grace {
            let first = self.attacks.partition_point(|(at, _)| *at < onset);
            asked.attack = self.attacks[first..]
                .iter()
                .take_while(|(at, _)| *at == onset)
                .map(|(_, attack)| *attack)
                .max();
        }
        asked
    }
}

impl Segment {
    /// The level at a place from here on: along the slope, in whole marks.
    fn level_at(&self, at: Onset) -> Option<Dynamic> {
        let level = self.level?;
        let Some(Slope { to, goal: Some(goal), .. }) = self.slope else { return self.level };
        let whole = to.since(self.from).in_quarters();
        let share = if whole > 0.0 { at.since(self.from).in_quarters() / whole } else { 1.0 };
        let steps = f64::from(goal.steps_above(level)) * share.clamp(0.0, 1.0);
        // Along a hairpin a mark is reached, not anticipated.
        Some(level.louder_by(steps.trunc() as i32))
    }
}

/// Gives every swell its end: its own, the next swell's beginning, or, for one that is left open, the next mark
/// or the next long rest. In order, and none overlaps.
fn bounded(mut opened: Vec<Open>, settings: &[(Onset, Setting)], sounding: &[(Onset, Onset)]) -> Vec<Swell> {
    opened.sort_by_key(|open| open.swell.from);
    let mut swells: Vec<Swell> = Vec::with_capacity(opened.len());
    for Open { mut swell, ended, sign } in opened {
        let next = settings.partition_point(|(at, _)| *at <= swell.from);
        let mark = settings.get(next).map(|(at, _)| *at);
        if !ended {
            swell.to = first_rest(swell.from, mark, sounding);
        } else if let (Sign::Word { .. }, Some(mark)) = (sign, mark) {
            swell.to = swell.to.min(mark);
        }
        if let Some(before) = swells.last_mut() {
            before.to = before.to.min(swell.from);
            // Of several that begin at one place the last written counts.
            if before.to <= before.from {
                swells.pop();
            }
        }
        if swell.to > swell.from {
            swells.push(swell);
        }
    }
    swells
}

/// Where the playing that goes on at a place comes to a long rest, to a mark, or to its end.
fn first_rest(from: Onset, mark: Option<Onset>, sounding: &[(Onset, Onset)]) -> Onset {
    let first = sounding.partition_point(|(onset, _)| *onset < from);
    // A note that is held over the place counts too.
    let mut reached = sounding[..first].last().map(|(_, end)| *end).filter(|end| *end > from);
    for &(onset, end) in &sounding[first..] {
        let rested = reached.is_some_and(|reached| onset.since(reached) >= LONG_REST);
        if rested || mark.is_some_and(|mark| onset >= mark) {
            break;
        }
        reached = Some(reached.map_or(end, |reached| reached.max(end)));
    }
    let reached = reached.unwrap_or(from);
    match mark {
        // The mark right behind the playing is where it leads.
        Some(mark) if reached >= mark || mark.since(reached) < LONG_REST => mark,
        _ => reached,
    }
}

fn at_place(settings: &[(Onset, Setting)], at: Onset) -> impl Iterator<Item = &(Onset, Setting)> {
    let first = settings.partition_point(|(place, _)| *place < at);
    settings[first..].iter().take_while(move |(place, _)| *place == at)
}

/// Where a swell leads by `to`: the setting there or right behind its end, where it lies in the swell's
/// direction; else what its words name; else one mark.
fn goal(
    swell: &Swell,
    level: Option<Dynamic>,
    to: Onset,
    settings: &[(Onset, Setting)],
    sounding: &[(Onset, Onset)],
) -> Option<Dynamic> {
    let end = swell.to;
    let set = settings
        .get(settings.partition_point(|(at, _)| *at < to))
        .filter(|(at, _)| *at == to || (to == end && follows(end, *at, sounding)))
        .and_then(|(_, setting)| setting.from(level));
    let fits = |goal: &Dynamic| {
        level.is_none_or(|level| match swell.direction {
            Hairpin::Crescendo => goal.cmp(&level) == Ordering::Greater,
            Hairpin::Diminuendo => goal.cmp(&level) == Ordering::Less,
        })
    };
    if let Some(goal) = set.filter(fits) {
        return Some(goal);
    }
    if to != end {
        // Cut by a setting against its direction: this piece keeps its level.
        return level;
    }
    if swell.niente && swell.direction == Hairpin::Diminuendo {
        return Some(NIENTE).filter(fits).or(level);
    }
    let step = match swell.direction {
        Hairpin::Crescendo => 1,
        Hairpin::Diminuendo => -1,
    };
    swell.goal.filter(fits).or_else(|| level.map(|level| level.louder_by(step)))
}

/// Whether a mark belongs to the end of a hairpin before it: no note begins and no long rest lies between.
fn follows(end: Onset, mark: Onset, sounding: &[(Onset, Onset)]) -> bool {
    let next = sounding.partition_point(|(onset, _)| *onset < end);
    mark.since(end) < LONG_REST && sounding.get(next).is_none_or(|(onset, _)| *onset >= mark)
}

#[cfg(test)]
mod tests;
