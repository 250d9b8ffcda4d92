//! Evidence about the tests ordered under one call-out: only tests begun after the last treatment of the
//! pieces they cover count; earlier ones are history, and a failed one doubles the number to test.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use crate::finding::Document;
use crate::finding::Reason;
use crate::judge::Dossier;
use crate::judge::Evidence;
use crate::judge::Found;
use crate::judge::Resolved;
use crate::judge::calibration::calibration;
use crate::judge::calibration::fitting;
use crate::judge::calibration::uncertainty;
use crate::judge::compare::close;
use crate::judge::family;
use crate::judge::later;
use crate::judge::outside;
use crate::judge::papers;
use crate::judge::part;
use crate::judge::people;
use crate::judge::runs::FinalRun;
use crate::judge::shared;
use crate::pack::Pack;
use crate::pack::SamplingTable;
use crate::pack::Subject;
use crate::part::CallOut;
use crate::part::OrderOption;
use crate::path::Path;
use crate::record::Specimen;
use crate::record::Test;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::sampling::Name;
use crate::sampling::zero_acceptance_pieces;
use crate::shop::Ingredient;
use crate::shop::InstrumentKind;
use crate::shop::Solution;
use crate::surface::SurfaceError;
use crate::surface::SurfaceRatio;
use crate::units::Quantity;
use crate::units::Unit;

/// Pieces to take and failures allowed for a lot of this size: by the plan ordered, the number ordered, or the
/// standard's own number. `None` when none of them says how many.
pub fn sample(dossier: &Dossier, resolved: &Resolved, lot: u64) -> Option<(u64, u64)> {
    sample_of(&dossier.sampling, resolved.call_out, &resolved.pack.pack, lot)
}

/// The same for a call-out of a standard, before there is a lot: what is ordered, and the failures allowed.
pub fn sample_of(tables: &[SamplingTable], call_out: &CallOut, pack: &Pack, lot: u64) -> Option<(u64, u64)> {
    if let Some(plan) = call_out.sampling {
        let (pieces, accept) = planned(tables, &plan, call_out.standard.as_deref(), lot)?;
        // A number beside a plan: the larger of the two.
        return Some((pieces.max(call_out.test_pieces.unwrap_or(0)), accept));
    }
    let number = call_out.test_pieces.or(pack.test_pieces)?;
    Some((number, 0))
}

/// Pieces and failures allowed by a plan. Clauses that build on a standard have its plan and no table of their own:
/// the severest of those with that plan stands for them.
pub fn planned(
    tables: &[SamplingTable],
    plan: &Name,
    standard: Option<&str>,
    lot: u64,
) -> Option<(u64, u64)> {
    match plan {
        Name::Every => Some((lot, 0)),
        Name::Zero(zero) => {
            zero_acceptance_pieces(lot, zero.ltpd(), zero.risk()).ok().map(|pieces| (pieces, 0))
        }
        _ => table_of(tables, plan, standard)?.for_lot(lot),
    }
}

/// The table of a plan, for inspection under a standard.
pub fn table_of<'a>(
    tables: &'a [SamplingTable],
    plan: &Name,
    standard: Option<&str>,
) -> Option<&'a SamplingTable> {
    let severity = |table: &&SamplingTable| table.switched.as_ref().map(|s| (s.stopped, s.severity));
    let own = tables.iter().find(|t| t.is_for(plan, standard));
    own.or_else(|| tables.iter().filter(|t| t.level == *plan).max_by_key(severity))
}

/// Whether a test counts for a run: it covers it and began after its end.
pub fn counts_for(test: &Test, run: &FinalRun) -> bool {
    run.covered_by(&test.covers) && run.end().is_some_and(|end| test.started >= end)
}

/// The tests of a standard that the shop made, where the order leaves the choice to it.
pub fn chosen(dossier: &Dossier, pack: &EffectivePack, runs: &[FinalRun]) -> Vec<TestKind> {
    let counts =
        |kind| dossier.record.tests.iter().any(|t| t.test == kind && runs.iter().any(|r| counts_for(t, r)));
    pack.pack.tests.iter().map(|named| named.test).filter(|kind| counts(*kind)).collect()
}

