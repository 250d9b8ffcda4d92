//! A blank filled in by rule: every empty field gets a value within the limits of the plan's own demands.

use std::collections::BTreeMap;

use brightproof::app::book::Book;
use brightproof::moment::Moment;
use brightproof::pack::Check;
use brightproof::pack::Requirement;
use brightproof::pack::Subject;
use brightproof::plan::Plan;
use brightproof::plan::Spot;
use brightproof::plan::fields;
use brightproof::record::TestKind;
use brightproof::shop::Analysis;
use brightproof::shop::Bath;
use brightproof::shop::Constituent;
use brightproof::shop::Ingredient;
use brightproof::shop::InstrumentKind;
use brightproof::shop::Solution;
use brightproof::units::Quantity;
use serde_json::Map;
use serde_json::Value;
use serde_json::json;

use super::shop;
use super::shop::PIECES;
use super::shop::WHO;
use super::shop::inside;
use crate::support::later;
use crate::support::read;

/// A field that was filled in: where, and what it is.
#[derive(Debug, Clone)]
pub struct Filled {
    /// JSON pointer of the block.
    pub block: String,
    /// Its key.
    pub key: String,
    /// The block, where it is one.
    pub spot: Option<Spot>,
    /// The test, where it is one.
    pub test: Option<TestKind>,
}

pub struct Filler<'a> {
    pub plan: &'a Plan,
    pub requirements: &'a BTreeMap<String, Requirement>,
    pub grade: &'a str,
    pub treatment: Option<&'a str>,
    pub filled: Vec<Filled>,
    now: Moment,
}

