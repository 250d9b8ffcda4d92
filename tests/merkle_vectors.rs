//! Published values for the Merkle tree, and one chain of tree, checkpoint and proof file. The bare
//! Ed25519 values are tested beside the keys, in `checkpoint`.

// A test stops where it finds a fault.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use brightproof::checkpoint;
use brightproof::checkpoint::CheckpointError;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::SigningKey;
use brightproof::checkpoint::VerifyKey;
use brightproof::merkle;
use brightproof::merkle::Frontier;
use brightproof::merkle::Hash;
use brightproof::merkle::ProofError;
use serde::Deserialize;
use std::collections::HashMap;

fn hash(hex_text: &str) -> Hash {
    hex::decode(hex_text).unwrap().try_into().unwrap()
}

/// The eight entries of transparency-dev/merkle testonly/constants.go (commit 417fb0c, Apache-2.0).
const ENTRIES: [&str; 8] =
    ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"];

/// Their leaf hashes, same source.
const LEAVES: [&str; 8] = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
    "0298d122906dcfc10892cb53a73992fc5b9f493ea4c9badb27b791b4127a7fe7",
    "07506a85fd9dd2f120eb694f86011e5bb4662e5c415a62917033d4a9624487e7",
    "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    "4271a26be0d8a84f0bd54c8c302e7cb3a3b5d1fa6780a40bcce2873477dab658",
    "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
    "46f6ffadd3d06a09ff3c5860d2755c8b9819db7df44251788c7d8e3180de8eb1",
];

/// The roots of 0 to 8 of them, same source.
const ROOTS: [&str; 9] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
];

/// Inner nodes by level and index, same source.
const NODES: [(u8, u64, &str); 6] = [
    (1, 0, "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"),
    (1, 1, "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"),
    (1, 2, "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"),
    (1, 3, "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"),
    (2, 0, "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"),
    (2, 1, "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"),
];

type Nodes = HashMap<(u8, u64), Hash>;

fn published_tree() -> (Vec<Hash>, Nodes) {
    let (mut frontier, mut nodes, mut roots) = (Frontier::default(), Nodes::new(), Vec::new());
    roots.push(frontier.root());
    for entry in ENTRIES {
        let leaf = merkle::leaf(&hex::decode(entry).unwrap());
        for node in frontier.push(leaf) {
            nodes.insert((node.level, node.index), node.hash);
        }
        roots.push(frontier.root());
    }
    (roots, nodes)
}

