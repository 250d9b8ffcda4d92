//! What the evidence of a subject is, and so which checks can be held against it.

use crate::pack::Check;
use crate::pack::Subject;
use crate::units::Dimension;

/// What the evidence of a subject is. A check of another kind could never be met, and would hold every lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A measurement, in units of one of these.
    Figure(&'static [Dimension]),
    /// Words to hold against a list.
    Words,
    /// The treatment of a run: on record, or one of a list.
    Treatment,
    /// Something that is on record and in order, or is not.
    Record,
    /// Pieces looked at or tested, and how many of them failed.
    Sample,
    /// Pieces counted, against the number ordered.
    Count,
}

impl Form {
    /// Whether a check can be held against such evidence.
    pub const fn takes(self, check: &Check) -> bool {
        match self {
            Form::Figure(_) => {
                matches!(check, Check::Within(_) | Check::AtLeast(_) | Check::AtMost(_) | Check::Present)
            }
            Form::Words => {
                matches!(check, Check::OneOf(_) | Check::NoneOf(_) | Check::Only(_) | Check::Present)
            }
            Form::Treatment => matches!(check, Check::OneOf(_) | Check::Present),
            Form::Record => matches!(check, Check::Present | Check::OwnLimit),
            Form::Sample => matches!(check, Check::Passed),
            Form::Count => matches!(
                check,
                Check::TimesOrdered(_)
                    | Check::OwnLimit
                    | Check::Within(_)
                    | Check::AtLeast(_)
                    | Check::AtMost(_)
            ),
        }
    }

    /// The checks it takes, as packs write them.
    pub const fn checks(self) -> &'static str {
        match self {
            Form::Figure(_) => "`within`, `at_least`, `at_most` or `present`",
            Form::Words => "`one_of`, `none_of`, `only` or `present`",
            Form::Treatment => "`present` or `one_of`",
            Form::Record => "`present` or `own_limit`",
            Form::Sample => "`passed`",
            Form::Count => "`times_ordered`, `own_limit`, or a number of pieces",
        }
    }
}

/// What limits on this subject are measured in; nothing for subjects that are no measurement.
pub const fn dimensions(subject: Subject) -> &'static [Dimension] {
    match form(subject) {
        Form::Figure(dimensions) => dimensions,
        Form::Count => &[Dimension::Pieces],
        _ => &[],
    }
}

/// What the evidence of this subject is.
pub const fn form(subject: Subject) -> Form {
    use Dimension as D;
    use Subject as S;
    match subject {
        S::Chromium | S::HeatChromium | S::SodiumDichromate | S::CitricAcid | S::PostTreatmentDichromate => {
            Form::Figure(&[D::MassFraction])
        }
        // Some standards give the salt in the spray by mass, some in a litre.
        S::TestSalt => Form::Figure(&[D::MassFraction, D::MassConcentration]),
        S::NitricAcid | S::PostDipNitric => Form::Figure(&[D::VolumeFraction]),
        S::BathPh | S::TestFogPh => Form::Figure(&[D::Acidity]),
        S::BathTemperature
        | S::PostDipTemperature
        | S::PostTreatmentTemperature
        | S::TestTemperature
        | S::TestTowerTemperature
        | S::HydrogenReliefTemperature => Form::Figure(&[D::Temperature]),
        S::LotSpan
        | S::ImmersionTime
        | S::PostDipTime
        | S::PostTreatmentDelay
        | S::PostTreatmentTime
        | S::TestDuration
        | S::TestWetTime
        | S::TestDryTime
        | S::TestKeptWet
        | S::TestReadWithin
        | S::TestCollectedOver
        | S::SolutionAge
        | S::HydrogenReliefTime
        | S::HydrogenReliefDelay => Form::Figure(&[D::Time]),
        S::CurrentDensity => Form::Figure(&[D::CurrentDensity]),
        S::Voltage => Form::Figure(&[D::Voltage]),
        S::FinalRinseSolids | S::PostTreatmentRinseSolids => Form::Figure(&[D::Solids]),
        S::TestCycles => Form::Figure(&[D::Cycles]),
        S::TestHumidity => Form::Figure(&[D::Humidity]),
        S::TestFallout | S::SolutionSulfuricAcid | S::SolutionNitricAcid => Form::Figure(&[D::Volume]),
        S::SolutionCopperSulfate | S::SolutionFerricyanide => Form::Figure(&[D::Mass]),
        S::Roughness | S::MeanRoughness | S::OxideDepth => Form::Figure(&[D::Length]),
        S::VisualLight => Form::Figure(&[D::Illuminance]),
        S::ChromiumToIron | S::ChromiumOxideToIronOxide => Form::Figure(&[D::Ratio]),
        S::DefectsCounted => Form::Figure(&[D::Defects]),
        S::TestAngle => Form::Figure(&[D::Angle]),
        S::TestTowerPressure => Form::Figure(&[D::Pressure]),
        S::TestWaterConductivity => Form::Figure(&[D::Conductivity]),
        S::TestFogDensity => Form::Figure(&[D::Density]),

        S::AlloySeries
        | S::PartUse
        | S::PartConditions
        | S::ClassNamed
        | S::TreatmentOrdered
        | S::TestOrdered
        | S::BathIngredients
        | S::TestWater
        | S::TestCleanedWith => Form::Words,

        S::TreatmentNamed => Form::Treatment,
        S::Visual | S::TestResult => Form::Sample,
        S::VisualCount | S::TestPieces | S::RetestPieces | S::LimitPieces => Form::Count,

        S::LimitsAskedTwice
        | S::HeatAnalysis
        | S::HeatMachinability
        | S::CallOutsTogether
        | S::CallOutsReviewed
        | S::OrderedQuantity
        | S::CountsReconcile
        | S::PiecesTreated
        | S::AlloyGrade
        | S::OtherTests
        | S::Preparation
        | S::AnalysisAge
        | S::BathCalibration
        | S::PostDip
        | S::Rinsed
        | S::FinalRinse
        | S::RinseCalibration
        | S::PostTreatment
        | S::PostTreatmentDried
        | S::TestMade
        | S::TestSpecimen
        | S::TestCalibration
        | S::SolutionSameDay
        | S::LimitReading
        | S::LimitCalibration
        | S::RuleAdopted
        | S::SamplingPlan
        | S::OperatorQualified
        | S::AnalystQualified
        | S::InspectorQualified
        | S::TesterQualified
        | S::LimitQualified
        | S::RectifierCalibration
        | S::TestInstrumentKind
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
        | S::Authorization
        | S::Neutralized
        | S::Descaled
        | S::HydrogenRelief
        | S::OutsideLaboratory => Form::Record,
    }
}

/// Whether only the house's own rules are judged by it: under a standard it never finds evidence, so that every
/// lot would be held.
pub const fn is_house_only(subject: Subject) -> bool {
    matches!(
        subject,
        Subject::LimitReading
            | Subject::LimitCalibration
            | Subject::LimitPieces
            | Subject::LimitQualified
            | Subject::NextLimitCalibration
            | Subject::OperatorQualified
            | Subject::AnalystQualified
            | Subject::InspectorQualified
            | Subject::DeviationUsed
            | Subject::StatementFounded
            | Subject::FieldAnswered
            | Subject::LimitsAskedTwice
            | Subject::CallOutsTogether
            | Subject::SamplingPlan
            | Subject::ChangesExplained
            | Subject::CorrectionsAgree
            | Subject::JournalWhole
    )
}
