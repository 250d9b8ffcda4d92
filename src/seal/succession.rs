//! A root handing over to the next one, when the shop's name changes, the old root's key is lost, or others may have it.
//!
//! ```text
//! brightproof root handover v1
//! old 6e02473f...                    fingerprint of the root before
//! new 91c3aa07...                    fingerprint of the root after
//! compromised 2026-11-20T13:00:00Z   only where others may have the old root's key since then
//! signed-by-old MEUCIQ...            or `none`, where the old root's key is lost or in others' hands
//! signed-by-new MEQCIB...
//! -----BEGIN CERTIFICATE-----        the old root, then the new one
//! ```
//!
//! Both signatures are ECDSA over the bytes from the first line to the end of the last one above them. What each proves
//! is not the same. The old root's leads *forward*: who trusts it is told by it whom to trust next. The new root's leads
//! *back*: who trusts it is told by it which certificates before it are the shop's. Without the old root's signature
//! nothing leads forward, because anybody can make a root that says it comes after the shop's.
//!
//! No certificate reads like it: what a root signs there begins with a byte that is no letter.

use std::collections::BTreeMap;

use chrono::DateTime;
use chrono::SecondsFormat;
use chrono::Utc;
use der::Encode;
use p256::ecdsa::SigningKey;
use sha2::Digest;
use sha2::Sha256;
use x509_cert::Certificate;

use super::SealError;
use super::chain;
use super::ecdsa;
use super::keys;
use super::keys::KeyFile;
use super::pem;
use super::profile::Facts;
use super::profile::Kind;

/// How each handover begins.
pub const FIRST_LINE: &str = "brightproof root handover v1";

/// The root before, and whether it can speak for itself.
#[derive(Clone, Copy)]
pub struct OldRoot<'a> {
    /// Its certificate, PEM or DER.
    pub certificate: &'a [u8],
    /// Its key; none where it is lost, and never one that others may have.
    pub key: Option<KeyFile<'a>>,
    /// Since when others may have it.
    pub compromised: Option<DateTime<Utc>>,
}

/// One root that followed another, as the new one signed it, and perhaps the old one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RootHandover {
    /// Fingerprint of the root before.
    pub old: String,
    /// Fingerprint of the root after.
    pub new: String,
    /// Since when others may have the old root's key.
    pub compromised: Option<DateTime<Utc>>,
    /// Whether the old root signed it too.
    pub by_old: bool,
    /// The old root's certificate, PEM.
    pub old_pem: String,
    /// The new root's certificate, PEM.
    pub new_pem: String,
}

/// How one root is known to who trusts another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Way {
    /// It is the one trusted.
    Same,
    /// The one trusted named it, or named one that did.
    Forward,
    /// It came before the one trusted, which says so; and since when its key may be in others' hands.
    Back(Option<DateTime<Utc>>),
    /// It says that it follows the one trusted, which did not sign that.
    Announced,
    /// Whoever signed the way to it may be somebody else: a root on it is declared compromised since then.
    Compromised(DateTime<Utc>),
    /// A root on the way named two: somebody else had its key.
    Forked(String),
    /// Nothing leads to it.
    None,
}

fn signed(old: &str, new: &str, compromised: Option<DateTime<Utc>>) -> String {
    let mut text = format!("{FIRST_LINE}\nold {old}\nnew {new}\n");
    if let Some(since) = compromised {
        text.push_str(&format!("compromised {}\n", since.to_rfc3339_opts(SecondsFormat::Secs, true)));
    }
    text
}

fn hash(root: &Certificate) -> Result<String, SealError> {
    Ok(hex::encode(Sha256::digest(root.to_der()?)))
}

fn root(bytes: &[u8], what: &'static str) -> Result<(Certificate, Facts), SealError> {
    let root = pem::one_certificate(bytes, what)?;
    let facts = chain::checked(Kind::Root, &root, None)?;
    Ok((root, facts))
}

fn opened(key: KeyFile<'_>, facts: &Facts) -> Result<SigningKey, SealError> {
    let opened = pem::open_key(key.file, key.passphrase)?;
    keys::belongs(&opened, facts)?;
    Ok(opened)
}

