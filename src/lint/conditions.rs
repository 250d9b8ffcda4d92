//! Conditions that name what the pack does not have, or that can never hold.

use std::cmp::Ordering;

use crate::alloy::Alloy;
use crate::lint::Lints;
use crate::lint::near;
use crate::lint::twice;
use crate::pack::Requirement;
use crate::pack::When;
use crate::path::Path;
use crate::units::Dimension;

/// Looks over when a requirement applies.
pub fn when(lints: &mut Lints, path: &Path, requirement: &Requirement) {
    let when = &requirement.when;
    let path = path.key("when");
    named(lints, &path, when);
    repeated(lints, &path, when);
    grades(lints, &path, when);
}

/// Treatments, tests, classes and editions must be the pack's, or those of the pack it builds on.
fn named(lints: &mut Lints, path: &Path, when: &When) {
    let pack = lints.pack;
    let mut told = |list: &str, index: usize, what: String, expected: &str, there: String| {
        lints.fault(path.key(list).index(index), what, expected, &there);
    };
    let missing = |known: &[&str], wanted: &[String]| {
        let all = wanted.iter().cloned().enumerate();
        all.filter(|(_, name)| !known.contains(&name.as_str())).collect::<Vec<_>>()
    };
    let known: Vec<&str> = pack.editions.iter().map(String::as_str).collect();
    for (index, name) in missing(&known, &when.editions) {
        let there = near(&name, known.iter().copied());
        told("editions", index, format!("edition `{name}`"), "an edition of the pack", there);
    }
    let known: Vec<&str> = pack.classes.iter().map(|c| c.class.as_str()).collect();
    for (index, name) in missing(&known, &when.classes) {
        let there = near(&name, known.iter().copied());
        told("classes", index, format!("class `{name}`"), "a class of the pack", there);
    }
    let (treatments, tests) = (lints.treatments(), lints.tests());
    if let Some(treatments) = treatments {
        let known: Vec<&str> = treatments.iter().map(|t| t.id.as_str()).collect();
        for (index, name) in missing(&known, &when.treatments) {
            let there = near(&name, known.iter().copied());
            let expected = "the id of a treatment of the pack";
            lints.fault(path.key("treatments").index(index), format!("treatment `{name}`"), expected, &there);
        }
    }
    // The house's rules speak of every test there is.
    let Some(tests) = tests.filter(|_| !pack.is_house()) else { return };
    for (index, test) in when.tests.iter().enumerate() {
        if !tests.iter().any(|t| t.test == *test) {
            let there = near(test.name(), tests.iter().map(|t| t.test.name()));
            let found = format!("the test `{}`", test.name());
            lints.fault(path.key("tests").index(index), found, "a test listed under `tests`", &there);
        }
    }
}

/// A name twice in one list changes nothing, and hides the one that was meant.
fn repeated(lints: &mut Lints, path: &Path, when: &When) {
    let mut told = |list: &str, places: Vec<(usize, String)>| {
        for (index, name) in places {
            let mend = "take one away, or write the one that was meant";
            lints.remark(
                path.key(list).index(index),
                format!("`{name}` a second time"),
                "each name once",
                mend,
            );
        }
    };
    let words = |list: &[String]| twice(list).into_iter().map(|(i, name)| (i, name.clone())).collect();
    told("treatments", words(&when.treatments));
    told("classes", words(&when.classes));
    told("editions", words(&when.editions));
    told("tests", twice(&when.tests).into_iter().map(|(i, t)| (i, t.name().to_owned())).collect());
    told("series", twice(&when.series).into_iter().map(|(i, s)| (i, s.name().to_owned())).collect());
    told("options", twice(&when.options).into_iter().map(|(i, o)| (i, o.name().to_owned())).collect());
    told("conditions", twice(&when.conditions).into_iter().map(|(i, c)| (i, c.name().to_owned())).collect());
}

/// A condition on grades that no grade of the alloy table can fulfil.
fn grades(lints: &mut Lints, path: &Path, when: &When) {
    if let Some(below) = &when.chromium_below
        && below.dimension() != Dimension::MassFraction
    {
        let mend = "write it as in `16 wt%`";
        lints.fault(path.key("chromium_below"), format!("{below}"), "chromium by mass", mend);
        return;
    }
    let Some(table) = lints.beside.alloys else { return };
    let asks = !when.series.is_empty() || when.free_machining.is_some() || when.chromium_below.is_some();
    if !asks || table.alloys.iter().any(|alloy| fits(alloy, when)) {
        return;
    }
    let series: Vec<&str> = when.series.iter().map(|s| s.name()).collect();
    let mut asked: Vec<String> = (!series.is_empty()).then(|| series.join(" or ")).into_iter().collect();
    asked.extend(
        when.free_machining.map(|yes| if yes { "free-machining" } else { "not free-machining" }.to_owned()),
    );
    asked.extend(when.chromium_below.map(|below| format!("chromium below {below}")));
    lints.fault(
        path.clone(),
        format!("{}, which is no grade of the alloy table", asked.join(", ")),
        "a condition that some grade fulfils: as it stands the requirement never applies",
        "correct series, `free_machining` or `chromium_below`",
    );
}

/// Whether a heat of this grade can fulfil the condition.
fn fits(alloy: &Alloy, when: &When) -> bool {
    let series = when.series.is_empty() || when.series.contains(&alloy.series);
    let machining = when.free_machining.is_none_or(|wanted| alloy.free_machining == wanted);
    let chromium = when.chromium_below.as_ref().is_none_or(|below| {
        // A grade without a least chromium may have any.
        let least = alloy.element("Cr").and_then(|limits| limits.from);
        least.is_none_or(|least| least.compare(below) == Some(Ordering::Less))
    });
    series && machining && chromium
}
