//! Who of a desk plays what: how many players the score says there are, and whose note is whose.

use std::collections::{HashMap, HashSet};

use super::{Asks, Direction, Note, Part, Players, Stem};
use crate::music::Onset;

/// More players than this read no one part; a larger number in words is no number of players.
const MOST: u8 = 12;

impl Part {
    /// How many players its words speak of (a2, div., "1." and "2."); 1 where nothing says more.
    pub fn players_in_words(&self) -> u8 {
        worded(&self.directions)
    }
}

/// How many players the words speak of: the number of an "a 2", two for "div.", the highest of "1." and "2."
/// where both stand. A lone "2." is no evidence: it may be the part's own number.
fn worded(directions: &[Direction]) -> u8 {
    let mut together = 1;
    let mut alone: Vec<u8> = Vec::new();
    for direction in directions {
        match direction.asks {
            Asks::Players(Players::Divided) => together = together.max(2),
            Asks::Players(Players::All) => together = together.max(named_number(&direction.text)),
            Asks::Players(Players::Only(player)) => alone.push(player),
            _ => {}
        }
    }
    let highest = alone.iter().copied().max().unwrap_or(1);
    let several = together > 1 || alone.iter().any(|&player| player < highest);
    if several { together.max(highest).min(MOST) } else { 1 }
}

/// The highest number in "a2", "à 3", "1. 2."; 1 where there is none.
fn named_number(text: &str) -> u8 {
    let numbers = text.split(|c: char| !c.is_ascii_digit()).filter_map(|digits| digits.parse().ok());
    numbers.filter(|number| (1..=MOST).contains(number)).max().unwrap_or(1)
}

/// One tie chain given to a player.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Given {
    /// Index into the chains.
    pub(super) chain: usize,
    /// A player before this one has it too.
    pub(super) shared: bool,
}

/// Gives each tie chain to the players who read it: for each player the chains in order of onset, none
/// sounding into the next. There is a line for each of `players` that has notes, and further ones where more sounds
/// together.
pub(super) fn shared_out(part: &Part, chains: &[Vec<u32>], players: u8) -> Vec<Vec<Given>> {
    let players = usize::from(players.max(1));
    let mut desk = DeskOfLines::default();
    let heard = heard(part, chains);
    if players < 2 {
        for note in &heard {
            desk.give_to_first_free(note, players);
        }
    } else {
        let order = voice_order(&part.voices);
        let bars = bars(part, &order);
        let seats = seats(part, &order);
        let mut words = Words { directions: part.directions.iter().peekable(), said: Vec::new() };
        for note in &heard {
            words.go_to(note.onset);
            let seat = seats.get(&(note.staff, note.voice)).copied().unwrap_or(0);
            let readers = readers(note, bars.get(note.bar as usize), words.for_note(note), seat, players);
            desk.give(note, readers, players);
        }
    }
    desk.lines.into_iter().map(|line| line.into_iter().map(|held| held.given).collect()).collect()
}

/// A tie chain with what decides who plays it.
struct Heard {
    chain: usize,
    onset: Onset,
    end: Onset,
    bar: u32,
    staff: u8,
    voice: u16,
    /// Its place in its chord from the top; stems up come first.
    rank: usize,
    /// How many notes its chord has.
    width: usize,
    /// The chord it belongs to: index of the chord's first note.
    chord: usize,
}

/// The chains in the order in which they are given out: by onset, staff, voice, and chords from the top.
fn heard(part: &Part, chains: &[Vec<u32>]) -> Vec<Heard> {
    let chords = Chords::of(&part.notes);
    let mut heard: Vec<Heard> = chains
        .iter()
        .enumerate()
        .filter_map(|(chain, notes)| {
            let (&first, &last) = (notes.first()?, notes.last()?);
            let (note, end) = (part.notes.get(first as usize)?, part.notes.get(last as usize)?.end());
            let chord = chords.first[first as usize];
            Some(Heard {
                chain,
                onset: note.onset,
                end,
                bar: note.bar,
                staff: part.notes[chord].staff,
                voice: part.notes[chord].voice,
                rank: chords.rank[first as usize],
                width: chords.width[chord],
                chord,
            })
        })
        .collect();
    let order = voice_order(&part.voices);
    let place = |voice: u16| order.get(usize::from(voice)).copied().unwrap_or(usize::MAX);
    // Grace notes of one place keep their order: the chord they belong to decides before their rank.
    heard.sort_by_key(|note| (note.onset, note.staff, place(note.voice), note.chord, note.rank));
    heard
}

