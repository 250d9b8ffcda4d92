//! From the shop's book to one lot's dossier: only what the judge needs for that lot, so that no certificate
//! carries another purchaser's papers or a year of analyses.

mod used;

use std::collections::BTreeSet;

use crate::app::book::Book;
use crate::app::book::Sourced;
use crate::app::computed;
use crate::app::error::Error;
use crate::app::switching::Turn;
use crate::finding::Document;
use crate::finding::Place;
use crate::judge;
use crate::judge::Dossier;
use crate::judge::Later;
use crate::moment::Date;
use crate::moment::Moment;
use crate::order::Order;
use crate::part::CallOut;
use crate::part::PartSpecification;
use crate::path::Path;
use crate::path::Segment;
use crate::record::RawFile;
use crate::record::Record;
use crate::record::Step;
use crate::record::raw_files;
use crate::rulebook;
use crate::rulebook::EffectivePack;
use crate::shop::Bath;
use crate::shop::Instrument;
use crate::validate;
use crate::yaml::Places;

use used::Uses;

/// A lot's dossier with the files it came from.
pub struct Case {
    /// What the judge sees.
    pub dossier: Dossier,
    /// The record's file and text.
    pub record: Sourced<Record>,
    /// The part specification's file and text.
    part_source: (String, String),
    /// The order's file and text.
    order_source: (String, String),
    /// The lots it descends from, and how many pieces of each are accepted there now.
    pub forebears: Vec<(String, u64)>,
    /// The journal's file.
    journal_file: String,
}

fn reference(record: &Sourced<Record>, path: &Path, message: String, hint: String) -> Error {
    let (line, column) = Places::of(&record.text).find(path);
    Error::Reference { file: record.file.clone(), line, column, message, hint: Some(hint) }
}

impl Book {
    /// Gathers what the judge needs for a record.
    pub fn case(&self, record: Sourced<Record>) -> Result<Case, Error> {
        let order = self.order_of(&record)?;
        let part = self.part_of(&record, &order.document)?;
        let named = &record.document.order;
        let mut trimmed = order.document.clone();
        trimmed.lines.retain(|line| line.line == named.line);
        // Whom certificates go to is the purchaser's own affair, and no fact about the parts.
        trimmed.certificates_to.clear();
        let call_outs =
            part.document.calls_for.iter().chain(trimmed.lines.iter().flat_map(|l| &l.also_calls_for));
        let call_outs: Vec<&CallOut> = call_outs.collect();
        let packs = self.packs_in_force(&call_outs, &trimmed)?;
        let family = self.family(&record.document, &order.document);
        let material = &record.document.material;
        let alloy = self.alloys.find(&material.grade).ok().cloned();
        let tolerances = alloy.as_ref().and_then(|a| self.product_tolerances.used(a, &material.heats));
        let mut dossier = Dossier {
            people: Vec::new(),
            later: Later::default(),
            approvals: Vec::new(),
            most_rounds: None,
            alloy,
            product_tolerances: tolerances,
            packs,
            baths: Vec::new(),
            instruments: Vec::new(),
            solutions: Vec::new(),
            sampling: Vec::new(),
            corrections: Vec::new(),
            checks: None,
            part: part.document.clone(),
            without_edition: self.without_edition(&call_outs, &trimmed),
            order: trimmed,
            covers_runs: None,
            family: family.rows,
            record: record.document.clone(),
            deviations: self.deviations_for(&record.document, &part.document, &order.document),
            files: Vec::new(),
            computed: Vec::new(),
            loggers: Vec::new(),
            trace_forms: Vec::new(),
            pictures: false,
            loads: Vec::new(),
            reports: Vec::new(),
            periodic: Vec::new(),
        };
        self.add_shared(&mut dossier)?;
        let whole = judge::whole(&dossier).into_owned().record;
        if let Some(wrong) = validate::record(&whole).into_iter().next() {
            return Err(Error::wrong(&record.file, &record.text, wrong));
        }
        let turn = Turn {
            purchaser: &dossier.order.purchaser,
            part: &dossier.part.part,
            record: Some(&whole),
            day: dossier.order.dated,
        };
        let lines = dossier.order.lines.iter().flat_map(|l| &l.also_calls_for);
        let call_outs: Vec<&CallOut> = dossier.part.calls_for.iter().chain(lines).collect();
        dossier.sampling = self.sampling_for(&turn, &call_outs)?;
        let (baths, instruments, uses) = self.equipment(&whole);
        (dossier.baths, dossier.instruments) = (baths, instruments);
        let solutions = whole.tests.iter().filter_map(|t| t.solution.as_ref()).collect::<BTreeSet<_>>();
        let book = &self.solutions.document.solutions;
        dossier.solutions = book.iter().filter(|s| solutions.contains(&s.solution)).cloned().collect();
        dossier.periodic = self.periodic_for(&whole);
        dossier.pictures = dossier.order.pictures || self.shop.pictures;
        self.add_computed(&mut dossier, &whole)?;
        let told = judge::whole(&dossier).into_owned().record;
        let uses = if told == whole {
            uses
        } else {
            // A log told when the pieces were in: what was in force then is looked up again.
            if let Some(wrong) = validate::record(&told).into_iter().next() {
                return Err(Error::wrong(&record.file, &record.text, wrong));
            }
            let (baths, instruments, uses) = self.equipment(&told);
            (dossier.baths, dossier.instruments) = (baths, instruments);
            self.add_computed(&mut dossier, &whole)?;
            uses
        };
        self.add_used(&mut dossier, &uses);
        Ok(Case {
            dossier,
            forebears: family.accepted,
            part_source: (part.file.clone(), part.text.clone()),
            order_source: (order.file.clone(), order.text.clone()),
            journal_file: crate::app::journal::file(&record.document.lot),
            record,
        })
    }

