//! Guessing what is withheld, and judging again from evidence that is not the certificate's.

use std::collections::BTreeSet;

use brightproof::app::verify::Overall;
use brightproof::certificate::Certificate;
use brightproof::certificate::CertifiedLot;
use brightproof::certificate::Datum;
use brightproof::certificate::Evidence;
use brightproof::certificate::certified_lot;
use brightproof::certificate::evidence_digest;
use brightproof::certificate::withhold;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use serde_json::Value;
use serde_json::json;
use sha2::Digest;
use sha2::Sha256;

use super::CLOSED;
use super::CONTROLLED;
use super::OPEN;
use super::Shop;
use crate::demo;
use crate::demo::said;
use crate::tamper::forger;

fn digest_of(lot: &CertifiedLot) -> &str {
    match &lot.dossier {
        Datum::Withheld(digest) => digest,
        Datum::Disclosed(_) => panic!("disclosed"),
    }
}

/// Every run of 64 hexadecimal digits in a text.
fn digests(text: &str) -> BTreeSet<[u8; 32]> {
    let words = text.split(|c: char| !c.is_ascii_hexdigit()).filter(|w| w.len() == 64);
    words.map(|w| hex::decode(w).unwrap().try_into().unwrap()).collect()
}

/// Somebody who knows the record to the last letter but was not given the salt cannot tell that it is this one: not
/// with any 32 bytes of the certificate or the register's leaves as salt, nor with what is made of them.
#[test]
fn the_right_guess_cannot_be_confirmed() {
    let shop = Shop::get();
    let certificate = shop.certificate(CLOSED);
    let lot = &certificate.lots[0];
    let kept = shop.evidence(CLOSED);
    let dossier = &kept.lots[0].dossier;
    let mut public = String::from_utf8(certificate.canonical().unwrap()).unwrap();
    let register = shop.register();
    for position in 0..register.head().unwrap().size {
        public.push_str(&String::from_utf8(register.entry(position).unwrap().unwrap().leaf).unwrap());
    }
    let mut salts = digests(&public);
    assert!(salts.len() > 8 && public.contains(&certificate.salt));
    let plain: Vec<[u8; 32]> = salts.iter().copied().collect();
    for salt in &plain {
        for path in ["dossier", "lots[0].dossier", CLOSED, &certificate.number, ""] {
            salts.insert(Sha256::digest([salt.as_slice(), path.as_bytes()].concat()).into());
        }
    }
    salts.insert([0; 32]);
    for salt in &salts {
        assert_ne!(evidence_digest(salt, dossier).unwrap(), digest_of(lot));
    }
    // With the salt that only the evidence holds, it can.
    let salt: [u8; 32] = hex::decode(&kept.lots[0].salt).unwrap().try_into().unwrap();
    assert!(!salts.contains(&salt));
    assert_eq!(evidence_digest(&salt, dossier).unwrap(), digest_of(lot));
}

#[test]
fn every_withheld_record_has_a_salt_of_its_own() {
    let shop = Shop::get();
    let salts = [CLOSED, CONTROLLED].map(|lot| shop.evidence(lot).lots[0].salt.clone());
    assert_ne!(salts[0], salts[1]);
    assert!(shop.register().certificate(&shop.numbers[OPEN]).unwrap().unwrap().evidence.is_none());
}

#[test]
fn evidence_that_was_changed_is_refused() {
    let shop = Shop::get();
    let file = shop.file(CLOSED);
    let good = shop.evidence(CLOSED);
    demo::verifies(&shop.verify(&file, Some(std::slice::from_ref(&good))));
    let mut hotter = good.clone();
    let text = hotter.lots[0].dossier.to_string();
    assert!(text.contains("78 °F"));
    hotter.lots[0].dossier = serde_json::from_str(&text.replace("78 °F", "79 °F")).unwrap();
    let mut salted = good.clone();
    salted.lots[0].salt = "00".repeat(32);
    let mut short = good.clone();
    short.lots[0].salt = "00".repeat(31);
    let mut renamed = shop.evidence(CONTROLLED);
    renamed.number = good.number.clone();
    renamed.lots[0].lot = CLOSED.to_owned();
    for (what, evidence) in [("dossier", hotter), ("salt", salted), ("short", short), ("another's", renamed)]
    {
        let found = shop.verify(&file, Some(&[evidence]));
        assert_eq!(found.overall(), Overall::DoesNotVerify, "{what}");
        assert!(
            said(&found, "judgement").starts_with("fail: the evidence"),
            "{what}: {}",
            said(&found, "judgement")
        );
    }
}

