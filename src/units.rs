//! A measurement as it was read off the gauge: an exact decimal and a unit.
//!
//! Rules of this module:
//! - a value is never converted to be kept or printed, only to be compared, and then exactly: every
//!   factor is a terminating decimal or an integer ratio brought over to the other side;
//! - trailing zeros are kept, because they say how finely the gauge was read;
//! - volume per cent and mass per cent never compare.

mod conversion;
mod percent;

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

pub use percent::Percent;
pub use percent::PercentError;

/// What kind of thing a unit measures. Only quantities of one dimension compare.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// A temperature on a scale (not a difference).
    Temperature,
    /// A span of time.
    Time,
    /// Parts by volume, as nitric acid is stated.
    VolumeFraction,
    /// Parts by mass, as citric acid, dichromate and alloying elements are stated.
    MassFraction,
    /// Dissolved or total solids in water, parts per million.
    Solids,
    /// Length: surface roughness, stock removal.
    Length,
    /// Relative humidity.
    Humidity,
    /// Acidity.
    Acidity,
    /// Electrical current per surface.
    CurrentDensity,
    /// Electrical potential.
    Voltage,
    /// Mass.
    Mass,
    /// Volume of a liquid.
    Volume,
    /// Electrical conductivity of water.
    Conductivity,
    /// Light on a surface.
    Illuminance,
    /// Wet and dry cycles of a test.
    Cycles,
    /// Pieces counted.
    Pieces,
    /// One thing against another, both in the same measure.
    Ratio,
    /// Pressure.
    Pressure,
    /// An angle.
    Angle,
    /// Mass in a volume of solution.
    MassConcentration,
    /// Mass of a volume of liquid.
    Density,
    /// Defects counted.
    Defects,
    /// Electrical current.
    Current,
    /// A surface.
    Area,
    /// Electrical charge.
    Charge,
    /// Amount of substance in a volume of solution.
    AmountConcentration,
}

/// The unit system a unit belongs to, for standards that print two which stand alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum System {
    /// °F, µin, in, A/ft².
    InchPound,
    /// °C, µm, mm, A/dm².
    Si,
    /// Common to both.
    Either,
}

macro_rules! units {
    ($( $name:ident, $symbol:literal, [$($alias:literal),*], $dim:ident, $sys:ident, $scale:literal, $offset:literal, $doc:literal; )*) => {
        /// Every unit a record may use. A closed list: an unknown unit is a fault, never a guess.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Unit { $( #[doc = $doc] $name, )* }

        impl Unit {
            /// All units, in the order of the table.
            pub const ALL: &'static [Unit] = &[ $( Unit::$name ),* ];

            /// The one way it is printed.
            pub const fn symbol(self) -> &'static str { match self { $( Unit::$name => $symbol ),* } }

            /// What it measures.
            pub const fn dimension(self) -> Dimension { match self { $( Unit::$name => Dimension::$dim ),* } }

            /// The unit system it belongs to.
            pub const fn system(self) -> System { match self { $( Unit::$name => System::$sys ),* } }

            /// Ways it may be written, the printed one first.
            fn spellings(self) -> &'static [&'static str] { match self { $( Unit::$name => &[$symbol $(, $alias)*] ),* } }

            /// Scale and offset to the common measure of the dimension: `value * scale + offset`.
            fn factor(self) -> (Decimal, Decimal) {
                // The mantissa is given in ten-thousandths, so that 0.0254 is an exact integer.
                match self { $( Unit::$name => (Decimal::new($scale, 4), Decimal::new($offset, 0)) ),* }
            }
        }
    };
}

