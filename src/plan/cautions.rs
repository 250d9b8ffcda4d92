//! What to mind before anything else. The usual words of the trade, and no more: the safety data sheet of what is
//! in the tank, the local codes and licensed practice go before them.

use serde::Serialize;

use crate::alloy::Series;
use crate::pack::Subject;
use crate::pack::TreatmentStep;
use crate::part::OrderOption;
use crate::part::PartCondition;
use crate::plan::Plan;
use crate::record::TestKind;

/// One thing to mind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Caution {
    /// Nitric acid and its fumes.
    Nitric,
    /// Chromium(VI).
    Dichromate,
    /// Citric acid.
    Citric,
    /// The hot acids of the electropolish bath, and its current.
    ElectropolishBath,
    /// Hydrogen off the cathodes.
    Hydrogen,
    /// Acids and water mixed.
    Mixing,
    /// Ferricyanide near acid.
    Ferricyanide,
    /// Copper sulfate.
    CopperSulfate,
    /// Hydrogen taken up by hardened steel.
    Embrittlement,
    /// What goes before all of these.
    Defers,
}

impl Caution {
    /// Its words.
    pub const fn words(self) -> &'static str {
        match self {
            Caution::Nitric => {
                "Nitric acid burns and oxidises. Brown fumes are poisonous, and harm to the lungs may show hours \
                 later: local exhaust. Keep it from organic matter, cyanides, hydrochloric acid and metal chips."
            }
            Caution::Dichromate => {
                "Sodium dichromate is chromium(VI): it causes cancer and allergies. Keep its mist, dust and rinse \
                 water off people and out of drains; monitoring, hygiene and records as the law asks."
            }
            Caution::Citric => {
                "Citric acid irritates eyes and skin, warm more than cold; its baths grow mould when they stand."
            }
            Caution::ElectropolishBath => {
                "The electropolish bath is hot, strong sulfuric and phosphoric acid: heavy burns, acid mist. Lip \
                 exhaust, face shield, an eyewash within ten seconds. Heavy direct current: lock it out before hands \
                 go to rack or bus bars."
            }
            Caution::Hydrogen => {
                "Hydrogen comes off the cathodes and burns in air from 4 % up. No flame, welding or spark near the \
                 tank; ventilate; foam holds the gas."
            }
            Caution::Mixing => {
                "Acid goes into water, slowly, never water into acid. No acid is mixed with another, and none is \
                 poured into a tank that holds something else, outside a written procedure."
            }
            Caution::Ferricyanide => {
                "Potassium ferricyanide gives off poisonous cyanide gas with hot or strong acid: only as the test \
                 says, fresh, without spray in the air, rinsed off at once. Never on surfaces for food, drink or \
                 medicines unless all of it comes off."
            }
            Caution::CopperSulfate => {
                "Copper sulfate solution harms skin, eyes and waters: gloves, and no drain. Wash tested pieces."
            }
            Caution::Embrittlement => {
                "Hardened martensitic and precipitation-hardening steel can take up hydrogen in acid and crack. Bake \
                 where the order says so, and ask where it does not."
            }
            Caution::Defers => {
                "These are usual words of caution and no procedure. The safety data sheet of each product, local \
                 codes and permits, and licensed practice go before them. No certificate judges safety."
            }
        }
    }
}

/// The cautions of a plan.
pub fn cautions(plan: &Plan) -> Vec<Caution> {
    let looks = |wanted: &[Subject]| plan.demands().any(|d| wanted.contains(&d.subject));
    let in_bath =
        |word: &str| plan.demands().any(|d| d.subject == Subject::BathIngredients && d.limit.contains(word));
    let tested = |wanted: &[TestKind]| {
        plan.call_outs.iter().flat_map(|c| &c.tests).any(|t| t.ordered && wanted.contains(&t.test))
            || plan.demands().any(|d| d.test.is_some_and(|t| wanted.contains(&t)))
    };
    let option = |wanted: OrderOption| plan.call_outs.iter().any(|c| c.options.contains(&wanted));
    let polishes = plan.has(TreatmentStep::Electropolish);
    let nitric = looks(&[Subject::NitricAcid, Subject::PostDipNitric]) || in_bath("nitric acid");
    let dichromate = looks(&[Subject::SodiumDichromate, Subject::PostTreatment])
        || in_bath("dichromate")
        || option(OrderOption::DichromatePostTreatment);
    let citric = looks(&[Subject::CitricAcid]) || in_bath("citric acid");
    let hardened = plan.conditions.as_ref().is_some_and(|all| all.contains(&PartCondition::Hardened));
    let hardens = plan
        .alloy
        .as_ref()
        .is_some_and(|a| matches!(a.series, Series::Martensitic400 | Series::PrecipitationHardening));
    let all = [
        (Caution::Nitric, nitric || tested(&[TestKind::FerricyanideNitric, TestKind::Ferroxyl])),
        (Caution::Dichromate, dichromate),
        (Caution::Citric, citric),
        (Caution::ElectropolishBath, polishes),
        (Caution::Hydrogen, polishes),
        (Caution::Mixing, nitric || polishes || citric),
        (
            Caution::Ferricyanide,
            tested(&[TestKind::FerricyanideNitric, TestKind::ModifiedFerroxyl, TestKind::Ferroxyl]),
        ),
        (Caution::CopperSulfate, tested(&[TestKind::CopperSulfate])),
        (Caution::Embrittlement, hardened || hardens),
    ];
    let mut found: Vec<Caution> = all.into_iter().filter(|(_, is)| *is).map(|(c, _)| c).collect();
    found.push(Caution::Defers);
    found
}
