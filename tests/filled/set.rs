//! Putting one value into a lot, where its subject looks for it.

use std::collections::BTreeMap;

use brightproof::judge::Dossier;
use brightproof::moment::Moment;
use brightproof::pack::Requirement;
use brightproof::pack::Subject;
use brightproof::pack::TreatmentStep;
use brightproof::part::PartCondition;
use brightproof::record::Immersion;
use brightproof::record::Step;
use brightproof::record::TestKind;
use brightproof::shop::Constituent;
use brightproof::shop::Ingredient;
use brightproof::units::Quantity;
use brightproof::units::Unit;

use crate::support;
use crate::support::each_time;
use crate::support::later;
use crate::support::set_grade;

/// A value to put in.
#[derive(Debug, Clone)]
pub enum Value {
    Quantity(Quantity),
    Words(Vec<String>),
    /// Done, found, written down.
    Recorded,
    /// Not there at all.
    Nothing,
    /// So many pieces failed.
    Failed(u64),
    /// The shop's own limit is kept, or broken.
    Own(bool),
}

fn minutes(value: &Quantity) -> i64 {
    let scale = match value.unit() {
        Unit::Minute => 60,
        Unit::Hour => 3600,
        Unit::Day => 86400,
        Unit::Second => 1,
        other => panic!("{other} is no time"),
    };
    let seconds = value.value() * rust_decimal::Decimal::from(scale);
    // Rounded towards more: a second over a limit must stay over it.
    i64::try_from((seconds / rust_decimal::Decimal::from(60)).ceil()).unwrap()
}

fn immersion<'a>(dossier: &'a mut Dossier, keys: &[&str]) -> &'a mut Immersion {
    let step = dossier.record.runs[0].steps.iter_mut().find(|s| keys.contains(&s.key())).unwrap();
    support::immersion(step).unwrap()
}

const TREAT: &[&str] = &["passivate", "electropolish"];

fn drop_step(dossier: &mut Dossier, key: &str) {
    dossier.record.runs[0].steps.retain(|s| s.key() != key);
}

/// Moves everything behind the step of this place by so many minutes.
fn shift(dossier: &mut Dossier, after: usize, by: i64) {
    for step in dossier.record.runs[0].steps.iter_mut().skip(after + 1) {
        each_time(step, |at| Some(later(&at, by)));
    }
    let end = dossier.record.runs[0].steps.iter().filter_map(Step::end).max().unwrap();
    // Looks and tests stay behind the last step.
    for look in dossier.record.visual.iter_mut().filter(|look| look.at < end) {
        look.at = later(&end, 5);
    }
    for m in dossier.record.measurements.iter_mut().filter(|m| m.at < end) {
        m.at = later(&end, 5);
    }
    let first = later(&end, 60);
    for test in dossier.record.tests.iter_mut().filter(|t| t.started < first) {
        let span = test.ended.map(|ended| (ended.instant() - test.started.instant()).num_minutes());
        test.started = first;
        test.ended = span.map(|m| later(&first, m));
    }
    for solution in &mut dossier.solutions {
        let used = dossier.record.tests.iter().find(|t| t.solution.as_ref() == Some(&solution.solution));
        solution.mixed = used.map_or(solution.mixed, |t| later(&t.started, -30));
    }
}

fn position(dossier: &Dossier, keys: &[&str]) -> usize {
    dossier.record.runs[0].steps.iter().position(|s| keys.contains(&s.key())).unwrap()
}

fn stay(dossier: &mut Dossier, keys: &[&str], wanted: i64) {
    let at = position(dossier, keys);
    let bath = immersion(dossier, keys);
    let (into, out) = (bath.in_at.unwrap(), bath.out_at.unwrap());
    let had = (out.instant() - into.instant()).num_minutes();
    bath.out_at = Some(later(&into, wanted));
    shift(dossier, at, wanted - had);
}

/// Puts a step so long after an instant, and all that follows after it.
fn delay(dossier: &mut Dossier, keys: &[&str], from: Moment, wanted: i64) {
    let at = position(dossier, keys);
    let into = immersion(dossier, keys).in_at.unwrap();
    let by = (later(&from, wanted).instant() - into.instant()).num_minutes();
    shift(dossier, at.checked_sub(1).unwrap(), by);
}

