//! Reading a sealed certificate back, trusting nothing.
//!
//! A certificate is one revision with a plain cross-reference table, one seal over the whole
//! file and one attachment. Anything else is refused by name: many ways to alter a sealed PDF
//! leave its signature valid to ordinary viewers, and each of them breaks one of these rules.

use std::ops::Range;

use lopdf::Dictionary;
use lopdf::Object;
use lopdf::Stream;

use super::error::PdfError;
use super::file::File;
use super::file::structure;
use super::gap::positions;
use super::object::Item;
use super::object::Parser;
use super::subset::HEXADECIMAL;

/// Largest file that is read.
const MOST_BYTES: usize = 64 << 20;
/// The filter of packed streams (ISO 32000-1, 7.4.4).
const FLATE: &str = "FlateDecode";
/// Largest data that are unpacked.
const MOST_DATA: usize = 32 << 20;

/// A sealed certificate, taken apart. Nothing in it has been verified but its form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    /// The signed range as the file states it: it covers all but `<...>` of the seal.
    pub byte_range: [usize; 4],
    /// Where the seal's hexadecimal digits are.
    pub contents_hex: Range<usize>,
    /// The seal's bytes with the zeros that fill its room.
    pub der: Vec<u8>,
    /// The attached data, unpacked.
    pub attachment: Vec<u8>,
    /// The attachment's file name.
    pub attachment_name: String,
    /// Whose seal the file claims it is.
    pub claimed_signer: String,
    /// When the file claims it was sealed, as `D:20261125162031-05'00'`.
    pub claimed_time: String,
    /// Why, where, and how to reach the signer, as the file claims; empty when it does not.
    pub claimed_reason: String,
    /// See [`Sealed::claimed_reason`].
    pub claimed_location: String,
    /// See [`Sealed::claimed_reason`].
    pub claimed_contact: String,
    /// Revisions of the file: always 1, others are refused.
    pub revisions: usize,
}

/// Takes a sealed certificate apart.
///
/// # Errors
/// A [`PdfError`] that names what is unlike a sealed certificate: not a PDF, no seal or several,
/// bytes after the end, a range that leaves something out, other revisions, no data.
pub fn read_sealed(bytes: &[u8]) -> Result<Sealed, PdfError> {
    if bytes.len() > MOST_BYTES {
        return Err(PdfError::TooLarge { found: bytes.len(), most: MOST_BYTES });
    }
    if !bytes.starts_with(b"%PDF-1.7\n") {
        let start: String = bytes.iter().take(9).map(|b| b.escape_ascii().to_string()).collect();
        return Err(PdfError::NotPdf {
            detail: format!("it begins with \"{start}\", expected \"%PDF-1.7\""),
        });
    }
    let range_at = the_seal(bytes)?;
    let (byte_range, contents_hex) = signed_range(bytes, range_at)?;
    let der = unhex(bytes.get(contents_hex.clone()).unwrap_or_default())?;
    let file = File::open(bytes)?;
    let root = file.member(&file.trailer, "Root")?;

    let seal = file.the_field(&root, range_at)?;
    let claimed = |key: &str| seal.get(key).and_then(Item::words).unwrap_or_default();
    let (attachment_name, attachment) = file.attachment(&root)?;
    Ok(Sealed {
        byte_range,
        contents_hex,
        der,
        attachment,
        attachment_name,
        claimed_signer: claimed("Name"),
        claimed_time: claimed("M"),
        claimed_reason: claimed("Reason"),
        claimed_location: claimed("Location"),
        claimed_contact: claimed("ContactInfo"),
        revisions: 1,
    })
}

/// Where the one `/ByteRange` is. Texts are hexadecimal in these files and streams are packed,
/// so the word cannot come from the data.
fn the_seal(bytes: &[u8]) -> Result<usize, PdfError> {
    let found: Vec<usize> = positions(bytes, b"/ByteRange").take(100).collect();
    match found.as_slice() {
        [] => Err(PdfError::NoSeal),
        [one] => Ok(*one),
        // The first seal may be whole and another appended after it: say that first.
        [first, more @ ..] => {
            signed_range(bytes, *first)?;
            Err(PdfError::SeveralSeals { count: more.len().saturating_add(1) })
        }
    }
}

