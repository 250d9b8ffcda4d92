//! Since when a certificate was there, by somebody else's clock.

use std::path::Path;

use chrono::DateTime;

use crate::app::error::Error;
use crate::app::keys::HeadKeys;
use crate::app::time_stamps;
use crate::app::verify::Answer;
use crate::app::verify::Verification;
use crate::app::verify::keys;
use crate::app::verify::read_data;
use crate::checkpoint::VerifyKey;
use crate::pdf;
use crate::register::Register;
use crate::time_stamp::Anchor;

/// Adds a line about the earliest time stamp, among those in a folder, of a head that has the certificate's entry.
///
/// # Errors
/// When folder or register cannot be read.
pub fn time(
    found: &mut Verification,
    bytes: &[u8],
    register: Option<&Register>,
    stamps: &Path,
    root: &Anchor,
) -> Result<(), Error> {
    const MEANS: &str = "a service you trust signed that its entry was in the register by then";
    let place = time_stamps::place(stamps)?;
    let Some(register) = register else {
        let why = "no register was given, and a time stamp is of the register's head".to_owned();
        found.line("time", true, Answer::NotChecked(why), MEANS);
        return Ok(());
    };
    let sealed = pdf::read_sealed(bytes).ok();
    let certificate = sealed.as_ref().and_then(|sealed| read_data(&sealed.attachment).ok());
    let stored = match &found.number {
        Some(number) => register.certificate(number)?,
        None => None,
    };
    let (Some(sealed), Some(certificate), Some(stored)) = (sealed, certificate, stored) else {
        let why = "its data could not be read, or the register does not have it".to_owned();
        found.line("time", true, Answer::NotChecked(why), MEANS);
        return Ok(());
    };
    let dated = VerifyKey::parse(&certificate.register.key)
        .map_err(Error::from)
        .and_then(|key| HeadKeys::from(register, key))
        .and_then(|keys| time_stamps::dating(place, stored.position, root, register, &keys));
    let (answer, means) = match dated {
        Err(error) => (Answer::Fail(error.to_string()), MEANS.to_owned()),
        Ok(None) => {
            let why = format!("no time stamp in {} is of a head that has its entry", place.display());
            (Answer::NotChecked(why), MEANS.to_owned())
        }
        Ok(Some((kept, stamp))) => {
            let claimed = DateTime::parse_from_rfc3339(&certificate.issued).ok().map(|at| at.to_utc());
            let answer = if claimed.is_some_and(|claimed| claimed <= time_stamps::latest(&stamp)) {
                Answer::Pass
            } else {
                let at = time_stamps::shown(&stamp.at);
                Answer::Fail(format!(
                    "it claims to be issued at {}, and was there at {at}",
                    certificate.issued
                ))
            };
            if answer == Answer::Pass {
                let latest = stamp.at + stamp.accuracy.unwrap_or_default();
                keys::dated(found, register, &certificate, (bytes, &sealed), keys::Seen::Stamped(latest))?;
            }
            let at = time_stamps::shown(&stamp.at);
            let head = kept.size;
            (
                answer,
                format!(
                    "its entry was in the register by {at}: {} stamped the head of {head} entries",
                    stamp.by
                ),
            )
        }
    };
    found.line("time", true, answer, means);
    Ok(())
}