/// Whether the pieces of a run failed such a test before they were treated again.
fn failed_before(dossier: &Dossier, run: &FinalRun, kind: TestKind) -> bool {
    let names: Vec<&str> = std::iter::once(run.index)
        .chain(run.earlier.iter().copied())
        .filter_map(|i| dossier.record.runs.get(i))
        .map(|r| r.run.as_str())
        .collect();
    // What failed before the lot was split off or put together failed all the same.
    family::failed_before(dossier, kind)
        || dossier.record.tests.iter().any(|t| {
            t.test == kind
                && t.failed > 0
                && !counts_for(t, run)
                && t.covers.iter().any(|covered| names.contains(&covered.as_str()))
        })
}

/// Evidence for one subject of one kind of test.
pub fn evidence(
    dossier: &Dossier,
    resolved: &Resolved,
    runs: &[FinalRun],
    kind: TestKind,
    subject: Subject,
) -> Vec<Evidence> {
    let path = Path::root().key("tests");
    let counted: Vec<(usize, &Test)> = dossier
        .record
        .tests
        .iter()
        .enumerate()
        .filter(|(_, t)| t.test == kind && runs.iter().any(|r| counts_for(t, r)))
        .collect();
    let own = runs.iter().fold(0_u64, |sum, r| sum.saturating_add(r.pieces));
    // Where one test speaks for several lots they are one lot to the plan.
    let lot = own.saturating_add(shared::others_pieces(dossier, kind));
    match subject {
        Subject::TestMade => return made(dossier, runs, kind, &path),
        Subject::RetestPieces => return retested(dossier, resolved, runs, kind, lot),
        Subject::TestPieces => {
            if counted.is_empty() {
                return vec![Evidence::record(path, Found::Missing(Reason::TestNotMade(String::new())))];
            }
            let own = counted.iter().filter(|(_, t)| part::speaks_for_part(dossier, &t.covers));
            let pieces = own.fold(0_u64, |sum, (_, t)| sum.saturating_add(t.pieces));
            let Some((ordered, _)) = sample(dossier, resolved, lot) else {
                let reason = Reason::Unknown("how many pieces to test".to_owned());
                return vec![Evidence::record(path, Found::Missing(reason))];
            };
            return vec![Evidence::record(path, Found::Counted { pieces, ordered, lot })];
        }
        _ => {}
    }
    if counted.is_empty() {
        return vec![Evidence::record(path, Found::Missing(Reason::TestNotMade(String::new())))];
    }
    let accept = sample(dossier, resolved, lot).map_or(0, |(_, accept)| accept);
    if subject == Subject::TestResult {
        // The plan's allowance is for the lot, not for each test into which it was divided.
        let pieces = counted.iter().fold(0_u64, |sum, (_, t)| sum.saturating_add(t.pieces));
        let failed = counted.iter().fold(0_u64, |sum, (_, t)| sum.saturating_add(t.failed));
        if failed > accept {
            let first = counted.iter().find(|(_, t)| t.failed > 0);
            let at = first.map_or(path.clone(), |(i, _)| path.index(*i).key("failed"));
            return vec![Evidence::record(at, Found::Sample { pieces, failed, accept })];
        }
    }
    match subject {
        Subject::TesterQualified => {
            if counted.iter().all(|(_, test)| test.made_outside()) {
                return vec![Evidence::record(path, Found::NotApplicable)];
            }
            let deeds: Vec<_> = counted
                .iter()
                .flat_map(|(i, test)| people::of_test(test, &dossier.solutions, &path.index(*i)))
                .collect();
            return people::qualified(dossier, &deeds);
        }
        Subject::NextTestCalibration => {
            let used: Vec<_> = counted
                .iter()
                .filter(|(_, test)| !test.made_outside())
                .filter_map(|(_, test)| Some((test.instrument.clone()?, test.started.date())))
                .collect();
            return later::calibrations(dossier, &used, path);
        }
        Subject::TestInstrumentKind => return kinds(dossier, kind, &counted, &path),
        _ => {}
    }
    counted
        .into_iter()
        .map(|(i, test)| {
            let found = of_test(dossier, resolved, test, &path.index(i), subject, accept);
            // The chamber or thermometer the test names is what its conditions were read on.
            match (&found.found, test.instrument.as_deref()) {
                (Found::Quantity(_), Some(id)) => {
                    let known = uncertainty(dossier, Some(id), Some(test.started.date()));
                    found.with(known)
                }
                _ => found,
            }
        })
        .collect()
}

