//! What can go wrong at the page: while it is drawn, and while a sealed file is read back.

use thiserror::Error;

/// Why a page could not be drawn, or a file not read back.
#[derive(Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum PdfError {
    // drawing
    /// The certificate's data are not a JSON object.
    #[error("the certificate's data are not a JSON object: {detail}")]
    Data {
        /// What the JSON reader said.
        detail: String,
    },
    /// The stamp is not the SHA-256 of the data.
    #[error("the stamp does not belong to the data: found {found}, the data hash to {expected}")]
    Stamp {
        /// The stamp that was given.
        found: String,
        /// The SHA-256 of the data, lower hex.
        expected: String,
    },
    /// A field every certificate needs is absent, empty or of the wrong kind.
    #[error("certificate field {field}: found {found}, expected {expected}")]
    Field {
        /// Where in the data, as `lots[0].findings[3].verdict`.
        field: String,
        /// What is there.
        found: String,
        /// What would do.
        expected: String,
    },
    /// A text holds control characters or invisible direction marks, which can make a page
    /// read otherwise than its data.
    #[error("certificate field {field} holds characters that cannot be printed: {chars}")]
    Unprintable {
        /// Where in the data.
        field: String,
        /// The characters, as `U+202E`.
        chars: String,
    },
    /// A character that none of the page's fonts can draw.
    #[error("no font of the page can draw {chars} in \"{text}\" ({field})")]
    NoGlyph {
        /// The characters, each with its code point.
        chars: String,
        /// The text that holds them.
        text: String,
        /// Where in the data, or `the page` when it is the template's own wording.
        field: String,
    },
    /// The template failed, or what it made is not a description of a page.
    #[error("the page template failed: {detail}")]
    Template {
        /// What was wrong, with the template's line where known.
        detail: String,
    },
    /// A font that ships with the program could not be read or cut down.
    #[error("font {name} is unusable: {detail}")]
    Font {
        /// The font's name.
        name: &'static str,
        /// What the font library said.
        detail: String,
    },
    /// More pages than any certificate needs.
    #[error("the certificate runs past {limit} pages")]
    TooLong {
        /// The most pages that are drawn.
        limit: usize,
    },
    /// The lines that stand on every page leave no room for anything else.
    #[error("the lines for the head of every page are {lines} lines long, at most {limit} fit")]
    HeadTooLong {
        /// Lines found.
        lines: usize,
        /// Lines that fit.
        limit: usize,
    },
    /// The room reserved for the seal is out of range.
    #[error("{found} bytes reserved for the seal; between {least} and {most} are possible")]
    Reserve {
        /// Bytes asked for.
        found: usize,
        /// Fewest.
        least: usize,
        /// Most.
        most: usize,
    },
    /// The PDF or QR library failed.
    #[error("the page could not be written: {detail}")]
    Engine {
        /// What the library said.
        detail: String,
    },

    // reading back
    /// The file does not begin as a PDF does.
    #[error("this is not a PDF file of the expected form: {detail}")]
    NotPdf {
        /// What was found.
        detail: String,
    },
    /// The file is bigger than any certificate.
    #[error("the file holds {found} bytes; a certificate holds at most {most}")]
    TooLarge {
        /// Size found.
        found: usize,
        /// Size allowed.
        most: usize,
    },
    /// There is no seal in the file.
    #[error("the file carries no seal")]
    NoSeal,
    /// There is more than one seal in the file.
    #[error("the file carries {count} seals, a certificate carries one")]
    SeveralSeals {
        /// Seals found.
        count: usize,
    },
    /// Something was appended after the file was sealed.
    #[error("{bytes} bytes were added after the end of the sealed file")]
    Appended {
        /// How many bytes.
        bytes: usize,
    },
    /// The seal does not cover the whole file.
    #[error("the seal does not cover the whole file: {detail}")]
    NotWhole {
        /// How its range is off.
        detail: String,
    },
    /// The seal's hexadecimal is not the one spelling that is allowed.
    #[error("the seal's bytes are not lowercase hexadecimal: {detail}")]
    Hex {
        /// What was found.
        detail: String,
    },
    /// The file was saved more than once.
    #[error("the file holds {count} revisions, a sealed certificate holds one")]
    Revisions {
        /// Revisions found.
        count: usize,
    },
    /// The file's inner structure is not that of a certificate.
    #[error("the file is not built as a certificate is: {detail}")]
    Structure {
        /// What was found.
        detail: String,
    },
    /// The certificate's data are not attached.
    #[error("the file carries no certificate data")]
    NoAttachment,
    /// The certificate's data are attached but cannot be read.
    #[error("the attached certificate data cannot be read: {detail}")]
    Attachment {
        /// What was found.
        detail: String,
    },
}

impl PdfError {
    /// How to mend it, when there is a way.
    pub fn hint(&self) -> Option<String> {
        let hint = match self {
            PdfError::Stamp { .. } => "take the stamp from the very bytes that are attached",
            PdfError::Unprintable { .. } => "retype the text without invisible characters",
            PdfError::NoGlyph { .. } => "write the name in Latin, Greek, Cyrillic, Hebrew or Arabic letters",
            PdfError::TooLong { .. } => "issue the shipment's lots on several certificates",
            PdfError::HeadTooLong { .. } => "shorten the demo or controlled-data line",
            PdfError::Appended { .. } | PdfError::Revisions { .. } => {
                "ask the shop for a reissued copy; do not save certificates again in an editor"
            }
            PdfError::NoSeal => "ask the shop for the sealed file, not a print or a scan of it",
            PdfError::SeveralSeals { .. } => {
                "ask the shop for the file as issued, before anyone countersigned it"
            }
            _ => return None,
        };
        Some(hint.to_owned())
    }
}

/// Lists characters with their code points: `"字" U+5B57`; at most eight.
pub(super) fn list_chars(chars: &[char], show: bool) -> String {
    let mut seen: Vec<char> = Vec::new();
    for &c in chars {
        if !seen.contains(&c) {
            seen.push(c);
        }
    }
    let more = seen.len().saturating_sub(8);
    let mut out: Vec<String> = seen
        .iter()
        .take(8)
        .map(|&c| {
            let code = u32::from(c);
            if show { format!("\"{c}\" U+{code:04X}") } else { format!("U+{code:04X}") }
        })
        .collect();
    if more > 0 {
        out.push(format!("and {more} more"));
    }
    out.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_are_listed_once_and_capped() {
        assert_eq!(list_chars(&['a', 'b', 'a'], true), "\"a\" U+0061, \"b\" U+0062");
        assert_eq!(list_chars(&['\u{202e}'], false), "U+202E");
        let many: Vec<char> = ('a'..='k').collect();
        assert!(list_chars(&many, false).ends_with("and 3 more"));
    }
}
