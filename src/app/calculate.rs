//! The trade's calculations, for whoever stands at the bench: figures with units, the steps that lead to
//! them, what they rest on, what to mind. Nothing here enters a record; the judge computes for itself.

mod allowance;
mod bath;
mod chance;
mod log;
mod make_up;
mod metal;
mod removal;
mod roughness;
mod sampling;
mod surface;

use std::cmp::Ordering;

use rust_decimal::Decimal;

use crate::app::error::Error;
use crate::picture::Drawing;
use crate::removal::RemovalError;
use crate::roughness::CutoffError;
use crate::solution::SolutionError;
use crate::surface::SurfaceError;
use crate::units::Quantity;

pub use allowance::AllowanceRequest;
pub use allowance::Asked;
pub use allowance::allowance;
pub use allowance::finished;
pub use bath::by_density;
pub use bath::solids;
pub use bath::strength;
pub use chance::ChanceRequest;
pub use chance::chance;
pub use log::LogRequest;
pub use log::log;
pub use make_up::MakeUpRequest;
pub use make_up::make_up;
pub use metal::Elements;
pub use metal::Metal;
pub use metal::pren;
pub use removal::RemovalRequest;
pub use removal::removal;
pub use roughness::Layout;
pub use roughness::RoughnessRequest;
pub use roughness::TraceRequest;
pub use roughness::roughness;
pub use sampling::SamplingRequest;
pub use sampling::sampling;
pub use surface::DepthRequest;
pub use surface::RatioRequest;
pub use surface::oxide_depth;
pub use surface::ratio;

/// What a calculation came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Worked {
    /// Which calculation, by its word on the command line.
    pub calculation: &'static str,
    /// What was worked out, in a line.
    pub of: String,
    /// How it stands against the limits given; `None` where none were.
    pub standing: Option<Standing>,
    /// The figures, the one asked for first.
    pub figures: Vec<Figure>,
    /// Lists of figures.
    pub tables: Vec<Table>,
    /// What is to be done, in its order.
    pub to_do: Vec<String>,
    /// How the figures were found: the formula, with the numbers put in.
    pub steps: Vec<String>,
    /// Standards, tables and statements it rests on, and how well they are known.
    pub rests_on: Vec<String>,
    /// What to mind.
    pub mind: Vec<String>,
    /// Its picture, where there is one.
    pub drawing: Option<Drawing>,
}

/// One figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// Its word for machines; it never changes.
    pub figure: &'static str,
    /// What it is, for people.
    pub name: String,
    /// The number, with the digits it has.
    pub value: String,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// Its expanded uncertainty (k = 2), in the same unit.
    pub uncertainty: Option<String>,
    /// What it must be read with: a basis, a time.
    pub note: Option<String>,
}

/// A list of figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Its word for machines.
    pub table: &'static str,
    /// What it lists, for people.
    pub name: String,
    /// Headings.
    pub columns: Vec<&'static str>,
    /// Rows, as many cells each as there are headings.
    pub rows: Vec<Vec<String>>,
}

/// How figures stand against limits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// Within them.
    Inside(String),
    /// Beyond one of them, not accepted, or at odds with each other.
    Outside(String),
    /// It cannot be told.
    CannotTell(String),
}

impl Standing {
    /// In words.
    pub fn words(&self) -> &str {
        match self {
            Standing::Inside(words) | Standing::Outside(words) | Standing::CannotTell(words) => words,
        }
    }

    /// The same without a unit that a plain number was only given to be compared.
    fn without(self, unit: &str) -> Standing {
        match self {
            Standing::Inside(words) => Standing::Inside(words.replace(unit, "")),
            Standing::Outside(words) => Standing::Outside(words.replace(unit, "")),
            Standing::CannotTell(words) => Standing::CannotTell(words.replace(unit, "")),
        }
    }
}

impl Worked {
    fn new(calculation: &'static str, of: impl Into<String>) -> Worked {
        Worked {
            calculation,
            of: of.into(),
            standing: None,
            figures: Vec::new(),
            tables: Vec::new(),
            to_do: Vec::new(),
            steps: Vec::new(),
            rests_on: Vec::new(),
            mind: Vec::new(),
            drawing: None,
        }
    }

    fn figure(&mut self, figure: &'static str, name: &str, value: impl ToString, unit: &str) {
        self.figures.push(Figure::new(figure, name, value, unit));
    }

