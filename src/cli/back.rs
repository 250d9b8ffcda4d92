//! Words of the verbs that look back: find, affected, delivered, reissue, legacy.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;
use clap::ValueEnum;

use crate::moment::Date;

/// Arguments of `find`. Texts and options narrow each other.
#[derive(Debug, Args)]
pub struct Find {
    /// Texts that must all occur
    #[arg(required_unless_present_any = [
        "order", "lot", "purchaser_lot", "part", "heat", "serial", "slip", "purchaser", "from", "to", "status",
    ])]
    pub texts: Vec<String>,
    /// Whole values only
    #[arg(long)]
    pub exact: bool,
    /// Purchase order
    #[arg(long)]
    pub order: Option<String>,
    /// The shop's lot
    #[arg(long)]
    pub lot: Option<String>,
    /// The purchaser's own lot
    #[arg(long, value_name = "LOT")]
    pub purchaser_lot: Option<String>,
    /// Part number
    #[arg(long)]
    pub part: Option<String>,
    /// Heat
    #[arg(long)]
    pub heat: Option<String>,
    /// Serial number
    #[arg(long)]
    pub serial: Option<String>,
    /// Packing slip
    #[arg(long)]
    pub slip: Option<String>,
    /// Purchaser
    #[arg(long)]
    pub purchaser: Option<String>,
    /// First day of issue
    #[arg(long, value_name = "DATE")]
    pub from: Option<Date>,
    /// Last day of issue
    #[arg(long, value_name = "DATE")]
    pub to: Option<Date>,
    /// How it stands
    #[arg(long)]
    pub status: Option<Stands>,
    /// At most so many
    #[arg(long, default_value_t = 50)]
    pub limit: u32,
}

/// How a certificate stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Stands {
    /// In force
    Current,
    /// Replaced by another
    Amended,
    /// Withdrawn
    Withdrawn,
    /// Older than the register: registered as received, not judged
    Legacy,
}

/// Arguments of `affected`.
#[derive(Debug, Args)]
pub struct Affected {
    /// What proved wrong
    #[command(flatten)]
    pub thing: Named,
    /// First day it was wrong; left out: from the beginning
    #[arg(long, value_name = "DATE")]
    pub from: Option<Date>,
    /// Last day it was wrong; left out: until now
    #[arg(long, value_name = "DATE")]
    pub to: Option<Date>,
    /// Only certificates of one purchaser, by name or id
    #[arg(long)]
    pub purchaser: Option<String>,
    /// Write a worksheet, comma-separated, to a new file
    #[arg(long, value_name = "FILE")]
    pub write: Option<PathBuf>,
}

/// One thing that proved wrong.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub struct Named {
    /// Bath, by its id in baths.yaml
    #[arg(long)]
    pub bath: Option<String>,
    /// Thermometer, meter, gauge or chamber, by its id in instruments.yaml
    #[arg(long, visible_alias = "chamber")]
    pub instrument: Option<String>,
    /// Batch of test solution, by its id in solutions.yaml
    #[arg(long)]
    pub solution: Option<String>,
    /// Somebody who worked, tested, analysed, reviewed or released
    #[arg(long)]
    pub person: Option<String>,
    /// Heat of material
    #[arg(long)]
    pub heat: Option<String>,
    /// Load that shared a tank
    #[arg(long)]
    pub load: Option<String>,
}

/// By which way a certificate goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum How {
    /// Electronic mail
    #[value(name = "e-mail", alias = "email")]
    EMail,
    /// On paper
    Paper,
    /// Put where the purchaser's system takes it from
    Portal,
}

/// Arguments of `delivered`.
#[derive(Debug, Args)]
pub struct Delivered {
    /// Certificate number
    pub number: String,
    /// To whom it went
    #[arg(long)]
    pub to: String,
    /// By which way
    #[arg(long)]
    pub how: How,
    /// Who sent it
    #[arg(long)]
    pub by: String,
    /// On which day; left out: today
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
}

/// Arguments of `reissue`.
#[derive(Debug, Args)]
pub struct Reissue {
    /// Certificate number
    #[arg(required_unless_present = "order", conflicts_with = "order")]
    pub number: Option<String>,
    /// Instead of a number: every certificate of this purchase order that stands
    #[arg(long)]
    pub order: Option<String>,
    /// Who sends it
    #[arg(long)]
    pub by: String,
    /// For whom: a contact on the order
    #[arg(long)]
    pub to: String,
    /// Why
    #[arg(long)]
    pub why: String,
    /// By which way
    #[arg(long)]
    pub how: Option<How>,
    /// Who, entitled to release, approves sending it to somebody who is no contact on the order
    #[arg(long, value_name = "PERSON")]
    pub approved_by: Option<String>,
    /// Folder the copy is written to
    #[arg(long, default_value = ".")]
    pub out: PathBuf,
}

/// Verbs for certificates older than the register.
#[derive(Debug, Subcommand)]
pub enum Legacy {
    /// Register a file as received, not judged
    Add(AddLegacy),
}

/// Arguments of `legacy add`.
#[derive(Debug, Args)]
pub struct AddLegacy {
    /// The certificate, a PDF
    pub file: PathBuf,
    /// Its own number
    #[arg(long)]
    pub number: String,
    /// Purchaser it was made for, by name or id
    #[arg(long)]
    pub purchaser: String,
    /// The day it says it was issued
    #[arg(long, value_name = "DATE")]
    pub issued: Date,
    /// Who takes it in; entitled to release
    #[arg(long)]
    pub by: String,
    /// A lot on it; repeat for more
    #[arg(long = "lot", value_name = "LOT")]
    pub lots: Vec<String>,
    /// A purchase order on it; repeat for more
    #[arg(long = "order", value_name = "ORDER")]
    pub orders: Vec<String>,
    /// A part number on it; repeat for more
    #[arg(long = "part", value_name = "PART")]
    pub parts: Vec<String>,
    /// A heat on it; repeat for more
    #[arg(long = "heat", value_name = "HEAT")]
    pub heats: Vec<String>,
    /// A packing slip on it; repeat for more
    #[arg(long = "slip", value_name = "SLIP")]
    pub slips: Vec<String>,
    /// A serial number on it; repeat for more
    #[arg(long = "serial", value_name = "SERIAL")]
    pub serials: Vec<String>,
    /// A lot of the purchaser's own on it; repeat for more
    #[arg(long = "purchaser-lot", value_name = "LOT")]
    pub purchaser_lots: Vec<String>,
}
