//! One-line music set on the page as MusicXML, so that a fault is met as a real file has it: under a key signature,
//! behind a pickup bar or a repeat, in a compound metre, in a transposing part, on a staff that two players read.
//!
//! In goes the music of [`score::testing`](crate::score::testing); out comes the text of a score, read again by the
//! program's own reader.

use std::fmt::Write;

use crate::music::{Dynamic, Length, Onset, Sounding};
use crate::playing::testing::at;
use crate::score::testing::Music;
use crate::score::{Articulation, Bar, Clef, ClefSign, Join, Note, Part, Tie};

/// How music stands on the page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Engraving {
    /// Sharps, or flats below 0, in the key signature.
    pub(crate) fifths: i8,
    /// A pickup bar of a quarter rest stands before the first bar.
    pub(crate) pickup: bool,
    /// So many bars at the start are repeated.
    pub(crate) repeated: usize,
    /// A quarter note of the music is a dotted quarter on the page, at the same pace.
    pub(crate) compound: bool,
    /// Each part: how it is written.
    pub(crate) staves: Vec<Staff>,
    /// No tempo is written.
    pub(crate) untimed: bool,
    /// A bar that holds a quarter rest too much.
    pub(crate) overfull: Option<usize>,
}

/// How one part is written.
#[derive(Clone, Debug)]
pub(crate) struct Staff {
    pub(crate) name: String,
    pub(crate) clef: Clef,
    /// Semitones written above sounding.
    pub(crate) above: i32,
    /// Whether a `transpose` says so.
    pub(crate) says_so: bool,
    /// Another clef for these bars.
    pub(crate) other_clef: Option<(std::ops::Range<usize>, Clef)>,
    /// A line of an octave down (8vb) over this bar.
    pub(crate) under_ottava: Option<usize>,
    /// An octave is added above each note of this bar.
    pub(crate) doubled: Option<usize>,
    /// Words at the first note of a bar.
    pub(crate) words: Option<(usize, &'static str)>,
    /// Bars whose dynamics are left out, with all before them.
    pub(crate) unmarked_to: Option<usize>,
}

/// In a quarter note: 3/2 of the shortest lengths that tests use come out whole.
const DIVISIONS: i64 = 96;

impl Staff {
    pub(crate) const BASS: Clef = Clef { sign: ClefSign::F, line: 4, octaves: 0 };
    pub(crate) const TENOR: Clef = Clef { sign: ClefSign::C, line: 4, octaves: 0 };
    pub(crate) const TREBLE: Clef = Clef { sign: ClefSign::G, line: 2, octaves: 0 };

    pub(crate) fn new(name: &str, clef: Clef) -> Staff {
        Staff {
            name: name.to_owned(),
            clef,
            above: 0,
            says_so: true,
            other_clef: None,
            under_ottava: None,
            doubled: None,
            unmarked_to: None,
            words: None,
        }
    }
}

impl Engraving {
    /// The score's text; there are as many staves as parts.
    pub(crate) fn text(&self, music: &Music) -> String {
        let mut text = "<score-partwise version='4.0'><part-list>".to_owned();
        for (id, staff) in self.staves.iter().enumerate() {
            let name = &staff.name;
            let _ = write!(text, "<score-part id='P{id}'><part-name>{name}</part-name></score-part>");
        }
        text += "</part-list>";
        for (index, (part, staff)) in music.score.parts.iter().zip(&self.staves).enumerate() {
            let _ = write!(text, "<part id='P{index}'>{}</part>", self.part(music, part, staff, index == 0));
        }
        text + "</score-partwise>"
    }

