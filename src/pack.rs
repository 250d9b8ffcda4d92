//! A pack: one standard (or the house's own rules) as data.
//!
//! A requirement is one testable demand with a clause, a basis, a condition, a subject and one check
//! from a closed list. There is no expression language.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

use crate::alloy::Series;
use crate::part::OrderOption;
use crate::part::Use;
use crate::record::TestKind;
use crate::units::Quantity;
use crate::units::Unit;

/// One standard as data (`rules/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pack {
    /// Stable id: `astm-a967`.
    pub pack: String,
    /// The designation printed, without edition: `ASTM A967/A967M`.
    pub designation: String,
    /// Other ways orders write the designation.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also_written: Vec<String>,
    /// Editions this pack speaks for, as printed after the hyphen: `13`, `17`, `02(2018)`.
    pub editions: Vec<String>,
    /// What the standard is about, in our words.
    pub about: String,
    /// Treatments an order may name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub treatments: Vec<Treatment>,
    /// Tests an order may name under it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<NamedTest>,
    /// Pieces per lot and test when the order names no number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_pieces: Option<u64>,
    /// Demands.
    pub requirements: Vec<Requirement>,
    /// Editions that a later one of this pack took the place of, and which.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub superseded_by: BTreeMap<String, String>,
}

/// A treatment of a standard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Treatment {
    /// Id within the pack: `nitric-2`.
    pub id: String,
    /// Name as orders write it: `Nitric 2`.
    pub name: String,
    /// Clause.
    pub clause: String,
    /// The step of a record that carries it out.
    pub step: TreatmentStep,
}

/// The step a treatment is carried out in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TreatmentStep {
    /// `passivate`.
    Passivate,
    /// `electropolish`.
    Electropolish,
}

/// A test as a standard names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedTest {
    /// Which test.
    pub test: TestKind,
    /// Name or letter in the standard: `practice A`.
    pub name: String,
    /// Clause, where known.
    pub clause: String,
}

/// One testable demand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Requirement {
    /// Id within the pack, stable for ever: `nitric-2.temperature`.
    pub id: String,
    /// Clause of the standard; `house` for the shop's own rules.
    pub clause: String,
    /// Whether the demand and its figures were read in a published text or recalled.
    pub basis: Basis,
    /// When it applies; everything named must hold. Left out: always.
    #[serde(default, skip_serializing_if = "When::is_always")]
    pub when: When,
    /// The kind of evidence it looks at.
    pub subject: Subject,
    /// What the evidence must show.
    pub check: Check,
    /// What a shop does when it does not.
    pub remedy: Remedy,
    /// Advice is shown and never holds a lot.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub advice: bool,
    /// A word more, for people; never judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// How a figure or a demand is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Read in a published text.
    Read,
    /// Recalled by people who know the standard; confirmed by a shop against its own copy at adoption.
    Recalled,
    /// Nobody could read it and nobody is sure: no value until the shop enters its own copy's.
    Unsure,
    /// A rule of the house, or common practice.
    House,
}

/// When a requirement applies. Within one list any will do; all that is named must hold.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct When {
    /// Treatments by id.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub treatments: Vec<String>,
    /// Tests ordered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<TestKind>,
    /// Alloy series.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub series: Vec<Series>,
    /// Free-machining grade or not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub free_machining: Option<bool>,
    /// Chromium below this, per cent by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chromium_below: Option<Quantity>,
    /// Options ordered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<OrderOption>,
    /// Uses of the part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub used_for: Vec<Use>,
    /// Editions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub editions: Vec<String>,
}

impl When {
    /// Whether nothing is named.
    pub fn is_always(&self) -> bool {
        *self == When::default()
    }
}

/// What the evidence must show. A figure list gives each unit system as printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Check {
    /// Between two limits, both included.
    Within(Vec<Window>),
    /// No less than.
    AtLeast(Vec<Bound>),
    /// No more than.
    AtMost(Vec<Bound>),
    /// One of these words.
    OneOf(Vec<String>),
    /// Nothing but these words (each need not occur, the first must).
    Only(Vec<String>),
    /// Something is recorded.
    Present,
    /// No piece failed, or no more than the sampling plan allows.
    Passed,
    /// The answer is no.
    No,
    /// At least this many times the pieces the order asks, at most the whole lot.
    TimesOrdered(u32),
    /// Against the limit that stands in the document itself: a calibration's due day, an analysis' age,
    /// the sum of counts.
    OwnLimit,
}