    /// Adds how the raw files are read, and what they come to.
    fn add_computed(&self, dossier: &mut Dossier, whole: &Record) -> Result<(), Error> {
        let named = raw_files(whole);
        let logger =
            |id: &str| named.iter().any(|(_, raw)| matches!(raw, RawFile::Log(log) if log.logger == id));
        let form = |id: &str| {
            named.iter().any(|(_, raw)| matches!(raw, RawFile::Trace(t) if t.form.as_deref() == Some(id)))
        };
        dossier.loggers = self.loggers.loggers.iter().filter(|l| logger(&l.logger)).cloned().collect();
        dossier.trace_forms = self.trace_forms.traces.iter().filter(|t| form(&t.form)).cloned().collect();
        dossier.computed = computed::compute(dossier, &|path| Ok(self.folder.inside(path)?))?;
        Ok(())
    }

    fn order_of(&self, record: &Sourced<Record>) -> Result<&Sourced<Order>, Error> {
        let wanted = &record.document.order;
        let path = Path::root().key("order").key("number");
        let mut found = self.orders.iter().filter(|o| o.document.order == wanted.number);
        let first = found.next().ok_or_else(|| {
            let hint = self
                .unreadable("orders/")
                .unwrap_or_else(|| "write the order, or correct the number".to_owned());
            reference(record, &path, format!("there is no order `{}` in orders/", wanted.number), hint)
        })?;
        if let Some(second) = found.next() {
            let message =
                format!("the order `{}` stands in {} and in {}", wanted.number, first.file, second.file);
            return Err(reference(record, &path, message, "keep one of the two".to_owned()));
        }
        if !first.document.lines.iter().any(|l| l.line == wanted.line) {
            let lines: Vec<&str> = first.document.lines.iter().map(|l| l.line.as_str()).collect();
            let message = format!("order `{}` has no line `{}`", wanted.number, wanted.line);
            let hint = format!("its lines are: {}", lines.join(", "));
            return Err(reference(record, &Path::root().key("order").key("line"), message, hint));
        }
        Ok(first)
    }

    fn part_of(&self, record: &Sourced<Record>, order: &Order) -> Result<&Sourced<PartSpecification>, Error> {
        let path = Path::root().key("order");
        let line = order.lines.iter().find(|l| l.line == record.document.order.line);
        let Some(line) = line else {
            return Err(reference(record, &path, "the order line is gone".to_owned(), String::new()));
        };
        let mut found = self.parts.iter().filter(|p| {
            p.document.part == line.part
                && p.document.revision == line.revision
                && p.document.purchaser == order.purchaser
        });
        let first = found.next().ok_or_else(|| {
            let message = format!(
                "there is no part specification for {} revision {} of purchaser `{}` in parts/",
                line.part, line.revision, order.purchaser
            );
            let hint = self
                .unreadable("parts/")
                .unwrap_or_else(|| "write and review the part specification".to_owned());
            reference(record, &path, message, hint)
        })?;
        if let Some(second) = found.next() {
            let message = format!(
                "part {} {} stands in {} and in {}",
                line.part, line.revision, first.file, second.file
            );
            return Err(reference(record, &path, message, "keep one of the two".to_owned()));
        }
        Ok(first)
    }

