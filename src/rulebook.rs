//! The rulebook: packs as the shop adopted them. Each requirement carries how it stands: with the pack's
//! figures, with the shop's own, or without a value.

pub mod compare;
mod loosened;

use serde::Deserialize;
use serde::Serialize;
use serde_json::json;

pub use loosened::Loosened;
pub use loosened::loosened;

use crate::adoption::Adoption;
use crate::adoption::Figures;
use crate::canonical::canonical;
use crate::canonical::stamp;
use crate::order::Order;
use crate::pack::Basis;
use crate::pack::Bound;
use crate::pack::Check;
use crate::pack::Pack;
use crate::pack::Requirement;
use crate::pack::Window;
use crate::part::CallOut;

/// One edition of a pack with the shop's adoption applied: what the judge judges by, and what rides in a
/// certificate so that the judgement can be repeated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EffectivePack {
    /// The pack, its requirements with the shop's figures in place.
    pub pack: Pack,
    /// The edition it is judged as.
    pub edition: String,
    /// Who adopted it when and against which copy; absent when nobody did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adopted: Option<AdoptedBy>,
    /// How each requirement stands, in the order of the pack's requirements.
    pub standing: Vec<Standing>,
}

/// Who took an edition into use.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AdoptedBy {
    /// Who.
    pub by: String,
    /// On which day.
    pub on: crate::moment::Date,
    /// Against which controlled copy.
    pub copy: String,
}

/// How one requirement stands in the shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// In force with the pack's figures.
    Confirmed,
    /// In force with the shop's own figures.
    Own,
    /// The shop could not read its figure either.
    Unsure,
    /// The shop's controlled copy makes no such demand.
    Absent,
    /// Nobody took it into use.
    NotAdopted,
    /// It changed since it was taken into use.
    Changed,
}

/// Why an adoption does not fit its pack.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AdoptionError {
    /// The pack has no such edition.
    #[error("the pack `{pack}` has no edition `{edition}`; it has {known}")]
    NoSuchEdition {
        /// Pack id.
        pack: String,
        /// As written.
        edition: String,
        /// What it has.
        known: String,
    },
    /// The pack has no such requirement.
    #[error("the pack `{pack}` has no requirement `{id}`")]
    NoSuchRequirement {
        /// Pack id.
        pack: String,
        /// As written.
        id: String,
    },
    /// Own figures are announced and missing, or given and not announced.
    #[error("`{id}`: `figures: own` and `check:` go together")]
    OwnWithoutCheck {
        /// Requirement id.
        id: String,
    },
    /// A figure that was read in a published text is not the shop's to change.
    #[error(
        "`{id}`: the figure {figure} was read in a published text; only recalled and unsure figures are replaced at adoption"
    )]
    ReadFigureReplaced {
        /// Requirement id.
        id: String,
        /// The figure that must stay.
        figure: String,
    },
    /// A demand somebody knows is not the shop's to drop.
    #[error("`{id}`: only a requirement of which no figure is known can be `absent`")]
    KnownCalledAbsent {
        /// Requirement id.
        id: String,
    },
    /// The own check is of another kind than the pack's.
    #[error("`{id}`: the shop's figures must have the same form as the pack's ({form})")]
    OtherForm {
        /// Requirement id.
        id: String,
        /// Name of the form.
        form: &'static str,
    },
}

impl AdoptionError {
    /// How to mend it.
    pub fn hint(&self) -> Option<String> {
        Some(
            match self {
                AdoptionError::NoSuchEdition { .. } => {
                    "correct `edition:`, or adopt an edition the pack speaks for"
                }
                AdoptionError::NoSuchRequirement { .. } => {
                    "remove it, or adopt the pack anew with `rules adopt`"
                }
                AdoptionError::OwnWithoutCheck { .. } => {
                    "give the shop's figures under `check:`, or say `figures: confirmed`"
                }
                AdoptionError::ReadFigureReplaced { .. } => {
                    "a purchaser's looser or tighter figure is a call-out or a deviation, not an adoption"
                }
                AdoptionError::KnownCalledAbsent { .. } => {
                    "confirm it, enter the shop's figures, or say `unsure`"
                }
                AdoptionError::OtherForm { .. } => "copy the pack's `check:` and change its figures",
            }
            .to_owned(),
        )
    }
}

