//! What no document may say, whatever was ordered: a temperature in minutes, an end before its start, a test of
//! a run that does not exist. Each is a fault with its path, never a finding.

mod books;
mod corrections;
mod disclosure;
mod outside;
mod people;
mod pieces;
mod raw;
mod received;
mod sampling;
mod shared;

use std::cmp::Ordering;
use std::collections::BTreeSet;

use rust_decimal::Decimal;

use crate::adoption::Adoption;
use crate::deviation::Deviation;
use crate::moment::Moment;
use crate::order::Order;
use crate::part::AskedField;
use crate::part::CALL_OUT;
use crate::part::CallOut;
use crate::part::PartSpecification;
use crate::part::Review;
use crate::part::SIGNATORY;
use crate::part::Statement;
use crate::path::Path;
use crate::record::Characteristic;
use crate::record::Immersion;
use crate::record::Record;
use crate::record::Run;
use crate::record::Step;
use crate::record::Test;
use crate::units::Dimension;
use crate::units::Quantity;

pub use books::baths;
pub use books::instruments;
pub use books::solutions;
pub use people::people;
pub use people::shop;
pub use pieces::shipment;
pub use raw::loggers;
pub use raw::trace_forms;
pub use sampling::sampling;
pub use shared::load;
pub use shared::periodic;
pub use shared::report_file;
pub use shared::test_report;

/// One thing a document may not say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrong {
    /// Where.
    pub path: Path,
    /// What was found and what was expected.
    pub message: String,
    /// How to mend it.
    pub hint: Option<String>,
}

#[derive(Default)]
struct Wrongs(Vec<Wrong>);

impl Wrongs {
    fn say(&mut self, path: Path, message: impl Into<String>, hint: &str) {
        let hint = (!hint.is_empty()).then(|| hint.to_owned());
        self.0.push(Wrong { path, message: message.into(), hint });
    }

    fn dimension(&mut self, path: Path, value: Option<Quantity>, wanted: Dimension, example: &str) {
        let Some(value) = value else { return };
        if value.dimension() != wanted {
            self.say(
                path,
                format!("`{value}` does not measure this"),
                &format!("write it as in `{example}`"),
            );
            return;
        }
        self.possible(path, value);
    }

    /// No gauge shows less than nothing, and no part is more than the whole. Left to the limits: temperature and
    /// acidity, whose scales go below zero, and humidity, of which a chamber may show a little more than all.
    fn possible(&mut self, path: Path, value: Quantity) {
        let (number, dimension) = (value.value(), value.dimension());
        if number < Decimal::ZERO && !matches!(dimension, Dimension::Temperature | Dimension::Acidity) {
            self.say(path, format!("`{value}` is less than nothing"), "write it as it was read");
        } else if number > Decimal::ONE_HUNDRED
            && matches!(dimension, Dimension::MassFraction | Dimension::VolumeFraction)
        {
            self.say(path, format!("`{value}` is more than the whole"), "write it as it was read");
        }
    }

    /// The same entry twice counts the same pieces twice.
    fn twice<T: PartialEq>(&mut self, base: &Path, entries: &[T]) {
        for (i, entry) in entries.iter().enumerate() {
            if entries.iter().take(i).any(|e| e == entry) {
                self.say(base.index(i), "this entry stands twice", "remove one of the two");
            }
        }
    }

    fn text(&mut self, path: Path, text: &str) {
        if text.trim().is_empty() {
            self.say(path, "a name is expected here, nothing stands here", "");
        } else if text.chars().any(char::is_control) {
            self.say(path, "this holds a character that cannot be printed", "type it again");
        }
    }

    fn unique<'a>(&mut self, base: &Path, key: &str, names: impl Iterator<Item = &'a String>) {
        let mut seen = BTreeSet::new();
        for (i, name) in names.enumerate() {
            self.text(base.index(i).key(key), name);
            if !seen.insert(name) {
                self.say(base.index(i).key(key), format!("`{name}` stands twice"), "give each its own name");
            }
        }
    }
}

pub use corrections::corrections;

/// Most runs, steps a run, tests, looks and measurements of one lot: far beyond any shop's, and few enough that a
/// hostile record costs no time.
const MOST: usize = 200;

