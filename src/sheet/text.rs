//! Text tables.

use super::Cell;
use super::LARGEST_CSV;
use super::LONGEST;
use super::MOST_COLUMNS;
use super::MOST_ROWS;
use super::Row;
use super::SheetError;
use super::Table;

/// Reads a text table. Rows as long as the first one only: a row that breaks off has lost a reading.
pub(super) fn read(bytes: &[u8], separator: u8) -> Result<Table, SheetError> {
    if bytes.len() > LARGEST_CSV {
        return Err(SheetError::Size { size: bytes.len(), most: LARGEST_CSV });
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let before = bytes.get(..e.valid_up_to()).unwrap_or_default();
        SheetError::NotText { line: lines(before).saturating_add(1) }
    })?;
    let mut reader = csv::ReaderBuilder::new();
    let mut reader =
        reader.has_headers(false).flexible(true).delimiter(separator).from_reader(text.as_bytes());
    let mut rows: Vec<Row> = Vec::new();
    let mut width = None;
    for (count, record) in (0_u64..).zip(reader.records()) {
        if count >= MOST_ROWS {
            return Err(SheetError::TooMany { what: "rows", most: MOST_ROWS });
        }
        let record = record.map_err(|e| SheetError::Broken {
            line: e.position().map_or(0, csv::Position::line),
            message: "the line cannot be read".to_owned(),
        })?;
        // The position may still point at blank lines that were passed over.
        let start = record.position().map_or(0, csv::Position::byte);
        let start = usize::try_from(start).unwrap_or(usize::MAX);
        let blank =
            text.get(start..).map_or(0, |t| t.len().saturating_sub(t.trim_start_matches(['\r', '\n']).len()));
        let number =
            lines(text.as_bytes().get(..start.saturating_add(blank)).unwrap_or_default()).saturating_add(1);
        if record.len() as u64 > MOST_COLUMNS {
            return Err(SheetError::TooMany { what: "columns", most: MOST_COLUMNS });
        }
        let expected = *width.get_or_insert(record.len());
        let mut cells = Vec::new();
        for field in &record {
            if field.len() > LONGEST {
                return Err(SheetError::TooMany { what: "bytes in a cell", most: LONGEST as u64 });
            }
            if field.contains(['\n', '\r']) {
                let message = "a cell runs over the end of the line; is a quotation mark not closed?";
                return Err(SheetError::Broken { line: number, message: message.to_owned() });
            }
            let field = field.trim();
            cells.push(if field.is_empty() { Cell::Empty } else { Cell::Text(field.to_owned()) });
        }
        // Programs write a row of separators, or nothing at all, for an empty one.
        if cells.iter().all(Cell::is_empty) {
            continue;
        }
        if cells.len() != expected {
            return Err(SheetError::Uneven { line: number, found: cells.len(), expected });
        }
        rows.push(Row { number, cells });
    }
    Ok(Table { sheet: None, rows })
}

fn lines(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|b| **b == b'\n').count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        match read(text.as_bytes(), b',') {
            Ok(table) => table
                .rows
                .iter()
                .map(|r| {
                    format!("{}:{}", r.number, r.cells.iter().map(Cell::shown).collect::<Vec<_>>().join("|"))
                })
                .collect::<Vec<_>>()
                .join(" "),
            Err(error) => error.to_string(),
        }
    }

    #[test]
    fn rows_keep_their_lines() {
        for (text, expected) in [
            ("a,b\r\n1,2\r\n", "1:`a`|`b` 2:`1`|`2`"),
            ("\u{feff}a,b\n\n\n, \n1,\"2, 3\"", "1:`a`|`b` 5:`1`|`2, 3`"),
            ("a,b\n1\n", "line 2 has 1 cells, the first line has 2"),
            ("a,b\n1,2,3\n", "line 2 has 3 cells, the first line has 2"),
            (
                "a,b\n1,\"2\n3,4\n",
                "line 2: a cell runs over the end of the line; is a quotation mark not closed?",
            ),
            ("", ""),
        ] {
            assert_eq!(shown(text), expected, "{text:?}");
        }
    }

    #[test]
    fn what_no_day_sheet_is_is_refused() {
        assert_eq!(read(b"a\n\xff\n", b',').unwrap_err(), SheetError::NotText { line: 2 });
        assert!(read("a\n".repeat(5_001).as_bytes(), b',').is_err());
        assert!(read(",".repeat(201).as_bytes(), b',').is_err());
        assert!(read("x".repeat(LONGEST + 1).as_bytes(), b',').is_err());
        assert!(read("a\n".repeat(LARGEST_CSV).as_bytes(), b',').is_err());
    }
}
