//! Words of the verbs that release in two steps: prepare, queue, release; and of people's passphrases.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use super::Key;

/// A person's own passphrase.
#[derive(Debug, Args)]
pub struct Own {
    /// File whose first line is the person's own passphrase; left out, it is asked for where the shop wants one
    #[arg(long, value_name = "FILE")]
    pub person_passphrase_file: Option<PathBuf>,
}

/// Arguments of `prepare`.
#[derive(Debug, Args)]
pub struct Prepare {
    /// Lot numbers or record files
    pub lots: Vec<String>,
    /// Packing slips; repeat for more
    #[arg(long = "slip", value_name = "SLIP")]
    pub slips: Vec<String>,
    /// Every packing slip, and every lot that is on none
    #[arg(long, conflicts_with_all = ["lots", "slips"])]
    pub all: bool,
    /// Who prepares
    #[arg(long)]
    pub by: String,
    /// The preparer's own passphrase
    #[command(flatten)]
    pub own: Own,
}

/// Arguments of `release`.
#[derive(Debug, Args)]
pub struct Release {
    /// What waits, by lot, slip, or the whole name `queue` prints
    #[arg(required_unless_present = "all")]
    pub names: Vec<String>,
    /// Everything that waits
    #[arg(long, conflicts_with = "names")]
    pub all: bool,
    /// Who releases
    #[arg(long)]
    pub by: String,
    /// The releaser's own passphrase
    #[command(flatten)]
    pub own: Own,
    /// Folder the certificates are written to; left out: certificates/ in the shop folder
    #[arg(long)]
    pub out: Option<PathBuf>,
    /// How a locked key is opened
    #[command(flatten)]
    pub key: Key,
}

/// Whose hands an amendment has, where the shop asks for more than a name.
#[derive(Debug, Args)]
pub struct Hands {
    /// The releaser's own passphrase
    #[command(flatten)]
    pub own: Own,
    /// Who prepared the amendment, where the shop asks for two people
    #[arg(long, value_name = "PERSON")]
    pub prepared_by: Option<String>,
    /// File whose first line is the preparer's own passphrase; left out, it is asked for where the shop wants one
    #[arg(long, value_name = "FILE", requires = "prepared_by")]
    pub preparer_passphrase_file: Option<PathBuf>,
}

/// Verbs about people.
#[derive(Debug, Subcommand)]
pub enum People {
    /// List people: function, who may release, whose passphrase is set
    List,
    /// Set somebody's own passphrase; the seal key is needed for it
    SetPassphrase(SetPassphrase),
}

/// Arguments of `people set-passphrase`.
#[derive(Debug, Args)]
pub struct SetPassphrase {
    /// Whose, by name as in people.yaml
    pub person: String,
    /// The new passphrase
    #[command(flatten)]
    pub own: Own,
    /// File whose first line is the old passphrase; left out, it is asked for when there is one
    #[arg(long, value_name = "FILE", conflicts_with = "lost")]
    pub old_passphrase_file: Option<PathBuf>,
    /// The old passphrase is lost; why, for the register
    #[arg(long, value_name = "WHY")]
    pub lost: Option<String>,
    /// How a locked key is opened
    #[command(flatten)]
    pub key: Key,
}
