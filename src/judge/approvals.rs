//! Approvals of the shop that a purchaser asks for: held, standing on every day of processing, and covering what
//! was called for. And which of all its approvals may be printed on a certificate.

use std::collections::BTreeSet;

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::called::called_steps;
use crate::judge::people;
use crate::judge::runs::FinalRun;
use crate::judge::runs::final_runs;
use crate::judge::standard_name;
use crate::judge::step::treating;
use crate::moment::Date;
use crate::pack::TreatmentStep;
use crate::path::Path;
use crate::rulebook::EffectivePack;
use crate::shop::Approval;
use crate::shop::Work;

/// One thing an approval has to cover.
enum Asked<'a> {
    /// A standard called out, and the kinds of treatment it was carried out by.
    Standard(&'a EffectivePack, Vec<TreatmentStep>),
    /// A treatment the record made where no standard is called out.
    Treatment(TreatmentStep),
}

impl Asked<'_> {
    fn name(&self) -> String {
        match self {
            Asked::Standard(pack, _) => standard_name(pack),
            Asked::Treatment(step) => word(*step).to_owned(),
        }
    }
}

const fn word(step: TreatmentStep) -> &'static str {
    match step {
        TreatmentStep::Passivate => Work::Passivation.name(),
        TreatmentStep::Electropolish => Work::Electropolishing.name(),
    }
}

fn asked<'a>(dossier: &'a Dossier) -> Vec<Asked<'a>> {
    let mut all: Vec<Asked<'a>> =
        called_steps(dossier).into_iter().map(|(pack, steps)| Asked::Standard(pack, steps)).collect();
    if all.is_empty() {
        let steps = dossier.record.runs.iter().flat_map(|r| &r.steps);
        let made: Vec<TreatmentStep> = steps.filter_map(treating).map(|(step, _)| step).collect();
        let kinds = [TreatmentStep::Passivate, TreatmentStep::Electropolish];
        all.extend(kinds.into_iter().filter(|k| made.contains(k)).map(Asked::Treatment));
    }
    all
}

fn covers(approval: &Approval, asked: &Asked) -> bool {
    let has =
        |step: &TreatmentStep| approval.scope.iter().any(|s| s.trim().eq_ignore_ascii_case(word(*step)));
    match asked {
        Asked::Treatment(step) => has(step),
        Asked::Standard(pack, steps) => {
            let by_step = !steps.is_empty() && steps.iter().all(has);
            by_step || approval.scope.iter().any(|s| pack.pack.is_named(s, &pack.edition))
        }
    }
}

/// Whether a text names an approval: what it is, or its number.
fn is_named(approval: &Approval, text: &str) -> bool {
    let same = |a: &str| a.trim().eq_ignore_ascii_case(text.trim());
    same(&approval.what) || same(&approval.number)
}

/// Whether an approval may be spoken of to a purchaser at all.
fn for_purchaser(approval: &Approval, purchaser: &str) -> bool {
    approval.given_by.as_ref().is_none_or(|id| id == purchaser)
}

/// The approvals of the shop that part specification or order ask for; for gathering.
pub fn needed(
    approvals: &[Approval],
    part: &crate::part::PartSpecification,
    order: &crate::order::Order,
) -> Vec<Approval> {
    let needs = || part.needs_approvals.iter().chain(&order.needs_approvals);
    let asked = |a: &&Approval| for_purchaser(a, &order.purchaser) && needs().any(|text| is_named(a, text));
    approvals.iter().filter(asked).cloned().collect()
}

/// Whether an approval is printed on a certificate of these lots: standing on the day of issue, covering a
/// call-out of theirs, and not another purchaser's. One without a scope covers nothing that could be told.
pub fn is_printed<'a>(
    approval: &Approval,
    dossiers: impl IntoIterator<Item = &'a Dossier>,
    issued: Date,
) -> bool {
    let stands = approval.until >= issued && approval.from.is_none_or(|from| from <= issued);
    let mut in_scope = false;
    for dossier in dossiers {
        if !for_purchaser(approval, &dossier.order.purchaser) {
            return false;
        }
        in_scope |= asked(dossier).iter().any(|a| covers(approval, a));
    }
    stands && in_scope
}

