//! Files as they lie on disk: plain XML, or a zip archive (`.mxl`) that holds it.
//!
//! In go bytes, out comes the decoded text of the score and what is needed to write the file again. In an
//! archive the first `rootfile` of `META-INF/container.xml` counts, found by its exact name; writing
//! copies every other member as it is stored. A text that did not change gives the very bytes that were read.
//!
//! Two programs pack the same text into different bytes. A copy that is to lead back to its source therefore
//! carries the source whole, as one more member that no other program looks at ([`KEPT`]).

use std::io::{Cursor, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::ReadError;
use super::encoding::Coding;
use super::xml::{self, ParseError};
use crate::intake::{self, IntakeError, Limit};

const CONTAINER: &str = "META-INF/container.xml";

/// The member of a copy that holds the file it was made from.
pub(super) const KEPT: &str = "META-INF/lowbrass-source";

/// A file taken apart.
#[derive(Debug)]
pub(super) struct Opened {
    /// The score's text.
    pub(super) text: String,
    pub(super) packing: Packing,
}

/// What is needed to write the file again around a changed text.
#[derive(Debug)]
pub(super) struct Packing {
    coding: Coding,
    /// The score's own bytes where they are not simply the text.
    encoded: Option<Vec<u8>>,
    archive: Option<Archive>,
}

#[derive(Debug)]
struct Archive {
    bytes: Vec<u8>,
    /// Index of the member that holds the score.
    member: usize,
}

/// Takes a file apart.
pub(super) fn open(bytes: Vec<u8>) -> Result<Opened, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    intake::FILE.admit(bytes.len() as u64)?;
    if bytes.starts_with(b"PK") {
        let (score, member) = unpack(&bytes)?;
        return decoded(score, Some(Archive { bytes, member }));
    }
    decoded(bytes, None)
}

impl Packing {
    /// The whole file with another text in it.
    ///
    /// # Errors
    ///
    /// [`PackError`]: the text does not exist in the file's encoding, or even the unchanged text would not
    /// come out as the bytes it was read from.
    pub(super) fn pack(&self, original: &str, edited: &str) -> Result<Vec<u8>, PackError> {
        if let Some(archive) = &self.archive
            && original == edited
        {
            return Ok(archive.bytes.clone());
        }
        self.write(original, edited, Kept::AsItIs)
    }

    /// As [`pack`](Self::pack); an archive carries `source` besides, for [`back_to`](Self::back_to) to find.
    pub(super) fn pack_with_source(
        &self,
        original: &str,
        edited: &str,
        source: &[u8],
    ) -> Result<Vec<u8>, PackError> {
        self.write(original, edited, Kept::Source(source))
    }

    /// The file this was made from, where it is carried and has this text and the same other members;
    /// else this file with that text, and nothing carried.
    pub(super) fn back_to(&self, original: &str, text: &str) -> Result<Vec<u8>, PackError> {
        match self.archive.as_ref().map(|archive| (archive, archive.kept())) {
            Some((archive, Some(source))) if archive.came_from(&source, text) => Ok(source),
            Some((_, Some(_))) => self.write(original, text, Kept::Nothing),
            _ => self.pack(original, text),
        }
    }

    fn write(&self, original: &str, edited: &str, kept: Kept<'_>) -> Result<Vec<u8>, PackError> {
        if let Some(encoded) = &self.encoded {
            if original == edited && self.archive.is_none() {
                return Ok(encoded.clone());
            }
            if self.coding.encode(original).as_deref() != Some(encoded) {
                return Err(PackError::NotReversible(self.coding.encoding.name()));
            }
        }
        let score =
            self.coding.encode(edited).ok_or(PackError::NoSuchCharacter(self.coding.encoding.name()))?;
        match &self.archive {
            None => Ok(score),
            Some(archive) => {
                archive.with(&score, kept).map_err(|error| PackError::Archive(error.to_string()))
            }
        }
    }
}

/// What becomes of the member [`KEPT`].
#[derive(Clone, Copy)]
enum Kept<'a> {
    AsItIs,
    Source(&'a [u8]),
    Nothing,
}

