//! Witnesses (C2SP tlog-witness): each new head is sent with the proof that the register only grew; what they sign is
//! kept and goes into the proofs made from then on. A witness that is silent or refuses hinders nothing.

use std::time::Duration;

use rayon::prelude::*;

use crate::app::desk::files;
use crate::app::error::Error;
use crate::app::proofs;
use crate::checkpoint;
use crate::checkpoint::Consistency;
use crate::checkpoint::Role;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::folder::Folder;
use crate::http;
use crate::http::Answer;
use crate::http::HttpError;
use crate::register::Register;
use crate::shop::Witness;

/// How long one answer may take.
const PATIENCE: Duration = Duration::from_secs(5);
/// Longer than any honest answer.
const MOST: usize = 100_000;
/// How many cosigned heads are looked through for the last one of a witness.
const BACK: usize = 100;

/// What came of asking one witness.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Came {
    /// It cosigned.
    Cosigned,
    /// It had cosigned this head before; it was not asked.
    Before,
    /// It did not answer.
    Silent(String),
    /// It answered, and did not cosign.
    Refused(String),
    /// It saw another history of this register.
    Contradicts(String),
}

/// One witness and what came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// Its key's name.
    pub name: String,
    /// Its address.
    pub url: String,
    /// What came.
    pub came: Came,
}

/// A witness as it is asked.
struct Known<'a> {
    witness: &'a Witness,
    key: VerifyKey,
}

/// Sends the newest head to witnesses; answers its size and what came of each.
///
/// # Errors
/// When a witness's key or address is none, or folder or register cannot be read or written.
pub fn ask(folder: &Folder, witnesses: &[Witness], register: &Register) -> Result<(u64, Vec<Asked>), Error> {
    let known = witnesses.iter().map(known).collect::<Result<Vec<_>, _>>()?;
    let own = VerifyKey::parse(folder.text(files::CHECKPOINT)?.trim())?;
    let (size, plain) = proofs::newest(register)?;
    let mut text = proofs::cosigned(folder, register, size)?.unwrap_or_else(|| plain.clone());
    let mut came: Vec<Option<Came>> = Vec::new();
    let mut turn: Vec<(usize, u64)> = Vec::new();
    for (index, one) in known.iter().enumerate() {
        let before = signed_by(&text, &own, &one.key);
        came.push(before.then_some(Came::Before));
        if !before {
            turn.push((index, last_seen(folder, register, &own, &one.key)?));
        }
    }
    // Whoever has seen another head than we think says which; it is asked once more from there.
    for last in [false, true] {
        let mut requests = Vec::new();
        for (index, old) in turn.drain(..) {
            let hashes = if old == 0 { Vec::new() } else { register.consistency(old, size)? };
            let body = Consistency { old, hashes, checkpoint: plain.clone() }.to_text();
            requests.push((index, old, body));
        }
        let answers: Vec<_> = requests
            .into_par_iter()
            .filter_map(|(index, old, body)| {
                let url = format!("{}/add-checkpoint", known.get(index)?.witness.url.trim_end_matches('/'));
                let answer = http::post(
                    &url,
                    &http::Question {
                        kind: "text/plain; charset=utf-8",
                        accept: None,
                        body: body.as_bytes(),
                        most: MOST,
                        patience: PATIENCE,
                    },
                );
                Some((index, old, answer))
            })
            .collect();
        for (index, old, answer) in answers {
            let (Some(one), Some(place)) = (known.get(index), came.get_mut(index)) else { continue };
            match judged(answer, old, size, last) {
                Next::Answer(lines) => {
                    *place = Some(match checkpoint::cosignatures(&plain, &lines, &own, &one.key) {
                        Ok(lines) => {
                            text.push_str(&lines);
                            Came::Cosigned
                        }
                        Err(error) => Came::Refused(format!("what it answers is no cosignature: {error}")),
                    });
                }
                Next::Again(old) => turn.push((index, old)),
                Next::Done(done) => *place = Some(done),
            }
        }
    }
    if came.contains(&Some(Came::Cosigned)) {
        folder::write_whole(&folder.path(&proofs::cosigned_at(size)), text.as_bytes())?;
    }
    let asked = known.into_iter().zip(came).map(|(one, came)| Asked {
        name: one.key.name().to_owned(),
        url: one.witness.url.clone(),
        came: came.unwrap_or_else(|| Came::Refused("it was not asked".to_owned())),
    });
    Ok((size, asked.collect()))
}

