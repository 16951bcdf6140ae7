//! `lowbrass notes`: a row for each written note, as it was read.
//!
//! In goes a seated score; out come rows one at a time, so that a long score is written as it is walked. It is
//! the proof of the reading and a thing people use: which bar, how long, what sounds, how loud.

use std::collections::HashMap;
use std::io::{self, Write};
use std::rc::Rc;
use std::sync::Arc;

use serde::Serialize;

use super::csv::{inert, written};
use super::listing::{self, Row};
use crate::music::{Hairpin, Seconds};
use crate::playing::hand::at as in_hand_at;
use crate::playing::{Desk, Section};
use crate::profile::Profile;
use crate::score::{Mute, Note, Part, Score, Tie, sounds_until};

/// How the rows are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum NoteFormat {
    /// Columns for people, on so many columns of a terminal.
    Table {
        /// Columns of the terminal.
        width: usize,
        /// Dashes and fractions beyond ASCII may be used.
        unicode: bool,
    },
    /// For a spreadsheet; no cell begins a formula.
    Csv,
    /// One JSON object a line.
    Jsonl,
}

/// A written note as it was read.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(clippy::struct_excessive_bools)] // Independent facts of the page.
pub struct NoteRow {
    /// The part's id.
    pub part: String,
    /// The part's name.
    pub part_name: String,
    /// Printed bar number.
    pub bar: String,
    /// The same counted from 0.
    pub bar_index: u32,
    /// The beat, from 1, in units of the time signature's lower number.
    pub beat: String,
    /// Quarter notes from the bar's start.
    pub bar_onset: String,
    /// Written length in quarter notes; "0" for a grace note.
    pub duration: String,
    /// What stands on the page.
    pub written: String,
    /// What sounds.
    pub sounding: String,
    /// The sounding pitch as a MIDI number, with a fraction for quarter-tones.
    #[serde(serialize_with = "number")]
    pub midi: f64,
    /// none, start, continue or stop.
    pub tie: &'static str,
    /// A grace note.
    pub grace: bool,
    /// A cue; not played.
    pub cue: bool,
    /// Not printed, and so not played.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub hidden: bool,
    /// A further note of the chord before it.
    pub chord: bool,
    /// The voice as the score names it.
    pub voice: String,
    /// The staff within the part, from 1.
    pub staff: u8,
    /// The level in force; null before any mark.
    pub dynamic: Option<&'static str>,
    /// crescendo or diminuendo, where it stands under one.
    pub hairpin: Option<&'static str>,
    /// Seconds from here to the end of the sound: of a tied note to the end of the last.
    pub seconds: f64,
    /// The mute in.
    pub mute: Option<&'static str>,
    /// The instrument it is read for; null where the part is not low brass.
    pub profile: Option<String>,
    /// Where its bar stands in the order of performance, counted from 0, once for each time it is played; left out where the
    /// bars are played once, as they are written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bar_played: Option<Vec<u32>>,
}

/// The rows of all parts read in full, part by part in written order; with `all` cue and hidden notes too.
pub fn note_rows<'s>(section: &'s Section<'s>, all: bool) -> impl Iterator<Item = NoteRow> + 's {
    let score = section.score;
    let played = Rc::new(times_played(score));
    score.parts.iter().flat_map(move |part| {
        let played = Rc::clone(&played);
        let desk = section.desks.iter().find(|desk| desk.part.info.index == part.info.index);
        let ends = sounds_until(part);
        let read_for = desk.map(read_for).unwrap_or_default();
        let listed =
            (0..).zip(part.notes.iter().zip(ends)).filter(move |(_, (note, _))| all || note.is_played());
        listed.map(move |(index, (note, end))| {
            let asked = || desk.map(|desk| in_hand_at(&desk.instruments, note.onset));
            let profile = read_for.get(&index).copied().or_else(asked).map(|profile| profile.name.clone());
            let seconds = score.tempo.at(end) - score.tempo.at(note.onset);
            let bar_played = played.as_ref().as_ref().and_then(|bars| bars.get(note.bar as usize).cloned());
            NoteRow { bar_played, ..row(score, part, note, seconds, profile) }
        })
    })
}

/// For each bar its places in the order of performance; `None` where that is the order on the page.
fn times_played(score: &Score) -> Option<Vec<Vec<u32>>> {
    let mut bars = vec![Vec::new(); score.bars.len()];
    let played = score.order.stretches.iter().flat_map(|stretch| stretch.bars.clone());
    let mut straight = true;
    for (place, bar) in (0..).zip(played) {
        straight &= place == bar;
        if let Some(times) = bars.get_mut(bar as usize) {
            times.push(place);
        }
    }
    (!straight || bars.last().is_some_and(Vec::is_empty)).then_some(bars)
}

