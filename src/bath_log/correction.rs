//! The correction a sensor's calibration states: applied when asked for, and named ever after.

use rust_decimal::Decimal;

use super::Channel;
use super::MOST;
use super::NO_READING;
use crate::units::Quantity;
use crate::units::Unit;

/// What a calibration says to add to each reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Correction {
    /// The calibration certificate or report that states it.
    pub certificate: String,
    /// What is added to a reading, a difference in the channel's unit: `-0.3 °C` where the sensor reads 0.3
    /// °C too high.
    pub add: Quantity,
    /// Expanded uncertainty of the correction, a difference in the channel's unit. It is kept and named, and
    /// changes no reading.
    pub expanded_uncertainty: Option<Quantity>,
    /// Coverage factor of that uncertainty, where the certificate states it.
    pub coverage_factor: Option<Decimal>,
}

/// Why a correction is not applied.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CorrectionError {
    /// A difference in another unit.
    #[error("the correction `{found}` is not in {unit}, the unit of `{header}`: state it in {unit}")]
    Unit {
        /// As stated.
        found: Quantity,
        /// Header.
        header: String,
        /// Its unit.
        unit: Unit,
    },
    /// Corrected already.
    #[error(
        "`{header}` carries the correction of `{certificate}` already: correct the readings as the logger \
            wrote them"
    )]
    Twice {
        /// Header.
        header: String,
        /// Its calibration.
        certificate: String,
    },
    /// A negative uncertainty or a coverage factor that is none.
    #[error(
        "the uncertainty of the correction of `{0}` is negative, or its coverage factor is not above 0: \
            correct it"
    )]
    Uncertainty(String),
    /// Too many digits.
    #[error(
        "the corrected readings of `{0}` have more than 9 digits before or after the point: round the \
            correction"
    )]
    Digits(String),
}

impl Channel {
    /// The channel with every reading corrected, and the correction named on it. Exact: the readings gain the
    /// digits of the correction where it has more.
    pub fn corrected(&self, by: &Correction) -> Result<Channel, CorrectionError> {
        let header = || self.header.clone();
        if let Some(earlier) = self.correction() {
            let certificate = earlier.certificate.clone();
            return Err(CorrectionError::Twice { header: header(), certificate });
        }
        for stated in [Some(by.add), by.expanded_uncertainty].into_iter().flatten() {
            if stated.unit() != self.unit {
                return Err(CorrectionError::Unit { found: stated, header: header(), unit: self.unit });
            }
        }
        let negative = by.expanded_uncertainty.is_some_and(|u| u.value() < Decimal::ZERO);
        if negative || by.coverage_factor.is_some_and(|k| k <= Decimal::ZERO) {
            return Err(CorrectionError::Uncertainty(header()));
        }
        let (mut channel, long) = (self.clone(), || CorrectionError::Digits(self.header.clone()));
        channel.places = self.places.max(by.add.value().scale());
        if channel.places > 9 {
            return Err(long());
        }
        let step = 10_i64.checked_pow(channel.places - self.places).ok_or_else(long)?;
        let mut add = by.add.value();
        add.rescale(channel.places);
        let add = i64::try_from(add.mantissa()).map_err(|_| long())?;
        for reading in channel.readings.iter_mut().filter(|r| **r != NO_READING) {
            let corrected = reading.checked_mul(step).and_then(|r| r.checked_add(add));
            *reading = corrected.filter(|r| (-MOST..=MOST).contains(r)).ok_or_else(long)?;
        }
        channel.correction = Some(by.clone());
        Ok(channel)
    }
}