/// For each note the first note of its chord and its rank there; for each first note the chord's size.
struct Chords {
    first: Vec<usize>,
    rank: Vec<usize>,
    width: Vec<usize>,
}

impl Chords {
    fn of(notes: &[Note]) -> Chords {
        let mut chords =
            Chords { first: Vec::new(), rank: vec![0; notes.len()], width: vec![1; notes.len()] };
        let mut start = 0;
        for (index, note) in notes.iter().enumerate() {
            let continues = note.chord && index > 0 && notes[start].onset == note.onset;
            if !continues {
                chords.close(notes, start..index);
                start = index;
            }
            chords.first.push(start);
        }
        chords.close(notes, start..notes.len());
        chords
    }

    fn close(&mut self, notes: &[Note], chord: std::ops::Range<usize>) {
        let mut members: Vec<usize> = chord.clone().filter(|&i| notes[i].is_played()).collect();
        members.sort_by_key(|&i| (notes[i].stem == Some(Stem::Down), std::cmp::Reverse(notes[i].sounding)));
        for (rank, &member) in members.iter().enumerate() {
            self.rank[member] = rank;
        }
        if let Some(width) = self.width.get_mut(chord.start) {
            *width = members.len().max(1);
        }
    }
}

/// The place of each voice among all: by number where its name is one, then as they come.
fn voice_order(voices: &[String]) -> Vec<usize> {
    let mut sorted: Vec<usize> = (0..voices.len()).collect();
    sorted.sort_by_key(|&i| (voices[i].trim().parse::<u32>().unwrap_or(u32::MAX), i));
    let mut order = vec![0; voices.len()];
    for (place, voice) in sorted.into_iter().enumerate() {
        order[voice] = place;
    }
    order
}

/// The voices that are at work in one bar, the first player's first.
#[derive(Default)]
struct BarVoices(Vec<VoiceInBar>);

struct VoiceInBar {
    staff: u8,
    voice: u16,
    /// The largest of its chords.
    width: usize,
    up: bool,
    down: bool,
}

/// For each voice of a staff how many others stand before it there, over the whole part.
fn seats(part: &Part, order: &[usize]) -> HashMap<(u8, u16), usize> {
    let mut voices: Vec<(u8, usize, u16)> = Vec::new();
    let mut known = HashSet::new();
    for note in part.notes.iter().filter(|note| note.is_played() && !note.chord) {
        if known.insert((note.staff, note.voice)) {
            let place = order.get(usize::from(note.voice)).copied().unwrap_or(usize::MAX);
            voices.push((note.staff, place, note.voice));
        }
    }
    voices.sort_unstable();
    let seated = voices.iter().map(|&(staff, place, voice)| {
        let before = voices.iter().filter(|other| other.0 == staff && other.1 < place).count();
        ((staff, voice), before)
    });
    seated.collect()
}

fn bars(part: &Part, order: &[usize]) -> Vec<BarVoices> {
    let chords = Chords::of(&part.notes);
    let mut bars: Vec<BarVoices> = Vec::new();
    for (index, note) in part.notes.iter().enumerate().filter(|(_, note)| note.is_played()) {
        let bar = note.bar as usize;
        if bars.len() <= bar {
            bars.resize_with(bar + 1, BarVoices::default);
        }
        let chord = chords.first[index];
        let (staff, voice, width) = (part.notes[chord].staff, part.notes[chord].voice, chords.width[chord]);
        let voices = &mut bars[bar].0;
        let at = voices.iter().position(|v| (v.staff, v.voice) == (staff, voice)).unwrap_or_else(|| {
            voices.push(VoiceInBar { staff, voice, width: 0, up: false, down: false });
            voices.len() - 1
        });
        let here = &mut voices[at];
        here.width = here.width.max(width);
        here.up |= note.stem == Some(Stem::Up);
        here.down |= note.stem == Some(Stem::Down);
    }
    for BarVoices(voices) in &mut bars {
        voices.sort_by_key(|v| (v.staff, order.get(usize::from(v.voice)).copied().unwrap_or(usize::MAX)));
        // Two voices on one staff with their stems the other way round: the stems are what a player goes by.
        if let [first, second] = voices.as_slice()
            && first.staff == second.staff
            && (first.down && !first.up)
            && (second.up && !second.down)
        {
            voices.swap(0, 1);
        }
    }
    bars
}

