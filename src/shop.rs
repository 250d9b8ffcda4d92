//! The shop's book: who it is, its people, baths, instruments, test solutions and purchasers.
//!
//! A record names a bath, an instrument or a solution by id; the judge takes the analysis or the
//! calibration that was in force when it was used.

mod equipment;
mod people;
mod release;
mod time_stamps;
mod witness;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::Serialize;

use crate::moment::Date;
use crate::moment::Moment;
use crate::solution::Titration;
use crate::units::Quantity;

pub use equipment::InstrumentKind;
pub use equipment::OutOfService;
pub use people::MayRelease;
pub use people::Qualification;
pub use people::Work;
pub use release::Authentication;
pub use release::ReleasePolicy;
pub use time_stamps::TimeStamps;
pub use witness::Witness;

/// Identity and ways of the shop (`shop.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// Name.
    pub name: String,
    /// Postal address, line by line.
    pub address: Vec<String>,
    /// Town the certificates are issued in.
    pub place: String,
    /// Whom to ring or write about a certificate.
    pub contact: String,
    /// Register name, unique in the world: a host name the shop owns and a word.
    pub register: String,
    /// Letters before the certificate number.
    pub number_prefix: String,
    /// Paper of the certificates.
    #[serde(default)]
    pub paper: Paper,
    /// Approvals printed on certificates.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub approvals: Vec<Approval>,
    /// What every page of every certificate says, when this is no real shop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub demo: Option<String>,
    /// Most times the same pieces go through one treatment, the first included, by the shop's own procedure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_rounds: Option<u64>,
    /// How shipments are released; left out: in one step, by whoever holds the seal key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub release: Option<ReleasePolicy>,
    /// Whether every certificate has an evidence page with pictures of what was computed, asked or not.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub pictures: bool,
    /// The service that the register's heads are sent to for a time stamp; left out: none is asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time_stamps: Option<TimeStamps>,
    /// Who sees each head of the register and signs that it only grew.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub witnesses: Vec<Witness>,
    /// Whether certificates print a line for a signature by hand.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub wet_signature_line: bool,
}

/// Paper size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Paper {
    /// 210 mm by 297 mm.
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

/// An approval the shop holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Approval {
    /// What it is for.
    pub what: String,
    /// Its number.
    pub number: String,
    /// Last day it stands.
    pub until: Date,
    /// First day it stands; one that an order asks for must say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Date>,
    /// What it covers: `passivation`, `electropolishing`, or standards with or without edition.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub scope: Vec<String>,
    /// The purchaser who gave it, by id: it then counts for that purchaser only and is shown to no other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub given_by: Option<String>,
}

/// People (`people.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct People {
    /// Everyone a record or a certificate names.
    pub people: Vec<Person>,
}

/// A person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// Name, as records write it.
    pub name: String,
    /// Function in the shop.
    pub function: String,
    /// From which day the person may release shipments; left out: never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub may_release_from: Option<Date>,
    /// Last day of that authority; left out: open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub may_release_until: Option<Date>,
    /// Whose shipments: `all`, or purchasers by id; left out: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub may_release: Option<MayRelease>,
    /// What the person is qualified for, and when.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub qualified: Vec<Qualification>,
}

/// Baths (`baths.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Baths {
    /// Every bath of the line.
    pub baths: Vec<Bath>,
}

/// A bath and its analyses over time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bath {
    /// Id, as records write it.
    pub bath: String,
    /// What it is.
    pub what: String,
    /// What it is made up of, dissolved metal apart; a proprietary mix by its identifier.
    pub ingredients: Vec<String>,
    /// Thermometer on the bath, by its id.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thermometer: Option<String>,
    /// Longest age of an analysis at the time of use, by the shop's own procedure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analysis_good_for: Option<Quantity>,
    /// Analyses, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub analyses: Vec<Analysis>,
    /// Rectifier of an electropolishing bath, by its id; current density and voltage are read off it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rectifier: Option<String>,
}

/// One analysis of a bath.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Analysis {
    /// When the sample was drawn.
    pub at: Moment,
    /// Who analysed it.
    pub by: String,
    /// Found, by constituent.
    pub found: BTreeMap<Constituent, Quantity>,
    /// Titrations it rests on; what was found must agree with what they come to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub titrations: Vec<Titration>,
}

