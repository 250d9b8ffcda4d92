//! The register's word without the register: a proof file that came with the certificate, and the keys of the shop
//! and of witnesses.

use std::path::Path;

use chrono::DateTime;
use chrono::TimeDelta;
use chrono::Utc;

use crate::app::error::Error;
use crate::app::verify::Answer;
use crate::app::verify::Verification;
use crate::app::verify::keys as key;
use crate::app::verify::read_data;
use crate::app::verify::remember;
use crate::app::verify::remember::Link;
use crate::canonical;
use crate::certificate::Certificate;
use crate::checkpoint;
use crate::checkpoint::Checkpoint;
use crate::checkpoint::CheckpointError;
use crate::checkpoint::Consistency;
use crate::checkpoint::EntryProof;
use crate::checkpoint::Handover;
use crate::checkpoint::Role;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::pdf;
use crate::register::Kind;
use crate::register::Leaf;
use crate::register::Register;

/// Keys and proofs that the verifier brings.
#[derive(Debug, Default)]
pub struct LogKeys {
    /// The register's keys as the shop told them; empty: the key the certificate names under its seal.
    pub register: Vec<VerifyKey>,
    /// Witnesses that must have cosigned.
    pub witnesses: Vec<VerifyKey>,
    /// Handovers of one key of the register to the next.
    pub handovers: Vec<Handover>,
    /// Proofs that the register grew from one head to another.
    pub consistency: Vec<Consistency>,
}

impl LogKeys {
    /// The keys heads of this certificate's register are checked with.
    pub(super) fn of(&self, certificate: &Certificate) -> Result<Vec<VerifyKey>, CheckpointError> {
        let mut keys = match self.register.as_slice() {
            [] => vec![VerifyKey::parse(&certificate.register.key)?],
            given => given.to_vec(),
        };
        keys = checkpoint::follow(&keys, &self.handovers)?;
        keys.extend(self.witnesses.iter().cloned());
        Ok(keys)
    }
}

/// Reads keys of a role: each text is a key, or a file with one on each line.
///
/// # Errors
/// When one is neither.
pub fn keys(given: &[String], role: Role) -> Result<Vec<VerifyKey>, Error> {
    let mut all: Vec<VerifyKey> = Vec::new();
    for text in given {
        let path = Path::new(text);
        let lines = if path.is_file() { folder::read_text(path)? } else { text.clone() };
        let lines = lines.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
        for line in lines {
            let key = VerifyKey::parse(line)?;
            if key.role() != role {
                let (is, wanted) = match role {
                    Role::Register => ("a witness's", "a register's"),
                    Role::Witness => ("a register's", "a witness's"),
                };
                return Err(Error::cannot(
                    format!("{} is {is} key, not {wanted}", key.name()),
                    "the register's key goes with --checkpoint-key, a witness's with --witness-key",
                ));
            }
            if !all.contains(&key) {
                all.push(key);
            }
        }
    }
    Ok(all)
}

/// A head somebody showed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// What it says.
    pub head: Checkpoint,
    /// As signed.
    pub text: String,
}

const MEANS: &str = "its entry is in the shop's register, with this file, number and stamp";
const WITNESSES: &str =
    "the witnesses whose keys you brought saw this head of the register, and nothing else";

/// Adds what a proof file shows about a certificate; answers the head it leads to, when it holds.
///
/// # Errors
/// When a register that was given cannot be read.
pub fn proof(
    found: &mut Verification,
    bytes: &[u8],
    proof: &str,
    keys: &LogKeys,
    register: Option<&Register>,
) -> Result<Option<Shown>, Error> {
    let Some((certificate, stamp)) = data(bytes) else {
        found.line("proof", true, Answer::NotChecked("its data could not be read".to_owned()), MEANS);
        return Ok(None);
    };
    let fail = |what: String| Answer::Fail(what);
    let shown = EntryProof::parse(proof)
        .and_then(|proof| {
            let known = keys.of(&certificate)?;
            // Without an entry in it there is nothing whose hash could be checked.
            let entry = proof.extra.clone();
            let entry = entry.ok_or_else(|| CheckpointError::ProofFile("it holds no entry".to_owned()))?;
            Ok((proof.verify(&entry, &known)?, entry, proof))
        })
        .map_err(|e| fail(e.to_string()));
    let (head, entry, proof) = match shown {
        Ok(shown) => shown,
        Err(answer) => {
            found.line("proof", true, answer, MEANS);
            return Ok(None);
        }
    };
    let wrong = differs(&entry, &certificate, &stamp, bytes)
        .or_else(|| misplaced(&head, &proof, &certificate))
        .map(fail);
    let link = match (&wrong, register) {
        (None, Some(register)) => match remember::link(&head, &now(register)?, Some(register), keys, &[])? {
            Link::Conflict(why) => Some(fail(format!("its head is not in this register's past: {why}"))),
            _ => None,
        },
        _ => None,
    };
    let holds = wrong.is_none() && link.is_none();
    let means = match holds {
        true => format!("{MEANS} (entry {} of {}, at {})", proof.index, head.size, at(&entry)),
        false => MEANS.to_owned(),
    };
    found.line("proof", true, wrong.or(link).unwrap_or(Answer::Pass), means);
    if !keys.witnesses.is_empty() {
        let witnessed = witnessed(&head, &keys.witnesses);
        let seen = (holds && witnessed == Answer::Pass)
            .then(|| first_seen(&head, &keys.witnesses, &at(&entry)))
            .flatten();
        found.line("witnesses", true, witnessed, WITNESSES);
        if let (Some(seen), Some(register), Ok(sealed)) = (seen, register, pdf::read_sealed(bytes)) {
            key::dated(found, register, &certificate, (bytes, &sealed), key::Seen::ByWitness(seen))?;
        }
    }
    Ok(holds.then_some(Shown { head, text: proof.checkpoint }))
}