// Factors (in ten-thousandths) lead to: temperature in ninths of a °C (9·C against 5·F − 160), time
// in seconds, length in µm (1 in = 25.4 mm exactly), current density in 1/145161 A/dm²
// (1 A/ft² = 15625/145161 A/dm², from 1 ft = 3.048 dm exactly).
units! {
    Celsius, "°C", ["degC", "C"], Temperature, Si, 90_000, 0, "degree Celsius";
    Fahrenheit, "°F", ["degF", "F"], Temperature, InchPound, 50_000, -160, "degree Fahrenheit";
    Second, "s", ["sec"], Time, Either, 10_000, 0, "second";
    Minute, "min", [], Time, Either, 600_000, 0, "minute";
    Hour, "h", ["hr"], Time, Either, 36_000_000, 0, "hour";
    Day, "d", ["day", "days"], Time, Either, 864_000_000, 0, "day";
    VolumePercent, "vol%", ["vol %", "vol-%"], VolumeFraction, Either, 10_000, 0, "per cent by volume";
    MassPercent, "wt%", ["wt %", "wt-%"], MassFraction, Either, 10_000, 0, "per cent by mass";
    Ppm, "ppm", [], Solids, Either, 10_000, 0, "parts per million of solids in water";
    Microinch, "µin", ["uin"], Length, InchPound, 254, 0, "microinch, 0.0254 µm exactly";
    Micrometre, "µm", ["um"], Length, Si, 10_000, 0, "micrometre";
    Inch, "in", [], Length, InchPound, 254_000_000, 0, "inch, 25.4 mm exactly";
    Millimetre, "mm", [], Length, Si, 10_000_000, 0, "millimetre";
    RelativeHumidity, "%RH", ["% RH"], Humidity, Either, 10_000, 0, "per cent relative humidity";
    Ph, "pH", [], Acidity, Either, 10_000, 0, "pH";
    AmperePerDm2, "A/dm²", ["A/dm2"], CurrentDensity, Si, 1_451_610_000, 0, "ampere per square decimetre";
    AmperePerFt2, "A/ft²", ["A/ft2"], CurrentDensity, InchPound, 156_250_000, 0, "ampere per square foot";
    Volt, "V", [], Voltage, Either, 10_000, 0, "volt";
    Gram, "g", [], Mass, Either, 10_000, 0, "gram";
    Millilitre, "mL", ["ml"], Volume, Either, 10_000, 0, "millilitre";
    Microsiemens, "µS/cm", ["uS/cm"], Conductivity, Either, 10_000, 0, "microsiemens per centimetre";
    Lux, "lx", ["lux"], Illuminance, Either, 10_000, 0, "lux";
    Cycle, "cycles", ["cycle"], Cycles, Either, 10_000, 0, "cycle";
    Piece, "pieces", ["piece"], Pieces, Either, 10_000, 0, "piece";
    Angstrom, "Å", ["angstrom"], Length, Si, 1, 0, "ångström, 0.0001 µm";
    Ratio, "ratio", [], Ratio, Either, 10_000, 0, "one to one";
    Kilopascal, "kPa", [], Pressure, Either, 10_000, 0, "kilopascal";
    Degree, "deg", ["°"], Angle, Either, 10_000, 0, "degree of angle";
    GramPerLitre, "g/L", ["g/l"], MassConcentration, Either, 10_000, 0, "gram in a litre of solution";
    GramPerMillilitre, "g/mL", ["g/ml"], Density, Either, 10_000, 0, "gram a millilitre";
    Defect, "defects", ["defect"], Defects, Either, 10_000, 0, "defect";
    Ampere, "A", ["amp"], Current, Either, 10_000, 0, "ampere";
    SquareCentimetre, "cm²", ["cm2"], Area, Si, 10_000, 0, "square centimetre";
    SquareDecimetre, "dm²", ["dm2"], Area, Si, 1_000_000, 0, "square decimetre";
    SquareInch, "in²", ["in2"], Area, InchPound, 64_516, 0, "square inch, 6.4516 cm² exactly";
    SquareFoot, "ft²", ["ft2"], Area, InchPound, 9_290_304, 0, "square foot, 929.0304 cm² exactly";
    AmpereMinute, "A·min", ["A.min", "A min"], Charge, Either, 10_000, 0, "ampere minute, 60 C";
    AmpereHour, "A·h", ["A.h", "A h", "Ah"], Charge, Either, 600_000, 0, "ampere hour, 60 A·min";
    MolePerLitre, "mol/L", ["mol/l", "N"], AmountConcentration, Either, 10_000, 0, "mole in a litre; a titrant's normality";
    Footcandle, "fc", [], Illuminance, InchPound, 107_639, 0, "foot-candle, taken as 10.7639 lx";
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl FromStr for Unit {
    type Err = QuantityError;

    /// Reads a unit in any of its spellings; both code points of µ read alike.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim().replace('\u{03bc}', "\u{00b5}");
        for unit in Unit::ALL {
            if unit.spellings().contains(&text.as_str()) {
                return Ok(*unit);
            }
        }
        Err(QuantityError::UnknownUnit { near: nearest_units(&text), found: text })
    }
}

