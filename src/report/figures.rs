//! From figures to sheets: what a quality manager is asked for, with what each figure is and what is not in it.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::app::book::Book;
use crate::app::figures::BathReadings;
use crate::app::figures::Lots;
use crate::app::figures::Month;
use crate::app::figures::Scope;
use crate::app::world::World;
use crate::figures::Limit;
use crate::figures::Lot;
use crate::figures::MonthRow;
use crate::figures::ParetoRow;
use crate::figures::Passage;
use crate::figures::Series;
use crate::figures::Share;
use crate::figures::TurnRound;
use crate::figures::Yield;
use crate::figures::month_rows;
use crate::figures::pareto;
use crate::figures::total_yield;
use crate::figures::turn_round;
use crate::pdf::Bar;
use crate::pdf::Chart;
use crate::pdf::Reading;
use crate::report::sheet::Column;
use crate::report::sheet::Section;
use crate::report::sheet::Sheet;
use crate::report::sheet::Table;
use crate::report::sheet::numbers;
use crate::report::sheet::words;

/// Rows of a Pareto chart; the table holds all.
const MOST_BARS: usize = 25;
/// Gaps a month's report names.
const MONTH_GAPS: usize = 5;
const FIGURES: &[Column] = &[words("figure", "Figure", 5), words("value", "Value", 5)];

const SHOPS_OWN: &str = "For the shop's own eyes: it names several purchasers. --purchaser keeps to one.";
const YIELD_IS: &str = "First-pass yield: pieces accepted on their first treatment, of pieces treated (accepted less \
    treated again: the least it can be, since a record does not say which piece was refused). Final yield: pieces \
    accepted, of pieces treated. Pieces used up by tests count as treated and not as accepted; a lot with gaps has no \
    accepted pieces, even when a part of it could be certified. A lot conformed at first when its first check on \
    record saw no gap, nothing of it was treated again, and no gap stands now.";
const GAPS_ARE: &str = "A gap is counted once for each lot and part of it, whether a check saw it once or often, and \
    stays counted when it is mended; `open` are those that stand now. Most gaps of a first check are things not yet \
    written down: check lots when they are finished.";
const TURN_ROUND_IS: &str = "Turn-round: days from the day a lot was received, as its record says, to the day on its \
    first certificate. Amendments do not count. A lot on two certificates counts for each.";
const DAYS_ARE: &str = "Lots are of the day their last treatment step ended, issues and amendments of the day on the \
    certificate; withdrawals, copies and deliveries of the day, in UTC, the register took them in.";

fn head(book: &Book, scope: &Scope, world: &World) -> Vec<String> {
    let days = match (scope.days.from, scope.days.to) {
        (None, None) => "all days".to_owned(),
        (Some(from), None) => format!("from {from} on"),
        (None, Some(to)) => format!("up to {to}"),
        (Some(from), Some(to)) => format!("{from} to {to}"),
    };
    let whose = scope.purchaser.as_ref().map(|p| format!(", for {p} only")).unwrap_or_default();
    let mut under = vec![format!("{}, {days}{whose}; made {}", book.shop.name, world.printed())];
    under.extend(book.shop.demo.clone());
    under
}

fn percent(share: Share) -> String {
    match share.percent() {
        Some(percent) => format!("{percent} % ({} of {})", share.part, share.whole),
        None => "none treated".to_owned(),
    }
}

fn short(share: Share) -> String {
    share.percent().map_or_else(|| "–".to_owned(), |percent| format!("{percent} %"))
}

fn bar(label: impl Into<String>, value: impl Into<Decimal>, said: impl Into<String>) -> Bar {
    Bar { label: label.into(), value: value.into(), said: said.into() }
}

fn figures(name: &'static str, pairs: Vec<(&str, String)>) -> Section {
    let rows = pairs.into_iter().map(|(figure, value)| vec![figure.to_owned(), value]).collect();
    Section::Table(Table { name, columns: FIGURES, rows })
}