/// Who reads a note: players counted from 0.
fn readers(
    note: &Heard,
    bar: Option<&BarVoices>,
    said: Option<Players>,
    seat: usize,
    players: usize,
) -> std::ops::Range<usize> {
    let one = |player: usize| player..player + 1;
    let voices = bar.map_or(&[][..], |bar| &bar.0);
    let here = voices.iter().position(|v| (v.staff, v.voice) == (note.staff, note.voice)).unwrap_or(0);
    let width = voices.get(here).map_or(1, |voice| voice.width);
    if let (Some(Players::Only(player)), 1, true) = (said, note.width, voices.len() < 2 || width < 2) {
        return one(usize::from(player.max(1) - 1).min(players - 1));
    }
    if voices.len() < 2 {
        // One voice: its chords from the top, its single notes for everyone, but a second voice alone is the
        // second player's.
        return match (note.width, said) {
            (1, None) if seat > 0 && width == 1 => one(seat.min(players - 1)),
            (1, _) => 0..players.max(width),
            _ => one(note.rank),
        };
    }
    let base = voices[..here].iter().map(|voice| voice.width).sum::<usize>();
    if note.width < width { base..base + width } else { one(base + note.rank) }
}

/// What the words have said so far about who plays, by staff and voice.
struct Words<'p> {
    directions: std::iter::Peekable<std::slice::Iter<'p, Direction>>,
    said: Vec<(Option<u8>, Option<u16>, Players)>,
}

impl Words<'_> {
    fn go_to(&mut self, place: Onset) {
        while let Some(direction) = self.directions.next_if(|direction| direction.onset <= place) {
            if let Asks::Players(players) = direction.asks {
                let scope = (direction.staff, direction.voice);
                // A word for all takes back what was said to one voice; a later word for the same one replaces it.
                self.said.retain(|&(staff, voice, _)| {
                    (staff, voice) != scope
                        && !(direction.voice.is_none()
                            && (direction.staff.is_none() || direction.staff == staff))
                });
                self.said.push((direction.staff, direction.voice, players));
            }
        }
    }

    fn for_note(&self, note: &Heard) -> Option<Players> {
        let fits = |&&(staff, voice, _): &&(Option<u8>, Option<u16>, Players)| {
            staff.is_none_or(|staff| staff == note.staff) && voice.is_none_or(|voice| voice == note.voice)
        };
        self.said.iter().rev().find(fits).map(|&(_, _, players)| players)
    }
}

/// The players' lines while notes are given out.
#[derive(Default)]
struct DeskOfLines {
    lines: Vec<Vec<Held>>,
}

/// A note in a player's line.
struct Held {
    given: Given,
    end: Onset,
    /// Two notes of one chord are never one player's.
    chord: usize,
}

impl DeskOfLines {
    fn is_free(&self, player: usize, note: &Heard) -> bool {
        let last = self.lines.get(player).and_then(|line| line.last());
        last.is_none_or(|last| last.end <= note.onset && last.chord != note.chord)
    }

    fn put(&mut self, player: usize, note: &Heard, shared: bool) {
        // A player is a number up to 255; a part in which more sounds together is no part for players.
        if player >= usize::from(u8::MAX) {
            return;
        }
        if self.lines.len() <= player {
            self.lines.resize_with(player + 1, Vec::new);
        }
        let given = Given { chain: note.chain, shared };
        self.lines[player].push(Held { given, end: note.end, chord: note.chord });
    }

