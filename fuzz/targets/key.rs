//! Files of keys and roots from outside: PKCS#12, PEM, handovers. Nothing but the one key in the seeds can be taken.
#![no_main]

use brightproof::app::keys::Handovers;
use brightproof::seal;
use brightproof::seal::KeyFile;
use brightproof::seal::Root;
use libfuzzer_sys::fuzz_target;

/// Draws the same bytes each time: what is looked for is a panic, not a secret.
fn drawn(bytes: &mut [u8]) -> Result<(), String> {
    bytes.fill(0x42);
    Ok(())
}

fuzz_target!(|bytes: &[u8]| {
    let _ = seal::is_encrypted(bytes);
    let _ = seal::fingerprint(bytes);
    let _ = seal::seal_fingerprint(bytes);
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = Handovers::read(text);
    }
    let day = chrono::DateTime::from_timestamp(1_790_000_000, 0).unwrap_or_default();
    let given = KeyFile { file: bytes, passphrase: Some(b"wet rinse") };
    // A root certificate that does not read ends it before any derivation: the key alone is asked for.
    let _ = seal::create_keys_with(Some(given), "Fuzz", day, None, &mut drawn);
    let root = Root { certificate: bytes, key: KeyFile { file: bytes, passphrase: None } };
    let _ = seal::opens(root);
});
