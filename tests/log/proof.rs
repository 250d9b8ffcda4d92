//! The proof file beside a certificate: enough without the register, and of no other certificate.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::process::Output;

use brightproof::app::issue;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::app::proofs;
use brightproof::app::verify;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Overall;
use brightproof::certificate::AmendmentKind;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::Role;
use brightproof::checkpoint::SigningKey;
use brightproof::merkle;

use super::certificate;
use super::grow;
use super::own_key;
use super::proof_of;
use super::with_proof;
use super::witness::Key;
use crate::demo;
use crate::demo::Demo;

/// The proof as it lies beside a certificate of the shop.
fn lies_beside(folder: &Path, number: &str) -> String {
    fs::read_to_string(proofs::place(&folder.join(format!("certificates/{number}.pdf")))).unwrap()
}

#[test]
fn every_certificate_has_its_proof_beside_it() {
    let demo = Demo::get();
    let keys = own_key(&demo.folder);
    for (number, bytes) in &demo.files {
        let text = lies_beside(&demo.folder, number);
        for keys in [&keys, &LogKeys::default()] {
            let mut found = demo::verify(bytes, &demo.anchor(), None);
            verify::proof(&mut found, bytes, &text, keys, None).unwrap();
            assert_eq!(demo::said(&found, "proof"), "pass", "{number}");
            assert_eq!(found.overall(), Overall::Verifies, "{number}");
        }
    }
}

#[test]
fn the_proof_of_another_certificate_or_register_proves_nothing() {
    let demo = Demo::get();
    let (number, _) = certificate();
    let keys = LogKeys::default();
    let said = |text: &str, keys: &LogKeys| {
        let found = with_proof(text, keys);
        assert_eq!(found.overall(), Overall::DoesNotVerify);
        demo::said(&found, "proof")
    };
    let own = lies_beside(&demo.folder, number);
    let other = demo.numbers.values().find(|n| *n != number).unwrap();
    let text = lies_beside(&demo.folder, other);
    assert_eq!(said(&text, &keys), format!("fail: it is the proof of {other}"));

    // its own entry with the place and hashes of another
    let (mine, theirs) = (EntryProof::parse(&own).unwrap(), EntryProof::parse(&text).unwrap());
    let moved = EntryProof { extra: mine.extra.clone(), ..theirs };
    assert!(said(&moved.to_text(), &keys).contains("the proof leads to another root"));
    let bare = EntryProof { extra: None, ..mine.clone() };
    assert!(said(&bare.to_text(), &keys).contains("it holds no entry"));

    // a register of somebody else, with the same words in it and the same name
    let key = SigningKey::from_seed("larkspur.example/register", &[5; 32]).unwrap();
    let entry = mine.extra.clone().unwrap();
    let head = brightproof::checkpoint::sign(&key, key.name(), 1, &merkle::leaf(&entry)).unwrap();
    let forged = EntryProof { extra: Some(entry), index: 0, hashes: vec![], checkpoint: head };
    assert!(said(&forged.to_text(), &keys).contains("none of its 1 signatures is by a known key"));
    let theirs = LogKeys { register: vec![key.verify_key()], ..LogKeys::default() };
    assert!(
        said(&forged.to_text(), &theirs).contains("the certificate carries a head newer than its own entry")
    );
    assert!(said(&own, &theirs).contains("none of its 1 signatures is by a known key"));
}

