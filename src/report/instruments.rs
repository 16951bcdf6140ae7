//! `lowbrass instruments`: which instrument for which passage, where to change, what to bring.

use std::io::{self, Write};
use std::sync::Arc;

use serde::Serialize;

use super::breaths::{hundredths, place_of};
use super::listing::{self, Listing, Row};
use super::phrases;
use crate::playing::Section;
use crate::playing::hand::Verdict;
use crate::playing::instruments::{Kit, kits, stretches};
use crate::profile::Profile;
use crate::rules::Family;

/// A stretch of one player's part on one instrument.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InstrumentRow {
    /// The part's id.
    pub part: String,
    /// The part's name.
    pub part_name: String,
    /// Which player of the part, from 1.
    pub player: u8,
    /// Printed number of the bar where it begins.
    pub from_bar: String,
    /// Printed number of the bar where its last note begins.
    pub to_bar: String,
    /// Name of the instrument's profile.
    pub instrument: String,
    /// The instrument's title.
    pub title: String,
    /// The worst it meets there: suits, beyond, strained or missing.
    pub worst: &'static str,
    /// Notes that are worse than suits.
    pub beyond: usize,
    /// Seconds there are to take it up; `null` for the first.
    pub change: Option<f64>,
    /// Seconds wanted for that.
    pub wanted: Option<f64>,
}

/// What the players of one part bring.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KitRow {
    /// The cue: the score's title, or what the caller calls it.
    pub cue: String,
    /// The part's name.
    pub part_name: String,
    /// Titles of the instruments, in order of first use.
    pub instruments: Vec<String>,
    /// Mutes with their instrument's title, in order of first use.
    pub mutes: Vec<String>,
}

/// The instruments of all players, by part, player and place. `others`: the instruments within reach of each desk, in
/// order of desks.
pub fn instrument_rows(section: &Section<'_>, others: &[Vec<Arc<Profile>>]) -> Vec<InstrumentRow> {
    let mut rows = Vec::new();
    for (desk, others) in section.desks.iter().zip(others) {
        for stretch in stretches(desk, section, others) {
            let line = &desk.lines[stretch.line];
            let bar = |note: usize| place_of(section.score, line.played[note].onset).bar;
            rows.push(InstrumentRow {
                part: desk.part.info.id.clone(),
                part_name: desk.part.info.name.clone(),
                player: line.player,
                from_bar: bar(stretch.from),
                to_bar: bar(stretch.to),
                instrument: stretch.instrument.name.clone(),
                title: stretch.instrument.title.clone(),
                worst: word(stretch.worst),
                beyond: stretch.beyond,
                change: stretch.change.map(|change| hundredths(change.seconds.get())),
                wanted: stretch.change.map(|change| change.wanted.0.get()),
            });
        }
    }
    rows
}

/// What to bring for one cue, by part.
pub fn kit_rows(cue: &str, section: &Section<'_>, others: &[Vec<Arc<Profile>>]) -> Vec<KitRow> {
    let rows = kits(section, others).into_iter().map(|kit| KitRow {
        cue: cue.to_owned(),
        part_name: section.desks[kit.desk].part.info.name.clone(),
        mutes: mutes(&kit),
        instruments: kit.instruments.into_iter().map(|(_, title)| title).collect(),
    });
    rows.collect()
}

/// The mutes of a kit, each with the instrument it is for: "straight, Contrabass tuba in C".
pub(super) fn mutes(kit: &Kit) -> Vec<String> {
    let title = |name: &str| {
        let known = kit.instruments.iter().find(|(instrument, _)| instrument == name);
        known.map_or(name, |(_, title)| title.as_str()).to_owned()
    };
    kit.mutes.iter().map(|(instrument, mute)| format!("{}, {}", mute.name(), title(instrument))).collect()
}

/// Mutes as people are told of them: whose it is says nothing where there is one instrument.
pub(super) fn mutes_said(mutes: &[String], instruments: &[String]) -> Vec<String> {
    let whose = match instruments {
        [only] => format!(", {only}"),
        _ => String::new(),
    };
    mutes.iter().map(|mute| mute.strip_suffix(&whose).unwrap_or(mute).to_owned()).collect()
}

/// What to bring over all cues, by part in order of first appearance; the cue says how many there are.
pub fn kit_totals(rows: &[KitRow]) -> Vec<KitRow> {
    let mut totals: Vec<(KitRow, usize)> = Vec::new();
    for row in rows {
        let at = totals.iter().position(|(total, _)| total.part_name == row.part_name).unwrap_or_else(|| {
            let part_name = row.part_name.clone();
            totals.push((
                KitRow { cue: String::new(), part_name, instruments: Vec::new(), mutes: Vec::new() },
                0,
            ));
            totals.len() - 1
        });
        let (total, cues) = &mut totals[at];
        *cues += 1;
        for (own, new) in [(&mut total.instruments, &row.instruments), (&mut total.mutes, &row.mutes)] {
            own.extend(new.iter().filter(|item| !own.contains(item)).cloned().collect::<Vec<_>>());
        }
    }
    let of_all = |(total, cues): (KitRow, usize)| KitRow {
        cue: if cues == 1 { "1 cue".to_owned() } else { format!("all of {cues} cues") },
        ..total
    };
    totals.into_iter().map(of_all).collect()
}

