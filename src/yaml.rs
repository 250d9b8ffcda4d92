//! Reading the shop's files: YAML text into a document, or one placed fault; a path into line and column.
//!
//! Strict on purpose. A duplicate key would lose a reading in silence, so it is a fault; so are merge
//! keys, tags, `yes` for true, two documents in one file, and a file grown beyond any record.

mod edit;
mod item;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde::de::MapAccess;
use serde::de::SeqAccess;
use serde::de::Visitor;
use serde_yaml::Spanned;

use crate::path::Path;
use crate::path::Segment;

pub use edit::append;
pub use edit::scalar;
pub use edit::set;
pub use item::append_item;

/// Why a text is not the document expected, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{line}:{column}: {message}")]
pub struct Fault {
    /// Line, from 1; 0 when the fault has no place.
    pub line: u64,
    /// Column in characters, from 1.
    pub column: u64,
    /// What was found and what was expected.
    pub message: String,
    /// How to mend it.
    pub hint: Option<String>,
}

impl Fault {
    /// How to mend it, where there is a better answer than the message.
    pub fn hint(&self) -> Option<String> {
        self.hint.clone()
    }
}

/// Largest file read, in bytes: a thousand times a large record.
pub const LARGEST: usize = 4 << 20;

fn options() -> serde_yaml::Options {
    serde_yaml::options! {
        budget: serde_yaml::budget! {
            max_depth: 32,
            max_documents: 1,
            max_aliases: 0,
            max_anchors: 0,
            max_nodes: 200_000,
            max_events: 500_000,
        },
        duplicate_keys: serde_yaml::DuplicateKeyPolicy::Error,
        merge_keys: serde_yaml::MergeKeyPolicy::Error,
        strict_booleans: true,
        leading_zero_numbers_as_strings: true,
        underscored_numbers_as_strings: true,
        reject_unsupported_tags: true,
        with_snippet: false,
    }
}

/// Reads one document. The error is the first fault of the text, with its place.
pub fn parse<T: DeserializeOwned>(text: &str) -> Result<T, Fault> {
    if text.len() > LARGEST {
        return Err(Fault {
            line: 0,
            column: 0,
            message: format!("the file has {} bytes; no record needs more than {LARGEST}", text.len()),
            hint: Some("split it, or check that it is the right file".to_owned()),
        });
    }
    serde_yaml::from_str_with_options(text, options()).map_err(|error| fault(&error))
}

fn fault(error: &serde_yaml::Error) -> Fault {
    use serde_yaml::Error as E;
    let error = error.without_snippet();
    let place = error.location();
    let (line, column) = place.map_or((0, 0), |l| (l.line(), l.column()));
    let (message, hint) = match error {
        E::SerdeUnknownField { field, expected, .. } => {
            (format!("unknown key `{field}`"), choice(field, expected))
        }
        E::SerdeUnknownVariant { variant, expected, .. } => {
            (format!("`{variant}` is not known here"), choice(variant, expected))
        }
        E::SerdeMissingField { field, .. } => {
            (format!("the key `{field}` is missing in this block"), Some(format!("add `{field}:`")))
        }
        E::DuplicateMappingKey { key, .. } => (
            format!("the key `{}` stands twice in one block", key.as_deref().unwrap_or("?")),
            Some("keep the right one and remove the other".to_owned()),
        ),
        E::NullIntoString { .. } => ("nothing stands here, a text is expected".to_owned(), None),
        E::InvalidScalar { ty, .. } => {
            let wanted = match *ty {
                "u64" | "u32" | "usize" => "a whole number",
                "bool" => "true or false",
                other => other,
            };
            (format!("{wanted} is expected here"), None)
        }
        E::Eof { .. } => {
            ("the file is empty or breaks off".to_owned(), Some("check that it was saved whole".to_owned()))
        }
        E::MergeKeyNotAllowed { .. } => ("`<<` is not used in these files".to_owned(), None),
        E::Budget { .. } => (
            "the file is deeper, larger or more entangled than any record".to_owned(),
            Some("write it plainly: no anchors, no aliases".to_owned()),
        ),
        other => (plain(&other.to_string()), None),
    };
    // A text spanning lines may be quoted in it; a message stays on its own line.
    let message = message.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    Fault { line, column, message, hint }
}