fn bath_of<'a>(dossier: &'a mut Dossier, keys: &[&str]) -> &'a mut brightproof::shop::Bath {
    let id = immersion(dossier, keys).bath.clone();
    dossier.baths.iter_mut().find(|b| b.bath == id).unwrap()
}

fn strength(dossier: &mut Dossier, keys: &[&str], constituent: Constituent, value: &Value) {
    let found = &mut bath_of(dossier, keys).analyses[0].found;
    match value {
        Value::Quantity(q) => found.insert(constituent, *q),
        _ => found.remove(&constituent),
    };
}

fn recipe(dossier: &mut Dossier, kinds: &[TestKind], ingredient: Ingredient, value: &Value) {
    for kind in kinds {
        let id = format!("S-{kind:?}");
        let solution = dossier.solutions.iter_mut().find(|s| s.solution == id).unwrap();
        match value {
            Value::Quantity(q) => solution.recipe.insert(ingredient, *q),
            _ => solution.recipe.remove(&ingredient),
        };
    }
}

/// The last rinse, or the last before the chromate bath.
fn solids(dossier: &mut Dossier, of_post: bool, value: Option<Quantity>) {
    let steps = &mut dossier.record.runs[0].steps;
    let post = steps.iter().position(|s| matches!(s, Step::PostTreat(_))).unwrap_or(steps.len());
    let side = |i: usize| if of_post { i > post } else { i < post };
    let rinse = steps.iter_mut().enumerate().filter(|(i, _)| side(*i)).filter_map(|(_, s)| match s {
        Step::Rinse(rinse) if rinse.last => Some(rinse),
        _ => None,
    });
    rinse.last().unwrap().total_solids = value;
}

fn quantity(value: &Value) -> Option<Quantity> {
    match value {
        Value::Quantity(q) => Some(*q),
        Value::Nothing => None,
        other => panic!("{other:?} is no measurement"),
    }
}

fn words(value: &Value) -> Vec<String> {
    match value {
        Value::Words(words) => words.clone(),
        Value::Nothing => Vec::new(),
        other => panic!("{other:?} are no words"),
    }
}