    fn quantity(&mut self, figure: &'static str, name: &str, quantity: &Quantity) {
        self.figures.push(Figure::of(figure, name, quantity));
    }

    fn step(&mut self, words: impl Into<String>) {
        self.steps.push(words.into());
    }

    fn source(&mut self, words: impl Into<String>) {
        self.rests_on.push(words.into());
    }

    fn mind(&mut self, words: impl Into<String>) {
        self.mind.push(words.into());
    }
}

impl Figure {
    fn new(figure: &'static str, name: &str, value: impl ToString, unit: &str) -> Figure {
        Figure {
            figure,
            name: name.to_owned(),
            value: value.to_string(),
            unit: unit.to_owned(),
            uncertainty: None,
            note: None,
        }
    }

    fn of(figure: &'static str, name: &str, quantity: &Quantity) -> Figure {
        Figure::new(figure, name, quantity.value(), quantity.unit().symbol())
    }

    fn noted(self, note: impl Into<String>) -> Figure {
        Figure { note: Some(note.into()), ..self }
    }
}

/// Limits of a figure, as typed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Limits {
    /// The least allowed.
    pub at_least: Option<Quantity>,
    /// The most allowed.
    pub at_most: Option<Quantity>,
}

impl Limits {
    /// Whether there is none.
    pub const fn is_open(&self) -> bool {
        self.at_least.is_none() && self.at_most.is_none()
    }

    /// In words: `at least 20 vol% and at most 45 vol%`.
    fn words(&self) -> String {
        let least = self.at_least.map(|q| format!("at least {q}"));
        let most = self.at_most.map(|q| format!("at most {q}"));
        least.into_iter().chain(most).collect::<Vec<_>>().join(" and ")
    }

    /// Refuses limits that cross, or of two kinds.
    fn check(&self) -> Result<(), Error> {
        let (Some(least), Some(most)) = (self.at_least, self.at_most) else { return Ok(()) };
        match least.compare(&most) {
            Some(Ordering::Greater) => {
                let message =
                    format!("the limits are {least} and {most}: expected the smaller as --at-least");
                Err(Error::cannot(message, "exchange the two"))
            }
            Some(_) => Ok(()),
            None => {
                let message = format!("the limits {least} and {most} are of two kinds");
                Err(Error::cannot(message, "give both in one unit"))
            }
        }
    }

    /// Where a figure stands; nothing where there is no limit. A figure on a limit is inside.
    fn standing(&self, found: &Quantity) -> Result<Option<Standing>, Error> {
        self.check()?;
        if self.is_open() {
            return Ok(None);
        }
        let compare = |limit: &Quantity| {
            found.compare(limit).ok_or_else(|| {
                let message = format!("{found} cannot be held against the limit {limit}");
                Error::cannot(message, &format!("give the limit in {}", found.unit()))
            })
        };
        let below = self.at_least.map(|l| compare(&l)).transpose()? == Some(Ordering::Less);
        let above = self.at_most.map(|l| compare(&l)).transpose()? == Some(Ordering::Greater);
        let words = self.words();
        Ok(Some(if below || above {
            let side = if below { "below" } else { "above" };
            Standing::Outside(format!("{found} is {side} the limit: expected {words}"))
        } else {
            Standing::Inside(format!("{found} is {words}"))
        }))
    }
}

/// A value rounded for print, ties to the even digit.
fn shown(value: Decimal, places: u32) -> String {
    let mut rounded = value.round_dp(places);
    rounded.rescale(places);
    rounded.to_string()
}

/// An error whose message says how to mend it.
macro_rules! plain {
    ($($error:ty),*) => { $(
        impl From<$error> for Error {
            fn from(error: $error) -> Error {
                Error::Cannot { message: error.to_string(), hint: None }
            }
        }
    )* };
}

impl From<SolutionError> for Error {
    fn from(error: SolutionError) -> Error {
        let hint = matches!(&error, SolutionError::Beyond { field: "conductivity", .. })
            .then(|| "state a factor you stand for as a number, as in `--factor 0.64`".to_owned());
        Error::Cannot { message: error.to_string(), hint }
    }
}

plain!(
    RemovalError,
    SurfaceError,
    CutoffError,
    crate::sampling::PlanError,
    crate::sampling::CurveError,
    crate::sampling::NameError,
    crate::decision::GuardError,
    crate::decision::ProbabilityError,
    crate::bath_log::WindowError,
    crate::roughness::ProfileError,
    crate::roughness::EvaluationError,
    crate::roughness::ImprovementError
);
