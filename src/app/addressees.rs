//! To whom certificates go: the people the shop knows, its purchasers, and the contacts on their orders. Read apart
//! from the rest of the book, so that a fault in a list of baths never keeps a certificate from being withdrawn.

use crate::app::book;
use crate::app::book::Book;
use crate::app::error::Error;
use crate::folder::Folder;
use crate::order::Contact;
use crate::order::Order;
use crate::register::Facet;
use crate::shop::People;
use crate::shop::Person;
use crate::shop::Purchasers;
use crate::validate;

/// People, purchasers and orders of the shop.
pub struct Addressees {
    /// People of the shop.
    pub people: People,
    /// Purchasers.
    pub purchasers: Purchasers,
    orders: Vec<Order>,
    /// Orders that could not be read: their contacts are not known.
    pub unread: Vec<String>,
}

/// What an order says about whom its certificates go to.
pub enum Said<'a> {
    /// These.
    Contacts(&'a [Contact]),
    /// Nothing that counts, and why.
    Nothing(String),
}

/// Names are the same whatever their letter case and the spaces around them.
pub fn same(a: &str, b: &str) -> bool {
    folded(a) == folded(b)
}

/// The form names are compared in.
pub fn folded(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// All values of one facet.
pub fn values(facets: &[(Facet, String)], wanted: Facet) -> Vec<&str> {
    facets.iter().filter(|(facet, _)| *facet == wanted).map(|(_, value)| value.as_str()).collect()
}

impl Addressees {
    /// Reads them from a shop folder.
    pub fn read(folder: &Folder) -> Result<Addressees, Error> {
        let mut faults = Vec::new();
        let orders = book::read_all(folder, "orders", validate::order, &mut faults)?;
        Ok(Addressees {
            people: book::read::<People>(folder, "people.yaml", |_| Vec::new())?.document,
            purchasers: book::read::<Purchasers>(folder, "purchasers.yaml", |_| Vec::new())?.document,
            orders: orders.into_iter().map(|o| o.document).collect(),
            unread: faults.iter().map(ToString::to_string).collect(),
        })
    }

    /// Those of an open book.
    pub fn of(book: &Book) -> Addressees {
        Addressees {
            people: book.people.clone(),
            purchasers: book.purchasers.clone(),
            orders: book.orders.iter().map(|o| o.document.clone()).collect(),
            unread: book.faults.iter().map(ToString::to_string).filter(|f| f.contains("orders/")).collect(),
        }
    }

    /// A person of the shop.
    pub fn person(&self, name: &str) -> Result<&Person, Error> {
        let people = &self.people.people;
        people.iter().find(|p| p.name == name).ok_or_else(|| {
            let names: Vec<&str> = people.iter().map(|p| p.name.as_str()).collect();
            Error::cannot(format!("people.yaml knows no {name}"), &format!("it knows: {}", names.join(", ")))
        })
    }

    /// What each order of a certificate says, by what the certificate is filed under. An order counts for the
    /// certificate's own purchaser only, and only when somebody compared it with the purchaser's paper.
    pub fn said(&self, facets: &[(Facet, String)]) -> Vec<(String, Said<'_>)> {
        let purchasers = values(facets, Facet::Purchaser);
        let of_purchaser = |order: &&Order| {
            let known = self.purchasers.purchasers.iter().find(|p| p.id == order.purchaser);
            known.is_some_and(|known| purchasers.iter().any(|name| same(name, &known.name)))
        };
        let numbers = values(facets, Facet::PurchaseOrder);
        numbers
            .into_iter()
            .map(|number| {
                let mut found = self.orders.iter().filter(|o| o.order == number).filter(of_purchaser);
                let said = match (found.next(), found.next()) {
                    (None, _) => Said::Nothing(format!("order {number} is not in orders/")),
                    (Some(_), Some(_)) => Said::Nothing(format!("order {number} stands twice in orders/")),
                    (Some(order), None) if order.reviewed.is_none() => {
                        Said::Nothing(format!("order {number} is not reviewed"))
                    }
                    (Some(order), None) if order.certificates_to.is_empty() => {
                        Said::Nothing(format!("order {number} names nobody in `certificates_to`"))
                    }
                    (Some(order), None) => Said::Contacts(&order.certificates_to),
                };
                (number.to_owned(), said)
            })
            .collect()
    }

    /// Why somebody is no contact on every order of a certificate; `None` when it is one.
    pub fn stranger(&self, facets: &[(Facet, String)], to: &str) -> Option<String> {
        let said = self.said(facets);
        if said.is_empty() {
            return Some("the certificate names no order".to_owned());
        }
        said.into_iter().find_map(|(number, said)| match said {
            Said::Nothing(why) => Some(why),
            Said::Contacts(contacts) if contacts.iter().any(|c| same(&c.name, to)) => None,
            Said::Contacts(contacts) => {
                let names: Vec<&str> = contacts.iter().map(|c| c.name.as_str()).collect();
                Some(format!("order {number} names {}", names.join(", ")))
            }
        })
    }
}
