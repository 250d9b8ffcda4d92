//! What changed between a certificate and the one that replaces it: value by value with the reason of each, and which
//! printed rows are other than they were.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde_json::Value;

use crate::app::error::Error;
use crate::app::issue::Shipment;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::certificate::ChangedValue;
use crate::certificate::Datum;
use crate::correction::Correction;
use crate::correction::NOTHING;
use crate::judge;
use crate::judge::Dossier;
use crate::shop::Shop;

/// One change between what a certificate says and what it would say now.
pub struct Change {
    /// As printed.
    pub value: ChangedValue,
    /// Whether the parts were judged by it.
    pub judged: bool,
}

/// Every change, in the order of the certificate. `old` with its evidence put back; `why` is the amendment's reason,
/// for what no correction explains.
///
/// # Errors
/// When the data cannot be written as JSON, which is not expected.
pub fn changes(old: &Certificate, shipment: &Shipment, shop: &Shop, why: &str) -> Result<Vec<Change>, Error> {
    let mut found = Found { why, all: Vec::new() };
    found.heads(old, shipment, shop);
    let (mut lots, mut later): (Vec<CertifiedLot>, Vec<String>) = (Vec::new(), Vec::new());
    for (turn, lot) in shipment.lots.iter().enumerate() {
        let mut dossier = lot.case.dossier.clone();
        later.extend(judge::later_requirements(&dossier));
        // Seen as the old one was: what is newly shown or withheld is no change in what was found.
        if let Some(Datum::Disclosed(before)) = old.lots.get(turn).map(|l| &l.dossier) {
            let papers = |d: &Dossier| {
                (d.order.discloses, d.part.discloses, d.order.controlled.clone(), d.part.controlled.clone())
            };
            if papers(before) != papers(&dossier) {
                let what =
                    format!("lot {}: what is disclosed, or its control marking", lot.case.dossier.record.lot);
                found.add(format!("lots[{turn}]"), what, [String::new(), String::new()], false, None);
            }
            (
                dossier.order.discloses,
                dossier.part.discloses,
                dossier.order.controlled,
                dossier.part.controlled,
            ) = papers(before);
        }
        lots.push(certificate::certified_lot(dossier, lot.findings.clone(), lot.quantity));
    }
    let value =
        |lot: Option<&CertifiedLot>| serde_json::to_value(lot).map_err(|e| Error::cannot(e.to_string(), ""));
    for turn in 0..old.lots.len().max(lots.len()) {
        let (before, now) = (old.lots.get(turn), lots.get(turn));
        let at = At {
            turn,
            lot: now.or(before).map(|lot| lot.lot.as_str()).unwrap_or_default(),
            old: before.and_then(dossier_of),
            new: now.and_then(dossier_of),
        };
        let from = found.all.len();
        let [mut before, mut now] = [value(before)?, value(now)?];
        found.findings(&at, &findings(&mut before, &later), &findings(&mut now, &later));
        found.walk(&at, "", &without_later(before), &without_later(now));
        let hidden = at.new.is_some_and(|dossier| !certificate::withheld(dossier).is_empty());
        if hidden {
            for change in found.all.iter_mut().skip(from) {
                change.value.was = certificate::WITHHELD.to_owned();
                change.value.now = certificate::WITHHELD.to_owned();
            }
        }
    }
    Ok(found.all)
}

fn dossier_of(lot: &CertifiedLot) -> Option<&Dossier> {
    match &lot.dossier {
        Datum::Disclosed(dossier) => Some(dossier),
        Datum::Withheld(_) => None,
    }
}

/// Where a change is looked for.
struct At<'a> {
    turn: usize,
    lot: &'a str,
    old: Option<&'a Dossier>,
    new: Option<&'a Dossier>,
}

struct Found<'a> {
    why: &'a str,
    all: Vec<Change>,
}

/// Takes the findings out of a lot, those apart that speak of what was found after use: of a shipment that conforms it
/// is in order, and not what changed. By requirement and part of the lot, as they have no lasting place in the list.
fn findings(lot: &mut Value, later: &[String]) -> BTreeMap<(String, String), Value> {
    let taken = lot.as_object_mut().and_then(|lot| lot.remove("findings"));
    let text =
        |finding: &Value, key: &str| finding.get(key).and_then(Value::as_str).unwrap_or_default().to_owned();
    let mut all = BTreeMap::new();
    for finding in taken.iter().filter_map(Value::as_array).flatten() {
        let (requirement, place) = (text(finding, "requirement"), text(finding, "where"));
        if later.contains(&requirement) {
            continue;
        }
        let mut key = (requirement, place);
        // Two of one requirement at one place: the second under a name of its own.
        while all.contains_key(&key) {
            key.1.push('\'');
        }
        all.insert(key, finding.clone());
    }
    all
}

