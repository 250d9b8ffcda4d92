//! Every built-in standard, each of its treatments, tests and options.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use brightproof::app::blank;
use brightproof::app::book::Book;
use brightproof::app::plan::Request;
use brightproof::finding::Finding;
use brightproof::finding::Reason;
use brightproof::finding::Verdict;
use brightproof::judge::conforms;
use brightproof::judge::judge;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::Subject;
use brightproof::part::CallOut;
use brightproof::part::OrderOption;
use brightproof::part::PartCondition;
use brightproof::part::Use;
use brightproof::plan::Fit;
use brightproof::plan::Plan;
use brightproof::plan::Spot;
use brightproof::plan::fields;
use brightproof::record::TestKind;
use serde_json::Value;

use super::filling::Filled;
use super::filling::Filler;
use super::shop;
use super::shop::ORDER;
use super::shop::Part;
use crate::support::brief;
use crate::support::read;

const GRADES: [&str; 9] = ["304", "316L", "303", "430", "410", "416", "440C", "17-4PH", "A286"];

/// Fields of a blank whose absence is no gap where no standard asks for them, and why they stand there.
const OPTIONAL: &[(&str, &str)] = &[
    ("counts.by", "who counted is not judged"),
    ("clean.in", "cleaning is told by its step; times put steps in order"),
    ("clean.out", "as above"),
    ("descale.in", "as above"),
    ("descale.out", "as above"),
    ("neutralize.in", "as above"),
    ("neutralize.out", "as above"),
    ("rinse.at", "a rinse is told by its step"),
    ("final-rinse.at", "without a time of its own the bath's counts for the meter"),
    ("post-rinse.at", "as above"),
    ("dry.at", "drying is told by its step"),
    ("treatment.in", "where the standard sets no time, coming out dates the use of the bath"),
    ("treatment.out", "where the standard sets no time, going in dates the use of the bath"),
    ("treatment.temperature", "where the standard sets none"),
    ("treatment.current_density", "where the standard sets none; read, its rectifier must be in calibration"),
    ("post-dip.in", "where the standard sets no time"),
    ("post-dip.out", "where the standard sets no time"),
    ("post-dip.temperature", "where the standard sets none"),
    ("bake.temperature", "where the standard sets none"),
    ("bake.in", "where the standard sets none"),
    ("bake.out", "where the standard sets none"),
    ("visual.observed", "words; what failed is counted"),
    ("test.observed", "words; what failed is counted"),
    ("test.instrument", "tests whose outcome rests on no calibration need none but a clock"),
    ("final-rinse.total_solids", "where the standard sets none"),
];

/// One case: a call-out with what it is made on.
struct Case {
    grade: &'static str,
    part: Part,
    call_out: CallOut,
    chosen: Vec<TestKind>,
}

fn plan(book: &mut Book, case: &Case) -> Plan {
    shop::order(book, &case.part, &case.call_out);
    let request = Request {
        order: ORDER,
        line: "1",
        grade: Some(case.grade),
        tests: &case.chosen,
        ..Request::default()
    };
    book.plan(&request, read("2026-11-02")).unwrap()
}

/// A case the plan has no question for that would hold the lot: what it asks is answered one by one, on one grade
/// after the other.
fn fitting(book: &mut Book, base: &CallOut, conditions: &[PartCondition]) -> Option<(Case, Plan)> {
    for grade in GRADES {
        let part = Part { used_for: Some(Use::General), conditions: Some(conditions.to_vec()) };
        let mut case = Case { grade, part, call_out: base.clone(), chosen: Vec::new() };
        for _ in 0..6 {
            // More than any standard asks without naming how many.
            if !case.call_out.tests.is_empty() {
                case.call_out.test_pieces = Some(2);
            }
            let plan = plan(book, &case);
            let called = &plan.call_outs[0];
            let open = |subject: Subject| {
                plan.questions.iter().any(|q| q.holds && q.subject.starts_with(subject.name()))
            };
            if open(Subject::Authorization) {
                case.call_out.options.push(OrderOption::MethodTwoAuthorized);
                continue;
            }
            let ordered = || called.tests.iter().filter(|t| t.ordered);
            if called.treatments.iter().any(|t| t.fit != Fit::Fits) || ordered().any(|t| t.fit != Fit::Fits) {
                break;
            }
            let Some(question) = plan.questions.iter().find(|q| q.holds) else {
                // What the shop may choose it has to choose.
                let fit = called.tests.iter().find(|t| t.fit == Fit::Fits).map(|t| t.test);
                if called.shop_chooses_tests && case.chosen.is_empty() && fit.is_some() {
                    case.chosen.extend(fit);
                    case.call_out.test_pieces = Some(2);
                    continue;
                }
                return Some((case, plan));
            };
            let asks = |subject: Subject| question.subject.starts_with(subject.name());
            let proven = question.reason == Some(Reason::NoTestOrdered);
            if asks(Subject::TestOrdered) || proven {
                let Some(test) = called.tests.iter().find(|t| t.fit == Fit::Fits) else { break };
                case.call_out.tests = vec![test.test];
            } else if question.subject.ends_with(Subject::TestPieces.name()) {
                case.call_out.test_pieces = Some(2);
            } else if asks(Subject::ClassNamed) && case.call_out.class.is_none() {
                case.call_out.class = Some("1".to_owned());
            } else {
                break;
            }
        }
    }
    None
}

