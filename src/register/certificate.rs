//! A certificate as it goes into the register and comes out again.

use serde::Deserialize;
use serde::Serialize;

use super::entry::Kind;
use super::entry::Status;
use super::entry::hex_of;
use super::error::RegisterError;
use crate::certificate::Use;
use crate::merkle::sha256;

/// What a certificate is found by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Facet {
    /// The certificate's own number.
    Number,
    /// Purchase order.
    PurchaseOrder,
    /// The shop's lot.
    Lot,
    /// Part number.
    Part,
    /// Heat.
    Heat,
    /// Purchaser.
    Purchaser,
    /// Packing slip.
    Slip,
    /// Serial number.
    Serial,
    /// The purchaser's own lot.
    PurchaserLot,
    /// Date of issue.
    Date,
    /// A purchaser's deviation that was used.
    Deviation,
}

impl Facet {
    /// Every facet, in the order of the list above.
    pub const ALL: [Self; 11] = [
        Self::Number,
        Self::PurchaseOrder,
        Self::Lot,
        Self::Part,
        Self::Heat,
        Self::Purchaser,
        Self::Slip,
        Self::Serial,
        Self::PurchaserLot,
        Self::Date,
        Self::Deviation,
    ];

    /// The word stored for it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Number => "number",
            Self::PurchaseOrder => "purchase_order",
            Self::Lot => "lot",
            Self::Part => "part",
            Self::Heat => "heat",
            Self::Purchaser => "purchaser",
            Self::Slip => "slip",
            Self::Serial => "serial",
            Self::PurchaserLot => "purchaser_lot",
            Self::Date => "date",
            Self::Deviation => "deviation",
        }
    }

    pub(super) fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|facet| facet.as_str() == text)
    }
}

/// A certificate to be registered with its issue or amendment, or as legacy: then its number is its own, and it has
/// neither pieces nor uses.
#[derive(Debug, Clone)]
pub struct NewCertificate {
    /// The next number of its series, from [`super::Transaction::next_number`].
    pub number: String,
    /// SHA-256 of `data`, hexadecimal.
    pub stamp: String,
    /// The certificate's canonical data.
    pub data: Vec<u8>,
    /// The sealed file.
    pub pdf: Vec<u8>,
    /// Digest of what was judged: the same again gives the stored file instead of a new entry.
    pub input_digest: String,
    /// Which shipment it certifies; at most one certificate in force for each.
    pub shipment_key: String,
    /// What it is found by. Its number is added where missing.
    pub facets: Vec<(Facet, String)>,
    /// Lots and how many pieces of each it certifies.
    pub pieces: Vec<(String, u64)>,
    /// The same lots and how many pieces of each were accepted.
    pub accepted: Vec<(String, u64)>,
    /// Who released it.
    pub signer: String,
    /// What it rests on.
    pub uses: Vec<Use>,
    /// What it withholds, for whom the shop chooses; nothing when it withholds nothing.
    pub evidence: Option<Vec<u8>>,
}

/// A certificate read back: the very bytes that were registered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredCertificate {
    /// Its number.
    pub number: String,
    /// The entry that issued it.
    pub position: u64,
    /// When, RFC 3339 UTC.
    pub at: String,
    /// SHA-256 of `data`, hexadecimal.
    pub stamp: String,
    /// SHA-256 of `pdf`, hexadecimal.
    pub pdf_sha256: String,
    /// The certificate's canonical data.
    pub data: Vec<u8>,
    /// The sealed file.
    pub pdf: Vec<u8>,
    /// Digest of what was judged.
    pub input_digest: String,
    /// Which shipment it certifies.
    pub shipment_key: String,
    /// Who released it.
    pub signer: String,
    /// How it stands now.
    pub status: Status,
    /// Whether it is older than the register and was taken in as received, not judged.
    pub legacy: bool,
    /// What it withholds; nothing when it withholds nothing.
    pub evidence: Option<Vec<u8>>,
}

