//! What the books of people, of the shop and of its equipment may not say.

use crate::moment::Date;
use crate::path::Path;
use crate::shop::Instrument;
use crate::shop::MayRelease;
use crate::shop::People;
use crate::shop::Shop;
use crate::shop::TimeStamps;
use crate::validate::Wrong;
use crate::validate::Wrongs;
use crate::validate::outside::is_inside;

fn span(wrongs: &mut Wrongs, path: Path, from: Option<Date>, until: Option<Date>) {
    if let (Some(from), Some(until)) = (from, until)
        && until < from
    {
        let message = format!("it ends {until}, before it begins {from}");
        wrongs.say(path, message, "correct one of the two days");
    }
}

/// What the book of people may not say.
pub fn people(book: &People) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let base = Path::root().key("people");
    // Two people of one name: whose qualification it is cannot be told.
    wrongs.unique(&base, "name", book.people.iter().map(|p| &p.name));
    for (i, person) in book.people.iter().enumerate() {
        let path = base.index(i);
        wrongs.text(path.key("function"), &person.function);
        span(&mut wrongs, path.key("may_release_until"), person.may_release_from, person.may_release_until);
        if person.may_release_until.is_some() && person.may_release_from.is_none() {
            let hint = "add `may_release_from:`, or leave the end out";
            wrongs.say(path.key("may_release_until"), "an authority that ends and never began", hint);
        }
        if let Some(MayRelease::Only(ids)) = &person.may_release {
            for (j, id) in ids.iter().enumerate() {
                wrongs.text(path.key("may_release").index(j), id);
                if id == "all" {
                    let hint = "write `may_release: all`, or purchasers by id";
                    wrongs.say(path.key("may_release").index(j), "`all` is no purchaser", hint);
                }
            }
        }
        for (j, held) in person.qualified.iter().enumerate() {
            let at = path.key("qualified").index(j);
            span(&mut wrongs, at.key("until"), Some(held.from), held.until);
            if let Some(evidence) = &held.evidence {
                wrongs.text(at.key("evidence"), evidence);
            }
        }
        wrongs.twice(&path.key("qualified"), &person.qualified);
    }
    wrongs.0
}

/// What `shop.yaml` may not say.
pub fn shop(shop: &Shop) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let base = Path::root().key("approvals");
    for (i, approval) in shop.approvals.iter().enumerate() {
        let path = base.index(i);
        wrongs.text(path.key("what"), &approval.what);
        wrongs.text(path.key("number"), &approval.number);
        span(&mut wrongs, path.key("until"), approval.from, Some(approval.until));
        for (j, item) in approval.scope.iter().enumerate() {
            wrongs.text(path.key("scope").index(j), item);
        }
    }
    wrongs.twice(&base, &shop.approvals);
    most_rounds(&mut wrongs, shop.most_rounds);
    if let Some(service) = &shop.time_stamps {
        time_stamps(&mut wrongs, service);
    }
    wrongs.0
}

/// Said wrongly here, it would only be noticed after the first issue.
fn time_stamps(wrongs: &mut Wrongs, service: &TimeStamps) {
    let path = Path::root().key("time_stamps");
    if !service.url.starts_with("http://") {
        let hint =
            "https is not built in and not needed: the stamps are signed; give the service's http:// address";
        wrongs.say(path.key("url"), format!("`{}` is no http:// address", service.url), hint);
    }
    if !is_inside(&service.root) {
        let hint = "name it within the shop folder, as in `time-stamps/root.pem`";
        wrongs.say(path.key("root"), format!("`{}` is no file of the shop folder", service.root), hint);
    }
    let arcs = |policy: &str| {
        policy.split('.').all(|arc| !arc.is_empty() && arc.bytes().all(|b| b.is_ascii_digit()))
    };
    if let Some(policy) = service.policy.as_ref().filter(|policy| !arcs(policy)) {
        let hint = "the service publishes it; numbers with dots between, as in `1.3.6.1.4.1.99999.1`";
        wrongs.say(path.key("policy"), format!("`{policy}` is no object identifier"), hint);
    }
    if let Some(wait) = service.wait.filter(|wait| !(1..=60).contains(wait)) {
        let hint = "an issue waits so long for its stamp at most";
        wrongs.say(path.key("wait"), format!("{wait} seconds; expected 1 to 60"), hint);
    }
}

/// A limit of no round at all lets nothing be treated.
pub(super) fn most_rounds(wrongs: &mut Wrongs, most: Option<u64>) {
    if most == Some(0) {
        let hint = "count the first treatment too: 1 lets nothing be treated again";
        wrongs.say(Path::root().key("most_rounds"), "no round at all", hint);
    }
}

/// Approvals are asked for by name.
pub(super) fn approvals_asked(wrongs: &mut Wrongs, names: &[String]) {
    let base = Path::root().key("needs_approvals");
    for (i, name) in names.iter().enumerate() {
        wrongs.text(base.index(i), name);
    }
    wrongs.twice(&base, names);
}

/// A book that says kinds says them of all: else the one left out could stand for any.
pub(super) fn kinds(wrongs: &mut Wrongs, base: &Path, instruments: &[Instrument]) {
    if !instruments.iter().any(|i| i.kind.is_some()) {
        return;
    }
    for instrument in instruments.iter().filter(|i| i.kind.is_none()) {
        let message = format!("`{}` says no kind, others do", instrument.instrument);
        wrongs.say(base.key(&instrument.instrument), message, "add `kind:`; `other` where none fits");
    }
}

/// Times out of service have an end after their beginning, and a reason.
pub(super) fn out_of_service(wrongs: &mut Wrongs, path: &Path, instrument: &Instrument) {
    for (j, out) in instrument.out_of_service.iter().enumerate() {
        let at = path.key("out_of_service").index(j);
        span(wrongs, at.key("to"), Some(out.from), out.to);
        wrongs.text(at.key("why"), &out.why);
    }
}
