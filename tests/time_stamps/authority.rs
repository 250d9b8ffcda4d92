//! A time-stamping authority of OpenSSL's, with its certificates, and a way to make it lie.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use crate::demo;

use super::BYTES;
use super::NONCE;
use super::POLICY;

/// A folder with a root, perhaps an authority between, and services under it.
pub struct Authority {
    pub folder: PathBuf,
}

/// Which keys it uses.
#[derive(Clone, Copy)]
pub enum Keys {
    Rsa,
    P256,
    P384,
}

const CONFIG: &str = "\
[tsa]
serial = serial
default_policy = 1.3.6.1.4.1.99999.1
other_policies = 1.3.6.1.4.1.99999.2
digests = sha256, sha512
signer_digest = sha256
accuracy = secs:1, millisecs:500
ordering = yes
tsa_name = yes
ess_cert_id_chain = no
ess_cert_id_alg = sha256
crypto_device = builtin
[weak]
serial = serial
default_policy = 1.3.6.1.4.1.99999.1
digests = sha256
signer_digest = sha256
ess_cert_id_alg = sha1
[ca]
database = index.txt
serial = ca-serial
new_certs_dir = .
default_md = sha256
policy = any
[any]
commonName = supplied
[root]
basicConstraints = critical, CA:true
keyUsage = critical, keyCertSign, cRLSign
subjectKeyIdentifier = hash
[between]
basicConstraints = critical, CA:true, pathlen:0
keyUsage = critical, keyCertSign
extendedKeyUsage = timeStamping
[elsewhere]
basicConstraints = critical, CA:true
extendedKeyUsage = codeSigning
[no-ca]
basicConstraints = critical, CA:false
[service]
basicConstraints = critical, CA:false
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
subjectKeyIdentifier = hash
[mild]
extendedKeyUsage = timeStamping
[more]
extendedKeyUsage = critical, timeStamping, codeSigning
[other]
extendedKeyUsage = critical, codeSigning
[silent]
basicConstraints = critical, CA:false
[enciphers]
extendedKeyUsage = critical, timeStamping
keyUsage = critical, keyEncipherment
[strange]
extendedKeyUsage = critical, timeStamping
1.3.6.1.4.1.99999.7 = critical, ASN1:NULL
[req]
distinguished_name = name
[name]
";

impl Authority {
    /// Makes a root and a service `service` right under it, or nothing when OpenSSL is missing.
    pub fn new(name: &str, keys: Keys) -> Option<Authority> {
        if !demo::has("openssl", "version") {
            return None;
        }
        let folder = demo::fresh(&format!("time-stamps-{name}"));
        let made = Authority { folder };
        made.write("openssl.cnf", CONFIG.as_bytes());
        made.write("serial", b"0A7F\n");
        made.write("ca-serial", b"1001\n");
        made.write("index.txt", b"");
        made.key("root", keys);
        made.openssl(
            "req -new -x509 -days 36500 -key root.key -out root.pem -subj /O=Invented/CN=Stamp_root \
             -config openssl.cnf -extensions root",
        );
        made.service("service", "service", "root", keys);
        Some(made)
    }

    pub fn write(&self, name: &str, bytes: &[u8]) {
        fs::write(self.folder.join(name), bytes).unwrap();
    }

    pub fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.folder.join(name)).unwrap()
    }

    /// Runs OpenSSL; the arguments are split at spaces. Answers what it printed.
    #[track_caller]
    pub fn openssl(&self, arguments: &str) -> String {
        openssl(&self.folder, arguments)
    }

    fn key(&self, name: &str, keys: Keys) {
        let kind = match keys {
            Keys::Rsa => "-algorithm RSA -pkeyopt rsa_keygen_bits:2048",
            Keys::P256 => "-algorithm EC -pkeyopt ec_paramgen_curve:P-256",
            Keys::P384 => "-algorithm EC -pkeyopt ec_paramgen_curve:P-384",
        };
        self.openssl(&format!("genpkey {kind} -out {name}.key"));
    }

    /// A certificate `name` with the extensions of a section, issued by `issuer`.
    pub fn service(&self, name: &str, section: &str, issuer: &str, keys: Keys) {
        self.key(name, keys);
        self.openssl(&format!(
            "req -new -key {name}.key -out {name}.csr -subj /O=Invented/CN=Stamps_{name} -config openssl.cnf"
        ));
        self.openssl(&format!(
            "x509 -req -in {name}.csr -CA {issuer}.pem -CAkey {issuer}.key -CAcreateserial -days 36500 \
             -extfile openssl.cnf -extensions {section} -out {name}.pem"
        ));
    }

    /// A service whose certificate ended long ago.
    pub fn expired(&self, name: &str, keys: Keys) {
        self.key(name, keys);
        self.openssl(&format!(
            "req -new -key {name}.key -out {name}.csr -subj /CN=Stamps_{name} -config openssl.cnf"
        ));
        self.openssl(&format!(
            "ca -batch -notext -config openssl.cnf -name ca -cert root.pem -keyfile root.key -in {name}.csr \
             -out {name}.pem -startdate 20240101000000Z -enddate 20250101000000Z -extensions service"
        ));
    }

    /// The answer of OpenSSL's own service to a request.
    #[track_caller]
    pub fn answer(&self, request: &[u8], by: &str, more: &str) -> Vec<u8> {
        self.write("request.tsq", request);
        let section = if more.contains("-section") { "" } else { "-section tsa" };
        let arguments = format!(
            "ts -reply -config openssl.cnf {section} -queryfile request.tsq -signer {by}.pem -inkey {by}.key \
             -out answer.tsr {more}"
        );
        self.openssl(arguments.trim());
        self.read("answer.tsr")
    }

    /// An answer around any content, signed by any certificate: a service that lies.
    #[track_caller]
    pub fn signed(&self, content: &[u8], by: &str, more: &str) -> Vec<u8> {
        self.write("content.der", content);
        self.openssl(
            format!(
                "cms -sign -binary -nodetach -cades -outform DER -econtent_type 1.2.840.113549.1.9.16.1.4 \
                 -in content.der -signer {by}.pem -inkey {by}.key -out token.der {more}"
            )
            .trim(),
        );
        granted(&self.read("token.der"))
    }
}

