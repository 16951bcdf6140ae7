//! `attributes`: divisions, time, transposition, staves, clefs.

use roxmltree::Node;

use super::time::{Amount, Divisions};
use super::walk::PartReader;
use super::xml::{attribute, child, elements, name, number, says_yes, text};
use crate::music::{Doubling, Length, Transposition};
use crate::score::{Clef, ClefSign, OddityKind};

/// The transpositions in force: one for all staves, and those of single staves.
#[derive(Clone, Debug, Default)]
pub(super) struct Transposing {
    all: Transposition,
    staves: Vec<(u8, Transposition)>,
}

impl Transposing {
    pub(super) fn of_staff(&self, staff: u8) -> Transposition {
        self.staves.iter().find(|(own, _)| *own == staff).map_or(self.all, |(_, own)| *own)
    }

    /// The newest replaces all of the older; for all staves it clears those of single staves.
    pub(super) fn change(&mut self, staff: Option<u8>, transposition: Transposition) {
        match staff {
            None => *self = Transposing { all: transposition, staves: Vec::new() },
            Some(staff) => {
                self.staves.retain(|(own, _)| *own != staff);
                self.staves.push((staff, transposition));
            }
        }
    }
}

impl PartReader<'_> {
    pub(super) fn attributes(&mut self, attributes: Node<'_, '_>) {
        let mut timed = false;
        for element in elements(attributes) {
            match name(element) {
                "divisions" => self.divisions(element),
                // A second `time` is for a single staff.
                "time" if !timed => {
                    timed = true;
                    self.time(element);
                }
                "staves" => {
                    self.out.staves = number(element).filter(|staves| *staves > 0).unwrap_or(self.out.staves);
                }
                "clef" => self.clef(element),
                "transpose" => self.transpose(element),
                // `key` changes no pitch here, `for-part` speaks of other editions, `measure-style` of looks.
                _ => {}
            }
        }
    }

    fn divisions(&mut self, divisions: Node<'_, '_>) {
        let words = text(divisions);
        if let Some(divisions) = Amount::read(&words).and_then(Divisions::per_quarter) {
            self.divisions_given = true;
            self.cursor.count_in(divisions);
        } else {
            let kind = OddityKind::DivisionsUnusable(words.into_owned());
            self.odd(divisions, kind);
        }
    }

    /// `beats` may be a sum ("3+2"), and several pairs of `beats` and `beat-type` add up. `interchangeable`
    /// says the same length in other words.
    fn time(&mut self, time: Node<'_, '_>) {
        if child(time, "senza-misura").is_some() {
            self.nominal = None;
            return;
        }
        let (mut beats, mut whole, mut first) = (None, Length::ZERO, None);
        for element in elements(time) {
            match name(element) {
                "beats" => {
                    let sum: Option<u32> = text(element)
                        .split('+')
                        .map(|beats| beats.trim().parse::<u32>().ok())
                        .try_fold(0_u32, |sum, beats| sum.checked_add(beats?));
                    beats = sum.filter(|sum| (1..=10_000).contains(sum));
                }
                "beat-type" => {
                    let unit = number(element)
                        .filter(|unit| (1..=1024).contains(unit))
                        .and_then(|unit| Length::quarters(4, unit));
                    if let (Some(beats), Some(unit)) = (beats.take(), unit) {
                        first = first.or(Some(unit));
                        whole += unit.times(i64::from(beats), 1).unwrap_or(Length::ZERO);
                    }
                }
                _ => {}
            }
        }
        if let Some(unit) = first {
            (self.nominal, self.beat) = (Some(whole), unit);
        }
    }

    fn clef(&mut self, clef: Node<'_, '_>) {
        if !self.in_full {
            return;
        }
        let sign = match child(clef, "sign").map(text).as_deref() {
            Some("G") => ClefSign::G,
            Some("F") => ClefSign::F,
            Some("C") => ClefSign::C,
            _ => ClefSign::Other,
        };
        let usual = match sign {
            ClefSign::G => 2,
            ClefSign::F => 4,
            ClefSign::C | ClefSign::Other => 3,
        };
        let line = child(clef, "line").and_then(number).unwrap_or(usual);
        let octaves = child(clef, "clef-octave-change").and_then(number).unwrap_or(0);
        let staff = attribute(clef, "number").unwrap_or(1);
        self.out.clefs.push((self.here(), staff, Clef { sign, line, octaves }));
    }

    fn transpose(&mut self, transpose: Node<'_, '_>) {
        let cents = child(transpose, "chromatic")
            .and_then(number::<f64>)
            .filter(|semitones| semitones.abs() <= 120.0)
            .map_or(0, |semitones| (semitones * 100.0).round() as i32);
        let mut transposition = Transposition {
            diatonic: child(transpose, "diatonic").and_then(number).filter(|steps: &i32| steps.abs() <= 70),
            chromatic_cents: cents,
            octaves: child(transpose, "octave-change")
                .and_then(number)
                .filter(|octaves: &i32| octaves.abs() <= 10)
                .unwrap_or(0),
            double: child(transpose, "double")
                .map(|double| if says_yes(double, "above") { Doubling::Above } else { Doubling::Below }),
        };
        if self.source.concert && (cents != 0 || transposition.diatonic.unwrap_or(0) != 0) {
            self.odd(transpose, OddityKind::TransposeInConcertScore);
            (transposition.chromatic_cents, transposition.diatonic) = (0, None);
        }
        let staff = attribute(transpose, "number");
        let here = self.here();
        self.retransposed.push((here.into, staff, transposition));
        self.out.transpositions.push((here, staff, transposition));
    }
}
