//! The revised and the marked copy in every form a score may come in: partwise and timewise, LF and CRLF,
//! UTF-8 and UTF-16, plain and compressed; then what a copy promises, on made scores of all kinds.

#![allow(clippy::unwrap_used)] // A test that cannot read has nothing to say.
#![allow(clippy::format_push_string, clippy::format_collect)] // Small scores, made where they can be read.

use std::fmt::Write as _;
use std::io::{Cursor, Read, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};

use lowbrass::check::{Accepts, Config, Orders, Paths, Room, Rooms, Task, check, read, seat};
use lowbrass::copies::{marked, revise};
use lowbrass::finding::{Finding, Revision, Standing};
use lowbrass::music::Onset;
use lowbrass::musicxml::{Document, Edit};
use lowbrass::octaves::plan;
use lowbrass::playing::{Desk, InstrumentInHand, RecognisedBy, Section};
use lowbrass::profile::Profiles;
use lowbrass::rules::judge;
use lowbrass::score::{Score, lines};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const HEAD: &str =
    "<part-list>\n <score-part id=\"P1\"><part-name>Tuba</part-name></score-part>\n</part-list>\n";

/// A loud low hold between whole notes that are at home.
fn bars(wrap: impl Fn(usize, &str) -> String) -> String {
    let note = |octave: u8| {
        format!(
            "  <note><pitch><step>D</step><octave>{octave}</octave></pitch><duration>4</duration><type>whole</type></note>\n"
        )
    };
    let rest = "  <note><rest/><duration>4</duration></note>\n".to_owned();
    let start = "  <attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>\n  <direction><direction-type><dynamics><ff/></dynamics></direction-type></direction>\n";
    [start.to_owned() + &note(2), rest.clone(), note(1), rest, note(2)]
        .iter()
        .enumerate()
        .map(|(index, bar)| wrap(index + 1, bar))
        .collect()
}

fn partwise() -> String {
    let bars = bars(|number, bar| format!(" <measure number=\"{number}\">\n{bar} </measure>\n"));
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-partwise version=\"4.0\">\n{HEAD}<part id=\"P1\">\n{bars}</part>\n</score-partwise>\n"
    )
}

fn timewise() -> String {
    let bars = bars(|number, bar| {
        format!(" <measure number=\"{number}\"><part id=\"P1\">\n{bar} </part></measure>\n")
    });
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-timewise version=\"4.0\">\n{HEAD}{bars}</score-timewise>\n"
    )
}

fn utf_16(text: &str) -> Vec<u8> {
    let text = text.replace("UTF-8", "UTF-16");
    [0xFEFF].into_iter().chain(text.encode_utf16()).flat_map(u16::to_le_bytes).collect()
}

fn compressed(text: &str) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    let container = "<container><rootfiles><rootfile full-path=\"score.xml\"/></rootfiles></container>";
    for (name, content) in [("META-INF/container.xml", container), ("score.xml", text), ("other.txt", "kept")]
    {
        archive.start_file(name, options).unwrap();
        archive.write_all(content.as_bytes()).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

fn members(archive: &[u8]) -> Vec<String> {
    let archive = zip::ZipArchive::new(Cursor::new(archive)).unwrap();
    archive.file_names().map(|name| name.unwrap().into_owned()).collect()
}

fn forms() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("partwise", partwise().into()),
        ("timewise", timewise().into()),
        ("CRLF", partwise().replace('\n', "\r\n").into()),
        ("UTF-16", utf_16(&partwise())),
        ("one line", partwise().replace('\n', "").into()),
        ("compressed", compressed(&partwise())),
    ]
}