/// Why a file cannot be written again.
pub(super) enum PackError {
    NotReversible(&'static str),
    NoSuchCharacter(&'static str),
    Archive(String),
}

impl Archive {
    /// The archive with another score in it; the members' order, methods, dates and comments stay.
    fn with(&self, score: &[u8], kept: Kept<'_>) -> zip::result::ZipResult<Vec<u8>> {
        let mut source = ZipArchive::new(Cursor::new(self.bytes.as_slice()))?;
        let mut copy = ZipWriter::new(Cursor::new(Vec::with_capacity(self.bytes.len())));
        for index in 0..source.len() {
            let member = source.by_index_raw(index)?;
            if index == self.member {
                copy.start_file(member.name()?, member.options())?;
                copy.write_all(score)?;
            } else if matches!(kept, Kept::AsItIs) || member.name()? != KEPT {
                copy.raw_copy_file(member)?;
            }
        }
        if let Kept::Source(source) = kept {
            // It is packed already. Without a date, since output has no clock in it.
            let options = SimpleFileOptions::default()
                .compression_method(CompressionMethod::Stored)
                .last_modified_time(zip::DateTime::default());
            copy.start_file(KEPT, options)?;
            copy.write_all(source)?;
        }
        copy.set_raw_comment(source.comment().into())?;
        Ok(copy.finish()?.into_inner())
    }

    /// The file that is carried.
    fn kept(&self) -> Option<Vec<u8>> {
        let mut archive = ZipArchive::new(Cursor::new(self.bytes.as_slice())).ok()?;
        let kept = archive.index_for_name(KEPT)?;
        member(&mut archive, kept, intake::FILE).ok()
    }

    /// Whether this was made from a file by changes to its score alone, and these are now undone.
    fn came_from(&self, source: &[u8], text: &str) -> bool {
        let same_text = || open(source.to_vec()).is_ok_and(|opened| opened.text == text);
        match (members(&self.bytes), members(source)) {
            (Some(here), Some(there)) => {
                let score = here.get(self.member).map(|(name, _)| name.clone());
                let others = |members: Vec<(String, (u32, u64))>| -> Vec<(String, (u32, u64))> {
                    let is_other = |name: &String| name != KEPT && Some(name) != score.as_ref();
                    members.into_iter().filter(|(name, _)| is_other(name)).collect()
                };
                others(here) == others(there) && same_text()
            }
            _ => false,
        }
    }
}

/// Name, checksum and size of each member.
fn members(bytes: &[u8]) -> Option<Vec<(String, (u32, u64))>> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    (0..archive.len())
        .map(|index| {
            let member = archive.by_index_raw(index).ok()?;
            Some((member.name().ok()?.into_owned(), (member.crc32(), member.size())))
        })
        .collect()
}

fn decoded(bytes: Vec<u8>, archive: Option<Archive>) -> Result<Opened, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    let coding = Coding::of(&bytes)?;
    if !coding.begins_with_markup(&bytes) {
        return Err(ReadError::NotXml);
    }
    let encoded = (coding.encoding != encoding_rs::UTF_8).then(|| bytes.clone());
    let text = coding.decode(bytes)?;
    intake::TEXT.admit(text.len() as u64)?;
    Ok(Opened { text, packing: Packing { coding, encoded, archive } })
}

/// The bytes of the score in an archive, and the index of its member.
fn unpack(bytes: &[u8]) -> Result<(Vec<u8>, usize), ReadError> {
    let damaged = |error: zip::result::ZipError| ReadError::Archive(error.to_string());
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(damaged)?;
    intake::MEMBERS.admit(archive.len() as u64)?;
    let container = archive.index_for_name(CONTAINER).ok_or(ReadError::NoContainer)?;
    let container = member(&mut archive, container, intake::CONTAINER)?;
    let rootfile = rootfile(&container)?;
    let score = archive.index_for_name(&rootfile).ok_or(ReadError::NoMember(rootfile))?;
    Ok((member(&mut archive, score, intake::TEXT)?, score))
}

/// A member's bytes, refused as soon as they pass a limit, whatever size the archive declares.
fn member(archive: &mut ZipArchive<Cursor<&[u8]>>, index: usize, limit: Limit) -> Result<Vec<u8>, ReadError> {
    let file = archive.by_index(index).map_err(|error| ReadError::Archive(error.to_string()))?;
    intake::bytes(file, limit).map_err(|error| match error {
        IntakeError::Exceeded(exceeded) => exceeded.into(),
        other => ReadError::Archive(other.to_string()),
    })
}

