//! `cargo bench`: how much the reader costs against a bare parse and walk of the same bytes, as ratios of one run.
//!
//! Scores are made in memory, varied and the same each time. Each job runs in a process of its own, so that its
//! peak memory can be told; processor time and peak come from `/proc`, so that this is for Linux.

// A bench speaks on standard output and stops where something fails.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use lowbrass::musicxml::Document;

/// The jobs that are measured against the first. One line more here and in [`run`] measures one more.
const JOBS: [&str; 2] = ["floor", "read"];

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let [_, job, path, times] = arguments.as_slice() {
        return measure(job, Path::new(path), times.parse().unwrap());
    }
    println!("{:>8} {:>6} {:>10} {:>10} {:>10}", "size", "job", "processor", "wall", "peak");
    for (megabytes, times) in [(10, 10), (50, 3), (200, 1)] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("score.musicxml");
        let score = score(megabytes << 20);
        std::fs::write(&path, &score).unwrap();
        let floor = spawn("floor", &path, times);
        for job in JOBS {
            let cost = if job == "floor" { floor } else { spawn(job, &path, times) };
            println!(
                "{megabytes:>5} MB {job:>6} {:>8.2} × {:>8.2} × {:>5.2} × file   ({:.0} ms, {:.0} ms, {:.0} MB)",
                cost.processor / floor.processor,
                cost.wall / floor.wall,
                cost.peak / score.len() as f64,
                cost.processor * 1e3,
                cost.wall * 1e3,
                cost.peak / 1e6,
            );
        }
    }
}

/// What a job costs, once: seconds, seconds, bytes.
#[derive(Clone, Copy)]
struct Cost {
    processor: f64,
    wall: f64,
    peak: f64,
}

fn run(job: &str, bytes: Vec<u8>) {
    match job {
        "floor" => {
            let text = String::from_utf8(bytes).unwrap();
            let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
            let tree = roxmltree::Document::parse_with_options(&text, options).unwrap();
            black_box(tree.descendants().filter(|node| node.has_tag_name("note")).count());
        }
        "read" => {
            let document = Document::open(bytes).unwrap();
            let low = |infos: &[lowbrass::score::PartInfo]| {
                infos
                    .iter()
                    .map(|info| info.name.contains("Tuba") || info.name.contains("Trombone"))
                    .collect()
            };
            black_box(document.read(&low).unwrap());
        }
        other => panic!("no job '{other}'"),
    }
}

/// In the child: does the job so often and prints what one time cost.
fn measure(job: &str, path: &Path, times: u32) {
    let (mut wall, before) = (0.0, processor_seconds());
    for _ in 0..times {
        let bytes = std::fs::read(path).unwrap();
        let begun = Instant::now();
        run(job, bytes);
        wall += begun.elapsed().as_secs_f64();
    }
    let times = f64::from(times);
    println!("{} {} {}", (processor_seconds() - before) / times, wall / times, peak_bytes());
}

fn spawn(job: &str, path: &Path, times: u32) -> Cost {
    let here = std::env::current_exe().unwrap();
    let output = Command::new(here).arg(job).arg(path).arg(times.to_string()).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let figures: Vec<f64> = text.split_whitespace().map(|figure| figure.parse().unwrap()).collect();
    let [processor, wall, peak] = figures[..] else { panic!("{job}: {text}") };
    Cost { processor, wall, peak }
}

/// User and system time of this process: fields 14 and 15 of `/proc/self/stat`, in hundredths of a second.
fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let behind_name = &stat[stat.rfind(')').unwrap() + 2..];
    behind_name.split(' ').skip(11).take(2).map(|ticks| ticks.parse::<f64>().unwrap()).sum::<f64>() / 100.0
}

fn peak_bytes() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<f64>().unwrap() * 1024.0
}

/// An orchestral score of at least so many bytes, as programs export them.
fn score(bytes: usize) -> String {
    const PARTS: [&str; 12] = [
        "Flute",
        "Oboe",
        "Clarinet",
        "Bassoon",
        "Horn",
        "Trumpet",
        "Trombone",
        "Bass Trombone",
        "Tuba",
        "Violin",
        "Viola",
        "Contrabass",
    ];
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE score-partwise PUBLIC \
         \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"http://www.musicxml.org/dtds/partwise.dtd\">\n\
         <score-partwise version=\"4.0\">\n  <work>\n    <work-title>Made for measuring</work-title>\n    </work>\n  <part-list>\n",
    );
    for (index, name) in PARTS.iter().enumerate() {
        let id = index + 1;
        writeln!(
            text,
            "    <score-part id=\"P{id}\">\n      <part-name>{name}</part-name>\n      </score-part>"
        )
        .unwrap();
    }
    text.push_str("    </part-list>\n");
    for index in 0..PARTS.len() {
        let end = bytes / PARTS.len() * (index + 1);
        let mut chance = Chance(index as u64 + 1);
        writeln!(text, "  <part id=\"P{}\">", index + 1).unwrap();
        let mut number = 0;
        while text.len() < end {
            number += 1;
            measure_of(&mut text, number, &mut chance);
        }
        text.push_str("    </part>\n");
    }
    text.push_str("  </score-partwise>\n");
    text
}

/// A plain generator of numbers (Knuth's constants): the same each time.
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % bound
    }
}

fn measure_of(text: &mut String, number: usize, chance: &mut Chance) {
    writeln!(text, "    <measure number=\"{number}\" width=\"{}.25\">", 100 + chance.below(200)).unwrap();
    if number == 1 {
        text.push_str(
            "      <attributes>\n        <divisions>4</divisions>\n        <time>\n          <beats>4</beats>\n          \
             <beat-type>4</beat-type>\n          </time>\n        </attributes>\n",
        );
    }
    if chance.below(4) == 0 {
        let mark = ["p", "mf", "f", "ff", "sfz"][chance.below(5)];
        writeln!(
            text,
            "      <direction placement=\"below\">\n        <direction-type>\n          <dynamics default-x=\"3.29\" \
             default-y=\"-40.00\">\n            <{mark}/>\n            </dynamics>\n          </direction-type>\n        \
             <sound dynamics=\"{}.00\"/>\n        </direction>",
            60 + chance.below(60)
        )
        .unwrap();
    }
    if chance.below(3) == 0 {
        text.push_str(
            "      <note>\n        <rest measure=\"yes\"/>\n        <duration>16</duration>\n        <voice>1</voice>\n        </note>\n",
        );
    } else {
        let notes = [2, 4, 8][chance.below(3)];
        for index in 0..notes {
            let step = ["C", "D", "E", "F", "G", "A", "B"][chance.below(7)];
            let octave = 1 + chance.below(3);
            let slur = match index {
                0 => "          <slur type=\"start\" number=\"1\"/>\n",
                last if last == notes - 1 => "          <slur type=\"stop\" number=\"1\"/>\n",
                _ => "          <articulations>\n            <staccato/>\n            </articulations>\n",
            };
            writeln!(
                text,
                "      <note default-x=\"{}.57\" default-y=\"-{}.00\">\n        <pitch>\n          <step>{step}</step>\n          \
                 <octave>{octave}</octave>\n          </pitch>\n        <duration>{}</duration>\n        <voice>1</voice>\n        \
                 <type>quarter</type>\n        <stem>down</stem>\n        <notations>\n{slur}          </notations>\n        </note>",
                13 + 40 * index,
                chance.below(60),
                16 / notes,
            )
            .unwrap();
        }
    }
    text.push_str("      </measure>\n");
}
