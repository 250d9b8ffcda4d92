//! What an auditor is handed beside a certificate: proofs, heads, keys, handovers, witnesses' answers.
//!
//! Input that begins with 0xFF is a list of edits (place, place, kind, byte) to the true proof of a true
//! certificate, because no search finds a signed head; everything else is a file as it stands. The certificate is
//! the first of the shop in BRIGHTPROOF_DEMO.
#![no_main]

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Overall;
use brightproof::app::verify::Verification;
use brightproof::checkpoint;
use brightproof::checkpoint::Consistency;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::SigningKey;
use brightproof::checkpoint::VerifyKey;
use brightproof::pdf::Renderer;
use libfuzzer_sys::fuzz_target;

/// A certificate of the demonstration shop, what its own bytes show, and its proof.
struct Shown {
    file: Vec<u8>,
    found: Verification,
    proof: Vec<u8>,
}

fn shown() -> &'static Shown {
    static SHOWN: OnceLock<Shown> = OnceLock::new();
    SHOWN.get_or_init(|| {
        let demo =
            std::env::var("BRIGHTPROOF_DEMO").expect("BRIGHTPROOF_DEMO names what `brightproof demo` made");
        let folder = PathBuf::from(demo);
        let mut all: Vec<PathBuf> = fs::read_dir(folder.join("certificates"))
            .expect("its certificates")
            .map(|e| e.expect("a file").path())
            .filter(|p| p.extension().is_some_and(|e| e == "pdf"))
            .collect();
        all.sort();
        let place = all.first().expect("a certificate");
        let file = fs::read(place).expect("a certificate");
        let renderer = Renderer::new().expect("the fonts are compiled in");
        let found = verify::file("fuzz.pdf", &file, &Anchor::none(), None, &renderer).expect("read");
        let proof = fs::read(place.with_extension("tlog-proof")).expect("its proof");
        Shown { file, found, proof }
    })
}

/// The true proof with edits. None when nothing changed.
fn edited(edits: &[u8]) -> Option<Vec<u8>> {
    let own = &shown().proof;
    let mut new = own.clone();
    for edit in edits.chunks_exact(4) {
        let place = usize::from(edit[0]) << 8 | usize::from(edit[1]);
        let place = place % new.len().max(1);
        match edit[2] % 4 {
            0 => new.insert(place, edit[3]),
            1 if !new.is_empty() => drop(new.remove(place)),
            2 => new.truncate(place),
            _ if !new.is_empty() => new[place] = edit[3],
            _ => {}
        }
    }
    (new != *own).then_some(new)
}

fuzz_target!(|bytes: &[u8]| {
    let changed;
    let bytes = match bytes.strip_prefix(&[0xFF]) {
        Some(edits) => {
            let Some(new) = edited(edits) else { return };
            changed = new;
            &changed
        }
        None => bytes,
    };
    let key = SigningKey::from_seed("larkspur.example/register", &[7; 32]).expect("a key");
    let keys = [key.verify_key()];
    let _ = checkpoint::open(bytes, &keys);
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(proof) = EntryProof::parse(text) {
        assert_eq!(EntryProof::parse(&proof.to_text()).as_ref(), Ok(&proof));
        let _ = proof.verify(b"entry", &keys);
        let mut found = shown().found.clone();
        let read = verify::proof(&mut found, &shown().file, text, &LogKeys::default(), None);
        assert!(read.is_ok());
        // Whatever still verifies must say the very same as the true one.
        let line = found.lines.last().expect("a line of the proof");
        if found.overall() == Overall::Verifies && line.answer == verify::Answer::Pass {
            let own = std::str::from_utf8(&shown().proof).ok().and_then(|t| EntryProof::parse(t).ok());
            let own = own.expect("the true proof reads");
            assert_eq!((own.index, own.hashes, own.extra), (proof.index, proof.hashes, proof.extra));
        }
    }
    if let Ok(proof) = Consistency::parse(text) {
        let _ = proof.verify(&[7; 32], &keys);
        let _ = Consistency::parse(&proof.to_text());
    }
    let _ = checkpoint::handed_over(text, &keys[0], &keys[0]);
    if let Ok(key) = VerifyKey::parse(text) {
        let _ = key.to_pem();
    }
    let _ = SigningKey::parse(text);
});
