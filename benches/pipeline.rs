//! What each step costs, and a batch of a thousand lots: `cargo bench --bench pipeline`.
//!
//! It prints figures and asserts no time: a slow machine is no fault. It works on the demonstration shop in a
//! temporary folder, with a fixed clock and repeatable chance, and uses the library's public functions only.
//! `BRIGHTPROOF_BENCH_LOTS` sets the size of the batch.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a measurement that cannot be made should stop at once and say where"
)]

use std::hint::black_box;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::Instant;

use brightproof::app::book::Book;
use brightproof::app::desk;
use brightproof::app::desk::Desk;
use brightproof::app::issue;
use brightproof::app::issue::Outcome;
use brightproof::app::issue::Target;
use brightproof::app::make;
use brightproof::app::verify;
use brightproof::app::verify::Anchor;
use brightproof::app::verify::Overall;
use brightproof::app::world::World;
use brightproof::canonical;
use brightproof::certificate::Certificate;
use brightproof::checkpoint::SigningKey;
use brightproof::folder;
use brightproof::folder::Folder;
use brightproof::judge;
use brightproof::merkle;
use brightproof::pdf;
use brightproof::register::Kind;
use brightproof::register::NewCertificate;
use brightproof::register::NewEntry;
use brightproof::register::Register;
use rayon::prelude::*;

/// Lots per batch, unless the environment says otherwise.
const BATCH: u64 = 1_000;
/// The lot every other one is made from: two runs, one test, one page.
const MODEL: &str = "L-26-0401";

fn main() {
    // `cargo test --benches` runs this as a test; there is nothing to test.
    if std::env::args().any(|a| a == "--test") {
        return;
    }
    let scratch = std::env::temp_dir().join(format!("brightproof-bench-{}", std::process::id()));
    let now = chrono::DateTime::parse_from_rfc3339("2026-12-01T08:00:00-05:00").unwrap();
    let world = World::new(now, &repeatable);
    steps(&scratch.join("steps"), &world);
    let lots = std::env::var("BRIGHTPROOF_BENCH_LOTS").ok().and_then(|n| n.parse().ok()).unwrap_or(BATCH);
    batch(&scratch.join("batch"), &world, lots);
    std::fs::remove_dir_all(&scratch).unwrap();
}

/// Bytes that look random and are the same in every run.
fn repeatable(buffer: &mut [u8]) -> Result<(), String> {
    static TURN: AtomicU64 = AtomicU64::new(0);
    for chunk in buffer.chunks_mut(32) {
        let bytes = merkle::sha256(&TURN.fetch_add(1, Ordering::Relaxed).to_be_bytes());
        chunk.copy_from_slice(&bytes[..chunk.len()]);
    }
    Ok(())
}

fn lot_name(nth: u64) -> String {
    format!("B-26-{nth:05}")
}

/// A demonstration shop with so many lots like the model's; answers its root's fingerprint.
fn shop(at: &Path, world: &World, lots: u64) -> (Folder, String) {
    let folder = Folder::new(at);
    let root = make::demo(&folder, world).unwrap();
    let model = folder.text(&format!("lots/{MODEL}.yaml")).unwrap();
    for nth in 1..=lots {
        let name = lot_name(nth);
        let text = model.replace(MODEL, &name).replace("QM-5512", &format!("QM-{nth:05}"));
        std::fs::write(folder.path(&format!("lots/{name}.yaml")), text).unwrap();
    }
    (folder, root)
}

fn open(folder: &Folder) -> Desk {
    Desk::open(folder.clone(), &|| panic!("the demonstration's keys are open")).unwrap()
}

fn issue_all(desk: &mut Desk, targets: &[Target], world: &World) -> Vec<PathBuf> {
    let outcomes = issue::issue(desk, targets, make::DEMO_ADOPTER.0, None, world, &|| {}).unwrap();
    let file = |outcome| match outcome {
        Outcome::Issued { file, .. } => file,
        Outcome::Again { number, .. } => panic!("{number} was issued before"),
        Outcome::Held(shipment) => panic!("{} does not conform", shipment.key),
        Outcome::Failed(error) | Outcome::Unwritten { error, .. } => panic!("{error}"),
    };
    outcomes.into_iter().map(file).collect()
}

/// Time taken by one call.
fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let started = Instant::now();
    let result = black_box(work());
    (result, started.elapsed())
}

/// Time taken by one call on the wall, and by all cores together: the second does not mind a busy machine.
#[derive(Clone, Copy)]
struct Taken {
    wall: Duration,
    cores: Duration,
}

fn taken<T>(work: impl FnOnce() -> T) -> (T, Taken) {
    let before = cpu();
    let (result, wall) = timed(work);
    (result, Taken { wall, cores: cpu().saturating_sub(before) })
}

