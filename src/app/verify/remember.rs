//! What a verifier remembers: for each register the newest signed head it was shown, in a folder it names itself. A
//! later head takes its place only when it is proven to have grown out of it. A head that contradicts it is proof
//! that two histories were signed, or that an old one was put back; then nothing is changed and the answer is no.

use std::collections::BTreeMap;
use std::path::Path;
use std::path::PathBuf;

use crate::app::error::Error;
use crate::app::verify::Answer;
use crate::app::verify::Verification;
use crate::app::verify::proof::LogKeys;
use crate::app::verify::proof::Shown;
use crate::app::verify::proof::data;
use crate::canonical;
use crate::certificate::Certificate;
use crate::checkpoint;
use crate::checkpoint::Checkpoint;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::folder::FolderError;
use crate::merkle;
use crate::merkle::Hash;
use crate::merkle::ProofError;
use crate::register::Register;

/// How two heads stand to each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Link {
    /// The later grew out of the earlier, or they are one.
    Proven,
    /// Nothing that was given links them.
    Unknown,
    /// They cannot both be of one register.
    Conflict(String),
}

/// Whether the larger of two heads grew out of the smaller. A register tells it for the sizes it has; else a
/// consistency proof among those given must.
///
/// # Errors
/// When the register cannot be read.
pub fn link(
    one: &Checkpoint,
    other: &Checkpoint,
    register: Option<&Register>,
    keys: &LogKeys,
    known: &[VerifyKey],
) -> Result<Link, Error> {
    let (small, large) = if one.size <= other.size { (one, other) } else { (other, one) };
    if small.size == large.size {
        return Ok(match small.root == large.root {
            true => Link::Proven,
            false => Link::Conflict(format!(
                "two different heads of {} entries were signed: the register's history was forked",
                small.size
            )),
        });
    }
    if let Some(register) = register {
        for head in [small, large] {
            match register.root_at(head.size)? {
                Some(root) if root != head.root => {
                    return Ok(Link::Conflict(format!(
                        "the register's first {} entries are not those of the head seen: its history was rewritten",
                        head.size
                    )));
                }
                Some(_) => {}
                None => {
                    let has = register.head()?.size;
                    return Ok(Link::Conflict(format!(
                        "the register has {has} entries, a head of {} was signed: it was rolled back",
                        head.size
                    )));
                }
            }
        }
        let hashes = register.consistency(small.size, large.size)?;
        return Ok(told(merkle::verify_consistency(
            small.size,
            &small.root,
            large.size,
            &large.root,
            &hashes,
        )));
    }
    let fits = keys.consistency.iter().filter(|proof| proof.old == small.size);
    let proven = fits.into_iter().any(|proof| {
        let later = proof.verify(&small.root, known);
        later.is_ok_and(|later| later.size == large.size && later.root == large.root)
    });
    Ok(if proven { Link::Proven } else { Link::Unknown })
}

fn told(proof: Result<(), ProofError>) -> Link {
    match proof {
        Ok(()) => Link::Proven,
        Err(error) => Link::Conflict(error.to_string()),
    }
}

/// Heads shown by the certificates of one call, by the key that signs them and their size.
#[derive(Debug, Default)]
pub struct Heads(BTreeMap<(String, u64), (Hash, String)>);

impl Heads {
    /// Holds the heads of a certificate and of its proof against those of the certificates before: two of one size
    /// must be one. Adds a line only when they are not.
    pub fn compare(&mut self, found: &mut Verification, bytes: &[u8], proof: Option<&Shown>, keys: &LogKeys) {
        let Some((certificate, _)) = data(bytes) else { return };
        let Ok(known) = keys.of(&certificate) else { return };
        let carried = carried(&certificate, &known);
        for head in carried.iter().chain(proof.map(|proof| &proof.head)) {
            // By the key and not by the register's name alone: anybody may sign under a name.
            let place = (certificate.register.key.clone(), head.size);
            let (root, first) = self.0.entry(place).or_insert_with(|| (head.root, found.what.clone()));
            if *root != head.root {
                let why = format!(
                    "{first} shows another head of {} entries, signed by the same key: the register's history was forked",
                    head.size
                );
                found.line(
                    "heads",
                    true,
                    Answer::Fail(why),
                    "certificates looked at together show one history",
                );
                return;
            }
        }
    }
}

/// Where the head of a register is kept within the folder.
pub fn place(folder: &Path, origin: &str) -> PathBuf {
    let plain: String = origin
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || matches!(c, '-' | '.') { c } else { '_' })
        .take(80)
        .collect();
    let digest = canonical::stamp(origin.as_bytes());
    folder.join(format!("{plain}-{}.checkpoint", digest.get(..12).unwrap_or(&digest)))
}

const MEANS: &str = "the register only grew since you last looked";

/// Adds how the heads of this verification stand to the one remembered, and remembers the newest that is proven.
///
/// # Errors
/// When folder or register cannot be read or written.
pub fn remembered(
    found: &mut Verification,
    bytes: &[u8],
    proof: Option<&Shown>,
    register: Option<&Register>,
    keys: &LogKeys,
    folder: &Path,
) -> Result<(), Error> {
    let Some((certificate, _)) = data(bytes) else {
        found.line("remembered", true, Answer::NotChecked("its data could not be read".to_owned()), MEANS);
        return Ok(());
    };
    // Two verifications at once would each read the old head, and the later write lose the newer one.
    let held = folder::hold(&place(folder, &certificate.register.origin).with_extension("lock"))?;
    let (answer, means) = judged(found, &certificate, proof, register, keys, folder)?;
    drop(held);
    found.line("remembered", true, answer, means);
    Ok(())
}