/// Units whose spelling lies nearest; all ties, because offering one of two equals is worse than none.
fn nearest_units(text: &str) -> Vec<String> {
    let mut best = usize::MAX;
    let mut near: Vec<String> = Vec::new();
    for unit in Unit::ALL {
        let distance =
            unit.spellings().iter().map(|s| strsim::damerau_levenshtein(s, text)).min().unwrap_or(usize::MAX);
        if distance > 2 || distance >= text.chars().count().max(2) {
            continue;
        }
        match distance.cmp(&best) {
            Ordering::Less => {
                best = distance;
                near = vec![unit.symbol().to_owned()];
            }
            Ordering::Equal => near.push(unit.symbol().to_owned()),
            Ordering::Greater => {}
        }
    }
    // A list of everything short is no help.
    if near.len() > 3 {
        near.clear();
    }
    near
}

/// A measurement: value and unit, as recorded.
#[derive(Debug, Clone, Copy)]
pub struct Quantity {
    value: Decimal,
    unit: Unit,
}

/// Why a text is not a measurement.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// Nothing that begins like a number.
    #[error("`{0}` is not a measurement: expected a number and a unit, as in `78 °F` or `24.6 vol%`")]
    NotANumber(String),
    /// A number without a unit.
    #[error("`{0}` has no unit: expected a number and a unit, as in `78 °F` or `24.6 vol%`")]
    NoUnit(String),
    /// A unit nobody knows.
    #[error("unknown unit `{found}`{}", did_you_mean(near))]
    UnknownUnit {
        /// As written.
        found: String,
        /// Symbols that lie nearest.
        near: Vec<String>,
    },
    /// More digits than any gauge shows.
    #[error("`{0}` has more digits than a measurement can have (at most 9 before and 9 after the point)")]
    TooLong(String),
}

/// ` (did you mean ...?)` for the names given, or nothing.
pub fn did_you_mean(near: &[String]) -> String {
    match near {
        [] => String::new(),
        [one] => format!(" (did you mean `{one}`?)"),
        many => format!(" (did you mean `{}`?)", many.join("` or `")),
    }
}

impl Quantity {
    /// A measurement of `value` in `unit`.
    pub const fn new(value: Decimal, unit: Unit) -> Self {
        Quantity { value, unit }
    }

    /// The number, with its trailing zeros.
    pub const fn value(&self) -> Decimal {
        self.value
    }

    /// The unit it was recorded in.
    pub const fn unit(&self) -> Unit {
        self.unit
    }

    /// What it measures.
    pub const fn dimension(&self) -> Dimension {
        self.unit.dimension()
    }

    /// As printed, but a long span recorded in minutes reads in hours, and from two days on in days.
    pub fn spoken(&self) -> String {
        let (hour, day) = (Decimal::from(60), Decimal::from(1440));
        if self.unit != Unit::Minute || self.value < Decimal::from(120) || !self.value.fract().is_zero() {
            return self.to_string();
        }
        let days = if self.value < Decimal::from(2880) { Decimal::ZERO } else { (self.value / day).floor() };
        let rest = self.value - days * day;
        let parts = [(days, "d"), ((rest / hour).floor(), "h"), (rest % hour, "min")];
        let said: Vec<String> = parts
            .iter()
            .filter(|(n, _)| !n.is_zero())
            .map(|(n, unit)| format!("{} {unit}", n.normalize()))
            .collect();
        said.join(" ")
    }

    /// The value in the common measure of its dimension. `None` only on overflow, which the limit on
    /// digits in the parser keeps away from anything read from a file.
    fn common(&self) -> Option<Decimal> {
        let (scale, offset) = self.unit.factor();
        self.value.checked_mul(scale)?.checked_add(offset)
    }

    /// Compares exactly; `None` when the dimensions differ.
    pub fn compare(&self, other: &Quantity) -> Option<Ordering> {
        if self.unit == other.unit {
            return Some(self.value.cmp(&other.value));
        }
        if self.dimension() != other.dimension() {
            return None;
        }
        Some(self.common()?.cmp(&other.common()?))
    }
}

impl PartialEq for Quantity {
    /// Equal as recorded: same unit and same digits. `32` and `32.0` are different records.
    fn eq(&self, other: &Self) -> bool {
        self.unit == other.unit && self.value.to_string() == other.value.to_string()
    }
}

impl Eq for Quantity {}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.unit {
            Unit::Ph => write!(f, "pH {}", self.value),
            unit => write!(f, "{} {}", self.value, unit),
        }
    }
}

