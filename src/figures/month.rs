//! Certificates of some days, purchaser by purchaser.

use std::collections::BTreeMap;

/// What happened to a certificate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventKind {
    /// A first certificate was issued.
    Issued,
    /// An amendment was issued, in another's place.
    Amended,
    /// One was withdrawn.
    Withdrawn,
}

/// One event of the register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// Purchaser's name.
    pub purchaser: String,
    /// Pieces on the certificate.
    pub pieces: u64,
    /// Whether the certificate stands now.
    pub stands: bool,
}

/// One purchaser's row.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MonthRow {
    /// Purchaser's name.
    pub purchaser: String,
    /// First certificates issued.
    pub issued: u64,
    /// Pieces on them.
    pub pieces: u64,
    /// Amendments issued; their pieces were counted with the first certificate.
    pub amended: u64,
    /// Certificates withdrawn, whenever they were issued.
    pub withdrawn: u64,
    /// Of the certificates and amendments issued, those that stand now.
    pub stand: u64,
    /// Pieces on those.
    pub standing_pieces: u64,
}

/// Rows by purchaser, in the order of their names, and the sum of all.
pub fn month_rows(events: &[Event]) -> (Vec<MonthRow>, MonthRow) {
    let mut rows: BTreeMap<&str, MonthRow> = BTreeMap::new();
    let mut all = MonthRow { purchaser: "all".to_owned(), ..MonthRow::default() };
    for event in events {
        let own = rows.entry(&event.purchaser).or_default();
        for row in [own, &mut all] {
            let add = |sum: &mut u64, more: u64| *sum = sum.saturating_add(more);
            match event.kind {
                EventKind::Issued => {
                    add(&mut row.issued, 1);
                    add(&mut row.pieces, event.pieces);
                }
                EventKind::Amended => add(&mut row.amended, 1),
                EventKind::Withdrawn => add(&mut row.withdrawn, 1),
            }
            if event.stands && event.kind != EventKind::Withdrawn {
                add(&mut row.stand, 1);
                add(&mut row.standing_pieces, event.pieces);
            }
        }
    }
    let rows = rows.into_iter().map(|(name, row)| MonthRow { purchaser: name.to_owned(), ..row });
    (rows.collect(), all)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(kind: EventKind, purchaser: &str, pieces: u64, stands: bool) -> Event {
        Event { kind, purchaser: purchaser.to_owned(), pieces, stands }
    }

    /// Worked by hand: B issued 100 pieces, amended to 90, withdrawn is A's 40: pieces issued 140 and not 230, pieces
    /// that stand 90.
    #[test]
    fn an_amendment_is_not_counted_twice() {
        let (rows, all) = month_rows(&[
            event(EventKind::Issued, "B", 100, false),
            event(EventKind::Amended, "B", 90, true),
            event(EventKind::Issued, "A", 40, false),
            event(EventKind::Withdrawn, "A", 40, false),
        ]);
        let names: Vec<&str> = rows.iter().map(|r| r.purchaser.as_str()).collect();
        assert_eq!(names, ["A", "B"]);
        assert_eq!((all.issued, all.pieces, all.amended, all.withdrawn), (2, 140, 1, 1));
        assert_eq!((all.stand, all.standing_pieces), (1, 90));
    }
}
