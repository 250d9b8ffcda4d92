//! Sampling by plans whose severity the lots before decide, and by plans the shop enters from its own copies.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use super::at;
use crate::demo;

fn shop(name: &str) -> PathBuf {
    let folder = demo::fresh(name);
    demo::begin(&folder, name);
    folder
}

fn edit(folder: &Path, file: &str, from: &str, to: &str) {
    let path = folder.join(file);
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{file}: {from}");
    fs::write(path, text.replace(from, to)).unwrap();
}

/// Two lots were sorted to the last piece and certified; what their samples were is in the register, so that the next
/// lot is inspected as severely when their records are put away.
#[test]
fn the_register_keeps_the_history() {
    let folder = shop("sampling-register");
    for lot in ["L-26-0556", "L-26-0557"] {
        edit(&folder, &format!("lots/{lot}.yaml"), "pieces: 13, failed: 3", "pieces: 60, failed: 3");
    }
    at(&folder, &["issue", "--by", "M. Sorrel", "L-26-0556", "L-26-0557"]).code(0);
    at(&folder, &["check", "L-26-0558"]).code(1).says("2 of 13 failed; asked: at most 1 failed");
    for lot in ["L-26-0556", "L-26-0557"] {
        fs::remove_file(folder.join(format!("lots/{lot}.yaml"))).unwrap();
    }
    at(&folder, &["check", "L-26-0558"]).code(1).says("2 of 13 failed; asked: at most 1 failed");
    at(&folder, &["plan", "--order", "QI-88470", "--line", "1", "--grade", "316L"])
        .code(0)
        .says("tightened inspection since lot L-26-0558");

    // Without any history the same lot is inspected normally, and accepted by the same plan.
    fs::remove_file(folder.join("register.sqlite")).unwrap();
    at(&folder, &["check", "L-26-0558"]).code(0);
}

/// Nobody here could read at which level ISO 4519 is inspected: no verdict until the shop enters its copy's rows.
#[test]
fn a_plan_that_is_not_known_is_entered_from_the_shop_s_copy() {
    let folder = shop("sampling-own");
    edit(&folder, "parts/7731-09-A.yaml", "MIL-STD-105E level II AQL 6.5", "ISO 4519 AQL 1.5");
    at(&folder, &["check", "L-26-0559"]).code(1).says("the sampling plan ISO 4519 AQL 1.5");
    let entered = |rows: &str| {
        let head = "plans:\n  - plan: ISO 4519 AQL 1.5\n    copy: invented copy 3\n    by: M. Sorrel\n    on: 2026-11-12\n    rows:\n";
        fs::write(folder.join("sampling.yaml"), format!("{head}{rows}")).unwrap();
    };
    entered("      - { lot_from: 1, sample: 8, accept: 0, reject: 1 }\n");
    at(&folder, &["check", "L-26-0559"]).code(0);
    entered("      - { lot_from: 1, sample: 14, accept: 0, reject: 1 }\n");
    at(&folder, &["check", "L-26-0559"]).code(1).says("13 pieces; asked: at least 14 pieces");
    for (rows, line, words) in [
        ("      - { lot_from: 2, sample: 8, accept: 0, reject: 1 }\n", 7, "does not follow"),
        ("      - { lot_from: 1, lot_to: 90, sample: 8, accept: 0, reject: 1 }\n", 6, "the last row ends"),
        ("      - { lot_from: 1, sample: 8, accept: 1, reject: 1 }\n", 7, "with `accept: 1`"),
        ("      - { lot_from: 1, sample: 8, accept: 8, reject: 9 }\n", 7, "8 may fail of 8"),
    ] {
        entered(rows);
        let done = at(&folder, &["check", "L-26-0559"]).code(2).warns(words);
        assert!(done.err.contains(&format!("sampling.yaml:{line}:")), "{}", done.err);
    }
}

/// Plans nobody can hold a record against are refused where they are written.
#[test]
fn plans_a_record_cannot_answer_are_refused() {
    let folder = shop("sampling-refused");
    for (plan, words) in [
        ("MIL-STD-105E level II AQL 15", "counts nonconformities"),
        ("ISO 2859-1 level II AQL 1.5 reduced", "not known here"),
        ("MIL-STD-105E level II AQL 6,5", "did you mean"),
        ("MIL-STD-105E level V AQL 6.5", "expected one of"),
    ] {
        let file = "parts/7731-09-A.yaml";
        let text = fs::read_to_string(folder.join(file)).unwrap();
        fs::write(folder.join(file), text.replace("MIL-STD-105E level II AQL 6.5", plan)).unwrap();
        let done = at(&folder, &["check", "L-26-0559"]).code(2);
        if !plan.contains("6,5") {
            done.warns(words);
        }
        fs::write(folder.join(file), text).unwrap();
    }
    // Zero acceptance and whole inspection need no table: 60 pieces, 5 %, 10 %: 31 by exact hypergeometric counting
    // (C(57,31)/C(60,31) = 0.1068 is too much; 32 gives 0.0957: worked with whole numbers).
    edit(&folder, "parts/7731-09-A.yaml", "MIL-STD-105E level II AQL 6.5", "c=0 LTPD 5 % risk 10 %");
    at(&folder, &["check", "L-26-0559"]).code(1).says("13 pieces; asked: at least 32 pieces");
    edit(&folder, "parts/7731-09-A.yaml", "c=0 LTPD 5 % risk 10 %", "100 %");
    at(&folder, &["check", "L-26-0559"]).code(1).says("13 pieces; asked: at least 60 pieces");
}
