//! A lot that conforms, made for any standard of the rulebook: what a call-out of it demands, recorded with values
//! inside the limits. Tests change one thing of it and judge again.
//!
//! It takes its values from the pack itself, so that it proves nothing about a figure. The boundary table and the
//! case tables do: they put their own values in.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a lot that cannot be made fails every test that wants it"
)]

mod own;
mod set;

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::OnceLock;

use brightproof::judge::Dossier;
use brightproof::pack::Check;
use brightproof::pack::Pack;
use brightproof::pack::Requirement;
use brightproof::pack::Subject;
use brightproof::pack::TreatmentStep;
use brightproof::pack::When;
use brightproof::part::CallOut;
use brightproof::part::OrderOption;
use brightproof::part::PartCondition;
use brightproof::part::Use;
use brightproof::record::TestKind;
use brightproof::rulebook::EffectivePack;
use brightproof::shop::InstrumentKind;
use brightproof::units::Quantity;
use rust_decimal::Decimal;

pub use own::adopted;
pub use set::Value;
pub use set::set;

use crate::support::book;
use crate::support::dossier;
use crate::support::set_grade;

/// What is asked of a lot.
#[derive(Debug, Clone)]
pub struct Ask<'a> {
    pub pack: &'a Pack,
    pub edition: String,
    pub treatment: Option<String>,
    pub class: Option<String>,
    pub tests: Vec<TestKind>,
    pub options: Vec<OrderOption>,
    pub grade: String,
    pub chromium: Option<Quantity>,
    pub used_for: Use,
    pub conditions: Vec<PartCondition>,
}

