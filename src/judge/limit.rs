//! A limit of the purchaser's own: judged by the house's rules, printed as the purchaser's.

use crate::finding::Document;
use crate::finding::Finding;
use crate::judge::Called;
use crate::judge::Judge;
use crate::judge::lot;
use crate::pack::Subject;
use crate::rulebook::EffectivePack;

impl Judge<'_> {
    /// Judges a limit of the purchaser's own.
    pub(super) fn limit(&self, house: &EffectivePack, call: &Called, findings: &mut Vec<Finding>) {
        for (position, requirement) in house.pack.requirements.iter().enumerate() {
            let evidence =
                lot::limit_evidence(self.dossier, call.call_out, &call.place, self.runs, requirement.subject);
            let Some((subject, evidence)) = evidence else { continue };
            let before = findings.len();
            self.finding(house, position, requirement, "lot", &subject, &evidence, findings);
            for finding in findings.iter_mut().skip(before) {
                // The limit stands in the purchaser's paper, not in the house's rules.
                if requirement.subject == Subject::LimitReading {
                    finding.standard = match call.place.document {
                        Document::Order => format!(
                            "order {} line {}",
                            self.dossier.order.order, self.dossier.record.order.line
                        ),
                        _ => format!("part {} {}", self.dossier.part.part, self.dossier.part.revision),
                    };
                    finding.clause = "call-out".to_owned();
                }
            }
        }
    }
}
