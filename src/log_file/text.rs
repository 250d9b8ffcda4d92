//! Brings the bytes of a file to text.

use std::borrow::Cow;

use super::LogFault;
use super::MOST_BYTES;

/// The text as UTF-8. Refused: an empty file, one too large, and anything that is no text.
pub(super) fn decoded(bytes: &[u8]) -> Result<Cow<'_, [u8]>, LogFault> {
    if bytes.len() > MOST_BYTES {
        return Err(LogFault::TooLarge { found: bytes.len(), most: MOST_BYTES });
    }
    let text = match bytes {
        [0xff, 0xfe, wide @ ..] => Cow::Owned(narrowed(wide, u16::from_le_bytes)?),
        [0xfe, 0xff, wide @ ..] => Cow::Owned(narrowed(wide, u16::from_be_bytes)?),
        [0xef, 0xbb, 0xbf, text @ ..] => Cow::Borrowed(text),
        text => Cow::Borrowed(text),
    };
    // Tab, LF and CR are the only control characters a table of readings has.
    let control = |b: u8| b < 0x20 && b != b'\t' && b != b'\n' && b != b'\r';
    // In blocks without an early way out, which the compiler can do many bytes at a time.
    let block = text.chunks(4096).position(|block| block.iter().fold(false, |found, b| found | control(*b)));
    if let Some(block) = block {
        let at = block * 4096;
        let after = text.get(at..).unwrap_or_default().iter().position(|b| control(*b)).unwrap_or(0);
        let (found, line) = (text.get(at + after).copied().unwrap_or(0), line_of(&text, at + after));
        return Err(LogFault::NoText { line, found });
    }
    if text.iter().all(u8::is_ascii_whitespace) {
        return Err(LogFault::Empty);
    }
    match std::str::from_utf8(&text) {
        Ok(_) => Ok(text),
        // Every byte is a character of Latin-1; its first 256 code points are those of Unicode.
        Err(_) => Ok(Cow::Owned(text.iter().map(|b| char::from(*b)).collect::<String>().into_bytes())),
    }
}

fn line_of(text: &[u8], at: usize) -> u64 {
    let before = text.get(..at).unwrap_or_default().iter().filter(|b| **b == b'\n').count();
    u64::try_from(before).unwrap_or(u64::MAX).saturating_add(1)
}

fn narrowed(wide: &[u8], unit: fn([u8; 2]) -> u16) -> Result<Vec<u8>, LogFault> {
    let (pairs, rest) = wide.as_chunks::<2>();
    let units = pairs.iter().map(|pair| unit(*pair));
    let text: Result<String, _> = char::decode_utf16(units).collect();
    match text {
        Ok(text) if rest.is_empty() => Ok(text.into_bytes()),
        _ => Err(LogFault::HalfCharacter),
    }
}
