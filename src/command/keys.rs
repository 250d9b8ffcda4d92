//! The shop's keys: shown, renewed, declared compromised.

use std::path::Path;

use serde::Serialize;
use serde_json::json;

use super::Answer;
use super::Exit;
use super::Output;
use super::passphrase;
use super::passphrase::Ways;
use super::shop::grouped;
use super::shop::long_enough;
use crate::app::desk::files;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::keys;
use crate::app::keys::KeyAt;
use crate::app::keys::Keys;
use crate::app::keys::NewRoot;
use crate::app::keys::NewSeal;
use crate::app::keys::NewSealKey;
use crate::app::keys::Standing;
use crate::app::keys::Told;
use crate::app::time_stamps;
use crate::app::world::World;
use crate::cli;
use crate::folder;
use crate::folder::Folder;
use crate::report::json::VERSION;
use crate::seal;

/// A key for machines.
#[derive(Debug, Serialize)]
struct KeyReport {
    version: u64,
    /// `root`, `seal` or `register`.
    what: &'static str,
    /// Fingerprint or verifier key.
    key: String,
    in_force: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    since: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    replaced: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    compromised_since: Option<String>,
}

impl KeyReport {
    fn of<K: ToString>(what: &'static str, one: &Standing<K>) -> KeyReport {
        KeyReport {
            version: VERSION,
            what,
            key: one.key.to_string(),
            in_force: one.in_force(),
            since: Some(one.added.1.clone()),
            replaced: one.retired.as_ref().map(|(_, at)| at.clone()),
            compromised_since: one.compromised.as_ref().map(|c| time_stamps::shown(&c.since)),
        }
    }

    fn words(&self) -> String {
        let key = if self.what == "register" { self.key.clone() } else { grouped(&self.key) };
        let mut text = format!("{:<8}  {key}\n          ", self.what);
        match (&self.since, self.in_force) {
            (None, _) => {}
            (Some(since), true) if self.what == "root" => {
                text.push_str(&format!("what purchasers know the shop by, since {since}"));
            }
            (Some(since), true) => text.push_str(&format!("in force since {since}")),
            (Some(since), false) => text.push_str(&format!("from {since}")),
        }
        if let Some(at) = &self.replaced {
            text.push_str(&format!(", replaced at {at}"));
        }
        if let Some(since) = &self.compromised_since {
            text.push_str(&format!(", DECLARED COMPROMISED since {since}"));
        }
        text
    }
}

pub fn run(verb: &cli::Keys, folder: &Folder, as_json: bool, world: &World, output: &mut Output) -> Answer {
    match verb {
        cli::Keys::Show => show(folder, as_json, output),
        cli::Keys::Handovers => {
            output.say(keys::handovers(&open_register(folder)?)?.trim_end())?;
            Ok(Exit::Good)
        }
        cli::Keys::Renew(which) => match which.as_ref() {
            cli::Renew::Seal(args) => renew_seal(folder, args, as_json, world, output),
            cli::Renew::Root(args) => renew_root(folder, args, as_json, world, output),
            cli::Renew::Register(why) => renew_register(folder, why, as_json, world, output),
        },
        cli::Keys::Compromised(args) => compromised(folder, args, as_json, world, output),
    }
}

/// A key that took another's place, for machines.
fn renewed(what: &str, old: &str, new: &str) -> serde_json::Value {
    json!({ "version": VERSION, "what": what, "old": old, "new": new })
}

fn told(why: &cli::Why) -> Told<'_> {
    Told { by: &why.by, why: &why.why }
}

fn show(folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    keys::settle(folder)?;
    let keys = Keys::read(&open_register(folder)?)?;
    let roots = keys.roots.iter().map(|one| KeyReport::of("root", one));
    let seals = keys.seals.iter().map(|one| KeyReport::of("seal", one));
    let heads = keys.heads.0.iter().map(|one| KeyReport::of("register", one));
    let all: Vec<KeyReport> = roots.chain(seals).chain(heads).collect();
    if as_json {
        output.json(&all)?;
    } else {
        for one in &all {
            output.say(one.words())?;
        }
    }
    let held = seal::seal_fingerprint(&folder::read(&folder.path(files::SEAL))?)?;
    if keys.seals.iter().all(|one| one.key != held || !one.in_force()) {
        output.note(format_args!(
            "warning: the seal key in keys/ is {}, which is not in force",
            grouped(&held)
        ))?;
    }
    Ok(Exit::Good)
}

fn renew_seal(
    folder: &Folder,
    args: &cli::RenewSeal,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let root_key = args.root.root_key.clone().unwrap_or_else(|| folder.path(files::ROOT_KEY));
    let root_secret = root_secret(&args.root, &root_key)?;
    let given_secret = given_secret(&args.given)?;
    let module = args.token_module.as_deref().map(|module| module.display().to_string());
    let secret = match &args.token {
        Some(token) => Some(passphrase::of_token(&args.key, token)?),
        None if args.open_keys => None,
        None => Some(passphrase::of_new_key(&args.key)?),
    };
    let key = match (&args.token, &module, &secret) {
        (Some(token), Some(module), Some(pin)) => {
            NewSealKey::Token { module, token, key: args.token_key.as_deref(), pin }
        }
        _ => {
            long_enough(secret.as_ref())?;
            NewSealKey::Kept {
                given: args.given.take_key.as_deref().map(|file| at(file, &given_secret)),
                passphrase: secret.as_deref().map(Vec::as_slice),
            }
        }
    };
    let new = NewSeal { root: at(&root_key, &root_secret), key };
    let (old, made) = keys::renew_seal(folder, &new, told(&args.told), world)?;
    if as_json {
        output.json(&renewed("seal", &old, &made))?;
        return Ok(Exit::Good);
    }
    output.say(format_args!("seal key {} takes the place of {}", grouped(&made), grouped(&old)))?;
    output.say("The root is the same: purchasers need nothing new. Lock the root's key away again.")?;
    if args.open_keys {
        output.note("warning: the new key is unlocked on disk: for trials only")?;
    }
    Ok(Exit::Good)
}

