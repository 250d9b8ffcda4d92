//! What a purchaser permits in writing and what it asks to read, attacked: how would a shop get past a gap with a
//! letter that does not say so, or print words nothing carries?
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod issued;
mod papers;
mod words;

use brightproof::deviation::Act;
use brightproof::deviation::Deviation;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::record::TestKind;

use crate::support::Came;
use crate::support::came;
use crate::support::dossier;
use crate::support::read;

/// The lot whose bath was three degrees too warm, and may be four.
const WARM: &str = "L-26-0441";
/// The lot of which another test was made than ordered.
const OTHER_TEST: &str = "L-26-0442";

fn permit(text: &str) -> brightproof::deviation::Permit {
    brightproof::yaml::parse(text).unwrap()
}

/// Expects a lot to be held by these gaps and no other.
#[track_caller]
fn held_by(name: &str, dossier: &Dossier, expected: &[&str]) {
    let gaps = came(dossier).gaps();
    let mut ids: Vec<&str> = gaps.iter().map(|g| g.split(", ").next().unwrap()).collect();
    let mut expected = expected.to_vec();
    ids.sort_unstable();
    expected.sort_unstable();
    assert_eq!(ids, expected, "{name}: {gaps:#?}");
}

#[track_caller]
fn conforms(name: &str, dossier: &Dossier) {
    assert!(!came(dossier).held(), "{name}: {:#?}", came(dossier).gaps());
}

const TEMPERATURE: &str = "astm-a967/nitric-2.temperature";
const STATEMENT: &str = "house/statement.founded";

#[test]
fn a_limit_goes_as_far_as_the_letter() {
    let whole = dossier(WARM);
    let accepted: Vec<_> = judge(&whole).into_iter().filter(|f| f.verdict == Verdict::Accepted).collect();
    let [one] = accepted.as_slice() else { panic!("{accepted:#?}") };
    let given = one.permission().unwrap();
    assert_eq!((one.requirement.as_str(), one.observed.as_deref()), (TEMPERATURE, Some("93 °F")));
    assert_eq!((given.deviation.as_str(), given.act), ("QI-DEV-061", Act::Limit));
    assert_eq!((one.limit.as_str(), given.instead.as_deref()), ("70 °F to 90 °F", Some("70 °F to 94 °F")));

    let attack = |change: &dyn Fn(&mut Deviation, &mut Dossier)| {
        let mut changed = whole.clone();
        let mut deviation = changed.deviations.remove(0);
        change(&mut deviation, &mut changed);
        changed.deviations.insert(0, deviation);
        changed
    };
    let temperature = |text: &'static str| {
        move |_: &mut Deviation, d: &mut Dossier| {
            for step in &mut d.record.runs[0].steps {
                if let brightproof::record::Step::Passivate(bath) = step {
                    bath.temperature = Some(read(text));
                }
            }
        }
    };
    conforms("at the limit", &attack(&temperature("94 °F")));
    conforms("in the other unit", &attack(&temperature("34 °C")));
    // The statement rests on the call-out, so it is held along with it.
    let both = [TEMPERATURE, STATEMENT];
    held_by("a tenth beyond", &attack(&temperature("94.1 °F")), &both);
    held_by("too cold", &attack(&temperature("69 °F")), &both);
    held_by("another purchaser's", &attack(&|d, _| d.purchaser = "halyard".to_owned()), &both);
    held_by("another lot's", &attack(&|d, _| d.reach.lots = vec!["L-26-0440".to_owned()]), &both);
    held_by("another order's", &attack(&|d, _| d.reach.orders = vec!["QI-88311".to_owned()]), &both);
    let revision = |d: &mut Deviation, _: &mut Dossier| {
        d.reach.parts = vec![brightproof::yaml::parse("{ part: \"7731-06\", revision: B }").unwrap()];
    };
    held_by("another revision's", &attack(&revision), &both);
    held_by("run out", &attack(&|d, _| d.reach.until = Some(read("2026-11-10"))), &both);
    conforms("on its last day", &attack(&|d, _| d.reach.until = Some(read("2026-11-11"))));
    // Without dates nobody can tell the last day; the time by a timer carries none.
    let undated = attack(&|deviation, d| {
        deviation.reach.until = Some(read("2026-12-31"));
        for step in &mut d.record.runs[0].steps {
            if let brightproof::record::Step::Clean(bath) = step {
                (bath.in_at, bath.out_at, bath.time) = (None, None, Some(read("12 min")));
            }
        }
    });
    held_by("undated", &undated, &both);
    held_by(
        "another requirement's",
        &attack(&|d, _| d.permits[0].requirement = "astm-a967/nitric-2.time".into()),
        &both,
    );
    for (name, text) in [
        (
            "no figure",
            "{ requirement: astm-a967/nitric-2.temperature, act: limit, check: { within: [{ unit: °F }] } }",
        ),
        (
            "another form",
            "{ requirement: astm-a967/nitric-2.temperature, act: limit, check: { at_most: [{ value: 94 °F }] } }",
        ),
        ("any record at all", "{ requirement: astm-a967/nitric-2.temperature, act: limit, check: present }"),
        (
            "another measure",
            "{ requirement: astm-a967/nitric-2.temperature, act: limit, check: { within: [{ from: 1 h, to: 2 h }] } }",
        ),
        ("a limit and none", "{ requirement: astm-a967/nitric-2.temperature, act: limit }"),
    ] {
        held_by(name, &attack(&|d, _| d.permits = vec![permit(text)]), &both);
    }
    let everything = attack(&|d, _| {
        d.reach = brightproof::yaml::parse("{ pieces: 120 }").unwrap();
    });
    assert!(matches!(came(&everything), Came::Fault(_)), "{:?}", came(&everything).gaps());
}

