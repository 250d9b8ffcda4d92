//! The rules that ship with the program: every pack, the alloy table and the sampling tables, read as the
//! program reads them and held against what a pack must be.
//!
//! These tests hold the form. The figures themselves are held by the boundary table, which was written apart.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use brightproof::alloy::AlloyTable;
use brightproof::alloy::Series;
use brightproof::app::builtin;
use brightproof::pack::Basis;
use brightproof::pack::Bound;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::Scope;
use brightproof::pack::Subject;
use brightproof::pack::Window;
use brightproof::pack::dimensions;
use brightproof::record::TestKind;
use brightproof::units::Dimension;
use brightproof::units::Unit;

const A967: &str = include_str!("../rules/astm-a967.yaml");
const B912: &str = include_str!("../rules/astm-b912.yaml");
const ALLOYS: &str = include_str!("../rules/alloys.yaml");
const B602: &str = include_str!("../rules/sampling/b602.yaml");

#[expect(clippy::panic, reason = "a rule file that does not read fails every test that wants it")]
fn read<T: serde::de::DeserializeOwned>(text: &str) -> T {
    brightproof::yaml::parse(text).unwrap_or_else(|fault| panic!("{fault}"))
}

fn packs() -> Vec<Pack> {
    builtin::PACKS.iter().map(|(_, text)| read(text)).collect()
}

fn alloys() -> AlloyTable {
    read(ALLOYS)
}

fn unit_of_window(window: &Window) -> Option<Unit> {
    window.from.or(window.to).map(|q| q.unit()).or(window.unit)
}

fn unit_of_bound(bound: &Bound) -> Option<Unit> {
    bound.value.map(|q| q.unit()).or(bound.unit)
}

/// Every requirement with the name its faults are reported under.
fn each(mut look: impl FnMut(&Pack, &Requirement, &str)) {
    for pack in packs() {
        for requirement in &pack.requirements {
            look(&pack, requirement, &format!("{}/{}", pack.pack, requirement.id));
        }
    }
}

fn units(check: &Check) -> Vec<Option<Unit>> {
    match check {
        Check::Within(windows) => windows.iter().map(unit_of_window).collect(),
        Check::AtLeast(bounds) | Check::AtMost(bounds) => bounds.iter().map(unit_of_bound).collect(),
        _ => Vec::new(),
    }
}

#[test]
fn every_pack_is_known_by_its_id() {
    let ids: Vec<String> = packs().into_iter().map(|p| p.pack).collect();
    assert_eq!(
        ids,
        [
            "house",
            "astm-a967",
            "astm-a967-05",
            "astm-a380",
            "astm-b912",
            "astm-f86",
            "ams-2700",
            "qq-p-35",
            "ams-qq-p-35",
            "mil-std-753",
            "iso-16048",
            "en-2516",
            "iso-15730",
            "semi-f19",
            "asme-bpe",
            "astm-b117",
            "iso-9227",
        ]
    );
    for (pack, (file, _)) in packs().iter().zip(builtin::PACKS) {
        assert_eq!(format!("rules/{}.yaml", pack.pack), *file);
    }
}

#[test]
fn requirement_ids_are_unique_and_plain() {
    for pack in packs() {
        let mut seen = BTreeSet::new();
        for requirement in &pack.requirements {
            let id = &requirement.id;
            assert!(seen.insert(id.clone()), "{}/{id} occurs twice", pack.pack);
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-' || c == '.';
            assert!(!id.is_empty() && id.chars().all(plain), "{}/{id} is not a plain id", pack.pack);
        }
    }
}

#[test]
fn every_requirement_names_a_clause() {
    each(|pack, requirement, name| {
        let clause = requirement.clause.trim();
        assert!(!clause.is_empty(), "{name} has no clause");
        assert!(!clause.contains("not read"), "{name}: `{clause}` is no clause");
        assert_eq!(clause == "house", pack.pack == "house", "{name}: clause `{clause}`");
    });
}

#[test]
fn house_rules_are_of_the_house() {
    each(|pack, requirement, name| {
        if pack.pack == "house" {
            assert_eq!(requirement.basis, Basis::House, "{name}");
        }
    });
}

/// A limit in the wrong kind of unit would never compare and hold every lot for ever.
#[test]
fn limits_are_in_units_of_their_subject() {
    each(|_, requirement, name| {
        let wanted = dimensions(requirement.subject);
        for unit in units(&requirement.check) {
            let unit = unit.unwrap_or_else(|| panic!("{name}: a limit without value and without unit"));
            assert!(wanted.contains(&unit.dimension()), "{name}: {unit}");
        }
    });
}