    /// What could not be read of a sub-folder, when that may be why something is not found.
    fn unreadable(&self, sub: &str) -> Option<String> {
        let all: Vec<String> =
            self.faults.iter().map(ToString::to_string).filter(|f| f.contains(sub)).collect();
        (!all.is_empty()).then(|| format!("it may be in a file that could not be read: {}", all.join("; ")))
    }

    /// The house's rules and the packs the call-outs name, as adopted, without requirements for treatments and
    /// tests nobody ordered.
    pub fn packs_in_force(&self, call_outs: &[&CallOut], order: &Order) -> Result<Vec<EffectivePack>, Error> {
        let mut packs = Vec::new();
        for pack in &self.packs {
            let mut editions: BTreeSet<String> = BTreeSet::new();
            if pack.is_house() {
                editions.extend(pack.editions.first().cloned());
            }
            for call in call_outs {
                editions.extend(call.standard.as_deref().and_then(|s| pack.edition_in_force(order, s)));
            }
            for edition in editions {
                packs.push(self.adopted(pack, &edition)?);
            }
        }
        Ok(packs)
    }

    /// Standards of the rulebook that are called out without edition while the order says none, or two.
    pub(super) fn without_edition(&self, call_outs: &[&CallOut], order: &Order) -> Vec<String> {
        let open = |named: &str| {
            self.packs.iter().any(|p| p.is_designated(named) && p.edition_by_order(order).is_none())
        };
        let named: BTreeSet<&str> = call_outs.iter().filter_map(|c| c.standard.as_deref()).collect();
        named.into_iter().filter(|n| open(n)).map(str::to_owned).collect()
    }

    /// One edition of a pack as the shop adopted it.
    pub fn adopted(&self, pack: &crate::pack::Pack, edition: &str) -> Result<EffectivePack, Error> {
        let mut adoptions =
            self.adoptions.iter().filter(|a| a.document.pack == pack.pack && a.document.edition == edition);
        let adoption = adoptions.next();
        if let (Some(first), Some(second)) = (adoption, adoptions.next()) {
            return Err(Error::cannot(
                format!("{} {edition} is adopted in {} and in {}", pack.designation, first.file, second.file),
                "keep the one that holds",
            ));
        }
        rulebook::effective(pack, edition, adoption.map(|a| &a.document)).map_err(|source| Error::Adoption {
            file: adoption.map_or_else(|| "adopted/".to_owned(), |a| a.file.clone()),
            source,
        })
    }

    /// Baths and instruments a record names, each with what was in force when it was used, and those uses.
    fn equipment(&self, record: &Record) -> (Vec<Bath>, Vec<Instrument>, Uses) {
        let mut bath_uses: Vec<(&str, Option<Moment>)> = Vec::new();
        let mut instrument_uses: Vec<(String, Option<Date>)> = Vec::new();
        for run in &record.runs {
            let last = run.steps.iter().filter_map(Step::end).max().map(|m| m.date());
            for step in &run.steps {
                if let Some(immersion) = step.immersion() {
                    bath_uses.push((&immersion.bath, immersion.in_at.or(immersion.out_at)));
                }
                if let Step::Rinse(rinse) = step {
                    let day = rinse.at.map(|m| m.date()).or(last);
                    instrument_uses.extend(rinse.instrument.iter().map(|id| (id.clone(), day)));
                    // Without a time of its own a rinse is judged on the day the treatment ended.
                    let earlier =
                        run.steps.iter().filter_map(|s| s.immersion()).filter_map(|i| i.out_at.or(i.in_at));
                    instrument_uses.extend(
                        earlier.flat_map(|at| {
                            rinse.instrument.iter().map(move |id| (id.clone(), Some(at.date())))
                        }),
                    );
                }
            }
        }
        for test in &record.tests {
            instrument_uses.extend(test.instrument.iter().map(|id| (id.clone(), Some(test.started.date()))));
        }
        for measurement in &record.measurements {
            let day = Some(measurement.at.date());
            instrument_uses.extend(measurement.instrument.iter().map(|id| (id.clone(), day)));
        }
        for (entry, raw) in raw_files(record) {
            if let RawFile::Log(log) = raw {
                let day = computed::day_of(record, &entry);
                let loggers = self.loggers.loggers.iter().filter(|l| l.logger == log.logger);
                let ids =
                    loggers.flat_map(|l| l.columns.iter().map(|c| &c.instrument).chain([&l.instrument]));
                instrument_uses.extend(ids.flatten().map(|id| (id.clone(), day)));
            }
        }
        let mut baths = Vec::new();
        for bath in &self.baths.document.baths {
            let uses: Vec<Option<Moment>> =
                bath_uses.iter().filter(|(id, _)| *id == bath.bath).map(|(_, at)| *at).collect();
            if uses.is_empty() {
                continue;
            }
            let mut kept = bath.clone();
            let in_force: BTreeSet<usize> =
                uses.iter().flatten().filter_map(|at| bath.analysis_at(at).map(|(i, _)| i)).collect();
            let mut position = 0;
            kept.analyses.retain(|_| {
                position += 1;
                in_force.contains(&(position - 1))
            });
            for id in bath.thermometer.iter().chain(&bath.rectifier) {
                instrument_uses.extend(uses.iter().map(|at| (id.clone(), at.map(|m| m.date()))));
            }
            baths.push(kept);
        }
        let mut instruments = Vec::new();
        for instrument in &self.instruments.document.instruments {
            let days: Vec<Option<Date>> = instrument_uses
                .iter()
                .filter(|(id, _)| *id == instrument.instrument)
                .map(|(_, d)| *d)
                .collect();
            if days.is_empty() {
                continue;
            }
            let mut kept = instrument.clone();
            let in_force: BTreeSet<usize> = days
                .iter()
                .flatten()
                .filter_map(|day| instrument.calibration_on(*day).map(|(i, _)| i))
                .collect();
            let mut position = 0;
            kept.calibrations.retain(|_| {
                position += 1;
                in_force.contains(&(position - 1))
            });
            kept.out_of_service.retain(|out| days.iter().flatten().any(|day| out.covers(*day)));
            instruments.push(kept);
        }
        let used = Uses {
            baths: bath_uses.iter().filter_map(|(id, at)| Some(((*id).to_owned(), (*at)?))).collect(),
            instruments: instrument_uses.into_iter().filter_map(|(id, day)| Some((id, day?))).collect(),
        };
        (baths, instruments, used)
    }
}

