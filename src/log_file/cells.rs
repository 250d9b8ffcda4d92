//! Cuts text into cells and lines.

use std::borrow::Cow;

/// What stands after a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ending {
    /// Another cell.
    Cell,
    /// The next line, or nothing.
    Line,
}

/// One cell: its text without quotes around it and without spaces at its ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell<'a> {
    pub text: &'a [u8],
    pub ending: Ending,
}

/// The text not yet cut.
#[derive(Debug, Clone)]
pub(super) struct Cells<'a> {
    rest: &'a [u8],
    delimiter: u8,
}

impl Cell<'_> {
    /// The text with doubled quotes made single.
    pub(super) fn unquoted(&self) -> Cow<'_, str> {
        let text = String::from_utf8_lossy(self.text);
        if text.contains("\"\"") { Cow::Owned(text.replace("\"\"", "\"")) } else { text }
    }
}

fn trimmed(mut text: &[u8]) -> &[u8] {
    while let [b' ' | b'\t' | b'\r', rest @ ..] = text {
        text = rest;
    }
    while let [rest @ .., b' ' | b'\t' | b'\r'] = text {
        text = rest;
    }
    text
}

impl<'a> Cells<'a> {
    pub(super) fn new(rest: &'a [u8], delimiter: u8) -> Self {
        Cells { rest, delimiter }
    }

    pub(super) fn rest(&self) -> &'a [u8] {
        self.rest
    }

    pub(super) fn is_done(&self) -> bool {
        self.rest.is_empty()
    }

    /// Whether nothing but empty lines is left.
    pub(super) fn only_blank_lines(&self) -> bool {
        match self.rest.first() {
            Some(b' ' | b'\r' | b'\n') => self.rest.iter().all(|b| matches!(b, b' ' | b'\r' | b'\n')),
            _ => false,
        }
    }

    /// The next cell; what was found, where a quote is not closed or something follows it. At the end of the
    /// text, an empty cell that ends a line.
    pub(super) fn next(&mut self) -> Result<Cell<'a>, String> {
        let mut inner = self.rest;
        while let [b' ', after @ ..] = inner {
            inner = after;
        }
        if let [b'"', inner @ ..] = inner {
            return self.quoted(inner);
        }
        let delimiter = self.delimiter;
        let end = self.rest.iter().position(|b| *b == delimiter || *b == b'\n').unwrap_or(self.rest.len());
        let (text, rest) = self.rest.split_at_checked(end).unwrap_or((self.rest, &[]));
        let ending = if rest.first() == Some(&delimiter) { Ending::Cell } else { Ending::Line };
        self.rest = rest.get(1..).unwrap_or_default();
        Ok(Cell { text: trimmed(text), ending })
    }

    /// The next cell, where it is a plain number without quotes or spaces: its digits as a whole number, how
    /// many stand after the mark, and what follows it. `None`, and nothing taken, of any other cell.
    #[inline]
    pub(super) fn number(&mut self, mark: u8) -> Option<(i64, u32, Ending)> {
        let (mut value, mut digits, mut whole, mut rest) = (0_u64, 0_u32, None, self.rest);
        let negative = matches!(rest, [b'-', ..]);
        if negative {
            rest = rest.get(1..)?;
        }
        let ending = loop {
            let [byte, after @ ..] = rest else { return None };
            rest = after;
            let digit = byte.wrapping_sub(b'0');
            if digit < 10 {
                value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
                digits = digits.wrapping_add(1);
            } else if *byte == mark && whole.is_none() {
                whole = Some(digits);
            } else if *byte == self.delimiter {
                break Ending::Cell;
            } else if *byte == b'\n' {
                break Ending::Line;
            } else if let (b'\r', [b'\n', after @ ..]) = (byte, after) {
                rest = after;
                break Ending::Line;
            } else {
                return None;
            }
        };
        let places = whole.map_or(0, |whole| digits.wrapping_sub(whole));
        let whole_digits = whole.unwrap_or(digits);
        if !(1..=9).contains(&whole_digits) || places > 9 || (whole.is_some() && places == 0) {
            return None;
        }
        self.rest = rest;
        let value = value as i64;
        Some((if negative { value.wrapping_neg() } else { value }, places, ending))
    }

    /// A cell whose opening quote is gone already.
    fn quoted(&mut self, inner: &'a [u8]) -> Result<Cell<'a>, String> {
        let mut at = 0_usize;
        loop {
            match inner.get(at) {
                Some(b'"') if inner.get(at + 1) == Some(&b'"') => at += 2,
                Some(b'"') => break,
                Some(b'\n') | None => {
                    return Err(super::fault::shown(inner.get(..at).unwrap_or_default()));
                }
                Some(_) => at += 1,
            }
        }
        let text = inner.get(..at).unwrap_or_default();
        let mut rest = inner.get(at + 1..).unwrap_or_default();
        while let [b' ' | b'\r', after @ ..] = rest {
            rest = after;
        }
        let ending = match rest.first() {
            Some(b) if *b == self.delimiter => Ending::Cell,
            Some(b'\n') | None => Ending::Line,
            Some(_) => return Err(super::fault::shown(text)),
        };
        self.rest = rest.get(1..).unwrap_or_default();
        Ok(Cell { text: trimmed(text), ending })
    }

    /// How many cells the line has that begins here.
    pub(super) fn count(mut self) -> Result<usize, String> {
        let mut count = 0_usize;
        loop {
            count += 1;
            if self.next()?.ending == Ending::Line {
                return Ok(count);
            }
        }
    }
}
