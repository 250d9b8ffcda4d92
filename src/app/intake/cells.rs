//! What a cell says, read as its column is mapped: never by guessing.

use crate::columns;
use crate::columns::Form;
use crate::columns::Sheet;
use crate::moment::Date;
use crate::moment::Moment;
use crate::sheet;
use crate::sheet::Cell;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

/// A cell that has been read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Value {
    /// One value, as a record writes it.
    One(String),
    /// A whole number.
    Count(u64),
    /// Several values.
    Many(Vec<String>),
    /// Yes or no.
    Truth(bool),
}

impl Value {
    pub fn shown(&self) -> String {
        match self {
            Value::One(text) => text.clone(),
            Value::Count(number) => number.to_string(),
            Value::Many(all) => all.join(", "),
            Value::Truth(truth) => truth.to_string(),
        }
    }
}

/// What is expected instead, and how to mend it.
pub(super) type Refused = (String, &'static str);

/// What a column's cells are read with.
pub(super) struct Way<'a> {
    pub sheet: &'a Sheet,
    pub unit: Option<Unit>,
    /// The day of times that stand alone.
    pub day: Option<Date>,
    /// The offset of times that stand without one.
    pub offset: Option<&'a str>,
}

impl Way<'_> {
    /// Reads a cell that holds something.
    pub fn read(&self, cell: &Cell, form: Form) -> Result<Value, Refused> {
        match cell {
            Cell::Formula(_) => {
                let mend = "paste the value over it: a formula may show what nobody read";
                return Err(("a value is expected".to_owned(), mend));
            }
            Cell::Unreadable(_) => return Err(("a value is expected".to_owned(), "write what was read")),
            _ => {}
        }
        match form {
            Form::Text | Form::Offset => self.text(cell).map(Value::One),
            Form::Names => Ok(Value::Many(split(&self.text(cell)?, &[',', ';']))),
            Form::Count => count(cell).map(Value::Count),
            Form::Quantity => self.quantity(cell).map(Value::One),
            Form::Quantities => match cell {
                Cell::Text(text) => {
                    let each = split(text, &[';']);
                    let each = each.into_iter().map(|part| self.quantity(&Cell::Text(part)));
                    each.collect::<Result<_, _>>().map(Value::Many)
                }
                other => Ok(Value::Many(vec![self.quantity(other)?])),
            },
            Form::Moment => self.moment(cell).map(Value::One),
            Form::Day => self.day(cell).map(|day| Value::One(day.to_string())),
            Form::Truth => truth(cell).map(Value::Truth),
        }
    }

    fn text(&self, cell: &Cell) -> Result<String, Refused> {
        match cell {
            Cell::Text(text) if text.chars().any(char::is_control) => {
                Err(("plain text on one line is expected".to_owned(), "type it again"))
            }
            Cell::Text(text) => Ok(text.clone()),
            Cell::Number(number) if number.bytes().all(|b| b.is_ascii_digit()) => Ok(number.clone()),
            Cell::When { .. } => Err((
                "a name or number is expected".to_owned(),
                "the spreadsheet made a date of it; format the column as text and type it again",
            )),
            _ => Err(("a name is expected".to_owned(), "format the column as text and type it again")),
        }
    }

    /// A number as it stands, made plain: with a point, whatever stands in the sheet.
    fn number(&self, text: &str) -> Option<String> {
        let plain = match (self.sheet.decimal_comma, text.contains(','), text.contains('.')) {
            (false, false, _) | (true, false, false) => text.to_owned(),
            (true, true, false) => text.replacen(',', ".", 1),
            // A point in a sheet of decimal commas may stand for thousands, and the other way round.
            _ => return None,
        };
        plain_decimal(&plain).map(|_| plain)
    }

    fn quantity(&self, cell: &Cell) -> Result<String, Refused> {
        let example = "a number and its unit are expected";
        let digits = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-');
        let (number, written) = match cell {
            // A worksheet's numbers are numbers, whatever the comma.
            Cell::Number(number) => (plain_decimal(number).map(|_| number.clone()), ""),
            Cell::Text(text) => {
                let text = text.strip_prefix("pH").map_or(text.as_str(), str::trim);
                let end = text.find(|c: char| !digits(c)).unwrap_or(text.len());
                let (number, unit) = text.split_at(end);
                let turned = cell_begins_with_ph(cell) && unit.trim().is_empty();
                (self.number(number), if turned { "pH" } else { unit.trim() })
            }
            _ => return Err((example.to_owned(), "write it as it was read, as in 78 °F")),
        };
        let Some(number) = number else {
            let mend = "write digits and at most one decimal point; a decimal comma only where sheets.yaml says \
                        `decimal_comma: true`";
            return Err((example.to_owned(), mend));
        };
        let unit = match (written, self.unit) {
            ("", None) => {
                let mend = "write the unit in the cell, or map it under `units` in sheets.yaml";
                return Err((example.to_owned(), mend));
            }
            ("", Some(unit)) => unit,
            (written, mapped) => {
                let Ok(unit) = written.parse::<Unit>() else {
                    return Err((
                        format!("`{written}` is no unit known here"),
                        "write the unit as records do",
                    ));
                };
                if mapped.is_some_and(|m| m.dimension() != unit.dimension()) {
                    return Err((
                        format!("a reading in {} is expected", mapped.map_or("", Unit::symbol)),
                        "",
                    ));
                }
                unit
            }
        };
        let read: Quantity = format!("{number} {unit}").parse().map_err(|_| (example.to_owned(), ""))?;
        Ok(read.to_string())
    }

    fn day(&self, cell: &Cell) -> Result<Date, Refused> {
        let expected = || format!("a day is expected, written {}", self.sheet.date_format());
        let mend = "write it so, or change `date_format` in sheets.yaml";
        let read = match cell {
            Cell::When { day: Some(day), second: None } => day.parse().ok(),
            Cell::Text(text) => columns::day(text, self.sheet.date_format()),
            _ => None,
        };
        read.ok_or_else(|| (expected(), mend))
    }

    fn moment(&self, cell: &Cell) -> Result<String, Refused> {
        let expected = || "a day and a time of day are expected".to_owned();
        let (day, second) = match cell {
            Cell::Text(text) if text.parse::<Moment>().is_ok() => return Ok(text.clone()),
            Cell::Text(text) => {
                let (day, clock) = match text.split_once(char::is_whitespace) {
                    Some((first, rest)) if !first.contains(':') => (Some(first), rest.trim()),
                    _ => (None, text.as_str()),
                };
                let day = match day {
                    None => None,
                    Some(day) => Some(self.day(&Cell::Text(day.to_owned()))?),
                };
                (day, time_of_day(clock))
            }
            Cell::When { day, second } => (day.as_ref().and_then(|d| d.parse().ok()), *second),
            _ => return Err((expected(), "format the column as time, or write it as in 9:40")),
        };
        let Some(second) = second else {
            return Err((expected(), "write the time as in 9:40 or 9:40 pm; midnight as text, 00:00"));
        };
        let Some(day) = day.or(self.day) else {
            return Err((expected(), "write the day too, or map a column `date`"));
        };
        let Some(offset) = self.offset else {
            return Err((expected(), "give `offset` in sheets.yaml, or map a column `offset`"));
        };
        let text = format!("{day}T{}{offset}", sheet::clock(second));
        text.parse::<Moment>().map(|_| text).map_err(|e| (e.to_string(), "write the offset as in -05:00"))
    }
}

