//! Writing stopped at every step, by a failure, by the system's refusal to write, by the death of the process: a
//! certificate is in the register whole or not at all, no half-written file bears a certificate's name, and running
//! the command again finishes with exactly one entry.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test stops at the first surprise"
)]

#[cfg(target_os = "linux")]
mod killed;
#[cfg(target_os = "linux")]
mod points;
mod refused;
mod steps;
#[cfg(target_os = "linux")]
mod together;

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;

use brightproof::app::addressees::Addressees;
use brightproof::app::delivery;
use brightproof::app::delivery::Reissue;
use brightproof::app::delivery::Which;
use brightproof::app::desk::Desk;
use brightproof::app::desk::files;
use brightproof::app::error::Error;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::lookup;
use brightproof::app::lookup::AmendRequest;
use brightproof::app::lookup::Amended;
use brightproof::app::lookup::WithdrawRequest;
use brightproof::app::verify::Anchor;
use brightproof::app::world::World;
use brightproof::certificate::AmendmentKind;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::VerifyKey;
use brightproof::register::Kind;

use crate::demo;

/// The verbs that write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Verb {
    Issue,
    Reissue,
    Amend,
    Withdraw,
}

const VERBS: [Verb; 4] = [Verb::Issue, Verb::Reissue, Verb::Amend, Verb::Withdraw];
/// The certificate there is already.
const FIRST: &str = "LBF-2026-000001";
/// The one an amendment makes.
const SECOND: &str = "LBF-2026-000002";
/// Why, in every verb that asks for it.
const WHY: &str = "the power went";

/// A shop with one certificate, whose record was changed since; and the fingerprint of its root.
fn base() -> &'static (PathBuf, String) {
    static BASE: OnceLock<(PathBuf, String)> = OnceLock::new();
    BASE.get_or_init(|| {
        let folder = demo::fresh("interrupted-base");
        let root = demo::begin(&folder, "interrupted");
        let first = [Target::Lot(demo::SMALL_LOT.to_owned())];
        demo::issue_all(&mut demo::desk(&folder), &first, &demo::world(demo::ISSUED, "first"));
        demo::correct(&folder, "lots/L-26-0411.yaml", "temperature: 105 °F", "temperature: 106 °F");
        (folder, root)
    })
}

fn copied(name: &str) -> PathBuf {
    let folder = demo::fresh(name);
    demo::copy(&base().0, &folder);
    folder
}

/// Two lots in one batch.
fn batch() -> [Target; 2] {
    ["L-26-0410", "L-26-0408"].map(|lot| Target::Lot(lot.to_owned()))
}

/// Asked before each step of the register; an answer of `Err` makes the step fail.
type Fault = Box<dyn Fn(&str) -> Result<(), String> + Send>;

/// Does what the verb does, and writes what it writes.
fn act(verb: Verb, folder: &Path, fault: Option<Fault>) -> Result<(), Error> {
    let mut desk = demo::desk(folder);
    desk.register.set_fault(fault);
    act_at(verb, &mut desk, folder, &demo::world(demo::AFTER, "act"))
}

/// The same at a time of the caller's.
fn act_at(verb: Verb, desk: &mut Desk, folder: &Path, world: &World<'_>) -> Result<(), Error> {
    match verb {
        Verb::Issue => {
            let outcomes = issue::issue(desk, &batch(), demo::RELEASES, None, world, &|| {})?;
            assert_eq!(outcomes.len(), 2);
            for outcome in outcomes {
                match outcome {
                    Outcome::Issued { .. } | Outcome::Again { .. } => {}
                    Outcome::Held(_) => panic!("held"),
                    Outcome::Unwritten { error, .. } | Outcome::Failed(error) => return Err(error),
                }
            }
            Ok(())
        }
        Verb::Reissue => {
            let to = Addressees::of(&desk.book);
            let request = Reissue {
                by: "D. Yarrow",
                to: "R. Fathom, receiving inspection",
                why: WHY,
                how: None,
                approved_by: None,
                out: &folder.join("sent"),
            };
            let which = Which::Number(FIRST);
            delivery::reissue_from(&mut desk.register, &desk.signer, &to, &which, &request, world).map(drop)
        }
        Verb::Amend => {
            let kind = AmendmentKind::Conformity;
            let request = AmendRequest { number: FIRST, by: demo::RELEASES, why: WHY, kind };
            match lookup::amend(desk, &request, world)? {
                Amended::New { number, .. } => issue::write_out(desk, &number, None).map(drop),
                Amended::Held(_) => panic!("held"),
            }
        }
        Verb::Withdraw => {
            let request = WithdrawRequest { number: FIRST, by: "M. Sorrel", why: WHY, parts: "hold them" };
            let to = Addressees::of(&desk.book);
            lookup::withdraw_from(&mut desk.register, &desk.signer, &to, &request, world).map(drop)
        }
    }
}