impl<'a> Filler<'a> {
    pub fn new(
        plan: &'a Plan,
        requirements: &'a BTreeMap<String, Requirement>,
        grade: &'a str,
        treatment: Option<&'a str>,
    ) -> Filler<'a> {
        Filler {
            plan,
            requirements,
            grade,
            treatment,
            filled: Vec::new(),
            now: read("2026-11-02T08:00+00:00"),
        }
    }

    /// The checks of the demands whose evidence stands in a field.
    fn checks(&self, spot: Spot, key: &str, test: Option<TestKind>) -> Vec<(Subject, &'a Check)> {
        let plan: &'a Plan = self.plan;
        let requirements: &'a BTreeMap<String, Requirement> = self.requirements;
        plan.demands()
            .filter(|d| !d.advice && d.test == test)
            .filter(|d| self.treatment.is_none_or(|t| d.is_of(t)))
            .filter(|d| fields(d.subject).contains(&(spot, key)) || key == "*")
            .map(|d| (d.subject, &requirements[&d.requirement].check))
            .collect()
    }

    fn of(&self, spot: Spot, key: &str, test: Option<TestKind>, wanted: &[Subject]) -> Vec<&'a Check> {
        let all = self.checks(spot, key, test).into_iter();
        all.filter(|(s, _)| wanted.is_empty() || wanted.contains(s)).map(|(_, c)| c).collect()
    }

    fn fill(
        &mut self,
        block: &mut Map<String, Value>,
        at: &str,
        spot: Option<Spot>,
        key: &str,
        value: Value,
    ) {
        if block.get(key) == Some(&Value::Null) {
            block.insert(key.to_owned(), value);
            self.filled.push(Filled { block: at.to_owned(), key: key.to_owned(), spot, test: None });
        }
    }

    /// Fills in a blank, and gives the shop what it names.
    pub fn record(&mut self, blank: &str, book: &mut Book) -> Value {
        let mut record: Value = brightproof::yaml::parse(blank).unwrap_or_else(|e| panic!("{e}\n{blank}"));
        shop::empty(book);
        let top = record.as_object_mut().unwrap();
        let mut material = top.remove("material").unwrap();
        let block = material.as_object_mut().unwrap();
        self.fill(block, "/material", None, "grade", json!(self.grade));
        let heat = block["heats"][0].as_object_mut().unwrap();
        self.fill(heat, "/material/heats/0", None, "heat", json!("H-1"));
        self.fill(heat, "/material/heats/0", None, "known", json!("verified"));
        top.insert("material".to_owned(), material);
        let counts = top["counts"].as_object_mut().unwrap();
        for (key, value) in [("received", json!(PIECES)), ("accepted", json!(PIECES)), ("by", json!(WHO))] {
            self.fill(counts, "/counts", None, key, value);
        }
        let run = top["runs"][0].as_object_mut().unwrap();
        self.fill(run, "/runs/0", None, "pieces", json!(PIECES));
        let mut post_treated = false;
        for (i, step) in run["steps"].as_array_mut().unwrap().iter_mut().enumerate() {
            let step = step.as_object_mut().unwrap();
            let name = step.keys().next().unwrap().clone();
            post_treated |= name == "post-treat";
            let block = step[&name].as_object_mut().unwrap();
            let last = block.get("final") == Some(&Value::Bool(true));
            let spot = match name.as_str() {
                "clean" => Spot::Clean,
                "descale" => Spot::Descale,
                "passivate" | "electropolish" => Spot::Treatment,
                "post-dip" => Spot::PostDip,
                "neutralize" => Spot::Neutralize,
                "post-treat" => Spot::PostTreat,
                "bake" => Spot::Bake,
                "dry" => Spot::Dry,
                "rinse" if last && post_treated => Spot::PostRinse,
                "rinse" if last => Spot::FinalRinse,
                "rinse" => Spot::Rinse,
                other => panic!("{other}"),
            };
            self.step(block, &format!("/runs/0/steps/{i}/{name}"), spot, book);
        }
        // Tests begin the next morning, so that a solution can be mixed on their day.
        self.now = read("2026-11-04T08:00+00:00");
        if let Some(tests) = top.get_mut("tests") {
            for (i, test) in tests.as_array_mut().unwrap().iter_mut().enumerate() {
                self.test(test.as_object_mut().unwrap(), &format!("/tests/{i}"), book);
            }
        }
        if let Some(looks) = top.get_mut("visual") {
            let block = looks[0].as_object_mut().unwrap();
            let light = inside(&self.of(Spot::Visual, "light", None, &[]), "1100 lx");
            let values = [
                ("at", json!(self.now)),
                ("pieces", json!(PIECES)),
                ("failed", json!(0)),
                ("light", json!(light)),
                ("observed", json!("clean")),
                ("by", json!(WHO)),
            ];
            for (key, value) in values {
                self.fill(block, "/visual/0", Some(Spot::Visual), key, value);
            }
        }
        if let Some(all) = top.get_mut("measurements") {
            let block = all[0].as_object_mut().unwrap();
            let reading = inside(&self.of(Spot::Measurement, "readings", None, &[]), "9 µin");
            let gauge = shop::instrument(book, InstrumentKind::RoughnessGauge);
            let values = [
                ("at", json!(self.now)),
                ("instrument", json!(gauge)),
                ("readings", json!([reading, reading, reading])),
                ("by", json!(WHO)),
            ];
            for (key, value) in values {
                self.fill(block, "/measurements/0", Some(Spot::Measurement), key, value);
            }
        }
        assert!(!holds_null(&record), "a field of the blank was not filled in: {record:#}");
        record
    }

    fn step(&mut self, block: &mut Map<String, Value>, at: &str, spot: Spot, book: &mut Book) {
        let begin = self.now;
        let time = self.of(
            spot,
            "out",
            None,
            &[
                Subject::ImmersionTime,
                Subject::PostDipTime,
                Subject::PostTreatmentTime,
                Subject::HydrogenReliefTime,
            ],
        );
        let end = begin.plus(&inside(&time, "10 min")).unwrap();
        if block.contains_key("bath") {
            let id = format!("B{}", book.baths.document.baths.len() + 1);
            self.bath(&id, spot, book);
            self.fill(block, at, Some(spot), "bath", json!(id));
        }
        let temperature = inside(&self.of(spot, "temperature", None, &[]), "25 °C");
        let density = inside(&self.of(spot, "current_density", None, &[Subject::CurrentDensity]), "20 A/dm²");
        let voltage = inside(&self.of(spot, "voltage", None, &[]), "9 V");
        let solids = inside(&self.of(spot, "total_solids", None, &[]), "50 ppm");
        let meter = shop::instrument(book, InstrumentKind::SolidsMeter);
        let values = [
            ("as", json!(self.treatment)),
            ("in", json!(begin)),
            ("out", json!(end)),
            ("at", json!(begin)),
            ("temperature", json!(temperature)),
            ("current_density", json!(density)),
            ("voltage", json!(voltage)),
            ("total_solids", json!(solids)),
            ("instrument", json!(meter)),
            ("by", json!(WHO)),
        ];
        let timed = block.contains_key("out");
        for (key, value) in values {
            self.fill(block, at, Some(spot), key, value);
        }
        self.now = later(if timed { &end } else { &begin }, 1);
    }

    fn bath(&self, id: &str, spot: Spot, book: &mut Book) {
        let words = |check: &&Check| match check {
            Check::Only(words) => Some(words.clone()),
            Check::OneOf(words) => words.first().map(|w| vec![w.clone()]),
            _ => None,
        };
        let ingredients = if spot == Spot::Treatment {
            self.of(spot, "bath", None, &[Subject::BathIngredients]).iter().find_map(words)
        } else {
            None
        };
        let strengths = [
            (Spot::Treatment, Subject::NitricAcid, Constituent::NitricAcid),
            (Spot::Treatment, Subject::SodiumDichromate, Constituent::SodiumDichromate),
            (Spot::Treatment, Subject::CitricAcid, Constituent::CitricAcid),
            (Spot::Treatment, Subject::BathPh, Constituent::Ph),
            (Spot::PostDip, Subject::PostDipNitric, Constituent::NitricAcid),
            (Spot::PostTreat, Subject::PostTreatmentDichromate, Constituent::SodiumDichromate),
        ];
        let mut found = BTreeMap::new();
        for (where_, subject, constituent) in strengths {
            let checks = self.of(spot, "bath", None, &[subject]);
            if where_ == spot && !checks.is_empty() {
                found.insert(constituent, inside(&checks, ""));
            }
        }
        let thermometer = shop::instrument(book, InstrumentKind::Thermometer);
        let rectifier = shop::instrument(book, InstrumentKind::Rectifier);
        let made = Bath {
            bath: id.to_owned(),
            what: "invented".to_owned(),
            ingredients: ingredients.unwrap_or_else(|| vec!["invented".to_owned()]),
            thermometer: Some(thermometer),
            analysis_good_for: Some(read("30 d")),
            analyses: vec![Analysis {
                at: read("2026-11-01T08:00+00:00"),
                by: WHO.to_owned(),
                found,
                titrations: Vec::new(),
            }],
            rectifier: Some(rectifier),
        };
        shop::bath(book, made);
    }

    fn test(&mut self, block: &mut Map<String, Value>, at: &str, book: &mut Book) {
        let kind: TestKind = serde_json::from_value(block["test"].clone()).unwrap();
        let before = self.filled.len();
        let spot = Spot::Test;
        let checks = |key: &str| self.of(spot, key, Some(kind), &[]);
        let word = |key: &str, other: &str| {
            let of = |check: &&Check| match check {
                Check::OneOf(words) | Check::Only(words) => words.first().cloned(),
                _ => None,
            };
            json!(checks(key).iter().find_map(of).unwrap_or_else(|| other.to_owned()))
        };
        let cycles = inside(&checks("cycles"), "12 cycles").value().normalize().to_string();
        let ended = self.now.plus(&inside(&checks("ended"), "30 min")).unwrap();
        let instrument = shop::instrument(book, InstrumentKind::for_test(kind)[0]);
        let id = format!("S-{}", kind.name().replace(' ', "-"));
        let solution = Solution {
            solution: id.clone(),
            what: kind.name().to_owned(),
            mixed: later(&self.now, -60),
            by: WHO.to_owned(),
            recipe: self.recipe(kind),
        };
        let mut values = vec![
            ("pieces", json!(PIECES)),
            ("failed", json!(0)),
            ("started", json!(self.now)),
            ("ended", json!(ended)),
            ("instrument", json!(instrument)),
            ("solution", json!(id)),
            ("cleaned_with", word("cleaned_with", "acetone")),
            ("water", word("water", "distilled")),
            ("cycles", json!(cycles.parse::<u64>().unwrap())),
            ("observed", json!("clean")),
            ("by", json!(WHO)),
        ];
        for key in [
            "wet",
            "dry",
            "temperature",
            "humidity",
            "salt",
            "acidity",
            "fallout",
            "collected_over",
            "angle",
            "tower_temperature",
            "tower_pressure",
            "conductivity",
            "density",
            "chromium_to_iron",
            "chromium_oxide_to_iron_oxide",
            "oxide_depth",
            "defects",
            "kept_wet",
            "read_within",
        ] {
            if block.get(key) == Some(&Value::Null) {
                values.push((key, json!(inside(&checks(key), "25 °C"))));
            }
        }
        if block.get("solution") == Some(&Value::Null) {
            shop::solution(book, solution);
        }
        for (key, value) in values {
            self.fill(block, at, Some(spot), key, value);
        }
        self.filled.iter_mut().skip(before).for_each(|f| f.test = Some(kind));
        self.now = later(&ended, 5);
    }

    fn recipe(&self, kind: TestKind) -> BTreeMap<Ingredient, Quantity> {
        let (base, volume) = match kind {
            TestKind::CopperSulfate => (Ingredient::DistilledWater, "250 mL"),
            TestKind::Ferroxyl => (Ingredient::DistilledWater, "1000 mL"),
            _ => (Ingredient::MadeUpTo, "1000 mL"),
        };
        let mut recipe = BTreeMap::from([(base, read(volume))]);
        for (subject, ingredient) in [
            (Subject::SolutionCopperSulfate, Ingredient::CopperSulfate),
            (Subject::SolutionSulfuricAcid, Ingredient::SulfuricAcid),
            (Subject::SolutionFerricyanide, Ingredient::PotassiumFerricyanide),
            (Subject::SolutionNitricAcid, Ingredient::NitricAcid),
        ] {
            let checks = self.of(Spot::Test, "solution", Some(kind), &[subject]);
            if !checks.is_empty() {
                recipe.insert(ingredient, inside(&checks, ""));
            }
        }
        recipe
    }
}

fn holds_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(all) => all.iter().any(holds_null),
        Value::Object(all) => all.values().any(holds_null),
        _ => false,
    }
}