/// What is in no figure, in words; at most ten names of each kind.
fn left_out(all: &Lots) -> Vec<String> {
    let list = |names: &[String]| {
        let more = names.len().saturating_sub(10);
        let more = if more > 0 { format!("; and {more} more") } else { String::new() };
        format!("{}{more}", names.iter().take(10).cloned().collect::<Vec<_>>().join("; "))
    };
    let mut notes = Vec::new();
    if !all.undated.is_empty() {
        notes.push(format!(
            "Not in these figures, because no treatment step names a day: {}.",
            list(&all.undated)
        ));
    }
    if !all.unread.is_empty() {
        notes.push(format!("Not in these figures, because they cannot be judged: {}.", list(&all.unread)));
    }
    if !all.journals.is_empty() {
        notes.push(format!("Check journals that do not hold: {}.", list(&all.journals)));
    }
    let idle = all.lots.iter().filter(|lot| lot.treated == 0).count();
    if idle > 0 {
        notes.push(format!("{idle} lots have no treated pieces and count as lots only."));
    }
    notes
}

fn yield_figures(all: &Yield) -> Section {
    figures(
        "yield",
        vec![
            ("First-pass yield", percent(all.first_pass)),
            ("Final yield", percent(all.final_pass)),
            ("Lots that conformed at first", percent(all.lots_at_first)),
            ("Lots that conform now", percent(all.lots_now)),
            ("Pieces treated again", all.again.to_string()),
            ("Pieces used up by tests", all.used_up.to_string()),
            ("Pieces in lots with gaps", all.held.to_string()),
        ],
    )
}

const LOTS: &[Column] = &[
    words("lot", "Lot", 12),
    words("day", "Treated", 11),
    words("purchaser", "Purchaser", 20),
    numbers("treated", "Pieces", 8),
    numbers("again", "Again", 7),
    numbers("used_up", "Used up", 8),
    numbers("accepted", "Accepted", 9),
    numbers("first_pass", "At first", 9),
    words("conforms", "Conforms", 14),
];

fn lot_row(lot: &Lot) -> Vec<String> {
    let conforms = match lot.first_check {
        _ if !lot.conforms() => "no",
        None => "yes; first unknown",
        Some(_) if lot.at_first() => "at first",
        Some(_) => "later",
    };
    vec![
        lot.lot.clone(),
        lot.day.map(|day| day.to_string()).unwrap_or_default(),
        lot.purchaser.clone(),
        lot.treated.to_string(),
        lot.again.to_string(),
        lot.used_up.to_string(),
        lot.accepted.to_string(),
        lot.first_pass().to_string(),
        conforms.to_owned(),
    ]
}

/// Yields month by month.
fn by_month(lots: &[Lot]) -> Vec<(String, Yield)> {
    let mut months: BTreeMap<String, Vec<&Lot>> = BTreeMap::new();
    for lot in lots {
        if let Some(month) = lot.day.and_then(|day| day.to_string().get(..7).map(str::to_owned)) {
            months.entry(month).or_default().push(lot);
        }
    }
    months.into_iter().map(|(month, lots)| (month, total_yield(lots))).collect()
}

const MONTHS: &[Column] = &[
    words("month", "Month", 3),
    words("first_pass", "First-pass yield", 5),
    words("final", "Final yield", 5),
    words("lots_at_first", "Lots at first", 5),
];

/// `report yield`.
pub fn yields(book: &Book, scope: &Scope, world: &World, all: &Lots) -> Sheet {
    let months = by_month(&all.lots);
    let rows = months.iter().map(|(month, y)| {
        vec![month.clone(), percent(y.first_pass), percent(y.final_pass), percent(y.lots_at_first)]
    });
    let bars = months.iter().map(|(month, y)| {
        let value = y.first_pass.percent().unwrap_or_default();
        bar(month, value, percent(y.first_pass))
    });
    let mut notes = vec![YIELD_IS.to_owned(), DAYS_ARE.to_owned()];
    notes.extend(left_out(all));
    Sheet {
        kind: "yield",
        title: "Yield".to_owned(),
        under: head(book, scope, world),
        sections: vec![
            Section::Heading("All lots".to_owned()),
            yield_figures(&total_yield(&all.lots)),
            Section::Heading("By month".to_owned()),
            Section::Table(Table { name: "months", columns: MONTHS, rows: rows.collect() }),
            Section::Chart(Chart::Bars {
                title: "First-pass yield by month, per cent of pieces treated".to_owned(),
                bars: bars.collect(),
            }),
            Section::Heading("By lot".to_owned()),
            Section::Table(Table {
                name: "lots",
                columns: LOTS,
                rows: all.lots.iter().map(lot_row).collect(),
            }),
        ],
        notes: with_eyes(scope, notes),
        main: "lots",
    }
}

