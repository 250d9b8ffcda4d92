//! A titration as the bench sheet has it.

use std::fmt;

use rust_decimal::Decimal;
use serde::Deserialize;
use serde::Serialize;

use crate::units::Quantity;

/// One titration of a bath: what was read, nothing computed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Titration {
    /// What is determined.
    pub what: Analyte,
    /// Bath taken, mL.
    pub sample: Quantity,
    /// Normality of the titrant: `1.000 N`, the same as mol/L of sodium hydroxide, thiosulfate or silver
    /// nitrate.
    pub titrant: Quantity,
    /// Titrant used, mL; in its place both readings of the burette may stand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume: Option<Quantity>,
    /// First and last reading of the burette.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub burette: Option<Burette>,
    /// Titrant a blank took, mL; it is taken off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blank: Option<Quantity>,
    /// What the strength is stated as. Chloride has none, everything else must have one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// Density of the bath, g/mL, for per cent by mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density: Option<Quantity>,
    /// What showed the end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub indicator: Option<Indicator>,
    /// Whether metals are dissolved in the bath. Left out: they may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dissolved_metals: Option<bool>,
    /// How well the readings are known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Uncertainty>,
}

/// Two readings of a burette, mL. A burette is numbered downwards, so the last is the larger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Burette {
    /// Before.
    pub from: Quantity,
    /// After.
    pub to: Quantity,
}

/// Standard uncertainties (`k = 1`), each in the unit of its reading. A maker's tolerance `± a` is brought in
/// as `a / √3` (rectangular distribution, JCGM 100:2008, 4.3.7). All three must be given: leaving one out
/// would understate the result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Uncertainty {
    /// Of the sample's volume, mL.
    pub sample: Quantity,
    /// Of the titrant used: both readings, end point and blank together, mL.
    pub volume: Quantity,
    /// Of the normality.
    pub titrant: Quantity,
    /// Of the density, g/mL. Left out: the density counts as exact.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density: Option<Quantity>,
}

macro_rules! named {
    ($(#[$meta:meta])* $type:ident { $( $name:ident, $text:literal, $doc:literal; )* }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $type { $( #[doc = $doc] #[serde(rename = $text)] $name, )* }

        impl $type {
            /// All of them.
            pub const ALL: &'static [$type] = &[ $( $type::$name ),* ];

            /// As written in a record.
            pub const fn name(self) -> &'static str { match self { $( $type::$name => $text ),* } }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result { f.write_str(self.name()) }
        }
    };
}

named! {
    /// What a titration determines.
    Analyte {
        NitricAcid, "nitric acid", "Nitric acid by sodium hydroxide, one acidic hydrogen.";
        CitricAcid, "citric acid", "Citric acid by sodium hydroxide, three acidic hydrogens.";
        SodiumDichromate, "sodium dichromate", "Sodium dichromate by iodide and thiosulfate, six \
        equivalents.";
        Chloride, "chloride", "Chloride by silver nitrate in neutral solution (Mohr).";
    }
}

named! {
    /// What a strength is stated as: which concentrate 100 vol% is, or which crystals are weighed in.
    Basis {
        Baume42, "42 °Bé", "Nitric acid of 42 °Bé, 67.2 wt% (recalled), 15.0 mol/L: the trade's reading.";
        Percent67, "67 %", "Nitric acid of 67 wt%, 14.89 mol/L.";
        Percent68, "68 %", "Nitric acid of 68 wt% (azeotrope), 15.16 mol/L.";
        Molar15p5, "15.5 mol/L", "Nitric acid of 15.5 mol/L, which a published factor of 6.45 rests on.";
        Percent70, "70 %", "Nitric acid of 70 wt% (reagent), 15.7 mol/L.";
        Monohydrate, "monohydrate", "Citric acid with its crystal water, 210.14 g/mol.";
        Dihydrate, "dihydrate", "Sodium dichromate with its crystal water, 297.995 g/mol.";
        Anhydrous, "anhydrous", "Citric acid 192.12 g/mol or sodium dichromate 261.965 g/mol, without water.";
    }
}

named! {
    /// What showed the end of a titration.
    Indicator {
        MethylOrange, "methyl orange", "Changes at about pH 4: before dissolved metals take up alkali.";
        Phenolphthalein, "phenolphthalein", "Changes at about pH 8.";
        Starch, "starch", "Blue with iodine, gone at the end.";
        Chromate, "potassium chromate", "Red silver chromate once chloride is gone.";
        Meter, "electrode", "A pH, redox or silver electrode and its curve.";
    }
}

impl Analyte {
    /// The bases its strength may be stated on; none for chloride.
    pub const fn bases(self) -> &'static [Basis] {
        match self {
            Analyte::NitricAcid => {
                &[Basis::Baume42, Basis::Percent67, Basis::Percent68, Basis::Molar15p5, Basis::Percent70]
            }
            Analyte::CitricAcid => &[Basis::Monohydrate, Basis::Anhydrous],
            Analyte::SodiumDichromate => &[Basis::Dihydrate, Basis::Anhydrous],
            Analyte::Chloride => &[],
        }
    }

    /// The indicators that show its end (common practice). Methyl orange changes before citric acid has given
    /// its third hydrogen.
    pub const fn indicators(self) -> &'static [Indicator] {
        match self {
            Analyte::NitricAcid => &[Indicator::MethylOrange, Indicator::Phenolphthalein, Indicator::Meter],
            Analyte::CitricAcid => &[Indicator::Phenolphthalein, Indicator::Meter],
            Analyte::SodiumDichromate => &[Indicator::Starch, Indicator::Meter],
            Analyte::Chloride => &[Indicator::Chromate, Indicator::Meter],
        }
    }
}

impl Basis {
    /// Nitric acid in the concentrate that counts as 100 vol%, mol/L; `None` for a basis of crystals.
    ///
    /// 15.0 and 15.7 as published; 15.5 read back from a published factor of 6.45 per mL; 14.89 and 15.16
    /// from handbook densities at 20 °C, the first interpolated.
    pub fn concentrate(self) -> Option<Decimal> {
        match self {
            Basis::Baume42 => Some(Decimal::new(150, 1)),
            Basis::Percent67 => Some(Decimal::new(1489, 2)),
            Basis::Percent68 => Some(Decimal::new(1516, 2)),
            Basis::Molar15p5 => Some(Decimal::new(155, 1)),
            Basis::Percent70 => Some(Decimal::new(157, 1)),
            Basis::Monohydrate | Basis::Dihydrate | Basis::Anhydrous => None,
        }
    }
}