/// Says that witnesses were asked for and no proof was given that could name them.
pub fn no_proof(found: &mut Verification) {
    let why = "no proof was given, and only a proof names witnesses".to_owned();
    found.line("witnesses", true, Answer::NotChecked(why), WITNESSES);
}

/// The data of a sealed certificate and their stamp.
pub(super) fn data(bytes: &[u8]) -> Option<(Certificate, String)> {
    // What cannot be read of the file has failed on a line of its own.
    let sealed = pdf::read_sealed(bytes).ok()?;
    let certificate = read_data(&sealed.attachment).ok()?;
    Some((certificate, canonical::stamp(&sealed.attachment)))
}

/// A register's present head, its signature not looked at.
pub(super) fn now(register: &Register) -> Result<Checkpoint, Error> {
    let head = register.head()?;
    Ok(Checkpoint { origin: head.origin, size: head.size, root: head.root, witnesses: Vec::new() })
}

/// How the entry speaks of another certificate than this.
fn differs(entry: &[u8], certificate: &Certificate, stamp: &str, bytes: &[u8]) -> Option<String> {
    let leaf = match Leaf::parse(entry) {
        Ok(leaf) => leaf,
        Err(error) => return Some(format!("what it proves is no entry of a register: {error}")),
    };
    if leaf.number.as_ref() != Some(&certificate.number) {
        let other = leaf.number.unwrap_or_else(|| "no certificate".to_owned());
        return Some(format!("it is the proof of {other}"));
    }
    let replaces = certificate.replaces.as_ref().map(|r| r.number.clone());
    let kind = if replaces.is_some() { Kind::Amendment } else { Kind::Issue };
    if leaf.kind != kind || leaf.replaces != replaces {
        return Some("the entry it proves is not the one that issued this certificate".to_owned());
    }
    if leaf.stamp.as_deref() != Some(stamp) {
        return Some("the register has this number with another stamp".to_owned());
    }
    if leaf.pdf_sha256 != Some(canonical::stamp(bytes)) {
        return Some("the register has this number with another file".to_owned());
    }
    None
}

/// How the proof's head cannot be one of the register this certificate names.
fn misplaced(head: &Checkpoint, proof: &EntryProof, certificate: &Certificate) -> Option<String> {
    let named = &certificate.register;
    if head.origin != named.origin {
        return Some(format!(
            "it is of the register {}, the certificate names {}",
            head.origin, named.origin
        ));
    }
    if proof.index < named.size {
        return Some("the certificate carries a head newer than its own entry".to_owned());
    }
    None
}

fn at(entry: &[u8]) -> String {
    Leaf::parse(entry).map(|leaf| leaf.at).unwrap_or_default()
}

/// Every witness that was asked for must be among those that cosigned.
/// How far two clocks may be apart.
const APART: TimeDelta = TimeDelta::minutes(5);

/// When the first of the witnesses that the verifier knows cosigned this head: by then its entries were there.
/// A witness whose clock is well before the entry's own time says nothing of when that was.
fn first_seen(head: &Checkpoint, wanted: &[VerifyKey], entered: &str) -> Option<DateTime<Utc>> {
    let known = head.witnesses.iter().filter(|(by, _)| wanted.iter().any(|key| key.name() == by));
    let first = known.map(|(_, at)| *at).min()?;
    let seen = DateTime::from_timestamp(i64::try_from(first).ok()?, 0)?;
    let entered = DateTime::parse_from_rfc3339(entered).ok()?.to_utc();
    (seen.checked_add_signed(APART)? >= entered).then_some(seen)
}

fn witnessed(head: &Checkpoint, wanted: &[VerifyKey]) -> Answer {
    let missing: Vec<&str> = wanted
        .iter()
        .map(VerifyKey::name)
        .filter(|name| !head.witnesses.iter().any(|(by, _)| by == name))
        .collect();
    match missing.as_slice() {
        [] => Answer::Pass,
        missing => Answer::NotChecked(format!(
            "not cosigned by {}: ask the shop for a later proof, or the witness for what it saw",
            missing.join(", ")
        )),
    }
}