fn cell_begins_with_ph(cell: &Cell) -> bool {
    matches!(cell, Cell::Text(text) if text.starts_with("pH"))
}

fn split(text: &str, at: &[char]) -> Vec<String> {
    text.split(at).map(str::trim).filter(|part| !part.is_empty()).map(str::to_owned).collect()
}

fn count(cell: &Cell) -> Result<u64, Refused> {
    let text = match cell {
        Cell::Text(text) | Cell::Number(text) => text.as_str(),
        _ => "",
    };
    let plain = !text.is_empty() && text.len() <= 9 && text.bytes().all(|b| b.is_ascii_digit());
    let number = if plain { text.parse().ok() } else { None };
    number.ok_or_else(|| ("a whole number is expected".to_owned(), "write digits alone"))
}

fn truth(cell: &Cell) -> Result<bool, Refused> {
    let said = match cell {
        Cell::Truth(truth) => Some(*truth),
        Cell::Text(text) => match text.to_lowercase().as_str() {
            "yes" | "passed" | "pass" | "true" => Some(true),
            "no" | "failed" | "fail" | "false" => Some(false),
            _ => None,
        },
        _ => None,
    };
    said.ok_or_else(|| ("passed or failed is expected".to_owned(), "write `passed` or `failed`"))
}

/// `9:40`, `09:40:15`, `9:40 pm` as seconds since midnight.
fn time_of_day(text: &str) -> Option<u32> {
    let text = text.to_lowercase();
    let (clock, half) = match (text.strip_suffix("am"), text.strip_suffix("pm")) {
        (Some(clock), _) => (clock.trim(), Some(0)),
        (_, Some(clock)) => (clock.trim(), Some(12)),
        _ => (text.as_str(), None),
    };
    let parts: Vec<&str> = clock.split(':').collect();
    let number = |part: &str, digits: std::ops::RangeInclusive<usize>| {
        let plain = digits.contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        if plain { part.parse::<u32>().ok() } else { None }
    };
    let (hour, minute, second) = match parts.as_slice() {
        [h, m] => (number(h, 1..=2)?, number(m, 2..=2)?, 0),
        [h, m, s] => (number(h, 1..=2)?, number(m, 2..=2)?, number(s, 2..=2)?),
        _ => return None,
    };
    let hour = match half {
        None => hour,
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        Some(_) => return None,
    };
    (hour < 24 && minute < 60 && second < 60).then_some(hour * 3600 + minute * 60 + second)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::Becomes;

    fn read(cell: &Cell, form: Form, comma: bool, unit: Option<Unit>) -> String {
        let sheet = Sheet {
            name: "x".to_owned(),
            sheet: Becomes::Day,
            tab: None,
            separator: None,
            date_format: Some("m/d/y".to_owned()),
            offset: None,
            decimal_comma: comma,
            columns: std::collections::BTreeMap::new(),
            units: std::collections::BTreeMap::new(),
            leave: Vec::new(),
        };
        let way = Way { sheet: &sheet, unit, day: "2026-11-24".parse().ok(), offset: Some("-05:00") };
        way.read(cell, form).map_or_else(|_| "refused".to_owned(), |value| value.shown())
    }

    #[test]
    fn readings_are_taken_as_they_stand() {
        let f = Some(Unit::Fahrenheit);
        for (text, comma, unit, expected) in [
            ("78", false, f, "78 °F"),
            ("78.0", false, f, "78.0 °F"),
            ("78 °F", false, None, "78 °F"),
            ("25.5 °C", false, f, "25.5 °C"),
            ("pH 2.0", false, None, "pH 2.0"),
            ("2,0 pH", true, None, "pH 2.0"),
            ("24,60", true, Some(Unit::VolumePercent), "24.60 vol%"),
            ("24,6", false, f, "refused"),
            ("24.6", true, f, "refused"),
            ("1.234,5", true, f, "refused"),
            ("78 min", false, f, "refused"),
            ("78", false, None, "refused"),
            ("NaN", false, f, "refused"),
            ("inf", false, f, "refused"),
            ("1e3", false, f, "refused"),
            ("~78", false, f, "refused"),
            ("#N/A", false, f, "refused"),
            ("=70+8", false, f, "refused"),
            ("-", false, f, "refused"),
        ] {
            assert_eq!(read(&Cell::Text(text.to_owned()), Form::Quantity, comma, unit), expected, "{text}");
        }
        assert_eq!(read(&Cell::Number("26.1".to_owned()), Form::Quantity, true, f), "26.1 °F");
        assert_eq!(read(&Cell::Formula("70+8".to_owned()), Form::Quantity, false, f), "refused");
        let several = Cell::Text("12.1; 12.40 µin;13".to_owned());
        assert_eq!(
            read(&several, Form::Quantities, false, Some(Unit::Microinch)),
            "12.1 µin, 12.40 µin, 13 µin"
        );
    }

    #[test]
    fn times_are_taken_as_they_stand() {
        for (text, expected) in [
            ("9:40", "2026-11-24T09:40-05:00"),
            ("09:40:15", "2026-11-24T09:40:15-05:00"),
            ("9:40 PM", "2026-11-24T21:40-05:00"),
            ("12:10 am", "2026-11-24T00:10-05:00"),
            ("11/25/2026 0:05", "2026-11-25T00:05-05:00"),
            ("2026-11-25T00:05-06:00", "2026-11-25T00:05-06:00"),
            ("24:00", "refused"),
            ("13:00 pm", "refused"),
            ("9.40", "refused"),
            ("940", "refused"),
            ("11/25/2026", "refused"),
            ("25/11/2026 9:40", "refused"),
        ] {
            assert_eq!(read(&Cell::Text(text.to_owned()), Form::Moment, false, None), expected, "{text}");
        }
        let when = |day: Option<&str>, second| Cell::When { day: day.map(str::to_owned), second };
        let moment = |cell: &Cell| read(cell, Form::Moment, false, None);
        assert_eq!(moment(&when(None, Some(34_800))), "2026-11-24T09:40-05:00");
        assert_eq!(moment(&when(Some("2026-11-25"), Some(60))), "2026-11-25T00:01-05:00");
        assert_eq!(moment(&when(Some("2026-11-25"), None)), "refused");
        assert_eq!(moment(&Cell::Number("0.4".to_owned())), "refused");
        // What a spreadsheet makes of a lot number that looks like a date.
        assert_eq!(read(&when(Some("2026-05-11"), None), Form::Text, false, None), "refused");
        assert_eq!(read(&Cell::Number("1.5".to_owned()), Form::Count, false, None), "refused");
        assert_eq!(read(&Cell::Text("1,200".to_owned()), Form::Count, false, None), "refused");
    }
}