    /// Takes the note that a player holds together with others from them: the others hold on, they are free. A held
    /// note shrinks to one player when others enter.
    fn release(&mut self, player: usize, note: &Heard) -> bool {
        let held = |line: &Vec<Held>| line.last().map(|held| held.given.chain);
        let Some(last) = self.lines.get(player).and_then(|line| line.last()) else { return false };
        let (chain, is_first) = (last.given.chain, !last.given.shared);
        // What is struck with the note or belongs to its chord was given knowingly.
        let is_theirs = |at: &usize| *at != player && held(&self.lines[*at]) == Some(chain);
        let Some(other) = (0..self.lines.len()).find(is_theirs) else { return false };
        if last.chord == note.chord {
            return false;
        }
        self.lines[player].pop();
        if is_first && let Some(held) = self.lines[other].last_mut() {
            held.given.shared = false;
        }
        true
    }

    fn give_to_first_free(&mut self, note: &Heard, players: usize) {
        let free = (0..self.lines.len()).find(|&player| self.is_free(player, note));
        // The last of those who hold a note together goes first.
        let player = free
            .filter(|&player| player < players)
            .or_else(|| (0..players).rev().find(|&player| self.release(player, note)))
            .or(free)
            .unwrap_or(self.lines.len());
        self.put(player, note, false);
    }

