//! Dynamics in force: from marks, hairpins and words to a level at each note's begin and end.
//!
//! The standard does not define them, so what follows was decided. A mark without a staff is for all staves of
//! the part; a lone mark is for all voices of its staff; marks with different voices at one place are for their
//! own voices. A hairpin leads to the mark at its end, or, where there is none, one mark up or down. A word
//! ("cresc.") reaches to the next mark or hairpin, to the end of its dashes, or to a long rest.

use std::cmp::Ordering;

use super::found::{Shaping, ShapingKind};
use super::words::{self, Meaning};
use crate::music::{Dynamic, Hairpin, Length, Mark, Onset};
use crate::score::Note;

/// A rest of so many quarter notes ends what words began, and parts a hairpin from the mark behind the rest.
const LONG_REST: Length = Length::whole_quarters(4);

/// Silence ("niente") is no dynamic mark: a player asked to fade into it, or out of it, is asked for this.
const NIENTE: Dynamic = Dynamic::Ppp;

/// A shaping at its place in the score.
pub(super) type Placed = (Onset, Shaping);

/// Sets the level, attack and hairpin of every note. Both are in order of onset.
pub(super) fn apply(notes: &mut [Note], shapings: &[Placed]) {
    let mut lanes: Vec<(u8, u16)> = notes.iter().map(|note| (note.staff, note.voice)).collect();
    lanes.sort_unstable();
    lanes.dedup();
    for (staff, voice) in lanes {
        let own: Vec<Placed> =
            shapings.iter().filter(|placed| is_for(placed, shapings, staff, voice)).copied().collect();
        let mut lane: Vec<&mut Note> =
            notes.iter_mut().filter(|note| (note.staff, note.voice) == (staff, voice)).collect();
        let sounding: Vec<(Onset, Onset)> =
            lane.iter().filter(|note| note.is_played()).map(|note| (note.onset, note.end())).collect();
        let curve = Curve::of(&own, &sounding);
        for note in &mut lane {
            curve.shape(note);
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
    /// The number of its wedge; `None` for a word.
    number: Option<u8>,
    ended: bool,
}

impl Curve {
    fn of(own: &[Placed], sounding: &[(Onset, Onset)]) -> Curve {
        let mut curve = Curve::default();
        let (settings, swells) = curve.sort_out(own);
        let swells = bounded(swells, &settings, sounding);
        curve.follow(&settings, &swells, sounding);
        curve
    }

    /// Parts settings from swells; takes down attacks.
    fn sort_out(&mut self, own: &[Placed]) -> (Vec<(Onset, Setting)>, Vec<Open>) {
        let mut settings: Vec<(Onset, Setting)> = Vec::new();
        let mut swells: Vec<Open> = Vec::new();
        let mut silences: Vec<Onset> = Vec::new();
        let mut ruled = false;
        for (position, &(at, shaping)) in own.iter().enumerate() {
            let open = |direction, goal, niente, number| Open {
                swell: Swell { from: at, to: at, direction, goal, niente },
                number,
                ended: false,
            };
            let mut end = |number: Option<u8>, niente: bool| {
                if let Some(open) = swells.iter_mut().rev().find(|open| !open.ended && open.number == number)
                {
                    (open.swell.to, open.ended) = (at, true);
                    open.swell.niente |= niente;
                }
            };
            match shaping.kind {
                ShapingKind::Mark(mark) => {
                    ruled |= mark.level.is_some();
                    self.attacks.extend(mark.attack.map(|attack| (at, attack)));
                    if let Some(setting) = setting(mark, at, &own[..position], &own[position + 1..]) {
                        settings.push((at, setting));
                    }
                }
                ShapingKind::Relative { steps, named } => {
                    ruled = true;
                    settings.push((at, Setting::By { steps, named }));
                }
                ShapingKind::Sound(level) if !ruled => settings.push((at, Setting::To(level))),
                ShapingKind::WedgeStart { direction, number, niente } => {
                    swells.push(open(direction, None, niente, Some(number)));
                }
                ShapingKind::WordHairpin { direction, to: goal, niente } => {
                    swells.push(open(direction, goal, niente, None));
                }
                ShapingKind::WedgeStop { number, niente } => end(Some(number), niente),
                ShapingKind::DashesStop => end(None, false),
                ShapingKind::Niente => silences.push(at),
                ShapingKind::Sound(_) | ShapingKind::Qualifier(_) => {}
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

    fn shape(&self, note: &mut Note) {
        let end = note.end();
        note.dynamic = self.level_at(note.onset);
        let first = self.segments.partition_point(|segment| segment.from <= note.onset).saturating_sub(1);
        let under = self.segments[first.min(self.segments.len())..]
            .iter()
            .take_while(|segment| segment.from < end || segment.from <= note.onset)
            .find_map(|segment| segment.slope.filter(|slope| slope.to > note.onset));
        if let Some(slope) = under {
            note.hairpin = Some(slope.direction);
            if end > note.onset {
                note.until = self.level_up_to(end).filter(|until| Some(*until) != note.dynamic);
            }
        }
        if !note.grace {
            let first = self.attacks.partition_point(|(at, _)| *at < note.onset);
            note.attack = self.attacks[first..]
                .iter()
                .take_while(|(at, _)| *at == note.onset)
                .map(|(_, attack)| *attack)
                .max();
        }
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

/// The setting of a mark; "più" or "meno" beside it make it relative.
fn setting(mark: Mark, at: Onset, before: &[Placed], after: &[Placed]) -> Option<Setting> {
    let level = mark.level?;
    let mut beside = before
        .iter()
        .rev()
        .take_while(|(place, _)| *place == at)
        .chain(after.iter().take_while(|(place, _)| *place == at));
    let relative = beside.find_map(|(_, shaping)| match shaping.kind {
        ShapingKind::Qualifier(qualifier) => Some(words::qualified(qualifier, level)),
        _ => None,
    });
    Some(match relative {
        Some(Meaning::Relative { steps, named }) => Setting::By { steps, named },
        _ => Setting::To(level),
    })
}

/// Gives every swell its end: its own, the next swell's beginning, or, for one that is left open, the next mark
/// or the next long rest. In order, and none overlaps.
fn bounded(mut opened: Vec<Open>, settings: &[(Onset, Setting)], sounding: &[(Onset, Onset)]) -> Vec<Swell> {
    opened.sort_by_key(|open| open.swell.from);
    let mut swells: Vec<Swell> = Vec::with_capacity(opened.len());
    for Open { mut swell, ended, .. } in opened {
        if !ended {
            let next = settings.partition_point(|(at, _)| *at <= swell.from);
            let mark = settings.get(next).map(|(at, _)| *at);
            swell.to = first_rest(swell.from, mark, sounding);
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
mod tests {
    use crate::music::Dynamic;
    use crate::musicxml::testing::{bar, direction, note};
    use crate::score::{Note, Part};

    /// Level, "!" and attack, ">" and level at the end, "<" or "-" under a hairpin.
    fn shape(note: &Note) -> String {
        let letters = |dynamic: Option<Dynamic>| dynamic.map_or("?", Dynamic::letters);
        let attack = note.attack.map(|attack| format!("!{attack}")).unwrap_or_default();
        let until = note.until.map(|until| format!(">{until}")).unwrap_or_default();
        let hairpin = match note.hairpin {
            Some(crate::music::Hairpin::Crescendo) => "<",
            Some(crate::music::Hairpin::Diminuendo) => "-",
            None => "",
        };
        format!("{}{attack}{until}{hairpin}", letters(note.dynamic))
    }

    fn shapes(part: &Part) -> Vec<String> {
        part.notes.iter().map(shape).collect()
    }

    fn mark(letters: &str) -> String {
        direction(&format!("<dynamics>{letters}</dynamics>"))
    }

    fn wedge(attributes: &str) -> String {
        direction(&format!("<wedge {attributes}/>"))
    }

    #[track_caller]
    fn shaped(pieces: &[String]) -> Vec<String> {
        shapes(&bar(&pieces.concat()))
    }

    fn c() -> String {
        note("C2", 4, "")
    }

    #[test]
    fn a_mark_holds_to_the_next_and_before_it_nothing_is_known() {
        assert_eq!(shaped(&[c(), mark("<p/>"), c(), c(), mark("<ff/>"), c()]), ["?", "p", "p", "ff"]);
    }

    #[test]
    fn forced_marks_are_an_attack_on_their_own_note_only() {
        let levels = shaped(&[mark("<p/>"), c(), mark("<sf/>"), c(), mark("<s/><fp/>"), c(), c()]);
        assert_eq!(levels, ["p", "p!f", "p!f", "p"]);
    }

    #[test]
    fn a_hairpin_leads_to_the_mark_at_its_end() {
        let pieces =
            [mark("<p/>"), wedge("type='crescendo'"), c(), c(), c(), wedge("type='stop'"), mark("<f/>"), c()];
        // p to f are three marks over three beats.
        assert_eq!(shaped(&pieces), ["p>mp<", "mp>mf<", "mf>f<", "f"]);
    }

    #[test]
    fn a_hairpin_without_a_mark_leads_one_mark_on() {
        let pieces = [mark("<f/>"), wedge("type='diminuendo'"), c(), c(), wedge("type='stop'"), c()];
        assert_eq!(shaped(&pieces), ["f-", "f>mf-", "mf"]);
    }

    #[test]
    fn a_mark_against_the_hairpin_is_no_goal_of_it() {
        let pieces = [mark("<f/>"), wedge("type='crescendo'"), c(), wedge("type='stop'"), mark("<p/>"), c()];
        assert_eq!(shaped(&pieces), ["f>ff<", "p"]);
    }

    #[test]
    fn a_mark_within_a_hairpin_cuts_it_in_two() {
        let pieces = [
            mark("<p/>"),
            wedge("type='crescendo'"),
            c(),
            mark("<mf/>"),
            c(),
            wedge("type='stop'"),
            mark("<ff/>"),
            c(),
        ];
        assert_eq!(shaped(&pieces), ["p>mf<", "mf>ff<", "ff"]);
    }

    #[test]
    fn a_hairpin_may_begin_and_end_under_one_note() {
        let content = format!(
            "{}{}<forward><duration>8</duration></forward>{}<forward><duration>8</duration></forward>{}<backup><duration>16</duration></backup>{}",
            mark("<p/>"),
            "",
            wedge("type='crescendo'"),
            wedge("type='stop'"),
            note("C2", 16, "")
        );
        assert_eq!(shapes(&bar(&content)), ["p>mp<"]);
    }

    #[test]
    fn into_silence_is_very_soft_and_the_level_comes_back() {
        let pieces = [
            mark("<p/>"),
            wedge("type='diminuendo'"),
            c(),
            c(),
            wedge("type='stop' niente='yes'"),
            c(),
            wedge("type='crescendo' niente='yes'"),
            c(),
            wedge("type='stop'"),
            mark("<f/>"),
        ];
        assert_eq!(shaped(&pieces), ["p>pp-", "pp>ppp-", "p", "ppp>f<"]);
    }

    #[test]
    fn the_letter_n_makes_the_hairpin_beside_it_one_of_silence() {
        let pieces = [
            mark("<p/>"),
            wedge("type='diminuendo'"),
            c(),
            c(),
            wedge("type='stop'"),
            mark("<n/>"),
            c(),
            mark("<n/>"),
            wedge("type='crescendo'"),
            c(),
            wedge("type='stop'"),
            mark("<f/>"),
        ];
        assert_eq!(shaped(&pieces), ["p>pp-", "pp>ppp-", "p", "ppp>f<"]);
    }

    #[test]
    fn a_lone_mark_is_for_all_voices_and_marks_side_by_side_are_for_their_own() {
        let mark = |letters: &str, voice: &str| {
            format!(
                "<direction><direction-type><dynamics>{letters}</dynamics></direction-type><voice>{voice}</voice></direction>"
            )
        };
        let back = "<backup><duration>4</duration></backup>".to_owned();
        let voice = |voice: &str| note("C2", 4, &format!("<voice>{voice}</voice>"));
        let lone = [mark("<p/>", "1"), voice("1"), back.clone(), voice("2")];
        assert_eq!(shaped(&lone), ["p", "p"]);
        let both = [mark("<p/>", "1"), voice("1"), back, mark("<f/>", "2"), voice("2")];
        assert_eq!(shaped(&both), ["p", "f"]);
    }

    #[test]
    fn a_mark_for_a_staff_leaves_the_others_alone() {
        let mark = "<direction><direction-type><dynamics><p/></dynamics></direction-type><staff>2</staff></direction>";
        let pieces = [mark.to_owned(), note("C4", 4, ""), note("C2", 4, "<staff>2</staff>")];
        assert_eq!(shaped(&pieces), ["?", "p"]);
    }

    #[test]
    fn an_offset_moves_the_mark() {
        let moved = "<direction><direction-type><dynamics><f/></dynamics></direction-type><offset>4</offset></direction>";
        assert_eq!(shaped(&[mark("<p/>"), moved.to_owned(), c(), c()]), ["p", "f"]);
    }

    #[test]
    fn a_mark_among_the_notations_counts_like_one_above_the_staff() {
        let pieces = [note("C2", 4, "<notations><dynamics><fp/></dynamics></notations>"), c()];
        assert_eq!(shaped(&pieces), ["p!f", "p"]);
    }

    #[test]
    fn sound_dynamics_count_only_where_no_mark_rules() {
        let sound = "<sound dynamics='106.67'/>".to_owned();
        assert_eq!(shaped(&[sound.clone(), c(), mark("<p/>"), c(), sound, c()]), ["f", "p", "p"]);
    }
}