/// Puts a value where the requirement's subject looks for it.
pub fn set(dossier: &mut Dossier, requirement: &Requirement, kinds: &[TestKind], value: &Value) {
    use Subject as S;
    let there = matches!(value, Value::Recorded);
    let as_it_is = !matches!(
        requirement.subject,
        S::Authorization | S::SolutionSameDay | S::TestCleanedWith | S::TestWater
    );
    if there && as_it_is {
        return;
    }
    match requirement.subject {
        S::NitricAcid => strength(dossier, TREAT, Constituent::NitricAcid, value),
        S::SodiumDichromate => strength(dossier, TREAT, Constituent::SodiumDichromate, value),
        S::CitricAcid => strength(dossier, TREAT, Constituent::CitricAcid, value),
        S::BathPh => strength(dossier, TREAT, Constituent::Ph, value),
        S::PostDipNitric => strength(dossier, &["post-dip"], Constituent::NitricAcid, value),
        S::PostTreatmentDichromate => {
            strength(dossier, &["post-treat"], Constituent::SodiumDichromate, value);
        }
        S::BathIngredients => bath_of(dossier, TREAT).ingredients = words(value),
        S::BathTemperature => immersion(dossier, TREAT).temperature = quantity(value),
        S::PostDipTemperature => immersion(dossier, &["post-dip"]).temperature = quantity(value),
        S::PostTreatmentTemperature => immersion(dossier, &["post-treat"]).temperature = quantity(value),
        S::HydrogenReliefTemperature => immersion(dossier, &["bake"]).temperature = quantity(value),
        S::Voltage => immersion(dossier, TREAT).voltage = quantity(value),
        S::CurrentDensity => immersion(dossier, TREAT).current_density = quantity(value),
        S::ImmersionTime if matches!(value, Value::Nothing) => {
            let bath = immersion(dossier, TREAT);
            bath.out_at = None;
            bath.time = None;
        }
        S::ImmersionTime => stay(dossier, TREAT, minutes(&quantity(value).unwrap())),
        S::PostDipTime => stay(dossier, &["post-dip"], minutes(&quantity(value).unwrap())),
        S::PostTreatmentTime => stay(dossier, &["post-treat"], minutes(&quantity(value).unwrap())),
        S::HydrogenReliefTime => stay(dossier, &["bake"], minutes(&quantity(value).unwrap())),
        S::PostTreatmentDelay => {
            let rinsed = dossier.record.runs[0].steps.iter().find_map(|s| match s {
                Step::Rinse(rinse) if rinse.last => rinse.at,
                _ => None,
            });
            delay(dossier, &["post-treat"], rinsed.unwrap(), minutes(&quantity(value).unwrap()));
        }
        S::HydrogenReliefDelay => {
            let out = immersion(dossier, TREAT).out_at.unwrap();
            delay(dossier, &["bake"], out, minutes(&quantity(value).unwrap()));
        }
        S::FinalRinseSolids => solids(dossier, false, quantity(value)),
        S::PostTreatmentRinseSolids => match value {
            Value::Recorded => {}
            Value::Nothing => solids(dossier, true, None),
            _ => solids(dossier, true, quantity(value)),
        },
        S::VisualLight => dossier.record.visual[0].light = quantity(value),
        S::Roughness | S::MeanRoughness => {
            dossier.record.measurements[0].readings = quantity(value).into_iter().collect();
        }
        S::SolutionCopperSulfate => recipe(dossier, kinds, Ingredient::CopperSulfate, value),
        S::SolutionSulfuricAcid => recipe(dossier, kinds, Ingredient::SulfuricAcid, value),
        S::SolutionFerricyanide => recipe(dossier, kinds, Ingredient::PotassiumFerricyanide, value),
        S::SolutionNitricAcid => recipe(dossier, kinds, Ingredient::NitricAcid, value),
        S::SolutionAge => mixed(dossier, kinds, -minutes(&quantity(value).unwrap())),
        S::SolutionSameDay => mixed(dossier, kinds, if there { -30 } else { -1440 }),
        S::Chromium => {
            let chromium = quantity(value).map(|q| ("Cr".to_owned(), q));
            dossier.record.material.heats[0].chemistry = chromium.into_iter().collect::<BTreeMap<_, _>>();
        }
        S::AlloySeries => set_series(dossier, &words(value)),
        S::PartUse => {
            let now = serde_json::to_value(dossier.part.used_for).unwrap();
            let words = words(value);
            if !words.iter().any(|w| now == w.as_str()) {
                dossier.part.used_for = serde_json::from_value(words[0].clone().into()).unwrap();
            }
        }
        S::PartConditions => {
            let named = words(value);
            let known = |w: &String| PartCondition::ALL.iter().copied().find(|c| c.name() == w);
            dossier.part.conditions = Some(named.iter().filter_map(known).collect());
        }
        S::ClassNamed => match value {
            Value::Words(words) => dossier.part.calls_for[0].class = words.first().cloned(),
            Value::Nothing => {
                dossier.part.calls_for[0].class = None;
                dossier.packs.iter_mut().for_each(|p| p.pack.default_class = None);
            }
            _ => {}
        },
        S::Authorization => {
            let options = &mut dossier.part.calls_for[0].options;
            options.retain(|o| *o != brightproof::part::OrderOption::MethodTwoAuthorized);
            if there {
                options.push(brightproof::part::OrderOption::MethodTwoAuthorized);
            }
        }
        S::TreatmentNamed => match value {
            Value::Words(words) => treat_as(dossier, words),
            Value::Nothing => dossier.record.runs[0].steps.retain(|s| !TREAT.contains(&s.key())),
            _ => {}
        },
        S::TreatmentOrdered => match value {
            Value::Nothing => unordered(dossier),
            Value::Words(words) => treat_as(dossier, words),
            _ => {}
        },
        S::TestOrdered if !there => dossier.part.calls_for[0].tests.clear(),
        S::Preparation if !there => drop_step(dossier, "clean"),
        S::Descaled if !there => drop_step(dossier, "descale"),
        S::Neutralized if !there => drop_step(dossier, "neutralize"),
        S::HydrogenRelief if !there => drop_step(dossier, "bake"),
        S::PostDip if !there => drop_step(dossier, "post-dip"),
        S::PostTreatment if !there => drop_step(dossier, "post-treat"),
        S::PostTreatmentDried if !there => drop_step(dossier, "dry"),
        S::Rinsed if !there => {
            let at = position(dossier, TREAT) + 1;
            let steps = &mut dossier.record.runs[0].steps;
            while matches!(steps.get(at), Some(Step::Rinse(_))) {
                steps.remove(at);
            }
        }
        S::FinalRinse if !there => dossier.record.runs[0].steps.iter_mut().for_each(|s| {
            if let Step::Rinse(rinse) = s {
                rinse.last = false;
            }
        }),
        S::Visual => match value {
            Value::Failed(failed) => dossier.record.visual[0].failed = *failed,
            _ => dossier.record.visual.clear(),
        },
        S::VisualCount => match value {
            Value::Quantity(q) => dossier.record.visual[0].pieces = u64::try_from(q.value()).unwrap(),
            Value::Own(kept) => dossier.record.visual[0].pieces = if *kept { 5 } else { 4 },
            other => panic!("{other:?}"),
        },
        S::PeriodicTest => match value {
            Value::Own(false) => dossier.periodic[0].interval = "1 d".parse().unwrap(),
            Value::Nothing => dossier.periodic.clear(),
            _ => {}
        },
        S::AnalysisAge => {
            if let Value::Own(false) = value {
                bath_of(dossier, TREAT).analysis_good_for = Some("1 min".parse().unwrap());
            }
        }
        S::LotSpan => {
            let days = quantity(value).unwrap();
            if minutes(&days) > 1440 {
                // The cleaning a day earlier does not count; a second run on the next day does.
                let mut again = dossier.record.runs[0].clone();
                again.run = "2".to_owned();
                for step in &mut again.steps {
                    if let Step::Passivate(i) | Step::Electropolish(i) = step {
                        i.in_at = i.in_at.map(|at| later(&at, 1440));
                        i.out_at = i.out_at.map(|at| later(&at, 1440));
                    }
                }
                dossier.record.runs.push(again);
            }
        }
        S::TestMade if !there => {
            dossier.record.tests.retain(|t| !kinds.is_empty() && !kinds.contains(&t.test))
        }
        _ => of_tests(dossier, requirement.subject, kinds, value),
    }
}

