//! The printed notice to whoever holds a certificate that no longer stands: what changed or why it was withdrawn,
//! what is to be done, and how to check it. It is made from the register alone, so that it can be written again
//! later, the same bytes; it is plainly no certificate and has no seal.

use std::path::PathBuf;

use serde_json::Value;

use crate::app::delivery;
use crate::app::error::Error;
use crate::canonical;
use crate::certificate::AmendmentKind;
use crate::certificate::Certificate;
use crate::certificate::Replaces;
use crate::folder;
use crate::folder::Folder;
use crate::merkle;
use crate::part::Item;
use crate::pdf::Paper;
use crate::pdf::Part;
use crate::pdf::Renderer;
use crate::pdf::Report;

use crate::register::Entry;
use crate::register::Kind;
use crate::register::Register;
use crate::register::StoredCertificate;

/// Where notices are kept within the shop's folder.
pub const NOTICES: &str = "notices";

const NO_CERTIFICATE: &str = "This notice is not a certificate and states no conformity of any part. It has no seal: \
                              what proves it is the entry of the register named above.";

/// How a certificate ended, as the register tells it.
struct Ended {
    stored: StoredCertificate,
    /// Its data, where this release can read them; of a legacy certificate there are none.
    data: Option<Certificate>,
    entry: Entry,
    /// What replaced it: number, stamp, and what its own data say of this one.
    by: Option<(String, String, Option<Replaces>)>,
    /// Whom it went to, with the reasons it is known.
    to: Vec<String>,
}

/// Draws the notice of a certificate that was amended or withdrawn.
///
/// # Errors
/// When the register has no such certificate, it still stands, or a text of it cannot be drawn.
pub fn draw(register: &Register, number: &str, renderer: &Renderer) -> Result<Vec<u8>, Error> {
    let ended = ended(register, number)?;
    let origin = register.head()?.origin;
    let paper = ended.data.as_ref().and_then(|c| Paper::from_name(&c.renderer.paper)).unwrap_or(Paper::A4);
    Ok(renderer.report(&page(number, &ended, &origin), paper)?)
}

/// Writes it into the shop's folder; answers where.
///
/// # Errors
/// As [`draw`], and when it cannot be written.
pub fn write(folder: &Folder, register: &Register, number: &str) -> Result<PathBuf, Error> {
    let file = folder.path(&format!("{NOTICES}/{}", delivery::file_name(number)));
    folder::write_whole(&file, &draw(register, number, &Renderer::new()?)?)?;
    Ok(file)
}

/// What an entry says under a key.
fn said<'a>(entry: &'a Entry, key: &str) -> &'a str {
    entry.detail.get(key).and_then(Value::as_str).unwrap_or_default()
}

fn ended(register: &Register, number: &str) -> Result<Ended, Error> {
    let unknown =
        || Error::cannot(format!("the register has no certificate {number}"), "see `brightproof find`");
    let stored = register.certificate(number)?.ok_or_else(unknown)?;
    let history = register.history(number)?;
    let ends = |e: &&Entry| match e.kind {
        Kind::Withdrawal => e.number.as_deref() == Some(number),
        Kind::Amendment => e.replaces.as_deref() == Some(number),
        _ => false,
    };
    let entry = history.iter().find(ends).cloned().ok_or_else(|| {
        Error::cannot(
            format!(
                "certificate {number} was neither amended nor withdrawn, so there is nothing to tell of it"
            ),
            "`brightproof amend` or `brightproof withdraw` it first, if it must not stand",
        )
    })?;
    let by = match (&entry.kind, &entry.number) {
        (Kind::Amendment, Some(by)) => {
            let new = register.certificate(by)?.ok_or_else(unknown)?;
            let data: Option<Certificate> = serde_json::from_slice(&new.data).ok();
            Some((by.clone(), new.stamp, data.and_then(|d| d.replaces)))
        }
        _ => None,
    };
    let data = serde_json::from_slice(&stored.data).ok();
    let to = recipients(&entry, &history);
    Ok(Ended { stored, data, entry, by, to })
}

