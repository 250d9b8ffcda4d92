//! The trade's calculations: their words.

mod bath;
mod inspection;
mod metal;
mod readings;

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

pub use bath::MakeUp;
pub use bath::Solids;
pub use bath::Strength;
pub use bath::Titrated;
pub use inspection::Chance;
pub use inspection::Sampling;
pub use metal::Across;
pub use metal::Allowance;
pub use metal::Machined;
pub use metal::Metal;
pub use metal::OxideDepth;
pub use metal::Pren;
pub use metal::Ratio;
pub use metal::Removal;
pub use readings::Ends;
pub use readings::Log;
pub use readings::Roughness;

use crate::units::Quantity;

/// Verbs of `calculate`.
#[derive(Debug, Subcommand)]
pub enum Calculate {
    /// Strength of a bath: a titration, or the density of nitric acid
    #[command(subcommand)]
    Strength(Strength),
    /// What to draw off and to add, to bring a bath to its strength
    MakeUp(MakeUp),
    /// Dissolved solids of rinse water by its conductivity
    Solids(Solids),
    /// Stock removal per surface: by charge, by weighing, by sizes; several ways are held against each other
    Removal(Box<Removal>),
    /// What to machine, so that the finished size is in tolerance
    Allowance(Allowance),
    /// A sampling plan for a lot: sample, accept, reject, its risks and its curve
    Sampling(Sampling),
    /// How likely a reading near a limit accepts what is outside, and whether the gauge is good enough
    Chance(Chance),
    /// Roughness of one trace, and what a treatment improved
    Roughness(Box<Roughness>),
    /// A logger's file over an interval: least, greatest, mean, time in a window, excursions, gaps
    Log(Log),
    /// Pitting resistance equivalent number of a heat or a grade
    Pren(Pren),
    /// Chromium to iron of a surface, from atomic percentages
    Ratio(Box<Ratio>),
    /// Depth of the oxide from a sputter profile
    OxideDepth(OxideDepth),
}

/// Limits a figure is held against.
#[derive(Debug, Args)]
pub struct Limits {
    /// Least allowed
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub at_least: Option<Quantity>,
    /// Most allowed
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub at_most: Option<Quantity>,
}

/// Where a picture goes.
#[derive(Debug, Args)]
pub struct Draw {
    /// Write the picture to this file, as SVG
    #[arg(long, value_name = "FILE.svg")]
    pub picture: Option<PathBuf>,
}

/// Arguments of `pictures`.
#[derive(Debug, Args)]
pub struct Pictures {
    /// Lot or certificate number
    pub name: String,
    /// Folder the files are written to
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
}

/// One of several names, in any case; the error lists them.
fn one_of<T: Copy>(all: &[T], name: impl Fn(T) -> String, text: &str) -> Result<T, String> {
    let plain = |text: &str| text.trim().to_lowercase();
    let found = all.iter().copied().find(|one| plain(&name(*one)) == plain(text));
    found.ok_or_else(|| {
        let names: Vec<String> = all.iter().map(|one| name(*one)).collect();
        format!("one of: {}", names.join(", "))
    })
}