fn without_later(mut lot: Value) -> Value {
    let dossier = lot.get_mut("dossier").and_then(|d| d.get_mut("disclosed"));
    if let Some(dossier) = dossier.and_then(Value::as_object_mut) {
        dossier.remove("later");
    }
    lot
}

/// Printed copies of recorded facts, directly under a lot; a record's own tests, counts and material are the facts.
const DERIVED: [&str; 18] = [
    "treatments",
    "tests",
    "counts",
    "dates",
    "call_outs",
    "material",
    "description",
    "statements",
    "fields",
    "deviations",
    "conversions",
    "corrections",
    "entered_late",
    "withheld",
    "controlled",
    "sampling",
    "pictures",
    "pieces_notes",
];
/// Of a record or its papers, what no part was judged by.
const CLERICAL: [&str; 6] =
    [".remarks", ".note", ".purchaser_lot", ".order.dated", ".part.description", ".heats"];

impl Found<'_> {
    fn add(&mut self, at: String, what: String, [was, now]: [String; 2], judged: bool, why: Option<&str>) {
        let why = why.unwrap_or(self.why).to_owned();
        self.all.push(Change { value: ChangedValue { what, at, was, now, why }, judged });
    }

    /// Names and addresses, which no part was judged by.
    fn heads(&mut self, old: &Certificate, shipment: &Shipment, shop: &Shop) {
        let lines = |address: &[String]| address.join(", ");
        let purchaser = shipment.purchaser();
        let rows = [
            ("purchaser.name", "purchaser's name", old.purchaser.name.clone(), purchaser.name.clone()),
            (
                "purchaser.address",
                "purchaser's address",
                lines(&old.purchaser.address),
                lines(&purchaser.address),
            ),
            ("issuer.name", "shop's name", old.issuer.name.clone(), shop.name.clone()),
            ("issuer.address", "shop's address", lines(&old.issuer.address), lines(&shop.address)),
            ("issuer.contact", "whom to ring or write", old.issuer.contact.clone(), shop.contact.clone()),
        ];
        for (at, what, was, now) in rows {
            if was != now {
                self.add(at.to_owned(), what.to_owned(), [was, now], false, None);
            }
        }
    }

    fn findings(
        &mut self,
        at: &At,
        old: &BTreeMap<(String, String), Value>,
        new: &BTreeMap<(String, String), Value>,
    ) {
        let keys: BTreeSet<_> = old.keys().chain(new.keys()).collect();
        for key in keys {
            let (was, now) = (old.get(key), new.get(key));
            let subject =
                now.or(was).and_then(|f| f.get("subject")).and_then(Value::as_str).unwrap_or_default();
            let place = if key.1 == "lot" { String::new() } else { format!(", {}", key.1) };
            for member in ["limit", "observed", "verdict"] {
                let of = |finding: Option<&Value>| text(finding.and_then(|f| f.get(member)));
                let both = [of(was), of(now)];
                if both[0] == both[1] {
                    continue;
                }
                let said = if member == "observed" { "found" } else { member };
                let path = format!("lots[{}].findings[{}{place}].{member}", at.turn, key.0);
                self.add(
                    path,
                    at.named(format!("requirement on {subject}{place}: {said}")),
                    both,
                    true,
                    None,
                );
            }
        }
    }

    /// Compares two values; each leaf that differs is one change.
    fn walk(&mut self, at: &At, path: &str, old: &Value, new: &Value) {
        match (old, new) {
            (Value::Object(a), Value::Object(b)) => {
                let mut keys: Vec<&String> =
                    a.keys().chain(b.keys().filter(|k| !a.contains_key(*k))).collect();
                keys.sort();
                for key in keys {
                    let derived = path.is_empty() && DERIVED.contains(&key.as_str());
                    // Corrections and what the journal says of them explain changes; they are none.
                    let explains = path.ends_with(".dossier.disclosed")
                        && (key == "checks" || key == "corrections")
                        || path.ends_with(".record") && key == "corrections";
                    if derived || explains {
                        continue;
                    }
                    let next = format!("{path}.{key}");
                    let of = |members: &serde_json::Map<String, Value>| {
                        members.get(key).cloned().unwrap_or_default()
                    };
                    self.walk(at, &next, &of(a), &of(b));
                }
            }
            (Value::Array(a), Value::Array(b)) => {
                for i in 0..a.len().max(b.len()) {
                    let next = format!("{path}[{i}]");
                    let of = |items: &[Value]| items.get(i).cloned().unwrap_or_default();
                    self.walk(at, &next, &of(a), &of(b));
                }
            }
            (a, b) if a == b => {}
            (a, b) => {
                let plain = path.replace(".dossier.disclosed", "");
                let judged = !CLERICAL.iter().any(|c| plain.contains(c));
                let both = [text(Some(a)), text(Some(b))];
                let why = at.why(&plain, &both).map(str::to_owned);
                let what = at.what(plain.trim_start_matches('.'));
                self.add(format!("lots[{}]{plain}", at.turn), what, both, judged, why.as_deref());
            }
        }
    }
}

