//! A blank record: every field that the call-outs of an order line need, with their limits beside them as remarks.
//!
//! Nothing in it counts as evidence: what is left empty is a fault or a gap, and a limit stands only in a remark.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::judge;
use crate::judge::limit_text;
use crate::order::Line;
use crate::order::Order;
use crate::pack::Basis;
use crate::pack::Requirement;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::part::CallOut;
use crate::part::FieldSource;
use crate::part::OrderOption;
use crate::part::PartSpecification;
use crate::record::Characteristic;
use crate::record::TestKind;
use crate::rulebook::EffectivePack;
use crate::rulebook::Standing;
use crate::yaml;

/// What the blank is for.
pub struct Request<'a> {
    /// The lot.
    pub lot: &'a str,
    /// Purchase order number.
    pub order: &'a str,
    /// Line of the order.
    pub line: &'a str,
    /// Part number, where it is said.
    pub part: Option<&'a str>,
}

/// A block of the record that needs filling in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Spot {
    Clean,
    Treatment,
    PostDip,
    Rinse,
    FinalRinse,
    PostTreat,
    PostRinse,
    Descale,
    Neutralize,
    Bake,
    Dry,
    Test,
    Visual,
}

use Spot::Bake;
use Spot::Clean;
use Spot::Descale;
use Spot::Dry;
use Spot::FinalRinse;
use Spot::Neutralize;
use Spot::PostDip;
use Spot::PostRinse;
use Spot::PostTreat;
use Spot::Rinse;
use Spot::Treatment;
use Spot::Visual;

