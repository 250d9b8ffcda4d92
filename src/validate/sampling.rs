//! What may not be said of sampling: plans the record cannot be held against, rows with a hole, events without a reason.

use std::collections::BTreeSet;

use super::Wrong;
use super::Wrongs;
use crate::pack::ShopSampling;
use crate::path::Path;
use crate::sampling::Name;
use crate::sampling::Severity;
use crate::sampling::Standard;

/// The plan of a call-out.
pub(super) fn plan(wrongs: &mut Wrongs, at: Path, plan: &Name) {
    let Name::Indexed { standard, aql, begins, .. } = plan else { return };
    if aql.per_hundred_units_only() {
        wrongs.say(
            at,
            format!(
                "`{plan}`: an AQL above 10 counts nonconformities, and a record counts pieces that failed"
            ),
            "order an AQL of 10 or less",
        );
    } else if *standard == Standard::Iso2859 && *begins == Severity::Reduced {
        wrongs.say(
            at,
            format!("`{plan}`: the reduced tables of ISO 2859-1 are not known here"),
            "begin with normal inspection, or agree on a plan of another standard",
        );
    }
}

/// What the shop may not say of its sampling.
pub fn sampling(shop: &ShopSampling) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let base = Path::root().key("plans");
    let mut seen = BTreeSet::new();
    for (i, own) in shop.plans.iter().enumerate() {
        let at = base.index(i);
        if !seen.insert(own.plan.to_string()) {
            wrongs.say(at.key("plan"), format!("`{}` stands twice", own.plan), "keep one");
        }
        if !matches!(own.plan, Name::B602(_) | Name::Iso4519(_)) {
            let hint = "enter plans of ASTM B602 and ISO 4519 only: the others are computed, or switch with the lots";
            wrongs.say(at.key("plan"), format!("`{}` is not entered by hand", own.plan), hint);
        }
        wrongs.text(at.key("by"), &own.by);
        wrongs.text(at.key("copy"), &own.copy);
        let mut next = Some(1);
        for (j, row) in own.rows.iter().enumerate() {
            let at = at.key("rows").index(j);
            if next != Some(row.lot_from) || row.lot_to.is_some_and(|to| to < row.lot_from) {
                let hint = "rows begin with a lot of 1 and follow each other without a hole; only the last has no `lot_to`";
                wrongs.say(
                    at.key("lot_from"),
                    format!("{} does not follow the row before", row.lot_from),
                    hint,
                );
                break;
            }
            if row.reject <= row.accept {
                let found = format!("`reject: {}` with `accept: {}`", row.reject, row.accept);
                wrongs.say(at.key("reject"), found, "the rejection number is above the acceptance number");
            }
            if row.sample.is_some_and(|sample| sample <= row.accept) {
                let found = format!("{} may fail of {} inspected", row.accept, row.sample.unwrap_or(0));
                wrongs.say(at.key("accept"), found, "no plan accepts a lot whatever is found");
            }
            next = row.lot_to.and_then(|to| to.checked_add(1));
        }
        if next.is_some() {
            let hint = "leave `lot_to` out of the last row, so that every lot has one";
            wrongs.say(at.key("rows"), "the last row ends, or there is none".to_owned(), hint);
        }
    }
    let base = Path::root().key("events");
    for (i, event) in shop.events.iter().enumerate() {
        let at = base.index(i);
        wrongs.text(at.key("by"), &event.by);
        wrongs.text(at.key("why"), &event.why);
        wrongs.text(at.key("part"), &event.part);
        wrongs.text(at.key("purchaser"), &event.purchaser);
    }
    wrongs.0
}
