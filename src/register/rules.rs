//! Which entry may follow which. The transaction asks before it writes, over the database; the
//! audit asks again for every stored entry, over what it has replayed itself.

use serde_json::Value;

use super::certificate::Facet;
use super::certificate::Filed;
use super::certificate::number_of;
use super::certificate::series_of;
use super::entry::Kind;
use super::entry::Leaf;
use super::entry::Status;
use super::entry::is_instant;
use super::error::RegisterError;

/// What the rules need to know about the entries before this one.
pub(super) trait Known {
    /// How a certificate stands; `None` when there is none of that number.
    fn status(&self, number: &str) -> Result<Option<Status>, RegisterError>;
    /// The certificates in force that certify pieces of a lot, and how many, by number.
    fn holders(&self, lot: &str) -> Result<Vec<(String, u64)>, RegisterError>;
    /// The certificate in force for a shipment, and its input digest.
    fn for_shipment(&self, shipment: &str) -> Result<Option<(String, String)>, RegisterError>;
    /// The highest serial of a series; 0 for a new one.
    fn last_serial(&self, series: &str) -> Result<u64, RegisterError>;
    /// A legacy certificate that names a lot and was not withdrawn.
    fn legacy_of(&self, lot: &str) -> Result<Option<String>, RegisterError>;
}

/// Pieces certified, net of what was withdrawn or replaced.
pub(super) fn total(holders: &[(String, u64)]) -> u64 {
    holders.iter().fold(0, |sum: u64, (_, pieces)| sum.saturating_add(*pieces))
}

/// Refuses an entry that may not come next.
pub(super) fn admit(
    known: &dyn Known,
    position: u64,
    leaf: &Leaf,
    detail: &Value,
    filed: Option<&Filed>,
) -> Result<(), RegisterError> {
    shape(position, leaf, filed)
        .map_err(|what| RegisterError::BadEntry { kind: leaf.kind.as_str(), what })?;
    match (leaf.kind, leaf.number.as_deref()) {
        (Kind::Reissue, Some(number)) => {
            status_of(known, number)?;
        }
        (Kind::Delivery, Some(number)) => {
            delivered(detail)?;
            status_of(known, number)?;
        }
        (Kind::Key, _) => key(detail)?,
        (Kind::Withdrawal, Some(number)) => {
            reason(detail)?;
            match status_of(known, number)? {
                Status::Legacy => {}
                _ => current(known, number, "withdrawn")?,
            }
        }
        _ => {}
    }
    if let Some(replaced) = leaf.replaces.as_deref() {
        current(known, replaced, "amended")?;
    }
    match (leaf.number.as_deref(), filed) {
        (Some(number), Some(filed)) if leaf.kind == Kind::Legacy => take_in(known, number, leaf, filed),
        (Some(number), Some(filed)) => certify(known, number, leaf.replaces.as_deref(), filed),
        _ => Ok(()),
    }
}

/// Which parts each kind has.
fn shape(position: u64, leaf: &Leaf, filed: Option<&Filed>) -> Result<(), String> {
    let (number, replaces, files) = match leaf.kind {
        Kind::Genesis | Kind::Key | Kind::Adoption | Kind::Preparation | Kind::Passphrase => {
            (false, false, false)
        }
        Kind::Issue | Kind::Legacy => (true, false, true),
        Kind::Amendment => (true, true, true),
        Kind::Reissue | Kind::Withdrawal | Kind::Delivery => (true, false, false),
    };
    // A reissue or delivery says which file was handed out, so it repeats stamp and digest.
    let digests = files || handed_out(leaf.kind);
    for (what, needed, has) in [
        ("certificate number", number, leaf.number.is_some()),
        ("number it replaces", replaces, leaf.replaces.is_some()),
        ("certificate", files, filed.is_some()),
        ("stamp", digests, leaf.stamp.is_some()),
        ("file digest", digests, leaf.pdf_sha256.is_some()),
    ] {
        if needed != has {
            return Err(format!("it {} a {what}", if needed { "needs" } else { "cannot have" }));
        }
    }
    if (leaf.kind == Kind::Genesis) != (position == 0) {
        return Err("a register begins with its one genesis entry".to_owned());
    }
    Ok(())
}

/// Whether an entry of this kind says that a certificate's file went to somebody.
pub(super) fn handed_out(kind: Kind) -> bool {
    matches!(kind, Kind::Reissue | Kind::Delivery)
}

fn status_of(known: &dyn Known, number: &str) -> Result<Status, RegisterError> {
    known.status(number)?.ok_or_else(|| RegisterError::UnknownCertificate { number: number.to_owned() })
}

fn current(known: &dyn Known, number: &str, verb: &'static str) -> Result<(), RegisterError> {
    match status_of(known, number)? {
        Status::Current => Ok(()),
        status => Err(RegisterError::NotCurrent { number: number.to_owned(), status, verb }),
    }
}

/// The reason a withdrawal states.
pub(super) fn reason(detail: &Value) -> Result<&str, RegisterError> {
    let reason = detail.get("reason").and_then(Value::as_str).filter(|reason| !reason.trim().is_empty());
    reason.ok_or_else(|| RegisterError::BadEntry {
        kind: Kind::Withdrawal.as_str(),
        what: "it states no reason".to_owned(),
    })
}

