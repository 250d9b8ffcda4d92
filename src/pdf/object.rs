//! A strict parser of the PDF objects this program writes (ISO 32000-1, 7.3).
//!
//! It reads one spelling of each kind, borrows from the file, nests to a fixed depth, and never
//! looks past the bytes it is given: whatever a hostile file holds, the cost is bounded by its
//! size.

use std::ops::Range;

/// Deepest nesting of arrays and dictionaries; the files nest to five.
const DEEPEST: usize = 24;

/// Most elements of an array or a dictionary among the objects that are read; it keeps a small
/// file from unfolding into a large structure.
const MOST_ELEMENTS: usize = 1_000;

/// A parsed object.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Item {
    /// `null`, `true`, `false` and real numbers: kinds the reader has no use for.
    Other,
    Integer(u64),
    Name(Vec<u8>),
    Text(Vec<u8>),
    List(Vec<Item>),
    Map(Vec<(Vec<u8>, Item)>),
    Reference(u64),
    /// A stream's dictionary, and where its bytes begin.
    Stream(Vec<(Vec<u8>, Item)>, usize),
}

impl Item {
    /// A member of a dictionary (or of a stream's).
    pub(super) fn get(&self, key: &str) -> Option<&Item> {
        match self {
            Item::Map(members) | Item::Stream(members, _) => {
                members.iter().find(|(name, _)| name == key.as_bytes()).map(|(_, value)| value)
            }
            _ => None,
        }
    }

    /// An integer that fits the machine.
    pub(super) fn number(&self) -> Option<usize> {
        match self {
            Item::Integer(value) => usize::try_from(*value).ok(),
            _ => None,
        }
    }

    /// Whether it is this name.
    pub(super) fn is_name(&self, name: &str) -> bool {
        matches!(self, Item::Name(found) if found == name.as_bytes())
    }

    /// A text string: UTF-16 with its mark, or ASCII.
    pub(super) fn words(&self) -> Option<String> {
        let Item::Text(bytes) = self else { return None };
        match bytes.strip_prefix(&[0xfe, 0xff]) {
            Some(units) if units.len() % 2 == 0 => {
                let units: Vec<u16> = units
                    .chunks_exact(2)
                    .filter_map(|pair| <[u8; 2]>::try_from(pair).ok())
                    .map(u16::from_be_bytes)
                    .collect();
                String::from_utf16(&units).ok()
            }
            Some(_) => None,
            None if bytes.is_ascii() => String::from_utf8(bytes.clone()).ok(),
            None => None,
        }
    }
}

/// Reads objects from a part of a file.
pub(super) struct Parser<'b> {
    bytes: &'b [u8],
    at: usize,
    end: usize,
}

impl<'b> Parser<'b> {
    /// A parser over `part` of `bytes`.
    pub(super) fn new(bytes: &'b [u8], part: Range<usize>) -> Parser<'b> {
        Parser { bytes, at: part.start, end: part.end.min(bytes.len()) }
    }

    /// Where the next byte to be read is.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    fn peek(&self) -> Option<u8> {
        if self.at < self.end { self.bytes.get(self.at).copied() } else { None }
    }

    fn next(&mut self) -> Option<u8> {
        let byte = self.peek()?;
        self.at = self.at.checked_add(1)?;
        Some(byte)
    }

    /// Takes exactly these bytes.
    pub(super) fn take(&mut self, mark: &[u8]) -> Option<()> {
        let stop = self.at.checked_add(mark.len())?;
        if stop <= self.end && self.bytes.get(self.at..stop)? == mark {
            self.at = stop;
            Some(())
        } else {
            None
        }
    }

    fn blanks(&mut self) {
        while matches!(self.peek(), Some(b' ' | b'\n')) {
            self.at = self.at.saturating_add(1);
        }
    }

    /// A whole number without sign or leading zero.
    pub(super) fn integer(&mut self) -> Option<u64> {
        let start = self.at;
        while matches!(self.peek(), Some(b'0'..=b'9')) {
            self.at = self.at.checked_add(1)?;
        }
        let digits = self.bytes.get(start..self.at)?;
        if digits.is_empty() || digits.len() > 12 || (digits.len() > 1 && digits.first() == Some(&b'0')) {
            return None;
        }
        std::str::from_utf8(digits).ok()?.parse().ok()
    }

    /// An indirect object, `7 0 obj ... endobj`, of this number.
    pub(super) fn indirect(&mut self, number: u64) -> Option<Item> {
        if self.integer()? != number {
            return None;
        }
        self.take(b" 0 obj\n")?;
        self.item(0)
    }

    /// Any object.
    pub(super) fn item(&mut self, depth: usize) -> Option<Item> {
        if depth > DEEPEST {
            return None;
        }
        self.blanks();
        match self.peek()? {
            b'/' => self.name().map(Item::Name),
            b'(' => self.literal().map(Item::Text),
            b'[' => self.list(depth),
            b'<' => {
                let second = self.bytes.get(self.at.checked_add(1)?).copied()?;
                if second == b'<' { self.map(depth) } else { self.hexadecimal().map(Item::Text) }
            }
            b'0'..=b'9' => self.number(),
            _ => self.other(),
        }
    }

    fn name(&mut self) -> Option<Vec<u8>> {
        self.take(b"/")?;
        let mut out = Vec::new();
        while let Some(byte) = self.peek() {
            match byte {
                b'#' => {
                    self.next();
                    let high = hex_digit(self.next()?)?;
                    let low = hex_digit(self.next()?)?;
                    out.push(high << 4 | low);
                }
                b'/' | b'(' | b')' | b'<' | b'>' | b'[' | b']' | b'{' | b'}' | b'%' => break,
                0x21..=0x7e => {
                    self.next();
                    out.push(byte);
                }
                _ => break,
            }
        }
        Some(out)
    }

