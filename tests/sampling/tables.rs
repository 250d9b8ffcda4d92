//! Cells read back, against the fact tables (MIL-STD-105E tables I, II-A, II-B, II-C, VIII as published; compared
//! there with published copies cell by cell).

use brightproof::sampling::Aql;
use brightproof::sampling::B602Level;
use brightproof::sampling::Basis;
use brightproof::sampling::Letter;
use brightproof::sampling::Level;
use brightproof::sampling::LimitNumber;
use brightproof::sampling::Name;
use brightproof::sampling::PlanError;
use brightproof::sampling::Row;
use brightproof::sampling::Severity;
use brightproof::sampling::Tables;
use brightproof::sampling::basis;
use brightproof::sampling::row_for;
use brightproof::sampling::rows;

use super::aql;
use super::facts;
use super::tables;

/// A lot and a level that ask for a letter.
fn lot_for(tables: &Tables, letter: Letter) -> Option<(u64, Level)> {
    let lots: Vec<u64> = tables.lot_ranges().map(|(from, _)| from).collect();
    let all = lots.iter().flat_map(|lot| Level::ALL.map(|level| (*lot, level)));
    all.into_iter().find(|(lot, level)| tables.letter(*lot, *level).unwrap() == letter)
}

fn master(text: &str, severity: Severity, cells: usize) {
    let tables = tables();
    let facts = facts(text);
    assert_eq!(facts.len(), cells);
    for row in facts {
        let [letter, level, _, used, n, ac, re] = row.as_slice() else { unreachable!("{row:?}") };
        let letter = Letter::of(letter).unwrap();
        if n.is_empty() {
            // The other cells of row S are not recorded: nothing leads to them.
            assert_eq!(letter.to_string(), "S", "{row:?}");
            continue;
        }
        let numbers: (u64, u64, u64) = (n.parse().unwrap(), ac.parse().unwrap(), re.parse().unwrap());
        let of = tables.of_letter(letter, aql(level), severity).unwrap();
        assert_eq!((of.0.to_string(), (of.1, of.2, of.3)), (used.clone(), numbers), "{row:?}");
        // S is no letter of table I: only an arrow of the tightened table leads to it.
        let Some((lot, general)) = lot_for(&tables, letter) else {
            assert_eq!(letter.to_string(), "S");
            continue;
        };
        let plan = tables.plan(lot, general, aql(level), severity).unwrap();
        assert_eq!((plan.table_sample, plan.accept, plan.reject), numbers, "{row:?}");
        assert_eq!((plan.asked, plan.used.to_string()), (letter, used.clone()), "{row:?}");
        assert_eq!((plan.sample, plan.whole_lot), (numbers.0.min(lot), numbers.0 >= lot), "{row:?}");
    }
}

/// MIL-STD-105E table II-A.
#[test]
fn normal_cells() {
    master(include_str!("single_normal.csv"), Severity::Normal, 16 * 26);
}

/// MIL-STD-105E table II-B.
#[test]
fn tightened_cells() {
    master(include_str!("single_tightened.csv"), Severity::Tightened, 17 * 26);
}

/// MIL-STD-105E table II-C.
#[test]
fn reduced_cells() {
    master(include_str!("single_reduced.csv"), Severity::Reduced, 16 * 26);
}

/// MIL-STD-105E table I: both ends of each range.
#[test]
fn code_letter_cells() {
    let tables = tables();
    let mut cells = 0;
    for row in facts(include_str!("code_letters.csv")) {
        let from: u64 = row[0].parse().unwrap();
        let to: u64 = if row[1].is_empty() { u64::MAX } else { row[1].parse().unwrap() };
        for (level, letter) in Level::ALL.into_iter().zip(&row[2..]) {
            for lot in [from, to] {
                assert_eq!(tables.letter(lot, level).unwrap().to_string(), *letter, "{lot} {level}");
            }
            cells += 1;
        }
    }
    assert_eq!(cells, 105);
    assert_eq!(tables.letter(0, Level::II), Err(PlanError::EmptyLot));
}

