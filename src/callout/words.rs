//! What a reading assumes and what it asks back: closed lists, each with a short word and a sentence for people.

use serde::Serialize;

/// What was taken for granted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Assumption {
    /// A designation of one unit system means the standard of both.
    PackFamily,
    /// A type without a method.
    TypeIsMethod,
    /// No treatment named where the shop may choose.
    ShopChooses,
    /// No class named, and the standard has a default.
    DefaultClass,
    /// A misspelt word for passivation.
    PassivationMeant,
    /// A misspelt word for electropolish.
    ElectropolishMeant,
    /// RMS read as Rq.
    RmsAsRq,
    /// A bare roughness is the most allowed.
    SingleIsAtMost,
    /// An N grade read as Ra.
    RoughnessGrade,
    /// A second figure in brackets says the same in another unit.
    BracketConverts,
    /// Stock removal counts for each side.
    RemovalPerSide,
}

impl Assumption {
    /// Every assumption.
    pub const ALL: &'static [Assumption] = &[
        Assumption::PackFamily,
        Assumption::TypeIsMethod,
        Assumption::ShopChooses,
        Assumption::DefaultClass,
        Assumption::PassivationMeant,
        Assumption::ElectropolishMeant,
        Assumption::RmsAsRq,
        Assumption::SingleIsAtMost,
        Assumption::RoughnessGrade,
        Assumption::BracketConverts,
        Assumption::RemovalPerSide,
    ];

    /// Its short word.
    pub const fn word(self) -> &'static str {
        match self {
            Assumption::PackFamily => "edition of the pack family",
            Assumption::TypeIsMethod => "type is method 1",
            Assumption::ShopChooses => "shop chooses treatment",
            Assumption::DefaultClass => "class 2 by default",
            Assumption::PassivationMeant => "passivation is meant",
            Assumption::ElectropolishMeant => "electropolish is meant",
            Assumption::RmsAsRq => "rms as Rq",
            Assumption::SingleIsAtMost => "single value is at most",
            Assumption::RoughnessGrade => "N grade",
            Assumption::BracketConverts => "bracket is a conversion",
            Assumption::RemovalPerSide => "removal is per side",
        }
    }

    /// What was found and how it is read; `about` is what it was found on.
    pub fn sentence(self, about: &str) -> String {
        match self {
            Assumption::PackFamily => {
                format!("The designation is written for one unit system only: read as {about}.")
            }
            Assumption::TypeIsMethod => format!("A type is named and no method: read as {about}."),
            Assumption::ShopChooses => {
                format!("No treatment is named and {about} does not ask for one: the shop chooses it.")
            }
            Assumption::DefaultClass => format!("No class is named: the default of {about} stands."),
            Assumption::PassivationMeant => format!("`{about}` is misspelt: read as passivate."),
            Assumption::ElectropolishMeant => format!("`{about}` is misspelt: read as electropolish."),
            Assumption::RmsAsRq => {
                format!("RMS is an old word for a root mean square: {about} is read as Rq.")
            }
            Assumption::SingleIsAtMost => {
                format!("{about} stands without MAX or MIN: read as the most allowed.")
            }
            Assumption::RoughnessGrade => format!("{about}, as the grades of roughness are tabled."),
            Assumption::BracketConverts => {
                format!("{about} in brackets is taken for the same limit in another unit, and passed over.")
            }
            Assumption::RemovalPerSide => {
                format!("Stock removal of {about} names no side: read as removal from each surface.")
            }
        }
    }
}

/// What must be asked before the reading can be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Ask {
    /// No edition is named.
    Edition,
    /// The edition named is none of the pack's.
    EditionUnknown,
    /// The edition or the standard has been replaced.
    Superseded,
    /// Nothing serves what is asked for.
    Standard,
    /// A designation no pack has.
    StandardUnknown,
    /// Two things joined by OR.
    Alternative,
    /// OR EQUIVALENT.
    Equivalent,
    /// Another paper is pointed at.
    Document,
    /// No treatment, or half of its name.
    Treatment,
    /// A treatment the standard does not have.
    TreatmentUnknown,
    /// Two things that cannot both hold.
    Contradiction,
    /// A treatment that needs the purchaser's authorization.
    Authorization,
    /// No class, where the parts have one of their own.
    Class,
    /// No test, where one must be named.
    Test,
    /// A test the standard does not have.
    TestUnknown,
    /// A test without its duration.
    Duration,
    /// A sampling standard without its level.
    Level,
    /// A figure without its unit.
    Unit,
    /// A roughness without its parameter.
    Parameter,
    /// A removal of which it is not said whether it is the least or the most.
    Direction,
    /// A removal on the diameter or in total.
    PerSide,
    /// A figure no call-out can hold.
    NotCarried,
    /// Something left out or forbidden.
    Negation,
}

