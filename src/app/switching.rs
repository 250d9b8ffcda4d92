//! The sampling plans in force for a lot: those of the standards, the shop's own, and those whose severity the lots
//! before it decide. Certified lots are taken from the register as they were certified, others from `lots/`.

use std::collections::BTreeMap;

use crate::app::book::Book;
use crate::app::desk::files;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::withheld;
use crate::certificate::Certificate;
use crate::judge;
use crate::judge::Inspected;
use crate::moment::Date;
use crate::moment::Moment;
use crate::pack::SamplingEvent;
use crate::pack::SamplingTable;
use crate::part::CallOut;
use crate::record::Record;
use crate::register::Facet;
use crate::register::Query;
use crate::register::Term;
use crate::sampling::Name;

/// Whose inspection it is, and when.
pub(super) struct Turn<'a> {
    /// The purchaser, by id.
    pub purchaser: &'a str,
    /// The part, any revision.
    pub part: &'a str,
    /// The lot itself, which is no part of its own history; left out in a plan.
    pub record: Option<&'a Record>,
    /// The day that stands where the lot was not inspected yet.
    pub day: Date,
}

/// A lot of the part with what was ordered for it.
struct Lot {
    record: Record,
    call_outs: Vec<CallOut>,
}

impl Book {
    /// The tables of the plans the call-outs name. A plan that is not known here has none, which is a gap.
    pub(super) fn sampling_for(
        &self,
        turn: &Turn<'_>,
        call_outs: &[&CallOut],
    ) -> Result<Vec<SamplingTable>, Error> {
        let mut tables: Vec<SamplingTable> = Vec::new();
        let mut lots: Option<Vec<Lot>> = None;
        for call in call_outs {
            let (Some(plan), standard) = (call.sampling, call.standard.as_deref()) else { continue };
            if tables.iter().any(|t| t.is_for(&plan, standard)) {
                continue;
            }
            if let Name::Indexed { .. } = plan {
                let Some(standard) = standard else { continue };
                if lots.is_none() {
                    lots = Some(self.lots_of(turn)?);
                }
                let lots = lots.as_deref().unwrap_or_default();
                tables.push(self.switched(turn, call, &plan, standard, lots)?);
            } else if let Some(own) = self.shop_sampling.plans.iter().find(|own| own.plan == plan) {
                tables.push(SamplingTable { level: plan, aql: None, switched: None, rows: own.rows.clone() });
            } else {
                tables.extend(self.sampling.iter().find(|t| t.level == plan).cloned());
            }
        }
        Ok(tables)
    }

    fn switched(
        &self,
        turn: &Turn<'_>,
        call: &CallOut,
        plan: &Name,
        standard: &str,
        lots: &[Lot],
    ) -> Result<SamplingTable, Error> {
        let own = turn.record.and_then(|record| judge::inspected(record, call));
        let before = |other: &Inspected| match (&own, turn.record) {
            (Some(own), _) => (other.at, &other.lot) < (own.at, &own.lot),
            (None, _) => true,
        };
        let mut history: Vec<Inspected> = Vec::new();
        for lot in lots {
            // Under another plan inspection was another: its results say nothing here.
            let same = lot.call_outs.iter().find(|other| {
                other.sampling.is_some_and(|other| same_rules(&other, plan))
                    && other.standard.as_deref().is_some_and(|other| self.same_standard(other, standard))
            });
            history.extend(same.and_then(|call| judge::inspected(&lot.record, call)).filter(before));
        }
        history.sort_by(|a, b| (a.at, &a.lot).cmp(&(b.at, &b.lot)));
        let events: Vec<&SamplingEvent> = self
            .shop_sampling
            .events
            .iter()
            .filter(|e| e.purchaser == turn.purchaser && e.part == turn.part)
            .filter(|e| e.standard.as_deref().is_none_or(|named| self.same_standard(named, standard)))
            .collect();
        let day = own.map(|own| own.at).as_ref().map_or(turn.day, Moment::date);
        judge::switched(&self.indexed_sampling, plan, standard, &history, &events, day).map_err(|error| {
            Error::cannot(
                format!("sampling `{plan}` of {standard}: {error}"),
                "write another plan into the call-out, as agreed with the purchaser",
            )
        })
    }

