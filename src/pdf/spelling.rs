//! The moment of issue in the spellings a PDF wants, and hex digits in readable groups.

/// A moment as the data give it: local time and offset, never converted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct PdfTime {
    digits: String,
    offset: String,
    iso: String,
}

impl PdfTime {
    /// Reads `2026-11-25T16:20:31-05:00` or `...Z` (RFC 3339, whole seconds).
    pub(super) fn parse(text: &str) -> Option<PdfTime> {
        let shape = b"dddd-dd-ddTdd:dd:dd";
        let bytes = text.as_bytes();
        let (clock, offset) = bytes.split_at_checked(shape.len())?;
        if !fits(clock, shape) || !(offset == b"Z" || fits(offset, b"+dd:dd") || fits(offset, b"-dd:dd")) {
            return None;
        }
        let part = |from: usize, to: usize| text.get(from..to).and_then(|t| t.parse::<u32>().ok());
        let within = |value: Option<u32>, low: u32, high: u32| value.is_some_and(|v| v >= low && v <= high);
        let sound = within(part(5, 7), 1, 12)
            && within(part(8, 10), 1, 31)
            && within(part(11, 13), 0, 23)
            && within(part(14, 16), 0, 59)
            && within(part(17, 19), 0, 60)
            && (offset == b"Z" || (within(part(20, 22), 0, 23) && within(part(23, 25), 0, 59)));
        sound.then(|| PdfTime {
            digits: clock.iter().filter(|b| b.is_ascii_digit()).map(|&b| char::from(b)).collect(),
            offset: text.get(shape.len()..).unwrap_or_default().to_owned(),
            iso: text.to_owned(),
        })
    }

    /// As PDF dictionaries write it (ISO 32000-1, 7.9.4): `D:20261125162031-05'00'`.
    pub(super) fn pdf(&self) -> String {
        let offset = match self.offset.split_once(':') {
            Some((hours, minutes)) => format!("{hours}'{minutes}'"),
            None => self.offset.clone(),
        };
        format!("D:{}{offset}", self.digits)
    }

    /// As XMP writes it (ISO 8601).
    pub(super) fn iso(&self) -> &str {
        &self.iso
    }
}

fn fits(bytes: &[u8], shape: &[u8]) -> bool {
    bytes.len() == shape.len()
        && bytes.iter().zip(shape).all(|(b, s)| if *s == b'd' { b.is_ascii_digit() } else { b == s })
}

/// Groups of eight, so that two people can compare them over the telephone.
pub(super) fn grouped(digits: &str) -> String {
    let mut out = String::with_capacity(digits.len().saturating_add(digits.len() / 8));
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && i % 8 == 0 {
            out.push(' ');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_keep_their_offset() {
        let time = PdfTime::parse("2026-11-25T16:20:31-05:00").unwrap();
        assert_eq!(time.pdf(), "D:20261125162031-05'00'");
        assert_eq!(time.iso(), "2026-11-25T16:20:31-05:00");
        assert_eq!(PdfTime::parse("2026-11-25T16:20:31Z").unwrap().pdf(), "D:20261125162031Z");
    }

    #[test]
    fn what_is_no_moment_is_refused() {
        for bad in [
            "",
            "2026-11-25",
            "2026-11-25T16:20:31",
            "2026-11-25 16:20:31Z",
            "2026-13-25T16:20:31Z",
            "2026-11-25T24:20:31Z",
            "2026-11-25T16:20:31.5Z",
            "2026-11-25T16:20:31-5:00",
            "2026-11-25T16:20:31-05:00 ",
            "２026-11-25T16:20:31Z",
        ] {
            assert_eq!(PdfTime::parse(bad), None, "{bad}");
        }
    }

    #[test]
    fn digits_are_grouped_by_eight() {
        assert_eq!(grouped("0123456789abcdef01"), "01234567 89abcdef 01");
        assert_eq!(grouped(""), "");
    }
}
