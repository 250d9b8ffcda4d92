//! Words of the calculations about inspection: sampling plans, chances.

use clap::Args;
use clap::ValueEnum;
use rust_decimal::Decimal;

use super::Draw;
use super::Limits;
use crate::sampling;
use crate::units::Quantity;
use crate::units::plain_decimal;

/// A share in per cent, or a number per hundred units.
fn quality(text: &str) -> Result<Decimal, String> {
    let number = text.trim().trim_end_matches('%').trim_end();
    plain_decimal(number).ok_or_else(|| "a number in per cent, as in 1.5 or `1.5 %`".to_owned())
}

fn multiple(text: &str) -> Result<Decimal, String> {
    plain_decimal(text.trim()).ok_or_else(|| "a plain number, as in 2 or 0.83".to_owned())
}

/// How severe the inspection is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Severity {
    /// Fewer pieces, after a good run
    Reduced,
    /// Where inspection begins
    Normal,
    /// Fewer failures allowed, after a bad run
    Tightened,
}

impl From<Severity> for sampling::Severity {
    fn from(severity: Severity) -> sampling::Severity {
        match severity {
            Severity::Reduced => sampling::Severity::Reduced,
            Severity::Normal => sampling::Severity::Normal,
            Severity::Tightened => sampling::Severity::Tightened,
        }
    }
}

/// Arguments of `calculate sampling`.
#[derive(Debug, Args)]
pub struct Sampling {
    /// The plan as orders write it: B602 level II; MIL-STD-105E level II AQL 1.5; c=0 LTPD 5 % risk 10 %; 100
    /// %
    #[arg(required = true)]
    pub plan: Vec<String>,
    /// Pieces of the lot
    #[arg(long, value_name = "PIECES")]
    pub lot: u64,
    /// How severe the inspection is; left out: as the plan begins
    #[arg(long)]
    pub severity: Option<Severity>,
    /// Quality for which the producer's risk is told, in per cent (AQLs above 10: per hundred units); left
    /// out: the plan's AQL
    #[arg(long, value_name = "QUALITY", value_parser = quality)]
    pub good: Option<Decimal>,
    /// Quality for which the consumer's risk is told; left out: the plan's LTPD, or what is accepted one time
    /// in ten
    #[arg(long, value_name = "QUALITY", value_parser = quality)]
    pub bad: Option<Decimal>,
    /// Risks of this one lot, instead of a long series of lots
    #[arg(long)]
    pub this_lot: bool,
    /// Pieces of the sample that failed: says whether the lot is accepted
    #[arg(long, value_name = "PIECES")]
    pub failed: Option<u64>,
    /// The curve.
    #[command(flatten)]
    pub draw: Draw,
}

/// Arguments of `calculate chance`.
#[derive(Debug, Args)]
pub struct Chance {
    /// The reading
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub reading: Quantity,
    /// Its limits.
    #[command(flatten)]
    pub limits: Limits,
    /// Expanded uncertainty of the gauge, as its calibration certificate states it
    #[arg(long, value_name = "VALUE")]
    pub uncertainty: Quantity,
    /// The coverage factor it is stated with
    #[arg(long, default_value = "2", value_parser = multiple)]
    pub k: Decimal,
    /// Value the process aims at: for the test uncertainty ratio at one limit
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub target: Option<Quantity>,
    /// Guard band inside the limits, in expanded uncertainties: 1 or 0.83 are usual
    #[arg(long, value_name = "TIMES", value_parser = multiple)]
    pub guard_band: Option<Decimal>,
}
