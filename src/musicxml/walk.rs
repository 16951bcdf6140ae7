//! Where a part is read: what goes on from bar to bar.
//!
//! A [`PartReader`] is given one measure after the other (`measure`), whose elements are read by the modules of their
//! names. Places are counted from the start of their bar, since how long a bar lasts only all parts together can tell.

use std::ops::RangeInclusive;
use std::str::FromStr;
use std::sync::atomic::{AtomicU64, Ordering};

use super::found::{At, PartRead, Transposing};
use super::lines::Lines;
use super::order::BarMarks;
use super::time::{Amount, Cursor, Divisions};
use super::tree::{self, Node, text};
use super::words::Metre;
use crate::intake::{self, Exceeded};
use crate::music::{Length, Transposition};
use crate::printable::printable;
use crate::score::{Instrument, Oddity, OddityKind};

/// The longest that one duration is believed to last: some hours.
pub(super) const LONGEST: Length = Length::whole_quarters(10_000);

/// What all parts of a score share while they are read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source<'t> {
    pub(super) text: &'t str,
    pub(super) lines: &'t Lines<'t>,
    /// The score says that it is in concert pitch.
    pub(super) concert: bool,
    /// Where the root element begins: what stands before it belongs to an entity, not to the music.
    pub(super) music_from: usize,
    pub(super) counts: &'t Counts,
}

/// What is counted over all parts, which may be read at once.
#[derive(Debug, Default)]
pub(super) struct Counts {
    measures: AtomicU64,
    notes: AtomicU64,
}

impl Counts {
    /// One measure more, with so many notes and rests.
    pub(super) fn measure(&self, notes: u64) -> Result<(), Exceeded> {
        let before = self.measures.fetch_add(1, Ordering::Relaxed);
        intake::MEASURES.admit(before + 1)?;
        let before = self.notes.fetch_add(notes, Ordering::Relaxed);
        intake::NOTES.admit(before + notes)
    }
}

/// Reads one part.
#[derive(Debug)]
pub(super) struct PartReader<'t> {
    pub(super) source: Source<'t>,
    pub(super) part: u32,
    pub(super) instruments: &'t [Instrument],
    /// Whether everything is kept, or only what sounds.
    pub(super) in_full: bool,
    pub(super) out: PartRead,
    pub(super) cursor: Cursor,
    pub(super) divisions_given: bool,
    pub(super) nominal: Option<Length>,
    pub(super) beat: Length,
    /// How the bar before is counted.
    pub(super) metre_before: Metre,
    pub(super) transposing: Transposing,
    /// Transpositions that begin in this bar.
    pub(super) retransposed: Vec<(Length, Option<u8>, Transposition)>,
    /// Where the note before began: a chord note begins there too.
    pub(super) chord_place: Length,
    /// How far this bar's content reaches so far.
    pub(super) reach: Length,
    /// This bar and those behind it stand for the ones so many bars before.
    pub(super) bars_repeated: Option<u32>,
    /// The instrument in hand by `instrument-change`.
    pub(super) instrument: Option<u16>,
    /// What this bar's lines and `sound`s say of the order.
    pub(super) marks: BarMarks,
    /// What this bar's words say of it.
    pub(super) said: BarMarks,
    /// Where this bar's notes begin.
    pub(super) first_note: usize,
}

impl<'t> PartReader<'t> {
    pub(super) fn new(source: Source<'t>, part: u32, instruments: &'t [Instrument], in_full: bool) -> Self {
        PartReader {
            source,
            part,
            instruments,
            in_full,
            out: PartRead { staves: 1, ..PartRead::default() },
            cursor: Cursor::at_start(Divisions::ONE),
            divisions_given: false,
            nominal: None,
            beat: Length::QUARTER,
            metre_before: Metre::NONE,
            transposing: Transposing::default(),
            retransposed: Vec::new(),
            chord_place: Length::ZERO,
            reach: Length::ZERO,
            bars_repeated: None,
            instrument: None,
            marks: BarMarks::default(),
            said: BarMarks::default(),
            first_note: 0,
        }
    }

    /// All that was read, when there are no more measures.
    pub(super) fn finish(self) -> PartRead {
        self.out
    }

    /// Where it reads now.
    pub(super) fn here(&self) -> At {
        self.at(self.cursor.place())
    }

    /// A place in this bar.
    pub(super) fn at(&self, into: Length) -> At {
        At { bar: self.out.bars.len() as u32, into }
    }

    /// How this bar is counted.
    pub(super) fn metre(&self) -> Metre {
        Metre { nominal: self.nominal, unit: self.beat }
    }

    /// The line of an element.
    pub(super) fn line(&self, node: Node<'_, '_>) -> u32 {
        self.source.lines.at(node.start())
    }

    /// Notes down something that was read around.
    pub(super) fn odd(&mut self, node: Node<'_, '_>, kind: OddityKind) {
        let (part, bar, line) = (Some(self.part), Some(self.out.bars.len() as u32), self.line(node));
        self.out.oddities.push(Oddity { part, bar, line, kind });
    }