/// The kind of each instrument named; tests that need none but a clock may name none.
fn kinds(dossier: &Dossier, kind: TestKind, counted: &[(usize, &Test)], path: &Path) -> Vec<Evidence> {
    let own = counted.iter().filter(|(_, test)| !test.made_outside());
    let named = own.filter_map(|(i, test)| {
        let id = test.instrument.as_deref()?;
        let at = path.index(*i).key("instrument");
        Some(fitting(dossier, id, at, InstrumentKind::for_test(kind)))
    });
    let all: Vec<Evidence> = named.filter(|e| !matches!(e.found, Found::NotApplicable)).collect();
    if all.is_empty() { vec![Evidence::record(path.clone(), Found::NotApplicable)] } else { all }
}

/// Pieces tested again, for each run whose pieces failed such a test before: tests of other runs prove nothing of
/// them.
fn retested(
    dossier: &Dossier,
    resolved: &Resolved,
    runs: &[FinalRun],
    kind: TestKind,
    lot: u64,
) -> Vec<Evidence> {
    let path = Path::root().key("tests");
    let mut all = Vec::new();
    for run in runs.iter().filter(|r| failed_before(dossier, r, kind)) {
        let tests =
            dossier.record.tests.iter().filter(|t| {
                t.test == kind && counts_for(t, run) && part::speaks_for_part(dossier, &t.covers)
            });
        let pieces = tests.fold(0_u64, |sum, t| sum.saturating_add(t.pieces));
        all.push(match sample(dossier, resolved, lot) {
            _ if pieces == 0 => {
                Evidence::record(path.clone(), Found::Missing(Reason::TestNotMade(String::new())))
            }
            Some((ordered, _)) => Evidence::record(path.clone(), Found::Counted { pieces, ordered, lot }),
            None => {
                let reason = Reason::Unknown("how many pieces to test".to_owned());
                Evidence::record(path.clone(), Found::Missing(reason))
            }
        });
    }
    if all.is_empty() { vec![Evidence::record(path, Found::NotApplicable)] } else { all }
}

/// One piece of evidence a final run: a test of the kind that counts for it.
fn made(dossier: &Dossier, runs: &[FinalRun], kind: TestKind, path: &Path) -> Vec<Evidence> {
    let mut all = Vec::new();
    let mut shown = BTreeSet::new();
    for run in runs {
        let made =
            || dossier.record.tests.iter().enumerate().filter(|(_, t)| t.test == kind && counts_for(t, run));
        let counting = made().find(|(_, t)| part::speaks_for_part(dossier, &t.covers));
        if let (None, Some((i, _))) = (counting, made().next()) {
            all.push(Evidence::record(path.index(i).key("covers"), Found::Missing(part::not_alone(run))));
            continue;
        }
        let early = dossier.record.tests.iter().position(|t| t.test == kind && run.covered_by(&t.covers));
        match (counting, early) {
            (Some((i, test)), _) => {
                if shown.insert(i) {
                    let shown = format!("made {}", test.started);
                    all.push(Evidence::record(path.index(i), Found::Fact { shown, holds: true }));
                }
            }
            (None, Some(i)) => {
                all.push(Evidence::record(path.index(i).key("started"), Found::Missing(Reason::TestTooEarly)))
            }
            (None, None) => {
                let reason = Reason::TestNotMade(format!("run {}", run.run.run));
                all.push(Evidence::record(path.clone(), Found::Missing(reason)));
            }
        }
    }
    all
}

fn quantity(value: Option<Quantity>, path: Path) -> Evidence {
    match value {
        Some(value) => Evidence::record(path, Found::Quantity(value)),
        None => Evidence::missing(path),
    }
}

/// A ratio computed from what the surface was found to consist of.
fn ratio(found: Result<SurfaceRatio, SurfaceError>, path: &Path) -> Evidence {
    let at = path.key("atomic_percent");
    match found {
        Ok(ratio) => Evidence::record(at, Found::Quantity(Quantity::new(ratio.value, Unit::Ratio))),
        Err(error) => Evidence::record(at, Found::Missing(Reason::Unreadable(error.to_string()))),
    }
}

fn words(value: &Option<String>, path: Path) -> Evidence {
    match value {
        Some(value) => Evidence::record(path, Found::Words(vec![value.clone()])),
        None => Evidence::missing(path),
    }
}