/// A window in one unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// Lower limit; left out when nobody is sure of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Quantity>,
    /// Upper limit; left out when nobody is sure of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Quantity>,
    /// Unit, when the limits are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Basis of these figures, where it differs from the requirement's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
}

/// A single limit in one unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bound {
    /// The limit; left out when nobody is sure of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Quantity>,
    /// Unit, when the limit is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Basis of this figure, where it differs from the requirement's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
}

/// What a shop does about a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Remedy {
    /// Write it down, if it was done.
    #[serde(rename = "record it")]
    Record,
    /// Test it and record it.
    #[serde(rename = "test it")]
    Test,
    /// Treat the pieces again, or ask for a deviation.
    #[serde(rename = "re-treat")]
    ReTreat,
    /// Ask the purchaser.
    #[serde(rename = "ask the purchaser")]
    Ask,
    /// Read the shop's controlled copy and adopt the rule.
    #[serde(rename = "adopt the rule")]
    Adopt,
}

macro_rules! subjects {
    ($( $name:ident, $text:literal, $scope:ident, $doc:literal; )*) => {
        /// The kinds of evidence a requirement can look at: a closed list.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Subject { $( #[doc = $doc] #[serde(rename = $text)] $name, )* }

        impl Subject {
            /// Every subject.
            pub const ALL: &'static [Subject] = &[ $( Subject::$name ),* ];
            /// Its name in packs, reports and certificates.
            pub const fn name(self) -> &'static str { match self { $( Subject::$name => $text ),* } }
            /// What one finding about it speaks for.
            pub const fn scope(self) -> Scope { match self { $( Subject::$name => Scope::$scope ),* } }
        }
    };
}

/// What one finding speaks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// The lot as a whole.
    Lot,
    /// One run whose pieces were not treated again.
    Run,
    /// One kind of test under one call-out.
    Test,
}

