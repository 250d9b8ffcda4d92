//! From a table to what its rows say: headings found, every mapped cell read, every fault told.

use std::collections::BTreeMap;

use crate::app::book::Book;
use crate::app::intake::cells::Value;
use crate::app::intake::cells::Way;
use crate::app::intake::fault::Faults;
use crate::columns::Block;
use crate::columns::Field;
use crate::columns::Form;
use crate::columns::STEP;
use crate::columns::Sheet;
use crate::columns::heading;
use crate::moment::Date;
use crate::sheet::Cell;
use crate::sheet::Place;
use crate::sheet::Row;
use crate::sheet::Table;
use crate::units::Unit;

/// The headings stand in one of the first rows.
const HEAD_WITHIN: usize = 20;

/// One cell that says something.
#[derive(Debug, Clone)]
pub(super) struct Said {
    pub block: Block,
    pub nth: u32,
    pub key: String,
    pub value: Value,
    pub place: Place,
}

/// What one row says, in the order of its columns.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub place: Place,
    pub said: Vec<Said>,
}

impl Line {
    pub fn get(&self, block: &Block, key: &str) -> Option<&Said> {
        self.said.iter().find(|s| s.block == *block && s.key == key)
    }
}

struct Column {
    field: Field,
    unit: Option<Unit>,
}

/// How well a table's headings fit a mapping: the row they stand in, and mapped headings that row lacks.
pub(super) fn head<'t>(table: &'t Table, sheet: &Sheet) -> Option<(usize, &'t Row, Vec<String>)> {
    let lacking = |row: &Row| -> Vec<String> {
        let there: Vec<String> = row.cells.iter().map(name_of).collect();
        sheet.columns.keys().filter(|name| !there.contains(&heading(name))).cloned().collect()
    };
    let rows = table.rows.iter().take(HEAD_WITHIN).enumerate();
    rows.map(|(i, row)| (i, row, lacking(row))).min_by_key(|(i, _, lacking)| (lacking.len(), *i))
}

fn name_of(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => heading(text),
        Cell::Number(number) => number.clone(),
        _ => String::new(),
    }
}

/// Reads every row below the headings.
pub(super) fn read(table: &Table, sheet: &Sheet, book: &Book, faults: &mut Faults) -> Vec<Line> {
    let lettered = table.sheet.is_some();
    let at = |row: u64, column: Option<usize>| Place { row, column, lettered };
    let Some((head_at, head, lacking)) = head(table, sheet) else {
        faults.say(
            &at(1, None),
            "nothing",
            "a row of headings is expected",
            "check that it is the right file",
        );
        return Vec::new();
    };
    faults.headings = head.cells.iter().map(name_of).collect();
    for name in lacking {
        let mend = "correct the heading in the sheet, or the column in sheets.yaml";
        faults.say(&at(head.number, None), format!("no column `{name}`"), "sheets.yaml maps one", mend);
    }
    let mut columns: BTreeMap<usize, Column> = BTreeMap::new();
    let mut seen: Vec<String> = Vec::new();
    for (index, cell) in head.cells.iter().enumerate() {
        let name = name_of(cell);
        if name.is_empty() {
            continue;
        }
        if seen.contains(&name) {
            let mend = "give each column a heading of its own";
            faults.say(
                &at(head.number, Some(index)),
                format!("`{name}` again"),
                "one column of a heading",
                mend,
            );
            continue;
        }
        let mapped = sheet.columns.iter().find(|(column, _)| heading(column) == name);
        if let Some((column, target)) = mapped {
            if let Some(field) = Field::named(sheet.sheet, target) {
                columns.insert(index, Column { field, unit: sheet.units.get(column).copied() });
            }
        } else if !sheet.leave.iter().any(|l| heading(l) == name) {
            let mend = "map it under `columns` in sheets.yaml, or name it under `leave`";
            let expected = "every column is mapped, or left alone on purpose";
            faults.say(&at(head.number, Some(index)), format!("the column `{name}`"), expected, mend);
        }
        seen.push(name);
    }
    let below = table.rows.iter().skip(head_at.saturating_add(1));
    below.filter_map(|row| line(row, &columns, sheet, book, lettered, faults)).collect()
}

