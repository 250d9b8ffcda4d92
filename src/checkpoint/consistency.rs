//! The proof that a register only grew, as one small file: from a head seen before to a signed head. Its form is the
//! request a witness takes (C2SP tlog-witness, add-checkpoint), so that one file serves verifiers and witnesses.
//!
//! ```text
//! old 20                                           entries at the head seen before
//! PlRNCrwHpqhGrupue0L7gxbjbMiKA9temvuZZDDpkaw=     hashes (RFC 6962 section 2.1.2), base64
//!                                                  one empty line
//! larkspur.example/register                        the newer checkpoint, as signed
//! ...
//! ```

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::Checkpoint;
use super::CheckpointError;
use super::VerifyKey;
use super::decimal;
use super::hash;
use super::open;
use crate::merkle::Hash;
use crate::merkle::verify_consistency;

/// The most hashes such a proof may have, by the format.
const MOST_HASHES: usize = 63;

/// That the first `old` entries are how the register of the checkpoint began.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consistency {
    /// Entries at the older head; 0 when none was seen.
    pub old: u64,
    /// The hashes.
    pub hashes: Vec<Hash>,
    /// The newer checkpoint, as signed.
    pub checkpoint: String,
}

impl Consistency {
    /// Reads a file. Nothing is verified yet.
    ///
    /// # Errors
    /// When the file is not in the one form this version writes.
    pub fn parse(file: &str) -> Result<Self, CheckpointError> {
        let wrong = |what: &str| CheckpointError::ProofFile(what.to_owned());
        let (head, checkpoint) =
            file.split_once("\n\n").ok_or_else(|| wrong("no empty line before a checkpoint"))?;
        let mut lines = head.split('\n');
        let old = lines.next().and_then(|line| line.strip_prefix("old ")).and_then(decimal);
        let old = old.ok_or_else(|| wrong("its first line is not `old` and a size"))?;
        let hashes: Option<Vec<Hash>> = lines.map(hash).collect();
        let hashes = hashes.ok_or_else(|| wrong("a line after the size is not a hash"))?;
        if hashes.len() > MOST_HASHES {
            return Err(wrong(&format!("{} hashes is too many", hashes.len())));
        }
        Ok(Self { old, hashes, checkpoint: checkpoint.to_owned() })
    }

    /// The file's text.
    pub fn to_text(&self) -> String {
        let hashes: String = self.hashes.iter().map(|hash| STANDARD.encode(hash) + "\n").collect();
        format!("old {}\n{hashes}\n{}", self.old, self.checkpoint)
    }

    /// Checks that the head of `old` entries with this root grew into the checkpoint, which a key among `keys` must
    /// have signed; answers the newer head.
    ///
    /// # Errors
    /// When the checkpoint does not hold or the hashes lead elsewhere; always when nothing was seen before.
    pub fn verify(&self, old_root: &Hash, keys: &[VerifyKey]) -> Result<Checkpoint, CheckpointError> {
        let head = open(&self.checkpoint, keys)?;
        verify_consistency(self.old, old_root, head.size, &head.root, &self.hashes)?;
        Ok(head)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checkpoint::SigningKey;
    use crate::checkpoint::sign;
    use crate::merkle::leaf;
    use crate::merkle::node;

    #[test]
    fn a_proof_survives_its_file_and_links_two_heads_only() {
        let key = SigningKey::from_seed("larkspur.example/register", &[9; 32]).unwrap();
        let (first, second) = (leaf(b"first"), leaf(b"second"));
        let checkpoint = sign(&key, key.name(), 2, &node(&first, &second)).unwrap();
        let proof = Consistency { old: 1, hashes: vec![second], checkpoint };
        let keys = [key.verify_key()];
        let read = Consistency::parse(&proof.to_text()).unwrap();
        assert_eq!(read, proof);
        assert_eq!(read.verify(&first, &keys).unwrap().size, 2);
        assert!(matches!(read.verify(&second, &keys), Err(CheckpointError::Proof(_))));
        assert!(matches!(read.verify(&first, &[]), Err(CheckpointError::Unknown { .. })));
        let first_sight = Consistency { old: 0, hashes: vec![], ..proof.clone() };
        assert!(matches!(first_sight.verify(&first, &keys), Err(CheckpointError::Proof(_))));
        for bad in [
            proof.to_text().replace("old 1", "old 01"),
            proof.to_text().replace("old 1", "1"),
            proof.to_text().replace("old 1\n", "old 1\nAAAA\n"),
            proof.to_text().replace("\n\n", "\n"),
        ] {
            assert!(matches!(Consistency::parse(&bad), Err(CheckpointError::ProofFile(_))), "{bad}");
        }
    }

    #[test]
    fn the_example_of_the_format_is_read() {
        // c2sp.org/tlog-witness (CC BY 4.0), the example request body
        let text = "old 20852014\nPlRNCrwHpqhGrupue0L7gxbjbMiKA9temvuZZDDpkaw=\njrJZDmY8Y7SyJE0MWLpLozkIVMSMZcD5kvuKxPC3swk=\n5+pKlUdi2LeF/BcMHBn+Ku6yhPGNCswZZD1X/6QgPd8=\n/6WVhPs2CwSsb5rYBH5cjHV/wSmA79abXAwhXw3Kj/0=\n\nexample.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n\u{2014} example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n";
        let read = Consistency::parse(text).unwrap();
        assert_eq!((read.old, read.hashes.len()), (20_852_014, 4));
        assert_eq!(read.to_text(), text);
    }
}
