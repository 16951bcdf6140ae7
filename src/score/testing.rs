//! Music in one line, for tests: sounding notes with lengths, dynamics, slurs and rests become a score.
//!
//! Tokens, parted by blanks (`ff D1/4 (E1/1/2 F1) r/2 | sfz D2/1>`):
//!
//! | token | means |
//! | --- | --- |
//! | `D1/4` `D1/1/2` `D1` | a sounding note of 4 quarters, of half a quarter, as long as the one before (1 at first) |
//! | `r/2` | a rest |
//! | `\|` | a bar line |
//! | `=90` | quarter notes a minute from here on (60 at first) |
//! | `ff` | the level from here on |
//! | `sfz` `fp` | an attack on the next note (and the level after it) |
//! | `<` `>` | a hairpin from the next note to the next level |
//! | `[straight]` `[open]` | mute in, mute out |
//!
//! Before a note: `(` begins a slur, `*` makes it a grace note. Behind it: `~` tie, `)` ends a slur, `%` glissando to
//! the next, `>` accent, `^` marcato, `.` staccato, `,` breath mark, `;` caesura, `@` fermata, `+` stopped, `$` flutter tongue,
//! `t` trill, `=` `==` measured tremolo in eighths, 16ths, `&` tremolo with the next.

use super::{
    Articulation, Articulations, Bar, Fermata, Head, Join, Joins, Line, Mute, Note, Ornament, Part, PartInfo,
    Passes, PerformanceOrder, Score, SourceRange, Tie, lines,
};
use crate::music::{
    Dynamic, Hairpin, Length, Mark, Onset, Sounding, Tempo, TempoChange, TempoMap, Transposition,
};

/// A score made of one-line music, with the line of each of its parts.
#[derive(Debug)]
pub(crate) struct Music {
    /// The score; its parts stand in the order given.
    pub(crate) score: Score,
    /// One line for each part.
    pub(crate) lines: Vec<Line>,
}

/// One part, read from one-line music.
#[track_caller]
pub(crate) fn music(text: &str) -> Music {
    section(&[("Tuba", text)])
}

/// Several parts with their names. Bars and tempo are those of the longest part.
#[track_caller]
pub(crate) fn section(parts: &[(&str, &str)]) -> Music {
    let mut read: Vec<Reading> = parts.iter().map(|(_, text)| Reading::of(text)).collect();
    let longest = (0..read.len()).max_by_key(|&i| (read[i].at, read.len() - i)).expect("a part");
    let bars = read[longest].bars.clone();
    let start = change(Onset::START, 60.0);
    let tempo = TempoMap::new(start, read[longest].tempos.iter().map(|&(at, tempo)| change(at, tempo)));
    for reading in &mut read {
        for note in &mut reading.notes {
            let bar = bars.partition_point(|bar: &Bar| bar.start <= note.onset) - 1;
            note.bar = u32::try_from(bar).expect("few bars");
            note.bar_onset = note.onset.since(bars[bar].start);
        }
    }
    let parts = parts.iter().zip(read).enumerate().map(|(index, ((name, _), reading))| Part {
        info: PartInfo {
            index: u32::try_from(index).expect("few parts"),
            id: format!("P{}", index + 1),
            name: (*name).to_owned(),
            ..PartInfo::default()
        },
        staves: 1,
        voices: vec!["1".to_owned()],
        notes: reading.notes,
        directions: Vec::new(),
        clefs: Vec::new(),
        keys: Vec::new(),
        transpositions: Vec::new(),
        ottavas: Vec::new(),
    });
    let score = Score {
        title: None,
        parts: parts.collect(),
        passed_over: Vec::new(),
        order: PerformanceOrder::straight(u32::try_from(bars.len()).expect("few bars")),
        bars,
        tempo,
        rehearsals: Vec::new(),
        played_tempo: None,
        // As in `profiles/tempo-words.toml`, which a reader reads.
        fermata: Fermata { usual: 1.5, long: 2.0 },
        oddities: Vec::new(),
    };
    let lines = score.parts.iter().map(|part| only_line(part, &score)).collect();
    Music { score, lines }
}

