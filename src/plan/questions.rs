//! What must be asked of the purchaser, or adopted, before the work: everything that would hold the lot at the end
//! although all was done and written down.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::finding::Finding;
use crate::finding::Reason;
use crate::finding::Verdict;
use crate::pack::Remedy;
use crate::pack::Scope;
use crate::pack::Subject;
use crate::part::CALL_OUT;
use crate::part::OrderOption;
use crate::part::SIGNATORY;
use crate::plan::Fit;
use crate::plan::Input;
use crate::plan::PlannedCall;
use crate::plan::demands::is_of_papers;
use crate::plan::dry_run::DryRun;
use crate::units::Quantity;

/// Who answers a question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum To {
    /// The purchaser.
    Purchaser,
    /// The shop, from its controlled copy.
    Copy,
}

/// One thing to ask or to adopt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Question {
    /// Who answers it.
    pub to: To,
    /// Whether the lot would be held for it.
    pub holds: bool,
    /// The requirement it comes from.
    pub requirement: String,
    /// Standard with edition, or the paper.
    pub standard: String,
    /// Clause.
    pub clause: String,
    /// What it is about.
    pub subject: String,
    /// What is asked.
    pub limit: String,
    /// What stands there.
    pub observed: Option<String>,
    /// Why it is open.
    pub reason: Option<Reason>,
    /// What it is about, where no reason says it.
    pub about: Option<About>,
    /// Only under these treatments; none: whichever is made.
    pub treatments: Vec<String>,
}

/// Questions that come from no finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// No figure in these units; readings in the others can be judged.
    NoFigureIn(Vec<String>),
    /// An option that is not ordered, and that the standard has for such an alloy.
    Option(OrderOption),
    /// The chromium of the heat, which the grade's least stands in for until somebody says it.
    HeatChromium(Quantity),
    /// None of the tests of the standard is valid here.
    NoTestFits,
    /// A statement rests on something nothing in this order asks.
    Rests(String),
}

/// Questions as they come up, each once.
#[derive(Default)]
pub struct Asked {
    all: Vec<Question>,
    /// Requirements any dry run judged, for what statements rest on.
    judged: BTreeSet<String>,
    /// Standards found.
    standards: BTreeSet<String>,
}

fn holds(input: &Input, finding: &Finding) -> Option<To> {
    // The dry run reads nothing: what work or a test would show is no question of the papers.
    let work = subject_of(input, finding).is_some_and(|(s, _)| s.scope() != Scope::Lot);
    if finding.verdict == Verdict::NotMet && work && !said_by_papers(input, finding) {
        return None;
    }
    match finding.remedy {
        Some(Remedy::Ask) if finding.is_gap() => Some(To::Purchaser),
        Some(Remedy::Adopt) if finding.is_gap() => Some(To::Copy),
        // A treatment that only its test proves, under an order that names none.
        _ if finding.is_gap() && finding.reason == Some(Reason::NoTestOrdered) => Some(To::Purchaser),
        // Where the papers themselves say no, no work mends it.
        _ if finding.verdict == Verdict::NotMet && said_by_papers(input, finding) => Some(To::Purchaser),
        _ => None,
    }
}

fn subject_of(input: &Input, finding: &Finding) -> Option<(Subject, Remedy)> {
    let mut all = input.packs.iter().flat_map(|p| p.pack.requirements.iter().map(move |r| (p, r)));
    let found = all.find(|(p, r)| finding.requirement == format!("{}/{}", p.pack.pack, r.id));
    found.map(|(_, r)| (r.subject, r.remedy))
}

fn said_by_papers(input: &Input, finding: &Finding) -> bool {
    subject_of(input, finding).is_some_and(|(s, _)| is_of_papers(s) || s == Subject::TreatmentNamed)
}

impl Asked {
    fn add(&mut self, question: Question) {
        let same = |q: &&mut Question| {
            Question { treatments: Vec::new(), ..(**q).clone() }
                == Question { treatments: Vec::new(), ..question.clone() }
        };
        match self.all.iter_mut().find(same) {
            Some(there) if there.treatments.is_empty() || question.treatments.is_empty() => {
                there.treatments.clear();
            }
            Some(there) => {
                for name in question.treatments {
                    if !there.treatments.contains(&name) {
                        there.treatments.push(name);
                    }
                }
            }
            None => self.all.push(question),
        }
    }

