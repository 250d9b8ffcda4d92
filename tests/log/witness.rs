//! Witnesses, written here from c2sp.org/tlog-witness and c2sp.org/tlog-cosignature: nothing of ours signs for them.

use std::fs;
use std::io::BufRead;
use std::io::BufReader;
use std::io::Read;
use std::io::Write;
use std::net::TcpListener;
use std::net::TcpStream;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::sync::Mutex;
use std::time::Duration;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use brightproof::app::proofs;
use brightproof::app::verify;
use brightproof::app::verify::LogKeys;
use brightproof::app::verify::Overall;
use brightproof::app::witness;
use brightproof::app::witness::Came;
use brightproof::checkpoint::Role;
use brightproof::folder::Folder;
use brightproof::merkle::Hash;
use brightproof::merkle::sha256;
use brightproof::merkle::verify_consistency;
use brightproof::shop::Witness;
use ed25519_dalek::Signature;
use ed25519_dalek::Signer;
use ed25519_dalek::SigningKey;
use ed25519_dalek::VerifyingKey;

use super::certificate;
use super::grow;
use super::with_proof;
use crate::demo;
use crate::demo::Demo;

/// A witness's key (type 0x04).
pub struct Key {
    name: String,
    key: SigningKey,
}

impl Key {
    pub fn new(name: &str, seed: u8) -> Key {
        Key { name: name.to_owned(), key: SigningKey::from_bytes(&[seed; 32]) }
    }

    /// Type byte and public key.
    fn public(&self) -> Vec<u8> {
        [&[4_u8], self.key.verifying_key().as_bytes().as_slice()].concat()
    }

    /// First four bytes of SHA-256 of name, line end, type byte and public key.
    fn id(&self) -> [u8; 4] {
        let hashed = [self.name.as_bytes(), b"\n", &self.public()].concat();
        sha256(&hashed)[..4].try_into().unwrap()
    }

    /// `name+id+key`, as c2sp.org/signed-note writes verifier keys.
    pub fn vkey(&self) -> String {
        format!("{}+{}+{}", self.name, hex::encode(self.id()), STANDARD.encode(self.public()))
    }

    /// The signature line over a checkpoint's three lines, stating `at` (seconds since 1970).
    pub fn cosign(&self, head: &str, at: u64) -> String {
        let signature = self.key.sign(format!("cosignature/v1\ntime {at}\n{head}").as_bytes());
        let line = [&self.id()[..], &at.to_be_bytes(), &signature.to_bytes()].concat();
        format!("\u{2014} {} {}\n", self.name, STANDARD.encode(line))
    }
}

/// How a witness answers.
#[derive(Clone, PartialEq)]
pub enum Manner {
    /// As the protocol says.
    Honest,
    /// With this status and body, whatever it is asked.
    Says(u16, Vec<u8>),
    /// Not at all: the connection is taken and nothing comes.
    Mute,
}

/// What a witness knows and what it was asked.
struct State {
    manner: Manner,
    /// The register's public key, by origin.
    trusted: Option<(String, VerifyingKey)>,
    latest: Option<(u64, Hash)>,
    asked: Vec<String>,
}

/// A witness on a port of this machine.
pub struct Host {
    pub url: String,
    pub key: Arc<Key>,
    state: Arc<Mutex<State>>,
}

impl Host {
    /// One that knows the register of this shop.
    pub fn of(shop: &Path, name: &str, seed: u8) -> Host {
        let vkey = fs::read_to_string(shop.join("keys/register.txt")).unwrap();
        let mut parts = vkey.trim().splitn(3, '+');
        let origin = parts.next().unwrap().to_owned();
        let bytes = STANDARD.decode(parts.nth(1).unwrap()).unwrap();
        let public = VerifyingKey::from_bytes(bytes[1..].try_into().unwrap()).unwrap();
        let state = State {
            manner: Manner::Honest,
            trusted: Some((origin, public)),
            latest: None,
            asked: Vec::new(),
        };
        let (key, state) = (Arc::new(Key::new(name, seed)), Arc::new(Mutex::new(state)));
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let url = format!("http://{}/w", listener.local_addr().unwrap());
        let (its_key, its_state) = (Arc::clone(&key), Arc::clone(&state));
        std::thread::spawn(move || {
            for stream in listener.incoming() {
                serve(stream.unwrap(), &its_key, &its_state);
            }
        });
        Host { url, key, state }
    }