/// Where in a record the evidence of a subject is written; none for what is not written in the lot's record, or in
/// every record anyway. A new subject has to be given its place here.
const fn fields(subject: Subject) -> &'static [(Spot, &'static str)] {
    use Subject as S;
    match subject {
        S::TreatmentNamed => &[(Treatment, "bath")],
        S::Preparation => &[(Clean, "bath"), (Clean, "by")],
        S::BathIngredients
        | S::NitricAcid
        | S::SodiumDichromate
        | S::CitricAcid
        | S::BathPh
        | S::AnalysisAge
        | S::BathCalibration => &[(Treatment, "bath")],
        S::BathTemperature => &[(Treatment, "temperature")],
        S::ImmersionTime => &[(Treatment, "in"), (Treatment, "out")],
        S::CurrentDensity | S::RectifierCalibration => &[(Treatment, "current_density")],
        S::PostDip | S::PostDipNitric => &[(PostDip, "bath")],
        S::PostDipTemperature => &[(PostDip, "temperature")],
        S::PostDipTime => &[(PostDip, "in"), (PostDip, "out")],
        S::Rinsed => &[(Rinse, "by")],
        S::FinalRinse => &[(FinalRinse, "by")],
        S::FinalRinseSolids => &[(FinalRinse, "total_solids")],
        S::RinseCalibration => &[(FinalRinse, "instrument")],
        S::PostTreatment | S::PostTreatmentDichromate => &[(PostTreat, "bath")],
        S::PostTreatmentDelay => &[(FinalRinse, "at"), (PostTreat, "in")],
        S::PostTreatmentTemperature => &[(PostTreat, "temperature")],
        S::PostTreatmentTime => &[(PostTreat, "in"), (PostTreat, "out")],
        S::PostTreatmentRinseSolids => &[(PostRinse, "total_solids")],
        S::PostTreatmentDried => &[(Dry, "at")],
        S::VisualCount => &[(Visual, "pieces")],
        S::Visual => &[(Visual, "failed")],
        S::TestMade => &[(Spot::Test, "started")],
        S::TestResult => &[(Spot::Test, "failed")],
        S::TestPieces | S::RetestPieces => &[(Spot::Test, "pieces")],
        S::TestCalibration | S::TestInstrumentKind => &[(Spot::Test, "instrument")],
        S::TestDuration => &[(Spot::Test, "ended")],
        S::TestCycles => &[(Spot::Test, "cycles")],
        S::TestWetTime => &[(Spot::Test, "wet")],
        S::TestDryTime => &[(Spot::Test, "dry")],
        S::TestWater => &[(Spot::Test, "water")],
        S::TestTemperature => &[(Spot::Test, "temperature")],
        S::TestHumidity => &[(Spot::Test, "humidity")],
        S::TestSalt => &[(Spot::Test, "salt")],
        S::TestFogPh => &[(Spot::Test, "acidity")],
        S::TestFallout => &[(Spot::Test, "fallout")],
        S::TestKeptWet => &[(Spot::Test, "kept_wet")],
        S::TestReadWithin => &[(Spot::Test, "read_within")],
        S::TestCleanedWith => &[(Spot::Test, "cleaned_with")],
        S::TestCollectedOver => &[(Spot::Test, "collected_over")],
        S::TestAngle => &[(Spot::Test, "angle")],
        S::TestTowerTemperature => &[(Spot::Test, "tower_temperature")],
        S::TestTowerPressure => &[(Spot::Test, "tower_pressure")],
        S::TestWaterConductivity => &[(Spot::Test, "conductivity")],
        S::TestFogDensity => &[(Spot::Test, "density")],
        S::ChromiumToIron => &[(Spot::Test, "chromium_to_iron")],
        S::ChromiumOxideToIronOxide => &[(Spot::Test, "chromium_oxide_to_iron_oxide")],
        S::OxideDepth => &[(Spot::Test, "oxide_depth")],
        S::DefectsCounted => &[(Spot::Test, "defects")],
        S::Voltage => &[(Treatment, "voltage")],
        S::Descaled => &[(Descale, "bath"), (Descale, "by")],
        S::Neutralized => &[(Neutralize, "bath"), (Neutralize, "by")],
        S::HydrogenRelief => &[(Bake, "bath"), (Bake, "by")],
        S::HydrogenReliefTemperature => &[(Bake, "temperature")],
        S::HydrogenReliefTime => &[(Bake, "in"), (Bake, "out")],
        S::HydrogenReliefDelay => &[(Treatment, "out"), (Bake, "in")],
        S::VisualLight => &[(Visual, "light")],
        S::SolutionAge
        | S::SolutionSameDay
        | S::SolutionCopperSulfate
        | S::SolutionSulfuricAcid
        | S::SolutionFerricyanide
        | S::SolutionNitricAcid => &[(Spot::Test, "solution")],
        S::CallOutsReviewed
        | S::OrderedQuantity
        | S::TreatmentOrdered
        | S::TestOrdered
        | S::ClassNamed
        | S::Authorization
        | S::PartConditions
        | S::Roughness
        | S::MeanRoughness
        | S::CountsReconcile
        | S::PiecesTreated
        | S::AlloyGrade
        | S::AlloySeries
        | S::Chromium
        | S::HeatAnalysis
        | S::HeatChromium
        | S::HeatMachinability
        | S::PartUse
        | S::OtherTests
        | S::LotSpan
        | S::TestSpecimen
        | S::LimitReading
        | S::LimitCalibration
        | S::LimitPieces
        | S::RuleAdopted
        | S::OperatorQualified
        | S::AnalystQualified
        | S::InspectorQualified
        | S::TesterQualified
        | S::LimitQualified
        | S::NextAnalysis
        | S::NextBathCalibration
        | S::NextRectifierCalibration
        | S::NextRinseCalibration
        | S::NextTestCalibration
        | S::NextLimitCalibration
        | S::ApprovalsHeld
        | S::Rounds
        | S::DeviationUsed
        | S::StatementFounded
        | S::LimitsAskedTwice
        | S::CallOutsTogether
        | S::FieldAnswered
        | S::EditionInForce
        | S::ReleaseNamed
        | S::PiecesOrdered
        | S::CountByWeight
        | S::FamilyLots
        | S::FamilyPieces
        | S::FamilyMaterial
        | S::PartSegregated
        | S::PartPieces
        | S::ChangesExplained
        | S::CorrectionsAgree
        | S::JournalWhole
        | S::Subcontracted
        | S::PapersHeld
        | S::LoadCarried
        | S::TestReports
        | S::InspectionLot
        | S::TestCoupon
        | S::PeriodicTest
        | S::OutsideLaboratory => &[],
    }
}