fn of_test(
    dossier: &Dossier,
    resolved: &Resolved,
    test: &Test,
    path: &Path,
    subject: Subject,
    accept: u64,
) -> Evidence {
    if let Some(evidence) = outside::of_test(test, path, subject) {
        return evidence;
    }
    match subject {
        Subject::TestResult => Evidence::record(
            path.key("failed"),
            Found::Sample { pieces: test.pieces, failed: test.failed, accept },
        ),
        Subject::TestSpecimen => {
            let allowed = resolved.call_out.options.contains(&OrderOption::CouponsAllowed);
            let (shown, holds) = match test.specimen {
                Specimen::Part => ("parts", true),
                Specimen::Coupon => ("coupons", allowed),
            };
            Evidence::record(path.key("specimen"), Found::Fact { shown: shown.to_owned(), holds })
        }
        Subject::TestCoupon => papers::coupon(dossier, test, path),
        Subject::TestCalibration => match &test.instrument {
            Some(id) => calibration(
                dossier,
                id,
                test.started.date(),
                path.key("instrument"),
                InstrumentKind::for_test(test.test),
            ),
            None => Evidence::missing(path.key("instrument")),
        },
        Subject::TestDuration => duration(test, path),
        Subject::TestCycles => {
            quantity(test.cycles.map(|n| Quantity::new(Decimal::from(n), Unit::Cycle)), path.key("cycles"))
        }
        Subject::TestWetTime => quantity(test.wet, path.key("wet")),
        Subject::TestDryTime => quantity(test.dry, path.key("dry")),
        Subject::TestWater => words(&test.water, path.key("water")),
        Subject::TestTemperature => quantity(test.temperature, path.key("temperature")),
        Subject::TestHumidity => quantity(test.humidity, path.key("humidity")),
        Subject::TestSalt => quantity(test.salt, path.key("salt")),
        Subject::TestFogPh => quantity(test.acidity, path.key("acidity")),
        Subject::TestFallout => quantity(test.fallout, path.key("fallout")),
        Subject::TestKeptWet => quantity(test.kept_wet, path.key("kept_wet")),
        Subject::TestReadWithin => quantity(test.read_within, path.key("read_within")),
        Subject::TestCollectedOver => quantity(test.collected_over, path.key("collected_over")),
        Subject::TestAngle => quantity(test.angle, path.key("angle")),
        Subject::TestTowerTemperature => quantity(test.tower_temperature, path.key("tower_temperature")),
        Subject::TestTowerPressure => quantity(test.tower_pressure, path.key("tower_pressure")),
        Subject::TestWaterConductivity => quantity(test.conductivity, path.key("conductivity")),
        Subject::TestFogDensity => quantity(test.density, path.key("density")),
        Subject::ChromiumToIron => match &test.atomic_percent {
            Some(percent) => ratio(percent.chromium_to_iron(), path),
            None => quantity(test.chromium_to_iron, path.key("chromium_to_iron")),
        },
        Subject::ChromiumOxideToIronOxide => match &test.atomic_percent {
            Some(percent) => ratio(percent.oxide_ratio(), path),
            None => quantity(test.chromium_oxide_to_iron_oxide, path.key("chromium_oxide_to_iron_oxide")),
        },
        Subject::OxideDepth => quantity(test.oxide_depth, path.key("oxide_depth")),
        Subject::DefectsCounted => quantity(test.defects, path.key("defects")),
        Subject::TestCleanedWith => words(&test.cleaned_with, path.key("cleaned_with")),
        _ => of_solution(dossier, test, path, subject),
    }
}

fn duration(test: &Test, path: &Path) -> Evidence {
    match (&test.ended, test.time) {
        (Some(ended), Some(timer)) if ended.since(&test.started).is_none_or(|span| !close(&span, &timer)) => {
            let said = format!("{} to {ended}, {timer} by the timer", test.started);
            Evidence::record(path.key("time"), Found::Missing(Reason::Contradiction(said)))
        }
        (Some(ended), _) => match ended.since(&test.started) {
            Some(span) => Evidence::record(path.key("ended"), Found::Quantity(span)),
            None => Evidence::record(
                path.key("ended"),
                Found::Missing(Reason::Contradiction("it ends before it starts".to_owned())),
            ),
        },
        (None, Some(timer)) => Evidence::record(path.key("time"), Found::Quantity(timer)),
        (None, None) => Evidence::missing(path.key("ended")),
    }
}