fn judged(book: &Book, record: &Value) -> Result<Vec<Finding>, String> {
    // JSON is YAML's flow style.
    let text = serde_json::to_string(record).unwrap();
    let sourced = brightproof::app::book::parse("lots/x.yaml", text, brightproof::validate::record);
    let case = book.case(sourced.map_err(|e| e.to_string())?).map_err(|e| e.to_string())?;
    Ok(judge(&case.dossier))
}

fn name(filled: &Filled) -> String {
    let block = match filled.spot {
        Some(spot) => serde_json::to_value(spot).unwrap().as_str().unwrap().to_owned(),
        None => filled.block.trim_start_matches('/').split('/').next().unwrap().to_owned(),
    };
    format!("{block}.{}", filled.key)
}

/// Whether a gap is that field's own.
fn own(subject: Subject, filled: &Filled, spot: Spot) -> bool {
    let key = filled.key.as_str();
    let stands = fields(subject).iter().any(|(s, k)| *s == spot && *k == key);
    // The instant pieces went in dates the use of the bath and the day people worked; the last one ends the run.
    let dates = matches!(key, "in" | "out" | "at")
        && matches!(
            subject,
            Subject::PostTreatmentDelay | Subject::HydrogenReliefDelay | Subject::RinseCalibration
        );
    let meter = spot == Spot::PostRinse && key == "instrument" && subject == Subject::RinseCalibration;
    let gauge = spot == Spot::Measurement && matches!(subject, Subject::LimitCalibration);
    // A run of one step ends with it: without its time nobody can tell that a test came after.
    let ends =
        spot == Spot::Dry && key == "at" && matches!(subject, Subject::OperatorQualified | Subject::TestMade);
    stands || ends || dates || meter || gauge
}

/// What happens when each filled field is left out.
fn left_out(
    book: &Book,
    record: &Value,
    filled: &[Filled],
    requirements: &BTreeMap<String, Requirement>,
    plan: &Plan,
    seen: &mut BTreeSet<String>,
) -> Vec<String> {
    let house = book.packs.iter().find(|p| p.is_house()).unwrap();
    let mut wrong = Vec::new();
    for field in filled {
        let mut without = record.clone();
        without.pointer_mut(&field.block).unwrap().as_object_mut().unwrap().remove(&field.key).unwrap();
        let found = match judged(book, &without) {
            // What no record can do without is a fault that names it.
            Err(fault) if fault.contains(&field.key) || fault.contains("runs") => continue,
            Err(fault) => {
                wrong.push(format!("{}: {fault}", name(field)));
                continue;
            }
            Ok(found) => found,
        };
        let gaps: Vec<&Finding> = found.iter().filter(|f| f.is_gap()).collect();
        let looked = field.spot.is_some_and(|spot| {
            plan.demands().any(|d| {
                !d.advice
                    && d.test == field.test
                    && fields(d.subject).iter().any(|(s, k)| *s == spot && *k == field.key)
            })
        });
        if gaps.is_empty() {
            seen.insert(name(field));
            if looked || !OPTIONAL.iter().any(|(n, _)| *n == name(field)) {
                wrong.push(format!("{}: left out, and the lot conforms", name(field)));
            }
        }
        for gap in gaps {
            let id = gap.requirement.strip_prefix("house/");
            let subject = match id {
                Some(id) => house.requirements.iter().find(|r| r.id == id).map(|r| r.subject),
                None => requirements.get(&gap.requirement).map(|r| r.subject),
            };
            if !field.spot.is_some_and(|spot| subject.is_some_and(|s| own(s, field, spot))) {
                wrong.push(format!("{} left out: {}", name(field), brief(gap)));
            }
        }
    }
    // A whole block left out is never a pass where anything is demanded of it.
    for spot in filled.iter().filter_map(|f| f.spot).collect::<BTreeSet<_>>() {
        let demanded = plan.demands().any(|d| !d.advice && fields(d.subject).iter().any(|(s, _)| *s == spot));
        let block = &filled.iter().find(|f| f.spot == Some(spot)).unwrap().block;
        let mut without = record.clone();
        let (list, index) = match block.strip_prefix("/runs/0/steps/") {
            Some(rest) => ("/runs/0/steps".to_owned(), rest.split('/').next().unwrap()),
            None => block.rsplit_once('/').map(|(list, index)| (list.to_owned(), index)).unwrap(),
        };
        without.pointer_mut(&list).unwrap().as_array_mut().unwrap().remove(index.parse().unwrap());
        // The final rinse does for the one next after the bath, and descaling for cleaning.
        let spared = spot == Spot::Rinse
            || (spot == Spot::Clean && filled.iter().any(|f| f.spot == Some(Spot::Descale)));
        if demanded && !spared && judged(book, &without).is_ok_and(|found| conforms(&found)) {
            wrong.push(format!("{spot:?}: the whole block left out, and the lot conforms"));
        }
    }
    wrong
}