/// What is said of a key must be readable for as long as there are certificates under it.
fn key(detail: &Value) -> Result<(), RegisterError> {
    let bad = |what: &str| RegisterError::BadEntry { kind: Kind::Key.as_str(), what: what.to_owned() };
    let text = |name: &str| detail.get(name).and_then(Value::as_str).filter(|text| !text.trim().is_empty());
    let needed: &[&str] = match text("act") {
        Some("added") => &["seal", "under"],
        Some("renewed") => &["retires", "by", "why"],
        Some("compromised") => &["since", "by", "why"],
        _ => return Err(bad("it says no `act`: added, renewed or compromised")),
    };
    if let Some(missing) = needed.iter().find(|name| text(name).is_none()) {
        return Err(bad(&format!("it does not say `{missing}`")));
    }
    let about = ["seal", "checkpoint_key", "root"].map(|name| text(name).is_some());
    // A new root comes with its first seal key, and with what says that it follows the old one.
    let new_root = about == [true, false, true]
        && text("act") == Some("renewed")
        && text("retires_root").is_some()
        && text("handover").is_some();
    if !new_root && about.iter().filter(|there| **there).count() != 1 {
        return Err(bad("it is about one key: `seal`, `checkpoint_key` or `root`"));
    }
    if !new_root && text("act") == Some("renewed") && about == [false, false, true] {
        return Err(bad("a new root needs `seal`, `retires_root` and `handover`"));
    }
    if text("since").is_some_and(|since| !is_instant(since)) {
        return Err(bad("`since` is no time like 2026-11-25T14:05:00Z"));
    }
    Ok(())
}

/// A delivery that does not say to whom, or how, cannot be looked up when somebody must be told.
fn delivered(detail: &Value) -> Result<(), RegisterError> {
    for key in ["to", "how"] {
        let said = detail.get(key).and_then(Value::as_str).is_some_and(|text| !text.trim().is_empty());
        if !said {
            let what = format!("it does not say `{key}`");
            return Err(RegisterError::BadEntry { kind: Kind::Delivery.as_str(), what });
        }
    }
    Ok(())
}

/// What a legacy certificate must keep to: its number and file are new here, and nothing certified here is of its
/// lots, because how many pieces it holds of them was never counted.
fn take_in(known: &dyn Known, number: &str, leaf: &Leaf, filed: &Filed) -> Result<(), RegisterError> {
    let bad = |what: String| RegisterError::BadEntry { kind: Kind::Legacy.as_str(), what };
    if known.status(number)?.is_some() {
        return Err(RegisterError::NumberTaken { number: number.to_owned() });
    }
    if let Some((series, _)) = series_of(number)
        && known.last_serial(series)? > 0
    {
        return Err(bad(format!(
            "numbers like {number} are given by this register: {series} is its own series"
        )));
    }
    let file = leaf.pdf_sha256.as_deref().map(legacy_key);
    if file.as_deref() != Some(filed.shipment.as_str()) {
        return Err(bad("it is not filed under its file".to_owned()));
    }
    if let Some((number, _)) = known.for_shipment(&filed.shipment)? {
        return Err(RegisterError::SameFile { number });
    }
    for lot in named_lots(filed) {
        if let Some((number, _)) = known.holders(lot)?.into_iter().next() {
            return Err(RegisterError::LotElsewhere { lot: lot.to_owned(), number });
        }
    }
    Ok(())
}

/// What a legacy certificate is filed under instead of a shipment.
pub(super) fn legacy_key(pdf_sha256: &str) -> String {
    format!("file {pdf_sha256}")
}

/// The lots a certificate is found by.
pub(super) fn named_lots(filed: &Filed) -> impl Iterator<Item = &str> {
    filed.facets.iter().filter(|(facet, _)| *facet == Facet::Lot).map(|(_, lot)| lot.as_str())
}

/// What a new certificate must keep to, `replaced` no longer counting.
fn certify(
    known: &dyn Known,
    number: &str,
    replaced: Option<&str>,
    filed: &Filed,
) -> Result<(), RegisterError> {
    let bad = |what: String| RegisterError::BadEntry { kind: "issue", what };
    let (series, serial) =
        series_of(number).ok_or_else(|| bad(format!("{number:?} is not a number like LBF-2026-000124")))?;
    let next = known.last_serial(series)?.saturating_add(1);
    if serial != next {
        return Err(RegisterError::OutOfTurn { found: number.to_owned(), expected: number_of(series, next) });
    }
    if known.status(number)?.is_some() {
        return Err(RegisterError::NumberTaken { number: number.to_owned() });
    }
    if let Some((number, input)) = known.for_shipment(&filed.shipment)?
        && Some(number.as_str()) != replaced
    {
        let shipment = filed.shipment.clone();
        return Err(match input == filed.input {
            true => RegisterError::SameAgain { shipment, number },
            false => RegisterError::ShipmentCertified { shipment, number },
        });
    }
    for lot in &filed.lots {
        if let Some(number) = known.legacy_of(&lot.lot)? {
            return Err(RegisterError::LotElsewhere { lot: lot.lot.clone(), number });
        }
        let (asked, accepted) =
            lot.counts().ok_or_else(|| bad(format!("lot {}: its counts are no numbers", lot.lot)))?;
        let mut holders = known.holders(&lot.lot)?;
        holders.retain(|(holder, _)| Some(holder.as_str()) != replaced);
        let certified = total(&holders);
        if certified.saturating_add(asked) > accepted {
            let lot = lot.lot.clone();
            return Err(RegisterError::MoreThanAccepted { lot, accepted, certified, asked, holders });
        }
    }
    Ok(())
}
