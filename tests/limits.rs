//! The boundary table against the packs and the judge: at each limit a lot conforms, one step outside it has
//! exactly that gap; every figure of the packs is named by a row, and every row names a figure.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test stops at the first surprise"
)]

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::sync::OnceLock;

use brightproof::finding::Finding;
use brightproof::finding::Verdict;
use brightproof::judge::Dossier;
use brightproof::pack::Basis;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::part::OrderOption;
use brightproof::record::TestKind;
use brightproof::units::Quantity;
use brightproof::units::Unit;
use rust_decimal::Decimal;

use crate::filled::Ask;
use crate::filled::Value;
use crate::filled::in_force;
use crate::filled::set;
use crate::support::Came;
use crate::support::book;
use crate::support::brief;
use crate::support::came;
use crate::support::dossier;
use crate::support::read;
use crate::support::table;

const TABLE: &str = include_str!("limits.csv");

struct Row {
    standard: String,
    case: String,
    subject: String,
    low: bool,
    limit: Quantity,
    outside: Quantity,
    basis: String,
}

fn rows() -> Vec<Row> {
    let row = |cells: BTreeMap<String, String>| Row {
        standard: cells["standard"].clone(),
        case: cells["case"].clone(),
        subject: cells["subject"].clone(),
        low: match cells["side"].as_str() {
            "low" => true,
            "high" => false,
            other => panic!("side `{other}`"),
        },
        limit: read(&cells["limit"]),
        outside: read(&cells["outside"]),
        basis: cells["basis"].clone(),
    };
    table(TABLE).into_iter().map(row).collect()
}

impl Row {
    fn said(&self) -> String {
        format!("{}, {}, {} {}", self.standard, self.case, self.subject, self.limit)
    }

    fn pack(&self) -> &'static Pack {
        let named = |p: &&Pack| !p.is_house() && p.edition_named(&self.standard).is_some();
        book().packs.iter().find(named).unwrap_or_else(|| panic!("{}: no pack", self.said()))
    }
}

/// One figure of a pack.
struct Figure<'a> {
    requirement: &'a Requirement,
    low: bool,
    value: Quantity,
    basis: Basis,
}

/// Every figure a mandatory requirement holds readings against. Figures nobody knows have no value.
fn figures(pack: &Pack) -> Vec<Figure<'_>> {
    let mut all = Vec::new();
    for requirement in pack.requirements.iter().filter(|r| !r.advice) {
        all.extend(figures_of(requirement));
        if let (Check::TimesOrdered(times), Some(number)) = (&requirement.check, pack.test_pieces) {
            // A multiple of what the standard itself asks for; without a number of its own it has no figure.
            let value = Quantity::new(Decimal::from(number * u64::from(*times)), Unit::Piece);
            all.push(Figure { requirement, low: true, value, basis: requirement.basis });
        }
    }
    all
}

/// The figures of one requirement.
fn figures_of(requirement: &Requirement) -> Vec<Figure<'_>> {
    let mut all = Vec::new();
    {
        let mut add = |low, value: Option<Quantity>, basis: Option<Basis>| {
            if let Some(value) = value {
                all.push(Figure { requirement, low, value, basis: basis.unwrap_or(requirement.basis) });
            }
        };
        match &requirement.check {
            Check::Within(windows) => {
                for window in windows {
                    add(true, window.from, window.basis);
                    add(false, window.to, window.basis);
                }
            }
            Check::AtLeast(bounds) => bounds.iter().for_each(|b| add(true, b.value, b.basis)),
            Check::AtMost(bounds) => bounds.iter().for_each(|b| add(false, b.value, b.basis)),
            _ => {}
        }
    }
    all
}

/// The cases of the table a requirement is judged in.
fn cases(requirement: &Requirement) -> Vec<String> {
    let when = &requirement.when;
    if let Check::TimesOrdered(_) = requirement.check {
        return vec!["any".to_owned()];
    }
    let mut cases = when.treatments.clone();
    cases.extend(when.tests.iter().map(|t| t.name().to_owned()));
    cases.extend(when.options.iter().map(|o| o.name().to_owned()));
    if cases.is_empty() {
        cases.push("any".to_owned());
    }
    cases
}

fn same(row: &Row, figure: &Figure) -> bool {
    row.subject == figure.requirement.subject.name()
        && row.low == figure.low
        && row.limit.unit() == figure.value.unit()
        && row.limit.value() == figure.value.value()
        && cases(figure.requirement).contains(&row.case)
}

