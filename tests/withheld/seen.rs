//! What the purchaser sees, and does not.

use std::process::Command;

use brightproof::certificate::CertifiedLot;
use brightproof::certificate::Datum;
use brightproof::certificate::certified_lot;
use brightproof::certificate::masked;
use brightproof::certificate::still_named;
use brightproof::certificate::withhold;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::pdf::read_sealed;

use super::CLOSED;
use super::CONTROLLED;
use super::MARKING;
use super::OPEN;
use super::Shop;
use crate::demo;
use crate::support;

/// Everyone of the invented shop but who releases: the releaser signs, and is the shop's published contact.
const PEOPLE: [&str; 7] = ["Medlar", "Quince", "Bramble", "Sedge", "Teasel", "Tansy", "Yarrow"];

/// A lot as its certificate shows it, without its record.
fn shown(mut dossier: Dossier, discloses: &str) -> (CertifiedLot, String) {
    dossier.order.discloses = (!discloses.is_empty()).then(|| brightproof::yaml::parse(discloses).unwrap());
    dossier.part.discloses = None;
    let findings = judge(&dossier);
    let quantity = dossier.record.counts.accepted;
    let mut lot = certified_lot(dossier, findings, quantity);
    withhold(&mut lot, &[7; 32]).unwrap();
    let text = serde_json::to_string(&lot).unwrap();
    (lot, text)
}

fn conforming() -> Vec<Dossier> {
    let all = support::CONFORMING.into_iter().chain(support::UNDER_DEVIATION).chain(["L-26-0431"]);
    all.map(support::dossier).collect()
}

/// The default of the house, on every lot that can be certified: no name, no chemistry, no count but of what is
/// accepted; and each finding still there with its limit.
#[test]
fn an_order_that_says_nothing_discloses_findings_only() {
    for dossier in conforming() {
        let name = dossier.record.lot.clone();
        let findings = judge(&dossier);
        let (lot, text) = shown(dossier.clone(), "");
        for person in PEOPLE.into_iter().chain(["Sorrel"]) {
            assert!(!text.contains(person), "{name}: {person}");
        }
        assert_eq!(still_named(&lot, &["M. Sorrel", "T. Quince"]), None);
        let analyses = dossier.baths.iter().flat_map(|b| &b.analyses).flat_map(|a| a.found.values());
        for found in analyses.map(ToString::to_string) {
            // As it was read; a limit of the standard may have the same figures.
            let told = lot.findings.iter().filter_map(|f| f.observed.as_ref()).any(|o| o.contains(&found));
            let printed = lot.treatments.iter().flat_map(|t| &t.facts).any(|f| f.value == found);
            assert!(!told && !printed, "{name}: {found}");
        }
        for (what, ingredient) in
            dossier.baths.iter().flat_map(|b| b.ingredients.iter().map(|i| (&b.bath, i)))
        {
            let told = lot
                .findings
                .iter()
                .filter_map(|f| f.observed.as_ref())
                .any(|o| o.contains(ingredient.as_str()));
            assert!(!told, "{name}: {what} {ingredient}");
        }
        assert_eq!(lot.counts.iter().map(|c| c.what.as_str()).collect::<Vec<_>>(), ["accepted"], "{name}");
        assert!(lot.treatments.iter().all(|t| t.pieces.is_none()), "{name}");
        assert_eq!(lot.findings.len(), findings.len(), "{name}");
        for (shown, judged) in lot.findings.iter().zip(&findings) {
            assert_eq!((&shown.requirement, shown.verdict), (&judged.requirement, judged.verdict), "{name}");
            assert!(!shown.limit.is_empty(), "{name}: {}", shown.requirement);
            assert_eq!(shown.observed.is_some(), judged.observed.is_some(), "{name}: {}", shown.requirement);
        }
        assert!(matches!(lot.dossier, Datum::Withheld(_)), "{name}");
    }
}

