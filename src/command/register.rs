//! register head, audit, backup, history, prove; time stamps, and its verbs as a log that others check, are carried out
//! next door.

use super::Answer;
use super::Exit;
use super::Output;
use super::log;
use super::time_stamps;
use crate::app::desk::files;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::app::keys::own_head_keys;
use crate::app::proofs;
use crate::app::world::World;
use crate::cli::RegisterVerb;
use crate::folder::Folder;
use crate::register::KeptHead;
use crate::report::json;

pub fn run(
    verb: &RegisterVerb,
    folder: &Folder,
    as_json: bool,
    world: &World,
    output: &mut Output,
) -> Answer {
    let register = open_register(folder)?;
    match register.kept_head()? {
        KeptHead::Refused { why } => {
            output.note(format_args!("warning: this is not the register written last: {why}"))?
        }
        KeptHead::Missing => output
            .note("warning: the kept head is missing; compare with a head printed on a late certificate")?,
        KeptHead::Agrees { size } => {
            let behind = register.head()?.size.saturating_sub(size);
            if behind > 0 {
                output.note(format_args!(
                    "warning: the kept head is {behind} entries behind: see that {} can be written, then issue or reissue",
                    files::HEAD
                ))?;
            }
        }
        KeptHead::NotAsked => {}
    }
    match verb {
        RegisterVerb::Head => {
            let head = register.head()?;
            match &head.checkpoint {
                Some(text) => output.say(text.trim_end())?,
                None => {
                    return Err(
                        Error::cannot("the head is not signed", "issue or reissue once to sign it").into()
                    );
                }
            }
            Ok(Exit::Good)
        }
        RegisterVerb::Audit => {
            let keys = own_head_keys(folder, &register)?;
            let signed = |text: &str| keys.open(text).map(drop).map_err(|e| e.to_string());
            let report = register.audit_with(&signed)?;
            let cosigned = proofs::audit_cosigned(folder, &register, &keys)?;
            if as_json {
                let mut found = json::audit(&report);
                found.sound &= cosigned.is_empty();
                found.bad.extend(cosigned.iter().cloned());
                found.first_bad = found.bad.first().cloned();
                output.json(&found)?;
            } else {
                output.say(crate::report::audit(&report))?;
                for wrong in &cosigned {
                    output.say(wrong)?;
                }
            }
            Ok(if report.is_sound() && cosigned.is_empty() { Exit::Good } else { Exit::Gaps })
        }
        RegisterVerb::Backup { to } => {
            let report = register.backup(to)?;
            let cosigned = proofs::copy_cosigned(folder, to)?;
            if as_json {
                output.json(&json::audit(&report))?;
            } else {
                output.say(format_args!("{}: {}", to.display(), crate::report::audit(&report)))?;
                if cosigned > 0 {
                    output.say(format_args!("{}.cosigned: {cosigned} cosigned heads", to.display()))?;
                }
            }
            Ok(if report.is_sound() { Exit::Good } else { Exit::Gaps })
        }
        RegisterVerb::History { number } => {
            let entries = register.history(number)?;
            if entries.is_empty() {
                return Err(Error::cannot(
                    format!("the register has no certificate {number}"),
                    "see `brightproof find`",
                )
                .into());
            }
            if as_json {
                output.json(&entries.into_iter().map(json::entry).collect::<Vec<_>>())?;
                return Ok(Exit::Good);
            }
            for entry in entries {
                output.say(format_args!(
                    "{} {} {} {}",
                    entry.position,
                    entry.at,
                    entry.kind.as_str(),
                    entry.detail
                ))?;
            }
            Ok(Exit::Good)
        }
        RegisterVerb::TimeStamp => time_stamps::ask(folder, &register, as_json, world, output),
        RegisterVerb::TimeStamps { root } => {
            time_stamps::list(folder, &register, root.as_deref(), as_json, output)
        }
        RegisterVerb::Prove { number, time_stamped } => {
            let proof = if *time_stamped {
                let unknown = || {
                    Error::cannot(
                        format!("the register has no certificate {number}"),
                        "see `brightproof find`",
                    )
                };
                let position = register.certificate(number)?.ok_or_else(unknown)?.position;
                proofs::of(&register, number, time_stamps::covering(folder, &register, position)?)?
            } else {
                proofs::best(folder, &register, number)?
            };
            output.say(proof.to_text().trim_end())?;
            Ok(Exit::Good)
        }
        RegisterVerb::Consistency(args) => log::consistency(&register, args, output),
        RegisterVerb::Tiles(args) => log::tiles(folder, &register, args, as_json, output),
        RegisterVerb::Witness => log::witness(folder, &register, as_json, output),
        RegisterVerb::Export(args) => log::export(folder, &register, args, as_json, output),
        RegisterVerb::Credential(args) => log::credential(folder, &register, args, as_json, world, output),
    }
}
