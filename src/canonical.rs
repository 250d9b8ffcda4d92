//! Canonical JSON (RFC 8785) and the stamp, which is its SHA-256.
//!
//! Rules of this module:
//! - One value has one text: names sorted by UTF-16 code units, no white space, no choice of escapes.
//! - A JSON number is a whole number within ±(2^53 − 1), or it is refused. A reader built on binary
//!   floating point would round anything else, and drop the trailing zeros of a measured value; so
//!   measured values are strings.
//! - Reading is stricter than JSON: a name given twice is refused, since readers disagree on which wins.

use std::cell::RefCell;
use std::fmt;

use serde::de;
use serde::de::DeserializeSeed;
use serde::de::Deserializer;
use serde::de::MapAccess;
use serde::de::SeqAccess;
use serde::de::Visitor;
use serde_json::Map;
use serde_json::Value;
use sha2::Digest;
use sha2::Sha256;
use thiserror::Error;

/// The largest whole number a JSON number may hold: 2^53 − 1 (RFC 7493 section 2.2).
pub const MAX_INTEGER: u64 = (1 << 53) - 1;

/// How many arrays and objects may lie inside one another.
pub const MAX_DEPTH: usize = 100;

/// Why a text or value has no canonical form here.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CanonicalError {
    /// A number that is not a whole number within ±(2^53 − 1).
    #[error("number {found} is not a whole number between -9007199254740991 and 9007199254740991")]
    Number {
        /// The number as read.
        found: String,
    },
    /// A name that stands twice in one object.
    #[error("name {name:?} is given twice in one object")]
    Duplicate {
        /// The name, escapes resolved.
        name: String,
    },
    /// More than [`MAX_DEPTH`] levels.
    #[error("arrays and objects lie more than {MAX_DEPTH} deep")]
    Depth,
    /// Not JSON, or not UTF-8.
    #[error("not JSON: {0}")]
    Syntax(String),
    /// Good JSON, but not in its canonical form.
    #[error("not in canonical form: differs from byte {offset} on")]
    NotCanonical {
        /// The first byte, counted from 0, that differs from the canonical form.
        offset: usize,
    },
    /// The writer refused; not expected for a value that passed the checks above.
    #[error("cannot be written: {0}")]
    Write(String),
}

impl CanonicalError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Number { .. } => Some("write it as a string, with the figures as they were read".into()),
            Self::Duplicate { .. } => Some("keep one of the two".into()),
            Self::NotCanonical { .. } => {
                Some("the text was edited or written by another tool; take the original file".into())
            }
            Self::Depth | Self::Syntax(_) | Self::Write(_) => None,
        }
    }
}

/// The canonical bytes of a value (RFC 8785).
///
/// # Errors
/// [`CanonicalError::Number`] and [`CanonicalError::Depth`].
pub fn canonical(value: &Value) -> Result<Vec<u8>, CanonicalError> {
    check(value, 0)?;
    write(value)
}

/// Reads JSON, refusing what two readers could take differently: names given twice (also when they
/// differ only by escapes), numbers that are not plain whole numbers, more than [`MAX_DEPTH`] levels.
///
/// # Errors
/// Every kind but [`CanonicalError::NotCanonical`] and [`CanonicalError::Write`].
pub fn parse_strict(bytes: &[u8]) -> Result<Value, CanonicalError> {
    let problem = RefCell::new(None);
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = Strict { depth: 0, problem: &problem }
        .deserialize(&mut reader)
        .and_then(|value| reader.end().map(|()| value));
    read.map_err(|error| problem.take().unwrap_or_else(|| CanonicalError::Syntax(error.to_string())))
}

/// [`parse_strict`], and the text must be the canonical form, byte for byte.
///
/// # Errors
/// As [`parse_strict`], and [`CanonicalError::NotCanonical`].
pub fn parse_canonical(bytes: &[u8]) -> Result<Value, CanonicalError> {
    let value = parse_strict(bytes)?;
    let expected = canonical(&value)?;
    if expected == bytes {
        return Ok(value);
    }
    let offset = expected.iter().zip(bytes).take_while(|(a, b)| a == b).count();
    Err(CanonicalError::NotCanonical { offset })
}

