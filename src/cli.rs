//! The command line: its words, and nothing else. Help, completions and the man page are made from here.

mod back;
mod calculate;
mod call_outs;
mod intake;
mod keys;
mod log;
mod record;
mod release;
mod report;

use std::path::PathBuf;

use clap::Args;
use clap::Parser;
use clap::Subcommand;
use clap::ValueEnum;

pub use back::AddLegacy;
pub use back::Affected;
pub use back::Delivered;
pub use back::Find;
pub use back::How;
pub use back::Legacy;
pub use back::Named;
pub use back::Reissue;
pub use back::Stands;
pub use calculate::Across;
pub use calculate::Allowance;
pub use calculate::Calculate;
pub use calculate::Chance;
pub use calculate::Ends;
pub use calculate::Limits;
pub use calculate::Log;
pub use calculate::Machined;
pub use calculate::MakeUp;
pub use calculate::Metal;
pub use calculate::OxideDepth;
pub use calculate::Pictures;
pub use calculate::Pren;
pub use calculate::Ratio;
pub use calculate::Removal;
pub use calculate::Roughness;
pub use calculate::Sampling;
pub use calculate::Strength;
pub use calculate::Titrated;
pub use call_outs::CallOuts;
pub use intake::Blank;
pub use intake::Intake;
pub use intake::Plan;
pub use intake::Planned;
pub use keys::Compromised;
pub use keys::GivenKey;
pub use keys::Keys;
pub use keys::Renew;
pub use keys::RenewRoot;
pub use keys::RenewSeal;
pub use keys::RootKey;
pub use keys::Why;
pub use log::Credential;
pub use log::Export;
pub use log::GrewFrom;
pub use log::LogGiven;
pub use log::Tiles;
pub use record::Correct;
pub use release::Hands;
pub use release::Own;
pub use release::People;
pub use release::Prepare;
pub use release::Release;
pub use release::SetPassphrase;
pub use report::Over;
pub use report::Page;
pub use report::Report;

use crate::moment::Date;

/// Judges finished lots of passivated and electropolished stainless parts against what their orders call for,
/// and issues sealed certificates that anyone can verify.
#[derive(Debug, Parser)]
#[command(name = "brightproof", version, about, long_about = None, after_help = EXIT_CODES)]
pub struct Cli {
    /// The shop folder
    #[arg(long, global = true, default_value = ".", value_name = "FOLDER", display_order = 900)]
    pub shop: PathBuf,
    /// Text for people, or JSON for machines
    #[arg(long, global = true, default_value = "text", value_name = "FORM", display_order = 901)]
    pub format: Format,
    /// What to do
    #[command(subcommand)]
    pub verb: Verb,
}

impl Cli {
    /// The command line as typed. Help, version and mistakes end the program here, with clap's own codes: 0, and 2
    /// for a mistake, as everywhere.
    pub fn typed() -> Cli {
        <Cli as Parser>::parse()
    }
}

const EXIT_CODES: &str =
    "Exit codes: 0 conforms / verifies / done, 1 gaps / does not verify, 2 could not tell or could not do.";