/// That `new` follows `old`: signed by the new root and, where its key is at hand, by the old one.
///
/// # Errors
/// When a key cannot be opened or is another's, both are one root, or a compromised root's key was given.
pub fn hand_over_root(old: OldRoot<'_>, new: KeyFile<'_>, certificate: &[u8]) -> Result<String, SealError> {
    let refuse = |reason: &str| Err(SealError::Handover { reason: reason.into() });
    let (old_root, old_facts) = root(old.certificate, "the old root certificate")?;
    let (new_root, new_facts) = root(certificate, "the new root certificate")?;
    if old_facts.key == new_facts.key {
        return refuse("the new root has the key of the old one");
    }
    if old.compromised.is_some() && old.key.is_some() {
        return refuse("a root that others may have hands nothing over");
    }
    let text = signed(&hash(&old_root)?, &hash(&new_root)?, old.compromised);
    let sign = |key: KeyFile<'_>, facts: &Facts| -> Result<String, SealError> {
        use base64::Engine;
        let signature = ecdsa::sign(&opened(key, facts)?, text.as_bytes())?;
        Ok(base64::engine::general_purpose::STANDARD.encode(signature))
    };
    let by_old = old.key.map(|key| sign(key, &old_facts)).transpose()?;
    Ok(format!(
        "{text}signed-by-old {}\nsigned-by-new {}\n{}{}",
        by_old.as_deref().unwrap_or("none"),
        sign(new, &new_facts)?,
        pem::cert_to_pem(&old_root)?,
        pem::cert_to_pem(&new_root)?
    ))
}

/// Reads handovers that were written one after the other.
///
/// # Errors
/// [`SealError::Handover`] says what was found. One that does not hold spoils all.
pub fn root_handovers(text: &str) -> Result<Vec<RootHandover>, SealError> {
    let starts: Vec<usize> = text.match_indices(FIRST_LINE).map(|(at, _)| at).collect();
    let before = text.get(..starts.first().copied().unwrap_or(text.len())).unwrap_or_default();
    if !before.trim().is_empty() {
        return Err(unread("there is other text"));
    }
    let ends = starts.iter().skip(1).copied().chain([text.len()]);
    starts.iter().zip(ends).map(|(start, end)| one(text.get(*start..end).unwrap_or_default())).collect()
}

fn unread(what: &str) -> SealError {
    SealError::Handover { reason: format!("{what}; expected handovers that begin `{FIRST_LINE}`") }
}

/// A handover has one spelling: what is read is written again and compared.
fn one(text: &str) -> Result<RootHandover, SealError> {
    let (head, certificates) = text
        .find("-----BEGIN")
        .and_then(|at| text.split_at_checked(at))
        .ok_or_else(|| unread("it has no certificates"))?;
    let member = |name: &str| {
        head.lines().find_map(|line| line.strip_prefix(name)).and_then(|rest| rest.strip_prefix(' '))
    };
    let found = pem::certificates(certificates.as_bytes(), "a root handover")?;
    let [old, new] = <[Certificate; 2]>::try_from(found)
        .map_err(|all| unread(&format!("it has {} certificates, not the two roots'", all.len())))?;
    let (old_facts, new_facts) =
        (chain::checked(Kind::Root, &old, None)?, chain::checked(Kind::Root, &new, None)?);
    let compromised = match member("compromised") {
        None => None,
        Some(at) => Some(DateTime::parse_from_rfc3339(at).map_err(|_| unread("its time is none"))?.to_utc()),
    };
    let (old_pem, new_pem) = (pem::cert_to_pem(&old)?, pem::cert_to_pem(&new)?);
    let message = signed(&hash(&old)?, &hash(&new)?, compromised);
    let (by_old, by_new) = (member("signed-by-old"), member("signed-by-new"));
    let (Some(by_old), Some(by_new)) = (by_old, by_new) else { return Err(unread("a signature is missing")) };
    let spelled = format!("{message}signed-by-old {by_old}\nsigned-by-new {by_new}\n");
    if head != spelled || certificates.trim_end() != format!("{old_pem}{new_pem}").trim_end() {
        return Err(unread("it is spelled otherwise, or its roots are not those it names"));
    }
    if old_facts.key == new_facts.key {
        return Err(unread("the new root has the key of the old one"));
    }
    let check = |facts: &Facts, signature: &str, whose: &str| {
        use base64::Engine;
        let wrong = |why: String| SealError::Handover { reason: format!("the {whose} root's {why}") };
        let bytes = base64::engine::general_purpose::STANDARD
            .decode(signature)
            .map_err(|_| wrong("signature is not base64".into()))?;
        ecdsa::verify(&facts.key, message.as_bytes(), &bytes).map_err(wrong)
    };
    check(&new_facts, by_new, "new")?;
    if by_old != "none" {
        check(&old_facts, by_old, "old")?;
    }
    Ok(RootHandover {
        old: hash(&old)?,
        new: hash(&new)?,
        compromised,
        by_old: by_old != "none",
        old_pem,
        new_pem,
    })
}

