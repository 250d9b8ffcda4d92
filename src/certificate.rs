//! The certificate's data: one versioned JSON document that holds everything printed and everything needed to
//! judge again. Data first, page second.
//!
//! Values are strings as recorded, because a JSON number drops trailing zeros; counts are integers. What is
//! printed of a lot is computed from its dossier by [`certified_lot`], so a verifier computes it again and
//! compares.

mod asked;
mod corrected;
mod evidence;
mod picture;
mod pieces;
mod printed;
mod raw;
mod sampled;
mod signed;
mod uses;
mod withheld;

use serde::Deserialize;
use serde::Serialize;

pub use corrected::PrintedCorrection;
pub use corrected::PrintedLate;
pub use corrected::in_record;
pub use evidence::Evidence;
pub use evidence::EvidenceError;
pub use evidence::EvidenceLot;
pub use evidence::digest as evidence_digest;
pub use evidence::withhold;
pub use picture::Picture;
pub use printed::certified_lot;
pub use printed::conformity;
pub use printed::not_covered;
pub use sampled::PrintedSampling;
pub use signed::HAND_SIGNATURE;
pub use signed::How;
pub use signed::PREPARED;
pub use signed::RELEASED;
pub use signed::wrong_signatures;
pub use uses::Thing;
pub use uses::Use;
pub use uses::uses;
pub use withheld::WITHHELD;
pub use withheld::controlled;
pub use withheld::markings;
pub use withheld::masked;
pub use withheld::still_named;
pub use withheld::told_name;
pub use withheld::withheld;

use crate::canonical;
use crate::canonical::CanonicalError;
use crate::finding::Finding;
use crate::judge::Dossier;
use crate::part::Item;
use crate::record::Knowledge;
use crate::shop::ReleasePolicy;

/// The form of the data. Frozen: every later release reads it, and one that changes it gives it another name.
pub const FORMAT: &str = "brightproof certificate, 1";

/// Everything a certificate says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// [`FORMAT`].
    pub format: String,
    /// Certificate number, never used again.
    pub number: String,
    /// When it was issued: RFC 3339, to the second, with the shop's offset.
    pub issued: String,
    /// Where.
    pub place: String,
    /// 32 random bytes, hexadecimal: without them nobody guesses a lot's facts from the public stamp.
    pub salt: String,
    /// The shop.
    pub issuer: Issuer,
    /// Whom it is for.
    pub purchaser: Party,
    /// What it covers.
    pub shipment: Shipped,
    /// The statement of conformity.
    pub conformity: String,
    /// The certificate it replaces, for an amendment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<Replaces>,
    /// How results at a limit were decided.
    pub decision_rule: String,
    /// Control marking printed on every page.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controlled: Option<String>,
    /// Lots.
    pub lots: Vec<CertifiedLot>,
    /// What it does not cover.
    pub not_covered: Vec<String>,
    /// Who prepared it, where that was another step, and who released it.
    pub signatures: Vec<Signature>,
    /// Who judged.
    pub judge: JudgeVersion,
    /// What drew the page.
    pub renderer: RendererIdentity,
    /// How a holder checks it.
    pub how_to_check: Vec<String>,
    /// SHA-256 of the shop's root certificate, as a hint only: nothing inside the file is a trust anchor.
    pub seal_fingerprint: String,
    /// A signed head of the register, no newer than this certificate's own entry.
    pub register: RegisterHead,
    /// How the shop released shipments when it issued this; left out: in one step, by whoever held the seal key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub release: Option<ReleasePolicy>,
    /// The sentence under a line for a signature by hand; left out: no such line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hand_signature: Option<String>,
}

/// The shop, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Issuer {
    /// Name.
    pub name: String,
    /// Postal address, line by line.
    pub address: Vec<String>,
    /// Whom to ring or write.
    pub contact: String,
    /// Approvals in force on the day of issue.
    pub approvals: Vec<crate::shop::Approval>,
    /// What every page says when this is no real shop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub demo: Option<String>,
}