#[test]
fn limits_are_lists_and_stand_once_a_unit() {
    each(|_, requirement, name| {
        let found = units(&requirement.check);
        if matches!(requirement.check, Check::Within(_) | Check::AtLeast(_) | Check::AtMost(_)) {
            assert!(!found.is_empty(), "{name}: a limit with no figure at all");
        }
        for (i, unit) in found.iter().enumerate() {
            let twice = found.iter().skip(i + 1).any(|other| other == unit);
            assert!(!twice, "{name}: two limits in one unit");
        }
        if let Check::OneOf(words) | Check::Only(words) = &requirement.check {
            assert!(!words.is_empty(), "{name}: a choice of nothing");
        }
    });
}

#[test]
fn windows_open_before_they_close() {
    each(|_, requirement, name| {
        if let Check::Within(windows) = &requirement.check {
            for window in windows {
                let (Some(from), Some(to)) = (window.from, window.to) else { continue };
                assert_eq!(from.unit(), to.unit(), "{name}: two units in one window");
                assert!(from.value() <= to.value(), "{name}: {from} to {to}");
            }
        }
    });
}

/// An unsure figure with a value would judge; a sure one without a value never could.
#[test]
fn unsure_figures_have_a_unit_and_no_value() {
    each(|_, requirement, name| {
        let agree = |basis: Option<Basis>, values: usize, full: usize, unit: Option<Unit>| {
            let unsure = basis.unwrap_or(requirement.basis) == Basis::Unsure;
            if unsure {
                assert_eq!(values, 0, "{name}: unsure, and has a value");
                assert!(unit.is_some(), "{name}: unsure, and has no unit");
            } else {
                assert_eq!(values, full, "{name}: sure, and has no value");
                assert!(unit.is_none(), "{name}: the unit stands twice");
            }
        };
        match &requirement.check {
            Check::Within(windows) => {
                for w in windows {
                    agree(w.basis, [w.from, w.to].iter().flatten().count(), 2, w.unit);
                }
            }
            Check::AtLeast(bounds) | Check::AtMost(bounds) => {
                for b in bounds {
                    agree(b.basis, usize::from(b.value.is_some()), 1, b.unit);
                }
            }
            // Without a figure: the shop says whether its copy has the demand at all.
            _ => {}
        }
    });
}

#[test]
fn conditions_name_what_the_pack_has() {
    each(|pack, requirement, name| {
        let when = &requirement.when;
        for treatment in &when.treatments {
            assert!(pack.treatments.iter().any(|t| t.id == *treatment), "{name}: no treatment `{treatment}`");
        }
        for edition in &when.editions {
            assert!(pack.editions.contains(edition), "{name}: no edition `{edition}`");
        }
        if pack.pack != "house" {
            for test in &when.tests {
                assert!(pack.tests.iter().any(|t| t.test == *test), "{name}: no test `{}`", test.name());
            }
        }
        if let Some(chromium) = when.chromium_below {
            assert_eq!(chromium.dimension(), Dimension::MassFraction, "{name}");
        }
    });
}

/// A demand on a test that names no test speaks for every test ordered and, when none is ordered, for the
/// missing one. Only where a standard wants some test in any case may one say so.
#[test]
fn demands_on_tests_name_the_tests() {
    let mut open = Vec::new();
    each(|_, requirement, name| {
        if requirement.subject.scope() == Scope::Test && requirement.when.tests.is_empty() {
            assert_eq!(requirement.subject, Subject::TestMade, "{name} names no test");
            open.push(name.to_owned());
        }
    });
    assert_eq!(
        open,
        [
            "astm-a967/nitric-5.test",
            "astm-a967/citric-4.test",
            "astm-a967/citric-5.test",
            "astm-a967/other.test",
            "astm-a967-05/nitric-5.test",
            "astm-a967-05/citric-4.test",
            "astm-a967-05/citric-5.test",
            "astm-a967-05/other.test",
            "astm-b912/verification.test",
            "ams-2700/verification.test",
            "qq-p-35/verification.test",
            "ams-qq-p-35/verification.test",
            "iso-15730/verification.test",
        ]
    );
}