/// What a record may not say.
pub fn record(record: &Record) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let root = Path::root();
    let longest = record.runs.iter().map(|r| r.steps.len()).max().unwrap_or(0);
    for (key, length) in [
        ("runs", record.runs.len()),
        ("runs", longest),
        ("tests", record.tests.len()),
        ("visual", record.visual.len()),
        ("measurements", record.measurements.len()),
        ("corrections", record.corrections.len()),
    ] {
        if length > MOST {
            wrongs.say(root.key(key), format!("{length} entries; a lot has at most {MOST}"), "split the lot");
        }
    }
    if !wrongs.0.is_empty() {
        return wrongs.0;
    }
    wrongs.text(root.key("lot"), &record.lot);
    wrongs.text(root.key("order").key("number"), &record.order.number);
    wrongs.text(root.key("material").key("grade"), &record.material.grade);
    for (i, heat) in record.material.heats.iter().enumerate() {
        let path = root.key("material").key("heats").index(i).key("chemistry");
        for (symbol, value) in &heat.chemistry {
            wrongs.dimension(path.key(symbol), Some(*value), Dimension::MassFraction, "16.4 wt%");
            if !SYMBOLS.contains(&symbol.as_str()) {
                wrongs.say(
                    path.key(symbol),
                    format!("`{symbol}` is no element of steel"),
                    "write its chemical symbol, as in Cr",
                );
            }
        }
    }
    if let Some(by) = &record.counts.by {
        wrongs.text(root.key("counts").key("by"), by);
    }
    for (name, value) in &record.fields {
        wrongs.text(root.key("fields"), name);
        wrongs.text(root.key("fields").key(name), value);
    }
    pieces::family(&mut wrongs, record);
    received::received(&mut wrongs, record);
    wrongs.twice(&root.key("serials"), &record.serials);
    wrongs.twice(&root.key("tests"), &record.tests);
    wrongs.twice(&root.key("visual"), &record.visual);
    wrongs.twice(&root.key("measurements"), &record.measurements);
    wrongs.twice(&root.key("test_reports"), &record.test_reports);
    let serials = record.serials.len() as u64;
    if serials > 0 && serials != record.counts.accepted {
        let message = format!("{serials} serial numbers for {} accepted pieces", record.counts.accepted);
        wrongs.say(root.key("serials"), message, "list the serial number of each accepted piece, or none");
    }
    wrongs.unique(&root.key("runs"), "run", record.runs.iter().map(|r| &r.run));
    for (i, run) in record.runs.iter().enumerate() {
        one_run(&mut wrongs, record, i, run);
    }
    let known: BTreeSet<&String> = record.runs.iter().map(|r| &r.run).collect();
    let covers = |wrongs: &mut Wrongs, path: Path, covers: &[String]| {
        if covers.is_empty() {
            wrongs.say(path.clone(), "it covers no run", "name the runs it speaks for, as in [\"1\"]");
        }
        for (i, name) in covers.iter().enumerate().filter(|(_, n)| !known.contains(n)) {
            wrongs.say(path.index(i), format!("there is no run `{name}`"), &runs_there(record));
        }
    };
    for (i, test) in record.tests.iter().enumerate() {
        let path = root.key("tests").index(i);
        covers(&mut wrongs, path.key("covers"), &test.covers);
        one_test(&mut wrongs, &path, test);
    }
    for (i, look) in record.visual.iter().enumerate() {
        let path = root.key("visual").index(i);
        covers(&mut wrongs, path.key("covers"), &look.covers);
        wrongs.text(path.key("by"), &look.by);
        wrongs.dimension(path.key("light"), look.light, Dimension::Illuminance, "1100 lx");
        sample(&mut wrongs, &path, look.pieces, look.failed);
    }
    for (i, measurement) in record.measurements.iter().enumerate() {
        let path = root.key("measurements").index(i);
        covers(&mut wrongs, path.key("covers"), &measurement.covers);
        wrongs.text(path.key("by"), &measurement.by);
        wrongs.dimension(path.key("cutoff"), measurement.cutoff, Dimension::Length, "0.8 mm");
        let example = example_of(measurement.what);
        for (key, readings) in [("readings", &measurement.readings), ("before", &measurement.before)] {
            for (j, reading) in readings.iter().enumerate() {
                wrongs.dimension(path.key(key).index(j), Some(*reading), Dimension::Length, example);
            }
        }
    }
    raw::record(&mut wrongs, record);
    corrections::of_record(&mut wrongs, record);
    wrongs.0
}