/// How `root` is known to who trusts `anchor`. `compromised` are roots that others may have by what else is known.
///
/// What a compromised root signed leads nowhere, in neither direction: whoever has its key could have signed it.
pub fn way(
    anchor: &str,
    root: &str,
    all: &[RootHandover],
    compromised: &BTreeMap<String, DateTime<Utc>>,
) -> Way {
    if anchor == root {
        return Way::Same;
    }
    let since = |root: &str| {
        let told = all.iter().filter(|one| one.old == root).filter_map(|one| one.compromised);
        told.chain(compromised.get(root).copied()).min()
    };
    let back = |at: &str| named(all.iter().filter(|one| one.new == at).map(|one| &one.old));
    let forward = |at: &str| named(all.iter().filter(|one| one.old == at && one.by_old).map(|one| &one.new));
    let said = |at: &str| named(all.iter().filter(|one| one.old == at).map(|one| &one.new));
    if reached(anchor, back).contains(&root) {
        let sound = reached(anchor, |at| if since(at).is_some() { Vec::new() } else { back(at) });
        return match sound.contains(&root) {
            true => Way::Back(since(root)),
            false => Way::Compromised(
                reached(anchor, back).into_iter().filter_map(since).min().unwrap_or_default(),
            ),
        };
    }
    let signed = reached(anchor, forward);
    if let Some(forked) = signed.iter().find(|at| forward(at).len() > 1) {
        return Way::Forked((*forked).to_owned());
    }
    if signed.contains(&root) {
        let on_the_way = signed.iter().take_while(|at| **at != root);
        return on_the_way.filter_map(|at| since(at)).min().map_or(Way::Forward, Way::Compromised);
    }
    if reached(anchor, said).contains(&root) { Way::Announced } else { Way::None }
}

fn named<'a>(roots: impl Iterator<Item = &'a String>) -> Vec<&'a str> {
    let mut all: Vec<&str> = roots.map(String::as_str).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// The first and all that follow from it, nearest first.