/// A party.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Party {
    /// Name.
    pub name: String,
    /// Postal address, line by line.
    pub address: Vec<String>,
}

/// A shipment, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shipped {
    /// Packing slip, where one was named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slip: Option<String>,
    /// One line a lot.
    pub lines: Vec<ShippedLine>,
}

/// One line of a shipment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShippedLine {
    /// Purchase order.
    pub order: String,
    /// Its line.
    pub line: String,
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// What the part is.
    pub description: String,
    /// The shop's lot.
    pub lot: String,
    /// The purchaser's own lot number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purchaser_lot: Option<String>,
    /// Pieces certified.
    pub quantity: u64,
    /// Serial numbers, when every accepted piece is on the shipment.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub serials: Vec<String>,
    /// Release of a blanket line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub release: Option<String>,
}

/// What an amendment replaces.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replaces {
    /// Number of the replaced certificate.
    pub number: String,
    /// Its stamp.
    pub stamp: String,
    /// Why.
    pub reason: String,
    /// Clerical, or conformity.
    pub kind: AmendmentKind,
    /// What changed, in the order of the certificate.
    pub changed: Vec<ChangedValue>,
    /// How many more changes there are than are listed.
    #[serde(default, skip_serializing_if = "is_nil")]
    pub more: u64,
    /// Printed rows that stand in no row of the replaced certificate, as `lots[0].tests[1]`: marked on the page.
    pub marked: Vec<String>,
}

/// One value that is other than on the replaced certificate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangedValue {
    /// Of what, in words.
    pub what: String,
    /// Its place in the data, with `dossier.disclosed` left out; findings by requirement and part of the lot.
    pub at: String,
    /// What stood there; `nothing`, or `withheld` where the order does not disclose it.
    pub was: String,
    /// What stands there now.
    pub now: String,
    /// Why: the reason of the correction that changed it, else that of the amendment.
    pub why: String,
}

fn is_nil(count: &u64) -> bool {
    *count == 0
}

/// The two kinds of amendment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum AmendmentKind {
    /// A name, a number, a date: nothing the parts were judged by.
    Clerical,
    /// Something the parts were judged by: whoever holds the old one must be told.
    Conformity,
}

/// A datum that is disclosed, or withheld behind its salted digest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Datum<T> {
    /// The datum itself.
    Disclosed(T),
    /// The digest of salt and datum, hexadecimal ([`evidence_digest`]); both are in the shop's evidence bundle.
    Withheld(String),
}

/// One lot of a certificate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CertifiedLot {
    /// The shop's lot number.
    pub lot: String,
    /// Part number.
    pub part: String,
    /// Drawing revision.
    pub revision: String,
    /// What the part is.
    pub description: String,
    /// Pieces certified.
    pub quantity: u64,
    /// Grade and heats.
    pub material: PrintedMaterial,
    /// Where every piece went.
    pub counts: Vec<PrintedCount>,
    /// Dates.
    pub dates: Vec<PrintedDate>,
    /// Call-outs in words.
    pub call_outs: Vec<String>,
    /// Treatments with their readings.
    pub treatments: Vec<PrintedTreatment>,
    /// Tests, looks and measurements with their readings.
    pub tests: Vec<PrintedTest>,
    /// Sampling plans ordered, with what they let through.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sampling: Vec<PrintedSampling>,
    /// The purchaser's written permissions that were used.
    pub deviations: Vec<String>,
    /// Every finding.
    pub findings: Vec<Finding>,
    /// What was judged.
    pub dossier: Datum<Box<Dossier>>,
    /// The purchaser's statements, word for word.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub statements: Vec<PrintedStatement>,
    /// Particulars the purchaser asks by name, as recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<Fact>,
    /// What figures in parentheses are, where readings are printed in the other unit system too.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conversions: Option<String>,
    /// The runs covered, when a part of the lot is; left out: the whole lot.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers_runs: Vec<String>,
    /// What a reader must know of its pieces: what is not covered, where they came from, how they were counted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pieces_notes: Vec<String>,
    /// The lots its pieces descend from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub descends_from: Vec<Descent>,
    /// Values changed or entered late, each with what stood there first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<PrintedCorrection>,
    /// Values an earlier check of the lot did not see.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub entered_late: Vec<PrintedLate>,
    /// Pictures of what was computed, where the order or the shop wants them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pictures: Vec<Picture>,
    /// What of it the purchaser is not shown, as the order provides.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub withheld: Vec<Item>,
    /// Its control marking.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controlled: Option<String>,
}

