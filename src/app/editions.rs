//! Which open orders call an edition: lines whose lots are not all certified.

use crate::app::book::Book;
use crate::app::desk::files;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::order::Line;
use crate::order::Order;
use crate::pack::Pack;
use crate::part::CallOut;
use crate::part::PartSpecification;
use crate::record::Record;
use crate::register::Register;

/// An order line that is not done, and that calls an edition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenLine {
    /// Order number.
    pub order: String,
    /// Line.
    pub line: String,
    /// Purchaser, by id.
    pub purchaser: String,
    /// Part and revision.
    pub part: String,
    /// What the call-out says, word for word.
    pub calls: String,
    /// Lots on record that are not wholly certified; empty where no lot was started yet.
    pub lots: Vec<String>,
}

/// Open lines that call this edition of this pack, by order and line.
///
/// # Errors
/// When the register cannot be read.
pub fn open_lines(book: &Book, pack: &Pack, edition: &str) -> Result<Vec<OpenLine>, Error> {
    // A folder that never issued has no register, and so nothing certified.
    let register = if book.folder.has(files::REGISTER) { Some(open_register(&book.folder)?) } else { None };
    let mut all = Vec::new();
    for order in book.orders.iter().map(|sourced| &sourced.document) {
        for line in &order.lines {
            let Some(calls) = called(book, order, line, pack, edition) else { continue };
            let lots: Vec<&Record> = book
                .all_records()
                .iter()
                .filter(|r| r.order.number == order.order && r.order.line == line.line)
                .collect();
            let mut open = Vec::new();
            for lot in &lots {
                if !is_certified(register.as_ref(), lot)? {
                    open.push(lot.lot.clone());
                }
            }
            if lots.is_empty() || !open.is_empty() {
                open.sort();
                all.push(OpenLine {
                    order: order.order.clone(),
                    line: line.line.clone(),
                    purchaser: order.purchaser.clone(),
                    part: format!("{} {}", line.part, line.revision),
                    calls,
                    lots: open,
                });
            }
        }
    }
    all.sort_by(|a, b| (&a.order, &a.line).cmp(&(&b.order, &b.line)));
    Ok(all)
}

/// Whether every accepted piece of a lot is on a certificate in force.
fn is_certified(register: Option<&Register>, lot: &Record) -> Result<bool, Error> {
    let certified = register.map(|r| r.certified(&lot.lot)).transpose()?.unwrap_or(0);
    Ok(certified > 0 && certified >= lot.counts.accepted)
}

/// The call-out of a line that means this edition, of the part specification first.
fn called(book: &Book, order: &Order, line: &Line, pack: &Pack, edition: &str) -> Option<String> {
    let is_its = |part: &&PartSpecification| {
        part.part == line.part && part.revision == line.revision && part.purchaser == order.purchaser
    };
    let part = book.parts.iter().map(|sourced| &sourced.document).find(is_its);
    let of_part = part.map(|part| part.calls_for.as_slice()).unwrap_or_default();
    let means = |call: &&CallOut| {
        let named = call.standard.as_deref();
        named.and_then(|named| pack.edition_in_force(order, named)).is_some_and(|found| found == edition)
    };
    of_part.iter().chain(&line.also_calls_for).find(means).and_then(|call| call.standard.clone())
}
