//! The invented shop as the judge meets it: its folder read as the program reads it, its standards adopted in
//! memory from the answers beside it, and each lot's dossier, which tests may change and judge again.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a sample that does not read fails every test that wants it"
)]

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::OnceLock;

use brightproof::adoption::Figures;
use brightproof::app::adopt;
use brightproof::app::adopt::Adopter;
use brightproof::app::adopt::Answer;
use brightproof::app::book::Book;
use brightproof::app::book::Sourced;
use brightproof::finding::Finding;
use brightproof::folder::Folder;
use brightproof::judge::Dossier;
use brightproof::judge::judge;
use brightproof::moment::Moment;
use brightproof::pack::Basis;
use brightproof::record::Immersion;
use brightproof::record::Record;
use brightproof::record::Step;
use brightproof::shop::Baths;
use brightproof::shop::Instruments;
use brightproof::shop::People;
use brightproof::shop::Solutions;
use brightproof::validate;

/// Lots of the sample shop that conform.
pub const CONFORMING: [&str; 25] = [
    "L-26-0401",
    "L-26-0402",
    "L-26-0403",
    "L-26-0404",
    "L-26-0405",
    "L-26-0406",
    "L-26-0407",
    "L-26-0408",
    "L-26-0409",
    "L-26-0410",
    "L-26-0411",
    "L-26-0471",
    "L-26-0473",
    "L-26-0474",
    "L-26-0501",
    "L-26-0502",
    "L-26-0521",
    "L-26-0541",
    "L-26-0542",
    "L-26-0543",
    "L-26-0544",
    "L-26-0545",
    "L-26-0551",
    "L-26-0553",
    "L-26-0559",
];

/// Lots that conform because the purchaser permits something in writing.
pub const UNDER_DEVIATION: [&str; 2] = ["L-26-0441", "L-26-0442"];

/// The folder of the sample shop.
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("samples/larkspur")
}

/// The sample shop with every edition of every standard adopted, as its own answers say.
pub fn book() -> &'static Book {
    static BOOK: OnceLock<Book> = OnceLock::new();
    BOOK.get_or_init(|| {
        let mut book = Book::open(Folder::new(folder())).unwrap();
        assert!(book.faults.is_empty(), "{:?}", book.faults);
        for pack in book.packs.iter().filter(|p| !p.is_house()) {
            let answers = book.folder.text(&format!("adopt/{}.yaml", pack.pack)).ok();
            let answers: BTreeMap<String, Answer> =
                answers.map_or_else(BTreeMap::new, |text| brightproof::yaml::parse(&text).unwrap());
            let adopter =
                Adopter { by: "M. Sorrel", on: "2026-09-01".parse().unwrap(), copy: "invented copy" };
            for edition in &pack.editions {
                let adoption = adopt::adopt(pack, edition, &adopter, |requirement| {
                    let plain = match requirement.basis {
                        Basis::Unsure => Figures::Unsure,
                        _ => Figures::Confirmed,
                    };
                    let answer = answers.get(&requirement.id).cloned();
                    Ok(answer.unwrap_or(Answer { figures: plain, check: None, note: None }))
                });
                let document = adoption.unwrap();
                let text = adopt::to_yaml(&document).unwrap();
                book.adoptions.push(Sourced { file: adopt::file_name(&document), text, document });
            }
        }
        book
    })
}

/// A lot's dossier, as the program gathers it.
pub fn dossier(lot: &str) -> Dossier {
    static ALL: OnceLock<BTreeMap<String, Dossier>> = OnceLock::new();
    let all = ALL.get_or_init(|| {
        let files = book().lot_files().unwrap();
        let read = |file: &String| {
            let case = book().case(book().lot(file).unwrap()).unwrap();
            (case.dossier.record.lot.clone(), case.dossier)
        };
        files.iter().map(read).collect()
    });
    all.get(lot).unwrap().clone()
}

/// What comes of a dossier.
#[derive(Debug)]
pub enum Came {
    /// It cannot be read, or says what no document may say.
    Fault(String),
    /// It was judged.
    Judged(Vec<Finding>),
}

impl Came {
    /// Whether no certificate can come of it.
    pub fn held(&self) -> bool {
        match self {
            Came::Fault(_) => true,
            Came::Judged(findings) => !brightproof::judge::conforms(findings),
        }
    }

    /// The gaps, each as `requirement, where: verdict`.
    pub fn gaps(&self) -> Vec<String> {
        match self {
            Came::Fault(fault) => vec![format!("fault: {fault}")],
            Came::Judged(findings) => findings.iter().filter(|f| f.is_gap()).map(brief).collect(),
        }
    }
}

