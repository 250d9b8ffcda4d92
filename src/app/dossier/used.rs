//! What of the shop's book a lot's dossier carries beside baths and instruments: the people who did it, what was
//! found after use, the approvals asked for. Nothing else of them, and nothing of another purchaser.

use std::collections::BTreeSet;

use crate::app::book::Book;
use crate::judge;
use crate::judge::Dossier;
use crate::judge::Later;
use crate::moment::Date;
use crate::moment::Moment;
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

    /// Those who did what counts, each with the qualifications that decide.
    fn people_of(&self, dossier: &Dossier) -> Vec<Person> {
        let whole = judge::whole(dossier);
        let mut deeds = judge::deeds(&whole);
        // Where several kinds of work will do, one that is carried anyway is enough.
        deeds.sort_by_key(|deed| deed.work.len());
        let all = self.people.people.iter();
        let used = all.filter_map(|person| {
            let mut kept: BTreeSet<usize> = BTreeSet::new();
            let mut named = false;
            for deed in deeds.iter().filter(|d| d.by == person.name) {
                named = true;
                for day in &deed.days {
                    let carried = kept.iter().filter_map(|i| person.qualified.get(*i));
                    let enough = carried.into_iter().any(|q| deed.work.contains(&q.work) && q.in_force(*day));
                    if !enough {
                        kept.extend(person.qualification_on(deed.work, *day).map(|(position, _)| position));
                    }
                }
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