/// Evidence of something else proves nothing, and is no fault of the certificate.
#[test]
fn evidence_of_another_certificate_is_none() {
    let shop = Shop::get();
    let file = shop.file(CLOSED);
    let other = shop.evidence(CONTROLLED);
    let mut empty = shop.evidence(CLOSED);
    empty.lots.clear();
    let mut numbered = other.clone();
    numbered.number = shop.numbers[CLOSED].clone();
    for evidence in [other, empty, numbered] {
        let found = shop.verify(&file, Some(&[evidence]));
        assert_eq!(found.overall(), Overall::CouldNotTell);
        assert!(said(&found, "judgement").starts_with("not checked: the record of L-26-0501 is withheld"));
    }
    // Among several the right one is taken.
    let several = [shop.evidence(CONTROLLED), shop.evidence(CLOSED)];
    demo::verifies(&shop.verify(&file, Some(&several)));
}

#[test]
fn without_evidence_the_judgement_is_not_asked_and_says_so() {
    let shop = Shop::get();
    for lot in [CLOSED, CONTROLLED] {
        let found = shop.verify(&shop.file(lot), None);
        demo::verifies_but(&found, &["judgement", "register"]);
        assert!(said(&found, "judgement").contains("rests on the shop's word"));
        let line = found.lines.iter().find(|l| l.check == "judgement").unwrap();
        assert!(!line.asked);
        // The shop's register holds the evidence.
        let anchor = brightproof::app::verify::Anchor::read(&shop.root).unwrap();
        let found = demo::verify(&shop.file(lot), &anchor, Some(&shop.register()));
        assert_eq!(said(&found, "judgement"), "pass");
        demo::verifies(&found);
    }
}

/// What a shop that cheats seals over a withheld record, with its own key: the evidence it must hand out convicts it.
fn forged(change: &dyn Fn(&mut Certificate, &mut Dossier)) -> (Vec<u8>, Evidence) {
    let shop = Shop::get();
    let mut certificate = shop.certificate(CLOSED);
    let mut dossier: Dossier = serde_json::from_value(shop.evidence(CLOSED).lots[0].dossier.clone()).unwrap();
    change(&mut certificate, &mut dossier);
    let lot = &mut certificate.lots[0];
    lot.dossier = Datum::Disclosed(Box::new(dossier));
    let kept = withhold(lot, &[9; 32]).unwrap().unwrap();
    let stamp = brightproof::canonical::stamp(&certificate.canonical().unwrap());
    let evidence = Evidence::new(&certificate.number, &stamp, vec![kept]);
    (forger::sealed(&certificate, &demo::desk(&shop.folder).seal), evidence)
}

fn hot(dossier: &mut Dossier) {
    let text = serde_json::to_string(&dossier.record).unwrap().replace("78 °F", "91 °F");
    dossier.record = serde_json::from_str(&text).unwrap();
}

