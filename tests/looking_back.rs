//! Looking back in the invented shop: what rests on a thing that proved wrong, to whom certificates went, who must be
//! told, and certificates older than the tool. Each test says how a careless or dishonest shop would get past it.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::collections::BTreeSet;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;

use brightproof::app::affected;
use brightproof::app::delivery;
use brightproof::app::delivery::Reissue;
use brightproof::app::delivery::Sending;
use brightproof::app::delivery::Which;
use brightproof::app::desk::Desk;
use brightproof::app::desk::open_register;
use brightproof::app::error::Error;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::legacy;
use brightproof::app::legacy::NewLegacy;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::app::make;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Overall;
use brightproof::app::world::World;
use brightproof::certificate::AmendmentKind;
use brightproof::certificate::Thing;
use brightproof::certificate::uses;
use brightproof::cli::Cli;
use brightproof::folder::Folder;
use brightproof::order::Way;
use brightproof::pdf::Renderer;
use brightproof::register::Asked;
use brightproof::register::Facet;
use brightproof::register::Query;
use brightproof::register::Status;
use clap::CommandFactory;
use clap::Parser;
use serde_json::Value;

use crate::support::CONFORMING;
use crate::support::UNDER_DEVIATION;
use crate::support::dossier;

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

const MADE: &str = "2026-11-25T08:00:00-05:00";
const NOON: &str = "2026-11-25T12:00:00-05:00";

/// The invented shop in a folder that goes away with the test.
struct Shop(PathBuf);

impl Shop {
    fn new() -> Shop {
        static NEXT: AtomicU64 = AtomicU64::new(0);
        let nth = NEXT.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("brightproof-back-{}-{nth}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        make::demo(&Folder::new(&path), &world(MADE)).unwrap();
        Shop(path)
    }

    fn folder(&self) -> Folder {
        Folder::new(&self.0)
    }

    fn desk(&self) -> Desk {
        Desk::open(self.folder(), &|| Err(Error::cannot("the keys are open", ""))).unwrap()
    }

    /// Issues; the numbers in turn, or why not.
    fn issue(&self, targets: &[Target]) -> Result<Vec<String>, String> {
        let mut desk = self.desk();
        let outcomes = issue::issue(&mut desk, targets, "M. Sorrel", None, &world(NOON), &|| {}).unwrap();
        let number = |outcome| match outcome {
            Outcome::Issued { number, .. } | Outcome::Again { number, .. } => Ok(number),
            Outcome::Held(_) => Err("held".to_owned()),
            Outcome::Unwritten { error, .. } | Outcome::Failed(error) => Err(error.to_string()),
        };
        outcomes.into_iter().map(number).collect()
    }

    fn change(&self, file: &str, from: &str, to: &str) {
        if file.starts_with("lots/") {
            return crate::demo::correct(&self.0, file, from, to);
        }
        let path = self.0.join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{file} does not hold {from}");
        std::fs::write(path, text.replace(from, to)).unwrap();
    }

    fn deliver(&self, number: &str, to: &str, on: Option<&str>) -> Result<delivery::Delivered, String> {
        let on = on.map(|day| day.parse().unwrap());
        let sending = Sending { number, to, how: Way::EMail, by: "D. Yarrow", on };
        delivery::delivered(&self.folder(), &sending, &world(NOON)).map_err(|e| e.to_string())
    }

    fn reissue(&self, which: &Which, to: &str, approved_by: Option<&str>) -> Result<Vec<String>, String> {
        let out = self.0.join("out");
        let request = Reissue { by: "D. Yarrow", to, why: "lost", how: None, approved_by, out: &out };
        let sent = delivery::reissue(&self.folder(), which, &request, &world(NOON));
        sent.map(|all| all.into_iter().map(|one| one.number).collect()).map_err(|e| e.to_string())
    }

    fn amend(&self, number: &str, kind: AmendmentKind) -> (String, Vec<String>) {
        let request = AmendRequest { number, by: "M. Sorrel", why: "misread", kind };
        match lookup::amend(&mut self.desk(), &request, &world(NOON)).unwrap() {
            Amended::New { number, told, .. } => (number, told.holders.into_iter().map(|h| h.name).collect()),
            Amended::Held(_) => panic!("held"),
        }
    }

    fn affected(&self, thing: Thing, name: &str, days: (&str, &str)) -> Result<affected::Affected, String> {
        let day = |day: &str| if day.is_empty() { None } else { Some(day.parse().unwrap()) };
        let asked = Asked { thing, name: name.to_owned(), from: day(days.0), to: day(days.1) };
        affected::affected(&self.folder(), asked, None, "larkspur")
            .map_err(|e| format!("{e} / {}", e.hint().unwrap_or_default()))
    }

    fn audit(&self) {
        let audit = open_register(&self.folder()).unwrap().audit().unwrap();
        assert_eq!(audit.problems, []);
    }
}

impl Drop for Shop {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn slip(slip: &str) -> Target {
    Target::Slip(slip.to_owned())
}

fn lot(lot: &str) -> Target {
    Target::Lot(lot.to_owned())
}

/// Every text under one of these keys, anywhere.
fn texts(value: &Value, keys: &[&str], found: &mut BTreeSet<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                match inner {
                    Value::String(text) if keys.contains(&key.as_str()) => drop(found.insert(text.clone())),
                    other => texts(other, keys, found),
                }
            }
        }
        Value::Array(all) => all.iter().for_each(|inner| texts(inner, keys, found)),
        _ => {}
    }
}

