//! How sure a move is: what it does to the other players, to like music elsewhere and to the line itself.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::cuts::Between;
use super::figures::{self, Figures};
use super::other_voices::{OtherVoices, Tally, semitones};
use super::region::Region;
use crate::music::Seconds;
use crate::playing::Section;
use crate::profile::MoveLimits;
use crate::score::Line;

/// What is known of a move before it is written down.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Opinion {
    /// Why a person should look first.
    pub why_not_safe: Option<String>,
    /// What becomes of a doubling.
    pub doubling: Option<String>,
    /// Whether anything but its pitches says that it lies in another octave than it should: the other voices and like leaps
    /// of the line, or a leap in or out that narrows.
    pub founded: bool,
    /// Why it may be meant as it stands, where it can be played so.
    pub meant: Option<String>,
}

/// A line with all that its regions are judged by, gathered once.
pub(super) struct Study<'s> {
    line: &'s Line,
    /// The other lines of the same desk, by index.
    beside_it: Vec<(usize, &'s Line)>,
    other_voices: &'s OtherVoices<'s>,
    between: &'s [Between],
    figures: &'s Figures,
    moves: &'s MoveLimits,
}

/// Octaves that a played note moves by: desk, line, note.
pub(super) type OctavesOf<'a> = &'a dyn Fn(usize, usize, usize) -> i8;