/// Processor time of this process so far, to the hundredth of a second; nothing where the system does not say.
fn cpu() -> Duration {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name in parentheses may hold spaces; user and system time are the 12th and 13th words behind it.
    let words = text.rsplit(')').next().unwrap_or_default().split_whitespace();
    let ticks: u64 = words.skip(11).take(2).filter_map(|word| word.parse::<u64>().ok()).sum();
    Duration::from_millis(ticks * 10)
}

/// Times a step so many times, after one call that does not count, and prints a row. The least time tells what
/// the step costs; the others tell how busy the machine was as well.
fn row(step: &str, runs: u64, mut work: impl FnMut(u64)) {
    work(0);
    let mut times: Vec<Duration> = (1..=runs).map(|nth| timed(|| work(nth)).1).collect();
    times.sort();
    let at = |hundredths: usize| ms(times[(times.len() - 1) * hundredths / 100]);
    println!("{step:<46} {:>9.3} {:>9.3} {:>9.3} {runs:>6}", at(0), at(50), at(95));
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// Every step of one lot by itself, on one core.
fn steps(at: &Path, world: &World) {
    const ISSUES: u64 = 50;
    let (folder, root) = shop(at, world, ISSUES + 1);
    println!("one lot, two runs, one test; one core\n");
    println!("{:<46} {:>9} {:>9} {:>9} {:>6}", "step", "least ms", "median ms", "p95 ms", "runs");

    row("open the shop's book (once a command)", 20, |_| drop(Book::open(folder.clone()).unwrap()));
    row("load fonts and template (once a command)", 20, |_| drop(pdf::Renderer::new().unwrap()));
    let mut desk = open(&folder);
    row("parse: read a record, check its form", 200, |_| drop(desk.book.lot(MODEL).unwrap()));
    let record = desk.book.lot(MODEL).unwrap();
    let parsed = brightproof::yaml::parse::<brightproof::record::Record>(&record.text).unwrap();
    let case = desk.book.case(record).unwrap();
    row("gather: order, part, packs, book", 200, |_| {
        let again = brightproof::app::book::Sourced {
            file: String::new(),
            text: String::new(),
            document: parsed.clone(),
        };
        drop(desk.book.case(again).unwrap());
    });
    row("judge", 200, |_| drop(judge::judge(&case.dossier)));
    let target = Target::Lot(MODEL.to_owned());
    row("all of it, with the digest of what was judged", 200, |_| {
        drop(issue::judge_target(&desk.book, &target, world).unwrap());
    });

    let file = issue_all(&mut desk, &[target], world).remove(0);
    let bytes = folder::read(&file).unwrap();
    let sealed = pdf::read_sealed(&bytes).unwrap();
    let certificate: Certificate = serde_json::from_slice(&sealed.attachment).unwrap();
    row("canonical data and stamp", 200, |_| drop(canonical::stamp(&certificate.canonical().unwrap())));
    let reserve = desk.seal.reserve().unwrap();
    let draw = || issue::draw(&desk.renderer, &certificate, &sealed.attachment, reserve).unwrap();
    row("render the page", 100, |_| drop(draw()));
    let prepared = draw();
    let seal = || {
        let [before, after] = issue::pieces(&prepared.bytes, prepared.gap.as_ref().unwrap()).unwrap();
        desk.seal.sign([&before, &after]).unwrap()
    };
    row("seal", 200, |_| drop(seal()));
    append_rows(&folder, world, &sealed.attachment, &bytes);
    let copy = folder.path("certificates/copy.pdf");
    row("write the file, synced", 100, |_| folder::write_whole(&copy, &bytes).unwrap());
    row("issue one lot, all of it", ISSUES, |nth| {
        drop(issue_all(&mut desk, &[Target::Lot(lot_name(nth + 1))], world));
    });

    let anchor = Anchor::read(&root).unwrap();
    let check = |register: Option<&Register>| {
        let found = verify::file("", &bytes, &anchor, register, &desk.renderer).unwrap();
        assert_eq!(found.overall(), Overall::Verifies);
    };
    row("verify with the fingerprint", 100, |_| check(None));
    row("verify with the register as well", 100, |_| check(Some(&desk.register)));
    println!(
        "\nsealed file {} bytes, of which data {} bytes before compression\n",
        bytes.len(),
        sealed.attachment.len()
    );
}

/// Appending with its commit, in a register of its own.
fn append_rows(folder: &Folder, world: &World, data: &[u8], bytes: &[u8]) {
    let (path, head) = (folder.path("bench.sqlite"), folder.path("bench-head.txt"));
    let origin = "bench.example/register";
    let signer = SigningKey::from_seed(origin, &world.salt().unwrap()).unwrap();
    Register::create(&path, origin, serde_json::json!({}), &world.utc(), world.salt().unwrap()).unwrap();
    let mut register = Register::open(&path, Some(&head)).unwrap();
    let stamp = canonical::stamp(data);
    let sign = desk::sign_head(&signer);
    row("register: append one, sign, commit, keep head", 50, |nth| {
        let mut tx = register.begin(&world.utc()).unwrap();
        let number = tx.next_number("BN", 2026).unwrap();
        let lot = lot_name(nth);
        let new = NewCertificate {
            evidence: None,
            number: number.clone(),
            stamp: stamp.clone(),
            data: data.to_vec(),
            pdf: bytes.to_vec(),
            input_digest: format!("{nth}"),
            shipment_key: format!("lot {lot}"),
            facets: vec![(brightproof::register::Facet::Lot, lot.clone())],
            pieces: vec![(lot.clone(), 240)],
            accepted: vec![(lot, 240)],
            signer: "bench".to_owned(),
            uses: Vec::new(),
        };
        let salt = world.salt().unwrap();
        let detail = serde_json::json!({ "by": "bench" });
        let entry = NewEntry { kind: Kind::Issue, number: Some(number), replaces: None, detail, salt };
        tx.append(entry, Some(new)).unwrap();
        tx.commit(&sign).unwrap();
    });
}

/// A batch issued in one call on all cores, then verified; and where its time went.
fn batch(at: &Path, world: &World, lots: u64) {
    let (folder, root) = shop(at, world, lots);
    let targets: Vec<Target> = (1..=lots).map(|nth| Target::Lot(lot_name(nth))).collect();
    let (mut desk, opened) = taken(|| open(&folder));
    let (files, issued) = taken(|| issue_all(&mut desk, &targets, world));

    // The parts that can be done again by themselves are; what is left over is the register's.
    let ((), judged) = taken(|| {
        targets.par_iter().for_each(|target| drop(issue::judge_target(&desk.book, target, world).unwrap()));
    });
    let stored: Vec<Vec<u8>> = files.iter().map(|file| folder::read(file).unwrap()).collect();
    let reserve = desk.seal.reserve().unwrap();
    let certificates: Vec<(Certificate, Vec<u8>)> = stored
        .par_iter()
        .map(|bytes| {
            let data = pdf::read_sealed(bytes).unwrap().attachment;
            (serde_json::from_slice(&data).unwrap(), data)
        })
        .collect();
    let (prepared, drawn) = taken(|| {
        let draw = |(c, data): &(Certificate, Vec<u8>)| {
            black_box(canonical::stamp(&c.canonical().unwrap()));
            issue::draw(&desk.renderer, c, data, reserve).unwrap()
        };
        certificates.par_iter().map(draw).collect::<Vec<_>>()
    });
    let ((), sealed) = taken(|| {
        prepared.par_iter().for_each(|p| {
            let [before, after] = issue::pieces(&p.bytes, p.gap.as_ref().unwrap()).unwrap();
            black_box(desk.seal.sign([&before, &after]).unwrap());
        });
    });
    let ((), written) = taken(|| {
        for file in &files {
            let number = file.file_stem().unwrap().to_string_lossy();
            issue::write_out(&desk, &number, None).unwrap();
        }
    });
    let parts = [judged, drawn, sealed, written];
    let left = Taken {
        wall: issued.wall.saturating_sub(parts.iter().map(|p| p.wall).sum()),
        cores: issued.cores.saturating_sub(parts.iter().map(|p| p.cores).sum()),
    };

    let anchor = Anchor::read(&root).unwrap();
    let ((), verified) = taken(|| {
        let open = || Register::open(&folder.path(desk::files::REGISTER), None).unwrap();
        files.par_iter().for_each_init(open, |register, file| {
            let bytes = folder::read(file).unwrap();
            let found = verify::file("", &bytes, &anchor, Some(register), &desk.renderer).unwrap();
            assert_eq!(found.overall(), Overall::Verifies, "{}", file.display());
        });
    });
    let (audit, audited) = taken(|| desk.register.audit().unwrap());
    assert!(audit.is_sound());

    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    println!("{lots} lots issued in one call, then verified; {cores} cores\n");
    println!("{:<40} {:>9} {:>9} {:>9} {:>12}", "", "wall s", "ms each", "a second", "core ms each");
    let tell = |what: &str, time: Taken| {
        let each = ms(time.wall) / lots as f64;
        let core = ms(time.cores) / lots as f64;
        // What is left over after subtracting can come out as nothing on a busy machine.
        let rate = if each > 0.0 { format!("{:.0}", 1e3 / each) } else { "-".to_owned() };
        println!("{what:<40} {:>9.2} {each:>9.3} {rate:>9} {core:>12.2}", time.wall.as_secs_f64());
    };
    tell("issue, all of it", issued);
    tell("  judge", judged);
    tell("  data and page", drawn);
    tell("  seal", sealed);
    tell("  write files, synced one by one", written);
    tell("  the rest: register, numbers, salts", left);
    tell("verify with fingerprint and register", verified);
    tell("audit of the register", audited);
    let size = std::fs::metadata(folder.path(desk::files::REGISTER)).unwrap().len();
    let total: usize = stored.iter().map(Vec::len).sum();
    println!(
        "\nshop opened in {:.0} ms; files {} bytes each, register {} bytes a certificate",
        ms(opened.wall),
        total as u64 / lots,
        size / lots
    );
}