/// The stamp of some bytes: their SHA-256 (FIPS 180-4) in lower-case hex.
pub fn stamp(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

fn write(value: &Value) -> Result<Vec<u8>, CanonicalError> {
    serde_json_canonicalizer::to_vec(value).map_err(|error| CanonicalError::Write(error.to_string()))
}

fn check(value: &Value, depth: usize) -> Result<(), CanonicalError> {
    match value {
        Value::Null | Value::Bool(_) | Value::String(_) => Ok(()),
        Value::Number(number) => match (number.as_u64(), number.as_i64()) {
            (Some(n), _) if n <= MAX_INTEGER => Ok(()),
            (None, Some(n)) if n.unsigned_abs() <= MAX_INTEGER => Ok(()),
            _ => Err(CanonicalError::Number { found: number.to_string() }),
        },
        Value::Array(items) => {
            let depth = deeper(depth)?;
            items.iter().try_for_each(|item| check(item, depth))
        }
        Value::Object(members) => {
            let depth = deeper(depth)?;
            members.values().try_for_each(|item| check(item, depth))
        }
    }
}

fn deeper(depth: usize) -> Result<usize, CanonicalError> {
    if depth < MAX_DEPTH { Ok(depth + 1) } else { Err(CanonicalError::Depth) }
}

/// Builds a value while looking for what serde_json's own would let pass: it keeps the last of two
/// equal names in silence. The typed reason goes into `problem`, since serde errors are only text.
#[derive(Clone, Copy)]
struct Strict<'p> {
    depth: usize,
    problem: &'p RefCell<Option<CanonicalError>>,
}

impl Strict<'_> {
    fn refuse<E: de::Error>(&self, problem: CanonicalError) -> E {
        let error = E::custom(&problem);
        self.problem.replace(Some(problem));
        error
    }

    fn inner<E: de::Error>(self) -> Result<Self, E> {
        let depth = deeper(self.depth).map_err(|problem| self.refuse(problem))?;
        Ok(Self { depth, ..self })
    }

    fn number<E: de::Error>(self, value: Value) -> Result<Value, E> {
        check(&value, self.depth).map_err(|problem| self.refuse(problem))?;
        Ok(value)
    }
}