/// What a certificate is filed and counted under; part of its entry's rest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Filed {
    pub input: String,
    pub shipment: String,
    pub signer: String,
    pub lots: Vec<FiledLot>,
    pub facets: Vec<(Facet, String)>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub uses: Vec<Use>,
    /// SHA-256 of the evidence, hexadecimal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
}

/// Counts are texts: a canonical JSON number loses digits above 2^53.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FiledLot {
    pub lot: String,
    pub pieces: String,
    pub accepted: String,
}

impl FiledLot {
    /// Pieces and accepted pieces.
    pub(super) fn counts(&self) -> Option<(u64, u64)> {
        Some((count(&self.pieces)?, count(&self.accepted)?))
    }
}

/// A count the database can hold.
fn count(text: &str) -> Option<u64> {
    text.parse().ok().filter(|n| i64::try_from(*n).is_ok())
}

impl NewCertificate {
    /// Checks everything that needs no register, and sorts it for filing.
    pub(super) fn file(&self, kind: Kind) -> Result<Filed, RegisterError> {
        let wrong = |what: String| RegisterError::BadEntry { kind: kind.as_str(), what };
        let stamp = hex_of(&sha256(&self.data));
        if self.stamp != stamp {
            return Err(wrong(format!("its stamp is {}, but its data give {stamp}", self.stamp)));
        }
        for (what, text) in
            [("input digest", &self.input_digest), ("shipment", &self.shipment_key), ("signer", &self.signer)]
        {
            if !is_line(text) {
                return Err(wrong(format!("its {what} reads {text:?}")));
            }
        }
        let mut facets = self.facets.clone();
        facets.push((Facet::Number, self.number.clone()));
        facets.sort();
        facets.dedup();
        if let Some((facet, value)) = facets.iter().find(|(_, value)| !is_line(value)) {
            return Err(wrong(format!("its {} reads {value:?}", facet.as_str())));
        }
        let mut uses = self.uses.clone();
        uses.sort();
        uses.dedup();
        let unfit = |u: &&Use| !is_line(&u.name) || !is_line(&u.how) || !is_line(&u.lot);
        if let Some(bad) = uses.iter().find(unfit) {
            return Err(wrong(format!("its {} reads {:?} ({:?})", bad.thing.name(), bad.name, bad.how)));
        }
        if kind == Kind::Legacy && self.evidence.is_some() {
            return Err(wrong("it was not judged, so there is no evidence of it".to_owned()));
        }
        let lots = match kind {
            Kind::Legacy if self.pieces.is_empty() && self.accepted.is_empty() && uses.is_empty() => {
                Vec::new()
            }
            Kind::Legacy => return Err(wrong("it was not judged, so it certifies no pieces".to_owned())),
            _ => self.lots().map_err(wrong)?,
        };
        Ok(Filed {
            input: self.input_digest.clone(),
            shipment: self.shipment_key.clone(),
            signer: self.signer.clone(),
            lots,
            facets,
            uses,
            evidence: self.evidence.as_deref().map(|bytes| hex_of(&sha256(bytes))),
        })
    }

    fn lots(&self) -> Result<Vec<FiledLot>, String> {
        let (mut pieces, mut accepted) = (self.pieces.clone(), self.accepted.clone());
        pieces.sort();
        accepted.sort();
        if pieces.is_empty() {
            return Err("it certifies no lot".to_owned());
        }
        let named = |lots: &[(String, u64)]| lots.iter().map(|(lot, _)| lot.clone()).collect::<Vec<_>>();
        if named(&pieces) != named(&accepted) {
            return Err("pieces and accepted pieces do not name the same lots".to_owned());
        }
        if let Some(twice) = pieces.windows(2).find_map(|pair| match pair {
            [(a, _), (b, _)] if a == b => Some(a),
            _ => None,
        }) {
            return Err(format!("lot {twice} is named twice"));
        }
        let filed = pieces.into_iter().zip(accepted).map(|((lot, pieces), (_, accepted))| {
            let filed = FiledLot { lot, pieces: pieces.to_string(), accepted: accepted.to_string() };
            if !is_line(&filed.lot) {
                return Err(format!("a lot reads {:?}", filed.lot));
            }
            filed.counts().ok_or_else(|| format!("lot {}: {pieces} is too many", filed.lot))?;
            Ok(filed)
        });
        filed.collect()
    }
}