/// Steps in the order they are made, and the fields each has anyway.
const STEPS: &[(Spot, &[&str])] = &[
    (Clean, &["bath", "in", "out", "by"]),
    (Descale, &["bath", "in", "out", "by"]),
    (Treatment, &["bath", "in", "out", "temperature", "by"]),
    (PostDip, &["bath", "in", "out", "temperature", "by"]),
    (Neutralize, &["bath", "in", "out", "by"]),
    (Rinse, &["at", "by"]),
    (FinalRinse, &["at", "by"]),
    (PostTreat, &["bath", "in", "out", "temperature", "by"]),
    (PostRinse, &["at", "by"]),
    (Bake, &["bath", "in", "out", "temperature", "by"]),
    (Dry, &["at", "by"]),
];

/// The order in which fields of a block are written.
const ORDER: &[&str] = &[
    "bath",
    "as",
    "in",
    "out",
    "temperature",
    "current_density",
    "voltage",
    "at",
    "total_solids",
    "instrument",
    "pieces",
    "failed",
    "started",
    "ended",
    "solution",
    "cleaned_with",
    "water",
    "cycles",
    "wet",
    "dry",
    "humidity",
    "salt",
    "acidity",
    "fallout",
    "collected_over",
    "angle",
    "tower_temperature",
    "tower_pressure",
    "conductivity",
    "density",
    "chromium_to_iron",
    "chromium_oxide_to_iron_oxide",
    "oxide_depth",
    "defects",
    "kept_wet",
    "read_within",
    "light",
    "observed",
    "by",
];

/// Fields of one block, each with what is remarked beside it.
type Fields = BTreeMap<&'static str, Vec<String>>;

/// What has to be filled in.
#[derive(Default)]
struct Needs {
    steps: BTreeMap<Spot, Fields>,
    tests: BTreeMap<TestKind, Fields>,
    electropolish: bool,
    passivate: bool,
}

/// Writes a blank record.
///
/// # Errors
/// Where the order, its line or the part specification is not on file, or the line names another part.
pub fn blank(book: &Book, request: &Request) -> Result<String, Error> {
    let lot = request.lot;
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.' | '_');
    if !lot.chars().all(plain) || !lot.starts_with(|c: char| c.is_ascii_alphanumeric()) {
        return Err(Error::cannot(
            format!("`{lot}` is no lot number"),
            "use letters, digits, `-`, `.` and `_`: it names the record's file",
        ));
    }
    let order =
        book.orders.iter().map(|o| &o.document).find(|o| o.order == request.order).ok_or_else(|| {
            Error::cannot(
                format!("there is no order `{}` in orders/", request.order),
                "write the order first",
            )
        })?;
    let line = order.lines.iter().find(|l| l.line == request.line).ok_or_else(|| {
        let lines: Vec<&str> = order.lines.iter().map(|l| l.line.as_str()).collect();
        Error::cannot(
            format!("order `{}` has no line `{}`", order.order, request.line),
            &format!("its lines are: {}", lines.join(", ")),
        )
    })?;
    if let Some(part) = request.part.filter(|part| *part != line.part) {
        let message =
            format!("line {} of order {} is for part {}, not {part}", line.line, order.order, line.part);
        return Err(Error::cannot(message, "name the line that orders it"));
    }
    let part = book
        .parts
        .iter()
        .map(|p| &p.document)
        .find(|p| p.part == line.part && p.revision == line.revision && p.purchaser == order.purchaser);
    let part = part.ok_or_else(|| {
        Error::cannot(
            format!("there is no part specification for {} revision {} in parts/", line.part, line.revision),
            "write and review it first",
        )
    })?;
    let call_outs: Vec<&CallOut> = part.calls_for.iter().chain(&line.also_calls_for).collect();
    let mut one_line = order.clone();
    one_line.lines.retain(|l| l.line == line.line);
    let packs = book.packs_in_force(&call_outs, &one_line)?;
    // A purchaser's clauses speak of what is ordered under the standard they build on.
    let (packs, built) = judge::asked_for(&one_line, &packs, &call_outs);
    let call_outs: Vec<&CallOut> = built.iter().collect();
    let needs = needs(&packs, &call_outs, part, order);
    Ok(text(lot, order, line, part, &call_outs, &needs))
}

