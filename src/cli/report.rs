//! Words of `report`.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::moment::Date;

/// Reports of figures.
#[derive(Debug, Subcommand)]
pub enum Report {
    /// A month: certificates, yield, most frequent gaps, turn-round
    Month {
        /// Which, as in 2026-10
        month: String,
        /// Only one purchaser, by name or id
        #[arg(long)]
        purchaser: Option<String>,
        /// Where the PDF goes
        #[command(flatten)]
        page: Page,
    },
    /// First-pass and final yield, by month and by lot
    Yield(Over),
    /// Gaps by requirement, the most frequent first
    Gaps(Over),
    /// A bath's strength and temperature over time, against the limits lots were judged by
    Bath {
        /// Its id in baths.yaml
        bath: String,
        /// First day
        #[arg(long, value_name = "DATE")]
        from: Option<Date>,
        /// Last day
        #[arg(long, value_name = "DATE")]
        to: Option<Date>,
        /// Where the PDF goes
        #[command(flatten)]
        page: Page,
    },
    /// Days from a lot's arrival to its first certificate
    TurnRound(Over),
}

/// Which days, and whose lots.
#[derive(Debug, Args)]
pub struct Over {
    /// First day
    #[arg(long, value_name = "DATE")]
    pub from: Option<Date>,
    /// Last day
    #[arg(long, value_name = "DATE")]
    pub to: Option<Date>,
    /// Only one purchaser, by name or id
    #[arg(long)]
    pub purchaser: Option<String>,
    /// Where the PDF goes
    #[command(flatten)]
    pub page: Page,
}

/// The report as a file.
#[derive(Debug, Args)]
pub struct Page {
    /// Write the report as a PDF, with charts, to a new file
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
}
