//! The record of one lot: what happened to it, and nothing of what was asked.
//!
//! Every observation stands in a block that says who made it (`by`), and where it matters when (`at`,
//! `in`, `out`, `started`) and from what (`source`: sheet, screen, logger).

mod family;
mod raw;
mod spans;
mod test;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

use crate::correction::Correction;
use crate::evidence::Relied;
use crate::moment::Date;
use crate::moment::Moment;
use crate::removal::document::Charge;
use crate::removal::document::Dimension;
use crate::removal::document::Weighed;
use crate::units::Quantity;

pub use family::ByWeight;
pub use family::Parentage;
pub use family::Relative;
pub use raw::LogFile;
pub use raw::RawFile;
pub use raw::TraceFile;
pub use raw::raw_files;
pub use test::Coupon;
pub use test::Specimen;
pub use test::Test;
pub use test::TestKind;

/// What happened to one lot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// The shop's lot number.
    pub lot: String,
    /// The purchaser's own lot number, where it gave one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purchaser_lot: Option<String>,
    /// The purchase order line it was processed for.
    pub order: OrderLine,
    /// What the parts are made of, and who says so.
    pub material: Material,
    /// Where every piece went.
    pub counts: Counts,
    /// Serial numbers of the accepted pieces, where they carry any.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub serials: Vec<String>,
    /// Passages through the line, in the order they were made.
    #[serde(default)]
    pub runs: Vec<Run>,
    /// Tests made on pieces or coupons.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<Test>,
    /// Looks at the finished surface.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub visual: Vec<Visual>,
    /// Gauge readings of the finished surface: roughness, stock removal.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measurements: Vec<Measurement>,
    /// Anything else worth writing down; never judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remarks: Option<String>,
    /// Particulars the purchaser asks by name, and what is known of them.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub fields: BTreeMap<String, String>,
    /// The lot it was split from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub split_from: Option<Parentage>,
    /// The lots it was put together from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub merged_from: Vec<Parentage>,
    /// Values changed or entered late, each with what stood there first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<Correction>,
    /// Test reports of the shop that speak for this lot and others, by number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub test_reports: Vec<String>,
    /// The day its pieces arrived, where it was written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Date>,
}

/// A line of a purchase order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderLine {
    /// Purchase order number.
    pub number: String,
    /// Line of the order.
    pub line: String,
    /// Release of a blanket line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub release: Option<String>,
}

/// The parts' material.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Grade as the purchaser or the drawing names it: `316L`, `S31603`, `1.4404`.
    pub grade: String,
    /// The heats in the lot; more than one is judged as the worst of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heats: Vec<Heat>,
}

/// One heat of material.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Heat {
    /// Heat number.
    pub heat: String,
    /// How the shop knows it.
    pub known: Knowledge,
    /// Its own analysis where given, per cent by mass, by chemical symbol.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub chemistry: BTreeMap<String, Quantity>,
    /// What was analysed; left out: the melt, as on a mill's certificate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analysis: Option<Analysis>,
}

/// What a heat's analysis was made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Analysis {
    /// The melt: the heat or ladle analysis of the mill.
    Ladle,
    /// The metal itself: a product or check analysis.
    Product,
}

/// How the shop knows a heat number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Knowledge {
    /// The purchaser said so.
    #[serde(rename = "stated by purchaser")]
    Stated,
    /// The shop saw the mill's certificate or the marking.
    #[serde(rename = "verified")]
    Verified,
    /// Nobody said.
    #[serde(rename = "not supplied")]
    NotSupplied,
}

/// Where every piece of the lot went. `received` equals the sum of all the others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counts {
    /// Pieces counted in.
    pub received: u64,
    /// Pieces good to ship.
    pub accepted: u64,
    /// Pieces refused.
    #[serde(default)]
    pub rejected: u64,
    /// Pieces used up by tests.
    #[serde(default)]
    pub destroyed_in_test: u64,
    /// Pieces kept back.
    #[serde(default)]
    pub held: u64,
    /// Pieces moved into another lot.
    #[serde(default)]
    pub split_off: u64,
    /// Pieces sent back as they came.
    #[serde(default)]
    pub returned_unprocessed: u64,
    /// Pieces nobody can find.
    #[serde(default)]
    pub missing: u64,
    /// Who counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// That they were counted on a scale, and how far off that may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_weight: Option<ByWeight>,
}

/// One passage of pieces through the line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Name of the run within the lot: `1`, `2`, `rack B`.
    pub run: String,
    /// The load it shared a tank with, where it shared one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load: Option<String>,
    /// Pieces in this run.
    pub pieces: u64,
    /// The earlier run whose pieces these are, when they are treated again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub treats_again: Option<String>,
    /// Why they are treated again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
    /// What was done, in order; left out where the load says it.
    #[serde(default)]
    pub steps: Vec<Step>,
}

