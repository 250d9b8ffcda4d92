//! The evidence store, through the program's own verbs: kept at issue, checked later, never lost quietly.

use std::fs;
use std::path::Path;

use brightproof::app::book::Book;
use brightproof::app::delivery;
use brightproof::app::delivery::Reissue;
use brightproof::app::delivery::Which;
use brightproof::app::desk::open_register;
use brightproof::app::evidence;
use brightproof::app::evidence::State;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::verify;
use brightproof::folder::Folder;
use brightproof::moment::Date;

use crate::demo;
use crate::support::read;

fn states(folder: &Path) -> Vec<(Vec<String>, State)> {
    let register = open_register(&Folder::new(folder)).unwrap();
    let book = Book::open(Folder::new(folder)).unwrap();
    let all = evidence::check(&book, &register).unwrap();
    all.into_iter().map(|(kept, state)| (kept.paths.into_iter().collect(), state)).collect()
}

fn expired(folder: &Path, day: &str) -> usize {
    let register = open_register(&Folder::new(folder)).unwrap();
    let book = Book::open(Folder::new(folder)).unwrap();
    evidence::expired(&book, &register, read::<Date>(day)).unwrap().len()
}

fn place(folder: &Path, bytes: &[u8]) -> std::path::PathBuf {
    let digest = brightproof::canonical::stamp(bytes);
    folder.join(evidence::STORE).join(evidence::place(&digest).unwrap())
}

#[test]
fn what_a_certificate_rests_on_is_kept() {
    let folder = demo::fresh("evidence");
    let root = demo::begin(&folder, "evidence");
    let targets = ["L-26-0541", "L-26-0542", "L-26-0543"].map(|l| Target::Lot(l.to_owned()));
    let world = demo::world(demo::ISSUED, "evidence");
    let numbers = demo::issue_all(&mut demo::desk(&folder), &targets, &world);
    let anchor = verify::Anchor::read(&root).unwrap();
    let store = folder.join(evidence::STORE);
    let mut files = 0;
    for number in &numbers {
        let bytes = demo::file(&folder, number);
        let register = demo::register(&folder);
        let mut found = demo::verify(&bytes, &anchor, Some(&register));
        verify::evidence(&mut found, &bytes, &store, &[]).unwrap();
        demo::verifies(&found);
        files += usize::from(demo::said(&found, "evidence") == "pass");
    }
    assert_eq!(files, 3);
    assert!(states(&folder).iter().all(|(_, state)| *state == State::Whole));
    assert_eq!(states(&folder).len(), 2, "{:?}", states(&folder));

    // Issued again: the same certificate, the same store.
    let report = fs::read(folder.join("papers/BL-2210.txt")).unwrap();
    let kept = place(&folder, &report);
    let again = demo::issue_all(&mut demo::desk(&folder), &targets, &world);
    assert_eq!(again, numbers);

    // Their order asks for the papers: they lie beside the certificate, and go along when it is sent again.
    let beside =
        |out: &Path, number: &str, paper: &str| fs::read(out.join(format!("{number}-papers/{paper}"))).ok();
    let certificates = folder.join("certificates");
    assert_eq!(beside(&certificates, &numbers[0], "BL-2210.txt").as_ref(), Some(&report));
    assert!(beside(&certificates, &numbers[1], "FE-118.txt").is_some());
    assert!(!certificates.join(format!("{}-papers", numbers[2])).exists());
    let out = folder.join("sent");
    let (by, to, why) = ("D. Yarrow", "Quillmark Instruments", "lost");
    let request = Reissue { by, to, why, how: None, approved_by: Some("M. Sorrel"), out: &out };
    delivery::reissue(&Folder::new(&folder), &Which::Number(&numbers[0]), &request, &world).unwrap();
    assert_eq!(beside(&out, &numbers[0], "BL-2210.txt").as_ref(), Some(&report));

    // The paper in the folder may change; the one that was judged is kept.
    fs::write(folder.join("papers/BL-2210.txt"), "another report").unwrap();
    assert_eq!(fs::read(&kept).unwrap(), report);
    // A file altered or lost in the store is told, by the shop and by the verifier.
    fs::write(&kept, "no rust at all").unwrap();
    assert!(states(&folder).iter().any(|(_, state)| *state == State::Altered));
    let said = |folder: &Path| {
        let bytes = demo::file(folder, &numbers[0]);
        let mut found = demo::verify(&bytes, &anchor, None);
        verify::evidence(&mut found, &bytes, &store, &[]).unwrap();
        demo::said(&found, "evidence")
    };
    assert!(said(&folder).starts_with("fail: papers/BL-2210.txt is altered"), "{}", said(&folder));
    fs::remove_file(&kept).unwrap();
    assert!(states(&folder).iter().any(|(_, state)| *state == State::Missing));
    assert!(said(&folder).starts_with("fail: papers/BL-2210.txt is missing"));

    // Ten years for this purchaser, counted from the day of issue; a shorter wish afterwards shortens nothing.
    assert_eq!((expired(&folder, "2036-11-24"), expired(&folder, "2036-11-25")), (0, 2));
    demo::change(&folder, "purchasers.yaml", "keep_years: 10", "keep_years: 1");
    assert_eq!(expired(&folder, "2030-01-01"), 0);
    demo::change(&folder, "purchasers.yaml", "keep_years: 1", "keep_years: 30");
    assert_eq!(expired(&folder, "2036-11-25"), 0);
    let hold = "keep_years: 1\n    legal_hold: { since: 2027-01-05, by: M. Sorrel, why: a claim }";
    demo::change(&folder, "purchasers.yaml", "keep_years: 30", hold);
    assert_eq!(expired(&folder, "2099-01-01"), 0);
    demo::change(&folder, "purchasers.yaml", hold, "keep_years: 1");
    assert_eq!(expired(&folder, "2099-01-01"), 2);
    demo::change(&folder, "purchasers.yaml", "    keep_years: 1\n", "");
    assert_eq!(expired(&folder, "2099-01-01"), 0, "nobody says that they may go");
}

