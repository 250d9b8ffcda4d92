//! What a record may carry of stock removal, as it is written down.

use serde::Deserialize;
use serde::Serialize;

use super::Across;
use super::ChargeUncertainty;
use super::Density;
use super::Efficiency;
use super::EquivalentWeight;
use super::Estimate;
use super::Feature;
use super::Passage;
use super::RemovalError;
use super::Valences;
use super::Weighings;
use super::dimensions;
use super::faraday;
use super::weighing;
use crate::units::Percent;
use crate::units::Quantity;

/// A piece or coupon weighed before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weighed {
    /// Which piece.
    pub specimen: String,
    /// Mass before, g.
    pub before: Quantity,
    /// Mass after, g.
    pub after: Quantity,
    /// Surface that was in the bath: cm², dm², in² or ft².
    pub area: Quantity,
    /// Expanded uncertainty (k = 2) of one weighing, g, from the balance's certificate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighing_uncertainty: Option<Quantity>,
    /// Expanded uncertainty of the area, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the density, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_uncertainty: Option<Percent>,
}

impl Weighed {
    /// Removal by weighing.
    pub fn estimate(&self, density: &Density) -> Result<Estimate, RemovalError> {
        let weighings = Weighings {
            before: self.before,
            after: self.after,
            area: self.area,
            weighing_uncertainty: self.weighing_uncertainty,
            area_uncertainty: self.area_uncertainty.map(Percent::fraction),
            density_uncertainty: self.density_uncertainty.map(Percent::fraction),
        };
        weighing(&weighings, density)
    }
}

/// A size measured before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dimension {
    /// Which size: `Ø 12 shank`.
    pub feature: String,
    /// What it is across: `outside`, `bore`, `thickness` or `one_side`.
    pub kind: Feature,
    /// Before, mm or in.
    pub before: Quantity,
    /// After, mm or in.
    pub after: Quantity,
    /// Expanded uncertainty (k = 2) of one size, mm, in, µm or µin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Quantity>,
}

impl Dimension {
    /// Removal by dimensions.
    pub fn estimate(&self) -> Result<Estimate, RemovalError> {
        let Dimension { kind, before, after, uncertainty, .. } = self;
        let across = Across { feature: *kind, before: *before, after: *after, uncertainty: *uncertainty };
        dimensions(&across)
    }
}

/// The charge a run passed: `current` with `time` and `area`, or `current_density` with `time`, or `charge`
/// (summed up from a log) with `area`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Charge {
    /// A.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current: Option<Quantity>,
    /// A/dm² or A/ft².
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_density: Option<Quantity>,
    /// From the log: A·min (also written A.min) or A·h.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<Quantity>,
    /// s, min or h.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Quantity>,
    /// Surface in the bath: cm², dm², in² or ft².
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area: Option<Quantity>,
    /// Current efficiency the shop calibrated with weighed coupons.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub efficiency: Option<Percent>,
    /// Its expanded uncertainty, in points of per cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub efficiency_uncertainty: Option<Percent>,
    /// Valences assumed, and calibrated with.
    #[serde(default)]
    pub valences: Valences,
    /// Expanded uncertainty of current, current density or charge, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub current_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the time, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the area, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub area_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the equivalent weight, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equivalent_weight_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the density, in per cent of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_uncertainty: Option<Percent>,
}

impl Charge {
    /// What passed. An error when it is told in two ways or in none.
    pub fn passage(&self) -> Result<Passage, RemovalError> {
        match (self.current, self.current_density, self.charge, self.time, self.area) {
            (Some(current), None, None, Some(time), Some(area)) => {
                Ok(Passage::Current { current, time, area })
            }
            // The area beside a current density is no contradiction: it is what the current was set from.
            (None, Some(current_density), None, Some(time), _) => {
                Ok(Passage::Density { current_density, time })
            }
            (None, None, Some(charge), None, Some(area)) => Ok(Passage::Charge { charge, area }),
            _ => Err(RemovalError::UnclearCharge { found: self.given() }),
        }
    }

    /// Names of the fields given, in words.
    fn given(&self) -> String {
        let fields = [
            ("current", self.current.is_some()),
            ("current_density", self.current_density.is_some()),
            ("charge", self.charge.is_some()),
            ("time", self.time.is_some()),
            ("area", self.area.is_some()),
        ];
        let given: Vec<&str> = fields.iter().filter(|(_, there)| *there).map(|(name, _)| *name).collect();
        if given.is_empty() { "nothing".to_owned() } else { given.join(", ") }
    }

    /// Removal by charge. The alloy must be reckoned with the valences named here.
    pub fn estimate(&self, alloy: &EquivalentWeight, density: &Density) -> Result<Estimate, RemovalError> {
        let source = "stated by the shop, from weighed coupons";
        let efficiency = match self.efficiency.map(Percent::fraction) {
            None => None,
            Some(value) => {
                let expanded = self.efficiency_uncertainty.map(Percent::fraction);
                Some(Efficiency::stated(value, expanded, self.valences, source)?)
            }
        };
        if alloy.valences != self.valences {
            return Err(RemovalError::OtherValences { calibrated: self.valences, used: alloy.valences });
        }
        let uncertainty = ChargeUncertainty {
            current: self.current_uncertainty.map(Percent::fraction),
            time: self.time_uncertainty.map(Percent::fraction),
            area: self.area_uncertainty.map(Percent::fraction),
            equivalent_weight: self.equivalent_weight_uncertainty.map(Percent::fraction),
            density: self.density_uncertainty.map(Percent::fraction),
        };
        faraday(&self.passage()?, alloy, density, efficiency.as_ref(), &uncertainty)
    }
}
