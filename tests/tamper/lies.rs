//! A thief of the seal key draws and seals whatever he likes: data, page and seal agree, and what he says still does
//! not follow from the record he has to carry.

use brightproof::app::verify::Overall;
use brightproof::certificate::Certificate;
use brightproof::certificate::Datum;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;

use super::by_purchaser;
use super::failed;
use super::forger;
use super::refused;
use super::stolen;
use super::victim;
use crate::demo;

/// What a purchaser is told of a certificate changed so, drawn and sealed with the shop's own key.
#[track_caller]
fn lie(check: &str, words: &str, change: &dyn Fn(&mut Certificate)) {
    let (_, mut certificate) = victim();
    let whole = certificate.clone();
    change(&mut certificate);
    assert_ne!(whole, certificate, "nothing was changed");
    let Some(bytes) = forger::try_sealed(&certificate, &stolen()) else {
        panic!("no page is drawn: {words}")
    };
    let found = by_purchaser(&bytes);
    refused(&found, check, words);
    assert_eq!(failed(&found), [check], "{:?}", demo::unpassed(&found));
}

/// No page can be drawn of it at all, by the thief or by who verifies.
#[track_caller]
fn undrawn(change: &dyn Fn(&mut Certificate)) {
    let (_, mut certificate) = victim();
    change(&mut certificate);
    assert_eq!(forger::try_sealed(&certificate, &stolen()), None);
}

fn dossier(certificate: &mut Certificate) -> &mut Dossier {
    match &mut certificate.lots[0].dossier {
        Datum::Disclosed(dossier) => dossier,
        Datum::Withheld(_) => panic!("withheld"),
    }
}

#[test]
fn a_statement_that_does_not_follow_is_refused() {
    lie("judgement", "the statement of conformity does not follow from the findings", &|c| {
        c.conformity.push_str(" They are fit for any use.");
    });
    lie("judgement", "the control marking is not that of the lots", &|c| {
        c.controlled = Some("released for export".to_owned());
    });
}

#[test]
fn lots_that_were_not_judged_are_refused() {
    lie("judgement", "the shipment lists lots that were not judged", &|c| {
        let mut other = c.shipment.lines[0].clone();
        other.lot = "L-26-9999".to_owned();
        c.shipment.lines.push(other);
    });
    undrawn(&|c| c.shipment.lines.clear());
    // A whole second lot, the copy of the first under another name: its record is still the first one's.
    lie("judgement", "lot L-26-9999: ", &|c| {
        let (mut line, mut lot) = (c.shipment.lines[0].clone(), c.lots[0].clone());
        (line.lot, lot.lot) = ("L-26-9999".to_owned(), "L-26-9999".to_owned());
        c.shipment.lines.push(line);
        c.lots.push(lot);
    });
}

/// One lot in two lines, each no larger than the lot, together twice as large.
#[test]
fn a_lot_is_not_shipped_twice() {
    lie("judgement", "its lines hold more pieces than it has", &|c| {
        let (line, lot) = (c.shipment.lines[0].clone(), c.lots[0].clone());
        c.shipment.lines.push(line);
        c.lots.push(lot);
        c.conformity = c.conformity.replace("the lot listed", "the lots listed");
    });
}

#[test]
fn gaps_are_refused_whoever_seals_them() {
    undrawn(&|c| {
        let at = c.lots[0].findings.iter().position(|f| f.verdict == Verdict::Met).unwrap();
        c.lots[0].findings[at].verdict = Verdict::NotMet;
    });
    // The record says that the bath was too hot, the findings are those of the record as it was.
    lie("judgement", "the findings do not follow from the recorded data", &|c| {
        let dossier = dossier(c);
        for step in &mut dossier.record.runs[0].steps {
            if let Some(dip) = crate::support::immersion(step) {
                dip.temperature = Some(crate::support::read("211 °F"));
            }
        }
    });
    // What no record may say: nobody looked.
    lie("judgement", "visual[0].by: a name is expected here", &|c| {
        dossier(c).record.visual[0].by = " ".to_owned();
    });
    // No piece at all; and one more than the record accepts, in every place that says how many.
    for quantity in [0, dossier(&mut victim().1).record.counts.accepted + 1] {
        lie("judgement", "the shipment's line does not follow from the record", &|c| {
            c.lots[0].quantity = quantity;
            c.shipment.lines[0].quantity = quantity;
        });
    }
}

#[test]
fn a_certificate_of_nothing_does_not_verify() {
    undrawn(&|c| c.lots.clear());
    undrawn(&|c| {
        c.lots.clear();
        c.shipment.lines.clear();
    });
}

/// A page of a drawing that this release does not know cannot be compared: that is no pass.
#[test]
fn a_page_that_cannot_be_drawn_again_is_no_pass() {
    let (_, mut certificate) = victim();
    certificate.renderer.drawing += 1;
    let found = by_purchaser(&forger::sealed(&certificate, &stolen()));
    assert_eq!(found.overall(), Overall::CouldNotTell, "{:?}", demo::unpassed(&found));
    assert!(demo::said(&found, "page").starts_with("not checked: it was drawn by release "));
}
