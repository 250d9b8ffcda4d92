//! The shop's keys: shown, renewed, declared compromised.

use serde::Serialize;

use super::Answer;
use super::Exit;
use super::Output;
use super::passphrase;
use super::shop::grouped;
use super::shop::long_enough;
use crate::app::desk::files;
use crate::app::desk::open_register;
use crate::app::keys;
use crate::app::keys::Keys;
use crate::app::keys::NewSeal;
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
            (None, _) => text.push_str("known to purchasers; it is never replaced"),
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
        cli::Keys::Renew(cli::Renew::Seal(args)) => renew_seal(folder, args, world, output),
        cli::Keys::Renew(cli::Renew::Register(why)) => renew_register(folder, why, world, output),
        cli::Keys::Compromised(args) => compromised(folder, args, world, output),
    }
}

fn told(why: &cli::Why) -> Told<'_> {
    Told { by: &why.by, why: &why.why }
}

fn show(folder: &Folder, as_json: bool, output: &mut Output) -> Answer {
    keys::settle(folder)?;
    let keys = Keys::read(&open_register(folder)?)?;
    let root = KeyReport {
        version: VERSION,
        what: "root",
        key: keys.root.clone(),
        in_force: true,
        since: None,
        replaced: None,
        compromised_since: None,
    };
    let seals = keys.seals.iter().map(|one| KeyReport::of("seal", one));
    let heads = keys.heads.0.iter().map(|one| KeyReport::of("register", one));
    let all: Vec<KeyReport> = std::iter::once(root).chain(seals).chain(heads).collect();
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

fn renew_seal(folder: &Folder, args: &cli::RenewSeal, world: &World, output: &mut Output) -> Answer {
    let root_key = args.root_key.clone().unwrap_or_else(|| folder.path(files::ROOT_KEY));
    let locked = seal::is_encrypted(&zeroize::Zeroizing::new(folder::read_private(&root_key)?))?;
    let root_passphrase = match (&args.root_passphrase_file, locked) {
        (_, false) => None,
        (Some(file), true) => Some(passphrase::of_file(file)?),
        (None, true) => Some(passphrase::ask("Passphrase of the root key")?),
    };
    let new = if args.open_keys { None } else { Some(passphrase::of_new_key(&args.key)?) };
    long_enough(new.as_ref())?;
    let new = NewSeal {
        root_key: &root_key,
        root_passphrase: root_passphrase.as_deref().map(Vec::as_slice),
        passphrase: new.as_deref().map(Vec::as_slice),
    };
    let (old, made) = keys::renew_seal(folder, &new, told(&args.told), world)?;
    output.say(format_args!("seal key {} takes the place of {}", grouped(&made), grouped(&old)))?;
    output.say("The root is the same: purchasers need nothing new. Lock the root's key away again.")?;
    if args.open_keys {
        output.note("warning: the new key is unlocked on disk: for trials only")?;
    }
    Ok(Exit::Good)
}

fn renew_register(folder: &Folder, why: &cli::Why, world: &World, output: &mut Output) -> Answer {
    let (old, new) = keys::renew_register(folder, told(why), world)?;
    output.say(format_args!("the register's heads are signed by\n  {new}\nin the place of\n  {old}"))?;
    output.say("Tell the new key to witnesses and auditors, as you told them the old one.")?;
    Ok(Exit::Good)
}

fn compromised(folder: &Folder, args: &cli::Compromised, world: &World, output: &mut Output) -> Answer {
    let since = keys::declare_compromised(folder, &args.key, &args.since, told(&args.told), world)?;
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
    if keys.seals.last().is_some_and(|one| !one.in_force()) {
        output.say("Next: `brightproof keys renew seal`; nothing is sealed until then.")?;
    }
    if keys.heads.last().is_some_and(|one| !one.in_force()) {
        output.say("Next: `brightproof keys renew register`; nothing is issued until then.")?;
    }
    Ok(Exit::Good)
}