/// What a bath is analysed for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Constituent {
    /// Nitric acid, per cent by volume.
    #[serde(rename = "nitric acid")]
    NitricAcid,
    /// Sodium dichromate dihydrate, per cent by mass.
    #[serde(rename = "sodium dichromate")]
    SodiumDichromate,
    /// Citric acid, per cent by mass.
    #[serde(rename = "citric acid")]
    CitricAcid,
    /// Acidity.
    #[serde(rename = "pH")]
    Ph,
    /// Sulfuric acid of an electropolishing bath.
    #[serde(rename = "sulfuric acid")]
    SulfuricAcid,
    /// Phosphoric acid of an electropolishing bath.
    #[serde(rename = "phosphoric acid")]
    PhosphoricAcid,
    /// Dissolved iron.
    #[serde(rename = "iron")]
    Iron,
}

/// Instruments (`instruments.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Instruments {
    /// Every gauge, meter, thermometer and chamber a record names.
    pub instruments: Vec<Instrument>,
}

/// An instrument and its calibrations over time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// Id, as records write it.
    pub instrument: String,
    /// What it is.
    pub what: String,
    /// Calibrations, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub calibrations: Vec<Calibration>,
    /// Its kind; said of every instrument of the book or of none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<InstrumentKind>,
    /// When it was not to be used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub out_of_service: Vec<OutOfService>,
}

/// One calibration.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// Day it was calibrated.
    pub on: Date,
    /// Last day the calibration is good for.
    pub due: Date,
    /// Its certificate or report number.
    pub certificate: String,
    /// Whether the instrument was found within its limits.
    pub passed: bool,
    /// Expanded uncertainty (k = 2) of a reading, as its report states it: `0.4 °F`. A difference, not a temperature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uncertainty: Option<Quantity>,
}

/// Test solutions (`solutions.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solutions {
    /// Every batch a record names.
    pub solutions: Vec<Solution>,
}

/// One batch of a test solution.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solution {
    /// Id, as records write it.
    pub solution: String,
    /// What it is for: the name of the test.
    pub what: String,
    /// When it was mixed.
    pub mixed: Moment,
    /// Who mixed it.
    pub by: String,
    /// What went in, by ingredient.
    #[serde(default)]
    pub recipe: BTreeMap<Ingredient, Quantity>,
}

/// What goes into a test solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Ingredient {
    /// Copper sulfate pentahydrate.
    #[serde(rename = "copper sulfate pentahydrate")]
    CopperSulfate,
    /// Sulfuric acid, specific gravity 1.84.
    #[serde(rename = "sulfuric acid")]
    SulfuricAcid,
    /// Potassium ferricyanide.
    #[serde(rename = "potassium ferricyanide")]
    PotassiumFerricyanide,
    /// Nitric acid, 70 %.
    #[serde(rename = "nitric acid")]
    NitricAcid,
    /// Distilled water the solids are dissolved in.
    #[serde(rename = "distilled water")]
    DistilledWater,
    /// Volume after dilution.
    #[serde(rename = "made up to")]
    MadeUpTo,
}

/// Purchasers (`purchasers.yaml`).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Purchasers {
    /// Everyone the shop works for.
    pub purchasers: Vec<Purchaser>,
}

/// A purchaser.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Purchaser {
    /// Id, as orders write it.
    pub id: String,
    /// Name.
    pub name: String,
    /// Postal address, line by line.
    pub address: Vec<String>,
    /// Years the files its certificates rest on are kept; left out: without end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_years: Option<u32>,
    /// That they are kept whatever the day, and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub legal_hold: Option<LegalHold>,
}

/// That nothing of a purchaser's may go for now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LegalHold {
    /// Since when.
    pub since: Date,
    /// Who said so.
    pub by: String,
    /// Why.
    pub why: String,
}

impl Bath {
    /// The analysis in force at `when`: the latest drawn no later than that.
    pub fn analysis_at(&self, when: &Moment) -> Option<(usize, &Analysis)> {
        self.analyses.iter().enumerate().filter(|(_, a)| a.at <= *when).max_by_key(|(_, a)| a.at)
    }
}

impl Instrument {
    /// The calibration in force on `day`: the latest made no later than that; of two made on one day, one found
    /// out of limits, because nobody can tell which came first.
    pub fn calibration_on(&self, day: Date) -> Option<(usize, &Calibration)> {
        let made = self.calibrations.iter().enumerate().filter(|(_, c)| c.on <= day);
        made.max_by_key(|(_, c)| (c.on, !c.passed))
    }
}