    /// What a dry run leaves to ask.
    pub fn add_findings(&mut self, input: &Input, treatment: Option<&str>, findings: &[Finding]) {
        for finding in findings {
            if finding.verdict != Verdict::NotApplicable {
                self.judged.insert(finding.requirement.clone());
                self.standards.insert(finding.standard.clone());
            }
            let advised = finding.verdict == Verdict::Advice && advises(input, finding);
            let to = holds(input, finding);
            if to.is_none() && !advised {
                continue;
            }
            self.add(Question {
                to: to.unwrap_or(To::Purchaser),
                holds: to.is_some(),
                requirement: finding.requirement.clone(),
                standard: finding.standard.clone(),
                clause: finding.clause.clone(),
                subject: finding.subject.clone(),
                limit: finding.limit.clone(),
                observed: finding.observed.clone(),
                reason: finding.reason.clone(),
                about: None,
                treatments: treatment.map(str::to_owned).into_iter().collect(),
            });
        }
    }

    /// What one call-out leaves to ask.
    pub fn of_call(&mut self, input: &Input, dry: &DryRun, planned: &PlannedCall) {
        let alone = dry.judged.len() < 2;
        let before = self.all.len();
        let fits =
            |id: &str| planned.treatments.iter().any(|t| t.id == id && !matches!(t.fit, Fit::DoesNot(_)));
        let some = dry.options.iter().any(|t| fits(&t.id));
        for (treatment, found) in &dry.judged {
            // A treatment the shop will not choose asks nothing.
            let left = !planned.treatment_named && some && treatment.is_some_and(|t| !fits(&t.id));
            if left {
                continue;
            }
            let name = treatment.map(|t| t.name.as_str()).filter(|_| !alone);
            self.add_findings(input, name, found);
        }
        // What every treatment asks is asked whichever is made.
        let every = dry.options.iter().filter(|t| planned.treatment_named || !some || fits(&t.id)).count();
        for question in self.all.iter_mut().skip(before).filter(|q| q.treatments.len() == every) {
            question.treatments.clear();
        }
        self.figures(dry, planned);
        // What only some of the treatments ask holds nothing as long as another can be chosen.
        let of_some = |q: &&mut Question| !planned.treatment_named && !q.treatments.is_empty();
        self.all.iter_mut().skip(before).filter(of_some).for_each(|q| q.holds = false);
        self.options(dry);
        self.chromium(dry, planned);
        if planned.shop_chooses_tests && !planned.tests.is_empty() && dry.tests.is_empty() {
            self.add(self.own(dry, Subject::TestMade, "", About::NoTestFits, true));
        }
    }

    fn own(&self, dry: &DryRun, subject: Subject, id: &str, about: About, holds: bool) -> Question {
        let requirement = dry.pack.pack.requirements.iter().find(|r| r.id == id);
        Question {
            to: if matches!(about, About::NoFigureIn(_)) { To::Copy } else { To::Purchaser },
            holds,
            requirement: format!("{}/{id}", dry.pack.pack.pack),
            standard: crate::judge::standard_name(dry.pack),
            clause: requirement.map(|r| r.clause.clone()).unwrap_or_default(),
            subject: subject.name().to_owned(),
            limit: requirement.map(|r| crate::judge::limit_words(&r.check)).unwrap_or_default(),
            observed: None,
            reason: None,
            about: Some(about),
            treatments: Vec::new(),
        }
    }

