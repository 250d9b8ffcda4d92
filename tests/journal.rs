//! What a shop that wants a pass could change after its list of gaps, and what each way leaves behind.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

mod ways;

use std::cell::Cell;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;

use brightproof::app::book::Book;
use brightproof::app::desk::Desk;
use brightproof::app::desk::files;
use brightproof::app::error::Error;
use brightproof::app::issue;
use brightproof::app::issue::Judged;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::journal;
use brightproof::app::make;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Overall;
use brightproof::app::world::World;
use brightproof::certificate;
use brightproof::changes::Change;
use brightproof::finding::Document;
use brightproof::folder::Folder;
use brightproof::judge::conforms;
use brightproof::register::Register;

use crate::support::brief;

thread_local! {
    static HOUR: Cell<u32> = const { Cell::new(0) };
}

fn chance(buffer: &mut [u8]) -> Result<(), String> {
    static TURN: AtomicU64 = AtomicU64::new(0);
    for part in buffer.chunks_mut(32) {
        let turn = TURN.fetch_add(1, Ordering::Relaxed).to_string();
        let digits = brightproof::canonical::stamp(turn.as_bytes());
        for (byte, digit) in part.iter_mut().zip(digits.as_bytes().chunks(2)) {
            *byte = u8::from_str_radix(std::str::from_utf8(digit).unwrap(), 16).unwrap();
        }
    }
    Ok(())
}

/// A demonstration shop of this test's own, its clock an hour on at each turn.
struct Shop {
    root: PathBuf,
}

impl Drop for Shop {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.root);
    }
}

fn world() -> World<'static> {
    let hour = HOUR.with(|h| {
        h.set(h.get() + 1);
        h.get()
    });
    let at = format!("2026-11-{:02}T{:02}:00:00-05:00", 26 + hour / 24, hour % 24);
    World::new(at.parse().unwrap(), &chance)
}

