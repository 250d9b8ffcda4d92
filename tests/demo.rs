//! The invented shop as its keyboard meets it: a folder with keys, adoptions and a register, certificates issued
//! from it at fixed times, and copies of it that a test may spoil.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a shop that cannot be made fails every test that wants it"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Output;
use std::sync::OnceLock;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::time::Duration;

use brightproof::app::desk::Desk;
use brightproof::app::desk::files;
use brightproof::app::error::Error;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::make;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Answer;
use brightproof::app::verify::Overall;
use brightproof::app::verify::Verification;
use brightproof::app::world::World;
use brightproof::folder::Folder;
use brightproof::pdf::Renderer;
use brightproof::register::Register;
use sha2::Digest;
use sha2::Sha256;

/// How many certificates the demonstration issues.
pub const CERTIFICATES: usize = 28;
/// How many of its shipments the demonstration holds.
pub const HELD: usize = 23;

/// When the shop's keys and register are made: before the real clock, so that other programs find them in force.
pub const BEGUN: &str = "2026-10-01T08:00:00-05:00";
/// When the certificates are issued: after the last reading of any record. Tests that run the program itself need a
/// machine whose clock is later than this.
pub const ISSUED: &str = "2026-11-24T16:20:31-05:00";
/// A later moment, for whatever is done to them.
pub const AFTER: &str = "2026-11-24T17:00:00-05:00";
/// Who releases.
pub const RELEASES: &str = "M. Sorrel";
/// A lot whose words hold what a certificate must carry beyond ASCII.
pub const WORDY_LOT: &str = "L-26-0451";
/// The words of its part.
pub const WORDY: &str = "Nozzle Ø 12.70 mm ± 0.05 mm, Ra ≤ 0.4 µm, film ≥ 20 Å, 25 °C";
/// A lot on no slip, conforming, with the smallest file.
pub const SMALL_LOT: &str = "L-26-0411";

/// A clock that stands still and chance that is the same each time.
pub fn world(at: &str, seed: &str) -> World<'static> {
    let (seed, turn) = (seed.to_owned(), AtomicU64::new(0));
    // Leaked: a few bytes for each world of a test.
    let random = Box::leak(Box::new(move |buffer: &mut [u8]| {
        for chunk in buffer.chunks_mut(32) {
            let turn = turn.fetch_add(1, Ordering::Relaxed);
            let block = Sha256::digest(format!("{seed} {turn}"));
            chunk.copy_from_slice(&block[..chunk.len()]);
        }
        Ok(())
    }));
    World::new(chrono::DateTime::parse_from_rfc3339(at).unwrap(), random)
}

/// A new, empty folder for one test.
pub fn fresh(name: &str) -> PathBuf {
    let folder = own().join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

/// This process's folder: tests that run side by side must not take each other's. Those of old runs are removed.
fn own() -> &'static Path {
    static OWN: OnceLock<PathBuf> = OnceLock::new();
    OWN.get_or_init(|| {
        let all = Path::new(env!("CARGO_TARGET_TMPDIR")).join("demo");
        for entry in fs::read_dir(&all).into_iter().flatten().flatten() {
            let age = entry.metadata().and_then(|m| m.modified()).ok().and_then(|at| at.elapsed().ok());
            if age.is_some_and(|age| age > Duration::from_secs(4 * 3600)) {
                let _ = fs::remove_dir_all(entry.path());
            }
        }
        all.join(std::process::id().to_string())
    })
}

/// Copies a folder with all it holds.
pub fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Replaces a text in a file of the shop; it must be there.
pub fn change(folder: &Path, file: &str, from: &str, to: &str) {
    let path = folder.join(file);
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{file} does not hold {from:?}");
    fs::write(path, text.replace(from, to)).unwrap();
}

/// Every single value of a tree with its path.
fn single(at: &str, value: &serde_json::Value, all: &mut Vec<(String, String)>) {
    match value {
        serde_json::Value::Object(members) => {
            for (key, member) in members {
                let path = if at.is_empty() { key.clone() } else { format!("{at}.{key}") };
                single(&path, member, all);
            }
        }
        serde_json::Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                single(&format!("{at}[{index}]"), item, all);
            }
        }
        other => all.push((at.to_owned(), brightproof::correction::text(other))),
    }
}

