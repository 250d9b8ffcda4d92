//! C2SP signed-note: a text, an empty line, and lines of signatures.
//!
//! Reading is strict, so that no two readers can take one file for two things: UTF-8 without
//! control characters except the line end, and nothing but signature lines after the last empty
//! line. A signature by an unknown key is passed over; a wrong one by a known key spoils the note.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::CheckpointError;
use super::key::Role;
use super::key::SigningKey;
use super::key::VerifyKey;
use super::key::is_name;

/// Far above any honest note; keeps a hostile one from costing time.
const LONGEST: usize = 1_000_000;
/// As many as other readers of the format take.
const MOST_SIGNATURES: usize = 100;

/// A note whose known signatures all hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// The signed text, with its last line end.
    pub text: String,
    /// Who signed, of the keys given; never empty.
    pub verified: Vec<Verified>,
}

/// One signature that holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verified {
    /// The key's name.
    pub name: String,
    /// What its signature says.
    pub role: Role,
    /// The time a witness states, in seconds since 1970 UTC.
    pub seen_at: Option<u64>,
}

/// Signs `text` with each key.
///
/// # Errors
/// When `text` cannot be the text of a note.
pub(super) fn sign(text: &str, keys: &[&SigningKey]) -> Result<String, CheckpointError> {
    check_characters(text)?;
    if !text.ends_with('\n') {
        return Err(CheckpointError::Note("the text does not end its last line".to_owned()));
    }
    let mut note = format!("{text}\n");
    for key in keys {
        note.push_str(&format!("\u{2014} {} {}\n", key.name(), STANDARD.encode(key.sign(text))));
    }
    Ok(note)
}

/// Reads a note and checks it against `keys`.
///
/// # Errors
/// When it is malformed, when a known key's signature is wrong, or when no known key signed.
pub(super) fn open(note: &[u8], keys: &[VerifyKey]) -> Result<Note, CheckpointError> {
    let (text, lines) = split(note)?;
    let mut verified: Vec<Verified> = Vec::new();
    let mut seen: Vec<(&str, [u8; 4])> = Vec::new();
    for (name, id, signature) in &lines {
        let mut matching = keys.iter().filter(|key| key.name() == *name && key.id() == *id);
        let Some(key) = matching.next() else { continue };
        if matching.next().is_some() {
            return Err(CheckpointError::Ambiguous { name: (*name).to_owned() });
        }
        let seen_at = key.verify(text, signature)?;
        // A witness may have signed twice; the first line counts, and each had to hold.
        if !seen.contains(&(*name, *id)) {
            seen.push((*name, *id));
            verified.push(Verified { name: (*name).to_owned(), role: key.role(), seen_at });
        }
    }
    if verified.is_empty() {
        return Err(CheckpointError::Unknown { found: lines.len() });
    }
    Ok(Note { text: text.to_owned(), verified })
}

/// Name, key id and the rest of one signature line.
type Line<'a> = (&'a str, [u8; 4], Vec<u8>);

/// The text and the signature lines of a note.
fn split(note: &[u8]) -> Result<(&str, Vec<Line<'_>>), CheckpointError> {
    let wrong = |what: &str| CheckpointError::Note(what.to_owned());
    if note.len() > LONGEST {
        return Err(wrong(&format!("{} bytes is too long", note.len())));
    }
    let note = std::str::from_utf8(note).map_err(|_| wrong("it is not UTF-8"))?;
    check_characters(note)?;
    // The text may hold empty lines itself: the last one divides.
    let (before, block) = note.rsplit_once("\n\n").ok_or_else(|| wrong("it has no signatures"))?;
    let text = note.get(..=before.len()).ok_or_else(|| wrong("it has no signatures"))?;
    let block = block.strip_suffix('\n').ok_or_else(|| wrong("its last line does not end"))?;
    let lines: Vec<_> = block
        .split('\n')
        .map(line)
        .collect::<Option<_>>()
        .ok_or_else(|| wrong("a line after the text is not a dash, a name and a signature"))?;
    if lines.len() > MOST_SIGNATURES {
        return Err(wrong(&format!("{} signatures is too many", lines.len())));
    }
    Ok((text, lines))
}

/// Reads one signature line.
fn line(line: &str) -> Option<Line<'_>> {
    let (name, signature) = line.strip_prefix("\u{2014} ")?.split_once(' ')?;
    let signature = STANDARD.decode(signature).ok()?;
    let (id, signature) = signature.split_first_chunk::<4>()?;
    (is_name(name) && !signature.is_empty()).then(|| (name, *id, signature.to_vec()))
}

