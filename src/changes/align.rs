//! Two trees against each other: which values differ, which are gone, which are new.
//!
//! Items of a list are paired in their order so that as many values as can be stay the same; a step entered
//! between two others changes neither. However they are paired, every earlier value is either found where its
//! item now stands or reported, so a clever order hides nothing.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Map;
use serde_json::Value;

use crate::correction::text;

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// Another value stands there.
    Other {
        /// Where, in the later tree.
        at: String,
        /// Before.
        was: String,
        /// Now.
        now: String,
    },
    /// A value is gone, or an item of a list.
    Gone {
        /// Where; for an item its list.
        at: String,
        /// Before.
        was: String,
    },
    /// A value is new, or an item of a list.
    New {
        /// Where, in the later tree.
        at: String,
        /// Now.
        value: String,
    },
}

/// Pairs beyond this are not weighed one by one but taken in turn.
const MOST_PAIRS: usize = 40_000;

/// Every difference between two trees.
pub fn differences(old: &Value, new: &Value) -> Vec<Difference> {
    let mut all = Vec::new();
    walk("", old, new, &mut all);
    all
}

fn below(at: &str, key: &str) -> String {
    if at.is_empty() { key.to_owned() } else { format!("{at}.{key}") }
}

fn walk(at: &str, old: &Value, new: &Value, all: &mut Vec<Difference>) {
    match (old, new) {
        (Value::Object(a), Value::Object(b)) => members(at, a, b, all),
        (Value::Array(a), Value::Array(b)) => items(at, a, b, all),
        (a, b) if a == b => {}
        (Value::Object(_) | Value::Array(_), _) | (_, Value::Object(_) | Value::Array(_)) => {
            gone(at, old, all);
            fresh(at, new, all);
        }
        (a, b) => all.push(Difference::Other { at: at.to_owned(), was: text(a), now: text(b) }),
    }
}

fn members(at: &str, old: &Map<String, Value>, new: &Map<String, Value>, all: &mut Vec<Difference>) {
    for (key, value) in old {
        match new.get(key) {
            Some(now) => walk(&below(at, key), value, now, all),
            None => gone(&below(at, key), value, all),
        }
    }
    for (key, value) in new.iter().filter(|(key, _)| !old.contains_key(*key)) {
        fresh(&below(at, key), value, all);
    }
}

fn gone(at: &str, value: &Value, all: &mut Vec<Difference>) {
    match value {
        Value::Object(members) => members.iter().for_each(|(key, value)| gone(&below(at, key), value, all)),
        Value::Array(items) => {
            all.extend(items.iter().map(|item| Difference::Gone { at: at.to_owned(), was: text(item) }));
        }
        other => all.push(Difference::Gone { at: at.to_owned(), was: text(other) }),
    }
}

fn fresh(at: &str, value: &Value, all: &mut Vec<Difference>) {
    match value {
        Value::Object(members) => members.iter().for_each(|(key, value)| fresh(&below(at, key), value, all)),
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                all.push(Difference::New { at: format!("{at}[{index}]"), value: text(item) });
            }
        }
        other => all.push(Difference::New { at: at.to_owned(), value: text(other) }),
    }
}

/// Readings, serial numbers and names of runs in another order are the same.
fn same_in_any_order(old: &[Value], new: &[Value]) -> bool {
    let plain = |items: &[Value]| !items.iter().any(|i| i.is_object() || i.is_array());
    let sorted = |items: &[Value]| {
        let mut all: Vec<String> = items.iter().map(text).collect();
        all.sort();
        all
    };
    old.len() == new.len() && plain(old) && plain(new) && sorted(old) == sorted(new)
}

fn items(at: &str, old: &[Value], new: &[Value], all: &mut Vec<Difference>) {
    if same_in_any_order(old, new) {
        return;
    }
    let pairs: BTreeMap<usize, usize> = pairs(old, new).into_iter().collect();
    let taken: BTreeSet<usize> = pairs.values().copied().collect();
    for (index, item) in old.iter().enumerate() {
        match pairs.get(&index).and_then(|place| Some((place, new.get(*place)?))) {
            Some((place, now)) => walk(&format!("{at}[{place}]"), item, now, all),
            None => all.push(Difference::Gone { at: at.to_owned(), was: text(item) }),
        }
    }
    for (index, item) in new.iter().enumerate().filter(|(index, _)| !taken.contains(index)) {
        all.push(Difference::New { at: format!("{at}[{index}]"), value: text(item) });
    }
}

/// What an item is, where its kind must be the same to be the same item: the key of a step, the name of a test.
fn kind(item: &Value) -> Option<&str> {
    let members = item.as_object()?;
    let mut each = members.iter();
    if let (Some((key, Value::Object(_))), None) = (each.next(), each.next()) {
        return Some(key);
    }
    ["test", "what", "run"].iter().find_map(|key| members.get(*key).and_then(Value::as_str))
}

/// How much two items have in common; `None` when they are different things.
fn likeness(old: &Value, new: &Value) -> Option<usize> {
    if kind(old) != kind(new) {
        return None;
    }
    Some(common(old, new).saturating_mul(2).saturating_add(1))
}

fn common(old: &Value, new: &Value) -> usize {
    match (old, new) {
        (Value::Object(a), Value::Object(b)) => {
            a.iter().filter_map(|(key, value)| Some(common(value, b.get(key)?))).sum()
        }
        (Value::Array(a), Value::Array(b)) => {
            if a == b {
                a.len().max(1)
            } else {
                a.iter().zip(b).map(|(a, b)| common(a, b)).sum()
            }
        }
        (a, b) => usize::from(a == b),
    }
}