/// A finding in one line, for messages of tests.
pub fn brief(finding: &Finding) -> String {
    format!(
        "{}, {}: {:?}{}{}",
        finding.requirement,
        finding.place_in_lot,
        finding.verdict,
        finding.observed.as_ref().map(|o| format!(" [{o}]")).unwrap_or_default(),
        finding.reason.as_ref().map(|r| format!(" ({r:?})")).unwrap_or_default()
    )
}

/// Holds a dossier's documents against what none of them may say, then judges it.
pub fn came(dossier: &Dossier) -> Came {
    let baths = Baths { baths: dossier.baths.clone() };
    let instruments = Instruments { instruments: dossier.instruments.clone() };
    let solutions = Solutions { solutions: dossier.solutions.clone() };
    let wrongs = [
        validate::record(&dossier.record),
        validate::part(&dossier.part),
        validate::order(&dossier.order),
        validate::baths(&baths),
        validate::instruments(&instruments),
        validate::solutions(&solutions),
        validate::people(&People { people: dossier.people.clone() }),
    ];
    let shared = dossier.loads.iter().flat_map(validate::load);
    let shared = shared.chain(dossier.reports.iter().flat_map(validate::test_report));
    let shared = shared.chain(validate::record(&brightproof::judge::whole(dossier).record));
    let deviations = dossier.deviations.iter().flat_map(validate::deviation);
    match wrongs.into_iter().flatten().chain(deviations).chain(shared).next() {
        Some(wrong) => Came::Fault(format!("{}: {}", wrong.path, wrong.message)),
        None => Came::Judged(judge(dossier)),
    }
}

/// Judges a record as the program would: its order, part, baths, instruments and solutions taken from the book.
pub fn through_book(record: Record) -> Came {
    if let Some(wrong) = validate::record(&record).into_iter().next() {
        return Came::Fault(format!("{}: {}", wrong.path, wrong.message));
    }
    let sourced = Sourced { file: "lots/changed.yaml".to_owned(), text: String::new(), document: record };
    match book().case(sourced) {
        Ok(case) => Came::Judged(judge(&case.dossier)),
        Err(error) => Came::Fault(error.to_string()),
    }
}

/// Takes another grade, and its row of the alloy table.
pub fn set_grade(dossier: &mut Dossier, grade: &str) {
    dossier.record.material.grade = grade.to_owned();
    dossier.alloy = book().alloys.find(grade).ok().cloned();
}

/// A value read from its text, for filling documents in tests.
pub fn read<T: std::str::FromStr>(text: &str) -> T {
    match text.parse() {
        Ok(value) => value,
        Err(_) => panic!("`{text}` does not read"),
    }
}

/// The rows of a comma-separated table, by the names of its head; lines that begin with `#` are words for people.
pub fn table(text: &str) -> Vec<BTreeMap<String, String>> {
    let mut lines = text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty());
    let head = cells(lines.next().unwrap());
    let row = |line: &str| {
        let cells = cells(line);
        assert_eq!(cells.len(), head.len(), "{line}");
        head.iter().cloned().zip(cells).collect()
    };
    lines.map(row).collect()
}

/// The cells of one line; a cell in double quotes may hold commas.
fn cells(line: &str) -> Vec<String> {
    let mut all = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => all.push(String::new()),
            c => all.iter_mut().last().unwrap().push(c),
        }
    }
    all
}

/// An instant some minutes after another.
pub fn later(moment: &Moment, minutes: i64) -> Moment {
    Moment::from_clock(moment.instant() + chrono::Duration::minutes(minutes))
}

/// The bath step inside a step, to be changed.
pub fn immersion(step: &mut Step) -> Option<&mut Immersion> {
    match step {
        Step::Clean(i)
        | Step::Descale(i)
        | Step::Passivate(i)
        | Step::Electropolish(i)
        | Step::PostDip(i)
        | Step::Neutralize(i)
        | Step::PostTreat(i)
        | Step::Bake(i) => Some(i),
        Step::Rinse(_) | Step::Dry(_) => None,
    }
}

/// Changes every instant a step names.
pub fn each_time(step: &mut Step, change: impl Fn(Moment) -> Option<Moment>) {
    let times: Vec<&mut Option<Moment>> = match step {
        Step::Rinse(rinse) => vec![&mut rinse.at],
        Step::Dry(done) => vec![&mut done.at],
        other => immersion(other).map_or_else(Vec::new, |i| vec![&mut i.in_at, &mut i.out_at]),
    };
    for at in times {
        *at = at.and_then(&change);
    }
}