/// How answers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Plain text.
    Text,
    /// JSON, versioned.
    Json,
    /// Comma-separated values: reports only.
    Csv,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Make a shop folder: identity, empty books, keys, register
    Init(Init),
    /// Make the invented demonstration shop, issue for its conforming lots, list the gaps of the others, verify
    Demo {
        /// Where; made when it is not there
        #[arg(default_value = "brightproof-demo")]
        folder: PathBuf,
    },
    /// Judge lots and list their gaps; nothing is issued
    Check {
        /// Lot numbers or record files; none: every lot of the shop
        lots: Vec<String>,
    },
    /// Correct one value of a lot's record, or enter one late, with what stood there, who, when and why
    Correct(Correct),
    /// Judge, and issue certificates for what conforms
    Issue(Issue),
    /// Verify certificates
    Verify(Verify),
    /// Find certificates by any text on them: number, order, lot, part, heat, purchaser, slip, serial, date
    Find(Find),
    /// Look back: which certificates rest on a bath, instrument, solution, person, heat or load
    Affected(Affected),
    /// Enter that a certificate went to somebody
    Delivered(Delivered),
    /// Send a certificate again: the same bytes, and an entry that says who, why, for whom
    Reissue(Reissue),
    /// Certificates older than the register
    #[command(subcommand)]
    Legacy(Legacy),
    /// Replace a certificate: its shipment judged anew, a new number, the old one named
    Amend {
        /// Number of the certificate to replace
        number: String,
        /// Who releases the new one
        #[arg(long)]
        by: Option<String>,
        /// Why
        #[arg(long)]
        why: String,
        /// Clerical, or a change in something the parts were judged by
        #[arg(long)]
        kind: Amendment,
        /// How a locked key is opened
        #[command(flatten)]
        key: Key,
        /// Whose hands it has
        #[command(flatten)]
        hands: Hands,
    },
    /// Take a certificate back
    Withdraw {
        /// Certificate number
        number: String,
        /// Who
        #[arg(long)]
        by: String,
        /// Why
        #[arg(long)]
        why: String,
        /// What is to be done with the parts
        #[arg(long)]
        parts: String,
    },
    /// Write again the printed notice of a certificate that was amended or withdrawn
    Notice {
        /// Number of the certificate that no longer stands
        number: String,
    },
    /// The rulebook: packs and their adoption
    #[command(subcommand)]
    Rules(Rules),
    /// The register: its head, audit, proofs, backup
    #[command(subcommand)]
    Register(RegisterVerb),
    /// Write shell completions to standard output
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
    /// Write the manual page to standard output
    Manual,
    /// Figures: a month, yield, gaps, a bath, turn-round
    #[command(subcommand)]
    Report(Report),
    /// Write a note for pieces whose certificate follows, where the order allows it; it is no certificate
    HoldNote {
        /// Packing slip or lot
        name: String,
    },
    /// Judge, and put what conforms in the queue for somebody else to release
    Prepare(Prepare),
    /// List what waits for release
    Queue,
    /// Show what waits, and issue certificates for it
    Release(Release),
    /// People and their own passphrases
    #[command(subcommand)]
    People(People),
    /// The shop's keys: fingerprints, renewal, compromise
    #[command(subcommand)]
    Keys(Keys),
    /// The files certificates rest on, as they are kept
    #[command(subcommand)]
    Evidence(EvidenceVerb),
    /// Take in a day sheet, CSV or XLSX: records of lots, bath analyses or calibrations, as sheets.yaml maps them
    Intake(Intake),
    /// Write a blank record of a lot: every field its call-outs need, with the limits beside them
    Blank(Blank),
    /// What is known of a grade, and what it means for baths and tests; any common way of writing it will do
    Alloy {
        /// The grade: 316L, S31603, 1.4404, 17-4 PH H900
        #[arg(required = true)]
        name: Vec<String>,
    },
    /// Read the text of a drawing: call-outs for a part specification, what is assumed, what must be asked
    CallOuts(CallOuts),
    /// Plan an order line before the first part is racked: what will be checked, what to ask first, a traveler
    Plan(Plan),
    /// The trade's calculations: strength, make-up, rinse water, stock removal, sampling, roughness, logs
    #[command(subcommand)]
    Calculate(Calculate),
    /// Write the pictures of a lot or a certificate as SVG files
    Pictures(Pictures),
}