fn of_solution(dossier: &Dossier, test: &Test, path: &Path, subject: Subject) -> Evidence {
    let Some(id) = &test.solution else { return Evidence::missing(path.key("solution")) };
    let Some(solution) = dossier.solutions.iter().find(|s| s.solution == *id) else {
        let reason = Reason::NotInBook(format!("test solution `{id}`"));
        return Evidence::record(path.key("solution"), Found::Missing(reason));
    };
    let book = Path::root().key("solutions").key(id);
    let at = |key: &str, found: Found| Evidence::at(Document::Solutions, book.key(key), found);
    // A batch mixed for one test must not stand in another.
    if solution.what != test.test.name() {
        let reason = Reason::Contradiction(format!("it was mixed for {}", solution.what));
        return at("what", Found::Missing(reason));
    }
    let late = || Found::Missing(Reason::Contradiction("it was mixed after the test began".to_owned()));
    match subject {
        Subject::SolutionAge => match test.started.since(&solution.mixed) {
            Some(age) => at("mixed", Found::Quantity(age)),
            None => at("mixed", late()),
        },
        Subject::SolutionSameDay => match test.started.since(&solution.mixed) {
            Some(_) => {
                let holds = solution.mixed.date() == test.started.date();
                at("mixed", Found::Fact { shown: format!("mixed {}", solution.mixed), holds })
            }
            None => at("mixed", late()),
        },
        Subject::SolutionCopperSulfate => {
            recipe(solution, Ingredient::CopperSulfate, Ingredient::DistilledWater, 250)
        }
        Subject::SolutionSulfuricAcid => {
            recipe(solution, Ingredient::SulfuricAcid, Ingredient::DistilledWater, 250)
        }
        // The spray is told by the water it goes into, the swab by what it is made up to.
        Subject::SolutionFerricyanide if test.test == TestKind::Ferroxyl => {
            recipe(solution, Ingredient::PotassiumFerricyanide, Ingredient::DistilledWater, 1000)
        }
        Subject::SolutionNitricAcid if test.test == TestKind::Ferroxyl => {
            recipe(solution, Ingredient::NitricAcid, Ingredient::DistilledWater, 1000)
        }
        Subject::SolutionFerricyanide => {
            recipe(solution, Ingredient::PotassiumFerricyanide, Ingredient::MadeUpTo, 1000)
        }
        Subject::SolutionNitricAcid => recipe(solution, Ingredient::NitricAcid, Ingredient::MadeUpTo, 1000),
        _ => Evidence::missing(path.clone()),
    }
}

/// What may stand in the recipes whose amounts are judged; nothing else may have gone in.
fn belongs(ingredient: Ingredient, base: Ingredient, kind: &str) -> bool {
    match base {
        Ingredient::DistilledWater if kind == TestKind::Ferroxyl.name() => matches!(
            ingredient,
            Ingredient::PotassiumFerricyanide | Ingredient::NitricAcid | Ingredient::DistilledWater
        ),
        Ingredient::MadeUpTo => matches!(
            ingredient,
            Ingredient::PotassiumFerricyanide
                | Ingredient::NitricAcid
                | Ingredient::DistilledWater
                | Ingredient::MadeUpTo
        ),
        _ => matches!(
            ingredient,
            Ingredient::CopperSulfate | Ingredient::SulfuricAcid | Ingredient::DistilledWater
        ),
    }
}

/// How much of an ingredient stands in `scale` mL: what went in, scaled by the water it went into.
fn recipe(solution: &Solution, ingredient: Ingredient, base: Ingredient, scale: u32) -> Evidence {
    let book = Path::root().key("solutions").key(&solution.solution).key("recipe");
    let at = |found: Found| Evidence::at(Document::Solutions, book.clone(), found);
    // What goes into the ferroxyl developer is not known whole, so nothing is foreign to it.
    let known = solution.what != TestKind::ModifiedFerroxyl.name();
    if known && solution.recipe.keys().any(|i| !belongs(*i, base, &solution.what)) {
        let reason = Reason::Contradiction("something went in that this solution does not hold".to_owned());
        return at(Found::Missing(reason));
    }
    let (Some(amount), Some(volume)) = (solution.recipe.get(&ingredient), solution.recipe.get(&base)) else {
        return at(Found::Missing(Reason::NotRecorded));
    };
    if volume.unit() != Unit::Millilitre || volume.value() <= Decimal::ZERO {
        return at(Found::Missing(Reason::WrongUnit));
    }
    let scaled = amount.value().checked_mul(Decimal::from(scale)).and_then(|v| v.checked_div(volume.value()));
    match scaled {
        Some(value) => at(Found::Quantity(Quantity::new(value.normalize(), amount.unit()))),
        None => at(Found::Missing(Reason::WrongUnit)),
    }
}
