//! The Merkle tree of RFC 6962 section 2.1 (the same tree as RFC 9162 section 2.1), with SHA-256.
//!
//! ```text
//! leaf hash = SHA-256(0x00 || entry)      node hash = SHA-256(0x01 || left || right)
//! empty tree = SHA-256 of nothing         n leaves split at the largest power of two below n
//! ```
//!
//! Only hashes of complete subtrees are ever stored: the node at `(level, index)` covers the
//! `2^level` leaves from `index * 2^level` on, and never changes once its last leaf is in. Every
//! root and proof of every past size is put together from them, reading about log2(n) hashes.

mod verify;

use sha2::Digest;
use sha2::Sha256;

pub use self::verify::ProofError;
pub use self::verify::verify_consistency;
pub use self::verify::verify_inclusion;

/// A SHA-256 value: 32 bytes.
pub type Hash = [u8; 32];

/// SHA-256 of `bytes` (FIPS 180-4).
pub fn sha256(bytes: &[u8]) -> Hash {
    Sha256::digest(bytes).into()
}

/// The root of a tree without leaves.
pub fn empty_root() -> Hash {
    sha256(&[])
}

/// The hash of one entry: RFC 6962's leaf prefix keeps a node from passing as an entry.
pub fn leaf(entry: &[u8]) -> Hash {
    Sha256::new().chain_update([0u8]).chain_update(entry).finalize().into()
}

/// The hash over two subtrees.
pub fn node(left: &Hash, right: &Hash) -> Hash {
    Sha256::new().chain_update([1u8]).chain_update(left).chain_update(right).finalize().into()
}

/// The root over the given leaf hashes, computed without any stored node.
pub fn root(leaves: &[Hash]) -> Hash {
    let mut frontier = Frontier::default();
    for leaf in leaves {
        frontier.push(*leaf);
    }
    frontier.root()
}

/// The hash of one complete subtree, and where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Node {
    /// log2 of the leaves it covers; 0 is a leaf.
    pub level: u8,
    /// How many subtrees of this level stand to its left.
    pub index: u64,
    /// Its hash.
    pub hash: Hash,
}

/// The right edge of a growing tree: one hash for each bit set in its size. Appending and taking
/// the root need nothing else, however large the tree is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Frontier {
    size: u64,
    /// Complete subtrees, the largest (leftmost) first.
    peaks: Vec<Hash>,
}

impl Frontier {
    /// The frontier of a tree of `size` leaves, from its stored nodes.
    ///
    /// # Errors
    /// Whatever `stored` answers when it lacks a node.
    pub fn load<E>(size: u64, stored: impl Fn(u8, u64) -> Result<Hash, E>) -> Result<Self, E> {
        let mut peaks = Vec::new();
        for level in (0..64u8).rev() {
            if size >> level & 1 == 1 {
                // The subtree stands just before the last bits of the size: its index is even.
                peaks.push(stored(level, (size >> level) - 1)?);
            }
        }
        Ok(Self { size, peaks })
    }

    /// How many leaves the tree has.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Adds a leaf hash; answers the nodes it completes, the leaf itself first.
    pub fn push(&mut self, leaf: Hash) -> Vec<Node> {
        let mut last = Node { level: 0, index: self.size, hash: leaf };
        let mut completed = vec![last];
        // A set bit in the index is a subtree of the same height waiting at the right edge.
        while last.index & 1 == 1 {
            let Some(left) = self.peaks.pop() else { break };
            last = Node { level: last.level + 1, index: last.index >> 1, hash: node(&left, &last.hash) };
            completed.push(last);
        }
        self.peaks.push(last.hash);
        self.size += 1;
        completed
    }

    /// The root of the tree as it stands.
    pub fn root(&self) -> Hash {
        let mut from_the_right = self.peaks.iter().rev();
        match from_the_right.next() {
            None => empty_root(),
            Some(last) => from_the_right.fold(*last, |right, left| node(left, &right)),
        }
    }
}

/// The inclusion proof (RFC 6962 section 2.1.1) of leaf `index` in the tree of its first `size`
/// leaves, lowest hash first. `None` when there is no such leaf.
///
/// # Errors
/// Whatever `stored` answers when it lacks a node.
pub fn inclusion<E>(
    index: u64,
    size: u64,
    stored: impl Fn(u8, u64) -> Result<Hash, E>,
) -> Result<Option<Vec<Hash>>, E> {
    if index >= size {
        return Ok(None);
    }
    let mut proof = Vec::new();
    let (mut start, mut count) = (0u64, size);
    // Down from the root, noting the sibling at each step.
    while count > 1 {
        let split = split(count);
        if index - start < split {
            proof.push(subtree(start + split, count - split, &stored)?);
            count = split;
        } else {
            proof.push(subtree(start, split, &stored)?);
            start += split;
            count -= split;
        }
    }
    proof.reverse();
    Ok(Some(proof))
}

/// The consistency proof (RFC 6962 section 2.1.2) that the tree of `old` leaves is how the tree of
/// `new` leaves began. `None` unless `1 <= old <= new`: nothing can be shown about an empty tree.
///
/// # Errors
/// Whatever `stored` answers when it lacks a node.
pub fn consistency<E>(
    old: u64,
    new: u64,
    stored: impl Fn(u8, u64) -> Result<Hash, E>,
) -> Result<Option<Vec<Hash>>, E> {
    if old == 0 || old > new {
        return Ok(None);
    }
    let mut proof = Vec::new();
    let (mut start, mut count) = (0u64, new);
    while start + count != old {
        let split = split(count);
        if old - start <= split {
            proof.push(subtree(start + split, count - split, &stored)?);
            count = split;
        } else {
            proof.push(subtree(start, split, &stored)?);
            start += split;
            count -= split;
        }
    }
    // Where the old tree itself is a whole subtree, the verifier already holds its hash.
    if start != 0 {
        proof.push(subtree(start, count, &stored)?);
    }
    proof.reverse();
    Ok(Some(proof))
}

