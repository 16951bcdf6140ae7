//! Bad and hostile inputs, each made here by code: what family it is of, how it is made, and what must come of it.
//!
//! Every one is handed to the program itself, with 2 GiB of address space and 10 seconds where the system can hold it to
//! them. `LOWBRASS_HOSTILE_MB=100` makes those that grow 100 MB large (then `LOWBRASS_HOSTILE_PROGRAM` names a program built with
//! `--release`); without it they stay small enough for every run of the tests.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)] // A test that cannot run has nothing to say.
#![allow(clippy::format_push_string, clippy::format_collect)] // Small scores, made where they can be read.

use std::fmt::Write as _;
use std::fs;
use std::io::{Cursor, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use assert_cmd::cargo::cargo_bin;

/// What must come of an input.
#[derive(Clone, Debug)]
enum Outcome {
    /// It is read: status 0 or 1, a report.
    Read,
    /// It is read, and the rule `read-around` says a piece of text.
    Around(&'static str),
    /// Status 2, with these words on standard error.
    Refused(&'static str),
    /// Status 2, and the limit of this name.
    Limit(&'static str),
    /// Either, as long as it ends well.
    Ends,
}
use Outcome::{Around, Ends, Limit, Read, Refused};

/// One row of the table.
struct Row {
    family: &'static str,
    made: String,
    bytes: Box<dyn Fn() -> Vec<u8> + Send + Sync>,
    /// The file's name; settings and profiles have names of their own.
    name: &'static str,
    outcome: Outcome,
}

fn row(
    family: &'static str,
    made: impl Into<String>,
    bytes: impl Fn() -> Vec<u8> + Send + Sync + 'static,
    outcome: Outcome,
) -> Row {
    Row { family, made: made.into(), bytes: Box::new(bytes), name: "score.musicxml", outcome }
}

/// How large the growing ones are, in bytes.
fn size() -> usize {
    std::env::var("LOWBRASS_HOSTILE_MB")
        .ok()
        .and_then(|mb| mb.parse::<usize>().ok())
        .map_or(150_000, |mb| mb * 1_000_000)
}

const ATTRIBUTES: &str =
    "<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
const NOTE: &str = "<note><pitch><step>D</step><octave>2</octave></pitch><duration>4</duration></note>";

/// A score of one tuba with these measures.
fn tuba(measures: &str) -> String {
    part("<part-name>Tuba</part-name>", measures)
}

fn part(about: &str, measures: &str) -> String {
    format!(
        "<score-partwise><part-list><score-part id='P1'>{about}</score-part></part-list><part id='P1'>{measures}</part></score-partwise>"
    )
}

/// A bar of 4/4 with something in it.
fn bar(inside: &str) -> String {
    tuba(&format!("<measure number='1'>{ATTRIBUTES}{inside}</measure>"))
}

/// As often as it takes to fill the size, with a running number in place of `#`.
fn filled(piece: &str) -> String {
    let Some((before, behind)) = piece.split_once('#') else { return piece.repeat(size() / piece.len() + 1) };
    let mut text = String::with_capacity(size() + piece.len());
    let mut index = 0;
    while text.len() < size() {
        write!(text, "{before}{index}{behind}").unwrap();
        index += 1;
    }
    text
}

fn zipped(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    for (name, content) in members {
        archive.start_file(*name, options).unwrap();
        archive.write_all(content).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

fn container(path: &str) -> String {
    format!("<container><rootfiles><rootfile full-path=\"{path}\"/></rootfiles></container>")
}

fn packed(score: &[u8]) -> Vec<u8> {
    zipped(&[("META-INF/container.xml", container("s.xml").as_bytes()), ("s.xml", score)])
}

fn table() -> Vec<Row> {
    let mut rows = Vec::new();
    no_scores(&mut rows);
    broken_xml(&mut rows);
    encodings(&mut rows);
    markup(&mut rows);
    entities(&mut rows);
    archives(&mut rows);
    crowds(&mut rows);
    numbers(&mut rows);
    shapes(&mut rows);
    names(&mut rows);
    settings(&mut rows);
    profiles(&mut rows);
    rows
}

#[rustfmt::skip] // A table: a line a row.
fn no_scores(rows: &mut Vec<Row>) {
    let family = "no score";
    let mut add = |made: &str, bytes: &[u8], words| {
        let bytes = bytes.to_vec();
        rows.push(row(family, made, move || bytes.clone(), Refused(words)));
    };
    add("nothing", b"", "the file is empty");
    add("one NUL", b"\0", "not XML");
    add("white space", b" \n\t", "not XML");
    add("a byte-order mark alone", b"\xEF\xBB\xBF", "not XML");
    add("two bytes of a UTF-16 mark", b"\xFF\xFE", "not XML");
    add("plain words", b"Tuba, bar 1: D", "not XML");
    add("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not XML");
    add("a PDF", b"%PDF-1.7\n", "not XML");
    add("a MIDI file", b"MThd\0\0\0\x06\0\x01\0\x02\x01\xe0", "not XML");
    add("an opus", b"<opus/>", "an opus");
    add("HTML", b"<html><body/></html>", "found 'html'");
    add("an SVG", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "found 'svg'");
    add("a root in another case", b"<Score-Partwise/>", "found 'Score-Partwise'");
    add("a comment alone", b"<!-- score -->", "no element in it");
    add("a declaration alone", b"<?xml version='1.0'?>", "no element in it");
    add("two roots", b"<score-partwise/><score-partwise/>", "not well-formed");
    add("text behind the root", b"<score-partwise/>more", "not well-formed");
    add("a prefix that is declared nowhere", b"<m:score-partwise/>", "not well-formed");
    add("JSON", b"{\"score\": []}", "not XML");
    add("gzip", b"\x1f\x8b\x08\0\0\0\0\0", "not XML");
}

#[rustfmt::skip] // A table: a line a row.
fn broken_xml(rows: &mut Vec<Row>) {
    let family = "broken XML";
    let whole = bar(&NOTE.repeat(4));
    for share in [1, 2, 3, 5, 8, 13, 21, 34, 55, 89] {
        let cut = whole[..whole.len() * share / 100].to_owned();
        rows.push(row(family, format!("cut off at {share} %"), move || cut.clone().into(), Refused("not well-formed")));
    }
    for (made, from, to) in [
        ("an end tag of another name", "</note>", "</not>"),
        ("an end tag too many", "</note>", "</note></note>"),
        ("a bare ampersand", "<step>D</step>", "<step>D & E</step>"),
        ("a bare less-than", "<step>D</step>", "<step><</step>"),
        ("an attribute without quotes", "number='1'", "number=1"),
        ("an attribute twice", "number='1'", "number='1' number='2'"),
        ("an attribute without a value", "number='1'", "number"),
        ("a quote that never ends", "number='1'", "number='1"),
        ("an unknown reference", "<step>D</step>", "<step>&d;</step>"),
        ("a reference to no character", "<step>D</step>", "<step>&#0;</step>"),
        ("a comment that never ends", "<step>D</step>", "<!-- <step>D</step>"),
        ("a section that never ends", "<step>D</step>", "<![CDATA[D"),
        ("an instruction that never ends", "<step>D</step>", "<?x <step>D</step>"),
        ("the end of a section in text", "<step>D</step>", "<step>]]></step>"),
        ("a NUL in text", "<step>D</step>", "<step>D\0</step>"),
        ("a form feed in text", "<step>D</step>", "<step>D\u{c}</step>"),
        ("U+FFFE in text", "<step>D</step>", "<step>\u{FFFE}</step>"),
        ("a declaration inside", "<step>D</step>", "<?xml version='1.0'?>"),
        ("a document type inside", "<step>D</step>", "<!DOCTYPE x>"),
    ] {
        assert!(whole.contains(from), "{made}");
        let broken = whole.replacen(from, to, 1);
        rows.push(row(family, made, move || broken.clone().into(), Refused("not well-formed")));
    }
}

#[rustfmt::skip] // A table: a line a row.
fn encodings(rows: &mut Vec<Row>) {
    let family = "encoding";
    let declared = |name: &str| format!("<?xml version='1.0' encoding='{name}'?>");
    let score = bar(&NOTE.repeat(4));
    let mut add = |made: &str, bytes: Vec<u8>, outcome| rows.push(row(family, made, move || bytes.clone(), outcome));
    add("an encoding nobody knows", (declared("klingon-7") + &score).into(), Refused("encoding 'klingon-7' is not known"));
    add("an encoding with control characters", (declared("x\x1b[31m") + &score).into(), Refused("is not known"));
    add("an encoding name of 100,000 letters", (declared(&"x".repeat(100_000)) + &score).into(), Ends);
    add("UTF-32", b"\xFF\xFE\0\0<\0\0\0".to_vec(), Refused("UTF-32"));
    add("UTF-7", (declared("UTF-7") + &score).into(), Refused("is not known"));
    add("UTF-8 with a broken sequence", [score.as_bytes(), b"\xC3("].concat(), Refused("not UTF-8"));
    add("UTF-8 overlong", [b"<a>\xC0\xAF</a>".as_slice()].concat(), Refused("not UTF-8"));
    add("UTF-8 with half a pair", b"<a>\xED\xA0\x80</a>".to_vec(), Refused("not UTF-8"));
    add("UTF-8 cut in a letter", b"<a>\xE2\x99".to_vec(), Refused("not UTF-8"));
    add("Latin-1 declared as UTF-8", [declared("UTF-8").as_bytes(), b"<a>\xE9</a>"].concat(), Refused("not UTF-8"));
    let wide = |text: &str, big: bool| -> Vec<u8> {
        text.encode_utf16().flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() }).collect()
    };
    add("UTF-16 of an odd length", [b"\xFF\xFE".as_slice(), &wide(&score, false), b"x"].concat(), Refused("not UTF-16LE"));
    add("UTF-16 with half a pair", [b"\xFF\xFE<\0a\0>\0".as_slice(), b"\x00\xD8<\0/\0a\0>\0"].concat(), Refused("not UTF-16LE"));
    add("UTF-16 little-endian without a mark", wide(&score, false), Read);
    add("UTF-16 big-endian without a mark", wide(&score, true), Read);
    add("UTF-16 declared, UTF-8 in truth", (declared("UTF-16") + &score).into(), Read);
    add("UTF-8 behind two marks", [b"\xEF\xBB\xBF\xEF\xBB\xBF".as_slice(), score.as_bytes()].concat(), Refused("not"));
    add("Latin-1", [declared("ISO-8859-1").as_bytes(), score.replace("Tuba", "Tuba \u{e9}").chars().map(|c| c as u8).collect::<Vec<_>>().as_slice()].concat(), Read);
    add("white space before the declaration", (" ".to_owned() + &declared("UTF-8") + &score).into(), Refused("not well-formed"));
    add("4,097 spaces before the root", (" ".repeat(4097) + &score).into(), Ends);
}

#[rustfmt::skip] // A table: a line a row.
fn markup(rows: &mut Vec<Row>) {
    let family = "markup";
    let mut add = |made: &str, text: fn() -> String, outcome| rows.push(row(family, made, move || text().into(), outcome));
    add("many attributes on one note", || bar(&format!("<note {}/>", filled("a#='' "))), Limit("attributes"));
    add("many attributes on a prefixed element", || bar(&format!("<x:note xmlns:x='u' {}/>", filled("a#='' "))), Limit("attributes"));
    add("many attributes on the root", || format!("<score-partwise {}/>", filled("a#='' ")), Limit("attributes"));
    add("many namespaces on one element", || bar(&format!("<note {}/>", filled("xmlns:n#='u' "))), Ends);
    add("many namespaces on many elements", || bar(&filled("<x:y xmlns:x='u#'/>")), Ends);
    add("many namespaces inside each other", || bar(&filled("<a xmlns:n#='u'>")), Ends);
    add("1,001 namespaces", || bar(&(0..1001).map(|n| format!("<x:y xmlns:x='u{n}'/>")).collect::<String>()), Limit("namespaces"));
    add("1,000 namespaces", || bar(&(0..1000).map(|n| format!("<x:y xmlns:x='u{n}'/>")).collect::<String>()), Read);
    add("elements inside each other", || bar(&filled("<a>")), Limit("nesting"));
    add("elements inside each other, closed", || {
        let depth = size() / 7;
        bar(&("<a>".repeat(depth) + &"</a>".repeat(depth)))
    }, Limit("nesting"));
    add("notes inside each other", || bar(&filled("<note>")), Limit("nesting"));
    add("elements around the part list, inside each other", || format!("<score-partwise>{}", filled("<a>")), Limit("nesting"));
    add("250 elements inside each other", || bar(&("<a>".repeat(250) + &"</a>".repeat(250))), Read);
    add("empty elements in one measure", || bar(&filled("<a/>")), Ends);
    add("empty elements before the part list", || format!("<score-partwise>{}<part-list/></score-partwise>", filled("<a/>")), Ends);
    add("end tags alone", || filled("</a>"), Refused("not well-formed"));
    add("less-than signs", || filled("<"), Ends);
    add("equals signs", || format!("<score-partwise {}", filled("=")), Ends);
    add("greater-than signs", || format!("<score-partwise>{}</score-partwise>", filled(">")), Ends);
    add("quotes", || format!("<score-partwise {}", filled("'")), Ends);
    add("ampersands", || format!("<score-partwise>{}", filled("&")), Ends);
    add("character references", || bar(&format!("<a>{}</a>", filled("&#65;"))), Ends);
    add("comments", || bar(&filled("<!---->")), Ends);
    add("one long comment", || bar(&format!("<!--{}-->", filled("x "))), Read);
    add("comments of equals signs", || bar(&filled("<!--======================-->")), Ends);
    add("sections", || bar(&format!("<a>{}</a>", filled("<![CDATA[x]]>"))), Ends);
    add("sections and text by turns", || bar(&format!("<a>{}</a>", filled("x<![CDATA[y]]>"))), Ends);
    add("instructions", || bar(&filled("<?x y?>")), Ends);
    add("one long instruction", || bar(&format!("<?x {}?>", filled("y "))), Read);
    add("remarks of our own", || bar(&filled("<?lowbrass remark?><direction/>")), Ends);
    add("one long text", || bar(&format!("<a>{}</a>", filled("xxxxxxxx"))), Ends);
    add("one long attribute", || bar(&format!("<a b='{}'/>", filled("xxxxxxxx"))), Ends);
    add("one long element name", || bar(&format!("<{}/>", filled("xxxxxxxx"))), Ends);
    add("line ends", || bar(&filled("\r\n")), Read);
    add("spaces inside a tag", || bar(&format!("<note{}/>", filled("    "))), Ends);
    add("a foreign namespace around notes", || bar(&format!("<x:y xmlns:x='u'>{}</x:y>", NOTE.repeat(1000))), Read);
    add("a text of 1 MiB and a byte", || bar(&format!("<a>{}</a>", "x".repeat((1 << 20) + 1))), Limit("piece"));
    add("an attribute of 1 MiB and a byte", || bar(&format!("<a b='{}'/>", "x".repeat((1 << 20) + 1))), Limit("piece"));
    add("257 attributes", || bar(&format!("<a {}/>", (0..257).map(|n| format!("a{n}='' ")).collect::<String>())), Limit("attributes"));
    add("256 attributes", || bar(&format!("<a {}/>", (0..256).map(|n| format!("a{n}='' ")).collect::<String>())), Read);
}

#[rustfmt::skip] // A table: a line a row.
fn entities(rows: &mut Vec<Row>) {
    let family = "entity";
    let mut add = |made: &str, text: fn() -> String, outcome| rows.push(row(family, made, move || text().into(), outcome));
    add("1 MiB, used 20,000 times", || format!("<!DOCTYPE a [<!ENTITY e '{}'>]>{}", "x".repeat(1 << 20), bar(&"&e;".repeat(20_000))), Limit("expansion"));
    add("1 MiB, used in attributes", || format!("<!DOCTYPE a [<!ENTITY e '{}'>]>{}", "x".repeat(1 << 20), bar(&"<a b='&e;'/>".repeat(20_000))), Limit("expansion"));
    add("each names the one before ten times", || {
        let each: String = (1..10).map(|n| format!("<!ENTITY e{n} '{}'>", format!("&e{};", n - 1).repeat(10))).collect();
        format!("<!DOCTYPE a [<!ENTITY e0 'ha'>{each}]>{}", bar("<a>&e9;</a>"))
    }, Limit("expansion"));
    add("names itself", || format!("<!DOCTYPE a [<!ENTITY e '&e;'>]>{}", bar("<a>&e;</a>")), Refused("not well-formed"));
    add("two name each other", || format!("<!DOCTYPE a [<!ENTITY e '&f;'><!ENTITY f '&e;'>]>{}", bar("<a>&e;</a>")), Refused("not well-formed"));
    add("many are declared", || format!("<!DOCTYPE a [{}]>{}", filled("<!ENTITY e# 'x'>"), bar("<a>&e0;</a>")), Limit("entities"));
    add("a million notes out of one", || format!("<!DOCTYPE a [<!ENTITY e '{}'>]>{}", NOTE.repeat(1000), bar(&"&e;".repeat(1000))), Limit("expansion"));
    add("many attributes in one", || format!("<!DOCTYPE a [<!ENTITY e '<b {}/>'>]>{}", filled("a#=\"\" "), bar("&e;")), Ends);
    add("deep elements in one", || format!("<!DOCTYPE a [<!ENTITY e '{}'>]>{}", filled("<b>"), bar("&e;")), Ends);
    add("a file from outside", || format!("<!DOCTYPE a [<!ENTITY e SYSTEM 'file:///etc/passwd'>]>{}", bar("<a>&e;</a>")), Refused("not well-formed"));
    add("an address", || format!("<!DOCTYPE a [<!ENTITY e SYSTEM 'http://127.0.0.1:9/x'>]>{}", bar("<a>&e;</a>")), Refused("not well-formed"));
    add("a document type from outside", || format!("<!DOCTYPE a SYSTEM 'file:///dev/zero'>{}", bar(NOTE)), Read);
    add("a parameter entity", || format!("<!DOCTYPE a [<!ENTITY % p SYSTEM 'file:///dev/zero'> %p;]>{}", bar(NOTE)), Ends);
    add("a document type that never ends", || format!("<!DOCTYPE a [{}", filled("<!ELEMENT a ANY>")), Refused("not well-formed"));
    add("half an element", || format!("<!DOCTYPE a [<!ENTITY e '<b>'>]>{}", bar("&e;</b>")), Refused("not well-formed"));
    add("the end of its element", || format!("<!DOCTYPE a [<!ENTITY e '</measure>'>]>{}", bar("&e;")), Refused("not well-formed"));
    add("octave digits", || format!("<!DOCTYPE a [<!ENTITY low '1'>]>{}", bar(&NOTE.replace(">2<", ">&low;<"))), Read);
    add("a name", || format!("<!DOCTYPE a [<!ENTITY n 'Tuba'>]>{}", bar(NOTE).replace("Tuba", "&n;")), Read);
}

#[rustfmt::skip] // A table: a line a row.
fn archives(rows: &mut Vec<Row>) {
    let family = "archive";
    let mut add = |made: &str, bytes: fn() -> Vec<u8>, outcome| {
        let mut row = row(family, made, bytes, outcome);
        row.name = "score.mxl";
        rows.push(row);
    };
    add("PK alone", || b"PK".to_vec(), Refused("cannot be unpacked"));
    add("PK and noise", || b"PK\x03\x04 not really an archive".to_vec(), Refused("cannot be unpacked"));
    add("no members", || zipped(&[]), Refused("no compressed MusicXML"));
    add("no container", || zipped(&[("s.xml", b"<a/>")]), Refused("no compressed MusicXML"));
    add("an empty container", || zipped(&[("META-INF/container.xml", b"")]), Refused("container"));
    add("a container that is none", || zipped(&[("META-INF/container.xml", b"<a")]), Refused("container"));
    add("a container without a rootfile", || zipped(&[("META-INF/container.xml", b"<container/>")]), Refused("names no score"));
    add("a rootfile that is not there", || zipped(&[("META-INF/container.xml", container("s.xml").as_bytes())]), Refused("does not hold"));
    add("a rootfile above the archive", || zipped(&[("META-INF/container.xml", container("../../../etc/passwd").as_bytes())]), Refused("does not hold"));
    add("a rootfile by an absolute path", || zipped(&[("META-INF/container.xml", container("/etc/passwd").as_bytes())]), Refused("does not hold"));
    add("a rootfile by an address", || zipped(&[("META-INF/container.xml", container("file:///etc/passwd").as_bytes())]), Refused("does not hold"));
    add("a rootfile that is the container", || zipped(&[("META-INF/container.xml", container("META-INF/container.xml").as_bytes())]), Refused("found 'container'"));
    add("a rootfile that is an archive", || packed(&packed(bar(NOTE).as_bytes())), Refused("not XML"));
    add("an empty score", || packed(b""), Refused("the file is empty"));
    add("a score with control characters in its name", || zipped(&[("META-INF/container.xml", container("a&#x1b;[31mb&#x202e;c").as_bytes())]), Refused("container"));
    add("a container with entities", || zipped(&[("META-INF/container.xml", b"<!DOCTYPE a [<!ENTITY e 's.xml'>]><container><rootfile full-path='&e;'/></container>"), ("s.xml", bar(NOTE).as_bytes())]), Read);
    add("a container with an outside entity", || zipped(&[("META-INF/container.xml", b"<!DOCTYPE a [<!ENTITY e SYSTEM 'file:///etc/hostname'>]><container><rootfile full-path='&e;'/></container>")]), Refused("container"));
    add("a container of 2 MiB", || zipped(&[("META-INF/container.xml", format!("<container>{}</container>", " ".repeat(2 << 20)).as_bytes())]), Limit("container"));
    add("a score that unpacks to 300 MB of spaces", || {
        let blanks = vec![b' '; 1 << 20];
        let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let options = zip::write::SimpleFileOptions::default().large_file(false);
        archive.start_file("META-INF/container.xml", options).unwrap();
        archive.write_all(container("s.xml").as_bytes()).unwrap();
        archive.start_file("s.xml", options).unwrap();
        for _ in 0..if cfg!(debug_assertions) { 260 } else { 300 } {
            archive.write_all(&blanks).unwrap();
        }
        archive.finish().unwrap().into_inner()
    }, Limit("text"));
    add("10,001 members", || {
        let names: Vec<String> = (0..10_000).map(|n| n.to_string()).collect();
        let mut members: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), b"".as_slice())).collect();
        let container = container("s.xml");
        members.push(("META-INF/container.xml", container.as_bytes()));
        zipped(&members)
    }, Limit("members"));
    add("a size told too small", || {
        let mut bytes = packed(bar(&NOTE.repeat(4)).as_bytes());
        told(&mut bytes, 1);
        bytes
    }, Ends);
    add("a size told far too large", || {
        let mut bytes = packed(bar(&NOTE.repeat(4)).as_bytes());
        told(&mut bytes, u32::MAX - 1);
        bytes
    }, Ends);
    add("a wrong checksum", || {
        let mut bytes = packed(bar(&NOTE.repeat(4)).as_bytes());
        let at = bytes.windows(4).rposition(|four| four == b"PK\x01\x02").unwrap();
        bytes[at + 16] ^= 1;
        bytes
    }, Refused("cannot be unpacked"));
    for share in [10, 50, 90, 99] {
        rows.push(Row {
            name: "score.mxl",
            ..row(family, format!("cut off at {share} %"), move || {
                let bytes = packed(bar(&NOTE.repeat(4)).as_bytes());
                bytes[..bytes.len() * share / 100].to_vec()
            }, Refused("cannot be unpacked"))
        });
    }
    for flipped in 0..24 {
        rows.push(Row {
            name: "score.mxl",
            ..row(family, format!("a byte flipped at {flipped} of 24"), move || {
                let mut bytes = packed(bar(&NOTE.repeat(4)).as_bytes());
                let at = 2 + (bytes.len() - 3) * flipped / 23;
                bytes[at] ^= 0x55;
                bytes
            }, Ends)
        });
    }
}

/// Writes another unpacked size into the list of an archive, for its last member.
fn told(bytes: &mut [u8], size: u32) {
    let at = bytes.windows(4).rposition(|four| four == b"PK\x01\x02").unwrap();
    bytes[at + 24..at + 28].copy_from_slice(&size.to_le_bytes());
}

#[rustfmt::skip] // A table: a line a row.
fn crowds(rows: &mut Vec<Row>) {
    let family = "crowd";
    let mut add = |made: &str, text: fn() -> String, outcome| rows.push(row(family, made, move || text().into(), outcome));
    add("measures without anything", || tuba(&filled("<measure/>")), Ends);
    add("notes in one measure", || bar(&filled(NOTE)), Ends);
    add("20,001 notes in one measure", || bar(&NOTE.repeat(20_001)), Limit("crowd"));
    add("notes in many measures", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}</measure>", NOTE.repeat(4)))), Ends);
    add("loud notes too low in many measures", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><dynamics><ff/></dynamics></direction-type></direction>{}</measure>", NOTE.repeat(4).replace(">2<", ">1<")))), Ends);
    add("low and high notes by turns", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}{}</measure>", NOTE.replace(">2<", ">1<").repeat(2), NOTE.replace(">2<", ">4<").repeat(2)))), Ends);
    add("rests", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<note><rest/><duration>16</duration></note></measure>"))), Ends);
    add("a chord of all notes", || bar(&(NOTE.to_owned() + &filled(&NOTE.replace("<pitch>", "<chord/><pitch>")))), Ends);
    add("a chord of 1,000 notes", || bar(&(NOTE.to_owned() + &NOTE.replace("<pitch>", "<chord/><pitch>").repeat(999))), Limit("together"));
    add("notes that never end, over each other", || bar(&filled("<note><pitch><step>D</step><octave>2</octave></pitch><duration>1000</duration></note><backup><duration>999</duration></backup>")), Ends);
    add("voices", || bar(&filled(&NOTE.replace("</note>", "<voice>v#</voice></note>"))), Limit("voices"));
    add("parts in the list", || format!("<score-partwise><part-list>{}</part-list></score-partwise>", filled("<score-part id='P#'><part-name>Tuba</part-name></score-part>")), Limit("parts"));
    add("parts that are not in the list", || format!("<score-partwise><part-list/>{}</score-partwise>", filled("<part id='P#'><measure/></part>")), Limit("parts"));
    add("1,000 tubas that play the same", || {
        let list: String = (0..1000).map(|n| format!("<score-part id='P{n}'><part-name>Tuba</part-name></score-part>")).collect();
        let parts: String = (0..1000).map(|n| format!("<part id='P{n}'><measure>{ATTRIBUTES}{}</measure></part>", NOTE.repeat(4))).collect();
        format!("<score-partwise><part-list>{list}</part-list>{parts}</score-partwise>")
    }, Limit("together"));
    add("timewise, parts times measures", || {
        let many = (size() / 30).min(20_000) / 2;
        let parts: String = (0..many).map(|n| format!("<part id='P{n}'/>")).collect();
        format!("<score-timewise><part-list/><measure>{parts}</measure>{}</score-timewise>", "<measure/>".repeat(many))
    }, Limit("measures"));
    add("instruments of one part", || part(&format!("<part-name>Tuba</part-name>{}", filled("<score-instrument id='I#'><instrument-name>Tuba</instrument-name></score-instrument>")), "<measure/>"), Limit("instruments"));
    add("MIDI instruments of one part", || part(&format!("<part-name>Tuba</part-name>{}", filled("<midi-instrument id='I#'/>")), "<measure/>"), Limit("instruments"));
    add("groups that never end", || format!("<score-partwise><part-list>{}</part-list></score-partwise>", filled("<part-group type='start' number='#'><group-name>Brass</group-name></part-group>")), Limit("instruments"));
    add("players of one part", || part(&format!("<part-name>Tuba</part-name>{}", filled("<player id='p#'/>")), &format!("<measure>{ATTRIBUTES}{NOTE}</measure>")), Ends);
    add("transpositions and notes in one measure", || bar(&filled(&format!("<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>{NOTE}"))), Ends);
    add("clefs", || bar(&filled("<attributes><clef><sign>F</sign></clef></attributes>")), Ends);
    add("tempos at one place", || bar(&filled("<sound tempo='9#'/>")), Ends);
    add("ritardandos at one place", || bar(&filled("<direction><direction-type><words>rit.</words></direction-type></direction>")), Ends);
    add("dynamics at one place", || bar(&filled("<direction><direction-type><dynamics><ff/></dynamics></direction-type></direction>")), Ends);
    add("one direction of many dynamics", || bar(&format!("<direction><direction-type>{}</direction-type></direction>{NOTE}", filled("<dynamics><ff/></dynamics>"))), Ends);
    add("one dynamics of many letters", || bar(&format!("<direction><direction-type><dynamics>{}</dynamics></direction-type></direction>{NOTE}", filled("<f/>"))), Ends);
    add("one direction of many words", || bar(&format!("<direction><direction-type>{}</direction-type></direction>{NOTE}", filled("<words>rit. </words>"))), Ends);
    add("hairpins that never end", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><wedge type='crescendo'/></direction-type></direction>{NOTE}</measure>"))), Ends);
    add("hairpins that end by another number", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><wedge type='crescendo' number='1'/></direction-type></direction>{NOTE}<direction><direction-type><wedge type='stop' number='2'/></direction-type></direction></measure>"))), Ends);
    add("hairpins into silence", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><wedge type='diminuendo'/></direction-type></direction>{NOTE}<direction><direction-type><dynamics><n/></dynamics></direction-type></direction></measure>"))), Ends);
    add("200 slurs over everything", || {
        let slurs = |kind: &str| NOTE.replace("</note>", &format!("<notations>{}</notations></note>", (1..=200).map(|n| format!("<slur type='{kind}' number='{n}'/>")).collect::<String>()));
        tuba(&format!("<measure>{ATTRIBUTES}{}</measure>{}<measure>{}</measure>", slurs("start"), filled(&format!("<measure>{NOTE}{NOTE}</measure>")), slurs("stop")))
    }, Ends);
    add("slurs that never end", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}</measure>", NOTE.replace("</note>", "<notations><slur type='start' number='#'/></notations></note>")))), Ends);
    add("slurs on one note", || bar(&NOTE.replace("</note>", &format!("<notations>{}</notations></note>", filled("<slur type='start' number='1'/><slur type='stop' number='2'/>")))), Ends);
    add("a slur over everything, in each voice", || tuba(&format!("<measure>{ATTRIBUTES}{}</measure>{}", NOTE.replace("</note>", "<notations><slur type='start'/></notations></note>"), filled(&format!("<measure>{NOTE}</measure>")))), Ends);
    add("ties that never end", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}</measure>", NOTE.replace("<duration>", "<tie type='start'/><duration>")))), Ends);
    add("ties that start nowhere", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}</measure>", NOTE.replace("<duration>", "<tie type='stop'/><duration>")))), Ends);
    add("one tie over everything", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}</measure>", NOTE.replace("<duration>", "<tie type='stop'/><tie type='start'/><duration>").repeat(4)))), Ends);
    add("mutes in and out", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><words>con sord.</words></direction-type><staff>2</staff></direction>{NOTE}</measure>"))), Ends);
    add("mutes at one place", || bar(&filled("<direction><direction-type><words>con sord.</words></direction-type></direction>")), Ends);
    add("octave lines that never end", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><octave-shift type='up' number='#'/></direction-type></direction>{NOTE}</measure>"))), Ends);
    add("grace notes", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{NOTE}{}</measure>", "<note><grace/><pitch><step>E</step><octave>2</octave></pitch></note>".repeat(8)))), Ends);
    add("grace notes at one place", || bar(&filled("<note><grace/><pitch><step>E</step><octave>2</octave></pitch></note>")), Ends);
    add("repeats in every bar", || tuba(&filled("<measure><barline><repeat direction='forward'/></barline><barline><repeat direction='backward' times='999'/></barline></measure>")), Ends);
    add("endings of many numbers", || tuba(&filled("<measure><barline><ending type='start' number='1-999'/></barline></measure>")), Ends);
    add("an ending of a long number list", || tuba(&format!("<measure><barline><ending type='start' number='{}'/></barline></measure>", filled("#, "))), Ends);
    add("segnos", || bar(&filled("<sound segno='s#'/>")), Ends);
    add("jumps without end", || tuba(&filled("<measure><sound segno='a'/><sound dalsegno='a'/></measure>")), Ends);
    add("da capo in every bar", || tuba(&filled("<measure><sound dacapo='yes'/></measure>")), Ends);
    add("a list of times", || bar(&format!("<sound tempo='90' time-only='{}'/>", filled("1,"))), Ends);
    add("pitches that are none", || tuba(&filled(&format!("<measure>{ATTRIBUTES}{}</measure>", NOTE.replace(">D<", ">H#<").repeat(4)))), Ends);
    add("instrument changes", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<sound><instrument-change id='I1'/></sound>{NOTE}</measure>"))), Ends);
    add("words that let stand", || tuba(&filled(&format!("<measure>{ATTRIBUTES}<direction><direction-type><words>ok: effect-register</words></direction-type></direction>{NOTE}</measure>"))), Ends);
}

#[rustfmt::skip] // A table: a line a row.
fn numbers(rows: &mut Vec<Row>) {
    let family = "number";
    let places: [(&str, &str, &str); 16] = [
        ("divisions", "<attributes><divisions>{}</divisions></attributes>", "divisions"),
        ("beats", "<attributes><time><beats>{}</beats><beat-type>4</beat-type></time></attributes>", "beats"),
        ("beat type", "<attributes><time><beats>4</beats><beat-type>{}</beat-type></time></attributes>", "beat-type"),
        ("octave", "<note><pitch><step>D</step><octave>{}</octave></pitch><duration>4</duration></note>", "no pitch that can be read"),
        ("step", "<note><pitch><step>{}</step><octave>2</octave></pitch><duration>4</duration></note>", "no pitch that can be read"),
        ("alter", "<note><pitch><step>D</step><alter>{}</alter><octave>2</octave></pitch><duration>4</duration></note>", "no pitch that can be read"),
        ("duration", "<note><pitch><step>D</step><octave>2</octave></pitch><duration>{}</duration></note>", "duration"),
        ("backup", "<backup><duration>{}</duration></backup>", "duration"),
        ("forward", "<forward><duration>{}</duration></forward>", "duration"),
        ("chromatic", "<attributes><transpose><chromatic>{}</chromatic></transpose></attributes>", "chromatic"),
        ("diatonic", "<attributes><transpose><diatonic>{}</diatonic></transpose></attributes>", "diatonic"),
        ("octave change", "<attributes><transpose><octave-change>{}</octave-change></transpose></attributes>", "octave-change"),
        ("tempo", "<sound tempo='{}'/>", "tempo of a sound"),
        ("staff", "<note><pitch><step>D</step><octave>2</octave></pitch><duration>4</duration><staff>{}</staff></note>", "staff"),
        ("staves", "<attributes><staves>{}</staves></attributes>", "staves"),
        ("offset", "<direction><direction-type><words>x</words></direction-type><offset>{}</offset></direction>", "offset"),
    ];
    for (what, around, said) in places {
        for (kind, number) in [
            ("NaN", "NaN"),
            ("infinite", "inf"),
            ("words", "four"),
            ("an exponent", "1e5"),
            ("huge", "99999999999999999999999999"),
            ("negative and huge", "-99999999999999999999999999"),
            ("digits of another script", "\u{664}"),
        ] {
            let text = bar(&format!("{}{NOTE}", around.replace("{}", number)));
            rows.push(row(family, format!("{what}: {kind}"), move || text.clone().into(), Around(said)));
        }
    }
    for (made, text) in [
        ("a tempo of 1e-19, written out", "<sound tempo='0.0000000000000000001'/>"),
        ("a tempo of 0", "<sound tempo='0'/>"),
        ("a negative tempo", "<sound tempo='-90'/>"),
        ("a tempo of ten thousand", "<sound tempo='10000'/>"),
    ] {
        let text = bar(&format!("{text}{NOTE}"));
        rows.push(row(family, made, move || text.clone().into(), Around("tempo of a sound")));
    }
    let divisions = |divisions: &str, duration: &str| {
        let attributes = ATTRIBUTES.replace(">4</divisions>", &format!(">{divisions}</divisions>"));
        tuba(&format!("<measure>{attributes}{}</measure>", NOTE.replace(">4</duration>", &format!(">{duration}</duration>")).repeat(8)))
    };
    for (made, text) in [
        ("divisions of a billion", divisions("1000000000", "1000000007")),
        ("divisions of a millionth", divisions("0.000001", "1")),
        ("divisions of a prime", divisions("999999937", "999999929")),
        ("durations of a millionth", divisions("1", "0.000001")),
        ("the longest duration", divisions("1", "10000")),
        ("a time of 10,000 sixteenths", divisions("4", "4").replace(">4</beats>", ">10000</beats>").replace(">4</beat-type>", ">1024</beat-type>")),
        ("the highest octave", bar(&NOTE.replace(">2<", ">12<").repeat(4))),
        ("an octave below 0", bar(&NOTE.replace(">2<", ">-2<").repeat(4))),
        ("a twelvefold sharp", bar(&NOTE.replace("<octave>", "<alter>12</alter><octave>").repeat(4))),
        ("ten octaves down", bar(&format!("<attributes><transpose><chromatic>-120</chromatic><octave-change>-10</octave-change></transpose></attributes>{}", NOTE.repeat(4)))),
    ] {
        rows.push(row(family, made, move || text.clone().into(), Ends));
    }
}

#[rustfmt::skip] // A table: a line a row.
fn shapes(rows: &mut Vec<Row>) {
    let family = "shape";
    let mut add = |made: &str, text: String, outcome| rows.push(row(family, made, move || text.clone().into(), outcome));
    add("a score without anything", "<score-partwise/>".into(), Read);
    add("a timewise score without anything", "<score-timewise/>".into(), Read);
    add("a part without measures", tuba(""), Read);
    add("a measure without anything", tuba("<measure/>"), Read);
    add("a note without anything", bar("<note/>"), Around("neither pitch nor rest"));
    add("a note without a duration", bar("<note><pitch><step>D</step><octave>2</octave></pitch></note>"), Around("no duration"));
    add("a pitch without anything", bar("<note><pitch/><duration>4</duration></note>"), Around("no pitch that can be read"));
    add("a chord without a first note", bar(&NOTE.replace("<pitch>", "<chord/><pitch>")), Ends);
    add("a backup before the start", bar(&format!("<backup><duration>99</duration></backup>{NOTE}")), Around("held at the start"));
    add("a bar far too full", bar(&NOTE.repeat(400)), Around("more than its time signature"));
    // The parser lets them stand for U+FFFD, which is no step.
    add("a reference to half a pair", bar(&NOTE.replace(">D<", ">&#xD800;<")), Around("no pitch that can be read"));
    add("a reference beyond Unicode", bar(&NOTE.replace(">D<", ">&#x110000;<")), Around("no pitch that can be read"));
    add("a part twice", tuba(&format!("<measure>{ATTRIBUTES}{NOTE}</measure>")).replace("</part>", "</part><part id='P1'><measure/></part>"), Ends);
    add("a part without an id", tuba(&format!("<measure>{ATTRIBUTES}{NOTE}</measure>")).replace("<part id='P1'>", "<part>"), Around("no id"));
    add("a part of another id", tuba(&format!("<measure>{ATTRIBUTES}{NOTE}</measure>")).replace("<part id='P1'>", "<part id='X'>"), Ends);
    add("two parts of one id in the list", tuba(&format!("<measure>{ATTRIBUTES}{NOTE}</measure>")).replace("</part-list>", "<score-part id='P1'/></part-list>"), Ends);
    add("no part list", tuba("<measure/>").replace("part-list", "part-lost"), Ends);
    add("a measure inside a measure", tuba(&format!("<measure><measure>{NOTE}</measure></measure>")), Ends);
    add("a part inside a part", tuba(&format!("<part id='P1'><measure>{NOTE}</measure></part>")), Ends);
    add("a score inside a score", tuba(&tuba("<measure/>")), Ends);
    add("music before the part list", format!("<score-partwise><part id='P1'><measure>{NOTE}</measure></part><part-list><score-part id='P1'><part-name>Tuba</part-name></score-part></part-list></score-partwise>"), Ends);
    add("a repeat that leads to no end", tuba("<measure><barline><repeat direction='backward' times='1000'/></barline></measure>"), Ends);
    add("a default namespace", bar(NOTE).replace("<score-partwise>", "<score-partwise xmlns='urn:x'>"), Ends);
    add("a prefix on everything", "<m:score-partwise xmlns:m='u'><m:part-list><m:score-part id='P1'><m:part-name>Tuba</m:part-name></m:score-part></m:part-list><m:part id='P1'><m:measure/></m:part></m:score-partwise>".into(), Ends);
}

#[rustfmt::skip] // A table: a line a row.
fn names(rows: &mut Vec<Row>) {
    let family = "name";
    let named = |name: &str| part(&format!("<part-name>{name}</part-name>"), &format!("<measure>{ATTRIBUTES}{NOTE}</measure>"));
    let mut add = |made: &str, text: String, outcome| rows.push(row(family, made, move || text.clone().into(), outcome));
    add("a part name of 4,097 bytes", named(&"T".repeat(4097)), Limit("phrase"));
    add("a part name of 4,096 bytes", named(&"Tuba ".repeat(819)), Ends);
    add("a part name of 900,000 bytes", named(&"T".repeat(900_000)), Limit("phrase"));
    add("a part name of 32 MiB", named(&"T".repeat(32 << 20)), Limit("piece"));
    add("a part name of digits", named(&"1, ".repeat(1300)), Ends);
    add("a part name of dashes", named(&"-".repeat(4000)), Ends);
    add("a part name of brackets", named(&"[{(*?\\".repeat(600)), Ends);
    add("a part name of combining accents", named(&format!("Tuba{}", "\u{301}".repeat(2000))), Ends);
    add("a part name from right to left", named("Tuba \u{202e}abut\u{202c} \u{2066}x\u{2069}"), Read);
    add("a part name with references to controls", named("Tuba &#x9;&#xA;&#xD;&#x85;&#x9b;31m"), Read);
    add("an empty part name", named(""), Ends);
    add("an id of 4,097 bytes", bar(NOTE).replace("'P1'", &format!("'{}'", "P".repeat(4097))), Limit("phrase"));
    add("a title of 4,097 bytes", bar(NOTE).replace("<part-list>", &format!("<movement-title>{}</movement-title><part-list>", "t".repeat(4097))), Limit("phrase"));
    add("an abbreviation of 4,097 bytes", part(&format!("<part-name>Tuba</part-name><part-abbreviation>{}</part-abbreviation>", "t".repeat(4097)), "<measure/>"), Limit("phrase"));
    add("words of 900,000 bytes", bar(&format!("<direction><direction-type><words>{}</words></direction-type></direction>{NOTE}", "rit. ".repeat(180_000))), Read);
    add("words of 4,096 bytes", bar(&format!("<direction><direction-type><words>{}</words></direction-type></direction>{NOTE}", "con sord. ".repeat(409))), Read);
    add("a measure number of 900,000 bytes", tuba(&format!("<measure number='{}'>{ATTRIBUTES}{}</measure>", "1".repeat(900_000), NOTE.replace(">2<", ">0<"))), Ends);
    add("a voice of 900,000 bytes", bar(&NOTE.replace("</note>", &format!("<voice>{}</voice></note>", "1".repeat(900_000)))), Ends);
    add("a step of 900,000 bytes", bar(&NOTE.replace(">D<", &format!(">{}<", "D".repeat(900_000)))), Around("no pitch that can be read"));
}

#[rustfmt::skip] // A table: a line a row.
fn settings(rows: &mut Vec<Row>) {
    let mut add = |made: &str, text: String, words: &'static str| {
        rows.push(Row { name: "lowbrass.toml", ..row("settings", made, move || text.clone().into(), Refused(words)) });
    };
    add("100 MB of comments", "# xxxxxxxx\n".repeat(size() / 11 + 110_000), "limit 'settings'");
    add("not UTF-8", "tempo = 90 # \u{fffd}".replace('\u{fffd}', "\0"), "lowbrass.toml");
    add("an infinite tempo", "tempo = inf".into(), "lowbrass.toml:1:9: tempo: expected");
    add("a tempo that is no number", "tempo = nan".into(), "lowbrass.toml:1:9: tempo: expected");
    add("a negative tempo", "tempo = -90".into(), "lowbrass.toml:1:9: tempo: expected");
    add("a huge tempo", "tempo = 1e308".into(), "lowbrass.toml:1:9: tempo: expected");
    add("a tiny tempo", "tempo = 1e-19".into(), "lowbrass.toml:1:9: tempo: expected");
    add("a tempo in words", "tempo = 'fast'".into(), "lowbrass.toml:1:9: tempo: expected a number");
    add("a number beyond 64 bits", "tempo = 99999999999999999999".into(), "lowbrass.toml:1:");
    add("an infinite breath", "breath = inf".into(), "lowbrass.toml:1:10: breath: expected");
    add("a breath of nothing", "breath = 0".into(), "lowbrass.toml:1:10: breath: expected");
    add("a huge breath", "breath = 1e300".into(), "lowbrass.toml:1:10: breath: expected");
    add("players below 0", "[[part]]\nname = 'x'\nplayers = -1".into(), "lowbrass.toml:3:11: part.players: expected");
    add("players beyond 255", "[[part]]\nname = 'x'\nplayers = 256".into(), "lowbrass.toml:3:11: part.players: expected");
    add("a key that is none", "tempos = 90".into(), "lowbrass.toml:1:1: no setting is called 'tempos'");
    add("a key twice", "tempo = 90\ntempo = 91".into(), "lowbrass.toml:2:1: ");
    add("tables inside each other", format!("a = {}{}", "[".repeat(5000), "]".repeat(5000)), "lowbrass.toml:1:");
    add("keys inside each other", format!("{} = 1", vec!["a"; 5000].join(".")), "lowbrass.toml:1:");
    add("a pattern that is none", "[[part]]\nname = '[a'".into(), "lowbrass.toml:2:8: part.name: ");
    add("a pattern of braces", format!("[[part]]\nname = '{}'", "{a,".repeat(1000)), "lowbrass.toml:2:8: part.name: ");
    add("a day that is none", "[[waive]]\nrule = 'out-of-range'\nbecause = 'x'\nuntil = 2027-02-30".into(), "lowbrass.toml:4:");
    add("bars that are none", "[[waive]]\nrule = 'out-of-range'\nbecause = 'x'\nbars = '9-1'".into(), "lowbrass.toml:4:8: waive.bars: ");
}

#[rustfmt::skip] // A table: a line a row.
fn profiles(rows: &mut Vec<Row>) {
    let whole = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/contrabass-tuba-c.toml")).unwrap();
    let mut add = |made: &str, text: String, words: &'static str| {
        rows.push(Row { name: "own/contrabass-tuba-c.toml", ..row("profile", made, move || text.clone().into(), Refused(words)) });
    };
    add("2 MB of comments", whole.clone() + &"# xxxxxxxx\n".repeat(190_000), "limit 'settings'");
    add("nothing", String::new(), "contrabass-tuba-c.toml:1:1: ");
    add("cut in half", whole[..whole.len() / 2].to_owned(), "contrabass-tuba-c.toml:");
    add("an unknown key", format!("colour = 'red'\n{whole}"), "contrabass-tuba-c.toml:1:1: ");
}

/// What came of a row, in words where it is not what must come.
fn fault(row: &Row) -> Option<String> {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join(".git")).unwrap();
    fs::create_dir(folder.path().join("own")).unwrap();
    fs::write(folder.path().join("score.musicxml"), bar(NOTE)).unwrap();
    fs::write(folder.path().join(row.name), (row.bytes)()).unwrap();
    let score = if Path::new(row.name).extension().is_some_and(|ending| ending == "toml") {
        "score.musicxml"
    } else {
        row.name
    };
    let mut command = Command::new("sh");
    // 2 GiB of address space, counted in KiB, and 10 seconds of each processor: how busy the machine is decides nothing.
    let seconds = 10 * threads();
    command.args(["-c", &format!("ulimit -v 2097152; ulimit -t {seconds}; exec \"$0\" \"$@\"")]);
    let program =
        std::env::var_os("LOWBRASS_HOSTILE_PROGRAM").unwrap_or_else(|| cargo_bin!("lowbrass").into());
    command.arg(program).args([
        "check",
        score,
        "--fix-octaves",
        "--min-level",
        "note",
        "--format",
        "json",
        "-q",
    ]);
    if row.name.starts_with("own/") {
        command.args(["--profiles", "own"]);
    }
    command.current_dir(folder.path()).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let begun = Instant::now();
    let mut child = command.spawn().unwrap();
    // A guard against what hangs without work.
    let patience = Duration::from_secs(120);
    let (out, err) = (read_all(child.stdout.take().unwrap()), read_all(child.stderr.take().unwrap()));
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > patience {
            child.kill().unwrap();
            child.wait().unwrap();
            return Some(format!("is not done in {patience:?}"));
        }
        std::thread::sleep(Duration::from_millis(5));
    };
    let (out, err) = (out.join().unwrap(), err.join().unwrap());
    if std::env::var_os("LOWBRASS_HOSTILE_SHOW").is_some() {
        println!(
            "{:>6.2} s  {}: {}  {} {}",
            begun.elapsed().as_secs_f64(),
            row.family,
            row.made,
            status,
            err.lines().next().unwrap_or_default()
        );
    }
    let told = || format!("{status}: {}", err.chars().take(400).collect::<String>());
    let Some(code) = status.code() else { return Some(told()) };
    if err.contains("panicked") || err.contains("please report") || !(0..=2).contains(&code) {
        return Some(told());
    }
    if err.chars().chain(out.chars()).any(|c| c.is_control() && c != '\n' || is_bidirectional(c)) {
        return Some(format!("control characters get through: {}", told()));
    }
    let left: Vec<_> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains("lowbrass-"))
        .collect();
    if !left.is_empty() {
        return Some(format!("{left:?} are left"));
    }
    let is_right = match row.outcome {
        Read => code < 2,
        Around(words) => {
            code < 2 && out.lines().any(|line| line.contains(words)) && out.contains("read-around")
        }
        Refused(words) => code == 2 && (err.contains(words) || is_large() && err.contains("(limit '")),
        // A large one may pass another limit first.
        Limit(name) => {
            code == 2
                && err.contains(&if is_large() { "(limit '".to_owned() } else { format!("(limit '{name}')") })
        }
        Ends => {
            code < 2
                || err.contains("(limit '")
                || err.contains("not well-formed")
                || err.contains("cannot be unpacked")
                || !err.is_empty()
        }
    };
    (!is_right).then(|| format!("must be {:?}: {}", row.outcome, told()))
}

fn is_large() -> bool {
    size() > 1_000_000
}

fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

fn is_bidirectional(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}')
}

fn read_all(mut from: impl std::io::Read + Send + 'static) -> std::thread::JoinHandle<String> {
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        from.read_to_end(&mut bytes).unwrap();
        String::from_utf8_lossy(&bytes).into_owned()
    })
}

#[test]
fn whatever_comes_is_read_or_refused_with_a_reason() {
    let only = std::env::var("LOWBRASS_HOSTILE_ONLY").unwrap_or_default();
    let rows = table();
    assert!(rows.len() >= 250, "{} rows", rows.len());
    let rows: Vec<Row> =
        rows.into_iter().filter(|row| format!("{}: {}", row.family, row.made).contains(&only)).collect();
    let (next, wrong) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let threads = if is_large() { 1 } else { threads() };
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some(row) = rows.get(next.fetch_add(1, Ordering::Relaxed)) {
                    if let Some(fault) = fault(row) {
                        wrong.lock().unwrap().push(format!("{}: {}: {fault}", row.family, row.made));
                    }
                }
            });
        }
    });
    let wrong = wrong.into_inner().unwrap();
    assert!(wrong.is_empty(), "{} of {} rows:\n{}", wrong.len(), rows.len(), wrong.join("\n"));
}