fn planned(bytes: &[u8]) -> (Document, Score, Vec<Finding>, Revision) {
    let profiles = Profiles::embedded().unwrap();
    let document = Document::open(bytes.to_vec()).unwrap();
    let score = document.read(&|parts| vec![true; parts.len()]).unwrap();
    let (findings, revision) = {
        let instrument =
            InstrumentInHand { from: Onset::START, profile: profiles.named("contrabass-tuba-c").unwrap() };
        let desk = Desk {
            again: Vec::new(),
            part: &score.parts[0],
            lines: lines(&score.parts[0], &score, 1),
            instruments: vec![instrument],
            also: Vec::new(),
            in_hand: Vec::new(),
            recognised_by: RecognisedBy::Name,
            players: 1,
            breath: 1.0,
            mutes: None,
        };
        let limits = profiles.section().clone();
        let section = Section { score: &score, desks: vec![desk], unrecognised: Vec::new(), limits };
        let mut findings = judge(&section);
        let revision = plan(&section, &mut findings);
        (findings, revision)
    };
    (document, score, findings, revision)
}

#[test]
fn the_revised_copy_differs_in_one_octave_digit_and_asks_for_no_more() {
    for (form, bytes) in forms() {
        let (document, score, _, revision) = planned(&bytes);
        assert_eq!(revision.moves.len(), 1, "{form}");
        let copy = revise(&document, &score, &revision, false).unwrap();
        assert_eq!(copy.applied, revision.moves, "{form}");
        let there = Document::open(copy.bytes.clone()).unwrap();
        let expected = document.text().replace("<octave>1<", "<octave>2<");
        assert_eq!(there.text(), expected, "{form}");
        if form != "compressed" {
            assert_eq!(copy.bytes.len(), bytes.len(), "{form}");
            assert_eq!(copy.bytes.iter().zip(&bytes).filter(|(a, b)| a != b).count(), 1, "{form}");
        }
        let (.., again) = planned(&copy.bytes);
        assert!(again.moves.is_empty(), "{form}");
    }
}

#[test]
fn a_marked_copy_without_its_marks_is_the_source() {
    for (form, bytes) in forms() {
        let (document, score, findings, _) = planned(&bytes);
        let copy = marked(&document, &score, &findings).unwrap();
        let there = Document::open(copy.clone()).unwrap();
        let words = [
            ">lowbrass: too loud for register: D1 ff, limit mf</words>",
            ">lowbrass: take up an octave: D2</words>",
        ];
        let [what, way] = words.map(|words| there.text().find(words));
        // The way out is drawn nearer to the staff, below the words it belongs to.
        assert!(way.is_some() && way < what, "{form}: {}", there.text());
        assert_eq!(there.unmarked().unwrap(), bytes, "{form}");
        // What is written is music that reads the same.
        let (_, marked_score, ..) = planned(&copy);
        assert_eq!(marked_score.parts[0].notes.len(), score.parts[0].notes.len(), "{form}");
    }
}

#[test]
fn other_members_of_a_compressed_score_stay() {
    let bytes = compressed(&partwise());
    let (document, score, _, revision) = planned(&bytes);
    let copy = revise(&document, &score, &revision, false).unwrap();
    assert_eq!(members(&copy.bytes), ["META-INF/container.xml", "score.xml", "other.txt"]);
    let mut archive = zip::ZipArchive::new(Cursor::new(copy.bytes)).unwrap();
    let mut kept = String::new();
    archive.by_name("other.txt").unwrap().read_to_string(&mut kept).unwrap();
    assert_eq!(kept, "kept");
}

#[test]
fn a_copy_in_which_nothing_moves_is_the_source() {
    for (form, bytes) in forms() {
        let (document, score, findings, _) = planned(&bytes);
        assert_eq!(revise(&document, &score, &Revision::default(), true).unwrap().bytes, bytes, "{form}");
        assert_eq!(marked(&document, &score, &[]).unwrap(), bytes, "{form}");
        // Marked twice is marked once.
        let copy = marked(&document, &score, &findings).unwrap();
        let there = Document::open(copy.clone()).unwrap();
        let there_score = there.read(&|parts| vec![true; parts.len()]).unwrap();
        assert_eq!(marked(&there, &there_score, &[]).unwrap(), bytes, "{form}");
    }
}