impl Ask {
    /// Every question.
    pub const ALL: &'static [Ask] = &[
        Ask::Edition,
        Ask::EditionUnknown,
        Ask::Superseded,
        Ask::Standard,
        Ask::StandardUnknown,
        Ask::Alternative,
        Ask::Equivalent,
        Ask::Document,
        Ask::Treatment,
        Ask::TreatmentUnknown,
        Ask::Contradiction,
        Ask::Authorization,
        Ask::Class,
        Ask::Test,
        Ask::TestUnknown,
        Ask::Duration,
        Ask::Level,
        Ask::Unit,
        Ask::Parameter,
        Ask::Direction,
        Ask::PerSide,
        Ask::NotCarried,
        Ask::Negation,
    ];

    /// Its short word.
    pub const fn word(self) -> &'static str {
        match self {
            Ask::Edition => "edition",
            Ask::EditionUnknown => "edition unknown",
            Ask::Superseded => "superseded",
            Ask::Standard => "standard",
            Ask::StandardUnknown => "standard unknown",
            Ask::Alternative => "alternative",
            Ask::Equivalent => "equivalent",
            Ask::Document => "document",
            Ask::Treatment => "treatment",
            Ask::TreatmentUnknown => "treatment unknown",
            Ask::Contradiction => "contradiction",
            Ask::Authorization => "authorization",
            Ask::Class => "class",
            Ask::Test => "test",
            Ask::TestUnknown => "test unknown",
            Ask::Duration => "duration",
            Ask::Level => "level",
            Ask::Unit => "unit",
            Ask::Parameter => "parameter",
            Ask::Direction => "direction",
            Ask::PerSide => "per side",
            Ask::NotCarried => "not carried",
            Ask::Negation => "negation",
        }
    }

    /// What was found and what to do; `about` is what it was found on.
    pub fn sentence(self, about: &str) -> String {
        match self {
            Ask::Edition => format!("No edition is named: ask which edition of {about} the order means."),
            Ask::EditionUnknown => {
                format!("The edition named is none the packs have: ask which edition of {about} is meant.")
            }
            Ask::Superseded => format!("{about}: ask whether the order still means the replaced text."),
            Ask::Standard => format!("{about} is asked for and no standard that serves it: ask which."),
            Ask::StandardUnknown => {
                format!(
                    "`{about}` is no standard of the packs: ask what it demands of the finish, if anything."
                )
            }
            Ask::Alternative => format!("{about} are left to choose from: ask which one the order means."),
            Ask::Equivalent => {
                format!("An equivalent of {about} is allowed: ask which, or that {about} itself is taken.")
            }
            Ask::Document => format!("The text points at `{about}`: ask for it and read what it calls for."),
            Ask::Treatment => format!("{about}: ask which treatment is ordered."),
            Ask::TreatmentUnknown => format!("{about}: ask which treatment is meant."),
            Ask::Contradiction => format!("{about} cannot hold as written: ask what is meant."),
            Ask::Authorization => {
                format!(
                    "{about} needs the purchaser's authorization, which the text does not give: ask for it."
                )
            }
            Ask::Class => {
                format!(
                    "The parts are fasteners or standard parts and no class of {about} is named: ask which."
                )
            }
            Ask::Test => format!("{about} must be shown by a test and none is named: ask which."),
            Ask::TestUnknown => format!("{about}: ask which test is meant."),
            Ask::Duration => format!("{about} does not say how long the test lasts: ask for its duration."),
            Ask::Level => format!("{about} is named without a level it has: ask which level."),
            Ask::Unit => format!("{about} has no unit: ask which."),
            Ask::Parameter => format!("{about} names no parameter: ask whether Ra, Rq or Rz is meant."),
            Ask::Direction => {
                format!("Stock removal of {about} is neither least nor most: ask which, or for both limits.")
            }
            Ask::PerSide => {
                format!("Stock removal of {about} is not stated for each side: ask for that figure.")
            }
            Ask::NotCarried => {
                format!("Nothing read here holds {about}: let a person hold it against the standard.")
            }
            Ask::Negation => format!("The text leaves out or forbids `{about}`: ask what is meant by it."),
        }
    }
}

/// An assumption or a question with what it was found on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said<W> {
    /// Which.
    pub what: W,
    /// What it was found on.
    pub about: String,
}
