//! Verbs that write in a lot's record.

use clap::Args;

/// Arguments of `correct`.
#[derive(Debug, Args)]
pub struct Correct {
    /// The lot
    pub lot: String,
    /// The value's path, as in `runs[0].steps[4].rinse.total_solids`; or the line and column of a gap and the key
    /// that is missing there, as in `16:9.total_solids`
    pub at: String,
    /// What stands there from now on
    #[arg(long, value_name = "VALUE")]
    pub now: String,
    /// Who changes it
    #[arg(long)]
    pub by: String,
    /// Why: what the value was read from
    #[arg(long)]
    pub why: String,
}