fn known(witness: &Witness) -> Result<Known<'_>, Error> {
    let place = |what: String| {
        Error::cannot(
            format!("the witness {} in shop.yaml: {what}", witness.url),
            "give `url`, its http:// address, and `key`, its cosignature key, as the witness hands them out",
        )
    };
    if !witness.url.starts_with("http://") {
        return Err(place("only http:// addresses can be asked; what it answers is signed".to_owned()));
    }
    let key = VerifyKey::parse(witness.key.trim()).map_err(|e| place(e.to_string()))?;
    if key.role() != Role::Witness {
        return Err(place(format!("{} is a register's key", key.name())));
    }
    Ok(Known { witness, key })
}

fn signed_by(text: &str, own: &VerifyKey, witness: &VerifyKey) -> bool {
    let head = checkpoint::open(text, &[own.clone(), witness.clone()]);
    head.is_ok_and(|head| head.witnesses.iter().any(|(name, _)| name == witness.name()))
}

/// The size of the last head this witness cosigned, as far as is known here; 0 for none.
fn last_seen(
    folder: &Folder,
    register: &Register,
    own: &VerifyKey,
    witness: &VerifyKey,
) -> Result<u64, Error> {
    for size in proofs::cosigned_sizes(folder)?.into_iter().take(BACK) {
        if proofs::cosigned(folder, register, size)?.is_some_and(|text| signed_by(&text, own, witness)) {
            return Ok(size);
        }
    }
    Ok(0)
}

/// What an answer leads to.
enum Next {
    /// Lines to look at.
    Answer(Vec<u8>),
    /// To be asked again, from this size.
    Again(u64),
    /// Nothing more to do.
    Done(Came),
}

fn judged(answer: Result<Answer, HttpError>, old: u64, size: u64, last: bool) -> Next {
    let (status, body) = match answer {
        Ok(Answer { status, body, .. }) => (status, body),
        Err(error) => return Next::Done(Came::Silent(error.to_string())),
    };
    let refused = |what: &str| Next::Done(Came::Refused(format!("it answers {status}: {what}")));
    let contradicts = |what: String| Next::Done(Came::Contradicts(what));
    match status {
        200 => Next::Answer(body),
        404 => refused("it does not know this register; ask whoever runs it to take it in, with its key"),
        403 => refused(
            "it does not trust the key this head is signed with; tell whoever runs it the register's key",
        ),
        409 => match seen(&body) {
            None => refused("what it saw is not said"),
            Some(seen) if seen > size => contradicts(format!(
                "it has seen {seen} entries of this register, which has {size}: an old copy was put back, or somebody \
                 else signs with its key"
            )),
            Some(seen) if seen == size && old == size => contradicts(format!(
                "it has seen another head of {size} entries: the register's history was forked"
            )),
            Some(seen) if !last && seen != old => Next::Again(seen),
            Some(_) => refused("it saw another head meanwhile; ask again"),
        },
        422 => contradicts(format!(
            "it refuses the proof: the first {old} entries it saw are not those of this register"
        )),
        _ => refused("no answer of a witness"),
    }
}

/// The size in a conflict's answer: a decimal number and a line end.
fn seen(body: &[u8]) -> Option<u64> {
    let text = std::str::from_utf8(body).ok()?.strip_suffix('\n')?;
    let plain = text.bytes().all(|b| b.is_ascii_digit()) && (text == "0" || !text.starts_with('0'));
    if plain { text.parse().ok() } else { None }
}