/// What the entry says is held against the file, field by field.
#[test]
fn an_entry_that_says_anything_else_is_not_the_certificates() {
    let demo = Demo::get();
    let (number, _) = certificate();
    let register = demo::register(&demo.folder);
    let proof = proof_of(&register, number);
    let entry = String::from_utf8(proof.extra.clone().unwrap()).unwrap();
    // The shop's own key signs a false register: all that stands against it is what the entry says.
    let key =
        SigningKey::parse(fs::read_to_string(demo.folder.join("keys/register-key.txt")).unwrap().trim())
            .unwrap();
    let signed = |entry: &str| {
        let under = merkle::leaf(entry.as_bytes());
        // as many entries before it as the real one has: equal hashes will do
        let mut leaves = vec![merkle::leaf(b""); usize::try_from(proof.index).unwrap()];
        leaves.push(under);
        let size = leaves.len() as u64;
        let mut frontier = merkle::Frontier::default();
        let mut nodes = std::collections::HashMap::new();
        for leaf in leaves {
            for node in frontier.push(leaf) {
                nodes.insert((node.level, node.index), node.hash);
            }
        }
        let stored = |level, index| nodes.get(&(level, index)).copied().ok_or(());
        let hashes = merkle::inclusion(proof.index, size, stored).unwrap().unwrap();
        let checkpoint = brightproof::checkpoint::sign(&key, key.name(), size, &frontier.root()).unwrap();
        EntryProof { extra: Some(entry.as_bytes().to_vec()), index: proof.index, hashes, checkpoint }
            .to_text()
    };
    let said = |entry: &str| demo::said(&with_proof(&signed(entry), &LogKeys::default()), "proof");
    assert_eq!(said(&entry), "pass");
    let field = |name: &str| {
        let from = entry.find(&format!("\"{name}\":\"")).unwrap() + name.len() + 4;
        entry[from..from + 64].to_owned()
    };
    let zeros = "0".repeat(64);
    for (changed, expected) in [
        (entry.replace(&field("stamp"), &zeros), "the register has this number with another stamp"),
        (entry.replace(&field("pdf_sha256"), &zeros), "the register has this number with another file"),
        (entry.replace("\"issue\"", "\"delivery\""), "is not the one that issued this certificate"),
        (
            entry.replace("\"rest\"", "\"replaces\":\"LBF-2026-000001\",\"rest\""),
            "is not the one that issued",
        ),
        (entry.replace(number, "LBF-2026-999999"), "it is the proof of LBF-2026-999999"),
        (entry.replace("{", "{ "), "not canonical JSON"),
        (entry.replace("{", "{\"a\":1,"), "it proves is no entry"),
    ] {
        assert_ne!(changed, entry);
        let answer = said(&changed);
        assert!(answer.starts_with("fail: ") && answer.contains(expected), "{answer}");
    }
}

#[test]
fn an_amendment_has_a_proof_of_its_own() {
    let folder = Demo::get().copy("log-amended");
    let (number, _) = certificate();
    let file = folder.join(format!("lots/{}.yaml", demo::SMALL_LOT));
    let text = fs::read_to_string(&file).unwrap();
    fs::write(file, format!("{text}remarks: packed in two crates\n")).unwrap();
    let mut desk = demo::desk(&folder);
    let request = AmendRequest { number, by: demo::RELEASES, why: "name", kind: AmendmentKind::Clerical };
    let world = demo::world(demo::AFTER, "log-amended");
    let Amended::New { number, .. } = lookup::amend(&mut desk, &request, &world).unwrap() else {
        panic!("held")
    };
    let file = issue::write_out(&desk, &number, None).unwrap();
    let bytes = fs::read(&file).unwrap();
    let mut found = demo::verify(&bytes, &Demo::get().anchor(), None);
    verify::proof(&mut found, &bytes, &lies_beside(&folder, &number), &LogKeys::default(), None).unwrap();
    assert_eq!(demo::said(&found, "proof"), "pass");
}