/// What steers a terminal or turns a line around, wherever a score has a text that a report may show.
#[test]
fn no_format_shows_what_steers() {
    let steering = "\u{9b}31m\u{85}\u{202e}\u{2066}\u{200f}\u{2028}\u{feff}x";
    let low = NOTE.replace(">2<", ">0<");
    let words = format!(
        "<direction><direction-type><words>con sord. {steering}</words></direction-type></direction>"
    );
    let score = format!(
        "<score-partwise><work><work-title>Fog {steering}</work-title></work><part-list><part-group type='start'><group-name>{steering}\
         </group-name></part-group><score-part id='P{steering}'><part-name>Tuba {steering}</part-name><part-abbreviation>T{steering}\
         </part-abbreviation><score-instrument id='I{steering}'><instrument-name>Tuba {steering}</instrument-name></score-instrument>\
         </score-part></part-list><part id='P{steering}'><measure number='1{steering}'>{ATTRIBUTES}{words}{low}\
         <note><pitch><step>{steering}</step><octave>2</octave></pitch><duration>4</duration><voice>{steering}</voice></note>\
         <sound tempo='{steering}'/></measure></part></score-partwise>"
    );
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join(".git")).unwrap();
    fs::write(folder.path().join("score.musicxml"), score).unwrap();
    fs::write(folder.path().join("b\u{202e}ad\u{9b}.musicxml"), "<score-partwise>").unwrap();
    let formats = ["text", "json", "sarif", "junit", "github", "markdown", "csv", "html"];
    let checks = formats.map(|format| vec!["check", ".", "--format", format, "--min-level", "note", "--all"]);
    let others = ["notes", "breaths", "instruments"].map(|command| vec![command, "score.musicxml"]);
    for arguments in checks.into_iter().chain(others).chain([vec!["check", ".", "--diff"]]) {
        let done = Command::new(cargo_bin!("lowbrass"))
            .args(&arguments)
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert!(
            !done.stdout.is_empty(),
            "{arguments:?} says nothing: {}",
            String::from_utf8_lossy(&done.stderr)
        );
        for (stream, bytes) in [("output", done.stdout), ("error", done.stderr)] {
            let text = String::from_utf8(bytes).unwrap();
            let found = text
                .char_indices()
                .find(|(_, c)| !matches!(c, '\n' | '\r' | '\t') && lowbrass::printable::steers(*c));
            assert_eq!(
                found.map(|(at, c)| (c, text[at..].chars().take(40).collect::<String>())),
                None,
                "{arguments:?}, {stream}"
            );
        }
    }
}
