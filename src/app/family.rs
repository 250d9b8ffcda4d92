//! Finding the lots a lot was made from and those that were made from them: as rows without anything of their
//! orders, because a certificate shows no other purchaser's papers.

use std::collections::BTreeSet;

use crate::app::book::Book;
use crate::order::Order;
use crate::record::Record;
use crate::record::Relative;

/// What the book knows of a lot's family.
#[derive(Default)]
pub(super) struct Family {
    /// Rows for the judge.
    pub(super) rows: Vec<Relative>,
    /// Accepted pieces of the lots it descends from, as they stand now.
    pub(super) accepted: Vec<(String, u64)>,
}

impl Book {
    /// Every record that can be read. One that cannot took no pieces that anybody can tell: the pieces its family
    /// misses are a gap.
    pub(super) fn all_records(&self) -> &[Record] {
        self.records.get_or_init(|| {
            let files = self.lot_files().unwrap_or_default();
            let read = files.iter().filter_map(|file| self.lot(file).ok());
            read.map(|read| self.with_reports(read.document)).collect()
        })
    }

    /// The family of a lot. A lot that neither came from others nor gave pieces away has none, and no other
    /// record is read.
    pub(super) fn family(&self, record: &Record, order: &Order) -> Family {
        if record.parents().next().is_none() && record.counts.split_off == 0 {
            return Family::default();
        }
        let all = self.all_records();
        let mut forebears: BTreeSet<&str> = BTreeSet::new();
        let mut open: Vec<&str> = record.parents().map(|p| p.lot.as_str()).collect();
        while let Some(lot) = open.pop() {
            if forebears.insert(lot) {
                let rows = all.iter().filter(|r| r.lot == lot);
                open.extend(rows.flat_map(Record::parents).map(|p| p.lot.as_str()));
            }
        }
        let of_family = |other: &Record| {
            other.parents().any(|p| p.lot == record.lot || forebears.contains(p.lot.as_str()))
        };
        let mut family = Family::default();
        for other in all.iter().filter(|r| r.lot != record.lot) {
            let forebear = forebears.contains(other.lot.as_str());
            if !forebear && !of_family(other) {
                continue;
            }
            let same = self.same_part(record, order, other);
            if forebear {
                family.accepted.push((other.lot.clone(), other.counts.accepted));
            }
            family.rows.push(match (same, forebear) {
                (false, _) => Relative::stranger(&other.lot),
                (true, true) => Relative::forebear(other),
                (true, false) => Relative::child(other),
            });
        }
        family
    }

    /// Whether another lot is of the same purchaser, part and revision; not when its order cannot be found.
    fn same_part(&self, record: &Record, order: &Order, other: &Record) -> bool {
        let line = |order: &Order, record: &Record| {
            let line = order.lines.iter().find(|l| l.line == record.order.line)?;
            Some((order.purchaser.clone(), line.part.clone(), line.revision.clone()))
        };
        let ours = line(order, record);
        let theirs = self.orders.iter().find(|o| o.document.order == other.order.number);
        ours.is_some() && ours == theirs.and_then(|o| line(&o.document, other))
    }
}
