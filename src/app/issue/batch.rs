//! One certificate of a batch: its data from the shipment and the shop's book, drawn and sealed.

use std::collections::BTreeSet;

use crate::app::amended;
use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::issue::Replacing;
use crate::app::issue::draw::draw;
use crate::app::issue::draw::seal_it;
use crate::app::issue::shipment::Shipment;
use crate::app::issue::signing::Signing;
use crate::app::world::World;
use crate::canonical;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::certificate::Evidence;
use crate::certificate::EvidenceLot;
use crate::certificate::Issuer;
use crate::certificate::JudgeVersion;
use crate::certificate::Party;
use crate::certificate::RegisterHead;
use crate::certificate::RendererIdentity;
use crate::certificate::Shipped;
use crate::certificate::ShippedLine;
use crate::certificate::Thing;
use crate::certificate::Use;
use crate::judge;
use crate::pdf::Paper;
use crate::pdf::Renderer;
use crate::register::Facet;
use crate::register::NewCertificate;
use crate::seal::SealKey;

/// What every certificate of one batch shares.
pub(super) struct Batch<'a> {
    pub(super) desk: &'a Book,
    pub(super) renderer: &'a Renderer,
    pub(super) seal: &'a SealKey,
    pub(super) head: RegisterHead,
    pub(super) world: &'a World<'a>,
    pub(super) signing: &'a Signing,
    pub(super) fingerprint: String,
    pub(super) reserve: usize,
}

/// What chance one certificate takes.
pub(super) struct Salts {
    /// Its own salt.
    pub(super) certificate: [u8; 32],
    /// One for each lot, which nobody is told who does not hold the evidence.
    pub(super) lots: Vec<[u8; 32]>,
}

impl Salts {
    /// Draws them.
    pub(super) fn draw(shipment: &Shipment, world: &World) -> Result<Salts, Error> {
        let certificate = world.salt()?;
        let lots = shipment.lots.iter().map(|_| world.salt()).collect::<Result<_, _>>()?;
        Ok(Salts { certificate, lots })
    }
}

