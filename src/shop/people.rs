//! What people are qualified for, and for whom they may release.

use std::fmt;

use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::Serializer;
use serde::de::Error;
use serde::de::SeqAccess;
use serde::de::Visitor;

use crate::moment::Date;
use crate::shop::Person;

/// Work a person is qualified for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Work {
    /// Passivation baths and the treatment after them.
    Passivation,
    /// Electropolishing and the dip after it.
    Electropolishing,
    /// Cleaning and descaling.
    Cleaning,
    /// Tests on pieces, test solutions and bath analyses.
    Testing,
    /// Looks at the finished surface.
    Inspection,
    /// Gauge readings on finished pieces.
    Measuring,
}

impl Work {
    /// Its name in `people.yaml` and in reports.
    pub const fn name(self) -> &'static str {
        match self {
            Work::Passivation => "passivation",
            Work::Electropolishing => "electropolishing",
            Work::Cleaning => "cleaning",
            Work::Testing => "testing",
            Work::Inspection => "inspection",
            Work::Measuring => "measuring",
        }
    }
}

/// That a person was found able to do some work, from a day on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Qualification {
    /// The work.
    #[serde(rename = "for")]
    pub work: Work,
    /// First day it stands.
    pub from: Date,
    /// Last day it stands; left out: open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Date>,
    /// What shows it: a training record, an eye test; never judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
}

impl Qualification {
    /// Whether it stands on a day.
    pub fn in_force(&self, day: Date) -> bool {
        self.from <= day && self.until.is_none_or(|until| day <= until)
    }
}

impl Person {
    /// The qualification for any of these kinds of work that stands on `day`, the newest; when none does, the
    /// latest that began by then, with its place in the list.
    pub fn qualification_on(&self, work: &[Work], day: Date) -> Option<(usize, &Qualification)> {
        let begun = self.qualified.iter().enumerate().filter(|(_, q)| q.from <= day);
        begun.filter(|(_, q)| work.contains(&q.work)).max_by_key(|(_, q)| (q.in_force(day), q.from, q.until))
    }
}

/// Whose shipments a person may release: `all`, or a list of purchasers by id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MayRelease {
    /// Everyone's.
    All,
    /// These purchasers' only.
    Only(Vec<String>),
}

impl MayRelease {
    /// Whether a purchaser's shipments are among them.
    pub fn covers(&self, purchaser: &str) -> bool {
        match self {
            MayRelease::All => true,
            MayRelease::Only(ids) => ids.iter().any(|id| id == purchaser),
        }
    }
}

impl Serialize for MayRelease {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            MayRelease::All => serializer.serialize_str("all"),
            MayRelease::Only(ids) => ids.serialize(serializer),
        }
    }
}

impl<'de> Deserialize<'de> for MayRelease {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = MayRelease;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("`all`, or a list of purchasers by id")
            }

            fn visit_str<E: Error>(self, text: &str) -> Result<MayRelease, E> {
                match text {
                    "all" => Ok(MayRelease::All),
                    other => Err(E::custom(format!(
                        "`{other}` is neither `all` nor a list of purchasers, as in [{other}]"
                    ))),
                }
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<MayRelease, A::Error> {
                let mut ids = Vec::new();
                while let Some(id) = items.next_element::<String>()? {
                    ids.push(id);
                }
                Ok(MayRelease::Only(ids))
            }
        }
        deserializer.deserialize_any(Either)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::yaml;

    fn person(qualified: &str) -> Person {
        yaml::parse(&format!("name: A\nfunction: b\nqualified: {qualified}\n")).unwrap()
    }

    #[test]
    fn the_qualification_in_force_is_found_among_older_ones() {
        let a = person(
            "[{ for: cleaning, from: 2025-01-01, until: 2025-12-31 }, { for: cleaning, from: 2026-02-01 }, \
             { for: testing, from: 2026-01-01 }]",
        );
        let on = |day: &str| {
            let found = a.qualification_on(&[Work::Cleaning], day.parse().unwrap());
            found.map(|(i, q)| (i, q.in_force(day.parse().unwrap())))
        };
        assert_eq!(on("2024-12-31"), None);
        assert_eq!(on("2025-01-01"), Some((0, true)));
        assert_eq!(on("2025-12-31"), Some((0, true)));
        assert_eq!(on("2026-01-15"), Some((0, false)));
        assert_eq!(on("2026-02-01"), Some((1, true)));
        assert!(a.qualification_on(&[Work::Inspection], "2026-02-01".parse().unwrap()).is_none());
    }

    /// A renewal written down before the old one ends must not shorten it.
    #[test]
    fn overlapping_qualifications_do_not_hide_each_other() {
        let a = person(
            "[{ for: cleaning, from: 2025-01-01 }, { for: cleaning, from: 2025-06-01, until: 2025-06-30 }]",
        );
        let (i, q) = a.qualification_on(&[Work::Cleaning], "2025-08-01".parse().unwrap()).unwrap();
        assert_eq!((i, q.in_force("2025-08-01".parse().unwrap())), (0, true));
    }

    #[test]
    fn release_reads_as_all_or_a_list() {
        let read = |text: &str| yaml::parse::<MayRelease>(text);
        assert_eq!(read("all\n").unwrap(), MayRelease::All);
        let only = read("[quillmark, orrery]\n").unwrap();
        assert!(only.covers("orrery") && !only.covers("halyard") && !only.covers("all"));
        assert!(!read("[]\n").unwrap().covers("quillmark"));
        for refused in ["quillmark\n", "All\n", "true\n", "{ all: yes }\n", "[[quillmark]]\n"] {
            assert!(read(refused).is_err(), "{refused}");
        }
        let json = serde_json::to_value(&only).unwrap();
        assert_eq!(json, serde_json::json!(["quillmark", "orrery"]));
        assert_eq!(serde_json::from_value::<MayRelease>(json).unwrap(), only);
    }
}
