//! Which root a verifier takes for the shop's: the one brought along, and those that signed handovers lead to.

use std::collections::BTreeMap;

use chrono::DateTime;
use chrono::Utc;

use crate::app::error::Error;
use crate::app::keys;
use crate::app::keys::Keys;
use crate::app::time_stamps;
use crate::app::verify::Anchor;
use crate::register::Register;
use crate::seal;
use crate::seal::Check;
use crate::seal::RootHandover;
use crate::seal::SealReport;
use crate::seal::Trust;
use crate::seal::Way;

/// What the verifier brings, and what the register adds to it. A register cannot make a root trustworthy: its handovers
/// stand by their own signatures, and that it calls a root compromised only ever takes trust away.
pub(super) struct Known<'a> {
    anchor: &'a Anchor,
    handovers: Vec<RootHandover>,
    compromised: BTreeMap<String, DateTime<Utc>>,
}

impl<'a> Known<'a> {
    /// From the anchor and the register, where one is given.
    pub(super) fn of(anchor: &'a Anchor, register: Option<&Register>) -> Result<Known<'a>, Error> {
        let mut handovers = anchor.handovers.clone();
        let mut compromised = BTreeMap::new();
        if let Some(register) = register {
            handovers.extend(keys::root_handovers(register)?);
            let roots = Keys::read(register)?.roots;
            compromised.extend(roots.into_iter().filter_map(|one| Some((one.key, one.compromised?.since))));
        }
        Ok(Known { anchor, handovers, compromised })
    }

    /// Checks a seal; answers too how its root is known, for whoever reads that it passed.
    pub(super) fn verify(
        &self,
        der: &[u8],
        pieces: [&[u8]; 2],
        claimed: DateTime<Utc>,
    ) -> Result<(SealReport, String), Error> {
        let trust = self.anchor.trust();
        let report = seal::verify(der, pieces, &trust, claimed)?;
        let (Some(trusted), Some(sealer)) = (seal::trusted_root(&trust)?, &report.sealer) else {
            return Ok((report, String::new()));
        };
        if report.intact != Check::Pass || trusted == sealer.seal_fingerprint {
            return Ok((report, String::new()));
        }
        let root = sealer.root_fingerprint.clone();
        let under = || seal::verify(der, pieces, &Trust::Fingerprint(&root), claimed);
        let untold = |why: String| SealReport { issuer: Check::NotChecked(why), ..report.clone() };
        let ask = "ask the shop, by another way than this file, which fingerprint is its own now";
        Ok(match seal::way(&trusted, &root, &self.handovers, &self.compromised) {
            Way::Same | Way::None => (report, String::new()),
            Way::Forward => (under()?, format!("; the root you trust signed that {root} follows it")),
            Way::Back(Some(since)) if !self.compromised.contains_key(&root) => (
                untold(format!(
                    "sealed under root {root}, which came before the one you trust and may be known to others since {}: \
                     give the shop's register, and what proves the certificate older",
                    time_stamps::shown(&since)
                )),
                String::new(),
            ),
            // With the register, the line about its keys says what a compromised root takes away.
            Way::Back(_) => (under()?, format!("; the root you trust signed that {root} came before it")),
            Way::Announced => (
                untold(format!(
                    "sealed under root {root}, which says that it follows the one you trust; that one did not sign it, \
                     and anybody can make such a root: {ask}"
                )),
                String::new(),
            ),
            Way::Compromised(since) => (
                untold(format!(
                    "sealed under root {root}; a root that leads to it may be known to others since {}: {ask}",
                    time_stamps::shown(&since)
                )),
                String::new(),
            ),
            Way::Forked(at) => {
                let why = format!("the root {at} named two roots after it: somebody else had its key; {ask}");
                (SealReport { issuer: Check::Fail(why), ..report.clone() }, String::new())
            }
        })
    }
}