#[test]
fn hashes_of_leaves_nodes_and_trees_are_the_published_ones() {
    assert_eq!(
        hex::encode(merkle::leaf(b"L123456")),
        "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    );
    let (roots, nodes) = published_tree();
    for (size, root) in ROOTS.into_iter().enumerate() {
        assert_eq!(hex::encode(roots[size]), root, "size {size}");
    }
    for (index, leaf) in LEAVES.into_iter().enumerate() {
        assert_eq!(hex::encode(nodes[&(0, index as u64)]), leaf);
    }
    for (level, index, hash) in NODES {
        assert_eq!(hex::encode(nodes[&(level, index)]), hash, "node {level}/{index}");
    }
}

#[test]
fn proofs_are_the_published_ones() {
    let (_, nodes) = published_tree();
    let stored = |level, index| nodes.get(&(level, index)).copied().ok_or(());
    let (leaf, node) = (|i: usize| hash(LEAVES[i]), |level, index| nodes[&(level, index)]);
    let inclusion: [(u64, u64, Vec<Hash>); 7] = [
        (0, 1, vec![]),
        (0, 2, vec![leaf(1)]),
        (1, 2, vec![leaf(0)]),
        (2, 3, vec![node(1, 0)]),
        (1, 5, vec![leaf(0), node(1, 1), leaf(4)]),
        (0, 8, vec![leaf(1), node(1, 1), node(2, 1)]),
        (5, 8, vec![leaf(4), node(1, 3), node(2, 0)]),
    ];
    for (index, size, proof) in inclusion {
        assert_eq!(merkle::inclusion(index, size, stored), Ok(Some(proof)), "({index}, {size})");
    }
    let consistency: [(u64, u64, Vec<Hash>); 4] = [
        (1, 1, vec![]),
        (1, 8, vec![leaf(1), node(1, 1), node(2, 1)]),
        (2, 5, vec![node(1, 1), leaf(4)]),
        (6, 8, vec![node(1, 2), node(1, 3), node(2, 0)]),
    ];
    for (old, new, proof) in consistency {
        assert_eq!(merkle::consistency(old, new, stored), Ok(Some(proof)), "({old}, {new})");
    }
}

#[derive(Deserialize)]
struct Probes {
    inclusion: Vec<InclusionProbe>,
    consistency: Vec<ConsistencyProbe>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct InclusionProbe {
    case: String,
    leaf_idx: u64,
    tree_size: u64,
    root: String,
    leaf_hash: String,
    proof: Option<Vec<String>>,
    want_err: bool,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct ConsistencyProbe {
    case: String,
    size1: u64,
    size2: u64,
    root1: String,
    root2: String,
    proof: Option<Vec<String>>,
    want_err: bool,
}

/// `None` for a missing hash, which our types cannot even say. Some probes put a short text where a
/// hash belongs; its own hash stands for it, so that those probes reach the checks.
fn as_hash(text: &str) -> Option<Hash> {
    (!text.is_empty()).then(|| as_some_hash(text))
}

fn as_some_hash(text: &str) -> Hash {
    let bytes = STANDARD.decode(text).unwrap();
    bytes.as_slice().try_into().unwrap_or_else(|_| merkle::leaf(&bytes))
}

fn as_proof(hashes: Option<Vec<String>>) -> Vec<Hash> {
    hashes.unwrap_or_default().iter().map(|hash| as_some_hash(hash)).collect()
}

#[test]
fn all_196_probes_end_as_they_must() {
    let probes: Probes = serde_json::from_str(include_str!("vectors/merkle/probes.json")).unwrap();
    assert_eq!((probes.inclusion.len(), probes.consistency.len()), (98, 98));
    let (mut holding, mut unsayable, mut first_sights) = (0, 0, 0);
    let mut tally = |case: &str, found: Option<Result<(), ProofError>>, want_err: bool| {
        let holds = matches!(found, Some(Ok(())));
        assert_eq!(!holds, want_err, "{case}: {found:?}");
        holding += usize::from(holds);
        unsayable += usize::from(found.is_none());
    };
    for probe in probes.inclusion {
        let (hashes, proof) = ((as_hash(&probe.leaf_hash), as_hash(&probe.root)), as_proof(probe.proof));
        let found = match hashes {
            (Some(leaf), Some(root)) => {
                Some(merkle::verify_inclusion(&leaf, probe.leaf_idx, probe.tree_size, &proof, &root))
            }
            _ => None,
        };
        tally(&probe.case, found, probe.want_err);
    }
    for probe in probes.consistency {
        let (hashes, proof) = ((as_hash(&probe.root1), as_hash(&probe.root2)), as_proof(probe.proof));
        let found = match hashes {
            (Some(one), Some(two)) => {
                Some(merkle::verify_consistency(probe.size1, &one, probe.size2, &two, &proof))
            }
            _ => None,
        };
        // An old size of 0 proves nothing, so it has an answer of its own whatever else is said.
        if probe.size1 == 0 && found.is_some() {
            first_sights += 1;
            assert_eq!(found, Some(Err(ProofError::FirstSight)), "{}", probe.case);
        }
        tally(&probe.case, found, probe.want_err);
    }
    assert_eq!((holding, unsayable, first_sights), (HOLDING, UNSAYABLE, 9));
}

/// How many of the probes are proofs that hold.
const HOLDING: usize = 12;
/// How many leave leaf or root out, all of them to be refused.
const UNSAYABLE: usize = 11;

// One chain of everything, computed beforehand with two Python libraries: entries in canonical
// JSON, tree, checkpoint by RFC 8032's first test key, cosigned by its second, and a proof file.
// The entries are invented.

const CHAIN: [&str; 3] = [
    r#"{"issued":"2026-03-04T15:06:07Z","kind":"issue","lot":"L-2026-0457","number":"C-000123","quantity":120,"results":[{"ac":0,"found":0,"n":8,"test":"water immersion","verdict":"pass"},{"limit":"32","observed":"29.50","rounded":"30","rule":"E29 rounding","test":"roughness Ra","unit":"µin","verdict":"pass"}],"spec":{"edition":"02(2018)","id":"ASTM B912"}}"#,
    r#"{"copy":2,"issued":"2026-03-11T08:00:00Z","kind":"reissue","number":"C-000123","reason":"customer lost original"}"#,
    r#"{"changed":["quantity"],"issued":"2026-03-12T09:30:00Z","kind":"amendment","number":"C-000123-A1","quantity":118,"reason":"count corrected","replaces":"C-000123"}"#,
];

const CHAIN_ROOTS: [&str; 4] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "28374fdf57956b0b6531b6fdc219b9ef54d7f5822d3ed2dd0610c75f3526b2c2",
    "533ed79046e71f49b270c0fcf6e82bbd09c632f5797c15360d6b47bf44445899",
    "f6a6054634bf2e6fe2179b78d7113729f66105733b194f450f88836004cb2d49",
];

/// RFC 8032 section 7.1, test 1.
const SEED: &str = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";

const LOG_KEY: &str = "example.com/register+45ffac19+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea";
const WITNESS_KEY: &str = "witness.example.com/w1+e8498172+BD1AF8PoQ4lakrcKp00bfrycmCzPLsSWjMDNVfEq9GYM";

const LOG_LINE: &str = "\u{2014} example.com/register Rf+sGaHuzXRAoBr4K5Eyt9/Fygnjv44DDFmYaWTFcuOLEt8gWwqH7fpjmp6AP3Ga92qLBMwp+brO3N4+Hq2B9j2D2QI=\n";
const WITNESS_LINE: &str = "\u{2014} witness.example.com/w1 6EmBcgAAAABpsmkgZNymUGqpsmZzDzdD600i2F/fnk+nywqDqtATXTfL4ZhIYzMy6b+Ilcv1eJIT6amt8U/xHhvUSl8NMQihsvu2DQ==\n";

fn chain_checkpoint() -> String {
    let head = "example.com/register\n3\n9qYFRjS/Lm/iF5t41xE3KfZhBXM7GU9FD4iDYATLLUk=\n\n";
    format!("{head}{LOG_LINE}{WITNESS_LINE}")
}

fn chain_keys() -> Vec<VerifyKey> {
    vec![VerifyKey::parse(LOG_KEY).unwrap(), VerifyKey::parse(WITNESS_KEY).unwrap()]
}

#[test]
fn the_chain_is_hashed_signed_and_proved_to_the_byte() {
    let leaves: Vec<Hash> = CHAIN.iter().map(|entry| merkle::leaf(entry.as_bytes())).collect();
    for (size, root) in CHAIN_ROOTS.into_iter().enumerate() {
        assert_eq!(hex::encode(merkle::root(&leaves[..size])), root, "size {size}");
    }
    let key = SigningKey::from_seed("example.com/register", &hash(SEED)).unwrap();
    assert_eq!(key.verify_key().to_string(), LOG_KEY);
    let signed = checkpoint::sign(&key, "example.com/register", 3, &hash(CHAIN_ROOTS[3])).unwrap();
    assert_eq!(signed + WITNESS_LINE, chain_checkpoint());
    assert_eq!(
        hex::encode(merkle::sha256(chain_checkpoint().as_bytes())),
        "b6ce840fa2966f603eded21ce10b15815fd1b8aa8c125863aa84fa617d76568f"
    );
    let proof = EntryProof {
        extra: None,
        index: 1,
        hashes: vec![leaves[0], leaves[2]],
        checkpoint: chain_checkpoint(),
    };
    assert_eq!(
        hex::encode(merkle::sha256(proof.to_text().as_bytes())),
        "850cbee2064ae84104229c20a49553bebc78105acf4d1bd54fe0ec7be104bb02"
    );
    for (old, proof) in [(1, vec![leaves[1], leaves[2]]), (2, vec![leaves[2]])] {
        let (before, now) = (hash(CHAIN_ROOTS[old]), hash(CHAIN_ROOTS[3]));
        merkle::verify_consistency(old as u64, &before, 3, &now, &proof).unwrap();
    }
}

#[test]
fn the_chain_verifies_offline_and_its_witness_says_when() {
    let proof = EntryProof { extra: None, index: 1, hashes: vec![], checkpoint: chain_checkpoint() };
    let leaves: Vec<Hash> = CHAIN.iter().map(|entry| merkle::leaf(entry.as_bytes())).collect();
    let proof = EntryProof { hashes: vec![leaves[0], leaves[2]], ..proof };
    let head =
        EntryProof::parse(&proof.to_text()).unwrap().verify(CHAIN[1].as_bytes(), &chain_keys()).unwrap();
    assert_eq!((head.size, hex::encode(head.root)), (3, CHAIN_ROOTS[3].to_owned()));
    assert_eq!(head.witnesses, [("witness.example.com/w1".to_owned(), 1_773_300_000)]);
    for entry in [CHAIN[0], CHAIN[2], &CHAIN[1].replace("\"copy\":2", "\"copy\":3")] {
        let refused = proof.verify(entry.as_bytes(), &chain_keys());
        assert!(matches!(refused, Err(CheckpointError::Proof(ProofError::Root))), "{entry}");
    }
    // the witness alone cannot speak for the register
    let refused = checkpoint::open(chain_checkpoint(), &chain_keys()[1..]);
    assert!(matches!(refused, Err(CheckpointError::Origin { .. })));
    // nor can its stated time be changed
    let later = chain_checkpoint().replace("6EmBcgAAAABpsmkg", "6EmBcgAAAABpsmkh");
    let wrong = CheckpointError::Signature { name: "witness.example.com/w1".to_owned() };
    assert_eq!(checkpoint::open(later, &chain_keys()), Err(wrong));
}