/// MIL-STD-105E table VIII. Sources differ on one cell (40 or 49), which has no value here.
#[test]
fn limit_number_cells() {
    let tables = tables();
    let mut cells = 0;
    for row in facts(include_str!("limit_numbers_table_viii.csv")) {
        let (from, to) = row[0].split_once('-').unwrap();
        let from: u64 = from.parse().unwrap();
        let to: u64 = if to.is_empty() { u64::MAX } else { to.parse().unwrap() };
        for (aql, cell) in Aql::all().zip(&row[1..]) {
            let expected = match cell.as_str() {
                "*" => LimitNumber::MoreLots,
                "" => LimitNumber::NotPrinted,
                _ if from == 1250 && aql.name() == "4.0" => LimitNumber::Unsure,
                number => LimitNumber::Number(number.parse().unwrap()),
            };
            for units in [from, to] {
                assert_eq!(tables.limit_number(units, aql), expected, "{units} {aql}");
            }
            cells += 1;
        }
    }
    assert_eq!(cells, 17 * 26);
    assert_eq!(tables.limit_number(19, aql("10")), LimitNumber::MoreLots);
}

fn derived(text: &str, count: usize, name: impl Fn(&str) -> Name) {
    let tables = tables();
    let facts = facts(text);
    assert_eq!(facts.len(), count);
    for row in facts {
        let name = name(&row[0]);
        let from: u64 = row[2].parse().unwrap();
        let to: u64 = if row[3].is_empty() { u64::MAX } else { row[3].parse().unwrap() };
        let numbers: (u64, u64, u64) =
            (row[7].parse().unwrap(), row[8].parse().unwrap(), row[9].parse().unwrap());
        for lot in [from, to] {
            let found = row_for(&tables, &name, Severity::Normal, lot).unwrap();
            assert_eq!((found.sample, found.accept, found.reject), (Some(numbers.0), numbers.1, numbers.2));
            assert_eq!(found.pieces(lot), numbers.0.min(lot), "{name} {lot}");
        }
        // The last column: the largest lot of the row that is inspected whole.
        if let Ok(whole) = row[10].parse::<u64>() {
            let found = row_for(&tables, &name, Severity::Normal, whole).unwrap();
            assert_eq!(found.pieces(whole), whole);
        }
    }
}

/// ASTM B602 tables 1 to 3, which say that they are MIL-STD-105D level II at AQL 0.65, 1.5 and 2.5.
#[test]
fn b602_rows() {
    derived(include_str!("b602_tables_1_to_3_derived.csv"), 45, |level| {
        Name::B602(match level {
            "0.65" => B602Level::I,
            "1.5" => B602Level::II,
            _ => B602Level::III,
        })
    });
}

/// ISO 4519 at level II, which is assumed.
#[test]
fn iso_4519_rows() {
    let iso = |level: &str| format!("ISO 4519 AQL {level}").parse().unwrap();
    derived(include_str!("iso4519_derived_level_II_assumed.csv"), 30, iso);
    assert_eq!(basis(&tables(), &iso("4.0"), Severity::Normal).unwrap(), Basis::Unsure);
}

/// A row of the file of B602.
#[derive(serde::Deserialize)]
struct FileRow {
    lot_from: u64,
    lot_to: Option<u64>,
    sample: u64,
    accept: u64,
}

#[derive(serde::Deserialize)]
struct FileLevel {
    level: Name,
    aql: String,
    rows: Vec<FileRow>,
}

#[derive(serde::Deserialize)]
struct File {
    levels: Vec<FileLevel>,
}

/// The file of B602 says what the master tables give.
#[test]
fn the_file_of_b602_agrees() {
    let file: File = serde_yaml::from_str(include_str!("../../rules/sampling/b602.yaml")).unwrap();
    assert_eq!(file.levels.len(), 3);
    for level in file.levels {
        let Name::B602(which) = level.level else { unreachable!("{}", level.level) };
        assert_eq!(which.aql(), Aql::of(&level.aql));
        let written: Vec<Row> = level.rows.iter().map(row_of).collect();
        assert_eq!(rows(&tables(), &level.level, Severity::Normal).unwrap(), written);
    }
}

fn row_of(row: &FileRow) -> Row {
    Row {
        lot_from: row.lot_from,
        lot_to: row.lot_to,
        sample: Some(row.sample),
        accept: row.accept,
        reject: row.accept + 1,
    }
}

