//! Corrections: a value changed or entered late, with what stood there first, who changed it, when and why.
//!
//! A record carries those of its own values; `corrections.yaml` in the shop folder carries those of the shop's
//! book, of part specifications and orders. The first entry stays readable, as on paper: struck through once,
//! never erased.

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;

use crate::moment::Moment;
use crate::path::Path;
use crate::path::Segment;

/// What is written where no value stood, or none stands any more.
pub const NOTHING: &str = "nothing";

/// One value that was changed, entered late or taken out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// Where it stands, as reports print it: `runs[0].steps[1].passivate.temperature`. For an item taken out of
    /// a list: the list.
    pub at: String,
    /// What was written first, or `nothing`.
    pub was: String,
    /// What is written now, or `nothing`.
    pub now: String,
    /// Who changed it.
    pub by: String,
    /// When.
    pub when: Moment,
    /// Why.
    pub why: String,
}

/// Corrections of the shop's book (`corrections.yaml`), for every lot that rests on the row.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Corrections {
    /// In the order they were written.
    pub corrections: Vec<Correction>,
}

/// Something a correction may not say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CorrectionFault {
    /// Which correction, from 0.
    pub index: usize,
    /// Which of its keys.
    pub key: &'static str,
    /// What was found and what was expected.
    pub message: String,
    /// How to mend it.
    pub hint: &'static str,
}

/// Every value of a tree with its path below `at`; a list of plain values is one.
pub fn leaves(at: &str, value: &Value, all: &mut Vec<(String, String)>) {
    match value {
        Value::Object(members) => {
            for (key, member) in members {
                let path = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                leaves(&path, member, all);
            }
        }
        Value::Array(items) if items.iter().any(|i| i.is_object() || i.is_array()) => {
            for (index, item) in items.iter().enumerate() {
                leaves(&format!("{at}[{index}]"), item, all);
            }
        }
        other => all.push((at.to_owned(), text(other))),
    }
}

/// A value in words: as written; a block as its keys and values in turn.
pub fn text(value: &Value) -> String {
    match value {
        Value::Null => NOTHING.to_owned(),
        Value::String(text) => text.clone(),
        Value::Bool(_) | Value::Number(_) => value.to_string(),
        Value::Array(items) if !items.iter().any(|i| i.is_object() || i.is_array()) => {
            items.iter().map(text).collect::<Vec<_>>().join(", ")
        }
        Value::Array(_) | Value::Object(_) => {
            let mut all = Vec::new();
            leaves("", value, &mut all);
            all.iter().map(|(path, text)| format!("{path} {text}")).collect::<Vec<_>>().join("; ")
        }
    }
}

/// What stands at a path of a tree.
pub fn find<'a>(tree: &'a Value, at: &Path) -> Option<&'a Value> {
    at.segments().iter().try_fold(tree, |here, segment| match segment {
        Segment::Key(key) => here.get(key.as_str()),
        Segment::Index(index) => here.get(index),
    })
}

/// The first and the last instant named in a value.
fn span(value: &Value) -> Option<(Moment, Moment)> {
    match value {
        Value::String(text) => text.parse::<Moment>().ok().map(|at| (at, at)),
        Value::Array(items) => within(items.iter()),
        Value::Object(members) => within(members.values()),
        _ => None,
    }
}

fn within<'a>(values: impl Iterator<Item = &'a Value>) -> Option<(Moment, Moment)> {
    values.filter_map(span).reduce(|(a, b), (c, d)| (a.min(c), b.max(d)))
}

/// When what is written at a path happened: the instants of the nearest block around it that names any. `None`
/// when only the whole document does.
pub fn happened(tree: &Value, at: &Path) -> Option<(Moment, Moment)> {
    let mut around = Vec::new();
    let mut here = Some(tree);
    for segment in at.segments() {
        here = here.and_then(|value| match segment {
            Segment::Key(key) => value.get(key.as_str()),
            Segment::Index(index) => value.get(index),
        });
        // A list holds neighbours, not the thing itself.
        around.extend(here.filter(|value| value.is_object() || value.is_string()));
    }
    around.into_iter().rev().find_map(span)
}

