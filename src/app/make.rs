//! Making a shop folder: a new one of the shop's own, or the invented demonstration shop.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::adoption::Adoption;
use crate::adoption::Figures;
use crate::app::adopt;
use crate::app::adopt::Adopter;
use crate::app::adopt::Answer;
use crate::app::builtin;
use crate::app::demo_files;
use crate::app::desk;
use crate::app::error::Error;
use crate::app::world::World;
use crate::folder;
use crate::folder::Folder;
use crate::pack::Basis;
use crate::pack::Pack;
use crate::yaml;

/// What a new shop is called and who answers for it.
pub struct NewShop<'a> {
    /// Name.
    pub name: &'a str,
    /// Address, line by line.
    pub address: &'a [String],
    /// Town.
    pub place: &'a str,
    /// Contact.
    pub contact: &'a str,
    /// Register name.
    pub register: &'a str,
    /// Number prefix.
    pub prefix: &'a str,
    /// Who may release.
    pub releaser: &'a str,
}

/// Makes a new shop folder; answers the fingerprint of its root.
pub fn init(
    folder: &Folder,
    shop: &NewShop,
    passphrase: Option<&[u8]>,
    world: &World,
) -> Result<String, Error> {
    if folder.has("shop.yaml") {
        return Err(Error::cannot(
            format!("{} is a shop folder already", folder.root().display()),
            "choose another folder",
        ));
    }
    // A JSON string is a YAML double-quoted scalar, so any name is written safely.
    let text = |s: &str| serde_json::to_string(s).map_err(|e| Error::cannot(e.to_string(), ""));
    let mut identity = String::from("# The shop: what every certificate prints of it.\n");
    for (key, value) in [("name", shop.name), ("place", shop.place), ("contact", shop.contact)] {
        let _ = writeln!(identity, "{key}: {}", text(value)?);
    }
    let _ = writeln!(identity, "register: {}", text(shop.register)?);
    let _ = writeln!(identity, "number_prefix: {}", text(shop.prefix)?);
    let lines = shop.address.iter().map(|l| text(l)).collect::<Result<Vec<_>, _>>()?;
    let _ = writeln!(
        identity,
        "address: [{}]\npaper: A4\n# approvals:\n#   - {{ what: ..., number: ..., until: 2027-12-31 }}\n\
         # release: {{ preparer_may_release: false, authentication: passphrase }}\n# wet_signature_line: true",
        lines.join(", ")
    );
    let people = format!(
        "# Everyone a record or a certificate names. Who may release shipments says from when; whoever runs, tests, looks or\n# measures says what for: qualified: [{{ for: passivation, from: 2026-01-05 }}], and so electropolishing, cleaning,\n# testing, inspection, measuring.\npeople:\n  - {{ name: {}, function: quality manager, may_release_from: {} }}\n",
        text(shop.releaser)?,
        world.today()
    );
    let books = [
        ("shop.yaml", identity),
        ("people.yaml", people),
        ("baths.yaml", "# Baths with their dated analyses. A record names a bath; the analysis in force when it was used decides.\nbaths: []\n".to_owned()),
        ("instruments.yaml", "# Instruments with their calibrations.\ninstruments: []\n".to_owned()),
        ("solutions.yaml", "# Test solutions with their mixing times and recipes.\nsolutions: []\n".to_owned()),
        ("purchasers.yaml", "# Purchasers: id, name, address.\npurchasers: []\n".to_owned()),
    ];
    // The books first must parse as what they are: a name that breaks them is told before anything is written.
    let probe: Result<crate::shop::Shop, _> = yaml::parse(&books[0].1);
    probe.map_err(|fault| Error::Fault { file: "shop.yaml".to_owned(), fault })?;
    let root = desk::found(folder, shop.name, shop.register, passphrase, world)?;
    for (name, content) in books {
        folder::write_new(&folder.path(name), content.as_bytes(), false)?;
    }
    for sub in ["parts", "orders", "lots", "shipments", "adopted", "rules", desk::files::CERTIFICATES] {
        std::fs::create_dir_all(folder.path(sub))
            .map_err(|source| folder::FolderError::System { file: sub.to_owned(), source })?;
    }
    Ok(root)
}

