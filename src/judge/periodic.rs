//! Periodic tests: the last one of the bath and the process before it was used, and a failing one after it.

use std::cmp::Ordering;

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::step::Here;
use crate::judge::step::matches;
use crate::judge::step::used_at;
use crate::moment::Moment;
use crate::path::Path;
use crate::periodic::PeriodicTest;

/// The last test that ended before the bath was used.
pub fn last_before<'a>(
    all: impl Iterator<Item = &'a PeriodicTest>,
    when: &Moment,
) -> Option<&'a PeriodicTest> {
    // Of two that ended together, one that failed.
    all.filter(|p| p.test.end() <= *when).max_by_key(|p| (p.test.end(), p.test.failed > 0))
}

/// The first test after the bath was used, when it failed: since when is not known.
pub fn failed_after<'a>(
    all: impl Iterator<Item = &'a PeriodicTest>,
    when: &Moment,
) -> Option<&'a PeriodicTest> {
    let next = all.filter(|p| p.test.end() > *when).min_by_key(|p| (p.test.end(), p.test.failed == 0));
    next.filter(|p| p.test.failed > 0)
}

/// Evidence for one treatment.
pub(super) fn evidence(here: &Here, treatment: Option<&str>) -> Evidence {
    let root = Path::root().key("periodic");
    let bath = &here.immersion.bath;
    let Some(when) = used_at(here.immersion) else { return Evidence::missing(here.path.key("in")) };
    let its = || {
        let all = here.dossier.periodic.iter().filter(|p| p.bath == *bath);
        all.filter(|p| treatment.is_some_and(|name| matches(name, &p.process)))
    };
    let Some(last) = last_before(its(), &when) else {
        let reason = Reason::NotInBook(format!("periodic test of bath `{bath}` before it was used"));
        return Evidence::at(Document::Periodic, root, Found::Missing(reason));
    };
    let at = |test: &PeriodicTest| root.key(&test.periodic);
    let words = |test: &PeriodicTest| {
        let test = (&test.periodic, &test.test);
        format!(
            "{}: {} of {}, {} of {} failed",
            test.0,
            test.1.test.name(),
            test.1.end(),
            test.1.failed,
            test.1.pieces
        )
    };
    if let Some(next) = failed_after(its(), &when) {
        let found = Found::Own {
            observed: words(next),
            limit: "the next periodic test passed too; since when it fails cannot be told".to_owned(),
            met: false,
        };
        return Evidence::at(Document::Periodic, at(next), found);
    }
    let age = when.since(&last.test.end());
    let in_time = age.as_ref().and_then(|age| age.compare(&last.interval));
    let met = last.test.failed == 0
        && last.test.pieces > 0
        && matches!(in_time, Some(Ordering::Less | Ordering::Equal));
    let old = age.map_or_else(String::new, |age| format!(", {} old", age.spoken()));
    let found = Found::Own {
        observed: format!("{}{old}", words(last)),
        limit: format!("none failed, at most {} old when the bath was used", last.interval),
        met,
    };
    Evidence::at(Document::Periodic, at(last), found)
}
