//! What loads, test reports and periodic tests may not say.

use crate::load::Load;
use crate::load::TestReport;
use crate::path::Path;
use crate::periodic::PeriodicTest;
use crate::record::Specimen;
use crate::record::Test;
use crate::units::Dimension;
use crate::validate::MOST;
use crate::validate::Wrong;
use crate::validate::Wrongs;
use crate::validate::one_test;
use crate::validate::steps;

/// A test of a document that is no record: as in one, but for the runs it covers.
fn test(wrongs: &mut Wrongs, path: &Path, test: &Test) {
    if !test.covers.is_empty() {
        let hint = "leave `covers` out; the document itself says for whom the test speaks";
        wrongs.say(path.key("covers"), "runs are named in a test that is of no record", hint);
    }
    one_test(wrongs, path, test);
}

fn few(wrongs: &mut Wrongs, path: Path, length: usize) -> bool {
    if length > MOST {
        wrongs.say(path, format!("{length} entries; at most {MOST} are read"), "divide it");
    }
    length <= MOST
}

/// What a load may not say.
pub fn load(load: &Load) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let root = Path::root();
    wrongs.text(root.key("load"), &load.load);
    if !few(&mut wrongs, root.key("steps"), load.steps.len())
        || !few(&mut wrongs, root.key("carried"), load.carried.len())
    {
        return wrongs.0;
    }
    if load.steps.is_empty() {
        wrongs.say(root.key("steps"), "a load in which nothing was done", "write its steps, as in a run");
    }
    steps(&mut wrongs, &root, &load.steps);
    let base = root.key("carried");
    wrongs.unique(&base, "lot", load.carried.iter().map(|c| &c.lot));
    for (i, _) in load.carried.iter().enumerate().filter(|(_, c)| c.pieces == 0) {
        let hint = "count its pieces, or remove the line";
        wrongs.say(base.index(i).key("pieces"), "a lot of no pieces in the load", hint);
    }
    wrongs.0
}

/// What a test report may not say.
pub fn test_report(report: &TestReport) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let root = Path::root();
    wrongs.text(root.key("report"), &report.report);
    if !few(&mut wrongs, root.key("speaks_for"), report.speaks_for.len()) {
        return wrongs.0;
    }
    test(&mut wrongs, &root.key("test"), &report.test);
    let base = root.key("speaks_for");
    wrongs.unique(&base, "lot", report.speaks_for.iter().map(|s| &s.lot));
    for (i, speaks) in report.speaks_for.iter().enumerate() {
        let runs = base.index(i).key("runs");
        if speaks.runs.is_empty() {
            wrongs.say(runs.clone(), "it speaks for no run", "name the runs, as in [\"1\"]");
        }
        wrongs.twice(&runs, &speaks.runs);
    }
    wrongs.0
}

/// What a report in the book may not say: what is known of other lots is looked up, never written.
pub fn report_file(report: &TestReport) -> Vec<Wrong> {
    let mut wrongs = Wrongs(test_report(report));
    if !report.others.is_empty() {
        let message = "what is known of the other lots stands in their records";
        wrongs.say(Path::root().key("others"), message, "leave it out");
    }
    if report.speaks_for.is_empty() {
        let hint = "name lots and runs, as in { lot: L-1, runs: [\"1\"] }";
        wrongs.say(Path::root().key("speaks_for"), "a report that speaks for nobody", hint);
    }
    wrongs.0
}

/// What a periodic test may not say.
pub fn periodic(periodic: &PeriodicTest) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let root = Path::root();
    wrongs.text(root.key("periodic"), &periodic.periodic);
    wrongs.text(root.key("process"), &periodic.process);
    wrongs.text(root.key("bath"), &periodic.bath);
    wrongs.dimension(root.key("interval"), Some(periodic.interval), Dimension::Time, "30 d");
    test(&mut wrongs, &root.key("test"), &periodic.test);
    wrongs.0
}

/// What a test may not say of its coupon.
pub(super) fn coupon(wrongs: &mut Wrongs, path: &Path, test: &Test) {
    let Some(coupon) = &test.coupon else { return };
    let at = path.key("coupon");
    if test.specimen != Specimen::Coupon {
        wrongs.say(at.clone(), "a coupon, and parts were tested", "add `specimen: coupon`, or remove it");
    }
    for (key, text) in
        [("alloy", &coupon.alloy), ("heat", &coupon.heat), ("finish", &coupon.finish), ("load", &coupon.load)]
    {
        wrongs.text(at.key(key), text);
    }
}
