//! Words of the calculations about metal and surface.

use std::path::PathBuf;

use clap::Args;
use clap::ValueEnum;
use rust_decimal::Decimal;

use super::Draw;
use super::Limits;
use super::one_of;
use crate::app::calculate::Elements;
use crate::removal::Valences;
use crate::surface::AtPercent;
use crate::surface::Formula;
use crate::surface::Method;
use crate::surface::ReferenceOxide;
use crate::units::Percent;
use crate::units::Quantity;
use crate::units::Unit;
use crate::units::plain_decimal;

fn number(text: &str) -> Result<Decimal, String> {
    plain_decimal(text.trim()).ok_or_else(|| "a plain number, as in 1.5".to_owned())
}

/// A density, also as the trade writes it: `7.98 g/cm³`.
fn density(text: &str) -> Result<Quantity, String> {
    let plain = text.trim();
    let cubic = ["g/cm³", "g/cm3"].iter().find_map(|unit| plain.strip_suffix(unit));
    if let Some(value) = cubic.and_then(|value| plain_decimal(value.trim_end())) {
        return Ok(Quantity::new(value, Unit::GramPerMillilitre));
    }
    plain.parse().map_err(|_| "a number and `g/cm³`, as in `7.98 g/cm³`".to_owned())
}

fn formula(text: &str) -> Result<Formula, String> {
    match text.trim().to_lowercase().as_str() {
        "usual" => Ok(Formula::N16),
        "tungsten" => Ok(Formula::Tungsten),
        "nitrogen" => Ok(Formula::N30),
        _ => Err("one of: usual, tungsten, nitrogen".to_owned()),
    }
}

fn method(text: &str) -> Result<Method, String> {
    one_of(&[Method::Xps, Method::Aes, Method::GdOes], |one| one.to_string(), text)
}

fn reference(text: &str) -> Result<ReferenceOxide, String> {
    one_of(&[ReferenceOxide::SiO2, ReferenceOxide::Ta2O5], |one| one.to_string(), text)
}

/// Which ions the metals are taken to leave as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Ions {
    /// Fe2 Cr3 Ni2 Mo3: the greatest depth
    Lowest,
    /// Fe2 Cr3 Ni2 Mo4
    LowestMo4,
    /// Fe3 Cr3 Ni2 Mo6: fits what the trade weighs off
    Fe3Cr3,
    /// Fe3 Cr6 Ni2 Mo6: the least depth
    Fe3Cr6,
}

impl From<Ions> for Valences {
    fn from(ions: Ions) -> Valences {
        match ions {
            Ions::Lowest => Valences::Lowest,
            Ions::LowestMo4 => Valences::LowestMo4,
            Ions::Fe3Cr3 => Valences::Fe3Cr3,
            Ions::Fe3Cr6 => Valences::Fe3Cr6,
        }
    }
}

/// What a size is measured across.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Across {
    /// An outside diameter: gets smaller on two sides
    Outside,
    /// A bore or a slot: gets larger on two sides
    Bore,
    /// A thickness polished on both faces
    Thickness,
    /// One side from a datum that is not polished
    OneSide,
}

/// What is machined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Machined {
    /// An outside diameter: gets smaller on two sides
    Outside,
    /// A bore or a slot: gets larger on two sides
    Bore,
    /// A thickness polished on both faces
    Thickness,
    /// One side from a datum that is not polished
    OneSide,
    /// The pitch diameter of a 60° thread
    Thread,
}

/// What a part is made of.
#[derive(Debug, Args)]
pub struct Metal {
    /// Grade, in any common way of writing it: 316L, S31603, 1.4404
    #[arg(long)]
    pub grade: Option<String>,
    /// wt% of the main elements as the heat's certificate states them, as in "Cr 16.8, Ni 10.2, Mo 2.07"
    #[arg(long, value_name = "ELEMENTS")]
    pub composition: Option<Elements>,
    /// Density, as in "7.98 g/cm³"; left out: that of the grade
    #[arg(long, value_name = "DENSITY", value_parser = density)]
    pub density: Option<Quantity>,
}

