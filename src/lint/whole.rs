//! The pack as a whole: names, editions, classes, tests judged whole; and each requirement's own name, clause,
//! subject and doubles.

use crate::lint::Base;
use crate::lint::Lints;
use crate::lint::mandatory;
use crate::lint::near;
use crate::lint::twice;
use crate::pack::Basis;
use crate::pack::Remedy;
use crate::pack::Requirement;
use crate::pack::Scope;
use crate::pack::Subject;
use crate::pack::is_house_only;
use crate::path::Path;
use crate::record::TestKind;
use crate::rulebook::judging_digest;

/// Looks over everything but the requirements themselves.
pub fn pack(lints: &mut Lints) {
    names(lints);
    editions(lints);
    doubles(lints);
    base(lints);
    let pack = lints.pack;
    let at = |key: &str| Path::root().key(key);
    if let Some(class) = pack.default_class.as_ref()
        && !pack.classes.iter().any(|c| c.class == *class)
    {
        let expected = "a class listed under `classes`";
        let there = near(class, pack.classes.iter().map(|c| c.class.as_str()));
        lints.fault(at("default_class"), format!("class `{class}`"), expected, &there);
    }
    if pack.test_pieces == Some(0) {
        let mend = "leave `test_pieces` out where the order says how many";
        lints.fault(at("test_pieces"), "0 pieces", "at least one piece", mend);
    }
    if pack.shop_chooses_tests && lints.tests().is_some_and(|tests| tests.is_empty()) {
        let mend = "list the tests, or leave `shop_chooses_tests` out";
        lints.fault(at("shop_chooses_tests"), "no test to choose from", "tests listed under `tests`", mend);
    }
    if !pack.is_house() && !pack.requirements.iter().any(mandatory) {
        lints.fault(
            at("requirements"),
            "nothing but advice",
            "a requirement that can hold a lot: a call-out under which nothing is judged holds every lot",
            "add what the standard demands, or take `advice` off a requirement",
        );
    }
    treatments(lints);
    classes(lints);
    tests(lints);
}

fn names(lints: &mut Lints) {
    let pack = lints.pack;
    let at = |key: &str| Path::root().key(key);
    if !is_plain(&pack.pack, "-") {
        lints.fault(
            at("pack"),
            format!("`{}`", pack.pack),
            "an id of small letters, digits and hyphens",
            "write it as in `astm-a967`",
        );
    }
    if pack.designation.trim().is_empty() {
        let mend = "write the designation as orders do, without the edition";
        lints.fault(at("designation"), "nothing", "the designation of the standard", mend);
    }
    if pack.about.trim().is_empty() {
        let mend = "say in a sentence of your own what the standard is about";
        lints.remark(at("about"), "nothing", "a sentence for people", mend);
    }
    let clauses = (pack.treatments.iter().enumerate().map(|(i, t)| ("treatments", i, &t.clause)))
        .chain(pack.tests.iter().enumerate().map(|(i, t)| ("tests", i, &t.clause)))
        .chain(pack.classes.iter().enumerate().map(|(i, c)| ("classes", i, &c.clause)));
    for (list, index, clause) in clauses {
        if clause.trim().is_empty() {
            let path = at(list).index(index).key("clause");
            lints.fault(path, "no clause", "where the standard says it", "name the clause or the section");
        }
    }
    if lints.beside.packs.iter().any(|other| other.pack == pack.pack && other != pack) {
        let mend = "give it an id of its own, unless it is to replace that pack in this shop";
        let found = format!("`{}`, which the rulebook has already", pack.pack);
        lints.remark(at("pack"), found, "an id of its own: this pack would take the other's place", mend);
    }
    // Two packs that answer to one call-out: which of them judges would be chance.
    let written = || std::iter::once(&pack.designation).chain(&pack.also_written);
    for other in lints.beside.packs.iter().filter(|other| other.pack != pack.pack) {
        for (index, edition) in pack.editions.iter().enumerate() {
            let mut named = written().map(|name| format!("{name}{}{edition}", pack.joined_by));
            if let Some(both) = named.find(|named| other.edition_named(named).is_some()) {
                lints.fault(
                    at("editions").index(index),
                    format!("`{both}`, which the pack `{}` answers to as well", other.pack),
                    "a designation and edition that one pack alone answers to",
                    "give it the other pack's id, so that it takes its place, or another designation",
                );
            }
        }
    }
}

