//! From data to a sealed file: drawing the page with room for the seal, and setting the seal.

use crate::app::error::Error;
use crate::canonical;
use crate::certificate::Certificate;
use crate::pdf::Paper;
use crate::pdf::Prepared;
use crate::pdf::Renderer;
use crate::pdf::SealField;
use crate::pdf::Sheet;
use crate::seal::SealKey;

/// How the data say the seal field: the verifier draws it again from the same words.
pub fn seal_field(certificate: &Certificate, reserve: usize) -> SealField<'_> {
    SealField {
        signer: &certificate.issuer.name,
        reason: "Certificate of conformity",
        location: &certificate.place,
        contact: &certificate.issuer.contact,
        reserve,
    }
}

/// Draws a certificate with room for its seal.
pub fn draw(
    renderer: &Renderer,
    certificate: &Certificate,
    data: &[u8],
    reserve: usize,
) -> Result<Prepared, Error> {
    let stamp = canonical::stamp(data);
    let paper = Paper::from_name(&certificate.renderer.paper).ok_or_else(|| {
        Error::cannot(format!("there is no paper `{}`", certificate.renderer.paper), "A4 or Letter")
    })?;
    let sheet = Sheet { data, stamp: &stamp, paper, seal: Some(seal_field(certificate, reserve)) };
    Ok(renderer.prepare(&sheet)?)
}

/// The two pieces of a prepared file that the seal covers: all but `<...>`.
pub fn pieces(bytes: &[u8], gap: &std::ops::Range<usize>) -> Option<[Vec<u8>; 2]> {
    let before = bytes.get(..gap.start.checked_sub(1)?)?;
    let after = bytes.get(gap.end.checked_add(1)?..)?;
    Some([before.to_vec(), after.to_vec()])
}

/// Seals a prepared file.
pub(super) fn seal_it(key: &SealKey, prepared: Prepared) -> Result<Vec<u8>, Error> {
    let Prepared { mut bytes, gap } = prepared;
    let broken = || Error::cannot("the page has no room for the seal", "report this");
    let gap = gap.ok_or_else(broken)?;
    let [before, after] = pieces(&bytes, &gap).ok_or_else(broken)?;
    let der = key.sign([&before, &after])?;
    let digits = hex::encode(der);
    let room = bytes.get_mut(gap).ok_or_else(broken)?;
    if digits.len() > room.len() {
        return Err(broken());
    }
    for (place, digit) in room.iter_mut().zip(digits.bytes()) {
        *place = digit;
    }
    Ok(bytes)
}