    pub fn behave(&self, manner: Manner) {
        self.state.lock().unwrap().manner = manner;
    }

    /// Trusts nobody's register, or another key for this one.
    pub fn trust(&self, trusted: Option<(String, VerifyingKey)>) {
        self.state.lock().unwrap().trusted = trusted;
    }

    /// First lines of the requests it got since it was last asked.
    pub fn asked(&self) -> Vec<String> {
        let asked = std::mem::take(&mut self.state.lock().unwrap().asked);
        asked.iter().map(|body| body.lines().next().unwrap().to_owned()).collect()
    }

    fn latest(&self) -> Option<u64> {
        self.state.lock().unwrap().latest.map(|(size, _)| size)
    }

    /// As shop.yaml names it.
    pub fn named(&self) -> Witness {
        Witness { url: self.url.clone(), key: self.key.vkey() }
    }
}

/// Takes one request and answers it.
fn serve(mut stream: TcpStream, key: &Key, state: &Mutex<State>) {
    let mut reader = BufReader::new(stream.try_clone().unwrap());
    let mut lines = Vec::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).unwrap();
        if line == "\r\n" || line.is_empty() {
            break;
        }
        lines.push(line.trim_end().to_ascii_lowercase());
    }
    let length = lines.iter().find_map(|l| l.strip_prefix("content-length: ")).unwrap().parse().unwrap();
    let mut body = vec![0; length];
    reader.read_exact(&mut body).unwrap();
    let body = String::from_utf8(body).unwrap();
    let mut state = state.lock().unwrap();
    let manner = state.manner.clone();
    state.asked.push(body.clone());
    let (status, kind, answer) = match manner {
        Manner::Mute => {
            drop(state);
            std::thread::sleep(Duration::from_secs(8));
            return;
        }
        Manner::Says(status, answer) => (status, "text/plain", answer),
        Manner::Honest if lines[0] != "post /w/add-checkpoint http/1.1" => (405, "text/plain", Vec::new()),
        Manner::Honest => judged(&body, key, &mut state),
    };
    drop(state);
    let head = format!(
        "HTTP/1.1 {status} X\r\nContent-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        answer.len()
    );
    let _ = stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(&answer));
}

/// The protocol's add-checkpoint, step by step.
fn judged(body: &str, key: &Key, state: &mut State) -> (u16, &'static str, Vec<u8>) {
    let plain = |status| (status, "text/plain", Vec::new());
    let (proof, checkpoint) = body.split_once("\n\n").unwrap();
    let mut lines = proof.lines();
    let old: u64 = lines.next().unwrap().strip_prefix("old ").unwrap().parse().unwrap();
    let hashes: Vec<Hash> = lines.map(|l| STANDARD.decode(l).unwrap().try_into().unwrap()).collect();
    assert!(hashes.len() <= 63 && (old > 0 || hashes.is_empty()), "a client must not send this: {body}");
    let (text, signatures) = checkpoint.split_once("\n\n").unwrap();
    let text = format!("{text}\n");
    let head: Vec<&str> = text.lines().collect();
    let (size, root): (u64, Hash) =
        (head[1].parse().unwrap(), STANDARD.decode(head[2]).unwrap().try_into().unwrap());
    let Some((_, public)) = state.trusted.as_ref().filter(|(origin, _)| origin == head[0]) else {
        return plain(404);
    };
    assert!(signatures.ends_with('\n'), "{body}");
    let signed = signatures.lines().any(|line| {
        let bytes = STANDARD.decode(line.rsplit(' ').next().unwrap()).unwrap();
        Signature::from_slice(&bytes[4..]).is_ok_and(|s| public.verify_strict(text.as_bytes(), &s).is_ok())
    });
    if !signed {
        return plain(403);
    }
    if old > size {
        return plain(400);
    }
    let (seen, seen_root) = state.latest.unwrap_or((0, [0; 32]));
    if old != seen || (old == size && root != seen_root) {
        return (409, "text/x.tlog.size", format!("{seen}\n").into_bytes());
    }
    if old > 0 && verify_consistency(old, &seen_root, size, &root, &hashes).is_err() {
        return plain(422);
    }
    state.latest = Some((size, root));
    (200, "text/plain", key.cosign(&text, 1_795_000_000 + size).into_bytes())
}

