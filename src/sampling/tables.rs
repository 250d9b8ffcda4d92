//! The master tables, read from `rules/sampling/*.yaml` and checked, and the plan they give for a lot.

use serde::Deserialize;

use crate::sampling::Aql;
use crate::sampling::Basis;
use crate::sampling::Letter;
use crate::sampling::Level;
use crate::sampling::Severity;

/// Tables as they stand in the file: rows are words with spaces between them.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    standard: String,
    designation: String,
    code_letters: WrittenLetters,
    aql: String,
    normal: WrittenMaster,
    tightened: WrittenMaster,
    reduced: WrittenMaster,
    limit_numbers: WrittenLimits,
}

/// Code letters as they stand in the file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenLetters {
    basis: Basis,
    levels: String,
    rows: Vec<String>,
}

/// A master table as it stands in the file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenMaster {
    basis: Basis,
    #[serde(default)]
    recalled: String,
    rows: Vec<String>,
}

/// Limit numbers as they stand in the file.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenLimits {
    basis: Basis,
    rows: Vec<String>,
}

/// What is wrong with a file of tables.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TablesError {
    /// A word that does not belong there.
    #[error("{table}: row `{row}`: found `{found}`, expected {expected}; mend the row")]
    Word {
        /// Table of the file.
        table: String,
        /// First word of the row.
        row: String,
        /// The word.
        found: String,
        /// What belongs there.
        expected: &'static str,
    },
    /// A row that is too short or too long.
    #[error("{table}: row `{row}` has {found} cells, expected {expected}; add or remove cells")]
    Cells {
        /// Table of the file.
        table: String,
        /// First word of the row.
        row: String,
        /// Cells found.
        found: usize,
        /// Cells expected.
        expected: usize,
    },
    /// Rows that do not follow each other.
    #[error("{table}: row `{row}` does not follow the one before it; rows go up without a hole")]
    Order {
        /// Table of the file.
        table: String,
        /// First word of the row.
        row: String,
    },
    /// An arrow that leads out of the table, or a letter without a row.
    #[error("{table}: no plan is reached from letter {letter} at AQL {aql}; mend the arrows")]
    NoPlan {
        /// Table of the file.
        table: String,
        /// Letter asked.
        letter: String,
        /// Level asked.
        aql: String,
    },
}

/// One range of lot sizes or sample units and what stands in its row.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Range<T> {
    from: u64,
    to: Option<u64>,
    cells: Vec<T>,
}

impl<T> Range<T> {
    fn holds(&self, number: u64) -> bool {
        self.from <= number && self.to.is_none_or(|to| number <= to)
    }
}

/// What stands in a cell of a master table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cell {
    Down,
    Up,
    Numbers(u64, u64),
}

/// One letter's row.
#[derive(Debug, Clone, PartialEq, Eq)]
struct LetterRow {
    letter: Letter,
    sample: u64,
    cells: Vec<Cell>,
    basis: Basis,
}

/// A number of Table VIII: most nonconforming in the last lots with which reduced inspection may begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitNumber {
    /// The number.
    Number(u64),
    /// Too few sample units for this AQL: count more lots.
    MoreLots,
    /// Sources differ: no value until the shop enters its own copy's.
    Unsure,
    /// Beyond the printed range.
    NotPrinted,
}

/// Single sampling plans of MIL-STD-105E and ANSI/ASQ Z1.4: code letters, three master tables, limit numbers.
///
/// Read with serde; reading checks that every arrow reaches a plan and that ranges have no hole.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(try_from = "Written")]
pub struct Tables {
    standard: String,
    designation: String,
    letters: Vec<Range<Letter>>,
    letters_basis: Basis,
    master: [Vec<LetterRow>; 3],
    limits: Vec<Range<LimitNumber>>,
    limits_basis: Basis,
}

