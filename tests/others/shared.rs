//! Loads, reports and coupons: what several lots share must not become a place to hide in.

use brightproof::app::book::Book;
use brightproof::finding::Document;
use brightproof::judge::Dossier;
use brightproof::judge::files_named;
use brightproof::judge::judge;
use brightproof::load::OtherLot;
use brightproof::record::Specimen;
use brightproof::record::Step;

use super::fault;
use super::held_by;
use crate::demo;
use crate::support::dossier;
use crate::support::read;

/// In load LD-7 with another, tested by TR-31.
const SHARED: &str = "L-26-0543";
/// The other lot in it.
const OTHER: &str = "L-26-0544";
/// Tested on a coupon.
const COUPON: &str = "L-26-0545";

fn attack(whole: &Dossier, change: &dyn Fn(&mut Dossier)) -> Dossier {
    let mut changed = whole.clone();
    change(&mut changed);
    changed
}

#[test]
fn a_load_is_judged_in_every_lot_it_carried() {
    let whole = dossier(SHARED);
    held_by("as it is", &whole, &[]);
    // Nothing of the other lot, its purchaser or its order.
    let all = serde_json::to_string(&whole).unwrap();
    for name in [OTHER, "TF-5590", "TF-3110", "tarn-fell", "H2240"] {
        assert!(!all.contains(name), "{name}");
    }
    let hot = |d: &mut Dossier| {
        for step in &mut d.loads[0].steps {
            if let Step::Passivate(bath) = step {
                bath.temperature = Some(read("91 °F"));
            }
        }
    };
    for lot in [SHARED, OTHER] {
        let changed = attack(&dossier(lot), &hot);
        held_by("too hot", &changed, &["astm-a967/nitric-2.temperature"]);
        let found = judge(&changed);
        let gap = found.iter().find(|f| f.is_gap()).unwrap();
        assert_eq!(gap.place.document, Document::Load);
        assert_eq!(gap.place.path.to_string(), "loads.LD-7.steps[2].passivate.temperature");
    }
    const CARRIED: &str = "house/load.carried";
    held_by(
        "more pieces than it carried",
        &attack(&whole, &|d| d.loads[0].carried[0].pieces = 40),
        &[CARRIED],
    );
    held_by("not carried", &attack(&whole, &|d| d.loads[0].carried.clear()), &[CARRIED]);
    // Steps of its own beside those of the load: which were made?
    let own = attack(&whole, &|d| {
        d.record.runs[0].steps = d.loads[0].steps.clone();
        hot(d);
    });
    held_by("nicer steps of its own", &own, &[CARRIED]);
    held_by("the same steps", &attack(&whole, &|d| d.record.runs[0].steps = d.loads[0].steps.clone()), &[]);
    // A load that says it carried the lot, and no run names it.
    let other = attack(&whole, &|d| {
        let mut second = d.loads[0].clone();
        second.load = "LD-9".into();
        d.loads.push(second);
    });
    held_by("a load left out", &other, &[CARRIED]);
    let gone = attack(&whole, &|d| d.loads.clear());
    let gaps = crate::support::came(&gone).gaps();
    assert!(gaps.iter().any(|g| g.starts_with(CARRIED)), "{gaps:#?}");
    fault("no steps, no load", &attack(&whole, &|d| d.record.runs[0].load = None), "a run without steps");
}

#[test]
fn a_report_speaks_for_lots_of_one_kind() {
    let whole = dossier(SHARED);
    const SPEAKS: &str = "house/test-report.speaks";
    const KIND: &str = "house/inspection-lot.one-kind";
    let other = |change: &dyn Fn(&mut OtherLot)| attack(&whole, &|d| change(&mut d.reports[0].others[0]));
    held_by("the next day", &other(&|o| o.last = Some(read("2026-11-19"))), &[]);
    held_by("two days on", &other(&|o| o.last = Some(read("2026-11-20"))), &[KIND]);
    held_by("another bath", &other(&|o| o.baths = vec!["N-4".into()]), &[KIND]);
    held_by("another metal", &other(&|o| o.series = dossier("L-26-0442").alloy.map(|a| a.series)), &[KIND]);
    held_by("nothing known", &other(&|o| o.series = None), &[KIND]);
    held_by("no day", &other(&|o| o.first = None), &[KIND]);
    held_by("no last day", &other(&|o| o.last = None), &[KIND]);
    held_by("the day before", &other(&|o| o.first = Some(read("2026-11-17"))), &[]);
    held_by("two days before", &other(&|o| o.first = Some(read("2026-11-16"))), &[KIND]);
    held_by(
        "from the day before to the day after",
        &other(&|o| {
            (o.first, o.last) = (Some(read("2026-11-17")), Some(read("2026-11-19")));
        }),
        &[KIND],
    );
    held_by("no bath known", &other(&|o| o.baths.clear()), &[KIND]);
    held_by("a bath more", &other(&|o| o.baths.push("N-4".into())), &[KIND]);
    // What failed in the report failed for both.
    let failed = attack(&whole, &|d| d.reports[0].test.failed = 1);
    held_by("failed", &failed, &["astm-a967/practice-a.result"]);
    let found = judge(&failed);
    let gap = found.iter().find(|f| f.is_gap()).unwrap();
    assert_eq!(gap.place.path.to_string(), "reports.TR-31.test.failed");
    // One that failed is not left out by not naming it.
    held_by(
        "unnamed",
        &attack(&failed, &|d| d.record.test_reports.clear()),
        &[SPEAKS, "astm-a967/practice-a.result"],
    );
    held_by("unnamed though it passed", &attack(&whole, &|d| d.record.test_reports.clear()), &[SPEAKS]);
    let others = attack(&whole, &|d| d.reports[0].speaks_for.clear());
    held_by("another's report", &others, &[SPEAKS, "astm-a967/tests.made"]);
    held_by("no such report", &attack(&whole, &|d| d.record.test_reports.push("TR-99".into())), &[SPEAKS]);
    // Several lots are one lot to a sampling plan.
    let planned = attack(&whole, &|d| {
        d.part.calls_for[0].sampling = Some("B602 level II".parse().unwrap());
        d.sampling = crate::support::book().sampling.clone();
        d.record.visual[0].pieces = 60;
    });
    let limit = |d: &Dossier| {
        let found = judge(d);
        let asked = found.iter().find(|f| f.subject == "water immersion, pieces tested").unwrap();
        asked.limit.clone()
    };
    let alone = attack(&planned, &|d| d.reports[0].others.clear());
    assert_ne!(limit(&planned), limit(&alone), "{}", limit(&planned));
    // Made before the load was treated.
    let early = attack(&whole, &|d| {
        d.reports[0].test.started = read("2026-11-17T13:00-05:00");
        d.reports[0].test.ended = Some(read("2026-11-18T13:05-05:00"));
    });
    held_by("too early", &early, &["astm-a967/tests.made"]);
}