/// Asks as `register witness` does.
fn ask(shop: &Path, hosts: &[&Host]) -> Vec<Came> {
    let named: Vec<Witness> = hosts.iter().map(|host| host.named()).collect();
    let (size, asked) = witness::ask(&Folder::new(shop), &named, &demo::register(shop)).unwrap();
    assert_eq!(size, demo::register(shop).head().unwrap().size);
    asked.into_iter().map(|one| one.came).collect()
}

fn kept(shop: &Path) -> Option<String> {
    let size = demo::register(shop).head().unwrap().size;
    fs::read_to_string(shop.join(format!("cosigned/{size}.checkpoint"))).ok()
}

#[test]
fn what_a_witness_signs_goes_into_proofs() {
    let shop = Demo::get().copy("witness-signs");
    let (one, two) = (Host::of(&shop, "witness.example/w1", 1), Host::of(&shop, "witness.example/w2", 2));
    let first = demo::register(&shop).head().unwrap().size;
    assert_eq!(ask(&shop, &[&one, &two]), [Came::Cosigned, Came::Cosigned]);
    assert_eq!((one.asked(), two.asked()), (vec!["old 0".to_owned()], vec!["old 0".to_owned()]));
    assert_eq!(ask(&shop, &[&one, &two]), [Came::Before, Came::Before]);
    assert_eq!(one.asked(), Vec::<String>::new(), "nobody is asked twice for one head");

    let (number, _) = certificate();
    let register = demo::register(&shop);
    let proof = || proofs::best(&Folder::new(&shop), &register, number).unwrap().to_text();
    let keys = |hosts: &[&Host]| {
        let given: Vec<String> = hosts.iter().map(|host| host.key.vkey()).collect();
        LogKeys { witnesses: verify::keys(&given, Role::Witness).unwrap(), ..LogKeys::default() }
    };
    let found = with_proof(&proof(), &keys(&[&one, &two]));
    assert_eq!((found.overall(), demo::said(&found, "witnesses")), (Overall::Verifies, "pass".to_owned()));
    // somebody else's word is not there; a plain proof names nobody
    let stranger = Host::of(&shop, "witness.example/w3", 3);
    let found = with_proof(&proof(), &keys(&[&one, &stranger]));
    assert_eq!(found.overall(), Overall::CouldNotTell);
    assert!(demo::said(&found, "witnesses").starts_with("not checked: not cosigned by witness.example/w3"));
    let plain = super::proof_of(&register, number).to_text();
    assert_eq!(with_proof(&plain, &keys(&[&one])).overall(), Overall::CouldNotTell);
    // a cosignature that was bent spoils the proof, for whoever knows the witness
    let line = proof().lines().last().unwrap().to_owned();
    let bent = line.replace("AAAABq", "AAAABr");
    assert_ne!(bent, line);
    let found = with_proof(&proof().replace(&line, &bent), &keys(&[&two]));
    assert_eq!(found.overall(), Overall::DoesNotVerify);

    // later heads are shown from the one it saw last; proofs stay under the newest that was cosigned
    grow(&shop, "one");
    assert!(proof().contains(&format!("/register\n{first}\n")));
    assert_eq!(ask(&shop, &[&one, &two]), [Came::Cosigned, Came::Cosigned]);
    assert_eq!(one.asked(), [format!("old {first}")]);
    assert!(proof().contains(&format!("/register\n{}\n", first + 1)));
    // a shop that forgot what it saw asks, is told, and goes on from there
    fs::remove_dir_all(shop.join("cosigned")).unwrap();
    grow(&shop, "two");
    assert_eq!(ask(&shop, &[&one]), [Came::Cosigned]);
    assert_eq!(one.asked(), ["old 0".to_owned(), format!("old {}", first + 1)]);
    // what is kept is no longer this register's: it is left out
    fs::write(shop.join(format!("cosigned/{}.checkpoint", first + 2)), "not a checkpoint").unwrap();
    assert!(proof().contains(&format!("/register\n{}\n", first + 2)) && !proof().contains("witness.example"));
}