/// A text that fits on a line and says something.
pub(super) fn is_line(text: &str) -> bool {
    !text.trim().is_empty() && !text.chars().any(char::is_control)
}

/// A certificate number: series, then a serial of at least six digits.
pub(super) fn number_of(series: &str, serial: u64) -> String {
    format!("{series}-{serial:06}")
}

/// The series and serial of `LBF-2026-000124`: (`LBF-2026`, 124).
pub(super) fn series_of(number: &str) -> Option<(&str, u64)> {
    let (series, serial) = number.rsplit_once('-')?;
    let serial = count(serial)?;
    (serial > 0 && is_line(series) && number_of(series, serial) == number).then_some((series, serial))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn new() -> NewCertificate {
        NewCertificate {
            evidence: None,
            number: "LBF-2026-000001".to_owned(),
            stamp: hex_of(&sha256(b"{}")),
            data: b"{}".to_vec(),
            pdf: b"%PDF".to_vec(),
            input_digest: "aa".to_owned(),
            shipment_key: "S-1".to_owned(),
            facets: vec![(Facet::Part, "7731-04".to_owned()), (Facet::Part, "7731-04".to_owned())],
            pieces: vec![("L-2".to_owned(), 3), ("L-1".to_owned(), 5)],
            accepted: vec![("L-1".to_owned(), 5), ("L-2".to_owned(), 9)],
            signer: "M. Sorrel".to_owned(),
            uses: Vec::new(),
        }
    }

    #[test]
    fn filing_sorts_lots_and_facets_and_adds_the_number() {
        let filed = new().file(Kind::Issue).unwrap();
        let lots: Vec<_> = filed.lots.iter().map(|l| (l.lot.as_str(), l.counts().unwrap())).collect();
        assert_eq!(lots, [("L-1", (5, 5)), ("L-2", (3, 9))]);
        let number = (Facet::Number, "LBF-2026-000001".to_owned());
        assert_eq!(filed.facets, [number, (Facet::Part, "7731-04".to_owned())]);
    }

    #[test]
    fn what_cannot_be_filed_is_refused_with_its_reason() {
        let refused = |change: fn(&mut NewCertificate)| {
            let mut certificate = new();
            change(&mut certificate);
            certificate.file(Kind::Issue).unwrap_err().to_string()
        };
        assert!(refused(|c| c.data.push(b' ')).contains("its data give"));
        assert!(refused(|c| c.pieces.clear()).contains("no lot"));
        assert!(refused(|c| c.accepted.truncate(1)).contains("same lots"));
        assert!(refused(|c| c.pieces[0].0 = "L-3".to_owned()).contains("same lots"));
        assert!(
            refused(|c| (c.pieces[0].0, c.accepted[1].0) = ("L-1".into(), "L-1".into())).contains("twice")
        );
        assert!(refused(|c| c.pieces[1].1 = u64::MAX).contains("too many"));
        assert!(refused(|c| c.signer = " ".to_owned()).contains("signer"));
        assert!(refused(|c| c.facets.push((Facet::Heat, "a\0b".to_owned()))).contains("heat"));
        assert!(refused(|c| c.shipment_key = String::new()).contains("shipment"));
    }

    #[test]
    fn numbers_have_one_form() {
        assert_eq!(series_of("LBF-2026-000124"), Some(("LBF-2026", 124)));
        assert_eq!(series_of("LBF-2026-1000000"), Some(("LBF-2026", 1_000_000)));
        for bad in ["LBF", "LBF-2026-124", "LBF-2026-0000124", "LBF-2026-000000", "-000001", "A-+00001", "A-"]
        {
            assert_eq!(series_of(bad), None, "{bad}");
        }
        assert_eq!(Facet::parse("purchaser_lot"), Some(Facet::PurchaserLot));
        assert_eq!(Facet::ALL.map(|f| Facet::parse(f.as_str()) == Some(f)), [true; Facet::ALL.len()]);
    }
}
