//! How the columns of the shop's own day sheets are called (`sheets.yaml`): written once, so that nobody types a sheet
//! again as a record.
//!
//! A mapping says what a column means and never what was read: it holds no value for any reading.

mod field;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::moment::Moment;
use crate::path::Path;
use crate::units::Unit;
use crate::validate::Wrong;

pub use field::Block;
pub use field::Field;
pub use field::Form;
pub use field::STEP;

/// The shop's sheets (`sheets.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheets {
    /// Each form of sheet the shop fills in.
    pub sheets: Vec<Sheet>,
}

/// One form of sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// Its name in the shop.
    pub name: String,
    /// What its rows become.
    pub sheet: Becomes,
    /// Worksheet of a workbook; left out, the only one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tab: Option<String>,
    /// What stands between the cells of a text table; left out, a comma.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub separator: Option<Separator>,
    /// How days are written, as in `m/d/y`: `y` has four digits, `yy` two; left out, `y-m-d`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date_format: Option<String>,
    /// Offset of the shop's clock, for times that are written without one, as in `-05:00`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<String>,
    /// Whether a comma stands before the fraction of a number.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub decimal_comma: bool,
    /// What each column holds, by its heading.
    pub columns: BTreeMap<String, String>,
    /// Units of columns whose cells hold the number alone, by heading.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub units: BTreeMap<String, Unit>,
    /// Headings of columns that are left alone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub leave: Vec<String>,
}

/// What the rows of a sheet become.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Becomes {
    /// Records of lots.
    Day,
    /// Analyses in the book of baths.
    Analyses,
    /// Calibrations in the book of instruments.
    Calibrations,
}

/// What stands between the cells of a text table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Separator {
    /// `,`
    #[serde(rename = ",")]
    Comma,
    /// `;`
    #[serde(rename = ";")]
    Semicolon,
    /// A tab stop.
    #[serde(rename = "tab")]
    Tab,
}

impl Separator {
    /// The byte itself.
    pub const fn byte(self) -> u8 {
        match self {
            Separator::Comma => b',',
            Separator::Semicolon => b';',
            Separator::Tab => b'\t',
        }
    }
}

/// A heading, alike however it is spaced.
pub fn heading(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A part of a day as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Year,
    ShortYear,
    Month,
    Day,
}

/// Reads a day written as `format` says; `None` when it is not, or the calendar lacks it.
pub fn day(text: &str, format: &str) -> Option<Date> {
    let (mut year, mut month, mut day) = (None, None, None);
    let mut rest = text;
    for (part, separator) in parts(format)? {
        let end = match separator {
            Some(separator) => rest.find(separator)?,
            None => rest.len(),
        };
        let (digits, after) = rest.split_at(end);
        let longest = if part == Part::Year { 4 } else { 2 };
        let fits =
            digits.bytes().all(|b| b.is_ascii_digit()) && digits.len() <= longest && !digits.is_empty();
        if !fits || (matches!(part, Part::Year | Part::ShortYear) && digits.len() != longest) {
            return None;
        }
        let number: u32 = digits.parse().ok()?;
        match part {
            Part::Year => year = Some(number),
            Part::ShortYear => year = Some(number.saturating_add(2000)),
            Part::Month => month = Some(number),
            Part::Day => day = Some(number),
        }
        rest = after.get(separator.map_or(0, char::len_utf8)..)?;
    }
    format!("{:04}-{:02}-{:02}", year?, month?, day?).parse().ok()
}

/// The parts of a way to write days, each with what stands behind it; `None` when it is no such way.
fn parts(format: &str) -> Option<Vec<(Part, Option<char>)>> {
    let mut parts = Vec::new();
    let mut rest = format;
    while !rest.is_empty() {
        let end = rest.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        let part = match word {
            "y" | "yyyy" => Part::Year,
            "yy" => Part::ShortYear,
            "m" | "mm" => Part::Month,
            "d" | "dd" => Part::Day,
            _ => return None,
        };
        let separator = after.chars().next();
        if separator.is_some_and(|c| !matches!(c, '/' | '.' | '-')) {
            return None;
        }
        parts.push((part, separator));
        rest = after.get(separator.map_or(0, char::len_utf8)..)?;
    }
    let has = |wanted: &[Part]| parts.iter().filter(|(p, _)| wanted.contains(p)).count() == 1;
    let whole = has(&[Part::Year, Part::ShortYear]) && has(&[Part::Month]) && has(&[Part::Day]);
    (whole && parts.last().is_some_and(|(_, s)| s.is_none())).then_some(parts)
}