subjects! {
    CallOutsReviewed, "review of the call-outs", Lot, "that part specification and order were compared with the purchaser's papers";
    OrderedQuantity, "order line", Lot, "that the order line exists and names this part";
    CountsReconcile, "piece counts", Lot, "that every piece is accounted for";
    PiecesTreated, "treated pieces", Lot, "that every accepted piece went through the line";
    AlloyGrade, "alloy grade", Lot, "that the grade is known";
    AlloySeries, "alloy series", Lot, "the series of the grade";
    Chromium, "chromium", Lot, "chromium of the heat, else the least the grade may have";
    PartUse, "use of the part", Lot, "what the finished surface is for";
    OtherTests, "other tests on record", Lot, "that no test on record failed on the pieces as they are, ordered or not";
    LotSpan, "lot", Lot, "days between the first and the last treatment of the lot";
    TreatmentNamed, "treatment", Run, "that the treatment run is the one ordered, or is named";
    Preparation, "cleaning before treatment", Run, "that the pieces were cleaned";
    BathIngredients, "bath ingredients", Run, "what the bath is made up of";
    NitricAcid, "nitric acid", Run, "nitric acid in the bath by the analysis in force";
    SodiumDichromate, "sodium dichromate", Run, "sodium dichromate in the bath by the analysis in force";
    CitricAcid, "citric acid", Run, "citric acid in the bath by the analysis in force";
    BathPh, "bath pH", Run, "acidity of the bath by the analysis in force";
    BathTemperature, "bath temperature", Run, "temperature of the treatment bath";
    ImmersionTime, "immersion time", Run, "time in the treatment bath";
    AnalysisAge, "bath analysis", Run, "age of the bath analysis when the bath was used";
    BathCalibration, "bath thermometer calibration", Run, "calibration of the thermometer when it was used";
    CurrentDensity, "current density", Run, "current per surface while electropolishing";
    PostDipNitric, "post-dip nitric acid", Run, "nitric acid of the dip after electropolishing";
    PostDip, "post-dip", Run, "that the pieces were dipped after electropolishing";
    PostDipTemperature, "post-dip temperature", Run, "temperature of that dip";
    PostDipTime, "post-dip time", Run, "time in that dip";
    Rinsed, "rinse after treatment", Run, "that a rinse follows the bath";
    FinalRinse, "final rinse", Run, "that a final rinse is recorded";
    FinalRinseSolids, "final rinse total solids", Run, "total solids of the final rinse water";
    RinseCalibration, "rinse meter calibration", Run, "calibration of the meter that read the rinse water";
    PostTreatment, "dichromate treatment", Run, "that the chromate treatment was made";
    PostTreatmentDelay, "delay before dichromate treatment", Run, "time from the final rinse to the chromate bath";
    PostTreatmentDichromate, "dichromate treatment strength", Run, "sodium dichromate of that bath";
    PostTreatmentTemperature, "dichromate treatment temperature", Run, "temperature of that bath";
    PostTreatmentTime, "dichromate treatment time", Run, "time in that bath";
    PostTreatmentRinseSolids, "rinse after dichromate treatment", Run, "total solids of the rinse after it";
    PostTreatmentDried, "drying after dichromate treatment", Run, "that the pieces were dried after it";
    VisualCount, "pieces looked at", Run, "number of pieces looked at after the last treatment";
    Visual, "visual", Run, "look at the finished surface after the last treatment";
    TestMade, "test", Test, "that the test was made after the last treatment of every piece";
    TestResult, "test result", Test, "pieces that failed the test";
    TestPieces, "pieces tested", Test, "number of pieces tested";
    RetestPieces, "pieces retested", Test, "number of pieces tested after a failed test";
    TestSpecimen, "test specimen", Test, "that parts were tested, or coupons where allowed";
    TestCalibration, "test instrument calibration", Test, "calibration of chamber or thermometer on the day of the test";
    TestDuration, "test duration", Test, "time from start to end of the test";
    TestCycles, "test cycles", Test, "wet and dry cycles";
    TestWetTime, "wet part of the cycle", Test, "time under water in each cycle";
    TestDryTime, "dry part of the cycle", Test, "time in air in each cycle";
    TestWater, "test water", Test, "water used in the test";
    TestTemperature, "test temperature", Test, "temperature of chamber or surface";
    TestHumidity, "test humidity", Test, "relative humidity in the chamber";
    TestSalt, "salt in spray solution", Test, "salt in the spray solution";
    TestFogPh, "collected fog pH", Test, "acidity of the collected fog";
    TestFallout, "fog fall-out", Test, "fog collected on 80 cm² in an hour";
    TestKeptWet, "time kept wet", Test, "time the surface was kept wet with test solution";
    TestReadWithin, "time to reading", Test, "time from putting the solution on to reading the surface";
    TestCleanedWith, "cleaning before test", Test, "solvent the pieces were cleaned with";
    SolutionAge, "age of test solution", Test, "age of the test solution when it was used";
    SolutionSameDay, "day the test solution was mixed", Test, "that the solution was mixed on the day of use";
    SolutionCopperSulfate, "copper sulfate in test solution", Test, "copper sulfate pentahydrate per 250 mL of water";
    SolutionSulfuricAcid, "sulfuric acid in test solution", Test, "sulfuric acid per 250 mL of water";
    SolutionFerricyanide, "ferricyanide in test solution", Test, "potassium ferricyanide per 1000 mL";
    SolutionNitricAcid, "nitric acid in test solution", Test, "nitric acid per 1000 mL";
    LimitReading, "reading", Lot, "gauge readings against a limit of the purchaser's own";
    LimitCalibration, "gauge calibration", Lot, "calibration of the gauge on the day of the reading";
    LimitPieces, "pieces measured", Lot, "number of pieces measured";
    RuleAdopted, "adoption of the standard", Lot, "that the shop adopted the edition ordered";
    OperatorQualified, "operators", Run, "that whoever ran the steps was qualified for them on the day";
    AnalystQualified, "bath analysts", Run, "that whoever analysed the baths was qualified on the day";
    InspectorQualified, "inspectors", Run, "that whoever looked at the surface was qualified on the day";
    TesterQualified, "testers", Test, "that whoever tested, and mixed the solution, was qualified on the day";
    LimitQualified, "gauge users", Lot, "that whoever measured was qualified on the day";
    RectifierCalibration, "rectifier calibration", Run, "calibration of the rectifier whose meters were read";
    TestInstrumentKind, "kind of test instrument", Test, "that the test was made with an instrument made for it";
    NextAnalysis, "next bath analysis", Run, "what the bath was found to hold after it was used";
    NextBathCalibration, "next bath thermometer calibration", Run, "how the thermometer was found after it was used";
    NextRectifierCalibration, "next rectifier calibration", Run, "how the rectifier was found after it was used";
    NextRinseCalibration, "next rinse meter calibration", Run, "how the meter was found after it was used";
    NextTestCalibration, "next test instrument calibration", Test, "how chamber or thermometer was found after the test";
    NextLimitCalibration, "next gauge calibration", Lot, "how the gauge was found after the reading";
    ApprovalsHeld, "approvals asked for", Lot, "that the approvals the purchaser asks for stood and cover the work";
    Rounds, "rounds of treatment", Lot, "how often the same pieces were treated";
    DeviationUsed, "deviation", Lot, "that a purchaser's permission was needed, and reaches the lot";
    StatementFounded, "statement", Lot, "that what a statement to be printed rests on was found";
    FieldAnswered, "field", Lot, "that a particular asked by name is answered";
    EditionInForce, "edition", Lot, "whether a later edition took the place of the one ordered";
    ReleaseNamed, "release", Lot, "that the record names a release of a blanket line";
    PiecesOrdered, "pieces ordered", Lot, "pieces certified against the pieces ordered";
    CountByWeight, "count by weight", Lot, "how far off a count by weight may be, by the order";
    FamilyLots, "lots split and merged", Lot, "that the lots it was made from, or went into, are on record";
    FamilyPieces, "pieces split and merged", Lot, "that no piece was lost or gained between them";
    FamilyMaterial, "material carried over", Lot, "that grade and heats are those of the lots it came from";
    PartSegregated, "segregation of the part shipped", Lot, "that the part shipped is kept apart from the rest";
    PartPieces, "pieces of the part shipped", Lot, "that the part shipped is no larger than its runs";
    ChangesExplained, "change since a check", Lot, "that a correction explains every value changed since the first check";
    CorrectionsAgree, "corrections", Lot, "that corrections leave what stands there now";
    JournalWhole, "check journal", Lot, "that the journal of the lot's checks is whole";
    Subcontracted, "work done elsewhere", Lot, "that the order allows what others did and is relied on";
    PapersHeld, "papers on file", Lot, "that the papers of others are on file, and the ones named";
    LoadCarried, "load", Lot, "that lot and load agree on what went through the tanks together";
    TestReports, "test reports", Lot, "that lot and test report agree on whom the test speaks for";
    InspectionLot, "inspection lot", Lot, "that the lots a report speaks for are of one kind";
    TestCoupon, "test coupon", Test, "that a coupon is of the lot's alloy and went through with it";
    PeriodicTest, "periodic test", Run, "that the bath's last periodic test passed, and recently enough";
    OutsideLaboratory, "outside laboratory", Test, "that an outside laboratory was accredited for the test on its day";
}