    /// An element's text as a number within bounds; else says what is taken instead.
    pub(super) fn number<T: FromStr + PartialOrd>(
        &mut self,
        element: Node<'_, '_>,
        bounds: RangeInclusive<T>,
        (of, instead): (&'static str, &'static str),
    ) -> Option<T> {
        let number = tree::number(element).filter(|number| bounds.contains(number));
        if number.is_none() {
            self.odd_number(element, text(element), (of, instead));
        }
        number
    }

    /// The value of an attribute as a number within bounds; says what is taken instead where it is there and is none.
    pub(super) fn attribute<T: FromStr + PartialOrd>(
        &mut self,
        element: Node<'_, '_>,
        name: &str,
        bounds: RangeInclusive<T>,
        (of, instead): (&'static str, &'static str),
    ) -> Option<T> {
        let value = element.attribute(name)?;
        let number = tree::parsed(value).filter(|number| bounds.contains(number));
        if number.is_none() {
            self.odd_number(element, value, (of, instead));
        }
        number
    }

    /// Notes down a number that is none.
    pub(super) fn odd_number(
        &mut self,
        element: Node<'_, '_>,
        text: &str,
        (of, instead): (&'static str, &'static str),
    ) {
        self.odd(element, OddityKind::NumberUnusable { of, text: cut_short(text), instead });
    }

    /// The index of a voice by its name; without one it is voice 1.
    pub(super) fn voice(&mut self, name: Option<&str>) -> u16 {
        let name = printable(name.filter(|name| !name.is_empty()).unwrap_or("1"));
        let known = self.out.voices.iter().position(|voice| *voice == name);
        let index = known.unwrap_or_else(|| {
            self.out.voices.push(name.to_string());
            self.out.voices.len() - 1
        });
        u16::try_from(index).unwrap_or(u16::MAX)
    }

    /// A duration; says so, once, when nobody has said what it counts in.
    pub(super) fn duration(
        &mut self,
        holder: Node<'_, '_>,
        duration: Option<Node<'_, '_>>,
    ) -> Option<Amount> {
        let duration = duration?;
        let words = text(duration);
        let amount = Amount::read(words)
            .filter(|amount| !amount.is_negative() && self.cursor.length_of(*amount) <= LONGEST)
            .unwrap_or_else(|| {
                self.odd_number(duration, words, ("duration", "it is read as taking no time"));
                Amount::ZERO
            });
        if !self.divisions_given {
            self.divisions_given = true;
            self.odd(holder, OddityKind::DivisionsMissing);
        }
        Some(amount)
    }
}

/// The first letters of a text that is shown as it stands.
pub(super) fn cut_short(text: &str) -> String {
    const LETTERS: usize = 40;
    let text = printable(text);
    match text.char_indices().nth(LETTERS) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.into_owned(),
    }
}

#[cfg(test)]
mod tests {
    use crate::musicxml::testing::{bar, note, plain, score};
    use crate::score::OddityKind;

    /// Each number of a score, as the text around it, and what its oddity calls it.
    const NUMBERS: &[(&str, &str)] = &[
        ("<attributes><staves>{}</staves></attributes>", "staves"),
        ("<attributes><time><beats>{}</beats><beat-type>4</beat-type></time></attributes>", "beats"),
        ("<attributes><time><beats>4</beats><beat-type>{}</beat-type></time></attributes>", "beat-type"),
        ("<attributes><clef><sign>F</sign><line>{}</line></clef></attributes>", "line of a clef"),
        (
            "<attributes><clef><sign>F</sign><clef-octave-change>{}</clef-octave-change></clef></attributes>",
            "clef-octave-change",
        ),
        ("<attributes><clef number='{}'><sign>F</sign></clef></attributes>", "number of a clef"),
        ("<attributes><key><fifths>{}</fifths></key></attributes>", "fifths"),
        ("<attributes><transpose><chromatic>{}</chromatic></transpose></attributes>", "chromatic"),
        ("<attributes><transpose><diatonic>{}</diatonic></transpose></attributes>", "diatonic"),
        (
            "<attributes><transpose><octave-change>{}</octave-change></transpose></attributes>",
            "octave-change",
        ),
        ("<attributes><transpose number='{}'/></attributes>", "number of a transpose"),
        (
            "<direction><direction-type><words>x</words></direction-type><staff>{}</staff></direction>",
            "staff",
        ),
        (
            "<direction><direction-type><words>x</words></direction-type><offset>{}</offset></direction>",
            "offset",
        ),
        (
            "<direction><direction-type><wedge type='stop' number='{}'/></direction-type></direction>",
            "number of a wedge",
        ),
        (
            "<direction><direction-type><octave-shift type='up' size='{}'/></direction-type></direction>",
            "size of an octave-shift",
        ),
        (
            "<direction><direction-type><octave-shift type='stop' number='{}'/></direction-type></direction>",
            "number of an octave-shift",
        ),
        (
            "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>{}</per-minute>\
             </metronome></direction-type></direction>",
            "per-minute",
        ),
        ("<sound tempo='{}'/>", "tempo of a sound"),
        ("<sound dynamics='{}'/>", "dynamics of a sound"),
        ("<barline><repeat direction='backward' times='{}'/></barline>", "times of a repeat"),
        ("<forward><duration>{}</duration></forward>", "duration"),
        ("<backup><duration>{}</duration></backup>", "duration"),
        ("<note><rest/><duration>{}</duration></note>", "duration"),
        (
            "<note><pitch><step>C</step><octave>2</octave></pitch><duration>1</duration><staff>{}</staff></note>",
            "staff",
        ),
    ];