impl<'a> Ask<'a> {
    /// The plainest call-out of a standard: its newest edition, its first treatment, no test.
    pub fn of(pack: &'a Pack) -> Ask<'a> {
        Ask {
            pack,
            edition: pack.editions.last().unwrap().clone(),
            treatment: pack.treatments.first().map(|t| t.id.clone()),
            class: pack.default_class.clone(),
            tests: Vec::new(),
            options: Vec::new(),
            grade: "304L".to_owned(),
            chromium: None,
            used_for: Use::General,
            conditions: Vec::new(),
        }
    }

    /// Whether a condition holds for this lot, as the judge would say.
    pub fn holds(&self, when: &When) -> bool {
        let alloy = book().alloys.find(&self.grade).unwrap();
        let any = |empty: bool, found: bool| empty || found;
        let chromium = self.chromium.or_else(|| alloy.element("Cr")?.from);
        let below = |limit: &Quantity| chromium.unwrap().compare(limit) == Some(std::cmp::Ordering::Less);
        any(when.treatments.is_empty(), self.treatment.as_ref().is_some_and(|t| when.treatments.contains(t)))
            && any(when.tests.is_empty(), when.tests.iter().any(|t| self.tests.contains(t)))
            && any(when.series.is_empty(), when.series.contains(&alloy.series))
            && when.free_machining.is_none_or(|wanted| wanted == alloy.free_machining)
            && when.chromium_below.as_ref().is_none_or(below)
            && any(when.options.is_empty(), when.options.iter().any(|o| self.options.contains(o)))
            && any(when.used_for.is_empty(), when.used_for.contains(&self.used_for))
            && any(when.editions.is_empty(), when.editions.contains(&self.edition))
            && any(when.classes.is_empty(), self.class.as_ref().is_some_and(|c| when.classes.contains(c)))
            && any(when.conditions.is_empty(), when.conditions.iter().any(|c| self.conditions.contains(c)))
    }

    /// The requirements that apply to it.
    pub fn requirements<'p>(&'p self, pack: &'p Pack) -> impl Iterator<Item = &'p Requirement> {
        pack.requirements.iter().filter(|r| self.holds(&r.when))
    }

    fn demands(&self, pack: &Pack, subjects: &[Subject]) -> bool {
        self.requirements(pack).any(|r| subjects.contains(&r.subject))
    }

    /// The lot, treated, tested and looked at as asked.
    pub fn lot(&self) -> Dossier {
        self.lot_under(in_force(self.pack, &self.edition))
    }

    /// The same, under the pack as it stands here.
    pub fn lot_under(&self, effective: EffectivePack) -> Dossier {
        let mut dossier = dossier("L-26-0402");
        let pack = effective.pack.clone();
        let house = dossier.packs.iter().find(|p| p.pack.is_house()).cloned();
        dossier.packs = house.into_iter().chain([effective]).collect();
        let named = pack.treatments.iter().find(|t| Some(&t.id) == self.treatment.as_ref());
        dossier.part.calls_for = vec![CallOut {
            standard: Some(pack.named(&self.edition)),
            treatment: named.map(|t| t.name.clone()),
            class: self.class.clone(),
            tests: self.tests.clone(),
            test_pieces: Some(1),
            options: self.options.clone(),
            ..CallOut::default()
        }];
        dossier.part.used_for = Some(self.used_for);
        dossier.part.conditions = Some(self.conditions.clone());
        dossier.part.needs_approvals = Vec::new();
        dossier.order.needs_approvals = Vec::new();
        dossier.order.lines.iter_mut().for_each(|line| line.also_calls_for.clear());
        dossier.sampling.clear();
        dossier.approvals.clear();
        self.record(&mut dossier, &pack, named.map(|t| t.step));
        set_grade(&mut dossier, &self.grade);
        for heat in &mut dossier.record.material.heats {
            heat.chemistry = self.chromium.iter().map(|cr| ("Cr".to_owned(), *cr)).collect();
        }
        // What may be no more first: where something may be no less besides, that value fits both.
        let mut asked: Vec<Requirement> = self.requirements(&pack).cloned().collect();
        // Made in a morning, and treated as asked: no other span or treatment is put in.
        asked.retain(|r| !matches!(r.subject, Subject::LotSpan | Subject::TreatmentNamed));
        asked.sort_by_key(|r| !matches!(r.check, Check::AtMost(_)));
        for requirement in asked {
            let kinds: Vec<TestKind> = match requirement.when.tests.as_slice() {
                [] => self.tests.clone(),
                some => some.iter().copied().filter(|t| self.tests.contains(t)).collect(),
            };
            if let Some(value) = good(&requirement.check) {
                set(&mut dossier, &requirement, &kinds, &value);
            }
        }
        dossier
    }

    /// The bare record and the rows of the books it names; values come after.
    fn record(&self, dossier: &mut Dossier, pack: &Pack, step: Option<TreatmentStep>) {
        let day = "2026-10-07";
        let mut steps: Vec<String> = Vec::new();
        let mut minute = 0;
        let mut at = |gap: i32| {
            minute += gap;
            format!("{day}T{:02}:{:02}-05:00", 8 + minute / 60, minute % 60)
        };
        let bath = |key: &str, id: &str, from: String, to: String, more: &str| {
            format!(
                "{key}: {{ bath: {id}, in: {from}, out: {to}, temperature: 80 °F, {more}by: I. Bramble }}"
            )
        };
        use Subject as S;
        steps.push(bath("clean", "B-CLEAN", at(0), at(10), ""));
        if self.demands(pack, &[S::Descaled]) {
            steps.push(bath("descale", "B-SCALE", at(2), at(5), ""));
        }
        steps.push(format!("rinse: {{ at: {}, by: I. Bramble }}", at(5)));
        let key = if step == Some(TreatmentStep::Electropolish) { "electropolish" } else { "passivate" };
        let volts = if self.demands(pack, &[S::Voltage]) { "voltage: 10 V, " } else { "" };
        let amps =
            if step == Some(TreatmentStep::Electropolish) { "current_density: 15 A/dm², " } else { "" };
        steps.push(bath(key, "B-TREAT", at(5), at(35), &format!("{volts}{amps}")));
        if self.demands(pack, &[S::PostDip, S::PostDipNitric, S::PostDipTemperature, S::PostDipTime]) {
            steps.push(format!("rinse: {{ at: {}, by: I. Bramble }}", at(4)));
            steps.push(bath("post-dip", "B-DIP", at(2), at(20), ""));
        }
        if self.demands(pack, &[S::Neutralized]) {
            steps.push(bath("neutralize", "B-NEUTRAL", at(2), at(2), ""));
        }
        let rinse = |at: String, last: &str| {
            format!("rinse: {{ {last}at: {at}, total_solids: 60 ppm, instrument: I-SOLIDS, by: I. Bramble }}")
        };
        steps.push(format!("rinse: {{ at: {}, by: I. Bramble }}", at(4)));
        steps.push(rinse(at(4), "final: true, "));
        let after = [
            S::PostTreatment,
            S::PostTreatmentDelay,
            S::PostTreatmentDichromate,
            S::PostTreatmentTemperature,
            S::PostTreatmentTime,
            S::PostTreatmentRinseSolids,
            S::PostTreatmentDried,
        ];
        if self.demands(pack, &after) {
            steps.push(bath("post-treat", "B-POST", at(10), at(35), ""));
            steps.push(rinse(at(4), "final: true, "));
        }
        steps.push(format!("dry: {{ at: {}, by: I. Bramble }}", at(20)));
        let bake =
            [S::HydrogenRelief, S::HydrogenReliefTemperature, S::HydrogenReliefTime, S::HydrogenReliefDelay];
        if self.demands(pack, &bake) {
            steps.push(bath("bake", "B-OVEN", at(5), at(60), ""));
        }
        let steps: String = steps.iter().map(|s| format!("      - {s}\n")).collect();
        let mut text = format!(
            "lot: L-26-0999\norder: {{ number: {}, line: \"{}\" }}\nmaterial: {{ grade: 304L, heats: [{{ heat: \
             H1, known: verified }}] }}\ncounts: {{ received: 5, accepted: 5, by: R. Medlar }}\nruns:\n  - run: \
             \"1\"\n    pieces: 5\n    steps:\n{steps}visual:\n  - {{ covers: [\"1\"], at: {day}T20:00-05:00, \
             pieces: 5, failed: 0, light: 3000 lx, by: R. Medlar }}\n",
            dossier.record.order.number, dossier.record.order.line
        );
        if self.demands(pack, &[S::Roughness, S::MeanRoughness]) {
            text.push_str(&format!(
                "measurements:\n  - {{ what: Ra, covers: [\"1\"], at: {day}T20:10-05:00, instrument: I-ROUGHNESS, \
                 readings: [5 µin], by: R. Medlar }}\n"
            ));
        }
        if !self.tests.is_empty() {
            text.push_str("tests:\n");
        }
        for kind in &self.tests {
            text.push_str(&format!(
                "  - {{ test: {}, covers: [\"1\"], pieces: 1, failed: 0, started: 2026-10-08T08:00-05:00, ended: \
                 2026-10-09T09:00-05:00, solution: S-{kind:?}, instrument: I-{kind:?}, cleaned_with: acetone, \
                 water: distilled, by: R. Medlar }}\n",
                kind.name()
            ));
        }
        dossier.record = brightproof::yaml::parse(&text).unwrap_or_else(|fault| panic!("{fault}\n{text}"));
        self.books(dossier);
        if self.demands(pack, &[S::PeriodicTest]) {
            let process = pack.treatments.iter().find(|t| Some(&t.id) == self.treatment.as_ref()).unwrap();
            let periodic = format!(
                "periodic: PT-1\nprocess: {}\nbath: B-TREAT\ninterval: 30 d\ntest: {{ test: salt spray, pieces: 1, \
                 failed: 0, started: 2026-10-01T08:00-05:00, ended: 2026-10-01T12:00-05:00, by: R. Medlar }}\n",
                process.name
            );
            dossier.periodic = vec![brightproof::yaml::parse(&periodic).unwrap()];
        }
    }

    /// Baths, instruments, solutions and people.
    fn books(&self, dossier: &mut Dossier) {
        let bath = |id: &str| {
            let text = format!(
                "bath: {id}\nwhat: invented\ningredients: [nitric acid, water]\nthermometer: I-HEAT\nrectifier: \
                 I-RECTIFIER\nanalysis_good_for: 7 d\nanalyses:\n  - {{ at: 2026-10-07T06:00-05:00, by: J. Teasel, \
                 found: {{ nitric acid: 25 vol%, sodium dichromate: 5 wt%, citric acid: 7 wt%, pH: pH 2.0 }} }}\n"
            );
            brightproof::yaml::parse(&text).unwrap()
        };
        let baths = ["B-CLEAN", "B-SCALE", "B-TREAT", "B-DIP", "B-NEUTRAL", "B-POST", "B-OVEN"];
        let used: Vec<&str> = dossier
            .record
            .runs
            .iter()
            .flat_map(|r| &r.steps)
            .filter_map(|s| s.immersion())
            .map(|i| i.bath.as_str())
            .collect();
        let there: Vec<&str> = baths.into_iter().filter(|id| used.contains(id)).collect();
        dossier.baths = there.into_iter().map(bath).collect();
        let mut kinds = vec![
            ("I-HEAT".to_owned(), InstrumentKind::Thermometer),
            ("I-RECTIFIER".to_owned(), InstrumentKind::Rectifier),
            ("I-SOLIDS".to_owned(), InstrumentKind::SolidsMeter),
            ("I-ROUGHNESS".to_owned(), InstrumentKind::RoughnessGauge),
        ];
        kinds.extend(self.tests.iter().map(|t| (format!("I-{t:?}"), InstrumentKind::for_test(*t)[0])));
        let instrument = |(id, kind): (String, InstrumentKind)| {
            let text = format!(
                "instrument: {id}\nwhat: invented\nkind: {}\ncalibrations:\n  - {{ on: 2026-07-01, due: 2027-07-01, \
                 certificate: C1, passed: true }}\n",
                kind.name().replace(" instrument", "")
            );
            brightproof::yaml::parse(&text).unwrap()
        };
        dossier.instruments = kinds.into_iter().map(instrument).collect();
        let solution = |kind: &TestKind| {
            let recipe = match kind {
                TestKind::CopperSulfate => {
                    "copper sulfate pentahydrate: 4 g, sulfuric acid: 1 mL, distilled water: 250 mL"
                }
                TestKind::Ferroxyl => {
                    "potassium ferricyanide: 30 g, nitric acid: 20 mL, distilled water: 1000 mL"
                }
                _ => "potassium ferricyanide: 10 g, nitric acid: 30 mL, made up to: 1000 mL",
            };
            let text = format!(
                "solution: S-{kind:?}\nwhat: {}\nmixed: 2026-10-08T07:00-05:00\nby: R. Medlar\nrecipe: {{ {recipe} }}\n",
                kind.name()
            );
            brightproof::yaml::parse(&text).unwrap()
        };
        dossier.solutions = self.tests.iter().map(solution).collect();
        let work = ["cleaning", "passivation", "electropolishing", "testing", "inspection", "measuring"];
        let qualified: Vec<String> =
            work.iter().map(|w| format!("{{ for: {w}, from: 2020-01-01, evidence: E1 }}")).collect();
        let person = |name: &&str| {
            let text = format!("name: {name}\nfunction: all\nqualified: [{}]\n", qualified.join(", "));
            brightproof::yaml::parse(&text).unwrap()
        };
        dossier.people = ["I. Bramble", "R. Medlar", "J. Teasel"].iter().map(person).collect();
    }
}

/// A value that meets a check; none where nothing needs to be put in.
fn good(check: &Check) -> Option<Value> {
    Some(match check {
        Check::Within(windows) => {
            let window = windows.iter().find(|w| w.from.is_some() && w.to.is_some())?;
            let (from, to) = (window.from?, window.to?);
            let middle = (from.value() + to.value()) / Decimal::TWO;
            Value::Quantity(Quantity::new(middle.normalize(), from.unit()))
        }
        Check::AtLeast(bounds) | Check::AtMost(bounds) => {
            Value::Quantity(bounds.iter().find_map(|b| b.value)?)
        }
        Check::OneOf(words) => Value::Words(words.clone()),
        Check::Only(words) => Value::Words(words.clone()),
        _ => return None,
    })
}

/// Grades that between them meet every condition the packs make.
pub const GRADES: &[&str] =
    &["304L", "303", "201", "430", "420", "416", "430F", "409", "17-4PH", "440C", "2205", "904L"];

/// An edition of a built-in pack as tests adopt it, made once.
pub fn in_force(pack: &Pack, edition: &str) -> EffectivePack {
    static ALL: OnceLock<Mutex<BTreeMap<(String, String), EffectivePack>>> = OnceLock::new();
    let mut all = ALL.get_or_init(Mutex::default).lock().unwrap();
    let key = (pack.pack.clone(), edition.to_owned());
    all.entry(key).or_insert_with(|| adopted(pack, edition)).clone()
}

/// The gaps of a lot, in words.
pub fn gaps(dossier: &Dossier) -> Vec<String> {
    crate::support::came(dossier).gaps()
}

impl Ask<'_> {
    /// The same asked of the first grade that leaves the fewest gaps.
    pub fn fitting(&self) -> Self {
        let on = |grade: &&str| Ask { grade: (*grade).to_owned(), ..self.clone() };
        let mut best: Option<(usize, Self)> = None;
        for ask in GRADES.iter().map(on) {
            let left = gaps(&ask.lot()).len();
            if best.as_ref().is_none_or(|(least, _)| left < *least) {
                best = Some((left, ask));
            }
            if left == 0 {
                break;
            }
        }
        best.unwrap().1
    }