/// Whom the entry says to tell; of a clerical amendment, which names nobody, whoever the certificate went to before.
fn recipients(entry: &Entry, history: &[Entry]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let mut add = |name: &str, because: String| {
        if !name.is_empty() && !all.iter().any(|known: &String| known.starts_with(name)) {
            all.push(format!("{name} ({because})"));
        }
    };
    for holder in entry.detail.get("notify").and_then(Value::as_array).into_iter().flatten() {
        let because = holder.get("because").and_then(Value::as_array).into_iter().flatten();
        let because: Vec<&str> = because.filter_map(Value::as_str).collect();
        add(holder.get("name").and_then(Value::as_str).unwrap_or_default(), because.join("; "));
    }
    let earlier =
        |e: &&Entry| matches!(e.kind, Kind::Delivery | Kind::Reissue) && e.position < entry.position;
    for went in history.iter().filter(earlier) {
        let day = went.at.get(..10).unwrap_or(&went.at);
        add(said(went, "to"), format!("sent {day}"));
    }
    all
}

fn page(number: &str, ended: &Ended, origin: &str) -> Report {
    let Ended { stored, data, entry, by, to } = ended;
    let mut parts = vec![Part::Frame(frame(number, ended))];
    if let Some(marking) = data.as_ref().and_then(|c| c.controlled.as_ref()) {
        parts.insert(0, Part::Frame(vec![marking.clone()]));
    }
    if let Some(demo) = data.as_ref().and_then(|c| c.issuer.demo.as_ref()) {
        parts.insert(0, Part::Small(demo.clone()));
    }
    parts.push(Part::Heading("To".to_owned()));
    let purchaser = data.as_ref().map(|c| c.purchaser.name.clone());
    match to.as_slice() {
        [] => parts.push(Part::Text(format!(
            "{}: nobody by name is on record as having received it.",
            purchaser.unwrap_or_else(|| "Whoever holds it".to_owned())
        ))),
        all => {
            parts.extend(purchaser.map(Part::Text));
            parts.extend(all.iter().cloned().map(Part::Text));
        }
    }
    parts.push(Part::Heading("The certificate concerned".to_owned()));
    parts.push(pairs(concerned(number, stored, data.as_ref(), by.as_ref())));
    changed(by.as_ref(), &mut parts);
    parts.push(Part::Heading("What you are asked to do".to_owned()));
    let steps = asked(entry, by.as_ref(), number);
    parts.extend(steps.into_iter().zip(1_u32..).map(|(text, turn)| Part::Text(format!("{turn}. {text}"))));
    parts.push(Part::Heading("Given by".to_owned()));
    parts.push(pairs(given(entry, data.as_ref())));
    parts.push(Part::Heading("How to check this notice".to_owned()));
    let leaf = hex::encode(merkle::leaf(&entry.leaf));
    parts.push(pairs(vec![
        ("Register", origin.to_owned()),
        ("Entry", format!("index {}, entered {}", entry.position, entry.at)),
        ("Leaf hash", spaced(&leaf)),
    ]));
    let mut check = format!(
        "brightproof verify {} --trust FINGERPRINT --register FILE fails for the certificate named above once the \
         register has this entry. Take the fingerprint from the shop by another way than this paper.",
        delivery::file_name(number)
    );
    if let Some((new, ..)) = by {
        check.push_str(&format!(
            " The proof beside {new}.pdf leads to this very entry and needs no register."
        ));
    }
    parts.push(Part::Text(check));
    parts.push(Part::Small(NO_CERTIFICATE.to_owned()));
    let issuer = data.as_ref().map_or_else(Vec::new, |c| {
        std::iter::once(c.issuer.name.clone())
            .chain(c.issuer.address.iter().cloned())
            .chain([c.issuer.contact.clone()])
            .collect()
    });
    let title = if by.is_some() { "Notice of replacement" } else { "Notice of withdrawal" };
    Report {
        title: format!("{title}: certificate {number}"),
        under: vec![issuer.join(", ")],
        foot: format!("{title} of certificate {number}, not a certificate"),
        parts,
    }
}

/// What happened, in a frame at the top.
fn frame(number: &str, ended: &Ended) -> Vec<String> {
    let why = format!("Reason: {}", said(&ended.entry, "reason"));
    match &ended.by {
        Some((new, _, replaces)) => {
            let kind = match replaces.as_ref().map(|r| r.kind) {
                Some(AmendmentKind::Clerical) => "Its data were mended; the parts are as they were.",
                Some(AmendmentKind::Conformity) => "What it said about the parts has changed.",
                None => "",
            };
            vec![
                format!("Certificate {number} no longer stands. Certificate {new} replaces it."),
                kind.to_owned(),
                why,
            ]
        }
        None => vec![
            format!(
                "Certificate {number} is withdrawn and no longer stands. No certificate replaces it here."
            ),
            why,
        ],
    }
    .into_iter()
    .filter(|text| !text.is_empty())
    .collect()
}

