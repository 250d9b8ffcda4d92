//! What of the shop's book a lot's dossier carries beside baths and instruments: the people who did it, what was
//! found after use, the approvals asked for. Nothing else of them, and nothing of another purchaser.

use std::collections::BTreeSet;

use crate::app::book::Book;
use crate::judge;
use crate::judge::Deed;
use crate::judge::Dossier;
use crate::judge::Later;
use crate::moment::Date;
use crate::moment::Moment;
use crate::path::Path;
use crate::shop::Person;

/// When each bath and each instrument was used.
pub(super) struct Uses {
    /// Baths by id.
    pub(super) baths: Vec<(String, Moment)>,
    /// Instruments by id.
    pub(super) instruments: Vec<(String, Date)>,
}

impl Book {
    /// Adds people, later findings and approvals to a dossier whose baths and instruments are gathered.
    pub(super) fn add_used(&self, dossier: &mut Dossier, uses: &Uses) {
        dossier.people = self.people_of(dossier);
        dossier.later = self.later_of(uses);
        dossier.approvals = judge::approvals_needed(&self.shop.approvals, &dossier.part, &dossier.order);
        dossier.most_rounds = self.shop.most_rounds;
    }

    /// Those whom the record, the analyses and the solutions name, each with the qualifications that decide.
    fn people_of(&self, dossier: &Dossier) -> Vec<Person> {
        let record = &dossier.record;
        let path = Path::root();
        let mut deeds: Vec<Deed> = (0..record.runs.len()).flat_map(|i| judge::of_run(record, i)).collect();
        deeds.extend(record.tests.iter().flat_map(|t| judge::of_test(t, &dossier.solutions, &path)));
        deeds.extend(record.visual.iter().map(|v| judge::of_look(v, &path)));
        deeds.extend(record.measurements.iter().map(|m| judge::of_measurement(m, &path)));
        let baths = record.runs.iter().flat_map(judge::treatment_baths);
        deeds.extend(baths.filter_map(|i| judge::of_analysis(&dossier.baths, i)));
        let all = self.people.people.iter();
        let used = all.filter_map(|person| {
            let mut kept: BTreeSet<usize> = BTreeSet::new();
            let mut named = false;
            for deed in deeds.iter().filter(|d| d.by == person.name) {
                named = true;
                let held = deed.days.iter().filter_map(|day| person.qualification_on(deed.work, *day));
                kept.extend(held.map(|(position, _)| position));
            }
            named.then(|| Person {
                name: person.name.clone(),
                function: person.function.clone(),
                may_release_from: None,
                may_release_until: None,
                may_release: None,
                qualified: kept.iter().filter_map(|i| person.qualified.get(*i).cloned()).collect(),
            })
        });
        used.collect()
    }

    fn later_of(&self, uses: &Uses) -> Later {
        let baths = self.baths.document.baths.iter().filter_map(|bath| {
            let when: Vec<Moment> =
                uses.baths.iter().filter(|(id, _)| *id == bath.bath).map(|(_, at)| *at).collect();
            judge::later_analyses(bath, &when)
        });
        let instruments = self.instruments.document.instruments.iter().filter_map(|instrument| {
            let id = &instrument.instrument;
            let days: Vec<Date> =
                uses.instruments.iter().filter(|(used, _)| used == id).map(|(_, day)| *day).collect();
            judge::later_calibrations(instrument, &days)
        });
        Later { baths: baths.collect(), instruments: instruments.collect() }
    }
}
