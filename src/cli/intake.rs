//! Verbs that bring the shop's papers in.

use std::path::PathBuf;

use clap::Args;

use crate::record::TestKind;

fn test_kind(text: &str) -> Result<TestKind, String> {
    let all: Vec<&str> = TestKind::ALL.iter().map(|kind| kind.name()).collect();
    let found = TestKind::ALL.iter().find(|kind| kind.name().eq_ignore_ascii_case(text.trim()));
    found.copied().ok_or_else(|| format!("one of: {}", all.join(", ")))
}

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

/// Which order line is planned, and what is known of the lot.
#[derive(Debug, Args)]
pub struct Planned {
    /// The purchase order
    #[arg(long)]
    pub order: String,
    /// Its line
    #[arg(long)]
    pub line: String,
    /// The part number, to be sure that it is the one the line names
    #[arg(long)]
    pub part: Option<String>,
    /// The grade, as the drawing names it; left out, what depends on it is told as open
    #[arg(long)]
    pub grade: Option<String>,
    /// Pieces of the lot; left out, those ordered
    #[arg(long, value_name = "PIECES")]
    pub quantity: Option<u64>,
    /// The treatment the shop runs, where the order leaves the choice to it
    #[arg(long, value_name = "NAME")]
    pub treatment: Option<String>,
    /// A test the shop makes, where the order leaves the choice to it
    #[arg(long = "test", value_name = "NAME", value_parser = test_kind)]
    pub tests: Vec<TestKind>,
}

/// Arguments of `blank`.
#[derive(Debug, Args)]
pub struct Blank {
    /// The new lot
    pub lot: String,
    /// The order line, and what is known of the lot.
    #[command(flatten)]
    pub planned: Planned,
    /// Write it to lots/ in the shop folder; left out, it is only shown
    #[arg(long)]
    pub write: bool,
}

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct Plan {
    /// The order line, and what is known of the lot.
    #[command(flatten)]
    pub planned: Planned,
    /// The new lot: names the files, and a blank record is written as well
    #[arg(long)]
    pub lot: Option<String>,
    /// Write the traveler to this folder, a PDF to fill in by hand; with --lot also its blank record
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
}
