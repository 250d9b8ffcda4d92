//! The register's state, worked out again from its entries alone.

use std::collections::BTreeMap;
use std::collections::HashMap;

use serde_json::Value;

use super::certificate::Filed;
use super::certificate::series_of;
use super::entry::Kind;
use super::entry::Leaf;
use super::entry::Status;
use super::error::RegisterError;
use super::rules::Known;
use super::rules::named_lots;
use super::search::folded;

/// One certificate as its entry tells it.
pub(super) struct Replayed {
    status: Status,
    shipment: String,
    lots: Vec<String>,
    /// Its stamp and file digest.
    pub digests: (Option<String>, Option<String>),
}

/// What the entries so far amount to.
#[derive(Default)]
pub(super) struct Replay {
    certificates: HashMap<String, Replayed>,
    /// By lot: the certificates in force that hold pieces of it.
    holders: HashMap<String, BTreeMap<String, u64>>,
    /// By shipment: the certificate in force, and its input digest.
    shipments: HashMap<String, (String, String)>,
    series: HashMap<String, u64>,
    /// By lot in lower case: the legacy certificates that name it and stand, in order.
    legacy: HashMap<String, Vec<String>>,
    /// Rows the derived tables must have: pieces, facets and uses.
    pub pieces: u64,
    pub facets: u64,
    pub uses: u64,
}

impl Replay {
    pub(super) fn certificates(&self) -> u64 {
        self.certificates.len() as u64
    }

    pub(super) fn certificate(&self, number: &str) -> Option<&Replayed> {
        self.certificates.get(number)
    }

    /// Takes one admitted entry in.
    pub(super) fn apply(&mut self, leaf: &Leaf, detail: &Value, filed: Option<&Filed>) {
        let Some(number) = leaf.number.as_deref() else { return };
        if leaf.kind == Kind::Withdrawal {
            let reason = detail.get("reason").and_then(Value::as_str).unwrap_or_default().to_owned();
            self.end(number, Status::Withdrawn { reason, at: leaf.at.clone() });
        }
        if let Some(replaced) = leaf.replaces.as_deref() {
            self.end(replaced, Status::Amended { by: number.to_owned() });
        }
        if let Some(filed) = filed {
            self.stand(number, leaf, filed);
        }
    }

    fn stand(&mut self, number: &str, leaf: &Leaf, filed: &Filed) {
        for lot in &filed.lots {
            let (pieces, _) = lot.counts().unwrap_or_default();
            self.holders.entry(lot.lot.clone()).or_default().insert(number.to_owned(), pieces);
        }
        let legacy = leaf.kind == Kind::Legacy;
        match series_of(number) {
            Some((series, serial)) if !legacy => drop(self.series.insert(series.to_owned(), serial)),
            _ => {}
        }
        for lot in named_lots(filed).filter(|_| legacy) {
            self.legacy.entry(folded(lot)).or_default().push(number.to_owned());
        }
        self.uses += filed.uses.len() as u64;
        self.pieces += filed.lots.len() as u64;
        self.facets += filed.facets.len() as u64;
        self.shipments.insert(filed.shipment.clone(), (number.to_owned(), filed.input.clone()));
        let certificate = Replayed {
            status: if legacy { Status::Legacy } else { Status::Current },
            shipment: filed.shipment.clone(),
            lots: filed.lots.iter().map(|lot| lot.lot.clone()).collect(),
            digests: (leaf.stamp.clone(), leaf.pdf_sha256.clone()),
        };
        self.certificates.insert(number.to_owned(), certificate);
    }

    fn end(&mut self, number: &str, status: Status) {
        let Some(certificate) = self.certificates.get_mut(number) else { return };
        certificate.status = status;
        self.shipments.remove(&certificate.shipment);
        for lot in &certificate.lots {
            if let Some(holders) = self.holders.get_mut(lot) {
                holders.remove(number);
            }
        }
        self.legacy.values_mut().for_each(|numbers| numbers.retain(|other| other != number));
    }
}

impl Known for Replay {
    fn status(&self, number: &str) -> Result<Option<Status>, RegisterError> {
        Ok(self.certificates.get(number).map(|certificate| certificate.status.clone()))
    }

    fn holders(&self, lot: &str) -> Result<Vec<(String, u64)>, RegisterError> {
        let holders = self.holders.get(lot).into_iter().flatten();
        Ok(holders.map(|(number, pieces)| (number.clone(), *pieces)).collect())
    }

    fn for_shipment(&self, shipment: &str) -> Result<Option<(String, String)>, RegisterError> {
        Ok(self.shipments.get(shipment).cloned())
    }

    fn last_serial(&self, series: &str) -> Result<u64, RegisterError> {
        Ok(self.series.get(series).copied().unwrap_or(0))
    }

    fn legacy_of(&self, lot: &str) -> Result<Option<String>, RegisterError> {
        Ok(self.legacy.get(&folded(lot)).and_then(|numbers| numbers.first()).cloned())
    }
}
