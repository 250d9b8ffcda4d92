//! What the order itself must say: the treatment, a test, a class, a purchaser's authorization; and what the part
//! specification says of the part's making.

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::called::call_outs;
use crate::pack::Subject;
use crate::part::OrderOption;
use crate::path::Path;

/// Evidence of one of these subjects under a call-out; `None` for every other subject.
pub fn evidence(dossier: &Dossier, resolved: Option<&Resolved>, subject: Subject) -> Option<Evidence> {
    if subject == Subject::PartConditions {
        return Some(conditions(dossier));
    }
    let asks = matches!(
        subject,
        Subject::TreatmentOrdered | Subject::TestOrdered | Subject::ClassNamed | Subject::Authorization
    );
    if !asks {
        return None;
    }
    let Some(resolved) = resolved else { return Some(Evidence::missing(Path::root())) };
    let call_out = resolved.call_out;
    let at = |key: &str, found| Evidence::at(resolved.place.document, resolved.place.path.key(key), found);
    let unsaid = |what: &str| Found::Missing(Reason::Unknown(what.to_owned()));
    Some(match subject {
        Subject::TreatmentOrdered => match &call_out.treatment {
            Some(name) => at("treatment", Found::Words(vec![name.clone()])),
            None => at("treatment", unsaid("which treatment is ordered")),
        },
        Subject::TestOrdered => {
            // A test the shop chose is not one the order names.
            let asked = call_outs(dossier).into_iter().find(|c| c.place == *resolved.place);
            let ordered = asked.map_or(call_out, |asked| asked.call_out);
            let names: Vec<String> = ordered.tests.iter().map(|t| t.name().to_owned()).collect();
            at("tests", if names.is_empty() { unsaid("which test is ordered") } else { Found::Words(names) })
        }
        Subject::ClassNamed => at("class", class(resolved)),
        _ => {
            let holds = call_out.options.contains(&OrderOption::MethodTwoAuthorized);
            let shown = if holds { "authorized by the order" } else { "not authorized by the order" };
            at("options", Found::Fact { shown: shown.to_owned(), holds })
        }
    })
}

fn class(resolved: &Resolved) -> Found {
    let pack = &resolved.pack.pack;
    let Some(class) = pack.class_of(resolved.call_out) else {
        return Found::Missing(Reason::Unknown("which class is ordered".to_owned()));
    };
    if pack.classes.iter().any(|known| known.class == class) {
        Found::Words(vec![class.to_owned()])
    } else {
        Found::Missing(Reason::NotInRulebook(format!("class {class} of {}", resolved.name)))
    }
}

fn conditions(dossier: &Dossier) -> Evidence {
    let path = Path::root().key("conditions");
    let found = match &dossier.part.conditions {
        Some(all) => Found::Words(all.iter().map(|c| c.name().to_owned()).collect()),
        None => Found::Missing(Reason::Unknown("how the part was made".to_owned())),
    };
    Evidence::at(Document::Part, path, found)
}