impl<'de> DeserializeSeed<'de> for Strict<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E: de::Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: de::Error>(self, found: bool) -> Result<Value, E> {
        Ok(Value::Bool(found))
    }

    fn visit_u64<E: de::Error>(self, found: u64) -> Result<Value, E> {
        self.number(Value::from(found))
    }

    fn visit_i64<E: de::Error>(self, found: i64) -> Result<Value, E> {
        self.number(Value::from(found))
    }

    fn visit_f64<E: de::Error>(self, found: f64) -> Result<Value, E> {
        Err(self.refuse(CanonicalError::Number { found: format!("{found:?}") }))
    }

    fn visit_str<E: de::Error>(self, found: &str) -> Result<Value, E> {
        Ok(Value::from(found))
    }

    fn visit_string<E: de::Error>(self, found: String) -> Result<Value, E> {
        Ok(Value::from(found))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let inner = self.inner()?;
        let mut found = Vec::new();
        while let Some(item) = items.next_element_seed(inner)? {
            found.push(item);
        }
        Ok(Value::Array(found))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Value, A::Error> {
        let inner = self.inner()?;
        let mut found = Map::new();
        while let Some(name) = members.next_key::<String>()? {
            if found.contains_key(&name) {
                return Err(self.refuse(CanonicalError::Duplicate { name }));
            }
            let value = members.next_value_seed(inner)?;
            found.insert(name, value);
        }
        Ok(Value::Object(found))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// RFC 8785 Appendix B. The library path, without our rule on whole numbers: a certificate never
    /// holds such numbers, but a dependency that turned on another number type would show here.
    #[test]
    fn numbers_of_appendix_b() {
        let rows: &[(u64, &str)] = &[
            (0x0000_0000_0000_0000, "0"),
            (0x8000_0000_0000_0000, "0"),
            (0x0000_0000_0000_0001, "5e-324"),
            (0x8000_0000_0000_0001, "-5e-324"),
            (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
            (0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308"),
            (0x4340_0000_0000_0000, "9007199254740992"),
            (0xc340_0000_0000_0000, "-9007199254740992"),
            (0x4430_0000_0000_0000, "295147905179352830000"),
            (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
            (0x44b5_2d02_c7e1_4af6, "1e+23"),
            (0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23"),
            (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
            (0x444b_1ae4_d6e2_ef4f, "999999999999999900000"),
            (0x444b_1ae4_d6e2_ef50, "1e+21"),
            (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
            (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
            (0x41b3_de43_5555_5553, "333333333.3333332"),
            (0x41b3_de43_5555_5554, "333333333.33333325"),
            (0x41b3_de43_5555_5555, "333333333.3333333"),
            (0x41b3_de43_5555_5556, "333333333.3333334"),
            (0x41b3_de43_5555_5557, "333333333.33333343"),
            (0xbecb_f647_612f_3696, "-0.0000033333333333333333"),
            (0x4314_3ff3_c1cb_0959, "1424953923781206.2"),
        ];
        for (bits, text) in rows {
            let written = write(&json!(f64::from_bits(*bits))).unwrap();
            assert_eq!(String::from_utf8(written).unwrap(), *text, "{bits:016x}");
        }
    }

    /// The six published samples, through the library path.
    #[test]
    fn published_samples() {
        let samples = [
            (
                include_str!("../tests/vectors/jcs/input/arrays.json"),
                include_str!("../tests/vectors/jcs/outhex/arrays.txt"),
            ),
            (
                include_str!("../tests/vectors/jcs/input/french.json"),
                include_str!("../tests/vectors/jcs/outhex/french.txt"),
            ),
            (
                include_str!("../tests/vectors/jcs/input/structures.json"),
                include_str!("../tests/vectors/jcs/outhex/structures.txt"),
            ),
            (
                include_str!("../tests/vectors/jcs/input/unicode.json"),
                include_str!("../tests/vectors/jcs/outhex/unicode.txt"),
            ),
            (
                include_str!("../tests/vectors/jcs/input/values.json"),
                include_str!("../tests/vectors/jcs/outhex/values.txt"),
            ),
            (
                include_str!("../tests/vectors/jcs/input/weird.json"),
                include_str!("../tests/vectors/jcs/outhex/weird.txt"),
            ),
        ];
        for (input, outhex) in samples {
            let value: Value = serde_json::from_str(input).unwrap();
            assert_eq!(hex::encode(write(&value).unwrap()), outhex.split_whitespace().collect::<String>());
        }
    }

    #[test]
    fn whole_numbers_within_53_bits_only() {
        for good in ["0", "-1", "240", "9007199254740991", "-9007199254740991"] {
            let value = parse_canonical(good.as_bytes()).unwrap();
            assert_eq!(canonical(&value).unwrap(), good.as_bytes());
        }
        for bad in [
            "9007199254740992",
            "-9007199254740992",
            "18446744073709551615",
            "0.5",
            "1.0",
            "1e2",
            "-0",
            "1e400",
        ] {
            assert!(parse_strict(bad.as_bytes()).is_err(), "{bad}");
        }
        assert!(matches!(canonical(&json!([1.5])), Err(CanonicalError::Number { .. })));
        assert!(matches!(canonical(&json!(u64::MAX)), Err(CanonicalError::Number { .. })));
        assert!(matches!(canonical(&json!(i64::MIN)), Err(CanonicalError::Number { .. })));
    }

    #[test]
    fn names_given_twice_are_refused() {
        let twice = CanonicalError::Duplicate { name: "a".into() };
        assert_eq!(parse_strict(br#"{"a":1,"a":2}"#), Err(twice.clone()));
        assert_eq!(parse_strict(br#"{"a":1,"\u0061":1}"#), Err(twice.clone()));
        assert_eq!(parse_strict(br#"[{"b":{"a":1,"c":2,"a":1}}]"#), Err(twice));
        assert!(parse_strict(br#"{"a":{"a":1}}"#).is_ok());
    }

    #[test]
    fn depth_is_bounded_on_both_ways() {
        let nested = |n: usize| format!("{}{}", "[".repeat(n), "]".repeat(n));
        let deep = parse_strict(nested(MAX_DEPTH).as_bytes()).unwrap();
        assert!(canonical(&deep).is_ok());
        assert_eq!(parse_strict(nested(MAX_DEPTH + 1).as_bytes()), Err(CanonicalError::Depth));
        assert_eq!(parse_strict(nested(100_000).as_bytes()), Err(CanonicalError::Depth));
        assert_eq!(canonical(&json!([deep])), Err(CanonicalError::Depth));
        let objects = format!("{}1{}", r#"{"a":"#.repeat(101), "}".repeat(101));
        assert_eq!(parse_strict(objects.as_bytes()), Err(CanonicalError::Depth));
    }

    #[test]
    fn canonical_text_only() {
        assert_eq!(parse_canonical(br#"{"a":1,"b":[]}"#).unwrap(), json!({"a": 1, "b": []}));
        for (text, offset) in [
            (r#"{"b":1,"a":2}"#, 2),
            (r#"{"a": 1}"#, 5),
            ("[1]\n", 3),
            (r#"["\u00b5m"]"#, 2),
            (r#"["\/"]"#, 2),
        ] {
            assert_eq!(
                parse_canonical(text.as_bytes()),
                Err(CanonicalError::NotCanonical { offset }),
                "{text}"
            );
        }
    }

    #[test]
    fn what_is_not_json() {
        for bad in [
            &b""[..],
            b"[1] x",
            b"[1][2]",
            b"[01]",
            b"{a:1}",
            b"[1,]",
            b"\"\\ud800\"",
            b"\xef\xbb\xbf[]",
            b"\"\xff\"",
            b"NaN",
        ] {
            assert!(matches!(parse_strict(bad), Err(CanonicalError::Syntax(_))), "{bad:?}");
        }
    }

    /// Two code points look alike; RFC 8785 does not normalise, so neither do we.
    #[test]
    fn the_two_micro_signs_stay_apart() {
        let a = canonical(&json!("16 \u{b5}in")).unwrap();
        let b = canonical(&json!("16 \u{3bc}in")).unwrap();
        assert_ne!(stamp(&a), stamp(&b));
    }

    #[test]
    fn hints_say_what_to_do() {
        let error = parse_strict(b"[0.180]").unwrap_err();
        assert_eq!(error.hint().as_deref(), Some("write it as a string, with the figures as they were read"));
    }
}