/// By note what the first of its readers has in hand.
fn read_for<'d>(desk: &'d Desk<'_>) -> HashMap<u32, &'d Arc<Profile>> {
    let mut read_for = HashMap::new();
    for line in desk.lines.iter().filter(|_| !desk.in_hand.is_empty()) {
        for played in &line.played {
            for &note in &played.chain {
                read_for.entry(note).or_insert_with(|| desk.instrument_at(line, played.onset));
            }
        }
    }
    read_for
}

/// Writes the rows as they come; only the table waits for the last, whose width it must know.
pub fn write_notes(
    rows: impl Iterator<Item = NoteRow>,
    format: NoteFormat,
    out: &mut dyn Write,
) -> io::Result<()> {
    match format {
        NoteFormat::Table { width, unicode } => {
            listing::write(&rows.collect::<Vec<_>>(), listing::Listing::Table { width, unicode }, out)
        }
        NoteFormat::Csv => {
            let mut table = csv::Writer::from_writer(out);
            table.write_record(NoteRow::HEADING).map_err(written)?;
            for row in rows {
                table.write_record(row.cells().iter().map(|cell| inert(cell))).map_err(written)?;
            }
            table.flush()
        }
        NoteFormat::Jsonl => {
            for row in rows {
                serde_json::to_writer(&mut *out, &row)?;
                out.write_all(b"\n")?;
            }
            out.flush()
        }
    }
}

impl Row for NoteRow {
    const HEADING: &'static [&'static str] = &[
        "part",
        "part_name",
        "bar",
        "bar_index",
        "beat",
        "bar_onset",
        "duration",
        "written",
        "sounding",
        "midi",
        "tie",
        "grace",
        "cue",
        "chord",
        "voice",
        "staff",
        "dynamic",
        "hairpin",
        "seconds",
        "mute",
        "profile",
    ];

    fn cells(&self) -> Vec<String> {
        let yes = |is: bool| if is { "yes".to_owned() } else { String::new() };
        let or_empty = |word: Option<&str>| word.unwrap_or_default().to_owned();
        vec![
            self.part.clone(),
            self.part_name.clone(),
            self.bar.clone(),
            self.bar_index.to_string(),
            self.beat.clone(),
            self.bar_onset.clone(),
            self.duration.clone(),
            self.written.clone(),
            self.sounding.clone(),
            self.midi.to_string(),
            self.tie.to_owned(),
            yes(self.grace),
            yes(self.cue),
            yes(self.chord),
            self.voice.clone(),
            self.staff.to_string(),
            or_empty(self.dynamic),
            or_empty(self.hairpin),
            self.seconds.to_string(),
            or_empty(self.mute),
            or_empty(self.profile.as_deref()),
        ]
    }

    const TABLE: &'static [&'static str] = &[
        "part", "bar", "beat", "written", "sounding", "length", "seconds", "tie", "kind", "dynamic",
        "hairpin", "mute",
    ];

    fn table_cells(&self) -> Vec<String> {
        let kinds =
            [("grace", self.grace), ("cue", self.cue), ("hidden", self.hidden), ("chord", self.chord)];
        let kinds: Vec<&str> = kinds.iter().filter(|(_, is)| *is).map(|(kind, _)| *kind).collect();
        let or_empty = |word: Option<&str>| word.unwrap_or_default().to_owned();
        vec![
            self.part_name.clone(),
            self.bar.clone(),
            self.beat.clone(),
            self.written.clone(),
            self.sounding.clone(),
            self.duration.clone(),
            format!("{:.2}", self.seconds),
            if self.tie == "none" { String::new() } else { self.tie.to_owned() },
            kinds.join(", "),
            or_empty(self.dynamic),
            or_empty(self.hairpin),
            or_empty(self.mute),
        ]
    }
}