    /// The same on a fitting grade, unless the grade is what is asked about.
    pub fn fitting_for(&self, subject: &str) -> Self {
        if subject == "chromium" { self.clone() } else { self.fitting() }
    }

    /// What must be named besides: a test where the standard demands one.
    pub fn with_needed(mut self) -> Self {
        let demands = |subject| self.requirements(self.pack).any(|r| r.subject == subject && !r.advice);
        let needs = demands(Subject::TestOrdered)
            || self
                .requirements(self.pack)
                .any(|r| r.subject == Subject::TestMade && r.when.tests.is_empty() && !r.advice);
        if needs && self.tests.is_empty() {
            self.tests = self.pack.tests.first().map(|t| t.test).into_iter().collect();
        }
        if self.treatment.as_deref().is_some_and(|t| t.starts_with("method-2")) {
            self.options.push(OrderOption::MethodTwoAuthorized);
        }
        self
    }
}

/// Every standard of the rulebook.
pub fn standards() -> impl Iterator<Item = &'static Pack> {
    book().packs.iter().filter(|p| !p.is_house() && p.builds_on.is_none())
}

/// Every treatment and every test of every standard, each with whatever else it needs.
pub fn asks() -> Vec<Ask<'static>> {
    let mut all = Vec::new();
    for pack in standards() {
        let plain = Ask::of(pack);
        for edition in &pack.editions {
            all.push(Ask { edition: edition.clone(), ..plain.clone() }.with_needed());
        }
        for treatment in &pack.treatments {
            all.push(Ask { treatment: Some(treatment.id.clone()), ..plain.clone() }.with_needed());
        }
        for test in &pack.tests {
            all.push(Ask { tests: vec![test.test], ..plain.clone() }.with_needed());
        }
        for class in &pack.classes {
            all.push(Ask { class: Some(class.class.clone()), ..plain.clone() }.with_needed());
        }
        let named = |o: &&OrderOption| pack.requirements.iter().any(|r| r.when.options.contains(o));
        for option in OrderOption::ALL.iter().filter(named) {
            all.push(Ask { options: vec![*option], ..plain.clone() }.with_needed());
        }
    }
    all
}

/// The lots other tests start from conform, so that what they change is all there is.
#[test]
fn a_lot_of_every_treatment_test_class_and_option_conforms() {
    let mut bad = Vec::new();
    let all = asks();
    for ask in &all {
        let ask = ask.fitting();
        let found = gaps(&ask.lot());
        if !found.is_empty() {
            bad.push(format!(
                "{} {} {:?} {:?} {:?} {:?} on {}: {found:#?}",
                ask.pack.pack, ask.edition, ask.treatment, ask.tests, ask.class, ask.options, ask.grade
            ));
        }
    }
    assert!(bad.is_empty(), "{} of {} do not conform:\n{}", bad.len(), all.len(), bad.join("\n"));
    assert!(all.len() > 170, "{} lots", all.len());
}
