//! The QR symbol (ISO/IEC 18004) on every page.

use lopdf::Dictionary;
use lopdf::Object;
use lopdf::Stream;
use qrcode::Color;
use qrcode::EcLevel;
use qrcode::QrCode;

use super::error::PdfError;
use super::subset::length;
use super::subset::packed;

/// What the symbol says: `BRIGHTPROOF:1:<number>:<stamp>:<fingerprint>`, the digests in capitals
/// because a symbol holds those in little more than half the room.
pub(super) fn payload(number: &str, stamp: &str, fingerprint: &str) -> String {
    let mut out = format!("BRIGHTPROOF:1:{number}:{}", stamp.to_ascii_uppercase());
    if !fingerprint.is_empty() {
        out.push(':');
        out.push_str(&fingerprint.to_ascii_uppercase());
    }
    out
}

/// The symbol as a one-bit stencil, one pixel a module, without its quiet zone (the page around
/// it is white).
///
/// # Errors
/// [`PdfError::Engine`] when the text does not fit a symbol.
pub(super) fn stencil(payload: &str) -> Result<Stream, PdfError> {
    let code = QrCode::with_error_correction_level(payload.as_bytes(), EcLevel::M)
        .map_err(|e| PdfError::Engine { detail: format!("QR symbol: {e}") })?;
    let side = code.width();
    let mut bytes = Vec::new();
    for row in code.to_colors().chunks(side.max(1)) {
        for eight in row.chunks(8) {
            let mut byte = 0u8;
            for (i, module) in eight.iter().enumerate() {
                // In a stencil a 0 paints.
                if *module == Color::Light {
                    byte |= 0x80 >> i;
                }
            }
            bytes.push(byte);
        }
    }
    let dict = Dictionary::from_iter([
        ("Type", Object::Name(b"XObject".to_vec())),
        ("Subtype", Object::Name(b"Image".to_vec())),
        ("Width", length(side)),
        ("Height", length(side)),
        ("ImageMask", Object::Boolean(true)),
        ("BitsPerComponent", Object::Integer(1)),
    ]);
    Ok(packed(dict, bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_symbol_holds_number_stamp_and_fingerprint() {
        let text = payload("LBF-1", "ab", "cd");
        assert_eq!(text, "BRIGHTPROOF:1:LBF-1:AB:CD");
        assert_eq!(payload("LBF-1", "ab", ""), "BRIGHTPROOF:1:LBF-1:AB");
        let digest = "a".repeat(64);
        let stencil = stencil(&payload("LBF-2026-000123", &digest, &digest)).unwrap();
        let side = stencil.dict.get(b"Width").and_then(Object::as_i64).unwrap();
        // 60 pt over the modules must stay above a third of a millimetre.
        assert!(60.0 / side as f64 * 0.3528 > 0.33, "{side}");
    }
}
