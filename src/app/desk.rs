//! An open shop: its book, register and keys together, for the verbs that write.

use std::path::Path;
use std::path::PathBuf;

use serde_json::json;
use zeroize::Zeroizing;

use crate::app::book::Book;
use crate::app::error::Error;
use crate::app::keys;
use crate::app::keys::Keys;
use crate::app::world::World;
use crate::checkpoint;
use crate::checkpoint::SigningKey;
use crate::folder;
use crate::folder::Folder;
use crate::merkle::Hash;
use crate::pdf::Renderer;
use crate::register::Kind;
use crate::register::NewEntry;
use crate::register::Register;
use crate::register::Transaction;
use crate::seal;
use crate::seal::SealKey;
use crate::token;

/// File names within the shop folder.
pub mod files {
    /// Root certificate, to hand out.
    pub const ROOT: &str = "keys/root.pem";
    /// Root key, to lock away.
    pub const ROOT_KEY: &str = "keys/root-key.pem";
    /// Seal certificate and root.
    pub const SEAL: &str = "keys/seal.pem";
    /// Seal key.
    pub const SEAL_KEY: &str = "keys/seal-key.pem";
    /// Where the seal key lies if a token holds it; counts only for the seal it names.
    pub const SEAL_TOKEN: &str = "keys/seal-token.json";
    /// Register's signing key.
    pub const CHECKPOINT_KEY: &str = "keys/register-key.txt";
    /// Register's verifier key, to hand out.
    pub const CHECKPOINT: &str = "keys/register.txt";
    /// The register.
    pub const REGISTER: &str = "register.sqlite";
    /// The register's last head, kept outside of it.
    pub const HEAD: &str = "register-head.txt";
    /// Where certificates are written.
    pub const CERTIFICATES: &str = "certificates";
}

/// Gives the passphrase of a locked key; asked only when one is needed.
pub type AskPassphrase<'a> = dyn Fn() -> Result<Zeroizing<Vec<u8>>, Error> + 'a;

/// An open shop.
pub struct Desk {
    /// The book.
    pub book: Book,
    /// The register.
    pub register: Register,
    /// The seal.
    pub seal: SealKey,
    /// The register's key.
    pub signer: SigningKey,
    /// The page.
    pub renderer: Renderer,
}

/// A key in a token, as the seal asks for it.
struct InToken(Box<dyn token::Key>);

impl seal::RemoteKey for InToken {
    fn public(&self) -> &[u8] {
        self.0.public()
    }

    fn sign(&self, message: &[u8]) -> Result<Vec<u8>, String> {
        self.0.sign(message)
    }
}

/// Signs heads of the register.
pub fn sign_head(key: &SigningKey) -> impl Fn(&str, u64, &Hash) -> Result<String, String> + '_ {
    |origin, size, root| checkpoint::sign(key, origin, size, root).map_err(|e| e.to_string())
}

/// Opens a shop's register for reading and, where the keys are at hand, writing.
pub fn open_register(folder: &Folder) -> Result<Register, Error> {
    Ok(Register::open(&folder.path(files::REGISTER), Some(&folder.path(files::HEAD)))?)
}

/// Reads the register's signing key.
pub fn read_signer(folder: &Folder) -> Result<SigningKey, Error> {
    keys::settle(folder)?;
    let bytes = Zeroizing::new(folder::read_private(&folder.path(files::CHECKPOINT_KEY))?);
    let text = std::str::from_utf8(&bytes)
        .map_err(|_| folder::FolderError::NotText(files::CHECKPOINT_KEY.to_owned()))?;
    Ok(SigningKey::parse(text.trim())?)
}

impl Desk {
    /// Opens a shop folder with its keys.
    pub fn open(folder: Folder, passphrase: &AskPassphrase) -> Result<Desk, Error> {
        keys::settle(&folder)?;
        let book = Book::open(folder)?;
        let folder = &book.folder;
        let certificate = folder::read(&folder.path(files::SEAL))?;
        let seal = match keys::token_of(folder, &certificate)? {
            Some(place) => {
                seal::load_remote_key(Box::new(InToken(token::open(&place, &passphrase()?)?)), &certificate)?
            }
            None => {
                let key = Zeroizing::new(folder::read_private(&folder.path(files::SEAL_KEY))?);
                let asked = if seal::is_encrypted(&key)? { Some(passphrase()?) } else { None };
                seal::load_key(&key, &certificate, asked.as_deref().map(Vec::as_slice))?
            }
        };
        let signer = read_signer(folder)?;
        let register = open_register(folder)?;
        let root = seal.root_fingerprint()?;
        let keys = Keys::read(&register)?;
        keys.allow_root(&root)?;
        keys.allow(&seal.seal_fingerprint()?, &signer.verify_key())?;
        adoptions_as_registered(&book, &register)?;
        Ok(Desk { register, seal, signer, renderer: Renderer::new()?, book })
    }

    /// Where a certificate is written.
    pub fn certificate_path(&self, out: Option<&Path>, number: &str) -> PathBuf {
        let folder = out.map_or_else(|| self.book.folder.path(files::CERTIFICATES), Path::to_path_buf);
        folder.join(format!("{number}.pdf"))
    }
}

