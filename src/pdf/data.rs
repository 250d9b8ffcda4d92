//! The certificate's data as the page takes them: parsed, checked for what every certificate
//! needs, and made safe to print.

use serde_json::Map;
use serde_json::Value;
use unicode_normalization::UnicodeNormalization;

use super::error::PdfError;
use super::error::list_chars;
use super::spelling::PdfTime;

/// First and last character of a bidirectional isolate (Unicode UAX #9): put around a text that
/// holds right-to-left letters, so that it cannot reorder the words around it.
const ISOLATE: (char, char) = ('\u{2068}', '\u{2069}');

/// Longest text, and most text in all, that is laid out, in bytes: more than the pages hold that
/// are allowed, and little enough that hostile data cost no more than a moment.
const LONGEST: usize = 64 << 10;
const MOST_TEXT: usize = 4 << 20;

/// Verdicts a certificate may hold. Any other (a gap) must never be dropped in silence.
const VERDICTS: [&str; 5] = ["met", "accepted", "advice", "not applicable", "relied on"];

/// Top-level fields that may be absent; the template sees `null` then.
const OPTIONAL: [&str; 6] = ["controlled", "replaces", "seal_fingerprint", "register", "judge", "renderer"];

/// The data, ready for the template.
pub(super) struct Data {
    /// The JSON object, without the records (which are attached, not printed).
    pub(super) value: Value,
    /// The certificate's number.
    pub(super) number: String,
    /// When it was issued.
    pub(super) issued: PdfTime,
    /// The root certificate's fingerprint, empty when the data name none.
    pub(super) fingerprint: String,
}

/// Reads and checks the data.
///
/// `draws` says whether the page's fonts hold a character.
///
/// # Errors
/// [`PdfError::Data`], [`PdfError::Field`], [`PdfError::Unprintable`], [`PdfError::NoGlyph`].
pub(super) fn read(bytes: &[u8], draws: &dyn Fn(char) -> bool) -> Result<Data, PdfError> {
    let mut value: Value =
        serde_json::from_slice(bytes).map_err(|e| PdfError::Data { detail: e.to_string() })?;
    let Some(root) = value.as_object_mut() else {
        return Err(PdfError::Data { detail: "found something else than an object".to_owned() });
    };
    for key in OPTIONAL {
        root.entry(key).or_insert(Value::Null);
    }
    require(root)?;
    let number = number(root)?;
    let issued = match root.get("issued").and_then(Value::as_str) {
        Some(text) => PdfTime::parse(text)
            .ok_or_else(|| field("issued", text, "a date and time such as 2026-11-25T16:20:31-05:00"))?,
        None => return Err(field("issued", "nothing", "a date and time")),
    };
    drop_records(root);
    check_verdicts(root)?;
    let fingerprint = match root.get("seal_fingerprint") {
        Some(Value::String(text)) if text.len() <= 128 && text.bytes().all(|b| b.is_ascii_hexdigit()) => {
            text.clone()
        }
        Some(Value::Null) | None => String::new(),
        Some(other) => return Err(field("seal_fingerprint", &brief(other), "hexadecimal digits")),
    };
    make_printable(&mut value, "", draws, &mut 0)?;
    Ok(Data { value, number, issued, fingerprint })
}

fn field(field: &str, found: &str, expected: &str) -> PdfError {
    PdfError::Field { field: field.to_owned(), found: found.to_owned(), expected: expected.to_owned() }
}

/// A value in a few words, for a message.
fn brief(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::String(text) if text.is_empty() => "an empty text".to_owned(),
        Value::String(text) => format!("\"{}\"", text.chars().take(40).collect::<String>()),
        Value::Array(list) if list.is_empty() => "an empty list".to_owned(),
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "an object".to_owned(),
        other => other.to_string(),
    }
}

/// Demands what every certificate states (ISO/IEC 17050-1, 6.1: who, what, for whom, when).
fn require(root: &Map<String, Value>) -> Result<(), PdfError> {
    for key in ["number", "issued", "place", "conformity", "decision_rule"] {
        require_text(root, key, key)?;
    }
    for key in ["lots", "not_covered", "signatures", "how_to_check"] {
        require_list(root, key, key)?;
    }
    for party in ["issuer", "purchaser"] {
        let object = require_object(root, party)?;
        require_text(object, "name", &format!("{party}.name"))?;
        require_list(object, "address", &format!("{party}.address"))?;
    }
    require_list(require_object(root, "shipment")?, "lines", "shipment.lines")?;
    Ok(())
}

fn require_text(object: &Map<String, Value>, key: &str, path: &str) -> Result<(), PdfError> {
    match object.get(key) {
        Some(Value::String(text)) if !text.trim().is_empty() => Ok(()),
        other => Err(field(path, &other.map_or("nothing".to_owned(), brief), "a text")),
    }
}