fn row(score: &Score, part: &Part, note: &Note, seconds: Seconds, profile: Option<String>) -> NoteRow {
    let bar = score.bars.get(note.bar as usize);
    NoteRow {
        part: part.info.id.clone(),
        part_name: part.info.name.clone(),
        bar: bar.map(|bar| bar.number.clone()).unwrap_or_default(),
        bar_index: note.bar,
        beat: bar.map(|bar| bar.beat_at(note.bar_onset).to_string()).unwrap_or_default(),
        bar_onset: note.bar_onset.to_string(),
        duration: note.length.to_string(),
        written: note.written.to_string(),
        sounding: note.sounding.to_string(),
        midi: note.sounding.midi(),
        tie: match note.tie {
            Tie::None => "none",
            Tie::Start => "start",
            Tie::Continue => "continue",
            Tie::Stop => "stop",
        },
        grace: note.grace,
        cue: note.cue,
        hidden: note.hidden,
        chord: note.chord,
        voice: part.voices.get(usize::from(note.voice)).cloned().unwrap_or_default(),
        staff: note.staff,
        dynamic: note.dynamic.map(crate::music::Dynamic::letters),
        hairpin: note.hairpin.map(|hairpin| match hairpin {
            Hairpin::Crescendo => "crescendo",
            Hairpin::Diminuendo => "diminuendo",
        }),
        // Milliseconds: more would be a pretence.
        seconds: (seconds.get() * 1000.0).round() / 1000.0,
        mute: note.mute.map(Mute::name),
        profile,
        bar_played: None,
    }
}

/// A whole number without a point.
#[allow(clippy::trivially_copy_pass_by_ref)] // As serde passes it.
fn number<S: serde::Serializer>(number: &f64, to: S) -> Result<S::Ok, S::Error> {
    if number.fract() == 0.0 { to.serialize_i64(*number as i64) } else { to.serialize_f64(*number) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::section;
    use crate::score::testing::music;
    use crate::score::{PerformanceOrder, Stretch};

    fn written(format: NoteFormat, all: bool) -> String {
        let mut music = music("ff D1/4~ | D1/2 r/2 | [straight] *E1 F+1/1 G1");
        music.score.parts[0].notes[4].cue = true;
        let section = section(&music, &["contrabass-tuba-c"]);
        let mut out = Vec::new();
        write_notes(note_rows(&section, all), format, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn a_row_tells_all_that_was_read_of_a_note() {
        let lines = written(NoteFormat::Jsonl, false);
        let rows: Vec<serde_json::Value> =
            lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        let expected = serde_json::json!({
            "part": "P1", "part_name": "Tuba", "bar": "1", "bar_index": 0, "beat": "1", "bar_onset": "0",
            "duration": "4", "written": "D1", "sounding": "D1", "midi": 26, "tie": "start", "grace": false,
            "cue": false, "chord": false, "voice": "1", "staff": 1, "dynamic": "ff", "hairpin": null,
            "seconds": 6.0, "mute": null, "profile": "contrabass-tuba-c",
        });
        assert_eq!(rows[0], expected);
        assert_eq!((&rows[1]["tie"], &rows[1]["seconds"]), (&"stop".into(), &2.0.into()));
        assert_eq!((&rows[2]["grace"], &rows[2]["duration"]), (&true.into(), &"0".into()));
        assert_eq!((&rows[3]["midi"], &rows[3]["mute"]), (&29.5.into(), &"straight".into()));
        assert!(lines.starts_with("{\"part\":\"P1\"") && lines.contains("\"midi\":26,"));
    }

    #[test]
    fn bars_that_are_repeated_say_where_they_are_played() {
        let mut music = music("ff D1/4 | E1/4 | F1/4");
        let stretch = |bars: std::ops::Range<u32>, pass| Stretch { bars, pass, time: pass };
        music.score.order =
            PerformanceOrder { stretches: vec![stretch(0..2, 1), stretch(0..1, 2), stretch(2..3, 1)] };
        let section = section(&music, &["contrabass-tuba-c"]);
        let played: Vec<_> = note_rows(&section, false).map(|row| row.bar_played.unwrap()).collect();
        assert_eq!(played, [vec![0, 2], vec![1], vec![3]]);
    }

    #[test]
    fn cues_are_listed_only_when_asked_for() {
        assert_eq!(written(NoteFormat::Jsonl, false).lines().count(), 4);
        let all = written(NoteFormat::Jsonl, true);
        assert_eq!(all.lines().count(), 5);
        assert!(all.lines().last().unwrap().contains("\"cue\":true"));
    }

    #[test]
    fn table_and_csv_have_a_heading_and_a_line_for_each_note() {
        let csv = written(NoteFormat::Csv, false);
        assert_eq!(csv.lines().count(), 5);
        assert_eq!(
            csv.lines().nth(1).unwrap(),
            "P1,Tuba,1,0,1,0,4,D1,D1,26,start,,,,1,1,ff,,6,,contrabass-tuba-c"
        );
        let table = written(NoteFormat::Table { width: 80, unicode: true }, false);
        assert!(table.starts_with("part  bar  beat  written  sounding  length"), "{table}");
        assert_eq!(table.lines().count(), 5);
    }
}
