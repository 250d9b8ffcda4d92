//! Reports of looking back: what rests on a thing, whom to tell. Text for people, own structs for machines.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde::Serialize;

use crate::app::affected::Affected;
use crate::app::affected::days;
use crate::app::affected::when;
use crate::app::holders::Holder;
use crate::app::holders::Holders;
use crate::app::holders::words;
use crate::certificate::ChangedValue;
use crate::register::Status;
use crate::report::json::FoundReport;
use crate::report::json::VERSION;
use crate::report::json::found;

/// Everything `affected` found, ready to act on.
pub fn affected_words(all: &Affected) -> String {
    let what = format!("{} {}, used {}", all.asked.thing.name(), all.asked.name.trim(), days(&all.asked));
    let mut text = match all.rows.len() {
        0 => format!("no certificate rests on {what}\n"),
        1 => format!("1 certificate rests on {what}\n"),
        many => format!("{many} certificates rest on {what}\n"),
    };
    for row in &all.rows {
        let _ = writeln!(
            text,
            "\n{}  {}  issued {}  for {}\n    order {}  part {}",
            row.number,
            row.status,
            row.issued,
            row.purchaser,
            row.orders.join(", "),
            row.parts.join(", ")
        );
        for lot in &row.lots {
            let _ = writeln!(text, "    lot {}, {}", lot.lot, pieces(lot.pieces));
            for one in &lot.uses {
                let _ = writeln!(text, "        {}  {}", when(one), one.how);
            }
        }
        for line in tell(&row.told).lines() {
            let _ = writeln!(text, "    {line}");
        }
        for command in &row.commands {
            let _ = writeln!(text, "    $ {command}");
        }
    }
    if !all.legacy.is_empty() {
        let numbers: Vec<&str> = all.legacy.iter().map(|f| f.number.as_str()).take(20).collect();
        let more = all.legacy.len().saturating_sub(numbers.len());
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let _ = writeln!(
            text,
            "\nnot known of {} legacy: what they rest on was never recorded here; look at their papers\n    {}{more}",
            all.legacy.len(),
            numbers.join(", ")
        );
    }
    if !all.rows.is_empty() {
        text.push('\n');
        text.push_str(&totals(all));
    }
    text.trim_end().to_owned()
}

fn totals(all: &Affected) -> String {
    let stand = all.rows.iter().filter(|row| row.status == Status::Current);
    let (mut certificates, mut count) = (0_u64, 0_u64);
    for row in stand {
        certificates = certificates.saturating_add(1);
        count = row.lots.iter().fold(count, |sum, lot| sum.saturating_add(lot.pieces));
    }
    let purchasers: BTreeSet<&str> = all.rows.iter().map(|row| row.purchaser.as_str()).collect();
    let in_force = match certificates {
        1 => "1 certificate in force".to_owned(),
        many => format!("{many} certificates in force"),
    };
    let mut text = format!("{} on {in_force}", pieces(count));
    if purchasers.len() > 1 {
        let _ = write!(
            text,
            "; {} purchasers: for the shop's eyes only, `--purchaser` gives each its own list",
            purchasers.len()
        );
    }
    text
}

fn pieces(count: u64) -> String {
    if count == 1 { "1 piece".to_owned() } else { format!("{count} pieces") }
}

/// Whom to tell, one a line; what keeps the list from being whole.
pub fn tell(told: &Holders) -> String {
    let mut text = String::new();
    for holder in &told.holders {
        let _ = writeln!(text, "tell {}", words(holder));
    }
    if told.holders.is_empty() {
        let _ = writeln!(text, "nobody is on record as holding it: tell {}", told.purchaser);
    }
    for gap in &told.gaps {
        let _ = writeln!(text, "not known: {gap}");
    }
    text.trim_end().to_owned()
}

/// Somebody to tell.
#[derive(Debug, Serialize)]
pub struct HolderReport {
    /// Whom.
    pub name: String,
    /// By which ways.
    pub ways: Vec<String>,
    /// Why.
    pub because: Vec<String>,
}

fn holder(holder: &Holder) -> HolderReport {
    HolderReport { name: holder.name.clone(), ways: holder.ways.clone(), because: holder.because.clone() }
}

/// Whom to tell of one certificate.
#[derive(Debug, Serialize)]
pub struct TellReport {
    /// Purchaser.
    pub purchaser: String,
    /// Whom.
    pub holders: Vec<HolderReport>,
    /// What keeps the list from being whole.
    pub not_known: Vec<String>,
}

fn tell_report(told: &Holders) -> TellReport {
    TellReport {
        purchaser: told.purchaser.clone(),
        holders: told.holders.iter().map(holder).collect(),
        not_known: told.gaps.clone(),
    }
}