#[test]
fn a_cheat_behind_a_digest_is_told_by_its_evidence() {
    let shop = Shop::get();
    let set_observed = |c: &mut Certificate, from: &str, to: &str| {
        let finding = c.lots[0].findings.iter_mut().find(|f| f.observed.as_deref() == Some(from)).unwrap();
        finding.observed = Some(to.to_owned());
    };
    type Cheat<'a> = (&'a str, &'a dyn Fn(&mut Certificate, &mut Dossier), &'a str);
    let cheats: [Cheat; 7] = [
        ("a bath at 91 °F, certified as 78 °F", &|_, d| hot(d), "the findings do not follow"),
        ("the findings say 77 °F", &|c, _| set_observed(c, "78 °F", "77 °F"), "the findings do not follow"),
        (
            "a withheld figure spelled out, and wrong",
            &|c, _| set_observed(c, "withheld", "25.0 vol%"),
            "the findings do not follow",
        ),
        (
            "a test result made better",
            &|c, _| c.lots[0].tests[0].nonconforming = Some(1),
            "what is printed does not follow",
        ),
        (
            "fewer things said to be withheld",
            &|c, _| c.lots[0].withheld.truncate(3),
            "what is printed does not follow",
        ),
        (
            "the record of another lot",
            &|_, d| d.record.lot = "L-26-0999".to_owned(),
            "what is printed does not follow",
        ),
        ("a marking nobody asked", &|c, _| c.controlled = Some("secret".to_owned()), "the control marking"),
    ];
    for (what, change, why) in cheats {
        let (file, evidence) = forged(change);
        let found = shop.verify(&file, Some(&[evidence]));
        let judgement = said(&found, "judgement");
        assert!(judgement.starts_with("fail: ") && judgement.contains(why), "{what}: {judgement}");
    }
    // Untouched, the same way of making it verifies: the cheats above fail for what they changed.
    let (file, evidence) = forged(&|_, _| {});
    demo::verifies(&shop.verify(&file, Some(&[evidence])));
}

/// What can be told without any evidence is told.
#[test]
fn a_cheat_that_shows_is_told_without_evidence() {
    let shop = Shop::get();
    let more = forged(&|c, _| c.lots[0].quantity = 91).0;
    let judgement = said(&shop.verify(&more, None), "judgement");
    assert!(judgement.contains("the shipment's line does not follow"), "{judgement}");
    let marked = forged(&|c, _| c.controlled = Some("x".to_owned())).0;
    let judgement = said(&shop.verify(&marked, None), "judgement");
    assert!(judgement.contains("the control marking"), "{judgement}");
    // A finding left out shows only to who has the evidence.
    let (file, evidence) = forged(&|c, d| {
        hot(d);
        let findings = certified_lot(d.clone(), judge(d), c.lots[0].quantity).findings;
        assert!(findings.iter().any(|f| f.verdict == Verdict::NotMet));
        c.lots[0].findings = findings.into_iter().filter(|f| f.verdict != Verdict::NotMet).collect();
    });
    let judgement = said(&shop.verify(&file, None), "judgement");
    assert!(judgement.starts_with("not checked"), "{judgement}");
    let judgement = said(&shop.verify(&file, Some(&[evidence])), "judgement");
    assert!(judgement.contains("the findings do not follow"), "{judgement}");
}

/// A lot that says it withholds and does not, or the other way round.
#[test]
fn what_is_withheld_is_withheld() {
    let shop = Shop::get();
    let seal = |certificate: &Certificate| forger::sealed(certificate, &demo::desk(&shop.folder).seal);
    let mut silent = shop.certificate(CLOSED);
    silent.lots[0].withheld.clear();
    let found = shop.verify(&seal(&silent), None);
    assert!(said(&found, "judgement").contains("its record is withheld, and nothing says so"));
    let mut leaked = shop.certificate(CLOSED);
    let dossier = serde_json::from_value(shop.evidence(CLOSED).lots[0].dossier.clone()).unwrap();
    leaked.lots[0].dossier = Datum::Disclosed(Box::new(dossier));
    let found = shop.verify(&seal(&leaked), None);
    assert!(said(&found, "judgement").contains("which is there"));
}

/// Members no release knows are part of what was digested, and make it no record of ours.
#[test]
fn a_dossier_with_more_in_it_is_refused() {
    let shop = Shop::get();
    let mut certificate = shop.certificate(CLOSED);
    let mut evidence = shop.evidence(CLOSED);
    let mut dossier: Value = evidence.lots[0].dossier.clone();
    dossier["more"] = json!("x");
    certificate.lots[0].dossier = Datum::Withheld(evidence_digest(&[9; 32], &dossier).unwrap());
    evidence.lots[0].dossier = dossier;
    evidence.lots[0].salt = hex::encode([9; 32]);
    let file = forger::sealed(&certificate, &demo::desk(&shop.folder).seal);
    let found = shop.verify(&file, Some(&[evidence]));
    assert!(said(&found, "judgement").contains("unknown field"), "{}", said(&found, "judgement"));
}
