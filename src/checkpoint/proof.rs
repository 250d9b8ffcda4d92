//! The proof that one entry is in the register, as one small file (C2SP tlog-proof): enough for an
//! auditor with the register's verifier key and no register.
//!
//! ```text
//! c2sp.org/tlog-proof@v1
//! extra eyJhdCI6IjIwMjYtMTEtMjVUMTQ6MDU6MDBaIiwia2luZCI6Imlzc3VlIn0=      the entry itself, base64
//! index 1
//! KDdP31eVawtlMbb9whm571TX9YItPtLdBhDHXzUmssI=     hashes from the leaf to the root, base64
//!                                                  one empty line
//! larkspur.example/register                        the checkpoint, as signed
//! ...
//! ```
//!
//! Nothing signs the `extra` line. It needs no signature: its hash either leads to the signed root, or it is no entry.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::Checkpoint;
use super::CheckpointError;
use super::VerifyKey;
use super::decimal;
use super::hash;
use super::open;
use crate::merkle::Hash;
use crate::merkle::leaf;
use crate::merkle::verify_inclusion;

const FIRST_LINE: &str = "c2sp.org/tlog-proof@v1";
/// Far above any entry; keeps a hostile file from costing time.
const LONGEST_EXTRA: usize = 100_000;
/// A tree of 2^63 entries needs no more.
const MOST_HASHES: usize = 63;

/// Where an entry stands in the register, and the hashes that lead to a signed head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryProof {
    /// What the `extra` line holds: the bytes of the entry, in the files this version writes.
    pub extra: Option<Vec<u8>>,
    /// The entry's index, from 0.
    pub index: u64,
    /// Sibling hashes, lowest first.
    pub hashes: Vec<Hash>,
    /// The checkpoint, as signed.
    pub checkpoint: String,
}

impl EntryProof {
    /// Reads a proof file. Nothing is verified yet.
    ///
    /// # Errors
    /// When the file is not in the one form this version writes.
    pub fn parse(file: &str) -> Result<Self, CheckpointError> {
        let wrong = |what: &str| CheckpointError::ProofFile(what.to_owned());
        let (head, checkpoint) =
            file.split_once("\n\n").ok_or_else(|| wrong("no empty line before a checkpoint"))?;
        let mut lines = head.split('\n');
        if lines.next() != Some(FIRST_LINE) {
            return Err(wrong(&format!("it does not begin with {FIRST_LINE}")));
        }
        let mut second = lines.next();
        let extra = match second.and_then(|line| line.strip_prefix("extra ")) {
            None => None,
            Some(text) if text.len() > LONGEST_EXTRA => return Err(wrong("its extra line is too long")),
            Some(text) => {
                second = lines.next();
                Some(STANDARD.decode(text).map_err(|_| wrong("its extra line is not base64"))?)
            }
        };
        let index = second.and_then(|line| line.strip_prefix("index ")).and_then(decimal);
        let index = index.ok_or_else(|| wrong("no line says its index"))?;
        let hashes: Option<Vec<Hash>> = lines.map(hash).collect();
        let hashes = hashes.ok_or_else(|| wrong("a line after the index is not a hash"))?;
        if hashes.len() > MOST_HASHES {
            return Err(wrong(&format!("{} hashes is too many", hashes.len())));
        }
        Ok(Self { extra, index, hashes, checkpoint: checkpoint.to_owned() })
    }

    /// The proof file's text.
    pub fn to_text(&self) -> String {
        let hashes: String = self.hashes.iter().map(|hash| STANDARD.encode(hash) + "\n").collect();
        let extra = self.extra.as_ref().map(|bytes| format!("extra {}\n", STANDARD.encode(bytes)));
        let extra = extra.unwrap_or_default();
        format!("{FIRST_LINE}\n{extra}index {}\n{hashes}\n{}", self.index, self.checkpoint)
    }

    /// Checks that `entry` (its exact bytes) is in the register whose key is among `keys`; answers
    /// the signed head it was found under.
    ///
    /// # Errors
    /// When the checkpoint does not hold or the hashes lead elsewhere.
    pub fn verify(&self, entry: &[u8], keys: &[VerifyKey]) -> Result<Checkpoint, CheckpointError> {
        let head = open(&self.checkpoint, keys)?;
        verify_inclusion(&leaf(entry), self.index, head.size, &self.hashes, &head.root)?;
        Ok(head)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checkpoint::SigningKey;
    use crate::checkpoint::sign;
    use crate::merkle::node;

    fn proof() -> (EntryProof, Vec<VerifyKey>) {
        let key = SigningKey::from_seed("larkspur.example/register", &[9; 32]).unwrap();
        let (first, second) = (leaf(b"first"), leaf(b"second"));
        let checkpoint = sign(&key, key.name(), 2, &node(&first, &second)).unwrap();
        (EntryProof { extra: None, index: 1, hashes: vec![first], checkpoint }, vec![key.verify_key()])
    }

    #[test]
    fn a_proof_survives_its_file_and_verifies_its_entry_only() {
        let (proof, keys) = proof();
        let read = EntryProof::parse(&proof.to_text()).unwrap();
        assert_eq!(read, proof);
        assert_eq!(read.verify(b"second", &keys).unwrap().size, 2);
        assert!(matches!(read.verify(b"third", &keys), Err(CheckpointError::Proof(_))));
        assert!(matches!(read.verify(b"first", &keys), Err(CheckpointError::Proof(_))));
        let moved = EntryProof { index: 0, ..read.clone() };
        assert!(matches!(moved.verify(b"second", &keys), Err(CheckpointError::Proof(_))));
        assert!(matches!(read.verify(b"second", &[]), Err(CheckpointError::Unknown { .. })));
        let with = EntryProof { extra: Some(b"second".to_vec()), ..proof };
        let text = with.to_text();
        // base64 of "second", by coreutils
        assert!(text.starts_with("c2sp.org/tlog-proof@v1\nextra c2Vjb25k\nindex 1\n"), "{text}");
        assert_eq!(EntryProof::parse(&text).unwrap(), with);
    }

    #[test]
    fn other_files_are_refused() {
        let text = proof().0.to_text();
        for bad in [
            String::new(),
            text.replace("@v1", "@v2"),
            text.replace("index 1", "index 01"),
            text.replace("index 1", "index -1"),
            text.replace("index 1\n", ""),
            text.replace("index 1\n", "extra AAA\nindex 1\n"),
            text.replace("index 1\n", "extra\nindex 1\n"),
            text.replace("index 1\n", "extra AAAA\nextra AAAA\nindex 1\n"),
            text.replace("index 1\n", "index 1\nextra AAAA\n"),
            text.replace("index 1\n", &format!("extra {}\nindex 1\n", "AAAA".repeat(LONGEST_EXTRA))),
            text.replace("index 1\n", "index 1\nAAAA\n"),
            text.replace("index 1\n", &format!("index 1\n{}", (STANDARD.encode([0; 32]) + "\n").repeat(63))),
            text.replace("\n\n", "\n"),
        ] {
            assert!(matches!(EntryProof::parse(&bad), Err(CheckpointError::ProofFile(_))), "{bad}");
        }
    }
}
