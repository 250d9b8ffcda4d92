//! Talking to a token.

use std::sync::Mutex;

use cryptoki::context::CInitializeArgs;
use cryptoki::context::CInitializeFlags;
use cryptoki::context::Pkcs11;
use cryptoki::error::Error;
use cryptoki::error::RvError;
use cryptoki::mechanism::Mechanism;
use cryptoki::object::Attribute;
use cryptoki::object::AttributeType;
use cryptoki::object::KeyType;
use cryptoki::object::ObjectClass;
use cryptoki::object::ObjectHandle;
use cryptoki::session::Session;
use cryptoki::session::UserType;
use cryptoki::slot::Slot;
use cryptoki::types::AuthPin;
use sha2::Digest;
use sha2::Sha256;

use super::Key;
use super::Place;
use super::TokenError;

/// The curve P-256 by its object identifier, DER (RFC 5480).
const P256: [u8; 10] = [0x06, 0x08, 0x2a, 0x86, 0x48, 0xce, 0x3d, 0x03, 0x01, 0x07];
/// A point on it: 04, then both coordinates of 32 bytes.
const POINT: usize = 65;

/// One session with the token, and the key in it. A session answers one question at a time.
struct Opened {
    session: Mutex<Session>,
    key: ObjectHandle,
    public: Vec<u8>,
}

impl Key for Opened {
    fn public(&self) -> &[u8] {
        &self.public
    }

    fn sign(&self, message: &[u8]) -> Result<Vec<u8>, String> {
        // The token signs the digest: every one that knows the curve can.
        let digest = Sha256::digest(message);
        let session = self.session.lock().map_err(|_| "an earlier question to it failed".to_owned())?;
        session.sign(&Mechanism::Ecdsa, self.key, &digest).map_err(|e| e.to_string())
    }
}

fn refused(place: &Place, what: &'static str) -> impl Fn(Error) -> TokenError {
    let token = place.token.clone();
    move |e| TokenError::Refused { token: token.clone(), what, reason: e.to_string() }
}

/// The library, and the slot with the one token of this label.
fn slot(place: &Place) -> Result<(Pkcs11, Slot), TokenError> {
    let unusable = |e: Error| TokenError::Module { module: place.module.clone(), reason: e.to_string() };
    let library = Pkcs11::new(&place.module).map_err(unusable)?;
    match library.initialize(CInitializeArgs::new(CInitializeFlags::OS_LOCKING_OK)) {
        // A program that makes a key and then opens it loads the library twice.
        Ok(()) | Err(Error::Pkcs11(RvError::CryptokiAlreadyInitialized, _)) => {}
        Err(error) => return Err(unusable(error)),
    }
    let mut there = Vec::new();
    for slot in library.get_slots_with_token().map_err(unusable)? {
        // A token that is just being pulled out is as none.
        let Ok(info) = library.get_token_info(slot) else { continue };
        there.push((info.label().trim_end().to_owned(), slot));
    }
    let named: Vec<Slot> =
        there.iter().filter(|(label, _)| *label == place.token).map(|(_, slot)| *slot).collect();
    match named.as_slice() {
        [only] => Ok((library, *only)),
        _ => Err(TokenError::Token {
            token: place.token.clone(),
            count: named.len(),
            there: there.iter().map(|(label, _)| format!("{label:?}")).collect::<Vec<_>>().join(", "),
        }),
    }
}

fn log_in(place: &Place, session: &Session, pin: &[u8]) -> Result<(), TokenError> {
    let wrong = |reason: String| TokenError::Pin { token: place.token.clone(), reason };
    let pin = std::str::from_utf8(pin).map_err(|_| wrong("it is no text".to_owned()))?;
    match session.login(UserType::User, Some(&AuthPin::from(pin.to_owned()))) {
        Ok(()) | Err(Error::Pkcs11(RvError::UserAlreadyLoggedIn, _)) => Ok(()),
        Err(error) => Err(wrong(error.to_string())),
    }
}