/// The line of a part whose notes never sound together, as the program makes it: the first player's, and the others of a
/// part that is called so read the same notes. One without notes for a part without.
#[track_caller]
pub(crate) fn only_line(part: &Part, score: &Score) -> Line {
    let mut lines = lines(part, score, 1).into_iter();
    let first = lines.next();
    assert!(lines.flat_map(|line| line.played).all(|played| played.shared), "notes sound together");
    first.unwrap_or_else(|| Line {
        player: 1,
        played: Vec::new(),
        passages: Vec::new(),
        performed: Vec::new(),
        later: Vec::new(),
    })
}

fn change(at: Onset, tempo: f64) -> TempoChange {
    let tempo = Tempo::quarters_a_minute(tempo).expect("a tempo above 0");
    TempoChange { at, tempo, glides_to: None, assumed: false, reckoned: None }
}

/// What has been read so far.
struct Reading {
    at: Onset,
    bars: Vec<Bar>,
    notes: Vec<Note>,
    tempos: Vec<(Onset, f64)>,
    level: Option<Dynamic>,
    marked_in: Option<u32>,
    attack: Option<Dynamic>,
    hairpin: Option<(Hairpin, usize)>,
    slurred: bool,
    mute: Option<Mute>,
    length: Length,
}

impl Reading {
    #[track_caller]
    fn of(text: &str) -> Reading {
        let mut reading = Reading {
            at: Onset::START,
            bars: Vec::new(),
            notes: Vec::new(),
            tempos: Vec::new(),
            level: None,
            marked_in: None,
            attack: None,
            hairpin: None,
            slurred: false,
            mute: None,
            length: Length::QUARTER,
        };
        text.split_whitespace().for_each(|token| reading.token(token));
        reading.bar_line();
        reading
    }

    #[track_caller]
    fn token(&mut self, token: &str) {
        if let Some(tempo) = token.strip_prefix('=') {
            self.tempos.push((self.at, tempo.parse().expect("a tempo after '='")));
        } else if let Some(word) = token.strip_prefix('[') {
            let word = word.trim_end_matches(']');
            self.mute = Mute::ALL.into_iter().find(|mute| mute.name() == word);
            assert!(self.mute.is_some() || word == "open", "no mute '{word}'");
        } else if let Some(mark) = Mark::from_letters(token) {
            self.attack = mark.attack;
            self.level_from_here(mark.level);
        } else {
            match token {
                "|" => self.bar_line(),
                "<" => self.hairpin = Some((Hairpin::Crescendo, self.notes.len())),
                ">" => self.hairpin = Some((Hairpin::Diminuendo, self.notes.len())),
                _ => self.note(token),
            }
        }
    }

    /// A level: where a hairpin led here, the notes under it move evenly along the scale.
    fn level_from_here(&mut self, level: Option<Dynamic>) {
        let Some(to) = level else { return };
        if let (Some((kind, first)), Some(from)) = (self.hairpin.take(), self.level) {
            let start = self.notes.get(first).map_or(self.at, |note| note.onset);
            let whole = self.at.since(start).in_quarters();
            let reached = |place: Onset| {
                let steps = f64::from(to.steps_above(from)) * place.since(start).in_quarters() / whole;
                from.louder_by(steps.round() as i32)
            };
            for note in &mut self.notes[first..] {
                let level = Some(reached(note.onset));
                if note.dynamic != level {
                    (note.dynamic, note.marked_in) = (level, None);
                }
                note.until = Some(reached(note.end()));
                note.hairpin = Some(kind);
            }
        }
        self.level = Some(to);
        self.marked_in = u32::try_from(self.bars.len()).ok();
    }

    fn bar_line(&mut self) {
        let start = self.bars.last().map_or(Onset::START, |bar| bar.start + bar.length);
        let length = self.at.since(start);
        if !length.is_zero() || self.bars.is_empty() {
            let number = (self.bars.len() + 1).to_string();
            self.bars.push(Bar { number, start, length, nominal: Some(length), beat: Length::QUARTER });
        }
    }

