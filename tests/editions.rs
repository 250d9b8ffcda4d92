//! Standards change. A certificate is judged again by what it carries, an order by the edition it names, and the shop
//! is told when a later one took its place.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::path::PathBuf;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;

use brightproof::app::book::Book;
use brightproof::app::builtin;
use brightproof::app::desk::Desk;
use brightproof::app::error::Error;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::make;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Overall;
use brightproof::app::world::World;
use brightproof::finding::Finding;
use brightproof::finding::Reason;
use brightproof::finding::Verdict;
use brightproof::folder::Folder;
use brightproof::judge::Dossier;
use brightproof::judge::conforms;
use brightproof::judge::judge;
use brightproof::pack::Check;
use brightproof::pdf::Renderer;
use brightproof::record::Step;

use crate::support::book;
use crate::support::brief;
use crate::support::dossier;
use crate::support::read;

/// Bytes that differ each time; no key of a real shop is made of them.
fn random(buffer: &mut [u8]) -> Result<(), String> {
    static TURN: AtomicU64 = AtomicU64::new(1);
    for chunk in buffer.chunks_mut(32) {
        let turn = TURN.fetch_add(1, Ordering::Relaxed);
        let bytes = brightproof::merkle::sha256(&turn.to_be_bytes());
        chunk.copy_from_slice(&bytes[..chunk.len()]);
    }
    Ok(())
}

fn world(at: &str) -> World<'static> {
    World::new(chrono::DateTime::parse_from_rfc3339(at).unwrap(), &random)
}

/// The invented shop in a folder that goes away with the test.
pub struct Shop(PathBuf);