fn find(place: &Place, session: &Session, class: ObjectClass) -> Result<Vec<ObjectHandle>, TokenError> {
    let template =
        [Attribute::Class(class), Attribute::Token(true), Attribute::Label(place.key.clone().into_bytes())];
    session.find_objects(&template).map_err(refused(place, "list its keys"))
}

fn one(place: &Place, found: &[ObjectHandle], expected: &'static str) -> Result<ObjectHandle, TokenError> {
    match found {
        [only] => Ok(*only),
        _ => Err(TokenError::Key {
            token: place.token.clone(),
            key: place.key.clone(),
            count: found.len(),
            expected,
        }),
    }
}

/// The point of a public key: wrapped in an octet string as the standard has it, or bare as some tokens give it.
fn public(place: &Place, session: &Session, key: ObjectHandle) -> Result<Vec<u8>, TokenError> {
    let told = session
        .get_attributes(key, &[AttributeType::EcPoint])
        .map_err(refused(place, "tell the public key"))?;
    let point = told.into_iter().find_map(|one| match one {
        Attribute::EcPoint(bytes) => Some(bytes),
        _ => None,
    });
    let point = point.unwrap_or_default();
    let bare = match point.strip_prefix(&[0x04, 0x41]) {
        Some(inner) if inner.len() == POINT => inner.to_vec(),
        _ => point,
    };
    if bare.len() == POINT && bare.first() == Some(&0x04) {
        return Ok(bare);
    }
    Err(TokenError::Refused {
        token: place.token.clone(),
        what: "tell the public key",
        reason: format!("it gives {} bytes, expected a point on P-256", bare.len()),
    })
}

/// As [`super::open`].
pub(super) fn open(place: &Place, pin: &[u8]) -> Result<Box<dyn Key>, TokenError> {
    let (library, slot) = slot(place)?;
    let session = library.open_ro_session(slot).map_err(refused(place, "open a session"))?;
    log_in(place, &session, pin)?;
    let key = one(place, &find(place, &session, ObjectClass::PRIVATE_KEY)?, "one")?;
    let half = one(place, &find(place, &session, ObjectClass::PUBLIC_KEY)?, "one, with its public key")?;
    let public = public(place, &session, half)?;
    Ok(Box::new(Opened { session: Mutex::new(session), key, public }))
}

/// As [`super::create`].
pub(super) fn create(place: &Place, pin: &[u8]) -> Result<Vec<u8>, TokenError> {
    let (library, slot) = slot(place)?;
    let session = library.open_rw_session(slot).map_err(refused(place, "open a session"))?;
    log_in(place, &session, pin)?;
    for class in [ObjectClass::PRIVATE_KEY, ObjectClass::PUBLIC_KEY] {
        let taken = find(place, &session, class)?;
        if !taken.is_empty() {
            let (token, key) = (place.token.clone(), place.key.clone());
            return Err(TokenError::Key { token, key, count: taken.len(), expected: "none" });
        }
    }
    let label = place.key.clone().into_bytes();
    let id = Sha256::digest(&label).iter().take(8).copied().collect::<Vec<u8>>();
    let open = [
        Attribute::Token(true),
        Attribute::Private(false),
        Attribute::KeyType(KeyType::EC),
        Attribute::EcParams(P256.to_vec()),
        Attribute::Verify(true),
        Attribute::Label(label.clone()),
        Attribute::Id(id.clone()),
    ];
    let secret = [
        Attribute::Token(true),
        Attribute::Private(true),
        Attribute::Sensitive(true),
        Attribute::Extractable(false),
        Attribute::Sign(true),
        Attribute::Label(label),
        Attribute::Id(id),
    ];
    let (half, _) = session
        .generate_key_pair(&Mechanism::EccKeyPairGen, &open, &secret)
        .map_err(refused(place, "make a key on P-256"))?;
    public(place, &session, half)
}