    /// Figures nobody knows. Where another unit has one, a reading in that can be judged.
    fn figures(&mut self, dry: &DryRun, planned: &PlannedCall) {
        for demand in planned.demands.iter().filter(|d| !d.advice) {
            let missing: Vec<String> =
                demand.figures.iter().filter(|f| !f.known).filter_map(|f| f.unit.clone()).collect();
            if missing.is_empty() || self.all.iter().any(|q| q.requirement == demand.requirement && q.holds) {
                continue;
            }
            let id = demand.requirement.split_once('/').map_or("", |(_, id)| id);
            let none = demand.figures.iter().all(|f| !f.known);
            let mut question = self.own(dry, demand.subject, id, About::NoFigureIn(missing), none);
            question.treatments.clone_from(&demand.treatments);
            let chosen = |name: &String| {
                let its = planned.treatments.iter().find(|t| t.name == *name);
                planned.treatment_named || its.is_none_or(|t| !matches!(t.fit, Fit::DoesNot(_)))
            };
            if !question.treatments.is_empty() && !question.treatments.iter().any(chosen) {
                continue;
            }
            if question.treatments.len() == dry.options.len() {
                question.treatments.clear();
            }
            self.add(question);
        }
    }

    /// What rests on chromium is judged by the heat's own, once it is on record.
    fn chromium(&mut self, dry: &DryRun, planned: &PlannedCall) {
        let Some(least) = dry.input.alloy.and_then(|a| a.element("Cr")).and_then(|cr| cr.from) else {
            return;
        };
        for demand in planned.demands.iter().filter(|d| d.subject == Subject::Chromium && !d.advice) {
            if self.all.iter().any(|q| q.requirement == demand.requirement && q.holds) {
                continue;
            }
            let id = demand.requirement.split_once('/').map_or("", |(_, id)| id);
            self.add(self.own(dry, Subject::Chromium, id, About::HeatChromium(least), false));
        }
    }

    /// An option the standard has for alloys of this series alone, and that is not ordered.
    fn options(&mut self, dry: &DryRun) {
        let Some(alloy) = dry.input.alloy else { return };
        let ordered = &dry.called.call_out.options;
        for requirement in &dry.pack.pack.requirements {
            let when = &requirement.when;
            let open = !when.options.is_empty() && !when.options.iter().any(|o| ordered.contains(o));
            if !open || !when.series.contains(&alloy.series) {
                continue;
            }
            for option in &when.options {
                let there = self.all.iter().any(|q| q.about == Some(About::Option(*option)));
                if !there {
                    let about = About::Option(*option);
                    self.add(self.own(dry, requirement.subject, &requirement.id, about, false));
                }
            }
        }
    }

    /// Statements that rest on something no call-out asks: they could never be printed.
    pub fn of_statements(&mut self, input: &Input) {
        for statement in input.part.statements.iter().chain(&input.line.statements) {
            let founded = |need: &str| match need.strip_prefix(CALL_OUT) {
                Some(named) => input
                    .pack_named(named)
                    .is_some_and(|pack| self.standards.contains(&crate::judge::standard_name(pack))),
                None => need == SIGNATORY || self.judged.contains(need),
            };
            let lacking = statement.needs.iter().find(|need| !founded(need)).cloned();
            let lacking = lacking.or_else(|| statement.needs.is_empty().then(String::new));
            let Some(lacking) = lacking else { continue };
            let id = input.house().and_then(|house| {
                let own = house.pack.requirements.iter().find(|r| r.subject == Subject::StatementFounded)?;
                Some(format!("{}/{}", house.pack.pack, own.id))
            });
            self.add(Question {
                to: To::Purchaser,
                holds: true,
                requirement: id.unwrap_or_default(),
                standard: format!("part {} {}", input.part.part, input.part.revision),
                clause: "statement".to_owned(),
                subject: format!("statement \"{}\"", statement.text),
                limit: String::new(),
                observed: None,
                reason: None,
                about: Some(About::Rests(lacking)),
                treatments: Vec::new(),
            });
        }
    }

    /// The questions: what holds first, what goes to the purchaser before what the shop's copy answers.
    pub fn done(mut self) -> Vec<Question> {
        self.all.sort_by_key(|q| (!q.holds, q.to));
        self.all
    }
}

/// Whether advice is worth a question: something the papers leave open or decide otherwise.
fn advises(input: &Input, finding: &Finding) -> bool {
    let asks = |s: Subject| is_of_papers(s) || s == Subject::PiecesOrdered;
    subject_of(input, finding).is_some_and(|(s, remedy)| remedy == Remedy::Ask && asks(s))
}