/// The range as stated and the place of the digits, if it covers all but them.
fn signed_range(bytes: &[u8], at: usize) -> Result<([usize; 4], Range<usize>), PdfError> {
    let off = |detail: String| PdfError::NotWhole { detail };
    let mut parser = Parser::new(bytes, at..bytes.len());
    let stated = parser.take(b"/ByteRange[").and_then(|()| {
        let mut numbers = [0usize; 4];
        for (index, number) in numbers.iter_mut().enumerate() {
            if index > 0 {
                parser.take(b" ")?;
            }
            *number = parser.integer().and_then(|n| usize::try_from(n).ok())?;
        }
        parser.take(b"]")?;
        Some(numbers)
    });
    let Some(range @ [start, before, after, tail]) = stated else {
        return Err(off("its range is not four whole numbers".to_owned()));
    };
    while parser.take(b" ").is_some() {}
    if parser.take(b"/Contents<").is_none() {
        return Err(off("its bytes do not follow its range".to_owned()));
    }
    let first = parser.at();
    let digits = bytes.get(first..).unwrap_or_default().iter().take_while(|b| **b != b'>').count();
    let last = first.saturating_add(digits);
    if bytes.get(last) != Some(&b'>') {
        return Err(off("its bytes have no end".to_owned()));
    }
    if start != 0 || before.checked_add(1) != Some(first) || last.checked_add(1) != Some(after) {
        return Err(off(format!(
            "it leaves out bytes {before} to {after} where its own stand at {} to {}",
            first.saturating_sub(1),
            last.saturating_add(1)
        )));
    }
    let Some(covered) = after.checked_add(tail) else {
        return Err(off("its range overflows".to_owned()));
    };
    if covered < bytes.len() {
        return Err(PdfError::Appended { bytes: bytes.len().saturating_sub(covered) });
    }
    if covered > bytes.len() {
        let missing = covered.saturating_sub(bytes.len());
        return Err(off(format!("the file ends {missing} bytes before the range does")));
    }
    Ok((range, first..last))
}

fn unhex(digits: &[u8]) -> Result<Vec<u8>, PdfError> {
    if digits.is_empty() || !digits.len().is_multiple_of(2) {
        return Err(PdfError::Hex { detail: format!("{} digits", digits.len()) });
    }
    if let Some(bad) = digits.iter().find(|b| !matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        return Err(PdfError::Hex { detail: format!("found \"{}\"", bad.escape_ascii()) });
    }
    hex::decode(digits).map_err(|e| PdfError::Hex { detail: e.to_string() })
}

impl File<'_> {
    /// The seal's dictionary, reached as viewers reach it, and the same as the one whose range
    /// was read.
    fn the_field(&self, root: &Item, range_at: usize) -> Result<Item, PdfError> {
        let form = self.member(root, "AcroForm")?;
        let (_, field) = self.object(self.only(&form, "Fields")?)?;
        let Some(Item::Reference(value)) = field.get("V") else {
            return Err(structure("the seal's field holds no seal"));
        };
        let (part, seal) = self.object(*value)?;
        if !part.contains(&range_at) {
            return Err(structure("the seal's field refers to something else than the seal"));
        }
        let kinds = [("Type", "Sig"), ("Filter", "Adobe.PPKLite"), ("SubFilter", "ETSI.CAdES.detached")];
        for (key, kind) in kinds {
            if !seal.get(key).is_some_and(|found| found.is_name(kind)) {
                return Err(structure(format!("the seal's {key} is not {kind}")));
            }
        }
        Ok(seal)
    }

    /// The attachment's name and bytes.
    fn attachment(&self, root: &Item) -> Result<(String, Vec<u8>), PdfError> {
        let bad = |detail: &str| PdfError::Attachment { detail: detail.to_owned() };
        if root.get("AF").is_none() {
            return Err(PdfError::NoAttachment);
        }
        let number = self.only(root, "AF")?;
        let (_, spec) = self.object(number)?;
        let name = spec.get("UF").and_then(Item::words).ok_or_else(|| bad("it has no name"))?;
        // Viewers list attachments by their name tree: it must list this one and no other.
        let tree = self.member(&self.member(root, "Names")?, "EmbeddedFiles")?;
        let listed = match tree.get("Names") {
            Some(Item::List(list)) => match list.as_slice() {
                [key, Item::Reference(same)] => *same == number && key.words().as_ref() == Some(&name),
                _ => false,
            },
            _ => false,
        };
        if !listed {
            return Err(bad("the list of attachments names something else"));
        }
        let (Some(Item::Reference(one)), Some(Item::Reference(two))) =
            (spec.get("EF").and_then(|ef| ef.get("F")), spec.get("EF").and_then(|ef| ef.get("UF")))
        else {
            return Err(bad("it holds no file"));
        };
        if one != two {
            return Err(bad("it holds two files"));
        }
        let (_, stream) = self.object(*one)?;
        let Item::Stream(_, at) = &stream else { return Err(bad("it holds no stream")) };
        let length = stream.get("Length").and_then(Item::number).ok_or_else(|| bad("it has no length"))?;
        let stop = at.checked_add(length).ok_or_else(|| bad("its length overflows"))?;
        let packed = self.bytes.get(*at..stop).ok_or_else(|| bad("it runs past the file"))?;
        let data = match stream.get("Filter") {
            None => packed.to_vec(),
            Some(_) if stream.get("DecodeParms").is_some() => {
                return Err(bad("it is packed with parameters"));
            }
            Some(filter) if filter.is_name(FLATE) => unpack(packed)?,
            // As the writer does where the packed bytes would end in a carriage return.
            Some(Item::List(filters)) if both(filters) => {
                let digits = packed.strip_suffix(b">").ok_or_else(|| bad("its digits do not end"))?;
                unpack(&unhex(digits)?)?
            }
            Some(_) => return Err(bad("it is packed in an unknown way")),
        };
        let size = stream.get("Params").and_then(|params| params.get("Size")).and_then(Item::number);
        if size != Some(data.len()) {
            return Err(bad("its size is not the one stated"));
        }
        Ok((name, data))
    }
}