#[test]
fn a_coupon_is_of_the_alloy_and_of_the_load() {
    let whole = dossier(COUPON);
    held_by("as it is", &whole, &[]);
    const COUPONS: &str = "house/test.coupon";
    let coupon = |change: &dyn Fn(&mut brightproof::record::Coupon)| {
        attack(&whole, &|d| change(d.record.tests[0].coupon.as_mut().unwrap()))
    };
    held_by("another alloy", &coupon(&|c| c.alloy = "304".into()), &[COUPONS]);
    held_by("no alloy known", &coupon(&|c| c.alloy = "stainless".into()), &[COUPONS]);
    held_by("another load", &coupon(&|c| c.load = "LD-2".into()), &[COUPONS]);
    held_by("nothing of it", &attack(&whole, &|d| d.record.tests[0].coupon = None), &[COUPONS]);
    held_by("no load", &attack(&whole, &|d| d.record.runs[0].load = None), &[COUPONS]);
    held_by(
        "not ordered",
        &attack(&whole, &|d| d.part.calls_for[0].options.clear()),
        &["house/test.specimen"],
    );
    fault("no heat", &coupon(&|c| c.heat = " ".into()), "a name is expected");
    let part = attack(&whole, &|d| d.record.tests[0].specimen = Specimen::Part);
    fault("a coupon called a part", &part, "a coupon, and parts were tested");
}

#[test]
fn papers_are_on_file_and_unchanged() {
    let whole = dossier("L-26-0542");
    const HELD: &str = "house/papers.held";
    assert_eq!(files_named(&whole), ["papers/FE-118.txt"]);
    held_by("gone", &attack(&whole, &|d| d.files.clear()), &[HELD]);
    held_by("changed", &attack(&whole, &|d| d.files[0].sha256 = "0".repeat(64)), &[HELD]);
    let laboratory = dossier("L-26-0541");
    let unnamed = attack(&laboratory, &|d| {
        d.record.tests[0].laboratory.as_mut().unwrap().file = None;
    });
    held_by("no report named", &unnamed, &[HELD]);
}

#[test]
fn the_book_takes_each_lot_its_own() {
    let folder = demo::fresh("shared-book");
    demo::begin(&folder, "shared");
    let case = |folder: &std::path::Path, lot: &str| {
        let book = Book::open(brightproof::folder::Folder::new(folder)).unwrap();
        let case = book.case(book.lot(lot).unwrap()).unwrap();
        let faults = book.faults.iter().map(ToString::to_string).collect::<Vec<_>>();
        (case.dossier, faults)
    };
    // A link out of the folder is no file of the shop.
    #[cfg(unix)]
    {
        std::fs::remove_file(folder.join("papers/BL-2210.txt")).unwrap();
        std::os::unix::fs::symlink("/etc/hostname", folder.join("papers/BL-2210.txt")).unwrap();
        assert!(case(&folder, "L-26-0541").0.files.is_empty());
    }
    // A load's number in two files: which is meant?
    std::fs::copy(folder.join("loads/LD-7.yaml"), folder.join("loads/LD-7b.yaml")).unwrap();
    let (dossier, faults) = case(&folder, SHARED);
    assert!(dossier.loads.is_empty());
    assert!(faults.iter().any(|f| f.contains("`LD-7` stands in two files")), "{faults:?}");
    std::fs::remove_file(folder.join("loads/LD-7b.yaml")).unwrap();
    // What is known of other lots is looked up, never written.
    demo::change(&folder, "reports/TR-31.yaml", "speaks_for:", "others: [{ pieces: 1 }]\nspeaks_for:");
    let (dossier, faults) = case(&folder, SHARED);
    assert!(
        dossier.reports.is_empty()
            && faults.iter().any(|f| f.contains("leave it out") || f.contains("other lots"))
    );
}
