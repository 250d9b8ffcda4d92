//! A certificate file's skeleton: one plain cross-reference table, one trailer, objects that
//! follow each other without a gap (ISO 32000-1, 7.5).

use std::ops::Range;

use super::error::PdfError;
use super::gap::positions;
use super::object::Item;
use super::object::Parser;

/// Most objects of a file.
const MOST_OBJECTS: u64 = 1_000_000;

/// The first bytes of every file: the version, and four high bytes that mark it as binary.
const HEADER: &[u8] = b"%PDF-1.7\n%\xbb\xad\xc0\xde\n";

/// The error for a file that is built otherwise.
pub(super) fn structure(detail: impl Into<String>) -> PdfError {
    PdfError::Structure { detail: detail.into() }
}

/// The file's cross-reference table and trailer.
pub(super) struct File<'b> {
    pub(super) bytes: &'b [u8],
    /// Where each object begins, from object 1; then where the table begins.
    offsets: Vec<usize>,
    pub(super) trailer: Item,
}

impl<'b> File<'b> {
    /// Reads the table and the trailer, and checks that they account for every byte.
    ///
    /// # Errors
    /// [`PdfError::Revisions`], [`PdfError::Structure`].
    pub(super) fn open(bytes: &'b [u8]) -> Result<File<'b>, PdfError> {
        // The word is followed by digits in the file itself; packed streams hold it once in more
        // files than anyone will ever issue.
        let revisions = positions(bytes, b"\nstartxref\n").take(100).count();
        if revisions > 1 {
            return Err(PdfError::Revisions { count: revisions });
        }
        let at = positions(bytes, b"\nstartxref\n").next().ok_or_else(|| structure("no startxref"))?;
        let mut parser = Parser::new(bytes, at..bytes.len());
        let table = parser
            .take(b"\nstartxref\n")
            .and_then(|()| parser.integer())
            .and_then(|n| usize::try_from(n).ok())
            .ok_or_else(|| structure("startxref has no number"))?;
        if parser.take(b"\n%%EOF").is_none() || parser.at() != bytes.len() {
            return Err(structure("something other than %%EOF follows startxref"));
        }

        let mut parser = Parser::new(bytes, table..at);
        let count = parser
            .take(b"xref\n0 ")
            .and_then(|()| parser.integer())
            .filter(|count| (2..=MOST_OBJECTS).contains(count))
            .ok_or_else(|| structure("no plain cross-reference table where startxref points"))?;
        parser.take(b"\n").ok_or_else(|| structure("the cross-reference table is malformed"))?;
        let mut offsets = Vec::new();
        for index in 0..count {
            let entry = entry(&mut parser, index)
                .ok_or_else(|| structure(format!("entry {index} of the table is malformed")))?;
            if index > 0 {
                offsets.push(entry);
            }
        }
        let trailer = parser
            .take(b"trailer\n")
            .and_then(|()| parser.item(0))
            .filter(|_| parser.at() == at)
            .ok_or_else(|| structure("the trailer is malformed"))?;
        if trailer.get("Prev").is_some() || trailer.get("XRefStm").is_some() {
            return Err(structure("the trailer refers to another revision"));
        }
        if trailer.get("Encrypt").is_some() {
            return Err(structure("the file is encrypted"));
        }
        // Objects must follow each other without room between them for anything unlisted.
        offsets.push(table);
        if offsets.first() != Some(&HEADER.len()) || !bytes.starts_with(HEADER) {
            return Err(structure("the first object does not follow the header"));
        }
        if offsets.windows(2).any(|pair| matches!(pair, [one, two] if one >= two)) {
            return Err(structure("the objects are not in order"));
        }
        let file = File { bytes, offsets, trailer };
        file.check_seams()?;
        Ok(file)
    }

    /// Each object must end right where the next begins.
    fn check_seams(&self) -> Result<(), PdfError> {
        for (index, place) in self.offsets.iter().enumerate().skip(1) {
            let part = self.bytes.get(..*place).unwrap_or_default();
            if !part.ends_with(b"\nendobj\n") {
                return Err(structure(format!("object {index} does not end where the next begins")));
            }
        }
        Ok(())
    }

    /// An object and the bytes it takes.
    ///
    /// # Errors
    /// [`PdfError::Structure`] when there is none of that number, or it is malformed.
    pub(super) fn object(&self, number: u64) -> Result<(Range<usize>, Item), PdfError> {
        let fault = || structure(format!("object {number} cannot be read"));
        let index = usize::try_from(number).ok().and_then(|n| n.checked_sub(1)).ok_or_else(fault)?;
        let start = *self.offsets.get(index).ok_or_else(fault)?;
        let end = *self.offsets.get(index.saturating_add(1)).ok_or_else(fault)?;
        let mut parser = Parser::new(self.bytes, start..end);
        let item = parser.indirect(number).ok_or_else(fault)?;
        let whole = match &item {
            Item::Stream(_, at) => {
                let length = item.get("Length").and_then(Item::number).ok_or_else(fault)?;
                let stop = at.checked_add(length).ok_or_else(fault)?;
                self.bytes.get(stop..end).is_some_and(|rest| rest == b"\nendstream \nendobj\n")
            }
            _ => {
                let rest = self.bytes.get(parser.at()..end).unwrap_or_default();
                rest == b"\nendobj\n" || rest == b" \nendobj\n"
            }
        };
        if whole { Ok((start..end, item)) } else { Err(fault()) }
    }

    /// A member that is itself, or refers to, an object.
    pub(super) fn member(&self, item: &Item, key: &str) -> Result<Item, PdfError> {
        match item.get(key) {
            Some(Item::Reference(number)) => Ok(self.object(*number)?.1),
            Some(other) => Ok(other.clone()),
            None => Err(structure(format!("no {key}"))),
        }
    }

    /// The only element of a list.
    pub(super) fn only(&self, item: &Item, key: &str) -> Result<u64, PdfError> {
        match self.member(item, key)? {
            Item::List(list) => match list.as_slice() {
                [Item::Reference(number)] => Ok(*number),
                _ => Err(structure(format!("{key} lists {} things, expected one", list.len()))),
            },
            _ => Err(structure(format!("{key} is no list"))),
        }
    }
}

/// One line of the table: `0000000015 00000 n `.
fn entry(parser: &mut Parser<'_>, index: u64) -> Option<usize> {
    let mut place = 0usize;
    for _ in 0..10 {
        let digit = (b'0'..=b'9').find(|digit| parser.take(&[*digit]).is_some())?;
        place = place.checked_mul(10)?.checked_add(usize::from(digit.checked_sub(b'0')?))?;
    }
    let rest: &[u8] = if index == 0 { b" 65535 f \n" } else { b" 00000 n \n" };
    parser.take(rest)?;
    Some(place)
}