impl Batch<'_> {
    fn certificate(
        &self,
        shipment: &Shipment,
        number: &str,
        salts: &Salts,
        replaces: Option<&Replacing<'_>>,
    ) -> Result<(Certificate, Vec<EvidenceLot>), Error> {
        let shop = &self.desk.shop;
        let today = self.world.today();
        let identity = self.renderer.identity();
        let lines = shipment.lots.iter().map(|lot| {
            let dossier = &lot.case.dossier;
            let record = &dossier.record;
            let whole = lot.quantity == record.counts.accepted;
            ShippedLine {
                order: record.order.number.clone(),
                line: record.order.line.clone(),
                part: dossier.part.part.clone(),
                revision: dossier.part.revision.clone(),
                description: dossier.part.description.clone(),
                lot: record.lot.clone(),
                purchaser_lot: record.purchaser_lot.clone(),
                quantity: lot.quantity,
                serials: if whole { record.serials.clone() } else { Vec::new() },
                release: record.order.release.clone(),
            }
        });
        let rule = shipment.lots.first().map(|l| l.case.dossier.order.decision_rule).unwrap_or_default();
        let mut lots: Vec<_> = shipment
            .lots
            .iter()
            .map(|l| certificate::certified_lot(l.case.dossier.clone(), l.findings.clone(), l.quantity))
            .collect();
        let evidence = self.withhold(&mut lots, salts)?;
        let mut certificate = Certificate {
            format: certificate::FORMAT.to_owned(),
            number: number.to_owned(),
            issued: self.world.printed(),
            place: shop.place.clone(),
            salt: hex::encode(salts.certificate),
            issuer: Issuer {
                name: shop.name.clone(),
                address: shop.address.clone(),
                contact: shop.contact.clone(),
                approvals: shop
                    .approvals
                    .iter()
                    .filter(|a| {
                        let lots = shipment.lots.iter().map(|lot| &lot.case.dossier);
                        judge::approval_is_printed(a, lots, today)
                    })
                    .cloned()
                    .collect(),
                demo: shop.demo.clone(),
            },
            purchaser: Party {
                name: shipment.purchaser.name.clone(),
                address: shipment.purchaser.address.clone(),
            },
            shipment: Shipped { slip: shipment.slip.clone(), lines: lines.collect() },
            conformity: certificate::conformity(&shop.name, &lots),
            replaces: replaces.map(|r| r.replaces.clone()),
            decision_rule: rule.words().to_owned(),
            controlled: certificate::controlled(&lots),
            lots,
            not_covered: certificate::not_covered(),
            signatures: self.signing.signatures(&shipment.key, &self.world.printed()),
            judge: JudgeVersion { release: env!("CARGO_PKG_VERSION").to_owned(), judge: judge::JUDGE },
            renderer: RendererIdentity {
                release: env!("CARGO_PKG_VERSION").to_owned(),
                template: identity.template,
                drawing: identity.drawing,
                template_sha256: identity.template_sha256,
                fonts_sha256: identity.fonts_sha256,
                paper: match shop.paper {
                    crate::shop::Paper::A4 => Paper::A4.name().to_owned(),
                    crate::shop::Paper::Letter => Paper::Letter.name().to_owned(),
                },
            },
            how_to_check: how_to_check(&shop.contact, number, !evidence.is_empty()),
            seal_fingerprint: self.fingerprint.clone(),
            register: self.head.clone(),
            release: shop.release,
            hand_signature: shop.wet_signature_line.then(|| certificate::HAND_SIGNATURE.to_owned()),
        };
        if let Some(replacing) = replaces {
            self.names_nobody(&certificate)?;
            let marked = amended::marked(replacing.old, &certificate);
            certificate.replaces.iter_mut().for_each(|r| r.marked.clone_from(&marked));
        }
        Ok((certificate, evidence))
    }

    /// That what an amendment says of itself names nobody whom an order withholds.
    fn names_nobody(&self, certificate: &Certificate) -> Result<(), Error> {
        let people: Vec<&str> = self.desk.people.people.iter().map(|p| p.name.as_str()).collect();
        let Some(replaces) = &certificate.replaces else { return Ok(()) };
        let changed = replaces.changed.iter().flat_map(|one| [&one.what, &one.was, &one.now, &one.why]);
        let texts: Vec<&str> = changed.chain([&replaces.reason]).map(String::as_str).collect();
        match certificate::told_name(&certificate.lots, &texts, &people) {
            Some(name) => Err(withheld_name(name, "amendment")),
            None => Ok(()),
        }
    }

    /// Takes out of the lots what their orders withhold, each behind a salt of its own.
    fn withhold(&self, lots: &mut [CertifiedLot], salts: &Salts) -> Result<Vec<EvidenceLot>, Error> {
        let people: Vec<&str> = self.desk.people.people.iter().map(|p| p.name.as_str()).collect();
        let mut evidence = Vec::new();
        for (turn, lot) in lots.iter_mut().enumerate() {
            if let Some(name) = certificate::still_named(lot, &people) {
                return Err(Error::cannot(
                    format!(
                        "lot {}: {name} is named in a text of it, and the order withholds names",
                        lot.lot
                    ),
                    "take the name out of the text, or ask the purchaser's order to say `discloses: { names: yes }`",
                ));
            }
            let salt =
                salts.lots.get(turn).ok_or_else(|| Error::cannot("the salts ran out", "report this"))?;
            evidence.extend(certificate::withhold(lot, salt)?);
        }
        Ok(evidence)
    }

    /// What a shipment rests on; whoever prepared it is among it.
    fn uses(&self, shipment: &Shipment) -> Vec<Use> {
        let (by, today) = (self.signing.person.name.as_str(), self.world.today());
        let prepared = self.signing.prepared.get(&shipment.key);
        let hand = |lot: &str| {
            prepared.map(|hand| Use {
                lot: lot.to_owned(),
                thing: Thing::Person,
                name: hand.person.clone(),
                first: hand.at.get(..10).and_then(|day| day.parse().ok()),
                last: today,
                how: "prepared the certificate".to_owned(),
            })
        };
        let lots = shipment.lots.iter().map(|lot| &lot.case.dossier);
        lots.flat_map(|d| certificate::uses(d, (by, today)).into_iter().chain(hand(&d.record.lot))).collect()
    }

    /// Draws and seals one certificate.
    pub(super) fn make(
        &self,
        shipment: &Shipment,
        number: &str,
        salts: &Salts,
        replaces: Option<&Replacing<'_>>,
    ) -> Result<NewCertificate, Error> {
        let (certificate, withheld) = self.certificate(shipment, number, salts, replaces)?;
        let data = certificate.canonical()?;
        let stamp = canonical::stamp(&data);
        let evidence = match withheld.is_empty() {
            true => None,
            false => Some(Evidence::new(number, &stamp, withheld).canonical()?),
        };
        let pdf = seal_it(self.seal, draw(self.renderer, &certificate, &data, self.reserve)?)?;
        Ok(NewCertificate {
            number: number.to_owned(),
            stamp,
            pdf,
            evidence,
            input_digest: shipment.input.clone(),
            shipment_key: shipment.key.clone(),
            facets: facets(&certificate),
            pieces: shipment.lots.iter().map(|l| (l.case.dossier.record.lot.clone(), l.quantity)).collect(),
            accepted: shipment
                .lots
                .iter()
                .map(|l| (l.case.dossier.record.lot.clone(), l.case.dossier.record.counts.accepted))
                .collect(),
            signer: self.signing.person.name.clone(),
            uses: self.uses(shipment),
            data,
        })
    }
}

