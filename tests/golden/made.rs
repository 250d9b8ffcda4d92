//! Making a kept folder, once, when a form is frozen.

use std::fs;

use brightproof::app::desk::files;
use brightproof::app::issue::Target;

use super::all_answers;
use super::certificates;
use super::data;
use super::kept;
use crate::demo;
use crate::journeys::at;

/// What the kept shop certifies: each kind of certificate the demonstration knows.
const LOTS: [&str; 10] = [
    "L-26-0410", // corrections
    "L-26-0411", // the smallest
    "L-26-0441", // a deviation
    "L-26-0501", // data withheld
    "L-26-0502", // controlled
    "L-26-0521", // a purchaser's clauses
    "L-26-0541", // an outside laboratory
    "L-26-0542", // a subcontractor
    "L-26-0553", // a logger, profiles, pictures
    "L-26-0559", // a sampling plan
];
/// After the last reading of any of them.
const ISSUED: &str = "2026-11-25T17:20:31-05:00";
const SLIPS: [&str; 2] = ["PS-26-0311", "PS-26-0312"];

/// `GOLDEN=v2 cargo test --test tests golden::made -- --ignored` makes `tests/golden/v2`, which must not be there.
#[test]
#[ignore = "makes what is kept for ever"]
fn made() {
    let form = std::env::var("GOLDEN").unwrap();
    let to = kept(&form);
    assert!(!to.exists(), "{} is there, and is never made anew", to.display());
    let folder = demo::fresh("golden-made");
    let shop = folder.join("shop");
    fs::create_dir(&shop).unwrap();
    let root = demo::begin(&shop, "golden");
    println!("root {root}");
    let slips = SLIPS.iter().map(|s| Target::Slip((*s).to_owned()));
    let targets: Vec<Target> = slips.chain(LOTS.iter().map(|l| Target::Lot((*l).to_owned()))).collect();
    let numbers = demo::issue_all(&mut demo::desk(&shop), &targets, &demo::world(ISSUED, "golden"));
    let key = |shop: &std::path::Path| fs::read_to_string(shop.join(files::CHECKPOINT)).unwrap();
    let first = key(&shop);

    let run = |words: &[&str]| at(&folder, &[&["--shop", "shop"], words].concat());
    let (one, two) = (numbers[2].as_str(), numbers[3].as_str());
    demo::change(&shop, "purchasers.yaml", "Churn House", "Churn House, Gate 2");
    let by = ["--by", "M. Sorrel", "--why", "a gauge was found out of its limits"];
    run(&[&["withdraw", two], &by[..], &["--parts", "return them"]].concat()).code(0);
    demo::correct(&shop, "lots/L-26-0410.yaml", "light: 1200 lx", "light: 1250 lx");
    run(&[&["amend", one], &by[..], &["--kind", "conformity"]].concat()).code(0);
    let to_whom = ["--to", "goods in", "--by", "D. Yarrow", "--approved-by", "M. Sorrel"];
    run(&[&["reissue", &numbers[4], "--why", "lost", "--out", "copies"], &to_whom[..]].concat()).code(0);
    run(&["delivered", &numbers[5], "--to", "goods in", "--how", "paper", "--by", "D. Yarrow"]).code(0);
    fs::write(folder.join("old.pdf"), "%PDF-1.4\n% older than the register, invented\n").unwrap();
    let older = ["legacy", "add", "old.pdf", "--number", "C/2019-55", "--purchaser", "tarn-fell"];
    let rest = ["--issued", "2019-05-02", "--lot", "L-19-0007", "--by", "M. Sorrel"];
    run(&[&older[..], &rest].concat()).code(0);
    let why = ["--by", "M. Sorrel", "--why", "a new computer"];
    run(&[&["keys", "renew", "seal", "--open-keys"], &why[..]].concat()).code(0);
    run(&[&["keys", "renew", "register"], &why[..]].concat()).code(0);
    run(&["issue", "L-26-0405", "--by", "M. Sorrel"]).code(0);
    run(&["register", "audit"]).code(0);

    let answers = all_answers(&shop);
    for (number, file) in certificates(&shop) {
        assert!(file.len() < 400_000);
        assert_eq!(data(&file).number, number);
    }
    // Raw files of the logs and traces are evidence of the tests, not of this shop.
    demo::copy(&shop, &to.join("shop"));
    let text = serde_json::to_string_pretty(&answers).unwrap();
    fs::write(to.join("answers.json"), text + "\n").unwrap();
    fs::write(to.join("register-keys.txt"), format!("{}\n{}\n", first.trim(), key(&shop).trim())).unwrap();
    super::reports::keep(&to.join("reports"));
}