/// What the index leaves out is never found again: it is held against a blind walk over the dossier's own data.
#[test]
fn nothing_a_lot_rests_on_is_left_out() {
    let corrected = ["L-26-0431"];
    for name in CONFORMING.iter().chain(&UNDER_DEVIATION).chain(&corrected) {
        let dossier = dossier(name);
        let all = uses(&dossier, ("M. Sorrel", "2026-11-25".parse().unwrap()));
        let of = |thing| -> BTreeSet<String> {
            all.iter().filter(|u| u.thing == thing).map(|u| u.name.clone()).collect()
        };
        let walked = |value: Value, keys: &[&str]| {
            let mut found = BTreeSet::new();
            texts(&value, keys, &mut found);
            found
        };
        let dossier = brightproof::judge::whole(&dossier);
        let record = serde_json::to_value(&dossier.record).unwrap();
        // All of it but the rulebook, whose adoption the register itself holds.
        let mut whole = serde_json::to_value(&*dossier).unwrap();
        whole.as_object_mut().unwrap().remove("packs");
        let mut people = walked(whole.clone(), &["by"]);
        people.insert("M. Sorrel".to_owned());
        assert_eq!(of(Thing::Person), people, "{name}");
        assert_eq!(of(Thing::Bath), walked(record.clone(), &["bath"]), "{name}");
        let instruments: BTreeSet<String> =
            dossier.instruments.iter().map(|i| i.instrument.clone()).collect();
        assert_eq!(of(Thing::Instrument), instruments, "{name}");
        assert_eq!(of(Thing::Solution), walked(record.clone(), &["solution"]), "{name}");
        assert_eq!(of(Thing::Heat), walked(whole, &["heat"]), "{name}");
        assert_eq!(of(Thing::Load), walked(record, &["load"]), "{name}");
        assert!(all.iter().all(|u| u.lot == *name), "{name}");
    }
}