/// Digest of what a requirement judges: condition, subject, check and whether it is advice. Clause, note and
/// basis are for people and stay out, so that a corrected note holds no truck.
///
/// SHA-256 of the RFC 8785 form, first 16 hexadecimal digits: enough to notice a change, short enough to read.
pub fn judging_digest(requirement: &Requirement) -> String {
    let value = json!({
        "when": requirement.when,
        "subject": requirement.subject,
        "check": without_basis(&requirement.check),
        "advice": requirement.advice,
    });
    // Strings and small integers only, so the canonical form always exists; were it not so, this word matches
    // no digest and the requirement would have to be adopted again.
    canonical(&value)
        .map_or_else(|_| "unreadable".to_owned(), |bytes| stamp(&bytes).chars().take(16).collect())
}

fn without_basis(check: &Check) -> Check {
    match check {
        Check::Within(windows) => {
            Check::Within(windows.iter().map(|w| Window { basis: None, ..w.clone() }).collect())
        }
        Check::AtLeast(bounds) => Check::AtLeast(plain(bounds)),
        Check::AtMost(bounds) => Check::AtMost(plain(bounds)),
        other => other.clone(),
    }
}

fn plain(bounds: &[Bound]) -> Vec<Bound> {
    bounds.iter().map(|b| Bound { basis: None, ..b.clone() }).collect()
}

/// Whether any figure of the requirement needs the shop's word: recalled or unsure.
pub fn needs_word(requirement: &Requirement) -> bool {
    let weak =
        |basis: Option<Basis>| matches!(basis.unwrap_or(requirement.basis), Basis::Recalled | Basis::Unsure);
    match &requirement.check {
        Check::Within(windows) => windows.iter().any(|w| weak(w.basis)),
        Check::AtLeast(bounds) | Check::AtMost(bounds) => bounds.iter().any(|b| weak(b.basis)),
        _ => weak(None),
    }
}

/// Whether nobody knows any figure of the requirement.
fn all_unsure(requirement: &Requirement) -> bool {
    let unsure = |basis: Option<Basis>| basis.unwrap_or(requirement.basis) == Basis::Unsure;
    match &requirement.check {
        Check::Within(windows) => windows.iter().all(|w| unsure(w.basis)),
        Check::AtLeast(bounds) | Check::AtMost(bounds) => bounds.iter().all(|b| unsure(b.basis)),
        _ => unsure(None),
    }
}

/// The name of a check's form.
pub const fn form(check: &Check) -> &'static str {
    match check {
        Check::Within(_) => "within",
        Check::AtLeast(_) => "at_least",
        Check::AtMost(_) => "at_most",
        Check::OneOf(_) => "one_of",
        Check::NoneOf(_) => "none_of",
        Check::Only(_) => "only",
        Check::Present => "present",
        Check::Passed => "passed",
        Check::TimesOrdered(_) => "times_ordered",
        Check::OwnLimit => "own_limit",
    }
}