/// What is no purchaser's to permit stays, whatever a letter says.
#[test]
fn some_things_nobody_can_permit() {
    let omit = |d: &mut Dossier, ids: &[&str]| {
        d.deviations[0].permits =
            ids.iter().map(|id| permit(&format!("{{ requirement: {id}, act: omit }}"))).collect();
    };
    let cool = |d: &mut Dossier| {
        for step in &mut d.record.runs[0].steps {
            if let brightproof::record::Step::Passivate(bath) = step {
                bath.temperature = Some(read("84 °F"));
            }
        }
    };
    let mut house = dossier(WARM);
    cool(&mut house);
    house.baths.iter_mut().for_each(|b| b.analyses.clear());
    omit(&mut house, &["house/bath.analysis", "astm-a967/nitric-2.nitric-acid"]);
    held_by("the house's rules", &house, &["house/bath.analysis"]);

    let mut none = dossier(WARM);
    none.record.runs[0].steps.retain(|s| s.key() != "passivate");
    omit(&mut none, &["astm-a967/treatment.named", TEMPERATURE, "astm-a967/nitric-2.time"]);
    let gaps = came(&none).gaps();
    assert!(
        gaps.iter().any(|g| g.starts_with("astm-a967/treatment.named")),
        "no treatment at all: {gaps:#?}"
    );

    // Copper sulfate made on a martensitic grade proves nothing, and nobody can permit that it does.
    let mut invalid = dossier("L-26-0413");
    let mut deviation = dossier(OTHER_TEST).deviations.remove(0);
    deviation.purchaser = invalid.order.purchaser.clone();
    deviation.reach = brightproof::yaml::parse("{ lots: [L-26-0413] }").unwrap();
    invalid.deviations = vec![deviation];
    omit(&mut invalid, &["astm-a967/practice-d.alloy"]);
    held_by("a test that is not valid", &invalid, &["astm-a967/practice-d.alloy"]);

    // Entries that contradict each other are the record's fault, not the purchaser's to permit.
    let mut contradiction = dossier(WARM);
    cool(&mut contradiction);
    for step in &mut contradiction.record.runs[0].steps {
        if let brightproof::record::Step::Passivate(bath) = step {
            bath.time = Some(read("50 min"));
        }
    }
    omit(&mut contradiction, &["astm-a967/nitric-2.time"]);
    held_by("a contradiction", &contradiction, &["astm-a967/nitric-2.time", STATEMENT]);

    // Nor what the shop never compared with its own copy.
    let mut unread = dossier(WARM);
    for pack in &mut unread.packs {
        let at = pack.pack.requirements.iter().position(|r| r.id == "nitric-2.temperature");
        if let Some(at) = at {
            pack.standing[at] = brightproof::rulebook::Standing::Changed;
        }
    }
    held_by("a rule that changed", &unread, &[TEMPERATURE, STATEMENT]);
}