/// `affected --format json`.
#[derive(Debug, Serialize)]
pub struct AffectedReport {
    /// Version of this form.
    pub version: u64,
    /// Kind of thing: `bath`, `instrument` and the like.
    pub thing: String,
    /// Which.
    pub name: String,
    /// First day asked.
    pub from: Option<String>,
    /// Last day asked.
    pub to: Option<String>,
    /// Certificates, the latest first.
    pub certificates: Vec<AffectedCertificate>,
    /// Legacy certificates: what they rest on is not known.
    pub not_known: Vec<FoundReport>,
}

/// One certificate that rests on it.
#[derive(Debug, Serialize)]
pub struct AffectedCertificate {
    /// Certificate number.
    pub number: String,
    /// Day of issue.
    pub issued: String,
    /// How it stands.
    pub status: String,
    /// Purchaser.
    pub purchaser: String,
    /// Purchase orders.
    pub orders: Vec<String>,
    /// Parts.
    pub parts: Vec<String>,
    /// Lots that used it.
    pub lots: Vec<AffectedLot>,
    /// Whom to tell.
    pub tell: TellReport,
    /// Command lines to act on it; what people decide stands in angle brackets.
    pub commands: Vec<String>,
}

/// One lot that used it.
#[derive(Debug, Serialize)]
pub struct AffectedLot {
    /// The shop's lot.
    pub lot: String,
    /// Pieces certified.
    pub pieces: u64,
    /// Uses.
    pub uses: Vec<UseReport>,
}

/// One use.
#[derive(Debug, Serialize)]
pub struct UseReport {
    /// First day; null when it is not recorded.
    pub first: Option<String>,
    /// Last day.
    pub last: String,
    /// How.
    pub how: String,
}

/// The report of everything found.
pub fn affected(all: &Affected) -> AffectedReport {
    let rows = all.rows.iter().map(|row| AffectedCertificate {
        number: row.number.clone(),
        issued: row.issued.clone(),
        status: row.status.to_string(),
        purchaser: row.purchaser.clone(),
        orders: row.orders.clone(),
        parts: row.parts.clone(),
        lots: row
            .lots
            .iter()
            .map(|lot| AffectedLot {
                lot: lot.lot.clone(),
                pieces: lot.pieces,
                uses: lot
                    .uses
                    .iter()
                    .map(|one| UseReport {
                        first: one.first.map(|day| day.to_string()),
                        last: one.last.to_string(),
                        how: one.how.clone(),
                    })
                    .collect(),
            })
            .collect(),
        tell: tell_report(&row.told),
        commands: row.commands.clone(),
    });
    AffectedReport {
        version: VERSION,
        thing: all.asked.thing.name().to_owned(),
        name: all.asked.name.trim().to_owned(),
        from: all.asked.from.map(|day| day.to_string()),
        to: all.asked.to.map(|day| day.to_string()),
        certificates: rows.collect(),
        not_known: all.legacy.iter().map(found).collect(),
    }
}

/// `delivered --format json`, and one object a certificate of `reissue --format json`.
#[derive(Debug, Serialize)]
pub struct SentReport {
    /// Version of this form.
    pub version: u64,
    /// Certificate number.
    pub number: String,
    /// To whom.
    pub to: String,
    /// How the certificate stands.
    pub status: String,
    /// Where the copy was written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The notice to be sent with it, where it no longer stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notice: Option<String>,
    /// On which day it went.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// Whether the receiver is a contact on the order.
    pub contact: bool,
}

/// The report of a certificate that went to somebody.
pub fn sent(
    number: &str,
    to: &str,
    status: &Status,
    file: Option<String>,
    on: Option<String>,
    contact: bool,
) -> SentReport {
    let (number, to) = (number.to_owned(), to.to_owned());
    SentReport { version: VERSION, number, to, status: status.to_string(), file, notice: None, on, contact }
}

/// `withdraw --format json` and `amend --format json`.
#[derive(Debug, Serialize)]
pub struct EndedReport {
    /// Version of this form.
    pub version: u64,
    /// The certificate that no longer stands.
    pub number: String,
    /// The one that replaces it.
    pub replaced_by: Option<String>,
    /// What changed.
    pub changed: Vec<ChangedValue>,
    /// Whom to tell; empty after a clerical amendment.
    pub tell: TellReport,
}

/// The report of a certificate that no longer stands.
pub fn ended(number: &str, by: Option<&str>, changed: &[ChangedValue], told: &Holders) -> EndedReport {
    EndedReport {
        version: VERSION,
        number: number.to_owned(),
        replaced_by: by.map(str::to_owned),
        changed: changed.to_vec(),
        tell: tell_report(told),
    }
}

/// `legacy add --format json`.
#[derive(Debug, Serialize)]
pub struct LegacyReport {
    /// Version of this form.
    pub version: u64,
    /// Its number.
    pub number: String,
    /// How it stands.
    pub status: String,
    /// SHA-256 of its file.
    pub file_sha256: String,
}

/// The report of a legacy certificate taken in.
pub fn legacy(number: &str, digest: &str) -> LegacyReport {
    LegacyReport {
        version: VERSION,
        number: number.to_owned(),
        status: Status::Legacy.to_string(),
        file_sha256: digest.to_owned(),
    }
}