#[test]
fn a_marked_archive_that_was_changed_since_keeps_the_change() {
    let bytes = compressed(&partwise());
    let (document, score, findings, _) = planned(&bytes);
    let copy = Document::open(marked(&document, &score, &findings).unwrap()).unwrap();
    let at = copy.text().find("<octave>1<").unwrap() + "<octave>".len();
    let changed = copy.with_edits(vec![Edit { range: at..at + 1, with: "3".to_owned() }]).unwrap();
    let back = Document::open(changed).unwrap().unmarked().unwrap();
    assert_eq!(members(&back), ["META-INF/container.xml", "score.xml", "other.txt"]);
    let expected = document.text().replace("<octave>1<", "<octave>3<");
    assert_eq!(Document::open(back).unwrap().text(), expected);
}

// ---- scores of all kinds ----

/// What a made score is made of; its text comes from here in every form.
#[derive(Clone, Debug)]
struct Made {
    parts: Vec<MadePart>,
    /// The last part again, for a second player with the very same music.
    twin: bool,
    form: usize,
}

#[derive(Clone, Debug)]
struct MadePart {
    name: &'static str,
    transposes: bool,
    bars: Vec<Vec<Slot>>,
    second_voice: bool,
}

/// A quarter of a bar.
#[derive(Clone, Debug)]
struct Slot {
    step: &'static str,
    /// None: a rest.
    octave: Option<u8>,
    chord: bool,
    tied: bool,
    slurred: bool,
    dynamic: Option<&'static str>,
}

impl Made {
    fn bar_text(part: &MadePart, bar: usize) -> String {
        let mut text = String::new();
        if bar == 0 {
            text +=
                "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>";
            text += "<clef><sign>F</sign><line>4</line></clef>";
            if part.transposes {
                text += "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>";
            }
            text += "</attributes>\n<direction><direction-type><dynamics><mf/></dynamics></direction-type></direction>\n";
        }
        let slots = &part.bars[bar];
        for (index, slot) in slots.iter().enumerate() {
            if let Some(dynamic) = slot.dynamic {
                text += &format!(
                    "<direction><direction-type><dynamics><{dynamic}/></dynamics></direction-type></direction>\n"
                );
            }
            let Some(octave) = slot.octave else {
                text += "<note><rest/><duration>1</duration><voice>1</voice></note>\n";
                continue;
            };
            // A tie goes on where the next note of the bar is the same one; so does a slur to any note.
            let same = |other: Option<&Slot>| {
                other.is_some_and(|other| other.octave == slot.octave && other.step == slot.step)
            };
            let before = index.checked_sub(1).and_then(|before| slots.get(before));
            let to = slot.tied && same(slots.get(index + 1));
            let from = same(before) && before.is_some_and(|before| before.tied);
            let slur_to = slot.slurred && slots.get(index + 1).is_some_and(|next| next.octave.is_some());
            let slur_from = before.is_some_and(|before| before.slurred && before.octave.is_some());
            for chord in [false, true].into_iter().take(1 + usize::from(slot.chord)) {
                let ties = |name: &str| {
                    let stop =
                        if from && !chord { format!("<{name} type=\"stop\"/>") } else { String::new() };
                    let start =
                        if to && !chord { format!("<{name} type=\"start\"/>") } else { String::new() };
                    stop + &start
                };
                let slurs = |is: bool, way: &str| {
                    if is && !chord { format!("<slur type=\"{way}\"/>") } else { String::new() }
                };
                let octave = octave + u8::from(chord);
                text += &format!(
                    "<note>{}<pitch><step>{}</step><octave>{octave}</octave></pitch><duration>1</duration>{}<voice>1</voice>\
                     <type>quarter</type><notations>{}{}{}</notations></note>\n",
                    if chord { "<chord/>" } else { "" },
                    slot.step,
                    ties("tie"),
                    ties("tied"),
                    slurs(slur_from, "stop"),
                    slurs(slur_to, "start"),
                );
            }
        }
        if part.second_voice {
            text += "<backup><duration>4</duration></backup>\n";
            for slot in slots.iter().rev() {
                let pitch = slot.octave.map_or("<rest/>".to_owned(), |octave| {
                    format!("<pitch><step>{}</step><octave>{octave}</octave></pitch>", slot.step)
                });
                text += &format!("<note>{pitch}<duration>1</duration><voice>2</voice></note>\n");
            }
        }
        text
    }