/// Verbs of the evidence store.
#[derive(Debug, Subcommand)]
pub enum EvidenceVerb {
    /// List every file a certificate rests on: digest, names, certificates, how long it is kept
    List,
    /// Read and hash every stored file again; names those missing or altered
    Check,
    /// List the files that need not be kept any longer; none is removed
    Expired {
        /// On which day; left out: today
        #[arg(long, value_name = "DATE")]
        on: Option<Date>,
    },
    /// Write the record that a certificate withholds, for whoever may judge it again
    Record {
        /// Certificate number
        number: String,
        /// The new file
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
}

/// Arguments of `init`.
#[derive(Debug, Args)]
pub struct Init {
    /// Where; made when it is not there
    pub folder: PathBuf,
    /// The shop's name
    #[arg(long)]
    pub name: String,
    /// A line of its address; repeat for more
    #[arg(long = "address", required = true, value_name = "LINE")]
    pub address: Vec<String>,
    /// The town certificates are issued in
    #[arg(long)]
    pub place: String,
    /// Whom to ring or write about a certificate
    #[arg(long)]
    pub contact: String,
    /// The register's name, unique in the world: a host name of the shop and a word, as in shop.example/register
    #[arg(long)]
    pub register: String,
    /// Letters before certificate numbers
    #[arg(long)]
    pub prefix: String,
    /// Name of the person who may release shipments
    #[arg(long)]
    pub releaser: String,
    /// How a locked key is opened
    #[command(flatten)]
    pub key: Key,
    /// Leave the keys unlocked on disk: for trials only
    #[arg(long)]
    pub open_keys: bool,
}

/// Arguments of `issue`.
#[derive(Debug, Args)]
pub struct Issue {
    /// Lot numbers or record files: one certificate each, for all accepted pieces
    pub lots: Vec<String>,
    /// Packing slips: one certificate each, for the pieces they list; repeat for more
    #[arg(long = "slip", value_name = "SLIP")]
    pub slips: Vec<String>,
    /// Every packing slip, and every lot that is on none
    #[arg(long, conflicts_with_all = ["lots", "slips"])]
    pub all: bool,
    /// Who releases; may be left out when just one person is entitled to
    #[arg(long)]
    pub by: Option<String>,
    /// Folder the certificates are written to; left out: certificates/ in the shop folder
    #[arg(long)]
    pub out: Option<PathBuf>,
    /// How a locked key is opened
    #[command(flatten)]
    pub key: Key,
}

/// How a locked key is opened.
#[derive(Debug, Args)]
pub struct Key {
    /// File whose first line is the key's passphrase; left out, it is asked for when one is needed
    #[arg(long, value_name = "FILE")]
    pub passphrase_file: Option<PathBuf>,
    /// Open file descriptor whose first line is the passphrase
    #[arg(long, value_name = "N", conflicts_with = "passphrase_file")]
    pub passphrase_fd: Option<u32>,
    /// Environment variable that holds the passphrase; other programs of the same user can read it
    #[arg(long, value_name = "NAME", conflicts_with_all = ["passphrase_file", "passphrase_fd"])]
    pub passphrase_env: Option<String>,
}

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub struct Verify {
    /// Certificates, or folders of them
    pub files: Vec<PathBuf>,
    /// The shop's root certificate, or its fingerprint as the shop told it by another way than the file
    #[arg(long, value_name = "ROOT")]
    pub trust: Option<String>,
    /// The shop's register, to learn of amendments and withdrawals
    #[arg(long, value_name = "FILE")]
    pub register: Option<PathBuf>,
    /// An evidence store, to see that the files a certificate rests on are there and unchanged
    #[arg(long, value_name = "FOLDER")]
    pub evidence_store: Option<PathBuf>,
    /// From paper: the certificate's number
    #[arg(long, requires = "stamp", conflicts_with = "files")]
    pub number: Option<String>,
    /// From paper: the stamp printed on every page
    #[arg(long, requires = "number")]
    pub stamp: Option<String>,
    /// Time stamps of the register's heads, as the shop keeps them in time-stamps/: since when the certificate was there
    #[arg(long, value_name = "FOLDER", requires = "time_root", conflicts_with = "number")]
    pub time_stamps: Option<PathBuf>,
    /// The time-stamping service's certificate, or one above it, obtained from the service
    #[arg(long, value_name = "FILE", requires = "time_stamps")]
    pub time_root: Option<PathBuf>,
    /// Evidence of what a certificate withholds, as the shop handed it out; repeat for more
    #[arg(long, value_name = "FILE", conflicts_with = "number")]
    pub evidence: Vec<PathBuf>,
    /// The register's log
    #[command(flatten)]
    pub log: LogGiven,
}

/// The two kinds of amendment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Amendment {
    /// A name, a number, a date
    Clerical,
    /// Something the parts were judged by
    Conformity,
}