/// An adoption decides what is judged, so nobody edits one quietly: each must be the text last registered.
pub(super) fn adoptions_as_registered(book: &Book, register: &Register) -> Result<(), Error> {
    let entered = register.of_kind(Kind::Adoption)?;
    let text_of = |entry: &crate::register::Entry, key: &str| {
        entry.detail.get(key).and_then(|v| v.as_str()).unwrap_or_default().to_owned()
    };
    for adoption in &book.adoptions {
        let last = entered.iter().rev().find(|entry| {
            text_of(entry, "pack") == adoption.document.pack
                && text_of(entry, "edition") == adoption.document.edition
        });
        let same = last.is_some_and(|entry| {
            text_of(entry, "sha256") == crate::canonical::stamp(adoption.text.as_bytes())
        });
        if !same {
            return Err(Error::cannot(
                format!("{} is not the adoption that was registered", adoption.file),
                "adopt the edition again with `brightproof rules adopt`, or put the registered file back",
            ));
        }
    }
    Ok(())
}

/// Draws a key that signs the heads of a register.
pub(super) fn new_signer(origin: &str, world: &World) -> Result<SigningKey, Error> {
    let mut seed = Zeroizing::new([0_u8; 32]);
    world.fill(seed.as_mut_slice()).map_err(|e| Error::cannot(e, ""))?;
    Ok(SigningKey::from_seed(origin, &seed)?)
}

/// Begins a batch of entries whose head `signer` is to sign; refused when another key signs this register's heads by
/// now, asked under the lock.
///
/// # Errors
/// As [`Register::begin`], and when the key was replaced.
pub fn begin<'r>(
    register: &'r mut Register,
    signer: &SigningKey,
    world: &World,
) -> Result<Transaction<'r>, Error> {
    let tx = register.begin_since(&world.utc(), &|| world.utc_by_now())?;
    Keys::under(&tx)?.signs(&signer.verify_key())?;
    Ok(tx)
}

/// Makes keys and register in a shop folder that has none; answers the root's fingerprint.
pub fn found(
    folder: &Folder,
    name: &str,
    origin: &str,
    passphrase: Option<&[u8]>,
    world: &World,
) -> Result<String, Error> {
    for file in [files::ROOT, files::SEAL_KEY, files::CHECKPOINT_KEY, files::REGISTER] {
        if folder.has(file) {
            return Err(Error::cannot(
                format!("{} is there already", folder.path(file).display()),
                "a shop has one register and one root; choose an empty folder",
            ));
        }
    }
    let mut random = |buffer: &mut [u8]| world.fill(buffer);
    let utc = world.now().with_timezone(&chrono::Utc);
    let keys = seal::create_keys(name, utc, passphrase, &mut random)?;
    let signer = new_signer(origin, world)?;
    let verifier = signer.verify_key().to_string();
    let root = seal::fingerprint(keys.root_cert_pem.as_bytes())?;
    folder::write_new(&folder.path(files::ROOT), keys.root_cert_pem.as_bytes(), false)?;
    folder::write_new(&folder.path(files::ROOT_KEY), keys.root_key_pem.as_bytes(), true)?;
    folder::write_new(&folder.path(files::SEAL), keys.seal_cert_pem.as_bytes(), false)?;
    folder::write_new(&folder.path(files::SEAL_KEY), keys.seal_key_pem.as_bytes(), true)?;
    folder::write_new(&folder.path(files::CHECKPOINT_KEY), signer.to_text().as_bytes(), true)?;
    folder::write_new(&folder.path(files::CHECKPOINT), format!("{verifier}\n").as_bytes(), false)?;
    let genesis = json!({ "root": root, "checkpoint_key": verifier, "shop": name });
    Register::create(&folder.path(files::REGISTER), origin, genesis, &world.utc(), world.salt()?)?;
    let mut register = open_register(folder)?;
    let mut tx = register.begin_since(&world.utc(), &|| world.utc_by_now())?;
    let seal_fingerprint =
        seal::load_key(keys.seal_key_pem.as_bytes(), keys.seal_cert_pem.as_bytes(), passphrase)?
            .seal_fingerprint()?;
    tx.append(
        NewEntry {
            kind: Kind::Key,
            number: None,
            replaces: None,
            detail: json!({ "act": "added", "seal": seal_fingerprint, "under": root }),
            salt: world.salt()?,
        },
        None,
    )?;
    tx.commit(&sign_head(&signer))?;
    Ok(root)
}

/// Enters an adoption in the register.
pub fn register_adoption(
    folder: &Folder,
    adoption: &crate::adoption::Adoption,
    yaml: &str,
    world: &World,
) -> Result<(), Error> {
    let signer = read_signer(folder)?;
    let mut register = open_register(folder)?;
    let mut tx = begin(&mut register, &signer, world)?;
    let detail = json!({
        "pack": adoption.pack, "edition": adoption.edition, "by": adoption.by,
        "on": adoption.on, "copy": adoption.copy, "sha256": crate::canonical::stamp(yaml.as_bytes()),
    });
    tx.append(
        NewEntry { kind: Kind::Adoption, number: None, replaces: None, detail, salt: world.salt()? },
        None,
    )?;
    tx.commit(&sign_head(&signer))?;
    Ok(())
}
