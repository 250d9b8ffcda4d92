//! Tests of finished pieces: which there are, and what is written down of one.

use serde::Deserialize;
use serde::Serialize;

use crate::evidence::Laboratory;
use crate::evidence::Relied;
use crate::moment::Moment;
use crate::record::Source;
use crate::surface::AtomicPercent;
use crate::units::Quantity;

/// The tests that finishing standards name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TestKind {
    /// Alternating water immersion and drying.
    #[serde(rename = "water immersion")]
    WaterImmersion,
    /// High humidity.
    #[serde(rename = "high humidity")]
    HighHumidity,
    /// Neutral salt spray.
    #[serde(rename = "salt spray")]
    SaltSpray,
    /// Copper sulfate swab.
    #[serde(rename = "copper sulfate")]
    CopperSulfate,
    /// Potassium ferricyanide and nitric acid swab.
    #[serde(rename = "ferricyanide-nitric")]
    FerricyanideNitric,
    /// Damp cloth.
    #[serde(rename = "damp cloth")]
    DampCloth,
    /// Modified ferroxyl for free iron, as an electropolish specification names it.
    #[serde(rename = "modified ferroxyl")]
    ModifiedFerroxyl,
    /// Ferroxyl spray for free iron, as the cleaning practice has it: three times the ferricyanide of the swab.
    #[serde(rename = "ferroxyl")]
    Ferroxyl,
    /// Wetted and dried in turn, as the cleaning practice has it.
    #[serde(rename = "wetting and drying")]
    WettingAndDrying,
    /// A film of water that must not break.
    #[serde(rename = "water break")]
    WaterBreak,
    /// A clean white cloth that must stay clean.
    #[serde(rename = "wipe")]
    Wipe,
    /// Auger electron spectroscopy of the surface.
    #[serde(rename = "AES")]
    Auger,
    /// X-ray photoelectron spectroscopy of the surface.
    #[serde(rename = "XPS")]
    Photoelectron,
    /// Glow discharge optical emission spectroscopy of the surface.
    #[serde(rename = "GD-OES")]
    GlowDischarge,
    /// Defects counted under the scanning electron microscope.
    #[serde(rename = "SEM")]
    ElectronMicroscope,
}

impl TestKind {
    /// Every test.
    pub const ALL: &'static [TestKind] = &[
        TestKind::WaterImmersion,
        TestKind::HighHumidity,
        TestKind::SaltSpray,
        TestKind::CopperSulfate,
        TestKind::FerricyanideNitric,
        TestKind::DampCloth,
        TestKind::ModifiedFerroxyl,
        TestKind::Ferroxyl,
        TestKind::WettingAndDrying,
        TestKind::WaterBreak,
        TestKind::Wipe,
        TestKind::Auger,
        TestKind::Photoelectron,
        TestKind::GlowDischarge,
        TestKind::ElectronMicroscope,
    ];

    /// Its name, as records and orders write it.
    pub const fn name(self) -> &'static str {
        match self {
            TestKind::WaterImmersion => "water immersion",
            TestKind::HighHumidity => "high humidity",
            TestKind::SaltSpray => "salt spray",
            TestKind::CopperSulfate => "copper sulfate",
            TestKind::FerricyanideNitric => "ferricyanide-nitric",
            TestKind::DampCloth => "damp cloth",
            TestKind::ModifiedFerroxyl => "modified ferroxyl",
            TestKind::Ferroxyl => "ferroxyl",
            TestKind::WettingAndDrying => "wetting and drying",
            TestKind::WaterBreak => "water break",
            TestKind::Wipe => "wipe",
            TestKind::Auger => "AES",
            TestKind::Photoelectron => "XPS",
            TestKind::GlowDischarge => "GD-OES",
            TestKind::ElectronMicroscope => "SEM",
        }
    }
}

/// A test made on some pieces, for the runs it covers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Test {
    /// Which test.
    pub test: TestKind,
    /// The runs it speaks for; left out in reports, which say it lot by lot.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers: Vec<String>,
    /// Pieces tested.
    pub pieces: u64,
    /// Pieces that failed.
    pub failed: u64,
    /// When it began. Only a test begun after a piece's last treatment counts for it.
    pub started: Moment,
    /// When it ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<Moment>,
    /// Duration by a timer, when the end was not written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Quantity>,
    /// Test solution, by its id in the shop's book.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub solution: Option<String>,
    /// Chamber, thermometer or other instrument, by its id in the shop's book.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Water used: `distilled`, `deionised`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water: Option<String>,
    /// Number of wet and dry cycles.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cycles: Option<u64>,
    /// Wet part of a cycle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet: Option<Quantity>,
    /// Dry part of a cycle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dry: Option<Quantity>,
    /// Chamber or surface temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Quantity>,
    /// Relative humidity in the chamber.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub humidity: Option<Quantity>,
    /// Salt in the spray solution.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub salt: Option<Quantity>,
    /// Acidity of the collected fog.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acidity: Option<Quantity>,
    /// Fog collected on 80 cm² in one hour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fallout: Option<Quantity>,
    /// How long the fog was collected of which the fall-out is the mean.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub collected_over: Option<Quantity>,
    /// Angle of the pieces from the vertical.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub angle: Option<Quantity>,
    /// Temperature of the air tower that feeds the spray.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tower_temperature: Option<Quantity>,
    /// Pressure of that air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tower_pressure: Option<Quantity>,
    /// Conductivity of the water the test solution was made with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conductivity: Option<Quantity>,
    /// Density of the collected fog.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density: Option<Quantity>,
    /// Chromium to iron in the surface, in atoms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chromium_to_iron: Option<Quantity>,
    /// Oxidised chromium to oxidised iron in the surface, in atoms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chromium_oxide_to_iron_oxide: Option<Quantity>,
    /// What the surface was found to consist of, in atomic per cent, where the ratios are computed from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub atomic_percent: Option<AtomicPercent>,
    /// Depth of the oxide film.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oxide_depth: Option<Quantity>,
    /// Most defects counted in one photograph.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub defects: Option<Quantity>,
    /// How long the surface was kept wet with the test solution.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept_wet: Option<Quantity>,
    /// How long after the solution was put on the surface was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_within: Option<Quantity>,
    /// What the pieces were cleaned with before the test.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cleaned_with: Option<String>,
    /// What was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observed: Option<String>,
    /// What was tested.
    #[serde(default)]
    pub specimen: Specimen,
    /// Who tested.
    pub by: String,
    /// Where the readings were taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
    /// The outside laboratory that made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory: Option<Laboratory>,
    /// The paper relied on, where somebody else made it and how is not judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Relied>,
    /// The coupon, where one was tested.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub coupon: Option<Coupon>,
}

/// A coupon that went through with parts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Coupon {
    /// Its alloy, as grades are named.
    pub alloy: String,
    /// Its heat.
    pub heat: String,
    /// Its finish before treatment: `ground, 32 µin`.
    pub finish: String,
    /// The load it went through in.
    pub load: String,
}

/// What a test was made on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Specimen {
    /// A part of the lot.
    #[default]
    Part,
    /// A coupon that went through with it.
    Coupon,
}
