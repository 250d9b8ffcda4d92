//! What others did: an outside laboratory's tests, judged by its accreditation where the shop's own books would
//! speak; a subcontractor's work and a purchaser's own, relied on and not judged, where the order allows it.

use crate::evidence::Paper;
use crate::evidence::Relied;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::step::Here;
use crate::pack::Subject;
use crate::path::Path;
use crate::record::Test;

/// What the shop's books of instruments, solutions and people would have to say of a test.
const fn is_of_the_book(subject: Subject) -> bool {
    matches!(
        subject,
        Subject::TestCalibration
            | Subject::SolutionAge
            | Subject::SolutionSameDay
            | Subject::SolutionCopperSulfate
            | Subject::SolutionSulfuricAcid
            | Subject::SolutionFerricyanide
            | Subject::SolutionNitricAcid
    )
}

/// What is judged of a test whoever made it: the record says on what, how many failed.
const fn is_of_the_record(subject: Subject) -> bool {
    matches!(subject, Subject::TestResult | Subject::TestSpecimen | Subject::TestCoupon)
}

/// Evidence of a test somebody else made; `None` where it is judged like any other.
pub fn of_test(test: &Test, path: &Path, subject: Subject) -> Option<Evidence> {
    if subject == Subject::OutsideLaboratory {
        return Some(accreditation(test, path));
    }
    if is_of_the_record(subject) {
        return None;
    }
    if let Some(relied) = &test.evidence {
        return Some(Evidence::record(path.key("evidence"), Found::Relied(relied.words())));
    }
    (test.laboratory.is_some() && is_of_the_book(subject)).then(|| accreditation(test, path))
}

/// The accreditation on every day of the test, and its scope.
fn accreditation(test: &Test, path: &Path) -> Evidence {
    let Some(laboratory) = &test.laboratory else {
        return Evidence::record(path.clone(), Found::NotApplicable);
    };
    let at = path.key("laboratory").key("accreditation");
    let Some(held) = &laboratory.accreditation else {
        return Evidence::record(at, Found::Missing(Reason::NotRecorded));
    };
    let (first, last) = (test.started.date(), test.end().date());
    let days = if first == last { format!("on {first}") } else { format!("from {first} to {last}") };
    let found = Found::Accredited {
        observed: format!("{}; {}", laboratory.words(), held.words()),
        limit: format!("accredited for {} {days}", test.test.name()),
        met: held.covers(test),
    };
    Evidence::record(at, found)
}

/// The same of a step's treatment: that it was the one ordered is another's word too.
pub fn of_treatment(relied: Option<&Relied>, own: Evidence) -> Evidence {
    match (relied, &own.found) {
        (Some(relied), Found::Own { observed, met: true, .. }) => {
            let shown = format!("{observed}, by {}", relied.words());
            Evidence::at(own.place.document, own.place.path, Found::Relied(shown))
        }
        _ => own,
    }
}

/// Evidence of a treatment, a dip or a bath somebody else carried out, in place of what was found of it here.
pub(super) fn of_step(here: &Here, subject: Subject, own: Vec<Evidence>) -> Vec<Evidence> {
    let treated = here.immersion.evidence.as_ref();
    let by_whom = match subject {
        Subject::PostDip | Subject::PostDipNitric | Subject::PostDipTemperature | Subject::PostDipTime => {
            // The shop's own dip after another's treatment is judged like any other.
            here.post_dip().map_or(treated, |(_, _, dip)| dip.evidence.as_ref())
        }
        Subject::PostTreatment
        | Subject::PostTreatmentDelay
        | Subject::PostTreatmentDichromate
        | Subject::PostTreatmentTemperature
        | Subject::PostTreatmentTime
        | Subject::PostTreatmentRinseSolids
        | Subject::PostTreatmentDried => {
            here.post_treatment().map_or(treated, |(_, _, dip)| dip.evidence.as_ref())
        }
        Subject::FinalRinse | Subject::FinalRinseSolids | Subject::RinseCalibration => {
            treated.filter(|_| here.final_rinse().is_none())
        }
        // Cleaned by the shop, that is found; else whoever treated the pieces cleaned them.
        Subject::Preparation => treated.filter(|_| own.iter().any(|e| matches!(e.found, Found::Missing(_)))),
        Subject::AnalysisAge | Subject::BathCalibration => return each_bath(here, own),
        _ => treated,
    };
    match by_whom {
        Some(relied) => vec![Evidence::record(here.path.key("evidence"), Found::Relied(relied.words()))],
        None => own,
    }
}

/// Of several baths, the shop's own are judged.
fn each_bath(here: &Here, own: Vec<Evidence>) -> Vec<Evidence> {
    let baths = here.baths_used().into_iter().map(|(path, dip)| (path, dip.evidence.as_ref()));
    own.into_iter()
        .zip(baths)
        .map(|(own, (path, relied))| match relied {
            Some(relied) => Evidence::record(path.key("evidence"), Found::Relied(relied.words())),
            None => own,
        })
        .collect()
}

/// Everything relied on in a record: what it is, the paper, and where.
fn relied(dossier: &Dossier) -> Vec<(&'static str, &Relied, Path)> {
    let mut all = Vec::new();
    for (i, run) in dossier.record.runs.iter().enumerate() {
        let steps = Path::root().key("runs").index(i).key("steps");
        for (j, step) in run.steps.iter().enumerate() {
            if let Some(relied) = step.immersion().and_then(|m| m.evidence.as_ref()) {
                all.push((step.key(), relied, steps.index(j).key(step.key()).key("evidence")));
            }
        }
    }
    for (i, test) in dossier.record.tests.iter().enumerate() {
        if let Some(relied) = &test.evidence {
            all.push((test.test.name(), relied, Path::root().key("tests").index(i).key("evidence")));
        }
    }
    all
}

/// That the order allows each: nobody sends work out because it would not pass at home.
pub fn allowed(dossier: &Dossier) -> Vec<Evidence> {
    let order = &dossier.order;
    let all = relied(dossier).into_iter().map(|(what, paper, path)| {
        let allowed = match paper.kind {
            Paper::SubcontractorsCertificate => &order.subcontracting,
            Paper::PurchasersStatement => &order.purchaser_states,
        };
        let limit = match allowed.as_slice() {
            [] => format!("order {} allows none", order.order),
            some => format!("order {} allows {}", order.order, some.join(", ")),
        };
        let found = Found::Own {
            observed: format!("{what}: {}", paper.words()),
            limit,
            met: allowed.iter().any(|a| a == what),
        };
        Evidence::record(path, found)
    });
    let all: Vec<Evidence> = all.collect();
    if all.is_empty() { vec![Evidence::record(Path::root().key("runs"), Found::NotApplicable)] } else { all }
}