impl Shop {
    pub fn new() -> Shop {
        static NEXT: AtomicU64 = AtomicU64::new(0);
        let nth = NEXT.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("brightproof-editions-{}-{nth}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        make::demo(&Folder::new(&path), &world("2026-11-25T08:00:00-05:00")).unwrap();
        Shop(path)
    }

    pub fn folder(&self) -> Folder {
        Folder::new(&self.0)
    }

    /// Issues a lot's certificate; its number.
    pub fn issue(&self, lot: &str) -> String {
        let mut desk = Desk::open(self.folder(), &|| Err(Error::cannot("the keys are open", ""))).unwrap();
        let targets = [Target::Lot(lot.to_owned())];
        let now = world("2026-11-25T12:00:00-05:00");
        let outcomes = issue::issue(&mut desk, &targets, "M. Sorrel", None, &now, &|| {}).unwrap();
        match outcomes.into_iter().next() {
            Some(Outcome::Issued { number, .. } | Outcome::Again { number, .. }) => number,
            Some(Outcome::Held(_)) => panic!("{lot} is held"),
            _ => panic!("{lot} was not issued"),
        }
    }

    fn judged(&self, lot: &str) -> Vec<Finding> {
        let book = Book::open(self.folder()).unwrap();
        judge(&book.case(book.lot(lot).unwrap()).unwrap().dossier)
    }

    fn verifies(&self, number: &str) -> Overall {
        let folder = self.folder();
        let anchor = Anchor::read(&folder.path("keys/root.pem").display().to_string()).unwrap();
        let bytes = std::fs::read(folder.path(&format!("certificates/{number}.pdf"))).unwrap();
        verify::file("c.pdf", &bytes, &anchor, None, &Renderer::new().unwrap()).unwrap().overall()
    }
}

impl Drop for Shop {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

const LOT: &str = "L-26-0401";
const A967: &str = "ASTM A967/A967M-17";

fn built_in(file: &str) -> &'static str {
    builtin::PACKS.iter().find(|(name, _)| *name == file).unwrap().1
}

/// The window of Nitric 2, which the sample lot meets at 78 °F and 79 °F, moved out of its reach.
fn moved(text: &str) -> String {
    let at = text.find("- id: nitric-2.temperature").unwrap();
    let (before, after) = text.split_at(at);
    format!("{before}{}", after.replacen("from: 70 °F, to: 90 °F", "from: 85 °F, to: 90 °F", 1))
}

/// The rules in force change after issue: the certificate stands by the rules it carries, and a lot judged now is held
/// until somebody adopts what changed.
#[test]
fn a_certificate_is_judged_again_by_the_rules_it_carries() {
    let shop = Shop::new();
    let number = shop.issue(LOT);
    assert_eq!(shop.verifies(&number), Overall::Verifies);
    std::fs::create_dir_all(shop.0.join("rules")).unwrap();
    std::fs::write(shop.0.join("rules/astm-a967.yaml"), moved(built_in("rules/astm-a967.yaml"))).unwrap();
    assert_eq!(shop.verifies(&number), Overall::Verifies);
    let findings = shop.judged(LOT);
    let gap = findings.iter().find(|f| f.is_gap()).unwrap();
    assert_eq!(gap.requirement, "astm-a967/nitric-2.temperature", "{}", brief(gap));
    assert_eq!(gap.reason, Some(Reason::RuleChanged));
}

/// It is the pack in the dossier that decides, and no other: changed there, the findings change.
#[test]
fn the_pack_that_rides_along_decides() {
    let sound = dossier(LOT);
    assert!(conforms(&judge(&sound)));
    let mut changed = sound.clone();
    let pack = changed.packs.iter_mut().find(|p| p.pack.pack == "astm-a967").unwrap();
    let limit = pack.pack.requirements.iter_mut().find(|r| r.id == "nitric-2.temperature").unwrap();
    let Check::Within(windows) = &mut limit.check else { panic!("no window") };
    windows[0].from = Some(read("85 °F"));
    let gaps: Vec<Finding> = judge(&changed).into_iter().filter(Finding::is_gap).collect();
    assert!(!gaps.is_empty());
    assert!(gaps.iter().all(|gap| gap.requirement == "astm-a967/nitric-2.temperature"), "{gaps:#?}");
    // The rulebook in the program was not asked: a dossier keeps its own under any edition's name.
    assert!(conforms(&judge(&sound)));
}

/// The sample lot under another call-out, with just that edition's pack, as the shop adopted it, in its dossier.
fn calling(pack: &str, edition: &str) -> Dossier {
    let mut dossier = dossier(LOT);
    let pack = book().packs.iter().find(|p| p.pack == pack).unwrap();
    let house = dossier.packs.iter().find(|p| p.pack.is_house()).unwrap().clone();
    dossier.packs = vec![house, book().adopted(pack, edition).unwrap()];
    let named = pack.named(edition);
    let call = dossier.part.calls_for.iter_mut().find(|c| c.standard.as_deref() == Some(A967)).unwrap();
    call.standard = Some(named);
    dossier
}

/// 20 °C is within the window of 2017, which prints one in degrees Celsius, and below that of 2005, which prints 70 °F
/// to 90 °F alone: an order that calls the old edition is judged by the old one.
#[test]
fn an_old_edition_is_judged_by_the_old_edition() {
    let cold = |pack: &str, edition: &str| {
        let mut dossier = calling(pack, edition);
        for step in dossier.record.runs.iter_mut().flat_map(|run| &mut run.steps) {
            if let Step::Passivate(bath) = step {
                bath.temperature = Some(read("20 °C"));
                bath.temperature_out = None;
            }
        }
        let findings = judge(&dossier);
        let of_bath = findings.into_iter().find(|f| f.requirement.ends_with("/nitric-2.temperature"));
        of_bath.unwrap()
    };
    let new = cold("astm-a967", "17");
    assert_eq!((new.standard.as_str(), new.verdict, new.converted), (A967, Verdict::Met, false));
    let old = cold("astm-a967-05", "05");
    assert_eq!((old.standard.as_str(), old.verdict, old.converted), ("ASTM A967-05", Verdict::NotMet, true));
}

/// Every finding of a standard under the old call-out is of the old one; nothing of the new is mixed in.
#[test]
fn nothing_of_the_new_edition_is_mixed_in() {
    for (pack, edition, name) in
        [("astm-a967-05", "05", "ASTM A967-05"), ("astm-a967", "13", "ASTM A967/A967M-13")]
    {
        let findings = judge(&calling(pack, edition));
        let standards: std::collections::BTreeSet<&str> = findings
            .iter()
            .filter(|f| !f.requirement.starts_with("house/"))
            .map(|f| f.standard.as_str())
            .collect();
        assert!(standards.contains(name), "{standards:?}");
        assert!(standards.iter().all(|s| !s.contains("A967") || *s == name), "{standards:?}");
    }
}

/// A shop that adopted the new edition only, and an order that calls the old: held for want of its adoption, not judged
/// by the one at hand.
#[test]
fn the_new_edition_never_stands_in_for_the_old() {
    let shop = Shop::new();
    let path = shop.0.join("parts/7731-04-C.yaml");
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains(A967));
    std::fs::write(path, text.replace(A967, "ASTM A967-05")).unwrap();
    let findings = shop.judged(LOT);
    assert!(!conforms(&findings));
    assert!(findings.iter().any(|f| f.requirement == "house/adoption" && f.is_gap()), "{findings:#?}");
    assert!(findings.iter().any(|f| f.standard == "ASTM A967-05"));
    assert!(findings.iter().all(|f| f.standard != A967));
}