impl Sheet {
    /// How days are written.
    pub fn date_format(&self) -> &str {
        self.date_format.as_deref().unwrap_or("y-m-d")
    }
}

/// What the mapping may not say.
pub fn check(sheets: &Sheets) -> Vec<Wrong> {
    let mut wrongs = Vec::new();
    for (i, sheet) in sheets.sheets.iter().enumerate() {
        let path = Path::root().key("sheets").index(i);
        let mut say = |path: Path, message: String, hint: &str| {
            wrongs.push(Wrong { path, message, hint: Some(hint.to_owned()) });
        };
        if sheet.name.trim().is_empty() || sheets.sheets.iter().take(i).any(|s| s.name == sheet.name) {
            say(
                path.key("name"),
                format!("`{}` is no name of its own", sheet.name),
                "give each sheet its own",
            );
        }
        if parts(sheet.date_format()).is_none() {
            let message = format!("`{}` is no way to write days", sheet.date_format());
            say(path.key("date_format"), message, "write it as in `m/d/y`, `d.m.yy` or `y-m-d`");
        }
        if let Some(offset) = &sheet.offset
            && format!("2026-01-01T00:00{offset}").parse::<Moment>().is_err()
        {
            say(path.key("offset"), format!("`{offset}` is no offset"), "write it as in \"-05:00\"");
        }
        let columns = path.key("columns");
        let mut taken: BTreeMap<&str, &str> = BTreeMap::new();
        for (name, target) in &sheet.columns {
            let at = columns.key(name);
            match Field::named(sheet.sheet, target) {
                None => {
                    let near = Field::near(sheet.sheet, target);
                    let hint = if near.is_empty() {
                        "see docs/day/intake.md for the fields".to_owned()
                    } else {
                        format!("did you mean `{}`?", near.join("` or `"))
                    };
                    say(at, format!("`{target}` is no field of such a sheet"), &hint);
                }
                Some(field) => {
                    if let Some(other) = taken.insert(target, name) {
                        let message = format!("`{target}` is said to be in `{other}` and in `{name}`");
                        say(at, message, "one column a field; number a second step, as in `rinse 2.at`");
                    }
                    if sheet.units.contains_key(name)
                        && field.form != Form::Quantity
                        && field.form != Form::Quantities
                    {
                        say(path.key("units").key(name), format!("`{target}` has no unit"), "remove it");
                    }
                }
            }
            if sheet.leave.iter().any(|l| heading(l) == heading(name)) {
                say(path.key("leave"), format!("`{name}` is mapped and left alone"), "keep one of the two");
            }
        }
        for name in sheet.units.keys().filter(|n| !sheet.columns.contains_key(*n)) {
            say(path.key("units").key(name), format!("there is no column `{name}`"), "correct the heading");
        }
        for need in Field::needed(sheet.sheet) {
            if !sheet.columns.values().any(|target| target == need) {
                say(columns.clone(), format!("no column holds `{need}`"), "map the column that does");
            }
        }
    }
    wrongs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_read_as_mapped_and_no_other_way() {
        for (text, format, expected) in [
            ("11/24/2026", "m/d/y", Some("2026-11-24")),
            ("3/4/2026", "m/d/y", Some("2026-03-04")),
            ("3/4/2026", "d/m/y", Some("2026-04-03")),
            ("24.11.26", "d.m.yy", Some("2026-11-24")),
            ("2026-11-24", "y-m-d", Some("2026-11-24")),
            ("24/11/2026", "m/d/y", None),
            ("11/24/26", "m/d/y", None),
            ("11/24/2026", "m/d/yy", None),
            ("11-24-2026", "m/d/y", None),
            ("2/29/2026", "m/d/y", None),
            ("11/24/2026 ", "m/d/y", None),
            ("+1/24/2026", "m/d/y", None),
            ("11/24", "m/d/y", None),
        ] {
            assert_eq!(day(text, format).map(|d| d.to_string()).as_deref(), expected, "{text} {format}");
        }
        for format in ["", "m/d", "m/d/y/", "q", "m d y", "m/m/y", "y/yy/d"] {
            assert_eq!(parts(format), None, "{format}");
        }
    }
}