/// Where a pack and the table differ on a figure, or on how surely it is known.
pub fn differences(pack: &Pack) -> Vec<String> {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    let rows = ROWS.get_or_init(rows);
    let mine: Vec<&Row> = rows.iter().filter(|r| pack.edition_named(&r.standard).is_some()).collect();
    let mut differ = Vec::new();
    let all = figures(pack);
    for figure in &all {
        for case in cases(figure.requirement) {
            // Section 8 of A967 has one rinse clause; the table names it once, for both its treatments.
            let case = if case == "electrochemical" { "other" } else { &case };
            let named: Vec<&&Row> = mine.iter().filter(|r| r.case == case && same(r, figure)).collect();
            let told = format!("{}/{} {} {case}", pack.pack, figure.requirement.id, figure.value);
            match named.as_slice() {
                [row] => {
                    let basis = if row.basis == "read" { Basis::Read } else { Basis::Recalled };
                    if figure.basis != basis {
                        differ.push(format!("{told}: the pack says {:?}, the table {basis:?}", figure.basis));
                    }
                }
                some => differ.push(format!("{told}: {} rows name this figure", some.len())),
            }
        }
    }
    for row in mine {
        if !all.iter().any(|f| same(row, f)) {
            differ.push(format!("{}: no such figure in the pack", row.said()));
        }
    }
    differ
}

#[test]
fn every_figure_is_named_by_a_row_and_every_row_names_a_figure() {
    // A purchaser's invented clauses are no standard; what they judge is held by tests of their own.
    let standards = || book().packs.iter().filter(|p| !p.is_house() && p.builds_on.is_none());
    let differ: Vec<String> = standards().flat_map(differences).collect();
    assert!(differ.is_empty(), "{} differences:\n{}", differ.len(), differ.join("\n"));
    let (count, rows) = (standards().map(|p| figures(p).len()).sum::<usize>(), rows().len());
    assert!(count >= 300 && rows >= 400, "{count} figures, {rows} rows");
}

/// The sample lot on which a test was made.
pub fn tested(kind: &str) -> Dossier {
    dossier(match kind {
        "water immersion" => "L-26-0401",
        "high humidity" => "L-26-0402",
        "salt spray" => "L-26-0406",
        "copper sulfate" => "L-26-0404",
        "ferricyanide-nitric" => "L-26-0408",
        "damp cloth" => "L-26-0410",
        other => panic!("no test `{other}`"),
    })
}

impl Row {
    /// What is asked of a lot in which this figure is judged.
    fn ask(&self, edition: &str) -> Ask<'static> {
        let pack = self.pack();
        let mut ask = Ask { edition: edition.to_owned(), ..Ask::of(pack) };
        let kind = TestKind::ALL.iter().find(|t| t.name() == self.case);
        let option = OrderOption::ALL.iter().find(|o| o.name() == self.case);
        match (kind, option) {
            (Some(kind), _) => ask.tests = vec![*kind],
            (_, Some(option)) => ask.options = vec![*option],
            _ if self.case == "any" && self.subject.starts_with("pieces") => {
                ask.tests = vec![pack.tests.first().unwrap().test];
            }
            _ if self.case == "any" => {}
            _ => {
                let known = pack.treatments.iter().any(|t| t.id == self.case);
                assert!(known, "{}: no treatment, test or option `{}`", self.said(), self.case);
                ask.treatment = Some(self.case.clone());
            }
        }
        let ask = ask.with_needed();
        // The chromium of a ferritic grade is what its heat has; this one may have less and more than the border.
        if self.subject == "chromium" { Ask { grade: "429".to_owned(), ..ask } } else { ask }
    }

    /// The requirements of a pack that hold this figure, for such a lot.
    fn requirements<'a>(&self, ask: &'a Ask) -> Vec<&'a Requirement> {
        let all = ask.requirements(ask.pack);
        let mut all: Vec<&Requirement> = all
            .filter(|r| r.subject.name() == self.subject && !r.advice && cases(r).contains(&self.case))
            .collect();
        if all.len() > 1 {
            all.retain(|r| figures_of(r).iter().any(|f| same(self, f)));
        }
        all
    }
}

