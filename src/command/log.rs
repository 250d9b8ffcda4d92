//! The register as a log that others check: proofs beside certificates, heads remembered, growth proven.

use std::path::Path;
use std::path::PathBuf;

use super::Answer;
use super::Exit;
use super::Output;
use crate::app::error::Error;
use crate::app::proofs;
use crate::app::verify;
use crate::app::verify::LogKeys;
use crate::app::verify::Verification;
use crate::checkpoint::Consistency;
use crate::checkpoint::Role;
use crate::cli;
use crate::folder;
use crate::folder::FolderError;
use crate::register::Register;

/// Adds what proofs and remembered heads show to verifications already made.
pub fn checked(
    given: &cli::LogGiven,
    files: &[PathBuf],
    open: &dyn Fn() -> Result<Option<Register>, Error>,
    all: &mut [Result<Verification, Error>],
) -> Result<(), Error> {
    if given.proof.is_some() && files.len() > 1 {
        return Err(Error::cannot(
            "--proof is the proof of one certificate",
            "leave it out: the proof beside each certificate is taken",
        ));
    }
    let proof_of = |text: Result<String, FolderError>, path: &Path| -> Result<Consistency, Error> {
        Consistency::parse(&text?)
            .map_err(|error| Error::cannot(format!("{}: {error}", path.display()), "take it as it was sent"))
    };
    let consistency = given.consistency.iter().map(|path| proof_of(folder::read_text(path), path));
    let keys = LogKeys {
        register: verify::keys(&given.checkpoint_key, Role::Register)?,
        witnesses: verify::keys(&given.witness_key, Role::Witness)?,
        consistency: consistency.collect::<Result<_, _>>()?,
    };
    let register = open()?;
    for (path, found) in files.iter().zip(all) {
        let Ok(found) = found else { continue };
        let bytes = folder::read(path)?;
        let text = match &given.proof {
            Some(file) => Some(folder::read_text(file)?),
            // A register that is given says more than a file beside the certificate.
            None if register.is_some() && keys.witnesses.is_empty() => None,
            None => match folder::read_text(&proofs::place(path)) {
                Ok(text) => Some(text),
                Err(FolderError::Missing(_)) => None,
                Err(error) => return Err(error.into()),
            },
        };
        let shown = match text {
            Some(text) => verify::proof(found, &bytes, &text, &keys, register.as_ref())?,
            None => {
                unproven(found, &keys);
                None
            }
        };
        if let Some(folder) = &given.remember {
            verify::remembered(found, &bytes, shown.as_ref(), register.as_ref(), &keys, folder)?;
        }
    }
    Ok(())
}

/// A witness that was asked for can be found on a proof only.
fn unproven(found: &mut Verification, keys: &LogKeys) {
    if !keys.witnesses.is_empty() {
        verify::no_proof(found);
    }
}

/// Writes a proof that the register grew.
pub fn consistency(register: &Register, args: &cli::GrewFrom, output: &mut Output) -> Answer {
    let text = proofs::consistency(register, args.from, args.to)?.to_text();
    match &args.out {
        Some(path) => {
            folder::write_new(path, text.as_bytes(), false)?;
            output.note(format_args!("written to {}", path.display()))?;
        }
        None => output.say(text.trim_end())?,
    }
    Ok(Exit::Good)
}