fn editions(lints: &mut Lints) {
    let pack = lints.pack;
    let at = Path::root().key("editions");
    if pack.editions.is_empty() {
        let mend = "list them as orders write them, in quotes: [\"17\"]";
        lints.fault(at, "no edition", "the editions the pack speaks for", mend);
    }
    let at = Path::root().key("superseded_by");
    for (old, new) in &pack.superseded_by {
        let path = at.key(old);
        let known = || pack.editions.iter().map(String::as_str);
        if !pack.editions.contains(old) {
            let expected = "an edition of this pack before the colon";
            lints.fault(path.clone(), format!("edition `{old}`"), expected, &near(old, known()));
        }
        if old == new {
            let mend = "name the edition that took its place";
            lints.fault(path, format!("`{old}` superseded by itself"), "a later edition", mend);
        } else if !new.contains(' ') && !pack.editions.contains(new) {
            let mend =
                format!("{}; another standard is written whole, as in `SAE AMS 2700F`", near(new, known()));
            let expected = "an edition of this pack, or another standard with its edition";
            lints.fault(path, format!("edition `{new}`"), expected, &mend);
        } else if leads_back(pack, old) {
            let mend = "leave the latest edition out of `superseded_by`";
            lints.fault(path, format!("`{old}`, which comes back to itself"), "a latest edition", mend);
        }
    }
}

/// Whether following the successors of an edition comes back to it.
fn leads_back(pack: &crate::pack::Pack, from: &str) -> bool {
    let mut here = from;
    for _ in 0..pack.superseded_by.len() {
        match pack.superseded_by.get(here) {
            Some(next) if next == from => return true,
            Some(next) => here = next,
            None => return false,
        }
    }
    false
}

/// What stands twice in a list of the pack.
fn doubles(lints: &mut Lints) {
    let pack = lints.pack;
    let mut told = |list: &str, key: &str, names: &[&str]| {
        for (index, name) in twice(names) {
            let path = Path::root().key(list).index(index);
            let path = if key.is_empty() { path } else { path.key(key) };
            let mend = "take one away, or give it a name of its own";
            lints.fault(path, format!("`{name}` a second time"), "each name once", mend);
        }
    };
    let editions: Vec<&str> = pack.editions.iter().map(String::as_str).collect();
    told("editions", "", &editions);
    let ids: Vec<&str> = pack.treatments.iter().map(|t| t.id.as_str()).collect();
    told("treatments", "id", &ids);
    let names: Vec<&str> = pack.treatments.iter().map(|t| t.name.as_str()).collect();
    told("treatments", "name", &names);
    let tests: Vec<&str> = pack.tests.iter().map(|t| t.test.name()).collect();
    told("tests", "test", &tests);
    let classes: Vec<&str> = pack.classes.iter().map(|c| c.class.as_str()).collect();
    told("classes", "class", &classes);
}

fn base(lints: &mut Lints) {
    let Some(named) = &lints.pack.builds_on else { return };
    let path = Path::root().key("builds_on");
    if *named == lints.pack.pack {
        lints.fault(path, "the pack itself", "another pack", "name the standard's pack, as in `astm-a967`");
    } else if matches!(lints.base(), Base::Unknown) && !lints.beside.packs.is_empty() {
        let there = near(named, lints.beside.packs.iter().map(|p| p.pack.as_str()));
        lints.fault(path, format!("the pack `{named}`"), "a pack of the rulebook", &there);
    }
}

/// Whether a requirement says anything of the treatment with this id.
fn reaches(requirement: &Requirement, id: &str) -> bool {
    requirement.when.treatments.iter().any(|t| t == id)
}

fn treatments(lints: &mut Lints) {
    let pack = lints.pack;
    let about_runs = |r: &&Requirement| mandatory(r) && r.subject.scope() == Scope::Run;
    for (index, treatment) in pack.treatments.iter().enumerate() {
        let path = Path::root().key("treatments").index(index).key("id");
        let general = pack.requirements.iter().filter(about_runs).any(|r| r.when.treatments.is_empty());
        let named = pack.requirements.iter().any(|r| reaches(r, &treatment.id));
        if !general && !named {
            lints.fault(
                path,
                format!("`{}`, to which no requirement applies", treatment.id),
                "a requirement that names it under `when`, or one for every treatment",
                "add what the standard demands of it, or take it away",
            );
        } else if !named && pack.requirements.iter().any(|r| !r.when.treatments.is_empty()) {
            lints.remark(
                path,
                format!("`{}`, which no requirement names", treatment.id),
                "demands of its own, as the other treatments have",
                "see whether its strength, temperature and time were forgotten",
            );
        }
    }
}

fn classes(lints: &mut Lints) {
    let pack = lints.pack;
    for (index, class) in pack.classes.iter().enumerate() {
        let named = pack.requirements.iter().any(|r| {
            r.when.classes.contains(&class.class)
                || r.subject == Subject::ClassNamed && (r.when.classes.is_empty())
        });
        if !named {
            lints.remark(
                Path::root().key("classes").index(index).key("class"),
                format!("class `{}`, of which nothing is demanded", class.class),
                "a requirement that names it under `when`",
                "add what the class asks beyond the others, or take it away",
            );
        }
    }
}