/// One step of a run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Step {
    /// Cleaning and preparation.
    Clean(Immersion),
    /// Scale or heat tint removal.
    Descale(Immersion),
    /// The passivation bath.
    Passivate(Immersion),
    /// The electropolishing bath.
    Electropolish(Immersion),
    /// The dip that takes off the electropolish film.
    PostDip(Immersion),
    /// A water rinse.
    Rinse(Rinse),
    /// Separate neutralisation.
    Neutralize(Immersion),
    /// The chromate treatment after passivation.
    PostTreat(Immersion),
    /// A bake that drives hydrogen out; the oven stands where a bath does.
    Bake(Immersion),
    /// Drying.
    Dry(Done),
}

/// Pieces in a bath.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Immersion {
    /// The bath, by its id in the shop's book; left out where another's work is relied on.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub bath: String,
    /// The treatment the operator was told to run, where the order leaves the choice to the shop.
    #[serde(rename = "as", default, skip_serializing_if = "Option::is_none")]
    pub run_as: Option<String>,
    /// When the pieces went in.
    #[serde(rename = "in", default, skip_serializing_if = "Option::is_none")]
    pub in_at: Option<Moment>,
    /// When they came out.
    #[serde(rename = "out", default, skip_serializing_if = "Option::is_none")]
    pub out_at: Option<Moment>,
    /// The time by a timer, when in and out were not written down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Quantity>,
    /// Bath temperature when the pieces went in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Quantity>,
    /// Bath temperature when they came out, where it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_out: Option<Quantity>,
    /// Current per surface, electropolishing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_density: Option<Quantity>,
    /// Voltage, electropolishing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltage: Option<Quantity>,
    /// Who ran it.
    pub by: String,
    /// Where the readings were taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
    /// Anything else; never judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The logger's file of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<LogFile>,
    /// Surface of the pieces in the bath, where a logged current is turned into current density.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area: Option<Quantity>,
    /// The paper relied on, where somebody else did this; `by` then says who sent the pieces and took them in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Relied>,
}

/// Pieces rinsed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rinse {
    /// Whether it is the last rinse of the treatment before it.
    #[serde(rename = "final", default)]
    pub last: bool,
    /// When it ended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Moment>,
    /// Total solids of the water.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub total_solids: Option<Quantity>,
    /// The meter that read it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Still, counter-current, spray.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
    /// Who rinsed.
    pub by: String,
    /// Where the reading was taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

/// Something done that has no reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Done {
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Moment>,
    /// Who.
    pub by: String,
    /// Anything else; never judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// Where a reading was copied from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Source {
    /// A paper sheet at the tank.
    Sheet,
    /// A display.
    Screen,
    /// A data logger or chart recorder.
    Logger,
}

/// A look at the finished surface.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Visual {
    /// The runs it speaks for.
    pub covers: Vec<String>,
    /// When.
    pub at: Moment,
    /// Pieces looked at.
    pub pieces: u64,
    /// Pieces refused and not shipped, or shipped nowhere until sorted.
    pub failed: u64,
    /// Light on the surface, where it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub light: Option<Quantity>,
    /// What was seen: `clean, no etching, pitting or frosting`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observed: Option<String>,
    /// Who looked.
    pub by: String,
}

/// What a gauge measured on the finished surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Characteristic {
    /// Arithmetical mean roughness.
    #[serde(rename = "Ra")]
    Ra,
    /// Root-mean-square roughness.
    #[serde(rename = "Rq")]
    Rq,
    /// Maximum height.
    #[serde(rename = "Rz")]
    Rz,
    /// Metal taken off per surface.
    #[serde(rename = "stock removal")]
    StockRemoval,
}

impl Characteristic {
    /// Its name, as records and part specifications write it.
    pub const fn name(self) -> &'static str {
        match self {
            Characteristic::Ra => "Ra",
            Characteristic::Rq => "Rq",
            Characteristic::Rz => "Rz",
            Characteristic::StockRemoval => "stock removal",
        }
    }
}

/// Gauge readings on finished pieces.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    /// What was measured.
    pub what: Characteristic,
    /// The runs it speaks for.
    pub covers: Vec<String>,
    /// When.
    pub at: Moment,
    /// The gauge, by its id in the shop's book.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// Sampling length of the filter, roughness.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cutoff: Option<Quantity>,
    /// How it was found: `stylus`, `weighed`, `micrometer`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
    /// The reading of each piece; left out where they are computed from what is below.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Quantity>,
    /// Readings before treatment; printed, never judged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub before: Vec<Quantity>,
    /// Pieces or coupons weighed before and after, stock removal.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub weighed: Vec<Weighed>,
    /// Sizes before and after, stock removal.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dimensions: Vec<Dimension>,
    /// The charge that passed, stock removal; from the log where it says no current.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<Charge>,
    /// Profile traces the readings come from, in their order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub traces: Vec<TraceFile>,
    /// Profile traces taken before treatment; drawn, never judged.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub traces_before: Vec<TraceFile>,
    /// Who measured.
    pub by: String,
    /// Where the readings were taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}