#[test]
fn what_is_left_out_by_permission() {
    let with = |id: &str, change: &dyn Fn(&mut Dossier)| {
        let mut d = dossier("L-26-0401");
        let mut deviation = dossier(WARM).deviations.remove(0);
        deviation.reach = brightproof::yaml::parse("{ lots: [L-26-0401] }").unwrap();
        deviation.permits = vec![permit(id)];
        d.deviations = vec![deviation];
        change(&mut d);
        d
    };
    let no_final = |d: &mut Dossier| {
        for run in &mut d.record.runs {
            run.steps.retain(|s| !matches!(s, brightproof::record::Step::Rinse(r) if r.last));
        }
    };
    const RINSE: &str = "{ requirement: astm-a967/nitric.final-rinse, act: omit }";
    conforms("no final rinse, and so no reading of it", &with(RINSE, &no_final));
    let salty = with(RINSE, &|d| {
        for run in &mut d.record.runs {
            for step in &mut run.steps {
                if let brightproof::record::Step::Rinse(rinse) = step
                    && rinse.last
                {
                    rinse.total_solids = Some(read("300 ppm"));
                }
            }
        }
    });
    held_by("a final rinse that was made and is bad", &salty, &["astm-a967/nitric.final-rinse-solids"; 2]);

    const TEST: &str = "{ requirement: astm-a967/tests.made, test: water immersion, act: omit }";
    let untested = with(TEST, &|d| d.record.tests.clear());
    conforms("a test left out", &untested);
    let said: Vec<_> = judge(&untested).into_iter().filter(|f| f.verdict == Verdict::Accepted).collect();
    assert_eq!(said.len(), 1, "{said:#?}");
    // A test that was made counts as made.
    let failed = with(TEST, &|d| d.record.tests[0].failed = 1);
    held_by("a test that failed", &failed, &["astm-a967/practice-a.result"]);
    let early = with(TEST, &|d| {
        d.record.tests[0].failed = 1;
        d.record.tests[0].started = read("2026-10-01T08:00-05:00");
        d.record.tests[0].ended = None;
    });
    assert!(came(&early).held(), "a test that failed, dated before the treatment");
    let whole = with("{ requirement: astm-a967/tests.made, act: omit }", &|d| d.record.tests.clear());
    held_by("any test whatever", &whole, &["astm-a967/tests.made"]);
    // A permission for one test does not reach another's.
    let other = with("{ requirement: astm-a967/tests.made, test: salt spray, act: omit }", &|d| {
        d.record.tests.clear()
    });
    held_by("another test", &other, &["astm-a967/tests.made"]);
}

#[test]
fn another_test_in_an_ordered_ones_place() {
    let whole = dossier(OTHER_TEST);
    conforms("as it is", &whole);
    let with = |change: &dyn Fn(&mut Dossier)| {
        let mut d = whole.clone();
        change(&mut d);
        d
    };
    const MADE: &str = "astm-a967/tests.made";
    let none = with(&|d| d.record.tests.clear());
    held_by("neither test", &none, &[MADE, "astm-a967/practice-d.alloy"]);
    let failed = with(&|d| d.record.tests[0].failed = 1);
    // Nobody ordered it, so the house holds the lot for its failure as well.
    held_by("it failed", &failed, &["astm-a967/practice-b.result", MADE, "house/tests.others"]);
    let dry = with(&|d| d.record.tests[0].humidity = Some(read("90 %RH")));
    held_by("its own requirement is not met", &dry, &["astm-a967/practice-b.humidity", MADE]);
    let few = with(&|d| d.part.calls_for[0].test_pieces = Some(2));
    held_by("fewer pieces than ordered", &few, &["astm-a967/tests.pieces", MADE]);
    let early = with(&|d| {
        d.record.tests[0].started = read("2026-11-12T08:45-05:00");
        d.record.tests[0].ended = Some(read("2026-11-13T13:05-05:00"));
    });
    assert!(came(&early).held(), "made before the last treatment");
    let coupon = with(&|d| d.record.tests[0].specimen = brightproof::record::Specimen::Coupon);
    held_by("on a coupon nobody allowed", &coupon, &["house/test.specimen", "house/test.coupon", MADE]);
    // Nobody chooses the test by its result.
    let both = with(&|d| {
        let mut copper = d.record.tests[0].clone();
        (copper.test, copper.failed) = (TestKind::CopperSulfate, 1);
        d.record.tests.insert(0, copper);
    });
    let gaps = came(&both).gaps();
    assert!(gaps.iter().any(|g| g.starts_with("astm-a967/practice-d.result")), "{gaps:#?}");
    let permitted = |text: &str| with(&|d| d.deviations[0].permits = vec![permit(text)]);
    for (name, text) in [
        (
            "itself",
            "{ requirement: astm-a967/tests.made, test: copper sulfate, act: substitute, instead: copper sulfate }",
        ),
        (
            "one the standard does not know",
            "{ requirement: astm-a967/tests.made, test: copper sulfate, act: substitute, instead: modified ferroxyl }",
        ),
        (
            "not said for which",
            "{ requirement: astm-a967/tests.made, act: substitute, instead: high humidity }",
        ),
        (
            "for the result alone",
            "{ requirement: astm-a967/practice-d.result, act: substitute, instead: high humidity }",
        ),
    ] {
        assert!(came(&permitted(text)).held(), "{name}");
    }
}

