//! What one player plays: tie chains as single sounds, in passages between rests.

use std::ops::Range;

use super::chain::chains;
use super::players::shared_out;
use super::{Articulations, Joins, Mute, Note, Ornament, Part, Passes, Score};
use crate::music::{Dynamic, Length, Onset, Seconds, Sounding, TempoMap, Written};

/// One player's notes, one after the other.
#[derive(Clone, Debug)]
pub struct Line {
    /// Which player of the part, from 1.
    pub player: u8,
    /// What is struck, in order of onset; never two that sound together.
    pub played: Vec<Played>,
    /// Notes between rests: ranges of [`Line::played`], in order, covering all of it.
    pub passages: Vec<Range<usize>>,
    /// The same notes in the order they are performed, repeats played out.
    pub performed: Vec<Struck>,
    /// Notes that are asked for otherwise on a later time than on the first (another level, mute or tempo), as they are
    /// heard then; in order of index and time.
    pub later: Vec<OnceMore>,
}

/// A note as it is heard on a later time of its bar.
#[derive(Clone, Debug)]
pub struct OnceMore {
    /// Index into [`Line::played`].
    pub index: usize,
    /// Which time its bar is played, from 2.
    pub pass: u32,
    /// The note as it is heard then.
    pub played: Played,
}

/// A tie chain as it is heard: struck once, sounding until its last note ends.
#[derive(Clone, Debug)]
pub struct Played {
    /// Indices into [`Part::notes`] of its notes, first to last; never empty.
    pub chain: Vec<u32>,
    /// Index into [`Score::bars`] of its first note.
    pub bar: u32,
    /// Where it is struck.
    pub onset: Onset,
    /// Where it ends.
    pub end: Onset,
    /// What it sounds.
    pub sounding: Sounding,
    /// What stands on the page.
    pub written: Written,
    /// A grace note.
    pub grace: bool,
    /// The level where it begins; `None` before any mark.
    pub dynamic: Option<Dynamic>,
    /// As [`Note::marked_in`].
    pub marked_in: Option<u32>,
    /// The loudest that is asked anywhere in it: level, attack, or where a hairpin leads.
    pub loudest: Option<Dynamic>,
    /// The softest that is asked anywhere in it.
    pub softest: Option<Dynamic>,
    /// The loudness of its attack, where a mark asks for one of its own.
    pub attack: Option<Dynamic>,
    /// Marks of all its notes.
    pub articulations: Articulations,
    /// Its ornament, where it has one that is played note by note.
    pub ornament: Option<Ornament>,
    /// What binds its last note to the next.
    pub joins: Joins,
    /// The mute in.
    pub mute: Option<Mute>,
    /// Where it is struck, in seconds of the written order.
    pub start: Seconds,
    /// How long it sounds, in seconds (fermatas not counted).
    pub seconds: Seconds,
    /// Another player of the part reads the same note.
    pub shared: bool,
}

/// A played note in the performance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// Index into [`Line::played`].
    pub played: usize,
    /// Which time its bar is played, from 1.
    pub pass: u32,
    /// When, in seconds from the start of the performance.
    pub start: Seconds,
    /// How long it sounds this time: a repeat or jump cuts off what is tied over it.
    pub seconds: Seconds,
}

impl OnceMore {
    fn key(&self) -> (usize, u32) {
        (self.index, self.pass)
    }
}

impl Played {
    /// Its written length, ties joined.
    pub fn length(&self) -> Length {
        self.end.since(self.onset)
    }
}

impl Line {
    /// What is struck, as it is heard that time.
    pub fn heard(&self, struck: &Struck) -> Option<&Played> {
        let place = self.later.binary_search_by_key(&(struck.played, struck.pass), OnceMore::key);
        place.ok().map(|place| &self.later[place].played).or_else(|| self.played.get(struck.played))
    }

