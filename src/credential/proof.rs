//! Data Integrity proofs of cryptosuite `eddsa-jcs-2022` (W3C Data Integrity EdDSA Cryptosuites 1.0): what is signed,
//! and where the signature stands. Whoever holds the key signs [`message`].

use serde_json::Map;
use serde_json::Value;
use serde_json::json;

use super::CONTEXTS;
use super::CredentialError;
use super::base;
use crate::canonical;
use crate::canonical::CanonicalError;
use crate::merkle::sha256;

/// EdDSA over Ed25519, canonical form by RFC 8785.
pub const CRYPTOSUITE: &str = "eddsa-jcs-2022";
const PURPOSE: &str = "assertionMethod";
const PROOF: &str = "proof";
const VALUE: &str = "proofValue";

/// The proof of a document without its value: by which key, and when (RFC 3339 UTC).
pub fn config(public: &[u8; 32], created: &str) -> Value {
    json!({
        "type": "DataIntegrityProof",
        "cryptosuite": CRYPTOSUITE,
        "created": created,
        "verificationMethod": method(public),
        "proofPurpose": PURPOSE,
        "@context": CONTEXTS,
    })
}

fn method(public: &[u8; 32]) -> String {
    format!("{}#{}", base::did(public), base::multikey(public))
}

/// What is signed: SHA-256 of the canonical proof without value, then SHA-256 of the canonical document.
///
/// # Errors
/// When either has no canonical form.
pub fn message(document: &Value, config: &Value) -> Result<[u8; 64], CanonicalError> {
    let (first, second) = (canonical::canonical(config)?, canonical::canonical(document)?);
    let mut all = [0; 64];
    for (into, from) in all.iter_mut().zip(sha256(&first).into_iter().chain(sha256(&second))) {
        *into = from;
    }
    Ok(all)
}

/// The document with its proof, in canonical bytes: one line without end.
///
/// # Errors
/// When it has no canonical form.
pub fn secured(
    mut document: Value,
    mut config: Value,
    signature: &[u8; 64],
) -> Result<Vec<u8>, CanonicalError> {
    if let (Value::Object(all), Value::Object(proof)) = (&mut document, &mut config) {
        proof.insert(VALUE.to_owned(), base::proof_value(signature).into());
        all.insert(PROOF.to_owned(), config);
    }
    canonical::canonical(&document)
}

/// A credential read back, its signature not yet checked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opened {
    /// The document without its proof.
    pub document: Value,
    /// The issuer's public key.
    pub public: [u8; 32],
    /// What must have been signed.
    pub message: [u8; 64],
    /// The signature.
    pub signature: [u8; 64],
}

/// Reads a credential as [`secured`] writes it.
///
/// # Errors
/// When it is not canonical, or its proof is not one of the issuer's in the cryptosuite above.
pub fn opened(bytes: &[u8]) -> Result<Opened, CredentialError> {
    let mut document = canonical::parse_canonical(bytes)?;
    let missing = |member| CredentialError::Member {
        member,
        found: "missing or of another kind".to_owned(),
        expected: "an object".to_owned(),
    };
    let taken = document.as_object_mut().and_then(|all| all.remove(PROOF));
    let Some(Value::Object(mut proof)) = taken else { return Err(missing("proof")) };
    let value = proof.remove(VALUE).and_then(|value| value.as_str().map(str::to_owned)).unwrap_or_default();
    let signature = base::signature(&value)?;
    let issuer = document.pointer("/issuer/id").and_then(Value::as_str).ok_or_else(|| missing("issuer"))?;
    let public = base::key(issuer)?;
    let empty = Map::new();
    let all = document.as_object().unwrap_or(&empty);
    let rows = [
        ("@context", all.get("@context"), json!(CONTEXTS)),
        ("proof.@context", proof.get("@context"), json!(CONTEXTS)),
        ("proof.type", proof.get("type"), "DataIntegrityProof".into()),
        ("proof.cryptosuite", proof.get("cryptosuite"), CRYPTOSUITE.into()),
        ("proof.proofPurpose", proof.get("proofPurpose"), PURPOSE.into()),
        ("proof.verificationMethod", proof.get("verificationMethod"), method(&public).into()),
    ];
    for (member, found, expected) in rows {
        if found != Some(&expected) {
            let found = found.map_or_else(|| "missing".to_owned(), Value::to_string);
            return Err(CredentialError::Member { member, found, expected: expected.to_string() });
        }
    }
    let message = message(&document, &Value::Object(proof))?;
    Ok(Opened { document, public, message, signature })
}
