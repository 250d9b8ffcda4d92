//! Judging again: what the record gives now must be what the certificate says.

use std::collections::BTreeMap;

use crate::app::verify::Answer;
use crate::app::withheld;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::certificate::Datum;
use crate::certificate::Evidence;
use crate::deviation::Deviation;
use crate::judge;
use crate::validate;

/// Judges every dossier again that is disclosed or in the evidence, and computes again what is printed of each lot.
///
/// What was judged under another number of the judge may follow from the record by rules which this release no longer
/// has, or not yet: that is told, and is no failure. Only what no judge could have certified is.
pub(super) fn judgement(certificate: &Certificate, evidence: Option<&Evidence>) -> Answer {
    if certificate.lots.is_empty() {
        return Answer::Fail("it covers no lot".to_owned());
    }
    let unsound =
        certificate.lots.iter().enumerate().find_map(|(i, lot)| whatever_is_withheld(certificate, i, lot));
    if let Some(wrong) = unsound {
        return wrong;
    }
    let under = certificate.judge.judge;
    match again(certificate, evidence) {
        Answer::Fail(why) if under != judge::JUDGE => Answer::NotChecked(format!(
            "judge {} differs: {why}; it was judged by judge {under}, of release {}, which can judge it again",
            judge::JUDGE,
            certificate.judge.release
        )),
        answer => answer,
    }
}

/// Judges again by this release's judge.
fn again(certificate: &Certificate, evidence: Option<&Evidence>) -> Answer {
    let mut withheld = false;
    let mut dossiers = Vec::new();
    let mut taken: BTreeMap<&str, u64> = BTreeMap::new();
    for (index, lot) in certificate.lots.iter().enumerate() {
        let dossier = match withheld::dossier_of(lot, evidence) {
            Ok(Some(dossier)) => dossier,
            Ok(None) => {
                withheld = true;
                continue;
            }
            Err(error) => return Answer::Fail(error.to_string()),
        };
        let dossier = &dossier;
        dossiers.push((dossier.deviations.clone(), lot));
        // What no document may say no dossier may say either, whoever sealed it.
        let wrong = validate::record(&dossier.record)
            .into_iter()
            .chain(validate::record(&judge::whole(dossier).record))
            .chain(dossier.loads.iter().flat_map(validate::load))
            .chain(dossier.reports.iter().flat_map(validate::test_report))
            .chain(dossier.periodic.iter().flat_map(validate::periodic))
            .chain(validate::part(&dossier.part))
            .chain(validate::order(&dossier.order))
            .next();
        if let Some(wrong) = wrong {
            return Answer::Fail(format!("lot {}: {}: {}", lot.lot, wrong.path, wrong.message));
        }
        let findings = judge::judge(dossier);
        let conforms = judge::conforms(&findings);
        let mut again = certificate::certified_lot(dossier.clone(), findings, lot.quantity);
        // Compared as the data write them: places are paths there.
        let same = serde_json::to_value(&again.findings).ok() == serde_json::to_value(&lot.findings).ok();
        if !same {
            return Answer::Fail(format!(
                "lot {}: the findings do not follow from the recorded data",
                lot.lot
            ));
        }
        if !conforms {
            return Answer::Fail(format!("lot {}: the recorded data have gaps", lot.lot));
        }
        if !again.withheld.is_empty() {
            again.dossier = lot.dossier.clone(); // opened above
        }
        if serde_json::to_value(&again).ok() != serde_json::to_value(lot).ok() {
            return Answer::Fail(format!(
                "lot {}: what is printed does not follow from the recorded data",
                lot.lot
            ));
        }
        let record = &dossier.record;
        let line = certificate.shipment.lines.get(index);
        let same_line = line.is_some_and(|l| {
            l.lot == record.lot
                && l.quantity == lot.quantity
                && l.order == record.order.number
                && l.line == record.order.line
                && l.part == dossier.part.part
                && l.revision == dossier.part.revision
                && l.release == record.order.release
        });
        let part = dossier.covers_runs.as_ref().map_or(lot.quantity, |part| part.pieces);
        if !same_line || part != lot.quantity || lot.quantity == 0 || lot.quantity > record.counts.accepted {
            return Answer::Fail(format!(
                "lot {}: the shipment's line does not follow from the record",
                lot.lot
            ));
        }
        // A lot may stand in several lines; together they hold no more than it has.
        let sum = taken.entry(&lot.lot).or_default();
        *sum = sum.saturating_add(lot.quantity);
        if *sum > record.counts.accepted {
            return Answer::Fail(format!("lot {}: its lines hold more pieces than it has", lot.lot));
        }
    }
    if certificate.shipment.lines.len() != certificate.lots.len() {
        return Answer::Fail("the shipment lists lots that were not judged".to_owned());
    }
    if certificate.conformity != certificate::conformity(&certificate.issuer.name, &certificate.lots) {
        return Answer::Fail("the statement of conformity does not follow from the findings".to_owned());
    }
    if certificate.controlled != certificate::controlled(&certificate.lots) {
        return Answer::Fail("the control marking is not that of the lots".to_owned());
    }
    if let Some(number) = beyond_deviation(&dossiers) {
        return Answer::Fail(format!("more pieces than deviation {number} is for"));
    }
    if withheld { Answer::NotChecked(self::withheld(certificate)) } else { Answer::Pass }
}

/// What can be told wrong of a lot without its record.
fn whatever_is_withheld(certificate: &Certificate, index: usize, lot: &CertifiedLot) -> Option<Answer> {
    if !judge::conforms(&lot.findings) {
        return Some(Answer::Fail(format!("lot {}: its findings have gaps", lot.lot)));
    }
    let hidden = matches!(lot.dossier, Datum::Withheld(_));
    if hidden == lot.withheld.is_empty() {
        let what = if hidden {
            "its record is withheld, and nothing says so"
        } else {
            "it says that its record is withheld, which is there"
        };
        return Some(Answer::Fail(format!("lot {}: {what}", lot.lot)));
    }
    let line = certificate.shipment.lines.get(index);
    let same = line.is_some_and(|l| {
        l.lot == lot.lot && l.part == lot.part && l.revision == lot.revision && l.quantity == lot.quantity
    });
    (!same || lot.quantity == 0).then(|| {
        Answer::Fail(format!("lot {}: the shipment's line does not follow from the record", lot.lot))
    })
}

/// Why it was not judged again.
pub(super) fn withheld(certificate: &Certificate) -> String {
    let lots = certificate.lots.iter().filter(|lot| matches!(lot.dossier, Datum::Withheld(_)));
    let lots: Vec<&str> = lots.map(|lot| lot.lot.as_str()).collect();
    format!(
        "the record of {} is withheld, so this rests on the shop's word; ask the shop for its evidence, and give it \
         with --evidence",
        lots.join(", ")
    )
}

/// The deviation of which this certificate alone takes more pieces than it is for.
fn beyond_deviation(dossiers: &[(Vec<Deviation>, &CertifiedLot)]) -> Option<String> {
    let mut sums: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    for (deviations, lot) in dossiers {
        for deviation in deviations {
            let its = |p: &crate::finding::Permission| p.deviation == deviation.deviation;
            let used = lot.findings.iter().filter_map(crate::finding::Finding::permission).any(its);
            if let (true, Some(most)) = (used, deviation.reach.pieces) {
                let sum = sums.entry(&deviation.deviation).or_insert((0, most));
                *sum = (sum.0.saturating_add(lot.quantity), sum.1.min(most));
            }
        }
    }
    sums.into_iter().find(|(_, (sum, most))| sum > most).map(|(number, _)| number.to_owned())
}