/// Whether a value was entered only after the day it speaks of.
pub fn is_late(tree: &Value, correction: &Correction) -> bool {
    let path: Path = correction.at.parse().unwrap_or_default();
    let event = happened(tree, &path).or_else(|| span(tree));
    correction.was == NOTHING && event.is_some_and(|(_, end)| correction.when.date() > end.date())
}

/// What corrections of one document may not say: each names one value of it, and the last of a value leaves what
/// stands there now. One that began from a wrong value explains nothing and stands all the same; a further one mends it.
pub fn faults(tree: &Value, corrections: &[Correction]) -> Vec<CorrectionFault> {
    let mut all = Vec::new();
    for (index, correction) in corrections.iter().enumerate() {
        let mut say = |key, message: String, hint| all.push(CorrectionFault { index, key, message, hint });
        plain(correction, &mut say);
        let Some(path) = correction.at.parse::<Path>().ok().filter(|p| !p.segments().is_empty()) else {
            say("at", format!("`{}` is not a path", correction.at), "copy it from the report");
            continue;
        };
        if path.segments().first() == Some(&Segment::Key("corrections".to_owned())) {
            say(
                "at",
                "a correction is not corrected".to_owned(),
                "leave it as it is and add a further one of the same value",
            );
            continue;
        }
        match find(tree, &path) {
            Some(Value::Object(_)) => say(
                "at",
                format!("`{}` is a block of values", correction.at),
                "name one value, as in `runs[0].steps[1].passivate.temperature`",
            ),
            Some(Value::Array(_)) => {
                if correction.now != NOTHING {
                    let hint = "name the item, as in `serials[3]`; `now: nothing` takes one out of a list";
                    say("at", format!("`{}` is a list", correction.at), hint);
                }
            }
            value => {
                let standing = value.map_or_else(|| NOTHING.to_owned(), text);
                leaves_standing(corrections, index, &standing, &mut say);
            }
        }
        let block = path.parent().and_then(|p| find(tree, &p));
        let began = block
            .and_then(Value::as_object)
            .and_then(|b| within(b.values().filter(|v| v.is_string())).map(|(began, _)| began));
        if let Some(began) = began.filter(|began| correction.when < *began) {
            say(
                "when",
                format!("corrected {}, before it happened ({began})", correction.when),
                "correct one of the two",
            );
        }
    }
    all
}

/// What corrections of the shop's book may not say by themselves; the judge holds them against the rows.
pub fn plain_faults(corrections: &[Correction]) -> Vec<CorrectionFault> {
    let mut all = Vec::new();
    for (index, correction) in corrections.iter().enumerate() {
        plain(correction, &mut |key, message, hint| all.push(CorrectionFault { index, key, message, hint }));
    }
    all
}

fn plain(correction: &Correction, say: &mut impl FnMut(&'static str, String, &'static str)) {
    let Correction { at, was, now, by, when: _, why } = correction;
    for (key, value) in [("at", at), ("was", was), ("now", now), ("by", by), ("why", why)] {
        if value.trim().is_empty() {
            say(key, "nothing stands here".to_owned(), "say it; where no value stood, write `nothing`");
        } else if value.chars().any(char::is_control) {
            say(key, "this holds a character that cannot be printed".to_owned(), "type it again");
        }
    }
    if was == now {
        say("now", format!("`{now}` was there before"), "a correction changes something");
    }
}

/// The last correction of a value leaves what stands there now.
fn leaves_standing(
    corrections: &[Correction],
    index: usize,
    standing: &str,
    say: &mut impl FnMut(&'static str, String, &'static str),
) {
    let Some(this) = corrections.get(index) else { return };
    let last = !corrections.iter().skip(index.saturating_add(1)).any(|c| c.at == this.at);
    if last && this.now != standing {
        let message = format!("`{}` is said to stand at {}, `{standing}` does", this.now, this.at);
        say("now", message, "write what stands there now, as the record writes it");
    }
}