/// The days the steps that count were made on.
fn days(dossier: &Dossier, runs: &[FinalRun]) -> BTreeSet<Date> {
    runs.iter().flat_map(|run| people::days(dossier, run)).collect()
}

/// Evidence for every approval asked for, and for every call-out that one of them must cover.
pub fn evidence(dossier: &Dossier) -> Vec<Evidence> {
    let part = dossier.part.needs_approvals.iter().map(|n| (Document::Part, n));
    let order = dossier.order.needs_approvals.iter().map(|n| (Document::Order, n));
    let needs: Vec<(Document, &String)> = part.chain(order).collect();
    let place = Path::root().key("needs_approvals");
    if needs.is_empty() {
        return vec![Evidence::record(Path::root(), Found::NotApplicable)];
    }
    let runs = final_runs(&dossier.record);
    let days = days(dossier, &runs);
    let asked = asked(dossier);
    let mut all = Vec::new();
    for (document, text) in &needs {
        let at = |found: Found| Evidence::at(*document, place.clone(), found);
        let purchaser = &dossier.order.purchaser;
        let named: Vec<&Approval> =
            dossier.approvals.iter().filter(|a| is_named(a, text) && for_purchaser(a, purchaser)).collect();
        if named.is_empty() {
            all.push(at(Found::Missing(Reason::NotInBook(format!("approval `{text}`")))));
            continue;
        }
        if days.is_empty() {
            all.push(at(Found::Missing(Reason::Unknown("the days of processing".to_owned()))));
        }
        all.extend(days.iter().map(|day| on_day(&named, *day)));
    }
    let document = needs.first().map_or(Document::Part, |(document, _)| *document);
    let held = dossier.approvals.iter().filter(|a| for_purchaser(a, &dossier.order.purchaser));
    let held: Vec<&Approval> = held.filter(|a| needs.iter().any(|(_, text)| is_named(a, text))).collect();
    let uncovered = asked.iter().filter(|what| !held.iter().any(|a| covers(a, what)));
    all.extend(uncovered.filter(|_| !held.is_empty()).map(|what| {
        let found = out_of_scope(&held, what);
        match held.as_slice() {
            [one] => Evidence::at(Document::Shop, shop_path(one).key("scope"), found),
            _ => Evidence::at(document, place.clone(), found),
        }
    }));
    all
}

fn shop_path(approval: &Approval) -> Path {
    Path::root().key("approvals").key(&approval.what)
}

/// A call-out that none of the approvals covers, or of which that cannot be told.
fn out_of_scope(held: &[&Approval], what: &Asked) -> Found {
    if let Some(silent) = held.iter().find(|a| a.scope.is_empty()) {
        return Found::Missing(Reason::Unknown(format!("what approval {} covers", silent.number)));
    }
    let each = held.iter().map(|a| format!("{} covers {}", a.number, a.scope.join(", ")));
    Found::Own {
        observed: each.collect::<Vec<_>>().join("; "),
        limit: format!("one that covers {}", what.name()),
        met: false,
    }
}

/// One day of processing: some approval of that name must stand on it.
fn on_day(named: &[&Approval], day: Date) -> Evidence {
    let stands = named.iter().find(|a| a.until >= day && a.from.is_some_and(|from| from <= day));
    if let Some(approval) = stands {
        let found = Found::Own {
            observed: format!("{}, until {}", approval.number, approval.until),
            limit: "standing on every day of processing".to_owned(),
            met: true,
        };
        return Evidence::at(Document::Shop, shop_path(approval), found);
    }
    let open = named.iter().find(|a| a.from.is_none() && a.until >= day);
    let Some(approval) = open.or(named.iter().max_by_key(|a| a.until)) else {
        return Evidence::missing(Path::root());
    };
    let found = match approval.from {
        None if open.is_some() => {
            let what = format!("from which day approval {} stands", approval.number);
            Found::Missing(Reason::Unknown(what))
        }
        from => Found::Own {
            observed: match from {
                Some(from) => format!("{}, {from} to {}", approval.number, approval.until),
                None => format!("{}, until {}", approval.number, approval.until),
            },
            limit: format!("standing on {day}"),
            met: false,
        },
    };
    Evidence::at(Document::Shop, shop_path(approval), found)
}