fn line(
    row: &Row,
    columns: &BTreeMap<usize, Column>,
    sheet: &Sheet,
    book: &Book,
    lettered: bool,
    faults: &mut Faults,
) -> Option<Line> {
    let at = |column: usize| Place { row: row.number, column: Some(column), lettered };
    let cells = || row.cells.iter().enumerate();
    for (index, cell) in cells() {
        let headed = faults.headings.get(index).is_some_and(|h| !h.is_empty());
        if !headed && !cell.is_empty() {
            faults.say(
                &at(index),
                cell.shown(),
                "nothing: the column has no heading",
                "give it one, or clear the cell",
            );
        }
    }
    let filled: Vec<(usize, &Cell, &Column)> =
        cells().filter(|(_, c)| !c.is_empty()).filter_map(|(i, c)| Some((i, c, columns.get(&i)?))).collect();
    if filled.is_empty() {
        return None;
    }
    let named = named_step(&filled, &at, faults);
    let block_of = |column: &Column| match (&column.field.block, &named) {
        (Block::Named, Some(block)) => block.clone(),
        (block, _) => block.clone(),
    };
    // Days and offsets first: times that stand alone need them.
    let mut days: Vec<(Block, u32, Date)> = Vec::new();
    let mut offset = sheet.offset.clone();
    let plain = Way { sheet, unit: None, day: None, offset: None };
    for (_, cell, column) in &filled {
        if column.field.form == Form::Day
            && column.field.key == "date"
            && let Ok(Value::One(day)) = plain.read(cell, Form::Day)
            && let Ok(day) = day.parse()
        {
            days.push((block_of(column), column.field.nth, day));
        }
        if column.field.form == Form::Offset
            && let Ok(Value::One(text)) = plain.read(cell, Form::Offset)
        {
            offset = Some(text);
        }
    }
    let mut said = Vec::new();
    for (index, cell, column) in &filled {
        let (block, nth, key) = (block_of(column), column.field.nth, column.field.key.as_str());
        if key == STEP {
            continue;
        }
        if column.field.block == Block::Named {
            let Some(named) = &named else { continue };
            if named.form(key) != Some(column.field.form) {
                let expected = format!("nothing: this step has no `{key}`");
                faults.say(&at(*index), cell.shown(), expected, "clear the cell, or correct the step");
                continue;
            }
        }
        let own = days.iter().find(|(b, n, _)| *b == block && *n == nth);
        let day = own.or_else(|| days.iter().find(|(b, _, _)| matches!(b, Block::Lot | Block::Entry)));
        let way = Way { sheet, unit: column.unit, day: day.map(|d| d.2), offset: offset.as_deref() };
        match way.read(cell, column.field.form) {
            Err((expected, mend)) => {
                faults.say(&at(*index), cell.shown(), expected, mend);
                // It stands there all the same: what is told of it is not that it is missing.
                let value = Value::One(String::new());
                said.push(Said { block, nth, key: key.to_owned(), value, place: at(*index) });
            }
            Ok(value) => {
                known(book, key, &value, &at(*index), faults);
                if key != "date" && column.field.form != Form::Offset {
                    said.push(Said { block, nth, key: key.to_owned(), value, place: at(*index) });
                }
            }
        }
    }
    Some(Line { place: Place { row: row.number, column: None, lettered }, said })
}

/// The step named by the row's own cell.
fn named_step(
    filled: &[(usize, &Cell, &Column)],
    at: &impl Fn(usize) -> Place,
    faults: &mut Faults,
) -> Option<Block> {
    let (index, cell, _) = filled.iter().find(|(_, _, column)| column.field.key == STEP)?;
    let block = match cell {
        Cell::Text(text) => Block::named(&text.to_lowercase()).or_else(|| Block::named(text)),
        _ => None,
    };
    if block.is_none() {
        let expected = "a step, a test, visual or a gauge reading is expected";
        faults.say(
            &at(*index),
            cell.shown(),
            expected,
            "write it as records do, as in `passivate`, `final rinse`",
        );
    }
    block.map(|(block, _)| block)
}

/// Names the shop's book must know: a slip of the pen here would be a gap nobody understands.
fn known(book: &Book, key: &str, value: &Value, place: &Place, faults: &mut Faults) {
    let Value::One(text) = value else { return };
    let names: Vec<&str> = match key {
        "bath" => book.baths.document.baths.iter().map(|b| b.bath.as_str()).collect(),
        "instrument" => book.instruments.document.instruments.iter().map(|i| i.instrument.as_str()).collect(),
        "solution" => book.solutions.document.solutions.iter().map(|s| s.solution.as_str()).collect(),
        "by" => book.people.people.iter().map(|p| p.name.as_str()).collect(),
        "known" => vec!["stated by purchaser", "verified", "not supplied"],
        "specimen" => vec!["part", "coupon"],
        _ => return,
    };
    if names.contains(&text.as_str()) {
        return;
    }
    let distance = |name: &&str| strsim::damerau_levenshtein(name, text);
    let near = names.iter().copied().min_by_key(distance).filter(|n| distance(n) <= 2);
    let place_of = match key {
        "bath" => "a bath of baths.yaml is expected",
        "instrument" => "an instrument of instruments.yaml is expected",
        "solution" => "a solution of solutions.yaml is expected",
        "by" => "somebody in people.yaml is expected",
        "known" => "stated by purchaser, verified or not supplied is expected",
        _ => "part or coupon is expected",
    };
    let mend = near.map_or_else(
        || "correct it, or enter it in the book first".to_owned(),
        |n| format!("did you mean `{n}`?"),
    );
    faults.say(place, format!("`{text}`"), place_of, &mend);
}
