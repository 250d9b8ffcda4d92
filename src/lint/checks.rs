//! Checks that do not fit their subject, figures that cannot be, words that can never be found.

use std::cmp::Ordering;

use crate::alloy::Series;
use crate::lint::Lints;
use crate::lint::near;
use crate::lint::twice;
use crate::pack::Basis;
use crate::pack::Check;
use crate::pack::Form;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::pack::dimensions;
use crate::pack::form;
use crate::part::PartCondition;
use crate::part::Use;
use crate::path::Path;
use crate::record::TestKind;
use crate::rulebook;
use crate::units::System;
use crate::units::Unit;

/// Looks over what a requirement demands.
pub fn check(lints: &mut Lints, path: &Path, requirement: &Requirement) {
    let name = rulebook::form(&requirement.check);
    let path = path.key("check");
    let of = form(requirement.subject);
    if !of.takes(&requirement.check) {
        lints.fault(
            path,
            format!("`{name}` on `{}`", requirement.subject.name()),
            of.checks(),
            mend_form(of, &requirement.check),
        );
        return;
    }
    let path = path.key(name);
    match &requirement.check {
        Check::TimesOrdered(0) => {
            let mend = "write 1, or 2 for a test made again";
            lints.fault(path, "0 times the pieces ordered", "at least once", mend);
        }
        Check::OneOf(words) | Check::NoneOf(words) | Check::Only(words) => {
            listed(lints, &path, requirement, words);
        }
        Check::Within(_) | Check::AtLeast(_) | Check::AtMost(_) => figures(lints, &path, requirement),
        _ => {}
    }
}

const fn mend_form(of: Form, check: &Check) -> &'static str {
    match (of, check) {
        (Form::Sample, _) => "write `check: passed`",
        (Form::Words, _) => "list the words under `one_of`, or write `check: present`",
        (Form::Figure(_), _) => "give figures, or write `check: present` where being on record is enough",
        _ => "write one of these, or choose the subject that was meant",
    }
}

/// Words that may be found for a subject, where they are a closed list.
fn vocabulary(lints: &Lints, subject: Subject) -> Option<Vec<String>> {
    match subject {
        Subject::AlloySeries => Some(Series::ALL.iter().map(|s| s.name().to_owned()).collect()),
        Subject::PartUse => Some(Use::ALL.iter().map(|u| u.name().to_owned()).collect()),
        Subject::PartConditions => Some(PartCondition::ALL.iter().map(|c| c.name().to_owned()).collect()),
        Subject::TestOrdered => Some(TestKind::ALL.iter().map(|t| t.name().to_owned()).collect()),
        Subject::ClassNamed => Some(lints.pack.classes.iter().map(|c| c.class.clone()).collect()),
        Subject::TreatmentNamed | Subject::TreatmentOrdered => {
            Some(lints.treatments()?.iter().map(|t| t.name.clone()).collect())
        }
        _ => None,
    }
}

fn listed(lints: &mut Lints, path: &Path, requirement: &Requirement, words: &[String]) {
    if words.is_empty() {
        let mend = "name what may be found, or what may not";
        lints.fault(path.clone(), "no word", "at least one word", mend);
    }
    let same = |a: &str, b: &str| a.trim().eq_ignore_ascii_case(b.trim());
    let known = vocabulary(lints, requirement.subject);
    for (index, word) in words.iter().enumerate() {
        let here = path.index(index);
        if word.trim().is_empty() {
            lints.fault(here, "an empty word", "a word", "take it away");
            continue;
        }
        let Some(known) = &known else { continue };
        if !known.iter().any(|k| same(k, word)) {
            let expected = format!("a word that can be found as `{}`", requirement.subject.name());
            let there = near(word, known.iter().map(String::as_str));
            lints.fault(here, format!("`{word}`"), &expected, &there);
        }
    }
    for (index, word) in twice(words) {
        let mend = "take one away, or write the one that was meant";
        lints.remark(path.index(index), format!("`{word}` a second time"), "each word once", mend);
    }
}