/// Applies an adoption to a pack. Without one nothing stands but the house's own rules.
pub fn effective(
    pack: &Pack,
    edition: &str,
    adoption: Option<&Adoption>,
) -> Result<EffectivePack, AdoptionError> {
    if !pack.editions.iter().any(|e| e == edition) {
        return Err(AdoptionError::NoSuchEdition {
            pack: pack.pack.clone(),
            edition: edition.to_owned(),
            known: pack.editions.join(", "),
        });
    }
    let mut result = EffectivePack {
        pack: pack.clone(),
        edition: edition.to_owned(),
        adopted: adoption.map(|a| AdoptedBy { by: a.by.clone(), on: a.on, copy: a.copy.clone() }),
        standing: Vec::with_capacity(pack.requirements.len()),
    };
    if let Some(adoption) = adoption {
        if let Some(later) = &adoption.superseded_by {
            result.pack.superseded_by.insert(edition.to_owned(), later.clone());
        }
        for id in adoption.requirements.keys() {
            if !pack.requirements.iter().any(|r| r.id == *id) {
                return Err(AdoptionError::NoSuchRequirement { pack: pack.pack.clone(), id: id.clone() });
            }
        }
    }
    for requirement in &mut result.pack.requirements {
        let standing = match adoption.and_then(|a| a.requirements.get(&requirement.id)) {
            _ if requirement.basis == Basis::House && pack.is_house() => Standing::Confirmed,
            None => Standing::NotAdopted,
            Some(adopted) if adopted.digest != judging_digest(requirement) => Standing::Changed,
            Some(adopted) => match (adopted.figures, &adopted.check) {
                (Figures::Confirmed, None) => Standing::Confirmed,
                (Figures::Unsure, None) => Standing::Unsure,
                (Figures::Absent, None) if all_unsure(requirement) => Standing::Absent,
                (Figures::Absent, None) => {
                    return Err(AdoptionError::KnownCalledAbsent { id: requirement.id.clone() });
                }
                (Figures::Own, Some(check)) => {
                    keeps_read_figures(requirement, check)?;
                    requirement.check = check.clone();
                    Standing::Own
                }
                _ => return Err(AdoptionError::OwnWithoutCheck { id: requirement.id.clone() }),
            },
        };
        result.standing.push(standing);
    }
    Ok(result)
}

/// A figure read in a published text must stand unchanged in the shop's own check.
fn keeps_read_figures(requirement: &Requirement, own: &Check) -> Result<(), AdoptionError> {
    let id = &requirement.id;
    let read = |basis: Option<Basis>| basis.unwrap_or(requirement.basis) == Basis::Read;
    let other_form = || AdoptionError::OtherForm { id: id.clone(), form: form(&requirement.check) };
    let lost = |figure: String| AdoptionError::ReadFigureReplaced { id: id.clone(), figure };
    match (&requirement.check, own) {
        (Check::Within(pack), Check::Within(own)) => {
            for window in pack.iter().filter(|w| read(w.basis)) {
                let same = |o: &Window| o.from == window.from && o.to == window.to;
                let kept = own.iter().any(same);
                let other = own.iter().any(|o| unit_of_window(o) == unit_of_window(window) && !same(o));
                // A window in a unit the pack does not print would stand beside the one that was read.
                let printed = |o: &Window| pack.iter().any(|p| unit_of_window(p) == unit_of_window(o));
                if !kept || other || !own.iter().all(printed) {
                    let ends = [window.from, window.to].into_iter().flatten().map(|q| q.to_string());
                    return Err(lost(ends.collect::<Vec<_>>().join(" to ")));
                }
            }
            Ok(())
        }
        (Check::AtLeast(pack), Check::AtLeast(own)) | (Check::AtMost(pack), Check::AtMost(own)) => {
            for bound in pack.iter().filter(|b| read(b.basis)) {
                let kept = own.iter().any(|o| o.value == bound.value);
                let other =
                    own.iter().any(|o| unit_of_bound(o) == unit_of_bound(bound) && o.value != bound.value);
                let printed = |o: &Bound| pack.iter().any(|p| unit_of_bound(p) == unit_of_bound(o));
                if !kept || other || !own.iter().all(printed) {
                    return Err(lost(bound.value.map(|q| q.to_string()).unwrap_or_default()));
                }
            }
            Ok(())
        }
        (Check::OneOf(_), Check::OneOf(_))
        | (Check::NoneOf(_), Check::NoneOf(_))
        | (Check::Only(_), Check::Only(_))
            if !read(None) =>
        {
            Ok(())
        }
        (a, b) if form(a) == form(b) => Err(lost("of the pack".to_owned())),
        _ => Err(other_form()),
    }
}