/// How a holder checks a certificate, and how an auditor one that withholds something.
fn how_to_check(contact: &str, number: &str, withholds: bool) -> Vec<String> {
    let mut ways = vec![
        format!("Get the shop's key fingerprint by another way than this file: {contact}."),
        format!("brightproof verify {number}.pdf --trust FINGERPRINT"),
    ];
    if withholds {
        ways.push(format!(
            "Whoever the shop gives the evidence of {number} can judge the withheld record again: add --evidence FILE."
        ));
    }
    ways
}

/// What a certificate is found by.
fn facets(certificate: &Certificate) -> Vec<(Facet, String)> {
    let mut all: BTreeSet<(Facet, String)> = BTreeSet::new();
    all.insert((Facet::Purchaser, certificate.purchaser.name.clone()));
    all.insert((Facet::Date, certificate.issued.chars().take(10).collect()));
    all.extend(certificate.shipment.slip.iter().map(|s| (Facet::Slip, s.clone())));
    for line in &certificate.shipment.lines {
        all.insert((Facet::PurchaseOrder, line.order.clone()));
        all.insert((Facet::Lot, line.lot.clone()));
        all.insert((Facet::Part, line.part.clone()));
        all.extend(line.purchaser_lot.iter().map(|l| (Facet::PurchaserLot, l.clone())));
        all.extend(line.serials.iter().map(|s| (Facet::Serial, s.clone())));
    }
    for lot in &certificate.lots {
        let permissions = lot.findings.iter().filter_map(crate::finding::Finding::permission);
        all.extend(permissions.map(|p| (Facet::Deviation, p.deviation.clone())));
        // Whoever looks for a lot also finds the lots made from it.
        all.extend(lot.descends_from.iter().map(|d| (Facet::Lot, d.lot.clone())));
        all.extend(lot.material.heats.iter().map(|h| (Facet::Heat, h.heat.clone())));
    }
    all.into_iter().collect()
}

/// Somebody is named in what the purchaser reads, though the order withholds names.
pub(in crate::app) fn withheld_name(name: &str, of: &str) -> Error {
    Error::cannot(
        format!("the reason of the {of} names {name}, and the order withholds names"),
        "say it without the name: the reason is printed for the purchaser; the register knows who did it from --by",
    )
}