    /// Notes down the notes of later times that are asked for otherwise then though nothing else is said of them: those for
    /// which `differs` is true.
    pub fn hear_again(&mut self, differs: impl Fn(&Played, u32) -> bool) {
        let known = self.later.len();
        for struck in self.performed.iter().filter(|struck| struck.pass > 1) {
            let Some(own) = self.played.get(struck.played).filter(|own| differs(own, struck.pass)) else {
                continue;
            };
            let key = (struck.played, struck.pass);
            if self.later[..known].binary_search_by_key(&key, OnceMore::key).is_err() {
                let played = Played { seconds: struck.seconds, ..own.clone() };
                self.later.push(OnceMore { index: struck.played, pass: struck.pass, played });
            }
        }
        self.later.sort_by_key(OnceMore::key);
    }

    /// The passage that holds a played note, by its index into [`Line::passages`].
    pub fn passage_of(&self, played: usize) -> usize {
        self.passages.partition_point(|passage| passage.end <= played)
    }

    /// Seconds of silence behind a played note, up to the next one in written order; `None` behind the last.
    pub fn rest_after(&self, played: usize) -> Option<Seconds> {
        let here = self.played.get(played)?;
        let next = self.played.get(played + 1)?;
        Some(Seconds::new((next.start.get() - here.start.get() - here.seconds.get()).max(0.0)))
    }
}

/// Splits a part into its players' lines: by voices where two sound together, by chord notes from the top
/// where one voice holds chords, by the words that say who plays. A note that all read is in every line,
/// flagged as shared in all but the first. There are as many lines as there are `players` with notes, and more
/// where more sounds together.
pub fn lines(part: &Part, score: &Score, players: u8) -> Vec<Line> {
    let chains = chains(&part.notes);
    let given = shared_out(part, &chains, players);
    let lines = (1_u8..).zip(given).map(|(player, given)| {
        let played: Vec<Played> = given
            .iter()
            .filter_map(|given| Played::of(chains.get(given.chain)?, given.shared, &part.notes, &score.tempo))
            .collect();
        let passages = passages(&played);
        let performed = performed(&played, part, score);
        let later = once_more(&played, &performed, part, score);
        Line { player, played, passages, performed, later }
    });
    lines.collect()
}

impl Played {
    /// `None` for an empty chain or one that points outside the notes.
    fn of(chain: &[u32], shared: bool, notes: &[Note], tempo: &TempoMap) -> Option<Played> {
        let held: Vec<&Note> = chain.iter().filter_map(|&index| notes.get(index as usize)).collect();
        Played::of_notes(chain, shared, &held, tempo)
    }

    /// Of the notes of a chain; `None` where there are none.
    fn of_notes(chain: &[u32], shared: bool, held: &[&Note], tempo: &TempoMap) -> Option<Played> {
        let (&first, &last) = (held.first()?, held.last()?);
        let (start, end) = (tempo.at(first.onset), last.end());
        let levels = || held.iter().flat_map(|note| [note.dynamic, note.until]).flatten();
        let attacks = held.iter().filter_map(|note| note.attack);
        Some(Played {
            chain: chain.to_vec(),
            bar: first.bar,
            onset: first.onset,
            end,
            sounding: first.sounding,
            written: first.written,
            grace: first.grace && held.iter().all(|note| note.grace),
            dynamic: first.dynamic,
            marked_in: first.marked_in,
            loudest: levels().chain(attacks).max(),
            softest: levels().min(),
            attack: first.attack,
            articulations: held
                .iter()
                .fold(Articulations::default(), |marks, note| marks.and(note.articulations)),
            ornament: held.iter().find_map(|note| note.ornament),
            joins: last.joins,
            mute: first.mute,
            start,
            seconds: tempo.at(end) - start,
            shared,
        })
    }
}

/// Notes between rests. A grace note stands where the note it leads to begins, so it belongs to that one's
/// passage, or, behind the last note before a rest, to the passage it ends.
fn passages(played: &[Played]) -> Vec<Range<usize>> {
    let mut passages = Vec::new();
    let mut from = 0;
    for next in 1..=played.len() {
        if played.get(next).is_none_or(|note| note.onset > played[next - 1].end) {
            if next > from {
                passages.push(from..next);
            }
            from = next;
        }
    }
    passages
}