const SYMBOLS: &[&str] = &[
    "C", "Mn", "Si", "P", "S", "Cr", "Ni", "Mo", "N", "Cu", "Ti", "Nb", "Al", "Se", "V", "W", "B", "Ta",
    "Co", "Fe",
];

const fn example_of(what: Characteristic) -> &'static str {
    match what {
        Characteristic::StockRemoval => "0.0002 in",
        _ => "16 µin",
    }
}

fn runs_there(record: &Record) -> String {
    let names: Vec<&str> = record.runs.iter().map(|r| r.run.as_str()).collect();
    format!("the runs are: {}", names.join(", "))
}

fn one_run(wrongs: &mut Wrongs, record: &Record, index: usize, run: &Run) {
    let path = Path::root().key("runs").index(index);
    if run.pieces == 0 {
        wrongs.say(path.key("pieces"), "a run of no pieces", "remove the run, or count its pieces");
    }
    if let Some(name) = &run.treats_again {
        let earlier = record.runs.iter().take(index).find(|r| r.run == *name);
        match earlier {
            None => wrongs.say(
                path.key("treats_again"),
                format!("there is no earlier run `{name}`"),
                &runs_there(record),
            ),
            Some(source) => {
                let again = record.runs.iter().filter(|r| r.treats_again.as_ref() == Some(name));
                let taken = again.fold(0_u64, |sum, r| sum.saturating_add(r.pieces));
                let begins = run.steps.iter().filter_map(Step::begin).min();
                let ended = source.steps.iter().filter_map(Step::end).max();
                if let (Some(begins), Some(ended)) = (begins, ended)
                    && begins < ended
                {
                    let message = format!("this begins {begins}, before run `{name}` ends ({ended})");
                    wrongs.say(
                        path.key("treats_again"),
                        message,
                        "correct the times, or the run it treats again",
                    );
                }
                if taken > source.pieces {
                    let message =
                        format!("{taken} pieces of run `{name}` are treated again; it has {}", source.pieces);
                    wrongs.say(path.key("pieces"), message, "correct the pieces of one of the runs");
                }
            }
        }
    }
    if run.steps.is_empty() && run.load.is_none() {
        let hint = "write its steps, or name the load that says them";
        wrongs.say(path.clone(), "a run without steps, in no load", hint);
    }
    steps(wrongs, &path, &run.steps);
}

/// Steps of a run or a load, `path` that of the run or load.
fn steps(wrongs: &mut Wrongs, path: &Path, steps: &[Step]) {
    let mut last: Option<Moment> = None;
    for (j, step) in steps.iter().enumerate() {
        let at = path.key("steps").index(j).key(step.key());
        if let Some(immersion) = step.immersion() {
            wrongs.text(at.key("by"), &immersion.by);
            one_immersion(wrongs, &at, immersion);
        }
        if let Step::Dry(done) = step {
            wrongs.text(at.key("by"), &done.by);
        }
        if let Step::Rinse(rinse) = step {
            wrongs.text(at.key("by"), &rinse.by);
            wrongs.dimension(at.key("total_solids"), rinse.total_solids, Dimension::Solids, "60 ppm");
        }
        if let (Some(before), Some(begin)) = (last, step.begin())
            && begin < before
        {
            let message = format!("this begins {begin}, before the step above it ends ({before})");
            wrongs.say(at.clone(), message, "put the steps in the order they were made, or correct the time");
        }
        last = step.end().or(last);
    }
}