/// A lot in which a test failed and was made again after a new treatment, under another pack.
fn retested(pack: &'static Pack, edition: &str, pieces: u64) -> Dossier {
    let mut dossier = dossier("L-26-0409");
    let house = dossier.packs.iter().find(|p| p.pack.is_house()).cloned();
    dossier.packs = house.into_iter().chain([in_force(pack, edition)]).collect();
    for call in dossier.part.calls_for.iter_mut().filter(|c| c.standard.is_some()) {
        call.standard = Some(pack.named(edition));
    }
    dossier.record.tests[1].pieces = pieces;
    dossier
}

/// What comes of a conforming lot of the row's case with this value at its subject.
fn judged(row: &Row, ask: &Ask, value: &Quantity) -> Vec<Finding> {
    let dossier = if row.subject == "pieces retested" {
        retested(row.pack(), &ask.edition, u64::try_from(value.value()).unwrap())
    } else {
        let mut dossier = ask.lot();
        let all = row.requirements(ask);
        let requirement = all.first().unwrap_or_else(|| panic!("{}: nothing looks at it", row.said()));
        set(&mut dossier, requirement, &ask.tests, &Value::Quantity(*value));
        dossier
    };
    match came(&dossier) {
        Came::Judged(findings) => findings,
        Came::Fault(fault) => panic!("{}: {value}: {fault}", row.said()),
    }
}

fn gaps(findings: &[Finding]) -> BTreeSet<String> {
    findings.iter().filter(|f| f.is_gap()).map(|f| format!("{}, {}", f.requirement, f.place_in_lot)).collect()
}

#[test]
fn met_at_the_limit_and_not_one_step_outside() {
    let mut judgements = 0;
    for row in rows() {
        for edition in &row.pack().editions {
            let ask = row.ask(edition).fitting_for(&row.subject);
            let ids: BTreeSet<String> =
                row.requirements(&ask).iter().map(|r| format!("{}/{}", row.pack().pack, r.id)).collect();
            let said = format!("{} ({edition})", row.said());
            let (within, outside) = (judged(&row, &ask, &row.limit), judged(&row, &ask, &row.outside));
            let at: Vec<&Finding> = within.iter().filter(|f| ids.contains(&f.requirement)).collect();
            let met = !at.is_empty() && at.iter().all(|f| f.verdict == Verdict::Met && !f.converted);
            assert!(met, "{said}, at the limit: {:#?}", at.iter().map(|f| brief(f)).collect::<Vec<_>>());
            let beyond: Vec<&Finding> = outside.iter().filter(|f| ids.contains(&f.requirement)).collect();
            let not_met: BTreeSet<String> = beyond
                .iter()
                .filter(|f| f.verdict == Verdict::NotMet)
                .map(|f| format!("{}, {}", f.requirement, f.place_in_lot))
                .collect();
            let told: Vec<String> = beyond.iter().map(|f| brief(f)).collect();
            assert!(!not_met.is_empty(), "{said}, outside: {told:#?}");
            // Nothing else hangs on it: the whole lot conforms at the limit, and has this gap alone outside.
            let before = gaps(&within);
            assert!(before.is_empty(), "{said}: {before:?}");
            let mut beyond = gaps(&outside);
            if row.subject == "pieces tested" {
                // A test of no piece passed nothing either.
                beyond.retain(|gap| !gap.contains("result"));
            }
            // A sister demand on the same reading, with a figure of the shop's own, may be missed with it.
            let sisters = row.pack().requirements.iter().filter(|r| r.subject.name() == row.subject);
            let sisters: Vec<String> = sisters.map(|r| format!("{}/{},", row.pack().pack, r.id)).collect();
            beyond.retain(|gap| not_met.contains(gap) || !sisters.iter().any(|id| gap.starts_with(id)));
            assert_eq!(beyond, not_met, "{said}");
            judgements += 2;
        }
    }
    assert!(judgements >= 1200, "{judgements}");
}

/// A step outside is a step in the limit's own dimension, away from what is allowed.
#[test]
fn every_row_steps_outward() {
    for row in rows() {
        assert_eq!(row.limit.dimension(), row.outside.dimension(), "{}", row.said());
        let outward = if row.low { std::cmp::Ordering::Less } else { std::cmp::Ordering::Greater };
        assert_eq!(row.outside.compare(&row.limit), Some(outward), "{}", row.said());
    }
}