/// Notes that are asked for otherwise on a later time, as they are heard then.
fn once_more(played: &[Played], performed: &[Struck], part: &Part, score: &Score) -> Vec<OnceMore> {
    let mut later: Vec<OnceMore> = Vec::new();
    for struck in performed.iter().filter(|struck| struck.pass > 1) {
        let Some(own) = played.get(struck.played) else { continue };
        let notes: Vec<&Note> =
            own.chain.iter().filter_map(|&index| part.notes.get(index as usize)).collect();
        let asked: Vec<Option<Note>> = notes.iter().map(|note| note.on(struck.pass)).collect();
        // A note that a repeat cuts off is shorter; only another tempo makes it longer.
        let slower = struck.seconds.get() > own.seconds.get() + 1e-6;
        if !slower && asked.iter().all(Option::is_none) {
            continue;
        }
        let heard: Vec<&Note> =
            notes.iter().zip(&asked).map(|(note, asked)| asked.as_ref().unwrap_or(note)).collect();
        if let Some(heard) = Played::of_notes(&own.chain, own.shared, &heard, &score.tempo) {
            let played = Played { seconds: struck.seconds, ..heard };
            later.push(OnceMore { index: struck.played, pass: struck.pass, played });
        }
    }
    later.sort_by_key(OnceMore::key);
    later
}

/// The notes in the order of performance. A note held where the performance leaves its bars ends there; one
/// that is being held where the performance comes in is struck there.
fn performed(played: &[Played], part: &Part, score: &Score) -> Vec<Struck> {
    let mut by_bar: Vec<usize> = (0..played.len()).collect();
    by_bar.sort_by_key(|&index| played[index].bar);
    let mut performed = Vec::new();
    let mut elapsed = Seconds::ZERO;
    // Where the stretch begins in the performance, counted in quarter notes.
    let mut begun = Onset::START;
    let stretches = &score.order.stretches;
    let follows = |a: usize, b: usize| match (stretches.get(a), stretches.get(b)) {
        (Some(a), Some(b)) => a.bars.end == b.bars.start,
        _ => false,
    };
    // Where the run of neighbouring stretches that holds this one ends.
    let mut runs_to: Vec<u32> = stretches.iter().map(|stretch| stretch.bars.end).collect();
    for index in (0..runs_to.len().saturating_sub(1)).rev() {
        if follows(index, index + 1) {
            runs_to[index] = runs_to[index + 1];
        }
    }
    for (index, stretch) in stretches.iter().enumerate() {
        let Some(first) = score.bars.get(stretch.bars.start as usize) else { continue };
        let Some(end) = end_of(score, stretch.bars.end) else { continue };
        let run_end = end_of(score, runs_to[index]).map_or(end, |place| place.max(end));
        // Seconds from the stretch's beginning to a place, at the tempo of this time.
        let clock = |place: Onset| match &score.played_tempo {
            Some(played) => played.at(begun + place.since(first.start)) - played.at(begun),
            None => score.tempo.at(place) - score.tempo.at(first.start),
        };
        let mut strike = |note: usize, from: Onset| {
            let from_here = clock(from);
            let until = clock(played[note].end.min(run_end));
            performed.push(Struck {
                played: note,
                pass: stretch.pass,
                start: elapsed + from_here,
                seconds: Seconds::new((until - from_here).get().max(0.0)),
            });
        };
        let comes_in = index == 0 || !follows(index - 1, index);
        let held = played.partition_point(|note| note.onset < first.start);
        if comes_in
            && let Some(note) = held.checked_sub(1)
            && played[note].end > first.start
            && score_note(part, &played[note]).is_none_or(|note| note.passes.has(stretch.time))
        {
            strike(note, first.start);
        }
        let from = by_bar.partition_point(|&note| played[note].bar < stretch.bars.start);
        let to = by_bar.partition_point(|&note| played[note].bar < stretch.bars.end);
        for &note in by_bar.get(from..to).unwrap_or_default() {
            let passes = score_note(part, &played[note]).map_or(Passes::EVERY, |note| note.passes);
            if passes.has(stretch.time) {
                strike(note, played[note].onset);
            }
        }
        elapsed += clock(end);
        begun = begun + end.since(first.start);
    }
    performed
}

