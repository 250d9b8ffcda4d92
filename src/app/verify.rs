//! Verifying: what a stranger with the file and the shop's fingerprint can know, each check on its own line.
//!
//! Nothing inside the file is a trust anchor. A check that was asked for and could not be made is no pass.

mod judgement;
mod keys;
mod proof;
mod remember;
mod roots;
mod store;
mod time;

use std::path::Path;

use crate::app::error::Error;
use crate::app::issue;
use crate::app::keys::HeadKeys;
use crate::app::withheld;
use crate::canonical;
use crate::certificate;
use crate::certificate::Certificate;
use crate::certificate::Evidence;
use crate::checkpoint;
use crate::checkpoint::VerifyKey;
use crate::folder;
use crate::merkle;
use crate::pdf;
use crate::pdf::Renderer;
use crate::register::Register;
use crate::register::Status;
use crate::register::StoredCertificate;
use crate::seal;
use crate::seal::RootHandover;
use crate::seal::Trust;

pub use proof::LogKeys;
pub use proof::Shown;
pub use proof::keys;
pub use proof::no_proof;
pub use proof::proof;
pub use remember::Heads;
pub use remember::place as remembered_at;
pub use remember::remembered;
pub use store::evidence;
pub use time::time;

/// The answer of one check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// It holds.
    Pass,
    /// It does not.
    Fail(String),
    /// It could not be told, or was not asked.
    NotChecked(String),
}

/// One check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Stable name.
    pub check: &'static str,
    /// The answer.
    pub answer: Answer,
    /// What a pass of it means.
    pub means: String,
    /// Whether the overall answer needs it.
    pub asked: bool,
}

/// Everything found about one file or one number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verification {
    /// The file, or the number from paper.
    pub what: String,
    /// Certificate number, as far as it could be read.
    pub number: Option<String>,
    /// Stamp, as far as it could be computed.
    pub stamp: Option<String>,
    /// Checks in order.
    pub lines: Vec<Line>,
}

/// The overall answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overall {
    /// Every check asked for passed.
    Verifies,
    /// One failed.
    DoesNotVerify,
    /// None failed, one asked for could not be made.
    CouldNotTell,
}

impl Verification {
    /// The overall answer.
    pub fn overall(&self) -> Overall {
        let asked = || self.lines.iter().filter(|l| l.asked);
        if self.lines.iter().any(|l| matches!(l.answer, Answer::Fail(_))) {
            Overall::DoesNotVerify
        } else if asked().next().is_some() && asked().all(|l| l.answer == Answer::Pass) {
            Overall::Verifies
        } else {
            Overall::CouldNotTell
        }
    }

    fn line(&mut self, check: &'static str, asked: bool, answer: Answer, means: impl Into<String>) {
        self.lines.push(Line { check, answer, means: means.into(), asked });
    }
}

/// What the verifier brings.
pub struct Anchor {
    root: Option<Vec<u8>>,
    fingerprint: Option<String>,
    handovers: Vec<RootHandover>,
}

impl Anchor {
    /// No anchor: the issuer stays unknown.
    pub const fn none() -> Anchor {
        Anchor { root: None, fingerprint: None, handovers: Vec::new() }
    }

    /// A fingerprint (64 hexadecimal digits, any grouping), or the file of a root certificate.
    pub fn read(text: &str) -> Result<Anchor, Error> {
        let digits: String =
            text.chars().filter(|c| !matches!(c, ':' | ' ' | '-')).collect::<String>().to_lowercase();
        if digits.len() == 64 && digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Ok(Anchor { root: None, fingerprint: Some(digits), handovers: Vec::new() });
        }
        let path = Path::new(text);
        if !path.is_file() {
            return Err(Error::cannot(
                format!("`{text}` is neither a fingerprint of 64 hexadecimal digits nor a file"),
                "give the shop's root certificate, or its fingerprint as the shop told it by another way",
            ));
        }
        let root = folder::read(path)?;
        seal::fingerprint(&root)?;
        Ok(Anchor { root: Some(root), fingerprint: None, handovers: Vec::new() })
    }

    /// With handovers of the root, which lead from it to others of the same shop.
    pub fn with(self, handovers: Vec<RootHandover>) -> Anchor {
        Anchor { handovers, ..self }
    }

    fn trust(&self) -> Trust<'_> {
        match (&self.root, &self.fingerprint) {
            (Some(root), _) => Trust::Root(root),
            (None, Some(fingerprint)) => Trust::Fingerprint(fingerprint),
            (None, None) => Trust::None,
        }
    }
}

