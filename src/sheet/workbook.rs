//! Worksheets of a workbook. Read cell by cell: one cell written far off the table must not cost a table that reaches
//! to it.

use std::io::Cursor;

use calamine::DataRef;
use calamine::ExcelDateTime;
use calamine::Reader;
use calamine::Xlsx;
use calamine::XlsxError;

use super::Cell;
use super::LARGEST_XLSX;
use super::LONGEST;
use super::MOST_COLUMNS;
use super::MOST_ROWS;
use super::Row;
use super::SheetError;
use super::Table;

type Book<'a> = Xlsx<Cursor<&'a [u8]>>;

fn open(bytes: &[u8]) -> Result<Book<'_>, SheetError> {
    if bytes.len() > LARGEST_XLSX {
        return Err(SheetError::Size { size: bytes.len(), most: LARGEST_XLSX });
    }
    Xlsx::new(Cursor::new(bytes)).map_err(|e| broken(&e))
}

fn broken(error: &XlsxError) -> SheetError {
    SheetError::Workbook(error.to_string().chars().filter(|c| !c.is_control()).take(200).collect())
}

/// Names of the worksheets.
pub(super) fn tabs(bytes: &[u8]) -> Result<Vec<String>, SheetError> {
    Ok(open(bytes)?.sheet_names())
}

/// Reads one worksheet.
pub(super) fn read(bytes: &[u8], tab: Option<&str>) -> Result<Table, SheetError> {
    let mut book = open(bytes)?;
    let known = book.sheet_names();
    let name = match (tab, known.as_slice()) {
        (Some(tab), _) if known.iter().any(|k| k == tab) => tab.to_owned(),
        (Some(tab), _) => {
            return Err(SheetError::Worksheet { found: format!("there is no worksheet `{tab}`"), known });
        }
        (None, [only]) => only.clone(),
        (None, _) => {
            return Err(SheetError::Worksheet {
                found: "nothing says which worksheet is meant".to_owned(),
                known,
            });
        }
    };
    let mut reader = book.worksheet_cells_reader(&name).map_err(|e| broken(&e))?;
    let mut rows: Vec<Row> = Vec::new();
    while let Some(cell) = reader.next_cell_with_formula().map_err(|e| broken(&e))? {
        let (row, column) = cell.pos;
        let value = match cell.formula {
            Some(formula) if !formula.is_empty() => Cell::Formula(formula),
            _ => value(&cell.value)?,
        };
        if value.is_empty() {
            continue;
        }
        if u64::from(row) >= MOST_ROWS {
            return Err(SheetError::TooMany { what: "rows", most: MOST_ROWS });
        }
        if u64::from(column) >= MOST_COLUMNS {
            return Err(SheetError::TooMany { what: "columns", most: MOST_COLUMNS });
        }
        let (number, column) = (u64::from(row).saturating_add(1), column as usize);
        if rows.last().is_none_or(|last| last.number < number) {
            rows.push(Row { number, cells: Vec::new() });
        }
        // A file may name cells in any order, or one twice.
        let Some(here) = rows.iter_mut().rev().find(|r| r.number == number) else {
            return Err(SheetError::Workbook("its rows are out of order".to_owned()));
        };
        if here.cells.len() <= column {
            here.cells.resize(column.saturating_add(1), Cell::Empty);
        }
        match here.cells.get_mut(column) {
            Some(place) if place.is_empty() => *place = value,
            _ => return Err(SheetError::Workbook(format!("row {number} names one cell twice"))),
        }
    }
    Ok(Table { sheet: Some(name), rows })
}

fn value(data: &DataRef) -> Result<Cell, SheetError> {
    Ok(match data {
        DataRef::Empty => Cell::Empty,
        DataRef::Int(number) => Cell::Number(number.to_string()),
        DataRef::Float(number) => decimal(*number),
        DataRef::String(text) => words(text)?,
        DataRef::SharedString(text) => words(text)?,
        DataRef::Bool(truth) => Cell::Truth(*truth),
        DataRef::DateTime(when) => day_and_time(when),
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => words(text)?,
        DataRef::Error(error) => Cell::Unreadable(format!("the error {error}")),
    })
}

fn words(text: &str) -> Result<Cell, SheetError> {
    if text.len() > LONGEST {
        return Err(SheetError::TooMany { what: "bytes in a cell", most: LONGEST as u64 });
    }
    let text = text.trim();
    Ok(if text.is_empty() { Cell::Empty } else { Cell::Text(text.to_owned()) })
}

/// The shortest decimal that is stored as this number: what was typed. A number that needs more than 15 digits was
/// never typed; it comes of a calculation.
fn decimal(number: f64) -> Cell {
    if !number.is_finite() {
        return Cell::Unreadable("a number that is none".to_owned());
    }
    let text = number.to_string();
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    let leading = text.trim_start_matches(['-', '0', '.']);
    let significant = leading.bytes().filter(u8::is_ascii_digit).count();
    if significant > 15 || digits > 18 {
        return Cell::Unreadable(format!("the number {text}, which no gauge shows"));
    }
    Cell::Number(text)
}