fn with_eyes(scope: &Scope, mut notes: Vec<String>) -> Vec<String> {
    if scope.purchaser.is_none() {
        notes.insert(0, SHOPS_OWN.to_owned());
    }
    notes
}

const GAPS: &[Column] = &[
    words("requirement", "Requirement", 30),
    words("subject", "Subject", 28),
    numbers("gaps", "Gaps", 6),
    numbers("lots", "Lots", 6),
    numbers("open", "Open", 6),
    numbers("share", "Share", 9),
    numbers("cumulative", "Sum", 9),
];

fn gap_row(row: &ParetoRow) -> Vec<String> {
    vec![
        row.requirement.clone(),
        row.subject.clone(),
        row.gaps.to_string(),
        row.lots.to_string(),
        row.open.to_string(),
        short(row.share),
        short(row.cumulative),
    ]
}

fn gap_bars(rows: &[ParetoRow], most: usize) -> Vec<Bar> {
    let shown = rows.iter().take(most);
    let name = |row: &ParetoRow| match row.subject.split("; ").next() {
        Some(subject) if !subject.is_empty() => subject.to_owned(),
        _ => row.requirement.clone(),
    };
    shown
        .map(|r| bar(name(r), r.gaps, format!("{} ({} open), sum {}", r.gaps, r.open, short(r.cumulative))))
        .collect()
}

/// `report gaps`.
pub fn gaps(book: &Book, scope: &Scope, world: &World, all: &Lots) -> Sheet {
    let rows = pareto(&all.lots);
    let mut notes = vec![GAPS_ARE.to_owned(), DAYS_ARE.to_owned()];
    notes.extend(left_out(all));
    let title = match rows.len() > MOST_BARS {
        true => format!("The {MOST_BARS} most frequent gaps"),
        false => "Gaps by requirement".to_owned(),
    };
    let sum = rows.iter().fold(0_u64, |sum, row| sum.saturating_add(row.gaps));
    Sheet {
        kind: "gaps",
        title: "Gaps".to_owned(),
        under: head(book, scope, world),
        sections: vec![
            Section::Heading(format!("{sum} gaps in {} lots", all.lots.len())),
            Section::Chart(Chart::Bars { title, bars: gap_bars(&rows, MOST_BARS) }),
            Section::Table(Table { name: "gaps", columns: GAPS, rows: rows.iter().map(gap_row).collect() }),
        ],
        notes: with_eyes(scope, notes),
        main: "gaps",
    }
}

const PASSAGES: &[Column] = &[
    words("lot", "Lot", 14),
    words("certificate", "Certificate", 18),
    words("purchaser", "Purchaser", 24),
    words("received", "Received", 13),
    words("issued", "Issued", 13),
    numbers("days", "Days", 12),
];

fn passage_row(passage: &Passage) -> Vec<String> {
    let days = match passage.days() {
        Some(days) => days.to_string(),
        None if passage.impossible() => "impossible".to_owned(),
        None => "unknown".to_owned(),
    };
    vec![
        passage.lot.clone(),
        passage.number.clone(),
        passage.purchaser.clone(),
        passage.received.map_or_else(|| "not recorded".to_owned(), |day| day.to_string()),
        passage.issued.to_string(),
        days,
    ]
}

fn turn_figures(all: &TurnRound) -> Section {
    let days = |days: Option<String>| days.map_or_else(|| "unknown".to_owned(), |days| format!("{days} d"));
    figures(
        "turn_round",
        vec![
            ("Median", days(all.median.map(|m| m.normalize().to_string()))),
            ("Shortest", days(all.least.map(|d| d.to_string()))),
            ("Longest", days(all.most.map(|d| d.to_string()))),
            ("Lots counted", all.counted.to_string()),
            ("Lots whose arrival is not recorded", all.without.to_string()),
            ("Lots received after their certificate, which cannot be", all.impossible.to_string()),
        ],
    )
}

