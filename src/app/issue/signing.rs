//! Who signs a batch of certificates: the releaser, and for each shipment whoever prepared it.

use std::collections::BTreeMap;

use serde_json::Value;
use serde_json::json;

use crate::certificate::How;
use crate::certificate::PREPARED;
use crate::certificate::RELEASED;
use crate::certificate::Signature;
use crate::shop::Person;

/// Who prepared a shipment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prepared {
    /// Name.
    pub person: String,
    /// Function at that time.
    pub function: String,
    /// How the person was known.
    pub how: How,
    /// When: RFC 3339, with the shop's offset.
    pub at: String,
    /// The register's entry of it; an amendment is prepared and released in one go and has none.
    pub entry: Option<u64>,
}

/// The hands of one batch.
pub struct Signing {
    /// Who releases.
    pub(in crate::app) person: Person,
    /// How the releaser was known.
    pub(in crate::app) how: How,
    /// Who prepared, by shipment key.
    pub(in crate::app) prepared: BTreeMap<String, Prepared>,
}

impl Signing {
    /// One person at the keyboard, and nobody before.
    pub(super) fn alone(person: &Person) -> Signing {
        Signing { person: person.clone(), how: How::Named, prepared: BTreeMap::new() }
    }

    /// The signatures of a shipment's certificate.
    pub(super) fn signatures(&self, shipment: &str, issued: &str) -> Vec<Signature> {
        let prepared = self.prepared.get(shipment).map(|hand| Signature {
            person: hand.person.clone(),
            function: hand.function.clone(),
            meaning: PREPARED.to_owned(),
            authenticated: hand.how.prepared().to_owned(),
            at: hand.at.clone(),
        });
        let released = Signature {
            person: self.person.name.clone(),
            function: self.person.function.clone(),
            meaning: RELEASED.to_owned(),
            authenticated: self.how.released().to_owned(),
            at: issued.to_owned(),
        };
        prepared.into_iter().chain([released]).collect()
    }

    /// Adds to a register entry's detail who prepared, and how the releaser was known, where there is more to say
    /// than who.
    pub(super) fn enter(&self, shipment: &str, detail: &mut Value) {
        let Some(detail) = detail.as_object_mut() else { return };
        if self.how == How::Passphrase {
            detail.insert("authenticated".to_owned(), self.how.released().into());
        }
        if let Some(hand) = self.prepared.get(shipment) {
            let mut said = json!({ "by": hand.person, "at": hand.at, "authenticated": hand.how.prepared() });
            if let (Some(entry), Some(said)) = (hand.entry, said.as_object_mut()) {
                // Text, as every figure in the register.
                said.insert("entry".to_owned(), entry.to_string().into());
            }
            detail.insert("prepared".to_owned(), said);
        }
    }
}