fn renew_root(
    folder: &Folder,
    args: &cli::RenewRoot,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let old_file = args.old.root_key.clone().unwrap_or_else(|| folder.path(files::ROOT_KEY));
    if !args.without_old_key && !old_file.exists() {
        return Err(Error::cannot(
            format!("the old root's key is not there: {}", old_file.display()),
            "give --root-key FILE from where it is locked away; only if it is lost, or others may have it: \
             --without-old-key",
        )
        .into());
    }
    let old_secret = match args.without_old_key {
        true => None,
        false => root_secret(&args.old, &old_file)?,
    };
    let given_secret = given_secret(&args.given)?;
    let new = if args.open_keys { None } else { Some(passphrase::of_new_key(&args.key)?) };
    long_enough(new.as_ref())?;
    let new = NewRoot {
        old: (!args.without_old_key).then(|| at(&old_file, &old_secret)),
        given: args.given.take_key.as_deref().map(|file| at(file, &given_secret)),
        passphrase: new.as_deref().map(Vec::as_slice),
    };
    let done = keys::renew_root(folder, &new, told(&args.told), world)?;
    if as_json {
        let mut report = renewed("root", &done.old, &done.new);
        report["signed_by_old"] = done.by_old.into();
        output.json(&report)?;
        return Ok(Exit::Good);
    }
    output.say(format_args!("root {}\ntakes the place of {}", grouped(&done.new), grouped(&done.old)))?;
    if let Some(name) = &done.name {
        output.say(format_args!("Seals name the shop `{name}` from now on."))?;
    }
    output.say(match done.by_old {
        true => {
            "The old root signed that. Give purchasers the new fingerprint, or `keys handovers`: who trusts the old one \
             goes on from there."
        }
        false => {
            "The old root did not sign that: tell every purchaser the new fingerprint by another way than a file. Until \
             then nothing you issue verifies for them."
        }
    })?;
    output.say(
        "What was sealed under the old root goes on to verify under it. Lock the new root's key away.",
    )?;
    if args.open_keys {
        output.note("warning: the new keys are unlocked on disk: for trials only")?;
    }
    Ok(Exit::Good)
}

/// The passphrase of the root's key in this file, if it is locked.
fn root_secret(root: &cli::RootKey, file: &Path) -> Result<Option<passphrase::Secret>, Error> {
    let ways = Ways {
        file: root.root_passphrase_file.as_deref(),
        fd: root.root_passphrase_fd,
        env: root.root_passphrase_env.as_deref(),
    };
    ways.open(file, "the root key")
}

/// The passphrase of a key's file that somebody else made, if there is one and it is locked.
fn given_secret(given: &cli::GivenKey) -> Result<Option<passphrase::Secret>, Error> {
    let Some(file) = &given.take_key else { return Ok(None) };
    let ways = Ways {
        file: given.take_passphrase_file.as_deref(),
        fd: given.take_passphrase_fd,
        env: given.take_passphrase_env.as_deref(),
    };
    ways.open(file, "the file with the new key")
}

fn at<'a>(file: &'a Path, secret: &'a Option<passphrase::Secret>) -> KeyAt<'a> {
    KeyAt { file, passphrase: secret.as_deref().map(Vec::as_slice) }
}

fn renew_register(
    folder: &Folder,
    why: &cli::Why,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let (old, new) = keys::renew_register(folder, told(why), world)?;
    if as_json {
        output.json(&renewed("register", &old, &new))?;
        return Ok(Exit::Good);
    }
    output.say(format_args!("the register's heads are signed by\n  {new}\nin the place of\n  {old}"))?;
    output.say("Tell the new key to witnesses and auditors, as you told them the old one.")?;
    Ok(Exit::Good)
}

fn compromised(
    folder: &Folder,
    args: &cli::Compromised,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let since = keys::declare_compromised(folder, &args.key, &args.since, told(&args.told), world)?;
    if as_json {
        output.json(&json!({ "version": VERSION, "key": args.key, "certificates": since }))?;
        return Ok(Exit::Good);
    }
    output.say("declared, and entered in the register")?;
    if since.is_empty() {
        output.say("no certificate was issued under that key since then")?;
    } else {
        output.say(format_args!("issued under that key since then: {}", since.join(", ")))?;
        output.say(
            "They do not stand by themselves any more: withdraw them, or issue amendments under a new key.",
        )?;
    }
    output.say("Earlier ones stand where a time stamp from before that moment covers them.")?;
    let keys = Keys::read(&open_register(folder)?)?;
    if keys.roots.last().is_some_and(|one| !one.in_force()) {
        output.say("Next: `brightproof keys renew root --without-old-key`; nothing is sealed until then.")?;
    } else if keys.seals.last().is_some_and(|one| !one.in_force()) {
        output.say("Next: `brightproof keys renew seal`; nothing is sealed until then.")?;
    }
    if keys.heads.last().is_some_and(|one| !one.in_force()) {
        output.say("Next: `brightproof keys renew register`; nothing is issued until then.")?;
    }
    Ok(Exit::Good)
}
