//! Who holds a certificate, as far as is known: whoever it was delivered or sent again to, whoever holds one it
//! replaced, and the contacts on its orders. They are told when it no longer stands as it was.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::app::addressees::Addressees;
use crate::app::addressees::Said;
use crate::app::addressees::folded;
use crate::app::error::Error;
use crate::register::Entry;
use crate::register::Facet;
use crate::register::Kind;
use crate::register::Register;
use crate::register::RegisterError;
use crate::register::Transaction;

/// What is asked of a register, open or within a batch.
pub trait Records {
    /// Everything that happened to a certificate, in order.
    fn history(&self, number: &str) -> Result<Vec<Entry>, RegisterError>;
    /// What a certificate is filed under.
    fn facets(&self, number: &str) -> Result<Vec<(Facet, String)>, RegisterError>;
}

impl Records for Register {
    fn history(&self, number: &str) -> Result<Vec<Entry>, RegisterError> {
        Register::history(self, number)
    }

    fn facets(&self, number: &str) -> Result<Vec<(Facet, String)>, RegisterError> {
        Register::facets(self, number)
    }
}

impl Records for Transaction<'_> {
    fn history(&self, number: &str) -> Result<Vec<Entry>, RegisterError> {
        Transaction::history(self, number)
    }

    fn facets(&self, number: &str) -> Result<Vec<(Facet, String)>, RegisterError> {
        Transaction::facets(self, number)
    }
}

/// Somebody to tell.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Holder {
    /// Whom.
    pub name: String,
    /// By which ways certificates went there, or are to go there.
    pub ways: Vec<String>,
    /// Why: `LBF-2026-000003 delivered 2026-11-25`, `contact on order QI-88231`.
    pub because: Vec<String>,
}

/// Everybody to tell about a certificate, and what keeps the list from being whole.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Holders {
    /// The purchaser.
    pub purchaser: String,
    /// Whom to tell.
    pub holders: Vec<Holder>,
    /// What could not be told: an order without contacts, one that cannot be read.
    pub gaps: Vec<String>,
}

impl Holders {
    fn add(&mut self, name: &str, way: Option<&str>, because: String) {
        let at = self.holders.iter().position(|h| folded(&h.name) == folded(name)).unwrap_or_else(|| {
            self.holders.push(Holder { name: name.trim().to_owned(), ways: Vec::new(), because: Vec::new() });
            self.holders.len().saturating_sub(1)
        });
        let Some(holder) = self.holders.get_mut(at) else { return };
        if let Some(way) = way.filter(|way| !holder.ways.iter().any(|w| w == way)) {
            holder.ways.push(way.to_owned());
        }
        if !holder.because.contains(&because) {
            holder.because.push(because);
        }
    }
}

/// Who holds a certificate or one it replaced. An amendment for a misspelt name is told to nobody, so those who
/// hold the certificate before it must still hear of what comes later.
pub fn holders(
    records: &impl Records,
    addressees: &Addressees,
    number: &str,
) -> Result<Holders, RegisterError> {
    let facets = records.facets(number)?;
    let purchaser = facets.iter().find(|(facet, _)| *facet == Facet::Purchaser);
    let mut all = Holders {
        purchaser: purchaser.map(|(_, name)| name.clone()).unwrap_or_default(),
        gaps: addressees.unread.clone(),
        ..Holders::default()
    };
    let mut seen = BTreeSet::new();
    let mut next = Some(number.to_owned());
    while let Some(number) = next.take().filter(|number| seen.insert(number.clone())) {
        for entry in records.history(&number)? {
            if entry.number.as_deref() != Some(number.as_str()) {
                continue;
            }
            match entry.kind {
                Kind::Delivery | Kind::Reissue => went(&mut all, &number, &entry),
                Kind::Amendment => next = entry.replaces,
                _ => {}
            }
        }
    }
    for (order, said) in addressees.said(&facets) {
        match said {
            Said::Nothing(why) => all.gaps.push(why),
            Said::Contacts(contacts) => {
                for contact in contacts {
                    all.add(&contact.name, Some(contact.how.name()), format!("contact on order {order}"));
                }
            }
        }
    }
    Ok(all)
}

fn went(all: &mut Holders, number: &str, entry: &Entry) {
    let text = |key: &str| entry.detail.get(key).and_then(|v| v.as_str());
    let entered = entry.at.get(..10).unwrap_or(&entry.at);
    let because = match entry.kind {
        Kind::Delivery => format!("{number} delivered {}", text("on").unwrap_or(entered)),
        _ => format!("{number} sent again {entered}"),
    };
    match text("to") {
        Some(to) => all.add(to, text("how"), because),
        None => all.gaps.push(format!("entry {} does not say to whom {number} went", entry.position)),
    }
}

/// The list as an entry keeps it.
pub fn detail(holders: &Holders) -> Result<serde_json::Value, Error> {
    serde_json::to_value(&holders.holders).map_err(|e| Error::cannot(e.to_string(), "report this"))
}

/// One holder in words: `R. Fathom (e-mail; contact on order QI-88231)`.
pub fn words(holder: &Holder) -> String {
    let mut inside = holder.ways.join(", ");
    for because in &holder.because {
        if !inside.is_empty() {
            inside.push_str("; ");
        }
        inside.push_str(because);
    }
    format!("{} ({inside})", holder.name)
}