#[test]
fn a_witness_that_saw_another_history_says_so() {
    let (ours, theirs) = (Demo::get().copy("witness-ours"), Demo::get().copy("witness-theirs"));
    let host = Host::of(&ours, "witness.example/w1", 1);
    let contradicts = |came: &[Came], expected: &str| match came {
        [Came::Contradicts(why)] => assert!(why.contains(expected), "{why}"),
        other => panic!("{other:?}"),
    };
    grow(&ours, "ours");
    assert_eq!(ask(&ours, &[&host]), [Came::Cosigned]);
    let seen = host.latest();
    // an old copy put back
    contradicts(&ask(&theirs, &[&host]), "an old copy was put back");
    // another history of the same length, and a longer one
    grow(&theirs, "theirs");
    contradicts(&ask(&theirs, &[&host]), "the register's history was forked");
    grow(&theirs, "theirs again");
    contradicts(&ask(&theirs, &[&host]), "are not those of this register");
    assert_eq!((host.latest(), kept(&theirs)), (seen, None));
}

#[test]
fn a_witness_that_is_silent_or_talks_nonsense_leaves_nothing_behind() {
    let shop = Demo::get().copy("witness-odd");
    let host = Host::of(&shop, "witness.example/w1", 1);
    let text = demo::register(&shop).head().unwrap().checkpoint.unwrap();
    let head = text.split_once("\n\n").unwrap().0.to_owned() + "\n";
    let other = Key::new("witness.example/w1", 9);
    let refused = |manner: Manner, expected: &str| {
        host.behave(manner);
        match ask(&shop, &[&host]).as_slice() {
            [Came::Refused(why) | Came::Silent(why)] => assert!(why.contains(expected), "{why}"),
            other => panic!("{other:?}"),
        }
        assert_eq!(kept(&shop), None);
    };
    refused(Manner::Says(404, vec![]), "it answers 404: it does not know this register");
    refused(Manner::Says(403, vec![]), "it answers 403: it does not trust the key");
    refused(Manner::Says(500, b"oops".to_vec()), "it answers 500");
    refused(Manner::Says(301, vec![]), "it answers 301");
    refused(Manner::Says(409, b"many\n".to_vec()), "what it saw is not said");
    refused(Manner::Says(409, b"7".to_vec()), "what it saw is not said");
    refused(Manner::Says(409, b"0\n".to_vec()), "ask again");
    refused(Manner::Says(200, vec![]), "no cosignature");
    refused(Manner::Says(200, b"<html>hello</html>\n".to_vec()), "no cosignature");
    refused(Manner::Says(200, vec![0xff; 50]), "no cosignature");
    refused(Manner::Says(200, vec![b'x'; 200_000]), "more than 100000 bytes");
    // another key of the same name; another head
    refused(Manner::Says(200, other.cosign(&head, 5).into_bytes()), "no cosignature");
    let elsewhere = host.key.cosign(&head.replace("larkspur", "larkspurr"), 5);
    refused(Manner::Says(200, elsewhere.into_bytes()), "no cosignature");
    refused(Manner::Mute, "does not answer");
    // lines by others are passed over, its own is kept
    let both = other.cosign(&head, 5) + &host.key.cosign(&head, 6);
    host.behave(Manner::Says(200, both.into_bytes()));
    assert_eq!(ask(&shop, &[&host]), [Came::Cosigned]);
    assert_eq!(kept(&shop), Some(text.clone() + &host.key.cosign(&head, 6)));
    // its own word that it does not know a register or its key
    let fresh = Demo::get().copy("witness-unknown");
    host.behave(Manner::Honest);
    host.trust(None);
    assert!(matches!(ask(&fresh, &[&host]).as_slice(), [Came::Refused(why)] if why.contains("404")));
    let wrong = Key::new("x", 8).key.verifying_key();
    host.trust(Some(("larkspur.example/register".to_owned(), wrong)));
    assert!(matches!(ask(&fresh, &[&host]).as_slice(), [Came::Refused(why)] if why.contains("403")));
}

