//! `lowbrass breaths`: where each player breathes, and what is left.

use std::io::{self, Write};

use serde::Serialize;

use super::contract::At;
use super::listing::{self, Listing, Row};
use super::phrases;
use crate::finding::Place;
use crate::music::BreathShare;
use crate::playing::Section;
use crate::playing::breath::{BreathKind, BreathPlace, plan};
use crate::profile::SectionLimits;
use crate::score::Score;

/// One breath of one player.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BreathRow {
    /// The part's id.
    pub part: String,
    /// The part's name.
    pub part_name: String,
    /// Which player of the part, from 1.
    pub player: u8,
    /// Printed number of the bar in which it is taken.
    pub bar: String,
    /// The same counted from 0.
    pub bar_index: u32,
    /// The beat, from 1.
    pub beat: String,
    /// The note that counts as one beat: the time signature's lower number.
    pub beat_unit: u32,
    /// In which pass of a repeat, from 1.
    pub pass: u32,
    /// What makes room for it: rest, marked, long-note, slur-end or stolen.
    pub kind: &'static str,
    /// Seconds it takes.
    pub seconds: f64,
    /// Seconds of it that are taken from the note before.
    pub stolen: f64,
    /// Share of a full breath left before it.
    pub before: f64,
    /// Share in the lungs behind it.
    pub behind: f64,
}

/// Whether a breath is worth a look: taken where no rest is, with little left, or too short to fill the lungs.
fn matters(breath: &BreathPlace, limits: &SectionLimits) -> bool {
    breath.kind != BreathKind::Rest
        || breath.stolen.get() > 0.0
        || breath.before.get() < *limits.air_low
        || breath.behind < BreathShare::FULL
}

/// The breaths of all players, by part and player, in the order of performance: all, or those that are worth a look,
/// with the number of those left out.
pub fn breath_rows(section: &Section<'_>, all: bool) -> (Vec<BreathRow>, usize) {
    let mut left_out = 0;
    let mut rows = Vec::new();
    for desk in &section.desks {
        for line in &desk.lines {
            for breath in plan(line, desk, section).places {
                if !all && !matters(&breath, &section.limits) {
                    left_out += 1;
                    continue;
                }
                let struck = &line.performed[breath.after];
                let place = place_of(section.score, line.played[struck.played].end);
                rows.push(BreathRow {
                    part: desk.part.info.id.clone(),
                    part_name: desk.part.info.name.clone(),
                    player: line.player,
                    bar: place.bar,
                    bar_index: place.bar_index,
                    beat: place.beat.to_string(),
                    beat_unit: place.beat_unit,
                    pass: struck.pass,
                    kind: word(breath.kind),
                    seconds: hundredths(breath.seconds.get()),
                    stolen: hundredths(breath.stolen.get()),
                    before: hundredths(breath.before.get()),
                    behind: hundredths(breath.behind.get()),
                });
            }
        }
    }
    (rows, left_out)
}

/// Writes the breaths; under a table also how many are left out, and what to take care of.
pub fn write_breaths(
    rows: &[BreathRow],
    left_out: usize,
    listing: Listing,
    out: &mut dyn Write,
) -> io::Result<()> {
    if !listing.is_table() {
        return listing::write(rows, listing, out);
    }
    if !rows.is_empty() {
        listing::write(rows, listing, out)?;
        writeln!(out)?;
    }
    if left_out > 0 {
        let breaths = if left_out == 1 { "breath" } else { "breaths" };
        writeln!(out, "{left_out} easy {breaths} in rests not shown (--all)")?;
    }
    listing::said_below(phrases::ON_BREATH, listing, out)
}