fn needs(packs: &[EffectivePack], call_outs: &[&CallOut], part: &PartSpecification, order: &Order) -> Needs {
    let mut needs = Needs::default();
    for (spot, base) in STEPS
        .iter()
        .filter(|(spot, _)| !matches!(spot, PostDip | PostTreat | PostRinse | Descale | Neutralize | Bake))
    {
        let fields = needs.steps.entry(*spot).or_default();
        base.iter().for_each(|key| {
            fields.entry(key).or_default();
        });
    }
    let looked = needs.steps.entry(Visual).or_default();
    for key in ["at", "pieces", "failed", "observed", "by"] {
        looked.entry(key).or_default();
    }
    let all_tests: Vec<TestKind> = call_outs.iter().flat_map(|c| c.tests.iter().copied()).collect();
    for test in &all_tests {
        let fields = needs.tests.entry(*test).or_default();
        for key in ["pieces", "failed", "started", "ended", "observed", "by"] {
            fields.entry(key).or_default();
        }
    }
    // The house last: what it asks depends on what the standards have done.
    let standards = packs.iter().filter(|p| !p.pack.is_house());
    for pack in standards.chain(packs.iter().filter(|p| p.pack.is_house())) {
        if pack.pack.is_house() {
            let all_options: Vec<OrderOption> =
                call_outs.iter().flat_map(|c| c.options.iter().copied()).collect();
            let scope = Scope { treatments: &[], named: true, tests: &all_tests, options: &all_options };
            needs.of_pack(pack, &scope, part);
            continue;
        }
        for call in call_outs {
            let named = call.standard.as_deref().and_then(|s| pack.pack.edition_in_force(order, s));
            if named.as_deref() != Some(pack.edition.as_str()) {
                continue;
            }
            let ordered =
                pack.pack.treatments.iter().filter(|t| call.treatment.as_ref().is_none_or(|n| *n == t.name));
            let ordered: Vec<_> = ordered.collect();
            if ordered.iter().any(|t| t.step == TreatmentStep::Passivate) {
                needs.passivate = true;
            } else if !pack.pack.treatments.is_empty() || pack.pack.builds_on.is_none() {
                needs.electropolish = true;
            }
            let ids: Vec<&str> = ordered.iter().map(|t| t.id.as_str()).collect();
            let scope = Scope {
                treatments: &ids,
                named: call.treatment.is_some() || ids.len() < 2,
                tests: &call.tests,
                options: &call.options,
            };
            needs.of_pack(pack, &scope, part);
            if pack.pack.builds_on.is_some() {
                continue; // the treatment is named where it is called out
            }
            let names: Vec<&str> = ordered.iter().map(|t| t.name.as_str()).collect();
            let treated = needs.steps.entry(Treatment).or_default();
            if scope.named {
                treated.entry("bath").or_default().insert(0, names.join(", "));
            } else {
                treated.entry("as").or_default().push(format!("one of: {}", names.join(", ")));
            }
        }
    }
    needs
}

/// What one call-out ordered.
struct Scope<'a> {
    treatments: &'a [&'a str],
    /// Whether the order itself names the treatment.
    named: bool,
    tests: &'a [TestKind],
    options: &'a [OrderOption],
}