/// A test is judged when it must be made, its result counts and its pieces are counted; and one that gives false
/// answers, or must not touch a use, is gated.
fn tests(lints: &mut Lints) {
    let pack = lints.pack;
    let judged = |test: TestKind, subject: Subject| {
        let all = pack.requirements.iter().filter(|r| mandatory(r) && r.subject == subject);
        all.filter(|r| r.when.tests.contains(&test) || r.when.tests.is_empty()).count()
    };
    for (index, named) in pack.tests.iter().enumerate() {
        let path = Path::root().key("tests").index(index).key("test");
        let name = named.test.name();
        let wanted = [Subject::TestMade, Subject::TestResult, Subject::TestPieces];
        for subject in wanted {
            if judged(named.test, subject) == 0 {
                lints.fault(
                    path.clone(),
                    format!("`{name}` without a requirement on `{}`", subject.name()),
                    "`test`, `test result` and `pieces tested` for each test: without them an order for it holds \
                     every lot",
                    &format!("add one with `when: {{ tests: [{name}] }}` and the subject `{}`", subject.name()),
                );
            }
        }
        if named.test == TestKind::CopperSulfate {
            copper_sulfate(lints, &path);
        }
    }
}

/// It plates martensitic and low-chromium grades that are sound, and may not touch what food touches.
fn copper_sulfate(lints: &mut Lints, path: &Path) {
    let pack = lints.pack;
    for subject in [Subject::AlloySeries, Subject::Chromium, Subject::PartUse] {
        let gate = |r: &&Requirement| mandatory(r) && r.subject == subject;
        let mut gates = pack.requirements.iter().filter(gate);
        if !gates.any(|r| r.when.tests.contains(&TestKind::CopperSulfate)) {
            lints.fault(
                path.clone(),
                format!("`copper sulfate` without a gate on `{}`", subject.name()),
                "gates on alloy series, chromium and use: the test gives false answers on some grades, and must not \
                 touch what food touches",
                "add them as the pack `astm-a967` has them",
            );
        }
    }
}

/// Looks over one requirement's name, clause, subject and remedy, and whether it stands there twice.
pub fn requirement(lints: &mut Lints, path: &Path, index: usize, requirement: &Requirement) {
    let pack = lints.pack;
    let id = &requirement.id;
    if !is_plain(id, "-.") {
        let expected = "an id of small letters, digits, hyphens and dots";
        lints.fault(path.key("id"), format!("`{id}`"), expected, "write it as in `nitric-2.temperature`");
    }
    let earlier = || pack.requirements.iter().take(index);
    if earlier().any(|r| r.id == *id) {
        lints.fault(
            path.key("id"),
            format!("`{id}` a second time"),
            "each id once: certificates and adoptions refer to it",
            "give this requirement an id of its own",
        );
    }
    let clause = requirement.clause.trim();
    if clause.is_empty() {
        let mend = "name the clause or the section";
        lints.fault(path.key("clause"), "no clause", "where the standard says it", mend);
    } else if clause == "house" && !pack.is_house() {
        let mend = "name the clause, or leave the rule to the house";
        lints.fault(path.key("clause"), "`house`", "a clause of the standard", mend);
    }
    if pack.is_house() && requirement.basis != Basis::House {
        let mend = "write `basis: house`";
        lints.fault(path.key("basis"), "the basis of a standard's demand", "the house's own basis", mend);
    }
    if requirement.remedy == Remedy::Adopt && !pack.is_house() {
        let mend = "say what the shop does about the lot: record, test, re-treat or ask";
        lints.fault(path.key("remedy"), "`adopt the rule`", "a remedy for the lot", mend);
    }
    if is_house_only(requirement.subject) && !pack.is_house() {
        lints.fault(
            path.key("subject"),
            format!("`{}`", requirement.subject.name()),
            "a subject that is judged under a standard: this one is the house's alone, and would hold every lot",
            "take the requirement away; the house's rules look at it for every lot",
        );
    }
    if requirement.subject.scope() == Scope::Test
        && requirement.when.tests.is_empty()
        && requirement.subject != Subject::TestMade
    {
        lints.remark(
            path.clone(),
            format!("`{}` of no test in particular", requirement.subject.name()),
            "the tests it is about, under `when`; left out, it speaks for every test an order names",
            "name them as in `when: { tests: [salt spray] }`",
        );
    }
    let digest = |r: &Requirement| judging_digest(&Requirement { advice: false, ..r.clone() });
    let own = digest(requirement);
    if let Some(same) = earlier().find(|r| digest(r) == own) {
        let found = format!("what `{}` demands already", same.id);
        if same.basis == requirement.basis && same.advice == requirement.advice {
            let mend = "take one of them away";
            lints.fault(path.clone(), found, "each demand once", mend);
        } else {
            let expected = "each demand once, unless the shop is to confirm it twice for two reasons";
            lints.remark(
                path.clone(),
                found,
                expected,
                "take one of them away, or say in a note why it stands twice",
            );
        }
    }
}

/// Small letters, digits, and the marks given.
fn is_plain(id: &str, marks: &str) -> bool {
    !id.is_empty() && id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || marks.contains(c))
}