#[test]
fn words_of_series_and_treatments_are_known_ones() {
    let series: BTreeSet<&str> = [
        Series::Series200,
        Series::Series300,
        Series::Ferritic400,
        Series::Martensitic400,
        Series::PrecipitationHardening,
        Series::Duplex,
        Series::Other,
    ]
    .into_iter()
    .map(Series::name)
    .collect();
    let uses =
        ["food contact", "pharmaceutical", "medical", "implant", "semiconductor", "aerospace", "general"];
    each(|pack, requirement, name| {
        let Check::OneOf(words) = &requirement.check else { return };
        for word in words {
            let known = match requirement.subject {
                Subject::AlloySeries => series.contains(word.as_str()),
                Subject::PartUse => uses.contains(&word.as_str()),
                Subject::TreatmentNamed => pack.treatments.iter().any(|t| t.name == *word),
                _ => true,
            };
            assert!(known, "{name}: `{word}` can never be found");
        }
    });
}

/// Treatments of A967 that are free in strength, temperature and time, and are shown good by a test alone.
const FREE: [&str; 5] = ["nitric-5", "citric-4", "citric-5", "other", "electrochemical"];

fn on(pack: &Pack, treatment: &str, subject: Subject) -> usize {
    pack.requirements
        .iter()
        .filter(|r| r.subject == subject && r.when.treatments.iter().any(|t| t == treatment))
        .count()
}

#[test]
fn every_a967_treatment_is_bounded_or_free() {
    let pack: Pack = read(A967);
    let ids: Vec<&str> = pack.treatments.iter().map(|t| t.id.as_str()).collect();
    assert_eq!(ids.len(), 12, "{ids:?}");
    for id in ids {
        let acid = if id.starts_with("nitric") { Subject::NitricAcid } else { Subject::CitricAcid };
        let bounded = usize::from(!FREE.contains(&id));
        for subject in [acid, Subject::BathTemperature, Subject::ImmersionTime] {
            assert_eq!(on(&pack, id, subject), bounded, "{id}: {}", subject.name());
        }
        assert_eq!(on(&pack, id, Subject::TestMade), 1 - bounded, "{id}: a test must show it");
        for subject in [Subject::Rinsed, Subject::FinalRinse, Subject::FinalRinseSolids] {
            assert_eq!(on(&pack, id, subject), 1, "{id}: {}", subject.name());
        }
    }
}

/// A967 from 2013 prints both unit systems, neither converted from the other.
#[test]
fn a967_temperatures_stand_in_both_systems() {
    let pack: Pack = read(A967);
    for requirement in &pack.requirements {
        if matches!(requirement.subject, Subject::BathTemperature | Subject::PostTreatmentTemperature) {
            let found = units(&requirement.check);
            assert_eq!(found, [Some(Unit::Fahrenheit), Some(Unit::Celsius)], "{}", requirement.id);
        }
    }
}

#[test]
fn every_test_of_a_pack_is_judged_whole() {
    for pack in packs() {
        for test in &pack.tests {
            for subject in [Subject::TestMade, Subject::TestResult, Subject::TestPieces] {
                let found = pack
                    .requirements
                    .iter()
                    .filter(|r| r.subject == subject && r.when.tests.contains(&test.test))
                    .count();
                assert_eq!(found, 1, "{}: {}: {}", pack.pack, test.test.name(), subject.name());
            }
            let figures = pack.requirements.iter().any(|r| {
                r.when.tests == [test.test] && r.subject.scope() == Scope::Test && !units(&r.check).is_empty()
            });
            // Whether a clean cloth stays clean is seen, not measured.
            let seen = test.test == TestKind::Wipe;
            assert!(figures != seen, "{}: {} has no figure", pack.pack, test.test.name());
        }
    }
}

/// A test that gives a false answer on a grade, or must not touch a use, is gated in each pack that has it.
#[test]
fn copper_sulfate_is_gated() {
    for pack in packs() {
        if !pack.tests.iter().any(|t| t.test == TestKind::CopperSulfate) {
            continue;
        }
        for subject in [Subject::AlloySeries, Subject::Chromium, Subject::PartUse] {
            let gated = pack.requirements.iter().any(|r| {
                r.subject == subject && !r.advice && r.when.tests.contains(&TestKind::CopperSulfate)
            });
            assert!(gated, "{}: {}", pack.pack, subject.name());
        }
    }
}