/// A statement of the purchaser's, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedStatement {
    /// The words, as asked.
    pub text: String,
    /// What they rest on, and whose word they are.
    pub mark: String,
}

/// One lot that pieces descend from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Descent {
    /// That lot.
    pub lot: String,
    /// The lot that took the pieces out of it.
    pub by: String,
    /// How many it took.
    pub pieces: u64,
}

/// Grade and heats, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedMaterial {
    /// Grade.
    pub grade: String,
    /// Heats.
    pub heats: Vec<PrintedHeat>,
}

/// A heat, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedHeat {
    /// Heat number.
    pub heat: String,
    /// How the shop knows it.
    pub known: Knowledge,
}

/// A count, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedCount {
    /// Of what.
    pub what: String,
    /// How many.
    pub pieces: u64,
}

/// A date, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedDate {
    /// Of what.
    pub what: String,
    /// When.
    pub when: String,
}

/// A reading, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// Of what.
    pub what: String,
    /// As recorded.
    pub value: String,
}

/// A treatment, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedTreatment {
    /// Run.
    pub run: String,
    /// Pieces in it; absent when they are withheld.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
    /// What was done.
    pub what: String,
    /// In which bath.
    pub bath: String,
    /// From when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// To when.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// Readings.
    pub facts: Vec<Fact>,
    /// Whether all its pieces were treated again later.
    pub history: bool,
}

/// A test, a look or a measurement, as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedTest {
    /// Which.
    pub what: String,
    /// Pieces; absent when they are withheld.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pieces: Option<u64>,
    /// Pieces that failed; absent when they are withheld.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nonconforming: Option<u64>,
    /// When.
    pub when: String,
    /// Readings.
    pub facts: Vec<Fact>,
    /// What came of it.
    pub result: String,
    /// Whether it was made before the pieces' last treatment.
    pub history: bool,
}

/// A signature: a person's word, apart from the seal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Signature {
    /// Who.
    pub person: String,
    /// Function.
    pub function: String,
    /// What the signature means.
    pub meaning: String,
    /// How the person was authenticated.
    pub authenticated: String,
    /// When.
    pub at: String,
}

/// The judge's version.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JudgeVersion {
    /// Release of the program.
    pub release: String,
    /// [`crate::judge::JUDGE`].
    pub judge: u64,
}

/// What drew the page: the same drawing, template, fonts and paper draw the same bytes from the same data, whichever
/// release it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RendererIdentity {
    /// Release of the program, for people.
    pub release: String,
    /// [`crate::pdf::DRAWING`].
    pub drawing: u64,
    /// Template.
    pub template: String,
    /// Digest of the template.
    pub template_sha256: String,
    /// Digest of the fonts.
    pub fonts_sha256: String,
    /// Paper.
    pub paper: String,
}

/// A signed head of the register.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterHead {
    /// Register name.
    pub origin: String,
    /// Entries.
    pub size: u64,
    /// Root over them, hexadecimal.
    pub root: String,
    /// The signed text of this head.
    pub checkpoint: String,
    /// Verifier key of the register's checkpoints, as a hint only.
    pub key: String,
}

impl Certificate {
    /// The canonical bytes (RFC 8785): what is stamped, attached and registered.
    pub fn canonical(&self) -> Result<Vec<u8>, CanonicalError> {
        let value = serde_json::to_value(self).map_err(|e| CanonicalError::Write(e.to_string()))?;
        canonical::canonical(&value)
    }
}