#[test]
fn a_paper_replaced_after_a_check_is_a_change() {
    let folder = demo::fresh("evidence-replaced");
    demo::begin(&folder, "replaced");
    let world = demo::world(demo::ISSUED, "replaced");
    let book = || Book::open(Folder::new(&folder)).unwrap();
    let judged = |book: &Book| issue::judge_lot(book, "L-26-0541", None, &world).unwrap();
    assert!(brightproof::judge::conforms(&judged(&book()).findings));
    fs::write(folder.join("papers/BL-2210.txt"), "another report").unwrap();
    let findings = judged(&book()).findings;
    let gaps: Vec<_> = findings.iter().filter(|f| f.is_gap()).map(|f| f.requirement.as_str()).collect();
    assert_eq!(gaps, ["house/record.unexplained-change"]);
}

#[test]
fn a_load_changed_after_a_check_needs_a_correction_in_the_book() {
    let folder = demo::fresh("load-changed");
    demo::begin(&folder, "load");
    let world = demo::world(demo::ISSUED, "load");
    let gaps = || -> Vec<String> {
        let book = Book::open(Folder::new(&folder)).unwrap();
        let judged = issue::judge_lot(&book, "L-26-0543", None, &world).unwrap();
        judged.findings.iter().filter(|f| f.is_gap()).map(|f| f.subject.clone()).collect()
    };
    demo::change(&folder, "loads/LD-7.yaml", "temperature: 77 °F", "temperature: 91 °F");
    assert_eq!(gaps(), ["bath temperature"]);
    // What the gap list taught somebody to write.
    let hot = fs::read_to_string(folder.join("loads/LD-7.yaml")).unwrap();
    demo::change(&folder, "loads/LD-7.yaml", "temperature: 91 °F", "temperature: 89 °F");
    assert_eq!(gaps(), ["change since a check: loads.LD-7.steps.2"]);
    // The same with the word of whoever answers for it.
    let text = |yaml: &str| {
        let load: brightproof::load::Load = brightproof::yaml::parse(yaml).unwrap();
        brightproof::correction::text(&serde_json::to_value(&load.steps[2]).unwrap())
    };
    let cool = fs::read_to_string(folder.join("loads/LD-7.yaml")).unwrap();
    let correction = format!(
        "corrections:\n  - {{ at: loads.LD-7.steps.2, was: {:?}, now: {:?}, by: M. Sorrel, \
         when: 2026-11-24T16:00-05:00, why: misread }}\n",
        text(&hot),
        text(&cool)
    );
    fs::write(folder.join("corrections.yaml"), correction).unwrap();
    assert_eq!(gaps(), Vec::<String>::new());
}

#[test]
fn a_store_that_cannot_be_written_issues_nothing() {
    let folder = demo::fresh("evidence-refused");
    demo::begin(&folder, "refused");
    // A file stands where the store should be.
    fs::write(folder.join(evidence::STORE), "in the way").unwrap();
    let targets = [Target::Lot("L-26-0541".to_owned()), Target::Lot("L-26-0543".to_owned())];
    let world = demo::world(demo::ISSUED, "refused");
    let mut desk = demo::desk(&folder);
    let outcomes = issue::issue(&mut desk, &targets, demo::RELEASES, None, &world, &|| {}).unwrap();
    assert!(matches!(outcomes[0], Outcome::Failed(_)));
    assert!(matches!(outcomes[1], Outcome::Issued { .. }));
    assert_eq!(evidence::place("../../etc/passwd"), None);
}