/// Reads a plain decimal: digits, at most one point with digits on both sides, a leading minus.
/// Refuses signs, exponents, separators and commas, which other readers take in silence.
pub fn plain_decimal(text: &str) -> Option<Decimal> {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
    let plain = |s: &str| !s.is_empty() && s.len() <= 9 && s.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(fraction) { None } else { Decimal::from_str_exact(text).ok() }
}

impl FromStr for Quantity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        // `pH 2.0` is how the trade writes it.
        let turned = text.strip_prefix("pH").map(|rest| format!("{} pH", rest.trim()));
        let text = turned.as_deref().unwrap_or(text);
        let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).unwrap_or(text.len());
        let (number, unit) = text.split_at(end);
        if number.is_empty() || unit.starts_with(',') || unit.starts_with('_') {
            return Err(QuantityError::NotANumber(text.to_owned()));
        }
        if number.split('.').any(|part| part.trim_start_matches('-').len() > 9) {
            return Err(QuantityError::TooLong(text.to_owned()));
        }
        let Some(value) = plain_decimal(number) else {
            return Err(QuantityError::NotANumber(text.to_owned()));
        };
        if unit.trim().is_empty() {
            return Err(QuantityError::NoUnit(text.to_owned()));
        }
        Ok(Quantity { value, unit: unit.parse()? })
    }
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(text: &str) -> Quantity {
        text.parse().unwrap()
    }

    /// Exact pairs: NIST SP 811 (temperature), 1 in = 25.4 mm (Federal Register 24 FR 5348, 1959).
    #[test]
    fn equal_across_units() {
        for (a, b) in [
            ("131 °F", "55 °C"),
            ("-40 °F", "-40 °C"),
            ("68 °F", "20 °C"),
            ("0.0003 in", "7.62 µm"),
            ("32 µin", "0.8128 µm"),
            ("1 h", "60 min"),
            ("24 h", "1 d"),
        ] {
            assert_eq!(q(a).compare(&q(b)), Some(Ordering::Equal), "{a} against {b}");
        }
    }

    #[test]
    fn ordered_across_units() {
        for (less, more) in
            [("70 °F", "21.2 °C"), ("0.38 µm", "15 µin"), ("16 µin", "0.4065 µm"), ("59 s", "1 min")]
        {
            assert_eq!(q(less).compare(&q(more)), Some(Ordering::Less), "{less} against {more}");
        }
        assert_eq!(q("20 vol%").compare(&q("20 wt%")), None);
    }

    #[test]
    fn written_back_as_recorded() {
        for (text, printed) in [
            ("78 °F", "78 °F"),
            ("24.60 vol%", "24.60 vol%"),
            ("16 uin", "16 µin"),
            ("16 \u{03bc}in", "16 \u{00b5}in"),
            ("78F", "78 °F"),
            ("pH 2.0", "pH 2.0"),
            ("2.0 pH", "pH 2.0"),
            ("97 % RH", "97 %RH"),
            ("-3.5 degC", "-3.5 °C"),
        ] {
            assert_eq!(q(text).to_string(), printed);
            assert_eq!(q(printed), q(text));
        }
        assert_ne!(q("32 µin"), q("32.0 µin"));
    }

    #[test]
    fn long_spans_are_spoken() {
        for (text, spoken) in [
            ("34 min", "34 min"),
            ("119 min", "119 min"),
            ("1440 min", "24 h"),
            ("1450 min", "24 h 10 min"),
            ("21920 min", "15 d 5 h 20 min"),
            ("120.5 min", "120.5 min"),
            ("26 h", "26 h"),
        ] {
            assert_eq!(q(text).spoken(), spoken);
        }
    }

    #[test]
    fn refused() {
        for text in [
            "",
            "78",
            "hot",
            "1,5 in",
            "1E3 °F",
            "1_000 ppm",
            "+5 °C",
            ".5 in",
            "5. in",
            "1.2.3 in",
            "--1 °C",
            "78 °X",
            "1234567890 ppm",
            ".nan °F",
            "5 -in",
            "1- °F",
        ] {
            assert!(text.parse::<Quantity>().is_err(), "{text} must be refused");
        }
    }

    #[test]
    fn suggests_all_ties() {
        let error = "78 degX".parse::<Quantity>().unwrap_err().to_string();
        assert_eq!(error, "unknown unit `degX` (did you mean `°C` or `°F` or `deg`?)");
    }
}