/// Sampling plans of one standard (`rules/sampling/*.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingPlans {
    /// Id of the standard.
    pub plan: String,
    /// Its designation.
    pub designation: String,
    /// How the rows are known.
    pub basis: Basis,
    /// One table a level.
    pub levels: Vec<SamplingTable>,
}

/// One sampling plan as a table over lot sizes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingTable {
    /// The plan as orders name it.
    pub level: crate::part::SamplingPlan,
    /// Acceptable quality level, per cent nonconforming.
    pub aql: String,
    /// Rows, smallest lots first, without a hole.
    pub rows: Vec<SamplingRow>,
}

/// One row of a sampling table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SamplingRow {
    /// Smallest lot of the row.
    pub lot_from: u64,
    /// Largest lot of the row; left out in the last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot_to: Option<u64>,
    /// Pieces to inspect; the whole lot when it is smaller.
    pub sample: u64,
    /// Most failures with which the lot is accepted.
    pub accept: u64,
}

impl SamplingTable {
    /// Pieces to inspect and failures allowed for a lot of this size.
    pub fn for_lot(&self, size: u64) -> Option<(u64, u64)> {
        let row =
            self.rows.iter().find(|r| size >= r.lot_from && r.lot_to.is_none_or(|most| size <= most))?;
        Some((row.sample.min(size), row.accept))
    }
}
