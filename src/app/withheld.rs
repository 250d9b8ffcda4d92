//! Evidence of what a certificate withholds: made when it is issued, kept in the register beside it, handed out to
//! whom the shop chooses, read by whoever verifies.

use std::path::Path;

use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::certificate::CertifiedLot;
use crate::certificate::Datum;
use crate::certificate::Evidence;
use crate::certificate::EvidenceError;
use crate::folder;
use crate::folder::Folder;
use crate::judge::Dossier;
use crate::register::StoredCertificate;

impl From<EvidenceError> for Error {
    fn from(error: EvidenceError) -> Error {
        Error::Cannot { message: error.to_string(), hint: error.hint() }
    }
}

/// Evidence that was written to a file.
pub struct Handed {
    /// The certificate.
    pub number: String,
    /// The lots whose records are in it.
    pub lots: Vec<String>,
}

/// Writes the evidence of a certificate to a new file, for the owner's eyes only.
///
/// # Errors
/// When there is no such certificate, it withholds nothing, or a file is in the way.
pub fn hand_out(folder: &Folder, number: &str, out: &Path) -> Result<Handed, Error> {
    let stored = open_register(folder)?.certificate(number)?.ok_or_else(|| {
        Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`")
    })?;
    let Some(bytes) = &stored.evidence else {
        let message = match stored.legacy {
            true => format!("certificate {number} was registered as received, so there is no evidence of it"),
            false => format!("certificate {number} withholds nothing: its record is in it"),
        };
        return Err(Error::cannot(message, "`brightproof verify` needs the certificate alone"));
    };
    // Read before it is handed out: nobody is sent what no verifier can use.
    let evidence = Evidence::parse(bytes)?;
    folder::write_new(out, bytes, true)?;
    Ok(Handed { number: number.to_owned(), lots: evidence.lots.into_iter().map(|l| l.lot).collect() })
}

/// Reads evidence files.
///
/// # Errors
/// When one cannot be read, or is none.
pub fn read(files: &[std::path::PathBuf]) -> Result<Vec<Evidence>, Error> {
    let one = |file: &std::path::PathBuf| {
        Evidence::parse(&folder::read(file)?).map_err(|error| Error::Cannot {
            message: format!("{}: {error}", file.display()),
            hint: error.hint(),
        })
    };
    files.iter().map(one).collect()
}

/// The evidence kept beside a certificate.
///
/// # Errors
/// When it cannot be read.
pub fn kept(stored: &StoredCertificate) -> Result<Option<Evidence>, Error> {
    Ok(stored.evidence.as_deref().map(Evidence::parse).transpose()?)
}

/// The dossier of a certified lot, from the certificate or from its evidence; nothing when it is withheld and the
/// evidence does not speak of it.
///
/// # Errors
/// When the evidence does not open the lot's digest.
pub fn dossier_of(lot: &CertifiedLot, evidence: Option<&Evidence>) -> Result<Option<Dossier>, EvidenceError> {
    match (&lot.dossier, evidence) {
        (Datum::Disclosed(dossier), _) => Ok(Some((**dossier).clone())),
        (Datum::Withheld(digest), Some(evidence)) => evidence.open(&lot.lot, digest),
        (Datum::Withheld(_), None) => Ok(None),
    }
}