/// Arguments of `calculate removal`.
#[derive(Debug, Args)]
pub struct Removal {
    /// The metal.
    #[command(flatten)]
    pub metal: Metal,
    /// Current, with --time and --area
    #[arg(long, value_name = "CURRENT", help_heading = "By charge")]
    pub current: Option<Quantity>,
    /// Current density in A/dm² or A/ft², with --time
    #[arg(long, value_name = "DENSITY", help_heading = "By charge")]
    pub current_density: Option<Quantity>,
    /// Charge in "A min" or "A h", with --area
    #[arg(long, value_name = "CHARGE", help_heading = "By charge")]
    pub charge: Option<Quantity>,
    /// Time with current
    #[arg(long, value_name = "TIME", help_heading = "By charge")]
    pub time: Option<Quantity>,
    /// Surface in the bath: cm², dm², in² or ft² (cm2 and so on will do)
    #[arg(long, value_name = "AREA", help_heading = "By charge")]
    pub area: Option<Quantity>,
    /// Current efficiency found with weighed coupons, as in "82 %"; left out, the depth is the most it can be
    #[arg(long, value_name = "SHARE", help_heading = "By charge")]
    pub efficiency: Option<Percent>,
    /// Its expanded uncertainty, in points of per cent
    #[arg(long, value_name = "SHARE", help_heading = "By charge", requires = "efficiency")]
    pub efficiency_uncertainty: Option<Percent>,
    /// Ions the metals are taken to leave as
    #[arg(long, value_name = "IONS", default_value = "fe3-cr3", help_heading = "By charge")]
    pub valences: Ions,
    /// Expanded uncertainty of current, current density or charge, in per cent of it
    #[arg(long, value_name = "SHARE", help_heading = "By charge")]
    pub current_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the time, in per cent of it
    #[arg(long, value_name = "SHARE", help_heading = "By charge")]
    pub time_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the equivalent weight, in per cent of it
    #[arg(long, value_name = "SHARE", help_heading = "By charge")]
    pub equivalent_weight_uncertainty: Option<Percent>,
    /// Mass before, in g
    #[arg(long, value_name = "MASS", help_heading = "By weighing", requires = "mass_after")]
    pub mass_before: Option<Quantity>,
    /// Mass after
    #[arg(long, value_name = "MASS", help_heading = "By weighing", requires = "mass_before")]
    pub mass_after: Option<Quantity>,
    /// Surface of the piece weighed
    #[arg(long, value_name = "AREA", help_heading = "By weighing", requires = "mass_before")]
    pub weighed_area: Option<Quantity>,
    /// Expanded uncertainty of one weighing, from the balance's certificate
    #[arg(long, value_name = "MASS", help_heading = "By weighing", requires = "mass_before")]
    pub weighing_uncertainty: Option<Quantity>,
    /// Size before
    #[arg(long, value_name = "SIZE", help_heading = "By sizes", requires_all = ["size_after", "across"])]
    pub size_before: Option<Quantity>,
    /// Size after
    #[arg(long, value_name = "SIZE", help_heading = "By sizes", requires = "size_before")]
    pub size_after: Option<Quantity>,
    /// What the size is across
    #[arg(long, value_name = "WHAT", help_heading = "By sizes", requires = "size_before")]
    pub across: Option<Across>,
    /// Expanded uncertainty of one size, a length
    #[arg(long, value_name = "LENGTH", help_heading = "By sizes", requires = "size_before")]
    pub size_uncertainty: Option<Quantity>,
    /// Expanded uncertainty of the area, in per cent of it
    #[arg(long, value_name = "SHARE")]
    pub area_uncertainty: Option<Percent>,
    /// Expanded uncertainty of the density, in per cent of it
    #[arg(long, value_name = "SHARE")]
    pub density_uncertainty: Option<Percent>,
    /// Limits per surface, in µm, mm, in or µin.
    #[command(flatten)]
    pub limits: Limits,
    /// Its picture.
    #[command(flatten)]
    pub draw: Draw,
}

/// Arguments of `calculate allowance`.
#[derive(Debug, Args)]
pub struct Allowance {
    /// What the size is across
    #[arg(long, value_name = "WHAT")]
    pub across: Machined,
    /// Finished size, with --tolerance either way
    #[arg(long, value_name = "SIZE", requires = "tolerance", conflicts_with_all = ["min", "max"])]
    pub size: Option<Quantity>,
    /// Tolerance either way
    #[arg(long, value_name = "LENGTH", requires = "size")]
    pub tolerance: Option<Quantity>,
    /// Least finished size, in place of size and tolerance
    #[arg(long, value_name = "SIZE", requires = "max")]
    pub min: Option<Quantity>,
    /// Greatest finished size
    #[arg(long, value_name = "SIZE", requires = "min")]
    pub max: Option<Quantity>,
    /// Least a run takes off per surface
    #[arg(long, value_name = "LENGTH")]
    pub removal_from: Quantity,
    /// Most a run takes off per surface
    #[arg(long, value_name = "LENGTH")]
    pub removal_to: Quantity,
    /// Digits after the point of the size to machine to
    #[arg(long, default_value = "3")]
    pub digits: u32,
}