fn reached<'a>(first: &'a str, next: impl Fn(&str) -> Vec<&'a str>) -> Vec<&'a str> {
    let mut seen = vec![first];
    let mut turn = 0;
    while let Some(at) = seen.get(turn).copied() {
        turn = turn.saturating_add(1);
        for one in next(at) {
            if !seen.contains(&one) {
                seen.push(one);
            }
        }
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::KeySet;
    use crate::seal::create_keys;
    use crate::seal::fingerprint;

    fn day() -> DateTime<Utc> {
        DateTime::from_timestamp(1_790_000_000, 0).unwrap()
    }

    fn made(seed: u8) -> KeySet {
        let mut n = seed;
        let mut random = move |bytes: &mut [u8]| {
            n = n.wrapping_add(41);
            bytes.fill(n);
            Ok(())
        };
        create_keys("Larkspur", day(), None, &mut random).unwrap()
    }

    fn key(set: &KeySet) -> KeyFile<'_> {
        KeyFile { file: set.root_key_pem.as_bytes(), passphrase: None }
    }

    fn to(old: &KeySet, new: &KeySet, by_old: bool, compromised: Option<DateTime<Utc>>) -> String {
        let certificate = old.root_cert_pem.as_bytes();
        let old = OldRoot { certificate, key: by_old.then(|| key(old)), compromised };
        hand_over_root(old, key(new), new.root_cert_pem.as_bytes()).unwrap()
    }

    fn name(set: &KeySet) -> String {
        fingerprint(set.root_cert_pem.as_bytes()).unwrap()
    }

    #[test]
    fn what_is_written_is_read_and_not_a_byte_may_change() {
        let (a, b) = (made(1), made(2));
        for (by_old, compromised) in [(true, None), (false, None), (false, Some(day()))] {
            let text = to(&a, &b, by_old, compromised);
            let [found] = <[RootHandover; 1]>::try_from(root_handovers(&text).unwrap()).unwrap();
            assert_eq!((found.old.clone(), found.new.clone()), (name(&a), name(&b)));
            assert_eq!((found.by_old, found.compromised), (by_old, compromised));
            assert_eq!((found.old_pem, found.new_pem), (a.root_cert_pem.clone(), b.root_cert_pem.clone()));
            for at in 0..text.trim_end().len() {
                let mut bent = text.clone().into_bytes();
                bent[at] ^= 1;
                let read = String::from_utf8(bent).map(|bent| root_handovers(&bent));
                assert!(!matches!(read, Ok(Ok(_))), "{at}");
            }
        }
        assert_eq!(root_handovers("\n").unwrap(), []);
        let text = to(&a, &b, true, None);
        assert!(root_handovers(&format!("words\n{text}")).is_err());
        assert_eq!(root_handovers(&format!("{text}\n{text}")).unwrap().len(), 2);
        // The line that says it was compromised cannot be taken out, nor the old root's signature put in from elsewhere.
        let compromised = to(&a, &b, false, Some(day()));
        let line = compromised.lines().nth(3).unwrap();
        assert!(line.starts_with("compromised "));
        assert!(root_handovers(&compromised.replace(&format!("{line}\n"), "")).is_err());
        let by_old = text.lines().nth(3).unwrap();
        assert!(root_handovers(&compromised.replace("signed-by-old none", by_old)).is_err());
        // What else is signed is none: a signature by whoever else is refused.
        let by_new = text.lines().nth(4).unwrap();
        assert!(root_handovers(&text.replace(by_new, &by_old.replace("-old", "-new"))).is_err());
    }

    #[test]
    fn only_the_roots_own_keys_hand_over() {
        let (a, b) = (made(1), made(2));
        let old = OldRoot { certificate: a.root_cert_pem.as_bytes(), key: Some(key(&a)), compromised: None };
        let certificate = b.root_cert_pem.as_bytes();
        let mismatch = |found| assert!(matches!(found, Err(SealError::Mismatch { .. })), "{found:?}");
        mismatch(hand_over_root(OldRoot { key: Some(key(&b)), ..old }, key(&b), certificate));
        mismatch(hand_over_root(old, key(&a), certificate));
        let refused = |found| assert!(matches!(found, Err(SealError::Handover { .. })), "{found:?}");
        refused(hand_over_root(old, key(&a), a.root_cert_pem.as_bytes()));
        refused(hand_over_root(OldRoot { compromised: Some(day()), ..old }, key(&b), certificate));
    }

    #[test]
    fn ways() {
        let sets: Vec<KeySet> = (1..=4).map(made).collect();
        let names: Vec<String> = sets.iter().map(name).collect();
        let none = BTreeMap::new();
        let read = |texts: &[String]| root_handovers(&texts.concat()).unwrap();
        let ask = |from: usize, at: usize, all: &[RootHandover]| way(&names[from], &names[at], all, &none);
        let step = |from: usize, at: usize, by_old| to(&sets[from], &sets[at], by_old, None);

        let chain = read(&[step(0, 1, true), step(1, 2, true)]);
        assert_eq!(ask(0, 0, &chain), Way::Same);
        assert_eq!(
            (ask(0, 1, &chain), ask(0, 2, &chain), ask(1, 2, &chain)),
            (Way::Forward, Way::Forward, Way::Forward)
        );
        assert_eq!((ask(2, 1, &chain), ask(2, 0, &chain)), (Way::Back(None), Way::Back(None)));
        assert_eq!((ask(3, 0, &chain), ask(0, 3, &chain)), (Way::None, Way::None));

        // Nobody's root becomes the shop's by saying so; who trusts it sees the shop's as one before it.
        let announced = read(&[step(0, 3, false)]);
        assert_eq!((ask(0, 3, &announced), ask(3, 0, &announced)), (Way::Announced, Way::Back(None)));
        let mixed = read(&[step(0, 1, true), step(1, 2, false)]);
        assert_eq!((ask(0, 1, &mixed), ask(0, 2, &mixed)), (Way::Forward, Way::Announced));
        // Beside a true handover a false one changes nothing.
        let beside = read(&[step(0, 1, true), step(0, 3, false)]);
        assert_eq!((ask(0, 1, &beside), ask(0, 3, &beside)), (Way::Forward, Way::Announced));

        // Two ways are no way.
        let forked = read(&[step(0, 1, true), step(0, 2, true)]);
        assert_eq!(ask(0, 1, &forked), Way::Forked(names[0].clone()));
        let circle = read(&[step(0, 1, true), step(1, 0, true)]);
        assert_eq!((ask(0, 1, &circle), ask(0, 2, &circle)), (Way::Back(None), Way::None));

        // What a root that others may have signed leads nowhere.
        let lost = read(&[to(&sets[0], &sets[1], false, Some(day())), step(1, 2, true)]);
        assert_eq!((ask(1, 0, &lost), ask(2, 0, &lost)), (Way::Back(Some(day())), Way::Back(Some(day()))));
        assert_eq!(ask(0, 1, &lost), Way::Announced);
        let later = BTreeMap::from([(names[1].clone(), day())]);
        let ask = |from: usize, at: usize| way(&names[from], &names[at], &chain, &later);
        assert_eq!(
            (ask(0, 1), ask(0, 2), ask(1, 2)),
            (Way::Forward, Way::Compromised(day()), Way::Compromised(day()))
        );
        assert_eq!(
            (ask(2, 1), ask(2, 0), ask(1, 0)),
            (Way::Back(Some(day())), Way::Compromised(day()), Way::Compromised(day()))
        );
    }
}