/// What is looked up on the paper in hand.
fn concerned(
    number: &str,
    stored: &StoredCertificate,
    data: Option<&Certificate>,
    by: Option<&(String, String, Option<Replaces>)>,
) -> Vec<(&'static str, String)> {
    let mut rows = vec![("Number", number.to_owned())];
    let stamp = if stored.stamp.is_empty() { canonical::stamp(&stored.pdf) } else { stored.stamp.clone() };
    rows.push(("Stamp", spaced(&stamp)));
    for line in data.iter().flat_map(|c| &c.shipment.lines) {
        rows.push((
            "Covers",
            format!(
                "lot {}: {} pieces of part {} revision {}, order {} line {}",
                line.lot, line.quantity, line.part, line.revision, line.order, line.line
            ),
        ));
    }
    if let Some((new, stamp, _)) = by {
        rows.push(("Replaced by", new.clone()));
        rows.push(("Its stamp", spaced(stamp)));
    }
    rows
}

/// The table of changes, as the new certificate prints it: what it withholds stays withheld.
fn changed(by: Option<&(String, String, Option<Replaces>)>, parts: &mut Vec<Part>) {
    let Some((_, _, Some(replaces))) = by else { return };
    parts.push(Part::Heading("What changed".to_owned()));
    let columns = [("Field", 28), ("Was", 22), ("Is", 22), ("Why", 28)];
    let columns = columns.map(|(head, share)| (head.to_owned(), share, false));
    let rows = replaces.changed.iter();
    let rows = rows.map(|c| vec![c.what.clone(), c.was.clone(), c.now.clone(), c.why.clone()]);
    parts.push(Part::Table(columns.to_vec(), rows.collect()));
}

fn asked(entry: &Entry, by: Option<&(String, String, Option<Replaces>)>, number: &str) -> Vec<String> {
    let clerical = by.and_then(|b| b.2.as_ref()).is_some_and(|r| r.kind == AmendmentKind::Clerical);
    let mut steps = Vec::new();
    match by {
        Some((new, ..)) if clerical => {
            steps.push(format!("Use certificate {new} from now on; the parts are not concerned."));
        }
        Some((new, ..)) => {
            steps.push(
                "Set aside the parts named above that you still hold, until you have judged the change."
                    .to_owned(),
            );
            steps.push(format!("Use certificate {new} from now on."));
        }
        None => {
            steps.push(
                "Set aside the parts named above that you still hold, and do not use or pass them on."
                    .to_owned(),
            );
            steps.push(format!("What the shop asks to be done with the parts: {}", said(entry, "parts")));
        }
    }
    steps.push(format!("Destroy or mark every copy of certificate {number} as no longer valid."));
    steps.push("Hand this notice on to whoever you gave the certificate or the parts.".to_owned());
    steps.push("Answer the shop in writing that you received this notice, and what you hold.".to_owned());
    steps
}

/// Who gave it, and when. A name the certificate withholds stays withheld.
fn given(entry: &Entry, data: Option<&Certificate>) -> Vec<(&'static str, String)> {
    let hides = data.is_some_and(|c| c.lots.iter().any(|lot| lot.withheld.contains(&Item::Names)));
    let signs = data.is_some_and(|c| c.signatures.iter().any(|s| s.person == said(entry, "by")));
    let by = match said(entry, "by") {
        name if !hides || signs => name.to_owned(),
        _ => "the shop; the name is withheld, as the order provides".to_owned(),
    };
    vec![("By", by), ("When", entry.at.clone())]
}

/// Two columns without a heading of their own.
fn pairs(rows: Vec<(&'static str, String)>) -> Part {
    let columns = vec![("What".to_owned(), 20, false), ("As registered".to_owned(), 80, false)];
    Part::Table(columns, rows.into_iter().map(|(what, text)| vec![what.to_owned(), text]).collect())
}

/// A digest in groups of eight, so that it can be compared by eye.
fn spaced(digest: &str) -> String {
    let chars: Vec<char> = digest.chars().collect();
    chars.chunks(8).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}