/// Each use lies on the day of its own reading, not somewhere in the lot's weeks.
#[test]
fn uses_carry_their_own_days() {
    let all = uses(&dossier("L-26-0409"), ("M. Sorrel", "2026-11-25".parse().unwrap()));
    let lines: Vec<String> = all
        .iter()
        .filter(|u| matches!(u.thing, Thing::Bath | Thing::Solution))
        .map(|u| format!("{} {}: {} ({})", u.thing.name(), u.name, affected::when(u), u.how))
        .collect();
    insta::assert_snapshot!(lines.join("\n"), @"
    bath AC-1: 2026-10-27 (run 1: clean)
    bath AC-1: 2026-10-27 (run 2: clean)
    bath N-2: 2026-10-27 (run 1: passivate)
    bath N-2: 2026-10-27 (run 2: passivate)
    solution CS-26-08: 2026-10-27 (test: copper sulfate)
    ");
}

#[test]
fn what_rests_on_a_thermometer_is_found_with_whom_to_tell_and_what_to_run() {
    let shop = Shop::new();
    let numbers = shop.issue(&[lot("L-26-0408"), slip("PS-26-0312"), slip("PS-26-0311")]).unwrap();
    shop.deliver(&numbers[0], "P. Gnomon", Some("2026-11-25")).unwrap();
    let found = shop.affected(Thing::Instrument, "ti-5", ("2026-10-20", "2026-10-25")).unwrap();
    assert_eq!(found.rows.len(), 1);
    let row = &found.rows[0];
    assert_eq!((&row.number, row.lots[0].pieces), (&numbers[0], 80));
    let told: Vec<&str> = row.told.holders.iter().map(|h| h.name.as_str()).collect();
    assert_eq!(told, ["P. Gnomon", "R. Fathom, receiving inspection", "Quillmark document portal"]);
    assert!(row.commands[0].starts_with("brightproof --shop larkspur withdraw LBF-2026-000001 --why "));
    // a day before and a day after, nothing
    assert_eq!(shop.affected(Thing::Instrument, "TI-5", ("", "2026-10-21")).unwrap().rows.len(), 0);
    assert_eq!(shop.affected(Thing::Instrument, "TI-5", ("2026-10-23", "")).unwrap().rows.len(), 0);
    // a chamber, a heat on two certificates, an analyst nobody recorded on the lot itself
    assert_eq!(shop.affected(Thing::Instrument, "HC-1", ("", "")).unwrap().rows.len(), 1);
    assert_eq!(shop.affected(Thing::Heat, "h2208", ("", "")).unwrap().rows.len(), 1);
    assert_eq!(shop.affected(Thing::Person, "J. Teasel", ("", "")).unwrap().rows.len(), 3);
    // what no longer stands is listed, but nothing is left to run
    lookup::withdraw(&shop.folder(), &numbers[0], "M. Sorrel", "TI-5", "hold", &world(NOON)).unwrap();
    let found = shop.affected(Thing::Instrument, "TI-5", ("", "")).unwrap();
    assert!(matches!(found.rows[0].status, Status::Withdrawn { .. }));
    assert!(found.rows[0].commands.is_empty());
    let sheet = affected::worksheet(&found);
    assert_eq!(sheet.lines().count(), 2);
    assert!(
        sheet.contains("\"L-26-0408\",\"80\",\"2026-10-22: run 1: passivate, temperature of N-3"),
        "{sheet}"
    );
    // one purchaser's list never names another
    let asked = |name: &str| Asked { thing: Thing::Person, name: name.to_owned(), from: None, to: None };
    let one = affected::affected(&shop.folder(), asked("M. Sorrel"), Some("tarn-fell"), ".").unwrap();
    let purchasers: Vec<&str> = one.rows.iter().map(|r| r.purchaser.as_str()).collect();
    assert_eq!(purchasers, ["Tarn & Fell Dairyworks"]);
    assert!(!affected::worksheet(&one).contains("Quillmark"));
    shop.audit();
}

/// "None" for a misspelt name would be a false comfort.
#[test]
fn a_name_nobody_knows_is_refused_not_answered_with_none() {
    let shop = Shop::new();
    let refused = |thing, name: &str, days| shop.affected(thing, name, days).err().unwrap();
    let any = ("", "");
    insta::assert_snapshot!(refused(Thing::Instrument, "TI-55", any), @"no certificate and no list of the shop knows instrument `TI-55` / did you mean TI-5, TI-1, TI-2, TI-3, TI-4?");
    insta::assert_snapshot!(refused(Thing::Person, "T Quince", any), @"no certificate and no list of the shop knows person `T Quince` / did you mean T. Quince?");
    insta::assert_snapshot!(refused(Thing::Heat, "H2208", any), @"no certificate and no list of the shop knows heat `H2208` / look it up on a record; letter case does not matter, all else does");
    insta::assert_snapshot!(refused(Thing::Bath, " ", any), @"no bath is named / name one");
    insta::assert_snapshot!(refused(Thing::Bath, "N-3", ("2026-11-12", "2026-11-01")), @"2026-11-12 comes after 2026-11-01 / exchange --from and --to");
    // known to the shop's lists, used by no certificate yet: that is an answer
    assert_eq!(shop.affected(Thing::Instrument, "TI-5", any).unwrap().rows.len(), 0);
}

#[test]
fn a_delivery_is_entered_as_it_happened_even_to_a_stranger() {
    let shop = Shop::new();
    let number = &shop.issue(&[lot("L-26-0408")]).unwrap()[0];
    assert!(shop.deliver(number, " r. fathom,  Receiving Inspection ", None).unwrap().stranger.is_none());
    let astray = shop.deliver(number, "H. Curdle, goods in", None).unwrap();
    insta::assert_snapshot!(astray.stranger.unwrap(), @"order QI-88256 names R. Fathom, receiving inspection, Quillmark document portal");
    for (to, on) in
        [("", None), ("a\nb", None), ("P. Gnomon", Some("2026-11-24")), ("P. Gnomon", Some("2026-11-26"))]
    {
        assert!(shop.deliver(number, to, on).is_err(), "{to:?} {on:?}");
    }
    assert!(shop.deliver("LBF-2026-000009", "P. Gnomon", None).is_err());
    let nobody = Sending { number, to: "P. Gnomon", how: Way::Paper, by: "N. Obody", on: None };
    assert!(delivery::delivered(&shop.folder(), &nobody, &world(NOON)).is_err());
    // whoever got it, rightly or not, is told
    let told = lookup::withdraw(&shop.folder(), number, "M. Sorrel", "x", "hold", &world(NOON)).unwrap();
    let names: Vec<&str> = told.holders.iter().map(|h| h.name.as_str()).collect();
    assert_eq!(
        names,
        ["r. fathom,  Receiving Inspection", "H. Curdle, goods in", "Quillmark document portal"]
    );
    let entry = open_register(&shop.folder()).unwrap().history(number).unwrap().pop().unwrap();
    assert_eq!(entry.detail["notify"].as_array().unwrap().len(), 3);
    assert!(shop.deliver(number, "P. Gnomon", None).unwrap().status != Status::Current);
    shop.audit();
}

#[test]
fn a_certificate_is_sent_again_to_contacts_or_with_somebody_elses_word() {
    let shop = Shop::new();
    let numbers = shop.issue(&[lot("L-26-0408"), slip("PS-26-0312")]).unwrap();
    let which = Which::Number(&numbers[0]);
    assert!(shop.reissue(&which, "R. Fathom, receiving inspection", None).is_ok());
    let refused = |to: &str, by| shop.reissue(&which, to, by).unwrap_err();
    insta::assert_snapshot!(refused("P. Gnomon", None), @"P. Gnomon is no contact for certificate LBF-2026-000001: order QI-88256 names R. Fathom, receiving inspection, Quillmark document portal");
    // another purchaser's contact is a stranger here
    assert!(refused("H. Curdle, goods in", None).contains("is no contact"));
    // approval is somebody entitled, and somebody else
    assert!(refused("P. Gnomon", Some("T. Quince")).contains("may not release"));
    assert!(refused("P. Gnomon", Some("N. Obody")).contains("knows no"));
    shop.change(
        "people.yaml",
        "D. Yarrow, function: customer service",
        "D. Yarrow, function: customer service, may_release_from: 2026-01-01",
    );
    insta::assert_snapshot!(refused("P. Gnomon", Some("D. Yarrow")), @"D. Yarrow cannot approve what D. Yarrow sends");
    assert!(shop.reissue(&which, "P. Gnomon", Some("M. Sorrel")).is_ok());
    // nobody adds himself to an order: without its review its contacts do not count
    shop.change("orders/QI-88256.yaml", "R. Fathom", "P. Gnomon");
    shop.change("orders/QI-88256.yaml", "reviewed: { by: D. Yarrow, on: 2026-10-16 }\n", "");
    assert!(refused("P. Gnomon, receiving inspection", None).contains("is not reviewed"));
    shop.audit();
}

/// Two purchasers may well use the same order number.
#[test]
fn an_order_sent_again_is_all_that_stands_of_one_purchaser() {
    let shop = Shop::new();
    let numbers = shop.issue(&[slip("PS-26-0312"), slip("PS-26-0313"), lot("L-26-0408")]).unwrap();
    let order = Which::Order("TF-5520");
    assert_eq!(shop.reissue(&order, "H. Curdle, goods in", None).unwrap(), numbers[..2]);
    lookup::withdraw(&shop.folder(), &numbers[0], "M. Sorrel", "x", "hold", &world(NOON)).unwrap();
    assert_eq!(shop.reissue(&order, "H. Curdle, goods in", None).unwrap(), numbers[1..2]);
    for nothing in ["TF-552", "", "QI-1"] {
        assert!(shop.reissue(&Which::Order(nothing), "H. Curdle, goods in", None).is_err(), "{nothing}");
    }
    let old = older(&shop, "C/1", "quillmark", &[(Facet::PurchaseOrder, "TF-5520")]);
    old.unwrap();
    let refused = shop.reissue(&order, "H. Curdle, goods in", Some("M. Sorrel")).unwrap_err();
    insta::assert_snapshot!(refused, @"order TF-5520 is an order of Quillmark Instruments and of Tarn & Fell Dairyworks");
    shop.audit();
}

/// Writes a PDF of its own for a number and takes it in as legacy.
fn older(shop: &Shop, number: &str, purchaser: &str, found_by: &[(Facet, &str)]) -> Result<String, String> {
    let file = shop.0.join(format!("{}.pdf", number.replace('/', "-")));
    std::fs::write(&file, format!("%PDF-1.4 invented scan of {number}")).unwrap();
    take_in(shop, &file, number, purchaser, "2019-05-02", "M. Sorrel", found_by)
}

fn take_in(
    shop: &Shop,
    file: &Path,
    number: &str,
    purchaser: &str,
    issued: &str,
    by: &str,
    found_by: &[(Facet, &str)],
) -> Result<String, String> {
    let new = NewLegacy {
        file,
        number,
        purchaser,
        issued: issued.parse().unwrap(),
        found_by: found_by.iter().map(|(facet, value)| (*facet, (*value).to_owned())).collect(),
        by,
    };
    legacy::add(&shop.folder(), &new, &world(NOON)).map_err(|e| e.to_string())
}

#[test]
fn an_older_certificate_is_found_and_sent_again_but_never_verifies() {
    let shop = Shop::new();
    let lots = [(Facet::Lot, "L-19-0007"), (Facet::Serial, "R77")];
    let digest = older(&shop, "C/2019-55", "tarn-fell", &lots).unwrap();
    let found = lookup::find(&shop.folder(), &["r77".to_owned()], true, 9).unwrap();
    assert_eq!((found[0].number.as_str(), found[0].status.clone()), ("C/2019-55", Status::Legacy));
    assert!(found[0].facets.contains(&(Facet::Purchaser, "Tarn & Fell Dairyworks".to_owned())));

    let register = open_register(&shop.folder()).unwrap();
    let bytes = std::fs::read(shop.0.join("C-2019-55.pdf")).unwrap();
    let renderer = Renderer::new().unwrap();
    let verified = verify::file("x.pdf", &bytes, &Anchor::none(), Some(&register), &renderer).unwrap();
    assert_eq!(verified.overall(), Overall::CouldNotTell);
    insta::assert_snapshot!(brightproof::report::verification(&verified), @"
    x.pdf (C/2019-55): could not be told
      registered   pass         the shop's register has this very file under this number
      judgement    not checked  judged by this shop's tool, and without a gap
                               legacy: registered as received, not judged, on 2026-11-25T17:00:00Z
    ");
    let paper = verify::paper("C/2019-55", &digest, &register).unwrap();
    assert_eq!(paper.overall(), Overall::CouldNotTell);
    let paper = verify::paper("C/2019-55", &"0".repeat(64), &register).unwrap();
    assert_eq!(paper.overall(), Overall::DoesNotVerify);
    // one bit changed, and it is no registered file any more
    let changed = [bytes.as_slice(), b" "].concat();
    let verified = verify::file("x.pdf", &changed, &Anchor::none(), Some(&register), &renderer).unwrap();
    assert_eq!(verified.overall(), Overall::DoesNotVerify);
    drop(register);

    // its order is in no folder, so somebody must approve; its copy stays in the folder asked for
    let which = Which::Number("C/2019-55");
    assert!(shop.reissue(&which, "H. Curdle, goods in", None).is_err());
    shop.reissue(&which, "H. Curdle, goods in", Some("M. Sorrel")).unwrap();
    let copies: Vec<PathBuf> =
        std::fs::read_dir(shop.0.join("out")).unwrap().map(|e| e.unwrap().path()).collect();
    assert_eq!(copies.len(), 1);
    assert_eq!(std::fs::read(&copies[0]).unwrap(), bytes);

    // what it rests on is not known, and that is said
    let found = shop.affected(Thing::Bath, "N-3", ("2019-01-01", "")).unwrap();
    assert_eq!((found.rows.len(), found.legacy.len()), (0, 1));
    assert_eq!(shop.affected(Thing::Bath, "N-3", ("2019-05-03", "")).unwrap().legacy.len(), 0);

    let request =
        AmendRequest { number: "C/2019-55", by: "M. Sorrel", why: "x", kind: AmendmentKind::Clerical };
    let refused = lookup::amend(&mut shop.desk(), &request, &world(NOON)).err().unwrap();
    assert!(refused.to_string().contains("nothing to judge anew"));
    let told = lookup::withdraw(&shop.folder(), "C/2019-55", "M. Sorrel", "x", "hold", &world(NOON)).unwrap();
    assert_eq!(told.holders[0].name, "H. Curdle, goods in");
    let register = open_register(&shop.folder()).unwrap();
    let verified = verify::file("x.pdf", &bytes, &Anchor::none(), Some(&register), &renderer).unwrap();
    assert_eq!(verified.overall(), Overall::DoesNotVerify);
    shop.audit();
}

/// Legacy must never be the way around the judge.
#[test]
fn legacy_is_no_way_around_the_judge() {
    let shop = Shop::new();
    let number = shop.issue(&[lot("L-26-0408")]).unwrap().remove(0);
    let refused = |number: &str, purchaser: &str, found: &[(Facet, &str)]| {
        older(&shop, number, purchaser, found).unwrap_err()
    };
    let file = shop.0.join("x.pdf");
    std::fs::write(&file, "%PDF-1.4 made today").unwrap();
    let with = |number: &str, day: &str, by: &str| {
        take_in(&shop, &file, number, "quillmark", day, by, &[]).unwrap_err()
    };
    // finished since the register began, or by hand of somebody who may not release
    insta::assert_snapshot!(with("C/1", "2026-11-26", "M. Sorrel"), @"C/1 says it was issued on 2026-11-26, but this register began on 2026-11-25");
    assert!(with("C/1", "2019-05-02", "T. Quince").contains("may not release"));
    // numbers this shop gives itself, in whatever letters
    for own in ["LBF-2026-000900", "lbf-2026-000900", " LBF-2027-1 ", "LBF-x"] {
        assert!(with(own, "2019-05-02", "M. Sorrel").contains("gives itself"), "{own}");
    }
    assert!(refused("C/1", "quilmark", &[]).contains("knows no"));
    assert!(refused("C/1", "quillmark", &[(Facet::Lot, " ")]).contains("the lot reads"));
    // a lot certified here, and the other way round
    assert!(refused("C/1", "quillmark", &[(Facet::Lot, "L-26-0408")]).contains(&number));
    older(&shop, "C/2", "tarn-fell", &[(Facet::Lot, "L-26-0402")]).unwrap();
    // only that shipment: the others of the batch are issued all the same
    let one = |targets: &[Target]| shop.issue(targets).unwrap_err();
    insta::assert_snapshot!(one(&[slip("PS-26-0312"), slip("PS-26-0311")]), @"lot L-26-0402 is on certificate C/2 already; one of the two is legacy, whose pieces were not counted");
    let others = lookup::find(&shop.folder(), &["L-26-0409".to_owned()], true, 9).unwrap();
    assert_eq!(others.len(), 1);
    // a sealed certificate, or what is no PDF
    let sealed = shop.0.join(format!("certificates/{number}.pdf"));
    let again = take_in(&shop, &sealed, "C/3", "quillmark", "2019-05-02", "M. Sorrel", &[]).unwrap_err();
    assert!(again.contains("is a sealed certificate of this tool"), "{again}");
    std::fs::write(&file, "not a PDF").unwrap();
    assert!(with("C/3", "2019-05-02", "M. Sorrel").contains("is not a PDF"));
    shop.audit();
}

/// After a clerical amendment nobody is told, so whoever holds the first one must hear of what comes later.
#[test]
fn whoever_holds_a_certificate_before_it_is_told_too() {
    let shop = Shop::new();
    let first = shop.issue(&[slip("PS-26-0312")]).unwrap().remove(0);
    shop.deliver(&first, "F. Rennet, dairy 2", None).unwrap();
    shop.change("lots/L-26-0402.yaml", "seen by R. Medlar", "set apart by R. Medlar");
    let (second, _) = shop.amend(&first, AmendmentKind::Clerical);
    let detail = |number: &str| {
        let history = open_register(&shop.folder()).unwrap().history(number).unwrap();
        history.last().unwrap().detail["notify"].clone()
    };
    assert_eq!(detail(&second), serde_json::json!([]));
    shop.change("lots/L-26-0402.yaml", "temperature: 131 °F", "temperature: 132 °F");
    let (third, told) = shop.amend(&second, AmendmentKind::Conformity);
    assert_eq!(told, ["F. Rennet, dairy 2", "H. Curdle, goods in"]);
    assert_eq!(detail(&third).as_array().unwrap().len(), 2);
    let told = lookup::withdraw(&shop.folder(), &third, "M. Sorrel", "x", "hold", &world(NOON)).unwrap();
    assert_eq!(told.holders[0].because, [format!("{first} delivered 2026-11-25")]);
    shop.audit();
}

/// An order whose contacts cannot be read is a gap that is told, and never keeps a withdrawal waiting.
#[test]
fn a_broken_book_does_not_stop_a_withdrawal_and_is_told() {
    let shop = Shop::new();
    let number = shop.issue(&[lot("L-26-0408")]).unwrap().remove(0);
    shop.change("orders/QI-88256.yaml", "order: QI-88256", "ordr: QI-88256");
    shop.change("baths.yaml", "baths:", "bath:");
    let told = lookup::withdraw(&shop.folder(), &number, "M. Sorrel", "x", "hold", &world(NOON)).unwrap();
    assert!(told.holders.is_empty());
    assert_eq!(told.gaps.len(), 2, "{:?}", told.gaps);
    let words = brightproof::report::back::tell(&told);
    assert!(words.starts_with("nobody is on record as holding it: tell Quillmark Instruments"), "{words}");
}

#[test]
fn contacts_never_ride_in_a_certificate_and_never_make_it_another() {
    let shop = Shop::new();
    let number = shop.issue(&[lot("L-26-0408")]).unwrap().remove(0);
    let stored = open_register(&shop.folder()).unwrap().certificate(&number).unwrap().unwrap();
    assert!(!String::from_utf8(stored.data).unwrap().contains("Fathom"));
    shop.change("orders/QI-88256.yaml", "R. Fathom", "P. Gnomon");
    assert_eq!(shop.issue(&[lot("L-26-0408")]).unwrap(), [number]);
    assert!(dossier("L-26-0408").order.certificates_to.is_empty());
}

#[test]
fn certificates_are_found_by_slip_lot_serial_day_and_standing() {
    let shop = Shop::new();
    let numbers = shop.issue(&[slip("PS-26-0315"), slip("PS-26-0312")]).unwrap();
    let found = |args: &[&str]| {
        let line = ["brightproof", "--shop", shop.0.to_str().unwrap(), "--format", "json", "find"];
        let cli = Cli::try_parse_from(line.iter().chain(args)).unwrap();
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let mut output = brightproof::command::Output { out: &mut out, err: &mut err };
        let _ = brightproof::command::run(&cli, &world(NOON), &mut output);
        let all: Value = serde_json::from_slice(&out).unwrap();
        all.as_array().unwrap().iter().map(|c| c["number"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(found(&["--slip", "PS-26-0315"]), numbers[..1]);
    assert_eq!(found(&["--serial", "R103", "--exact"]), numbers[..1]);
    // a serial is no lot, a slip no order
    assert!(found(&["--lot", "R103"]).is_empty());
    assert!(found(&["--order", "PS-26-0315"]).is_empty());
    assert_eq!(found(&["--from", "2026-11-25", "--to", "2026-11-25"]).len(), 2);
    assert!(found(&["--to", "2026-11-24"]).is_empty());
    assert_eq!(found(&["--status", "current", "tarn"]), numbers[1..]);
    assert!(found(&["--status", "legacy"]).is_empty());
    let query = Query { limit: 1, ..Query::default() };
    assert_eq!(lookup::find_by(&shop.folder(), &query).unwrap().len(), 1);
}

#[test]
fn the_command_line_asks_for_one_thing_and_for_something() {
    Cli::command().debug_assert();
    let parses = |line: &str| Cli::try_parse_from(line.split(' ')).is_ok();
    assert!(parses("brightproof affected --instrument TI-5 --from 2026-11-01 --to 2026-11-12 --write x.csv"));
    assert!(parses("brightproof affected --chamber HC-1 --purchaser quillmark"));
    assert!(!parses("brightproof affected --instrument TI-5 --bath N-3"));
    assert!(!parses("brightproof affected --from 2026-11-01"));
    assert!(!parses("brightproof affected --bath N-3 --from 2026-02-30"));
    assert!(!parses("brightproof find"));
    assert!(parses("brightproof reissue --order QI-1 --by A --to B --why C"));
    assert!(!parses("brightproof reissue --by A --to B --why C"));
    assert!(!parses("brightproof reissue N --order QI-1 --by A --to B --why C"));
    assert!(parses("brightproof delivered N --to B --how e-mail --by A"));
    assert!(!parses("brightproof delivered N --to B --how pigeon --by A"));
}