fn mixed(dossier: &mut Dossier, kinds: &[TestKind], before: i64) {
    for kind in kinds {
        let started = dossier.record.tests.iter().find(|t| t.test == *kind).unwrap().started;
        let id = format!("S-{kind:?}");
        dossier.solutions.iter_mut().find(|s| s.solution == id).unwrap().mixed = later(&started, before);
    }
}

/// A grade by name, or any grade of a series.
fn set_series(dossier: &mut Dossier, words: &[String]) {
    let Some(word) = words.first() else { return };
    let series = [
        ("200 series", "201"),
        ("300 series", "304L"),
        ("ferritic 400 series", "430"),
        ("martensitic 400 series", "420"),
        ("precipitation hardening", "17-4PH"),
        ("duplex", "2205"),
    ];
    let grade = series.iter().find(|(name, _)| name == word).map_or(word.as_str(), |(_, grade)| grade);
    // What the lot is made of was chosen for the conditions; a series of the list leaves it alone.
    let now = dossier.alloy.as_ref().map(|a| a.series.name());
    if grade == word || now.is_none_or(|now| !words.iter().any(|w| w == now)) {
        let now_in = now.is_some_and(|now| words.iter().any(|w| w == now));
        if !now_in {
            set_grade(dossier, grade);
        }
    }
}

/// Orders a treatment and lets the record say it was run.
fn treat_as(dossier: &mut Dossier, words: &[String]) {
    let all: Vec<_> = dossier.packs.iter().flat_map(|p| p.pack.treatments.clone()).collect();
    let now = dossier.part.calls_for[0].treatment.clone();
    // Words that name no treatment are no treatment; one that is named already stays.
    let Some(named) = words.iter().find_map(|w| all.iter().find(|t| t.name == *w)) else { return };
    if now.is_some_and(|now| words.contains(&now)) {
        return;
    }
    dossier.part.calls_for[0].treatment = Some(named.name.clone());
    for step in &mut dossier.record.runs[0].steps {
        let (Step::Passivate(i) | Step::Electropolish(i)) = step else { continue };
        let i = i.clone();
        *step = match named.step {
            TreatmentStep::Passivate => Step::Passivate(i),
            TreatmentStep::Electropolish => Step::Electropolish(i),
        };
    }
}