    /// Gives a note to those of its readers who are free; where none is, to anyone who is.
    fn give(&mut self, note: &Heard, readers: std::ops::Range<usize>, players: usize) {
        let several = readers.len() > 1;
        let mut given = false;
        for player in readers.filter(|&player| player < players) {
            if self.is_free(player, note) || (!several && self.release(player, note)) {
                self.put(player, note, given);
                given = true;
            }
        }
        if !given {
            self.give_to_first_free(note, players);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::testing::music;
    use crate::score::{Line, Score, lines};

    /// A part: voices "1", "2" … as lines of music; "+" before one adds its notes as chord notes
    /// to the voice before it. `words` are who-plays words by quarter note.
    fn part(voices: &[&str], words: &[(i64, Players, &str)]) -> (Part, Score) {
        let first = music(voices[0]);
        let mut score = first.score;
        let mut part = score.parts.remove(0);
        let mut voice = 0;
        for text in &voices[1..] {
            let chord = text.starts_with('+');
            voice += u16::from(!chord);
            for mut note in music(text.trim_start_matches('+')).score.parts.remove(0).notes {
                note.chord = chord;
                note.voice = voice;
                part.notes.push(note);
            }
        }
        part.notes.sort_by_key(|note| (note.onset, note.voice, note.chord));
        part.voices = (1..=voice + 1).map(|number| number.to_string()).collect();
        part.directions = words
            .iter()
            .map(|&(quarter, players, text)| Direction {
                bar: 0,
                onset: Onset::START + crate::music::Length::whole_quarters(quarter),
                bar_onset: crate::music::Length::ZERO,
                staff: None,
                voice: None,
                text: text.to_owned(),
                asks: Asks::Players(players),
                line: 1,
            })
            .collect();
        (part, score)
    }

    /// Each player's notes; one that a player before has too stands in brackets.
    #[track_caller]
    fn shares(players: u8, voices: &[&str], words: &[(i64, Players, &str)], expected: &[&str]) {
        let (part, score) = part(voices, words);
        let heard: Vec<String> = lines(&part, &score, players).iter().map(show).collect();
        assert_eq!(heard, expected);
    }

    fn show(line: &Line) -> String {
        let notes = line
            .played
            .iter()
            .map(|note| if note.shared { format!("({})", note.sounding) } else { note.sounding.to_string() });
        notes.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn words_say_how_many_players_read_a_part_only_where_they_name_several() {
        let players = |words: &[(i64, Players, &str)]| part(&["C2"], words).0.players_in_words();
        assert_eq!(players(&[(0, Players::All, "a 2")]), 2);
        assert_eq!(players(&[(0, Players::All, "tutti")]), 1);
        assert_eq!(players(&[(0, Players::Divided, "div.")]), 2);
        assert_eq!(players(&[(0, Players::Only(2), "2.")]), 1);
        assert_eq!(players(&[(0, Players::Only(1), "1."), (4, Players::Only(2), "2.")]), 2);
        assert_eq!(players(&[(0, Players::Only(1), "solo")]), 1);
    }

    #[test]
    fn one_player_has_one_line() {
        shares(1, &["C2 D2 | E2 F2"], &[], &["C2 D2 E2 F2"]);
    }

    #[test]
    fn what_sounds_together_in_a_one_player_part_is_a_further_line() {
        shares(1, &["C2/2 D2", "+G2/2 r/2"], &[], &["G2 D2", "C2"]);
        shares(1, &["C3/2 D3", "r/1 G2/1 r/2"], &[], &["C3 D3", "G2"]);
    }

    #[test]
    fn two_players_on_one_line_both_read_it() {
        shares(2, &["C2 D2"], &[], &["C2 D2", "(C2) (D2)"]);
    }

    #[test]
    fn two_voices_are_two_players_in_the_bar_they_share() {
        let voices = ["C3/2 D3/2 | E3/4 | r/4", "r/2 G2/2 | r/4 | C2/4"];
        shares(2, &voices, &[], &["C3 D3 E3", "G2 (E3) C2"]);
    }

    #[test]
    fn chords_are_shared_from_the_top_and_single_notes_among_them_are_for_both() {
        shares(2, &["C2 D2 E2", "+G2 r B2"], &[], &["G2 D2 B2", "C2 (D2) E2"]);
    }

    #[test]
    fn a_chord_and_a_voice_make_three_players() {
        shares(3, &["C3/4", "+E3/4", "G2/4"], &[], &["E3", "C3", "G2"]);
    }

    #[test]
    fn words_say_whose_a_single_line_is() {
        let words = [(0, Players::Only(2), "2."), (2, Players::All, "a2"), (3, Players::Only(1), "1.")];
        shares(2, &["C2 D2 E2 F2"], &words, &["E2 F2", "C2 D2 (E2)"]);
    }

    #[test]
    fn words_for_one_do_not_silence_the_second_voice() {
        let words = [(0, Players::Only(1), "1.")];
        shares(2, &["C3/4 | D3/4", "C2/4 | r/4"], &words, &["C3 D3", "C2"]);
    }

    #[test]
    fn stems_turned_round_turn_the_players_round() {
        let (mut part, score) = part(&["C2/4", "C3/4"], &[]);
        part.notes[0].stem = Some(Stem::Down);
        part.notes[1].stem = Some(Stem::Up);
        let heard: Vec<String> = lines(&part, &score, 2).iter().map(show).collect();
        assert_eq!(heard, ["C3", "C2"]);
    }

    #[test]
    fn more_than_the_players_named_get_a_line_each() {
        shares(2, &["C2/4", "+E2/4", "+G2/4"], &[], &["G2", "E2", "C2"]);
    }

    #[test]
    fn a_held_note_shrinks_to_one_player_when_others_enter() {
        // Held over the barline by both, until the second has a note of their own: two players, two notes.
        shares(2, &["C2/8", "r/4 | G2/4"], &[], &["C2", "G2"]);
        shares(3, &["C2/8", "r/4 | E3/4", "r/4 | G3/4"], &[], &["E3", "G3", "C2"]);
    }

    #[test]
    fn a_third_voice_that_sounds_with_no_third_note_needs_no_third_player() {
        shares(2, &["C3/1 r/3", "r/1 C2/1 r/2", "r/2 E2/1 r/1"], &[], &["C3 E2", "C2"]);
    }

    #[test]
    fn a_crowd_on_one_staff_neither_panics_nor_overlaps() {
        let voices: Vec<String> = (0..40).map(|i| format!("r/{} C2/8 D2/8", i % 7 + 1)).collect();
        let voices: Vec<&str> = voices.iter().map(String::as_str).collect();
        let (part, score) = part(&voices, &[]);
        let lines = lines(&part, &score, 1);
        for line in &lines {
            assert!(line.played.windows(2).all(|pair| pair[0].end <= pair[1].onset));
        }
        assert_eq!(lines.iter().map(|line| line.played.len()).sum::<usize>(), 80);
    }
}