/// A permission that loosened nothing is told, with why, and holds nothing.
#[test]
fn unused_permissions_are_told() {
    let advice = |d: &Dossier| -> Vec<String> {
        let found = judge(d).into_iter().filter(|f| f.requirement == "house/deviation.used");
        found.map(|f| format!("{}: {:?}", f.subject, f.reason)).collect()
    };
    assert_eq!(advice(&dossier(WARM)), Vec::<String>::new());
    let late = advice(&dossier("L-26-0443"));
    assert!(late[0].contains("after its last day 2026-11-13"), "{late:?}");
    let mut cool = dossier(WARM);
    for step in &mut cool.record.runs[0].steps {
        if let brightproof::record::Step::Passivate(bath) = step {
            bath.temperature = Some(read("84 °F"));
        }
    }
    assert!(advice(&cool)[0].contains("nothing needed it"), "{:?}", advice(&cool));
    conforms("none needed", &cool);
}

/// Every single datum taken out of the deviations leaves a fault or a gap, but for those that only bound them: what
/// a letter says is compared by whoever reviews, and every bound is printed.
#[test]
fn nothing_of_a_deviation_can_be_left_out() {
    let optional = [
        "reach.orders",
        "reach.orders.0",
        "reach.lots",
        "reach.lots",
        "reach.lots.0",
        "reach.orders",
        "reach.orders.0",
        "reach.pieces",
        "reach.until",
        "reach.parts.0.revision",
    ];
    for lot in crate::support::UNDER_DEVIATION {
        let tree = serde_json::to_value(dossier(lot)).unwrap();
        let mut ways = Vec::new();
        walk(&tree["deviations"][0], &mut Vec::new(), &mut ways);
        assert!(ways.len() >= 12, "{ways:?}");
        for way in ways {
            let mut left = tree.clone();
            let (last, path) = way.split_last().unwrap();
            let parent = path.iter().fold(&mut left["deviations"][0], |node, key| match node {
                serde_json::Value::Array(list) => &mut list[key.parse::<usize>().unwrap()],
                other => &mut other[key.as_str()],
            });
            match parent {
                serde_json::Value::Array(list) => drop(list.remove(last.parse().unwrap())),
                other => drop(other.as_object_mut().unwrap().remove(last)),
            }
            let held = serde_json::from_value::<Dossier>(left).map_or(true, |d| came(&d).held());
            let bound = optional.contains(&way.join(".").as_str());
            assert!(held || bound, "{lot} without {}", way.join("."));
        }
    }
}

fn walk(node: &serde_json::Value, at: &mut Vec<String>, ways: &mut Vec<Vec<String>>) {
    let inner: Vec<(String, &serde_json::Value)> = match node {
        serde_json::Value::Object(map) => map.iter().map(|(k, v)| (k.clone(), v)).collect(),
        serde_json::Value::Array(list) => list.iter().enumerate().map(|(i, v)| (i.to_string(), v)).collect(),
        _ => Vec::new(),
    };
    for (key, value) in inner {
        at.push(key);
        ways.push(at.clone());
        walk(value, at, ways);
        at.pop();
    }
}
