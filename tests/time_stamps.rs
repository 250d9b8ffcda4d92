//! Time stamps, with OpenSSL as the service: what it signs is accepted, what we keep it verifies, and whatever lies,
//! breaks or stays silent is refused and changes no certificate.
//!
//! OpenSSL shares no code with ours. Where it is missing these tests say so and pass; with BRIGHTPROOF_REQUIRE_TOOLS=1
//! they fail.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod answers;
mod authority;
pub mod shop;
pub mod web;

use brightproof::time_stamp::Anchor;
use brightproof::time_stamp::Request;
use brightproof::time_stamp::TimeStamp;
use brightproof::time_stamp::TimeStampError;
use brightproof::time_stamp::accept;
use brightproof::time_stamp::imprint;

use authority::Authority;

/// The bytes that are stamped where no shop is needed.
const BYTES: &[u8] = b"larkspur.example/register\n300\nuOFX43LgplkYF+m6FycVizU0Mm4LziPGKx5aICkAixU=\n";
const POLICY: &str = "1.3.6.1.4.1.99999.1";
const NONCE: [u8; 16] = [0x9c; 16];

fn request() -> Request {
    Request::new(imprint(BYTES), Some(POLICY), NONCE).unwrap()
}

fn anchor(of: &Authority) -> Anchor {
    Anchor::read(&of.read("root.pem")).unwrap()
}

fn came(of: &Authority, answer: &[u8]) -> Result<(Vec<u8>, TimeStamp), TimeStampError> {
    accept(&request(), answer, &anchor(of))
}

/// Expects a refusal with these words.
#[track_caller]
fn refused(of: &Authority, answer: &[u8], words: &str) {
    let found = came(of, answer).unwrap_err();
    assert!(found.to_string().contains(words), "no {words:?} in {found}");
    assert!(found.hint().is_some_and(|hint| !hint.is_empty()), "{found}");
}