impl Verb {
    /// Entries it adds.
    fn adds(self) -> usize {
        if self == Verb::Issue { 2 } else { 1 }
    }

    fn kind(self) -> Kind {
        match self {
            Verb::Issue => Kind::Issue,
            Verb::Reissue => Kind::Reissue,
            Verb::Amend => Kind::Amendment,
            Verb::Withdraw => Kind::Withdrawal,
        }
    }
}

/// How many entries of its kind the verb has made; everything that is there must be whole.
fn made(verb: Verb, folder: &Path) -> usize {
    let register = demo::register(folder);
    let audit = register.audit().unwrap();
    assert!(audit.is_sound(), "{verb:?}: {:?}", audit.problems);
    let made = register.of_kind(verb.kind()).unwrap().len() - usize::from(verb == Verb::Issue);
    assert_eq!(audit.size, 7 + made as u64, "{verb:?}: entries of other kinds");
    for name in ["certificates", "sent"] {
        for file in fs::read_dir(folder.join(name)).into_iter().flatten() {
            let path = file.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            // What a dead process leaves is hidden and is no certificate by name.
            if name.starts_with('.') && name.ends_with(".part") {
                continue;
            }
            if let Some(number) = name.strip_suffix(".tlog-proof") {
                let key = fs::read_to_string(folder.join(files::CHECKPOINT)).unwrap();
                let key = VerifyKey::parse(key.trim()).unwrap();
                let proof = EntryProof::parse(&fs::read_to_string(&path).unwrap()).unwrap();
                let entry = proof.extra.clone().unwrap();
                proof.verify(&entry, &[key]).unwrap();
                let stored = register.certificate(number).unwrap().unwrap();
                assert_eq!(register.entry(stored.position).unwrap().unwrap().leaf, entry, "{verb:?}: {name}");
                continue;
            }
            let stored = register.certificate(name.trim_end_matches(".pdf")).unwrap().unwrap();
            assert_eq!(fs::read(&path).unwrap(), stored.pdf, "{verb:?}: {}", path.display());
        }
    }
    made
}

/// Everything is as it would be had nothing happened.
fn finished(verb: Verb, folder: &Path) {
    assert_eq!(made(verb, folder), verb.adds(), "{verb:?}");
    let register = demo::register(folder);
    let anchor = Anchor::read(&base().1).unwrap();
    let sent = folder.join("sent").join(format!("{FIRST}.pdf"));
    let numbers: &[&str] = match verb {
        Verb::Issue => &[SECOND, "LBF-2026-000003"],
        Verb::Amend => &[SECOND],
        Verb::Reissue => {
            assert_eq!(fs::read(sent).unwrap(), demo::file(&base().0, FIRST));
            &[FIRST]
        }
        Verb::Withdraw => &[],
    };
    for number in numbers {
        demo::verifies(&demo::verify(&demo::file(folder, number), &anchor, Some(&register)));
    }
    let first = demo::verify(&demo::file(folder, FIRST), &anchor, Some(&register));
    let expected = match verb {
        Verb::Issue | Verb::Reissue => "pass".to_owned(),
        Verb::Amend => format!("fail: it was replaced by {SECOND}"),
        Verb::Withdraw => {
            format!("fail: it was withdrawn at {}: {WHY}", register.of_kind(Kind::Withdrawal).unwrap()[0].at)
        }
    };
    assert_eq!(demo::said(&first, "current"), expected);
}

/// Files that only a write under way may have.
fn left_over(folder: &Path) -> Vec<String> {
    let mut all = Vec::new();
    for sub in [".", "certificates", "sent"] {
        for file in fs::read_dir(folder.join(sub)).into_iter().flatten() {
            let name = file.unwrap().file_name().into_string().unwrap();
            if name.ends_with(".part") || name.ends_with(".new") || name.ends_with("-journal") {
                all.push(name);
            }
        }
    }
    all
}

/// The head kept outside is the register's own.
fn head_is_kept(folder: &Path) -> bool {
    let head = demo::register(folder).head().unwrap().checkpoint.unwrap();
    fs::read_to_string(folder.join(files::HEAD)).unwrap() == head
}