/// What was planned and not judged, or judged and not planned.
fn disagreement(pack: &Pack, plan: &Plan, found: &[Finding]) -> Vec<String> {
    let prefix = format!("{}/", pack.pack);
    let planned: BTreeSet<&str> =
        plan.demands().filter(|d| !d.advice).map(|d| d.requirement.as_str()).collect();
    let own = || found.iter().filter(|f| f.requirement.starts_with(&prefix));
    let judged: BTreeSet<&str> = own().map(|f| f.requirement.as_str()).collect();
    let applied = own().filter(|f| !matches!(f.verdict, Verdict::NotApplicable | Verdict::Advice));
    let unplanned = applied.map(|f| f.requirement.as_str()).filter(|id| !planned.contains(id));
    let unplanned = unplanned.map(|id| format!("judged, not planned: {id}"));
    let unjudged = planned.difference(&judged).map(|id| format!("planned, not judged: {id}"));
    unplanned.chain(unjudged).collect()
}

/// One case through: planned, written, filled in, judged, and judged with each field left out.
fn through(
    book: &mut Book,
    pack: &Pack,
    edition: &str,
    (case, plan): (&Case, &Plan),
    only: Option<Spot>,
    seen: &mut BTreeSet<String>,
) -> Vec<String> {
    let request = Request {
        order: ORDER,
        line: "1",
        part: None,
        grade: Some(case.grade),
        quantity: None,
        tests: &case.chosen,
        treatment: None,
    };
    shop::order(book, &case.part, &case.call_out);
    let text = blank::blank(book, "L-1", &request).unwrap();
    let requirements = shop::requirements(book, pack, edition);
    let mut filler = Filler::new(plan, &requirements, case.grade, case.call_out.treatment.as_deref());
    let record = filler.record(&text, book);
    let mut filled = filler.filled;
    filled.retain(|f| only.is_none() || f.spot == only);
    let found = match judged(book, &record) {
        Ok(found) => found,
        Err(fault) => return vec![format!("{fault}\n{text}")],
    };
    if !conforms(&found) {
        let gaps: Vec<String> = found.iter().filter(|f| f.is_gap()).map(brief).collect();
        return vec![format!("filled in, and it does not conform: {gaps:#?}\n{text}")];
    }
    let disagree = disagreement(pack, plan, &found);
    if !disagree.is_empty() {
        return disagree;
    }
    left_out(book, &record, &filled, &requirements, plan, seen)
}