/// Writes the instruments by passage; under a table also what to take care of, where a passage is no ease on any of them.
pub fn write_instruments(rows: &[InstrumentRow], listing: Listing, out: &mut dyn Write) -> io::Result<()> {
    listing::write(rows, listing, out)?;
    let strains = rows.iter().any(|row| row.worst != word(Verdict::Suits));
    match Family::Range.caution().filter(|_| strains && listing.is_table()) {
        Some(caution) => {
            writeln!(out)?;
            listing::said_below(caution, listing, out)
        }
        None => Ok(()),
    }
}

/// Writes what to bring.
pub fn write_kits(rows: &[KitRow], listing: Listing, out: &mut dyn Write) -> io::Result<()> {
    listing::write(rows, listing, out)
}

impl Row for InstrumentRow {
    const HEADING: &'static [&'static str] =
        &["part_name", "player", "from_bar", "to_bar", "instrument", "worst", "beyond", "change", "wanted"];

    fn cells(&self) -> Vec<String> {
        let seconds = |seconds: Option<f64>| seconds.map(|s| format!("{s:.1} s")).unwrap_or_default();
        vec![
            self.part_name.clone(),
            self.player.to_string(),
            self.from_bar.clone(),
            self.to_bar.clone(),
            self.title.clone(),
            self.worst.to_owned(),
            self.beyond.to_string(),
            seconds(self.change),
            seconds(self.wanted),
        ]
    }

    const TABLE: &'static [&'static str] =
        &["part", "player", "where", "instrument", "how it lies", "time to change"];

    const PLAIN: &'static [(&'static str, &'static str)] = &[("player", "1")];

    fn table_cells(&self) -> Vec<String> {
        vec![
            self.part_name.clone(),
            self.player.to_string(),
            phrases::bars(&self.from_bar, &self.to_bar),
            self.title.clone(),
            match (self.worst, self.beyond) {
                ("suits", _) => "well".to_owned(),
                ("missing", 1) => "1 note is not on the instrument".to_owned(),
                ("strained", 1) => "1 note is strained".to_owned(),
                (_, 1) => "1 note is not at ease".to_owned(),
                ("missing", notes) => format!("{notes} notes not at ease, some not on the instrument"),
                ("strained", notes) => format!("{notes} notes not at ease, some strained"),
                (_, notes) => format!("{notes} notes not at ease"),
            },
            match (self.change, self.wanted) {
                (Some(there_are), Some(wanted)) => format!("{there_are:.0} s (wants {wanted:.0} s)"),
                _ => String::new(),
            },
        ]
    }
}

impl Row for KitRow {
    const HEADING: &'static [&'static str] = &["cue", "part_name", "instruments", "mutes"];

    fn cells(&self) -> Vec<String> {
        vec![self.cue.clone(), self.part_name.clone(), self.instruments.join("; "), self.mutes.join("; ")]
    }

    const TABLE: &'static [&'static str] = &["cue", "part", "bring", "mutes"];

    fn table_cells(&self) -> Vec<String> {
        let mutes = mutes_said(&self.mutes, &self.instruments).join("; ");
        vec![self.cue.clone(), self.part_name.clone(), self.instruments.join("; "), mutes]
    }
}

const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Suits => "suits",
        Verdict::Beyond => "beyond",
        Verdict::Strained => "strained",
        Verdict::Missing => "missing",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::playing::testing::{instrument, section};
    use crate::score::testing::music;

    #[test]
    fn the_change_to_the_f_tuba_is_told_with_its_time_and_the_kit_with_its_mute() {
        let music = music("mf D1/4 | r/14 | [straight] F4/2");
        let section = section(&music, &["contrabass-tuba-c"]);
        let others = [vec![Arc::new(instrument("bass-tuba-f"))]];
        let mut out = Vec::new();
        write_instruments(&instrument_rows(&section, &others), Listing::Csv, &mut out).unwrap();
        let lines = "part_name,player,from_bar,to_bar,instrument,worst,beyond,change,wanted\n\
                     Tuba,1,1,1,Contrabass tuba in C,suits,0,,\n\
                     Tuba,1,3,3,Bass tuba in F,suits,0,14.0 s,12.0 s\n";
        assert_eq!(String::from_utf8(out).unwrap(), lines);
        let mut out = Vec::new();
        write_instruments(
            &instrument_rows(&section, &others),
            Listing::Table { width: 80, unicode: true },
            &mut out,
        )
        .unwrap();
        let table = String::from_utf8(out).unwrap();
        assert!(table.ends_with("well         14 s (wants 12 s)\n"), "{table}");
        let kit = &kit_rows("Cue 1", &section, &others)[0];
        assert_eq!(kit.instruments, ["Contrabass tuba in C", "Bass tuba in F"]);
        assert_eq!(kit.mutes, ["straight, Bass tuba in F"]);
        let open = KitRow {
            cue: "Cue 2".to_owned(),
            instruments: vec!["Cimbasso".to_owned()],
            mutes: Vec::new(),
            ..kit.clone()
        };
        let totals = kit_totals(&[kit.clone(), open]);
        assert_eq!(totals.len(), 1);
        assert_eq!(totals[0].cue, "all of 2 cues");
        assert_eq!(totals[0].instruments, ["Contrabass tuba in C", "Bass tuba in F", "Cimbasso"]);
        assert_eq!(totals[0].mutes, ["straight, Bass tuba in F"]);
    }
}
