//! The shop's side, run as it is run: what is issued stands whatever the service does; what the service gave is kept,
//! checked and shown to others.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;
use std::sync::Arc;
use std::time::Duration;
use std::time::Instant;

use brightproof::app::desk::files;
use brightproof::checkpoint::EntryProof;
use brightproof::checkpoint::VerifyKey;

use crate::demo;

use super::authority::Authority;
use super::authority::Content;
use super::authority::Keys;
use super::authority::openssl;
use super::web::Answering;
use super::web::Reply;
use super::web::Service;

/// Runs the program in a shop's folder: exit code, standard output, standard error.
#[track_caller]
fn run(shop: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brightproof"));
    for name in ["http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"] {
        command.env_remove(name);
    }
    let output = command.args(arguments).current_dir(shop).stdin(Stdio::null()).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[track_caller]
fn has(text: &str, words: &str) {
    assert!(text.contains(words), "no {words:?} in\n{text}");
}

/// A shop that has its heads stamped by `authority`, at this address.
fn shop(name: &str, authority: &Authority, url: &str) -> PathBuf {
    let folder = demo::fresh(&format!("time-stamps-shop-{name}"));
    demo::begin(&folder, name);
    fs::create_dir(folder.join("time-stamps")).unwrap();
    fs::write(folder.join("time-stamps/root.pem"), authority.read("root.pem")).unwrap();
    named(&folder, url, 2);
    folder
}

/// Names another service.
fn named(shop: &Path, url: &str, wait: u64) {
    let file = shop.join("shop.yaml");
    let text = fs::read_to_string(&file).unwrap();
    let text = text.split("\ntime_stamps:").next().unwrap();
    let service = format!("\ntime_stamps: {{ url: \"{url}\", root: time-stamps/root.pem, wait: {wait} }}\n");
    fs::write(file, format!("{text}{service}")).unwrap();
}

fn honest(authority: &Arc<Authority>) -> Service {
    let authority = authority.clone();
    Service::start(Box::new(move |request: &[u8]| Reply::Stamp(authority.answer(request, "service", ""))))
}

/// A shop at `shop` whose service answers as long as what is returned lives; nothing when OpenSSL is missing.
pub fn with_service(shop: &Path) -> Option<Service> {
    let authority = Arc::new(Authority::new("page", Keys::P256)?);
    let service = honest(&authority);
    let made = self::shop("page", &authority, &service.url);
    demo::copy(&made, shop);
    Some(service)
}

fn issue(shop: &Path, lot: &str) -> (i32, String, String) {
    run(shop, &["issue", lot, "--by", demo::RELEASES])
}

fn stamps(shop: &Path) -> Vec<String> {
    let all = fs::read_dir(shop.join("time-stamps")).unwrap();
    let mut names: Vec<String> = all.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.retain(|name| name != "root.pem");
    names.sort();
    names
}

/// The certificate's number and its file.
fn issued(shop: &Path) -> (String, Vec<u8>) {
    let mut all: Vec<PathBuf> =
        fs::read_dir(shop.join(files::CERTIFICATES)).unwrap().map(|e| e.unwrap().path()).collect();
    all.retain(|path| path.extension().is_some_and(|ending| ending == "pdf"));
    all.sort();
    let last = all.last().unwrap();
    (last.file_stem().unwrap().to_str().unwrap().to_owned(), fs::read(last).unwrap())
}

#[test]
fn an_issue_is_stamped_and_anybody_can_check_it() {
    let Some(authority) = Authority::new("shop", Keys::P256).map(Arc::new) else { return };
    let service = honest(&authority);
    let shop = shop("stamped", &authority, &service.url);
    let (code, out, err) = issue(&shop, demo::SMALL_LOT);
    assert_eq!(code, 0, "{err}");
    has(&out, "issued: ");
    has(&err, "entries time-stamped ");
    has(&err, "by CN=Stamps service,O=Invented");
    let names = stamps(&shop);
    let [checkpoint, token] = names.as_slice() else { panic!("{names:?}") };
    let size: u64 = token.strip_suffix(".tsr").unwrap().parse().unwrap();
    assert_eq!(checkpoint, &format!("{size}.checkpoint"));
    // The very bytes of the head, and OpenSSL finds them stamped.
    let head = run(&shop, &["register", "head"]).1;
    let stamped = fs::read_to_string(shop.join("time-stamps").join(checkpoint)).unwrap();
    assert_eq!(head.trim_end(), stamped.trim_end());
    let said = openssl(
        &shop.join("time-stamps"),
        &format!("ts -verify -data {checkpoint} -in {token} -CAfile root.pem"),
    );
    has(&said, "Verification: OK");
    // The service learns a digest and nothing else.
    let asked = service.asked.lock().unwrap().concat();
    let told = String::from_utf8_lossy(&asked).into_owned();
    assert!(!told.contains("larkspur") && !told.contains("LBF"), "{told}");

    // Nobody is asked a second time, and everything else is offline.
    drop(service);
    let (code, out, _) = run(&shop, &["register", "time-stamp"]);
    assert_eq!(code, 0);
    has(&out, "before; not asked again");
    let (code, out, err) = run(&shop, &["register", "time-stamps"]);
    assert_eq!(code, 0, "{out}{err}");
    has(&out, &format!("holds: head of {size} entries time-stamped "));
    has(&err, "the shop's own word");
    let (code, out, err) =
        run(&shop, &["--format", "json", "register", "stamps", "--root", "time-stamps/root.pem"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((&json[0]["size"], &json[0]["holds"]), (&size.into(), &true.into()));

    // A verifier, with the root as the service gave it.
    let (number, bytes) = issued(&shop);
    let file = format!("certificates/{number}.pdf");
    let verify = |more: &[&str]| run(&shop, &[&["verify", &file, "--trust", files::ROOT], more].concat());
    let dated = ["--time-stamps", "time-stamps", "--time-root", "time-stamps/root.pem"];
    let (code, out, _) = verify(&[&["--register", files::REGISTER], &dated[..]].concat());
    assert_eq!(code, 0, "{out}");
    has(&out, "time         pass         its entry was in the register by 20");
    has(&out, &format!("CN=Stamps service,O=Invented stamped the head of {size} entries"));
    let (code, out, _) = verify(&dated);
    assert_eq!(code, 2, "{out}");
    has(&out, "no register was given");

    // The proof under the stamped head, after the register has grown.
    assert_eq!(issue(&shop, "L-26-0401").0, 0);
    assert_eq!(stamps(&shop), names, "nobody answered, so nothing was kept");
    let (code, proof, err) = run(&shop, &["register", "prove", &number, "--time-stamped"]);
    assert_eq!(code, 0, "{err}");
    let proof = EntryProof::parse(&proof).unwrap();
    assert_eq!(proof.checkpoint, stamped);
    let key = VerifyKey::parse(fs::read_to_string(shop.join(files::CHECKPOINT)).unwrap().trim()).unwrap();
    let entry = demo::register(&shop).entry(proof.index).unwrap().unwrap();
    assert_eq!(proof.verify(&entry.leaf, &[key]).unwrap().size, size);
    // A later certificate is under no stamped head yet.
    let (later, _) = issued(&shop);
    let (code, _, err) = run(&shop, &["register", "prove", &later, "--time-stamped"]);
    assert_eq!(code, 2);
    has(&err, "no time-stamped head has this certificate's entry");
    let file = format!("certificates/{later}.pdf");
    let (code, out, _) =
        run(&shop, &[&["verify", &file, "--register", files::REGISTER], &dated[..]].concat());
    assert_eq!(code, 2);
    has(&out, "no time stamp in time-stamps is of a head that has its entry");
    // None of it touched the certificate.
    assert_eq!(fs::read(shop.join(format!("certificates/{number}.pdf"))).unwrap(), bytes);
    // Retried when the service is back, and the later one is dated too.
    let service = honest(&authority);
    named(&shop, &service.url, 5);
    assert_eq!(run(&shop, &["register", "stamp"]).0, 0);
    assert_eq!(stamps(&shop).len(), 4);
    let (code, out, _) = run(
        &shop,
        &[&["verify", &file, "--trust", files::ROOT, "--register", files::REGISTER], &dated[..]].concat(),
    );
    assert_eq!(code, 0, "{out}");
}

/// Whatever the service does, the certificate is issued, verifies, and stays as it is.
#[test]
fn no_service_can_hinder_or_change_an_issue() {
    let Some(authority) = Authority::new("faults", Keys::P256).map(Arc::new) else { return };
    let start = |reply: Box<Answering>| Some(Service::start(reply));
    let stamping = |by: &'static str, more: &'static str| {
        let authority = authority.clone();
        start(Box::new(move |request: &[u8]| Reply::Stamp(authority.answer(request, by, more))))
    };
    let lying = |content: Content| {
        let answer = authority.signed(&content.der(), "service", "");
        start(Box::new(move |_: &[u8]| Reply::Stamp(answer.clone())))
    };
    // The nonce of another request.
    let replay = authority.answer(&super::request().to_der().unwrap(), "service", "");
    let old = replay.clone();
    let base = shop("faults", &authority, "http://127.0.0.1:9/");
    let services: [(&str, Option<Service>, &str); 9] = [
        ("nobody there", None, "does not answer"),
        ("silent", start(Box::new(|_: &[u8]| Reply::Silence)), "does not answer"),
        ("garbage", start(Box::new(|_: &[u8]| Reply::Stamp(b"<html>".to_vec()))), "not a time stamp"),
        ("endless", start(Box::new(|_: &[u8]| Reply::Endless)), "more than 65536 bytes"),
        (
            "cut",
            start(Box::new(move |_: &[u8]| Reply::Stamp(old[..old.len() / 2].to_vec()))),
            "not a time stamp",
        ),
        ("of another request", start(Box::new(move |_: &[u8]| Reply::Stamp(replay.clone()))), "imprint is"),
        ("rejecting", stamping("service", "-section weak"), "by a SHA-2 digest"),
        ("refusing the policy", stamping("service", "-tspolicy 1.2.3"), "no time stamp"),
        ("lying", lying(Content::honest()), "imprint is"),
    ];
    for (name, service, words) in services {
        let shop = demo::fresh("time-stamps-shop-fault");
        demo::copy(&base, &shop);
        if let Some(service) = &service {
            named(&shop, &service.url, 1);
        }
        if name == "refusing the policy" {
            demo::change(&shop, "shop.yaml", "wait: 1", "wait: 1, policy: 1.3.6.1.4.1.99999.9");
        }
        let begun = Instant::now();
        let (code, out, err) = issue(&shop, demo::SMALL_LOT);
        assert_eq!(code, 0, "{name}: {err}");
        has(&out, "issued: ");
        has(&err, words);
        has(&err, "no time stamp: ");
        has(&err, "what was issued stands; `brightproof register time-stamp` asks again");
        assert!(begun.elapsed() < Duration::from_secs(20), "{name}: {:?}", begun.elapsed());
        assert_eq!(stamps(&shop), Vec::<String>::new(), "{name}");
        let (code, _, err) = run(&shop, &["register", "time-stamp"]);
        assert_eq!(code, 2, "{name}");
        has(&err, words);
        assert_eq!(run(&shop, &["register", "audit"]).0, 0, "{name}");
        let (number, bytes) = issued(&shop);
        let (code, out, _) =
            run(&shop, &["verify", &format!("certificates/{number}.pdf"), "--trust", files::ROOT]);
        assert_eq!(code, 0, "{name}: {out}");
        // Issued again it is the same file, and still nothing is kept of the service.
        let (code, out, _) = issue(&shop, demo::SMALL_LOT);
        assert_eq!(code, 0, "{name}");
        has(&out, "the same file written again");
        assert_eq!(issued(&shop), (number, bytes), "{name}");
    }
}

/// A service that stamps what is asked with another time.
#[test]
fn a_clock_that_is_far_off_is_told() {
    let Some(authority) = Authority::new("clock", Keys::P256).map(Arc::new) else { return };
    let signing = authority.clone();
    // The request's own imprint and nonce, in a stamp of the year 2027.
    let service = Service::start(Box::new(move |request: &[u8]| {
        let digest: [u8; 32] = request[22..54].try_into().unwrap();
        let nonce = &request[54..request.len() - 3];
        let content = Content {
            imprint: super::authority::imprint(super::authority::SHA_256, &digest),
            rest: nonce.to_vec(),
            ..Content::honest()
        };
        Reply::Stamp(signing.signed(&content.with_time("20270601120000Z").der(), "service", ""))
    }));
    let shop = shop("clock", &authority, &service.url);
    let (code, _, err) = issue(&shop, demo::SMALL_LOT);
    assert_eq!(code, 0);
    has(&err, "the service says that it is 2027-06-01T12:00:00Z, this computer says ");
    assert_eq!(stamps(&shop), Vec::<String>::new());
}

#[test]
fn stamps_that_were_changed_or_are_of_something_else() {
    let Some(authority) = Authority::new("changed", Keys::P256).map(Arc::new) else { return };
    let stranger = Authority::new("changed-stranger", Keys::P256).unwrap();
    let service = honest(&authority);
    let whole = shop("whole", &authority, &service.url);
    assert_eq!(issue(&whole, demo::SMALL_LOT).0, 0);
    let token = stamps(&whole).into_iter().find(|name| name.ends_with(".tsr")).unwrap();
    let size = token.trim_end_matches(".tsr").to_owned();
    let (number, _) = issued(&whole);
    let file = format!("certificates/{number}.pdf");
    let other = shop("other", &authority, &service.url);
    assert_eq!(issue(&other, demo::SMALL_LOT).0, 0);

    let attack = |what: &dyn Fn(&Path), words: &str| {
        let shop = demo::fresh("time-stamps-shop-attack");
        demo::copy(&whole, &shop);
        what(&shop);
        let (code, out, err) = run(&shop, &["register", "time-stamps"]);
        assert_eq!(code, 1, "{words}: {out}{err}");
        has(&out, "DOES NOT HOLD: ");
        has(&out, words);
        let dated = ["--time-stamps", "time-stamps", "--time-root", "time-stamps/root.pem"];
        let (code, out, _) =
            run(&shop, &[&["verify", &file, "--register", files::REGISTER], &dated[..]].concat());
        assert_eq!(code, 1, "{words}: {out}");
        has(&out, words);
    };
    let place = |shop: &Path, ending: &str| shop.join(format!("time-stamps/{size}{ending}"));
    attack(
        &|shop| {
            let mut bytes = fs::read(place(shop, ".tsr")).unwrap();
            *bytes.last_mut().unwrap() ^= 1;
            fs::write(place(shop, ".tsr"), bytes).unwrap();
        },
        "the stamp's signature: it is wrong",
    );
    // The head with one character changed; and another's head, soundly stamped.
    attack(
        &|shop| {
            let text = fs::read_to_string(place(shop, ".checkpoint")).unwrap();
            fs::write(place(shop, ".checkpoint"), text.replacen('=', "=\n", 1)).unwrap();
        },
        "imprint is",
    );
    attack(
        &|shop| {
            for ending in [".checkpoint", ".tsr"] {
                fs::copy(place(&other, ending), place(shop, ending)).unwrap();
            }
        },
        "none of its 1 signatures is by a known key",
    );
    attack(
        &|shop| {
            for ending in [".checkpoint", ".tsr"] {
                fs::rename(place(shop, ending), shop.join(format!("time-stamps/99{ending}"))).unwrap();
            }
        },
        "its head is of another size than its name says",
    );
    attack(
        &|shop| fs::write(shop.join("time-stamps/root.pem"), stranger.read("root.pem")).unwrap(),
        "the signature of its issuer: it is wrong",
    );
    // A head of the register's own future: an old copy of the register was put back.
    attack(
        &|shop| {
            assert_eq!(issue(shop, "L-26-0401").0, 0);
            for name in [files::REGISTER, files::HEAD] {
                fs::copy(whole.join(name), shop.join(name)).unwrap();
            }
            for ending in [".checkpoint", ".tsr"] {
                fs::remove_file(place(shop, ending)).unwrap();
            }
        },
        "there is no such proof",
    );
}

#[test]
fn what_shop_yaml_may_not_say_of_a_service() {
    let Some(authority) = Authority::new("yaml", Keys::P256) else { return };
    let shop = shop("yaml", &authority, "http://127.0.0.1:9/");
    let text = fs::read_to_string(shop.join("shop.yaml")).unwrap();
    let good = "url: \"http://127.0.0.1:9/\", root: time-stamps/root.pem, wait: 2";
    for (bad, words) in [
        ("url: \"https://stamps.example/\", root: a.pem", "https is not built in"),
        ("url: \"http://stamps.example/\", root: ../a.pem", "no file of the shop folder"),
        ("url: \"http://stamps.example/\", root: a.pem, policy: ours", "no object identifier"),
        ("url: \"http://stamps.example/\", root: a.pem, wait: 0", "0 seconds; expected 1 to 60"),
        ("url: \"http://stamps.example/\", root: a.pem, patience: 1", "patience"),
        ("url: \"http://stamps.example/\"", "root"),
    ] {
        fs::write(shop.join("shop.yaml"), text.replace(good, bad)).unwrap();
        let (code, _, err) = run(&shop, &["register", "time-stamp"]);
        assert_eq!(code, 2, "{bad}");
        has(&err, words);
        has(&err, "shop.yaml:");
    }
    fs::write(shop.join("shop.yaml"), text.replace("root: time-stamps/root.pem", "root: a.pem")).unwrap();
    let (code, _, err) = run(&shop, &["register", "time-stamp"]);
    assert_eq!(code, 2);
    has(&err, "a.pem is not in the shop folder");
    fs::write(shop.join("shop.yaml"), text.split("\ntime_stamps:").next().unwrap()).unwrap();
    let (code, _, err) = run(&shop, &["register", "time-stamp"]);
    assert_eq!(code, 2);
    has(&err, "shop.yaml names no time-stamping service");
    // No service, no stamp, no word about it.
    let (code, _, err) = issue(&shop, demo::SMALL_LOT);
    assert_eq!(code, 0, "{err}");
    assert!(!err.contains("time stamp"), "{err}");
}