fn judged(
    found: &Verification,
    certificate: &Certificate,
    proof: Option<&Shown>,
    register: Option<&Register>,
    keys: &LogKeys,
    folder: &Path,
) -> Result<(Answer, String), Error> {
    let plain = |answer: Answer| Ok((answer, MEANS.to_owned()));
    let fail = |why: String| plain(Answer::Fail(why));
    let untold = |why: &str| plain(Answer::NotChecked(why.to_owned()));
    let known = match keys.of(certificate) {
        Ok(known) => known,
        Err(error) => return fail(error.to_string()),
    };
    let newest = match (register, proof) {
        (Some(register), _) => match signed(register, &known) {
            Ok(shown) => shown,
            Err(answer) => return plain(answer),
        },
        (None, Some(proof)) => proof.clone(),
        (None, None) => return untold("neither a proof that holds nor a register was given"),
    };
    let origin = &certificate.register.origin;
    if newest.head.origin != *origin {
        return fail(format!(
            "the head is of the register {}, the certificate names {origin}",
            newest.head.origin
        ));
    }
    let path = place(folder, origin);
    let kept = match folder::read_text(&path) {
        Ok(text) => match checkpoint::open(&text, &known) {
            Ok(head) => Some((head, text)),
            Err(error) => {
                return fail(format!(
                    "the head remembered in {} is not signed by a key that is known here: {error}; if the register \
                     has a new key, give both with --checkpoint-key",
                    path.display()
                ));
            }
        },
        Err(FolderError::Missing(_)) => None,
        Err(error) => return Err(error.into()),
    };
    let carried = carried(certificate, &known);
    let seen = proof.map(|proof| &proof.head).into_iter().chain(carried.as_ref());
    let mut heads: Vec<&Checkpoint> = seen.collect();
    heads.extend(kept.as_ref().map(|(head, _)| head));
    for head in heads {
        if let Link::Conflict(why) = link(head, &newest.head, register, keys, &known)? {
            return fail(why);
        }
    }
    if let (Some((kept, _)), Some(carried)) = (&kept, &carried)
        && let Link::Conflict(why) = link(carried, kept, register, keys, &known)?
    {
        return fail(why);
    }
    if found.lines.iter().any(|line| matches!(line.answer, Answer::Fail(_))) {
        return untold("another check failed, so nothing is remembered of this certificate");
    }
    let anchored = !keys.register.is_empty()
        || found.lines.iter().any(|line| line.check == "issuer" && line.answer == Answer::Pass);
    let Some((kept, text)) = kept else {
        if !anchored {
            return untold(
                "a first head is remembered only of a shop whose root or register key you bring: give --trust",
            );
        }
        folder::write_whole(&path, newest.text.as_bytes())?;
        let means = format!("a first head, of {} entries, is remembered from now on", newest.head.size);
        return Ok((Answer::Pass, means));
    };
    match link(&kept, &newest.head, register, keys, &known)? {
        Link::Conflict(why) => fail(why),
        Link::Unknown => plain(Answer::NotChecked(format!(
            "nothing links the head of {} entries with the one remembered, of {}: ask the shop for `register \
             consistency {} {}` and give it with --consistency, or give --register",
            newest.head.size,
            kept.size,
            kept.size.min(newest.head.size),
            kept.size.max(newest.head.size),
        ))),
        Link::Proven if newest.head.size <= kept.size => {
            Ok((Answer::Pass, format!("{MEANS}: the head remembered, of {} entries, stands", kept.size)))
        }
        Link::Proven => {
            // Another verification may have remembered a later head meanwhile; that one stays.
            if folder::read_text(&path)? == text {
                folder::write_whole(&path, newest.text.as_bytes())?;
            }
            let means = format!("{MEANS}, from {} to {} entries; remembered", kept.size, newest.head.size);
            Ok((Answer::Pass, means))
        }
    }
}

/// The register's present head, signed by a known key.
fn signed(register: &Register, known: &[VerifyKey]) -> Result<Shown, Answer> {
    let untold = |why: String| Answer::NotChecked(why);
    let now = register.head().map_err(|e| untold(e.to_string()))?;
    let Some(text) = now.checkpoint else {
        return Err(untold("the register's present head is not signed".to_owned()));
    };
    let head = checkpoint::open(&text, known).map_err(|e| Answer::Fail(e.to_string()))?;
    if (head.size, head.root) != (now.size, now.root) {
        return Err(Answer::Fail("the register's signed head is about another state".to_owned()));
    }
    Ok(Shown { head, text })
}

/// The head the certificate carries, if a known key signed it; its own line tells what is wrong with it.
fn carried(certificate: &Certificate, known: &[VerifyKey]) -> Option<Checkpoint> {
    checkpoint::open(&certificate.register.checkpoint, known).ok()
}