impl<'s> Study<'s> {
    /// Studies a line among the other voices.
    pub(super) fn of(
        section: &'s Section<'_>,
        desk: usize,
        line: usize,
        other_voices: &'s OtherVoices<'s>,
        between: &'s [Between],
        figures: &'s Figures,
    ) -> Study<'s> {
        let others = section.desks[desk].lines.iter().enumerate();
        let beside_it = others.filter(|&(index, _)| index != line).collect();
        let line = &section.desks[desk].lines[line];
        let moves = &section.limits.moves;
        Study { line, beside_it, other_voices, between, figures, moves }
    }

    /// What to think of moving a region of this line.
    pub(super) fn opinion(&self, region: &Region, octaves_of: OctavesOf<'_>) -> Opinion {
        let here = |note: usize| octaves_of(region.desk, region.line, note);
        let likeness = self.likeness(region, &here);
        // Where the line and its neighbours stand more as they do elsewhere, or the same music stands elsewhere, a
        // crossing or a unison is how the piece goes, and the octave it took the place of was not.
        let in_the_way = self
            .in_the_way(region, octaves_of)
            .filter(|_| region.gain <= 0 && !likeness.is_brought_together());
        let at_home = (region.odds < -self.moves.prices.at_home)
            .then(|| "as written it stands more as the part and its neighbours do elsewhere".to_owned());
        let upset = self.upset(region, octaves_of);
        let reasons = [upset, in_the_way, self.leap(region, &here), likeness.is_left_behind(), at_home];
        Opinion {
            why_not_safe: reasons.into_iter().flatten().reduce(|a, b| format!("{a}; {b}")),
            doubling: self.doubling(region, octaves_of),
            founded: region.gain > 0 || self.narrows(region, &here),
            meant: self.comes_back(region).or_else(|| self.is_a_pedal(region)),
        }
    }

    /// Of a single note, a leap into it or out of it that the line makes time and again between the same two notes.
    fn comes_back(&self, region: &Region) -> Option<String> {
        if region.first != region.last {
            return None;
        }
        let out = Some(region.last).filter(|last| last + 1 < self.line.played.len());
        let pair = |gap: usize| [gap, gap + 1].map(|note| self.line.played[note].sounding);
        [region.first.checked_sub(1), out].into_iter().flatten().find_map(|gap| {
            if semitones(&self.line.played[gap], &self.line.played[gap + 1]).abs()
                < self.moves.prices.seam_from
            {
                return None;
            }
            let times = (0..self.line.played.len() - 1).filter(|&other| pair(other) == pair(gap)).count();
            let [from, to] = pair(gap);
            (times >= self.moves.recurs).then(|| format!("the line goes from {from} to {to} {times} times"))
        })
    }

    /// A single note an octave away from the same note beside it, at the end of a phrase: an ending goes down like that.
    fn is_a_pedal(&self, region: &Region) -> Option<String> {
        let before = region.first.checked_sub(1).filter(|_| region.first == region.last)?;
        let rests = self.between.get(region.last).is_none_or(|between| between.is_rest());
        let goes_on = self.between[before].rest() == 0.0;
        let octave = semitones(&self.line.played[before], &self.line.played[region.last]) == -12;
        (rests && goes_on && octave).then(|| "the phrase may mean to end an octave lower".to_owned())
    }

    /// What sounds beside a region: the voice, semitones below as written and after the moves, and whether it doubles.
    fn beside(
        &self,
        region: &Region,
        octaves_of: OctavesOf<'_>,
    ) -> impl Iterator<Item = (usize, i32, i32, bool)> {
        (region.first..=region.last).flat_map(move |note| self.beside_note(region, note, octaves_of))
    }

    /// The same of one note of it.
    fn beside_note(
        &self,
        region: &Region,
        note: usize,
        octaves_of: OctavesOf<'_>,
    ) -> impl Iterator<Item = (usize, i32, i32, bool)> {
        let octaves = region.octaves;
        self.other_voices.beside(note).iter().map(move |beside| {
            let player = self.other_voices.voices[beside.voice].player;
            let theirs =
                player.zip(beside.played).map_or(0, |((desk, line), played)| octaves_of(desk, line, played));
            (beside.voice, beside.above, beside.above + 12 * i32::from(octaves - theirs), beside.doubles)
        })
    }

    /// Octaves between two players that fall together, and players that cross, where they do neither
    /// elsewhere.
    fn in_the_way(&self, region: &Region, octaves_of: OctavesOf<'_>) -> Option<String> {
        let mut beside: BTreeMap<(usize, usize), Beside> = BTreeMap::new();
        for note in region.first..=region.last {
            // Which notes of a desk are heard with this one, as written and after the moves.
            let mut desks: BTreeMap<(usize, usize), Vec<(i32, i32)>> = BTreeMap::new();
            for (voice, was, will_be, doubles) in self.beside_note(region, note, octaves_of) {
                let Some((desk, line)) = self.other_voices.voices[voice].player else { continue };
                // The other players of the own desk are heard each for themselves.
                let desk = (desk, if desk == region.desk { line } else { 0 });
                desks.entry(desk).or_default().push((was, will_be));
                let of_desk = beside.entry(desk).or_default();
                let (tally, collapsed) = of_desk.voices.entry(voice).or_default();
                tally.add(was);
                *collapsed += u32::from(doubles && was != 0 && will_be == 0);
            }
            for (desk, heard) in desks {
                let of_desk = beside.entry(desk).or_default();
                of_desk.notes += 1;
                of_desk.before.add(heard.iter().map(|&(was, _)| was));
                of_desk.after.add(heard.iter().map(|&(_, will_be)| will_be));
            }
        }
        beside.into_iter().find_map(|(desk, beside)| {
            let often = |notes: u32, of: u32| f64::from(notes) > self.moves.often * f64::from(of);
            let (mut higher, mut lower, mut name) = (0, 0, "");
            for (&voice, &(before, collapsed)) in &beside.voices {
                let elsewhere = self.other_voices.tallies[voice].without(before);
                name = self.other_voices.voices[voice].name;
                if often(collapsed, before.both) && elsewhere.octaves >= elsewhere.unison {
                    return Some(format!("the octave with {name} becomes a unison"));
                }
                higher += elsewhere.above;
                lower += elsewhere.below;
            }
            // Who is above elsewhere is meant to be above here; where nothing tells, who stands above on the page.
            let above = if higher == lower { (region.desk, region.line) < desk } else { higher > lower };
            let crossing = |places: Places| if above { places.below } else { places.above };
            let new = crossing(beside.after).saturating_sub(crossing(beside.before));
            often(new, beside.notes).then(|| format!("it crosses {name}"))
        })
    }

    /// Notes struck together on one staff that change places: which player has which would be read otherwise.
    fn upset(&self, region: &Region, octaves_of: OctavesOf<'_>) -> Option<String> {
        let upset = self.line.played[region.first..=region.last].iter().any(|note| {
            self.beside_it.iter().any(|&(index, line)| {
                let first = line.played.partition_point(|other| other.onset < note.onset);
                (first..line.played.len()).take_while(|&at| line.played[at].onset == note.onset).any(|at| {
                    let other = &line.played[at];
                    let before = semitones(other, note);
                    let away = region.octaves - octaves_of(region.desk, index, at);
                    before != 0 && before.signum() != (before + 12 * i32::from(away)).signum()
                })
            })
        });
        upset.then(|| "it changes places with another note on the staff".to_owned())
    }

    /// A leap wider than allowed at either end that was not there before.
    fn leap(&self, region: &Region, octaves_of: &dyn Fn(usize) -> i8) -> Option<String> {
        let line = self.line;
        let out = Some(region.last).filter(|last| last + 1 < line.played.len());
        [region.first.checked_sub(1), out].into_iter().flatten().find_map(|gap| {
            let silence = line.rest_after(gap).map_or(0.0, Seconds::get);
            if self.between[gap].rest() > 0.0 && silence > self.moves.hides.get() {
                return None;
            }
            let before = semitones(&line.played[gap], &line.played[gap + 1]);
            let after = before + 12 * i32::from(octaves_of(gap + 1) - octaves_of(gap));
            (f64::from(after.abs()) > self.moves.leap && after.abs() > before.abs()).then(|| {
                let side = if gap < region.first { "into" } else { "out of" };
                format!("a leap of {} semitones {side} it, {} as written", after.abs(), before.abs())
            })
        })
    }

    /// Whether the leap into it or out of it is narrower afterwards.
    fn narrows(&self, region: &Region, octaves_of: &dyn Fn(usize) -> i8) -> bool {
        let played = &self.line.played;
        let out = Some(region.last).filter(|last| last + 1 < played.len());
        [region.first.checked_sub(1), out].into_iter().flatten().any(|gap| {
            let before = semitones(&played[gap], &played[gap + 1]);
            let after = before + 12 * i32::from(octaves_of(gap + 1) - octaves_of(gap));
            after.abs() < before.abs()
        })
    }

    /// How the figures of a region stand to the like figures elsewhere.
    fn likeness(&self, region: &Region, octaves_of: &dyn Fn(usize) -> i8) -> Likeness {
        let mut likeness = Likeness::default();
        let Some(length) = figures::length(region.last - region.first + 1) else { return likeness };
        let played = &self.line.played;
        for at in region.first..=region.last + 1 - length {
            let nearest = |moved: i32| {
                let others = self.figures.like(self.line, at, length);
                others
                    .filter(|other| !(region.first..=region.last).contains(other))
                    .map(|other| {
                        let octaves = octaves_of(at) - octaves_of(other);
                        (semitones(&played[other], &played[at]) + 12 * moved * i32::from(octaves)).abs()
                    })
                    .min()
            };
            let (Some(before), Some(after)) = (nearest(0), nearest(1)) else { continue };
            likeness.alike += 1;
            likeness.left_behind += u32::from(after > before && before <= self.moves.sequence);
            likeness.brought_together += u32::from(after == 0 && before > 0);
        }
        likeness
    }

    /// What becomes of the voice that doubles most of the region.
    fn doubling(&self, region: &Region, octaves_of: OctavesOf<'_>) -> Option<String> {
        let struck = self.line.played[region.first..=region.last].iter().filter(|note| !note.grace).count();
        let mut heard: BTreeMap<usize, BTreeMap<(i32, i32), usize>> = BTreeMap::new();
        for (voice, was, will_be, _) in self.beside(region, octaves_of).filter(|&(.., doubles)| doubles) {
            *heard.entry(voice).or_default().entry((was, will_be)).or_default() += 1;
        }
        let doubled = heard.into_iter().filter_map(|(voice, ways)| {
            let (way, count) =
                ways.into_iter().min_by_key(|&(way, count)| (Reverse(count), way.1.abs(), way))?;
            (count as f64 >= self.moves.mostly * struck as f64).then_some((voice, way, count))
        });
        // Whether a voice two or three octaves off comes an octave nearer matters to nobody.
        let doubled = doubled.filter(|&(_, (was, will_be), _)| was.abs() <= 12 || will_be == 0);
        // A player before the rest of the orchestra; of several the one that doubles most; in score order.
        let (voice, (was, will_be), _) = doubled.min_by_key(|&(voice, _, count)| {
            (self.other_voices.voices[voice].player.is_none(), Reverse(count), voice)
        })?;
        let name = self.other_voices.voices[voice].name;
        Some(if was == will_be {
            format!("keeps the {} with {name}", if will_be == 0 { "unison" } else { "octave" })
        } else if will_be == 0 {
            format!("comes into unison with {name}, from {}", octaves_away(was))
        } else {
            format!("comes to {} {name}, from {}", octaves_away(will_be), octaves_away(was))
        })
    }
}

