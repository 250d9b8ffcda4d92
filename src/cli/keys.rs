//! Words of the verbs about the shop's keys.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use super::Key;
use crate::moment::Moment;

/// Verbs of the shop's keys.
#[derive(Debug, Subcommand)]
pub enum Keys {
    /// Print the fingerprints of the shop's keys, and how each stands
    Show,
    /// Print how the register's key and the root were handed over, for whoever knows older ones
    Handovers,
    /// Put a new key in an old one's place; what was issued under the old one goes on to verify
    #[command(subcommand)]
    Renew(Box<Renew>),
    /// Declare that a key may be known to others; certificates under it then need a time stamp from before
    Compromised(Compromised),
}

/// Which key is renewed.
#[derive(Debug, Subcommand)]
pub enum Renew {
    /// The key that seals certificates; the root's key is needed
    Seal(RenewSeal),
    /// The key that signs the register's heads
    Register(Why),
    /// The root, with a first seal key under it; purchasers must be told the new fingerprint
    Root(RenewRoot),
}

/// Who, and why.
#[derive(Debug, Args)]
pub struct Why {
    /// Who does it
    #[arg(long)]
    pub by: String,
    /// Why
    #[arg(long)]
    pub why: String,
}

/// The root's private key, and where its passphrase comes from.
#[derive(Debug, Args)]
pub struct RootKey {
    /// The root's private key, PEM or PKCS#12, from where it is locked away; left out: keys/root-key.pem
    #[arg(long, value_name = "FILE")]
    pub root_key: Option<PathBuf>,
    /// File whose first line is the root key's passphrase; left out, it is asked for when one is needed
    #[arg(long, value_name = "FILE")]
    pub root_passphrase_file: Option<PathBuf>,
    /// Open file descriptor whose first line is the root key's passphrase
    #[arg(long, value_name = "N", conflicts_with = "root_passphrase_file")]
    pub root_passphrase_fd: Option<u32>,
    /// Environment variable that holds the root key's passphrase; other programs of the same user can read it
    #[arg(long, value_name = "NAME", conflicts_with_all = ["root_passphrase_file", "root_passphrase_fd"])]
    pub root_passphrase_env: Option<String>,
}

/// A key that somebody else made, and where its passphrase comes from.
#[derive(Debug, Args)]
pub struct GivenKey {
    /// Take the new key out of this file, PEM or PKCS#12, P-256, instead of drawing one
    #[arg(long, value_name = "FILE")]
    pub take_key: Option<PathBuf>,
    /// File whose first line is that file's passphrase; left out, it is asked for when one is needed
    #[arg(long, value_name = "FILE", requires = "take_key")]
    pub take_passphrase_file: Option<PathBuf>,
    /// Open file descriptor whose first line is that file's passphrase
    #[arg(long, value_name = "N", requires = "take_key", conflicts_with = "take_passphrase_file")]
    pub take_passphrase_fd: Option<u32>,
    /// Environment variable that holds that file's passphrase; other programs of the same user can read it
    #[arg(long, value_name = "NAME", requires = "take_key",
        conflicts_with_all = ["take_passphrase_file", "take_passphrase_fd"])]
    pub take_passphrase_env: Option<String>,
}

/// Arguments of `keys renew seal`.
#[derive(Debug, Args)]
pub struct RenewSeal {
    /// Who, and why
    #[command(flatten)]
    pub told: Why,
    /// What signs the new key's certificate
    #[command(flatten)]
    pub root: RootKey,
    /// Where the new key comes from
    #[command(flatten)]
    pub given: GivenKey,
    /// Have a smart card or security module make the key and keep it: its label. The passphrase is its PIN then
    #[arg(long, value_name = "LABEL", requires = "token_module", conflicts_with_all = ["take_key", "open_keys"])]
    pub token: Option<String>,
    /// The PKCS#11 library of the token's manufacturer
    #[arg(long, value_name = "FILE", requires = "token")]
    pub token_module: Option<PathBuf>,
    /// A label for the key in the token; left out, one that names the moment
    #[arg(long, value_name = "LABEL", requires = "token")]
    pub token_key: Option<String>,
    /// The new key's passphrase
    #[command(flatten)]
    pub key: Key,
    /// Leave the new key unlocked on disk: for trials only
    #[arg(long, conflicts_with_all = ["passphrase_file", "passphrase_fd", "passphrase_env"])]
    pub open_keys: bool,
}

/// Arguments of `keys renew root`.
#[derive(Debug, Args)]
pub struct RenewRoot {
    /// Who, and why
    #[command(flatten)]
    pub told: Why,
    /// The old root's key, to sign that the new root follows
    #[command(flatten)]
    pub old: RootKey,
    /// The old root's key is lost, or others may have it: nothing leads from the old fingerprint to the new one
    #[arg(long, conflicts_with_all = ["root_key", "root_passphrase_file", "root_passphrase_fd", "root_passphrase_env"])]
    pub without_old_key: bool,
    /// Where the new root's key comes from
    #[command(flatten)]
    pub given: GivenKey,
    /// The passphrase of the new root's key and of the new seal key
    #[command(flatten)]
    pub key: Key,
    /// Leave the new keys unlocked on disk: for trials only
    #[arg(long, conflicts_with_all = ["passphrase_file", "passphrase_fd", "passphrase_env"])]
    pub open_keys: bool,
}

/// Arguments of `keys compromised`.
#[derive(Debug, Args)]
pub struct Compromised {
    /// The key, as `keys show` prints it: the fingerprint of a seal or of the root, or the register's verifier key
    pub key: String,
    /// Since when others may know it, as in 2026-11-20T08:00-05:00
    #[arg(long, value_name = "TIME")]
    pub since: Moment,
    /// Who, and why
    #[command(flatten)]
    pub told: Why,
}