/// The unit a window is printed in.
pub fn unit_of_window(window: &Window) -> Option<crate::units::Unit> {
    window.from.or(window.to).map(|q| q.unit()).or(window.unit)
}

/// The unit a limit is printed in.
pub fn unit_of_bound(bound: &Bound) -> Option<crate::units::Unit> {
    bound.value.map(|q| q.unit()).or(bound.unit)
}

impl Pack {
    /// Whether a text names this standard, whatever the edition, or in this one.
    pub fn is_named(&self, text: &str, edition: &str) -> bool {
        self.is_designated(text) || self.edition_named(text).is_some_and(|e| e == edition)
    }

    /// Whether these are the house's own rules, which need no adoption.
    pub fn is_house(&self) -> bool {
        self.pack == "house"
    }

    /// Whether a designation as orders write it means this pack, and which edition: `ASTM A967/A967M-17`.
    pub fn edition_named(&self, standard: &str) -> Option<String> {
        let names = std::iter::once(&self.designation).chain(&self.also_written);
        let wanted = squeeze(standard);
        let mut designations: Vec<String> = names.map(|n| squeeze(n)).collect();
        // The longest first: `ASTM A967/A967M` before `ASTM A967`.
        designations.sort_by_key(|n| std::cmp::Reverse(n.len()));
        let joined = squeeze(&self.joined_by);
        designations.iter().find_map(|name| {
            let rest = wanted.strip_prefix(name.as_str())?;
            // As the standard joins them, or with the hyphen most people write; a figure never stands joined to
            // a figure.
            let plain = rest.strip_prefix(joined.as_str()).filter(|_| !joined.is_empty());
            let bare = (joined.is_empty() && !rest.starts_with(|c: char| c.is_ascii_digit())).then_some(rest);
            let hyphened = rest.strip_prefix('-');
            let written = [plain, hyphened, bare];
            self.editions.iter().find(|e| written.contains(&Some(squeeze(e).as_str()))).cloned()
        })
    }

    /// The designation with an edition, as it is printed: `ASTM A967/A967M-17`, `SAE AMS 2700F`.
    pub fn named(&self, edition: &str) -> String {
        format!("{}{}{edition}", self.designation, self.joined_by)
    }

    /// What took an edition's place, whole: a later edition of this standard, or another standard altogether.
    pub fn successor_named(&self, later: &str) -> String {
        if later.contains(' ') { later.to_owned() } else { self.named(later) }
    }

    /// The class a call-out stands in: the one it names, else the standard's default.
    pub fn class_of<'a>(&'a self, call_out: &'a CallOut) -> Option<&'a str> {
        call_out.class.as_deref().or(self.default_class.as_deref())
    }
}

impl Pack {
    /// Whether a designation without edition means this pack: `ASTM A967/A967M`.
    pub fn is_designated(&self, standard: &str) -> bool {
        let wanted = squeeze(standard);
        std::iter::once(&self.designation).chain(&self.also_written).any(|name| squeeze(name) == wanted)
    }

    /// The edition a call-out means: the one it names, else the one the order says is in force. `None` when
    /// neither says, the order says two, or this pack has no such edition.
    pub fn edition_in_force(&self, order: &Order, standard: &str) -> Option<String> {
        if let Some(edition) = self.edition_named(standard) {
            return Some(edition);
        }
        if !self.is_designated(standard) {
            return None;
        }
        let said = self.edition_by_order(order)?;
        self.editions.iter().find(|edition| squeeze(edition) == squeeze(said)).cloned()
    }

    /// What the order says of this standard's edition, when it says one thing.
    pub fn edition_by_order<'a>(&self, order: &'a Order) -> Option<&'a str> {
        let mut said =
            order.editions.iter().filter(|(name, _)| self.is_designated(name)).map(|(_, e)| e.as_str());
        let first = said.next()?;
        said.all(|other| squeeze(other) == squeeze(first)).then_some(first)
    }
}

fn squeeze(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect::<String>().to_uppercase()
}