fn check_characters(text: &str) -> Result<(), CheckpointError> {
    match text.chars().find(|c| *c < ' ' && *c != '\n') {
        Some(c) => {
            Err(CheckpointError::Note(format!("it holds the control character {:#04x}", u32::from(c))))
        }
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // golang.org/x/mod sumdb/note example_test.go and note_test.go (BSD-3-Clause); values only.
    const SIGNER: &str = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";
    const TEXT: &str = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
    const PETER: &str = "\u{2014} PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";
    const ENOCH: &str = "\u{2014} EnochRoot rwz+eBzmZa0SO3NbfRGzPCpDckykFXSdeX+MNtCOXm2/5n2tiOHp+vAF1aGrQ5ovTG01oOTGwnWLox33WWd1RvMc+QQ=\n";

    fn peter() -> SigningKey {
        SigningKey::parse(SIGNER).unwrap()
    }

    fn enoch() -> SigningKey {
        SigningKey::from_seed("EnochRoot", &[0; 32]).unwrap()
    }

    fn names(note: &Note) -> Vec<&str> {
        note.verified.iter().map(|v| v.name.as_str()).collect()
    }

    #[test]
    fn signs_and_opens_the_published_example() {
        let note = sign(TEXT, &[&peter(), &enoch()]).unwrap();
        assert_eq!(note, format!("{TEXT}\n{PETER}{ENOCH}"));
        let both = open(note.as_bytes(), &[enoch().verify_key(), peter().verify_key()]).unwrap();
        assert_eq!(both.text, TEXT);
        assert_eq!(names(&both), ["PeterNeumann", "EnochRoot"]);
        assert_eq!(names(&open(note.as_bytes(), &[enoch().verify_key()]).unwrap()), ["EnochRoot"]);
    }

    #[test]
    fn opens_the_example_of_the_format_itself() {
        // c2sp.org/signed-note (CC BY 4.0)
        let key = VerifyKey::parse("example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k");
        let note = "This is an example message.\n\n\u{2014} example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n";
        let opened = open(note.as_bytes(), &[key.unwrap()]).unwrap();
        assert_eq!(opened.text, "This is an example message.\n");
    }

    #[test]
    fn malformed_notes_are_refused() {
        let keys = [peter().verify_key()];
        for bad in [
            TEXT.to_owned(),
            format!("{TEXT}\n"),
            format!("{TEXT}\n{}", PETER.trim_end()),
            format!("\u{1}{TEXT}\n{PETER}"),
            format!("{TEXT}\n{}", PETER.replace("PeterNeumann", "Peter Neumann")),
            format!("{TEXT}\n{}", PETER.replace("PeterNeumann", "Peter\u{a0}Neumann")),
            format!("{TEXT}\n{}", PETER.replace("PeterNeumann ", " ")),
            format!("{TEXT}\n{}", PETER.replace("PeterNeumann", "Peter+Neumann")),
            format!("{TEXT}\n{PETER}not a signature\n"),
            format!("{TEXT}\n{PETER}\n"),
            format!("{TEXT}\n{}", PETER.replace('\u{2014}', "-")),
            format!("{TEXT}\n{}", PETER.replace("nAM=", "nAM")),
            format!("{TEXT}\n{}", PETER.replace("nAM=", "nAN=")),
            format!("{TEXT}\n\u{2014} PeterNeumann x08gow==\n"),
            format!("{TEXT}\r\n{PETER}"),
            format!("{TEXT}\n{}", PETER.repeat(101)),
            "x".repeat(LONGEST + 1),
            String::new(),
        ] {
            let found = open(bad.as_bytes(), &keys);
            assert!(matches!(found, Err(CheckpointError::Note(_))), "{bad:?}: {found:?}");
        }
        let mut not_utf8 = format!("{TEXT}\n{PETER}").into_bytes();
        not_utf8[0] = 0xff;
        assert!(matches!(open(&not_utf8, &keys), Err(CheckpointError::Note(_))));
    }

    #[test]
    fn sixteen_signatures_are_read_and_empty_lines_in_the_text_too() {
        let text = "one\n\n\ntwo\n";
        let note = sign(text, &[&peter(); 16]).unwrap();
        assert_eq!(open(note.as_bytes(), &[peter().verify_key()]).unwrap().text, text);
    }

    #[test]
    fn a_wrong_signature_by_a_known_key_spoils_the_note_an_unknown_one_does_not() {
        let both = [peter().verify_key(), enoch().verify_key()];
        let note = format!("{TEXT}\n{PETER}{}", ENOCH.replace("rwz+eBzm", "rwz+eBzn"));
        let wrong = CheckpointError::Signature { name: "EnochRoot".to_owned() };
        assert_eq!(open(note.as_bytes(), &both), Err(wrong));
        assert_eq!(names(&open(note.as_bytes(), &[peter().verify_key()]).unwrap()), ["PeterNeumann"]);
        // same name, other key id: another key, hence unknown
        let renamed = format!("{TEXT}\n{}", PETER.replace(" x08go", " x08gp"));
        assert_eq!(open(renamed.as_bytes(), &both), Err(CheckpointError::Unknown { found: 1 }));
        let nobody = open(format!("{TEXT}\n{PETER}{ENOCH}").as_bytes(), &[]);
        assert_eq!(nobody, Err(CheckpointError::Unknown { found: 2 }));
        let twice = [peter().verify_key(), peter().verify_key()];
        let ambiguous = CheckpointError::Ambiguous { name: "PeterNeumann".to_owned() };
        assert_eq!(open(format!("{TEXT}\n{PETER}").as_bytes(), &twice), Err(ambiguous));
    }
}