fn one_immersion(wrongs: &mut Wrongs, at: &Path, immersion: &Immersion) {
    outside::immersion(wrongs, at, immersion);
    wrongs.dimension(at.key("time"), immersion.time, Dimension::Time, "32 min");
    wrongs.dimension(at.key("temperature"), immersion.temperature, Dimension::Temperature, "78 °F");
    wrongs.dimension(at.key("temperature_out"), immersion.temperature_out, Dimension::Temperature, "78 °F");
    raw::immersion(wrongs, at, immersion);
    wrongs.dimension(
        at.key("current_density"),
        immersion.current_density,
        Dimension::CurrentDensity,
        "15 A/dm²",
    );
    wrongs.dimension(at.key("voltage"), immersion.voltage, Dimension::Voltage, "9.5 V");
    if let (Some(into), Some(out)) = (&immersion.in_at, &immersion.out_at)
        && out < into
    {
        wrongs.say(
            at.key("out"),
            format!("out at {out}, before in at {into}"),
            "correct one of the two times",
        );
    }
}

fn sample(wrongs: &mut Wrongs, path: &Path, pieces: u64, failed: u64) {
    if failed > pieces {
        wrongs.say(
            path.key("failed"),
            format!("{failed} failed of {pieces} pieces"),
            "correct one of the two counts",
        );
    }
}

fn one_test(wrongs: &mut Wrongs, path: &Path, test: &Test) {
    sample(wrongs, path, test.pieces, test.failed);
    wrongs.text(path.key("by"), &test.by);
    outside::test(wrongs, path, test);
    shared::coupon(wrongs, path, test);
    let lasted = test.ended.as_ref().and_then(|ended| ended.since(&test.started)).or(test.time);
    if let (Some(wet), Some(lasted)) = (test.kept_wet, lasted)
        && wet.compare(&lasted) == Some(Ordering::Greater)
    {
        let message = format!("kept wet for {wet} in a test of {lasted}");
        wrongs.say(path.key("kept_wet"), message, "correct one of the two times");
    }
    let fields = [
        ("time", test.time, Dimension::Time, "24 h"),
        ("wet", test.wet, Dimension::Time, "1 h"),
        ("dry", test.dry, Dimension::Time, "1 h"),
        ("kept_wet", test.kept_wet, Dimension::Time, "6 min"),
        ("read_within", test.read_within, Dimension::Time, "30 s"),
        ("temperature", test.temperature, Dimension::Temperature, "100 °F"),
        ("humidity", test.humidity, Dimension::Humidity, "97 %RH"),
        ("acidity", test.acidity, Dimension::Acidity, "pH 6.8"),
        ("fallout", test.fallout, Dimension::Volume, "1.5 mL"),
        ("collected_over", test.collected_over, Dimension::Time, "16 h"),
        ("angle", test.angle, Dimension::Angle, "20 deg"),
        ("tower_temperature", test.tower_temperature, Dimension::Temperature, "47 °C"),
        ("tower_pressure", test.tower_pressure, Dimension::Pressure, "98 kPa"),
        ("conductivity", test.conductivity, Dimension::Conductivity, "5 µS/cm"),
        ("density", test.density, Dimension::Density, "1.031 g/mL"),
        ("chromium_to_iron", test.chromium_to_iron, Dimension::Ratio, "1.4 ratio"),
        ("chromium_oxide_to_iron_oxide", test.chromium_oxide_to_iron_oxide, Dimension::Ratio, "2.1 ratio"),
        ("oxide_depth", test.oxide_depth, Dimension::Length, "22 Å"),
        ("defects", test.defects, Dimension::Defects, "12 defects"),
    ];
    // A chamber's book may state its salt by mass in the water or in the solution.
    if let Some(salt) = test.salt.filter(|salt| salt.dimension() != Dimension::MassConcentration) {
        wrongs.dimension(path.key("salt"), Some(salt), Dimension::MassFraction, "5 wt%");
    }
    for (key, value, wanted, example) in fields {
        wrongs.dimension(path.key(key), value, wanted, example);
    }
    if let Some(ended) = &test.ended
        && *ended < test.started
    {
        let message = format!("ended {ended}, before it started {}", test.started);
        wrongs.say(path.key("ended"), message, "correct one of the two times");
    }
}