    #[track_caller]
    fn note(&mut self, token: &str) {
        let name = token.trim_start_matches(['(', '*']);
        let before = &token[..token.len() - name.len()];
        let core =
            name.trim_end_matches(['~', ')', '%', '>', '^', '.', ',', ';', '@', '+', 't', '=', '$', '&']);
        let after = &name[core.len()..];
        let (pitch, length) = core.split_once('/').map_or((core, None), |(p, l)| (p, Some(l)));
        if let Some(length) = length {
            let (quarters, of) = length.split_once('/').unwrap_or((length, "1"));
            let number = |text: &str| text.parse().expect("a whole number after '/'");
            self.length = Length::quarters(number(quarters), number(of)).expect("a length");
        }
        if pitch == "r" {
            self.at = self.at + self.length;
            return;
        }
        let sounding: Sounding = pitch.parse().unwrap_or_else(|_| panic!("no such token: '{token}'"));
        let grace = before.contains('*');
        self.slurred = (self.slurred || before.contains('(')) && !after.contains(')');
        let tied = |note: &Note| note.tie.goes_on() && note.sounding == sounding;
        let tie = match (self.notes.last().is_some_and(tied), after.contains('~')) {
            (false, false) => Tie::None,
            (false, true) => Tie::Start,
            (true, true) => Tie::Continue,
            (true, false) => Tie::Stop,
        };
        let joins = [
            (Join::Tie, after.contains('~')),
            (Join::Slur, self.slurred),
            (Join::Glissando, after.contains('%')),
        ];
        let marks = [
            ('>', Articulation::Accent),
            ('^', Articulation::Marcato),
            ('.', Articulation::Staccato),
            (',', Articulation::BreathMark),
            (';', Articulation::Caesura),
            ('@', Articulation::Fermata),
            ('+', Articulation::Stopped),
            ('$', Articulation::FlutterTongue),
        ];
        let strokes = after.matches('=').count();
        let ornament = match (after.contains('t'), after.contains('&'), u8::try_from(strokes)) {
            (true, ..) => Some(Ornament::Trill { alter: None }),
            (_, true, _) => Some(Ornament::Alternating),
            (.., Ok(strokes)) if strokes > 0 => Some(Ornament::Repeated { strokes }),
            _ => None,
        };
        let length = if grace { Length::ZERO } else { self.length };
        self.notes.push(Note {
            bar: 0,
            onset: self.at,
            bar_onset: Length::ZERO,
            length,
            written: Transposition::CONCERT.write(sounding),
            sounding,
            tie,
            grace,
            cue: false,
            small: false,
            hidden: false,
            passes: Passes::EVERY,
            chord: false,
            voice: 0,
            staff: 1,
            stem: None,
            dynamic: self.level,
            marked_in: self.marked_in,
            until: None,
            attack: self.attack.take(),
            hairpin: None,
            articulations: marks
                .into_iter()
                .filter(|(sign, _)| after.contains(*sign))
                .fold(Articulations::default(), |set, (_, mark)| set.with(mark)),
            ornament,
            head: Head::Plain,
            joins: joins.into_iter().filter(|(_, on)| *on).fold(Joins::NONE, |set, (join, _)| set.with(join)),
            mute: self.mute,
            later: None,
            instrument: None,
            line: 1,
            // Nothing to edit, but notes that could be.
            octave_digits: Some(SourceRange { start: 0, end: 1 }),
        });
        self.at = self.at + length;
    }
}

mod tests {
    use super::*;

    #[test]
    fn one_line_of_music_becomes_played_notes() {
        let music = music("=120 ff D1/4~ | D1/2, r (E1/1/2 F1) | mf < G1/2 ff A1");
        let line = &music.lines[0];
        let heard = |i: usize| {
            let note = &line.played[i];
            (note.sounding.to_string(), note.length().to_string(), note.seconds.get())
        };
        assert_eq!(heard(0), ("D1".into(), "6".into(), 3.0));
        assert_eq!(heard(1), ("E1".into(), "1/2".into(), 0.25));
        assert_eq!(line.passages, [0..1, 1..5]);
        assert!(line.played[1].joins.has(Join::Slur) && !line.played[2].joins.has(Join::Slur));
        assert!(line.played[0].articulations.has(Articulation::BreathMark));
        assert_eq!((line.played[3].softest, line.played[3].loudest), (Some(Dynamic::Mf), Some(Dynamic::Ff)));
        assert_eq!(music.score.bars.len(), 3);
        assert_eq!(line.played[3].bar, 2);
    }
}
