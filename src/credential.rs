//! A certificate's data as a W3C Verifiable Credential 2.0, in the words of UNTP's Digital Conformity Credential
//! 0.7.0: what purchasers' systems read without a program of ours. `docs/formats/credential.md` maps every member.
//!
//! The certificate stays the sealed PDF. A credential names it by digests and speaks of nothing else: each node's
//! `id` is `ni:///sha-256;STAMP#POINTER`, the digest of the certificate's data (RFC 6920) and the place in them
//! (RFC 6901). So no name is made up, and whoever holds the data finds what a node speaks of.
//!
//! Readings stay texts. The vocabulary's `measure` is a binary floating-point number, which would drop the trailing
//! zeros that say how finely a gauge was read.

mod base;
mod proof;

use serde_json::Value;
use serde_json::json;
use thiserror::Error;

pub use base::did;
pub use base::digest;
pub use base::key;
pub use base::named;
pub use proof::CRYPTOSUITE;
pub use proof::Opened;
pub use proof::config;
pub use proof::message;
pub use proof::opened;
pub use proof::secured;

use crate::canonical::CanonicalError;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::merkle::Hash;
use crate::merkle::sha256;

/// The two contexts, in the order the vocabulary asks for.
pub const CONTEXTS: [&str; 2] =
    ["https://www.w3.org/ns/credentials/v2", "https://vocabulary.uncefact.org/untp/0.7.0/context/"];

/// Why a text is no credential of a certificate, or a certificate cannot be put into one.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CredentialError {
    /// Not canonical JSON.
    #[error(transparent)]
    Canonical(#[from] CanonicalError),
    /// A member is missing or other than it must be.
    #[error("{member} is {found} instead of {expected}")]
    Member {
        /// Which.
        member: &'static str,
        /// What stands there.
        found: String,
        /// What must.
        expected: String,
    },
    /// Not base58, or not of the right kind or length.
    #[error("{what} is not {expected}")]
    Encoding {
        /// Of what.
        what: &'static str,
        /// What it must be.
        expected: &'static str,
    },
}

/// What is known of a certificate beside its data.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Registered {
    /// SHA-256 of its canonical data: the stamp.
    pub data: Hash,
    /// SHA-256 of its file.
    pub pdf: Hash,
    /// Name of the register.
    pub origin: String,
    /// Index of its entry.
    pub index: u64,
    /// SHA-256 of that entry's public bytes.
    pub entry: Hash,
}

/// The credential of a certificate, not yet signed, issued by the holder of an Ed25519 public key.
pub fn document(certificate: &Certificate, registered: &Registered, public: &[u8; 32]) -> Value {
    let issuer = did(public);
    let number = &certificate.number;
    json!({
        "@context": CONTEXTS,
        "type": ["DigitalConformityCredential", "VerifiableCredential"],
        "id": identity(&issuer, &registered.data),
        "name": format!("Certificate of conformity {number}"),
        "description": what_it_is(certificate, registered),
        "issuer": { "type": ["CredentialIssuer"], "id": issuer, "name": certificate.issuer.name },
        "validFrom": certificate.issued,
        "credentialSubject": attestation(certificate, registered),
    })
}

/// A name for the credential that is the same whenever it is made anew: a UUID of version 8 (RFC 9562) out of the
/// digest of issuer and stamp.
fn identity(issuer: &str, data: &Hash) -> String {
    let [mut bytes @ .., _, _, _, _, _, _, _, _, _, _, _, _, _, _, _, _] =
        sha256(format!("{issuer}\n{}", hex::encode(data)).as_bytes());
    let [_, _, _, _, _, _, version, _, variant, ..] = &mut bytes;
    *version = (*version & 0x0f) | 0x80;
    *variant = (*variant & 0x3f) | 0x80;
    let text = hex::encode(bytes);
    let mut name = "urn:uuid:".to_owned();
    for (at, digit) in text.chars().enumerate() {
        if matches!(at, 8 | 12 | 16 | 20) {
            name.push('-');
        }
        name.push(digit);
    }
    name
}

fn what_it_is(certificate: &Certificate, registered: &Registered) -> String {
    let mut lines: Vec<String> = certificate.issuer.demo.iter().cloned().collect();
    lines.push(format!(
        "Data of certificate {} for machines. The certificate is the sealed PDF that conformityCertificate names by \
         its SHA-256; this credential does not stand for it. It is entry {} of the register {}. Whether it was \
         amended or withdrawn after this was signed is asked of the register or of the issuer.",
        certificate.number, registered.index, registered.origin
    ));
    lines.extend(certificate.how_to_check.iter().cloned());
    lines.join("\n")
}

fn attestation(certificate: &Certificate, registered: &Registered) -> Value {
    let number = &certificate.number;
    let at = |pointer: &str| place(&registered.data, pointer);
    let assessments: Vec<Value> = certificate
        .lots
        .iter()
        .enumerate()
        .flat_map(|(index, lot)| assessed(certificate, index, lot, &registered.data))
        .collect();
    json!({
        "type": ["ConformityAttestation"],
        "id": named(&registered.data),
        "name": number,
        "description": stated(certificate),
        // The finisher speaks of its own work, and no authority endorses that it does: a first-party declaration.
        "assessorLevel": "self",
        "assessmentLevel": "no-endorsement",
        "attestationType": "declaration",
        "issuedToParty": { "type": ["Party"], "id": at("/purchaser"), "name": certificate.purchaser.name },
        "referenceScheme": {
            "type": ["ConformityScheme"],
            "id": at("/judge"),
            "name": format!("brightproof {}, judge {}", certificate.judge.release, certificate.judge.judge),
        },
        "conformityCertificate": link(&registered.pdf, format!("{number}.pdf"), "application/pdf"),
        "auditableEvidence": link(
            &registered.entry,
            format!("entry {} of {}", registered.index, registered.origin),
            "application/json",
        ),
        "conformityAssessment": assessments,
    })
}

