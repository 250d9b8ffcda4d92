//! What the register says of the keys behind a certificate: taken into use before, not replaced by then, not in
//! others' hands.

use chrono::DateTime;
use chrono::Utc;

use crate::app::error::Error;
use crate::app::issue;
use crate::app::keys::Keys;
use crate::app::time_stamps;
use crate::app::verify::Answer;
use crate::app::verify::Verification;
use crate::certificate::Certificate;
use crate::pdf;
use crate::register::Register;
use crate::seal;
use crate::seal::Trust;

const CHECK: &str = "key";
const MEANS: &str = "its keys were in force when it was registered, and were in nobody else's hands";

/// Adds a line where there is something to tell of its keys.
pub(super) fn line(
    found: &mut Verification,
    register: &Register,
    certificate: &Certificate,
    bytes: &[u8],
    sealed: &pdf::Sealed,
) -> Result<(), Error> {
    let Some(stored) = register.certificate(&certificate.number)? else { return Ok(()) };
    let keys = Keys::read(register)?;
    let Some(seal) = sealed_by(certificate, bytes, sealed) else { return Ok(()) };
    let wrong = match keys.seals.iter().find(|one| one.key == seal) {
        None => Some("the register never took its seal key into use".to_owned()),
        Some(one) if stored.position < one.added.0 => {
            Some("its seal key was taken into use after it".to_owned())
        }
        Some(one) => one
            .retired
            .as_ref()
            .filter(|(at, _)| stored.position > *at)
            .map(|(_, at)| format!("its seal key was replaced at {at}, before it was registered")),
    };
    if let Some(wrong) = wrong {
        found.line(CHECK, true, Answer::Fail(wrong), MEANS);
    } else if let Some((since, why)) = compromised(&keys, certificate, &seal) {
        let since = time_stamps::shown(&since);
        let why = format!(
            "a key of it may be known to others since {since} ({why}): it stands only with a time stamp from before \
             then, or a proof that witnesses cosigned before then; give --time-stamps and --time-root, or --proof and \
             --witness-key"
        );
        found.line(CHECK, true, Answer::NotChecked(why), MEANS);
    }
    Ok(())
}

/// By when somebody else's clock saw the certificate in the register.
#[derive(Debug, Clone, Copy)]
pub(super) enum Seen {
    /// The latest that a time stamp says.
    Stamped(DateTime<Utc>),
    /// When a witness whose key the verifier brought cosigned a head over it.
    ByWitness(DateTime<Utc>),
}

/// Seen by others before a key was compromised lets the certificate stand. A time stamp from later does not, and
/// says so; a witness from later leaves the question to others.
pub(super) fn dated(
    found: &mut Verification,
    register: &Register,
    certificate: &Certificate,
    (bytes, sealed): (&[u8], &pdf::Sealed),
    seen: Seen,
) -> Result<(), Error> {
    let Some(line) = found.lines.iter_mut().find(|line| line.check == CHECK) else { return Ok(()) };
    if !matches!(line.answer, Answer::NotChecked(_)) {
        return Ok(());
    }
    let keys = Keys::read(register)?;
    let since = sealed_by(certificate, bytes, sealed).and_then(|seal| compromised(&keys, certificate, &seal));
    let Some((since, why)) = since else { return Ok(()) };
    let known = time_stamps::shown(&since);
    line.answer = match seen {
        Seen::Stamped(at) | Seen::ByWitness(at) if at < since => Answer::Pass,
        Seen::Stamped(at) => Answer::Fail(format!(
            "a key of it may be known to others since {known} ({why}), and the first time stamp of it says {}",
            time_stamps::shown(&at)
        )),
        Seen::ByWitness(at) => Answer::NotChecked(format!(
            "a key of it may be known to others since {known} ({why}), and witnesses cosigned at {}: it stands only with \
             a time stamp or a cosigned proof from before then",
            time_stamps::shown(&at)
        )),
    };
    Ok(())
}

/// The earliest moment from which one of its keys, or the root above, is declared compromised.
fn compromised(keys: &Keys, certificate: &Certificate, seal: &str) -> Option<(DateTime<Utc>, String)> {
    let head = &certificate.register.key;
    let seals = keys.seals.iter().filter(|one| one.key == seal).filter_map(|one| one.compromised.as_ref());
    let heads = keys.heads.0.iter().filter(|one| one.key.to_string() == *head);
    let root = keys.root_of(seal).and_then(|one| one.compromised.as_ref());
    let all = seals.chain(root).chain(heads.filter_map(|one| one.compromised.as_ref()));
    all.min_by_key(|one| one.since).map(|one| (one.since, one.why.clone()))
}

/// The seal certificate's fingerprint, if the seal can be read; whether it holds is told on other lines.
fn sealed_by(certificate: &Certificate, bytes: &[u8], sealed: &pdf::Sealed) -> Option<String> {
    let [before, after] = issue::pieces(bytes, &sealed.contents_hex)?;
    let claimed = DateTime::parse_from_rfc3339(&certificate.issued).ok()?.to_utc();
    let report = seal::verify(&sealed.der, [&before, &after], &Trust::None, claimed).ok()?;
    report.sealer.map(|sealer| sealer.seal_fingerprint)
}
