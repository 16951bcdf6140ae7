//! Any bytes as a compressed score: the archive itself, or, where they are none, the list of contents and the score in a sound
//! one. What can be read is written again, with every other member as it was.
#![no_main]

use std::io::{Cursor, Write as _};

use libfuzzer_sys::fuzz_target;
use lowbrass::musicxml::{Document, Edit};
use zip::write::SimpleFileOptions;

fuzz_target!(|bytes: &[u8]| {
    let archive = if bytes.starts_with(b"PK") { bytes.to_vec() } else { packed(bytes) };
    let Ok(document) = Document::open(archive.clone()) else { return };
    assert!(document.with_edits(Vec::new()).is_ok_and(|same| same == archive));
    let end = document.text().len();
    let Ok(copy) = document.with_edits(vec![Edit { range: end..end, with: "<!-- x -->".to_owned() }]) else { return };
    let again = Document::open(copy).expect("a copy can be opened as its source was");
    assert_eq!(again.text(), format!("{}<!-- x -->", document.text()));
    let _ = again.read(&|infos| vec![true; infos.len()]);
});

/// What stands before the first zero is the list of contents, what stands behind it the score.
fn packed(bytes: &[u8]) -> Vec<u8> {
    let cut = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
    let (list, score) = (&bytes[..cut], bytes.get(cut + 1..).unwrap_or_default());
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in [("META-INF/container.xml", list), ("score.xml", score), ("other", b"kept".as_slice())] {
        archive.start_file(name, SimpleFileOptions::default()).expect("a member");
        archive.write_all(content).expect("a member");
    }
    archive.finish().expect("an archive").into_inner()
}