/// Names are written in one way, and errors say what was found.
#[test]
fn names() {
    for text in [
        "B602 level II",
        "MIL-STD-105E level II AQL 1.5",
        "ANSI/ASQ Z1.4 level I AQL 0.65 tightened",
        "ISO 2859-1 level S-2 AQL 1.0",
        "ISO 4519 AQL 1.5",
        "c=0 LTPD 5 % risk 10 %",
        "100 %",
    ] {
        assert_eq!(text.parse::<Name>().unwrap().to_string(), text);
    }
    for (text, part) in [
        ("B602 level IV", "I, II, III"),
        ("MIL-STD-105E level II AQL 1", "1.0"),
        ("ISO 4519 AQL 2.5", "1.5, 4.0"),
        ("c=0 LTPD 5.0 % risk 10 %", "5.0"),
        ("c=0 LTPD 5 % risk 100 %", "below 100"),
        ("MIL-STD-105E level II AQL 1.5 Reduced", "Reduced"),
        ("", "100 %"),
    ] {
        let error = text.parse::<Name>().unwrap_err().to_string();
        assert!(error.contains(part), "{error}");
    }
    let iso: Name = "ISO 2859-1 level II AQL 1.5".parse().unwrap();
    assert!(matches!(rows(&tables(), &iso, Severity::Reduced), Err(PlanError::NotKnown { .. })));
}

/// A file with a row missing, or an arrow that leads nowhere, is refused.
#[test]
fn broken_tables() {
    let text = include_str!("../../rules/sampling/mil-std-105e.yaml");
    for (from, to, part) in [
        ("    - 26-50 A B B C C D E\n", "", "does not follow"),
        ("A A A A A A B\n", "A A A A A A\n", "6 cells"),
        ("S 3150 ^ ^ 1", "S 3150 ^ ^ v", "no plan is reached"),
        ("0/2 1/3 2/4", "0/2 1/1 2/4", "Re larger than Ac"),
    ] {
        assert!(text.contains(from), "{from}");
        let error = serde_yaml::from_str::<Tables>(&text.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(error.contains(part), "{error}");
    }
}

/// A table with a slip in it is refused: some lot would have no letter, or two.
#[test]
fn rows_that_leave_a_hole_are_refused() {
    let text = include_str!("../../rules/sampling/mil-std-105e.yaml");
    let with = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        brightproof::yaml::parse::<Tables>(&text.replacen(from, to, 1)).map_err(|e| e.to_string())
    };
    assert!(with("- 9-15 A", "- 9-15 A").is_ok());
    for (from, to, words) in [
        ("- 9-15 A", "- 10-15 A", "`10-15` does not follow"),
        ("- 9-15 A", "- 8-15 A", "`8-15` does not follow"),
        ("- 9-15 A", "- 9-8 A", "`9-8` does not follow"),
        ("- 2-8 A", "- 3-8 A", "`3-8` does not follow"),
        ("- 9-15 A", "- 9- A", "does not follow"),
        ("- 9-15 A", "- nine-15 A", "nine"),
        ("- 9-15 A A", "- 9-15 A", "9-15"),
        ("- 9-15 A", "- 9-15 A A", "9-15"),
        ("- 9-15 A", "- 9-15 Z", "Z"),
        ("- 30-49 *", "- 31-49 *", "`31-49` does not follow"),
        ("- B 3 v v v v v v v v v v v v v 0 ^", "- B 1 v v v v v v v v v v v v v 0 ^", "`B` does not follow"),
        ("- B 3 v", "- A 3 v", "`A` does not follow"),
        ("- B 3 v", "- B 0 v", "0"),
        ("0/2 1/3 2/4", "2/2 1/3 2/4", "2/2"),
        ("levels: S-1 S-2", "levels: S-2 S-1", "S-2"),
        ("levels: S-1 S-2", "levels: S-2", "S-2"),
        ("aql: 0.010 0.015", "aql: 0.015 0.010", "0.015"),
        ("650 1000\n", "650\n", "25 cells"),
    ] {
        let error = with(from, to).unwrap_err();
        assert!(error.contains(words), "{to}: {error}");
    }
    // Both ends of one range may be one number.
    assert!(with("- 9-15 A A A A A B C", "- 9-9 A A A A A B C\n    - 10-15 A A A A A B C").is_ok());
}
