//! `cargo bench --bench check`: what the whole check costs against a bare parse and walk of the same bytes, as ratios
//! of one run.
//!
//! Scores are made in memory, varied and the same each time. Each job runs in a process of its own, often enough for
//! the clock, and once more alone, as the command does it, for its peak memory; processor time and peak come from `/proc`,
//! so that this is for Linux. Ratios of wall time mean something on a quiet machine only: the load is printed beside
//! them, and of several tries the best counts, for the floor as for the rest.

// A bench speaks on standard output and stops where something fails.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use lowbrass::check::{Accepts, Config, Orders, Paths, Rooms, Source, Task, check, read};
use lowbrass::musicxml::Document;
use lowbrass::report::{Format, Look, Report};
use lowbrass::settings::Day;

/// The jobs that are measured against the first. One line more here and in [`run`] measures one more.
const JOBS: [&str; 3] = ["floor", "read", "check"];

/// Sizes in megabytes, each with how often a job is done in one process and how many processes try.
const SIZES: [(usize, u32, u32); 3] = [(10, 5, 5), (50, 2, 3), (200, 1, 3)];

/// Real scores that may lie beside the checkout; they are measured enlarged, where they are there.
const REAL: [&str; 2] = ["Beach_Op.32_3.mxl", "Brahms_Op.68_4.mxl"];

/// Scores in the folder, and the megabytes of each.
const FOLDER: (usize, usize) = (96, 2);

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let [_, job, path, times] = arguments.as_slice() {
        return measure(job, Path::new(path), times.parse().unwrap());
    }
    one("a made score", &|bytes| Some(score(bytes, 0)));
    for name in REAL {
        one(name, &|bytes| real(name, bytes));
    }
    many();
}

/// One score of each size against the floor; nothing where there is no such score.
fn one(material: &str, make: &dyn Fn(usize) -> Option<String>) {
    if make(0).is_none() {
        return;
    }
    println!("{material}, against the floor: a bare parse and walk of the same bytes (load {})", load());
    println!("{:>8} {:>6} {:>10} {:>10} {:>14}", "size", "job", "processor", "wall", "peak");
    let mut growth: Vec<(f64, f64)> = Vec::new();
    for (megabytes, times, tries) in SIZES {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("score.musicxml");
        let score = make(megabytes << 20).unwrap();
        std::fs::write(&path, &score).unwrap();
        let mut costs = [Cost::WORST; JOBS.len()];
        for _ in 0..tries {
            // One after the other, so that a busy moment does not fall on one job alone.
            for (job, cost) in JOBS.iter().zip(&mut costs) {
                *cost = cost.or_better(spawn(job, &path, times));
                cost.peak = cost.peak.min(spawn(job, &path, 1).peak);
            }
        }
        for (job, cost) in JOBS.iter().zip(costs) {
            println!(
                "{megabytes:>5} MB {job:>6} {:>8.2} × {:>8.2} × {:>7.2} × file   ({:.0} ms, {:.0} ms, {:.0} MB)",
                cost.processor / costs[0].processor,
                cost.wall / costs[0].wall,
                cost.peak / score.len() as f64,
                cost.processor * 1e3,
                cost.wall * 1e3,
                cost.peak / 1e6,
            );
        }
        growth.push((score.len() as f64, costs[JOBS.len() - 1].processor));
    }
    if let [(small, quick), .., (large, slow)] = growth[..] {
        println!(
            "growth of the check: processor time goes with size to the {:.3}",
            (slow / quick).log(large / small)
        );
    }
}

/// A folder of scores on one thread and on two, by the command itself.
fn many() {
    let (scores, megabytes) = FOLDER;
    let folder = tempfile::tempdir().unwrap();
    for number in 0..scores {
        let path = folder.path().join(format!("{number}.musicxml"));
        std::fs::write(path, score(megabytes << 20, number as u64)).unwrap();
    }
    println!("a folder of {scores} scores of {megabytes} MB (load {})", load());
    let mut best = [Cost::WORST; 2];
    for _ in 0..3 {
        for (threads, cost) in (1..).zip(&mut best) {
            *cost = cost.or_better(run_command(folder.path(), threads));
        }
    }
    let [alone, together] = [1, 2].map(|threads| command(folder.path(), threads).output().unwrap().stdout);
    println!(
        "  the report has {} bytes, the same on one thread and on two: {}",
        alone.len(),
        alone == together
    );
    for (threads, cost) in (1..).zip(best) {
        println!(
            "  -j{threads}: {:.2} × as fast as on one   ({:.0} ms, processor {:.0} ms, peak {:.2} × one score)",
            best[0].wall / cost.wall,
            cost.wall * 1e3,
            cost.processor * 1e3,
            cost.peak / (megabytes << 20) as f64,
        );
    }
}