/// Whether corrections lead from an earlier value at `at` to the present one.
pub fn leads<'a>(
    corrections: impl Iterator<Item = &'a Correction> + Clone,
    at: &str,
    was: &str,
    now: &str,
) -> bool {
    let mut reached = vec![was.to_owned()];
    let mut next = 0;
    while let Some(here) = reached.get(next).cloned() {
        if here == now {
            return true;
        }
        for step in corrections.clone().filter(|c| c.at == at && c.was == here) {
            if !reached.contains(&step.now) {
                reached.push(step.now.clone());
            }
        }
        next += 1;
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn correction(at: &str, was: &str, now: &str) -> Correction {
        Correction {
            at: at.to_owned(),
            was: was.to_owned(),
            now: now.to_owned(),
            by: "M. Sorrel".to_owned(),
            when: "2026-11-25T08:00-05:00".parse().unwrap(),
            why: "read off the wrong gauge".to_owned(),
        }
    }

    fn tree() -> Value {
        json!({
            "lot": "L-1", "serials": ["A", "B"],
            "runs": [{ "run": "1", "steps": [
                { "passivate": { "in": "2026-11-24T09:40-05:00", "temperature": "89 °F" } },
                { "dry": { "by": "T. Quince" } },
            ]}],
        })
    }

    const T: &str = "runs[0].steps[0].passivate.temperature";

    #[test]
    fn a_correction_names_what_stands_there() {
        let good = [
            vec![correction(T, "91 °F", "89 °F")],
            vec![correction(T, "91 °F", "90 °F"), correction(T, "90 °F", "89 °F")],
            vec![correction(T, "nothing", "89 °F")],
            vec![correction(T, "19 °F", "89 °F"), correction(T, "91 °F", "89 °F")],
            vec![correction("runs[0].steps[0].passivate.time", "30 min", "nothing")],
            vec![correction("serials", "C", "nothing")],
            vec![correction("serials[1]", "C", "B")],
        ];
        for corrections in good {
            assert_eq!(faults(&tree(), &corrections), [], "{corrections:?}");
        }
        let mut early = correction(T, "91 °F", "89 °F");
        early.when = "2026-11-24T09:00-05:00".parse().unwrap();
        let mut blank = correction(T, "91 °F", "89 °F");
        blank.why = " ".to_owned();
        let bad = [
            (vec![correction(T, "91 °F", "88 °F")], "now"),
            (vec![correction(T, "89 °F", "89 °F")], "now"),
            (vec![correction("runs[0].steps[0].passivate", "x", "y")], "at"),
            (vec![correction("serials", "C", "D")], "at"),
            (vec![correction("corrections[0].why", "x", "y")], "at"),
            (vec![correction("runs[", "x", "y")], "at"),
            (vec![correction("lots", "x", "y")], "now"),
            (vec![early], "when"),
            (vec![blank], "why"),
        ];
        for (corrections, key) in bad {
            let found = faults(&tree(), &corrections);
            assert!(found.iter().any(|f| f.key == key), "{corrections:?}: {found:?}");
        }
    }

    #[test]
    fn a_chain_leads_or_does_not() {
        let all =
            [correction(T, "91 °F", "90 °F"), correction(T, "90 °F", "89 °F"), correction("lot", "a", "b")];
        assert!(leads(all.iter(), T, "91 °F", "89 °F"));
        assert!(!leads(all.iter(), T, "92 °F", "89 °F"));
        assert!(!leads(all.iter(), "lot", "91 °F", "89 °F"));
        let circle = [correction(T, "a", "b"), correction(T, "b", "a")];
        assert!(!leads(circle.iter(), T, "a", "c"));
    }

    #[test]
    fn late_is_after_the_day() {
        let mut late = correction(T, "nothing", "89 °F");
        assert!(is_late(&tree(), &late));
        late.when = "2026-11-24T23:00-05:00".parse().unwrap();
        assert!(!is_late(&tree(), &late));
        assert!(!is_late(&tree(), &correction(T, "91 °F", "89 °F")));
    }

    #[test]
    fn a_block_in_words() {
        assert_eq!(
            text(&json!({"rinse": {"at": "x", "covers": ["1", "2"]}})),
            "rinse.at x; rinse.covers 1, 2"
        );
        assert_eq!(text(&json!(240)), "240");
    }
}