/// Bars by days, or by weeks where days would be too many.
fn day_bars(all: &TurnRound) -> Vec<Bar> {
    let said = |n: u64| if n == 1 { "1 lot".to_owned() } else { format!("{n} lots") };
    if all.by_days.len() <= 31 {
        return all.by_days.iter().map(|(day, n)| bar(format!("{day} d"), *n, said(*n))).collect();
    }
    let weeks = all.by_days.chunks(7).map(|week| {
        let ends = week.first().zip(week.last()).map(|(a, b)| format!("{} to {} d", a.0, b.0));
        let sum = week.iter().fold(0_u64, |sum, (_, n)| sum.saturating_add(*n));
        bar(ends.unwrap_or_default(), sum, said(sum))
    });
    weeks.collect()
}

/// `report turn-round`.
pub fn turn_rounds(book: &Book, scope: &Scope, world: &World, passages: &[Passage]) -> Sheet {
    let all = turn_round(passages);
    Sheet {
        kind: "turn-round",
        title: "Turn-round".to_owned(),
        under: head(book, scope, world),
        sections: vec![
            turn_figures(&all),
            Section::Chart(Chart::Bars {
                title: "Lots by days from arrival to certificate".to_owned(),
                bars: day_bars(&all),
            }),
            Section::Heading("By lot".to_owned()),
            Section::Table(Table {
                name: "lots",
                columns: PASSAGES,
                rows: passages.iter().map(passage_row).collect(),
            }),
        ],
        notes: with_eyes(scope, vec![TURN_ROUND_IS.to_owned()]),
        main: "lots",
    }
}

const PURCHASERS: &[Column] = &[
    words("purchaser", "Purchaser", 26),
    numbers("issued", "Issued", 9),
    numbers("pieces", "Pieces", 9),
    numbers("amended", "Amended", 10),
    numbers("withdrawn", "Withdrawn", 11),
    numbers("stand", "Stand now", 11),
    numbers("standing_pieces", "Their pieces", 12),
];

fn month_row(row: &MonthRow) -> Vec<String> {
    let counts = [row.issued, row.pieces, row.amended, row.withdrawn, row.stand, row.standing_pieces];
    std::iter::once(row.purchaser.clone()).chain(counts.iter().map(u64::to_string)).collect()
}

/// `report month`.
pub fn month(
    book: &Book,
    scope: &Scope,
    world: &World,
    name: &str,
    (certificates, lots, passages): (&Month, &Lots, &[Passage]),
) -> Sheet {
    let (rows, sum) = month_rows(&certificates.events);
    let bars = rows.iter().map(|row| {
        bar(&row.purchaser, row.pieces, format!("{} pieces, {} certificates", row.pieces, row.issued))
    });
    let bars = bars.collect();
    let table = rows.iter().chain([&sum]).map(month_row).collect();
    let kinds = pareto(&lots.lots);
    let mut notes = [YIELD_IS, GAPS_ARE, TURN_ROUND_IS, DAYS_ARE].map(str::to_owned).to_vec();
    notes.extend(left_out(lots));
    Sheet {
        kind: "month",
        title: format!("Month {name}"),
        under: head(book, scope, world),
        sections: vec![
            Section::Heading("Certificates".to_owned()),
            Section::Table(Table { name: "certificates", columns: PURCHASERS, rows: table }),
            Section::Chart(Chart::Bars {
                title: "Pieces on certificates issued, by purchaser".to_owned(),
                bars,
            }),
            figures(
                "register",
                vec![
                    ("Copies sent again", certificates.reissued.to_string()),
                    ("Deliveries entered", certificates.delivered.to_string()),
                    ("Older certificates taken in, not judged", certificates.legacy.to_string()),
                ],
            ),
            Section::Heading(format!("Yield of {} lots treated", lots.lots.len())),
            yield_figures(&total_yield(&lots.lots)),
            Section::Heading("Most frequent gaps".to_owned()),
            Section::Table(Table {
                name: "gaps",
                columns: GAPS,
                rows: kinds.iter().take(MONTH_GAPS).map(gap_row).collect(),
            }),
            Section::Heading("Turn-round".to_owned()),
            turn_figures(&turn_round(passages)),
        ],
        notes: with_eyes(scope, notes),
        main: "certificates",
    }
}

