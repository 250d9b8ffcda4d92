//! Words of the calculations at the tank.

use clap::Args;
use clap::Subcommand;

use super::Limits;
use super::one_of;
use crate::solution::Basis;
use crate::solution::Factor;
use crate::solution::Indicator;
use crate::solution::TankVolume;
use crate::units::Quantity;

/// A basis, also as it is typed on a keyboard without °: `42 Be`.
fn basis(text: &str) -> Result<Basis, String> {
    let plain = |text: &str| {
        let letters = text.to_lowercase().replace('é', "e");
        letters.chars().filter(|c| !c.is_whitespace() && *c != '°').collect::<String>()
    };
    let found = Basis::ALL.iter().find(|basis| plain(basis.name()) == plain(text));
    found.copied().ok_or_else(|| {
        let names: Vec<&str> = Basis::ALL.iter().map(|basis| basis.name()).collect();
        format!("one of: {}; `42 Be` will do for 42 °Bé", names.join(", "))
    })
}

fn indicator(text: &str) -> Result<Indicator, String> {
    one_of(Indicator::ALL, |one| one.name().to_owned(), text)
}

/// Verbs of `calculate strength`.
#[derive(Debug, Subcommand)]
pub enum Strength {
    /// Nitric acid, titrated with sodium hydroxide
    Nitric(Box<Titrated>),
    /// Citric acid, titrated with sodium hydroxide
    Citric(Box<Titrated>),
    /// Sodium dichromate, titrated with thiosulfate after iodide
    Dichromate(Box<Titrated>),
    /// Chloride, titrated with silver nitrate
    Chloride(Box<Titrated>),
    /// Nitric acid by its density at 20 °C; for fresh acid only
    ByDensity(ByDensity),
}

/// A titration as the bench sheet has it.
#[derive(Debug, Args)]
pub struct Titrated {
    /// Bath taken, as in "5.00 mL"
    #[arg(long, value_name = "VOLUME")]
    pub sample: Quantity,
    /// Normality of the titrant, as in "1.000 N" or "0.1 mol/L"
    #[arg(long, value_name = "NORMALITY")]
    pub titrant: Quantity,
    /// Titrant used, as in "18.80 mL"
    #[arg(long, value_name = "VOLUME", conflicts_with_all = ["burette_from", "burette_to"])]
    pub volume: Option<Quantity>,
    /// First reading of the burette, in place of the volume
    #[arg(long, value_name = "VOLUME", requires = "burette_to")]
    pub burette_from: Option<Quantity>,
    /// Last reading of the burette
    #[arg(long, value_name = "VOLUME", requires = "burette_from")]
    pub burette_to: Option<Quantity>,
    /// Titrant that a blank took; it is taken off
    #[arg(long, value_name = "VOLUME")]
    pub blank: Option<Quantity>,
    /// What the strength is stated as: for nitric acid the concentrate that counts as 100 vol% ("42 Be", "67
    /// %", "68 %", "15.5 mol/L", "70 %"), else the crystals (monohydrate, dihydrate, anhydrous)
    #[arg(long, value_name = "BASIS", value_parser = basis)]
    pub basis: Option<Basis>,
    /// Density of the bath, for per cent by mass, as in "1.134 g/mL"
    #[arg(long, value_name = "DENSITY")]
    pub density: Option<Quantity>,
    /// What showed the end: methyl orange, phenolphthalein, starch, potassium chromate, electrode
    #[arg(long, value_name = "NAME", value_parser = indicator)]
    pub indicator: Option<Indicator>,
    /// No metals are dissolved in the bath: it has treated no parts
    #[arg(long)]
    pub no_metals: bool,
    /// Standard uncertainty (k = 1) of the sample; all three are needed
    #[arg(long, value_name = "VOLUME", requires_all = ["volume_uncertainty", "titrant_uncertainty"])]
    pub sample_uncertainty: Option<Quantity>,
    /// Standard uncertainty (k = 1) of the titrant used
    #[arg(long, value_name = "VOLUME", requires = "sample_uncertainty")]
    pub volume_uncertainty: Option<Quantity>,
    /// Standard uncertainty (k = 1) of the normality
    #[arg(long, value_name = "NORMALITY", requires = "sample_uncertainty")]
    pub titrant_uncertainty: Option<Quantity>,
    /// Standard uncertainty (k = 1) of the density
    #[arg(long, value_name = "DENSITY", requires = "sample_uncertainty")]
    pub density_uncertainty: Option<Quantity>,
    /// Limits, in a unit the titration gives.
    #[command(flatten)]
    pub limits: Limits,
}

/// Arguments of `calculate strength by-density`.
#[derive(Debug, Args)]
pub struct ByDensity {
    /// Density, as in "1.0810 g/mL"
    #[arg(long, value_name = "DENSITY")]
    pub density: Quantity,
    /// Temperature it was read at, 19 °C to 21 °C
    #[arg(long, value_name = "TEMPERATURE")]
    pub temperature: Quantity,
    /// Concentrate that counts as 100 vol%, for per cent by volume: "42 Be", "67 %", "68 %", "15.5 mol/L",
    /// "70 %"
    #[arg(long, value_name = "BASIS", value_parser = basis)]
    pub basis: Option<Basis>,
    /// Limits in wt%, g/L, mol/L or vol%.
    #[command(flatten)]
    pub limits: Limits,
}

/// Arguments of `calculate make-up`.
#[derive(Debug, Args)]
pub struct MakeUp {
    /// Bath there is, as in "400 L" or "100 US gal"; nought for an empty tank
    #[arg(long, value_name = "VOLUME")]
    pub bath: TankVolume,
    /// Its strength, in vol%, g/L or mol/L
    #[arg(long, value_name = "STRENGTH")]
    pub strength: Quantity,
    /// Strength wanted; left out: the middle of the window
    #[arg(long, value_name = "STRENGTH")]
    pub target: Option<Quantity>,
    /// The window. A bath inside it is left alone where no target is given.
    #[command(flatten)]
    pub window: Limits,
    /// Strength of the concentrate; left out: 100 vol%, acid of the very basis the bath is stated on
    #[arg(long, value_name = "STRENGTH")]
    pub concentrate: Option<Quantity>,
    /// Most the tank holds: the bath rises up to it, and what has no room is drawn off first
    #[arg(long, value_name = "VOLUME", conflicts_with = "fill_to")]
    pub tank: Option<TankVolume>,
    /// Volume the bath shall end at
    #[arg(long, value_name = "VOLUME")]
    pub fill_to: Option<TankVolume>,
}

/// Arguments of `calculate solids`.
#[derive(Debug, Args)]
pub struct Solids {
    /// Conductivity at 25 °C, as in "120 µS/cm" (or uS/cm)
    #[arg(long, value_name = "CONDUCTIVITY")]
    pub conductivity: Quantity,
    /// Factor from conductivity to solids: KCl, NaCl or 442 by table, or a number you stand for, as in 0.64
    #[arg(long, value_name = "FACTOR")]
    pub factor: Factor,
    /// Limits in ppm, or in µS/cm for the conductivity itself.
    #[command(flatten)]
    pub limits: Limits,
}