impl Shop {
    fn new(name: &str) -> Shop {
        let root = std::env::temp_dir().join(format!("brightproof-journal-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&root);
        make::demo(&Folder::new(&root), &world()).unwrap();
        Shop { root }
    }

    fn path(&self, file: &str) -> PathBuf {
        self.root.join(file)
    }

    /// Replaces a text that stands in a file, once.
    fn edit(&self, file: &str, from: &str, to: &str) {
        let text = fs::read_to_string(self.path(file)).unwrap();
        assert!(text.contains(from), "{file} does not say `{from}`");
        fs::write(self.path(file), text.replacen(from, to, 1)).unwrap();
    }

    fn add(&self, file: &str, text: &str) {
        let before = fs::read_to_string(self.path(file)).unwrap_or_default();
        fs::write(self.path(file), before + text).unwrap();
    }

    fn book(&self) -> Book {
        let book = Book::open(Folder::new(&self.root)).unwrap();
        assert!(book.faults.is_empty(), "{:?}", book.faults);
        book
    }

    fn judged(&self, lot: &str) -> Result<Judged, Error> {
        issue::judge_lot(&self.book(), lot, None, &world())
    }

    /// The gaps a check finds.
    fn check(&self, lot: &str) -> Vec<String> {
        match self.judged(lot) {
            Ok(judged) => judged.findings.iter().filter(|f| f.is_gap()).map(brief).collect(),
            Err(error) => vec![format!("fault: {error}")],
        }
    }

    fn issue(&self, lot: &str) -> Outcome {
        let mut desk = Desk::open(Folder::new(&self.root), &|| Err(Error::cannot("open keys", ""))).unwrap();
        let targets = [Target::Lot(lot.to_owned())];
        issue::issue(&mut desk, &targets, "M. Sorrel", None, &world(), &|| {}).unwrap().remove(0)
    }

    fn issued(&self, lot: &str) -> (String, PathBuf, bool) {
        match self.issue(lot) {
            Outcome::Issued { number, file } => (number, file, true),
            Outcome::Again { number, file } => (number, file, false),
            Outcome::Held(shipment) => {
                let gaps: Vec<String> =
                    shipment.lots[0].findings.iter().filter(|f| f.is_gap()).map(brief).collect();
                panic!("{lot} is held: {gaps:#?}")
            }
            Outcome::Failed(error) | Outcome::Unwritten { error, .. } => panic!("{lot}: {error}"),
        }
    }

    fn lines(&self, lot: &str) -> usize {
        fs::read_to_string(self.path(&journal::file(lot))).unwrap_or_default().lines().count()
    }
}

const CHANGE: &str = "house/record.unexplained-change";

/// That there is one gap, and it is this one.
fn only(gaps: &[String], begins: &str) {
    assert!(gaps.len() == 1 && gaps[0].starts_with(begins), "wanted {begins}: {gaps:#?}");
}

const HOT: &str = "lots/L-26-0412.yaml";

fn correct(at: &str, was: &str, now: &str) -> String {
    format!(
        "  - {{ at: \"{at}\", was: \"{was}\", now: \"{now}\", by: M. Sorrel, when: 2026-11-25T15:00-05:00, why: the chart says so }}\n"
    )
}

#[test]
fn a_correction_that_leads_to_the_value_passes_and_is_printed() {
    let shop = Shop::new("corrected");
    only(&shop.check("L-26-0412"), "astm-a967/nitric-2.temperature");
    shop.edit(HOT, "temperature: 91 °F", "temperature: 89 °F");
    only(&shop.check("L-26-0412"), CHANGE);
    assert!(matches!(shop.issue("L-26-0412"), Outcome::Held(_)));
    // Half a correction leads nowhere; one that says another value than the record is a fault.
    let at = "runs[0].steps[2].passivate.temperature";
    shop.add(HOT, &format!("corrections:\n{}", correct(at, "90 °F", "89 °F")));
    only(&shop.check("L-26-0412"), CHANGE);
    shop.edit(HOT, "now: \"89 °F\"", "now: \"88 °F\"");
    only(&shop.check("L-26-0412"), "fault:");
    // One that was checked stands for ever: changed, it is a change nobody can explain. A further one mends it.
    shop.edit(HOT, "now: \"88 °F\"", "now: \"89 °F\"");
    shop.edit(HOT, "was: \"90 °F\"", "was: \"19 °F\"");
    assert_eq!(shop.check("L-26-0412").len(), 2);
    shop.edit(HOT, "was: \"19 °F\"", "was: \"90 °F\"");
    shop.add(HOT, &correct(at, "19 °F", "89 °F"));
    shop.add(HOT, &correct(at, "91 °F", "89 °F"));
    assert_eq!(shop.check("L-26-0412"), Vec::<String>::new());

    let (number, file, new) = shop.issued("L-26-0412");
    assert!(new);
    let bytes = fs::read(&file).unwrap();
    let data = brightproof::pdf::read_sealed(&bytes).unwrap().attachment;
    let data: certificate::Certificate = serde_json::from_slice(&data).unwrap();
    let printed = &data.lots[0].corrections;
    let said: Vec<_> = printed.iter().map(|c| (c.what.as_str(), c.was.as_str(), c.now.as_str())).collect();
    let what = "run 1, passivate, temperature";
    assert_eq!(said, ["90 °F", "19 °F", "91 °F"].map(|was| (what, was, "89 °F")));
    // It is judged again from what it carries, and the page is drawn again from it.
    let register = Register::open(&shop.path(files::REGISTER), None).unwrap();
    let anchor = Anchor::read(shop.path(files::ROOT).to_str().unwrap()).unwrap();
    let renderer = brightproof::pdf::Renderer::new().unwrap();
    let found = verify::file("c", &bytes, &anchor, Some(&register), &renderer).unwrap();
    assert_eq!(found.overall(), Overall::Verifies, "{found:#?}");
    // The same facts give the same certificate; the register names the journal's last line.
    assert_eq!(shop.issued("L-26-0412"), (number.clone(), file, false));
    let entry = register.history(&number).unwrap().remove(0);
    let text = fs::read_to_string(shop.path(&journal::file("L-26-0412"))).unwrap();
    let last = brightproof::canonical::stamp(text.lines().last().unwrap().as_bytes());
    assert_eq!(entry.detail[journal::DETAIL]["L-26-0412"], last.as_str());
}

#[test]
fn a_step_entered_afterwards_passes_and_is_printed_as_such() {
    let shop = Shop::new("late");
    let dry = "      - dry: { at: 2026-11-13T09:10-05:00, by: T. Quince }\n";
    shop.edit("lots/L-26-0417.yaml", dry, "");
    only(&shop.check("L-26-0417"), "astm-a967/nitric.final-rinse-solids");
    // The reading and the step were there and not copied: both are late, neither is a change.
    shop.edit("lots/L-26-0417.yaml", "instrument: CM-1,", "instrument: CM-1, total_solids: 60 ppm,");
    shop.edit("lots/L-26-0417.yaml", "tests:\n", &format!("{dry}tests:\n"));
    let judged = shop.judged("L-26-0417").unwrap();
    assert!(conforms(&judged.findings));
    let lot = certificate::certified_lot(judged.case.dossier, judged.findings, 1);
    let said: Vec<_> = lot.entered_late.iter().map(|l| (l.what.as_str(), l.value.as_str())).collect();
    let step = "dry.at 2026-11-13T09:10-05:00; dry.by T. Quince";
    assert_eq!(said, [("run 1, rinse, total solids", "60 ppm"), ("run 1, step 6", step)]);
    // A run made after the check is no late entry.
    shop.edit(
        "lots/L-26-0417.yaml",
        "tests:\n",
        "  - { run: \"2\", pieces: 1, steps: [{ dry: { at: 2026-12-24T09:10-05:00, by: T. Quince } }] }\ntests:\n",
    );
    let judged = shop.judged("L-26-0417").unwrap();
    let late = &judged.case.dossier.checks.unwrap().late;
    assert_eq!(late.len(), 2, "{late:#?}");
}

#[test]
fn a_journal_that_was_touched_is_a_gap() {
    let shop = Shop::new("touched");
    let file = journal::file("L-26-0412");
    shop.check("L-26-0412");
    shop.edit(&file, "91 °F", "89 °F");
    shop.edit(HOT, "temperature: 91 °F", "temperature: 89 °F");
    only(&shop.check("L-26-0412"), "house/journal.whole");

    // Cut, rewritten or deleted after something was issued: the register knows the line that is gone.
    let (number, ..) = shop.issued("L-26-0404");
    let file = journal::file("L-26-0404");
    let kept = fs::read(shop.path(&file)).unwrap();
    fs::remove_file(shop.path(&file)).unwrap();
    let gaps = shop.check("L-26-0404");
    only(&gaps, "house/journal.whole");
    assert!(gaps[0].contains(&number), "{gaps:?}");
    fs::write(shop.path(&file), &kept).unwrap();
    assert_eq!(shop.check("L-26-0404"), Vec::<String>::new());
    // A line that was never written whole counts for nothing and is in nobody's way.
    fs::write(shop.path(&file), [kept.as_slice(), b"{\"at\":\"20"].concat()).unwrap();
    assert_eq!(shop.check("L-26-0404"), Vec::<String>::new());
    assert_eq!(fs::read(shop.path(&file)).unwrap(), kept);
}

#[test]
fn many_checks_at_once_leave_one_line() {
    let shop = Shop::new("at-once");
    let book = shop.book();
    let now = world();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                for _ in 0..3 {
                    let judged = issue::judge_lot(&book, "L-26-0401", None, &now).unwrap();
                    assert!(conforms(&judged.findings) && judged.journal.head.is_some());
                }
            });
        }
    });
    assert_eq!(shop.lines("L-26-0401"), 1);
}