/// Arguments of `calculate pren`.
#[derive(Debug, Args)]
pub struct Pren {
    /// wt% of the elements as the heat's certificate states them, as in "Cr 16.8, Mo 2.07, N 0.05"
    #[arg(long, value_name = "ELEMENTS")]
    pub composition: Option<Elements>,
    /// A grade, for the span its limits allow
    #[arg(long, conflicts_with = "composition")]
    pub grade: Option<String>,
    /// usual (Cr + 3.3 Mo + 16 N), tungsten (W counts half as Mo) or nitrogen (30 N)
    #[arg(long, value_name = "NAME", default_value = "usual", value_parser = formula)]
    pub formula: Formula,
    /// Least allowed
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    pub at_least: Option<Decimal>,
}

/// Arguments of `calculate ratio`.
#[derive(Debug, Args)]
pub struct Ratio {
    /// How the surface was analysed: XPS, AES or GD-OES
    #[arg(long, value_name = "METHOD", value_parser = method)]
    pub method: Method,
    /// at% of every element found, carbon and oxygen too, as in "C 22.0, O 51.0, Cr 14.4, Fe 9.6, Ni 3.0"
    #[arg(long, value_name = "ELEMENTS")]
    pub elements: Elements,
    /// Of them, at% as oxide, as in "Cr 12.4, Fe 6.2"
    #[arg(long, value_name = "ELEMENTS", requires = "metal")]
    pub oxide: Option<Elements>,
    /// Of them, at% as metal, as in "Cr 2.0, Fe 3.4"
    #[arg(long, value_name = "ELEMENTS", requires = "oxide")]
    pub metal: Option<Elements>,
    /// Standard uncertainties (k = 1) in at%, as in "Cr 0.4, Fe 0.4"
    #[arg(long, value_name = "ELEMENTS")]
    pub uncertainty: Option<Elements>,
    /// Standard uncertainties (k = 1) of what is oxide, in at%
    #[arg(long, value_name = "ELEMENTS", requires = "oxide")]
    pub oxide_uncertainty: Option<Elements>,
    /// Take-off angle from the surface, as in "45 deg"
    #[arg(long, value_name = "ANGLE")]
    pub take_off_angle: Option<Quantity>,
    /// Sputtered for so long before, as in "30 s"; left out: as received
    #[arg(long, value_name = "TIME")]
    pub sputtered: Option<Quantity>,
    /// How far the sum may lie from 100, at most "2 at%"
    #[arg(long, value_name = "SHARE", default_value = "0.5 at%")]
    pub sum_within: AtPercent,
    /// Least Cr/Fe
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    pub cr_fe_at_least: Option<Decimal>,
    /// Least CrOx/FeOx
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    pub crox_feox_at_least: Option<Decimal>,
}

/// Arguments of `calculate oxide-depth`.
#[derive(Debug, Args)]
pub struct OxideDepth {
    /// The profile: a CSV or XLSX with a row a spectrum, from the surface inwards
    pub file: PathBuf,
    /// Heading of the sputter time, in minutes
    #[arg(long, value_name = "HEADING")]
    pub time: String,
    /// Heading of the oxygen, in at%
    #[arg(long, value_name = "HEADING")]
    pub oxygen: String,
    /// How it was measured: XPS, AES or GD-OES
    #[arg(long, value_name = "METHOD", value_parser = method)]
    pub method: Method,
    /// Sputter rate on the reference oxide, in Å/min
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    pub rate: Decimal,
    /// The oxide the rate was found on: SiO2 or Ta2O5
    #[arg(long, value_name = "OXIDE", value_parser = reference)]
    pub reference: ReferenceOxide,
    /// How many of the deepest rows are the bulk
    #[arg(long, value_name = "ROWS")]
    pub bulk_rows: usize,
    /// What stands between cells of a CSV: comma, semicolon or tab
    #[arg(long, value_name = "MARK", default_value = "comma")]
    pub delimiter: super::readings::Mark,
    /// Decimal mark of a CSV: point or comma
    #[arg(long, value_name = "MARK", default_value = "point")]
    pub decimal: super::readings::Point,
    /// Limits of the depth, as in "15 Å" (or angstrom).
    #[command(flatten)]
    pub limits: Limits,
}