/// One figure as it stands in a list: its place, its values with their keys, its unit, its basis.
struct Figure {
    path: Path,
    values: Vec<(&'static str, crate::units::Quantity)>,
    wanted: usize,
    unit: Option<Unit>,
    written: Option<Unit>,
    basis: Basis,
}

fn figures_of(check: &Check, path: &Path, basis: Basis) -> Vec<Figure> {
    match check {
        Check::Within(windows) => {
            let each = windows.iter().enumerate().map(|(index, window)| Figure {
                path: path.index(index),
                values: [("from", window.from), ("to", window.to)]
                    .into_iter()
                    .filter_map(|(key, value)| Some((key, value?)))
                    .collect(),
                wanted: 2,
                unit: rulebook::unit_of_window(window),
                written: window.unit,
                basis: window.basis.unwrap_or(basis),
            });
            each.collect()
        }
        Check::AtLeast(bounds) | Check::AtMost(bounds) => {
            let each = bounds.iter().enumerate().map(|(index, bound)| Figure {
                path: path.index(index),
                values: bound.value.into_iter().map(|value| ("value", value)).collect(),
                wanted: 1,
                unit: rulebook::unit_of_bound(bound),
                written: bound.unit,
                basis: bound.basis.unwrap_or(basis),
            });
            each.collect()
        }
        _ => Vec::new(),
    }
}

fn figures(lints: &mut Lints, path: &Path, requirement: &Requirement) {
    let all = figures_of(&requirement.check, path, requirement.basis);
    if all.is_empty() {
        let mend = "give the figure, or its unit with `basis: unsure`";
        lints.fault(path.clone(), "no figure", "a figure for each unit system printed", mend);
    }
    let mut seen: Vec<Unit> = Vec::new();
    for figure in &all {
        one(lints, requirement.subject, figure);
        let Some(unit) = figure.unit else { continue };
        if seen.contains(&unit) {
            let mend = "keep one; a further demand is a requirement of its own";
            lints.fault(
                figure.path.clone(),
                format!("two figures in {unit}"),
                "one figure for each unit",
                mend,
            );
        }
        seen.push(unit);
    }
    // A reading is held against the figure in its own unit; one in each system is enough.
    systems(lints, path, requirement, &seen);
}

fn one(lints: &mut Lints, subject: Subject, figure: &Figure) {
    let wanted = dimensions(subject);
    let units = || {
        let all = Unit::ALL.iter().filter(|u| wanted.contains(&u.dimension()));
        all.map(|u| u.symbol()).collect::<Vec<_>>().join(", ")
    };
    let expected = || format!("a limit on `{}`, which is measured in {}", subject.name(), units());
    for (key, value) in &figure.values {
        if !wanted.contains(&value.dimension()) {
            let mend = "give the figure in one of these units, or choose the subject that was meant";
            lints.fault(figure.path.key(key), format!("{value}"), &expected(), mend);
        }
    }
    if let Some(unit) = figure.written
        && !wanted.contains(&unit.dimension())
    {
        let mend = "give one of these units, or choose the subject that was meant";
        lints.fault(figure.path.key("unit"), format!("the unit {unit}"), &expected(), mend);
    }
    if figure.unit.is_none() {
        let mend = "say in which unit the standard gives it, as in `{ unit: °C, basis: unsure }`";
        lints.fault(figure.path.clone(), "neither value nor unit", "a figure, or its unit", mend);
    }
    if let [(_, from), (_, to)] = figure.values.as_slice() {
        if from.unit() != to.unit() {
            let mend = "give both limits in one unit; another unit is a window of its own";
            lints.fault(figure.path.clone(), format!("{from} to {to}"), "one unit in a window", mend);
        } else if from.compare(to).is_none_or(|order| order == Ordering::Greater) {
            let mend = "write the lower limit under `from` and the upper under `to`";
            lints.fault(figure.path.clone(), format!("{from} to {to}"), "a window from low to high", mend);
        }
    }
    let unsure = figure.basis == Basis::Unsure;
    if unsure && !figure.values.is_empty() {
        lints.fault(
            figure.path.clone(),
            "an unsure figure with a value",
            "a value exactly where the figure is read or recalled",
            "take the value away and give its unit, or say `basis: recalled`",
        );
    } else if !unsure && figure.values.len() < figure.wanted {
        lints.fault(
            figure.path.clone(),
            "a figure without its value",
            "a value exactly where the figure is read or recalled",
            "give the value, or say `basis: unsure` and give the unit alone",
        );
    } else if figure.written.is_some() && !figure.values.is_empty() {
        let mend = "take `unit` away";
        lints.fault(figure.path.key("unit"), "a unit beside a value", "the unit with the value", mend);
    }
}

/// A figure in one unit system where its sisters give both.
fn systems(lints: &mut Lints, path: &Path, requirement: &Requirement, own: &[Unit]) {
    let all = |check: &Check| -> Vec<Unit> {
        figures_of(check, path, Basis::Read).into_iter().filter_map(|figure| figure.unit).collect()
    };
    let has = |units: &[Unit], system: System| units.iter().any(|unit| unit.system() == system);
    let both = |units: &[Unit]| has(units, System::InchPound) && has(units, System::Si);
    let (imperial, metric) = (has(own, System::InchPound), has(own, System::Si));
    if imperial == metric {
        return;
    }
    let sisters = lints.pack.requirements.iter().filter(|r| r.subject == requirement.subject);
    if sisters.map(|r| all(&r.check)).any(|units| both(&units)) {
        let (there, missing) = if imperial { ("inch-pound", "metric") } else { ("metric", "inch-pound") };
        lints.remark(
            path.clone(),
            format!("a figure in {there} units only"),
            &format!("one in {missing} units as well, as its sisters have"),
            "give it as printed, or with its unit and `basis: unsure`",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_measured_subject_has_a_unit() {
        for subject in Subject::ALL {
            for dimension in dimensions(*subject) {
                let unit = Unit::ALL.iter().find(|u| u.dimension() == *dimension);
                assert!(unit.is_some(), "{}", subject.name());
            }
        }
    }
}