fn link(hash: &Hash, name: String, media: &str) -> Value {
    json!({ "linkURL": named(hash), "linkName": name, "digestMultibase": digest(hash), "mediaType": media })
}

/// Where something stands in the certificate's data.
fn place(data: &Hash, pointer: &str) -> String {
    format!("{}#{pointer}", named(data))
}

fn stated(certificate: &Certificate) -> String {
    let mut lines = vec![certificate.conformity.clone(), certificate.decision_rule.clone()];
    if let Some(replaces) = &certificate.replaces {
        lines.push(format!("Replaces certificate {}: {}", replaces.number, replaces.reason));
    }
    lines.extend(certificate.not_covered.iter().map(|one| format!("Not covered: {one}")));
    lines.join("\n")
}

/// One assessment for each requirement that applies. Where nothing applied, nothing was assessed.
fn assessed(certificate: &Certificate, index: usize, lot: &CertifiedLot, data: &Hash) -> Vec<Value> {
    let product = product(certificate, index, lot, data);
    let applies = lot.findings.iter().enumerate().filter(|(_, one)| one.verdict != Verdict::NotApplicable);
    applies
        .map(|(nth, finding)| {
            assessment(certificate, finding, &product, &|member| {
                place(data, &format!("/lots/{index}/findings/{nth}{member}"))
            })
        })
        .collect()
}

fn assessment(
    certificate: &Certificate,
    finding: &Finding,
    product: &Value,
    at: &dyn Fn(&str) -> String,
) -> Value {
    let mut conditions = vec![finding.place_in_lot.clone()];
    if let Some(Reason::Permitted(permission)) = &finding.reason {
        conditions.push(match &permission.instead {
            Some(instead) => format!("deviation {}: {instead}", permission.deviation),
            None => format!("deviation {}", permission.deviation),
        });
    }
    let mut all = json!({
        "type": ["ConformityAssessment"],
        "id": at(""),
        "name": format!("{}, {}", finding.subject, finding.place_in_lot),
        "assessmentCriteria": [{
            "type": ["Criterion"],
            "id": at("/requirement"),
            "name": finding.requirement,
            "description": finding.limit,
        }],
        "assessmentDate": certificate.issued.chars().take_while(|c| *c != 'T').collect::<String>(),
        "assessedPerformance": [{
            "metric": { "type": ["PerformanceMetric"], "id": at("/subject"), "name": finding.subject },
            "score": { "code": finding.verdict },
        }],
        "assessedProduct": [{ "product": product }],
        "referenceStandard": [{
            "type": ["Standard"],
            "id": at("/standard"),
            "name": finding.standard,
            "description": finding.clause,
        }],
        "specifiedCondition": conditions,
        // The vocabulary's topics are of sustainability; none is a finish. It asks for the list, which may be empty.
        "conformityTopic": [],
    });
    let conformance = match finding.verdict {
        Verdict::Met => Some(true),
        Verdict::NotMet => Some(false),
        // Neither: the score's code says what it is.
        Verdict::NoEvidence
        | Verdict::NotApplicable
        | Verdict::Accepted
        | Verdict::Advice
        | Verdict::ReliedOn => None,
    };
    if let Value::Object(members) = &mut all {
        if let Some(conformance) = conformance {
            members.insert("conformance".to_owned(), conformance.into());
        }
        if let Some(observed) = &finding.observed {
            members.insert("description".to_owned(), observed.as_str().into());
        }
    }
    all
}

/// A lot as a batch of a product. What only this trade knows stands under `characteristics`, which the vocabulary
/// leaves open.
fn product(certificate: &Certificate, index: usize, lot: &CertifiedLot, data: &Hash) -> Value {
    let shipped = certificate.shipment.lines.iter().filter(|line| line.lot == lot.lot);
    let lines: Vec<Value> = shipped
        .map(|line| {
            let mut one = json!({ "order": line.order, "line": line.line, "quantity": line.quantity });
            if let Value::Object(members) = &mut one {
                let mut put = |name: &str, value: Value| drop(members.insert(name.to_owned(), value));
                if let Some(lot) = &line.purchaser_lot {
                    put("purchaserLot", lot.as_str().into());
                }
                if let Some(release) = &line.release {
                    put("release", release.as_str().into());
                }
                if !line.serials.is_empty() {
                    put("serials", line.serials.clone().into());
                }
            }
            one
        })
        .collect();
    let heats: Vec<&str> = lot.material.heats.iter().map(|heat| heat.heat.as_str()).collect();
    let mut known = json!({
        "quantity": lot.quantity,
        "drawingRevision": lot.revision,
        "grade": lot.material.grade,
        "heats": heats,
        "callOuts": lot.call_outs,
        "shipped": lines,
    });
    if let Value::Object(members) = &mut known {
        let lists = [("coversRuns", &lot.covers_runs), ("notes", &lot.pieces_notes)];
        for (name, list) in lists.into_iter().filter(|(_, list)| !list.is_empty()) {
            members.insert(name.to_owned(), json!(list));
        }
        if !lot.withheld.is_empty() {
            members.insert("withheld".to_owned(), json!(lot.withheld));
        }
    }
    json!({
        "type": ["Product"],
        "id": place(data, &format!("/lots/{index}")),
        "name": lot.description,
        "modelNumber": lot.part,
        "batchNumber": lot.lot,
        "characteristics": known,
    })
}
