//! init and demo.

use super::Answer;
use super::Exit;
use super::Output;
use super::certificates;
use super::passphrase;
use crate::app::desk;
use crate::app::desk::Desk;
use crate::app::error::Error;
use crate::app::issue;
use crate::app::issue::Outcome;
use crate::app::make;
use crate::app::make::NewShop;
use crate::app::verify::Anchor;
use crate::app::world::World;
use crate::cli;
use crate::folder::Folder;
use crate::register::Register;
use crate::seal;

/// Shortest passphrase taken for a seal key.
const SHORTEST_PASSPHRASE: usize = 8;

pub fn init(args: &cli::Init, world: &World, output: &mut Output) -> Answer {
    let folder = Folder::new(&args.folder);
    let secret = if args.open_keys { None } else { Some(passphrase::of_new_key(&args.key)?) };
    long_enough(secret.as_ref())?;
    let shop = NewShop {
        name: &args.name,
        address: &args.address,
        place: &args.place,
        contact: &args.contact,
        register: &args.register,
        prefix: &args.prefix,
        releaser: &args.releaser,
    };
    let root = make::init(&folder, &shop, secret.as_deref().map(Vec::as_slice), world)?;
    output.say(format_args!("{}: shop folder made", folder.root().display()))?;
    output.say(format_args!("root fingerprint: {}", grouped(&root)))?;
    output.say(
        "Tell it to purchasers by another way than the certificates, and print it where they can find it.",
    )?;
    output.say("Lock away a copy of keys/root-key.pem; it is needed only to make new seal keys.")?;
    output.say(
        "Next: books (baths, instruments, solutions, purchasers), `rules adopt`, parts, orders, lots.",
    )?;
    if args.open_keys {
        output.note("warning: the keys are unlocked on disk: for trials only")?;
    }
    Ok(Exit::Good)
}

/// That a passphrase for a new key, if there is one, takes some guessing.
pub fn long_enough(secret: Option<&passphrase::Secret>) -> Result<(), Error> {
    if secret.is_some_and(|s| s.len() < SHORTEST_PASSPHRASE) {
        return Err(Error::cannot(
            format!("the passphrase has fewer than {SHORTEST_PASSPHRASE} characters"),
            "choose a longer one; `--open-keys` leaves the keys unlocked, for trials",
        ));
    }
    Ok(())
}

/// Hexadecimal digits in groups of eight, as they are read out on the telephone.
pub fn grouped(digits: &str) -> String {
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && i % 8 == 0 {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

pub fn demo(folder: &Folder, world: &World, output: &mut Output) -> Answer {
    let root = if folder.has("shop.yaml") {
        let shop = crate::app::book::Book::open(folder.clone())?.shop;
        if shop.demo.is_none() {
            return Err(Error::cannot(
                format!("{} is a real shop's folder", folder.root().display()),
                "name another folder for the demonstration",
            )
            .into());
        }
        seal::fingerprint(&crate::folder::read(&folder.path(desk::files::ROOT))?)?
    } else {
        make::demo(folder, world)?
    };
    output.say("An invented shop: names, parts, readings and figures are made up; its keys are unlocked.")?;
    output.say(format_args!(
        "folder: {}\nroot fingerprint: {}\n",
        folder.root().display(),
        grouped(&root)
    ))?;

    // Making the shop took its time; what is issued is issued now.
    let world = &world.later();
    let mut desk =
        Desk::open(folder.clone(), &|| Err(Error::cannot("the demonstration's keys are open", "")))?;
    let targets = certificates::all_targets(&desk.book)?;
    let outcomes = issue::issue(&mut desk, &targets, make::DEMO_ADOPTER.0, None, world, &|| {})?;
    let issued = certificates::told(&desk.book, &targets, &outcomes, false, output)?;

    let mut files = Vec::new();
    let mut held = 0_usize;
    for outcome in &outcomes {
        match outcome {
            Outcome::Issued { file, .. } | Outcome::Again { file, .. } => files.push(file.clone()),
            Outcome::Held(_) => held += 1,
            Outcome::Unwritten { .. } | Outcome::Failed(_) => {}
        }
    }
    output.say(format_args!(
        "Verifying the {} certificates against the root fingerprint and the register:\n",
        files.len()
    ))?;
    let anchor = Anchor::read(&root)?;
    let register = folder.path(desk::files::REGISTER);
    let open = || Ok(Some(Register::open(&register, None)?));
    let all = certificates::verify_files(&files, &anchor, &open, Some(&desk.renderer), None)?;
    let mut good = 0_usize;
    for (file, found) in files.iter().zip(&all) {
        match found {
            Ok(found) if found.overall() == crate::app::verify::Overall::Verifies => {
                good += 1;
                let checks: Vec<&str> = found.lines.iter().map(|l| l.check).collect();
                output.say(format_args!("  {}: verifies ({})", file.display(), checks.join(", ")))?;
            }
            Ok(found) => output.say(crate::report::verification(found))?,
            Err(error) => output.error(error)?,
        }
    }
    let shop = folder.root().display();
    output.say(format_args!(
        "\n{good} of {} certificates verify; {held} shipments are held for the gaps above.\n\nTry next:\n  \
         brightproof --shop {shop} find H4471\n  brightproof --shop {shop} check L-26-0412\n  \
         brightproof --shop {shop} affected --instrument TI-5\n  \
         brightproof verify {shop}/certificates --trust {root}",
        files.len()
    ))?;
    // The demonstration is done when every lot was answered and every certificate verifies; its gaps are meant.
    Ok(if issued == Exit::CouldNot || good != files.len() { Exit::CouldNot } else { Exit::Good })
}