fn advised(findings: &[Finding]) -> Vec<(String, String)> {
    let of_edition = findings.iter().filter(|f| f.requirement == "house/edition.superseded");
    let advice = of_edition.filter(|f| f.verdict == Verdict::Advice);
    advice.map(|f| (f.observed.clone().unwrap(), f.limit.clone())).collect()
}

/// The shop is told that a later edition took the place of the one ordered, and of which; it holds no lot.
#[test]
fn the_successor_of_an_old_edition_is_named() {
    for (pack, edition, ordered, later) in [
        ("astm-a967", "13", "ASTM A967/A967M-13", "ASTM A967/A967M-17"),
        ("astm-a967-05", "05", "ASTM A967-05", "ASTM A967/A967M-17"),
        ("astm-a967-05", "05e1", "ASTM A967-05e1", "ASTM A967/A967M-17"),
        ("ams-2700", "E", "SAE AMS 2700E", "SAE AMS 2700F"),
        ("qq-p-35", "C", "QQ-P-35C", "SAE AMS 2700F"),
    ] {
        let found = advised(&judge(&calling(pack, edition)));
        let expected = (format!("{ordered} is ordered"), format!("{later}, which took its place"));
        assert_eq!(found, [expected]);
    }
    for (pack, edition) in [("astm-a967", "17"), ("ams-2700", "F")] {
        assert_eq!(advised(&judge(&calling(pack, edition))), []);
    }
}

/// Successors named by built-in packs are editions that some pack of the rulebook answers to, so that a shop that follows
/// the advice finds its rules.
#[test]
fn successors_are_in_the_rulebook() {
    let packs = builtin::packs().unwrap();
    for pack in &packs {
        for later in pack.superseded_by.values() {
            let named = pack.successor_named(later);
            assert!(packs.iter().any(|p| p.edition_named(&named).is_some()), "{}: {named}", pack.pack);
        }
    }
}

/// A shop that knows of a later edition than its pack says so in the adoption, and is told from then on; orders that
/// call the edition adopted are judged as before.
#[test]
fn a_shop_marks_an_edition_superseded() {
    let shop = Shop::new();
    assert_eq!(advised(&shop.judged(LOT)), []);
    let path = shop.0.join("adopted/astm-a967-17.yaml");
    let text = std::fs::read_to_string(&path).unwrap();
    let with = |later: &str| {
        text.replacen("requirements:", &format!("superseded_by: \"{later}\"\nrequirements:"), 1)
    };
    for (later, named) in [("24", "ASTM A967/A967M-24"), ("Fells FS 12", "Fells FS 12")] {
        std::fs::write(&path, with(later)).unwrap();
        let findings = shop.judged(LOT);
        assert!(conforms(&findings));
        let expected = (format!("{A967} is ordered"), format!("{named}, which took its place"));
        assert_eq!(advised(&findings), [expected]);
    }
    // It cannot be its own successor, and a blank says nothing.
    for wrong in ["17", " "] {
        std::fs::write(&path, with(wrong)).unwrap();
        assert!(Book::open(shop.folder()).is_err(), "{wrong}");
    }
}
