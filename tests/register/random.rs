//! Histories nobody thought of: whatever is asked in whatever order, the register agrees with a
//! plain model of the rules, and never certifies more of a lot than was accepted.

use std::collections::HashMap;

use brightproof::register::Kind;
use brightproof::register::RegisterError;
use brightproof::register::Status;
use proptest::prelude::*;
use serde_json::json;

use super::back::older;
use super::back::take_in;
use super::shop::Folder;
use super::shop::NOW;
use super::shop::amend;
use super::shop::check;
use super::shop::entry;
use super::shop::issue;
use super::shop::sign;
use super::shop::withdrawal;

const ACCEPTED: [(&str, u64); 3] = [("L-1", 10), ("L-2", 25), ("L-3", 1)];

#[derive(Debug, Clone)]
enum Ask {
    Issue { shipment: u8, lots: Vec<(usize, u64)> },
    Amend { which: usize, lots: Vec<(usize, u64)> },
    Withdraw { which: usize },
    Older { lot: usize },
    WithdrawOlder { which: usize },
    Deliver { which: usize },
    Commit,
    Drop,
}

fn lots() -> impl Strategy<Value = Vec<(usize, u64)>> {
    proptest::collection::btree_map(0..ACCEPTED.len(), 0..12u64, 1..=2)
        .prop_map(|lots| lots.into_iter().collect())
}

fn ask() -> impl Strategy<Value = Ask> {
    prop_oneof![
        6 => (0..12u8, lots()).prop_map(|(shipment, lots)| Ask::Issue { shipment, lots }),
        3 => (0..12usize, lots()).prop_map(|(which, lots)| Ask::Amend { which, lots }),
        2 => (0..12usize).prop_map(|which| Ask::Withdraw { which }),
        1 => (0..ACCEPTED.len()).prop_map(|lot| Ask::Older { lot }),
        1 => (0..3usize).prop_map(|which| Ask::WithdrawOlder { which }),
        1 => (0..12usize).prop_map(|which| Ask::Deliver { which }),
        1 => Just(Ask::Commit),
        1 => Just(Ask::Drop),
    ]
}

#[derive(Debug, Clone)]
struct Held {
    shipment: u8,
    lots: Vec<(usize, u64)>,
    current: bool,
}

/// The rules once more, as plainly as they can be said.
#[derive(Debug, Clone, Default)]
struct Model(Vec<Held>, Vec<Older>);

/// A certificate older than the register, of one lot.
#[derive(Debug, Clone)]
struct Older {
    lot: usize,
    stands: bool,
}

impl Model {
    fn certified(&self, lot: usize, without: Option<usize>) -> u64 {
        let held = self.0.iter().enumerate().filter(|(nth, held)| held.current && Some(*nth) != without);
        held.flat_map(|(_, held)| &held.lots).filter(|(other, _)| *other == lot).map(|(_, n)| n).sum()
    }

    fn fits(&self, lots: &[(usize, u64)], without: Option<usize>) -> bool {
        lots.iter().all(|(lot, n)| self.certified(*lot, without) + n <= ACCEPTED[*lot].1)
    }

    fn older(&self, lots: &[(usize, u64)]) -> bool {
        self.1.iter().any(|older| older.stands && lots.iter().any(|(lot, _)| *lot == older.lot))
    }

    fn held(&self, lot: usize) -> bool {
        self.0.iter().any(|held| held.current && held.lots.iter().any(|(other, _)| *other == lot))
    }

    fn number(nth: usize) -> String {
        format!("LBF-2026-{:06}", nth + 1)
    }
}

fn named(lots: &[(usize, u64)]) -> Vec<(&'static str, u64, u64)> {
    lots.iter().map(|(lot, n)| (ACCEPTED[*lot].0, *n, ACCEPTED[*lot].1)).collect()
}

