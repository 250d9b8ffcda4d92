//! Takes every single datum out of every conforming sample, one at a time. What is left must not be read, must not
//! be valid, or must be held, but for data nobody asks for, which are listed here with the reason.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::rulebook::Standing;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// The lots every datum is taken out of. Deviations, parts of lots, families and journals have removals of their own.
const CONFORMING: &[&str] = crate::support::CONFORMING.split_at(11).0;
use crate::support::Came;
use crate::support::came;
use crate::support::dossier;

/// Lots treated again, to two standards, or to ASTM B912.
const AGAIN: &[&str] = &["L-26-0409"];
const BOTH: &[&str] = &["L-26-0407"];
const B912: &[&str] = &["L-26-0403", "L-26-0407"];

/// Data whose absence holds nobody up: the label (`*` is any one part of it), the lots in which it may be absent
/// (none named: all), and the reason.
const OPTIONAL: &[(&str, &[&str], &str)] = &[
    // The shop's book.
    ("baths.AC-1", &[], "a cleaner: its strength and temperature are no limit of any standard here"),
    ("baths.AC-1.thermometer", &[], "the same"),
    ("baths.AC-1.ingredients.*", &[], "the same"),
    ("instruments.TI-1", &[], "the cleaner's thermometer"),
    ("instruments.TI-1.calibrations", &[], "the same"),
    ("instruments.TI-1.calibrations.*", &[], "the same"),
    ("instruments.TM-1.calibrations", &[], "a timer: swab tests need a clock only (rule of the house)"),
    ("instruments.TM-1.calibrations.*", &[], "the same"),
    ("instruments.WI-1.calibrations", &[], "a tank: water immersion needs a clock only (rule of the house)"),
    ("instruments.WI-1.calibrations.*", &[], "the same"),
    ("baths.*.ingredients.water", &[], "a bath may hold less than the treatment allows, not more"),
    ("baths.N-1.ingredients.sodium dichromate", &[], "its strength, which is judged, shows that it is there"),
    ("baths.C-1.ingredients.citric acid", &[], "A967 names no ingredients of its citric baths (advice)"),
    ("baths.C-1.analyses.*.found.pH", &[], "only citric 5 has a limit of acidity"),
    (
        "baths.DC-1.ingredients.sodium dichromate",
        &[],
        "its strength, which is judged, shows that it is there",
    ),
    ("baths.PD-1.ingredients.nitric acid", &[], "the same"),
    ("baths.EP-1.ingredients.*", &[], "B912 leaves the electropolishing bath free"),
    ("baths.EP-1.analyses.*.found.*", &[], "the same"),
    ("solutions.FN-26-03.recipe.distilled water", &[], "the recipe is per volume made up to"),
    // What was asked: without it nothing was asked. That papers are whole is what a review is for.
    ("order.discloses", &[], "what the purchaser is shown decides nothing; what is not said is withheld"),
    ("order.discloses.*", &[], "the same"),
    ("order.decision_rule", &[], "simple acceptance unless ordered otherwise"),
    ("order.lines.*.also_calls_for", BOTH, "not asked"),
    ("order.lines.*.also_calls_for.*", BOTH, "not asked"),
    ("order.lines.*.also_calls_for.*.pieces", BOTH, "one piece unless more are asked"),
    ("part.calls_for.*", &["L-26-0403", "L-26-0407", "L-26-0408"], "not asked; one call-out remains"),
    ("part.calls_for.*.options", &["L-26-0405"], "not asked"),
    ("part.calls_for.*.options.*", &["L-26-0405"], "not asked"),
    ("part.calls_for.*.pieces", &["L-26-0403", "L-26-0408"], "one piece unless more are asked"),
    ("part.calls_for.*.test_pieces", AGAIN, "one piece unless more are asked, by A967"),
    ("part.calls_for.*.tests", &[], "not asked; ASTM B912 demands one, see the attacks"),
    ("part.calls_for.*.tests.*", &[], "the same"),
    ("part.calls_for.*.treatment", B912, "ASTM B912 has one treatment only"),
    (
        "part.used_for",
        &[
            "L-26-0401",
            "L-26-0402",
            "L-26-0403",
            "L-26-0405",
            "L-26-0406",
            "L-26-0407",
            "L-26-0410",
            "L-26-0411",
        ],
        "only copper sulfate and ferricyanide-nitric depend on it",
    ),
    ("part.needs_approvals", &["L-26-0404", "L-26-0407"], "not asked"),
    ("part.needs_approvals.*", &["L-26-0404"], "not asked; of two, each covers one call-out"),
    // People.
    ("people.*.qualified.*.until", &[], "a qualification may be open"),
    ("people.*.qualified.*.evidence", &[], "for people"),
    // Words for people.
    ("record.remarks", &[], "a remark"),
    ("record.purchaser_lot", &[], "the purchaser's own number"),
    ("record.runs.*.because", &[], "a remark"),
    ("record.runs.*.steps.*.note", &[], "a remark"),
    ("record.runs.*.steps.*.source", &[], "where a reading was copied from"),
    (
        "record.received",
        &[],
        "the day of arrival is for the turn-round, which counts the lot as unknown without it",
    ),
    ("record.runs.*.steps.*.how", &[], "still, counter-current or spray: all are allowed"),
    ("record.tests.*.observed", &[], "in words; the number of failed pieces is judged"),
    ("record.visual.*.observed", &[], "the same"),
    ("record.visual.*.light", &[], "no standard here has a limit of it"),
    ("record.counts.by", &[], "a count, not a reading"),
    ("record.measurements.*.before", &[], "printed, not judged"),
    ("record.measurements.*.before.*", &[], "the same"),
    ("record.measurements.*.cutoff", &[], "the call-out names none"),
    ("record.measurements.*.how", &[], "the call-out names none"),
    // Counts of nothing may be left out: nothing is what absence means.
    (
        "record.counts.destroyed_in_test",
        &[
            "L-26-0401",
            "L-26-0402",
            "L-26-0403",
            "L-26-0405",
            "L-26-0406",
            "L-26-0407",
            "L-26-0408",
            "L-26-0410",
            "L-26-0411",
        ],
        "none were",
    ),
    (
        "record.counts.rejected",
        &[
            "L-26-0401",
            "L-26-0403",
            "L-26-0404",
            "L-26-0405",
            "L-26-0406",
            "L-26-0407",
            "L-26-0408",
            "L-26-0409",
            "L-26-0410",
            "L-26-0411",
        ],
        "none were",
    ),
    ("record.counts.held", &[], "none were"),
    ("record.counts.missing", &[], "none were"),
    ("record.counts.returned_unprocessed", &[], "none were"),
    ("record.counts.split_off", &[], "none were"),
    ("record.serials", &[], "all or none"),
    ("record.tests.*.specimen", &[], "a part, unless a coupon is named"),
    ("record.runs.*.steps.rinse.final", &[], "not final, unless it says so"),
    // Material: a heat nobody knows counts as the leanest its grade may have; no sample hangs on it.
    ("record.material.heats", &[], "its grade counts"),
    ("record.material.heats.*", &[], "the same"),
    ("record.material.heats.*.chemistry", &[], "the same"),
    ("record.material.heats.*.chemistry.*", &[], "the same; of the elements only chromium is ever judged"),
    // Steps and readings with no limit of their own.
    ("record.runs.*.steps.clean", B912, "advice in ASTM B912, and electropolishing prepares for passivation"),
    ("record.runs.*.steps.clean.in", &[], "that it was cleaned is judged, not how long"),
    ("record.runs.*.steps.clean.out", &[], "the same"),
    ("record.runs.*.steps.clean.temperature", &[], "the same"),
    ("record.runs.*.steps.rinse", &[], "the final rinse is next, and is a rinse"),
    ("record.runs.*.steps.rinse.at", &[], "the order of the steps is judged, not the minute"),
    (
        "record.runs.*.steps.dry",
        &[
            "L-26-0401",
            "L-26-0402",
            "L-26-0403",
            "L-26-0404",
            "L-26-0406",
            "L-26-0407",
            "L-26-0408",
            "L-26-0409",
            "L-26-0410",
            "L-26-0411",
        ],
        "only the dichromate treatment asks for it",
    ),
    ("record.runs.*.steps.dry.at", &[], "that it was dried is judged, not when"),
    ("record.runs.*.steps.*.temperature_out", &[], "read if it was read"),
    ("record.runs.*.steps.electropolish.in", B912, "one of the two says which analysis was in force"),
    ("record.runs.*.steps.electropolish.out", B912, "the same; no limit of time in the shop's copy"),
    ("record.runs.*.steps.electropolish.temperature", B912, "no limit in the shop's copy"),
    ("record.runs.*.steps.electropolish.current_density", B912, "no limit in the shop's copy"),
    ("record.runs.*.steps.electropolish.voltage", B912, "no limit in any standard here"),
    ("record.runs.*.steps.final rinse", BOTH, "the rinse after the second treatment ends the first as well"),
    (
        "record.runs.*.steps.final rinse.final",
        &["L-26-0405", "L-26-0407"],
        "the same; after dichromate any rinse",
    ),
    ("record.runs.*.steps.final rinse.at", &[], "without an hour of its own, the day of the bath counts"),
    ("record.runs.*.steps.final rinse.total_solids", B912, "ASTM B912 has no limit"),
    ("record.tests.copper sulfate.ended", &[], "the time kept wet is judged"),
    ("record.tests.copper sulfate.instrument", &[], "a clock"),
    ("record.tests.ferricyanide-nitric.ended", &[], "the time to the reading is judged"),
    ("record.tests.ferricyanide-nitric.instrument", &[], "a clock"),
    ("record.tests.damp cloth.ended", &[], "the time kept wet is judged"),
    ("record.tests.damp cloth.cleaned_with", &[], "no demand known"),
    ("record.tests.damp cloth.water", &[], "no demand known"),
    ("record.tests.water immersion.instrument", &[], "a clock"),
    // The first round of the lot that was treated again: history. That it failed is what the record says of itself.
    ("record.runs.history.steps.*", AGAIN, "history"),
    ("record.runs.history.steps.*.*", AGAIN, "history"),
    ("record.tests.history", AGAIN, "history"),
    ("record.tests.history.*", AGAIN, "history"),
    ("record.visual.history", AGAIN, "history"),
];

