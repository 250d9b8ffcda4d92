//! The unit a header names, to hold it against the map.

use crate::units::Unit;

/// The unit a header names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HeaderUnit {
    /// One of the units records use.
    Known(Unit),
    /// Another unit, as written: its numbers would be taken for ones a thousand times off, or on another
    /// scale.
    Other(String),
}

// Units a logger may print that no record uses: common practice.
const OTHERS: &[&str] =
    &["mA", "µA", "kA", "mV", "kV", "K", "mS/cm", "S/cm", "mS/m", "S/m", "µS", "mS", "g/m³", "%"];

/// A header with its spelling variants made one: spaces at the ends, and the several characters in use for
/// the degree and the micro sign.
pub fn plain_header(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match c {
            // The masculine ordinal and the ring above stand in for the degree sign on some keyboards.
            '\u{00ba}' | '\u{02da}' => plain.push('°'),
            '\u{2103}' => plain.push_str("°C"),
            '\u{2109}' => plain.push_str("°F"),
            '\u{03bc}' => plain.push('\u{00b5}'),
            c => plain.push(c),
        }
    }
    plain
}

/// The unit a header names: in brackets, after its last comma, or as a last word that can be nothing else
/// (`°C`, `degF`, `µS/cm`). A bare letter at the end names none: `Sensor C` is no temperature. `None` where
/// it names none.
pub fn header_unit(header: &str) -> Option<HeaderUnit> {
    let plain = plain_header(header);
    for (open, close) in [('(', ')'), ('[', ']')] {
        let (Some(from), Some(to)) = (plain.rfind(open), plain.rfind(close)) else { continue };
        if let Some(unit) = plain.get(from + open.len_utf8()..to).and_then(named) {
            return Some(unit);
        }
    }
    if let Some(unit) = plain.rsplit_once(',').and_then(|(_, last)| named(last)) {
        return Some(unit);
    }
    let last = plain.split([' ', '_']).next_back()?;
    let telling =
        last.starts_with('°') || last.starts_with("deg") || last.contains('/') || last.starts_with('%');
    if telling { named(last) } else { None }
}

fn named(text: &str) -> Option<HeaderUnit> {
    let text = text.trim();
    if let Ok(unit) = text.replace("° ", "°").parse::<Unit>() {
        return Some(HeaderUnit::Known(unit));
    }
    OTHERS.contains(&text).then(|| HeaderUnit::Other(text.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_unit_of_a_header() {
        let cases = [
            ("Temp (°F)", Some(HeaderUnit::Known(Unit::Fahrenheit))),
            ("Temp [ºC]", Some(HeaderUnit::Known(Unit::Celsius))),
            ("Temp ℃", Some(HeaderUnit::Known(Unit::Celsius))),
            ("Bath, C", Some(HeaderUnit::Known(Unit::Celsius))),
            ("Cond \u{03bc}S/cm", Some(HeaderUnit::Known(Unit::Microsiemens))),
            ("Current (mA)", Some(HeaderUnit::Other("mA".to_owned()))),
            ("RH %RH", Some(HeaderUnit::Known(Unit::RelativeHumidity))),
            ("Sensor C", None),
            ("Temp (probe 1)", None),
            (")(", None),
            ("", None),
        ];
        for (header, unit) in cases {
            assert_eq!(header_unit(header), unit, "{header}");
        }
    }
}