/// Plays the history against register and model; both must answer alike throughout.
fn play(asks: Vec<Ask>) {
    let folder = Folder::new();
    let mut register = folder.started();
    let mut committed = Model::default();
    let mut asks = asks.into_iter().enumerate().peekable();
    while asks.peek().is_some() {
        let mut tx = register.begin(NOW).unwrap();
        let mut model = committed.clone();
        let mut keep = true;
        for (nth, ask) in asks.by_ref() {
            let input = format!("input {nth}");
            match ask {
                Ask::Commit => break,
                Ask::Drop => {
                    keep = false;
                    break;
                }
                Ask::Issue { shipment, lots } => {
                    let free = !model.0.iter().any(|held| held.current && held.shipment == shipment);
                    let fits = model.fits(&lots, None);
                    match issue(&mut tx, &format!("S-{shipment}"), &input, &named(&lots)) {
                        Ok(number) => {
                            assert!(free && fits && !model.older(&lots));
                            assert_eq!(number, Model::number(model.0.len()));
                            model.0.push(Held { shipment, lots, current: true });
                        }
                        Err(RegisterError::ShipmentCertified { .. }) => assert!(!free),
                        Err(RegisterError::MoreThanAccepted { .. }) => assert!(!fits),
                        Err(RegisterError::LotElsewhere { .. }) => assert!(model.older(&lots)),
                        Err(other) => panic!("{other:?}"),
                    }
                }
                Ask::Amend { which, lots } => {
                    let held = model.0.get(which).cloned();
                    let shipment = held.as_ref().map_or(0, |held| held.shipment);
                    let fits = model.fits(&lots, Some(which));
                    match amend(
                        &mut tx,
                        &Model::number(which),
                        &format!("S-{shipment}"),
                        &input,
                        &named(&lots),
                    ) {
                        Ok(_) => {
                            assert!(fits && !model.older(&lots) && held.is_some_and(|held| held.current));
                            model.0[which].current = false;
                            model.0.push(Held { shipment, lots, current: true });
                        }
                        Err(RegisterError::UnknownCertificate { .. }) => assert!(held.is_none()),
                        Err(RegisterError::NotCurrent { .. }) => assert!(!held.unwrap().current),
                        Err(RegisterError::MoreThanAccepted { .. }) => assert!(!fits),
                        Err(RegisterError::LotElsewhere { .. }) => assert!(model.older(&lots)),
                        Err(other) => panic!("{other:?}"),
                    }
                }
                Ask::Older { lot } => {
                    let new = older(&format!("C/{}", model.1.len()), &[ACCEPTED[lot].0]);
                    match take_in(&mut tx, new) {
                        Ok(_) => {
                            assert!(!model.held(lot));
                            model.1.push(Older { lot, stands: true });
                        }
                        Err(RegisterError::LotElsewhere { .. }) => assert!(model.held(lot)),
                        Err(other) => panic!("{other:?}"),
                    }
                }
                Ask::WithdrawOlder { which } => {
                    let older = model.1.get_mut(which);
                    match tx.append(withdrawal(&format!("C/{which}")), None) {
                        Ok(_) => {
                            let older = older.unwrap();
                            assert!(older.stands);
                            older.stands = false;
                        }
                        Err(RegisterError::UnknownCertificate { .. }) => assert!(older.is_none()),
                        Err(RegisterError::NotCurrent { .. }) => assert!(!older.unwrap().stands),
                        Err(other) => panic!("{other:?}"),
                    }
                }
                Ask::Deliver { which } => {
                    let detail = json!({"to": "R. Fathom", "how": "paper"});
                    let number = Model::number(which);
                    match tx.append(entry(Kind::Delivery, Some(&number), detail), None) {
                        Ok(_) => assert!(model.0.len() > which),
                        Err(RegisterError::UnknownCertificate { .. }) => assert!(model.0.len() <= which),
                        Err(other) => panic!("{other:?}"),
                    }
                }
                Ask::Withdraw { which } => {
                    let held = model.0.get_mut(which);
                    match tx.append(withdrawal(&Model::number(which)), None) {
                        Ok(_) => {
                            let held = held.unwrap();
                            assert!(held.current);
                            held.current = false;
                        }
                        Err(RegisterError::UnknownCertificate { .. }) => assert!(held.is_none()),
                        Err(RegisterError::NotCurrent { .. }) => assert!(!held.unwrap().current),
                        Err(other) => panic!("{other:?}"),
                    }
                }
            }
            for (lot, (name, accepted)) in ACCEPTED.iter().enumerate() {
                let certified = tx.certified(name).unwrap();
                assert!(certified <= *accepted, "{name}: {certified} of {accepted}");
                assert_eq!(certified, model.certified(lot, None));
            }
        }
        if keep {
            tx.commit(&sign).unwrap();
            committed = model;
        }
    }
    drop(register);
    let register = folder.open();
    let statuses: HashMap<usize, bool> = (0..committed.0.len())
        .map(|nth| (nth, register.status(&Model::number(nth)).unwrap() == Status::Current))
        .collect();
    for (nth, held) in committed.0.iter().enumerate() {
        assert_eq!(statuses[&nth], held.current);
    }
    let audit = register.audit_with(&check).unwrap();
    assert!(audit.is_sound(), "{:?}", audit.problems);
    assert_eq!(audit.certificates, (committed.0.len() + committed.1.len()) as u64);
    for (nth, older) in committed.1.iter().enumerate() {
        assert_eq!(register.status(&format!("C/{nth}")).unwrap() == Status::Legacy, older.stands);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn certified_never_exceeds_accepted_in_any_history(asks in proptest::collection::vec(ask(), 1..60)) {
        play(asks);
    }
}