/// Who took the demonstration shop's rules into use and releases its shipments, and of which copy; all invented.
pub const DEMO_ADOPTER: (&str, &str) = ("M. Sorrel", "invented controlled copy, for the demonstration only");

/// The editions the demonstration shop adopts.
const DEMO_EDITIONS: &[(&str, &str)] =
    &[("astm-a967", "13"), ("astm-a967", "17"), ("astm-b912", "02(2018)"), ("halyard-hps-14", "B")];

/// Makes the demonstration shop; answers the fingerprint of its root. Its keys are open and say so.
pub fn demo(folder: &Folder, world: &World) -> Result<String, Error> {
    let shop = demo_files::FILES.iter().find(|(name, _)| *name == "shop.yaml");
    let (_, text) =
        shop.ok_or_else(|| Error::cannot("the demonstration shop is not compiled in", "report this"))?;
    let shop: crate::shop::Shop =
        yaml::parse(text).map_err(|fault| Error::Fault { file: "shop.yaml".to_owned(), fault })?;
    let root = desk::found(folder, &shop.name, &shop.register, None, world)?;
    for (name, text) in demo_files::FILES {
        folder::write_new(&folder.path(name), text.as_bytes(), false)?;
    }
    for (name, bytes) in demo_files::RAW {
        folder::write_new(&folder.path(name), bytes, false)?;
    }
    folder::write_new(
        &folder.path("keys/README.txt"),
        b"Demonstration keys: unlocked, for an invented shop. Never use them for real certificates.\n",
        false,
    )?;
    for adoption in demo_adoptions()? {
        let yaml = adopt::to_yaml(&adoption)?;
        folder::write_new(&folder.path(&adopt::file_name(&adoption)), yaml.as_bytes(), false)?;
        desk::register_adoption(folder, &adoption, &yaml, world)?;
    }
    Ok(root)
}

/// The demonstration shop's adoptions: recalled figures confirmed, unsure ones invented in `adopt/*.yaml`.
pub fn demo_adoptions() -> Result<Vec<Adoption>, Error> {
    let mut packs = builtin::packs()?;
    for (name, text) in demo_files::FILES.iter().filter(|(name, _)| name.starts_with("rules/")) {
        let own = yaml::parse(text).map_err(|fault| Error::Fault { file: (*name).to_owned(), fault })?;
        packs.push(own);
    }
    let mut all: Vec<Adoption> = Vec::new();
    for (id, edition) in DEMO_EDITIONS {
        let pack = packs.iter().find(|p| p.pack == *id);
        let pack = pack.ok_or_else(|| Error::cannot(format!("there is no pack `{id}`"), "report this"))?;
        let name = format!("adopt/{id}.yaml");
        let text = demo_files::FILES.iter().find(|(file, _)| *file == name).map_or("{}", |(_, text)| *text);
        let answers: BTreeMap<String, Answer> =
            yaml::parse(text).map_err(|fault| Error::Fault { file: name.clone(), fault })?;
        let adoption = with_answers(pack, edition, &answers, DEMO_ADOPTER)?;
        adopt::loosens_nothing(&packs, &all.iter().collect::<Vec<_>>(), &adoption)?;
        all.push(adoption);
    }
    Ok(all)
}

fn with_answers(
    pack: &Pack,
    edition: &str,
    answers: &BTreeMap<String, Answer>,
    (by, copy): (&str, &str),
) -> Result<Adoption, Error> {
    let on =
        "2026-10-01".parse().map_err(|e: crate::moment::MomentError| Error::cannot(e.to_string(), ""))?;
    adopt::adopt(pack, edition, &Adopter { by, on, copy }, |requirement| {
        Ok(answers.get(&requirement.id).cloned().unwrap_or(Answer {
            figures: if requirement.basis == Basis::Unsure { Figures::Unsure } else { Figures::Confirmed },
            check: None,
            note: None,
        }))
    })
}