/// Verifies one file. `register` is the shop's, if the verifier has it.
pub fn file(
    name: &str,
    bytes: &[u8],
    anchor: &Anchor,
    register: Option<&Register>,
    renderer: &Renderer,
) -> Result<Verification, Error> {
    with_evidence(name, bytes, anchor, register, renderer, None)
}

/// The same with evidence of what certificates withhold, of this one or of others. Without, the register's own is
/// taken: wherever it comes from, it must open the digest under the seal.
pub fn with_evidence(
    name: &str,
    bytes: &[u8],
    anchor: &Anchor,
    register: Option<&Register>,
    renderer: &Renderer,
    evidence: Option<&[Evidence]>,
) -> Result<Verification, Error> {
    let mut found = Verification { what: name.to_owned(), number: None, stamp: None, lines: Vec::new() };
    if let Some(register) = register
        && let Some(number) = register.legacy_by_file(&canonical::stamp(bytes))?
        && let Some(stored) = register.certificate(&number)?
    {
        found.line(
            "registered",
            true,
            Answer::Pass,
            "the shop's register has this very file under this number",
        );
        legacy_lines(&mut found, &stored);
        return Ok(found);
    }
    let sealed = match pdf::read_sealed(bytes) {
        Ok(sealed) => sealed,
        Err(error) => {
            found.line(
                "form",
                true,
                Answer::Fail(error.to_string()),
                "the file is one sealed certificate and nothing more",
            );
            return Ok(found);
        }
    };
    found.line("form", true, Answer::Pass, "the file is one sealed certificate and nothing was added to it");

    let stamp = canonical::stamp(&sealed.attachment);
    found.stamp = Some(stamp.clone());
    let certificate = read_data(&sealed.attachment);
    let claimed =
        certificate.as_ref().ok().and_then(|c| chrono::DateTime::parse_from_rfc3339(&c.issued).ok());
    let known = roots::Known::of(anchor, register)?;
    let reserve = seal_lines(&mut found, bytes, &sealed, &known, claimed)?;
    let certificate = match certificate {
        Ok(certificate) => certificate,
        Err(why) => {
            found.line("data", true, why, "the attached data are a certificate's");
            return Ok(found);
        }
    };
    found.number = Some(certificate.number.clone());
    found.line("data", true, Answer::Pass, format!("the attached data are complete; their stamp is {stamp}"));
    found.line(
        "page",
        true,
        page(&certificate, bytes, &sealed, reserve, renderer),
        "the page says what the data say, byte for byte",
    );
    let own = match evidence {
        Some(given) => given.iter().find(|e| e.number == certificate.number).cloned(),
        None => match register.map(|r| r.certificate(&certificate.number)).transpose()?.flatten() {
            // What the register keeps wrongly is told by its audit; here it is as if it kept none.
            Some(stored) => withheld::kept(&stored).unwrap_or(None),
            None => None,
        },
    };
    let judged = judgement::judgement(&certificate, own.as_ref());
    // Whoever was shown no record cannot ask that it be judged; who brings evidence asks.
    let unasked = Answer::NotChecked(judgement::withheld(&certificate));
    found.line(
        "judgement",
        evidence.is_some() || own.is_some() || judged != unasked,
        judged,
        "judged again, the recorded data give the same findings, and none is a gap",
    );
    found.line(
        "signatures",
        true,
        certificate::wrong_signatures(&certificate).map_or(Answer::Pass, Answer::Fail),
        "the signatures agree with the time of issue and with how the shop says it releases",
    );
    found.line(
        "head",
        true,
        head(&certificate),
        "the register's head it carries is signed by the register it names",
    );
    match register {
        Some(register) => {
            register_lines(&mut found, register, &certificate, &stamp, Some(bytes))?;
            keys::line(&mut found, register, &certificate, bytes, &sealed)?;
        }
        None => found.line(
            "register",
            false,
            Answer::NotChecked(
                "no register was given, so amendments and withdrawals are not known".to_owned(),
            ),
            "the certificate is in the shop's register, and current",
        ),
    }
    Ok(found)
}

/// Verifies a number and stamp read off paper, against the register.
pub fn paper(number: &str, stamp: &str, register: &Register) -> Result<Verification, Error> {
    let mut found = Verification {
        what: number.to_owned(),
        number: Some(number.to_owned()),
        stamp: Some(stamp.to_owned()),
        lines: Vec::new(),
    };
    let digits: String = stamp.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_lowercase();
    found.line(
        "page",
        false,
        Answer::NotChecked("only number and stamp were given; the paper was not compared".to_owned()),
        "the page says what the data say",
    );
    let stored = register.certificate(number)?;
    let Some(stored) = stored else {
        found.line(
            "registered",
            true,
            Answer::Fail(format!("the register has no certificate {number}")),
            "the shop issued it",
        );
        return Ok(found);
    };
    if stored.legacy {
        let answer = match digits == stored.pdf_sha256 {
            true => Answer::Pass,
            false => Answer::Fail(format!("the register has {number} with the file {}", stored.pdf_sha256)),
        };
        found.line("registered", true, answer, "the register has a file of this number and this SHA-256");
        legacy_lines(&mut found, &stored);
        return Ok(found);
    }
    let answer = if stored.stamp == digits {
        Answer::Pass
    } else {
        Answer::Fail(format!("the register has {number} with the stamp {}", stored.stamp))
    };
    found.line("registered", true, answer, "the shop issued a certificate of this number with this stamp");
    found.line("current", true, standing(&stored.status), "it was neither replaced nor withdrawn");
    Ok(found)
}