/// Nobody could read a limit of B912: a figure in it that is not unsure would be an invention.
#[test]
fn b912_has_no_figures() {
    let pack: Pack = read(B912);
    for requirement in &pack.requirements {
        let figures = !units(&requirement.check).is_empty();
        let gate = requirement.subject == Subject::Chromium;
        if figures && !gate {
            assert_eq!(requirement.basis, Basis::Unsure, "{}", requirement.id);
        }
    }
}

#[test]
fn every_grade_is_found_by_every_name() {
    let table = alloys();
    assert_eq!(table.alloys.len(), 129);
    let mut numbers = BTreeSet::new();
    for alloy in &table.alloys {
        assert!(numbers.insert(alloy.uns.clone()), "{} twice", alloy.uns);
        for name in alloy.names() {
            let found = table.find(name).unwrap_or_else(|near| panic!("{name}: not found, near {near:?}"));
            assert_eq!(found.uns, alloy.uns, "{name} also means {}", found.uns);
        }
    }
}

/// Ways drawings write grades.
#[test]
fn usual_spellings_are_found() {
    let table = alloys();
    for (written, uns) in [
        ("SS 316-L", "S31603"),
        ("type 304", "S30400"),
        ("AISI 303", "S30300"),
        ("UNS S17400", "S17400"),
        ("17-4 PH", "S17400"),
        ("630", "S17400"),
        ("1.4404", "S31603"),
        ("EN 1.4301", "S30400"),
        ("316/316L", "S31603"),
        ("440c", "S44004"),
        ("A-286", "S66286"),
        ("13-8Mo", "S13800"),
        ("904L", "N08904"),
    ] {
        assert_eq!(table.find(written).map(|a| a.uns.as_str()), Ok(uns), "{written}");
    }
    for unknown in ["", "steel", "6061", "316X7", "Ti-6Al-4V"] {
        assert!(table.find(unknown).is_err(), "{unknown}");
    }
}

/// Counted from the product standards' own families: ASTM A240, A276, A564, A582.
#[test]
fn series_follow_the_unified_number() {
    let mut count: BTreeMap<Series, usize> = BTreeMap::new();
    for alloy in alloys().alloys {
        *count.entry(alloy.series).or_default() += 1;
        let number = alloy.uns.as_str();
        match alloy.series {
            Series::Series200 => assert!(number.starts_with("S2"), "{number}"),
            Series::Series300 | Series::Duplex => {
                assert!(number.starts_with("S3") || number == "S82441", "{number}");
            }
            Series::Ferritic400 | Series::Martensitic400 => assert!(number.starts_with("S4"), "{number}"),
            Series::Other => assert!(number.starts_with('N') || number.starts_with("S18"), "{number}"),
            Series::PrecipitationHardening => {
                assert!(["S1", "S3", "S4", "S6"].iter().any(|p| number.starts_with(p)), "{number}");
            }
        }
    }
    assert_eq!(count.values().sum::<usize>(), 129);
    assert_eq!(count.len(), 7, "{count:?}");
}

#[test]
fn every_grade_has_chromium_enough_to_be_stainless() {
    for alloy in alloys().alloys {
        let chromium = alloy.element("Cr").unwrap_or_else(|| panic!("{}: no Cr", alloy.uns));
        let from = chromium.from.unwrap_or_else(|| panic!("{}: no least Cr", alloy.uns));
        assert_eq!(from.unit(), Unit::MassPercent, "{}", alloy.uns);
        // ASTM A941 counts a steel as stainless from 10.5 per cent.
        assert!(from.value() >= "10.5".parse().unwrap(), "{}: {from}", alloy.uns);
    }
}

#[test]
fn compositions_can_be_true() {
    for alloy in alloys().alloys {
        let mut seen = BTreeSet::new();
        for limits in &alloy.composition {
            let name = format!("{} {}", alloy.uns, limits.element);
            assert!(seen.insert(limits.element.clone()), "{name} twice");
            assert!(limits.from.is_some() || limits.to.is_some(), "{name} without limit");
            for limit in [limits.from, limits.to].into_iter().flatten() {
                assert_eq!(limit.unit(), Unit::MassPercent, "{name}");
            }
            if let (Some(from), Some(to)) = (limits.from, limits.to) {
                assert!(from.value() <= to.value(), "{name}: {from} to {to}");
            }
        }
        assert!(["seen", "memory", "conflict"].contains(&alloy.confidence.as_str()), "{}", alloy.uns);
        let density: f64 = alloy.density.parse().unwrap();
        assert!((7.4..8.3).contains(&density), "{}: {density} g/cm³", alloy.uns);
    }
}

