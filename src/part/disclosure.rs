//! What the purchaser may see of what the shop recorded. Findings are always disclosed; everything else here is
//! withheld unless the order or the part specification says otherwise, the order before the part.

use serde::Deserialize;
use serde::Serialize;

/// What is disclosed to the purchaser, item by item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Discloses {
    /// What baths are made up of and were analysed to hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bath_chemistry: Option<YesNo>,
    /// Names of the shop's people; without them their functions are printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub names: Option<YesNo>,
    /// Counts of pieces that were not accepted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scrap: Option<YesNo>,
    /// The full record and the papers it was judged by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub record: Option<YesNo>,
}

/// Yes or no, in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum YesNo {
    /// It is disclosed.
    Yes,
    /// It is withheld.
    No,
}

/// Something that is withheld.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Item {
    /// What baths are made up of and were analysed to hold.
    #[serde(rename = "bath chemistry")]
    BathChemistry,
    /// Names of the shop's people.
    #[serde(rename = "names of the shop's people")]
    Names,
    /// Counts of pieces that were not accepted.
    #[serde(rename = "counts of pieces not accepted")]
    Scrap,
    /// The full record and the papers it was judged by.
    #[serde(rename = "the full record")]
    Record,
}

impl Item {
    /// Every item, in the order they are printed.
    pub const ALL: [Item; 4] = [Item::BathChemistry, Item::Names, Item::Scrap, Item::Record];
}

impl Discloses {
    /// What is said of an item, if anything is.
    pub const fn says(&self, item: Item) -> Option<YesNo> {
        match item {
            Item::BathChemistry => self.bath_chemistry,
            Item::Names => self.names,
            Item::Scrap => self.scrap,
            Item::Record => self.record,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::yaml;

    #[test]
    fn yes_and_no_are_words() {
        let read: Discloses = yaml::parse("{ names: yes, scrap: no }\n").unwrap();
        assert_eq!(read.says(Item::Names), Some(YesNo::Yes));
        assert_eq!(read.says(Item::Scrap), Some(YesNo::No));
        assert_eq!(read.says(Item::Record), None);
        for refused in
            ["{ names: true }\n", "{ name: yes }\n", "{ names: maybe }\n", "yes\n", "{ names: [] }\n"]
        {
            assert!(yaml::parse::<Discloses>(refused).is_err(), "{refused}");
        }
    }
}
