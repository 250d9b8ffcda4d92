//! The files a certificate rests on, looked for in an evidence store.

use std::collections::BTreeSet;
use std::path::Path;

use crate::app::computed;
use crate::app::error::Error;
use crate::app::evidence;
use crate::app::verify::Answer;
use crate::app::verify::Verification;
use crate::app::verify::read_data;
use crate::app::withheld;
use crate::certificate::Evidence;
use crate::computed::Computed;
use crate::computed::Reading;
use crate::evidence::HeldFile;
use crate::folder;
use crate::folder::FolderError;
use crate::judge::Dossier;
use crate::pdf;

/// Adds a line about every file the certificate's data name, and the evidence of what it withholds where that was
/// handed out.
///
/// # Errors
/// When the store cannot be read.
pub fn evidence(
    found: &mut Verification,
    bytes: &[u8],
    store: &Path,
    handed: &[Evidence],
) -> Result<(), Error> {
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
    let own = handed.iter().find(|evidence| evidence.number == certificate.number);
    let mut dossiers = Vec::new();
    for lot in &certificate.lots {
        // Evidence that does not open the lot's digest has failed on a line of its own.
        match withheld::dossier_of(lot, own) {
            Ok(Some(dossier)) => {
                files.extend(evidence::of_dossier(&dossier));
                dossiers.push((lot.lot.as_str(), dossier));
            }
            Ok(None) | Err(_) => withheld = true,
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
    figures(found, &dossiers, store)
}

/// Adds a line about the figures computed from raw files: computed once more from the store they must come out the same.
fn figures(found: &mut Verification, dossiers: &[(&str, Dossier)], store: &Path) -> Result<(), Error> {
    let mut files = 0_usize;
    let mut bad = Vec::new();
    for (lot, dossier) in dossiers.iter().filter(|(_, dossier)| !dossier.computed.is_empty()) {
        let by_path = |path: &str| dossier.computed.iter().find(|c| c.path == path);
        let read = |path: &str| match by_path(path).and_then(|c| evidence::place(&c.sha256)) {
            Some(place) => match folder::read(&store.join(place)) {
                Ok(bytes) => Ok(Some(bytes)),
                Err(FolderError::Missing(_)) => Ok(None),
                Err(error) => Err(error.into()),
            },
            None => Ok(None),
        };
        let again = computed::compute(dossier, &read)?;
        files = files.saturating_add(again.len());
        for (kept, now) in dossier.computed.iter().zip(&again).filter(|(kept, now)| kept != now) {
            bad.push(format!("lot {lot}, {} at {}: {}", kept.path, kept.named_at, differs(kept, now)));
        }
        if again.len() != dossier.computed.len() {
            bad.push(format!(
                "lot {lot}: the record names {} raw files, figures stand for {}",
                again.len(),
                dossier.computed.len()
            ));
        }
    }
    if files == 0 && bad.is_empty() {
        return Ok(());
    }
    let answer = if bad.is_empty() { Answer::Pass } else { Answer::Fail(bad.join("; ")) };
    let means = format!("computed again from the raw files, every figure comes out the same ({files} files)");
    found.line("figures", true, answer, means);
    Ok(())
}

/// How two computations of one file differ, in words.
fn differs(kept: &Computed, now: &Computed) -> String {
    match (&kept.found, &now.found) {
        (_, Reading::Unreadable(why)) => format!("nothing can be computed now: {why}"),
        (Reading::Trace(kept), Reading::Trace(now)) if kept.ra != now.ra => {
            format!("Ra {} in the certificate, {} computed", kept.ra, now.ra)
        }
        (Reading::Log(kept), Reading::Log(now)) => {
            let each = kept.channels.iter().zip(&now.channels);
            let other = each
                .into_iter()
                .find(|(kept, now)| kept.minimum != now.minimum || kept.maximum != now.maximum);
            other.map_or_else(
                || "the figures differ".to_owned(),
                |(kept, now)| {
                    format!(
                        "{} {} to {} in the certificate, {} to {} computed",
                        kept.measures, kept.minimum, kept.maximum, now.minimum, now.maximum
                    )
                },
            )
        }
        _ => "the figures differ".to_owned(),
    }
}