/// What a region has beside it in one desk.
#[derive(Clone, Debug, Default)]
struct Beside {
    /// By voice: how the region stands to it as written, and how many octaves fall together.
    voices: BTreeMap<usize, (Tally, u32)>,
    /// Notes of the region that sound with it.
    notes: u32,
    before: Places,
    after: Places,
}

/// How often a line lies above all that a desk sounds, and below all of it: between two notes of one desk it crosses
/// nobody.
#[derive(Clone, Copy, Debug, Default)]
struct Places {
    above: u32,
    below: u32,
}

impl Places {
    fn add(&mut self, semitones_above: impl Iterator<Item = i32>) {
        let (mut all_above, mut all_below) = (true, true);
        for above in semitones_above {
            all_above &= above > 0;
            all_below &= above < 0;
        }
        self.above += u32::from(all_above);
        self.below += u32::from(all_below);
    }
}

/// How many figures of a region have like ones elsewhere, and what becomes of the two.
#[derive(Clone, Copy, Debug, Default)]
struct Likeness {
    alike: u32,
    left_behind: u32,
    brought_together: u32,
}

impl Likeness {
    /// Like music elsewhere stays where it is, so that the two no longer answer each other.
    fn is_left_behind(self) -> Option<String> {
        (2 * self.left_behind > self.alike).then(|| "a like passage elsewhere stays where it is".to_owned())
    }

    /// It comes to stand as the same music does elsewhere.
    fn is_brought_together(self) -> bool {
        2 * self.brought_together > self.alike
    }
}

/// "an octave above", "two octaves below", "the unison".
fn octaves_away(semitones: i32) -> String {
    let side = if semitones < 0 { "below" } else { "above" };
    match semitones.unsigned_abs() / 12 {
        0 => "the unison".to_owned(),
        1 => format!("an octave {side}"),
        2 => format!("two octaves {side}"),
        3 => format!("three octaves {side}"),
        4 => format!("four octaves {side}"),
        more => format!("{more} octaves {side}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn between_two_notes_of_one_desk_a_line_crosses_nobody() {
        let mut places = Places::default();
        for heard in [&[5, 12][..], &[-3, 4], &[-12, -5], &[7], &[0, 3]] {
            places.add(heard.iter().copied());
        }
        assert_eq!((places.above, places.below), (2, 1));
    }
}