#[test]
fn a_journal_that_cannot_be_written_holds_the_certificate_and_not_the_answer() {
    let shop = Shop::new("unwritable");
    fs::remove_dir_all(shop.path(journal::FOLDER)).unwrap();
    fs::write(shop.path(journal::FOLDER), "a file stands where the folder should").unwrap();
    let judged = shop.judged("L-26-0401").unwrap();
    assert!(judged.journal.unkept.is_some());
    // What cannot be read cannot be told.
    match shop.issue("L-26-0401") {
        Outcome::Failed(error) => assert!(error.to_string().contains("journal"), "{error}"),
        Outcome::Held(_) => {}
        _ => panic!("issued without its line"),
    }
}

#[test]
fn the_sample_with_a_journal_is_held_by_it() {
    let shop = Shop::new("sample");
    let gaps = shop.check("L-26-0432");
    only(&gaps, CHANGE);
    assert!(gaps[0].contains("[89 °F] (Changed)"), "{gaps:?}");
    assert_eq!(shop.check("L-26-0431"), Vec::<String>::new());
    // Taking the record away leaves the journal, and a check of all lots says so.
    fs::rename(shop.path("lots/L-26-0432.yaml"), shop.path("lots/L-26-0432B.yaml")).unwrap();
    shop.edit("lots/L-26-0432B.yaml", "lot: L-26-0432", "lot: L-26-0432B");
    assert_eq!(shop.check("L-26-0432B"), Vec::<String>::new());
    assert_eq!(journal::without_record(&shop.book()).unwrap(), [journal::file("L-26-0432")]);
}

#[test]
fn names_of_files_are_safe() {
    for (lot, file) in [
        ("L-26-0417", "journal/L-26-0417.jsonl"),
        ("../x", "journal/%2E.%2Fx.jsonl"),
        (".hidden", "journal/%2Ehidden.jsonl"),
        ("ü 1", "journal/%C3%BC%201.jsonl"),
    ] {
        assert_eq!(journal::file(lot), file);
        assert_eq!(Path::new(file).components().count(), 2);
    }
}

/// A change that nobody explained is shown where it stands: in the record the value itself, in a book the thing whose
/// row it is.
#[test]
fn an_unexplained_change_is_told_with_its_place() {
    let whole = crate::support::dossier("L-26-0401");
    let change = |document: Document, at: &str| Change {
        document,
        at: at.to_owned(),
        was: "75 °F".to_owned(),
        now: "78 °F".to_owned(),
        seen: "2026-10-06T12:00-05:00".parse().unwrap(),
    };
    for (document, at, place) in [
        (
            Document::Record,
            "runs[0].steps[2].passivate.temperature",
            "runs[0].steps[2].passivate.temperature",
        ),
        (Document::Baths, "baths.N-2.analyses.2026-10-05", "baths.N-2"),
        (Document::Instruments, "instruments.TI-2", "instruments.TI-2"),
        (Document::Periodic, "periodic.PT-1.test.failed", "periodic.PT-1"),
        (Document::Order, "dated", ""),
    ] {
        let mut changed = whole.clone();
        let checks = changed.checks.get_or_insert_default();
        checks.changes = vec![change(document, at)];
        let found = brightproof::judge::judge(&changed);
        let own: Vec<_> =
            found.iter().filter(|f| f.requirement == "house/record.unexplained-change").collect();
        assert_eq!(own.len(), 1, "{at}");
        assert!(own[0].is_gap(), "{at}: {}", brief(own[0]));
        assert_eq!((own[0].place.document, own[0].place.path.to_string()), (document, place.to_owned()));
    }
}