/// Changes a lot's record as an honest shop does: with the corrections that say what stood there before.
pub fn correct(folder: &Path, file: &str, from: &str, to: &str) {
    let read = |text: &str| -> Vec<(String, String)> {
        let record: brightproof::record::Record = brightproof::yaml::parse(text).unwrap();
        let mut all = Vec::new();
        single("", &serde_json::to_value(record).unwrap(), &mut all);
        all.into_iter().filter(|(path, _)| !path.starts_with("corrections")).collect()
    };
    let before = fs::read_to_string(folder.join(file)).unwrap();
    change(folder, file, from, to);
    let mut text = fs::read_to_string(folder.join(file)).unwrap();
    let (old, new) = (read(&before), read(&text));
    let of = |all: &[(String, String)], path: &str| {
        all.iter().find(|(p, _)| p == path).map_or_else(|| "nothing".to_owned(), |(_, value)| value.clone())
    };
    let mut paths: Vec<&String> = old.iter().chain(&new).map(|(path, _)| path).collect();
    paths.sort();
    paths.dedup();
    if !text.contains("\ncorrections:\n") {
        text.push_str("corrections:\n");
    }
    for path in paths.into_iter().filter(|path| of(&old, path) != of(&new, path)) {
        text.push_str(&format!(
            "  - {{ at: {path:?}, was: {:?}, now: {:?}, by: M. Sorrel, when: 2026-11-24T16:00-05:00, why: misread }}\n",
            of(&old, path),
            of(&new, path)
        ));
    }
    fs::write(folder.join(file), text).unwrap();
}

/// Opens a shop whose keys are not locked.
pub fn desk(folder: &Path) -> Desk {
    match try_desk(folder) {
        Ok(desk) => desk,
        Err(error) => panic!("{error}"),
    }
}

/// The same, or why not.
pub fn try_desk(folder: &Path) -> Result<Desk, Error> {
    Desk::open(Folder::new(folder), &|| panic!("the keys are not locked"))
}

/// The shop's register, without the head kept beside it: as a verifier opens it.
pub fn register(folder: &Path) -> Register {
    Register::open(&folder.join(files::REGISTER), None).unwrap()
}

/// One renderer for all tests: reading the fonts takes longer than drawing.
pub fn renderer() -> &'static Renderer {
    static RENDERER: OnceLock<Renderer> = OnceLock::new();
    RENDERER.get_or_init(|| Renderer::new().unwrap())
}

/// Everything the shop can certify: each slip, each conforming lot on none, and the wordy lot.
pub fn targets() -> Vec<Target> {
    let slips = ["PS-26-0311", "PS-26-0312", "PS-26-0313", "PS-26-0314", "PS-26-0315", "PS-26-0316"];
    let lots = ["L-26-0405", "L-26-0406", "L-26-0408", "L-26-0410", SMALL_LOT, WORDY_LOT];
    let slips = slips.iter().map(|s| Target::Slip((*s).to_owned()));
    slips.chain(lots.iter().map(|l| Target::Lot((*l).to_owned()))).collect()
}

/// Adds the wordy lot with a part and an order of its own.
fn add_wordy_lot(folder: &Path) {
    let part = fs::read_to_string(folder.join("parts/7731-04-C.yaml")).unwrap();
    let part = part.replace("\"7731-04\"", "\"7799-09\"").replace("Sensor housing", &format!("{WORDY:?}"));
    fs::write(folder.join("parts/7799-09-C.yaml"), part).unwrap();
    let order = fs::read_to_string(folder.join("orders/QI-88231.yaml")).unwrap();
    let order = order.replace("QI-88231", "QI-88299").replace("\"7731-04\"", "\"7799-09\"");
    fs::write(folder.join("orders/QI-88299.yaml"), order).unwrap();
    let lot = fs::read_to_string(folder.join("lots/L-26-0401.yaml")).unwrap();
    let lot = lot.replace("L-26-0401", WORDY_LOT).replace("QI-88231", "QI-88299").replace("H4471", "H4499");
    let lot = lot.replace("no rust, no stain", "no rust; film ≤ 30 Å ± 2 Å");
    fs::write(folder.join(format!("lots/{WORDY_LOT}.yaml")), lot).unwrap();
}

/// Makes the shop in a folder; answers the fingerprint of its root.
pub fn begin(folder: &Path, seed: &str) -> String {
    let root = make::demo(&Folder::new(folder), &world(BEGUN, seed)).unwrap();
    add_wordy_lot(folder);
    root
}

/// Issues and expects every target to be certified; answers the numbers in turn.
pub fn issue_all(desk: &mut Desk, targets: &[Target], world: &World) -> Vec<String> {
    let outcomes = issue::issue(desk, targets, RELEASES, None, world, &|| {}).unwrap();
    let number = |(target, outcome): (&Target, Outcome)| match outcome {
        Outcome::Issued { number, .. } | Outcome::Again { number, .. } => number,
        Outcome::Held(_) => panic!("{target:?} is held"),
        Outcome::Unwritten { error, .. } | Outcome::Failed(error) => panic!("{target:?}: {error}"),
    };
    targets.iter().zip(outcomes).map(number).collect()
}

