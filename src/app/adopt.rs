//! Taking a pack into use: figure by figure, against the shop's controlled copy.

use std::collections::BTreeMap;
use std::fmt::Write;

use serde::Deserialize;

use crate::adoption::Adopted;
use crate::adoption::Adoption;
use crate::adoption::Figures;
use crate::app::error::Error;
use crate::moment::Date;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::rulebook;

/// What the shop found in its copy for one requirement.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// As in the pack, own figures, or not readable.
    pub figures: Figures,
    /// The shop's own figures.
    #[serde(default)]
    pub check: Option<Check>,
    /// A word more.
    #[serde(default)]
    pub note: Option<String>,
}

/// Who adopts, when, against what.
pub struct Adopter<'a> {
    /// Who.
    pub by: &'a str,
    /// On which day.
    pub on: Date,
    /// The controlled copy.
    pub copy: &'a str,
}

/// Adopts one edition. `ask` answers for every requirement with a recalled or unsure figure; what was read in a
/// published text needs no answer.
pub fn adopt(
    pack: &Pack,
    edition: &str,
    adopter: &Adopter,
    mut ask: impl FnMut(&Requirement) -> Result<Answer, Error>,
) -> Result<Adoption, Error> {
    let mut requirements = BTreeMap::new();
    for requirement in &pack.requirements {
        let answer = if rulebook::needs_word(requirement) {
            ask(requirement)?
        } else {
            Answer { figures: Figures::Confirmed, check: None, note: None }
        };
        let adopted = Adopted {
            digest: rulebook::judging_digest(requirement),
            figures: answer.figures,
            check: answer.check,
            note: answer.note,
        };
        requirements.insert(requirement.id.clone(), adopted);
    }
    let adoption = Adoption {
        pack: pack.pack.clone(),
        edition: edition.to_owned(),
        by: adopter.by.to_owned(),
        on: adopter.on,
        copy: adopter.copy.to_owned(),
        superseded_by: None,
        requirements,
    };
    let file = file_name(&adoption);
    rulebook::effective(pack, edition, Some(&adoption)).map_err(|source| Error::Adoption { file, source })?;
    Ok(adoption)
}

/// Refuses to take clauses into use that would loosen the pack they build on: as it is written, and with the figures
/// the shop entered for both.
pub fn loosens_nothing(packs: &[Pack], adoptions: &[&Adoption], adoption: &Adoption) -> Result<(), Error> {
    let Some(pack) = packs.iter().find(|p| p.pack == adoption.pack) else { return Ok(()) };
    let Some(wanted) = &pack.builds_on else { return Ok(()) };
    let Some(base) = packs.iter().find(|p| p.pack == *wanted && !p.is_house()) else {
        return Err(Error::cannot(
            format!("the pack `{}` builds on `{wanted}`, which is no pack", pack.pack),
            "correct `builds_on:`; `brightproof rules list` lists them",
        ));
    };
    let fault = |source| Error::Adoption { file: file_name(adoption), source };
    let own = rulebook::effective(pack, &adoption.edition, Some(adoption)).map_err(fault)?.pack;
    let mut bases = vec![base.clone()];
    for adopted in adoptions.iter().filter(|a| a.pack == base.pack) {
        bases.extend(rulebook::effective(base, &adopted.edition, Some(adopted)).ok().map(|e| e.pack));
    }
    match bases.iter().flat_map(|base| rulebook::loosened(&own, base)).next() {
        None => Ok(()),
        Some(first) => Err(Error::cannot(
            first.to_string(),
            "`brightproof rules check FILE` lists all that is wrong with it",
        )),
    }
}

/// Where an adoption is kept in the shop folder.
pub fn file_name(adoption: &Adoption) -> String {
    let edition: String = adoption.edition.chars().filter(char::is_ascii_alphanumeric).collect();
    format!("adopted/{}-{edition}.yaml", adoption.pack)
}

/// An adoption as the YAML it is kept in: one requirement a line.
pub fn to_yaml(adoption: &Adoption) -> Result<String, Error> {
    // A JSON string is a YAML double-quoted scalar, and JSON is YAML's flow style.
    fn flow<T: serde::Serialize>(value: &T) -> Result<String, Error> {
        serde_json::to_string(value).map_err(|e| Error::cannot(e.to_string(), ""))
    }
    let mut text =
        String::from("# Adoption of a standard by this shop. Written by `brightproof rules adopt`.\n");
    let mut line = |key: &str, value: String| {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{key}: {value}");
    };
    line("pack", flow(&adoption.pack)?);
    line("edition", flow(&adoption.edition)?);
    line("by", flow(&adoption.by)?);
    line("on", flow(&adoption.on)?);
    line("copy", flow(&adoption.copy)?);
    if let Some(later) = &adoption.superseded_by {
        line("superseded_by", flow(later)?);
    }
    line("requirements", String::new());
    for (id, adopted) in &adoption.requirements {
        line(&format!("  {}", flow(id)?), flow(adopted)?);
    }
    Ok(text)
}
