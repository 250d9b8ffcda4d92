//! The pictures of a lot or of a certificate, as SVG files.

use std::path::Path;
use std::path::PathBuf;

use crate::app::book::Book;
use crate::app::desk::files::REGISTER;
use crate::app::desk::open_register;
use crate::app::error::Error;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::CertifiedLot;
use crate::certificate::Picture;
use crate::folder;
use crate::folder::Folder;
use crate::judge;
use crate::picture;

/// One file that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The file.
    pub file: PathBuf,
    /// What it shows.
    pub title: String,
    /// The same in words, for those who cannot see it.
    pub description: String,
}

/// Writes the pictures of a lot, drawn from its record as it stands, or those a certificate carries. All are
/// drawn before the first is written.
///
/// # Errors
/// Neither a certificate nor a lot of that name, or one that rests on no raw readings.
pub fn write(folder: &Folder, name: &str, out: &Path) -> Result<Vec<Written>, Error> {
    let found = match of_certificate(folder, name)? {
        Some(found) => found,
        None => of_lot(folder, name)?,
    };
    let drawn: Vec<(PathBuf, picture::Drawing)> = found
        .iter()
        .enumerate()
        .map(|(i, shown)| (out.join(file_name(name, i, shown)), shown.drawing()))
        .collect();
    let mut written = Vec::new();
    for (file, drawing) in drawn {
        folder::write_whole(&file, picture::to_svg(&drawing).as_bytes())?;
        written.push(Written { file, title: drawing.title, description: drawing.description });
    }
    Ok(written)
}

/// `L-26-0553-1-bath-log.svg`.
fn file_name(name: &str, at: usize, shown: &Picture) -> String {
    let kind = match shown {
        Picture::BathLog(_) => "bath-log",
        Picture::Roughness(_) => "roughness",
        Picture::Removal(_) => "removal",
        Picture::OcCurve(_) => "oc-curve",
    };
    // A lot may be named by its file, in another folder.
    let stem = Path::new(name).file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let stem = stem.strip_suffix(".yaml").unwrap_or(&stem);
    format!("{stem}-{}-{kind}.svg", at.saturating_add(1))
}

fn of_certificate(folder: &Folder, number: &str) -> Result<Option<Vec<Picture>>, Error> {
    if !folder.has(REGISTER) {
        return Ok(None);
    }
    let Some(stored) = open_register(folder)?.certificate(number)? else { return Ok(None) };
    if stored.legacy {
        let message = format!("{number} was registered as received: it carries no data to draw from");
        return Err(Error::cannot(message, "open the file itself"));
    }
    let certificate: Certificate = serde_json::from_slice(&stored.data).map_err(|e| {
        Error::cannot(format!("the data of {number} cannot be read: {e}"), "see `register audit`")
    })?;
    let lots: Vec<String> = certificate.lots.iter().map(|l| l.lot.clone()).collect();
    let found: Vec<Picture> =
        certificate.lots.into_iter().flat_map(|lot: CertifiedLot| lot.pictures).collect();
    if found.is_empty() {
        let message = format!("certificate {number} carries no pictures");
        let hint = format!(
            "name a lot for those of its record: {}; `pictures: true` on the order puts them on its \
            certificates",
            lots.join(", ")
        );
        return Err(Error::cannot(message, &hint));
    }
    Ok(Some(found))
}

fn of_lot(folder: &Folder, name: &str) -> Result<Vec<Picture>, Error> {
    let book = Book::open(folder.clone())?;
    let known = name.ends_with(".yaml") || folder.has(&format!("lots/{name}.yaml"));
    if !known {
        let message = format!("`{name}` is neither a certificate of the register nor a lot in lots/");
        return Err(Error::cannot(message, "see `brightproof find`, or name the lot's file"));
    }
    let mut dossier = book.case(book.lot(name)?)?.dossier;
    dossier.pictures = true;
    let findings = judge::judge(&dossier);
    let found = certificate::certified_lot(dossier, findings, 0).pictures;
    if found.is_empty() {
        let message =
            format!("lot {name} has nothing to draw: its record names no log, no trace and no weighing");
        return Err(Error::cannot(message, "name the raw files in the record"));
    }
    Ok(found)
}