/// Data whose absence leaves more than one requirement unmet, each with the reason.
const SEVERAL: &[(&str, &str)] = &[
    ("baths.*", "a bath stands for its analyses, its thermometer and what it is made of"),
    ("baths.*.analyses", "the age of the analysis, and each strength it found"),
    ("baths.*.analyses.*", "the same"),
    ("part.calls_for.*", "an approval for a standard covers no treatment that nobody called for"),
    ("people.*", "one person may test, look and measure"),
    ("people.*.qualified", "the same"),
    ("solutions.*", "a test solution stands for its recipe and its age"),
    ("solutions.*.recipe", "each amount in it"),
    ("solutions.*.recipe.distilled water", "every amount is per volume of it"),
    ("solutions.*.recipe.made up to", "every amount is per volume made up to"),
    ("record.tests.*.solution", "the recipe and the age of the solution"),
    (
        "record.tests",
        "ASTM B912 asks that some test proves it, and the order which; two call-outs, two tests",
    ),
    ("record.tests.*", "the same"),
    ("record.visual", "two standards called out, each with a look"),
    ("record.visual.*", "the same"),
    (
        "record.runs.*.steps.clean",
        "a lot treated again names who cleaned it and is cleaned, each asked for by itself",
    ),
    ("record.runs.*.steps.final rinse", "the delay before the dichromate treatment runs from it"),
    ("record.runs.*.steps.final rinse.final", "the same"),
    ("record.runs.*.steps.post-treat.in", "the delay before it and the time in it"),
    (
        "record.runs.*.treats_again",
        "more pieces treated than there were, and the failed test is nobody's history",
    ),
];