/// Every call-out to be tried of a pack: each treatment, each test, each option.
fn call_outs(pack: &Pack, edition: &str) -> Vec<(String, CallOut, Vec<PartCondition>)> {
    let standard = Some(pack.named(edition));
    let base = CallOut { standard, ..CallOut::default() };
    let mut all = Vec::new();
    let treatments: Vec<Option<String>> = if pack.treatments.is_empty() {
        vec![None]
    } else {
        pack.treatments.iter().map(|t| Some(t.name.clone())).collect()
    };
    for treatment in &treatments {
        let call = CallOut { treatment: treatment.clone(), ..base.clone() };
        all.push((format!("{treatment:?}"), call.clone(), Vec::new()));
    }
    for named in &pack.tests {
        for treatment in &treatments {
            let call = CallOut { treatment: treatment.clone(), tests: vec![named.test], ..base.clone() };
            all.push((format!("test {}", named.test.name()), call, Vec::new()));
        }
    }
    let named =
        |wanted: &dyn Fn(&Requirement) -> bool| pack.requirements.iter().any(|r| !r.advice && wanted(r));
    for option in OrderOption::ALL.iter().filter(|o| named(&|r| r.when.options.contains(o))) {
        for treatment in &treatments {
            let call = CallOut { treatment: treatment.clone(), options: vec![*option], ..base.clone() };
            all.push((format!("option {}", option.name()), call, Vec::new()));
        }
    }
    for condition in PartCondition::ALL.iter().copied().filter(|c| named(&|r| r.when.conditions.contains(c)))
    {
        for treatment in &treatments {
            let call = CallOut { treatment: treatment.clone(), ..base.clone() };
            all.push((format!("{condition:?}"), call, vec![condition]));
        }
    }
    all
}

/// Every case of a pack; what could not be tried at all is told by name.
fn of_pack(pack: &Pack) -> (Vec<String>, Vec<String>, BTreeSet<String>, usize) {
    let edition = pack.editions.last().unwrap();
    let mut book = shop::book(pack, edition);
    let (mut wrong, mut untried, mut seen) = (Vec::new(), Vec::new(), BTreeSet::new());
    let mut tried: BTreeSet<String> = BTreeSet::new();
    let mut count = 0;
    for (what, call, conditions) in call_outs(pack, edition) {
        // Each treatment; of tests, options and conditions one treatment each that takes them.
        let once = !what.starts_with("Some") && !what.starts_with("None");
        if once && tried.contains(&what) {
            continue;
        }
        let found = fitting(&mut book, &call, &conditions);
        let Some((case, plan)) = found else {
            untried.push(format!("{} {what} ({:?})", pack.pack, call.treatment));
            continue;
        };
        tried.insert(what.clone());
        count += 1;
        // What a test adds is looked at alone: the steps were left out one by one under the treatment.
        let only = what.starts_with("test").then_some(Spot::Test);
        for fault in through(&mut book, pack, edition, (&case, &plan), only, &mut seen) {
            wrong.push(format!(
                "{} {what} {:?} on {}: {fault}",
                pack.pack, case.call_out.treatment, case.grade
            ));
        }
    }
    untried.retain(|u| !tried.iter().any(|what| u.starts_with(&format!("{} {what} ", pack.pack))));
    (wrong, untried, seen, count)
}

/// Standards, and what of them cannot be tried: why a plan always has a question there.
fn one(id: &str, cannot: &[&str]) {
    let packs = brightproof::app::builtin::packs().unwrap();
    let pack = packs.iter().find(|p| p.pack == id).unwrap();
    let (wrong, untried, seen, count) = of_pack(pack);
    let known: BTreeSet<&str> = OPTIONAL.iter().map(|(name, _)| *name).collect();
    assert!(seen.iter().all(|name| known.contains(name.as_str())), "{seen:?}");
    assert!(wrong.is_empty(), "{} of {count}: {}", wrong.len(), wrong.join("\n"));
    assert_eq!(untried, cannot, "untried");
}

macro_rules! standards {
    ($( $name:ident, $id:literal, [$($cannot:literal),*]; )*) => {
        $( #[test] fn $name() { one($id, &[$($cannot),*]); } )*

        #[test]
        fn no_standard_is_left_out() {
            let packs = brightproof::app::builtin::packs().unwrap();
            let ids: Vec<&str> = packs.iter().map(|p| p.pack.as_str()).filter(|p| *p != "house").collect();
            let mut listed = vec![$($id),*];
            listed.sort_unstable();
            let mut known = ids;
            known.sort_unstable();
            assert_eq!(listed, known);
        }
    };
}

standards! {
    astm_a967, "astm-a967", [];
    astm_a967_05, "astm-a967-05", [];
    astm_a380, "astm-a380", [];
    astm_b912, "astm-b912", [];
    astm_b117, "astm-b117", [];
    astm_f86, "astm-f86", [];
    ams_2700, "ams-2700", [];
    ams_qq_p_35, "ams-qq-p-35", [];
    qq_p_35, "qq-p-35", [];
    mil_std_753, "mil-std-753", [];
    asme_bpe, "asme-bpe", [];
    semi_f19, "semi-f19", [];
    iso_15730, "iso-15730", [];
    iso_16048, "iso-16048", [];
    iso_9227, "iso-9227", [];
    en_2516, "en-2516", [];
}