impl Needs {
    fn of_pack(&mut self, pack: &EffectivePack, scope: &Scope, part: &PartSpecification) {
        for (requirement, standing) in pack.pack.requirements.iter().zip(&pack.standing) {
            let when = &requirement.when;
            let treated = when.treatments.iter().any(|t| scope.treatments.contains(&t.as_str()));
            let tests: Vec<TestKind> =
                scope.tests.iter().copied().filter(|t| when.tests.contains(t)).collect();
            let left_out = (!when.treatments.is_empty() && !treated)
                || (!when.tests.is_empty() && tests.is_empty())
                || (!when.options.is_empty() && !when.options.iter().any(|o| scope.options.contains(o)))
                || (!when.editions.is_empty() && !when.editions.contains(&pack.edition))
                || (!when.used_for.is_empty() && part.used_for.is_some_and(|u| !when.used_for.contains(&u)));
            // What is read off a rectifier, where nothing is polished with one.
            let left_out =
                left_out || (requirement.subject == Subject::RectifierCalibration && !self.electropolish);
            if left_out || requirement.advice || *standing == Standing::Absent {
                continue;
            }
            let remark = remark(pack, requirement, *standing, scope);
            for (index, (spot, key)) in fields(requirement.subject).iter().enumerate() {
                // The limit stands beside the last of several fields it is about.
                let said =
                    remark.as_ref().filter(|_| index.saturating_add(1) == fields(requirement.subject).len());
                if *spot == Spot::Test {
                    for test in &tests {
                        add(self.tests.entry(*test).or_default(), key, said);
                    }
                } else {
                    let base = STEPS.iter().find(|(s, _)| s == spot).map_or(&[][..], |(_, base)| base);
                    let fields = self.steps.entry(*spot).or_default();
                    base.iter().for_each(|key| add(fields, key, None));
                    add(fields, key, said);
                }
            }
        }
    }
}

fn add(fields: &mut Fields, key: &'static str, said: Option<&String>) {
    let remarks = fields.entry(key).or_default();
    if let Some(said) = said.filter(|said| !remarks.contains(said)) {
        remarks.push(said.clone());
    }
}

/// The limit in words with its clause; for a treatment the shop chooses, with its name. A figure from memory that the
/// shop has not held against its own copy says so.
fn remark(
    pack: &EffectivePack,
    requirement: &Requirement,
    standing: Standing,
    scope: &Scope,
) -> Option<String> {
    use crate::pack::Check;
    if pack.pack.is_house() || matches!(requirement.check, Check::Present | Check::OwnLimit | Check::Passed) {
        return None;
    }
    let which = if scope.named {
        String::new()
    } else {
        let names = pack.pack.treatments.iter().filter(|t| requirement.when.treatments.contains(&t.id));
        let names: Vec<&str> = names.map(|t| t.name.as_str()).collect();
        if names.is_empty() { String::new() } else { format!("{}: ", names.join(", ")) }
    };
    let subject = match requirement.subject {
        Subject::BathTemperature | Subject::TestTemperature | Subject::PostDipTemperature => String::new(),
        subject => format!("{} ", subject.name()),
    };
    let name = format!("{}, {}", pack.pack.named(&pack.edition), requirement.clause);
    let confirmed = matches!(standing, Standing::Confirmed | Standing::Own);
    let unconfirmed = if requirement.basis == Basis::Recalled && !confirmed {
        "; recalled, not read: compare with your copy"
    } else {
        ""
    };
    Some(format!("{which}{subject}{} ({name}{unconfirmed})", limit_text(&requirement.check, None)))
}