/// What can be said of a certificate older than the register: never that it verifies.
fn legacy_lines(found: &mut Verification, stored: &StoredCertificate) {
    found.number = Some(stored.number.clone());
    found.stamp = Some(stored.pdf_sha256.clone());
    let since = format!("{}, on {}", Status::Legacy, stored.at);
    found.line("judgement", true, Answer::NotChecked(since), "judged by this shop's tool, and without a gap");
    if stored.status != Status::Legacy {
        found.line("current", true, standing(&stored.status), "it was not withdrawn");
    }
}

fn read_data(attachment: &[u8]) -> Result<Certificate, Answer> {
    let fail = |e: String| Answer::Fail(format!("the attached data are no certificate: {e}"));
    let value = canonical::parse_canonical(attachment).map_err(|e| fail(e.to_string()))?;
    let format = value.get("format").and_then(|f| f.as_str()).unwrap_or_default().to_owned();
    if format != certificate::FORMAT {
        return Err(Answer::NotChecked(format!(
            "the data are in the form `{format}`, this release reads `{}`: verify with the release that issued it",
            certificate::FORMAT
        )));
    }
    serde_json::from_value(value).map_err(|e| fail(e.to_string()))
}

/// Answers how many bytes the certificates in the seal ask to be kept for it.
fn seal_lines(
    found: &mut Verification,
    bytes: &[u8],
    sealed: &pdf::Sealed,
    known: &roots::Known,
    claimed: Option<chrono::DateTime<chrono::FixedOffset>>,
) -> Result<Option<usize>, Error> {
    const INTACT: &str = "not a bit changed since it was sealed";
    const ISSUER: &str = "it was sealed by the shop whose fingerprint you brought";
    let Some([before, after]) = issue::pieces(bytes, &sealed.contents_hex) else {
        found.line("seal", true, Answer::Fail("the sealed range lies outside the file".to_owned()), INTACT);
        return Ok(None);
    };
    let Some(claimed) = claimed else {
        found.line("seal", true, Answer::Fail("the data name no time of issue".to_owned()), INTACT);
        return Ok(None);
    };
    let (report, led) = known.verify(&sealed.der, [&before, &after], claimed.with_timezone(&chrono::Utc))?;
    let answer = |check: seal::Check| match check {
        seal::Check::Pass => Answer::Pass,
        seal::Check::Fail(why) => Answer::Fail(why),
        seal::Check::NotChecked(why) => Answer::NotChecked(why),
    };
    found.line("seal", true, answer(report.intact), INTACT);
    let issuer = answer(report.issuer);
    let means = match &report.sealer {
        Some(sealer) => format!("{ISSUER} (the seal says `{}`){led}", sealer.organisation),
        None => ISSUER.to_owned(),
    };
    found.line("issuer", true, issuer, means);
    Ok(report.sealer.map(|sealer| sealer.reserve))
}

/// The room for the seal is what its certificates ask for, not what the file happens to keep: else a holder of the
/// key could pad a certificate without end.
fn page(
    certificate: &Certificate,
    bytes: &[u8],
    sealed: &pdf::Sealed,
    reserve: Option<usize>,
    renderer: &Renderer,
) -> Answer {
    let identity = renderer.identity();
    let theirs = &certificate.renderer;
    let known = theirs.drawing == identity.drawing
        && theirs.template == identity.template
        && theirs.template_sha256 == identity.template_sha256
        && theirs.fonts_sha256 == identity.fonts_sha256;
    if !known {
        return Answer::NotChecked(format!(
            "it was drawn by release {} (drawing {}, template `{}`), which this one draws otherwise: the page is \
             under the seal, and that release can draw it again",
            theirs.release, theirs.drawing, theirs.template
        ));
    }
    let reserve = reserve.unwrap_or(sealed.der.len());
    let prepared = match issue::draw(renderer, certificate, &sealed.attachment, reserve) {
        Ok(prepared) => prepared,
        Err(error) => return Answer::Fail(format!("no page can be drawn from the data: {error}")),
    };
    if prepared.gap.as_ref() != Some(&sealed.contents_hex) {
        return Answer::Fail("the page drawn from the data is laid out differently".to_owned());
    }
    let (Some(drawn), Some(given)) =
        (issue::pieces(&prepared.bytes, &sealed.contents_hex), issue::pieces(bytes, &sealed.contents_hex))
    else {
        return Answer::Fail("the page drawn from the data has another length".to_owned());
    };
    if drawn == given {
        Answer::Pass
    } else {
        Answer::Fail("the page differs from the one the data give".to_owned())
    }
}

