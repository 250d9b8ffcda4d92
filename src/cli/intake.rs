//! Verbs that bring the shop's papers in.

use std::path::PathBuf;

use clap::Args;

/// Arguments of `intake`.
#[derive(Debug, Args)]
pub struct Intake {
    /// The sheet, CSV or XLSX
    pub file: PathBuf,
    /// Write what is new; left out, it is only shown
    #[arg(long)]
    pub write: bool,
    /// Which sheet of sheets.yaml it is; left out, the one whose headings it has
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
}

/// Arguments of `blank`.
#[derive(Debug, Args)]
pub struct Blank {
    /// The new lot
    pub lot: String,
    /// Its purchase order
    #[arg(long)]
    pub order: String,
    /// The order's line
    #[arg(long)]
    pub line: String,
    /// The part number, to be sure that it is the one the line names
    #[arg(long)]
    pub part: Option<String>,
    /// Write it to lots/ in the shop folder; left out, it is only shown
    #[arg(long)]
    pub write: bool,
}