/// The written note that is struck.
fn score_note<'p>(part: &'p Part, played: &Played) -> Option<&'p Note> {
    played.chain.first().and_then(|&index| part.notes.get(index as usize))
}

/// Where the bar before `bar` ends; `None` where there is no such bar.
fn end_of(score: &Score, bar: u32) -> Option<Onset> {
    let last = score.bars.get((bar as usize).checked_sub(1)?)?;
    Some(last.start + last.length)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::order::{PerformanceOrder, Stretch};
    use crate::score::testing::{Music, music};
    use crate::score::{Articulation, Join, Tie};

    #[track_caller]
    fn only_line(music: &Music) -> Line {
        let mut lines = lines(&music.score.parts[0], &music.score, 1);
        assert_eq!(lines.len(), 1);
        lines.remove(0)
    }

    fn order(stretches: &[(Range<u32>, u32)]) -> PerformanceOrder {
        let stretches =
            stretches.iter().map(|(bars, pass)| Stretch { bars: bars.clone(), pass: *pass, time: *pass });
        PerformanceOrder { stretches: stretches.collect() }
    }

    /// Performed notes as "pitch pass@start+seconds".
    fn performance(music: &Music) -> Vec<String> {
        let line = only_line(music);
        let show = |struck: &Struck| {
            let note = line.played[struck.played].sounding;
            format!("{note} {}@{}+{}", struck.pass, struck.start.get(), struck.seconds.get())
        };
        line.performed.iter().map(show).collect()
    }

    #[test]
    fn a_tie_chain_is_struck_once_and_takes_the_marks_of_all_its_notes() {
        let music = music("=120 ff D1/4> | D1/4 | p D1/2~ | mf D1/2~ | sfz D1/2, E1)");
        let line = only_line(&music);
        let held = &line.played[2];
        assert_eq!(held.chain, [2, 3, 4]);
        assert_eq!(
            (held.length(), held.start, held.seconds),
            (Length::whole_quarters(6), Seconds::new(4.0), Seconds::new(3.0))
        );
        assert_eq!(held.dynamic, Some(Dynamic::P));
        assert_eq!((held.softest, held.loudest), (Some(Dynamic::P), Some(Dynamic::F)));
        assert_eq!(held.attack, None);
        assert!(held.articulations.has(Articulation::BreathMark));
        assert!(!held.joins.has(Join::Tie));
        assert!(line.played[0].articulations.has(Articulation::Accent));
    }

    #[test]
    fn a_hairpin_counts_where_it_leads() {
        let line = only_line(&music("mp < D1/4 ff E1/4"));
        assert_eq!((line.played[0].dynamic, line.played[0].loudest), (Some(Dynamic::Mp), Some(Dynamic::Ff)));
    }

    #[test]
    fn a_tie_to_another_spelling_holds_on_and_one_to_another_pitch_does_not() {
        let mut music = music("C#2/4~ | C#2/4 | D2/4~ | E2/4");
        music.score.parts[0].notes[1].sounding = "Db2".parse().unwrap();
        music.score.parts[0].notes[3].tie = Tie::Stop;
        let line = only_line(&music);
        let chains: Vec<&[u32]> = line.played.iter().map(|note| note.chain.as_slice()).collect();
        assert_eq!(chains, [&[0, 1][..], &[2], &[3]]);
    }

    #[test]
    fn a_tie_over_a_rest_is_no_tie() {
        let mut music = music("D2/1~ r/1 D2/2");
        music.score.parts[0].notes[1].tie = Tie::Stop;
        assert_eq!(only_line(&music).played.len(), 2);
    }

    #[test]
    fn cues_and_hidden_notes_are_not_played() {
        let mut music = music("D2 E2 F2");
        music.score.parts[0].notes[0].cue = true;
        music.score.parts[0].notes[1].hidden = true;
        let line = only_line(&music);
        assert_eq!(line.played.iter().map(|note| note.chain[0]).collect::<Vec<_>>(), [2]);
    }

    #[test]
    fn rests_part_passages_and_grace_notes_stay_with_the_note_they_lead_to() {
        let line = only_line(&music("D2 E2 r *F2 G2 A2 *B2 r C2"));
        assert_eq!(line.passages, [0..2, 2..6, 6..7]);
        assert_eq!(line.passage_of(4), 1);
        assert_eq!(line.rest_after(1), Some(Seconds::new(1.0)));
    }

    #[test]
    fn a_part_without_notes_has_no_line() {
        let music = music("r/4 | r/4");
        assert!(lines(&music.score.parts[0], &music.score, 1).is_empty());
    }

    #[test]
    fn repeats_are_performed_with_their_pass_and_the_clock_runs_on() {
        let mut music = music("C2/4 | D2/4 | E2/4");
        music.score.order = order(&[(0..2, 1), (0..1, 2), (2..3, 1)]);
        assert_eq!(performance(&music), ["C2 1@0+4", "D2 1@4+4", "C2 2@8+4", "E2 1@12+4"]);
    }

    #[test]
    fn a_tie_over_a_repeat_seam_ends_there_and_a_held_note_is_struck_where_the_music_comes_in() {
        let mut music = music("C2/4~ | C2/4~ | C2/4 | D2/4");
        // Bars 1 to 2, then 2 to 4: the second time comes in upon the held C.
        music.score.order = order(&[(0..2, 1), (1..2, 2), (2..4, 1)]);
        assert_eq!(performance(&music), ["C2 1@0+8", "C2 2@8+8", "D2 1@16+4"]);
    }

    #[test]
    fn an_order_that_points_outside_the_score_is_passed_over() {
        let mut music = music("C2/4");
        music.score.order = order(&[(5..9, 1), (0..1, 1), (0..7, 2)]);
        assert_eq!(performance(&music), ["C2 1@0+4"]);
    }

    #[test]
    fn a_note_that_is_louder_the_second_time_is_heard_so() {
        let mut music = music("p C2/4 | D2/4");
        music.score.order = order(&[(0..2, 1), (0..2, 2)]);
        let note = &mut music.score.parts[0].notes[0];
        note.set_on(super::super::Later { dynamic: Some(Dynamic::Ff), ..note.asked_on(2) });
        let line = only_line(&music);
        let levels: Vec<Option<Dynamic>> =
            line.performed.iter().map(|struck| line.heard(struck).and_then(|heard| heard.dynamic)).collect();
        let (soft, loud) = (Some(Dynamic::P), Some(Dynamic::Ff));
        assert_eq!(levels, [soft, soft, loud, soft]);
        assert_eq!(line.later.iter().map(|later| (later.index, later.pass)).collect::<Vec<_>>(), [(0, 2)]);
    }

    #[test]
    fn a_slower_second_time_lasts_longer() {
        let mut music = music("p C2/4");
        music.score.order = order(&[(0..1, 1), (0..1, 2)]);
        let change = |at: i64, tempo| crate::music::TempoChange {
            at: Onset::START + Length::whole_quarters(at),
            tempo: crate::music::Tempo::quarters_a_minute(tempo).unwrap(),
            glides_to: None,
            assumed: false,
            reckoned: None,
        };
        music.score.played_tempo = Some(TempoMap::new(change(0, 60.0), [change(4, 30.0)]));
        assert_eq!(performance(&music), ["C2 1@0+4", "C2 2@4+8"]);
        assert_eq!(only_line(&music).later[0].played.seconds, Seconds::new(8.0));
    }
}