    /// Whether two designations mean one standard, whatever the edition.
    fn same_standard(&self, a: &str, b: &str) -> bool {
        let pack = |named: &str| {
            let is = |p: &&crate::pack::Pack| p.is_designated(named) || p.edition_named(named).is_some();
            self.packs.iter().find(is).map(|p| p.pack.as_str())
        };
        a == b || (pack(a).is_some() && pack(a) == pack(b))
    }

    /// Every other lot of the purchaser's part: as certified last, else as it stands in `lots/`.
    fn lots_of(&self, turn: &Turn<'_>) -> Result<Vec<Lot>, Error> {
        let own = turn.record.map(|r| r.lot.as_str());
        let mut lots: BTreeMap<String, Lot> = self.certified(turn)?;
        for record in self.all_records() {
            if lots.contains_key(&record.lot) {
                continue;
            }
            let Some(order) = self.orders.iter().find(|o| o.document.order == record.order.number) else {
                continue;
            };
            let order = &order.document;
            let line = order.lines.iter().find(|l| l.line == record.order.line && l.part == turn.part);
            let Some(line) = line.filter(|_| order.purchaser == turn.purchaser) else { continue };
            let part = self.parts.iter().map(|p| &p.document).find(|p| {
                p.part == line.part && p.revision == line.revision && p.purchaser == order.purchaser
            });
            let ordered = part.iter().flat_map(|p| &p.calls_for).chain(&line.also_calls_for);
            let lot = Lot { record: record.clone(), call_outs: ordered.cloned().collect() };
            lots.insert(record.lot.clone(), lot);
        }
        lots.retain(|lot, _| Some(lot.as_str()) != own);
        Ok(lots.into_values().collect())
    }

    /// The certified lots of the part, from the register; none where there is no register yet.
    fn certified(&self, turn: &Turn<'_>) -> Result<BTreeMap<String, Lot>, Error> {
        let mut lots = BTreeMap::new();
        if !self.folder.has(files::REGISTER) {
            return Ok(lots);
        }
        let register = open_register(&self.folder)?;
        let term = Term { facet: Some(Facet::Part), text: turn.part.to_owned(), exact: true };
        let query = Query { terms: vec![term], limit: u32::MAX, ..Query::default() };
        // The latest first: what a later certificate says of a lot stands.
        for found in register.find(&query)?.iter().filter(|found| !found.legacy) {
            let Some(stored) = register.certificate(&found.number)? else { continue };
            // Another release's form cannot be read; its lots are looked up in `lots/`.
            let Ok(certificate) = serde_json::from_slice::<Certificate>(&stored.data) else { continue };
            let kept = withheld::kept(&stored)?;
            for lot in &certificate.lots {
                let Some(dossier) = withheld::dossier_of(lot, kept.as_ref())? else { continue };
                let theirs = dossier.order.purchaser == turn.purchaser && dossier.part.part == turn.part;
                if !theirs || lots.contains_key(&lot.lot) {
                    continue;
                }
                let lines = dossier.order.lines.iter().flat_map(|l| &l.also_calls_for);
                let call_outs = dossier.part.calls_for.iter().chain(lines).cloned().collect();
                let record = judge::whole(&dossier).into_owned().record;
                lots.insert(lot.lot.clone(), Lot { record, call_outs });
            }
        }
        Ok(lots)
    }
}

/// Whether two plans have one history: one standard, level and quality level, however inspection begins.
fn same_rules(a: &Name, b: &Name) -> bool {
    match (a, b) {
        (Name::Indexed { standard: s, level: l, aql: q, .. }, Name::Indexed { standard, level, aql, .. }) => {
            (s, l, q) == (standard, level, aql)
        }
        _ => a == b,
    }
}