/// A run before this one whose pieces failed such a test, and are treated again.
fn failed_before(dossier: &mut Dossier, kinds: &[TestKind]) {
    let mut before = dossier.record.runs[0].clone();
    before.run = "0".to_owned();
    dossier.record.runs[0].treats_again = Some("0".to_owned());
    dossier.record.runs.insert(0, before);
    let first = dossier.record.runs[0].steps.first().and_then(Step::begin).unwrap();
    for step in &mut dossier.record.runs[0].steps {
        each_time(step, |at| Some(later(&at, -2880)));
    }
    let failed: Vec<_> = dossier.record.tests.iter().filter(|t| kinds.contains(&t.test)).cloned().collect();
    for mut test in failed {
        test.covers = vec!["0".to_owned()];
        test.failed = 1;
        test.started = later(&first, -1380);
        test.ended = Some(later(&first, -30));
        dossier.record.tests.insert(0, test);
    }
}

/// Leaves the treatment to the shop, which says what it ran.
fn unordered(dossier: &mut Dossier) {
    let ordered = dossier.part.calls_for[0].treatment.take();
    immersion(dossier, TREAT).run_as = ordered;
}

fn of_tests(dossier: &mut Dossier, subject: Subject, kinds: &[TestKind], value: &Value) {
    use Subject as S;
    if subject == S::RetestPieces {
        failed_before(dossier, kinds);
    }
    let last = |t: &&mut brightproof::record::Test| kinds.contains(&t.test) && t.covers != ["0"];
    for test in dossier.record.tests.iter_mut().filter(last) {
        match subject {
            S::TestDuration => match value {
                Value::Nothing => {
                    test.ended = None;
                    test.time = None;
                }
                Value::Recorded => {}
                _ => test.ended = Some(later(&test.started, minutes(&quantity(value).unwrap()))),
            },
            S::TestCycles => test.cycles = quantity(value).map(|q| u64::try_from(q.value()).unwrap()),
            S::TestWetTime => test.wet = quantity(value),
            S::TestDryTime => test.dry = quantity(value),
            S::TestTemperature => test.temperature = quantity(value),
            S::TestHumidity => test.humidity = quantity(value),
            S::TestSalt => test.salt = quantity(value),
            S::TestFogPh => test.acidity = quantity(value),
            S::TestFallout => test.fallout = quantity(value),
            S::TestKeptWet => test.kept_wet = quantity(value),
            S::TestReadWithin => test.read_within = quantity(value),
            S::TestCollectedOver => test.collected_over = quantity(value),
            S::TestAngle => test.angle = quantity(value),
            S::TestTowerTemperature => test.tower_temperature = quantity(value),
            S::TestTowerPressure => test.tower_pressure = quantity(value),
            S::TestWaterConductivity => test.conductivity = quantity(value),
            S::TestFogDensity => test.density = quantity(value),
            S::ChromiumToIron => test.chromium_to_iron = quantity(value),
            S::ChromiumOxideToIronOxide => test.chromium_oxide_to_iron_oxide = quantity(value),
            S::OxideDepth => test.oxide_depth = quantity(value),
            S::DefectsCounted => test.defects = quantity(value),
            S::TestWater => match value {
                Value::Recorded => test.water = Some("distilled".to_owned()),
                _ => test.water = words(value).first().cloned(),
            },
            S::TestCleanedWith => match value {
                Value::Recorded => test.cleaned_with = Some("acetone".to_owned()),
                _ => test.cleaned_with = words(value).first().cloned(),
            },
            S::TestPieces | S::RetestPieces => match value {
                Value::Quantity(q) => test.pieces = u64::try_from(q.value()).unwrap(),
                other => panic!("{other:?}"),
            },
            S::TestResult => match value {
                Value::Failed(failed) => test.failed = *failed,
                other => panic!("{other:?}"),
            },
            _ => {}
        }
    }
}