/// Free-machining means sulfur of 0.10 per cent or more, or selenium, as the limits of ASTM A582 have it.
#[test]
fn free_machining_grades_are_those_with_sulfur_or_selenium() {
    let tenth = "0.10".parse().unwrap();
    for alloy in alloys().alloys {
        let sulfur = alloy.element("S").and_then(|s| s.from).is_some_and(|q| q.value() >= tenth);
        let selenium = alloy.element("Se").and_then(|s| s.from).is_some();
        assert_eq!(alloy.free_machining, sulfur || selenium, "{} {}", alloy.grade, alloy.uns);
    }
}

mod b602 {
    use serde::Deserialize;

    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    pub struct Tables {
        pub plan: String,
        pub designation: String,
        pub basis: brightproof::pack::Basis,
        pub levels: Vec<Level>,
    }

    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    pub struct Level {
        pub level: brightproof::sampling::Name,
        pub aql: String,
        pub rows: Vec<Row>,
    }

    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    pub struct Row {
        pub lot_from: u64,
        #[serde(default)]
        pub lot_to: Option<u64>,
        pub sample: u64,
        pub accept: u64,
        pub reject: u64,
    }
}

#[test]
fn sampling_rows_follow_each_other_without_a_gap() {
    let tables: b602::Tables = read(B602);
    assert_eq!((tables.plan.as_str(), tables.designation.as_str()), ("b602", "ASTM B602"));
    assert_eq!(tables.basis, Basis::Recalled);
    let levels: Vec<(String, &str)> =
        tables.levels.iter().map(|l| (l.level.to_string(), l.aql.as_str())).collect();
    let wanted = [("B602 level I", "0.65"), ("B602 level II", "1.5"), ("B602 level III", "2.5")];
    assert_eq!(levels, wanted.map(|(level, aql)| (level.to_owned(), aql)));
    for level in &tables.levels {
        let mut next = Some(1);
        let mut before = (0, 0);
        for row in &level.rows {
            assert_eq!(Some(row.lot_from), next, "{}: a gap or an overlap", level.aql);
            assert!(row.lot_to.is_none_or(|to| to >= row.lot_from), "{}: {}", level.aql, row.lot_from);
            assert!(row.accept < row.sample, "{}: {}", level.aql, row.lot_from);
            assert_eq!(row.reject, row.accept + 1, "{}: {}", level.aql, row.lot_from);
            assert!(
                (row.sample, row.accept) > before,
                "{}: {} merges with its neighbour",
                level.aql,
                row.lot_from
            );
            before = (row.sample, row.accept);
            next = row.lot_to.map(|to| to + 1);
        }
        assert_eq!(next, None, "{}: the last row must be open", level.aql);
    }
}

/// MIL-STD-105E, Tables I and II-A: general level II, single sampling, normal inspection. Lots beside the
/// corners of the table, arrows followed.
#[test]
fn sampling_agrees_with_mil_std_105e() {
    let tables: b602::Tables = read(B602);
    let plan = |aql: &str, lot: u64| {
        let level = tables.levels.iter().find(|l| l.aql == aql).unwrap();
        let holds = |r: &&b602::Row| r.lot_from <= lot && r.lot_to.is_none_or(|to| lot <= to);
        level.rows.iter().find(holds).map(|r| (r.sample, r.accept)).unwrap()
    };
    for (aql, lot, sample, accept) in [
        ("0.65", 50, 20, 0),
        ("0.65", 280, 20, 0),
        ("0.65", 281, 80, 1),
        ("0.65", 1_200, 80, 1),
        ("0.65", 1_201, 125, 2),
        ("0.65", 500_001, 1_250, 14),
        ("1.5", 90, 8, 0),
        ("1.5", 91, 32, 1),
        ("1.5", 240, 32, 1),
        ("1.5", 500, 50, 2),
        ("1.5", 10_000, 200, 7),
        ("1.5", 150_001, 800, 21),
        ("2.5", 50, 5, 0),
        ("2.5", 51, 20, 1),
        ("2.5", 151, 32, 2),
        ("2.5", 3_200, 125, 7),
        ("2.5", 35_000, 315, 14),
        ("2.5", 35_001, 500, 21),
        ("2.5", 1_000_000, 500, 21),
    ] {
        assert_eq!(plan(aql, lot), (sample, accept), "AQL {aql}, lot of {lot}");
    }
}
