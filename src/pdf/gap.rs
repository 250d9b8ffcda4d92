//! The gap for the seal: found in the written file, and its range filled in.

use std::ops::Range;

use super::error::PdfError;

/// What stands for each number of the range until it is known: ten digits, more than a file has.
pub(super) const HOLD: i64 = 9_999_999_999;

/// Finds the seal's gap and writes the range that covers all but `<...>`.
///
/// The result is where the hexadecimal digits are.
///
/// # Errors
/// [`PdfError::Engine`] when the writing library did not write the placeholder as expected.
pub(super) fn fill_range(bytes: &mut [u8], reserve: usize) -> Result<Range<usize>, PdfError> {
    let fault = || PdfError::Engine { detail: "the seal's place was not written as expected".to_owned() };
    let range_mark = format!("/ByteRange[{HOLD} {HOLD} {HOLD} {HOLD}]");
    let range_at = only(bytes, range_mark.as_bytes()).ok_or_else(fault)?;
    let contents_mark = b"/Contents<";
    let contents_at = range_at.checked_add(range_mark.len()).ok_or_else(fault)?;
    let rest = bytes.get(contents_at..).ok_or_else(fault)?;
    if !rest.starts_with(contents_mark) {
        return Err(fault());
    }
    let first = contents_at.checked_add(contents_mark.len()).ok_or_else(fault)?;
    let last = reserve.checked_mul(2).and_then(|digits| first.checked_add(digits)).ok_or_else(fault)?;
    let digits = bytes.get(first..last).ok_or_else(fault)?;
    if digits.iter().any(|&b| b != b'0') || bytes.get(last) != Some(&b'>') {
        return Err(fault());
    }
    let before = first.checked_sub(1).ok_or_else(fault)?;
    let after = last.checked_add(1).ok_or_else(fault)?;
    let tail = bytes.len().checked_sub(after).ok_or_else(fault)?;
    let range = format!("/ByteRange[0 {before} {after} {tail}]");
    let hold = bytes.get_mut(range_at..contents_at).ok_or_else(fault)?;
    if range.len() > hold.len() {
        return Err(fault());
    }
    hold.fill(b' ');
    if let Some(place) = hold.get_mut(..range.len()) {
        place.copy_from_slice(range.as_bytes());
    }
    Ok(first..last)
}

/// Where `mark` is, if it is there exactly once.
fn only(bytes: &[u8], mark: &[u8]) -> Option<usize> {
    let mut found = positions(bytes, mark);
    let first = found.next()?;
    found.next().is_none().then_some(first)
}

/// Every place where `mark` begins.
pub(super) fn positions<'b>(bytes: &'b [u8], mark: &'b [u8]) -> impl Iterator<Item = usize> + 'b {
    let head = mark.first().copied();
    let starts = bytes.iter().enumerate().filter(move |&(_, b)| Some(*b) == head).map(|(at, _)| at);
    starts.filter(move |&at| bytes.get(at..).is_some_and(|rest| rest.starts_with(mark)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_covers_all_but_the_gap() {
        let hold = format!("head /ByteRange[{HOLD} {HOLD} {HOLD} {HOLD}]/Contents<0000>/M tail");
        let mut bytes = hold.clone().into_bytes();
        let gap = fill_range(&mut bytes, 2).unwrap();
        assert_eq!(&bytes[gap.clone()], b"0000");
        assert_eq!(bytes.len(), hold.len());
        let text = String::from_utf8(bytes).unwrap();
        let (before, after) = (gap.start - 1, gap.end + 1);
        let range = format!("/ByteRange[0 {before} {after} {}]", text.len() - after);
        assert!(text.contains(&range), "{text}");
    }

    #[test]
    fn a_placeholder_that_is_not_as_expected_is_refused() {
        for bad in [
            "",
            "/ByteRange[0 0 0 0]/Contents<0000>",
            "/ByteRange[9999999999 9999999999 9999999999 9999999999]/Contents<00>",
        ] {
            assert!(fill_range(&mut bad.as_bytes().to_vec(), 2).is_err(), "{bad}");
        }
    }

    #[test]
    fn marks_are_found_wherever_they_are() {
        assert_eq!(positions(b"abcabcab", b"abc").collect::<Vec<_>>(), [0, 3]);
        assert_eq!(positions(b"", b"abc").count(), 0);
    }
}