    fn bytes(&self) -> Vec<u8> {
        let mut parts: Vec<&MadePart> = self.parts.iter().collect();
        if self.twin {
            parts.extend(self.parts.last());
        }
        let list: String = (1..)
            .zip(&parts)
            .map(|(id, part)| {
                format!("<score-part id=\"P{id}\"><part-name>{}</part-name></score-part>\n", part.name)
            })
            .collect();
        let bars = 0..self.parts[0].bars.len();
        let wrap =
            |number: usize, text: &str| format!("<measure number=\"{}\">\n{text}</measure>\n", number + 1);
        let of = |id: usize, text: &str| format!("<part id=\"P{id}\">\n{text}</part>\n");
        let timewise = self.form == 1;
        let music: String = if timewise {
            bars.map(|bar| {
                let all: String =
                    (1..).zip(&parts).map(|(id, part)| of(id, &Made::bar_text(part, bar))).collect();
                wrap(bar, &all)
            })
            .collect()
        } else {
            (1..)
                .zip(&parts)
                .map(|(id, part)| {
                    let all: String = bars.clone().map(|bar| wrap(bar, &Made::bar_text(part, bar))).collect();
                    of(id, &all)
                })
                .collect()
        };
        let root = if timewise { "score-timewise" } else { "score-partwise" };
        let text = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<{root} version=\"3.1\">\n<part-list>\n{list}</part-list>\n{music}</{root}>\n"
        );
        match self.form {
            2 => text.replace('\n', "\r\n").into(),
            3 => utf_16(&text),
            4 => compressed(&text),
            _ => text.into(),
        }
    }
}

fn slots() -> impl Strategy<Value = Slot> {
    (
        prop::sample::select(vec!["C", "D", "E", "F", "G", "A", "B"]),
        prop::option::weighted(0.75, prop::sample::select(vec![0_u8, 1, 1, 1, 2, 2, 2, 3, 3, 4])),
        prop::bool::weighted(0.05),
        prop::bool::weighted(0.3),
        prop::bool::weighted(0.2),
        prop::option::weighted(0.15, prop::sample::select(vec!["pp", "p", "f", "ff", "fff"])),
    )
        .prop_map(|(step, octave, chord, tied, slurred, dynamic)| Slot {
            step,
            octave,
            chord,
            tied,
            slurred,
            dynamic,
        })
}

fn made_parts(bars: usize) -> impl Strategy<Value = MadePart> {
    (
        prop::sample::select(vec!["Tuba", "Trombone", "Bass Trombone", "Cimbasso"]),
        prop::bool::weighted(0.2),
        prop::collection::vec(prop::collection::vec(slots(), 4), bars),
        prop::bool::weighted(0.2),
    )
        .prop_map(|(name, transposes, bars, second_voice)| MadePart {
            name,
            transposes,
            bars,
            second_voice,
        })
}

fn made() -> impl Strategy<Value = Made> {
    (2_usize..7)
        .prop_flat_map(|bars| {
            (prop::collection::vec(made_parts(bars), 1..4), prop::bool::weighted(0.3), 0_usize..5)
        })
        .prop_map(|(parts, twin, form)| Made { parts, twin, form })
}

fn without_octaves(text: &str) -> String {
    let mut pieces = text.split("<octave>");
    let first = pieces.next().unwrap_or_default().to_owned();
    pieces
        .fold(first, |done, piece| done + "<octave>" + piece.trim_start_matches(|c: char| c.is_ascii_digit()))
}