    fn part(&self, music: &Music, part: &Part, staff: &Staff, first: bool) -> String {
        let mut text = String::new();
        if self.pickup {
            let rest = self.rest(Length::QUARTER);
            let _ =
                write!(text, "<measure number='0' implicit='yes'>{}{rest}</measure>", self.head(staff, None));
        }
        let mut pen = Pen::default();
        for (index, bar) in music.score.bars.iter().enumerate() {
            let number = index + 1;
            let _ = write!(text, "<measure number='{number}'>");
            let before = index.checked_sub(1).map(|before| music.score.bars[before].length);
            if before != Some(bar.length) {
                let begins = index == 0 && !self.pickup;
                text += &if begins { self.head(staff, Some(bar.length)) } else { self.metre(bar.length) };
            }
            text += &Self::clefs(staff, index);
            if let Some((_, words)) = staff.words.filter(|(bar, _)| *bar == index) {
                text += &words_of(&format!("<words>{words}</words>"));
            }
            if first && !self.untimed {
                let changes = music.score.tempo.changes().iter();
                for change in changes.filter(|change| change.at == bar.start) {
                    let dot = if self.compound { "<beat-unit-dot/>" } else { "" };
                    let _ = write!(
                        text,
                        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>{dot}<per-minute>{}\
                         </per-minute></metronome></direction-type></direction>",
                        change.tempo.get()
                    );
                }
            }
            if index == 0 && self.repeated > 0 {
                text += "<barline location='left'><repeat direction='forward'/></barline>";
            }
            text += &self.bar(part, bar, index, staff, &mut pen);
            if self.overfull == Some(index) {
                text += &self.rest(Length::QUARTER);
            }
            if index + 1 == self.repeated {
                text += "<barline location='right'><repeat direction='backward'/></barline>";
            }
            text += "</measure>";
        }
        text
    }

    fn bar(&self, part: &Part, bar: &Bar, index: usize, staff: &Staff, pen: &mut Pen) -> String {
        let mut text = String::new();
        let mut here = bar.start;
        let marked = staff.unmarked_to.is_none_or(|last| index > last);
        let under = staff.under_ottava == Some(index);
        let mut line_open = false;
        for note in
            part.notes.iter().filter(|note| bar.start <= note.onset && note.onset < bar.start + bar.length)
        {
            assert!(note.end() <= bar.start + bar.length, "a note over a bar line");
            if note.onset > here {
                text += &self.rest(note.onset.since(here));
            }
            if marked {
                text += &pen.directions(note);
            }
            if under && !line_open {
                text += &words_of("<octave-shift type='up' size='8'/>");
                line_open = true;
            }
            text += &self.note(note, staff, pen);
            if staff.doubled == Some(index) {
                let octave = at(note.sounding.height().in_cents() + 1200 + staff.above * 100);
                let _ = write!(
                    text,
                    "<note><chord/>{}<duration>{}</duration><voice>1</voice></note>",
                    pitch(octave),
                    self.ticks(note.length)
                );
            }
            here = note.end();
        }
        if line_open {
            text += &words_of("<octave-shift type='stop' size='8'/>");
        }
        let end: Onset = bar.start + bar.length;
        if here < end {
            text += &self.rest(end.since(here));
        }
        text
    }

    fn note(&self, note: &Note, staff: &Staff, pen: &mut Pen) -> String {
        let written = if staff.above == 0 {
            note.sounding
        } else {
            at(note.sounding.height().in_cents() + staff.above * 100)
        };
        let ties = match note.tie {
            Tie::None => "",
            Tie::Start => "<tie type='start'/>",
            Tie::Continue => "<tie type='stop'/><tie type='start'/>",
            Tie::Stop => "<tie type='stop'/>",
        };
        let mut marks = String::new();
        let slurred = note.joins.has(Join::Slur);
        match (pen.slurred, slurred) {
            (false, true) => marks += "<slur type='start' number='1'/>",
            (true, false) => marks += "<slur type='stop' number='1'/>",
            _ => {}
        }
        pen.slurred = slurred;
        if std::mem::take(&mut pen.gliding) {
            marks += "<glissando type='stop' number='1'/>";
        }
        if note.joins.has(Join::Glissando) {
            marks += "<glissando type='start' number='1'/>";
            pen.gliding = true;
        }
        for (mark, element) in [
            (Articulation::Accent, "<articulations><accent/></articulations>"),
            (Articulation::Marcato, "<articulations><strong-accent/></articulations>"),
            (Articulation::Staccato, "<articulations><staccato/></articulations>"),
            (Articulation::Stopped, "<technical><stopped/></technical>"),
        ] {
            if note.articulations.has(mark) {
                marks += element;
            }
        }
        if let Some(crate::score::Ornament::Trill { .. }) = note.ornament {
            marks += "<ornaments><trill-mark/></ornaments>";
        }
        format!(
            "<note>{}<duration>{}</duration>{ties}<voice>1</voice><notations>{marks}</notations></note>",
            pitch(written),
            self.ticks(note.length)
        )
    }

