//! Signatures that do not fit each other, under the shop's own seal: whoever holds the key can write them, and `verify`
//! says what is wrong.

use brightproof::app::verify::Overall;
use brightproof::certificate::HAND_SIGNATURE;
use brightproof::certificate::Signature;
use brightproof::seal;
use brightproof::shop::Authentication;
use brightproof::shop::ReleasePolicy;

use crate::demo;
use crate::demo::Demo;
use crate::tamper::forger;

use super::Certificate;

fn lie(change: impl Fn(&mut Certificate)) -> (Overall, String) {
    let demo = Demo::get();
    let read = |name: &str| std::fs::read(demo.folder.join(name)).unwrap();
    let key = seal::load_key(&read("keys/seal-key.pem"), &read("keys/seal.pem"), None).unwrap();
    let (_, bytes) = demo.certificate(demo::SMALL_LOT);
    let mut certificate = forger::certificate(bytes);
    change(&mut certificate);
    let found = demo::verify(&forger::sealed(&certificate, &key), &demo.anchor(), None);
    (found.overall(), demo::said(&found, "signatures"))
}

fn hand(person: &str, at: &str, authenticated: &str) -> Signature {
    Signature {
        person: person.to_owned(),
        function: "operator".to_owned(),
        meaning: "prepared".to_owned(),
        authenticated: authenticated.to_owned(),
        at: at.to_owned(),
    }
}

const NAMED: &str = "named at the keyboard when prepared";
const OWN: &str = "own passphrase, verified when prepared";

fn policy(preparer_may_release: bool, own: bool) -> Option<ReleasePolicy> {
    let authentication = if own { Authentication::Passphrase } else { Authentication::KeyHolder };
    Some(ReleasePolicy { preparer_may_release, authentication })
}

#[test]
fn signatures_that_do_not_fit_do_not_verify() {
    let refused = |words: &str, change: &dyn Fn(&mut Certificate)| {
        let (overall, said) = lie(change);
        assert_eq!(overall, Overall::DoesNotVerify, "{words}");
        assert!(said.starts_with("fail: ") && said.contains(words), "{said}, not {words:?}");
    };
    refused("nobody released it", &|c| c.signatures = vec![hand("T. Quince", demo::BEGUN, NAMED)]);
    refused("and issued at", &|c| c.signatures[0].at = demo::BEGUN.to_owned());
    refused("several people are said to have released", &|c| {
        let again = c.signatures[0].clone();
        c.signatures.push(again);
    });
    refused("somebody without a name", &|c| c.signatures[0].person = " ".to_owned());
    refused("a meaning this release does not know", &|c| c.signatures[0].meaning = "approved".to_owned());
    refused("a way this release does not know", &|c| {
        c.signatures[0].authenticated = "retina".to_owned();
    });
    // Words of one who prepared, for one who released.
    refused("a way this release does not know", &|c| c.signatures[0].authenticated = OWN.to_owned());
    refused("after it was issued", &|c| c.signatures.insert(0, hand("T. Quince", demo::AFTER, NAMED)));
    refused("no", &|c| c.signatures.insert(0, hand("T. Quince", "yesterday", NAMED)));
    refused("M. Sorrel gave none", &|c| c.release = policy(true, true));
    refused("nobody prepared it", &|c| c.release = policy(false, false));
    refused("M. Sorrel did both", &|c| {
        c.release = policy(false, false);
        c.signatures.insert(0, hand("M. Sorrel", demo::BEGUN, NAMED));
    });
    refused("T. Quince, who prepared it, gave none", &|c| {
        c.release = policy(false, true);
        c.signatures[0].authenticated = "own passphrase, verified at release".to_owned();
        c.signatures.insert(0, hand("T. Quince", demo::BEGUN, NAMED));
    });
    refused("the line for a signature by hand", &|c| {
        c.hand_signature = Some("The seal vouches for the signature above.".to_owned());
    });
}

#[test]
fn signatures_that_fit_pass() {
    for change in [
        &(|c: &mut Certificate| c.release = policy(true, false)) as &dyn Fn(&mut Certificate),
        &|c| c.hand_signature = Some(HAND_SIGNATURE.to_owned()),
        &|c| {
            c.release = policy(false, true);
            c.signatures[0].authenticated = "own passphrase, verified at release".to_owned();
            c.signatures.insert(0, hand("T. Quince", &c.issued.clone(), OWN));
        },
    ] {
        assert_eq!(lie(change), (Overall::Verifies, "pass".to_owned()));
    }
}
