//! The ZIP archive around an X3P file, with limits on what it may unpack to.

use std::fmt::Write as _;
use std::io::Cursor;
use std::io::Read;
use std::ops::RangeInclusive;

use md5::Digest;
use md5::Md5;
use zip::ZipArchive;
use zip::read::ArchiveOffset;
use zip::read::Config;

use super::super::number::cut;
use super::super::number::shown;
use super::LARGEST_MEMBER;
use super::error::X3pError;

/// Most members of an archive. Our own limit.
const MOST_MEMBERS: u64 = 256;

/// Bytes of the record at the end of an archive, without its comment (the published ZIP application note).
const END: usize = 22;

/// An archive whose directory was found sound.
pub(super) struct Archive<'b>(ZipArchive<Cursor<&'b [u8]>>);

/// What was unpacked.
#[derive(Debug)]
pub(super) struct Unpacked {
    /// The bytes that were wanted.
    pub bytes: Vec<u8>,
    /// All bytes of the member.
    pub size: u64,
    /// MD5 of all bytes, hexadecimal.
    pub md5: String,
}

impl<'b> Archive<'b> {
    /// Opens an archive that is nothing but one: its directory ends where the last record begins.
    ///
    /// The record is looked at beforehand, so that a forged count of members or an earlier directory, which
    /// the reader would fall back to, cannot ask for memory.
    pub fn open(bytes: &'b [u8]) -> Result<Self, X3pError> {
        let not = |why: &str| X3pError::NotZip(why.to_owned());
        let tail = bytes.get(bytes.len().saturating_sub(END + 65_535)..).unwrap_or_default();
        let at =
            tail.windows(4).rposition(|w| w == b"PK\x05\x06").ok_or_else(|| not("it has no end record"))?;
        let end = tail.get(at..).unwrap_or_default();
        let at = bytes.len().saturating_sub(end.len()) as u64;
        let word = |at: usize, n: usize| {
            let bytes = end.get(at..at + n).unwrap_or_default();
            bytes.iter().rev().fold(0_u64, |sum, b| (sum << 8) | u64::from(*b))
        };
        if end.len() as u64 != END as u64 + word(20, 2) {
            return Err(not("its end record does not end with the file"));
        }
        if word(12, 4) + word(16, 4) != at {
            return Err(not("its directory does not end before its end record"));
        }
        if word(4, 4) != 0 || word(8, 2) != word(10, 2) || word(10, 2) > MOST_MEMBERS {
            return Err(not("it has more than 256 members, or parts elsewhere"));
        }
        let before = usize::try_from(at.saturating_sub(20)).unwrap_or(usize::MAX);
        if bytes.get(before..).is_some_and(|b| b.starts_with(b"PK\x06\x07")) {
            return Err(not("it is of the kind for more than 4 GiB"));
        }
        let config = Config { archive_offset: ArchiveOffset::Known(0) };
        let zip = ZipArchive::with_config(config, Cursor::new(bytes))
            .map_err(|error| X3pError::NotZip(cut(&error.to_string(), 120)))?;
        if zip.has_duplicate_names() {
            return Err(not("two members have one name"));
        }
        Ok(Archive(zip))
    }

    /// A whole member, of at most `limit` bytes.
    pub fn all(&mut self, name: &str, limit: u64) -> Result<Unpacked, X3pError> {
        let unpacked = self.part(name, limit, 0..=limit)?;
        if unpacked.size > limit {
            return Err(X3pError::TooLarge { what: format!("`{name}`"), limit });
        }
        Ok(unpacked)
    }

    /// The bytes of a member within a range; the rest is unpacked for its checksum and not kept. Stops one
    /// byte after `limit`, whatever the archive states.
    pub fn part(&mut self, name: &str, limit: u64, range: RangeInclusive<u64>) -> Result<Unpacked, X3pError> {
        if limit > LARGEST_MEMBER {
            return Err(X3pError::TooLarge { what: format!("`{name}`"), limit: LARGEST_MEMBER });
        }
        let Some(index) = self.0.index_for_name(name) else { return Err(self.missing(name)) };
        let unpack = |why: String| X3pError::Unpack { name: shown(name), why: cut(&why, 120) };
        let file = self.0.by_index(index).map_err(|error| unpack(error.to_string()))?;
        let mut file = file.take(limit.saturating_add(1));
        let (mut md5, mut size, mut bytes) = (Md5::new(), 0_u64, Vec::new());
        let mut chunk = vec![0_u8; 65_536];
        loop {
            let count = file.read(&mut chunk).map_err(|error| unpack(error.to_string()))?;
            let Some(read) = chunk.get(..count).filter(|read| !read.is_empty()) else { break };
            md5.update(read);
            let from = usize::try_from(range.start().saturating_sub(size)).unwrap_or(usize::MAX).min(count);
            let to = range.end().saturating_add(1).saturating_sub(size);
            let to = usize::try_from(to).unwrap_or(usize::MAX).min(count);
            bytes.extend_from_slice(read.get(from..to).unwrap_or_default());
            size = size.saturating_add(count as u64);
        }
        let mut hex = String::new();
        for byte in md5.finalize() {
            // Writing to a string cannot fail.
            let _ = write!(hex, "{byte:02x}");
        }
        Ok(Unpacked { bytes, size, md5: hex })
    }

    /// That a member is not there, and where one of its name is.
    fn missing(&self, name: &str) -> X3pError {
        let ending = format!("/{name}");
        let mut names = self.0.file_names().filter_map(Result::ok);
        let near = names.find(|n| n.ends_with(&ending)).map(|n| shown(&n));
        X3pError::NoMember { name: shown(name), near }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    use super::*;

    /// However much a member unpacks to, reading ends one byte after the limit, and no more is kept than is
    /// wanted.
    #[test]
    fn reading_ends_after_the_limit() {
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        zip.start_file("a", SimpleFileOptions::default()).unwrap();
        zip.write_all(&[7; 1_000_000]).unwrap();
        let bytes = zip.finish().unwrap().into_inner();
        let mut archive = Archive::open(&bytes).unwrap();
        let part = archive.part("a", 100_000, 65_530..=65_541).unwrap();
        assert_eq!((part.size, part.bytes), (100_001, vec![7; 12]));
    }
}