/// A single sampling plan for one lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plan {
    /// Letter that the lot size and the level ask for.
    pub asked: Letter,
    /// Letter of the plan used, after following an arrow.
    pub used: Letter,
    /// Sample of the plan, as the table has it.
    pub table_sample: u64,
    /// Pieces to inspect: the table's sample, or the lot where that is smaller.
    pub sample: u64,
    /// Acceptance number: most nonconforming with which the lot is accepted.
    pub accept: u64,
    /// Rejection number: fewest nonconforming with which it is not; more than `accept + 1` leaves a gap.
    pub reject: u64,
    /// Every piece is inspected, because the sample is as large as the lot or larger.
    pub whole_lot: bool,
    /// How the row is known.
    pub basis: Basis,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// A lot without pieces.
    #[error("a lot of 0 pieces has no sample; expected 1 piece or more: give the size of the lot")]
    EmptyLot,
    /// A figure that nobody here could read.
    #[error("{what} is not known here; take the plan from the controlled copy and record it by hand")]
    NotKnown {
        /// What is not known.
        what: &'static str,
    },
    /// The plan has no inspection of this severity.
    #[error("`{plan}` has no {severity} inspection; use normal inspection or order another plan")]
    NoSuchSeverity {
        /// The plan.
        plan: String,
        /// What was asked.
        severity: Severity,
    },
    /// The sample changes with nearly every lot size.
    #[error("`{plan}` has no table over lot sizes, its sample is computed for each; ask for one lot")]
    NoTable {
        /// The plan.
        plan: String,
    },
    /// Zero acceptance could not be computed.
    #[error(transparent)]
    Zero(#[from] crate::sampling::ZeroError),
    /// The tables lack a row; a file that was read has every row.
    #[error("the sampling tables have no row for a lot of {lot}; add it to the file of tables")]
    NoRow {
        /// Size of the lot.
        lot: u64,
    },
}

impl Tables {
    /// Short name of the standard the tables restate.
    pub fn standard(&self) -> &str {
        &self.standard
    }

    /// Its designation.
    pub fn designation(&self) -> &str {
        &self.designation
    }

    /// How the code letters are known.
    pub const fn letters_basis(&self) -> Basis {
        self.letters_basis
    }

    /// How the limit numbers are known.
    pub const fn limits_basis(&self) -> Basis {
        self.limits_basis
    }

    /// The ranges of lot sizes, smallest first; the last is open. The first begins with 2, a lot of one is inspected.
    pub fn lot_ranges(&self) -> impl Iterator<Item = (u64, Option<u64>)> + '_ {
        self.letters.iter().map(|r| (r.from, r.to))
    }

    /// Code letter for a lot. A lot of one takes the letter of the smallest lots.
    pub fn letter(&self, lot: u64, level: Level) -> Result<Letter, PlanError> {
        if lot == 0 {
            return Err(PlanError::EmptyLot);
        }
        let column = Level::ALL.iter().position(|l| *l == level);
        let range = self.letters.iter().find(|r| r.holds(lot.max(2)));
        range.zip(column).and_then(|(r, c)| r.cells.get(c)).copied().ok_or(PlanError::NoRow { lot })
    }

    /// Sample, Ac and Re for a letter: the letter's own, or those of the plan an arrow leads to. The plan's own letter
    /// comes first. Lot size plays no part.
    pub fn of_letter(
        &self,
        letter: Letter,
        aql: Aql,
        severity: Severity,
    ) -> Option<(Letter, u64, u64, u64, Basis)> {
        follow(self.master(severity), letter, aql)
    }

    /// The single plan for a lot of `lot` pieces (MIL-STD-105E tables I and II). After an arrow, sample, Ac and Re are
    /// those of the plan reached. A sample as large as the lot or larger means every piece.
    ///
    /// Errors: a lot of 0.
    pub fn plan(&self, lot: u64, level: Level, aql: Aql, severity: Severity) -> Result<Plan, PlanError> {
        let asked = self.letter(lot, level)?;
        let (used, table_sample, accept, reject, basis) =
            self.of_letter(asked, aql, severity).ok_or(PlanError::NoRow { lot })?;
        let sample = table_sample.min(lot);
        let whole_lot = table_sample >= lot;
        Ok(Plan { asked, used, table_sample, sample, accept, reject, whole_lot, basis })
    }

    /// Limit number (Table VIII) for `units` sample units in the lots counted. Fewer than 20 units are too few.
    pub fn limit_number(&self, units: u64, aql: Aql) -> LimitNumber {
        let Some(row) = self.limits.iter().find(|r| r.holds(units)) else { return LimitNumber::MoreLots };
        row.cells.get(aql.index()).copied().unwrap_or(LimitNumber::NotPrinted)
    }

    fn master(&self, severity: Severity) -> &[LetterRow] {
        let [normal, tightened, reduced] = &self.master;
        match severity {
            Severity::Normal => normal,
            Severity::Tightened => tightened,
            Severity::Reduced => reduced,
        }
    }
}