    const NONE: [&str; 12] = [
        "",
        " ",
        "x",
        "NaN",
        "inf",
        "-inf",
        "infinity",
        "٣",
        "0x3",
        "99999999999999999999999",
        "-99999999999999999999999",
        "--3",
    ];

    #[test]
    fn every_number_that_is_none_is_said_with_its_line_and_what_is_taken_instead() {
        for (around, name) in NUMBERS {
            for number in NONE {
                let odd = score(&format!("<measure>\n{}</measure>", around.replace("{}", number)));
                let found = odd.oddities.iter().find(|oddity| {
                    matches!(&oddity.kind, OddityKind::NumberUnusable { of, text, instead }
                        if of == name && text.trim() == number.trim() && !instead.is_empty())
                });
                // Text holds a number wherever it has digits: "c. 96".
                if *name == "per-minute" && number.contains('3') {
                    continue;
                }
                let found = found.unwrap_or_else(|| panic!("{name} {number:?} is read in silence"));
                assert_eq!((found.bar, found.part), (Some(0), Some(0)), "{name} {number:?}");
                assert!(found.line > 1, "{name} {number:?}");
            }
        }
    }

    #[test]
    fn pitches_and_divisions_that_are_none_are_said_in_their_own_words() {
        for number in NONE {
            let parts = [
                format!("<step>{number}</step><octave>2</octave>"),
                format!("<step>C</step><octave>{number}</octave>"),
                format!(
                    "<step>C</step><alter>{}</alter><octave>2</octave>",
                    if number.trim().is_empty() { "x" } else { number }
                ),
            ];
            for pitch in parts {
                let odd = score(&format!(
                    "<measure><note><pitch>{pitch}</pitch><duration>1</duration></note></measure>"
                ));
                let is_said = |kind: &OddityKind| matches!(kind, OddityKind::PitchUnusable(_));
                assert!(odd.oddities.iter().any(|oddity| is_said(&oddity.kind)), "{pitch}");
            }
            let odd = score(&format!(
                "<measure><attributes><divisions>{number}</divisions></attributes></measure>"
            ));
            let is_said = |kind: &OddityKind| matches!(kind, OddityKind::DivisionsUnusable(_));
            assert!(odd.oddities.iter().any(|oddity| is_said(&oddity.kind)), "{number}");
        }
    }

    #[test]
    fn absurd_tempos_beats_and_lengths_are_said() {
        for (around, number) in [
            ("<sound tempo='{}'/>", "0.0000000000000000001"),
            ("<sound tempo='{}'/>", "0"),
            ("<sound tempo='{}'/>", "100000"),
            ("<attributes><time><beats>{}</beats><beat-type>4</beat-type></time></attributes>", "4000000"),
            ("<attributes><time><beats>4</beats><beat-type>{}</beat-type></time></attributes>", "0"),
            ("<attributes><transpose><octave-change>{}</octave-change></transpose></attributes>", "11"),
            ("<attributes><transpose><chromatic>{}</chromatic></transpose></attributes>", "-121"),
            ("<note><rest/><duration>{}</duration></note>", "40001"),
            ("<note><rest/><duration>{}</duration></note>", "-4"),
        ] {
            let attributes = "<attributes><divisions>4</divisions></attributes>";
            let odd = score(&format!("<measure>{attributes}{}</measure>", around.replace("{}", number)));
            let is_said =
                |kind: &OddityKind| matches!(kind, OddityKind::NumberUnusable { text, .. } if text == number);
            assert!(odd.oddities.iter().any(|oddity| is_said(&oddity.kind)), "{around} {number}");
        }
    }

    #[test]
    fn a_time_signature_of_which_one_number_is_none_is_passed_over_whole() {
        let two = "<beats>2</beats><beat-type>4</beat-type>";
        let time = |inside: &str| format!("<attributes><time>{inside}</time></attributes>");
        let score = score(&format!(
            "<measure>{}</measure><measure>{}</measure>",
            time(two),
            time(&format!("{two}<beats>x</beats><beat-type>8</beat-type>"))
        ));
        assert_eq!(score.bars[1].nominal, score.bars[0].nominal);
    }

    #[test]
    fn a_text_is_shown_cut_short() {
        let long = "9".repeat(5000);
        let part = bar(&note("C2", 4, &format!("<staff>{long}</staff>")));
        assert_eq!(plain(&part), ["C2@0+1"]);
        assert_eq!(super::cut_short(&long).chars().count(), 41);
        assert_eq!(super::cut_short("é"), "é");
    }
}