#[test]
fn a_proof_is_held_against_a_register_that_is_given() {
    let (number, bytes) = certificate();
    let demo = Demo::get();
    let (ours, theirs) = (demo.copy("log-ours"), demo.copy("log-theirs"));
    grow(&ours, "ours");
    grow(&theirs, "theirs");
    let text = proof_of(&demo::register(&ours), number).to_text();
    let said = |register: &Path| {
        let mut found = demo::verify(bytes, &demo.anchor(), None);
        let register = demo::register(register);
        verify::proof(&mut found, bytes, &text, &LogKeys::default(), Some(&register)).unwrap();
        demo::said(&found, "proof")
    };
    assert_eq!(said(&ours), "pass");
    assert!(said(&theirs).contains("two different heads of"), "{}", said(&theirs));
    assert!(said(&demo.folder).contains("it was rolled back"), "{}", said(&demo.folder));
    grow(&theirs, "theirs again");
    assert!(said(&theirs).contains("its history was rewritten"), "{}", said(&theirs));
}

#[test]
fn keys_are_read_from_text_and_file_and_must_be_of_their_role() {
    let folder = demo::fresh("log-keys");
    let key = SigningKey::from_seed("larkspur.example/register", &[5; 32]).unwrap().verify_key().to_string();
    // c2sp.org/tlog-cosignature's type byte 0x04 makes another key id of the same bytes
    let witness = Key::new("witness.example/w1", 5).vkey();
    fs::write(folder.join("keys.txt"), format!("# ours\n{key}\n\n{key}\n")).unwrap();
    let file = folder.join("keys.txt").display().to_string();
    assert_eq!(verify::keys(&[file, key.clone()], Role::Register).unwrap().len(), 1);
    assert!(verify::keys(&[key], Role::Witness).is_err());
    assert!(verify::keys(std::slice::from_ref(&witness), Role::Register).is_err());
    assert_eq!(verify::keys(&[witness], Role::Witness).unwrap().len(), 1);
    assert!(verify::keys(&["nowhere.txt".to_owned()], Role::Register).is_err());
}

/// Runs the program in a folder.
fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_brightproof")).current_dir(folder).args(arguments).output().unwrap()
}

/// By the keyboard: an auditor with the certificate, the proof beside it and the shop's public keys.
#[test]
fn an_auditor_needs_the_file_its_proof_and_the_shops_keys() {
    let demo = Demo::get();
    let (number, bytes) = certificate();
    let folder = demo::fresh("log-auditor");
    fs::write(folder.join("c.pdf"), bytes).unwrap();
    fs::write(folder.join("c.tlog-proof"), lies_beside(&demo.folder, number)).unwrap();
    for key in ["root.pem", "register.txt"] {
        fs::copy(demo.folder.join("keys").join(key), folder.join(key)).unwrap();
    }
    let told = |arguments: &[&str]| {
        let output = run(&folder, arguments);
        (output.status.code().unwrap(), String::from_utf8(output.stdout).unwrap())
    };
    let (code, text) = told(&["verify", "c.pdf", "--trust", "root.pem", "--checkpoint-key", "register.txt"]);
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("  proof        pass         its entry is in the shop's register"), "{text}");
    // another name, or none
    fs::rename(folder.join("c.tlog-proof"), folder.join("p")).unwrap();
    let (code, text) = told(&["verify", "c.pdf", "--trust", "root.pem"]);
    assert!(code == 0 && !text.contains("  proof "), "{text}");
    let (code, text) = told(&["verify", "c.pdf", "--trust", "root.pem", "--proof", "p"]);
    assert!(code == 0 && text.contains("  proof        pass"), "{text}");
    fs::write(folder.join("p"), lies_beside(&demo.folder, number).replace("index ", "index 1")).unwrap();
    let (code, text) = told(&["verify", "c.pdf", "--trust", "root.pem", "--proof", "p"]);
    assert!(code == 1 && text.contains("  proof        FAIL"), "{text}");
    // a witness asked for and no proof to name one leaves the answer open
    let witness = Key::new("witness.example/w1", 5).vkey();
    let (code, text) = told(&["verify", "c.pdf", "--trust", "root.pem", "--witness-key", &witness]);
    assert!(code == 2 && text.contains("  witnesses    not checked"), "{text}");
}
