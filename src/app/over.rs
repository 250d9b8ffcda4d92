//! Pieces of an order line certified beyond what it asks: worth telling the shop, no reason to hold anything.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::register::Facet;
use crate::register::Query;
use crate::register::Register;
use crate::register::Status;
use crate::register::Term;

/// Order, line and release.
type Asked = (String, String, Option<String>);

/// The lines of a certificate's data, with their pieces.
fn lines(data: &[u8]) -> Vec<(Asked, u64)> {
    let Ok(value) = serde_json::from_slice::<Value>(data) else { return Vec::new() };
    let text = |line: &Value, key: &str| line.get(key).and_then(Value::as_str).map(str::to_owned);
    let all = value.pointer("/shipment/lines").and_then(Value::as_array).cloned().unwrap_or_default();
    all.iter()
        .filter_map(|line| {
            let asked = (text(line, "order")?, text(line, "line")?, text(line, "release"));
            Some((asked, line.get("quantity")?.as_u64()?))
        })
        .collect()
}

/// What is certified, over all certificates in force, beyond the quantity of the lines that a certificate names;
/// one line of words each.
pub fn shipped(book: &Book, register: &Register, number: &str) -> Result<Vec<String>, Error> {
    let Some(stored) = register.certificate(number)? else { return Ok(Vec::new()) };
    let mut certified: BTreeMap<Asked, u64> =
        lines(&stored.data).into_iter().map(|(asked, _)| (asked, 0)).collect();
    let orders: std::collections::BTreeSet<String> =
        certified.keys().map(|(order, _, _)| order.clone()).collect();
    for order in orders {
        let term = Term { facet: Some(Facet::PurchaseOrder), text: order, exact: true };
        for found in register.find(&Query {
            terms: vec![term],
            limit: u32::MAX,
            from: None,
            to: None,
            standing: None,
        })? {
            if found.status != Status::Current {
                continue;
            }
            let data = register.certificate(&found.number)?.map(|c| c.data).unwrap_or_default();
            for (asked, pieces) in lines(&data) {
                if let Some(sum) = certified.get_mut(&asked) {
                    *sum = sum.saturating_add(pieces);
                }
            }
        }
    }
    let mut told = Vec::new();
    for ((order, line, release), pieces) in certified {
        let known = book.orders.iter().find(|o| o.document.order == order);
        let known = known.and_then(|o| o.document.lines.iter().find(|l| l.line == line));
        let Some(quantity) = known.and_then(|l| l.asked(release.as_deref())) else { continue };
        if pieces > quantity {
            let of = release.map_or_else(String::new, |name| format!(" release {name}"));
            told.push(format!(
                "order {order} line {line}{of}: {pieces} pieces are certified, {quantity} were ordered"
            ));
        }
    }
    Ok(told)
}