/// Whether these are deflate written as hexadecimal digits.
fn both(filters: &[Item]) -> bool {
    matches!(filters, [digits, packed] if digits.is_name(HEXADECIMAL) && packed.is_name(FLATE))
}

fn unpack(packed: &[u8]) -> Result<Vec<u8>, PdfError> {
    let dict = Dictionary::from_iter([("Filter", Object::Name(FLATE.as_bytes().to_vec()))]);
    Stream::new(dict, packed.to_vec())
        .decompressed_content_with_limit(MOST_DATA)
        .map_err(|e| PdfError::Attachment { detail: e.to_string() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_sealed_pdf_is_refused_by_name() {
        assert!(matches!(read_sealed(b""), Err(PdfError::NotPdf { .. })));
        assert!(matches!(read_sealed(b"PK\x03\x04"), Err(PdfError::NotPdf { .. })));
        assert!(matches!(read_sealed(b"%PDF-1.4\n"), Err(PdfError::NotPdf { .. })));
        assert_eq!(read_sealed(b"%PDF-1.7\n1 0 obj"), Err(PdfError::NoSeal));
        assert!(matches!(read_sealed(&vec![b' '; MOST_BYTES + 1]), Err(PdfError::TooLarge { .. })));
    }

    #[test]
    fn the_seal_is_lowercase_hexadecimal() {
        assert_eq!(unhex(b"0aff"), Ok(vec![10, 255]));
        for bad in [&b""[..], b"0", b"0A", b"0 ", b"zz"] {
            assert!(matches!(unhex(bad), Err(PdfError::Hex { .. })));
        }
    }

    #[test]
    fn a_range_must_cover_all_but_the_seal() {
        let file =
            |range: &str, end: &str| format!("xx/ByteRange[{range}]  /Contents<00ff>>>{end}").into_bytes();
        let whole = file("0 34 40 2", "");
        assert_eq!(whole.get(34), Some(&b'<'));
        assert_eq!(signed_range(&whole, 2), Ok(([0, 34, 40, 2], 35..39)));
        assert_eq!(signed_range(&file("0 34 40 2", "more"), 2), Err(PdfError::Appended { bytes: 4 }));
        for bad in [
            "0 33 40 2",
            "1 34 40 2",
            "0 34 39 2",
            "0 34 40 3",
            "0 34 40",
            "0 34 40 x",
            "0 34 40 999999999999999",
        ] {
            assert!(matches!(signed_range(&file(bad, ""), 2), Err(PdfError::NotWhole { .. })), "{bad}");
        }
    }

    #[test]
    fn a_bomb_is_not_unpacked() {
        let mut stream = Stream::new(Dictionary::new(), vec![b' '; MOST_DATA + 1]);
        stream.compress().unwrap();
        assert!(stream.content.len() < 100_000);
        assert!(matches!(unpack(&stream.content), Err(PdfError::Attachment { .. })));
    }
}