fn require_list(object: &Map<String, Value>, key: &str, path: &str) -> Result<(), PdfError> {
    match object.get(key) {
        Some(Value::Array(list)) if !list.is_empty() => Ok(()),
        other => Err(field(path, &other.map_or("nothing".to_owned(), brief), "a list with something in it")),
    }
}

fn require_object<'v>(root: &'v Map<String, Value>, key: &str) -> Result<&'v Map<String, Value>, PdfError> {
    match root.get(key) {
        Some(Value::Object(object)) => Ok(object),
        other => Err(field(key, &other.map_or("nothing".to_owned(), brief), "an object")),
    }
}

/// The number names the attachment and goes into the QR symbol, so it must be safe as both.
fn number(root: &Map<String, Value>) -> Result<String, PdfError> {
    let expected = "1 to 64 of the letters A-Z and a-z, digits, and - . _";
    let text = root.get("number").and_then(Value::as_str).unwrap_or_default();
    let plain = text.bytes().all(|b| b.is_ascii_alphanumeric() || b"-._".contains(&b));
    if plain && (1..=64).contains(&text.len()) && !text.starts_with('.') {
        Ok(text.to_owned())
    } else {
        Err(field("number", &format!("\"{text}\""), expected))
    }
}

/// The records are attached for machines and can be long; the page prints none of them.
fn drop_records(root: &mut Map<String, Value>) {
    if let Some(Value::Array(lots)) = root.get_mut("lots") {
        for lot in lots.iter_mut().filter_map(Value::as_object_mut) {
            lot.remove("record");
        }
    }
}

fn check_verdicts(root: &Map<String, Value>) -> Result<(), PdfError> {
    let Some(Value::Array(lots)) = root.get("lots") else { return Ok(()) };
    for (l, lot) in lots.iter().enumerate() {
        if !matches!(lot.get("lot"), Some(Value::String(name)) if !name.is_empty()) {
            return Err(field(
                &format!("lots[{l}].lot"),
                &lot.get("lot").map_or("nothing".into(), brief),
                "a text",
            ));
        }
        let Some(Value::Array(findings)) = lot.get("findings") else { continue };
        for (f, finding) in findings.iter().enumerate() {
            let verdict = finding.get("verdict").and_then(Value::as_str).unwrap_or_default();
            if !VERDICTS.contains(&verdict) {
                return Err(field(
                    &format!("lots[{l}].findings[{f}].verdict"),
                    &format!("\"{verdict}\""),
                    "met, accepted, relied on, advice or not applicable",
                ));
            }
        }
    }
    Ok(())
}

/// Refuses what cannot be printed, and isolates right-to-left texts.
fn make_printable(
    value: &mut Value,
    path: &str,
    draws: &dyn Fn(char) -> bool,
    total: &mut usize,
) -> Result<(), PdfError> {
    match value {
        Value::String(text) => {
            *total = total.saturating_add(text.len());
            if text.len() > LONGEST || *total > MOST_TEXT {
                return Err(field(
                    path,
                    &format!("a text of {} bytes, {total} with those before it", text.len()),
                    &format!("at most {LONGEST}, and {MOST_TEXT} in all"),
                ));
            }
            // Nearly every text is plain ASCII: one quick look spares it the rest.
            if text.bytes().all(|b| (0x20..0x7f).contains(&b)) {
                return Ok(());
            }
            *text = text.nfc().collect();
            let hidden: Vec<char> = text.chars().filter(|&c| is_hidden(c)).collect();
            if !hidden.is_empty() {
                return Err(PdfError::Unprintable {
                    field: path.to_owned(),
                    chars: list_chars(&hidden, false),
                });
            }
            let lost: Vec<char> = text.chars().filter(|&c| !c.is_control() && !draws(c)).collect();
            if !lost.is_empty() {
                return Err(PdfError::NoGlyph {
                    chars: list_chars(&lost, true),
                    text: text.chars().take(80).collect(),
                    field: path.to_owned(),
                });
            }
            if text.chars().any(is_right_to_left) {
                text.insert(0, ISOLATE.0);
                text.push(ISOLATE.1);
            }
            Ok(())
        }
        Value::Array(list) => {
            for (i, item) in list.iter_mut().enumerate() {
                make_printable(item, &format!("{path}[{i}]"), draws, total)?;
            }
            Ok(())
        }
        Value::Object(object) => {
            for (key, item) in object.iter_mut() {
                let place = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                make_printable(item, &place, draws, total)?;
            }
            Ok(())
        }
        _ => Ok(()),
    }
}