const SERIES: &[Column] = &[
    words("what", "What", 20),
    numbers("readings", "Readings", 9),
    words("lowest", "Lowest", 12),
    words("highest", "Highest", 12),
    numbers("outside", "Outside", 9),
    words("limits", "Limits lots were judged by", 32),
];
const READINGS: &[Column] = &[
    words("what", "What", 16),
    words("at", "At", 24),
    words("value", "Read", 12),
    words("whose", "Whose", 24),
    words("verdict", "Judged", 32),
];

fn limit_words(limit: &Limit) -> String {
    match (&limit.low, &limit.high) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        (Some(low), None) => format!("at least {low}"),
        (None, Some(high)) => format!("at most {high}"),
        (None, None) => String::new(),
    }
}

fn times(series: &Series) -> Chart {
    let mut limits: Vec<(String, Decimal)> = Vec::new();
    for limit in series.limits.iter().flat_map(|l| [l.low, l.high]).flatten() {
        let one = (limit.to_string(), limit.value());
        if !limits.contains(&one) {
            limits.push(one);
        }
    }
    let reading = |p: &crate::figures::Point| Reading { at: p.at, value: p.value.value(), marked: p.outside };
    Chart::Times {
        title: format!(
            "{}, {}: {} readings, crosses are outside a limit; dashed: limits lots were judged by",
            series.what,
            series.unit,
            series.points.len()
        ),
        readings: series.points.iter().map(reading).collect(),
        limits,
        // An analysis stands until the next; a dip's temperature speaks for that dip alone.
        joined: series.what != "bath temperature",
    }
}

/// `report bath`.
pub fn bath(book: &Book, scope: &Scope, world: &World, name: &str, found: &BathReadings) -> Sheet {
    let summary = found.series.iter().map(|s| {
        let (low, high) = s.reach().map_or_else(Default::default, |(l, h)| (l.to_string(), h.to_string()));
        let limits: Vec<String> = s.limits.iter().map(limit_words).collect();
        let limits = if limits.is_empty() { "none".to_owned() } else { limits.join("; ") };
        vec![s.what.clone(), s.points.len().to_string(), low, high, s.outside().to_string(), limits]
    });
    let rows = found.series.iter().flat_map(|s| {
        s.points.iter().map(|p| {
            vec![s.what.clone(), p.at.to_string(), p.value.to_string(), p.whose.clone(), p.verdict.clone()]
        })
    });
    let mut sections = vec![
        Section::Heading(found.what.clone()),
        Section::Table(Table { name: "series", columns: SERIES, rows: summary.collect() }),
    ];
    sections.extend(found.series.iter().map(|s| Section::Chart(times(s))));
    sections.push(Section::Heading("Readings".to_owned()));
    sections.push(Section::Table(Table { name: "readings", columns: READINGS, rows: rows.collect() }));
    let mut notes = vec![
        "For the shop's own eyes: it names lots of several purchasers.".to_owned(),
        "Readings stand in the unit they were read in, never converted. A limit is drawn where a lot in these days \
         was judged by it; a run that was treated again is not judged. An analysis is outside when the judge found \
         it so for a run that rests on it."
            .to_owned(),
    ];
    if found.unread_dips > 0 {
        notes.push(format!("{} dips have no temperature on record.", found.unread_dips));
    }
    if found.undated > 0 {
        notes.push(format!("{} temperatures are of dips that name no time: in no row.", found.undated));
    }
    notes.extend(found.unread.iter().take(10).map(|why| format!("Not read: {why}.")));
    Sheet {
        kind: "bath",
        title: format!("Bath {name}"),
        under: head(book, scope, world),
        sections,
        notes,
        main: "readings",
    }
}