/// The head inside the certificate is signed by the register's key, and both are under the seal.
fn head(certificate: &Certificate) -> Answer {
    let named = &certificate.register;
    let fail = |e: String| Answer::Fail(format!("the head it carries is not the register's: {e}"));
    let key = match VerifyKey::parse(&named.key) {
        Ok(key) => key,
        Err(e) => return fail(e.to_string()),
    };
    match checkpoint::open(&named.checkpoint, &[key]) {
        Ok(head)
            if head.origin == named.origin
                && head.size == named.size
                && hex::encode(head.root) == named.root =>
        {
            Answer::Pass
        }
        Ok(_) => fail("it is about another head".to_owned()),
        Err(e) => fail(e.to_string()),
    }
}

fn standing(status: &Status) -> Answer {
    match status {
        Status::Current => Answer::Pass,
        Status::Amended { by } => Answer::Fail(format!("it was replaced by {by}")),
        Status::Withdrawn { reason, at } => Answer::Fail(format!("it was withdrawn at {at}: {reason}")),
        Status::Legacy => Answer::NotChecked(status.to_string()),
    }
}

fn register_lines(
    found: &mut Verification,
    register: &Register,
    certificate: &Certificate,
    stamp: &str,
    bytes: Option<&[u8]>,
) -> Result<(), Error> {
    let number = &certificate.number;
    let stored = register.certificate(number)?;
    let registered = match &stored {
        None => Answer::Fail(format!("the register has no certificate {number}")),
        Some(stored) if stored.stamp != stamp => {
            Answer::Fail(format!("the register has {number} with the stamp {}", stored.stamp))
        }
        Some(stored) if bytes.is_some_and(|b| canonical::stamp(b) != stored.pdf_sha256) => {
            Answer::Fail(format!("the register has another file under {number}"))
        }
        Some(_) => Answer::Pass,
    };
    found.line("registered", true, registered, "the shop's register has this very file under this number");
    let Some(stored) = stored else { return Ok(()) };
    found.line("current", true, standing(&stored.status), "it was neither replaced nor withdrawn");
    let history = history(register, certificate, stored.position)?;
    found.line(
        "history",
        true,
        history,
        "the register still holds the history this certificate witnessed, and proves its entry",
    );
    Ok(())
}

/// The register's present head is signed, contains the entry, and grew out of the head the certificate carries.
fn history(register: &Register, certificate: &Certificate, position: u64) -> Result<Answer, Error> {
    let named = &certificate.register;
    let now = register.head()?;
    let fail = |what: &str| Ok(Answer::Fail(what.to_owned()));
    if now.origin != named.origin {
        return fail("it is another register than the certificate names");
    }
    let Ok(key) = VerifyKey::parse(&named.key) else {
        return fail("the certificate names no readable register key");
    };
    let Some(text) = &now.checkpoint else { return fail("the register's present head is not signed") };
    match HeadKeys::from(register, key)?.open(text) {
        Ok(head) if head.size == now.size && head.root == now.root => {}
        Ok(_) => return fail("the register's signed head is about another state"),
        Err(error) => {
            return Ok(Answer::Fail(format!(
                "the register's head is not signed by the key the certificate names: {error}"
            )));
        }
    }
    let Some(entry) = register.entry(position)? else { return fail("the register lost the entry") };
    let proof = register.inclusion(position, now.size)?;
    if merkle::verify_inclusion(&merkle::leaf(&entry.leaf), position, now.size, &proof, &now.root).is_err() {
        return fail("the entry is not under the register's root");
    }
    let mut old = [0_u8; 32];
    if hex::decode_to_slice(&named.root, &mut old).is_err() {
        return fail("the head the certificate carries has no readable root");
    }
    if named.size > now.size {
        return fail("the register is older than the head this certificate carries: it was rolled back");
    }
    if position < named.size {
        return fail("the certificate carries a head newer than its own entry");
    }
    let proof = register.consistency(named.size, now.size)?;
    if merkle::verify_consistency(named.size, &old, now.size, &now.root, &proof).is_err() {
        return fail("the register's history was rewritten since this certificate was issued");
    }
    Ok(Answer::Pass)
}