/// The path of the first `rootfile`.
fn rootfile(container: &[u8]) -> Result<String, ReadError> {
    let text = Coding::of(container)?.decode(container.to_vec())?;
    let document = xml::parse(&text).map_err(|error| match error {
        ParseError::Exceeded(exceeded) => exceeded.into(),
        ParseError::Malformed(error) => ReadError::Container(xml::message(&error, &text)),
    })?;
    document
        .descendants()
        .find(|node| node.tag_name().name() == "rootfile")
        .and_then(|node| node.attribute("full-path"))
        .map(str::to_owned)
        .ok_or(ReadError::NoRootfile)
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use super::*;

    fn container(path: &str) -> String {
        format!(
            "<container><rootfiles><rootfile full-path=\"{path}\"/><rootfile full-path=\"b\"/></rootfiles></container>"
        )
    }

    fn archive(members: &[(&str, &[u8])]) -> Vec<u8> {
        let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
        for (index, (name, bytes)) in members.iter().enumerate() {
            let method = if index % 2 == 0 { CompressionMethod::Stored } else { CompressionMethod::Deflated };
            writer.start_file(*name, SimpleFileOptions::default().compression_method(method)).unwrap();
            writer.write_all(bytes).unwrap();
        }
        writer.set_comment("kept").unwrap();
        writer.finish().unwrap().into_inner()
    }

    #[test]
    fn the_first_rootfile_counts_and_a_decoy_does_not() {
        let bytes = archive(&[
            ("mimetype", b"application/vnd.recordare.musicxml"),
            ("decoy.xml", b"<decoy/>"),
            (CONTAINER, container("music/score.xml").as_bytes()),
            ("music/score.xml", b"<score/>"),
        ]);
        assert_eq!(open(bytes).unwrap().text, "<score/>");
    }

    #[test]
    fn another_score_leaves_every_other_member_as_it_was_stored() {
        let bytes = archive(&[
            ("mimetype", b"application/vnd.recordare.musicxml"),
            (CONTAINER, container("s.xml").as_bytes()),
            ("picture.png", b"not a score"),
            ("s.xml", b"\xFF\xFE<\0a\0/\0>\0"),
            ("last", b"z"),
        ]);
        let opened = open(bytes.clone()).unwrap();
        let Ok(copy) = opened.packing.pack(&opened.text, "<b/>") else { panic!("was not written") };
        let mut before = ZipArchive::new(Cursor::new(bytes)).unwrap();
        let mut after = ZipArchive::new(Cursor::new(copy)).unwrap();
        assert_eq!(after.comment(), b"kept");
        assert_eq!(before.len(), after.len());
        for index in 0..before.len() {
            let (mut old, mut new) =
                (before.by_index_raw(index).unwrap(), after.by_index_raw(index).unwrap());
            assert_eq!(old.name().unwrap(), new.name().unwrap());
            assert_eq!(old.compression(), new.compression());
            assert_eq!(old.last_modified(), new.last_modified());
            let (mut was, mut is) = (Vec::new(), Vec::new());
            old.read_to_end(&mut was).unwrap();
            new.read_to_end(&mut is).unwrap();
            assert_eq!(was == is, index != 3);
        }
        let mut score = Vec::new();
        after.by_name("s.xml").unwrap().read_to_end(&mut score).unwrap();
        assert_eq!(score, b"\xFF\xFE<\0b\0/\0>\0");
    }

    #[test]
    fn what_is_wrong_with_an_archive_is_said() {
        assert!(matches!(open(b"PK\x03\x04 not really".to_vec()), Err(ReadError::Archive(_))));
        assert!(matches!(open(archive(&[("a", b"b")])), Err(ReadError::NoContainer)));
        assert!(matches!(open(archive(&[(CONTAINER, b"<container/>")])), Err(ReadError::NoRootfile)));
        assert!(matches!(open(archive(&[(CONTAINER, b"<container>")])), Err(ReadError::Container(_))));
        let gone = open(archive(&[(CONTAINER, container("Score.xml").as_bytes()), ("score.xml", b"<a/>")]));
        assert!(matches!(gone, Err(ReadError::NoMember(name)) if name == "Score.xml"));
        assert!(matches!(open(Vec::new()), Err(ReadError::Empty)));
    }

    #[test]
    fn a_member_that_unpacks_past_the_limit_is_refused() {
        let bytes = archive(&[("x", b""), ("bomb", &vec![b' '; 3 << 20])]);
        assert!(bytes.len() < 100_000);
        let mut archive = ZipArchive::new(Cursor::new(bytes.as_slice())).unwrap();
        let refused = member(&mut archive, 1, intake::CONTAINER);
        assert!(matches!(refused, Err(ReadError::Exceeded(exceeded)) if exceeded.limit == intake::CONTAINER));
    }
}