/// The library's own message without the place it repeats.
fn plain(message: &str) -> String {
    let first = message.lines().next().unwrap_or_default();
    first.split(" at line ").next().unwrap_or(first).trim_start_matches("error: ").to_owned()
}

/// `did you mean`, or the list of what may stand there.
fn choice(found: &str, expected: &[&'static str]) -> Option<String> {
    let distance = |name: &str| strsim::damerau_levenshtein(name, found);
    let nearest = expected.iter().map(|name| distance(name)).min()?;
    let near: Vec<String> =
        expected.iter().filter(|name| distance(name) == nearest).map(|n| (*n).to_owned()).collect();
    Some(if nearest <= (found.chars().count() / 3).max(1) {
        format!("did you mean `{}`?", near.join("` or `"))
    } else {
        format!("one of: {}", expected.join(", "))
    })
}

/// A document as a tree with places, for turning paths into lines.
enum Node {
    Scalar(String),
    Sequence(Vec<Spanned<Node>>),
    Mapping(Vec<(Spanned<String>, Spanned<Node>)>),
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Node;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("any YAML")
            }
            fn visit_bool<E>(self, b: bool) -> Result<Node, E> {
                Ok(Node::Scalar(b.to_string()))
            }
            fn visit_i64<E>(self, n: i64) -> Result<Node, E> {
                Ok(Node::Scalar(n.to_string()))
            }
            fn visit_u64<E>(self, n: u64) -> Result<Node, E> {
                Ok(Node::Scalar(n.to_string()))
            }
            fn visit_f64<E>(self, x: f64) -> Result<Node, E> {
                Ok(Node::Scalar(x.to_string()))
            }
            fn visit_str<E>(self, s: &str) -> Result<Node, E> {
                Ok(Node::Scalar(s.to_string()))
            }
            fn visit_unit<E>(self) -> Result<Node, E> {
                Ok(Node::Scalar(String::new()))
            }
            fn visit_none<E>(self) -> Result<Node, E> {
                Ok(Node::Scalar(String::new()))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Node, A::Error> {
                let mut all = Vec::new();
                while let Some(item) = items.next_element()? {
                    all.push(item);
                }
                Ok(Node::Sequence(all))
            }
            fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Node, A::Error> {
                let mut all = Vec::new();
                while let Some(entry) = entries.next_entry()? {
                    all.push(entry);
                }
                Ok(Node::Mapping(all))
            }
        }
        deserializer.deserialize_any(Any)
    }
}

impl Node {
    fn first_value(&self) -> Option<&String> {
        match self {
            Node::Mapping(entries) => match entries.first().map(|(_, value)| &value.value) {
                Some(Node::Scalar(text)) => Some(text),
                _ => None,
            },
            _ => None,
        }
    }
}

/// A text read once, so that many paths can be turned into places.
pub struct Places(Option<Spanned<Node>>);

impl Places {
    /// Reads the text; a text that cannot be read has no places, and every path leads to its start.
    pub fn of(text: &str) -> Places {
        Places(serde_yaml::from_str_with_options(text, options()).ok())
    }

    /// Line and column, from 1, of the value at a path; of its nearest ancestor that exists otherwise, so
    /// that something missing points at the block that lacks it.
    pub fn find(&self, path: &Path) -> (u64, u64) {
        let Some(mut here) = self.0.as_ref() else { return (1, 1) };
        let mut key_place = None;
        for segment in path.segments() {
            match (segment, &here.value) {
                (Segment::Key(key), Node::Mapping(entries)) => {
                    let Some((k, value)) = entries.iter().find(|(k, _)| k.value == *key) else { break };
                    key_place = Some(k.referenced);
                    here = value;
                }
                // An item of a list by its name: the one whose first value is the key.
                (Segment::Key(key), Node::Sequence(items)) => {
                    let Some(item) = items.iter().find(|item| item.value.first_value() == Some(key)) else {
                        break;
                    };
                    key_place = None;
                    here = item;
                }
                (Segment::Index(index), Node::Sequence(items)) => {
                    let Some(item) = items.get(*index) else { break };
                    key_place = None;
                    here = item;
                }
                _ => break,
            }
        }
        shown(here, key_place)
    }

    /// The value that [`Places::find`] shows at a line and column; the innermost, where several begin there.
    pub fn at(&self, line: u64, column: u64) -> Option<Path> {
        let mut found = None;
        if let Some(root) = &self.0 {
            seek(root, None, &Path::root(), (line, column), &mut found);
        }
        found
    }
}