    fn rest(&self, length: Length) -> String {
        format!("<note><rest/><duration>{}</duration><voice>1</voice></note>", self.ticks(length))
    }

    fn ticks(&self, length: Length) -> i64 {
        let (up, down) = length.parts();
        let (up, down) = if self.compound { (up * 3, down * 2) } else { (up, down) };
        assert_eq!(up * DIVISIONS % down, 0, "a length that has no whole number of divisions");
        up * DIVISIONS / down
    }

    /// Divisions, key, metre, clef and transposition.
    fn head(&self, staff: &Staff, bar: Option<Length>) -> String {
        let clef = written(staff.clef);
        let transpose = if staff.above != 0 && staff.says_so {
            format!("<transpose><chromatic>{}</chromatic></transpose>", -staff.above)
        } else {
            String::new()
        };
        format!(
            "<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{}</fifths></key>{}{clef}{transpose}\
             </attributes>",
            self.fifths,
            self.time(bar.unwrap_or(Length::QUARTER.times(4, 1).expect("four quarters")))
        )
    }

    fn metre(&self, bar: Length) -> String {
        format!("<attributes>{}</attributes>", self.time(bar))
    }

    fn time(&self, bar: Length) -> String {
        let eighths = bar.in_quarters() * if self.compound { 3.0 } else { 2.0 };
        let (beats, of) =
            if !self.compound && eighths % 2.0 == 0.0 { (eighths / 2.0, 4) } else { (eighths, 8) };
        format!("<time><beats>{beats}</beats><beat-type>{of}</beat-type></time>")
    }

    fn clefs(staff: &Staff, bar: usize) -> String {
        let Some((bars, other)) = &staff.other_clef else { return String::new() };
        let clef = match bar {
            _ if bar == bars.start => *other,
            _ if bar == bars.end => staff.clef,
            _ => return String::new(),
        };
        format!("<attributes>{}</attributes>", written(clef))
    }
}

/// What stands on the page so far.
#[derive(Default)]
struct Pen {
    level: Option<Dynamic>,
    mute: Option<crate::score::Mute>,
    slurred: bool,
    gliding: bool,
}

impl Pen {
    /// Marks that the note needs and that do not stand yet.
    fn directions(&mut self, note: &Note) -> String {
        assert!(note.attack.is_none() && note.until.is_none(), "hairpins and attacks are not engraved");
        let mut text = String::new();
        if let Some(level) = note.dynamic.filter(|level| self.level != Some(*level)) {
            text += &words_of(&format!("<dynamics><{level}/></dynamics>"));
            self.level = Some(level);
        }
        if note.mute != self.mute {
            let words = note.mute.map_or("senza sord.".to_owned(), |mute| format!("{} mute", mute.name()));
            text += &words_of(&format!("<words>{words}</words>"));
            self.mute = note.mute;
        }
        text
    }
}

fn words_of(kind: &str) -> String {
    format!("<direction><direction-type>{kind}</direction-type></direction>")
}

fn written(clef: Clef) -> String {
    let sign = match clef.sign {
        ClefSign::F => "F",
        ClefSign::C => "C",
        _ => "G",
    };
    format!(
        "<clef><sign>{sign}</sign><line>{}</line><clef-octave-change>{}</clef-octave-change></clef>",
        clef.line, clef.octaves
    )
}

/// A pitch spelled with sharps.
fn pitch(sounding: Sounding) -> String {
    let name = sounding.to_string();
    let (step, octave) = (&name[..1], name.trim_start_matches(|c: char| !c.is_ascii_digit() && c != '-'));
    let alter = i32::from(name.contains('#')) - i32::from(name[1..].contains('b'));
    format!("<pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>")
}