/// Control characters but tab and newline, and the invisible marks that change the direction or
/// the look of what surrounds them. The two joiners stay: Persian spelling needs them.
fn is_hidden(c: char) -> bool {
    let joiner = c == '\u{200c}' || c == '\u{200d}';
    let invisible = matches!(c,
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fe00}'..='\u{fe0f}' | '\u{fff9}'..='\u{ffff}'
        | '\u{e0000}'..='\u{e0fff}');
    (c.is_control() && c != '\n' && c != '\t') || (invisible && !joiner)
}

/// Letters of the scripts written from right to left (the blocks UAX #9 reserves for them).
pub(super) fn is_right_to_left(c: char) -> bool {
    matches!(c,
        '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}'
        | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn minimal() -> Value {
        json!({
            "number": "LBF-2026-000123", "issued": "2026-11-25T16:20:31-05:00", "place": "Alder Falls",
            "issuer": {"name": "Larkspur Bright Finishing", "address": ["1 Mill Lane"]},
            "purchaser": {"name": "Quillmark Instruments", "address": ["2 Quay"]},
            "shipment": {"lines": [{}]}, "conformity": "c", "decision_rule": "d",
            "lots": [{"lot": "L-1"}], "not_covered": ["n"], "signatures": [{}], "how_to_check": ["h"],
        })
    }

    fn try_read(value: &Value) -> Result<Data, PdfError> {
        read(value.to_string().as_bytes(), &|c| c != '字')
    }

    #[test]
    fn a_minimal_certificate_reads() {
        let data = try_read(&minimal()).unwrap();
        assert_eq!(data.number, "LBF-2026-000123");
        assert!(data.value.get("controlled").unwrap().is_null());
    }

    #[test]
    fn every_required_field_is_missed_by_name() {
        let whole = minimal();
        for (path, pointer) in [
            ("number", "/number"),
            ("issued", "/issued"),
            ("place", "/place"),
            ("issuer.name", "/issuer/name"),
            ("issuer.address", "/issuer/address"),
            ("purchaser.name", "/purchaser/name"),
            ("shipment.lines", "/shipment/lines"),
            ("conformity", "/conformity"),
            ("decision_rule", "/decision_rule"),
            ("lots", "/lots"),
            ("lots[0].lot", "/lots/0/lot"),
            ("not_covered", "/not_covered"),
            ("signatures", "/signatures"),
            ("how_to_check", "/how_to_check"),
        ] {
            let mut cut = whole.clone();
            *cut.pointer_mut(pointer).unwrap() = Value::Null;
            match try_read(&cut) {
                Err(PdfError::Field { field, .. }) => assert_eq!(field, path),
                other => panic!("{path}: {:?}", other.map(|d| d.number)),
            }
        }
    }

    #[test]
    fn a_gap_is_never_dropped_in_silence() {
        let mut data = minimal();
        data["lots"][0]["findings"] = json!([{"verdict": "met"}, {"verdict": "not met"}]);
        let error = try_read(&data).err().unwrap();
        assert!(error.to_string().contains("lots[0].findings[1].verdict"), "{error}");
    }

    #[test]
    fn hidden_and_unknown_characters_are_refused_by_place() {
        let mut data = minimal();
        data["purchaser"]["address"][0] = json!("a\u{202e}b");
        let error = try_read(&data).err().unwrap();
        assert_eq!(
            error,
            PdfError::Unprintable { field: "purchaser.address[0]".into(), chars: "U+202E".into() }
        );
        data["purchaser"]["address"][0] = json!("字");
        let error = try_read(&data).err().unwrap();
        assert!(
            matches!(&error, PdfError::NoGlyph { field, .. } if field == "purchaser.address[0]"),
            "{error}"
        );
        assert!(error.to_string().contains("U+5B57"));
    }

    #[test]
    fn texts_beyond_measure_are_refused() {
        let mut data = minimal();
        data["not_covered"] = json!(vec!["x".repeat(LONGEST); 64]);
        let error = try_read(&data).err().unwrap();
        assert!(error.to_string().contains("not_covered[63]"), "{error}");
        data["not_covered"] = json!(["x".repeat(LONGEST + 1)]);
        assert!(try_read(&data).is_err());
        data["not_covered"] = json!(["x".repeat(LONGEST)]);
        assert!(try_read(&data).is_ok());
    }

    #[test]
    fn right_to_left_texts_are_isolated() {
        let mut data = minimal();
        data["purchaser"]["name"] = json!("שלום");
        let read = try_read(&data).unwrap();
        assert_eq!(read.value["purchaser"]["name"], "\u{2068}שלום\u{2069}");
    }

    #[test]
    fn numbers_that_are_no_file_names_are_refused() {
        for bad in ["", "a/b", "a b", "..", "ä", &"x".repeat(65)] {
            let mut data = minimal();
            data["number"] = json!(bad);
            assert!(try_read(&data).is_err(), "{bad}");
        }
    }
}