/// What a part specification may not say.
pub fn part(part: &PartSpecification) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    wrongs.text(Path::root().key("part"), &part.part);
    wrongs.text(Path::root().key("revision"), &part.revision);
    reviewed(&mut wrongs, part.reviewed.as_ref());
    call_outs(&mut wrongs, &Path::root().key("calls_for"), &part.calls_for);
    people::approvals_asked(&mut wrongs, &part.needs_approvals);
    disclosure::controlled(&mut wrongs, part.controlled.as_ref());
    asked(&mut wrongs, &Path::root(), &part.statements, &part.fields);
    wrongs.0
}

/// What an order may not say.
pub fn order(order: &Order) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    wrongs.text(Path::root().key("order"), &order.order);
    reviewed(&mut wrongs, order.reviewed.as_ref());
    people::approvals_asked(&mut wrongs, &order.needs_approvals);
    disclosure::controlled(&mut wrongs, order.controlled.as_ref());
    people::most_rounds(&mut wrongs, order.most_rounds);
    let lines = Path::root().key("lines");
    wrongs.unique(&lines, "line", order.lines.iter().map(|l| &l.line));
    pieces::editions(&mut wrongs, order);
    outside::order(&mut wrongs, order);
    for (i, line) in order.lines.iter().enumerate() {
        pieces::releases(&mut wrongs, &lines.index(i), line);
        call_outs(&mut wrongs, &lines.index(i).key("also_calls_for"), &line.also_calls_for);
        asked(&mut wrongs, &lines.index(i), &line.statements, &line.fields);
    }
    let contacts = Path::root().key("certificates_to");
    wrongs.unique(&contacts, "name", order.certificates_to.iter().map(|c| &c.name));
    wrongs.0
}

/// What may not be asked to be printed: nothing, the same twice, a ground that names nothing.
fn asked(wrongs: &mut Wrongs, base: &Path, statements: &[Statement], fields: &[AskedField]) {
    wrongs.twice(&base.key("statements"), statements);
    for (i, statement) in statements.iter().enumerate() {
        let path = base.key("statements").index(i);
        if statement.text.trim().is_empty() || statement.text.chars().any(char::is_control) {
            let message = "the words to print are expected on one line";
            wrongs.say(path.key("text"), message, "in quotes, or folded with `text: >-`");
        }
        for (j, need) in statement.needs.iter().enumerate() {
            let call_out = need.strip_prefix(CALL_OUT).is_some_and(|named| !named.trim().is_empty());
            let id = need.split_once('/').is_some_and(|(pack, id)| {
                let plain = |s: &str| !s.is_empty() && !s.contains(char::is_whitespace);
                plain(pack) && plain(id)
            });
            if need != SIGNATORY && !call_out && !id {
                let hint = "write a requirement's id as `rules list` shows it, `call-out` and the standard, or \
                            `signatory`";
                wrongs.say(path.key("needs").index(j), format!("`{need}` names no evidence"), hint);
            }
        }
        let tag = |t: &str| !t.is_empty() && t.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
        if let Some(language) = statement.language.as_ref().filter(|l| !tag(l)) {
            let message = format!("`{language}` is no tag of a language");
            wrongs.say(path.key("language"), message, "write it as in `de` or `fr-CA`");
        }
    }
    wrongs.unique(&base.key("fields"), "name", fields.iter().map(|f| &f.name));
}

/// What a deviation may not say. Whether it fits the rules it is about is seen when they are at hand.
pub fn deviation(deviation: &Deviation) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    let root = Path::root();
    wrongs.text(root.key("deviation"), &deviation.deviation);
    wrongs.text(root.key("given_by"), &deviation.given_by);
    wrongs.text(root.key("why"), &deviation.why);
    wrongs.text(root.key("reviewed").key("by"), &deviation.reviewed.by);
    if deviation.reviewed.on < deviation.on {
        let message = format!("compared {}, before the letter of {}", deviation.reviewed.on, deviation.on);
        wrongs.say(root.key("reviewed").key("on"), message, "correct one of the two days");
    }
    let (file, digest) = (&deviation.letter.file, &deviation.letter.sha256);
    if !outside::is_inside(file) {
        let hint = "name it within the shop folder, as in `deviations/letters/D-1.pdf`";
        wrongs.say(root.key("letter").key("file"), format!("`{file}` is no file of the shop folder"), hint);
    }
    outside::sha256(&mut wrongs, root.key("letter").key("sha256"), digest);
    if deviation.permits.is_empty() {
        wrongs.say(root.key("permits"), "a deviation that permits nothing", "list what the letter permits");
    }
    wrongs.twice(&root.key("permits"), &deviation.permits);
    let reach = &deviation.reach;
    if reach.parts.is_empty() && reach.orders.is_empty() && reach.lots.is_empty() {
        let hint = "name `parts:`, `orders:` or `lots:`, as the letter does";
        wrongs.say(root.key("reach"), "a deviation for everything", hint);
    }
    if reach.pieces == Some(0) {
        wrongs.say(
            root.key("reach").key("pieces"),
            "a deviation for no piece",
            "give the number, or leave it out",
        );
    }
    wrongs.0
}