    fn literal(&mut self) -> Option<Vec<u8>> {
        self.take(b"(")?;
        let mut out = Vec::new();
        let mut open = 1usize;
        loop {
            match self.next()? {
                b'\\' => out.push(match self.next()? {
                    b'r' => b'\r',
                    escaped @ (b'\\' | b'(' | b')') => escaped,
                    _ => return None,
                }),
                b'(' => {
                    open = open.checked_add(1)?;
                    out.push(b'(');
                }
                b')' => {
                    open = open.checked_sub(1)?;
                    if open == 0 {
                        return Some(out);
                    }
                    out.push(b')');
                }
                byte => out.push(byte),
            }
        }
    }

    fn hexadecimal(&mut self) -> Option<Vec<u8>> {
        self.take(b"<")?;
        let mut out = Vec::new();
        loop {
            match self.next()? {
                b'>' => return Some(out),
                high => {
                    let low = self.next()?;
                    out.push(hex_digit(high)? << 4 | hex_digit(low)?);
                }
            }
        }
    }

    fn list(&mut self, depth: usize) -> Option<Item> {
        self.take(b"[")?;
        let mut items = Vec::new();
        loop {
            self.blanks();
            if self.peek()? == b']' {
                self.next();
                return Some(Item::List(items));
            }
            if items.len() >= MOST_ELEMENTS {
                return None;
            }
            items.push(self.item(depth.checked_add(1)?)?);
        }
    }

    fn map(&mut self, depth: usize) -> Option<Item> {
        self.take(b"<<")?;
        let mut members: Vec<(Vec<u8>, Item)> = Vec::new();
        loop {
            self.blanks();
            if self.peek()? == b'>' {
                self.take(b">>")?;
                break;
            }
            let key = self.name()?;
            // Which of two counts is each reader's own choice, so neither does here.
            if members.len() >= MOST_ELEMENTS || members.iter().any(|(name, _)| *name == key) {
                return None;
            }
            let value = self.item(depth.checked_add(1)?)?;
            members.push((key, value));
        }
        if self.take(b"stream\n").is_some() {
            return Some(Item::Stream(members, self.at));
        }
        Some(Item::Map(members))
    }

    /// An integer, a reference (`7 0 R`) or a real number.
    fn number(&mut self) -> Option<Item> {
        let start = self.at;
        let Some(value) = self.integer() else {
            self.at = start;
            return self.other();
        };
        if self.peek() == Some(b'.') {
            self.at = start;
            return self.other();
        }
        let after = self.at;
        if self.take(b" 0 R").is_some() {
            return Some(Item::Reference(value));
        }
        self.at = after;
        Some(Item::Integer(value))
    }

    fn other(&mut self) -> Option<Item> {
        let start = self.at;
        while matches!(self.peek(), Some(b'a'..=b'z' | b'0'..=b'9' | b'.' | b'-')) {
            self.at = self.at.checked_add(1)?;
        }
        let word = self.bytes.get(start..self.at)?;
        let real = word.contains(&b'.') || word.first() == Some(&b'-');
        (real || matches!(word, b"true" | b"false" | b"null")).then_some(Item::Other)
    }
}

fn hex_digit(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => byte.checked_sub(b'0'),
        b'a'..=b'f' => byte.checked_sub(b'a').and_then(|v| v.checked_add(10)),
        b'A'..=b'F' => byte.checked_sub(b'A').and_then(|v| v.checked_add(10)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> Option<Item> {
        let mut parser = Parser::new(text.as_bytes(), 0..text.len());
        let item = parser.item(0)?;
        (parser.at() == text.len()).then_some(item)
    }

    #[test]
    fn what_is_taken() {
        let map = parse("<</A 1/B 2 0 R/C[/D#20E(x\\)y)<414a>]/F -1.5/G true>>").unwrap();
        assert_eq!(map.get("A"), Some(&Item::Integer(1)));
        assert_eq!(map.get("B"), Some(&Item::Reference(2)));
        let list = Item::List(vec![
            Item::Name(b"D E".to_vec()),
            Item::Text(b"x)y".to_vec()),
            Item::Text(b"AJ".to_vec()),
        ]);
        assert_eq!(map.get("C"), Some(&list));
        assert_eq!(
            parse("[1 2 3]"),
            Some(Item::List(vec![Item::Integer(1), Item::Integer(2), Item::Integer(3)]))
        );
        assert_eq!(parse("(a(b)c)").unwrap().words().unwrap(), "a(b)c");
        assert_eq!(parse("<FEFF00410042>").unwrap().words().unwrap(), "AB");
        let stream = "<</L 1>>stream\nx";
        assert_eq!(
            Parser::new(stream.as_bytes(), 0..stream.len()).item(0).map(|s| matches!(s, Item::Stream(_, 15))),
            Some(true)
        );
    }

    #[test]
    fn what_is_refused() {
        for bad in [
            "",
            "<<",
            "[",
            "(",
            "(a",
            "<4",
            "<4g>",
            "<</A>>",
            "<</A 1/A 2>>",
            "01",
            "9999999999999",
            "/A#",
            "/A#zz",
            "%c",
            "(\\n)",
            "]",
            ">>",
        ] {
            assert_eq!(parse(bad), None, "{bad}");
        }
        assert_eq!(parse(&"[".repeat(100_000)), None);
        assert_eq!(parse(&format!("[{}]", "1 ".repeat(2_000))), None);
        assert_eq!(parse(&format!("{}{}", "[".repeat(30), "]".repeat(30))), None);
    }
}