/// The lines of a tree head that get signed (C2SP tlog-checkpoint): origin, size, root in base64.
pub fn head_text(origin: &str, size: u64, root: &Hash) -> String {
    use base64::Engine;
    let root = base64::engine::general_purpose::STANDARD.encode(root);
    format!("{origin}\n{size}\n{root}\n")
}

/// The largest power of two below `count`, for `count` of 2 or more.
fn split(count: u64) -> u64 {
    1 << (63 - (count - 1).leading_zeros())
}

/// The hash over `count` leaves from `start`; `start` is a multiple of every split inside.
fn subtree<E>(start: u64, count: u64, stored: &impl Fn(u8, u64) -> Result<Hash, E>) -> Result<Hash, E> {
    if count.is_power_of_two() {
        // trailing_zeros of a u64 is at most 64
        let level = count.trailing_zeros();
        return stored(level as u8, start >> level);
    }
    let split = split(count);
    Ok(node(&subtree(start, split, stored)?, &subtree(start + split, count - split, stored)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    struct Tree {
        frontier: Frontier,
        nodes: HashMap<(u8, u64), Hash>,
        roots: Vec<Hash>,
    }

    fn tree(size: u64) -> Tree {
        let mut tree =
            Tree { frontier: Frontier::default(), nodes: HashMap::new(), roots: vec![empty_root()] };
        for i in 0..size {
            for node in tree.frontier.push(leaf(&i.to_be_bytes())) {
                tree.nodes.insert((node.level, node.index), node.hash);
            }
            tree.roots.push(tree.frontier.root());
        }
        tree
    }

    impl Tree {
        fn stored(&self, level: u8, index: u64) -> Result<Hash, String> {
            self.nodes.get(&(level, index)).copied().ok_or_else(|| format!("no node {level}/{index}"))
        }
    }

    /// The definition of RFC 6962 section 2.1, word for word, as a second opinion.
    fn defined(leaves: &[Hash]) -> Hash {
        match leaves {
            [] => empty_root(),
            [one] => *one,
            many => {
                let (left, right) = many.split_at(split(many.len() as u64) as usize);
                node(&defined(left), &defined(right))
            }
        }
    }

    #[test]
    fn the_frontier_gives_the_root_the_definition_gives() {
        let tree = tree(130);
        let leaves: Vec<Hash> = (0..130u64).map(|i| leaf(&i.to_be_bytes())).collect();
        for size in 0..=130usize {
            assert_eq!(tree.roots[size], defined(&leaves[..size]), "size {size}");
            assert_eq!(root(&leaves[..size]), tree.roots[size]);
        }
    }

    #[test]
    fn a_frontier_loaded_from_stored_nodes_goes_on_as_if_never_closed() {
        let tree = tree(100);
        for size in 0..100u64 {
            let mut loaded = Frontier::load(size, |l, i| tree.stored(l, i)).unwrap();
            assert_eq!(loaded.root(), tree.roots[size as usize]);
            loaded.push(leaf(&size.to_be_bytes()));
            assert_eq!(loaded.root(), tree.roots[size as usize + 1]);
        }
    }

    #[test]
    fn every_proof_up_to_70_leaves_verifies_and_no_altered_one_does() {
        let tree = tree(70);
        let stored = |l, i| tree.stored(l, i);
        for size in 1..=70u64 {
            let root = tree.roots[size as usize];
            for index in 0..size {
                let leaf = leaf(&index.to_be_bytes());
                let proof = inclusion(index, size, stored).unwrap().unwrap();
                verify_inclusion(&leaf, index, size, &proof, &root).unwrap();
                assert!(verify_inclusion(&root, index, size, &proof, &root).is_err() || size == 1);
                assert!(verify_inclusion(&leaf, index + 1, size, &proof, &root).is_err());
                for at in 0..proof.len() {
                    let mut bent = proof.clone();
                    bent[at][31] ^= 1;
                    assert!(verify_inclusion(&leaf, index, size, &bent, &root).is_err());
                }
            }
            for old in 1..=size {
                let before = tree.roots[old as usize];
                let proof = consistency(old, size, stored).unwrap().unwrap();
                verify_consistency(old, &before, size, &root, &proof).unwrap();
                let mut other = before;
                other[0] ^= 0x80;
                assert!(verify_consistency(old, &other, size, &root, &proof).is_err());
            }
        }
    }

    #[test]
    fn proofs_of_what_is_not_there_are_none() {
        let tree = tree(5);
        let stored = |l, i| tree.stored(l, i);
        assert_eq!(inclusion(5, 5, stored).unwrap(), None);
        assert_eq!(inclusion(0, 0, stored).unwrap(), None);
        assert_eq!(consistency(0, 5, stored).unwrap(), None);
        assert_eq!(consistency(5, 4, stored).unwrap(), None);
        assert_eq!(consistency(5, 5, stored).unwrap(), Some(vec![]));
        assert!(inclusion(2, 9, stored).is_err(), "a missing node is an error, not a wrong proof");
    }

    #[test]
    fn a_head_is_three_lines() {
        let text = head_text("larkspur.example/register", 0, &empty_root());
        assert_eq!(text, "larkspur.example/register\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n");
    }
}
