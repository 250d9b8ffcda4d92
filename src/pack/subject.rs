//! The kinds of evidence a requirement can look at, and what one finding about each speaks for.

use serde::Deserialize;
use serde::Serialize;

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
            /// What it looks at, in words.
            pub const fn about(self) -> &'static str { match self { $( Subject::$name => $doc ),* } }
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
    SamplingPlan, "sampling plan", Lot, "that the sampling plan ordered is known, and inspection by it is not stopped";
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
    RawFilesRead, "raw files", Lot, "that logs and traces named could be read";
    LogCovers, "log coverage", Lot, "that logs cover the whole immersion without a gap";
    FiguresAgree, "typed against computed", Lot, "that typed figures agree with those computed from raw readings";
    RoughnessFilter, "roughness filter", Lot, "that roughness was filtered with the cut-off ordered";
    RemovalAgrees, "removal estimates", Lot, "that stock removal found in several ways agrees within the uncertainties";
    RoughnessGain, "gain in roughness", Lot, "how much smoother the surface became, where both were measured";
    UncertaintyRatio, "uncertainty ratio", Lot, "tolerance against the uncertainty of the reading, where a limit has two sides";
    TestCoupon, "test coupon", Test, "that a coupon is of the lot's alloy and went through with it";
    PeriodicTest, "periodic test", Run, "that the bath's last periodic test passed, and recently enough";
    TreatmentOrdered, "treatment ordered", Lot, "that the order itself names the treatment";
    TestOrdered, "test ordered", Lot, "that the order itself names a test";
    ClassNamed, "class", Lot, "the class ordered, else the standard's default";
    Authorization, "authorization", Lot, "that the order authorises the standard's second method";
    PartConditions, "condition of the part", Lot, "what the part specification says of the part's making";
    Roughness, "Ra", Lot, "every Ra reading of the finished surface";
    MeanRoughness, "mean Ra", Lot, "mean of the Ra readings";
    Voltage, "voltage", Run, "voltage at the treatment bath";
    Neutralized, "neutralization", Run, "that the pieces were neutralised after the treatment";
    VisualLight, "light on the surface", Run, "light on the surface while it was looked at";
    Descaled, "descaling", Run, "that scale was taken off before the treatment";
    HydrogenRelief, "hydrogen relief", Run, "that the pieces were baked after the treatment";
    HydrogenReliefTemperature, "hydrogen relief temperature", Run, "temperature of that bake";
    HydrogenReliefTime, "hydrogen relief time", Run, "time of that bake";
    HydrogenReliefDelay, "delay before hydrogen relief", Run, "time from the treatment to that bake";
    ChromiumToIron, "chromium to iron ratio", Test, "chromium to iron in the surface";
    ChromiumOxideToIronOxide, "chromium oxide to iron oxide ratio", Test, "oxidised chromium to oxidised iron in the surface";
    OxideDepth, "oxide depth", Test, "depth of the oxide film";
    DefectsCounted, "defects counted", Test, "most defects counted in one photograph";
    TestCollectedOver, "time fog was collected", Test, "how long the fog was collected";
    TestAngle, "specimen angle", Test, "angle of the pieces from the vertical";
    TestTowerTemperature, "air tower temperature", Test, "temperature of the air that feeds the spray";
    TestTowerPressure, "air tower pressure", Test, "pressure of that air";
    TestWaterConductivity, "conductivity of test water", Test, "conductivity of the water of the test solution";
    TestFogDensity, "density of collected fog", Test, "density of the collected fog";
    LimitsAskedTwice, "limits asked twice", Lot, "which of several limits on one thing stands";
    CallOutsTogether, "call-outs together", Lot, "that one lot can meet all that is called out";
    HeatAnalysis, "heat analysis", Lot, "each element of a heat's own analysis against the grade's limits";
    HeatChromium, "chromium for the choice of bath", Lot, "least chromium of the heats, where the choice of bath hangs on it";
    HeatMachinability, "free-machining heat", Lot, "that no heat is free-machining though its grade is not";
    OutsideLaboratory, "outside laboratory", Test, "that an outside laboratory was accredited for the test on its day";
}