impl At<'_> {
    fn named(&self, what: String) -> String {
        format!("lot {}: {what}", self.lot)
    }

    /// A place in words.
    fn what(&self, path: &str) -> String {
        let in_record = path.strip_prefix("record.").and_then(|place| Some((place, self.new.or(self.old)?)));
        self.named(match in_record {
            Some((place, dossier)) => certificate::in_record(&dossier.record, place),
            None => in_papers(path),
        })
    }

    /// The reason of the correction that made this change: one the old certificate did not have.
    fn why(&self, path: &str, [_, now]: &[String; 2]) -> Option<&str> {
        let (new, old) = (self.new?, self.old);
        let known = |c: &&Correction| {
            let before = old.into_iter().flat_map(|d| d.record.corrections.iter().chain(&d.corrections));
            !before.into_iter().any(|b| b == *c)
        };
        let path = path.trim_start_matches('.');
        let last = path.rsplit('.').next().unwrap_or_default();
        let own = path.strip_prefix("record.").map(|place| {
            new.record.corrections.iter().filter(known).filter(move |c| c.at == place).collect::<Vec<_>>()
        });
        let book = || {
            new.corrections.iter().filter(known).filter(|c| c.now == *now && c.at.ends_with(last)).collect()
        };
        own.unwrap_or_else(book).last().map(|c| c.why.as_str())
    }
}

/// A place of the other papers in words: `baths 1, analyses 2, found, nitric acid`.
fn in_papers(path: &str) -> String {
    let words = path.split('.').map(|part| match part.split_once('[') {
        Some((name, index)) => match index.trim_end_matches(']').parse::<usize>() {
            Ok(index) => format!("{} {}", name.replace('_', " "), index.saturating_add(1)),
            Err(_) => part.replace('_', " "),
        },
        None => part.replace('_', " "),
    });
    words.collect::<Vec<_>>().join(", ")
}

fn text(value: Option<&Value>) -> String {
    match value {
        None | Some(Value::Null) => NOTHING.to_owned(),
        Some(Value::String(text)) => text.clone(),
        Some(Value::Object(_) | Value::Array(_)) => "several entries".to_owned(),
        Some(other) => other.to_string(),
    }
}

/// Lists of a lot whose items are printed as rows.
const ROWS: [&str; 3] = ["treatments", "tests", "sampling"];
/// Members of a lot that are printed once.
const SINGLE: [&str; 4] = ["quantity", "description", "material", "counts"];

/// Which printed rows of the new certificate stand in no row of the old one: `lots[0].tests[1]`. A row that merely
/// moved is not among them.
pub fn marked(old: &Certificate, new: &Certificate) -> Vec<String> {
    let mut all = Vec::new();
    for (turn, line) in new.shipment.lines.iter().enumerate() {
        if !old.shipment.lines.contains(line) {
            all.push(format!("shipment.lines[{turn}]"));
        }
    }
    if old.purchaser != new.purchaser {
        all.push("purchaser".to_owned());
    }
    for (turn, lot) in new.lots.iter().enumerate() {
        let value = |lot: &CertifiedLot| serde_json::to_value(lot).unwrap_or_default();
        let before = old.lots.iter().find(|o| o.lot == lot.lot).map(value).unwrap_or_default();
        let now = value(lot);
        for member in SINGLE {
            if before.get(member) != now.get(member) {
                all.push(format!("lots[{turn}].{member}"));
            }
        }
        let rows =
            |of: &Value, list: &str| of.get(list).and_then(Value::as_array).cloned().unwrap_or_default();
        for list in ROWS {
            let known = rows(&before, list);
            let other = rows(&now, list).into_iter().enumerate().filter(|(_, row)| !known.contains(row));
            all.extend(other.map(|(i, _)| format!("lots[{turn}].{list}[{i}]")));
        }
        let known: Vec<Value> = rows(&before, "findings").into_iter().map(unplaced).collect();
        for finding in rows(&now, "findings").into_iter().map(unplaced).filter(|f| !known.contains(f)) {
            let text = |key: &str| finding.get(key).and_then(Value::as_str).unwrap_or_default();
            let place = if text("where") == "lot" { String::new() } else { format!(", {}", text("where")) };
            all.push(format!("lots[{turn}].findings[{}{place}]", text("requirement")));
        }
    }
    all
}

/// A row without where its evidence stands in the papers, which is not printed.
fn unplaced(mut row: Value) -> Value {
    if let Some(members) = row.as_object_mut() {
        members.remove("place");
    }
    row
}