impl Case {
    /// File and text of the document a place stands in; no text where the document is a folder.
    pub fn source<'a>(&'a self, book: &'a Book, document: Document) -> (&'a str, &'a str) {
        match document {
            Document::Record => (&self.record.file, &self.record.text),
            Document::Part => (&self.part_source.0, &self.part_source.1),
            Document::Order => (&self.order_source.0, &self.order_source.1),
            Document::Baths => (&book.baths.file, &book.baths.text),
            Document::Instruments => (&book.instruments.file, &book.instruments.text),
            Document::Solutions => (&book.solutions.file, &book.solutions.text),
            Document::Adoption => ("adopted/", ""),
            Document::People => ("people.yaml", &book.people_text),
            Document::Shop => ("shop.yaml", &book.shop_text),
            Document::Deviations => ("deviations/", ""),
            Document::Corrections => (&book.corrections.file, &book.corrections.text),
            Document::Journal => (&self.journal_file, ""),
            Document::Load => ("loads/", ""),
            Document::Report => ("reports/", ""),
            Document::Files => ("papers of others", ""),
            Document::Periodic => ("periodic/", ""),
        }
    }

    /// A place as `file:line:column`.
    pub fn locate(&self, book: &Book, place: &Place) -> String {
        if let [Segment::Key(folder), Segment::Key(name), rest @ ..] = place.path.segments()
            && matches!(place.document, Document::Load | Document::Report | Document::Periodic)
            && let Some((file, text)) = book.shared.source(folder, name)
        {
            let path = rest.iter().fold(Path::root(), |path, segment| match segment {
                Segment::Key(key) => path.key(key),
                Segment::Index(index) => path.index(*index),
            });
            let (line, column) = Places::of(text).find(&path);
            return format!("{file}:{line}:{column}");
        }
        let (file, text) = self.source(book, place.document);
        if text.is_empty() {
            return file.to_owned();
        }
        // The order in a dossier holds the lot's line only; its file may hold more.
        let path = self.path_in_file(book, place);
        let (line, column) = Places::of(text).find(&path);
        format!("{file}:{line}:{column}")
    }

    fn path_in_file(&self, book: &Book, place: &Place) -> Path {
        if place.document != Document::Order {
            return place.path.clone();
        }
        let number = &self.record.document.order;
        let order = book.orders.iter().find(|o| o.document.order == number.number);
        let index = order.and_then(|o| o.document.lines.iter().position(|l| l.line == number.line));
        let mut path = Path::root();
        for (position, segment) in place.path.segments().iter().enumerate() {
            path = match (position, segment) {
                (1, Segment::Index(_)) => path.index(index.unwrap_or(0)),
                (_, Segment::Index(i)) => path.index(*i),
                (_, Segment::Key(key)) => path.key(key),
            };
        }
        path
    }
}