fn command(folder: &Path, threads: u32) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lowbrass"));
    command.args(["check", "--no-config", "--format", "json", "--fail-on", "never", "--quiet"]);
    command.args(["--jobs", &threads.to_string()]).arg(folder);
    command
}

fn run_command(folder: &Path, threads: u32) -> Cost {
    let (begun, before) = (Instant::now(), processor_seconds());
    let mut child = command(folder, threads).stdout(Stdio::null()).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak: f64 = 0.0;
    let ended = loop {
        if let Some(ended) = child.try_wait().unwrap() {
            break ended;
        }
        peak = peak.max(peak_bytes(&status).unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(2));
    };
    assert!(ended.success(), "{ended}");
    Cost { processor: processor_seconds() - before, wall: begun.elapsed().as_secs_f64(), peak }
}

/// What a job costs, once: seconds, seconds, bytes.
#[derive(Clone, Copy)]
struct Cost {
    processor: f64,
    wall: f64,
    peak: f64,
}

impl Cost {
    const WORST: Cost = Cost { processor: f64::MAX, wall: f64::MAX, peak: f64::MAX };

    fn or_better(self, other: Cost) -> Cost {
        Cost {
            processor: self.processor.min(other.processor),
            wall: self.wall.min(other.wall),
            peak: self.peak.min(other.peak),
        }
    }
}

fn run(job: &str, bytes: Vec<u8>) {
    let mut rooms = Rooms::new(Config::None, None);
    let orders = Orders::default();
    match job {
        "floor" => {
            let text = String::from_utf8(bytes).unwrap();
            let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
            let tree = roxmltree::Document::parse_with_options(&text, options).unwrap();
            black_box(tree.descendants().filter(|node| node.has_tag_name("note")).count());
        }
        "read" => {
            let room = rooms.of_score(&Source::StandardInput).unwrap();
            black_box(read(&Document::open(bytes).unwrap(), &room, &orders).unwrap());
        }
        "check" => {
            let room = rooms.of_score(&Source::StandardInput).unwrap();
            let task = Task {
                orders: &orders,
                today: Day::at(std::time::SystemTime::UNIX_EPOCH),
                accepts: Accepts::Nothing,
                include_review: false,
                revise: false,
                mark: None,
                draw: false,
                keep_score: false,
            };
            let checked = check(bytes, &Paths::default(), &room, &task).unwrap();
            let report = Report::new(vec![checked.report], Vec::new());
            let mut json = Vec::new();
            Format::Json.write(&report, &Look::default(), &mut json).unwrap();
            black_box(json);
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
    let peak = peak_bytes("/proc/self/status").unwrap();
    println!("{} {} {peak}", (processor_seconds() - before) / times, wall / times);
}

fn spawn(job: &str, path: &Path, times: u32) -> Cost {
    let here = std::env::current_exe().unwrap();
    let output = Command::new(here).arg(job).arg(path).arg(times.to_string()).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let figures: Vec<f64> = text.split_whitespace().map(|figure| figure.parse().unwrap()).collect();
    let [processor, wall, peak] = figures[..] else { panic!("{job}: {text}") };
    Cost { processor, wall, peak }
}

/// User and system time of this process and of its children that have ended: fields 14 to 17 of `/proc/self/stat`, in
/// hundredths of a second.
fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let behind_name = &stat[stat.rfind(')').unwrap() + 2..];
    behind_name.split(' ').skip(11).take(4).map(|ticks| ticks.parse::<f64>().unwrap()).sum::<f64>() / 100.0
}

/// The most memory a process has held at a time; `None` once it has ended.
fn peak_bytes(status: &str) -> Option<f64> {
    let status = std::fs::read_to_string(status).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? * 1024.0)
}

