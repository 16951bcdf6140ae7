//! `cargo bench --bench plan`: whether planning grows with the length of a part and no faster, as ratios of one run.
//!
//! Two parts made in memory, with passages an octave too low, so that there is something to move throughout.

// A bench speaks on standard output and stops where something fails.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use lowbrass::check::{Config, Orders, Rooms, read, seat};
use lowbrass::musicxml::Document;
use lowbrass::octaves::plan;
use lowbrass::rules::judge;

fn main() {
    let room = Rooms::new(Config::None, None).of_folder(Path::new(".")).unwrap();
    println!(
        "{:>8} {:>7} {:>10} {:>12} {:>14} {:>14}",
        "notes", "moves", "seconds", "µs a note", "of the first", "of one judging"
    );
    let mut first = None;
    for notes in [10_000, 30_000, 100_000] {
        let document = Document::open(score(notes).into()).unwrap();
        let score = read(&document, &room, &Orders::default()).unwrap();
        let section = seat(&score, &room, &Orders::default());
        let begun = Instant::now();
        let findings = judge(&section);
        let judging = begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let moves = black_box(plan(&section, &mut findings.clone())).moves.len();
        let seconds = begun.elapsed().as_secs_f64();
        let each = seconds / f64::from(notes);
        let (ratio, judgings) = (each / *first.get_or_insert(each), seconds / judging);
        println!(
            "{notes:>8} {moves:>7} {seconds:>10.2} {:>12.1} {ratio:>12.2} × {judgings:>12.2} ×",
            each * 1e6
        );
    }
}

/// A score of so many notes in two parts.
fn score(notes: u32) -> String {
    let mut text = "<score-partwise version=\"4.0\"><part-list>\
        <score-part id=\"P1\"><part-name>Bass Trombone</part-name></score-part>\
        <score-part id=\"P2\"><part-name>Tuba</part-name></score-part></part-list>"
        .to_owned();
    for (part, octave) in [(1, 2), (2, 2)] {
        write!(text, "<part id=\"P{part}\">").unwrap();
        let mut chance = Chance(part);
        // Seven eighths and a rest, then a bar of rest; one phrase in eight lies an octave lower.
        for bar in 0..notes / 7 {
            write!(text, "<measure number=\"{}\">", bar + 1).unwrap();
            if bar == 0 {
                text += "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>\
                    <direction><direction-type><dynamics><f/></dynamics></direction-type></direction>";
            }
            if bar % 2 == 1 {
                text += "<note><rest/><duration>8</duration></note></measure>";
                continue;
            }
            let lower = u32::from(chance.below(8) == 0);
            let count = 7;
            for index in 0..count {
                let step = ["C", "D", "E", "F", "G", "A", "B"][chance.below(7)];
                write!(
                    text,
                    "<note><pitch><step>{step}</step><octave>{}</octave></pitch><duration>1</duration><type>eighth</type></note>",
                    octave - lower
                )
                .unwrap();
                if index + 1 == count {
                    text += "<note><rest/><duration>1</duration></note>";
                }
            }
            text += "</measure>";
        }
        text += "</part>";
    }
    text + "</score-partwise>"
}

/// A plain generator of numbers (Knuth's constants): the same each time.
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % bound
    }
}