/// Pairs of places, in order: those at both ends that are equal, and between them the pairing with most in common.
fn pairs(old: &[Value], new: &[Value]) -> Vec<(usize, usize)> {
    let shorter = old.len().min(new.len());
    let head = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let tail = old
        .iter()
        .rev()
        .zip(new.iter().rev())
        .take(shorter.saturating_sub(head))
        .take_while(|(a, b)| a == b)
        .count();
    let mut all: Vec<(usize, usize)> = (0..head).map(|i| (i, i)).collect();
    let middle_old = old.get(head..old.len().saturating_sub(tail)).unwrap_or_default();
    let middle_new = new.get(head..new.len().saturating_sub(tail)).unwrap_or_default();
    let between = if middle_old.len().saturating_mul(middle_new.len()) > MOST_PAIRS {
        (0..middle_old.len().min(middle_new.len())).map(|i| (i, i)).collect()
    } else {
        best(middle_old, middle_new)
    };
    all.extend(between.into_iter().map(|(a, b)| (a.saturating_add(head), b.saturating_add(head))));
    all.extend((1..=tail).rev().filter_map(|i| Some((old.len().checked_sub(i)?, new.len().checked_sub(i)?))));
    all
}

/// The pairing in order with the greatest likeness in all.
fn best(old: &[Value], new: &[Value]) -> Vec<(usize, usize)> {
    // `left[a][b]`: the most that old items from `a` and new items from `b` on can have in common.
    let mut left = vec![vec![0_usize; new.len().saturating_add(1)]; old.len().saturating_add(1)];
    let like: Vec<Vec<Option<usize>>> =
        old.iter().map(|a| new.iter().map(|b| likeness(a, b)).collect()).collect();
    let at =
        |table: &[Vec<usize>], a: usize, b: usize| table.get(a).and_then(|r| r.get(b)).copied().unwrap_or(0);
    let pair = |a: usize, b: usize| like.get(a).and_then(|r| r.get(b)).copied().flatten();
    for a in (0..old.len()).rev() {
        for b in (0..new.len()).rev() {
            let paired = pair(a, b).map(|likeness| likeness.saturating_add(at(&left, a + 1, b + 1)));
            let best = at(&left, a + 1, b).max(at(&left, a, b + 1)).max(paired.unwrap_or(0));
            if let Some(cell) = left.get_mut(a).and_then(|row| row.get_mut(b)) {
                *cell = best;
            }
        }
    }
    let (mut a, mut b) = (0, 0);
    let mut all = Vec::new();
    while a < old.len() && b < new.len() {
        let here = at(&left, a, b);
        let paired = pair(a, b).map(|likeness| likeness.saturating_add(at(&left, a + 1, b + 1)));
        if paired == Some(here) {
            all.push((a, b));
            a += 1;
            b += 1;
        } else if at(&left, a + 1, b) == here {
            a += 1;
        } else {
            b += 1;
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn said(old: &Value, new: &Value) -> Vec<String> {
        differences(old, new)
            .into_iter()
            .map(|d| match d {
                Difference::Other { at, was, now } => format!("{at}: {was} > {now}"),
                Difference::Gone { at, was } => format!("{at}: -{was}"),
                Difference::New { at, value } => format!("{at}: +{value}"),
            })
            .collect()
    }

    #[test]
    fn lists_are_paired_by_what_they_hold() {
        let rinse = |at: &str| json!({ "rinse": { "at": at, "by": "Q" } });
        let dry = json!({ "dry": { "at": "9", "by": "Q" } });
        let cases = [
            (
                json!([rinse("1"), dry]),
                json!([rinse("1"), rinse("2"), dry]),
                vec!["[1]: +rinse.at 2; rinse.by Q"],
            ),
            (
                json!([rinse("1"), rinse("2"), dry]),
                json!([rinse("2"), dry]),
                vec![": -rinse.at 1; rinse.by Q"],
            ),
            (json!([rinse("1"), dry]), json!([rinse("3"), dry]), vec!["[0].rinse.at: 1 > 3"]),
            (
                json!([dry]),
                json!([rinse("1")]),
                vec![": -dry.at 9; dry.by Q", "[0]: +rinse.at 1; rinse.by Q"],
            ),
            (json!(["a", "b"]), json!(["x", "a", "c"]), vec!["[2]: b > c", "[0]: +x"]),
            (json!({"a": "1", "b": ["2"]}), json!({"a": "1"}), vec!["b: -2"]),
            (json!({"a": "1"}), json!({"a": {"b": "1"}}), vec!["a: -1", "a.b: +1"]),
            (json!([1, 2]), json!([2, 1]), vec![]),
            (json!([1, 2, 2]), json!([2, 1, 1]), vec![": -1", "[1]: 2 > 1", "[2]: +1"]),
            (
                json!([dry, rinse("1")]),
                json!([rinse("1"), dry]),
                vec![": -dry.at 9; dry.by Q", "[1]: +dry.at 9; dry.by Q"],
            ),
        ];
        for (old, new, expected) in cases {
            assert_eq!(said(&old, &new), expected, "{old} {new}");
        }
    }

    #[test]
    fn long_lists_end_soon_and_nothing_is_lost() {
        let old: Vec<String> = (0..2_000).map(|i| format!("S{i}")).collect();
        let mut new = old.clone();
        new.rotate_left(1);
        assert_eq!(said(&json!(old), &json!(new)), Vec::<String>::new());
        new[7] = "S8x".to_owned();
        let found = said(&json!(old), &json!(new));
        assert_eq!(found.len(), 2_000);
        assert_eq!(said(&json!(old), &json!(old)), Vec::<String>::new());
    }
}