/// One datum of a dossier: which document, the way to it, and its label.
struct Datum {
    root: &'static str,
    way: Vec<Step>,
    label: String,
}

#[derive(Clone)]
enum Step {
    Key(String),
    Item(usize),
}

/// The documents a shop writes, as data.
const ROOTS: [&str; 8] =
    ["record", "part", "order", "baths", "instruments", "solutions", "people", "approvals"];

fn tree(dossier: &Dossier, root: &str) -> Value {
    fn of<T: Serialize>(document: &T) -> Value {
        serde_json::to_value(document).unwrap()
    }
    match root {
        "record" => of(&dossier.record),
        "part" => of(&dossier.part),
        "order" => of(&dossier.order),
        "baths" => of(&dossier.baths),
        "instruments" => of(&dossier.instruments),
        "solutions" => of(&dossier.solutions),
        "people" => of(&dossier.people),
        "approvals" => of(&dossier.approvals),
        other => panic!("{other}"),
    }
}

/// Puts a changed document back; not if it no longer reads.
fn put(dossier: &mut Dossier, root: &str, tree: Value) -> Result<(), String> {
    fn read<T: DeserializeOwned>(document: &mut T, tree: Value) -> Result<(), String> {
        *document = serde_json::from_value(tree).map_err(|e| e.to_string())?;
        Ok(())
    }
    match root {
        "record" => read(&mut dossier.record, tree),
        "part" => read(&mut dossier.part, tree),
        "order" => read(&mut dossier.order, tree),
        "baths" => read(&mut dossier.baths, tree),
        "instruments" => read(&mut dossier.instruments, tree),
        "solutions" => read(&mut dossier.solutions, tree),
        "people" => read(&mut dossier.people, tree),
        "approvals" => read(&mut dossier.approvals, tree),
        other => panic!("{other}"),
    }
}