/// Processes that ran or waited for a processor in the last minute, on average.
fn load() -> String {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap();
    load.split(' ').next().unwrap_or("?").to_owned()
}

/// A real score with the bars of each part repeated, and numbered on, until the text is at least so long; `None` where
/// it does not lie beside the checkout.
fn real(name: &str, bytes: usize) -> Option<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/scores");
    let document = Document::open(std::fs::read(folder.join(name)).ok()?).unwrap();
    let text = document.text();
    let times = bytes.div_ceil(text.len()).max(1);
    let mut enlarged = String::with_capacity(text.len() * times);
    for piece in text.split_inclusive("</part>") {
        let Some(first) = piece.find("<measure ") else {
            enlarged.push_str(piece);
            continue;
        };
        let last = piece.rfind("</measure>").unwrap() + "</measure>".len();
        enlarged.push_str(&piece[..first]);
        let mut number = 0;
        for bar in (0..times).flat_map(|_| piece[first..last].split_inclusive("</measure>")) {
            number += 1;
            let (before, from_number) = bar.split_once("number=\"").unwrap();
            let (_, behind) = from_number.split_once('"').unwrap();
            write!(enlarged, "{before}number=\"{number}\"{behind}").unwrap();
        }
        enlarged.push_str(&piece[last..]);
    }
    Some(enlarged)
}

/// Names of the parts, each with the span it plays in: the lowest and the highest note as steps above C0.
const PARTS: [(&str, usize, usize); 12] = [
    ("Flute", 30, 40),
    ("Oboe", 29, 38),
    ("Clarinet", 26, 36),
    ("Bassoon", 14, 27),
    ("Horn", 19, 30),
    ("Trumpet", 25, 35),
    ("Trombone", 17, 29),
    ("Bass Trombone", 14, 26),
    ("Tuba", 11, 23),
    ("Violin", 28, 42),
    ("Viola", 21, 33),
    ("Contrabass", 14, 27),
];

/// An orchestral score of at least so many bytes, as programs export them: lines that mostly move by step within a
/// player's easy span, and now and then a bar written an octave too low.
fn score(bytes: usize, variant: u64) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE score-partwise PUBLIC \
         \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"http://www.musicxml.org/dtds/partwise.dtd\">\n\
         <score-partwise version=\"4.0\">\n  <work>\n    <work-title>Made for measuring</work-title>\n    </work>\n  <part-list>\n",
    );
    for (index, (name, ..)) in PARTS.iter().enumerate() {
        let id = index + 1;
        writeln!(
            text,
            "    <score-part id=\"P{id}\">\n      <part-name>{name}</part-name>\n      </score-part>"
        )
        .unwrap();
    }
    text.push_str("    </part-list>\n");
    for (index, &(_, lowest, highest)) in PARTS.iter().enumerate() {
        let end = bytes / PARTS.len() * (index + 1);
        let mut chance = Chance(variant * 1000 + index as u64 + 1);
        let mut line = Line { lowest, highest, at: usize::midpoint(lowest, highest) };
        writeln!(text, "  <part id=\"P{}\">", index + 1).unwrap();
        let mut number = 0;
        while text.len() < end {
            number += 1;
            measure_of(&mut text, number, &mut line, &mut chance);
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

/// Where a part's line is, in steps above C0.
struct Line {
    lowest: usize,
    highest: usize,
    at: usize,
}

impl Line {
    fn go_on(&mut self, chance: &mut Chance) {
        let step = [0, 1, 1, 1, 2, 3][chance.below(6)];
        self.at = if chance.below(2) == 0 { self.at + step } else { self.at - step };
        self.at = self.at.clamp(self.lowest, self.highest);
    }
}

fn measure_of(text: &mut String, number: usize, line: &mut Line, chance: &mut Chance) {
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
        let strayed = usize::from(chance.below(60) == 0);
        for index in 0..notes {
            line.go_on(chance);
            let (step, octave) = (["C", "D", "E", "F", "G", "A", "B"][line.at % 7], line.at / 7 - strayed);
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
