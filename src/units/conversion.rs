//! A reading in the other unit system, for printing beside it. Never judged, never kept.

use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;

use crate::units::Quantity;
use crate::units::Unit;

/// Most decimals a conversion is printed with.
const MOST: u32 = 12;

impl Unit {
    /// The unit of the other system that the trade reads in this one's place.
    pub const fn counterpart(self) -> Option<Unit> {
        Some(match self {
            Unit::Celsius => Unit::Fahrenheit,
            Unit::Fahrenheit => Unit::Celsius,
            Unit::Microinch => Unit::Micrometre,
            Unit::Micrometre => Unit::Microinch,
            Unit::Inch => Unit::Millimetre,
            Unit::Millimetre => Unit::Inch,
            Unit::AmperePerFt2 => Unit::AmperePerDm2,
            Unit::AmperePerDm2 => Unit::AmperePerFt2,
            _ => return None,
        })
    }
}

impl Quantity {
    /// The reading in the other unit system: converted exactly, then rounded once (half away from zero) to one
    /// decimal more than was recorded, or as many more as it takes not to be coarser than the record: 16 µin are
    /// 0.41 µm, not 0.4. `None` where the unit has no counterpart.
    pub fn in_other_system(&self) -> Option<Quantity> {
        let unit = self.unit.counterpart()?;
        let (scale, _) = self.unit.factor();
        let (other_scale, other_offset) = unit.factor();
        let common = self.common()?;
        let value = common.checked_sub(other_offset)?.checked_div(other_scale)?;
        // What one step of the record's last digit is in the other unit.
        let step = scale.checked_div(other_scale)?.checked_mul(Decimal::new(1, self.value.scale()))?;
        let mut decimals = self.value.scale().checked_add(1)?;
        while decimals < MOST && Decimal::new(1, decimals) > step {
            decimals = decimals.checked_add(1)?;
        }
        let mut value = value.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero);
        value.rescale(decimals);
        Some(Quantity { value, unit })
    }

    /// The value in another unit of its dimension, to 28 digits: for figures that are held against each other within
    /// their precision, never for a limit. `None` when the dimensions differ.
    pub fn value_in(&self, unit: Unit) -> Option<Decimal> {
        if unit == self.unit {
            return Some(self.value);
        }
        if unit.dimension() != self.unit.dimension() {
            return None;
        }
        let (scale, offset) = unit.factor();
        self.common()?.checked_sub(offset)?.checked_div(scale)
    }

    /// A difference, such as an uncertainty, in another unit of its dimension: 5 °C of difference are 9 °F. `None` when
    /// the dimensions differ.
    pub fn difference_in(&self, unit: Unit) -> Option<Decimal> {
        if unit == self.unit {
            return Some(self.value);
        }
        if unit.dimension() != self.unit.dimension() {
            return None;
        }
        self.value.checked_mul(self.unit.factor().0)?.checked_div(unit.factor().0)
    }

    /// Half a step of the last place it was written with, in another unit of its dimension: how far the eye that
    /// read it may have moved it. `None` when the dimensions differ.
    pub fn precision_in(&self, unit: Unit) -> Option<Decimal> {
        if unit.dimension() != self.unit.dimension() {
            return None;
        }
        // Beyond 28 places there is no half step to tell.
        let half = Decimal::try_new(5, self.value.scale().checked_add(1)?).unwrap_or_default();
        half.checked_mul(self.unit.factor().0)?.checked_div(unit.factor().0)
    }

    /// As recorded, with the other unit system in parentheses where there is one.
    pub fn with_conversion(&self) -> String {
        match self.in_other_system() {
            Some(other) => format!("{self} ({other})"),
            None => self.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Figures by hand from 1 in = 25.4 mm and °C = (°F − 32) · 5/9 (NIST SP 811, appendix B); current density
    /// from 1 ft = 3.048 dm.
    #[test]
    fn values_and_precision_in_another_unit() {
        let q = |text: &str| text.parse::<Quantity>().unwrap();
        let value = |text: &str, unit| q(text).value_in(unit).unwrap().round_dp(6).normalize().to_string();
        assert_eq!(value("16 µin", Unit::Micrometre), "0.4064");
        assert_eq!(value("77 °F", Unit::Celsius), "25");
        let half = |text: &str, unit| q(text).precision_in(unit).unwrap().round_dp(6).normalize().to_string();
        assert_eq!(half("16 µin", Unit::Micrometre), "0.0127");
        assert_eq!(half("77 °F", Unit::Celsius), "0.277778"); // half a °F is 5/18 °C
        assert_eq!(half("0.41 µm", Unit::Micrometre), "0.005");
        assert_eq!(q("77 °F").value_in(Unit::Minute), None);
        assert_eq!(q("5 °C").difference_in(Unit::Fahrenheit).unwrap().normalize().to_string(), "9");
    }

    #[test]
    fn readings_in_the_other_system() {
        for (recorded, printed) in [
            ("91 °F", "91 °F (32.8 °C)"),
            ("32 °F", "32 °F (0.0 °C)"),
            ("-40.0 °F", "-40.0 °F (-40.00 °C)"),
            ("31 °C", "31 °C (87.8 °F)"),
            ("55.0 °C", "55.0 °C (131.00 °F)"),
            ("16 µin", "16 µin (0.41 µm)"),
            ("13.2 µin", "13.2 µin (0.335 µm)"),
            ("0.41 µm", "0.41 µm (16.142 µin)"),
            ("0.0003 in", "0.0003 in (0.00762 mm)"),
            ("125 A/ft²", "125 A/ft² (13.5 A/dm²)"),
            ("15 A/dm²", "15 A/dm² (139.4 A/ft²)"),
            ("30 min", "30 min"),
            ("24.6 vol%", "24.6 vol%"),
        ] {
            assert_eq!(recorded.parse::<Quantity>().unwrap().with_conversion(), printed);
        }
    }

    #[test]
    fn no_conversion_is_coarser_than_its_reading() {
        for text in ["1 µin", "0.5 µin", "999999999 °F", "0.000000001 in", "0.000000001 °C"] {
            let reading: Quantity = text.parse().unwrap();
            let other = reading.in_other_system().unwrap();
            assert!(other.value().scale() > reading.value().scale(), "{text}: {other}");
        }
    }
}