impl Row for BreathRow {
    const HEADING: &'static [&'static str] =
        &["part_name", "player", "bar", "beat", "pass", "kind", "seconds", "stolen", "before", "behind"];

    fn cells(&self) -> Vec<String> {
        let share = |share: f64| format!("{:.0} %", share * 100.0);
        vec![
            self.part_name.clone(),
            self.player.to_string(),
            self.bar.clone(),
            self.beat.clone(),
            self.pass.to_string(),
            self.kind.to_owned(),
            format!("{:.2}", self.seconds),
            format!("{:.2}", self.stolen),
            share(self.before),
            share(self.behind),
        ]
    }

    const TABLE: &'static [&'static str] =
        &["part", "player", "where", "time through", "room", "seconds", "left before it", "after it"];

    const PLAIN: &'static [(&'static str, &'static str)] = &[("player", "1"), ("time through", "1")];

    fn table_cells(&self) -> Vec<String> {
        let share = |share: f64| format!("{:.0} %", share * 100.0);
        let at = At {
            bar: self.bar.clone(),
            bar_index: self.bar_index,
            beat: self.beat.clone(),
            beat_unit: self.beat_unit,
        };
        vec![
            self.part_name.clone(),
            self.player.to_string(),
            phrases::place(&at),
            self.pass.to_string(),
            match self.kind {
                "rest" => "in the rest",
                "marked" => "at the breath mark",
                "long-note" => "after the long note",
                "slur-end" => "after the slur",
                _ => "between two notes",
            }
            .to_owned(),
            if self.stolen > 0.0 {
                format!("{:.1}, {:.1} of it from the note", self.seconds, self.stolen)
            } else {
                format!("{:.1}", self.seconds)
            },
            share(self.before),
            share(self.behind),
        ]
    }
}

/// The bar and beat of a place.
pub(super) fn place_of(score: &Score, at: crate::music::Onset) -> Place {
    let bar = score.bars.partition_point(|bar| bar.start <= at).saturating_sub(1);
    let into = score.bars.get(bar).map_or(crate::music::Length::ZERO, |bar| at.since(bar.start));
    Place::at(score, u32::try_from(bar).unwrap_or(u32::MAX), into)
}

const fn word(kind: BreathKind) -> &'static str {
    match kind {
        BreathKind::Rest => "rest",
        BreathKind::Marked => "marked",
        BreathKind::LongNote => "long-note",
        BreathKind::SlurEnd => "slur-end",
        BreathKind::Stolen => "stolen",
    }
}

/// Rounded to hundredths: more would be a pretence.
pub(super) fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::section;
    use crate::score::testing::music;

    fn written(listing: Listing) -> String {
        let music = music("=60 f F2/4 | r/1 F2/3");
        let (rows, _) = breath_rows(&section(&music, &["contrabass-tuba-c"]), true);
        let mut out = Vec::new();
        write_breaths(&rows, 0, listing, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn an_easy_breath_in_a_rest_is_only_counted() {
        // F2 f lasts 5.3 s: after 4 s a quarter is left, after 1 s four fifths.
        let music = music("=60 f F2/4 | r/1 F2/1 r/2 | F2/1");
        let section = section(&music, &["contrabass-tuba-c"]);
        let (rows, left_out) = breath_rows(&section, false);
        assert_eq!((rows.len(), left_out), (1, 1));
        assert_eq!(rows[0].bar, "2");
        let mut out = Vec::new();
        write_breaths(&rows, left_out, Listing::Table { width: 80, unicode: true }, &mut out).unwrap();
        assert!(String::from_utf8(out).unwrap().contains("\n1 easy breath in rests not shown (--all)\n"));
        assert_eq!(breath_rows(&section, true).0.len(), 2);
    }

    #[test]
    fn a_breath_is_told_with_its_place_and_what_is_left() {
        let table = "part  where          room         seconds  left before it  after it\n\
                     Tuba  bar 2, beat 1  in the rest  1.0      25 %            100 %\n\n\
                     Breath is reckoned for a rested adult player. Ask the player; nobody should hold\n\
                     out or force it.\n";
        assert_eq!(written(Listing::Table { width: 80, unicode: true }), table);
        assert!(written(Listing::Csv).ends_with("Tuba,1,2,1,1,rest,1.00,0.00,25 %,100 %\n"));
        let json: serde_json::Value = serde_json::from_str(&written(Listing::Json)).unwrap();
        assert_eq!(json[0]["kind"], "rest");
        assert_eq!(json[0]["bar_index"], 1);
    }
}