#[test]
fn what_shop_yaml_says_of_a_witness_must_be_one() {
    let shop = Demo::get().copy("witness-named");
    let good = Witness { url: "http://127.0.0.1:9/w".to_owned(), key: Key::new("w", 1).vkey() };
    let register = fs::read_to_string(shop.join("keys/register.txt")).unwrap();
    for bad in [
        Witness { url: "https://witness.example".to_owned(), ..good.clone() },
        Witness { key: register, ..good.clone() },
        Witness { key: "w+00000000+AAAA".to_owned(), ..good },
    ] {
        let error = witness::ask(&Folder::new(&shop), &[bad], &demo::register(&shop)).unwrap_err();
        assert!(error.to_string().starts_with("the witness "), "{error}");
    }
}

/// By the keyboard: a dead witness hinders no issue, a live one's word is in the proof beside the certificate.
#[test]
fn a_dead_witness_never_blocks_an_issue() {
    let shop = demo::fresh("witness-issue");
    demo::begin(&shop, "witness-issue");
    let host = Host::of(&shop, "witness.example/w1", 1);
    // A port that was free a moment ago and is closed now.
    let closed = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let yaml = fs::read_to_string(shop.join("shop.yaml")).unwrap();
    let dead = Key::new("witness.example/dead", 4).vkey();
    let named = format!(
        "{yaml}\nwitnesses:\n  - {{ url: \"http://{closed}\", key: {dead} }}\n  - {{ url: \"{}\", key: {} }}\n",
        host.url,
        host.key.vkey()
    );
    fs::write(shop.join("shop.yaml"), named).unwrap();
    let run = |arguments: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_brightproof")).current_dir(&shop).args(arguments).output().unwrap()
    };
    let output = run(&["issue", demo::SMALL_LOT, "--by", demo::RELEASES]);
    let said = demo::printed(&output);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("warning: witness witness.example/dead: silent: "), "{said}");
    let proof = fs::read_dir(shop.join("certificates")).unwrap().map(|e| e.unwrap().path());
    let proof: Vec<_> = proof.filter(|p| p.extension().is_some_and(|e| e == "tlog-proof")).collect();
    assert_eq!(proof.len(), 1);
    let text = fs::read_to_string(&proof[0]).unwrap();
    assert!(
        text.contains("\u{2014} witness.example/w1 ") && !text.contains("witness.example/dead"),
        "{text}"
    );
    let pdf = proof[0].with_extension("pdf").display().to_string();
    let key = host.key.vkey();
    let output = run(&["verify", &pdf, "--trust", "keys/root.pem", "--witness-key", &key]);
    assert_eq!(output.status.code(), Some(0), "{}", demo::printed(&output));
    let output = run(&["register", "witness"]);
    assert_eq!(output.status.code(), Some(2), "one is silent: {}", demo::printed(&output));
    assert!(demo::printed(&output).contains("witness.example/w1: had cosigned the head of"));
}
