//! Words of the register as a log that others check.

use std::path::PathBuf;

use clap::Args;

/// Arguments of `register consistency`.
#[derive(Debug, Args)]
pub struct GrewFrom {
    /// How many entries the head seen before had
    pub from: u64,
    /// How many the later head has; left out: the newest
    pub to: Option<u64>,
    /// A new file for it; left out: standard output
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// Arguments of `register tiles`.
#[derive(Debug, Args)]
pub struct Tiles {
    /// The folder that is published; made when it is not there
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
}

/// Arguments of `register export`.
#[derive(Debug, Args)]
pub struct Export {
    /// A new folder
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    /// Certificate numbers; none: every certificate. Entries are always written, all of them
    pub numbers: Vec<String>,
}

/// Arguments of `register credential`.
#[derive(Debug, Args)]
pub struct Credential {
    /// Certificate number
    pub number: String,
    /// A new file
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
}

/// What `verify` is given of the log, without a register or beside it.
#[derive(Debug, Args)]
#[command(next_help_heading = "Register's log")]
pub struct LogGiven {
    /// The proof that came with the certificate; left out, and without --register: the one beside it, if there is one
    #[arg(long, value_name = "FILE", conflicts_with = "number")]
    pub proof: Option<PathBuf>,
    /// The register's verifier key or a file of keys, as the shop told it; left out: the key the certificate names
    #[arg(long, value_name = "KEY", conflicts_with = "number")]
    pub checkpoint_key: Vec<String>,
    /// File with handovers of the register's key and of the root, as `keys handovers` prints them: from a key or root you
    /// know to others of the same shop
    #[arg(long, value_name = "FILE", conflicts_with = "number")]
    pub handovers: Option<PathBuf>,
    /// A witness's verifier key or a file of keys: each must have cosigned the proof's head
    #[arg(long, value_name = "KEY", conflicts_with = "number")]
    pub witness_key: Vec<String>,
    /// Folder with the newest head seen of each register: heads must agree with it, and later ones take its place
    #[arg(long, value_name = "FOLDER", conflicts_with = "number")]
    pub remember: Option<PathBuf>,
    /// The proof that the register grew from one head to another, by `register consistency`; repeat for more
    #[arg(long, value_name = "FILE", conflicts_with = "number")]
    pub consistency: Vec<PathBuf>,
}