/// One item at a time: the others stay as they were, and the record goes with any of them.
#[test]
fn each_item_is_withheld_by_itself() {
    let dossier = support::dossier(CLOSED);
    let all = "{ bath_chemistry: yes, names: yes, scrap: yes, record: yes }";
    let (open, whole) = shown(dossier.clone(), all);
    assert!(matches!(open.dossier, Datum::Disclosed(_)) && open.withheld.is_empty());
    for text in ["T. Quince", "28.2 vol%", "rejected", "bent on arrival"] {
        assert!(whole.contains(text), "{text}");
    }
    let chemistry = "28.2 vol%";
    let name = "part by M. Sorrel";
    let lost = "\"pieces\":93";
    for (item, words, gone, kept) in [
        ("bath_chemistry", "bath chemistry", chemistry, [name, lost]),
        ("names", "names of the shop's people", name, [chemistry, lost]),
        ("scrap", "counts of pieces not accepted", lost, [name, chemistry]),
    ] {
        let (lot, text) =
            shown(dossier.clone(), &all.replace(&format!("{item}: yes"), &format!("{item}: no")));
        assert!(!text.contains(gone), "{item}: {gone}");
        assert!(kept.iter().all(|k| text.contains(k)), "{item}");
        let said: Vec<_> = lot.withheld.iter().map(|i| serde_json::to_value(i).unwrap()).collect();
        assert_eq!(said, [words, "the full record"], "{item}");
        assert!(matches!(lot.dossier, Datum::Withheld(_)), "{item}");
    }
    let (lot, text) = shown(dossier.clone(), &all.replace("record: yes", "record: no"));
    assert_eq!(lot.withheld.len(), 1);
    assert!(text.contains(chemistry) && text.contains(name) && text.contains(lost));
    assert!(!text.contains("bent on arrival"), "the remarks stand in the record alone");
}

