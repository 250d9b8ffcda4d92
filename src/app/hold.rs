//! A hold note: words that travel with pieces whose certificate follows, where the order allows it. It is plainly
//! no certificate: it has no number, no stamp and no seal, is not registered, and states no conformity.

use serde::Serialize;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::issue::Judged;
use crate::app::issue::Target;
use crate::app::world::World;
use crate::certificate;
use crate::finding::Finding;
use crate::judge;
use crate::order::ToFollow;

/// What is plainly said on every note.
pub const NO_CERTIFICATE: &str = "This is not a certificate. No statement of conformity is made for any of these \
                                  pieces; do not use, assemble or resell them as certified. The certificate \
                                  follows when the points below are closed, or word that it will not.";

/// One lot on a note.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HeldLot {
    /// The shop's lot.
    pub lot: String,
    /// Purchase order.
    pub order: String,
    /// Its line.
    pub line: String,
    /// Part number and revision.
    pub part: String,
    /// Pieces on the way.
    pub pieces: u64,
    /// What is open, in words; empty when this lot only waits for others.
    pub open: Vec<String>,
}

/// A hold note.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HoldNote {
    /// What this is, in words.
    pub what: &'static str,
    /// The shop.
    pub shop: String,
    /// What every page of a demonstration says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub demo: Option<String>,
    /// The purchaser.
    pub purchaser: String,
    /// Packing slip.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slip: Option<String>,
    /// When it was written.
    pub written: String,
    /// Whom to ring or write.
    pub contact: String,
    /// Lots.
    pub lots: Vec<HeldLot>,
    /// What it does not say.
    pub statement: &'static str,
    /// Control marking of its parts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub controlled: Option<String>,
}

/// Writes the note for a packing slip or a lot. `words` turns a gap into words.
///
/// # Errors
/// When an order does not allow a certificate to follow, and when nothing is open: then the certificate is issued.
pub fn note(
    book: &Book,
    name: &str,
    words: &dyn Fn(&Finding) -> String,
    world: &World,
) -> Result<HoldNote, Error> {
    let slip = book.folder.has(&format!("shipments/{name}.yaml"));
    let target = if slip { Target::Slip(name.to_owned()) } else { Target::Lot(name.to_owned()) };
    let mut lots: Vec<Judged> = Vec::new();
    let mut purchaser = String::new();
    for target in issue::expand(book, vec![target]) {
        let shipment = issue::judge_target(book, &target, world)?;
        purchaser = shipment.purchaser_name().to_owned();
        lots.extend(shipment.lots);
    }
    for lot in &lots {
        let order = &lot.case.dossier.order;
        if order.certificate_to_follow != Some(ToFollow::Allowed) {
            return Err(Error::cannot(
                format!("order {} does not say that a certificate may follow its pieces", order.order),
                "hold the pieces; only the purchaser can allow it, by `certificate_to_follow: allowed` in the order",
            ));
        }
    }
    if lots.iter().all(|lot| judge::conforms(&lot.findings)) {
        return Err(Error::cannot(
            format!("nothing is open for {name}"),
            "issue the certificate: `brightproof issue`",
        ));
    }
    let controlled = certificate::markings(lots.iter().map(|lot| &lot.case.dossier));
    let lots = lots.iter().map(|lot| {
        let dossier = &lot.case.dossier;
        let mut open: Vec<String> = Vec::new();
        // A note is read by the purchaser too.
        let findings = certificate::masked(dossier, lot.findings.clone());
        for gap in findings.iter().filter(|f| f.is_gap()) {
            let place =
                if gap.place_in_lot == "lot" { String::new() } else { format!(", {}", gap.place_in_lot) };
            let said = format!("{}{place}: {}", gap.subject, words(gap));
            if !open.contains(&said) {
                open.push(said);
            }
        }
        HeldLot {
            lot: dossier.record.lot.clone(),
            order: dossier.record.order.number.clone(),
            line: dossier.record.order.line.clone(),
            part: format!("{} revision {}", dossier.part.part, dossier.part.revision),
            pieces: lot.quantity,
            open,
        }
    });
    Ok(HoldNote {
        what: "hold note, not a certificate",
        shop: book.shop.name.clone(),
        demo: book.shop.demo.clone(),
        purchaser,
        slip: slip.then(|| name.to_owned()),
        written: world.printed(),
        contact: book.shop.contact.clone(),
        lots: lots.collect(),
        statement: NO_CERTIFICATE,
        controlled,
    })
}

impl HoldNote {
    /// The note as plain text.
    pub fn text(&self) -> String {
        let mut lines =
            vec!["HOLD NOTE - NOT A CERTIFICATE".to_owned(), String::new(), self.statement.to_owned()];
        lines.extend(self.demo.clone());
        lines.extend(self.controlled.clone());
        lines.push(String::new());
        lines.push(format!("from     {}", self.shop));
        lines.push(format!("to       {}", self.purchaser));
        lines.extend(self.slip.as_ref().map(|slip| format!("slip     {slip}")));
        lines.push(format!("written  {}", self.written));
        lines.push(format!("ask      {}", self.contact));
        for lot in &self.lots {
            let HeldLot { lot, order, line, part, pieces, open } = lot;
            lines.push(String::new());
            lines.push(format!("lot {lot}: {pieces} pieces of part {part}, order {order} line {line}"));
            if open.is_empty() {
                lines
                    .push("  nothing is stated of it here; its certificate comes with the others".to_owned());
            }
            lines.extend(open.iter().map(|said| format!("  open: {said}")));
        }
        lines.push(String::new());
        lines.push("End of hold note.".to_owned());
        lines.join("\n")
    }
}
