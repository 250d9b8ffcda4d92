//! Where in a record the evidence of each subject is written: the blocks and fields of a blank and of a traveler.

use serde::Serialize;

use crate::pack::Subject;

/// A block of the record that needs filling in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Spot {
    /// The step before the treatment.
    Clean,
    /// Scale taken off before it.
    Descale,
    /// The treatment itself.
    Treatment,
    /// The dip after electropolishing.
    PostDip,
    /// A separate neutralisation.
    Neutralize,
    /// The rinse next after the bath.
    Rinse,
    /// The last rinse of the treatment.
    FinalRinse,
    /// The chromate treatment.
    PostTreat,
    /// The rinse after it.
    PostRinse,
    /// The bake against hydrogen.
    Bake,
    /// Drying.
    Dry,
    /// A test.
    Test,
    /// A look at the surface.
    Visual,
    /// Gauge readings.
    Measurement,
}

use Spot::Bake;
use Spot::Clean;
use Spot::Descale;
use Spot::Dry;
use Spot::FinalRinse;
use Spot::Measurement;
use Spot::Neutralize;
use Spot::PostDip;
use Spot::PostRinse;
use Spot::PostTreat;
use Spot::Rinse;
use Spot::Treatment;
use Spot::Visual;

/// Where in a record the evidence of a subject is written; none for what is not written in the lot's record, or in
/// every record anyway. A new subject has to be given its place here.
pub const fn fields(subject: Subject) -> &'static [(Spot, &'static str)] {
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
        S::PostTreatmentDried => &[(Dry, "by")],
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
        S::Roughness | S::MeanRoughness => &[(Measurement, "readings")],
        S::SolutionAge
        | S::SolutionSameDay
        | S::SolutionCopperSulfate
        | S::SolutionSulfuricAcid
        | S::SolutionFerricyanide
        | S::SolutionNitricAcid => &[(Spot::Test, "solution")],
        S::CallOutsReviewed
        | S::LimitsAskedTwice
        | S::CallOutsTogether
        | S::HeatAnalysis
        | S::HeatChromium
        | S::HeatMachinability
        | S::OrderedQuantity
        | S::TreatmentOrdered
        | S::TestOrdered
        | S::ClassNamed
        | S::Authorization
        | S::PartConditions
        | S::CountsReconcile
        | S::PiecesTreated
        | S::AlloyGrade
        | S::AlloySeries
        | S::Chromium
        | S::PartUse
        | S::OtherTests
        | S::LotSpan
        | S::TestSpecimen
        | S::LimitReading
        | S::LimitCalibration
        | S::LimitPieces
        | S::RuleAdopted
        | S::SamplingPlan
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
        | S::RawFilesRead
        | S::LogCovers
        | S::FiguresAgree
        | S::RoughnessFilter
        | S::RemovalAgrees
        | S::RoughnessGain
        | S::UncertaintyRatio
        | S::LoadCarried
        | S::TestReports
        | S::InspectionLot
        | S::TestCoupon
        | S::PeriodicTest
        | S::OutsideLaboratory => &[],
    }
}

/// Steps in the order they are made, and what each has anyway: a step is not a step without its bath, its time and
/// whoever made it.
pub const STEPS: &[(Spot, &[&str])] = &[
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
pub const ORDER: &[&str] = &[
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
    "readings",
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