/// Read, judged and planned as `lowbrass check` does without settings.
fn checked(bytes: &[u8]) -> (Document, Score, Vec<Finding>, Revision) {
    let room = Rooms::new(Config::None, None).of_folder(Path::new(".")).unwrap();
    let document = Document::open(bytes.to_vec()).unwrap();
    let score = read(&document, &room, &Orders::default()).unwrap();
    let (findings, revision) = {
        let section = seat(&score, &room, &Orders::default());
        let mut findings = judge(&section);
        let revision = plan(&section, &mut findings);
        (findings, revision)
    };
    (document, score, findings, revision)
}

/// All scores under a folder.
fn scores_under(folder: &Path, found: &mut Vec<PathBuf>) {
    let Ok(there) = std::fs::read_dir(folder) else { return };
    let mut there: Vec<PathBuf> = there.map(|entry| entry.unwrap().path()).collect();
    there.sort();
    for path in there {
        if path.is_dir() {
            scores_under(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "musicxml" || ending == "mxl") {
            found.push(path);
        }
    }
}

/// The copy of a score as the program makes it, under the settings of its folder.
fn fixed(bytes: &[u8], room: &Room, include_review: bool) -> Vec<u8> {
    let orders = Orders::default();
    let task = Task {
        orders: &orders,
        today: "2026-12-01".parse().unwrap(),
        accepts: Accepts::Nothing,
        include_review,
        revise: true,
        mark: None,
        draw: false,
        keep_score: false,
    };
    let checked = check(bytes.to_vec(), &Paths::default(), room, &task).unwrap();
    checked.revised.unwrap().bytes
}

#[test]
fn every_score_at_hand_fixed_again_is_the_same_bytes() {
    let checkout = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut scores = Vec::new();
    // The real scores are read where they lie beside the checkout, if they do.
    for folder in ["examples", "tests/fixtures", "../shared/scores"] {
        scores_under(&checkout.join(folder), &mut scores);
    }
    let mut rooms = Rooms::new(Config::Nearest, None);
    let mut moved = 0;
    for path in &scores {
        let room = rooms.of_folder(path.parent().unwrap()).unwrap();
        let bytes = std::fs::read(path).unwrap();
        for include_review in [false, true] {
            let copy = fixed(&bytes, &room, include_review);
            moved += usize::from(copy != bytes);
            let again = fixed(&copy, &room, include_review);
            assert!(again == copy, "{}, review: {include_review}", path.display());
        }
    }
    assert!(moved > 10, "only {moved} of {} scores and ways are moved at all", scores.len());
}

/// A number from the environment, for more cases than a run of all tests has time for.
fn number(name: &str, otherwise: u32) -> u32 {
    std::env::var(name).ok().and_then(|number| number.parse().ok()).unwrap_or(otherwise)
}

/// Revises a score and looks at the copy: only octave digits differ, what a move was to clear is gone, and nothing is
/// moved again. Gives how many moves were made, and how many there were.
fn keeps_its_promises(bytes: &[u8]) -> (usize, usize) {
    let (document, score, _, revision) = checked(bytes);
    let copy = revise(&document, &score, &revision, false).unwrap();
    if copy.applied.is_empty() {
        assert_eq!(copy.bytes, bytes);
    }
    let (there, _, left, again) = checked(&copy.bytes);
    assert_eq!(without_octaves(there.text()), without_octaves(document.text()));
    // Every digit that differs is one of a moved note.
    let moved: usize = copy.applied.iter().map(|made| made.octave_move.notes.len()).sum();
    let differing = there.text().bytes().zip(document.text().bytes()).filter(|(a, b)| a != b).count();
    assert_eq!(differing, moved);
    for made in &copy.applied {
        let promised = |finding: &&Finding| {
            finding.part == Some(made.part)
                && made.octave_move.clears.contains(&finding.rule)
                && finding.notes.iter().any(|note| made.octave_move.notes.contains(note))
        };
        assert!(!left.iter().any(|finding| promised(&finding)), "{:?}", left.iter().find(promised));
    }
    let standing: Vec<_> =
        again.moves.iter().filter(|made| made.octave_move.standing == Standing::Safe).collect();
    assert!(standing.is_empty(), "moved again: {standing:?}");
    // Nor with what is left for review.
    let copy_of_all = revise(&document, &score, &revision, true).unwrap();
    let (there, there_score, _, again) = checked(&copy_of_all.bytes);
    let again = revise(&there, &there_score, &again, true).unwrap();
    assert!(again.bytes == copy_of_all.bytes, "moved again with review: {:?}", again.applied);
    (copy.applied.len(), revision.moves.len())
}

/// Two parts of quarters strewn over some octaves, a rest here and there: whatever moves, more than one rule has
/// something to say of it.
fn strewn(seed: u64, bars: usize, octaves: Range<u64>) -> String {
    let parts = ["Tuba", "Bass Trombone"];
    let mut text = r#"<score-partwise version="4.0"><part-list>"#.to_owned();
    for (index, name) in parts.iter().enumerate() {
        write!(text, r#"<score-part id="P{index}"><part-name>{name}</part-name></score-part>"#).unwrap();
    }
    text += "</part-list>";
    for index in 0..parts.len() as u64 {
        let mut state = seed * 1000 + index;
        // Knuth's constants.
        let mut below = |bound: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % bound
        };
        write!(text, r#"<part id="P{index}">"#).unwrap();
        for bar in 1..=bars {
            write!(text, r#"<measure number="{bar}">"#).unwrap();
            if bar == 1 {
                text += "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
            }
            if below(4) == 0 {
                let mark = ["p", "mf", "f", "ff"][below(4) as usize];
                write!(
                    text,
                    "<direction><direction-type><dynamics><{mark}/></dynamics></direction-type></direction>"
                )
                .unwrap();
            }
            for _ in 0..4 {
                if below(8) == 0 {
                    text += "<note><rest/><duration>1</duration></note>";
                    continue;
                }
                let step = ["C", "D", "E", "F", "G", "A", "B"][below(7) as usize];
                let octave = octaves.start + below(octaves.end - octaves.start);
                write!(text, "<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>1</duration></note>").unwrap();
            }
            text += "</measure>";
        }
        text += "</part>";
    }
    text + "</score-partwise>"
}

#[test]
fn where_moves_hang_together_most_are_made_all_the_same() {
    let pages = (1..=u64::from(number("STREWN_PAGES", 4)))
        .map(|seed| (seed, keeps_its_promises(strewn(seed, 30, 1..3).as_bytes())));
    let (mut made, mut all) = (0, 0);
    for (seed, page) in pages {
        assert_ne!(page.0, 0, "seed {seed}: none of {} moves made", page.1);
        made += page.0;
        all += page.1;
    }
    assert!(4 * made > 3 * all, "{made} of {all} moves made");
}

/// Below the lowest octave that a digit can name there is none: what a moved note may do next depends on where it stands
/// then, not on where it stood.
#[test]
fn from_the_lowest_octave_to_far_above_the_compass_all_promises_are_kept() {
    let made = (1..=u64::from(number("STREWN_PAGES", 30)))
        .map(|seed| keeps_its_promises(strewn(seed, 24, 0..6).as_bytes()).0)
        .sum::<usize>();
    assert_ne!(made, 0);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: number("COPIES_CASES", 60), rng_seed: RngSeed::Fixed(number("COPIES_SEED", 1).into()), failure_persistence: None, max_shrink_iters: number("COPIES_SHRINK", 60), ..ProptestConfig::default() })]

    #[test]
    fn a_copy_of_any_score_keeps_what_its_moves_promise(made in made()) {
        let bytes = made.bytes();
        keeps_its_promises(&bytes);
        let (document, score, findings, _) = checked(&bytes);
        let marks = Document::open(marked(&document, &score, &findings).unwrap()).unwrap();
        prop_assert_eq!(marks.unmarked().unwrap(), bytes);
    }
}