/// Serial day numbers count from 1899-12-30 (the fiction of a 29 February 1900 makes earlier ones unsure), or from
/// 1904-01-01 where the workbook says so; the fraction is the time of day, ECMA-376 part 1, 18.17.4.
fn day_and_time(when: &ExcelDateTime) -> Cell {
    const SECONDS: f64 = 86_400.0;
    let serial = when.as_f64();
    let unreadable = |why: &str| Cell::Unreadable(format!("the day number {serial}, {why}"));
    if when.is_duration() {
        return unreadable("a span of time");
    }
    if !serial.is_finite() || !(0.0..200_000.0).contains(&serial) {
        return unreadable("no day of the calendar");
    }
    // Whole seconds first, so that 09:40 stored as 0.402777777777778 is 09:40 and no second less.
    let all = (serial * SECONDS).round();
    if (serial * SECONDS - all).abs() > 0.01 {
        return unreadable("which is no whole second");
    }
    let days = (all / SECONDS).floor();
    let rest = all - days * SECONDS;
    // Both are whole and small by now.
    let (days, second) = (days as i64, rest as u32);
    if days == 0 {
        return Cell::When { day: None, second: Some(second) };
    }
    if !when_is_1904(when) && days < 61 {
        return unreadable("before March 1900");
    }
    let from_epoch =
        if when_is_1904(when) { days.saturating_sub(24_107) } else { days.saturating_sub(25_569) };
    let (year, month, day) = civil(from_epoch);
    let whole = serial.fract() == 0.0;
    Cell::When { day: Some(format!("{year:04}-{month:02}-{day:02}")), second: (!whole).then_some(second) }
}

/// Whether day 0 of the workbook lies in 1904: the reader applies it only when it tells year and month.
fn when_is_1904(when: &ExcelDateTime) -> bool {
    let plain = ExcelDateTime::new(when.as_f64(), calamine::ExcelDateTimeType::DateTime, false);
    *when != plain
}

/// Day of the Gregorian calendar from days since 1970-01-01, by counting eras of 400 years from a 1 March.
fn civil(days: i64) -> (i64, i64, i64) {
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let of_era = shifted.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    (year + era * 400 + i64::from(month <= 2), month, day)
}

#[cfg(test)]
mod tests {
    use super::*;
    use calamine::ExcelDateTimeType;

    fn shown(serial: f64, from_1904: bool) -> String {
        day_and_time(&ExcelDateTime::new(serial, ExcelDateTimeType::DateTime, from_1904)).shown()
    }

    /// Known serials: ECMA-376 part 1, 18.17.4 (2008-02-29 is 39507; 1904 system 38045).
    #[test]
    fn day_numbers_are_exact() {
        for (serial, from_1904, expected) in [
            (39_507.0, false, "the date or time 2008-02-29"),
            (38_045.0, true, "the date or time 2008-02-29"),
            (61.0, false, "the date or time 1900-03-01"),
            (0.402_777_777_777_778, false, "the date or time 09:40"),
            (46_350.402_777_777_8, false, "the date or time 2026-11-24 09:40"),
            (46_350.999_988_425_9, false, "the date or time 2026-11-24 23:59:59"),
            (60.0, false, "the day number 60, before March 1900"),
            (f64::NAN, false, "the day number NaN, no day of the calendar"),
            (-1.0, false, "the day number -1, no day of the calendar"),
            (1e9, false, "the day number 1000000000, no day of the calendar"),
        ] {
            assert_eq!(shown(serial, from_1904), expected);
        }
    }

    /// Every minute of a day comes back, however the program rounded its fraction to 15 digits.
    #[test]
    fn every_minute_comes_back() {
        for minute in 1..1440_u32 {
            let serial: f64 = format!("{:.10}", 46_350.0 + f64::from(minute) / 1440.0).parse().unwrap();
            let clock = format!("the date or time 2026-11-24 {:02}:{:02}", minute / 60, minute % 60);
            assert_eq!(shown(serial, false), clock);
        }
    }

    #[test]
    fn numbers_are_what_was_typed() {
        for (number, expected) in [
            (26.1, "the number 26.1"),
            (0.000_2, "the number 0.0002"),
            (60.0, "the number 60"),
            (0.1 + 0.2, "the number 0.30000000000000004, which no gauge shows"),
            (f64::NAN, "a number that is none"),
            (f64::INFINITY, "a number that is none"),
        ] {
            assert_eq!(decimal(number).shown(), expected);
        }
        assert!(open(&vec![0; LARGEST_XLSX + 1]).is_err());
        assert!(open(b"PK\x03\x04 no workbook").is_err());
    }
}