/// A block value begins on the line after its key; the key is where a person looks.
fn shown(node: &Spanned<Node>, key: Option<serde_yaml::Location>) -> (u64, u64) {
    let place = match (&node.value, key) {
        (Node::Scalar(_), _) | (_, None) => node.referenced,
        (_, Some(key)) => key,
    };
    (place.line().max(1), place.column().max(1))
}

fn seek(
    node: &Spanned<Node>,
    key: Option<serde_yaml::Location>,
    path: &Path,
    place: (u64, u64),
    found: &mut Option<Path>,
) {
    if shown(node, key) == place {
        *found = Some(path.clone());
    }
    match &node.value {
        Node::Scalar(_) => {}
        Node::Sequence(items) => {
            for (index, item) in items.iter().enumerate() {
                seek(item, None, &path.index(index), place, found);
            }
        }
        Node::Mapping(entries) => {
            for (key, value) in entries {
                seek(value, Some(key.referenced), &path.key(&key.value), place, found);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Quantity;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Step {
        #[allow(dead_code)]
        temperature: Quantity,
        #[allow(dead_code)]
        pieces: u64,
    }
    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Doc {
        #[allow(dead_code)]
        steps: Vec<Step>,
    }

    fn message(text: &str) -> String {
        let fault = parse::<Doc>(text).unwrap_err();
        format!("{fault} | {}", fault.hint.clone().unwrap_or_default())
    }

    #[test]
    fn faults_have_place_and_mend() {
        let cases = [
            (
                "steps:\n  - { temprature: 78 °F, pieces: 4 }\n",
                "2:7: unknown key `temprature` | did you mean `temperature`?",
            ),
            (
                "steps:\n  - { temperature: 78, pieces: 4 }\n",
                "2:20: `78` has no unit: expected a number and a unit, as in `78 °F` or `24.6 vol%` | ",
            ),
            (
                "steps:\n  - temperature: 78 °F\n    pieces: 4\n    pieces: 5\n",
                "4:5: the key `pieces` stands twice in one block | keep the right one and remove the other",
            ),
            (
                "steps:\n  - { temperature: 1,5 °F, pieces: 4 }\n",
                "2:20: `1` has no unit: expected a number and a unit, as in `78 °F` or `24.6 vol%` | ",
            ),
            (
                "steps:\n  - { temperature: 78 °F, pieces: many }\n",
                "2:35: a whole number is expected here | ",
            ),
            (
                "steps:\n  - { pieces: 4 }\n",
                "2:7: the key `temperature` is missing in this block | add `temperature:`",
            ),
            ("", ""),
            ("steps: [", ""),
            ("a: &x 1\nb: *x\n", ""),
        ];
        for (text, expected) in cases {
            let found = message(text);
            if !expected.is_empty() {
                assert_eq!(found, expected);
            }
            assert!(!found.contains(" at line "), "{found}");
        }
    }

    #[test]
    fn entangled_or_huge_is_refused_quickly() {
        assert!(parse::<Doc>(&"[".repeat(100_000)).is_err());
        assert!(parse::<Doc>(&"x".repeat(LARGEST + 1)).is_err());
    }

    #[test]
    fn paths_lead_to_lines() {
        let text =
            "lot: L-1\nruns:\n  - run: 1\n    steps:\n      - passivate: { bath: N-2, temperature: 91 °F }\n";
        let places = Places::of(text);
        let at = |path: &str| places.find(&path.parse().unwrap());
        assert_eq!(at("runs[0].steps[0].passivate.temperature"), (5, 46));
        assert_eq!(at("runs[0].steps[0].passivate.time"), (5, 9));
        assert_eq!(at("runs[0].steps[3]"), (4, 5));
        assert_eq!(at("tests"), (1, 1));
        assert_eq!(at("lot"), (1, 6));
        assert_eq!(at("runs.1.steps"), (4, 5));
        let back = |line, column| places.at(line, column).map(|path| path.to_string());
        assert_eq!(back(5, 46).as_deref(), Some("runs[0].steps[0].passivate.temperature"));
        assert_eq!(back(5, 9).as_deref(), Some("runs[0].steps[0].passivate"));
        assert_eq!(back(1, 6).as_deref(), Some("lot"));
        assert_eq!(back(9, 9), None);
    }
}