/// Verbs of the rulebook.
#[derive(Debug, Subcommand)]
pub enum Rules {
    /// List the packs, how well each is known, and what the shop adopted
    List,
    /// Print one pack in words
    Show {
        /// Pack id, as `rules list` prints it
        pack: String,
        /// Edition, to see it as the shop adopted it
        #[arg(long)]
        edition: Option<String>,
    },
    /// Check a pack's file: faults and remarks, each with its place and how to mend it
    Check {
        /// The file
        file: PathBuf,
    },
    /// Compare two editions of a pack, or of two packs: what changed, and which open orders call either
    Compare {
        /// Pack id, before two editions; or pack and edition, as in astm-a967:17
        first: String,
        /// The earlier edition; or pack and edition
        second: String,
        /// The later edition
        third: Option<String>,
    },
    /// Take an edition into use, figure by figure, against the shop's controlled copy
    Adopt {
        /// Pack id
        pack: String,
        /// Edition
        #[arg(long)]
        edition: String,
        /// Who compared it
        #[arg(long)]
        by: String,
        /// Which controlled copy it was compared with
        #[arg(long)]
        copy: String,
        /// What took this edition's place, where the shop knows and the pack does not: an edition, or a standard whole
        #[arg(long, value_name = "EDITION")]
        superseded_by: Option<String>,
        /// Answers written beforehand, by requirement id
        #[arg(long, value_name = "FILE")]
        answers: Option<PathBuf>,
        /// What to say for recalled figures the answers leave out, instead of asking
        #[arg(long, value_name = "WORD")]
        rest: Option<Rest>,
    },
}

/// What is said of recalled figures nobody answered for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Rest {
    /// The rest was compared and stands as in the pack
    Confirmed,
    /// The rest could not be read
    Unsure,
}

/// Verbs of the register.
#[derive(Debug, Subcommand)]
pub enum RegisterVerb {
    /// Print the signed head
    Head,
    /// Read and hash everything again; names the first bad entry
    Audit,
    /// Copy the register to a new file and audit the copy
    Backup {
        /// The new file
        to: PathBuf,
    },
    /// Print the entries of one certificate
    History {
        /// Certificate number
        number: String,
    },
    /// Write the proof that a certificate's entry is in the register
    Prove {
        /// Certificate number
        number: String,
        /// Under the earliest head that has a time stamp, instead of the newest
        #[arg(long)]
        time_stamped: bool,
    },
    /// Have the newest head time-stamped by the service that shop.yaml names, unless it is
    #[command(alias = "stamp")]
    TimeStamp,
    /// List the time stamps kept, and check them without asking anybody
    #[command(alias = "stamps")]
    TimeStamps {
        /// The service's certificate, or one above it; left out, the one that shop.yaml names
        #[arg(long, value_name = "FILE")]
        root: Option<PathBuf>,
    },
    /// Write the proof that the register only grew since a head seen before
    Consistency(GrewFrom),
    /// Write the log as static files that any file host can publish, or bring them up to date
    Tiles(Tiles),
    /// Send the newest head to the witnesses that shop.yaml names, and keep what they sign
    Witness,
    /// Write certificates, data, entries and proofs as plain files that others check with general tools
    Export(Export),
    /// Write the data of a certificate as a signed W3C Verifiable Credential for others' systems
    Credential(Credential),
}