/// A review is somebody's.
fn reviewed(wrongs: &mut Wrongs, review: Option<&Review>) {
    if let Some(review) = review {
        wrongs.text(Path::root().key("reviewed").key("by"), &review.by);
    }
}

/// What an adoption may not say.
pub fn adoption(adoption: &Adoption) -> Vec<Wrong> {
    let mut wrongs = Wrongs::default();
    wrongs.text(Path::root().key("by"), &adoption.by);
    wrongs.text(Path::root().key("copy"), &adoption.copy);
    if let Some(later) = &adoption.superseded_by {
        let path = Path::root().key("superseded_by");
        wrongs.text(path.clone(), later);
        if *later == adoption.edition {
            wrongs.say(path, "an edition cannot supersede itself", "name the later one, or leave it out");
        }
    }
    wrongs.0
}

fn call_outs(wrongs: &mut Wrongs, base: &Path, call_outs: &[CallOut]) {
    for (i, call) in call_outs.iter().enumerate() {
        let path = base.index(i);
        for (key, number) in [("pieces", call.pieces), ("test_pieces", call.test_pieces)] {
            if number == Some(0) {
                wrongs.say(path.key(key), "an order of no piece", "give the number ordered, or leave it out");
            }
        }
        if let Some(plan) = &call.sampling {
            sampling::plan(wrongs, path.key("sampling"), plan);
        }
        match (&call.standard, call.limit) {
            (Some(_), None) => {
                let own = [call.at_least, call.at_most, call.cutoff].iter().any(Option::is_some);
                if own || call.pieces.is_some() || call.rule.is_some() {
                    let hint = "`at_least`, `at_most`, `cutoff`, `rule` and `pieces` belong to a `limit`; a standard has `test_pieces`";
                    wrongs.say(path.clone(), "a standard has no limits of its own here", hint);
                }
                let mut seen = BTreeSet::new();
                if let Some(twice) = call.tests.iter().find(|t| !seen.insert(**t)) {
                    wrongs.say(path.key("tests"), format!("`{}` stands twice", twice.name()), "");
                }
            }
            (None, Some(_)) => {
                if call.at_least.is_none() && call.at_most.is_none() {
                    wrongs.say(path.clone(), "a limit without a figure", "add `at_most:` or `at_least:`");
                }
                if call.treatment.is_some()
                    || !call.tests.is_empty()
                    || !call.options.is_empty()
                    || call.sampling.is_some()
                {
                    wrongs.say(
                        path.clone(),
                        "a limit has no treatment, tests or options",
                        "write the standard as a call-out of its own",
                    );
                }
                let example = call.limit.map_or("16 µin", example_of);
                wrongs.dimension(path.key("at_most"), call.at_most, Dimension::Length, example);
                wrongs.dimension(path.key("at_least"), call.at_least, Dimension::Length, example);
                wrongs.dimension(path.key("cutoff"), call.cutoff, Dimension::Length, "0.8 mm");
                let rough = call.limit != Some(Characteristic::StockRemoval);
                if !rough && (call.cutoff.is_some() || call.rule.is_some()) {
                    wrongs.say(
                        path.clone(),
                        "`cutoff` and `rule` belong to roughness",
                        "leave them out of a limit on stock removal",
                    );
                }
            }
            _ => wrongs.say(
                path,
                "a call-out is one standard or one limit",
                "give exactly one of `standard:` and `limit:`",
            ),
        }
    }
}