/// How an item of a list is called: by its id where it has one, by what it was made for where that matters.
fn item(lot: &str, label: &str, at: usize, value: &Value) -> String {
    let name = |key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
    match label {
        "baths" => name("bath").unwrap(),
        "instruments" => name("instrument").unwrap(),
        "solutions" => name("solution").unwrap(),
        // A step is a block of one key, which names it; the final rinse is another step than the ones before it.
        _ if label.ends_with(".steps") => {
            let (key, step) = value.as_object().unwrap().iter().next().unwrap();
            let last = step.get("final").is_some_and(|last| *last == Value::Bool(true));
            if last { "final rinse".to_owned() } else { key.clone() }
        }
        _ if label.ends_with(".ingredients") => value.as_str().unwrap().to_owned(),
        // The first round of the lot that was treated again is history.
        "record.runs" | "record.tests" | "record.visual" if lot == "L-26-0409" && at == 0 => {
            "history".to_owned()
        }
        "record.tests" => name("test").unwrap(),
        _ => "*".to_owned(),
    }
}

fn walk(lot: &str, root: &'static str, value: &Value, way: &[Step], label: &str, all: &mut Vec<Datum>) {
    let mut below = |step: Step, label: String, value: &Value| {
        // The key of a step's block is part of its name.
        let label = match &step {
            Step::Key(key) if label.ends_with(&format!(".{key}.{key}")) => {
                label.trim_end_matches(key.as_str()).trim_end_matches('.').to_owned()
            }
            Step::Key(key) if key == "rinse" && label.ends_with("final rinse.rinse") => {
                label.trim_end_matches(".rinse").to_owned()
            }
            _ => label,
        };
        let way: Vec<Step> = way.iter().cloned().chain([step]).collect();
        all.push(Datum { root, way: way.clone(), label: label.clone() });
        walk(lot, root, value, &way, &label, all);
    };
    match value {
        Value::Object(entries) => {
            for (key, value) in entries {
                below(Step::Key(key.clone()), format!("{label}.{key}"), value);
            }
        }
        Value::Array(items) => {
            for (at, value) in items.iter().enumerate() {
                let name = item(lot, label, at, value);
                below(Step::Item(at), format!("{label}.{name}"), value);
            }
        }
        _ => {}
    }
}

fn remove(tree: &mut Value, way: &[Step]) {
    match way {
        [Step::Key(key)] => drop(tree.as_object_mut().unwrap().remove(key).unwrap()),
        [Step::Item(at)] => drop(tree.as_array_mut().unwrap().remove(*at)),
        [Step::Key(key), rest @ ..] => remove(tree.get_mut(key).unwrap(), rest),
        [Step::Item(at), rest @ ..] => remove(tree.get_mut(at).unwrap(), rest),
        [] => panic!("nothing to remove"),
    }
}

#[derive(Default, Debug, Clone, Copy)]
struct Tally {
    removals: usize,
    faults: usize,
    one_gap: usize,
    several: usize,
    optional: usize,
}