/// The shop with everything issued, made once for all tests. None may change it.
pub struct Demo {
    /// Its folder.
    pub folder: PathBuf,
    /// Fingerprint of its root.
    pub root: String,
    /// Certificates by lot or slip.
    pub numbers: BTreeMap<String, String>,
    /// Files by number.
    pub files: BTreeMap<String, Vec<u8>>,
}

impl Demo {
    /// The one shop.
    pub fn get() -> &'static Demo {
        static DEMO: OnceLock<Demo> = OnceLock::new();
        DEMO.get_or_init(|| {
            let folder = fresh("issued");
            let root = begin(&folder, "demo");
            let targets = targets();
            let numbers = issue_all(&mut desk(&folder), &targets, &world(ISSUED, "issue"));
            let name = |target: &Target| match target {
                Target::Lot(name) | Target::Slip(name) => name.clone(),
                Target::SlipLine(..) => target.to_string(),
            };
            let files = numbers.iter().map(|n| (n.clone(), file(&folder, n))).collect();
            Demo { numbers: targets.iter().map(name).zip(numbers).collect(), folder, root, files }
        })
    }

    /// The certificate of a lot or slip: number and file.
    pub fn certificate(&self, target: &str) -> (&str, &[u8]) {
        let number = &self.numbers[target];
        (number, &self.files[number])
    }

    /// A copy to work in.
    pub fn copy(&self, name: &str) -> PathBuf {
        let folder = fresh(name);
        copy(&self.folder, &folder);
        folder
    }

    /// The anchor a purchaser brings.
    pub fn anchor(&self) -> Anchor {
        Anchor::read(&self.root).unwrap()
    }
}

/// A certificate's file as it lies in the shop's folder.
pub fn file(folder: &Path, number: &str) -> Vec<u8> {
    fs::read(folder.join(files::CERTIFICATES).join(format!("{number}.pdf"))).unwrap()
}

/// Verifies bytes.
pub fn verify(bytes: &[u8], anchor: &Anchor, register: Option<&Register>) -> Verification {
    verify::file("certificate.pdf", bytes, anchor, register, renderer()).unwrap()
}

/// What a check answered: `pass`, or `fail: why`, or `not checked: why`; `absent` when it was not made.
pub fn said(found: &Verification, check: &str) -> String {
    match found.lines.iter().find(|l| l.check == check).map(|l| &l.answer) {
        None => "absent".to_owned(),
        Some(Answer::Pass) => "pass".to_owned(),
        Some(Answer::Fail(why)) => format!("fail: {why}"),
        Some(Answer::NotChecked(why)) => format!("not checked: {why}"),
    }
}

/// Every check that did not pass, a line each, for messages.
pub fn unpassed(found: &Verification) -> Vec<String> {
    let lines = found.lines.iter().filter(|l| l.answer != Answer::Pass);
    lines.map(|l| format!("{}: {}", l.check, said(found, l.check))).collect()
}

/// Expects every check to pass.
pub fn verifies(found: &Verification) {
    assert_eq!(found.overall(), Overall::Verifies, "{:?}", unpassed(found));
}

/// Expects every check to pass but these, which were not asked.
pub fn verifies_but(found: &Verification, unasked: &[&str]) {
    assert_eq!(found.overall(), Overall::Verifies, "{:?}", unpassed(found));
    let open: Vec<&str> = found.lines.iter().filter(|l| l.answer != Answer::Pass).map(|l| l.check).collect();
    assert_eq!(open, unasked);
}

/// Whether a program is there. A missing one fails the test where BRIGHTPROOF_REQUIRE_TOOLS is set, else is told.
pub fn has(program: &str, probe: &str) -> bool {
    if Command::new(program).arg(probe).output().is_ok() {
        return true;
    }
    absent(program);
    false
}

/// Tells that a program is missing, or fails.
pub fn absent(what: &str) {
    if std::env::var_os("BRIGHTPROOF_REQUIRE_TOOLS").is_some() {
        panic!("{what} is not installed");
    }
    eprintln!("skipped: {what} is not installed");
}

/// What a command printed, on both streams.
pub fn printed(output: &Output) -> String {
    String::from_utf8_lossy(&[&output.stdout[..], &output.stderr[..]].concat()).into_owned()
}