/// Runs OpenSSL in a folder; the arguments are split at white space.
#[track_caller]
pub fn openssl(folder: &Path, arguments: &str) -> String {
    // In a name an underscore stands for a space.
    let name = |word: &str| if word.starts_with('/') { word.replace('_', " ") } else { word.to_owned() };
    let words = arguments.split_whitespace().map(name);
    let output = Command::new("openssl").args(words).current_dir(folder).output().unwrap();
    let said = demo::printed(&output);
    assert!(output.status.success(), "openssl {arguments}: {said}");
    said
}

/// One DER element.
pub fn der(tag: u8, parts: &[&[u8]]) -> Vec<u8> {
    let body = parts.concat();
    let length = body.len();
    let mut all = vec![tag];
    match length {
        0..128 => all.push(u8::try_from(length).unwrap()),
        128..256 => all.extend([0x81, u8::try_from(length).unwrap()]),
        _ => all.extend([0x82, u8::try_from(length >> 8).unwrap(), u8::try_from(length & 0xff).unwrap()]),
    }
    all.extend(body);
    all
}

/// An answer that grants a token.
pub fn granted(token: &[u8]) -> Vec<u8> {
    der(0x30, &[&[0x30, 3, 2, 1, 0], token])
}

/// The parts of what a service signs (TSTInfo, RFC 3161 section 2.4.2), each as DER, to be changed one at a time.
#[derive(Clone)]
pub struct Content {
    pub version: Vec<u8>,
    pub policy: Vec<u8>,
    pub imprint: Vec<u8>,
    pub serial: Vec<u8>,
    pub time: Vec<u8>,
    /// Accuracy, ordering, nonce, service, extensions.
    pub rest: Vec<u8>,
}

/// DER of SHA-256's object identifier.
pub const SHA_256: &[u8] = &[6, 9, 0x60, 0x86, 0x48, 1, 0x65, 3, 4, 2, 1];
/// DER of SHA-512's.
pub const SHA_512: &[u8] = &[6, 9, 0x60, 0x86, 0x48, 1, 0x65, 3, 4, 2, 3];

impl Content {
    /// What an honest service would sign.
    pub fn honest() -> Content {
        let digest = brightproof::time_stamp::imprint(BYTES);
        assert_eq!(POLICY, "1.3.6.1.4.1.99999.1");
        Content {
            version: vec![2, 1, 1],
            policy: vec![6, 9, 0x2b, 6, 1, 4, 1, 0x86, 0x8d, 0x1f, 1],
            imprint: imprint(SHA_256, &digest),
            serial: vec![2, 1, 7],
            time: der(0x18, &[b"20270101120000Z"]),
            rest: nonce(&NONCE),
        }
    }

    pub fn with_time(&self, text: &str) -> Content {
        Content { time: der(0x18, &[text.as_bytes()]), ..self.clone() }
    }

    pub fn with_rest(&self, rest: &[&[u8]]) -> Content {
        Content { rest: rest.concat(), ..self.clone() }
    }

    pub fn der(&self) -> Vec<u8> {
        der(0x30, &[&self.version, &self.policy, &self.imprint, &self.serial, &self.time, &self.rest])
    }
}

pub fn imprint(algorithm: &[u8], digest: &[u8]) -> Vec<u8> {
    der(0x30, &[&der(0x30, &[algorithm]), &der(4, &[digest])])
}

/// A nonce whose first bit is set, as an INTEGER.
pub fn nonce(bytes: &[u8]) -> Vec<u8> {
    assert!(bytes[0] & 0x80 != 0);
    der(2, &[&[0], bytes])
}
