//! Checking proofs somebody else made: RFC 9162 sections 2.1.3.2 and 2.1.4.2.
//!
//! A first sight (an old size of 0) is refused here: every tree extends the empty one, so such a
//! proof says nothing, and a verifier that has seen nothing yet must know that it pins the head it
//! is shown instead of checking it.

use super::Hash;
use super::node;
use thiserror::Error;

/// Why a proof does not hold.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ProofError {
    /// The leaf asked about is not in a tree of that size.
    #[error("entry {index} is not among the first {size} entries")]
    NoSuchLeaf {
        /// The leaf's index.
        index: u64,
        /// The tree's size.
        size: u64,
    },
    /// The older tree is larger than the newer.
    #[error("a register of {new} entries cannot extend one of {old}")]
    Shrunk {
        /// Size of the older tree.
        old: u64,
        /// Size of the newer tree.
        new: u64,
    },
    /// The older tree is empty: nothing to check against.
    #[error("nothing was seen before, so there is nothing to compare with")]
    FirstSight,
    /// The proof has too many or too few hashes for these sizes.
    #[error("the proof has {found} hashes, which does not fit these sizes")]
    Length {
        /// Hashes in the proof.
        found: usize,
    },
    /// The hashes lead to another root.
    #[error("the proof leads to another root")]
    Root,
}

/// Checks that `leaf` is entry `index` of the tree with `size` entries and root `root`.
///
/// # Errors
/// [`ProofError`] says what does not hold.
pub fn verify_inclusion(
    leaf: &Hash,
    index: u64,
    size: u64,
    proof: &[Hash],
    root: &Hash,
) -> Result<(), ProofError> {
    if index >= size {
        return Err(ProofError::NoSuchLeaf { index, size });
    }
    let wrong_length = ProofError::Length { found: proof.len() };
    let (mut at, mut last) = (index, size - 1);
    let mut hash = *leaf;
    for sibling in proof {
        if last == 0 {
            return Err(wrong_length);
        }
        if at & 1 == 1 || at == last {
            hash = node(sibling, &hash);
            // A last node without sibling was carried up unchanged.
            while at & 1 == 0 && at != 0 {
                (at, last) = (at >> 1, last >> 1);
            }
        } else {
            hash = node(&hash, sibling);
        }
        (at, last) = (at >> 1, last >> 1);
    }
    if last != 0 {
        return Err(wrong_length);
    }
    if hash == *root { Ok(()) } else { Err(ProofError::Root) }
}

/// Checks that the tree of `old` entries with root `old_root` is how the tree of `new` entries with
/// root `new_root` began.
///
/// # Errors
/// [`ProofError`] says what does not hold; `old` of 0 is always refused (see the module's text).
pub fn verify_consistency(
    old: u64,
    old_root: &Hash,
    new: u64,
    new_root: &Hash,
    proof: &[Hash],
) -> Result<(), ProofError> {
    if old == 0 {
        return Err(ProofError::FirstSight);
    }
    if old > new {
        return Err(ProofError::Shrunk { old, new });
    }
    let wrong_length = ProofError::Length { found: proof.len() };
    if old == new {
        return match (proof.is_empty(), old_root == new_root) {
            (false, _) => Err(wrong_length),
            (true, false) => Err(ProofError::Root),
            (true, true) => Ok(()),
        };
    }
    let mut hashes = proof.iter();
    // A power of two is a whole subtree: its hash is the old root, and is left out of the proof.
    let first = if old.is_power_of_two() { Some(old_root) } else { hashes.next() };
    let Some(first) = first else { return Err(wrong_length) };
    let (mut at, mut last) = (old - 1, new - 1);
    while at & 1 == 1 {
        (at, last) = (at >> 1, last >> 1);
    }
    let (mut old_hash, mut new_hash) = (*first, *first);
    for sibling in hashes {
        if last == 0 {
            return Err(wrong_length);
        }
        if at & 1 == 1 || at == last {
            old_hash = node(sibling, &old_hash);
            new_hash = node(sibling, &new_hash);
            while at & 1 == 0 && at != 0 {
                (at, last) = (at >> 1, last >> 1);
            }
        } else {
            new_hash = node(&new_hash, sibling);
        }
        (at, last) = (at >> 1, last >> 1);
    }
    if last != 0 {
        return Err(wrong_length);
    }
    if old_hash == *old_root && new_hash == *new_root { Ok(()) } else { Err(ProofError::Root) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::merkle::leaf;

    #[test]
    fn a_single_entry_needs_no_hashes() {
        let one = leaf(b"one");
        assert_eq!(verify_inclusion(&one, 0, 1, &[], &one), Ok(()));
        assert_eq!(verify_inclusion(&one, 0, 1, &[one], &one), Err(ProofError::Length { found: 1 }));
        assert_eq!(
            verify_inclusion(&one, 1, 1, &[], &one),
            Err(ProofError::NoSuchLeaf { index: 1, size: 1 })
        );
        assert!(verify_inclusion(&one, u64::MAX, 1, &[], &one).is_err());
        assert_eq!(verify_inclusion(&one, 0, u64::MAX, &[], &one), Err(ProofError::Length { found: 0 }));
    }

    #[test]
    fn consistency_refuses_first_sight_shrinking_and_a_changed_head() {
        let (a, b) = (leaf(b"a"), leaf(b"b"));
        assert_eq!(verify_consistency(0, &a, 4, &b, &[]), Err(ProofError::FirstSight));
        assert_eq!(verify_consistency(5, &a, 4, &b, &[]), Err(ProofError::Shrunk { old: 5, new: 4 }));
        assert_eq!(verify_consistency(4, &a, 4, &b, &[]), Err(ProofError::Root));
        assert_eq!(verify_consistency(4, &a, 4, &a, &[b]), Err(ProofError::Length { found: 1 }));
        assert_eq!(verify_consistency(1, &a, 2, &node(&a, &b), &[b]), Ok(()));
        assert_eq!(verify_consistency(3, &a, u64::MAX, &b, &[]), Err(ProofError::Length { found: 0 }));
    }
}
