//! What changed against the certificate an amendment replaces, as printed: each field with what it was, what it is
//! and why, and the rows of the page that read differently.

use serde::Deserialize;
use serde::Serialize;
use serde_json::Value;

use crate::certificate::CertifiedLot;
use crate::correction::NOTHING;

/// What stands in place of a value the reader is not shown.
pub const WITHHELD: &str = super::withheld::WITHHELD;

/// One field that reads differently.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedChange {
    /// Which, in words.
    pub what: String,
    /// Its place in the data: `lots[0].record.runs[0].steps[1].passivate.temperature`.
    pub at: String,
    /// What the replaced certificate says, or `nothing`, or `withheld`.
    pub was: String,
    /// What this one says, or `nothing`, or `withheld`.
    pub now: String,
    /// Why: the correction's own reason, else the amendment's.
    pub why: String,
    /// Where the values are withheld: the salted digest that binds them to the replaced certificate. The lot's own
    /// digest binds them to this one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub old_digest: Option<String>,
}

impl PrintedChange {
    /// The change on one line.
    pub fn words(&self) -> String {
        let ticked = |text: &str| match text {
            NOTHING => NOTHING.to_owned(),
            text => format!("`{text}`"),
        };
        match self.was == WITHHELD && self.now == WITHHELD {
            true => format!("{}: changed; both values are withheld", self.at),
            false => format!("{}: {} became {}", self.at, ticked(&self.was), ticked(&self.now)),
        }
    }
}

/// A row of the page that reads differently from the replaced certificate's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangedRow {
    /// Which lot, from 0.
    pub lot: u64,
    /// `treatments`, `tests`, `findings`, `dates`, or `lot` for its particulars.
    pub table: String,
    /// The row from 0; of findings their requirement and place, of dates and particulars their name.
    pub row: String,
}

/// The tables whose rows are told by their turn.
const TURNS: [&str; 2] = ["treatments", "tests"];
/// The particulars printed above the tables.
const PARTICULARS: [&str; 6] = ["part", "revision", "quantity", "description", "material", "counts"];

/// How a finding is told: requirement and place.
fn judged(finding: &Value) -> String {
    let text = |key: &str| finding.get(key).and_then(Value::as_str).unwrap_or_default();
    format!("{} {}", text("requirement"), text("where"))
}

/// The rows that read differently. Both lots are as their readers see them, so that no mark tells what is withheld.
pub fn changed_rows(old: &[CertifiedLot], new: &[CertifiedLot]) -> Vec<ChangedRow> {
    let mut all = Vec::new();
    for (turn, lot) in new.iter().enumerate() {
        let tree = |lot: &CertifiedLot| serde_json::to_value(lot).unwrap_or(Value::Null);
        let (now, was) = (tree(lot), old.get(turn).map_or(Value::Null, tree));
        let lot = u64::try_from(turn).unwrap_or(u64::MAX);
        let mut mark = |table: &str, row: String| all.push(ChangedRow { lot, table: table.to_owned(), row });
        for name in PARTICULARS {
            if now.get(name) != was.get(name) {
                mark("lot", name.to_owned());
            }
        }
        let rows = |tree: &Value, table: &str| -> Vec<Value> {
            tree.get(table).and_then(Value::as_array).cloned().unwrap_or_default()
        };
        for table in TURNS {
            let mut before = rows(&was, table);
            for (at, row) in rows(&now, table).iter().enumerate() {
                // Each row of before explains one of now, not two.
                match before.iter().position(|b| b == row) {
                    Some(same) => drop(before.swap_remove(same)),
                    None => mark(table, at.to_string()),
                }
            }
        }
        let before = rows(&was, "dates");
        for date in rows(&now, "dates").iter().filter(|d| !before.contains(d)) {
            mark("dates", date.get("what").and_then(Value::as_str).unwrap_or_default().to_owned());
        }
        let before = rows(&was, "findings");
        for finding in rows(&now, "findings").iter().filter(|f| !before.contains(f)) {
            mark("findings", judged(finding));
        }
    }
    all
}