/// Follows arrows from a letter to a plan.
fn follow(rows: &[LetterRow], letter: Letter, aql: Aql) -> Option<(Letter, u64, u64, u64, Basis)> {
    let mut at = rows.iter().position(|r| r.letter == letter)?;
    // An arrow leads on in its own direction, so a table's length is enough.
    for _ in 0..=rows.len() {
        let row = rows.get(at)?;
        at = match row.cells.get(aql.index())? {
            Cell::Numbers(ac, re) => return Some((row.letter, row.sample, *ac, *re, row.basis)),
            Cell::Down => at.checked_add(1)?,
            Cell::Up => at.checked_sub(1)?,
        };
    }
    None
}

impl TryFrom<Written> for Tables {
    type Error = TablesError;

    fn try_from(written: Written) -> Result<Self, Self::Error> {
        same_words("code_letters", &written.code_letters.levels, &Level::ALL.map(Level::name))?;
        same_words("aql", &written.aql, &Aql::SERIES)?;
        let letters = ranges("code_letters", &written.code_letters.rows, Level::ALL.len(), 2, |word| {
            Letter::of(word).ok_or("a code letter")
        })?;
        let limits =
            ranges("limit_numbers", &written.limit_numbers.rows, Aql::SERIES.len(), 20, limit_number)?;
        let master = [
            master("normal", &written.normal)?,
            master("tightened", &written.tightened)?,
            master("reduced", &written.reduced)?,
        ];
        for (table, rows) in ["normal", "tightened", "reduced"].into_iter().zip(&master) {
            let asked = letters.iter().flat_map(|r| r.cells.iter().copied());
            for letter in asked.chain(rows.iter().map(|r| r.letter)) {
                for aql in Aql::all() {
                    follow(rows, letter, aql).ok_or_else(|| TablesError::NoPlan {
                        table: table.to_owned(),
                        letter: letter.to_string(),
                        aql: aql.to_string(),
                    })?;
                }
            }
        }
        Ok(Tables {
            standard: written.standard,
            designation: written.designation,
            letters,
            letters_basis: written.code_letters.basis,
            master,
            limits,
            limits_basis: written.limit_numbers.basis,
        })
    }
}

