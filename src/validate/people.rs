//! What the books of people, of the shop and of its equipment may not say.

use crate::moment::Date;
use crate::path::Path;
use crate::shop::Instrument;
use crate::shop::MayRelease;
use crate::shop::People;
use crate::shop::Shop;
use crate::validate::Wrong;
use crate::validate::Wrongs;

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
    wrongs.0
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
