//! Names of sampling plans, as an order writes them. One plan has one spelling.

use std::fmt;
use std::str::FromStr;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;

use crate::sampling::Aql;
use crate::sampling::Level;
use crate::sampling::Severity;
use crate::sampling::zero::millionths;

/// Level of ASTM B602 for tests that do not destroy the piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum B602Level {
    /// AQL 0.65.
    I,
    /// AQL 1.5.
    II,
    /// AQL 2.5.
    III,
}

impl B602Level {
    /// Acceptable quality level its table is built on.
    pub fn aql(self) -> Option<Aql> {
        Aql::of(match self {
            B602Level::I => "0.65",
            B602Level::II => "1.5",
            B602Level::III => "2.5",
        })
    }
}

/// Standard whose plans are indexed by level and AQL.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Standard {
    /// MIL-STD-105E (1989).
    MilStd105E,
    /// ANSI/ASQ Z1.4 (2003 and later).
    Z14,
    /// ISO 2859-1 (1999 and later).
    Iso2859,
}

impl Standard {
    /// All of them.
    pub const ALL: [Standard; 3] = [Standard::MilStd105E, Standard::Z14, Standard::Iso2859];

    /// As orders write it.
    pub const fn name(self) -> &'static str {
        match self {
            Standard::MilStd105E => "MIL-STD-105E",
            Standard::Z14 => "ANSI/ASQ Z1.4",
            Standard::Iso2859 => "ISO 2859-1",
        }
    }
}

/// Zero acceptance: a lot as bad as `ltpd` is accepted with at most `risk`, both in per cent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Zero {
    ltpd: Decimal,
    risk: Decimal,
}

impl Zero {
    /// Lot tolerance per cent defective: share of nonconforming pieces that should be found.
    pub const fn ltpd(&self) -> Decimal {
        self.ltpd
    }

    /// Consumer's risk: probability of accepting such a lot all the same.
    pub const fn risk(&self) -> Decimal {
        self.risk
    }
}

/// A sampling plan by name. Serde reads and writes the name as a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Name {
    /// `B602 level II`.
    B602(B602Level),
    /// `MIL-STD-105E level II AQL 1.5`, with ` tightened` or ` reduced` where inspection does not begin normal.
    Indexed {
        /// The standard.
        standard: Standard,
        /// Inspection level.
        level: Level,
        /// Acceptable quality level.
        aql: Aql,
        /// Severity with which inspection begins.
        begins: Severity,
    },
    /// `ISO 4519 AQL 1.5`; 1.5 and 4.0 are the two it has.
    Iso4519(Aql),
    /// `c=0 LTPD 5 % risk 10 %`.
    Zero(Zero),
    /// `100 %`: every piece.
    Every,
}

/// Why a text names no sampling plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NameError {
    /// Nothing that begins like a plan.
    #[error(
        "`{0}` names no sampling plan: expected `B602 level II`, `MIL-STD-105E level II AQL 1.5`, `ANSI/ASQ Z1.4 \
         level II AQL 0.65 tightened`, `ISO 2859-1 level S-2 AQL 1.0`, `ISO 4519 AQL 1.5`, `c=0 LTPD 5 % risk 10 %` \
         or `100 %`"
    )]
    Unknown(String),
    /// A level that does not exist.
    #[error("`{text}`: level `{found}`, expected one of {allowed}")]
    Level {
        /// The whole text.
        text: String,
        /// What stands for the level.
        found: String,
        /// Levels there are.
        allowed: String,
    },
    /// A quality level that does not exist.
    #[error("`{text}`: AQL `{found}`, expected one of {allowed}{}", crate::units::did_you_mean(near))]
    Aql {
        /// The whole text.
        text: String,
        /// What stands for the AQL.
        found: String,
        /// Levels there are.
        allowed: String,
        /// The one of the same value, if any.
        near: Vec<String>,
    },
    /// Words after the plan.
    #[error("`{text}`: `{found}` after the AQL, expected nothing, `tightened` or `reduced`")]
    Severity {
        /// The whole text.
        text: String,
        /// What follows.
        found: String,
    },
    /// A share that is none.
    #[error(
        "`{text}`: {which} `{found}`, expected a number above 0 {limit}, with at most 4 decimals, as in `5 %`; \
         write no zero that says nothing"
    )]
    Share {
        /// The whole text.
        text: String,
        /// `LTPD` or `risk`.
        which: &'static str,
        /// What stands for it.
        found: String,
        /// Its upper limit, in words.
        limit: &'static str,
    },
}

impl Name {
    /// Severity with which inspection begins.
    pub const fn begins(&self) -> Severity {
        match self {
            Name::Indexed { begins, .. } => *begins,
            _ => Severity::Normal,
        }
    }