/// Refuses a heading that does not list the closed series in its order.
fn same_words(table: &str, text: &str, expected: &[&'static str]) -> Result<(), TablesError> {
    let words: Vec<&str> = text.split_whitespace().collect();
    for (found, expected) in words.iter().zip(expected) {
        if found != expected {
            return Err(word(table, "heading", found, expected));
        }
    }
    count(table, "heading", words.len(), expected.len())
}

fn count(table: &str, row: &str, found: usize, expected: usize) -> Result<(), TablesError> {
    if found == expected {
        return Ok(());
    }
    Err(TablesError::Cells { table: table.to_owned(), row: row.to_owned(), found, expected })
}

fn word(table: &str, row: &str, found: &str, expected: &'static str) -> TablesError {
    TablesError::Word { table: table.to_owned(), row: row.to_owned(), found: found.to_owned(), expected }
}

/// Rows that begin with `from-to`; the first from `first`, each following the one before, the last open.
fn ranges<T>(
    table: &str,
    rows: &[String],
    cells: usize,
    first: u64,
    read: impl Fn(&str) -> Result<T, &'static str>,
) -> Result<Vec<Range<T>>, TablesError> {
    let mut all = Vec::new();
    let mut next = Some(first);
    for row in rows {
        let mut words = row.split_whitespace();
        let head = words.next().unwrap_or_default();
        let expected = "two whole numbers with `-` between them, the last row without the second";
        let (from, to) = head.split_once('-').ok_or_else(|| word(table, head, head, expected))?;
        let number = |text: &str| text.parse::<u64>().map_err(|_| word(table, head, text, expected));
        let from = number(from)?;
        let to = if to.is_empty() { None } else { Some(number(to)?) };
        if next != Some(from) || to.is_some_and(|to| to < from) {
            return Err(TablesError::Order { table: table.to_owned(), row: head.to_owned() });
        }
        next = to.and_then(|to| to.checked_add(1));
        let read: Vec<T> =
            words.map(|w| read(w).map_err(|e| word(table, head, w, e))).collect::<Result<_, _>>()?;
        count(table, head, read.len(), cells)?;
        all.push(Range { from, to, cells: read });
    }
    if next.is_some() {
        // The last row must be open, or some lot has none.
        let row = rows.last().cloned().unwrap_or_default();
        return Err(TablesError::Order { table: table.to_owned(), row });
    }
    Ok(all)
}

fn limit_number(word: &str) -> Result<LimitNumber, &'static str> {
    match word {
        "*" => Ok(LimitNumber::MoreLots),
        "-" => Ok(LimitNumber::NotPrinted),
        "?" => Ok(LimitNumber::Unsure),
        number => number.parse().map(LimitNumber::Number).map_err(|_| "a whole number, `*`, `-` or `?`"),
    }
}

fn cell(word: &str) -> Result<Cell, &'static str> {
    let expected = "`v`, `^`, `Ac`, or `Ac/Re` with Re larger than Ac";
    let number = |text: &str| text.parse::<u32>().map(u64::from).map_err(|_| expected);
    match word {
        "v" => Ok(Cell::Down),
        "^" => Ok(Cell::Up),
        numbers => match numbers.split_once('/') {
            None => number(numbers).map(|ac| Cell::Numbers(ac, ac.saturating_add(1))),
            Some((ac, re)) => {
                let (ac, re) = (number(ac)?, number(re)?);
                (re > ac).then_some(Cell::Numbers(ac, re)).ok_or(expected)
            }
        },
    }
}

fn master(table: &str, written: &WrittenMaster) -> Result<Vec<LetterRow>, TablesError> {
    let mut rows: Vec<LetterRow> = Vec::new();
    for row in &written.rows {
        let mut words = row.split_whitespace();
        let head = words.next().unwrap_or_default();
        let letter = Letter::of(head).ok_or_else(|| word(table, head, head, "a code letter"))?;
        let size = words.next().unwrap_or_default();
        let sample = size.parse::<u32>().ok().filter(|n| *n > 0);
        let sample = sample.ok_or_else(|| word(table, head, size, "a sample of 1 or more"))?;
        if rows.last().is_some_and(|last| last.letter >= letter || last.sample > u64::from(sample)) {
            return Err(TablesError::Order { table: table.to_owned(), row: head.to_owned() });
        }
        let cells: Vec<Cell> =
            words.map(|w| cell(w).map_err(|e| word(table, head, w, e))).collect::<Result<_, _>>()?;
        count(table, head, cells.len(), Aql::SERIES.len())?;
        let recalled = written.recalled.split_whitespace().any(|l| l == head);
        let basis = if recalled { Basis::Recalled } else { written.basis };
        rows.push(LetterRow { letter, sample: u64::from(sample), cells, basis });
    }
    Ok(rows)
}
