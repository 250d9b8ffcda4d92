//! Certificates of some days, and how long lots took to get theirs.
//!
//! Issues and amendments are of the day printed on the certificate, everything else of the day in UTC on which the
//! register took it in.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::app::addressees::values;
use crate::app::book::Book;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::figures::Scope;
use crate::figures::Event;
use crate::figures::EventKind;
use crate::figures::Passage;
use crate::moment::Date;
use crate::register::Facet;
use crate::register::Found;
use crate::register::Kind;
use crate::register::Query;
use crate::register::Register;
use crate::register::Status;

/// What the register says of some days.
#[derive(Debug, Default)]
pub struct Month {
    /// Certificates issued, amended, withdrawn.
    pub events: Vec<Event>,
    /// Copies sent again.
    pub reissued: u64,
    /// Deliveries entered.
    pub delivered: u64,
    /// Certificates older than the register, taken in as received and not judged.
    pub legacy: u64,
}

/// The certificates of the scope, the earliest first, and the numbers of those that are amendments.
fn issued(register: &Register, scope: &Scope) -> Result<(Vec<Found>, BTreeSet<String>), Error> {
    let query = Query { limit: u32::MAX, from: scope.days.from, to: scope.days.to, ..Query::default() };
    let mut found = register.find(&query)?;
    found.retain(|f| !f.legacy && scope.wants(&purchaser(&f.facets)));
    found.reverse();
    let amendments = register.of_kind(Kind::Amendment)?.into_iter().filter_map(|e| e.number);
    Ok((found, amendments.collect()))
}

fn purchaser(facets: &[(Facet, String)]) -> String {
    values(facets, Facet::Purchaser).join(", ")
}

/// Whether an entry's day, in UTC, is among the days asked.
fn within(at: &str, scope: &Scope) -> bool {
    at.get(..10).and_then(|day| day.parse::<Date>().ok()).is_some_and(|day| scope.days.hold(day))
}

/// Counts what the register took in.
pub fn month(book: &Book, scope: &Scope) -> Result<Month, Error> {
    let register = open_register(&book.folder)?;
    let mut all = Month::default();
    let (found, amendments) = issued(&register, scope)?;
    for certificate in found {
        all.events.push(Event {
            kind: match amendments.contains(&certificate.number) {
                true => EventKind::Amended,
                false => EventKind::Issued,
            },
            purchaser: purchaser(&certificate.facets),
            pieces: pieces(&register, &certificate.number)?,
            stands: certificate.status == Status::Current,
        });
    }
    for kind in [Kind::Withdrawal, Kind::Reissue, Kind::Delivery, Kind::Legacy] {
        for entry in register.of_kind(kind)? {
            let Some(number) = entry.number.filter(|_| within(&entry.at, scope)) else { continue };
            let name = purchaser(&register.facets(&number)?);
            if !scope.wants(&name) {
                continue;
            }
            let add = |sum: &mut u64| *sum = sum.saturating_add(1);
            match kind {
                Kind::Reissue => add(&mut all.reissued),
                Kind::Delivery => add(&mut all.delivered),
                Kind::Legacy => add(&mut all.legacy),
                _ => all.events.push(Event {
                    kind: EventKind::Withdrawn,
                    purchaser: name,
                    pieces: pieces(&register, &number)?,
                    stands: false,
                }),
            }
        }
    }
    Ok(all)
}

fn pieces(register: &Register, number: &str) -> Result<u64, Error> {
    Ok(register.pieces(number)?.iter().fold(0_u64, |sum, (_, pieces)| sum.saturating_add(*pieces)))
}

/// Every lot of every first certificate in scope. An amendment is no later arrival of the parts: it counts nowhere.
pub fn turn_round(book: &Book, scope: &Scope) -> Result<Vec<Passage>, Error> {
    let register = open_register(&book.folder)?;
    let (found, amendments) = issued(&register, scope)?;
    let mut known: BTreeMap<String, Option<Date>> = BTreeMap::new();
    let mut all = Vec::new();
    for certificate in found.iter().filter(|f| !amendments.contains(&f.number)) {
        let day = values(&certificate.facets, Facet::Date).first().and_then(|day| day.parse().ok());
        let Some(issued) = day else { continue };
        for (lot, _) in register.pieces(&certificate.number)? {
            // A record that is gone or unreadable tells no day, and is counted so.
            let received = *known
                .entry(lot.clone())
                .or_insert_with(|| book.lot(&lot).ok().and_then(|record| record.document.received));
            all.push(Passage {
                number: certificate.number.clone(),
                purchaser: purchaser(&certificate.facets),
                lot,
                received,
                issued,
            });
        }
    }
    Ok(all)
}