    /// Whether inspection of this plan gets stricter and laxer with its history. B602 says that its plans do not.
    pub const fn switches(&self) -> bool {
        matches!(self, Name::Indexed { .. })
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Name::B602(B602Level::I) => f.write_str("B602 level I"),
            Name::B602(B602Level::II) => f.write_str("B602 level II"),
            Name::B602(B602Level::III) => f.write_str("B602 level III"),
            Name::Indexed { standard, level, aql, begins } => {
                write!(f, "{} level {level} AQL {aql}", standard.name())?;
                match begins {
                    Severity::Normal => Ok(()),
                    other => write!(f, " {other}"),
                }
            }
            Name::Iso4519(aql) => write!(f, "ISO 4519 AQL {aql}"),
            Name::Zero(zero) => write!(f, "c=0 LTPD {} % risk {} %", zero.ltpd, zero.risk),
            Name::Every => f.write_str("100 %"),
        }
    }
}

impl FromStr for Name {
    type Err = NameError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let unknown = || NameError::Unknown(text.to_owned());
        if text == "100 %" {
            return Ok(Name::Every);
        }
        if let Some(level) = text.strip_prefix("B602 level ") {
            return match level {
                "I" => Ok(Name::B602(B602Level::I)),
                "II" => Ok(Name::B602(B602Level::II)),
                "III" => Ok(Name::B602(B602Level::III)),
                _ => Err(NameError::Level {
                    text: text.to_owned(),
                    found: level.to_owned(),
                    allowed: "I, II, III".to_owned(),
                }),
            };
        }
        if let Some(found) = text.strip_prefix("ISO 4519 AQL ") {
            let aql = Aql::of(found).filter(|aql| ["1.5", "4.0"].contains(&aql.name()));
            return aql.map(Name::Iso4519).ok_or_else(|| no_aql(text, found, &["1.5", "4.0"]));
        }
        if let Some(rest) = text.strip_prefix("c=0 LTPD ") {
            let (ltpd, risk) = rest.split_once(" risk ").ok_or_else(unknown)?;
            let ltpd = share(text, "LTPD", ltpd, true)?;
            let risk = share(text, "risk", risk, false)?;
            return Ok(Name::Zero(Zero { ltpd, risk }));
        }
        for standard in Standard::ALL {
            let rest = text.strip_prefix(standard.name()).and_then(|rest| rest.strip_prefix(" level "));
            if let Some(rest) = rest {
                return indexed(text, standard, rest);
            }
        }
        Err(unknown())
    }
}

/// Reads what follows `level`.
fn indexed(text: &str, standard: Standard, rest: &str) -> Result<Name, NameError> {
    let (word, rest) = rest.split_once(" AQL ").ok_or_else(|| NameError::Unknown(text.to_owned()))?;
    let level = Level::of(word).ok_or_else(|| NameError::Level {
        text: text.to_owned(),
        found: word.to_owned(),
        allowed: Level::ALL.map(Level::name).join(", "),
    })?;
    let (word, after) = match rest.split_once(' ') {
        Some((word, after)) => (word, Some(after)),
        None => (rest, None),
    };
    let aql = Aql::of(word).ok_or_else(|| no_aql(text, word, &Aql::SERIES))?;
    let begins = match after {
        None => Severity::Normal,
        Some("tightened") => Severity::Tightened,
        Some("reduced") => Severity::Reduced,
        Some(other) => {
            return Err(NameError::Severity { text: text.to_owned(), found: other.to_owned() });
        }
    };
    Ok(Name::Indexed { standard, level, aql, begins })
}

fn no_aql(text: &str, found: &str, allowed: &[&str]) -> NameError {
    let near = found.parse::<Decimal>().ok().and_then(Aql::near).map(|aql| aql.name().to_owned());
    NameError::Aql {
        text: text.to_owned(),
        found: found.to_owned(),
        allowed: allowed.join(", "),
        near: near.into_iter().filter(|n| allowed.contains(&n.as_str())).collect(),
    }
}

/// Reads `5 %`.
fn share(text: &str, which: &'static str, found: &str, whole: bool) -> Result<Decimal, NameError> {
    let limit = if whole { "and at most 100" } else { "and below 100" };
    let wrong = || NameError::Share { text: text.to_owned(), which, found: found.to_owned(), limit };
    let number = found.strip_suffix(" %").ok_or_else(wrong)?;
    let value: Decimal = number.parse().map_err(|_| wrong())?;
    let scaled = millionths(value).ok_or_else(wrong)?;
    let fits = scaled < 1_000_000 || (whole && scaled == 1_000_000);
    // Written back it must read the same: no sign, no leading or trailing zero.
    (fits && value.normalize().to_string() == number).then_some(value).ok_or_else(wrong)
}

impl Serialize for Name {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}
