//! The files a certificate rests on, looked for in an evidence store.

use std::collections::BTreeSet;
use std::path::Path;

use crate::app::error::Error;
use crate::app::evidence;
use crate::app::verify::Answer;
use crate::app::verify::Verification;
use crate::app::verify::read_data;
use crate::certificate::Datum;
use crate::evidence::HeldFile;
use crate::pdf;

/// Adds a line about every file the certificate's data name.
///
/// # Errors
/// When the store cannot be read.
pub fn evidence(found: &mut Verification, bytes: &[u8], store: &Path) -> Result<(), Error> {
    const MEANS: &str =
        "every file it rests on is in the evidence store, as it was when the lots were judged";
    if !store.is_dir() {
        return Err(Error::cannot(
            format!("{} is no folder", store.display()),
            "name the evidence store: evidence/ in the shop folder, or a copy of it",
        ));
    }
    // What cannot be read of the file has failed on a line of its own.
    let certificate = pdf::read_sealed(bytes).ok().and_then(|sealed| read_data(&sealed.attachment).ok());
    let Some(certificate) = certificate else {
        found.line("evidence", true, Answer::NotChecked("its data could not be read".to_owned()), MEANS);
        return Ok(());
    };
    let mut files: BTreeSet<HeldFile> = BTreeSet::new();
    let mut withheld = false;
    for lot in &certificate.lots {
        match &lot.dossier {
            Datum::Disclosed(dossier) => files.extend(evidence::of_dossier(dossier)),
            Datum::Withheld(_) => withheld = true,
        }
    }
    let mut bad = Vec::new();
    for file in &files {
        match evidence::stored(store, &file.sha256)? {
            Some(true) => {}
            Some(false) => bad.push(format!("{} is altered ({})", file.path, file.sha256)),
            None => bad.push(format!("{} is missing ({})", file.path, file.sha256)),
        }
    }
    let answer = match (bad.as_slice(), withheld) {
        ([], false) => Answer::Pass,
        ([], true) => Answer::NotChecked("the record of a lot is withheld, and with it its files".to_owned()),
        (bad, _) => Answer::Fail(bad.join("; ")),
    };
    found.line("evidence", true, answer, format!("{MEANS} ({} named)", files.len()));
    Ok(())
}