fn text(
    lot: &str,
    order: &Order,
    line: &Line,
    part: &PartSpecification,
    call_outs: &[&CallOut],
    needs: &Needs,
) -> String {
    let mut text = String::new();
    let quoted = |text: &str| serde_json::Value::from(text).to_string();
    let _ =
        writeln!(text, "# Blank record of part {} revision {}, to be filled in.", part.part, part.revision);
    let _ = writeln!(
        text,
        "# Remarks tell the limits ordered. Take out steps that were not made; nothing may stay empty."
    );
    let _ = writeln!(text, "lot: {}", yaml::scalar(lot, false));
    if call_outs.is_empty() {
        text.push_str("# Nothing is called out: the lot will be held.\n");
    }
    let fields = || part.fields.iter().chain(&line.fields);
    if fields().any(|f| f.from == Some(FieldSource::PurchaserLot)) {
        text.push_str("purchaser_lot:\n");
    }
    let _ = writeln!(text, "order:\n  number: {}\n  line: {}", quoted(&order.order), quoted(&line.line));
    if !line.releases.is_empty() {
        let all: Vec<&str> = line.releases.iter().map(|r| r.release.as_str()).collect();
        let _ = writeln!(text, "  release:  # one of: {}", all.join(", "));
    }
    text.push_str("material:\n  grade:\n  heats:\n    - heat:\n      known:  # stated by purchaser, verified or not supplied\n");
    text.push_str(
        "counts:\n  received:\n  accepted:\n  by:\nruns:\n  - run: \"1\"\n    pieces:\n    steps:\n",
    );
    for (spot, _) in STEPS {
        let Some(found) = needs.steps.get(spot) else { continue };
        let names: &[&str] = match spot {
            Clean => &["clean"],
            Treatment => match (needs.electropolish, needs.passivate) {
                (true, true) => &["electropolish", "passivate"],
                (true, false) => &["electropolish"],
                _ => &["passivate"],
            },
            PostDip => &["post-dip"],
            Descale => &["descale"],
            Neutralize => &["neutralize"],
            Bake => &["bake"],
            PostTreat => &["post-treat"],
            Dry => &["dry"],
            _ => &["rinse"],
        };
        for name in names {
            let _ = writeln!(text, "      - {name}:");
            if matches!(spot, FinalRinse | PostRinse) {
                text.push_str("          final: true\n");
            }
            empty(&mut text, "          ", found);
        }
    }
    for (index, (test, found)) in needs.tests.iter().enumerate() {
        let _ = write!(
            text,
            "{}  - test: {}\n    covers: [\"1\"]\n",
            if index == 0 { "tests:\n" } else { "" },
            test.name()
        );
        empty(&mut text, "    ", found);
    }
    if let Some(found) = needs.steps.get(&Visual) {
        text.push_str("visual:\n  - covers: [\"1\"]\n");
        empty(&mut text, "    ", found);
    }
    limits(&mut text, call_outs);
    let own: Vec<&str> = fields().filter(|f| f.from.is_none()).map(|f| f.name.as_str()).collect();
    if !own.is_empty() {
        text.push_str("fields:\n");
        own.iter().for_each(|name| {
            let _ = writeln!(text, "  {}:", yaml::scalar(name, false));
        });
    }
    text
}

fn empty(text: &mut String, indent: &str, fields: &Fields) {
    for key in ORDER.iter().filter(|key| fields.contains_key(*key)) {
        let remarks = fields.get(key).map(|all| all.join("; ")).unwrap_or_default();
        let remark = if remarks.is_empty() { String::new() } else { format!("  # {remarks}") };
        let _ = writeln!(text, "{indent}{key}:{remark}");
    }
}

/// Readings for the purchaser's own limits.
fn limits(text: &mut String, call_outs: &[&CallOut]) {
    let mut told: Vec<Characteristic> = Vec::new();
    for what in call_outs.iter().filter_map(|c| c.limit) {
        if told.contains(&what) {
            continue;
        }
        let mut remarks = Vec::new();
        for call in call_outs.iter().filter(|c| c.limit == Some(what)) {
            remarks.extend(call.at_least.map(|q| format!("at least {q}")));
            remarks.extend(call.at_most.map(|q| format!("at most {q}")));
            remarks.extend(call.pieces.map(|n| format!("{n} pieces")));
        }
        if told.is_empty() {
            text.push_str("measurements:\n");
        }
        let _ = write!(
            text,
            "  - what: {}\n    covers: [\"1\"]\n    at:\n    instrument:\n    readings:  # {}\n    by:\n",
            what.name(),
            remarks.join(", ")
        );
        told.push(what);
    }
}