#[test]
fn the_order_speaks_before_the_part() {
    let mut dossier = support::dossier(OPEN);
    let read = |text: &str| Some(brightproof::yaml::parse(text).unwrap());
    let withheld = |d: &Dossier| {
        let items = brightproof::certificate::withheld(d);
        items
            .iter()
            .map(|i| serde_json::to_value(i).unwrap().as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
            .join(", ")
    };
    dossier.part.discloses = read("{ bath_chemistry: yes, names: yes, scrap: yes, record: yes }");
    dossier.order.discloses = None;
    assert_eq!(withheld(&dossier), "");
    dossier.order.discloses = read("{ names: no }");
    assert_eq!(withheld(&dossier), "names of the shop's people, the full record");
    dossier.part.discloses = read("{ names: no }");
    dossier.order.discloses = read("{ bath_chemistry: yes, names: yes, scrap: yes, record: yes }");
    assert_eq!(withheld(&dossier), "");
    // A control marking withholds the record whatever is disclosed, and nothing else.
    dossier.order.controlled = Some("mark A".to_owned());
    assert_eq!(withheld(&dossier), "the full record");
}

/// Names in the shop's own words: of the person who did it, and of others.
#[test]
fn names_in_texts_are_masked_or_refused() {
    let mut dossier = support::dossier(OPEN);
    dossier.record.tests[0].observed = Some("no copper; MEDLAR, r.medlar and T.  Quince agree".to_owned());
    let (lot, _) = shown(dossier.clone(), "{ scrap: yes }");
    let test = lot.tests.iter().find(|t| t.what == "copper sulfate").unwrap();
    assert_eq!(test.result, "no copper; inspector, inspector and operator agree");
    // Somebody who has nothing to do with the lot is in no dossier.
    dossier.record.tests[0].observed = Some("no copper; seen by S. Sedge".to_owned());
    let (lot, _) = shown(dossier.clone(), "");
    assert_eq!(still_named(&lot, &["M. Sorrel", "S. Sedge"]), Some("S. Sedge"));
    let (lot, _) = shown(dossier, "{ names: yes }");
    assert_eq!(still_named(&lot, &["M. Sorrel", "S. Sedge"]), None, "names are disclosed");
}

/// A gap that goes on a hold note is read by the purchaser as well.
#[test]
fn gaps_are_masked_too() {
    let mut dossier = support::dossier("L-26-0461");
    dossier.order.discloses = None;
    let findings = masked(&dossier, judge(&dossier));
    let gap = findings.iter().find(|f| f.is_gap()).unwrap();
    assert_eq!(gap.observed.as_deref(), Some("operator: passivation until 2026-11-16"));
    let mut dossier = support::dossier("L-26-0418");
    dossier.order.discloses = None;
    let findings = masked(&dossier, judge(&dossier));
    let gap = findings.iter().find(|f| f.is_gap()).unwrap();
    assert_eq!(gap.observed.as_deref(), Some("withheld"));
    assert!(!gap.limit.contains("150"), "{}", gap.limit);
}

/// Every byte of the file, its streams unpacked: neither page, data nor metadata hold what is withheld.
#[test]
fn nothing_withheld_stands_anywhere_in_the_file() {
    let shop = Shop::get();
    let file = shop.file(CLOSED);
    let mut bytes = file.clone();
    let mut document = lopdf::Document::load_mem(&file).unwrap();
    document.decompress();
    for object in document.objects.values() {
        if let Ok(stream) = object.as_stream() {
            bytes.extend_from_slice(&stream.content);
        }
    }
    let data = read_sealed(&file).unwrap().attachment;
    assert!(bytes.windows(data.len()).any(|w| w == data), "the streams were unpacked");
    let utf16 = |text: &str| text.encode_utf16().flat_map(u16::to_be_bytes).collect::<Vec<u8>>();
    let lost = ["28.2 vol%", "one stained", "bent on arrival", "rejected", "\"pieces\":91", "\"pieces\":93"];
    for text in PEOPLE.into_iter().chain(lost) {
        for needle in [text.as_bytes().to_vec(), utf16(text)] {
            assert!(!bytes.windows(needle.len()).any(|w| w == needle), "{text}");
        }
    }
    // The same lot disclosed holds them: the search finds what is there.
    let open = read_sealed(&shop.file(OPEN)).unwrap().attachment;
    for text in ["T. Quince", "\"received\":201"] {
        assert!(open.windows(text.len()).any(|w| w == text.as_bytes()), "{text}");
    }
    if demo::has("pdftotext", "-v") {
        let path = shop.folder.join("certificates").join(format!("{}.pdf", shop.numbers[CLOSED]));
        let output = Command::new("pdftotext").arg("-raw").arg(path).arg("-").output().unwrap();
        let page = String::from_utf8(output.stdout).unwrap();
        assert!(page.contains("Not shown here, as the order provides: bath chemistry"), "{page}");
        for text in PEOPLE.into_iter().chain(["28.2", "stained", "rejected", "91 ", "93 "]) {
            assert!(!page.contains(text), "{text}: {page}");
        }
    }
}

#[test]
fn a_control_marking_stands_on_every_page_and_withholds_the_record() {
    let shop = Shop::get();
    let certificate = shop.certificate(CONTROLLED);
    assert_eq!(certificate.controlled.as_deref(), Some(MARKING));
    assert!(matches!(certificate.lots[0].dossier, Datum::Withheld(_)));
    // What the order discloses is still printed.
    assert!(serde_json::to_string(&certificate.lots[0]).unwrap().contains("28.2 vol%"));
    if demo::has("pdftotext", "-v") {
        let path = shop.folder.join("certificates").join(format!("{}.pdf", shop.numbers[CONTROLLED]));
        let output = Command::new("pdftotext").args(["-raw"]).arg(path).arg("-").output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let pages: Vec<&str> = text.split('\u{c}').filter(|p| !p.trim().is_empty()).collect();
        assert!(pages.len() >= 2);
        assert!(pages.iter().all(|page| page.contains("mark QC-3 (invented)")), "{text}");
    }
    // Nothing of it in what the register shows to everybody.
    let register = shop.register();
    for position in 0..register.head().unwrap().size {
        let leaf = String::from_utf8(register.entry(position).unwrap().unwrap().leaf).unwrap();
        for text in ["Quillmark", "QC-3", "8403-01", CONTROLLED, "28.2"] {
            assert!(!leaf.contains(text), "{leaf}");
        }
    }
}

#[test]
fn a_marking_fits_the_head_of_a_page() {
    let part = |marking: &str| {
        let mut part = support::dossier(CONTROLLED).part;
        part.controlled = Some(marking.to_owned());
        brightproof::validate::part(&part).len()
    };
    let order = |marking: &str| {
        let mut order = support::dossier(CONTROLLED).order;
        order.controlled = Some(marking.to_owned());
        brightproof::validate::order(&order).len()
    };
    for (marking, wrongs) in
        [(MARKING, 0), ("", 1), (" ", 1), ("a\nb", 1), (&"é".repeat(160), 0), (&"é".repeat(161), 1)]
    {
        assert_eq!((part(marking), order(marking)), (wrongs, wrongs), "{marking:?}");
    }
}

/// No certificate of the whole demonstration holds anything of another purchaser: not its name, nor an order, part or
/// approval of its own.
#[test]
fn another_purchasers_data_never_appear() {
    let book = support::book();
    let mut checked = 0;
    for bytes in demo::Demo::get().files.values() {
        let data = read_sealed(bytes).unwrap().attachment;
        let certificate: serde_json::Value = serde_json::from_slice(&data).unwrap();
        let text = String::from_utf8(data).unwrap();
        let own = certificate["purchaser"]["name"].as_str().unwrap();
        let own = book.purchasers.purchasers.iter().find(|p| p.name == own).unwrap();
        let others = book.purchasers.purchasers.iter().filter(|p| p.id != own.id);
        let names = others.flat_map(|p| [p.name.clone(), format!("\"{}\"", p.id)]);
        let orders = book.orders.iter().filter(|o| o.document.purchaser != own.id);
        let parts = book.parts.iter().filter(|p| p.document.purchaser != own.id);
        let ids = orders.map(|o| &o.document.order).chain(parts.map(|p| &p.document.part));
        for needle in names.chain(ids.map(|id| format!("\"{id}\""))) {
            assert!(!text.contains(&needle), "a certificate for {} holds {needle}", own.name);
            checked += 1;
        }
    }
    assert!(checked > 100, "{checked}");
}