#[test]
fn nothing_asked_for_can_be_left_out() {
    let mut tally = Tally::default();
    let (mut passed, mut many) = (BTreeMap::new(), BTreeMap::new());
    for &lot in CONFORMING {
        let whole = dossier(lot);
        for root in ROOTS {
            let full = tree(&whole, root);
            let mut data = Vec::new();
            walk(lot, root, &full, &[], root, &mut data);
            for datum in data {
                let mut left = full.clone();
                remove(&mut left, &datum.way);
                let mut changed = whole.clone();
                tally.removals += 1;
                let what = match put(&mut changed, datum.root, left) {
                    Ok(()) => came(&changed),
                    Err(fault) => Came::Fault(fault),
                };
                // The same requirement of several runs, or under several call-outs, is one thing to do.
                let gaps: BTreeSet<String> =
                    what.gaps().iter().map(|g| g.split(", ").next().unwrap().to_owned()).collect();
                match gaps.into_iter().collect::<Vec<_>>().as_slice() {
                    _ if matches!(what, Came::Fault(_)) => tally.faults += 1,
                    [] => {
                        tally.optional += 1;
                        passed.entry(datum.label).or_insert_with(BTreeSet::new).insert(lot);
                    }
                    [_] => tally.one_gap += 1,
                    gaps => {
                        tally.several += 1;
                        many.entry(datum.label).or_insert_with(Vec::new).push(format!("{lot}: {gaps:?}"));
                    }
                }
            }
        }
    }
    for (label, lots) in &passed {
        let reasons: Vec<_> = OPTIONAL.iter().filter(|(pattern, ..)| fits(pattern, label)).collect();
        for lot in lots {
            let listed = reasons.iter().any(|(_, lots, _)| lots.is_empty() || lots.contains(lot));
            assert!(listed, "{lot} passes without {label}");
        }
    }
    for (pattern, lots, _) in OPTIONAL {
        let passing: BTreeSet<&str> =
            passed.iter().filter(|(l, _)| fits(pattern, l)).flat_map(|(_, lots)| lots).copied().collect();
        assert!(!passing.is_empty(), "`{pattern}` is listed as optional and is not");
        let unused: Vec<_> = lots.iter().filter(|lot| !passing.contains(*lot)).collect();
        assert!(unused.is_empty(), "`{pattern}` is listed as optional in {unused:?} and is not");
    }
    for (label, lots) in &many {
        let listed = SEVERAL.iter().any(|(pattern, _)| fits(pattern, label));
        assert!(listed, "more than one gap without {label}: {lots:#?}");
    }
    for (pattern, _) in SEVERAL {
        assert!(many.keys().any(|l| fits(pattern, l)), "`{pattern}` is listed and never left several gaps");
    }
    // Most of what a document must hold it cannot be read without; of the rest, most leaves one gap.
    let Tally { removals, faults, one_gap, several, optional } = tally;
    assert_eq!(removals, faults + one_gap + several + optional);
    assert!(
        removals >= 2900 && faults >= 1500 && one_gap >= 590 && several <= 100 && optional <= 800,
        "{tally:?}"
    );
}

/// Whether a label is meant by a pattern.
fn fits(pattern: &str, label: &str) -> bool {
    let (pattern, label): (Vec<&str>, Vec<&str>) = (pattern.split('.').collect(), label.split('.').collect());
    pattern.len() == label.len() && pattern.iter().zip(&label).all(|(p, l)| *p == "*" || p == l)
}

/// Every requirement that was judged for a sample holds it when the shop's word on it is taken away: its adoption,
/// the pack's whole adoption, or the pack.
#[test]
fn nothing_adopted_can_be_left_out() {
    let mut taken = 0;
    for &lot in CONFORMING {
        let whole = dossier(lot);
        let judged: BTreeMap<String, Verdict> =
            judge(&whole).into_iter().map(|f| (f.requirement, f.verdict)).collect();
        for (p, pack) in whole.packs.iter().enumerate() {
            let mut without = whole.clone();
            without.packs.remove(p);
            assert!(came(&without).held(), "{lot} passes without {}", pack.pack.pack);
            if pack.pack.is_house() {
                continue;
            }
            let mut unadopted = whole.clone();
            unadopted.packs[p].adopted = None;
            let gaps = came(&unadopted).gaps();
            assert_eq!(gaps.len(), 1, "{lot}: {gaps:?}");
            for (r, requirement) in pack.pack.requirements.iter().enumerate() {
                let id = format!("{}/{}", pack.pack.pack, requirement.id);
                let counts = judged.get(&id).is_some_and(|v| *v == Verdict::Met);
                for standing in [Standing::NotAdopted, Standing::Changed, Standing::Unsure] {
                    let mut left = whole.clone();
                    left.packs[p].standing[r] = standing;
                    let gaps = came(&left).gaps();
                    let of_it = gaps.iter().filter(|g| g.starts_with(&format!("{id}, "))).count();
                    assert_eq!(gaps.len(), of_it, "{lot}, {id}: {gaps:?}");
                    assert_eq!(of_it > 0, counts, "{lot}, {id}, {standing:?}: {gaps:?}");
                    taken += 1;
                }
            }
        }
    }
    assert!(taken > 2000, "{taken}");
}
