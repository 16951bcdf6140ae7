//! `attributes`: divisions, time, transposition, staves, clefs.

use super::time::{Amount, Divisions};
use super::tree::{Node, child, elements, name, says_yes, text};
use super::walk::{PartReader, cut_short};
use crate::music::{Doubling, Length, Transposition};
use crate::score::{Clef, ClefSign, OddityKind};

/// What is taken instead of a staff's number that is none.
pub(super) const FIRST_STAFF: &str = "it is read as 1";

/// What is taken instead of a time signature that is none.
const FORMER_TIME: &str = "the former time signature goes on";

/// The most bars that one sign stands for.
const MOST_REPEATED: u32 = 8;

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
                    let former = ("staves", "the former number goes on");
                    self.out.staves = self.number(element, 1..=u8::MAX, former).unwrap_or(self.out.staves);
                }
                "clef" => self.clef(element),
                "measure-style" => self.measure_style(element),
                "transpose" => self.transpose(element),
                "key" => self.key(element),
                // `for-part` speaks of other editions, the other kinds of `measure-style` of looks.
                _ => {}
            }
        }
    }

    fn divisions(&mut self, divisions: Node<'_, '_>) {
        let words = text(divisions);
        if let Some(divisions) = Amount::read(words).and_then(Divisions::per_quarter) {
            self.divisions_given = true;
            self.cursor.count_in(divisions);
        } else {
            let kind = OddityKind::DivisionsUnusable(cut_short(words));
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
        let mut usable = true;
        for element in elements(time) {
            match name(element) {
                "beats" => {
                    let sum: Option<u32> = text(element)
                        .split('+')
                        .map(|beats| beats.trim().parse::<u32>().ok())
                        .try_fold(0_u32, |sum, beats| sum.checked_add(beats?));
                    beats = sum.filter(|sum| (1..=10_000).contains(sum));
                    if beats.is_none() {
                        usable = false;
                        self.odd_number(element, text(element), ("beats", FORMER_TIME));
                    }
                }
                "beat-type" => {
                    let unit = self
                        .number(element, 1..=1024, ("beat-type", FORMER_TIME))
                        .and_then(|unit| Length::quarters(4, unit));
                    usable &= unit.is_some();
                    if let (Some(beats), Some(unit)) = (beats.take(), unit) {
                        first = first.or(Some(unit));
                        whole += unit.times(i64::from(beats), 1).unwrap_or(Length::ZERO);
                    }
                }
                _ => {}
            }
        }
        if let Some(unit) = first.filter(|_| usable) {
            (self.nominal, self.beat) = (Some(whole), unit);
        }
    }

    /// `measure-repeat`: bars that stand for those before them. The other styles are looks: `slash` asks for rhythm without pitch.
    fn measure_style(&mut self, style: Node<'_, '_>) {
        let Some(repeat) = child(style, "measure-repeat") else { return };
        self.bars_repeated = match repeat.attribute("type") {
            Some("start") => {
                let one = ("bars of a measure-repeat", "it is read as 1");
                Some(self.number(repeat, 1..=MOST_REPEATED, one).unwrap_or(1))
            }
            _ => None,
        };
    }

    fn clef(&mut self, clef: Node<'_, '_>) {
        if !self.in_full {
            return;
        }
        let sign = match child(clef, "sign").map(text) {
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
        let line = child(clef, "line")
            .and_then(|line| self.number(line, 1..=9, ("line of a clef", "it is read on its usual line")))
            .unwrap_or(usual);
        let octaves = child(clef, "clef-octave-change")
            .and_then(|change| self.number(change, -10..=10, ("clef-octave-change", "it is read as 0")))
            .unwrap_or(0);
        let staff =
            self.attribute(clef, "number", 1..=u8::MAX, ("number of a clef", FIRST_STAFF)).unwrap_or(1);
        self.out.clefs.push((self.here(), staff, Clef { sign, line, octaves }));
    }

    /// It changes no pitch here: `alter` says all. Keys without `fifths` are nobody's in an orchestra.
    fn key(&mut self, key: Node<'_, '_>) {
        let staff = self.attribute(key, "number", 1..=u8::MAX, ("number of a key", FIRST_STAFF));
        let of_another_staff = staff.is_some_and(|staff| staff > 1);
        let passed_over = ("fifths", "the key is passed over");
        let fifths = child(key, "fifths").and_then(|fifths| self.number(fifths, -11..=11, passed_over));
        if let Some(fifths) = fifths.filter(|_| self.in_full && !of_another_staff) {
            self.out.keys.push((self.here(), fifths));
        }
    }

    fn transpose(&mut self, transpose: Node<'_, '_>) {
        let cents = child(transpose, "chromatic")
            .and_then(|chromatic| self.number(chromatic, -120.0..=120.0, ("chromatic", "it is read as 0")))
            .map_or(0, |semitones: f64| (semitones * 100.0).round() as i32);
        let mut transposition = Transposition {
            diatonic: child(transpose, "diatonic").and_then(|diatonic| {
                self.number(diatonic, -70..=70, ("diatonic", "the spelling is chosen without it"))
            }),
            chromatic_cents: cents,
            octaves: child(transpose, "octave-change")
                .and_then(|change| self.number(change, -10..=10, ("octave-change", "it is read as 0")))
                .unwrap_or(0),
            double: child(transpose, "double")
                .map(|double| if says_yes(double, "above") { Doubling::Above } else { Doubling::Below }),
        };
        if self.source.concert && (cents != 0 || transposition.diatonic.unwrap_or(0) != 0) {
            self.odd(transpose, OddityKind::TransposeInConcertScore);
            (transposition.chromatic_cents, transposition.diatonic) = (0, None);
        }
        let all = ("number of a transpose", "it is read for all staves");
        let staff = self.attribute(transpose, "number", 1..=u8::MAX, all);
        let here = self.here();
        self.retransposed.push((here.into, staff, transposition));
        self.out.transpositions.push((here, staff, transposition));
    }
}

#[cfg(test)]
mod tests {
    use crate::music::Length;
    use crate::musicxml::testing::{bar, note, plain, read, score};
    use crate::score::{ClefSign, OddityKind};

    #[test]
    fn divisions_that_change_in_mid_bar_count_from_there() {
        let part = bar(&[
            note("C2", 2, "").as_str(),
            "<attributes><divisions>6</divisions></attributes>",
            &note("D2", 2, ""),
            "<backup><duration>2</duration></backup>",
            &note("E2", 3, ""),
        ]
        .concat());
        assert_eq!(plain(&part), ["C2@0+1/2", "D2@1/2+1/3", "E2@1/2+1/2"]);
    }

    #[test]
    fn divisions_that_are_none_are_said_and_the_former_go_on() {
        let score = score(&format!(
            "<measure>{}<attributes><divisions>0</divisions></attributes>{}</measure>",
            note("C2", 1, ""),
            note("D2", 1, "")
        ));
        assert_eq!(plain(&score.parts[0]), ["C2@0+1", "D2@1+1"]);
        let kinds: Vec<_> = score.oddities.iter().map(|oddity| oddity.kind.clone()).collect();
        assert_eq!(kinds, [OddityKind::DivisionsMissing, OddityKind::DivisionsUnusable("0".into())]);
    }

    #[track_caller]
    fn time(inside: &str) -> (Option<Length>, Length) {
        let score = score(&format!("<measure><attributes><time>{inside}</time></attributes></measure>"));
        (score.bars[0].nominal, score.bars[0].beat)
    }

    #[test]
    fn time_signatures_add_up_and_beats_have_their_unit() {
        let eighth = Length::quarters(1, 2).unwrap();
        assert_eq!(time("<beats>3+2</beats><beat-type>8</beat-type>"), (Length::quarters(5, 2), eighth));
        assert_eq!(
            time("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>"),
            (Length::quarters(7, 2), Length::QUARTER)
        );
        assert_eq!(
            time(
                "<beats>6</beats><beat-type>8</beat-type><interchangeable><beats>3</beats><beat-type>4</beat-type></interchangeable>"
            ),
            (Length::quarters(3, 1), eighth)
        );
        assert_eq!(time("<senza-misura/>"), (None, Length::QUARTER));
        assert_eq!(time("<beats>0</beats><beat-type>0</beat-type>"), (None, Length::QUARTER));
    }

    #[test]
    fn a_transposition_acts_on_notes_from_its_place_whatever_the_document_order() {
        // The voice written first passes the place at which the second voice's `transpose` stands.
        let part = bar(&[
            note("C4", 8, "<voice>1</voice>").as_str(),
            &note("C4", 8, "<voice>1</voice>"),
            "<backup><duration>8</duration></backup>",
            "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>",
            "<backup><duration>8</duration></backup>",
            &note("E4", 16, "<voice>2</voice>"),
        ]
        .concat());
        assert_eq!(plain(&part), ["C4@0+2", "E4@0+4", "Bb3@2+2"]);
        assert_eq!(part.transpositions.len(), 1);
    }

    #[test]
    fn a_transposition_for_all_staves_clears_those_of_single_staves() {
        let transpose = |staff: &str, octave: i32| {
            format!(
                "<attributes><transpose{staff}><chromatic>0</chromatic><octave-change>{octave}</octave-change></transpose></attributes>"
            )
        };
        let part = bar(&[
            transpose(" number='2'", -1).as_str(),
            &note("C4", 4, "<staff>1</staff>"),
            &note("C4", 4, "<staff>2</staff>"),
            &transpose("", -2),
            &note("C4", 4, "<staff>2</staff>"),
        ]
        .concat());
        assert_eq!(plain(&part), ["C4@0+1", "C3@1+1", "C2@2+1"]);
    }

    #[test]
    fn a_concert_score_keeps_octave_changes_only() {
        let score = read(format!(
            "<score-partwise><defaults><concert-score/></defaults><part-list/><part><measure><attributes>
             <divisions>1</divisions><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>
             <octave-change>-1</octave-change></transpose></attributes>{}</measure></part></score-partwise>",
            note("C3", 4, "")
        ))
        .unwrap();
        assert_eq!(plain(&score.parts[0]), ["C2@0+4"]);
        assert!(score.oddities.iter().any(|oddity| oddity.kind == OddityKind::TransposeInConcertScore));
    }

    #[test]
    fn keys_are_kept_with_their_place() {
        let part = bar(&[
            "<attributes><key><fifths>-3</fifths></key></attributes>",
            &note("C4", 8, ""),
            "<attributes><key number='2'><fifths>4</fifths></key><key number='1'><fifths>2</fifths></key></attributes>",
        ]
        .concat());
        let keys: Vec<_> = part.keys.iter().map(|key| (key.at.quarters(), key.fifths)).collect();
        assert_eq!(keys, [(0.0, -3), (2.0, 2)]);
    }

    #[test]
    fn clefs_are_kept_with_their_place() {
        let part = bar(&[
            "<attributes><staves>2</staves><clef number='2'><sign>F</sign><clef-octave-change>-1</clef-octave-change></clef></attributes>",
            &note("C4", 4, ""),
            "<attributes><clef><sign>C</sign><line>4</line></clef></attributes>",
        ]
        .concat());
        let clefs: Vec<_> = part
            .clefs
            .iter()
            .map(|change| (change.staff, change.clef.sign, change.clef.line, change.clef.octaves))
            .collect();
        assert_eq!(clefs, [(2, ClefSign::F, 4, -1), (1, ClefSign::C, 4, 0)]);
        assert_eq!(part.staves, 2);
    }
}
